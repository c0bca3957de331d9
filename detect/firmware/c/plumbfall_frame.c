/* SPDX-License-Identifier: MIT */
/* plumbfall_frame.c: see plumbfall_frame.h. C99, integers only. */
#include "plumbfall_frame.h"

#include <stddef.h>

enum { HEAD = 12, CRC = 2, SAMPLE = 6, TOO_LONG = PLF_STUFFED_MOST };

/* ---- Messages ---- */

void plf_message_begin(plf_message *message, uint8_t kind, uint16_t node, uint32_t sequence, uint32_t time_us)
{
    if (message != NULL) {
        message->kind = kind;
        message->node = node;
        message->sequence = sequence;
        message->time_us = time_us;
        message->length = 0;
        message->payload[0] = 0; /* samples: none yet */
    }
}

enum plf_result plf_message_put(plf_message *message, uint32_t value, uint32_t bytes)
{
    if (message == NULL || bytes > 4U || message->length > PLF_MESSAGE_MOST - bytes) {
        return PLF_REFUSED;
    }
    for (uint32_t i = 0; i < bytes; i++) {
        message->payload[message->length++] = (uint8_t)(value & 0xFFU);
        value >>= 8;
    }
    return PLF_DONE;
}

static uint32_t number_at(const uint8_t *from, uint32_t bytes)
{
    uint32_t value = 0;
    for (uint32_t i = 0; i < bytes; i++) {
        value |= (uint32_t)from[i] << 8U * i;
    }
    return value;
}

uint32_t plf_message_get(const plf_message *message, uint32_t at, uint32_t bytes)
{
    if (message == NULL || at > message->length || bytes > message->length - at || bytes > 4U) {
        return 0;
    }
    return number_at(message->payload + at, bytes);
}

enum plf_result plf_message_hello(plf_message *message, const plf_hello *hello)
{
    uint32_t letters = 0;
    if (message == NULL || hello == NULL || hello->firmware == NULL) {
        return PLF_REFUSED;
    }
    while (letters <= PLF_FIRMWARE_MOST && hello->firmware[letters] != 0) {
        letters++;
    }
    if (letters > PLF_FIRMWARE_MOST) {
        return PLF_REFUSED;
    }
    message->length = 0;
    plf_message_put(message, hello->serial_number, 4);
    plf_message_put(message, hello->rate_millihz, 4);
    plf_message_put(message, hello->counts_per_1000_g, 4);
    plf_message_put(message, hello->settings_crc32, 4);
    plf_message_put(message, hello->start, 2);
    plf_message_put(message, hello->bits, 1);
    for (uint32_t i = 0; i < letters; i++) {
        plf_message_put(message, (uint8_t)hello->firmware[i], 1);
    }
    return PLF_DONE;
}

enum plf_result plf_message_alarm(plf_message *message, const plf_alarm_report *report)
{
    if (message == NULL || report == NULL) {
        return PLF_REFUSED;
    }
    message->length = 0;
    plf_message_put(message, report->alarm, 4);
    plf_message_put(message, report->seconds, 4);
    plf_message_put(message, report->milliseconds, 2);
    plf_message_put(message, report->settings_crc32, 4);
    plf_message_put(message, report->sends, 1);
    plf_message_put(message, report->withdrawn, 1);
    return PLF_DONE;
}

enum plf_result plf_message_sample(plf_message *message, int16_t x, int16_t y, int16_t z)
{
    if (message == NULL || message->kind != PLF_MESSAGE_SAMPLES) {
        return PLF_REFUSED;
    }
    if (message->length == 0) {
        message->length = 1; /* how many there are */
    }
    if (message->payload[0] < PLF_BATCH_MOST) {
        plf_message_put(message, (uint16_t)x, 2);
        plf_message_put(message, (uint16_t)y, 2);
        plf_message_put(message, (uint16_t)z, 2);
        message->payload[0]++;
    }
    return message->payload[0] == PLF_BATCH_MOST ? PLF_READY : PLF_DONE;
}

uint32_t plf_message_samples(const plf_message *message)
{
    if (message == NULL || message->kind != PLF_MESSAGE_SAMPLES
        || message->length != 1U + (uint32_t)SAMPLE * message->payload[0]) {
        return 0;
    }
    return message->payload[0];
}

void plf_message_read(const plf_message *message, uint32_t at, int16_t sample[3])
{
    if (sample == NULL || at >= plf_message_samples(message)) {
        return;
    }
    for (uint32_t axis = 0; axis < 3; axis++) {
        sample[axis] = (int16_t)(uint16_t)plf_message_get(message, 1U + SAMPLE * at + 2U * axis, 2);
    }
}

/* ---- Frames out: a zero is replaced by the distance to the next one (Cheshire and Baker 1999) ---- */

typedef struct {
    uint8_t *to;
    uint32_t code, at; /* where the distance goes, where the next byte goes */
    uint16_t crc;
} stuffing;

static void stuff(stuffing *s, uint8_t byte)
{
    s->crc = plf_crc16(s->crc, &byte, 1);
    if (byte != 0) {
        s->to[s->at++] = byte;
        return;
    }
    s->to[s->code] = (uint8_t)(s->at - s->code);
    s->code = s->at++;
}

static void stuff_number(stuffing *s, uint32_t value, uint32_t bytes)
{
    for (uint32_t i = 0; i < bytes; i++) {
        stuff(s, (uint8_t)(value & 0xFFU));
        value >>= 8;
    }
}

uint32_t plf_frame_write(const plf_message *message, uint8_t to[PLF_STUFFED_MOST])
{
    if (message == NULL || to == NULL || message->length > PLF_MESSAGE_MOST) {
        return 0;
    }
    stuffing s = { to, 0, 1, 0xFFFFU };
    stuff(&s, PLF_PROTOCOL_VERSION);
    stuff(&s, message->kind);
    stuff_number(&s, message->node, 2);
    stuff_number(&s, message->sequence, 4);
    stuff_number(&s, message->time_us, 4);
    for (uint32_t i = 0; i < message->length; i++) {
        stuff(&s, message->payload[i]);
    }
    stuff_number(&s, s.crc, CRC);
    to[s.code] = (uint8_t)(s.at - s.code); /* 255 at most: HEAD + PLF_MESSAGE_MOST + CRC is 254 */
    to[s.at++] = 0;
    return s.at;
}

/* ---- Frames in ---- */

void plf_frame_init(plf_receiver *receiver)
{
    if (receiver != NULL) {
        receiver->used = 0;
        receiver->dropped = 0;
        receiver->other = 0;
    }
}

/* Undoes the stuffing in place: bytes of the body, 0 where a distance leads beyond the end. */
static uint32_t unstuffed(uint8_t *bytes, uint32_t size)
{
    uint32_t out = 0;
    uint32_t at = 0;
    while (at < size) {
        const uint32_t end = at + bytes[at];
        if (end > size) {
            return 0;
        }
        for (at++; at < end; at++) {
            bytes[out++] = bytes[at];
        }
        if (at < size) {
            bytes[out++] = 0;
        }
    }
    return out;
}

/* 1: the bytes of a frame, without its zero, hold a message. */
static int whole(plf_receiver *receiver, uint32_t size, plf_message *message)
{
    uint8_t *body = receiver->bytes;
    const uint32_t bytes = size < TOO_LONG ? unstuffed(body, size) : 0;
    if (bytes < HEAD + CRC || number_at(body + bytes - CRC, CRC) != plf_crc16(0xFFFFU, body, bytes - CRC)) {
        receiver->dropped++; /* may wrap */
        return 0;
    }
    if (body[0] != PLF_PROTOCOL_VERSION) {
        receiver->other++; /* may wrap */
        return 0;
    }
    plf_message_begin(message, body[1], (uint16_t)number_at(body + 2, 2), number_at(body + 4, 4),
                      number_at(body + 8, 4));
    message->length = (uint8_t)(bytes - HEAD - CRC);
    for (uint32_t i = 0; i < message->length; i++) {
        message->payload[i] = body[HEAD + i];
    }
    return 1;
}

enum plf_result plf_frame_put(plf_receiver *receiver, uint8_t byte, plf_message *message)
{
    if (receiver == NULL || message == NULL) {
        return PLF_REFUSED;
    }
    if (byte != 0) {
        if (receiver->used < TOO_LONG) {
            receiver->bytes[receiver->used++] = byte;
        }
        return PLF_DONE;
    }
    const uint32_t size = receiver->used;
    receiver->used = 0;
    return size > 0 && whole(receiver, size, message) ? PLF_READY : PLF_DONE; /* two zeros running are no frame */
}
