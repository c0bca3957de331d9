/* Runs the vectors of journal, block and station on an emulated controller. */
#define PLF_STATION_VECTORS_NO_MAIN
#include "plumbfall_station_vectors_test.c"

#include "target.h"

int main(void)
{
    const plf_station_report report = plf_station_vectors_test();
    say_number("vectors", report.vectors);
    say_number("failed", report.failed);
    say_number("last_failed", report.last_failed);
    return report.failed != 0;
}
