/* Holding limits with several probes, over outages, and outside once: docs/engine.md E20 to
 * E27, E62, E140 to E144, E166. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define FRIDGE                                                                                 \
    "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 20 min, back_for: 5 min}"
#define ONCE                                                                                   \
    "{kind: hold_hot, applies_to: food, at_least: 63 °C, one_period: 2 h, back_for: 1 min}"
#define COLD                                                                                   \
    "{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 20 min, back_for: 1 min}"
#define FROZEN                                                                                 \
    "{kind: hold_cold, applies_to: food, at_most: -18 °C, tolerance: 20 min, never_above: "   \
    "-12 °C, back_for: 1 min}"

/* E141: of several probes the one that went outside, since it was itself last seen inside. */
static void
test_one_time_outside_counts_from_when_that_spot_was_last_inside(void **state)
{
    (void)state;
    for (int first = 0; first < 2; first++) {
        struct rig *rig = rig_new(ONCE, NULL);
        rig_play(rig,
                 first
                     ? "0:00:00 begin dish p1 p2\n0:00:10-0:00:30 p1,p2 64.0\n0:00:40-0:01:00 "
                       "p1 64.0\n0:01:10 p1 62.0\n"
                     : "0:00:00 begin dish p1 p2\n0:00:10-0:00:30 p1,p2 64.0\n0:00:40-0:01:00 "
                       "p2 64.0\n0:01:10 p2 62.0\n");
        assert_int_equal(rig_batch(rig).deadline_ms, rig_time("2:01:00"));
        rig_free(rig);
    }
}

/* E141 by hand, where no probe watches. */
static void
test_one_time_outside_counts_from_when_a_person_last_found_it_inside(void **state)
{
    (void)state;
    struct rig *rig = rig_new(ONCE, NULL);
    rig_play(rig, "0:00:00 begin dish\n0:01:00 hand 64.0\n0:05:00 hand 63.0\n0:10:00 hand "
                  "62.0\n");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("2:05:00"));
    rig_free(rig);
}

/* E142, E62: back for a moment, an outage of ten minutes, and outside again: one stretch, of
 * which the outage is not counted. Outside since 0:01:00, back at 0:05:10, seen again at
 * 0:15:40. */
static void
test_one_time_outside_goes_on_over_a_short_return_and_an_outage(void **state)
{
    (void)state;
    struct rig *rig = rig_new(ONCE, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 64.0\n0:01:10-0:05:00 p1 "
                  "62.0\n0:05:10-0:05:30 p1 64.0\n0:15:30 restart 0:05:30\n0:15:40 p1 62.0\n");
    assert_true(rig_batch(rig).outside);
    assert_int_equal(rig_batch(rig).outside_ms, 250000 + 30000);
    rig_free(rig);
}

/* After an excursion that an outage fell into: the next has the whole tolerance again, and
 * nothing is shown of the one before. */
static void
test_excursion_with_an_outage_is_forgotten_when_it_is_over(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:10-0:01:00 a1 6.0\n0:05:00 restart 0:01:00\n0:05:10-0:06:00 a1 6.0\n");
    assert_int_equal(rig_place(rig).outside_ms, 350000);
    rig_play(rig, "0:06:10-0:07:00 a1 4.0\n");
    assert_false(rig_place(rig).outside);
    assert_int_equal(rig_place(rig).outside_ms, 360000); /* not yet for good */
    rig_play(rig, "0:07:10-0:12:00 a1 4.0\n");
    assert_int_equal(rig_place(rig).outside_ms, 0);
    assert_int_equal(rig_place(rig).outside_since_ms, TIME_NONE);
    rig_play(rig, "0:12:10-0:32:20 a1 6.0\n");
    rig_expect(rig,
               "0:32:10 deviation-opened out-too-long #1 fridge p4 6.0 since 0:12:10 found "
               "0:20:00\n");
    rig_free(rig);
}

/* The same of a batch, whose unknown time is a question once and not again. */
static void
test_question_about_an_outage_is_asked_once_in_each_excursion(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 6.0\n0:25:00 restart 0:01:00\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "inconclusive outage p1 6.0 since 0:00:10"));
    rig->log_len = 0;
    rig_play(rig, "0:25:05 decide yes\n0:25:10-0:26:00 p1 6.0\n0:26:10-0:28:00 p1 4.0\n");
    rig->log_len = 0;
    rig_play(rig, "0:28:10-0:29:00 p1 6.0\n0:55:00 restart 0:29:00\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "inconclusive outage p1 6.0 since 0:28:10"));
    rig_free(rig);
}

/* E166: whatever the tolerance, and told once. */
static void
test_frozen_food_above_its_ceiling_is_told_at_once_and_once(void **state)
{
    (void)state;
    rig_story(FROZEN,
              "0:00:00 begin dish p1\n0:00:10 p1 -18.0\n0:00:20 p1 -15.0\n0:00:30 p1 "
              "-12.0\n0:00:40 p1 -11.999\n0:00:50-0:05:00 p1 -11.0\n0:05:10-0:07:00 p1 -12.0 "
              "-18.0\n0:07:10-0:08:10 p1 -18.0\n",
              "0:00:40 deviation-opened above-ceiling #1 p1 -11.999 since 0:00:20\n"
              "0:08:00 deviation-ended back-inside #1 p1 -18.0 worst -11.0 since 0:00:20 found "
              "0:06:40\n");
}

/* Of two probes the worse one is the worst, whichever comes first. */
static void
test_worst_reading_of_an_excursion_is_that_of_the_probe_that_showed_it(void **state)
{
    (void)state;
    rig_story(
        "{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 5 min, back_for: 1 "
        "min}",
        "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 58.0\n0:00:20 p1,p2 56.0\n0:00:30 p1 "
        "55.0\n0:00:30 p2 54.0\n0:00:40-0:05:20 p1,p2 56.5\n",
        "0:05:20 deviation-opened out-too-long #1 p2 54.0 since 0:00:20 found 0:05:00\n");
}

static bool
is_asked(const struct rig *rig)
{
    return rig_batch(rig).inconclusive;
}

/* E62, E166: the question whether it was outside for too long is answered, if it is about this
 * time outside; that about one before stays. */
static void
test_question_about_an_outage_is_answered_by_what_is_above_the_ceiling(void **state)
{
    (void)state;
    for (int again = 0; again < 2; again++) {
        struct rig *rig = rig_new(FROZEN, NULL);
        rig_play(rig,
                 "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 -15.0\n0:25:00 restart 0:01:00\n");
        assert_true(is_asked(rig));
        if (again)
            rig_play(rig, "0:25:10-0:27:00 p1 -18.0\n0:27:10 p1 -15.0\n");
        else
            rig_play(rig, "0:27:10 p1 -15.0\n");
        rig->log_len = 0;
        rig_play(rig, "0:27:20 p1 -11.9\n");
        rig_expect(rig, again ? "0:27:20 deviation-opened above-ceiling #2 p1 -11.9 since "
                                "0:27:10\n"
                              : "0:27:20 deviation-opened above-ceiling #2 p1 -11.9 since "
                                "0:00:10\n");
        assert_int_equal(is_asked(rig), again);
        rig_free(rig);
    }
}

/* E62, E142: the outage fell into a short return, and what nobody watched of it makes a
 * question of what it could have made too long. Outside since 0:01:00. */
static void
test_outage_in_a_short_return_is_unknown_time(void **state)
{
    (void)state;
    struct rig *rig = rig_new(ONCE, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 64.0\n0:01:10-0:05:00 p1 "
                  "62.0\n0:05:10-0:05:30 p1 64.0\n0:15:30 restart 0:05:30\n");
    rig->log_len = 0;
    rig_play(rig, "0:15:40-2:11:10 p1 62.0\n");
    rig->log[rig->log_len] = '\0';
    const char *asked = "2:01:00 inconclusive outage p1 62.0 since 0:01:00 found 1:50:00\n"
                        "2:11:00 deviation-opened period-too-long #2 p1 62.0 since 0:01:00 "
                        "found 2:00:00\n";
    assert_non_null(strstr(rig->log, asked));
    rig_free(rig);
}

/* E21: with no time asked for the way back it is over as soon as every probe is inside. */
static void
test_way_back_without_a_time_is_over_with_the_last_probe(void **state)
{
    (void)state;
    struct rig *rig = rig_new(
        "{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 1 min, back_for: 0 s}",
        NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1 6.0\n0:00:15 p2 6.0\n0:00:20 p1 4.0\n");
    assert_int_equal(rig_batch(rig).outside_ms, 10000);
    rig_play(rig, "0:00:25 p2 4.0\n");
    assert_int_equal(rig_batch(rig).outside_ms, 0);
    rig_free(rig);
}

/* E54, E60: what a person found inside before an outage is not joined to what is found after.
 */
static void
test_way_back_by_hand_begins_anew_after_an_outage(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: "
                              "10 min, back_for: 1 min}",
                              NULL);
    rig_play(rig, "0:00:00 begin dish\n0:01:00 hand 50.0\n0:02:00 hand 60.0\n0:02:30 restart "
                  "0:02:10\n0:03:10 hand 60.0\n");
    assert_int_equal(rig_batch(rig).outside_ms, 60000);
    rig_play(rig, "0:04:10 hand 60.0\n");
    assert_int_equal(rig_batch(rig).outside_ms, 0);
    rig_free(rig);
}

/* E62, E73: accepted, nothing of the outage counts; what was watched does. 50 s before it. */
static void
test_accepted_outage_leaves_the_rest_of_the_tolerance(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 6.0\n0:25:00 restart "
                  "0:01:00\n0:25:05 decide yes\n0:25:10 p1 6.0\n");
    rig->log_len = 0;
    rig_play(rig, "0:25:20-0:44:20 p1 6.0\n");
    rig_expect(rig, "0:44:10 deviation-opened out-too-long #2 p1 6.0 since 0:00:10 found "
                    "0:20:00\n");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_time_outside_counts_from_when_that_spot_was_last_inside),
        cmocka_unit_test(test_one_time_outside_counts_from_when_a_person_last_found_it_inside),
        cmocka_unit_test(test_one_time_outside_goes_on_over_a_short_return_and_an_outage),
        cmocka_unit_test(test_excursion_with_an_outage_is_forgotten_when_it_is_over),
        cmocka_unit_test(test_question_about_an_outage_is_asked_once_in_each_excursion),
        cmocka_unit_test(test_frozen_food_above_its_ceiling_is_told_at_once_and_once),
        cmocka_unit_test(
            test_worst_reading_of_an_excursion_is_that_of_the_probe_that_showed_it),
        cmocka_unit_test(
            test_question_about_an_outage_is_answered_by_what_is_above_the_ceiling),
        cmocka_unit_test(test_outage_in_a_short_return_is_unknown_time),
        cmocka_unit_test(test_way_back_without_a_time_is_over_with_the_last_probe),
        cmocka_unit_test(test_way_back_by_hand_begins_anew_after_an_outage),
        cmocka_unit_test(test_accepted_outage_leaves_the_rest_of_the_tolerance),
    };
    return cmocka_run_group_tests_name("engine holdings", tests, NULL, NULL);
}
