/* What the authors' keyed hash includes, where there is no C library. */
#include <stddef.h>
void *memcpy(void *to, const void *from, size_t size);
void *memset(void *to, int value, size_t size);
