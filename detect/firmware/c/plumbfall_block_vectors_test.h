/* SPDX-License-Identifier: MIT */
/* plumbfall_block_vectors_test.h: what no vector of journal, block and station says; plumbfall_station_vectors_test.c
 * includes it.
 */

/* All that a journal has begun. */
static enum plf_result finished(plf_journal *journal, enum plf_result begun)
{
    enum plf_result result = begun;
    while (result == PLF_DONE && journal->job != PLF_JOURNAL_IDLE) {
        changes = 0;
        result = plf_journal_poll(journal);
        broke_a_rule = broke_a_rule || changes > 1;
    }
    return result;
}

static int opens(plf_journal *journal)
{
    return finished(journal, plf_journal_mount(journal, &flash, 2)) == PLF_READY;
}

static enum plf_result appends(plf_journal *journal, uint32_t counter, uint32_t generation)
{
    return finished(journal, plf_journal_append(journal, counter, generation));
}

static int refuses_null_pointers(void)
{
    static plf_message in;
    static plf_message out;
    plf_station_order order;
    plf_station nobody = station;
    nobody.block = NULL;
    plf_message_begin(&in, PLF_COMMAND_HEARTBEAT, PLF_VECTOR_NODE, 0, 0);
    return plf_station_message(NULL, &in, 0, &out, &order) == PLF_REFUSED
        && plf_station_message(&nobody, &in, 0, &out, &order) == PLF_REFUSED
        && plf_station_message(&station, NULL, 0, &out, &order) == PLF_REFUSED
        && plf_station_message(&station, &in, 0, NULL, &order) == PLF_REFUSED
        && plf_station_message(&station, &in, 0, &out, NULL) == PLF_REFUSED
        && plf_station_poll(NULL, 0, &out, &order) == PLF_REFUSED
        && plf_station_poll(&nobody, 0, &out, &order) == PLF_REFUSED
        && plf_station_poll(&station, 0, NULL, &order) == PLF_REFUSED
        && plf_station_poll(&station, 0, &out, NULL) == PLF_REFUSED;
}

static int refuses_misuse(void)
{
    plf_journal journal;
    plf_parameters wrong = plf_vector_built_in;
    uint8_t piece[PLF_PIECE_BYTES + 1U];
    int good = begins(&plf_station_vectors[0]) && refuses_null_pointers();
    piece[PLF_PIECE_BYTES] = FENCED;
    good = good && plf_block_part(&block, 0, piece) == PLF_PIECE_BYTES && piece[PLF_PIECE_BYTES] == FENCED
        && plf_block_part(NULL, 0, piece) == 0 && plf_block_part(&block, 0, NULL) == 0
        && plf_block_piece(NULL, 0, 0, piece, PLF_PIECE_BYTES) == PLF_REFUSED
        && plf_block_piece(&block, 0, 0, NULL, PLF_PIECE_BYTES) == PLF_REFUSED
        && plf_block_poll(NULL, 1, 0) == PLF_REFUSED && plf_block_confirm(NULL, 0, 0) == PLF_REFUSED
        && plf_block_roll_back(NULL, 0) == PLF_REFUSED && plf_block_keep(NULL, 0) == PLF_REFUSED
        && plf_journal_append(NULL, 1, 1) == PLF_REFUSED && plf_journal_poll(NULL) == PLF_REFUSED
        && plf_journal_mount(NULL, &flash, 0) == PLF_REFUSED && plf_journal_mount(&journal, NULL, 0) == PLF_REFUSED
        && plf_journal_mount(&journal, &flash, BLOCKS - 1) == PLF_REFUSED
        && plf_journal_append(&journal, 1, 1) == PLF_REFUSED && plf_journal_poll(&journal) == PLF_REFUSED;
    wrong.settings.impact_counts = 0;
    good = good && plf_block_mount(NULL, &flash, 0, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_REFUSED
        && plf_block_mount(&block, &flash, 0, NULL, PLF_VECTOR_RING_WORDS) == PLF_REFUSED
        && plf_block_mount(&block, &flash, 0, &wrong, PLF_VECTOR_RING_WORDS) == PLF_REFUSED
        && plf_block_mount(&block, &flash, 1, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_REFUSED;
    flash.block_bytes = 96;
    fill(&block);
    good = good && plf_block_mount(&block, &flash, 0, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_REFUSED
        && block.stage == PLF_BLOCK_SETTLED && plf_block_poll(&block, 1, 0) == PLF_REFUSED
        && plf_block_piece(&block, 0, 0, piece, PLF_PIECE_BYTES) == PLF_REFUSED;
    return good;
}

/* Sizes at their bounds, a memory that answers without doing, and what must not be written beyond. */
static int keeps_to_sizes(void)
{
    plf_station_vector v = plf_station_vectors[0];
    plf_journal journal;
    v.block_bytes = PLF_UNIT_MOST * 2U;
    v.unit_bytes = PLF_UNIT_MOST;
    int good = begins(&v) && opens(&journal);
    for (uint32_t i = 1; good && i < BITS_A_BYTE; i++) {
        good = appends(&journal, i, 2U * i) == PLF_READY && journal.number == i && opens(&journal)
            && journal.number == i && journal.counter == i && journal.generation == 2U * i;
    }
    flash.unit_bytes = PLF_UNIT_MOST * 2U;
    good = good && plf_journal_mount(&journal, &flash, 2) == PLF_REFUSED
        && plf_journal_append(&journal, 1, 1) == PLF_REFUSED;
    flash.unit_bytes = 0;
    good = good && plf_journal_mount(&journal, &flash, 2) == PLF_REFUSED;
    flash.unit_bytes = PLF_UNIT_MOST;
    flash.block_bytes = PLF_UNIT_MOST;
    good = good && opens(&journal) && journal.number == 0; /* one cell a block will do */
    flash.block_bytes = PLF_UNIT_MOST / 2U;
    return good && plf_journal_mount(&journal, &flash, 2) == PLF_REFUSED;
}

/* With its first block elsewhere than at the beginning, nothing before it is touched. */
static int finds(plf_block *other)
{
    fill(other);
    int good = plf_block_mount(other, &flash, 1, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_DONE;
    while (good && other->stage != PLF_BLOCK_SETTLED) {
        good = polls(other, 1, 0) != PLF_FAILED;
    }
    return good;
}

static int lies_where_it_is_told(void)
{
    static plf_block other;
    uint8_t piece[PLF_PIECE_BYTES];
    int good = begins(&plf_station_vectors[0]);
    flash.blocks = BLOCKS + 1;
    for (uint32_t i = 0; i < flash.block_bytes; i++) {
        memory[i] = FENCED;
    }
    good = good && finds(&other);
    for (uint32_t i = 0; good && i < PLF_PIECES; i++) {
        const uint32_t size = plf_block_part(&other, i, piece);
        good = plf_block_piece(&other, other.identity, i, piece, size) == (i + 1 < PLF_PIECES ? PLF_DONE : PLF_READY);
    }
    good = good && polls(&other, 1, 0) == PLF_DONE && polls(&other, 1, 0) == PLF_DONE && polls(&other, 1, 0) == PLF_READY
        && plf_block_confirm(&other, other.identity, 1) == PLF_DONE && polls(&other, 1, 0) == PLF_DONE
        && polls(&other, 1, 0) == PLF_DONE && other.kept == 1 && other.journal.generation == 1;
    good = good && finds(&other) && other.journal.generation == 1 && other.identity == plf_identity(&plf_vector_built_in);
    for (uint32_t i = 0; i < flash.block_bytes; i++) {
        good = good && memory[i] == FENCED;
    }
    return good && !broke_a_rule;
}

static int forgetful_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    (void)at;
    (void)from;
    (void)size;
    return 0;
}

static int half_a_program(void *context, uint32_t at, const uint8_t *from, uint32_t size)
{
    (void)context;
    for (uint32_t i = 0; i < size / 2U; i++) {
        memory[at + i] = from[i];
    }
    return 0;
}

/* Programs that keep nothing, or half, are found out by reading back. */
static int reads_back(void)
{
    plf_journal journal;
    int good = begins(&plf_station_vectors[0]) && opens(&journal) && appends(&journal, 7, 1) == PLF_READY;
    flash.program = forgetful_program;
    good = good && appends(&journal, 8, 2) == PLF_FAILED && journal.counter == 7 && journal.generation == 1;
    flash.program = half_a_program;
    good = good && appends(&journal, 8, 2) == PLF_FAILED && journal.counter == 7;
    flash.program = flash_program;
    unreadable = 1;
    good = good && appends(&journal, 9, 3) == PLF_FAILED && journal.counter == 7;
    unreadable = 0;
    good = good && appends(&journal, 10, 4) == PLF_READY && opens(&journal);
    return good && journal.counter == 10 && plf_journal_poll(&journal) == PLF_DONE;
}

/* PLF_COMMAND_SET, which it was. */
static int is_refused(const plf_message *out, enum plf_command_reason why)
{
    return out->kind == PLF_COMMAND_REFUSED && out->length == 2 && out->payload[0] == PLF_COMMAND_SET
        && out->payload[1] == (uint8_t)why;
}

/* A memory that can't be read is not taken for one that holds nothing: what is compiled in runs, no block is taken. */
static int says_that_it_cannot_read(void)
{
    static plf_message in;
    static plf_message out;
    plf_station_order order;
    uint8_t piece[PLF_PIECE_BYTES] = { 0 };
    int good = begins(&plf_station_vectors[0]);
    read_command(&plf_station_steps[plf_station_vectors[0].steps_at + 1U], &in);
    unreadable = 1;
    fill(&block);
    good = good && !mounts(&block) && plf_block_poll(&block, 1, 0) == PLF_REFUSED
        && block.identity == plf_identity(&plf_vector_built_in) && block.stage == PLF_BLOCK_SETTLED
        && block.fault == PLF_BLOCK_NO_FAULT && plf_block_piece(&block, 0, 0, piece, PLF_PIECE_BYTES) == PLF_REFUSED
        && plf_block_roll_back(&block, 1) == PLF_REFUSED && served(&in, &out, &order) == PLF_READY
        && is_refused(&out, PLF_COMMAND_NO_MEMORY);
    unreadable = 0;
    return good;
}

/* A keyed hash that fails gives no reason to believe anybody. */
static int believes_no_failed_hash(void)
{
    static int failing;
    static const plf_key broken = { stand_in, &failing };
    static plf_message in;
    static plf_message out;
    plf_station_order order;
    int good = begins(&plf_station_vectors[0]);
    read_command(&plf_station_steps[plf_station_vectors[0].steps_at + 1U], &in);
    failing = 0;
    station.key = &broken;
    good = good && served(&in, &out, &order) == PLF_READY && out.kind == PLF_COMMAND_REFUSED
        && out.payload[1] == PLF_COMMAND_NOT_AUTHENTIC && failing == 1;
    station.key = &key;
    return good && served(&in, &out, &order) == PLF_READY && out.kind == (PLF_COMMAND_REPLY | PLF_COMMAND_SET);
}

static int knows_when_it_is_calm(void)
{
    static const uint8_t calm_stages[] = { 1, 0, 0, 0, 1 }; /* of both: PLF_WATCH to PLF_HOLD, PLF_ARMED to PLF_RESTING */
    static plf_state state;
    static plf_alarm alarm;
    for (uint8_t i = 0; i < sizeof calm_stages; i++) {
        for (uint8_t j = 0; j < sizeof calm_stages; j++) {
            state.stage = i;
            alarm.stage = j;
            if (plf_is_calm(&state, &alarm) != (calm_stages[i] & calm_stages[j])) {
                return 0;
            }
        }
    }
    return plf_is_calm(NULL, &alarm) == 0 && plf_is_calm(&state, NULL) == 0;
}

/* Another node's commands, and what is none, are left alone; a command longer than any is refused. */
static int knows_what_is_its_own(void)
{
    static plf_message in;
    static plf_message out;
    plf_station_order order;
    int good = begins(&plf_station_vectors[0]);
    out.kind = FENCED;
    plf_message_begin(&in, 0, PLF_VECTOR_NODE, 0, 0);
    for (uint32_t kind = 0; kind <= UINT8_MAX; kind++) {
        in.kind = (uint8_t)kind;
        if (kind < PLF_COMMAND_SET || kind >= 2U * PLF_COMMAND_SET) {
            good = good && plf_station_message(&station, &in, 1, &out, &order) == PLF_DONE;
        }
    }
    in.kind = PLF_COMMAND_HEARTBEAT;
    in.node = PLF_VECTOR_NODE ^ 1U;
    good = good && plf_station_message(&station, &in, 1, &out, &order) == PLF_DONE && out.kind == FENCED;
    in.node = PLF_VECTOR_NODE;
    in.length = PLF_MESSAGE_MOST;
    return good && plf_station_message(&station, &in, 1, &out, &order) == PLF_READY
        && out.kind == PLF_COMMAND_REFUSED && out.length == 2 && out.payload[0] == PLF_COMMAND_HEARTBEAT
        && out.payload[1] == PLF_COMMAND_MALFORMED;
}

/* While a command's counter is being stored another one is told to come again, and is not used up by that; what changes
 * nothing is answered. */
static int takes_one_at_a_time(void)
{
    const plf_station_step_vector *steps = &plf_station_steps[plf_station_vectors[0].steps_at];
    static plf_message first;
    static plf_message second;
    static plf_message out;
    plf_station_order order;
    int good = begins(&plf_station_vectors[0]);
    read_command(&steps[1], &first);
    read_command(&steps[2], &second);
    good = good && plf_station_message(&station, &first, TIME, &out, &order) == PLF_DONE && station.waits == 1
        && plf_station_poll(&station, TIME, &out, &order) == PLF_DONE
        && plf_station_message(&station, &second, TIME, &out, &order) == PLF_READY
        && is_refused(&out, PLF_COMMAND_NOT_NOW);
    first.kind = PLF_COMMAND_STATUS;
    first.length = 0;
    good = good && plf_station_message(&station, &first, TIME, &out, &order) == PLF_READY
        && out.kind == (PLF_COMMAND_REPLY | PLF_COMMAND_STATUS);
    while (good && block.journal.job != PLF_JOURNAL_IDLE) {
        good = polls(&block, 1, 0) == PLF_DONE;
    }
    good = good && plf_station_message(&station, &second, TIME, &out, &order) == PLF_READY
        && is_refused(&out, PLF_COMMAND_NOT_NOW) && plf_station_poll(&station, TIME, &out, &order) == PLF_READY
        && out.kind == (PLF_COMMAND_REPLY | PLF_COMMAND_SET) && station.waits == 0;
    good = good && plf_block_keep(&block, block.journal.counter) == PLF_DONE /* another job of the journal's */
        && plf_station_message(&station, &second, TIME, &out, &order) == PLF_READY
        && is_refused(&out, PLF_COMMAND_NOT_NOW) && polls(&block, 1, 0) == PLF_DONE;
    return good && served(&second, &out, &order) == PLF_READY && out.kind == (PLF_COMMAND_REPLY | PLF_COMMAND_SET);
}

static enum plf_result sends_all(const plf_parameters *parameters)
{
    uint8_t bytes[PLF_BLOCK_BYTES];
    const uint32_t identity = plf_identity(parameters);
    enum plf_result result = PLF_DONE;
    plf_parameters_write(parameters, bytes);
    for (uint32_t i = 0; i < 4U; i++) {
        bytes[PLF_PARAMETERS_BYTES + i] = (uint8_t)(identity >> BITS_A_BYTE * i & 0xFFU);
    }
    for (uint32_t at = 0; at < PLF_BLOCK_BYTES; at += PLF_PIECE_BYTES) {
        const uint32_t left = PLF_BLOCK_BYTES - at;
        result = plf_block_piece(&block, identity, at / PLF_PIECE_BYTES, bytes + at,
                                 left < PLF_PIECE_BYTES ? left : PLF_PIECE_BYTES);
    }
    return result;
}

/* Nothing is taken before the memory has been looked through; a switch and the trial's end wait for the journal. */
static int goes_on_step_by_step(void)
{
    static plf_parameters other;
    uint8_t piece[PLF_PIECE_BYTES] = { 0 };
    uint32_t looks = 0;
    int good = begins(&plf_station_vectors[0]);
    fill(&block);
    good = good && plf_block_mount(&block, &flash, 0, &plf_vector_built_in, PLF_VECTOR_RING_WORDS) == PLF_DONE
        && block.stage == PLF_BLOCK_MOUNTS && block.identity == plf_identity(&plf_vector_built_in)
        && plf_block_piece(&block, 0, 0, piece, PLF_PIECE_BYTES) == PLF_REFUSED
        && plf_block_keep(&block, 1) == PLF_REFUSED;
    while (good && block.stage == PLF_BLOCK_MOUNTS && looks < MEMORY) {
        good = polls(&block, 0, 0) == PLF_DONE;
        looks++;
    }
    good = good && looks == flash.block_bytes / 16U / 2U && polls(&block, 0, 0) == PLF_DONE
        && block.stage == PLF_BLOCK_BACK && polls(&block, 1, 0) == PLF_READY && block.stage == PLF_BLOCK_SETTLED;
    other = plf_vector_built_in;
    other.settings.hold_off_samples = (uint16_t)(other.settings.hold_off_samples ^ 1U);
    good = good && sends_all(&other) == PLF_READY && plf_block_keep(&block, 1) == PLF_DONE
        && polls(&block, 1, 0) == PLF_DONE && polls(&block, 1, 0) == PLF_DONE && block.kept == 1
        && block.stage == PLF_BLOCK_CHECKED && polls(&block, 1, 0) == PLF_DONE && polls(&block, 1, 0) == PLF_DONE
        && polls(&block, 1, 0) == PLF_READY && block.stage == PLF_BLOCK_TRIAL;
    good = good && plf_block_confirm(&block, block.identity, 2) == PLF_DONE && block.kept == 0
        && plf_block_roll_back(&block, 3) == PLF_REFUSED && block.stage == PLF_BLOCK_TRIAL
        && polls(&block, 1, block.trial_ms) == PLF_DONE && block.kept == 1 && block.stage == PLF_BLOCK_SETTLED;
    good = good && block.journal.counter == 2 && block.identity == plf_identity(&other);
    other.settings.hold_off_samples = (uint16_t)(other.settings.hold_off_samples ^ 2U);
    good = good && sends_all(&other) == PLF_READY && polls(&block, 1, 0) == PLF_DONE;
    flash.program = forgetful_program;
    good = good && polls(&block, 1, 0) == PLF_DONE && polls(&block, 1, 0) == PLF_FAILED
        && block.stage == PLF_BLOCK_SETTLED && block.identity != plf_identity(&other);
    flash.program = flash_program;
    return good && !broke_a_rule;
}
