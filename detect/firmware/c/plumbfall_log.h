/* SPDX-License-Identifier: MIT */
/* plumbfall_log.h: records of alarms on flash, in a ring that neither a loss of power nor a memory that fails can break.
 *
 *   static const plf_flash flash = { read, program, erase, 0, 4096, 16, 8 };      (yours: three functions, sizes)
 *   static uint32_t numbers[PLF_LOG_SLOTS(65536, PLF_RECORD_BYTES(350, 12, 1), 8)];
 *   plf_log_mount(&log, &flash, PLF_RECORD_BYTES(350, 12, 1), numbers, sizeof numbers / sizeof numbers[0]);
 *   record.sequence = plf_log_number(&log);                  at an alarm: the number that the station is told, as soon
 *                                                            as log.reserving is 0
 *   plf_log_append(&log, &record, bytes, sizeof bytes);      when its record is ready
 *   plf_log_poll(&log);                                      in the main loop, as often as it likes
 *
 * Nothing waits for the memory. Mount, append, clear and outcome only begin; plf_log_poll goes on with them, and erases
 * one block or programs 64 bytes at most, and reads 192 bytes at most. The most polls, of n slots of S bytes in whole
 * units, blocks of B: of a mount n * (2 + S / 64) + 1; of an append 2 * (S / 64 + 2 * S / B + 4), and one for each slot
 * stepped over, of which there are 2 + 2 * B / S at most; of an outcome 2. What else is here looks through n numbers in
 * RAM, and reads the 40 bytes of a header and what was asked for.
 *
 * Power may go at any moment, and the memory may fail: what was being written is lost, and what stood in the block that
 * was erased for it; every other record stays whole. Blocks are erased in turn, so that all wear alike.
 *
 * Nothing here is global, allocates or recurses. One context uses one log.
 */
#ifndef PLUMBFALL_LOG_H
#define PLUMBFALL_LOG_H

#include "plumbfall_record.h"
#include "plumbfall_ring.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_OUTCOME_BYTES 4U
#define PLF_NOTES 2U /* outcomes that can wait */
/* Slots in a memory: the log needs a number in RAM for each. */
#define PLF_LOG_SLOTS(memory_bytes, record_bytes, unit) \
    ((memory_bytes) / (PLF_IN_UNITS(record_bytes, unit) + PLF_IN_UNITS(PLF_OUTCOME_BYTES, unit)))

/* What became of an alarm, kept behind its record; PLF_OPEN while nothing is. */
enum plf_outcome { PLF_OPEN, PLF_CANCELLED, PLF_ACKNOWLEDGED, PLF_WITHDRAWN };
enum plf_log_job {
    PLF_LOG_IDLE, PLF_LOG_MOUNTS, PLF_LOG_CLEARS, PLF_LOG_NOTES, PLF_LOG_WRITES, PLF_LOG_RESERVES
};

/* An outcome and the alarm it is of; 0: none. */
typedef struct {
    uint32_t number;
    uint8_t outcome;
} plf_log_note;

/* Leave it alone, but read `sequence`, the number given last, `job`, `writing`: 1 while an append needs its bytes, and
 * `reserving`: 1 while it isn't certain yet that nobody else gets that number. */
typedef struct {
    plf_ring ring;
    uint64_t order, last_order, whole_order; /* of what a mount looks at; of what was begun last, and the newest whole */
    uint32_t sequence, newest, cleared;      /* given last; of the newest record; records up to this one don't count */
    uint32_t reserved, limit, begun;         /* up to these: kept as reserved; or being so; records */
    uint32_t slot, size, done, number, crc;  /* what the job is about, and how far it has come */
    uint32_t last, whole;                    /* found by a mount: what was begun last, and the newest that is whole */
    uint32_t append_number, append_size;
    const uint8_t *append_bytes;
    plf_log_note notes[PLF_NOTES];           /* they wait for their record, or to be written */
    uint8_t small[PLF_UNIT_MOST];            /* what a state or an outcome writes */
    uint8_t job, writing, clearing, reserving, kind, note;
} plf_log;

typedef struct {
    uint32_t records, oldest, newest; /* alarms that are whole and not cleared; their numbers, 0 where there are none */
} plf_log_summary;

/* `record_bytes`: of the largest record to come; the same at every mount, else no record that is there is found.
 * `numbers` stays the log's. PLF_REFUSED where sizes don't fit each other, or `room` is less than the slots: `ring.slots`. */
enum plf_result plf_log_mount(plf_log *log, const plf_flash *flash, uint32_t record_bytes, uint32_t *numbers,
                              uint32_t room);
/* PLF_READY: what was begun has ended well. PLF_FAILED: it has ended, the memory failed; a mount has to be begun again,
 * of an append the same record may be. PLF_DONE: there may be more to do. */
enum plf_result plf_log_poll(plf_log *log);
/* How much has begun and not ended: nothing is lost by switching off at 0. An outcome that waits doesn't count. */
uint32_t plf_log_pending(const plf_log *log);
/* A number that no other alarm gets, whether its record comes to stand in the log or not, and whenever the power goes, if
 * it is told to nobody before `reserving` is 0; 0 while nothing is mounted. Every 32nd, and the first after a restart,
 * takes a slot that says so, about as many polls as a mount of it; in all other cases `reserving` is 0 at once. Where the
 * memory fails it gets 0 all the same: help comes first. */
uint32_t plf_log_number(plf_log *log);
/* Closes the record in `bytes`, its samples at their place, and begins to write it. Its `sequence`: from plf_log_number,
 * above all that are in the log; 0: the next. `room`: as many bytes as the record takes in whole units. PLF_REFUSED
 * for a record larger than the mount's, and while another is written. */
enum plf_result plf_log_append(plf_log *log, plf_record *record, uint8_t *bytes, uint32_t room);
/* Once for a number that was given. Where its record isn't in the log yet it waits for it; two can. */
enum plf_result plf_log_set_outcome(plf_log *log, uint32_t sequence, enum plf_outcome outcome);
enum plf_result plf_log_outcome(const plf_log *log, uint32_t sequence, enum plf_outcome *outcome);
/* No record that is there will count; it takes a slot and erases no more than any record does. PLF_REFUSED while a
 * record is written. */
enum plf_result plf_log_clear(plf_log *log);
enum plf_result plf_log_count(const plf_log *log, plf_log_summary *summary);
/* A record that counts, without its measured values; some of its bytes. */
enum plf_result plf_log_find(const plf_log *log, uint32_t sequence, plf_record *record);
enum plf_result plf_log_read(const plf_log *log, uint32_t sequence, uint32_t offset, uint8_t *to, uint32_t size);

#ifdef __cplusplus
}
#endif

#endif
