/* The simulated kitchen keeps the laws it should: energy, no overshoot, determinism. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <string.h>

#include "tests/kitchen/physics.c" /* no part of the library that tests are linked with */

#define HOUR_MS 3600000LL

static const struct food ball = {.radius_m = 0.05,
                                 .conductivity_W_mK = 0.5,
                                 .diffusivity_m2_s = 1.3e-7,
                                 .surface_W_m2K = 25.0};

static void
test_food_gains_exactly_the_heat_it_takes(void **state)
{
    (void)state;
    struct food food = ball;
    food_set(&food, 5.0);
    const double before_J = food_heat_J(&food);
    double taken_J = 0.0;
    for (int i = 0; i < 7200; i++)
        taken_J += food_step(&food, 160.0, 1.0);
    assert_true(taken_J > 0.0);
    assert_true(fabs(food_heat_J(&food) - before_J - taken_J) < 1e-6 * taken_J);
}

static void
test_food_in_air_of_its_own_temperature_stays(void **state)
{
    (void)state;
    struct food food = ball;
    food_set(&food, 63.0);
    for (int i = 0; i < 3600; i++)
        assert_true(fabs(food_step(&food, 63.0, 1.0)) < 1e-9);
    assert_true(fabs(food.shell_C[0] - 63.0) < 1e-9);
}

/* Heat conduction has no extremes inside: shells stay in order, and between start and air. */
static void
test_food_never_passes_its_air_and_its_shells_stay_in_order(void **state)
{
    (void)state;
    struct food food = ball;
    food_set(&food, 5.0);
    for (int i = 0; i < 10 * 3600; i++) {
        (void)food_step(&food, 160.0, 1.0);
        double inner_C = 5.0 - 1e-9;
        for (size_t k = 0; k < FOOD_SHELLS; k++) {
            assert_true(food.shell_C[k] >= inner_C - 1e-9);
            inner_C = food.shell_C[k];
        }
        assert_true(inner_C <= 160.0);
    }
    assert_true(food.shell_C[0] > 159.0);
}

/* A sphere under constant surroundings late in its course: the core's difference falls by
 * exp(-mu1^2 a t / r^2), where 1 - mu1 cot(mu1) = Bi (classical solution, any textbook of heat
 * conduction). */
static void
test_food_cools_at_the_rate_of_the_classical_solution(void **state)
{
    (void)state;
    const double biot = ball.surface_W_m2K * ball.radius_m / ball.conductivity_W_mK;
    double low = 1e-6, high = PI - 1e-6;
    for (int i = 0; i < 60; i++) {
        const double mu = (low + high) / 2.0;
        if (1.0 - mu / tan(mu) < biot)
            low = mu;
        else
            high = mu;
    }
    const double rate_per_s =
        low * low * ball.diffusivity_m2_s / (ball.radius_m * ball.radius_m);
    struct food food = ball;
    food_set(&food, 80.0);
    for (int i = 0; i < 3600; i++)
        (void)food_step(&food, 0.0, 1.0);
    const double from_C = food.shell_C[0];
    for (int i = 0; i < 3600; i++)
        (void)food_step(&food, 0.0, 1.0);
    const double seen_per_s = log(from_C / food.shell_C[0]) / 3600.0;
    /* Ten shells are coarse: 2 % here. */
    print_message("rate %.3e per s, classical %.3e per s\n", seen_per_s, rate_per_s);
    assert_true(fabs(seen_per_s / rate_per_s - 1.0) < 0.03);
}

static void
test_thermostat_swings_around_its_setting(void **state)
{
    (void)state;
    struct air oven = cold_start.oven;
    uint64_t seed = 1;
    double least_C = 1000.0, most_C = 0.0;
    int switched = 0;
    for (int64_t s = 1; s <= 4 * 3600; s++) {
        const bool was = oven.running;
        air_step(&oven, s * 1000, 1.0, &seed);
        switched += was != oven.running;
        least_C = fmin(least_C, oven.temp_C);
        most_C = fmax(most_C, oven.temp_C);
    }
    assert_true(switched > 20);
    assert_true(least_C > oven.low_C - 1.0 && least_C < oven.low_C + 0.5);
    assert_true(most_C < oven.high_C + 1.0 && most_C > oven.high_C - 0.5);
}

static void
test_compressor_cools_and_an_open_door_warms(void **state)
{
    (void)state;
    struct air fridge = cold_start.counter_fridge;
    uint64_t seed = 1;
    fridge.temp_C = 10.0;
    air_step(&fridge, 1000, 1.0, &seed);
    assert_true(fridge.running);
    assert_true(fridge.temp_C < 10.0);
    fridge.running = false;
    fridge.temp_C = 3.0;
    const double closed_C = fridge.temp_C;
    air_step(&fridge, 2000, 1.0, &seed);
    const double by_walls_C = fridge.temp_C - closed_C;
    fridge.door_open = true;
    const double open_C = fridge.temp_C;
    air_step(&fridge, 3000, 1.0, &seed);
    assert_true(fridge.temp_C - open_C > 5.0 * by_walls_C);
}

/* The day that the demo shows: told in the trade's numbers, so that every place of the plan has
 * something to do. */
static void
test_day_goes_as_the_demo_tells_it(void **state)
{
    (void)state;
    struct kitchen kitchen;
    kitchen_begin(&kitchen, 1);
    int64_t roast_63_ms = 0, filling_21_ms = 0, filling_5_ms = 0;
    double oven_most_C = 0.0, roast_most_C = 0.0, walk_in_most_C = 0.0,
           cupboard_least_C = 100.0;
    bool door = false;
    while (kitchen.at_ms < 8 * HOUR_MS) {
        kitchen_advance(&kitchen, kitchen.at_ms + 1000);
        oven_most_C = fmax(oven_most_C, kitchen.oven.temp_C);
        assert_true(kitchen_roast_core_a_C(&kitchen) <= oven_most_C);
        assert_true(kitchen_filling_core_C(&kitchen) <= 82.0 + 1e-9);
        roast_most_C = fmax(roast_most_C, kitchen_roast_core_a_C(&kitchen));
        walk_in_most_C = fmax(walk_in_most_C, kitchen.walk_in.temp_C);
        cupboard_least_C = fmin(cupboard_least_C, kitchen.hot_cupboard.temp_C);
        door = door || kitchen.walk_in.door_open;
        if (roast_63_ms == 0 && kitchen_roast_core_a_C(&kitchen) >= 63.0)
            roast_63_ms = kitchen.at_ms;
        if (filling_21_ms == 0 && kitchen_filling_core_C(&kitchen) <= 21.0)
            filling_21_ms = kitchen.at_ms;
        if (filling_5_ms == 0 && kitchen_filling_core_C(&kitchen) <= 5.0)
            filling_5_ms = kitchen.at_ms;
    }
    print_message("roast 63 C after %d min, filling 21 C after %d min and 5 C after %d min, "
                  "walk-in up to "
                  "%.1f C, hot cupboard down to %.1f C\n",
                  (int)(roast_63_ms / 60000), (int)(filling_21_ms / 60000),
                  (int)(filling_5_ms / 60000), walk_in_most_C, cupboard_least_C);
    assert_in_range(roast_63_ms, HOUR_MS / 2, 3 * HOUR_MS);
    assert_in_range(filling_21_ms, HOUR_MS / 3, 2 * HOUR_MS);
    assert_in_range(filling_5_ms, filling_21_ms, 6 * HOUR_MS);
    assert_true(kitchen.roast_done);
    assert_true(kitchen_roast_core_a_C(&kitchen) < 85.0); /* held, not burnt */
    assert_true(roast_most_C < 90.0);                     /* no wet core gets near 100 */
    assert_true(door);
    assert_true(walk_in_most_C > 4.5 && walk_in_most_C < 10.0);
    assert_true(cupboard_least_C > 63.0);
}

static void
test_same_seed_gives_the_same_day_however_it_is_asked(void **state)
{
    (void)state;
    static struct kitchen once, often, other;
    kitchen_begin(&once, 7);
    kitchen_begin(&often, 7);
    kitchen_begin(&other, 8);
    kitchen_advance(&once, 3 * HOUR_MS);
    kitchen_advance(&other, 3 * HOUR_MS);
    for (int64_t at_ms = 0; at_ms <= 3 * HOUR_MS; at_ms += 777)
        kitchen_advance(&often, at_ms);
    kitchen_advance(&often, 3 * HOUR_MS);
    kitchen_advance(&often, HOUR_MS); /* backwards: nothing */
    assert_int_equal(once.at_ms, often.at_ms);
    assert_true(once.walk_in.temp_C == often.walk_in.temp_C);
    assert_true(once.counter_fridge.temp_C == often.counter_fridge.temp_C);
    assert_true(once.roast.shell_C[0] == often.roast.shell_C[0]);
    assert_true(once.counter_fridge.temp_C != other.counter_fridge.temp_C);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_food_gains_exactly_the_heat_it_takes),
        cmocka_unit_test(test_food_in_air_of_its_own_temperature_stays),
        cmocka_unit_test(test_food_never_passes_its_air_and_its_shells_stay_in_order),
        cmocka_unit_test(test_food_cools_at_the_rate_of_the_classical_solution),
        cmocka_unit_test(test_thermostat_swings_around_its_setting),
        cmocka_unit_test(test_compressor_cools_and_an_open_door_warms),
        cmocka_unit_test(test_day_goes_as_the_demo_tells_it),
        cmocka_unit_test(test_same_seed_gives_the_same_day_however_it_is_asked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
