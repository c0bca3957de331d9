/* Runs the vectors of log, alarm and link on an emulated controller. */
#define PLF_DEVICE_VECTORS_NO_MAIN
#include "plumbfall_device_vectors_test.c"

#include "target.h"

int main(void)
{
    const plf_device_report report = plf_device_vectors_test();
    say_number("vectors", report.vectors);
    say_number("failed", report.failed);
    say_number("last_failed", report.last_failed);
    return report.failed != 0;
}
