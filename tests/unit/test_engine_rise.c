/* Reheating whose time counts from a temperature, and standing after heating: docs/engine.md
 * E150 to E152. Figures of FDA Food Code 2022, 3-403.11: 74 °C (165 °F) for 15 s, the time
 * between 5 °C and that at most 2 h (A), (D); by microwave 74 °C, then covered for 2 min (B).
 */
#include "tests/support/check.h"

#include "tests/support/engine_rig.h"

#define REHEAT                                                                                 \
    "{kind: reheat, applies_to: food, at_least: 74 °C, for: 15 s, within: 2 h, rise_from: 5 " \
    "°C}"
#define MICROWAVE                                                                              \
    "{kind: reheat, applies_to: food, at_least: 74 °C, for: 0 s, within: 2 h, rise_from: 5 "  \
    "°C, stand: 2 min}"
#define COOK_AND_STAND "{kind: cook, applies_to: food, at_least: 74 °C, stand: 2 min}"

/* An hour in the cold does not count; 2 h from the last reading at 5 °C do. */
static void
test_rise_counts_from_the_last_cold_reading(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 5.0\n1:00:10-2:59:30 p1 5.1 "
              "73.0\n2:59:45 p1 74.0\n2:59:55 p1 74.0\n3:00:00 p1 74.0\n",
              "3:00:00 limit-met held p1 74.0 since 2:59:45 found 0:00:15\n");
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 5.0\n1:00:10-2:59:30 p1 5.1 "
              "73.0\n2:59:45 p1 73.999\n2:59:55 p1 74.0\n3:00:05 p1 74.0\n3:00:15 p1 74.0\n",
              "3:00:00 deviation-opened too-late #1 p1 74.0 since 1:00:00 found 2:00:00\n"
              "3:00:15 deviation-ended held #1 p1 74.0 since 2:59:55 found 0:00:20\n");
}

static void
test_rise_of_food_that_was_warmer_counts_from_the_step(void **state)
{
    (void)state;
    rig_story(REHEAT, "0:00:00 begin dish p1\n0:00:10-2:00:00 p1 5.001\n", "");
    rig_story(REHEAT, "0:00:00 begin dish p1\n0:00:10-2:00:10 p1 5.001\n",
              "2:00:00 deviation-opened too-late #1 p1 5.001 since 0:00:00 found 2:00:00\n");
}

/* E151: colder again afterwards, the clock goes on. */
static void
test_rise_is_not_undone(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 5.1\n0:00:30-2:00:20 p1 4.9\n",
              "2:00:10 deviation-opened too-late #1 p1 4.9 since 0:00:10 found 2:00:00\n");
}

/* A gap in which it rose: from the last cold reading on. */
static void
test_rise_in_a_gap_counts_from_before_it(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 4.0\n0:14:00-2:10:10 p1 20.0\n",
              "2:10:00 deviation-opened too-late #1 p1 20.0 since 0:10:00 found 2:00:00\n");
}

/* The probe that leaves the cold first starts it. */
static void
test_rise_of_several_probes(void **state)
{
    (void)state;
    struct rig *rig = rig_new(REHEAT, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1 4.0\n0:00:10 p2 4.0\n0:00:20 p1 "
                  "4.0\n0:00:20 p2 5.1\n0:00:30 p1 4.0\n");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("2:00:10"));
    rig_reload(rig);
    rig_play(rig, "0:00:40 p1 4.0\n");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("2:00:10"));
    rig_free(rig);
}

static void
test_stand_is_met_by_its_end(void **state)
{
    (void)state;
    rig_story(COOK_AND_STAND,
              "0:00:00 begin dish p1\n0:00:10 p1 73.999\n0:00:20 p1 74.0\n0:00:30-0:02:30 p1 "
              "70.0\n",
              "0:02:20 limit-met stood p1 74.0 since 0:00:20\n");
    rig_story(COOK_AND_STAND, "0:00:00 begin dish p1\n0:00:20 p1 74.0\n0:02:19.999 move\n",
              "0:02:19.999 deviation-opened left-early #1 since 0:00:20\n"
              "0:02:19.999 deviation-ended batch-ended #1\n");
    rig_story(COOK_AND_STAND, "0:00:00 begin dish p1\n0:00:20 p1 74.0\n0:02:20.001 move\n",
              "0:02:20 limit-met stood p1 74.0 since 0:00:20\n");
}

/* Reached in time; the standing comes after and is not part of the 2 h. */
static void
test_stand_is_not_part_of_the_time_allowed(void **state)
{
    (void)state;
    rig_story(MICROWAVE,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 5.0\n1:00:10-2:59:50 p1 5.1 73.0\n"
              "3:00:00 p1 74.0\n3:01:00 p1 70.0\n3:02:30 wait\n",
              "3:02:00 limit-met stood p1 74.0 since 3:00:00\n");
}

static void
test_stand_by_hand_rests_on_the_hand_reading(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_AND_STAND, NULL);
    rig_play(rig, "0:00:00 begin dish\n0:01:00 hand 75.0\n");
    assert_int_equal(rig_batch(rig).stands_until_ms, rig_time("0:03:00"));
    rig_reload(rig);
    rig_play(rig, "0:03:10 wait\n0:04:00 correct 4 73.9\n");
    rig_expect(rig, "0:03:00 limit-met stood 75.0 since 0:01:00\n"
                    "0:04:00 inconclusive corrected 73.9 since 0:01:00\n");
    rig_free(rig);
}

/* E152: what was held is told once it has stood. */
static void
test_what_has_stood_says_how_long_it_was_held(void **state)
{
    (void)state;
    rig_story("{kind: cook, applies_to: food, at_least: 63 °C, for: 1 min, stand: 3 min}",
              "0:00:00 begin dish p1\n0:00:10-0:01:10 p1 63.0\n0:04:11 wait\n",
              "0:04:10 limit-met stood p1 63.0 since 0:00:10 found 0:01:00\n");
}

/* E150, E151: a person has found it warmer than the start; what a probe shows in the cold
 * afterwards starts no other time. */
static void
test_rise_that_a_hand_reading_shows(void **state)
{
    (void)state;
    rig_story(
        "{kind: reheat, applies_to: food, at_least: 63 °C, within: 1 h, rise_from: 10 °C}",
        "0:00:00 begin dish p1\n0:10:00 p1 5.0\n0:11:00 hand 12.0\n0:12:00-1:10:00 p1 "
        "9.0\n1:10:01 wait\n",
        "0:05:00 gap-opened no-good-reading #1 p1 since 0:00:00 found 0:05:00\n"
        "0:10:00 gap-ended good-again #1 p1 5.0 since 0:00:00 found 0:10:00\n"
        "1:10:00 deviation-opened too-late #2 p1 9.0 since 0:10:00 found 1:00:00\n");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rise_counts_from_the_last_cold_reading),
        cmocka_unit_test(test_rise_of_food_that_was_warmer_counts_from_the_step),
        cmocka_unit_test(test_rise_is_not_undone),
        cmocka_unit_test(test_rise_in_a_gap_counts_from_before_it),
        cmocka_unit_test(test_rise_of_several_probes),
        cmocka_unit_test(test_stand_is_met_by_its_end),
        cmocka_unit_test(test_stand_is_not_part_of_the_time_allowed),
        cmocka_unit_test(test_stand_by_hand_rests_on_the_hand_reading),
        cmocka_unit_test(test_what_has_stood_says_how_long_it_was_held),
        cmocka_unit_test(test_rise_that_a_hand_reading_shows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
