/* Hand readings, their corrections and decisions where there are several batches:
 * docs/engine.md E48, E50 to E54, E70 to E73, E196. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define COOK "{kind: cook, applies_to: food, at_least: 74 °C, for: 0 s}"
#define COOL                                                                                   \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, {to: 5 " \
    "°C, within: 6 h}]}"
#define HOT "{kind: hold_hot, applies_to: food, at_least: 57 °C, back_for: 1 min}"
#define FRIDGE                                                                                 \
    "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 10 min, back_for: 1 min}"

static void
enter(struct rig *rig, const char *at, struct entry *entry)
{
    (void)strcpy(entry->who, "SB");
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq, .is.entry = entry};
    rig_feed(rig, &input);
}

static void
hand(struct rig *rig, const char *at, uint32_t batch, const char *place, int32_t temp_mC)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_HAND);
    (void)strcpy(entry.thermometer, "pen");
    (void)strcpy(entry.place, place);
    entry.batch = batch;
    entry.has_temp = true;
    entry.temp_mC = temp_mC;
    enter(rig, at, &entry);
}

/* E48: what a person measures makes each probe credible that shows the same. */
static void
test_hand_reading_makes_every_probe_that_agrees_credible(void **state)
{
    (void)state;
    struct rig *rig = rig_new(HOT, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1 p2 p3\n0:00:10-0:10:00 p1,p2,p3 80.0\n0:10:10 p1,p2,p3 "
             "70.0\n");
    rig_expect(rig, "0:10:10 suspect-begun left-food p1 70.0 since 0:10:00\n"
                    "0:10:10 suspect-begun left-food p2 70.0 since 0:10:00\n"
                    "0:10:10 suspect-begun left-food p3 70.0 since 0:10:00\n");
    hand(rig, "0:10:15", 1, "", 70500);
    rig_expect(rig, "0:10:15 suspect-ended hand-reading p1 70.5 since 0:10:00\n"
                    "0:10:15 suspect-ended hand-reading p2 70.5 since 0:10:00\n"
                    "0:10:15 suspect-ended hand-reading p3 70.5 since 0:10:00\n");
    rig_free(rig);
}

static void
test_hand_reading_of_a_batch_is_none_of_the_place_it_is_in(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, FRIDGE);
    rig_play(rig, "0:00:00 begin dish place=fridge\n0:00:10 a1 4.0\n");
    hand(rig, "0:00:15", 1, "fridge", 20000);
    assert_false(rig_place(rig).outside);
    rig_free(rig);
}

/* The place's own time runs from the hand reading on, without another one. */
static void
test_place_that_a_person_found_too_warm_is_told_when_its_tolerance_is_used_up(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:10 a1 4.0\n");
    hand(rig, "0:00:15", 0, "fridge", 9000);
    assert_true(rig_place(rig).outside);
    rig_play(rig, "0:10:15 wait\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 fridge p4 since 0:00:10 found "
                    "0:05:00\n"
                    "0:10:15 deviation-opened out-too-long #2 of #1 silent fridge 9.0 since "
                    "0:00:15 found 0:10:00\n");
    rig_free(rig);
}

/* ---- corrections ---- */

/* Records: 1 start, 2 plan, 3 to 5 the batches, 6 to 8 their hand readings. */
static void
test_correction_asks_about_the_reading_it_corrects_and_no_other(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, NULL);
    struct engine_batch_view views[3];
    rig_play(rig, "0:00:00 begin dish\n0:00:00 begin dish\n0:00:00 begin dish\n");
    for (uint32_t batch = 1; batch <= 3; batch++)
        hand(rig, "0:10:00", batch, "", 75000);
    rig->log_len = 0;
    rig_play(rig, "0:11:00 correct 7 60.0\n");
    rig_expect(rig, "0:11:00 inconclusive corrected batch 2 60.0 since 0:10:00\n");
    assert_int_equal(engine_view_batches(rig->engine, views, 3), 3);
    assert_int_equal(views[0].verdict, VERDICT_MET);
    assert_int_equal(views[1].verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(views[2].verdict, VERDICT_MET);
    rig_play(rig, "0:12:00 decide no batch=2\n");
    assert_int_equal(engine_view_batches(rig->engine, views, 3), 3);
    assert_int_equal(views[0].verdict, VERDICT_MET);
    assert_int_equal(views[1].verdict, VERDICT_NOT_MET);
    assert_int_equal(views[1].deviation, 1);
    rig_free(rig);
}

static void
test_correction_to_well_inside_breaches_nothing(void **state)
{
    (void)state;
    rig_story(HOT, "0:00:00 begin dish\n0:01:00 hand 65.0\n0:02:00 correct 4 60.0\n", "");
    rig_story("{kind: hold_cold, applies_to: food, at_most: 5 °C}",
              "0:00:00 begin dish\n0:01:00 hand 4.0\n0:02:00 correct 4 2.0\n", "");
}

/* E70: the last 128 are remembered. */
static void
test_reading_that_was_long_ago_is_corrected_on_record_only(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, NULL);
    rig_play(rig, "0:00:00 begin dish\n0:00:00 begin dish\n");
    hand(rig, "0:01:00", 1, "", 75000); /* record 5, and that the limit rests on it */
    for (int i = 0; i < 126; i++)
        hand(rig, "0:02:00", 2, "", 60000);
    rig_play(rig, "0:03:00 correct 5 60.0\n");
    rig_expect(rig, "0:01:00 limit-met hand-reading 75.0 since 0:01:00\n"
                    "0:03:00 inconclusive corrected 60.0 since 0:01:00\n");
    rig_free(rig);
    rig = rig_new(COOK, NULL);
    rig_play(rig, "0:00:00 begin dish\n0:00:00 begin dish\n");
    hand(rig, "0:01:00", 1, "", 75000);
    for (int i = 0; i < 128; i++)
        hand(rig, "0:02:00", 2, "", 60000);
    rig_play(rig, "0:03:00 correct 5 60.0\n");
    rig_expect(rig, "0:01:00 limit-met hand-reading 75.0 since 0:01:00\n");
    rig_free(rig);
}

/* E73: 128 questions wait already, and the batch has ended: a deviation that ends at once. */
static void
test_correction_beyond_the_list_of_questions_is_a_deviation(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK "}\n      - {id: cool, name: Cool, limit: " COOL, NULL);
    static struct engine_undecided_view views[ENGINE_UNDECIDED_MAX + 1];
    char line[160];
    for (int i = 1; i <= 128; i++) {
        (void)snprintf(line, sizeof line,
                       "0:03:00 begin dish step=cool\n0:03:00 hand 4.0 batch=%d\n0:03:00 end "
                       "stored batch=%d\n",
                       i, i);
        rig_play(rig, line);
    }
    assert_int_equal(engine_view_undecided(rig->engine, views, ENGINE_UNDECIDED_MAX + 1), 128);
    rig_reload(rig);
    rig_play(rig, "0:03:10 begin dish\n0:03:20 hand 75.0 batch=129\n");
    (void)snprintf(line, sizeof line, "0:03:30 end served batch=129\n0:04:00 correct %d 60.0\n",
                   (int)rig->seq);
    rig->log_len = 0;
    rig_play(rig, line);
    rig_expect(rig, "0:04:00 deviation-opened corrected #1 batch 129 60.0 since 0:03:20\n");
    struct engine_deviation_view deviation;
    assert_int_equal(engine_view_deviations(rig->engine, &deviation, 1), 1);
    assert_int_equal(deviation.ended_ms, rig_time("0:04:00"));
    /* One is decided, and there is room again. */
    rig_play(rig,
             "0:05:00 decide yes batch=128\n0:05:00 begin dish step=cool\n0:05:00 hand 4.0 "
             "batch=130\n");
    assert_int_equal(engine_view_undecided(rig->engine, views, ENGINE_UNDECIDED_MAX + 1), 128);
    assert_int_equal(views[0].said.batch, 1);
    assert_int_equal(views[126].said.batch, 127);
    assert_int_equal(views[127].said.batch, 130);
    rig_free(rig);
}

/* ---- reviews ---- */

static void
test_last_days_that_were_reviewed_are_remembered(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    struct entry entry;
    for (int i = 1; i <= 130; i++) {
        entry_clear(&entry, ENTRY_REVIEW);
        char day[40];
        (void)snprintf(day, sizeof day, "2026-%02d-%02d", i / 28 + 1, i % 28 + 1);
        memcpy(entry.day, day, sizeof entry.day);
        enter(rig, "0:00:10", &entry);
        assert_true(engine_reviewed(rig->engine, entry.day));
        assert_true(engine_reviewed(rig->engine, i >= 2 ? "2026-01-03" : entry.day) ||
                    i == 130);
    }
    rig_reload(rig);
    assert_false(engine_reviewed(rig->engine, "2026-01-02"));
    assert_false(engine_reviewed(rig->engine, "2026-01-03"));
    assert_true(engine_reviewed(rig->engine, "2026-01-04"));
    assert_true(engine_reviewed(rig->engine, "2026-05-19"));
    assert_false(engine_reviewed(rig->engine, "2026-05-20"));
    rig_free(rig);
}

/* A limit that stood after its reading rests on it; a deviation that ended so is none the less
 * one, whatever the reading is corrected to. */
static void
test_correction_of_a_reading_that_came_too_late_asks_nothing(void **state)
{
    (void)state;
    static const char limit[] =
        "{kind: reheat, applies_to: food, at_least: 74 °C, within: 10 min, stand: 2 min}";
    rig_story(limit,
              "0:00:00 begin dish\n0:09:00 hand 75.0\n0:14:00 wait\n0:15:00 correct 4 60.0\n",
              "0:11:00 limit-met stood 75.0 since 0:09:00\n"
              "0:15:00 inconclusive corrected 60.0 since 0:09:00\n");
    rig_story(limit,
              "0:00:00 begin dish\n0:11:00 hand 75.0\n0:14:00 wait\n0:15:00 correct 4 60.0\n",
              "0:10:00 deviation-opened too-late #1 since 0:00:00 found 0:10:00\n"
              "0:13:00 deviation-ended stood #1 75.0 since 0:11:00\n");
}

/* E72: from the correction on the time outside counts, and is told when it is used up. */
static void
test_correction_to_outside_is_told_when_the_tolerance_is_used_up(void **state)
{
    (void)state;
    rig_story("{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 10 min}",
              "0:00:00 begin dish\n0:00:10 hand 4.0\n0:01:00 correct 4 9.0\n0:12:00 wait\n",
              "0:11:00 deviation-opened out-too-long #1 9.0 since 0:01:00 found 0:10:00\n");
}

/* E54: with none outside in between. */
static void
test_hand_reading_outside_begins_the_way_back_anew(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new("{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 0 s, "
                "back_for: 1 min}",
                NULL);
    rig_play(rig, "0:00:00 begin dish\n0:00:10 hand 9.0\n0:01:00 hand 4.0\n0:01:30 hand 9.0\n"
                  "0:02:00 hand 4.0\n0:02:30 hand 4.0\n");
    rig_expect(rig, "0:00:10 deviation-opened out-too-long #1 9.0 since 0:00:10\n");
    rig_play(rig, "0:03:00 hand 4.0\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:03:00 deviation-ended hand-reading #1 4.0 worst 9.0"));
    rig_free(rig);
}

/* E70: what is forgotten leaves nothing to the reading that takes its room. */
static void
test_reading_in_the_room_of_one_that_met_a_limit_meets_none(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, NULL);
    rig_play(rig, "0:00:00 begin dish\n0:00:00 begin dish\n");
    hand(rig, "0:01:00", 1, "", 75000);
    for (int i = 0; i < 128; i++)
        hand(rig, "0:02:00", 2, "", 60000);
    rig->log_len = 0;
    for (unsigned record = 6; record < 6 + 128; record++) {
        char line[48];
        (void)snprintf(line, sizeof line, "0:03:00 correct %u 50.0\n", record);
        rig_play(rig, line);
    }
    rig_expect(rig, "");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_hand_reading_makes_every_probe_that_agrees_credible),
        cmocka_unit_test(test_hand_reading_of_a_batch_is_none_of_the_place_it_is_in),
        cmocka_unit_test(
            test_place_that_a_person_found_too_warm_is_told_when_its_tolerance_is_used_up),
        cmocka_unit_test(test_correction_asks_about_the_reading_it_corrects_and_no_other),
        cmocka_unit_test(test_correction_to_well_inside_breaches_nothing),
        cmocka_unit_test(test_reading_that_was_long_ago_is_corrected_on_record_only),
        cmocka_unit_test(test_reading_in_the_room_of_one_that_met_a_limit_meets_none),
        cmocka_unit_test(test_correction_beyond_the_list_of_questions_is_a_deviation),
        cmocka_unit_test(test_last_days_that_were_reviewed_are_remembered),
        cmocka_unit_test(test_correction_of_a_reading_that_came_too_late_asks_nothing),
        cmocka_unit_test(test_correction_to_outside_is_told_when_the_tolerance_is_used_up),
        cmocka_unit_test(test_hand_reading_outside_begins_the_way_back_anew),
    };
    return cmocka_run_group_tests_name("engine hands", tests, NULL, NULL);
}
