/* SPDX-License-Identifier: MIT */
/* plumbfall_block.c: see plumbfall_block.h. C99, integers only. */
#include "plumbfall_block.h"

#include <stdbool.h>
#include <stddef.h>

enum { MARK = 0x42, HEAD = 6, ALL_BYTES = HEAD + PLF_BLOCK_BYTES + 2, BLANK = 0xFF, AS_IT_IS = 0xFF, TRIAL_MS = 600000 };
enum { WRITTEN_MOST = (ALL_BYTES + PLF_UNIT_MOST - 1) / PLF_UNIT_MOST * PLF_UNIT_MOST };

static uint32_t number_at(const uint8_t *from, uint32_t bytes)
{
    uint32_t value = 0;
    for (uint32_t i = 0; i < bytes; i++) {
        value |= (uint32_t)from[i] << 8U * i;
    }
    return value;
}

static void put(uint8_t *to, uint32_t value, uint32_t bytes)
{
    for (uint32_t i = 0; i < bytes; i++) {
        to[i] = (uint8_t)(value & 0xFFU);
        value >>= 8;
    }
}

static const plf_flash *flash_of(const plf_block *block)
{
    return block->journal.flash;
}

static void take(plf_block *block, const plf_parameters *parameters)
{
    block->active = *parameters;
    block->identity = plf_identity(parameters);
}

/* ---- What a block must be ---- */

static uint32_t words_of(const plf_settings *s)
{
    const uint32_t vectors = s->tilt_on ? (uint32_t)s->guard_samples + s->baseline_samples : 0;
    const uint32_t bits = s->active_on ? (uint32_t)s->guard_samples + s->active_window_samples : 0;
    return 3U * vectors + (bits + 15U) / 16U;
}

static bool same_sensor(const plf_front_end *a, const plf_front_end *b)
{
    return a->rate_millihz == b->rate_millihz && a->range_mg == b->range_mg
        && a->counts_per_1000_g == b->counts_per_1000_g && a->resolution_bits == b->resolution_bits;
}

static enum plf_block_fault fault_of(plf_block *block, const uint8_t bytes[PLF_BLOCK_BYTES], plf_parameters *found)
{
    if (plf_crc32(0, bytes, PLF_PARAMETERS_BYTES) != number_at(bytes + PLF_PARAMETERS_BYTES, 4)) {
        return PLF_BLOCK_DAMAGED;
    }
    block->first = (uint8_t)plf_parameters_read(bytes, found);
    if (block->first == PLF_NO_SETTINGS) {
        return PLF_BLOCK_OTHER_VERSION;
    }
    if (block->first != PLF_ALL_IN_BOUNDS) {
        return PLF_BLOCK_OUT_OF_BOUNDS;
    }
    if (!same_sensor(&found->front_end, &block->built_in->front_end)) {
        return PLF_BLOCK_OTHER_SENSOR;
    }
    return words_of(&found->settings) <= block->ring_words ? PLF_BLOCK_NO_FAULT : PLF_BLOCK_RING_TOO_SMALL;
}

/* ---- Its two copies: generation g lies in the block g % 2 ---- */

static uint32_t place_of(const plf_block *block, uint32_t generation)
{
    return block->first_block + generation % 2U;
}

/* In pages, as everything that goes over the line to a memory. */
static bool read_copy(const plf_block *block, uint32_t generation, uint8_t bytes[ALL_BYTES])
{
    const plf_flash *flash = flash_of(block);
    const uint32_t from = place_of(block, generation) * flash->block_bytes;
    return flash->read(flash->context, from, bytes, PLF_PAGE_BYTES) == 0
        && flash->read(flash->context, from + PLF_PAGE_BYTES, bytes + PLF_PAGE_BYTES, ALL_BYTES - PLF_PAGE_BYTES) == 0;
}

/* The parameters of a generation, where its copy is whole and still good for this firmware. */
static bool load(plf_block *block, uint32_t generation, plf_parameters *found)
{
    uint8_t bytes[ALL_BYTES];
    if (generation == 0 || !read_copy(block, generation, bytes)) {
        return false;
    }
    return bytes[0] == MARK && number_at(bytes + 2, 4) == generation
        && plf_crc16(0xFFFFU, bytes, ALL_BYTES - 2) == number_at(bytes + ALL_BYTES - 2, 2)
        && fault_of(block, bytes + HEAD, found) == PLF_BLOCK_NO_FAULT;
}

/* All of a copy, in whole units. */
static uint32_t compose(const plf_block *block, uint32_t generation, uint8_t bytes[WRITTEN_MOST])
{
    const uint32_t unit = flash_of(block)->unit_bytes;
    for (uint32_t i = 0; i < WRITTEN_MOST; i++) {
        bytes[i] = BLANK;
    }
    bytes[0] = MARK;
    bytes[1] = 1;
    put(bytes + 2, generation, 4);
    for (uint32_t i = 0; i < PLF_BLOCK_BYTES; i++) {
        bytes[HEAD + i] = block->bytes[i];
    }
    put(bytes + ALL_BYTES - 2, plf_crc16(0xFFFFU, bytes, ALL_BYTES - 2), 2);
    return (ALL_BYTES + unit - 1U) / unit * unit;
}

/* What the journal says is in force: the generation that was confirmed, else what is compiled in. */
static void go_back(plf_block *block)
{
    plf_parameters found;
    take(block, load(block, block->journal.generation, &found) ? &found : block->built_in);
    block->stage = PLF_BLOCK_SETTLED;
}

/* Never the place of the generation that is in force. */
static uint32_t next_generation(const plf_block *block)
{
    return block->journal.generation + 1;
}

/* ---- What the header offers ---- */

enum plf_result plf_block_mount(plf_block *block, const plf_flash *flash, uint32_t first_block,
                                const plf_parameters *built_in, uint32_t ring_words)
{
    if (block == NULL || built_in == NULL || plf_settings_check(&built_in->settings) != PLF_ALL_IN_BOUNDS) {
        return PLF_REFUSED;
    }
    block->built_in = built_in;
    block->first_block = first_block;
    block->ring_words = ring_words;
    block->trial_ms = TRIAL_MS;
    block->have = 0;
    block->fault = PLF_BLOCK_NO_FAULT;
    block->stage = PLF_BLOCK_SETTLED;
    take(block, built_in);
    if (plf_journal_mount(&block->journal, flash, first_block + 2U) != PLF_DONE) {
        return PLF_REFUSED;
    }
    if (flash->block_bytes < WRITTEN_MOST) {
        block->journal.flash = NULL;
        return PLF_REFUSED;
    }
    block->stage = PLF_BLOCK_MOUNTS;
    block->then = PLF_BLOCK_BACK;
    return PLF_DONE;
}

static uint32_t piece_size(uint32_t number)
{
    const uint32_t left = PLF_BLOCK_BYTES - number * PLF_PIECE_BYTES;
    return left < PLF_PIECE_BYTES ? left : PLF_PIECE_BYTES;
}

enum plf_result plf_block_piece(plf_block *block, uint32_t identity, uint32_t number, const uint8_t *bytes,
                                uint32_t size)
{
    plf_parameters found;
    if (block == NULL || bytes == NULL || flash_of(block) == NULL || number >= PLF_PIECES
        || size != piece_size(number) || block->stage > PLF_BLOCK_CHECKED) {
        return PLF_REFUSED;
    }
    if (block->have == 0 || identity != block->incoming) {
        block->incoming = identity;
        block->have = 0;
    }
    block->stage = PLF_BLOCK_SETTLED; /* one that waited gives way to the newer one */
    for (uint32_t i = 0; i < size; i++) {
        block->bytes[number * PLF_PIECE_BYTES + i] = bytes[i];
    }
    block->have = (uint8_t)(block->have | 1U << number);
    if (block->have != (1U << PLF_PIECES) - 1U) {
        return PLF_DONE;
    }
    block->have = 0;
    block->fault = (uint8_t)fault_of(block, block->bytes, &found);
    if (block->fault == PLF_BLOCK_NO_FAULT && plf_identity(&found) != identity) {
        block->fault = PLF_BLOCK_DAMAGED;
    }
    if (block->fault != PLF_BLOCK_NO_FAULT) {
        return PLF_REFUSED;
    }
    block->stage = PLF_BLOCK_CHECKED;
    return PLF_READY;
}

/* ---- What is kept in the journal ---- */

static enum plf_result keep(plf_block *block, uint32_t counter, uint32_t generation, uint8_t then)
{
    const enum plf_result result = plf_journal_append(&block->journal, counter, generation);
    if (result == PLF_DONE) {
        block->then = then;
        block->kept = 0;
    }
    return result;
}

enum plf_result plf_block_keep(plf_block *block, uint32_t counter)
{
    return block == NULL ? PLF_REFUSED : keep(block, counter, block->journal.generation, AS_IT_IS);
}

enum plf_result plf_block_confirm(plf_block *block, uint32_t identity, uint32_t counter)
{
    if (block == NULL || block->stage != PLF_BLOCK_TRIAL || identity != block->identity) {
        return PLF_REFUSED;
    }
    return keep(block, counter, block->on_trial, PLF_BLOCK_SETTLED);
}

/* A generation that no copy ever had stands for what is compiled in: none was written with more than the one in force
 * and 1, so 2 more is above all. */
enum plf_result plf_block_roll_back(plf_block *block, uint32_t counter)
{
    if (block == NULL) {
        return PLF_REFUSED;
    }
    const bool confirmed = block->stage == PLF_BLOCK_SETTLED && block->identity != plf_identity(block->built_in);
    return keep(block, counter, block->journal.generation + (confirmed ? 2U : 0U), PLF_BLOCK_BACK);
}

static enum plf_result go_on_keeping(plf_block *block)
{
    const enum plf_result result = plf_journal_poll(&block->journal);
    if (result == PLF_READY) {
        block->kept = 1;
        block->stage = block->then == AS_IT_IS ? block->stage : block->then;
    } else if (block->stage == PLF_BLOCK_MOUNTS && result == PLF_FAILED) {
        block->stage = PLF_BLOCK_SETTLED;
    }
    return result == PLF_FAILED ? PLF_FAILED : PLF_DONE;
}

/* ---- A switch, step by step ---- */

static enum plf_result erase(plf_block *block)
{
    const plf_flash *flash = flash_of(block);
    const int erased = flash->erase(flash->context, place_of(block, next_generation(block)));
    block->written = 0;
    block->stage = erased == 0 ? PLF_BLOCK_ERASED : PLF_BLOCK_SETTLED;
    return erased == 0 ? PLF_DONE : PLF_FAILED;
}

static enum plf_result begin_trial(plf_block *block, uint32_t now_ms)
{
    plf_parameters found;
    if (!load(block, next_generation(block), &found)) {
        block->stage = PLF_BLOCK_SETTLED;
        return PLF_FAILED;
    }
    take(block, &found);
    block->on_trial = next_generation(block);
    block->since = now_ms;
    block->stage = PLF_BLOCK_TRIAL;
    return PLF_READY;
}

/* A page, which no edge of one cuts; the last is read back with all the others. */
static enum plf_result write(plf_block *block, uint32_t now_ms)
{
    uint8_t bytes[WRITTEN_MOST];
    const plf_flash *flash = flash_of(block);
    const uint32_t size = compose(block, next_generation(block), bytes);
    const uint32_t at = place_of(block, next_generation(block)) * flash->block_bytes + block->written;
    const uint32_t more = size - block->written < PLF_PAGE_BYTES ? size - block->written : PLF_PAGE_BYTES;
    if (flash->program(flash->context, at, bytes + block->written, more) != 0) {
        block->stage = PLF_BLOCK_SETTLED;
        return PLF_FAILED;
    }
    block->written = (uint8_t)(block->written + more);
    return block->written < size ? PLF_DONE : begin_trial(block, now_ms);
}

enum plf_result plf_block_poll(plf_block *block, uint8_t calm, uint32_t now_ms)
{
    if (block == NULL || flash_of(block) == NULL) {
        return PLF_REFUSED;
    }
    if (block->journal.job != PLF_JOURNAL_IDLE) {
        return go_on_keeping(block);
    }
    if (block->stage == PLF_BLOCK_TRIAL && now_ms - block->since >= block->trial_ms) {
        block->stage = PLF_BLOCK_BACK;
    }
    if (!calm) {
        return PLF_DONE;
    }
    switch (block->stage) {
    case PLF_BLOCK_CHECKED:
        return erase(block);
    case PLF_BLOCK_ERASED:
        return write(block, now_ms);
    case PLF_BLOCK_BACK:
        go_back(block);
        return PLF_READY;
    default:
        return PLF_DONE;
    }
}

uint8_t plf_is_calm(const plf_state *state, const plf_alarm *alarm)
{
    return state != NULL && alarm != NULL && (state->stage == PLF_WATCH || state->stage == PLF_HOLD)
        && (alarm->stage == PLF_ARMED || alarm->stage == PLF_RESTING);
}

uint32_t plf_block_part(const plf_block *block, uint32_t number, uint8_t to[PLF_PIECE_BYTES])
{
    uint8_t bytes[PLF_BLOCK_BYTES];
    if (block == NULL || to == NULL || number >= PLF_PIECES) {
        return 0;
    }
    plf_parameters_write(&block->active, bytes);
    put(bytes + PLF_PARAMETERS_BYTES, block->identity, 4);
    for (uint32_t i = 0; i < piece_size(number); i++) {
        to[i] = bytes[number * PLF_PIECE_BYTES + i];
    }
    return piece_size(number);
}
