/* What people enter: hand readings, corrections, corrective actions and their verification, and
 * what engine_check refuses: docs/engine.md E50 to E54, E70 to E84. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define COOL                                                                                   \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, {to: 5 " \
    "°C, within: 6 h}]}"
#define COOK_3_MIN   "{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}"
#define COOK_AT_ONCE "{kind: cook, applies_to: food, at_least: 74 °C, for: 0 s}"
#define HOT          "{kind: hold_hot, applies_to: food, at_least: 57 °C, back_for: 1 min}"
#define FRIDGE                                                                                 \
    "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 0 s, back_for: 1 min}"

/* ---- hand readings ---- */

static void
test_hand_reading_meets_an_instantaneous_cook(void **state)
{
    (void)state;
    rig_story(COOK_AT_ONCE,
              "0:00:00 begin dish\n0:10:00 hand 73.9\n0:11:00 hand 74.0\n0:12:00 end served\n",
              "0:11:00 limit-met hand-reading 74.0 since 0:11:00\n");
}

static void
test_hand_reading_does_not_outvote_a_colder_probe(void **state)
{
    (void)state;
    rig_story(COOK_AT_ONCE, "0:00:00 begin dish p1\n0:09:50 p1 70.0\n0:10:00 hand 80.0\n",
              "0:05:00 gap-opened no-good-reading #1 p1 since 0:00:00 found 0:05:00\n"
              "0:09:50 gap-ended good-again #1 p1 70.0 since 0:00:00 found 0:09:50\n");
    /* a probe that has not been seen for longer than the spacing does not speak against it */
    rig_story(COOK_AT_ONCE, "0:00:00 begin dish p1\n0:00:10 p1 70.0\n0:00:40.001 hand 80.0\n",
              "0:00:40.001 limit-met hand-reading 80.0 since 0:00:40.001\n");
    /* of two, the colder one */
    rig_story(COOK_AT_ONCE,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 80.0\n0:00:10 p2 70.0\n0:00:20 hand 80.0\n",
              "");
}

static void
test_hand_reading_earns_no_holding_time(void **state)
{
    (void)state;
    rig_story(
        COOK_3_MIN,
        "0:00:00 begin dish\n0:10:00 hand 80.0\n0:10:20 hand 80.0\n0:13:20 hand 80.0\n0:14:00 "
        "end served\n",
        "0:14:00 deviation-opened left-early #1\n0:14:00 deviation-ended batch-ended #1\n");
}

static void
test_hand_reading_below_breaks_a_cook(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_3_MIN, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:02:00 p1 64.0\n0:02:05 hand 60.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 0);
    rig_free(rig);
}

static void
test_hand_readings_alone_carry_a_cooling(void **state)
{
    (void)state;
    rig_story(COOL,
              "0:00:00 begin dish\n0:01:00 hand 75.0\n0:30:00 hand 60.0\n0:40:00 hand "
              "50.0\n1:50:00 hand 21.0\n5:00:00 hand 5.0\n5:10:00 end stored\n",
              "0:06:00 clock-started no-good-reading since 0:01:00\n"
              "0:35:00 clock-started no-good-reading since 0:30:00\n"
              "1:50:00 limit-met hand-reading stage 1 21.0 since 0:30:00 found 1:20:00\n"
              "5:00:00 limit-met hand-reading stage 2 5.0 since 0:30:00 found 4:30:00\n");
}

static void
test_hand_reading_breaches_a_holding_limit(void **state)
{
    (void)state;
    rig_story(HOT,
              "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 60.0\n0:01:05 hand "
              "56.9\n0:01:10-0:02:10 p1 60.0\n",
              "0:01:05 deviation-opened out-too-long #1 56.9 since 0:01:05\n"
              "0:02:10 deviation-ended back-inside #1 p1 60.0 worst 56.9 since 0:01:05 found "
              "0:00:05\n");
}

/* While a probe that could be colder is dark, one inside does not speak against a hand reading
 * outside. */
static void
test_hand_reading_outside_stands_until_every_probe_says_otherwise(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new("{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 10 min}", NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 60.0\n0:02:05 hand "
                  "56.9\n0:02:10 p1 60.0\n");
    assert_true(rig_batch(rig).outside);
    rig_play(rig, "0:02:20 p2 60.0\n");
    assert_false(rig_batch(rig).outside);
    assert_int_equal(rig_batch(rig).outside_ms, 15000);
    /* answered: what the first probe shows later is judged without it, though the second is
     * dark again */
    rig_play(rig, "0:03:00 p1 56.9\n0:03:10 p1 60.0\n");
    assert_false(rig_batch(rig).outside);
    assert_int_equal(rig_batch(rig).outside_ms, 25000);
    rig_free(rig);
}

static void
test_hand_reading_inside_changes_nothing_where_a_probe_watches(void **state)
{
    (void)state;
    rig_story("{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 5 min}",
              "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 56.0\n0:01:05 hand "
              "60.0\n0:01:10-0:05:20 p1 56.0\n",
              "0:05:10 deviation-opened out-too-long #1 p1 56.0 since 0:00:10 found 0:05:00\n");
}

static void
test_hand_reading_of_a_place_breaches_its_limit(void **state)
{
    (void)state;
    rig_place_story(FRIDGE, "0:00:00 a1 4.0\n0:00:05 hand fridge 5.1\n0:00:10-0:01:10 a1 4.0\n",
                    "0:00:05 deviation-opened out-too-long #1 fridge 5.1 since 0:00:05\n"
                    "0:01:10 deviation-ended back-inside #1 fridge p4 4.0 worst 5.1 since "
                    "0:00:05 found 0:00:05\n");
}

/* Where nothing else watches, two hand readings inside far enough apart end it. */
static void
test_hand_readings_end_an_excursion_that_nothing_else_watches(void **state)
{
    (void)state;
    rig_story(HOT,
              "0:00:00 begin dish\n0:01:00 hand 50.0\n0:02:00 hand 60.0\n0:02:59.999 hand "
              "60.0\n0:03:00 hand 60.0\n",
              "0:01:00 deviation-opened out-too-long #1 50.0 since 0:01:00\n"
              "0:03:00 deviation-ended hand-reading #1 60.0 worst 50.0 since 0:01:00 found "
              "0:01:00\n");
}

/* ---- corrections ---- */

static void
test_correction_that_would_not_have_met_the_limit_is_inconclusive(void **state)
{
    (void)state;
    /* records: 1 start, 2 plan, 3 begin, 4 hand */
    rig_story(COOK_AT_ONCE,
              "0:00:00 begin dish\n0:10:00 hand 75.0\n0:11:00 correct 4 74.0\n0:12:00 correct "
              "4 73.999\n0:13:00 correct 4 60.0\n0:14:00 decide no\n",
              "0:10:00 limit-met hand-reading 75.0 since 0:10:00\n"
              "0:12:00 inconclusive corrected 73.999 since 0:10:00\n"
              "0:14:00 resolved entered no 73.999 since 0:10:00\n"
              "0:14:00 deviation-opened corrected #1 73.999 since 0:10:00\n");
}

static void
test_correction_after_the_batch_has_ended_still_asks(void **state)
{
    (void)state;
    rig_story(COOK_AT_ONCE,
              "0:00:00 begin dish\n0:10:00 hand 75.0\n0:11:00 end served\n0:12:00 correct 4 "
              "57.0\n0:13:00 decide yes\n0:14:00 decide yes\n",
              "0:10:00 limit-met hand-reading 75.0 since 0:10:00\n"
              "0:12:00 inconclusive corrected 57.0 since 0:10:00\n"
              "0:13:00 resolved entered yes 57.0 since 0:10:00\n"
              "refused: nothing about batch 1 waits for a decision; batches that do: none\n");
}

static void
test_correction_asks_for_each_stage_that_rests_on_the_reading(void **state)
{
    (void)state;
    rig_story(COOL,
              "0:00:00 begin dish\n0:01:00 hand 58.0\n0:02:00 hand 50.0\n1:00:00 hand "
              "4.0\n1:10:00 correct 6 14.0\n",
              "0:02:00 clock-started fell-through-start since 0:01:00\n"
              "1:00:00 limit-met hand-reading stage 1 4.0 since 0:01:00 found 0:59:00\n"
              "1:00:00 limit-met hand-reading stage 2 4.0 since 0:01:00 found 0:59:00\n"
              "1:10:00 inconclusive corrected stage 2 14.0 since 0:01:00 found 0:59:00\n");
}

static void
test_correction_to_outside_breaches_a_holding_limit(void **state)
{
    (void)state;
    rig_story(HOT, "0:00:00 begin dish\n0:01:00 hand 65.0\n0:02:00 correct 4 56.0\n",
              "0:02:00 deviation-opened out-too-long #1 56.0 since 0:02:00\n");
}

static void
test_correction_that_stays_inside_breaches_nothing(void **state)
{
    (void)state;
    rig_story(HOT, "0:00:00 begin dish\n0:01:00 hand 65.0\n0:02:00 correct 4 57.0\n", "");
    rig_story("{kind: hold_cold, applies_to: food, at_most: 5 °C}",
              "0:00:00 begin dish\n0:01:00 hand 3.0\n0:02:00 correct 4 5.0\n0:03:00 correct 4 "
              "5.001\n",
              "0:03:00 deviation-opened out-too-long #1 5.001 since 0:03:00\n");
    struct rig *rig = rig_new(COOK_3_MIN, NULL); /* of a limit that does not rest on it */
    rig_play(rig, "0:00:00 begin dish p1\n0:00:05 hand 70.0\n0:00:10-0:02:00 p1 64.0\n0:02:05 "
                  "correct 4 20.0\n");
    rig_expect(rig, "");
    assert_int_equal(rig_batch(rig).credited_ms, 110000);
    rig_free(rig);
}

static void
test_correction_after_a_move_asks_about_the_step_that_was_left(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_AT_ONCE, NULL);
    rig_play(rig,
             "0:00:00 begin dish\n0:10:00 hand 75.0\n0:11:00 move\n0:12:00 correct 4 60.0\n");
    rig_expect(rig, "0:10:00 limit-met hand-reading 75.0 since 0:10:00\n"
                    "0:12:00 inconclusive corrected 60.0 since 0:10:00\n");
    struct engine_undecided_view waiting;
    assert_int_equal(engine_view_undecided(rig->engine, &waiting, 1), 1);
    assert_string_equal(waiting.said.step, "first");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN); /* of the step it is in now */
    assert_true(rig_batch(rig).inconclusive);
    rig_free(rig);
}

/* ---- deviations to their verified end ---- */

static void
test_deviation_closes_when_ended_acted_on_and_verified_by_another(void **state)
{
    (void)state;
    struct rig *rig = rig_new(HOT, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 50.0\n0:00:15 verify 1 SB\n0:00:20 action "
                  "1 SB\n0:00:30 verify 1 SB\n0:00:40 verify 1 AB\n0:00:50 verify 1 VK\n");
    rig_expect(rig,
               "0:00:10 deviation-opened out-too-long #1 p1 50.0 since 0:00:10\n"
               "refused: deviation 1 has no corrective action yet; record that first\n"
               "refused: SB recorded this action and cannot verify it; another person has to\n"
               "refused: AB is a cook in the plan and cannot verify; a supervisor or verifier "
               "can: SB, VK\n");
    struct engine_deviation_view view;
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1),
                     1); /* verified, but it goes on */
    assert_int_equal(view.ended_ms, TIME_NONE);
    assert_string_equal(view.action_by, "SB");
    assert_int_not_equal(view.verified_seq, 0);
    rig_play(rig, "0:01:00 end discarded\n0:02:00 action 1 AB\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 0);
    rig_expect(rig,
               "0:01:00 deviation-ended batch-ended #1 worst 50.0 since 0:00:10 found 0:00:50\n"
               "refused: deviation 1 is closed; not closed are: none\n");
    rig_free(rig);
}

static void
test_later_action_is_to_be_verified_again(void **state)
{
    (void)state;
    struct rig *rig = rig_new(HOT, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 50.0\n0:00:20 action 1 AB\n0:00:30 verify "
                  "1 SB\n0:00:40 action 1 VK\n0:01:00 end discarded\n");
    struct engine_deviation_view view;
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_int_equal(view.verified_seq, 0);
    assert_string_equal(view.action_by, "VK");
    rig_play(rig, "0:01:10 verify 1 SB\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 0);
    rig_free(rig);
}

static void
test_sole_operator_may_verify_but_a_cook_may_not(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    rig->next_plan = rig_plan(HOT, NULL, "sole");
    rig_play(rig, "0:00:00 plan\n0:00:00 begin dish p1\n0:00:10 p1 50.0\n0:00:20 action 1 "
                  "SB\n0:00:30 verify 1 AB\n0:00:40 verify 1 SB\n0:01:00 end discarded\n");
    rig_expect(
        rig, "0:00:10 deviation-opened out-too-long #1 p1 50.0 since 0:00:10\n"
             "refused: AB is a cook in the plan and cannot verify; a supervisor or verifier "
             "can: SB, VK\n"
             "0:01:00 deviation-ended batch-ended #1 worst 50.0 since 0:00:10 found 0:00:50\n");
    struct engine_deviation_view view;
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 0);
    rig_free(rig);
}

/* Several at once: closing or deciding one leaves the others as they were, in their order. */
static void
test_closing_one_of_several_deviations_keeps_the_others(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new("{kind: hold_hot, applies_to: food, at_least: 57 °C, back_for: 0 s}", NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 56.0\n0:00:20 p1 57.0\n0:00:30 p1 "
                  "55.0\n0:00:40 p1 57.0\n0:00:50 p1 54.0\n"
                  "0:01:00 p1 57.0\n0:01:10 action 2 AB\n0:01:20 verify 2 SB\n");
    struct engine_deviation_view view[4];
    assert_int_equal(engine_view_deviations(rig->engine, view, 4), 2);
    assert_int_equal(view[0].number, 1);
    assert_int_equal(view[0].opened.temp_mC, 56000);
    assert_int_equal(view[0].ended_ms, rig_time("0:00:20"));
    assert_int_equal(view[1].number, 3);
    assert_int_equal(view[1].opened.temp_mC, 54000);
    assert_int_equal(view[1].ended_ms, rig_time("0:01:00"));
    rig_play(rig, "0:02:00 action 3 AB\n0:02:10 verify 3 VK\n");
    assert_int_equal(engine_view_deviations(rig->engine, view, 4), 1);
    assert_int_equal(view[0].number, 1);
    rig_free(rig);
}

static void
hand_in(struct rig *rig, uint32_t batch, int64_t at_ms, enum entry_kind kind, int32_t temp_mC)
{
    struct entry entry;
    struct engine_input input = {.kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = ++rig->seq};
    entry_clear(&entry, kind);
    strcpy(entry.who, "AB");
    strcpy(entry.reason, "seen by two people");
    entry.batch = batch;
    entry.has_temp = kind == ENTRY_HAND;
    entry.temp_mC = temp_mC;
    entry.accept = true;
    input.is.entry = &entry;
    rig_feed(rig, &input);
}

static void
test_deciding_one_of_several_batches_keeps_the_others(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, "0:00:00 begin dish\n0:00:00 begin dish\n0:00:00 begin dish\n");
    for (uint32_t batch = 1; batch <= 3; batch++)
        hand_in(rig, batch, rig_time("0:00:10"), ENTRY_HAND, 40000 + (int32_t)batch);
    struct engine_undecided_view waiting[4];
    struct engine_batch_view views[4];
    assert_int_equal(engine_view_undecided(rig->engine, waiting, 4), 3);
    hand_in(rig, 2, rig_time("0:00:20"), ENTRY_DECIDE, 0);
    assert_int_equal(engine_view_undecided(rig->engine, waiting, 4), 2);
    assert_int_equal(waiting[0].said.temp_mC, 40001);
    assert_int_equal(waiting[1].said.temp_mC, 40003);
    assert_int_equal(engine_view_batches(rig->engine, views, 4), 3);
    assert_int_equal(views[0].verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(views[1].verdict, VERDICT_MET);
    assert_int_equal(views[2].verdict, VERDICT_INCONCLUSIVE);
    assert_true(views[0].inconclusive && !views[1].inconclusive && views[2].inconclusive);
    hand_in(rig, 3, rig_time("0:00:30"), ENTRY_HAND,
            70000); /* seen hot: answered, for that batch only */
    assert_int_equal(engine_view_undecided(rig->engine, waiting, 4), 1);
    assert_int_equal(waiting[0].said.batch, 1);
    rig_free(rig);
}

/* ---- what is refused ---- */

static void
test_check_names_what_is_known(void **state)
{
    (void)state;
    rig_story(
        COOK_3_MIN,
        "0:00:00 begin stew p1\n0:00:00 begin dish p9\n0:00:00 begin dish p1 p1\n0:00:00 begin "
        "dish p1\n0:00:01 begin dish p1\n"
        "0:00:02 move nowhere\n0:00:03 end\n0:00:04 move\n0:00:05 move\n0:00:06 hand fridge9 "
        "5.0\n0:00:07 cooked 0:00:00\n"
        "0:00:08 decide yes\n0:00:09 action 7 AB\n0:00:10 action 7 ZZ\n",
        "refused: there is no product 'stew' in the plan; known are: dish\n"
        "refused: there is no probe 'p9' in the plan; food probes are: p1, p2, p3\n"
        "refused: probe 'p1' is named twice; name it once\n"
        "refused: probe 'p1' is in batch 1; name another, or end or move that batch first\n"
        "refused: 'dish' has no step 'nowhere'; its steps are: first, after\n"
        "refused: what became of the batch is missing; say served, stored or discarded\n"
        "0:00:04 deviation-opened left-early #1\n0:00:04 deviation-ended batch-ended #1\n"
        "refused: batch 1 is in its last step, 'after'; end it, or name a step to go back to\n"
        "refused: there is no place 'fridge9' in the plan; known are: fridge, shelf\n"
        "refused: batch 1 is in step 'after', which is no cooling; move it to its cooling "
        "first\n"
        "refused: nothing about batch 1 waits for a decision; batches that do: none\n"
        "refused: there is no deviation 7; not closed are: 1\n"
        "refused: nobody with the initials 'ZZ' is in the plan; known are: AB, SB, VK\n");
}

static void
test_check_refuses_an_air_probe_in_food(void **state)
{
    (void)state;
    rig_place_story(FRIDGE, "0:00:00 begin dish a1\n",
                    "refused: probe 'a1' measures air; name a probe that is put into food\n");
}

static void
test_check_without_a_plan_refuses_everything(void **state)
{
    (void)state;
    struct engine *engine = engine_new();
    struct entry entry;
    char err[200];
    entry_clear(&entry, ENTRY_NOTE);
    assert_false(engine_check(engine, &entry, err, sizeof err));
    assert_string_equal(err, "no plan is in force; start trivetd with a plan first");
    engine_free(engine);
}

static void
test_check_never_changes_the_engine(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_3_MIN, FRIDGE);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 50.0\n");
    static char before[400000], after[400000];
    size_t size = engine_save(rig->engine, before, sizeof before);
    struct entry entry;
    char err[300];
    for (int kind = ENTRY_NONE; kind <= ENTRY_CALIBRATE; kind++) {
        entry_clear(&entry, (enum entry_kind)kind);
        entry.batch = 1;
        snprintf(entry.who, sizeof entry.who, "AB");
        (void)engine_check(rig->engine, &entry, err, sizeof err);
    }
    assert_int_equal(engine_save(rig->engine, after, sizeof after), size);
    assert_memory_equal(before, after, size);
    rig_free(rig);
}

static void
test_batch_numbers_count_from_one_and_probes_come_free(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    assert_int_equal(engine_next_batch(rig->engine), 1);
    rig->all = true;
    rig_play(rig, "0:00:00 begin dish p1\n0:00:01 end served\n0:00:02 begin dish p1\n");
    rig_expect(rig, "0:00:00 step-begun entered\n0:00:01 batch-ended entered\n0:00:02 "
                    "step-begun entered batch 2\n");
    assert_int_equal(engine_next_batch(rig->engine), 3);
    rig_free(rig);
}

static void
test_batch_keeps_the_plan_it_began_under(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_AT_ONCE, NULL);
    rig->next_plan = rig_plan(COOK_3_MIN, NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:05 plan\n0:00:10 p1 63.0\n0:00:20 begin dish "
                  "p2\n0:00:30 p1 74.0\n");
    rig_expect(rig, "0:00:30 suspect-begun left-food p1 74.0 since 0:00:10\n");
    rig_play(rig, "0:00:40-0:01:30 p1 74.0\n");
    rig_expect(rig, "0:01:30 suspect-ended good-again p1 74.0 since 0:00:10\n"
                    "0:01:30 limit-met reached p1 74.0 since 0:01:30\n");
    assert_ptr_not_equal(rig_batch(rig).plan, engine_plan(rig->engine));
    rig_free(rig);
}

/* More verdicts waiting than there is room for: the next is a deviation at once, never nothing.
 */
static void
test_undecided_beyond_the_list_is_a_deviation(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    char script[200];
    for (int i = 1; i <= ENGINE_UNDECIDED_MAX + 2; i++) {
        snprintf(script, sizeof script, "0:%02d:%02d begin dish\n", i / 30, i % 30 * 2);
        rig_play(rig, script);
        struct engine_input input = {.kind = ENGINE_ENTRY,
                                     .at_ms = rig_time("0:00:00") + i * 2000 + 500};
        struct entry entry;
        entry_clear(&entry, ENTRY_HAND);
        strcpy(entry.who, "AB");
        strcpy(entry.thermometer, "pen");
        entry.batch = (uint32_t)i;
        entry.has_temp = true;
        entry.temp_mC = 4000;
        input.is.entry = &entry;
        input.seq = ++rig->seq;
        rig_feed(rig, &input);
        assert_int_equal(rig->out.count, 1);
        const struct decision *d = &rig->out.decisions[0];
        bool full = i > ENGINE_UNDECIDED_MAX;
        assert_int_equal(d->kind, full ? DECISION_DEVIATION_OPENED : DECISION_INCONCLUSIVE);
        assert_int_equal(d->reason, REASON_PROBE_LATE);
        entry_clear(&entry, ENTRY_END);
        strcpy(entry.who, "AB");
        entry.batch = (uint32_t)i;
        entry.outcome = OUTCOME_STORED;
        input.seq = ++rig->seq;
        rig_feed(rig, &input);
        assert_int_equal(rig->out.count, full ? 2 : 1);
    }
    struct engine_deviation_view view[4];
    assert_int_equal(engine_view_deviations(rig->engine, view, 4), 2);
    assert_int_not_equal(view[1].ended_ms, TIME_NONE);
    rig_free(rig);
}

/* E1, E71: exactly at a strict limit, as corrected, it would not have been met. */
static void
test_correction_to_exactly_a_strict_limit_asks(void **state)
{
    (void)state;
    static const struct {
        const char *limit, *corrected, *asked;
    } cases[] = {
        {"{kind: cook, applies_to: food, at_least: 74 °C, strict: yes}", "74.0",
         "0:02:00 inconclusive corrected 74.0 since 0:01:00\n"},
        {"{kind: cook, applies_to: food, at_least: 74 °C, strict: yes}", "74.001", ""},
        {"{kind: cook, applies_to: food, at_least: 74 °C}", "74.0", ""},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char script[100], log[200];
        (void)snprintf(script, sizeof script,
                       "0:00:00 begin dish\n0:01:00 hand 75.0\n0:02:00 correct 4 %s\n",
                       cases[i].corrected);
        (void)snprintf(log, sizeof log, "0:01:00 limit-met hand-reading 75.0 since 0:01:00\n%s",
                       cases[i].asked);
        rig_story(cases[i].limit, script, log);
    }
}

/* E14, E71: nothing was met by it that a correction could put in doubt. */
static void
test_correction_of_a_reading_that_came_too_late_asks_nothing(void **state)
{
    (void)state;
    rig_story("{kind: reheat, applies_to: food, at_least: 74 °C, within: 1 h}",
              "0:00:00 begin dish\n1:00:00 wait\n1:10:00 hand 75.0\n1:20:00 correct 4 60.0\n",
              "1:00:00 deviation-opened too-late #1 since 0:00:00 found 1:00:00\n"
              "1:10:00 deviation-ended hand-reading #1 75.0 since 1:10:00\n");
}

/* E70: remembered are the last 128 hand readings. What probes have met since counts for none.
 */
static void
test_hand_reading_is_remembered_whatever_probes_have_met_since(void **state)
{
    (void)state;
    static const struct {
        const char *limit, *by_hand, *first, *by_probe, *corrected;
    } cases[] = {
        {"{kind: cook, applies_to: food, at_least: 74 °C}", "75.0", "73.0", "75.0", "73.0"},
        {"{kind: cook_table, applies_to: food, rows: [{at_least: 70 °C, for: 1 min}, "
         "{at_least: 74 °C, for: 0 s}]}",
         "75.0", "73.0", "75.0", "73.0"},
        {"{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 56 °C, within: 2 h}]}",
         "55.0", "58.0", "56.0", "56.5"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_new(cases[i].limit, NULL);
        char script[200];
        (void)snprintf(script, sizeof script,
                       "0:00:00 begin dish\n0:01:00 hand 58.0\n0:02:00 hand %s\n",
                       cases[i].by_hand);
        rig_play(rig, script);
        uint64_t hand = rig->seq;
        for (int k = 2; k < 2 + 130; k++) {
            (void)snprintf(script, sizeof script,
                           "%d:%02d:00 begin dish p1\n%d:%02d:10 p1 %s\n%d:%02d:20 p1 %s\n"
                           "%d:%02d:30 p1 %s\n%d:%02d:50 end batch=%d served\n",
                           k / 60, k % 60, k / 60, k % 60, cases[i].first, k / 60, k % 60,
                           cases[i].by_probe, k / 60, k % 60, cases[i].by_probe, k / 60, k % 60,
                           k);
            rig_play(rig, script);
            rig->log[rig->log_len] = '\0';
            assert_non_null(strstr(rig->log, "limit-met"));
            rig->log_len = 0;
        }
        (void)snprintf(script, sizeof script, "3:00:00 correct %d %s\n", (int)hand,
                       cases[i].corrected);
        rig_play(rig, script);
        assert_int_equal(rig->out.count, 1);
        assert_int_equal(rig->out.decisions[0].kind, DECISION_INCONCLUSIVE);
        assert_int_equal(rig->out.decisions[0].reason, REASON_CORRECTED);
        rig_free(rig);
    }
}

/* E84: told and numbered, and not listed. */
static void
test_deviation_of_a_batch_beyond_the_list_is_told(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 74 °C}", NULL);
    char script[100], log[200];
    for (int i = 1; i <= ENGINE_DEVIATIONS_MAX + 1; i++) {
        (void)snprintf(script, sizeof script,
                       "%d:%02d:00 begin dish\n%d:%02d:10 end batch=%d served\n", i / 60,
                       i % 60, i / 60, i % 60, i);
        rig->log_len = 0;
        rig_play(rig, script);
    }
    (void)snprintf(log, sizeof log,
                   "4:17:10 deviation-opened left-early #%d batch %d\n"
                   "4:17:10 deviation-ended batch-ended #%d batch %d\n",
                   ENGINE_DEVIATIONS_MAX + 1, ENGINE_DEVIATIONS_MAX + 1,
                   ENGINE_DEVIATIONS_MAX + 1, ENGINE_DEVIATIONS_MAX + 1);
    rig_expect(rig, log);
    static struct engine_deviation_view views[ENGINE_DEVIATIONS_MAX + 1];
    assert_int_equal(engine_view_deviations(rig->engine, views, ENGINE_DEVIATIONS_MAX + 1),
                     ENGINE_DEVIATIONS_MAX);
    rig_free(rig);
}

/* E72: what is corrected to inside begins nothing, and it ends nothing either. */
static void
test_correction_to_inside_ends_no_excursion(void **state)
{
    (void)state;
    rig_story("{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 10 min}",
              "0:00:00 begin dish\n0:01:00 hand 9.0\n0:02:00 correct 4 3.0\n0:12:00 wait\n",
              "0:11:00 deviation-opened out-too-long #1 9.0 since 0:01:00 found 0:10:00\n");
    rig_story("{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 10 min}",
              "0:00:00 begin dish\n0:01:00 hand 50.0\n0:02:00 correct 4 60.0\n0:12:00 wait\n",
              "0:11:00 deviation-opened out-too-long #1 50.0 since 0:01:00 found 0:10:00\n");
}

/* A record may name anything, also before there is a plan that has it. */
static void
test_entries_before_the_first_plan_are_of_nothing(void **state)
{
    (void)state;
    for (enum entry_kind kind = ENTRY_NONE; kind <= ENTRY_CALIBRATE; kind++) {
        struct engine *engine = engine_new();
        static struct engine_output out;
        struct entry entry;
        assert_non_null(engine);
        entry_clear(&entry, kind);
        (void)strcpy(entry.who, "AB");
        (void)strcpy(entry.product, "dish");
        (void)strcpy(entry.place, "fridge");
        (void)strcpy(entry.thermometer, "pen");
        entry.batch = entry.deviation = 1;
        entry.has_temp = true;
        entry.for_ms = 60000;
        entry.point_count = 1;
        struct engine_input input = {
            .kind = ENGINE_ENTRY, .at_ms = RIG_BASE_MS, .seq = 1, .is.entry = &entry};
        engine_step(engine, &input, &out);
        assert_int_equal(out.count, 0);
        input = (struct engine_input){
            .kind = ENGINE_RESTART, .at_ms = RIG_BASE_MS + 1000, .seq = 2};
        input.is.since_ms = RIG_BASE_MS;
        engine_step(engine, &input, &out);
        assert_int_equal(out.count, 0);
        assert_int_equal(engine_next_batch(engine), 1);
        assert_null(engine_plan(engine));
        engine_free(engine);
    }
}

/* E62: a person vouches for what nobody saw, and for nothing that was seen. */
static void
test_answer_for_an_outage_leaves_what_was_seen_later(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new("{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 10 min}", NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:50 p1 58.0\n0:01:00-0:05:00 p1 56.0\n"
             "0:12:00 restart 0:05:00\n0:12:10-0:14:00 p1 58.0\n0:14:10-0:24:20 p1 56.0\n");
    enum engine_verdict verdict = rig_batch(rig).verdict;
    assert_int_equal(verdict, VERDICT_NOT_MET);
    rig_play(rig, "0:24:25 decide yes\n");
    assert_int_equal(rig_batch(rig).verdict, verdict);
    rig_free(rig);
}

/* E82: a record that verifies what was never acted on, as no entry could, closes nothing. */
static void
test_deviation_without_an_action_is_not_closed_by_a_verification_on_record(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 74 °C}", NULL);
    rig_play(rig, "0:00:00 begin dish\n0:01:00 end served\n");
    struct engine_deviation_view view;
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    struct entry entry;
    entry_clear(&entry, ENTRY_VERIFY);
    (void)snprintf(entry.who, sizeof entry.who, "VK");
    entry.deviation = view.number;
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time("0:02:00"), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    rig_play(rig, "0:03:00 action 1 AB\n0:04:00 verify 1 VK\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 0);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_correction_that_stays_inside_breaches_nothing),
        cmocka_unit_test(test_correction_after_a_move_asks_about_the_step_that_was_left),
        cmocka_unit_test(test_closing_one_of_several_deviations_keeps_the_others),
        cmocka_unit_test(test_deciding_one_of_several_batches_keeps_the_others),
        cmocka_unit_test(test_hand_reading_meets_an_instantaneous_cook),
        cmocka_unit_test(test_hand_reading_does_not_outvote_a_colder_probe),
        cmocka_unit_test(test_hand_reading_earns_no_holding_time),
        cmocka_unit_test(test_hand_reading_below_breaks_a_cook),
        cmocka_unit_test(test_hand_readings_alone_carry_a_cooling),
        cmocka_unit_test(test_hand_reading_breaches_a_holding_limit),
        cmocka_unit_test(test_hand_reading_outside_stands_until_every_probe_says_otherwise),
        cmocka_unit_test(test_hand_reading_inside_changes_nothing_where_a_probe_watches),
        cmocka_unit_test(test_hand_reading_of_a_place_breaches_its_limit),
        cmocka_unit_test(test_hand_readings_end_an_excursion_that_nothing_else_watches),
        cmocka_unit_test(test_correction_that_would_not_have_met_the_limit_is_inconclusive),
        cmocka_unit_test(test_correction_after_the_batch_has_ended_still_asks),
        cmocka_unit_test(test_correction_asks_for_each_stage_that_rests_on_the_reading),
        cmocka_unit_test(test_correction_to_outside_breaches_a_holding_limit),
        cmocka_unit_test(test_deviation_closes_when_ended_acted_on_and_verified_by_another),
        cmocka_unit_test(test_later_action_is_to_be_verified_again),
        cmocka_unit_test(test_sole_operator_may_verify_but_a_cook_may_not),
        cmocka_unit_test(test_check_names_what_is_known),
        cmocka_unit_test(test_check_refuses_an_air_probe_in_food),
        cmocka_unit_test(test_check_without_a_plan_refuses_everything),
        cmocka_unit_test(test_check_never_changes_the_engine),
        cmocka_unit_test(test_batch_numbers_count_from_one_and_probes_come_free),
        cmocka_unit_test(test_undecided_beyond_the_list_is_a_deviation),
        cmocka_unit_test(test_batch_keeps_the_plan_it_began_under),
        cmocka_unit_test(test_correction_to_exactly_a_strict_limit_asks),
        cmocka_unit_test(test_correction_of_a_reading_that_came_too_late_asks_nothing),
        cmocka_unit_test(test_hand_reading_is_remembered_whatever_probes_have_met_since),
        cmocka_unit_test(test_deviation_of_a_batch_beyond_the_list_is_told),
        cmocka_unit_test(test_correction_to_inside_ends_no_excursion),
        cmocka_unit_test(test_entries_before_the_first_plan_are_of_nothing),
        cmocka_unit_test(test_answer_for_an_outage_leaves_what_was_seen_later),
        cmocka_unit_test(
            test_deviation_without_an_action_is_not_closed_by_a_verification_on_record),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
