/* Cooling: docs/engine.md E30 to E39. FDA Food Code 2022, 3-501.14(A): from 57 °C (135 °F) to
 * 21 °C (70 °F) within 2 h, and to 5 °C (41 °F) within 6 h in all. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define COOL                                                                                   \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, {to: 5 " \
    "°C, within: 6 h}]}"
#define COOL_F                                                                                   \
    "{kind: cool, applies_to: food, from: 135 °F, stages: [{to: 70 °F, within: 2 h}, {to: 41 " \
    "°F, within: 6 h}]}"

/* Hot, through 57 °C at 0:10:10 (last reading above it at 0:10:00). */
#define HOT_THEN_57 "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 70.0 57.5\n0:10:10 p1 56.9\n"
#define CLOCK       "0:10:10 clock-started fell-through-start p1 56.9 since 0:10:00\n"

static void
test_cool_met_in_both_stages(void **state)
{
    (void)state;
    rig_story(COOL,
              HOT_THEN_57
              "0:10:20-1:50:00 p1 56.9 21.0\n1:50:10-5:00:00 p1 21.0 5.0\n5:00:10 end stored\n",
              CLOCK "1:50:00 limit-met reached stage 1 p1 21.0 since 0:10:00 found 1:40:00\n"
                    "5:00:00 limit-met reached stage 2 p1 5.0 since 0:10:00 found 4:50:00\n");
}

static void
test_cool_stage_met_exactly_at_its_deadline_is_in_time(void **state)
{
    (void)state;
    rig_story(COOL, HOT_THEN_57 "0:10:20-2:09:50 p1 56.9 21.1\n2:10:00 p1 21.0\n",
              CLOCK "2:10:00 limit-met reached stage 1 p1 21.0 since 0:10:00 found 2:00:00\n");
}

static void
test_cool_one_millisecond_late_is_a_deviation(void **state)
{
    (void)state;
    rig_story(
        COOL, HOT_THEN_57 "0:10:20-2:09:50 p1 56.9 21.1\n2:10:00.001 p1 21.0\n",
        CLOCK
        "2:10:00 deviation-opened too-late #1 stage 1 p1 21.1 since 0:10:00 found 2:00:00\n"
        "2:10:00.001 deviation-ended reached #1 stage 1 p1 21.0 since 0:10:00 found "
        "2:00:00.001\n");
}

static void
test_cool_just_above_the_stage_at_the_deadline_is_a_deviation(void **state)
{
    (void)state;
    rig_story(
        COOL, HOT_THEN_57 "0:10:20-2:10:00 p1 56.9 21.001\n2:10:00 wait\n",
        CLOCK
        "2:10:00 deviation-opened too-late #1 stage 1 p1 21.001 since 0:10:00 found 2:00:00\n");
}

static void
test_cool_strict_stage_is_not_met_exactly_at_it(void **state)
{
    (void)state;
    rig_story("{kind: cool, applies_to: food, from: 57 °C, strict: yes, stages: [{to: 21 °C, "
              "within: 2 h}]}",
              HOT_THEN_57 "0:10:20-1:50:00 p1 56.9 21.0\n1:50:10 p1 20.999\n",
              CLOCK
              "1:50:10 limit-met reached stage 1 p1 20.999 since 0:10:00 found 1:40:10\n");
}

/* 70 °F is 21.111 °C, 41 °F is 5 °C, 135 °F is 57.222 °C. */
static void
test_cool_fahrenheit_stages_are_exact(void **state)
{
    (void)state;
    rig_story(COOL_F,
              "0:00:00 begin dish p1\n0:00:10 p1 58.0\n0:00:20 p1 57.223\n0:00:30 p1 57.222\n"
              "0:00:40-1:00:00 p1 57.2 21.112\n1:00:10 p1 21.111\n1:00:20-3:00:00 p1 21.1 "
              "5.001\n3:00:10 p1 5.0\n",
              "0:00:30 clock-started fell-through-start p1 57.222 since 0:00:20\n"
              "1:00:10 limit-met reached stage 1 p1 21.111 since 0:00:20 found 0:59:50\n"
              "3:00:10 limit-met reached stage 2 p1 5.0 since 0:00:20 found 2:59:50\n");
}

static void
test_cool_later_stage_keeps_its_own_deadline(void **state)
{
    (void)state;
    rig_story(
        COOL,
        HOT_THEN_57
        "0:10:20-3:00:00 p1 56.9 21.0\n3:00:10-6:10:00 p1 21.0 5.0\n6:10:10 end stored\n",
        CLOCK
        "2:10:00 deviation-opened too-late #1 stage 1 p1 31.58 since 0:10:00 found 2:00:00\n"
        "3:00:00 deviation-ended reached #1 stage 1 p1 21.0 since 0:10:00 found 2:50:00\n"
        "6:10:00 limit-met reached stage 2 p1 5.0 since 0:10:00 found 6:00:00\n");
}

static void
test_cool_both_stages_missed_are_two_deviations(void **state)
{
    (void)state;
    rig_story(
        COOL, HOT_THEN_57 "0:10:20-6:20:00 p1 56.9 30.0\n6:20:05 end discarded\n",
        CLOCK
        "2:10:00 deviation-opened too-late #1 stage 1 p1 48.193 since 0:10:00 found 2:00:00\n"
        "6:10:00 deviation-opened too-late #2 of #1 stage 2 p1 30.728 since 0:10:00 found "
        "6:00:00\n"
        "6:20:05 deviation-ended batch-ended #2 of #1 silent stage 2 since 0:10:00 found "
        "6:10:05\n"
        "6:20:05 deviation-ended batch-ended #1 stage 1 since 0:10:00 found 6:10:05\n");
}

/* The probe goes dark: the deadline does not wait, and the silence is a deviation of its own.
 */
static void
test_cool_dark_until_the_deadline_is_a_deviation(void **state)
{
    (void)state;
    rig_story(
        COOL, HOT_THEN_57 "0:10:20-1:00:00 p1 56.9 40.0\n1:00:10-2:20:00 p1 bad\n",
        CLOCK
        "1:05:00 gap-opened no-good-reading #1 p1 since 1:00:00 found 0:05:00\n"
        "2:10:00 deviation-opened too-late #2 of #1 stage 1 since 0:10:00 found 2:00:00\n");
}

static void
test_cool_left_before_its_last_stage_is_left_early(void **state)
{
    (void)state;
    rig_story(
        COOL, HOT_THEN_57 "0:10:20-1:50:00 p1 56.9 21.0\n1:50:10 end stored\n",
        CLOCK
        "1:50:00 limit-met reached stage 1 p1 21.0 since 0:10:00 found 1:40:00\n"
        "1:50:10 deviation-opened left-early #1 stage 2 p1 21.0 since 0:10:00 found 1:40:10\n"
        "1:50:10 deviation-ended batch-ended #1\n");
    rig_story(COOL, HOT_THEN_57 "0:10:20 end discarded\n", CLOCK);
}

/* The first stage was late and that is over, perhaps acted on and closed; putting the food away
 * before it is cold is a failure of its own. While the first goes on, it says it all. */
static void
test_cool_left_early_after_a_late_stage_that_is_over_is_told(void **state)
{
    (void)state;
    rig_story(COOL,
              HOT_THEN_57
              "0:10:20-2:10:00 p1 56.9 30.0\n2:10:10-2:30:00 p1 30.0 21.0\n2:30:10-3:00:00 p1 "
              "21.0 15.0\n3:00:10 end stored\n",
              CLOCK
              "2:10:00 deviation-opened too-late #1 stage 1 p1 30.0 since 0:10:00 found "
              "2:00:00\n"
              "2:30:00 deviation-ended reached #1 stage 1 p1 21.0 since 0:10:00 found 2:20:00\n"
              "3:00:10 deviation-opened left-early #2 stage 2 p1 15.0 since 0:10:00 found "
              "2:50:10\n"
              "3:00:10 deviation-ended batch-ended #2\n");
    rig_story(COOL, HOT_THEN_57 "0:10:20-2:10:00 p1 56.9 30.0\n2:10:10 end stored\n",
              CLOCK
              "2:10:00 deviation-opened too-late #1 stage 1 p1 30.0 since 0:10:00 found "
              "2:00:00\n"
              "2:10:10 deviation-ended batch-ended #1 stage 1 since 0:10:00 found 2:00:10\n");
}

/* ---- the clock ---- */

static void
test_cool_probe_that_goes_in_cold_rises_first(void **state)
{
    (void)state;
    rig_story(COOL,
              "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 20.0 65.0\n0:01:10-0:05:00 p1 65.0 "
              "57.1\n0:05:10 p1 57.0\n",
              "0:00:10 inconclusive probe-late p1 20.0\n"
              "0:05:10 clock-started fell-through-start p1 57.0 since 0:05:00\n");
}

static void
test_cool_probe_late_is_inconclusive_once_and_waits_for_a_person(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 57.0 5.0\n");
    rig_expect(rig, "0:00:10 inconclusive probe-late p1 57.0\n");
    assert_true(rig_batch(rig).inconclusive);
    assert_int_equal(rig_batch(rig).inconclusive_reason, REASON_PROBE_LATE);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_INCONCLUSIVE);
    rig_play(rig, "9:00:00 end stored\n");
    rig_play(rig, "9:00:00 wait\n");
    rig_expect(rig, "1:05:00 gap-opened no-good-reading #1 p1 since 1:00:00 found 0:05:00\n"
                    "9:00:00 gap-ended entered #1 p1 since 1:00:00 found 8:00:00\n");
    struct engine_undecided_view waiting;
    assert_int_equal(engine_view_undecided(rig->engine, &waiting, 1), 1);
    rig_play(rig, "9:10:00 decide no\n");
    rig_expect(rig, "9:10:00 resolved entered no p1 57.0\n"
                    "9:10:00 deviation-opened probe-late #2 p1 57.0\n"
                    "9:10:00 deviation-ended batch-ended #2 p1 57.0\n");
    assert_int_equal(engine_view_undecided(rig->engine, &waiting, 1), 0);
    rig_free(rig);
}

static void
test_cool_probe_late_accepted_by_a_person_is_met(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:04:00 p1 5.0\n0:04:05 decide yes\n0:04:10 "
                  "p1 5.0\n");
    rig_expect(rig,
               "0:00:10 inconclusive probe-late p1 5.0\n0:04:05 resolved entered yes p1 5.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    assert_false(rig_batch(rig).inconclusive);
    rig_play(rig, "0:04:20 end stored\n");
    rig_expect(rig, "");
    rig_free(rig);
}

/* Not accepted while it cools: a deviation that goes on until the step is left. */
static void
test_cool_probe_late_rejected_by_a_person_is_a_deviation_of_the_step(void **state)
{
    (void)state;
    rig_story(COOL,
              "0:00:00 begin dish p1\n0:00:10-0:04:00 p1 40.0\n0:04:05 decide no\n0:04:10 p1 "
              "40.0\n0:04:20 end discarded\n",
              "0:00:10 inconclusive probe-late p1 40.0\n0:04:05 resolved entered no p1 40.0\n"
              "0:04:05 deviation-opened probe-late #1 p1 40.0\n"
              "0:04:20 deviation-ended batch-ended #1\n");
}

static void
test_cool_cooked_time_starts_the_clock_and_judges_what_has_passed(void **state)
{
    (void)state;
    /* 21 °C is first shown at 1:30:10; cooking ended at 0:00:05 or 23 minutes before it */
    rig_story(COOL,
              "0:10:00 begin dish p1\n0:10:10-1:30:10 p1 50.0 21.0\n1:30:20-2:30:00 p1 21.0 "
              "15.0\n2:30:05 cooked 0:00:05\n2:30:10 p1 15.0\n",
              "0:10:10 inconclusive probe-late p1 50.0\n"
              "2:30:05 clock-started cooked-at p1 15.0 since 0:00:05\n"
              "2:30:05 limit-met reached stage 1 21.0 since 0:00:05 found 1:30:05\n");
    rig_story(
        COOL,
        "0:10:00 begin dish p1\n0:10:10-2:10:10 p1 50.0 21.0\n2:10:20-2:30:00 p1 21.0 "
        "19.0\n2:30:05 cooked 0:05:00\n2:30:10 p1 19.0\n",
        "0:10:10 inconclusive probe-late p1 50.0\n"
        "2:30:05 clock-started cooked-at p1 19.0 since 0:05:00\n"
        "2:30:05 deviation-opened too-late #1 stage 1 p1 19.0 since 0:05:00 found 2:25:05\n"
        "2:30:10 deviation-ended reached #1 stage 1 p1 19.0 since 0:05:00 found 2:25:10\n");
}

/* What a probe showed before cooking ended was not this food. */
static void
test_cool_readings_before_the_end_of_cooking_prove_nothing(void **state)
{
    (void)state;
    rig_story(
        COOL, "0:00:00 begin dish p1\n0:00:10-3:00:00 p1 3.0\n3:00:05 cooked 0:30:00\n",
        "0:00:10 inconclusive probe-late p1 3.0\n"
        "3:00:05 clock-started cooked-at p1 3.0 since 0:30:00\n"
        "3:00:05 deviation-opened too-late #1 stage 1 p1 3.0 since 0:30:00 found 2:30:05\n");
}

static void
test_cool_cooked_time_is_refused_when_the_probe_saw_hot_food(void **state)
{
    (void)state;
    rig_story(COOL, HOT_THEN_57 "0:11:00 cooked 0:10:30\n",
              CLOCK "refused: the cooling of batch 1 has its clock already, from what its "
                    "probe saw or a time given "
                    "before; add a note if that is wrong\n");
}

static void
test_cool_cooked_time_is_refused_while_the_food_is_seen_hot(void **state)
{
    (void)state;
    rig_story(
        COOL,
        "0:00:00 begin dish p1\n0:00:10 p1 70.0\n0:00:15 cooked 0:00:00\n0:00:20 p1 70.0\n",
        "refused: a probe has seen batch 1 hot, so its cooling clock starts by itself when it "
        "falls through the start\n");
}

/* Seen hot, then dark: the food may have crossed right after the last good reading. */
static void
test_cool_dark_above_the_start_starts_the_clock_at_the_last_reading(void **state)
{
    (void)state;
    rig_story(
        COOL, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 80.0 70.0\n0:10:10-2:20:00 p1 bad\n",
        "0:15:00 gap-opened no-good-reading #1 p1 since 0:10:00 found 0:05:00\n"
        "0:15:00 clock-started no-good-reading since 0:10:00\n"
        "2:10:00 deviation-opened too-late #2 of #1 stage 1 since 0:10:00 found 2:00:00\n");
    /* back above the start: it had not */
    rig_story(COOL,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 80.0 70.0\n0:10:10-0:20:00 p1 "
              "bad\n0:20:10-0:40:00 p1 68.0 57.1\n0:40:10 p1 56.9\n",
              "0:15:00 gap-opened no-good-reading #1 p1 since 0:10:00 found 0:05:00\n"
              "0:15:00 clock-started no-good-reading since 0:10:00\n"
              "0:20:10 gap-ended good-again #1 p1 68.0 since 0:10:00 found 0:10:10\n"
              "0:40:10 clock-started fell-through-start p1 56.9 since 0:40:00\n");
}

static void
test_cool_rise_above_the_start_does_not_restart_the_clock(void **state)
{
    (void)state;
    rig_story(
        COOL,
        HOT_THEN_57
        "0:10:20 p1 57.2\n0:10:30 p1 56.9\n0:10:40-2:10:00 p1 56.9 22.0\n2:10:00 wait\n",
        CLOCK
        "2:10:00 deviation-opened too-late #1 stage 1 p1 22.0 since 0:10:00 found 2:00:00\n");
}

/* ---- several probes: the warmest governs ---- */

static void
test_cool_clock_and_stages_follow_the_warmest(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 59.0\n0:00:20 p1 56.0\n0:00:20 p2 58.0\n"
             "0:00:30 p1 55.0\n0:00:30 p2 57.0\n");
    rig_expect(rig, "0:00:30 clock-started fell-through-start p2 57.0 since 0:00:20\n");
    rig_play(rig, "0:00:40-1:00:00 p1,p2 55.0 22.0\n1:00:10 p1 20.0\n1:00:10 p2 21.5\n1:00:20 "
                  "p1 20.0\n1:00:20 p2 21.0\n1:00:30 p2 bad\n");
    rig_expect(rig, "1:00:20 limit-met reached stage 1 p2 21.0 since 0:00:20 found 1:00:00\n");
    /* the second goes dark: it could be warmer, nothing is met */
    rig_play(rig, "1:00:30-3:00:00 p1 20.0 4.0\n");
    rig_expect(rig, "1:05:20 gap-opened no-good-reading #1 p2 since 1:00:20 found 0:05:00\n");
    rig_free(rig);
}

static void
test_cool_view_shows_clock_stage_and_deadline(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, HOT_THEN_57);
    assert_int_equal(rig_batch(rig).clock_start_ms, rig_time("0:10:00"));
    assert_int_equal(rig_batch(rig).stage, 1);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("2:10:00"));
    rig_play(rig, "0:10:20-1:50:00 p1 56.9 21.0\n");
    assert_int_equal(rig_batch(rig).stage, 2);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("6:10:00"));
    rig_play(rig, "1:50:10-5:00:00 p1 21.0 5.0\n");
    assert_int_equal(rig_batch(rig).stage, 3);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    assert_int_equal(rig_batch(rig).deadline_ms, TIME_NONE);
    rig_free(rig);
}

static void
test_cool_view_shows_the_deviation_that_goes_on(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, HOT_THEN_57 "0:10:20-6:11:00 p1 56.9 22.0\n");
    assert_int_equal(rig_batch(rig).deviation, 2);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_play(rig, "6:11:10 p1 21.0\n");
    assert_int_equal(rig_batch(rig).deviation, 2); /* of the second stage */
    rig_play(rig, "6:11:20-6:30:00 p1 21.0 5.0\n");
    assert_int_equal(rig_batch(rig).deviation, 0);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET); /* late is late */
    rig_free(rig);
}

static void
test_cool_seen_hot_answers_the_question(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 20.0\n");
    assert_true(rig_batch(rig).inconclusive);
    rig_play(rig, "0:00:20 p1 60.0\n");
    assert_false(rig_batch(rig).inconclusive);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    rig_free(rig);
}

/* The end of cooking, to the millisecond around what the probe showed at 2:10:10 (21 °C) and
 * its deadline. */
static void
test_cool_cooked_time_is_exact(void **state)
{
    (void)state;
    static const struct {
        const char *cooked, *found;
        bool met;
    } cases[] = {
        {"0:10:10", "2:00:00", true}, /* exactly in time */
        {"0:10:09.999", "", false},   /* a millisecond late */
        {"2:10:10", "", true},        /* shown at the very instant cooking ended */
        {"2:10:10.001", "", false},   /* shown before it: proves nothing yet */
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_new(COOL, NULL);
        char script[100];
        rig_play(rig, "0:20:00 begin dish p1\n0:20:10-2:10:10 p1 50.0 21.0\n");
        snprintf(script, sizeof script, "2:10:15 cooked %s\n", cases[i].cooked);
        rig_play(rig, script);
        rig->log[rig->log_len] = '\0';
        assert_int_equal(strstr(rig->log, "limit-met reached stage 1") != NULL, cases[i].met);
        if (cases[i].found[0])
            assert_non_null(strstr(rig->log, cases[i].found));
        rig_free(rig);
    }
}

/* A stage whose deadline is the very instant at which the time is given can still be met at it.
 */
static void
test_cool_cooked_time_given_exactly_at_a_deadline(void **state)
{
    (void)state;
    rig_story(COOL,
              "0:20:00 begin dish p1\n0:20:10-2:10:00 p1 50.0 22.0\n2:10:10 cooked "
              "0:10:10\n2:10:10 p1 21.0\n",
              "0:20:10 inconclusive probe-late p1 50.0\n"
              "2:10:10 clock-started cooked-at p1 22.0 since 0:10:10\n"
              "2:10:10 limit-met reached stage 1 p1 21.0 since 0:10:10 found 2:00:00\n");
}

/* Dark, then back below the start: the clock stands, whatever it shows later. */
static void
test_cool_dark_clock_stands_once_the_food_is_seen_below(void **state)
{
    (void)state;
    rig_story(
        COOL,
        "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 80.0 70.0\n0:20:00 p1 56.9\n0:20:10 p1 "
        "57.1\n0:20:20-2:10:00 p1 56.9 30.0\n2:10:00 wait\n",
        "0:15:00 gap-opened no-good-reading #1 p1 since 0:10:00 found 0:05:00\n"
        "0:15:00 clock-started no-good-reading since 0:10:00\n"
        "0:20:00 gap-ended good-again #1 p1 56.9 since 0:10:00 found 0:10:00\n"
        "2:10:00 deviation-opened too-late #2 stage 1 p1 30.0 since 0:10:00 found 2:00:00\n");
}

/* One probe above the start goes dark, the other is below it: the dark one decides, and its
 * clock does not wait. */
static void
test_cool_dark_probe_above_the_start_starts_the_clock_for_all(void **state)
{
    (void)state;
    rig_story(COOL,
              "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 58.0\n0:00:20 p1 58.0\n0:00:20-0:06:00 "
              "p2 56.0\n",
              "0:05:20 gap-opened no-good-reading #1 p1 since 0:00:20 found 0:05:00\n"
              "0:05:20 clock-started no-good-reading p2 56.0 since 0:00:20\n");
}

/* The other way round: one seen above the start goes on being seen there, so the food has not
 * crossed it. */
static void
test_cool_dark_probe_below_the_start_starts_no_clock(void **state)
{
    (void)state;
    rig_story(COOL,
              "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 58.0\n0:00:20 p2 56.0\n0:00:20-0:06:00 "
              "p1 58.0\n",
              "0:05:20 gap-opened no-good-reading #1 p2 since 0:00:20 found 0:05:00\n");
}

static void
test_cool_cooked_time_is_taken_once(void **state)
{
    (void)state;
    const char *again = "refused: the cooling of batch 1 has its clock already, from what its "
                        "probe saw or a time given "
                        "before; add a note if that is wrong\n";
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:20:00 begin dish p1\n0:20:10 p1 50.0\n0:20:15 cooked 0:10:00\n");
    rig_expect(rig, "0:20:10 inconclusive probe-late p1 50.0\n0:20:15 clock-started cooked-at "
                    "p1 50.0 since 0:10:00\n");
    rig_play(rig, "0:20:16 cooked 0:19:00\n");
    rig_expect(rig, again);
    rig_free(rig);
    rig = rig_new(COOL, NULL);
    rig_play(
        rig,
        "0:20:00 begin dish p1\n0:20:10 p1 5.0\n0:20:15 decide yes\n0:20:16 cooked 0:19:00\n");
    rig_expect(rig,
               "0:20:10 inconclusive probe-late p1 5.0\n0:20:15 resolved entered yes p1 5.0\n"
               "refused: the cooling of batch 1 has its clock already, from what its probe saw "
               "or a time given "
               "before; add a note if that is wrong\n");
    rig_free(rig);
}

static void
test_cool_hand_reading_does_not_outvote_a_warmer_probe(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 58.0\n0:00:20-1:00:00 p1,p2 56.0 25.0\n"
             "1:00:10 p1 22.0\n1:00:20 p1 20.5\n");
    /* the second probe was at 25 °C no longer than 30 s ago */
    rig_play(rig, "1:00:25 hand 20.0\n1:00:30 hand 20.0\n");
    rig_expect(rig, "0:00:20 clock-started fell-through-start p1 56.0 since 0:00:10\n");
    /* nothing fresh speaks against it any more */
    rig_play(rig, "1:00:30.001 hand 21.0\n");
    rig_expect(
        rig,
        "1:00:30.001 limit-met hand-reading stage 1 21.0 since 0:00:10 found 1:00:20.001\n");
    rig_free(rig);
}

/* Shown cold, then warm again, before anybody says when cooking ended: it is cold from the
 * second time on. */
static void
test_cool_temperature_that_rose_again_is_reached_anew(void **state)
{
    (void)state;
    rig_story(COOL,
              "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 20.0\n0:01:10-0:20:00 p1 20.0 30.0\n"
              "0:20:10-0:40:00 p1 30.0 21.0\n0:40:05 cooked 0:00:05\n",
              "0:00:10 inconclusive probe-late p1 20.0\n"
              "0:40:05 clock-started cooked-at p1 21.0 since 0:00:05\n"
              "0:40:05 limit-met reached stage 1 21.0 since 0:00:05 found 0:39:55\n");
}

/* Late is late, whatever is asked about a later stage. */
static void
test_cool_question_after_a_deviation_makes_it_no_better(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, HOT_THEN_57 "0:10:20-2:20:00 p1 56.9 21.5\n2:20:10-2:30:00 p1 21.0\n");
    rig->log_len = 0;
    rig_play(rig, "7:00:00 restart 2:30:00\n");
    assert_true(rig_batch(rig).inconclusive);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

/* E239: nobody knows when it began, but that it is not cold is measured. 5 °C: 3-501.14(A)(2).
 */
static void
test_cool_without_a_clock_is_accepted_only_when_it_is_cold(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 40.0 5.001\n1:00:05 decide yes\n");
    rig_reload(rig);
    rig_play(rig, "1:00:10 p1 5.0\n1:00:15 decide yes\n1:00:20 p1 5.0\n");
    rig_expect(rig,
               "0:00:10 inconclusive probe-late p1 40.0\n"
               "refused: batch 1 does not show 5.0 °C yet; accept its cooling when it does, "
               "or say when cooking ended\n"
               "1:00:15 resolved entered yes p1 40.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
}

/* Left at 5.001 °C, or after it was warmer again, it is left early, and nobody is asked any
 * more. */
static void
test_cool_without_a_clock_that_is_left_warm_is_left_early(void **state)
{
    (void)state;
    static const char *const shown[] = {
        "0:00:10-1:00:00 p1 40.0 5.001\n",
        "0:00:10-1:00:00 p1 40.0 4.0\n1:00:10-1:00:20 p1 6.0\n"};
    for (size_t i = 0; i < COUNT_OF(shown); i++) {
        struct engine_undecided_view waiting;
        struct rig *rig = rig_new(COOL, NULL);
        rig_play(rig, "0:00:00 begin dish p1\n");
        rig_play(rig, shown[i]);
        rig_play(rig, "1:00:30 end stored\n");
        rig->log[rig->log_len] = '\0';
        assert_non_null(strstr(rig->log, "1:00:30 deviation-opened left-early #1 stage 1"));
        assert_int_equal(engine_view_undecided(rig->engine, &waiting, 1), 0);
        rig_free(rig);
    }
    rig_story(COOL,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 40.0 5.001\n1:00:05 end discarded\n",
              "0:00:10 inconclusive probe-late p1 40.0\n");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cool_dark_probe_below_the_start_starts_no_clock),
        cmocka_unit_test(test_cool_cooked_time_is_taken_once),
        cmocka_unit_test(test_cool_met_in_both_stages),
        cmocka_unit_test(test_cool_stage_met_exactly_at_its_deadline_is_in_time),
        cmocka_unit_test(test_cool_one_millisecond_late_is_a_deviation),
        cmocka_unit_test(test_cool_just_above_the_stage_at_the_deadline_is_a_deviation),
        cmocka_unit_test(test_cool_strict_stage_is_not_met_exactly_at_it),
        cmocka_unit_test(test_cool_fahrenheit_stages_are_exact),
        cmocka_unit_test(test_cool_later_stage_keeps_its_own_deadline),
        cmocka_unit_test(test_cool_both_stages_missed_are_two_deviations),
        cmocka_unit_test(test_cool_dark_until_the_deadline_is_a_deviation),
        cmocka_unit_test(test_cool_left_early_after_a_late_stage_that_is_over_is_told),
        cmocka_unit_test(test_cool_left_before_its_last_stage_is_left_early),
        cmocka_unit_test(test_cool_probe_that_goes_in_cold_rises_first),
        cmocka_unit_test(test_cool_probe_late_is_inconclusive_once_and_waits_for_a_person),
        cmocka_unit_test(test_cool_probe_late_accepted_by_a_person_is_met),
        cmocka_unit_test(test_cool_probe_late_rejected_by_a_person_is_a_deviation_of_the_step),
        cmocka_unit_test(test_cool_cooked_time_starts_the_clock_and_judges_what_has_passed),
        cmocka_unit_test(test_cool_readings_before_the_end_of_cooking_prove_nothing),
        cmocka_unit_test(test_cool_cooked_time_is_refused_when_the_probe_saw_hot_food),
        cmocka_unit_test(test_cool_cooked_time_is_refused_while_the_food_is_seen_hot),
        cmocka_unit_test(test_cool_dark_above_the_start_starts_the_clock_at_the_last_reading),
        cmocka_unit_test(test_cool_rise_above_the_start_does_not_restart_the_clock),
        cmocka_unit_test(test_cool_clock_and_stages_follow_the_warmest),
        cmocka_unit_test(test_cool_view_shows_clock_stage_and_deadline),
        cmocka_unit_test(test_cool_view_shows_the_deviation_that_goes_on),
        cmocka_unit_test(test_cool_seen_hot_answers_the_question),
        cmocka_unit_test(test_cool_cooked_time_is_exact),
        cmocka_unit_test(test_cool_cooked_time_given_exactly_at_a_deadline),
        cmocka_unit_test(test_cool_dark_clock_stands_once_the_food_is_seen_below),
        cmocka_unit_test(test_cool_dark_probe_above_the_start_starts_the_clock_for_all),
        cmocka_unit_test(test_cool_hand_reading_does_not_outvote_a_warmer_probe),
        cmocka_unit_test(test_cool_temperature_that_rose_again_is_reached_anew),
        cmocka_unit_test(test_cool_question_after_a_deviation_makes_it_no_better),
        cmocka_unit_test(test_cool_without_a_clock_is_accepted_only_when_it_is_cold),
        cmocka_unit_test(test_cool_without_a_clock_that_is_left_warm_is_left_early),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
