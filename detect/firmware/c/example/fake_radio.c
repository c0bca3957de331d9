/* SPDX-License-Identifier: MIT */
/* fake_radio.c: a line to a station that hears every other report; sends other parameters and confirms them, acknowledges
 * alarms with its tag, and asks for every record at the end.
 */
#include "fake.h"
#include "plumbfall_link.h"

uint8_t board_key[PLF_KEY_BYTES] = { 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15 };

enum { LINE = 1024, HEAD = 12 };

static uint8_t line[LINE]; /* bytes on their way to the device */
static uint32_t put_at, taken_at;
static plf_receiver receiver;
static plf_message heard, said;
static uint32_t counter, number, reports, newest;
static uint32_t record, last_record; /* that is read next, at the end */
static uint32_t identity; /* of the parameters that were sent */
static uint8_t block[PLF_BLOCK_BYTES];
static uint8_t pieces, asked;

/* ---- What the station says ---- */

static void say(void)
{
    static uint8_t bytes[PLF_STUFFED_MOST];
    const uint32_t size = plf_frame_write(&said, bytes);
    for (uint32_t i = 0; i < size; i++) {
        line[put_at++ % LINE] = bytes[i];
    }
}

static void begin(uint8_t kind)
{
    number++;
    plf_message_begin(&said, kind, BOARD_NODE, number, 1000U * number);
}

static void put(uint8_t *to, uint32_t value, uint32_t bytes)
{
    for (uint32_t i = 0; i < bytes; i++) {
        to[i] = (uint8_t)(value >> 8U * i & 0xFFU);
    }
}

/* The tag is over all bytes of the message before it. */
static void say_signed(void)
{
    uint8_t body[HEAD + PLF_COMMAND_MOST];
    uint8_t tag[PLF_TAG_BYTES];
    plf_message_put(&said, ++counter, 4);
    body[0] = PLF_PROTOCOL_VERSION;
    body[1] = said.kind;
    put(body + 2, said.node, 2);
    put(body + 4, said.sequence, 4);
    put(body + 8, said.time_us, 4);
    for (uint32_t i = 0; i < said.length; i++) {
        body[HEAD + i] = said.payload[i];
    }
    plf_tag_siphash(board_key, body, (uint32_t)HEAD + said.length, tag);
    for (uint32_t i = 0; i < PLF_TAG_BYTES; i++) {
        plf_message_put(&said, tag[i], 1);
    }
    say();
}

static void command(uint8_t kind, uint32_t value)
{
    begin(kind);
    plf_message_put(&said, value, 4);
    say_signed();
}

/* ---- What it hears ---- */

static void on_alarm(void)
{
    const uint32_t alarm = plf_message_get(&heard, 0, 4);
    fake.other_identities += plf_message_get(&heard, 10, 4) != identity;
    if (++reports % 2 == 0) { /* the others are lost on their way */
        fake.heard += alarm > newest;
        newest = alarm;
        command(PLF_COMMAND_ACKNOWLEDGE, alarm);
    }
}

static void ask_for_piece(uint32_t piece)
{
    begin(PLF_COMMAND_GET);
    plf_message_put(&said, piece, 1);
    say();
}

/* What is in force, with a hold-off that is another by one sample, goes back to be tried. */
static void send_parameters(void)
{
    static plf_parameters parameters;
    plf_parameters_read(block, &parameters);
    parameters.settings.hold_off_samples = (uint16_t)(parameters.settings.hold_off_samples ^ 1U);
    plf_parameters_write(&parameters, block);
    identity = plf_crc32(0, block, PLF_PARAMETERS_BYTES);
    put(block + PLF_PARAMETERS_BYTES, identity, 4);
    for (uint32_t at = 0, piece = 0; at < PLF_BLOCK_BYTES; at += PLF_PIECE_BYTES, piece++) {
        begin(PLF_COMMAND_SET);
        plf_message_put(&said, identity, 4);
        plf_message_put(&said, piece, 1);
        for (uint32_t i = at; i < at + PLF_PIECE_BYTES && i < PLF_BLOCK_BYTES; i++) {
            plf_message_put(&said, block[i], 1);
        }
        say_signed();
    }
}

static void on_piece(void)
{
    for (uint32_t i = 5; i < heard.length; i++) {
        block[pieces * PLF_PIECE_BYTES + i - 5U] = heard.payload[i];
    }
    if (++pieces < PLF_PIECES) {
        ask_for_piece(pieces);
    } else {
        send_parameters();
    }
}

static void on_status(void)
{
    if (plf_message_get(&heard, 1, 1) == PLF_BLOCK_TRIAL) {
        command(PLF_COMMAND_CONFIRM, plf_message_get(&heard, 2, 4));
    }
}

static void on_hello(void)
{
    if (pieces == 0) {
        ask_for_piece(0);
    } else { /* after a switch: on trial now */
        fake.other_identities += plf_message_get(&heard, 12, 4) != identity;
        begin(PLF_COMMAND_STATUS);
        say();
    }
}

/* At the end every record is asked what became of its alarm. */
static void read_next(void)
{
    if (record != 0 && record <= last_record) {
        begin(PLF_READ);
        plf_message_put(&said, record++, 4);
        plf_message_put(&said, 0, 2);
        say();
    }
}

static void on_count(void)
{
    fake.records = plf_message_get(&heard, 0, 4);
    record = plf_message_get(&heard, 4, 4);
    last_record = plf_message_get(&heard, 8, 4);
    read_next();
}

static void on_record(void)
{
    const uint32_t outcome = plf_message_get(&heard, 8, 1);
    fake.other_identities += plf_message_get(&heard, 9U + 20U, 4) != identity; /* of the record's own bytes */
    fake.kept_cancelled += outcome == PLF_CANCELLED;
    fake.kept_acknowledged += outcome == PLF_ACKNOWLEDGED;
    read_next();
}

static void hear(void)
{
    switch (heard.kind) {
    case PLF_MESSAGE_HELLO:
        on_hello();
        break;
    case PLF_MESSAGE_ALARM:
        on_alarm();
        break;
    case PLF_MESSAGE_REPLY | PLF_COMMAND_GET:
        on_piece();
        break;
    case PLF_MESSAGE_REPLY | PLF_COMMAND_STATUS:
        on_status();
        break;
    case PLF_MESSAGE_REPLY | PLF_COMMAND_CONFIRM:
        fake.confirmed++;
        break;
    case PLF_MESSAGE_REPLY | PLF_COUNT:
        on_count();
        break;
    case PLF_MESSAGE_REPLY | PLF_READ:
        on_record();
        break;
    case PLF_MESSAGE_REFUSED:
        fake.refused++;
        break;
    default: /* a reply that changes nothing here */
        break;
    }
}

/* ---- The board's side ---- */

void board_send(const uint8_t *bytes, uint32_t size)
{
    for (uint32_t i = 0; i < size; i++) {
        if (plf_frame_put(&receiver, bytes[i], &heard) == PLF_READY) {
            hear();
        }
    }
}

int board_receive(void)
{
    return taken_at < put_at ? line[taken_at++ % LINE] : -1;
}

/* At the end the station asks how many records there are, and for each of them. */
uint8_t fake_radio_is_done(void)
{
    if (!asked) {
        begin(PLF_COUNT);
        say();
        asked = 1;
        return 0;
    }
    return taken_at == put_at;
}

#ifdef FAKE_SAY /* whoever has no standard output defines it as a function of a name and a number */
void FAKE_SAY(const char *name, uint32_t number_of_it);
#define SAY(name) FAKE_SAY(#name, fake.name)
#else
#include <stdio.h>
#define SAY(name) printf(#name " %lu\n", (unsigned long)fake.name)
#endif

int board_result(void)
{
    SAY(expected);
    SAY(heard);
    SAY(cancelled);
    SAY(delivered);
    SAY(undelivered);
    SAY(records);
    SAY(kept_cancelled);
    SAY(kept_acknowledged);
    SAY(other_identities);
    SAY(refused);
    SAY(confirmed);
    return fake.expected > 0 && fake.heard + fake.cancelled == fake.expected && fake.delivered == fake.heard
            && fake.records == fake.expected && fake.kept_cancelled == fake.cancelled
            && fake.kept_acknowledged == fake.delivered && fake.other_identities == 0 && fake.refused == 0
            && fake.confirmed == 1 ? 0 : 1;
}
