/* What is shown of a running limit at a given moment, and what a decision says of the limit it
 * was made by. Limits are printed here; the figures follow from the scripts. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

#define COOK_15 "{kind: cook, applies_to: food, at_least: 70 °C, for: 2 min, within: 15 min}"
#define TWO_STAGES                                                                             \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, {to: 5 " \
    "°C, within: 6 h}]}"

/* The last decision of that kind in what the last input decided. */
static const struct decision *
decided(const struct rig *rig, enum decision_kind kind)
{
    for (size_t i = rig->out.count; i-- > 0;)
        if (rig->out.decisions[i].kind == kind)
            return &rig->out.decisions[i];
    fail_msg("nothing of kind %s was decided", decision_kind_word(kind));
    return NULL;
}

static struct rig *
begun(const char *limit, const char *script)
{
    struct rig *rig = rig_new(limit, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n");
    rig_play(rig, script);
    return rig;
}

/* ---- running limits ---- */

static void
test_shown_cook_has_its_credit_its_deadline_and_its_coldest_probe(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_15, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 60.0\n");
    struct engine_batch_view view = rig_batch(rig);
    assert_int_equal(view.credited_ms, 0);
    assert_int_equal(view.deadline_ms, rig_time("0:15:00"));
    assert_int_equal(view.stands_until_ms, TIME_NONE);
    assert_int_equal(view.verdict, VERDICT_OPEN);
    rig_play(rig, "0:00:20-0:01:20 p1 75.0\n0:01:30 p1,p2 71.0\n");
    rig_free(rig);
    rig = rig_new(COOK_15, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10-0:01:20 p1 75.0\n");
    rig_play(rig, "0:01:30 p2 71.0\n0:01:40 p1 72.0\n");
    view = rig_batch(rig);
    assert_int_equal(view.governing_probe, 2);
    assert_int_equal(view.governing_mC, 71000);
    rig_play(rig, "0:01:50 p1 72.0\n0:02:00 p1 72.0\n");
    assert_int_equal(rig_batch(rig).governing_mC, 71000); /* exactly the spacing is fresh */
    rig_play(rig, "0:02:10 p1 72.0\n");
    assert_int_equal(rig_batch(rig).governing_probe, 1); /* nobody knows of the other */
    rig_free(rig);
}

static void
test_shown_credit_is_what_all_probes_have_held(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_15, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10-0:00:40 p1 75.0\n0:00:50-0:01:30 p1,p2 "
                  "75.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 40000);
    rig_free(rig);
}

static void
test_shown_table_has_its_credit_and_no_deadline(void **state)
{
    (void)state;
    struct rig *rig =
        begun("{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
              "min}, {at_least: 65 °C, for: 2 min}]}",
              "0:00:10-0:01:00 p1 66.0\n");
    assert_int_equal(rig_batch(rig).deadline_ms, TIME_NONE);
    assert_int_equal(rig_batch(rig).stands_until_ms, TIME_NONE);
    assert_int_equal(rig_batch(rig).governing_mC, 66000);
    rig_free(rig);
}

static void
test_shown_stand_says_until_when(void **state)
{
    (void)state;
    struct rig *rig = begun("{kind: reheat, applies_to: food, at_least: 74 °C, within: 2 h, "
                            "stand: 2 min}",
                            "0:00:10 p1 50.0\n0:00:20 p1 50.0\n");
    assert_int_equal(rig_batch(rig).stands_until_ms, TIME_NONE);
    rig_play(rig, "0:00:30-0:05:00 p1 50.0 75.0\n");
    assert_int_equal(rig_batch(rig).stands_until_ms - rig_batch(rig).begun_ms,
                     (4 * 60 + 50 + 120) * 1000);
    rig_free(rig);
}

static void
test_shown_holding_has_its_time_outside_and_when_it_is_used_up(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new("{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 10 "
                "min, back_for: 2 min}",
                NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 4.0\n");
    assert_false(rig_batch(rig).outside);
    assert_int_equal(rig_batch(rig).deadline_ms, TIME_NONE);
    rig_play(rig, "0:00:20-0:03:20 p1,p2 6.0\n");
    struct engine_batch_view view = rig_batch(rig);
    assert_true(view.outside);
    assert_int_equal(view.outside_ms, 180000);
    assert_int_equal(view.deadline_ms, rig_time("0:10:20"));
    rig_play(rig, "0:03:30-0:04:00 p1,p2 4.0\n");
    view = rig_batch(rig);
    assert_false(view.outside);
    assert_int_equal(view.outside_ms, 190000); /* not forgotten yet */
    assert_int_equal(view.deadline_ms, TIME_NONE);
    rig_play(rig, "0:04:10 p1 6.0\n0:04:10 p2 7.0\n");
    view = rig_batch(rig);
    assert_int_equal(view.deadline_ms, rig_time("0:11:00"));
    assert_int_equal(view.governing_probe, 2); /* the warmest */
    assert_int_equal(view.governing_mC, 7000);
    rig_play(rig, "0:04:20-0:12:00 p1,p2 6.0\n");
    view = rig_batch(rig);
    assert_int_equal(view.deadline_ms, TIME_NONE); /* it is over already */
    assert_int_equal(view.deviation, 1);
    assert_int_equal(view.verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

static void
test_shown_period_is_the_one_there_is_and_none_once_it_is_over(void **state)
{
    (void)state;
    struct rig *rig = begun("{kind: hold_hot, applies_to: food, at_least: 63 °C, one_period: 2 "
                            "h, back_for: 1 min}",
                            "0:00:10-0:01:00 p1 64.0\n0:01:10 p1 62.0\n");
    struct engine_batch_view view = rig_batch(rig);
    assert_true(view.outside);
    assert_false(view.period_over);
    assert_int_equal(view.deadline_ms, rig_time("2:01:00"));
    rig_play(rig, "0:01:20-0:02:30 p1 64.0\n0:02:40 p1 62.0\n");
    assert_true(rig_batch(rig).period_over);
    rig_free(rig);
}

static void
test_shown_cooling_has_its_clock_its_stage_and_its_deadline(void **state)
{
    (void)state;
    struct rig *rig = rig_new(TWO_STAGES, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10-0:02:00 p1,p2 70.0\n");
    struct engine_batch_view view = rig_batch(rig);
    assert_int_equal(view.clock_start_ms, TIME_NONE);
    assert_int_equal(view.deadline_ms, TIME_NONE);
    assert_int_equal(view.stage, 1);
    rig_play(rig, "0:02:10-0:10:00 p1,p2 69.9 57.0\n");
    view = rig_batch(rig);
    assert_int_equal(view.clock_start_ms, rig_time("0:09:50"));
    assert_int_equal(view.deadline_ms, rig_time("2:09:50"));
    rig_play(rig, "0:10:10-1:30:00 p1,p2 57.0 20.0\n1:30:10 p1 20.0\n1:30:10 p2 21.0\n");
    view = rig_batch(rig);
    assert_int_equal(view.stage, 2);
    assert_int_equal(view.deadline_ms, rig_time("6:09:50"));
    assert_int_equal(view.governing_probe, 2); /* the warmest */
    rig_play(rig, "1:30:20-3:00:00 p1,p2 20.0 5.0\n");
    view = rig_batch(rig);
    assert_int_equal(view.stage, 3);
    assert_int_equal(view.deadline_ms, TIME_NONE);
    assert_int_equal(view.verdict, VERDICT_MET);
    rig_free(rig);
}

/* A stage that counts from the one before has no deadline until that is reached (E90). */
static void
test_shown_stage_that_waits_for_the_one_before_has_no_deadline(void **state)
{
    (void)state;
    struct rig *rig =
        begun("{kind: cool, applies_to: food, from: 60 °C, stages: [{to: 21 °C, "
              "within: 2 h}, {to: 5 °C, within: 4 h, counts_from: stage_before}]}",
              "0:00:10-0:02:00 p1 70.0\n0:02:10-0:10:00 p1 69.9 50.0\n"
              "0:10:10-1:00:00 p1 50.0 21.0\n");
    assert_int_equal(rig_batch(rig).stage, 2);
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("5:00:00"));
    rig_free(rig);
}

static void
test_shown_time_without_control_ends_when_it_is_up(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: time_control, applies_to: food, left_at_most: 5 °C, "
                              "within: 4 h}",
                              NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1 4.0\n0:00:10 p2 5.0\n");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("4:00:00"));
    assert_int_equal(rig_batch(rig).governing_probe, 2);
    rig_free(rig);
    rig = rig_new("{kind: time_control, applies_to: food, left_at_least: 57 °C, within: 4 h}",
                  NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1 60.0\n0:00:10 p2 70.0\n");
    assert_int_equal(rig_batch(rig).governing_probe, 1);
    rig_free(rig);
}

static void
test_shown_zone_counts_up_to_now(void **state)
{
    (void)state;
    rig_life = "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 57 °C, "
               "within: 4 h}";
    struct rig *rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n");
    assert_false(rig_batch(rig).in_zone);
    rig_play(rig, "0:00:20-0:10:20 p1 7.0\n");
    struct engine_batch_view view = rig_batch(rig);
    assert_true(view.in_zone);
    assert_int_equal(view.zone_ms, 610000); /* since it was last seen outside */
    assert_int_equal(view.life_verdict, VERDICT_OPEN);
    rig_play(rig, "0:10:30-0:20:00 p1 4.0\n");
    view = rig_batch(rig);
    assert_false(view.in_zone);
    assert_int_equal(view.zone_ms, 620000);
    assert_int_equal(view.zone_unknown_ms, 0);
    rig_play(rig, "0:22:00 p1 4.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 620000);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 120000); /* nobody saw it */
    rig_play(rig, "0:22:10-4:14:00 p1 7.0\n");
    view = rig_batch(rig);
    assert_int_equal(view.life_verdict, VERDICT_NOT_MET);
    assert_int_equal(view.life_deviation, 1);
    assert_int_equal(view.deviation, 0); /* the step has no limit */
    rig_life = NULL;
    rig_free(rig);
}

/* The worst of what is judged beside the step's own limit is the batch's verdict. */
/* A product without such a limit has no time between cold and hot. */
static void
test_no_zone_is_shown_where_the_product_has_none(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 7.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 0);
    assert_false(rig_batch(rig).in_zone);
    rig_free(rig);
}

/* The step's own deviation is shown where its come-up time is in order. */
static void
test_deviation_of_the_step_is_shown_beside_a_come_up_time(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 70 °C, within: 5 min, "
                              "come_up_from: 10 °C, come_up_to: 54 °C, come_up_within: 6 h}",
                              NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 60.0\n");
    assert_int_equal(rig_batch(rig).deviation, 1);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

static void
test_shown_verdict_is_the_worst_of_what_is_judged_at_once(void **state)
{
    (void)state;
    static const char limit[] =
        "{kind: cook, applies_to: food, at_least: 70 °C, come_up_from: 10 °C, come_up_to: 54 "
        "°C, come_up_within: 20 min}";
    struct rig *rig = begun(limit, "0:00:10 p1 5.0\n0:00:20-0:25:00 p1 20.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    assert_int_equal(rig_batch(rig).deviation, 1);
    rig_play(rig, "0:25:10-0:40:00 p1 20.0 75.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET); /* cooked, and too slowly */
    rig_free(rig);
    rig = begun(limit, "0:00:10 p1 5.0\n0:00:20-0:10:00 p1 5.0 75.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    assert_int_equal(rig_batch(rig).deviation, 0);
    rig_free(rig);
}

static void
test_question_about_a_batch_is_shown_with_it_and_with_no_other(void **state)
{
    (void)state;
    struct rig *rig = rig_new(TWO_STAGES, NULL);
    struct engine_batch_view views[3];
    rig_play(rig, "0:00:00 begin dish p1\n0:00:00 begin dish p2\n0:00:00 begin dish p3\n"
                  "0:00:10 p1 70.0\n0:00:10 p2 40.0\n0:00:10 p3 70.0\n");
    assert_int_equal(engine_view_batches(rig->engine, views, 3), 3);
    assert_false(views[0].inconclusive);
    assert_true(views[1].inconclusive);
    assert_int_equal(views[1].inconclusive_reason, REASON_PROBE_LATE);
    assert_int_equal(views[1].verdict, VERDICT_INCONCLUSIVE);
    assert_false(views[2].inconclusive);
    rig_free(rig);
}

/* ---- probes and places ---- */

static void
test_shown_probe_has_its_last_and_its_last_good_reading(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, "{kind: hold_cold, applies_to: air, at_most: 5 °C}");
    struct engine_probe_view views[4];
    rig_play(rig, "0:00:00 begin dish p2\n0:00:10 p1 20.0\n0:00:20 p2 30.0\n0:00:30 p2 bad\n");
    assert_int_equal(engine_view_probes(rig->engine, views, 4), 4);
    assert_int_equal(views[0].number, 1);
    assert_true(views[0].in_plan);
    assert_int_equal(views[0].batch, 0);
    assert_int_equal(views[0].last.at_ms, rig_time("0:00:10"));
    assert_int_equal(views[0].last.temp_mC, 20000);
    assert_int_equal(views[0].last_raw_mC, 20000);
    assert_int_equal(views[1].number, 2);
    assert_int_equal(views[1].batch, 1);
    assert_int_equal(views[1].last.at_ms, rig_time("0:00:30"));
    assert_int_equal(views[1].last.temp_mC, TEMP_NONE);
    assert_int_equal(views[1].last.quality, BAD_TIMEOUT);
    assert_int_equal(views[1].last_raw_mC, TEMP_NONE);
    assert_int_equal(views[1].last_good.at_ms, rig_time("0:00:20"));
    assert_int_equal(views[1].last_good.temp_mC, 30000);
    assert_int_equal(views[1].last_good_raw_mC, 30000);
    /* Never read. */
    assert_int_equal(views[2].last.at_ms, TIME_NONE);
    assert_int_equal(views[2].last.temp_mC, TEMP_NONE);
    assert_int_equal(views[2].last.probe, 3);
    assert_int_equal(views[2].last_good.at_ms, TIME_NONE);
    assert_int_equal(views[2].last_good.temp_mC, TEMP_NONE);
    assert_int_equal(views[2].last_good.probe, 3);
    assert_int_equal(views[2].last_raw_mC, TEMP_NONE);
    assert_int_equal(views[2].last_good_raw_mC, TEMP_NONE);
    assert_int_equal(views[2].correction.count, 0);
    rig_play(rig, "0:06:00 wait\n");
    assert_int_equal(engine_view_probes(rig->engine, views, 4), 4);
    assert_false(views[0].gap); /* it lies in a drawer */
    assert_true(views[1].gap);
    assert_false(views[2].gap);
    assert_true(views[3].gap);
    /* No more than there is room for. */
    assert_int_equal(engine_view_probes(rig->engine, views, 2), 2);
    rig_free(rig);
}

static const char places[] = PLAN_HEAD PLAN_PROBE("cold", "air", "rack", "0", "10 s")
    PLAN_PROBE("hot", "air", "rack", "1",
               "10 s") "places:\n"
                       "  - {id: shelf, name: Shelf, limit: {kind: none}}\n"
                       "  - {id: pantry, name: Pantry, probe: cold, limit: {kind: none}}\n"
                       "  - {id: fridge, name: Fridge, probe: cold, limit: {kind: hold_cold, "
                       "applies_to: air,\n"
                       "     at_most: 5 °C, tolerance: 10 min, back_for: 1 min}}\n"
                       "  - {id: cupboard, name: Cupboard, probe: hot, limit: {kind: hold_hot, "
                       "applies_to: air,\n"
                       "     at_least: 63 °C, tolerance: 10 min, back_for: 1 min}}\n"
                       "products:\n"
                       "  - {id: pie, name: Pie, steps: [{id: rest, name: Rest, limit: {kind: "
                       "none}}]}\n";

static void
test_shown_place_is_judged_by_its_own_limit(void **state)
{
    (void)state;
    struct rig *rig = rig_of(places);
    struct engine_place_view views[4];
    assert_int_equal(engine_view_places(rig->engine, views, 4), 4);
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(views[i].place, i);
        assert_int_equal(views[i].temp_mC, TEMP_NONE);
        assert_false(views[i].outside);
        assert_int_equal(views[i].outside_since_ms, TIME_NONE);
        assert_int_equal(views[i].outside_ms, 0);
        assert_int_equal(views[i].deviation, 0);
    }
    rig_play(rig, "0:00:10 cold 6.0\n0:00:10 hot 64.0\n0:00:20 cold 7.0\n0:00:20 hot 60.0\n"
                  "0:00:30 cold 7.0\n");
    assert_int_equal(engine_view_places(rig->engine, views, 4), 4);
    assert_int_equal(views[0].temp_mC, TEMP_NONE); /* nobody measures there */
    assert_int_equal(views[1].temp_mC, 7000);
    assert_false(views[1].outside);
    assert_int_equal(views[1].outside_since_ms, TIME_NONE);
    assert_int_equal(views[1].outside_ms, 0);
    assert_int_equal(views[2].temp_mC, 7000);
    assert_true(views[2].outside);
    assert_int_equal(views[2].outside_since_ms, rig_time("0:00:10"));
    assert_int_equal(views[2].outside_ms, 20000);
    assert_int_equal(views[2].deviation, 0);
    assert_int_equal(views[3].temp_mC, 60000);
    assert_true(views[3].outside);
    assert_int_equal(views[3].outside_since_ms, rig_time("0:00:20"));
    assert_int_equal(views[3].outside_ms, 10000);
    assert_int_equal(engine_view_places(rig->engine, views, 3), 3);
    rig_play(rig, "0:00:40-0:11:00 cold,hot 7.0\n");
    assert_int_equal(engine_view_places(rig->engine, views, 4), 4);
    assert_int_equal(views[1].deviation, 0);
    assert_int_equal(views[2].deviation, 1);
    assert_int_equal(views[3].deviation, 2);
    rig_free(rig);
}

/* E111: quiet or not, people see how warm it is. */
static void
test_shown_place_has_its_temperature_while_it_is_quiet_and_after(void **state)
{
    (void)state;
    struct rig *rig = rig_of(places);
    struct engine_place_view views[4];
    rig_play(rig, "0:00:10 cold 4.0\n0:00:15 quiet fridge 0:10:00\n");
    assert_int_equal(engine_view_places(rig->engine, views, 4), 4);
    assert_int_equal(views[2].temp_mC, 4000); /* what was last read stays known */
    rig_play(rig, "0:00:20 cold 9.0\n");
    assert_int_equal(engine_view_places(rig->engine, views, 4), 4);
    assert_int_equal(views[2].temp_mC, 9000);
    assert_false(views[2].outside);
    rig_play(rig, "0:01:00 quiet fridge end\n");
    assert_int_equal(engine_view_places(rig->engine, views, 4), 4);
    assert_int_equal(views[2].temp_mC, 9000);
    assert_false(views[2].outside);
    rig_play(rig, "0:01:10 cold 9.0\n");
    assert_int_equal(engine_view_places(rig->engine, views, 4), 4);
    assert_true(views[2].outside);
    assert_int_equal(views[2].outside_since_ms, rig_time("0:01:10"));
    rig_free(rig);
}

/* ---- checks of thermometers ---- */

static void
check_at(struct rig *rig, const char *at, const char *probe, const char *thermometer,
         int32_t found_mC, enum correction_choice correction)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_CALIBRATE);
    (void)strcpy(entry.who, "AB");
    (void)strcpy(entry.probe, probe);
    (void)strcpy(entry.thermometer, thermometer);
    entry.correction = correction;
    entry.points[entry.point_count++] = (struct calibration_point){
        .method = CALIBRATION_ICE, .uncertainty_mK = 100, .found_mC = found_mC};
    assert_true(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq, .is.entry = &entry};
    rig_feed(rig, &input);
}

static const char thermometers[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")
    PLAN_PROBE("p2", "food", "rack", "1", "10 s") PLAN_PROBE(
        "p3", "food", "rack", "2", "10 s") "thermometers:\n"
                                           "  - {id: pen, name: Pen}\n"
                                           "  - {id: stick, name: Stick}\n"
                                           "  - {id: fork, name: Fork}\n"
                                           "places: []\n"
                                           "products:\n"
                                           "  - {id: pie, name: Pie, steps: [{id: rest, name: "
                                           "Rest, limit: {kind: none}}]}\n";

/* Probes in the plan's order, then what is held in the hand. */
static void
test_checks_are_shown_of_every_thermometer_there_is(void **state)
{
    (void)state;
    struct rig *rig = rig_of(thermometers);
    struct engine_check_view views[8];
    check_at(rig, "0:00:10", "p2", "", 500, CORRECTION_ADOPT);
    check_at(rig, "0:00:20", "p3", "", 1500, CORRECTION_KEEP);
    check_at(rig, "0:00:30", "", "stick", 100, CORRECTION_KEEP);
    check_at(rig, "0:00:40", "", "stick", 1500, CORRECTION_KEEP);
    assert_int_equal(engine_view_checks(rig->engine, views, 8), 6);
    for (size_t i = 0; i < 6; i++) {
        assert_int_equal(views[i].is_handheld, i >= 3);
        assert_int_equal(i < 3 ? views[i].probe : views[i].handheld, i % 3);
    }
    /* Never checked. */
    assert_int_equal(views[0].checked_ms, TIME_NONE);
    assert_int_equal(views[0].good_ms, TIME_NONE);
    assert_int_equal(views[0].deviation, 0);
    assert_int_equal(views[0].correction.count, 0);
    assert_false(views[0].left_bad);
    /* Right, and corrected. */
    assert_int_equal(views[1].checked_ms, rig_time("0:00:10"));
    assert_int_equal(views[1].good_ms, rig_time("0:00:10"));
    assert_int_equal(views[1].correction.count, 1);
    assert_int_equal(views[1].correction.add_mK[0], -500);
    assert_false(views[1].left_bad);
    /* Left wrong. */
    assert_int_equal(views[2].checked_ms, rig_time("0:00:20"));
    assert_int_equal(views[2].good_ms, TIME_NONE);
    assert_int_equal(views[2].deviation, 1);
    assert_true(views[2].left_bad);
    /* Once right, now wrong. */
    assert_int_equal(views[4].checked_ms, rig_time("0:00:40"));
    assert_int_equal(views[4].good_ms, rig_time("0:00:30"));
    assert_int_equal(views[4].deviation, 2);
    assert_true(views[4].left_bad);
    assert_int_equal(views[5].checked_ms, TIME_NONE);
    /* As far as there is room. */
    assert_int_equal(engine_view_checks(rig->engine, views, 4), 4);
    assert_int_equal(engine_view_checks(rig->engine, views, 2), 2);
    struct engine_probe_view probes[3];
    assert_int_equal(engine_view_probes(rig->engine, probes, 3), 3);
    assert_int_equal(probes[1].correction.add_mK[0], -500);
    rig_free(rig);
}

static void
test_check_is_shown_of_the_thermometer_that_is_named(void **state)
{
    (void)state;
    struct rig *rig = rig_of(thermometers);
    struct engine_check_view view;
    struct entry entry;
    check_at(rig, "0:00:10", "p2", "", 500, CORRECTION_ADOPT);
    check_at(rig, "0:00:20", "", "fork", 1500, CORRECTION_KEEP);
    entry_clear(&entry, ENTRY_CALIBRATE);
    assert_false(engine_view_check(rig->engine, &entry, &view)); /* none named */
    (void)strcpy(entry.probe, "p1");                             /* the first of the plan */
    assert_true(engine_view_check(rig->engine, &entry, &view));
    assert_false(view.is_handheld);
    assert_int_equal(view.probe, 0);
    assert_int_equal(view.handheld, 0);
    assert_int_equal(view.checked_ms, TIME_NONE);
    (void)strcpy(entry.probe, "p2");
    assert_true(engine_view_check(rig->engine, &entry, &view));
    assert_int_equal(view.probe, 1);
    assert_int_equal(view.checked_ms, rig_time("0:00:10"));
    assert_int_equal(view.correction.count, 1);
    (void)strcpy(entry.thermometer, "fork"); /* both */
    assert_false(engine_view_check(rig->engine, &entry, &view));
    entry.probe[0] = '\0';
    assert_true(engine_view_check(rig->engine, &entry, &view));
    assert_true(view.is_handheld);
    assert_int_equal(view.handheld, 2);
    assert_int_equal(view.checked_ms, rig_time("0:00:20"));
    assert_true(view.left_bad);
    (void)strcpy(entry.thermometer, "spoon");
    assert_false(engine_view_check(rig->engine, &entry, &view));
    struct engine *empty = engine_new();
    assert_false(engine_view_check(empty, &entry, &view)); /* no plan yet */
    engine_free(empty);
    rig_free(rig);
}

/* ---- what waits ---- */

static void
test_what_waits_is_shown_as_far_as_there_is_room(void **state)
{
    (void)state;
    struct rig *rig = rig_new(TWO_STAGES, NULL);
    struct engine_undecided_view views[3];
    rig_play(rig, "0:00:00 begin dish p1\n0:00:00 begin dish p2\n0:00:00 begin dish p3\n"
                  "0:00:10 p1,p2,p3 40.0\n");
    assert_int_equal(engine_view_undecided(rig->engine, views, 3), 3);
    assert_int_equal(views[0].said.batch, 1);
    assert_int_equal(views[2].said.batch, 3);
    assert_int_equal(engine_view_undecided(rig->engine, views, 2), 2);
    struct engine_batch_view batches[2];
    assert_int_equal(engine_view_batches(rig->engine, batches, 2), 2);
    assert_int_equal(batches[1].number, 2);
    rig_free(rig);
}

static void
test_deviation_shown_has_what_opened_it_and_what_was_done(void **state)
{
    (void)state;
    struct rig *rig = begun("{kind: hold_hot, applies_to: food, at_least: 57 °C, back_for: 1 "
                            "min}",
                            "0:00:10 p1 56.0\n0:00:15 action 1 AB\n");
    struct engine_deviation_view view;
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_int_equal(view.number, 1);
    assert_int_equal(view.opened.kind, DECISION_DEVIATION_OPENED);
    assert_int_equal(view.opened.temp_mC, 56000);
    assert_int_equal(view.ended_ms, TIME_NONE);
    assert_int_equal(view.action_ms, rig_time("0:00:15"));
    assert_int_equal(view.action_seq, rig->seq);
    assert_int_equal(view.verified_seq, 0);
    assert_string_equal(view.action_by, "AB");
    assert_string_equal(view.product, "dish");
    assert_int_equal(view.food_count, 1);
    assert_int_equal(view.food[0], 1);
    assert_false(view.food_more);
    assert_int_equal(view.alarm, 1);
    rig_play(rig, "0:00:16 verify 1 SB\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_int_equal(view.verified_seq, rig->seq);
    rig_free(rig);
}

/* A deviation in the place of one that was closed knows nothing of it. */
static void
test_deviation_that_follows_a_closed_one_is_its_own(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new("{kind: hold_hot, applies_to: food, at_least: 57 °C, back_for: 1 min}",
                "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 0 s, "
                "back_for: 1 min}");
    struct engine_deviation_view view;
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:10 p1 56.0\n0:00:15 action 1 AB\n0:00:16 verify 1 "
             "SB\n0:00:17 end discarded\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 0);
    rig_play(rig, "0:00:20 a1 9.0\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_int_equal(view.number, 2);
    assert_int_equal(view.ended_ms, TIME_NONE);
    assert_int_equal(view.action_ms, TIME_NONE);
    assert_int_equal(view.action_seq, 0);
    assert_int_equal(view.verified_seq, 0);
    assert_string_equal(view.action_by, "");
    assert_string_equal(view.product, "");
    assert_int_equal(view.food_count, 0);
    assert_false(view.food_more);
    assert_int_equal(view.alarm, 2);
    rig_free(rig);
}

/* ---- what a decision says of its limit ---- */

static void
test_decision_says_what_was_required(void **state)
{
    (void)state;
    static const struct {
        const char *limit, *script;
        enum decision_kind kind;
        enum limit_kind of;
        int32_t milli;
        enum temp_unit unit;
        int64_t ms;
    } cases[] = {
        {"{kind: cook, applies_to: food, at_least: 145 °F, for: 15 s}",
         "0:00:10-0:00:30 p1 63.0\n", DECISION_LIMIT_MET, LIMIT_COOK, 145000, TEMP_F, 15000},
        {"{kind: reheat, applies_to: food, at_least: 74 °C, within: 2 h}", "0:00:10 p1 74.0\n",
         DECISION_LIMIT_MET, LIMIT_REHEAT, 74000, TEMP_C, 0},
        {"{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 1 min}",
         "0:00:10-0:01:10 p1 56.0\n0:01:10 wait\n", DECISION_DEVIATION_OPENED, LIMIT_HOLD_HOT,
         57000, TEMP_C, 60000},
        {"{kind: hold_cold, applies_to: food, at_most: 41 °F, one_period: 2 h, back_for: 1 "
         "min}",
         "0:00:10-2:00:00 p1 6.0\n2:00:00 wait\n", DECISION_DEVIATION_OPENED, LIMIT_HOLD_COLD,
         41000, TEMP_F, 7200000},
        {"{kind: time_control, applies_to: food, left_at_most: 5 °C, within: 4 h}",
         "0:00:10-4:00:00 p1 4.0\n4:00:00 wait\n", DECISION_DEVIATION_OPENED, LIMIT_TIME, 5000,
         TEMP_C, 14400000},
        {"{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}]}",
         "0:00:10 p1 58.0\n0:00:20 p1 57.0\n", DECISION_CLOCK_STARTED, LIMIT_COOL, 57000,
         TEMP_C, 0},
        {TWO_STAGES, "0:00:10 p1 58.0\n0:00:20-1:00:00 p1 57.0 21.0\n", DECISION_LIMIT_MET,
         LIMIT_COOL, 21000, TEMP_C, 7200000},
        {"{kind: time_control, applies_to: food, left_at_most: 5 °C, within: 4 h, never_above: "
         "21 "
         "°C}",
         "0:00:10 p1 4.0\n0:00:20 p1 21.001\n", DECISION_DEVIATION_OPENED, LIMIT_TIME, 21000,
         TEMP_C, 0},
        {COOK_15, "0:15:00 wait\n", DECISION_DEVIATION_OPENED, LIMIT_COOK, 70000, TEMP_C,
         900000},
        {"{kind: hold_cold, applies_to: food, at_most: -18 °C, tolerance: 2 h, never_above: "
         "-12 "
         "°C}",
         "0:00:10 p1 -11.9\n", DECISION_DEVIATION_OPENED, LIMIT_HOLD_COLD, -12000, TEMP_C, 0},
        {"{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 min}, "
         "{at_least: 65 "
         "°C, for: 2 min}]}",
         "0:00:10-0:02:10 p1 66.0\n", DECISION_LIMIT_MET, LIMIT_COOK_TABLE, 65000, TEMP_C,
         120000},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = begun(cases[i].limit, cases[i].script);
        const struct decision *said = decided(rig, cases[i].kind);
        assert_int_equal(said->batch, 1);
        assert_string_equal(said->step, "first");
        assert_int_equal(said->limit, cases[i].of);
        assert_int_equal(said->subject, SUBJECT_FOOD);
        assert_int_equal(said->required.milli, cases[i].milli);
        assert_int_equal(said->required.unit, cases[i].unit);
        assert_int_equal(said->required_ms, cases[i].ms);
        assert_int_equal(said->guard_mK, 0);
        assert_false(said->unverified);
        rig_free(rig);
    }
}

static void
test_decision_about_a_place_names_it_and_its_air(void **state)
{
    (void)state;
    struct rig *rig = rig_of(places);
    rig_play(rig, "0:00:10-0:10:00 cold 6.0\n0:10:10 wait\n");
    const struct decision *said = decided(rig, DECISION_DEVIATION_OPENED);
    assert_int_equal(said->batch, 0);
    assert_string_equal(said->place, "fridge");
    assert_string_equal(said->step, "");
    assert_int_equal(said->subject, SUBJECT_AIR);
    assert_int_equal(said->required.milli, 5000);
    assert_int_equal(said->required_ms, 600000);
    rig_free(rig);
}

static void
test_silence_says_for_how_long_it_may_last(void **state)
{
    (void)state;
    struct rig *rig = rig_of(places);
    rig_play(rig, "0:00:10 hot 64.0\n0:05:00 wait\n");
    const struct decision *said = decided(rig, DECISION_GAP_OPENED);
    assert_int_equal(said->probe, 1);
    assert_int_equal(said->required_ms, 300000);
    assert_string_equal(said->place, "pantry"); /* the first that it watches */
    rig_free(rig);
}

static void
test_persons_decision_says_what_it_is_about(void **state)
{
    (void)state;
    struct rig *rig = begun(TWO_STAGES, "0:00:10 p1 5.0\n0:00:15 decide yes\n");
    const struct decision *said = decided(rig, DECISION_RESOLVED);
    assert_true(said->accepted);
    assert_int_equal(said->batch, 1);
    assert_string_equal(said->step, "first");
    assert_int_equal(said->limit, LIMIT_COOL);
    assert_int_equal(said->at_ms, rig_time("0:00:15"));
    rig_free(rig);
    rig = begun(TWO_STAGES, "0:00:10 p1 40.0\n0:00:15 decide no\n");
    said = decided(rig, DECISION_DEVIATION_OPENED);
    assert_false(decided(rig, DECISION_RESOLVED)->accepted);
    assert_int_equal(said->reason, REASON_PROBE_LATE);
    assert_int_equal(said->batch, 1);
    assert_int_equal(said->limit, LIMIT_COOL);
    assert_int_equal(said->at_ms, rig_time("0:00:15"));
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

static void
hear(struct rig *rig, const char *at)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_HEARD);
    memcpy(entry.who, "AB", 3);
    entry.batch = 1;
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
}

/* E205: what was heard of one step says nothing of the next, and the step's first instant is
 * the step's. */
static void
test_shown_warning_is_heard_for_the_running_step(void **state)
{
    (void)state;
    struct rig *rig = begun(COOK_15, "");
    assert_int_equal(rig_batch(rig).heard_ms, TIME_NONE);
    hear(rig, "0:00:00");
    assert_int_equal(rig_batch(rig).heard_ms, rig_time("0:00:00"));
    rig_play(rig, "0:00:10 move after\n");
    assert_int_equal(rig_batch(rig).heard_ms, TIME_NONE);
    rig_free(rig);
}

/* Of a figure that nobody has verified every decision says so: that of the storage of
 * cook-chill meals is from memory, that of cold holding in the Food Code is not. */
static void
test_decision_by_an_unverified_figure_says_so(void **state)
{
    (void)state;
    static const struct {
        const char *limit;
        bool unverified;
    } rows[] = {{"{profile: uk-cook-chill/storage}", true},
                {"{profile: food-code-2022/cold-holding}", false}};
    assert_int_equal(setenv("TRIVET_PROFILES", "config/profiles", 1), 0);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct rig *rig = rig_new(NULL, NULL);
        rig->next_plan =
            rig_plan(rows[i].limit, NULL, "{largest_spacing: 3}\naccept_unverified: true");
        rig_play(rig, "0:00:00 plan\n0:00:10 begin dish p1\n0:00:20 p1 20.0\n");
        assert_int_equal(decided(rig, DECISION_DEVIATION_OPENED)->unverified,
                         rows[i].unverified);
        rig_free(rig);
    }
    assert_int_equal(unsetenv("TRIVET_PROFILES"), 0);
}

/* E152: it does not stand any more once it has stood. */
static void
test_shown_stand_is_over_once_it_is_met(void **state)
{
    (void)state;
    struct rig *rig = begun("{kind: cook, applies_to: food, at_least: 74 °C, stand: 2 min}",
                            "0:00:10 p1 75.0\n");
    assert_int_equal(rig_batch(rig).stands_until_ms, rig_time("0:02:10"));
    rig_play(rig, "0:02:10 wait\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    assert_int_equal(rig_batch(rig).stands_until_ms, TIME_NONE);
    rig_free(rig);
}

/* E170, E171: the guard band and the uncertainty that it comes from. */
static void
test_decision_says_the_uncertainty_of_its_limit(void **state)
{
    (void)state;
    static const char *const acceptances[] = {"simple", "guarded"};
    for (size_t i = 0; i < COUNT_OF(acceptances); i++) {
        char text[1500];
        (void)snprintf(
            text, sizeof text,
            "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"
            "people: [{initials: AB, name: Ana Brandt, role: cook}, {initials: SB, name: Sara "
            "Berg, role: verifier}]\n"
            "buses: [{id: rack, driver: modbus-tcp, host: 127.0.0.1, port: 1502}]\n"
            "probes:\n"
            "  - {id: p1, name: One, kind: food, bus: rack, unit: 1, function: 4, register: 0, "
            "type: int16, scale: 0.1 °C, plausible: [-40 °C, 300 °C], every: 10 s,\n"
            "     uncertainty: {total: 0.4 °C}}\n"
            "products:\n"
            "  - id: dish\n    name: Dish\n    steps:\n"
            "      - {id: cook, name: Cook, limit: {kind: cook, applies_to: food, at_least: 74 "
            "°C, acceptance: %s, guard_percent: 50}}\n",
            acceptances[i]);
        struct rig *rig = rig_of(text);
        rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 75.0\n");
        const struct decision *said = decided(rig, DECISION_LIMIT_MET);
        assert_int_equal(said->uncertainty_mK, 400);
        assert_int_equal(said->guard_mK, i == 0 ? 0 : 200);
        rig_free(rig);
    }
}

/* A step of its own between cold and hot shows its time likewise. */
static void
test_shown_zone_of_a_step(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, "
                              "hot_at_least: 57 °C, within: 4 h}",
                              NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20-0:10:20 p1 7.0\n");
    assert_true(rig_batch(rig).in_zone);
    assert_int_equal(rig_batch(rig).zone_ms, 610000);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shown_cook_has_its_credit_its_deadline_and_its_coldest_probe),
        cmocka_unit_test(test_shown_credit_is_what_all_probes_have_held),
        cmocka_unit_test(test_shown_table_has_its_credit_and_no_deadline),
        cmocka_unit_test(test_shown_stand_says_until_when),
        cmocka_unit_test(test_shown_holding_has_its_time_outside_and_when_it_is_used_up),
        cmocka_unit_test(test_shown_period_is_the_one_there_is_and_none_once_it_is_over),
        cmocka_unit_test(test_shown_cooling_has_its_clock_its_stage_and_its_deadline),
        cmocka_unit_test(test_shown_stage_that_waits_for_the_one_before_has_no_deadline),
        cmocka_unit_test(test_shown_time_without_control_ends_when_it_is_up),
        cmocka_unit_test(test_shown_zone_counts_up_to_now),
        cmocka_unit_test(test_no_zone_is_shown_where_the_product_has_none),
        cmocka_unit_test(test_deviation_of_the_step_is_shown_beside_a_come_up_time),
        cmocka_unit_test(test_shown_verdict_is_the_worst_of_what_is_judged_at_once),
        cmocka_unit_test(test_question_about_a_batch_is_shown_with_it_and_with_no_other),
        cmocka_unit_test(test_shown_probe_has_its_last_and_its_last_good_reading),
        cmocka_unit_test(test_shown_place_is_judged_by_its_own_limit),
        cmocka_unit_test(test_shown_place_has_its_temperature_while_it_is_quiet_and_after),
        cmocka_unit_test(test_checks_are_shown_of_every_thermometer_there_is),
        cmocka_unit_test(test_check_is_shown_of_the_thermometer_that_is_named),
        cmocka_unit_test(test_what_waits_is_shown_as_far_as_there_is_room),
        cmocka_unit_test(test_deviation_shown_has_what_opened_it_and_what_was_done),
        cmocka_unit_test(test_deviation_that_follows_a_closed_one_is_its_own),
        cmocka_unit_test(test_decision_says_what_was_required),
        cmocka_unit_test(test_decision_about_a_place_names_it_and_its_air),
        cmocka_unit_test(test_silence_says_for_how_long_it_may_last),
        cmocka_unit_test(test_persons_decision_says_what_it_is_about),
        cmocka_unit_test(test_shown_warning_is_heard_for_the_running_step),
        cmocka_unit_test(test_decision_by_an_unverified_figure_says_so),
        cmocka_unit_test(test_shown_stand_is_over_once_it_is_met),
        cmocka_unit_test(test_decision_says_the_uncertainty_of_its_limit),
        cmocka_unit_test(test_shown_zone_of_a_step),
    };
    return cmocka_run_group_tests_name("engine views", tests, NULL, NULL);
}
