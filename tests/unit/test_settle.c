/* Settled or not: made series whose spread and slope are known from how they are made. */
#include "tests/support/check.h"

#include <stdint.h>

#include "daemon/cli/settle.h"

#define WINDOW_MS 30000

/* count readings every step_ms: from_mC, then slope_mK more at each, with a wobble to and fro.
 */
static enum settle_state
look(size_t count, int64_t step_ms, int32_t from_mC, int32_t slope_mK, int32_t wobble_mK,
     struct settle_found *ret)
{
    static struct settle settle;
    settle_break(&settle);
    for (size_t i = 0; i < count; i++)
        settle_add(&settle, INT64_C(1772530000000) + (int64_t)i * step_ms,
                   from_mC + (int32_t)i * slope_mK + (i % 2 ? wobble_mK : -wobble_mK));
    return settle_look(&settle, WINDOW_MS, ret);
}

static void
test_needs_readings_over_the_whole_window(void **state)
{
    (void)state;
    struct settle_found found;
    assert_int_equal(look(0, 1000, 0, 0, 0, &found), SETTLE_TOO_FEW);
    assert_int_equal(look(30, 1000, 0, 0, 0, &found), SETTLE_TOO_FEW); /* 29 s */
    assert_int_equal(look(31, 1000, 0, 0, 0, &found), SETTLE_STEADY);
    assert_int_equal(look(4, 10000, 0, 0, 0, &found), SETTLE_TOO_FEW); /* four in 30 s */
    assert_int_equal(look(5, 7500, 0, 0, 0, &found), SETTLE_STEADY);
}

/* As often as a plan reads a probe that says nothing of it: five readings take 40 s. */
static void
test_probe_read_seldom_settles_over_as_many_readings_as_are_needed(void **state)
{
    (void)state;
    struct settle_found found;
    assert_int_equal(look(5, 10000, 400, 0, 0, &found), SETTLE_STEADY);
    assert_int_equal(found.mean_mC, 400);
    assert_int_equal(look(9, 10000, 0, 25, 0, &found), SETTLE_STEADY); /* 100 mK in 40 s */
    assert_int_equal(found.drift_mK, 100);
    assert_int_equal(look(9, 10000, 0, 26, 0, &found), SETTLE_MOVING);
    assert_int_equal(look(9, 10000, 0, 0, 101, &found), SETTLE_MOVING);
    assert_int_equal(look(4, 600000, 0, 0, 0, &found), SETTLE_TOO_FEW);
    assert_int_equal(look(5, 600000, 0, 0, 0, &found), SETTLE_STEADY);
}

static void
test_spread_exactly_at_the_bound_is_steady(void **state)
{
    (void)state;
    struct settle_found found;
    assert_int_equal(look(31, 1000, 500, 0, 100, &found), SETTLE_STEADY);
    assert_int_equal(found.spread_mK, 200);
    assert_int_equal(look(31, 1000, 500, 0, 101, &found), SETTLE_MOVING);
    assert_int_equal(found.spread_mK, 202);
}

/* A slope of 1 mK a second is 30 mK over the window; 4 mK a second 120, within the spread all
 * the same. */
static void
test_creeping_is_moving_though_the_spread_is_small(void **state)
{
    (void)state;
    struct settle_found found;
    assert_int_equal(look(40, 1000, 300, 1, 0, &found), SETTLE_STEADY);
    assert_int_equal(found.drift_mK, 30);
    assert_int_equal(look(40, 1000, 300, -4, 0, &found), SETTLE_MOVING);
    assert_int_equal(found.drift_mK, -120);
    assert_true(found.spread_mK <= SETTLE_SPREAD_mK);
    assert_int_equal(look(256, 117, 300, 0, 0, &found), SETTLE_TOO_FEW); /* 29.8 s */
    assert_int_equal(look(300, 120, 90000, 0, 90, &found), SETTLE_STEADY);
}

/* The exponential fall of a probe from 22 °C into ice, time constant 12 s: settled only once it
 * is within a fifth of a degree of the ice over the whole window. */
static void
test_a_probe_put_into_ice_is_steady_only_near_the_ice(void **state)
{
    (void)state;
    static struct settle settle;
    struct settle_found found;
    double temp = 22000;
    int steady_s = -1;
    settle_break(&settle);
    for (int s = 0; s < 300 && steady_s < 0; s++) {
        settle_add(&settle, (int64_t)s * 1000, (int32_t)temp);
        if (settle_look(&settle, WINDOW_MS, &found) == SETTLE_STEADY)
            steady_s = s;
        temp *= 0.920044; /* exp(-1/12) */
    }
    assert_in_range(steady_s, 70, 110);
    assert_in_range(found.mean_mC, 0, 60);
}

static void
test_old_and_absurd_readings_do_not_count(void **state)
{
    (void)state;
    static struct settle settle;
    struct settle_found found;
    settle_break(&settle);
    for (int i = 0; i < 31; i++)
        settle_add(&settle, (int64_t)i * 1000, i < 10 ? 50000 : 0);
    assert_int_equal(settle_look(&settle, WINDOW_MS, &found), SETTLE_MOVING);
    settle_add(&settle, 30000, 9000); /* not later than the last */
    for (int i = 31; i < 41; i++)
        settle_add(&settle, (int64_t)i * 1000, 0);
    assert_int_equal(settle_look(&settle, WINDOW_MS, &found), SETTLE_STEADY);
    assert_int_equal(found.mean_mC, 0);
    settle_add(&settle, 41000, INT32_MIN);
    assert_int_equal(settle_look(&settle, WINDOW_MS, &found), SETTLE_TOO_FEW);
    settle_break(&settle);
    for (int i = 0; i < 600; i++)
        settle_add(&settle, (int64_t)i * 3600000, i % 2 ? 2000000 : -2000000);
    assert_int_equal(settle_look(&settle, INT64_C(3600000) * 200, &found), SETTLE_MOVING);
}

static void
test_mean_is_rounded_to_the_nearest(void **state)
{
    (void)state;
    static struct settle settle;
    struct settle_found found;
    const int32_t below[] = {-1, -1, -1, 0, 0, 0}; /* mean -0.5 */
    settle_break(&settle);
    for (int i = 0; i < 6; i++)
        settle_add(&settle, (int64_t)i * 6000, below[i]);
    assert_int_equal(settle_look(&settle, WINDOW_MS, &found), SETTLE_STEADY);
    assert_int_equal(found.mean_mC, -1);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_needs_readings_over_the_whole_window),
        cmocka_unit_test(test_probe_read_seldom_settles_over_as_many_readings_as_are_needed),
        cmocka_unit_test(test_spread_exactly_at_the_bound_is_steady),
        cmocka_unit_test(test_creeping_is_moving_though_the_spread_is_small),
        cmocka_unit_test(test_a_probe_put_into_ice_is_steady_only_near_the_ice),
        cmocka_unit_test(test_old_and_absurd_readings_do_not_count),
        cmocka_unit_test(test_mean_is_rounded_to_the_nearest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
