/* Places and the plan in force: what watches what. Pure. */
#include "daemon/engine/places.h"

#include <assert.h>
#include <string.h>

#include "daemon/engine/batches.h"
#include "daemon/engine/due.h"
#include "daemon/engine/probes.h"

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
    due_set(j->engine, DUE_PLACE + place, judge_of(j->limit->kind)->next_due(j));
}

void
place_reading(struct engine *engine, struct engine_output *out, const struct reading *reading,
              size_t place)
{
    struct judging j;
    judging_place(&j, engine, out, reading->at_ms, place);
    struct watch *watch = &j.run->watch[0];
    const struct judge *judge = judge_of(j.limit->kind);
    if (reading_is_good(reading->quality)) {
        watch->good_ms = reading->at_ms;
        watch->good_mC = reading->temp_mC;
        judge->good(&j, watch, reading->temp_mC);
    } else {
        judge->suspect(&j, watch, reading->temp_mC);
    }
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
    memset(state->places, 0, sizeof state->places);
    state->counts.places = (uint32_t)plan->place_count;
    for (size_t i = 0; i < plan->place_count; i++)
        new_place(engine, plan, i, at_ms, carried[i]);
}

static void
probes_follow(struct engine *engine, int64_t at_ms, const struct plan *plan)
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
        struct probe_state *probe = probe_take(engine, plan->probes[i].number, at_ms);
        probe->in_plan = true;
        probe->kind = (uint8_t)plan->probes[i].kind;
    }
    for (size_t i = plan->place_count; i-- > 0;) {
        struct place_state *place = &state->places[i];
        if (place->probe == 0)
            continue;
        struct probe_state *probe = probe_find(engine, place->probe);
        place->next_place = probe->first_place;
        probe->first_place = (int16_t)i;
    }
    for (size_t i = 0; i < state->counts.probes; i++) {
        struct probe_state *probe = &state->probes[i];
        if (probe->number == 0)
            continue;
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
    places_follow(engine, out, at_ms, was, plan);
    probes_follow(engine, at_ms, plan);
    for (size_t i = 0; i < PLAN_PLACES_MAX; i++) {
        due_set(engine, DUE_PLACE + i, TIME_NEVER);
        if (i >= plan->place_count)
            continue;
        struct judging j;
        judging_place(&j, engine, out, at_ms, i);
        place_due_again(&j, i);
    }
}
