/* See physics.h. Sizes and coefficients are round figures of the trade's order of magnitude
 * (common practice, no source): moist food conducts about 0.5 W/mK with a diffusivity of
 * about 1.3e-7 m2/s. */
#include "tests/kitchen/physics.h"

#include <string.h>

#define ROOM_C    22.0
#define STEP_MS   1000
#define PI        3.14159265358979323846
#define MINUTE_MS INT64_C(60000)

#define ROAST_DONE_C        70.0
#define ROAST_PROBE_B_SHELL 3
/* Trays of filling in the chiller, and the heat that its air and walls take up. */
#define FILLING_PORTIONS 6.0
#define CHILLER_J_PER_K  40000.0

/* ---- food ---- */

void
food_set(struct food *food, double temp_C)
{
    for (size_t i = 0; i < FOOD_SHELLS; i++)
        food->shell_C[i] = temp_C;
}

static double
shell_J_per_K(const struct food *food, size_t shell)
{
    const double thick_m = food->radius_m / FOOD_SHELLS;
    const double inner_m = thick_m * (double)shell;
    const double outer_m = inner_m + thick_m;
    const double volume_m3 =
        4.0 / 3.0 * PI * (outer_m * outer_m * outer_m - inner_m * inner_m * inner_m);
    return volume_m3 * food->conductivity_W_mK / food->diffusivity_m2_s;
}

double
food_heat_J(const struct food *food)
{
    double heat_J = 0.0;
    for (size_t i = 0; i < FOOD_SHELLS; i++)
        heat_J += shell_J_per_K(food, i) * food->shell_C[i];
    return heat_J;
}

/* Explicit finite volumes: stable while the step is below thick^2 / (6 diffusivity), 15 s for
 * the smallest food here. */
double
food_step(struct food *food, double air_C, double step_s)
{
    const double thick_m = food->radius_m / FOOD_SHELLS;
    double
        inflow_W[FOOD_SHELLS + 1]; /* through the inner face of each shell, outwards negative */
    inflow_W[0] = 0.0;
    for (size_t i = 1; i < FOOD_SHELLS; i++) {
        const double face_m = thick_m * (double)i;
        inflow_W[i] = 4.0 * PI * face_m * face_m * food->conductivity_W_mK / thick_m *
                      (food->shell_C[i] - food->shell_C[i - 1]);
    }
    const double through_W_m2K =
        1.0 / (1.0 / food->surface_W_m2K + thick_m / 2.0 / food->conductivity_W_mK);
    inflow_W[FOOD_SHELLS] = 4.0 * PI * food->radius_m * food->radius_m * through_W_m2K *
                            (air_C - food->shell_C[FOOD_SHELLS - 1]);
    for (size_t i = 0; i < FOOD_SHELLS; i++)
        food->shell_C[i] += (inflow_W[i + 1] - inflow_W[i]) * step_s / shell_J_per_K(food, i);
    return inflow_W[FOOD_SHELLS] * step_s;
}

/* ---- air ---- */

/* Knuth's linear congruential generator; its upper half is random enough for doors. */
static int64_t
drawn_ms(uint64_t *seed, int64_t span_ms)
{
    *seed = *seed * 6364136223846793005ULL + 1442695040888963407ULL;
    return span_ms > 0 ? (int64_t)((*seed >> 33) % (uint64_t)span_ms) : 0;
}

static void
move_door(struct air *air, int64_t at_ms, uint64_t *seed)
{
    if (air->door_s <= 0.0 || at_ms < air->door_ms)
        return;
    if (air->door_ms > 0) /* the first time it only learns when it opens */
        air->door_open = !air->door_open;
    air->door_ms =
        at_ms + (air->door_open ? air->open_min_ms + drawn_ms(seed, air->open_span_ms)
                                : air->closed_min_ms + drawn_ms(seed, air->closed_span_ms));
}

void
air_step(struct air *air, int64_t at_ms, double step_s, uint64_t *seed)
{
    const bool heats = air->power_C_per_s > 0.0;
    move_door(air, at_ms, seed);
    if (air->temp_C <= air->low_C)
        air->running = heats;
    else if (air->temp_C >= air->high_C)
        air->running = !heats;
    double rate_C_per_s = (ROOM_C - air->temp_C) / air->wall_s;
    if (air->door_open)
        rate_C_per_s += (ROOM_C - air->temp_C) / air->door_s;
    if (air->running)
        rate_C_per_s += air->power_C_per_s;
    air->temp_C += rate_C_per_s * step_s;
}

/* ---- the whole kitchen ---- */

static const struct kitchen cold_start = {
    /* Slow: from a hotter oven the outer shells would carry the core on to 100 °C. Never above
     * the 121 °C of a humid oven. */
    .oven = {.temp_C = 116.0,
             .low_C = 112.0,
             .high_C = 120.0,
             .power_C_per_s = 0.12,
             .wall_s = 2400.0},
    .chiller =
        {.temp_C = 2.0, .low_C = 0.5, .high_C = 2.5, .power_C_per_s = -0.03, .wall_s = 6000.0},
    .walk_in = {.temp_C = 3.0,
                .low_C = 2.0,
                .high_C = 4.0,
                .power_C_per_s = -0.007,
                .wall_s = 9000.0,
                .door_s = 700.0,
                .closed_min_ms = 8 * MINUTE_MS,
                .closed_span_ms = 30 * MINUTE_MS,
                .open_min_ms = 15000,
                .open_span_ms = 75000},
    .hot_cupboard = {.temp_C = 70.0,
                     .low_C = 68.0,
                     .high_C = 73.0,
                     .power_C_per_s = 0.06,
                     .wall_s = 2400.0,
                     .door_s = 700.0,
                     .closed_min_ms = 10 * MINUTE_MS,
                     .closed_span_ms = 30 * MINUTE_MS,
                     .open_min_ms = 10000,
                     .open_span_ms = 30000},
    .counter_fridge = {.temp_C = 3.5,
                       .low_C = 2.0,
                       .high_C = 4.2,
                       .power_C_per_s = -0.01,
                       .wall_s = 5000.0,
                       .door_s = 500.0,
                       .closed_min_ms = 3 * MINUTE_MS,
                       .closed_span_ms = 12 * MINUTE_MS,
                       .open_min_ms = 5000,
                       .open_span_ms = 15000},
    .freezer = {.temp_C = -21.0,
                .low_C = -23.0,
                .high_C = -20.0,
                .power_C_per_s = -0.012,
                .wall_s = 12000.0},
    .roast = {.radius_m = 0.055,
              .conductivity_W_mK = 0.47,
              .diffusivity_m2_s = 1.3e-7,
              .surface_W_m2K = 18.0},
    .filling = {.radius_m = 0.035,
                .conductivity_W_mK = 0.5,
                .diffusivity_m2_s = 1.35e-7,
                .surface_W_m2K = 30.0},
};

void
kitchen_begin(struct kitchen *kitchen, uint64_t seed)
{
    *kitchen = cold_start;
    kitchen->seed = seed;
    food_set(&kitchen->roast, 5.0);
    food_set(&kitchen->filling, 82.0);
}

static double
around_roast_C(const struct kitchen *kitchen)
{
    switch (kitchen->roast_at) {
    case ROAST_IN_OVEN:
        return kitchen->oven.temp_C;
    case ROAST_IN_CUPBOARD:
        return kitchen->hot_cupboard.temp_C;
    case ROAST_ON_BENCH:
        break;
    }
    return ROOM_C;
}

static void
step(struct kitchen *kitchen)
{
    const double step_s = STEP_MS / 1000.0;
    const int64_t at_ms = kitchen->at_ms + STEP_MS;
    air_step(&kitchen->oven, at_ms, step_s, &kitchen->seed);
    air_step(&kitchen->chiller, at_ms, step_s, &kitchen->seed);
    air_step(&kitchen->walk_in, at_ms, step_s, &kitchen->seed);
    air_step(&kitchen->hot_cupboard, at_ms, step_s, &kitchen->seed);
    air_step(&kitchen->counter_fridge, at_ms, step_s, &kitchen->seed);
    air_step(&kitchen->freezer, at_ms, step_s, &kitchen->seed);
    (void)food_step(&kitchen->roast, around_roast_C(kitchen),
                    step_s); /* the heater makes up for it */
    const double taken_J = food_step(&kitchen->filling, kitchen->chiller.temp_C, step_s);
    kitchen->chiller.temp_C -= FILLING_PORTIONS * taken_J / CHILLER_J_PER_K;
    if (!kitchen->roast_done && kitchen->roast_at == ROAST_IN_OVEN &&
        kitchen->roast.shell_C[0] >= ROAST_DONE_C) {
        kitchen->roast_done = true;
        kitchen->oven.low_C = 72.0;
        kitchen->oven.high_C = 76.0;
    }
    kitchen->at_ms = at_ms;
}

void
kitchen_advance(struct kitchen *kitchen, int64_t to_ms)
{
    while (kitchen->at_ms + STEP_MS <= to_ms)
        step(kitchen);
}

double
kitchen_roast_core_a_C(const struct kitchen *kitchen)
{
    return kitchen->roast.shell_C[0];
}

double
kitchen_roast_core_b_C(const struct kitchen *kitchen)
{
    return kitchen->roast.shell_C[ROAST_PROBE_B_SHELL];
}

double
kitchen_filling_core_C(const struct kitchen *kitchen)
{
    return kitchen->filling.shell_C[0];
}
