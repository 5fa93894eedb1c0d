/* trivet plan-series: what the planner would have said before each attempt of recorded series,
 * and along it.
 *
 * Causal: an attempt is planned from its own line of the index and from earlier attempts of the
 * same product. Owns standard output while it runs; touches no store and no daemon. */
#include "daemon/cli/series.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/help.h"
#include "daemon/cli/options.h"
#include "daemon/cli/outfile.h"
#include "daemon/cli/series_index.h"
#include "daemon/cli/trace.h"

#define WHY_MAX   300
#define BRIDGED_S 1800.0

enum { OPTION_LIVE, OPTION_COUNT };

static const struct option_spec options[OPTION_COUNT] = {[OPTION_LIVE] = {"live", 0}};

struct work {
    const struct cli *cli;
    struct series_index index;
    struct lesson *lesson;      /* by index of the attempt */
    bool *known;                /* the lesson was taken */
    struct forecast_prior *fit; /* likewise */
    bool *fitted;
    struct lesson_taker taker;
    struct planner planner;
    struct planner_work planner_work;
    struct forecast_prior prior; /* what earlier attempts taught the forecaster */
    struct forecaster forecaster;
    const char *live_directory; /* NULL: none */
};

static bool
begin_forecaster(struct work *w, const struct series_attempt *a,
                 const struct forecast_prior *prior)
{
    struct forecast_setup setup = {.kind = FORECAST_COOK,
                                   .limit = {{a->dish.target_C, 0}},
                                   .limits = 1,
                                   .clock_from_C = NAN,
                                   .oven_C = NAN,
                                   .room_C = NAN,
                                   .prior = *prior};
    const char *reason;
    return forecaster_init(&w->forecaster, &setup, &reason);
}

static int
learn_attempt(struct work *w, size_t i)
{
    const struct series_attempt *a = &w->index.attempt[i];
    char error[TRACE_ERROR_BYTES];
    struct trace trace = {0};
    struct forecast_reading reading;
    enum trace_status status;
    const struct forecast_prior nothing = {{0}, {0}};
    bool in = w->live_directory != NULL && begin_forecaster(w, a, &nothing);
    bool fits = in;
    if (!trace_open(&trace, a->path, error))
        return cli_fail(w->cli, CLI_USAGE, "%s", error);
    lesson_begin(&w->taker, &a->dish, 0);
    while ((status = trace_next(&trace, &reading, error)) == TRACE_ROW) {
        lesson_feed(&w->taker, &reading);
        in = in && reading.event != FORECAST_REMOVED;
        if (in)
            (void)forecaster_feed(&w->forecaster, &reading);
    }
    trace_close(&trace);
    if (status == TRACE_BAD)
        return cli_fail(w->cli, CLI_USAGE, "%s", error);
    w->known[i] = lesson_taken(&w->taker, &w->lesson[i]);
    w->fitted[i] = fits && forecaster_learned(&w->forecaster, &w->fit[i]);
    return CLI_DONE;
}

static double
size_ratio(const struct dish *of, const struct dish *to)
{
    return isnan(of->mass_g) || isnan(to->mass_g) ? of->thickness_mm / to->thickness_mm
                                                  : cbrt(of->mass_g / to->mass_g);
}

/* The lessons of earlier attempts of the same product, oldest first, into the planner. */
static void
learn_earlier(struct work *w, size_t i)
{
    const struct series_attempt *a = &w->index.attempt[i];
    struct lesson earlier[LESSONS_MAX];
    struct lesson_fit fits[LESSONS_MAX];
    int count = 0, fitted = 0;
    for (int at = a->attempt - 1, left = LESSONS_MAX; at > 0 && left > 0; at--)
        for (size_t j = 0; j < w->index.count; j++)
            if (w->index.attempt[j].attempt == at && w->known[j] &&
                strcmp(w->index.attempt[j].product, a->product) == 0) {
                memmove(earlier + 1, earlier,
                        sizeof *earlier * (size_t)(count < LESSONS_MAX ? count : count - 1));
                earlier[0] = w->lesson[j];
                if (w->fitted[j] && fitted < LESSONS_MAX)
                    fits[fitted++] = (struct lesson_fit){
                        w->fit[j], size_ratio(&a->dish, &w->index.attempt[j].dish)};
                count++;
                left--;
            }
    forecast_prior_from(FORECAST_COOK, fits, fitted, &w->prior);
    planner_learn(&w->planner, &w->planner_work, earlier, count);
}

static void
print_plan(FILE *to, const struct series_attempt *a, const struct planned *p)
{
    (void)fprintf(to, "%s,%d,%.0f,%.0f,%.0f\n", a->product, a->attempt, p->target_s.p50,
                  p->target_s.p05, p->target_s.p95);
}

static void
print_live(FILE *to, double now_s, const struct forecast_range *at_s)
{
    struct forecast_range r = {fmax(at_s->p05 - now_s, 0), fmax(at_s->p50 - now_s, 0),
                               fmax(at_s->p95 - now_s, 0)};
    (void)fprintf(to, "%.10g,%.0f,%.0f,%.0f,\n", now_s, r.p50, r.p05, r.p95);
}

/* Where readings are missing, time goes on and the last plan with it; a longer hole gets no
 * rows.
 */
static void
bridge_gap(FILE *to, double until_s, double *next_s, const struct forecast_range *at_s)
{
    double end_s = fmin(until_s, *next_s + BRIDGED_S);
    for (; *next_s + 30 < end_s; *next_s += 60)
        print_live(to, *next_s, at_s);
}

/* When it will be there, as the daemon would say it: the plan at first, the readings more and
 * more. */
static bool
ask(const struct work *w, bool forecasts, struct forecast_range *ret_at_s)
{
    struct planned planned;
    struct forecast f;
    const char *reason;
    if (!planner_follow(&w->planner, &w->taker, &planned, &reason))
        return false;
    *ret_at_s = planned.target_s;
    if (!forecasts)
        return true;
    forecaster_ask(&w->forecaster, NULL, &f);
    if (f.refusal == FORECAST_GIVEN && !f.reached[0]) {
        (void)forecast_lean_on_plan(&f, &planned, 0);
        *ret_at_s = (struct forecast_range){
            f.time_s + f.eta_s[0].p05, f.time_s + f.eta_s[0].p50, f.time_s + f.eta_s[0].p95};
    }
    return true;
}

/* A row a minute until the dish is taken out, each from what was known by then. */
static int
live_rows(struct work *w, const struct series_attempt *a, FILE *to)
{
    char error[TRACE_ERROR_BYTES];
    struct trace trace = {0};
    struct forecast_reading reading;
    struct forecast_range at_s;
    enum trace_status status = TRACE_END;
    double next_s = INFINITY;
    bool out = false;
    if (!trace_open(&trace, a->path, error))
        return cli_fail(w->cli, CLI_USAGE, "%s", error);
    lesson_begin(&w->taker, &a->dish, 0);
    bool forecasts = begin_forecaster(w, a, &w->prior);
    (void)fputs("time_s,eta_s_p50,eta_s_p05,eta_s_p95,peak_p50\n", to);
    while (!out && (status = trace_next(&trace, &reading, error)) == TRACE_ROW) {
        if (!isinf(next_s))
            bridge_gap(to, reading.time_s, &next_s, &at_s);
        lesson_feed(&w->taker, &reading);
        if (forecasts)
            (void)forecaster_feed(&w->forecaster, &reading);
        out = reading.event == FORECAST_REMOVED;
        if ((!isinf(next_s) && reading.time_s < next_s) || !ask(w, forecasts, &at_s))
            continue;
        print_live(to, reading.time_s, &at_s);
        next_s = (floor(reading.time_s / 60) + 1) * 60;
    }
    trace_close(&trace);
    return status == TRACE_BAD ? cli_fail(w->cli, CLI_USAGE, "%s", error) : CLI_DONE;
}

static int
live_attempt(struct work *w, const struct series_attempt *a)
{
    char path[SERIES_PATH_BYTES], why[WHY_MAX];
    struct outfile file;
    int length = snprintf(path, sizeof path, "%s/%s.csv", w->live_directory, a->run);
    if (length < 0 || (size_t)length >= sizeof path)
        return cli_fail(w->cli, CLI_USAGE, "the path of the directory for --live is too long");
    if (!outfile_open(&file, path, why, sizeof why))
        return cli_fail(w->cli, CLI_NO, "%s", why);
    int code = live_rows(w, a, file.to);
    if (code != CLI_DONE) {
        outfile_drop(&file);
        return code;
    }
    return outfile_keep(&file, why, sizeof why) ? CLI_DONE
                                                : cli_fail(w->cli, CLI_NO, "%s", why);
}

static int
plan_attempt(struct work *w, size_t i)
{
    const struct series_attempt *a = &w->index.attempt[i];
    struct planned planned;
    const char *reason;
    learn_earlier(w, i);
    if (!planner_plan(&w->planner, &a->dish, &planned, &reason)) {
        (void)fprintf(w->cli->err, "%s attempt %d: no plan; missing is %s\n", a->product,
                      a->attempt, reason);
        return CLI_DONE;
    }
    print_plan(w->cli->out, a, &planned);
    return w->live_directory == NULL ? CLI_DONE : live_attempt(w, a);
}

static int
plan_all(struct work *w)
{
    int code = CLI_DONE;
    for (size_t i = 0; i < w->index.count && code == CLI_DONE; i++)
        code = learn_attempt(w, i);
    if (code == CLI_DONE)
        (void)fputs("product,attempt,plan_s_p50,plan_s_p05,plan_s_p95\n", w->cli->out);
    for (size_t i = 0; i < w->index.count && code == CLI_DONE; i++)
        code = plan_attempt(w, i);
    return code;
}

int
cli_plan_series(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    char error[SERIES_ERROR_BYTES];
    int code = options_read(cli, argc, argv, options, OPTION_COUNT, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count != 1)
        return cli_fail(cli, CLI_USAGE, "name one directory with series");
    struct work *w = calloc(1, sizeof *w);
    if (w == NULL)
        return cli_fail(cli, CLI_USAGE, "no memory to plan (%zu bytes)", sizeof *w);
    w->cli = cli;
    w->live_directory = read.value[OPTION_LIVE];
    if (!series_index_read(read.word[0], &w->index, error)) {
        free(w);
        return cli_fail(cli, CLI_USAGE, "%s", error);
    }
    w->lesson = calloc(w->index.count + 1, sizeof *w->lesson);
    w->known = calloc(w->index.count + 1, sizeof *w->known);
    w->fit = calloc(w->index.count + 1, sizeof *w->fit);
    w->fitted = calloc(w->index.count + 1, sizeof *w->fitted);
    code = w->lesson == NULL || w->known == NULL || w->fit == NULL || w->fitted == NULL
               ? cli_fail(cli, CLI_USAGE, "no memory for so many attempts")
               : plan_all(w);
    free(w->lesson);
    free(w->known);
    free(w->fit);
    free(w->fitted);
    series_index_free(&w->index);
    free(w);
    return cli_finish(cli, code);
}
