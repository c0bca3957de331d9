/* A sample comes before every turn of the main loop, and a second fall at each of them in turn, while the first one's
 * record is put in order, written, and given its outcome. Prints "kept, N moments" where both are in the log with all
 * samples that there were, no poll changed the memory twice, and each has its outcome.
 */
#include "plumbfall_log.h"
#include "plumbfall_recorder.h"

enum { BLOCK = 256, BLOCKS = 8, UNIT = 4 };
enum { BEFORE = 40, AFTER = 10, BITS = 12, SIZE = PLF_RECORD_BYTES(BEFORE + AFTER, BITS, 0) };

#include "counted_flash.h"

static uint32_t numbers[PLF_LOG_SLOTS(BLOCK * BLOCKS, SIZE, 4)];
static uint8_t bytes[2][SIZE + PLF_UNIT_MOST];
static plf_log a_log;
static plf_recorder recorder;
static uint8_t handed_over;
static int16_t next;

static void sample(void)
{
    plf_recorder_step(&recorder, next, (int16_t)-next, 7);
    next++;
}

static void turn(int moment)
{
    changes = 0;
    plf_log_poll(&a_log);
    if (changes > 1) {
        fail("a poll changed the memory twice", moment);
    }
    if (handed_over && !a_log.writing) {
        plf_recorder_release(&recorder);
        handed_over = 0;
    }
    if (!handed_over && plf_recorder_poll(&recorder) == PLF_READY) {
        handed_over = plf_log_append(&a_log, &recorder.record, recorder.ready, sizeof bytes[0]) == PLF_DONE;
    }
}

/* Its newest sample up to the alarm is known; what was kept before and after it must be what came. */
static void look_at(uint32_t number, int16_t alarm_at, uint32_t before, int moment)
{
    uint8_t read[SIZE];
    plf_record record;
    enum plf_outcome outcome;
    if (plf_log_find(&a_log, number, &record) != PLF_DONE || record.before != before || record.after != AFTER
        || plf_log_read(&a_log, number, 0, read, plf_record_size(&record)) != PLF_DONE
        || plf_record_read(read, sizeof read, &record) != PLF_RECORD_WHOLE) {
        fail("a record", moment);
    }
    for (uint32_t i = 0; i < before + AFTER; i++) {
        int16_t v[3];
        plf_unpack(read + plf_record_samples(&record), i, BITS, 0, v);
        if (v[0] != (int16_t)(alarm_at - (int16_t)before + 1 + (int16_t)i) || v[1] != -v[0] || v[2] != 7) {
            fail("a sample", moment);
        }
    }
    if (plf_log_outcome(&a_log, number, &outcome) != PLF_DONE || outcome != PLF_CANCELLED) {
        fail("an outcome", moment);
    }
}

static void alarm(uint32_t *number, int16_t *at)
{
    const plf_event event = { 0 };
    *number = plf_log_number(&a_log);
    *at = (int16_t)(next - 1);
    plf_recorder_alarm(&recorder, &event, *number, 0, 0);
    plf_log_set_outcome(&a_log, *number, PLF_CANCELLED);
}

/* Whether the first record was still at work when the second fall came. */
static int moment_of(int moment)
{
    plf_record shape = { 0 };
    uint32_t first, second;
    int16_t first_at, second_at, closed_at;
    int at_work;
    shape.before = BEFORE;
    shape.after = AFTER;
    shape.bits = BITS;
    handed_over = 0;
    next = 0;
    if (plf_recorder_init(&recorder, &shape, bytes[0], bytes[1], sizeof bytes[0]) != PLF_DONE
        || plf_log_mount(&a_log, &flash, SIZE, numbers, sizeof numbers / sizeof numbers[0]) != PLF_DONE) {
        fail("the beginning", moment);
    }
    while (plf_log_pending(&a_log) > 0) {
        plf_log_poll(&a_log);
    }
    for (int i = 0; i < 3 * BEFORE; i++) {
        sample();
    }
    alarm(&first, &first_at);
    for (int i = 0; i < AFTER; i++) {
        sample();
    }
    closed_at = (int16_t)(next - 1);
    sample();
    for (int i = 0; i < moment; i++) {
        turn(moment);
        sample();
    }
    at_work = recorder.frozen || plf_log_pending(&a_log) > 0;
    alarm(&second, &second_at);
    while (recorder.open || recorder.full || recorder.frozen || plf_log_pending(&a_log) > 0) {
        sample();
        turn(moment);
    }
    const uint32_t came = (uint32_t)(second_at - closed_at);
    look_at(first, first_at, BEFORE, moment);
    look_at(second, second_at, came < BEFORE ? came : BEFORE, moment);
    return at_work;
}

int main(void)
{
    int moments = 0;
    memset(memory, 0xFF, sizeof memory);
    while (moment_of(moments)) {
        moments++;
    }
    printf("kept, %d moments\n", moments);
    return 0;
}
