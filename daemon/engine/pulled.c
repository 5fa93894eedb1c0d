/* A probe pulled out of its food comes to the air within seconds. A core cannot: in
 * surroundings that stay as they are it loses, of its distance to them, at most the share k =
 * (pi / 2)^2 a / L^2 in a time (slab heated or cooled on both sides, half thickness L,
 * diffusivity a, infinite Biot number; docs/engine.md E182). Asked is whether three quarters of
 * the distance were lost in the plan's pulled_within. Pure. */
#include "daemon/engine/pulled.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/engine/batches.h"

/* Beyond so many times pulled_within a reading is not near enough to tell. */
#define TIMES_MAX 5
/* What is nearer than this to the air is at it. */
#define NEAR_mK 300
/* What a reading of food may waver by. */
#define WAVER_mK 500

/* The air of the batch's place, if a probe has measured it lately. */
static bool
air_of_place(const struct judging *j, int32_t *ret_mC)
{
    const struct engine_state *state = &j->engine->state;
    for (size_t i = 0; j->place[0] && i < state->counts.places; i++) {
        const struct place_state *place = &state->places[i];
        if (place->probe == 0 || strcmp(place->id, j->place) != 0 ||
            !watch_fresh(&place->run.watch[0], j->at_ms))
            continue;
        *ret_mC = place->run.watch[0].good_mC;
        return true;
    }
    return false;
}

void
pulled_forget(struct probe_state *probe)
{
    for (size_t i = 0; i < BESIDE_MAX; i++)
        probe->beside[i] = (struct beside){.at_ms = TIME_NONE};
    probe->out_mK = 0;
}

void
pulled_note(struct judging *j, struct probe_state *probe, int32_t temp_mC)
{
    size_t last = (probe->beside_next + BESIDE_MAX - 1) % BESIDE_MAX;
    int32_t air_mC;
    if (j->tolerances->pulled_ms == 0)
        return;
    /* Apart enough that the ring reaches back over the whole time. */
    if (probe->beside[last].at_ms != TIME_NONE &&
        j->at_ms - probe->beside[last].at_ms < j->tolerances->pulled_ms / BESIDE_MAX)
        return;
    if (!air_of_place(j, &air_mC))
        air_mC = TEMP_NONE; /* looked for as seldom */
    probe->beside[probe->beside_next] = (struct beside){j->at_ms, temp_mC, air_mC};
    probe->beside_next = (probe->beside_next + 1) % BESIDE_MAX;
}

/* It was apart from the air and has itself gone at least three quarters of the way. */
static bool
has_gone_far(const struct beside *was, int32_t temp_mC)
{
    int64_t apart = (int64_t)was->temp_mC - was->air_mC;
    int64_t gone = (int64_t)was->temp_mC - temp_mC;
    return was->air_mC != TEMP_NONE && llabs(apart) >= PULLED_LEAST_mK &&
           (gone < 0) == (apart < 0) && 4 * llabs(gone) >= 3 * llabs(apart);
}

/* It is there, and the air has not come to meet it. In twice the time food can come four times
 * as near, and so on: after darkness the probe has to be as much nearer. */
static bool
is_at_air(const struct beside *was, int64_t times, int32_t temp_mC, int32_t air_mC)
{
    int64_t size = llabs((int64_t)was->temp_mC - was->air_mC);
    int64_t near = size >> 2 * times;
    if (times > 1 && near < NEAR_mK)
        near = NEAR_mK; /* a reading tells no less */
    return llabs((int64_t)temp_mC - air_mC) <= near &&
           4 * llabs((int64_t)air_mC - was->air_mC) <= size;
}

bool
pulled_out(struct judging *j, struct probe_state *probe, int32_t temp_mC,
           struct beside *ret_was)
{
    int32_t air_mC = TEMP_NONE;
    const struct beside *last = NULL;
    for (size_t i = 0; i < BESIDE_MAX; i++) { /* none was noted where the rule is off */
        const struct beside *was = &probe->beside[i];
        if (was->at_ms == TIME_NONE || !has_gone_far(was, temp_mC))
            continue; /* nearly always */
        int64_t times = 1 + (j->at_ms - was->at_ms - 1) / j->tolerances->pulled_ms;
        if (times > TIMES_MAX)
            continue;
        if (air_mC == TEMP_NONE && !air_of_place(j, &air_mC))
            return false;
        if (is_at_air(was, times, temp_mC, air_mC) &&
            (last == NULL || was->at_ms > last->at_ms))
            last = was;
    }
    if (last == NULL)
        return false;
    probe->out_mK = last->temp_mC - last->air_mC;
    memcpy(ret_was, last, sizeof *ret_was);
    return true;
}

static bool
is_too_fast(const struct plan_tolerances *tolerances, const struct beside *was, int64_t at_ms,
            int32_t temp_mC)
{
    int64_t apart = llabs((int64_t)was->temp_mC - was->air_mC);
    int64_t gone = llabs((int64_t)was->temp_mC - temp_mC);
    /* ln 4 of the distance in pulled_within, at the rate at which it begins: an upper bound. */
    int64_t most = apart * (at_ms - was->at_ms) * 1387 / 1000 / tolerances->pulled_ms;
    return gone > most + WAVER_mK;
}

bool
pulled_too_fast(const struct plan_tolerances *tolerances, const struct probe_state *probe,
                int64_t at_ms, int32_t temp_mC)
{
    for (size_t i = 0; i < BESIDE_MAX; i++) {
        const struct beside *was = &probe->beside[i];
        if (was->at_ms != TIME_NONE && was->air_mC != TEMP_NONE && was->at_ms < at_ms &&
            is_too_fast(tolerances, was, at_ms, temp_mC))
            return true;
    }
    return false;
}

bool
pulled_is_back(const struct judging *j, const struct probe_state *probe, int32_t temp_mC)
{
    int32_t air_mC;
    if (!air_of_place(j, &air_mC))
        return false; /* what it is in cannot be told without the air */
    int64_t apart = (int64_t)temp_mC - air_mC;
    return (apart < 0) == (probe->out_mK < 0) && 4 * llabs(apart) >= 3 * llabs(probe->out_mK);
}
