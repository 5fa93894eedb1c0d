/* Clock times: known changes of the clock, the rule behind the table, and agreement with
 * glibc's own reader. */
#include "trivet/zone.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "daemon/base/zone_rule.h"

static struct zone *
load(const char *name)
{
    char why[200] = "";
    struct zone *zone = zone_load(name, why, sizeof why);
    if (zone == NULL)
        fail_msg("%s", why);
    return zone;
}

static int64_t
utc_ms(int year, int month, int day, int hour, int minute, int second)
{
    return (days_from_civil(year, month, day) * 86400 + hour * 3600 + minute * 60 + second) *
           1000;
}

static void
check_stamp(const struct zone *zone, int64_t at_ms, const char *stamp, const char *abbrev)
{
    char text[32];
    struct zone_time at;
    zone_split(zone, at_ms, &at);
    assert_string_equal(zone_stamp_text(zone, at_ms, text, sizeof text), stamp);
    assert_string_equal(at.abbrev, abbrev);
}

/* Summer time in the United Kingdom: last Sundays of March and October at 01:00 UTC (Summer
 * Time Order 2002, SI 2002/262). In 2026 these are 29 March and 25 October. */
static void
test_zone_london_2026_changes_at_one_utc(void **state)
{
    (void)state;
    struct zone *zone = load("Europe/London");
    check_stamp(zone, utc_ms(2026, 3, 29, 0, 59, 59), "2026-03-29 00:59:59", "GMT");
    check_stamp(zone, utc_ms(2026, 3, 29, 1, 0, 0), "2026-03-29 02:00:00", "BST");
    check_stamp(zone, utc_ms(2026, 10, 25, 0, 59, 59), "2026-10-25 01:59:59", "BST");
    check_stamp(zone, utc_ms(2026, 10, 25, 1, 0, 0), "2026-10-25 01:00:00", "GMT");
    zone_free(zone);
}

/* United States: second Sunday of March, first of November, at 02:00 local (15 U.S.C. 260a).
 * 2026: 8 March, 1 November. */
static void
test_zone_new_york_2026_changes_at_two_local(void **state)
{
    (void)state;
    struct zone *zone = load("America/New_York");
    check_stamp(zone, utc_ms(2026, 3, 8, 6, 59, 59), "2026-03-08 01:59:59", "EST");
    check_stamp(zone, utc_ms(2026, 3, 8, 7, 0, 0), "2026-03-08 03:00:00", "EDT");
    check_stamp(zone, utc_ms(2026, 11, 1, 5, 59, 59), "2026-11-01 01:59:59", "EDT");
    check_stamp(zone, utc_ms(2026, 11, 1, 6, 0, 0), "2026-11-01 01:00:00", "EST");
    zone_free(zone);
}

/* Beyond the table (which ends in 2037) the footer rules. Last Sunday of March 2060 is the
 * 28th, of October the 31st. */
static void
test_zone_beyond_table_follows_footer(void **state)
{
    (void)state;
    struct zone *zone = load("Europe/London");
    check_stamp(zone, utc_ms(2060, 3, 28, 0, 59, 59), "2060-03-28 00:59:59", "GMT");
    check_stamp(zone, utc_ms(2060, 3, 28, 1, 0, 0), "2060-03-28 02:00:00", "BST");
    check_stamp(zone, utc_ms(2060, 10, 31, 1, 0, 0), "2060-10-31 01:00:00", "GMT");
    zone_free(zone);
}

static void
test_zone_agrees_with_libc_over_decades(void **state)
{
    (void)state;
    static const char *const names[] = {
        "Europe/London",     "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu",
        "America/Sao_Paulo", "Pacific/Apia",     "Africa/Casablanca",   "Europe/Dublin",
        "America/Nuuk",      "Pacific/Chatham",  "Etc/GMT+5",           "UTC"};
    for (size_t n = 0; n < sizeof names / sizeof names[0]; n++) {
        struct zone *zone = load(names[n]);
        assert_int_equal(setenv("TZ", names[n], 1), 0);
        tzset();
        /* A step prime to days and weeks: every hour and weekday gets its turn. */
        for (int64_t at_s = -2000000000; at_s < 4000000000; at_s += 86399 * 3 + 1201) {
            time_t seconds = (time_t)at_s;
            struct tm expected;
            struct zone_time found;
            assert_non_null(localtime_r(&seconds, &expected));
            zone_split(zone, at_s * 1000, &found);
            if (found.hour != expected.tm_hour || found.minute != expected.tm_min ||
                found.second != expected.tm_sec || found.day != expected.tm_mday ||
                found.weekday != expected.tm_wday || found.month != expected.tm_mon + 1 ||
                found.year != expected.tm_year + 1900)
                fail_msg("%s at %lld s differs from libc", names[n], (long long)at_s);
        }
        zone_free(zone);
    }
}

static void
test_zone_join_inverts_split(void **state)
{
    (void)state;
    struct zone *zone = load("America/New_York");
    for (int64_t at_ms = utc_ms(2026, 1, 1, 0, 0, 0); at_ms < utc_ms(2027, 1, 1, 0, 0, 0);
         at_ms += 17 * 60000) {
        struct zone_time at;
        int64_t back_ms = 0;
        zone_split(zone, at_ms, &at);
        assert_true(zone_join(zone, at.year, at.month, at.day, at.hour, at.minute, &back_ms));
        /* The hour that the clock shows twice means its first. */
        if (back_ms != at_ms)
            assert_int_equal(at_ms - back_ms, 3600000);
    }
    zone_free(zone);
}

static void
test_zone_join_skipped_and_doubled_hour(void **state)
{
    (void)state;
    struct zone *zone = load("Europe/London");
    int64_t at_ms = 0;
    assert_true(zone_join(zone, 2026, 3, 29, 1, 30, &at_ms));
    assert_true(at_ms == utc_ms(2026, 3, 29, 1, 0, 0));
    assert_true(zone_join(zone, 2026, 10, 25, 1, 30, &at_ms));
    assert_true(at_ms == utc_ms(2026, 10, 25, 0, 30, 0));
    assert_false(zone_join(zone, 2026, 2, 29, 12, 0, &at_ms));
    assert_false(zone_join(zone, 2026, 13, 1, 12, 0, &at_ms));
    assert_false(zone_join(zone, 2026, 1, 1, 24, 0, &at_ms));
    assert_true(zone_join(zone, 2028, 2, 29, 12, 0, &at_ms));
    zone_free(zone);
}

static void
test_zone_day_start_over_change_is_local_midnight(void **state)
{
    (void)state;
    struct zone *zone = load("Europe/London");
    int64_t noon_ms = utc_ms(2026, 3, 29, 11, 0, 0);
    int64_t start_ms = zone_day_start(zone, noon_ms, 0),
            next_ms = zone_day_start(zone, noon_ms, 1);
    assert_true(start_ms == utc_ms(2026, 3, 29, 0, 0, 0));
    assert_int_equal((next_ms - start_ms) / 3600000, 23);
    zone_free(zone);
}

static void
test_zone_clock_text_names_other_days(void **state)
{
    (void)state;
    struct zone *zone = load("Europe/London");
    int64_t now_ms = utc_ms(2026, 3, 3, 14, 5, 0); /* a Tuesday */
    char text[32];
    assert_string_equal(zone_clock_text(zone, now_ms, now_ms, text, sizeof text), "14:05");
    assert_string_equal(zone_clock_text(zone, now_ms, now_ms + 86400000, text, sizeof text),
                        "Tue 14:05");
    assert_string_equal(
        zone_clock_text(zone, now_ms, now_ms + 9 * 86400000LL, text, sizeof text),
        "3 Mar 14:05");
    assert_string_equal(
        zone_clock_text(zone, now_ms, now_ms + 400 * 86400000LL, text, sizeof text),
        "3 Mar 2026 14:05");
    zone_free(zone);
}

static void
test_zone_load_bad_name_says_why(void **state)
{
    (void)state;
    static const char *const names[] = {"Nowhere/Town", "../../etc/passwd", "/etc/passwd", "",
                                        "Europe"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char why[200] = "";
        assert_null(zone_load(names[i], why, sizeof why));
        assert_non_null(strstr(why, "Europe/London"));
    }
}

static void
test_zone_parse_truncated_file_is_refused(void **state)
{
    (void)state;
    static unsigned char bytes[65536];
    FILE *file = fopen("/usr/share/zoneinfo/Europe/London", "rb");
    assert_non_null(file);
    size_t len = fread(bytes, 1, sizeof bytes, file);
    assert_int_equal(fclose(file), 0);
    for (size_t cut = 0; cut < len; cut++) {
        unsigned char *exact = malloc(cut + 1); /* so that a sanitizer sees one byte too far */
        assert_non_null(exact);
        memcpy(exact, bytes, cut);
        assert_null(zone_parse(exact, cut));
        free(exact);
    }
    struct zone *zone = zone_parse(bytes, len);
    assert_non_null(zone);
    zone_free(zone);
}

static void
test_zone_rule_refuses_nonsense(void **state)
{
    (void)state;
    static const char *const bad[] = {"",
                                      "GM0",
                                      "GMT",
                                      "GMT0BST",
                                      "GMT0BST,M3.5.0",
                                      "GMT0BST,M13.5.0,M10.5.0",
                                      "GMT0BST,M3.6.0,M10.5.0",
                                      "GMT0BST,M3.5.7,M10.5.0",
                                      "GMT0BST,J0,J300",
                                      "GMT0BST,M3.5.0,M10.5.0x",
                                      "<GMT0"};
    struct zone_rule rule;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(zone_rule_parse(bad[i], &rule));
    assert_true(zone_rule_parse("<-02>2<-01>,M3.5.0/-1,M10.5.0/0", &rule));
    assert_int_equal(rule.std_offset_s, -7200);
    assert_int_equal(rule.dst_begins.time_s, -3600);
}

static void
test_zone_shared_unknown_is_utc(void **state)
{
    (void)state;
    const struct zone *zone = zone_shared("No/Such");
    check_stamp(zone, 0, "1970-01-01 00:00:00", "UTC");
    assert_ptr_equal(zone_shared("Europe/London"), zone_shared("Europe/London"));
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_zone_london_2026_changes_at_one_utc),
        cmocka_unit_test(test_zone_new_york_2026_changes_at_two_local),
        cmocka_unit_test(test_zone_beyond_table_follows_footer),
        cmocka_unit_test(test_zone_agrees_with_libc_over_decades),
        cmocka_unit_test(test_zone_join_inverts_split),
        cmocka_unit_test(test_zone_join_skipped_and_doubled_hour),
        cmocka_unit_test(test_zone_day_start_over_change_is_local_midnight),
        cmocka_unit_test(test_zone_clock_text_names_other_days),
        cmocka_unit_test(test_zone_load_bad_name_says_why),
        cmocka_unit_test(test_zone_parse_truncated_file_is_refused),
        cmocka_unit_test(test_zone_rule_refuses_nonsense),
        cmocka_unit_test(test_zone_shared_unknown_is_utc),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
