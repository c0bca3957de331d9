/* The keyed hash's own vectors through plf_tag_siphash: key 00 01 ... 0F, messages of 0 to 63 bytes 00 01 ... */
#include "plumbfall_tag.h"
#include "siphash/vectors.h"

#include "target.h"

enum { VECTORS = 64 };

int main(void)
{
    uint8_t key[PLF_KEY_BYTES], message[VECTORS], tag[PLF_TAG_BYTES];
    uint32_t failed = 0;
    for (uint32_t i = 0; i < VECTORS; i++) {
        key[i % PLF_KEY_BYTES] = (uint8_t)(i % PLF_KEY_BYTES);
        message[i] = (uint8_t)i;
    }
    for (uint32_t size = 0; size < VECTORS; size++) {
        int good = plf_tag_siphash(key, message, size, tag) == 0;
        for (uint32_t i = 0; i < PLF_TAG_BYTES; i++) {
            good = good && tag[i] == vectors_sip64[size][i];
        }
        failed += !good;
    }
    failed += plf_tag_siphash(0, message, 1, tag) == 0;
    say_number("vectors", VECTORS);
    say_number("failed", failed);
    return failed != 0;
}
