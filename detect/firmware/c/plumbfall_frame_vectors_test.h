/* SPDX-License-Identifier: MIT */
/* plumbfall_frame_vectors_test.h: the part of plumbfall_device_vectors_test.c, which alone includes it, that runs the
 * vectors of frames.
 */
#ifndef PLUMBFALL_FRAME_VECTORS_TEST_H
#define PLUMBFALL_FRAME_VECTORS_TEST_H

#include "plumbfall_log_vectors_test.h"

/* What is behind a buffer is not written. */
typedef struct {
    plf_message message;
    uint32_t fence;
} fenced_message;
typedef struct {
    plf_receiver receiver;
    uint32_t fence;
} fenced_receiver;

/* Bytes as they arrive: every message is found, in order. */
static int line_passes(const plf_line_vector *v)
{
    fenced_receiver fenced;
    fenced_message found;
    uint32_t out = 0;
    fenced.fence = found.fence = 0xA5A5A5A5U;
    fenced.receiver.used = 3;
    fenced.receiver.dropped = fenced.receiver.other = 3;
    plf_frame_init(&fenced.receiver);
    for (uint32_t i = 0; i < v->in_size; i++) {
        const enum plf_result result = plf_frame_put(&fenced.receiver, plf_vector_bytes[v->in_at + i], &found.message);
        if (result == PLF_DONE) {
            continue;
        }
        if (result != PLF_READY) {
            return 0;
        }
        uint32_t size = 1;
        while (out + size < v->out_size && plf_vector_bytes[v->out_at + out + size - 1U] != 0) {
            size++;
        }
        if (out + size > v->out_size || !frames(&found.message, &plf_vector_bytes[v->out_at + out], size)) {
            return 0;
        }
        out += size;
    }
    return out == v->out_size && fenced.receiver.dropped == v->dropped && fenced.receiver.other == v->other
        && fenced.fence == 0xA5A5A5A5U && found.fence == 0xA5A5A5A5U;
}

/* Samples one by one become the batch's frame, and come out of it again. */
static int batch_passes(const plf_batch_vector *v)
{
    plf_message message;
    plf_receiver receiver;
    int whole = 0;
    message.length = 77;
    plf_message_begin(&message, PLF_MESSAGE_SAMPLES, v->node, v->sequence, v->time_us);
    for (uint32_t i = 0; i < v->samples; i++) {
        const int16_t *s = plf_vector_samples[v->samples_at + i];
        if (plf_message_sample(&message, s[0], s[1], s[2]) != (i + 1U == PLF_BATCH_MOST ? PLF_READY : PLF_DONE)) {
            return 0;
        }
    }
    if (v->samples == PLF_BATCH_MOST && plf_message_sample(&message, 1, 2, 3) != PLF_READY) {
        return 0;
    }
    if (!frames(&message, &plf_vector_bytes[v->bytes_at], v->size)) {
        return 0;
    }
    message.length = 0;
    plf_frame_init(&receiver);
    for (uint32_t i = 0; i < v->size; i++) {
        whole += plf_frame_put(&receiver, plf_vector_bytes[v->bytes_at + i], &message) == PLF_READY;
    }
    if (whole != 1 || message.sequence != v->sequence || message.time_us != v->time_us || message.node != v->node
        || message.kind != PLF_MESSAGE_SAMPLES || plf_message_samples(&message) != v->samples) {
        return 0;
    }
    for (uint32_t i = 0; i < v->samples; i++) {
        int16_t out[4] = { 0, 0, 0, FENCED };
        const int16_t *s = plf_vector_samples[v->samples_at + i];
        plf_message_read(&message, i, out);
        if (out[0] != s[0] || out[1] != s[1] || out[2] != s[2] || out[3] != FENCED) {
            return 0;
        }
    }
    return 1;
}

static int hello_passes(const plf_hello_vector *v)
{
    fenced_message fenced;
    fenced.fence = 0xA5A5A5A5U;
    plf_message_begin(&fenced.message, PLF_MESSAGE_HELLO, v->node, v->sequence, v->time_us);
    fenced.message.length = 9;
    return plf_message_hello(&fenced.message, &v->hello) == PLF_DONE
        && frames(&fenced.message, &plf_vector_bytes[v->bytes_at], v->size)
        && plf_message_get(&fenced.message, 0, 4) == v->hello.serial_number
        && plf_message_get(&fenced.message, 16, 2) == v->hello.start
        && plf_message_get(&fenced.message, 18, 1) == v->hello.bits && fenced.fence == 0xA5A5A5A5U;
}

/* Numbers fill the payload to its last byte and no further; what is beyond its end reads as 0. */
static int numbers_keep_to_the_payload(void)
{
    static const char long_name[] = "123456789012345678901234567890123";
    const plf_hello too_long = { 1, 2, 3, 4, 5, 6, long_name };
    const plf_hello nameless = { 1, 2, 3, 4, 5, 6, NULL };
    fenced_message fenced;
    plf_message *m = &fenced.message;
    fenced.fence = 0xA5A5A5A5U;
    plf_message_begin(m, 0x41, 1, 2, 3);
    int good = plf_message_hello(m, &too_long) == PLF_REFUSED && plf_message_hello(m, &nameless) == PLF_REFUSED
        && m->length == 0 && plf_message_hello(NULL, &too_long) == PLF_REFUSED
        && plf_message_hello(m, NULL) == PLF_REFUSED && plf_message_put(NULL, 1, 1) == PLF_REFUSED
        && plf_message_get(NULL, 0, 1) == 0 && plf_message_put(m, 7, 5) == PLF_REFUSED
        && plf_message_put(m, 0x04030201U, 3) == PLF_DONE && m->length == 3 && plf_message_get(m, 0, 4) == 0
        && plf_message_get(m, 0, 3) == 0x030201U && plf_message_get(m, 1, 2) == 0x0302U
        && plf_message_get(m, 2, 2) == 0 && plf_message_get(m, 4, 1) == 0 && plf_message_get(m, 3, 0) == 0
        && plf_message_get(m, 4, 0) == 0;
    good = good && plf_message_put(m, 0xA4A3A2A1U, 4) == PLF_DONE && plf_message_get(m, 3, 4) == 0xA4A3A2A1U;
    while (good && m->length < PLF_MESSAGE_MOST - 1U) {
        good = plf_message_put(m, m->length, 1) == PLF_DONE;
    }
    good = good && plf_message_put(m, 1, 2) == PLF_REFUSED && m->length == PLF_MESSAGE_MOST - 1U
        && plf_message_put(m, 9, 1) == PLF_DONE && m->length == PLF_MESSAGE_MOST && plf_message_put(m, 1, 1) == PLF_REFUSED && plf_message_get(m, 239, 1) == 9
        && plf_message_get(m, 239, 2) == 0 && plf_message_get(m, 240, 1) == 0 && plf_message_get(m, 0, 5) == 0
        && plf_message_get(m, 236, 4) == 0x09EEEDECU;
    m->length = PLF_MESSAGE_MOST + 1U;
    return good && plf_message_put(m, 1, 1) == PLF_REFUSED && fenced.fence == 0xA5A5A5A5U;
}

/* A count that contradicts the length, another kind, an empty message: no samples, and none are read. */
static int counts_only_samples(void)
{
    int16_t out[3] = { FENCED, FENCED, FENCED };
    plf_message message;
    plf_message_begin(&message, PLF_MESSAGE_SAMPLES, 1, 2, 3);
    int good = message.length == 0 && plf_message_samples(&message) == 0;
    good = good && plf_message_sample(&message, 4, 5, 6) == PLF_DONE && plf_message_samples(&message) == 1;
    plf_message_read(&message, 1, out);
    message.length++;
    good = good && plf_message_samples(&message) == 0;
    plf_message_read(&message, 0, out);
    message.length = (uint8_t)(message.length - 2U);
    good = good && plf_message_samples(&message) == 0;
    message.length++;
    message.kind = PLF_MESSAGE_SAMPLES + 1;
    good = good && plf_message_samples(&message) == 0 && plf_message_sample(&message, 7, 8, 9) == PLF_REFUSED
        && message.length == 7;
    plf_message_read(&message, 0, out);
    return good && out[0] == FENCED && out[1] == FENCED && out[2] == FENCED;
}

static int frame_refuses_misuse(void)
{
    plf_message message;
    plf_receiver receiver;
    int16_t sample[3] = { 0, 0, 0 };
    uint8_t out[PLF_STUFFED_MOST];
    out[0] = 0xA5;
    plf_frame_init(&receiver);
    plf_frame_init(NULL);
    plf_message_begin(NULL, 1, 1, 1, 1);
    const int alarm = plf_message_alarm(NULL, &plf_vector_report) == PLF_REFUSED
        && plf_message_alarm(&message, NULL) == PLF_REFUSED;
    plf_message_read(NULL, 0, sample);
    plf_message_begin(&message, PLF_MESSAGE_SAMPLES, 1, 2, 3);
    const int good = plf_message_sample(&message, 1, 2, 3) == PLF_DONE;
    plf_message_read(&message, 0, NULL);
    message.length = PLF_MESSAGE_MOST + 1U;
    return good && alarm && plf_frame_write(&message, out) == 0 && out[0] == 0xA5 && plf_frame_write(NULL, out) == 0
        && plf_frame_write(&message, NULL) == 0 && plf_message_sample(NULL, 1, 2, 3) == PLF_REFUSED
        && plf_message_samples(NULL) == 0 && plf_frame_put(NULL, 0, &message) == PLF_REFUSED
        && plf_frame_put(&receiver, 7, NULL) == PLF_REFUSED && receiver.used == 0;
}

#endif
