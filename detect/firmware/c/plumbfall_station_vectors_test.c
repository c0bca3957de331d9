/* SPDX-License-Identifier: MIT */
/* plumbfall_station_vectors_test.c: runs the golden vectors of journal, block and station, on the host or on the target,
 * and cuts the power at every byte of the first three.
 *
 * On the host: cc -std=c99 -O2 -o station_vectors_test plumbfall_station_vectors_test.c plumbfall_station.c
 *                  plumbfall_block.c plumbfall_journal.c plumbfall_frame.c plumbfall_settings.c plumbfall_crc.c
 *                  && ./station_vectors_test
 * On the target: define PLF_STATION_VECTORS_NO_MAIN, include this file in one of yours, call plf_station_vectors_test
 * and look at the counts. It needs 3 KiB of RAM and does not touch your flash.
 */
#include <stddef.h>

#include "plumbfall_station_vectors.h"

enum { MEMORY = 2048, BLOCKS = 4, BITS_A_BYTE = 8, LIVES = 3, FENCED = 0xA5 };

static uint8_t memory[MEMORY];
static uint8_t written[MEMORY / BITS_A_BYTE]; /* a bit for each byte programmed since its erase */
static uint8_t torn[BLOCKS + 1];              /* whose erase was cut, and none came after it */
static plf_flash flash;
static uint32_t left_until_cut; /* bytes programmed and blocks erased until power goes; UINT32_MAX: it stays */
static int gone, unreadable;
static int broke_a_rule;
static int changes; /* of the memory since the last call */
static plf_block block;
static plf_station station;

/* A stand-in for the keyed hash, for these vectors alone: FNV-1a in 64 bits. It keeps nothing secret. */
static int stand_in(void *context, const uint8_t *message, uint32_t size, uint8_t tag[PLF_TAG_BYTES])
{
    static const uint8_t no_key[] = { 'n', 'o', 't', ' ', 'a', ' ', 'k', 'e', 'y' };
    uint64_t hash = UINT64_C(14695981039346656037);
    int *failures = context;
    if (failures != NULL) {
        ++*failures;
    }
    for (uint32_t i = 0; i < sizeof no_key + size; i++) {
        hash = (hash ^ (i < sizeof no_key ? no_key[i] : message[i - sizeof no_key])) * UINT64_C(1099511628211);
    }
    for (uint32_t i = 0; i < PLF_TAG_BYTES; i++) {
        tag[i] = (uint8_t)(hash >> BITS_A_BYTE * i & 0xFFU);
    }
    return failures != NULL;
}

static const plf_key key = { stand_in, NULL };

/* ---- A flash in RAM that may lose its power ---- */

enum power { ON, GOES, GONE };

static enum power next_power(void)
{
    if (gone) {
        return GONE;
    }
    if (left_until_cut == UINT32_MAX) {
        return ON;
    }
    if (left_until_cut == 0) {
        gone = 1;
        return GOES;
    }
    left_until_cut--;
    return ON;
}

static int flash_read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    (void)context;
    if (gone || unreadable || at + size > flash.block_bytes * flash.blocks) {
        return 1;
    }
    if (size > PLF_PAGE_BYTES) {
        broke_a_rule = 1;
    }
    for (uint32_t i = 0; i < size; i++) {
        to[i] = memory[at + i];
    }
    return 0;
}

/* Of the byte at which power goes, bits 1, 3, 5 and 7 are left as they were. */
static int flash_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    changes++;
    if (at % flash.unit_bytes != 0 || size % flash.unit_bytes != 0 || at + size > flash.block_bytes * flash.blocks
        || size > PLF_UNIT_MOST || torn[at / flash.block_bytes]) {
        broke_a_rule = 1;
        return 1;
    }
    for (uint32_t i = at; i < at + size; i++) {
        const enum power power = next_power();
        const unsigned was = memory[i];
        const unsigned bit = 1U << i % BITS_A_BYTE;
        if (power == GONE) {
            return 1;
        }
        if ((written[i / BITS_A_BYTE] & bit) != 0 && was != 0xFF) {
            broke_a_rule = 1; /* twice between two erases */
        }
        written[i / BITS_A_BYTE] = (uint8_t)(written[i / BITS_A_BYTE] | bit);
        memory[i] = (uint8_t)(was & (power == GOES ? from[i - at] | 0xAAU : from[i - at]));
        if (power == GOES) {
            return 1;
        }
    }
    return 0;
}

/* Of a block whose erase is cut the first half is erased. */
static int flash_erase(void *context, uint32_t which)
{
    (void)context;
    changes++;
    const enum power power = next_power();
    if (which >= flash.blocks) {
        broke_a_rule = 1;
        return 1;
    }
    if (power == GONE) {
        return 1;
    }
    const uint32_t at = which * flash.block_bytes;
    for (uint32_t i = at; i < at + (power == ON ? flash.block_bytes : flash.block_bytes / 2); i++) {
        memory[i] = 0xFF;
        written[i / BITS_A_BYTE] = (uint8_t)(written[i / BITS_A_BYTE] & ~(1U << i % BITS_A_BYTE));
    }
    torn[which] = power != ON;
    return power != ON;
}

static void new_memory(const plf_station_vector *v)
{
    flash.read = flash_read;
    flash.program = flash_program;
    flash.erase = flash_erase;
    flash.block_bytes = v->block_bytes;
    flash.blocks = BLOCKS;
    flash.unit_bytes = v->unit_bytes;
    left_until_cut = UINT32_MAX;
    gone = 0;
    for (uint32_t i = 0; i < MEMORY; i++) {
        memory[i] = (uint8_t)v->fill;
        written[i / BITS_A_BYTE] = 0;
    }
    for (uint32_t i = 0; i <= BLOCKS; i++) {
        torn[i] = 0;
    }
}

/* One poll, which changes the memory once at most. */
static enum plf_result polls(plf_block *some, uint8_t calm, uint32_t now_ms)
{
    changes = 0;
    const enum plf_result result = plf_block_poll(some, calm, now_ms);
    if (changes > 1) {
        broke_a_rule = 1;
    }
    return result;
}

static int mounts(plf_block *some)
{
    enum plf_result result = plf_block_mount(some, &flash, 0, &plf_vector_built_in, PLF_VECTOR_RING_WORDS);
    while (result == PLF_DONE && some->stage != PLF_BLOCK_SETTLED) {
        result = polls(some, 1, 0) == PLF_FAILED ? PLF_FAILED : PLF_DONE;
    }
    return result == PLF_DONE;
}

/* What stood in the memory of a block before it is mounted must not matter. */
static void fill(plf_block *some)
{
    uint8_t *bytes = (uint8_t *)some;
    for (uint32_t i = 0; i < sizeof *some; i++) {
        bytes[i] = FENCED;
    }
}

static int begins(const plf_station_vector *v)
{
    new_memory(v);
    fill(&block);
    station.key = &key;
    station.block = &block;
    station.node = PLF_VECTOR_NODE;
    station.status = plf_vector_status;
    station.waits = 0;
    return mounts(&block);
}

/* ---- Steps ---- */

static uint32_t memory_hash(void)
{
    uint32_t hash = 2166136261U;
    for (uint32_t i = 0; i < flash.block_bytes * BLOCKS; i++) {
        hash = (hash ^ memory[i]) * 16777619U;
    }
    return hash;
}

enum { TIME = 0x12345678, KIND = 0, NUMBER = 1, CLOCK = 5, PAYLOAD = 9 }; /* the last four: of a vector's command */

static uint32_t number_at(const uint8_t *from)
{
    return (uint32_t)from[0] | (uint32_t)from[1] << 8 | (uint32_t)from[2] << 16 | (uint32_t)from[3] << 24;
}

static void read_command(const plf_station_step_vector *step, plf_message *in)
{
    const uint8_t *from = &plf_station_bytes[step->in_at];
    plf_message_begin(in, from[KIND], step->in_size % 2 == 0 ? PLF_VECTOR_NODE : 0xFFFFU, number_at(from + NUMBER),
                      number_at(from + CLOCK));
    in->length = (uint8_t)(step->in_size - PAYLOAD);
    for (uint32_t i = 0; i < PLF_MESSAGE_MOST; i++) {
        in->payload[i] = i < in->length ? from[PAYLOAD + i] : FENCED;
    }
}

/* What stood there must not matter. */
static void spoil(plf_message *out, plf_station_order *order)
{
    out->kind = 0;
    out->length = 1;
    for (uint32_t i = 0; i < PLF_MESSAGE_MOST; i++) {
        out->payload[i] = FENCED;
    }
    order->work = PLF_WORK_ARM;
    order->number = FENCED;
    order->milliseconds = FENCED;
}

/* A command is taken without a change of the memory; its answer comes then, or when its counter is stored: two polls. */
static enum plf_result served(const plf_message *in, plf_message *out, plf_station_order *order)
{
    changes = 0;
    enum plf_result result = plf_station_message(&station, in, TIME, out, order);
    if (changes > 0) {
        broke_a_rule = 1;
    }
    for (uint32_t i = 0; i < 2 && result == PLF_DONE; i++) {
        spoil(out, order);
        polls(&block, 0, block.since);
        result = plf_station_poll(&station, TIME, out, order);
    }
    return result;
}

static int answers(const plf_station_step_vector *step)
{
    static plf_message in;
    static plf_message out;
    plf_station_order order;
    const uint8_t *expected = &plf_station_bytes[step->out_at];
    read_command(step, &in);
    spoil(&out, &order);
    const enum plf_result result = served(&in, &out, &order);
    if (in.kind < PLF_COMMAND_SET || in.kind >= 2U * PLF_COMMAND_SET) {
        return result == PLF_DONE && out.payload[0] == FENCED;
    }
    int good = result == PLF_READY && out.kind == expected[0] && out.length == step->out_size - 1
        && out.node == PLF_VECTOR_NODE && out.sequence == in.sequence && out.time_us == TIME && order.number == step->a
        && order.milliseconds == step->b && order.work == (enum plf_station_work)step->work
        && plf_station_poll(&station, TIME, &out, &order) == PLF_DONE && out.payload[out.length + 1U] == FENCED;
    for (uint32_t i = 0; good && i < out.length; i++) {
        good = out.payload[i] == expected[1 + i];
    }
    return good;
}

/* One step; whether its results are those expected. */
static int goes(const plf_station_step_vector *step)
{
    switch (step->kind) {
    case PLF_STEP_COMMAND:
        return answers(step);
    case PLF_STEP_POLL:
        return polls(&block, (uint8_t)step->a, step->b) == (enum plf_result)step->result;
    case PLF_STEP_MOUNT_BLOCK:
        left_until_cut = UINT32_MAX;
        gone = 0;
        station.waits = 0;
        return mounts(&block);
    case PLF_STEP_CUT_POWER:
        left_until_cut = step->a;
        return 1;
    case PLF_STEP_FLIP_BIT:
        memory[step->a / BITS_A_BYTE] = (uint8_t)(memory[step->a / BITS_A_BYTE] ^ 1U << step->a % BITS_A_BYTE);
        return 1;
    case PLF_STEP_NO_KEY:
        station.key = NULL;
        return 1;
    default:
        block.trial_ms = step->a;
        return 1;
    }
}

/* What a restart would find now; the power is there for it. */
static int keeps(uint32_t identity, uint32_t counter)
{
    static plf_block again;
    const int was_gone = gone;
    gone = 0;
    fill(&again);
    const int good = mounts(&again) && again.identity == identity && again.journal.counter == counter;
    gone = was_gone;
    return good;
}

static int passes(const plf_station_vector *v)
{
    int good = begins(v);
    for (uint16_t i = 0; good && i < v->steps; i++) {
        const plf_station_step_vector *step = &plf_station_steps[v->steps_at + i];
        good = goes(step) && memory_hash() == step->memory_hash && block.identity == step->identity
            && block.identity == plf_identity(&block.active) && block.stage == step->stage
            && keeps(step->kept, step->counter);
    }
    return good && !broke_a_rule;
}

/* Power goes after so many bytes and erases: what a restart finds is what was kept before that step, or after it, the
 * parameters and the counter alike. 2: the power never went. */
static int survives(const plf_station_vector *v, uint32_t after)
{
    uint32_t kept = plf_identity(&plf_vector_built_in);
    uint32_t counter = 0;
    int good = begins(v);
    left_until_cut = after;
    for (uint16_t i = 0; good && i < v->steps; i++) {
        const plf_station_step_vector *step = &plf_station_steps[v->steps_at + i];
        if (step->kind != PLF_STEP_MOUNT_BLOCK) {
            goes(step);
        } else {
            station.waits = 0;
            good = mounts(&block);
        }
        if (gone) {
            return !broke_a_rule && (keeps(kept, counter) || keeps(step->kept, step->counter));
        }
        kept = step->kept;
        counter = step->counter;
    }
    return good ? 2 : 0;
}

static int survives_every_cut(const plf_station_vector *v)
{
    int survived = 1;
    for (uint32_t after = 0; survived == 1; after++) {
        survived = survives(v, after);
    }
    return survived == 2;
}

#include "plumbfall_block_vectors_test.h"

static void count(plf_station_report *report, int good)
{
    report->vectors++;
    if (!good) {
        report->failed++;
        report->last_failed = report->vectors;
    }
}

plf_station_report plf_station_vectors_test(void)
{
    plf_station_report report = { 0, 0, 0 };
    broke_a_rule = 0;
    for (uint16_t i = 0; i < sizeof plf_station_vectors / sizeof plf_station_vectors[0]; i++) {
        count(&report, passes(&plf_station_vectors[i]));
    }
    for (uint16_t i = 0; i < LIVES; i++) {
        count(&report, survives_every_cut(&plf_station_vectors[i]));
    }
    count(&report, refuses_misuse());
    count(&report, keeps_to_sizes());
    count(&report, lies_where_it_is_told());
    count(&report, reads_back());
    count(&report, says_that_it_cannot_read());
    count(&report, believes_no_failed_hash());
    count(&report, knows_when_it_is_calm());
    count(&report, knows_what_is_its_own());
    count(&report, takes_one_at_a_time());
    count(&report, goes_on_step_by_step());
    return report;
}

#ifndef PLF_STATION_VECTORS_NO_MAIN
#include <stdio.h>

int main(void)
{
    const plf_station_report report = plf_station_vectors_test();
    printf("%u vectors, %u failed\n", (unsigned)report.vectors, (unsigned)report.failed);
    if (report.failed) {
        printf("the last that failed is number %u\n", (unsigned)report.last_failed);
    }
    return report.failed != 0 || report.vectors == 0;
}
#endif
