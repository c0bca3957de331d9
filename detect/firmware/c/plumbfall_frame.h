/* SPDX-License-Identifier: MIT */
/* plumbfall_frame.h: messages of a board to a computer or a station and back, as zero-delimited frames: samples in
 * batches, events, alarms, commands. PROTOCOL.md has the layout byte by byte.
 *
 * To send samples:
 *   plf_message_begin(&message, PLF_MESSAGE_SAMPLES, node, sample_number, time_us);
 *   if (plf_message_sample(&message, x, y, z) == PLF_READY) {    for each sample; then no more fit
 *       send(bytes, plf_frame_write(&message, bytes));           then begin the next one
 *   }
 * To receive, for each byte that comes:
 *   if (plf_frame_put(&receiver, byte, &message) == PLF_READY) { ... }     `message` is whole
 *
 * Whatever comes in, nothing is read or written out of bounds; what fails its checksum is dropped and counted.
 */
#ifndef PLUMBFALL_FRAME_H
#define PLUMBFALL_FRAME_H

#include "plumbfall_record.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_PROTOCOL_VERSION 1U
#define PLF_MESSAGE_MOST 240U /* bytes of payload */
#define PLF_BATCH_MOST 39U    /* samples in one message */
#define PLF_STUFFED_MOST 256U /* bytes of a frame, its zero included */

#define PLF_FIRMWARE_MOST 32U /* characters of a firmware's name */

/* 0x40 to 0x7F are commands: plumbfall_station.h and plumbfall_link.h have them. */
enum plf_message_kind {
    PLF_MESSAGE_SAMPLES = 0x01,
    PLF_MESSAGE_HELLO = 0x02,
    PLF_MESSAGE_EVENT = 0x03,
    PLF_MESSAGE_ECHO = 0x04,  /* the computer's; the reply has its number and the node's own clock */
    PLF_MESSAGE_ALARM = 0x05, /* to a station, which acknowledges it by a command */
    PLF_MESSAGE_REPLY = 0x80, /* added to the kind that it answers */
    PLF_MESSAGE_REFUSED = 0xFF /* the command's kind, and why it was not done */
};
enum plf_event_kind { PLF_EVENT_BUTTON = 1, PLF_EVENT_BATTERY = 2, PLF_EVENT_ALARM = 3 };

typedef struct {
    uint32_t sequence; /* of the first sample; of a command its own number, which the reply repeats */
    uint32_t time_us;  /* the sender's clock then, modulo 2^32 */
    uint16_t node;
    uint8_t kind, length; /* bytes of payload */
    uint8_t payload[PLF_MESSAGE_MOST];
} plf_message;

/* What a node says of itself, at every start and when it is asked. */
typedef struct {
    uint32_t serial_number;
    uint32_t rate_millihz, counts_per_1000_g; /* PLF_RATE_MILLIHZ, PLF_COUNTS_PER_1000_G */
    uint32_t settings_crc32;                  /* identity of those in force */
    uint16_t start;                           /* another one after every reset: counted, or random */
    uint8_t bits;                             /* PLF_RESOLUTION_BITS */
    const char *firmware;                     /* its name and version, 32 characters of ASCII at most */
} plf_hello;

/* What a device says of an alarm: its number is that of its record. */
typedef struct {
    uint32_t alarm, seconds, settings_crc32; /* the identity in force */
    uint16_t milliseconds;
    uint8_t sends, withdrawn;
} plf_alarm_report;

typedef struct {
    uint32_t dropped; /* frames that were damaged, too long or too short */
    uint32_t other;   /* frames of another version of the protocol */
    uint8_t bytes[PLF_STUFFED_MOST];
    uint16_t used;
} plf_receiver;

void plf_message_begin(plf_message *message, uint8_t kind, uint16_t node, uint32_t sequence, uint32_t time_us);
/* Adds a sample to a message of samples. PLF_READY: it is full now; a further one is left out. */
enum plf_result plf_message_sample(plf_message *message, int16_t x, int16_t y, int16_t z);
/* How many samples a message has; 0 where it is of another kind or its length contradicts its count. */
uint32_t plf_message_samples(const plf_message *message);
/* Sample `at` of them, from 0. */
void plf_message_read(const plf_message *message, uint32_t at, int16_t sample[3]);
/* Adds a number of 1 to 4 bytes to the payload. PLF_REFUSED: it doesn't fit, nothing was added. */
enum plf_result plf_message_put(plf_message *message, uint32_t value, uint32_t bytes);
/* The number at a place of the payload; 0 where that is beyond its end. */
uint32_t plf_message_get(const plf_message *message, uint32_t at, uint32_t bytes);
/* These fill a message that has begun. PLF_REFUSED: the firmware's name is too long. */
enum plf_result plf_message_hello(plf_message *message, const plf_hello *hello);
enum plf_result plf_message_alarm(plf_message *message, const plf_alarm_report *report);

/* Bytes of the frame in `to`, its zero included; 0 where the payload is too long. */
uint32_t plf_frame_write(const plf_message *message, uint8_t to[PLF_STUFFED_MOST]);
void plf_frame_init(plf_receiver *receiver);
/* PLF_READY: the byte ended a frame, and `message` is what it holds. */
enum plf_result plf_frame_put(plf_receiver *receiver, uint8_t byte, plf_message *message);

#ifdef __cplusplus
}
#endif

#endif
