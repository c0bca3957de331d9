/* Runs the vectors of log, alarm and link on an emulated controller. */
#define PLF_DEVICE_SELFTEST_NO_MAIN
#include "plumbfall_device_selftest.c"

#include "target.h"

int main(void)
{
    const plf_device_report report = plf_device_selftest();
    say_number("vectors", report.vectors);
    say_number("failed", report.failed);
    say_number("last_failed", report.last_failed);
    return report.failed != 0;
}
