/* What the judges of heating share: one temperature (judge_cook.c), a table of them
 * (judge_table.c), an equivalent time (judge_lethality.c). */
#ifndef ENGINE_HEAT_H
#define ENGINE_HEAT_H

#include "daemon/engine/judge.h"

/* True when nothing can be met any more: met, missed for good, or a question for a person. */
bool heat_settled(const struct judging *j);
/* The limit is met now, or its deviation ends (E11, E14). The decision is to be refined. */
struct decision *heat_meet(struct judging *j, enum decision_reason reason, uint16_t probe,
                           int32_t temp_mC, int64_t since_ms, int64_t held_ms);
/* The step is left. shortest_ms: the shortest unwatched time in which it could have been met
 * (E63); held_ms: what was shown. */
void heat_leave(struct judging *j, enum leaving how, int64_t shortest_ms, int64_t since_ms,
                int64_t held_ms);
void heat_decided(struct judging *j, const struct decision *said, bool accepted);
enum jump heat_jump(const struct judging *j, bool rising, bool early);

#endif
