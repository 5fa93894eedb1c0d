/* When hot food can have come to a probe that is on no batch: after the last reading that
 * showed none. A probe that is put into food takes its time to show it, so the readings on its
 * way up are the food's already. Pure. */
#include "daemon/engine/coming.h"

/* So near to the start food may have been all along: more than it wavers. */
#define WELL_BELOW_mK 4000

static bool
is_above(int32_t temp_mC, struct limit_temp start)
{
    return temp_compare(temp_mC, start) > 0;
}

/* What the probe shows without food: the lowest it was seen, which follows a slow rise, as of a
 * room, by no more than a reading wavers in settle_for. A silence is no rise. */
static void
follow_idle(struct probe_state *probe, const struct plan_tolerances *tolerances,
            const struct reading *reading)
{
    int64_t rise = (int64_t)reading->temp_mC - probe->idle_mC, most = 0;
    int64_t seen_ago_ms = reading->at_ms - probe->looked_ms;
    if (seen_ago_ms < tolerances->settle_ms)
        most = HOT_BY_mK * seen_ago_ms / tolerances->settle_ms;
    probe->idle_mC = (int32_t)(probe->idle_mC + least_of(rise, most));
}

/* A rise that stays where it is, well below the start, was to warmer air. */
static bool
has_settled(struct probe_state *probe, const struct plan_tolerances *tolerances,
            const struct reading *reading)
{
    int64_t step = (int64_t)reading->temp_mC - probe->level_mC;
    if (probe->level_ms == TIME_NONE || step >= HOT_BY_mK || -step >= HOT_BY_mK) {
        probe->level_ms = reading->at_ms;
        probe->level_mC = reading->temp_mC;
    }
    if (reading->at_ms - probe->level_ms < tolerances->settle_ms)
        return false;
    probe->idle_mC = reading->temp_mC;
    return true;
}

/* Whether a reading shows no food yet: well below the start, and not on its way up. */
static bool
shows_none(struct probe_state *probe, const struct plan_tolerances *tolerances,
           const struct reading *reading)
{
    if (reading->temp_mC > INT32_MAX - WELL_BELOW_mK ||
        is_above(reading->temp_mC + WELL_BELOW_mK, probe->hot_start)) {
        probe->level_ms = TIME_NONE;
        return false;
    }
    if ((int64_t)reading->temp_mC - probe->idle_mC >= HOT_BY_mK)
        return has_settled(probe, tolerances, reading);
    probe->level_ms = TIME_NONE;
    return true;
}

void
coming_note(struct probe_state *probe, const struct plan_tolerances *tolerances,
            const struct reading *reading)
{
    if (probe->hot_above_ms != TIME_NONE)
        return; /* E32: what comes later is no later start */
    follow_idle(probe, tolerances, reading);
    probe->looked_ms = reading->at_ms;
    if (shows_none(probe, tolerances, reading)) {
        probe->cold_ms = reading->at_ms;
        probe->hot_first_ms = TIME_NONE;
    } else if (probe->hot_first_ms == TIME_NONE &&
               is_above(reading->temp_mC, probe->hot_start)) {
        probe->hot_first_ms = reading->at_ms;
    }
}

void
coming_clear(struct probe_state *probe)
{
    probe->level_ms = probe->cold_ms = probe->hot_first_ms = TIME_NONE;
    probe->idle_mC = INT32_MAX; /* the first reading is the lowest */
}
