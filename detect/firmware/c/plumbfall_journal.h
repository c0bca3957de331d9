/* SPDX-License-Identifier: MIT */
/* plumbfall_journal.h: two numbers that survive a restart and a loss of power at any byte: the newest command's counter
 * and the generation of the parameters in force.
 *
 * Cells of 16 bytes in whole units, one behind the other in two erase blocks. When a block is full the other one is
 * erased and gone on with, so that the newest cell never lies in a block that is being erased. A torn cell is stepped
 * over. An append takes one erase and one program at most, and reads back what it wrote.
 */
#ifndef PLUMBFALL_JOURNAL_H
#define PLUMBFALL_JOURNAL_H

#include "plumbfall_log.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Read `counter` and `generation`, leave the rest alone. */
typedef struct {
    const plf_flash *flash;
    uint32_t first;               /* the first of its two blocks */
    uint32_t number;              /* that was given to a cell last, 0 before there is one */
    uint32_t counter, generation; /* what it says */
    uint32_t block, next;         /* where the next one goes: 0 or 1, and the cell in it */
} plf_journal;

/* PLF_REFUSED where the flash has not so many blocks, PLF_FAILED where it can't be read. */
enum plf_result plf_journal_mount(plf_journal *journal, const plf_flash *flash, uint32_t first);
/* PLF_FAILED: what was there before still holds. */
enum plf_result plf_journal_append(plf_journal *journal, uint32_t counter, uint32_t generation);

#ifdef __cplusplus
}
#endif

#endif
