/* Which deviations have one cause (E198). */
#ifndef ENGINE_ALARM_CAUSE_H
#define ENGINE_ALARM_CAUSE_H

#include "daemon/engine/state.h"

/* Whether what has just opened belongs to the alarm of one that goes on. */
bool same_cause(const struct engine *engine, const struct decision *going_on,
                const struct decision *opened);
/* How far up in the order of causes a deviation stands: a silent probe, a place, the rest. */
int cause_rank(const struct decision *opened);

#endif
