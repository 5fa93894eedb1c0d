/* Runs beside that of a batch's step. See beside.h. Pure. */
#include "daemon/engine/beside.h"

#include <string.h>

#include "daemon/engine/batches.h"

/* Serials that no step's run has: those count from 1. */
#define LIFE_SERIAL 0
#define RISE_SERIAL UINT32_MAX
/* And that of the step: what is asked about its oven may be answered in the next one. */
#define OVEN_SERIAL 0x80000000u

/* The first two watch the batch's own probes. */
enum which { LIFE, RISE, OVEN, WHICH_COUNT };
#define FOOD_COUNT OVEN

/* NULL when there is none: mostly. */
static const struct plan_limit *
limit_of(const struct judging *j, enum which which)
{
    const struct plan_limit *limit = NULL;
    switch (which) {
    case LIFE:
        limit = &batch_product(j->engine, j->food)->life;
        break;
    case RISE:
        limit = batch_step(j->engine, j->food)->limit.rise;
        break;
    case OVEN:
        limit = plan_oven_limit(&batch_step(j->engine, j->food)->limit, j->food->mass_g);
        break;
    case WHICH_COUNT:
        break;
    }
    return limit && limit->kind != LIMIT_NONE ? limit : NULL;
}

static struct run *
run_of(struct batch_state *batch, enum which which)
{
    return which == LIFE ? &batch->life : which == RISE ? &batch->rise : &batch->oven;
}

static uint32_t
serial_of(const struct batch_state *batch, enum which which)
{
    return which == LIFE   ? LIFE_SERIAL
           : which == RISE ? RISE_SERIAL
                           : OVEN_SERIAL | batch->run.serial;
}

/* Turns j into one of this run; false when there is none. */
static bool
judging_of(struct judging *j, enum which which)
{
    const struct plan_limit *limit = limit_of(j, which);
    if (!limit)
        return false;
    j->limit = limit;
    j->run = run_of(j->food, which);
    return true;
}

/* Likewise from that of the step, which is copied only where there is one: mostly not. */
static bool
judging_beside(struct judging *j, const struct judging *step, enum which which)
{
    if (!limit_of(step, which))
        return false;
    *j = *step;
    return judging_of(j, which);
}

static const struct place_state *
place_of(const struct engine *engine, const char *id)
{
    for (size_t i = 0; i < engine->state.counts.places; i++)
        if (strcmp(engine->state.places[i].id, id) == 0)
            return &engine->state.places[i];
    return NULL;
}

static void
begin(const struct judging *step, enum which which)
{
    struct judging j = *step;
    if (!judging_of(&j, which))
        return;
    run_begin(j.run, serial_of(j.food, which), j.at_ms);
    judge_of(j.limit->kind)->begin(&j);
    if (which == OVEN)
        oven_probe(&j, place_of(j.engine, j.food->place));
}

void
beside_begin_batch(const struct judging *j)
{
    begin(j, LIFE);
}

void
beside_begin_step(const struct judging *j)
{
    begin(j, RISE);
    begin(j, OVEN);
    for (enum which i = LIFE; i < FOOD_COUNT; i++) {
        struct judging own;
        if (judging_beside(&own, j, i))
            zone_probes(&own, j->run);
    }
}

static void
leave(const struct judging *step, enum which which, enum leaving how)
{
    struct judging j = *step;
    if (judging_of(&j, which))
        judge_of(j.limit->kind)->leave(&j, how);
}

void
beside_leave_step(const struct judging *j, enum leaving how)
{
    leave(j, RISE, how);
    leave(j, OVEN, how);
}

void
beside_leave_batch(const struct judging *j, enum leaving how)
{
    leave(j, LIFE, how);
}

static void
take(struct judging *j, const struct reading *reading)
{
    for (size_t i = 0; i < j->run->watch_count; i++) {
        struct watch *watch = &j->run->watch[i];
        if (watch->probe != reading->probe)
            continue;
        if (!reading_is_good(reading->quality)) {
            judge_of(j->limit->kind)->suspect(j, watch, reading->temp_mC);
            return;
        }
        watch->good_ms = reading->at_ms;
        watch->good_mC = reading->temp_mC;
        judge_of(j->limit->kind)->good(j, watch, reading->temp_mC);
        return;
    }
}

void
beside_reading(const struct judging *step, const struct reading *reading)
{
    for (enum which i = LIFE; i < FOOD_COUNT; i++) {
        struct judging j;
        if (judging_beside(&j, step, i))
            take(&j, reading);
    }
}

void
beside_hand(const struct judging *step, int32_t temp_mC)
{
    for (enum which i = LIFE; i < FOOD_COUNT; i++) {
        struct judging j;
        if (judging_beside(&j, step, i))
            judge_of(j.limit->kind)->hand(&j, temp_mC);
    }
}

void
beside_due(const struct judging *step)
{
    for (enum which i = LIFE; i < WHICH_COUNT; i++) {
        struct judging j;
        if (judging_beside(&j, step, i))
            judge_of(j.limit->kind)->due(&j);
    }
}

int64_t
beside_next_due(const struct judging *step)
{
    int64_t first_ms = TIME_NEVER;
    for (enum which i = LIFE; i < WHICH_COUNT; i++) {
        struct judging j;
        if (!judging_beside(&j, step, i))
            continue;
        first_ms = least_of(first_ms, judge_of(j.limit->kind)->next_due(&j));
    }
    return first_ms;
}

void
beside_restart(const struct judging *step, int64_t from_ms, int64_t to_ms)
{
    for (enum which i = LIFE; i < WHICH_COUNT; i++) {
        struct judging j;
        if (!judging_beside(&j, step, i))
            continue;
        run_outage(j.run, from_ms, to_ms);
        judge_of(j.limit->kind)->restart(&j);
    }
}

bool
beside_by_serial(struct judging *j, uint32_t serial)
{
    if (serial == LIFE_SERIAL)
        return judging_of(j, LIFE);
    if (serial == RISE_SERIAL)
        return judging_of(j, RISE);
    return serial == j->food->oven.serial && judging_of(j, OVEN);
}

/* ---- the oven ---- */

/* Of the place where batches are; mostly none of them asks anything of it. */
void
beside_place_reading(struct engine *engine, struct engine_output *out,
                     const struct reading *reading, const char *place)
{
    for (size_t i = 0; i < engine->state.counts.batches; i++) {
        struct batch_state *batch = &engine->state.batches[i];
        if (batch->oven.watch_count == 0 || strcmp(batch->place, place) != 0)
            continue;
        struct judging j;
        judging_batch(&j, engine, out, reading->at_ms, batch);
        if (!judging_of(&j, OVEN))
            continue;
        batch->oven.watch[0].probe = reading->probe; /* a new plan may name another one */
        take(&j, reading);
        judging_batch(&j, engine, out, reading->at_ms, batch);
        batch_due_again(&j, batch);
    }
}

void
beside_oven_over(const struct judging *step)
{
    struct judging j = *step;
    if (judging_of(&j, OVEN))
        oven_over(&j, LEAVING_ON);
}

void
beside_follow(const struct judging *step)
{
    if (step->food->run.verdict == VERDICT_MET)
        beside_oven_over(step);
}

bool
beside_has_oven(const struct judging *step)
{
    return limit_of(step, OVEN) && step->food->oven.of.oven.over_ms == TIME_NONE;
}

void
beside_protects(struct judging *j)
{
    if (j->limit->kind == LIMIT_NONE)
        (void)judging_of(j, LIFE);
}
