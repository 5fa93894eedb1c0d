/* Runs beside that of a batch's step. See beside.h. Pure. */
#include "daemon/engine/beside.h"

#include <string.h>

#include "daemon/engine/batches.h"

/* Serials that no step's run has: those count from 1. */
#define LIFE_SERIAL 0
#define RISE_SERIAL UINT32_MAX

enum which { LIFE, RISE, WHICH_COUNT };

/* NULL when there is none: mostly. */
static const struct plan_limit *
limit_of(const struct judging *j, enum which which)
{
    const struct plan_limit *limit = which == LIFE ? &batch_product(j->engine, j->food)->life
                                                   : batch_step(j->engine, j->food)->limit.rise;
    return limit && limit->kind != LIMIT_NONE ? limit : NULL;
}

/* Turns j into one of this run; false when there is none. */
static bool
judging_of(struct judging *j, enum which which)
{
    const struct plan_limit *limit = limit_of(j, which);
    if (!limit)
        return false;
    j->limit = limit;
    j->run = which == LIFE ? &j->food->life : &j->food->rise;
    j->period = NULL;
    return true;
}

static void
begin(const struct judging *step, enum which which)
{
    struct judging j = *step;
    if (!judging_of(&j, which))
        return;
    run_begin(j.run, which == LIFE ? LIFE_SERIAL : RISE_SERIAL, j.at_ms);
    judge_of(j.limit->kind)->begin(&j);
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
    for (enum which i = LIFE; i < WHICH_COUNT; i++) {
        if (!limit_of(j, i))
            continue;
        struct judging own = *j;
        if (judging_of(&own, i))
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
    for (enum which i = LIFE; i < WHICH_COUNT; i++) {
        if (!limit_of(step, i))
            continue;
        struct judging j = *step;
        if (judging_of(&j, i))
            take(&j, reading);
    }
}

void
beside_hand(const struct judging *step, int32_t temp_mC)
{
    for (enum which i = LIFE; i < WHICH_COUNT; i++) {
        if (!limit_of(step, i))
            continue;
        struct judging j = *step;
        if (judging_of(&j, i))
            judge_of(j.limit->kind)->hand(&j, temp_mC);
    }
}

void
beside_due(const struct judging *step)
{
    for (enum which i = LIFE; i < WHICH_COUNT; i++) {
        if (!limit_of(step, i))
            continue;
        struct judging j = *step;
        if (judging_of(&j, i))
            judge_of(j.limit->kind)->due(&j);
    }
}

int64_t
beside_next_due(const struct judging *step)
{
    int64_t first_ms = TIME_NEVER;
    for (enum which i = LIFE; i < WHICH_COUNT; i++) {
        if (!limit_of(step, i))
            continue;
        struct judging j = *step;
        int64_t due_ms = judging_of(&j, i) ? judge_of(j.limit->kind)->next_due(&j) : TIME_NEVER;
        first_ms = due_ms < first_ms ? due_ms : first_ms;
    }
    return first_ms;
}

void
beside_restart(const struct judging *step, int64_t from_ms, int64_t to_ms)
{
    for (enum which i = LIFE; i < WHICH_COUNT; i++) {
        struct judging j = *step;
        if (!judging_of(&j, i))
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
    return serial == RISE_SERIAL && judging_of(j, RISE);
}

void
beside_protects(struct judging *j)
{
    if (j->limit->kind == LIMIT_NONE)
        (void)judging_of(j, LIFE);
}
