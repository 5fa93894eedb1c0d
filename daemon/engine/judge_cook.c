/* Judges cooking and reheating: at least a temperature, for an unbroken time, and within a time
 * of the step's beginning where the plan says so (E10 to E16). Pure. */
#include "daemon/engine/heat.h"

static int64_t
deadline_ms(const struct judging *j)
{
    return j->limit->within_ms > 0 ? j->run->begun_ms + j->limit->within_ms : TIME_NONE;
}

/* Time shown so far: with no holding time asked, 0 when every probe's fresh good reading
 * satisfies (E10). */
static int64_t
held_ms(const struct judging *j, int64_t *ret_since_ms)
{
    if (j->limit->hold_ms > 0)
        return run_held_ms(j->run, ret_since_ms);
    if (!run_fresh(j->run, j->at_ms))
        return -1;
    for (size_t i = 0; i < j->run->watch_count; i++)
        if (j->run->watch[i].since_ms == TIME_NONE)
            return -1;
    *ret_since_ms = j->at_ms;
    return 0;
}

bool
heat_settled(const struct judging *j)
{
    return j->run->verdict == VERDICT_MET || (j->run->deviated && j->run->deviation == 0) ||
           judge_waits(j);
}

struct decision *
heat_meet(struct judging *j, enum decision_reason reason, uint16_t probe, int32_t temp_mC,
          int64_t since_ms, int64_t held)
{
    struct decision *said;
    if (j->run->deviated) { /* reached at last, but late: the deviation ends and stays a
                               deviation (E14) */
        said = judge_end(j, j->run->deviation, reason);
    } else {
        said = judge_say(j, DECISION_LIMIT_MET, reason);
        j->run->verdict = VERDICT_MET;
    }
    said->probe = probe;
    said->temp_mC = temp_mC;
    said->since_ms = since_ms;
    said->found_ms = held;
    return said;
}

static void
cook_begin(struct judging *j)
{
    (void)j; /* nothing beside the run itself */
}

static void
cook_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    if (!satisfies_least(temp_mC, j->limit->temp, j->limit->strict)) {
        watch_broken(watch); /* E7 */
        return;
    }
    watch_satisfied(watch, j->at_ms);
    int64_t since = TIME_NONE;
    int64_t held = held_ms(j, &since);
    if (held < 0 || held < j->limit->hold_ms || heat_settled(j))
        return;
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    heat_meet(j, j->limit->hold_ms > 0 ? REASON_HELD : REASON_REACHED, coldest->probe,
              coldest->good_mC, since, held);
}

static void
cook_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    if (!satisfies_least(temp_mC, j->limit->temp, j->limit->strict))
        watch_broken(watch); /* E41: it may breach, never satisfy */
}

static void
cook_hand(struct judging *j, int32_t temp_mC)
{
    bool satisfied = satisfies_least(temp_mC, j->limit->temp, j->limit->strict);
    if (!satisfied) {
        run_broken(j->run); /* a colder spot than the probes see */
        return;
    }
    if (j->limit->hold_ms > 0 || heat_settled(j))
        return; /* E51: one spot reading is no holding time */
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    if (coldest && !satisfies_least(coldest->good_mC, j->limit->temp, j->limit->strict))
        return; /* E52: the coldest governs */
    struct decision *said = heat_meet(j, REASON_HAND_READING, 0, temp_mC, j->at_ms, 0);
    if (said->kind == DECISION_LIMIT_MET)
        judge_rests(j, said);
}

static int64_t
cook_next_due(const struct judging *j)
{
    int64_t deadline = deadline_ms(j);
    return deadline == TIME_NONE || j->run->deadline_gone || heat_settled(j) ? TIME_NEVER
                                                                             : deadline;
}

static void
cook_due(struct judging *j)
{
    if (j->at_ms < cook_next_due(j))
        return;
    j->run->deadline_gone = true;
    struct decision *said = judge_say(j, DECISION_DEVIATION_OPENED, REASON_TOO_LATE);
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    if (coldest) {
        said->probe = coldest->probe;
        said->temp_mC = coldest->good_mC;
    }
    said->required_ms = j->limit->within_ms;
    said->since_ms = j->run->begun_ms;
    said->found_ms = j->at_ms - j->run->begun_ms;
    judge_open(j, said);
}

static void
inconclusive(struct judging *j, enum decision_reason reason)
{
    struct decision *said = judge_say(j, DECISION_INCONCLUSIVE, reason);
    if (j->run->deadline_gone)
        said->required_ms = j->limit->within_ms;
    said->since_ms = j->run->outage_from_ms;
    judge_undecided(j, said);
}

static void
cook_restart(struct judging *j)
{
    run_broken(j->run); /* E60: unknown time is not unbroken time */
    int64_t deadline = deadline_ms(j);
    if (deadline == TIME_NONE || j->run->deadline_gone || heat_settled(j) ||
        deadline >= j->at_ms)
        return;
    j->run->deadline_gone = true; /* E61: it may have been met while nobody watched */
    inconclusive(j, REASON_OUTAGE);
}

void
heat_leave(struct judging *j, enum leaving how, int64_t shortest_ms, int64_t since_ms,
           int64_t held_ms)
{
    if (j->run->deviation != 0) {
        judge_end(j, j->run->deviation, REASON_BATCH_ENDED);
        return;
    }
    if (j->run->verdict != VERDICT_OPEN || how == LEAVING_DISCARDED)
        return;
    if (j->run->outage_ms > 0 && j->run->outage_ms >= shortest_ms) {
        inconclusive(
            j, REASON_OUTAGE); /* E63: the holding time fits into the time nobody watched */
        return;
    }
    struct decision *said = judge_say(j, DECISION_DEVIATION_OPENED, REASON_LEFT_EARLY);
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    if (coldest) {
        said->probe = coldest->probe;
        said->temp_mC = coldest->good_mC;
    }
    said->since_ms = since_ms;
    said->found_ms = held_ms > 0 ? held_ms : 0;
    judge_end(j, judge_open(j, said), REASON_BATCH_ENDED);
}

static void
cook_leave(struct judging *j, enum leaving how)
{
    int64_t since = TIME_NONE;
    int64_t held = run_held_ms(j->run, &since);
    heat_leave(j, how, j->limit->hold_ms, since, held);
}

void
heat_decided(struct judging *j, const struct decision *said, bool accepted)
{
    (void)said;
    if (accepted && !j->run->deviated)
        j->run->verdict = VERDICT_MET;
}

enum jump
heat_jump(const struct judging *j, bool rising, bool early)
{
    (void)j;
    if (!early)
        return JUMP_LEFT_FOOD;
    return rising ? JUMP_ENTERS_FOOD
                  : JUMP_BELIEVED; /* E43, E44: a fall satisfies nothing here */
}

const struct judge judge_cook = {
    .begin = cook_begin,
    .good = cook_good,
    .suspect = cook_suspect,
    .hand = cook_hand,
    .due = cook_due,
    .next_due = cook_next_due,
    .restart = cook_restart,
    .leave = cook_leave,
    .decided = heat_decided,
    .jump = heat_jump,
};
