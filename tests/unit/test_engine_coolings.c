/* Coolings in several stages that people, the dark and an outage get in the way of:
 * docs/engine.md E31 to E39, E64, E73, E90, E91, E179. FDA Food Code 2022, 3-501.14(A): from 57
 * °C (135 °F) to 21 °C (70 °F) within 2 h, and to 5 °C (41 °F) within 6 h in all. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define COOL                                                                                   \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, {to: 5 " \
    "°C, within: 6 h}]}"
#define OWN_CLOCKS                                                                             \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, {to: 5 " \
    "°C, within: 4 h, counts_from: stage_before}]}"
#define BY_ITSELF                                                                              \
    "{kind: cook, applies_to: food, at_least: 74 °C}}\n"                                      \
    "      - {id: cool, name: Cool, begins: by_itself, begins_on: [p1], limit:\n"              \
    "          {kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 "  \
    "h}, {to: 5 °C, within: 6 h}]}"

/* ---- the clock ---- */

static void
test_cooling_left_before_its_clock_ran_has_taken_no_time(void **state)
{
    (void)state;
    rig_story(COOL, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 70.0\n0:10:05 move\n",
              "0:10:05 deviation-opened left-early #1 stage 1 p1 70.0\n"
              "0:10:05 deviation-ended batch-ended #1\n");
}

/* E36: all that was shown since cooking ended counts at once, at that very instant too. */
static void
test_end_of_cooking_said_later_meets_all_stages_that_were_shown_since(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:10:00-0:20:00 p1 4.0\n0:20:05 cooked 0:10:00\n");
    rig_expect(rig, "0:05:00 gap-opened no-good-reading #1 p1 since 0:00:00 found 0:05:00\n"
                    "0:10:00 gap-ended good-again #1 p1 4.0 since 0:00:00 found 0:10:00\n"
                    "0:10:00 inconclusive probe-late p1 4.0\n"
                    "0:20:05 clock-started cooked-at p1 4.0 since 0:10:00\n"
                    "0:20:05 limit-met reached stage 1 4.0 since 0:10:00\n"
                    "0:20:05 limit-met reached stage 2 4.0 since 0:10:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    assert_false(rig_batch(rig).inconclusive);
    rig_free(rig);
    /* What was shown before it ended was not this food. */
    rig = rig_new(COOL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:10-0:20:00 p1 4.0\n0:20:05 cooked 0:00:10.001\n");
    rig_expect(rig, "0:00:10 inconclusive probe-late p1 4.0\n"
                    "0:20:05 clock-started cooked-at p1 4.0 since 0:00:10.001\n");
    rig_play(rig, "0:20:10 p1 4.0\n");
    rig_expect(rig, "0:20:10 limit-met reached stage 1 p1 4.0 since 0:00:10.001 found "
                    "0:19:59.999\n"
                    "0:20:10 limit-met reached stage 2 p1 4.0 since 0:00:10.001 found "
                    "0:19:59.999\n");
    rig_free(rig);
}

static void
test_end_of_cooking_said_later_is_late_for_every_stage_whose_time_is_over(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-6:30:00 p1 30.0\n6:30:05 cooked 0:00:00\n");
    rig_expect(rig, "0:00:10 inconclusive probe-late p1 30.0\n"
                    "6:30:05 clock-started cooked-at p1 30.0 since 0:00:00\n"
                    "6:30:05 deviation-opened too-late #1 stage 1 p1 30.0 since 0:00:00 found "
                    "6:30:05\n"
                    "6:30:05 deviation-opened too-late #2 of #1 silent stage 2 p1 30.0 since "
                    "0:00:00 found 6:30:05\n");
    assert_int_equal(rig_batch(rig).deviation, 2);
    /* Each ends when its own temperature is reached. */
    rig_play(rig, "6:30:10-7:30:00 p1 29.9 20.0\n");
    assert_int_equal(rig_batch(rig).deviation, 2);
    rig_play(rig, "7:30:10-9:00:00 p1 19.9 5.0\n");
    assert_int_equal(rig_batch(rig).deviation, 0);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

static void
test_end_of_a_late_stage_says_what_was_required_of_it(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:20-2:10:00 p1 57.0 22.0\n"
                  "2:10:10-2:20:00 p1 21.9 21.0\n");
    const struct decision *said = &rig->out.decisions[0];
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(said->kind, DECISION_DEVIATION_ENDED);
    assert_int_equal(said->stage, 1);
    assert_int_equal(said->required.milli, 21000);
    assert_int_equal(said->required_ms, 2 * 3600000);
    assert_int_equal(said->since_ms, rig_time("0:00:10"));
    assert_int_equal(said->found_ms, rig_time("2:20:00") - rig_time("0:00:10"));
    rig_free(rig);
}

/* ---- in the dark ---- */

/* E33: the probe went dark in hot food, and two deadlines passed; then it is back, and the food
 * is hot. Of all that nothing was. */
static void
test_clock_of_the_dark_is_taken_back_with_all_that_it_made_late(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 70.0\n6:10:00 wait\n6:10:10 p1 "
                  "69.0\n");
    rig_expect(rig,
               "0:06:00 gap-opened no-good-reading #1 p1 since 0:01:00 found 0:05:00\n"
               "0:06:00 clock-started no-good-reading since 0:01:00\n"
               "2:01:00 deviation-opened too-late #2 of #1 stage 1 since 0:01:00 found "
               "2:00:00\n"
               "6:01:00 deviation-opened too-late #3 of #1 stage 2 since 0:01:00 found "
               "6:00:00\n"
               "6:10:10 gap-ended good-again #1 silent p1 69.0 since 0:01:00 found 6:09:10\n"
               "6:10:10 deviation-ended good-again #2 of #1 silent stage 1\n"
               "6:10:10 deviation-ended good-again #3 of #1 stage 2\n");
    struct engine_batch_view batch = rig_batch(rig);
    assert_int_equal(batch.clock_start_ms, TIME_NONE);
    assert_int_equal(batch.deviation, 0);
    assert_int_equal(batch.stage, 1);
    /* It falls through later, and all its stages are open. */
    rig_play(rig,
             "6:10:20-6:20:00 p1 69.0 57.5\n6:20:10-8:00:00 p1 57.0 21.0\n8:00:10-12:00:00 p1 "
             "20.9 5.0\n");
    rig_expect(rig, "6:20:10 clock-started fell-through-start p1 57.0 since 6:20:00\n"
                    "8:00:00 limit-met reached stage 1 p1 21.0 since 6:20:00 found 1:40:00\n"
                    "12:00:00 limit-met reached stage 2 p1 5.0 since 6:20:00 found 5:40:00\n");
    rig_free(rig);
}

/* E91: exactly the spacing (30 s) later it has just been passed; a little more, and nobody saw
 * when: it counts as passed when the food was last seen. */
static void
test_second_clock_counts_from_when_the_stage_before_was_last_seen_unreached(void **state)
{
    (void)state;
    static const struct {
        const char *seen, *deadline;
    } cases[] = {{"1:00:30", "5:00:30"}, {"1:00:30.001", "5:00:00"}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_new(OWN_CLOCKS, NULL);
        char line[60];
        rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:20-1:00:00 p1 57.0 22.0\n");
        (void)snprintf(line, sizeof line, "%s p1 21.0\n", cases[i].seen);
        rig_play(rig, line);
        assert_int_equal(rig_batch(rig).stage, 2);
        assert_int_equal(rig_batch(rig).deadline_ms, rig_time(cases[i].deadline));
        rig_free(rig);
    }
}

/* ---- outages and questions ---- */

/* E64: the first deadline fell into the outage. Both temperatures are shown after it, and still
 * a person has to say. */
static void
test_cooling_with_a_stage_that_nobody_saw_is_not_met_by_the_last(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:20-1:00:00 p1 57.0 30.0\n3:00:00 "
             "restart 1:00:00\n3:00:10-3:10:00 p1 20.0\n3:10:10-5:00:00 p1 20.0 5.0\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "limit-met reached stage 2"));
    assert_int_equal(rig_batch(rig).verdict, VERDICT_INCONCLUSIVE);
    rig_play(rig, "5:00:05 decide yes\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
}

/* E73: there is no room for the question, so it is a deviation; seen hot, it was none. */
static void
test_probe_put_in_late_beyond_the_list_of_questions_is_answered_by_hot_food(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    char line[160];
    for (int i = 1; i <= 128; i++) {
        (void)snprintf(line, sizeof line,
                       "0:00:00 begin dish\n0:00:00 hand 4.0 batch=%d\n0:00:00 end stored "
                       "batch=%d\n",
                       i, i);
        rig_play(rig, line);
    }
    rig->log_len = 0;
    rig_play(rig, "0:00:10 begin dish p1\n0:00:20 p1 40.0\n");
    rig_expect(rig, "0:00:20 deviation-opened probe-late #1 batch 129 p1 40.0\n");
    assert_int_equal(rig_batch(rig).deviation, 1);
    rig_play(rig, "0:01:00-0:02:00 p1 80.0\n");
    rig_expect(rig, "0:01:00 deviation-ended good-again #1 batch 129\n");
    assert_int_equal(rig_batch(rig).deviation, 0);
    rig_play(rig, "0:02:10 end served batch=129\n");
    rig_expect(rig, "0:02:10 deviation-opened left-early #2 batch 129 stage 1 p1 80.0\n"
                    "0:02:10 deviation-ended batch-ended #2 batch 129\n");
    rig_free(rig);
}

/* A person decided about the whole of a cooling whose clock nobody knows. */
static void
test_decision_about_the_whole_cooling_settles_every_stage(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 5.0\n0:01:05 decide yes\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_play(rig, "0:01:10-7:00:00 p1 5.0\n7:00:05 move\n");
    rig_expect(rig, "0:00:10 inconclusive probe-late p1 5.0\n"
                    "0:01:05 resolved entered yes p1 5.0\n");
    rig_free(rig);
    rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 40.0\n0:01:05 decide no\n");
    assert_int_equal(rig_batch(rig).deviation, 1);
    rig_play(rig, "0:01:10-7:00:00 p1 40.0\n7:00:05 move\n");
    rig_expect(rig, "0:00:10 inconclusive probe-late p1 40.0\n"
                    "0:01:05 resolved entered no p1 40.0\n"
                    "0:01:05 deviation-opened probe-late #1 p1 40.0\n"
                    "7:00:05 deviation-ended batch-ended #1\n");
    rig_free(rig);
}

/* ---- several probes ---- */

/* E31, E33: of three the one that was hot and went dark longest ago says when. */
static void
test_clock_of_the_dark_starts_by_the_probe_that_has_been_dark_longest(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2 p3\n0:00:10-0:01:00 p1,p2,p3 70.0\n0:01:10-0:02:00 "
                  "p1,p3 70.0\n0:02:10-0:07:00 p1 70.0\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:06:00 clock-started no-good-reading"));
    rig_free(rig);
    rig = rig_new(COOL, NULL); /* the last of them */
    rig_play(rig, "0:00:00 begin dish p1 p2 p3\n0:00:10-0:01:00 p1,p2,p3 70.0\n0:01:10-0:02:00 "
                  "p1,p2 70.0\n0:02:10-0:07:00 p1 70.0\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:06:00 clock-started no-good-reading"));
    rig_free(rig);
    /* Dark, but last seen below the start: it says nothing. */
    rig = rig_new(COOL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1 p2\n0:00:10-0:00:30 p1,p2 70.0\n0:00:40-0:02:00 p2 69.0 "
             "56.0\n0:02:10-0:09:00 p1 70.0\n");
    rig_expect(rig, "0:07:00 gap-opened no-good-reading #1 p2 since 0:02:00 found 0:05:00\n");
    rig_free(rig);
}

/* E9: the warmest governs, and one that is not seen could be warmer. */
static void
test_stage_is_met_only_when_every_probe_has_shown_it(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 60.0\n0:01:10-1:00:00 p1,p2 "
                  "57.0 21.5\n1:00:10-1:01:00 p1 21.0\n");
    rig->log_len = 0;
    rig_play(rig, "1:01:10 p2 21.2\n"); /* fresh, and too warm */
    rig_expect(rig, "");
    rig_play(rig, "1:01:20 p2 21.0\n");
    rig_expect(rig, "1:01:20 limit-met reached stage 1 p1 21.0 since 0:01:00 found 1:00:20\n");
    rig_free(rig);
}

/* ---- a clock that a person corrects (E179) ---- */

/* Record 3 is the batch, 4 its automatic step; the clock counts from 1:00:00. */
static struct rig *
cooling(const char *then)
{
    struct rig *rig = rig_new(BY_ITSELF, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n0:06:00-0:30:00 p1 76.0 "
             "80.0\n0:30:10-1:00:00 p1 79.9 57.2\n1:00:10-1:10:00 p1 56.9 55.0\n");
    rig_play(rig, then);
    rig->log_len = 0;
    return rig;
}

/* What counts is when it was first shown, however long it has been shown since. */
static void
test_corrected_clock_judges_by_the_first_reading_that_showed_the_temperature(void **state)
{
    (void)state;
    struct rig *rig = cooling("1:10:10-2:00:00 p1 54.9 21.0\n2:00:10-2:40:00 p1 20.9\n");
    rig_play(rig, "2:40:05 correct 4 at 0:10:00\n"); /* to be shown by 2:10:00 */
    rig_expect(rig, "2:40:05 step-corrected entered since 0:10:00\n");
    rig_play(rig, "2:40:06 correct 4 at 0:00:00\n"); /* at 2:00:00 exactly */
    rig_expect(rig, "2:40:06 step-corrected entered since 0:00:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    rig_free(rig);
}

static void
test_same_clock_said_again_favours_nothing(void **state)
{
    (void)state;
    struct rig *rig = cooling("");
    rig_play(rig, "1:10:05 correct 4 at 1:00:00\n");
    rig_expect(rig, "1:10:05 step-corrected entered since 1:00:00\n");
    rig_play(rig, "1:10:06 correct 4 at 1:00:00.001\n");
    rig_expect(rig, "1:10:06 correction-waits entered since 1:00:00.001\n");
    rig_free(rig);
}

/* The first stage is met, the second is not: a later clock could still be in the food's favour.
 */
static void
test_later_clock_waits_until_all_stages_are_met(void **state)
{
    (void)state;
    struct rig *rig = cooling("1:10:10-2:00:00 p1 54.9 21.0\n2:00:10-2:10:00 p1 20.9\n");
    rig_play(rig, "2:10:05 correct 4 at 1:05:00\n");
    rig_expect(rig, "2:10:05 correction-waits entered since 1:05:00\n");
    rig_play(rig, "2:10:06 confirm no SB\n2:10:10-5:00:00 p1 20.9 5.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig->log_len = 0;
    rig_play(rig, "5:00:05 correct 4 at 1:05:00\n");
    rig_expect(rig, "5:00:05 step-corrected entered since 1:05:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
}

/* Late by the clock as it was, and neither late nor over by the right one. */
static void
test_deviation_of_a_stage_that_is_open_again_is_withdrawn(void **state)
{
    (void)state;
    struct rig *rig = cooling("1:10:10-3:00:10 p1 54.9 23.0\n");
    rig_play(rig, "3:00:15 correct 4 at 1:10:00\n3:00:16 confirm yes SB\n");
    rig->log_len = 0;
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    assert_int_equal(rig_batch(rig).deviation, 0);
    assert_int_equal(rig_batch(rig).stage, 1);
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("3:10:00"));
    rig_play(rig, "3:00:20-3:10:20 p1 23.0\n");
    rig_expect(rig, "3:10:00 deviation-opened too-late #2 stage 1 p1 23.0 since 1:10:00 found "
                    "2:00:00\n");
    rig_free(rig);
}

static void
test_earlier_clock_makes_late_what_is_late_by_it_and_nothing_else(void **state)
{
    (void)state;
    /* Both stages met, the second 2 min before its time was over. */
    struct rig *rig = cooling("1:10:10-2:00:00 p1 54.9 21.0\n2:00:10-6:58:00 p1 20.9 5.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_play(rig, "6:58:05 correct 4 at 0:58:00\n");
    rig_expect(rig, "6:58:05 step-corrected entered since 0:58:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_play(rig, "6:58:06 correct 4 at 0:57:59\n");
    rig_expect(rig, "6:58:06 step-corrected entered since 0:57:59\n"
                    "6:58:06 deviation-opened too-late #1 stage 2 p1 5.0 since 0:57:59 found "
                    "6:00:07\n"
                    "6:58:06 deviation-ended reached #1 stage 2 since 0:57:59 found 6:00:07\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    assert_int_equal(rig_batch(rig).deviation, 0);
    rig_free(rig);
    /* The first late, the second open: the verdict stands. */
    rig = cooling("1:10:10-2:50:00 p1 54.9 21.0\n2:50:05 correct 4 at 0:49:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_play(rig, "2:50:10-6:00:00 p1 20.9 5.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

static void
test_stage_that_is_late_by_an_earlier_clock_and_still_warm_goes_on(void **state)
{
    (void)state;
    struct rig *rig = cooling("1:10:10-2:50:00 p1 54.9 30.0\n");
    rig_play(rig, "2:50:05 correct 4 at 0:40:00\n");
    rig_expect(rig, "2:50:05 step-corrected entered since 0:40:00\n"
                    "2:50:05 deviation-opened too-late #1 stage 1 p1 30.0 since 0:40:00 found "
                    "2:10:05\n");
    assert_int_equal(rig_batch(rig).deviation, 1);
    rig_free(rig);
}

/* What was shown before cooking ended was not this food, for the second clock neither. */
static void
test_second_clock_counts_nothing_from_before_the_end_of_cooking(void **state)
{
    (void)state;
    struct rig *rig = rig_new(OWN_CLOCKS, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:20:00 p1 20.0\n0:20:05 cooked "
                  "0:10:00.001\n0:20:10 p1 20.0\n");
    assert_int_equal(rig_batch(rig).stage, 2);
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("4:20:10"));
    rig_free(rig);
}

/* Its new deadline is this very instant, and the reading of this instant is in time. */
static void
test_stage_whose_corrected_deadline_is_now_is_not_late_yet(void **state)
{
    (void)state;
    struct rig *rig = cooling("1:10:10-2:49:50 p1 54.9 22.0\n");
    rig_play(rig, "2:50:00 correct 4 at 0:50:00\n2:50:00 p1 21.0\n");
    rig_expect(rig, "2:50:00 step-corrected entered since 0:50:00\n"
                    "2:50:00 limit-met reached stage 1 p1 21.0 since 0:50:00 found 2:00:00\n");
    rig_free(rig);
}

/* Hot food began it, and it has not fallen through its start: a person says since when it
 * cools. */
static void
test_clock_that_does_not_run_yet_starts_where_a_person_says(void **state)
{
    (void)state;
    struct rig *rig = rig_new(BY_ITSELF, NULL);
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n0:05:10-0:07:00 p1 65.0\n0:07:05 correct 3 at "
                  "0:06:00\n");
    rig_expect(rig, "0:06:10.001 step-begun by-itself p1 65.0\n"
                    "0:07:05 step-corrected entered since 0:06:00\n"
                    "0:07:05 clock-started corrected p1 65.0 since 0:06:00\n");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("2:06:00"));
    rig_free(rig);
}

/* A cold spot found by hand, and nobody knows since when it cools: no stage is met by it. */
static void
test_cold_hand_reading_without_a_clock_meets_nothing(void **state)
{
    (void)state;
    rig_story(COOL, "0:00:00 begin dish\n0:10:00 hand 4.0\n0:20:00 hand 3.0\n",
              "0:10:00 inconclusive probe-late 4.0\n");
}

/* The end of cooking that a person gives starts a clock whose deadlines come by themselves. */
static void
test_end_of_cooking_said_of_food_that_nobody_measures_is_late_in_time(void **state)
{
    (void)state;
    rig_story("{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}]}",
              "0:30:00 begin dish\n0:30:10 cooked 0:10:00\n2:10:01 wait\n",
              "0:30:10 clock-started cooked-at since 0:10:00\n"
              "2:10:00 deviation-opened too-late #1 stage 1 since 0:10:00 found 2:00:00\n");
}

/* ---- what mutants have shown to be missing ---- */

/* E36: as many stages as a plan can have, all shown before anybody said since when it cools. */
static void
test_end_of_cooking_said_later_meets_the_last_of_four_stages(void **state)
{
    (void)state;
    rig_story("{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 40 °C, within: 1 h}, "
              "{to: 30 °C, within: 2 h}, {to: 20 °C, within: 3 h}, {to: 5 °C, within: 4 h}]}",
              "0:00:00 begin dish p1\n0:00:10-0:00:30 p1 4.0\n0:00:35 cooked 0:00:05\n",
              "0:00:10 inconclusive probe-late p1 4.0\n"
              "0:00:35 clock-started cooked-at p1 4.0 since 0:00:05\n"
              "0:00:35 limit-met reached stage 1 4.0 since 0:00:05 found 0:00:05\n"
              "0:00:35 limit-met reached stage 2 4.0 since 0:00:05 found 0:00:05\n"
              "0:00:35 limit-met reached stage 3 4.0 since 0:00:05 found 0:00:05\n"
              "0:00:35 limit-met reached stage 4 4.0 since 0:00:05 found 0:00:05\n");
}

/* E36, E90: the time of the stage after counts from when this one was shown, not from when the
 * end of cooking was said. */
static void
test_second_clock_counts_from_what_was_shown_before_the_end_of_cooking_was_said(void **state)
{
    (void)state;
    struct rig *rig = rig_new(OWN_CLOCKS, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 22.0\n0:10:10-0:20:00 p1 "
                  "20.0\n0:20:05 cooked 0:05:00\n");
    assert_int_equal(rig_batch(rig).stage, 2);
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("4:10:10"));
    rig_play(rig, "0:20:10-0:21:00 p1 20.0\n");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("4:10:10"));
    rig_free(rig);
}

/* E36, E50: a hand reading shows it before the end of cooking is said, as a probe does. */
static void
test_end_of_cooking_said_later_meets_what_a_hand_reading_has_shown(void **state)
{
    (void)state;
    rig_story(COOL, "0:00:00 begin dish\n0:10:00 hand 20.0\n0:10:30 cooked 0:05:00\n",
              "0:10:00 inconclusive probe-late 20.0\n"
              "0:10:30 clock-started cooked-at since 0:05:00\n"
              "0:10:30 limit-met reached stage 1 20.0 since 0:05:00 found 0:05:00\n");
}

/* E37: a record of the end of cooking that comes although the food was seen hot, as no entry
 * could, changes nothing. */
static void
test_end_of_cooking_on_record_moves_no_clock_that_runs(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 58.0\n0:10:10-0:11:00 p1 56.9\n");
    rig->log_len = 0;
    struct entry entry;
    entry_clear(&entry, ENTRY_COOKED);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    entry.batch = 1;
    entry.given_ms = rig_time("0:10:30");
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time("0:11:05"), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
    rig_expect(rig, "");
    assert_int_equal(rig_batch(rig).clock_start_ms, rig_time("0:10:00"));
    rig_free(rig);
}

/* E64, E73: what a person has accepted stays met, whatever clock starts later. */
static void
test_cooling_that_a_person_accepted_is_not_judged_again_by_a_later_clock(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 5.0\n0:05:05 decide yes\n"
                  "0:05:10-0:20:00 p1 5.0 65.0\n8:00:00 restart 0:20:05\n8:00:10 p1 20.0\n");
    rig_expect(rig, "0:00:10 inconclusive probe-late p1 5.0\n"
                    "0:05:05 resolved entered yes p1 5.0\n"
                    "8:00:00 gap-opened outage #1 p1 since 0:20:00 found 7:40:00\n"
                    "8:00:10 gap-ended good-again #1 p1 20.0 since 0:20:00 found 7:40:10\n"
                    "8:00:10 clock-started fell-through-start p1 20.0 since 0:20:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
}

/* The second stage is late already when a person does not accept the first: what is shown is
 * the later of the two, and then the other one until that is over too. */
static void
test_deviation_of_another_stage_is_shown_when_one_is_over(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 58.0\n0:10:10-1:00:00 p1 56.0 "
                  "40.0\n3:00:00 restart 1:00:05\n6:20:00 decide no\n");
    rig_expect(rig, "0:10:10 clock-started fell-through-start p1 56.0 since 0:10:00\n"
                    "3:00:00 inconclusive outage stage 1 since 0:10:00 found 2:50:00\n"
                    "3:00:00 gap-opened outage #1 p1 since 1:00:00 found 2:00:00\n"
                    "6:10:00 deviation-opened too-late #2 of #1 stage 2 since 0:10:00 "
                    "found 6:00:00\n"
                    "6:20:00 resolved entered no stage 1 since 0:10:00 found 2:50:00\n"
                    "6:20:00 deviation-opened outage #3 stage 1 since 0:10:00 "
                    "found 2:50:00\n");
    rig_play(rig, "6:30:00 p1 20.0\n");
    assert_int_equal(rig_batch(rig).deviation, 2);
    rig->log_len = 0;
    rig_play(rig, "6:34:00 end stored\n");
    rig_expect(rig, "6:34:00 deviation-ended batch-ended #2 of #1 stage 2 since 0:10:00 "
                    "found 6:24:00\n");
    rig_free(rig);
}

/* Accepted, the first is no deviation, and the second ends once. */
static void
test_stage_that_is_accepted_beside_a_late_one_is_no_deviation(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 58.0\n0:10:10-1:00:00 p1 56.0 "
                  "40.0\n3:00:00 restart 1:00:05\n6:20:00 decide yes\n");
    rig->log_len = 0;
    rig_play(rig, "6:40:00 end stored\n");
    rig_expect(rig, "6:40:00 deviation-ended batch-ended #2 of #1 silent stage 2 since 0:10:00 "
                    "found 6:30:00\n");
    rig_free(rig);
}

static const struct decision *
ended(const struct rig *rig)
{
    for (size_t i = 0; i < rig->out.count; i++)
        if (rig->out.decisions[i].kind == DECISION_DEVIATION_ENDED)
            return &rig->out.decisions[i];
    fail_msg("no deviation has ended");
    return NULL;
}

/* E237: when all of it was last seen too warm; of food that was not seen since its clock
 * started, that is when it started. Nothing where there is no clock any more (E33). */
static void
test_end_of_a_late_stage_says_when_it_was_last_seen_too_warm(void **state)
{
    (void)state;
    static const struct {
        const char *script;
        const char *last;
    } cases[] = {
        {"0:10:10-2:10:10 p1 56.9 22.0\n2:10:20 p1 21.0\n", "2:10:10"},
        {"2:10:00 wait\n2:10:20 p1 21.0\n", "0:10:00"},
        {"2:10:00 wait\n2:10:20 p1 58.0\n", NULL},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_new(COOL, NULL);
        rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 58.0\n");
        rig_play(rig, cases[i].script);
        assert_int_equal(ended(rig)->last_ms, cases[i].last ? rig_time(cases[i].last) : 0);
        rig_free(rig);
    }
}

/* Two stages whose time is over at one instant are told in their order. */
static void
test_stages_that_are_late_at_one_instant_are_told_in_their_order(void **state)
{
    (void)state;
    rig_story("{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 40 °C, within: 1 h}, "
              "{to: 21 °C, within: 2 h, counts_from: stage_before}, {to: 5 °C, within: 3 h}]}",
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 58.0\n0:10:10-1:10:00 p1 56.0 40.0\n"
              "1:10:10-3:10:00 p1 40.0 30.0\n3:10:00 wait\n",
              "0:10:10 clock-started fell-through-start p1 56.0 since 0:10:00\n"
              "1:10:00 limit-met reached stage 1 p1 40.0 since 0:10:00 found 1:00:00\n"
              "3:10:00 deviation-opened too-late #1 stage 2 p1 30.0 since 1:10:00 found "
              "2:00:00\n"
              "3:10:00 deviation-opened too-late #2 of #1 silent stage 3 p1 30.0 since 0:10:00 "
              "found 3:00:00\n");
}

/* E33: the clock starts by the one that has been dark longest, be it the first. */
static void
test_clock_of_the_dark_starts_by_the_first_probe_too(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10-0:05:00 p1,p2 70.0\n0:05:10-0:09:30 p2 "
                  "70.0\n0:10:00 wait\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:10:00 clock-started no-good-reading"));
    rig_free(rig);
}

/* ---- E179 ---- */

/* What a person says of a clock that the dark has started holds, also when the food is seen
 * above the start again. */
static void
test_corrected_clock_is_not_taken_back_by_hot_food(void **state)
{
    (void)state;
    static const char *const scripts[] = {
        "1:10:00 p1 55.0\n1:10:05 correct 4 at 0:59:00\n1:10:10 p1 57.5\n",
        "1:20:00 wait\n1:20:05 correct 4 at 0:59:00\n1:20:10 p1 57.5\n",
    };
    for (size_t i = 0; i < COUNT_OF(scripts); i++) {
        struct rig *rig = cooling(scripts[i]);
        assert_int_equal(rig_batch(rig).clock_start_ms, rig_time("0:59:00"));
        rig_free(rig);
    }
}

/* Begun by itself above the start, then dark: the clock of the dark, as a person puts it. */
static void
test_corrected_clock_of_the_dark_stands(void **state)
{
    (void)state;
    struct rig *rig = rig_new(BY_ITSELF, NULL);
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n0:05:10-0:07:00 p1 65.0\n0:12:10 wait\n");
    assert_int_equal(rig_batch(rig).clock_start_ms, rig_time("0:07:00"));
    rig_play(rig, "0:12:15 correct 3 at 0:06:00\n0:12:20 p1 64.0\n");
    assert_int_equal(rig_batch(rig).clock_start_ms, rig_time("0:06:00"));
    rig_free(rig);
}

/* The deviation that a later clock withdraws is that of this stage of this batch: not the
 * silence of its probe before, and not another batch's. */
static void
test_later_clock_withdraws_the_deviation_of_its_own_stage(void **state)
{
    (void)state;
    struct rig *rig = cooling("1:16:00 wait\n1:16:10-3:00:10 p1 54.9 23.0\n");
    struct engine_deviation_view views[4];
    assert_int_equal(engine_view_deviations(rig->engine, views, 4), 2);
    assert_int_equal(views[0].opened.kind, DECISION_GAP_OPENED);
    rig_play(rig, "3:00:15 correct 4 at 1:10:00\n3:00:16 confirm yes SB\n");
    assert_int_equal(engine_view_deviations(rig->engine, views, 4), 1);
    assert_int_equal(views[0].opened.kind, DECISION_GAP_OPENED);
    rig_free(rig);
}

#define TWO_POTS                                                                               \
    "{kind: cook, applies_to: food, at_least: 74 °C}}\n"                                      \
    "      - {id: cool, name: Cool, begins: by_itself, begins_on: [p1, p2], limit:\n"          \
    "          {kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 "  \
    "h}]}"

static void
test_later_clock_of_the_second_batch_leaves_the_first_as_it_is(void **state)
{
    (void)state;
    struct rig *rig = rig_new(TWO_POTS, NULL);
    for (int at_s = 0; at_s <= 2 * 3600 + 1200; at_s += 10) {
        char line[100]; /* to 65 °C at once, at the start of 57 °C after 10 min, then slowly */
        int mC = at_s <= 300   ? 20000
                 : at_s <= 420 ? 65000
                 : at_s <= 600 ? 65000 - (at_s - 420) * 50
                               : 56000 - (at_s - 600) * 4;
        (void)snprintf(line, sizeof line, "%d:%02d:%02d p1 %d.%03d\n%d:%02d:%02d p2 %d.%03d\n",
                       at_s / 3600, at_s / 60 % 60, at_s % 60, mC / 1000, mC % 1000,
                       at_s / 3600, at_s / 60 % 60, at_s % 60 + 5, mC / 1000, mC % 1000);
        rig_play(rig, line);
    }
    struct engine_deviation_view views[4];
    assert_int_equal(engine_view_deviations(rig->engine, views, 4), 2);
    assert_int_equal(views[0].opened.batch, 1);
    rig_play(rig, "2:20:05 correct 4 at 0:30:00\n2:20:06 confirm yes SB batch=2\n");
    assert_int_equal(engine_view_deviations(rig->engine, views, 4), 1);
    assert_int_equal(views[0].opened.batch, 1);
    rig_free(rig);
}

/* Late as it begins: the food fell and was cold before anybody saw it again. */
static void
test_later_clock_withdraws_a_deviation_that_came_with_the_step(void **state)
{
    (void)state;
    struct rig *rig = rig_new(BY_ITSELF, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n3:00:00-3:01:00 p1 "
                  "30.0\n");
    struct engine_deviation_view views[4];
    size_t count = engine_view_deviations(rig->engine, views, 4);
    assert_int_equal(count, 2);
    assert_int_equal(views[1].opened.reason, REASON_TOO_LATE);
    assert_int_equal(views[1].opened.at_ms, rig_batch(rig).step_begun_ms);
    rig_play(rig, "3:01:05 correct 4 at 2:00:00\n3:01:06 confirm yes SB\n");
    assert_int_equal(engine_view_deviations(rig->engine, views, 4), 1);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    rig_free(rig);
}

/* E33, E71: the clock of the dark is taken back once. What a person decides afterwards about a
 * reading of that time stays, also when the food is seen hot again. */
static void
test_what_is_decided_after_a_clock_was_taken_back_stays(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 58.0\n0:16:00 hand 20.0\n");
    char script[60];
    (void)snprintf(script, sizeof script, "0:17:30 correct %d 30.0\n", (int)rig->seq);
    rig_play(rig, "0:17:00 p1 58.0\n");
    assert_int_equal(rig_batch(rig).clock_start_ms, TIME_NONE);
    rig_play(rig, script);
    rig_play(rig, "0:18:00 decide no\n");
    uint32_t deviation = rig_batch(rig).deviation;
    assert_int_not_equal(deviation, 0);
    rig->log_len = 0;
    rig_play(rig, "0:18:10-0:20:00 p1 58.0\n");
    rig_expect(rig, "");
    assert_int_equal(rig_batch(rig).deviation, deviation);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cooling_left_before_its_clock_ran_has_taken_no_time),
        cmocka_unit_test(test_end_of_cooking_said_later_meets_all_stages_that_were_shown_since),
        cmocka_unit_test(
            test_end_of_cooking_said_later_is_late_for_every_stage_whose_time_is_over),
        cmocka_unit_test(test_end_of_a_late_stage_says_what_was_required_of_it),
        cmocka_unit_test(test_clock_of_the_dark_is_taken_back_with_all_that_it_made_late),
        cmocka_unit_test(
            test_second_clock_counts_from_when_the_stage_before_was_last_seen_unreached),
        cmocka_unit_test(test_cooling_with_a_stage_that_nobody_saw_is_not_met_by_the_last),
        cmocka_unit_test(
            test_probe_put_in_late_beyond_the_list_of_questions_is_answered_by_hot_food),
        cmocka_unit_test(test_decision_about_the_whole_cooling_settles_every_stage),
        cmocka_unit_test(test_clock_of_the_dark_starts_by_the_probe_that_has_been_dark_longest),
        cmocka_unit_test(test_stage_is_met_only_when_every_probe_has_shown_it),
        cmocka_unit_test(
            test_corrected_clock_judges_by_the_first_reading_that_showed_the_temperature),
        cmocka_unit_test(test_same_clock_said_again_favours_nothing),
        cmocka_unit_test(test_later_clock_waits_until_all_stages_are_met),
        cmocka_unit_test(test_deviation_of_a_stage_that_is_open_again_is_withdrawn),
        cmocka_unit_test(test_earlier_clock_makes_late_what_is_late_by_it_and_nothing_else),
        cmocka_unit_test(test_stage_that_is_late_by_an_earlier_clock_and_still_warm_goes_on),
        cmocka_unit_test(test_second_clock_counts_nothing_from_before_the_end_of_cooking),
        cmocka_unit_test(test_stage_whose_corrected_deadline_is_now_is_not_late_yet),
        cmocka_unit_test(test_clock_that_does_not_run_yet_starts_where_a_person_says),
        cmocka_unit_test(test_cold_hand_reading_without_a_clock_meets_nothing),
        cmocka_unit_test(test_end_of_cooking_said_of_food_that_nobody_measures_is_late_in_time),
        cmocka_unit_test(test_end_of_cooking_said_later_meets_the_last_of_four_stages),
        cmocka_unit_test(
            test_second_clock_counts_from_what_was_shown_before_the_end_of_cooking_was_said),
        cmocka_unit_test(test_end_of_cooking_said_later_meets_what_a_hand_reading_has_shown),
        cmocka_unit_test(test_end_of_cooking_on_record_moves_no_clock_that_runs),
        cmocka_unit_test(
            test_cooling_that_a_person_accepted_is_not_judged_again_by_a_later_clock),
        cmocka_unit_test(test_deviation_of_another_stage_is_shown_when_one_is_over),
        cmocka_unit_test(test_stage_that_is_accepted_beside_a_late_one_is_no_deviation),
        cmocka_unit_test(test_end_of_a_late_stage_says_when_it_was_last_seen_too_warm),
        cmocka_unit_test(test_stages_that_are_late_at_one_instant_are_told_in_their_order),
        cmocka_unit_test(test_clock_of_the_dark_starts_by_the_first_probe_too),
        cmocka_unit_test(test_corrected_clock_is_not_taken_back_by_hot_food),
        cmocka_unit_test(test_corrected_clock_of_the_dark_stands),
        cmocka_unit_test(test_later_clock_withdraws_the_deviation_of_its_own_stage),
        cmocka_unit_test(test_later_clock_of_the_second_batch_leaves_the_first_as_it_is),
        cmocka_unit_test(test_later_clock_withdraws_a_deviation_that_came_with_the_step),
        cmocka_unit_test(test_what_is_decided_after_a_clock_was_taken_back_stays),
    };
    return cmocka_run_group_tests_name("engine coolings", tests, NULL, NULL);
}
