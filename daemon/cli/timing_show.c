/* Timed dishes as people and machines read them. See timing.h. Writes to cli->out only. */
#include <math.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/timing.h"

enum { CLOCK_BYTES = 40, SPAN_BYTES = 40 };

static const double ABOVE_K = 0.5; /* what is said of the core is hardly more exact */

struct clock_of {
    const struct zone *zone;
    int64_t now_ms;
};

static const char *
clock_text(const struct clock_of *of, int64_t at_ms, char buf[CLOCK_BYTES])
{
    return zone_clock_text(of->zone, at_ms, of->now_ms, buf, CLOCK_BYTES);
}

static const char *
span_text(double seconds, char buf[SPAN_BYTES])
{
    if (!isfinite(seconds))
        (void)snprintf(buf, SPAN_BYTES, "not at all");
    else
        (void)duration_text(buf, SPAN_BYTES, (int64_t)(seconds + 30) / 60 * 60000);
    return buf;
}

/* ", 2.4 kg, 60 mm", or nothing. */
static const char *
size_text(const struct timing_dish *d, char buf[SPAN_BYTES])
{
    char mass[SPAN_BYTES / 2] = "", thickness[SPAN_BYTES / 2] = "";
    if (!isnan(d->dish.mass_g))
        (void)snprintf(mass, sizeof mass, ", %.3g kg", d->dish.mass_g / 1000);
    if (!isnan(d->dish.thickness_mm))
        (void)snprintf(thickness, sizeof thickness, ", %.0f mm", d->dish.thickness_mm);
    (void)snprintf(buf, SPAN_BYTES, "%s%s", mass, thickness);
    return buf;
}

static void
show_head(FILE *out, const struct timing_dish *d)
{
    char size[SPAN_BYTES];
    cli_print_clean(out, d->name);
    (void)fprintf(out, "%s, from %.1f °C%s, oven %.0f °C%s\n", size_text(d, size),
                  d->dish.start_C, d->start_told ? "" : " (taken)", d->dish.oven_C,
                  d->dish.cold_oven ? " put on with it" : "");
}

/* "label   middle (early to late)tail" of a moment so many seconds after put-in. */
static void
show_moment(const struct cli *cli, const char *label, const struct timing_dish *d,
            struct forecast_range after_s, const struct clock_of *of, const char *tail)
{
    char a[CLOCK_BYTES], b[CLOCK_BYTES], c[CLOCK_BYTES];
    if (d->put_in_ms == TIME_NONE || !isfinite(after_s.p50) || !isfinite(after_s.p95))
        (void)fprintf(cli->out, "  %-9s after %s (%s to %s)%s\n", label,
                      span_text(after_s.p50, a), span_text(after_s.p05, b),
                      span_text(after_s.p95, c), tail);
    else
        (void)fprintf(cli->out, "  %-9s %s (%s to %s)%s\n", label,
                      clock_text(of, d->put_in_ms + (int64_t)(after_s.p50 * 1000), a),
                      clock_text(of, d->put_in_ms + (int64_t)(after_s.p05 * 1000), b),
                      clock_text(of, d->put_in_ms + (int64_t)(after_s.p95 * 1000), c), tail);
}

/* Spreads of two independent waits add up by their squares. */
static struct forecast_range
together(struct forecast_range a, struct forecast_range b)
{
    struct forecast_range sum = {a.p50 + b.p50, a.p50 + b.p50, a.p50 + b.p50};
    sum.p05 -= hypot(a.p50 - a.p05, b.p50 - b.p05);
    sum.p95 += hypot(a.p95 - a.p50, b.p95 - b.p50);
    return sum;
}

static void
show_learned(const struct cli *cli, const struct timing_dish *d)
{
    int count = d->planned.lessons;
    if (count == 0) {
        (void)fputs("  No earlier batch to learn from: a guess from the kind of dish alone.\n",
                    cli->out);
        return;
    }
    (void)fprintf(cli->out, "  Learned from %s", count == 1 ? "batch" : "batches");
    for (int i = 0; i < count; i++)
        (void)fprintf(cli->out, "%s %u", i == 0 ? "" : ",", d->from[i]);
    (void)fputs(".\n", cli->out);
}

static void
show_dish(const struct cli *cli, const struct timing_dish *d, const struct clock_of *of)
{
    char a[CLOCK_BYTES], b[CLOCK_BYTES], tail[80];
    const struct planned *p = &d->planned;
    show_head(cli->out, d);
    if (d->put_in_ms != TIME_NONE)
        (void)fprintf(cli->out, "  put in    %s", clock_text(of, d->put_in_ms, a));
    if (d->usual_ms != TIME_NONE)
        (void)fprintf(cli->out, ", %s at the latest if all goes as usual",
                      clock_text(of, d->usual_ms, b));
    if (d->put_in_ms != TIME_NONE)
        (void)fputc('\n', cli->out);
    (void)snprintf(tail, sizeof tail, ", core at %.1f °C", d->take_out_C);
    show_moment(cli, "take out", d, p->target_s, of, tail);
    if (!isnan(p->rest_s.p50)) {
        (void)fprintf(cli->out,
                      "  rest      %s (%s to %s), core climbs to %.1f °C (%.1f to %.1f)\n",
                      span_text(p->rest_s.p50, a), span_text(p->rest_s.p05, b),
                      span_text(p->rest_s.p95, tail), d->take_out_C + p->rise_K.p50,
                      d->take_out_C + p->rise_K.p05, d->take_out_C + p->rise_K.p95);
        show_moment(cli, "serve", d, together(p->target_s, p->rest_s), of, "");
    }
    if (d->take_out_C + p->rise_K.p50 > d->dish.target_C + ABOVE_K)
        (void)fprintf(cli->out,
                      "  The limit comes first: it will probably end above %.1f °C.\n",
                      d->dish.target_C);
    show_learned(cli, d);
}

/* ---- the order of work ---- */

struct job {
    int64_t at_ms;
    const char *what;
    const struct timing_dish *dish;
};

static void
add_job(struct job *job, size_t *count, int64_t at_ms, const char *what,
        const struct timing_dish *dish)
{
    size_t at = (*count)++;
    for (; at > 0 && job[at - 1].at_ms > at_ms; at--)
        job[at] = job[at - 1];
    job[at] = (struct job){at_ms, what, dish};
}

static void
show_order(const struct cli *cli, const struct timing_dish *dish, size_t count,
           const struct clock_of *of)
{
    struct job job[3 * TIMING_DISHES_MAX];
    size_t jobs = 0;
    for (size_t i = 0; i < count; i++) {
        const struct planned *p = &dish[i].planned;
        int64_t in_ms = dish[i].put_in_ms;
        if (in_ms == TIME_NONE || !isfinite(p->target_s.p50))
            return;
        add_job(job, &jobs, in_ms, "put in", &dish[i]);
        add_job(job, &jobs, in_ms + (int64_t)(p->target_s.p05 * 1000), "look at", &dish[i]);
        add_job(job, &jobs, in_ms + (int64_t)(p->target_s.p50 * 1000), "take out", &dish[i]);
    }
    (void)fputs("\nOrder of work\n", cli->out);
    for (size_t i = 0; i < jobs; i++) {
        char text[CLOCK_BYTES];
        (void)fprintf(cli->out, "  %s  %-8s  ", clock_text(of, job[i].at_ms, text),
                      job[i].what);
        cli_print_clean(cli->out, job[i].dish->name);
        (void)fputs(size_text(job[i].dish, text), cli->out);
        if (strcmp(job[i].what, "take out") == 0)
            (void)fprintf(cli->out, ", core at %.1f °C", job[i].dish->take_out_C);
        (void)fputc('\n', cli->out);
    }
}

void
timing_show(const struct cli *cli, const struct timing_dish *dish, size_t count,
            const struct zone *zone, int64_t now_ms)
{
    struct clock_of of = {zone, now_ms};
    for (size_t i = 0; i < count; i++)
        show_dish(cli, &dish[i], &of);
    if (count > 1)
        show_order(cli, dish, count, &of);
    (void)fputs("A plan advises. Only measurements decide. Local food codes prevail.\n",
                cli->out);
}

/* ---- for machines ---- */

static json_t *
number(double value)
{
    return isfinite(value) ? json_real(round(value * 10) / 10) : json_null();
}

static json_t *
range_json(struct forecast_range r)
{
    return json_pack("{s:o, s:o, s:o}", "p05", number(r.p05), "p50", number(r.p50), "p95",
                     number(r.p95));
}

json_t *
timing_json(const struct timing_dish *dish, size_t count)
{
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) {
        const struct timing_dish *d = &dish[i];
        json_t *from = json_array();
        for (int k = 0; k < d->planned.lessons; k++)
            (void)json_array_append_new(from, json_integer(d->from[k]));
        json_t *one =
            json_pack("{s:s, s:o, s:o, s:o, s:o, s:o}", "dish", d->name, "take_out_C",
                      number(d->take_out_C), "take_out_s", range_json(d->planned.target_s),
                      "rise_K", range_json(d->planned.rise_K), "rest_s",
                      range_json(d->planned.rest_s), "learned_from", from);
        if (one != NULL && d->put_in_ms != TIME_NONE)
            (void)json_object_set_new(one, "put_in_ms", json_integer(d->put_in_ms));
        (void)json_array_append_new(list, one);
    }
    return list;
}
