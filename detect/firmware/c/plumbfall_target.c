/* SPDX-License-Identifier: MIT */
/* plumbfall_target.c: see plumbfall_target.h. C99, integers only. */
#include "plumbfall_target.h"

#include <stddef.h>

enum { WORD = 2 };

typedef char settings_are_words_alone[sizeof(plf_settings) % WORD == 0 ? 1 : -1];

static void send(plf_target *target)
{
    uint8_t bytes[PLF_STUFFED_MOST];
    target->board.write(target->board.context, bytes, plf_frame_write(&target->out, bytes));
}

static void begin_reply(plf_target *target)
{
    plf_message_begin(&target->out, (uint8_t)(PLF_MESSAGE_REPLY | target->in.kind), target->in.node,
                      target->in.sequence, 0);
}

/* ---- Events ---- */

static void put_64(plf_message *to, uint64_t value)
{
    plf_message_put(to, (uint32_t)(value & UINT32_MAX), 4);
    plf_message_put(to, (uint32_t)(value >> 32), 4);
}

/* The members of a plf_event in their order, as in a record. */
static void send_event(plf_target *target, const plf_event *e)
{
    plf_message *to = &target->out;
    const uint8_t bytes[] = { e->ended, e->early, e->failed, e->skipped };
    const uint32_t words[] = { e->decided, e->first_low_ago, e->last_low_ago, e->first_impact_ago, e->impact_ago,
                               e->lowest, e->highest, e->restarts, e->peak };
    const uint32_t squares[] = { e->a_sq, e->b_sq, e->a_u_sq, e->u_sq };
    plf_message_begin(to, PLF_TARGET_EVENT, target->in.node, target->events++, 0);
    for (uint32_t i = 0; i < sizeof bytes; i++) {
        plf_message_put(to, bytes[i], 1);
    }
    plf_message_put(to, e->has, 2);
    plf_message_put(to, e->q, 2);
    plf_message_put(to, e->n, 2);
    for (uint32_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        plf_message_put(to, words[i], 4);
    }
    put_64(to, (uint64_t)e->dot);
    put_64(to, (uint64_t)e->dot_u);
    for (uint32_t i = 0; i < sizeof squares / sizeof squares[0]; i++) {
        plf_message_put(to, squares[i], 4);
    }
    put_64(to, e->spread);
    send(target);
}

static void see(plf_target *target, enum plf_result result, const plf_event *event)
{
    if (result == PLF_ENDED) {
        send_event(target, event);
    }
}

/* ---- What a message asks ---- */

/* The settings of the payload, if there are any, else the board's own; 0 where they are of another size. */
static int take_settings(plf_target *target)
{
    uint8_t *to = (uint8_t *)&target->settings;
    if (target->in.length == 0) {
        target->settings = *target->own;
        return 1;
    }
    if (target->in.length != sizeof(plf_settings)) {
        return 0;
    }
    for (uint32_t at = 0; at < sizeof(plf_settings); at += WORD) {
        const uint16_t word = (uint16_t)plf_message_get(&target->in, at, WORD);
        const uint8_t *from = (const uint8_t *)&word; /* in the processor's own order of bytes */
        to[at] = from[0];
        to[at + 1U] = from[1];
    }
    return 1;
}

static void begin(plf_target *target)
{
    enum plf_result result = PLF_REFUSED;
    if (take_settings(target)) {
        result = plf_init(&target->state, &target->settings, target->ring, target->ring_words);
    }
    target->next = 0;
    target->events = 0;
    target->worst = 0;
    begin_reply(target);
    plf_message_put(&target->out, (uint32_t)result, 1);
    plf_message_put(&target->out, PLF_API_VERSION, 1);
    plf_message_put(&target->out, target->identity, 4);
    plf_message_put(&target->out, target->ring_words, 4);
    send(target);
}

static uint32_t cycles_now(const plf_target *target)
{
    return target->board.cycles != NULL ? target->board.cycles(target->board.context) : 0;
}

/* Every sample of a message, if they are the ones that come next; their cycles. */
static uint32_t step_all(plf_target *target)
{
    uint32_t cycles = 0;
    const uint32_t samples = plf_message_samples(&target->in);
    if (target->in.sequence != target->next) {
        return 0;
    }
    for (uint32_t i = 0; i < samples; i++) {
        int16_t v[3];
        plf_event event;
        plf_message_read(&target->in, i, v);
        const uint32_t start = cycles_now(target);
        const enum plf_result result = plf_step(&target->state, v[0], v[1], v[2], &event);
        const uint32_t took = cycles_now(target) - start;
        cycles += took;
        target->worst = took > target->worst ? took : target->worst;
        see(target, result, &event);
    }
    target->next += samples;
    return cycles;
}

static void answer(plf_target *target, uint32_t cycles)
{
    begin_reply(target);
    plf_message_put(&target->out, target->next, 4);
    plf_message_put(&target->out, target->events, 4);
    plf_message_put(&target->out, cycles, 4);
    plf_message_put(&target->out, target->worst, 4);
    send(target);
}

static void obey(plf_target *target)
{
    plf_event event;
    switch (target->in.kind) {
    case PLF_TARGET_BEGIN:
        begin(target);
        break;
    case PLF_MESSAGE_SAMPLES:
        answer(target, step_all(target));
        break;
    case PLF_TARGET_GAP:
        see(target, plf_gap(&target->state, &event), &event);
        answer(target, 0);
        break;
    case PLF_TARGET_FINISH:
        see(target, plf_finish(&target->state, &event), &event);
        answer(target, 0);
        break;
    default: /* for somebody else on this line */
        break;
    }
}

void plf_target_init(plf_target *target, plf_word *ring, uint32_t ring_words, const plf_settings *own,
                     uint32_t identity, plf_board board)
{
    target->own = own;
    target->settings = *own;
    target->ring = ring;
    target->ring_words = ring_words;
    target->identity = identity;
    target->board = board;
    target->next = 0;
    target->events = 0;
    target->worst = 0;
    plf_frame_init(&target->receiver);
    plf_init(&target->state, &target->settings, ring, ring_words);
}

void plf_target_put(plf_target *target, uint8_t byte)
{
    if (plf_frame_put(&target->receiver, byte, &target->in) == PLF_READY) {
        obey(target);
    }
}
