/* SPDX-License-Identifier: MIT */
/* plumbfall_log_vectors_test.h: the part of plumbfall_device_vectors_test.c, which alone includes it, that runs the
 * vectors of log and commands, on a flash in RAM that fails where a vector says so; and how all parts compare bytes.
 */
#ifndef PLUMBFALL_LOG_VECTORS_TEST_H
#define PLUMBFALL_LOG_VECTORS_TEST_H

#include <stddef.h>

#include "plumbfall_device_vectors.h"

enum { MEMORY = 2048, BYTES = 512, BITS_A_BYTE = 8, FENCED = 0x5A5A, NUMBERS = 512 };
enum { READS, PROGRAMS, ERASES, WAYS };

static uint8_t memory[MEMORY];
static uint8_t bytes[BYTES];
static uint8_t other[BYTES];
static uint8_t written[(MEMORY + BITS_A_BYTE - 1) / BITS_A_BYTE]; /* a bit for each byte programmed since its erase */
static plf_flash flash;
static plf_log a_log;
static uint32_t left_until_cut; /* bytes programmed and blocks erased until power goes; UINT32_MAX: it stays */
static int gone;
static uint32_t numbers[NUMBERS];
static uint32_t failing[WAYS]; /* so many reads, programs and erases fail and do nothing, */
static uint32_t until[WAYS];   /* after so many more of them */
static uint32_t poll_reads, poll_changes; /* bytes read, pages programmed and blocks erased since a poll began */
static uint32_t stuck_at = UINT32_MAX;      /* a byte that can't be programmed */
static uint32_t unreadable_at = UINT32_MAX; /* a byte that can't be read */
static int broke_a_rule;

/* ---- Comparing bytes ---- */

/* FNV-1a. A CRC-32 would not do: of bytes that end with their own it is always the same. */
static uint32_t hash_of(const uint8_t *some, uint32_t size)
{
    uint32_t hash = 2166136261U;
    for (uint32_t i = 0; i < size; i++) {
        hash = (hash ^ some[i]) * 16777619U;
    }
    return hash;
}

static int same_bytes(const uint8_t *a, const uint8_t *b, uint32_t size)
{
    for (uint32_t i = 0; i < size; i++) {
        if (a[i] != b[i]) {
            return 0;
        }
    }
    return 1;
}

static void pack_all(const plf_record_vector *v)
{
    for (uint32_t i = 0; i < (uint32_t)v->record.before + v->record.after; i++) {
        plf_pack(bytes + plf_record_samples(&v->record), i, v->record.bits, v->record.shift,
                 plf_vector_samples[v->samples_at + i]);
    }
}

/* A message's frame is right, and nothing behind it was written. */
static int frames(const plf_message *message, const uint8_t *expected, uint32_t size)
{
    uint8_t out[PLF_STUFFED_MOST + 1U];
    for (uint32_t i = 0; i < sizeof out; i++) {
        out[i] = 0xA5;
    }
    return plf_frame_write(message, out) == size && same_bytes(out, expected, size) && out[size] == 0xA5;
}

/* ---- A flash in RAM that loses its power where the vector says so ---- */

enum power { ON, GOES, GONE };

static enum power next_power(void)
{
    if (gone) {
        return GONE;
    }
    if (left_until_cut == 0) {
        gone = 1;
        return GOES;
    }
    if (left_until_cut != UINT32_MAX) {
        left_until_cut--;
    }
    return ON;
}

static int fails(int way)
{
    if (until[way] > 0 || failing[way] == 0) {
        until[way] -= until[way] > 0;
        return 0;
    }
    failing[way]--;
    return 1;
}

static int flash_read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    (void)context;
    if (at + size > flash.block_bytes * flash.blocks) {
        broke_a_rule = 1;
        return 1;
    }
    poll_reads += size;
    if (fails(READS)) {
        return 1;
    }
    for (uint32_t i = 0; i < size; i++) {
        to[i] = at + i < MEMORY ? memory[at + i] : 0xFF; /* a larger flash is blank behind */
    }
    return unreadable_at >= at && unreadable_at < at + size;
}

/* Of the byte at which power goes, bits 1, 3, 5 and 7 are left as they were. */
static int flash_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    if (at % flash.unit_bytes != 0 || size % flash.unit_bytes != 0 || at + size > MEMORY || size == 0
        || at / PLF_PAGE_BYTES != (at + size - 1U) / PLF_PAGE_BYTES) {
        broke_a_rule = 1;
        return 1;
    }
    poll_changes++;
    if (fails(PROGRAMS)) {
        return 1;
    }
    for (uint32_t i = at; i < at + size; i++) {
        const enum power power = next_power();
        const unsigned was = memory[i];
        const unsigned bit = 1U << i % BITS_A_BYTE;
        if (power == GONE) {
            return 1;
        }
        if ((written[i / BITS_A_BYTE] & bit) != 0) {
            broke_a_rule = 1; /* twice between two erases */
        }
        written[i / BITS_A_BYTE] = (uint8_t)(written[i / BITS_A_BYTE] | bit);
        memory[i] = (uint8_t)(was & (power == GOES || i == stuck_at ? from[i - at] | 0xAAU : from[i - at]));
        if (power == GOES) {
            return 1;
        }
    }
    return 0;
}

/* Of a block whose erase is cut the first half is erased. */
static int flash_erase(void *context, uint32_t block)
{
    (void)context;
    poll_changes++;
    if (fails(ERASES)) {
        return 1;
    }
    const enum power power = next_power();
    const uint32_t at = block * flash.block_bytes;
    const uint32_t size = power == ON ? flash.block_bytes : flash.block_bytes / 2;
    if (block >= flash.blocks) {
        broke_a_rule = 1;
        return 1;
    }
    if (power == GONE) {
        return 1;
    }
    for (uint32_t i = at; i < at + size; i++) {
        memory[i] = 0xFF;
        written[i / BITS_A_BYTE] = (uint8_t)(written[i / BITS_A_BYTE] & ~(1U << i % BITS_A_BYTE));
    }
    return power != ON;
}

/* ---- Log and commands ---- */

/* All that was begun, poll by poll, none of which does more than the header says; how it ended. */
static enum plf_result finish(plf_log *log, enum plf_result begun)
{
    enum plf_result result = begun;
    for (uint32_t polls = 0; begun == PLF_DONE && plf_log_pending(log) > 0; polls++) {
        poll_reads = 0;
        poll_changes = 0;
        const enum plf_result polled = plf_log_poll(log);
        result = polled == PLF_READY || polled == PLF_DONE ? result : polled;
        if (poll_changes > 1 || poll_reads > 3U * PLF_PAGE_BYTES || polls > 10000U) {
            broke_a_rule = 1;
            break;
        }
    }
    return result;
}

/* A fence stands behind the numbers. */
static enum plf_result mount(plf_log *log, uint32_t largest)
{
    enum plf_result result = plf_log_mount(log, &flash, largest, numbers, NUMBERS - 1U);
    numbers[log->ring.slots] = FENCED;
    result = finish(log, result);
    broke_a_rule = broke_a_rule || numbers[log->ring.slots] != FENCED;
    return result;
}

static enum plf_result append(plf_record *record, uint32_t number, uint32_t room)
{
    record->sequence = number;
    return finish(&a_log, plf_log_append(&a_log, record, bytes, room));
}

static void new_memory(const plf_log_vector *v)
{
    flash.read = flash_read;
    flash.program = flash_program;
    flash.erase = flash_erase;
    flash.block_bytes = v->block_bytes;
    flash.blocks = v->blocks;
    flash.unit_bytes = v->unit_bytes;
    left_until_cut = UINT32_MAX;
    gone = 0;
    stuck_at = UINT32_MAX;
    unreadable_at = UINT32_MAX;
    for (int way = 0; way < WAYS; way++) {
        failing[way] = 0;
        until[way] = 0;
    }
    for (uint32_t i = 0; i < MEMORY; i++) {
        memory[i] = (uint8_t)v->fill;
        written[i / BITS_A_BYTE] = 0;
    }
}

static int serves(const plf_log_step_vector *step)
{
    static plf_receiver receiver;
    static plf_message command;
    static plf_message reply;
    enum plf_result found = PLF_DONE;
    plf_frame_init(&receiver);
    for (uint32_t i = 0; i < step->in_size; i++) {
        found = plf_frame_put(&receiver, plf_vector_bytes[step->in_at + i], &command);
    }
    for (uint32_t i = command.length; i < PLF_MESSAGE_MOST; i++) {
        command.payload[i] = 0xA5;
    }
    return found == PLF_READY
        && plf_link_serve(&a_log, &command, PLF_VECTOR_REPLY_TIME, &reply) == (enum plf_result)step->result
        && (step->out_size == 0 || frames(&reply, &plf_vector_bytes[step->out_at], step->out_size));
}

static int log_step_passes(const plf_log_step_vector *step)
{
    plf_record record;
    enum plf_outcome outcome = PLF_WITHDRAWN;
    switch (step->kind) {
    case PLF_STEP_APPEND:
    case PLF_STEP_WRITE:
        record = plf_record_vectors[step->a].record;
        pack_all(&plf_record_vectors[step->a]);
        return append(&record, step->kind == PLF_STEP_WRITE ? step->b : 0, BYTES) == (enum plf_result)step->result
            && record.sequence == step->b;
    case PLF_STEP_OUTCOME:
        return finish(&a_log, plf_log_set_outcome(&a_log, step->a, (enum plf_outcome)step->b))
            == (enum plf_result)step->result;
    case PLF_STEP_LOOK:
        return plf_log_outcome(&a_log, step->a, &outcome) == (enum plf_result)step->result
            && (step->result != PLF_DONE || (uint32_t)outcome == step->b);
    case PLF_STEP_CLEAR:
        return finish(&a_log, plf_log_clear(&a_log)) == (enum plf_result)step->result;
    case PLF_STEP_MOUNT:
        left_until_cut = UINT32_MAX;
        gone = 0;
        return mount(&a_log, step->a) == (enum plf_result)step->result
            && (step->result != PLF_DONE || a_log.sequence == step->b);
    case PLF_STEP_CUT:
        left_until_cut = step->a;
        return 1;
    case PLF_STEP_STICK:
        stuck_at = step->a;
        return 1;
    case PLF_STEP_NUMBER:
        a_log.sequence = step->a;
        return 1;
    case PLF_STEP_GIVE:
        return plf_log_number(&a_log) == step->a && finish(&a_log, PLF_DONE) == (enum plf_result)step->result
            && a_log.reserving == 0;
    case PLF_STEP_FAIL:
        failing[step->a] = step->b % 256U;
        until[step->a] = step->b / 256U;
        return 1;
    case PLF_STEP_FLIP:
        memory[step->a / BITS_A_BYTE] = (uint8_t)(memory[step->a / BITS_A_BYTE] ^ 1U << step->a % BITS_A_BYTE);
        return 1;
    default:
        return serves(step);
    }
}

static uint32_t counted(void)
{
    plf_log_summary summary;
    return plf_log_count(&a_log, &summary) == PLF_DONE ? summary.records + 31U * summary.oldest + 977U * summary.newest : 0;
}

static int log_passes(const plf_log_vector *v)
{
    const plf_log_step_vector *step = &plf_log_steps[v->steps_at];
    new_memory(v);
    broke_a_rule = 0;
    for (uint32_t i = 0; i < v->steps; i++, step++) {
        if (!log_step_passes(step) || hash_of(memory, (uint32_t)v->block_bytes * v->blocks) != step->memory_hash
            || (!gone && counted() != step->counted)) { /* without power nothing is right or wrong */
            return 0;
        }
    }
    return !broke_a_rule && (a_log.ring.flash == NULL || numbers[a_log.ring.slots] == FENCED);
}

/* Only sizes: a flash that is blank, as large as may be. */
static int fits_or_not(const plf_geometry_vector *v)
{
    plf_log log;
    new_memory(&plf_log_vectors[0]);
    flash.block_bytes = v->block_bytes;
    flash.blocks = v->blocks;
    flash.unit_bytes = v->unit_bytes;
    const uint32_t room = v->slots < NUMBERS ? v->slots : NUMBERS - 1U;
    numbers[room] = FENCED;
    const enum plf_result result = plf_log_mount(&log, &flash, v->largest, numbers, room);
    if (numbers[room] != FENCED) {
        return 0;
    }
    if (v->slots > 0 && v->slots < NUMBERS) {
        return finish(&log, result) == PLF_DONE && log.ring.slots == v->slots
            && plf_log_mount(&log, &flash, v->largest, numbers, room - 1U) == PLF_REFUSED;
    }
    return result == PLF_REFUSED && log.ring.flash == NULL && log.ring.slots == v->slots;
}

static enum plf_result append_first(uint32_t room)
{
    plf_record record = plf_record_vectors[0].record;
    for (uint32_t i = 0; i < BYTES; i++) {
        bytes[i] = 0xA5;
    }
    pack_all(&plf_record_vectors[0]);
    return append(&record, 0, room);
}

/* Units of 4 bytes, a ring of small records with one of them in it: rooms, offsets and numbers at their ends. */
static int keeps_to_its_ends(void)
{
    const plf_record *first = &plf_record_vectors[0].record;
    const uint32_t size = plf_record_size(first);
    const uint32_t units = (size + 3U) / 4U * 4U;
    plf_record record = *first;
    enum plf_outcome outcome;
    new_memory(&plf_log_vectors[0]);
    int good = mount(&a_log, size) == PLF_DONE && append_first(units - 1U) == PLF_REFUSED
        && append_first(units) == PLF_DONE && bytes[units] == 0xA5;
    record.bits = 1;
    good = good && append(&record, 0, BYTES) == PLF_REFUSED
        && plf_log_append(&a_log, NULL, bytes, BYTES) == PLF_REFUSED
        && plf_log_append(&a_log, &record, NULL, BYTES) == PLF_REFUSED
        && plf_log_read(&a_log, 1, 0, bytes, size) == PLF_DONE
        && plf_log_read(&a_log, 1, 1, bytes, size) == PLF_REFUSED
        && plf_log_read(&a_log, 1, size, bytes, 0) == PLF_DONE
        && plf_log_read(&a_log, 1, size + 1U, bytes, 0) == PLF_REFUSED
        && plf_log_read(&a_log, 1, size, bytes, 1) == PLF_REFUSED
        && plf_log_read(&a_log, 2, 0, bytes, 1) == PLF_MISSING
        && plf_log_read(&a_log, 1, 0, NULL, 1) == PLF_REFUSED && plf_log_find(&a_log, 2, &record) == PLF_MISSING
        && plf_log_find(&a_log, 1, NULL) == PLF_REFUSED && plf_log_count(&a_log, NULL) == PLF_REFUSED
        && plf_log_outcome(&a_log, 2, &outcome) == PLF_MISSING
        && plf_log_outcome(&a_log, 1, NULL) == PLF_REFUSED
        && plf_log_set_outcome(&a_log, 2, PLF_CANCELLED) == PLF_MISSING
        && plf_log_set_outcome(&a_log, 0, PLF_CANCELLED) == PLF_MISSING
        && plf_log_set_outcome(&a_log, 1, PLF_OPEN) == PLF_REFUSED
        && plf_log_set_outcome(&a_log, 1, (enum plf_outcome)4) == PLF_REFUSED;
    return good && !broke_a_rule;
}

static enum plf_result begin_append(plf_record *record)
{
    record->sequence = 0;
    return plf_log_append(&a_log, record, bytes, BYTES);
}

/* Poll by poll: what has begun, what it keeps waiting, and in what order it ends. */
static int takes_its_turns(void)
{
    plf_record record = plf_record_vectors[0].record;
    const uint32_t size = plf_record_size(&record);
    enum plf_outcome outcome = PLF_OPEN;
    new_memory(&plf_log_vectors[0]);
    int good = plf_log_mount(&a_log, &flash, size, numbers, NUMBERS) == PLF_DONE && plf_log_pending(&a_log) == 1
        && plf_log_number(&a_log) == 0 && begin_append(&record) == PLF_REFUSED && finish(&a_log, PLF_DONE) == PLF_DONE
        && plf_log_pending(&a_log) == 0 && plf_log_poll(&a_log) == PLF_DONE && append_first(BYTES) == PLF_DONE;
    pack_all(&plf_record_vectors[0]);
    good = good && begin_append(&record) == PLF_DONE && a_log.writing == 1 && plf_log_pending(&a_log) == 1
        && begin_append(&record) == PLF_REFUSED && plf_log_clear(&a_log) == PLF_REFUSED
        && plf_log_set_outcome(&a_log, 2, PLF_CANCELLED) == PLF_DONE && plf_log_pending(&a_log) == 1;
    while (good && a_log.writing) {
        plf_log_poll(&a_log);
    }
    good = good && plf_log_pending(&a_log) == 1 && plf_log_clear(&a_log) == PLF_DONE && plf_log_pending(&a_log) == 2;
    record.sequence = 0;
    pack_all(&plf_record_vectors[0]);
    good = good && begin_append(&record) == PLF_DONE && plf_log_pending(&a_log) == 3
        && finish(&a_log, PLF_DONE) == PLF_DONE && a_log.cleared == 2 && a_log.newest == 3
        && plf_log_outcome(&a_log, 2, &outcome) == PLF_MISSING;
    /* The outcome of what was cleared is not kept, and is in nobody's way. */
    good = good && plf_log_number(&a_log) == 4 && plf_log_pending(&a_log) == 1 && plf_log_number(&a_log) == 5
        && a_log.reserving == 1 && finish(&a_log, PLF_DONE) == PLF_DONE && a_log.reserving == 0
        && plf_log_set_outcome(&a_log, 4, PLF_CANCELLED) == PLF_DONE
        && plf_log_set_outcome(&a_log, 5, PLF_CANCELLED) == PLF_DONE
        && plf_log_set_outcome(&a_log, 3, PLF_CANCELLED) == PLF_REFUSED;
    return good && !broke_a_rule;
}

/* Falls that come while numbers are being reserved: 32 are covered, one more has to wait for others. */
static int reserves_for_all(uint32_t meanwhile)
{
    uint32_t changed = 0;
    new_memory(&plf_log_vectors[0]);
    int good = mount(&a_log, plf_record_size(&plf_record_vectors[0].record)) == PLF_DONE && plf_log_number(&a_log) == 1
        && plf_log_poll(&a_log) == PLF_DONE;
    for (uint32_t i = 0; i < meanwhile; i++) {
        good = good && plf_log_number(&a_log) == i + 2U && a_log.reserving == 1;
    }
    while (good && plf_log_pending(&a_log) > 0) {
        changed += plf_log_poll(&a_log) == PLF_READY;
    }
    return good && a_log.reserving == 0 && a_log.sequence == meanwhile + 1U && changed == (meanwhile < 32 ? 1U : 2U);
}

/* What was cleared before its outcome was written. */
static int forgets_what_was_cleared(void)
{
    plf_record record = plf_record_vectors[0].record;
    new_memory(&plf_log_vectors[0]);
    int good = mount(&a_log, plf_record_size(&record)) == PLF_DONE;
    pack_all(&plf_record_vectors[0]);
    good = good && begin_append(&record) == PLF_DONE && plf_log_set_outcome(&a_log, 1, PLF_CANCELLED) == PLF_DONE;
    while (good && a_log.writing) {
        plf_log_poll(&a_log);
    }
    good = good && plf_log_clear(&a_log) == PLF_DONE && finish(&a_log, PLF_DONE) == PLF_DONE && a_log.cleared == 1
        && plf_log_number(&a_log) == 2 && plf_log_number(&a_log) == 3;
    return good && plf_log_set_outcome(&a_log, 2, PLF_CANCELLED) == PLF_DONE
        && plf_log_set_outcome(&a_log, 3, PLF_CANCELLED) == PLF_DONE
        && plf_log_set_outcome(&a_log, 3, PLF_WITHDRAWN) == PLF_REFUSED && !broke_a_rule;
}

/* What can't be read is not blank: nothing is written into its place, and it is not counted. A memory whose headers
 * can't be read is not mounted. */
static int survives_an_unreadable_byte(void)
{
    const uint32_t size = plf_record_size(&plf_record_vectors[0].record);
    plf_record record;
    enum plf_outcome outcome;
    new_memory(&plf_log_vectors[0]);
    int good = mount(&a_log, size) == PLF_DONE && append_first(BYTES) == PLF_DONE;
    for (unreadable_at = 0; unreadable_at < size; unreadable_at++) {
        good = good && plf_log_find(&a_log, 1, &record) == (unreadable_at < PLF_RECORD_HEADER ? PLF_FAILED : PLF_DONE)
            && plf_log_read(&a_log, 1, 0, bytes, size) == PLF_FAILED;
    }
    for (unreadable_at = PLF_RECORD_HEADER; unreadable_at < size; unreadable_at++) {
        good = good && mount(&a_log, size) == PLF_DONE && plf_log_find(&a_log, 1, &record) == PLF_MISSING
            && a_log.sequence == 1 && a_log.newest == 1 && a_log.ring.slot == 1;
    }
    unreadable_at = UINT32_MAX;
    good = good && mount(&a_log, size) == PLF_DONE;
    unreadable_at = a_log.ring.area_bytes;
    good = good && plf_log_outcome(&a_log, 1, &outcome) == PLF_FAILED
        && plf_log_set_outcome(&a_log, 1, PLF_CANCELLED) == PLF_FAILED;
    unreadable_at = a_log.ring.slot_bytes + a_log.ring.area_bytes - 1U; /* in the slot that is next: read twice */
    good = good && append_first(BYTES) == PLF_FAILED && !a_log.writing && a_log.job == PLF_LOG_IDLE;
    unreadable_at = 0;
    good = good && mount(&a_log, size) == PLF_FAILED && append_first(BYTES) == PLF_REFUSED;
    unreadable_at = UINT32_MAX;
    good = good && mount(&a_log, size) == PLF_DONE && a_log.sequence == 2 && a_log.newest == 1;
    return good && append_first(BYTES) == PLF_DONE && a_log.newest == 3 && a_log.ring.slot == 3;
}

/* Another number of blocks is another log. */
static int tells_logs_apart(void)
{
    const uint32_t size = plf_record_size(&plf_record_vectors[0].record);
    new_memory(&plf_log_vectors[0]);
    int good = mount(&a_log, size) == PLF_DONE && append_first(BYTES) == PLF_DONE;
    flash.blocks--;
    good = good && mount(&a_log, size) == PLF_DONE && a_log.sequence == 0;
    flash.blocks++;
    return good && mount(&a_log, size) == PLF_DONE && a_log.sequence == 1;
}

static int wants_all_of_a_flash(void)
{
    plf_flash without = flash;
    int good = plf_log_mount(&a_log, &flash, 100, NULL, NUMBERS) == PLF_REFUSED;
    without.read = NULL;
    good = good && plf_log_mount(&a_log, &without, 100, numbers, NUMBERS) == PLF_REFUSED;
    without = flash;
    without.program = NULL;
    good = good && plf_log_mount(&a_log, &without, 100, numbers, NUMBERS) == PLF_REFUSED;
    without = flash;
    without.erase = NULL;
    good = good && plf_log_mount(&a_log, &without, 100, numbers, NUMBERS) == PLF_REFUSED;
    without = flash;
    without.unit_bytes = 0;
    return good && plf_log_mount(&a_log, &without, 100, numbers, NUMBERS) == PLF_REFUSED
        && plf_log_mount(&a_log, &flash, UINT32_MAX, numbers, NUMBERS) == PLF_REFUSED
        && plf_log_pending(&a_log) == 0 && plf_log_poll(&a_log) == PLF_REFUSED;
}

#endif
