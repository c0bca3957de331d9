/* A memory that fails: program, erase or read, at every call of an append, once, a few times or for ever, doing nothing,
 * doing half, or saying that all is done; then with a restart at every append, and with a cut of power on top.
 *
 * Prints "kept, N faults" where nothing was lost against the rule: while nothing is programmed right, one block that
 * holds something is erased at most (two, where a slot is larger than a block), over any number of calls and restarts; a
 * call fails twice at most; what is lost is the oldest; and when the fault is over the next append succeeds. Three blocks
 * at least: of two, both may hold a part of the newest record. A block more may go where a record was cut and can't be
 * read either. "faults SKIP" leaves out all but every SKIPth place of the
 * fault.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "power.h"

enum { MOST_MEMORY = 4096, MOST_SLOTS = 64, MOST_NUMBERS = 4096, FOR_EVER = 1000000 };
enum way { REFUSED, HALF, DEAF, NOISE, ERASE_REFUSED, ERASE_HALF, ERASE_DEAF, UNREAD, WAYS };

struct shape {
    uint32_t block_bytes, blocks;
    uint16_t unit_bytes, samples;
    uint8_t bits;
};
static const struct shape shapes[] = {
    { 256, 4, 4, 4, 8 },   { 256, 5, 8, 24, 10 }, { 512, 4, 64, 60, 12 },  { 128, 9, 4, 14, 12 },
    { 256, 6, 1, 30, 12 }, { 128, 16, 8, 60, 10 }, { 1024, 3, 2, 20, 16 }, { 200, 7, 4, 40, 9 },
};

static uint8_t memory[MOST_MEMORY], saved[MOST_MEMORY];
static plf_flash flash;
static enum way way;
static long calls_until, fails_left; /* calls of that kind until the fault, and how many fail then */
static long cut_after;               /* bytes and erases until power goes; negative: it stays */
static int fails_in_call, passed_over;
static uint32_t slot_bytes;
static uint32_t last_erased; /* of the blocks that held something; none since something was programmed right */
static int erased;           /* how many of them */
static uint8_t acknowledged[MOST_NUMBERS];
static uint32_t numbers[MOST_SLOTS];
static uint8_t bytes[1024];

static void fail(const char *why)
{
    printf("not kept: %s, way %d\n", why, (int)way);
    exit(1);
}

static int goes(void)
{
    if (cut_after == 0) {
        gone = 1;
    }
    cut_after -= cut_after > 0;
    return gone;
}

/* Is this call, of a kind with ways `first` to `last`, one that fails? */
static int fails(enum way first, enum way last)
{
    if (way < first || way > last || calls_until-- > 0 || fails_left == 0) {
        return 0;
    }
    calls_until = 0;
    fails_left--;
    fails_in_call += way != DEAF && way != NOISE && way != ERASE_DEAF; /* these say that all is done */
    return 1;
}

static int flash_read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    (void)context;
    memcpy(to, memory + at, size);
    return fails(UNREAD, UNREAD) || gone;
}

static int flash_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    const int failing = fails(REFUSED, NOISE);
    uint32_t done = size;
    (void)context;
    if (failing) {
        done = way == REFUSED || way == DEAF ? 0 : size / 2;
    }
    uint32_t i = 0;
    while (i < size && !gone) {
        if (i < done || way == NOISE) {
            const int cut = goes();
            memory[at + i] &= (uint8_t)(from[i] | (cut || i >= done ? roll() & 0xFF : 0));
        }
        i += !gone;
    }
    const uint32_t header = size < PLF_RECORD_HEADER ? size : PLF_RECORD_HEADER;
    const int right = gone ? i >= header || memcmp(memory + at, from, header) == 0 : memcmp(memory + at, from, size) == 0;
    /* Noise may come out right, a half where the rest is blank anyway, and a header may be cut at its end. */
    if (right && (!failing || way == NOISE || way == HALF)) {
        erased = 0;
        last_erased = PLF_NO_BLOCK;
    }
    return gone || (failing && way != DEAF && way != NOISE);
}

static int holds_something(uint32_t block)
{
    const uint32_t end = (block + 1) * flash.block_bytes;
    plf_record r;
    for (uint32_t at = block * flash.block_bytes / slot_bytes * slot_bytes; at < end; at += slot_bytes) {
        if (at + slot_bytes <= flash.block_bytes * flash.blocks
            && plf_record_read(memory + at, slot_bytes, &r) == PLF_RECORD_WHOLE && r.sequence < MOST_NUMBERS
            && acknowledged[r.sequence]) {
            return 1;
        }
    }
    return 0;
}

static int flash_erase(void *context, uint32_t block)
{
    const int failing = fails(ERASE_REFUSED, ERASE_DEAF);
    uint8_t *at = memory + block * flash.block_bytes;
    uint32_t done = flash.block_bytes;
    (void)context;
    if (gone) {
        return 1;
    }
    if (holds_something(block) && !(failing && way == ERASE_DEAF)) {
        erased += block != last_erased;
        last_erased = block;
        if (erased > (slot_bytes <= flash.block_bytes ? 1 : 2) + (passed_over && way == UNREAD)) {
            fail("another block is erased while nothing is programmed");
        }
    }
    if (failing) {
        done = way == ERASE_HALF ? done / 2 : 0;
    } else if (goes()) {
        done = roll() % done;
    }
    memset(at, 0xFF, done);
    return gone || (failing && way != ERASE_DEAF);
}

/* By the dump alone: which numbers are whole. */
static void look(const plf_log *log, uint8_t held[MOST_NUMBERS])
{
    memset(held, 0, MOST_NUMBERS);
    for (uint32_t slot = 0; slot < log->ring.slots; slot++) {
        plf_record r;
        if (plf_record_read(memory + slot * log->ring.slot_bytes, log->ring.area_bytes, &r) == PLF_RECORD_WHOLE
            && r.seconds == r.sequence * 7 && r.sequence < MOST_NUMBERS) {
            held[r.sequence] = 1;
        }
    }
}

/* What was acknowledged is there, or older than all that is; the newest is there in any case. Only where an erase says
 * that it is done and did nothing, or a record was cut and can't be read either and so is taken for whole, a block is
 * passed over, and its records outlive newer ones. */
static void check(const plf_log *log)
{
    uint8_t held[MOST_NUMBERS];
    int found = 0;
    look(log, held);
    for (uint32_t number = MOST_NUMBERS; number-- > 0;) {
        if (acknowledged[number] && !held[number]) {
            if (found == 0) {
                fail("the newest record is lost");
            }
            found = -1;
        } else if (acknowledged[number]) {
            if (found < 0 && !passed_over) {
                fail("a record is lost, and an older one stands");
            }
            found = 1;
        } else if (held[number] && found == 0) { /* whole, only not read back: the ring takes it for the newest, too */
            found = 1;
        }
    }
}

static enum plf_result mount(plf_log *log, uint32_t largest)
{
    gone = 0;
    cut_after = -1;
    return finish(log, plf_log_mount(log, &flash, largest, numbers, MOST_SLOTS));
}

/* A number may need a slot of its own to be reserved. */
static void reserve(plf_log *log)
{
    fails_in_call = 0;
    finish(log, PLF_DONE);
    if (fails_in_call > 2) {
        fail("more than one retry in a call");
    }
    fails_in_call = 0;
}

static enum plf_result append(plf_log *log, const struct shape *s)
{
    plf_record r = { 0 };
    const uint32_t number = plf_log_number(log);
    if (number == 0 || number >= MOST_NUMBERS) {
        fail("no number");
    }
    reserve(log);
    r.sequence = number;
    r.seconds = number * 7;
    r.before = s->samples;
    r.bits = s->bits;
    for (uint16_t i = 0; i < s->samples; i++) {
        const int16_t v[3] = { (int16_t)(number * 3 + i), (int16_t)(i * 5), -1 };
        plf_pack(bytes + plf_record_samples(&r), i, r.bits, 0, v);
    }
    const enum plf_result result = finish(log, plf_log_append(log, &r, bytes, sizeof bytes));
    if (fails_in_call > 2) {
        fail("more than one retry in a call");
    }
    acknowledged[number] = result == PLF_DONE;
    return result;
}

/* A fault that begins at call `at`, `count` calls long, over some appends; then it is over. */
static void fault(const struct shape *s, uint32_t largest, long at, long count, int variant)
{
    plf_log log;
    const int restarts = variant & 1;
    const int cuts = variant & 2;
    passed_over = (cuts && way == UNREAD) || way == ERASE_DEAF;
    if (mount(&log, largest) != PLF_DONE) {
        fail("a mount before the fault");
    }
    calls_until = at;
    fails_left = count;
    for (int i = 0; i < (count == FOR_EVER ? 9 : 3); i++) {
        cut_after = cuts && i == 1 ? (long)(roll() % (largest + 3)) : -1;
        if (log.ring.flash != NULL) {
            append(&log, s);
            check(&log);
        }
        if (restarts || gone || log.ring.flash == NULL) {
            mount(&log, largest);
            if (log.ring.flash != NULL) {
                check(&log);
            }
        }
    }
    fails_left = 0;
    if (log.ring.flash == NULL && mount(&log, largest) != PLF_DONE) {
        fail("a mount after the fault");
    }
    for (int i = 0; i < 2; i++) {
        if (append(&log, s) != PLF_DONE) {
            fail("an append after the fault");
        }
        check(&log);
    }
    if (mount(&log, largest) != PLF_DONE) {
        fail("the last mount");
    }
    check(&log);
    uint8_t held[MOST_NUMBERS];
    look(&log, held);
    for (uint32_t number = 1; number < MOST_NUMBERS; number++) {
        plf_record r;
        if (held[number] && (plf_log_find(&log, number, &r) != PLF_DONE || r.sequence != number)) {
            fail("a record that is whole is not found");
        }
    }
}

static long faults_of(const struct shape *s, uint32_t skip)
{
    static const long counts[] = { 1, 2, 5, FOR_EVER };
    static uint8_t saved_acknowledged[MOST_NUMBERS];
    const uint32_t largest = (uint32_t)PLF_RECORD_BYTES(s->samples, s->bits, 0);
    plf_log log;
    long faults = 0;
    flash.read = flash_read;
    flash.program = flash_program;
    flash.erase = flash_erase;
    flash.block_bytes = s->block_bytes;
    flash.blocks = s->blocks;
    flash.unit_bytes = s->unit_bytes;
    memset(memory, 0xFF, sizeof memory);
    memset(acknowledged, 0, sizeof acknowledged);
    fails_left = 0;
    last_erased = PLF_NO_BLOCK;
    if (mount(&log, largest) != PLF_DONE) {
        fail("a mount of a blank memory");
    }
    slot_bytes = log.ring.slot_bytes;
    const uint32_t steps = 2 * log.ring.slots + 1;
    for (uint32_t record = 0; record < steps; record++) {
        memcpy(saved, memory, sizeof memory);
        memcpy(saved_acknowledged, acknowledged, sizeof acknowledged);
        for (way = 0; way < WAYS; way++) {
            const long calls = way < ERASE_REFUSED ? (long)largest / 64 + 4 : way < UNREAD ? 3 : (long)largest / 16 + 12;
            for (long at = (long)(roll() % skip); at < 2 * calls; at += (long)skip) {
                for (int which = 0; which < 16; which++) {
                    memcpy(memory, saved, sizeof memory);
                    memcpy(acknowledged, saved_acknowledged, sizeof acknowledged);
                    erased = 0;
                    last_erased = PLF_NO_BLOCK;
                    fault(s, largest, at, counts[which % 4], which / 4);
                    faults++;
                }
            }
        }
        memcpy(memory, saved, sizeof memory);
        memcpy(acknowledged, saved_acknowledged, sizeof acknowledged);
        last_erased = PLF_NO_BLOCK;
        if (mount(&log, largest) != PLF_DONE || append(&log, s) != PLF_DONE) {
            fail("an append that nothing disturbs");
        }
    }
    return faults;
}

int main(int argc, char **argv)
{
    const uint32_t skip = argc > 1 ? (uint32_t)atoi(argv[1]) : 1;
    long faults = 0;
    for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++) {
        faults += faults_of(&shapes[i], skip);
    }
    printf("kept, %ld faults\n", faults);
    return 0;
}
