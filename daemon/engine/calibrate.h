/* Checks of thermometers and corrections of probes (E120 to E129, E216, E217). */
#ifndef ENGINE_CALIBRATE_H
#define ENGINE_CALIBRATE_H

#include "daemon/engine/judge.h"

void check_state_clear(struct check_state *check);
/* Whether this check can be taken (E124); if not, why and what to do, in words. */
bool calibration_check(const struct engine *engine, const struct entry *entry, char *reterr,
                       size_t err_size);
/* What a check has found and done, in force from now on. */
void calibration_take(struct engine *engine, struct engine_output *out,
                      const struct engine_input *input);
/* Whether the hand-held thermometer that an entry names was left outside its tolerance. */
bool calibration_is_doubted(struct engine *engine, const struct entry *entry);
/* Before a plan comes into force: what it reads otherwise, or no longer, is unknown again. was
 * may be NULL. */
void calibration_follows(struct engine *engine, struct engine_output *out, int64_t at_ms,
                         const struct plan *was, const struct plan *plan);
/* How the thermometer that an entry names is to be checked under this plan; NULL when it names
 * none of the plan, or not exactly one. */
const struct plan_checking *calibration_rules(const struct plan *plan,
                                              const struct entry *entry);
/* What is known of it; NULL when nothing. */
struct check_state *calibration_state(struct engine *engine, const struct plan *plan,
                                      const struct entry *entry);

#endif
