/* SPDX-License-Identifier: MIT */
/* plumbfall_block.c: see plumbfall_block.h. C99, integers only. */
#include "plumbfall_block.h"

#include <stdbool.h>
#include <stddef.h>

enum { MARK = 0x42, HEAD = 6, ALL_BYTES = HEAD + PLF_BLOCK_BYTES + 2, BLANK = 0xFF, TRIAL_MS = 600000 };
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

/* The parameters of a generation, where its copy is whole and still good for this firmware. */
static bool load(plf_block *block, uint32_t generation, plf_parameters *found)
{
    uint8_t bytes[ALL_BYTES];
    const plf_flash *flash = flash_of(block);
    if (generation == 0
        || flash->read(flash->context, place_of(block, generation) * flash->block_bytes, bytes, ALL_BYTES) != 0) {
        return false;
    }
    return bytes[0] == MARK && number_at(bytes + 2, 4) == generation
        && plf_crc16(0xFFFFU, bytes, ALL_BYTES - 2) == number_at(bytes + ALL_BYTES - 2, 2)
        && fault_of(block, bytes + HEAD, found) == PLF_BLOCK_NO_FAULT;
}

/* In pieces of 64 bytes, which no page's edge cuts; read back into `found`. */
static bool write(plf_block *block, uint32_t generation, plf_parameters *found)
{
    uint8_t bytes[WRITTEN_MOST];
    const plf_flash *flash = flash_of(block);
    const uint32_t unit = flash->unit_bytes;
    for (uint32_t i = 0; i < sizeof bytes; i++) {
        bytes[i] = BLANK;
    }
    bytes[0] = MARK;
    bytes[1] = 1;
    put(bytes + 2, generation, 4);
    for (uint32_t i = 0; i < PLF_BLOCK_BYTES; i++) {
        bytes[HEAD + i] = block->bytes[i];
    }
    put(bytes + ALL_BYTES - 2, plf_crc16(0xFFFFU, bytes, ALL_BYTES - 2), 2);
    const uint32_t size = (ALL_BYTES + unit - 1U) / unit * unit;
    for (uint32_t done = 0; done < size; done += PLF_UNIT_MOST) {
        const uint32_t more = size - done < PLF_UNIT_MOST ? size - done : PLF_UNIT_MOST;
        if (flash->program(flash->context, place_of(block, generation) * flash->block_bytes + done, bytes + done, more)
            != 0) {
            return false;
        }
    }
    return load(block, generation, found);
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
    const enum plf_result result = plf_journal_mount(&block->journal, flash, first_block + 2U);
    if (result != PLF_DONE) {
        return result;
    }
    if (flash->block_bytes < WRITTEN_MOST) {
        block->journal.flash = NULL;
        return PLF_REFUSED;
    }
    go_back(block);
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

static enum plf_result begin_trial(plf_block *block, uint32_t now_ms)
{
    plf_parameters found;
    const uint32_t generation = next_generation(block);
    block->stage = PLF_BLOCK_SETTLED;
    if (!write(block, generation, &found)) {
        return PLF_FAILED;
    }
    take(block, &found);
    block->on_trial = generation;
    block->since = now_ms;
    block->stage = PLF_BLOCK_TRIAL;
    return PLF_READY;
}

enum plf_result plf_block_poll(plf_block *block, uint8_t calm, uint32_t now_ms)
{
    if (block == NULL || flash_of(block) == NULL) {
        return PLF_REFUSED;
    }
    if (block->stage == PLF_BLOCK_TRIAL && now_ms - block->since >= block->trial_ms) {
        block->stage = PLF_BLOCK_BACK;
    }
    if (!calm) {
        return PLF_DONE;
    }
    if (block->stage == PLF_BLOCK_CHECKED) {
        const plf_flash *flash = flash_of(block);
        const int erased = flash->erase(flash->context, place_of(block, next_generation(block)));
        block->stage = erased == 0 ? PLF_BLOCK_ERASED : PLF_BLOCK_SETTLED;
        return erased == 0 ? PLF_DONE : PLF_FAILED;
    }
    if (block->stage == PLF_BLOCK_ERASED) {
        return begin_trial(block, now_ms);
    }
    if (block->stage == PLF_BLOCK_BACK) {
        go_back(block);
        return PLF_READY;
    }
    return PLF_DONE;
}

enum plf_result plf_block_confirm(plf_block *block, uint32_t identity)
{
    if (block == NULL || block->stage != PLF_BLOCK_TRIAL || identity != block->identity) {
        return PLF_REFUSED;
    }
    const enum plf_result result = plf_journal_append(&block->journal, block->journal.counter, block->on_trial);
    if (result == PLF_DONE) {
        block->stage = PLF_BLOCK_SETTLED;
    }
    return result;
}

/* A generation that no copy ever had stands for what is compiled in: none was written with more than the one in force
 * and 1, so 2 more is above all. */
enum plf_result plf_block_roll_back(plf_block *block)
{
    if (block == NULL || flash_of(block) == NULL) {
        return PLF_REFUSED;
    }
    if (block->stage == PLF_BLOCK_SETTLED && block->identity != plf_identity(block->built_in)) {
        const enum plf_result result =
            plf_journal_append(&block->journal, block->journal.counter, block->journal.generation + 2U);
        if (result != PLF_DONE) {
            return result;
        }
    }
    block->stage = PLF_BLOCK_BACK;
    return PLF_DONE;
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
