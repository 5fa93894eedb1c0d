/* What is judged of a batch beside the limit of its step: the time its food spends between two
 * temperatures, over its whole life or while it heats (judge_zone.c), and the oven that it is
 * in (judge_oven.c). */
#ifndef ENGINE_BESIDE_H
#define ENGINE_BESIDE_H

#include "daemon/engine/judge.h"

/* With the batch, before its first step begins. */
void beside_begin_batch(const struct judging *j);
/* With each step: j is the step's own run, which has its probes. */
void beside_begin_step(const struct judging *j);
void beside_leave_step(const struct judging *j, enum leaving how);
void beside_leave_batch(const struct judging *j, enum leaving how);

void beside_reading(const struct judging *j, const struct reading *reading);
void beside_hand(const struct judging *j, int32_t temp_mC);
void beside_due(const struct judging *j);
int64_t beside_next_due(const struct judging *j);
void beside_restart(const struct judging *j, int64_t from_ms, int64_t to_ms);

/* A reading of the probe that watches a place, for the batches in it. */
void beside_place_reading(struct engine *engine, struct engine_output *out,
                          const struct reading *reading, const char *place);
/* After anything by which the step's limit can have become met: nothing is asked of the oven
 * then (E223). */
void beside_follow(const struct judging *j);
/* Likewise when the food was taken out of it. */
void beside_oven_over(const struct judging *j);
/* Whether something is still asked of it. */
bool beside_has_oven(const struct judging *j);

/* Turns j, of the step, into one of the run with this serial; false when it is none of these.
 */
bool beside_by_serial(struct judging *j, uint32_t serial);
/* Turns j, of a step without a limit, into one of the batch's life, if that has one (E164). */
void beside_protects(struct judging *j);

#endif
