/* Hot and cold holding, of food and of places: docs/engine.md E20 to E27. Limits of FDA Food
 * Code 2022, 3-501.16(A): hot food at 57 °C (135 °F) or above, cold food at 5 °C (41 °F) or
 * below. Tolerances are the kitchen's own. */
#include "tests/support/check.h"

#include <stdio.h>

#include "tests/support/engine_rig.h"

#define FRIDGE                                                                                 \
    "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 20 min, back_for: 5 min}"
#define HOT "{kind: hold_hot, applies_to: food, at_least: 57 °C}"
#define HOT_10                                                                                 \
    "{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 10 min, back_for: 1 min}"
#define COLD_BOX                                                                               \
    "{kind: hold_cold, applies_to: food, at_most: 41 °F, tolerance: 0 s, back_for: 1 min}"

static void
test_hold_exactly_at_the_limit_is_inside(void **state)
{
    (void)state;
    rig_place_story(FRIDGE, "0:00:00-2:00:00 a1 5.0\n", "");
    rig_story(COLD_BOX, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 5.0\n", "");
    rig_story(COLD_BOX, "0:00:00 begin dish p1\n0:00:10 p1 5.0\n0:00:20 p1 5.001\n",
              "0:00:20 deviation-opened out-too-long #1 p1 5.001 since 0:00:20\n");
}

static void
test_hold_exactly_at_a_strict_limit_is_outside(void **state)
{
    (void)state;
    rig_story("{kind: hold_hot, applies_to: food, at_least: 63 °C, strict: yes}",
              "0:00:00 begin dish p1\n0:00:10 p1 63.001\n0:00:20 p1 63.0\n",
              "0:00:20 deviation-opened out-too-long #1 p1 63.0 since 0:00:20\n");
}

/* 57.2 °C is 134.96 °F: inside 57 °C, outside 135 °F. */
static void
test_hold_fahrenheit_limit_is_exact(void **state)
{
    (void)state;
    rig_story("{kind: hold_hot, applies_to: food, at_least: 135 °F}",
              "0:00:00 begin dish p1\n0:00:10 p1 57.2\n",
              "0:00:10 deviation-opened out-too-long #1 p1 57.2 since 0:00:10\n");
    rig_story(HOT, "0:00:00 begin dish p1\n0:00:10 p1 57.2\n", "");
}

static void
test_hold_without_tolerance_opens_at_the_first_outside_reading(void **state)
{
    (void)state;
    rig_story(HOT,
              "0:00:00 begin dish p1\n0:00:10 p1 57.0\n0:00:20 p1 56.999\n0:00:30-0:05:20 p1 "
              "57.0\n0:05:30 p1 57.0\n0:05:40 p1 57.0\n",
              "0:00:20 deviation-opened out-too-long #1 p1 56.999 since 0:00:20\n"
              "0:05:30 deviation-ended back-inside #1 p1 57.0 worst 56.999 since 0:00:20 found "
              "0:00:10\n");
}

/* A door open within its tolerance: back exactly when it is used up. */
static void
test_hold_outside_for_exactly_the_tolerance_is_no_deviation(void **state)
{
    (void)state;
    rig_place_story(
        FRIDGE, "0:00:00-0:10:00 a1 4.0\n0:10:10-0:30:00 a1 6.0\n0:30:10-1:00:00 a1 4.0\n", "");
}

static void
test_hold_outside_for_longer_opens_at_that_instant_by_tick(void **state)
{
    (void)state;
    rig_place_story(
        FRIDGE,
        "0:00:00-0:10:00 a1 4.0\n0:10:05-0:30:05 a1 6.0 8.0\n0:30:15 a1 7.0\n0:30:25-0:36:00 "
        "a1 4.0\n",
        "0:30:05 deviation-opened out-too-long #1 fridge p4 8.0 since 0:10:05 found 0:20:00\n"
        "0:35:25 deviation-ended back-inside #1 fridge p4 4.0 worst 8.0 since 0:10:05 found "
        "0:20:20\n");
}

static void
test_hold_short_return_does_not_reset_time_outside(void **state)
{
    (void)state;
    /* 10 min 20 s out, 4 min 50 s back (not unbroken 5 min), out again: opens after 9 min 40 s
     * more */
    rig_place_story(
        FRIDGE,
        "0:00:00 a1 6.0\n0:00:10-0:10:10 a1 6.0\n0:10:20-0:15:10 a1 4.0\n0:15:20-0:25:20 a1 "
        "6.0\n",
        "0:25:00 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:00 found 0:20:00\n");
}

static void
test_hold_back_for_long_enough_starts_from_nothing(void **state)
{
    (void)state;
    /* back for exactly 5 min: the excursion is over, the next one has its own 20 min */
    rig_place_story(FRIDGE,
                    "0:00:00-0:10:10 a1 6.0\n0:10:20-0:15:20 a1 4.0\n0:15:30-0:35:20 a1 "
                    "6.0\n0:35:30 a1 4.0\n",
                    "");
}

static void
test_hold_gap_in_the_return_breaks_it(void **state)
{
    (void)state;
    /* 31 s without a reading inside the return: it starts anew, so the excursion goes on */
    rig_place_story(
        FRIDGE,
        "0:00:00-0:15:00 a1 6.0\n0:15:10-0:18:00 a1 4.0\n0:18:31-0:23:21 a1 "
        "4.0\n0:23:25-0:28:30 a1 6.0\n",
        "0:28:15 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:00 found 0:20:00\n");
}

/* Dark after a reading outside: the clock runs on. */
static void
test_hold_dark_while_outside_counts_as_outside(void **state)
{
    (void)state;
    rig_place_story(
        FRIDGE, "0:00:00 a1 6.0\n0:00:10-0:30:00 a1 bad\n",
        "0:05:00 gap-opened no-good-reading #1 fridge p4 since 0:00:00 found 0:05:00\n"
        "0:20:00 deviation-opened out-too-long #2 of #1 silent fridge p4 6.0 since 0:00:00 "
        "found 0:20:00\n");
}

/* Dark after a reading inside: a gap, and nothing else. */
static void
test_hold_dark_while_inside_is_a_gap_only(void **state)
{
    (void)state;
    rig_place_story(
        FRIDGE, "0:00:00 a1 4.0\n0:00:10-1:00:00 a1 bad\n1:00:10 a1 4.0\n",
        "0:05:00 gap-opened no-good-reading #1 fridge p4 since 0:00:00 found 0:05:00\n"
        "1:00:10 gap-ended good-again #1 fridge p4 4.0 since 0:00:00 found 1:00:10\n");
}

static void
test_hold_open_deviation_ends_with_the_step(void **state)
{
    (void)state;
    rig_story(
        HOT,
        "0:00:00 begin dish p1\n0:00:10 p1 56.0\n0:00:20 p1 55.0\n0:01:00 move\n0:02:00 end "
        "served\n",
        "0:00:10 deviation-opened out-too-long #1 p1 56.0 since 0:00:10\n"
        "0:01:00 deviation-ended batch-ended #1 worst 55.0 since 0:00:10 found 0:00:50\n");
}

static void
test_hold_inside_step_is_left_without_a_word(void **state)
{
    (void)state;
    rig_story(HOT, "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 60.0\n1:00:10 end served\n", "");
}

/* Hot holding: the coldest governs; cold holding: the warmest. */
static void
test_hold_worst_of_several_probes_governs(void **state)
{
    (void)state;
    rig_story(HOT, "0:00:00 begin dish p1 p2\n0:00:10 p1 70.0\n0:00:10 p2 56.0\n",
              "0:00:10 deviation-opened out-too-long #1 p2 56.0 since 0:00:10\n");
    rig_story(COLD_BOX, "0:00:00 begin dish p1 p2\n0:00:10 p1 1.0\n0:00:10 p2 6.0\n",
              "0:00:10 deviation-opened out-too-long #1 p2 6.0 since 0:00:10\n");
}

/* Both have to be back, seen by fresh readings. */
static void
test_hold_return_needs_every_probe(void **state)
{
    (void)state;
    struct rig *rig = rig_new(HOT_10, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 56.0\n0:00:20-0:05:00 p1 57.0\n");
    rig_expect(rig, "");
    assert_true(rig_batch(rig).outside); /* the second was outside when last seen */
    rig_play(rig, "0:05:05 p2 57.0\n0:05:10-0:12:00 p1,p2 57.0\n");
    rig_expect(rig, "");
    rig_free(rig);

    rig = rig_new(COLD_BOX, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 6.0\n0:00:20-0:05:00 p1 4.0\n");
    rig_expect(rig, "0:00:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10\n");
    rig_play(rig, "0:05:05 p2 4.0\n0:05:10-0:06:10 p1,p2 4.0\n");
    rig_expect(rig, "0:06:10 deviation-ended back-inside #1 p2 4.0 worst 6.0 since 0:00:10 "
                    "found 0:04:55\n");
    rig_free(rig);
}

static void
test_hold_view_counts_time_outside(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00 a1 4.0\n0:00:10-0:01:10 a1 6.0\n");
    struct engine_place_view view = rig_place(rig);
    assert_true(view.outside);
    assert_int_equal(view.outside_since_ms, RIG_BASE_MS + 10000);
    assert_int_equal(view.outside_ms, 60000);
    assert_int_equal(view.temp_mC, 6000);
    assert_int_equal(view.deviation, 0);
    assert_int_equal(engine_due(rig->engine),
                     RIG_BASE_MS + 70000 + 300000); /* silence before the tolerance */
    rig_free(rig);
}

/* ---- a new plan ---- */

static void
test_hold_same_place_goes_on_over_a_plan_change(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig->next_plan = rig_plan(HOT, FRIDGE, NULL);
    rig_play(rig, "0:00:00-0:10:00 a1 6.0\n0:10:05 plan\n0:10:10-0:21:00 a1 6.0\n");
    rig_expect(
        rig,
        "0:20:00 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:00 found 0:20:00\n");
    rig_free(rig);
}

static void
test_hold_changed_limit_ends_the_excursion(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig->next_plan = rig_plan(
        NULL, "{kind: hold_cold, applies_to: air, at_most: 8 °C, tolerance: 20 min}", NULL);
    rig_play(rig, "0:00:00-0:21:00 a1 6.0\n0:21:05 plan\n0:21:10-0:50:00 a1 6.0\n");
    rig_expect(
        rig,
        "0:20:00 deviation-opened out-too-long #1 fridge p4 6.0 since 0:00:00 found 0:20:00\n"
        "0:21:05 deviation-ended entered #1 fridge worst 6.0 since 0:00:00 found 0:21:05\n");
    rig_free(rig);
}

/* E81: what is outside as a plan comes is told at its time, though nobody reads it any more. */
static void
test_hold_place_that_is_outside_is_due_under_a_new_plan(void **state)
{
    (void)state;
    static const char place[] =
        "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 3 "
        "min}";
    struct rig *rig = rig_new(NULL, place);
    rig->next_plan = rig_plan(NULL, place, NULL);
    rig_play(rig, "0:00:10 a1 9.0\n0:01:00 plan\n0:03:11 wait\n");
    rig_expect(rig, "0:03:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:10 "
                    "found 0:03:00\n");
    rig_free(rig);
}

/* ---- first and last reading outside: E237 ---- */

/* Of the deviation that a script ends with its last input. */
static int64_t
last_breach_ms(const char *step_limit, const char *place_limit, const char *script)
{
    struct rig *rig = rig_new(step_limit, place_limit);
    int64_t last_ms = 0;
    rig_play(rig, script);
    for (size_t i = 0; i < rig->out.count; i++)
        if (rig->out.decisions[i].kind == DECISION_DEVIATION_ENDED)
            last_ms = rig->out.decisions[i].last_ms;
    rig_free(rig);
    return last_ms;
}

static void
test_end_of_a_deviation_says_its_last_reading_outside(void **state)
{
    (void)state;
    static const char cold[] = "{kind: hold_cold, applies_to: %s, at_most: 5 °C, tolerance: 1 "
                               "min, back_for: 1 min}";
    char food[120], air[120];
    (void)snprintf(food, sizeof food, cold, "food");
    (void)snprintf(air, sizeof air, cold, "air");
    /* A short return, and outside again; then back for the minute. */
    assert_int_equal(last_breach_ms(food, NULL,
                                    "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 6.0\n0:05:10 p1 "
                                    "5.0\n0:05:20 p1 5.001\n0:05:30-0:06:30 p1 5.0\n"),
                     rig_time("0:05:20"));
    assert_int_equal(
        last_breach_ms(NULL, air,
                       "0:00:00 a1 4.0\n0:00:10-0:05:00 a1 6.0\n0:05:10-0:06:10 a1 "
                       "5.0\n"),
        rig_time("0:05:00"));
    /* By hand; and left while it is outside, dark since. */
    assert_int_equal(last_breach_ms(food, NULL,
                                    "0:00:00 begin dish\n0:00:10 hand 9.0\n0:03:00 hand "
                                    "8.0\n0:04:00 hand 5.0\n0:05:00 hand 5.0\n"),
                     rig_time("0:03:00"));
    assert_int_equal(
        last_breach_ms(food, NULL,
                       "0:00:00 begin dish p1\n0:00:10-0:03:00 p1 6.0\n0:04:00 end "
                       "discarded\n"),
        rig_time("0:03:00"));
}

/* Of time between cold and hot the last in between; of a cooling the last that was too warm for
 * the stage that was late. */
static void
test_end_of_other_deviations_says_their_last_reading_too(void **state)
{
    (void)state;
    assert_int_equal(
        last_breach_ms(
            "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: "
            "60 °C, within: 1 min}",
            NULL,
            "0:00:00 begin dish p1\n0:00:10-0:03:00 p1 6.0\n0:03:10-0:04:00 p1 "
            "4.0\n0:04:10 end served\n"),
        rig_time("0:03:00"));
    assert_int_equal(
        last_breach_ms(
            "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: "
            "2 min}]}",
            NULL,
            "0:00:00 begin dish p1\n0:00:10 p1 58.0\n0:00:20-0:03:50 p1 56.0 "
            "22.0\n0:04:00 p1 21.001\n0:04:10 p1 21.0\n"),
        rig_time("0:04:00"));
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_end_of_a_deviation_says_its_last_reading_outside),
        cmocka_unit_test(test_end_of_other_deviations_says_their_last_reading_too),
        cmocka_unit_test(test_hold_exactly_at_the_limit_is_inside),
        cmocka_unit_test(test_hold_exactly_at_a_strict_limit_is_outside),
        cmocka_unit_test(test_hold_fahrenheit_limit_is_exact),
        cmocka_unit_test(test_hold_without_tolerance_opens_at_the_first_outside_reading),
        cmocka_unit_test(test_hold_outside_for_exactly_the_tolerance_is_no_deviation),
        cmocka_unit_test(test_hold_outside_for_longer_opens_at_that_instant_by_tick),
        cmocka_unit_test(test_hold_short_return_does_not_reset_time_outside),
        cmocka_unit_test(test_hold_back_for_long_enough_starts_from_nothing),
        cmocka_unit_test(test_hold_gap_in_the_return_breaks_it),
        cmocka_unit_test(test_hold_dark_while_outside_counts_as_outside),
        cmocka_unit_test(test_hold_dark_while_inside_is_a_gap_only),
        cmocka_unit_test(test_hold_open_deviation_ends_with_the_step),
        cmocka_unit_test(test_hold_inside_step_is_left_without_a_word),
        cmocka_unit_test(test_hold_worst_of_several_probes_governs),
        cmocka_unit_test(test_hold_return_needs_every_probe),
        cmocka_unit_test(test_hold_view_counts_time_outside),
        cmocka_unit_test(test_hold_same_place_goes_on_over_a_plan_change),
        cmocka_unit_test(test_hold_changed_limit_ends_the_excursion),
        cmocka_unit_test(test_hold_place_that_is_outside_is_due_under_a_new_plan),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
