/* Compared batches as text and CSV. See compare.h. Writes to the stream it is given. */
#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "daemon/cli/compare_own.h"

enum { ROWS_MAX = 16 };

/* ---- text ---- */

const char *
compare_degrees(double value, char buf[CELL_BYTES])
{
    if (isnan(value))
        return "-";
    (void)snprintf(buf, CELL_BYTES, "%.1f", value);
    return buf;
}

const char *
compare_span(double seconds, char buf[CELL_BYTES])
{
    if (isnan(seconds))
        return "-";
    if (isinf(seconds))
        return "never";
    long minutes = lround(seconds / 60);
    (void)snprintf(buf, CELL_BYTES, "%ld:%02ld", minutes / 60, minutes % 60);
    return buf;
}

const char *
compare_begun(const struct compared *of, const struct earlier_batch *batch,
              char buf[CELL_BYTES])
{
    (void)zone_stamp_text(of->zone, batch->put_in_ms + batch->offset_ms, buf, CELL_BYTES);
    if (strlen(buf) > 16)
        buf[16] = '\0'; /* "2026-03-29 14:05" */
    return buf;
}

const char *
compare_size(const struct earlier_batch *batch, char buf[CELL_BYTES])
{
    if (batch->mass_g > 0)
        (void)snprintf(buf, CELL_BYTES, "%.3g kg", batch->mass_g / 1000.0);
    else if (batch->thickness_mm > 0)
        (void)snprintf(buf, CELL_BYTES, "%" PRId32 " mm", batch->thickness_mm);
    else
        return "-";
    return buf;
}

const char *
compare_rate(double K_min, char buf[CELL_BYTES])
{
    if (isnan(K_min))
        return "-";
    (void)snprintf(buf, CELL_BYTES, "%.2f", K_min);
    return buf;
}

const char *
compare_said(const struct compare_row *row, double from_s, char buf[SAID_BYTES])
{
    char middle[CELL_BYTES], early[CELL_BYTES], late[CELL_BYTES];
    if (isnan(row->said_p50_s))
        return "-";
    (void)snprintf(buf, SAID_BYTES, "%s (%s to %s)",
                   compare_span(row->said_p50_s - from_s, middle),
                   compare_span(row->said_p05_s - from_s, early),
                   compare_span(row->said_p95_s - from_s, late));
    return buf;
}

static void
text_heat(FILE *out, const struct compared *of)
{
    (void)fputs(
        "batch  put in            size    start   oven to limit taken out  K/min   peak\n",
        out);
    for (size_t i = 0; i < of->count; i++) {
        const struct compare_row *r = &of->row[i];
        char a[CELL_BYTES], b[CELL_BYTES], c[CELL_BYTES], d[CELL_BYTES], e[CELL_BYTES],
            f[CELL_BYTES], g[CELL_BYTES], h[CELL_BYTES];
        (void)fprintf(out, "%5" PRIu32 "  %-16s  %-7s %5s %6s %8s %9s %6s %6s\n",
                      r->batch->number, compare_begun(of, r->batch, a),
                      compare_size(r->batch, b), compare_degrees(r->start_C, c),
                      compare_degrees(r->oven_C, d), compare_span(r->reached_s, e),
                      compare_degrees(r->out_C, f), compare_rate(r->rate_K_min, h),
                      compare_degrees(r->peak_C, g));
    }
}

static void
text_limits(FILE *out, const struct compared *of)
{
    (void)fputs("\nbatch  limit °C   above   below  deviations  said half way           took\n",
                out);
    for (size_t i = 0; i < of->count; i++) {
        const struct compare_row *r = &of->row[i];
        char a[CELL_BYTES], b[CELL_BYTES], c[CELL_BYTES], d[CELL_BYTES], said[SAID_BYTES];
        (void)fprintf(out, "%5" PRIu32 " %9s %7s %7s %11u  %-22s %5s\n", r->batch->number,
                      compare_degrees(r->limit_C, a), compare_span(r->above_s, b),
                      compare_span(r->below_s, c), r->batch->deviations,
                      compare_said(r, 0, said), compare_span(r->reached_s, d));
    }
}

static double
longest_s(const struct compared *of)
{
    double end_s = 60;
    for (size_t i = 0; i < of->count; i++)
        end_s = fmax(end_s, (double)(of->row[i].curve.count * EARLIER_BIN_S));
    return end_s;
}

static void
text_curves(FILE *out, const struct compared *of)
{
    static const int STEPS_MIN[] = {1, 2, 5, 10, 15, 20, 30, 60, 120, 240};
    double end_s = longest_s(of);
    int step = 240;
    for (size_t i = sizeof STEPS_MIN / sizeof *STEPS_MIN; i > 0; i--)
        if (end_s / 60 / STEPS_MIN[i - 1] <= ROWS_MAX)
            step = STEPS_MIN[i - 1];
    (void)fputs("\nCore in °C, from put-in on\n after", out);
    for (size_t i = 0; i < of->count; i++) {
        char head[CELL_BYTES];
        (void)snprintf(head, sizeof head, "#%" PRIu32, of->row[i].batch->number);
        (void)fprintf(out, "%8s", head);
    }
    (void)fputc('\n', out);
    for (int at_min = 0; at_min * 60 <= end_s; at_min += step) {
        char a[CELL_BYTES];
        (void)fprintf(out, "%6s", compare_span(at_min * 60, a));
        for (size_t i = 0; i < of->count; i++)
            (void)fprintf(out, "%8s",
                          compare_degrees(compare_core_C(&of->row[i].curve, at_min * 60.0), a));
        (void)fputc('\n', out);
    }
}

void
compare_text(FILE *out, const struct compared *of)
{
    cli_print_clean(out, of->name);
    (void)fputs("; times in hours:minutes from put-in\n\n", out);
    if (of->kind == FORECAST_COOLING) {
        compare_cooling_text(out, of);
    } else {
        text_heat(out, of);
        text_limits(out, of);
    }
    text_curves(out, of);
    const char *gap = "\n";
    for (size_t i = 0; i < of->count; i++)
        if (of->row[i].batch->notes[0] != '\0') {
            (void)fprintf(out, "%s#%" PRIu32 ": ", gap, of->row[i].batch->number);
            cli_print_wrapped(out, of->row[i].batch->notes, 5, 5);
            gap = "";
        }
    (void)fputs("\nA forecast advises. Only measurements decide. Local food codes prevail.\n",
                out);
}

/* ---- CSV (RFC 4180) ---- */

void
compare_cell(FILE *out, double value, int decimals)
{
    if (isfinite(value))
        (void)fprintf(out, ",%.*f", decimals, value);
    else
        (void)fputs(isinf(value) ? ",inf" : ",", out);
}

/* Quoted; what a spreadsheet would run gets an apostrophe before it, as in the exports. */
void
compare_cell_text(FILE *out, const char *text)
{
    (void)fputs(",\"", out);
    if (strchr("=+-@\t\r", text[0]) != NULL && text[0] != '\0')
        (void)fputc('\'', out);
    for (; *text != '\0'; text++) {
        if (*text == '"')
            (void)fputc('"', out);
        (void)fputc(*text, out);
    }
    (void)fputc('"', out);
}

void
compare_cell_batch(FILE *out, const struct earlier_batch *batch)
{
    char text[CELL_BYTES];
    (void)fprintf(out, "%" PRIu32 ",%s", batch->number,
                  utc_text(text, sizeof text, batch->put_in_ms + batch->offset_ms));
    compare_cell(out, batch->mass_g > 0 ? (double)batch->mass_g : (double)NAN, 0);
    compare_cell(out, batch->thickness_mm > 0 ? (double)batch->thickness_mm : (double)NAN, 0);
}

static void
csv_heat(FILE *out, const struct compared *of)
{
    (void)fputs(
        "batch,put_in_utc,mass_g,thickness_mm,start_degC,mean_oven_degC,limit_degC,to_limit_s,"
        "taken_out_s,taken_out_degC,rate_K_min,peak_degC,peak_s,above_limit_s,below_limit_s,"
        "deviations,forecast_at_s,forecast_p50_s,forecast_p05_s,forecast_p95_s,notes\n",
        out);
    for (size_t i = 0; i < of->count; i++) {
        const struct compare_row *r = &of->row[i];
        const struct earlier_batch *b = r->batch;
        compare_cell_batch(out, b);
        compare_cell(out, r->start_C, 2);
        compare_cell(out, r->oven_C, 1);
        compare_cell(out, r->limit_C, 3);
        compare_cell(out, r->reached_s, 0);
        compare_cell(out,
                     b->taken_out_ms == TIME_NONE
                         ? (double)NAN
                         : (double)(b->taken_out_ms - b->put_in_ms) / 1000,
                     0);
        compare_cell(out, r->out_C, 2);
        compare_cell(out, r->rate_K_min, 3);
        compare_cell(out, r->peak_C, 2);
        compare_cell(out, r->peak_s, 0);
        compare_cell(out, r->above_s, 0);
        compare_cell(out, r->below_s, 0);
        (void)fprintf(out, ",%u", b->deviations);
        compare_cell(out, r->half_s, 0);
        compare_cell(out, r->said_p50_s, 0);
        compare_cell(out, r->said_p05_s, 0);
        compare_cell(out, r->said_p95_s, 0);
        compare_cell_text(out, b->notes);
        (void)fputc('\n', out);
    }
}

void
compare_csv(FILE *out, const struct compared *of)
{
    if (of->kind == FORECAST_COOLING)
        compare_cooling_csv(out, of);
    else
        csv_heat(out, of);
}

void
compare_curves(FILE *out, const struct compared *of)
{
    (void)fputs("time_s", out);
    for (size_t i = 0; i < of->count; i++)
        (void)fprintf(out, ",core_%" PRIu32 "_degC", of->row[i].batch->number);
    (void)fputc('\n', out);
    for (int at_s = 0; at_s < longest_s(of); at_s += 30) {
        (void)fprintf(out, "%d", at_s);
        for (size_t i = 0; i < of->count; i++)
            compare_cell(out, compare_core_C(&of->row[i].curve, at_s), 2);
        (void)fputc('\n', out);
    }
}
