/* Alarms get numbers, which are told as soon as the log says that they may be, with or without a record behind them. Power
 * is cut at every byte programmed and every block erased, over two laps of rings of several shapes, and once more while
 * the log recovers. Prints "kept, N cuts" where no number was told twice, none went down, and no call waited for the
 * memory.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "power.h"

enum { MOST_MEMORY = 4096, MOST_SLOTS = 64, SAMPLES = 4, BITS = 8, SIZE = PLF_RECORD_BYTES(SAMPLES, BITS, 0), ALARMS = 3 };

struct shape {
    uint32_t block_bytes, blocks;
    uint16_t unit_bytes;
};
static const struct shape shapes[] = { { 256, 4, 4 }, { 128, 8, 8 }, { 64, 20, 1 }, { 512, 4, 64 }, { 1024, 2, 2 }, { 100, 9, 4 } };

static uint8_t memory[MOST_MEMORY], saved[MOST_MEMORY];
static plf_flash flash;
static long left; /* bytes and erases until the cut; negative: none comes */
static int changes;
static uint32_t numbers[MOST_SLOTS];
static uint32_t told; /* the highest number so far */

static void fail(const char *why)
{
    printf("not kept: %s\n", why);
    exit(1);
}

static int goes(void)
{
    if (left == 0) {
        gone = 1;
    }
    left -= left > 0;
    return gone;
}

static int flash_read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    (void)context;
    memcpy(to, memory + at, size);
    return gone;
}

static int flash_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    changes++;
    for (uint32_t i = 0; i < size && !gone; i++) {
        memory[at + i] &= (uint8_t)(from[i] | (goes() ? roll() & 0xFF : 0));
    }
    return gone;
}

static int flash_erase(void *context, uint32_t block)
{
    (void)context;
    changes++;
    if (!gone) {
        memset(memory + block * flash.block_bytes, 0xFF, goes() ? roll() % flash.block_bytes : flash.block_bytes);
    }
    return gone;
}

static void mount(plf_log *log)
{
    gone = 0;
    left = -1;
    if (finish(log, plf_log_mount(log, &flash, SIZE, numbers, MOST_SLOTS)) != PLF_DONE) {
        fail("a mount");
    }
}

/* A number is told when it may be; 0 where the power went before. */
static uint32_t tell(plf_log *log)
{
    changes = 0;
    const uint32_t number = plf_log_number(log);
    if (changes > 0) {
        fail("a number changed the memory at once");
    }
    finish(log, PLF_DONE);
    if (gone || log->reserving) {
        return 0;
    }
    if (number <= told) {
        fail("a number was told twice");
    }
    told = number;
    return number;
}

static void keep(plf_log *log, uint32_t number)
{
    static uint8_t bytes[256];
    plf_record record = { 0 };
    record.sequence = number;
    record.before = SAMPLES;
    record.bits = BITS;
    finish(log, plf_log_append(log, &record, bytes, sizeof bytes));
}

/* Some alarms, of which one in three has no record, until the power goes. */
static void live(plf_log *log)
{
    for (int alarm = 0; alarm < ALARMS && !gone; alarm++) {
        const uint32_t number = tell(log);
        if (number > 0 && roll() % 3 != 0) {
            keep(log, number);
        }
        if (number > 0 && roll() % 8 == 0) {
            finish(log, plf_log_clear(log));
        }
    }
}

static int cut_at(long n, long m)
{
    plf_log log;
    mount(&log);
    left = n;
    live(&log);
    const int cut = gone;
    mount(&log);
    left = m;
    live(&log);
    mount(&log);
    if (tell(&log) == 0 || tell(&log) == 0) {
        fail("no number after the cuts");
    }
    return cut;
}

static long cuts_of(const struct shape *s)
{
    plf_log log;
    long cuts = 0;
    flash.read = flash_read;
    flash.program = flash_program;
    flash.erase = flash_erase;
    flash.block_bytes = s->block_bytes;
    flash.blocks = s->blocks;
    flash.unit_bytes = s->unit_bytes;
    memset(memory, 0xFF, sizeof memory);
    told = 0;
    mount(&log);
    for (uint32_t step = 0; step <= log.ring.slots; step++) {
        const uint32_t told_before = told;
        memcpy(saved, memory, sizeof memory);
        for (long n = 0, more = 1; more; n++) {
            more = cut_at(n, (long)(roll() % (2 * SIZE)));
            cuts += more;
            memcpy(memory, saved, sizeof memory);
            told = told_before;
        }
        mount(&log);
        live(&log);
        if (step % 2) { /* else numbers go on without a restart */
            live(&log);
        }
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
