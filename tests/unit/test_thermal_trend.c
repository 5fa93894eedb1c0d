/* The rule of thumb beside the bank: when it speaks, what it says, how much it weighs.
 *
 * The dishes are solved here with the plain conduction solver, whose checks against published
 * series are in test_thermal_conduction.c.  The rule was fitted to made cooks with drying
 * surfaces and errors of kitchens, and these dishes are dry: early it may be half too long. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "daemon/thermal/conduction.h"
#include "daemon/thermal/trend.h"

enum { CELLS = 40, STEPS_MAX = 3000 };

static double core_C[STEPS_MAX];

/* A roast of 5 cm radius, core every ten seconds; returns when it reaches `target_C`. */
static double
roast(double oven_C, double target_C)
{
    static double volume[CELLS], link[CELLS], node[CELLS], temp[CELLS];
    struct conduction_grid grid = {CELLS, volume, link, node};
    conduction_grid_init(&grid, 2.4, 0.95);
    for (int i = 0; i < CELLS; i++)
        temp[i] = 8;
    double done_s = NAN;
    for (int i = 0; i < STEPS_MAX; i++) {
        core_C[i] = temp[0];
        if (isnan(done_s) && temp[0] >= target_C)
            done_s = 10.0 * i;
        conduction_advance(&grid, 20 * 0.05 / 0.47, oven_C, 10 * 1.35e-7 / 0.0025, 0.6, temp);
    }
    return done_s;
}

static struct food_context
context_of(double target_C)
{
    return (struct food_context){.kind = FORECAST_COOK, .target_C = target_C, .start_C = 8};
}

static struct record record;

static void
take(double from_s, double to_s, double air_C, double core_from_s, enum forecast_event last)
{
    for (double at = from_s; at <= to_s; at += 10) {
        bool end = at + 10 > to_s;
        struct forecast_reading r = {at, at < core_from_s ? NAN : core_C[(int)(at / 10)], air_C,
                                     end ? last : FORECAST_NO_EVENT};
        int first;
        (void)record_take(&record, &r, &first);
    }
}

static double
left_at(double now_s, double air_C, double target_C)
{
    struct food_context context = context_of(target_C);
    record_begin(&record, FORECAST_COOK, NAN);
    take(0, now_s, air_C, 0, FORECAST_NO_EVENT);
    return trend_left_s(&record, &context, target_C);
}

static void
test_trend_is_near_the_truth(void **state)
{
    (void)state;
    const double oven[] = {110, 150, 190};
    const double part[] = {0.3, 0.5, 0.7, 0.85};
    const double allowed[] = {0.55, 0.2, 0.15, 0.15};
    for (int i = 0; i < 3; i++) {
        double done_s = roast(oven[i], 60);
        for (int k = 0; k < 4; k++) {
            double now_s = floor(part[k] * done_s / 60) * 60;
            double left_s = left_at(now_s, oven[i], 60);
            assert_true(fabs(left_s - (done_s - now_s)) < allowed[k] * (done_s - now_s));
        }
    }
}

static void
test_trend_manages_without_an_air_probe(void **state)
{
    (void)state;
    double done_s = roast(150, 60);
    double now_s = floor(0.5 * done_s / 60) * 60;
    double left_s = left_at(now_s, NAN, 60);
    assert_true(fabs(left_s - (done_s - now_s)) < 0.3 * (done_s - now_s));
    /* A hotter target takes longer. */
    assert_true(left_at(now_s, NAN, 70) > left_s);
}

static void
test_trend_is_silent_where_it_knows_nothing(void **state)
{
    (void)state;
    (void)roast(150, 60);
    struct food_context context = context_of(60);
    assert_true(isnan(left_at(400, 150, 60))); /* too early */
    record_begin(&record, FORECAST_COOK, NAN);
    take(0, 3000, 150, 900, FORECAST_NO_EVENT); /* a probe that went in after a quarter hour */
    assert_true(isnan(trend_left_s(&record, &context, 60)));
    record_begin(&record, FORECAST_COOK, NAN);
    take(0, 3000, 150, 0, FORECAST_REMOVED);
    assert_true(isnan(trend_left_s(&record, &context, 60)));
    record_begin(&record, FORECAST_COOLING, 57);
    take(0, 3000, 150, 0, FORECAST_NO_EVENT);
    assert_true(isnan(trend_left_s(&record, &context, 60)));
    record_begin(&record, FORECAST_COOK, NAN);
    take(0, 3000, 150, 0, FORECAST_NO_EVENT);
    assert_true(!isnan(trend_left_s(&record, &context, 60)));
    take(3010, 3360, 190, 0, FORECAST_NO_EVENT); /* the oven has just been turned up */
    assert_true(isnan(trend_left_s(&record, &context, 60)));
}

static void
test_trend_weighs_less_late_and_for_a_known_product(void **state)
{
    (void)state;
    struct food_context context = context_of(60);
    double rule_s = left_at(1800, 150, 60);
    double early = trend_factor(&record, &context, 60, 2 * rule_s);
    assert_true(early > 0.6 && early < 1); /* towards the rule, not all the way */
    assert_true(trend_factor(&record, &context, 60, rule_s) > 0.999);
    assert_true(trend_factor(&record, &context, 60, rule_s) < 1.001);
    for (int k = 0; k < FORECAST_UNKNOWNS; k++)
        context.prior.spread[k] = 0.3; /* what earlier batches taught goes before */
    double known = trend_factor(&record, &context, 60, 2 * rule_s);
    assert_true(known > 0.94 && known < 1);
    double nothing = trend_factor(&record, &context, 60, INFINITY);
    assert_true(nothing >= 1 && nothing <= 1);
    context = context_of(60);
    rule_s = left_at(3600, 150, 60);
    assert_true(trend_factor(&record, &context, 60, 2 * rule_s) > early);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_trend_is_near_the_truth),
        cmocka_unit_test(test_trend_manages_without_an_air_probe),
        cmocka_unit_test(test_trend_is_silent_where_it_knows_nothing),
        cmocka_unit_test(test_trend_weighs_less_late_and_for_a_known_product),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
