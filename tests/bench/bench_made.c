/* Makes batches to forecast: cooks and coolings of invented food in invented kitchens, written
 * as a corpus (index.csv, runs, truth) that `trivet forecast` reads and a scorer scores.
 *
 *   bench_made DIRECTORY COOKS COOLINGS [seed]
 *
 * Nothing here is shared with the forecasting room: a finite cylinder in radius and height,
 * explicit in time, with a skin of its own in every outer cell, against the room's round body
 * of one dimension.  What nobody knows of real food (how a surface dries, how a kitchen errs)
 * is drawn anew for every batch, from three forms of drying among others.  Films are those of
 * the handbook ranges listed in docs/forecast.md; sizes, probes, doors, habits: common
 * practice, no source. */
#include <math.h>
#include <stdint.h>

#include "bench.h"

enum { CELLS = 10, RINGS = CELLS, LAYERS = CELLS, ROWS_MAX = 12000, TRIES = 3 };

static uint64_t random_state;

static double
uniform(void)
{
    random_state ^= random_state >> 12;
    random_state ^= random_state << 25;
    random_state ^= random_state >> 27;
    return ((double)(random_state * 0x2545F4914F6CDD1DULL >> 11) + 0.5) / 9007199254740992.0;
}

/* With a day's own source of chance the same product is made again on another day. */
static uint64_t day_state;

static double
between(double low, double high)
{
    return low + (high - low) * uniform();
}

static double
log_between(double low, double high)
{
    return exp(between(log(low), log(high)));
}

static double
normal(void)
{
    return sqrt(-2 * log(uniform())) * cos(6.283185307179586 * uniform());
}

static bool
chance(double share)
{
    return uniform() < share;
}

/* Tetens' formula over water, Pa: not the one the forecasting room uses. */
static double
vapour_Pa(double temp_C)
{
    double t = fmin(fmax(temp_C, -30), 120);
    return 610.78 * exp(17.27 * t / (t + 237.3));
}

enum drying { DRIES_STRAIGHT, DRIES_BY_SHARES, DRIES_AS_A_CRUST, DRYINGS };

struct food {
    double radius_m, half_m;
    double k_W_mK, heat_J_m3K, k_rise;
    double wet, pore_kg_m2, floor;
    enum drying drying;
    double wrap_m2K_W;
    double probe_r, probe_z; /* fractions of radius and half height */
    double temp[RINGS][LAYERS];
    double side_C[LAYERS], side_lost[LAYERS];
    double top_C[RINGS], top_lost[RINGS];
};

/* What the food stands in at a moment. */
struct around {
    double air_C, wall_C;
    bool minds_frost; /* lets its air up before the surface freezes */
    bool still;       /* air moved by nothing but the food's warmth */
    double film_W_m2K, emissivity, vapour_Pa, wet_share;
};

static void
food_fill(struct food *food, double core_C, double surface_C)
{
    for (int i = 0; i < RINGS; i++)
        for (int j = 0; j < LAYERS; j++) {
            double r = (i + 0.5) / RINGS, z = (j + 0.5) / LAYERS;
            food->temp[i][j] = core_C + (surface_C - core_C) * fmax(r * r, z * z);
        }
    for (int i = 0; i < CELLS; i++) {
        food->side_C[i] = food->top_C[i] = surface_C;
        food->side_lost[i] = food->top_lost[i] = 0;
    }
}

static double
wetness_left(const struct food *food, double lost_kg_m2)
{
    double x = lost_kg_m2 / food->pore_kg_m2;
    if (food->drying == DRIES_STRAIGHT)
        return fmax(1 - x, food->floor);
    if (food->drying == DRIES_BY_SHARES)
        return fmax(exp(-x), food->floor);
    return 1 / (1 + x);
}

/* Free convection in still air grows with the fourth root of the difference (laminar, any
 * handbook); the film that was drawn is that of 30 K. */
static double
film(const struct around *a, double skin_C)
{
    double gap_K = fmax(fabs(skin_C - a->air_C), 1);
    return a->still ? a->film_W_m2K * pow(gap_K / 30, 0.25) : a->film_W_m2K;
}

/* Heat into one outer cell, W/m2, from a skin without mass: Newton's method on its balance. */
static double
skin_W_m2(const struct food *food, const struct around *a, double inner_W_m2K, double cell_C,
          double dt_s, double *skin_C, double *lost_kg_m2)
{
    double at = *skin_C, in = 0, leaving = 0;
    double film_W_m2K = film(a, at);
    double wet = food->wet * a->wet_share * wetness_left(food, *lost_kg_m2) * film_W_m2K / 65;
    double inner = 1 / (1 / inner_W_m2K + food->wrap_m2K_W);
    for (int i = 0; i < 3; i++) {
        double k = at + 273.15, w = a->wall_C + 273.15;
        double radiation = a->emissivity * 5.67e-8 * (w * w * w * w - k * k * k * k);
        leaving = wet * (vapour_Pa(at) - a->vapour_Pa);
        in = inner * (at - cell_C);
        double rise = wet * (vapour_Pa(at + 0.5) - vapour_Pa(at - 0.5));
        double slope = inner + film_W_m2K + a->emissivity * 4 * 5.67e-8 * k * k * k + rise;
        at += fmin(fmax((film_W_m2K * (a->air_C - at) + radiation - leaving - in) / slope, -30),
                   30);
    }
    *skin_C = at;
    *lost_kg_m2 = fmax(*lost_kg_m2 + leaving * dt_s / 2.35e6, 0);
    return inner * (at - cell_C);
}

static void
food_step(struct food *food, const struct around *a, double dt_s)
{
    double dr = food->radius_m / RINGS, dz = food->half_m / LAYERS;
    double heat[RINGS][LAYERS]; /* W/m3 */
    for (int i = 0; i < RINGS; i++)
        for (int j = 0; j < LAYERS; j++) {
            double t = food->temp[i][j];
            double k = food->k_W_mK * (1 + food->k_rise * (fmin(t, 95) - 40));
            double middle = (i + 0.5) * dr;
            double q = 0;
            if (i > 0)
                q += k * (food->temp[i - 1][j] - t) / dr * (i * dr) / (middle * dr);
            if (i + 1 < RINGS)
                q += k * (food->temp[i + 1][j] - t) / dr * ((i + 1) * dr) / (middle * dr);
            else
                q += skin_W_m2(food, a, 2 * k / dr, t, dt_s, &food->side_C[j],
                               &food->side_lost[j]) *
                     food->radius_m / (middle * dr);
            if (j > 0)
                q += k * (food->temp[i][j - 1] - t) / (dz * dz);
            if (j + 1 < LAYERS)
                q += k * (food->temp[i][j + 1] - t) / (dz * dz);
            else
                q += skin_W_m2(food, a, 2 * k / dz, t, dt_s, &food->top_C[i],
                               &food->top_lost[i]) /
                     dz;
            heat[i][j] = q;
        }
    for (int i = 0; i < RINGS; i++)
        for (int j = 0; j < LAYERS; j++)
            food->temp[i][j] += heat[i][j] * dt_s / food->heat_J_m3K;
}

/* Half the limit of the explicit scheme. */
static double
food_step_s(const struct food *food)
{
    double dr = food->radius_m / RINGS, dz = food->half_m / LAYERS;
    double k = food->k_W_mK * (1 + food->k_rise * 55);
    return 0.25 * food->heat_J_m3K / k / (1 / (dr * dr) + 1 / (dz * dz));
}

static double
food_core_C(const struct food *food)
{
    double r = fmax(food->probe_r * RINGS - 0.5, 0), z = fmax(food->probe_z * LAYERS - 0.5, 0);
    int i = (int)r, j = (int)z;
    double a = r - i, b = z - j;
    return (1 - a) * ((1 - b) * food->temp[i][j] + b * food->temp[i][j + 1]) +
           a * ((1 - b) * food->temp[i + 1][j] + b * food->temp[i + 1][j + 1]);
}

static void
food_stir(struct food *food)
{
    double heat = 0;
    for (int i = 0; i < RINGS; i++)
        for (int j = 0; j < LAYERS; j++)
            heat += (2 * i + 1) * food->temp[i][j];
    for (int i = 0; i < RINGS; i++)
        for (int j = 0; j < LAYERS; j++)
            food->temp[i][j] = heat / (RINGS * RINGS * LAYERS);
}

struct row {
    double time_s, core_C, air_C;
    const char *event;
};

struct batch {
    struct row row[ROWS_MAX];
    int rows;
    double sample_s, noise_K, lag_s, stem;
    double sensor_C, air_sensor_C, air_lag_s, air_offset_K;
    bool has_air;
    double gap_until_s;
    double target_C, reached_s, removed_s, removed_C, peak_C;
    double clock_s, first_s, second_s, end_s;
    double highest_C;
    double try_s[TRIES], try_peak_C[TRIES]; /* taken out earlier: the peak it would have had */
};

static void
batch_begin(struct batch *b, double start_C, double air_C)
{
    memset(b, 0, sizeof *b);
    b->sample_s = 5 + floor(between(0, 11));
    b->noise_K = between(0.05, 0.18);
    b->lag_s = between(3, 9);
    b->stem = fabs(0.006 * normal());
    b->has_air = chance(0.75);
    b->air_lag_s = between(20, 60);
    b->air_offset_K = 2.5 * normal();
    b->sensor_C = start_C;
    b->air_sensor_C = air_C;
    b->reached_s = b->removed_s = b->clock_s = b->first_s = b->second_s = NAN;
    b->highest_C = -INFINITY;
    for (int i = 0; i < TRIES; i++)
        b->try_s[i] = b->try_peak_C[i] = NAN;
}

/* The probe follows the food (and, by its stem, a little of the air) with its lag. */
static void
batch_sense(struct batch *b, double core_C, double air_C, double dt_s)
{
    double seen = core_C + b->stem * (air_C - core_C);
    b->sensor_C += (seen - b->sensor_C) * (1 - exp(-dt_s / b->lag_s));
    b->air_sensor_C += (air_C - b->air_sensor_C) * (1 - exp(-dt_s / b->air_lag_s));
}

static void
batch_row(struct batch *b, double time_s, const char *event)
{
    bool must = event != NULL && (*event == 's' || *event == 'r' || *event == 'm');
    if (b->rows == ROWS_MAX || (!must && (time_s < b->gap_until_s || chance(0.02))))
        return;
    if (!must && chance(0.0004))
        b->gap_until_s = time_s + between(60, 900);
    const struct row row = {
        .time_s = time_s,
        .core_C = chance(0.004) ? NAN : b->sensor_C + b->noise_K * normal(),
        .air_C = b->has_air ? b->air_sensor_C + b->air_offset_K + 0.3 * normal() : NAN,
        .event = event == NULL ? "" : event,
    };
    struct row *last = b->rows > 0 ? &b->row[b->rows - 1] : NULL;
    if (last == NULL || last->time_s < time_s)
        b->row[b->rows++] = row;
    else if (must) /* a trace has one row for a moment */
        last->event = row.event;
}

/* ---- cooks ---------------------------------------------------------------------------------
 */

struct oven {
    double set_C, change_s, change_C, swing_K, period_s, warm_up_s, start_C;
    double wall_lag_s, wall_C, door_s[4], dial_K, droop_K;
    bool change_told;
};

static struct oven
oven_draw(bool fan, double expected_s)
{
    struct oven o = {.set_C = between(95, 210), .change_s = INFINITY};
    o.swing_K = between(3, 8) * (fan ? 0.5 : 1);
    o.period_s = between(300, 900);
    o.warm_up_s = chance(0.3) ? between(240, 900) : 0;
    o.start_C = between(18, 35);
    o.dial_K = 4 * normal();
    o.droop_K = between(0, 12);
    o.wall_lag_s = log_between(120, 1800);
    o.wall_C = o.warm_up_s > 0 ? o.start_C : o.set_C;
    if (chance(0.25)) {
        o.change_s = between(0.1, 0.8) * expected_s;
        o.change_C = fmin(fmax(o.set_C + (chance(0.6) ? -1 : 1) * between(15, 60), 85), 220);
        o.change_told = chance(0.5);
    }
    for (int i = 0; i < 4; i++)
        o.door_s[i] = chance(0.4) ? between(0.05, 1) * expected_s : INFINITY;
    return o;
}

static double
oven_air_C(struct oven *o, double time_s, double dt_s)
{
    double set = time_s >= o->change_s ? o->change_C + (o->set_C - o->change_C) *
                                                           exp(-(time_s - o->change_s) / 300)
                                       : o->set_C;
    double air = set + o->dial_K + o->swing_K * sin(6.283185307179586 * time_s / o->period_s) -
                 o->droop_K * exp(-time_s / 1200);
    if (o->warm_up_s > 0)
        air += (o->start_C - set) * exp(-time_s / o->warm_up_s);
    for (int i = 0; i < 4; i++)
        if (time_s >= o->door_s[i])
            air -= 0.35 * (air - 25) * exp(-(time_s - o->door_s[i]) / 90);
    o->wall_C += (air - o->wall_C) * (1 - exp(-dt_s / o->wall_lag_s));
    return air;
}

static double
body_draw(struct food *f, double mass_kg, double density)
{
    double aspect =
        chance(0.3) ? between(0.35, 0.9) : between(1.2, 2.6); /* height over width */
    f->radius_m = cbrt(mass_kg / density / (6.283185307179586 * aspect));
    f->half_m = f->radius_m * aspect;
    return fmin(f->radius_m, f->half_m);
}

static void
cook_draw(struct food *f, double *ret_size_m)
{
    memset(f, 0, sizeof *f);
    bool loaf = chance(0.2);
    *ret_size_m = body_draw(f, log_between(0.45, 3.2), 1050);
    f->k_W_mK = between(0.42, 0.52);
    f->heat_J_m3K = between(3.3e6, 3.9e6);
    f->k_rise = between(0.0005, 0.002);
    f->drying = (enum drying)(uniform() * DRYINGS);
    f->floor = between(0.05, 0.5);
    f->pore_kg_m2 = log_between(1, 6);
    f->wet = loaf ? log_between(0.03, 0.2) : log_between(0.15, 1);
    if (chance(0.2)) {
        f->wrap_m2K_W = between(0.004, 0.009) / between(0.18, 0.35);
        f->wet *= 0.5;
    }
    double off_m = between(0, 0.010);
    double along = between(0, 1.5707963267948966);
    f->probe_r = fmin(off_m * cos(along) / f->radius_m, 0.6);
    f->probe_z = fmin(off_m * sin(along) / f->half_m, 0.6);
}

static struct around
room_draw(bool covered)
{
    struct around room = {.film_W_m2K = covered ? between(1.5, 3) : between(3.5, 6),
                          .emissivity = covered ? 0.2 : 0.85,
                          .vapour_Pa = 1300,
                          .wet_share = covered ? 0.1 : between(0.5, 1)};
    room.air_C = room.wall_C = between(18, 28);
    return room;
}

static void
cook_rest(struct food *f, struct batch *b, double at_s, double dt_s)
{
    struct around room = room_draw(chance(0.5));
    double left_s = between(900, 3600), next = at_s + b->sample_s;
    bool blank = chance(0.5);
    double air_C = b->air_sensor_C;
    for (double end = at_s + left_s; at_s < end; at_s += dt_s) {
        food_step(f, &room, dt_s);
        batch_sense(b, food_core_C(f), room.air_C, dt_s);
        b->peak_C = fmax(b->peak_C, b->sensor_C);
        if (at_s >= next) {
            bool has = b->has_air;
            b->has_air = has && !blank;
            batch_row(b, floor(at_s), NULL);
            b->has_air = has;
            next += b->sample_s;
        }
    }
    (void)air_C;
    b->end_s = at_s;
}

/* What the core would climb to if the food were taken out now: for what is fitted to peaks. */
static double
peak_if_taken_out(const struct food *food, const struct batch *batch, double dt_s)
{
    struct food f = *food;
    struct around room = room_draw(chance(0.5));
    double sensor_C = batch->sensor_C, peak_C = sensor_C;
    for (double t = 0; t < 5400 && sensor_C > peak_C - 0.3; t += dt_s) {
        food_step(&f, &room, dt_s);
        double seen_C = food_core_C(&f);
        seen_C += batch->stem * (room.air_C - seen_C);
        sensor_C += (seen_C - sensor_C) * (1 - exp(-dt_s / batch->lag_s));
        peak_C = fmax(peak_C, sensor_C);
    }
    return peak_C;
}

/* True when the cook came to an end of its own within the time a kitchen has. */
static bool
cook_make(struct food *f, struct batch *b)
{
    double size_m;
    cook_draw(f, &size_m);
    bool fan = chance(0.5), steam = fan && chance(0.3);
    double start_C = between(3, 16), expected_s = 1.6e6 * pow(size_m, 1.75);
    struct oven oven = oven_draw(fan, expected_s);
    struct around in = {.film_W_m2K = fan ? log_between(14, 40) : log_between(4.5, 11),
                        .emissivity = between(0.7, 0.95),
                        .vapour_Pa = steam ? between(8000, 40000) : between(1000, 5000),
                        .wet_share = 1};
    food_fill(f, start_C, start_C + (chance(0.3) ? between(0, 5) : 0));
    batch_begin(b, food_core_C(f), oven_air_C(&oven, 0, 0));
    b->target_C = 0.5 * floor(between(100, 145));
    bool early = chance(0.12);
    double pull_C = b->target_C - (early ? between(1, 4) : 0);
    double leave_s = INFINITY, next = 0, dt_s = fmin(food_step_s(f), 2.5);
    double try_C[TRIES];
    for (int i = 0; i < TRIES; i++)
        try_C[i] = start_C + between(0.4, 1) * (b->target_C - start_C);
    for (double at = 0; at < 24000; at += dt_s) {
        in.air_C = oven_air_C(&oven, at, dt_s);
        in.wall_C = oven.wall_C;
        food_step(f, &in, dt_s);
        batch_sense(b, food_core_C(f), in.air_C, dt_s);
        if (isnan(b->reached_s) && b->sensor_C >= b->target_C)
            b->reached_s = at + dt_s;
        for (int i = 0; i < TRIES; i++)
            if (isnan(b->try_s[i]) && b->sensor_C >= try_C[i]) {
                b->try_s[i] = at + dt_s;
                b->try_peak_C[i] = peak_if_taken_out(f, b, dt_s);
            }
        if (isinf(leave_s) && b->sensor_C >= pull_C)
            leave_s = at + (early ? 0 : between(0, 300));
        if (at >= leave_s) {
            b->removed_s = floor(at);
            b->removed_C = b->peak_C = b->sensor_C;
            batch_row(b, b->removed_s, "removed");
            cook_rest(f, b, at, dt_s);
            return true;
        }
        if (at >= next) {
            bool turned =
                oven.change_told && at >= oven.change_s && at - oven.change_s < b->sample_s;
            batch_row(b, floor(at), next <= 0 ? "start" : turned ? "setpoint" : NULL);
            next += b->sample_s;
        }
    }
    return false;
}

/* ---- coolings ------------------------------------------------------------------------------
 */

enum place { IN_ROOM, IN_FRIDGE, IN_BLAST, IN_ICE };

static struct around
place_draw(enum place place, bool covered)
{
    struct around a = {.emissivity = 0.5, .vapour_Pa = 600, .wet_share = covered ? 0.03 : 1};
    switch (place) {
    case IN_ROOM:
        a.film_W_m2K = between(3.5, 7);
        a.still = chance(0.5);
        a.air_C = between(17, 29);
        a.vapour_Pa = 1300;
        break;
    case IN_FRIDGE:
        a.film_W_m2K = log_between(3.5, 13);
        a.still = chance(0.5);
        a.air_C = between(1, 5);
        break;
    case IN_BLAST:
        a.film_W_m2K = log_between(16, 45);
        a.air_C = between(-14, 2);
        a.minds_frost = chance(0.5);
        break;
    case IN_ICE:
        a.film_W_m2K = log_between(90, 380);
        a.air_C = between(0.2, 1.5);
        a.emissivity = 0;
        a.wet_share = 0;
        break;
    }
    a.wall_C = a.air_C;
    return a;
}

static bool
cooling_draw(struct food *f)
{
    memset(f, 0, sizeof *f);
    bool liquid = chance(0.2), joint = !liquid && chance(0.25);
    f->k_W_mK = between(0.42, 0.58);
    f->heat_J_m3K = between(3.4e6, 4.1e6);
    f->k_rise = 0.001;
    if (joint) {
        (void)body_draw(f, log_between(0.7, 4), 1050);
    } else {
        /* An open pan gives heat to the air above and, through its base, to the shelf. */
        f->half_m = 0.5 * log_between(0.025, liquid ? 0.2 : 0.12);
        f->radius_m = fmax(between(0.10, 0.25), f->half_m);
    }
    if (liquid)
        f->k_W_mK *= log_between(2, 12); /* turned over by its own warmth */
    f->wet = chance(0.5) ? log_between(0.05, 0.6) : 0.02;
    f->pore_kg_m2 = 1e6;
    f->probe_r = fmin(between(0, 0.010) / f->radius_m, 0.6);
    f->probe_z = fmin(between(0, 0.010) / f->half_m, 0.6);
    if (!joint && chance(0.3)) { /* heat leaves by one side: the middle lies half way up */
        f->half_m *= 2;
        f->radius_m = fmax(f->radius_m, f->half_m);
        f->probe_z = between(0.4, 0.6);
    }
    return liquid;
}

/* A chiller that minds frost watches the coldest skin: below 1 C it lets its air up by 0.4 K a
 * minute, at most to 1 C (hard chilling: common practice, no source). */
static double
let_up_K(const struct food *f, const struct around *a, double own_C, double so_far_K,
         double dt_s)
{
    double skin_C = fmin(f->top_C[RINGS - 1], f->side_C[LAYERS - 1]);
    if (!a->minds_frost || skin_C >= 1)
        return so_far_K;
    return fmin(so_far_K + dt_s * 0.4 / 60, fmax(1 - own_C, 0));
}

/* What one batch of a product differs in from the next: a tenth of its depth, some degrees at
 * the start, when it is put away (common practice, no source).  What chance gives from here on
 * is the day's own. */
static void
another_day(struct food *f, struct around places[2], double *move_s, double *start_C)
{
    if (day_state == 0)
        return;
    random_state = day_state;
    for (int i = 0; i < 20; i++)
        (void)uniform();
    f->half_m *= exp(0.1 * normal());
    f->k_W_mK *= exp(0.03 * normal());
    for (int i = 0; i < 2; i++) {
        places[i].film_W_m2K *= exp(0.08 * normal());
        places[i].air_C += 0.6 * normal();
        places[i].wall_C = places[i].air_C;
    }
    *move_s *= exp(0.2 * normal());
    *start_C = fmax(*start_C + 4 * normal(), 62);
}

static bool
cooling_make(struct food *f, struct batch *b)
{
    bool liquid = cooling_draw(f), covered = chance(0.5);
    double draw = uniform();
    enum place first = draw < 0.15   ? IN_FRIDGE
                       : draw < 0.45 ? IN_BLAST
                       : draw < 0.63 ? IN_ICE
                                     : IN_ROOM;
    enum place second = chance(0.5) ? IN_FRIDGE : IN_BLAST;
    double move_s = first == IN_ROOM  ? 60 * between(15, 100)
                    : first == IN_ICE ? 60 * between(50, 110)
                                      : INFINITY;
    if (first == IN_BLAST && chance(0.25)) /* the end of the chiller's cycle */
        move_s = 60 * between(60, 120);
    if (first == IN_ICE || first == IN_BLAST)
        second = IN_FRIDGE;
    struct around place[] = {place_draw(first, covered), place_draw(second, covered)};
    double room_C = between(17, 29), start_C = between(62, 92);
    another_day(f, place, &move_s, &start_C);
    struct around at = place[0];
    food_fill(f, start_C, start_C - between(0, 6));
    batch_begin(b, start_C, first == IN_ICE ? room_C : at.air_C);
    /* A lid holds a layer of air, but not where the bath touches the dish. */
    if (covered && first != IN_ICE && chance(0.5))
        f->wrap_m2K_W = log_between(0.003, 0.04);
    bool cold_probe = chance(0.5), moved = false, told = chance(0.6);
    if (cold_probe)
        b->sensor_C = between(5, 22);
    double stir_s = liquid && chance(0.6) ? between(600, 1500) : INFINITY, stir_next = stir_s;
    double stir_last_s = chance(0.5) ? between(3600, 18000) : INFINITY;
    double next = 0, dt_s = fmin(food_step_s(f), 4), extra_K = between(0, 6);
    double own_C = at.air_C, up_K = 0;
    for (double t = 0; t < 39600; t += dt_s) {
        if (!moved && t >= move_s) {
            moved = true;
            at = place[1];
            own_C = at.air_C;
            up_K = 0;
            batch_row(b, floor(t), told ? "moved" : NULL);
        }
        up_K = let_up_K(f, &at, own_C, up_K, dt_s);
        bool warm = (!moved && (first == IN_ROOM || first == IN_ICE));
        if (!warm) /* the cold place is warmed by what it takes in */
            at.air_C = at.wall_C = own_C + up_K +
                                   extra_K * fmax(food_core_C(f) - own_C, 0) / 70 +
                                   0.8 * sin(t / 110);
        food_step(f, &at, dt_s);
        if (t >= stir_next && t < stir_last_s) {
            food_stir(f);
            stir_next += stir_s;
        }
        double seen_air = !moved && first == IN_ICE ? room_C : at.air_C;
        batch_sense(b, food_core_C(f), seen_air, dt_s);
        b->highest_C = fmax(b->highest_C, b->sensor_C);
        double marks[] = {57, 21, 5};
        double *when[] = {&b->clock_s, &b->first_s, &b->second_s};
        for (int i = 0; i < 3; i++)
            if (b->highest_C > 57.5 && isnan(*when[i]) && b->sensor_C <= marks[i])
                *when[i] = t + dt_s;
        if (t >= next) {
            batch_row(b, floor(t), next <= 0 ? "start" : NULL);
            next += b->sample_s;
        }
        b->end_s = t;
        if (b->sensor_C < 4 && b->highest_C > 57.5)
            break;
    }
    return !isnan(b->clock_s);
}

/* ---- writing -------------------------------------------------------------------------------
 */

static FILE *
opened(const char *directory, const char *sub, const char *name, const char *end)
{
    char path[400];
    (void)snprintf(path, sizeof path, "%s/%s%s%s", directory, sub, name, end);
    FILE *file = fopen(path, "w");
    if (file == NULL)
        bench_give_up("cannot write %s", path);
    return file;
}

static void
write_number(FILE *file, const char *name, double value)
{
    if (isnan(value))
        (void)fprintf(file, "\"%s\": null, ", name);
    else
        (void)fprintf(file, "\"%s\": %.3f, ", name, value);
}

static void
write_batch(const char *directory, const char *name, const struct batch *b, bool cook)
{
    FILE *run = opened(directory, "runs/", name, ".csv");
    (void)fputs("time_s,core_degC,air_degC,event\n", run);
    for (int i = 0; i < b->rows; i++) {
        const struct row *r = &b->row[i];
        (void)fprintf(run, "%.0f,", r->time_s);
        (void)(isnan(r->core_C) ? 0 : fprintf(run, "%.1f", r->core_C));
        (void)fputc(',', run);
        (void)(isnan(r->air_C) ? 0 : fprintf(run, "%.1f", r->air_C));
        (void)fprintf(run, ",%s\n", r->event);
    }
    (void)fclose(run);
    FILE *truth = opened(directory, "truth/", name, ".json");
    (void)fprintf(truth, "{\"kind\": \"%s\", ", cook ? "cook" : "cool");
    if (cook) {
        write_number(truth, "target_C", b->target_C);
        write_number(truth, "t_target_s", b->reached_s);
        write_number(truth, "t_removed_s", b->removed_s);
        write_number(truth, "T_removed_C", b->removed_C);
        write_number(truth, "peak_C", b->peak_C);
        for (int i = 0; i < TRIES; i++) {
            char name_s[] = "try0_s", name_C[] = "try0_peak_C";
            name_s[3] = name_C[3] = (char)('0' + i);
            write_number(truth, name_s, b->try_s[i]);
            write_number(truth, name_C, b->try_peak_C[i]);
        }
    } else {
        write_number(truth, "t57_s", b->clock_s);
        write_number(truth, "t21_s", b->first_s);
        write_number(truth, "t5_s", b->second_s);
        bool miss1 = isnan(b->first_s) || b->first_s > b->clock_s + 7200;
        bool miss2 = isnan(b->second_s) || b->second_s > b->clock_s + 21600;
        (void)fprintf(truth, "\"miss_stage1\": %s, \"miss_stage2\": %s, ",
                      miss1 ? "true" : "false", miss2 ? "true" : "false");
    }
    (void)fprintf(truth, "\"end_s\": %.1f}\n", b->end_s);
    (void)fclose(truth);
}

int
main(int argc, char **argv)
{
    static struct batch batch;
    static struct food food;
    char path[400];
    if (argc < 4)
        bench_give_up("bench_made DIRECTORY COOKS COOLINGS [seed]");
    int counts[] = {atoi(argv[2]), atoi(argv[3])};
    random_state = 0x9E3779B97F4A7C15ULL * (uint64_t)bench_argument(argc, argv, 4, 1);
    for (int i = 0; i < 20; i++)
        (void)uniform();
    const char *subs[] = {"", "runs", "truth"};
    for (int i = 0; i < 3; i++) {
        (void)snprintf(path, sizeof path, "%s/%s", argv[1], subs[i]);
        (void)mkdir(path, 0777);
    }
    FILE *index = opened(argv[1], "", "index", ".csv");
    (void)fputs("run,kind,file,target_C,has_air,sample_s\n", index);
    for (int kind = 0; kind < 2; kind++)
        for (int i = 0; i < counts[kind]; i++) {
            bool cook = kind == 0;
            char name[32], target[16] = "";
            (void)snprintf(name, sizeof name, "%s_%04d", cook ? "cook" : "cool", i + 1);
            while (!(cook ? cook_make(&food, &batch) : cooling_make(&food, &batch)))
                continue;
            if (cook)
                (void)snprintf(target, sizeof target, "%.1f", batch.target_C);
            (void)fprintf(index, "%s,%s,runs/%s.csv.gz,%s,%d,%.0f\n", name,
                          cook ? "cook" : "cool", name, target, batch.has_air, batch.sample_s);
            write_batch(argv[1], name, &batch, cook);
        }
    (void)fclose(index);
    return 0;
}
