/* SPDX-License-Identifier: MIT */
/* sampling.h: readings on their way from the interrupt to the main loop, so that none is lost while the loop is busy.
 *
 * One interrupt writes, one loop reads, and each index is a byte that only one of them changes: nothing has to be locked,
 * on cores of 8 bits either. A loop that stays away for longer than SAMPLING_MOST readings finds a gap, at its place.
 */
#ifndef SAMPLING_H
#define SAMPLING_H

#include <stdint.h>

#define SAMPLING_MOST 31U /* a power of two less one: at 50 Hz 0.6 s */

enum sampling { SAMPLING_NONE, SAMPLING_READING, SAMPLING_GAP };

/* The sensor's data-ready interrupt. */
void sampling_interrupt(void);
/* Inside an interrupt too: the sensor has lost readings of its own, or was switched. */
void sampling_lost(void);
/* The main loop: the oldest reading that waits, or a gap where some are missing. */
enum sampling sampling_next(int32_t raw[3]);

#endif
