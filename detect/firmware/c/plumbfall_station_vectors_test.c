/* SPDX-License-Identifier: MIT */
/* plumbfall_station_vectors_test.c: runs the golden vectors of journal, block and station, on the host or on the target,
 * and cuts the power at every byte of the first three.
 *
 * On the host: cc -std=c99 -O2 -o station_vectors_test plumbfall_station_vectors_test.c plumbfall_station.c
 *                  plumbfall_block.c plumbfall_journal.c plumbfall_settings.c plumbfall_crc.c && ./station_vectors_test
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
    for (uint32_t i = 0; i < size; i++) {
        to[i] = memory[at + i];
    }
    return 0;
}

/* Of the byte at which power goes, bits 1, 3, 5 and 7 are left as they were. */
static int flash_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
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

static int mounts(plf_block *some)
{
    return plf_block_mount(some, &flash, 0, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_DONE;
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

static int is_command(uint8_t kind)
{
    return kind >= PLF_COMMAND_SET && kind < 2U * PLF_COMMAND_SET;
}

/* As a message: the answer has this node, the command's number, and the time. */
static int travels(const plf_command *command, plf_command *answer, plf_station_order *order)
{
    static plf_message in;
    static plf_message out;
    in.kind = command->kind;
    in.node = command->length % 2 == 0 ? PLF_VECTOR_NODE : 0xFFFFU;
    in.sequence = 0x87654321U;
    in.length = command->length;
    for (uint32_t i = 0; i < PLF_MESSAGE_MOST; i++) {
        in.payload[i] = i < command->length ? command->payload[i] : FENCED;
        out.payload[i] = FENCED;
    }
    const enum plf_result result = plf_station_message(&station, &in, 0x12345678U, &out, order);
    answer->kind = out.kind;
    answer->length = out.length;
    for (uint32_t i = 0; i < out.length && i < PLF_COMMAND_MOST; i++) {
        answer->payload[i] = out.payload[i];
    }
    return result == PLF_READY && out.node == PLF_VECTOR_NODE && out.sequence == 0x87654321U
        && out.time_us == 0x12345678U && out.payload[out.length] == FENCED;
}

static int answers(const plf_station_step_vector *step)
{
    plf_command command;
    plf_command answer;
    plf_station_order order;
    const uint8_t *in = &plf_station_bytes[step->in_at];
    const uint8_t *out = &plf_station_bytes[step->out_at];
    command.kind = in[0];
    command.length = (uint8_t)(step->in_size - 1);
    for (uint32_t i = 0; i < PLF_COMMAND_MOST; i++) {
        command.payload[i] = i < command.length ? in[1 + i] : FENCED;
    }
    order.work = PLF_WORK_ARM; /* what stood there must not matter */
    order.number = FENCED;
    order.milliseconds = FENCED;
    answer.length = 1;
    if (is_command(command.kind) && step->in_at % 2 == 0 /* half of them */
            ? !travels(&command, &answer, &order)
            : plf_station_serve(&station, &command, &answer, &order) != PLF_DONE) {
        return 0;
    }
    int good = answer.kind == out[0] && answer.length == step->out_size - 1 && order.number == step->a
        && order.milliseconds == step->b && order.work == (enum plf_station_work)step->work;
    for (uint32_t i = 0; good && i < answer.length; i++) {
        good = answer.payload[i] == out[1 + i];
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
        return plf_block_poll(&block, (uint8_t)step->a, step->b) == (enum plf_result)step->result;
    case PLF_STEP_MOUNT_BLOCK:
        left_until_cut = UINT32_MAX;
        gone = 0;
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

/* Power goes after so many bytes and erases: what a restart finds is what was kept before that step, or after it; and
 * the device takes another block and keeps it. 2: the power never went. */
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
            good = mounts(&block);
        }
        if (gone) {
            return !broke_a_rule && (keeps(kept, counter) || keeps(step->kept, step->counter)
                                     || keeps(kept, step->counter));
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

/* ---- What no vector says ---- */

static int refuses_misuse(void)
{
    plf_station_vector small = plf_station_vectors[0];
    plf_command command = { PLF_COMMAND_HEARTBEAT, 0, { 0 } };
    plf_station_order order;
    plf_journal journal;
    plf_parameters wrong = plf_vector_built_in;
    uint8_t piece[PLF_PIECE_BYTES + 1U];
    int good = begins(&small);
    piece[PLF_PIECE_BYTES] = FENCED;
    good = good && plf_station_serve(NULL, &command, &command, &order) == PLF_REFUSED
        && plf_station_serve(&station, NULL, &command, &order) == PLF_REFUSED
        && plf_station_serve(&station, &command, NULL, &order) == PLF_REFUSED
        && plf_station_serve(&station, &command, &command, NULL) == PLF_REFUSED;
    good = good && plf_block_part(&block, 0, piece) == PLF_PIECE_BYTES && piece[PLF_PIECE_BYTES] == FENCED
        && plf_block_part(NULL, 0, piece) == 0 && plf_block_part(&block, 0, NULL) == 0
        && plf_block_piece(NULL, 0, 0, piece, PLF_PIECE_BYTES) == PLF_REFUSED
        && plf_block_piece(&block, 0, 0, NULL, PLF_PIECE_BYTES) == PLF_REFUSED
        && plf_block_poll(NULL, 1, 0) == PLF_REFUSED && plf_block_confirm(NULL, 0) == PLF_REFUSED
        && plf_block_roll_back(NULL) == PLF_REFUSED && plf_journal_append(NULL, 1, 1) == PLF_REFUSED
        && plf_journal_mount(NULL, &flash, 0) == PLF_REFUSED && plf_journal_mount(&journal, NULL, 0) == PLF_REFUSED
        && plf_journal_mount(&journal, &flash, BLOCKS - 1) == PLF_REFUSED
        && plf_journal_append(&journal, 1, 1) == PLF_REFUSED;
    wrong.settings.impact_counts = 0;
    good = good && plf_block_mount(NULL, &flash, 0, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_REFUSED
        && plf_block_mount(&block, &flash, 0, NULL, PLF_VECTOR_RING_WORDS) == PLF_REFUSED
        && plf_block_mount(&block, &flash, 0, &wrong, PLF_VECTOR_RING_WORDS) == PLF_REFUSED
        && plf_block_mount(&block, &flash, 1, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_REFUSED;
    flash.block_bytes = 96;
    good = good && plf_block_mount(&block, &flash, 0, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_REFUSED
        && plf_block_poll(&block, 1, 0) == PLF_REFUSED
        && plf_block_piece(&block, 0, 0, piece, PLF_PIECE_BYTES) == PLF_REFUSED;
    return good;
}

/* Sizes at their bounds, a memory that answers without doing, and what must not be written beyond. */
static int keeps_to_sizes(void)
{
    plf_station_vector v = plf_station_vectors[0];
    plf_journal journal;
    v.block_bytes = PLF_UNIT_MOST * 2U;
    v.unit_bytes = PLF_UNIT_MOST;
    int good = begins(&v) && plf_journal_mount(&journal, &flash, 2) == PLF_DONE;
    for (uint32_t i = 1; good && i < BITS_A_BYTE; i++) {
        good = plf_journal_append(&journal, i, 2U * i) == PLF_DONE && journal.number == i
            && plf_journal_mount(&journal, &flash, 2) == PLF_DONE && journal.number == i && journal.counter == i
            && journal.generation == 2U * i;
    }
    flash.unit_bytes = PLF_UNIT_MOST * 2U;
    good = good && plf_journal_mount(&journal, &flash, 2) == PLF_REFUSED
        && plf_journal_append(&journal, 1, 1) == PLF_REFUSED;
    flash.unit_bytes = 0;
    good = good && plf_journal_mount(&journal, &flash, 2) == PLF_REFUSED;
    flash.unit_bytes = PLF_UNIT_MOST;
    flash.block_bytes = PLF_UNIT_MOST;
    good = good && plf_journal_mount(&journal, &flash, 2) == PLF_DONE; /* one cell a block will do */
    flash.block_bytes = PLF_UNIT_MOST / 2U;
    return good && plf_journal_mount(&journal, &flash, 2) == PLF_REFUSED;
}

/* With its first block elsewhere than at the beginning, nothing before it is touched. */
static int lies_where_it_is_told(void)
{
    static plf_block other;
    uint8_t piece[PLF_PIECE_BYTES];
    int good = begins(&plf_station_vectors[0]);
    flash.blocks = BLOCKS + 1;
    for (uint32_t i = 0; i < flash.block_bytes; i++) {
        memory[i] = FENCED;
    }
    fill(&other);
    good = good && plf_block_mount(&other, &flash, 1, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_DONE;
    for (uint32_t i = 0; good && i < PLF_PIECES; i++) {
        const uint32_t size = plf_block_part(&other, i, piece);
        good = plf_block_piece(&other, other.identity, i, piece, size) == (i + 1 < PLF_PIECES ? PLF_DONE : PLF_READY);
    }
    good = good && plf_block_poll(&other, 1, 0) == PLF_DONE && plf_block_poll(&other, 1, 0) == PLF_READY
        && plf_block_confirm(&other, other.identity) == PLF_DONE && other.journal.generation == 1;
    fill(&other);
    good = good && plf_block_mount(&other, &flash, 1, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_DONE
        && other.journal.generation == 1 && other.identity == plf_identity(&plf_vector_built_in);
    for (uint32_t i = 0; i < flash.block_bytes; i++) {
        good = good && memory[i] == FENCED;
    }
    return good && !broke_a_rule;
}

static int forgetful_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    (void)at;
    (void)from;
    (void)size;
    return 0;
}

static int half_a_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    for (uint32_t i = 0; i < size / 2U; i++) {
        memory[at + i] = from[i];
    }
    return 0;
}

/* Programs that keep nothing, or half, are found out by reading back. */
static int reads_back(void)
{
    plf_journal journal;
    int good = begins(&plf_station_vectors[0]) && plf_journal_mount(&journal, &flash, 2) == PLF_DONE
        && plf_journal_append(&journal, 7, 1) == PLF_DONE;
    flash.program = forgetful_program;
    good = good && plf_journal_append(&journal, 8, 2) == PLF_FAILED && journal.counter == 7 && journal.generation == 1;
    flash.program = half_a_program;
    good = good && plf_journal_append(&journal, 8, 2) == PLF_FAILED && journal.counter == 7;
    flash.program = flash_program;
    unreadable = 1;
    good = good && plf_journal_append(&journal, 9, 3) == PLF_FAILED && journal.counter == 7;
    unreadable = 0;
    good = good && plf_journal_append(&journal, 10, 4) == PLF_DONE && plf_journal_mount(&journal, &flash, 2) == PLF_DONE;
    return good && journal.counter == 10;
}

/* A memory that can't be read is not taken for one that holds nothing: what is compiled in runs, no block is taken. */
static int says_that_it_cannot_read(void)
{
    uint8_t piece[PLF_PIECE_BYTES] = { 0 };
    int good = begins(&plf_station_vectors[0]);
    unreadable = 1;
    fill(&block);
    good = good && plf_block_mount(&block, &flash, 0, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_FAILED
        && block.identity == plf_identity(&plf_vector_built_in) && block.stage == PLF_BLOCK_SETTLED
        && block.fault == PLF_BLOCK_NO_FAULT && plf_block_piece(&block, 0, 0, piece, PLF_PIECE_BYTES) == PLF_REFUSED
        && plf_block_roll_back(&block) == PLF_REFUSED;
    unreadable = 0;
    return good;
}

/* A keyed hash that fails gives no reason to believe anybody. */
static int believes_no_failed_hash(void)
{
    static int failing;
    static const plf_key broken = { stand_in, &failing };
    const plf_station_step_vector *step = &plf_station_steps[plf_station_vectors[0].steps_at + 1U];
    const uint8_t *in = &plf_station_bytes[step->in_at];
    plf_command command = { 0, 0, { 0 } };
    plf_command answer;
    plf_station_order order;
    int good = begins(&plf_station_vectors[0]);
    failing = 0;
    station.key = &broken;
    command.kind = in[0];
    command.length = (uint8_t)(step->in_size - 1);
    for (uint32_t i = 0; i < command.length; i++) {
        command.payload[i] = in[1 + i];
    }
    good = good && plf_station_serve(&station, &command, &answer, &order) == PLF_DONE
        && answer.kind == PLF_COMMAND_REFUSED && answer.payload[1] == PLF_COMMAND_NOT_AUTHENTIC && failing == 1;
    station.key = &key;
    return good && plf_station_serve(&station, &command, &answer, &order) == PLF_DONE
        && answer.kind == (PLF_COMMAND_REPLY | PLF_COMMAND_SET);
}

static int knows_when_it_is_calm(void)
{
    static const uint8_t calm_stages[] = { 1, 0, 0, 0, 1 }; /* of both: PLF_WATCH to PLF_HOLD, PLF_ARMED to PLF_RESTING */
    static plf_state state;
    static plf_alarm alarm;
    for (uint8_t i = 0; i < sizeof calm_stages; i++) {
        for (uint8_t j = 0; j < sizeof calm_stages; j++) {
            state.stage = i;
            alarm.stage = j;
            if (plf_is_calm(&state, &alarm) != (calm_stages[i] & calm_stages[j])) {
                return 0;
            }
        }
    }
    return plf_is_calm(NULL, &alarm) == 0 && plf_is_calm(&state, NULL) == 0;
}

/* Another node's commands, and what is none, are left alone; a command longer than any is refused. */
static int knows_what_is_its_own(void)
{
    static plf_message in;
    static plf_message out;
    plf_station_order order;
    int good = begins(&plf_station_vectors[0]);
    out.kind = FENCED;
    in.length = 0;
    in.node = PLF_VECTOR_NODE;
    for (uint32_t kind = 0; kind <= UINT8_MAX; kind++) {
        in.kind = (uint8_t)kind;
        if (!is_command(in.kind)) {
            good = good && plf_station_message(&station, &in, 1, &out, &order) == PLF_DONE;
        }
    }
    in.kind = PLF_COMMAND_HEARTBEAT;
    in.node = PLF_VECTOR_NODE ^ 1U;
    good = good && plf_station_message(&station, &in, 1, &out, &order) == PLF_DONE
        && plf_station_message(NULL, &in, 1, &out, &order) == PLF_REFUSED
        && plf_station_message(&station, NULL, 1, &out, &order) == PLF_REFUSED
        && plf_station_message(&station, &in, 1, NULL, &order) == PLF_REFUSED;
    in.node = PLF_VECTOR_NODE;
    good = good && plf_station_message(&station, &in, 1, &out, NULL) == PLF_REFUSED && out.kind == FENCED;
    in.length = PLF_MESSAGE_MOST;
    return good && plf_station_message(&station, &in, 1, &out, &order) == PLF_READY
        && out.kind == PLF_COMMAND_REFUSED && out.length == 2 && out.payload[0] == PLF_COMMAND_HEARTBEAT
        && out.payload[1] == PLF_COMMAND_MALFORMED;
}

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
