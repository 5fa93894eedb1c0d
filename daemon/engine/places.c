/* Places and the plan in force: what watches what. Pure. */
#include "daemon/engine/places.h"
#include "daemon/engine/calibrate.h"

#include <assert.h>
#include <string.h>

#include "daemon/engine/batches.h"
#include "daemon/engine/beside.h"
#include "daemon/engine/by_itself.h"
#include "daemon/engine/due.h"
#include "daemon/engine/probes.h"
#include "daemon/engine/switches.h"
#include "daemon/engine/terminals.h"
#include "trivet/engine_quiet.h"

#define MINUTE_MS INT64_C(60000)

static void
judging_place_of(struct judging *j, struct engine *engine, struct engine_output *out,
                 int64_t at_ms, const struct plan *plan, struct place_state *place,
                 size_t index)
{
    *j = (struct judging){
        .engine = engine,
        .out = out,
        .at_ms = at_ms,
        .limit = &plan->places[index].limit,
        .tolerances = &plan->tolerances,
        .run = &place->run,
        .place = place->id,
        .step = "",
    };
}

void
judging_place(struct judging *j, struct engine *engine, struct engine_output *out,
              int64_t at_ms, size_t place)
{
    judging_place_of(j, engine, out, at_ms, engine->plans[engine->state.in_force],
                     &engine->state.places[place], place);
}

void
place_due_again(struct judging *j, size_t place)
{
    int64_t quiet_until_ms = j->engine->state.places[place].quiet_until_ms;
    due_set(j->engine, DUE_PLACE + place,
            quiet_until_ms != TIME_NONE ? quiet_until_ms
                                        : judge_of(j->limit->kind)->next_due(j));
}

bool
place_is_quiet(const struct engine *engine, size_t place)
{
    return engine->state.places[place].quiet_until_ms != TIME_NONE;
}

static void
note_warm(struct place_state *place, int64_t at_ms, int32_t temp_mC)
{
    int64_t minute = at_ms / MINUTE_MS;
    struct warm_minute *warm = &place->warm[(uint64_t)minute % WARM_MINUTES];
    if (warm->at_ms != TIME_NONE && warm->minute == minute && warm->temp_mC > temp_mC)
        return;
    warm->minute = minute;
    warm->at_ms = at_ms;
    warm->temp_mC = temp_mC;
}

void
place_reading(struct engine *engine, struct engine_output *out, const struct reading *reading,
              size_t place)
{
    struct judging j;
    judging_place(&j, engine, out, reading->at_ms, place);
    struct watch *watch = &j.run->watch[0];
    const struct judge *judge = judge_of(j.limit->kind);
    bool quiet = place_is_quiet(engine, place);
    if (reading_is_good(reading->quality)) {
        watch->good_ms = reading->at_ms;
        watch->good_mC = reading->temp_mC;
        note_warm(&engine->state.places[place], reading->at_ms, reading->temp_mC);
        if (!quiet)
            judge->good(&j, watch, reading->temp_mC);
    } else if (!quiet) {
        judge->suspect(&j, watch, reading->temp_mC);
    }
    place_due_again(&j, place);
    beside_place_reading(engine, out, reading, engine->state.places[place].id);
}

/* ---- quiet hours ---- */

static void
say_quiet(struct judging *j, enum decision_kind kind, enum decision_reason reason,
          const struct place_state *place)
{
    struct decision *said = judge_say(j, kind, reason);
    said->since_ms = place->quiet_from_ms;
    said->required_ms = place->quiet_until_ms - place->quiet_from_ms;
    if (kind == DECISION_QUIET_ENDED)
        said->found_ms = j->at_ms - place->quiet_from_ms;
}

static void
quiet_begins(struct judging *j, size_t index, const struct entry *entry)
{
    struct place_state *place = &j->engine->state.places[index];
    int64_t until_ms = j->at_ms + entry->for_ms;
    if (place->quiet_until_ms == TIME_NONE) {
        judge_of(j->limit->kind)->leave(j, LEAVING_ON); /* what comes after it begins anew */
        place->quiet_from_ms = j->at_ms;
    } else if (until_ms <= place->quiet_until_ms) {
        return; /* the schedule asks for nothing that has not been said */
    }
    place->quiet_until_ms = until_ms;
    place->quiet_why = (uint32_t)entry->why;
    say_quiet(j, DECISION_QUIET_BEGUN, entry->who[0] ? REASON_ENTERED : REASON_SCHEDULED,
              place);
}

static void
quiet_ends(struct judging *j, size_t index, enum decision_reason reason)
{
    struct place_state *place = &j->engine->state.places[index];
    say_quiet(j, DECISION_QUIET_ENDED, reason, place);
    place->quiet_from_ms = place->quiet_until_ms = TIME_NONE;
    place->quiet_why = QUIET_NONE;
    switches_heed(j->engine, place->id);
}

struct engine_quiet
engine_quiet(const struct engine *engine, uint16_t place)
{
    assert(place < engine->state.counts.places);
    const struct place_state *state = &engine->state.places[place];
    return (struct engine_quiet){.why = (enum quiet_why)state->quiet_why,
                                 .from_ms = state->quiet_from_ms,
                                 .until_ms = state->quiet_until_ms};
}

void
place_quiet(struct engine *engine, struct engine_output *out, int64_t at_ms,
            const struct entry *entry)
{
    const struct plan *plan = engine_plan(engine);
    int index = plan ? plan_place_index(plan, entry->place) : -1;
    if (index < 0 || plan->places[index].limit.kind == LIMIT_NONE)
        return;
    struct judging j;
    judging_place(&j, engine, out, at_ms, (size_t)index);
    if (!entry->end)
        quiet_begins(&j, (size_t)index, entry);
    else if (place_is_quiet(engine, (size_t)index))
        quiet_ends(&j, (size_t)index, REASON_ENTERED);
    place_due_again(&j, (size_t)index);
}

void
place_due(struct engine *engine, struct engine_output *out, int64_t at_ms, size_t place)
{
    struct judging j;
    judging_place(&j, engine, out, at_ms, place);
    if (place_is_quiet(engine, place))
        quiet_ends(&j, place, REASON_TIME_UP); /* E111 */
    else
        judge_of(j.limit->kind)->due(&j);
    place_due_again(&j, place);
}

/* ---- a plan comes into force ---- */

static bool
same_limit(const struct plan_limit *a, const struct plan_limit *b)
{
    return a->kind == b->kind && a->subject == b->subject && a->strict == b->strict &&
           a->temp.milli == b->temp.milli && a->temp.unit == b->temp.unit &&
           a->tolerance_ms == b->tolerance_ms && a->back_ms == b->back_ms;
}

static uint16_t
place_probe(const struct plan *plan, const struct plan_place *place)
{
    return place->probe >= 0 ? plan->probes[place->probe].number : 0;
}

static void
new_place(struct engine *engine, const struct plan *plan, size_t index, int64_t at_ms,
          const struct run *carried)
{
    const struct plan_place *from = &plan->places[index];
    struct place_state *place = &engine->state.places[index];
    memset(place, 0, sizeof *place);
    keep_word(place->id, sizeof place->id, from->id);
    place->probe = place_probe(plan, from);
    place->next_place = -1;
    for (size_t i = 0; i < WARM_MINUTES; i++)
        place->warm[i].at_ms = TIME_NONE;
    place->quiet_from_ms = place->quiet_until_ms = TIME_NONE;
    if (carried) {
        memcpy(&place->run, carried, sizeof place->run);
    } else {
        struct judging j;
        run_begin(&place->run, 1, at_ms);
        place->run.watch_count = place->probe != 0;
        place->run.watch[0].probe = place->probe;
        place->run.watch[0].good_mC = TEMP_NONE;
        place->run.watch[0].good_ms = TIME_NONE;
        watch_broken(&place->run.watch[0]);
        judging_place_of(&j, engine, NULL, at_ms, plan, place, index);
        judge_of(from->limit.kind)->begin(&j);
    }
    if (place->probe != 0)
        place->run.watch[0].spacing_ms =
            (int64_t)plan->tolerances.spacing_polls * plan->probes[from->probe].every_ms;
}

/* E112: quiet goes on where there still is a limit to suspend. */
static void
quiet_follows(struct engine *engine, struct engine_output *out, int64_t at_ms,
              const struct plan *was, struct place_state *old, size_t old_index)
{
    const struct plan *plan = engine->plans[engine->state.in_force];
    int index = plan_place_index(plan, old->id);
    if (old->quiet_until_ms == TIME_NONE)
        return;
    if (index >= 0 && plan->places[index].limit.kind != LIMIT_NONE) {
        struct place_state *place = &engine->state.places[index];
        place->quiet_from_ms = old->quiet_from_ms;
        place->quiet_until_ms = old->quiet_until_ms;
        place->quiet_why = old->quiet_why;
        return;
    }
    struct judging j;
    judging_place_of(&j, engine, out, at_ms, was, old, old_index);
    say_quiet(&j, DECISION_QUIET_ENDED, REASON_ENTERED, old);
}

/* How warm it was is a fact, whatever limit it has now. */
static void
warm_follows(struct engine *engine, const struct plan *plan, const struct place_state *old)
{
    int index = plan_place_index(plan, old->id);
    if (index >= 0 && engine->state.places[index].probe == old->probe)
        memcpy(engine->state.places[index].warm, old->warm, sizeof old->warm);
}

/* E81: a place with the same id, limit and probe goes on; of any other the excursion ends. */
static void
places_follow(struct engine *engine, struct engine_output *out, int64_t at_ms,
              const struct plan *was, const struct plan *plan)
{
    struct engine_state *state = &engine->state;
    struct place_state old[PLAN_PLACES_MAX];
    size_t old_count = was ? state->counts.places : 0;
    memcpy(old, state->places, sizeof old);
    const struct run *carried[PLAN_PLACES_MAX] = {0};
    for (size_t i = 0; i < old_count; i++) {
        int index = plan_place_index(plan, old[i].id);
        if (index >= 0 && place_probe(plan, &plan->places[index]) == old[i].probe &&
            same_limit(&plan->places[index].limit, &was->places[i].limit)) {
            carried[index] = &old[i].run;
            continue;
        }
        struct judging j;
        judging_place_of(&j, engine, out, at_ms, was, &old[i], i);
        judge_of(j.limit->kind)->leave(&j, LEAVING_ON);
    }
    state->counts.places = (uint32_t)plan->place_count;
    for (size_t i = 0; i < plan->place_count; i++)
        new_place(engine, plan, i, at_ms, carried[i]);
    for (size_t i = 0; i < old_count; i++) {
        warm_follows(engine, plan, &old[i]);
        quiet_follows(engine, out, at_ms, was, &old[i], i);
    }
}

static void
probes_follow(struct engine *engine, struct engine_output *out, int64_t at_ms,
              const struct plan *plan)
{
    struct engine_state *state = &engine->state;
    bool mattered[PROBE_SLOTS_MAX] = {0}, was_in_plan[PROBE_SLOTS_MAX] = {0};
    for (size_t i = 0; i < state->counts.probes; i++) {
        struct probe_state *probe = &state->probes[i];
        mattered[i] = probe->number != 0 && probe_matters(probe);
        was_in_plan[i] = probe->in_plan;
        probe->in_plan = false;
        probe->first_place = -1;
    }
    for (size_t i = 0; i < plan->probe_count; i++) {
        if (plan->probes[i].number == 0)
            continue;
        struct probe_state *probe = probe_take(engine, plan->probes[i].number);
        probe->in_plan = true;
        probe->kind = (uint8_t)plan->probes[i].kind;
    }
    terminals_follow(engine, plan);
    for (size_t i = plan->place_count; i-- > 0;) {
        struct place_state *place = &state->places[i];
        if (place->probe == 0)
            continue;
        struct probe_state *probe = probe_find(engine, place->probe);
        place->next_place = probe->first_place;
        probe->first_place = (int16_t)i;
    }
    by_itself_follows(engine, out, at_ms, plan);
    for (size_t i = 0; i < state->counts.probes; i++) {
        struct probe_state *probe = &state->probes[i];
        if (!probe->gap && probe_matters(probe) && (!mattered[i] || !was_in_plan[i]))
            probe->silent_from_ms = at_ms;
        probe_due_again(engine, probe);
    }
    probes_sweep(engine);
}

void
plan_takes_force(struct engine *engine, struct engine_output *out, int64_t at_ms, uint64_t seq,
                 const struct plan *plan)
{
    struct engine_state *state = &engine->state;
    const struct plan *was = NULL;
    if (state->in_force >= 0) {
        size_t before = (size_t)state->in_force;
        was = engine->plans[before];
        if (!plan_is_pinned(engine, before)) {
            state->plans[before].seq = 0;
            engine->plans[before] = NULL;
        }
    }
    size_t slot = 0;
    while (slot < ENGINE_PLANS_MAX && state->plans[slot].seq != 0)
        slot++;
    assert(slot < ENGINE_PLANS_MAX); /* engine_check keeps one free (E83) */
    state->plans[slot].seq = seq;
    engine->plans[slot] = plan;
    state->in_force = (int32_t)slot;
    calibration_follows(engine, out, at_ms, was, plan);
    places_follow(engine, out, at_ms, was, plan);
    probes_follow(engine, out, at_ms, plan);
    switches_follow(engine, out, at_ms, plan);
    for (size_t i = 0; i < PLAN_PLACES_MAX; i++) {
        due_set(engine, DUE_PLACE + i, TIME_NEVER);
        if (i >= plan->place_count)
            continue;
        struct judging j;
        judging_place(&j, engine, out, at_ms, i);
        place_due_again(&j, i);
    }
}
