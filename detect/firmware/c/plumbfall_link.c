/* plumbfall_link.c: see plumbfall_link.h. C99, integers only. */
#include "plumbfall_link.h"

#include <stddef.h>

enum { START = 0xD3, HEAD = 6, AROUND = 8 };

static uint8_t *put(uint8_t *to, uint32_t value, uint32_t bytes)
{
    for (uint32_t i = 0; i < bytes; i++) {
        *to++ = (uint8_t)(value & 0xFFU);
        value >>= 8;
    }
    return to;
}

static uint32_t number_at(const uint8_t *from, uint32_t bytes)
{
    uint32_t value = 0;
    for (uint32_t i = 0; i < bytes; i++) {
        value |= (uint32_t)from[i] << 8U * i;
    }
    return value;
}

/* ---- Frames ---- */

uint32_t plf_link_write(const plf_frame *frame, uint8_t to[PLF_FRAME_MOST])
{
    uint8_t *at = to;
    if (frame == NULL || to == NULL || frame->length > PLF_PAYLOAD_MOST) {
        return 0;
    }
    *at++ = START;
    *at++ = frame->length;
    *at++ = frame->kind;
    *at++ = frame->number;
    at = put(at, frame->node, 2);
    for (uint32_t i = 0; i < frame->length; i++) {
        *at++ = frame->payload[i];
    }
    put(at, plf_crc16(0xFFFFU, to + 1, HEAD - 1U + frame->length), 2);
    return AROUND + (uint32_t)frame->length;
}

void plf_link_init(plf_parser *parser)
{
    if (parser != NULL) {
        parser->used = 0;
        parser->quiet = 0;
        parser->dropped = 0;
    }
}

/* `gone` bytes at the front are done with. */
static void shift(plf_parser *parser, uint32_t gone)
{
    for (uint32_t i = gone; i < parser->used; i++) {
        parser->bytes[i - gone] = parser->bytes[i];
    }
    parser->used = (uint8_t)(parser->used - gone);
}

static void drop_one(plf_parser *parser)
{
    parser->dropped++; /* may wrap */
    shift(parser, 1);
}

void plf_link_put(plf_parser *parser, uint8_t byte)
{
    if (parser == NULL) {
        return;
    }
    if (parser->used >= PLF_FRAME_MOST) { /* nobody asked for the frame that was whole */
        drop_one(parser);
    }
    parser->bytes[parser->used++] = byte;
    parser->quiet = 0;
}

void plf_link_quiet(plf_parser *parser)
{
    if (parser != NULL) {
        parser->quiet = 1;
    }
}

/* Length of the frame that the bytes begin with; 0 where they begin none, 255 while that is open. */
static uint32_t whole_frame(const plf_parser *parser)
{
    if (parser->bytes[0] != START) {
        return 0;
    }
    if (parser->used < 2) {
        return UINT8_MAX;
    }
    const uint32_t length = parser->bytes[1];
    if (length > PLF_PAYLOAD_MOST) {
        return 0;
    }
    if (parser->used < AROUND + length) {
        return UINT8_MAX;
    }
    const uint32_t crc = plf_crc16(0xFFFFU, parser->bytes + 1, HEAD - 1U + length);
    return number_at(parser->bytes + HEAD + length, 2) == crc ? AROUND + length : 0;
}

enum plf_result plf_link_next(plf_parser *parser, plf_frame *frame)
{
    if (parser == NULL || frame == NULL) {
        return PLF_REFUSED;
    }
    while (parser->used > 0) {
        const uint32_t size = whole_frame(parser);
        if (size == UINT8_MAX && !parser->quiet) {
            return PLF_DONE;
        }
        if (size == 0 || size == UINT8_MAX) {
            drop_one(parser);
            continue;
        }
        frame->length = parser->bytes[1];
        frame->kind = parser->bytes[2];
        frame->number = parser->bytes[3];
        frame->node = (uint16_t)number_at(parser->bytes + 4, 2);
        for (uint32_t i = 0; i < frame->length; i++) {
            frame->payload[i] = parser->bytes[HEAD + i];
        }
        shift(parser, size);
        return PLF_READY;
    }
    return PLF_DONE;
}

/* ---- Commands ---- */

static void refuse(plf_frame *reply, const plf_frame *command, enum plf_reason why)
{
    reply->kind = PLF_REFUSE;
    reply->payload[0] = command->kind;
    reply->payload[1] = (uint8_t)why;
    reply->length = 2;
}

static void finish(plf_frame *reply, const uint8_t *end)
{
    reply->length = (uint8_t)(end - reply->payload);
}

static void count(const plf_log *log, const plf_frame *command, plf_frame *reply)
{
    plf_log_summary summary;
    if (plf_log_count(log, &summary) != PLF_DONE) {
        refuse(reply, command, PLF_NO_MEMORY);
        return;
    }
    uint8_t *at = put(reply->payload, summary.records, 4);
    at = put(at, summary.oldest, 4);
    finish(reply, put(at, summary.newest, 4));
}

/* A record's number and an offset in it; back come both, its size, what became of the alarm, and the bytes. */
static void read(const plf_log *log, const plf_frame *command, plf_frame *reply)
{
    plf_record record;
    enum plf_outcome outcome = PLF_OPEN;
    const uint32_t sequence = number_at(command->payload, 4);
    const uint32_t offset = number_at(command->payload + 4, 2);
    if (plf_log_find(log, sequence, &record) != PLF_DONE) {
        refuse(reply, command, PLF_NO_RECORD);
        return;
    }
    const uint32_t size = plf_record_size(&record);
    if (offset >= size) {
        refuse(reply, command, PLF_OUT_OF_RECORD);
        return;
    }
    const uint32_t part = size - offset < PLF_PART_MOST ? size - offset : PLF_PART_MOST;
    uint8_t *at = put(reply->payload, sequence, 4);
    at = put(at, offset, 2);
    at = put(at, size, 2);
    if (plf_log_outcome(log, sequence, &outcome) != PLF_DONE
        || plf_log_read(log, sequence, offset, at + 1, part) != PLF_DONE) {
        refuse(reply, command, PLF_NO_MEMORY);
        return;
    }
    *at = (uint8_t)outcome;
    finish(reply, at + 1 + part);
}

/* The station says which record it knows as the newest: an alarm that it has not seen is never cleared. What comes
 * back says that it has begun. */
static void clear(plf_log *log, const plf_frame *command, plf_frame *reply)
{
    plf_log_summary summary;
    if (plf_log_count(log, &summary) != PLF_DONE) {
        refuse(reply, command, PLF_NO_MEMORY);
    } else if (summary.newest != number_at(command->payload, 4) || plf_log_clear(log) != PLF_DONE) {
        refuse(reply, command, PLF_NEWER);
    }
}

static void set_time(const plf_frame *command, plf_frame *reply, plf_order *order)
{
    order->seconds = number_at(command->payload, 4);
    order->milliseconds = (uint16_t)number_at(command->payload + 4, 2);
    if (order->milliseconds > 999) {
        refuse(reply, command, PLF_MALFORMED);
        return;
    }
    order->kind = PLF_ORDER_TIME;
}

/* Payload of each command; -1 of an unknown one. */
static int length_of(uint8_t kind)
{
    switch (kind) {
    case PLF_COUNT:
    case PLF_ARM:
        return 0;
    case PLF_CLEAR:
    case PLF_ACK:
        return 4;
    case PLF_READ:
    case PLF_SET_TIME:
        return 6;
    default:
        return -1;
    }
}

void plf_link_serve(plf_log *log, const plf_frame *command, plf_frame *reply, plf_order *order)
{
    if (command == NULL || reply == NULL || order == NULL) {
        return;
    }
    reply->node = command->node;
    reply->number = command->number;
    reply->kind = (uint8_t)(PLF_REPLY | command->kind);
    reply->length = 0;
    order->kind = PLF_NO_ORDER;
    if (length_of(command->kind) < 0) {
        refuse(reply, command, PLF_UNKNOWN);
    } else if (length_of(command->kind) != command->length) {
        refuse(reply, command, PLF_MALFORMED);
    } else if (command->kind == PLF_COUNT) {
        count(log, command, reply);
    } else if (command->kind == PLF_READ) {
        read(log, command, reply);
    } else if (command->kind == PLF_CLEAR) {
        clear(log, command, reply);
    } else if (command->kind == PLF_SET_TIME) {
        set_time(command, reply, order);
    } else if (command->kind == PLF_ACK) {
        order->kind = PLF_ORDER_ACK;
        order->alarm = number_at(command->payload, 4);
    } else {
        order->kind = PLF_ORDER_ARM;
    }
}

void plf_link_report(const plf_report_of_alarm *alarm, uint16_t node, uint8_t number, plf_frame *frame)
{
    if (alarm == NULL || frame == NULL) {
        return;
    }
    frame->node = node;
    frame->kind = PLF_REPORT;
    frame->number = number;
    uint8_t *at = put(frame->payload, alarm->alarm, 4);
    at = put(at, alarm->seconds, 4);
    at = put(at, alarm->milliseconds, 2);
    at = put(at, alarm->settings_crc32, 4);
    *at++ = alarm->sends;
    *at++ = alarm->withdrawn;
    finish(frame, at);
}
