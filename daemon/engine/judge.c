/* The table of judges and what they share: exact comparison, unbroken runs, decisions,
 * deviations. Pure. */
#include "daemon/engine/judge.h"
#include "daemon/engine/affected.h"
#include "daemon/engine/list.h"
#include "daemon/engine/marks.h"

#include <assert.h>
#include <string.h>

static const struct judge *const judges[] = {
    [LIMIT_NONE] = &judge_none,        [LIMIT_COOK] = &judge_cook,
    [LIMIT_HOLD_HOT] = &judge_hold,    [LIMIT_HOLD_COLD] = &judge_hold,
    [LIMIT_COOL] = &judge_cool,        [LIMIT_REHEAT] = &judge_cook,
    [LIMIT_COOK_TABLE] = &judge_table, [LIMIT_LETHALITY] = &judge_lethality,
    [LIMIT_TIME] = &judge_time,        [LIMIT_ZONE] = &judge_zone,
    [LIMIT_RISE] = &judge_zone,        [LIMIT_SUM] = &judge_sum,
    [LIMIT_OVEN] = &judge_oven,        [LIMIT_MOIST_OVEN] = &judge_oven,
    [LIMIT_DAYS] = &judge_none, /* of no run: marks.c */
};

const struct judge *
judge_of(enum limit_kind kind)
{
    assert((size_t)kind < sizeof judges / sizeof judges[0]);
    return judges[kind];
}

void
run_begin(struct run *run, uint32_t serial, int64_t at_ms)
{
    memset(run, 0, sizeof *run);
    run->serial = serial;
    run->begun_ms = at_ms;
    run->verdict = VERDICT_OPEN;
}

void
run_outage(struct run *run, int64_t from_ms, int64_t to_ms)
{
    run->outage_from_ms = from_ms;
    run->outage_to_ms = to_ms;
    run->outage_ms += to_ms - from_ms;
}

/* ---- comparison ---- */

bool
satisfies_least(int32_t temp_mC, struct limit_temp limit, bool strict)
{
    int side = temp_compare(temp_mC, limit);
    return strict ? side > 0 : side >= 0;
}

bool
satisfies_most(int32_t temp_mC, struct limit_temp limit, bool strict)
{
    int side = temp_compare(temp_mC, limit);
    return strict ? side < 0 : side <= 0;
}

/* ---- unbroken runs ---- */

void
watch_satisfied(struct watch *watch, int64_t at_ms)
{
    /* E5, E8: time between two readings further apart is unknown, and unknown time breaks what
     * must be unbroken. */
    if (watch->since_ms == TIME_NONE || at_ms - watch->last_ms > watch->spacing_ms)
        watch->since_ms = at_ms;
    watch->last_ms = at_ms;
}

void
watch_broken(struct watch *watch)
{
    watch->since_ms = watch->last_ms = TIME_NONE;
}

void
run_broken(struct run *run)
{
    for (size_t i = 0; i < run->watch_count; i++)
        watch_broken(&run->watch[i]);
}

int64_t
run_held_ms(const struct run *run, int64_t *ret_since_ms)
{
    /* E9: what all of them have shown together, which is what the coldest (or warmest) has
     * shown. */
    int64_t since = TIME_NONE, last = TIME_NEVER;
    for (size_t i = 0; i < run->watch_count; i++) {
        since = most_of(since, run->watch[i].since_ms);
        last = least_of(last, run->watch[i].last_ms); /* TIME_NONE of one that is broken */
    }
    if (since == TIME_NONE || last < since)
        return -1;
    if (ret_since_ms)
        *ret_since_ms = since;
    return last - since;
}

bool
watch_fresh(const struct watch *watch, int64_t at_ms)
{
    return watch->good_ms != TIME_NONE && at_ms - watch->good_ms <= watch->spacing_ms;
}

bool
run_fresh(const struct run *run, int64_t at_ms)
{
    for (size_t i = 0; i < run->watch_count; i++)
        if (!watch_fresh(&run->watch[i], at_ms))
            return false;
    return true;
}

const struct watch *
run_governing(const struct run *run, int64_t at_ms, bool warmest)
{
    const struct watch *found = NULL;
    for (size_t i = 0; i < run->watch_count; i++) {
        const struct watch *watch = &run->watch[i];
        if (!watch_fresh(watch, at_ms))
            continue;
        if (!found ||
            (warmest ? watch->good_mC > found->good_mC : watch->good_mC < found->good_mC))
            found = watch;
    }
    return found;
}

/* ---- decisions ---- */

void
decision_copy(struct decision *to, const struct decision *from)
{
    memcpy(to, from, sizeof *to); /* padding too: saved states are compared as bytes */
}

struct decision *
say(struct engine *engine, struct engine_output *out, int64_t at_ms, enum decision_kind kind,
    enum decision_reason reason)
{
    /* No input decides as much as an output holds (what is due is taken in portions, see
     * engine.c). */
    assert(out->count < ENGINE_DECISIONS_MAX);
    struct decision *said =
        out->count < ENGINE_DECISIONS_MAX ? &out->decisions[out->count++] : &engine->spill;
    memset(said, 0, sizeof *said);
    said->kind = kind;
    said->reason = reason;
    said->at_ms = at_ms;
    said->temp_mC = said->worst_mC = TEMP_NONE;
    said->since_ms = TIME_NONE;
    return said;
}

static int64_t
required_ms(const struct plan_limit *limit)
{
    switch (limit->kind) {
    case LIMIT_COOK:
    case LIMIT_REHEAT:
    case LIMIT_COOK_TABLE:
    case LIMIT_LETHALITY:
    case LIMIT_SUM:
        return limit->hold_ms;
    case LIMIT_HOLD_HOT:
    case LIMIT_HOLD_COLD:
    case LIMIT_OVEN:
    case LIMIT_MOIST_OVEN:
        return limit->period_ms > 0 ? limit->period_ms : limit->tolerance_ms;
    case LIMIT_TIME:
    case LIMIT_ZONE:
    case LIMIT_RISE:
        return limit->within_ms;
    case LIMIT_COOL:
    case LIMIT_DAYS:
    case LIMIT_NONE:
        break;
    }
    return 0;
}

struct decision *
judge_say(struct judging *j, enum decision_kind kind, enum decision_reason reason)
{
    struct decision *said = say(j->engine, j->out, j->at_ms, kind, reason);
    said->batch = j->batch;
    keep_word(said->place, sizeof said->place, j->place);
    keep_word(said->step, sizeof said->step, j->step);
    said->limit = j->limit->kind;
    said->subject = j->limit->subject;
    said->required = j->limit->kind == LIMIT_COOL ? j->limit->start : j->limit->temp;
    said->required_ms = required_ms(j->limit);
    said->unverified = j->limit->unverified;
    said->guard_mK = j->limit->guard_mK; /* E170 */
    said->uncertainty_mK = j->limit->uncertainty_mK;
    return said;
}

/* ---- deviations ---- */

uint32_t
deviation_open(struct engine *engine, struct decision *said)
{
    struct engine_state *state = &engine->state;
    said->deviation = state->next_deviation++;
    if (state->counts.deviations <
        ENGINE_DEVIATIONS_MAX) { /* else on record and told, but not listed (E84) */
        struct deviation_state *d = &state->deviations[state->counts.deviations++];
        memset(d, 0, sizeof *d);
        decision_copy(&d->opened, said);
        d->number = said->deviation;
        d->ended_ms = d->action_ms = TIME_NONE;
        affected_open(engine, d);
    }
    return said->deviation;
}

struct deviation_state *
deviation_find(struct engine *engine, uint32_t number)
{
    for (size_t i = 0; i < engine->state.counts.deviations; i++)
        if (engine->state.deviations[i].number == number)
            return &engine->state.deviations[i];
    return NULL;
}

static void
deviation_drop(struct engine *engine, struct deviation_state *deviation)
{
    struct engine_state *state = &engine->state;
    list_take_out(state->deviations, &state->counts.deviations, deviation, sizeof *deviation);
}

void
deviation_close_if_done(struct engine *engine, struct deviation_state *deviation)
{
    if (deviation->ended_ms != TIME_NONE && deviation->action_seq != 0 &&
        deviation->verified_seq != 0)
        deviation_drop(engine, deviation);
}

void
deviation_end(struct engine *engine, uint32_t number, int64_t at_ms)
{
    struct deviation_state *deviation = deviation_find(engine, number);
    if (!deviation)
        return;
    deviation->ended_ms = at_ms; /* closed, if that closes it, once its alarm has heard of it */
}

void
deviation_withdraw(struct engine *engine, struct engine_output *out, int64_t at_ms,
                   struct deviation_state *deviation)
{
    static const enum decision_kind kinds[] = {DECISION_DEVIATION_ENDED,
                                               DECISION_DEVIATION_WITHDRAWN};
    for (size_t i = deviation->ended_ms == TIME_NONE ? 0 : 1; i < 2; i++) {
        struct decision *said = say(engine, out, at_ms, kinds[i], REASON_CORRECTED);
        decision_copy(said, &deviation->opened);
        said->kind = kinds[i];
        said->reason = REASON_CORRECTED;
        said->at_ms = at_ms;
        said->found_ms = 0;
    }
    bar_withdraw(engine, deviation);
    deviation_drop(engine, deviation);
}

uint32_t
judge_open(struct judging *j, struct decision *said)
{
    j->run->deviated = true;
    j->run->verdict = VERDICT_NOT_MET;
    j->run->deviation = deviation_open(j->engine, said);
    const struct deviation_state *listed = deviation_find(j->engine, j->run->deviation);
    if (listed)
        mark_thawed(j->engine, j->out, j->at_ms, listed);
    return j->run->deviation;
}

struct decision *
judge_end(struct judging *j, uint32_t number, enum decision_reason reason)
{
    if (number == 0)
        return NULL;
    struct decision *said = judge_say(j, DECISION_DEVIATION_ENDED, reason);
    said->deviation = number;
    deviation_end(j->engine, number, j->at_ms);
    j->run->deviation = 0;
    return said;
}

/* ---- what waits for a person ---- */

uint32_t
judge_undecided(struct judging *j, struct decision *said)
{
    if (!undecided_add(j->engine, said, j->run->serial)) { /* E73: never silently dropped */
        said->kind = DECISION_DEVIATION_OPENED;
        return judge_open(j, said);
    }
    if (!j->run->deviated)
        j->run->verdict = VERDICT_INCONCLUSIVE;
    return 0;
}

bool
undecided_add(struct engine *engine, const struct decision *said, uint32_t serial)
{
    struct engine_state *state = &engine->state;
    if (state->counts.undecided == UNDECIDED_MAX)
        return false;
    struct undecided *u = &state->undecided[state->counts.undecided++];
    decision_copy(&u->said, said);
    u->serial = serial;
    return true;
}

void
undecided_drop(struct engine *engine, size_t index)
{
    struct engine_state *state = &engine->state;
    const struct undecided *u = &state->undecided[index];
    list_take_out(state->undecided, &state->counts.undecided, u, sizeof *u);
}

static bool
is_of(const struct undecided *u, const struct judging *j)
{
    return u->said.batch == j->batch && u->serial == j->run->serial;
}

bool
judge_waits(const struct judging *j)
{
    for (size_t i = 0; i < j->engine->state.counts.undecided; i++)
        if (is_of(&j->engine->state.undecided[i], j))
            return true;
    return false;
}

void
judge_withdraw(struct judging *j, enum decision_reason reason, uint8_t stage)
{
    struct engine_state *state = &j->engine->state;
    for (size_t i = 0; i < state->counts.undecided; i++) {
        const struct undecided *u = &state->undecided[i];
        if (is_of(u, j) && u->said.reason == reason && u->said.stage == stage) {
            undecided_drop(j->engine, i);
            break;
        }
    }
    if (j->run->verdict == VERDICT_INCONCLUSIVE && !judge_waits(j))
        j->run->verdict = VERDICT_OPEN;
}

struct hand_state *
hand_add(struct engine *engine, uint64_t seq, uint32_t batch)
{
    struct engine_state *state = &engine->state;
    struct hand_state *hand = &state->hands[state->hand_next];
    state->hand_next = (state->hand_next + 1) % HANDS_MAX;
    if (state->counts.hands < HANDS_MAX)
        state->counts.hands++;
    memset(hand, 0, sizeof *hand);
    hand->seq = seq;
    hand->batch = batch;
    return hand;
}

void
judge_rests(struct judging *j, const struct decision *met)
{
    struct hand_state *hand = hand_add(j->engine, j->seq, j->batch);
    decision_copy(&hand->met, met);
    hand->rests = true;
    hand->strict = j->limit->strict;
    hand->serial = j->run->serial;
}

/* ---- a step without a limit ---- */

static void
none_reading(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    (void)j, (void)watch, (void)temp_mC;
}

static void
none_hand(struct judging *j, int32_t temp_mC)
{
    (void)j, (void)temp_mC;
}

static void
none_due(struct judging *j)
{
    (void)j;
}

static int64_t
none_next_due(const struct judging *j)
{
    (void)j;
    return TIME_NEVER;
}

static void
none_leave(struct judging *j, enum leaving how)
{
    (void)j, (void)how;
}

static void
none_decided(struct judging *j, const struct decision *said, bool accepted)
{
    (void)j, (void)said, (void)accepted;
}

static enum jump
none_jump(const struct judging *j, bool rising, bool early)
{
    (void)j, (void)rising, (void)early;
    return JUMP_BELIEVED; /* nothing to satisfy, nothing to protect */
}

const struct judge judge_none = {
    .begin = none_due,
    .good = none_reading,
    .suspect = none_reading,
    .hand = none_hand,
    .due = none_due,
    .next_due = none_next_due,
    .restart = none_due,
    .leave = none_leave,
    .decided = none_decided,
    .jump = none_jump,
};
