/* SPDX-License-Identifier: MIT */
/* plumbfall_link.h: messages between device and station, as frames of bytes. LOG.md has the layout.
 *
 *   plf_link_put(&parser, byte);                                    for each byte that comes
 *   while (plf_link_next(&parser, &frame) == PLF_READY) {           then for each frame that is whole
 *       plf_link_serve(&log, &frame, &reply, &order);               do what `order` says, send the reply
 *   }
 *
 * Whatever comes in, cut short, garbled or made up, nothing is read or written out of bounds; what fails its checksum
 * is dropped and counted, and a good frame behind it is found.
 */
#ifndef PLUMBFALL_LINK_H
#define PLUMBFALL_LINK_H

#include "plumbfall_log.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_PAYLOAD_MOST 64U
#define PLF_FRAME_MOST (PLF_PAYLOAD_MOST + 8U)
#define PLF_PART_MOST 48U /* bytes of a record in one reply */
#define PLF_EVERYBODY 0xFFFFU

enum plf_frame_kind {
    PLF_COUNT = 0x01, PLF_READ = 0x02, PLF_CLEAR = 0x03, PLF_SET_TIME = 0x04, PLF_ACK = 0x05, PLF_ARM = 0x06,
    PLF_REPORT = 0x10,  /* the device's own: an alarm */
    PLF_REPLY = 0x80,   /* or-ed to the command that it answers */
    PLF_REFUSE = 0xFF   /* why a command was not done */
};
enum plf_reason { PLF_UNKNOWN = 1, PLF_MALFORMED, PLF_NO_RECORD, PLF_OUT_OF_RECORD, PLF_NEWER, PLF_NO_MEMORY };

typedef struct {
    uint16_t node;  /* of the sender, or of the receiver; PLF_EVERYBODY */
    uint8_t kind, number, length; /* `number` of a reply is its command's */
    uint8_t payload[PLF_PAYLOAD_MOST];
} plf_frame;

typedef struct {
    uint8_t bytes[PLF_FRAME_MOST];
    uint8_t used, quiet;
    uint32_t dropped; /* bytes that were part of no frame */
} plf_parser;

/* What a command asks of the firmware beyond the reply. */
enum plf_order_kind { PLF_NO_ORDER, PLF_ORDER_TIME, PLF_ORDER_ACK, PLF_ORDER_ARM };
typedef struct {
    enum plf_order_kind kind;
    uint32_t seconds, alarm; /* of PLF_ORDER_TIME, of PLF_ORDER_ACK */
    uint16_t milliseconds;
} plf_order;

/* What a report says: the alarm's number is that of its record. */
typedef struct {
    uint32_t alarm, seconds, settings_crc32;
    uint16_t milliseconds;
    uint8_t sends, withdrawn;
} plf_report_of_alarm;

/* Bytes of the frame in `to`, 0 where it is too long to be one. */
uint32_t plf_link_write(const plf_frame *frame, uint8_t to[PLF_FRAME_MOST]);
void plf_link_init(plf_parser *parser);
void plf_link_put(plf_parser *parser, uint8_t byte);
/* Nothing comes any more: a frame that began and did not end is dropped. Call plf_link_next afterwards. */
void plf_link_quiet(plf_parser *parser);
/* PLF_READY: `frame` is whole; call again. PLF_DONE: more bytes are needed. */
enum plf_result plf_link_next(plf_parser *parser, plf_frame *frame);

/* Answers a command from the log. The caller has to look at `node` first. */
void plf_link_serve(plf_log *log, const plf_frame *command, plf_frame *reply, plf_order *order);
void plf_link_report(const plf_report_of_alarm *alarm, uint16_t node, uint8_t number, plf_frame *frame);

#ifdef __cplusplus
}
#endif

#endif
