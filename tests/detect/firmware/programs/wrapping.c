/* The sample number wraps at 2^32, after years: events must not notice but for `decided`. Prints "kept" if so. */
#define PLF_VECTORS_NO_MAIN
#define PLF_VECTORS_PART 5
#include "plumbfall_vectors_test.c" /* for `same` */

#include <stdio.h>

enum { SAMPLES = 5000, MOST = 16 };

static const plf_settings settings = PLF_SETTINGS;
static plf_word own_ring[PLF_RING_WORDS];
static plf_event from_start[MOST], from_late[MOST];

/* Falls of which some alarm and some don't, every 250 samples. */
static int events_from(uint32_t first, plf_event events[MOST])
{
    static plf_state own_state;
    int found = 0;
    plf_init(&own_state, &settings, own_ring, PLF_RING_WORDS);
    own_state.now = first - 1;
    for (int i = 0; i < SAMPLES && found < MOST; i++) {
        const int phase = i % 250;
        const int16_t y = (int16_t)(phase < 80 ? 512 : 0);
        const int16_t x = (int16_t)(phase < 90 ? 0 : phase == 90 && i / 250 % 3 != 1 ? 1500 : 512);
        found += plf_step(&own_state, x, y, 3, &events[found]) == PLF_ENDED;
    }
    found += found < MOST && plf_finish(&own_state, &events[found]) == PLF_ENDED;
    return found;
}

int main(void)
{
    const int expected = events_from(0, from_start);
    for (uint32_t late = 1; late < SAMPLES; late += 17) {
        const uint32_t first = 0 - late;
        if (events_from(first, from_late) != expected) {
            printf("not kept: the wrap after %u samples changes the number of events\n", (unsigned)late);
            return 1;
        }
        for (int i = 0; i < expected; i++) {
            from_late[i].decided -= first;
            if (!same(&from_late[i], &from_start[i])) {
                printf("not kept: the wrap after %u samples changes event %d\n", (unsigned)late, i);
                return 1;
            }
        }
    }
    puts(expected >= 4 ? "kept" : "not kept: too few events to say anything");
    return expected < 4;
}
