/* A kitchen with several places, buses and limits for tests of alarms: what is one alarm, and
 * what each alarm shows. Plays by engine_rig. */
#ifndef SUPPORT_ALARM_RIG_H
#define SUPPORT_ALARM_RIG_H

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"
#include "trivet/engine_alarm.h"

/* One air probe watches fridge and larder; the chiller's is read every 30 s. */
extern const char alarm_kitchen[];

size_t alarm_rig_count(const struct rig *rig);
struct engine_alarm_view alarm_rig_at(const struct rig *rig,
                                      size_t index); /* fails when there is none */

/* Everybody reads the same moments: "cold=4 p1=9 ..." every 10 s from one time to another. */
void alarm_rig_play(struct rig *rig, const char *from, const char *to, const char *values);

/* Two batches warm in the fridge, batch 1 from 0:00:10 and batch 2 from 0:02:10, and a third
 * trouble elsewhere; at 0:10:10 the fridge shows that the first two are one. */
struct rig *alarm_rig_two(void);

/* The fridge, warm from 0:00:10, opens its deviation; nobody has heard it. */
#define FRIDGE_OPENED                                                                          \
    "0:10:10 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:10 found 0:10:00\n"
#define NOT_HEARD "0:15:10 escalated not-heard #1 level 1 fridge since 0:10:10\n"

/* A small kitchen whose first probe watches its first and its last place. */
#define LARDER                                                                                 \
    "  - {id: larder, name: Larder, probe: cold, limit: {kind: hold_cold, applies_to: air,\n"  \
    "     at_most: 8 °C, tolerance: 10 min, back_for: 1 min}}\n"
#define CELLAR                                                                                 \
    "  - {id: cellar, name: Cellar, probe: cold, limit: {kind: hold_cold, applies_to: air,\n"  \
    "     at_most: 5 °C, tolerance: 12 min, back_for: 1 min}}\n"
#define SMALL(places)                                                                          \
    PLAN_HEAD PLAN_PROBE("cold", "air", "rack", "0", "10 s") PLAN_PROBE("p1", "food", "rack",  \
                                                                        "1", "10 s")           \
        PLAN_PROBE("p2", "food", "rack", "2", "10 s") PLAN_PROBE(                              \
            "p3", "food", "rack", "3",                                                         \
            "10 s") "places:\n" places "products:\n"                                           \
                    "  - id: salad\n"                                                          \
                    "    name: Salad\n"                                                        \
                    "    steps: [{id: keep, name: Keep, limit: {kind: hold_cold, applies_to: " \
                    "food, at_most: 5 °C, tolerance: 2 min, back_for: 1 min}}]\n"             \
                    "duties: {shelve_at_most: 2 h}\n"                                          \
                    "escalation:\n"                                                            \
                    "  - {after: 5 min, without: hearing, tell: supervisor}\n"                 \
                    "  - {after: 40 min, tell: SB}\n"

#endif
