/* SPDX-License-Identifier: MIT */
/* plumbfall_settings.c: see plumbfall_settings.h. C99, integers only. */
#include "plumbfall_settings.h"

#include <stdbool.h>
#include <stddef.h>

#include "plumbfall_crc.h"

/* generated from detect/rule/parameters.py: begin */
static const struct {
    int32_t least, most;
} bounds[PLF_SETTINGS_COUNT] = {
    { 1, 16 }, { 0, 1 }, { 0, 1 }, { 1, 56756 }, { 1, 4096 }, { 1, 56756 }, { 1, 65535 }, { 1, 4096 }, { 0, 1 },
    { 1, 4096 }, { 0, 1 }, { -16384, 16384 }, { 1, 4096 }, { 0, 1 }, { -16384, 16384 }, { -16384, 16384 },
    { -16384, 16384 }, { -16384, 16384 }, { 0, 1 }, { 1, 56756 }, { 0, 4096 }, { 0, 1 }, { 0, 56756 }, { 1, 56756 },
    { 1, 4096 }, { 0, 4096 }, { 1, 65535 }
};

/* Choices among numbers, vectors that must not be zero, some samples of a window. */
static enum plf_setting first_that_contradicts(const plf_settings *s)
{
    if (s->prefilter_samples != 1 && s->prefilter_samples != 2 && s->prefilter_samples != 4
        && s->prefilter_samples != 8 && s->prefilter_samples != 16) {
        return PLF_SETTING_PREFILTER_SAMPLES;
    }
    if (s->upright_counts[0] == 0 && s->upright_counts[1] == 0 && s->upright_counts[2] == 0) {
        return PLF_SETTING_UPRIGHT_X_COUNTS;
    }
    if (s->active_most_samples > s->active_window_samples) {
        return PLF_SETTING_ACTIVE_MOST_SAMPLES;
    }
    return PLF_ALL_IN_BOUNDS;
}

void plf_settings_numbers(const plf_settings *settings, int32_t to[PLF_SETTINGS_COUNT])
{
    to[0] = settings->prefilter_samples;
    to[1] = settings->free_fall_on;
    to[2] = settings->free_fall_every_axis;
    to[3] = settings->free_fall_counts;
    to[4] = settings->free_fall_samples;
    to[5] = settings->impact_counts;
    to[6] = settings->impact_within_samples;
    to[7] = settings->settle_samples;
    to[8] = settings->restart_on;
    to[9] = settings->observe_samples;
    to[10] = settings->tilt_on;
    to[11] = settings->tilt_cosine_q14;
    to[12] = settings->baseline_samples;
    to[13] = settings->reclined_on;
    to[14] = settings->reclined_cosine_q14;
    to[15] = settings->upright_counts[0];
    to[16] = settings->upright_counts[1];
    to[17] = settings->upright_counts[2];
    to[18] = settings->still_on;
    to[19] = settings->still_counts;
    to[20] = settings->guard_samples;
    to[21] = settings->active_on;
    to[22] = settings->active_low_counts;
    to[23] = settings->active_high_counts;
    to[24] = settings->active_window_samples;
    to[25] = settings->active_most_samples;
    to[26] = settings->hold_off_samples;
}

void plf_settings_of(const int32_t from[PLF_SETTINGS_COUNT], plf_settings *settings)
{
    settings->prefilter_samples = (uint16_t)from[0];
    settings->free_fall_on = (uint16_t)from[1];
    settings->free_fall_every_axis = (uint16_t)from[2];
    settings->free_fall_counts = (uint16_t)from[3];
    settings->free_fall_samples = (uint16_t)from[4];
    settings->impact_counts = (uint16_t)from[5];
    settings->impact_within_samples = (uint16_t)from[6];
    settings->settle_samples = (uint16_t)from[7];
    settings->restart_on = (uint16_t)from[8];
    settings->observe_samples = (uint16_t)from[9];
    settings->tilt_on = (uint16_t)from[10];
    settings->tilt_cosine_q14 = (int16_t)from[11];
    settings->baseline_samples = (uint16_t)from[12];
    settings->reclined_on = (uint16_t)from[13];
    settings->reclined_cosine_q14 = (int16_t)from[14];
    settings->upright_counts[0] = (int16_t)from[15];
    settings->upright_counts[1] = (int16_t)from[16];
    settings->upright_counts[2] = (int16_t)from[17];
    settings->still_on = (uint16_t)from[18];
    settings->still_counts = (uint16_t)from[19];
    settings->guard_samples = (uint16_t)from[20];
    settings->active_on = (uint16_t)from[21];
    settings->active_low_counts = (uint16_t)from[22];
    settings->active_high_counts = (uint16_t)from[23];
    settings->active_window_samples = (uint16_t)from[24];
    settings->active_most_samples = (uint16_t)from[25];
    settings->hold_off_samples = (uint16_t)from[26];
}
/* generated from detect/rule/parameters.py: end */

/* No sample may be both low and an impact. Thresholds <= 56756 here: three squares of one take 34 bits. */
static bool low_below_impact(const plf_settings *s)
{
    const uint64_t low = s->free_fall_counts;
    const uint64_t impact = s->impact_counts;
    if (!s->free_fall_on) {
        return true;
    }
    if (s->free_fall_every_axis) {
        return 3 * (low - 1) * (low - 1) < impact * impact;
    }
    return low <= impact;
}

enum plf_setting plf_settings_check(const plf_settings *settings)
{
    int32_t numbers[PLF_SETTINGS_COUNT];
    if (settings == NULL) {
        return PLF_NO_SETTINGS;
    }
    plf_settings_numbers(settings, numbers);
    for (uint32_t i = 0; i < PLF_SETTINGS_COUNT; i++) {
        if (numbers[i] < bounds[i].least || numbers[i] > bounds[i].most) {
            return (enum plf_setting)(i + 1U);
        }
    }
    const enum plf_setting first = first_that_contradicts(settings);
    if (first == PLF_ALL_IN_BOUNDS && !low_below_impact(settings)) {
        return PLF_SETTING_FREE_FALL_COUNTS;
    }
    return first;
}

/* ---- As bytes, the lowest first ---- */

static uint8_t *put(uint8_t *to, uint32_t value, uint32_t bytes)
{
    for (uint32_t i = 0; i < bytes; i++) {
        *to++ = (uint8_t)(value & 0xFFU);
        value >>= 8;
    }
    return to;
}

static uint32_t take(const uint8_t **from, uint32_t bytes)
{
    uint32_t value = 0;
    for (uint32_t i = 0; i < bytes; i++) {
        value |= (uint32_t)(*from)[i] << 8U * i;
    }
    *from += bytes;
    return value;
}

void plf_parameters_write(const plf_parameters *parameters, uint8_t to[PLF_PARAMETERS_BYTES])
{
    int32_t numbers[PLF_SETTINGS_COUNT];
    uint8_t *at = put(to, PLF_PARAMETERS_VERSION, 2);
    at = put(at, PLF_PARAMETERS_BYTES, 2);
    at = put(at, parameters->front_end.rate_millihz, 4);
    at = put(at, parameters->front_end.range_mg, 4);
    at = put(at, parameters->front_end.counts_per_1000_g, 4);
    at = put(at, parameters->front_end.resolution_bits, 2);
    plf_settings_numbers(&parameters->settings, numbers);
    for (uint32_t i = 0; i < PLF_SETTINGS_COUNT; i++) {
        at = put(at, (uint32_t)numbers[i], 2);
    }
}

enum plf_setting plf_parameters_read(const uint8_t from[PLF_PARAMETERS_BYTES], plf_parameters *parameters)
{
    int32_t numbers[PLF_SETTINGS_COUNT];
    const uint32_t version = take(&from, 2);
    const uint32_t size = take(&from, 2);
    if (version != PLF_PARAMETERS_VERSION || size != PLF_PARAMETERS_BYTES) {
        return PLF_NO_SETTINGS;
    }
    parameters->front_end.rate_millihz = take(&from, 4);
    parameters->front_end.range_mg = take(&from, 4);
    parameters->front_end.counts_per_1000_g = take(&from, 4);
    parameters->front_end.resolution_bits = (uint16_t)take(&from, 2);
    for (uint32_t i = 0; i < PLF_SETTINGS_COUNT; i++) {
        const uint32_t value = take(&from, 2);
        /* Of a signed one the upper half stands for a negative number. */
        numbers[i] = bounds[i].least < 0 && value > INT16_MAX ? (int32_t)value - 65536 : (int32_t)value;
    }
    plf_settings_of(numbers, &parameters->settings);
    return plf_settings_check(&parameters->settings);
}

uint32_t plf_identity(const plf_parameters *parameters)
{
    uint8_t bytes[PLF_PARAMETERS_BYTES];
    plf_parameters_write(parameters, bytes);
    return plf_crc32(0, bytes, sizeof bytes);
}
