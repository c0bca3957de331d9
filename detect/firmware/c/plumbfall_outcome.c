/* SPDX-License-Identifier: MIT */
/* plumbfall_outcome.c: see plumbfall_outcome.h. C99, integers only. */
#include "plumbfall_outcome.h"

#include <stddef.h>

enum { OUTCOME_MARK = 0x4F, BLANK = 0xFF };

static bool has(const plf_log *log, uint32_t number)
{
    return plf_log_slot_of(log, number) < log->ring.slots;
}

static uint16_t outcome_crc(uint32_t sequence, uint8_t outcome)
{
    const uint8_t bytes[] = { (uint8_t)(sequence & 0xFFU), (uint8_t)(sequence >> 8 & 0xFFU),
                              (uint8_t)(sequence >> 16 & 0xFFU), (uint8_t)(sequence >> 24), OUTCOME_MARK, outcome };
    return plf_crc16(0xFFFFU, bytes, sizeof bytes);
}

/* One that is free, or waits for a record that never came; PLF_NOTES where there is none. */
static uint32_t free_note(const plf_log *log)
{
    uint32_t note = 0;
    while (note < PLF_NOTES && log->notes[note].number != 0
           && (log->notes[note].number > log->newest || has(log, log->notes[note].number))) {
        note++;
    }
    return note;
}

static bool is_noted(const plf_log *log, uint32_t number)
{
    return log->notes[0].number == number || log->notes[1].number == number;
}

enum plf_result plf_log_set_outcome(plf_log *log, uint32_t sequence, enum plf_outcome outcome)
{
    if (!plf_log_is_mounted(log) || outcome == PLF_OPEN || outcome > PLF_WITHDRAWN) {
        return PLF_REFUSED;
    }
    const uint32_t slot = plf_log_slot_of(log, sequence);
    if (sequence > log->sequence || (slot == log->ring.slots && sequence <= log->newest)) {
        return PLF_MISSING;
    }
    const uint32_t note = free_note(log);
    if (note == PLF_NOTES || is_noted(log, sequence)) {
        return PLF_REFUSED;
    }
    if (slot < log->ring.slots) {
        const uint32_t at = plf_ring_address(&log->ring, slot) + log->ring.area_bytes;
        const enum plf_result blank = plf_ring_blank(&log->ring, at, PLF_OUTCOME_BYTES);
        if (blank != PLF_DONE) {
            return blank == PLF_MISSING ? PLF_REFUSED : PLF_FAILED;
        }
    }
    log->notes[note].number = sequence;
    log->notes[note].outcome = (uint8_t)outcome;
    return PLF_DONE;
}

uint32_t plf_outcome_due(const plf_log *log)
{
    uint32_t note = 0;
    while (note < PLF_NOTES && (log->notes[note].number == 0 || !has(log, log->notes[note].number))) {
        note++;
    }
    return note;
}

void plf_outcome_begin(plf_log *log, uint32_t note)
{
    const plf_log_note *wanted = &log->notes[note];
    const uint16_t crc = outcome_crc(wanted->number, wanted->outcome);
    for (uint32_t i = 0; i < sizeof log->small; i++) {
        log->small[i] = BLANK;
    }
    log->small[0] = OUTCOME_MARK;
    log->small[1] = wanted->outcome;
    log->small[2] = (uint8_t)(crc & 0xFFU);
    log->small[3] = (uint8_t)(crc >> 8);
    log->slot = plf_log_slot_of(log, wanted->number);
    log->note = (uint8_t)note;
    log->done = 0;
}

enum plf_result plf_outcome_step(plf_log *log)
{
    uint8_t kept[PLF_PAGE_BYTES];
    const plf_flash *flash = log->ring.flash;
    const uint8_t *from = log->small + log->done;
    const uint32_t whole = PLF_IN_UNITS(PLF_OUTCOME_BYTES, (uint32_t)flash->unit_bytes);
    const uint32_t at = plf_ring_address(&log->ring, log->slot) + log->ring.area_bytes + log->done;
    const uint32_t size = plf_ring_page(&log->ring, at, whole - log->done);
    bool right = flash->program(flash->context, at, from, size) == 0
        && plf_ring_read(&log->ring, at, kept, size) == PLF_DONE;
    for (uint32_t i = 0; right && i < size; i++) {
        right = kept[i] == from[i];
    }
    log->done += size;
    if (right && log->done < whole) {
        return PLF_DONE;
    }
    log->notes[log->note].number = 0;
    log->job = PLF_LOG_IDLE;
    return right ? PLF_READY : PLF_FAILED;
}

/* A torn outcome counts as none. */
enum plf_result plf_log_outcome(const plf_log *log, uint32_t sequence, enum plf_outcome *outcome)
{
    uint8_t bytes[PLF_OUTCOME_BYTES];
    if (!plf_log_is_mounted(log) || outcome == NULL) {
        return PLF_REFUSED;
    }
    const uint32_t slot = plf_log_slot_of(log, sequence);
    if (slot == log->ring.slots) {
        return PLF_MISSING;
    }
    if (plf_ring_read(&log->ring, plf_ring_address(&log->ring, slot) + log->ring.area_bytes, bytes, sizeof bytes)
        != PLF_DONE) {
        return PLF_FAILED;
    }
    *outcome = PLF_OPEN;
    if (bytes[0] == OUTCOME_MARK && bytes[1] <= PLF_WITHDRAWN
        && (bytes[2] | (uint32_t)bytes[3] << 8) == outcome_crc(sequence, bytes[1])) {
        *outcome = (enum plf_outcome)bytes[1];
    }
    return PLF_DONE;
}
