/* The hunch for coolings.  See hunch.h.  Pure; owns nothing. */
#include "daemon/thermal/hunch.h"

#include <math.h>

#include "daemon/thermal/signs.h"

static const double WINDOW_LEAST_S = 300;
static const double WINDOW_MOST_S = 1200;
static const double WINDOW_SHARE = 0.25; /* of the time in the place */
static const double PLACE_LEAST_S = 300;
static const double ROOM_C = 14;
static const double COLD_C = 3; /* a cold place nobody measures */
static const double HOT_C = 55;
static const double LIMIT_LEAST_C = 4.5; /* the made records end at 4 C */
static const double LIMIT_MOST_C = 35;
/* Chosen on made coolings of kinds that the hunch had not been fitted to (docs/forecast.md). A
 * miss that nobody is told of costs more than a look at a dish: chances lean by less. */
static const double WEIGHT_MOST = 0.8;
static const double CHANCE_SHARE = 0.6;
static const double NEVER_WIDE = 1.5; /* logarithm, from the middle to "not at all" */

/* The air of the present place in stretches of ten minutes. */
struct airs {
    double now_C, before_C, lowest_C, highest_C, first_C;
};

static struct airs
airs_of(const struct record *record, double place_s)
{
    struct airs a = {NAN, NAN, INFINITY, -INFINITY, NAN};
    double age = 0, sum = 0, span = 0;
    int block = 0;
    for (int i = record->count - 1; i >= 0 && age < place_s; i--) {
        const struct record_entry *e = &record->entry[i];
        age += (double)e->span_s;
        if (!isnan(e->medium_C)) {
            sum += (double)e->span_s * (double)e->medium_C;
            span += (double)e->span_s;
        }
        bool last = i == 0 || age >= place_s;
        if (span < 600 && !(last && span > 120))
            continue;
        double mean_C = sum / span;
        if (block == 0)
            a.now_C = mean_C;
        if (block <= 3)
            a.before_C = mean_C;
        a.first_C = mean_C;
        a.lowest_C = fmin(a.lowest_C, mean_C);
        a.highest_C = fmax(a.highest_C, mean_C);
        sum = span = 0;
        block++;
    }
    return a;
}

/* Oldest core reading not older than an age. */
static double
core_at_age(const struct record *record, double age_s)
{
    double age = 0, core_C = NAN;
    for (int i = record->count - 1; i >= 0 && age < age_s; i--) {
        const struct record_entry *e = &record->entry[i];
        age += (double)e->span_s;
        if (!isnan(e->core_C))
            core_C = (double)e->core_C;
    }
    return core_C;
}

/* How the core falls: in the newest window, the one before and the one before that. */
struct fall {
    double place_s, so_far_s;
    double core_C;
    double slope_K_s[3];
    double stir_s;     /* usual time between two stirs; 0: not stirred twice */
    double since_stir; /* how much of it has passed; 0 when it is over */
};

static bool
fall_of(const struct record *record, struct fall *f)
{
    f->so_far_s = record->end_s - record->origin_s;
    f->place_s = record->end_s - record->place_since_s;
    if (record->kind != FORECAST_COOLING || f->place_s < PLACE_LEAST_S)
        return false;
    double share_s = WINDOW_SHARE * f->place_s;
    double window_s = fmin(fmax(share_s, WINDOW_LEAST_S), WINDOW_MOST_S);
    f->stir_s = 0;
    if (record->stirs >= 2)
        f->stir_s = (record->last_stir_s - record->first_stir_s) / (record->stirs - 1);
    bool stirred = f->stir_s > 0 && record->end_s - record->last_stir_s < 2 * f->stir_s;
    f->since_stir = stirred ? (record->end_s - record->last_stir_s) / f->stir_s : 0;
    if (stirred) /* one stir falls into each window */
        window_s = fmin(fmax(window_s, f->stir_s), f->place_s);
    struct signs_line line;
    for (int k = 0; k < 3; k++) {
        bool fits = f->place_s >= (k + 0.7) * window_s;
        double to_s = fmin((k + 1) * window_s, f->place_s);
        if ((k == 0 || fits) && signs_line(record, k * window_s, to_s, &line))
            f->slope_K_s[k] = fmax(-line.slope_K_s, 1e-5);
        else if (k == 0)
            return false;
        else
            f->slope_K_s[k] = f->slope_K_s[k - 1];
        if (k == 0)
            f->core_C = line.end_C;
    }
    return true;
}

/* What the core has come down by since an age, against what it has to. */
static double
come_down(const struct record *record, const struct fall *f, double age_s, double gap_K)
{
    double sign = log((core_at_age(record, age_s) - f->core_C + 0.1) / gap_K);
    return isnan(sign) ? 0 : sign;
}

bool
hunch_signs(const struct record *record, double limit_C, double ret_sign[HUNCH_SIGNS],
            double *ret_straight_s)
{
    struct fall f = {0};
    if (record->highest_C < HOT_C || limit_C < LIMIT_LEAST_C || limit_C > LIMIT_MOST_C ||
        !fall_of(record, &f))
        return false;
    double slope = f.slope_K_s[0], gap_K = fmax(f.core_C - limit_C, 0.1);
    double straight_s = gap_K / slope, hour_s = fmin(f.place_s, 3600);
    double mean_slope = fmax((core_at_age(record, hour_s) - f.core_C) / hour_s, 1e-5);
    struct airs airs = airs_of(record, f.place_s);
    struct record_level level = record_level(record);
    bool none = isnan(airs.now_C) || isnan(level.level_C);
    bool room = !none && level.level_C > ROOM_C;
    double air_C = none || room ? COLD_C : level.level_C;
    double over_K = fmax(f.core_C - air_C, 0.3), short_K = fmax(limit_C - air_C, 0.3);
    double newton_s = over_K > short_K ? log(over_K / short_K) * over_K / slope : 10;
    const double sign[HUNCH_SIGNS] = {
        log(slope * 200),
        log(slope / f.slope_K_s[1]),
        log(f.slope_K_s[1] / f.slope_K_s[2]),
        log(slope / mean_slope),
        log(gap_K / 20),
        log(over_K / 25),
        (limit_C - air_C) / 5,
        log(short_K / 5),
        air_C / 10,
        none ? 1 : 0,
        room ? 1 : 0,
        record->place == 1 ? 1 : 0,
        log(f.place_s / 3000),
        log(f.so_far_s / 3000),
        log((record->highest_C - f.core_C + 1) / gap_K),
        (record->highest_C - 75) / 10,
        record->stirs > 0 ? 1 : 0,
        f.stir_s / 1000,
        f.since_stir,
        none ? 0 : (airs.now_C - airs.before_C) / 2,
        none ? 0 : (airs.now_C - airs.lowest_C) / 3,
        none ? 0 : (airs.highest_C - airs.now_C) / 5,
        log(newton_s / 5000),
        log(straight_s / 5000),
        level.load * level.load_known * 20,
        level.load_known,
        (f.core_C - 40) / 20,
        none ? 0 : (airs.first_C - airs.now_C) / 5,
        room ? (level.level_C - 23) / 4 : 0,
        (limit_C - 13) / 8,
        come_down(record, &f, 0.75 * f.place_s, gap_K),
        come_down(record, &f, 0.5 * f.place_s, gap_K),
        come_down(record, &f, 0.25 * f.place_s, gap_K),
        come_down(record, &f, 0.5 * f.so_far_s, gap_K),
    };
    for (int i = 0; i < HUNCH_SIGNS; i++)
        ret_sign[i] = signs_clipped(sign[i]);
    *ret_straight_s = straight_s;
    return true;
}

void
hunch_miss_signs(double straight_s, double deadline_s, double sign[HUNCH_MISS_SIGNS])
{
    sign[HUNCH_SIGNS] = signs_clipped(log(deadline_s / straight_s));
    sign[HUNCH_SIGNS + 1] = signs_clipped(log(deadline_s / 5000));
}

/* Each counts by the inverse square of how wide it is; never the hunch alone. */
static double
hunch_weight(const struct forecast_range *bank, double hunch_wide)
{
    if (!isfinite(bank->p50))
        return 0;
    double least_s = fmax(bank->p05, 1), middle_s = fmax(bank->p50, 1);
    double bank_wide = isfinite(bank->p95) ? log(fmax(bank->p95, 1) / least_s)
                                           : log(middle_s / least_s) + NEVER_WIDE;
    double bank_2 = bank_wide * bank_wide, hunch_2 = hunch_wide * hunch_wide;
    return bank_2 > 0 ? fmin(bank_2 / (bank_2 + hunch_2), WEIGHT_MOST) : 0;
}

static double
leaned_s(double bank_s, double straight_s, double logarithm, double weight)
{
    if (!isfinite(bank_s) || bank_s <= 0)
        return bank_s;
    return bank_s * pow(straight_s * exp(logarithm) / bank_s, weight);
}

static double
log_odds(double chance)
{
    double p = fmin(fmax(chance, 0.001), 0.999);
    return log(p / (1 - p));
}

bool
hunch_lean(const struct record *record, const struct food_context *context,
           const struct forecast_limit *limit, struct forecast_range *eta_s,
           double *miss_chance)
{
    double sign[HUNCH_MISS_SIGNS], said[NETWORK_OUTPUTS_MAX], straight_s;
    if (!hunch_signs(record, limit->temp_C, sign, &straight_s))
        return false;
    network_run(&HUNCH_WHEN, sign, said);
    double weight = hunch_weight(eta_s, said[2] - said[0]) * signs_vagueness(&context->prior);
    eta_s->p50 = leaned_s(eta_s->p50, straight_s, said[1], weight);
    eta_s->p05 = fmin(leaned_s(eta_s->p05, straight_s, said[0], weight), eta_s->p50);
    eta_s->p95 = fmax(leaned_s(eta_s->p95, straight_s, said[2], weight), eta_s->p50);
    double deadline_s = record->clock_began_s + limit->within_s - record->end_s;
    if (isnan(*miss_chance) || !(deadline_s > 0)) /* false for NAN: no clock yet */
        return true;
    hunch_miss_signs(straight_s, deadline_s, sign);
    network_run(&HUNCH_MISS, sign, said);
    weight *= CHANCE_SHARE;
    double odds = log_odds(*miss_chance) * (1 - weight) + said[0] * weight;
    *miss_chance = 1 / (1 + exp(-odds));
    return true;
}
