/* SPDX-License-Identifier: MIT */
/* plumbfall_record.h: what the device keeps of an alarm, as bytes: who, when, under which settings, what was measured,
 * and the samples around it. LOG.md has the layout byte by byte.
 *
 * An engineering aid: no medical device, no certification; local codes and licensed practice decide.
 *
 * Bytes are little-endian whatever the processor. Nothing here is global, allocates or uses floating point.
 */
#ifndef PLUMBFALL_RECORD_H
#define PLUMBFALL_RECORD_H

#include "plumbfall_crc.h"
#include "plumbfall_detector.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_RECORD_HEADER 40U
#define PLF_RECORD_MEASURED 86U
#define PLF_RECORD_CRC 4U
#define PLF_PACKED_BYTES(samples, bits) ((3UL * (samples) * (bits) + 7UL) / 8UL)
/* Bytes of a record; `measured` is 1 or 0. */
#define PLF_RECORD_BYTES(samples, bits, measured) \
    (PLF_RECORD_HEADER + (measured) * PLF_RECORD_MEASURED + PLF_PACKED_BYTES(samples, bits) + PLF_RECORD_CRC)

enum plf_record_kind { PLF_RECORD_ALARM, PLF_RECORD_CLEARED };
enum plf_record_fault { PLF_RECORD_WHOLE, PLF_RECORD_NONE, PLF_RECORD_SHORT, PLF_RECORD_DAMAGED };

/* A record without its samples. Samples are kept in `bits` each, 2 ... 16, after their last `shift` bits were rounded
 * away; bits + shift is 16 at most. A record of kind PLF_RECORD_CLEARED is the log's own: alarms up to its `sequence` count
 * no more, numbers up to its `seconds` are reserved, and `settings_crc32` is the number of the alarm's record that was
 * begun last. */
typedef struct {
    uint32_t sequence;          /* from 1, one more with each record: the log sets it */
    uint32_t seconds;           /* the device's clock at the newest sample of `before` */
    uint16_t milliseconds;
    uint16_t node;              /* which of several worn nodes */
    uint32_t settings_crc32;    /* identity of those in force */
    uint32_t rate_millihz;      /* PLF_RATE_MILLIHZ */
    uint32_t counts_per_1000_g; /* PLF_COUNTS_PER_1000_G */
    uint32_t memory_bytes;      /* of the whole log, so that a dump cut short is noticed: the log sets it */
    uint16_t slot_bytes;        /* the log sets it */
    uint16_t before, after;     /* samples up to the alarm, its own included, and after it */
    uint8_t kind;               /* enum plf_record_kind */
    uint8_t bits, shift;
    uint8_t measured;           /* 1: `event` is there */
    plf_event event;
} plf_record;

/* Sample number `at` in and out of packed samples. */
void plf_pack(uint8_t *packed, uint32_t at, uint8_t bits, uint8_t shift, const int16_t v[3]);
void plf_unpack(const uint8_t *packed, uint32_t at, uint8_t bits, uint8_t shift, int16_t v[3]);

/* Bytes of a record, 0 where its numbers contradict each other or it would take more than 65535. */
uint32_t plf_record_size(const plf_record *record);
/* Where its samples begin. */
uint32_t plf_record_samples(const plf_record *record);
/* Closes a record whose samples stand at their place in `bytes`: writes what is before and behind them. Returns its
 * size, 0 where it can't be: then nothing was written. */
uint32_t plf_record_write(const plf_record *record, uint8_t *bytes, uint32_t room);
/* Header and measured values out of `size` bytes. Looks at the header only, for the log. */
enum plf_record_fault plf_record_header(const uint8_t *bytes, uint32_t size, plf_record *record);
/* The same, and checks every byte of the record. */
enum plf_record_fault plf_record_read(const uint8_t *bytes, uint32_t size, plf_record *record);

#ifdef __cplusplus
}
#endif

#endif
