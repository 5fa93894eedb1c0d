/* Doors and buttons (E210 to E215). No limit is judged by them: a door that is open warms the
 * air, and it is the air that is judged. Pure. */
#include "daemon/engine/switches.h"

#include <string.h>

#include "daemon/engine/batches.h"
#include "daemon/engine/due.h"
#include "daemon/engine/places.h"

static const struct plan_switch *
planned(const struct engine *engine, size_t index)
{
    return &engine->plans[engine->state.in_force]->switches[index];
}

static struct decision *
say_switch(struct engine *engine, struct engine_output *out, int64_t at_ms,
           enum decision_kind kind, enum decision_reason reason,
           const struct switch_known *known)
{
    struct decision *said = say(engine, out, at_ms, kind, reason);
    keep_word(said->contact, sizeof said->contact, known->id);
    keep_word(said->place, sizeof said->place, known->place);
    said->since_ms = known->since_ms;
    return said;
}

/* ---- a door that is left open ---- */

/* E211: exactly the time allowed is allowed. */
static void
due_again(struct engine *engine, size_t index)
{
    const struct switch_known *known = &engine->state.switches[index];
    const struct plan_switch *of = planned(engine, index);
    bool waits = known->kind == SWITCH_DOOR && known->state == SWITCH_ACTIVE && !known->told &&
                 of->open_max_ms > 0;
    due_set(engine, DUE_SWITCH + index,
            waits ? known->since_ms + of->open_max_ms + 1 : TIME_NEVER);
}

static void
door_is_over(struct engine *engine, struct engine_output *out, int64_t at_ms,
             struct switch_known *known, enum decision_reason reason)
{
    if (!known->told)
        return;
    struct decision *said = say_switch(engine, out, at_ms, DECISION_DOOR_OVER, reason, known);
    said->found_ms = at_ms - known->since_ms;
    known->told = false;
}

void
switch_due(struct engine *engine, struct engine_output *out, int64_t at_ms, size_t index)
{
    struct switch_known *known = &engine->state.switches[index];
    const struct plan_switch *of = planned(engine, index);
    size_t place = (size_t)of->place;
    if (place_is_quiet(engine, place)) { /* E212 */
        due_set(engine, DUE_SWITCH + index, engine->state.places[place].quiet_until_ms);
        return;
    }
    struct decision *said =
        say_switch(engine, out, at_ms, DECISION_DOOR_LEFT_OPEN, REASON_DOOR_OPEN, known);
    said->required_ms = of->open_max_ms;
    said->found_ms = at_ms - known->since_ms;
    known->told = true;
    due_again(engine, index);
}

void
switches_heed(struct engine *engine, const char *place)
{
    for (size_t i = 0; i < engine->state.counts.switches; i++)
        if (strcmp(engine->state.switches[i].place, place) == 0)
            due_again(engine, i);
}

/* ---- a button ---- */

/* The one open batch at the place; NULL when there is none, or several. */
static const struct batch_state *
only_batch(const struct engine *engine, const char *place)
{
    const struct batch_state *only = NULL;
    for (size_t i = 0; i < engine->state.counts.batches; i++) {
        const struct batch_state *batch = &engine->state.batches[i];
        if (batch->number == 0 || strcmp(batch->place, place) != 0)
            continue;
        if (only)
            return NULL;
        only = batch;
    }
    return only;
}

/* E214 */
static void
mark(struct engine *engine, struct engine_output *out, int64_t at_ms,
     struct switch_known *known)
{
    const struct batch_state *batch = only_batch(engine, known->place);
    struct decision *said =
        say_switch(engine, out, at_ms, DECISION_MARKED, REASON_PRESSED, known);
    said->since_ms = TIME_NONE;
    known->mark_ms = at_ms;
    if (!batch)
        return;
    said->batch = batch->number;
    keep_word(said->step, sizeof said->step, batch_step(engine, batch)->id);
}

/* ---- what they did ---- */

void
switch_take(struct engine *engine, struct engine_output *out, int64_t at_ms,
            const struct switch_event *event)
{
    struct engine_state *state = &engine->state;
    int index = state->in_force >= 0
                    ? plan_switch_index(engine->plans[state->in_force], event->id)
                    : -1;
    if (index < 0)
        return;
    struct switch_known *known = &state->switches[index];
    enum switch_state was = (enum switch_state)known->state;
    if (was == event->state)
        return; /* E210: said again, as after a new plan */
    door_is_over(engine, out, at_ms, known,
                 event->state == SWITCH_RESTS ? REASON_DOOR_CLOSED : REASON_SWITCH_LOST);
    known->state = (uint8_t)event->state;
    known->since_ms = at_ms;
    if (known->kind == SWITCH_BUTTON && was == SWITCH_RESTS && event->state == SWITCH_ACTIVE)
        mark(engine, out, at_ms, known);
    due_again(engine, (size_t)index);
}

/* E213 */
void
switches_restart(struct engine *engine, struct engine_output *out, int64_t at_ms)
{
    for (size_t i = 0; i < engine->state.counts.switches; i++) {
        struct switch_known *known = &engine->state.switches[i];
        door_is_over(engine, out, at_ms, known, REASON_OUTAGE);
        known->state = SWITCH_UNKNOWN;
        known->since_ms = TIME_NONE;
        due_again(engine, i);
    }
}

/* ---- a plan comes into force ---- */

static struct switch_known *
same_before(struct switch_known *before, size_t count, const struct plan *plan,
            const struct plan_switch *of)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(before[i].id, of->id) == 0 && before[i].kind == (uint8_t)of->kind &&
            strcmp(before[i].place, plan->places[of->place].id) == 0)
            return &before[i];
    return NULL;
}

/* E215 */
void
switches_follow(struct engine *engine, struct engine_output *out, int64_t at_ms,
                const struct plan *plan)
{
    struct engine_state *state = &engine->state;
    struct switch_known before[PLAN_SWITCHES_MAX];
    bool goes_on[PLAN_SWITCHES_MAX] = {0};
    size_t count = state->counts.switches;
    memcpy(before, state->switches, sizeof before);
    memset(state->switches, 0, sizeof state->switches);
    state->counts.switches = (uint32_t)plan->switch_count;
    for (size_t i = 0; i < PLAN_SWITCHES_MAX; i++)
        due_set(engine, DUE_SWITCH + i, TIME_NEVER);
    for (size_t i = 0; i < plan->switch_count; i++) {
        const struct plan_switch *of = &plan->switches[i];
        struct switch_known *known = &state->switches[i];
        struct switch_known *old = same_before(before, count, plan, of);
        if (old && (!old->told || of->open_max_ms > 0)) {
            goes_on[old - before] = true;
            memcpy(known, old, sizeof *known);
        } else {
            keep_word(known->id, sizeof known->id, of->id);
            keep_word(known->place, sizeof known->place, plan->places[of->place].id);
            known->kind = (uint8_t)of->kind;
            known->since_ms = known->mark_ms = TIME_NONE;
        }
        due_again(engine, i);
    }
    for (size_t i = 0; i < count; i++)
        if (!goes_on[i])
            door_is_over(engine, out, at_ms, &before[i], REASON_ENTERED);
}
