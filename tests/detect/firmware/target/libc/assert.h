/* What the authors' keyed hash includes, where there is no C library: nothing is asserted. */
#define assert(holds) ((void)0)
