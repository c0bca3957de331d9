/* SPDX-License-Identifier: MIT */
/* fake_sensor.c: a sensor that measures the falls of plumbfall_vectors.h which are cut to these settings, with a pause
 * between them in which an alarm lives its life; a clock that runs by its samples; a button.
 */
#include "fake.h"
#include "plumbfall_device.h"
#include "plumbfall_params.h"
#define PLF_VECTORS_PART 5 /* the one under plumbfall_params.h */
#include "plumbfall_vectors.h"
#include "sampling.h"

const plf_calibration board_calibration = PLF_CALIBRATION_NONE;

static const plf_sensor sensor = PLF_SENSOR;
static plf_run now;                      /* what is measured, and how much longer */
static uint32_t vector, run, run_of_all; /* which is next: of the vector, of all of them */
static uint32_t ms, us;
static uint8_t pressed;
static uint32_t warned;
fake_tally fake;

/* Until nothing of an alarm is left: warned, sent, not heard, sent again, rested. */
static uint32_t pause_samples(void)
{
    const uint32_t pause_ms = PLF_CANCEL_MS + 2U * PLF_RESEND_MS + PLF_REST_MS + 2000U;
    return (uint32_t)((uint64_t)pause_ms * PLF_RATE_MILLIHZ / 1000000U);
}

static uint32_t paused;

void board_start(void)
{
    fake_flash_start();
    for (uint32_t i = 0, events = 0; i < plf_parts[0].count; i++) {
        for (uint32_t j = 0; j < plf_parts[0].vectors[i].events; j++, events++) {
            fake.expected += plf_parts[0].events[events].ended == PLF_ALARM;
        }
    }
    paused = pause_samples();
}

/* From counts in the axes of the case to what this sensor would hand over for them. */
void board_reading(int32_t raw[3])
{
    const int32_t counts[3] = { now.x, now.y, now.z };
    for (uint32_t of = 0; of < 3; of++) {
        raw[of] = sensor.zero_code;
        for (uint32_t axis = 0; axis < 3; axis++) {
            raw[of] += sensor.axes[axis][of] * counts[axis];
        }
    }
}

static void tick(void)
{
    us += (uint32_t)(UINT64_C(1000000000) / PLF_RATE_MILLIHZ);
    ms += us / 1000U;
    us %= 1000U;
}

/* The next sample or gap of a vector; 0 where it has none left. */
static uint8_t measure(void)
{
    if (run == plf_parts[0].vectors[vector].runs) {
        return 0;
    }
    if (now.times == 0) {
        now = plf_parts[0].runs[run_of_all];
        if (now.times == 0) {
            run++;
            run_of_all++;
            sampling_lost();
            return 1;
        }
    }
    sampling_interrupt();
    if (--now.times == 0) {
        run++;
        run_of_all++;
    }
    return 1;
}

/* A sample goes by: of a vector, or of the pause behind it, which ends with a gap so that each begins anew. */
uint8_t board_wait(void)
{
    tick();
    if (paused > 0) {
        now = plf_parts[0].runs[0]; /* standing */
        now.times = 0;
        sampling_interrupt();
        if (--paused == 0) {
            sampling_lost();
        }
        return 1;
    }
    if (vector < plf_parts[0].count && measure()) {
        return 1;
    }
    if (vector < plf_parts[0].count) {
        vector++;
        run = 0;
        paused = pause_samples();
        return 1;
    }
    return !fake_radio_is_done();
}

uint32_t board_ms(void)
{
    return ms;
}

uint16_t board_starts(void)
{
    return 1;
}

uint16_t board_battery_mv(void)
{
    return 3700;
}

uint8_t board_self_test(void)
{
    return 0;
}

/* The wearer cancels the second alarm, and no other. */
void board_signal(enum plf_alarm_action action)
{
    if (action == PLF_DO_WARN && ++warned == 2) {
        pressed = 1;
    }
    fake.cancelled += action == PLF_DO_CANCEL;
    fake.delivered += action == PLF_DO_REPORT_DELIVERED;
    fake.undelivered += action == PLF_DO_REPORT_UNDELIVERED;
}

uint8_t board_button(void)
{
    const uint8_t press = pressed;
    pressed = 0;
    return press;
}
