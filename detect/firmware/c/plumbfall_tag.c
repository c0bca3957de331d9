/* SPDX-License-Identifier: MIT */
/* plumbfall_tag.c: see plumbfall_tag.h. */
#include "plumbfall_tag.h"

#include <stddef.h>

#include "siphash/siphash.h"

int plf_tag_siphash(void *context, const uint8_t *message, uint32_t size, uint8_t tag[PLF_TAG_BYTES])
{
    if (context == NULL) {
        return 1;
    }
    return siphash(message, size, context, tag, PLF_TAG_BYTES);
}
