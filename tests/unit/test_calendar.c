/* Days of the calendar and their numbers. Numbers are those of `date -u -d DAY +%s` (GNU
 * coreutils) divided by 86400. */
#include "tests/support/check.h"

#include <string.h>

#include "trivet/calendar.h"

static void
test_calendar_days_have_their_numbers(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int32_t day;
    } days[] = {
        {"1970-01-01", 0},     {"1970-12-31", 364},    {"1971-01-01", 365},
        {"1972-02-29", 789},   {"1972-03-01", 790},    {"1999-12-31", 10956},
        {"2000-02-29", 11016}, {"2000-03-01", 11017},  {"2026-03-01", 20513},
        {"2026-12-31", 20818}, {"2028-02-29", 21243},  {"2100-02-28", 47540},
        {"2100-03-01", 47541}, {"2400-02-29", 157113}, {"9999-12-31", 2932896},
    };
    for (size_t i = 0; i < sizeof days / sizeof days[0]; i++) {
        int32_t day = -1;
        char text[CALENDAR_DAY_MAX + 1];
        assert_true(calendar_read(days[i].text, &day));
        assert_int_equal(day, days[i].day);
        assert_string_equal(calendar_write(day, text), days[i].text);
    }
}

static void
test_calendar_every_day_follows_the_one_before(void **state)
{
    (void)state;
    char text[CALENDAR_DAY_MAX + 1], before[CALENDAR_DAY_MAX + 1] = "";
    for (int32_t day = 0; day <= 2932896; day += day < 60000 ? 1 : 997) {
        int32_t again = -1;
        assert_true(calendar_read(calendar_write(day, text), &again));
        assert_int_equal(again, day);
        assert_true(strcmp(before, text) < 0);
        memcpy(before, text, sizeof before);
    }
}

static void
test_calendar_what_is_no_day(void **state)
{
    (void)state;
    static const char *const wrong[] = {
        "",           "2026-3-01",   "2026-03-1",  "2026-00-01", "2026-13-01", "2026-03-00",
        "2026-03-32", "2026-04-31",  "2026-02-29", "2100-02-29", "1969-12-31", "2026/03/01",
        "2026-03-0a", "2026-03-01 ", "-026-03-01", "12026-03-1"};
    char text[CALENDAR_DAY_MAX + 1];
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        int32_t day = 77;
        assert_false(calendar_read(wrong[i], &day));
        assert_int_equal(day, 77);
    }
    assert_string_equal(calendar_write(-1, text), "");
    assert_string_equal(calendar_write(2932897, text), "");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_calendar_days_have_their_numbers),
        cmocka_unit_test(test_calendar_every_day_follows_the_one_before),
        cmocka_unit_test(test_calendar_what_is_no_day),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
