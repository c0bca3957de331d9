/* The whole device on the host, put together as LOG.md shows it: samples come on standard input, the log's memory goes to
 * standard output. Words on standard error say what the alarm's life asked for.
 *
 * Input: uint32 block bytes, blocks, unit; then for each stretch uint32 samples and x, y, z of each as int16, counts.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plumbfall_alarm.h"

static uint32_t now_samples;

static uint32_t clock_ms(void)
{
    return now_samples * 20; /* 50 samples a second */
}

static uint32_t clock_seconds(void)
{
    return clock_ms() / 1000;
}

static void act(enum plf_alarm_action action)
{
    if (action != PLF_DO_NOTHING) {
        fprintf(stderr, "%d at %u\n", (int)action, (unsigned)clock_ms());
    }
}

#include "shown.c"

static uint8_t *memory;
static plf_flash a_flash;
static uint8_t parameters_memory[4 * 256];

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
    memset(memory + block * a_flash.block_bytes, 0xFF, a_flash.block_bytes);
    return 0;
}

static int parameters_read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    (void)context;
    memcpy(to, parameters_memory + at, size);
    return 0;
}

/* Nobody sends parameters here, so nothing is written. */
static const plf_flash parameters_flash = { parameters_read, flash_program, flash_erase, NULL, 256, 4, 8 };

int main(void)
{
    uint32_t sizes[3], samples;
    if (fread(sizes, sizeof sizes, 1, stdin) != 1) {
        return 2;
    }
    a_flash.read = flash_read;
    a_flash.program = flash_program;
    a_flash.erase = flash_erase;
    a_flash.block_bytes = sizes[0];
    a_flash.blocks = sizes[1];
    a_flash.unit_bytes = (uint16_t)sizes[2];
    memory = malloc(sizes[0] * sizes[1]);
    if (memory == NULL) {
        return 2;
    }
    memset(memory, 0xFF, sizes[0] * sizes[1]);
    memset(parameters_memory, 0xFF, sizeof parameters_memory);
    start(&a_flash, &parameters_flash);
    while (fread(&samples, sizeof samples, 1, stdin) == 1) {
        for (uint32_t i = 0; i < samples; i++) {
            int16_t v[3];
            if (fread(v, sizeof v, 1, stdin) != 1) {
                return 2;
            }
            on_sample(v[0], v[1], v[2]);
            now_samples++;
            act(plf_alarm_step(&alarm, &life, clock_ms(), PLF_TIME, 0));
        }
        on_gap();
    }
    fwrite(memory, 1, sizes[0] * sizes[1], stdout);
    free(memory);
    return 0;
}
