/* SPDX-License-Identifier: MIT */
/* plumbfall_target.h: a board that lets a computer try its detector: samples come in messages, events go back.
 *
 *   plf_target_init(&target, ring, words, &own_settings, PLF_IDENTITY_CRC32, board);
 *   plf_target_put(&target, byte);                 for each byte that comes; whole messages are done and answered
 *
 * plumbfall_target_main.c is a program that does it; `plumbfall try` is the computer's side. PROTOCOL.md has the messages.
 */
#ifndef PLUMBFALL_TARGET_H
#define PLUMBFALL_TARGET_H

#include "plumbfall_frame.h"

#ifdef __cplusplus
extern "C" {
#endif

enum plf_target_kind {
    PLF_TARGET_BEGIN = 0x10,  /* plf_init, with settings in the payload or the board's own */
    PLF_TARGET_GAP = 0x11,    /* plf_gap */
    PLF_TARGET_FINISH = 0x12, /* plf_finish */
    PLF_TARGET_EVENT = 0x13   /* the board's: an attempt ended */
};

/* What the target needs of its board. */
typedef struct {
    void (*write)(void *context, const uint8_t *bytes, uint32_t size);
    uint32_t (*cycles)(void *context); /* a counter that runs freely; NULL where there is none */
    void *context;
} plf_board;

typedef struct {
    plf_state state;
    plf_settings settings;
    const plf_settings *own;
    plf_word *ring;
    plf_board board;
    uint32_t ring_words, identity;
    uint32_t next;   /* number of the sample that is expected */
    uint32_t events; /* attempts that ended since the beginning */
    uint32_t worst;  /* cycles of the slowest sample since then */
    plf_receiver receiver;
    plf_message in, out;
} plf_target;

void plf_target_init(plf_target *target, plf_word *ring, uint32_t ring_words, const plf_settings *own,
                     uint32_t identity, plf_board board);
void plf_target_put(plf_target *target, uint8_t byte);

#ifdef __cplusplus
}
#endif

#endif
