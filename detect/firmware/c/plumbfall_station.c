/* SPDX-License-Identifier: MIT */
/* plumbfall_station.c: see plumbfall_station.h. C99, integers only. */
#include "plumbfall_station.h"

#include <stdbool.h>
#include <stddef.h>

enum { HEAD = 12, FIRST = 0x40, LAST_WITH_TRAILER = 0x4F, LAST = 0x7F, EVERYBODY = 0xFFFF };

static void refuse(plf_message *out, uint8_t kind, enum plf_command_reason why)
{
    out->kind = PLF_COMMAND_REFUSED; /* and nothing is in it yet */
    plf_message_put(out, kind, 1);
    plf_message_put(out, (uint32_t)why, 1);
}

static void begin(const plf_station *station, uint8_t kind, uint32_t sequence, uint32_t time_us, plf_message *out,
                  plf_station_order *order)
{
    plf_message_begin(out, (uint8_t)(PLF_COMMAND_REPLY | kind), station->node, sequence, time_us);
    order->work = PLF_WORK_NONE;
    order->number = 0;
    order->milliseconds = 0;
}

/* ---- Who commands ---- */

static void put(uint8_t *to, uint32_t value, uint32_t bytes)
{
    for (uint32_t i = 0; i < bytes; i++) {
        to[i] = (uint8_t)(value & 0xFFU);
        value >>= 8;
    }
}

/* Over the message as it travels, to its tag, with this node's number also where it goes to all. Every byte of the tag is
 * looked at, right or wrong: the time tells nothing. */
static bool is_authentic(const plf_station *station, const plf_message *in)
{
    uint8_t body[HEAD + PLF_COMMAND_MOST];
    uint8_t right[PLF_TAG_BYTES];
    const uint32_t size = in->length - PLF_TAG_BYTES;
    unsigned wrong = 0;
    body[0] = PLF_PROTOCOL_VERSION;
    body[1] = in->kind;
    put(body + 2, station->node, 2);
    put(body + 4, in->sequence, 4);
    put(body + 8, in->time_us, 4);
    for (uint32_t i = 0; i < size; i++) {
        body[HEAD + i] = in->payload[i];
    }
    if (station->key->tag(station->key->context, body, HEAD + size, right) != 0) {
        return false;
    }
    for (uint32_t i = 0; i < PLF_TAG_BYTES; i++) {
        wrong |= (unsigned)(right[i] ^ in->payload[size + i]);
    }
    return wrong == 0;
}

/* 0 where the command may be done, as soon as its counter is stored. `length`: of the payload without its trailer. */
static uint32_t why_not(const plf_station *station, const plf_message *in, uint32_t length)
{
    if (station->key == NULL) {
#ifndef PLF_DANGER_ANYBODY_MAY_COMMAND_THIS_DEVICE
        return PLF_COMMAND_NOT_AUTHENTIC;
#endif
    } else if (!is_authentic(station, in)) {
        return PLF_COMMAND_NOT_AUTHENTIC;
    } else if (plf_message_get(in, length, 4) <= station->block->journal.counter) {
        return PLF_COMMAND_REPLAYED;
    }
    return station->waits || station->block->journal.job != PLF_JOURNAL_IDLE ? PLF_COMMAND_NOT_NOW : 0;
}

/* Its counter is stored, and with it what confirm and roll back change. One that can't be done is used up all the same:
 * else whoever recorded it could have it done later. PLF_DONE: begun. */
static enum plf_result store(plf_station *station, const plf_message *in, uint32_t length)
{
    plf_block *block = station->block;
    const uint32_t counter = station->key == NULL ? block->journal.counter : plf_message_get(in, length, 4);
    enum plf_result result = PLF_REFUSED;
    if (in->kind == PLF_COMMAND_CONFIRM) {
        result = plf_block_confirm(block, plf_message_get(in, 0, 4), counter);
    } else if (in->kind == PLF_COMMAND_ROLL_BACK) {
        result = plf_block_roll_back(block, counter);
    }
    station->possible = in->kind != PLF_COMMAND_CONFIRM || result == PLF_DONE;
    return result == PLF_DONE ? PLF_DONE : plf_block_keep(block, counter);
}

static void hold(plf_station *station, const plf_message *in, uint32_t length)
{
    station->waits = 1;
    station->kind = in->kind;
    station->length = (uint8_t)length;
    station->sequence = in->sequence;
    for (uint32_t i = 0; i < length; i++) {
        station->payload[i] = in->payload[i];
    }
}

/* ---- Commands ---- */

static uint32_t number_at(const uint8_t *from, uint32_t bytes)
{
    uint32_t value = 0;
    for (uint32_t i = 0; i < bytes; i++) {
        value |= (uint32_t)from[i] << 8U * i;
    }
    return value;
}

static void set(plf_station *station, plf_message *out)
{
    plf_block *block = station->block;
    const uint32_t number = station->payload[4];
    block->fault = PLF_BLOCK_NO_FAULT;
    const enum plf_result result =
        plf_block_piece(block, number_at(station->payload, 4), number, station->payload + 5, station->length - 5U);
    if (result == PLF_REFUSED && block->fault != PLF_BLOCK_NO_FAULT) {
        refuse(out, station->kind, PLF_COMMAND_BAD_BLOCK);
        plf_message_put(out, block->fault, 1);
        plf_message_put(out, block->first, 1);
    } else if (result == PLF_REFUSED) {
        refuse(out, station->kind, PLF_COMMAND_NOT_NOW);
    } else {
        plf_message_put(out, number, 1);
        plf_message_put(out, result == PLF_READY ? (1U << PLF_PIECES) - 1U : block->have, 1);
    }
}

static void get(const plf_station *station, const plf_message *in, plf_message *out)
{
    uint8_t piece[PLF_PIECE_BYTES];
    const uint32_t number = in->payload[0];
    const uint32_t size = plf_block_part(station->block, number, piece);
    if (size == 0) {
        refuse(out, in->kind, PLF_COMMAND_MALFORMED);
        return;
    }
    plf_message_put(out, station->block->identity, 4);
    plf_message_put(out, number, 1);
    for (uint32_t i = 0; i < size; i++) {
        plf_message_put(out, piece[i], 1);
    }
}

static void tell_status(const plf_station *station, plf_message *out)
{
    const plf_block *block = station->block;
    plf_message_put(out, PLF_PARAMETERS_VERSION, 1);
    plf_message_put(out, block->stage, 1);
    plf_message_put(out, block->identity, 4);
    plf_message_put(out, block->journal.counter, 4);
    plf_message_put(out, station->status.battery_mv, 2);
    plf_message_put(out, station->status.self_test, 1);
    plf_message_put(out, station->status.log_percent, 1);
}

/* Payload of each command without its trailer; of PLF_COMMAND_SET that of a whole piece. -1 of an unknown one. */
static int length_of(uint8_t kind)
{
    switch (kind) {
    case PLF_COMMAND_ROLL_BACK:
    case PLF_COMMAND_SELF_TEST:
    case PLF_COMMAND_ARM:
    case PLF_COMMAND_STATUS:
    case PLF_COMMAND_HEARTBEAT:
        return 0;
    case PLF_COMMAND_STREAM:
    case PLF_COMMAND_GET:
        return 1;
    case PLF_COMMAND_CONFIRM:
    case PLF_COMMAND_ACKNOWLEDGE:
    case PLF_COMMAND_CLEAR:
        return 4;
    case PLF_COMMAND_TIME:
        return 6;
    case PLF_COMMAND_SET:
        return 5 + (int)PLF_PIECE_BYTES;
    default:
        return -1;
    }
}

static bool has_its_length(uint8_t kind, uint32_t length)
{
    if (kind == PLF_COMMAND_SET) {
        return length > 5 && length <= 5 + PLF_PIECE_BYTES;
    }
    return length == (uint32_t)length_of(kind);
}

static void order_time(const plf_station *station, plf_message *out, plf_station_order *order)
{
    const uint32_t milliseconds = number_at(station->payload + 4, 2);
    if (milliseconds > 999) {
        refuse(out, station->kind, PLF_COMMAND_MALFORMED);
        return;
    }
    order->work = PLF_WORK_TIME;
    order->number = number_at(station->payload, 4);
    order->milliseconds = (uint16_t)milliseconds;
}

/* What is left to do when the counter is stored: by the block, or by the firmware itself. */
static void change(plf_station *station, plf_message *out, plf_station_order *order)
{
    switch (station->kind) {
    case PLF_COMMAND_SET:
        set(station, out);
        break;
    case PLF_COMMAND_SELF_TEST:
        order->work = PLF_WORK_SELF_TEST;
        break;
    case PLF_COMMAND_ARM:
        order->work = PLF_WORK_ARM;
        break;
    case PLF_COMMAND_STREAM:
        order->work = station->payload[0] != 0 ? PLF_WORK_STREAM : PLF_WORK_SILENCE;
        break;
    case PLF_COMMAND_TIME:
        order_time(station, out, order);
        break;
    case PLF_COMMAND_ACKNOWLEDGE:
    case PLF_COMMAND_CLEAR:
        order->work = station->kind == PLF_COMMAND_CLEAR ? PLF_WORK_CLEAR : PLF_WORK_ACKNOWLEDGE;
        order->number = number_at(station->payload, 4);
        break;
    default: /* confirm and roll back are done with their counter */
        break;
    }
}

static enum plf_result command(plf_station *station, const plf_message *in, plf_message *out)
{
    const uint32_t length = in->length - PLF_TRAILER_BYTES;
    const uint32_t why = why_not(station, in, length);
    if (why != 0) {
        refuse(out, in->kind, (enum plf_command_reason)why);
        return PLF_READY;
    }
    if (store(station, in, length) != PLF_DONE) {
        refuse(out, in->kind, PLF_COMMAND_NO_MEMORY);
        return PLF_READY;
    }
    hold(station, in, length);
    return PLF_DONE;
}

enum plf_result plf_station_message(plf_station *station, const plf_message *in, uint32_t time_us, plf_message *out,
                                    plf_station_order *order)
{
    if (station == NULL || station->block == NULL || in == NULL || out == NULL || order == NULL) {
        return PLF_REFUSED;
    }
    if (in->kind < FIRST || in->kind > LAST || (in->node != station->node && in->node != EVERYBODY)) {
        return PLF_DONE;
    }
    const uint32_t trailer = in->kind <= LAST_WITH_TRAILER ? PLF_TRAILER_BYTES : 0;
    begin(station, in->kind, in->sequence, time_us, out, order);
    if (length_of(in->kind) < 0) {
        refuse(out, in->kind, PLF_COMMAND_UNKNOWN);
    } else if (in->length > PLF_COMMAND_MOST || in->length < trailer
               || !has_its_length(in->kind, in->length - trailer)) {
        refuse(out, in->kind, PLF_COMMAND_MALFORMED);
    } else if (trailer > 0) {
        return command(station, in, out);
    } else if (in->kind == PLF_COMMAND_GET) {
        get(station, in, out);
    } else if (in->kind == PLF_COMMAND_STATUS) {
        tell_status(station, out);
    }
    return PLF_READY;
}

enum plf_result plf_station_poll(plf_station *station, uint32_t time_us, plf_message *out, plf_station_order *order)
{
    if (station == NULL || station->block == NULL || out == NULL || order == NULL) {
        return PLF_REFUSED;
    }
    if (!station->waits || station->block->journal.job != PLF_JOURNAL_IDLE) {
        return PLF_DONE;
    }
    station->waits = 0;
    begin(station, station->kind, station->sequence, time_us, out, order);
    if (!station->block->kept) {
        refuse(out, station->kind, PLF_COMMAND_NO_MEMORY);
    } else if (!station->possible) {
        refuse(out, station->kind, PLF_COMMAND_NOT_NOW);
    } else {
        change(station, out, order);
    }
    return PLF_READY;
}
