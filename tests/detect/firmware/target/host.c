/* What the programs for the emulated controllers say, on the host. */
#include <stdio.h>

#include "target.h"

void say(const char *text)
{
    fputs(text, stdout);
}

void say_number(const char *name, uint32_t number)
{
    printf("%s %lu\n", name, (unsigned long)number);
}
