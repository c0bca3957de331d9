/* SPDX-License-Identifier: MIT */
/* plumbfall_crc.c: see plumbfall_crc.h. Half a byte at a time, from tables of 16. C99, integers only. */
#include "plumbfall_crc.h"

uint32_t plf_crc32(uint32_t crc, const uint8_t *bytes, uint32_t size)
{
    static const uint32_t table[16] = {
        0x00000000U, 0x1DB71064U, 0x3B6E20C8U, 0x26D930ACU, 0x76DC4190U, 0x6B6B51F4U, 0x4DB26158U, 0x5005713CU,
        0xEDB88320U, 0xF00F9344U, 0xD6D6A3E8U, 0xCB61B38CU, 0x9B64C2B0U, 0x86D3D2D4U, 0xA00AE278U, 0xBDBDF21CU };
    crc = ~crc;
    for (uint32_t i = 0; i < size; i++) {
        crc ^= bytes[i];
        crc = (crc >> 4) ^ table[crc & 15U];
        crc = (crc >> 4) ^ table[crc & 15U];
    }
    return ~crc;
}

uint16_t plf_crc16(uint16_t crc, const uint8_t *bytes, uint32_t size)
{
    static const uint16_t table[16] = {
        0x0000U, 0x1021U, 0x2042U, 0x3063U, 0x4084U, 0x50A5U, 0x60C6U, 0x70E7U,
        0x8108U, 0x9129U, 0xA14AU, 0xB16BU, 0xC18CU, 0xD1ADU, 0xE1CEU, 0xF1EFU };
    uint32_t rest = crc;
    for (uint32_t i = 0; i < size; i++) {
        rest = (rest << 4 & 0xFFFFU) ^ table[(rest >> 12) ^ (bytes[i] >> 4)];
        rest = (rest << 4 & 0xFFFFU) ^ table[(rest >> 12) ^ (bytes[i] & 15U)];
    }
    return (uint16_t)rest;
}
