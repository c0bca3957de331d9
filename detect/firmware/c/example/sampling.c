/* SPDX-License-Identifier: MIT */
/* sampling.c: see sampling.h. */
#include "sampling.h"

#include "board.h"

static int32_t readings[SAMPLING_MOST + 1U][3];
static volatile uint8_t written; /* changed by the interrupt alone */
static volatile uint8_t taken;   /* changed by the loop alone */
static volatile uint8_t gap;     /* set by the interrupt, which keeps nothing more then, until the loop has seen it */

void sampling_interrupt(void)
{
    const uint8_t next = (uint8_t)((written + 1U) & SAMPLING_MOST);
    int32_t *to = readings[written];
    board_reading(to); /* even if it is dropped: the sensor waits for that */
    if (next == taken) {
        gap = 1;
    } else if (!gap) {
        written = next;
    }
}

void sampling_lost(void)
{
    gap = 1;
}

enum sampling sampling_next(int32_t raw[3])
{
    const uint8_t missing = gap; /* looked at first: once it is set, nothing is added behind it */
    if (taken != written) {
        const int32_t *from = readings[taken];
        for (uint32_t axis = 0; axis < 3; axis++) {
            raw[axis] = from[axis];
        }
        taken = (uint8_t)((taken + 1U) & SAMPLING_MOST);
        return SAMPLING_READING;
    }
    if (missing) {
        gap = 0;
        return SAMPLING_GAP;
    }
    return SAMPLING_NONE;
}
