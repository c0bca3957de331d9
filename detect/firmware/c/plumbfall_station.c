/* SPDX-License-Identifier: MIT */
/* plumbfall_station.c: see plumbfall_station.h. C99, integers only. */
#include "plumbfall_station.h"

#include <stdbool.h>
#include <stddef.h>

enum { HEAD = 7, FIRST = 0x40, LAST_WITH_TRAILER = 0x4F, LAST = 0x7F, EVERYBODY = 0xFFFF };

static uint32_t number_at(const uint8_t *from, uint32_t bytes)
{
    uint32_t value = 0;
    for (uint32_t i = 0; i < bytes; i++) {
        value |= (uint32_t)from[i] << 8U * i;
    }
    return value;
}

static void put(plf_command *answer, uint32_t value, uint32_t bytes)
{
    for (uint32_t i = 0; i < bytes; i++) {
        answer->payload[answer->length++] = (uint8_t)(value & 0xFFU);
        value >>= 8;
    }
}

static void refuse(plf_command *answer, const plf_command *command, enum plf_command_reason why)
{
    answer->kind = PLF_COMMAND_REFUSED;
    answer->length = 0;
    put(answer, command->kind, 1);
    put(answer, why, 1);
}

/* ---- Who commands ---- */

/* Over kind, node, counter and payload. Every byte of the tag is looked at, right or wrong: the time tells nothing. */
static bool is_authentic(const plf_station *station, const plf_command *command, uint32_t length)
{
    uint8_t message[HEAD + PLF_COMMAND_MOST];
    uint8_t right[PLF_TAG_BYTES];
    unsigned wrong = 0;
    message[0] = command->kind;
    message[1] = (uint8_t)(station->node & 0xFFU);
    message[2] = (uint8_t)(station->node >> 8);
    for (uint32_t i = 0; i < 4; i++) {
        message[3 + i] = command->payload[length + i];
    }
    for (uint32_t i = 0; i < length; i++) {
        message[HEAD + i] = command->payload[i];
    }
    if (station->key->tag(station->key->context, message, HEAD + length, right) != 0) {
        return false;
    }
    for (uint32_t i = 0; i < PLF_TAG_BYTES; i++) {
        wrong |= (unsigned)(right[i] ^ command->payload[length + 4 + i]);
    }
    return wrong == 0;
}

/* 0 where the command may be done; its counter is stored then. `length`: of the payload without its trailer. */
static uint32_t why_not(plf_station *station, const plf_command *command, uint32_t length)
{
    plf_journal *journal = &station->block->journal;
    if (station->key == NULL) {
#ifdef PLF_DANGER_ANYBODY_MAY_COMMAND_THIS_DEVICE
        return 0;
#else
        return PLF_COMMAND_NOT_AUTHENTIC;
#endif
    }
    if (!is_authentic(station, command, length)) {
        return PLF_COMMAND_NOT_AUTHENTIC;
    }
    const uint32_t counter = number_at(command->payload + length, 4);
    if (counter <= journal->counter) {
        return PLF_COMMAND_REPLAYED;
    }
    return plf_journal_append(journal, counter, journal->generation) == PLF_DONE ? 0 : PLF_COMMAND_NO_MEMORY;
}

/* ---- Commands ---- */

static void set(plf_station *station, const plf_command *command, uint32_t length, plf_command *answer)
{
    plf_block *block = station->block;
    const uint32_t number = command->payload[4];
    block->fault = PLF_BLOCK_NO_FAULT;
    const enum plf_result result =
        plf_block_piece(block, number_at(command->payload, 4), number, command->payload + 5, length - 5U);
    if (result == PLF_REFUSED && block->fault != PLF_BLOCK_NO_FAULT) {
        refuse(answer, command, PLF_COMMAND_BAD_BLOCK);
        put(answer, block->fault, 1);
        put(answer, block->first, 1);
    } else if (result == PLF_REFUSED) {
        refuse(answer, command, PLF_COMMAND_NOT_NOW);
    } else {
        put(answer, number, 1);
        put(answer, result == PLF_READY ? (1U << PLF_PIECES) - 1U : block->have, 1);
    }
}

static void say_done(enum plf_result result, const plf_command *command, plf_command *answer)
{
    if (result != PLF_DONE) {
        refuse(answer, command, result == PLF_FAILED ? PLF_COMMAND_NO_MEMORY : PLF_COMMAND_NOT_NOW);
    }
}

static void get(const plf_station *station, const plf_command *command, plf_command *answer)
{
    const uint32_t number = command->payload[0];
    put(answer, station->block->identity, 4);
    put(answer, number, 1);
    const uint32_t size = plf_block_part(station->block, number, answer->payload + answer->length);
    answer->length = (uint8_t)(answer->length + size);
    if (size == 0) {
        refuse(answer, command, PLF_COMMAND_MALFORMED);
    }
}

static void tell_status(const plf_station *station, plf_command *answer)
{
    const plf_block *block = station->block;
    put(answer, PLF_PARAMETERS_VERSION, 1);
    put(answer, block->stage, 1);
    put(answer, block->identity, 4);
    put(answer, block->journal.counter, 4);
    put(answer, station->status.battery_mv, 2);
    put(answer, station->status.self_test, 1);
    put(answer, station->status.log_percent, 1);
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

/* What the firmware itself has to do. */
static void order_work(const plf_command *command, plf_command *answer, plf_station_order *order)
{
    if (command->kind == PLF_COMMAND_SELF_TEST) {
        order->work = PLF_WORK_SELF_TEST;
    } else if (command->kind == PLF_COMMAND_ARM) {
        order->work = PLF_WORK_ARM;
    } else if (command->kind == PLF_COMMAND_STREAM) {
        order->work = command->payload[0] != 0 ? PLF_WORK_STREAM : PLF_WORK_SILENCE;
    } else if (command->kind == PLF_COMMAND_TIME && number_at(command->payload + 4, 2) > 999) {
        refuse(answer, command, PLF_COMMAND_MALFORMED);
    } else {
        order->number = number_at(command->payload, 4);
        if (command->kind == PLF_COMMAND_TIME) {
            order->milliseconds = (uint16_t)number_at(command->payload + 4, 2);
            order->work = PLF_WORK_TIME;
        } else {
            order->work = command->kind == PLF_COMMAND_CLEAR ? PLF_WORK_CLEAR : PLF_WORK_ACKNOWLEDGE;
        }
    }
}

static void change(plf_station *station, const plf_command *command, uint32_t length, plf_command *answer,
                   plf_station_order *order)
{
    switch (command->kind) {
    case PLF_COMMAND_SET:
        set(station, command, length, answer);
        break;
    case PLF_COMMAND_CONFIRM:
        say_done(plf_block_confirm(station->block, number_at(command->payload, 4)), command, answer);
        break;
    case PLF_COMMAND_ROLL_BACK:
        say_done(plf_block_roll_back(station->block), command, answer);
        break;
    default:
        order_work(command, answer, order);
        break;
    }
}

enum plf_result plf_station_serve(plf_station *station, const plf_command *command, plf_command *answer,
                                  plf_station_order *order)
{
    if (station == NULL || station->block == NULL || command == NULL || answer == NULL || order == NULL) {
        return PLF_REFUSED;
    }
    answer->kind = (uint8_t)(PLF_COMMAND_REPLY | command->kind);
    answer->length = 0;
    order->work = PLF_WORK_NONE;
    order->number = 0;
    order->milliseconds = 0;
    const uint32_t trailer = command->kind <= LAST_WITH_TRAILER ? PLF_TRAILER_BYTES : 0;
    if (length_of(command->kind) < 0) {
        refuse(answer, command, PLF_COMMAND_UNKNOWN);
    } else if (command->length > PLF_COMMAND_MOST || command->length < trailer
               || !has_its_length(command->kind, command->length - trailer)) {
        refuse(answer, command, PLF_COMMAND_MALFORMED);
    } else if (trailer > 0) {
        const uint32_t length = command->length - trailer;
        const uint32_t why = why_not(station, command, length);
        if (why != 0) {
            refuse(answer, command, (enum plf_command_reason)why);
        } else {
            change(station, command, length, answer, order);
        }
    } else if (command->kind == PLF_COMMAND_GET) {
        get(station, command, answer);
    } else if (command->kind == PLF_COMMAND_STATUS) {
        tell_status(station, answer);
    }
    return PLF_DONE;
}

enum plf_result plf_station_message(plf_station *station, const plf_message *in, uint32_t time_us, plf_message *out,
                                    plf_station_order *order)
{
    plf_command command;
    plf_command answer;
    if (station == NULL || in == NULL || out == NULL) {
        return PLF_REFUSED;
    }
    if (in->kind < FIRST || in->kind > LAST || (in->node != station->node && in->node != EVERYBODY)) {
        return PLF_DONE;
    }
    command.kind = in->kind;
    command.length = in->length;
    for (uint32_t i = 0; i < in->length && i < PLF_COMMAND_MOST; i++) {
        command.payload[i] = in->payload[i];
    }
    const enum plf_result result = plf_station_serve(station, &command, &answer, order);
    if (result != PLF_DONE) {
        return result;
    }
    out->kind = answer.kind;
    out->node = station->node;
    out->sequence = in->sequence;
    out->time_us = time_us;
    out->length = answer.length;
    for (uint32_t i = 0; i < answer.length; i++) {
        out->payload[i] = answer.payload[i];
    }
    return PLF_READY;
}
