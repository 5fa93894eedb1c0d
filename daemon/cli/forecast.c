/* trivet forecast: the forecasting room run along a recorded trace.
 *
 * Causal: a row is printed from what came up to its time.  Owns standard output while it runs;
 * touches no store and no daemon. */
#include "daemon/cli/forecast.h"

#include <errno.h>
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/trace.h"

static const char USAGE[] =
    "usage: trivet forecast --target DEGC [options] TRACE.csv[.gz]\n"
    "       trivet forecast --cooling FROM,LIMIT@TIME[,LIMIT@TIME] [options]\n"
    "                       TRACE.csv[.gz]\n"
    "\n"
    "Forecasts along a recorded trace (time_s,core_degC,air_degC,event), a CSV row a\n"
    "minute.\n"
    "  --target 55.5           a cook: seconds until the core reads 55.5 C, peak if\n"
    "                          taken out now\n"
    "  --cooling 57,21@2h,5@6h a cooling: the clock starts at 57 C; 21 C within 2 h,\n"
    "                          5 C within 6 h\n"
    "  --earn 70C,7.5,2min     a cook, in three more columns: seconds until it has\n"
    "                          earned 2 min at 70 C, z 7.5 K\n"
    "  --oven 180              set point of the oven, if known\n"
    "  --room 24               temperature of the room, if known\n"
    "  --product KIND          roast, flat, loaf or wrapped; pan, liquid or joint\n"
    "A forecast advises. Only measurements decide.\n";

#define EARNS_WITHIN_S 60.0 /* two readings further apart show nothing of the time between */

struct request {
    struct forecast_setup setup;
    bool earns;
    struct forecast_earning earning;
    const char *product;
    const char *path;
};

static bool
parse_degrees(const char *text, double *ret_C)
{
    char *end;
    double value = strtod(text, &end);
    if (end == text || *end != '\0' || !(value >= -40 && value <= 400))
        return false;
    *ret_C = value;
    return true;
}

/* "2h", "90min", "5400s". */
static bool
parse_duration(const char *text, const char *stop, double *ret_s)
{
    char *end;
    double value = strtod(text, &end);
    size_t unit = (size_t)(stop - end);
    if (end == text || end >= stop || !(value > 0 && value < 1e4))
        return false;
    double scale = 0;
    if (unit == 1 && *end == 'h')
        scale = 3600;
    else if (unit == 3 && strncmp(end, "min", 3) == 0)
        scale = 60;
    else if (unit == 1 && *end == 's')
        scale = 1;
    if (scale <= 0)
        return false;
    *ret_s = value * scale;
    return true;
}

/* "57,21@2h,5@6h" */
static bool
parse_cooling(const char *text, struct forecast_setup *setup)
{
    char *end;
    setup->kind = FORECAST_COOLING;
    setup->limits = 0;
    setup->clock_from_C = strtod(text, &end);
    if (end == text || *end != ',')
        return false;
    while (*end == ',' && setup->limits < FORECAST_LIMITS) {
        struct forecast_limit *limit = &setup->limit[setup->limits++];
        const char *at = end + 1;
        limit->temp_C = strtod(at, &end);
        if (end == at || *end != '@')
            return false;
        const char *stop = end + 1 + strcspn(end + 1, ",");
        if (!parse_duration(end + 1, stop, &limit->within_s))
            return false;
        end += stop - end;
    }
    return *end == '\0' && setup->limit[0].temp_C < setup->clock_from_C;
}

/* "70C,7.5,2min": what `trivet judge --lethality` takes. */
static bool
parse_earning(const char *text, struct forecast_earning *ret)
{
    char *end, *after;
    *ret = (struct forecast_earning){.reference_C = strtod(text, &end)};
    if (end == text || strncmp(end, "C,", 2) != 0)
        return false;
    end += 2;
    ret->z_K = strtod(end, &after);
    if (after == end || *after != ',' || !(ret->z_K >= 2 && ret->z_K <= 50) ||
        !(ret->reference_C >= 40 && ret->reference_C <= 130))
        return false;
    return parse_duration(after + 1, after + 1 + strlen(after + 1), &ret->target_s);
}

static int
usage_error(const char *format, const char *what)
{
    (void)fprintf(stderr, "trivet forecast: ");
    (void)fprintf(stderr, format, what); /* the format is one of our own literals */
    (void)fputs("\n`trivet forecast --help` says more.\n",
                stderr); /* all of it would hide this */
    return 2;
}

static int
parse_option(int option, const char *value, struct request *request, int *goals)
{
    struct forecast_setup *s = &request->setup;
    switch (option) {
    case 't':
        ++*goals;
        s->kind = FORECAST_COOK;
        s->limits = 1;
        if (!parse_degrees(value, &s->limit[0].temp_C))
            return usage_error(
                "--target '%s' is no temperature; write degrees Celsius such as 55.5", value);
        return 0;
    case 'c':
        ++*goals;
        if (!parse_cooling(value, s))
            return usage_error("--cooling '%s' cannot be read; write for example 57,21@2h,5@6h",
                               value);
        return 0;
    case 'e':
        request->earns = true;
        if (!parse_earning(value, &request->earning))
            return usage_error(
                "--earn '%s' cannot be read; write reference, z and time to earn, "
                "such as 70C,7.5,2min",
                value);
        return 0;
    case 'o':
        if (!parse_degrees(value, &s->oven_C))
            return usage_error(
                "--oven '%s' is no temperature; write degrees Celsius such as 180", value);
        return 0;
    case 'r':
        if (!parse_degrees(value, &s->room_C))
            return usage_error(
                "--room '%s' is no temperature; write degrees Celsius such as 24", value);
        return 0;
    case 'p':
        request->product = value;
        return 0;
    case 'h':
        (void)fputs(USAGE, stdout);
        return -1;
    default:
        (void)fputs(USAGE, stderr);
        return 2;
    }
}

static int
parse_command(int argc, char **argv, struct request *request)
{
    static const struct option OPTIONS[] = {
        {"target", required_argument, NULL, 't'}, {"cooling", required_argument, NULL, 'c'},
        {"earn", required_argument, NULL, 'e'},   {"oven", required_argument, NULL, 'o'},
        {"room", required_argument, NULL, 'r'},   {"product", required_argument, NULL, 'p'},
        {"help", no_argument, NULL, 'h'},         {NULL, 0, NULL, 0},
    };
    *request = (struct request){.setup = {.clock_from_C = NAN, .oven_C = NAN, .room_C = NAN}};
    int goals = 0;
    optind = 1;
    for (int option; (option = getopt_long(argc, argv, "", OPTIONS, NULL)) != -1;) {
        int code = parse_option(option, optarg, request, &goals);
        if (code != 0)
            return code;
    }
    if (argc == 1) {
        (void)fputs("trivet forecast: say what to forecast: --target or --cooling\n", stderr);
        (void)fputs(USAGE, stderr);
        return 2;
    }
    if (goals != 1)
        return usage_error("%s", goals == 0 ? "say what to forecast: --target or --cooling"
                                            : "--target and --cooling exclude each other");
    if (request->earns && request->setup.kind != FORECAST_COOK)
        return usage_error("%s", "--earn goes with --target: a cooling earns nothing");
    if (optind + 1 != argc)
        return usage_error("%s",
                           optind == argc ? "name the trace file" : "one trace at a time");
    request->path = argv[optind];
    if (request->product != NULL &&
        !forecast_product_prior(request->setup.kind, request->product, &request->setup.prior))
        return usage_error("--product '%s' is not known here; a cook is a roast, flat, loaf or "
                           "wrapped, a cooling a "
                           "pan, liquid or joint",
                           request->product);
    return 0;
}

static void
print_range(const struct forecast_range *r)
{
    if (isnan(r->p50))
        (void)printf(",,,");
    else
        (void)printf(",%.0f,%.0f,%.0f", r->p50, r->p05, r->p95);
}

static void
print_chance(double chance)
{
    if (isnan(chance))
        (void)printf(",");
    else
        (void)printf(",%.3f", chance);
}

/* A cooling's first columns speak of the first limit until it is reached, then of the second.
 */
static void
print_row(const struct request *request, const struct forecast *f, bool first_reached)
{
    (void)printf("%.10g", f->time_s);
    bool cook = request->setup.kind == FORECAST_COOK;
    int current = !cook && first_reached && request->setup.limits == 2 ? 1 : 0;
    print_range(&f->eta_s[current]);
    if (isnan(f->peak_C.p50))
        (void)printf(",");
    else
        (void)printf(",%.2f", f->peak_C.p50);
    if (!cook) {
        print_range(&f->eta_s[1]);
        print_chance(f->miss_chance[0]);
        print_chance(f->miss_chance[1]);
    }
    if (request->earns)
        print_range(&f->earned_s);
    (void)printf("\n");
}

/* Tells why there is no forecast, once for each reason, on the error stream. */
static void
tell_refusal(const char *path, const struct forecast *f, enum forecast_refusal *told)
{
    if (f->refusal == *told)
        return;
    *told = f->refusal;
    if (f->refusal == FORECAST_GIVEN)
        return;
    char reason[FORECAST_REASON_BYTES];
    forecast_reason(f, reason);
    (void)fprintf(stderr, "%s: no forecast at %.0f s: %s\n", path, f->time_s, reason);
}

struct walk {
    struct forecast_earning earning; /* with what was earned so far */
    double last_C, last_s;           /* core; NAN before the first */
    const struct request *request;
    struct forecaster *forecaster;
    double next_s; /* when the next row is due */
    bool first_reached;
    enum forecast_refusal told;
};

/* The mean of two rates times the time between (E100); a silence earns nothing. */
static void
earn(struct walk *walk, const struct forecast_reading *reading)
{
    struct forecast_earning *e = &walk->earning;
    if (isnan(reading->core_C))
        return;
    if (reading->time_s - walk->last_s <= EARNS_WITHIN_S) /* false for NAN */
        e->earned_s += (reading->time_s - walk->last_s) * 0.5 *
                       (pow(10, (walk->last_C - e->reference_C) / e->z_K) +
                        pow(10, (reading->core_C - e->reference_C) / e->z_K));
    walk->last_C = reading->core_C;
    walk->last_s = reading->time_s;
}

/* What has been earned is no longer forecast. */
static void
expect(struct walk *walk)
{
    bool earned = walk->earning.earned_s >= walk->earning.target_s;
    forecaster_expect(walk->forecaster,
                      walk->request->earns && !earned ? &walk->earning : NULL);
}

static void
issue(struct walk *walk, double now_s)
{
    struct forecast f;
    expect(walk);
    forecaster_ask(walk->forecaster, NULL, &f);
    tell_refusal(walk->request->path, &f, &walk->told);
    walk->first_reached = walk->first_reached || f.reached[0];
    if (walk->request->earns && walk->earning.earned_s >= walk->earning.target_s)
        f.earned_s = (struct forecast_range){0, 0, 0};
    print_row(walk->request, &f, walk->first_reached);
    walk->next_s = (floor(now_s / 60) + 1) * 60;
}

/* Where readings are missing, time goes on and so do the forecasts, for as long as the
 * forecaster would still give one; a longer hole gets no rows. */
static void
bridge_gap(struct walk *walk, double until_s)
{
    double end_s = fmin(until_s, walk->next_s + 1800);
    while (walk->next_s + 30 < end_s) {
        struct forecast_reading nothing = {walk->next_s, NAN, NAN, FORECAST_NO_EVENT};
        (void)forecaster_feed(walk->forecaster,
                              &nothing); /* its time is after the last one's */
        issue(walk, walk->next_s);
    }
}

static int
run(struct trace *trace, const struct request *request, struct forecaster *forecaster)
{
    char error[TRACE_ERROR_BYTES];
    struct walk walk = {request->earning, NAN,      NAN,   request,
                        forecaster,       INFINITY, false, FORECAST_GIVEN};
    struct forecast_reading reading;
    enum trace_status status;
    (void)printf("time_s,eta_s_p50,eta_s_p05,eta_s_p95,peak_p50%s%s\n",
                 request->setup.kind == FORECAST_COOK
                     ? ""
                     : ",eta5_s_p50,eta5_s_p05,eta5_s_p95,miss1_prob,miss2_prob",
                 request->earns ? ",earned_s_p50,earned_s_p05,earned_s_p95" : "");
    while ((status = trace_next(trace, &reading, error)) == TRACE_ROW) {
        bridge_gap(&walk, reading.time_s);
        earn(&walk, &reading);
        (void)forecaster_feed(forecaster,
                              &reading); /* cannot fail: the trace checked the same ranges */
        if (isinf(walk.next_s) || reading.time_s >= walk.next_s ||
            reading.event == FORECAST_REMOVED)
            issue(&walk, reading.time_s);
    }
    if (status == TRACE_BAD) {
        (void)fprintf(stderr, "%s\n", error);
        return 1;
    }
    return 0;
}

int
cli_forecast(int argc, char **argv)
{
    struct request request;
    int code = parse_command(argc, argv, &request);
    if (code != 0)
        return code < 0 ? 0 : code;
    struct forecaster *forecaster = malloc(sizeof *forecaster);
    if (forecaster == NULL) {
        (void)fprintf(stderr, "trivet forecast: no memory for a forecaster (%zu bytes)\n",
                      sizeof *forecaster);
        return 1;
    }
    const char *reason;
    char error[TRACE_ERROR_BYTES];
    struct trace trace = {0};
    code = 1;
    if (!forecaster_init(forecaster, &request.setup, &reason)) {
        code = usage_error("%s", reason);
        goto out;
    }
    if (!trace_open(&trace, request.path, error)) {
        (void)fprintf(stderr, "%s\n", error);
        goto out;
    }
    code = run(&trace, &request, forecaster);
    if (fflush(stdout) != 0 || ferror(stdout)) {
        (void)fprintf(stderr, "trivet forecast: cannot write the forecasts: %s\n",
                      strerror(errno));
        code = 1;
    }
out:
    trace_close(&trace);
    free(forecaster);
    return code;
}
