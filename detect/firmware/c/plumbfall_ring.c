/* SPDX-License-Identifier: MIT */
/* plumbfall_ring.c: see plumbfall_ring.h. C99, integers only.
 *
 * Slots lie one behind the other from the first byte, across the edges of blocks. A slot is gone through page by page:
 * where a block begins it is erased, what the record needs is programmed and read back, the rest must be blank. The
 * record's last unit comes when all of the slot is known to be good, so that behind a whole record the block is erased.
 *
 * A block is erased only when something has been programmed right since the erase before it, and never while the newest
 * record stands in it: else the ring goes back to the first block behind that, where nothing stands any more. All
 * products below stay under the memory's size.
 */
#include "plumbfall_ring.h"

#include <stdbool.h>
#include <stddef.h>

enum { BLANK = 0xFF, TRIES = 2 };

static uint32_t least(uint32_t a, uint32_t b)
{
    return a < b ? a : b;
}

static uint32_t slot_after(const plf_ring *ring, uint32_t slot)
{
    return slot + 1 < ring->slots ? slot + 1 : 0;
}

uint32_t plf_ring_address(const plf_ring *ring, uint32_t slot)
{
    return slot * ring->slot_bytes;
}

static uint32_t block_of(const plf_ring *ring, uint32_t at)
{
    return at / ring->flash->block_bytes;
}

/* ---- Sizes ---- */

/* Sizes that fit each other, and the newest record never in a block that the next one erases. That could happen only
 * where the ring closes: the last slot must begin behind the last block of the first. So there are two of each. */
static bool fits(const plf_ring *ring, uint32_t record_bytes)
{
    const plf_flash *flash = ring->flash;
    const uint32_t unit = flash->unit_bytes;
    if (unit > PLF_UNIT_MOST || (unit & (unit - 1U)) != 0 || flash->block_bytes == 0
        || flash->block_bytes % unit != 0 || flash->blocks > UINT32_MAX / 2 / flash->block_bytes
        || record_bytes > UINT16_MAX - 2U * PLF_UNIT_MOST) {
        return false;
    }
    return block_of(ring, plf_ring_address(ring, ring->slots - 1)) > block_of(ring, ring->slot_bytes - 1U);
}

enum plf_result plf_ring_init(plf_ring *ring, const plf_flash *flash, uint32_t record_bytes, uint32_t behind_bytes,
                              uint32_t *numbers, uint32_t room)
{
    if (flash == NULL || flash->read == NULL || flash->program == NULL || flash->erase == NULL || numbers == NULL
        || flash->unit_bytes == 0 || record_bytes > UINT16_MAX) {
        return PLF_REFUSED;
    }
    ring->flash = flash;
    ring->area_bytes = PLF_IN_UNITS(record_bytes, (uint32_t)flash->unit_bytes);
    ring->slot_bytes = ring->area_bytes + PLF_IN_UNITS(behind_bytes, (uint32_t)flash->unit_bytes);
    ring->slots = flash->block_bytes * flash->blocks / ring->slot_bytes;
    if (!fits(ring, record_bytes)) {
        ring->slots = 0;
    }
    if (ring->slots == 0 || ring->slots > room) {
        ring->flash = NULL;
        return PLF_REFUSED;
    }
    ring->numbers = numbers;
    ring->sound = PLF_NO_BLOCK;
    ring->unproven = PLF_NO_BLOCK;
    ring->newest = ring->slots;
    ring->kept = ring->slots;
    for (uint32_t slot = 0; slot < ring->slots; slot++) {
        numbers[slot] = 0;
    }
    return PLF_DONE;
}

/* ---- Pages ---- */

uint32_t plf_ring_page(const plf_ring *ring, uint32_t at, uint32_t size)
{
    const uint32_t block_bytes = ring->flash->block_bytes;
    return least(size, least(PLF_PAGE_BYTES - at % PLF_PAGE_BYTES, block_bytes - at % block_bytes));
}

enum plf_result plf_ring_read(const plf_ring *ring, uint32_t at, uint8_t *to, uint32_t size)
{
    return ring->flash->read(ring->flash->context, at, to, size) == 0 ? PLF_DONE : PLF_FAILED;
}

enum plf_result plf_ring_blank(const plf_ring *ring, uint32_t at, uint32_t size)
{
    uint8_t page[PLF_PAGE_BYTES];
    if (plf_ring_read(ring, at, page, size) != PLF_DONE) {
        return PLF_FAILED;
    }
    for (uint32_t i = 0; i < size; i++) {
        if (page[i] != BLANK) {
            return PLF_MISSING;
        }
    }
    return PLF_DONE;
}

/* ---- Which slot comes next ---- */

static void begin_at(plf_ring *ring, uint32_t slot)
{
    ring->slot = slot;
    ring->done = 0;
    ring->unread = 0;
    ring->proved = 0;
}

/* Of a whole record the block in which it ends is erased; of one that was begun, for its header is there, the one in
 * which it begins. In both something was programmed right. */
void plf_ring_go_on(plf_ring *ring, uint32_t slot, uint32_t newest)
{
    ring->sound = block_of(ring, plf_ring_address(ring, slot) + (slot == newest ? ring->slot_bytes - 1U : 0U));
    ring->newest = newest;
    begin_at(ring, slot_after(ring, slot));
}

/* A failure is repeated once: in the slot behind this one, or where it stopped. A slot that was begun is given up with
 * its record. */
static enum plf_result failed(plf_ring *ring, bool elsewhere)
{
    const bool ends = ++ring->tries == TRIES;
    if (elsewhere || (ends && ring->done > 0)) {
        begin_at(ring, slot_after(ring, ring->slot));
    }
    return ends ? PLF_FAILED : PLF_DONE;
}

static enum plf_result step_over(plf_ring *ring)
{
    begin_at(ring, slot_after(ring, ring->slot));
    return PLF_DONE;
}

static void forget_block(plf_ring *ring, uint32_t block)
{
    const uint32_t at = block * ring->flash->block_bytes;
    const uint32_t end = at + ring->flash->block_bytes;
    for (uint32_t slot = at / ring->slot_bytes; slot < ring->slots && plf_ring_address(ring, slot) < end; slot++) {
        ring->numbers[slot] = 0;
    }
}

static uint32_t last_block(const plf_ring *ring, uint32_t slot)
{
    return block_of(ring, plf_ring_address(ring, slot) + ring->slot_bytes - 1U);
}

static bool holds(const plf_ring *ring, uint32_t block, uint32_t slot)
{
    return slot < ring->slots && block_of(ring, plf_ring_address(ring, slot)) <= block
        && block <= last_block(ring, slot);
}

static bool is_kept(const plf_ring *ring, uint32_t block)
{
    return holds(ring, block, ring->newest) || holds(ring, block, ring->kept);
}

/* Something was programmed right since the last erase, or that was of the same block. */
static bool is_due(const plf_ring *ring, uint32_t block)
{
    return ring->unproven == PLF_NO_BLOCK || ring->unproven == block || ring->proved;
}

/* The first slot behind the newest record that lies in other blocks than what is kept. `slots` where there is none. */
static uint32_t behind_newest(const plf_ring *ring)
{
    uint32_t slot = ring->newest < ring->slots ? slot_after(ring, ring->newest) : 0;
    for (uint32_t tried = 0; tried < ring->slots; tried++) {
        if (!is_kept(ring, block_of(ring, plf_ring_address(ring, slot))) && !is_kept(ring, last_block(ring, slot))) {
            return slot;
        }
        slot = slot_after(ring, slot);
    }
    return ring->slots;
}

/* The block is needed. Where it isn't due, or has what is kept, back to what was erased already, if there is any. */
static enum plf_result prepare(plf_ring *ring, uint32_t block)
{
    const plf_flash *flash = ring->flash;
    const uint32_t back = behind_newest(ring);
    if ((!is_due(ring, block) || is_kept(ring, block)) && back < ring->slots && back != ring->slot) {
        ring->sound = PLF_NO_BLOCK;
        begin_at(ring, back);
        return failed(ring, false);
    }
    ring->unproven = block;
    forget_block(ring, block);
    if (flash->erase(flash->context, block) != 0) {
        return failed(ring, ring->done > 0);
    }
    ring->sound = block;
    return PLF_DONE;
}

/* ---- Writing ---- */

static bool is_last(const plf_ring *ring)
{
    return ring->done == ring->slot_bytes;
}

/* Of the record, what comes next: its last unit when all of the slot is gone through. */
static uint32_t offset_of(const plf_ring *ring)
{
    return is_last(ring) ? ring->size - ring->flash->unit_bytes : ring->done;
}

/* Where a program is refused and leaves no trace, the same place is tried again. What can't be read may well be
 * right: it is read again, and not written a second time. */
static enum plf_result verify(plf_ring *ring)
{
    uint8_t kept[PLF_PAGE_BYTES];
    const uint32_t offset = offset_of(ring);
    bool right = !ring->refused;
    if (plf_ring_read(ring, plf_ring_address(ring, ring->slot) + offset, kept, ring->unread) != PLF_DONE) {
        return failed(ring, false);
    }
    for (uint32_t i = 0; i < ring->unread; i++) {
        right = right && kept[i] == ring->bytes[offset + i];
    }
    if (!right) {
        const bool elsewhere = ring->done > 0 || !ring->refused;
        ring->unread = 0;
        return failed(ring, elsewhere);
    }
    ring->unproven = PLF_NO_BLOCK;
    if (is_last(ring)) {
        ring->newest = ring->slot;
        begin_at(ring, slot_after(ring, ring->slot));
        return PLF_READY;
    }
    ring->proved = 1;
    ring->done += ring->unread;
    ring->unread = 0;
    return PLF_DONE;
}

static enum plf_result program(plf_ring *ring, uint32_t at, uint32_t size)
{
    const plf_flash *flash = ring->flash;
    ring->unread = (uint16_t)size;
    ring->refused = flash->program(flash->context, at, ring->bytes + offset_of(ring), size) != 0;
    return verify(ring);
}

/* The next page of the slot: programmed, where the record has something to put there. */
static enum plf_result pass(plf_ring *ring, uint32_t at)
{
    const uint32_t before_last = ring->size - ring->flash->unit_bytes;
    const bool data = ring->done < before_last;
    const uint32_t size = plf_ring_page(ring, at, (data ? before_last : ring->slot_bytes) - ring->done);
    const enum plf_result blank = plf_ring_blank(ring, at, size);
    if (blank == PLF_FAILED) {
        return failed(ring, false);
    }
    if (blank == PLF_MISSING) {
        return ring->proved ? failed(ring, true) : step_over(ring);
    }
    if (data) {
        return program(ring, at, size);
    }
    ring->done += size;
    return PLF_DONE;
}

void plf_ring_write(plf_ring *ring, const uint8_t *bytes, uint32_t size)
{
    ring->bytes = bytes;
    ring->size = size;
    ring->tries = 0;
    begin_at(ring, ring->slot);
}

enum plf_result plf_ring_step(plf_ring *ring, uint32_t *slot)
{
    const uint32_t at = plf_ring_address(ring, ring->slot) + offset_of(ring);
    *slot = ring->slot;
    if (ring->unread > 0) {
        return verify(ring);
    }
    if (is_last(ring)) {
        return program(ring, at, ring->flash->unit_bytes);
    }
    if ((ring->done == 0 || at % ring->flash->block_bytes == 0) && ring->sound != block_of(ring, at)) {
        return prepare(ring, block_of(ring, at));
    }
    return pass(ring, at);
}
