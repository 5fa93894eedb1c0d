/* Since when hot food can have been on a probe of no batch (E242). */
#ifndef ENGINE_COMING_H
#define ENGINE_COMING_H

#include "daemon/engine/by_itself.h"

/* A good reading of such a probe, before it is looked at whether hot food is there. */
void coming_note(struct probe_state *probe, const struct plan_tolerances *tolerances,
                 const struct reading *reading);
/* Forgets what it has seen. */
void coming_clear(struct probe_state *probe);

#endif
