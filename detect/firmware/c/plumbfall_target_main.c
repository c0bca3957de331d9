/* SPDX-License-Identifier: MIT */
/* plumbfall_target_main.c: the program that runs on a board while `plumbfall try FOLDER --port ...` tries its detector.
 *
 * Add it to a project with plumbfall_target.c, _frame.c, _record.c and _detector.c, and give it these three: the line to
 * the computer, and a counter of cycles. Nothing is received while a message is worked on: the computer waits for the
 * reply before it sends the next one, so a line without a buffer will do.
 */
#include <stddef.h>

#include "plumbfall_params.h"
#include "plumbfall_target.h"

#ifndef PLF_TARGET_RING_WORDS
#define PLF_TARGET_RING_WORDS PLF_RING_WORDS /* more of it, and other settings can be tried than the board's own */
#endif

int board_read(void);                                    /* the byte that has come; -1: none has */
void board_write(const uint8_t *bytes, uint32_t size);   /* returns when they are on their way */
uint32_t board_cycles(void);                             /* 0 always: without a counter */

static const plf_settings own = PLF_SETTINGS;
static plf_word ring[PLF_TARGET_RING_WORDS];
static plf_target target;

static void write_all(void *context, const uint8_t *bytes, uint32_t size)
{
    (void)context;
    board_write(bytes, size);
}

static uint32_t cycles(void *context)
{
    (void)context;
    return board_cycles();
}

int main(void)
{
    const plf_board board = { write_all, cycles, NULL };
    plf_target_init(&target, ring, PLF_TARGET_RING_WORDS, &own, PLF_IDENTITY_CRC32, board);
    for (;;) {
        const int byte = board_read();
        if (byte >= 0) {
            plf_target_put(&target, (uint8_t)byte);
        }
    }
}
