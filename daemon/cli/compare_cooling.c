/* Compared coolings: their figures, as text and CSV. See compare.h. */
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

#include "daemon/cli/compare_own.h"
#include "trivet/forecast.h"

/* ---- figures ---- */

static bool
falls_below(const struct earlier_curve *c, size_t bin, double temp_C)
{
    return !isnan(c->core_C[bin]) && c->core_C[bin] <= temp_C;
}

/* The clock begins with the step, or as the core falls through its temperature: with the last
 * reading above that before one at or below. */
static void
find_clock(struct compare_row *row)
{
    const struct earlier_curve *c = &row->curve;
    double above_s = NAN;
    if (row->batch->clock == COOL_CLOCK_STEP) {
        row->clock_s = 0;
        return;
    }
    for (size_t i = 0; i < c->out && isnan(row->clock_s); i++) {
        if (isnan(c->core_C[i]))
            continue;
        if (!falls_below(c, i, earlier_C(row->batch->from)))
            above_s = (double)(i * EARLIER_BIN_S);
        else if (!isnan(above_s))
            row->clock_s = above_s;
    }
}

static void
find_stages(struct compare_row *row)
{
    const struct earlier_curve *c = &row->curve;
    row->lowest_C = INFINITY;
    for (size_t i = 0; i < c->out && i < c->count; i++) {
        double now_s = (double)(i * EARLIER_BIN_S);
        if (isnan(c->core_C[i]))
            continue;
        if (isnan(row->start_C))
            row->start_C = c->core_C[i];
        row->lowest_C = fmin(row->lowest_C, c->core_C[i]);
        for (uint8_t s = 0; s < row->batch->stage_count; s++)
            if (isnan(row->stage_s[s]) && now_s >= row->clock_s &&
                falls_below(c, i, earlier_C(row->batch->stages[s].to)))
                row->stage_s[s] = now_s;
    }
    if (isinf(row->lowest_C))
        row->lowest_C = NAN;
    if (row->batch->stage_count == 0 || isnan(row->stage_s[0]))
        return;
    double from_C = compare_core_C(c, row->clock_s);
    row->rate_K_min = (from_C - earlier_C(row->batch->stages[0].to)) * 60 /
                      fmax(row->stage_s[0] - row->clock_s, EARLIER_BIN_S);
}

/* Half way to the last of the first two stages that was reached, fed with nothing later. */
static void
find_forecast(struct compare_row *row)
{
    const struct earlier_batch *b = row->batch;
    struct forecast_setup setup = {
        .kind = FORECAST_COOLING,
        .clock_from_C = b->clock == COOL_CLOCK_STEP ? (double)NAN : earlier_C(b->from),
        .oven_C = NAN,
        .room_C = NAN};
    int at = -1;
    for (uint8_t s = 0; s < b->stage_count && setup.limits < FORECAST_LIMITS; s++) {
        if (!isnan(row->stage_s[s]))
            at = setup.limits;
        setup.limit[setup.limits++].temp_C = earlier_C(b->stages[s].to);
    }
    if (at < 0)
        return;
    row->limit_C = setup.limit[at].temp_C;
    row->reached_s = row->stage_s[at];
    double half_s = row->clock_s + 0.5 * (row->reached_s - row->clock_s);
    compare_forecast(row, &setup, half_s, at);
}

void
compare_cooling_figures(struct compare_row *row)
{
    row->clock_s = NAN;
    for (size_t s = 0; s < PLAN_STAGES_MAX; s++)
        row->stage_s[s] = NAN;
    find_clock(row);
    find_stages(row);
    find_forecast(row);
}

/* ---- text ---- */

static const struct earlier_batch *
newest(const struct compared *of)
{
    return of->row[of->count - 1].batch;
}

/* A stage counts from the beginning of the clock. */
static double
took_s(const struct compare_row *row, size_t stage)
{
    return row->stage_s[stage] - row->clock_s;
}

static void
text_cold(FILE *out, const struct compared *of)
{
    (void)fputs("batch  put in the cold   size    start     air  clock  K/min  lowest "
                "deviations\n",
                out);
    for (size_t i = 0; i < of->count; i++) {
        const struct compare_row *r = &of->row[i];
        char a[CELL_BYTES], b[CELL_BYTES], c[CELL_BYTES], d[CELL_BYTES], e[CELL_BYTES],
            f[CELL_BYTES], rate[CELL_BYTES];
        (void)fprintf(out, "%5" PRIu32 "  %-16s  %-7s %5s %7s %6s %6s %7s %10u\n",
                      r->batch->number, compare_begun(of, r->batch, a),
                      compare_size(r->batch, b), compare_degrees(r->start_C, c),
                      compare_degrees(r->oven_C, d), compare_span(r->clock_s, e),
                      compare_rate(r->rate_K_min, rate), compare_degrees(r->lowest_C, f),
                      r->batch->deviations);
    }
}

static void
text_stages(FILE *out, const struct compared *of)
{
    char a[CELL_BYTES], head[CELL_BYTES];
    (void)fputs(
        "\nFrom the beginning of the clock on; and what was said half way to the last stage\n"
        "reached, at most the second\nbatch",
        out);
    for (uint8_t s = 0; s < newest(of)->stage_count; s++) {
        (void)snprintf(head, sizeof head, "to %s",
                       compare_degrees(earlier_C(newest(of)->stages[s].to), a));
        (void)fprintf(out, " %8s", head);
    }
    (void)fputs("  said half way           took\n", out);
    for (size_t i = 0; i < of->count; i++) {
        const struct compare_row *r = &of->row[i];
        char said[SAID_BYTES], b[CELL_BYTES];
        (void)fprintf(out, "%5" PRIu32, r->batch->number);
        for (uint8_t s = 0; s < newest(of)->stage_count; s++)
            (void)fprintf(out, " %8s", compare_span(took_s(r, s), a));
        (void)fprintf(out, "  %-22s %5s\n", compare_said(r, r->clock_s, said),
                      compare_span(r->reached_s - r->clock_s, b));
    }
}

void
compare_cooling_text(FILE *out, const struct compared *of)
{
    text_cold(out, of);
    text_stages(out, of);
}

/* ---- CSV ---- */

void
compare_cooling_csv(FILE *out, const struct compared *of)
{
    (void)fputs("batch,put_in_utc,mass_g,thickness_mm,start_degC,mean_air_degC,clock_s", out);
    for (int s = 1; s <= PLAN_STAGES_MAX; s++)
        (void)fprintf(out, ",stage%d_degC,stage%d_within_s,stage%d_took_s", s, s, s);
    (void)fputs(",rate_K_min,lowest_degC,deviations,forecast_for_degC,forecast_at_s,"
                "forecast_p50_s,forecast_p05_s,forecast_p95_s,reached_s,notes\n",
                out);
    for (size_t i = 0; i < of->count; i++) {
        const struct compare_row *r = &of->row[i];
        const struct earlier_batch *b = r->batch;
        compare_cell_batch(out, b);
        compare_cell(out, r->start_C, 2);
        compare_cell(out, r->oven_C, 1);
        compare_cell(out, r->clock_s, 0);
        for (uint8_t s = 0; s < PLAN_STAGES_MAX; s++) {
            bool has = s < b->stage_count;
            compare_cell(out, has ? earlier_C(b->stages[s].to) : (double)NAN, 3);
            compare_cell(out, has ? (double)b->stages[s].within_ms / 1000 : (double)NAN, 0);
            compare_cell(out, has ? took_s(r, s) : (double)NAN, 0);
        }
        compare_cell(out, r->rate_K_min, 3);
        compare_cell(out, r->lowest_C, 2);
        (void)fprintf(out, ",%u", b->deviations);
        compare_cell(out, isnan(r->said_p50_s) ? (double)NAN : r->limit_C, 3);
        compare_cell(out, r->half_s, 0);
        compare_cell(out, r->said_p50_s, 0);
        compare_cell(out, r->said_p05_s, 0);
        compare_cell(out, r->said_p95_s, 0);
        compare_cell(out, r->reached_s, 0);
        compare_cell_text(out, b->notes);
        (void)fputc('\n', out);
    }
}
