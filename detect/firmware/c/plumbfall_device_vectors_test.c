/* SPDX-License-Identifier: MIT */
/* plumbfall_device_vectors_test.c: runs the golden vectors of record, recorder, log, alarm, link and frame, on the host
 * or on the target.
 *
 * On the host: cc -std=c99 -O2 -o device_vectors_test plumbfall_device_vectors_test.c plumbfall_record.c
 *                  plumbfall_log.c plumbfall_recorder.c plumbfall_alarm.c plumbfall_link.c plumbfall_frame.c
 *                  plumbfall_crc.c && ./device_vectors_test
 * On the target: define PLF_DEVICE_VECTORS_NO_MAIN, include this file in one of yours, call plf_device_vectors_test and
 * look at the counts. It needs 4 KiB of RAM and does not touch your flash.
 */
#include "plumbfall_frame_vectors_test.h"

/* ---- Checksums and records ---- */

static int checksums_are_right(void)
{
    static const uint8_t digits[] = { '1', '2', '3', '4', '5', '6', '7', '8', '9' };
    return plf_crc32(0, digits, 9) == 0xCBF43926U && plf_crc16(0xFFFFU, digits, 9) == 0x29B1U
        && plf_crc32(plf_crc32(0, digits, 4), digits + 4, 5) == 0xCBF43926U
        && plf_crc16(plf_crc16(0xFFFFU, digits, 4), digits + 4, 5) == 0x29B1U;
}

static int same_event(const plf_event *a, const plf_event *b)
{
    return a->ended == b->ended && a->early == b->early && a->failed == b->failed && a->skipped == b->skipped
        && a->has == b->has && a->q == b->q && a->n == b->n && a->decided == b->decided
        && a->first_low_ago == b->first_low_ago && a->last_low_ago == b->last_low_ago
        && a->first_impact_ago == b->first_impact_ago && a->impact_ago == b->impact_ago && a->lowest == b->lowest
        && a->highest == b->highest && a->restarts == b->restarts && a->peak == b->peak && a->dot == b->dot
        && a->dot_u == b->dot_u && a->a_sq == b->a_sq && a->b_sq == b->b_sq && a->a_u_sq == b->a_u_sq
        && a->u_sq == b->u_sq && a->spread == b->spread;
}

static int same_record(const plf_record *a, const plf_record *b)
{
    return a->sequence == b->sequence && a->seconds == b->seconds && a->milliseconds == b->milliseconds
        && a->node == b->node && a->settings_crc32 == b->settings_crc32 && a->rate_millihz == b->rate_millihz
        && a->counts_per_1000_g == b->counts_per_1000_g && a->memory_bytes == b->memory_bytes
        && a->slot_bytes == b->slot_bytes && a->before == b->before && a->after == b->after && a->kind == b->kind
        && a->bits == b->bits && a->shift == b->shift && a->measured == b->measured
        && same_event(&a->event, &b->event);
}

/* `bytes` holds a whole record: every flipped bit and every cut is noticed. */
static int notices_damage(uint32_t size)
{
    plf_record record;
    for (uint32_t bit = 0; bit < size * BITS_A_BYTE; bit++) {
        bytes[bit / BITS_A_BYTE] = (uint8_t)(bytes[bit / BITS_A_BYTE] ^ 1U << bit % BITS_A_BYTE);
        const enum plf_record_fault fault = plf_record_read(bytes, size, &record);
        bytes[bit / BITS_A_BYTE] = (uint8_t)(bytes[bit / BITS_A_BYTE] ^ 1U << bit % BITS_A_BYTE);
        if (fault == PLF_RECORD_WHOLE) {
            return 0;
        }
    }
    for (uint32_t some = 0; some < size; some++) {
        if (plf_record_read(bytes, some, &record) != PLF_RECORD_SHORT) {
            return 0;
        }
    }
    return plf_record_read(bytes, size, &record) == PLF_RECORD_WHOLE;
}

/* A record that an earlier firmware wrote: it says version 1, and its checksums are right. */
static int reads_version_1(uint32_t size)
{
    plf_record record;
    bytes[1] = (uint8_t)((bytes[1] & 0xF0U) | 1U);
    const uint32_t head = plf_crc16(0xFFFFU, bytes, PLF_RECORD_HEADER - 2U);
    bytes[PLF_RECORD_HEADER - 2U] = (uint8_t)(head & 0xFFU);
    bytes[PLF_RECORD_HEADER - 1U] = (uint8_t)(head >> BITS_A_BYTE);
    uint32_t all = plf_crc32(0, bytes, size - PLF_RECORD_CRC);
    for (uint32_t i = size - PLF_RECORD_CRC; i < size; i++) {
        bytes[i] = (uint8_t)(all & 0xFFU);
        all >>= BITS_A_BYTE;
    }
    return plf_record_read(bytes, size, &record) == PLF_RECORD_WHOLE;
}

static int record_passes(const plf_record_vector *v)
{
    plf_record record;
    for (uint32_t i = 0; i < BYTES; i++) {
        bytes[i] = 0xA5;
    }
    pack_all(v);
    if (bytes[v->size - PLF_RECORD_CRC] != 0xA5 || plf_record_size(&v->record) != v->size
        || plf_record_write(&v->record, bytes, v->size - 1U) != 0
        || plf_record_write(&v->record, bytes, v->size) != v->size || bytes[v->size] != 0xA5
        || !same_bytes(bytes, &plf_vector_bytes[v->bytes_at], v->size)
        || plf_record_read(bytes, v->size, &record) != PLF_RECORD_WHOLE || !same_record(&record, &v->record)) {
        return 0;
    }
    for (uint32_t i = 0; i < (uint32_t)v->record.before + v->record.after; i++) {
        int16_t out[4] = { 0, 0, 0, FENCED };
        const int16_t *kept = plf_vector_kept[v->samples_at + i];
        plf_unpack(bytes + plf_record_samples(&record), i, record.bits, record.shift, out);
        if (out[0] != kept[0] || out[1] != kept[1] || out[2] != kept[2] || out[3] != FENCED) {
            return 0;
        }
    }
    return notices_damage(v->size) && reads_version_1(v->size);
}

/* The largest sizes, more than `bytes` can hold; 0 where the numbers contradict each other. */
static int has_size(const plf_size_vector *v)
{
    return plf_record_size(&v->record) == v->size && plf_record_write(&v->record, bytes, BYTES) == 0;
}

/* Bytes that are not a record, though most of them may be right. */
static int refuses(const plf_fault_vector *v)
{
    plf_record record;
    return plf_record_read(&plf_vector_bytes[v->bytes_at], v->size, &record) == (enum plf_record_fault)v->fault;
}

/* ---- Recorder ---- */

/* As many polls as the header says, at most. */
static int is_taken(plf_recorder *recorder, const plf_recorder_step_vector *step)
{
    const uint32_t most = ((uint32_t)recorder->shape.before + recorder->shape.after) / 16U + 4U;
    enum plf_result result = plf_recorder_poll(recorder);
    for (uint32_t polls = 1; result == PLF_DONE && polls < most; polls++) {
        result = plf_recorder_poll(recorder);
    }
    if (result != (enum plf_result)step->result || recorder->lost != step->times || (recorder->ready == NULL) != (result != PLF_READY)) {
        return 0;
    }
    if (result == PLF_READY) {
        const uint32_t size = plf_record_write(&recorder->record, recorder->ready, BYTES);
        if (size == 0 || hash_of(recorder->ready, size) != step->hash) {
            return 0;
        }
    }
    if (step->kind == PLF_STEP_TAKE) {
        plf_recorder_release(recorder);
        return recorder->ready == NULL;
    }
    return 1;
}

static int recorder_step_passes(plf_recorder *recorder, const plf_recorder_step_vector *step, int16_t *next)
{
    enum plf_result result = PLF_DONE;
    switch (step->kind) {
    case PLF_STEP_SAMPLES:
        for (uint16_t k = 0; k < step->times; k++, (*next)++) {
            if (result != PLF_DONE) {
                return 0; /* complete before the last of them */
            }
            result = plf_recorder_step(recorder, *next, (int16_t)-*next, (int16_t)(100 - *next));
        }
        break;
    case PLF_STEP_ALARM:
        result = plf_recorder_alarm(recorder, &plf_vector_event, step->times + 70000UL, step->times, 250);
        break;
    case PLF_STEP_GAP:
        result = plf_recorder_gap(recorder);
        break;
    default:
        return is_taken(recorder, step);
    }
    return result == (enum plf_result)step->result;
}

static int recorder_passes(const plf_recorder_vector *v)
{
    plf_recorder recorder;
    int16_t next = 0;
    const uint32_t room = plf_record_size(&v->shape);
    bytes[room] = 0xA5;
    other[room] = 0xA5;
    if (plf_recorder_init(&recorder, &v->shape, bytes, other, room - 1U) != PLF_REFUSED
        || plf_recorder_step(&recorder, 1, 2, 3) != PLF_REFUSED
        || plf_recorder_init(&recorder, &v->shape, bytes, other, room) != PLF_DONE) {
        return 0;
    }
    for (uint32_t i = 0; i < v->steps; i++) {
        if (!recorder_step_passes(&recorder, &plf_recorder_steps[v->steps_at + i], &next)) {
            return 0;
        }
    }
    return bytes[room] == 0xA5 && other[room] == 0xA5;
}

static int recorder_refuses_misuse(void)
{
    const plf_record *shape = &plf_recorder_vectors[0].shape;
    plf_record impossible = *shape;
    plf_recorder recorder;
    impossible.bits = 1;
    int good = plf_recorder_init(&recorder, NULL, bytes, other, BYTES) == PLF_REFUSED
        && plf_recorder_init(&recorder, shape, NULL, other, BYTES) == PLF_REFUSED
        && plf_recorder_init(&recorder, shape, bytes, NULL, BYTES) == PLF_REFUSED
        && plf_recorder_init(&recorder, &impossible, bytes, other, BYTES) == PLF_REFUSED
        && plf_recorder_alarm(&recorder, &plf_vector_event, 1, 1, 1) == PLF_REFUSED
        && plf_recorder_gap(&recorder) == PLF_REFUSED && plf_recorder_poll(&recorder) == PLF_REFUSED
        && plf_recorder_poll(NULL) == PLF_REFUSED
        && plf_recorder_init(NULL, shape, bytes, other, BYTES) == PLF_REFUSED;
    plf_recorder_release(NULL);
    plf_recorder_release(&recorder);
    impossible = *shape;
    impossible.before = 0;
    return good && plf_recorder_init(&recorder, &impossible, bytes, other, BYTES) == PLF_REFUSED
        && plf_recorder_init(&recorder, shape, bytes, other, BYTES) == PLF_DONE
        && plf_recorder_alarm(NULL, &plf_vector_event, 1, 1, 1) == PLF_REFUSED
        && plf_recorder_alarm(&recorder, NULL, 1, 1, 1) == PLF_REFUSED
        && plf_recorder_alarm(&recorder, &plf_vector_event, 1, 1, 1000) == PLF_REFUSED
        && plf_recorder_alarm(&recorder, &plf_vector_event, 1, 1, 999) == PLF_DONE && recorder.open == 1;
}

/* ---- Alarm ---- */

static int alarm_passes(const plf_alarm_vector *v)
{
    plf_alarm alarm;
    const plf_alarm_step_vector *step = &plf_alarm_steps[v->steps_at];
    plf_alarm_init(&alarm);
    for (uint32_t i = 0; i < v->steps; i++, step++) {
        if (plf_alarm_step(&alarm, &v->settings, step->now_ms, (enum plf_alarm_input)step->input, step->number)
                != (enum plf_alarm_action)step->action
            || alarm.stage != step->stage || alarm.number != step->current || alarm.sends != step->sends
            || alarm.withdrawn != step->withdrawn || alarm.suppressed != step->suppressed) {
            return 0;
        }
    }
    return 1;
}

static int report_passes(void)
{
    const uint32_t *head = plf_vector_report_head;
    static plf_message message;
    plf_message_begin(&message, PLF_MESSAGE_ALARM, (uint16_t)head[0], head[1], head[2]);
    plf_message_put(&message, 1, 1); /* filling it begins anew */
    return plf_message_alarm(&message, &plf_vector_report) == PLF_DONE
        && frames(&message, plf_vector_report_bytes, sizeof plf_vector_report_bytes);
}

/* ---- What the headers promise of misuse ---- */

static int refuses_null_pointers(void)
{
    static plf_message command;
    static plf_message reply;
    plf_message_begin(&command, PLF_COUNT, 1, 2, 3);
    plf_message_begin(&reply, 8, 7, 0, 0);
    plf_alarm_init(NULL);
    return plf_link_serve(&a_log, NULL, 0, &reply) == PLF_REFUSED
        && plf_link_serve(&a_log, &command, 0, NULL) == PLF_REFUSED && reply.node == 7 && reply.kind == 8;
}

/* Without a mounted log it is refused, in a reply. */
static int serves_without_a_log(void)
{
    static const uint8_t count[] = { PLF_COUNT, PLF_LINK_NO_MEMORY };
    static plf_message command;
    static plf_message reply;
    plf_log none;
    none.ring.flash = NULL;
    plf_message_begin(&command, PLF_COUNT, 1, 2, 3);
    return plf_link_serve(&none, &command, 4, &reply) == PLF_READY && reply.kind == PLF_MESSAGE_REFUSED
        && reply.length == 2 && same_bytes(reply.payload, count, 2);
}

static int refuses_misuse(void)
{
    plf_record record = plf_record_vectors[0].record;
    plf_record twice = record;
    enum plf_outcome outcome;
    plf_log_summary summary;
    twice.measured = 2;
    uint8_t out[1];
    const int unmounted = plf_log_mount(&a_log, NULL, 100, numbers, NUMBERS) == PLF_REFUSED
        && plf_log_append(&a_log, &record, bytes, BYTES) == PLF_REFUSED && plf_log_clear(&a_log) == PLF_REFUSED
        && plf_log_count(&a_log, &summary) == PLF_REFUSED && plf_log_find(&a_log, 1, &record) == PLF_REFUSED
        && plf_log_read(&a_log, 1, 0, out, 1) == PLF_REFUSED
        && plf_log_outcome(&a_log, 1, &outcome) == PLF_REFUSED
        && plf_log_set_outcome(&a_log, 1, PLF_CANCELLED) == PLF_REFUSED
        && plf_log_append(NULL, &record, bytes, BYTES) == PLF_REFUSED && plf_log_clear(NULL) == PLF_REFUSED
        && plf_log_count(NULL, &summary) == PLF_REFUSED && plf_log_find(NULL, 1, &record) == PLF_REFUSED
        && plf_log_read(NULL, 1, 0, out, 1) == PLF_REFUSED
        && plf_log_outcome(NULL, 1, &outcome) == PLF_REFUSED
        && plf_log_set_outcome(NULL, 1, PLF_CANCELLED) == PLF_REFUSED && plf_log_poll(NULL) == PLF_REFUSED
        && plf_log_pending(NULL) == 0 && plf_log_number(NULL) == 0 && plf_log_number(&a_log) == 0;
    return unmounted && plf_record_size(&twice) == 0 && plf_log_mount(NULL, &flash, 100, numbers, NUMBERS) == PLF_REFUSED
        && plf_recorder_step(NULL, 0, 0, 0) == PLF_REFUSED
        && plf_recorder_gap(NULL) == PLF_REFUSED
        && plf_alarm_step(NULL, &plf_alarm_vectors[0].settings, 0, PLF_FALL, 1) == PLF_DO_NOTHING;
}

/* ---- All of them ---- */

static void tally(plf_device_report *report, int good)
{
    report->vectors++;
    if (!good) {
        report->failed++;
        report->last_failed = report->vectors;
    }
}

#define COUNT_OF(table) (sizeof (table) / sizeof (table)[0])

plf_device_report plf_device_vectors_test(void)
{
    plf_device_report report = { 0, 0, 0 };
    tally(&report, checksums_are_right());
    for (uint32_t i = 0; i < COUNT_OF(plf_record_vectors); i++) {
        tally(&report, record_passes(&plf_record_vectors[i]));
    }
    for (uint32_t i = 0; i < COUNT_OF(plf_size_vectors); i++) {
        tally(&report, has_size(&plf_size_vectors[i]));
    }
    for (uint32_t i = 0; i < COUNT_OF(plf_fault_vectors); i++) {
        tally(&report, refuses(&plf_fault_vectors[i]));
    }
    for (uint32_t i = 0; i < COUNT_OF(plf_recorder_vectors); i++) {
        tally(&report, recorder_passes(&plf_recorder_vectors[i]));
    }
    tally(&report, recorder_refuses_misuse());
    for (uint32_t i = 0; i < COUNT_OF(plf_log_vectors); i++) {
        tally(&report, log_passes(&plf_log_vectors[i]));
    }
    for (uint32_t i = 0; i < COUNT_OF(plf_geometry_vectors); i++) {
        tally(&report, fits_or_not(&plf_geometry_vectors[i]));
    }
    tally(&report, keeps_to_its_ends());
    tally(&report, takes_its_turns());
    tally(&report, reserves_for_all(31));
    tally(&report, reserves_for_all(32));
    tally(&report, forgets_what_was_cleared());
    tally(&report, survives_an_unreadable_byte());
    tally(&report, tells_logs_apart());
    tally(&report, wants_all_of_a_flash());
    for (uint32_t i = 0; i < COUNT_OF(plf_alarm_vectors); i++) {
        tally(&report, alarm_passes(&plf_alarm_vectors[i]));
    }
    for (uint32_t i = 0; i < COUNT_OF(plf_line_vectors); i++) {
        tally(&report, line_passes(&plf_line_vectors[i]));
    }
    for (uint32_t i = 0; i < COUNT_OF(plf_batch_vectors); i++) {
        tally(&report, batch_passes(&plf_batch_vectors[i]));
    }
    for (uint32_t i = 0; i < COUNT_OF(plf_hello_vectors); i++) {
        tally(&report, hello_passes(&plf_hello_vectors[i]));
    }
    tally(&report, numbers_keep_to_the_payload());
    tally(&report, counts_only_samples());
    tally(&report, frame_refuses_misuse());
    tally(&report, report_passes());
    tally(&report, refuses_null_pointers());
    tally(&report, serves_without_a_log());
    tally(&report, refuses_misuse());
    return report;
}

#ifndef PLF_DEVICE_VECTORS_NO_MAIN
#include <stdio.h>

int main(void)
{
    const plf_device_report report = plf_device_vectors_test();
    printf("%u vectors, %u failed\n", (unsigned)report.vectors, (unsigned)report.failed);
    if (report.failed) {
        printf("the last that failed is number %u\n", (unsigned)report.last_failed);
    }
    return report.failed != 0 || report.vectors == 0;
}
#endif
