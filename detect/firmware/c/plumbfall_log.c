/* SPDX-License-Identifier: MIT */
/* plumbfall_log.c: see plumbfall_log.h. C99, integers only.
 *
 * Slots of one size lie one behind the other from the first byte, across the edges of blocks. Before a slot is written
 * every block that begins in it is erased; where it begins, it lies in the block that its predecessor's end had erased.
 * So a block is erased once a lap, a torn erase is repeated because the slot it was for is still blank where it begins,
 * and a torn record is stepped over because its slot is not. All products below stay under the memory's size.
 */
#include "plumbfall_log.h"

#include <stdbool.h>
#include <stddef.h>

enum { OUTCOME_MARK = 0x4F, OUTCOME_BYTES = 4, CHUNK = 64, BLANK = 0xFF };

static uint32_t in_units(const plf_flash *flash, uint32_t bytes)
{
    return (bytes + flash->unit_bytes - 1U) / flash->unit_bytes * flash->unit_bytes;
}

static uint32_t memory_bytes(const plf_flash *flash)
{
    return flash->block_bytes * flash->blocks;
}

static uint32_t address_of(const plf_log *log, uint32_t slot)
{
    return slot * log->slot_bytes;
}

static uint32_t slot_after(const plf_log *log, uint32_t slot)
{
    return slot + 1 < log->slots ? slot + 1 : 0;
}

static uint32_t least(uint32_t a, uint32_t b)
{
    return a < b ? a : b;
}

static bool read_at(const plf_log *log, uint32_t at, uint8_t *to, uint32_t size)
{
    return log->flash->read(log->flash->context, at, to, size) == 0;
}

/* ---- What a slot holds ---- */

static bool crc_is_right(const plf_log *log, uint32_t at, uint32_t size)
{
    uint8_t chunk[CHUNK];
    uint32_t crc = 0;
    uint32_t stored = 0;
    const uint32_t covered = size - PLF_RECORD_CRC;
    for (uint32_t done = 0; done < covered;) {
        const uint32_t more = least(covered - done, CHUNK);
        if (!read_at(log, at + done, chunk, more)) {
            return false;
        }
        crc = plf_crc32(crc, chunk, more);
        done += more;
    }
    if (!read_at(log, at + covered, chunk, PLF_RECORD_CRC)) {
        return false;
    }
    for (uint32_t i = 0; i < PLF_RECORD_CRC; i++) {
        stored |= (uint32_t)chunk[i] << 8U * i;
    }
    return stored == crc;
}

/* A header of this log's own; the record behind it may be torn. */
static bool has_header(const plf_log *log, uint32_t slot, plf_record *record)
{
    uint8_t bytes[PLF_RECORD_HEADER];
    return read_at(log, address_of(log, slot), bytes, sizeof bytes)
        && plf_record_header(bytes, sizeof bytes, record) == PLF_RECORD_WHOLE && record->slot_bytes == log->slot_bytes
        && record->memory_bytes == memory_bytes(log->flash) && plf_record_size(record) <= log->area_bytes;
}

static bool is_whole(const plf_log *log, uint32_t slot, plf_record *record)
{
    return has_header(log, slot, record) && crc_is_right(log, address_of(log, slot), plf_record_size(record));
}

static bool counts(const plf_log *log, const plf_record *record)
{
    return record->kind == PLF_RECORD_ALARM && record->sequence > log->cleared;
}

/* The slot of a record that counts; `slots` where there is none. Of a torn record the number may be given again. */
static uint32_t slot_of(const plf_log *log, uint32_t sequence, plf_record *record)
{
    for (uint32_t slot = 0; slot < log->slots; slot++) {
        if (has_header(log, slot, record) && record->sequence == sequence && counts(log, record)
            && crc_is_right(log, address_of(log, slot), plf_record_size(record))) {
            return slot;
        }
    }
    return log->slots;
}

static bool is_blank(const plf_log *log, uint32_t at, uint32_t end)
{
    uint8_t chunk[CHUNK];
    while (at < end) {
        const uint32_t more = least(end - at, CHUNK);
        if (!read_at(log, at, chunk, more)) {
            return false;
        }
        for (uint32_t i = 0; i < more; i++) {
            if (chunk[i] != BLANK) {
                return false;
            }
        }
        at += more;
    }
    return true;
}

/* ---- Writing ---- */

/* The record is in `bytes`, filled up to whole units. False where the slot can't take it or didn't keep it. */
static bool write_slot(const plf_log *log, uint32_t slot, const uint8_t *bytes, uint32_t size, uint32_t sequence)
{
    const plf_flash *flash = log->flash;
    const uint32_t at = address_of(log, slot);
    const uint32_t end = at + log->slot_bytes;
    uint32_t block = (at + flash->block_bytes - 1U) / flash->block_bytes; /* the first that begins in the slot */
    const uint32_t head = least(block * flash->block_bytes, end);
    plf_record written;
    if (!is_blank(log, at, head)) {
        return false;
    }
    for (; block * flash->block_bytes < end; block++) {
        if (flash->erase(flash->context, block) != 0) {
            return false;
        }
    }
    return flash->program(flash->context, at, bytes, size) == 0 && is_whole(log, slot, &written)
        && written.sequence == sequence;
}

enum plf_result plf_log_append(plf_log *log, plf_record *record, uint8_t *bytes, uint32_t room)
{
    if (log == NULL || log->flash == NULL || record == NULL || bytes == NULL) {
        return PLF_REFUSED;
    }
    record->sequence = log->sequence + 1; /* a memory is worn out long before 2^32 records */
    record->memory_bytes = memory_bytes(log->flash);
    record->slot_bytes = (uint16_t)log->slot_bytes;
    const uint32_t size = plf_record_size(record);
    const uint32_t units = in_units(log->flash, size);
    if (size == 0 || units > log->area_bytes || units > room) {
        return PLF_REFUSED;
    }
    plf_record_write(record, bytes, room);
    for (uint32_t i = size; i < units; i++) {
        bytes[i] = BLANK;
    }
    for (uint32_t tried = 0; tried < log->slots; tried++) {
        const uint32_t slot = log->next;
        log->next = slot_after(log, slot);
        if (write_slot(log, slot, bytes, units, record->sequence)) {
            log->sequence = record->sequence;
            return PLF_DONE;
        }
    }
    return PLF_FAILED;
}

enum plf_result plf_log_clear(plf_log *log)
{
    const plf_record nothing = { 0 };
    plf_record record = nothing;
    uint8_t bytes[PLF_UNIT_MOST]; /* 44 bytes in units of at most 64 */
    record.kind = PLF_RECORD_CLEARED;
    record.bits = 2;
    const enum plf_result result = plf_log_append(log, &record, bytes, sizeof bytes);
    if (result == PLF_DONE) {
        log->cleared = record.sequence;
    }
    return result;
}

/* ---- What became of an alarm: four bytes in the slot's last unit, their checksum over the record's number too ---- */

static uint16_t outcome_crc(uint32_t sequence, uint8_t outcome)
{
    const uint8_t bytes[] = { (uint8_t)(sequence & 0xFFU), (uint8_t)(sequence >> 8 & 0xFFU),
                              (uint8_t)(sequence >> 16 & 0xFFU), (uint8_t)(sequence >> 24), OUTCOME_MARK, outcome };
    return plf_crc16(0xFFFFU, bytes, sizeof bytes);
}

enum plf_result plf_log_set_outcome(plf_log *log, uint32_t sequence, enum plf_outcome outcome)
{
    uint8_t bytes[PLF_UNIT_MOST];
    plf_record record;
    if (log == NULL || log->flash == NULL || outcome == PLF_OPEN || outcome > PLF_WITHDRAWN) {
        return PLF_REFUSED;
    }
    const uint32_t slot = slot_of(log, sequence, &record);
    if (slot == log->slots) {
        return PLF_MISSING;
    }
    const uint32_t at = address_of(log, slot) + log->area_bytes;
    const uint32_t size = in_units(log->flash, OUTCOME_BYTES);
    const uint16_t crc = outcome_crc(sequence, (uint8_t)outcome);
    if (!is_blank(log, at, at + size)) {
        return PLF_REFUSED;
    }
    for (uint32_t i = 0; i < size; i++) {
        bytes[i] = BLANK;
    }
    bytes[0] = OUTCOME_MARK;
    bytes[1] = (uint8_t)outcome;
    bytes[2] = (uint8_t)(crc & 0xFFU);
    bytes[3] = (uint8_t)(crc >> 8);
    return log->flash->program(log->flash->context, at, bytes, size) == 0 ? PLF_DONE : PLF_FAILED;
}

/* A torn outcome counts as none. */
enum plf_result plf_log_outcome(const plf_log *log, uint32_t sequence, enum plf_outcome *outcome)
{
    uint8_t bytes[OUTCOME_BYTES];
    plf_record record;
    if (log == NULL || log->flash == NULL || outcome == NULL) {
        return PLF_REFUSED;
    }
    const uint32_t slot = slot_of(log, sequence, &record);
    if (slot == log->slots) {
        return PLF_MISSING;
    }
    if (!read_at(log, address_of(log, slot) + log->area_bytes, bytes, sizeof bytes)) {
        return PLF_FAILED;
    }
    *outcome = PLF_OPEN;
    if (bytes[0] == OUTCOME_MARK && bytes[1] <= PLF_WITHDRAWN
        && (bytes[2] | (uint32_t)bytes[3] << 8) == outcome_crc(sequence, bytes[1])) {
        *outcome = (enum plf_outcome)bytes[1];
    }
    return PLF_DONE;
}

/* ---- Reading ---- */

/* Sizes that fit each other, and the newest record never in a block that the next one erases. That could happen only
 * where the ring closes: the last slot must begin behind the last block of the first. So there are two of each. */
static bool fits(const plf_log *log, uint32_t record_bytes)
{
    const plf_flash *flash = log->flash;
    const uint32_t unit = flash->unit_bytes;
    if (unit == 0 || unit > PLF_UNIT_MOST || (unit & (unit - 1U)) != 0 || flash->block_bytes == 0
        || flash->block_bytes % unit != 0 || flash->blocks > UINT32_MAX / 2 / flash->block_bytes
        || record_bytes < PLF_RECORD_HEADER + PLF_RECORD_CRC || record_bytes > UINT16_MAX - 2U * PLF_UNIT_MOST) {
        return false;
    }
    return log->slots > 0
        && address_of(log, log->slots - 1) / flash->block_bytes > (log->slot_bytes - 1) / flash->block_bytes;
}

/* Newest record, the slot behind it, and what was cleared. False where the flash can't be read: then it must not be
 * taken for empty. */
static bool find_newest(plf_log *log)
{
    plf_record record;
    uint8_t first[1];
    log->next = 0;
    log->sequence = 0;
    log->cleared = 0;
    for (uint32_t slot = 0; slot < log->slots; slot++) {
        if (!read_at(log, address_of(log, slot), first, sizeof first)) {
            return false;
        }
        if (!is_whole(log, slot, &record)) {
            continue;
        }
        if (record.sequence > log->sequence) {
            log->sequence = record.sequence;
            log->next = slot_after(log, slot);
        }
        if (record.kind == PLF_RECORD_CLEARED && record.sequence > log->cleared) {
            log->cleared = record.sequence;
        }
    }
    return true;
}

enum plf_result plf_log_mount(plf_log *log, const plf_flash *flash, uint32_t record_bytes)
{
    if (log == NULL) {
        return PLF_REFUSED;
    }
    log->flash = NULL;
    if (flash == NULL || flash->read == NULL || flash->program == NULL || flash->erase == NULL
        || flash->unit_bytes == 0 || record_bytes > UINT16_MAX) {
        return PLF_REFUSED;
    }
    log->flash = flash;
    log->area_bytes = in_units(flash, record_bytes);
    log->slot_bytes = log->area_bytes + in_units(flash, OUTCOME_BYTES);
    log->slots = memory_bytes(flash) / log->slot_bytes;
    const bool fitting = fits(log, record_bytes);
    if (fitting && find_newest(log)) {
        return PLF_DONE;
    }
    log->flash = NULL;
    return fitting ? PLF_FAILED : PLF_REFUSED;
}

enum plf_result plf_log_count(const plf_log *log, plf_log_summary *summary)
{
    const plf_log_summary nothing = { 0, 0, 0 };
    plf_record record;
    if (log == NULL || log->flash == NULL || summary == NULL) {
        return PLF_REFUSED;
    }
    *summary = nothing;
    for (uint32_t slot = 0; slot < log->slots; slot++) {
        if (is_whole(log, slot, &record) && counts(log, &record)) {
            summary->records++;
            if (summary->oldest == 0 || record.sequence < summary->oldest) {
                summary->oldest = record.sequence;
            }
            if (record.sequence > summary->newest) {
                summary->newest = record.sequence;
            }
        }
    }
    return PLF_DONE;
}

enum plf_result plf_log_find(const plf_log *log, uint32_t sequence, plf_record *record)
{
    if (log == NULL || log->flash == NULL || record == NULL) {
        return PLF_REFUSED;
    }
    return slot_of(log, sequence, record) < log->slots ? PLF_DONE : PLF_MISSING;
}

enum plf_result plf_log_read(const plf_log *log, uint32_t sequence, uint32_t offset, uint8_t *to, uint32_t size)
{
    plf_record record;
    if (log == NULL || log->flash == NULL || to == NULL) {
        return PLF_REFUSED;
    }
    const uint32_t slot = slot_of(log, sequence, &record);
    if (slot == log->slots) {
        return PLF_MISSING;
    }
    const uint32_t whole = plf_record_size(&record);
    if (offset > whole || size > whole - offset) {
        return PLF_REFUSED;
    }
    return read_at(log, address_of(log, slot) + offset, to, size) ? PLF_DONE : PLF_FAILED;
}
