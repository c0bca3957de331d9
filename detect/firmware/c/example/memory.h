/* SPDX-License-Identifier: MIT */
/* memory.h: what is kept of an alarm: the samples around it, its record in the log, and what became of it. */
#ifndef MEMORY_H
#define MEMORY_H

#include "plumbfall_log.h"

/* 1: there is a log. `identity`: of the parameters in force. */
uint8_t memory_start(uint32_t identity);
/* Other parameters are in force: records from now on carry their identity. */
void memory_identity(uint32_t identity);
void memory_sample(const int16_t counts[3]);
void memory_gap(void);
/* An alarm; its number, under which the station is told: as soon as memory_may_tell says so. */
uint32_t memory_alarm(const plf_event *event, uint32_t seconds, uint16_t milliseconds);
/* 1: whatever the power does, no other alarm ever gets the number given last. */
uint8_t memory_may_tell(void);
void memory_outcome(uint32_t number, enum plf_outcome outcome);
/* Clears the log unless it has an alarm newer than `newest`. */
void memory_clear(uint32_t newest);
/* In the main loop. */
void memory_poll(void);
const plf_log *memory_log(void);
uint8_t memory_percent(void); /* of its slots that hold an alarm */

#endif
