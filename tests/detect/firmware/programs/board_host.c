/* The board of plumbfall_target_main.c on this machine: standard input and output are its line. */
#include <stdint.h>
#include <stdlib.h>
#include <unistd.h>

int board_read(void);
void board_write(const uint8_t *bytes, uint32_t size);
uint32_t board_cycles(void);

int board_read(void)
{
    uint8_t byte;
    if (read(0, &byte, 1) != 1) {
        exit(0);
    }
    return byte;
}

void board_write(const uint8_t *bytes, uint32_t size)
{
    while (size > 0) {
        const ssize_t written = write(1, bytes, size);
        if (written <= 0) {
            exit(1);
        }
        bytes += written;
        size -= (uint32_t)written;
    }
}

uint32_t board_cycles(void)
{
    static uint32_t calls;
    return calls += 7; /* a sample takes 7 */
}
