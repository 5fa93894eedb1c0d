/* The figures of one compared batch. See compare.h. Pure but for its forecaster's memory. */
#include <math.h>
#include <stdlib.h>

#include "daemon/cli/compare_own.h"

enum { AROUND = 3, RATE_BINS = 30 /* five minutes */ };

double
compare_core_C(const struct earlier_curve *curve, double at_s)
{
    double sum = 0;
    int count = 0;
    int64_t middle = (int64_t)(at_s / EARLIER_BIN_S);
    for (int64_t i = middle - AROUND; i <= middle + AROUND; i++)
        if (i >= 0 && (size_t)i < curve->count && !isnan(curve->core_C[i])) {
            sum += curve->core_C[i];
            count++;
        }
    return count > 0 ? sum / count : NAN;
}

static double
mean_air_C(const struct earlier_curve *curve)
{
    double sum = 0;
    size_t count = 0;
    for (size_t i = 0; i < curve->out; i++)
        if (!isnan(curve->air_C[i])) {
            sum += curve->air_C[i];
            count++;
        }
    return count > 0 ? sum / (double)count : NAN;
}

static void
find_times(struct compare_row *row)
{
    const struct earlier_curve *c = &row->curve;
    row->peak_C = -INFINITY;
    for (size_t i = 0; i < c->count; i++) {
        double now_C = c->core_C[i], now_s = (double)(i * EARLIER_BIN_S);
        if (isnan(now_C))
            continue;
        if (isnan(row->start_C))
            row->start_C = now_C;
        if (isnan(row->reached_s) && now_C >= row->limit_C)
            row->reached_s = now_s;
        if (now_C > row->peak_C) {
            row->peak_C = now_C;
            row->peak_s = now_s;
        }
        if (now_C >= row->limit_C)
            row->above_s += EARLIER_BIN_S;
        else
            row->below_s += EARLIER_BIN_S;
    }
    if (isinf(row->peak_C) || row->batch->taken_out_ms == TIME_NONE)
        row->peak_C = row->peak_s = NAN; /* still in the heat: it is to come */
}

static void
find_take_out(struct compare_row *row)
{
    const struct earlier_curve *c = &row->curve;
    if (row->batch->taken_out_ms == TIME_NONE || c->out < RATE_BINS)
        return;
    double out_s = (double)((c->out - AROUND - 1) * EARLIER_BIN_S);
    row->out_C = compare_core_C(c, out_s);
    double before_C = compare_core_C(c, out_s - (RATE_BINS - 10) * EARLIER_BIN_S);
    row->rate_K_min = (row->out_C - before_C) * 60 / ((RATE_BINS - 10) * EARLIER_BIN_S);
}

void
compare_forecast(struct compare_row *row, const struct forecast_setup *setup, double at_s,
                 int at)
{
    const struct earlier_curve *c = &row->curve;
    const char *reason;
    struct forecast said;
    struct forecaster *forecaster = malloc(sizeof *forecaster);
    if (forecaster == NULL)
        return;
    size_t half = (size_t)(at_s / EARLIER_BIN_S);
    if (forecaster_init(forecaster, setup, &reason)) {
        for (size_t i = 0; i <= half && i < c->count; i++) {
            struct forecast_reading r = {(double)(i * EARLIER_BIN_S), c->core_C[i], c->air_C[i],
                                         FORECAST_NO_EVENT};
            (void)forecaster_feed(forecaster, &r);
        }
        forecaster_ask(forecaster, NULL, &said);
        if (said.refusal == FORECAST_GIVEN) {
            row->half_s = said.time_s;
            row->said_p05_s = said.time_s + said.eta_s[at].p05;
            row->said_p50_s = said.time_s + said.eta_s[at].p50;
            row->said_p95_s = said.time_s + said.eta_s[at].p95;
        }
    }
    free(forecaster);
}

static void
find_forecast(struct compare_row *row)
{
    struct forecast_setup setup = {.kind = FORECAST_COOK,
                                   .limit = {{row->limit_C, 0}},
                                   .limits = 1,
                                   .clock_from_C = NAN,
                                   .oven_C = NAN,
                                   .room_C = NAN};
    if (!isnan(row->reached_s))
        compare_forecast(row, &setup, row->reached_s / 2, 0);
}

void
compare_figures(struct compare_row *row, enum forecast_kind kind)
{
    row->limit_C = kind == FORECAST_COOK ? earlier_C(row->batch->limit) : (double)NAN;
    row->start_C = row->reached_s = row->peak_C = row->peak_s = NAN;
    row->out_C = row->rate_K_min = NAN;
    row->half_s = row->said_p05_s = row->said_p50_s = row->said_p95_s = NAN;
    row->above_s = row->below_s = 0;
    row->oven_C = mean_air_C(&row->curve);
    if (kind == FORECAST_COOLING) {
        compare_cooling_figures(row);
        return;
    }
    find_times(row);
    find_take_out(row);
    find_forecast(row);
}
