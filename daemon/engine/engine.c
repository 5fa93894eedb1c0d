/* The judge's front door: takes one input at a time, in order, and appends what it decides.
 *
 * Owned by one thread, the recorder's. It asks for no time, does no input or output and
 * allocates only in engine_new. docs/engine.md numbers its rules. */
#include "trivet/engine.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/engine/alarms.h"
#include "daemon/engine/batches.h"
#include "daemon/engine/beside.h"
#include "daemon/engine/by_itself.h"
#include "daemon/engine/doubt.h"
#include "daemon/engine/due.h"
#include "daemon/engine/entries.h"
#include "daemon/engine/marks.h"
#include "daemon/engine/places.h"
#include "daemon/engine/probes.h"
#include "daemon/engine/switches.h"
#include "daemon/engine/terminals.h"

/* The most that one due leaf decides: a cooling clock and its stages, each with a withdrawal.
 */
#define DUE_ROOM 16

struct engine *
engine_new(void)
{
    struct engine *engine = calloc(1, sizeof *engine);
    if (!engine)
        return NULL;
    struct engine_state *state = &engine->state;
    state->now_ms = state->first_ms = TIME_NONE;
    state->outage_from_ms = state->outage_to_ms = TIME_NONE;
    state->next_batch = state->next_deviation = 1;
    state->in_force = -1;
    due_clear(engine);
    return engine;
}

void
engine_free(struct engine *engine)
{
    free(engine);
}

/* ---- readings ---- */

static void
take_reading(struct engine *engine, struct engine_output *out, const struct reading *given)
{
    struct reading reading = *given;
    struct probe_state *probe = probe_find(engine, reading.probe);
    if (reading_is_suspect(reading.quality))
        reading.quality = READING_GOOD;            /* judged anew */
    if (probe && !reading_is_bad(reading.quality)) /* E123: the stored reading stays raw */
        reading.temp_mC = correction_apply(&probe->check.correction, given->temp_mC);
    if (probe && probe->batch != 0 && reading_is_good(reading.quality))
        reading.quality = batch_believes(engine, out, &reading, probe);
    if (probe && reading_is_good(reading.quality))
        reading.quality = doubt_judge(engine, out, &reading, probe);
    if (probe && reading_is_good(reading.quality) && probe->check.left_bad) /* E216 */
        reading.quality = SUSPECT_FAILED_CHECK;
    if (probe && reading_is_good(reading.quality))
        reading.quality = terminals_judge(engine, out, &reading, probe);
    out->quality = reading.quality;
    if (!probe)
        return;
    probe_note(engine, out, probe, &reading, given->temp_mC);
    if (reading_is_bad(reading.quality))
        return; /* E3: it earns nothing; all clocks run on */
    if (probe->batch != 0)
        batch_reading(engine, out, &reading, &engine->state.batches[probe->batch - 1]);
    if (reading_is_good(reading.quality))
        by_itself_reading(engine, out, &reading, probe);
    for (int16_t place = probe->first_place; place >= 0;
         place = engine->state.places[place].next_place)
        place_reading(engine, out, &reading, (size_t)place);
}

/* ---- what is due ---- */

static void
take_leaf(struct engine *engine, struct engine_output *out, size_t leaf, int64_t at_ms)
{
    struct judging j;
    if (leaf == DUE_ALARM) {
        alarms_due(engine, out, at_ms);
    } else if (leaf >= DUE_SWITCH) {
        switch_due(engine, out, at_ms, leaf - DUE_SWITCH);
    } else if (leaf >= DUE_PLACE) {
        place_due(engine, out, at_ms, leaf - DUE_PLACE);
    } else if (leaf >= DUE_BATCH) {
        struct batch_state *batch = &engine->state.batches[leaf - DUE_BATCH];
        judging_batch(&j, engine, out, at_ms, batch);
        if (at_ms >= judge_of(j.limit->kind)->next_due(&j))
            judge_of(j.limit->kind)->due(&j);
        beside_due(&j);
        beside_follow(&j);
        batch_due_again(&j, batch);
    } else {
        probe_due(engine, out, &engine->state.probes[leaf - DUE_PROBE], at_ms);
    }
}

/* Takes what is due before until_ms, earliest first, as long as the output has room; what is
 * left stays due and the next tick, at the same instant, takes it. */
static void
take_due(struct engine *engine, struct engine_output *out, int64_t until_ms, int64_t at_ms)
{
    while (due_first(engine) < until_ms && out->count + DUE_ROOM <= ENGINE_DECISIONS_MAX)
        take_leaf(engine, out, due_leaf(engine), at_ms);
}

/* ---- restart ---- */

static void
take_restart(struct engine *engine, struct engine_output *out, int64_t at_ms, int64_t since_ms)
{
    struct engine_state *state = &engine->state;
    switches_restart(engine, out, at_ms);
    if (since_ms == TIME_NONE || since_ms >= at_ms || state->in_force < 0)
        return; /* the first start, or no time was missed */
    marks_restart(engine);
    state->outage_from_ms = since_ms;
    state->outage_to_ms = at_ms;
    struct judging j;
    for (size_t i = 0; i < state->counts.batches; i++) {
        if (state->batches[i].number == 0)
            continue;
        judging_batch(&j, engine, out, at_ms, &state->batches[i]);
        run_outage(j.run, since_ms, at_ms);
        judge_of(j.limit->kind)->restart(&j);
        beside_restart(&j, since_ms, at_ms);
        batch_due_again(&j, &state->batches[i]);
    }
    for (size_t i = 0; i < state->counts.places; i++) {
        judging_place(&j, engine, out, at_ms, i);
        run_outage(j.run, since_ms, at_ms);
        judge_of(j.limit->kind)->restart(&j);
        place_due_again(&j, i);
    }
    take_due(engine, out, at_ms, at_ms);
}

void
engine_step(struct engine *engine, const struct engine_input *input, struct engine_output *ret)
{
    struct engine_state *state = &engine->state;
    assert(state->now_ms == TIME_NONE || input->at_ms >= state->now_ms);
    state->now_ms = input->at_ms;
    if (state->first_ms == TIME_NONE)
        state->first_ms = input->at_ms;
    ret->quality = READING_GOOD;
    ret->want = (struct engine_want){0};
    ret->count = 0;
    switch (input->kind) {
    case ENGINE_READING:
        take_reading(engine, ret, &input->is.reading);
        break;
    case ENGINE_ENTRY:
        entry_take(engine, ret, input);
        break;
    case ENGINE_PLAN:
        plan_takes_force(engine, ret, input->at_ms, input->seq, input->is.plan);
        break;
    case ENGINE_SWITCH:
        switch_take(engine, ret, input->at_ms, input->is.contact);
        break;
    case ENGINE_RESTART:
        take_restart(engine, ret, input->at_ms, input->is.since_ms);
        break;
    case ENGINE_TICK:
        take_due(engine, ret, input->at_ms + 1, input->at_ms);
        break;
    case ENGINE_CLOCK:
        break;
    }
    if (ret->count > 0 || input->kind == ENGINE_ENTRY || input->kind == ENGINE_PLAN)
        alarms_follow(engine, ret, input->at_ms);
}

int64_t
engine_due(const struct engine *engine)
{
    return most_of(due_first(engine), engine->state.now_ms);
}

uint32_t
engine_next_batch(const struct engine *engine)
{
    return engine->state.next_batch;
}

uint32_t
engine_next_deviation(const struct engine *engine)
{
    return engine->state.next_deviation;
}
