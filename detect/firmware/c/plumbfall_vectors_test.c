/* SPDX-License-Identifier: MIT */
/* plumbfall_vectors_test.c: runs the golden vectors through the detector, on the host or on the target.
 *
 * On the host: cc -std=c99 -O2 -o vectors_test plumbfall_vectors_test.c plumbfall_detector.c plumbfall_settings.c
 *   plumbfall_sensor.c plumbfall_crc.c && ./vectors_test
 * On the target: define PLF_VECTORS_PART as 1, 2, ... for one part at a time, PLF_VECTORS_RING_WORDS as the RAM that
 * you can spare, and PLF_VECTORS_NO_MAIN; include this file in one of yours, call plf_vectors_test, look at the counts.
 */
#include <stddef.h>

#include "plumbfall_params.h"
#include "plumbfall_vectors.h"

#ifndef PLF_VECTORS_RING_WORDS
#define PLF_VECTORS_RING_WORDS (3U * 8192U + 512U)
#endif

enum { FENCE = 8, FENCED = 0xA5A5 };

static plf_word ring[PLF_VECTORS_RING_WORDS + FENCE];
static plf_state state;

static uint32_t words_of(const plf_settings *s)
{
    const uint32_t vectors = s->tilt_on ? (uint32_t)s->guard_samples + s->baseline_samples : 0;
    const uint32_t bits = s->active_on ? (uint32_t)s->guard_samples + s->active_window_samples : 0;
    return 3 * vectors + (bits + 15) / 16;
}

static int same(const plf_event *a, const plf_event *b)
{
    return a->ended == b->ended && a->early == b->early && a->failed == b->failed && a->skipped == b->skipped
        && a->has == b->has && a->q == b->q && a->n == b->n && a->decided == b->decided
        && a->first_low_ago == b->first_low_ago && a->last_low_ago == b->last_low_ago
        && a->first_impact_ago == b->first_impact_ago && a->impact_ago == b->impact_ago && a->lowest == b->lowest
        && a->highest == b->highest && a->restarts == b->restarts && a->peak == b->peak && a->dot == b->dot
        && a->dot_u == b->dot_u && a->a_sq == b->a_sq && a->b_sq == b->b_sq && a->a_u_sq == b->a_u_sq
        && a->u_sq == b->u_sq && a->spread == b->spread;
}

/* Every event of the vector comes where and as expected, and no other. */
static int gives(const plf_vector *vector, const plf_run *runs, const plf_event *expected)
{
    plf_event event;
    uint16_t events = 0;
    for (uint16_t i = 0; i < vector->runs; i++) {
        uint16_t times = runs[i].times;
        do {
            enum plf_result result;
            if (times > 0) {
                result = plf_step(&state, runs[i].x, runs[i].y, runs[i].z, &event);
            } else if (i + 1 < vector->runs) {
                result = plf_gap(&state, &event);
            } else {
                result = plf_finish(&state, &event);
            }
            if (result == PLF_ENDED && (events == vector->events || !same(&event, &expected[events++]))) {
                return 0;
            }
        } while (times > 0 && --times > 0);
    }
    return events == vector->events;
}

/* What the header promises of misuse: refused, and nothing changes. The state is ready for these settings. */
static int refuses_misuse(const plf_settings *settings, uint32_t words)
{
    const uint32_t now = state.now;
    plf_event event;
    int refused = plf_step(NULL, 1, 2, 3, &event) == PLF_REFUSED && plf_step(&state, 1, 2, 3, NULL) == PLF_REFUSED
        && plf_gap(NULL, &event) == PLF_REFUSED && plf_gap(&state, NULL) == PLF_REFUSED && state.now == now
        && plf_init(NULL, settings, ring, words) == PLF_REFUSED;
    /* Each of these leaves a state that is not ready. */
    refused = refused && plf_init(&state, settings, NULL, words) == PLF_REFUSED
        && plf_step(&state, 1, 2, 3, &event) == PLF_REFUSED && plf_init(&state, NULL, ring, words) == PLF_REFUSED
        && plf_step(&state, 1, 2, 3, &event) == PLF_REFUSED;
    return refused && (words == 0 || plf_init(&state, settings, ring, words - 1) == PLF_REFUSED)
        && plf_finish(&state, &event) == PLF_REFUSED;
}

/* The fence behind the words that the ring may use must be unchanged afterwards. */
static int passes(const plf_settings *settings, const plf_vector *vector, const plf_run *runs,
                  const plf_event *expected)
{
    const uint32_t words = words_of(settings);
    int good;
    for (uint32_t i = 0; i < words + FENCE; i++) {
        ring[i].bits = FENCED;
    }
    good = plf_init(&state, settings, ring, words) == PLF_DONE && gives(vector, runs, expected);
    for (uint32_t i = words; i < words + FENCE; i++) {
        good = good && ring[i].bits == FENCED;
    }
    return good && refuses_misuse(settings, words);
}

static void run_part(const plf_part *part, plf_report *report)
{
    const plf_run *runs = part->runs;
    const plf_event *events = part->events;
    for (uint16_t i = 0; i < part->count; i++) {
        const plf_vector *vector = &part->vectors[i];
        const plf_settings *settings = &part->settings[vector->settings];
        report->vectors++;
        if (words_of(settings) > PLF_VECTORS_RING_WORDS) {
            report->left_out++;
        } else if (!passes(settings, vector, runs, events)) {
            report->failed++;
            report->last_failed = report->vectors;
        }
        runs += vector->runs;
        events += vector->events;
    }
}

#ifdef PLF_VECTORS_OF_SETTINGS
/* As bytes the parameters come back, with what is out of bounds; with another version or length they are none. */
static int comes_back(const plf_settings *settings, uint16_t first)
{
    uint8_t bytes[PLF_PARAMETERS_BYTES];
    int32_t numbers[PLF_SETTINGS_COUNT];
    int32_t again[PLF_SETTINGS_COUNT];
    const plf_parameters parameters = { plf_vectors_front_end, *settings };
    const plf_parameters others = { { 1, 2, 3, 4 }, plf_settings_vectors[0].settings };
    uint8_t other_bytes[PLF_PARAMETERS_BYTES];
    plf_parameters found = others;
    plf_parameters_write(&parameters, bytes);
    plf_parameters_write(&others, other_bytes); /* what is left over from the writing is wrong */
    int good = plf_parameters_read(bytes, &found) == (enum plf_setting)first
        && found.front_end.rate_millihz == plf_vectors_front_end.rate_millihz
        && found.front_end.range_mg == plf_vectors_front_end.range_mg
        && found.front_end.counts_per_1000_g == plf_vectors_front_end.counts_per_1000_g
        && found.front_end.resolution_bits == plf_vectors_front_end.resolution_bits;
    plf_settings_numbers(settings, numbers);
    plf_settings_numbers(&found.settings, again);
    for (uint32_t i = 0; i < PLF_SETTINGS_COUNT; i++) {
        good = good && numbers[i] == again[i];
    }
    for (uint32_t i = 0; i < 4; i++) { /* version, length */
        bytes[i] = (uint8_t)(bytes[i] ^ 1U);
        good = good && plf_parameters_read(bytes, &found) == PLF_NO_SETTINGS;
        bytes[i] = (uint8_t)(bytes[i] ^ 1U);
    }
    return good;
}

/* The check names the first out of bounds, and only without one plf_init is ready; as integers they come back. */
static int checks(const plf_settings_vector *vector)
{
    int32_t numbers[PLF_SETTINGS_COUNT];
    int32_t again[PLF_SETTINGS_COUNT];
    plf_settings copy;
    const enum plf_result expected = vector->first == PLF_ALL_IN_BOUNDS ? PLF_DONE : PLF_REFUSED;
    plf_settings_numbers(&vector->settings, numbers);
    plf_settings_of(numbers, &copy);
    plf_settings_numbers(&copy, again);
    for (uint32_t i = 0; i < PLF_SETTINGS_COUNT; i++) {
        if (numbers[i] != again[i]) {
            return 0;
        }
    }
    const plf_parameters parameters = { plf_vectors_front_end, copy };
    return plf_settings_check(&copy) == (enum plf_setting)vector->first && plf_settings_check(NULL) == PLF_NO_SETTINGS
        && plf_identity(&parameters) == vector->identity && comes_back(&copy, vector->first)
        && plf_init(&state, &vector->settings, ring, PLF_VECTORS_RING_WORDS)
            == (words_of(&copy) <= PLF_VECTORS_RING_WORDS ? expected : PLF_REFUSED);
}

static int is_calibrated(const plf_sensor_vector *vector)
{
    int16_t counts[3] = { 0, 0, 0 };
    if (vector->refused) {
        return plf_calibration_check(&vector->calibration) == PLF_REFUSED;
    }
    plf_sensor_counts(&vector->sensor, &vector->calibration, vector->raw, counts);
    return plf_calibration_check(&vector->calibration) == PLF_DONE && counts[0] == vector->counts[0]
        && counts[1] == vector->counts[1] && counts[2] == vector->counts[2];
}

static int same_text(const char *a, const char *b)
{
    while (*a != 0 && *a == *b) {
        a++;
        b++;
    }
    return *a == *b;
}

/* What plumbfall_params.h says of itself: the identity of what is compiled in, and what it was scored on. */
static int is_itself(void)
{
    static const plf_parameters parameters = PLF_PARAMETERS;
    return plf_identity(&parameters) == PLF_IDENTITY_CRC32
        && same_text(PLF_RECORDINGS_SHA256, PLF_VECTORS_RECORDINGS_SHA256)
        && same_text(PLF_LABELS_SHA256, PLF_VECTORS_LABELS_SHA256) && plf_calibration_check(NULL) == PLF_REFUSED;
}

static void run_settings(plf_report *report)
{
    report->vectors++;
    if (!is_itself()) {
        report->failed++;
        report->last_failed = report->vectors;
    }
    for (uint16_t i = 0; i < sizeof plf_settings_vectors / sizeof plf_settings_vectors[0]; i++) {
        report->vectors++;
        if (!checks(&plf_settings_vectors[i])) {
            report->failed++;
            report->last_failed = report->vectors;
        }
    }
    for (uint16_t i = 0; i < sizeof plf_sensor_vectors / sizeof plf_sensor_vectors[0]; i++) {
        report->vectors++;
        if (!is_calibrated(&plf_sensor_vectors[i])) {
            report->failed++;
            report->last_failed = report->vectors;
        }
    }
}
#endif

plf_report plf_vectors_test(void)
{
    plf_report report = { 0, 0, 0, 0 };
    for (const plf_part *part = plf_parts; part->count > 0; part++) {
        run_part(part, &report);
    }
#ifdef PLF_VECTORS_OF_SETTINGS
    run_settings(&report);
#endif
    return report;
}

#ifndef PLF_VECTORS_NO_MAIN
#include <stdio.h>

int main(void)
{
    const plf_report report = plf_vectors_test();
    printf("%u vectors, %u left out for lack of memory, %u failed\n", (unsigned)report.vectors,
           (unsigned)report.left_out, (unsigned)report.failed);
    if (report.failed) {
        printf("the last that failed is number %u\n", (unsigned)report.last_failed);
    }
    return report.failed != 0 || report.vectors == 0;
}
#endif
