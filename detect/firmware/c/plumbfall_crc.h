/* SPDX-License-Identifier: MIT */
/* plumbfall_crc.h: the two checksums of these files.
 *
 * Of the nine characters 123456789 the first gives CBF43926, the second 29B1 (the check values of their catalogue).
 */
#ifndef PLUMBFALL_CRC_H
#define PLUMBFALL_CRC_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* CRC-32 (reflected 04C11DB7, the one of zlib) of more bytes after those of `crc`; begin with 0. */
uint32_t plf_crc32(uint32_t crc, const uint8_t *bytes, uint32_t size);
/* CRC-16/CCITT-FALSE likewise; begin with 0xFFFF. */
uint16_t plf_crc16(uint16_t crc, const uint8_t *bytes, uint32_t size);

#ifdef __cplusplus
}
#endif

#endif
