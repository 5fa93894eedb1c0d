/* Judges the time that food spends between two temperatures, added up: over a batch's whole
 * life, or while it heats (E155 to E165). Time is certain between readings that show it; what
 * nobody saw is counted apart, and makes a question of what it could have made too long. Pure.
 */
#include "daemon/engine/judge.h"

static struct zone_state *
zone_of(const struct judging *j)
{
    return &j->run->of.zone;
}

/* E155 */
static enum zone_side
side_of(const struct judging *j, int32_t temp_mC)
{
    if (satisfies_most(temp_mC, j->limit->temp, j->limit->strict))
        return SIDE_COLD;
    return satisfies_least(temp_mC, j->limit->hot, j->limit->strict) ? SIDE_HOT : SIDE_IN;
}

/* Nothing counts any more: it is heated through already (E165). */
static bool
is_over(const struct judging *j)
{
    return j->limit->kind == LIMIT_RISE && j->food->run.verdict == VERDICT_MET;
}

/* It stays as it is: told, or over. Told, it is counted on all the same (E235). */
static bool
settled(const struct judging *j)
{
    return j->run->deviated || is_over(j);
}

int64_t
zone_spacing_ms(const struct run *run)
{
    int64_t longest = 0;
    for (size_t i = 0; i < run->watch_count; i++)
        longest = most_of(longest, run->watch[i].spacing_ms);
    return longest;
}

static int64_t
longest_spacing_ms(const struct judging *j)
{
    return zone_spacing_ms(j->run);
}

/* ---- what the probes show together ---- */

/* When the probe that was seen least lately was seen; TIME_NONE when one has not been. There is
 * one: it is asked for as one is read. */
static int64_t
common_ms(const struct judging *j)
{
    int64_t least = TIME_NEVER;
    for (size_t i = 0; i < j->run->watch_count; i++)
        least = least_of(least, zone_of(j)->seen_ms[i]);
    return least;
}

/* E157: between a cold and a hot spot there is food in between. */
static enum zone_side
common_side(const struct judging *j)
{
    const struct zone_state *zone = zone_of(j);
    enum zone_side common = SIDE_UNSEEN;
    if (zone->hand_in)
        return SIDE_IN;
    for (size_t i = 0; i < j->run->watch_count; i++) {
        enum zone_side side = (enum zone_side)zone->side[i];
        if (side == SIDE_IN)
            return SIDE_IN;
        if (side == SIDE_UNSEEN)
            continue;
        if (common != SIDE_UNSEEN && common != side)
            return SIDE_IN;
        common = side;
    }
    return common_ms(j) == TIME_NONE ? SIDE_UNSEEN : common;
}

/* ---- counting ---- */

static void
count_to(struct zone_state *zone, int64_t until_ms, bool certain)
{
    if (until_ms <= zone->at_ms)
        return;
    if (certain)
        zone->in_ms += until_ms - zone->at_ms;
    else
        zone->unknown_ms += until_ms - zone->at_ms;
    zone->at_ms = until_ms;
}

/* From outside, or from what nobody knows, up to a moment at which all were seen outside: E158,
 * E159. */
static void
count_outside(struct judging *j, enum zone_side now)
{
    struct zone_state *zone = zone_of(j);
    int64_t until_ms = common_ms(j);
    if (until_ms < zone->at_ms)
        return; /* not all were seen since */
    bool crossed = zone->last != now && (zone->last == SIDE_COLD || zone->last == SIDE_HOT);
    bool joined = until_ms - zone->at_ms <= longest_spacing_ms(j) && zone->last != SIDE_UNSEEN;
    count_to(zone, least_of(zone->dark_ms, until_ms), false);
    if (crossed || !joined)
        count_to(zone, until_ms, crossed && joined);
    zone->at_ms = until_ms;
    zone->last = (uint8_t)now;
}

/* E158: it may have come in right after it was last seen outside. */
static void
count_entering(struct judging *j)
{
    struct zone_state *zone = zone_of(j);
    bool joined = j->at_ms - zone->at_ms <= longest_spacing_ms(j) &&
                  zone->last != SIDE_UNSEEN && zone->dark_ms <= zone->at_ms;
    count_to(zone, j->at_ms, joined);
    zone->last = SIDE_IN;
}

static void
count(struct judging *j)
{
    struct zone_state *zone = zone_of(j);
    enum zone_side now = common_side(j);
    if (zone->last == SIDE_IN) {
        count_to(zone, j->at_ms, true); /* until it is shown otherwise */
        bool fresh =
            common_ms(j) != TIME_NONE && j->at_ms - common_ms(j) <= longest_spacing_ms(j);
        zone->last = (uint8_t)(now != SIDE_IN && !fresh ? SIDE_UNSEEN : now);
    } else if (now == SIDE_IN) {
        count_entering(j);
    } else {
        count_outside(j, now);
    }
}

/* ---- what follows ---- */

static int64_t
certain_ms(const struct judging *j)
{
    const struct zone_state *zone = zone_of(j);
    return zone->in_ms + (zone->last == SIDE_IN ? j->at_ms - zone->at_ms : 0);
}

static void
fill(struct judging *j, struct decision *said)
{
    const struct zone_state *zone = zone_of(j);
    said->probe = zone->in_probe;
    said->temp_mC = zone->in_mC;
    said->since_ms = zone->first_ms;
    said->found_ms = certain_ms(j);
    if (zone->in_mC != TEMP_NONE && zone->nearer_hot)
        said->required = j->limit->hot;
}

static void
open_deviation(struct judging *j)
{
    enum decision_reason reason =
        j->limit->kind == LIMIT_RISE ? REASON_SLOW_RISE : REASON_OUT_TOO_LONG;
    struct decision *said = judge_say(j, DECISION_DEVIATION_OPENED, reason);
    fill(j, said);
    judge_open(j, said);
    judge_withdraw(j, REASON_NO_GOOD_READING, 0); /* certain now */
}

/* E235 */
static void
end(struct judging *j)
{
    struct decision *said = judge_end(j, j->run->deviation, REASON_BATCH_ENDED);
    said->last_ms = zone_of(j)->in_last_ms; /* E237 */
    if (j->limit->kind == LIMIT_ZONE)
        said->found_ms = certain_ms(j);
}

static void
ask(struct judging *j)
{
    struct decision *said = judge_say(j, DECISION_INCONCLUSIVE, REASON_NO_GOOD_READING);
    zone_of(j)->asked = true;
    fill(j, said);
    judge_undecided(j, said);
}

static int64_t
most_ms(const struct judging *j)
{
    return j->limit->within_ms - j->limit->time_strict;
}

/* What has been counted is too long already, and not told. A reading can show that at the very
 * instant at which it is back outside. */
static void
judge_counted(struct judging *j)
{
    if (settled(j))
        return;
    if (zone_of(j)->in_ms > most_ms(j))
        open_deviation(j);
    else if (!zone_of(j)->asked && zone_of(j)->in_ms + zone_of(j)->unknown_ms > most_ms(j))
        ask(j);
}

/* before: where this spot was when last seen. */
static void
note(struct judging *j, enum zone_side before, uint16_t probe, int32_t temp_mC)
{
    struct zone_state *zone = zone_of(j);
    if (side_of(j, temp_mC) != SIDE_IN)
        return;
    if (zone->first_ms == TIME_NONE)
        zone->first_ms = j->at_ms;
    if (before == SIDE_HOT || before == SIDE_COLD)
        zone->nearer_hot = before == SIDE_HOT;
    zone->in_last_ms = j->at_ms;
    zone->in_probe = probe;
    zone->in_mC = temp_mC;
}

/* ---- the judge ---- */

static void
zone_begin(struct judging *j)
{
    struct zone_state *zone = zone_of(j);
    zone->at_ms = j->at_ms; /* its probes come with the step: zone_probes */
    zone->first_ms = zone->dark_ms = TIME_NONE;
    zone->in_mC = TEMP_NONE;
    zone->last = SIDE_START; /* joined to the first reading, if that comes soon */
}

void
zone_probes(struct judging *j, const struct run *of)
{
    struct zone_state *zone = zone_of(j), was = *zone;
    struct run before = *j->run;
    bool all_kept = true;
    j->run->watch_count = of->watch_count;
    for (size_t i = 0; i < of->watch_count; i++) {
        j->run->watch[i] = of->watch[i];
        zone->seen_ms[i] = TIME_NONE;
        zone->side[i] = SIDE_UNSEEN;
        for (size_t k = 0; k < before.watch_count; k++)
            if (before.watch[k].probe == of->watch[i].probe) {
                zone->seen_ms[i] = was.seen_ms[k];
                zone->side[i] = was.side[k];
            }
        all_kept = all_kept && zone->seen_ms[i] != TIME_NONE;
    }
    /* E160: in between until the new probes show otherwise. */
    if (zone->last != SIDE_IN || all_kept)
        return;
    zone->hand_in = true;
    zone->hand_ms = j->at_ms;
}

static void
zone_good(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    struct zone_state *zone = zone_of(j);
    size_t w = (size_t)(watch - j->run->watch);
    if (is_over(j))
        return;
    note(j, (enum zone_side)zone->side[w], watch->probe, temp_mC);
    /* E159: how it was between readings too far apart nobody saw. */
    if (zone->seen_ms[w] != TIME_NONE && j->at_ms - zone->seen_ms[w] > watch->spacing_ms)
        zone->dark_ms = j->at_ms;
    zone->side[w] = (uint8_t)side_of(j, temp_mC);
    zone->seen_ms[w] = j->at_ms;
    if (zone->hand_in && common_ms(j) != TIME_NONE && common_ms(j) >= zone->hand_ms)
        zone->hand_in = false; /* E161: every probe has been seen since */
    count(j);
    judge_counted(j);
}

static void
zone_suspect(struct judging *j, struct watch *watch, int32_t temp_mC)
{
    struct zone_state *zone = zone_of(j);
    size_t w = (size_t)(watch - j->run->watch);
    if (side_of(j, temp_mC) != SIDE_IN || is_over(j))
        return; /* E41: it shows nothing in the food's favour */
    note(j, (enum zone_side)zone->side[w], watch->probe, temp_mC);
    zone->side[w] = SIDE_IN;
    count(j); /* when that is too long it is due now */
}

static void
zone_hand(struct judging *j, int32_t temp_mC)
{
    struct zone_state *zone = zone_of(j);
    bool in = side_of(j, temp_mC) == SIDE_IN;
    if (is_over(j) || (!in && (j->run->watch_count > 0 || j->is_doubted)))
        return; /* E161: outside, it says nothing against a probe; E217 */
    note(j, SIDE_UNSEEN, 0, temp_mC);
    if (zone->last == SIDE_IN || !in)
        count_to(zone, j->at_ms, zone->last == SIDE_IN);
    else
        count_entering(j);
    zone->hand_in = in;
    zone->hand_ms = j->at_ms;
    zone->last = (uint8_t)(in ? SIDE_IN : SIDE_UNSEEN); /* one spot reading has no duration */
    judge_counted(j);
}

/* E162: while it is in between; or dark, when it may be. */
static int64_t
zone_next_due(const struct judging *j)
{
    const struct zone_state *zone = zone_of(j);
    if (settled(j))
        return TIME_NEVER;
    int64_t left_ms = j->limit->within_ms - zone->in_ms;
    int64_t open_ms = most_of(left_ms, 0);
    int64_t ask_ms = most_of(left_ms, zone->unknown_ms) - zone->unknown_ms;
    if (zone->last == SIDE_IN)
        return zone->at_ms + (zone->asked ? open_ms : ask_ms);
    int64_t dark_ms = longest_spacing_ms(j) + 1; /* seen outside until then */
    return zone->asked ? TIME_NEVER : zone->at_ms + most_of(ask_ms, dark_ms);
}

static void
zone_due(struct judging *j)
{
    if (j->at_ms < zone_next_due(j))
        return;
    if (zone_of(j)->last == SIDE_IN && certain_ms(j) >= j->limit->within_ms)
        open_deviation(j);
    else if (!zone_of(j)->asked)
        ask(j);
}

/* E163: the time in which Trivet did not run is not known, wherever the food was. */
static void
zone_restart(struct judging *j)
{
    struct zone_state *zone = zone_of(j);
    if (zone->last == SIDE_IN)
        count_to(zone, j->run->outage_from_ms, true);
    count_to(zone, j->at_ms, false);
    if (zone->last != SIDE_IN)
        zone->last = SIDE_START;
    for (size_t i = 0; i < ENTRY_PROBES_MAX; i++)
        zone->seen_ms[i] = TIME_NONE;
    judge_counted(j);
}

static void
zone_leave(struct judging *j, enum leaving how)
{
    struct zone_state *zone = zone_of(j);
    if (j->run->deviation != 0) {
        end(j);
        return;
    }
    if (how == LEAVING_DISCARDED)
        return;
    count_to(zone, j->at_ms, zone->last == SIDE_IN);
    judge_counted(j);
    if (j->run->deviation != 0)
        end(j);
}

/* A person vouches for what nobody saw; what was seen still counts. */
static void
zone_decided(struct judging *j, const struct decision *said, bool accepted)
{
    (void)said;
    if (!accepted)
        return;
    if (zone_of(j)->last != SIDE_IN)
        zone_of(j)->at_ms = j->at_ms;
    zone_of(j)->unknown_ms = 0;
    zone_of(j)->asked = false;
}

/* What a pulled probe shows, in an oven or a freezer, would be outside: E164. */
static enum jump
zone_jump(const struct judging *j, bool rising, bool early)
{
    (void)j, (void)rising;
    return early ? JUMP_ENTERS_FOOD : JUMP_LEFT_FOOD;
}

const struct judge judge_zone = {
    .begin = zone_begin,
    .good = zone_good,
    .suspect = zone_suspect,
    .hand = zone_hand,
    .due = zone_due,
    .next_due = zone_next_due,
    .restart = zone_restart,
    .leave = zone_leave,
    .decided = zone_decided,
    .jump = zone_jump,
};
