/* One watched batch: which step it is forecast for, and what it has read. See the header. */
#include "daemon/advice/watched.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct plan_limit *
limit_of(const struct engine_batch_view *view)
{
    return &view->product->steps[view->step].limit;
}

/* Food that has just been taken out of the heat, to rest. */
static bool
rests(const struct engine_batch_view *view)
{
    return view->step > 0 && limit_of(view)->kind == LIMIT_NONE &&
           limit_kind_heats(view->product->steps[view->step - 1].limit.kind);
}

bool
watched_wanted(const struct engine_batch_view *view, enum forecast_kind *ret_kind)
{
    if (view->product == NULL || view->step >= view->product->step_count ||
        view->probe_count == 0)
        return false;
    enum limit_kind kind = limit_of(view)->kind;
    *ret_kind = kind == LIMIT_COOL ? FORECAST_COOLING : FORECAST_COOK;
    return kind == LIMIT_COOL || limit_kind_heats(kind) || rests(view);
}

/* When the heating before a rest began is known only of a first step. */
bool
watched_can_begin(const struct engine_batch_view *view)
{
    enum forecast_kind kind;
    return watched_wanted(view, &kind) && (!rests(view) || view->step == 1);
}

static uint16_t
air_probe(const struct snapshot *snapshot, const struct engine_batch_view *view)
{
    const struct plan *plan = snapshot->plan;
    int place = view->place[0] == '\0' ? -1 : plan_place_index(plan, view->place);
    if (place < 0 || plan->places[place].probe < 0)
        return 0;
    const struct plan_probe *probe = &plan->probes[plan->places[place].probe];
    return probe->kind == PROBE_AIR ? probe->number : 0;
}

/* The stages still to be forecast: at most two, from the one that runs. A stage whose time
 * counts from the one before has no deadline before that is reached. */
static void
cooling_setup(struct watched *watched, const struct engine_batch_view *view,
              struct forecast_setup *setup)
{
    const struct plan_limit *limit = limit_of(view);
    uint8_t stage = watched->first_stage;
    setup->clock_from_C =
        limit->clock == COOL_CLOCK_STEP ? NAN : watched_degrees_C(limit->start);
    for (; stage <= limit->stage_count && setup->limits < FORECAST_LIMITS; stage++) {
        const struct plan_stage *of = &limit->stages[stage - 1];
        double within_s = (double)of->within_ms / 1000;
        if (of->counts_from == STAGE_FROM_STAGE_BEFORE)
            within_s = stage == view->stage && view->deadline_ms != TIME_NONE &&
                               view->clock_start_ms != TIME_NONE
                           ? (double)(view->deadline_ms - view->clock_start_ms) / 1000
                           : 0;
        setup->limit[setup->limits++] =
            (struct forecast_limit){watched_degrees_C(of->to), within_s};
    }
}

double
watched_target_C(const struct plan_step *step)
{
    bool aims = step->limit.kind == LIMIT_LETHALITY && step->aim.milli != 0;
    return watched_degrees_C(aims ? step->aim : step->limit.temp);
}

/* ---- what is to be earned ---- */

_Static_assert(FORECAST_ROWS >= PLAN_ROWS_MAX, "every row of a table can be forecast");

static void
begin_earning(struct watched *watched, const struct plan_limit *limit)
{
    struct forecast_earning *e = &watched->earning;
    watched->earns = limit->kind == LIMIT_COOK_TABLE || limit->kind == LIMIT_LETHALITY;
    if (limit->kind == LIMIT_LETHALITY)
        *e = (struct forecast_earning){.reference_C = watched_degrees_C(limit->temp),
                                       .z_K = limit->z_mK / 1000.0,
                                       .target_s = (double)limit->hold_ms / 1000};
    for (; watched->earns && e->rows < limit->row_count; e->rows++)
        e->row[e->rows] =
            (struct forecast_row){.temp_C = watched_degrees_C(limit->rows[e->rows].temp),
                                  .hold_s = (double)limit->rows[e->rows].hold_ms / 1000};
    for (int i = 0; i < FORECAST_ROWS; i++)
        watched->row_since_s[i] = NAN;
}

/* As far as a forecast needs it: the engine judges each reading, and more strictly. */
static void
hold_rows(struct watched *watched, double core_C, double time_s)
{
    for (int i = 0; i < watched->earning.rows; i++) {
        double *since_s = &watched->row_since_s[i];
        if (core_C < watched->earning.row[i].temp_C)
            *since_s = NAN;
        else if (isnan(*since_s))
            *since_s = time_s;
    }
}

bool
watched_earning(struct watched *watched, const struct engine_batch_view *view)
{
    double now_s = (double)(watched->fed_to_ms - watched->origin_ms) / 1000;
    watched->earning.earned_s = (double)view->credited_ms / 1000;
    for (int i = 0; i < watched->earning.rows; i++) {
        double since_s = watched->row_since_s[i];
        watched->earning.row[i].held_s = isnan(since_s) ? -1 : now_s - since_s;
    }
    return watched->earns && !watched->taken_out && view->verdict != VERDICT_MET;
}

static void
heating_setup(const struct plan_step *step, struct forecast_setup *setup)
{
    setup->limit[setup->limits++] = (struct forecast_limit){watched_target_C(step), 0};
    if (step->aim.milli != 0 && watched_degrees_C(step->aim) > setup->limit[0].temp_C)
        setup->limit[setup->limits++] =
            (struct forecast_limit){watched_degrees_C(step->aim), 0};
}

/* Only stages whose time counts from the one before make a new beginning necessary. */
static uint8_t
first_stage(const struct engine_batch_view *view)
{
    const struct plan_limit *limit = limit_of(view);
    if (limit->kind != LIMIT_COOL || view->stage <= 1)
        return 1;
    bool chained = limit->stage_count > FORECAST_LIMITS;
    for (uint8_t i = 0; i < limit->stage_count; i++)
        chained = chained || limit->stages[i].counts_from == STAGE_FROM_STAGE_BEFORE;
    uint8_t last = limit->stage_count;
    return !chained ? 1 : view->stage < last ? view->stage : last;
}

static bool
same_probes(const struct watched *watched, const struct engine_batch_view *view)
{
    return watched->food_count == view->probe_count &&
           memcmp(watched->food, view->probes, view->probe_count * sizeof view->probes[0]) == 0;
}

/* A plan without its taker is of no use; the forecast does without both. */
static void
follow_plan(struct watched *watched, const struct taught *taught)
{
    watched->lessons = taught->lessons;
    watched->planner = taught->planner;
    watched->lean = 1;
    if (watched->planner == NULL)
        return;
    watched->taker = malloc(sizeof *watched->taker);
    if (watched->taker != NULL)
        lesson_begin(watched->taker, &taught->dish, 0);
}

bool
watched_begin(struct watched *watched, const struct snapshot *snapshot,
              const struct engine_batch_view *view, const struct taught *taught)
{
    struct forecast_setup setup = {
        .clock_from_C = NAN, .oven_C = NAN, .room_C = NAN, .prior = taught->prior};
    const char *reason;
    *watched = (struct watched){.batch = view->number, .asked_ms = TIME_NONE};
    memcpy(watched->product, view->product->id, sizeof watched->product);
    follow_plan(watched, taught);
    if (!watched_can_begin(view) || !watched_wanted(view, &watched->kind))
        goto cannot;
    watched->step = view->step;
    watched->step_begun_ms = view->step_begun_ms;
    watched->first_stage = first_stage(view);
    watched->clock_start_ms = view->clock_start_ms;
    watched->origin_ms = watched->fed_to_ms =
        rests(view) ? view->begun_ms : view->step_begun_ms;
    watched->taken_out_ms = rests(view) ? view->step_begun_ms : TIME_NEVER;
    watched->food_count = view->probe_count;
    memcpy(watched->food, view->probes, sizeof watched->food);
    watched->air = air_probe(snapshot, view);
    watched->air_C = watched->core_C = NAN;
    setup.kind = watched->kind;
    if (watched->kind == FORECAST_COOLING)
        cooling_setup(watched, view, &setup);
    else
        heating_setup(&view->product->steps[rests(view) ? view->step - 1 : view->step], &setup);
    begin_earning(watched, limit_of(view));
    watched->forecaster = malloc(sizeof *watched->forecaster);
    if (watched->forecaster != NULL && forecaster_init(watched->forecaster, &setup, &reason))
        return true;
cannot:
    watched_end(watched);
    return false;
}

void
watched_end(struct watched *watched)
{
    free(watched->forecaster);
    free(watched->planner);
    free(watched->taker);
    *watched = (struct watched){.batch = 0};
}

bool
watched_follow(struct watched *watched, const struct snapshot *snapshot,
               const struct engine_batch_view *view)
{
    bool same_step =
        view->step_begun_ms == watched->step_begun_ms && view->step == watched->step;
    if (!same_probes(watched, view))
        return false;
    if (!same_step) {
        bool follows = watched->kind == FORECAST_COOK && watched->taken_out_ms == TIME_NEVER &&
                       rests(view) && view->step == watched->step + 1;
        if (!follows)
            return false;
        watched->step = view->step;
        watched->step_begun_ms = view->step_begun_ms;
        watched->taken_out_ms = view->step_begun_ms;
        watched->asked_ms = TIME_NONE;
    } else if (first_stage(view) != watched->first_stage) {
        return false;
    }
    watched->clock_start_ms = view->clock_start_ms;
    watched->air = air_probe(snapshot, view);
    return true;
}

/* ---- reading ---- */

#define BINS 60 /* taken from the store at a time: ten minutes */

/* The last good reading of each bin. */
struct bins {
    int64_t from_ms;
    int32_t temp_mC[BINS];
};

static bool
into_bin(void *arg, const struct reading *reading)
{
    struct bins *bins = arg;
    int64_t bin = (reading->at_ms - bins->from_ms - 1) / BIN_MS;
    if (reading_is_good(reading->quality) && bin >= 0 && bin < BINS)
        bins->temp_mC[bin] = reading->temp_mC;
    return true;
}

static enum store_status
read_bins(struct store_reader *reader, uint16_t probe, int64_t from_ms, struct bins *ret,
          struct store_error *reterr)
{
    ret->from_ms = from_ms;
    for (size_t i = 0; i < BINS; i++)
        ret->temp_mC[i] = TEMP_NONE;
    if (probe == 0)
        return STORE_OK;
    return store_each_corrected(reader, probe, from_ms, from_ms + BINS * BIN_MS, into_bin, ret,
                                reterr);
}

/* The coldest probe governs heating, the warmest cooling, as in the engine. */
static void
govern(const struct watched *watched, const struct bins *of, struct bins *governing)
{
    for (size_t i = 0; i < BINS; i++) {
        int32_t one = of->temp_mC[i], *all = &governing->temp_mC[i];
        bool further = watched->kind == FORECAST_COOLING ? one > *all : one < *all;
        if (one != TEMP_NONE && (*all == TEMP_NONE || further))
            *all = one;
    }
}

static double
in_C(int32_t temp_mC)
{
    return temp_mC == TEMP_NONE ? NAN : temp_mC / 1000.0;
}

static void
feed_bin(struct watched *watched, int64_t to_ms, int32_t core_mC, int32_t air_mC)
{
    struct forecast_reading reading = {
        .time_s = (double)(to_ms - watched->origin_ms) / 1000,
        .core_C = in_C(core_mC),
        .air_C = in_C(air_mC),
    };
    if (!watched->taken_out && to_ms > watched->taken_out_ms) {
        reading.event = FORECAST_REMOVED;
        watched->taken_out = true;
    }
    (void)forecaster_feed(watched->forecaster, &reading); /* refuses only what is no reading */
    if (watched->taker != NULL)
        lesson_feed(watched->taker, &reading);
    if (!isnan(reading.core_C)) {
        watched->core_C = reading.core_C;
        hold_rows(watched, reading.core_C, reading.time_s);
    }
    if (!isnan(reading.air_C))
        watched->air_C = reading.air_C;
    watched->fed_to_ms = to_ms;
}

enum store_status
watched_feed(struct watched *watched, struct store_reader *reader,
             const struct snapshot *snapshot, struct store_error *reterr)
{
    /* A reading may be a commit behind. */
    int64_t until_ms = snapshot->at_ms - snapshot->plan->records.commit_ms - 1000;
    while (watched->fed_to_ms + BIN_MS <= until_ms) {
        struct bins core, air, one;
        int64_t from_ms = watched->fed_to_ms;
        enum store_status status = read_bins(reader, watched->air, from_ms, &air, reterr);
        if (status == STORE_OK)
            status = read_bins(reader, watched->food[0], from_ms, &core, reterr);
        for (size_t i = 1; status == STORE_OK && i < watched->food_count; i++) {
            status = read_bins(reader, watched->food[i], from_ms, &one, reterr);
            govern(watched, &one, &core);
        }
        if (status != STORE_OK)
            return status;
        for (size_t i = 0; i < BINS && watched->fed_to_ms + BIN_MS <= until_ms; i++)
            feed_bin(watched, watched->fed_to_ms + BIN_MS, core.temp_mC[i], air.temp_mC[i]);
    }
    return STORE_OK;
}
