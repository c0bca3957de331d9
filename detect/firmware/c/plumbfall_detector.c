/* SPDX-License-Identifier: MIT */
/* plumbfall_detector.c: see plumbfall_detector.h. C99, integers only.
 *
 * Bounds that the proofs below stand on: a component of a sample is an int16, so |c| <= 2^15 and |v|^2 <= 3 * 2^30;
 * guard, baseline, active window, settle, observe and free-fall samples <= 4096 = 2^12; thresholds <= 56756, so their
 * squares < 2^32; |upright| components <= 2^14; |cosines| <= 2^14. plf_init refuses settings beyond them.
 */
#include "plumbfall_detector.h"

#include <stdbool.h>
#include <stddef.h>

#define COSINE_ONE 16384

/* ---- Arithmetic ---- */

/* A threshold <= 56756 squared is <= 3221243536 < 2^32; as uint16 times uint16 it would be an int and overflow. */
static uint32_t square(uint32_t threshold)
{
    return threshold * threshold;
}

/* a / n to the nearest, halves upwards, for |a| <= n * 2^15 and 1 <= n <= 2^12: what n readings add up to.
 * C rounds to zero, so the quotient is kept positive: 0 <= a + n / 2 + 2^16 n < 2^29, and 2^16 is taken off again.
 * An odd n has no halves, so that n / 2 may lose its own. */
static int32_t rdiv(int32_t a, int32_t n)
{
    return (a + n / 2 + 65536 * n) / n - 65536;
}

/* |a . b| <= 3 * 2^30, one product <= 2^30: the sum needs more than 32 bits with its sign. */
static int64_t dot_product(const int32_t a[3], const int32_t b[3])
{
    return (int64_t)(a[0] * b[0]) + a[1] * b[1] + a[2] * b[2];
}

/* |v|^2 <= 3 * 2^30 < 2^32, a square <= 2^30 */
static uint32_t magnitude_sq(const int32_t v[3])
{
    return (uint32_t)(v[0] * v[0]) + (uint32_t)(v[1] * v[1]) + (uint32_t)(v[2] * v[2]);
}

/* |v| <= 2^15 */
static int32_t largest(const int32_t v[3])
{
    int32_t most = 0;
    for (int axis = 0; axis < 3; axis++) {
        const int32_t size = v[axis] < 0 ? -v[axis] : v[axis];
        if (size > most) {
            most = size;
        }
    }
    return most;
}

/* v doubled until its largest component reaches 2^14, so it ends below 2^15; v is not zero, so it does end. */
static void scale_up(int32_t v[3])
{
    const int32_t size = largest(v);
    int32_t factor = 1;
    while (size * factor < COSINE_ONE) {
        factor *= 2;
    }
    for (int axis = 0; axis < 3; axis++) {
        v[axis] *= factor;
    }
}

/* Floor of the square root. trial < 2^32, so trial^2 < 2^64. */
static uint32_t root(uint64_t x)
{
    uint32_t found = 0;
    for (uint32_t bit = UINT32_C(1) << 31; bit != 0; bit >>= 1) {
        const uint64_t trial = found | bit;
        if (trial * trial <= x) {
            found |= bit;
        }
    }
    return found;
}

/* ---- The time before: two circles, and for each the sum over its samples that are older than the guard ---- */

static uint16_t vectors_needed(const plf_settings *s)
{
    return s->tilt_on ? (uint16_t)(s->guard_samples + s->baseline_samples) : 0;
}

static uint16_t bits_needed(const plf_settings *s)
{
    return s->active_on ? (uint16_t)(s->guard_samples + s->active_window_samples) : 0;
}

/* Circles of `size` slots are written downwards. What is `ago` samples older than the one in slot `at`: */
static uint32_t slot_before(uint32_t at, uint32_t ago, uint32_t size)
{
    const uint32_t slot = at + ago; /* ago < size <= 2^13 */
    return slot < size ? slot : slot - size;
}

static uint16_t slot_after(uint16_t at, uint16_t size)
{
    return (uint16_t)((at > 0 ? at : size) - 1);
}

/* |sum| <= 2^12 * 2^15 = 2^27. Once the circle is full, the newest reading goes where the oldest is. */
static void remember_vector(plf_state *state, const plf_settings *s, const int32_t v[3])
{
    const uint32_t guarded = slot_before(state->vector_at, s->guard_samples, state->vectors);
    plf_word *newest = &state->ring[3U * state->vector_at];
    const plf_word *entering = &state->ring[3U * guarded];
    if (state->vector_count == state->vectors) {
        for (int axis = 0; axis < 3; axis++) {
            const int32_t leaving = newest[axis].component;
            newest[axis].component = (int16_t)v[axis];
            state->baseline_sum[axis] += entering[axis].component - leaving;
        }
    } else {
        state->vector_count++;
        for (int axis = 0; axis < 3; axis++) {
            newest[axis].component = (int16_t)v[axis];
            if (state->vector_count > s->guard_samples) {
                state->baseline_sum[axis] += entering[axis].component;
            }
        }
    }
    state->vector_at = slot_after(state->vector_at, state->vectors);
}

/* The bits lie behind the vectors, 16 in a word. */
static void remember_bit(plf_state *state, const plf_settings *s, uint32_t m2)
{
    const uint32_t guarded = slot_before(state->bit_at, s->guard_samples, state->bits);
    plf_word *words = &state->ring[3U * state->vectors];
    plf_word *newest = &words[state->bit_at / 16];
    const unsigned bit = 1U << (state->bit_at % 16);
    if (state->bit_count < state->bits) {
        state->bit_count++;
    } else if (newest->bits & bit) {
        state->active--; /* the oldest is still in that slot */
    }
    if (m2 < square(s->active_low_counts) || m2 > square(s->active_high_counts)) {
        newest->bits = (uint16_t)(newest->bits | bit);
    } else {
        newest->bits = (uint16_t)(newest->bits & ~bit);
    }
    if (state->bit_count > s->guard_samples) {
        const unsigned word = words[guarded / 16].bits;
        state->active = (uint16_t)(state->active + (word >> (guarded % 16) & 1U));
    }
    state->bit_at = slot_after(state->bit_at, state->bits);
}

/* The mean of B and the count of M samples before the guard, each only if all of them came after the last gap.
 * A mean of int16 is an int16. */
static void latch(const plf_state *state, const plf_settings *s, plf_before *before)
{
    before->has = 0;
    if (s->tilt_on && state->vector_count == state->vectors) {
        before->has |= PLF_HAS_TILT;
        for (int axis = 0; axis < 3; axis++) {
            before->mean[axis] = (int16_t)rdiv(state->baseline_sum[axis], s->baseline_samples);
        }
    }
    if (s->active_on && state->bit_count == state->bits) {
        before->has |= PLF_HAS_ACTIVE;
        before->active = state->active;
    }
}

/* ---- Before the transition: filter, low and run, latch ---- */

/* Turns a sample into the mean of the last L; false while there are fewer. Slots not yet filled hold zeros.
 * |sum| <= 2^4 * 2^15. */
static bool filter(plf_state *state, const plf_settings *s, int32_t v[3])
{
    const int32_t length = s->prefilter_samples;
    int16_t *oldest = state->raw[state->raw_at];
    if (length == 1) {
        return true;
    }
    for (int axis = 0; axis < 3; axis++) {
        state->raw_sum[axis] += v[axis] - oldest[axis];
        oldest[axis] = (int16_t)v[axis];
        v[axis] = rdiv(state->raw_sum[axis], length);
    }
    state->raw_at = slot_after(state->raw_at, s->prefilter_samples);
    if (state->raw_count < length) {
        state->raw_count++;
    }
    return state->raw_count == length;
}

static bool is_low(const plf_settings *s, const int32_t v[3], uint32_t m2)
{
    if (s->free_fall_every_axis) {
        return largest(v) < s->free_fall_counts;
    }
    return m2 < square(s->free_fall_counts);
}

/* The run counts on in every stage: a second fall may begin before the hold-off ends. */
static void count_low(plf_state *state, const plf_settings *s, const int32_t v[3], uint32_t m2)
{
    if (!is_low(s, v, m2)) {
        state->run = 0;
        return;
    }
    if (state->run == 0) {
        state->run_first = state->now;
        state->run_lowest = m2;
        latch(state, s, &state->candidate);
    }
    if (state->run < UINT16_MAX) {
        state->run++;
    }
    if (m2 < state->run_lowest) {
        state->run_lowest = m2;
    }
}

static bool qualified(const plf_state *state, const plf_settings *s)
{
    return state->run >= s->free_fall_samples;
}

/* ---- Judging ---- */

enum verdict { PASSES, FAILS, SKIPPED };

static void note(plf_event *event, enum plf_check check, enum verdict verdict)
{
    if (verdict == FAILS) {
        event->failed = (uint8_t)(event->failed | check);
    } else if (verdict == SKIPPED) {
        event->skipped = (uint8_t)(event->skipped | check);
    }
}

static enum verdict active_before(const plf_state *state, const plf_settings *s, plf_event *event)
{
    if (!(state->before.has & PLF_HAS_ACTIVE)) {
        return SKIPPED;
    }
    event->has |= PLF_HAS_ACTIVE;
    event->q = state->before.active;
    return event->q <= s->active_most_samples ? PASSES : FAILS;
}

/* What an angle is judged by. */
struct angle {
    int64_t dot;
    uint32_t a_sq, b_sq;
};

/* Has `after` turned from `before` by at least the angle of this cosine? Components end <= 2^15:
 * |a|^2 * |b|^2 <= 9 * 2^60 < 2^64; |dot| * 2^14 and |cosine| * root <= 3 * 2^44. */
static enum verdict turned(const int16_t before[3], const int32_t after[3], int32_t cosine, struct angle *angle)
{
    int32_t b[3];
    int32_t a[3];
    for (int axis = 0; axis < 3; axis++) {
        b[axis] = before[axis];
        a[axis] = after[axis];
    }
    if (largest(b) == 0 || largest(a) == 0) {
        return SKIPPED;
    }
    scale_up(b);
    scale_up(a);
    angle->dot = dot_product(b, a);
    angle->a_sq = magnitude_sq(a);
    angle->b_sq = magnitude_sq(b);
    const int64_t length = root((uint64_t)angle->b_sq * angle->a_sq);
    return angle->dot * COSINE_ONE <= cosine * length ? PASSES : FAILS;
}

static enum verdict tilt(const plf_state *state, const plf_settings *s, const int32_t after[3], plf_event *event)
{
    struct angle angle;
    if (!(state->before.has & PLF_HAS_TILT)) {
        return SKIPPED;
    }
    const enum verdict verdict = turned(state->before.mean, after, s->tilt_cosine_q14, &angle);
    if (verdict != SKIPPED) {
        event->has |= PLF_HAS_TILT;
        event->dot = angle.dot;
        event->a_sq = angle.a_sq;
        event->b_sq = angle.b_sq;
    }
    return verdict;
}

static enum verdict reclined(const plf_settings *s, const int32_t after[3], plf_event *event)
{
    struct angle angle;
    const enum verdict verdict = turned(s->upright_counts, after, s->reclined_cosine_q14, &angle);
    if (verdict != SKIPPED) {
        event->has |= PLF_HAS_RECLINED;
        event->dot_u = angle.dot;
        event->a_u_sq = angle.a_sq;
        event->u_sq = angle.b_sq;
    }
    return verdict;
}

/* n * sum |v|^2 <= 2^24 * 3 * 2^30 < 2^56; |sum v|^2 <= 3 * 2^54 and never more than it (Cauchy-Schwarz), so the
 * difference is not negative; n^2 * r^2 < 2^24 * 2^32. */
static enum verdict still(const plf_state *state, const plf_settings *s, plf_event *event)
{
    const uint64_t n = state->n;
    if (n == 0) {
        return SKIPPED;
    }
    event->has |= PLF_HAS_STILL;
    event->spread = n * state->total_sq;
    for (int axis = 0; axis < 3; axis++) {
        const int64_t sum = state->total[axis];
        event->spread -= (uint64_t)(sum * sum);
    }
    return event->spread <= n * n * square(s->still_counts) ? PASSES : FAILS;
}

static bool observes(const plf_settings *s)
{
    return s->tilt_on || s->reclined_on || s->still_on;
}

/* What every ended attempt reports. */
static void report(const plf_state *state, enum plf_ended ended, plf_event *event)
{
    const plf_event nothing = { 0 };
    *event = nothing;
    event->ended = (uint8_t)ended;
    event->decided = state->now;
    event->has = state->has;
    if (state->has & PLF_HAS_FREE_FALL) {
        event->first_low_ago = state->now - state->first_low;
        event->last_low_ago = state->now - state->last_low;
        event->lowest = state->lowest;
    }
    if (state->has & PLF_HAS_HIGHEST) {
        event->highest = state->highest;
    }
    if (state->has & PLF_HAS_IMPACT) {
        event->first_impact_ago = state->now - state->first_impact;
        event->impact_ago = state->now - state->impact;
        event->restarts = state->restarts;
        event->peak = state->peak;
    }
}

/* Every check that is on is made; one without data is skipped and passes. A fall is never rejected for lack of data. */
static enum plf_result judge(plf_state *state, const plf_settings *s, bool early, plf_event *event)
{
    int32_t after[3] = { 0, 0, 0 };
    report(state, PLF_ALARM, event);
    event->early = early;
    if (observes(s)) {
        event->has |= PLF_HAS_OBSERVED;
        event->n = state->n;
    }
    for (int axis = 0; axis < 3 && state->n > 0; axis++) {
        after[axis] = rdiv(state->total[axis], state->n);
    }
    if (s->active_on) {
        note(event, PLF_ACTIVE, active_before(state, s, event));
    }
    if (s->tilt_on) {
        note(event, PLF_TILT, tilt(state, s, after, event));
    }
    if (s->reclined_on) {
        note(event, PLF_RECLINED, reclined(s, after, event));
    }
    if (s->still_on) {
        note(event, PLF_STILL, still(state, s, event));
    }
    state->stage = PLF_HOLD;
    state->deadline = state->now + s->hold_off_samples;
    if (event->failed) {
        event->ended = PLF_REJECTED;
        state->stage = PLF_WATCH;
    }
    return PLF_ENDED;
}

/* ---- One transition a sample, from the stage held before it ---- */

static void clear_sums(plf_state *state)
{
    state->n = 0;
    state->total_sq = 0;
    for (int axis = 0; axis < 3; axis++) {
        state->total[axis] = 0;
    }
}

static void hit(plf_state *state, uint32_t m2)
{
    state->has |= PLF_HAS_IMPACT;
    state->first_impact = state->now;
    state->impact = state->now;
    state->restarts = 0;
    state->peak = m2;
    clear_sums(state);
    state->stage = PLF_SETTLE;
}

static enum plf_result watch(plf_state *state, const plf_settings *s, uint32_t m2)
{
    if (s->free_fall_on && qualified(state, s)) {
        state->has = PLF_HAS_FREE_FALL;
        state->before = state->candidate;
        state->first_low = state->run_first;
        state->last_low = state->now;
        state->lowest = state->run_lowest;
        state->deadline = state->now + s->impact_within_samples;
        state->stage = PLF_PRIMED;
    } else if (!s->free_fall_on && m2 >= square(s->impact_counts)) {
        state->has = 0;
        latch(state, s, &state->before);
        hit(state, m2);
    }
    return PLF_DONE;
}

static enum plf_result primed(plf_state *state, const plf_settings *s, uint32_t m2, plf_event *event)
{
    if (m2 < state->lowest) {
        state->lowest = m2;
    }
    if (!qualified(state, s) && m2 >= square(s->impact_counts)) {
        hit(state, m2);
        return PLF_DONE;
    }
    if (!(state->has & PLF_HAS_HIGHEST) || m2 > state->highest) {
        state->has |= PLF_HAS_HIGHEST;
        state->highest = m2;
    }
    if (qualified(state, s)) {
        state->last_low = state->now;
        state->deadline = state->now + s->impact_within_samples;
        return PLF_DONE;
    }
    if (state->now != state->deadline) {
        return PLF_DONE;
    }
    report(state, PLF_NO_IMPACT, event);
    state->stage = PLF_WATCH;
    return PLF_ENDED;
}

/* A bigger impact starts the wait anew; peak grows each time, so restarts < 2^32. */
static bool restarted(plf_state *state, const plf_settings *s, uint32_t m2)
{
    if (!s->restart_on || m2 <= state->peak) {
        return false;
    }
    state->impact = state->now;
    state->peak = m2;
    state->restarts++;
    clear_sums(state);
    state->stage = PLF_SETTLE;
    return true;
}

static enum plf_result settle(plf_state *state, const plf_settings *s, uint32_t m2, plf_event *event)
{
    if (restarted(state, s, m2)) {
        return PLF_DONE;
    }
    if (m2 > state->peak) {
        state->peak = m2;
    }
    if (state->now - state->impact < s->settle_samples) {
        return PLF_DONE;
    }
    if (!observes(s)) {
        return judge(state, s, false, event);
    }
    state->stage = PLF_OBSERVE;
    return PLF_DONE;
}

/* |total| <= 2^12 * 2^15 = 2^27; total_sq <= 2^12 * 3 * 2^30 < 2^44 */
static enum plf_result observe(plf_state *state, const plf_settings *s, const int32_t v[3], uint32_t m2,
                               plf_event *event)
{
    if (restarted(state, s, m2)) {
        return PLF_DONE;
    }
    state->n++;
    state->total_sq += m2;
    for (int axis = 0; axis < 3; axis++) {
        state->total[axis] += v[axis];
    }
    return state->n == s->observe_samples ? judge(state, s, false, event) : PLF_DONE;
}

static enum plf_result hold(plf_state *state)
{
    if (state->now == state->deadline) {
        state->stage = PLF_WATCH;
    }
    return PLF_DONE;
}

static enum plf_result transition(plf_state *state, const plf_settings *s, const int32_t v[3], uint32_t m2,
                                  plf_event *event)
{
    switch (state->stage) {
    case PLF_WATCH:
        return watch(state, s, m2);
    case PLF_PRIMED:
        return primed(state, s, m2, event);
    case PLF_SETTLE:
        return settle(state, s, m2, event);
    case PLF_OBSERVE:
        return observe(state, s, v, m2, event);
    default:
        return hold(state);
    }
}

/* ---- What the header offers ---- */

/* Nothing before this moment counts any more; positions in the circles may stay where they are. */
static void forget(plf_state *state)
{
    for (int axis = 0; axis < 3; axis++) {
        state->raw_sum[axis] = 0;
        state->baseline_sum[axis] = 0;
        for (int slot = 0; slot < 16; slot++) {
            state->raw[slot][axis] = 0;
        }
    }
    state->raw_count = 0;
    state->vector_count = 0;
    state->bit_count = 0;
    state->active = 0;
    state->run = 0;
    state->stage = PLF_WATCH;
}

/* Words of the ring: three a vector, 16 bits a word. */
static uint32_t words_needed(const plf_settings *s)
{
    return 3U * vectors_needed(s) + (bits_needed(s) + 15U) / 16U;
}

enum plf_result plf_init(plf_state *state, const plf_settings *settings, plf_word *ring, uint32_t ring_words)
{
    if (state == NULL) {
        return PLF_REFUSED;
    }
    state->settings = NULL;
    if (plf_settings_check(settings) != PLF_ALL_IN_BOUNDS || ring == NULL || ring_words < words_needed(settings)) {
        return PLF_REFUSED;
    }
    state->settings = settings;
    state->ring = ring;
    state->vectors = vectors_needed(settings);
    state->bits = bits_needed(settings);
    state->now = UINT32_MAX; /* the first sample is number 0 */
    state->raw_at = 0;
    state->vector_at = 0;
    state->bit_at = 0;
    forget(state);
    return PLF_DONE;
}

/* plf_init made this state ready. */
static bool is_ready(const plf_state *state, const plf_event *event)
{
    return state != NULL && event != NULL && state->settings != NULL;
}

enum plf_result plf_step(plf_state *state, int16_t x, int16_t y, int16_t z, plf_event *event)
{
    int32_t v[3] = { x, y, z };
    if (!is_ready(state, event)) {
        return PLF_REFUSED;
    }
    const plf_settings *s = state->settings;
    state->now++;
    if (!filter(state, s, v)) {
        return PLF_DONE;
    }
    const uint32_t m2 = magnitude_sq(v);
    count_low(state, s, v, m2);
    const enum plf_result result = transition(state, s, v, m2, event);
    if (s->tilt_on) {
        remember_vector(state, s, v);
    }
    if (s->active_on) {
        remember_bit(state, s, m2);
    }
    return result;
}

enum plf_result plf_gap(plf_state *state, plf_event *event)
{
    enum plf_result result = PLF_DONE;
    if (!is_ready(state, event)) {
        return PLF_REFUSED;
    }
    if (state->stage == PLF_PRIMED) {
        report(state, PLF_CUT_OFF, event);
        result = PLF_ENDED;
    } else if (state->stage == PLF_SETTLE || state->stage == PLF_OBSERVE) {
        result = judge(state, state->settings, true, event);
    }
    forget(state);
    return result;
}

/* The end of a recording is a gap that nothing follows. */
enum plf_result plf_finish(plf_state *state, plf_event *event)
{
    return plf_gap(state, event);
}
