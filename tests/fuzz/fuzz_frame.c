/* Any bytes as what comes back on a Modbus line. What is taken as a reply is one to the
 * question, whole, with the right check sum and the registers that stand in it; each of its
 * beginnings may still become it; and a temperature made of them lies where the plan finds it
 * plausible. The input is a question (unit, function, first register, count), how to read the
 * registers, and the bytes that came; half of the inputs get the check sum that belongs to
 * them, which chance would not find. Corpus: tests/fuzz/corpus/frame. */
#include <assert.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/modbus_parts.h"
#include "trivet/reading.h"
#include "trivet/units.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define QUESTION_BYTES 8

/* MODBUS over Serial Line V1.02, 6.2.2: over a frame with its check sum the remainder is 0.
 * Written most significant bit first, unlike the driver's. */
static uint16_t
remainder_of(const uint8_t *bytes, size_t len)
{
    uint16_t reg = 0xffff;
    for (size_t i = 0; i < len; i++)
        for (int bit = 0; bit < 8; bit++) {
            const int in = bytes[i] >> bit & 1, out = reg >> 15 & 1;
            reg = (uint16_t)(reg << 1);
            if (in != out)
                reg ^= 0x8005;
        }
    return reg;
}

static struct driver_request
question_of(const uint8_t *data)
{
    static const uint8_t functions[] = {1, 2, 3, 4, 5};
    struct driver_request ret = {
        .unit = (uint8_t)(1 + data[0] % 247),
        .function = functions[data[1] % sizeof functions],
        .first_reg = (uint16_t)(data[2] << 8 | data[3]),
        .reg_count = (uint16_t)(1 + data[4] % MBUS_REGISTERS_MAX),
    };
    if (ret.function == 5) {
        ret.is_signal = true;
        ret.is_on = data[4] & 1;
        ret.reg_count = 1;
    }
    return ret;
}

/* unit and PDU: the same on both kinds of line. */
static void
check_taken(const struct driver_request *request, const uint8_t *body, size_t len,
            const struct mbus_reply *reply)
{
    assert(body[0] == request->unit && body[1] == request->function);
    if (request->is_signal) {
        assert(len == 6 && body[4] == (request->is_on ? 0xff : 0) && body[5] == 0);
        return;
    }
    assert(len == 3U + body[2]);
    for (size_t i = 0; i < request->reg_count; i++)
        if (request->function <= 2)
            assert(reply->registers[i] == (body[3 + i / 8] >> i % 8 & 1));
        else
            assert(reply->registers[i] == body[3 + 2 * i] * 256 + body[4 + 2 * i]);
}

static void
check_serial(const struct driver_request *request, const uint8_t *frame, size_t len)
{
    struct mbus_reply reply;
    mbus_rtu_judge(request, frame, len, &reply);
    if (reply.quality != READING_GOOD && reply.quality != BAD_EXCEPTION)
        return;
    assert(len >= 5 && remainder_of(frame, len) == 0);
    assert(mbus_rtu_reply_length(frame, len) == len);
    for (size_t part = 0; part <= len; part++)
        assert(mbus_rtu_reply_fits(request, frame, part));
    if (reply.quality == READING_GOOD)
        check_taken(request, frame, len - 2, &reply);
    else
        assert(len == 5 && frame[0] == request->unit &&
               frame[1] == (request->function | 0x80) && reply.exception == frame[2]);
}

static void
check_tcp(const struct driver_request *request, const uint8_t *body, size_t len)
{
    struct mbus_reply reply;
    mbus_tcp_judge(request, body, len, &reply);
    if (reply.quality == READING_GOOD)
        check_taken(request, body, len, &reply);
}

/* Whatever the registers hold. */
static void
check_temperature(uint8_t how, uint8_t factor, const uint8_t *bytes, size_t len)
{
    static const int64_t scales_micro[] = {1, 1000, 62500, 100000, 1000000, 1000000000};
    const struct plan_probe probe = {
        .type = (enum register_type)(how % 8),
        .order = (enum byte_order)(how / 8 % 4),
        .reads = (enum temp_unit)(how / 32 % 2),
        .scale_micro = scales_micro[factor % (sizeof scales_micro / sizeof *scales_micro)],
        .plausible_min_mC = -50000,
        .plausible_max_mC = 350000,
    };
    uint16_t registers[4] = {0};
    int32_t temp_mC;
    for (size_t i = 0; i < 8 && i < len; i++)
        registers[i / 2] = (uint16_t)(registers[i / 2] | bytes[i] << (i % 2 == 0 ? 8 : 0));
    const uint16_t quality = mbus_decode(&probe, registers, &temp_mC);
    if (quality == READING_GOOD)
        assert(temp_mC >= probe.plausible_min_mC && temp_mC <= probe.plausible_max_mC);
    else
        assert(temp_mC == TEMP_NONE);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size < QUESTION_BYTES || size > QUESTION_BYTES + MBUS_FRAME_MAX)
        return 0;
    const struct driver_request request = question_of(data);
    size_t len = size - QUESTION_BYTES;
    /* A copy of its own length, so that a byte read beyond it is seen. */
    uint8_t *frame = malloc(len + 2);
    if (frame == NULL)
        return 0;
    memcpy(frame, data + QUESTION_BYTES, len);
    check_tcp(&request, frame, len);
    check_temperature(data[5], data[6], frame, len);
    if (data[7] & 1) {
        const uint16_t crc = mbus_crc(frame, len);
        frame[len] = (uint8_t)(crc & 0xff);
        frame[len + 1] = (uint8_t)(crc >> 8);
        len += 2;
    }
    uint8_t *exact = len > 0 ? realloc(frame, len) : frame;
    if (exact != NULL)
        check_serial(&request, exact, len);
    free(exact != NULL ? exact : frame);
    return 0;
}
