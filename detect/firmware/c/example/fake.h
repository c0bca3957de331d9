/* SPDX-License-Identifier: MIT */
/* fake.h: what the parts of the fake board know of each other, and what came of the trial. */
#ifndef FAKE_H
#define FAKE_H

#include "board.h"

typedef struct {
    uint32_t expected;                          /* alarms in what is measured */
    uint32_t cancelled, delivered, undelivered; /* what the wearer was told */
    uint32_t heard;                             /* alarms that the station has heard of, each once */
    uint32_t records;                           /* that the log says it has, at the end */
    uint32_t kept_cancelled, kept_acknowledged; /* what became of them, as their records have it */
    uint32_t other_identities;                  /* hellos, alarms and records that name other parameters than those sent */
    uint32_t refused;                           /* commands that the device did not do */
    uint32_t confirmed;                         /* 1: parameters were sent, on trial, and confirmed */
} fake_tally;

extern fake_tally fake;

void fake_flash_start(void);
uint8_t fake_radio_is_done(void);

#endif
