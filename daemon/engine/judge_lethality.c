/* Judges an equivalent time: what each stretch between two readings counts at the reference
 * temperature, added up (E100 to E103). Integers only: the rates were tabled when the plan was
 * loaded. Pure. */
#include "daemon/engine/heat.h"

#include "trivet/lethal.h"

#define EARNED_MAX (INT64_MAX / 4) /* beyond any target; it stays there */

static struct lethality_state *
lethality_of(const struct judging *j)
{
    return &j->run->of.lethality;
}

static void
break_chains(struct judging *j)
{
    for (size_t w = 0; w < ENTRY_PROBES_MAX; w++)
        lethality_of(j)->last_ms[w] = TIME_NONE;
}

/* E100: the mean of the two rates, times the time between them. */
static int64_t
stretch(int64_t rate, int64_t rate_before, int64_t dt_ms)
{
    int64_t mean = (rate + rate_before) / 2;
    return mean * least_of(dt_ms, EARNED_MAX / most_of(mean, 1));
}

static int64_t
earned(const struct run *run)
{
    int64_t least = run->watch_count > 0 ? EARNED_MAX : 0;
    for (size_t w = 0; w < run->watch_count; w++)
        least = least_of(least, run->of.lethality.earned[w]);
    return least;
}

int64_t
lethality_earned_ms(const struct run *run)
{
    return earned(run) / LETHAL_ONE;
}

static void
lethality_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    struct lethality_state *state = lethality_of(j);
    size_t w = (size_t)(watch - j->run->watch);
    int64_t rate = lethal_rate(j->limit->rates, temp_mC);
    if (state->last_ms[w] != TIME_NONE && j->at_ms - state->last_ms[w] <= watch->spacing_ms) {
        int64_t more = stretch(rate, state->last_rate[w], j->at_ms - state->last_ms[w]);
        state->earned[w] = least_of(state->earned[w] + more, EARNED_MAX);
    }
    state->last_ms[w] = j->at_ms;
    state->last_rate[w] = rate;
    if (heat_settled(j) || !run_fresh(j->run, j->at_ms) ||
        earned(j->run) < j->limit->hold_ms * LETHAL_ONE)
        return;
    const struct watch *coldest = run_governing(j->run, j->at_ms, false);
    heat_meet(j, REASON_HELD, coldest->probe, coldest->good_mC, j->run->begun_ms,
              lethality_earned_ms(j->run));
}

static void
lethality_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    (void)temp_mC;
    lethality_of(j)->last_ms[watch - j->run->watch] = TIME_NONE; /* E41: it earns nothing */
}

static void
lethality_hand(struct judging *j, int32_t temp_mC)
{
    (void)j, (void)temp_mC; /* E51: a spot reading has no duration */
}

static void
lethality_due(struct judging *j)
{
    (void)j; /* no deadline */
}

static int64_t
lethality_next_due(const struct judging *j)
{
    (void)j;
    return TIME_NEVER;
}

static void
lethality_leave(struct judging *j, enum leaving how)
{
    heat_leave(j, how, 0, j->run->begun_ms, lethality_earned_ms(j->run));
}

const struct judge judge_lethality = {
    .begin = break_chains,
    .good = lethality_good,
    .suspect = lethality_suspect,
    .hand = lethality_hand,
    .due = lethality_due,
    .next_due = lethality_next_due,
    .restart = break_chains,
    .leave = lethality_leave,
    .decided = heat_decided,
    .jump = heat_jump,
};
