/* A board for the example on the host: samples come on standard input, the log's memory goes to standard output. Words on
 * standard error say what the alarm's life asked for.
 *
 * With an argument: so many ms after each warning the wearer presses the button.
 *
 * Input: for each stretch uint32 samples and x, y, z of each as int16, counts.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "board.h"
#include "plumbfall_device.h"
#include "plumbfall_params.h"
#include "sampling.h"

enum { TURNS = 4, IDLE_TURNS = 4000, PARAMETER_BLOCK = 256, PARAMETER_BLOCKS = 4 };

static uint8_t log_bytes[PLF_LOG_BLOCK_BYTES * PLF_LOG_BLOCKS];
static uint8_t parameter_bytes[PARAMETER_BLOCK * PARAMETER_BLOCKS];
static const plf_sensor sensor = PLF_SENSOR;
static int16_t now[3];
static uint32_t samples, left, turns, idle, warned_at;
static uint8_t warned;

const plf_calibration board_calibration = PLF_CALIBRATION_NONE;
uint8_t board_key[PLF_KEY_BYTES];
uint32_t pressed_after = UINT32_MAX;

static int flash_read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    memcpy(to, (uint8_t *)context + at, size);
    return 0;
}

static int flash_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    for (uint32_t i = 0; i < size; i++) {
        ((uint8_t *)context)[at + i] &= from[i];
    }
    return 0;
}

static int erase_log(void *context, uint32_t block)
{
    memset((uint8_t *)context + block * PLF_LOG_BLOCK_BYTES, 0xFF, PLF_LOG_BLOCK_BYTES);
    return 0;
}

static int erase_parameters(void *context, uint32_t block)
{
    memset((uint8_t *)context + block * PARAMETER_BLOCK, 0xFF, PARAMETER_BLOCK);
    return 0;
}

const plf_flash board_log_flash = { flash_read, flash_program, erase_log, log_bytes, PLF_LOG_BLOCK_BYTES, PLF_LOG_BLOCKS,
                                    PLF_LOG_UNIT_BYTES };
const plf_flash board_parameter_flash = { flash_read, flash_program, erase_parameters, parameter_bytes, PARAMETER_BLOCK,
                                          PARAMETER_BLOCKS, PLF_LOG_UNIT_BYTES };

void board_start(void)
{
    const char *word = getenv("PRESSED_AFTER_MS");
    pressed_after = word != NULL ? (uint32_t)atoi(word) : UINT32_MAX;
    memset(log_bytes, 0xFF, sizeof log_bytes);
    memset(parameter_bytes, 0xFF, sizeof parameter_bytes);
}

void board_reading(int32_t raw[3])
{
    for (uint32_t of = 0; of < 3; of++) {
        raw[of] = sensor.zero_code;
        for (uint32_t axis = 0; axis < 3; axis++) {
            raw[of] += sensor.axes[axis][of] * now[axis];
        }
    }
}

/* A sample at every fourth turn of the loop; a gap behind each stretch; then turns until all is written. */
uint8_t board_wait(void)
{
    if (turns++ % TURNS != 0) {
        return 1;
    }
    if (left > 0) {
        if (fread(now, sizeof now, 1, stdin) != 1) {
            exit(2);
        }
        left--;
        samples++;
        sampling_interrupt();
        if (left == 0) {
            sampling_lost();
        }
        return 1;
    }
    if (fread(&left, sizeof left, 1, stdin) == 1) {
        turns = 0;
        return 1;
    }
    return idle++ < IDLE_TURNS;
}

uint32_t board_ms(void)
{
    return samples > 0 ? (samples - 1) * 20 : 0; /* 50 samples a second */
}

uint8_t board_button(void)
{
    const uint8_t press = warned && board_ms() - warned_at >= pressed_after;
    warned = warned && !press;
    return press;
}

void board_signal(enum plf_alarm_action action)
{
    if (action == PLF_DO_WARN) {
        warned = 1;
        warned_at = board_ms();
    }
    fprintf(stderr, "%d at %u\n", (int)action, (unsigned)board_ms());
}

int board_result(void)
{
    fwrite(log_bytes, 1, sizeof log_bytes, stdout);
    return 0;
}

void board_send(const uint8_t *bytes, uint32_t size)
{
    (void)bytes;
    (void)size;
}

int board_receive(void)
{
    return -1;
}

uint16_t board_starts(void)
{
    return 1;
}

uint16_t board_battery_mv(void)
{
    return 3700;
}

uint8_t board_self_test(void)
{
    return 0;
}
