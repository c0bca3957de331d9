/* SPDX-License-Identifier: MIT */
/* plumbfall_recorder.c: see plumbfall_recorder.h. C99, integers only. */
#include "plumbfall_recorder.h"

#include <stddef.h>

static uint32_t room_for(const plf_recorder *recorder)
{
    return (uint32_t)recorder->shape.before + recorder->shape.after;
}

/* Turned round from `first` up to, not with, `end`. What was packed once comes out and goes in again unchanged. */
static void reverse(const plf_recorder *recorder, uint32_t first, uint32_t end)
{
    const uint8_t bits = recorder->shape.bits;
    const uint8_t shift = recorder->shape.shift;
    int16_t one[3];
    int16_t other[3];
    while (first + 1 < end) {
        end--;
        plf_unpack(recorder->samples, first, bits, shift, one);
        plf_unpack(recorder->samples, end, bits, shift, other);
        plf_pack(recorder->samples, first, bits, shift, other);
        plf_pack(recorder->samples, end, bits, shift, one);
        first++;
    }
}

static void forget(plf_recorder *recorder)
{
    recorder->at = 0;
    recorder->count = 0;
    recorder->open = 0;
}

/* The circle becomes a row that begins with the oldest sample of the record, in its own bytes: turned round in two
 * parts, then as a whole. */
static enum plf_result close(plf_recorder *recorder)
{
    const uint32_t room = room_for(recorder);
    const uint32_t after = recorder->shape.after - recorder->left;
    uint32_t before = recorder->count - after;
    if (before > recorder->shape.before) {
        before = recorder->shape.before;
    }
    const uint32_t oldest = (recorder->at + room - before - after) % room;
    reverse(recorder, 0, oldest);
    reverse(recorder, oldest, room);
    reverse(recorder, 0, room);
    recorder->record.before = (uint16_t)before;
    recorder->record.after = (uint16_t)after;
    forget(recorder);
    return PLF_READY;
}

enum plf_result plf_recorder_init(plf_recorder *recorder, const plf_record *shape, uint8_t *bytes, uint32_t room)
{
    if (recorder == NULL) {
        return PLF_REFUSED;
    }
    recorder->samples = NULL;
    if (shape == NULL || bytes == NULL || plf_record_size(shape) == 0 || plf_record_size(shape) > room
        || shape->before == 0) {
        return PLF_REFUSED;
    }
    recorder->shape = *shape;
    recorder->samples = bytes + plf_record_samples(shape);
    forget(recorder);
    return PLF_DONE;
}

enum plf_result plf_recorder_step(plf_recorder *recorder, int16_t x, int16_t y, int16_t z)
{
    const int16_t v[3] = { x, y, z };
    if (recorder == NULL || recorder->samples == NULL) {
        return PLF_REFUSED;
    }
    const uint32_t room = room_for(recorder);
    plf_pack(recorder->samples, recorder->at, recorder->shape.bits, recorder->shape.shift, v);
    recorder->at = recorder->at + 1 < room ? recorder->at + 1 : 0;
    if (recorder->count < room) {
        recorder->count++;
    }
    if (recorder->open && --recorder->left == 0) {
        return close(recorder);
    }
    return PLF_DONE;
}

enum plf_result plf_recorder_alarm(plf_recorder *recorder, const plf_event *event, uint32_t seconds,
                                   uint16_t milliseconds)
{
    if (recorder == NULL || recorder->samples == NULL || event == NULL || milliseconds > 999) {
        return PLF_REFUSED;
    }
    if (recorder->open) {
        return PLF_DONE;
    }
    recorder->record = recorder->shape;
    recorder->record.event = *event;
    recorder->record.seconds = seconds;
    recorder->record.milliseconds = milliseconds;
    recorder->left = recorder->shape.after;
    recorder->open = 1;
    return recorder->left == 0 ? close(recorder) : PLF_DONE;
}

enum plf_result plf_recorder_gap(plf_recorder *recorder)
{
    if (recorder == NULL || recorder->samples == NULL) {
        return PLF_REFUSED;
    }
    if (recorder->open) {
        return close(recorder);
    }
    forget(recorder);
    return PLF_DONE;
}
