/* Places: watched all day, under the plan in force. */
#ifndef ENGINE_PLACES_H
#define ENGINE_PLACES_H

#include "daemon/engine/judge.h"

/* Sets up j for a place of the plan in force. */
void judging_place(struct judging *j, struct engine *engine, struct engine_output *out,
                   int64_t at_ms, size_t place);
void place_due_again(struct judging *j, size_t place);
/* What is due at at_ms. */
void place_due(struct engine *engine, struct engine_output *out, int64_t at_ms, size_t place);
/* Its limit is suspended (E110). */
bool place_is_quiet(const struct engine *engine, size_t place);
/* Takes an ENTRY_QUIET. */
void place_quiet(struct engine *engine, struct engine_output *out, int64_t at_ms,
                 const struct entry *entry);
void place_reading(struct engine *engine, struct engine_output *out,
                   const struct reading *reading, size_t place);
/* A plan comes into force: places, probes and the borrowed plans follow it (E80 to E83). */
void plan_takes_force(struct engine *engine, struct engine_output *out, int64_t at_ms,
                      uint64_t seq, const struct plan *plan);

#endif
