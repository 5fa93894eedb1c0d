/* Judges cooking and reheating: at least a temperature, for an unbroken time, and within a time
 * of the step's beginning, or of rising above a temperature, where the plan says so (E10 to
 * E16, E150, E151); then standing (E152). Pure. */
#include "daemon/engine/heat.h"

static struct cook_state *
cook_of(const struct judging *j)
{
    return &j->run->of.cook;
}

/* E150: since when it rises. The first probe that left the cold counts; one that was never seen
 * cold in this step left it before. */
static int64_t
rises_from_ms(const struct run *run)
{
    int64_t least = TIME_NEVER;
    for (size_t i = 0; i < run->watch_count; i++)
        least = least_of(least, run->of.cook.cold_ms[i]); /* 0, of none, is the least */
    return least == TIME_NEVER ? run->begun_ms : most_of(least, run->begun_ms);
}

int64_t
cook_deadline_ms(const struct plan_limit *limit, const struct run *run)
{
    if (limit->within_ms == 0)
        return TIME_NONE;
    return (limit->has_rise ? rises_from_ms(run) : run->begun_ms) + limit->within_ms;
}

static int64_t
deadline_ms(const struct judging *j)
{
    return cook_deadline_ms(j->limit, j->run);
}

static void
note_rise(struct judging *j, const struct watch *watch, int32_t temp_mC)
{
    struct cook_state *cook = cook_of(j);
    if (!j->limit->has_rise || cook->risen)
        return;
    if (!satisfies_most(temp_mC, j->limit->rise_from, false))
        cook->risen = true; /* E151: what comes after does not stop the clock */
    else if (watch)
        cook->cold_ms[watch - j->run->watch] = j->at_ms;
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
    cook_of(j)->reached_ms = TIME_NONE;
}

/* What has been reached is met, or stands first (E152). */
static void
reach(struct judging *j, uint16_t probe, int32_t temp_mC, int64_t since_ms, int64_t held,
      bool by_hand)
{
    struct cook_state *cook = cook_of(j);
    if (j->limit->stand_ms == 0) {
        enum decision_reason reason = by_hand                 ? REASON_HAND_READING
                                      : j->limit->hold_ms > 0 ? REASON_HELD
                                                              : REASON_REACHED;
        struct decision *said = heat_meet(j, reason, probe, temp_mC, since_ms, held);
        if (by_hand && said->kind == DECISION_LIMIT_MET)
            judge_rests(j, said);
        return;
    }
    cook->reached_ms = j->at_ms;
    cook->reached_probe = probe;
    cook->reached_mC = temp_mC;
    cook->held_since_ms = since_ms;
    cook->held_ms = held;
    cook->by_hand = by_hand;
    cook->reached_seq = j->seq;
}

static bool
stands(const struct judging *j)
{
    return cook_of(j)->reached_ms != TIME_NONE;
}

static void
stood(struct judging *j)
{
    struct cook_state *cook = cook_of(j);
    struct decision *said = heat_meet(j, REASON_STOOD, cook->reached_probe, cook->reached_mC,
                                      cook->held_since_ms, cook->held_ms);
    cook->reached_ms = TIME_NONE;
    if (!cook->by_hand || said->kind != DECISION_LIMIT_MET)
        return;
    j->seq = cook->reached_seq;
    judge_rests(j, said);
}

/* E234: both sides have to be shown, each by its own hand reading; a colder one takes it back.
 */
static void
surface_hand(struct judging *j, int32_t temp_mC)
{
    struct cook_state *cook = cook_of(j);
    if (j->side == 0 || heat_settled(j))
        return;
    bool satisfied = satisfies_least(temp_mC, j->limit->temp, j->limit->strict);
    cook->side_seq[j->side - 1] = satisfied ? j->seq : 0;
    if (cook->side_seq[0] == 0 || cook->side_seq[1] == 0)
        return;
    struct decision *said = heat_meet(j, REASON_HAND_READING, 0, temp_mC, j->at_ms, 0);
    for (size_t i = 0; said->kind == DECISION_LIMIT_MET && i < 2; i++) {
        j->seq = cook->side_seq[i];
        judge_rests(j, said);
    }
}

static void
cook_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    if (j->limit->subject == SUBJECT_SURFACE)
        return; /* E234: a core is no surface */
    note_rise(j, watch, temp_mC);
    if (!satisfies_least(temp_mC, j->limit->temp, j->limit->strict)) {
        watch_broken(watch); /* E7 */
        return;
    }
    watch_satisfied(watch, j->at_ms);
    int64_t since = TIME_NONE;
    int64_t held = held_ms(j, &since);
    if (held < 0 || held < j->limit->hold_ms || heat_settled(j) || stands(j))
        return;
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    reach(j, coldest->probe, coldest->good_mC, since, held, false);
}

static void
cook_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    note_rise(j, NULL, temp_mC); /* it may have risen; it is not shown to be cold */
    if (!satisfies_least(temp_mC, j->limit->temp, j->limit->strict))
        watch_broken(watch); /* E41: it may breach, never satisfy */
}

static void
cook_hand(struct judging *j, int32_t temp_mC)
{
    if (j->limit->subject == SUBJECT_SURFACE) {
        surface_hand(j, temp_mC);
        return;
    }
    bool satisfied = satisfies_least(temp_mC, j->limit->temp, j->limit->strict);
    note_rise(j, NULL, temp_mC);
    if (!satisfied) {
        run_broken(j->run); /* a colder spot than the probes see */
        return;
    }
    if (j->limit->hold_ms > 0 || heat_settled(j) || stands(j))
        return; /* E51: one spot reading is no holding time */
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    if (coldest && !satisfies_least(coldest->good_mC, j->limit->temp, j->limit->strict))
        return; /* E52: the coldest governs */
    reach(j, 0, temp_mC, j->at_ms, 0, true);
}

static int64_t
cook_next_due(const struct judging *j)
{
    int64_t deadline = deadline_ms(j);
    if (stands(j)) /* reached in time, or late already */
        return heat_settled(j) ? TIME_NEVER : cook_of(j)->reached_ms + j->limit->stand_ms;
    return deadline == TIME_NONE || j->run->deadline_gone || heat_settled(j) ? TIME_NEVER
                                                                             : deadline;
}

static void
cook_due(struct judging *j)
{
    if (stands(j)) {
        stood(j);
        return;
    }
    int64_t from_ms = deadline_ms(j) - j->limit->within_ms;
    j->run->deadline_gone = true;
    struct decision *said = judge_say(j, DECISION_DEVIATION_OPENED, REASON_TOO_LATE);
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    if (coldest) {
        said->probe = coldest->probe;
        said->temp_mC = coldest->good_mC;
    }
    said->required_ms = j->limit->within_ms;
    said->since_ms = from_ms;
    said->found_ms = j->at_ms - from_ms;
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
    if (deadline == TIME_NONE || j->run->deadline_gone || heat_settled(j) || stands(j) ||
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
    said->found_ms = most_of(held_ms, 0);
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
