/* Cooling whose stages have clocks of their own, or that begins with its step: docs/engine.md
 * E90 to E93. Figures of FSANZ Standard 3.2.2 clause 7(3), FDA Food Code 2022 3-501.14(A), and
 * the UK Department of Health's cook-chill guidelines (1989). */
#include "tests/support/check.h"

#include <string.h>

#include "tests/support/engine_rig.h"

#define AUSTRALIA                                                                              \
    "{kind: cool, applies_to: food, from: 60 °C, stages: [{to: 21 °C, within: 2 h}, "        \
    "{to: 5 °C, within: 4 h, counts_from: stage_before}]}"
#define FOOD_CODE                                                                              \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, "        \
    "{to: 5 °C, within: 6 h}]}"
#define COOK_CHILL                                                                             \
    "{kind: cool, applies_to: food, from: 70 °C, clock: step, start_within: 30 min, stages: " \
    "[{to: 3 °C, within: 90 min}]}"

/* One hour saved in the first stage: the Food Code lets it be used, Australia does not. */
#define HOUR_SAVED(hot, fallen)                                                                \
    "0:00:00 begin dish p1\n0:00:10 p1 " hot "\n0:00:20 p1 " fallen                            \
    "\n0:00:30-1:00:00 p1 56.0 21.1\n1:00:10 p1 21.0\n1:00:20-5:00:00 p1 20.9 5.1\n"

static void
test_stage_time_saved_may_be_used_where_one_clock_counts(void **state)
{
    (void)state;
    rig_story(FOOD_CODE, HOUR_SAVED("58.0", "56.9") "5:00:10-5:30:00 p1 5.1\n5:30:10 p1 5.0\n",
              "0:00:20 clock-started fell-through-start p1 56.9 since 0:00:10\n"
              "1:00:10 limit-met reached stage 1 p1 21.0 since 0:00:10 found 1:00:00\n"
              "5:30:10 limit-met reached stage 2 p1 5.0 since 0:00:10 found 5:30:00\n");
}

static void
test_stage_time_saved_is_lost_where_each_counts_for_itself(void **state)
{
    (void)state;
    rig_story(AUSTRALIA, HOUR_SAVED("60.1", "59.9") "5:00:10 p1 5.0\n",
              "0:00:20 clock-started fell-through-start p1 59.9 since 0:00:10\n"
              "1:00:10 limit-met reached stage 1 p1 21.0 since 0:00:10 found 1:00:00\n"
              "5:00:10 limit-met reached stage 2 p1 5.0 since 1:00:10 found 4:00:00\n");
    rig_story(
        AUSTRALIA, HOUR_SAVED("60.1", "59.9") "5:00:10 p1 5.1\n5:00:20 p1 5.0\n",
        "0:00:20 clock-started fell-through-start p1 59.9 since 0:00:10\n"
        "1:00:10 limit-met reached stage 1 p1 21.0 since 0:00:10 found 1:00:00\n"
        "5:00:10 deviation-opened too-late #1 stage 2 p1 5.1 since 1:00:10 found 4:00:00\n"
        "5:00:20 deviation-ended reached #1 stage 2 p1 5.0 since 1:00:10 found 4:00:10\n");
}

/* Reached late, the first stage is a deviation; the second has its own four hours from then. */
static void
test_stage_after_a_late_one_has_its_own_time(void **state)
{
    (void)state;
    rig_story(
        AUSTRALIA,
        "0:00:00 begin dish p1\n0:00:10 p1 62.0\n0:00:20-2:00:10 p1 59.0 22.0\n"
        "2:00:20 p1 21.5\n2:00:30 p1 21.0\n2:00:40-6:00:20 p1 20.9 5.1\n6:00:30 p1 5.0\n",
        "0:00:20 clock-started fell-through-start p1 59.0 since 0:00:10\n"
        "2:00:10 deviation-opened too-late #1 stage 1 p1 22.0 since 0:00:10 found 2:00:00\n"
        "2:00:30 deviation-ended reached #1 stage 1 p1 21.0 since 0:00:10 found 2:00:20\n"
        "6:00:30 limit-met reached stage 2 p1 5.0 since 2:00:30 found 4:00:00\n");
}

/* E91: dark from 0:30 to 1:30, so that nobody saw when 21 °C was passed. */
static void
test_stage_passed_in_the_dark_counts_from_the_last_reading_above(void **state)
{
    (void)state;
    rig_story(
        AUSTRALIA,
        "0:00:00 begin dish p1\n0:00:10 p1 62.0\n0:00:20-0:30:00 p1 59.0 40.0\n"
        "1:30:00 p1 20.0\n1:30:10-4:30:00 p1 19.9 5.1\n4:30:10 p1 5.0\n",
        "0:00:20 clock-started fell-through-start p1 59.0 since 0:00:10\n"
        "0:35:00 gap-opened no-good-reading #1 p1 since 0:30:00 found 0:05:00\n"
        "1:30:00 gap-ended good-again #1 p1 20.0 since 0:30:00 found 1:00:00\n"
        "1:30:00 limit-met reached stage 1 p1 20.0 since 0:00:10 found 1:29:50\n"
        "4:30:00 deviation-opened too-late #2 stage 2 p1 5.1 since 0:30:00 found 4:00:00\n"
        "4:30:10 deviation-ended reached #2 stage 2 p1 5.0 since 0:30:00 found 4:00:10\n");
}

static void
test_step_clock_counts_from_the_step(void **state)
{
    (void)state;
    rig_story(COOK_CHILL,
              "0:20:00 begin dish p1\n0:20:10 p1 72.0\n0:20:15 cooked 0:00:00\n"
              "0:20:20-1:49:50 p1 69.0 3.1\n1:50:00 p1 3.0\n",
              "1:50:00 limit-met reached stage 1 p1 3.0 since 0:20:00 found 1:30:00\n");
    rig_story(
        COOK_CHILL,
        "0:20:00 begin dish p1\n0:20:10 p1 72.0\n0:20:15 cooked 0:00:00\n"
        "0:20:20-1:49:50 p1 69.0 3.1\n1:50:00 p1 3.1\n1:50:10 p1 3.0\n",
        "1:50:00 deviation-opened too-late #1 stage 1 p1 3.1 since 0:20:00 found 1:30:00\n"
        "1:50:10 deviation-ended reached #1 stage 1 p1 3.0 since 0:20:00 found 1:30:10\n");
}

static void
test_step_begun_exactly_in_time_and_a_second_late(void **state)
{
    (void)state;
    rig_story(COOK_CHILL, "0:30:00 begin dish p1\n0:30:10 p1 60.0\n0:30:15 cooked 0:00:00\n",
              "");
    rig_story(COOK_CHILL, "0:30:01 begin dish p1\n0:30:10 p1 60.0\n0:30:15 cooked 0:00:00\n",
              "0:30:15 deviation-opened too-late #1 since 0:00:00 found 0:30:01\n"
              "0:30:15 deviation-ended entered #1\n");
}

static void
test_step_whose_end_of_cooking_nobody_gave_is_a_question(void **state)
{
    (void)state;
    rig_story(COOK_CHILL,
              "0:00:00 begin dish p1\n0:00:10-0:30:00 p1 60.0 3.0\n0:31:00 end stored\n",
              "0:30:00 limit-met reached stage 1 p1 3.0 since 0:00:00 found 0:30:00\n"
              "0:31:00 inconclusive probe-late\n");
    /* Given after all, also when it was cold already. */
    struct rig *rig = rig_new(COOK_CHILL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:30:00 p1 60.0 3.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    rig_play(rig, "0:30:05 cooked 0:00:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_play(rig, "0:30:06 cooked 0:00:01\n");
    assert_non_null(strstr(rig->refusal, "has been said already"));
    rig_free(rig);
}

/* E91: the second stage's time was over in the dark too; it is told, and that it is cold. */
static void
test_stage_whose_time_was_over_before_anyone_saw_it_is_late(void **state)
{
    (void)state;
    rig_story(
        AUSTRALIA,
        "0:00:00 begin dish p1\n0:00:10 p1 62.0\n0:00:20-0:30:00 p1 59.0 40.0\n4:40:00 p1 "
        "4.0\n",
        "0:00:20 clock-started fell-through-start p1 59.0 since 0:00:10\n"
        "0:35:00 gap-opened no-good-reading #1 p1 since 0:30:00 found 0:05:00\n"
        "2:00:10 deviation-opened too-late #2 of #1 stage 1 since 0:00:10 found 2:00:00\n"
        "4:40:00 gap-ended good-again #1 silent p1 4.0 since 0:30:00 found 4:10:00\n"
        "4:40:00 deviation-ended reached #2 of #1 stage 1 p1 4.0 since 0:00:10 found 4:39:50\n"
        "4:40:00 deviation-opened too-late #3 stage 2 p1 4.0 since 0:30:00 found 4:10:00\n"
        "4:40:00 deviation-ended reached #3 stage 2 p1 4.0 since 0:30:00 found 4:10:00\n");
}

/* E64, E90: still too warm after an outage over the first deadline; the second stage counts
 * from when the first was reached, not from the outage. */
static void
test_stage_found_late_after_an_outage_begins_the_next_when_it_is_reached(void **state)
{
    (void)state;
    rig_story(AUSTRALIA,
              "0:00:00 begin dish p1\n0:00:10 p1 62.0\n0:00:20-1:30:00 p1 59.0 40.0\n"
              "2:30:00 restart 1:30:05\n2:30:10-3:00:00 p1 35.0 21.0\n"
              "3:00:10-6:50:00 p1 21.0 5.0\n",
              "0:00:20 clock-started fell-through-start p1 59.0 since 0:00:10\n"
              "2:30:00 inconclusive outage stage 1 since 0:00:10 found 2:29:50\n"
              "2:30:00 gap-opened outage #1 p1 since 1:30:00 found 1:00:00\n"
              "2:30:10 gap-ended good-again #1 p1 35.0 since 1:30:00 found 1:00:10\n"
              "2:30:10 deviation-opened too-late #2 stage 1 p1 35.0 since 0:00:10 found "
              "2:30:00\n"
              "3:00:00 deviation-ended reached #2 stage 1 p1 21.0 since 0:00:10 found "
              "2:59:50\n"
              "6:50:00 limit-met reached stage 2 p1 5.0 since 3:00:00 found 3:50:00\n");
}

/* E33, E90: what a clock of the dark passed over was not so, also for the stage after. */
static void
test_stage_after_one_of_a_clock_that_was_taken_back(void **state)
{
    (void)state;
    struct rig *rig = rig_new(AUSTRALIA, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 80.0 70.0\n0:16:00 wait\n"
                  "2:20:00 restart 0:16:00\n2:20:10 p1 63.0\n2:20:20 p1 62.0\n");
    rig->log_len = 0;
    rig_play(rig, "2:20:30 p1 60.0\n2:20:40-4:00:00 p1 59.9 21.0\n4:00:10-7:50:00 p1 21.0 "
                  "5.0\n");
    rig_expect(rig, "2:20:30 clock-started fell-through-start p1 60.0 since 2:20:20\n"
                    "4:00:00 limit-met reached stage 1 p1 21.0 since 2:20:20 found 1:39:40\n"
                    "7:50:00 limit-met reached stage 2 p1 5.0 since 4:00:00 found 3:50:00\n");
    rig_free(rig);
}

/* E243: the first cooling after the heat answers for the time between; a second comes from the
 * first. */
static void
test_second_cooling_is_not_asked_for_the_end_of_cooking(void **state)
{
    (void)state;
    rig_story("{kind: cook, applies_to: food, at_least: 70 °C}}\n"
              "      - {id: chill, name: Chill, limit: " COOK_CHILL "}\n"
              "      - {id: store, name: Store, limit: " COOK_CHILL,
              "0:00:00 begin dish\n0:00:10 hand 70.0\n0:10:00 move chill\n0:50:00 hand 3.0\n"
              "0:50:10 move store\n",
              "0:00:10 limit-met hand-reading 70.0 since 0:00:10\n"
              "0:50:00 limit-met hand-reading stage 1 3.0 since 0:10:00 found 0:40:00\n"
              "0:50:10 inconclusive probe-late\n");
}

/* E92, E243: the deviation says what was allowed, and is not shown as one that goes on: that is
 * the stage's. */
static void
test_step_begun_too_late_beside_a_late_stage(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_CHILL, NULL);
    rig_play(rig, "0:30:01 begin dish p1\n0:30:10-2:00:10 p1 60.0 10.0\n");
    rig_expect(rig,
               "2:00:01 deviation-opened too-late #1 stage 1 p1 10.093 since 0:30:01 found "
               "1:30:00\n");
    rig_play(rig, "2:00:15 cooked 0:00:00\n");
    rig_expect(rig, "2:00:15 deviation-opened too-late #2 of #1 silent since 0:00:00 found "
                    "0:30:01\n"
                    "2:00:15 deviation-ended entered #2 of #1 silent\n");
    assert_int_equal(rig->out.decisions[0].required_ms, 30 * 60000);
    assert_int_equal(rig_batch(rig).deviation, 1);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stage_time_saved_may_be_used_where_one_clock_counts),
        cmocka_unit_test(test_stage_time_saved_is_lost_where_each_counts_for_itself),
        cmocka_unit_test(test_stage_after_a_late_one_has_its_own_time),
        cmocka_unit_test(test_stage_passed_in_the_dark_counts_from_the_last_reading_above),
        cmocka_unit_test(test_step_clock_counts_from_the_step),
        cmocka_unit_test(test_step_begun_exactly_in_time_and_a_second_late),
        cmocka_unit_test(test_step_whose_end_of_cooking_nobody_gave_is_a_question),
        cmocka_unit_test(test_stage_whose_time_was_over_before_anyone_saw_it_is_late),
        cmocka_unit_test(
            test_stage_found_late_after_an_outage_begins_the_next_when_it_is_reached),
        cmocka_unit_test(test_stage_after_one_of_a_clock_that_was_taken_back),
        cmocka_unit_test(test_second_cooling_is_not_asked_for_the_end_of_cooking),
        cmocka_unit_test(test_step_begun_too_late_beside_a_late_stage),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
