/* Cooking and reheating: docs/engine.md E1 to E16. Times and temperatures of FDA Food Code
 * 2022, 3-401.11 (cooking) and 3-403.11 (reheating), as printed. */
#include "tests/support/check.h"

#include "tests/support/engine_rig.h"

/* 3-401.11(A)(2) chart: 63 °C (145 °F) for 3 minutes. */
#define COOK_3_MIN "{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}"
/* 3-401.11(A)(1)(b): 63 °C (145 °F) for 15 seconds. */
#define COOK_15_S "{kind: cook, applies_to: food, at_least: 63 °C, for: 15 s}"
/* 3-401.11(A)(3): poultry, 74 °C (165 °F), under 1 second: instantaneous. */
#define COOK_AT_ONCE "{kind: cook, applies_to: food, at_least: 74 °C, for: 0 s}"
/* 3-403.11(A) and (D): 74 °C (165 °F) for 15 seconds within 2 hours. */
#define REHEAT "{kind: reheat, applies_to: food, at_least: 165 °F, for: 15 s, within: 2 h}"

static void
test_cook_held_for_exactly_the_time_is_met(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:03:00 p1 60.0\n"
              "0:03:10-0:06:10 p1 63.0\n0:06:20 end served\n",
              "0:06:10 limit-met held p1 63.0 since 0:03:10 found 0:03:00\n");
}

static void
test_cook_held_one_reading_less_is_left_early(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:03:00 p1 70.0\n0:03:05 end served\n",
              "0:03:05 deviation-opened left-early #1 p1 70.0 since 0:00:10 found 0:02:50\n"
              "0:03:05 deviation-ended batch-ended #1\n");
}

static void
test_cook_just_below_the_limit_earns_nothing(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN, "0:00:00 begin dish p1\n0:00:10-0:20:00 p1 62.999\n", "");
}

static void
test_cook_exactly_at_a_strict_limit_is_outside(void **state)
{
    (void)state;
    const char *strict =
        "{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min, strict: yes}";
    rig_story(strict, "0:00:00 begin dish p1\n0:00:10-0:20:00 p1 63.0\n", "");
    rig_story(strict, "0:00:00 begin dish p1\n0:00:10-0:03:10 p1 63.001\n",
              "0:03:10 limit-met held p1 63.001 since 0:00:10 found 0:03:00\n");
}

/* 68 °C is printed beside 155 °F but is below it: 3-401.11(A)(2), 155 °F for 17 seconds. */
static void
test_cook_fahrenheit_limit_is_exact(void **state)
{
    (void)state;
    const char *f = "{kind: cook, applies_to: food, at_least: 155 °F, for: 17 s}";
    rig_story(f, "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 68.0\n", "");
    rig_story(f, "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 68.332\n", "");
    rig_story(f, "0:00:00 begin dish p1\n0:00:10-0:00:30 p1 68.333\n",
              "0:00:30 limit-met held p1 68.333 since 0:00:10 found 0:00:20\n");
    const char *c = "{kind: cook, applies_to: food, at_least: 68 °C, for: 17 s}";
    rig_story(c, "0:00:00 begin dish p1\n0:00:10-0:00:30 p1 68.0\n",
              "0:00:30 limit-met held p1 68.0 since 0:00:10 found 0:00:20\n");
}

static void
test_cook_instantaneous_limit_needs_one_good_reading(void **state)
{
    (void)state;
    rig_story(COOK_AT_ONCE,
              "0:00:00 begin dish p1\n0:00:10 p1 73.999\n0:00:20 p1 bad\n0:00:30 p1 "
              "74.0\n0:00:40 p1 76.0\n",
              "0:00:30 limit-met reached p1 74.0 since 0:00:30\n");
}

static void
test_cook_spacing_exactly_the_largest_credits(void **state)
{
    (void)state;
    rig_story(COOK_15_S, "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:40 p1 63.0\n",
              "0:00:40 limit-met held p1 63.0 since 0:00:10 found 0:00:30\n");
}

static void
test_cook_spacing_over_the_largest_breaks(void **state)
{
    (void)state;
    rig_story(COOK_15_S, "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:40.001 p1 63.0\n", "");
    /* and what was earned before is gone: unknown time is not unbroken time */
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:03:00 p1 63.0\n0:03:30.001 p1 63.0\n0:03:40 p1 "
              "63.0\n",
              "");
}

static void
test_cook_bad_reading_inside_the_spacing_neither_credits_nor_breaks(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 63.0\n0:01:10 p1 bad\n0:01:20 p1 bad\n"
              "0:01:30-0:03:10 p1 63.0\n",
              "0:03:10 limit-met held p1 63.0 since 0:00:10 found 0:03:00\n");
    rig_story(COOK_15_S,
              "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:20 p1 bad\n0:00:30 p1 bad\n", "");
}

static void
test_cook_reading_below_starts_the_time_again(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:03:00 p1 63.0\n0:03:10 p1 "
              "62.9\n0:03:20-0:06:20 p1 63.0\n",
              "0:06:20 limit-met held p1 63.0 since 0:03:20 found 0:03:00\n");
}

static void
test_cook_met_is_told_once_and_leaving_is_no_deviation(void **state)
{
    (void)state;
    rig_story(COOK_15_S,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 63.0\n0:10:10-0:12:00 p1 "
              "60.0\n0:12:10 move\n0:13:00 end served\n",
              "0:00:30 limit-met held p1 63.0 since 0:00:10 found 0:00:20\n");
}

/* ---- several probes ---- */

static void
test_cook_coldest_of_two_governs(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN, "0:00:00 begin dish p1 p2\n0:00:10-0:05:00 p1 70.0\n", "");
    rig_story(COOK_3_MIN, "0:00:00 begin dish p1 p2\n0:00:10-0:05:00 p1,p2 62.9\n", "");
    struct rig *rig = rig_new(COOK_15_S, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n"
                  "0:00:10 p1 70.0\n0:00:10 p2 62.0\n0:00:20 p1 70.0\n0:00:20 p2 63.0\n"
                  "0:00:30 p1 70.0\n0:00:30 p2 63.0\n0:00:40 p1 70.0\n0:00:40 p2 63.0\n");
    rig_expect(rig, "0:00:40 limit-met held p2 63.0 since 0:00:20 found 0:00:20\n");
    rig_free(rig);
}

/* The other probe is dark: it could be colder, so nothing is credited. */
static void
test_cook_dark_second_probe_stops_the_credit(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1 p2\n0:00:10-0:02:00 p1,p2 70.0\n0:02:10-0:04:50 p1 70.0\n",
              "");
    rig_story(COOK_AT_ONCE, "0:00:00 begin dish p1 p2\n0:00:10 p1 80.0\n", "");
    rig_story(COOK_AT_ONCE, "0:00:00 begin dish p1 p2\n0:00:10 p2 80.0\n0:00:40.001 p1 80.0\n",
              "");
    rig_story(COOK_AT_ONCE, "0:00:00 begin dish p1 p2\n0:00:10 p2 80.0\n0:00:40 p1 79.0\n",
              "0:00:40 limit-met reached p1 79.0 since 0:00:40\n");
}

static void
test_cook_coldest_is_named_when_it_is_too_late_or_left_early(void **state)
{
    (void)state;
    rig_story("{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min, within: 5 min}",
              "0:00:00 begin dish p1 p2\n0:00:10-0:05:00 p1,p2 50.0\n0:05:00 p1 51.0\n0:05:10 "
              "p1,p2 50.0\n0:05:20 end discarded\n",
              "0:05:00 deviation-opened too-late #1 p2 50.0 since 0:00:00 found 0:05:00\n"
              "0:05:20 deviation-ended batch-ended #1\n");
    rig_story(COOK_AT_ONCE,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 75.0\n0:00:10 p2 73.0\n0:00:20 move\n",
              "0:00:20 deviation-opened left-early #1 p2 73.0\n0:00:20 deviation-ended "
              "batch-ended #1\n");
}

/* ---- deadlines ---- */

static void
test_reheat_met_exactly_at_the_deadline_is_in_time(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-1:59:30 p1 20.0 73.8\n1:59:40-2:00:00 p1 "
              "73.889\n2:01:00 p1 73.889\n",
              "2:00:00 limit-met held p1 73.889 since 1:59:40 found 0:00:20\n");
}

static void
test_reheat_later_than_the_deadline_is_a_deviation_that_ends_when_reached(void **state)
{
    (void)state;
    rig_story(
        REHEAT,
        "0:00:00 begin dish p1\n0:00:10-1:59:50 p1 20.0 73.8\n2:00:00-2:00:20 p1 73.889\n",
        "2:00:00 deviation-opened too-late #1 p1 73.889 since 0:00:00 found 2:00:00\n"
        "2:00:20 deviation-ended held #1 p1 73.889 since 2:00:00 found 0:00:20\n");
}

static void
test_reheat_never_reached_ends_with_the_step(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-2:10:00 p1 20.0 60.0\n2:11:00 end discarded\n",
              "2:00:00 deviation-opened too-late #1 p1 56.919 since 0:00:00 found 2:00:00\n"
              "2:11:00 deviation-ended batch-ended #1\n");
}

/* The probe goes dark: the deadline does not wait. The silence is a deviation of its own. */
static void
test_reheat_dark_until_the_deadline_is_a_deviation(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 20.0 60.0\n1:00:10-2:30:00 p1 bad\n",
              "1:05:00 gap-opened no-good-reading #1 p1 since 1:00:00 found 0:05:00\n"
              "2:00:00 deviation-opened too-late #2 of #1 since 0:00:00 found 2:00:00\n");
}

static void
test_cook_discarded_batch_is_no_early_leaving(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:02:00 p1 40.0\n0:02:10 end discarded\n", "");
}

static void
test_cook_again_after_moving_back_starts_from_nothing(void **state)
{
    (void)state;
    rig_story(
        COOK_15_S,
        "0:00:00 begin dish p1\n0:00:10-0:00:30 p1 63.0\n0:01:00 move\n0:02:00 move first\n"
        "0:02:10 p1 63.0\n0:02:20 p1 63.0\n0:02:30 p1 63.0\n",
        "0:00:30 limit-met held p1 63.0 since 0:00:10 found 0:00:20\n"
        "0:02:30 limit-met held p1 63.0 since 0:02:10 found 0:00:20\n");
}

static void
test_cook_view_shows_what_is_credited(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_3_MIN, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 63.5\n");
    struct engine_batch_view view = rig_batch(rig);
    assert_int_equal(view.credited_ms, 50000);
    assert_int_equal(view.governing_mC, 63500);
    assert_int_equal(view.governing_probe, 1);
    assert_int_equal(view.verdict, VERDICT_OPEN);
    assert_int_equal(view.deadline_ms, TIME_NONE);
    rig_play(rig, "0:03:00 wait\n0:03:00 p1 bad\n");
    assert_int_equal(rig_batch(rig).governing_mC, TEMP_NONE);
    rig_free(rig);
}

/* E9, E54: a colder spot breaks what every probe has shown, also that of one that is read
 * later. */
static void
test_cook_colder_spot_begins_the_time_of_every_probe_anew(void **state)
{
    (void)state;
    rig_story(COOK_15_S,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 64.0\n0:00:15 p2 64.0\n0:00:20 p1 64.0\n"
              "0:00:21 hand 60.0\n0:00:30 p1 64.0\n0:00:35 p2 64.0\n0:00:40 p1 64.0\n0:00:45 "
              "p2 64.0\n0:00:50 p1 64.0\n0:00:55 p2 64.0\n",
              "0:00:55 limit-met held p1 64.0 since 0:00:35 found 0:00:15\n");
}

/* E9, E15: what two probes have not shown together yet is no time. */
static void
test_cook_left_before_its_probes_have_shown_it_together_has_no_time(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 64.0\n0:00:15 p2 64.0\n0:00:16 end "
              "served\n",
              "0:00:16 deviation-opened left-early #1 p1 64.0\n"
              "0:00:16 deviation-ended batch-ended #1\n");
}

/* E10: the first of two can be the colder one. */
static void
test_cook_at_once_waits_for_the_first_probe_as_well(void **state)
{
    (void)state;
    rig_story(COOK_AT_ONCE,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 73.0\n0:00:12 p2 75.0\n0:00:20 p1 73.9\n"
              "0:00:22 p2 75.0\n0:00:30 p1 74.0\n",
              "0:00:30 limit-met reached p1 74.0 since 0:00:30\n");
}

/* E10, E51: the shortest holding time that a plan can ask for takes two readings of a probe. */
static void
test_cook_for_a_thousandth_of_a_second_is_held_and_not_only_reached(void **state)
{
    (void)state;
    rig_story("{kind: cook, applies_to: food, at_least: 74 °C, for: 1 ms}",
              "0:00:00 begin dish p1\n0:00:10 p1 75.0\n0:00:15 hand 80.0\n0:00:20 p1 75.0\n",
              "0:00:20 limit-met held p1 75.0 since 0:00:10 found 0:00:10\n");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cook_coldest_is_named_when_it_is_too_late_or_left_early),
        cmocka_unit_test(test_cook_held_for_exactly_the_time_is_met),
        cmocka_unit_test(test_cook_held_one_reading_less_is_left_early),
        cmocka_unit_test(test_cook_just_below_the_limit_earns_nothing),
        cmocka_unit_test(test_cook_exactly_at_a_strict_limit_is_outside),
        cmocka_unit_test(test_cook_fahrenheit_limit_is_exact),
        cmocka_unit_test(test_cook_instantaneous_limit_needs_one_good_reading),
        cmocka_unit_test(test_cook_spacing_exactly_the_largest_credits),
        cmocka_unit_test(test_cook_spacing_over_the_largest_breaks),
        cmocka_unit_test(test_cook_bad_reading_inside_the_spacing_neither_credits_nor_breaks),
        cmocka_unit_test(test_cook_reading_below_starts_the_time_again),
        cmocka_unit_test(test_cook_met_is_told_once_and_leaving_is_no_deviation),
        cmocka_unit_test(test_cook_coldest_of_two_governs),
        cmocka_unit_test(test_cook_dark_second_probe_stops_the_credit),
        cmocka_unit_test(test_reheat_met_exactly_at_the_deadline_is_in_time),
        cmocka_unit_test(
            test_reheat_later_than_the_deadline_is_a_deviation_that_ends_when_reached),
        cmocka_unit_test(test_reheat_never_reached_ends_with_the_step),
        cmocka_unit_test(test_reheat_dark_until_the_deadline_is_a_deviation),
        cmocka_unit_test(test_cook_discarded_batch_is_no_early_leaving),
        cmocka_unit_test(test_cook_again_after_moving_back_starts_from_nothing),
        cmocka_unit_test(test_cook_view_shows_what_is_credited),
        cmocka_unit_test(test_cook_colder_spot_begins_the_time_of_every_probe_anew),
        cmocka_unit_test(test_cook_left_before_its_probes_have_shown_it_together_has_no_time),
        cmocka_unit_test(test_cook_at_once_waits_for_the_first_probe_as_well),
        cmocka_unit_test(test_cook_for_a_thousandth_of_a_second_is_held_and_not_only_reached),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
