/* Other parameters come from a station, piece by piece, are tried and confirmed, and a fall begins at each turn of the main
 * loop in turn. A sample comes before every turn. Prints "kept, N moments" where the fall is an alarm, nothing is switched
 * within it, no turn changed the memory twice, taking a command changed nothing, and in the end the new parameters are in
 * force, also after a restart.
 */
#include "plumbfall_params.h"
#include "plumbfall_station.h"

enum { BLOCK = 128, BLOCKS = 4, UNIT = 8 };
enum { NODE = 1, UPRIGHT = 250, FALLING = 10, LYING = 200, MOST_TURNS = 2000, PIECE_HEAD = 5 };

#include "counted_flash.h"

static const plf_parameters built_in = PLF_PARAMETERS;
static const plf_alarm_settings life = { 400, 400, 2, 400, 400 };
static plf_word ring[PLF_RING_WORDS];
static plf_state detector;
static plf_block block;
static plf_alarm alarm_life;
static plf_station station;
static plf_parameters wanted;
static uint8_t wanted_bytes[PLF_BLOCK_BYTES];
static uint32_t now_ms, counter, alarms;
static int since_fall; /* samples since the fall began; negative: it has not */

static int no_tag(void *context, const uint8_t *message, uint32_t size, uint8_t tag[PLF_TAG_BYTES])
{
    (void)context;
    (void)message;
    (void)size;
    memset(tag, 0, PLF_TAG_BYTES);
    return 0;
}

static const plf_key key = { no_tag, NULL };

static void mount(void)
{
    if (plf_block_mount(&block, &flash, 0, &built_in, PLF_RING_WORDS) != PLF_DONE) {
        fail("a mount", -1);
    }
    while (block.stage != PLF_BLOCK_SETTLED) {
        plf_block_poll(&block, 1, now_ms);
    }
}

/* Upright, falling, an impact, lying still; and upright again long before the next. */
static void sample(void)
{
    plf_event event;
    int16_t v[3] = { 0, 0, 512 };
    if (since_fall >= 0) {
        v[0] = since_fall < FALLING ? 0 : since_fall == FALLING ? 2000 : 512;
        v[2] = 0;
        since_fall = since_fall < FALLING + LYING ? since_fall + 1 : -1;
    }
    now_ms += 20;
    if (plf_step(&detector, v[0], v[1], v[2], &event) == PLF_ENDED && event.ended == PLF_ALARM) {
        alarms++;
        plf_alarm_step(&alarm_life, &life, now_ms, PLF_FALL, alarms);
    }
    if (alarm_life.stage == PLF_SENT) {
        plf_alarm_step(&alarm_life, &life, now_ms, PLF_ACKNOWLEDGE, alarms);
    }
    plf_alarm_step(&alarm_life, &life, now_ms, PLF_TIME, 0);
}

/* What the station says next: the pieces, and the confirm when they are on trial. */
static void say(uint32_t *said)
{
    static plf_message in, out;
    plf_station_order order;
    if (station.waits || *said > PLF_PIECES || (*said == PLF_PIECES && block.stage != PLF_BLOCK_TRIAL)) {
        return;
    }
    const uint32_t left = *said < PLF_PIECES ? PLF_BLOCK_BYTES - *said * PLF_PIECE_BYTES : 0;
    const uint32_t size = left < PLF_PIECE_BYTES ? left : PLF_PIECE_BYTES;
    plf_message_begin(&in, *said < PLF_PIECES ? PLF_COMMAND_SET : PLF_COMMAND_CONFIRM, NODE, *said, now_ms);
    plf_message_put(&in, plf_identity(&wanted), 4);
    if (size > 0) {
        plf_message_put(&in, *said, 1);
    }
    for (uint32_t i = 0; i < size; i++) {
        plf_message_put(&in, wanted_bytes[*said * PLF_PIECE_BYTES + i], 1);
    }
    plf_message_put(&in, ++counter, 4);
    for (uint32_t i = 0; i < PLF_TAG_BYTES; i++) {
        plf_message_put(&in, 0, 1);
    }
    if (plf_station_message(&station, &in, now_ms, &out, &order) != PLF_DONE || changes > 0) {
        fail("a command is not taken, or at once", (int)*said);
    }
    (*said)++;
}

static void turn(uint32_t *said, int moment)
{
    static plf_message out;
    plf_station_order order;
    const uint8_t calm = plf_is_calm(&detector, &alarm_life);
    changes = 0;
    say(said);
    if (plf_block_poll(&block, calm, now_ms) == PLF_READY) {
        if (!calm) {
            fail("switched while something was going on", moment);
        }
        plf_event event;
        plf_finish(&detector, &event);
        plf_init(&detector, &block.active.settings, ring, PLF_RING_WORDS);
    }
    if (changes > 1) {
        fail("a turn changed the memory twice", moment);
    }
    if (plf_station_poll(&station, now_ms, &out, &order) == PLF_READY && out.kind == PLF_COMMAND_REFUSED) {
        fail("a command is refused", moment);
    }
}

/* Whether the switch was still under way when the fall began. */
static int moment_of(int moment)
{
    uint32_t said = 0;
    int at_work = 1;
    memset(memory, 0xFF, sizeof memory);
    mount();
    plf_init(&detector, &block.active.settings, ring, PLF_RING_WORDS);
    plf_alarm_init(&alarm_life);
    memset(&station, 0, sizeof station);
    station.key = &key;
    station.block = &block;
    station.node = NODE;
    counter = 0;
    alarms = 0;
    since_fall = -1;
    for (int i = 0; i < UPRIGHT; i++) {
        sample();
    }
    for (int turns = 0; turns < MOST_TURNS; turns++) {
        if (turns == moment) {
            at_work = said <= PLF_PIECES || block.stage != PLF_BLOCK_SETTLED;
            since_fall = 0;
        }
        sample();
        turn(&said, moment);
    }
    if (alarms != 1) {
        fail("not one alarm", moment);
    }
    if (block.stage != PLF_BLOCK_SETTLED || block.identity != plf_identity(&wanted)) {
        fail("not in force", moment);
    }
    mount();
    if (block.identity != plf_identity(&wanted) || block.journal.counter != counter) {
        fail("not in force after a restart", moment);
    }
    return at_work;
}

int main(void)
{
    int moments = 0;
    wanted = built_in;
    wanted.settings.hold_off_samples = (uint16_t)(wanted.settings.hold_off_samples ^ 1U);
    plf_parameters_write(&wanted, wanted_bytes);
    for (uint32_t i = 0; i < 4; i++) {
        wanted_bytes[PLF_PARAMETERS_BYTES + i] = (uint8_t)(plf_identity(&wanted) >> 8 * i);
    }
    while (moment_of(moments)) {
        moments++;
    }
    printf("kept, %d moments\n", moments);
    return 0;
}
