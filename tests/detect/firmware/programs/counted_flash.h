/* A memory in RAM that counts how often it is changed, and the word of a failure. Whoever includes this has BLOCK, BLOCKS
 * and UNIT before.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint8_t memory[BLOCK * BLOCKS];
static int changes;

static void fail(const char *why, int moment)
{
    printf("not kept: %s, moment %d\n", why, moment);
    exit(1);
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
    changes++;
    for (uint32_t i = 0; i < size; i++) {
        memory[at + i] &= from[i];
    }
    return 0;
}

static int flash_erase(void *context, uint32_t block)
{
    (void)context;
    changes++;
    memset(memory + block * BLOCK, 0xFF, BLOCK);
    return 0;
}

static const plf_flash flash = { flash_read, flash_program, flash_erase, NULL, BLOCK, BLOCKS, UNIT };
