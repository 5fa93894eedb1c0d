/* Judges cooling in stages: a clock that starts when the core falls through the start
 * temperature, and for each stage a temperature to be shown at or before its own deadline (E30
 * to E39). Pure. */
#include "daemon/engine/judge.h"
#include "daemon/engine/probes.h"
#include "daemon/engine/pulled.h"

#include <string.h>

static struct cool_state *
cool_of(const struct judging *j)
{
    return &j->run->of.cool;
}

static bool
cold_enough(const struct judging *j, size_t stage, int32_t temp_mC)
{
    return satisfies_most(temp_mC, j->limit->stages[stage].to, j->limit->strict);
}

static bool
above_start(const struct judging *j, int32_t temp_mC)
{
    return temp_compare(temp_mC, j->limit->start) > 0;
}

/* E90: either all stages count from one clock, so that time saved in one may be used in the
 * next, or each counts from when the one before was reached. */
int64_t
cool_stage_from_ms(const struct plan_limit *limit, const struct run *run, size_t stage)
{
    const struct cool_state *cool = &run->of.cool;
    if (stage == 0 || limit->stages[stage].counts_from == STAGE_FROM_START)
        return cool->clock_ms;
    return cool->passed_ms[stage - 1];
}

static int64_t
from_ms(const struct judging *j, size_t stage)
{
    return cool_stage_from_ms(j->limit, j->run, stage);
}

static int64_t
deadline_ms(const struct judging *j, size_t stage)
{
    int64_t from = from_ms(j, stage);
    return from == TIME_NONE ? TIME_NEVER : from + j->limit->stages[stage].within_ms;
}

/* Time on the stage's clock; 0 while it does not run. */
static int64_t
clock_run_ms(const struct judging *j, size_t stage)
{
    int64_t from = from_ms(j, stage);
    return from == TIME_NONE ? 0 : j->at_ms - from;
}

/* E91: when a temperature shown now was passed: now, or, after a time in which nobody saw the
 * food, right after it was last seen. Unknown time is not in the food's favour. */
static int64_t
passed_ms(const struct judging *j)
{
    const struct cool_state *cool = cool_of(j);
    int64_t spacing = j->run->watch[0].spacing_ms; /* 0 where no probe watches */
    int64_t seen = most_of(cool->judged_ms, cool->clock_ms);
    return j->at_ms - seen > spacing ? seen : j->at_ms;
}

static struct decision *
say_stage(struct judging *j, enum decision_kind kind, enum decision_reason reason, size_t stage)
{
    struct decision *said = judge_say(j, kind, reason);
    said->stage = (uint8_t)(stage + 1);
    said->required = j->limit->stages[stage].to;
    said->required_ms = j->limit->stages[stage].within_ms;
    said->since_ms = from_ms(j, stage);
    return said;
}

static void
with_governing(struct judging *j, struct decision *said)
{
    const struct watch *warmest = run_governing(j->run, j->at_ms, true);
    if (warmest) {
        said->probe = warmest->probe;
        said->temp_mC = warmest->good_mC;
    }
}

static void
cool_begin(struct judging *j)
{
    struct cool_state *cool = cool_of(j);
    cool->above_ms = cool->clock_ms = cool->judged_ms = TIME_NONE;
    cool->entered_ms = j->run->begun_ms;
    for (size_t i = 0; i < PLAN_STAGES_MAX; i++)
        cool->reached_ms[i] = cool->passed_ms[i] = cool->shown_ms[i] = TIME_NONE;
    if (j->limit->clock == COOL_CLOCK_STEP)
        cool->clock_ms = j->run->begun_ms; /* E92: the record of the step says so */
}

static void
see_whether_all_met(struct judging *j)
{
    for (size_t i = 0; i < j->limit->stage_count; i++)
        if (cool_of(j)->stage[i] != STAGE_MET)
            return;
    if (!j->run->deviated && !cool_takes_delay(j->limit, j->run))
        j->run->verdict = VERDICT_MET;
}

static struct decision *
meet_stage(struct judging *j, size_t stage, enum decision_reason reason, int64_t reached_ms,
           int32_t temp_mC)
{
    struct cool_state *cool = cool_of(j);
    struct decision *said = say_stage(j, DECISION_LIMIT_MET, reason, stage);
    said->temp_mC = temp_mC;
    said->found_ms = reached_ms - from_ms(j, stage);
    cool->stage[stage] = STAGE_MET;
    if (reason == REASON_HAND_READING)
        judge_rests(j, said);
    return said;
}

static void
stage_late(struct judging *j, size_t stage)
{
    struct cool_state *cool = cool_of(j);
    struct decision *said = say_stage(j, DECISION_DEVIATION_OPENED, REASON_TOO_LATE, stage);
    with_governing(j, said);
    said->found_ms = clock_run_ms(j, stage);
    cool->stage[stage] = STAGE_LATE;
    cool->deviation[stage] = judge_open(j, said);
}

static void
stage_unknown(struct judging *j, size_t stage)
{
    struct decision *said = say_stage(j, DECISION_INCONCLUSIVE, REASON_OUTAGE, stage);
    with_governing(j, said);
    said->found_ms = clock_run_ms(j, stage);
    uint32_t deviation = judge_undecided(j, said);
    cool_of(j)->stage[stage] = deviation != 0 ? STAGE_LATE : STAGE_UNKNOWN;
    cool_of(j)->deviation[stage] = deviation;
    cool_of(j)->passed_ms[stage] = j->run->outage_from_ms; /* E91 */
}

static bool
in_outage(const struct run *run, int64_t at_ms)
{
    return at_ms > run->outage_from_ms && at_ms < run->outage_to_ms;
}

/* The latest deviation that still goes on is the one shown. */
static void
show_deviation(struct judging *j)
{
    j->run->deviation = cool_of(j)->whole_deviation;
    for (size_t i = 0; i < j->limit->stage_count; i++)
        if (cool_of(j)->deviation[i] != 0)
            j->run->deviation = cool_of(j)->deviation[i];
}

static struct decision *
end_stage(struct judging *j, size_t stage, enum decision_reason reason)
{
    struct cool_state *cool = cool_of(j);
    if (cool->deviation[stage] == 0)
        return NULL;
    uint32_t number = cool->deviation[stage];
    cool->deviation[stage] = 0;
    struct decision *said = judge_end(j, number, reason);
    show_deviation(j);
    said->stage = (uint8_t)(stage + 1);
    said->required = j->limit->stages[stage].to;
    said->required_ms = j->limit->stages[stage].within_ms;
    said->since_ms = from_ms(j, stage);
    if (said->since_ms != TIME_NONE && cool->judged_ms >= said->since_ms)
        said->last_ms = cool->judged_ms; /* E237: all of the food was last seen too warm */
    said->found_ms = clock_run_ms(j, stage);
    return said;
}

static void
end_whole(struct judging *j, enum decision_reason reason)
{
    struct cool_state *cool = cool_of(j);
    uint32_t number = cool->whole_deviation;
    cool->whole_deviation = 0;
    judge_end(j, number, reason); /* it stands beside none of a stage */
}

static void
cool_shown(struct cool_state *cool, size_t stage, int64_t at_ms, int32_t temp_mC)
{
    cool->shown_ms[stage] = at_ms;
    cool->shown_mC[stage] = temp_mC;
}

/* Judges each stage by a temperature that all of the food is at or below now. */
static void
judge_stages(struct judging *j, int32_t temp_mC, enum decision_reason reason, uint16_t probe)
{
    struct cool_state *cool = cool_of(j);
    for (size_t i = 0; i < j->limit->stage_count; i++) {
        bool cold = cold_enough(j, i, temp_mC);
        struct decision *said = NULL;
        if (cold && cool->shown_ms[i] == TIME_NONE)
            cool_shown(cool, i, j->at_ms, temp_mC);
        switch ((enum stage_state)cool->stage[i]) {
        case STAGE_OPEN:
            if (deadline_ms(j, i) < j->at_ms) { /* by E91 its time began before anyone saw it */
                stage_late(j, i);
                said = cold ? end_stage(j, i, reason) : NULL;
            } else if (cold) {
                said = meet_stage(j, i, reason, j->at_ms, temp_mC);
            }
            break;
        case STAGE_LATE:
            if (cold)
                said = end_stage(j, i, reason);
            break;
        case STAGE_UNKNOWN: /* E64: food that is still too warm cannot have been cold enough */
            if (!cold) {
                judge_withdraw(j, REASON_OUTAGE, (uint8_t)(i + 1));
                cool->passed_ms[i] = TIME_NONE;
                stage_late(j, i);
            }
            break;
        case STAGE_MET:
            break;
        }
        if (cold && cool->passed_ms[i] == TIME_NONE)
            cool->passed_ms[i] = passed_ms(j);
        if (said) {
            said->probe = probe;
            said->temp_mC = temp_mC;
        }
    }
    cool->judged_ms = j->at_ms;
    see_whether_all_met(j);
}

/* Before the clock runs: remembers since when each stage's temperature has been shown (E36). */
static void
remember_reached(struct judging *j, int32_t temp_mC)
{
    struct cool_state *cool = cool_of(j);
    for (size_t i = 0; i < j->limit->stage_count; i++) {
        if (!cold_enough(j, i, temp_mC)) {
            cool->reached_ms[i] = TIME_NONE;
        } else if (cool->reached_ms[i] == TIME_NONE) {
            cool->reached_ms[i] = j->at_ms;
            cool->reached_mC[i] = temp_mC;
        }
    }
    cool->judged_ms = j->at_ms;
}

bool
cool_is_asked_warm(const struct plan_limit *limit, const struct run *run)
{
    const struct cool_state *cool = &run->of.cool;
    return cool->late_told && cool->clock_ms == TIME_NONE &&
           cool->reached_ms[limit->stage_count - 1] == TIME_NONE;
}

/* The question when the food was hot has its answer, without a person. */
static void
answer_late(struct judging *j)
{
    judge_withdraw(j, REASON_PROBE_LATE, 0);
    if (cool_of(j)->stage[0] ==
        STAGE_OPEN) /* not decided by a person: the list was full (E73) */
        end_whole(j, REASON_GOOD_AGAIN);
}

/* Starts the clock and judges what has passed already. */
static void
start_clock(struct judging *j, int64_t clock_ms, enum decision_reason reason)
{
    struct cool_state *cool = cool_of(j);
    cool->clock_ms = clock_ms;
    cool->dark_clock = reason == REASON_NO_GOOD_READING;
    answer_late(j);
    struct decision *said = judge_say(j, DECISION_CLOCK_STARTED, reason);
    said->since_ms = clock_ms;
    with_governing(j, said);
    for (size_t i = 0; i < j->limit->stage_count; i++) {
        int64_t reached = cool->reached_ms[i], deadline = deadline_ms(j, i);
        bool shown = reached >= clock_ms; /* TIME_NONE never is */
        if (shown) {
            cool->passed_ms[i] = reached;
            cool_shown(cool, i, reached, cool->reached_mC[i]);
        }
        if (cool->stage[i] != STAGE_OPEN)
            continue;
        if (shown && reached <= deadline)
            meet_stage(j, i, REASON_REACHED, reached, cool->reached_mC[i]);
        else if (in_outage(j->run, deadline))
            stage_unknown(j, i);
        else if (deadline < j->at_ms)
            stage_late(j, i);
    }
    see_whether_all_met(j);
}

/* E33: the probe is back and the food has not fallen through the start after all. */
static void
take_back_dark_clock(struct judging *j)
{
    struct cool_state *cool = cool_of(j);
    if (!cool->dark_clock)
        return;
    cool->dark_clock = false;
    cool->clock_ms = TIME_NONE;
    for (size_t i = 0; i < j->limit->stage_count; i++) {
        end_stage(j, i, REASON_GOOD_AGAIN);
        judge_withdraw(j, REASON_OUTAGE, (uint8_t)(i + 1));
        cool->stage[i] = STAGE_OPEN;
        cool->passed_ms[i] = TIME_NONE;
    }
}

void
cool_take_back(struct judging *j, const struct probe_state *probe)
{
    struct cool_state *cool = cool_of(j);
    for (size_t i = 0; i < j->limit->stage_count; i++) {
        if (cool->stage[i] != STAGE_MET ||
            !pulled_too_fast(j->tolerances, probe, cool->shown_ms[i], cool->shown_mC[i]))
            continue;
        struct decision *said = say_stage(j, DECISION_MET_WITHDRAWN, REASON_PULLED_OUT, i);
        said->probe = probe->number;
        said->temp_mC = cool->shown_mC[i];
        cool->stage[i] = STAGE_OPEN;
        cool->shown_ms[i] = cool->passed_ms[i] = TIME_NONE;
        if (j->run->verdict == VERDICT_MET)
            j->run->verdict = VERDICT_OPEN;
    } /* one whose time is over is due now */
}

/* ---- a clock that a person corrects ---- */

bool
cool_favours(const struct judging *j, int64_t clock_ms)
{
    const struct cool_state *cool = cool_of(j);
    bool all_met = true;
    for (size_t i = 0; i < j->limit->stage_count; i++)
        all_met = all_met && cool->stage[i] == STAGE_MET;
    return cool->clock_ms != TIME_NONE && !all_met &&
           (clock_ms == TIME_NONE || clock_ms > cool->clock_ms);
}

/* The deviation of a stage of this cooling, if it is not closed. */
static struct deviation_state *
late_of(const struct judging *j, size_t stage)
{
    struct engine_state *state = &j->engine->state;
    for (size_t i = 0; i < state->counts.deviations; i++) {
        const struct decision *opened = &state->deviations[i].opened;
        if (opened->batch == j->batch && opened->limit == LIMIT_COOL &&
            opened->stage == stage + 1 && opened->at_ms >= j->run->begun_ms &&
            strcmp(opened->step, j->step) == 0)
            return &state->deviations[i];
    }
    return NULL;
}

/* E179: its temperature has been shown or not; only the deadline moves. A deviation that is
 * closed stays. */
static void
retime_stage(struct judging *j, size_t i)
{
    struct cool_state *cool = cool_of(j);
    int64_t shown = cool->shown_ms[i], deadline = deadline_ms(j, i);
    bool in_time = shown != TIME_NONE && shown <= deadline;
    bool goes_on = shown == TIME_NONE && deadline >= j->at_ms;
    struct deviation_state *late = NULL;
    switch ((enum stage_state)cool->stage[i]) {
    case STAGE_MET:
    case STAGE_OPEN:
        if (in_time || goes_on)
            break;
        stage_late(j, i);
        if (shown != TIME_NONE)
            end_stage(j, i, REASON_REACHED);
        break;
    case STAGE_LATE:
        late = in_time || goes_on ? late_of(j, i) : NULL;
        if (late == NULL)
            break;
        deviation_withdraw(j->engine, j->out, j->at_ms, late);
        cool->deviation[i] = 0;
        cool->stage[i] = in_time ? STAGE_MET : STAGE_OPEN;
        break;
    case STAGE_UNKNOWN: /* waits for a person already */
        break;
    }
}

void
cool_retime(struct judging *j, int64_t clock_ms)
{
    struct cool_state *cool = cool_of(j);
    if (cool->clock_ms == TIME_NONE) {
        start_clock(j, clock_ms, REASON_CORRECTED);
        return;
    }
    cool->clock_ms = clock_ms;
    cool->dark_clock = false;
    if (!cool->delay_known) /* E92: asked of a clock that starts with the step alone */
        cool->entered_ms = clock_ms;
    for (size_t i = 0; i < j->limit->stage_count; i++)
        retime_stage(j, i);
    j->run->deviated = cool->delay_late;
    for (size_t i = 0; i < j->limit->stage_count; i++)
        j->run->deviated = j->run->deviated || cool->stage[i] == STAGE_LATE;
    show_deviation(j);
    if (!j->run->deviated)
        j->run->verdict = judge_waits(j) ? VERDICT_INCONCLUSIVE : VERDICT_OPEN;
    see_whether_all_met(j);
}

static void
seen_above_start(struct judging *j)
{
    struct cool_state *cool = cool_of(j);
    cool->above_ms = j->at_ms;
    take_back_dark_clock(j);
    answer_late(j); /* E35: it has been seen in hot food now */
}

/* A good reading at or below the start while the clock does not run. */
static void
below_start(struct judging *j, uint16_t probe, int32_t temp_mC)
{
    struct cool_state *cool = cool_of(j);
    if (cool->above_ms != TIME_NONE) {
        start_clock(j, cool->above_ms, REASON_FELL_THROUGH_START);
        return;
    }
    if (cool->late_told)
        return;
    cool->late_told = true;
    struct decision *said = judge_say(j, DECISION_INCONCLUSIVE, REASON_PROBE_LATE);
    said->probe = probe;
    said->temp_mC = temp_mC;
    cool->whole_deviation = judge_undecided(j, said);
}

/* E242: cooling began as the food came to where it is cooled: after the last reading without
 * it, and no later than the first that showed it. The law's clock counts from the former, what
 * has to be before cooling from the latter. */
static void
food_came(struct judging *j, struct seen_hot seen)
{
    struct cool_state *cool = cool_of(j);
    if (seen.cold_ms == TIME_NONE)
        return;
    cool->entered_ms = seen.first_ms;
    start_clock(j, seen.cold_ms, REASON_BY_ITSELF);
}

/* What is in hot food already is above the start before its next reading says so: another probe
 * of the pan may be read sooner, and is in no food yet (E236). */
static void
note_hot(struct judging *j)
{
    for (size_t i = 0; i < j->run->watch_count; i++) {
        struct watch *watch = &j->run->watch[i];
        const struct reading *last = &probe_find(j->engine, watch->probe)->last_good;
        if (last->at_ms == TIME_NONE || j->at_ms - last->at_ms > watch->spacing_ms ||
            !above_start(j, last->temp_mC))
            continue;
        watch->breach = true;
        watch->good_ms = last->at_ms;
        watch->good_mC = last->temp_mC;
    }
}

void
cool_seen_hot(struct judging *j, struct seen_hot seen)
{
    if (j->limit->clock == COOL_CLOCK_STEP) {
        food_came(j, seen);
        return;
    }
    if (seen.above_ms == TIME_NONE || cool_of(j)->clock_ms != TIME_NONE)
        return;
    cool_of(j)->above_ms = seen.above_ms;
    if (seen.fallen)
        start_clock(j, seen.above_ms, REASON_FELL_THROUGH_START);
    else
        note_hot(j);
}

static bool
any_above(const struct run *run)
{
    for (size_t i = 0; i < run->watch_count; i++)
        if (run->watch[i].breach)
            return true;
    return false;
}

static void
cool_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    struct cool_state *cool = cool_of(j);
    watch->breach = above_start(j, temp_mC);
    if (watch->breach)
        seen_above_start(j);
    else if (cool->clock_ms == TIME_NONE && !any_above(j->run))
        below_start(j, watch->probe, temp_mC);
    cool->dark_clock =
        cool->dark_clock && watch->breach; /* it has fallen through, the clock stands */
    if (!run_fresh(j->run, j->at_ms))
        return; /* E9: the one that is not seen could be warmer */
    const struct watch *warmest = run_governing(j->run, j->at_ms, true);
    if (cool->clock_ms != TIME_NONE)
        judge_stages(j, warmest->good_mC, REASON_REACHED, warmest->probe);
    else
        remember_reached(j, warmest->good_mC);
}

static void
cool_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    (void)j, (void)watch,
        (void)temp_mC; /* it satisfies nothing, and only a deadline breaches a cooling */
}

static void
cool_hand(struct judging *j, int32_t temp_mC)
{
    struct cool_state *cool = cool_of(j);
    const struct watch *warmest = run_governing(j->run, j->at_ms, true);
    int32_t governing_mC =
        warmest ? (int32_t)most_of(warmest->good_mC, temp_mC) : temp_mC; /* E52 */
    if (above_start(j, temp_mC))
        seen_above_start(j);
    else if (cool->clock_ms == TIME_NONE && !above_start(j, governing_mC))
        below_start(j, 0, temp_mC);
    if (cool->clock_ms != TIME_NONE)
        judge_stages(j, governing_mC, REASON_HAND_READING, 0);
    else
        remember_reached(j, governing_mC);
}

/* The first stage that is still open, or stage_count. */
static size_t
open_stage(const struct judging *j)
{
    size_t first = j->limit->stage_count;
    for (size_t i = 0; i < j->limit->stage_count; i++)
        if (cool_of(j)->stage[i] == STAGE_OPEN &&
            (first == j->limit->stage_count || deadline_ms(j, i) < deadline_ms(j, first)))
            first = i;
    return first;
}

static int64_t
cool_next_due(const struct judging *j)
{
    const struct cool_state *cool = cool_of(j);
    if (cool->clock_ms != TIME_NONE) {
        size_t stage = open_stage(j);
        return stage < j->limit->stage_count ? deadline_ms(j, stage) : TIME_NEVER;
    }
    if (cool->above_ms == TIME_NONE)
        return TIME_NEVER;
    int64_t seen = TIME_NEVER; /* E33: the longest dark of those last seen above the start */
    for (size_t i = 0; i < j->run->watch_count; i++)
        if (j->run->watch[i].breach)
            seen = least_of(seen, j->run->watch[i].good_ms);
    if (seen == TIME_NEVER)
        seen = cool->above_ms;
    return most_of(seen, j->run->outage_to_ms) + j->tolerances->silent_ms;
}

static void
cool_due(struct judging *j)
{
    if (cool_of(j)->clock_ms == TIME_NONE) {
        start_clock(j, cool_of(j)->above_ms, REASON_NO_GOOD_READING);
        return;
    }
    while (j->at_ms >= cool_next_due(j))
        stage_late(j, open_stage(j));
}

static void
cool_restart(struct judging *j)
{
    /* E65: while no clock runs nothing has a deadline, and a fall through the start in the
     * outage counts from the last reading above it. */
    for (size_t i = 0; i < j->limit->stage_count; i++)
        if (cool_of(j)->stage[i] == STAGE_OPEN && deadline_ms(j, i) < j->at_ms)
            stage_unknown(j, i);
}

static void
cool_leave(struct judging *j, enum leaving how)
{
    struct cool_state *cool = cool_of(j);
    bool goes_on = cool->whole_deviation != 0;
    size_t first = j->limit->stage_count;
    end_whole(j, REASON_BATCH_ENDED);
    for (size_t i = j->limit->stage_count; i-- > 0;) {
        goes_on = goes_on || cool->deviation[i] != 0;
        end_stage(j, i, REASON_BATCH_ENDED);
        if (cool->stage[i] == STAGE_OPEN)
            first = i;
    }
    bool unmet = first < j->limit->stage_count;
    if (!unmet && how != LEAVING_DISCARDED && j->run->verdict == VERDICT_OPEN &&
        cool_takes_delay(j->limit, j->run)) { /* E93 */
        judge_undecided(j, judge_say(j, DECISION_INCONCLUSIVE, REASON_PROBE_LATE));
        return;
    }
    if (unmet && how != LEAVING_DISCARDED && cool_is_asked_warm(j->limit, j->run))
        judge_withdraw(j, REASON_PROBE_LATE, 0); /* E239: it is cold at no time any more */
    if (!unmet || how == LEAVING_DISCARDED || goes_on || judge_waits(j))
        return; /* told already by a deviation that went on, or a question about it. One that
                   was over says nothing of a later stage: it may be acted on, verified, closed.
                 */
    struct decision *said = say_stage(j, DECISION_DEVIATION_OPENED, REASON_LEFT_EARLY, first);
    with_governing(j, said);
    said->found_ms = clock_run_ms(j, first);
    judge_end(j, judge_open(j, said), REASON_BATCH_ENDED);
}

static void
cool_decided(struct judging *j, const struct decision *said, bool accepted)
{
    struct cool_state *cool = cool_of(j);
    if (said->stage > 0 && said->stage <= j->limit->stage_count) {
        cool->stage[said->stage - 1] = accepted ? STAGE_MET : STAGE_LATE;
        if (!accepted)
            cool->deviation[said->stage - 1] = j->run->deviation;
    } else { /* the whole cooling, without a clock: no stage of it is open any more */
        for (size_t i = 0; i < j->limit->stage_count; i++)
            cool->stage[i] = accepted ? STAGE_MET : STAGE_LATE;
        cool->whole_deviation = j->run->deviation; /* accepted: 0, there is no other */
    }
    see_whether_all_met(j);
}

bool
cool_takes_clock(const struct run *run)
{
    const struct cool_state *cool = &run->of.cool;
    return cool->above_ms == TIME_NONE && cool->clock_ms == TIME_NONE &&
           cool->stage[0] == STAGE_OPEN;
}

bool
cool_takes_delay(const struct plan_limit *limit, const struct run *run)
{
    return limit->start_within_ms > 0 && !run->of.cool.delay_known;
}

/* E92: cooling has begun with the step; was that soon enough after cooking? */
static void
judge_delay(struct judging *j, int64_t given_ms)
{
    int64_t delay_ms = cool_of(j)->entered_ms - given_ms;
    cool_of(j)->delay_known = true;
    cool_of(j)->delay_late = delay_ms > j->limit->start_within_ms;
    if (!cool_of(j)->delay_late) {
        see_whether_all_met(j);
        return;
    }
    struct decision *said = judge_say(j, DECISION_DEVIATION_OPENED, REASON_TOO_LATE);
    said->required_ms = j->limit->start_within_ms;
    said->since_ms = given_ms;
    said->found_ms = delay_ms;
    uint32_t number = judge_open(j, said);
    judge_end(j, number, REASON_ENTERED); /* nothing can mend it */
    show_deviation(j);
}

void
cool_left_heat(struct judging *j, int64_t left_ms)
{
    if (left_ms != TIME_NONE && cool_takes_delay(j->limit, j->run) &&
        cool_of(j)->entered_ms - left_ms > j->limit->start_within_ms)
        judge_delay(j, left_ms); /* only a person knows whether it ended even earlier */
}

void
cool_cooked(struct judging *j, int64_t given_ms)
{
    if (cool_takes_delay(j->limit, j->run)) {
        judge_delay(j, given_ms);
        return;
    }
    if (!cool_takes_clock(j->run))
        return; /* E37: what the probe saw governs */
    start_clock(j, least_of(given_ms, j->at_ms), REASON_COOKED_AT);
}

static enum jump
cool_jump(const struct judging *j, bool rising, bool early)
{
    /* E43: nothing is satisfied by a rise: until the clock runs it is a probe put into hot
     * food, however late. A fall is what a pulled probe shows and is never taken for the
     * food's. */
    if (rising && (early || cool_of(j)->clock_ms == TIME_NONE))
        return JUMP_BELIEVED;
    return JUMP_LEFT_FOOD;
}

const struct judge judge_cool = {
    .begin = cool_begin,
    .good = cool_good,
    .suspect = cool_suspect,
    .hand = cool_hand,
    .due = cool_due,
    .next_due = cool_next_due,
    .restart = cool_restart,
    .leave = cool_leave,
    .decided = cool_decided,
    .jump = cool_jump,
};
