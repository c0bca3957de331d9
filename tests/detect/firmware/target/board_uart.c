/* The board of plumbfall_target_main.c on the emulated controller: its first serial port, and SysTick as a counter. */
#include "target.h"

#define UART_DATA (*(volatile uint32_t *)0x40004000)
#define UART_STATE (*(volatile uint32_t *)0x40004004)
#define UART_CONTROL (*(volatile uint32_t *)0x40004008)
#define UART_BAUD_DIVIDER (*(volatile uint32_t *)0x40004010)
#define SYST_CSR (*(volatile uint32_t *)0xE000E010)
#define SYST_RVR (*(volatile uint32_t *)0xE000E014)
#define SYST_CVR (*(volatile uint32_t *)0xE000E018)

enum { TX_FULL = 1, RX_FULL = 2, BOTH_ON = 3 };

int board_read(void);
void board_write(const uint8_t *bytes, uint32_t size);
uint32_t board_cycles(void);

static void start_once(void)
{
    static int started;
    if (!started) {
        UART_BAUD_DIVIDER = 16;
        UART_CONTROL = BOTH_ON;
        SYST_RVR = 0xFFFFFF;
        SYST_CVR = 0;
        SYST_CSR = 5; /* on, processor clock, no interrupt */
        started = 1;
    }
}

int board_read(void)
{
    start_once();
    return UART_STATE & RX_FULL ? (int)(UART_DATA & 0xFF) : -1;
}

void board_write(const uint8_t *bytes, uint32_t size)
{
    for (uint32_t i = 0; i < size; i++) {
        while (UART_STATE & TX_FULL) {
        }
        UART_DATA = bytes[i];
    }
}

/* SysTick counts down in 24 bits; a sample is shorter than one turn of it. */
uint32_t board_cycles(void)
{
    static uint32_t last = 0xFFFFFF, total;
    const uint32_t now = SYST_CVR;
    total += (last - now) & 0xFFFFFF;
    last = now;
    return total;
}
