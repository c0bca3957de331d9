/* SPDX-License-Identifier: MIT */
/* plumbfall_station.h: what a station may ask of a device, and how the device knows that it is the station.
 *
 *   static const plf_key key = { plf_tag_siphash, key_bytes };               (plumbfall_tag.h, or a hash of your own)
 *   plf_station station = { &key, &block, NODE, status };
 *   if (plf_station_message(&station, &in, now_us, &out, &order) == PLF_READY     for each message that comes, and in the
 *       || plf_station_poll(&station, now_us, &out, &order) == PLF_READY) {       main loop, behind plf_block_poll:
 *       send(bytes, plf_frame_write(&out, bytes));                       send the answer, then do what `order` says
 *   }
 *
 * Commands that change something, and acknowledgements of alarms, end with a trailer of 12 bytes: a counter, and a tag
 * of 8 bytes over all bytes of the message before it. The counter must be above every one that was taken; it is stored
 * before the command is done, so that none is ever done twice, not even after a restart. That takes one poll of the
 * block, or two; until then no other such command is taken, and nothing waits.
 *
 * The tag is a published keyed hash, SipHash-2-4 (its authors' own C is in siphash/) or a keyed BLAKE2 of 8 bytes; the key
 * is given to the device when it is provisioned. Without a key (a null pointer) such commands are refused, unless the
 * build defines PLF_DANGER_ANYBODY_MAY_COMMAND_THIS_DEVICE.
 */
#ifndef PLUMBFALL_STATION_H
#define PLUMBFALL_STATION_H

#include "plumbfall_block.h"
#include "plumbfall_frame.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_TAG_BYTES 8U
#define PLF_TRAILER_BYTES (4U + PLF_TAG_BYTES)
#define PLF_COMMAND_MOST 64U /* bytes of a command's payload, its trailer included */

/* 0x40 to 0x7F. Those up to 0x4F change something and carry a trailer. */
enum plf_command_kind {
    PLF_COMMAND_SET = 0x40,       /* identity of the block, number of the piece, its bytes */
    PLF_COMMAND_CONFIRM = 0x41,   /* identity of what is on trial */
    PLF_COMMAND_ROLL_BACK = 0x42, /* nothing */
    PLF_COMMAND_SELF_TEST = 0x43, /* nothing */
    PLF_COMMAND_STREAM = 0x44,    /* 1: samples are wanted, 0: no more */
    PLF_COMMAND_ACKNOWLEDGE = 0x45, /* the alarm's number */
    PLF_COMMAND_CLEAR = 0x46,     /* the newest alarm's number that the station knows */
    PLF_COMMAND_TIME = 0x47,      /* seconds in 4 bytes, milliseconds in 2 */
    PLF_COMMAND_ARM = 0x48,       /* nothing */
    PLF_COMMAND_GET = 0x50,       /* number of a piece of what is in force */
    PLF_COMMAND_STATUS = 0x51,    /* nothing */
    PLF_COMMAND_HEARTBEAT = 0x52, /* nothing */
    PLF_COMMAND_REPLY = PLF_MESSAGE_REPLY,
    PLF_COMMAND_REFUSED = PLF_MESSAGE_REFUSED /* the command's kind, the reason, and of a block what was wrong with it */
};
enum plf_command_reason {
    PLF_COMMAND_UNKNOWN = 1, PLF_COMMAND_MALFORMED, PLF_COMMAND_NOT_AUTHENTIC, PLF_COMMAND_REPLAYED,
    PLF_COMMAND_NOT_NOW, PLF_COMMAND_BAD_BLOCK, PLF_COMMAND_NO_MEMORY
};

/* The tag of a message; 0 when done. */
typedef struct {
    int (*tag)(void *context, const uint8_t *message, uint32_t size, uint8_t tag[PLF_TAG_BYTES]);
    void *context;
} plf_key;

/* What only the firmware knows: set it before each call. */
typedef struct {
    uint16_t battery_mv;
    uint8_t self_test;   /* what the last self-test found; 0 where there was none */
    uint8_t log_percent; /* of its slots that hold an alarm */
} plf_station_status;

/* Set the first four, the others are zeros at first; `waits` is 1 while a command's counter is being stored. */
typedef struct {
    const plf_key *key; /* NULL: none */
    plf_block *block;
    uint16_t node;
    plf_station_status status;
    uint8_t waits, possible; /* a command; it can be done */
    uint8_t kind, length;    /* of it */
    uint32_t sequence;
    uint8_t payload[PLF_COMMAND_MOST];
} plf_station;

/* What a command asks of the firmware beyond the answer. */
enum plf_station_work {
    PLF_WORK_NONE, PLF_WORK_SELF_TEST, PLF_WORK_STREAM, PLF_WORK_SILENCE,
    PLF_WORK_ACKNOWLEDGE, /* alarm `number` */
    PLF_WORK_CLEAR,       /* the log, unless plf_log_count has a newer alarm than `number` */
    PLF_WORK_TIME,        /* `number` seconds and `milliseconds` */
    PLF_WORK_ARM
};
typedef struct {
    enum plf_station_work work;
    uint32_t number;
    uint16_t milliseconds;
} plf_station_order;

/* PLF_READY: `out` is the answer, to be sent, and `order` what is to be done. PLF_DONE: it is not a command, or for
 * another node, or plf_station_poll will have the answer. PLF_REFUSED for null pointers. */
enum plf_result plf_station_message(plf_station *station, const plf_message *in, uint32_t time_us, plf_message *out,
                                    plf_station_order *order);
/* PLF_READY: likewise, of the command that has waited. PLF_DONE: none has, or it still does. */
enum plf_result plf_station_poll(plf_station *station, uint32_t time_us, plf_message *out, plf_station_order *order);

#ifdef __cplusplus
}
#endif

#endif
