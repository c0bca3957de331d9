/* plumbfall_selftest.c: runs the golden vectors through the detector, on the host or on the target.
 *
 * On the host: cc -std=c99 -O2 -o selftest plumbfall_selftest.c plumbfall_detector.c && ./selftest
 * On the target: define PLF_VECTORS_PART as 1, 2, ... for one part at a time, PLF_SELFTEST_RING_WORDS as what RAM you
 * can spare, and PLF_SELFTEST_NO_MAIN; include this file in one of yours, call plf_selftest, look at the counts.
 */
#include "plumbfall_params.h"
#include "plumbfall_vectors.h"

#ifndef PLF_SELFTEST_RING_WORDS
#define PLF_SELFTEST_RING_WORDS (3U * 8192U + 512U)
#endif

static uint16_t ring[PLF_SELFTEST_RING_WORDS];
static plf_state state;

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
static int passes(const plf_settings *settings, const plf_vector *vector, const plf_run *runs, const plf_event *expected)
{
    plf_event event;
    uint16_t events = 0;
    for (uint16_t i = 0; i < vector->runs; i++) {
        uint16_t times = runs[i].times;
        do {
            const enum plf_result result = times == 0
                ? plf_gap(&state, settings, &event)
                : plf_step(&state, settings, runs[i].x, runs[i].y, runs[i].z, &event);
            if (result == PLF_ENDED && (events == vector->events || !same(&event, &expected[events++]))) {
                return 0;
            }
        } while (times != 0 && --times != 0);
    }
    return events == vector->events;
}

static void run_part(const plf_part *part, plf_report *report)
{
    const plf_run *runs = part->runs;
    const plf_event *events = part->events;
    for (uint16_t i = 0; i < part->count; i++) {
        const plf_vector *vector = &part->vectors[i];
        const plf_settings *settings = &part->settings[vector->settings];
        report->vectors++;
        if (plf_init(&state, settings, ring, PLF_SELFTEST_RING_WORDS) != PLF_READY) {
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
