/* SPDX-License-Identifier: MIT */
/* plumbfall_detector.h: a fall detector that takes one sample at a time.
 *
 * An engineering aid: no medical device, no certification; local codes and licensed practice decide.
 *
 *   static plf_word ring[PLF_RING_WORDS];                     (plumbfall_params.h has the macros)
 *   static const plf_settings settings = PLF_SETTINGS;
 *   static plf_state state;                                   (static: all zero until plf_init)
 *
 *   plf_init(&state, &settings, ring, PLF_RING_WORDS);        once; `settings` and `ring` outlive `state`, unchanged
 *   plf_step(&state, x, y, z, &event);                        for each sample, in counts, at the rate set
 *   plf_gap(&state, &event);                                  where samples were lost
 *   plf_finish(&state, &event);                               at the end
 *
 * The last three return PLF_ENDED when an attempt ended: `event` then says how and why. One context feeds one
 * state; nothing here is global, allocates, recurses, blocks or uses floating point.
 *
 * Defined misuse. Settings out of bounds (plf_settings_check names the first), a state that plf_init has not made ready
 * (zeroed, or refused) and a null pointer: PLF_REFUSED, and nothing changes. To change settings call plf_finish, then
 * plf_init with the new ones: it forgets everything and counts samples from 0. A gap before the first sample, or a second
 * one, ends nothing.
 */
#ifndef PLUMBFALL_DETECTOR_H
#define PLUMBFALL_DETECTOR_H

#include "plumbfall_settings.h"

/* What has changed with each is in BUILD.md. A header without this macro is of version 1. */
#define PLF_API_VERSION 5

#ifdef __cplusplus
extern "C" {
#endif

/* What every function of these files returns that can fail. What is asked for was done with the first three. */
enum plf_result {
    PLF_DONE,    /* and there is nothing to fetch */
    PLF_ENDED,   /* an attempt ended: its event is there */
    PLF_READY,   /* a record or a frame is complete */
    PLF_REFUSED, /* null pointers, or what contradicts the header: nothing was changed */
    PLF_MISSING, /* no such record */
    PLF_FAILED   /* the flash failed, or no slot kept what was written to it */
};
enum plf_stage { PLF_WATCH, PLF_PRIMED, PLF_SETTLE, PLF_OBSERVE, PLF_HOLD };
enum plf_ended { PLF_ALARM, PLF_NO_IMPACT, PLF_REJECTED, PLF_CUT_OFF };
enum plf_check { PLF_ACTIVE = 1, PLF_TILT = 2, PLF_RECLINED = 4, PLF_STILL = 8 };

/* An attempt that ended. Squares are in counts^2. A field has a value only where its bit in `has` is set. */
enum plf_has {
    PLF_HAS_FREE_FALL = 1,  /* first_low_ago, last_low_ago, lowest */
    PLF_HAS_HIGHEST = 2,    /* highest */
    PLF_HAS_IMPACT = 4,     /* first_impact_ago, impact_ago, restarts, peak */
    PLF_HAS_ACTIVE = 8,       /* q */
    PLF_HAS_OBSERVED = 16,  /* n */
    PLF_HAS_TILT = 32,      /* dot, a_sq, b_sq */
    PLF_HAS_RECLINED = 64,  /* dot_u, a_u_sq, u_sq */
    PLF_HAS_STILL = 128     /* spread */
};
typedef struct {
    uint8_t ended;    /* enum plf_ended */
    uint8_t early;    /* 1: judged before its time, a gap or the end came */
    uint8_t failed;   /* enum plf_check, or-ed: what rejected it */
    uint8_t skipped;  /* likewise: what is on but had no data, and passed */
    uint16_t has;     /* enum plf_has, or-ed */
    uint16_t q, n;    /* active samples before; samples observed */
    uint32_t decided; /* number of the newest sample, 0 for the first after plf_init, modulo 2^32 */
    uint32_t first_low_ago, last_low_ago, first_impact_ago, impact_ago; /* samples before `decided`, modulo 2^32 */
    uint32_t lowest, highest, restarts, peak; /* |v|^2 in free fall, while primed, of the impact; restarts */
    int64_t dot, dot_u;                       /* before . after and upright . after, each doubled up to 2^14 */
    uint32_t a_sq, b_sq, a_u_sq, u_sq;        /* |after|^2, |before|^2, and the same against upright */
    uint64_t spread;                          /* n * sum |v|^2 - |sum v|^2 */
} plf_event;

/* A word of the ring: a component of a reading, or 16 samples' bits of whether they were active. */
typedef union {
    int16_t component;
    uint16_t bits;
} plf_word;

/* Latched from the time before: a mean reading and a count of active samples, each where `has` says so. */
typedef struct {
    int16_t mean[3];
    uint16_t active;
    uint16_t has; /* PLF_HAS_TILT, PLF_HAS_ACTIVE */
} plf_before;

/* The detector's memory; read `stage` if you like, leave the rest alone. */
typedef struct {
    uint64_t total_sq;
    const plf_settings *settings;
    plf_word *ring;
    uint32_t now, deadline, run_first, run_lowest;
    uint32_t first_low, last_low, lowest, highest, first_impact, impact, restarts, peak;
    int32_t total[3], raw_sum[3], baseline_sum[3];
    int16_t raw[16][3];
    plf_before candidate, before;
    uint16_t raw_at, raw_count, vectors, vector_at, vector_count, bits, bit_at, bit_count, active, run, n, has;
    uint8_t stage; /* enum plf_stage */
} plf_state;

enum plf_result plf_init(plf_state *state, const plf_settings *settings, plf_word *ring, uint32_t ring_words);
enum plf_result plf_step(plf_state *state, int16_t x, int16_t y, int16_t z, plf_event *event);
enum plf_result plf_gap(plf_state *state, plf_event *event);
enum plf_result plf_finish(plf_state *state, plf_event *event);

#ifdef __cplusplus
}
#endif

#endif
