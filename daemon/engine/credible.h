/* Whether a probe on a batch still measures the food (E40 to E49). */
#ifndef ENGINE_CREDIBLE_H
#define ENGINE_CREDIBLE_H

#include "daemon/engine/judge.h"

/* After this long a step no longer takes a sudden change for a probe being put into the food.
 * Common practice, no source: a cook starts the step and puts the probe in within a few
 * minutes. */
#define HANDOVER_MS INT64_C(300000)

/* Hotter than boiling water no wet core gets; oven air and fat do. Water boils at 99.97 °C at
 * 101.325 kPa (IAPWS). */
#define FOOD_HOTTEST_mC 100000

/* A person handed the probe to this step: whatever it shows next is taken as the food. */
void credible_hand_over(struct probe_state *probe, int64_t at_ms);
/* Nobody did: its step has begun by itself, and the probe is not being put in. */
void credible_in_food(struct probe_state *probe);

/* The quality of a reading with a temperature, as judged; tells the beginning and the end of
 * suspicion. */
uint16_t credible_judge(struct judging *j, struct probe_state *probe, int32_t temp_mC);

/* A hand reading of the same food: a suspect probe that agrees with it is believed again (E48).
 */
void credible_by_hand(struct judging *j, struct probe_state *probe, const struct watch *watch,
                      int32_t temp_mC);

/* Tells the end of a suspicion, if there is one, because a person handed the probe over or took
 * it off. */
void credible_release(struct judging *j, struct probe_state *probe,
                      enum decision_reason reason);

#endif
