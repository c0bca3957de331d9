/* SPDX-License-Identifier: MIT */
/* plumbfall_log.h: a ring of records on flash that a loss of power can't break.
 *
 *   static const plf_flash flash = { read, program, erase, 0, 4096, 16, 8 };      (yours: three functions, sizes)
 *   plf_log_mount(&log, &flash, PLF_RECORD_BYTES(350, 12, 1));                    once, and after a reset
 *   plf_log_append(&log, &record, bytes, sizeof bytes);                           when a record is ready
 *
 * What the flash must do: a program turns bits from 1 to 0, an erase turns a whole block to 0xFF. Each unit is
 * programmed once between two erases, so that memory with error correction will do. Power may go at any moment: what
 * was being written is lost, and what stood in the blocks being recycled for it; every other record stays whole, and
 * the next mount goes on behind it. Blocks are erased in turn, so that all wear alike. LOG.md says why this holds.
 *
 * Nothing here is global, allocates or recurses. One context uses one log.
 */
#ifndef PLUMBFALL_LOG_H
#define PLUMBFALL_LOG_H

#include "plumbfall_record.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_UNIT_MOST 64U

/* The three return 0 when done. `at` and `size` of a program are multiples of a unit. */
typedef struct {
    int (*read)(void *context, uint32_t at, uint8_t *to, uint32_t size);
    int (*program)(void *context, uint32_t at, const uint8_t *from, uint32_t size);
    int (*erase)(void *context, uint32_t block);
    void *context;
    uint32_t block_bytes, blocks; /* what is erased at once, and how many of them the log has; at least 2 */
    uint16_t unit_bytes;          /* what is programmed at once: 1, 2, 4 ... PLF_UNIT_MOST */
} plf_flash;

/* What became of an alarm, kept behind its record; PLF_OPEN while nothing is. */
enum plf_outcome { PLF_OPEN, PLF_CANCELLED, PLF_ACKNOWLEDGED, PLF_WITHDRAWN };

/* Leave it alone, but read `sequence`, the newest record's number, and `slots` if you like. */
typedef struct {
    const plf_flash *flash;
    uint32_t area_bytes, slot_bytes, slots; /* of a record in whole units; with its outcome; how many fit */
    uint32_t next, sequence, cleared;       /* slot to try next; newest record; records up to this one don't count */
} plf_log;

typedef struct {
    uint32_t records, oldest, newest; /* alarms that are whole and not cleared; their numbers, 0 where there are none */
} plf_log_summary;

/* `record_bytes`: of the largest record to come; the same at every mount, else no record that is there is found.
 * PLF_REFUSED where sizes don't fit each other; of plf_log_append for a record larger than that, too. */
enum plf_result plf_log_mount(plf_log *log, const plf_flash *flash, uint32_t record_bytes);
/* Closes the record in `bytes`, its samples at their place, sets its number and writes it. `room`: as many bytes as the
 * record takes in whole units. */
enum plf_result plf_log_append(plf_log *log, plf_record *record, uint8_t *bytes, uint32_t room);
/* Once for a record. */
enum plf_result plf_log_set_outcome(plf_log *log, uint32_t sequence, enum plf_outcome outcome);
enum plf_result plf_log_outcome(const plf_log *log, uint32_t sequence, enum plf_outcome *outcome);
/* From now on no record that is there counts; it takes a slot and erases no more than any record does. */
enum plf_result plf_log_clear(plf_log *log);
enum plf_result plf_log_count(const plf_log *log, plf_log_summary *summary);
/* A record that counts, without its measured values; some of its bytes. */
enum plf_result plf_log_find(const plf_log *log, uint32_t sequence, plf_record *record);
enum plf_result plf_log_read(const plf_log *log, uint32_t sequence, uint32_t offset, uint8_t *to, uint32_t size);

#ifdef __cplusplus
}
#endif

#endif
