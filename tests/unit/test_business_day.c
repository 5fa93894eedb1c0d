/* Business days that end after midnight, and working days. Expected instants were worked out by
 * hand from the calendar of 2026 and the rule that British summer time begins on the last
 * Sunday of March at 01:00 UTC (29 March 2026). */
#include "tests/support/check.h"

#include <string.h>

#include "trivet/business_day.h"
#include "trivet/units.h"

#define HOUR INT64_C(3600000)
/* 2026-03-02T00:00:00Z, a Monday: 20514 days after 1970-01-01. */
#define MONDAY (INT64_C(20514) * 24 * HOUR)

static struct plan plan = {.time_zone = "UTC"};

static void
expect_day(int64_t wall_ms, int later, int month, int date, int64_t from_ms, int64_t to_ms)
{
    struct business_day day;
    business_day_of(&plan, wall_ms, later, &day);
    assert_int_equal(day.year, 2026);
    assert_int_equal(day.month, month);
    assert_int_equal(day.day, date);
    assert_int_equal(day.from_ms, from_ms);
    assert_int_equal(day.to_ms, to_ms);
}

static void
test_a_day_ends_when_the_plan_says(void **state)
{
    (void)state;
    plan.duties.day_ends_min = 0;
    expect_day(MONDAY, 0, 3, 2, MONDAY, MONDAY + 24 * HOUR);
    expect_day(MONDAY - 1, 0, 3, 1, MONDAY - 24 * HOUR, MONDAY);
    /* At two in the morning: 01:59 is still Sunday's business. */
    plan.duties.day_ends_min = 120;
    expect_day(MONDAY + 2 * HOUR - 1, 0, 3, 1, MONDAY - 22 * HOUR, MONDAY + 2 * HOUR);
    expect_day(MONDAY + 2 * HOUR, 0, 3, 2, MONDAY + 2 * HOUR, MONDAY + 26 * HOUR);
    expect_day(MONDAY + 2 * HOUR, -1, 3, 1, MONDAY - 22 * HOUR, MONDAY + 2 * HOUR);
    /* In the evening: 22:00 on Monday is Tuesday's business. */
    plan.duties.day_ends_min = 22 * 60;
    expect_day(MONDAY + 22 * HOUR - 1, 0, 3, 2, MONDAY - 2 * HOUR, MONDAY + 22 * HOUR);
    expect_day(MONDAY + 22 * HOUR, 0, 3, 3, MONDAY + 22 * HOUR, MONDAY + 46 * HOUR);
    struct business_day day;
    assert_true(business_day_named(&plan, 2026, 3, 2, &day));
    assert_int_equal(day.to_ms, MONDAY + 22 * HOUR);
    assert_false(business_day_named(&plan, 2026, 2, 29, &day));
    plan.duties.day_ends_min = 0;
}

static void
test_a_day_is_shorter_when_clocks_go_forward(void **state)
{
    (void)state;
    int64_t sunday = MONDAY + 27 * 24 * HOUR; /* 2026-03-29T00:00:00Z */
    plan.time_zone = "Europe/London";
    plan.duties.day_ends_min = 180; /* 03:00 */
    expect_day(sunday + HOUR, 0, 3, 28, sunday - 21 * HOUR, sunday + 2 * HOUR);
    expect_day(sunday + 2 * HOUR, 0, 3, 29, sunday + 2 * HOUR, sunday + 26 * HOUR);
    plan.time_zone = "UTC";
    plan.duties.day_ends_min = 0;
}

static void
test_working_days_are_the_plans(void **state)
{
    (void)state;
    /* From Monday 2 March seven working days on: Wednesday the 11th, to its end. */
    assert_int_equal(working_days_after(&plan, MONDAY + 10 * HOUR, 7), MONDAY + 10 * 24 * HOUR);
    /* From Friday one working day on: Monday, to its end. */
    assert_int_equal(working_days_after(&plan, MONDAY + 4 * 24 * HOUR + HOUR, 1),
                     MONDAY + 8 * 24 * HOUR);
    /* A kitchen that works Tuesday and Sunday. */
    plan.duties.working_days[0] = "tue";
    plan.duties.working_days[1] = "sun";
    assert_int_equal(working_days_after(&plan, MONDAY, 2), MONDAY + 7 * 24 * HOUR);
    memset(plan.duties.working_days, 0, sizeof plan.duties.working_days);
    /* What was done at 01:00 belongs to the day before. */
    plan.duties.day_ends_min = 120;
    assert_int_equal(working_days_after(&plan, MONDAY + 24 * HOUR + HOUR, 1),
                     MONDAY + 50 * HOUR);
    plan.duties.day_ends_min = 0;
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_day_ends_when_the_plan_says),
        cmocka_unit_test(test_a_day_is_shorter_when_clocks_go_forward),
        cmocka_unit_test(test_working_days_are_the_plans),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
