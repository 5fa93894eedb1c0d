/* Judges the oven's own temperature while food is in it, beside the food's limit: hot enough
 * before the food goes in, and never outside for longer than is let pass (E218 to E225). Its
 * readings are those of the probe that watches the batch's place. Pure. */
#include "daemon/engine/judge.h"

static struct oven_state *
oven_of(const struct judging *j)
{
    return &j->run->of.oven;
}

static bool
inside(const struct judging *j, int32_t temp_mC)
{
    return j->limit->kind == LIMIT_OVEN
               ? satisfies_least(temp_mC, j->limit->temp, j->limit->strict)
               : satisfies_most(temp_mC, j->limit->temp, j->limit->strict);
}

/* What may be outside that long may be unseen that long (E222). */
static int64_t
unseen_max_ms(const struct judging *j)
{
    return most_of(j->run->watch[0].spacing_ms, j->limit->tolerance_ms);
}

static void
note(struct judging *j, uint16_t probe, int32_t temp_mC)
{
    struct oven_state *oven = oven_of(j);
    bool is_further =
        j->limit->kind == LIMIT_OVEN ? temp_mC < oven->extreme_mC : temp_mC > oven->extreme_mC;
    if (oven->extreme_mC != TEMP_NONE && !is_further)
        return;
    oven->extreme_mC = temp_mC;
    oven->extreme_probe = probe;
}

static void
fill(const struct judging *j, struct decision *said)
{
    const struct oven_state *oven = oven_of(j);
    const struct watch *watch = &j->run->watch[0];
    said->probe = watch->probe;
    said->temp_mC = watch->good_mC;
    said->since_ms = oven->out_ms;
    said->found_ms = oven->out_ms != TIME_NONE ? j->at_ms - oven->out_ms : 0;
}

static void
open_deviation(struct judging *j, enum decision_reason reason)
{
    struct decision *said = judge_say(j, DECISION_DEVIATION_OPENED, reason);
    fill(j, said);
    judge_open(j, said);
}

static void
end_deviation(struct judging *j, enum decision_reason reason)
{
    struct decision *said = judge_end(j, j->run->deviation, reason);
    if (!said)
        return;
    fill(j, said);
    said->worst_mC = oven_of(j)->extreme_mC;
}

static void
outside(struct judging *j)
{
    struct oven_state *oven = oven_of(j);
    if (oven->out_ms == TIME_NONE)
        oven->out_ms = j->at_ms;
    if (j->run->deviation == 0 && j->at_ms - oven->out_ms >= j->limit->tolerance_ms)
        open_deviation(j, REASON_OUT_TOO_LONG);
}

/* The oven as the food goes into it: E219, E220. */
static void
food_goes_in(struct judging *j, int32_t temp_mC)
{
    struct oven_state *oven = oven_of(j);
    oven->awaited = false;
    note(j, j->run->watch[0].probe, temp_mC);
    if (inside(j, temp_mC))
        return;
    if (j->limit->kind == LIMIT_MOIST_OVEN) {
        outside(j);
        return;
    }
    oven->out_ms = oven->warm_ms != TIME_NONE ? oven->warm_ms : j->at_ms;
    if (oven->warm_ms == TIME_NONE)
        open_deviation(j, REASON_NOT_PREHEATED);
}

static void
oven_begin(struct judging *j)
{
    struct oven_state *oven = oven_of(j);
    oven->out_ms = oven->over_ms = oven->seen_ms = oven->warm_ms = TIME_NONE;
    oven->extreme_mC = TEMP_NONE;
    j->run->watch[0].good_mC = TEMP_NONE; /* as long as no probe measures it */
}

/* When the oven was last seen hot enough, if that is not longer ago than it may be outside. */
static int64_t
last_warm_ms(const struct judging *j, const struct place_state *place)
{
    int64_t last_ms = TIME_NONE;
    for (size_t i = 0; i < WARM_MINUTES; i++) {
        const struct warm_minute *warm = &place->warm[i];
        if (warm->at_ms != TIME_NONE && j->at_ms - warm->at_ms < j->limit->tolerance_ms &&
            inside(j, warm->temp_mC) && warm->at_ms > last_ms)
            last_ms = warm->at_ms;
    }
    return last_ms;
}

void
oven_probe(struct judging *j, const struct place_state *place)
{
    struct oven_state *oven = oven_of(j);
    if (!place || place->probe == 0)
        return; /* E224 */
    const struct watch *of_place = &place->run.watch[0];
    j->run->watch_count = 1;
    j->run->watch[0] = *of_place;
    oven->watched = true;
    oven->warm_ms = last_warm_ms(j, place);
    oven->awaited = !watch_fresh(of_place, j->at_ms);
    if (oven->awaited)
        return;
    oven->seen_ms = of_place->good_ms;
    food_goes_in(j, of_place->good_mC);
}

static void
oven_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    struct oven_state *oven = oven_of(j);
    if (oven->over_ms != TIME_NONE)
        return;
    if (oven->awaited && j->at_ms == j->run->begun_ms) {
        oven->seen_ms = j->at_ms;
        food_goes_in(j, temp_mC);
        return;
    }
    if (oven->awaited || j->at_ms - oven->seen_ms > unseen_max_ms(j))
        oven->unseen = true; /* E222 */
    oven->seen_ms = j->at_ms;
    note(j, watch->probe, temp_mC);
    if (!inside(j, temp_mC)) {
        outside(j);
        return;
    }
    end_deviation(j, REASON_BACK_INSIDE);
    oven->out_ms = TIME_NONE;
}

/* A single absurd value proves nothing (E133); the one after it does. */
static void
oven_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    (void)j, (void)watch, (void)temp_mC;
}

static void
oven_hand(struct judging *j, int32_t temp_mC)
{
    (void)j, (void)temp_mC; /* it is one of the food */
}

static int64_t
oven_next_due(const struct judging *j)
{
    const struct oven_state *oven = oven_of(j);
    return oven->out_ms == TIME_NONE || j->run->deviation != 0
               ? TIME_NEVER
               : oven->out_ms + j->limit->tolerance_ms;
}

static void
oven_due(struct judging *j)
{
    if (j->at_ms >= oven_next_due(j))
        open_deviation(j, REASON_OUT_TOO_LONG);
}

/* E222: what went on meanwhile nobody saw, as the next reading shows, or that there is none; a
 * time outside counts anew. */
static void
oven_restart(struct judging *j)
{
    struct oven_state *oven = oven_of(j);
    if (oven->out_ms != TIME_NONE && j->run->deviation == 0)
        oven->out_ms = j->at_ms;
}

static void
tell_held(struct judging *j)
{
    const struct oven_state *oven = oven_of(j);
    struct decision *said = judge_say(j, DECISION_LIMIT_MET, REASON_HELD);
    said->probe = oven->extreme_probe;
    said->temp_mC = oven->extreme_mC;
    said->since_ms = j->run->begun_ms;
    said->found_ms = j->at_ms - j->run->begun_ms;
    j->run->verdict = VERDICT_MET;
}

static void
ask(struct judging *j)
{
    const struct oven_state *oven = oven_of(j);
    struct decision *said = judge_say(j, DECISION_INCONCLUSIVE, REASON_NOT_MEASURED);
    said->probe = oven->extreme_probe;
    said->temp_mC = oven->extreme_mC;
    said->since_ms = j->run->begun_ms;
    if (judge_undecided(j, said) != 0)
        end_deviation(j, REASON_BATCH_ENDED);
}

void
oven_over(struct judging *j, enum leaving how)
{
    struct oven_state *oven = oven_of(j);
    if (oven->over_ms != TIME_NONE)
        return;
    oven->over_ms = j->at_ms;
    end_deviation(j, REASON_BATCH_ENDED);
    oven->out_ms = TIME_NONE;
    if (j->run->deviated || how == LEAVING_DISCARDED)
        return;
    bool is_dark = oven->seen_ms == TIME_NONE || j->at_ms - oven->seen_ms > unseen_max_ms(j);
    if (!oven->watched || oven->unseen || is_dark)
        ask(j);
    else
        tell_held(j);
}

static void
oven_decided(struct judging *j, const struct decision *said, bool accepted)
{
    (void)said;
    if (!accepted)
        end_deviation(j, REASON_BATCH_ENDED);
    else if (!j->run->deviated)
        j->run->verdict = VERDICT_MET;
}

static enum jump
oven_jump(const struct judging *j, bool rising, bool early)
{
    (void)j, (void)rising, (void)early;
    return JUMP_BELIEVED; /* it is in no food */
}

const struct judge judge_oven = {
    .begin = oven_begin,
    .good = oven_good,
    .suspect = oven_suspect,
    .hand = oven_hand,
    .due = oven_due,
    .next_due = oven_next_due,
    .restart = oven_restart,
    .leave = oven_over,
    .decided = oven_decided,
    .jump = oven_jump,
};
