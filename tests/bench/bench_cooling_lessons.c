/* What lessons are worth to a cooling: series of one product each, made by bench_made.c, every
 * batch forecast as if nothing were known and from what its forerunners left.
 *
 *   bench_cooling_lessons [products] [batches of each] [seed]
 *
 * The product's food, place and habits stay the same; what differs is said in another_day. */
#define main made_main
#include "tests/bench/bench_made.c"
#undef main

#include "trivet/forecast.h"
#include "trivet/lesson.h"

enum { SHARES = 3, STAGES = 2, BATCHES_MAX = 8, FOUND_MAX = 400 };

static const double SHARE[SHARES] = {0.1, 0.3, 0.5};
static const double STAGE_C[STAGES] = {21, 5};

/* Relative errors of the time left, of one way to begin. */
struct found {
    double error[STAGES][SHARES][FOUND_MAX];
    int count[STAGES][SHARES], held[STAGES][SHARES];
};

static void
note_asked(struct found *found, const struct forecast *f, int stage, int share, double left_s)
{
    int *count = &found->count[stage][share];
    if (*count == FOUND_MAX)
        return;
    const struct forecast_range *eta = &f->eta_s[stage];
    bool said = !isnan(eta->p50); /* no forecast is an error of 1, as the scorer has it */
    found->error[stage][share][(*count)++] =
        said ? fmin(fabs(eta->p50 - left_s) / left_s, 10) : 1;
    found->held[stage][share] += said && eta->p05 <= left_s && left_s <= eta->p95;
}

/* Feeds a batch, asks on its way, and leaves what was learned. */
static bool
live(const struct batch *b, const struct forecast_prior *prior, struct found *found,
     struct forecast_prior *ret_learned)
{
    static struct forecaster forecaster;
    const char *why;
    const struct forecast_setup setup = {.kind = FORECAST_COOLING,
                                         .limits = STAGES,
                                         .limit = {{STAGE_C[0], 7200}, {STAGE_C[1], 21600}},
                                         .clock_from_C = 57,
                                         .oven_C = NAN,
                                         .room_C = NAN,
                                         .prior = *prior};
    if (!forecaster_init(&forecaster, &setup, &why))
        bench_give_up("%s", why);
    const double reached_s[] = {b->first_s, b->second_s};
    bool asked[STAGES][SHARES] = {{false}};
    for (int i = 0; i < b->rows; i++) {
        const struct row *row = &b->row[i];
        struct forecast_reading reading = {row->time_s, row->core_C, row->air_C,
                                           row->event[0] == 'm' ? FORECAST_MOVED
                                                                : FORECAST_NO_EVENT};
        (void)forecaster_feed(&forecaster, &reading);
        for (int stage = 0; stage < STAGES; stage++)
            for (int share = 0; share < SHARES; share++) {
                double when_s = b->clock_s + SHARE[share] * (reached_s[stage] - b->clock_s);
                if (isnan(when_s) || asked[stage][share] || row->time_s < when_s)
                    continue;
                asked[stage][share] = true;
                struct forecast f;
                forecaster_ask(&forecaster, NULL, &f);
                note_asked(found, &f, stage, share, reached_s[stage] - row->time_s);
            }
    }
    return forecaster_learned(&forecaster, ret_learned);
}

static void
series(uint64_t seed, int batches, struct found *bare, struct found *taught)
{
    static struct batch batch;
    static struct food food;
    struct lesson_fit fits[BATCHES_MAX];
    int count = 0;
    for (int i = 0; i < batches; i++) {
        const struct forecast_prior none = {{0}, {0}};
        struct forecast_prior prior = none, learned;
        random_state = seed * 0x9E3779B97F4A7C15ULL;
        day_state = (seed * 16 + (uint64_t)i + 1) * 0xD1342543DE82EF95ULL;
        for (int k = 0; k < 20; k++)
            (void)uniform();
        if (!cooling_make(&food, &batch))
            return; /* it was never hot enough: no series of this product */
        forecast_prior_from(FORECAST_COOLING, fits, count, &prior);
        static struct found ignored;
        bool scored = i > 0;
        if (scored)
            (void)live(&batch, &prior, taught, &learned);
        ignored = (struct found){0};
        if (live(&batch, &none, scored ? bare : &ignored, &learned))
            fits[count++] = (struct lesson_fit){learned, NAN};
    }
}

static void
show(const char *name, struct found *found)
{
    printf("  %-18s", name);
    for (int stage = 0; stage < STAGES; stage++)
        for (int share = 0; share < SHARES; share++) {
            int count = found->count[stage][share];
            double *error = found->error[stage][share];
            qsort(error, (size_t)count, sizeof *error, bench_ascending);
            if (count > 0)
                printf("  %5.1f /%4.0f, %d of %d", 100 * error[count / 2],
                       100 * error[(count - 1) * 9 / 10], found->held[stage][share], count);
        }
    printf("\n");
}

int
main(int argc, char **argv)
{
    static struct found bare, taught;
    int products = (int)bench_argument(argc, argv, 1, 12);
    int batches = (int)bench_argument(argc, argv, 2, 4);
    uint64_t seed = (uint64_t)bench_argument(argc, argv, 3, 1);
    if (batches < 2 || batches > BATCHES_MAX)
        bench_give_up("two to %d batches of each product", BATCHES_MAX);
    for (int product = 0; product < products; product++)
        series(seed * 1000 + (uint64_t)product, batches, &bare, &taught);
    printf("Coolings of %d products, from the second batch on: error of the time left in %%, "
           "median / 90th percentile, ranges that hold;\nto 21 \u00b0C at 10, 30 and 50 %% of "
           "the way, then to 5 \u00b0C\n",
           products);
    show("from nothing", &bare);
    show("from forerunners", &taught);
    return 0;
}
