/* After a restart the time in between is unknown: docs/engine.md E60 to E67. */
#include "tests/support/check.h"

#include <string.h>

#include <stdio.h>

#include "tests/support/engine_rig.h"

#define COOL                                                                                   \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, {to: 5 " \
    "°C, within: 6 h}]}"
#define COOK_3_MIN "{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}"
#define REHEAT     "{kind: reheat, applies_to: food, at_least: 74 °C, for: 15 s, within: 2 h}"
#define HOT_10                                                                                 \
    "{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 10 min, back_for: 1 min}"
#define FRIDGE                                                                                 \
    "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 20 min, back_for: 5 min}"

#define HOT_THEN_57 "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 70.0 57.5\n0:10:10 p1 56.9\n"
#define CLOCK       "0:10:10 clock-started fell-through-start p1 56.9 since 0:10:00\n"

/* ---- cook and reheat ---- */

static void
test_restart_breaks_unbroken_cooking_time(void **state)
{
    (void)state;
    /* even when the outage is shorter than the largest spacing */
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:02:00 p1 63.0\n0:02:05 restart "
              "0:02:00\n0:02:10-0:05:00 p1 63.0\n0:05:10 p1 63.0\n",
              "0:05:10 limit-met held p1 63.0 since 0:02:10 found 0:03:00\n");
}

static void
test_restart_over_a_reheating_deadline_is_inconclusive(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 10.0 60.0\n2:30:00 restart "
              "1:00:05\n2:30:10-2:31:00 p1 80.0\n",
              "2:30:00 inconclusive outage since 1:00:05\n"
              "2:30:00 gap-opened outage #1 p1 since 1:00:00 found 1:30:00\n"
              "2:30:10 gap-ended good-again #1 p1 80.0 since 1:00:00 found 1:30:10\n");
}

static void
test_restart_before_a_reheating_deadline_is_judged_as_usual(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 10.0 60.0\n1:01:00 restart "
              "1:00:05\n1:01:10-1:30:00 p1 60.0 75.0\n",
              "1:28:30 limit-met held p1 74.219 since 1:28:10 found 0:00:20\n");
}

static void
test_restart_exactly_at_a_deadline_leaves_it_to_be_judged(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-1:59:00 p1 10.0 60.0\n2:00:00 restart "
              "1:59:05\n2:00:10 p1 60.0\n",
              "2:00:00 deviation-opened too-late #1 since 0:00:00 found 2:00:00\n");
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-1:59:00 p1 10.0 60.0\n2:00:00.001 restart "
              "1:59:05\n2:00:10 p1 60.0\n",
              "2:00:00.001 inconclusive outage since 1:59:05\n");
}

/* What was due while Trivet still watched was told then. */
static void
test_restart_after_a_deadline_that_was_watched_changes_nothing(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-2:00:10 p1 10.0 60.0\n2:01:00 restart 2:00:20\n",
              "2:00:00 deviation-opened too-late #1 p1 59.93 since 0:00:00 found 2:00:00\n");
}

static void
test_leaving_a_cook_whose_time_fits_into_the_outage_is_inconclusive(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:02:00 p1 63.0\n0:05:05 restart "
              "0:02:05\n0:05:10 p1 66.0\n0:05:15 move\n",
              "0:05:15 inconclusive outage since 0:02:05\n");
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:02:00 p1 63.0\n0:05:04.999 restart "
              "0:02:05\n0:05:10 p1 66.0\n0:05:15 move\n",
              "0:05:15 deviation-opened left-early #1 p1 66.0 since 0:05:10\n"
              "0:05:15 deviation-ended batch-ended #1\n");
}

static void
test_reheating_not_accepted_after_an_outage_is_one_deviation(void **state)
{
    (void)state;
    rig_story(REHEAT,
              "0:00:00 begin dish p1\n0:00:10-1:56:00 p1 10.0 60.0\n2:00:30 restart "
              "1:56:05\n2:00:40 p1 70.0\n2:01:00 decide no\n2:02:00 p1 72.0\n"
              "2:02:10-2:02:30 p1 74.0\n2:02:40 end served\n",
              "2:00:30 inconclusive outage since 1:56:05\n"
              "2:01:00 resolved entered no since 1:56:05\n"
              "2:01:00 deviation-opened outage #1 since 1:56:05\n"
              "2:02:30 deviation-ended held #1 p1 74.0 since 2:02:10 found 0:00:20\n");
}

static void
test_leaving_an_instantaneous_cook_after_an_outage_is_inconclusive(void **state)
{
    (void)state;
    const char *at_once = "{kind: cook, applies_to: food, at_least: 74 °C, for: 0 s}";
    rig_story(at_once,
              "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:20 restart 0:00:15\n0:00:30 "
              "move\n0:00:40 decide no\n",
              "0:00:30 inconclusive outage since 0:00:15\n"
              "0:00:40 resolved entered no since 0:00:15\n"
              "0:00:40 deviation-opened outage #1 since 0:00:15\n"
              "0:00:40 deviation-ended batch-ended #1 since 0:00:15\n");
}

static void
test_reheating_accepted_after_an_outage_is_met(void **state)
{
    (void)state;
    struct rig *rig = rig_new(REHEAT, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-1:56:00 p1 10.0 60.0\n2:00:30 restart "
                  "1:56:05\n2:00:40 p1 70.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_INCONCLUSIVE);
    rig_play(rig, "2:01:00 decide yes\n2:01:10 p1 70.0\n2:02:00 end served\n");
    rig_expect(rig, "2:00:30 inconclusive outage since 1:56:05\n2:01:00 resolved entered yes "
                    "since 1:56:05\n");
    rig_free(rig);
}

/* ---- cooling ---- */

static void
test_restart_over_a_cooling_deadline_is_inconclusive_when_cold_after_it(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, HOT_THEN_57
             "0:10:20-1:00:00 p1 56.9 40.0\n3:00:00 restart 1:00:05\n3:00:10 p1 15.0\n");
    rig_expect(rig,
               CLOCK "3:00:00 inconclusive outage stage 1 since 0:10:00 found 2:50:00\n"
                     "3:00:00 gap-opened outage #1 p1 since 1:00:00 found 2:00:00\n"
                     "3:00:10 gap-ended good-again #1 p1 15.0 since 1:00:00 found 2:00:10\n");
    /* a person decides; the second stage is judged on its own deadline */
    rig_play(rig, "3:01:00 decide yes\n3:01:10-5:00:00 p1 15.0 5.0\n");
    rig_expect(rig, "3:01:00 resolved entered yes stage 1 since 0:10:00 found 2:50:00\n"
                    "5:00:00 limit-met reached stage 2 p1 5.0 since 0:10:00 found 4:50:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
}

static void
test_restart_over_a_cooling_deadline_is_too_late_when_still_warm_after_it(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, HOT_THEN_57
             "0:10:20-1:00:00 p1 56.9 40.0\n3:00:00 restart 1:00:05\n3:00:10 p1 21.001\n");
    rig_expect(
        rig, CLOCK
        "3:00:00 inconclusive outage stage 1 since 0:10:00 found 2:50:00\n"
        "3:00:00 gap-opened outage #1 p1 since 1:00:00 found 2:00:00\n"
        "3:00:10 gap-ended good-again #1 p1 21.001 since 1:00:00 found 2:00:10\n"
        "3:00:10 deviation-opened too-late #2 stage 1 p1 21.001 since 0:10:00 found 2:50:10\n");
    assert_false(rig_batch(rig).inconclusive); /* nothing left to decide */
    rig_free(rig);
}

static void
test_restart_before_a_cooling_deadline_is_judged_as_usual(void **state)
{
    (void)state;
    rig_story(
        COOL,
        HOT_THEN_57
        "0:10:20-1:00:00 p1 56.9 40.0\n1:04:00 restart 1:00:05\n1:04:10-2:10:00 p1 39.0 21.0\n",
        CLOCK "2:10:00 limit-met reached stage 1 p1 21.0 since 0:10:00 found 2:00:00\n");
}

static void
test_restart_exactly_at_a_cooling_deadline_leaves_it_to_be_judged(void **state)
{
    (void)state;
    rig_story(COOL,
              HOT_THEN_57
              "0:10:20-2:06:00 p1 56.9 22.0\n2:10:00 restart 2:06:05\n2:10:00 p1 21.0\n",
              CLOCK "2:10:00 limit-met reached stage 1 p1 21.0 since 0:10:00 found 2:00:00\n");
    rig_story(
        COOL,
        HOT_THEN_57 "0:10:20-2:06:00 p1 56.9 22.0\n2:10:00 restart 2:06:05\n2:10:10 p1 21.0\n",
        CLOCK
        "2:10:00 deviation-opened too-late #1 stage 1 since 0:10:00 found 2:00:00\n"
        "2:10:10 deviation-ended reached #1 stage 1 p1 21.0 since 0:10:00 found 2:00:10\n");
}

/* Dark above the start, then an outage over the deadline, then back above it: nothing of that
 * was so. */
static void
test_restart_after_a_dark_clock_that_is_taken_back(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 80.0 70.0\n0:16:00 wait\n2:20:00 "
                  "restart 0:16:00\n");
    rig_expect(rig, "0:15:00 gap-opened no-good-reading #1 p1 since 0:10:00 found 0:05:00\n"
                    "0:15:00 clock-started no-good-reading since 0:10:00\n"
                    "2:20:00 inconclusive outage stage 1 since 0:10:00 found 2:10:00\n");
    rig_play(rig, "2:20:10 p1 60.0\n");
    rig_expect(rig, "2:20:10 gap-ended good-again #1 p1 60.0 since 0:10:00 found 2:10:10\n");
    assert_false(rig_batch(rig).inconclusive);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    assert_int_equal(rig_batch(rig).clock_start_ms, TIME_NONE);
    rig_play(rig, "2:20:20 p1 57.0\n");
    rig_expect(rig, "2:20:20 clock-started fell-through-start p1 57.0 since 2:20:10\n");
    rig_free(rig);
}

static void
test_person_decides_the_second_stage(void **state)
{
    (void)state;
    const char *until =
        HOT_THEN_57 "0:10:20-1:50:00 p1 56.9 21.0\n6:20:00 restart 1:50:05\n6:20:10 p1 5.0\n";
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, until);
    assert_int_equal(rig_batch(rig).stage, 2);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_INCONCLUSIVE);
    rig_play(rig, "6:21:00 decide yes\n");
    assert_int_equal(rig_batch(rig).stage, 3);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
    rig = rig_new(COOL, NULL);
    rig_play(rig, until);
    rig_play(rig, "6:21:00 decide no\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    assert_int_equal(rig_batch(rig).deviation, 2);
    rig_play(rig, "6:21:10 p1 5.0\n");
    assert_int_equal(rig_batch(rig).deviation, 0);
    rig_free(rig);
}

/* An end of cooking given later: deadlines before or after the outage were watched, those in it
 * were not. */
static void
test_cooked_time_given_after_an_outage_judges_each_deadline(void **state)
{
    (void)state;
    const char *until = "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 50.0 40.0\n1:04:00 restart "
                        "1:00:05\n1:04:10-1:40:00 p1 40.0 30.0\n";
    static const struct {
        const char *cooked;
        bool unknown;
    } given[] = {
        {"0:30:05", false}, {"0:30:05.001", true}, {"0:33:59.999", true},
        {"0:34:00", false}, {"0:20:00", false},    {"0:50:00", false},
    };
    for (size_t i = 0; i < COUNT_OF(given); i++) {
        char script[60];
        struct rig *rig = rig_new("{kind: cool, applies_to: food, from: 57 °C, stages: [{to: "
                                  "21 °C, within: 30 min}]}",
                                  NULL);
        rig_play(rig, until);
        snprintf(script, sizeof script, "1:40:05 cooked %s\n", given[i].cooked);
        rig_play(rig, script);
        assert_int_equal(rig->out.count, 2);
        assert_int_equal(rig->out.decisions[1].kind,
                         given[i].unknown ? DECISION_INCONCLUSIVE : DECISION_DEVIATION_OPENED);
        rig_free(rig);
    }
}

/* It fell through the start while nobody watched: counted from the last reading above it. */
static void
test_restart_over_the_start_counts_from_the_last_reading_above(void **state)
{
    (void)state;
    rig_story(
        COOL,
        "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 80.0 70.0\n0:14:00 restart "
        "0:10:05\n0:14:10 p1 56.0\n2:11:00 wait\n",
        "0:14:10 clock-started fell-through-start p1 56.0 since 0:10:00\n"
        "0:19:10 gap-opened no-good-reading #1 p1 since 0:14:10 found 0:05:00\n"
        "2:10:00 deviation-opened too-late #2 of #1 stage 1 since 0:10:00 found 2:00:00\n");
    rig_story(COOL,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 80.0 70.0\n3:00:00 restart "
              "0:10:05\n3:00:10 p1 20.0\n",
              "3:00:00 gap-opened outage #1 p1 since 0:10:00 found 2:50:00\n"
              "3:00:10 gap-ended good-again #1 p1 20.0 since 0:10:00 found 2:50:10\n"
              "3:00:10 clock-started fell-through-start p1 20.0 since 0:10:00\n"
              "3:00:10 inconclusive outage stage 1 p1 20.0 since 0:10:00 found 2:50:10\n");
}

static void
test_person_who_does_not_accept_opens_a_deviation(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, HOT_THEN_57 "0:10:20-1:00:00 p1 56.9 40.0\n1:00:05 p1 40.0\n2:30:00 restart "
                              "1:00:05\n2:30:10 p1 20.0\n2:31:00 decide no\n2:31:10 p1 20.0\n");
    rig_expect(
        rig, CLOCK
        "2:30:00 inconclusive outage stage 1 since 0:10:00 found 2:20:00\n"
        "2:30:00 gap-opened outage #1 p1 since 1:00:05 found 1:29:55\n"
        "2:30:10 gap-ended good-again #1 p1 20.0 since 1:00:05 found 1:30:05\n"
        "2:31:00 resolved entered no stage 1 since 0:10:00 found 2:20:00\n"
        "2:31:00 deviation-opened outage #2 stage 1 since 0:10:00 found 2:20:00\n"
        "2:31:10 deviation-ended reached #2 stage 1 p1 20.0 since 0:10:00 found 2:21:10\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

/* ---- holding ---- */

static void
test_restart_while_outside_is_inconclusive_once_it_may_have_been_too_long(void **state)
{
    (void)state;
    /* 2 min out, 3 min unknown, back inside: 5 min at most, within the tolerance */
    rig_story(HOT_10,
              "0:00:00 begin dish p1\n0:00:10-0:02:10 p1 56.0\n0:05:10 restart "
              "0:02:10\n0:05:20-0:07:00 p1 58.0\n",
              "");
    /* 2 min out, 3 min unknown, 5 min out: may have been 10 */
    rig_story(HOT_10,
              "0:00:00 begin dish p1\n0:00:10-0:02:10 p1 56.0\n0:05:10 restart "
              "0:02:10\n0:05:20-0:10:20 p1 56.0\n0:10:30-0:12:30 p1 58.0\n",
              "0:10:10 inconclusive outage p1 56.0 since 0:00:10 found 0:07:00\n");
    /* and with 8 min certain after it: certainly */
    rig_story(HOT_10,
              "0:00:00 begin dish p1\n0:00:10-0:02:10 p1 56.0\n0:05:10 restart "
              "0:02:10\n0:05:20-0:13:20 p1 56.0\n",
              "0:10:10 inconclusive outage p1 56.0 since 0:00:10 found 0:07:00\n"
              "0:13:10 deviation-opened out-too-long #1 p1 56.0 since 0:00:10 found 0:10:00\n");
}

static void
test_restart_while_outside_for_long_is_inconclusive_at_once(void **state)
{
    (void)state;
    struct rig *rig = rig_new(HOT_10, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:02:10 p1 56.0\n1:02:10 restart "
                  "0:02:10\n1:02:20-1:03:20 p1 58.0\n");
    rig_expect(rig, "1:02:10 inconclusive outage p1 56.0 since 0:00:10 found 0:02:00\n"
                    "1:02:10 gap-opened outage #1 p1 since 0:02:10 found 1:00:00\n"
                    "1:02:20 gap-ended good-again #1 p1 58.0 since 0:02:10 found 1:00:10\n");
    assert_true(rig_batch(rig).inconclusive); /* also once it is back inside */
    rig_play(rig, "1:04:00 decide no\n");
    rig_expect(rig, "1:04:00 resolved entered no p1 56.0 since 0:00:10 found 0:02:00\n"
                    "1:04:00 deviation-opened outage #2 p1 56.0 since 0:00:10 found 0:02:00\n"
                    "1:04:00 deviation-ended back-inside #2\n");
    rig_free(rig);
}

/* On its way back inside when last seen: the way back starts anew, the time outside stays
 * counted, and nothing is added. */
static void
test_restart_on_the_way_back_keeps_the_count(void **state)
{
    (void)state;
    rig_story(HOT_10,
              "0:00:00 begin dish p1\n0:00:10-0:02:10 p1 56.0\n0:02:20-0:02:50 p1 "
              "58.0\n0:06:00 restart 0:02:55\n"
              "0:06:10 p1 58.0\n0:06:20-0:14:20 p1 56.0\n",
              "0:14:10 deviation-opened out-too-long #1 p1 56.0 since 0:00:10 found 0:10:00\n");
}

/* Nobody can be asked about a place: outside when last seen counts as outside. */
static void
test_restart_while_a_place_is_outside_counts_as_outside(void **state)
{
    (void)state;
    rig_place_story(
        FRIDGE, "0:00:00-0:05:00 a1 6.0\n0:40:00 restart 0:05:00\n0:40:10-0:45:10 a1 4.0\n",
        "0:40:00 deviation-opened outage #1 fridge p4 6.0 since 0:00:00 found 0:40:00\n"
        "0:40:00 gap-opened outage #2 fridge p4 since 0:05:00 found 0:35:00\n"
        "0:40:10 gap-ended good-again #2 fridge p4 4.0 since 0:05:00 found 0:35:10\n"
        "0:45:10 deviation-ended back-inside #1 fridge p4 4.0 worst 6.0 since 0:00:00 found "
        "0:40:10\n");
}

static void
test_restart_while_inside_is_a_gap_only_if_too_long(void **state)
{
    (void)state;
    rig_place_story(FRIDGE, "0:00:00-0:05:00 a1 4.0\n0:09:59 restart 0:05:00\n0:10:00 a1 4.0\n",
                    "");
    rig_place_story(
        FRIDGE, "0:00:00-0:05:00 a1 4.0\n0:10:00.001 restart 0:05:00\n0:10:10 a1 4.0\n",
        "0:10:00.001 gap-opened outage #1 fridge p4 since 0:05:00 found 0:05:00.001\n"
        "0:10:10 gap-ended good-again #1 fridge p4 4.0 since 0:05:00 found 0:05:10\n");
}

/* Every probe there can be falls silent in one outage: what does not fit one output is decided
 * by the next ticks at the same instant, nothing is lost, and what the list cannot hold is
 * still numbered (E84). */
static void
test_restart_of_the_largest_kitchen_tells_every_gap(void **state)
{
    (void)state;
    static struct plan_probe probes[PLAN_PROBES_MAX];
    static struct plan plan = {.probes = probes,
                               .probe_count = PLAN_PROBES_MAX,
                               .tolerances = {.spacing_polls = 3,
                                              .silent_ms = 300000,
                                              .food_rate_mC_per_min = 15000,
                                              .food_jump_mC = 4000,
                                              .settle_ms = 60000}};
    for (size_t i = 0; i < PLAN_PROBES_MAX; i++) {
        probes[i].number = (uint16_t)(60000 - i);
        probes[i].every_ms = 10000;
        probes[i].kind = PROBE_AIR;
    }
    struct rig *rig = rig_new(NULL, NULL);
    struct engine_input input = {.kind = ENGINE_PLAN, .at_ms = RIG_BASE_MS, .seq = 9};
    input.is.plan = &plan;
    rig_feed(rig, &input);
    rig_play(rig, "1:00:00 restart 0:01:00\n");
    assert_true(rig->out.count > 400 && rig->out.count <= ENGINE_DECISIONS_MAX);
    assert_int_equal(engine_due(rig->engine), rig_time("1:00:00"));
    rig_play(rig, "1:00:00 wait\n");
    assert_int_equal(engine_due(rig->engine), TIME_NEVER);
    assert_int_equal(engine_next_deviation(rig->engine), PLAN_PROBES_MAX + 1);
    static struct engine_deviation_view views[ENGINE_DEVIATIONS_MAX + 1];
    assert_int_equal(engine_view_deviations(rig->engine, views, ENGINE_DEVIATIONS_MAX + 1),
                     ENGINE_DEVIATIONS_MAX);
    assert_int_equal(views[0].opened.reason, REASON_OUTAGE);
    rig_reload(rig);
    /* all come back */
    input.kind = ENGINE_READING;
    input.at_ms = rig_time("1:00:10");
    for (size_t i = PLAN_PROBES_MAX; i-- > 0;) {
        input.is.reading = (struct reading){input.at_ms, 4000, probes[i].number, READING_GOOD};
        rig_feed(rig, &input);
        assert_int_equal(rig->out.count, 1);
        assert_int_equal(rig->out.decisions[0].kind, DECISION_GAP_ENDED);
    }
    rig_free(rig);
}

#define HOT_10                                                                                 \
    "{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 10 min, back_for: 1 min}"

/* E60: however short the outage, the way back is not unbroken over it. */
static void
test_restart_on_the_way_back_begins_the_way_back_anew(void **state)
{
    (void)state;
    struct rig *rig = rig_new(HOT_10, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:11:00 p1 56.0\n0:11:10-0:11:40 p1 58.0\n"
                  "0:11:50 restart 0:11:41\n0:11:52-0:12:42 p1 58.0\n");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 p1 56.0 since 0:00:10 found "
                    "0:10:00\n");
    rig_play(rig, "0:12:52 p1 58.0\n");
    rig_expect(rig, "0:12:52 deviation-ended back-inside #1 p1 58.0 worst 56.0 since 0:00:10 "
                    "found 0:11:00\n");
    rig_free(rig);
}

/* E62: a person vouches for what nobody saw, not for what comes; the next outage is asked about
 * again. */
static void
test_decision_about_an_outage_is_about_that_outage(void **state)
{
    (void)state;
    struct rig *rig = rig_new(HOT_10, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:50 p1 58.0\n0:01:00-0:05:00 p1 56.0\n"
                  "0:12:00 restart 0:05:00\n0:12:05 decide yes\n0:12:10-0:14:00 p1 56.0\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:12:00 inconclusive outage"));
    rig->log_len = 0;
    rig_play(rig, "0:19:00 restart 0:14:00\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:19:00 inconclusive outage"));
    rig->log_len = 0;
    rig_play(rig, "0:19:05 decide yes\n0:19:10-0:23:10 p1 56.0\n");
    rig->log[rig->log_len] = '\0';
    /* 4 min, 2 min and 4 min were seen. */
    assert_non_null(strstr(rig->log, "0:23:00 deviation-opened out-too-long"));
    rig_free(rig);
}

#define REHEAT_2H "{kind: reheat, applies_to: food, at_least: 74 °C, within: 2 h}"

/* What was told before the outage is not asked about after it. */
static void
test_restart_after_what_was_told_asks_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(REHEAT_2H, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-2:00:10 p1 60.0\n");
    rig->log_len = 0;
    rig_play(rig, "2:01:00 restart 2:00:20\n");
    rig_expect(rig, "");
    rig_free(rig);
    rig =
        rig_new("{kind: reheat, applies_to: food, at_least: 74 °C, within: 2 h, stand: 2 min}",
                NULL); /* reached in time, and stands */
    rig_play(rig, "0:00:00 begin dish p1\n1:59:00-1:59:50 p1 74.0\n");
    rig->log_len = 0;
    rig_play(rig, "2:00:20 restart 1:59:55\n2:01:10 wait\n");
    rig_expect(rig, "2:01:00 limit-met stood p1 74.0 since 1:59:00\n");
    rig_free(rig);
    rig = rig_new("{kind: cook, applies_to: food, at_least: 74 °C}", NULL); /* no deadline */
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:50 restart 0:00:20\n");
    rig_expect(rig, "");
    rig_free(rig);
    rig = rig_new(REHEAT_2H, NULL); /* what is asked says by when it was required */
    rig_play(rig, "0:00:00 begin dish p1\n1:59:00 p1 60.0\n2:00:20 restart 1:59:05\n");
    assert_int_equal(rig->out.decisions[0].kind, DECISION_INCONCLUSIVE);
    assert_int_equal(rig->out.decisions[0].required_ms, 7200000);
    rig_free(rig);
}

/* E62: what may have been too long in an outage stays a question, also when the food is outside
 * again later, and then too long for certain. */
static void
test_question_about_an_outage_outlives_a_later_deviation(void **state)
{
    (void)state;
    struct engine_undecided_view view;
    struct rig *rig = rig_new(HOT_10, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:50 p1 58.0\n0:01:00-0:05:00 p1 56.0\n"
                  "0:12:00 restart 0:05:00\n0:12:10-0:14:00 p1 58.0\n");
    assert_int_equal(engine_view_undecided(rig->engine, &view, 1), 1);
    rig_play(rig, "0:14:10-0:24:20 p1 56.0\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:24:10 deviation-opened out-too-long"));
    assert_int_equal(engine_view_undecided(rig->engine, &view, 1), 1);
    assert_int_equal(view.said.reason, REASON_OUTAGE);
    rig_free(rig);
}

/* E63: that is long enough for a limit without a holding time. */
static void
test_leaving_an_instantaneous_cook_after_the_shortest_outage_is_inconclusive(void **state)
{
    (void)state;
    rig_story("{kind: cook, applies_to: food, at_least: 74 °C, for: 0 s}",
              "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:15.001 restart 0:00:15\n0:00:20 p1 "
              "60.0\n0:00:30 end served\n",
              "0:00:30 inconclusive outage since 0:00:15\n");
}

/* E61, E63: the question says what could have been met unseen: by its deadline, or for its
 * holding time. */
static void
test_question_about_a_reheating_says_which_time_it_is_of(void **state)
{
    (void)state;
    struct rig *rig = rig_new(REHEAT, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 10.0 60.0\n0:20:00 restart "
                  "0:10:00\n0:20:10 p1 60.0\n0:20:15 end served\n");
    assert_int_equal(rig->out.decisions[0].kind, DECISION_INCONCLUSIVE);
    assert_int_equal(rig->out.decisions[0].required_ms, 15000);
    rig_free(rig);
    rig = rig_new(REHEAT, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 10.0 60.0\n3:00:00 restart "
                  "0:10:00\n");
    assert_int_equal(rig->out.decisions[0].kind, DECISION_INCONCLUSIVE);
    assert_int_equal(rig->out.decisions[0].required_ms, 2 * 60 * 60000);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cooked_time_given_after_an_outage_judges_each_deadline),
        cmocka_unit_test(test_leaving_an_instantaneous_cook_after_an_outage_is_inconclusive),
        cmocka_unit_test(test_reheating_accepted_after_an_outage_is_met),
        cmocka_unit_test(test_reheating_not_accepted_after_an_outage_is_one_deviation),
        cmocka_unit_test(test_restart_breaks_unbroken_cooking_time),
        cmocka_unit_test(test_restart_over_a_reheating_deadline_is_inconclusive),
        cmocka_unit_test(test_restart_before_a_reheating_deadline_is_judged_as_usual),
        cmocka_unit_test(test_restart_exactly_at_a_deadline_leaves_it_to_be_judged),
        cmocka_unit_test(test_restart_after_a_deadline_that_was_watched_changes_nothing),
        cmocka_unit_test(test_leaving_a_cook_whose_time_fits_into_the_outage_is_inconclusive),
        cmocka_unit_test(
            test_restart_over_a_cooling_deadline_is_inconclusive_when_cold_after_it),
        cmocka_unit_test(
            test_restart_over_a_cooling_deadline_is_too_late_when_still_warm_after_it),
        cmocka_unit_test(test_restart_before_a_cooling_deadline_is_judged_as_usual),
        cmocka_unit_test(test_restart_exactly_at_a_cooling_deadline_leaves_it_to_be_judged),
        cmocka_unit_test(test_restart_after_a_dark_clock_that_is_taken_back),
        cmocka_unit_test(test_person_decides_the_second_stage),
        cmocka_unit_test(test_restart_over_the_start_counts_from_the_last_reading_above),
        cmocka_unit_test(test_person_who_does_not_accept_opens_a_deviation),
        cmocka_unit_test(
            test_restart_while_outside_is_inconclusive_once_it_may_have_been_too_long),
        cmocka_unit_test(test_restart_while_outside_for_long_is_inconclusive_at_once),
        cmocka_unit_test(test_restart_on_the_way_back_keeps_the_count),
        cmocka_unit_test(test_restart_while_a_place_is_outside_counts_as_outside),
        cmocka_unit_test(test_restart_while_inside_is_a_gap_only_if_too_long),
        cmocka_unit_test(test_restart_of_the_largest_kitchen_tells_every_gap),
        cmocka_unit_test(test_restart_on_the_way_back_begins_the_way_back_anew),
        cmocka_unit_test(test_decision_about_an_outage_is_about_that_outage),
        cmocka_unit_test(test_restart_after_what_was_told_asks_nothing),
        cmocka_unit_test(test_question_about_an_outage_outlives_a_later_deviation),
        cmocka_unit_test(
            test_leaving_an_instantaneous_cook_after_the_shortest_outage_is_inconclusive),
        cmocka_unit_test(test_question_about_a_reheating_says_which_time_it_is_of),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
