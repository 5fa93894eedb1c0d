/* What a forecast knows of cold places: food warms the one it comes into, some chillers mind
 * frost, and some dishes are taken out of one at the end of its cycle.
 *
 * The dishes are solved here with the plain conduction solver, whose checks against published
 * series are in test_thermal_conduction.c; what the places do is written out here, so what
 * comes is known.  Each test holds food in two places that read alike until the question. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "daemon/thermal/conduction.h"
#include "daemon/thermal/food.h"
#include "include/trivet/forecast.h"

enum { CELLS = 40, STEP_S = 10, STEPS_MAX = 9000 };

static const double CONDUCTIVITY_W_mK = 0.47, DIFFUSIVITY_M2_S = 1.35e-7;

/* A slab of food and the place it stands in, and what becomes of both. */
struct scene {
    double half_depth_m;
    double start_C;
    double film_W_m2K, own_C; /* of the place, empty */
    double load;              /* kelvin of its air for each kelvin the core is above it */
    double frost_free_C;      /* its air is let up so far that the surface stays here; NAN */
    double move_s;            /* into the second place; INFINITY: never */
    double second_film_W_m2K, second_C;
};

struct trace {
    double core_C[STEPS_MAX], air_C[STEPS_MAX], surface_C[STEPS_MAX];
};

/* The coldest air in which the surface is no colder than `least_C`. */
static double
air_for(double least_C, const struct conduction_grid *grid, const struct scene *s,
        double last_C)
{
    double inner = grid->link[CELLS - 1] * CONDUCTIVITY_W_mK / s->half_depth_m;
    return least_C - inner * (last_C - least_C) / s->film_W_m2K;
}

static void
play(const struct scene *s, struct trace *ret_trace)
{
    static double volume[CELLS], link[CELLS], node[CELLS], temp[CELLS];
    struct conduction_grid grid = {CELLS, volume, link, node};
    conduction_grid_init(&grid, 1, 0.95);
    for (int i = 0; i < CELLS; i++)
        temp[i] = s->start_C;
    double dt_fo = STEP_S * DIFFUSIVITY_M2_S / (s->half_depth_m * s->half_depth_m);
    for (int i = 0; i < STEPS_MAX; i++) {
        bool moved = STEP_S * i >= s->move_s;
        double film = moved ? s->second_film_W_m2K : s->film_W_m2K;
        double air_C = moved ? s->second_C : s->own_C + s->load * (temp[0] - s->own_C);
        if (!moved && !isnan(s->frost_free_C))
            air_C = fmax(air_C, fmin(air_for(s->frost_free_C, &grid, s, temp[CELLS - 1]),
                                     s->frost_free_C));
        double biot = film * s->half_depth_m / CONDUCTIVITY_W_mK;
        double flux_K = conduction_convection(&grid, biot, air_C, temp[CELLS - 1]).flux_K;
        ret_trace->core_C[i] = temp[0];
        ret_trace->air_C[i] = air_C;
        ret_trace->surface_C[i] = conduction_surface(&grid, temp[CELLS - 1], flux_K);
        conduction_advance(&grid, biot, air_C, dt_fo, 0.6, temp);
    }
}

static double
time_of(const struct trace *trace, double target_C)
{
    for (int i = 0; i < STEPS_MAX; i++)
        if (trace->core_C[i] <= target_C)
            return STEP_S * i;
    fail_msg("the made food never gets down to %g C", target_C);
    return 0;
}

static struct forecaster forecaster;

/* Feeds what was read until `now_s`, in tenths and with a little repeatable noise, and asks.
 * The food has to be at 21 C within two hours of 57 C, and at `second_C` within `within_s`. */
static struct forecast
asked(const struct trace *trace, double now_s, double second_C, double within_s, double told_s)
{
    struct forecast_setup setup = {.kind = FORECAST_COOLING,
                                   .limits = 2,
                                   .clock_from_C = 57,
                                   .oven_C = NAN,
                                   .room_C = NAN};
    setup.limit[0] = (struct forecast_limit){21, 7200};
    setup.limit[1] = (struct forecast_limit){second_C, within_s};
    const char *reason = "";
    if (!forecaster_init(&forecaster, &setup, &reason))
        fail_msg("%s", reason);
    for (int i = 0; STEP_S * i <= now_s; i++) {
        double noise_K = 0.06 * sin(12.9898 * i) + 0.05 * sin(78.233 * i + 1);
        struct forecast_reading r = {STEP_S * i, round(10 * (trace->core_C[i] + noise_K)) / 10,
                                     round(10 * (trace->air_C[i] + noise_K)) / 10,
                                     STEP_S * i == told_s ? FORECAST_MOVED : FORECAST_NO_EVENT};
        assert_true(forecaster_feed(&forecaster, &r));
    }
    struct forecast f;
    forecaster_ask(&forecaster, NULL, &f);
    assert_int_equal(f.refusal, FORECAST_GIVEN);
    return f;
}

static struct trace one, other;

/* What both traces show until then is the same, to the last digit. */
static void
assert_read_alike_until(double at_s)
{
    for (int i = 0; STEP_S * i <= at_s; i++)
        assert_true(fabs(one.core_C[i] - other.core_C[i]) < 1e-9 &&
                    fabs(one.air_C[i] - other.air_C[i]) < 1e-9);
}

static bool
about(double value, double truth, double share)
{
    return fabs(value - truth) < share * truth;
}

/* Three hours in, both refrigerators show 3.4 C and the food is near 20 C.  In one the air has
 * fallen with the food and will go on doing so, in the other it stood there all the time: 4 C
 * is four hours away in the first and six in the second. */
static void
test_how_much_the_food_warms_its_place_is_learned_from_the_air(void **state)
{
    (void)state;
    const double at_s = 10800;
    struct scene warmed = {0.02, 75, 12, 1, 0.12, NAN, INFINITY, 0, 0};
    play(&warmed, &one);
    struct scene steady = warmed;
    steady.load = 0;
    steady.own_C = one.air_C[(int)at_s / STEP_S];
    play(&steady, &other);
    double falls_s = time_of(&one, 4) - at_s, stands_s = time_of(&other, 4) - at_s;
    assert_true(stands_s > 1.4 * falls_s);
    struct forecast falls = asked(&one, at_s, 4, 21600, NAN);
    struct forecast stands = asked(&other, at_s, 4, 21600, NAN);
    if (!about(falls.eta_s[1].p50, falls_s, 0.2) || !about(stands.eta_s[1].p50, stands_s, 0.2))
        fail_msg("4 C in %.0f s of %.0f, and in %.0f s of %.0f", falls.eta_s[1].p50, falls_s,
                 stands.eta_s[1].p50, stands_s);
    /* The food in the first is even the warmer one now. */
    assert_true(one.core_C[(int)at_s / STEP_S] > other.core_C[(int)at_s / STEP_S]);
    assert_true(falls.eta_s[1].p50 < stands.eta_s[1].p50);
}

/* Before anything was learned: some three kelvin for food 70 K above (common practice, no
 * source), nothing in a place that food does not warm, and what a probe says goes before. */
static void
test_cold_place_without_a_probe_is_believed_warmed(void **state)
{
    (void)state;
    struct food food = {
        .state = {73}, .traits = {.place = {{.medium_C = 3, .warmed = true}, {.medium_C = 3}}}};
    assert_true(fabs(food_medium(&food, 0, NAN, 0) - 6) < 0.5);
    assert_true(fabs(food_medium(&food, 1, NAN, 0) - 3) < 1e-9);
    assert_true(fabs(food_medium(&food, 0, 4.5, 0) - 4.5) < 1e-9);
    food.state[0] = 2; /* colder than the place: it takes nothing from it */
    assert_true(fabs(food_medium(&food, 0, NAN, 0) - 3) < 1e-9);
}

/* One chiller freezes what stands in it, the other lets its air up before it does; until the
 * surface is near freezing both read the same.  Core at 1 C before or after a moment between
 * the two outcomes is then one in two, or a little less: the surface of some candidates stays
 * warmer. */
static void
test_chiller_may_mind_frost_until_it_has_frozen_the_surface(void **state)
{
    (void)state;
    struct scene hard = {0.02, 75, 28, -12, 0.03, NAN, INFINITY, 0, 0}, minds = hard;
    minds.frost_free_C = 0.5;
    play(&hard, &one);
    play(&minds, &other);
    double hard_s = time_of(&one, 1), minds_s = time_of(&other, 1);
    assert_true(minds_s > hard_s + 1200);
    double within_s = 0.5 * (hard_s + minds_s) - time_of(&one, 57);
    assert_read_alike_until(4200);
    struct forecast f = asked(&one, 4200, 1, within_s, NAN);
    if (!(f.miss_chance[1] > 0.2 && f.miss_chance[1] < 0.5))
        fail_msg("that it minds frost is given %.2f", f.miss_chance[1]);
    assert_true(f.eta_s[1].p05 <= hard_s - 4200 && f.eta_s[1].p95 >= minds_s - 4200);
    /* Forty minutes on the surface of the one is at -2 C in air of -11.5 C. */
    assert_true(one.surface_C[660] < -1.5 && other.surface_C[660] > 0.4);
    f = asked(&one, 6600, 1, within_s, NAN);
    if (!(f.miss_chance[1] < 0.1) || !about(f.eta_s[1].p50, hard_s - 6600, 0.1))
        fail_msg("frozen, and yet %.2f, and %.0f s of %.0f", f.miss_chance[1], f.eta_s[1].p50,
                 hard_s - 6600);
}

/* In the chiller the food would be in time by two hours, in the refrigerator it is late by
 * hours.  That it is taken there between one and two hours, to make room, is believed of a
 * quarter of dishes and of fewer the longer it stays. */
static void
test_end_of_a_cycle_is_reckoned_with_while_it_can_come(void **state)
{
    (void)state;
    struct scene stays = {0.03, 75, 25, -4, 0.03, NAN, INFINITY, 8, 3}, moved = stays;
    moved.move_s = 5400;
    play(&stays, &one);
    play(&moved, &other);
    double clock_s = time_of(&one, 57), stays_s = time_of(&one, 5);
    assert_true(stays_s - clock_s < 21600 - 7200 && time_of(&other, 5) - clock_s > 2 * 21600);
    assert_read_alike_until(4800);
    struct forecast f = asked(&one, 4800, 5, 21600, NAN);
    if (!(f.miss_chance[1] > 0.06 && f.miss_chance[1] < 0.3))
        fail_msg("that the cycle ends is given %.2f", f.miss_chance[1]);
    assert_true(f.eta_s[1].p95 > 2 * (stays_s - 4800));
    if (!about(f.eta_s[1].p50, stays_s - 4800, 0.15))
        fail_msg("%.0f s of %.0f", f.eta_s[1].p50, stays_s - 4800);
    /* Still in it after two hours and ten minutes. */
    f = asked(&one, 7800, 5, 21600, NAN);
    assert_true(f.miss_chance[1] < 0.03 && f.eta_s[1].p95 < 2 * (stays_s - 7800));
}

/* The same move, said (as when a person moves the batch) and not said, ten minutes after it. */
static void
test_move_that_is_said_is_known_at_once(void **state)
{
    (void)state;
    struct scene moved = {0.03, 75, 25, -4, 0.03, NAN, 5400, 8, 3};
    play(&moved, &other);
    struct forecast unsaid = asked(&other, 6000, 5, 21600, NAN);
    struct forecast said = asked(&other, 6000, 5, 21600, 5400);
    if (!(said.miss_chance[1] > 0.8) || !(unsaid.miss_chance[1] < said.miss_chance[1]))
        fail_msg("said %.2f, unsaid %.2f", said.miss_chance[1], unsaid.miss_chance[1]);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_how_much_the_food_warms_its_place_is_learned_from_the_air),
        cmocka_unit_test(test_cold_place_without_a_probe_is_believed_warmed),
        cmocka_unit_test(test_chiller_may_mind_frost_until_it_has_frozen_the_surface),
        cmocka_unit_test(test_end_of_a_cycle_is_reckoned_with_while_it_can_come),
        cmocka_unit_test(test_move_that_is_said_is_known_at_once),
    };
    return cmocka_run_group_tests_name("thermal cold", tests, NULL, NULL);
}
