/* As many random records as the argument says, each written and read back, then with one bit flipped. Prints "kept, N
 * records" where all came back as they went in and no flip went unnoticed.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plumbfall_record.h"

static uint64_t dice = 88172645463325252U;

static uint64_t roll(void)
{
    dice ^= dice << 13;
    dice ^= dice >> 7;
    dice ^= dice << 17;
    return dice;
}

static void fill(void *to, size_t size)
{
    for (uint8_t *at = to; size > 0; size--) {
        *at++ = (uint8_t)(roll() >> 20);
    }
}

static void make(plf_record *r)
{
    memset(r, 0, sizeof *r);
    r->sequence = (uint32_t)roll();
    r->seconds = (uint32_t)roll();
    r->milliseconds = (uint16_t)(roll() % 1000);
    r->node = (uint16_t)roll();
    r->settings_crc32 = (uint32_t)roll();
    r->rate_millihz = (uint32_t)roll();
    r->counts_per_1000_g = (uint32_t)roll();
    r->memory_bytes = (uint32_t)roll();
    r->slot_bytes = (uint16_t)roll();
    r->before = (uint16_t)(roll() % 12);
    r->after = (uint16_t)(roll() % 6);
    r->kind = (uint8_t)(roll() % 2);
    r->bits = (uint8_t)(2 + roll() % 15);
    r->shift = (uint8_t)(roll() % (17U - r->bits));
    r->measured = (uint8_t)(roll() % 2);
    if (r->measured) {
        fill(&r->event, sizeof r->event);
    }
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

/* A reading that `bits` and `shift` lose nothing of. */
static int16_t component(const plf_record *r)
{
    const int32_t half = 1 << (r->bits - 1);
    return (int16_t)(((int32_t)(roll() % (uint64_t)(2 * half)) - half) * (1 << r->shift));
}

int main(int argc, char **argv)
{
    static uint8_t bytes[512];
    static int16_t v[32][3];
    const long count = argc > 1 ? atol(argv[1]) : 1000;
    for (long number = 0; number < count; number++) {
        plf_record r, back;
        make(&r);
        const uint32_t samples = (uint32_t)r.before + r.after;
        fill(bytes, sizeof bytes);
        for (uint32_t i = 0; i < samples; i++) {
            for (int axis = 0; axis < 3; axis++) {
                v[i][axis] = component(&r);
            }
            plf_pack(bytes + plf_record_samples(&r), i, r.bits, r.shift, v[i]);
        }
        const uint32_t size = plf_record_write(&r, bytes, sizeof bytes);
        int good = size > 0 && plf_record_read(bytes, size, &back) == PLF_RECORD_WHOLE
            && same_event(&r.event, &back.event);
        good = good && back.sequence == r.sequence && back.seconds == r.seconds
            && back.milliseconds == r.milliseconds && back.node == r.node && back.settings_crc32 == r.settings_crc32
            && back.rate_millihz == r.rate_millihz && back.counts_per_1000_g == r.counts_per_1000_g
            && back.memory_bytes == r.memory_bytes && back.slot_bytes == r.slot_bytes && back.before == r.before
            && back.after == r.after && back.kind == r.kind && back.bits == r.bits && back.shift == r.shift
            && back.measured == r.measured;
        for (uint32_t i = 0; i < samples && good; i++) {
            int16_t out[3];
            plf_unpack(bytes + plf_record_samples(&r), i, r.bits, r.shift, out);
            good = memcmp(out, v[i], sizeof out) == 0;
        }
        const uint32_t bit = (uint32_t)(roll() % (8U * (size ? size : 1)));
        bytes[bit / 8] ^= (uint8_t)(1U << bit % 8);
        if (!good || plf_record_read(bytes, size, &back) == PLF_RECORD_WHOLE) {
            printf("not kept: record %ld, bit %u\n", number, (unsigned)bit);
            return 1;
        }
    }
    printf("kept, %ld records\n", count);
    return 0;
}
