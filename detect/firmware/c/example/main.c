/* SPDX-License-Identifier: MIT */
/* main.c: a whole device around the detector: sampling in an interrupt, everything else in one loop, the memory and the
 * radio in files of their own. board.h has what it needs of a board.
 */
#include "board.h"
#include "memory.h"
#include "plumbfall_device.h"
#include "plumbfall_params.h"
#include "radio.h"
#include "sampling.h"

static const plf_parameters built_in = PLF_PARAMETERS;
static const plf_sensor sensor = PLF_SENSOR;
static const plf_alarm_settings life = PLF_ALARM_SETTINGS;
static plf_word ring[PLF_RING_WORDS];
static plf_state detector;
static plf_block parameters;
static plf_alarm alarm;
static uint32_t alarm_seconds;
static uint8_t report_due; /* the station is to be told of the alarm */
static uint32_t clock_offset; /* seconds: a station sets it */

static uint32_t seconds(void)
{
    return clock_offset + board_ms() / 1000U;
}

/* ---- The life of an alarm ---- */

static void live(enum plf_alarm_input input, uint32_t number)
{
    const enum plf_alarm_action action = plf_alarm_step(&alarm, &life, board_ms(), input, number);
    switch (action) {
    case PLF_DO_SEND:
    case PLF_DO_REPORT_UNDELIVERED:
        report_due = 1;
        break;
    case PLF_DO_CANCEL:
        memory_outcome(alarm.number, PLF_CANCELLED);
        break;
    case PLF_DO_REPORT_DELIVERED:
        memory_outcome(alarm.number, alarm.withdrawn ? PLF_WITHDRAWN : PLF_ACKNOWLEDGED);
        break;
    default: /* the wearer alone is told */
        break;
    }
    if (action != PLF_DO_NOTHING) {
        board_signal(action);
    }
}

/* A number is told when no other alarm can get it any more: at once, or a few turns after the fall. */
static void poll_report(void)
{
    if (report_due && memory_may_tell()) {
        radio_alarm(&alarm, alarm_seconds);
        report_due = 0;
    }
}

static void fall(const plf_event *event)
{
    if (event->ended == PLF_ALARM) {
        const uint32_t number = memory_alarm(event, seconds(), 0);
        if (alarm.stage == PLF_ARMED) {
            alarm_seconds = seconds();
        }
        live(PLF_FALL, number);
    }
}

/* ---- Samples ---- */

static void take(const int32_t raw[3])
{
    int16_t counts[3];
    plf_event event;
    plf_sensor_counts(&sensor, &board_calibration, raw, counts);
    memory_sample(counts);
    radio_sample(counts);
    if (plf_step(&detector, counts[0], counts[1], counts[2], &event) == PLF_ENDED) {
        fall(&event);
    }
}

static void miss(void)
{
    plf_event event;
    if (plf_gap(&detector, &event) == PLF_ENDED) {
        fall(&event);
    }
    memory_gap();
    radio_gap();
}

static void take_all(void)
{
    int32_t raw[3];
    enum sampling found = sampling_next(raw);
    while (found != SAMPLING_NONE) {
        if (found == SAMPLING_READING) {
            take(raw);
        } else {
            miss();
        }
        found = sampling_next(raw);
    }
}

/* ---- The station ---- */

static void obey(const plf_station_order *order)
{
    switch (order->work) {
    case PLF_WORK_SELF_TEST:
        radio_self_test(board_self_test());
        break;
    case PLF_WORK_STREAM:
    case PLF_WORK_SILENCE:
        radio_stream(order->work == PLF_WORK_STREAM);
        break;
    case PLF_WORK_ACKNOWLEDGE:
        live(PLF_ACKNOWLEDGE, order->number);
        break;
    case PLF_WORK_CLEAR:
        memory_clear(order->number);
        break;
    case PLF_WORK_TIME:
        clock_offset = order->number - board_ms() / 1000U;
        break;
    case PLF_WORK_ARM:
        live(PLF_REARM, 0);
        break;
    default: /* nothing beyond the answer */
        break;
    }
}

/* Other parameters, from a station: never while something is going on, which plf_is_calm knows. */
static void poll_parameters(void)
{
    plf_event event;
    if (plf_block_poll(&parameters, plf_is_calm(&detector, &alarm), board_ms()) == PLF_READY) {
        if (plf_finish(&detector, &event) == PLF_ENDED) {
            fall(&event);
        }
        memory_gap();
        plf_init(&detector, &parameters.active.settings, ring, PLF_RING_WORDS);
        memory_identity(parameters.identity);
        radio_hello();
    }
}

/* ---- All of it ---- */

static uint8_t start(void)
{
    board_start();
    plf_alarm_init(&alarm);
    if (plf_block_mount(&parameters, &board_parameter_flash, 0, &built_in, PLF_RING_WORDS) != PLF_DONE) {
        return 0;
    }
    while (parameters.stage != PLF_BLOCK_SETTLED) { /* nothing is sampled yet: this may wait */
        plf_block_poll(&parameters, 1, board_ms());
    }
    return plf_init(&detector, &parameters.active.settings, ring, PLF_RING_WORDS) == PLF_DONE
        && memory_start(parameters.identity) && plf_calibration_check(&board_calibration) == PLF_DONE;
}

int main(void)
{
    plf_station_order order;
    if (!start()) {
        return 2; /* sizes that don't fit each other: a build like that is found on the bench */
    }
    radio_start(&parameters);
    while (board_wait()) {
        take_all();
        if (board_button()) {
            live(PLF_CANCEL, 0);
        }
        while (radio_poll(&order) == PLF_READY) {
            obey(&order);
        }
        live(PLF_TIME, 0);
        memory_poll();
        poll_report();
        poll_parameters();
    }
    return board_result();
}
