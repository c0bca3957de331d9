/* Runs the vectors of log, alarm and link on an emulated controller. */
#define PLF_DEVICE_VECTORS_NO_MAIN
#include "plumbfall_device_vectors_test.c"

#include "target.h"

int main(void)
{
    const plf_device_report report = plf_device_vectors_test();
    return say_vectors(report.vectors, report.failed, report.last_failed);
}
