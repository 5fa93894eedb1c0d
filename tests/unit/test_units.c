/* Temperatures compare exactly in the printed unit, and no text shows a value across its limit.
 */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#include "trivet/units.h"

static void
test_compare_celsius_is_exact_at_the_limit(void **state)
{
    (void)state;
    struct limit_temp limit = {63000, TEMP_C};
    assert_int_equal(temp_compare(62999, limit), -1);
    assert_int_equal(temp_compare(63000, limit), 0);
    assert_int_equal(temp_compare(63001, limit), 1);
}

/* 155 °F is 68.333... °C; FDA Food Code 2022, 3-401.11(A)(2) prints 68 °C beside it. */
static void
test_compare_fahrenheit_is_at_the_limit_only_at_its_nearest_thousandth(void **state)
{
    (void)state;
    struct limit_temp limit = {155000, TEMP_F};
    assert_int_equal(temp_compare(68000, limit), -1);
    assert_int_equal(temp_compare(68332, limit), -1);
    assert_int_equal(temp_compare(68333, limit), 0);
    assert_int_equal(temp_compare(68334, limit), 1);
    assert_int_equal(temp_compare(5000, (struct limit_temp){41000, TEMP_F}), 0);
    assert_int_equal(temp_compare(-40000, (struct limit_temp){-40000, TEMP_F}), 0);
}

/* Whatever whole tenth a Fahrenheit thermometer shows, converted to the nearest thousandth of a
 * degree Celsius, compares with every limit in whole tenths as the two Fahrenheit figures do.
 */
/* 40 °F is 4.4444 °C and 42 °F is 5.5556 °C: the thousandth above, and below, is no longer at
 * it. */
static void
test_compare_fahrenheit_next_to_the_nearest_thousandth_is_not_at_it(void **state)
{
    (void)state;
    const struct limit_temp f40 = {40000, TEMP_F}, f42 = {42000, TEMP_F};
    assert_int_equal(temp_compare(4443, f40), -1);
    assert_int_equal(temp_compare(4444, f40), 0);
    assert_int_equal(temp_compare(4445, f40), 1);
    assert_int_equal(temp_compare(5555, f42), -1);
    assert_int_equal(temp_compare(5556, f42), 0);
    assert_int_equal(temp_compare(5557, f42), 1);
}

static void
test_compare_orders_fahrenheit_tenths_as_fahrenheit(void **state)
{
    (void)state;
    for (int32_t shown_dF = -400; shown_dF <= 4000; shown_dF++) {
        int64_t ninths =
            (int64_t)(shown_dF - 320) * 500; /* of a thousandth of a degree Celsius */
        int32_t temp_mC = (int32_t)((ninths + (ninths < 0 ? -4 : 4)) / 9);
        for (int32_t off_dF = -2; off_dF <= 2; off_dF++) {
            struct limit_temp limit = {(shown_dF + off_dF) * 100, TEMP_F};
            assert_int_equal(temp_compare(temp_mC, limit), off_dF < 0   ? 1
                                                           : off_dF > 0 ? -1
                                                                        : 0);
        }
    }
}

static void
test_compare_at_the_edges_of_the_type_does_not_overflow(void **state)
{
    (void)state;
    assert_int_equal(temp_compare(INT32_MAX, (struct limit_temp){INT32_MIN + 1, TEMP_F}), 1);
    assert_int_equal(temp_compare(INT32_MIN + 1, (struct limit_temp){INT32_MAX, TEMP_F}), -1);
}

static void
test_text_against_never_crosses_the_limit(void **state)
{
    (void)state;
    static const struct {
        int32_t temp_mC;
        struct limit_temp limit;
        const char *text;
    } cases[] = {
        {63000, {63000, TEMP_C}, "63.0"},    {62960, {63000, TEMP_C}, "62.96"},
        {62999, {63000, TEMP_C}, "62.999"},  {63040, {63000, TEMP_C}, "63.04"},
        {62940, {63000, TEMP_C}, "62.9"},    {-40, {0, TEMP_C}, "-0.04"},
        {-60, {0, TEMP_C}, "-0.1"},          {68333, {155000, TEMP_F}, "68.333"},
        {68334, {155000, TEMP_F}, "68.334"}, {TEMP_NONE, {0, TEMP_C}, "none"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char buf[24];
        assert_string_equal(
            temp_text_against(buf, sizeof buf, cases[i].temp_mC, cases[i].limit),
            cases[i].text);
    }
}

static void
test_text_against_agrees_with_compare_for_every_thousandth(void **state)
{
    (void)state;
    struct limit_temp limit = {155000, TEMP_F};
    for (int32_t temp_mC = 68000; temp_mC < 68700; temp_mC++) {
        char buf[24];
        int32_t shown;
        assert_true(milli_parse(temp_text_against(buf, sizeof buf, temp_mC, limit), &shown));
        assert_int_equal(temp_compare(shown, limit), temp_compare(temp_mC, limit));
    }
}

static void
test_text_is_exact_around_zero(void **state)
{
    (void)state;
    char buf[24];
    assert_string_equal(temp_text(buf, sizeof buf, -500), "-0.5");
    assert_string_equal(temp_text(buf, sizeof buf, -125), "-0.125");
    assert_string_equal(temp_text(buf, sizeof buf, 0), "0.0");
    assert_string_equal(temp_text(buf, sizeof buf, TEMP_NONE), "none");
    assert_string_equal(temp_text(buf, sizeof buf, 10), "0.01");
}

static void
test_duration_text_rounds_down(void **state)
{
    (void)state;
    static const struct {
        int64_t ms;
        const char *text;
    } cases[] = {
        {-5, "0 s"},
        {59999, "59 s"},
        {60000, "1 min"},
        {119000, "1 min 59 s"},
        {300000, "5 min"},
        {3599999, "59 min"},
        {3900000, "1 h 05 min"},
        {86400000, "1 d 0 h"},
        {299999, "4 min 59 s"},
        {330000, "5 min"},
        {120000, "2 min"},
        {3600000, "1 h 00 min"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char buf[32];
        assert_string_equal(duration_text(buf, sizeof buf, cases[i].ms), cases[i].text);
    }
}

/* Instants from RFC 3339 section 5.8 and from the Unix epoch's definition; leap days by the
 * Gregorian rule. */
static void
test_utc_text_knows_the_calendar(void **state)
{
    (void)state;
    static const struct {
        int64_t ms;
        const char *text;
    } cases[] = {
        {0, "1970-01-01T00:00:00.000Z"},
        {INT64_C(482196050520), "1985-04-12T23:20:50.520Z"},
        {INT64_C(951782400000), "2000-02-29T00:00:00.000Z"},
        {INT64_C(1709164800000), "2024-02-29T00:00:00.000Z"},
        {INT64_C(4107542400000), "2100-03-01T00:00:00.000Z"},
        {-1, "1969-12-31T23:59:59.999Z"},
        /* Before the year 0, ISO 8601: days counted by the 146,097 of each 400 years. */
        {-INT64_C(62167219200000), "0000-01-01T00:00:00.000Z"},
        {-INT64_C(62162035200000), "0000-03-01T00:00:00.000Z"},
        {-INT64_C(62162035200001), "0000-02-29T23:59:59.999Z"},
        {-INT64_C(74784816000000), "-400-03-01T00:00:00.000Z"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char buf[40];
        assert_string_equal(utc_text(buf, sizeof buf, cases[i].ms), cases[i].text);
    }
}

static void
test_milli_parse_takes_whole_decimals_only(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int32_t milli;
    } good[] = {{"63", 63000},
                {"63.4", 63400},
                {"-0.125", -125},
                {"+5", 5000},
                {"2147483.647", INT32_MAX}};
    static const char *const bad[] = {"", "63,4", "63.", ".5", "63.4 ", "1e3", "0x10", "nan",
                                      "--1", "-", "1.2345", "6 3", "2147483.648", "99999999999",
                                      /* times 1000 it is 384 more than 2 to the 64th */
                                      "18446744073709552"};
    int32_t milli;
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        assert_true(milli_parse(good[i].text, &milli));
        assert_int_equal(milli, good[i].milli);
    }
    for (size_t i = 0; i < COUNT_OF(bad); i++)
        assert_false(milli_parse(bad[i], &milli));
}

/* The C library's calendar, each 7 hours and 1 ms of two centuries. */
static void
test_utc_text_agrees_with_the_c_library(void **state)
{
    (void)state;
    for (int64_t ms = -INT64_C(1893456000000); ms < INT64_C(4575225600000); ms += 25200001) {
        char buf[40], other[80];
        int64_t s = (ms < 0 ? ms - 999 : ms) / 1000;
        time_t second = (time_t)s;
        struct tm tm;
        assert_non_null(gmtime_r(&second, &tm));
        (void)snprintf(other, sizeof other, "%04d-%02d-%02dT%02d:%02d:%02d.%03dZ",
                       tm.tm_year + 1900, tm.tm_mon + 1, tm.tm_mday, tm.tm_hour, tm.tm_min,
                       tm.tm_sec, (int)(ms - s * 1000));
        assert_string_equal(utc_text(buf, sizeof buf, ms), other);
    }
}

static void
test_limit_text_has_the_unit_its_source_prints(void **state)
{
    (void)state;
    char buf[40];
    assert_string_equal(limit_temp_text(buf, sizeof buf, (struct limit_temp){155000, TEMP_F}),
                        "155.0 °F");
    assert_string_equal(limit_temp_text(buf, sizeof buf, (struct limit_temp){-18000, TEMP_C}),
                        "-18.0 °C");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_compare_celsius_is_exact_at_the_limit),
        cmocka_unit_test(
            test_compare_fahrenheit_is_at_the_limit_only_at_its_nearest_thousandth),
        cmocka_unit_test(test_compare_fahrenheit_next_to_the_nearest_thousandth_is_not_at_it),
        cmocka_unit_test(test_compare_orders_fahrenheit_tenths_as_fahrenheit),
        cmocka_unit_test(test_compare_at_the_edges_of_the_type_does_not_overflow),
        cmocka_unit_test(test_text_against_never_crosses_the_limit),
        cmocka_unit_test(test_text_against_agrees_with_compare_for_every_thousandth),
        cmocka_unit_test(test_text_is_exact_around_zero),
        cmocka_unit_test(test_duration_text_rounds_down),
        cmocka_unit_test(test_utc_text_knows_the_calendar),
        cmocka_unit_test(test_milli_parse_takes_whole_decimals_only),
        cmocka_unit_test(test_utc_text_agrees_with_the_c_library),
        cmocka_unit_test(test_limit_text_has_the_unit_its_source_prints),
    };
    return cmocka_run_group_tests_name("units", tests, NULL, NULL);
}
