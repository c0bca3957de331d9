/* SPDX-License-Identifier: MIT */
/* plumbfall_record.c: see plumbfall_record.h. C99, integers only. */
#include "plumbfall_record.h"

#include <stdbool.h>
#include <stddef.h>

enum { MARK = 0x50, OLDEST = 1, VERSION = 2, HEADER_CRC_AT = 38, MOST_BYTES = 65535 };

/* ---- Samples: three components of `bits` each, one behind the other from the lowest bit of the first byte ---- */

/* Rounded to a multiple of 2^shift, halves upwards, and clamped. With 2^15 added it is not negative, so that a shift
 * is a division; 2^15 is a multiple of 2^shift. */
static int32_t rounded(int16_t v, uint8_t bits, uint8_t shift)
{
    const uint32_t half = shift > 0 ? UINT32_C(1) << (shift - 1) : 0;
    const uint32_t raised = (uint32_t)(v + 32768) + half;
    const int32_t q = (int32_t)(raised >> shift) - (int32_t)(UINT32_C(32768) >> shift);
    const int32_t top = (int32_t)(UINT32_C(1) << (bits - 1)) - 1;
    return q > top ? top : q < -top - 1 ? -top - 1 : q;
}

void plf_pack(uint8_t *packed, uint32_t at, uint8_t bits, uint8_t shift, const int16_t v[3])
{
    uint32_t bit = 3U * at * bits;
    for (int axis = 0; axis < 3; axis++) {
        const uint32_t value = (uint32_t)rounded(v[axis], bits, shift);
        for (uint32_t i = 0; i < bits; i++, bit++) {
            const unsigned mask = 1U << bit % 8U;
            const unsigned rest = packed[bit / 8U] & ~mask;
            packed[bit / 8U] = (uint8_t)(rest | ((value >> i & 1U) != 0 ? mask : 0U));
        }
    }
}

void plf_unpack(const uint8_t *packed, uint32_t at, uint8_t bits, uint8_t shift, int16_t v[3])
{
    uint32_t bit = 3U * at * bits;
    for (int axis = 0; axis < 3; axis++) {
        uint32_t value = 0;
        for (uint32_t i = 0; i < bits; i++, bit++) {
            value |= (uint32_t)(packed[bit / 8U] >> bit % 8U & 1) << i;
        }
        /* value < 2^16; what is half and more stands for a negative one */
        const int32_t half = (int32_t)(UINT32_C(1) << (bits - 1));
        const int32_t q = (int32_t)value >= half ? (int32_t)value - 2 * half : (int32_t)value;
        v[axis] = (int16_t)(q * (int32_t)(UINT32_C(1) << shift)); /* |q| <= 2^15 / 2^shift */
    }
}

/* ---- Numbers as bytes, the lowest first ---- */

static uint8_t *put(uint8_t *to, uint64_t value, uint32_t bytes)
{
    for (uint32_t i = 0; i < bytes; i++) {
        *to++ = (uint8_t)(value & 0xFFU);
        value >>= 8;
    }
    return to;
}

static uint64_t take(const uint8_t **from, uint32_t bytes)
{
    uint64_t value = 0;
    for (uint32_t i = 0; i < bytes; i++) {
        value |= (uint64_t)(*from)[i] << 8U * i;
    }
    *from += bytes;
    return value;
}

static uint8_t take8(const uint8_t **from)
{
    return (uint8_t)take(from, 1);
}

static uint16_t take16(const uint8_t **from)
{
    return (uint16_t)take(from, 2);
}

static uint32_t take32(const uint8_t **from)
{
    return (uint32_t)take(from, 4);
}

/* Two's complement, without a conversion that C leaves to the compiler. */
static int64_t take_signed(const uint8_t **from)
{
    const uint64_t value = take(from, 8);
    return value <= INT64_MAX ? (int64_t)value : -(int64_t)(UINT64_MAX - value) - 1;
}

static void put_event(const plf_event *e, uint8_t *to)
{
    const uint32_t words[] = { e->decided, e->first_low_ago, e->last_low_ago, e->first_impact_ago, e->impact_ago,
                               e->lowest, e->highest, e->restarts, e->peak };
    const uint32_t squares[] = { e->a_sq, e->b_sq, e->a_u_sq, e->u_sq };
    *to++ = e->ended;
    *to++ = e->early;
    *to++ = e->failed;
    *to++ = e->skipped;
    to = put(to, e->has, 2);
    to = put(to, e->q, 2);
    to = put(to, e->n, 2);
    for (uint32_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        to = put(to, words[i], 4);
    }
    to = put(to, (uint64_t)e->dot, 8);
    to = put(to, (uint64_t)e->dot_u, 8);
    for (uint32_t i = 0; i < sizeof squares / sizeof squares[0]; i++) {
        to = put(to, squares[i], 4);
    }
    put(to, e->spread, 8);
}

static void take_event(const uint8_t *from, plf_event *e)
{
    e->ended = take8(&from);
    e->early = take8(&from);
    e->failed = take8(&from);
    e->skipped = take8(&from);
    e->has = take16(&from);
    e->q = take16(&from);
    e->n = take16(&from);
    e->decided = take32(&from);
    e->first_low_ago = take32(&from);
    e->last_low_ago = take32(&from);
    e->first_impact_ago = take32(&from);
    e->impact_ago = take32(&from);
    e->lowest = take32(&from);
    e->highest = take32(&from);
    e->restarts = take32(&from);
    e->peak = take32(&from);
    e->dot = take_signed(&from);
    e->dot_u = take_signed(&from);
    e->a_sq = take32(&from);
    e->b_sq = take32(&from);
    e->a_u_sq = take32(&from);
    e->u_sq = take32(&from);
    e->spread = take(&from, 8);
}

/* ---- The record ---- */

/* before + after < 2^17, times 48 bits < 2^23 */
static uint32_t packed_bytes(const plf_record *r)
{
    return (uint32_t)PLF_PACKED_BYTES((uint32_t)r->before + r->after, r->bits);
}

uint32_t plf_record_samples(const plf_record *record)
{
    return PLF_RECORD_HEADER + (record->measured != 0 ? PLF_RECORD_MEASURED : 0U);
}

/* More than 16 bits leave less than no room for a shift. */
uint32_t plf_record_size(const plf_record *record)
{
    if (record->bits < 2 || record->shift > 16 - record->bits || record->measured > 1
        || record->kind > PLF_RECORD_CLEARED || record->milliseconds > 999) {
        return 0;
    }
    const uint32_t size = plf_record_samples(record) + packed_bytes(record) + PLF_RECORD_CRC;
    return size <= MOST_BYTES ? size : 0;
}

static void put_header(const plf_record *r, uint8_t *bytes)
{
    uint8_t *to = bytes;
    *to++ = MARK;
    *to++ = (uint8_t)(VERSION | r->kind << 4 | r->measured << 5);
    *to++ = r->bits;
    *to++ = r->shift;
    to = put(to, r->before, 2);
    to = put(to, r->after, 2);
    to = put(to, r->sequence, 4);
    to = put(to, r->seconds, 4);
    to = put(to, r->milliseconds, 2);
    to = put(to, r->node, 2);
    to = put(to, r->settings_crc32, 4);
    to = put(to, r->rate_millihz, 4);
    to = put(to, r->counts_per_1000_g, 4);
    to = put(to, r->memory_bytes, 4);
    to = put(to, r->slot_bytes, 2);
    put(to, plf_crc16(0xFFFFU, bytes, HEADER_CRC_AT), 2);
}

uint32_t plf_record_write(const plf_record *record, uint8_t *bytes, uint32_t room)
{
    const uint32_t size = plf_record_size(record);
    if (size == 0 || size > room) {
        return 0;
    }
    const uint32_t unused = 8U * packed_bytes(record) - 3U * ((uint32_t)record->before + record->after) * record->bits;
    put_header(record, bytes);
    if (record->measured) {
        put_event(&record->event, bytes + PLF_RECORD_HEADER);
    }
    uint8_t *last = &bytes[size - PLF_RECORD_CRC - 1]; /* the same record gives the same bytes, whatever stood there */
    *last = (uint8_t)(*last & 0xFFU >> unused);
    put(bytes + size - PLF_RECORD_CRC, plf_crc32(0, bytes, size - PLF_RECORD_CRC), PLF_RECORD_CRC);
    return size;
}

enum plf_record_fault plf_record_header(const uint8_t *bytes, uint32_t size, plf_record *record)
{
    const plf_event nothing = { 0 };
    const uint8_t *from = bytes;
    if (size < PLF_RECORD_HEADER) {
        return PLF_RECORD_SHORT;
    }
    const unsigned mark = take8(&from);
    const unsigned form = take8(&from);
    const unsigned version = form & 0xCFU;
    if (mark != MARK || version < OLDEST || version > VERSION) {
        return PLF_RECORD_NONE;
    }
    const uint8_t *crc = bytes + HEADER_CRC_AT;
    if (take16(&crc) != plf_crc16(0xFFFFU, bytes, HEADER_CRC_AT)) {
        return PLF_RECORD_DAMAGED;
    }
    record->kind = (uint8_t)(form >> 4 & 1U);
    record->measured = (uint8_t)(form >> 5 & 1U);
    record->bits = take8(&from);
    record->shift = take8(&from);
    record->before = take16(&from);
    record->after = take16(&from);
    record->sequence = take32(&from);
    record->seconds = take32(&from);
    record->milliseconds = take16(&from);
    record->node = take16(&from);
    record->settings_crc32 = take32(&from);
    record->rate_millihz = take32(&from);
    record->counts_per_1000_g = take32(&from);
    record->memory_bytes = take32(&from);
    record->slot_bytes = take16(&from);
    record->event = nothing;
    return plf_record_size(record) == 0 ? PLF_RECORD_DAMAGED : PLF_RECORD_WHOLE;
}

enum plf_record_fault plf_record_read(const uint8_t *bytes, uint32_t size, plf_record *record)
{
    const enum plf_record_fault fault = plf_record_header(bytes, size, record);
    if (fault != PLF_RECORD_WHOLE) {
        return fault;
    }
    const uint32_t whole = plf_record_size(record);
    if (whole > size) {
        return PLF_RECORD_SHORT;
    }
    const uint8_t *crc = bytes + whole - PLF_RECORD_CRC;
    if (take32(&crc) != plf_crc32(0, bytes, whole - PLF_RECORD_CRC)) {
        return PLF_RECORD_DAMAGED;
    }
    if (record->measured) {
        take_event(bytes + PLF_RECORD_HEADER, &record->event);
    }
    return PLF_RECORD_WHOLE;
}
