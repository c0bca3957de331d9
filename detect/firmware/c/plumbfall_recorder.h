/* SPDX-License-Identifier: MIT */
/* plumbfall_recorder.h: keeps the newest samples in the bytes of a record, so that an alarm's are there when it comes.
 *
 *   plf_recorder_init(&recorder, &shape, bytes, sizeof bytes);      `shape`: a plf_record with what all have in common
 *   if (plf_recorder_step(&recorder, x, y, z) == PLF_READY) ...     for each sample: then a record is complete
 *   plf_recorder_alarm(&recorder, &event, seconds, milliseconds);   when plf_step said so, after that sample's step
 *   plf_recorder_gap(&recorder);                                    where samples were lost, and at the end
 *
 * A complete record stands in `bytes` and `recorder.record` until the next step: give both to plf_log_append.
 */
#ifndef PLUMBFALL_RECORDER_H
#define PLUMBFALL_RECORDER_H

#include "plumbfall_record.h"

#ifdef __cplusplus
extern "C" {
#endif

/* `record` is the complete one; leave the rest alone. */
typedef struct {
    plf_record record, shape;
    uint8_t *samples;
    uint32_t at, count, left; /* next place in the circle, samples in it, samples still to come after the alarm */
    uint8_t open;             /* an alarm waits for its samples */
} plf_recorder;

/* PLF_REFUSED where the shape's numbers contradict each other, it has no sample, or `room` is too small. */
enum plf_result plf_recorder_init(plf_recorder *recorder, const plf_record *shape, uint8_t *bytes, uint32_t room);
enum plf_result plf_recorder_step(plf_recorder *recorder, int16_t x, int16_t y, int16_t z);
/* A second alarm while one is open is part of its record: PLF_DONE. */
enum plf_result plf_recorder_alarm(plf_recorder *recorder, const plf_event *event, uint32_t seconds,
                                   uint16_t milliseconds);
enum plf_result plf_recorder_gap(plf_recorder *recorder);

#ifdef __cplusplus
}
#endif

#endif
