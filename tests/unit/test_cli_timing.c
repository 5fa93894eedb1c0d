/* Dishes as people write them, and their order on the clock. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/cli/timing.h"

static struct timing_dish
planned(double cook_min, double late_min, double rest_min)
{
    struct timing_dish d = {.put_in_ms = TIME_NONE, .usual_ms = TIME_NONE};
    d.planned.target_s = (struct forecast_range){0, cook_min * 60, late_min * 60};
    d.planned.rest_s = (struct forecast_range){0, rest_min * 60, rest_min * 90};
    return d;
}

static void
test_a_dish_as_written(void **state)
{
    (void)state;
    struct timing_dish d;
    char product[PLAN_NAME_MAX + 1], why[300];
    assert_true(timing_dish_read("pork-loin,2.4kg,to 66C, from 41F,roll,dough", product, &d,
                                 why, sizeof why));
    assert_string_equal(product, "pork-loin");
    assert_true(fabs(d.dish.mass_g - 2400) < 1e-9 && isnan(d.dish.thickness_mm));
    assert_true(fabs(d.dish.target_C - 66) < 1e-9 && d.target_told);
    assert_true(fabs(d.dish.start_C - 5) < 1e-9 && d.start_told); /* 41 F is 5 C */
    assert_int_equal(d.dish.shape, DISH_ROLL);
    assert_int_equal(d.dish.wrap, DISH_DOUGH);
    assert_true(timing_dish_read("Leek tart,40mm", product, &d, why, sizeof why));
    assert_string_equal(product, "Leek tart");
    assert_true(fabs(d.dish.thickness_mm - 40) < 1e-9 && isnan(d.dish.mass_g));
    assert_false(d.start_told || d.target_told);
}

static void
test_what_is_not_understood(void **state)
{
    (void)state;
    static const char *const BAD[][2] = {
        {"", "begins with its product"}, {",2kg", "begins with its product"},
        {"loin,heavy", "'heavy'"},       {"loin,to warm", "warm"},
        {"loin,2.4", "'2.4'"},           {"loin,", "''"},
        {"loin,from 200", "200"},
    };
    struct timing_dish d;
    char product[PLAN_NAME_MAX + 1], why[300];
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++) {
        assert_false(timing_dish_read(BAD[i][0], product, &d, why, sizeof why));
        assert_non_null(strstr(why, BAD[i][1]));
    }
}

#define MIN INT64_C(60000)

/* Each is out in time to rest, even if it is slow. */
static void
test_together_in_one_oven(void **state)
{
    (void)state;
    struct timing_dish d[2] = {planned(40, 50, 5), planned(90, 110, 20)};
    timing_backward(d, 2, 1000 * MIN, false);
    assert_int_equal(d[0].put_in_ms,
                     (1000 - 20 - 110) * MIN); /* what rests longest comes first */
    assert_int_equal(d[0].usual_ms, (1000 - 20 - 90) * MIN);
    assert_int_equal(d[1].put_in_ms, (1000 - 5 - 50) * MIN);
}

/* One at a time: no two are in at once, even if both are slow, and all have rested. */
static void
test_one_after_another(void **state)
{
    (void)state;
    struct timing_dish d[3] = {planned(40, 50, 5), planned(90, 110, 20), planned(30, 35, 12)};
    timing_backward(d, 3, 1000 * MIN, true);
    for (size_t i = 0; i < 3; i++) {
        int64_t out_ms = d[i].put_in_ms + (int64_t)(d[i].planned.target_s.p95 * 1000);
        assert_true(out_ms + (int64_t)(d[i].planned.rest_s.p50 * 1000) <= 1000 * MIN);
        if (i + 1 < 3)
            assert_true(out_ms <= d[i + 1].put_in_ms);
    }
    assert_int_equal(d[2].put_in_ms, 945 * MIN);
    assert_int_equal(d[1].put_in_ms, (945 - 35) * MIN);
    assert_int_equal(d[0].put_in_ms, (910 - 110) * MIN);
}

static void
test_from_a_moment_on(void **state)
{
    (void)state;
    struct timing_dish d[2] = {planned(40, 50, 5), planned(90, 110, 20)};
    timing_forward(d, 2, 100 * MIN, true);
    assert_int_equal(d[0].put_in_ms, 100 * MIN);
    assert_int_equal(d[1].put_in_ms, 210 * MIN);
    timing_forward(d, 2, 100 * MIN, false);
    assert_int_equal(d[1].put_in_ms, 100 * MIN);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_dish_as_written),
        cmocka_unit_test(test_what_is_not_understood),
        cmocka_unit_test(test_together_in_one_oven),
        cmocka_unit_test(test_one_after_another),
        cmocka_unit_test(test_from_a_moment_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
