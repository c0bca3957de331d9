/* SPDX-License-Identifier: MIT */
/* plumbfall_sensor.c: see plumbfall_sensor.h. C99, integers only. */
#include "plumbfall_sensor.h"

#include <stddef.h>

enum { MOST = 65535, HALF = 8192, ONE = 16384 };

static int32_t within(int32_t value, int32_t least, int32_t most)
{
    return value < least ? least : value > most ? most : value;
}

enum plf_result plf_calibration_check(const plf_calibration *calibration)
{
    if (calibration == NULL) {
        return PLF_REFUSED;
    }
    for (int axis = 0; axis < 3; axis++) {
        if (calibration->gain_q14[axis] < PLF_GAIN_LEAST || calibration->gain_q14[axis] > PLF_GAIN_MOST
            || calibration->offset_counts[axis] < -PLF_OFFSET_MOST
            || calibration->offset_counts[axis] > PLF_OFFSET_MOST) {
            return PLF_REFUSED;
        }
    }
    return PLF_DONE;
}

/* |raw - zero - offset| <= 3 * 65535 before it is clamped to 16 bits and a sign; times a gain <= 32767, and half a unit
 * more, it stays within 31 bits: -65536 * 32767 = -2 147 418 112. A gain of a half and more takes what was clamped to
 * the end of any resolution, so that clamping it first changes nothing. C divides towards zero: a rest below it takes
 * one off. */
static int32_t calibrated(int32_t raw, int32_t zero, int32_t offset, int32_t gain)
{
    const int32_t scaled = within(raw - zero - offset, -MOST - 1, MOST) * gain + HALF;
    return scaled / ONE - (scaled % ONE < 0 ? 1 : 0);
}

/* |reading| < 2^17 and one of three: the sum stays below 2^19. */
void plf_sensor_counts(const plf_sensor *sensor, const plf_calibration *calibration, const int32_t raw[3],
                       int16_t counts[3])
{
    int32_t reading[3];
    const int32_t end = (int32_t)(UINT32_C(1) << (sensor->resolution_bits - 1U));
    for (int axis = 0; axis < 3; axis++) {
        reading[axis] = calibrated(raw[axis], sensor->zero_code, calibration->offset_counts[axis],
                                   calibration->gain_q14[axis]);
    }
    for (int axis = 0; axis < 3; axis++) {
        const int16_t *from = sensor->axes[axis];
        counts[axis] = (int16_t)within(from[0] * reading[0] + from[1] * reading[1] + from[2] * reading[2], -end, end - 1);
    }
}
