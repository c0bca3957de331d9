/* Counts instructions a sample over the vectors of a part: every plf_step, the worst and the sum.
 *
 * SysTick runs at the board's emulated clock; under -icount shift=10 an instruction takes 1024 ns, which are 25.6 ticks
 * at 25 MHz.
 */
#include "plumbfall_detector.h"
#include "target.h"

#define SYST_CSR (*(volatile uint32_t *)0xE000E010)
#define SYST_RVR (*(volatile uint32_t *)0xE000E014)
#ifndef TICKS_IN_1000
#define TICKS_IN_1000 25600U /* instructions */
#endif
#define SYST_CVR (*(volatile uint32_t *)0xE000E018)

static uint32_t calls, worst, reading;
static uint64_t total;

/* Ticks since a reading of the counter, which counts down from 2^24 - 1. */
static uint32_t since(uint32_t start)
{
    return (start - SYST_CVR) & 0xFFFFFF;
}

static enum plf_result timed_step(plf_state *state, int16_t x, int16_t y, int16_t z, plf_event *event)
{
    const uint32_t start = SYST_CVR;
    const enum plf_result result = plf_step(state, x, y, z, event);
    const uint32_t ticks = since(start) - reading;
    if (result != PLF_REFUSED) {
        calls++;
        total += ticks;
        worst = ticks > worst ? ticks : worst;
    }
    return result;
}

#define PLF_VECTORS_NO_MAIN
#define plf_step timed_step
#include "plumbfall_vectors_test.c"

int main(void)
{
    SYST_RVR = 0xFFFFFF;
    SYST_CVR = 0;
    SYST_CSR = 5; /* on, processor clock, no interrupt */
    const uint32_t start = SYST_CVR;
    reading = since(start);
    const plf_report report = plf_vectors_test();
    say_number("failed", report.failed);
    say_number("samples", calls);
    say_number("average_tenths", (uint32_t)(total * 10000 / TICKS_IN_1000 / calls));
    say_number("worst", (uint32_t)((uint64_t)worst * 1000 / TICKS_IN_1000));
    return report.failed != 0;
}
