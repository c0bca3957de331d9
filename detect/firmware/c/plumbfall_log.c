/* SPDX-License-Identifier: MIT */
/* plumbfall_log.c: see plumbfall_log.h. C99, integers only.
 *
 * The ring writes; here is what its slots hold: records of alarms, and records of the log's own state, which say up to
 * which number alarms are cleared and up to which numbers are reserved. Numbers rise in the order of writing, and one that
 * was reserved or begun is never given again: a mount goes on behind the highest, whether its record is whole or not.
 *
 * A record of the state stands behind all records up to the one that it says was begun last, and of two such the one with
 * the higher reserved number is the later: each has a higher one than any before it.
 */
#include "plumbfall_outcome.h"

#include <stddef.h>

enum { BLANK = 0xFF, AT_ONCE = 32 };

bool plf_log_is_mounted(const plf_log *log)
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

uint32_t plf_log_slot_of(const plf_log *log, uint32_t number)
{
    uint32_t slot = 0;
    while (slot < log->ring.slots && (log->ring.numbers[slot] != number || number <= log->cleared)) {
        slot++;
    }
    return slot;
}

static bool has(const plf_log *log, uint32_t number)
{
    return plf_log_slot_of(log, number) < log->ring.slots;
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
    log->last = log->ring.slots;
    log->whole = log->ring.slots;
    log->job = PLF_LOG_MOUNTS;
    return PLF_DONE;
}

static uint32_t higher(uint32_t a, uint32_t b)
{
    return a > b ? a : b;
}

/* Where it stands among all that were ever begun. Of earlier firmware, what clears has only the number of the newest that
 * it clears. */
static uint64_t order_of(const plf_record *record)
{
    if (record->kind != PLF_RECORD_CLEARED) {
        return (uint64_t)record->sequence << 32;
    }
    return (uint64_t)higher(record->sequence, record->settings_crc32) << 32 | higher(record->seconds, 1);
}

/* What can't be read may be whole: nothing is written into its place. */
static enum plf_result judged(plf_log *log, bool is_whole, bool may_be_whole)
{
    const uint32_t number = log->number;
    const bool clears = log->kind == PLF_RECORD_CLEARED;
    if (may_be_whole && log->order > log->whole_order) {
        log->whole = log->slot;
        log->whole_order = log->order;
    }
    if (may_be_whole) {
        log->newest = higher(log->newest, number);
    }
    if (log->order > log->last_order || (log->order == log->last_order && log->whole == log->slot)) {
        log->last = log->slot;
        log->last_order = log->order;
    }
    if (is_whole && clears) {
        log->cleared = higher(log->cleared, number);
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
    log->order = order_of(&record);
    log->kind = record.kind;
    log->limit = higher(log->limit, record.kind == PLF_RECORD_CLEARED ? record.seconds : 0);
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
    if (log->last < log->ring.slots) {
        plf_ring_go_on(&log->ring, log->last, log->whole);
        log->ring.kept = plf_log_slot_of(log, log->newest);
    }
    log->begun = (uint32_t)(log->last_order >> 32);
    log->sequence = higher(log->begun, log->limit);
    log->job = PLF_LOG_IDLE;
    return PLF_READY;
}

/* ---- Writing ---- */

/* A memory is worn out long before 2^32 records. */
uint32_t plf_log_number(plf_log *log)
{
    if (!plf_log_is_mounted(log)) {
        return 0;
    }
    log->sequence++;
    log->reserving = log->reserving || log->sequence > log->reserved;
    return log->sequence;
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
    if (!plf_log_is_mounted(log) || record == NULL || bytes == NULL || log->writing) {
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

/* A record of the log's state: alarms up to `cleared` don't count, numbers up to `limit` are reserved. */
static void begin_state(plf_log *log, uint32_t cleared, uint32_t limit)
{
    const plf_record nothing = { 0 };
    plf_record record = nothing;
    log->limit = higher(limit, log->limit + 1);
    record.kind = PLF_RECORD_CLEARED;
    record.bits = 2;
    record.sequence = cleared;
    record.seconds = log->limit;
    record.settings_crc32 = log->begun;
    plf_ring_write(&log->ring, log->small, close(log, &record, log->small, sizeof log->small));
}

static void begin_append(plf_log *log)
{
    log->begun = higher(log->begun, log->append_number);
    plf_ring_write(&log->ring, log->append_bytes, log->append_size);
}

/* Whether what is reserved now was kept or not: a number that has waited for it is told. */
static void end_state(plf_log *log, bool kept)
{
    if (log->job == PLF_LOG_CLEARS) {
        log->clearing = 0;
        log->cleared = kept ? log->newest : log->cleared;
    } else {
        log->reserving = kept && log->sequence > log->limit;
    }
    log->reserved = kept ? log->limit : log->reserved;
}

static enum plf_result go_on_writing(plf_log *log)
{
    uint32_t slot;
    const enum plf_result result = plf_ring_step(&log->ring, &slot);
    if (result == PLF_DONE) {
        return PLF_DONE;
    }
    if (log->job != PLF_LOG_WRITES) {
        end_state(log, result == PLF_READY);
    } else {
        log->writing = 0;
        if (result == PLF_READY) {
            log->newest = log->append_number;
            log->ring.numbers[slot] = log->newest;
            log->ring.kept = slot;
        }
    }
    log->job = PLF_LOG_IDLE;
    return result;
}

/* ---- One poll ---- */

static enum plf_log_job next_job(plf_log *log)
{
    const uint32_t note = plf_outcome_due(log);
    if (log->reserving) {
        begin_state(log, log->cleared, log->sequence + AT_ONCE - 1U);
        return PLF_LOG_RESERVES;
    }
    if (log->clearing) {
        begin_state(log, log->newest, 0);
        return PLF_LOG_CLEARS;
    }
    if (note < PLF_NOTES) {
        plf_outcome_begin(log, note);
        return PLF_LOG_NOTES;
    }
    if (log->writing) {
        begin_append(log);
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
    case PLF_LOG_RESERVES:
    case PLF_LOG_CLEARS:
    case PLF_LOG_WRITES:
        return go_on_writing(log);
    case PLF_LOG_NOTES:
        return plf_outcome_step(log);
    default:
        return PLF_DONE;
    }
}

uint32_t plf_log_pending(const plf_log *log)
{
    if (log == NULL || log->ring.flash == NULL) {
        return 0;
    }
    return (uint32_t)(log->job == PLF_LOG_MOUNTS) + log->reserving + log->clearing + log->writing
        + (plf_outcome_due(log) < PLF_NOTES);
}

/* ---- Reading ---- */

enum plf_result plf_log_count(const plf_log *log, plf_log_summary *summary)
{
    const plf_log_summary nothing = { 0, 0, 0 };
    if (!plf_log_is_mounted(log) || summary == NULL) {
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
    if (!plf_log_is_mounted(log) || record == NULL) {
        return PLF_REFUSED;
    }
    const uint32_t slot = plf_log_slot_of(log, sequence);
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
    return plf_ring_read(&log->ring, plf_ring_address(&log->ring, plf_log_slot_of(log, sequence)) + offset, to, size);
}
