/* Steps that begin by themselves (E173 to E178): a cooling whose food falls through its start,
 * in a step before it or on a probe of no batch. */
#ifndef ENGINE_BY_ITSELF_H
#define ENGINE_BY_ITSELF_H

#include "daemon/engine/judge.h"

/* Food counts as hot when it has been this far above the start: more than a reading wavers, so
 * that food that is still being heated does not begin to cool (E177). */
#define HOT_BY_mK 1000

/* A good reading, after everything else it is for. */
void by_itself_reading(struct engine *engine, struct engine_output *out,
                       const struct reading *reading, struct probe_state *probe);

/* The next step of a batch that begins by itself: it, or those without a limit before it, come
 * after the running one. NULL when there is none. */
const struct plan_step *by_itself_next(const struct engine *engine,
                                       const struct batch_state *batch);

/* Whether the step names this probe as one on which hot food begins it. */
bool step_begins_on(const struct plan_step *step, const char *probe);

/* What a run has seen of the food for the step that is awaited. */
struct seen_hot fall_of(const struct plan_step *awaited, const struct run *run);
/* What is known from the probes that a batch had and from one that comes to it: a fall that its
 * own have seen is measured, and earlier. */
struct seen_hot seen_by_both(struct seen_hot own, struct seen_hot other);
/* The same of probes on no batch, for the step that begins. */
struct seen_hot hot_food_of(struct engine *engine, const struct plan_probe *const *probes,
                            size_t count, const struct plan_step *step);

/* The question whether a batch is cooling has its answer. */
void fall_answered(struct judging *j, enum decision_reason reason);
/* Forgets what a probe on no batch has seen; a question about it has its answer. */
void hot_clear(struct engine *engine, struct engine_output *out, int64_t at_ms,
               struct probe_state *probe, enum decision_reason reason);

/* Completes what is said of a step that begins: by itself, or because a person says so. */
void by_itself_say(struct decision *said, struct engine *engine,
                   const struct batch_state *batch, const struct entry *entry);

/* A plan comes into force: which steps hot food on its probes begins. */
void by_itself_follows(struct engine *engine, struct engine_output *out, int64_t at_ms,
                       const struct plan *plan);

#endif
