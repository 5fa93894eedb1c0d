/* Whether a probe has been pulled out of the food into the air of its place (E182 to E185). */
#ifndef ENGINE_PULLED_H
#define ENGINE_PULLED_H

#include "daemon/engine/judge.h"

/* Nearer to the air than this, food and air cannot be told apart by their temperature. */
#define PULLED_LEAST_mK 3000

/* Forgets what was seen of the food beside the air. */
void pulled_forget(struct probe_state *probe);
/* A reading that is believed. */
void pulled_note(struct judging *j, struct probe_state *probe, int32_t temp_mC);
/* True when it has come to the air faster than food can. */
/* ret_was: how it was last seen in the food. */
bool pulled_out(struct judging *j, struct probe_state *probe, int32_t temp_mC,
                struct beside *ret_was);
/* Whether a reading had gone further towards the air than food can since any that was seen of
 * the food shortly before, and half a degree that a reading may waver by. */
bool pulled_too_fast(const struct plan_tolerances *tolerances, const struct probe_state *probe,
                     int64_t at_ms, int32_t temp_mC);
/* Of one that is out: true when it is away from the air again, on the side of the food. */
bool pulled_is_back(const struct judging *j, const struct probe_state *probe, int32_t temp_mC);

#endif
