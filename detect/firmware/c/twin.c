/* SPDX-License-Identifier: MIT */
/* twin.c: feeds recordings that come on standard input to the detector; what it says goes to standard output.
 *
 * A host's program, never part of firmware. All numbers in the host's byte order. A job:
 *   int32 own settings follow (else those of plumbfall_params.h), int32 stages wanted, int32 number of stretches,
 *   PLF_SETTINGS_COUNT int32 of settings in the order of plumbfall_params.h if announced,
 *   for each stretch: uint32 number of samples, then x, y, z of each as int16.
 * Its answer: uint32 number of events, each as 23 int64; uint32 number of stages, each as a byte (the stage after
 * every sample, and after the gap behind every stretch). Ends with its input.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#ifdef _WIN32
#include <fcntl.h>
#include <io.h>
#endif

#include "plumbfall_detector.h"
#include "plumbfall_params.h"

static const plf_settings params = PLF_SETTINGS;

struct bytes {
    unsigned char *at;
    size_t used, room;
};

static void stop(const char *why)
{
    fprintf(stderr, "twin: %s\n", why);
    exit(2);
}

static void add(struct bytes *to, const void *what, size_t size)
{
    while (to->room - to->used < size) {
        to->room = 2 * to->room + 1024;
        to->at = realloc(to->at, to->room);
        if (to->at == NULL) {
            stop("out of memory");
        }
    }
    memcpy(to->at + to->used, what, size);
    to->used += size;
}

static void read_all(void *to, size_t size)
{
    if (size > 0 && fread(to, size, 1, stdin) != 1) {
        stop("the input ends inside a job");
    }
}

static uint32_t ring_words(const plf_settings *s)
{
    const uint32_t vectors = s->tilt_on ? (uint32_t)s->guard_samples + s->baseline_samples : 0;
    const uint32_t bits = s->active_on ? (uint32_t)s->guard_samples + s->active_window_samples : 0;
    return 3 * vectors + (bits + 15) / 16;
}

static void add_event(struct bytes *to, const plf_event *e)
{
    const int64_t row[] = {
        e->ended, e->early, e->failed, e->skipped, e->has, e->q, e->n, e->decided, e->first_low_ago, e->last_low_ago,
        e->first_impact_ago, e->impact_ago, e->lowest, e->highest, e->restarts, e->peak, e->dot, e->dot_u, e->a_sq,
        e->b_sq, e->a_u_sq, e->u_sq, (int64_t)e->spread };
    add(to, row, sizeof row);
}

static void answer(const struct bytes *rows, uint32_t row_size)
{
    const uint32_t count = (uint32_t)(rows->used / row_size);
    fwrite(&count, sizeof count, 1, stdout);
    fwrite(rows->at, 1, rows->used, stdout);
}

static void job(const int32_t head[3])
{
    struct bytes events = { NULL, 0, 0 }, stages = { NULL, 0, 0 };
    plf_settings s = params;
    plf_state state;
    plf_event event;
    if (head[0]) {
        int32_t numbers[PLF_SETTINGS_COUNT];
        read_all(numbers, sizeof numbers);
        plf_settings_of(numbers, &s);
    }
    const uint32_t words = ring_words(&s);
    /* Exactly as many words as asked for, so that a sanitizer sees a step beyond them. */
    plf_word *ring = malloc(words * sizeof *ring + 1);
    if (ring == NULL || plf_init(&state, &s, ring, words) != PLF_DONE) {
        stop("plf_init refused");
    }
    for (int32_t stretch = 0; stretch < head[2]; stretch++) {
        uint32_t samples;
        read_all(&samples, sizeof samples);
        int16_t (*v)[3] = malloc((size_t)samples * sizeof *v + 1);
        if (v == NULL) {
            stop("out of memory");
        }
        read_all(v, (size_t)samples * sizeof *v);
        for (uint32_t i = 0; i < samples; i++) {
            if (plf_step(&state, v[i][0], v[i][1], v[i][2], &event) == PLF_ENDED) {
                add_event(&events, &event);
            }
            if (head[1]) {
                add(&stages, &state.stage, 1);
            }
        }
        free(v);
        if (plf_gap(&state, &event) == PLF_ENDED) {
            add_event(&events, &event);
        }
        if (head[1]) {
            add(&stages, &state.stage, 1);
        }
    }
    answer(&events, 23 * sizeof(int64_t));
    answer(&stages, 1);
    fflush(stdout);
    free(events.at);
    free(stages.at);
    free(ring);
}

int main(void)
{
    int32_t head[3];
#ifdef _WIN32
    _setmode(_fileno(stdin), _O_BINARY);
    _setmode(_fileno(stdout), _O_BINARY);
#endif
    while (fread(head, sizeof head, 1, stdin) == 1) {
        job(head);
    }
    return 0;
}
