/* SPDX-License-Identifier: MIT */
/* plumbfall_journal.h: two numbers that survive a restart and a loss of power at any byte: the newest command's counter
 * and the generation of the parameters in force.
 *
 * Cells of 16 bytes in whole units, one behind the other in two erase blocks. When a block is full the other one is
 * erased and gone on with, so that the newest cell never lies in a block that is being erased. A torn cell is stepped
 * over.
 *
 * Mount and append only begin; plf_journal_poll goes on with them, and does one erase, or one program of a cell (64 bytes
 * at most) and a read of 16 bytes, or four such reads. Of a mount of c cells a block the polls are c / 2 + 1 at most, of
 * an append 2. plf_block_poll does them for a block's own journal.
 */
#ifndef PLUMBFALL_JOURNAL_H
#define PLUMBFALL_JOURNAL_H

#include "plumbfall_log.h"

#ifdef __cplusplus
extern "C" {
#endif

enum plf_journal_job { PLF_JOURNAL_IDLE, PLF_JOURNAL_MOUNTS, PLF_JOURNAL_ERASES, PLF_JOURNAL_WRITES };

/* Read `counter`, `generation` and `job`, leave the rest alone. */
typedef struct {
    const plf_flash *flash;
    uint32_t first;                         /* the first of its two blocks */
    uint32_t number;                        /* that was given to a cell last, 0 before there is one */
    uint32_t counter, generation;           /* what it says */
    uint32_t next_counter, next_generation; /* that are being written */
    uint32_t used[2];                       /* of each block, the cells up to the last that isn't blank */
    uint32_t looked;                        /* cells of both that a mount has gone through */
    uint8_t block;                          /* 0 or 1: the one with the newest cell */
    uint8_t job;                            /* enum plf_journal_job */
} plf_journal;

/* PLF_REFUSED where the flash has not so many blocks, or no cell fits into one. */
enum plf_result plf_journal_mount(plf_journal *journal, const plf_flash *flash, uint32_t first);
/* PLF_REFUSED while something else is under way. */
enum plf_result plf_journal_append(plf_journal *journal, uint32_t counter, uint32_t generation);
/* PLF_READY: what was begun has ended well. PLF_FAILED: it has ended; of an append what was there before still holds, of
 * a mount nothing can be read. PLF_DONE: there may be more to do. */
enum plf_result plf_journal_poll(plf_journal *journal);

#ifdef __cplusplus
}
#endif

#endif
