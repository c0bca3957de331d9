/* SPDX-License-Identifier: MIT */
/* memory.c: see memory.h. The numbers are those of the device that the study describes. */
#include "memory.h"

#include <stddef.h>

#include "board.h"
#include "plumbfall_device.h"
#include "plumbfall_params.h"
#include "plumbfall_recorder.h"

enum { LARGEST = PLF_RECORD_BYTES(PLF_BEFORE_SAMPLES + PLF_AFTER_SAMPLES, PLF_KEPT_BITS, PLF_MEASURED) };

static plf_recorder recorder;
static plf_log event_log;
static uint32_t numbers[PLF_LOG_SLOTS(PLF_LOG_BLOCK_BYTES * PLF_LOG_BLOCKS, LARGEST, PLF_LOG_UNIT_BYTES)];
static uint8_t bytes[2][LARGEST + PLF_UNIT_MOST];
static uint8_t handed_over; /* the log has the recorder's record */

static void shape_for(plf_record *shape, uint32_t identity)
{
    static const plf_record none = { 0 };
    *shape = none;
    shape->node = BOARD_NODE;
    shape->settings_crc32 = identity;
    shape->rate_millihz = PLF_RATE_MILLIHZ;
    shape->counts_per_1000_g = PLF_COUNTS_PER_1000_G;
    shape->before = PLF_BEFORE_SAMPLES;
    shape->after = PLF_AFTER_SAMPLES;
    shape->bits = PLF_KEPT_BITS;
    shape->shift = PLF_KEPT_SHIFT;
    shape->measured = PLF_MEASURED;
}

uint8_t memory_start(uint32_t identity)
{
    plf_record shape;
    shape_for(&shape, identity);
    if (plf_recorder_init(&recorder, &shape, bytes[0], bytes[1], sizeof bytes[0]) != PLF_DONE
        || plf_log_mount(&event_log, &board_log_flash, LARGEST, numbers, sizeof numbers / sizeof numbers[0]) != PLF_DONE) {
        return 0;
    }
    while (plf_log_pending(&event_log) > 0) { /* nothing is sampled yet: this may wait */
        if (plf_log_poll(&event_log) == PLF_FAILED) {
            return 0;
        }
    }
    return 1;
}

void memory_identity(uint32_t identity)
{
    recorder.shape.settings_crc32 = identity;
}

void memory_sample(const int16_t counts[3])
{
    plf_recorder_step(&recorder, counts[0], counts[1], counts[2]);
}

void memory_gap(void)
{
    plf_recorder_gap(&recorder);
}

uint32_t memory_alarm(const plf_event *event, uint32_t seconds, uint16_t milliseconds)
{
    const uint32_t number = plf_log_number(&event_log);
    plf_recorder_alarm(&recorder, event, number, seconds, milliseconds);
    return number;
}

uint8_t memory_may_tell(void)
{
    return !event_log.reserving;
}

void memory_outcome(uint32_t number, enum plf_outcome outcome)
{
    plf_log_set_outcome(&event_log, number, outcome); /* waits there for its record */
}

/* One erase or one program at most; the recorder puts the next record in order meanwhile. */
void memory_poll(void)
{
    plf_log_poll(&event_log);
    if (handed_over && !event_log.writing) {
        plf_recorder_release(&recorder);
        handed_over = 0;
    }
    if (!handed_over && plf_recorder_poll(&recorder) == PLF_READY &&
        plf_log_append(&event_log, &recorder.record, recorder.ready, sizeof bytes[0]) == PLF_DONE) {
        handed_over = 1;
    }
}

void memory_clear(uint32_t newest)
{
    plf_log_summary summary;
    if (plf_log_count(&event_log, &summary) == PLF_DONE && summary.newest == newest && summary.records > 0) {
        plf_log_clear(&event_log);
    }
}

const plf_log *memory_log(void)
{
    return &event_log;
}

uint8_t memory_percent(void)
{
    plf_log_summary summary;
    if (plf_log_count(&event_log, &summary) != PLF_DONE) {
        return 0;
    }
    return (uint8_t)(100U * summary.records / event_log.ring.slots);
}
