/* SPDX-License-Identifier: MIT */
/* plumbfall_ring.h: slots of one size on flash, written in turn so that neither a loss of power nor a memory that fails
 * costs what stands in the others. The log stands on it; of a firmware's own it needs the three functions of plf_flash.
 *
 * What the flash must do: a program turns bits from 1 to 0, an erase turns a whole block to 0xFF. Each unit is
 * programmed once between two erases, so that memory with error correction will do. LOG.md says why all this holds.
 */
#ifndef PLUMBFALL_RING_H
#define PLUMBFALL_RING_H

#include "plumbfall_detector.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_UNIT_MOST 64U
#define PLF_PAGE_BYTES 64U /* read or programmed at once at most, and never across a multiple of it */
#define PLF_NO_BLOCK UINT32_MAX
#define PLF_IN_UNITS(bytes, unit) (((bytes) + (unit) - 1U) / (unit) * (unit))

/* The three return 0 when done. `at` and `size` of a program are multiples of a unit. */
typedef struct {
    int (*read)(void *context, uint32_t at, uint8_t *to, uint32_t size);
    int (*program)(void *context, uint32_t at, const uint8_t *from, uint32_t size);
    int (*erase)(void *context, uint32_t block);
    void *context;
    uint32_t block_bytes, blocks; /* what is erased at once, and how many of them the log has; at least 2 */
    uint16_t unit_bytes;          /* what is programmed at once: 1, 2, 4 ... PLF_UNIT_MOST */
} plf_flash;

/* Leave it alone. */
typedef struct {
    const plf_flash *flash;
    uint32_t area_bytes, slot_bytes, slots; /* of a record in whole units; with what is behind it; how many fit */
    uint32_t *numbers;     /* by slot: the number of the record in it, 0 where none counts */
    uint32_t slot;         /* to be written next */
    uint32_t sound;        /* block that is erased as a whole, but for what was programmed in it since */
    uint32_t unproven;     /* block that was erased, and nothing was programmed right since */
    uint32_t newest;       /* slot of the newest whole record; `slots`: there is none */
    uint32_t kept;         /* slot of another that stays as long as that; `slots`: none */
    const uint8_t *bytes;  /* what is being written */
    uint32_t size, done;   /* of it, in whole units; how far in the slot it has come */
    uint16_t unread;       /* bytes that were programmed and couldn't be read back yet */
    uint8_t refused;       /* the program of them failed */
    uint8_t proved, tries; /* something was programmed right in this slot; failures since plf_ring_write */
} plf_ring;

/* Of a ring that is all zeros. PLF_REFUSED where sizes don't fit each other, or `room` is less than `slots`, which then
 * says how many there are. */
enum plf_result plf_ring_init(plf_ring *ring, const plf_flash *flash, uint32_t record_bytes, uint32_t behind_bytes,
                              uint32_t *numbers, uint32_t room);
uint32_t plf_ring_address(const plf_ring *ring, uint32_t slot);
/* How much of `size` bytes can be read or programmed at once. */
uint32_t plf_ring_page(const plf_ring *ring, uint32_t at, uint32_t size);
/* PLF_DONE, or PLF_FAILED. */
enum plf_result plf_ring_read(const plf_ring *ring, uint32_t at, uint8_t *to, uint32_t size);
/* A page of the memory, PLF_PAGE_BYTES at most: PLF_DONE where it is blank, PLF_MISSING where it is not, or PLF_FAILED. */
enum plf_result plf_ring_blank(const plf_ring *ring, uint32_t at, uint32_t size);
/* After plf_ring_init: the slot behind `slot`, which was begun last, is next; the newest whole record is in `newest`, the
 * same or another slot, or `slots` where there is none. */
void plf_ring_go_on(plf_ring *ring, uint32_t slot, uint32_t newest);
/* Begins to write `size` bytes, whole units, that stay until it has ended. */
void plf_ring_write(plf_ring *ring, const uint8_t *bytes, uint32_t size);
/* One erase, or one program of a page, at most; 192 bytes read at most. PLF_READY: written, to `*slot`. */
enum plf_result plf_ring_step(plf_ring *ring, uint32_t *slot);

#ifdef __cplusplus
}
#endif

#endif
