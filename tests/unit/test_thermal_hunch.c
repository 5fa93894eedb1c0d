/* The hunch for coolings beside the bank: when it speaks, what it says, how it leans.
 *
 * The dishes are solved here with the plain conduction solver, whose checks against published
 * series are in test_thermal_conduction.c.  The hunch was fitted to made coolings with lids,
 * wet surfaces and errors of kitchens; these slabs are dry, so it may be some way off. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "daemon/thermal/conduction.h"
#include "daemon/thermal/hunch.h"

enum { CELLS = 40, STEPS_MAX = 8000 };

static double core_C[STEPS_MAX];
static struct record record;

/* A pan of 5 cm between both faces from 70 C, core every ten seconds; returns when it falls to
 * `limit_C`. */
static double
pan(double film_W_m2K, double air_C, double limit_C)
{
    static double volume[CELLS], link[CELLS], node[CELLS], temp[CELLS];
    struct conduction_grid grid = {CELLS, volume, link, node};
    conduction_grid_init(&grid, 1, 0.95);
    for (int i = 0; i < CELLS; i++)
        temp[i] = 70;
    double done_s = NAN;
    for (int i = 0; i < STEPS_MAX; i++) {
        core_C[i] = temp[0];
        if (isnan(done_s) && temp[0] <= limit_C)
            done_s = 10.0 * i;
        conduction_advance(&grid, film_W_m2K * 0.025 / 0.5, air_C,
                           10 * 1.35e-7 / (0.025 * 0.025), 0.6, temp);
    }
    return done_s;
}

static void
take(enum forecast_kind kind, double to_s, double air_C)
{
    record_begin(&record, kind, 57);
    for (double at = 0; at <= to_s; at += 10) {
        struct forecast_reading r = {at, core_C[(int)(at / 10)], air_C, FORECAST_NO_EVENT};
        int first;
        (void)record_take(&record, &r, &first);
    }
}

static const struct food_context NO_PRODUCT = {.kind = FORECAST_COOLING};

/* What the hunch makes of a bank that is `wrong` times too long; the truth is `left_s`. */
static double
leaned_s(double limit_C, double left_s, double wrong, double *ret_chance)
{
    struct forecast_limit limit = {limit_C, 6 * 3600};
    double bank_s = wrong * left_s;
    struct forecast_range eta = {0.5 * bank_s, bank_s, 2 * bank_s};
    assert_true(hunch_lean(&record, &NO_PRODUCT, &limit, &eta, ret_chance));
    assert_true(eta.p05 <= eta.p50 && eta.p50 <= eta.p95);
    return eta.p50;
}

static void
test_network_is_the_sum_of_its_cells(void **state)
{
    (void)state;
    static int16_t first[NETWORK_HIDDEN * 3], second[NETWORK_HIDDEN * (NETWORK_HIDDEN + 1)],
        last[NETWORK_HIDDEN + 1];
    first[0] = 500; /* cell 0: 0.5 + 1 x - 2 y */
    first[1] = 1000;
    first[2] = -2000;
    second[1] = 3000; /* cell 0: three times that cell, bent */
    last[0] = -1000;
    last[1] = 2000;
    const struct network network = {
        .inputs = 2, .outputs = 1, .first = first, .second = second, .last = last};
    double said[NETWORK_OUTPUTS_MAX];
    /* 0.5 + 2.5 - 2 = 1, bent 1/2; times 3 is 3/2, bent 3/5; twice that less 1 is 1/5. */
    network_run(&network, (const double[]){2.5, 1}, said);
    assert_true(fabs(said[0] - 0.2) < 1e-12);
    /* 0.5 - 2.5 + 1 = -1: the same below zero, -6/5 - 1. */
    network_run(&network, (const double[]){-2.5, -0.5}, said);
    assert_true(fabs(said[0] + 2.2) < 1e-12);
}

static void
test_hunch_draws_a_wrong_bank_to_the_truth(void **state)
{
    (void)state;
    const struct {
        double film_W_m2K, air_C, limit_C;
    } dishes[] = {{12, 2, 21}, {12, 2, 5}, {35, -4, 21}, {35, -4, 5}};
    const double wrong[] = {0.5, 2};
    for (int i = 0; i < 4; i++) {
        double done_s = pan(dishes[i].film_W_m2K, dishes[i].air_C, dishes[i].limit_C);
        double now_s = floor(0.5 * done_s / 60) * 60;
        take(FORECAST_COOLING, now_s, dishes[i].air_C);
        for (int k = 0; k < 2; k++) {
            double chance = NAN;
            double said_s = leaned_s(dishes[i].limit_C, done_s - now_s, wrong[k], &chance);
            assert_true(isnan(chance));
            assert_true(fabs(log(said_s / (done_s - now_s))) < 0.6 * log(2));
        }
    }
}

static void
test_hunch_moves_the_chance_of_a_miss_to_the_truth(void **state)
{
    (void)state;
    /* From 57 to 5 C takes 17 h in the one, 2.3 h in the other: six are allowed. */
    (void)pan(6, 3.5, 5);
    take(FORECAST_COOLING, 9000, 3.5);
    double chance = 0.5;
    (void)leaned_s(5, 56000, 1, &chance);
    assert_true(chance > 0.8);
    (void)pan(35, -4, 5);
    take(FORECAST_COOLING, 3000, -4);
    chance = 0.5;
    (void)leaned_s(5, 6800, 1, &chance);
    /* Some chillers are emptied after their cycle, so it is not quite sure of that one. */
    assert_true(chance < 0.35 && chance > 0);
}

static void
test_hunch_keeps_what_will_not_be_reached(void **state)
{
    (void)state;
    (void)pan(12, 2, 5);
    take(FORECAST_COOLING, 6000, 2);
    struct forecast_limit limit = {5, 0};
    struct forecast_range eta = {8000, 12000, INFINITY};
    double chance = NAN;
    assert_true(hunch_lean(&record, &NO_PRODUCT, &limit, &eta, &chance));
    assert_true(isinf(eta.p95) && isfinite(eta.p50));
}

static void
test_hunch_counts_less_beside_a_bank_that_is_sure(void **state)
{
    (void)state;
    double done_s = pan(12, 2, 21), now_s = 3000, bank_s = 2 * (done_s - now_s);
    take(FORECAST_COOLING, now_s, 2);
    struct forecast_limit limit = {21, 0};
    struct forecast_range sure = {0.99 * bank_s, bank_s, 1.01 * bank_s};
    struct forecast_range vague = {0.5 * bank_s, bank_s, 2 * bank_s};
    double chance = NAN;
    assert_true(hunch_lean(&record, &NO_PRODUCT, &limit, &sure, &chance));
    assert_true(hunch_lean(&record, &NO_PRODUCT, &limit, &vague, &chance));
    assert_true(vague.p50 < sure.p50 && sure.p50 > 0.95 * bank_s);
}

static void
test_hunch_yields_to_earlier_batches(void **state)
{
    (void)state;
    double done_s = pan(12, 2, 21), now_s = 3000, bank_s = 3 * (done_s - now_s);
    take(FORECAST_COOLING, now_s, 2);
    struct food_context known = NO_PRODUCT;
    for (int k = 0; k < FORECAST_UNKNOWNS; k++)
        known.prior.spread[k] = 0.1;
    struct forecast_limit limit = {21, 0};
    struct forecast_range eta = {0.5 * bank_s, bank_s, 2 * bank_s};
    double chance = NAN;
    assert_true(hunch_lean(&record, &known, &limit, &eta, &chance));
    assert_true(eta.p50 < bank_s && eta.p50 > 0.95 * bank_s);
}

static void
test_hunch_is_silent_where_it_knows_nothing(void **state)
{
    (void)state;
    double sign[HUNCH_SIGNS], straight_s;
    (void)pan(12, 2, 5);
    take(FORECAST_COOLING, 3000, 2);
    assert_true(hunch_signs(&record, 21, sign, &straight_s));
    assert_false(
        hunch_signs(&record, 36, sign, &straight_s)); /* limits it was not fitted for */
    assert_false(hunch_signs(&record, 3, sign, &straight_s));
    take(FORECAST_COOK, 3000, 2);
    assert_false(hunch_signs(&record, 21, sign, &straight_s));
    take(FORECAST_COOLING, 240, 2); /* too early */
    assert_false(hunch_signs(&record, 21, sign, &straight_s));
    take(FORECAST_COOLING, 3000, 2);
    struct forecast_reading moved = {3010, NAN, NAN, FORECAST_MOVED};
    int first;
    (void)record_take(&record, &moved, &first); /* just moved */
    assert_false(hunch_signs(&record, 21, sign, &straight_s));
    for (int i = 0; i < STEPS_MAX; i++)
        core_C[i] *= 0.7; /* never hot */
    take(FORECAST_COOLING, 3000, 2);
    assert_false(hunch_signs(&record, 21, sign, &straight_s));
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_network_is_the_sum_of_its_cells),
        cmocka_unit_test(test_hunch_draws_a_wrong_bank_to_the_truth),
        cmocka_unit_test(test_hunch_moves_the_chance_of_a_miss_to_the_truth),
        cmocka_unit_test(test_hunch_keeps_what_will_not_be_reached),
        cmocka_unit_test(test_hunch_counts_less_beside_a_bank_that_is_sure),
        cmocka_unit_test(test_hunch_yields_to_earlier_batches),
        cmocka_unit_test(test_hunch_is_silent_where_it_knows_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
