/* Whether a plan can come into force: the engine's word on one that is on its way. PURE, as
 * trivet/engine.h. */
#ifndef TRIVET_ENGINE_PLAN_H
#define TRIVET_ENGINE_PLAN_H

#include "trivet/engine.h"

/* Whether a plan can come into force now: whatever an open batch or deviation needs to go on is
 * still in it. On false, reterr says what is missing and what to do, one line for each. Its
 * probes need no numbers yet. Never changes the engine. */
bool engine_check_plan(const struct engine *engine, const struct plan *plan, char *reterr,
                       size_t err_size);

#endif
