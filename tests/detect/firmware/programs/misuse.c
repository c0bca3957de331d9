/* What plumbfall_detector.h promises of misuse and of a state's size; prints what is not kept, or "kept". */
#include <stdio.h>
#include <string.h>

#include "plumbfall_detector.h"
#include "plumbfall_params.h"

static const plf_settings settings = PLF_SETTINGS;
static plf_settings higher = PLF_SETTINGS; /* out of bounds, then with an impact that nothing here reaches */
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
        found += plf_step(&state, x, y, 0, &event) == PLF_ENDED && event.ended == PLF_ALARM;
    }
    return found;
}

int main(void)
{
    promise(plf_step(&state, 1, 2, 3, &event) == PLF_REFUSED, "a step before plf_init is refused");
    promise(plf_gap(&state, &event) == PLF_REFUSED, "a gap before plf_init is refused");
    promise(plf_finish(&state, &event) == PLF_REFUSED, "an end before plf_init is refused");
    promise(plf_init(&state, &settings, ring, PLF_RING_WORDS - 1) == PLF_REFUSED, "a ring too small is refused");
    promise(plf_step(&state, 1, 2, 3, &event) == PLF_REFUSED, "a refused plf_init leaves nothing ready");
    promise(plf_init(NULL, &settings, ring, PLF_RING_WORDS) == PLF_REFUSED, "no state is refused");
    promise(plf_init(&state, NULL, ring, PLF_RING_WORDS) == PLF_REFUSED, "no settings are refused");
    promise(plf_init(&state, &settings, NULL, PLF_RING_WORDS) == PLF_REFUSED, "no ring is refused");

    higher.prefilter_samples = 200;
    promise(plf_settings_check(&higher) == PLF_SETTING_PREFILTER_SAMPLES, "the first out of bounds is named");
    promise(plf_init(&state, &higher, ring, PLF_RING_WORDS) == PLF_REFUSED, "settings out of bounds are refused");
    promise(plf_step(&state, 1, 2, 3, &event) == PLF_REFUSED, "and leave nothing ready");
    higher.prefilter_samples = 1;

    promise(plf_init(&state, &settings, ring, PLF_RING_WORDS) == PLF_DONE, "what is in order is ready");
    promise(plf_gap(&state, &event) == PLF_DONE, "a gap before the first sample ends nothing");
    promise(plf_gap(&state, &event) == PLF_DONE, "a second gap ends nothing");
    promise(alarms() == 1, "afterwards an alarm comes as usual");

    plf_init(&state, &settings, ring, PLF_RING_WORDS);
    for (int i = 0; i < 105; i++) {
        plf_step(&state, 0, (int16_t)(i < 100 ? 512 : 0), 0, &event);
    }
    promise(state.stage == PLF_PRIMED, "free fall primes");
    memcpy(&before, &state, sizeof state);
    promise(plf_step(NULL, 0, 0, 0, &event) == PLF_REFUSED, "a step without a state is refused");
    promise(plf_step(&state, 0, 0, 0, NULL) == PLF_REFUSED, "a step without an event is refused");
    promise(plf_gap(NULL, &event) == PLF_REFUSED, "a gap without a state is refused");
    promise(plf_gap(&state, NULL) == PLF_REFUSED, "a gap without an event is refused");
    promise(plf_finish(NULL, &event) == PLF_REFUSED, "an end without a state is refused");
    promise(plf_finish(&state, NULL) == PLF_REFUSED, "an end without an event is refused");
    promise(memcmp(&before, &state, sizeof state) == 0, "what is refused changes nothing");

    higher.impact_counts = 30000;
    promise(plf_init(&state, &higher, ring, PLF_RING_WORDS) == PLF_DONE, "plf_init takes other settings");
    promise(state.stage == PLF_WATCH, "plf_init forgets what was open");
    promise(plf_finish(&state, &event) == PLF_DONE, "and no event is left of it");
    promise(alarms() == 0, "from then on the other settings hold");

    plf_init(&state, &settings, ring, PLF_RING_WORDS);
    promise(alarms() == 1 && event.decided == 110 + 50 + 100, "plf_init counts samples from 0");
    promise(event.impact_ago == 150 && event.first_low_ago == 160, "times count back from the alarm");
    promise(sizeof(plf_state) <= 256, "a state takes 256 bytes at most");
    if (!broken) {
        puts("kept");
    }
    return broken;
}
