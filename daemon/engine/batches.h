/* Batches: their steps, the probes on them, and the runs of their limits. */
#ifndef ENGINE_BATCHES_H
#define ENGINE_BATCHES_H

#include "daemon/engine/judge.h"

struct batch_state *batch_find(struct engine *engine,
                               uint32_t number); /* NULL when it is not open */
const struct plan_product *batch_product(const struct engine *engine,
                                         const struct batch_state *batch);
const struct plan_step *batch_step(const struct engine *engine,
                                   const struct batch_state *batch);

/* Sets up j for the running step of a batch. */
void judging_batch(struct judging *j, struct engine *engine, struct engine_output *out,
                   int64_t at_ms, struct batch_state *batch);
/* Asks the judge again when something is due. */
void batch_due_again(struct judging *j, const struct batch_state *batch);

/* False when nothing came of it: a record that names what the plan does not have, or no batch.
 */
bool batch_begin(struct engine *engine, struct engine_output *out, int64_t at_ms,
                 const struct entry *entry);
bool batch_move(struct engine *engine, struct engine_output *out, int64_t at_ms,
                const struct entry *entry);
void batch_end(struct engine *engine, struct engine_output *out, int64_t at_ms,
               const struct entry *entry);

/* Of a step that began by itself and did not (E180): the batch was none; or it is in the step
 * before again, which begins from nothing but keeps that its limit was met. Ends the use of j.
 */
void batch_undo(struct judging *j, struct batch_state *batch);
void batch_step_back(struct judging *j, struct batch_state *batch, const char *who);

/* A reading with a temperature of a probe on this batch: judges whether to believe it. */
uint16_t batch_believes(struct engine *engine, struct engine_output *out,
                        const struct reading *reading, struct probe_state *probe);
/* The same reading, with its quality as judged. */
void batch_reading(struct engine *engine, struct engine_output *out,
                   const struct reading *reading, struct batch_state *batch);
size_t batches_open(const struct engine *engine);
/* Whether a further batch leaves a slot for the next plan (E83). */
bool plans_leave_room(const struct engine *engine);
/* Which plans an open batch still uses; ret_count of them. */
bool plan_is_pinned(const struct engine *engine, size_t plan);

#endif
