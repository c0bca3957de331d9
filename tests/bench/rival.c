/* What an engineer would write instead of an engine: one pass over all samples, a state machine, look back in the
 * array when something is to be judged. The benchmark compiles it with -O3 -march=native and counts its time only
 * when its attempts are the engine's. */
#include <stdint.h>
#include <stdlib.h>

typedef struct {
    int64_t prefilter, free_fall_on, every_axis, free_fall, free_fall_run, impact, impact_within, settle, observe,
        restart_on, guard, active_on, active_low, active_high, active_window, active_most, tilt_on, tilt_cosine, baseline,
        reclined_on, reclined_cosine, upright[3], still_on, still, hold_off;
} rule_t;

/* One attempt; places are in the array, -1 where not reached. failed: active 1, tilt 2, reclined 4, still 8. */
typedef struct {
    int64_t ended, decided, early, failed, first_low, last_low, first_impact, impact, restarts, peak, n;
} attempt_t;

enum { ALARM, NO_IMPACT, REJECTED, CUT_OFF };
enum { WATCH, PRIMED, SETTLE, OBSERVE, HOLD };

static int64_t rdiv(int64_t a, int64_t n)
{
    int64_t p = 2 * a + n, q = 2 * n;
    return p >= 0 ? p / q : -((q - 1 - p) / q);
}

static int64_t root(uint64_t value)
{
    uint64_t r = (uint64_t)__builtin_sqrt((double)value);
    while (r * r > value) r--;
    while ((r + 1) * (r + 1) <= value) r++;
    return (int64_t)r;
}

static int64_t dot(const int64_t a[3], const int64_t b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static int turned(const int64_t before[3], const int64_t after[3], int64_t cosine)
{
    int64_t b[3] = {before[0], before[1], before[2]}, a[3] = {after[0], after[1], after[2]};
    if (!(b[0] | b[1] | b[2]) || !(a[0] | a[1] | a[2])) return 1;
    while (llabs(b[0]) < 16384 && llabs(b[1]) < 16384 && llabs(b[2]) < 16384) b[0] *= 2, b[1] *= 2, b[2] *= 2;
    while (llabs(a[0]) < 16384 && llabs(a[1]) < 16384 && llabs(a[2]) < 16384) a[0] *= 2, a[1] *= 2, a[2] *= 2;
    return dot(a, b) * 16384 <= cosine * root((uint64_t)dot(a, a) * (uint64_t)dot(b, b));
}

/* Which checks reject, when `latch` is the sample before which "before" ends and `sum` and `sum_sq` are of n samples. */
static int64_t judge(const int16_t (*v)[3], const rule_t *r, int64_t begin, int64_t latch, int64_t n,
                     const int64_t sum[3], int64_t sum_sq)
{
    int64_t failed = 0, after[3] = {0, 0, 0}, stop = latch - r->guard;
    if (n)
        for (int k = 0; k < 3; k++) after[k] = rdiv(sum[k], n);
    if (r->active_on && stop - r->active_window >= begin) {
        int64_t q = 0;
        for (int64_t i = stop - r->active_window; i < stop; i++) {
            int64_t m2 = (int64_t)v[i][0] * v[i][0] + (int64_t)v[i][1] * v[i][1] + (int64_t)v[i][2] * v[i][2];
            q += m2 < r->active_low * r->active_low || m2 > r->active_high * r->active_high;
        }
        if (q > r->active_most) failed |= 1;
    }
    if (r->tilt_on && stop - r->baseline >= begin) {
        int64_t b[3] = {0, 0, 0};
        for (int64_t i = stop - r->baseline; i < stop; i++)
            for (int k = 0; k < 3; k++) b[k] += v[i][k];
        for (int k = 0; k < 3; k++) b[k] = rdiv(b[k], r->baseline);
        if (!turned(b, after, r->tilt_cosine)) failed |= 2;
    }
    if (r->reclined_on && !turned(r->upright, after, r->reclined_cosine)) failed |= 4;
    if (r->still_on && n && n * sum_sq - dot(sum, sum) > n * n * r->still * r->still) failed |= 8;
    return failed;
}

/* The mean of the last `length` samples of each stretch; where there are not yet so many, the place stays unused. */
void rival_filter(const int16_t (*raw)[3], int16_t (*v)[3], int64_t begin, int64_t stop, int64_t length)
{
    int64_t sum[3] = {0, 0, 0};
    for (int64_t t = begin; t < stop; t++)
        for (int k = 0; k < 3; k++) {
            sum[k] += raw[t][k];
            if (t - begin >= length) sum[k] -= raw[t - length][k];
            v[t][k] = (int16_t)rdiv(sum[k], length);
        }
}

/* One stretch. Attempts are appended at out[found]; the new count is returned. */
static int64_t stretch(const int16_t (*v)[3], int64_t begin, int64_t stop, const rule_t *r, attempt_t *out,
                       int64_t found)
{
    const uint32_t low = (uint32_t)(r->free_fall * r->free_fall), hit = (uint32_t)(r->impact * r->impact);
    const int free_fall_on = (int)r->free_fall_on, every_axis = (int)r->every_axis, restart_on = (int)r->restart_on;
    const int free_fall = (int)r->free_fall, observes = (int)(r->tilt_on | r->reclined_on | r->still_on);
    const int64_t long_enough = r->free_fall_run;
    int state = WATCH;
    int64_t run = 0, row = 0, deadline = 0, latch = 0, sum_sq = 0, sum[3] = {0, 0, 0};
    attempt_t a = {0};

    for (int64_t t = begin; t < stop; t++) {
        const int32_t x = v[t][0], y = v[t][1], z = v[t][2];
        const uint32_t m2 = (uint32_t)(x * x) + (uint32_t)(y * y) + (uint32_t)(z * z);
        if (free_fall_on) {
            const int is_low = every_axis ? abs(x) < free_fall && abs(y) < free_fall && abs(z) < free_fall : m2 < low;
            if (is_low) {
                if (run++ == 0) row = t;
            } else {
                run = 0;
            }
        }
        switch (state) {
        case WATCH:
            if (free_fall_on) {
                if (run < long_enough) break;
                a = (attempt_t){.first_low = row, .last_low = t, .first_impact = -1, .impact = -1, .restarts = -1,
                                .peak = -1, .n = -1};
                latch = row, deadline = t + r->impact_within, state = PRIMED;
                break;
            }
            if (m2 < hit) break;
            a = (attempt_t){.first_low = -1, .last_low = -1};
            latch = t;
            goto impact;
        case PRIMED:
            if (run >= long_enough) {
                a.last_low = t, deadline = t + r->impact_within;
                break;
            }
            if (m2 >= hit) goto impact;
            if (t == deadline) {
                a.ended = NO_IMPACT, a.decided = t, out[found++] = a;
                state = WATCH;
            }
            break;
        impact:
            a.first_impact = a.impact = t, a.peak = m2, a.restarts = 0, a.n = 0;
            sum[0] = sum[1] = sum[2] = sum_sq = 0, state = SETTLE;
            break;
        case SETTLE:
        case OBSERVE:
            if (restart_on && m2 > (uint64_t)a.peak) {
                a.impact = t, a.peak = m2, a.restarts++, a.n = 0;
                sum[0] = sum[1] = sum[2] = sum_sq = 0, state = SETTLE;
                break;
            }
            if (state == SETTLE) {
                if (m2 > (uint64_t)a.peak) a.peak = m2;
                if (t < a.impact + r->settle) break;
                state = OBSERVE;
                if (observes) break;
            } else {
                sum[0] += x, sum[1] += y, sum[2] += z, sum_sq += m2;
                if (++a.n < r->observe) break;
            }
            a.failed = judge(v, r, begin, latch, a.n, sum, sum_sq);
            a.ended = a.failed ? REJECTED : ALARM, a.decided = t, out[found++] = a;
            state = a.failed ? WATCH : HOLD, deadline = t + r->hold_off;
            break;
        default:
            if (t == deadline) state = WATCH;
        }
    }
    if (state == PRIMED) {
        a.ended = CUT_OFF, a.decided = stop - 1, out[found++] = a;
    } else if (state == SETTLE || state == OBSERVE) {
        a.failed = judge(v, r, begin, latch, a.n, sum, sum_sq);
        a.ended = a.failed ? REJECTED : ALARM, a.decided = stop - 1, a.early = 1, out[found++] = a;
    }
    return found;
}

/* All stretches [begin, stop) of a corpus. `out` must hold an attempt for every second sample. */
int64_t rival(const int16_t (*v)[3], const int64_t *begin, const int64_t *stop, int64_t stretches, const rule_t *rule,
              attempt_t *out)
{
    int64_t found = 0;
    for (int64_t s = 0; s < stretches; s++)
        if (begin[s] < stop[s]) found = stretch(v, begin[s], stop[s], rule, out, found);
    return found;
}
