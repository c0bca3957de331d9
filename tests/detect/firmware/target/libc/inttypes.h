/* What the authors' keyed hash includes, where there is no C library. */
#include <stdint.h>
