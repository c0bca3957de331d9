/* SPDX-License-Identifier: MIT */
/* plumbfall_block.h: parameters that a station sends, in place of those that are compiled in.
 *
 *   plf_block_mount(&block, &flash, 0, &built_in, PLF_RING_WORDS);      once
 *   while (block.stage != PLF_BLOCK_SETTLED) { plf_block_poll(&block, 1, now_ms); }   the one confirmed is in force
 *   plf_init(&state, &block.active.settings, ring, PLF_RING_WORDS);     what records and reports carry: block.identity
 *   plf_block_piece(&block, identity, number, bytes, size);             as pieces come
 *   if (plf_block_poll(&block, plf_is_calm(&state, &alarm), now_ms) == PLF_READY) { plf_finish ...; plf_init ...; }
 *
 * A block is its parameters as bytes (plumbfall_settings.h) and their CRC-32, which is their identity, in pieces of 32
 * bytes that all name it: pieces of two blocks never mix. Nothing is in force before all of it is there, right, within
 * bounds, of this device's sensor and not too long for its ring. Then it waits until nothing is going on (no attempt,
 * no warning, no alarm that is not acknowledged), is written beside the old one, and is on trial. Without a confirm
 * within the trial time, or with a restart before it, the old one is back. Power may go at any byte.
 *
 * Of the flash it takes four erase blocks: two copies, and the journal's two. Nothing waits for it: what is below only
 * begins, and plf_block_poll goes on, in the main loop. A poll does one erase, or one program of 64 bytes at most, and
 * reads 84 bytes at most. The most polls: of a mount of c cells of the journal in a block c / 2 + 2; of a switch 3, and of
 * keeping a counter, a confirm or a roll back 2, while nothing is going on.
 */
#ifndef PLUMBFALL_BLOCK_H
#define PLUMBFALL_BLOCK_H

#include "plumbfall_alarm.h"
#include "plumbfall_journal.h"
#include "plumbfall_settings.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_BLOCK_BYTES (PLF_PARAMETERS_BYTES + 4U)
#define PLF_PIECE_BYTES 32U
#define PLF_PIECES ((PLF_BLOCK_BYTES + PLF_PIECE_BYTES - 1U) / PLF_PIECE_BYTES)

enum plf_block_stage {
    PLF_BLOCK_SETTLED, /* what is in force is confirmed, or compiled in */
    PLF_BLOCK_CHECKED, /* a whole block waits until nothing is going on */
    PLF_BLOCK_ERASED,  /* and has a place to which it is being written */
    PLF_BLOCK_TRIAL,   /* it is in force, not yet confirmed */
    PLF_BLOCK_BACK,    /* the old one is to be in force again, as soon as nothing is going on */
    PLF_BLOCK_MOUNTS   /* the flash is looked through; what is compiled in is in force */
};
/* Why a block was not taken. */
enum plf_block_fault {
    PLF_BLOCK_NO_FAULT, PLF_BLOCK_DAMAGED, PLF_BLOCK_OTHER_VERSION, PLF_BLOCK_OUT_OF_BOUNDS, PLF_BLOCK_OTHER_SENSOR,
    PLF_BLOCK_RING_TOO_SMALL
};

/* Read `active`, `identity`, `stage`, `fault`, `first` and `kept`, set `trial_ms`; leave the rest alone. */
typedef struct {
    plf_journal journal;
    plf_parameters active; /* in force */
    uint32_t identity;     /* of it */
    uint32_t trial_ms;     /* 10 minutes after plf_block_mount */
    const plf_parameters *built_in;
    uint32_t first_block, ring_words, since;
    uint32_t incoming;  /* identity that pieces name */
    uint32_t on_trial;  /* generation of what is on trial */
    uint8_t bytes[PLF_BLOCK_BYTES];
    uint8_t have;       /* a bit for each piece that is there */
    uint8_t written;    /* bytes of the copy */
    uint8_t then;       /* enum plf_block_stage, when the journal has ended its job */
    uint8_t kept;       /* 1: the journal's newest job ended well, 0: it failed, or is under way */
    uint8_t stage;      /* enum plf_block_stage */
    uint8_t fault;      /* enum plf_block_fault, of the newest block that was whole */
    uint8_t first;      /* enum plf_setting, where that is PLF_BLOCK_OUT_OF_BOUNDS */
} plf_block;

/* PLF_REFUSED where sizes don't fit each other or the built-in parameters are out of bounds. */
enum plf_result plf_block_mount(plf_block *block, const plf_flash *flash, uint32_t first_block,
                                const plf_parameters *built_in, uint32_t ring_words);
/* PLF_READY: the block is whole and will be tried. PLF_DONE: taken, there are more to come. PLF_REFUSED: `fault` says
 * why, or it is not a piece of a block, or one is being switched or on trial. */
enum plf_result plf_block_piece(plf_block *block, uint32_t identity, uint32_t number, const uint8_t *bytes,
                                uint32_t size);
/* PLF_READY: `active` may have changed. PLF_FAILED: the flash failed; what was in force stays, and after a mount no block
 * is taken. */
enum plf_result plf_block_poll(plf_block *block, uint8_t calm, uint32_t now_ms);
/* The next three store the counter of a station's command (plumbfall_station.h; without one `journal.counter`), and what
 * it changes, as one: both or neither. PLF_REFUSED while `journal.job` isn't PLF_JOURNAL_IDLE. */
enum plf_result plf_block_keep(plf_block *block, uint32_t counter);
/* What is on trial holds from then on. PLF_REFUSED where nothing with that identity is. */
enum plf_result plf_block_confirm(plf_block *block, uint32_t identity, uint32_t counter);
/* Back from a trial, or from a confirmed block to what is compiled in. */
enum plf_result plf_block_roll_back(plf_block *block, uint32_t counter);
/* 1: no attempt is open, no warning, no alarm that is not acknowledged. */
uint8_t plf_is_calm(const plf_state *state, const plf_alarm *alarm);
/* Piece `number` of what is in force; its bytes, 0 where that piece does not exist. */
uint32_t plf_block_part(const plf_block *block, uint32_t number, uint8_t to[PLF_PIECE_BYTES]);

#ifdef __cplusplus
}
#endif

#endif
