/* SPDX-License-Identifier: MIT */
/* plumbfall_log.c: see plumbfall_log.h. C99, integers only.
 *
 * The ring writes; here is what its slots hold. Numbers rise in the order of writing, and one that was begun is never
 * given again: a mount goes on behind the highest, whether its record is whole or not. What clears carries the number of
 * the newest record that it clears.
 */
#include "plumbfall_log.h"

#include <stdbool.h>
#include <stddef.h>

enum { OUTCOME_MARK = 0x4F, BLANK = 0xFF, NOTES = 2 };

static bool is_mounted(const plf_log *log)
{
    return log != NULL && log->ring.flash != NULL && log->job != PLF_LOG_MOUNTS;
}

static uint32_t memory_bytes(const plf_flash *flash)
{
    return flash->block_bytes * flash->blocks;
}

static uint32_t in_units(const plf_log *log, uint32_t bytes)
{
    return PLF_IN_UNITS(bytes, (uint32_t)log->ring.flash->unit_bytes);
}

/* PLF_MISSING: no header of this log's own. The record behind it may be torn. */
static enum plf_result read_header(const plf_log *log, uint32_t slot, plf_record *record)
{
    uint8_t bytes[PLF_RECORD_HEADER];
    if (plf_ring_read(&log->ring, plf_ring_address(&log->ring, slot), bytes, sizeof bytes) != PLF_DONE) {
        return PLF_FAILED;
    }
    return plf_record_header(bytes, sizeof bytes, record) == PLF_RECORD_WHOLE
            && record->slot_bytes == log->ring.slot_bytes && record->memory_bytes == memory_bytes(log->ring.flash)
            && plf_record_size(record) <= log->ring.area_bytes ? PLF_DONE : PLF_MISSING;
}

/* The slot of a record that counts; `slots` where there is none. */
static uint32_t slot_of(const plf_log *log, uint32_t number)
{
    uint32_t slot = 0;
    while (slot < log->ring.slots && (log->ring.numbers[slot] != number || number <= log->cleared)) {
        slot++;
    }
    return slot;
}

static bool has(const plf_log *log, uint32_t number)
{
    return slot_of(log, number) < log->ring.slots;
}

/* ---- Mounting: slot by slot, of each its header, then its checksum page by page ---- */

enum plf_result plf_log_mount(plf_log *log, const plf_flash *flash, uint32_t record_bytes, uint32_t *numbers,
                              uint32_t room)
{
    const plf_log fresh = { 0 };
    if (log == NULL) {
        return PLF_REFUSED;
    }
    *log = fresh;
    if (record_bytes < PLF_RECORD_HEADER + PLF_RECORD_CRC
        || plf_ring_init(&log->ring, flash, record_bytes, PLF_OUTCOME_BYTES, numbers, room) != PLF_DONE) {
        return PLF_REFUSED;
    }
    log->whole = log->ring.slots;
    log->job = PLF_LOG_MOUNTS;
    return PLF_DONE;
}

/* What can't be read may be whole: nothing is written into its place. */
static enum plf_result judged(plf_log *log, bool is_whole, bool may_be_whole)
{
    const uint32_t number = log->number;
    const bool clears = log->kind == PLF_RECORD_CLEARED;
    if (may_be_whole && (number > log->newest || (number == log->newest && clears))) {
        log->whole = log->slot;
        log->newest = number;
    }
    if (number > log->last_number || (number == log->last_number && log->whole == log->slot)) {
        log->last = log->slot;
        log->last_number = number;
    }
    if (is_whole && clears && number > log->cleared) {
        log->cleared = number;
    }
    if (is_whole && !clears && !has(log, number)) { /* twice where it couldn't be read back at first */
        log->ring.numbers[log->slot] = number;
    }
    log->slot++;
    log->size = 0;
    return PLF_DONE;
}

static enum plf_result look_at_header(plf_log *log)
{
    plf_record record;
    const enum plf_result found = read_header(log, log->slot, &record);
    if (found == PLF_FAILED) { /* it must not be taken for blank */
        log->ring.flash = NULL;
        return PLF_FAILED;
    }
    if (found == PLF_MISSING) {
        log->slot++;
        return PLF_DONE;
    }
    log->size = plf_record_size(&record) - PLF_RECORD_CRC;
    log->number = record.sequence;
    log->kind = record.kind;
    log->done = 0;
    log->crc = 0;
    return PLF_DONE;
}

static enum plf_result look_at_body(plf_log *log)
{
    uint8_t page[PLF_PAGE_BYTES];
    const uint32_t at = plf_ring_address(&log->ring, log->slot) + log->done;
    const bool at_end = log->done == log->size;
    const uint32_t size = at_end ? PLF_RECORD_CRC : plf_ring_page(&log->ring, at, log->size - log->done);
    if (plf_ring_read(&log->ring, at, page, size) != PLF_DONE
        && plf_ring_read(&log->ring, at, page, size) != PLF_DONE) {
        return judged(log, false, true);
    }
    if (at_end) {
        const bool is_whole = (page[0] | (uint32_t)page[1] << 8 | (uint32_t)page[2] << 16 | (uint32_t)page[3] << 24)
            == log->crc;
        return judged(log, is_whole, is_whole);
    }
    log->crc = plf_crc32(log->crc, page, size);
    log->done += size;
    return PLF_DONE;
}

static enum plf_result look(plf_log *log)
{
    if (log->slot < log->ring.slots) {
        return log->size == 0 ? look_at_header(log) : look_at_body(log);
    }
    if (log->last_number > 0) {
        plf_ring_go_on(&log->ring, log->last, log->whole);
    }
    log->sequence = log->last_number;
    log->job = PLF_LOG_IDLE;
    return PLF_READY;
}

/* ---- Writing ---- */

uint32_t plf_log_number(plf_log *log)
{
    return is_mounted(log) ? ++log->sequence : 0; /* a memory is worn out long before 2^32 records */
}

/* Into whole units; 0 where it can't be one of this log's. */
static uint32_t close(const plf_log *log, plf_record *record, uint8_t *bytes, uint32_t room)
{
    record->memory_bytes = memory_bytes(log->ring.flash);
    record->slot_bytes = (uint16_t)log->ring.slot_bytes;
    const uint32_t size = plf_record_size(record);
    const uint32_t units = in_units(log, size);
    if (units > log->ring.area_bytes || units > room) {
        return 0;
    }
    plf_record_write(record, bytes, room); /* nothing, where its numbers contradict each other */
    for (uint32_t i = size; i < units; i++) {
        bytes[i] = BLANK;
    }
    return units;
}

enum plf_result plf_log_append(plf_log *log, plf_record *record, uint8_t *bytes, uint32_t room)
{
    if (!is_mounted(log) || record == NULL || bytes == NULL || log->writing) {
        return PLF_REFUSED;
    }
    const bool next = record->sequence == 0;
    if (next) {
        record->sequence = log->sequence + 1;
    } else if (record->sequence <= log->newest || record->sequence > log->sequence) {
        return PLF_REFUSED;
    }
    const uint32_t size = close(log, record, bytes, room);
    if (size == 0) {
        return PLF_REFUSED;
    }
    log->sequence += next;
    log->append_number = record->sequence;
    log->append_bytes = bytes;
    log->append_size = size;
    log->writing = 1;
    return PLF_DONE;
}

enum plf_result plf_log_clear(plf_log *log)
{
    plf_log_summary summary;
    if (plf_log_count(log, &summary) != PLF_DONE || log->writing) {
        return PLF_REFUSED;
    }
    log->clearing = summary.records > 0;
    return PLF_DONE;
}

static void begin_clear(plf_log *log)
{
    const plf_record nothing = { 0 };
    plf_record record = nothing;
    record.kind = PLF_RECORD_CLEARED;
    record.bits = 2;
    record.sequence = log->newest;
    plf_ring_write(&log->ring, log->small, close(log, &record, log->small, sizeof log->small));
}

static enum plf_result go_on_writing(plf_log *log)
{
    uint32_t slot;
    const enum plf_result result = plf_ring_step(&log->ring, &slot);
    if (result == PLF_DONE) {
        return PLF_DONE;
    }
    if (log->job == PLF_LOG_CLEARS) {
        log->clearing = 0;
        log->cleared = result == PLF_READY ? log->newest : log->cleared;
    } else {
        log->writing = 0;
        if (result == PLF_READY) {
            log->newest = log->append_number;
            log->ring.numbers[slot] = log->newest;
        }
    }
    log->job = PLF_LOG_IDLE;
    return result;
}

/* ---- What became of an alarm: four bytes in the slot's last unit, their checksum over the record's number too ---- */

static uint16_t outcome_crc(uint32_t sequence, uint8_t outcome)
{
    const uint8_t bytes[] = { (uint8_t)(sequence & 0xFFU), (uint8_t)(sequence >> 8 & 0xFFU),
                              (uint8_t)(sequence >> 16 & 0xFFU), (uint8_t)(sequence >> 24), OUTCOME_MARK, outcome };
    return plf_crc16(0xFFFFU, bytes, sizeof bytes);
}

/* One that is free, or waits for a record that never came; NOTES where there is none. */
static uint32_t free_note(const plf_log *log)
{
    uint32_t note = 0;
    while (note < NOTES && log->notes[note].number != 0
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
    if (!is_mounted(log) || outcome == PLF_OPEN || outcome > PLF_WITHDRAWN) {
        return PLF_REFUSED;
    }
    const uint32_t slot = slot_of(log, sequence);
    if (sequence > log->sequence || (slot == log->ring.slots && sequence <= log->newest)) {
        return PLF_MISSING;
    }
    const uint32_t note = free_note(log);
    if (note == NOTES || is_noted(log, sequence)) {
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

static void begin_note(plf_log *log, uint32_t note)
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
    log->slot = slot_of(log, wanted->number);
    log->note = (uint8_t)note;
    log->done = 0;
}

static enum plf_result go_on_noting(plf_log *log)
{
    uint8_t kept[PLF_PAGE_BYTES];
    const plf_flash *flash = log->ring.flash;
    const uint8_t *from = log->small + log->done;
    const uint32_t whole = in_units(log, PLF_OUTCOME_BYTES);
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
    if (!is_mounted(log) || outcome == NULL) {
        return PLF_REFUSED;
    }
    const uint32_t slot = slot_of(log, sequence);
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

/* ---- One poll ---- */

/* The note that is due: its record is there. */
static uint32_t due_note(const plf_log *log)
{
    uint32_t note = 0;
    while (note < NOTES && (log->notes[note].number == 0 || !has(log, log->notes[note].number))) {
        note++;
    }
    return note;
}

static enum plf_log_job next_job(plf_log *log)
{
    const uint32_t note = due_note(log);
    if (log->clearing) {
        begin_clear(log);
        return PLF_LOG_CLEARS;
    }
    if (note < NOTES) {
        begin_note(log, note);
        return PLF_LOG_NOTES;
    }
    if (log->writing) {
        plf_ring_write(&log->ring, log->append_bytes, log->append_size);
        return PLF_LOG_WRITES;
    }
    return PLF_LOG_IDLE;
}

enum plf_result plf_log_poll(plf_log *log)
{
    if (log == NULL || log->ring.flash == NULL) {
        return PLF_REFUSED;
    }
    if (log->job == PLF_LOG_IDLE) {
        log->job = (uint8_t)next_job(log);
    }
    switch (log->job) {
    case PLF_LOG_MOUNTS:
        return look(log);
    case PLF_LOG_CLEARS:
    case PLF_LOG_WRITES:
        return go_on_writing(log);
    case PLF_LOG_NOTES:
        return go_on_noting(log);
    default:
        return PLF_DONE;
    }
}

uint32_t plf_log_pending(const plf_log *log)
{
    if (log == NULL || log->ring.flash == NULL) {
        return 0;
    }
    return (uint32_t)(log->job == PLF_LOG_MOUNTS) + log->clearing + log->writing + (due_note(log) < NOTES);
}

/* ---- Reading ---- */

enum plf_result plf_log_count(const plf_log *log, plf_log_summary *summary)
{
    const plf_log_summary nothing = { 0, 0, 0 };
    if (!is_mounted(log) || summary == NULL) {
        return PLF_REFUSED;
    }
    *summary = nothing;
    for (uint32_t slot = 0; slot < log->ring.slots; slot++) {
        const uint32_t number = log->ring.numbers[slot];
        if (number > log->cleared) {
            summary->records++;
            summary->oldest = summary->oldest == 0 || number < summary->oldest ? number : summary->oldest;
            summary->newest = number > summary->newest ? number : summary->newest;
        }
    }
    return PLF_DONE;
}

enum plf_result plf_log_find(const plf_log *log, uint32_t sequence, plf_record *record)
{
    if (!is_mounted(log) || record == NULL) {
        return PLF_REFUSED;
    }
    const uint32_t slot = slot_of(log, sequence);
    return slot < log->ring.slots ? read_header(log, slot, record) : PLF_MISSING;
}

enum plf_result plf_log_read(const plf_log *log, uint32_t sequence, uint32_t offset, uint8_t *to, uint32_t size)
{
    plf_record record;
    if (to == NULL) {
        return PLF_REFUSED;
    }
    const enum plf_result found = plf_log_find(log, sequence, &record);
    if (found != PLF_DONE) {
        return found;
    }
    const uint32_t whole = plf_record_size(&record);
    if (offset > whole || size > whole - offset) {
        return PLF_REFUSED;
    }
    return plf_ring_read(&log->ring, plf_ring_address(&log->ring, slot_of(log, sequence)) + offset, to, size);
}
