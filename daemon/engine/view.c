/* What the engine knows now, copied out for the snapshot. Reads only. */
#include <string.h>

#include "daemon/engine/batches.h"
#include "daemon/engine/calibrate.h"
#include "daemon/engine/judge.h"
#include "daemon/engine/marks.h"
#include "daemon/engine/probes.h"
#include "trivet/calendar.h"

size_t
engine_view_probes(const struct engine *engine, struct engine_probe_view *ret, size_t max)
{
    size_t count = 0;
    const struct engine_state *state = &engine->state;
    for (size_t i = 0; i < state->counts.probes && count < max; i++) {
        const struct probe_state *probe = &state->probes[i];
        if (probe->number == 0)
            continue;
        ret[count++] = (struct engine_probe_view){
            .number = probe->number,
            .in_plan = probe->in_plan,
            .last = probe->last,
            .last_good = probe->last_good,
            .gap = probe->gap,
            .batch = probe->batch ? state->batches[probe->batch - 1].number : 0,
            .last_raw_mC = probe->last_raw_mC,
            .last_good_raw_mC = probe->last_good_raw_mC,
            .correction = probe->check.correction,
        };
    }
    return count;
}

static void
view_check(const struct check_state *check, struct engine_check_view *ret)
{
    ret->left_bad = check->left_bad;
    ret->checked_ms = check->checked_ms;
    ret->good_ms = check->good_ms;
    ret->deviation = check->deviation;
    ret->correction = check->correction;
}

bool
engine_view_check(const struct engine *engine, const struct entry *entry,
                  struct engine_check_view *ret)
{
    const struct plan *plan = engine_plan(engine);
    const struct check_state *check =
        plan && calibration_rules(plan, entry)
            ? calibration_state((struct engine *)(uintptr_t)engine, plan, entry)
            : NULL; /* only looked at */
    if (!check)
        return false;
    int probe = plan_probe_index(plan, entry->probe);
    *ret = (struct engine_check_view){.probe = (uint16_t)(probe < 0 ? 0 : probe),
                                      .is_handheld = probe < 0};
    if (probe < 0)
        ret->handheld = (uint16_t)(plan_handheld(plan, entry->thermometer) - plan->handhelds);
    view_check(check, ret);
    return true;
}

size_t
engine_view_checks(const struct engine *engine, struct engine_check_view *ret, size_t max)
{
    size_t count = 0;
    const struct engine_state *state = &engine->state;
    const struct plan *plan = engine_plan(engine);
    for (size_t i = 0; plan && i < plan->probe_count && count < max; i++) {
        uint16_t slot = engine->slot_of[plan->probes[i].number];
        if (slot == 0)
            continue;
        ret[count] = (struct engine_check_view){.probe = (uint16_t)i};
        view_check(&state->probes[slot - 1].check, &ret[count++]);
    }
    for (size_t i = 0; plan && i < plan->handheld_count && count < max; i++) {
        size_t k = 0;
        while (k < state->counts.held && strcmp(state->held[k].id, plan->handhelds[i].id) != 0)
            k++;
        if (k == state->counts.held)
            continue;
        ret[count] = (struct engine_check_view){.handheld = (uint16_t)i, .is_handheld = true};
        view_check(&state->held[k].check, &ret[count++]);
    }
    return count;
}

/* ---- batches ---- */

static void
view_heat(const struct plan_limit *limit, const struct run *run, struct engine_batch_view *ret)
{
    int64_t held = run_held_ms(run, NULL);
    ret->credited_ms = most_of(held, 0);
    if (limit->kind == LIMIT_COOK_TABLE)
        return;
    ret->top_shown = run->of.cook.side_seq[0] != 0;
    ret->bottom_shown = run->of.cook.side_seq[1] != 0;
    ret->deadline_ms = cook_deadline_ms(limit, run);
    if (run->of.cook.reached_ms != TIME_NONE)
        ret->stands_until_ms = run->of.cook.reached_ms + limit->stand_ms;
}

/* What is left of the one time outside (E140): none once it is over. */
static int64_t
view_period(const struct plan_limit *limit, const struct batch_state *batch,
            struct engine_batch_view *ret)
{
    const struct period_state *period =
        limit->kind == LIMIT_HOLD_HOT ? &batch->colder : &batch->warmer;
    if (limit->period_ms == 0)
        return limit->tolerance_ms;
    ret->period_over = period->over;
    return period->over ? 0 : limit->period_ms;
}

static void
view_hold(const struct plan_limit *limit, const struct batch_state *batch, int64_t now_ms,
          struct engine_batch_view *ret)
{
    const struct run *run = &batch->run;
    const struct hold_state *hold = &run->of.hold;
    int64_t allowed_ms = view_period(limit, batch, ret);
    ret->outside = hold->from_ms != TIME_NONE;
    ret->outside_ms = hold->counted_ms + (ret->outside ? now_ms - hold->from_ms : 0);
    if (ret->outside && run->deviation == 0)
        ret->deadline_ms = hold->from_ms + allowed_ms - hold->counted_ms;
}

static void
view_cool(const struct plan_limit *limit, const struct run *run, struct engine_batch_view *ret)
{
    const struct cool_state *cool = &run->of.cool;
    ret->clock_start_ms = cool->clock_ms;
    size_t stage = 0;
    while (stage < limit->stage_count && cool->stage[stage] == STAGE_MET)
        stage++;
    ret->stage = (uint8_t)(stage + 1);
    int64_t from_ms =
        stage < limit->stage_count ? cool_stage_from_ms(limit, run, stage) : TIME_NONE;
    if (from_ms != TIME_NONE)
        ret->deadline_ms = from_ms + limit->stages[stage].within_ms;
}

static void
view_zone(const struct run *run, int64_t now_ms, struct engine_batch_view *ret)
{
    const struct zone_state *zone = &run->of.zone;
    int64_t since_ms = now_ms - zone->at_ms;
    ret->in_zone = zone->last == SIDE_IN;
    ret->zone_ms = zone->in_ms + (ret->in_zone ? since_ms : 0);
    ret->zone_unknown_ms = zone->unknown_ms;
    if (!ret->in_zone && since_ms > zone_spacing_ms(run)) /* E159: nobody has seen it since */
        ret->zone_unknown_ms += since_ms;
}

static struct engine_mark_view
view_mark(const struct engine *engine, const struct mark_state *mark)
{
    struct engine_mark_view ret = {.days = mark->days,
                                   .used = mark->used,
                                   .frozen = mark->frozen,
                                   .passed = mark->passed,
                                   .deviation = mark->deviation};
    int32_t last = mark_last_day(engine, mark);
    if (last != 0)
        (void)calendar_write(last, ret.day);
    return ret;
}

static void
view_oven(const struct engine *engine, const struct batch_state *batch,
          struct engine_batch_view *ret)
{
    const struct run *run = &batch->oven;
    const struct oven_state *oven = &run->of.oven;
    const struct plan_limit *limit =
        plan_oven_limit(&batch_step(engine, batch)->limit, batch->mass_g);
    if (!limit)
        return;
    int64_t now_ms = engine->state.now_ms;
    ret->oven = limit;
    ret->oven_watched = oven->watched;
    ret->oven_over = oven->over_ms != TIME_NONE;
    ret->oven_verdict = (enum engine_verdict)run->verdict;
    ret->oven_deviation = run->deviation;
    if (oven->watched && watch_fresh(&run->watch[0], now_ms))
        ret->oven_mC = run->watch[0].good_mC;
    if (oven->out_ms != TIME_NONE)
        ret->oven_outside_ms = now_ms - oven->out_ms;
    if (run->deviation != 0)
        ret->deviation = run->deviation;
    if (run->verdict == VERDICT_NOT_MET ||
        (run->verdict == VERDICT_INCONCLUSIVE && ret->verdict != VERDICT_NOT_MET))
        ret->verdict = (enum engine_verdict)run->verdict;
}

/* What is judged beside the step's own limit; the worst of the verdicts is the batch's. */
static void
view_beside(const struct engine *engine, const struct batch_state *batch,
            struct engine_batch_view *ret)
{
    const struct plan_limit *rise = batch_step(engine, batch)->limit.rise;
    enum engine_verdict rose = rise ? (enum engine_verdict)batch->rise.verdict : VERDICT_OPEN;
    if (rise && batch->rise.deviation != 0)
        ret->deviation = batch->rise.deviation;
    if (rose == VERDICT_NOT_MET ||
        (rose == VERDICT_INCONCLUSIVE && ret->verdict != VERDICT_NOT_MET))
        ret->verdict = rose;
    view_oven(engine, batch, ret);
    ret->mark = view_mark(engine, &batch->mark);
    if (batch_product(engine, batch)->life.kind == LIMIT_NONE)
        return;
    view_zone(&batch->life, engine->state.now_ms, ret);
    ret->life_verdict = (enum engine_verdict)batch->life.verdict;
    ret->life_deviation = batch->life.deviation;
}

static void
view_run(const struct engine *engine, const struct batch_state *batch,
         struct engine_batch_view *ret)
{
    const struct plan_limit *limit = &batch_step(engine, batch)->limit;
    const struct run *run = &batch->run;
    int64_t now_ms = engine->state.now_ms;
    bool warmest = limit->kind == LIMIT_COOL || limit->kind == LIMIT_HOLD_COLD ||
                   (limit->kind == LIMIT_TIME && !limit->left_hot);
    const struct watch *governing = run_governing(run, now_ms, warmest);
    if (governing) {
        ret->governing_probe = governing->probe;
        ret->governing_mC = governing->good_mC;
    }
    ret->verdict = (enum engine_verdict)run->verdict;
    ret->deviation = run->deviation;
    switch (limit->kind) {
    case LIMIT_COOK:
    case LIMIT_REHEAT:
    case LIMIT_COOK_TABLE:
        view_heat(limit, run, ret);
        break;
    case LIMIT_HOLD_HOT:
    case LIMIT_HOLD_COLD:
        view_hold(limit, batch, now_ms, ret);
        break;
    case LIMIT_COOL:
        view_cool(limit, run, ret);
        break;
    case LIMIT_LETHALITY:
        ret->credited_ms = lethality_earned_ms(run);
        break;
    case LIMIT_SUM:
        ret->credited_ms = sum_earned_ms(limit, run);
        break;
    case LIMIT_ZONE:
    case LIMIT_RISE:
        view_zone(run, now_ms, ret);
        break;
    case LIMIT_TIME:
        ret->deadline_ms = run->of.time.from_ms + limit->within_ms;
        break;
    case LIMIT_OVEN: /* beside a step, never its own */
    case LIMIT_MOIST_OVEN:
    case LIMIT_DAYS:
    case LIMIT_NONE:
        break;
    }
}

static void
view_batch(const struct engine *engine, const struct batch_state *batch,
           struct engine_batch_view *ret)
{
    *ret = (struct engine_batch_view){
        .number = batch->number,
        .plan = engine->plans[batch->plan],
        .plan_seq = engine->state.plans[batch->plan].seq,
        .product = batch_product(engine, batch),
        .step = batch->step,
        .auto_seq = batch->auto_seq,
        .begun_ms = batch->begun_ms,
        .heard_ms = batch->heard_ms >= batch->run.begun_ms ? batch->heard_ms : TIME_NONE,
        .step_begun_ms = batch->run.begun_ms,
        .mass_g = batch->mass_g,
        .thickness_mm = batch->thickness_mm,
        .probe_count = batch->run.watch_count,
        .governing_mC = TEMP_NONE,
        .oven_mC = TEMP_NONE,
        .bar = (enum disposition)batch->bar.disposition,
        .clock_start_ms = TIME_NONE,
        .deadline_ms = TIME_NONE,
        .stands_until_ms = TIME_NONE,
    };
    memcpy(ret->who, batch->who, sizeof ret->who);
    memcpy(ret->heard_by, batch->heard_by, sizeof ret->heard_by);
    memcpy(ret->place, batch->place, sizeof ret->place);
    for (size_t i = 0; i < batch->run.watch_count; i++)
        ret->probes[i] = batch->run.watch[i].probe;
    view_run(engine, batch, ret);
    view_beside(engine, batch, ret);
    for (size_t i = 0; i < engine->state.counts.undecided && !ret->inconclusive; i++) {
        const struct decision *said = &engine->state.undecided[i].said;
        if (said->batch != batch->number)
            continue;
        ret->inconclusive = true;
        ret->inconclusive_reason = said->reason;
    }
}

size_t
engine_view_batches(const struct engine *engine, struct engine_batch_view *ret, size_t max)
{
    /* In order of their numbers, whatever slots they have. */
    size_t count = 0;
    uint32_t after = 0;
    while (count < max) {
        const struct batch_state *next = NULL;
        for (size_t i = 0; i < engine->state.counts.batches; i++) {
            const struct batch_state *batch = &engine->state.batches[i];
            if (batch->number > after && (!next || batch->number < next->number))
                next = batch;
        }
        if (!next)
            break;
        after = next->number;
        view_batch(engine, next, &ret[count++]);
    }
    return count;
}

size_t
engine_view_switches(const struct engine *engine, struct engine_switch_view *ret, size_t max)
{
    size_t count = 0;
    for (; count < engine->state.counts.switches && count < max; count++) {
        const struct switch_known *known = &engine->state.switches[count];
        ret[count] = (struct engine_switch_view){
            .index = (uint16_t)count,
            .state = (enum switch_state)known->state,
            .since_ms = known->since_ms,
            .mark_ms = known->mark_ms,
            .told = known->told,
        };
    }
    return count;
}

size_t
engine_view_places(const struct engine *engine, struct engine_place_view *ret, size_t max)
{
    size_t count = 0;
    for (size_t i = 0; i < engine->state.counts.places && count < max; i++) {
        const struct run *run = &engine->state.places[i].run;
        const struct plan_limit *limit =
            &engine->plans[engine->state.in_force]->places[i].limit;
        struct engine_place_view *view = &ret[count++];
        *view = (struct engine_place_view){
            .place = (uint16_t)i,
            .temp_mC = run->watch_count ? run->watch[0].good_mC : TEMP_NONE,
            .outside_since_ms = TIME_NONE,
        };
        if (limit->kind != LIMIT_HOLD_HOT && limit->kind != LIMIT_HOLD_COLD)
            continue;
        const struct hold_state *hold = &run->of.hold;
        view->outside = hold->from_ms != TIME_NONE;
        view->outside_since_ms = hold->first_ms;
        view->outside_ms = hold->counted_ms + hold->unknown_ms +
                           (view->outside ? engine->state.now_ms - hold->from_ms : 0);
        view->deviation = run->deviation;
    }
    return count;
}

size_t
engine_view_deviations(const struct engine *engine, struct engine_deviation_view *ret,
                       size_t max)
{
    size_t count = 0;
    for (; count < engine->state.counts.deviations && count < max; count++) {
        const struct deviation_state *d = &engine->state.deviations[count];
        ret[count] = (struct engine_deviation_view){
            .number = d->number,
            .opened = d->opened,
            .ended_ms = d->ended_ms,
            .action_ms = d->action_ms,
            .alarm = d->alarm,
            .food_more = d->food_more,
            .food_count = d->food_count,
            .action_seq = d->action_seq,
            .verified_seq = d->verified_seq,
        };
        memcpy(ret[count].action_by, d->action_by, sizeof d->action_by);
        memcpy(ret[count].product, d->product, sizeof d->product);
        memcpy(ret[count].food, d->food, sizeof d->food);
    }
    return count;
}

int64_t
engine_first_ms(const struct engine *engine)
{
    return engine->state.first_ms;
}

bool
engine_reviewed(const struct engine *engine, const char *day)
{
    for (size_t i = 0; i < engine->state.counts.reviews; i++)
        if (strcmp(engine->state.reviews[i].day, day) == 0)
            return true;
    return false;
}

size_t
engine_view_stored(const struct engine *engine, struct engine_stored_view *ret, size_t max)
{
    size_t count = 0;
    for (; count < engine->state.counts.stored && count < max; count++) {
        const struct stored_state *stored = &engine->state.stored[count];
        ret[count] =
            (struct engine_stored_view){.number = stored->number,
                                        .stored_ms = stored->stored_ms,
                                        .mark = view_mark(engine, &stored->mark),
                                        .bar = (enum disposition)stored->bar.disposition};
        memcpy(ret[count].place, stored->place, sizeof stored->place);
        memcpy(ret[count].product, stored->product, sizeof stored->product);
    }
    return count;
}

/* E181 */
static void
view_amend(const struct engine *engine, const struct batch_state *batch,
           struct engine_undecided_view *ret)
{
    *ret = (struct engine_undecided_view){.said = {
                                              .kind = DECISION_CORRECTION_WAITS,
                                              .reason = REASON_ENTERED,
                                              .batch = batch->number,
                                              .at_ms = engine->state.now_ms,
                                              .since_ms = batch->amend.given_ms,
                                              .temp_mC = TEMP_NONE,
                                              .worst_mC = TEMP_NONE,
                                          }};
    keep_word(ret->said.step, sizeof ret->said.step, batch_step(engine, batch)->id);
    memcpy(ret->who, batch->amend.who, sizeof ret->who);
}

/* E175: of a batch, or of a probe on none. */
static void
view_asked(const struct engine *engine, const struct batch_state *batch,
           const struct probe_state *probe, struct engine_undecided_view *ret)
{
    *ret = (struct engine_undecided_view){.said = {
                                              .kind = DECISION_ASKED,
                                              .reason = REASON_AMBIGUOUS,
                                              .at_ms = engine->state.now_ms,
                                              .temp_mC = TEMP_NONE,
                                              .worst_mC = TEMP_NONE,
                                          }};
    if (batch) {
        ret->said.batch = batch->number;
        ret->said.since_ms = batch->run.fall.above_ms;
        keep_word(ret->said.step, sizeof ret->said.step, batch_step(engine, batch)->id);
    } else {
        ret->said.probe = probe->number;
        ret->said.since_ms = probe->hot_above_ms;
    }
}

size_t
engine_view_undecided(const struct engine *engine, struct engine_undecided_view *ret,
                      size_t max)
{
    size_t count = 0;
    const struct engine_state *state = &engine->state;
    for (; count < state->counts.undecided && count < max; count++)
        ret[count].said = state->undecided[count].said;
    for (size_t i = 0; i < state->counts.batches && count < max; i++)
        if (state->batches[i].number != 0 && state->batches[i].amend.seq != 0)
            view_amend(engine, &state->batches[i], &ret[count++]);
    for (size_t i = 0; i < state->counts.batches && count < max; i++)
        if (state->batches[i].number != 0 && state->batches[i].run.fall.asked)
            view_asked(engine, &state->batches[i], NULL, &ret[count++]);
    for (size_t i = 0; i < state->counts.probes && count < max; i++)
        if (state->probes[i].number != 0 && state->probes[i].asked)
            view_asked(engine, NULL, &state->probes[i], &ret[count++]);
    return count;
}

const struct plan *
engine_plan(const struct engine *engine)
{
    return engine->state.in_force >= 0 ? engine->plans[engine->state.in_force] : NULL;
}
