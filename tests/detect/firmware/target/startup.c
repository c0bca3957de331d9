/* Startup and semihosting for the emulated controllers: no C library. */
#include <stddef.h>
#include <stdint.h>

#include "target.h"

extern uint32_t _data_load[], _data_start[], _data_end[], _bss_start[], _bss_end[], _stack_top[];

int main(void);
void reset(void);

static void call_host(uint32_t operation, const void *argument)
{
    register uint32_t r0 __asm__("r0") = operation;
    register const void *r1 __asm__("r1") = argument;
    __asm__ volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
}

void say(const char *text)
{
    call_host(0x04, text); /* SYS_WRITE0 */
}

void say_number(const char *name, uint32_t number)
{
    char digits[11];
    char *at = &digits[10];
    *at = 0;
    do {
        *--at = (char)('0' + number % 10);
        number /= 10;
    } while (number > 0);
    say(name);
    say(" ");
    say(at);
    say("\n");
}

int say_vectors(uint32_t vectors, uint32_t failed, uint32_t last_failed)
{
    say_number("vectors", vectors);
    say_number("failed", failed);
    say_number("last_failed", last_failed);
    return failed != 0;
}

static void leave(int good)
{
    call_host(0x18, (const void *)(good ? 0x20026u : 0x20023u)); /* SYS_EXIT: application exit, or run-time error */
    for (;;) {
    }
}

void reset(void)
{
    const uint32_t *from = _data_load;
    for (uint32_t *to = _data_start; to < _data_end;) {
        *to++ = *from++;
    }
    for (uint32_t *to = _bss_start; to < _bss_end;) {
        *to++ = 0;
    }
    leave(main() == 0);
}

static void fault(void)
{
    say("fault\n");
    leave(0);
}

__attribute__((section(".vectors"), used)) static void *const vectors[16] = {
    _stack_top, (void *)reset, (void *)fault, (void *)fault };

/* What a compiler may call in any freestanding program. */
void *memset(void *to, int value, size_t size)
{
    for (unsigned char *p = to; size-- > 0;) {
        *p++ = (unsigned char)value;
    }
    return to;
}

void *memcpy(void *to, const void *from, size_t size)
{
    const unsigned char *q = from;
    for (unsigned char *p = to; size-- > 0;) {
        *p++ = *q++;
    }
    return to;
}
