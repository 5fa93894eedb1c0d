/* The records' time line never goes back, never jumps, and orders inputs as replay will. */
#include "tests/support/check.h"

#include "daemon/recorder/timeline.h"
#include "trivet/units.h"

static void
test_start_takes_the_wall_clock(void **state)
{
    (void)state;
    struct timeline line;
    timeline_start(&line, TIME_NONE, 1000000, 500);
    assert_true(line.trusted);
    assert_int_equal(line.offset_ms, 0);
    assert_int_equal(timeline_record(&line, 500), 1000000);
    assert_int_equal(timeline_reading(&line, 1500, 1), 1001000);
}

static void
test_start_with_a_wall_clock_behind_goes_on_after_the_last_record(void **state)
{
    (void)state;
    struct timeline line;
    timeline_start(&line, 2000000, 5000, 100);
    assert_false(line.trusted);
    assert_int_equal(timeline_record(&line, 100), 2000001);
    assert_int_equal(line.offset_ms, 5000 - 2000001);
    timeline_start(&line, 2000000, 2000000, 100);
    assert_false(line.trusted);
    timeline_start(&line, 2000000, 2000001, 100);
    assert_true(line.trusted);
}

static void
test_readings_of_one_instant_share_it_only_in_probe_order(void **state)
{
    (void)state;
    struct timeline line;
    timeline_start(&line, TIME_NONE, 1000, 0);
    assert_int_equal(timeline_reading(&line, 10, 1), 1010);
    assert_int_equal(timeline_reading(&line, 10, 2), 1010);
    assert_int_equal(timeline_reading(&line, 10, 2), 1011);
    assert_int_equal(timeline_reading(&line, 10, 1), 1012);
    assert_int_equal(timeline_record(&line, 10),
                     1013); /* records come before readings of their instant */
    assert_int_equal(timeline_record(&line, 10), 1013); /* and among themselves by number */
    assert_int_equal(timeline_reading(&line, 10, 1), 1013);
}

static void
test_nothing_shares_the_instant_of_a_tick_after_it(void **state)
{
    (void)state;
    struct timeline line;
    timeline_start(&line, TIME_NONE, 1000, 0);
    (void)timeline_reading(&line, 10, 3);
    timeline_tick(&line, 1020);
    assert_int_equal(timeline_reading(&line, 15, 5), 1021);
    timeline_tick(&line, 1030);
    assert_int_equal(timeline_record(&line, 30), 1031);
}

static void
test_what_follows_a_seal_is_later_than_its_end(void **state)
{
    (void)state;
    struct timeline line;
    timeline_start(&line, TIME_NONE, 1000, 0);
    (void)timeline_reading(&line, 10, 1);
    assert_int_equal(timeline_close(&line), 1010);
    assert_int_equal(timeline_reading(&line, 10, 2), 1011);
}

static void
test_wall_steps_of_two_seconds_and_more_are_noticed(void **state)
{
    (void)state;
    struct timeline line;
    timeline_start(&line, TIME_NONE, 1000000, 0);
    assert_false(timeline_wall_stepped(&line, 1000000 + 5000 + 1999, 5000));
    assert_true(timeline_wall_stepped(&line, 1000000 + 5000 + 2000, 5000));
    assert_int_equal(line.offset_ms, 2000);
    assert_false(timeline_wall_stepped(&line, 1000000 + 9000 + 2000, 9000));
    assert_true(timeline_wall_stepped(&line, 1000000 + 9000 - 3600000, 9000));
    assert_int_equal(line.offset_ms, -3600000);
    assert_int_equal(timeline_record(&line, 9000),
                     1009000); /* the time line itself does not move */
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_start_takes_the_wall_clock),
        cmocka_unit_test(test_start_with_a_wall_clock_behind_goes_on_after_the_last_record),
        cmocka_unit_test(test_readings_of_one_instant_share_it_only_in_probe_order),
        cmocka_unit_test(test_nothing_shares_the_instant_of_a_tick_after_it),
        cmocka_unit_test(test_what_follows_a_seal_is_later_than_its_end),
        cmocka_unit_test(test_wall_steps_of_two_seconds_and_more_are_noticed),
    };
    return cmocka_run_group_tests_name("timeline", tests, NULL, NULL);
}
