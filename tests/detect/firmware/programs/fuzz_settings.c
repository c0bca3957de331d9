/* A libFuzzer target: whatever bytes come are settings, the words of a ring, and samples. plf_init takes them or refuses;
 * where it takes them, every step stays within memory and arithmetic, which the sanitizers watch. One bit of each setting
 * of a good rule is the way into the deeper half of it: the first byte says how many of its settings the bytes replace.
 */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "plumbfall_detector.h"
#include "plumbfall_params.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static uint32_t words_of(const plf_settings *s)
{
    const uint32_t vectors = s->tilt_on ? (uint32_t)s->guard_samples + s->baseline_samples : 0;
    const uint32_t bits = s->active_on ? (uint32_t)s->guard_samples + s->active_window_samples : 0;
    return 3 * vectors + (bits + 15) / 16;
}

static int16_t number_at(const uint8_t *at)
{
    const int value = at[0] | at[1] << 8;
    return (int16_t)(value > 32767 ? value - 65536 : value);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const plf_settings good = PLF_SETTINGS;
    static plf_state state;
    int32_t numbers[PLF_SETTINGS_COUNT];
    plf_settings s;
    plf_event event;
    if (size < 4) {
        return 0;
    }
    const uint32_t replaced = data[0] % (PLF_SETTINGS_COUNT + 1U);
    const uint32_t words = (uint32_t)data[1] | (uint32_t)data[2] << 8;
    data += 3;
    size -= 3;
    plf_settings_numbers(&good, numbers);
    for (uint32_t i = 0; i < replaced && size >= 3; i++, data += 3, size -= 3) {
        const uint32_t which = replaced == PLF_SETTINGS_COUNT ? i : data[0] % PLF_SETTINGS_COUNT;
        numbers[which] = number_at(data + 1);
    }
    plf_settings_of(numbers, &s);
    plf_word *ring = malloc(words * sizeof *ring + 1);
    const enum plf_setting first = plf_settings_check(&s);
    const enum plf_result expected = first == PLF_ALL_IN_BOUNDS && words >= words_of(&s) ? PLF_DONE : PLF_REFUSED;
    if (ring == NULL || plf_init(&state, &s, ring, words) != expected) {
        abort();
    }
    for (; size >= 6; data += 6, size -= 6) {
        if ((data[0] == 0 ? plf_gap(&state, &event)
                          : plf_step(&state, number_at(data), number_at(data + 2), number_at(data + 4), &event))
            == PLF_REFUSED && expected == PLF_DONE) {
            abort();
        }
    }
    plf_finish(&state, &event);
    free(ring);
    return 0;
}
