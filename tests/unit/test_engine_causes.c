/* Which deviations are one alarm, in a kitchen with several places, buses and limits:
 * docs/engine.md E198 to E203. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/alarm_rig.h"

/* ---- the place of the food ---- */

static void
test_hot_food_in_a_cold_cupboard_is_one_alarm_with_it(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin soup p1 place=cupboard\n");
    alarm_rig_play(rig, "0:00:10", "0:09:50", "cold=4 hot=60 slow=2 p1=57");
    alarm_rig_play(rig, "0:10:00", "0:12:00", "cold=4 hot=60 slow=2 p1=56.5");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 cupboard p5 60.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:12:00 deviation-opened out-too-long #2 of #1 silent p1 56.5 since "
                    "0:10:00 found 0:02:00\n");
    assert_int_equal(alarm_rig_count(rig), 1);
    rig_free(rig);
}

static void
test_cooling_that_is_late_in_a_warm_chiller_is_one_alarm_with_it(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin sauce p1 place=chiller\n");
    alarm_rig_play(rig, "0:00:10", "0:20:10", "cold=4 hot=64 slow=6 p1=40");
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
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin pie p1 place=cupboard\n");
    alarm_rig_play(rig, "0:00:10", "0:15:10", "cold=4 hot=60 slow=2 p1=40");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 cupboard p5 60.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:15:00 deviation-opened too-late #2 p1 40.0 since 0:00:00 found "
                    "0:15:00\n");
    assert_int_equal(alarm_rig_count(rig), 2);
    rig_free(rig);
}

static void
test_food_elsewhere_or_nowhere_is_no_part_of_a_warm_place(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=chiller\n0:00:00 begin salad p2\n");
    alarm_rig_play(rig, "0:00:10", "0:09:50", "cold=6 hot=64 slow=2 p1=4 p2=4");
    alarm_rig_play(rig, "0:10:00", "0:12:00", "cold=6 hot=64 slow=2 p1=6 p2=6");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:12:00 deviation-opened out-too-long #2 p1 6.0 since 0:10:00 found "
                    "0:02:00\n"
                    "0:12:00 deviation-opened out-too-long #3 batch 2 p2 6.0 since 0:10:00 "
                    "found 0:02:00\n");
    assert_int_equal(alarm_rig_count(rig), 3);
    rig_free(rig);
}

/* ---- places and their probes ---- */

static void
test_places_that_one_probe_watches_are_one_alarm(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:13:00", "cold=9 hot=64 slow=2");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:12:10 deviation-opened out-too-long #2 of #1 silent larder p4 9.0 since "
                    "0:00:10 found 0:12:00\n");
    assert_int_equal(alarm_rig_at(rig, 0).cause, 1);
    /* The larder is back at 8 degrees, the fridge is not: the alarm goes on. */
    alarm_rig_play(rig, "0:13:10", "0:14:20", "cold=7 hot=64 slow=2");
    rig_expect(rig, "0:14:10 deviation-ended back-inside #2 of #1 silent larder p4 7.0 worst "
                    "9.0 since 0:00:10 found 0:13:00\n");
    assert_true(alarm_rig_at(rig, 0).goes_on);
    rig_play(rig, "0:14:21 action 1 AB\n0:14:22 verify 1 SB\n");
    alarm_rig_play(rig, "0:14:30", "0:15:40", "cold=4 hot=64 slow=2");
    rig_expect(rig, "0:15:30 deviation-ended back-inside #1 fridge p4 4.0 worst 9.0 since "
                    "0:00:10 found 0:14:20\n");
    /* The second waits for its action still, under the number of the first. */
    assert_int_equal(alarm_rig_count(rig), 1);
    assert_int_equal(alarm_rig_at(rig, 0).number, 1);
    assert_int_equal(alarm_rig_at(rig, 0).cause, 2);
    assert_false(alarm_rig_at(rig, 0).goes_on);
    rig_free(rig);
}

/* The larder's own limit is not broken: 6 degrees there are no news but by the salad in it. */
static void
test_food_in_another_place_of_the_same_probe_is_one_alarm_with_it(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=larder\n");
    alarm_rig_play(rig, "0:00:10", "0:09:50", "cold=6 hot=64 slow=2 p1=4");
    alarm_rig_play(rig, "0:10:00", "0:12:00", "cold=6 hot=64 slow=2 p1=6");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:10 "
               "found 0:10:00\n"
               "0:12:00 deviation-opened out-too-long #2 of #1 silent p1 6.0 since 0:10:00 "
               "found 0:02:00\n");
    assert_int_equal(alarm_rig_count(rig), 1);
    assert_int_equal(alarm_rig_at(rig, 0).cause, 1);
    rig_free(rig);
    /* The food breaks its limit first, and not before the place did. */
    rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=larder\n");
    alarm_rig_play(rig, "0:00:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6");
    rig_expect(rig,
               "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found 0:02:00\n"
               "0:07:10 escalated not-heard #1 level 1 since 0:02:10\n"
               "0:10:10 deviation-opened out-too-long #2 of #1 silent fridge p4 6.0 since "
               "0:00:10 found 0:10:00\n");
    assert_int_equal(alarm_rig_count(rig), 1);
    rig_free(rig);
}

/* The first of the two has ended and the second goes on. */
static void
test_alarm_goes_on_with_its_second_deviation_when_the_first_is_over(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    alarm_rig_play(rig, "0:00:10", "0:12:00", "cold=6 hot=64 slow=2 p1=6");
    alarm_rig_play(rig, "0:12:10", "0:13:20", "cold=6 hot=64 slow=2 p1=4");
    rig_expect(rig, "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:07:10 escalated not-heard #1 level 1 since 0:02:10\n"
                    "0:10:10 deviation-opened out-too-long #2 of #1 silent fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:13:10 deviation-ended back-inside #1 silent p1 4.0 worst 6.0 since "
                    "0:00:10 found 0:12:00\n");
    assert_true(alarm_rig_at(rig, 0).goes_on);
    assert_int_equal(alarm_rig_at(rig, 0).cause, 2);
    rig_free(rig);
}

static void
test_places_with_probes_of_their_own_are_alarms_of_their_own(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:10:20", "cold=6 hot=60 slow=6");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:10:10 deviation-opened out-too-long #2 cupboard p5 60.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:10:10 deviation-opened out-too-long #3 chiller p6 6.0 since 0:00:10 "
                    "found 0:10:00\n");
    assert_int_equal(alarm_rig_count(rig), 3);
    rig_free(rig);
}

static void
test_silence_of_another_places_probe_is_no_cause_of_warm_air(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:00:30", "cold=4 hot=64 slow=2");
    alarm_rig_play(rig, "0:00:40", "0:11:00", "cold=6 slow=2");
    rig_expect(rig, "0:05:30 gap-opened no-good-reading #1 cupboard p5 since 0:00:30 found "
                    "0:05:00\n"
                    "0:10:30 escalated not-heard #1 level 1 cupboard since 0:05:30\n"
                    "0:10:40 deviation-opened out-too-long #2 fridge p4 6.0 since 0:00:40 "
                    "found 0:10:00\n");
    assert_int_equal(alarm_rig_count(rig), 2);
    rig_free(rig);
}

static void
test_place_whose_probe_fell_silent_while_it_was_warm_is_one_alarm(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:00:30", "cold=4 hot=60 slow=2");
    alarm_rig_play(rig, "0:00:40", "0:10:30", "cold=4 slow=2");
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
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:01:00", "cold=4 hot=64 slow=2");
    alarm_rig_play(rig, "0:01:10", "0:06:30", "slow=2");
    rig_expect(rig, "0:06:00 gap-opened no-good-reading #1 fridge p4 since 0:01:00 found "
                    "0:05:00\n"
                    "0:06:00 gap-opened no-good-reading #2 cupboard p5 since 0:01:00 found "
                    "0:05:00\n");
    assert_int_equal(alarm_rig_count(rig), 2);
    rig_free(rig);
}

/* Spacing is three readings: 30 s of the one, 90 s of the other; the larger counts. */
static void
test_slow_and_quick_probe_of_one_bus_fall_silent_together(void **state)
{
    (void)state;
    for (int slow_first = 0; slow_first < 2; slow_first++) {
        for (int apart_s = 90; apart_s <= 100; apart_s += 10) {
            struct rig *rig = rig_of(alarm_kitchen);
            char last[16];
            (void)snprintf(last, sizeof last, "0:02:%02d", 30 + apart_s - 90);
            alarm_rig_play(rig, "0:00:10", "0:01:00", "cold=4 hot=64 slow=2");
            alarm_rig_play(rig, "0:01:10", last,
                           slow_first ? "cold=4 hot=64" : "slow=2 hot=64");
            alarm_rig_play(rig, "0:02:50", "0:08:00", "hot=64");
            assert_int_equal(alarm_rig_count(rig), apart_s == 90 ? 1 : 2);
            assert_int_equal(alarm_rig_at(rig, 0).number, 1);
            rig_free(rig);
        }
    }
}

/* As the cause is shown, of those that go on: a silent probe, else a place, else the oldest. */
static void
test_cause_that_is_shown_is_the_one_the_others_follow_from(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    alarm_rig_play(rig, "0:00:10", "0:00:30", "cold=6 hot=64 slow=2 p1=6");
    alarm_rig_play(rig, "0:00:40", "0:02:20", "hot=64 slow=2 p1=6");
    assert_int_equal(alarm_rig_at(rig, 0).cause, 1); /* the food */
    alarm_rig_play(rig, "0:02:30", "0:12:00", "hot=64 slow=2 p1=6");
    rig_expect(rig, "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:05:30 gap-opened no-good-reading #2 fridge p4 since 0:00:30 found "
                    "0:05:00\n"
                    "0:07:10 escalated not-heard #1 level 1 since 0:02:10\n"
                    "0:10:10 deviation-opened out-too-long #3 of #1 silent fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n");
    /* The place showed that both have one cause: the silent probe. */
    assert_int_equal(alarm_rig_count(rig), 1);
    assert_int_equal(alarm_rig_at(rig, 0).number, 1);
    assert_int_equal(alarm_rig_at(rig, 0).cause, 2);
    alarm_rig_play(rig, "0:12:10", "0:12:20", "cold=6 hot=64 slow=2 p1=6");
    assert_int_equal(alarm_rig_at(rig, 0).cause, 3); /* the place */
    alarm_rig_play(rig, "0:12:30", "0:13:40", "cold=4 hot=64 slow=2 p1=6");
    assert_int_equal(alarm_rig_at(rig, 0).cause, 1); /* the food goes on */
    alarm_rig_play(rig, "0:13:50", "0:15:00", "cold=4 hot=64 slow=2 p1=4");
    assert_int_equal(alarm_rig_at(rig, 0).cause, 1); /* all over: the oldest */
    assert_false(alarm_rig_at(rig, 0).goes_on);
    rig_free(rig);
}

/* ---- a small kitchen whose first probe watches its first and its last place ---- */

static void
test_first_probe_of_the_plan_joins_its_places_and_their_food(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    alarm_rig_play(rig, "0:00:10", "0:12:20", "cold=9");
    assert_int_equal(alarm_rig_count(rig), 1); /* two warm places of one probe */
    rig_free(rig);
    rig = rig_of(SMALL(LARDER CELLAR));
    alarm_rig_play(rig, "0:00:10", "0:00:30", "cold=9");
    rig_play(rig, "0:10:20 wait\n");
    rig_expect(rig, "0:05:30 gap-opened no-good-reading #1 larder p1 since 0:00:30 found "
                    "0:05:00\n"
                    "0:10:10 deviation-opened out-too-long #2 of #1 silent larder p1 9.0 since "
                    "0:00:10 found 0:10:00\n");
    rig_free(rig);
    rig = rig_of(SMALL(LARDER CELLAR));
    rig_play(rig, "0:00:00 begin salad p1 place=cellar\n");
    alarm_rig_play(rig, "0:00:10", "0:09:00", "cold=9 p1=4");
    alarm_rig_play(rig, "0:09:10", "0:11:20", "cold=9 p1=6");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 larder p1 9.0 since 0:00:10 found "
               "0:10:00\n"
               "0:11:10 deviation-opened out-too-long #2 of #1 silent p2 6.0 since 0:09:10 "
               "found 0:02:00\n");
    rig_free(rig);
}

/* Of those that go on the first is shown as the cause, not one that is over, nor the last. */
static void
test_cause_that_is_shown_is_the_first_that_goes_on(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    rig_play(rig, "0:00:00 begin salad p1 p2 p3\n");
    alarm_rig_play(rig, "0:00:10", "0:00:10", "cold=4 p1=4 p2=4 p3=4");
    alarm_rig_play(rig, "0:00:20", "0:05:20", "cold=4");
    assert_int_equal(alarm_rig_count(rig), 1);
    assert_int_equal(alarm_rig_at(rig, 0).cause, 1);
    rig_play(rig, "0:05:30 p1 4.0\n");
    assert_int_equal(alarm_rig_at(rig, 0).cause, 2);
    rig_play(rig, "0:05:31 p2 4.0\n0:05:32 p3 4.0\n"); /* all are over: the oldest */
    assert_int_equal(alarm_rig_at(rig, 0).cause, 1);
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
    alarm_rig_play(rig, "0:00:10", "0:03:00", "cold=4 p1=6");
    assert_int_equal(alarm_rig_count(rig), 1);
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
    assert_int_equal(alarm_rig_count(rig), 2);
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
        cmocka_unit_test(test_alarm_goes_on_with_its_second_deviation_when_the_first_is_over),
        cmocka_unit_test(test_places_with_probes_of_their_own_are_alarms_of_their_own),
        cmocka_unit_test(test_silence_of_another_places_probe_is_no_cause_of_warm_air),
        cmocka_unit_test(test_place_whose_probe_fell_silent_while_it_was_warm_is_one_alarm),
        cmocka_unit_test(test_probes_of_two_buses_that_fall_silent_together_are_two_alarms),
        cmocka_unit_test(test_slow_and_quick_probe_of_one_bus_fall_silent_together),
        cmocka_unit_test(test_cause_that_is_shown_is_the_one_the_others_follow_from),
        cmocka_unit_test(test_first_probe_of_the_plan_joins_its_places_and_their_food),
        cmocka_unit_test(test_cause_that_is_shown_is_the_first_that_goes_on),
        cmocka_unit_test(test_failed_check_is_an_alarm_of_its_own),
    };
    return cmocka_run_group_tests_name("engine causes", tests, NULL, NULL);
}
