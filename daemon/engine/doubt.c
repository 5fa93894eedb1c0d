/* Series that no working probe shows: one value for too long, and, in air, a jump that nothing
 * confirms. What food can do is credible.c's. Pure. */
#include "daemon/engine/doubt.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/engine/batches.h"
#include "daemon/engine/probes.h"

static int64_t
apart(int32_t a_mC, int32_t b_mC)
{
    return llabs((int64_t)a_mC - b_mC);
}

/* ---- stuck ---- */

static void
tell(struct engine *engine, struct engine_output *out, const struct probe_state *probe,
     int64_t at_ms, enum decision_kind kind, enum decision_reason reason, int32_t temp_mC)
{
    const struct engine_state *state = &engine->state;
    struct decision *said = say(engine, out, at_ms, kind, reason);
    said->probe = probe->number;
    said->temp_mC = temp_mC;
    said->since_ms = probe->same_ms;
    if (probe->batch != 0)
        said->batch = state->batches[probe->batch - 1].number;
    if (probe->first_place >= 0)
        keep_word(said->place, sizeof said->place, state->places[probe->first_place].id);
}

void
doubt_clear(struct engine *engine, struct engine_output *out, struct probe_state *probe,
            int64_t at_ms, enum decision_reason reason)
{
    if (probe->stuck && out != NULL)
        tell(engine, out, probe, at_ms, DECISION_SUSPECT_ENDED, reason, TEMP_NONE);
    probe->stuck = false;
    probe->same_ms = probe->apart_ms = TIME_NONE;
}

/* Whether a reading of another probe is recent and far away. */
static bool
is_far(const struct probe_state *other, int64_t at_ms, int64_t fresh_ms, int32_t temp_mC)
{
    return other != NULL && other->last_good.at_ms != TIME_NONE &&
           at_ms - other->last_good.at_ms <= fresh_ms &&
           apart(other->last_good.temp_mC, temp_mC) >= STUCK_APART_mC;
}

/* E131: the air of its place, or another probe of its batch. */
static bool
heat_flows(struct engine *engine, const struct probe_state *probe,
           const struct batch_state *batch, int64_t fresh_ms, int64_t at_ms, int32_t temp_mC)
{
    const struct engine_state *state = &engine->state;
    for (size_t i = 0; i < batch->run.watch_count; i++) {
        const uint16_t number = batch->run.watch[i].probe;
        if (number != probe->number &&
            is_far(probe_find(engine, number), at_ms, fresh_ms, temp_mC))
            return true;
    }
    for (size_t i = 0; i < state->counts.places; i++)
        if (state->places[i].probe != 0 && strcmp(state->places[i].id, batch->place) == 0)
            return is_far(probe_find(engine, state->places[i].probe), at_ms, fresh_ms, temp_mC);
    return false;
}

/* Since when the probe has shown this very value, each reading soon enough after the one
 * before. */
static void
note_value(struct probe_state *probe, int64_t at_ms, int64_t fresh_ms, int32_t temp_mC)
{
    const bool is_known = probe->same_ms != TIME_NONE && at_ms - probe->seen_ms <= fresh_ms;
    if (!is_known || temp_mC != probe->same_mC) {
        const int64_t step = apart(temp_mC, probe->same_mC);
        if (is_known)
            probe->least_step_mC = (int32_t)least_of(step, probe->least_step_mC);
        probe->same_ms = at_ms;
        probe->same_mC = temp_mC;
        probe->apart_ms = TIME_NONE;
    }
    probe->seen_ms = at_ms;
}

/* After how long an unchanged value is too long, 0 = never, and from when it counts. */
static int64_t
may_stay_ms(struct engine *engine, struct probe_state *probe, int64_t at_ms, int32_t temp_mC,
            int64_t *ret_from_ms)
{
    const struct engine_state *state = &engine->state;
    *ret_from_ms = probe->same_ms;
    if (probe->batch == 0) /* E130 */
        return probe->first_place >= 0 || probe->kind == PROBE_AIR
                   ? engine->plans[state->in_force]->tolerances.stuck_ms
                   : 0;
    const struct batch_state *batch = &state->batches[probe->batch - 1];
    const struct plan *plan = engine->plans[batch->plan];
    if (plan->products[batch->product].steps[batch->step].limit.kind == LIMIT_NONE ||
        !heat_flows(engine, probe, batch, plan->tolerances.silent_ms, at_ms, temp_mC)) {
        probe->apart_ms = TIME_NONE;
        return 0;
    }
    if (probe->apart_ms == TIME_NONE)
        probe->apart_ms = at_ms;
    *ret_from_ms = probe->apart_ms;
    return plan->tolerances.stuck_food_ms;
}

static bool
is_stuck(struct engine *engine, struct engine_output *out, struct probe_state *probe,
         int64_t at_ms, int32_t temp_mC)
{
    const int64_t fresh_ms = engine->plans[engine->state.in_force]->tolerances.silent_ms;
    int64_t from_ms;
    if (probe->stuck && temp_mC != probe->same_mC) { /* E132 */
        probe->stuck = false;
        tell(engine, out, probe, at_ms, DECISION_SUSPECT_ENDED, REASON_GOOD_AGAIN, temp_mC);
    }
    if (probe->stuck)
        return true;
    note_value(probe, at_ms, fresh_ms, temp_mC);
    const int64_t most_ms = may_stay_ms(engine, probe, at_ms, temp_mC, &from_ms);
    if (most_ms == 0 || probe->least_step_mC > STUCK_STEP_MAX_mC || at_ms - from_ms < most_ms)
        return false;
    probe->stuck = true;
    tell(engine, out, probe, at_ms, DECISION_SUSPECT_BEGUN, REASON_STUCK, temp_mC);
    return true;
}

/* ---- jumps in air ---- */

/* E133: from the last good reading, and from the one before this: what stays is believed. */
static bool
is_jump(const struct plan_tolerances *tolerances, int64_t from_ms, int32_t from_mC,
        int64_t at_ms, int32_t temp_mC)
{
    const int64_t step = apart(temp_mC, from_mC);
    return step >= tolerances->air_jump_mC &&
           step * 60000 > (int64_t)tolerances->air_rate_mC_per_min * (at_ms - from_ms);
}

static bool
has_jumped(const struct engine *engine, const struct probe_state *probe, int64_t at_ms,
           int32_t temp_mC)
{
    const struct plan_tolerances *tolerances =
        &engine->plans[engine->state.in_force]->tolerances;
    if (probe->kind != PROBE_AIR || probe->batch != 0 || probe->last_good.at_ms == TIME_NONE ||
        !is_jump(tolerances, probe->last_good.at_ms, probe->last_good.temp_mC, at_ms, temp_mC))
        return false;
    return probe->last.quality != SUSPECT_JUMPED ||
           is_jump(tolerances, probe->last.at_ms, probe->last.temp_mC, at_ms, temp_mC);
}

uint16_t
doubt_judge(struct engine *engine, struct engine_output *out, const struct reading *reading,
            struct probe_state *probe)
{
    if (!probe->in_plan)
        return READING_GOOD;
    if (has_jumped(engine, probe, reading->at_ms, reading->temp_mC))
        return SUSPECT_JUMPED;
    return is_stuck(engine, out, probe, reading->at_ms, reading->temp_mC) ? SUSPECT_STUCK
                                                                          : READING_GOOD;
}
