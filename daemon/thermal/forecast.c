/* The forecaster of one batch: takes readings, keeps the bank, answers questions.
 * Contract in include/trivet/forecast.h.  Pure; one owner. */
#include "trivet/forecast.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/thermal/hunch.h"
#include "daemon/thermal/outlook.h"
#include "daemon/thermal/trend.h"

static const double EARLY_S =
    450; /* the air has settled and a start can be told from a drift */
static const double CORE_STALE_S = 1200;
static const double IN_FOOD_MAX_C = 105; /* food with water in it does not get hotter inside */

struct watch {
    struct forecast_setup setup;
    struct food_context context;
    struct record record;
    struct bank bank;
    bool begun;                        /* the bank exists */
    double reached_s[FORECAST_LIMITS]; /* first time each limit was met; NAN */
    bool earns;
    struct forecast_earning earning; /* meaningful when it earns */
};

static_assert(sizeof(struct watch) <= FORECASTER_BYTES, "a forecaster must fit its room");

static struct watch *
watch_of(struct forecaster *forecaster)
{
    return (struct watch *)(void *)forecaster->room.bytes;
}

static const struct watch *
watch_in(const struct forecaster *forecaster)
{
    return (const struct watch *)(const void *)forecaster->room.bytes;
}

static bool
sensible(double temp_C)
{
    return temp_C >= -40 && temp_C <= 300;
}

bool
forecaster_init(struct forecaster *forecaster, const struct forecast_setup *setup,
                const char **reterr_reason)
{
    if (setup->limits < 1 || setup->limits > FORECAST_LIMITS) {
        *reterr_reason = "there are one or two temperatures to reach";
        return false;
    }
    bool cook = setup->kind == FORECAST_COOK;
    for (int i = 0; i < setup->limits; i++) {
        if (!sensible(setup->limit[i].temp_C)) {
            *reterr_reason = "a temperature to reach lies between -40 and 300 C";
            return false;
        }
        double further_C = i == 0 ? 1 : setup->limit[i].temp_C - setup->limit[i - 1].temp_C;
        if (i > 0 && (cook ? further_C <= 0 : further_C >= 0)) {
            *reterr_reason = "the second limit lies beyond the first: hotter in a cook, colder "
                             "in a cooling";
            return false;
        }
    }
    struct watch *w = watch_of(forecaster);
    memset(w, 0, sizeof *w);
    w->setup = *setup;
    w->context = (struct food_context){
        .kind = setup->kind,
        .target_C = setup->limit[0].temp_C,
        .oven_C = setup->oven_C,
        .room_C = setup->room_C,
        .first_air_C = NAN,
        .prior = setup->prior,
    };
    for (int i = 0; i < FORECAST_LIMITS; i++)
        w->reached_s[i] = NAN;
    record_begin(&w->record, setup->kind, setup->clock_from_C);
    return true;
}

/* First mean core reading in the record, and how long the food had stood before it. */
static bool
find_start(const struct record *record, double *ret_core_C, double *ret_after_s)
{
    double at = 0;
    for (int i = 0; i < record->count; i++) {
        if (!isnan(record->entry[i].core_C)) {
            *ret_core_C = (double)record->entry[i].core_C;
            *ret_after_s = at;
            return true;
        }
        at += (double)record->entry[i].span_s;
    }
    return false;
}

/* (Re)creates the bank from the whole record: at the start, and when the probe goes in late or
 * an air probe appears. */
static void
begin_bank(struct watch *w)
{
    double after_s;
    if (!find_start(&w->record, &w->context.start_C, &after_s))
        return;
    bool cook = w->setup.kind == FORECAST_COOK;
    w->context.start_sd_K = (cook ? 1.5 : 3) + after_s / 120;
    w->context.air_seen = w->record.air_seen;
    w->context.first_air_C = w->record.first_air_C;
    bank_begin(&w->bank, &w->context);
    bank_replay(&w->bank, &w->context, &w->record);
    w->begun = true;
}

static bool
acceptable(double value)
{
    return isnan(value) || (value >= -90 && value <= 1000);
}

/* Limits count from the moment the food was on the far side of them: a probe that goes in cold
 * has not cooled. */
static void
note_reached(struct watch *w, const struct forecast_reading *reading)
{
    double core_C = record_core_C(&w->record);
    bool cook = w->setup.kind == FORECAST_COOK;
    if (isnan(reading->core_C) || (!cook && w->record.highest_C <= w->setup.limit[0].temp_C))
        return;
    for (int i = 0; i < w->setup.limits; i++) {
        bool met =
            cook ? core_C >= w->setup.limit[i].temp_C : core_C <= w->setup.limit[i].temp_C;
        if (met && isnan(w->reached_s[i]))
            w->reached_s[i] = reading->time_s;
    }
}

bool
forecaster_feed(struct forecaster *forecaster, const struct forecast_reading *reading)
{
    struct watch *w = watch_of(forecaster);
    if (!isfinite(reading->time_s) || !acceptable(reading->core_C) ||
        !acceptable(reading->air_C))
        return false;
    bool bare = isnan(reading->core_C) && isnan(reading->air_C);
    if (w->record.begun &&
        (reading->time_s < w->record.last_s || (reading->time_s <= w->record.last_s && !bare)))
        return false;
    int first;
    enum record_news news = record_take(&w->record, reading, &first);
    note_reached(w, reading);
    if (news == RECORD_OPEN)
        return true;
    bool early = w->record.end_s - w->record.origin_s < EARLY_S - 60;
    if (early)
        return true;
    if (!w->begun || news == RECORD_RESTART || w->context.air_seen != w->record.air_seen) {
        begin_bank(w);
        return true;
    }
    double begin_s = w->record.end_s - w->record.origin_s;
    for (int i = first; i < w->record.count; i++)
        begin_s -= (double)w->record.entry[i].span_s;
    for (int i = first; i < w->record.count; i++) {
        struct food_stretch s = record_stretch(&w->record, i, begin_s);
        bank_follow(&w->bank, &w->context, &s);
        bank_refine(&w->bank, &w->context, &w->record);
        begin_s += s.span_s;
    }
    return true;
}

static void
check(const struct watch *w, struct forecast *f)
{
    const struct record *r = &w->record;
    double core_C = record_core_C(r);
    if (isnan(core_C))
        f->refusal = FORECAST_NO_CORE;
    else if (r->last_s - r->core_at_s > CORE_STALE_S)
        f->refusal = FORECAST_CORE_LOST;
    else if (core_C > IN_FOOD_MAX_C)
        f->refusal = FORECAST_READS_THE_AIR;
    else if (!w->begun) {
        f->refusal = FORECAST_TOO_EARLY;
        f->wait_s = fmax(EARLY_S - (r->last_s - r->origin_s), 60);
    }
}

/* What is settled is no longer forecast: a limit met, in time or not, and a deadline that has
 * passed. */
static void
settle(const struct watch *w, struct forecast *f, int limit)
{
    double late_s =
        w->record.last_s - w->record.end_s; /* the bank is as old as the last whole stretch */
    struct forecast_range *e = &f->eta_s[limit];
    double deadline_s = w->record.clock_began_s + w->setup.limit[limit].within_s;
    bool timed = w->setup.limit[limit].within_s > 0 && !isnan(deadline_s);
    f->reached[limit] = !isnan(w->reached_s[limit]);
    if (f->reached[limit]) {
        *e = (struct forecast_range){0, 0, 0};
        if (timed)
            f->miss_chance[limit] = w->reached_s[limit] > deadline_s;
        return;
    }
    *e = (struct forecast_range){fmax(e->p05 - late_s, 0), fmax(e->p50 - late_s, 0),
                                 fmax(e->p95 - late_s, 0)};
    if (timed && w->record.last_s >= deadline_s)
        f->miss_chance[limit] = 1;
}

/* Things left as they are, as the bank sees them; a change tried out leans by as much. */
static struct forecast
plain_forecast(const struct outlook_question *question, const struct forecast *f)
{
    struct forecast plain = *f;
    if (question->change != NULL) {
        struct outlook_question as_it_is = *question;
        as_it_is.change = NULL;
        outlook_times(&as_it_is, &plain);
    }
    return plain;
}

static void
scale_range(struct forecast_range *range, double factor)
{
    *range =
        (struct forecast_range){range->p05 * factor, range->p50 * factor, range->p95 * factor};
}

/* The whole range moves: the rule says when, the bank how sure. */
static void
lean_on_trend(const struct outlook_question *question, struct forecast *f)
{
    struct forecast plain = plain_forecast(question, f);
    for (int i = 0; i < question->limits; i++) {
        double factor = trend_factor(question->record, question->context,
                                     question->limit[i].temp_C, plain.eta_s[i].p50);
        scale_range(&f->eta_s[i], factor);
        if (i == 0) /* what is earned goes with the first; NAN stays that */
            scale_range(&f->earned_s, factor);
    }
}

/* Odds against odds: what the hunch makes of the chance as things are, it makes of a change. */
static double
leaned_chance(double chance, double plain, double leaned)
{
    double p = fmin(fmax(plain, 0.001), 0.999), q = fmin(fmax(chance, 0.001), 0.999);
    double odds = q / (1 - q) * (leaned / (1 - leaned)) / (p / (1 - p));
    return odds / (1 + odds);
}

static void
lean_on_hunch(const struct outlook_question *question, struct forecast *f)
{
    struct forecast plain = plain_forecast(question, f);
    for (int i = 0; i < question->limits; i++) {
        struct forecast_range eta_s = plain.eta_s[i];
        double chance = plain.miss_chance[i];
        if (!hunch_lean(question->record, question->context, &question->limit[i], &eta_s,
                        &chance))
            continue;
        if (question->change == NULL) {
            f->eta_s[i] = eta_s;
            f->miss_chance[i] = chance;
            continue;
        }
        if (isfinite(plain.eta_s[i].p50) && plain.eta_s[i].p50 > 0)
            scale_range(&f->eta_s[i], eta_s.p50 / plain.eta_s[i].p50);
        if (!isnan(chance))
            f->miss_chance[i] = leaned_chance(f->miss_chance[i], plain.miss_chance[i], chance);
    }
}

void
forecaster_expect(struct forecaster *forecaster, const struct forecast_earning *earning)
{
    struct watch *w = watch_of(forecaster);
    w->earns = earning != NULL;
    if (earning != NULL)
        w->earning = *earning;
}

void
forecaster_ask(const struct forecaster *forecaster, const struct forecast_change *change,
               struct forecast *ret_forecast)
{
    const struct watch *w = watch_in(forecaster);
    struct forecast f = {.time_s = w->record.last_s, .clock_began_s = w->record.clock_began_s};
    struct forecast_range none = {NAN, NAN, NAN};
    f.peak_C = f.earned_s = none;
    for (int i = 0; i < FORECAST_LIMITS; i++) {
        f.eta_s[i] = none;
        f.miss_chance[i] = NAN;
    }
    check(w, &f);
    if (f.refusal == FORECAST_GIVEN) {
        struct outlook_question q = {&w->bank,
                                     &w->context,
                                     &w->record,
                                     change,
                                     {{0, 0}},
                                     w->setup.limits,
                                     w->earns ? &w->earning : NULL};
        memcpy(q.limit, w->setup.limit, sizeof q.limit);
        outlook_times(&q, &f);
        if (w->setup.kind == FORECAST_COOK) {
            lean_on_trend(&q, &f);
            outlook_peak(&q, &f);
        } else {
            lean_on_hunch(&q, &f);
        }
        for (int i = 0; i < w->setup.limits; i++)
            settle(w, &f, i);
    }
    *ret_forecast = f;
}

bool
forecaster_learned(const struct forecaster *forecaster, struct forecast_prior *ret_prior)
{
    const struct watch *w = watch_in(forecaster);
    if (!w->begun)
        return false;
    double weight[BANK_MEMBERS];
    (void)bank_weights(&w->bank, weight);
    for (int k = 0; k < FORECAST_UNKNOWNS; k++) {
        double mean = 0, square = 0;
        for (int i = 0; i < BANK_MEMBERS; i++) {
            double u = w->bank.member[i].unknown[k];
            mean += weight[i] * u;
            square += weight[i] * u * u;
        }
        ret_prior->mean[k] = mean;
        ret_prior->spread[k] = sqrt(fmax(square - mean * mean, 0.0025));
    }
    return true;
}

void
forecast_reason(const struct forecast *forecast, char ret_text[FORECAST_REASON_BYTES])
{
    const char *text = "";
    switch (forecast->refusal) {
    case FORECAST_GIVEN:
        text = "a forecast is given";
        break;
    case FORECAST_NO_CORE:
        text = "no core reading yet: put the probe into the food";
        break;
    case FORECAST_TOO_EARLY:
        (void)snprintf(ret_text, FORECAST_REASON_BYTES,
                       "too early: another %.0f min of readings", ceil(forecast->wait_s / 60));
        return;
    case FORECAST_CORE_LOST:
        text = "the core probe has given nothing for 20 min: check its plug and its place";
        break;
    case FORECAST_READS_THE_AIR:
        text = "the probe reads hotter than food can be inside: it is not in the food";
        break;
    }
    (void)snprintf(ret_text, FORECAST_REASON_BYTES, "%s", text);
}
