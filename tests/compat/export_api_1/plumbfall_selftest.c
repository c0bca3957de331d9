/* plumbfall_selftest.c: runs the golden vectors through the detector, on the host or on the target.
 *
 * On the host: cc -std=c99 -O2 -o selftest plumbfall_selftest.c plumbfall_detector.c && ./selftest
 * On the target: define PLF_VECTORS_PART as 1, 2, ... for one part at a time, PLF_SELFTEST_RING_WORDS as what RAM you
 * can spare, and PLF_SELFTEST_NO_MAIN; include this file in one of yours, call plf_selftest, look at the counts.
 */
#include <stddef.h>

#include "plumbfall_params.h"
#include "plumbfall_vectors.h"

#ifndef PLF_SELFTEST_RING_WORDS
#define PLF_SELFTEST_RING_WORDS (3U * 8192U + 512U)
#endif

enum { FENCE = 8, FENCED = 0xA5A5 };

static plf_word ring[PLF_SELFTEST_RING_WORDS + FENCE];
static plf_state state;

static uint32_t words_of(const plf_settings *s)
{
    const uint32_t vectors = s->tilt_on ? (uint32_t)s->guard_samples + s->baseline_samples : 0;
    const uint32_t bits = s->busy_on ? (uint32_t)s->guard_samples + s->busy_window_samples : 0;
    return 3 * vectors + (bits + 15) / 16;
}

static int same(const plf_event *a, const plf_event *b)
{
    return a->ended == b->ended && a->early == b->early && a->failed == b->failed && a->unspoken == b->unspoken
        && a->has == b->has && a->q == b->q && a->n == b->n && a->decided == b->decided
        && a->first_low_ago == b->first_low_ago && a->last_low_ago == b->last_low_ago
        && a->first_impact_ago == b->first_impact_ago && a->impact_ago == b->impact_ago && a->lowest == b->lowest
        && a->highest == b->highest && a->restarts == b->restarts && a->peak == b->peak && a->dot == b->dot
        && a->dot_u == b->dot_u && a->a_sq == b->a_sq && a->b_sq == b->b_sq && a->a_u_sq == b->a_u_sq
        && a->u_sq == b->u_sq && a->spread == b->spread;
}

/* Every event of the vector at its place and as expected, and no other. */
static int gives(const plf_settings *settings, const plf_vector *vector, const plf_run *runs,
                 const plf_event *expected)
{
    plf_event event;
    uint16_t events = 0;
    for (uint16_t i = 0; i < vector->runs; i++) {
        uint16_t times = runs[i].times;
        do {
            enum plf_result result;
            if (times > 0) {
                result = plf_step(&state, settings, runs[i].x, runs[i].y, runs[i].z, &event);
            } else if (i + 1 < vector->runs) {
                result = plf_gap(&state, settings, &event);
            } else {
                result = plf_finish(&state, settings, &event);
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
    const plf_settings other = *settings;
    const uint32_t now = state.now;
    plf_event event;
    int refused = plf_step(&state, &other, 1, 2, 3, &event) == PLF_REFUSED
        && plf_gap(&state, &other, &event) == PLF_REFUSED && plf_step(NULL, settings, 1, 2, 3, &event) == PLF_REFUSED
        && plf_step(&state, NULL, 1, 2, 3, &event) == PLF_REFUSED
        && plf_step(&state, settings, 1, 2, 3, NULL) == PLF_REFUSED && state.now == now
        && plf_init(NULL, settings, ring, words) == PLF_REFUSED;
    /* Each of these leaves a state that is not ready. */
    refused = refused && plf_init(&state, settings, NULL, words) == PLF_REFUSED
        && plf_step(&state, settings, 1, 2, 3, &event) == PLF_REFUSED
        && plf_init(&state, NULL, ring, words) == PLF_REFUSED && plf_step(&state, NULL, 1, 2, 3, &event) == PLF_REFUSED;
    return refused && (words == 0 || plf_init(&state, settings, ring, words - 1) == PLF_REFUSED)
        && plf_finish(&state, settings, &event) == PLF_REFUSED;
}

/* A fence behind the words that the ring may use must stand afterwards. */
static int passes(const plf_settings *settings, const plf_vector *vector, const plf_run *runs,
                  const plf_event *expected)
{
    const uint32_t words = words_of(settings);
    int good;
    for (uint32_t i = 0; i < words + FENCE; i++) {
        ring[i].bits = FENCED;
    }
    good = plf_init(&state, settings, ring, words) == PLF_READY && gives(settings, vector, runs, expected);
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
        if (words_of(settings) > PLF_SELFTEST_RING_WORDS) {
            report->left_out++;
        } else if (!passes(settings, vector, runs, events)) {
            report->failed++;
            report->last_failed = report->vectors;
        }
        runs += vector->runs;
        events += vector->events;
    }
}

plf_report plf_selftest(void)
{
    plf_report report = { 0, 0, 0, 0 };
    for (uint16_t i = 0; i < sizeof plf_parts / sizeof plf_parts[0]; i++) {
        run_part(&plf_parts[i], &report);
    }
    return report;
}

#ifndef PLF_SELFTEST_NO_MAIN
#include <stdio.h>

int main(void)
{
    const plf_report report = plf_selftest();
    printf("%u vectors, %u left out for want of memory, %u failed\n", (unsigned)report.vectors,
           (unsigned)report.left_out, (unsigned)report.failed);
    if (report.failed) {
        printf("the last that failed is number %u\n", (unsigned)report.last_failed);
    }
    return report.failed != 0 || report.vectors == 0;
}
#endif
