/* Alarms: which deviations are one, whether it sounds, who is told next (E197 to E204). Nothing
 * here is judged by: whatever becomes of an alarm, its deviations stay what they are. */
#ifndef ENGINE_ALARMS_H
#define ENGINE_ALARMS_H

#include "daemon/engine/state.h"

/* After each input that decided something, was an entry or a plan: deviations opened and ended
 * in `out` find their alarm, and what is due is set. */
void alarms_follow(struct engine *engine, struct engine_output *out, int64_t at_ms);
/* One thing that is due. */
void alarms_due(struct engine *engine, struct engine_output *out, int64_t at_ms);

void alarm_heard(struct engine *engine, int64_t at_ms, const struct entry *entry);
void alarm_acted(struct engine *engine, int64_t at_ms, const struct entry *entry);
void alarm_shelve(struct engine *engine, struct engine_output *out, int64_t at_ms,
                  const struct entry *entry);

/* NULL when there is none: a deviation that is not listed (E84) has no alarm either. */
struct alarm_state *alarm_of(struct engine *engine, uint32_t deviation);
/* Whether one of its deviations goes on. */
bool alarm_goes_on(const struct engine *engine, const struct alarm_state *alarm);
/* NULL when nothing of that place is shelved. */
const struct place_shelf *place_shelf_find(const struct engine *engine, const char *place);

#endif
