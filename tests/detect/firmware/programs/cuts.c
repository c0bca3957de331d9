/* Power is cut at every byte programmed and every block erased, over two laps of rings of several shapes, and once more
 * while the log recovers. Prints "kept, N cuts" where every record that should stand does, and the ring went on.
 *
 * The flash is stricter than most: a unit programmed twice between two erases, or a block whose erase was cut and not
 * repeated, is a fault even where the bytes would have come out right. A byte whose programming was cut and that still
 * reads blank may come out wrong when it is programmed again.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "power.h"

enum { MOST_MEMORY = 4096, MOST_SLOTS = 64, DONE = 1, UNSURE = 2 };

struct shape {
    uint32_t block_bytes, blocks;
    uint16_t unit_bytes, samples;
    uint8_t bits, measured;
};
static const struct shape shapes[] = {
    { 256, 4, 4, 4, 8, 0 },    { 128, 16, 8, 24, 10, 1 }, { 64, 20, 1, 3, 2, 0 },   { 256, 8, 64, 20, 12, 0 },
    { 1024, 2, 2, 20, 16, 0 }, { 128, 9, 4, 14, 12, 0 },  { 100, 11, 4, 12, 7, 1 }, { 512, 4, 16, 60, 16, 1 },
};

static uint8_t memory[MOST_MEMORY], saved[MOST_MEMORY], programmed[MOST_MEMORY], saved_programmed[MOST_MEMORY];
static uint8_t torn[MOST_MEMORY], saved_torn[MOST_MEMORY]; /* by block */
static uint32_t erases[MOST_MEMORY];
static plf_flash flash;
static long left; /* bytes and erases until the cut; negative: none comes */

static void fail(const char *why)
{
    printf("not kept: %s\n", why);
    exit(1);
}

static int goes(void)
{
    if (left == 0) {
        gone = 1;
        return 1;
    }
    left -= left > 0;
    return 0;
}

static int flash_read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    (void)context;
    if (at + size > flash.block_bytes * flash.blocks) {
        fail("a read outside of the memory");
    }
    memcpy(to, memory + at, size);
    return 0;
}

static int flash_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    if (at % flash.unit_bytes || size % flash.unit_bytes || at + size > flash.block_bytes * flash.blocks) {
        fail("a program that is not in whole units of the memory");
    }
    for (uint32_t i = 0; i < size && !gone; i++) {
        const int cut = goes();
        const int unsure = programmed[at + i] == UNSURE;
        if (programmed[at + i] == DONE) {
            fail("a unit programmed twice");
        }
        if (torn[(at + i) / flash.block_bytes]) {
            fail("a block programmed whose erase was cut");
        }
        memory[at + i] &= (uint8_t)(from[i] | (cut ? roll() & 0xFF : 0));
        if (unsure && roll() % 2) {
            memory[at + i] &= (uint8_t)roll();
        }
        programmed[at + i] = cut && memory[at + i] == 0xFF ? UNSURE : DONE;
    }
    return gone;
}

static int flash_erase(void *context, uint32_t block)
{
    (void)context;
    if (gone || block >= flash.blocks) {
        return 1;
    }
    uint8_t *at = memory + block * flash.block_bytes;
    const uint32_t how = roll() % 4;
    const int cut = goes();
    for (uint32_t i = 0; i < flash.block_bytes; i++) {
        if (!cut || how == 0 || (how == 1 && i < flash.block_bytes / 3)) {
            at[i] = 0xFF;
        } else if (how == 2) {
            at[i] = (uint8_t)roll();
        }
    }
    memset(programmed + block * flash.block_bytes, 0, flash.block_bytes);
    torn[block] = (uint8_t)cut;
    erases[block] += !cut;
    return cut;
}

static uint8_t bytes[1024];
static uint32_t numbers[MOST_SLOTS];

static enum plf_result append(plf_log *log, const struct shape *s)
{
    plf_record r = { 0 };
    const uint32_t sequence = log->sequence + 1;
    r.seconds = sequence * 7;
    r.before = s->samples;
    r.bits = s->bits;
    r.measured = s->measured;
    r.event.decided = sequence;
    for (uint16_t i = 0; i < s->samples; i++) {
        const int16_t v[3] = { (int16_t)(sequence * 3 + i), (int16_t)(i * 5), -1 };
        plf_pack(bytes + plf_record_samples(&r), i, r.bits, 0, v);
    }
    return finish(log, plf_log_append(log, &r, bytes, sizeof bytes));
}

/* The sequence of the whole record in each slot, 0 for none: by the dump alone, not by the log. */
static void look(const plf_log *log, uint32_t held[MOST_SLOTS])
{
    for (uint32_t slot = 0; slot < log->ring.slots; slot++) {
        plf_record r;
        const uint8_t *at = memory + slot * log->ring.slot_bytes;
        held[slot] = plf_record_read(at, log->ring.area_bytes, &r) == PLF_RECORD_WHOLE && r.seconds == r.sequence * 7
            ? r.sequence : 0;
    }
}

/* Does writing slot k take with it what is in `slot`? It may, where a block that begins in k reaches into it. */
static int recycles(const plf_log *log, uint32_t k, uint32_t slot)
{
    const uint32_t b = flash.block_bytes;
    const uint32_t first = (k * log->ring.slot_bytes + b - 1) / b * b;
    const uint32_t last = ((k + 1) * log->ring.slot_bytes + b - 1) / b * b;
    return slot == k
        || (first < (k + 1) * log->ring.slot_bytes && slot * log->ring.slot_bytes < last && (slot + 1) * log->ring.slot_bytes > first);
}

static void mount(plf_log *log, uint32_t largest)
{
    left = -1;
    gone = 0;
    if (finish(log, plf_log_mount(log, &flash, largest, numbers, MOST_SLOTS)) != PLF_DONE) {
        fail("a mount after a cut");
    }
}

/* `allowed` slots behind the newest may have been given up, and what their blocks take with them; no other record. */
static void check(const plf_log *log, const uint32_t before[MOST_SLOTS], uint32_t newest, uint32_t allowed)
{
    uint32_t held[MOST_SLOTS];
    look(log, held);
    for (uint32_t slot = 0; slot < log->ring.slots; slot++) {
        int may_go = 0;
        for (uint32_t step = 1; step <= allowed; step++) {
            may_go = may_go || recycles(log, (newest + step) % log->ring.slots, slot);
        }
        if (before[slot] != 0 && held[slot] != before[slot] && !may_go) {
            fail("a record is lost that nothing had to touch");
        }
    }
}

static uint32_t slot_of(const plf_log *log, const uint32_t held[MOST_SLOTS])
{
    for (uint32_t slot = 0; slot < log->ring.slots; slot++) {
        if (log->sequence != 0 && held[slot] == log->sequence) {
            return slot;
        }
    }
    return log->ring.slots - 1; /* none yet: slot 0 follows */
}

/* One append, cut after `n`; then one that is cut after `m`; then two that are not. */
static int cut_at(const struct shape *s, uint32_t largest, long n, long m)
{
    plf_log log;
    uint32_t before[MOST_SLOTS], held[MOST_SLOTS];
    mount(&log, largest);
    look(&log, before);
    const uint32_t sequence = log.sequence, newest = slot_of(&log, before);
    left = n;
    const int whole = append(&log, s) == PLF_DONE;
    mount(&log, largest);
    if (whole) {
        if (log.sequence != sequence + 1) {
            fail("a record that was written is gone");
        }
        return 0;
    }
    check(&log, before, newest, 1);
    if (log.sequence == sequence + 1) {
        return 1; /* the cut came in the last byte that says anything */
    }
    if (log.sequence != sequence) {
        fail("another record is the newest after the cut");
    }
    left = m;
    append(&log, s);
    mount(&log, largest);
    if (log.sequence != sequence && log.sequence != sequence + 1) {
        fail("another record is the newest after the second cut");
    }
    check(&log, before, newest, 2);
    for (uint32_t i = 1; i <= 2; i++) {
        const uint32_t next = log.sequence + 1;
        if (append(&log, s) != PLF_DONE || log.sequence != next) {
            fail("the ring does not go on");
        }
    }
    mount(&log, largest);
    look(&log, held);
    if (held[slot_of(&log, held)] != log.sequence || log.sequence < sequence + 2) {
        fail("what was written after the cuts is not found");
    }
    check(&log, before, newest, 4);
    return 1;
}

static long cuts_of(const struct shape *s)
{
    const uint32_t largest = (uint32_t)PLF_RECORD_BYTES(s->samples, s->bits, s->measured);
    plf_log log;
    long cuts = 0;
    flash.read = flash_read;
    flash.program = flash_program;
    flash.erase = flash_erase;
    flash.block_bytes = s->block_bytes;
    flash.blocks = s->blocks;
    flash.unit_bytes = s->unit_bytes;
    memset(memory, 0xFF, sizeof memory);
    memset(programmed, 0, sizeof programmed);
    memset(torn, 0, sizeof torn);
    memset(erases, 0, sizeof erases);
    mount(&log, largest);
    const uint32_t laps = 2 * log.ring.slots;
    for (uint32_t record = 0; record <= laps; record++) {
        memcpy(saved, memory, sizeof memory);
        memcpy(saved_programmed, programmed, sizeof programmed);
        memcpy(saved_torn, torn, sizeof torn);
        uint32_t saved_erases[MOST_MEMORY];
        memcpy(saved_erases, erases, sizeof erases);
        for (long n = 0, more = 1; more; n++) {
            more = cut_at(s, largest, n, (long)(roll() % (largest + 4)));
            cuts += more;
            memcpy(memory, saved, sizeof memory);
            memcpy(programmed, saved_programmed, sizeof programmed);
            memcpy(torn, saved_torn, sizeof torn);
        }
        memcpy(erases, saved_erases, sizeof erases);
        mount(&log, largest);
        if (append(&log, s) != PLF_DONE) {
            fail("an append that nothing disturbs");
        }
    }
    uint32_t least = UINT32_MAX, most = 0;
    for (uint32_t block = 0; block * s->block_bytes < log.ring.slots * log.ring.slot_bytes; block++) {
        least = erases[block] < least ? erases[block] : least;
        most = erases[block] > most ? erases[block] : most;
    }
    if (least < 2 || most > least + 1) {
        fail("blocks wear unevenly");
    }
    return cuts;
}

int main(void)
{
    long cuts = 0;
    for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++) {
        cuts += cuts_of(&shapes[i]);
    }
    printf("kept, %ld cuts\n", cuts);
    return 0;
}
