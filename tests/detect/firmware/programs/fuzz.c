/* A libFuzzer target: a fuzzer's bytes become a job for the detector; its answer, with the job, goes down a pipe to the
 * reference in the process that started this one, and where that disagrees, the input is a find.
 *
 * The bytes: a rule out of the first, then samples of three. Small numbers are the interesting ones, so that a component
 * is one byte, and its unit is drawn from the rule's thresholds.
 */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "plumbfall_detector.h"

enum { TO_REFERENCE = 3, FROM_REFERENCE = 4, RULE_BYTES = 30, MOST_SAMPLES = 400, NUMBERS = 23 };

static plf_word ring[3 * 64 + 16];

static void move(int out, void *data, size_t size)
{
    unsigned char *at = data;
    while (size > 0) {
        const ssize_t moved = out ? write(TO_REFERENCE, at, size) : read(FROM_REFERENCE, at, size);
        if (moved <= 0) {
            _exit(3); /* nobody listens any more */
        }
        at += moved;
        size -= (size_t)moved;
    }
}

static uint16_t within(uint8_t byte, uint16_t least, uint16_t most)
{
    return (uint16_t)(least + byte % (most - least + 1));
}

/* Windows of a few samples and thresholds within what a component can say; no sample is both low and an impact. */
static plf_settings rule_of(const uint8_t *b)
{
    static const int16_t cosines[] = { 11585, 0, 16384, -16384, 8192, -8192, 16383, 1 };
    plf_settings s;
    s.prefilter_samples = (uint16_t)(1U << within(b[0], 0, 4));
    s.free_fall_on = b[1] & 1;
    s.free_fall_every_axis = b[1] >> 1 & 1;
    s.free_fall_counts = within(b[2], 1, 40);
    s.free_fall_samples = within(b[3], 1, 5);
    s.impact_counts = (uint16_t)(2 * s.free_fall_counts + b[4] % 64);
    s.impact_within_samples = within(b[5], 1, 12);
    s.settle_samples = within(b[6], 1, 8);
    s.restart_on = b[1] >> 2 & 1;
    s.observe_samples = within(b[7], 1, 12);
    s.tilt_on = b[1] >> 3 & 1;
    s.tilt_cosine_q14 = cosines[b[8] % 8];
    s.baseline_samples = within(b[9], 1, 8);
    s.reclined_on = b[1] >> 4 & 1;
    s.reclined_cosine_q14 = cosines[b[10] % 8];
    s.upright_counts[0] = (int16_t)(b[11] - 128);
    s.upright_counts[1] = (int16_t)(b[12] | 1);
    s.upright_counts[2] = (int16_t)(b[13] - 128);
    s.still_on = b[1] >> 5 & 1;
    s.still_counts = within(b[14], 1, 60);
    s.guard_samples = within(b[15], 0, 6);
    s.active_on = b[1] >> 6 & 1;
    s.active_low_counts = within(b[16], 0, 60);
    s.active_high_counts = within(b[17], 1, 120);
    s.active_window_samples = within(b[18], 1, 20);
    s.active_most_samples = within(b[19], 0, s.active_window_samples);
    s.hold_off_samples = within(b[20], 1, 12);
    return s;
}

static void put(int64_t *to, const plf_event *e)
{
    const int64_t row[NUMBERS] = {
        e->ended, e->early, e->failed, e->skipped, e->has, e->q, e->n, e->decided, e->first_low_ago, e->last_low_ago,
        e->first_impact_ago, e->impact_ago, e->lowest, e->highest, e->restarts, e->peak, e->dot, e->dot_u, e->a_sq,
        e->b_sq, e->a_u_sq, e->u_sq, (int64_t)e->spread };
    memcpy(to, row, sizeof row);
}

/* A component of 127 is full scale, so that the ends are visited too; a sample of three -128 is a gap. */
static int16_t component(uint8_t byte)
{
    const int value = (int)byte - 128;
    return (int16_t)(value == 127 ? 32767 : value == -128 ? -32768 : value);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static int64_t rows[MOST_SAMPLES + 1][NUMBERS];
    static int16_t samples[MOST_SAMPLES][4]; /* x, y, z, whether it is a gap */
    static plf_state state;
    static plf_settings s;
    plf_event event;
    uint32_t counts[2] = { 0, 0 }; /* samples and gaps, events */
    uint8_t agrees = 0;
    if (size < RULE_BYTES + 3) {
        return 0;
    }
    s = rule_of(data);
    if (plf_init(&state, &s, ring, sizeof ring / sizeof ring[0]) != PLF_DONE) {
        abort();
    }
    for (size_t at = RULE_BYTES; at + 3 <= size && counts[0] < MOST_SAMPLES; at += 3) {
        int16_t *v = samples[counts[0]++];
        v[0] = component(data[at]);
        v[1] = component(data[at + 1]);
        v[2] = component(data[at + 2]);
        v[3] = data[at] == 0 && data[at + 1] == 0 && data[at + 2] == 0;
        const enum plf_result result = v[3] ? plf_gap(&state, &event) : plf_step(&state, v[0], v[1], v[2], &event);
        if (result == PLF_ENDED) {
            put(rows[counts[1]++], &event);
        }
    }
    if (plf_finish(&state, &event) == PLF_ENDED) {
        put(rows[counts[1]++], &event);
    }
    move(1, counts, sizeof counts);
    move(1, &s, sizeof s);
    move(1, samples, counts[0] * sizeof samples[0]);
    move(1, rows, counts[1] * sizeof rows[0]);
    move(0, &agrees, 1);
    if (!agrees) {
        abort();
    }
    return 0;
}
