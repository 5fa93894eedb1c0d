/* Compared curves as one SVG image that stands alone. See compare.h. Lines differ by dashes as
 * well as by colour, for print and for eyes that tell no colours apart. */
#include <inttypes.h>
#include <math.h>

#include "daemon/cli/compare_own.h"

enum { WIDTH = 960, HEIGHT = 540, LEFT = 60, RIGHT = 60, TOP = 50, BOTTOM = 60 };

static const struct {
    const char *colour, *dashes;
} LINES[COMPARE_BATCHES_MAX] = {
    {"#14507a", "none"}, {"#a63d12", "8 3"}, {"#2f6b2f", "2 3"},      {"#6a3d8f", "12 3 2 3"},
    {"#8a6d00", "5 5"},  {"#0d6e6e", "1 4"}, {"#7a1f4b", "10 2 2 2"}, {"#444444", "4 2"},
};

struct frame {
    double end_s, low_C, high_C;
};

static double
x_of(const struct frame *f, double at_s)
{
    return LEFT + (WIDTH - LEFT - RIGHT) * at_s / f->end_s;
}

static double
y_of(const struct frame *f, double temp_C)
{
    return HEIGHT - BOTTOM -
           (HEIGHT - TOP - BOTTOM) * (temp_C - f->low_C) / (f->high_C - f->low_C);
}

void
compare_escaped(FILE *out, const char *text)
{
    for (; *text != '\0'; text++) {
        if (*text == '&')
            (void)fputs("&amp;", out);
        else if (*text == '<')
            (void)fputs("&lt;", out);
        else if (*text == '>')
            (void)fputs("&gt;", out);
        else
            (void)fputc((unsigned char)*text < ' ' ? ' ' : *text, out);
    }
}

static struct frame
frame_of(const struct compared *of)
{
    struct frame f = {600, 0, 10};
    for (size_t i = 0; i < of->count; i++) {
        const struct earlier_curve *c = &of->row[i].curve;
        f.end_s = fmax(f.end_s, (double)(c->count * EARLIER_BIN_S));
        f.high_C = fmax(f.high_C, fmax(of->row[i].limit_C, of->row[i].peak_C) + 5);
        for (size_t k = 0; k < c->count; k++)
            if (!isnan(c->core_C[k])) {
                f.low_C = fmin(f.low_C, c->core_C[k]);
                f.high_C = fmax(f.high_C, c->core_C[k]);
            }
    }
    f.low_C = 10 * floor(f.low_C / 10);
    f.high_C = 10 * ceil(f.high_C / 10);
    return f;
}

static void
put_axes(FILE *out, const struct frame *f)
{
    double step_s = f->end_s > 6 * 3600 ? 3600 : f->end_s > 2 * 3600 ? 1800 : 600;
    for (int i = 0; f->low_C + 10 * i <= f->high_C + 0.1; i++) {
        const double c = f->low_C + 10 * i;
        (void)fprintf(out,
                      "<path d=\"M%d %.1fH%d\" stroke=\"#ddd\"/>"
                      "<text x=\"%d\" y=\"%.1f\" text-anchor=\"end\">%.0f °C</text>\n",
                      LEFT, y_of(f, c), WIDTH - RIGHT, LEFT - 6, y_of(f, c) + 4, c);
    }
    for (int i = 0; step_s * i <= f->end_s; i++) {
        const double s = step_s * i;
        (void)fprintf(out,
                      "<path d=\"M%.1f %dv5\" stroke=\"#444\"/>"
                      "<text x=\"%.1f\" y=\"%d\" text-anchor=\"middle\">%d:%02d</text>\n",
                      x_of(f, s), HEIGHT - BOTTOM, x_of(f, s), HEIGHT - BOTTOM + 20,
                      (int)(s / 3600), (int)(s / 60) % 60);
    }
    (void)fprintf(out,
                  "<text x=\"%d\" y=\"%d\">hours:minutes from put-in; bar: said half way, "
                  "ring: happened</text>\n",
                  LEFT, HEIGHT - 12);
}

/* A point each half minute; silence breaks the line. */
static void
put_line(FILE *out, const struct frame *f, const struct compare_row *row, size_t at)
{
    bool pen = false;
    (void)fprintf(
        out,
        "<path fill=\"none\" stroke=\"%s\" stroke-width=\"2\" stroke-dasharray=\"%s\" d=\"",
        LINES[at].colour, LINES[at].dashes);
    for (size_t at_s = 0; at_s < row->curve.count * EARLIER_BIN_S; at_s += 30) {
        const double s = (double)at_s;
        double now_C = compare_core_C(&row->curve, s);
        if (!isnan(now_C)) {
            (void)fprintf(out, "%s%.1f %.1f", pen ? "L" : "M", x_of(f, s), y_of(f, now_C));
        }
        pen = !isnan(now_C);
    }
    (void)fputs("\"/>\n", out);
    double out_s = (double)(row->curve.out * EARLIER_BIN_S);
    if (row->batch->taken_out_ms != TIME_NONE && !isnan(row->out_C))
        (void)fprintf(out, "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"4\" fill=\"%s\"/>\n",
                      x_of(f, out_s), y_of(f, row->out_C), LINES[at].colour);
}

/* What was said half way beside what happened: a bar with a diamond for the range and its
 * middle, a ring where the core was there. Each batch has a height of its own. */
static void
put_said(FILE *out, const struct frame *f, const struct compare_row *row, size_t at, bool below)
{
    if (isnan(row->said_p50_s) || !isfinite(row->said_p50_s))
        return;
    double y = y_of(f, row->limit_C) + (below ? 9.0 : -9.0) * (double)(at + 1);
    double late_s = isfinite(row->said_p95_s) ? row->said_p95_s : f->end_s;
    (void)fprintf(out,
                  "<g class=\"said\" stroke=\"%s\" fill=\"none\"><path d=\"M%.1f %.1fH%.1f\"/>"
                  "<path fill=\"%s\" d=\"M%.1f %.1fl4 4l-4 4l-4 -4Z\"/>"
                  "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"4\"/></g>\n",
                  LINES[at].colour, x_of(f, row->said_p05_s), y,
                  x_of(f, fmin(late_s, f->end_s)), LINES[at].colour,
                  x_of(f, fmin(row->said_p50_s, f->end_s)), y - 4, x_of(f, row->reached_s), y);
}

static void
put_level(FILE *out, const struct frame *f, double temp_C)
{
    (void)fprintf(out,
                  "<path d=\"M%d %.1fH%d\" stroke=\"#b00020\" stroke-dasharray=\"2 4\"/>"
                  "<text x=\"%d\" y=\"%.1f\" fill=\"#b00020\">limit %.1f °C</text>\n",
                  LEFT, y_of(f, temp_C), WIDTH - RIGHT, LEFT + 6, y_of(f, temp_C) - 5, temp_C);
}

/* The newest batch's. */
static void
put_levels(FILE *out, const struct frame *f, const struct compared *of)
{
    const struct compare_row *row = of->count > 0 ? &of->row[of->count - 1] : NULL;
    if (row != NULL && of->kind == FORECAST_COOK)
        put_level(out, f, row->limit_C);
    for (uint8_t s = 0; row != NULL && s < row->batch->stage_count; s++)
        put_level(out, f, earlier_C(row->batch->stages[s].to));
}

/* In the lower right corner, where no cook ends; of coolings in the upper one. */
static void
put_names(FILE *out, const struct compared *of)
{
    bool cooling = of->kind == FORECAST_COOLING;
    for (size_t i = 0; i < of->count; i++) {
        int y = cooling ? TOP + 18 * (int)(i + 1) : HEIGHT - BOTTOM - 18 * (int)(of->count - i);
        (void)fprintf(out,
                      "<path d=\"M%d %dh40\" stroke=\"%s\" stroke-width=\"2\" "
                      "stroke-dasharray=\"%s\"/><text x=\"%d\" y=\"%d\">batch %" PRIu32
                      "</text>\n",
                      WIDTH - RIGHT - 130, y, LINES[i].colour, LINES[i].dashes,
                      WIDTH - RIGHT - 84, y + 4, of->row[i].batch->number);
    }
}

void
compare_svg(FILE *out, const struct compared *of)
{
    struct frame f = frame_of(of);
    (void)fprintf(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %d %d\" role=\"img\" "
        "font-family=\"sans-serif\" font-size=\"13\">\n<title>",
        WIDTH, HEIGHT + compare_table_height(of));
    compare_escaped(out, of->name);
    (void)fprintf(
        out,
        ": core temperatures of %zu batches, aligned at put-in</title>\n"
        "<desc>A dot marks the taking out; levels are limits. A bar is what a forecast "
        "said half way (nine outcomes in ten, its middle a diamond), the ring on it "
        "what happened. Below, the same batches in figures.</desc>\n"
        "<rect width=\"%d\" height=\"%d\" fill=\"#fff\"/>\n"
        "<text x=\"%d\" y=\"28\" font-size=\"18\">",
        of->count, WIDTH, HEIGHT + compare_table_height(of), LEFT);
    compare_escaped(out, of->name);
    (void)fputs("</text>\n", out);
    put_axes(out, &f);
    put_levels(out, &f, of);
    for (size_t i = 0; i < of->count; i++)
        put_line(out, &f, &of->row[i], i);
    for (size_t i = 0; i < of->count; i++)
        put_said(out, &f, &of->row[i], i, of->kind == FORECAST_COOK);
    put_names(out, of);
    compare_table(out, of, HEIGHT);
    (void)fputs("</svg>\n", out);
}
