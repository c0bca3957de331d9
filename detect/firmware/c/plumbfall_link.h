/* SPDX-License-Identifier: MIT */
/* plumbfall_link.h: a station reads the log: how many records there are, and each of them part by part. STATION.md has the
 * commands. What changes or erases something, and acknowledges, is a command of plumbfall_station.h and carries a tag.
 *
 *   if (plf_frame_put(&receiver, byte, &command) == PLF_READY               for each byte that comes, and when
 *       && plf_link_serve(&log, &command, now_us, &reply) == PLF_READY) {   `command.node` is this node
 *       send(bytes, plf_frame_write(&reply, bytes));
 *   }
 *
 * Whatever is asked, nothing is read or written out of bounds.
 */
#ifndef PLUMBFALL_LINK_H
#define PLUMBFALL_LINK_H

#include "plumbfall_frame.h"
#include "plumbfall_log.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_PART_MOST 48U /* bytes of a record in one reply */

enum plf_link_kind { PLF_COUNT = 0x53, PLF_READ = 0x54 };
/* Why there is none, in a reply of kind PLF_MESSAGE_REFUSED; with those of plumbfall_station.h. */
enum plf_link_reason {
    PLF_LINK_MALFORMED = 2, PLF_LINK_NO_MEMORY = 7, PLF_LINK_NO_RECORD = 8, PLF_LINK_BEHIND_RECORD = 9
};

/* PLF_READY: `reply` is to be sent. PLF_DONE: the command is none of these. */
enum plf_result plf_link_serve(const plf_log *log, const plf_message *command, uint32_t time_us, plf_message *reply);

#ifdef __cplusplus
}
#endif

#endif
