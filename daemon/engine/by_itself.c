/* Steps that begin by themselves. The engine only says what it wants (engine_want); the
 * recorder puts the entry on record, of nobody's and with the probe's name, and feeds it like a
 * person's. What was seen before goes with it: the clock counts from the last good reading
 * above the start, not from the record (E176). Pure. */
#include "daemon/engine/by_itself.h"

#include <assert.h>
#include <string.h>

#include "daemon/engine/batches.h"
#include "daemon/engine/coming.h"
#include "daemon/engine/credible.h"
#include "daemon/engine/probes.h"

static const struct seen_hot seen_nothing = {TIME_NONE, TIME_NONE, TIME_NONE, false};

static bool
is_above(int32_t temp_mC, struct limit_temp start)
{
    return temp_compare(temp_mC, start) > 0;
}

/* Asked of what is above the start only: there is room below it. */
static bool
is_hot(int32_t temp_mC, struct limit_temp start)
{
    return is_above(temp_mC - HOT_BY_mK, start);
}

static struct decision *
ask(struct engine *engine, struct engine_output *out, const struct reading *reading,
    int64_t since_ms)
{
    struct decision *said = say(engine, out, reading->at_ms, DECISION_ASKED, REASON_AMBIGUOUS);
    said->probe = reading->probe;
    said->temp_mC = reading->temp_mC;
    said->since_ms = since_ms;
    return said;
}

/* ---- a batch whose food falls through the start of its cooling ---- */

const struct plan_step *
by_itself_next(const struct engine *engine, const struct batch_state *batch)
{
    const struct plan_product *product = batch_product(engine, batch);
    for (size_t i = batch->step + 1u; i < product->step_count; i++) {
        if (product->steps[i].begins == BEGINS_BY_ITSELF)
            return &product->steps[i];
        if (product->steps[i].limit.kind != LIMIT_NONE)
            return NULL;
    }
    return NULL;
}

struct seen_hot
fall_of(const struct plan_step *awaited, const struct run *run)
{
    struct seen_hot seen = seen_nothing;
    if (awaited && run->fall.hot) {
        seen.above_ms = run->fall.above_ms;
        seen.fallen = run->fall.below_ms != TIME_NONE;
    }
    return seen;
}

void
fall_answered(struct judging *j, enum decision_reason reason)
{
    if (!j->run->fall.asked)
        return;
    j->run->fall.asked = false;
    struct decision *said = say(j->engine, j->out, j->at_ms, DECISION_ANSWERED, reason);
    said->batch = j->batch;
    keep_word(said->step, sizeof said->step, j->step);
}

/* E173: where leaving the running step says nothing against the food. Else E175: it may be
 * heated on, and only a person knows; or it may not be cooled again (E194). */
static bool
may_leave(const struct judging *j, const struct batch_state *batch,
          const struct plan_step *awaited)
{
    if (awaited->limit.once && batch->cooled)
        return false;
    if (j->limit->kind == LIMIT_NONE)
        return true;
    return limit_kind_heats(j->limit->kind) && j->run->verdict != VERDICT_OPEN;
}

/* As E31: none was above when last seen. */
static bool
none_above(const struct run *run, struct limit_temp start)
{
    for (size_t i = 0; i < run->watch_count; i++)
        if (run->watch[i].good_ms != TIME_NONE && is_above(run->watch[i].good_mC, start))
            return false;
    return true;
}

static void
fall_reading(struct engine *engine, struct engine_output *out, const struct reading *reading,
             struct batch_state *batch)
{
    const struct plan_step *awaited = by_itself_next(engine, batch);
    if (!awaited || awaited->limit.clock == COOL_CLOCK_STEP) /* E242: it waits for a place */
        return;
    struct judging j;
    judging_batch(&j, engine, out, reading->at_ms, batch);
    struct fall_state *fall = &j.run->fall;
    if (is_above(reading->temp_mC, awaited->limit.start)) {
        fall->above_ms = reading->at_ms;
        fall->below_ms = TIME_NONE;
        if (!is_hot(reading->temp_mC, awaited->limit.start))
            return;
        fall->hot = true;
        fall_answered(&j, REASON_GOOD_AGAIN); /* it was heated on */
        return;
    }
    if (!fall->hot || !none_above(j.run, awaited->limit.start))
        return;
    if (fall->below_ms == TIME_NONE)
        fall->below_ms = reading->at_ms;
    if (reading->at_ms - fall->below_ms < j.tolerances->settle_ms)
        return; /* E177 */
    if (may_leave(&j, batch, awaited)) {
        out->want = (struct engine_want){reading->probe, batch->number};
    } else if (!fall->asked) {
        fall->asked = true;
        struct decision *said = ask(engine, out, reading, fall->above_ms);
        said->batch = batch->number;
        keep_word(said->step, sizeof said->step, j.step);
    }
}

/* ---- hot food on a probe of no batch ---- */

void
hot_clear(struct engine *engine, struct engine_output *out, int64_t at_ms,
          struct probe_state *probe, enum decision_reason reason)
{
    if (probe->asked) {
        struct decision *said = say(engine, out, at_ms, DECISION_ANSWERED, reason);
        said->probe = probe->number;
    }
    probe->asked = probe->cold_seen = probe->hot_fallen = false;
    probe->hot_ms = probe->hot_above_ms = TIME_NONE;
    coming_clear(probe);
}

/* E174: food has come when the probe has been cold and then hot for a while, steadily and no
 * hotter than food gets. */
static bool
food_has_come(struct probe_state *probe, const struct plan_tolerances *tolerances,
              const struct reading *reading)
{
    int64_t step = (int64_t)reading->temp_mC - probe->hot_mC;
    bool steady = probe->hot_ms != TIME_NONE && step < tolerances->food_jump_mC &&
                  -step < tolerances->food_jump_mC;
    probe->hot_mC = reading->temp_mC;
    if (!probe->cold_seen || !is_hot(reading->temp_mC, probe->hot_start) ||
        reading->temp_mC > FOOD_HOTTEST_mC) {
        probe->hot_ms = TIME_NONE;
        return false;
    }
    if (!steady)
        probe->hot_ms = reading->at_ms;
    return reading->at_ms - probe->hot_ms >= tolerances->settle_ms;
}

bool
step_begins_on(const struct plan_step *step, const char *id)
{
    for (const char *const *on = step->begins_on; *on; on++)
        if (strcmp(*on, id) == 0)
            return true;
    return false;
}

/* The batches whose next step hot food on this probe begins (E241). ret_last: the last of them.
 */
static size_t
batches_awaiting(struct engine *engine, uint16_t probe, struct batch_state **ret_last)
{
    struct engine_state *state = &engine->state;
    size_t count = 0;
    for (size_t i = 0; i < state->counts.batches; i++) {
        struct batch_state *batch = &state->batches[i];
        const struct plan_step *awaited =
            batch->number == 0 ? NULL : by_itself_next(engine, batch);
        const struct plan *plan = awaited ? engine->plans[batch->plan] : NULL;
        int index = plan ? plan_probe_by_number(plan, probe) : -1;
        if (index < 0 || !step_begins_on(awaited, plan->probes[index].id))
            continue;
        *ret_last = batch;
        count++;
    }
    return count;
}

/* E241: its own probes no longer show its food, and leaving the step says nothing against it.
 */
static bool
may_be_its_food(struct engine *engine, struct engine_output *out, int64_t at_ms,
                struct batch_state *batch)
{
    for (size_t i = 0; i < batch->run.watch_count; i++) {
        const struct watch *own = &batch->run.watch[i];
        if (own->good_ms != TIME_NONE && at_ms - own->good_ms <= own->spacing_ms)
            return false;
    }
    struct judging j;
    judging_batch(&j, engine, out, at_ms, batch);
    return may_leave(&j, batch, by_itself_next(engine, batch));
}

/* Which batch it is when only one thing can be meant; false: a person is asked. */
static bool
want_food(struct engine *engine, struct engine_output *out, const struct reading *reading,
          const struct probe_state *probe)
{
    struct batch_state *batch = NULL;
    size_t awaiting = batches_awaiting(engine, probe->number, &batch);
    bool fits = awaiting == 0
                    ? batches_open(engine) < ENGINE_BATCHES_MAX && plans_leave_room(engine)
                    : awaiting == 1 && may_be_its_food(engine, out, reading->at_ms, batch);
    if (probe->hot_steps != 1 || !fits || probe->cold_ms == TIME_NONE)
        return false;
    out->want = (struct engine_want){reading->probe, batch ? batch->number : 0};
    return true;
}

static void
hot_reading(struct engine *engine, struct engine_output *out, const struct reading *reading,
            struct probe_state *probe)
{
    if (probe->hot_steps == 0 || engine->state.in_force < 0)
        return;
    const struct plan_tolerances *tolerances =
        &engine->plans[engine->state.in_force]->tolerances;
    bool above = is_above(reading->temp_mC, probe->hot_start);
    coming_note(probe, tolerances, reading);
    if (probe->hot_above_ms != TIME_NONE) { /* E176, E32: a later rise is no later start */
        probe->hot_fallen = probe->hot_fallen || !above;
        if (!probe->hot_fallen)
            probe->hot_above_ms = reading->at_ms;
    }
    if (!above) {
        probe->cold_seen = true;
        probe->hot_ms = TIME_NONE;
        return;
    }
    if (probe->asked || !food_has_come(probe, tolerances, reading))
        return;
    if (probe->hot_above_ms == TIME_NONE)
        probe->hot_above_ms = reading->at_ms;
    if (want_food(engine, out, reading, probe))
        return;
    probe->asked = true; /* E175 */
    ask(engine, out, reading, probe->hot_above_ms);
}

struct seen_hot
hot_food_of(struct engine *engine, const struct plan_probe *const *probes, size_t count,
            const struct plan_step *step)
{
    struct seen_hot seen = seen_nothing;
    seen.fallen = true;
    for (size_t i = 0; i < count; i++) {
        const struct probe_state *probe = probe_find(engine, probes[i]->number);
        if (probe == NULL || probe->hot_above_ms == TIME_NONE) { /* none while in a batch */
            seen.fallen = false;
            continue;
        }
        seen.above_ms = most_of(seen.above_ms, probe->hot_above_ms);
        if (probe->cold_ms != TIME_NONE &&
            (seen.cold_ms == TIME_NONE || probe->cold_ms < seen.cold_ms))
            seen.cold_ms = probe->cold_ms;
        if (seen.first_ms == TIME_NONE || probe->hot_first_ms < seen.first_ms)
            seen.first_ms = probe->hot_first_ms;
        if (is_above(probe->last_good.temp_mC, step->limit.start))
            seen.fallen = false;
    }
    return seen;
}

struct seen_hot
seen_by_both(struct seen_hot own, struct seen_hot other)
{
    if (other.above_ms == TIME_NONE || own.fallen)
        return own;
    return other;
}

void
by_itself_reading(struct engine *engine, struct engine_output *out,
                  const struct reading *reading, struct probe_state *probe)
{
    if (probe->batch != 0)
        fall_reading(engine, out, reading, &engine->state.batches[probe->batch - 1]);
    else
        hot_reading(engine, out, reading, probe);
}

/* ---- a plan comes into force ---- */

/* Exact: ninths of a thousandth of a degree Celsius. */
static int64_t
ninths(struct limit_temp temp)
{
    return temp.unit == TEMP_C ? (int64_t)temp.milli * 9 : ((int64_t)temp.milli - 32000) * 5;
}

static void
step_follows(struct engine *engine, const struct plan *plan, const struct plan_step *step)
{
    for (const char *const *on = step->begins_on; *on; on++) {
        int index = plan_probe_index(plan, *on);
        struct probe_state *probe =
            index >= 0 ? probe_find(engine, plan->probes[index].number) : NULL;
        if (probe == NULL)
            continue;
        if (probe->hot_steps == 0 || ninths(step->limit.start) > ninths(probe->hot_start))
            probe->hot_start = step->limit.start;
        probe->hot_steps++;
    }
}

void
by_itself_follows(struct engine *engine, struct engine_output *out, int64_t at_ms,
                  const struct plan *plan)
{
    struct engine_state *state = &engine->state;
    for (size_t i = 0; i < state->counts.probes; i++)
        state->probes[i].hot_steps = 0;
    for (size_t i = 0; i < plan->product_count; i++)
        for (size_t k = 0; k < plan->products[i].step_count; k++)
            step_follows(engine, plan, &plan->products[i].steps[k]);
    for (size_t i = 0; i < state->counts.probes; i++)
        if (state->probes[i].number != 0 && state->probes[i].hot_steps == 0)
            hot_clear(engine, out, at_ms, &state->probes[i], REASON_ENTERED);
}
