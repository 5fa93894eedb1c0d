/* Judges hot and cold holding, of food on a step and of places: outside for longer than the
 * tolerance, counted until it has been back inside for a while (E20 to E27); or outside once in
 * the batch's life, for less than a time, where the plan says so (E140 to E144). Pure. */
#include "daemon/engine/judge.h"

static bool
inside(const struct judging *j, int32_t temp_mC)
{
    return j->limit->kind == LIMIT_HOLD_HOT
               ? satisfies_least(temp_mC, j->limit->temp, j->limit->strict)
               : satisfies_most(temp_mC, j->limit->temp, j->limit->strict);
}

static bool
running(const struct hold_state *hold)
{
    return hold->first_ms != TIME_NONE;
}

/* The batch may be outside once, and has not come back from that for good. */
static bool
period_left(const struct judging *j)
{
    return j->period && !j->period->over;
}

/* The time outside that is let pass. */
static int64_t
allowed_ms(const struct judging *j)
{
    if (j->period)
        return j->period->over ? 0 : j->limit->period_ms;
    return j->limit->tolerance_ms;
}

static enum decision_reason
too_long(const struct judging *j)
{
    if (!j->period)
        return REASON_OUT_TOO_LONG;
    return j->period->over ? REASON_OUT_AGAIN : REASON_PERIOD_LONG;
}

/* Outside time that is certain. For a place nobody can be asked, so unknown time after an
 * outside reading counts as outside; for a batch it waits for a person (E62). */
static int64_t
counted_ms(const struct judging *j)
{
    const struct hold_state *hold = &j->run->of.hold;
    return hold->counted_ms + (j->batch == 0 ? hold->unknown_ms : 0);
}

static void
open_deviation(struct judging *j)
{
    struct hold_state *hold = &j->run->of.hold;
    int64_t outside = counted_ms(j) + j->at_ms - hold->from_ms;
    bool certain = outside - (j->batch == 0 ? hold->unknown_ms : 0) >= allowed_ms(j);
    struct decision *said =
        judge_say(j, DECISION_DEVIATION_OPENED, certain ? too_long(j) : REASON_OUTAGE);
    said->probe = hold->worst_probe;
    said->temp_mC = hold->worst_mC;
    said->since_ms = hold->first_ms;
    said->found_ms = outside;
    judge_open(j, said);
    if (hold->unknown_told) /* of this excursion: that of one before stays a question */
        judge_withdraw(j, REASON_OUTAGE, 0); /* certain now, whatever happened in the outage */
}

/* E166: the tolerance is for what is little outside. */
static void
open_above_ceiling(struct judging *j, uint16_t probe, int32_t temp_mC)
{
    struct hold_state *hold = &j->run->of.hold;
    struct decision *said = judge_say(j, DECISION_DEVIATION_OPENED, REASON_ABOVE_CEILING);
    said->required = j->limit->ceiling;
    said->required_ms = 0;
    said->probe = probe;
    said->temp_mC = temp_mC;
    said->since_ms = hold->first_ms;
    judge_open(j, said);
    if (hold->unknown_told)
        judge_withdraw(j, REASON_OUTAGE, 0);
}

static bool
worse(const struct judging *j, int32_t temp_mC, int32_t than_mC)
{
    if (than_mC == TEMP_NONE)
        return true;
    return j->limit->kind == LIMIT_HOLD_HOT ? temp_mC < than_mC : temp_mC > than_mC;
}

/* When this spot was last seen inside: what came after is not known to have been (E141). */
static int64_t
last_inside_ms(const struct judging *j, uint16_t probe)
{
    const struct hold_state *hold = &j->run->of.hold;
    int64_t inside_ms = hold->hand_inside_ms;
    for (size_t i = 0; probe != 0 && i < j->run->watch_count; i++)
        if (j->run->watch[i].probe == probe)
            inside_ms = hold->inside_ms[i];
    return most_of(inside_ms, j->run->begun_ms); /* 0: not in this step */
}

/* Time up to now that counts as outside though it was not seen so: what nobody watched apart
 * from the rest. */
static void
count_unseen(struct judging *j, int64_t since_ms)
{
    struct hold_state *hold = &j->run->of.hold;
    int64_t from_ms = most_of(since_ms, j->run->outage_from_ms);
    int64_t unknown_ms = most_of(j->run->outage_to_ms, from_ms) - from_ms;
    hold->unknown_ms += unknown_ms;
    hold->counted_ms += j->at_ms - since_ms - unknown_ms;
}

static void
begin_excursion(struct judging *j, uint16_t probe, int32_t temp_mC)
{
    struct hold_state *hold = &j->run->of.hold;
    hold->first_ms = j->at_ms;
    hold->worst_mC = temp_mC; /* all else is as end_excursion left it */
    hold->worst_probe = probe;
    hold->unseen_ms = last_inside_ms(j, probe);
    if (!period_left(j))
        return;
    j->period->from_ms = hold->first_ms = hold->stopped_ms = hold->unseen_ms;
}

static void
outside(struct judging *j, uint16_t probe, int32_t temp_mC)
{
    struct hold_state *hold = &j->run->of.hold;
    run_broken(j->run); /* the way back starts anew */
    hold->hand_in_ms = TIME_NONE;
    if (!running(hold))
        begin_excursion(j, probe, temp_mC);
    if (hold->from_ms == TIME_NONE) {
        if (hold->stopped_ms != TIME_NONE)
            count_unseen(j, hold->stopped_ms); /* E142: one stretch, short returns included */
        hold->from_ms = j->at_ms;
    }
    hold->last_ms = j->at_ms;
    if (worse(j, temp_mC, hold->worst_mC)) {
        hold->worst_mC = temp_mC;
        hold->worst_probe = probe;
    }
    if (j->run->deviation == 0 && j->limit->has_ceiling &&
        !satisfies_most(temp_mC, j->limit->ceiling, j->limit->strict))
        open_above_ceiling(j, probe, temp_mC);
    if (j->run->deviation == 0 && counted_ms(j) + (j->at_ms - hold->from_ms) >= allowed_ms(j))
        open_deviation(j); /* at once when nothing is left of the tolerance (E22) */
}

static void
end_excursion(struct judging *j, enum decision_reason reason, uint16_t probe, int32_t temp_mC)
{
    struct hold_state *hold = &j->run->of.hold;
    if (hold->from_ms != TIME_NONE)
        hold->counted_ms += j->at_ms - hold->from_ms;
    struct decision *said = judge_end(j, j->run->deviation, reason);
    if (said) {
        said->probe = probe;
        said->temp_mC = temp_mC;
        said->worst_mC = hold->worst_mC;
        said->since_ms = hold->first_ms;
        said->last_ms = hold->last_ms; /* E237 */
        said->found_ms = counted_ms(j);
    }
    if (period_left(j) && (reason == REASON_BACK_INSIDE || reason == REASON_HAND_READING))
        j->period->over = true; /* E143: not if the step was merely left */
    hold->first_ms = hold->from_ms = hold->hand_in_ms = hold->stopped_ms = TIME_NONE;
    hold->counted_ms = 0;
    /* An outage that may have been too long outside stays a question, also once the food is
     * back (E62). */
    hold->unknown_ms = 0;
    hold->unknown_told = hold->hand_outside = false;
}

static bool
any_breach(const struct run *run)
{
    for (size_t i = 0; i < run->watch_count; i++)
        if (run->watch[i].breach)
            return true;
    return false;
}

static void
ask(struct judging *j)
{
    struct hold_state *hold = &j->run->of.hold;
    hold->unknown_told = true;
    struct decision *said = judge_say(j, DECISION_INCONCLUSIVE, REASON_OUTAGE);
    said->probe = hold->worst_probe;
    said->temp_mC = hold->worst_mC;
    said->since_ms = hold->first_ms;
    said->found_ms = hold->counted_ms + j->at_ms - hold->from_ms;
    judge_undecided(j, said);
}

/* E144: back at the very instant at which the one time outside is used up is too late where the
 * law says less than it. */
static void
back_too_late(struct judging *j)
{
    struct hold_state *hold = &j->run->of.hold;
    int64_t outside_ms = hold->counted_ms + j->at_ms - hold->from_ms;
    int64_t most_ms = j->limit->period_ms - j->limit->time_strict;
    if (!period_left(j) || j->run->deviation != 0)
        return;
    if (outside_ms > most_ms)
        open_deviation(j);
    else if (outside_ms + hold->unknown_ms > most_ms && !hold->unknown_told)
        ask(j);
}

static void
stop_counting(struct judging *j)
{
    struct hold_state *hold = &j->run->of.hold;
    if (hold->from_ms == TIME_NONE)
        return;
    back_too_late(j);
    hold->counted_ms += j->at_ms - hold->from_ms;
    hold->from_ms = TIME_NONE;
    if (j->period)
        hold->stopped_ms = j->at_ms;
}

/* A time outside that an earlier step left unfinished goes on (E143). */
static void
hold_begin(struct judging *j)
{
    struct hold_state *hold = &j->run->of.hold;
    hold->first_ms = hold->from_ms = hold->hand_in_ms = hold->stopped_ms = TIME_NONE;
    if (!period_left(j) || j->period->from_ms == TIME_NONE)
        return;
    hold->first_ms = hold->stopped_ms = hold->unseen_ms = j->period->from_ms;
    hold->worst_mC = TEMP_NONE;
}

static void
hold_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    struct hold_state *hold = &j->run->of.hold;
    watch->breach = !inside(j, temp_mC);
    if (watch->breach) {
        outside(j, watch->probe, temp_mC);
        return;
    }
    watch_satisfied(watch, j->at_ms);
    hold->inside_ms[watch - j->run->watch] = j->at_ms;
    if (!running(hold) || any_breach(j->run))
        return;
    bool all_fresh = run_fresh(j->run, j->at_ms);
    if (hold->hand_outside && !all_fresh)
        return;
    hold->hand_outside = false; /* every probe says otherwise since */
    stop_counting(j);
    if (all_fresh && (j->limit->back_ms == 0 || run_held_ms(j->run, NULL) >= j->limit->back_ms))
        end_excursion(j, REASON_BACK_INSIDE, watch->probe, temp_mC);
}

static void
hold_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    if (inside(j, temp_mC))
        return; /* E41 */
    watch->breach = true;
    outside(j, watch->probe, temp_mC);
}

static void
hold_hand(struct judging *j, int32_t temp_mC)
{
    struct hold_state *hold = &j->run->of.hold;
    if (!inside(j, temp_mC)) {
        hold->hand_outside = true;
        outside(j, 0, temp_mC);
        return;
    }
    hold->hand_inside_ms = j->at_ms;
    if (!running(hold) || j->run->watch_count > 0)
        return; /* E53: it never ends what a probe shows */
    stop_counting(j);
    if (hold->hand_in_ms == TIME_NONE)
        hold->hand_in_ms = j->at_ms;
    if (j->at_ms - hold->hand_in_ms >= j->limit->back_ms) /* E54 */
        end_excursion(j, REASON_HAND_READING, 0, temp_mC);
}

/* When the time counted so far reaches the tolerance, if it goes on. */
static int64_t
full_ms(const struct judging *j, int64_t counted)
{
    int64_t left = allowed_ms(j) - counted;
    return j->run->of.hold.from_ms + most_of(left, 0);
}

static int64_t
hold_next_due(const struct judging *j)
{
    const struct hold_state *hold = &j->run->of.hold;
    if (!running(hold) || hold->from_ms == TIME_NONE || j->run->deviation != 0)
        return TIME_NEVER;
    return full_ms(j, hold->counted_ms + (hold->unknown_told ? 0 : hold->unknown_ms));
}

static void
hold_due(struct judging *j)
{
    if (j->at_ms >= full_ms(j, counted_ms(j))) {
        open_deviation(j);
        return;
    }
    ask(j);
}

static void
hold_restart(struct judging *j)
{
    struct hold_state *hold = &j->run->of.hold;
    run_broken(j->run);
    hold->hand_in_ms = TIME_NONE;
    if (!running(hold) || hold->from_ms == TIME_NONE)
        return; /* inside when last seen: a gap, as with a dark probe (E23) */
    int64_t from = most_of(j->run->outage_from_ms, hold->from_ms);
    hold->counted_ms += from - hold->from_ms;
    hold->unknown_ms += j->at_ms - from;
    hold->from_ms = j->at_ms; /* outside when last seen: it goes on counting */
    while (j->at_ms >= hold_next_due(j) && j->run->deviation == 0)
        hold_due(j);
}

static void
hold_leave(struct judging *j, enum leaving how)
{
    (void)how;
    struct hold_state *hold = &j->run->of.hold;
    if (!running(hold))
        return;
    if (j->food)
        j->food->out_since_ms = hold->unseen_ms; /* E145 */
    end_excursion(j, j->batch != 0 ? REASON_BATCH_ENDED : REASON_ENTERED, 0, TEMP_NONE);
}

static void
hold_decided(struct judging *j, const struct decision *said, bool accepted)
{
    (void)said;
    struct hold_state *hold = &j->run->of.hold;
    hold->unknown_told = false;
    if (accepted)
        hold->unknown_ms = 0; /* a person vouches for it; time that was watched still counts */
    else if (!running(hold))
        judge_end(j, j->run->deviation, REASON_BACK_INSIDE); /* it is over already */
}

static enum jump
hold_jump(const struct judging *j, bool rising, bool early)
{
    bool entering = rising == (j->limit->kind == LIMIT_HOLD_HOT);
    return early && entering ? JUMP_ENTERS_FOOD : JUMP_LEFT_FOOD; /* E45 */
}

void
hold_take_back(struct judging *j, uint16_t probe, int64_t after_ms)
{
    struct hold_state *hold = &j->run->of.hold;
    if (j->period || j->run->deviation != 0 || !running(hold) || hold->first_ms <= after_ms ||
        hold->hand_outside)
        return;
    for (size_t i = 0; i < j->run->watch_count; i++) {
        struct watch *watch = &j->run->watch[i];
        if (watch->probe == probe)
            watch->breach = false;
        else if (watch->breach)
            return; /* another one is outside too */
    }
    hold->first_ms = hold->from_ms = hold->stopped_ms = TIME_NONE;
    hold->counted_ms = hold->unknown_ms = 0;
}

const struct judge judge_hold = {
    .begin = hold_begin,
    .good = hold_good,
    .suspect = hold_suspect,
    .hand = hold_hand,
    .due = hold_due,
    .next_due = hold_next_due,
    .restart = hold_restart,
    .leave = hold_leave,
    .decided = hold_decided,
    .jump = hold_jump,
};
