/* What memories that lose their power or fail have in common: dice, whether the power is gone, and work done to its end.
 * Whoever includes this says by `fail` why a program ends. */
#ifndef POWER_H
#define POWER_H

#include "plumbfall_log.h"

static int gone; /* the power */
static uint32_t dice = 1;

static void fail(const char *why);

static uint32_t roll(void)
{
    dice = dice * 1664525U + 1013904223U;
    return dice >> 8;
}

/* Until all that was begun has ended, or the power is gone. */
static enum plf_result finish(plf_log *log, enum plf_result begun)
{
    enum plf_result result = begun;
    long polls = 0;
    while (begun == PLF_DONE && plf_log_pending(log) > 0 && !gone) {
        const enum plf_result polled = plf_log_poll(log);
        result = polled == PLF_READY || polled == PLF_DONE ? result : polled;
        if (++polls > 20000) {
            fail("it never ends");
        }
    }
    return gone ? PLF_FAILED : result;
}

#endif
