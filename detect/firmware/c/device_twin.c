/* SPDX-License-Identifier: MIT */
/* device_twin.c: the device's log, alarm and link on the host, driven by jobs on standard input.
 *
 * A host's program, never part of firmware. All numbers in the host's byte order. A job is a letter, then
 *   E: 14 uint32 of a record, uint32 measured, 23 int64 if so, uint32 samples, x, y, z of each as int16
 *      -> uint32 bytes, the record's bytes
 *   D: uint32 bytes, the bytes -> uint32 fault; where it is whole 15 uint32, 23 int64 if measured, samples as int16
 *   A: 5 uint32 of settings, uint32 steps, each as 3 uint32 (now, input, number)
 *      -> for each 6 uint32: action, stage, number, sends, withdrawn, suppressed
 *   R: uint32 bytes, the bytes -> uint32 messages, each as uint32 bytes and its frame; uint32 frames dropped, of another
 *      version
 *   F: a flash (uint32 block bytes, blocks, unit, largest record, 1 if it is new), then steps until one is 0:
 *      1: append; what follows is as for E -> uint32 result, uint32 sequence
 *      2: uint32 sequence, uint32 outcome: set it -> uint32 result
 *      3: clear -> uint32 result
 *      4: uint32 bytes, a frame's bytes: serve it -> uint32 bytes, the reply's bytes
 *      5: mount again -> uint32 result
 *      0: -> the memory's bytes
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#ifdef _WIN32
#include <fcntl.h>
#include <io.h>
#endif

#include "plumbfall_alarm.h"
#include "plumbfall_frame.h"
#include "plumbfall_link.h"

enum { MOST = 65536, SAMPLES = 65536, MOST_SLOTS = 4096 };

static uint8_t bytes[MOST + PLF_UNIT_MOST];
static uint8_t *memory;
static plf_flash flash;

static void stop(const char *why)
{
    fprintf(stderr, "device_twin: %s\n", why);
    exit(2);
}

static void read_all(void *to, size_t size)
{
    if (size > 0 && fread(to, size, 1, stdin) != 1) {
        stop("the input ends inside a job");
    }
}

static uint32_t ask(void)
{
    uint32_t value;
    read_all(&value, sizeof value);
    return value;
}

static void say(uint32_t value)
{
    fwrite(&value, sizeof value, 1, stdout);
}

static uint32_t ask_bytes(void)
{
    const uint32_t size = ask();
    if (size > MOST) {
        stop("too many bytes");
    }
    read_all(bytes, size);
    return size;
}

static void event_of(const int64_t v[23], plf_event *e)
{
    e->ended = (uint8_t)v[0];
    e->early = (uint8_t)v[1];
    e->failed = (uint8_t)v[2];
    e->skipped = (uint8_t)v[3];
    e->has = (uint16_t)v[4];
    e->q = (uint16_t)v[5];
    e->n = (uint16_t)v[6];
    e->decided = (uint32_t)v[7];
    e->first_low_ago = (uint32_t)v[8];
    e->last_low_ago = (uint32_t)v[9];
    e->first_impact_ago = (uint32_t)v[10];
    e->impact_ago = (uint32_t)v[11];
    e->lowest = (uint32_t)v[12];
    e->highest = (uint32_t)v[13];
    e->restarts = (uint32_t)v[14];
    e->peak = (uint32_t)v[15];
    e->dot = v[16];
    e->dot_u = v[17];
    e->a_sq = (uint32_t)v[18];
    e->b_sq = (uint32_t)v[19];
    e->a_u_sq = (uint32_t)v[20];
    e->u_sq = (uint32_t)v[21];
    e->spread = (uint64_t)v[22];
}

static void say_event(const plf_event *e)
{
    const int64_t row[23] = {
        e->ended, e->early, e->failed, e->skipped, e->has, e->q, e->n, e->decided, e->first_low_ago, e->last_low_ago,
        e->first_impact_ago, e->impact_ago, e->lowest, e->highest, e->restarts, e->peak, e->dot, e->dot_u, e->a_sq,
        e->b_sq, e->a_u_sq, e->u_sq, (int64_t)e->spread };
    fwrite(row, sizeof row, 1, stdout);
}

/* A record's numbers and its samples, which are packed where they belong in `bytes`. */
static void ask_record(plf_record *r)
{
    uint32_t v[14];
    int64_t event[23] = { 0 };
    read_all(v, sizeof v);
    r->sequence = v[0];
    r->seconds = v[1];
    r->milliseconds = (uint16_t)v[2];
    r->node = (uint16_t)v[3];
    r->settings_crc32 = v[4];
    r->rate_millihz = v[5];
    r->counts_per_1000_g = v[6];
    r->memory_bytes = v[7];
    r->slot_bytes = (uint16_t)v[8];
    r->before = (uint16_t)v[9];
    r->after = (uint16_t)v[10];
    r->kind = (uint8_t)v[11];
    r->bits = (uint8_t)v[12];
    r->shift = (uint8_t)v[13];
    r->measured = (uint8_t)ask();
    if (r->measured) {
        read_all(event, sizeof event);
    }
    event_of(event, &r->event);
    const uint32_t samples = ask();
    if (plf_record_size(r) == 0 || samples != (uint32_t)r->before + r->after) {
        stop("no record");
    }
    for (uint32_t i = 0; i < samples; i++) {
        int16_t sample[3];
        read_all(sample, sizeof sample);
        plf_pack(bytes + plf_record_samples(r), i, r->bits, r->shift, sample);
    }
}

static void encode(void)
{
    plf_record record;
    memset(bytes, 0xA5, sizeof bytes);
    ask_record(&record);
    const uint32_t size = plf_record_write(&record, bytes, MOST);
    say(size);
    fwrite(bytes, 1, size, stdout);
}

static void decode(void)
{
    plf_record r;
    const uint32_t size = ask_bytes();
    uint8_t *exact = malloc(size + 1U); /* so that a sanitizer sees a step beyond */
    if (exact == NULL) {
        stop("out of memory");
    }
    memcpy(exact, bytes, size);
    const enum plf_record_fault fault = plf_record_read(exact, size, &r);
    say((uint32_t)fault);
    if (fault == PLF_RECORD_WHOLE) {
        const uint32_t v[15] = { r.sequence, r.seconds, r.milliseconds, r.node, r.settings_crc32, r.rate_millihz,
                                 r.counts_per_1000_g, r.memory_bytes, r.slot_bytes, r.before, r.after, r.kind, r.bits,
                                 r.shift, r.measured };
        fwrite(v, sizeof v, 1, stdout);
        if (r.measured) {
            say_event(&r.event);
        }
        for (uint32_t i = 0; i < (uint32_t)r.before + r.after; i++) {
            int16_t sample[3];
            plf_unpack(exact + plf_record_samples(&r), i, r.bits, r.shift, sample);
            fwrite(sample, sizeof sample, 1, stdout);
        }
    }
    free(exact);
}

static void live(void)
{
    plf_alarm alarm;
    plf_alarm_settings settings;
    settings.cancel_ms = ask();
    settings.resend_ms = ask();
    settings.sends = ask();
    settings.slow_ms = ask();
    settings.rest_ms = ask();
    plf_alarm_init(&alarm);
    for (uint32_t steps = ask(); steps > 0; steps--) {
        uint32_t v[3];
        read_all(v, sizeof v);
        say((uint32_t)plf_alarm_step(&alarm, &settings, v[0], (enum plf_alarm_input)v[1], v[2]));
        say(alarm.stage);
        say(alarm.number);
        say(alarm.sends);
        say(alarm.withdrawn);
        say(alarm.suppressed);
    }
}

static void say_frame(const plf_message *message)
{
    uint8_t out[PLF_STUFFED_MOST];
    const uint32_t size = plf_frame_write(message, out);
    say(size);
    fwrite(out, 1, size, stdout);
}

static void receive(void)
{
    static plf_message found[MOST / 16];
    plf_receiver receiver;
    uint32_t messages = 0;
    const uint32_t size = ask_bytes();
    plf_frame_init(&receiver);
    for (uint32_t i = 0; i < size; i++) {
        messages += plf_frame_put(&receiver, bytes[i], &found[messages]) == PLF_READY;
    }
    say(messages);
    for (uint32_t i = 0; i < messages; i++) {
        say_frame(&found[i]);
    }
    say(receiver.dropped);
    say(receiver.other);
}

static int flash_read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    (void)context;
    memcpy(to, memory + at, size);
    return 0;
}

static int flash_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    for (uint32_t i = 0; i < size; i++) {
        memory[at + i] &= from[i];
    }
    return 0;
}

static int flash_erase(void *context, uint32_t block)
{
    (void)context;
    memset(memory + (size_t)block * flash.block_bytes, 0xFF, flash.block_bytes);
    return 0;
}

/* All that was begun; how it ended. */
static enum plf_result finish(plf_log *log)
{
    enum plf_result result = PLF_DONE;
    while (plf_log_pending(log) > 0) {
        const enum plf_result polled = plf_log_poll(log);
        result = polled == PLF_READY || polled == PLF_DONE ? result : polled;
    }
    return result;
}

static void serve(const plf_log *log)
{
    plf_receiver receiver;
    plf_message command, reply;
    enum plf_result found = PLF_DONE;
    const uint32_t size = ask_bytes();
    plf_frame_init(&receiver);
    for (uint32_t i = 0; i < size; i++) {
        found = plf_frame_put(&receiver, bytes[i], &command);
    }
    if (found != PLF_READY) {
        stop("no frame");
    }
    if (plf_link_serve(log, &command, 0, &reply) == PLF_READY) {
        say_frame(&reply);
    } else {
        say(0);
    }
}

static uint32_t finished(plf_log *log, enum plf_result begun)
{
    return (uint32_t)(begun == PLF_DONE ? finish(log) : begun);
}

static void log_job(void)
{
    static uint32_t numbers[MOST_SLOTS];
    plf_log log;
    plf_record record;
    flash.read = flash_read;
    flash.program = flash_program;
    flash.erase = flash_erase;
    flash.block_bytes = ask();
    flash.blocks = ask();
    flash.unit_bytes = (uint16_t)ask();
    const uint32_t largest = ask();
    const size_t size = (size_t)flash.block_bytes * flash.blocks;
    memory = realloc(memory, size);
    if (memory == NULL) {
        stop("out of memory");
    }
    if (ask()) {
        memset(memory, 0xFF, size);
    }
    if (finished(&log, plf_log_mount(&log, &flash, largest, numbers, MOST_SLOTS)) != PLF_DONE) {
        stop("the log refused to be mounted");
    }
    for (uint32_t step = ask(); step != 0; step = ask()) {
        if (step == 1) {
            ask_record(&record);
            record.sequence = 0;
            say(finished(&log, plf_log_append(&log, &record, bytes, sizeof bytes)));
            say(record.sequence);
        } else if (step == 2) {
            const uint32_t sequence = ask();
            say(finished(&log, plf_log_set_outcome(&log, sequence, (enum plf_outcome)ask())));
        } else if (step == 3) {
            say(finished(&log, plf_log_clear(&log)));
        } else if (step == 4) {
            serve(&log);
        } else {
            say(finished(&log, plf_log_mount(&log, &flash, largest, numbers, MOST_SLOTS)));
        }
        fflush(stdout);
    }
    fwrite(memory, 1, size, stdout);
}

int main(void)
{
    char letter;
#ifdef _WIN32
    _setmode(_fileno(stdin), _O_BINARY);
    _setmode(_fileno(stdout), _O_BINARY);
#endif
    while (fread(&letter, 1, 1, stdin) == 1) {
        switch (letter) {
        case 'E':
            encode();
            break;
        case 'D':
            decode();
            break;
        case 'A':
            live();
            break;
        case 'R':
            receive();
            break;
        case 'F':
            log_job();
            break;
        default:
            stop("no such job");
        }
        fflush(stdout);
    }
    free(memory);
    return 0;
}
