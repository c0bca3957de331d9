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
static uint8_t bytes[LARGEST + PLF_UNIT_MOST];
static uint32_t waits_for;             /* the alarm whose outcome came before its record was closed; 0: none */
static enum plf_outcome what_became;

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
    return plf_recorder_init(&recorder, &shape, bytes, sizeof bytes) == PLF_DONE
        && plf_log_mount(&event_log, &board_log_flash, LARGEST) == PLF_DONE;
}

void memory_identity(uint32_t identity)
{
    plf_record shape;
    shape_for(&shape, identity);
    plf_recorder_init(&recorder, &shape, bytes, sizeof bytes);
}

static void keep(void)
{
    plf_log_append(&event_log, &recorder.record, bytes, sizeof bytes);
}

void memory_sample(const int16_t counts[3])
{
    if (plf_recorder_step(&recorder, counts[0], counts[1], counts[2]) == PLF_READY) {
        keep();
    }
}

void memory_gap(void)
{
    if (plf_recorder_gap(&recorder) == PLF_READY) {
        keep();
    }
}

uint32_t memory_alarm(const plf_event *event, uint32_t seconds, uint16_t milliseconds)
{
    const uint32_t number = event_log.sequence + 1U;
    if (plf_recorder_alarm(&recorder, event, seconds, milliseconds) == PLF_READY) {
        keep();
    }
    return number;
}

void memory_outcome(uint32_t number, enum plf_outcome outcome)
{
    waits_for = number;
    what_became = outcome;
}

void memory_poll(void)
{
    if (waits_for != 0 && plf_log_set_outcome(&event_log, waits_for, what_became) != PLF_MISSING) {
        waits_for = 0;
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
    return (uint8_t)(100U * summary.records / event_log.slots);
}
