/* SPDX-License-Identifier: MIT */
/* plumbfall_link.c: see plumbfall_link.h. C99, integers only. */
#include "plumbfall_link.h"

#include <stddef.h>

enum { COUNT_BYTES = 0, READ_BYTES = 6 };

static void refuse(plf_message *reply, const plf_message *command, enum plf_link_reason why)
{
    reply->kind = PLF_MESSAGE_REFUSED;
    reply->length = 0;
    plf_message_put(reply, command->kind, 1);
    plf_message_put(reply, (uint32_t)why, 1);
}

static void count(const plf_log *log, const plf_message *command, plf_message *reply)
{
    plf_log_summary summary;
    if (plf_log_count(log, &summary) != PLF_DONE) {
        refuse(reply, command, PLF_LINK_NO_MEMORY);
        return;
    }
    plf_message_put(reply, summary.records, 4);
    plf_message_put(reply, summary.oldest, 4);
    plf_message_put(reply, summary.newest, 4);
}

/* A record's number and an offset in it; back come both, its size, what became of the alarm, and the bytes. */
static void read(const plf_log *log, const plf_message *command, plf_message *reply)
{
    plf_record record;
    enum plf_outcome outcome = PLF_OPEN;
    const uint32_t sequence = plf_message_get(command, 0, 4);
    const uint32_t offset = plf_message_get(command, 4, 2);
    if (plf_log_find(log, sequence, &record) != PLF_DONE) {
        refuse(reply, command, PLF_LINK_NO_RECORD);
        return;
    }
    const uint32_t size = plf_record_size(&record);
    if (offset >= size) {
        refuse(reply, command, PLF_LINK_BEHIND_RECORD);
        return;
    }
    const uint32_t part = size - offset < PLF_PART_MOST ? size - offset : PLF_PART_MOST;
    plf_message_put(reply, sequence, 4);
    plf_message_put(reply, offset, 2);
    plf_message_put(reply, size, 2);
    if (plf_log_outcome(log, sequence, &outcome) != PLF_DONE
        || plf_log_read(log, sequence, offset, reply->payload + reply->length + 1U, part) != PLF_DONE) {
        refuse(reply, command, PLF_LINK_NO_MEMORY);
        return;
    }
    plf_message_put(reply, (uint32_t)outcome, 1);
    reply->length = (uint8_t)(reply->length + part);
}

enum plf_result plf_link_serve(const plf_log *log, const plf_message *command, uint32_t time_us, plf_message *reply)
{
    if (command == NULL || reply == NULL) {
        return PLF_REFUSED;
    }
    if (command->kind != PLF_COUNT && command->kind != PLF_READ) {
        return PLF_DONE;
    }
    plf_message_begin(reply, (uint8_t)(PLF_MESSAGE_REPLY | command->kind), command->node, command->sequence, time_us);
    if (command->length != (command->kind == PLF_COUNT ? COUNT_BYTES : READ_BYTES)) {
        refuse(reply, command, PLF_LINK_MALFORMED);
    } else if (command->kind == PLF_COUNT) {
        count(log, command, reply);
    } else {
        read(log, command, reply);
    }
    return PLF_READY;
}
