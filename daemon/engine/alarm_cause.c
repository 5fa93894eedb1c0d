/* Which deviations have one cause: a short list of cases, each of which a person would tell in
 * one breath. What is not in it is an alarm of its own. Pure; looks at what was decided and at
 * the plan in force. */
#include "daemon/engine/alarm_cause.h"

#include <stdlib.h>
#include <string.h>

static bool
is_gap(const struct decision *d)
{
    return d->kind == DECISION_GAP_OPENED;
}

static bool
is_of_place(const struct decision *d)
{
    return !is_gap(d) && d->batch == 0 && d->place[0] != '\0' && d->limit != LIMIT_NONE;
}

static bool
is_of_batch(const struct decision *d)
{
    return !is_gap(d) && d->batch != 0;
}

/* What another trouble can bring about. Food whose time is up, or a step that was left early,
 * is news of its own whatever else is wrong with the batch. */
static bool
can_follow(const struct decision *d)
{
    return d->limit != LIMIT_ZONE && d->limit != LIMIT_OVEN && d->limit != LIMIT_MOIST_OVEN &&
           (d->reason == REASON_TOO_LATE || d->reason == REASON_OUT_TOO_LONG);
}

/* Limits that the air around the food can break. */
static bool
follows_air(const struct decision *d)
{
    return d->limit == LIMIT_HOLD_HOT || d->limit == LIMIT_HOLD_COLD || d->limit == LIMIT_COOL;
}

static const struct plan_probe *
probe_in_force(const struct engine *engine, uint16_t number)
{
    const struct plan *plan = engine_plan(engine);
    int index = plan_probe_by_number(plan, number);
    return index < 0 ? NULL : &plan->probes[index];
}

static int64_t
spacing_ms(const struct engine *engine, const struct plan_probe *probe)
{
    return (int64_t)engine_plan(engine)->tolerances.spacing_polls * probe->every_ms;
}

/* Two probes of one bus whose last good readings lie no further apart than readings may: the
 * line, its adapter or its power went, not one probe after another. */
static bool
silent_together(const struct engine *engine, const struct decision *a, const struct decision *b)
{
    const struct plan_probe *one = probe_in_force(engine, a->probe),
                            *other = probe_in_force(engine, b->probe);
    if (!one || !other || one->bus != other->bus)
        return false;
    return llabs(a->since_ms - b->since_ms) <=
           most_of(spacing_ms(engine, one), spacing_ms(engine, other));
}

static uint16_t
probe_of_place(const struct engine *engine, const char *id)
{
    for (size_t i = 0; i < engine->state.counts.places; i++)
        if (strcmp(engine->state.places[i].id, id) == 0)
            return engine->state.places[i].probe;
    return 0;
}

/* In one place, or in two that one probe watches: it is the same air, or the same probe. Food
 * that is nowhere is not in the same. */
static bool
under_one_probe(const struct engine *engine, const struct decision *a, const struct decision *b)
{
    uint16_t probe = probe_of_place(engine, a->place);
    return probe != 0 && probe == probe_of_place(engine, b->place);
}

bool
same_cause(const struct engine *engine, const struct decision *going_on,
           const struct decision *opened)
{
    const struct decision *c = going_on, *d = opened;
    if (is_gap(d))
        return is_gap(c) && silent_together(engine, c, d);
    if (is_of_batch(d)) {
        if (!can_follow(d))
            return false;
        if (c->batch == d->batch)
            return true;
        return is_of_place(c) && follows_air(d) && under_one_probe(engine, c, d);
    }
    uint16_t probe = probe_of_place(engine, d->place); /* 0 where it is of a thermometer */
    if (is_gap(c))
        return probe != 0 && c->probe == probe;
    if (is_of_place(c))
        return probe != 0 && probe_of_place(engine, c->place) == probe;
    return is_of_batch(c) && follows_air(c) && under_one_probe(engine, c, d) &&
           c->since_ms != TIME_NONE && d->since_ms != TIME_NONE && c->since_ms >= d->since_ms;
}

int
cause_rank(const struct decision *opened)
{
    return is_gap(opened) ? 2 : is_of_place(opened) ? 1 : 0;
}
