/* The simulated kitchen's physics: food that conducts heat, and air kept by thermostats, with
 * doors.
 *
 * Plausible rather than exact, which is enough to show the watch at work; nothing the daemon
 * decides rests on it. Pure: time and seed are handed in, and the same seed gives the same day.
 */
#ifndef KITCHEN_PHYSICS_H
#define KITCHEN_PHYSICS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define FOOD_SHELLS 10

/* A ball of food in shells of equal thickness; 0 is the core. */
struct food {
    double radius_m;
    double conductivity_W_mK;
    double diffusivity_m2_s;
    double surface_W_m2K; /* heat transfer to the air */
    double shell_C[FOOD_SHELLS];
};

/* Air behind a door, kept between two temperatures by a heater or a compressor. */
struct air {
    double temp_C;
    double low_C, high_C; /* the thermostat's */
    double power_C_per_s; /* of heater (> 0) or compressor (< 0), running */
    double wall_s;        /* time constant of the loss through the walls */
    double door_s;        /* time constant with the door open */
    bool running;
    bool door_open;
    int64_t door_ms; /* when the door moves next */
    int64_t closed_min_ms, closed_span_ms, open_min_ms, open_span_ms;
};

enum roast_at { ROAST_IN_OVEN, ROAST_ON_BENCH, ROAST_IN_CUPBOARD };

struct kitchen {
    int64_t at_ms; /* since the beginning */
    uint64_t seed;
    bool roast_done; /* the oven was turned down to holding */
    enum roast_at roast_at;
    struct air oven, chiller, walk_in, hot_cupboard, counter_fridge, freezer;
    struct food roast, filling;
};

/* A roast from the fridge has just gone into a hot oven, and a hot filling into the chiller. */
void kitchen_begin(struct kitchen *kitchen, uint64_t seed);
/* Lives on until to_ms; earlier times do nothing. */
void kitchen_advance(struct kitchen *kitchen, int64_t to_ms);

/* Where the two roast probes sit: at the core, and a third of the way out. */
double kitchen_roast_core_a_C(const struct kitchen *kitchen);
double kitchen_roast_core_b_C(const struct kitchen *kitchen);
double kitchen_filling_core_C(const struct kitchen *kitchen);

/* Parts, for tests. */
void food_set(struct food *food, double temp_C);
/* Returns the heat taken from the air, in joule. */
double food_step(struct food *food, double air_C, double step_s);
double food_heat_J(const struct food *food);
void air_step(struct air *air, int64_t at_ms, double step_s, uint64_t *seed);

#endif
