/* What plumbfall_detector.h promises of misuse and of a state's size; prints what is not kept, or "kept". */
#include <stdio.h>
#include <string.h>

#include "plumbfall_detector.h"
#include "plumbfall_params.h"

static const plf_settings settings = PLF_SETTINGS;
static const plf_settings twin_settings = PLF_SETTINGS;
static plf_word ring[PLF_RING_WORDS];
static plf_state state, before;
static plf_event event;
static int broken;

static void promise(int kept, const char *what)
{
    if (!kept) {
        printf("not kept: %s\n", what);
        broken = 1;
    }
}

/* Standing, falling, hitting, lying: an alarm under the default settings. */
static int alarms(void)
{
    int found = 0;
    for (int i = 0; i < 400; i++) {
        const int16_t y = (int16_t)(i < 100 ? 512 : 0);
        const int16_t x = (int16_t)(i < 110 ? 0 : i == 110 ? 1500 : 512);
        found += plf_step(&state, &settings, x, y, 0, &event) == PLF_ENDED && event.ended == PLF_ALARM;
    }
    return found;
}

int main(void)
{
    promise(plf_step(&state, &settings, 1, 2, 3, &event) == PLF_REFUSED, "a step before plf_init is refused");
    promise(plf_gap(&state, &settings, &event) == PLF_REFUSED, "a gap before plf_init is refused");
    promise(plf_finish(&state, &settings, &event) == PLF_REFUSED, "an end before plf_init is refused");
    promise(plf_step(&state, NULL, 1, 2, 3, &event) == PLF_REFUSED, "no settings are refused before plf_init");
    promise(plf_init(&state, &settings, ring, PLF_RING_WORDS - 1) == PLF_REFUSED, "a ring too small is refused");
    promise(plf_step(&state, &settings, 1, 2, 3, &event) == PLF_REFUSED, "a refused plf_init leaves nothing ready");
    promise(plf_init(NULL, &settings, ring, PLF_RING_WORDS) == PLF_REFUSED, "no state is refused");
    promise(plf_init(&state, NULL, ring, PLF_RING_WORDS) == PLF_REFUSED, "no settings are refused");
    promise(plf_init(&state, &settings, NULL, PLF_RING_WORDS) == PLF_REFUSED, "no ring is refused");

    promise(plf_init(&state, &settings, ring, PLF_RING_WORDS) == PLF_READY, "what is in order is ready");
    promise(plf_gap(&state, &settings, &event) == PLF_NOTHING, "a gap first is no event");
    promise(plf_gap(&state, &settings, &event) == PLF_NOTHING, "a gap twice is no event");
    promise(alarms() == 1, "after them all is as ever");

    plf_init(&state, &settings, ring, PLF_RING_WORDS);
    for (int i = 0; i < 105; i++) {
        plf_step(&state, &settings, 0, (int16_t)(i < 100 ? 512 : 0), 0, &event);
    }
    promise(state.stage == PLF_PRIMED, "free fall primes");
    memcpy(&before, &state, sizeof state);
    promise(plf_step(&state, &twin_settings, 0, 0, 0, &event) == PLF_REFUSED, "other settings are refused");
    promise(plf_step(&state, NULL, 0, 0, 0, &event) == PLF_REFUSED, "no settings are refused");
    promise(plf_step(NULL, &settings, 0, 0, 0, &event) == PLF_REFUSED, "no state is refused");
    promise(plf_step(&state, &settings, 0, 0, 0, NULL) == PLF_REFUSED, "no event is refused");
    promise(plf_gap(&state, &twin_settings, &event) == PLF_REFUSED, "a gap under other settings is refused");
    promise(memcmp(&before, &state, sizeof state) == 0, "what is refused changes nothing");

    promise(plf_init(&state, &twin_settings, ring, PLF_RING_WORDS) == PLF_READY, "plf_init takes other settings");
    promise(state.stage == PLF_WATCH, "plf_init forgets what was open");
    promise(plf_finish(&state, &twin_settings, &event) == PLF_NOTHING, "and no event is left of it");
    promise(plf_step(&state, &settings, 0, 0, 0, &event) == PLF_REFUSED, "the settings before are the others now");

    plf_init(&state, &settings, ring, PLF_RING_WORDS);
    promise(alarms() == 1 && event.decided == 110 + 50 + 100, "plf_init counts samples from 0");
    promise(event.impact_ago == 150 && event.first_low_ago == 160, "times count back from the alarm");
    promise(sizeof(plf_state) <= 256, "a state takes 256 bytes at most");
    if (!broken) {
        puts("kept");
    }
    return broken;
}
