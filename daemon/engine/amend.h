/* Corrections of steps that began by themselves (E179 to E181). */
#ifndef ENGINE_AMEND_H
#define ENGINE_AMEND_H

#include "daemon/engine/check.h"
#include "daemon/engine/judge.h"

/* After a begin or move: remembers the record when it was nobody's. */
void amend_note(struct engine *engine, const struct engine_input *input);
/* The batch whose running step began by itself with that record; NULL when none has. */
struct batch_state *amend_batch(struct engine *engine, uint64_t seq);

void amend_take(struct engine *engine, struct engine_output *out,
                const struct engine_input *input);
void amend_confirm(struct engine *engine, struct engine_output *out,
                   const struct engine_input *input);
/* The step is left: what waits has nothing left to correct. */
void amend_dropped(struct judging *j, struct batch_state *batch, enum decision_reason reason);

bool check_amend(const struct check *c);
bool check_confirm(const struct check *c);

#endif
