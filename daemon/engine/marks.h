/* Date marks: how many days food may be kept, counted by the calendar, frozen days left out
 * (docs/engine.md E226 to E233). */
#ifndef ENGINE_MARKS_H
#define ENGINE_MARKS_H

#include "daemon/engine/judge.h"

/* A batch begins; its day may be said (`made`, `until`). After its place is known. */
void mark_begin(struct engine *engine, struct engine_output *out, int64_t at_ms,
                struct batch_state *batch, const struct entry *entry);
/* It is in another step or place. */
void mark_batch_moved(struct engine *engine, struct engine_output *out, int64_t at_ms,
                      struct batch_state *batch);
void mark_stored_moved(struct engine *engine, struct engine_output *out, int64_t at_ms,
                       struct stored_state *stored);
/* The food is gone: its deviation ends. */
void mark_over(struct engine *engine, struct engine_output *out, int64_t at_ms,
               const struct mark_state *mark, enum decision_reason reason);
/* A business day has begun. */
void marks_take_day(struct engine *engine, struct engine_output *out, int64_t at_ms,
                    const struct entry *entry);
/* Nobody has watched for a while; before anything else hears of it (E230). */
void marks_restart(struct engine *engine);
/* Food of a deviation of the place it is in may have thawed (E230). */
void mark_thawed(struct engine *engine, struct engine_output *out, int64_t at_ms,
                 const struct deviation_state *deviation);
/* The last day on which it may be used, as far as is known; 0 = nobody can say. */
int32_t mark_last_day(const struct engine *engine, const struct mark_state *mark);

#endif
