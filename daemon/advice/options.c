/* What could be done now, and what would come of it: each change is tried out on the forecaster
 * and those that help are kept, best first. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/advice/watched.h"

/* Worth saying from one chance in five of a miss on. */
#define AT_RISK_PERMILLE 200
/* A remedy gains at least this much of the chance, or this much time. */
#define GAIN_PERMILLE 50
#define GAIN_MS       INT64_C(600000)

static const double OVEN_STEP_K = 20;
static const double ICE_BATH_C = 0.5;
/* Against air at rest: handbook ranges, recalled: 5 to 20 W/m²K in a refrigerator, 100 to 300
 * in stirred ice water. */
static const double ICE_BATH_FILM = 10;
static const double UNCOVERED_WET = 2; /* common practice that it helps; how much: no source */
static const double COLDER_BY_K = 3;

static void
try_out(struct watched *watched, const struct forecast_change *change,
        struct advice_option option)
{
    struct advice *advice = &watched->advice;
    struct forecast f;
    forecaster_ask(watched->forecaster, change, &f);
    if (f.refusal != FORECAST_GIVEN || advice->option_count == ADVICE_OPTIONS_MAX)
        return;
    uint8_t at = advice->at_stake;
    /* A change moves by as much as things left as they are. */
    double left_s = advice->by_earning ? f.earned_s.p50 : f.eta_s[at].p50;
    option.p50_ms = watched_instant(watched, f.time_s + left_s * watched->lean);
    option.miss_permille = watched_permille(f.miss_chance[at]);
    advice->options[advice->option_count++] = option;
}

/* ---- cooling ---- */

static bool
helps(const struct advice_reach *stake, const struct advice_option *option)
{
    if (option->miss_permille + GAIN_PERMILLE <= stake->miss_permille)
        return true;
    return option->p50_ms != TIME_NEVER &&
           (stake->when.p50_ms == TIME_NEVER || option->p50_ms + GAIN_MS <= stake->when.p50_ms);
}

static int
by_gain(const void *a_, const void *b_)
{
    const struct advice_option *a = a_, *b = b_;
    if (a->p50_ms != b->p50_ms)
        return a->p50_ms < b->p50_ms ? -1 : 1;
    return (int)a->kind - (int)b->kind;
}

static void
keep_what_helps(struct advice *advice)
{
    uint8_t kept = 0;
    for (uint8_t i = 0; i < advice->option_count; i++)
        if (helps(&advice->reach[advice->at_stake], &advice->options[i]))
            advice->options[kept++] = advice->options[i];
    advice->option_count = kept;
    qsort(advice->options, kept, sizeof advice->options[0], by_gain);
}

/* The place whose air was coldest when last seen, if it is colder than where the food stands.
 */
static const struct plan_place *
colder_place(const struct watched *watched, const struct snapshot *snapshot, double *ret_C)
{
    const struct plan_place *best = NULL;
    double best_C = (isnan(watched->air_C) ? watched->core_C : watched->air_C) - COLDER_BY_K;
    for (size_t i = 0; i < snapshot->place_count; i++) {
        const struct engine_place_view *view = &snapshot->places[i].view;
        const struct plan_place *place = &snapshot->plan->places[view->place];
        if (place->probe < 0 || view->temp_mC == TEMP_NONE ||
            snapshot->plan->probes[place->probe].number == watched->air)
            continue;
        double temp_C = view->temp_mC / 1000.0;
        if (temp_C < best_C) {
            best = place;
            best_C = temp_C;
        }
    }
    *ret_C = best_C;
    return best;
}

static void
cooling_options(struct watched *watched, const struct snapshot *snapshot)
{
    double colder_C;
    const struct plan_place *colder = colder_place(watched, snapshot, &colder_C);
    struct forecast_change change = FORECAST_AS_IT_IS;
    change.size_factor = 0.5;
    try_out(watched, &change, (struct advice_option){.kind = OPTION_SHALLOWER});
    change = FORECAST_AS_IT_IS;
    change.medium_C = ICE_BATH_C;
    change.film_factor = ICE_BATH_FILM;
    try_out(watched, &change, (struct advice_option){.kind = OPTION_ICE_BATH});
    change = FORECAST_AS_IT_IS;
    change.stir = true;
    try_out(watched, &change, (struct advice_option){.kind = OPTION_STIR});
    if (colder != NULL) {
        change = FORECAST_AS_IT_IS;
        change.medium_C = colder_C;
        struct advice_option option = {.kind = OPTION_COLDER_PLACE};
        memcpy(option.place, colder->id, sizeof option.place);
        try_out(watched, &change, option);
    }
    change = FORECAST_AS_IT_IS;
    change.wet_factor = UNCOVERED_WET;
    try_out(watched, &change, (struct advice_option){.kind = OPTION_UNCOVER});
    keep_what_helps(&watched->advice);
}

/* ---- heating ---- */

/* Nobody is told of an oven that would be a deviation. */
static bool
oven_may_be(const struct engine_batch_view *view, double oven_C)
{
    if (view->oven == NULL || view->oven_over)
        return true;
    int side = temp_compare((int32_t)lround(oven_C * 1000), view->oven->temp);
    return view->oven->kind == LIMIT_OVEN ? side >= 0 : side <= 0;
}

static void
oven_option(struct watched *watched, const struct engine_batch_view *view,
            enum advice_option_kind kind, double by_K)
{
    struct forecast_change change = FORECAST_AS_IT_IS;
    change.medium_C = watched->air_C + by_K;
    if (oven_may_be(view, change.medium_C))
        try_out(watched, &change,
                (struct advice_option){.kind = kind, .change_mC = (int32_t)(by_K * 1000)});
}

static void
oven_options(struct watched *watched, const struct engine_batch_view *view)
{
    if (isnan(watched->air_C))
        return;
    oven_option(watched, view, OPTION_WARMER_OVEN, OVEN_STEP_K);
    oven_option(watched, view, OPTION_COOLER_OVEN, -OVEN_STEP_K);
}

void
watched_options(struct watched *watched, const struct snapshot *snapshot,
                const struct engine_batch_view *view, const struct forecast *forecast)
{
    const struct advice *advice = &watched->advice;
    if (advice->reach_count == 0)
        return;
    const struct advice_reach *stake = &advice->reach[advice->at_stake];
    if (watched->kind == FORECAST_COOLING) {
        if (!stake->reached && stake->miss_permille >= AT_RISK_PERMILLE)
            cooling_options(watched, snapshot);
    } else if (!watched->taken_out && (!forecast->reached[0] || advice->by_earning)) {
        oven_options(watched, view);
    }
}
