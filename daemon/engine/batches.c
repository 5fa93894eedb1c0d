/* Batches: begun, moved from step to step, ended; each step one run of its limit. Pure. */
#include "daemon/engine/batches.h"

#include <assert.h>
#include <string.h>

#include "daemon/engine/affected.h"
#include "daemon/engine/amend.h"
#include "daemon/engine/beside.h"
#include "daemon/engine/by_itself.h"
#include "daemon/engine/credible.h"
#include "daemon/engine/doubt.h"
#include "daemon/engine/due.h"
#include "daemon/engine/marks.h"
#include "daemon/engine/probes.h"

struct batch_state *
batch_find(struct engine *engine, uint32_t number)
{
    for (size_t i = 0; number != 0 && i < engine->state.counts.batches; i++)
        if (engine->state.batches[i].number == number)
            return &engine->state.batches[i];
    return NULL;
}

const struct plan_product *
batch_product(const struct engine *engine, const struct batch_state *batch)
{
    return &engine->plans[batch->plan]->products[batch->product];
}

const struct plan_step *
batch_step(const struct engine *engine, const struct batch_state *batch)
{
    return &batch_product(engine, batch)->steps[batch->step];
}

bool
plan_is_pinned(const struct engine *engine, size_t plan)
{
    for (size_t i = 0; i < engine->state.counts.batches; i++)
        if (engine->state.batches[i].number != 0 && engine->state.batches[i].plan == plan)
            return true;
    return false;
}

static struct period_state *
period_of(struct batch_state *batch, const struct plan_limit *limit)
{
    if (limit->period_ms == 0)
        return NULL;
    return limit->kind == LIMIT_HOLD_HOT ? &batch->colder : &batch->warmer;
}

size_t
batches_open(const struct engine *engine)
{
    size_t count = 0;
    for (size_t i = 0; i < engine->state.counts.batches; i++)
        count += engine->state.batches[i].number != 0;
    return count;
}

bool
plans_leave_room(const struct engine *engine)
{
    size_t pinned = 0;
    for (size_t i = 0; i < ENGINE_PLANS_MAX; i++)
        pinned += plan_is_pinned(engine, i);
    return pinned + 1 < ENGINE_PLANS_MAX ||
           plan_is_pinned(engine, (size_t)engine->state.in_force);
}

void
judging_batch(struct judging *j, struct engine *engine, struct engine_output *out,
              int64_t at_ms, struct batch_state *batch)
{
    const struct plan_step *step = batch_step(engine, batch);
    *j = (struct judging){
        .engine = engine,
        .out = out,
        .at_ms = at_ms,
        .limit = &step->limit,
        .tolerances = &engine->plans[batch->plan]->tolerances,
        .run = &batch->run,
        .food = batch,
        .period = period_of(batch, &step->limit),
        .batch = batch->number,
        .place = batch->place,
        .step = step->id,
    };
}

static size_t
slot_of(const struct engine *engine, const struct batch_state *batch)
{
    return (size_t)(batch - engine->state.batches);
}

void
batch_due_again(struct judging *j, const struct batch_state *batch)
{
    due_set(j->engine, DUE_BATCH + slot_of(j->engine, batch),
            least_of(judge_of(j->limit->kind)->next_due(j), beside_next_due(j)));
}

/* ---- probes on a batch ---- */

static void
take_probe(struct engine *engine, struct engine_output *out, struct batch_state *batch,
           int64_t at_ms, const struct plan_probe *named)
{
    const struct plan *plan = engine->plans[batch->plan];
    struct probe_state *probe = probe_take(engine, named->number);
    probe_watched_from(probe, at_ms);
    hot_clear(engine, out, at_ms, probe, REASON_ENTERED);
    doubt_clear(engine, out, probe, at_ms, REASON_ENTERED); /* E132 */
    probe->batch = (uint16_t)(slot_of(engine, batch) + 1);
    credible_hand_over(probe, at_ms);
    probe_due_again(engine, probe);

    struct watch *watch = &batch->run.watch[batch->run.watch_count++];
    watch->probe = named->number;
    watch->spacing_ms = (int64_t)plan->tolerances.spacing_polls * named->every_ms;
    watch->good_ms = watch->since_ms = watch->last_ms = TIME_NONE;
    watch->good_mC = TEMP_NONE;
}

/* ret_silent_from_ms: since when each of them has been silent; NULL = not asked. */
static void
release_probes(struct judging *j, int64_t *ret_silent_from_ms)
{
    for (size_t i = 0; i < j->run->watch_count; i++) {
        struct probe_state *probe = probe_find(j->engine, j->run->watch[i].probe);
        if (ret_silent_from_ms)
            ret_silent_from_ms[i] = probe->silent_from_ms;
        credible_release(j, probe, REASON_ENTERED);
        probe->batch = 0;
        probe_due_again(j->engine, probe);
    }
}

/* The probes an entry names, or those the batch has; as many as returned. */
static size_t
named_probes(const struct plan *plan, const struct entry *entry, const struct run *run,
             const struct plan_probe *ret[ENTRY_PROBES_MAX])
{
    size_t count = 0;
    for (size_t i = 0; i < entry->probe_count; i++) {
        int index = plan_probe_index(plan, entry->probes[i]);
        if (index >= 0 && plan->probes[index].number != 0)
            ret[count++] = &plan->probes[index];
    }
    for (size_t i = 0; entry->probe_count == 0 && i < run->watch_count; i++) {
        int index = plan_probe_by_number(plan, run->watch[i].probe);
        if (index >= 0)
            ret[count++] = &plan->probes[index];
    }
    return count;
}

/* ---- steps ---- */

static void
set_place(struct engine *engine, int64_t at_ms, const struct plan_step *step,
          struct batch_state *batch, const struct entry *entry)
{
    const struct plan *plan = engine->plans[batch->plan];
    const char *place = entry->place;
    if (!place[0] && step->place >= 0)
        place = plan->places[step->place].id;
    if (!place[0] || strcmp(place, batch->place) == 0)
        return; /* it stays where it is */
    food_leaves(engine, at_ms, batch->number, batch->place);
    keep_word(batch->place, sizeof batch->place, place);
    food_arrives(engine, batch->number, place);
}

static void
begin_run(struct engine *engine, struct engine_output *out, int64_t at_ms,
          struct batch_state *batch, const struct plan_probe *const *probes, size_t probe_count,
          const struct entry *entry, struct seen_hot seen)
{
    run_begin(&batch->run, ++batch->serial, at_ms);
    for (size_t i = 0; i < probe_count; i++) {
        take_probe(engine, out, batch, at_ms, probes[i]);
        if (entry->who[0] == '\0' &&
            (entry->probe_count == 0 || strcmp(probes[i]->id, entry->probe) == 0))
            /* E178: it is in the food already; another of its pan may not be yet (E236) */
            credible_in_food(probe_find(engine, probes[i]->number));
    }
    struct judging j;
    judging_batch(&j, engine, out, at_ms, batch);
    batch->cooled_before = batch->cooled;
    batch->reheated = batch->reheated || j.limit->kind == LIMIT_REHEAT;
    batch->cooled = batch->cooled || j.limit->kind == LIMIT_COOL;
    judge_of(j.limit->kind)->begin(&j);
    beside_begin_step(&j);
    batch->out_since_ms = TIME_NONE;
    by_itself_say(judge_say(&j, DECISION_STEP_BEGUN, REASON_ENTERED), engine, batch, entry);
    if (batch_step(engine, batch)->begins == BEGINS_BY_ITSELF)
        cool_seen_hot(&j, seen);
    batch_due_again(&j, batch);
}

/* What engine_check has made sure of where an entry is made; a record may name anything. */
static bool
begin_can_be_taken(const struct engine *engine, const struct entry *entry)
{
    const struct engine_state *state = &engine->state;
    const struct plan *plan = engine_plan(engine);
    const struct plan_product *product = plan ? plan_product(plan, entry->product) : NULL;
    if (!product || (entry->step[0] && plan_step_index(product, entry->step) < 0))
        return false;
    for (size_t slot = 0; slot < ENGINE_BATCHES_MAX; slot++)
        if (state->batches[slot].number == 0)
            return true;
    return false;
}

static bool
move_can_be_taken(const struct engine *engine, const struct entry *entry,
                  const struct batch_state *batch)
{
    if (!batch)
        return false;
    const struct plan_product *product = batch_product(engine, batch);
    return entry->step[0] ? plan_step_index(product, entry->step) >= 0
                          : batch->step + 1 < (int)product->step_count;
}

bool
batch_begin(struct engine *engine, struct engine_output *out, int64_t at_ms,
            const struct entry *entry)
{
    if (!begin_can_be_taken(engine, entry))
        return false;
    struct engine_state *state = &engine->state;
    const struct plan *plan = engine->plans[state->in_force];
    const struct plan_product *product = plan_product(plan, entry->product);
    size_t slot = 0;
    while (state->batches[slot].number != 0)
        slot++;
    struct batch_state *batch = &state->batches[slot]; /* all zero, as batch_free left it */
    batch->number = (uint32_t)most_of(entry->batch, state->next_batch);
    state->next_batch = batch->number + 1;
    if (slot >= state->counts.batches)
        state->counts.batches = (uint32_t)slot + 1;
    batch->plan = (uint8_t)state->in_force;
    batch->product = (uint16_t)(product - plan->products);
    int step = entry->step[0] ? plan_step_index(product, entry->step) : 0;
    batch->step = (uint8_t)step;
    batch->mass_g = entry->mass_g;
    batch->thickness_mm = entry->thickness_mm;
    batch->begun_ms = at_ms;
    batch->colder.from_ms = batch->warmer.from_ms = TIME_NONE;
    batch->out_since_ms = batch->left_ms = batch->heated_ms = TIME_NONE;
    keep_word(batch->who, sizeof batch->who, entry->who);
    set_place(engine, at_ms, &product->steps[batch->step], batch, entry);
    struct judging j;
    judging_batch(&j, engine, out, at_ms, batch);
    beside_begin_batch(&j);
    const struct plan_probe *probes[ENTRY_PROBES_MAX];
    size_t count = named_probes(plan, entry, &batch->run, probes);
    begin_run(engine, out, at_ms, batch, probes, count, entry,
              hot_food_of(engine, probes, count, &product->steps[batch->step]));
    mark_begin(engine, out, at_ms, batch, entry);
    return true;
}

/* E56: moving a batch does not forgive its probes their silence. */
static void
keep_silences(struct engine *engine, const struct run *left, const int64_t *silent_from_ms)
{
    for (size_t i = 0; i < left->watch_count; i++) {
        struct probe_state *probe = probe_find(engine, left->watch[i].probe);
        probe->silent_from_ms = silent_from_ms[i];
        probe_due_again(engine, probe);
    }
}

bool
batch_move(struct engine *engine, struct engine_output *out, int64_t at_ms,
           const struct entry *entry)
{
    struct batch_state *batch = batch_find(engine, entry->batch);
    struct stored_state *stored = batch ? NULL : stored_find(engine, entry->batch);
    if (stored) { /* E190 */
        stored_move(engine, at_ms, stored, entry->place);
        mark_stored_moved(engine, out, at_ms, stored);
        return true;
    }
    if (!move_can_be_taken(engine, entry, batch))
        return false;
    const struct plan *plan = engine->plans[batch->plan];
    const struct plan_product *product = batch_product(engine, batch);
    const struct plan_probe *probes[ENTRY_PROBES_MAX];
    size_t count = named_probes(plan, entry, &batch->run, probes);
    struct judging j;
    judging_batch(&j, engine, out, at_ms, batch);
    amend_dropped(&j, batch, REASON_BATCH_ENDED);
    batch->step_before = batch->step;
    batch->verdict_before = batch->run.verdict;
    batch->auto_seq = 0;
    const struct plan_step *awaited = by_itself_next(engine, batch);
    struct seen_hot seen = fall_of(awaited, &batch->run);
    if (awaited)
        seen = seen_by_both(seen, hot_food_of(engine, probes, count, awaited));
    if (limit_kind_heats(j.limit->kind))
        batch->heated_ms = at_ms;
    else if (j.limit->kind == LIMIT_COOL) /* the first cooling after heating answers for it */
        batch->heated_ms = TIME_NONE;
    fall_answered(&j, REASON_ENTERED);
    judge_of(j.limit->kind)->leave(&j, LEAVING_ON);
    beside_leave_step(&j, LEAVING_ON);
    const struct run left = batch->run;
    int64_t silent_from_ms[ENTRY_PROBES_MAX] = {0};
    release_probes(&j, silent_from_ms);
    int step = entry->step[0] ? plan_step_index(product, entry->step) : batch->step + 1;
    batch->step = (uint8_t)step;
    set_place(engine, at_ms, &product->steps[batch->step], batch, entry);
    if (&product->steps[batch->step] != awaited)
        seen.above_ms = seen.cold_ms = TIME_NONE;
    begin_run(engine, out, at_ms, batch, probes, count, entry, seen);
    judging_batch(&j, engine, out, at_ms, batch);
    cool_left_heat(&j, batch->heated_ms);
    keep_silences(engine, &left, silent_from_ms);
    mark_batch_moved(engine, out, at_ms, batch);
    probes_sweep(engine);
    return true;
}

/* Where the food goes as its batch ends (E190). */
static void
take_away(struct engine *engine, struct engine_output *out, int64_t at_ms,
          const struct batch_state *batch, const struct entry *entry)
{
    bool stays = entry->outcome == OUTCOME_STORED;
    const char *place = entry->place[0] ? entry->place : batch->place;
    if (!stays || strcmp(place, batch->place) != 0)
        food_leaves(engine, at_ms, batch->number, batch->place);
    if (!stays) {
        mark_over(engine, out, at_ms, &batch->mark, REASON_BATCH_ENDED);
        return;
    }
    struct stored_state *stored = stored_add(engine, out, at_ms, batch, place);
    food_arrives(engine, batch->number, place);
    mark_stored_moved(engine, out, at_ms, stored);
}

/* Its slot, and the plans that only it used. */
static void
batch_free(struct engine *engine, struct batch_state *batch)
{
    struct engine_state *state = &engine->state;
    due_set(engine, DUE_BATCH + slot_of(engine, batch), TIME_NEVER);
    memset(batch, 0, sizeof *batch);
    while (state->counts.batches > 0 && state->batches[state->counts.batches - 1].number == 0)
        state->counts.batches--;
    for (size_t i = 0; i < ENGINE_PLANS_MAX; i++) {
        if ((int32_t)i == state->in_force || state->plans[i].seq == 0 ||
            plan_is_pinned(engine, i))
            continue;
        state->plans[i].seq = 0;
        engine->plans[i] = NULL;
    }
    probes_sweep(engine);
}

void
batch_end(struct engine *engine, struct engine_output *out, int64_t at_ms,
          const struct entry *entry)
{
    struct batch_state *batch = batch_find(engine, entry->batch);
    struct stored_state *stored = batch ? NULL : stored_find(engine, entry->batch);
    if (stored) {
        mark_over(engine, out, at_ms, &stored->mark, REASON_BATCH_ENDED);
        stored_end(engine, at_ms, stored);
        return;
    }
    if (!batch)
        return;
    struct judging j;
    judging_batch(&j, engine, out, at_ms, batch);
    fall_answered(&j, REASON_BATCH_ENDED);
    amend_dropped(&j, batch, REASON_BATCH_ENDED);
    enum leaving how = entry->outcome == OUTCOME_DISCARDED ? LEAVING_DISCARDED : LEAVING_ON;
    judge_of(j.limit->kind)->leave(&j, how);
    beside_leave_step(&j, how);
    beside_leave_batch(&j, how);
    release_probes(&j, NULL);
    judge_say(&j, DECISION_BATCH_ENDED, REASON_ENTERED);
    take_away(engine, out, at_ms, batch, entry);
    batch_free(engine, batch);
}

/* E180: what an automatic beginning took for food was none, or not this. */
void
batch_undo(struct judging *j, struct batch_state *batch)
{
    fall_answered(j, REASON_CORRECTED);
    beside_leave_batch(j, LEAVING_DISCARDED);
    release_probes(j, NULL);
    judge_say(j, DECISION_BATCH_ENDED, REASON_CORRECTED);
    mark_over(j->engine, j->out, j->at_ms, &batch->mark, REASON_CORRECTED);
    food_leaves(j->engine, j->at_ms, batch->number, batch->place);
    batch_free(j->engine, batch);
}

void
batch_step_back(struct judging *j, struct batch_state *batch, const char *who)
{
    const struct plan_product *product = batch_product(j->engine, batch);
    const struct plan_probe *probes[ENTRY_PROBES_MAX];
    struct entry back;
    entry_clear(&back, ENTRY_MOVE);
    keep_word(back.who, sizeof back.who, who);
    size_t count = named_probes(j->engine->plans[batch->plan], &back, &batch->run, probes);
    const struct run left = batch->run;
    int64_t silent_from_ms[ENTRY_PROBES_MAX] = {0};
    uint8_t verdict = batch->verdict_before;
    release_probes(j, silent_from_ms);
    batch->step = batch->step_before;
    batch->cooled = batch->cooled_before;
    batch->auto_seq = 0;
    set_place(j->engine, j->at_ms, &product->steps[batch->step], batch, &back);
    begin_run(j->engine, j->out, j->at_ms, batch, probes, count, &back,
              (struct seen_hot){TIME_NONE, TIME_NONE, TIME_NONE, false});
    mark_batch_moved(j->engine, j->out, j->at_ms, batch);
    if (verdict == VERDICT_MET) /* E11: what was met stays met */
        batch->run.verdict = verdict;
    keep_silences(j->engine, &left, silent_from_ms);
}

/* ---- readings ---- */

uint16_t
batch_believes(struct engine *engine, struct engine_output *out, const struct reading *reading,
               struct probe_state *probe)
{
    struct judging j;
    judging_batch(&j, engine, out, reading->at_ms, &engine->state.batches[probe->batch - 1]);
    beside_protects(&j);
    return credible_judge(&j, probe, reading->temp_mC);
}

void
batch_reading(struct engine *engine, struct engine_output *out, const struct reading *reading,
              struct batch_state *batch)
{
    struct judging j;
    judging_batch(&j, engine, out, reading->at_ms, batch);
    struct watch *watch = NULL;
    for (size_t i = 0; i < batch->run.watch_count; i++)
        if (batch->run.watch[i].probe == reading->probe)
            watch = &batch->run.watch[i];
    assert(watch);
    const struct judge *judge = judge_of(j.limit->kind);
    if (reading_is_good(reading->quality)) {
        watch->good_ms = reading->at_ms;
        watch->good_mC = reading->temp_mC;
        judge->good(&j, watch, reading->temp_mC);
    } else if (reading->quality != SUSPECT_PULLED_OUT) { /* E183: that is like none */
        judge->suspect(&j, watch, reading->temp_mC);
    }
    if (reading->quality != SUSPECT_PULLED_OUT)
        beside_reading(&j, reading);
    beside_follow(&j);
    batch_due_again(&j, batch);
}
