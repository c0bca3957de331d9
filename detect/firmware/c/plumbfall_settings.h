/* SPDX-License-Identifier: MIT */
/* plumbfall_settings.h: the numbers that a detector runs by, their bounds, and their identity.
 *
 *   static const plf_parameters parameters = PLF_PARAMETERS;        (plumbfall_params.h has the macros)
 *   plf_settings_check(&parameters.settings)                        PLF_ALL_IN_BOUNDS, or the first that is not
 *   plf_identity(&parameters) == PLF_IDENTITY_CRC32                 what is compiled in is what was scored
 */
#ifndef PLUMBFALL_SETTINGS_H
#define PLUMBFALL_SETTINGS_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* The values of plumbfall_params.h, which has their bounds: thresholds in counts, durations in samples, cosines times
 * 2^14. PLF_SETTINGS has them in the order of the members. */
/* generated from detect/rule/parameters.py: begin */
typedef struct {
    uint16_t prefilter_samples, free_fall_on, free_fall_every_axis, free_fall_counts, free_fall_samples,
             impact_counts, impact_within_samples, settle_samples, restart_on, observe_samples, tilt_on;
    int16_t tilt_cosine_q14;
    uint16_t baseline_samples, reclined_on;
    int16_t reclined_cosine_q14, upright_counts[3];
    uint16_t still_on, still_counts, guard_samples, active_on, active_low_counts, active_high_counts,
             active_window_samples, active_most_samples, hold_off_samples;
} plf_settings;
#define PLF_SETTINGS { \
    PLF_PREFILTER_SAMPLES, PLF_FREE_FALL_ON, PLF_FREE_FALL_EVERY_AXIS, PLF_FREE_FALL_COUNTS, \
    PLF_FREE_FALL_SAMPLES, PLF_IMPACT_COUNTS, PLF_IMPACT_WITHIN_SAMPLES, PLF_SETTLE_SAMPLES, PLF_RESTART_ON, \
    PLF_OBSERVE_SAMPLES, PLF_TILT_ON, PLF_TILT_COSINE_Q14, PLF_BASELINE_SAMPLES, PLF_RECLINED_ON, \
    PLF_RECLINED_COSINE_Q14, { PLF_UPRIGHT_X_COUNTS, PLF_UPRIGHT_Y_COUNTS, PLF_UPRIGHT_Z_COUNTS }, PLF_STILL_ON, \
    PLF_STILL_COUNTS, PLF_GUARD_SAMPLES, PLF_ACTIVE_ON, PLF_ACTIVE_LOW_COUNTS, PLF_ACTIVE_HIGH_COUNTS, \
    PLF_ACTIVE_WINDOW_SAMPLES, PLF_ACTIVE_MOST_SAMPLES, PLF_HOLD_OFF_SAMPLES }

#define PLF_SETTINGS_COUNT 27U
enum plf_setting {
    PLF_ALL_IN_BOUNDS, PLF_SETTING_PREFILTER_SAMPLES, PLF_SETTING_FREE_FALL_ON, PLF_SETTING_FREE_FALL_EVERY_AXIS,
    PLF_SETTING_FREE_FALL_COUNTS, PLF_SETTING_FREE_FALL_SAMPLES, PLF_SETTING_IMPACT_COUNTS,
    PLF_SETTING_IMPACT_WITHIN_SAMPLES, PLF_SETTING_SETTLE_SAMPLES, PLF_SETTING_RESTART_ON,
    PLF_SETTING_OBSERVE_SAMPLES, PLF_SETTING_TILT_ON, PLF_SETTING_TILT_COSINE_Q14, PLF_SETTING_BASELINE_SAMPLES,
    PLF_SETTING_RECLINED_ON, PLF_SETTING_RECLINED_COSINE_Q14, PLF_SETTING_UPRIGHT_X_COUNTS,
    PLF_SETTING_UPRIGHT_Y_COUNTS, PLF_SETTING_UPRIGHT_Z_COUNTS, PLF_SETTING_STILL_ON, PLF_SETTING_STILL_COUNTS,
    PLF_SETTING_GUARD_SAMPLES, PLF_SETTING_ACTIVE_ON, PLF_SETTING_ACTIVE_LOW_COUNTS, PLF_SETTING_ACTIVE_HIGH_COUNTS,
    PLF_SETTING_ACTIVE_WINDOW_SAMPLES, PLF_SETTING_ACTIVE_MOST_SAMPLES, PLF_SETTING_HOLD_OFF_SAMPLES,
    PLF_NO_SETTINGS
};
/* generated from detect/rule/parameters.py: end */

/* The sensor that the counts and samples are of; the detector itself needs none of it. */
typedef struct {
    uint32_t rate_millihz, range_mg, counts_per_1000_g;
    uint16_t resolution_bits;
} plf_front_end;
#define PLF_FRONT_END { PLF_RATE_MILLIHZ, PLF_RANGE_MG, PLF_COUNTS_PER_1000_G, PLF_RESOLUTION_BITS }

typedef struct {
    plf_front_end front_end;
    plf_settings settings;
} plf_parameters;
#define PLF_PARAMETERS { PLF_FRONT_END, PLF_SETTINGS }

/* All parameters as bytes, little-endian: version 2 and PLF_PARAMETERS_BYTES in 2 each, rate, range and scale in 4 each,
 * resolution in 2, then the settings in the order of their numbers, 2 each, two's complement. */
#define PLF_PARAMETERS_VERSION 2U
#define PLF_PARAMETERS_BYTES (18U + 2U * PLF_SETTINGS_COUNT)

/* What plf_init asks: first each by itself in their order, then what must hold between them. */
enum plf_setting plf_settings_check(const plf_settings *settings);

/* The settings as integers in the order of enum plf_setting, and back. */
void plf_settings_numbers(const plf_settings *settings, int32_t to[PLF_SETTINGS_COUNT]);
void plf_settings_of(const int32_t from[PLF_SETTINGS_COUNT], plf_settings *settings);

void plf_parameters_write(const plf_parameters *parameters, uint8_t to[PLF_PARAMETERS_BYTES]);
/* PLF_NO_SETTINGS where they begin with another version or length: then nothing was changed. Else as
 * plf_settings_check. */
enum plf_setting plf_parameters_read(const uint8_t from[PLF_PARAMETERS_BYTES], plf_parameters *parameters);
/* CRC-32 of those bytes. */
uint32_t plf_identity(const plf_parameters *parameters);

#ifdef __cplusplus
}
#endif

#endif
