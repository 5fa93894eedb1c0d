/* Whether a probe on a batch still measures the food. A change that no food can make turns it
 * suspect; it is believed again only when it has come back to where the food was, or a person
 * says so. Air that a pulled probe settles at is not food that has cooled. Pure. */
#include "daemon/engine/credible.h"

#include <stdlib.h>

#include "daemon/engine/doubt.h"
#include "daemon/engine/pulled.h"

static int64_t
distance(int32_t a_mC, int32_t b_mC)
{
    return llabs((int64_t)a_mC - b_mC);
}

/* How far food can change in a time, bounded well above any temperature. */
static int32_t
food_reach(const struct plan_tolerances *tolerances, int64_t dt_ms)
{
    return (int32_t)least_of(1000000, tolerances->food_rate_mC_per_min * dt_ms / 60000);
}

void
credible_hand_over(struct probe_state *probe, int64_t at_ms)
{
    probe->handed_ms = at_ms;
    probe->trust = TRUST_GOOD;
    probe->entered_once = false;
    probe->prev_ms = probe->credible_ms = probe->settle_ms = TIME_NONE;
    pulled_forget(probe);
}

void
credible_in_food(struct probe_state *probe)
{
    probe->handed_ms -= HANDOVER_MS + 1;
}

static void
believe(struct probe_state *probe, int64_t at_ms, int32_t temp_mC)
{
    probe->trust = TRUST_GOOD;
    probe->credible_ms = at_ms;
    probe->credible_mC = temp_mC;
}

/* Takes a reading into the probe's past. True when food cannot have changed so: between two
 * readings in a row, or over several, where a follower that moves only as fast as food is left
 * behind by a whole jump (E40). */
static bool
jumped(struct probe_state *probe, const struct plan_tolerances *tolerances, int64_t at_ms,
       int32_t temp_mC)
{
    if (probe->prev_ms == TIME_NONE) { /* the first is no change */
        probe->prev_ms = at_ms;
        probe->prev_mC = probe->follow_mC = temp_mC;
    }
    int64_t dt_ms = at_ms - probe->prev_ms;
    int64_t step = distance(temp_mC, probe->prev_mC);
    int32_t reach = food_reach(tolerances, dt_ms);
    bool jump = step >= tolerances->food_jump_mC &&
                step * 60000 > tolerances->food_rate_mC_per_min * dt_ms;
    int64_t behind = (int64_t)temp_mC - probe->follow_mC;
    probe->follow_mC += (int32_t)least_of(most_of(behind, -reach), reach);
    if (distance(temp_mC, probe->follow_mC) >= tolerances->food_jump_mC)
        jump = true;
    if (jump)
        probe->follow_mC = temp_mC;
    probe->prev_ms = at_ms;
    probe->prev_mC = temp_mC;
    return jump;
}

static void
tell(struct judging *j, const struct probe_state *probe, enum decision_kind kind,
     enum decision_reason reason, int32_t temp_mC)
{
    struct decision *said = say(j->engine, j->out, j->at_ms, kind, reason);
    said->batch = j->batch;
    keep_word(said->step, sizeof said->step, j->step);
    said->probe = probe->number;
    said->temp_mC = temp_mC;
    said->since_ms = probe->credible_ms;
}

/* It may still be put into the food. */
static bool
is_early(const struct judging *j, const struct probe_state *probe)
{
    return j->at_ms - probe->handed_ms <= HANDOVER_MS;
}

static uint16_t
leave_food(struct probe_state *probe, int32_t temp_mC, bool rising)
{
    probe->trust = TRUST_LEFT;
    probe->left_rising = rising;
    probe->extreme_mC = temp_mC;
    probe->settle_ms = TIME_NONE;
    return SUSPECT_LEFT_FOOD;
}

/* A jump of a probe that was believed. */
static uint16_t
judge_jump(struct judging *j, struct probe_state *probe, int32_t temp_mC, bool rising)
{
    enum jump what = judge_of(j->limit->kind)->jump(j, rising, is_early(j, probe));
    if (what == JUMP_BELIEVED) {
        believe(probe, j->at_ms, temp_mC);
        return READING_GOOD;
    }
    tell(j, probe, DECISION_SUSPECT_BEGUN, REASON_LEFT_FOOD, temp_mC);
    if (what == JUMP_ENTERS_FOOD && !probe->entered_once) {
        probe->entered_once = true;
        probe->trust = TRUST_ENTERING;
        probe->settle_ms = j->at_ms;
        return SUSPECT_SETTLING;
    }
    return leave_food(probe, temp_mC, rising);
}

static uint16_t
settle(struct judging *j, struct probe_state *probe, int32_t temp_mC, uint16_t meanwhile)
{
    if (j->at_ms - probe->settle_ms < j->tolerances->settle_ms)
        return meanwhile;
    tell(j, probe, DECISION_SUSPECT_ENDED, REASON_GOOD_AGAIN, temp_mC);
    believe(probe, j->at_ms, temp_mC);
    return READING_GOOD;
}

/* E44: being put into food, once per hand-over: it must come to rest somewhere food can be. */
static uint16_t
judge_entering(struct judging *j, struct probe_state *probe, int32_t temp_mC, bool unsteady)
{
    if (unsteady || temp_mC > FOOD_HOTTEST_mC) {
        if (!is_early(j, probe))
            return leave_food(probe, temp_mC, temp_mC > probe->credible_mC);
        probe->settle_ms = j->at_ms;
        return SUSPECT_SETTLING;
    }
    return settle(j, probe, temp_mC, SUSPECT_SETTLING);
}

/* How far from the food's last credible temperature it may be when it comes back: one jump,
 * and what food can have drifted since, up to one more. */
static int64_t
reach_back(const struct judging *j, const struct probe_state *probe)
{
    int64_t jump = j->tolerances->food_jump_mC;
    return jump + least_of(jump, food_reach(j->tolerances, j->at_ms - probe->credible_ms));
}

/* E47: it has come back when it has moved against the direction it left in by at least a jump,
 * to within reach of the food's last credible temperature, and stayed. The reach grows at the
 * food's rate, but only up to one jump more: a pulled probe must not become credible by waiting
 * in the air until the food could have cooled to it. */
static bool
is_back(const struct judging *j, const struct probe_state *probe, int32_t temp_mC)
{
    int32_t returned =
        probe->left_rising ? probe->extreme_mC - temp_mC : temp_mC - probe->extreme_mC;
    return returned >= j->tolerances->food_jump_mC &&
           distance(temp_mC, probe->credible_mC) <= reach_back(j, probe);
}

static uint16_t
judge_left(struct judging *j, struct probe_state *probe, int32_t temp_mC, bool unsteady)
{
    probe->extreme_mC = (int32_t)(probe->left_rising ? most_of(temp_mC, probe->extreme_mC)
                                                     : least_of(temp_mC, probe->extreme_mC));
    if (!is_back(j, probe, temp_mC)) {
        probe->settle_ms = TIME_NONE;
        return SUSPECT_LEFT_FOOD;
    }
    if (unsteady || probe->settle_ms == TIME_NONE)
        probe->settle_ms = j->at_ms;
    return settle(j, probe, temp_mC, SUSPECT_SETTLING);
}

static int64_t
spacing_ms(const struct judging *j, const struct probe_state *probe)
{
    for (size_t i = 0; i < j->run->watch_count; i++)
        if (j->run->watch[i].probe == probe->number)
            return j->run->watch[i].spacing_ms;
    return 0;
}

/* E184: it has come back from the air as far as three quarters of where it was, within reach
 * of what the food was, and stayed. */
static uint16_t
judge_out(struct judging *j, struct probe_state *probe, int32_t temp_mC, bool unsteady)
{
    if (!pulled_is_back(j, probe, temp_mC) ||
        distance(temp_mC, probe->credible_mC) > reach_back(j, probe)) {
        probe->settle_ms = TIME_NONE;
        return SUSPECT_PULLED_OUT;
    }
    if (unsteady || probe->settle_ms == TIME_NONE)
        probe->settle_ms = j->at_ms;
    return settle(j, probe, temp_mC, SUSPECT_SETTLING);
}

/* E182: also of a probe that has left already, which then counts as nothing at all (E183). */
static void
look_whether_out(struct judging *j, struct probe_state *probe, int32_t temp_mC)
{
    struct beside was;
    if (j->limit->kind == LIMIT_NONE || !pulled_out(j, probe, temp_mC, &was))
        return;
    if (j->limit->kind == LIMIT_HOLD_HOT || j->limit->kind == LIMIT_HOLD_COLD)
        hold_take_back(j, probe->number, was.at_ms);
    if (probe->trust == TRUST_GOOD)
        tell(j, probe, DECISION_SUSPECT_BEGUN, REASON_PULLED_OUT, temp_mC);
    cool_take_back(j, probe); /* of its stages, where it has some */
    probe->trust = TRUST_OUT;
}

uint16_t
credible_judge(struct judging *j, struct probe_state *probe, int32_t temp_mC)
{
    bool spaced =
        probe->prev_ms != TIME_NONE && j->at_ms - probe->prev_ms > spacing_ms(j, probe);
    bool rising = temp_mC > probe->prev_mC;
    bool jump = jumped(probe, j->tolerances, j->at_ms, temp_mC);
    if (probe->trust == TRUST_GOOD || probe->trust == TRUST_LEFT)
        look_whether_out(j, probe, temp_mC);
    switch ((enum trust)probe->trust) {
    case TRUST_OUT:
        return judge_out(j, probe, temp_mC, jump || spaced);
    case TRUST_ENTERING:
        return judge_entering(j, probe, temp_mC, jump || spaced);
    case TRUST_LEFT:
        return judge_left(j, probe, temp_mC, jump || spaced);
    case TRUST_GOOD:
        break;
    }
    if (jump)
        return judge_jump(j, probe, temp_mC, rising);
    believe(probe, j->at_ms, temp_mC);
    if (!is_early(j, probe)) /* else it may still be on its way into the food (E182) */
        pulled_note(j, probe, temp_mC);
    return READING_GOOD;
}

void
credible_by_hand(struct judging *j, struct probe_state *probe, const struct watch *watch,
                 int32_t temp_mC)
{
    if (probe->stuck && distance(probe->same_mC, temp_mC) <= j->tolerances->food_jump_mC)
        doubt_clear(j->engine, j->out, probe, j->at_ms, REASON_HAND_READING); /* E132 */
    if (probe->trust == TRUST_GOOD || probe->prev_ms == TIME_NONE ||
        j->at_ms - probe->prev_ms > watch->spacing_ms ||
        distance(probe->prev_mC, temp_mC) > j->tolerances->food_jump_mC)
        return;
    tell(j, probe, DECISION_SUSPECT_ENDED, REASON_HAND_READING, temp_mC);
    believe(probe, j->at_ms, probe->prev_mC);
    probe->entered_once = true; /* a person has looked: the next jump is a jump */
}

void
credible_release(struct judging *j, struct probe_state *probe, enum decision_reason reason)
{
    if (probe->trust != TRUST_GOOD)
        tell(j, probe, DECISION_SUSPECT_ENDED, reason, TEMP_NONE);
    doubt_clear(j->engine, j->out, probe, j->at_ms, reason);
}
