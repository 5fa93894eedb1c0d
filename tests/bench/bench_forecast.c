/* What a forecast costs: a reading and a question, over a cook of three hours at 5 s and a
 * cooling of six at 10 s, and what 64 such batches take of one core when each is asked at every
 * reading, or once a minute with a plan from earlier batches beside it, as the daemon does.
 *
 *   bench_forecast [repeats] */
#include <math.h>

#include "bench.h"
#include "trivet/forecast.h"
#include "trivet/lesson.h"

enum { ASKED_EVERY = 12 }; /* readings; enough questions for a mean */

/* A plausible core: it lags, then nears what surrounds it. */
static double
core_C(const struct forecast_setup *setup, double time_s)
{
    bool cook = setup->kind == FORECAST_COOK;
    double start_C = cook ? 6 : 75, medium_C = cook ? 95 : 2, scale_s = cook ? 11000 : 9000;
    double late_s = fmax(time_s - 900, 0);
    return medium_C + (start_C - medium_C) * exp(-late_s / scale_s);
}

struct cost {
    double feed_s, ask_s;
};

/* Work done, not time passed: whatever else runs is left out. */
static double
worked_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static struct cost
cost_of(const struct forecast_setup *setup, double every_s, double span_s)
{
    static struct forecaster forecaster;
    const char *reason;
    if (!forecaster_init(&forecaster, setup, &reason))
        bench_give_up("forecaster: %s", reason);
    struct cost c = {0, 0};
    int count = 0, asked = 0;
    double air_C = setup->kind == FORECAST_COOK ? 160 : 2;
    for (double at = 0; at <= span_s; at += every_s, count++) {
        struct forecast_reading r = {at, core_C(setup, at), air_C, FORECAST_NO_EVENT};
        struct forecast f;
        double begin_s = worked_s();
        (void)forecaster_feed(&forecaster, &r);
        c.feed_s += worked_s() - begin_s;
        if (count % ASKED_EVERY != 0 || at < 600)
            continue;
        begin_s = worked_s();
        forecaster_ask(&forecaster, NULL, &f);
        c.ask_s += worked_s() - begin_s;
        asked++;
    }
    return (struct cost){c.feed_s / count, c.ask_s / asked};
}

/* Eight earlier cooks of the same dish, and the planner asked all along the next. */
static double
follow_s(const struct forecast_setup *setup)
{
    static struct lesson_taker taker;
    static struct planner_work work;
    static struct planner planner;
    static struct lesson lesson[LESSONS_MAX];
    struct dish dish = {.mass_g = 2000,
                        .thickness_mm = NAN,
                        .start_C = NAN,
                        .oven_C = 160,
                        .target_C = setup->limit[0].temp_C};
    for (int i = 0; i <= LESSONS_MAX; i++) {
        lesson_begin(&taker, &dish, 0);
        for (double at = 0; at <= 10800 && i < LESSONS_MAX; at += 10) {
            struct forecast_reading r = {at, core_C(setup, at * (0.9 + 0.02 * i)), 160,
                                         FORECAST_NO_EVENT};
            lesson_feed(&taker, &r);
        }
        if (i < LESSONS_MAX && !lesson_taken(&taker, &lesson[i]))
            bench_give_up("a lesson taught nothing");
    }
    planner_learn(&planner, &work, lesson, LESSONS_MAX);
    double sum_s = 0;
    int count = 0;
    for (double at = 0; at <= 10800; at += 10) {
        struct forecast_reading r = {at, core_C(setup, at), 160, FORECAST_NO_EVENT};
        struct planned planned;
        const char *missing;
        lesson_feed(&taker, &r);
        if ((int)at % 600 != 0 || at < 600)
            continue;
        double begin_s = worked_s();
        if (!planner_follow(&planner, &taker, &planned, &missing))
            bench_give_up("no plan: %s", missing);
        sum_s += worked_s() - begin_s;
        count++;
    }
    return sum_s / count;
}

int
main(int argc, char **argv)
{
    int repeats = (int)bench_argument(argc, argv, 1, 5);
    if (repeats > BENCH_REPEATS_MAX)
        bench_give_up("at most %d repeats", BENCH_REPEATS_MAX);
    const struct forecast_setup cook = {.kind = FORECAST_COOK,
                                        .limit = {{70, 0}},
                                        .limits = 1,
                                        .clock_from_C = NAN,
                                        .oven_C = NAN,
                                        .room_C = NAN};
    const struct forecast_setup cooling = {.kind = FORECAST_COOLING,
                                           .limit = {{21, 7200}, {5, 21600}},
                                           .limits = 2,
                                           .clock_from_C = 57,
                                           .oven_C = NAN,
                                           .room_C = NAN};
    double value[8][BENCH_REPEATS_MAX];
    for (int i = 0; i < repeats; i++) {
        struct cost a = cost_of(&cook, 5, 10800), b = cost_of(&cooling, 10, 21600);
        double follow = follow_s(&cook);
        double both[] = {1e3 * a.feed_s,
                         1e3 * a.ask_s,
                         1e3 * b.feed_s,
                         1e3 * b.ask_s,
                         100 * 64 * (a.feed_s + a.ask_s) / 5,
                         100 * 64 * (a.feed_s + a.ask_s / 12) / 5,
                         1e3 * follow,
                         100 * 64 * (a.feed_s / 5 + (5 * a.ask_s + follow) / 60)};
        for (int k = 0; k < 8; k++)
            value[k][i] = both[k];
    }
    bench_row("forecast, a reading of a cook", value[0], repeats, "ms", BENCH_NO_AIM, 0);
    bench_row("forecast, a question, cook", value[1], repeats, "ms", BENCH_NO_AIM, 0);
    bench_row("forecast, a reading of a cooling", value[2], repeats, "ms", BENCH_NO_AIM, 0);
    bench_row("forecast, a question, cooling", value[3], repeats, "ms", BENCH_NO_AIM, 0);
    bench_row("forecast, 64 cooks at 5 s, asked each time", value[4], repeats, "% core",
              BENCH_MOST, 5);
    bench_row("forecast, 64 cooks at 5 s, asked each minute", value[5], repeats, "% core",
              BENCH_MOST, 5);
    bench_row("forecast, a question of the plan", value[6], repeats, "ms", BENCH_NO_AIM, 0);
    bench_row("forecast, 64 cooks at 5 s from lessons, each minute with two changes", value[7],
              repeats, "% core", BENCH_MOST, 5);
    double kib[] = {
        (sizeof(struct forecaster) + sizeof(struct planner) + sizeof(struct lesson_taker)) /
        1024.0};
    bench_row("forecast, memory of a batch", kib, 1, "KiB", BENCH_MOST, 256);
    return 0;
}
