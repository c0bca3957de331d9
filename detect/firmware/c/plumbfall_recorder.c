/* SPDX-License-Identifier: MIT */
/* plumbfall_recorder.c: see plumbfall_recorder.h. C99, integers only. */
#include "plumbfall_recorder.h"

#include <stdbool.h>
#include <stddef.h>

enum { PAIRS = 16, TURNS = 3 };

static uint32_t room_for(const plf_recorder *recorder)
{
    return (uint32_t)recorder->shape.before + recorder->shape.after;
}

static bool is_ready(const plf_recorder *recorder)
{
    return recorder != NULL && recorder->buffers[0] != NULL;
}

static uint8_t *samples_of(const plf_recorder *recorder, uint8_t buffer)
{
    return recorder->buffers[buffer] + plf_record_samples(&recorder->shape);
}

static void forget(plf_recorder *recorder)
{
    recorder->at = 0;
    recorder->count = 0;
}

/* ---- Samples ---- */

/* The record goes to the main loop, its buffer with it; samples go on in the other one. `frozen` comes last. */
static void freeze(plf_recorder *recorder)
{
    const uint32_t room = room_for(recorder);
    const uint32_t after = recorder->shape.after - recorder->left;
    uint32_t before = recorder->count - after;
    if (before > recorder->shape.before) {
        before = recorder->shape.before;
    }
    recorder->record = recorder->opened;
    recorder->record.before = (uint16_t)before;
    recorder->record.after = (uint16_t)after;
    recorder->oldest = (recorder->at + room - before - after) % room;
    recorder->turn = 0;
    recorder->end = recorder->oldest;
    recorder->full = 0;
    recorder->filling = (uint8_t)(1U - recorder->filling);
    forget(recorder);
    recorder->frozen = 1;
}

static enum plf_result complete(plf_recorder *recorder)
{
    recorder->open = 0;
    recorder->full = 1;
    if (!recorder->frozen) {
        freeze(recorder);
    }
    return PLF_READY;
}

/* One that waited goes on as soon as the other is released. */
static bool waits(plf_recorder *recorder)
{
    if (recorder->full && !recorder->frozen) {
        freeze(recorder);
    }
    return recorder->full;
}

enum plf_result plf_recorder_init(plf_recorder *recorder, const plf_record *shape, uint8_t *bytes, uint8_t *other,
                                  uint32_t room)
{
    const plf_recorder fresh = { 0 };
    if (recorder == NULL) {
        return PLF_REFUSED;
    }
    *recorder = fresh;
    if (shape == NULL || bytes == NULL || other == NULL || plf_record_size(shape) == 0 || plf_record_size(shape) > room
        || shape->before == 0) {
        return PLF_REFUSED;
    }
    recorder->shape = *shape;
    recorder->buffers[0] = bytes;
    recorder->buffers[1] = other;
    return PLF_DONE;
}

enum plf_result plf_recorder_step(plf_recorder *recorder, int16_t x, int16_t y, int16_t z)
{
    const int16_t v[3] = { x, y, z };
    if (!is_ready(recorder)) {
        return PLF_REFUSED;
    }
    if (waits(recorder)) {
        recorder->lost++;
        return PLF_DONE;
    }
    const uint32_t room = room_for(recorder);
    plf_pack(samples_of(recorder, recorder->filling), recorder->at, recorder->shape.bits, recorder->shape.shift, v);
    recorder->at = recorder->at + 1 < room ? recorder->at + 1 : 0;
    if (recorder->count < room) {
        recorder->count++;
    }
    if (recorder->open && --recorder->left == 0) {
        return complete(recorder);
    }
    return PLF_DONE;
}

enum plf_result plf_recorder_alarm(plf_recorder *recorder, const plf_event *event, uint32_t number, uint32_t seconds,
                                   uint16_t milliseconds)
{
    if (!is_ready(recorder) || event == NULL || milliseconds > 999) {
        return PLF_REFUSED;
    }
    if (recorder->open || waits(recorder)) {
        return PLF_MISSING;
    }
    recorder->opened = recorder->shape;
    recorder->opened.event = *event;
    recorder->opened.sequence = number;
    recorder->opened.seconds = seconds;
    recorder->opened.milliseconds = milliseconds;
    recorder->left = recorder->shape.after;
    recorder->open = 1;
    return recorder->left == 0 ? complete(recorder) : PLF_DONE;
}

enum plf_result plf_recorder_gap(plf_recorder *recorder)
{
    if (!is_ready(recorder)) {
        return PLF_REFUSED;
    }
    if (recorder->open) {
        return complete(recorder);
    }
    if (!waits(recorder)) {
        forget(recorder);
    }
    return PLF_DONE;
}

/* ---- The record, in the main loop ---- */

/* What was packed once comes out and goes in again unchanged. */
static void exchange(uint8_t *samples, const plf_record *shape, uint32_t a, uint32_t b)
{
    int16_t one[3];
    int16_t other[3];
    plf_unpack(samples, a, shape->bits, shape->shift, one);
    plf_unpack(samples, b, shape->bits, shape->shift, other);
    plf_pack(samples, a, shape->bits, shape->shift, other);
    plf_pack(samples, b, shape->bits, shape->shift, one);
}

/* The circle becomes a row that begins with the oldest sample of the record, in its own bytes: turned round in two
 * parts, then as a whole. */
enum plf_result plf_recorder_poll(plf_recorder *recorder)
{
    if (!is_ready(recorder)) {
        return PLF_REFUSED;
    }
    if (!recorder->frozen || recorder->ready != NULL) {
        return recorder->frozen ? PLF_READY : PLF_DONE;
    }
    const uint8_t buffer = (uint8_t)(1U - recorder->filling);
    for (uint32_t pairs = 0; pairs < PAIRS; pairs++) {
        if (recorder->first + 1 < recorder->end) {
            recorder->end--;
            exchange(samples_of(recorder, buffer), &recorder->shape, recorder->first, recorder->end);
            recorder->first++;
            continue;
        }
        recorder->turn++;
        recorder->first = recorder->turn == 1 ? recorder->oldest : 0;
        recorder->end = room_for(recorder);
        if (recorder->turn == TURNS) {
            recorder->ready = recorder->buffers[buffer];
            return PLF_READY;
        }
    }
    return PLF_DONE;
}

void plf_recorder_release(plf_recorder *recorder)
{
    if (is_ready(recorder) && recorder->ready != NULL) {
        recorder->ready = NULL;
        recorder->frozen = 0;
    }
}
