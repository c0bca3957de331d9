/* SPDX-License-Identifier: MIT */
/* plumbfall_tag.h: the tag of plumbfall_station.h as SipHash-2-4, from its authors' own C in siphash/.
 *
 *   static uint8_t key_bytes[PLF_KEY_BYTES];                        read from where it was stored at provisioning
 *   static const plf_key key = { plf_tag_siphash, key_bytes };
 */
#ifndef PLUMBFALL_TAG_H
#define PLUMBFALL_TAG_H

#include "plumbfall_station.h"

#ifdef __cplusplus
extern "C" {
#endif

#define PLF_KEY_BYTES 16U

/* `context`: the key's bytes. 0 when done. */
int plf_tag_siphash(void *context, const uint8_t *message, uint32_t size, uint8_t tag[PLF_TAG_BYTES]);

#ifdef __cplusplus
}
#endif

#endif
