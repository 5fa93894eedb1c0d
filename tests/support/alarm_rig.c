/* See alarm_rig.h. */
#include "tests/support/alarm_rig.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/check.h"

const char alarm_kitchen[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s") PLAN_PROBE(
    "p2", "food", "rack", "1", "10 s") PLAN_PROBE("p3", "food", "wing", "0", "10 s")
    PLAN_PROBE("cold", "air", "rack", "2", "10 s") PLAN_PROBE("hot", "air", "wing", "1", "10 s")
        PLAN_PROBE("slow", "air", "rack", "3",
                   "30 s") "places:\n"
                           "  - {id: fridge, name: Fridge, probe: cold, limit: {kind: "
                           "hold_cold, applies_to: air,\n"
                           "     at_most: 5 °C, tolerance: 10 min, back_for: 1 min}}\n"
                           "  - {id: larder, name: Larder, probe: cold, limit: {kind: "
                           "hold_cold, applies_to: air,\n"
                           "     at_most: 8 °C, tolerance: 12 min, back_for: 1 min}}\n"
                           "  - {id: cupboard, name: Cupboard, probe: hot, limit: {kind: "
                           "hold_hot, applies_to: air,\n"
                           "     at_least: 63 °C, tolerance: 10 min, back_for: 1 min}}\n"
                           "  - {id: chiller, name: Chiller, probe: slow, limit: {kind: "
                           "hold_cold, applies_to: air,\n"
                           "     at_most: 3 °C, tolerance: 10 min, back_for: 2 min}}\n"
                           "  - {id: shelf, name: Shelf, limit: {kind: none}}\n"
                           "products:\n"
                           "  - id: salad\n"
                           "    name: Salad\n"
                           "    steps: [{id: keep, name: Keep, limit: {kind: hold_cold, "
                           "applies_to: food, at_most: 5 "
                           "°C, tolerance: 2 min, back_for: 1 min}}]\n"
                           "  - id: soup\n"
                           "    name: Soup\n"
                           "    steps: [{id: serve, name: Serve, limit: {kind: hold_hot, "
                           "applies_to: food, at_least: "
                           "57 °C, tolerance: 2 min, back_for: 1 min}}]\n"
                           "  - id: sauce\n"
                           "    name: Sauce\n"
                           "    steps: [{id: cool, name: Cool, limit: {kind: cool, "
                           "applies_to: food, clock: step,\n"
                           "      from: 57 °C, stages: [{to: 21 °C, within: 20 min}]}}]\n"
                           "  - id: pie\n"
                           "    name: Pie\n"
                           "    steps: [{id: bake, name: Bake, limit: {kind: cook, "
                           "applies_to: food, at_least: 70 °C, "
                           "within: 15 min}}]\n"
                           "duties: {shelve_at_most: 2 h}\n"
                           "escalation:\n"
                           "  - {after: 5 min, without: hearing, tell: supervisor}\n"
                           "  - {after: 40 min, tell: SB}\n"
                           "  - {after: 90 min, tell: verifier}\n";

static size_t
alarms(const struct rig *rig, struct engine_alarm_view ret[8])
{
    return engine_view_alarms(rig->engine, ret, 8);
}

struct engine_alarm_view
alarm_rig_at(const struct rig *rig, size_t index)
{
    struct engine_alarm_view views[8];
    assert_true(index < alarms(rig, views));
    return views[index];
}

size_t
alarm_rig_count(const struct rig *rig)
{
    struct engine_alarm_view views[8];
    return alarms(rig, views);
}

void
alarm_rig_play(struct rig *rig, const char *from, const char *to, const char *values)
{
    for (int64_t at_ms = rig_time(from); at_ms <= rig_time(to); at_ms += 10000) {
        char copy[200], *rest = NULL;
        int s = (int)((at_ms - RIG_BASE_MS) / 1000);
        (void)snprintf(copy, sizeof copy, "%s", values);
        for (char *word = strtok_r(copy, " ", &rest); word; word = strtok_r(NULL, " ", &rest)) {
            char line[80], *value = strchr(word, '=');
            assert_non_null(value);
            *value++ = '\0';
            (void)snprintf(line, sizeof line, "%d:%02d:%02d %s %s\n", s / 3600, s / 60 % 60,
                           s % 60, word, value);
            rig_play(rig, line);
        }
    }
}

struct rig *
alarm_rig_two(void)
{
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n0:00:00 begin salad p2 place=fridge\n"
                  "0:00:00 begin soup p3\n");
    alarm_rig_play(rig, "0:00:10", "0:02:00", "cold=6 hot=64 slow=2 p1=6 p2=4 p3=50");
    alarm_rig_play(rig, "0:02:10", "0:05:00", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:02:10 deviation-opened out-too-long #2 batch 3 p3 50.0 since 0:00:10 "
                    "found 0:02:00\n"
                    "0:04:10 deviation-opened out-too-long #3 batch 2 p2 6.0 since 0:02:10 "
                    "found 0:02:00\n");
    assert_int_equal(alarm_rig_count(rig), 3);
    return rig;
}
