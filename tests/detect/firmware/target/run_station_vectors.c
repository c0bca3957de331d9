/* Runs the vectors of journal, block and station on an emulated controller. */
#define PLF_STATION_VECTORS_NO_MAIN
#include "plumbfall_station_vectors_test.c"

#include "target.h"

int main(void)
{
    const plf_station_report report = plf_station_vectors_test();
    return say_vectors(report.vectors, report.failed, report.last_failed);
}
