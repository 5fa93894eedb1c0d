/* Judges food that is kept without temperature control: cold or hot enough as it left it, gone
 * within a time, and never warmer than a ceiling where the plan says so (E145 to E149). Pure.
 */
#include "daemon/engine/credible.h"
#include "daemon/engine/judge.h"

static struct time_state *
time_of(const struct judging *j)
{
    return &j->run->of.time;
}

static int64_t
deadline_ms(const struct judging *j)
{
    return time_of(j)->from_ms + j->limit->within_ms;
}

/* Nothing can be told of it any more: once it is to be thrown away, it is. */
static bool
settled(const struct judging *j)
{
    return j->run->deviated;
}

static struct decision *
open_deviation(struct judging *j, enum decision_reason reason, uint16_t probe, int32_t temp_mC)
{
    struct decision *said = judge_say(j, DECISION_DEVIATION_OPENED, reason);
    said->probe = probe;
    said->temp_mC = temp_mC;
    said->since_ms = time_of(j)->from_ms;
    said->found_ms = j->at_ms - time_of(j)->from_ms;
    judge_open(j, said);
    return said;
}

/* E145: the earliest that is known of it counts, over all steps. */
static void
count_from(struct judging *j, int64_t from_ms)
{
    int64_t left_ms = j->food->left_ms;
    j->food->left_ms = left_ms == TIME_NONE ? from_ms : least_of(from_ms, left_ms);
    time_of(j)->from_ms = j->food->left_ms;
}

static void
time_begin(struct judging *j)
{
    int64_t out_ms = j->food->out_since_ms;
    time_of(j)->judged = j->food->left_ms != TIME_NONE;
    count_from(j, out_ms != TIME_NONE ? least_of(out_ms, j->at_ms) : j->at_ms);
}

static bool
left_well(const struct judging *j, int32_t temp_mC)
{
    return j->limit->left_hot ? satisfies_least(temp_mC, j->limit->temp, j->limit->strict)
                              : satisfies_most(temp_mC, j->limit->temp, j->limit->strict);
}

static void
ask(struct judging *j, enum decision_reason reason, uint16_t probe, int32_t temp_mC)
{
    struct decision *said = judge_say(j, DECISION_INCONCLUSIVE, reason);
    time_of(j)->judged = true;
    said->probe = probe;
    said->temp_mC = temp_mC;
    said->since_ms = time_of(j)->from_ms;
    judge_undecided(j, said);
}

/* Its probes have had their time to come to rest. */
static int64_t
rested_ms(const struct judging *j)
{
    return j->run->begun_ms + HANDOVER_MS;
}

static bool
rested_in_outage(const struct judging *j)
{
    return rested_ms(j) > j->run->outage_from_ms && rested_ms(j) < j->run->outage_to_ms;
}

/* A probe that was read and has not shown how it left; NULL when that is judged, or none. */
static const struct watch *
unshown(const struct judging *j)
{
    for (size_t w = 0; !time_of(j)->judged && w < j->run->watch_count; w++)
        if (!time_of(j)->shown[w] && j->run->watch[w].since_ms != TIME_NONE)
            return &j->run->watch[w];
    return NULL;
}

/* E146: food without control only gets nearer to the room, so that a reading that satisfies
 * shows how it left, however late a probe comes. Those that do not show it when the probe was
 * read from the beginning on until it had its time to come to rest. */
static void
judge_start(struct judging *j, const struct watch *watch)
{
    bool from_the_beginning = watch->since_ms - time_of(j)->from_ms <= watch->spacing_ms;
    if (from_the_beginning && !rested_in_outage(j))
        open_deviation(j, REASON_BAD_START, watch->probe, watch->good_mC);
    else
        ask(j, REASON_PROBE_LATE, watch->probe, watch->good_mC);
}

static void
judge_ceiling(struct judging *j, uint16_t probe, int32_t temp_mC)
{
    if (!j->limit->has_ceiling || settled(j) ||
        satisfies_most(temp_mC, j->limit->ceiling, j->limit->strict))
        return;
    struct decision *said = open_deviation(j, REASON_ABOVE_CEILING, probe, temp_mC);
    said->required = j->limit->ceiling; /* E148 */
    said->required_ms = 0;
}

static void
time_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    if (watch->since_ms == TIME_NONE)
        watch->since_ms = j->at_ms; /* its first reading */
    size_t w = (size_t)(watch - j->run->watch);
    time_of(j)->shown[w] = time_of(j)->shown[w] || left_well(j, temp_mC);
    if (j->at_ms > rested_ms(j) && !settled(j) && unshown(j) == watch)
        judge_start(j, watch); /* a probe that comes later */
    judge_ceiling(j, watch->probe, temp_mC);
}

static void
time_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    judge_ceiling(j, watch->probe, temp_mC); /* E41: it may breach */
}

static void
time_hand(struct judging *j, int32_t temp_mC)
{
    struct time_state *time = time_of(j);
    time->by_hand = time->by_hand || (!j->is_doubted && left_well(j, temp_mC));
    judge_ceiling(j, 0, temp_mC);
}

void
time_left(struct judging *j, int64_t given_ms)
{
    count_from(j, given_ms);
}

static int64_t
time_next_due(const struct judging *j)
{
    if (settled(j))
        return TIME_NEVER;
    return unshown(j) ? least_of(rested_ms(j), deadline_ms(j)) : deadline_ms(j);
}

/* E147: time goes by whether or not anybody watches. */
static void
time_due(struct judging *j)
{
    const struct watch *watch = unshown(j);
    if (watch && !settled(j) && j->at_ms >= rested_ms(j))
        judge_start(j, watch);
    if (!settled(j) && j->at_ms >= deadline_ms(j))
        open_deviation(j, REASON_TIME_UP, 0, TEMP_NONE);
}

static void
time_restart(struct judging *j)
{
    (void)j; /* what fell due meanwhile is told with what is due at the restart */
}

/* Whether anything has shown how it left. */
static bool
start_shown(const struct judging *j)
{
    bool shown = time_of(j)->by_hand;
    for (size_t i = 0; i < j->run->watch_count; i++)
        shown = shown || time_of(j)->shown[i];
    return shown;
}

static void
time_leave(struct judging *j, enum leaving how)
{
    if (j->run->deviation != 0) {
        judge_end(j, j->run->deviation, REASON_BATCH_ENDED);
        return;
    }
    if (how == LEAVING_DISCARDED)
        return;
    if (j->limit->time_strict && j->at_ms >= deadline_ms(j)) { /* E147, whatever is asked */
        open_deviation(j, REASON_TIME_UP, 0, TEMP_NONE);
        judge_end(j, j->run->deviation, REASON_BATCH_ENDED);
        return;
    }
    if (j->run->verdict != VERDICT_OPEN)
        return; /* one question about it waits already */
    if (!time_of(j)->judged && !start_shown(j))
        ask(j, REASON_PROBE_LATE, 0, TEMP_NONE); /* E149 */
    else if (j->limit->has_ceiling && j->run->outage_ms > 0)
        ask(j, REASON_OUTAGE, 0, TEMP_NONE);
}

static void
time_decided(struct judging *j, const struct decision *said, bool accepted)
{
    (void)j, (void)said, (void)accepted; /* the clock runs on either way */
}

/* Put into the food as it leaves, as into food that is held (E44, E45). */
static enum jump
time_jump(const struct judging *j, bool rising, bool early)
{
    return early && rising == j->limit->left_hot ? JUMP_ENTERS_FOOD : JUMP_LEFT_FOOD;
}

const struct judge judge_time = {
    .begin = time_begin,
    .good = time_good,
    .suspect = time_suspect,
    .hand = time_hand,
    .due = time_due,
    .next_due = time_next_due,
    .restart = time_restart,
    .leave = time_leave,
    .decided = time_decided,
    .jump = time_jump,
};
