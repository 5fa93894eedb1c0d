/* What a watched batch's forecaster says, in instants and whole numbers. */
#include <math.h>
#include <stdio.h>

#include "daemon/advice/watched.h"

#define WARN_ABOVE_PERMILLE 500
#define WARN_UNTIL_PERMILLE 250
/* Shorter than any range of a forecast: not worth a word. */
#define LIMIT_DECIDES_S 60

static const struct forecast_range NOTHING = {NAN, NAN, NAN};

int64_t
watched_instant(const struct watched *watched, double time_s)
{
    /* A forecast of more than a year is none. */
    if (!(time_s < 3e7))
        return TIME_NEVER;
    return watched->origin_ms + (int64_t)llround(time_s * 1000);
}

double
watched_degrees_C(struct limit_temp temp)
{
    double degrees = temp.milli / 1000.0;
    return temp.unit == TEMP_F ? (degrees - 32) / 1.8 : degrees;
}

int16_t
watched_permille(double chance)
{
    return isnan(chance) ? -1 : (int16_t)lround(chance * 1000);
}

static int32_t
in_mC(double temp_C)
{
    return isnan(temp_C) ? TEMP_NONE : (int32_t)lround(temp_C * 1000);
}

static struct advice_when
when_of(const struct watched *watched, double now_s, const struct forecast_range *eta_s)
{
    return (struct advice_when){watched_instant(watched, now_s + eta_s->p05),
                                watched_instant(watched, now_s + eta_s->p50),
                                watched_instant(watched, now_s + eta_s->p95)};
}

/* The deadline is the engine's where it has begun, for that is what will be judged. */
static int64_t
deadline_of(const struct engine_batch_view *view, const struct plan_limit *limit, uint8_t stage)
{
    const struct plan_stage *of = &limit->stages[stage - 1];
    if (view->clock_start_ms == TIME_NONE)
        return TIME_NONE;
    if (of->counts_from == STAGE_FROM_STAGE_BEFORE)
        return stage == view->stage ? view->deadline_ms : TIME_NONE;
    return view->clock_start_ms + of->within_ms;
}

static void
say_cooling(struct watched *watched, const struct engine_batch_view *view,
            const struct forecast *f)
{
    const struct plan_limit *limit = &view->product->steps[view->step].limit;
    struct advice *advice = &watched->advice;
    for (uint8_t stage = watched->first_stage;
         stage <= limit->stage_count && advice->reach_count < ADVICE_REACHES_MAX; stage++) {
        uint8_t i = advice->reach_count++;
        /* Whether a stage is over is the engine's to say. */
        advice->reach[i] = (struct advice_reach){
            .to = limit->stages[stage - 1].to,
            .stage = stage,
            .reached = view->stage > stage,
            .when = when_of(watched, f->time_s, &f->eta_s[i]),
            .deadline_ms = deadline_of(view, limit, stage),
            .miss_permille = watched_permille(f->miss_chance[i]),
        };
    }
}

/* When the core passes a temperature between now and what is forecast: straight lines between
 * the moments that are known. */
static double
passes_s(double temp_C, double now_C, const double known_C[], const double known_s[], int known)
{
    double before_C = now_C, before_s = 0;
    for (int i = 0; i < known; i++) {
        if (temp_C <= known_C[i]) {
            double part =
                known_C[i] > before_C ? (temp_C - before_C) / (known_C[i] - before_C) : 1;
            return before_s + fmax(part, 0) * (known_s[i] - before_s);
        }
        before_C = known_C[i];
        before_s = known_s[i];
    }
    return INFINITY;
}

/* The moment from which resting carries the core to where the kitchen wants it. What it would
 * gain is taken to be what it would gain now, which is right when the moment comes. */
static double
aimed_s(const struct watched *watched, double limit_C, double aim_C, double limit_s,
        double aim_s, double gain_K)
{
    if (aim_C < limit_C)
        return 0;
    const double known_C[] = {limit_C, aim_C}, known_s[] = {limit_s, aim_s};
    return passes_s(aim_C - gain_K, watched->core_C, known_C, known_s, 2);
}

/* When the limit will have been earned. A temperature to be held for a time is simple; of
 * tables and equivalent times the forecaster tells. NAN: there is no such thing, or it is over.
 */
static struct forecast_range
earned_s(const struct watched *watched, const struct plan_limit *limit,
         const struct engine_batch_view *view, const struct forecast *f)
{
    if (view->verdict == VERDICT_MET)
        return NOTHING;
    if (watched->earns)
        return f->earned_s;
    if (limit->hold_ms == 0)
        return NOTHING;
    const double held_s = (double)(limit->hold_ms - view->credited_ms) / 1000;
    const struct forecast_range *to = &f->eta_s[0];
    return (struct forecast_range){to->p05 + held_s, to->p50 + held_s, to->p95 + held_s};
}

static void
say_take_out(struct watched *watched, const struct plan_step *step,
             const struct engine_batch_view *view, const struct forecast *f)
{
    struct advice *advice = &watched->advice;
    if (step->aim.milli == 0 || isnan(f->peak_C.p50) || isnan(watched->core_C))
        return;
    const double limit_C = watched_target_C(step), aim_C = watched_degrees_C(step->aim);
    const bool lethal = step->limit.kind == LIMIT_LETHALITY;
    const double gain_K = fmax(f->peak_C.p50 - watched->core_C, 0);
    struct forecast_range met_s = earned_s(watched, &step->limit, view, f);
    if (isnan(met_s.p50)) /* met, or with the temperature itself */
        met_s = view->verdict == VERDICT_MET ? (struct forecast_range){0, 0, 0} : f->eta_s[0];
    const struct forecast_range *limit_s = &f->eta_s[0], *aim_s = &f->eta_s[lethal ? 0 : 1];
    const struct forecast_range aimed = {
        aimed_s(watched, limit_C, aim_C, limit_s->p05, aim_s->p05, gain_K),
        aimed_s(watched, limit_C, aim_C, limit_s->p50, aim_s->p50, gain_K),
        aimed_s(watched, limit_C, aim_C, limit_s->p95, aim_s->p95, gain_K),
    };
    /* Never before the limit is met: carrying over is hoped for, a limit is shown. */
    const struct forecast_range out_s = {
        fmax(fmax(met_s.p05, 0), aimed.p05),
        fmax(fmax(met_s.p50, 0), aimed.p50),
        fmax(fmax(met_s.p95, 0), aimed.p95),
    };
    advice->has_take_out = true;
    advice->limit_decides = out_s.p50 - aimed.p50 > LIMIT_DECIDES_S;
    advice->take_out = when_of(watched, f->time_s, &out_s);
}

static void
say_heating(struct watched *watched, const struct engine_batch_view *view,
            const struct forecast *f)
{
    struct advice *advice = &watched->advice;
    advice->peak_p05_mC = in_mC(f->peak_C.p05);
    advice->peak_p50_mC = in_mC(f->peak_C.p50);
    advice->peak_p95_mC = in_mC(f->peak_C.p95);
    advice->taken_out = watched->taken_out;
    const struct plan_step *step =
        &view->product
             ->steps[watched->taken_out_ms == TIME_NEVER ? view->step : view->step - 1];
    advice->aim = step->aim;
    if (watched->taken_out)
        return;
    bool timed = view->deadline_ms != TIME_NONE;
    bool aims = step->limit.kind == LIMIT_LETHALITY && step->aim.milli != 0;
    advice->reach[advice->reach_count++] = (struct advice_reach){
        .to = aims ? step->aim : step->limit.temp,
        .reached = f->reached[0],
        .when = when_of(watched, f->time_s, &f->eta_s[0]),
        .deadline_ms = timed ? view->deadline_ms : TIME_NONE,
        .miss_permille = -1,
    };
    struct forecast_range to_earn_s = earned_s(watched, &step->limit, view, f);
    advice->has_earned = !isnan(to_earn_s.p50);
    advice->by_earning = advice->has_earned && watched->earns;
    if (advice->has_earned)
        advice->earned = when_of(watched, f->time_s, &to_earn_s);
    say_take_out(watched, step, view, f);
}

static void
say_warning(struct watched *watched, bool was_warned)
{
    struct advice *advice = &watched->advice;
    int16_t worst = 0;
    for (uint8_t i = 0; i < advice->reach_count; i++)
        if (!advice->reach[i].reached && advice->reach[i].miss_permille > worst) {
            worst = advice->reach[i].miss_permille;
            advice->at_stake = i;
        }
    advice->warned = worst > (was_warned ? WARN_UNTIL_PERMILLE : WARN_ABOVE_PERMILLE);
}

/* The first minutes' readings say little; what earlier batches took says more. */
static void
lean_on_lessons(struct watched *watched, struct forecast *f)
{
    struct planned planned;
    const char *missing;
    watched->lean = 1;
    if (watched->taker != NULL && !watched->taken_out &&
        planner_follow(watched->planner, watched->taker, &planned, &missing))
        watched->lean = forecast_lean_on_plan(f, &planned, 0);
}

void
watched_ask(struct watched *watched, const struct snapshot *snapshot,
            const struct engine_batch_view *view)
{
    struct forecast f = {.eta_s = {NOTHING, NOTHING}, .earned_s = NOTHING};
    struct advice *advice = &watched->advice;
    bool was_warned = advice->warned;
    forecaster_expect(watched->forecaster,
                      watched_earning(watched, view) ? &watched->earning : NULL);
    forecaster_ask(watched->forecaster, NULL, &f);
    lean_on_lessons(watched, &f);
    *advice = (struct advice){
        .batch = watched->batch,
        .step_begun_ms = watched->step_begun_ms,
        .at_ms = watched->fed_to_ms,
        .lessons = (uint8_t)watched->lessons,
        .peak_p05_mC = TEMP_NONE,
        .peak_p50_mC = TEMP_NONE,
        .peak_p95_mC = TEMP_NONE,
    };
    watched->asked_ms = snapshot->at_ms;
    if (f.refusal != FORECAST_GIVEN) {
        forecast_reason(&f, advice->refusal);
        advice->warned = was_warned; /* nothing new is known */
        return;
    }
    if (watched->kind == FORECAST_COOLING)
        say_cooling(watched, view, &f);
    else
        say_heating(watched, view, &f);
    say_warning(watched, was_warned);
    watched_options(watched, snapshot, view, &f);
}
