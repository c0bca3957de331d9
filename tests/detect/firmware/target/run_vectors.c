/* Runs the vectors of one part on an emulated controller. */
#define PLF_VECTORS_NO_MAIN
#include "plumbfall_vectors_test.c"

#include "target.h"

int main(void)
{
    const plf_report report = plf_vectors_test();
    say_number("left_out", report.left_out);
    return say_vectors(report.vectors, report.failed, report.last_failed);
}
