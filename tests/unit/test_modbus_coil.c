/* Function 05, the one thing that is ever written to a device, as frames. The PDU is the
 * example of MODBUS Application Protocol V1.1b3, 6.5 (output 173 on: request and response both
 * 05 00 AC FF 00), from memory; its CRC is from an independent bitwise computation in Python.
 */
#include "tests/support/check.h"

#include <string.h>

#include "drivers/modbus_parts.h"
#include "trivet/reading.h"

static const struct driver_request set_on = {.unit = 0x11,
                                             .function = 5,
                                             .first_reg = 0xac,
                                             .reg_count = 1,
                                             .is_signal = true,
                                             .is_on = true};
static const uint8_t on_frame[] = {0x11, 0x05, 0x00, 0xac, 0xff, 0x00, 0x4e, 0x8b};

static uint16_t
judged(const struct driver_request *request, const uint8_t *frame, size_t len)
{
    struct mbus_reply reply;
    mbus_rtu_judge(request, frame, len, &reply);
    assert_false(reply.echo);
    return reply.quality;
}

static void
with_crc(uint8_t frame[8])
{
    const uint16_t crc = mbus_crc(frame, 6);
    frame[6] = (uint8_t)(crc & 0xff);
    frame[7] = (uint8_t)(crc >> 8);
}

static void
test_request_is_that_of_the_specification(void **state)
{
    (void)state;
    uint8_t frame[12];
    assert_int_equal(mbus_rtu_request(&set_on, frame), sizeof on_frame);
    assert_memory_equal(frame, on_frame, sizeof on_frame);
    struct driver_request off = set_on;
    off.is_on = false;
    (void)mbus_rtu_request(&off, frame);
    assert_int_equal(frame[4] << 8 | frame[5], 0x0000);
    static const uint8_t tcp[] = {0x12, 0x34, 0, 0, 0, 6, 0x11, 0x05, 0x00, 0xac, 0xff, 0x00};
    assert_int_equal(mbus_tcp_request(&set_on, 0x1234, frame), sizeof tcp);
    assert_memory_equal(frame, tcp, sizeof tcp);
}

static void
test_reply_is_the_request_again_and_nothing_else(void **state)
{
    (void)state;
    uint8_t other[8];
    assert_int_equal(judged(&set_on, on_frame, sizeof on_frame), READING_GOOD);
    assert_int_equal(mbus_rtu_reply_length(on_frame, 2), 8);
    for (size_t len = 0; len <= sizeof on_frame; len++)
        assert_true(mbus_rtu_reply_fits(&set_on, on_frame, len));
    /* Another coil, or off instead of on: a late reply to another request. */
    for (size_t at = 3; at <= 4; at++) {
        memcpy(other, on_frame, sizeof other);
        other[at] = (uint8_t)(other[at] ^ (at == 4 ? 0xff : 0x01));
        with_crc(other);
        assert_int_equal(judged(&set_on, other, sizeof other), BAD_WRONG_UNIT);
        assert_false(mbus_rtu_reply_fits(&set_on, other, sizeof other));
    }
    memcpy(other, on_frame, sizeof other);
    other[7] ^= 1;
    assert_int_equal(judged(&set_on, other, sizeof other), BAD_CRC);
    assert_int_equal(judged(&set_on, on_frame, 7), BAD_FRAME);
    assert_int_equal(judged(&set_on, on_frame, 0), BAD_TIMEOUT);
    uint8_t twice[16]; /* an adapter that echoes */
    memcpy(twice, on_frame, 8);
    memcpy(twice + 8, on_frame, 8);
    assert_int_equal(judged(&set_on, twice, sizeof twice), BAD_FRAME);
}

static void
test_refusal_is_an_exception(void **state)
{
    (void)state;
    uint8_t frame[] = {0x11, 0x85, 0x02, 0, 0};
    const uint16_t crc = mbus_crc(frame, 3);
    frame[3] = (uint8_t)(crc & 0xff);
    frame[4] = (uint8_t)(crc >> 8);
    struct mbus_reply reply;
    mbus_rtu_judge(&set_on, frame, sizeof frame, &reply);
    assert_int_equal(reply.quality, BAD_EXCEPTION);
    assert_int_equal(reply.exception, 2);
}

/* A reading never takes the reply to a write, nor the other way round. */
static void
test_reply_to_a_write_is_none_to_a_reading(void **state)
{
    (void)state;
    const struct driver_request read = {
        .unit = 0x11, .function = 1, .first_reg = 0xac, .reg_count = 1};
    assert_int_equal(judged(&read, on_frame, sizeof on_frame), BAD_WRONG_UNIT);
    uint8_t bits[] = {0x11, 0x01, 0x01, 0x01, 0, 0};
    const uint16_t crc = mbus_crc(bits, 4);
    bits[4] = (uint8_t)(crc & 0xff);
    bits[5] = (uint8_t)(crc >> 8);
    assert_int_equal(judged(&set_on, bits, sizeof bits), BAD_WRONG_UNIT);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_request_is_that_of_the_specification),
        cmocka_unit_test(test_reply_is_the_request_again_and_nothing_else),
        cmocka_unit_test(test_refusal_is_an_exception),
        cmocka_unit_test(test_reply_to_a_write_is_none_to_a_reading),
    };
    return cmocka_run_group_tests_name("coils", tests, NULL, NULL);
}
