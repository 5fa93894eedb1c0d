/* Published check sums, requests, replies, refusals, limits and times of Modbus, beside those
 * of test_modbus_decode.c (whole serial frames, floats and tenths). Sources: MODBUS Application
 * Protocol Specification V1.1b3; MODBUS over Serial Line V1.02. Of what the specification
 * prints, functions that write have no place here: the driver has none. */
#include "tests/support/check.h"

#include <string.h>

#include "drivers/modbus_parts.h"
#include "trivet/reading.h"
#include "trivet/units.h"

/* ---- check sums: V1.02, 6.2.2 ---- */

static void
test_check_sums_of_short_texts(void **state)
{
    (void)state;
    /* Preset FFFFh, reflected polynomial A001h, no final exclusive or. The first six were read
     * in published texts, the others computed by another program. */
    static const struct {
        const char *bytes;
        size_t len;
        uint16_t crc;
    } rows[] = {
        {"123456789", 9, 0x4B37},
        {"", 0, 0xFFFF},
        {"\x00", 1, 0x40BF},
        {"\x03\x03", 2, 0x4141},
        {"\x02\x07", 2, 0x1241}, /* the specification's own example */
        {"\x01\x03\x00\x00\x00\x0A", 6, 0xCDC5},
        {"\x01\x01\x00\x13\x00\x13", 6, 0x028C},
        {"\x01\x06\x00\x00\x00\x03", 6, 0xCBC9},
        {"\xFF", 1, 0x00FF},
    };
    uint8_t all[256], zeros[253] = {0};
    for (size_t i = 0; i < sizeof all; i++)
        all[i] = (uint8_t)i;
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_int_equal(mbus_crc((const uint8_t *)rows[i].bytes, rows[i].len), rows[i].crc);
    assert_int_equal(mbus_crc(all, sizeof all), 0xDE6C);
    assert_int_equal(mbus_crc(zeros, sizeof zeros), 0x55E8);
}

/* ---- requests and replies: V1.1b3, 6.3 and 6.4 ---- */

/* Unit 1, behind the seven bytes of the header that Modbus TCP puts in front. */
static void
test_requests_on_tcp_are_those_of_the_specification(void **state)
{
    (void)state;
    static const struct {
        struct driver_request request;
        uint8_t pdu[5];
    } rows[] = {
        {{.unit = 1, .function = 3, .first_reg = 107, .reg_count = 3}, {0x03, 0, 0x6B, 0, 3}},
        {{.unit = 1, .function = 4, .first_reg = 8, .reg_count = 1}, {0x04, 0, 8, 0, 1}},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        uint8_t frame[MBUS_FRAME_MAX];
        assert_int_equal(mbus_tcp_request(&rows[i].request, 7, frame), 12);
        assert_memory_equal(frame, "\0\7\0\0\0\6\1", 7);
        assert_memory_equal(frame + 7, rows[i].pdu, 5);
    }
}

static void
test_replies_on_tcp_are_those_of_the_specification(void **state)
{
    (void)state;
    static const struct driver_request holding = {
        .unit = 1, .function = 3, .first_reg = 107, .reg_count = 3};
    static const struct driver_request input = {
        .unit = 1, .function = 4, .first_reg = 8, .reg_count = 1};
    struct mbus_reply reply;
    mbus_tcp_judge(&holding, (const uint8_t *)"\1\x03\x06\x02\x2B\x00\x00\x00\x64", 9, &reply);
    assert_int_equal(reply.quality, READING_GOOD);
    assert_int_equal(reply.registers[0], 555);
    assert_int_equal(reply.registers[1], 0);
    assert_int_equal(reply.registers[2], 100);
    mbus_tcp_judge(&input, (const uint8_t *)"\1\x04\x02\x00\x0A", 5, &reply);
    assert_int_equal(reply.quality, READING_GOOD);
    assert_int_equal(reply.registers[0], 10);
    /* Within a register the high byte comes first: V1.1b3, 4.2. */
    mbus_tcp_judge(&input, (const uint8_t *)"\1\x04\x02\x12\x34", 5, &reply);
    assert_int_equal(reply.registers[0], 0x1234);
}

/* Section 7: every code it lists, on both kinds of line, with words that say what to do. */
static void
test_refusals_of_every_code_are_exceptions(void **state)
{
    (void)state;
    static const uint8_t codes[] = {1, 2, 3, 4, 5, 6, 8, 0x0A, 0x0B};
    static const struct driver_request request = {
        .unit = 10, .function = 3, .first_reg = 0, .reg_count = 1};
    const struct plan_bus bus = {.id = "rack", .timeout_ms = 300};
    for (size_t i = 0; i < COUNT_OF(codes); i++) {
        uint8_t frame[5] = {10, 0x83, codes[i]};
        struct mbus_reply reply = {0};
        struct driver_error error = {""};
        mbus_tcp_judge(&request, frame, 3, &reply);
        assert_int_equal(reply.quality, BAD_EXCEPTION);
        assert_int_equal(reply.exception, codes[i]);
        const uint16_t crc = mbus_crc(frame, 3);
        frame[3] = (uint8_t)(crc & 0xFF);
        frame[4] = (uint8_t)(crc >> 8);
        memset(&reply, 0, sizeof reply);
        mbus_rtu_judge(&request, frame, 5, &reply);
        assert_int_equal(reply.quality, BAD_EXCEPTION);
        assert_int_equal(reply.exception, codes[i]);
        mbus_say_failed(&bus, &request, &reply, &error);
        assert_non_null(strstr(error.text, "exception"));
    }
}

/* ---- limits ---- */

/* 125 registers in a request; so no serial frame is longer than 256 bytes, no PDU than 253. */
static void
test_no_request_asks_for_more_than_the_specification_allows(void **state)
{
    (void)state;
    static struct plan_probe probes[300];
    struct driver_request requests[300];
    struct plan_bus bus = {.driver = BUS_MODBUS_RTU};
    const struct plan plan = {
        .buses = &bus, .bus_count = 1, .probes = probes, .probe_count = COUNT_OF(probes)};
    size_t seen = 0;
    for (uint16_t i = 0; i < COUNT_OF(probes); i++)
        probes[i] = (struct plan_probe){.unit = 247,
                                        .function = 4,
                                        .reg = (uint16_t)(i * 4),
                                        .type = REGISTER_FLOAT64,
                                        .every_ms = 1000};
    const size_t count = mbus_requests(&plan, 0, requests, COUNT_OF(requests));
    for (size_t i = 0; i < count; i++) {
        assert_in_range(requests[i].reg_count, 1, 125);
        assert_true(3 + 2 * requests[i].reg_count + 2 <= 256);
        assert_true(2 + 2 * requests[i].reg_count <= 253);
        seen += requests[i].count;
    }
    assert_int_equal(seen, COUNT_OF(probes));
}

/* ---- times: V1.02, 2.5.1.1 ---- */

/* 3.5 characters of 11 bits up to 19200 baud, 1.75 ms above; in whole microseconds, never less
 * than the specification's. */
static void
test_silence_between_frames_is_that_of_the_specification(void **state)
{
    (void)state;
    static const struct {
        uint32_t baud_bps;
        double least_us;
    } rows[] = {{1200, 32083.333}, {2400, 16041.667}, {4800, 8020.833}, {9600, 4010.417},
                {19200, 2005.208}, {38400, 1750.0},   {57600, 1750.0},  {115200, 1750.0}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct plan_bus bus = {.driver = BUS_MODBUS_RTU, .baud_bps = rows[i].baud_bps};
        const double us = (double)mbus_silence_us(&bus);
        assert_true(us >= rows[i].least_us - 0.001 && us <= rows[i].least_us + 1.001);
    }
}

/* ---- floats ---- */

static void
test_float_specials_are_no_reading_and_negative_zero_is_zero(void **state)
{
    (void)state;
    const struct plan_probe probe = {.type = REGISTER_FLOAT32,
                                     .scale_micro = 1000000,
                                     .plausible_min_mC = -1000,
                                     .plausible_max_mC = 1000};
    static const struct {
        uint16_t first;
        uint16_t quality;
        int32_t temp_mC;
    } rows[] = {{0x7FC0, BAD_CONVERSION, TEMP_NONE},
                {0x7F80, BAD_CONVERSION, TEMP_NONE},
                {0xFF80, BAD_CONVERSION, TEMP_NONE},
                {0x8000, READING_GOOD, 0}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const uint16_t registers[2] = {rows[i].first, 0};
        int32_t temp_mC;
        assert_int_equal(mbus_decode(&probe, registers, &temp_mC), rows[i].quality);
        assert_int_equal(temp_mC, rows[i].temp_mC);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_check_sums_of_short_texts),
        cmocka_unit_test(test_requests_on_tcp_are_those_of_the_specification),
        cmocka_unit_test(test_replies_on_tcp_are_those_of_the_specification),
        cmocka_unit_test(test_refusals_of_every_code_are_exceptions),
        cmocka_unit_test(test_no_request_asks_for_more_than_the_specification_allows),
        cmocka_unit_test(test_silence_between_frames_is_that_of_the_specification),
        cmocka_unit_test(test_float_specials_are_no_reading_and_negative_zero_is_zero),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
