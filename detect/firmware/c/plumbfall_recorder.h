/* SPDX-License-Identifier: MIT */
/* plumbfall_recorder.h: keeps the newest samples in the bytes of a record, so that an alarm's are there when it comes.
 *
 *   plf_recorder_init(&recorder, &shape, bytes, other, sizeof bytes);  `shape`: a plf_record with what all have in common
 *   plf_recorder_step(&recorder, x, y, z);                             for each sample
 *   plf_recorder_alarm(&recorder, &event, number, seconds, ms);        when plf_step said so, after that sample's step
 *   plf_recorder_gap(&recorder);                                       where samples were lost, and at the end
 *
 *   if (plf_recorder_poll(&recorder) == PLF_READY) ...                 the main loop: then a record is complete
 *   plf_recorder_release(&recorder);                                   when recorder.ready is no longer needed
 *
 * There are two buffers: while the record in one is put in order and written, samples and the next alarm go into the
 * other. What a sample takes doesn't grow with a record; a poll exchanges 16 pairs of samples at most, and a record of n
 * samples takes n / 16 + 4 polls at most. Samples and alarms may come from an interrupt, polls from the main loop.
 */
#ifndef PLUMBFALL_RECORDER_H
#define PLUMBFALL_RECORDER_H

#include "plumbfall_record.h"

#ifdef __cplusplus
extern "C" {
#endif

/* `record` and `ready`, its bytes, are the complete one; NULL: there is none. `lost`: samples that came while both
 * records waited. `shape.settings_crc32` may be set: of alarms from then on. Leave the rest alone. */
typedef struct {
    plf_record record, opened, shape; /* complete; of the alarm that waits for its samples; what all have in common */
    uint8_t *buffers[2];
    uint8_t *ready;
    uint32_t at, count, left;     /* next place in the circle, samples in it, samples still to come after the alarm */
    uint32_t lost;
    uint32_t first, end, oldest;  /* to be turned round in the frozen buffer; `first` is 0 between records; its oldest */
    uint8_t filling, open, full;  /* buffer for samples; an alarm waits; it is complete, and the other isn't released */
    uint8_t turn;                 /* which of the three turns is under way */
    volatile uint8_t frozen;      /* the other buffer has a record */
} plf_recorder;

/* PLF_REFUSED where the shape's numbers contradict each other, it has no sample, or `room`, of each, is too small. */
enum plf_result plf_recorder_init(plf_recorder *recorder, const plf_record *shape, uint8_t *bytes, uint8_t *other,
                                  uint32_t room);
/* PLF_READY: a record has all its samples. */
enum plf_result plf_recorder_step(plf_recorder *recorder, int16_t x, int16_t y, int16_t z);
/* `number`: plf_log_number's. PLF_MISSING: there will be no record of its own. It is part of the one that is open, or
 * both buffers have one. */
enum plf_result plf_recorder_alarm(plf_recorder *recorder, const plf_event *event, uint32_t number, uint32_t seconds,
                                   uint16_t milliseconds);
enum plf_result plf_recorder_gap(plf_recorder *recorder);
/* PLF_READY: `record` and `ready` are complete, give both to plf_log_append. PLF_DONE: not yet. */
enum plf_result plf_recorder_poll(plf_recorder *recorder);
void plf_recorder_release(plf_recorder *recorder);

#ifdef __cplusplus
}
#endif

#endif
