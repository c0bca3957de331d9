/* A libFuzzer target: bytes as a record, as a line to the device, as commands, and as the memory that a log is mounted on.
 * Sanitizers watch; whatever comes, the log takes one record more and finds it again.
 *
 * Checksums are put right where they would keep the fuzzer out.
 */
#include "plumbfall_link.h"

enum { BLOCK = 256, BLOCKS = 4, UNIT = 4, LARGEST = 59 };

#include "counted_flash.h"

static void put_right(uint8_t *bytes, size_t size)
{
    plf_record r;
    if (size < PLF_RECORD_HEADER) {
        return;
    }
    bytes[0] = 0x50;
    bytes[1] = (uint8_t)((bytes[1] & 0x30) | 1);
    bytes[2] = (uint8_t)(2 + bytes[2] % 15);
    bytes[3] = (uint8_t)(bytes[3] % (17 - bytes[2]));
    bytes[5] = bytes[7] = 0; /* few samples */
    bytes[17] = (uint8_t)(bytes[17] & 1);
    const uint16_t crc = plf_crc16(0xFFFF, bytes, 38);
    bytes[38] = (uint8_t)crc;
    bytes[39] = (uint8_t)(crc >> 8);
    if (plf_record_header(bytes, (uint32_t)size, &r) == PLF_RECORD_WHOLE && plf_record_size(&r) <= size) {
        const uint32_t at = plf_record_size(&r) - PLF_RECORD_CRC;
        const uint32_t whole = plf_crc32(0, bytes, at);
        for (int i = 0; i < 4; i++) {
            bytes[at + (uint32_t)i] = (uint8_t)(whole >> 8 * i);
        }
    }
}

/* A record without its last byte is not a whole one. */
static void as_cut_record(const uint8_t *data, size_t size)
{
    uint8_t *bytes = malloc(size);
    plf_record r;
    if (bytes == NULL) {
        abort();
    }
    memcpy(bytes, data, size);
    if (plf_record_read(bytes, (uint32_t)size, &r) != PLF_RECORD_SHORT) {
        abort();
    }
    free(bytes);
}

static void as_record(const uint8_t *data, size_t size)
{
    uint8_t *bytes = malloc(size + 1); /* of its own, so that a step beyond is seen */
    plf_record r;
    if (bytes == NULL) {
        abort();
    }
    memcpy(bytes, data, size);
    put_right(bytes, size);
    if (plf_record_read(bytes, (uint32_t)size, &r) == PLF_RECORD_WHOLE) {
        for (uint32_t i = 0; i < (uint32_t)r.before + r.after; i++) {
            int16_t v[3];
            plf_unpack(bytes + plf_record_samples(&r), i, r.bits, r.shift, v);
            plf_pack(bytes + plf_record_samples(&r), i, r.bits, r.shift, v);
        }
        if (plf_record_write(&r, bytes, (uint32_t)size) != plf_record_size(&r)
            || plf_record_read(bytes, (uint32_t)size, &r) != PLF_RECORD_WHOLE) {
            abort();
        }
        as_cut_record(bytes, plf_record_size(&r) - 1U);
    }
    free(bytes);
}

static uint32_t numbers[PLF_LOG_SLOTS(BLOCK * BLOCKS, LARGEST, 4)];

/* All that was begun; whether it ended well. */
static int finish(plf_log *log, enum plf_result begun)
{
    while (begun == PLF_DONE && plf_log_pending(log) > 0) {
        if (plf_log_poll(log) == PLF_FAILED) {
            return 0;
        }
    }
    return begun == PLF_DONE;
}

static void serve(const plf_log *log, const plf_message *command)
{
    plf_message reply;
    uint8_t out[PLF_STUFFED_MOST];
    if (plf_link_serve(log, command, 1, &reply) == PLF_READY && plf_frame_write(&reply, out) == 0) {
        abort();
    }
}

static void as_line(const plf_log *log, const uint8_t *data, size_t size)
{
    plf_receiver receiver;
    plf_message message;
    plf_frame_init(&receiver);
    for (size_t i = 0; i < size; i++) {
        if (plf_frame_put(&receiver, data[i], &message) == PLF_READY) {
            serve(log, &message);
        }
    }
}

static void as_commands(const plf_log *log, const uint8_t *data, size_t size)
{
    for (size_t at = 0; at + 2 <= size;) {
        plf_message message;
        plf_message_begin(&message, (uint8_t)(PLF_COUNT + data[at] % 3), 2, 1, 0);
        message.length = (uint8_t)(data[at + 1] % 9);
        at += 2;
        for (uint32_t i = 0; i < message.length && at < size; i++) {
            message.payload[i] = data[at++];
        }
        if (message.length > 3 && message.payload[3] != 0) { /* numbers are hard to guess: take the newest */
            for (uint32_t i = 0; i < 4; i++) {
                message.payload[i] = (uint8_t)(log->sequence >> 8 * i);
            }
        }
        serve(log, &message);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static uint8_t bytes[128];
    plf_log log;
    plf_record record = { 0 };
    memset(memory, 0xFF, sizeof memory);
    as_record(data, size);
    for (size_t at = 0; at + 64 <= size && at + 64 <= sizeof memory; at += 64) {
        memcpy(memory + at, data + at, 64);
        memory[at + 1] &= 0x10; /* nothing measured, two samples: it fits its slot */
        memory[at + 4] %= 2;
        memory[at + 6] %= 2;
        memory[at + 32] = 0;
        memory[at + 33] = (uint8_t)(sizeof memory >> 8);
        memory[at + 34] = memory[at + 35] = memory[at + 37] = 0;
        memory[at + 36] = 64;
        put_right(memory + at, 64);
    }
    if (!finish(&log, plf_log_mount(&log, &flash, LARGEST, numbers, sizeof numbers / sizeof numbers[0]))) {
        abort();
    }
    if (log.sequence > UINT32_MAX - 4) { /* no memory lasts so long */
        return 0;
    }
    as_line(&log, data, size);
    as_commands(&log, data, size);
    record.before = 5;
    record.bits = 8;
    if (!finish(&log, plf_log_append(&log, &record, bytes, sizeof bytes))
        || plf_log_find(&log, log.sequence, &record) != PLF_DONE) {
        abort();
    }
    const uint32_t sequence = log.sequence;
    if (!finish(&log, plf_log_mount(&log, &flash, LARGEST, numbers, sizeof numbers / sizeof numbers[0]))
        || log.sequence != sequence) {
        abort();
    }
    return 0;
}
