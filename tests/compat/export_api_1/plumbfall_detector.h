/* plumbfall_detector.h: a fall detector that takes one sample at a time.
 *
 * An engineering aid: no medical device, no certification; local codes and licensed practice decide.
 *
 *   static plf_word ring[PLF_RING_WORDS];                     (plumbfall_params.h has the macros)
 *   static const plf_settings settings = PLF_SETTINGS;
 *   static plf_state state;                                   (static: all zero until plf_init)
 *
 *   plf_init(&state, &settings, ring, PLF_RING_WORDS);        once
 *   plf_step(&state, &settings, x, y, z, &event);             for each sample, in counts, at the rate set
 *   plf_gap(&state, &settings, &event);                       where samples were lost
 *   plf_finish(&state, &settings, &event);                    at the end
 *
 * The last three return PLF_ENDED when an attempt ended there: `event` then says how and why. One context feeds one
 * state; nothing here is global, allocates, recurses, blocks or uses floating point.
 *
 * Defined misuse. A state that plf_init has not made ready (zeroed, or refused), a null pointer, and settings other
 * than the ones plf_init got: PLF_REFUSED, and nothing changes. To change settings call plf_finish, then plf_init with
 * the new ones: it forgets everything and counts samples from 0. A gap first, or twice, is no event.
 */
#ifndef PLUMBFALL_DETECTOR_H
#define PLUMBFALL_DETECTOR_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

enum plf_result { PLF_NOTHING, PLF_ENDED, PLF_REFUSED, PLF_READY };
enum plf_stage { PLF_WATCH, PLF_PRIMED, PLF_SETTLE, PLF_OBSERVE, PLF_HOLD };
enum plf_ended { PLF_ALARM, PLF_NO_IMPACT, PLF_REJECTED, PLF_CUT_OFF };
enum plf_check { PLF_BUSY = 1, PLF_TILT = 2, PLF_RECLINED = 4, PLF_STILL = 8 };

/* What plumbfall_params.h says: thresholds in counts, durations in samples, cosines times 2^14. Bounds stand there. */
typedef struct {
    uint16_t prefilter_samples, free_fall_on, free_fall_every_axis, free_fall_counts, free_fall_samples;
    uint16_t impact_counts, impact_within_samples, settle_samples, restart_on, observe_samples;
    uint16_t tilt_on;
    int16_t tilt_cosine_q14;
    uint16_t baseline_samples, reclined_on;
    int16_t reclined_cosine_q14, upright_counts[3];
    uint16_t still_on, still_counts, guard_samples;
    uint16_t busy_on, busy_low_counts, busy_high_counts, busy_window_samples, busy_most_samples;
    uint16_t hold_off_samples;
} plf_settings;

/* An attempt that ended. Squares are in counts^2. A field has a value only where its bit in `has` is set. */
enum plf_has {
    PLF_HAS_FREE_FALL = 1,  /* first_low_ago, last_low_ago, lowest */
    PLF_HAS_HIGHEST = 2,    /* highest */
    PLF_HAS_IMPACT = 4,     /* first_impact_ago, impact_ago, restarts, peak */
    PLF_HAS_BUSY = 8,       /* q */
    PLF_HAS_OBSERVED = 16,  /* n */
    PLF_HAS_TILT = 32,      /* dot, a_sq, b_sq */
    PLF_HAS_RECLINED = 64,  /* dot_u, a_u_sq, u_sq */
    PLF_HAS_STILL = 128     /* spread */
};
typedef struct {
    uint8_t ended;    /* enum plf_ended */
    uint8_t early;    /* 1: judged before its time, a gap or the end came */
    uint8_t failed;   /* enum plf_check, or-ed: what rejected it */
    uint8_t unspoken; /* likewise: what is on but had nothing to go by, and passed */
    uint16_t has;     /* enum plf_has, or-ed */
    uint16_t q, n;    /* vigorous samples before; samples observed */
    uint32_t decided; /* number of the newest sample, 0 for the first after plf_init, modulo 2^32 */
    uint32_t first_low_ago, last_low_ago, first_impact_ago, impact_ago; /* samples before `decided`, modulo 2^32 */
    uint32_t lowest, highest, restarts, peak; /* |v|^2 in free fall, while primed, of the impact; restarts */
    int64_t dot, dot_u;                       /* before . after and upright . after, each doubled up to 2^14 */
    uint32_t a_sq, b_sq, a_u_sq, u_sq;        /* |after|^2, |before|^2, and the same against upright */
    uint64_t spread;                          /* n * sum |v|^2 - |sum v|^2 */
} plf_event;

/* A word of the ring: a component of a reading, or 16 samples' busy bits. */
typedef union {
    int16_t component;
    uint16_t bits;
} plf_word;

/* What was latched of the time before: a mean reading and a count, each if `has` says so. */
typedef struct {
    int16_t mean[3];
    uint16_t vigorous;
    uint16_t has; /* PLF_HAS_TILT, PLF_HAS_BUSY */
} plf_before;

/* The detector's memory; read `stage` if you like, leave the rest alone. */
typedef struct {
    uint64_t total_sq;
    const plf_settings *settings;
    plf_word *ring;
    uint32_t now, deadline, row_first, row_lowest;
    uint32_t first_low, last_low, lowest, highest, first_impact, impact, restarts, peak;
    int32_t total[3], raw_sum[3], baseline_sum[3];
    int16_t raw[16][3];
    plf_before candidate, before;
    uint16_t raw_at, raw_count, vectors, vector_at, vector_count, bits, bit_at, bit_count, vigorous, run, n, has;
    uint8_t stage; /* enum plf_stage */
} plf_state;

enum plf_result plf_init(plf_state *state, const plf_settings *settings, plf_word *ring, uint32_t ring_words);
enum plf_result plf_step(plf_state *state, const plf_settings *settings, int16_t x, int16_t y, int16_t z,
                         plf_event *event);
enum plf_result plf_gap(plf_state *state, const plf_settings *settings, plf_event *event);
enum plf_result plf_finish(plf_state *state, const plf_settings *settings, plf_event *event);

#ifdef __cplusplus
}
#endif

/* plf_settings from plumbfall_params.h, in the order of the members. */
#define PLF_SETTINGS { \
    PLF_PREFILTER_SAMPLES, PLF_FREE_FALL_ON, PLF_FREE_FALL_EVERY_AXIS, PLF_FREE_FALL_COUNTS, PLF_FREE_FALL_SAMPLES, \
    PLF_IMPACT_COUNTS, PLF_IMPACT_WITHIN_SAMPLES, PLF_SETTLE_SAMPLES, PLF_RESTART_ON, PLF_OBSERVE_SAMPLES, \
    PLF_TILT_ON, PLF_TILT_COSINE_Q14, PLF_BASELINE_SAMPLES, PLF_RECLINED_ON, PLF_RECLINED_COSINE_Q14, \
    { PLF_UPRIGHT_X_COUNTS, PLF_UPRIGHT_Y_COUNTS, PLF_UPRIGHT_Z_COUNTS }, PLF_STILL_ON, PLF_STILL_COUNTS, \
    PLF_GUARD_SAMPLES, PLF_BUSY_ON, PLF_BUSY_LOW_COUNTS, PLF_BUSY_HIGH_COUNTS, PLF_BUSY_WINDOW_SAMPLES, \
    PLF_BUSY_MOST_SAMPLES, PLF_HOLD_OFF_SAMPLES }

#endif
