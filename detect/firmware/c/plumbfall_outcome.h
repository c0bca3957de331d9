/* SPDX-License-Identifier: MIT */
/* plumbfall_outcome.h: what became of an alarm, four bytes in the last unit of its record's slot, with a checksum over
 * the record's number too. The log's own: what plumbfall_log.c and plumbfall_outcome.c ask of each other. A firmware
 * calls plf_log_set_outcome and plf_log_outcome of plumbfall_log.h.
 */
#ifndef PLUMBFALL_OUTCOME_H
#define PLUMBFALL_OUTCOME_H

#include <stdbool.h>

#include "plumbfall_log.h"

#ifdef __cplusplus
extern "C" {
#endif

bool plf_log_is_mounted(const plf_log *log);
/* The slot of a record that counts; `slots` where there is none. */
uint32_t plf_log_slot_of(const plf_log *log, uint32_t number);
/* The note whose record is there, so that it can be written; PLF_NOTES where there is none. */
uint32_t plf_outcome_due(const plf_log *log);
/* Begins to write it; a step is one program of 64 bytes at most, read back, and ends as plf_log_poll does. */
void plf_outcome_begin(plf_log *log, uint32_t note);
enum plf_result plf_outcome_step(plf_log *log);

#ifdef __cplusplus
}
#endif

#endif
