/* One guess at a kind of dish.  See dish.h.  Pure; owns nothing. */
#include "daemon/thermal/dish.h"

#include <math.h>
#include <string.h>

#include "daemon/thermal/vapour.h"

enum dish_unknown {
    DISH_SIZE,
    DISH_ROUNDNESS,
    DISH_CONDUCTS,
    DISH_FILM,
    DISH_WET,
    DISH_DRYING,
    DISH_VAPOUR,
    DISH_DIAL,
    DISH_WRAPPING,
    DISH_WALLS,
    DISH_WARM_UP,
    DISH_PROBE,
    DISH_REST_FILM,
    DISH_REST_WET,
};

static const double IMPLICIT = 0.6;
static const double SHELL_RATIO = 0.88;
static const double STEP_FIRST_S = 20;
static const double STEP_GROWTH = 1.06;
static const double STEP_MAX_S = 90;
static const double ROOM_C = 22;
/* Meat, fillings and doughs lie close together (Choi & Okos 1986 for typical compositions). */
static const double DENSITY_KG_M3 = 1060;
static const double DIFFUSIVITY_M2_S = 1.35e-7;
static const double CONDUCTIVITY_W_mK = 0.47;

static double
spread(double unknown, double middle, double sigma)
{
    return middle * exp(sigma * unknown);
}

/* Radius or half thickness of a dish of this mass in the proportions that are usual for its
 * shape (common practice, no source); a measured thickness goes before. */
static double
radius_m(const struct dish *dish)
{
    if (!isnan(dish->thickness_mm))
        return 0.0005 * dish->thickness_mm;
    double volume_m3 = 0.001 * dish->mass_g / DENSITY_KG_M3;
    double aspect = 0;
    switch (dish->shape) {
    case DISH_OVAL: /* half axes a, a, 1.2 a */
        return cbrt(volume_m3 / (4.18879 * 1.2));
    case DISH_FLAT: /* half thickness 0.4 of the radius of its outline */
        aspect = 0.4;
        return aspect * cbrt(volume_m3 / (6.28319 * aspect));
    case DISH_LONG:
        aspect = 3.2;
        break;
    case DISH_ROLL:
    case DISH_ANY_SHAPE:
        aspect = 1.4;
        break;
    }
    return cbrt(volume_m3 / (6.28319 * aspect));
}

static double
exponent(const struct dish *dish, double unknown)
{
    double middle = 2.2, sigma = 0.35;
    if (dish->shape == DISH_OVAL) {
        middle = 2.7;
        sigma = 0.2;
    } else if (dish->shape == DISH_FLAT) {
        middle = 1.45;
        sigma = 0.2;
    } else if (dish->shape == DISH_ROLL) {
        middle = 2.3;
        sigma = 0.25;
    } else if (dish->shape == DISH_LONG) {
        middle = 2.05;
        sigma = 0.15;
    }
    return fmin(fmax(middle + sigma * unknown, 1), 3);
}

/* Films without radiation: the handbook ranges listed in docs/forecast.md. */
static double
film_W_m2K(const struct dish *dish, double unknown)
{
    switch (dish->oven) {
    case DISH_STILL:
        return spread(unknown, 7, 0.3);
    case DISH_FAN:
        return spread(unknown, 28, 0.3);
    case DISH_STEAM:
        return spread(unknown, 20, 0.3);
    case DISH_ANY_OVEN:
        break;
    }
    return spread(unknown, 15, 0.6);
}

static void
dish_traits(const double *u, const struct dish *dish, struct food_traits *t)
{
    double radius = radius_m(dish) * exp(0.1 * u[DISH_SIZE]);
    *t = (struct food_traits){0};
    t->exponent = exponent(dish, u[DISH_ROUNDNESS]);
    t->fo_per_s = DIFFUSIVITY_M2_S / (radius * radius);
    t->resistance_m2K_W = radius / spread(u[DISH_CONDUCTS], CONDUCTIVITY_W_mK, 0.08);
    t->wrap_m2K_W = dish->wrap == DISH_NO_WRAP ? 0 : spread(u[DISH_WRAPPING], 0.02, 0.4);
    t->probe = fmin(fabs(0.06 + 0.05 * u[DISH_PROBE]), 0.4);
    double film = film_W_m2K(dish, u[DISH_FILM]);
    t->dry_kg_m2 = spread(u[DISH_DRYING], 4, 0.5) * sqrt(film / 16);
    t->dry_floor = 0.1;
    t->wall_s = spread(u[DISH_WALLS], 1200, 0.6);
    t->warm_up_s = spread(u[DISH_WARM_UP], 450, 0.4);
    t->switch_s = INFINITY;
    double dew_C =
        dish->oven == DISH_STEAM ? 72 + 8 * u[DISH_VAPOUR] : 30 + 10 * u[DISH_VAPOUR];
    double wet = fmin(spread(u[DISH_WET], 0.3, 0.8), 1);
    t->place[0] = (struct food_place){
        .film_W_m2K = film,
        .emissivity = FOOD_EMISSIVITY,
        .wet = wet,
        .vapour_Pa = vapour_saturation_Pa(fmin(dew_C, 98), NULL),
        .medium_C = 6 * u[DISH_DIAL], /* above the set point */
    };
    t->place[1] = (struct food_place){
        .film_W_m2K = spread(u[DISH_REST_FILM], 4, 0.3),
        .emissivity = FOOD_EMISSIVITY,
        .wet = wet * fmin(spread(u[DISH_REST_WET], 0.4, 0.6), 1),
        .vapour_Pa = vapour_saturation_Pa(10, NULL),
        .medium_C = ROOM_C,
    };
}

/* A few per cent of size, composition, film and evaporation, a millimetre or three of the probe
 * (common practice, no source). */
void
dish_of_the_day(const double normal[DISH_UNKNOWNS], double unknown[DISH_UNKNOWNS])
{
    static const double SHARE[DISH_UNKNOWNS] = {
        [DISH_SIZE] = 0.12, [DISH_CONDUCTS] = 0.3,  [DISH_FILM] = 0.17,
        [DISH_WET] = 0.12,  [DISH_WRAPPING] = 0.15, [DISH_PROBE] = 0.5,
    };
    for (int k = 0; k < DISH_UNKNOWNS; k++)
        unknown[k] += SHARE[k] * normal[k];
}

/* The dish on its way. */
struct way {
    struct food food;
    struct conduction_grid grid;
    double time_s;
};

static void
way_begin(struct way *w, const double *unknown, const struct dish_scene *scene)
{
    memset(&w->food, 0, sizeof w->food);
    dish_traits(unknown, scene->dish, &w->food.traits);
    w->grid = (struct conduction_grid){FOOD_CELLS, w->food.volume, w->food.link, w->food.node};
    conduction_grid_init(&w->grid, w->food.traits.exponent, SHELL_RATIO);
    for (int i = 0; i < FOOD_CELLS; i++)
        w->food.state[i] = scene->start_C + scene->uneven_K * w->food.node[i] * w->food.node[i];
    w->food.surface_C = scene->start_C;
    w->food.wall_C = NAN;
    w->time_s = 0;
}

static double
oven_C(const struct food_traits *traits, const struct dish_scene *scene, double at_s)
{
    double own_K = traits->place[0].medium_C;
    if (scene->air_C != NULL && scene->airs > 0) {
        int span = (int)(at_s / scene->air_span_s);
        if (span < scene->airs && !isnan(scene->air_C[span]))
            return scene->air_C[span] - scene->air_bias_K + own_K;
        return scene->after_air_C + own_K;
    }
    double hot_C = scene->dish->oven_C + own_K;
    if (!scene->dish->cold_oven)
        return hot_C;
    return hot_C - (hot_C - ROOM_C) * exp(-at_s / traits->warm_up_s);
}

static void
way_step(struct way *w, int place, double medium_C, double dt_s)
{
    struct food *f = &w->food;
    f->place = place;
    f->wall_C = food_wall(f, medium_C, dt_s);
    double warmth = food_warmth(f->state[FOOD_CELLS / 2]);
    struct food_surface s = food_surface_balance(
        &f->traits, &f->traits.place[place], f->link[FOOD_CELLS - 1], warmth, food_dryness(f),
        medium_C, f->wall_C, f->state[FOOD_CELLS - 1], &f->surface_C);
    struct conduction_step step;
    conduction_factor(&w->grid, s.flux.slope, dt_s * f->traits.fo_per_s * warmth, IMPLICIT,
                      &step);
    double rate[FOOD_CELLS];
    conduction_rate(&w->grid, f->state, s.flux.flux_K, rate);
    conduction_solve(&w->grid, &step, rate);
    for (int i = 0; i < FOOD_CELLS; i++)
        f->state[i] += step.dt_fo * rate[i];
    f->lost_kg_m2 = fmax(f->lost_kg_m2 + dt_s * s.loss_kg_m2s, 0);
    w->time_s += dt_s;
}

static void
rest(struct way *w, struct dish_run *run)
{
    double from_s = w->time_s, from_C = food_reading(&w->food, w->food.state);
    double peak_C = from_C, dt_s = 30;
    run->ret_rest_s = 0;
    while (w->time_s - from_s < 4 * 3600) {
        way_step(w, 1, w->food.traits.place[1].medium_C, dt_s);
        double now_C = food_reading(&w->food, w->food.state);
        if (now_C < peak_C - 0.2)
            break;
        if (now_C > peak_C) {
            peak_C = now_C;
            run->ret_rest_s = w->time_s - from_s;
        }
        dt_s = fmin(dt_s * 1.15, 120);
    }
    run->ret_rise_K = peak_C - from_C;
}

/* Where a mark is out of reach, the further away the later. */
static void
settle_rest(struct dish_run *run, int passed, double last_C)
{
    for (int m = passed; m < run->marks; m++)
        run->ret_mark_s[m] = DISH_LONGEST_S * (1 + 0.02 * (run->mark_C[m] - last_C));
}

void
dish_follow(const double unknown[DISH_UNKNOWNS], const struct dish_scene *scene,
            struct dish_run *run)
{
    struct way w;
    way_begin(&w, unknown, scene);
    double dt_s = STEP_FIRST_S, before_C = scene->start_C;
    int passed = 0, looked = 0;
    run->ret_rise_K = run->ret_rest_s = NAN;
    while (passed < run->marks && run->mark_C[passed] <= before_C)
        run->ret_mark_s[passed++] = STEP_FIRST_S;
    while ((passed < run->marks || looked < run->looks) && w.time_s < DISH_LONGEST_S) {
        double from_s = w.time_s;
        way_step(&w, 0, oven_C(&w.food.traits, scene, from_s + 0.5 * dt_s), dt_s);
        double now_C = food_reading(&w.food, w.food.state);
        for (; passed < run->marks && now_C >= run->mark_C[passed]; passed++)
            run->ret_mark_s[passed] =
                from_s + dt_s * (run->mark_C[passed] - before_C) / (now_C - before_C);
        for (; looked < run->looks && w.time_s >= run->look_s[looked]; looked++)
            run->ret_look_C[looked] =
                before_C + (now_C - before_C) * (run->look_s[looked] - from_s) / dt_s;
        before_C = now_C;
        dt_s = fmin(dt_s * STEP_GROWTH, STEP_MAX_S);
    }
    bool all = passed == run->marks;
    settle_rest(run, passed, before_C);
    if (run->rests && all)
        rest(&w, run);
}
