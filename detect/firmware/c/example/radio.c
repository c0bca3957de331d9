/* SPDX-License-Identifier: MIT */
/* radio.c: see radio.h. */
#include "radio.h"

#include <stddef.h>

#include "board.h"
#include "memory.h"
#include "plumbfall_link.h"
#include "plumbfall_params.h"

static const plf_key key = { plf_tag_siphash, board_key };
static plf_station station;
static plf_receiver receiver;
static plf_message in;
static plf_message out;
static plf_message samples;
static uint32_t sequence; /* of the next sample */
static uint8_t streams;

static uint32_t now_us(void)
{
    return board_ms() * 1000U; /* modulo 2^32, as the frame wants it */
}

static void send(const plf_message *message)
{
    static uint8_t bytes[PLF_STUFFED_MOST];
    board_send(bytes, plf_frame_write(message, bytes));
}

void radio_start(plf_block *parameters)
{
    station.key = &key;
    station.block = parameters;
    station.node = BOARD_NODE;
    plf_frame_init(&receiver);
    radio_hello();
}

void radio_hello(void)
{
    const plf_hello hello = { BOARD_NODE, PLF_RATE_MILLIHZ, PLF_COUNTS_PER_1000_G, station.block->identity,
                              board_starts(), PLF_RESOLUTION_BITS, "example" };
    plf_message_begin(&out, PLF_MESSAGE_HELLO, BOARD_NODE, sequence, now_us());
    plf_message_hello(&out, &hello);
    send(&out);
}

void radio_alarm(const plf_alarm *alarm, uint32_t seconds)
{
    const plf_alarm_report report = { alarm->number, seconds, station.block->identity, 0,
                                      (uint8_t)(alarm->sends < UINT8_MAX ? alarm->sends : UINT8_MAX),
                                      alarm->withdrawn };
    plf_message_begin(&out, PLF_MESSAGE_ALARM, BOARD_NODE, sequence, now_us());
    plf_message_alarm(&out, &report);
    send(&out);
}

static void send_samples(void)
{
    if (samples.length > 0) {
        send(&samples);
    }
    samples.length = 0;
}

void radio_stream(uint8_t wanted)
{
    send_samples();
    streams = wanted;
}

void radio_gap(void)
{
    send_samples();
    sequence++; /* what was lost shows by its number */
}

void radio_sample(const int16_t counts[3])
{
    if (streams) {
        if (samples.length == 0) {
            plf_message_begin(&samples, PLF_MESSAGE_SAMPLES, BOARD_NODE, sequence, now_us());
        }
        if (plf_message_sample(&samples, counts[0], counts[1], counts[2]) == PLF_READY) {
            send_samples();
        }
    }
    sequence++;
}

/* The answer is sent; PLF_READY where more is asked than that. */
static enum plf_result answer(enum plf_result result, const plf_station_order *order)
{
    if (result != PLF_READY) {
        return PLF_DONE;
    }
    send(&out);
    return order->work == PLF_WORK_NONE ? PLF_DONE : PLF_READY;
}

static enum plf_result obey(plf_station_order *order)
{
    if (in.node != BOARD_NODE && in.node != BOARD_EVERYBODY) {
        return PLF_DONE;
    }
    station.status.battery_mv = board_battery_mv();
    station.status.log_percent = memory_percent();
    if (plf_link_serve(memory_log(), &in, now_us(), &out) == PLF_READY) {
        send(&out);
        return PLF_DONE;
    }
    return answer(plf_station_message(&station, &in, now_us(), &out, order), order);
}

/* While a command's counter is being stored the next one waits in the line, so that none is told to come again. */
enum plf_result radio_poll(plf_station_order *order)
{
    if (answer(plf_station_poll(&station, now_us(), &out, order), order) == PLF_READY) {
        return PLF_READY;
    }
    for (int byte = station.waits ? -1 : board_receive(); byte >= 0; byte = station.waits ? -1 : board_receive()) {
        if (plf_frame_put(&receiver, (uint8_t)byte, &in) == PLF_READY && obey(order) == PLF_READY) {
            return PLF_READY;
        }
    }
    return PLF_DONE;
}

void radio_self_test(uint8_t found)
{
    station.status.self_test = found;
}
