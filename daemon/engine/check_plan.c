/* Whether a plan can come into force now (E85): whatever an open batch or deviation needs to go
 * on has to be in it. If not, what is missing and what to do, in words for the person who wrote
 * the plan. Reads only; formats text. Pure. */
#include "trivet/engine_plan.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "daemon/engine/judge.h"

struct check {
    const struct engine *engine;
    const struct plan *plan; /* that wants to come into force */
    char *reterr;
    size_t size, len;
    bool ok;
};

/* One line for each thing; what does not fit is left out. */
static void __attribute__((format(printf, 2, 3)))
missing(struct check *c, const char *format, ...)
{
    c->ok = false;
    assert(c->size > 0);
    (void)snprintf(c->reterr + c->len, c->size - c->len, "%s", c->len != 0 ? "\n" : "");
    c->len += strlen(c->reterr + c->len);
    va_list args;
    va_start(args, format);
    (void)vsnprintf(c->reterr + c->len, c->size - c->len, format, args);
    va_end(args);
    c->len += strlen(c->reterr + c->len);
}

static const struct plan_probe *
probe_of(const struct plan *plan, uint16_t number)
{
    int index = plan_probe_by_number(plan, number);
    return index < 0 ? NULL : &plan->probes[index];
}

/* The new plan's probes have no numbers yet: ids tell which is which. */
static const struct plan_probe *
same_probe(const struct plan *plan, const char *id)
{
    int index = plan_probe_index(plan, id);
    return index < 0 ? NULL : &plan->probes[index];
}

static void
check_batch(struct check *c, const struct batch_state *batch)
{
    const struct plan *began = c->engine->plans[batch->plan];
    for (size_t i = 0; i < batch->run.watch_count; i++) {
        const struct plan_probe *probe = probe_of(began, batch->run.watch[i].probe);
        const struct plan_probe *now = probe == NULL ? NULL : same_probe(c->plan, probe->id);
        if (probe != NULL && now == NULL)
            missing(c,
                    "probe '%s' is in batch %u, which is still open; keep it in the plan until "
                    "that batch has ended",
                    probe->id, batch->number);
        else if (probe != NULL && now->kind != PROBE_FOOD)
            missing(c,
                    "probe '%s' is in batch %u, which is still open; leave it kind: food until "
                    "that batch has ended",
                    probe->id, batch->number);
    }
    if (batch->place[0] && plan_place_index(c->plan, batch->place) < 0)
        missing(
            c,
            "batch %u stands in place '%s'; keep that place in the plan until the batch has "
            "moved on or ended",
            batch->number, batch->place);
}

/* A deviation without a corrective action must not end because what it is about is no longer
 * looked at. */
static void
check_going_on(struct check *c, const struct deviation_state *deviation)
{
    const struct plan *in_force = engine_plan(c->engine);
    const char *place = deviation->opened.place;
    const struct plan_probe *probe =
        in_force == NULL ? NULL : probe_of(in_force, deviation->opened.probe);
    bool gap = deviation->opened.kind == DECISION_GAP_OPENED ||
               deviation->opened.reason == REASON_FAILED_CHECK;
    const char *held = deviation->opened.thermometer;
    if (deviation->ended_ms != TIME_NONE || deviation->action_seq != 0 ||
        deviation->opened.batch != 0)
        return;
    if (place[0] && plan_place_index(c->plan, place) < 0)
        missing(
            c,
            "place '%s' has deviation %u, which goes on without a corrective action; record "
            "that first, then take the place out",
            place, deviation->number);
    else if (gap && probe != NULL && same_probe(c->plan, probe->id) == NULL)
        missing(
            c,
            "probe '%s' has deviation %u, which goes on without a corrective action; record "
            "that first, then take the probe out",
            probe->id, deviation->number);
    else if (held[0] && plan_handheld(c->plan, held) == NULL)
        missing(c,
                "thermometer '%s' has deviation %u, which goes on without a corrective action; "
                "record that first, then take the thermometer out",
                held, deviation->number);
}

static bool
can_verify(const struct plan *plan, const char *acted)
{
    if (plan->sole_operator)
        return true;
    for (size_t i = 0; i < plan->person_count; i++)
        if (plan->people[i].role != ROLE_COOK && strcmp(plan->people[i].initials, acted) != 0)
            return true;
    return false;
}

static void
check_deviation(struct check *c, const struct deviation_state *deviation)
{
    check_going_on(c, deviation);
    if (deviation->action_seq != 0 && deviation->verified_seq == 0 &&
        !can_verify(c->plan, deviation->action_by))
        missing(
            c,
            "the action of %s on deviation %u waits for verification and nobody else in the "
            "plan may verify; keep a supervisor or verifier",
            deviation->action_by, deviation->number);
}

bool
engine_check_plan(const struct engine *engine, const struct plan *plan, char *reterr,
                  size_t err_size)
{
    struct check c = {
        .engine = engine, .plan = plan, .reterr = reterr, .size = err_size, .ok = true};
    const struct engine_state *state = &engine->state;
    for (size_t i = 0; i < state->counts.batches; i++)
        check_batch(&c, &state->batches[i]); /* of a free slot there is nothing */
    for (size_t i = 0; i < state->counts.deviations; i++)
        check_deviation(&c, &state->deviations[i]);
    return c.ok;
}
