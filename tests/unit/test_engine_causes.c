/* Which deviations are one alarm, in a kitchen with several places, buses and limits:
 * docs/engine.md E198 to E203. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"
#include "trivet/engine_alarm.h"

/* One air probe watches fridge and larder; the chiller's is read every 30 s. */
static const char kitchen[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")
    PLAN_PROBE("p2", "food", "rack", "1", "10 s") PLAN_PROBE("p3", "food", "wing", "0", "10 s")
        PLAN_PROBE("cold", "air", "rack", "2", "10 s") PLAN_PROBE("hot", "air", "wing", "1",
                                                                  "10 s")
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

static struct engine_alarm_view
alarm_at(const struct rig *rig, size_t index)
{
    struct engine_alarm_view views[8];
    assert_true(index < alarms(rig, views));
    return views[index];
}

static size_t
alarm_count(const struct rig *rig)
{
    struct engine_alarm_view views[8];
    return alarms(rig, views);
}

/* Everybody reads the same moments: "cold=4 p1=9 ..." every 10 s from one time to another. */
static void
play_all(struct rig *rig, const char *from, const char *to, const char *values)
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

/* ---- the place of the food ---- */

static void
test_hot_food_in_a_cold_cupboard_is_one_alarm_with_it(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin soup p1 place=cupboard\n");
    play_all(rig, "0:00:10", "0:09:50", "cold=4 hot=60 slow=2 p1=57");
    play_all(rig, "0:10:00", "0:12:00", "cold=4 hot=60 slow=2 p1=56.5");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 cupboard p5 60.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:12:00 deviation-opened out-too-long #2 of #1 silent p1 56.5 since "
                    "0:10:00 found 0:02:00\n");
    assert_int_equal(alarm_count(rig), 1);
    rig_free(rig);
}

static void
test_cooling_that_is_late_in_a_warm_chiller_is_one_alarm_with_it(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin sauce p1 place=chiller\n");
    play_all(rig, "0:00:10", "0:20:10", "cold=4 hot=64 slow=6 p1=40");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 chiller p6 6.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:15:10 escalated not-heard #1 level 1 chiller since 0:10:10\n"
                    "0:20:00 deviation-opened too-late #2 of #1 silent stage 1 p1 40.0 since "
                    "0:00:00 found 0:20:00\n");
    rig_free(rig);
}

/* Heat is missing in an oven that is cold as well, but no air limit says so. */
static void
test_heating_does_not_follow_from_the_air_of_a_place(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin pie p1 place=cupboard\n");
    play_all(rig, "0:00:10", "0:15:10", "cold=4 hot=60 slow=2 p1=40");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 cupboard p5 60.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:15:00 deviation-opened too-late #2 p1 40.0 since 0:00:00 found "
                    "0:15:00\n");
    assert_int_equal(alarm_count(rig), 2);
    rig_free(rig);
}

static void
test_food_elsewhere_or_nowhere_is_no_part_of_a_warm_place(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=chiller\n0:00:00 begin salad p2\n");
    play_all(rig, "0:00:10", "0:09:50", "cold=6 hot=64 slow=2 p1=4 p2=4");
    play_all(rig, "0:10:00", "0:12:00", "cold=6 hot=64 slow=2 p1=6 p2=6");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:12:00 deviation-opened out-too-long #2 p1 6.0 since 0:10:00 found "
                    "0:02:00\n"
                    "0:12:00 deviation-opened out-too-long #3 batch 2 p2 6.0 since 0:10:00 "
                    "found 0:02:00\n");
    assert_int_equal(alarm_count(rig), 3);
    rig_free(rig);
}

/* ---- places and their probes ---- */

static void
test_places_that_one_probe_watches_are_one_alarm(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:13:00", "cold=9 hot=64 slow=2");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:12:10 deviation-opened out-too-long #2 of #1 silent larder p4 9.0 since "
                    "0:00:10 found 0:12:00\n");
    assert_int_equal(alarm_at(rig, 0).cause, 1);
    /* The larder is back at 8 degrees, the fridge is not: the alarm goes on. */
    play_all(rig, "0:13:10", "0:14:20", "cold=7 hot=64 slow=2");
    rig_expect(rig, "0:14:10 deviation-ended back-inside #2 of #1 silent larder p4 7.0 worst "
                    "9.0 since 0:00:10 found 0:13:00\n");
    assert_true(alarm_at(rig, 0).goes_on);
    rig_play(rig, "0:14:21 action 1 AB\n0:14:22 verify 1 SB\n");
    play_all(rig, "0:14:30", "0:15:40", "cold=4 hot=64 slow=2");
    rig_expect(rig, "0:15:30 deviation-ended back-inside #1 fridge p4 4.0 worst 9.0 since "
                    "0:00:10 found 0:14:20\n");
    /* The second waits for its action still, under the number of the first. */
    assert_int_equal(alarm_count(rig), 1);
    assert_int_equal(alarm_at(rig, 0).number, 1);
    assert_int_equal(alarm_at(rig, 0).cause, 2);
    assert_false(alarm_at(rig, 0).goes_on);
    rig_free(rig);
}

/* The larder's own limit is not broken: 6 degrees there are no news but by the salad in it. */
static void
test_food_in_another_place_of_the_same_probe_is_one_alarm_with_it(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=larder\n");
    play_all(rig, "0:00:10", "0:09:50", "cold=6 hot=64 slow=2 p1=4");
    play_all(rig, "0:10:00", "0:12:00", "cold=6 hot=64 slow=2 p1=6");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:10 "
               "found 0:10:00\n"
               "0:12:00 deviation-opened out-too-long #2 of #1 silent p1 6.0 since 0:10:00 "
               "found 0:02:00\n");
    assert_int_equal(alarm_count(rig), 1);
    assert_int_equal(alarm_at(rig, 0).cause, 1);
    rig_free(rig);
    /* The food breaks its limit first, and not before the place did. */
    rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=larder\n");
    play_all(rig, "0:00:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6");
    rig_expect(rig,
               "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found 0:02:00\n"
               "0:07:10 escalated not-heard #1 level 1 since 0:02:10\n"
               "0:10:10 deviation-opened out-too-long #2 of #1 silent fridge p4 6.0 since "
               "0:00:10 found 0:10:00\n");
    assert_int_equal(alarm_count(rig), 1);
    rig_free(rig);
}

/* The first of the two has ended and the second goes on. */
static void
test_alarm_goes_on_with_its_second_deviation_when_the_first_is_over(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    play_all(rig, "0:00:10", "0:12:00", "cold=6 hot=64 slow=2 p1=6");
    play_all(rig, "0:12:10", "0:13:20", "cold=6 hot=64 slow=2 p1=4");
    rig_expect(rig, "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:07:10 escalated not-heard #1 level 1 since 0:02:10\n"
                    "0:10:10 deviation-opened out-too-long #2 of #1 silent fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:13:10 deviation-ended back-inside #1 silent p1 4.0 worst 6.0 since "
                    "0:00:10 found 0:12:00\n");
    assert_true(alarm_at(rig, 0).goes_on);
    assert_int_equal(alarm_at(rig, 0).cause, 2);
    rig_free(rig);
}

static void
test_places_with_probes_of_their_own_are_alarms_of_their_own(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:10:20", "cold=6 hot=60 slow=6");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:10:10 deviation-opened out-too-long #2 cupboard p5 60.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:10:10 deviation-opened out-too-long #3 chiller p6 6.0 since 0:00:10 "
                    "found 0:10:00\n");
    assert_int_equal(alarm_count(rig), 3);
    rig_free(rig);
}

static void
test_silence_of_another_places_probe_is_no_cause_of_warm_air(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:00:30", "cold=4 hot=64 slow=2");
    play_all(rig, "0:00:40", "0:11:00", "cold=6 slow=2");
    rig_expect(rig, "0:05:30 gap-opened no-good-reading #1 cupboard p5 since 0:00:30 found "
                    "0:05:00\n"
                    "0:10:30 escalated not-heard #1 level 1 cupboard since 0:05:30\n"
                    "0:10:40 deviation-opened out-too-long #2 fridge p4 6.0 since 0:00:40 "
                    "found 0:10:00\n");
    assert_int_equal(alarm_count(rig), 2);
    rig_free(rig);
}

static void
test_place_whose_probe_fell_silent_while_it_was_warm_is_one_alarm(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:00:30", "cold=4 hot=60 slow=2");
    play_all(rig, "0:00:40", "0:10:30", "cold=4 slow=2");
    rig_expect(rig, "0:05:30 gap-opened no-good-reading #1 cupboard p5 since 0:00:30 found "
                    "0:05:00\n"
                    "0:10:10 deviation-opened out-too-long #2 of #1 silent cupboard p5 60.0 "
                    "since 0:00:10 found 0:10:00\n");
    rig_free(rig);
}

/* ---- silence ---- */

static void
test_probes_of_two_buses_that_fall_silent_together_are_two_alarms(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:01:00", "cold=4 hot=64 slow=2");
    play_all(rig, "0:01:10", "0:06:30", "slow=2");
    rig_expect(rig, "0:06:00 gap-opened no-good-reading #1 fridge p4 since 0:01:00 found "
                    "0:05:00\n"
                    "0:06:00 gap-opened no-good-reading #2 cupboard p5 since 0:01:00 found "
                    "0:05:00\n");
    assert_int_equal(alarm_count(rig), 2);
    rig_free(rig);
}

/* Spacing is three readings: 30 s of the one, 90 s of the other; the larger counts. */
static void
test_slow_and_quick_probe_of_one_bus_fall_silent_together(void **state)
{
    (void)state;
    for (int slow_first = 0; slow_first < 2; slow_first++) {
        for (int apart_s = 90; apart_s <= 100; apart_s += 10) {
            struct rig *rig = rig_of(kitchen);
            char last[16];
            (void)snprintf(last, sizeof last, "0:02:%02d", 30 + apart_s - 90);
            play_all(rig, "0:00:10", "0:01:00", "cold=4 hot=64 slow=2");
            play_all(rig, "0:01:10", last, slow_first ? "cold=4 hot=64" : "slow=2 hot=64");
            play_all(rig, "0:02:50", "0:08:00", "hot=64");
            assert_int_equal(alarm_count(rig), apart_s == 90 ? 1 : 2);
            assert_int_equal(alarm_at(rig, 0).number, 1);
            rig_free(rig);
        }
    }
}

/* As the cause is shown, of those that go on: a silent probe, else a place, else the oldest. */
static void
test_cause_that_is_shown_is_the_one_the_others_follow_from(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    play_all(rig, "0:00:10", "0:00:30", "cold=6 hot=64 slow=2 p1=6");
    play_all(rig, "0:00:40", "0:02:20", "hot=64 slow=2 p1=6");
    assert_int_equal(alarm_at(rig, 0).cause, 1); /* the food */
    play_all(rig, "0:02:30", "0:12:00", "hot=64 slow=2 p1=6");
    rig_expect(rig, "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:05:30 gap-opened no-good-reading #2 fridge p4 since 0:00:30 found "
                    "0:05:00\n"
                    "0:07:10 escalated not-heard #1 level 1 since 0:02:10\n"
                    "0:10:10 deviation-opened out-too-long #3 of #1 silent fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n");
    /* The place showed that both have one cause: the silent probe. */
    assert_int_equal(alarm_count(rig), 1);
    assert_int_equal(alarm_at(rig, 0).number, 1);
    assert_int_equal(alarm_at(rig, 0).cause, 2);
    play_all(rig, "0:12:10", "0:12:20", "cold=6 hot=64 slow=2 p1=6");
    assert_int_equal(alarm_at(rig, 0).cause, 3); /* the place */
    play_all(rig, "0:12:30", "0:13:40", "cold=4 hot=64 slow=2 p1=6");
    assert_int_equal(alarm_at(rig, 0).cause, 1); /* the food goes on */
    play_all(rig, "0:13:50", "0:15:00", "cold=4 hot=64 slow=2 p1=4");
    assert_int_equal(alarm_at(rig, 0).cause, 1); /* all over: the oldest */
    assert_false(alarm_at(rig, 0).goes_on);
    rig_free(rig);
}

/* ---- two alarms become one ---- */

/* Two batches warm in the fridge, batch 1 from 0:00:10 and batch 2 from 0:02:10, and a third
 * trouble elsewhere; at 0:10:10 the fridge shows that the first two are one. */
static struct rig *
two_to_become_one(void)
{
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n0:00:00 begin salad p2 place=fridge\n"
                  "0:00:00 begin soup p3\n");
    play_all(rig, "0:00:10", "0:02:00", "cold=6 hot=64 slow=2 p1=6 p2=4 p3=50");
    play_all(rig, "0:02:10", "0:05:00", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:02:10 deviation-opened out-too-long #2 batch 3 p3 50.0 since 0:00:10 "
                    "found 0:02:00\n"
                    "0:04:10 deviation-opened out-too-long #3 batch 2 p2 6.0 since 0:02:10 "
                    "found 0:02:00\n");
    assert_int_equal(alarm_count(rig), 3);
    return rig;
}

static void
test_alarm_that_sounds_keeps_sounding_when_it_becomes_part_of_one_that_was_heard(void **state)
{
    (void)state;
    struct rig *rig = two_to_become_one();
    rig_play(rig, "0:05:01 heard 1 AB\n0:05:02 heard 2 AB\n");
    play_all(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:09:10 escalated not-heard #3 level 1 batch 2 since 0:04:10\n"
                    "0:10:10 deviation-opened out-too-long #4 of #1 silent fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n");
    assert_int_equal(alarm_count(rig), 2);
    struct engine_alarm_view one = alarm_at(rig, 0), other = alarm_at(rig, 1);
    assert_int_equal(one.number, 1);
    assert_true(one.sounds);
    assert_int_equal(one.sounded_ms, rig_time("0:04:10")); /* as the second did */
    assert_int_equal(one.heard_ms, TIME_NONE);
    assert_string_equal(one.heard_by, "");
    /* What has nothing to do with it stays as it was. */
    assert_int_equal(other.number, 2);
    assert_false(other.sounds);
    assert_string_equal(other.heard_by, "AB");
    struct engine_deviation_view views[4];
    assert_int_equal(engine_view_deviations(rig->engine, views, 4), 4);
    assert_int_equal(views[0].alarm, 1);
    assert_int_equal(views[1].alarm, 2);
    assert_int_equal(views[2].alarm, 1);
    assert_int_equal(views[3].alarm, 1);
    assert_int_equal(views[3].opened.alarm, 1);
    assert_true(views[3].opened.silent);
    rig_free(rig);
}

static void
test_two_heard_alarms_that_become_one_sound_with_what_joins_them(void **state)
{
    (void)state;
    struct rig *rig = two_to_become_one();
    rig_play(rig, "0:05:01 heard 1 AB\n0:05:02 heard 3 AB\n0:05:03 heard 2 AB\n");
    play_all(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #4 of #1 fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n");
    assert_true(alarm_at(rig, 0).sounds);
    assert_int_equal(alarm_at(rig, 0).sounded_ms, rig_time("0:10:10"));
    rig_free(rig);
}

static void
test_older_alarm_that_sounds_keeps_its_own_time_when_another_joins_it(void **state)
{
    (void)state;
    struct rig *rig = two_to_become_one();
    play_all(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_true(alarm_at(rig, 0).sounds);
    assert_int_equal(alarm_at(rig, 0).sounded_ms, rig_time("0:02:10"));
    rig_free(rig);
}

static void
test_shelf_of_an_alarm_ends_when_it_turns_out_to_be_part_of_another(void **state)
{
    (void)state;
    struct rig *rig = two_to_become_one();
    rig_play(rig, "0:05:01 heard 2 AB\n0:05:02 shelve 3 1:00:00\n");
    play_all(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:07:10 escalated not-heard #1 level 1 since 0:02:10\n"
                    "0:10:10 deviation-opened out-too-long #4 of #1 silent fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:10:10 shelf-ended joined #3 batch 2 since 0:05:02 found 0:05:08\n");
    assert_int_equal(alarm_at(rig, 0).shelf.until_ms, TIME_NONE);
    rig_free(rig);
}

/* E203: somebody acted on one of the two only; both count from the first that came. */
static void
test_action_on_one_of_two_that_become_one_excuses_the_other_not(void **state)
{
    (void)state;
    struct rig *rig = two_to_become_one();
    rig_play(rig, "0:05:01 heard 1 AB\n0:05:02 heard 2 AB\n0:05:03 action 3 AB\n");
    play_all(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_false(alarm_at(rig, 0).acted);
    rig_play(rig, "0:10:25 heard 1 AB\n");
    play_all(rig, "0:10:30", "0:43:00", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #4 of #1 fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:42:10 escalated no-action #1 level 2 since 0:02:10\n"
                    "0:42:10 escalated no-action #2 level 2 batch 3 since 0:02:10\n");
    rig_free(rig);
}

static void
test_actions_on_both_of_two_that_become_one_are_enough_until_more_joins(void **state)
{
    (void)state;
    struct rig *rig = two_to_become_one();
    rig_play(rig, "0:05:01 action 1 AB\n0:05:02 action 2 AB\n0:05:03 action 3 AB\n");
    play_all(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_false(alarm_at(rig, 0).acted); /* the fridge has none */
    rig_play(rig, "0:10:25 heard 1 AB\n");
    play_all(rig, "0:10:30", "0:51:00", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #4 of #1 fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:50:10 escalated no-action #1 level 2 since 0:10:10\n");
    rig_free(rig);
}

/* ---- what joins, and when it is told ---- */

/* The fridge is warm from 0:00:10; food in it follows at `after` + 2 min. */
static struct rig *
food_joins(const char *heard, const char *until, const char *after, const char *to)
{
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    play_all(rig, "0:00:10", "0:11:00", "cold=6 hot=64 slow=2 p1=4");
    rig_play(rig, heard);
    play_all(rig, "0:11:10", until, "cold=6 hot=64 slow=2 p1=4");
    play_all(rig, after, to, "cold=6 hot=64 slow=2 p1=6");
    return rig;
}

#define FRIDGE_OPENED                                                                          \
    "0:10:10 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:10 found 0:10:00\n"
#define NOT_HEARD "0:15:10 escalated not-heard #1 level 1 fridge since 0:10:10\n"

/* E199: half an hour after the alarm was last told. */
static void
test_what_joins_within_half_an_hour_is_not_told_and_later_is(void **state)
{
    (void)state;
    struct rig *rig = food_joins("", "0:37:50", "0:38:00", "0:40:10");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:40:00 deviation-opened out-too-long #2 of #1 silent p1 6.0 since 0:38:00 "
               "found 0:02:00\n");
    assert_int_equal(alarm_at(rig, 0).sounded_ms, rig_time("0:10:10"));
    rig_free(rig);
    rig = food_joins("", "0:38:00", "0:38:10", "0:40:10");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:40:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:38:10 found "
               "0:02:00\n");
    rig_free(rig);
}

static void
test_what_was_told_late_begins_another_half_hour(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n0:00:00 begin salad p2 place=fridge\n");
    play_all(rig, "0:00:10", "0:38:00", "cold=6 hot=64 slow=2 p1=4 p2=4");
    play_all(rig, "0:38:10", "0:58:00", "cold=6 hot=64 slow=2 p1=6 p2=4");
    play_all(rig, "0:58:10", "1:00:10", "cold=6 hot=64 slow=2 p1=6 p2=6");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:40:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:38:10 found "
               "0:02:00\n"
               "0:50:10 escalated no-action #1 level 2 fridge since 0:10:10\n"
               "1:00:10 deviation-opened out-too-long #3 of #1 silent batch 2 p2 6.0 since "
               "0:58:10 found 0:02:00\n");
    assert_true(alarm_at(rig, 0).sounds);
    rig_free(rig);
}

/* E203: what joins after an action is to be acted on itself, and its time counts from then. */
static void
test_what_joins_after_an_action_starts_the_levels_for_an_action_anew(void **state)
{
    (void)state;
    struct rig *rig = food_joins("0:11:01 action 1 AB\n", "0:18:00", "0:18:10", "1:00:20");
    rig_expect(rig, FRIDGE_OPENED
               "0:20:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:18:10 found "
               "0:02:00\n"
               "0:25:10 escalated not-heard #1 level 1 fridge since 0:20:10\n"
               "1:00:10 escalated no-action #1 level 2 fridge since 0:20:10\n");
    assert_false(alarm_at(rig, 0).acted);
    rig_free(rig);
}

static void
test_level_that_was_told_is_told_again_for_what_joins_after_the_action(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    play_all(rig, "0:00:10", "0:55:00", "cold=6 hot=64 slow=2 p1=4");
    rig_play(rig, "0:55:01 action 1 AB\n");
    play_all(rig, "0:55:10", "0:56:00", "cold=6 hot=64 slow=2 p1=4");
    play_all(rig, "0:56:10", "1:38:20", "cold=6 hot=64 slow=2 p1=6");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:50:10 escalated no-action #1 level 2 fridge since 0:10:10\n"
               "0:58:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:56:10 found "
               "0:02:00\n"
               "1:03:10 escalated not-heard #1 level 1 fridge since 0:58:10\n"
               "1:38:10 escalated no-action #1 level 2 fridge since 0:58:10\n");
    assert_int_equal(alarm_at(rig, 0).level, 2);
    rig_free(rig);
}

/* Heard, and then there is more: whoever has to be told that nobody hears it is told again,
 * but not again whoever was told that nobody acts. */
static void
test_alarm_that_sounds_again_starts_the_level_for_hearing_anew_and_no_other(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    play_all(rig, "0:00:10", "0:55:00", "cold=6 hot=64 slow=2 p1=4");
    rig_play(rig, "0:55:01 heard 1 AB\n");
    play_all(rig, "0:55:10", "0:56:00", "cold=6 hot=64 slow=2 p1=4");
    play_all(rig, "0:56:10", "1:20:00", "cold=6 hot=64 slow=2 p1=6");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:50:10 escalated no-action #1 level 2 fridge since 0:10:10\n"
               "0:58:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:56:10 found "
               "0:02:00\n"
               "1:03:10 escalated not-heard #1 level 1 fridge since 0:58:10\n");
    assert_string_equal(alarm_at(rig, 0).heard_by, "");
    rig_free(rig);
}

/* ---- ends, and what comes after ---- */

static void
test_alarm_in_the_place_of_one_that_left_knows_nothing_of_it(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:55:00", "cold=6 hot=64 slow=2");
    rig_play(rig, "0:55:01 shelve 1 0:01:00\n0:55:02 shelve 1 end\n0:55:03 action 1 AB\n"
                  "0:55:04 verify 1 SB\n");
    play_all(rig, "0:55:10", "0:56:20", "cold=4 hot=64 slow=2");
    assert_int_equal(alarm_count(rig), 0);
    rig_play(rig, "0:56:21 shelve fridge 2:00:00\n");
    play_all(rig, "0:56:30", "1:06:40", "cold=6 hot=64 slow=2");
    assert_int_equal(alarm_count(rig), 1);
    struct engine_alarm_view alarm = alarm_at(rig, 0);
    assert_int_equal(alarm.number, 2);
    assert_false(alarm.sounds);
    assert_false(alarm.acted);
    assert_int_equal(alarm.sounded_ms, TIME_NONE); /* its place is shelved: it never sounded */
    assert_int_equal(alarm.heard_ms, TIME_NONE);
    assert_string_equal(alarm.heard_by, "");
    assert_int_equal(alarm.level, 0);
    assert_int_equal(alarm.level_ms, TIME_NONE);
    assert_int_equal(alarm.shelf.from_ms, TIME_NONE);
    assert_int_equal(alarm.shelf.until_ms, TIME_NONE);
    assert_string_equal(alarm.shelf.by, "");
    assert_string_equal(alarm.shelf.reason, "");
    rig_free(rig);
}

static void
test_first_of_three_alarms_leaves_and_the_others_stay(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:11:00", "cold=6 hot=60 slow=6");
    struct engine_alarm_view views[3];
    for (size_t room = 1; room <= 3; room++) { /* in their order, as far as there is room */
        assert_int_equal(engine_view_alarms(rig->engine, views, room), room);
        assert_int_equal(views[room - 1].number, room);
    }
    rig_play(rig, "0:11:01 heard 2 AB\n0:11:02 heard 3 SB\n0:11:03 action 1 AB\n"
                  "0:11:04 verify 1 SB\n");
    play_all(rig, "0:11:10", "0:12:10", "cold=4 hot=60 slow=6");
    assert_int_equal(alarm_count(rig), 2);
    assert_int_equal(alarm_at(rig, 0).number, 2);
    assert_string_equal(alarm_at(rig, 0).heard_by, "AB");
    assert_int_equal(alarm_at(rig, 1).number, 3);
    assert_string_equal(alarm_at(rig, 1).heard_by, "SB");
    rig_free(rig);
}

static struct rig *
plan_without_limits(const char *until, const char *values)
{
    static char other[sizeof kitchen];
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", until, values);
    /* The same places under limits that everything is within. */
    (void)strcpy(other, kitchen);
    for (char *at = other; (at = strstr(at, "applies_to: air")); at++) {
        char *limit = strstr(at, "at_most: "), *least = strstr(at, "at_least: 63");
        if (limit && limit - at < 40)
            limit[9] = '9';
        else
            memcpy(least, "at_least: 43", 12);
    }
    rig->next_plan = rig_plan_of(other);
    return rig;
}

static void
test_two_alarms_that_end_at_one_stroke_are_both_told(void **state)
{
    (void)state;
    struct rig *rig = plan_without_limits("0:10:20", "cold=6 hot=60 slow=2");
    rig_play(rig, "0:10:25 plan\n");
    rig_expect(rig, FRIDGE_OPENED
               "0:10:10 deviation-opened out-too-long #2 cupboard p5 60.0 since 0:00:10 found "
               "0:10:00\n"
               "0:10:25 deviation-ended entered #1 fridge worst 6.0 since 0:00:10 found "
               "0:10:15\n"
               "0:10:25 deviation-ended entered #2 cupboard worst 60.0 since 0:00:10 found "
               "0:10:15\n");
    rig_free(rig);
}

static void
test_alarm_whose_deviations_end_at_one_stroke_is_told_once(void **state)
{
    (void)state;
    struct rig *rig = plan_without_limits("0:12:20", "cold=9 hot=64 slow=2");
    rig_play(rig, "0:12:25 plan\n");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:12:10 deviation-opened out-too-long #2 of #1 silent larder p4 9.0 since "
                    "0:00:10 found 0:12:00\n"
                    "0:12:25 deviation-ended entered #1 silent fridge worst 9.0 since 0:00:10 "
                    "found 0:12:15\n"
                    "0:12:25 deviation-ended entered #2 of #1 larder worst 9.0 since 0:00:10 "
                    "found 0:12:15\n");
    rig_free(rig);
}

/* ---- shelves ---- */

static void
test_shelved_place_stops_the_sound_of_what_it_covers_and_of_nothing_else(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=shelf\n");
    play_all(rig, "0:00:10", "0:10:20", "cold=6 hot=60 slow=6 p1=6");
    rig_play(rig, "0:10:21 shelve fridge 0:30:00\n0:10:22 shelve cupboard 0:20:00\n");
    assert_int_equal(alarm_count(rig), 4); /* the salad, then three places */
    assert_true(alarm_at(rig, 0).sounds);
    assert_false(alarm_at(rig, 1).sounds);
    assert_false(alarm_at(rig, 2).sounds);
    assert_true(alarm_at(rig, 3).sounds);
    assert_int_equal(engine_place_shelf(rig->engine, "fridge").until_ms, rig_time("0:40:21"));
    assert_int_equal(engine_place_shelf(rig->engine, "cupboard").until_ms, rig_time("0:30:22"));
    assert_int_equal(engine_place_shelf(rig->engine, "chiller").until_ms, TIME_NONE);
    assert_int_equal(engine_place_shelf(rig->engine, "").until_ms, TIME_NONE);
    rig->log_len = 0;
    rig_play(rig, "0:10:23 heard 1 AB\n0:10:24 heard 4 AB\n");
    /* Each is told again when its own time is over. */
    play_all(rig, "0:10:30", "0:40:30", "cold=6 hot=60 slow=6 p1=6");
    rig_expect(rig, "0:30:22 shelf-ended time-up cupboard since 0:10:22 found 0:20:00\n"
                    "0:30:22 alarm-raised time-up #3 cupboard since 0:10:10\n"
                    "0:35:22 escalated not-heard #3 level 1 cupboard since 0:30:22\n"
                    "0:40:21 shelf-ended time-up fridge since 0:10:21 found 0:30:00\n"
                    "0:40:21 alarm-raised time-up #2 fridge since 0:10:10\n");
    rig_free(rig);
}

/* A place without a limit can still have a probe that falls silent. */
static void
test_place_is_shelved_once_and_where_something_can_alarm(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:10 shelve pantry 0:30:00\n0:00:11 shelve fridge 0:30:00\n");
    assert_string_equal(rig->refusal, "");
    rig_play(rig, "0:00:12 shelve fridge 0:30:00 refused\n");
    assert_string_equal(rig->refusal,
                        "place 'fridge' is shelved already; end that first, then say it anew");
    rig_play(rig, "0:00:13 shelve shelf 0:30:00 refused\n");
    assert_string_equal(rig->refusal,
                        "place 'shelf' has neither a limit nor a probe: nothing alarms there");
    rig_play(rig, "0:00:14 shelve larder end refused\n");
    assert_string_equal(rig->refusal,
                        "place 'larder' is not shelved: its alarms are told already");
    rig_free(rig);
}

/* Fridge and larder have one probe: who keeps the fridge quiet has said nothing of the larder.
 */
static void
test_silence_of_a_shared_probe_is_covered_by_the_shelves_of_all_its_places(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:01:00", "cold=4 hot=64 slow=2");
    rig_play(rig, "0:01:05 shelve fridge 1:00:00\n");
    play_all(rig, "0:01:10", "0:06:20", "hot=64 slow=2");
    rig_expect(rig, "0:06:00 gap-opened no-good-reading #1 fridge p4 since 0:01:00 found "
                    "0:05:00\n");
    assert_true(alarm_at(rig, 0).sounds);
    /* Both are shelved; it is told again as soon as one of them no longer is. */
    rig_play(rig, "0:06:25 shelve larder 0:02:00\n");
    assert_false(alarm_at(rig, 0).sounds);
    play_all(rig, "0:06:30", "0:08:40", "hot=64 slow=2");
    rig_expect(rig, "0:08:25 shelf-ended time-up larder since 0:06:25 found 0:02:00\n"
                    "0:08:25 alarm-raised time-up #1 fridge since 0:06:00\n");
    rig_free(rig);
    /* Shelved beforehand, it is never told. */
    rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:01:00", "cold=4 hot=64 slow=2");
    rig_play(rig, "0:01:05 shelve fridge 1:00:00\n0:01:06 shelve larder 1:00:00\n");
    play_all(rig, "0:01:10", "0:06:20", "hot=64 slow=2");
    rig_expect(rig,
               "0:06:00 gap-opened no-good-reading #1 silent fridge p4 since 0:01:00 found "
               "0:05:00\n");
    assert_false(alarm_at(rig, 0).sounds);
    rig_free(rig);
}

/* The found alarm is the shelved one: what joins it ends its shelf, and it sounds as the other
 * did. */
static void
test_shelved_alarm_that_takes_over_another_is_told_again(void **state)
{
    (void)state;
    struct rig *rig = two_to_become_one();
    rig_play(rig, "0:05:01 shelve 1 1:00:00\n");
    assert_false(alarm_at(rig, 0).sounds);
    play_all(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_int_equal(alarm_at(rig, 0).number, 1);
    assert_int_equal(alarm_at(rig, 0).shelf.until_ms, TIME_NONE);
    assert_true(alarm_at(rig, 0).sounds);
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "shelf-ended joined #1 "));
    rig_free(rig);
}

/* Of one probe's two places only one is shelved. */
static void
test_alarm_with_an_uncovered_deviation_keeps_sounding(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:12:20", "cold=9 hot=64 slow=2");
    rig_play(rig, "0:12:21 shelve fridge 0:30:00\n");
    assert_true(alarm_at(rig, 0).sounds);
    play_all(rig, "0:12:30", "0:13:40", "cold=7 hot=64 slow=2"); /* the larder is back */
    assert_true(alarm_at(rig, 0).sounds);
    rig_play(rig, "0:13:41 shelve fridge end\n0:13:50 shelve fridge 0:10:00\n");
    assert_false(alarm_at(rig, 0).sounds); /* what goes on is covered */
    rig_free(rig);
}

/* The food in the place was heard of by itself; the end of the place's shelf concerns the
 * place. */
static void
test_end_of_a_places_shelf_raises_nothing_that_it_did_not_cover(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n0:00:05 shelve fridge 0:20:00\n");
    play_all(rig, "0:00:10", "0:03:00", "cold=4 hot=60 slow=2 p1=6");
    rig_play(rig, "0:03:01 heard 1 AB\n");
    play_all(rig, "0:03:10", "0:11:00", "cold=4 hot=60 slow=2 p1=6");
    rig_play(rig, "0:11:01 heard 2 AB\n");
    play_all(rig, "0:11:10", "0:21:00", "cold=4 hot=60 slow=2 p1=6");
    rig_expect(rig, "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:10:10 deviation-opened out-too-long #2 cupboard p5 60.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:20:05 shelf-ended time-up fridge since 0:00:05 found 0:20:00\n");
    rig_free(rig);
}

static void
test_alarm_heard_at_the_very_instant_its_shelf_ends_is_not_raised(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    play_all(rig, "0:00:10", "0:11:00", "cold=6 hot=64 slow=2");
    rig_play(rig, "0:11:01 shelve 1 0:30:00\n0:11:05 shelve 1 end\n0:11:05 heard 1 AB\n");
    play_all(rig, "0:11:10", "0:20:00", "cold=6 hot=64 slow=2");
    rig_expect(rig, FRIDGE_OPENED
               "0:11:05 shelf-ended entered #1 fridge since 0:11:01 found 0:00:04\n");
    rig_free(rig);
}

/* What is told of an alarm names the batch and step it began with, and the time that was
 * given. */
static void
test_escalation_names_the_batch_the_step_and_the_time_given(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin soup p2\n0:00:00 begin salad p1\n");
    play_all(rig, "0:00:10", "0:07:00", "cold=4 hot=64 slow=2 p1=6 p2=60");
    rig_play(rig, "0:07:10 wait\n");
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].kind, DECISION_ESCALATED);
    assert_int_equal(rig->out.decisions[0].batch, 2);
    assert_string_equal(rig->out.decisions[0].step, "keep");
    assert_int_equal(rig->out.decisions[0].required_ms, 5 * 60 * 1000);
    rig_free(rig);
}

/* ---- a small kitchen whose first probe watches its first and its last place ---- */

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

static void
test_first_probe_of_the_plan_joins_its_places_and_their_food(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    play_all(rig, "0:00:10", "0:12:20", "cold=9");
    assert_int_equal(alarm_count(rig), 1); /* two warm places of one probe */
    rig_free(rig);
    rig = rig_of(SMALL(LARDER CELLAR));
    play_all(rig, "0:00:10", "0:00:30", "cold=9");
    rig_play(rig, "0:10:20 wait\n");
    rig_expect(rig, "0:05:30 gap-opened no-good-reading #1 larder p1 since 0:00:30 found "
                    "0:05:00\n"
                    "0:10:10 deviation-opened out-too-long #2 of #1 silent larder p1 9.0 since "
                    "0:00:10 found 0:10:00\n");
    rig_free(rig);
    rig = rig_of(SMALL(LARDER CELLAR));
    rig_play(rig, "0:00:00 begin salad p1 place=cellar\n");
    play_all(rig, "0:00:10", "0:09:00", "cold=9 p1=4");
    play_all(rig, "0:09:10", "0:11:20", "cold=9 p1=6");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 larder p1 9.0 since 0:00:10 found "
               "0:10:00\n"
               "0:11:10 deviation-opened out-too-long #2 of #1 silent p2 6.0 since 0:09:10 "
               "found 0:02:00\n");
    rig_free(rig);
}

/* E202: who keeps the larder quiet has said nothing of the cellar. */
static void
test_silence_is_not_covered_while_the_last_place_of_its_probe_is_not_shelved(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    rig_play(rig, "0:00:10 cold 4.0\n0:00:20 shelve larder 1:00:00\n0:06:00 wait\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 larder p1 since 0:00:10 found "
                    "0:05:00\n");
    assert_true(alarm_at(rig, 0).sounds);
    rig_free(rig);
}

/* The silence is that of the larder's probe; a later plan names the cellar first. */
static void
test_silence_concerns_all_places_of_its_probe_in_any_order(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    rig->next_plan = rig_plan_of(SMALL(CELLAR LARDER));
    rig_play(rig, "0:00:10 cold 4.0\n0:06:00 wait\n0:06:10 plan new\n0:06:20 shelve larder "
                  "1:00:00\n");
    assert_true(alarm_at(rig, 0).sounds); /* the cellar is not shelved */
    rig_play(rig, "0:06:30 shelve cellar 0:10:00\n");
    assert_false(alarm_at(rig, 0).sounds);
    rig->log_len = 0;
    rig_play(rig, "0:16:40 wait\n");
    rig_expect(rig, "0:16:30 shelf-ended time-up cellar since 0:06:30 found 0:10:00\n"
                    "0:16:30 alarm-raised time-up #1 larder since 0:05:10\n");
    assert_string_equal(alarm_at(rig, 0).shelf.by, "");
    rig_free(rig);
}

/* Of those that go on the first is shown as the cause, not one that is over, nor the last. */
static void
test_cause_that_is_shown_is_the_first_that_goes_on(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    rig_play(rig, "0:00:00 begin salad p1 p2 p3\n");
    play_all(rig, "0:00:10", "0:00:10", "cold=4 p1=4 p2=4 p3=4");
    play_all(rig, "0:00:20", "0:05:20", "cold=4");
    assert_int_equal(alarm_count(rig), 1);
    assert_int_equal(alarm_at(rig, 0).cause, 1);
    rig_play(rig, "0:05:30 p1 4.0\n");
    assert_int_equal(alarm_at(rig, 0).cause, 2);
    rig_play(rig, "0:05:31 p2 4.0\n0:05:32 p3 4.0\n"); /* all are over: the oldest */
    assert_int_equal(alarm_at(rig, 0).cause, 1);
    rig_free(rig);
}

/* A thermometer that a check found wrong has nothing to do with food that is nowhere. */
static void
test_failed_check_is_an_alarm_of_its_own(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    struct entry entry;
    rig_play(rig, "0:00:00 begin salad p1\n");
    play_all(rig, "0:00:10", "0:03:00", "cold=4 p1=6");
    assert_int_equal(alarm_count(rig), 1);
    entry_clear(&entry, ENTRY_CALIBRATE);
    memcpy(entry.who, "AB", 3);
    memcpy(entry.probe, "p2", 3);
    entry.correction = CORRECTION_KEEP;
    entry.point_count = 1;
    entry.points[0] = (struct calibration_point){
        .method = CALIBRATION_ICE, .uncertainty_mK = 100, .found_mC = 3000};
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time("0:03:05"), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
    assert_int_equal(alarm_count(rig), 2);
    rig_free(rig);
}

/* E203: the highest level told is shown, from the first to the last. */
static void
test_level_that_was_told_is_shown(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    play_all(rig, "0:00:10", "0:10:20", "cold=7");
    assert_int_equal(alarm_count(rig), 0);
    play_all(rig, "0:10:30", "0:12:20", "cold=7"); /* the cellar, at 0:12:10 */
    assert_int_equal(alarm_at(rig, 0).level, 0);
    play_all(rig, "0:12:30", "0:17:20", "cold=7");
    assert_int_equal(alarm_at(rig, 0).level, 1);
    play_all(rig, "0:17:30", "0:52:20", "cold=7");
    assert_int_equal(alarm_at(rig, 0).level, 2);
    rig_free(rig);
}

/* The one that ends first is told first, whichever was said first. */
static void
test_shelves_end_each_at_its_own_time(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    rig_play(rig, "0:00:10 cold 4.0\n0:00:11 shelve larder 0:01:00\n0:00:12 shelve cellar "
                  "0:02:00\n0:03:00 wait\n");
    rig_expect(rig, "0:01:11 shelf-ended time-up larder since 0:00:11 found 0:01:00\n"
                    "0:02:12 shelf-ended time-up cellar since 0:00:12 found 0:02:00\n");
    assert_string_equal(engine_place_shelf(rig->engine, "larder").by, "");
    rig_free(rig);
}

/* E203: the older was acted on, the other not; both count from when the older came. */
static void
test_action_on_the_older_of_two_that_become_one_excuses_the_other_not(void **state)
{
    (void)state;
    struct rig *rig = two_to_become_one();
    rig_play(rig, "0:05:01 action 1 AB\n0:05:02 heard 2 AB\n0:05:03 heard 3 AB\n");
    play_all(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_false(alarm_at(rig, 0).acted);
    rig_play(rig, "0:10:25 heard 1 AB\n");
    rig->log_len = 0;
    play_all(rig, "0:10:30", "0:42:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:42:10 escalated no-action #1 level 2 since 0:02:10\n"
                    "0:42:10 escalated no-action #2 level 2 batch 3 since 0:02:10\n");
    rig_free(rig);
}

/* A place without a limit can alarm by the silence of its probe, the first of the plan. */
static void
test_place_with_a_probe_and_no_limit_can_be_shelved(void **state)
{
    (void)state;
    struct rig *rig =
        rig_of(SMALL("  - {id: bench, name: Bench, probe: cold, limit: {kind: none}}\n"
                     "  - {id: table, name: Table, limit: {kind: none}}\n"));
    rig_play(rig, "0:00:10 shelve bench 0:30:00\n");
    assert_string_equal(rig->refusal, "");
    rig_play(rig, "0:00:12 shelve table 0:30:00 refused\n");
    assert_non_null(strstr(rig->refusal, "neither a limit nor a probe"));
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_hot_food_in_a_cold_cupboard_is_one_alarm_with_it),
        cmocka_unit_test(test_cooling_that_is_late_in_a_warm_chiller_is_one_alarm_with_it),
        cmocka_unit_test(test_heating_does_not_follow_from_the_air_of_a_place),
        cmocka_unit_test(test_food_elsewhere_or_nowhere_is_no_part_of_a_warm_place),
        cmocka_unit_test(test_places_that_one_probe_watches_are_one_alarm),
        cmocka_unit_test(test_food_in_another_place_of_the_same_probe_is_one_alarm_with_it),
        cmocka_unit_test(
            test_silence_of_a_shared_probe_is_covered_by_the_shelves_of_all_its_places),
        cmocka_unit_test(test_shelved_alarm_that_takes_over_another_is_told_again),
        cmocka_unit_test(test_alarm_goes_on_with_its_second_deviation_when_the_first_is_over),
        cmocka_unit_test(test_places_with_probes_of_their_own_are_alarms_of_their_own),
        cmocka_unit_test(test_silence_of_another_places_probe_is_no_cause_of_warm_air),
        cmocka_unit_test(test_place_whose_probe_fell_silent_while_it_was_warm_is_one_alarm),
        cmocka_unit_test(test_probes_of_two_buses_that_fall_silent_together_are_two_alarms),
        cmocka_unit_test(test_slow_and_quick_probe_of_one_bus_fall_silent_together),
        cmocka_unit_test(test_cause_that_is_shown_is_the_one_the_others_follow_from),
        cmocka_unit_test(
            test_alarm_that_sounds_keeps_sounding_when_it_becomes_part_of_one_that_was_heard),
        cmocka_unit_test(test_two_heard_alarms_that_become_one_sound_with_what_joins_them),
        cmocka_unit_test(test_older_alarm_that_sounds_keeps_its_own_time_when_another_joins_it),
        cmocka_unit_test(test_shelf_of_an_alarm_ends_when_it_turns_out_to_be_part_of_another),
        cmocka_unit_test(test_action_on_one_of_two_that_become_one_excuses_the_other_not),
        cmocka_unit_test(
            test_actions_on_both_of_two_that_become_one_are_enough_until_more_joins),
        cmocka_unit_test(test_what_joins_within_half_an_hour_is_not_told_and_later_is),
        cmocka_unit_test(test_what_was_told_late_begins_another_half_hour),
        cmocka_unit_test(test_what_joins_after_an_action_starts_the_levels_for_an_action_anew),
        cmocka_unit_test(
            test_level_that_was_told_is_told_again_for_what_joins_after_the_action),
        cmocka_unit_test(
            test_alarm_that_sounds_again_starts_the_level_for_hearing_anew_and_no_other),
        cmocka_unit_test(test_alarm_in_the_place_of_one_that_left_knows_nothing_of_it),
        cmocka_unit_test(test_first_of_three_alarms_leaves_and_the_others_stay),
        cmocka_unit_test(test_two_alarms_that_end_at_one_stroke_are_both_told),
        cmocka_unit_test(test_alarm_whose_deviations_end_at_one_stroke_is_told_once),
        cmocka_unit_test(
            test_shelved_place_stops_the_sound_of_what_it_covers_and_of_nothing_else),
        cmocka_unit_test(test_place_is_shelved_once_and_where_something_can_alarm),
        cmocka_unit_test(test_alarm_with_an_uncovered_deviation_keeps_sounding),
        cmocka_unit_test(test_end_of_a_places_shelf_raises_nothing_that_it_did_not_cover),
        cmocka_unit_test(test_alarm_heard_at_the_very_instant_its_shelf_ends_is_not_raised),
        cmocka_unit_test(test_escalation_names_the_batch_the_step_and_the_time_given),
        cmocka_unit_test(test_first_probe_of_the_plan_joins_its_places_and_their_food),
        cmocka_unit_test(
            test_silence_is_not_covered_while_the_last_place_of_its_probe_is_not_shelved),
        cmocka_unit_test(test_silence_concerns_all_places_of_its_probe_in_any_order),
        cmocka_unit_test(test_cause_that_is_shown_is_the_first_that_goes_on),
        cmocka_unit_test(test_failed_check_is_an_alarm_of_its_own),
        cmocka_unit_test(test_level_that_was_told_is_shown),
        cmocka_unit_test(test_shelves_end_each_at_its_own_time),
        cmocka_unit_test(test_action_on_the_older_of_two_that_become_one_excuses_the_other_not),
        cmocka_unit_test(test_place_with_a_probe_and_no_limit_can_be_shelved),
    };
    return cmocka_run_group_tests_name("engine causes", tests, NULL, NULL);
}
