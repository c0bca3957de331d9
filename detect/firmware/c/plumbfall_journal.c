/* SPDX-License-Identifier: MIT */
/* plumbfall_journal.c: see plumbfall_journal.h. C99, integers only. */
#include "plumbfall_journal.h"

#include <stdbool.h>
#include <stddef.h>

enum { MARK = 0x4A, CELL = 16, CRC_AT = 14, BLANK = 0xFF };

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

/* One block: the newest cell of all is taken, and `next` is behind the last cell that is not blank. */
static bool look_through(plf_journal *journal, uint32_t block)
{
    uint8_t cell[CELL];
    uint32_t used = 0;
    bool newest = false;
    for (uint32_t i = 0; i < cells(journal->flash); i++) {
        if (journal->flash->read(journal->flash->context, address_of(journal, block, i), cell, CELL) != 0) {
            return false;
        }
        if (!is_blank(cell)) {
            used = i + 1;
        }
        if (is_whole(cell) && number_at(cell + 2) > journal->number) {
            journal->number = number_at(cell + 2);
            journal->counter = number_at(cell + 6);
            journal->generation = number_at(cell + 10);
            newest = true;
        }
    }
    if (newest) {
        journal->block = block;
        journal->next = used;
    }
    return true;
}

enum plf_result plf_journal_mount(plf_journal *journal, const plf_flash *flash, uint32_t first)
{
    if (journal == NULL) {
        return PLF_REFUSED;
    }
    journal->flash = NULL;
    if (flash == NULL || flash->unit_bytes == 0 || flash->unit_bytes > PLF_UNIT_MOST || first + 2 > flash->blocks
        || cells(flash) == 0) {
        return PLF_REFUSED;
    }
    journal->flash = flash;
    journal->first = first;
    journal->number = 0;
    journal->counter = 0;
    journal->generation = 0;
    journal->block = 1; /* as if that were full: the first cell goes into block 0, which is erased for it */
    journal->next = cells(flash);
    if (!look_through(journal, 0) || !look_through(journal, 1)) {
        journal->flash = NULL;
        return PLF_FAILED;
    }
    return PLF_DONE;
}

enum plf_result plf_journal_append(plf_journal *journal, uint32_t counter, uint32_t generation)
{
    uint8_t cell[PLF_UNIT_MOST];
    uint8_t kept[CELL];
    if (journal == NULL || journal->flash == NULL) {
        return PLF_REFUSED;
    }
    const plf_flash *flash = journal->flash;
    for (uint32_t i = 0; i < sizeof cell; i++) {
        cell[i] = BLANK;
    }
    cell[0] = MARK;
    cell[1] = 1;
    journal->number++; /* also where this fails: what can't be read back may be whole. 2^32 wear out any memory */
    put(cell + 2, journal->number);
    put(cell + 6, counter);
    put(cell + 10, generation);
    const uint32_t crc = plf_crc16(0xFFFFU, cell, CRC_AT);
    cell[CRC_AT] = (uint8_t)(crc & 0xFFU);
    cell[CRC_AT + 1] = (uint8_t)(crc >> 8);
    if (journal->next == cells(flash)) {
        if (flash->erase(flash->context, journal->first + 1U - journal->block) != 0) {
            return PLF_FAILED;
        }
        journal->block = 1U - journal->block;
        journal->next = 0;
    }
    const uint32_t at = address_of(journal, journal->block, journal->next);
    journal->next++;
    if (flash->program(flash->context, at, cell, cell_bytes(flash)) != 0
        || flash->read(flash->context, at, kept, CELL) != 0 || !is_whole(kept)
        || number_at(kept + 2) != journal->number) {
        return PLF_FAILED;
    }
    journal->counter = counter;
    journal->generation = generation;
    return PLF_DONE;
}
