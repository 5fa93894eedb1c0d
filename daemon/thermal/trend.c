/* The rule of thumb for cooks.  See trend.h.  Pure; owns nothing. */
#include "daemon/thermal/trend.h"

#include <math.h>

#include "daemon/thermal/signs.h"

enum { SIGNS = 9 };

static const double WINDOW_LEAST_S = 420;
static const double WINDOW_MOST_S = 900;
static const double WINDOW_SHARE = 0.25; /* of the time so far */
static const double AIR_S = 1500;
static const double LATE_PROBE_S = 300;
static const double TURNED_K = 10;
static const double RULE_WEIGHT = 0.6;

/* The logarithm of (time left / time left along the straight line) is a quadratic form in the
 * signs below; printed by tests/bench/fit_trend.py, least absolute error over 4000 made cooks.
 */
static const double FITTED[SIGNS][SIGNS] = {
    {0.5830, -0.7191, 0.3990, 0.1551, 0.4128, 0.3444, -0.1382, -0.0304, -0.0925},
    {0, 0.0239, -0.0571, 0.0585, -0.1233, -0.0536, 0.0080, -0.2700, 0.1501},
    {0, 0, 0.1813, 0.2452, 0.4656, -0.0774, 0.1231, -0.0062, 0.0698},
    {0, 0, 0, -0.0791, 0.5785, -0.0567, 0.1555, 0.0975, -0.0418},
    {0, 0, 0, 0, 0.1131, -0.0725, 0.1158, -0.0992, 0.0290},
    {0, 0, 0, 0, 0, 0.1175, 0, -0.0043, 0.0502},
    {0, 0, 0, 0, 0, 0, 0, 0.0332, 0},
    {0, 0, 0, 0, 0, 0, 0, 0.0054, 0.0577},
    {0, 0, 0, 0, 0, 0, 0, 0, 0.0628},
};

/* Mean of the air over the newest `span_s`; NAN. */
static double
air_mean(const struct record *record, double span_s)
{
    double age = 0, sum = 0, n = 0;
    for (int i = record->count - 1; i >= 0 && age < span_s; i--) {
        const struct record_entry *e = &record->entry[i];
        age += (double)e->span_s;
        if (isnan(e->medium_C))
            continue;
        sum += (double)e->span_s * (double)e->medium_C;
        n += (double)e->span_s;
    }
    return n > 0 ? sum / n : NAN;
}

static double
first_core_after_s(const struct record *record)
{
    double at = 0;
    for (int i = 0; i < record->count && isnan(record->entry[i].core_C); i++)
        at += (double)record->entry[i].span_s;
    return at;
}

double
trend_left_s(const struct record *record, const struct food_context *context, double target_C)
{
    double so_far_s = record->end_s - record->origin_s;
    if (record->kind != FORECAST_COOK || record->place != 0 || so_far_s < WINDOW_LEAST_S + 60 ||
        first_core_after_s(record) > LATE_PROBE_S)
        return NAN;
    double window_s = fmin(fmax(WINDOW_SHARE * so_far_s, WINDOW_LEAST_S), WINDOW_MOST_S);
    struct signs_line now, before;
    if (!signs_line(record, 0, window_s, &now))
        return NAN;
    if (!signs_line(record, window_s, 2 * window_s, &before))
        before = now;
    double slope = fmax(now.slope_K_s, 2e-4), earlier = fmax(before.slope_K_s, 1e-4);
    double gap_K = fmax(target_C - now.end_C, 0.2);
    double straight_s = gap_K / slope;
    double air_C = air_mean(record, AIR_S);
    if (!isnan(air_C) && fabs(record_level(record).level_C - air_C) > TURNED_K)
        return NAN;
    bool heats = air_C > fmax(now.end_C, target_C) + 3; /* false for NAN */
    const double sign[SIGNS] = {
        1,
        signs_clipped(log(slope / earlier)),
        signs_clipped(log(fmax(now.end_C - context->start_C, 0.3) / gap_K)),
        signs_clipped(log(straight_s / so_far_s)),
        signs_clipped(log(gap_K / 30)),
        heats ? signs_clipped(log(gap_K / (air_C - now.end_C)) + 0.7) : 0,
        heats ? 0 : 1,
        signs_clipped(log(so_far_s / 3000)),
        heats ? signs_clipped((air_C - air_mean(record, INFINITY)) / 30) : 0,
    };
    double sum = 0;
    for (int i = 0; i < SIGNS; i++)
        for (int k = i; k < SIGNS; k++)
            sum += FITTED[i][k] * sign[i] * sign[k];
    return straight_s * exp(signs_clipped(sum));
}

double
trend_factor(const struct record *record, const struct food_context *context, double target_C,
             double bank_s)
{
    double rule_s = trend_left_s(record, context, target_C);
    if (isnan(rule_s) || !isfinite(bank_s) || bank_s <= 0)
        return 1;
    double so_far_s = record->end_s - record->origin_s;
    double to_go = bank_s / (bank_s + so_far_s);
    double weight = RULE_WEIGHT * to_go * signs_vagueness(&context->prior);
    return exp(weight * fmin(fmax(log(rule_s / bank_s), -1), 1));
}
