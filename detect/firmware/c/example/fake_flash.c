/* SPDX-License-Identifier: MIT */
/* fake_flash.c: two memories in RAM that behave as flash does: a program turns bits from 1 to 0, an erase all to 1. */
#include "fake.h"
#include "plumbfall_device.h"

#ifndef FAKE_LOG_BLOCKS
#define FAKE_LOG_BLOCKS PLF_LOG_BLOCKS /* fewer where there is less RAM: then the oldest records make room */
#endif

enum { PARAMETER_BLOCK = 128, PARAMETER_BLOCKS = 4 };

static uint8_t log_bytes[PLF_LOG_BLOCK_BYTES * FAKE_LOG_BLOCKS];
static uint8_t parameter_bytes[PARAMETER_BLOCK * PARAMETER_BLOCKS];

static int read(void *context, uint32_t at, uint8_t *to, uint32_t size)
{
    const uint8_t *bytes = context;
    for (uint32_t i = 0; i < size; i++) {
        to[i] = bytes[at + i];
    }
    return 0;
}

static int program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    uint8_t *bytes = context;
    for (uint32_t i = 0; i < size; i++) {
        bytes[at + i] = (uint8_t)(bytes[at + i] & from[i]);
    }
    return 0;
}

static void fill(uint8_t *bytes, uint32_t size)
{
    for (uint32_t i = 0; i < size; i++) {
        bytes[i] = 0xFF;
    }
}

static int erase_log(void *context, uint32_t block)
{
    (void)context;
    fill(log_bytes + block * PLF_LOG_BLOCK_BYTES, PLF_LOG_BLOCK_BYTES);
    return 0;
}

static int erase_parameters(void *context, uint32_t block)
{
    (void)context;
    fill(parameter_bytes + block * PARAMETER_BLOCK, PARAMETER_BLOCK);
    return 0;
}

const plf_flash board_log_flash = { read, program, erase_log, log_bytes, PLF_LOG_BLOCK_BYTES, FAKE_LOG_BLOCKS,
                                    PLF_LOG_UNIT_BYTES };
const plf_flash board_parameter_flash = { read, program, erase_parameters, parameter_bytes, PARAMETER_BLOCK,
                                          PARAMETER_BLOCKS, PLF_LOG_UNIT_BYTES };

void fake_flash_start(void)
{
    fill(log_bytes, sizeof log_bytes);
    fill(parameter_bytes, sizeof parameter_bytes);
}
