/* SPDX-License-Identifier: MIT */
/* plumbfall_journal.c: see plumbfall_journal.h. C99, integers only. */
#include "plumbfall_journal.h"

#include <stdbool.h>
#include <stddef.h>

enum { MARK = 0x4A, CELL = 16, CRC_AT = 14, BLANK = 0xFF, AT_ONCE = 4 };

static uint32_t cell_bytes(const plf_flash *flash)
{
    return (CELL + flash->unit_bytes - 1U) / flash->unit_bytes * flash->unit_bytes;
}

static uint32_t cells(const plf_flash *flash)
{
    return flash->block_bytes / cell_bytes(flash);
}

static uint32_t address_of(const plf_journal *journal, uint32_t block, uint32_t cell)
{
    return (journal->first + block) * journal->flash->block_bytes + cell * cell_bytes(journal->flash);
}

static void put(uint8_t *to, uint32_t value)
{
    for (uint32_t i = 0; i < 4; i++) {
        to[i] = (uint8_t)(value & 0xFFU);
        value >>= 8;
    }
}

static uint32_t number_at(const uint8_t *from)
{
    return (uint32_t)from[0] | (uint32_t)from[1] << 8 | (uint32_t)from[2] << 16 | (uint32_t)from[3] << 24;
}

static bool is_whole(const uint8_t cell[CELL])
{
    return cell[0] == MARK && plf_crc16(0xFFFFU, cell, CRC_AT) == (cell[CRC_AT] | (uint32_t)cell[CRC_AT + 1] << 8);
}

static bool is_blank(const uint8_t cell[CELL])
{
    for (uint32_t i = 0; i < CELL; i++) {
        if (cell[i] != BLANK) {
            return false;
        }
    }
    return true;
}

/* ---- Mounting: a few cells at a time, of both blocks ---- */

enum plf_result plf_journal_mount(plf_journal *journal, const plf_flash *flash, uint32_t first)
{
    static const plf_journal fresh = { 0 };
    if (journal == NULL) {
        return PLF_REFUSED;
    }
    *journal = fresh;
    if (flash == NULL || flash->unit_bytes == 0 || flash->unit_bytes > PLF_UNIT_MOST || first + 2 > flash->blocks
        || cells(flash) == 0) {
        return PLF_REFUSED;
    }
    journal->flash = flash;
    journal->first = first;
    journal->job = PLF_JOURNAL_MOUNTS;
    return PLF_DONE;
}

static bool look_at(plf_journal *journal, uint32_t looked)
{
    uint8_t cell[CELL];
    const uint32_t block = looked / cells(journal->flash);
    const uint32_t i = looked % cells(journal->flash);
    if (journal->flash->read(journal->flash->context, address_of(journal, block, i), cell, CELL) != 0) {
        return false;
    }
    if (!is_blank(cell)) {
        journal->used[block] = i + 1;
    }
    if (is_whole(cell) && number_at(cell + 2) > journal->number) {
        journal->number = number_at(cell + 2);
        journal->counter = number_at(cell + 6);
        journal->generation = number_at(cell + 10);
        journal->block = (uint8_t)block;
    }
    return true;
}

static enum plf_result look(plf_journal *journal)
{
    const uint32_t in_both = 2U * cells(journal->flash);
    for (uint32_t i = 0; i < AT_ONCE && journal->looked < in_both; i++) {
        if (!look_at(journal, journal->looked)) {
            journal->flash = NULL;
            journal->job = PLF_JOURNAL_IDLE;
            return PLF_FAILED;
        }
        journal->looked++;
    }
    if (journal->looked < in_both) {
        return PLF_DONE;
    }
    if (journal->number == 0) { /* as if block 1 were full: the first cell goes into block 0, which is erased for it */
        journal->block = 1;
        journal->used[1] = cells(journal->flash);
    }
    journal->job = PLF_JOURNAL_IDLE;
    return PLF_READY;
}

/* ---- Appending ---- */

enum plf_result plf_journal_append(plf_journal *journal, uint32_t counter, uint32_t generation)
{
    if (journal == NULL || journal->flash == NULL || journal->job != PLF_JOURNAL_IDLE) {
        return PLF_REFUSED;
    }
    journal->next_counter = counter;
    journal->next_generation = generation;
    journal->job = journal->used[journal->block] == cells(journal->flash) ? PLF_JOURNAL_ERASES : PLF_JOURNAL_WRITES;
    return PLF_DONE;
}

static enum plf_result erase(plf_journal *journal)
{
    const uint8_t other = (uint8_t)(1U - journal->block);
    if (journal->flash->erase(journal->flash->context, journal->first + other) != 0) {
        journal->job = PLF_JOURNAL_IDLE;
        return PLF_FAILED;
    }
    journal->block = other;
    journal->used[other] = 0;
    journal->job = PLF_JOURNAL_WRITES;
    return PLF_DONE;
}

static void fill(const plf_journal *journal, uint8_t cell[PLF_UNIT_MOST])
{
    for (uint32_t i = 0; i < PLF_UNIT_MOST; i++) {
        cell[i] = BLANK;
    }
    cell[0] = MARK;
    cell[1] = 1;
    put(cell + 2, journal->number);
    put(cell + 6, journal->next_counter);
    put(cell + 10, journal->next_generation);
    const uint32_t crc = plf_crc16(0xFFFFU, cell, CRC_AT);
    cell[CRC_AT] = (uint8_t)(crc & 0xFFU);
    cell[CRC_AT + 1] = (uint8_t)(crc >> 8);
}

static enum plf_result write(plf_journal *journal)
{
    uint8_t cell[PLF_UNIT_MOST];
    uint8_t kept[CELL];
    const plf_flash *flash = journal->flash;
    const uint32_t at = address_of(journal, journal->block, journal->used[journal->block]);
    journal->used[journal->block]++;
    journal->number++; /* also where this fails: what can't be read back may be whole. 2^32 wear out any memory */
    journal->job = PLF_JOURNAL_IDLE;
    fill(journal, cell);
    if (flash->program(flash->context, at, cell, cell_bytes(flash)) != 0
        || flash->read(flash->context, at, kept, CELL) != 0 || !is_whole(kept)
        || number_at(kept + 2) != journal->number) {
        return PLF_FAILED;
    }
    journal->counter = journal->next_counter;
    journal->generation = journal->next_generation;
    return PLF_READY;
}

enum plf_result plf_journal_poll(plf_journal *journal)
{
    if (journal == NULL || journal->flash == NULL) {
        return PLF_REFUSED;
    }
    switch (journal->job) {
    case PLF_JOURNAL_MOUNTS:
        return look(journal);
    case PLF_JOURNAL_ERASES:
        return erase(journal);
    case PLF_JOURNAL_WRITES:
        return write(journal);
    default:
        return PLF_DONE;
    }
}
