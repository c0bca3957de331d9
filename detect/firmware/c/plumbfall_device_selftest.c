/* plumbfall_device_selftest.c: runs the golden vectors of record, recorder, log, alarm and link, on the host or on the
 * target.
 *
 * On the host: cc -std=c99 -O2 -o device_selftest plumbfall_device_selftest.c plumbfall_record.c plumbfall_log.c
 *                  plumbfall_recorder.c plumbfall_alarm.c plumbfall_link.c && ./device_selftest
 * On the target: define PLF_DEVICE_SELFTEST_NO_MAIN, include this file in one of yours, call plf_device_selftest, look
 * at the counts. It needs 4 KiB of RAM and does not touch your flash.
 */
#include <stddef.h>

#include "plumbfall_device_vectors.h"

enum { MEMORY = 2048, BYTES = 512, BITS_A_BYTE = 8, FENCED = 0x5A5A };

static uint8_t memory[MEMORY];
static uint8_t bytes[BYTES];
static uint8_t written[(MEMORY + BITS_A_BYTE - 1) / BITS_A_BYTE]; /* a bit for each byte programmed since its erase */
static plf_flash flash;
static plf_log a_log;
static uint32_t left_until_cut; /* bytes programmed and blocks erased until power goes; UINT32_MAX: it stays */
static int gone;
typedef char plf_frame_has_padding[sizeof(plf_frame) > offsetof(plf_frame, payload) + PLF_PAYLOAD_MOST ? 1 : -1];
static uint32_t stuck_at = UINT32_MAX, deaf_at = UINT32_MAX; /* a byte that keeps nothing; one that can't be read */
static int broke_a_rule;

/* ---- A flash in RAM that loses its power where the vector says so ---- */

enum power { ON, GOES, GONE };

static enum power next_power(void)
{
    if (gone) {
        return GONE;
    }
    if (left_until_cut == 0) {
        gone = 1;
        return GOES;
    }
    if (left_until_cut != UINT32_MAX) {
        left_until_cut--;
    }
    return ON;
}

static int flash_read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    (void)context;
    if (at + size > flash.block_bytes * flash.blocks) {
        broke_a_rule = 1;
        return 1;
    }
    for (uint32_t i = 0; i < size; i++) {
        to[i] = at + i < MEMORY ? memory[at + i] : 0xFF; /* a larger flash is blank behind */
    }
    return deaf_at >= at && deaf_at < at + size;
}

/* Of the byte at which power goes, bits 1, 3, 5 and 7 are left as they were. */
static int flash_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    if (at % flash.unit_bytes != 0 || size % flash.unit_bytes != 0 || at + size > MEMORY) {
        broke_a_rule = 1;
        return 1;
    }
    for (uint32_t i = at; i < at + size; i++) {
        const enum power power = next_power();
        const unsigned was = memory[i];
        const unsigned bit = 1U << i % BITS_A_BYTE;
        if (power == GONE) {
            return 1;
        }
        if ((written[i / BITS_A_BYTE] & bit) != 0) {
            broke_a_rule = 1; /* twice between two erases */
        }
        written[i / BITS_A_BYTE] = (uint8_t)(written[i / BITS_A_BYTE] | bit);
        memory[i] = (uint8_t)(was & (power == GOES || i == stuck_at ? from[i - at] | 0xAAU : from[i - at]));
        if (power == GOES) {
            return 1;
        }
    }
    return 0;
}

/* Of a block whose erase is cut the first half is erased. */
static int flash_erase(void *context, uint32_t block)
{
    (void)context;
    const enum power power = next_power();
    const uint32_t at = block * flash.block_bytes;
    const uint32_t size = power == ON ? flash.block_bytes : flash.block_bytes / 2;
    if (block >= flash.blocks) {
        broke_a_rule = 1;
        return 1;
    }
    if (power == GONE) {
        return 1;
    }
    for (uint32_t i = at; i < at + size; i++) {
        memory[i] = 0xFF;
        written[i / BITS_A_BYTE] = (uint8_t)(written[i / BITS_A_BYTE] & ~(1U << i % BITS_A_BYTE));
    }
    return power != ON;
}

/* FNV-1a. A CRC-32 would not do: of bytes that end with their own it is always the same. */
static uint32_t hash_of(const uint8_t *some, uint32_t size)
{
    uint32_t hash = 2166136261U;
    for (uint32_t i = 0; i < size; i++) {
        hash = (hash ^ some[i]) * 16777619U;
    }
    return hash;
}

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
    return a->ended == b->ended && a->early == b->early && a->failed == b->failed && a->unspoken == b->unspoken
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

static int same_bytes(const uint8_t *a, const uint8_t *b, uint32_t size)
{
    for (uint32_t i = 0; i < size; i++) {
        if (a[i] != b[i]) {
            return 0;
        }
    }
    return 1;
}

static void pack_all(const plf_record_vector *v)
{
    for (uint32_t i = 0; i < (uint32_t)v->record.before + v->record.after; i++) {
        plf_pack(bytes + plf_record_samples(&v->record), i, v->record.bits, v->record.shift,
                 plf_vector_samples[v->samples_at + i]);
    }
}

/* In `bytes` stands a whole record: no bit of it may flip and no end of it be missing unnoticed. */
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
    return notices_damage(v->size);
}

/* Sizes at their ends, too large for the bytes here; 0 where the numbers contradict each other. */
static int sized(const plf_size_vector *v)
{
    return plf_record_size(&v->record) == v->size && plf_record_write(&v->record, bytes, BYTES) == 0;
}

/* Bytes that are no record, though most of them may be one's. */
static int refuses(const plf_fault_vector *v)
{
    plf_record record;
    return plf_record_read(&plf_vector_bytes[v->bytes_at], v->size, &record) == (enum plf_record_fault)v->fault;
}

/* ---- Recorder ---- */

static int recorder_passes(const plf_recorder_vector *v)
{
    plf_recorder recorder;
    int16_t next = 0;
    const plf_recorder_step_vector *step = &plf_recorder_steps[v->steps_at];
    const uint32_t room = plf_record_size(&v->shape);
    bytes[room] = 0xA5;
    if (plf_recorder_init(&recorder, &v->shape, bytes, room - 1U) != PLF_REFUSED
        || plf_recorder_step(&recorder, 1, 2, 3) != PLF_REFUSED
        || plf_recorder_init(&recorder, &v->shape, bytes, room) != PLF_READY) {
        return 0;
    }
    for (uint32_t i = 0; i < v->steps; i++, step++) {
        enum plf_result result = PLF_NOTHING;
        if (step->kind == PLF_STEP_SAMPLES) {
            for (uint16_t k = 0; k < step->times; k++, next++) {
                if (result != PLF_NOTHING) {
                    return 0; /* ready before the last of them */
                }
                result = plf_recorder_step(&recorder, next, (int16_t)-next, (int16_t)(100 - next));
            }
        } else if (step->kind == PLF_STEP_ALARM) {
            result = plf_recorder_alarm(&recorder, &plf_vector_event, step->times, 250);
        } else {
            result = plf_recorder_gap(&recorder);
        }
        if (result != (step->hash != 0 ? PLF_READY : PLF_NOTHING)) {
            return 0;
        }
        if (result == PLF_READY) {
            const uint32_t size = plf_record_write(&recorder.record, bytes, BYTES);
            if (size == 0 || hash_of(bytes, size) != step->hash) {
                return 0;
            }
        }
    }
    return bytes[room] == 0xA5;
}

static int recorder_refuses_misuse(void)
{
    const plf_record *shape = &plf_recorder_vectors[0].shape;
    plf_record impossible = *shape;
    plf_recorder recorder;
    impossible.bits = 1;
    int good = plf_recorder_init(&recorder, NULL, bytes, BYTES) == PLF_REFUSED
        && plf_recorder_init(&recorder, shape, NULL, BYTES) == PLF_REFUSED
        && plf_recorder_init(&recorder, &impossible, bytes, BYTES) == PLF_REFUSED
        && plf_recorder_alarm(&recorder, &plf_vector_event, 1, 1) == PLF_REFUSED
        && plf_recorder_gap(&recorder) == PLF_REFUSED && plf_recorder_init(NULL, shape, bytes, BYTES) == PLF_REFUSED;
    impossible = *shape;
    impossible.before = 0;
    return good && plf_recorder_init(&recorder, &impossible, bytes, BYTES) == PLF_REFUSED
        && plf_recorder_init(&recorder, shape, bytes, BYTES) == PLF_READY
        && plf_recorder_alarm(NULL, &plf_vector_event, 1, 1) == PLF_REFUSED
        && plf_recorder_alarm(&recorder, NULL, 1, 1) == PLF_REFUSED
        && plf_recorder_alarm(&recorder, &plf_vector_event, 1, 1000) == PLF_REFUSED
        && plf_recorder_alarm(&recorder, &plf_vector_event, 1, 999) == PLF_NOTHING && recorder.open == 1;
}

/* ---- Log and commands ---- */

/* A frame's bytes are right, and nothing stands behind them. */
static int writes(const plf_frame *frame, const uint8_t *expected, uint32_t size)
{
    uint8_t out[PLF_FRAME_MOST + 1U];
    for (uint32_t i = 0; i < sizeof out; i++) {
        out[i] = 0xA5;
    }
    return plf_link_write(frame, out) == size && same_bytes(out, expected, size) && out[size] == 0xA5;
}

static void new_memory(const plf_log_vector *v)
{
    flash.read = flash_read;
    flash.program = flash_program;
    flash.erase = flash_erase;
    flash.block_bytes = v->block_bytes;
    flash.blocks = v->blocks;
    flash.unit_bytes = v->unit_bytes;
    left_until_cut = UINT32_MAX;
    gone = 0;
    stuck_at = UINT32_MAX;
    deaf_at = UINT32_MAX;
    for (uint32_t i = 0; i < MEMORY; i++) {
        memory[i] = (uint8_t)v->fill;
        written[i / BITS_A_BYTE] = 0;
    }
}

static int serves(const plf_log_step_vector *step)
{
    plf_parser parser;
    plf_frame command;
    plf_frame reply;
    plf_order order;
    plf_link_init(&parser);
    for (uint32_t i = 0; i < PLF_PAYLOAD_MOST; i++) {
        command.payload[i] = 0xA5;
    }
    for (uint32_t i = 0; i < step->in_size; i++) {
        plf_link_put(&parser, plf_vector_bytes[step->in_at + i]);
    }
    if (!plf_link_next(&parser, &command) || parser.used != 0) {
        return 0;
    }
    plf_link_serve(&a_log, &command, &reply, &order);
    return writes(&reply, &plf_vector_bytes[step->out_at], step->out_size) && order.kind == (enum plf_order_kind)step->a
        && (order.kind != PLF_ORDER_HEARD || order.alarm == step->b)
        && (order.kind != PLF_ORDER_TIME || order.seconds * 1000U + order.milliseconds == step->b);
}

static int log_step_passes(const plf_log_step_vector *step)
{
    plf_record record;
    enum plf_outcome outcome = PLF_WITHDRAWN;
    switch (step->kind) {
    case PLF_STEP_APPEND:
        record = plf_record_vectors[step->a].record;
        pack_all(&plf_record_vectors[step->a]);
        return plf_log_append(&a_log, &record, bytes, BYTES) == (enum plf_log_result)step->result
            && record.sequence == step->b;
    case PLF_STEP_OUTCOME:
        return plf_log_set_outcome(&a_log, step->a, (enum plf_outcome)step->b) == (enum plf_log_result)step->result;
    case PLF_STEP_LOOK:
        return plf_log_outcome(&a_log, step->a, &outcome) == (enum plf_log_result)step->result
            && (step->result != PLF_LOG_DONE || (uint32_t)outcome == step->b);
    case PLF_STEP_CLEAR:
        return plf_log_clear(&a_log) == (enum plf_log_result)step->result;
    case PLF_STEP_MOUNT:
        left_until_cut = UINT32_MAX;
        gone = 0;
        return plf_log_mount(&a_log, &flash, step->a) == (enum plf_log_result)step->result
            && (step->result != PLF_LOG_DONE || a_log.sequence == step->b);
    case PLF_STEP_CUT:
        left_until_cut = step->a;
        return 1;
    case PLF_STEP_STICK:
        stuck_at = step->a;
        return 1;
    case PLF_STEP_NUMBER:
        a_log.sequence = step->a;
        return 1;
    case PLF_STEP_FLIP:
        memory[step->a / BITS_A_BYTE] = (uint8_t)(memory[step->a / BITS_A_BYTE] ^ 1U << step->a % BITS_A_BYTE);
        return 1;
    default:
        return serves(step);
    }
}

static int log_passes(const plf_log_vector *v)
{
    const plf_log_step_vector *step = &plf_log_steps[v->steps_at];
    new_memory(v);
    broke_a_rule = 0;
    for (uint32_t i = 0; i < v->steps; i++, step++) {
        if (!log_step_passes(step) || hash_of(memory, (uint32_t)v->block_bytes * v->blocks) != step->memory_hash) {
            return 0;
        }
    }
    return !broke_a_rule;
}

/* Only sizes: a flash that is blank, as large as may be. */
static int fits_or_not(const plf_geometry_vector *v)
{
    plf_log log;
    new_memory(&plf_log_vectors[0]);
    flash.block_bytes = v->block_bytes;
    flash.blocks = v->blocks;
    flash.unit_bytes = v->unit_bytes;
    const enum plf_log_result result = plf_log_mount(&log, &flash, v->largest);
    return v->slots > 0 ? result == PLF_LOG_DONE && log.slots == v->slots
                        : result == PLF_LOG_REFUSED && log.flash == NULL;
}

static enum plf_log_result append_first(uint32_t room)
{
    plf_record record = plf_record_vectors[0].record;
    for (uint32_t i = 0; i < BYTES; i++) {
        bytes[i] = 0xA5;
    }
    pack_all(&plf_record_vectors[0]);
    return plf_log_append(&a_log, &record, bytes, room);
}

/* Units of 4 bytes, a ring of small records with one of them in it: rooms, offsets and numbers at their ends. */
static int keeps_to_its_ends(void)
{
    const plf_record *first = &plf_record_vectors[0].record;
    const uint32_t size = plf_record_size(first);
    const uint32_t units = (size + 3U) / 4U * 4U;
    plf_record record = *first;
    enum plf_outcome outcome;
    new_memory(&plf_log_vectors[0]);
    int good = plf_log_mount(&a_log, &flash, size) == PLF_LOG_DONE && append_first(units - 1U) == PLF_LOG_REFUSED
        && append_first(units) == PLF_LOG_DONE && bytes[units] == 0xA5;
    record.bits = 1;
    good = good && plf_log_append(&a_log, &record, bytes, BYTES) == PLF_LOG_REFUSED
        && plf_log_append(&a_log, NULL, bytes, BYTES) == PLF_LOG_REFUSED
        && plf_log_append(&a_log, &record, NULL, BYTES) == PLF_LOG_REFUSED
        && plf_log_read(&a_log, 1, 0, bytes, size) == PLF_LOG_DONE
        && plf_log_read(&a_log, 1, 1, bytes, size) == PLF_LOG_REFUSED
        && plf_log_read(&a_log, 1, size, bytes, 0) == PLF_LOG_DONE
        && plf_log_read(&a_log, 1, size + 1U, bytes, 0) == PLF_LOG_REFUSED
        && plf_log_read(&a_log, 1, size, bytes, 1) == PLF_LOG_REFUSED
        && plf_log_read(&a_log, 2, 0, bytes, 1) == PLF_LOG_MISSING
        && plf_log_read(&a_log, 1, 0, NULL, 1) == PLF_LOG_REFUSED && plf_log_find(&a_log, 2, &record) == PLF_LOG_MISSING
        && plf_log_find(&a_log, 1, NULL) == PLF_LOG_REFUSED && plf_log_count(&a_log, NULL) == PLF_LOG_REFUSED
        && plf_log_outcome(&a_log, 2, &outcome) == PLF_LOG_MISSING
        && plf_log_outcome(&a_log, 1, NULL) == PLF_LOG_REFUSED
        && plf_log_set_outcome(&a_log, 2, PLF_CANCELLED) == PLF_LOG_MISSING
        && plf_log_set_outcome(&a_log, 1, PLF_OPEN) == PLF_LOG_REFUSED
        && plf_log_set_outcome(&a_log, 1, (enum plf_outcome)4) == PLF_LOG_REFUSED;
    return good && !broke_a_rule;
}

/* What can't be read is no record and not blank; a memory that can't be read is not mounted. */
static int bears_a_deaf_byte(void)
{
    const uint32_t size = plf_record_size(&plf_record_vectors[0].record);
    plf_record record;
    enum plf_outcome outcome;
    new_memory(&plf_log_vectors[0]);
    int good = plf_log_mount(&a_log, &flash, size) == PLF_LOG_DONE && append_first(BYTES) == PLF_LOG_DONE;
    for (deaf_at = 0; deaf_at < size; deaf_at++) {
        good = good && plf_log_find(&a_log, 1, &record) == PLF_LOG_MISSING;
    }
    deaf_at = a_log.area_bytes;
    good = good && plf_log_outcome(&a_log, 1, &outcome) == PLF_LOG_FAILED
        && plf_log_set_outcome(&a_log, 1, PLF_CANCELLED) == PLF_LOG_REFUSED;
    deaf_at = a_log.slot_bytes + a_log.area_bytes - 1U; /* in the slot that is next */
    good = good && append_first(BYTES) == PLF_LOG_DONE && a_log.next == 3;
    deaf_at = 0;
    good = good && plf_log_mount(&a_log, &flash, size) == PLF_LOG_FAILED && append_first(BYTES) == PLF_LOG_REFUSED;
    deaf_at = UINT32_MAX;
    return good && plf_log_mount(&a_log, &flash, size) == PLF_LOG_DONE && a_log.sequence == 2 && a_log.next == 3;
}

/* Another number of blocks is another log. */
static int tells_logs_apart(void)
{
    const uint32_t size = plf_record_size(&plf_record_vectors[0].record);
    new_memory(&plf_log_vectors[0]);
    int good = plf_log_mount(&a_log, &flash, size) == PLF_LOG_DONE && append_first(BYTES) == PLF_LOG_DONE;
    flash.blocks--;
    good = good && plf_log_mount(&a_log, &flash, size) == PLF_LOG_DONE && a_log.sequence == 0;
    flash.blocks++;
    return good && plf_log_mount(&a_log, &flash, size) == PLF_LOG_DONE && a_log.sequence == 1;
}

static int wants_all_of_a_flash(void)
{
    plf_flash without = flash;
    int good = 1;
    without.read = NULL;
    good = good && plf_log_mount(&a_log, &without, 100) == PLF_LOG_REFUSED;
    without = flash;
    without.program = NULL;
    good = good && plf_log_mount(&a_log, &without, 100) == PLF_LOG_REFUSED;
    without = flash;
    without.erase = NULL;
    good = good && plf_log_mount(&a_log, &without, 100) == PLF_LOG_REFUSED;
    without = flash;
    without.unit_bytes = 0;
    return good && plf_log_mount(&a_log, &without, 100) == PLF_LOG_REFUSED
        && plf_log_mount(&a_log, &flash, UINT32_MAX) == PLF_LOG_REFUSED;
}

/* ---- Alarm and frames ---- */

static int alarm_passes(const plf_alarm_vector *v)
{
    plf_alarm alarm;
    const plf_alarm_step_vector *step = &plf_alarm_steps[v->steps_at];
    plf_alarm_init(&alarm);
    for (uint32_t i = 0; i < v->steps; i++, step++) {
        if (plf_alarm_step(&alarm, &v->settings, step->now_ms, (enum plf_alarm_input)step->input, step->number)
                != (enum plf_alarm_action)step->action
            || alarm.stage != step->stage || alarm.number != step->in_hand || alarm.sends != step->sends
            || alarm.withdrawn != step->withdrawn || alarm.swallowed != step->swallowed) {
            return 0;
        }
    }
    return 1;
}

/* Bytes as they come over the line, a quiet line, and the same again: frame behind frame as they must be found. */
static int link_passes(const plf_link_vector *v)
{
    plf_parser parser;
    plf_frame frame;
    uint8_t *fence = (uint8_t *)&frame + offsetof(plf_frame, payload) + PLF_PAYLOAD_MOST; /* the frame's own padding */
    uint32_t out = 0;
    parser.used = 3;
    parser.quiet = 1;
    plf_link_init(&parser);
    for (uint32_t i = 0; i <= 2U * v->in_size + 1U; i++) {
        const uint32_t at = i % (v->in_size + 1U);
        if (at < v->in_size) {
            plf_link_put(&parser, plf_vector_bytes[v->in_at + at]);
        } else {
            plf_link_quiet(&parser);
        }
        *fence = 0xA5;
        while (plf_link_next(&parser, &frame)) {
            const uint32_t size = 8U + frame.length;
            if (v->out_size == 0 || out % v->out_size + size > v->out_size || *fence != 0xA5
                || !writes(&frame, &plf_vector_bytes[v->out_at + out % v->out_size], size)) {
                return 0;
            }
            out += size;
        }
    }
    return out == 2U * v->out_size && parser.dropped == 2U * v->dropped && parser.used == 0;
}

/* Nobody asks for frames while more bytes come than there is room for: the newest stay. */
static int keeps_the_newest(void)
{
    plf_parser parser;
    plf_frame frame;
    plf_link_init(&parser);
    for (uint32_t i = 0; i < 10; i++) {
        plf_link_put(&parser, 0xD3);
    }
    for (uint32_t i = 0; i < PLF_FRAME_MOST; i++) {
        plf_link_put(&parser, plf_vector_most[i]);
    }
    return plf_link_next(&parser, &frame) == 1 && writes(&frame, plf_vector_most, PLF_FRAME_MOST)
        && parser.dropped == 10;
}

static int report_passes(void)
{
    plf_frame frame;
    plf_link_report(&plf_vector_report, 0x1234U, 77, &frame);
    return writes(&frame, plf_vector_report_bytes, sizeof plf_vector_report_bytes);
}

/* ---- What the headers promise of misuse ---- */

static int refuses_nothing_there(void)
{
    plf_parser parser;
    plf_frame frame = { 1, PLF_COUNT, 2, 0, { 0 } };
    plf_frame reply = { 7, 8, 9, 0, { 0 } };
    plf_order order;
    plf_link_init(NULL);
    plf_link_init(&parser);
    plf_link_put(NULL, 1);
    plf_link_put(&parser, 0xD3);
    plf_link_quiet(NULL);
    plf_link_serve(&a_log, NULL, &reply, &order);
    plf_link_serve(&a_log, &frame, NULL, &order);
    plf_link_serve(&a_log, &frame, &reply, NULL);
    plf_link_report(NULL, 1, 1, &reply);
    plf_link_report(&plf_vector_report, 1, 1, NULL);
    plf_alarm_init(NULL);
    return plf_link_next(NULL, &frame) == 0 && plf_link_next(&parser, NULL) == 0 && parser.used == 1 && reply.node == 7
        && reply.kind == 8;
}

/* No log is mounted: what needs one is refused, the rest is not. */
static int serves_without_a_log(void)
{
    static const uint8_t count[] = { PLF_COUNT, PLF_NO_MEMORY };
    static const uint8_t clear[] = { PLF_CLEAR, PLF_NO_MEMORY };
    plf_frame frame = { 1, PLF_COUNT, 2, 0, { 0 } };
    plf_frame reply;
    plf_order order;
    plf_log none;
    none.flash = NULL;
    plf_link_serve(&none, &frame, &reply, &order);
    int good = reply.kind == PLF_REFUSE && reply.length == 2 && same_bytes(reply.payload, count, 2);
    frame.kind = PLF_CLEAR;
    frame.length = 4;
    plf_link_serve(&none, &frame, &reply, &order);
    good = good && reply.kind == PLF_REFUSE && same_bytes(reply.payload, clear, 2);
    frame.kind = PLF_ARM;
    frame.length = 0;
    plf_link_serve(&none, &frame, &reply, &order);
    return good && reply.kind == (PLF_REPLY | PLF_ARM) && order.kind == PLF_ORDER_ARM;
}

static int refuses_misuse(void)
{
    plf_record record = plf_record_vectors[0].record;
    plf_record twice = record;
    enum plf_outcome outcome;
    plf_log_summary summary;
    plf_frame frame = { 0, 0, 0, PLF_PAYLOAD_MOST + 1U, { 0 } };
    twice.measured = 2;
    uint8_t out[PLF_FRAME_MOST];
    const int unmounted = plf_log_mount(&a_log, NULL, 100) == PLF_LOG_REFUSED
        && plf_log_append(&a_log, &record, bytes, BYTES) == PLF_LOG_REFUSED && plf_log_clear(&a_log) == PLF_LOG_REFUSED
        && plf_log_count(&a_log, &summary) == PLF_LOG_REFUSED && plf_log_find(&a_log, 1, &record) == PLF_LOG_REFUSED
        && plf_log_read(&a_log, 1, 0, out, 1) == PLF_LOG_REFUSED
        && plf_log_outcome(&a_log, 1, &outcome) == PLF_LOG_REFUSED
        && plf_log_set_outcome(&a_log, 1, PLF_CANCELLED) == PLF_LOG_REFUSED
        && plf_log_append(NULL, &record, bytes, BYTES) == PLF_LOG_REFUSED && plf_log_clear(NULL) == PLF_LOG_REFUSED
        && plf_log_count(NULL, &summary) == PLF_LOG_REFUSED && plf_log_find(NULL, 1, &record) == PLF_LOG_REFUSED
        && plf_log_read(NULL, 1, 0, out, 1) == PLF_LOG_REFUSED
        && plf_log_outcome(NULL, 1, &outcome) == PLF_LOG_REFUSED
        && plf_log_set_outcome(NULL, 1, PLF_CANCELLED) == PLF_LOG_REFUSED;
    return unmounted && plf_record_size(&twice) == 0 && plf_log_mount(NULL, &flash, 100) == PLF_LOG_REFUSED
        && plf_link_write(&frame, out) == 0
        && plf_link_write(NULL, out) == 0 && plf_recorder_step(NULL, 0, 0, 0) == PLF_REFUSED
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

plf_device_report plf_device_selftest(void)
{
    plf_device_report report = { 0, 0, 0 };
    tally(&report, checksums_are_right());
    for (uint32_t i = 0; i < COUNT_OF(plf_record_vectors); i++) {
        tally(&report, record_passes(&plf_record_vectors[i]));
    }
    for (uint32_t i = 0; i < COUNT_OF(plf_size_vectors); i++) {
        tally(&report, sized(&plf_size_vectors[i]));
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
    tally(&report, bears_a_deaf_byte());
    tally(&report, tells_logs_apart());
    tally(&report, wants_all_of_a_flash());
    for (uint32_t i = 0; i < COUNT_OF(plf_alarm_vectors); i++) {
        tally(&report, alarm_passes(&plf_alarm_vectors[i]));
    }
    for (uint32_t i = 0; i < COUNT_OF(plf_link_vectors); i++) {
        tally(&report, link_passes(&plf_link_vectors[i]));
    }
    tally(&report, keeps_the_newest());
    tally(&report, report_passes());
    tally(&report, refuses_nothing_there());
    tally(&report, serves_without_a_log());
    tally(&report, refuses_misuse());
    return report;
}

#ifndef PLF_DEVICE_SELFTEST_NO_MAIN
#include <stdio.h>

int main(void)
{
    const plf_device_report report = plf_device_selftest();
    printf("%u vectors, %u failed\n", (unsigned)report.vectors, (unsigned)report.failed);
    if (report.failed) {
        printf("the last that failed is number %u\n", (unsigned)report.last_failed);
    }
    return report.failed != 0 || report.vectors == 0;
}
#endif
