/* The probes an engine knows, and the deviation of its own kind: a probe without a good reading
 * for too long. Pure. */
#include "daemon/engine/probes.h"

#include <assert.h>
#include <string.h>

#include "daemon/engine/calibrate.h"
#include "daemon/engine/coming.h"
#include "daemon/engine/due.h"
#include "daemon/engine/terminals.h"

struct probe_state *
probe_find(struct engine *engine, uint16_t number)
{
    uint16_t slot = engine->slot_of[number];
    return slot ? &engine->state.probes[slot - 1] : NULL;
}

size_t
probe_slot(const struct engine *engine, const struct probe_state *probe)
{
    return (size_t)(probe - engine->state.probes);
}

struct probe_state *
probe_take(struct engine *engine, uint16_t number)
{
    assert(number != 0);
    struct probe_state *probe = probe_find(engine, number);
    if (probe)
        return probe;
    size_t slot = 0;
    while (slot < PROBE_SLOTS_MAX && engine->state.probes[slot].number != 0)
        slot++;
    assert(slot <
           PROBE_SLOTS_MAX); /* a plan's probes and those of the open batches always fit */
    probe = &engine->state.probes[slot]; /* all zero, as probes_sweep left it; what is of
                                          * food is set by credible_hand_over */
    probe->number = number;
    probe->first_place = -1;
    probe->last.at_ms = probe->last_good.at_ms = TIME_NONE;
    probe->last.temp_mC = probe->last_good.temp_mC = TEMP_NONE;
    probe->last.probe = probe->last_good.probe = number;
    probe->last_raw_mC = probe->last_good_raw_mC = TEMP_NONE;
    check_state_clear(&probe->check);
    probe->same_ms = probe->apart_ms = TIME_NONE;
    probe->least_step_mC = INT32_MAX;
    probe->hot_ms = probe->hot_above_ms = TIME_NONE;
    coming_clear(probe);
    engine->slot_of[number] = (uint16_t)(slot + 1);
    if (slot >= engine->state.counts.probes)
        engine->state.counts.probes = (uint32_t)slot + 1;
    return probe;
}

bool
probe_matters(const struct probe_state *probe)
{
    return probe->batch != 0 || probe->first_place >= 0 ||
           (probe->in_plan && probe->kind == PROBE_AIR);
}

void
probes_sweep(struct engine *engine)
{
    struct engine_state *state = &engine->state;
    for (size_t i = 0; i < state->counts.probes; i++) {
        struct probe_state *probe = &state->probes[i];
        if (probe->number == 0 || probe->in_plan || probe->batch != 0 || probe->gap)
            continue;
        engine->slot_of[probe->number] = 0;
        due_set(engine, DUE_PROBE + i, TIME_NEVER);
        memset(probe, 0, sizeof *probe);
    }
    while (state->counts.probes > 0 && state->probes[state->counts.probes - 1].number == 0)
        state->counts.probes--;
}

void
probes_index(struct engine *engine)
{
    for (size_t i = 0; i < engine->state.counts.probes; i++)
        if (engine->state.probes[i].number != 0)
            engine->slot_of[engine->state.probes[i].number] = (uint16_t)(i + 1);
}

static int64_t
silent_ms(const struct engine *engine)
{
    int32_t in_force = engine->state.in_force;
    return in_force >= 0 ? engine->plans[in_force]->tolerances.silent_ms : TIME_NEVER;
}

void
probe_due_again(struct engine *engine, struct probe_state *probe)
{
    int64_t due = TIME_NEVER;
    if (probe->gap && !probe_matters(probe))
        due = engine->state
                  .now_ms; /* nobody waits for it any more: its gap ends at the next tick */
    else if (!probe->gap && probe_matters(probe) && engine->state.in_force >= 0)
        due = probe->silent_from_ms + silent_ms(engine);
    due_set(engine, DUE_PROBE + probe_slot(engine, probe), due);
}

void
probe_watched_from(struct probe_state *probe, int64_t at_ms)
{
    if (!probe_matters(probe) && !probe->gap)
        probe->silent_from_ms = at_ms;
}

static struct decision *
say_gap(struct engine *engine, struct engine_output *out, const struct probe_state *probe,
        int64_t at_ms, enum decision_kind kind, enum decision_reason reason)
{
    struct decision *said = say(engine, out, at_ms, kind, reason);
    said->probe = probe->number;
    if (probe->batch != 0)
        said->batch = engine->state.batches[probe->batch - 1].number;
    if (probe->first_place >= 0)
        memcpy(said->place, engine->state.places[probe->first_place].id, sizeof said->place);
    return said;
}

static void
end_gap(struct engine *engine, struct engine_output *out, struct probe_state *probe,
        int64_t at_ms, enum decision_reason reason, int32_t temp_mC)
{
    struct decision *said = say_gap(engine, out, probe, at_ms, DECISION_GAP_ENDED, reason);
    const struct deviation_state *deviation = deviation_find(engine, probe->gap_deviation);
    said->deviation = probe->gap_deviation;
    said->temp_mC = temp_mC;
    said->since_ms = probe->silent_from_ms;
    said->found_ms = at_ms - probe->silent_from_ms;
    if (deviation) { /* the same batch and place as when it opened */
        said->batch = deviation->opened.batch;
        memcpy(said->place, deviation->opened.place, sizeof said->place);
    }
    deviation_end(engine, probe->gap_deviation, at_ms);
    probe->gap = false;
}

void
probe_due(struct engine *engine, struct engine_output *out, struct probe_state *probe,
          int64_t at_ms)
{
    const struct engine_state *state = &engine->state;
    if (probe->gap) {
        end_gap(engine, out, probe, at_ms, REASON_ENTERED, TEMP_NONE);
        probe_due_again(engine, probe);
        probes_sweep(engine);
        return;
    }
    int64_t due = probe->silent_from_ms + silent_ms(engine);
    bool unwatched = state->outage_from_ms != TIME_NONE && due > state->outage_from_ms &&
                     due < state->outage_to_ms;
    struct decision *said =
        say_gap(engine, out, probe, at_ms, DECISION_GAP_OPENED,
                unwatched ? REASON_OUTAGE : REASON_NO_GOOD_READING); /* E66 */
    said->required_ms = silent_ms(engine);
    said->since_ms = probe->silent_from_ms;
    said->found_ms = at_ms - probe->silent_from_ms;
    probe->gap = true;
    probe->gap_deviation = deviation_open(engine, said);
    probe_due_again(engine, probe);
}

void
probe_note(struct engine *engine, struct engine_output *out, struct probe_state *probe,
           const struct reading *reading, int32_t raw_mC)
{
    memcpy(&probe->last, reading, sizeof *reading);
    probe->last_raw_mC = raw_mC;
    terminals_note(probe, reading->quality);
    if (reading->quality == SUSPECT_FAILED_CHECK && !probe->gap) { /* E216: it is not silent */
        probe->silent_from_ms = reading->at_ms;
        probe_due_again(engine, probe);
    }
    if (!reading_is_good(reading->quality))
        return;
    memcpy(&probe->last_good, reading, sizeof *reading);
    probe->last_good_raw_mC = raw_mC;
    if (probe->gap)
        end_gap(engine, out, probe, reading->at_ms, REASON_GOOD_AGAIN, reading->temp_mC);
    probe->silent_from_ms = reading->at_ms;
    probe_due_again(engine, probe);
}
