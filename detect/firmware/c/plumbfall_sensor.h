/* SPDX-License-Identifier: MIT */
/* plumbfall_sensor.h: from what the sensor or converter hands over to the counts that the detector is tuned for: zero
 * code, each device's own calibration, and the axes of the case.
 *
 *   static const plf_sensor sensor = PLF_SENSOR;                    (plumbfall_device.h has the macros)
 *   static plf_calibration calibration = PLF_CALIBRATION_NONE;      read from where the production test has stored it
 *   plf_calibration_check(&calibration);                            what is out of bounds is refused
 *   plf_sensor_counts(&sensor, &calibration, raw, counts);          for each sample, then plf_step
 *
 * The calibration is each device's own. That of the logger which recorded a study is none: it made the study's g true.
 */
#ifndef PLUMBFALL_SENSOR_H
#define PLUMBFALL_SENSOR_H

#include "plumbfall_detector.h"

#ifdef __cplusplus
extern "C" {
#endif

/* `zero_code`: what a converter reads at 0 g, 0 of a digital part. `axes`: of each axis of the counts, how much of the
 * sensor's x, y and z goes into it: one of them by 1 or -1. */
typedef struct {
    uint16_t zero_code;
    uint16_t resolution_bits; /* 8 to 16: counts are clamped to it */
    int16_t axes[3][3];
} plf_sensor;

#define PLF_GAIN_ONE 16384U
#define PLF_GAIN_LEAST 8192U
#define PLF_GAIN_MOST 32767U
#define PLF_OFFSET_MOST 16384

/* Of each of the sensor's axes: counts at 0 g, which are taken off, and what the rest is multiplied by, times 2^14. */
typedef struct {
    int16_t offset_counts[3];
    uint16_t gain_q14[3];
} plf_calibration;
#define PLF_CALIBRATION_NONE { { 0, 0, 0 }, { PLF_GAIN_ONE, PLF_GAIN_ONE, PLF_GAIN_ONE } }

/* PLF_DONE, or PLF_REFUSED where an offset or gain is out of the bounds above. */
enum plf_result plf_calibration_check(const plf_calibration *calibration);
/* `raw`: a reading as it comes, -65535 to 65535. Halves are rounded upwards, what is beyond the resolution is clamped. */
void plf_sensor_counts(const plf_sensor *sensor, const plf_calibration *calibration, const int32_t raw[3],
                       int16_t counts[3]);

#ifdef __cplusplus
}
#endif

#endif
