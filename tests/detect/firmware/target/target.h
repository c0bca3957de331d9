/* What the programs for the emulated controllers share. */
#ifndef TARGET_H
#define TARGET_H

#include <stdint.h>

void say(const char *text);
void say_number(const char *name, uint32_t number);
int say_vectors(uint32_t vectors, uint32_t failed, uint32_t last_failed); /* what main returns */

#endif
