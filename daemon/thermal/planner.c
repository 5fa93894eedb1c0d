/* Plans from lessons.  See trivet/lesson.h.
 *
 * The unknowns of a product are learned from the times at which earlier cores passed some
 * temperatures, by an ensemble of guesses (ensemble.h) run through the heat flow (dish.h). What
 * one day differs from the next is not learned: it widens the plan. Pure; owns nothing. */
#include <assert.h>
#include <math.h>
#include <string.h>

#include "daemon/thermal/ensemble.h"
#include "daemon/thermal/taker.h"

/* One day against the next, as shares of a time, at the marks of lesson.c; found on our own
 * generated series (docs/forecast.md). */
static const double DAY_SHARED = 0.03;
static const double DAY_OWN[LESSON_PASSED] = {0.10, 0.05, 0.03, 0.02, 0.015};
static const double RISE_OWN = 0.2;      /* of a rise after removal, on its own scale */
static const double RISE_UNTAUGHT = 0.5; /* how far no kind of dish is like another */
static const double PLAN_DAY = 0.055;
static const double REST_PRIOR = 0.3;  /* lessons' worth of believing how the guesses rest */
static const double LATE_PRIOR = 1;    /* lessons' worth of believing the heat flow */
static const double FOLLOW_DAY = 0.04; /* of what the first readings do not show */
static const double UNEVEN_K = 2;
static const double LOOK_K = 0.3; /* what a reading is off from any guess, kelvin and share */
static const double LOOK_SHARE = 0.1;
static const double LOOKS_AFTER_S = 240;
static const double AIR_MOVED_K = 9; /* the set point was changed if the air is so far off */
static const double SURPRISE = 2.5;  /* spreads; a batch further off than that counts less */
enum { STEPS = 4 };

struct lessons {
    struct lesson lesson[LESSONS_MAX];
    double weight[LESSONS_MAX]; /* factor on a batch's errors */
    int count;
};

/* While it learns; not needed once the guesses are found. */
struct learning {
    struct ensemble ensemble;
    struct lessons taught;
    double air_bias_K; /* NAN: no air probe so far */
};

/* What is kept: one of these beside each batch that is followed. */
struct plans {
    float unknown[ENSEMBLE_MEMBERS][DISH_UNKNOWNS];
    int lessons;
    double air_bias_K;
    double late;   /* log of what the lessons took against what the guesses still say */
    double climb;  /* likewise of the rise after removal, as rise_scale */
    double linger; /* and of the time to the peak, as rest_scale */
    int rested;    /* lessons that showed them */
};

_Static_assert(sizeof(struct plans) <= PLANNER_BYTES, "the planner fits its room");
_Static_assert(sizeof(struct learning) <= PLANNER_WORK_BYTES, "learning fits its room");

static struct plans *
plans_of(struct planner *planner)
{
    return (struct plans *)(void *)planner->room.bytes;
}

static const struct plans *
plans_in(const struct planner *planner)
{
    return (const struct plans *)(const void *)planner->room.bytes;
}

static void
guess(const struct plans *p, int member, double ret_unknown[DISH_UNKNOWNS])
{
    for (int k = 0; k < DISH_UNKNOWNS; k++)
        ret_unknown[k] = (double)p->unknown[member][k];
}

static double
median(const double *value, int count)
{
    double sorted[ENSEMBLE_MEMBERS];
    int n = 0;
    for (int i = 0; i < count && n < ENSEMBLE_MEMBERS; i++) {
        if (isnan(value[i]))
            continue;
        int at = n++;
        for (; at > 0 && sorted[at - 1] > value[i]; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = value[i];
    }
    return n == 0 ? NAN : n % 2 ? sorted[n / 2] : 0.5 * (sorted[n / 2 - 1] + sorted[n / 2]);
}

/* What the air probe reads above the set point once the oven is hot, over all lessons. */
static double
find_air_bias(const struct lessons *taught)
{
    double each[LESSONS_MAX];
    for (int j = 0; j < taught->count; j++) {
        const struct lesson *l = &taught->lesson[j];
        each[j] = isnan(l->air_until_s)
                      ? NAN
                      : median(l->air_C + 4, LESSON_AIRS - 4) - l->dish.oven_C;
    }
    return median(each, taught->count);
}

static struct dish_scene
scene_of(const struct lesson *l, double air_bias_K)
{
    bool air = !isnan(l->air_until_s) && !isnan(air_bias_K);
    return (struct dish_scene){
        .dish = &l->dish,
        .start_C = l->dish.start_C,
        .air_C = air ? l->air_C : NULL,
        .airs = LESSON_AIRS,
        .air_span_s = l->air_until_s / LESSON_AIRS,
        .air_bias_K = air_bias_K,
        .after_air_C = l->dish.oven_C,
    };
}

static bool
has_rise(const struct lesson *l)
{
    return !isnan(l->peak_C) && !isnan(l->removed_C) && l->peak_C > l->removed_C - 1;
}

static double
rise_scale(double rise_K)
{
    return log(1 + fmax(rise_K, 0));
}

static double
rest_scale(double rest_s)
{
    return log(fmax(rest_s, 0) + 60);
}

static void
add(struct ensemble_observed *o, int group, double value, double own_sd, double shared_sd)
{
    assert(o->count < ENSEMBLE_OBSERVED);
    o->value[o->count] = value;
    o->own_sd[o->count] = own_sd;
    o->shared_sd[o->count] = shared_sd;
    o->group[o->count++] = group;
}

static void
observe(const struct lessons *taught, struct ensemble_observed *o)
{
    o->count = 0;
    for (int j = 0; j < taught->count; j++) {
        const struct lesson *l = &taught->lesson[j];
        double wide = taught->weight[j];
        for (int k = 0; k < LESSON_PASSED; k++)
            if (!isnan(l->passed_s[k]))
                add(o, j, log(fmax(l->passed_s[k], 30)), wide * DAY_OWN[k], wide * DAY_SHARED);
    }
}

/* What one guess foresees of all that was observed, in the order of observe(). */
static void
foresee(const struct learning *p, const double *unknown, double *ret_foreseen)
{
    int at = 0;
    for (int j = 0; j < p->taught.count; j++) {
        const struct lesson *l = &p->taught.lesson[j];
        struct dish_scene scene = scene_of(l, p->air_bias_K);
        struct dish_run run = {.rests = false};
        for (int k = 0; k < LESSON_PASSED; k++)
            if (!isnan(l->passed_s[k]))
                run.mark_C[run.marks++] = l->passed_C[k];
        dish_follow(unknown, &scene, &run);
        for (int m = 0; m < run.marks; m++)
            ret_foreseen[at++] = log(run.ret_mark_s[m]);
    }
}

/* A batch that no guess comes near (its set point was changed and nobody said so) counts less.
 */
static void
weigh(struct learning *p, const struct ensemble_observed *o)
{
    for (int j = 0; j < p->taught.count; j++) {
        int last = -1;
        for (int k = 0; k < o->count; k++)
            if (o->group[k] == j && o->shared_sd[k] > 0)
                last = k;
        if (last < 0)
            continue;
        double mean = 0, square = 0;
        for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
            double f = p->ensemble.foreseen[i][last];
            mean += f / ENSEMBLE_MEMBERS;
            square += f * f / ENSEMBLE_MEMBERS;
        }
        double sd = sqrt(fmax(square - mean * mean, 0) + DAY_SHARED * DAY_SHARED);
        double off = fabs(o->value[last] - mean) / (SURPRISE * sd);
        p->taught.weight[j] = fmax(off, 1);
    }
}

/* What no guess can be: the heat flow is not quite that of the dish. Its mean misfit, drawn
 * towards none, is added to every plan. */
static double
find_late(const struct learning *p)
{
    double sum = 0, weights = LATE_PRIOR;
    for (int j = 0; j < p->taught.count; j++) {
        const struct lesson *l = &p->taught.lesson[j];
        int last = LESSON_PASSED - 1;
        if (isnan(l->passed_s[last]))
            continue;
        struct dish_scene scene = scene_of(l, p->air_bias_K);
        double mean = 0;
        for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
            struct dish_run run = {.mark_C = {l->passed_C[last]}, .marks = 1};
            dish_follow(p->ensemble.unknown[i], &scene, &run);
            mean += log(run.ret_mark_s[0]) / ENSEMBLE_MEMBERS;
        }
        double weight = 1 / (p->taught.weight[j] * p->taught.weight[j]);
        sum += weight * (log(l->passed_s[last]) - mean);
        weights += weight;
    }
    return sum / weights;
}

/* How the lessons rested against how the guesses would have. It is kept out of the fit: a probe
 * that was pulled out early must not change the time in the oven. */
static void
find_rests(const struct learning *from, struct plans *p)
{
    double climb = 0, linger = 0;
    p->rested = 0;
    for (int j = 0; j < from->taught.count; j++) {
        const struct lesson *l = &from->taught.lesson[j];
        if (!has_rise(l) || l->removed_C <= l->dish.start_C + 3)
            continue;
        struct dish_scene scene = scene_of(l, from->air_bias_K);
        double rise[ENSEMBLE_MEMBERS], rest[ENSEMBLE_MEMBERS];
        for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
            struct dish_run run = {.mark_C = {l->removed_C}, .marks = 1, .rests = true};
            dish_follow(from->ensemble.unknown[i], &scene, &run);
            rise[i] = isnan(run.ret_rise_K) ? NAN : rise_scale(run.ret_rise_K);
            rest[i] = isnan(run.ret_rest_s) ? NAN : rest_scale(run.ret_rest_s);
        }
        double usual_rise = median(rise, ENSEMBLE_MEMBERS);
        double usual_rest = median(rest, ENSEMBLE_MEMBERS);
        if (isnan(usual_rise) || isnan(usual_rest))
            continue;
        climb += rise_scale(l->peak_C - l->removed_C) - usual_rise;
        linger += rest_scale(l->peak_s) - usual_rest;
        p->rested++;
    }
    p->climb = climb / (p->rested + REST_PRIOR);
    p->linger = linger / (p->rested + REST_PRIOR);
}

void
planner_learn(struct planner *planner, struct planner_work *work, const struct lesson *lessons,
              int count)
{
    struct plans *p = plans_of(planner);
    struct learning *from = (struct learning *)(void *)work->room.bytes;
    memset(p, 0, sizeof *p);
    memset(from, 0, sizeof *from);
    int first = count > LESSONS_MAX ? count - LESSONS_MAX : 0;
    for (int j = first; j < count; j++) {
        from->taught.weight[from->taught.count] = 1;
        from->taught.lesson[from->taught.count++] = lessons[j];
    }
    from->air_bias_K = find_air_bias(&from->taught);
    ensemble_begin(&from->ensemble);
    struct ensemble_observed observed;
    for (int step = 0; step < STEPS && from->taught.count > 0; step++) {
        observe(&from->taught, &observed);
        for (int i = 0; i < ENSEMBLE_MEMBERS; i++)
            foresee(from, from->ensemble.unknown[i], from->ensemble.foreseen[i]);
        if (step > 0) {
            weigh(from, &observed);
            observe(&from->taught, &observed);
        }
        ensemble_step(&from->ensemble, &observed, STEPS);
    }
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++)
        for (int k = 0; k < DISH_UNKNOWNS; k++)
            p->unknown[i][k] = (float)from->ensemble.unknown[i][k];
    p->lessons = from->taught.count;
    p->air_bias_K = from->air_bias_K;
    p->late = find_late(from);
    find_rests(from, p);
}

static bool
sensible(double value, double low, double high)
{
    return value >= low && value <= high;
}

static bool
check(const struct dish *dish, const char **reterr_reason)
{
    if (!sensible(dish->mass_g, 20, 50000) && !sensible(dish->thickness_mm, 5, 500))
        *reterr_reason = "how big the dish is: its mass (20 g to 50 kg) or, of a flat one, its "
                         "thickness (5 to 500 mm)";
    else if (!sensible(dish->start_C, -5, 95))
        *reterr_reason = "its temperature before it goes in (-5 to 95 C)";
    else if (!sensible(dish->oven_C, 40, 350))
        *reterr_reason = "the set point of the oven (40 to 350 C)";
    else if (!sensible(dish->target_C, dish->start_C + 2, 99))
        *reterr_reason = "a target above its start and below 99 C";
    else if (dish->target_C > dish->oven_C - 3)
        *reterr_reason = "a target that this oven can reach";
    else
        return true;
    return false;
}

static struct forecast_range
range_of(double *value, double floor_sd)
{
    double mean = 0, square = 0;
    int count = 0;
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++)
        if (!isnan(value[i])) {
            mean += value[i];
            square += value[i] * value[i];
            count++;
        }
    if (count == 0)
        return (struct forecast_range){NAN, NAN, NAN};
    mean /= count;
    double sd = sqrt(fmax(square / count - mean * mean, 0) + floor_sd * floor_sd);
    double middle = median(value, ENSEMBLE_MEMBERS);
    return (struct forecast_range){middle - 1.645 * sd, middle, middle + 1.645 * sd};
}

static struct forecast_range
times_of(struct forecast_range log_s)
{
    struct forecast_range r = {exp(log_s.p05), exp(log_s.p50), exp(log_s.p95)};
    r.p50 = r.p50 > DISH_LONGEST_S ? INFINITY : r.p50;
    r.p95 = r.p95 > DISH_LONGEST_S ? INFINITY : r.p95;
    return r;
}

bool
planner_plan(const struct planner *planner, const struct dish *dish,
             struct planned *ret_planned, const char **reterr_reason)
{
    const struct plans *p = plans_in(planner);
    if (!check(dish, reterr_reason))
        return false;
    double log_s[ENSEMBLE_MEMBERS], rise[ENSEMBLE_MEMBERS], rest[ENSEMBLE_MEMBERS];
    struct dish_scene scene = {.dish = dish, .start_C = dish->start_C};
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
        double unknown[DISH_UNKNOWNS];
        struct dish_run run = {.mark_C = {dish->target_C}, .marks = 1, .rests = true};
        guess(p, i, unknown);
        dish_follow(unknown, &scene, &run);
        log_s[i] = log(run.ret_mark_s[0]) + p->late;
        rise[i] = isnan(run.ret_rise_K) ? NAN : rise_scale(run.ret_rise_K) + p->climb;
        rest[i] = isnan(run.ret_rest_s) ? NAN : rest_scale(run.ret_rest_s) + p->linger;
    }
    double doubt = p->rested > 0 ? RISE_OWN : RISE_UNTAUGHT;
    struct forecast_range r = range_of(rise, doubt), s = range_of(rest, doubt);
    ret_planned->target_s = times_of(range_of(log_s, PLAN_DAY));
    ret_planned->rise_K = (struct forecast_range){fmax(exp(r.p05) - 1, 0),
                                                  fmax(exp(r.p50) - 1, 0), exp(r.p95) - 1};
    ret_planned->rest_s = (struct forecast_range){fmax(exp(s.p05) - 60, 0),
                                                  fmax(exp(s.p50) - 60, 0), exp(s.p95) - 60};
    ret_planned->lessons = p->lessons;
    return true;
}

/* The rise hardly depends on the take-out temperature: a few rounds settle it. */
bool
planner_take_out(const struct planner *planner, const struct dish *dish, double least_C,
                 double *ret_take_out_C, struct planned *ret_planned,
                 const char **reterr_reason)
{
    struct dish out = *dish;
    struct planned planned;
    if (!check(dish, reterr_reason))
        return false;
    for (int round = 0; round < 4; round++) {
        if (!planner_plan(planner, &out, &planned, reterr_reason))
            return false;
        double rise_K = isnan(planned.rise_K.p50) ? 0 : planned.rise_K.p50;
        double next_C = fmax(dish->target_C - rise_K, dish->start_C + 3);
        if (!isnan(least_C))
            next_C = fmax(next_C, least_C);
        if (fabs(next_C - out.target_C) < 0.05)
            break;
        out.target_C = next_C;
    }
    *ret_take_out_C = out.target_C;
    *ret_planned = planned;
    return true;
}

/* What follows from a dish's first readings: each guess is run through the oven as it was
 * measured, and the doubt about the time is narrowed by its regression on the readings. */
struct follow {
    const struct taker *taker;
    struct dish dish;
    double air_C[LESSON_AIRS];
    struct dish_scene scene;
    double look_s[DISH_LOOKS];
    double look[DISH_LOOKS]; /* as look_scale */
    double look_sd[DISH_LOOKS];
};

static double
look_scale(double rise_K)
{
    return log(1 + fmax(rise_K, -0.5));
}

/* Where the set point is now: as told, unless the air is far off once it should be hot. */
static double
set_point_C(const struct follow *f, double bias_K)
{
    const struct taker *t = f->taker;
    int last = t->spans, first = last - (int)(600 / t->span_s);
    double recent[32];
    int count = 0;
    for (int i = first > 0 ? first : 0; i < last && count < 32; i++)
        recent[count++] = (double)t->air_C[i];
    double now_C = median(recent, count) - bias_K;
    double hot_after_s = f->dish.cold_oven ? 2400 : 900;
    bool moved = fabs(now_C - f->dish.oven_C) > AIR_MOVED_K && t->last_s > hot_after_s;
    return moved ? now_C : f->dish.oven_C;
}

static void
follow_begin(struct follow *f, const struct plans *p, const struct taker *t)
{
    f->taker = t;
    f->dish = t->dish;
    f->dish.start_C = t->start_C;
    f->scene = (struct dish_scene){.dish = &f->dish, .start_C = t->start_C};
    double until_s = t->spans * t->span_s;
    if (!isnan(p->air_bias_K) && taker_air(t, until_s, f->air_C)) {
        f->scene.air_C = f->air_C;
        f->scene.airs = LESSON_AIRS;
        f->scene.air_span_s = until_s / LESSON_AIRS;
        f->scene.air_bias_K = p->air_bias_K;
        f->scene.after_air_C = set_point_C(f, p->air_bias_K);
    }
    for (int k = 0; k < DISH_LOOKS; k++) {
        f->look_s[k] = (until_s - t->span_s) * (0.4 + 0.3 * k);
        double rise_K = taker_core_C(t, f->look_s[k]) - t->start_C;
        f->look[k] = isnan(rise_K) ? NAN : look_scale(rise_K);
        double share = LOOK_K / (1 + fmax(rise_K, 0));
        f->look_sd[k] = sqrt(share * share + LOOK_SHARE * LOOK_SHARE);
    }
}

struct regression {
    double time[ENSEMBLE_MEMBERS];
    double look[ENSEMBLE_MEMBERS][DISH_LOOKS];
};

static void
run_guesses(const struct plans *p, const struct follow *f, struct regression *r)
{
    uint64_t random = 0xD1B54A32D192ED03ULL;
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
        double unknown[DISH_UNKNOWNS], normal[DISH_UNKNOWNS];
        struct dish_run run = {.mark_C = {f->dish.target_C}, .marks = 1, .looks = DISH_LOOKS};
        struct dish_scene scene = f->scene;
        guess(p, i, unknown);
        memcpy(run.look_s, f->look_s, sizeof run.look_s);
        for (int k = 0; k < DISH_UNKNOWNS; k++)
            normal[k] = ensemble_normal(&random);
        scene.uneven_K = UNEVEN_K * ensemble_normal(&random);
        dish_of_the_day(normal, unknown);
        dish_follow(unknown, &scene, &run);
        r->time[i] = log(run.ret_mark_s[0]) + p->late;
        for (int k = 0; k < DISH_LOOKS; k++)
            r->look[i][k] = look_scale(run.ret_look_C[k] - scene.start_C);
    }
}

/* Mean and spread of the time when the readings are known. */
static void
regress(const struct follow *f, const struct regression *r, double *ret_mean, double *ret_sd)
{
    int used[DISH_LOOKS] = {0}, looks = 0;
    for (int k = 0; k < DISH_LOOKS; k++)
        if (!isnan(f->look[k]) && f->look_s[k] > 0)
            used[looks++] = k;
    double mean = 0, look_mean[DISH_LOOKS] = {0}, var = 0;
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
        mean += r->time[i] / ENSEMBLE_MEMBERS;
        for (int a = 0; a < looks; a++)
            look_mean[a] += r->look[i][used[a]] / ENSEMBLE_MEMBERS;
    }
    double matrix[DISH_LOOKS * DISH_LOOKS] = {0}, cross[DISH_LOOKS] = {0}, gain[DISH_LOOKS];
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
        double away = (r->time[i] - mean) / ENSEMBLE_MEMBERS;
        var += away * (r->time[i] - mean);
        for (int a = 0; a < looks; a++) {
            double look = r->look[i][used[a]] - look_mean[a];
            cross[a] += away * look;
            for (int b = 0; b <= a; b++)
                matrix[a * DISH_LOOKS + b] +=
                    look * (r->look[i][used[b]] - look_mean[b]) / ENSEMBLE_MEMBERS;
        }
    }
    for (int a = 0; a < looks; a++) {
        matrix[a * DISH_LOOKS + a] += f->look_sd[used[a]] * f->look_sd[used[a]];
        gain[a] = cross[a];
    }
    ensemble_solve(matrix, DISH_LOOKS, looks, gain);
    for (int a = 0; a < looks; a++) {
        mean += gain[a] * (f->look[used[a]] - look_mean[a]);
        var -= gain[a] * cross[a];
    }
    *ret_mean = mean;
    *ret_sd = sqrt(fmax(var, 0) + FOLLOW_DAY * FOLLOW_DAY);
}

bool
planner_follow(const struct planner *planner, const struct lesson_taker *taker,
               struct planned *ret_planned, const char **reterr_reason)
{
    const struct plans *p = plans_in(planner);
    const struct taker *t = taker_in(taker);
    struct follow f;
    if (isnan(t->start_C)) {
        *reterr_reason = "a reading of its core";
        return false;
    }
    follow_begin(&f, p, t);
    if (!check(&f.dish, reterr_reason))
        return false;
    if (t->last_s < LOOKS_AFTER_S || t->spans < 3)
        return planner_plan(planner, &f.dish, ret_planned, reterr_reason);
    struct regression r;
    double mean, sd, passed_s = taker_passed_s(t, f.dish.target_C);
    run_guesses(p, &f, &r);
    regress(&f, &r, &mean, &sd);
    struct forecast_range log_s = {mean - 1.645 * sd, mean, mean + 1.645 * sd};
    ret_planned->target_s = times_of(log_s);
    if (!isnan(passed_s))
        ret_planned->target_s = (struct forecast_range){passed_s, passed_s, passed_s};
    ret_planned->rise_K = ret_planned->rest_s = (struct forecast_range){NAN, NAN, NAN};
    ret_planned->lessons = p->lessons;
    return true;
}
