/* Steps that begin by themselves: docs/engine.md E173 to E178. FDA Food Code 2022, 3-501.14(A):
 * from 57 °C (135 °F) to 21 °C (70 °F) within 2 h, and to 5 °C (41 °F) within 6 h in all. The
 * law counts from when the food is at 57 °C, whoever presses a button. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

/* The rig's first step is followed by a cooling that begins by itself. */
#define COOL_STEP                                                                              \
    "      - {id: cool, name: Cool, begins: by_itself, begins_on: [p1], limit:\n"              \
    "          {kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 "  \
    "h}, {to: 5 °C, within: 6 h}]}"
#define COOK_THEN_COOL "{kind: cook, applies_to: food, at_least: 74 °C}}\n" COOL_STEP
#define REST_BETWEEN                                                                           \
    "{kind: cook, applies_to: food, at_least: 74 °C}}\n"                                      \
    "      - {id: rest, name: Rest, limit: {kind: none}}\n" COOL_STEP
#define HOLD_THEN_COOL                                                                         \
    "{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 2 h}}\n" COOL_STEP
#define HOLD_BETWEEN                                                                           \
    "{kind: cook, applies_to: food, at_least: 74 °C}}\n"                                      \
    "      - {id: keep, name: Keep, limit: {kind: hold_hot, applies_to: food, at_least: 57 "   \
    "°C}}\n" COOL_STEP
/* Two steps that the same probe could begin. */
#define TWO_COOLINGS                                                                           \
    COOK_THEN_COOL                                                                             \
    "}\n      - {id: chill, name: Chill, begins: by_itself, begins_on: [p1], limit:\n"         \
    "          {kind: cool, applies_to: food, from: 63 °C, stages: [{to: 10 °C, within: 90 " \
    "min}]}"

/* Cooked, then from 80 °C down to 57.2 at 1:00:00: the last reading above the start. */
#define COOKED_AND_FALLING                                                                     \
    "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n0:06:00-0:30:00 p1 76.0 "            \
    "80.0\n0:30:10-1:00:00 p1 79.9 57.2\n"

static void
test_falling_core_begins_the_cooling_from_the_reading_that_fell_through(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL,
              COOKED_AND_FALLING "1:00:10-2:30:00 p1 56.9 21.0\n2:30:10-6:00:00 p1 20.9 5.0\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n"
              "1:01:10.001 step-begun by-itself p1 56.501\n"
              "1:01:10.001 clock-started fell-through-start since 1:00:00\n"
              "2:30:00 limit-met reached stage 1 p1 21.0 since 1:00:00 found 1:30:00\n"
              "6:00:00 limit-met reached stage 2 p1 5.0 since 1:00:00 found 5:00:00\n");
}

/* E178: a person who moves the batch may put the probe in; nobody does here. */
static void
test_step_that_begins_by_itself_is_no_hand_over(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL,
              COOKED_AND_FALLING "1:00:10-1:02:00 p1 56.9 56.0\n1:02:10 p1 66.0\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n"
              "1:01:10.001 step-begun by-itself p1 56.41\n"
              "1:01:10.001 clock-started fell-through-start since 1:00:00\n"
              "1:02:10 suspect-begun left-food p1 66.0 since 1:02:00\n");
}

/* Nobody pressed a button, and the deadline passes all the same. */
static void
test_cooling_that_nobody_began_is_late_at_its_deadline(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL, COOKED_AND_FALLING "1:00:10-3:00:10 p1 56.9 30.0\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n"
              "1:01:10.001 step-begun by-itself p1 56.676\n"
              "1:01:10.001 clock-started fell-through-start since 1:00:00\n"
              "3:00:00 deviation-opened too-late #1 stage 1 p1 30.038 since 1:00:00 found "
              "2:00:00\n");
}

static void
test_step_without_a_limit_between_is_passed_over(void **state)
{
    (void)state;
    rig_story(REST_BETWEEN, COOKED_AND_FALLING "1:00:10-1:02:00 p1 56.9 56.0\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n"
              "1:01:10.001 step-begun by-itself p1 56.41\n"
              "1:01:10.001 clock-started fell-through-start since 1:00:00\n");
}

/* Its own limit would be passed over with it. */
static void
test_step_with_a_limit_between_is_not_passed_over(void **state)
{
    (void)state;
    rig_story(HOLD_BETWEEN, COOKED_AND_FALLING "1:00:10-1:10:00 p1 56.9 50.0\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n");
}

/* E177: what was never clearly hot is a person's to move, and E34 says what its clock is. */
static void
test_food_that_was_hardly_hot_brings_no_clock_with_it(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: none}}\n" COOL_STEP, NULL);
    rig_play(rig,
             "0:00:00 begin dish p2\n0:00:10-0:10:00 p2 50.0 58.0\n0:10:10-0:20:00 p2 58.0 "
             "56.0\n0:20:05 move\n0:20:10 p2 56.0\n");
    rig_expect(rig, "0:20:10 inconclusive probe-late p2 56.0\n");
    rig_free(rig);
}

/* E194: what may be cooled once only is not cooled again by itself. */
static void
test_second_cooling_of_what_may_be_cooled_once_is_a_question(void **state)
{
    (void)state;
    rig_story("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
              "      - {id: cool, name: Cool, begins: by_itself, limit:\n"
              "          {kind: cool, applies_to: food, from: 57 °C, once: yes, stages: [{to: "
              "21 °C, within: 2 h}]}",
              COOKED_AND_FALLING
              "1:00:10-1:02:00 p1 56.9 56.0\n1:02:05 move first\n1:02:10-1:10:00 p1 56.0 80.0\n"
              "1:10:10-1:30:00 p1 79.9 57.1\n1:30:10-1:31:10 p1 56.9\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n"
              "1:01:10.001 step-begun by-itself p1 56.41\n"
              "1:01:10.001 clock-started fell-through-start since 1:00:00\n"
              "1:02:05 deviation-opened left-early #1 stage 1 p1 56.0 since 1:00:00 found "
              "0:02:05\n"
              "1:02:05 deviation-ended batch-ended #1\n"
              "1:08:10 limit-met reached p1 74.382 since 1:08:10\n"
              "1:31:10 asked ambiguous p1 56.9 since 1:30:00\n");
}

/* E177: food that is heated wavers about the start and begins nothing. */
static void
test_wavering_about_the_start_begins_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: none}}\n" COOL_STEP, NULL);
    rig_play(rig, "0:00:00 begin dish p2\n0:00:10-0:30:00 p2 5.0 56.0\n");
    for (int i = 0; i < 60; i++) { /* ten minutes of 58.0 at most, half of them below */
        char line[64];
        snprintf(line, sizeof line, "0:%02d:%02d p2 %s\n", 31 + i / 6, i % 6 * 10,
                 i % 20 < 10 ? "56.5" : "57.9");
        rig_play(rig, line);
    }
    rig_expect(rig, "");
    /* 58.001 is clearly above: 57 and more than a degree. */
    rig_play(rig, "0:42:00 p2 58.001\n0:42:10-0:43:00 p2 56.9\n");
    rig_expect(rig, "");
    rig_play(rig, "0:43:10 p2 56.9\n");
    rig_expect(rig, "0:43:10.001 step-begun by-itself p2 56.9\n"
                    "0:43:10.001 clock-started fell-through-start since 0:42:00\n");
    rig_free(rig);
}

static void
test_short_dip_through_the_start_begins_nothing(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL,
              COOKED_AND_FALLING "1:00:10-1:01:00 p1 56.9 56.8\n1:01:10 p1 57.1\n"
                                 "1:01:20-1:02:10 p1 56.9\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n");
}

/* E177: as E31, none of several was above when last seen. */
static void
test_warmest_of_several_has_to_fall_through(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL,
              "0:00:00 begin dish p1 p2\n0:00:10-0:10:00 p1,p2 60.0 80.0\n"
              "0:10:10-0:30:00 p1,p2 79.9 59.0\n0:30:10-0:33:00 p1 56.5 55.0\n",
              "0:07:10 limit-met reached p1 74.237 since 0:07:10\n");
    rig_story(COOK_THEN_COOL,
              "0:00:00 begin dish p1 p2\n0:00:10-0:10:00 p1,p2 60.0 80.0\n"
              "0:10:10-0:30:00 p1,p2 79.9 59.0\n0:30:10-0:33:00 p2 56.5 55.0\n",
              "0:07:10 limit-met reached p1 74.237 since 0:07:10\n");
}

static void
test_pulled_probe_begins_nothing(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL,
              "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n0:06:00-0:30:00 p1 76.0 "
              "80.0\n0:30:10 p1 30.0\n0:30:20-0:40:00 p1 22.0 20.0\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n"
              "0:30:10 suspect-begun left-food p1 30.0 since 0:30:00\n"
              "0:35:00 gap-opened no-good-reading #1 p1 since 0:30:00 found 0:05:00\n");
}

/* E175: the cook's limit is not met, so it may be heated on. */
static void
test_unmet_step_is_a_question_and_the_clock_does_not_wait(void **state)
{
    (void)state;
    struct engine_undecided_view waiting[4];
    struct rig *rig = rig_new(COOK_THEN_COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 50.0 65.0\n"
                  "0:10:10-0:20:00 p1 65.0 57.5\n0:20:10-0:21:10 p1 56.9 56.5\n");
    assert_int_equal(rig->out.decisions[0].batch, 1);
    assert_string_equal(rig->out.decisions[0].step, "first");
    rig_expect(rig, "0:21:10 asked ambiguous p1 56.5 since 0:20:00\n");
    assert_int_equal(engine_view_undecided(rig->engine, waiting, 4), 1);
    assert_int_equal(waiting[0].said.kind, DECISION_ASKED);
    assert_int_equal(waiting[0].said.batch, 1);
    assert_string_equal(waiting[0].said.step, "first");
    assert_int_equal(waiting[0].said.since_ms, rig_time("0:20:00"));
    rig_play(rig, "0:21:20-0:40:00 p1 56.4 50.0\n0:40:05 move\n");
    assert_int_equal(engine_view_undecided(rig->engine, waiting, 4), 0);
    assert_int_equal(rig->out.decisions[0].kind, DECISION_ANSWERED);
    assert_int_equal(rig->out.decisions[0].batch, 1);
    assert_string_equal(rig->out.decisions[0].step, "first");
    rig_expect(rig, "0:40:05 answered entered\n"
                    "0:40:05 deviation-opened left-early #1 p1 50.0\n"
                    "0:40:05 deviation-ended batch-ended #1\n"
                    "0:40:05 clock-started fell-through-start since 0:20:00\n");
    rig_free(rig);
}

static void
test_question_is_answered_by_heating_on(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 50.0 65.0\n"
                  "0:10:10-0:20:00 p1 65.0 57.5\n0:20:10-0:21:10 p1 56.9 56.5\n"
                  "0:22:00-0:24:50 p1 57.0 58.063\n");
    assert_int_equal(rig->out.decisions[0].batch, 1);
    assert_string_equal(rig->out.decisions[0].step, "first");
    rig_play(rig, "0:25:00-0:26:00 p1 59.0\n"); /* once */
    rig_expect(rig, "0:21:10 asked ambiguous p1 56.5 since 0:20:00\n"
                    "0:24:50 answered good-again\n");
    rig_free(rig);
}

/* A holding whose excursion may become a deviation is never left by itself. */
static void
test_hot_holding_is_a_question(void **state)
{
    (void)state;
    rig_story(HOLD_THEN_COOL,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 70.0 57.5\n0:10:10-0:12:00 p1 56.9 "
              "56.0\n",
              "0:11:10 asked ambiguous p1 56.41 since 0:10:00\n");
}

/* ---- E174: hot food on a probe of no batch ---- */

static void
test_hot_food_on_an_idle_probe_begins_its_batch(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL,
              "0:00:00-0:05:00 p1 20.0\n0:05:10-0:05:20 p1 45.0 79.0\n0:05:30-0:20:00 p1 80.0 "
              "57.5\n0:20:10-2:20:10 p1 56.9 30.0\n",
              "0:06:20.001 step-begun by-itself p1 78.707\n"
              "0:20:10 clock-started fell-through-start p1 56.9 since 0:20:00\n"
              "2:20:00 deviation-opened too-late #1 stage 1 p1 30.038 since 0:20:00 found "
              "2:00:00\n");
}

/* A probe that was in a batch and is still hot has not come into other food. */
static void
test_probe_that_stays_hot_after_its_batch_begins_nothing(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL,
              "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n0:06:00 end served\n"
              "0:06:10-0:20:00 p1 76.0 70.0\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n");
}

/* Hotter than boiling water no wet core gets: oven air is no food. Nor is what a probe passes
 * through. */
static void
test_oven_air_and_a_passing_warmth_begin_nothing(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL,
              "0:00:00-0:05:00 p1 20.0\n0:05:10-0:20:00 p1 100.001\n0:21:00-0:22:00 p1 20.0\n"
              "0:22:10-0:23:00 p1 70.0\n0:23:10-0:30:00 p1 20.0\n",
              "");
}

/* E174: clearly hot without a break for settle_for, from the start. */
static void
test_hot_food_has_to_stay_clearly_hot(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL,
              "0:00:00-0:05:00 p1 20.0\n0:05:10-0:05:50 p1 58.5\n0:06:00 p1 58.0\n"
              "0:06:10-0:07:00 p1 58.5\n",
              "");
    rig_story(COOK_THEN_COOL,
              "0:00:00-0:05:00 p1 20.0\n0:05:10-0:05:50 p1 58.5\n0:06:00 p1 58.0\n"
              "0:06:10-0:07:10 p1 58.5\n",
              "0:07:10.001 step-begun by-itself p1 58.5\n");
    /* A dip to the start breaks it as well. */
    rig_story(COOK_THEN_COOL,
              "0:00:00-0:05:00 p1 20.0\n0:05:10-0:05:50 p1 58.5\n0:06:00 p1 57.0\n"
              "0:06:10-0:07:00 p1 58.5\n",
              "");
    /* A step of food_jump is unsteady, up or down; a little less is not. */
    rig_story(COOK_THEN_COOL,
              "0:00:00-0:05:00 p1 20.0\n0:05:10-0:05:50 p1 62.0\n0:06:00-0:06:50 p1 66.0\n",
              "");
    rig_story(COOK_THEN_COOL,
              "0:00:00-0:05:00 p1 20.0\n0:05:10-0:05:50 p1 66.0\n0:06:00-0:06:50 p1 62.0\n",
              "");
    rig_story(COOK_THEN_COOL,
              "0:00:00-0:05:00 p1 20.0\n0:05:10-0:05:50 p1 66.0\n0:06:00-0:06:10 p1 62.001\n",
              "0:06:10.001 step-begun by-itself p1 62.001\n");
}

static void
test_idle_probe_without_a_step_begins_nothing(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL, "0:00:00-0:05:00 p2 20.0\n0:05:10-0:20:00 p2 80.0\n", "");
    rig_story(COOK_THEN_COOL, "0:00:00-0:05:00 p2 -5.0\n0:05:10-0:20:00 p2 80.0\n", "");
}

static void
test_two_steps_that_could_begin_are_a_question(void **state)
{
    (void)state;
    struct engine_undecided_view waiting[4];
    struct rig *rig = rig_new(TWO_COOLINGS, NULL);
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n0:05:10-0:20:00 p1 80.0 64.0\n"
                  "0:20:10-0:40:00 p1 63.0 50.0\n");
    rig_expect(rig, "0:06:10 asked ambiguous p1 78.922 since 0:06:10\n");
    assert_int_equal(engine_view_undecided(rig->engine, waiting, 4), 1);
    assert_int_equal(waiting[0].said.probe, 1);
    assert_true(waiting[0].said.since_ms == rig_time("0:20:00"));
    /* The higher start counts: the clock is never later than the law's. */
    rig_play(rig,
             "0:40:05 begin dish step=chill p1\n0:40:10-1:50:00 p1 49.9 11.0\n1:50:00 wait\n");
    rig_expect(rig, "0:40:05 answered entered p1\n"
                    "0:40:05 clock-started fell-through-start since 0:20:00\n"
                    "1:50:00 deviation-opened too-late #1 stage 1 p1 11.0 since 0:20:00 found "
                    "1:30:00\n");
    rig_free(rig);
}

static void
test_person_can_say_that_hot_food_is_none(void **state)
{
    (void)state;
    struct rig *rig = rig_new(TWO_COOLINGS, NULL);
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n0:05:10-0:20:00 p1 80.0 70.0\n"
                  "0:20:05 decide yes p1 refused\n");
    assert_non_null(strstr(rig->refusal, "begin its batch with probe 'p1'"));
    rig_play(rig, "0:20:06 decide no p1\n0:20:10-0:40:00 p1 70.0 60.0\n"
                  "0:40:05 decide no p1 refused\n");
    assert_non_null(strstr(rig->refusal, "nothing about probe 'p1' waits"));
    rig_expect(rig, "0:06:10 asked ambiguous p1 79.326 since 0:06:10\n"
                    "0:20:06 answered entered p1\n");
    /* What comes next is another matter, with an instant of its own. */
    rig_play(rig, "0:41:00-0:45:00 p1 20.0\n0:45:10-0:46:10 p1 80.0\n");
    rig_expect(rig, "0:46:10 asked ambiguous p1 80.0 since 0:46:10\n");
    rig_free(rig);
}

/* ---- determinism and strictness ---- */

static void
test_state_saved_between_any_two_inputs_changes_nothing(void **state)
{
    (void)state;
    static const char *const lines[] = {
        "0:00:00-0:05:00 p1 20.0\n",      "0:05:10-0:06:00 p1 80.0\n",
        "0:06:10-0:20:00 p1 80.0 57.5\n", "0:20:10-1:20:10 p1 56.9 30.0\n",
        "1:20:20-2:30:00 p1 29.9 21.0\n",
    };
    struct rig *whole = rig_new(COOK_THEN_COOL, NULL), *loaded = rig_new(COOK_THEN_COOL, NULL);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        rig_play(whole, lines[i]);
        rig_play(loaded, lines[i]);
        rig_reload(loaded);
    }
    whole->log[whole->log_len] = '\0';
    assert_non_null(strstr(whole->log, "step-begun by-itself"));
    rig_expect(loaded, whole->log);
    rig_free(whole);
    rig_free(loaded);
}

/* Whatever readings are missing, a cooling that is late with all of them is late without them,
 * or the probe was silent for too long: never a pass. */
static void
test_missing_readings_never_turn_the_deviation_into_a_pass(void **state)
{
    (void)state;
    uint64_t seed = 20261129;
    for (int round = 0; round < 200; round++) {
        struct rig *rig = rig_new(COOK_THEN_COOL, NULL);
        rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 60.0 80.0\n");
        for (int s = 610; s <= 610 + 4 * 3600;
             s += 10) { /* 80 to 57 in 1 h, to 24 by the end */
            seed = seed * UINT64_C(6364136223846793005) + 1442695040888963407U;
            if ((seed >> 33) % 100 < (uint64_t)(round % 100))
                continue;
            int t = s - 610;
            int mC = t <= 3600 ? 80000 - t * 6 : 58400 - (t - 3600) * 3;
            char line[64];
            snprintf(line, sizeof line, "%d:%02d:%02d p1 %d.%03d\n", s / 3600, s / 60 % 60,
                     s % 60, mC / 1000, mC % 1000);
            rig_play(rig, line);
        }
        rig->log[rig->log_len] = '\0';
        assert_null(strstr(rig->log, "limit-met reached stage"));
        if (strstr(rig->log, "too-late") == NULL)
            fail_msg("round %d: not late:\n%s", round, rig->log);
        rig_free(rig);
    }
}

/* A question about a batch that ends has its answer. */
static void
test_question_ends_with_the_batch(void **state)
{
    (void)state;
    rig_story(HOLD_THEN_COOL,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 70.0 57.5\n0:10:10-0:12:00 p1 56.9 "
              "56.0\n0:12:05 end discarded\n",
              "0:11:10 asked ambiguous p1 56.41 since 0:10:00\n"
              "0:12:05 answered batch-ended\n");
}

/* A person moves it on beyond the step that would have begun: what was seen of that start says
 * nothing of another. */
static void
test_move_beyond_the_awaited_step_brings_no_clock_with_it(void **state)
{
    (void)state;
    rig_story(COOK_THEN_COOL "}\n      - {id: chill, name: Chill, begins: by_itself, limit:\n"
                             "          {kind: cool, applies_to: food, from: 20 °C, stages: "
                             "[{to: 5 °C, within: 4 h}]}",
              COOKED_AND_FALLING
              "1:00:10-1:00:30 p1 56.9 56.0\n1:00:35 move chill\n1:00:40-1:30:00 p1 56.0 20.1\n"
              "1:30:10 p1 20.0\n",
              "0:05:10 limit-met reached p1 74.117 since 0:05:10\n"
              "1:30:10 clock-started fell-through-start p1 20.0 since 1:30:00\n");
}

/* Likewise of all its probes, whichever fell through last. */
static void
test_step_that_begins_by_itself_is_a_hand_over_of_none_of_its_probes(void **state)
{
    (void)state;
    for (int left = 1; left <= 2; left++) {
        char line[80];
        struct rig *rig = rig_new(COOK_THEN_COOL, NULL);
        rig_play(rig, "0:00:00 begin dish p1 p2\n");
        for (int s = 10; s <= 1070; s += 10) {
            double temp = s < 300    ? 60 + s / 15.0
                          : s < 600  ? 80.0
                          : s < 1000 ? 80.0 - (s - 600) / 16.0
                                     : 55.0;
            (void)snprintf(line, sizeof line, "0:%02d:%02d p1 %.1f\n0:%02d:%02d.100 p2 %.1f\n",
                           s / 60, s % 60, temp, s / 60, s % 60, temp);
            rig_play(rig, line);
        }
        assert_string_equal(rig_batch(rig).product->steps[rig_batch(rig).step].id, "cool");
        rig->log_len = 0;
        (void)snprintf(line, sizeof line, "0:18:00 p%d 66.0\n", left);
        rig_play(rig, line);
        rig->log[rig->log_len] = '\0';
        (void)snprintf(line, sizeof line, "0:18:00 suspect-begun left-food p%d", left);
        assert_non_null(strstr(rig->log, line));
        rig_free(rig);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(
            test_falling_core_begins_the_cooling_from_the_reading_that_fell_through),
        cmocka_unit_test(test_step_that_begins_by_itself_is_no_hand_over),
        cmocka_unit_test(test_cooling_that_nobody_began_is_late_at_its_deadline),
        cmocka_unit_test(test_step_without_a_limit_between_is_passed_over),
        cmocka_unit_test(test_step_with_a_limit_between_is_not_passed_over),
        cmocka_unit_test(test_second_cooling_of_what_may_be_cooled_once_is_a_question),
        cmocka_unit_test(test_food_that_was_hardly_hot_brings_no_clock_with_it),
        cmocka_unit_test(test_wavering_about_the_start_begins_nothing),
        cmocka_unit_test(test_short_dip_through_the_start_begins_nothing),
        cmocka_unit_test(test_warmest_of_several_has_to_fall_through),
        cmocka_unit_test(test_pulled_probe_begins_nothing),
        cmocka_unit_test(test_unmet_step_is_a_question_and_the_clock_does_not_wait),
        cmocka_unit_test(test_question_is_answered_by_heating_on),
        cmocka_unit_test(test_hot_holding_is_a_question),
        cmocka_unit_test(test_hot_food_on_an_idle_probe_begins_its_batch),
        cmocka_unit_test(test_probe_that_stays_hot_after_its_batch_begins_nothing),
        cmocka_unit_test(test_oven_air_and_a_passing_warmth_begin_nothing),
        cmocka_unit_test(test_hot_food_has_to_stay_clearly_hot),
        cmocka_unit_test(test_idle_probe_without_a_step_begins_nothing),
        cmocka_unit_test(test_two_steps_that_could_begin_are_a_question),
        cmocka_unit_test(test_person_can_say_that_hot_food_is_none),
        cmocka_unit_test(test_state_saved_between_any_two_inputs_changes_nothing),
        cmocka_unit_test(test_missing_readings_never_turn_the_deviation_into_a_pass),
        cmocka_unit_test(test_question_ends_with_the_batch),
        cmocka_unit_test(test_move_beyond_the_awaited_step_brings_no_clock_with_it),
        cmocka_unit_test(test_step_that_begins_by_itself_is_a_hand_over_of_none_of_its_probes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
