/* Registers to temperatures, frames and their judgement, against published vectors
 * (tests/unit/data/modbus_table.h). */
#include <assert.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <string.h>

#include "drivers/modbus_parts.h"
#include "tests/unit/data/modbus_table.h"
#include "trivet/reading.h"
#include "trivet/units.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static_assert(COUNT(modbus_float_rows) == 88 && COUNT(modbus_tenths_rows) == 22,
              "no row of the table may be missing");

static struct plan_probe
probe_of(enum register_type type, int64_t scale_micro)
{
    return (struct plan_probe){
        .type = type,
        .order = ORDER_ABCD,
        .reads = TEMP_C,
        .scale_micro = scale_micro,
        .plausible_min_mC = INT32_MIN + 1,
        .plausible_max_mC = INT32_MAX,
    };
}

static void
assert_temp(const struct plan_probe *probe, uint16_t first, uint16_t second, int32_t temp_mC)
{
    const uint16_t registers[2] = {first, second};
    int32_t got_mC = 12345;
    assert_int_equal(mbus_decode(probe, registers, &got_mC), READING_GOOD);
    assert_int_equal(got_mC, temp_mC);
}

static void
assert_no_temp(const struct plan_probe *probe, uint16_t first, uint16_t second, int quality)
{
    const uint16_t registers[2] = {first, second};
    int32_t got_mC = 12345;
    assert_int_equal(mbus_decode(probe, registers, &got_mC), quality);
    assert_int_equal(got_mC, TEMP_NONE);
}

static void
assert_bits(const struct plan_probe *probe, uint32_t bits, int32_t temp_mC)
{
    assert_temp(probe, (uint16_t)(bits >> 16), (uint16_t)(bits & 0xffff), temp_mC);
}

/* ---- values ---- */

static void
test_float_every_table_row_in_its_order_agrees(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(modbus_float_rows); i++) {
        const struct modbus_float_row *row = &modbus_float_rows[i];
        struct plan_probe probe = probe_of(REGISTER_FLOAT32, 1000000);
        probe.order = row->order;
        assert_temp(&probe, (uint16_t)(row->wire[0] << 8 | row->wire[1]),
                    (uint16_t)(row->wire[2] << 8 | row->wire[3]),
                    (int32_t)lround(row->value * 1000.0));
    }
}

static void
test_int16_every_table_row_in_tenths_agrees(void **state)
{
    (void)state;
    const struct plan_probe probe = probe_of(REGISTER_INT16, 100000);
    for (size_t i = 0; i < COUNT(modbus_tenths_rows); i++)
        assert_temp(
            &probe,
            (uint16_t)(modbus_tenths_rows[i].wire[0] << 8 | modbus_tenths_rows[i].wire[1]), 0,
            modbus_tenths_rows[i].tenths * 100);
}

static void
test_integers_at_the_ends_of_their_range_agree(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_UINT16, 10000);
    assert_temp(&probe, 0xffff, 0, 655350);
    probe = probe_of(REGISTER_INT16, 10000);
    assert_temp(&probe, 0x8000, 0, -327680);
    assert_temp(&probe, 0x7fff, 0, 327670);
    probe = probe_of(REGISTER_INT32, 1000);
    assert_bits(&probe, 0x7fffffffU, INT32_MAX);
    assert_bits(&probe, 0x80000001U, INT32_MIN + 1);
    assert_bits(&probe, 0xffffffffU, -1);
    probe = probe_of(REGISTER_UINT32, 500);
    assert_bits(&probe, 0xfffffffeU, INT32_MAX);
    assert_no_temp(&probe, 0xffff, 0xffff, BAD_CONVERSION); /* half a thousandth more */
}

static void
test_32_bits_in_every_order_agree(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_INT32, 1000);
    probe.order = ORDER_ABCD;
    assert_temp(&probe, 0x0102, 0x0304, 0x01020304);
    probe.order = ORDER_CDAB;
    assert_temp(&probe, 0x0304, 0x0102, 0x01020304);
    probe.order = ORDER_BADC;
    assert_temp(&probe, 0x0201, 0x0403, 0x01020304);
    probe.order = ORDER_DCBA;
    assert_temp(&probe, 0x0403, 0x0201, 0x01020304);
}

static void
test_scaling_rounds_half_away_from_zero(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_INT16, 1); /* millionths */
    assert_temp(&probe, 499, 0, 0);
    assert_temp(&probe, 500, 0, 1);
    assert_temp(&probe, 1499, 0, 1);
    assert_temp(&probe, 1500, 0, 2);
    assert_temp(&probe, (uint16_t)-499, 0, 0);
    assert_temp(&probe, (uint16_t)-500, 0, -1);
    assert_temp(&probe, (uint16_t)-1499, 0, -1);
    assert_temp(&probe, (uint16_t)-1500, 0, -2);
    probe.scale_micro = -1;
    assert_temp(&probe, 500, 0, -1);
}

static void
test_offset_is_added_after_scaling(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_UINT16, 10000);
    probe.offset_micro = -40000000;
    assert_temp(&probe, 0, 0, -40000);
    assert_temp(&probe, 4000, 0, 0);
    assert_temp(&probe, 4425, 0, 4250);
}

static void
test_scaling_that_does_not_fit_is_refused(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_UINT32, INT64_MAX);
    assert_no_temp(&probe, 0, 2, BAD_CONVERSION);
    probe.scale_micro = INT64_MIN;
    assert_no_temp(&probe, 0, 1, BAD_CONVERSION);
    probe.scale_micro = 1000000;
    probe.offset_micro = INT64_MAX;
    assert_no_temp(&probe, 0, 1, BAD_CONVERSION);
    probe.offset_micro = INT64_MIN;
    assert_no_temp(&probe, 0, 0, BAD_CONVERSION);
    probe.reads = TEMP_F;
    assert_no_temp(&probe, 0, 0, BAD_CONVERSION);
    probe = probe_of(REGISTER_INT32, 1000); /* TEMP_NONE itself is no temperature */
    assert_no_temp(&probe, 0x8000, 0, BAD_CONVERSION);
}

/* 32 °F = 0 °C, 212 °F = 100 °C by definition of the scales. */
static void
test_fahrenheit_becomes_celsius_exactly(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_INT16, 100000);
    probe.reads = TEMP_F;
    assert_temp(&probe, 320, 0, 0);
    assert_temp(&probe, 2120, 0, 100000);
    assert_temp(&probe, (uint16_t)-400, 0, -40000);
    assert_temp(&probe, 1550, 0, 68333); /* 68.3333... */
    assert_temp(&probe, 1450, 0, 62778); /* 62.7777... */
    probe = probe_of(REGISTER_INT32, 1);
    probe.reads = TEMP_F;
    assert_bits(&probe, 32000899, 0);
    assert_bits(&probe, 32000900, 1); /* 0.0009 °F is half a thousandth of a degree Celsius */
    assert_bits(&probe, 31999101, 0);
    assert_bits(&probe, 31999100, -1);
}

/* 0.0625 = 2^-4 is exactly 62.5 thousandths. */
static void
test_float_rounds_on_its_exact_value(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_FLOAT32, 1000000);
    assert_bits(&probe, 0x3d800000U, 63);
    assert_bits(&probe, 0x3d7fffffU, 62);
    assert_bits(&probe, 0x3d800001U, 63);
    assert_bits(&probe, 0xbd800000U, -63);
    assert_bits(&probe, 0xbd7fffffU, -62);
    assert_bits(&probe, 0xbd800001U, -63);
    assert_bits(&probe, 0x80000000U, 0); /* minus zero */
    assert_bits(&probe, 0x00000001U, 0); /* the smallest subnormal */
    assert_bits(&probe, 0x80000001U, 0);
    probe.offset_micro = 500; /* half a thousandth: the last bit decides */
    assert_bits(&probe, 0x00000000U, 1);
    assert_bits(&probe, 0x80000001U, 0);
    probe.offset_micro = -500;
    assert_bits(&probe, 0x00000001U, 0);
    assert_bits(&probe, 0x80000001U, -1);
}

static void
test_float_that_is_no_temperature_is_refused(void **state)
{
    (void)state;
    const struct plan_probe probe = probe_of(REGISTER_FLOAT32, 1000000);
    assert_no_temp(&probe, 0x7fc0, 0, BAD_CONVERSION);
    assert_no_temp(&probe, 0x7f80, 0, BAD_CONVERSION);
    assert_no_temp(&probe, 0xff80, 0, BAD_CONVERSION);
    assert_no_temp(&probe, 0x7f80, 1, BAD_CONVERSION); /* signalling NaN */
    assert_no_temp(&probe, 0x7f7f, 0xffff, BAD_CONVERSION);
    assert_no_temp(&probe, 0xff7f, 0xffff, BAD_CONVERSION);
    assert_no_temp(&probe, 0x4a03, 0x126f,
                   BAD_CONVERSION); /* 2147483.75 > INT32_MAX thousandths */
}

/* Against long double, whose 64 bits hold every product here. */
static void
test_float_seeded_values_are_within_half_a_thousandth(void **state)
{
    (void)state;
    uint64_t seed = 20260301;
    static const int64_t scales[] = {1000000, 100000, 1, 123456, -1000000};
    for (int i = 0; i < 200000; i++) {
        seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
        uint32_t bits = (uint32_t)(seed >> 32);
        float value;
        memcpy(&value, &bits, sizeof value);
        if (!(fabsf(value) < 1000.0F))
            continue;
        struct plan_probe probe = probe_of(REGISTER_FLOAT32, scales[i % (int)COUNT(scales)]);
        probe.offset_micro = (int64_t)(seed % 2000001) - 1000000;
        const uint16_t registers[2] = {(uint16_t)(bits >> 16), (uint16_t)(bits & 0xffff)};
        int32_t temp_mC;
        assert_int_equal(mbus_decode(&probe, registers, &temp_mC), READING_GOOD);
        const long double exact_mC = ((long double)value * (long double)probe.scale_micro +
                                      (long double)probe.offset_micro) /
                                     1000.0L;
        assert_true(fabsl(exact_mC - (long double)temp_mC) <= 0.5L + 1e-12L);
    }
}

static void
test_declared_fault_values_are_recognised(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_INT16, 100000);
    probe.faults[0] = -32768;
    probe.faults[1] = 32767;
    probe.fault_count = 2;
    assert_no_temp(&probe, 0x8000, 0, BAD_FAULT_VALUE);
    assert_no_temp(&probe, 0x7fff, 0, BAD_FAULT_VALUE);
    assert_temp(&probe, 0x7ffe, 0, 3276600);
    probe = probe_of(REGISTER_UINT32, 1);
    probe.faults[0] = 0xffffffffLL;
    probe.fault_count = 1;
    assert_no_temp(&probe, 0xffff, 0xffff, BAD_FAULT_VALUE);
    probe = probe_of(REGISTER_FLOAT32, 1000000);
    probe.faults[0] = -999;
    probe.faults[1] = 0;
    probe.fault_count = 2;
    assert_no_temp(&probe, 0xc479, 0xc000, BAD_FAULT_VALUE); /* -999.0 */
    assert_no_temp(&probe, 0x8000, 0x0000, BAD_FAULT_VALUE); /* -0.0 */
    assert_bits(&probe, 0xc479c001U, -999000);               /* one bit beside it */
    assert_bits(&probe, 0x00000001U, 0);
}

static void
test_plausible_range_includes_its_ends(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_INT16, 100000);
    probe.plausible_min_mC = -40000;
    probe.plausible_max_mC = 300000;
    assert_temp(&probe, (uint16_t)-400, 0, -40000);
    assert_temp(&probe, 3000, 0, 300000);
    assert_no_temp(&probe, (uint16_t)-401, 0, BAD_IMPLAUSIBLE);
    assert_no_temp(&probe, 3001, 0, BAD_IMPLAUSIBLE);
}

/* ---- values of four registers ---- */

static int
decode_64(const struct plan_probe *probe, uint64_t bits, int32_t *ret_temp_mC)
{
    uint16_t registers[4];
    for (int i = 0; i < 4; i++) {
        const int word = probe->order == ORDER_CDAB || probe->order == ORDER_DCBA ? 3 - i : i;
        const uint16_t value = (uint16_t)(bits >> (48 - 16 * word) & 0xffff);
        const bool is_swapped = probe->order == ORDER_BADC || probe->order == ORDER_DCBA;
        registers[i] = (uint16_t)(is_swapped ? value >> 8 | value << 8 : value);
    }
    return mbus_decode(probe, registers, ret_temp_mC);
}

static uint64_t
bits_of_double(double value)
{
    uint64_t bits;
    static_assert(sizeof value == sizeof bits, "IEEE 754 binary64");
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

static const enum byte_order all_orders[] = {ORDER_ABCD, ORDER_CDAB, ORDER_BADC, ORDER_DCBA};

/* The wire of one value in each order, byte by byte: ABCDEFGH are 01h to 08h. */
static void
test_four_registers_in_each_order_are_their_bytes(void **state)
{
    (void)state;
    static const uint16_t wires[4][4] = {
        [ORDER_ABCD] = {0x0000, 0x0000, 0x0000, 0xf618}, /* 63000 */
        [ORDER_CDAB] = {0xf618, 0x0000, 0x0000, 0x0000},
        [ORDER_BADC] = {0x0000, 0x0000, 0x0000, 0x18f6},
        [ORDER_DCBA] = {0x18f6, 0x0000, 0x0000, 0x0000},
    };
    for (size_t i = 0; i < 4; i++) {
        struct plan_probe probe = probe_of(REGISTER_UINT64, 1000);
        int32_t got_mC = 0;
        probe.order = all_orders[i];
        assert_int_equal(mbus_decode(&probe, wires[all_orders[i]], &got_mC), READING_GOOD);
        assert_int_equal(got_mC, 63000);
    }
}

static void
test_int64_and_uint64_at_their_ends(void **state)
{
    (void)state;
    static const struct {
        enum register_type type;
        uint64_t bits;
        int64_t scale_micro;
        int quality;
        int32_t temp_mC;
    } cases[] = {
        {REGISTER_INT64, 630, 100000, READING_GOOD, 63000},
        {REGISTER_INT64, (uint64_t)-405, 100000, READING_GOOD, -40500},
        {REGISTER_INT64, UINT64_MAX, 1000000, READING_GOOD, -1000},
        {REGISTER_INT64, INT64_MAX, 1, BAD_CONVERSION, TEMP_NONE},
        {REGISTER_INT64, 1ULL << 63, 1, BAD_CONVERSION, TEMP_NONE},
        {REGISTER_INT64, (1ULL << 63) + 1, 1, BAD_CONVERSION, TEMP_NONE},
        {REGISTER_INT64, 2147483647ULL, 1000, READING_GOOD, INT32_MAX},
        {REGISTER_INT64, 2147483648ULL, 1000, BAD_CONVERSION, TEMP_NONE},
        {REGISTER_UINT64, UINT64_MAX, 1, BAD_CONVERSION, TEMP_NONE},
        {REGISTER_UINT64, 1ULL << 63, 1, BAD_CONVERSION, TEMP_NONE},
        {REGISTER_UINT64, 0, 1000000, READING_GOOD, 0},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        const struct plan_probe probe = probe_of(cases[i].type, cases[i].scale_micro);
        int32_t got_mC = 0;
        assert_int_equal(decode_64(&probe, cases[i].bits, &got_mC), cases[i].quality);
        assert_int_equal(got_mC, cases[i].temp_mC);
    }
}

/* Against the machine's own arithmetic: long double holds the product of 53 and 11 bits. */
static void
test_float64_over_its_range_agrees_with_the_machine(void **state)
{
    (void)state;
    uint64_t seed = 20260301;
    for (int i = 0; i < 200000; i++) {
        seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
        const double value = ((double)(seed >> 11) / 4503599627370496.0 - 1.0) * 2000.0;
        struct plan_probe probe = probe_of(REGISTER_FLOAT64, 1000000);
        int32_t got_mC = 0;
        probe.order = all_orders[i % 4];
        assert_int_equal(decode_64(&probe, bits_of_double(value), &got_mC), READING_GOOD);
        assert_int_equal(got_mC, (int32_t)lroundl((long double)value * 1000.0L));
    }
}

static void
test_float64_halves_round_away_from_zero_and_specials_are_refused(void **state)
{
    (void)state;
    static const struct {
        double value;
        int quality;
        int32_t temp_mC;
    } cases[] = {
        {63.0, READING_GOOD, 63000},
        {62.99951171875, READING_GOOD, 63000}, /* 63 - 2^-11 */
        {0.0625, READING_GOOD, 63},            /* 62.5, a half */
        {-0.0625, READING_GOOD, -63},
        {0.06249999999999999, READING_GOOD, 62},
        {-0.06250000000000001, READING_GOOD, -63},
        {1e-300, READING_GOOD, 0},
        {-5e-324, READING_GOOD, 0}, /* the smallest there is */
        {-0.0, READING_GOOD, 0},
        {2147483.647, READING_GOOD, INT32_MAX},
        {2147483.648, BAD_CONVERSION, TEMP_NONE},
        {1e15, BAD_CONVERSION, TEMP_NONE},
        {1e300, BAD_CONVERSION, TEMP_NONE},
        {INFINITY, BAD_CONVERSION, TEMP_NONE},
        {-INFINITY, BAD_CONVERSION, TEMP_NONE},
        {NAN, BAD_CONVERSION, TEMP_NONE},
    };
    const struct plan_probe probe = probe_of(REGISTER_FLOAT64, 1000000);
    for (size_t i = 0; i < COUNT(cases); i++) {
        int32_t got_mC = 0;
        assert_int_equal(decode_64(&probe, bits_of_double(cases[i].value), &got_mC),
                         cases[i].quality);
        assert_int_equal(got_mC, cases[i].temp_mC);
    }
}

static void
test_float64_with_the_largest_scale_is_exact(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_FLOAT64, 1000000000);
    int32_t got_mC = 0;
    assert_int_equal(decode_64(&probe, bits_of_double(0.063), &got_mC), READING_GOOD);
    assert_int_equal(got_mC, 63000);
    probe.faults[0] = -1;
    probe.fault_count = 1;
    assert_int_equal(decode_64(&probe, bits_of_double(-1.0), &got_mC), BAD_FAULT_VALUE);
    probe.reads = TEMP_F;
    assert_int_equal(decode_64(&probe, bits_of_double(0.145), &got_mC), READING_GOOD);
    assert_int_equal(got_mC, 62778); /* 145 °F = 62.777... °C */
}

static void
test_status_bits_mean_what_the_plan_says(void **state)
{
    (void)state;
    struct plan_probe probe = probe_of(REGISTER_INT16, 1000000);
    assert_true(mbus_status_good(&probe, 0));
    assert_false(mbus_status_good(&probe, 1));
    assert_false(mbus_status_good(&probe, 0x8000));
    probe.bad_bits[0] = 0;
    probe.bad_bits[1] = 15;
    probe.bad_bit_count = 2;
    assert_true(mbus_status_good(&probe, 0x7ffe));
    assert_false(mbus_status_good(&probe, 0x7fff));
    assert_false(mbus_status_good(&probe, 0x8000));
    probe.good_bits[0] = 7;
    probe.good_bit_count = 1;
    assert_true(mbus_status_good(&probe, 0x0080));
    assert_false(mbus_status_good(&probe, 0x0000));
    assert_false(mbus_status_good(&probe, 0x0081));
}

/* ---- frames ---- */

static void
test_crc_of_every_published_frame_agrees(void **state)
{
    (void)state;
    assert_int_equal(mbus_crc((const uint8_t *)"123456789", 9), 0x4b37);
    for (size_t i = 0; i < COUNT(modbus_frame_rows); i++) {
        const struct modbus_frame_row *row = &modbus_frame_rows[i];
        const uint16_t crc = mbus_crc(row->bytes, row->len - 2);
        assert_int_equal(row->bytes[row->len - 2], crc & 0xff);
        assert_int_equal(row->bytes[row->len - 1], crc >> 8);
    }
}

/* Function 3, registers 107 to 109 of unit 17: the example of the specification. */
static const struct driver_request example = {
    .unit = 17, .function = 3, .first_reg = 107, .reg_count = 3};

static void
test_requests_are_those_of_the_specification(void **state)
{
    (void)state;
    static const uint8_t rtu[] = {0x11, 0x03, 0x00, 0x6b, 0x00, 0x03, 0x76, 0x87};
    static const uint8_t tcp[] = {0x15, 0x01, 0, 0, 0, 6, 0x11, 0x03, 0x00, 0x6b, 0x00, 0x03};
    uint8_t got[16];
    assert_int_equal(mbus_rtu_request(&example, got), sizeof rtu);
    assert_memory_equal(got, rtu, sizeof rtu);
    assert_int_equal(mbus_tcp_request(&example, 0x1501, got), sizeof tcp);
    assert_memory_equal(got, tcp, sizeof tcp);
}

static int
judged(const char *hex, size_t len, struct mbus_reply *ret)
{
    mbus_rtu_judge(&example, (const uint8_t *)hex, len, ret);
    return ret->quality;
}

static void
test_reply_of_the_specification_is_good(void **state)
{
    (void)state;
    struct mbus_reply reply;
    assert_int_equal(judged("\x11\x03\x06\x02\x2b\x00\x00\x00\x64\xc8\xba", 11, &reply),
                     READING_GOOD);
    assert_int_equal(reply.registers[0], 555);
    assert_int_equal(reply.registers[1], 0);
    assert_int_equal(reply.registers[2], 100);
}

static void
test_bad_replies_are_judged_by_their_cause(void **state)
{
    (void)state;
    struct mbus_reply reply;
    assert_int_equal(judged("", 0, &reply), BAD_TIMEOUT);
    /* one data bit flipped; CRC bytes swapped; truncated; byte count disagrees, CRC valid */
    assert_int_equal(judged("\x11\x03\x06\x02\x2a\x00\x00\x00\x64\xc8\xba", 11, &reply),
                     BAD_CRC);
    assert_int_equal(judged("\x11\x03\x06\x02\x2b\x00\x00\x00\x64\xba\xc8", 11, &reply),
                     BAD_CRC);
    assert_int_equal(judged("\x11\x03\x06\x02\x2b\x00\x00\x00\x64\xc8", 10, &reply), BAD_FRAME);
    assert_int_equal(judged("\x11\x03\x04\x02\x2b\x00\x00\x00\x64\xeb\x7a", 11, &reply),
                     BAD_FRAME);
    /* another unit; another function; another length: all with a good CRC */
    assert_int_equal(judged("\x12\x03\x06\x02\x2b\x00\x00\x00\x64\xdc\x4a", 11, &reply),
                     BAD_WRONG_UNIT);
    assert_int_equal(judged("\x11\x04\x06\x02\x2b\x00\x00\x00\x64\x89\x5c", 11, &reply),
                     BAD_WRONG_UNIT);
    assert_int_equal(judged("\x11\x05\x00\xac\xff\x00\x4e\x8b", 8, &reply), BAD_WRONG_UNIT);
    /* noise before and after a good reply */
    assert_int_equal(judged("\xff\x11\x03\x06\x02\x2b\x00\x00\x00\x64\xc8\xba", 12, &reply),
                     BAD_FRAME);
    assert_int_equal(judged("\x11\x03\x06\x02\x2b\x00\x00\x00\x64\xc8\xba\x00", 12, &reply),
                     BAD_FRAME);
    assert_int_equal(judged("\x00", 1, &reply), BAD_FRAME);
    for (size_t i = 0; i < MBUS_REGISTERS_MAX; i++)
        assert_int_equal(reply.registers[i], 0);
}

/* MODBUS Application Protocol V1.1b3, section 7: function + 0x80 and a code. */
static void
test_exceptions_are_recognised_only_for_our_function(void **state)
{
    (void)state;
    struct mbus_reply reply;
    uint8_t frame[] = {0x11, 0x83, 0x02, 0, 0};
    const uint16_t crc = mbus_crc(frame, 3);
    frame[3] = (uint8_t)(crc & 0xff);
    frame[4] = (uint8_t)(crc >> 8);
    mbus_rtu_judge(&example, frame, 5, &reply);
    assert_int_equal(reply.quality, BAD_EXCEPTION);
    assert_int_equal(reply.exception, 2);
    mbus_rtu_judge(&example, (const uint8_t *)"\x11\x81\x02\xc0\x54", 5,
                   &reply); /* function 1 */
    assert_int_equal(reply.quality, BAD_WRONG_UNIT);
}

static void
test_own_request_coming_back_is_called_an_echo(void **state)
{
    (void)state;
    struct mbus_reply reply;
    uint8_t frame[8];
    (void)mbus_rtu_request(&example, frame);
    mbus_rtu_judge(&example, frame, sizeof frame, &reply);
    assert_int_equal(reply.quality, BAD_FRAME);
    assert_true(reply.echo);
}

static void
test_tcp_body_is_compared_with_unit_function_and_count(void **state)
{
    (void)state;
    struct mbus_reply reply;
    uint8_t body[] = {0x11, 3, 6, 2, 0x2b, 0, 0, 0, 0x64};
    mbus_tcp_judge(&example, body, sizeof body, &reply);
    assert_int_equal(reply.quality, READING_GOOD);
    assert_int_equal(reply.registers[0], 555);
    mbus_tcp_judge(&example, body, sizeof body - 1, &reply);
    assert_int_equal(reply.quality, BAD_FRAME);
    body[0] = 0x12;
    mbus_tcp_judge(&example, body, sizeof body, &reply);
    assert_int_equal(reply.quality, BAD_WRONG_UNIT);
    body[0] = 0x11;
    body[1] = 4;
    mbus_tcp_judge(&example, body, sizeof body, &reply);
    assert_int_equal(reply.quality, BAD_WRONG_UNIT);
    body[1] = 0x83;
    mbus_tcp_judge(&example, body, 3, &reply);
    assert_int_equal(reply.quality, BAD_EXCEPTION);
    mbus_tcp_judge(&example, body, 2, &reply);
    assert_int_equal(reply.quality, BAD_FRAME);
    mbus_tcp_judge(&example, body, 1, &reply);
    assert_int_equal(reply.quality, BAD_FRAME);
}

/* MODBUS Application Protocol V1.1b3, 6.1 and 6.2, the examples: coils 20 to 38
 * are answered with CD 6B 05, inputs 197 to 218 with AC DB 35; the first of each is the lowest
 * bit of the first byte, and what the last byte has more is filled with zeros. */
static void
test_coils_and_inputs_of_the_specification_are_their_bits(void **state)
{
    (void)state;
    static const struct {
        struct driver_request request;
        uint8_t sent[5], body[6];
        const char *bits; /* in the order of the addresses */
    } cases[] = {
        {{.unit = 17, .function = 1, .first_reg = 19, .reg_count = 19},
         {0x01, 0x00, 0x13, 0x00, 0x13},
         {0x11, 0x01, 0x03, 0xcd, 0x6b, 0x05},
         "1011001111010110101"},
        {{.unit = 17, .function = 2, .first_reg = 196, .reg_count = 22},
         {0x02, 0x00, 0xc4, 0x00, 0x16},
         {0x11, 0x02, 0x03, 0xac, 0xdb, 0x35},
         "0011010111011011101011"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct driver_request *request = &cases[i].request;
        struct mbus_reply reply;
        uint8_t frame[12];
        assert_int_equal(mbus_rtu_request(request, frame), 8);
        assert_memory_equal(frame + 1, cases[i].sent, sizeof cases[i].sent);
        assert_int_equal(mbus_reply_data_bytes(request), 3);
        assert_int_equal(strlen(cases[i].bits), request->reg_count);
        mbus_tcp_judge(request, cases[i].body, sizeof cases[i].body, &reply);
        assert_int_equal(reply.quality, READING_GOOD);
        for (size_t k = 0; k < request->reg_count; k++)
            assert_int_equal(reply.registers[k], cases[i].bits[k] - '0');
        memcpy(frame, cases[i].body, sizeof cases[i].body);
        const uint16_t crc = mbus_crc(frame, 6);
        frame[6] = (uint8_t)(crc & 0xff);
        frame[7] = (uint8_t)(crc >> 8);
        assert_int_equal(mbus_rtu_reply_length(frame, 3), 8);
        assert_true(mbus_rtu_reply_fits(request, frame, 8));
        mbus_rtu_judge(request, frame, 8, &reply);
        assert_int_equal(reply.quality, READING_GOOD);
        mbus_rtu_judge(request, frame, 7, &reply);
        assert_int_equal(reply.quality, BAD_FRAME);
        /* A whole byte more or less is another length; another function is another request. */
        struct driver_request other = *request;
        other.reg_count = 24;
        assert_true(mbus_rtu_reply_fits(&other, frame, 8));
        other.reg_count = 25;
        mbus_rtu_judge(&other, frame, 8, &reply);
        assert_int_equal(reply.quality, BAD_WRONG_UNIT);
        other.reg_count = 16;
        assert_false(mbus_rtu_reply_fits(&other, frame, 8));
        other = *request;
        other.function = (uint8_t)(3 - request->function);
        mbus_rtu_judge(&other, frame, 8, &reply);
        assert_int_equal(reply.quality, BAD_WRONG_UNIT);
    }
}

/* Whatever arrives, judging stays inside it and calls nothing good that is no well-formed
 * reply. */
static void
test_seeded_noise_is_never_good(void **state)
{
    (void)state;
    uint64_t seed = 7;
    for (int i = 0; i < 200000; i++) {
        uint8_t frame[MBUS_FRAME_MAX];
        seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
        const size_t len = (seed >> 40) % 16;
        for (size_t k = 0; k < len; k++) {
            seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
            frame[k] = (uint8_t)(seed >> 56);
        }
        if (len >= 3 && (seed & 256) != 0)
            memcpy(frame, "\x11\x03\x06", 3);
        struct mbus_reply reply;
        mbus_rtu_judge(&example, frame, len, &reply);
        if (reply.quality ==
            READING_GOOD) /* one in 65536 has the right CRC: then it is a reply */
            assert_int_equal(mbus_crc(frame, 9), frame[9] | frame[10] << 8);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_four_registers_in_each_order_are_their_bytes),
        cmocka_unit_test(test_int64_and_uint64_at_their_ends),
        cmocka_unit_test(test_float64_over_its_range_agrees_with_the_machine),
        cmocka_unit_test(test_float64_halves_round_away_from_zero_and_specials_are_refused),
        cmocka_unit_test(test_float64_with_the_largest_scale_is_exact),
        cmocka_unit_test(test_status_bits_mean_what_the_plan_says),
        cmocka_unit_test(test_float_every_table_row_in_its_order_agrees),
        cmocka_unit_test(test_int16_every_table_row_in_tenths_agrees),
        cmocka_unit_test(test_integers_at_the_ends_of_their_range_agree),
        cmocka_unit_test(test_32_bits_in_every_order_agree),
        cmocka_unit_test(test_scaling_rounds_half_away_from_zero),
        cmocka_unit_test(test_offset_is_added_after_scaling),
        cmocka_unit_test(test_scaling_that_does_not_fit_is_refused),
        cmocka_unit_test(test_fahrenheit_becomes_celsius_exactly),
        cmocka_unit_test(test_float_rounds_on_its_exact_value),
        cmocka_unit_test(test_float_that_is_no_temperature_is_refused),
        cmocka_unit_test(test_float_seeded_values_are_within_half_a_thousandth),
        cmocka_unit_test(test_declared_fault_values_are_recognised),
        cmocka_unit_test(test_plausible_range_includes_its_ends),
        cmocka_unit_test(test_crc_of_every_published_frame_agrees),
        cmocka_unit_test(test_requests_are_those_of_the_specification),
        cmocka_unit_test(test_reply_of_the_specification_is_good),
        cmocka_unit_test(test_bad_replies_are_judged_by_their_cause),
        cmocka_unit_test(test_exceptions_are_recognised_only_for_our_function),
        cmocka_unit_test(test_own_request_coming_back_is_called_an_echo),
        cmocka_unit_test(test_tcp_body_is_compared_with_unit_function_and_count),
        cmocka_unit_test(test_coils_and_inputs_of_the_specification_are_their_bits),
        cmocka_unit_test(test_seeded_noise_is_never_good),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
