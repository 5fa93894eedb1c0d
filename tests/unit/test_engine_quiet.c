/* Quiet hours of a place: its limit is suspended, visibly and never for ever; docs/engine.md
 * E110 to E113. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "trivet/engine_quiet.h"

#define FRIDGE "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 20 min}"

static void
test_quiet_place_may_be_warm_until_its_time_is_up(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00 a1 4.0\n0:00:05 quiet fridge 0:40:00\n0:00:10-0:40:00 a1 12.0\n");
    rig_expect(rig, "0:00:05 quiet-begun entered fridge since 0:00:05\n");
    struct engine_place_view view = rig_place(rig);
    assert_int_equal(engine_quiet(rig->engine, 0).until_ms, rig_time("0:40:05"));
    assert_int_equal(engine_quiet(rig->engine, 0).why, QUIET_DEFROSTING);
    assert_int_equal(view.temp_mC, 12000); /* still looked at */
    assert_false(view.outside);
    /* The tolerance counts from the first reading outside after that, not from before. */
    rig_play(rig, "0:40:10-1:00:00 a1 12.0\n");
    rig_expect(rig, "0:40:05 quiet-ended time-up fridge since 0:00:05 found 0:40:00\n");
    rig_play(rig, "1:00:10 a1 12.0\n");
    rig_expect(rig,
               "1:00:10 deviation-opened out-too-long #1 fridge p4 12.0 since 0:40:10 found "
               "0:20:00\n");
    assert_int_equal(engine_quiet(rig->engine, 0).until_ms, TIME_NONE);
    assert_int_equal(engine_quiet(rig->engine, 0).why, QUIET_NONE);
    rig_free(rig);
}

static void
test_quiet_says_for_how_long_it_was_asked(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:05 quiet fridge 0:40:00\n");
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].kind, DECISION_QUIET_BEGUN);
    assert_int_equal(rig->out.decisions[0].required_ms, 40 * 60 * 1000);
    rig_free(rig);
}

/* FDA Food Code 2022, 4-204.111(B): the air of a vending machine at most 5 °C within 30 min of
 * filling, at least 57 °C within 120 min. At that very instant it may still be outside: what is
 * within that time is asked after it, without a tolerance. */
static void
test_vending_machine_recovers_in_its_time_and_no_later(void **state)
{
    (void)state;
    static const struct {
        const char *limit, *told;
        int minutes, edge_mC, outward;
    } rows[] = {
        {"{kind: hold_cold, applies_to: air, at_most: 5 °C}", "5.001", 30, 5000, 1},
        {"{kind: hold_hot, applies_to: air, at_least: 57 °C}", "56.999", 120, 57000, -1},
    };
    for (size_t i = 0; i < 2; i++)
        for (int over_mK = 0; over_mK <= 1; over_mK++) {
            char script[500], log[500];
            int outside_mC = rows[i].edge_mC + rows[i].outward,
                last_mC = rows[i].edge_mC + over_mK * rows[i].outward;
            (void)snprintf(script, sizeof script,
                           "0:00:00 a1 %.3f\n0:00:10 quiet fridge %d:%02d:00\n"
                           "0:00:20-%d:%02d:10 a1 %.3f\n%d:%02d:20 a1 %.3f\n",
                           rows[i].edge_mC / 1000.0, rows[i].minutes / 60, rows[i].minutes % 60,
                           rows[i].minutes / 60, rows[i].minutes % 60, outside_mC / 1000.0,
                           rows[i].minutes / 60, rows[i].minutes % 60, last_mC / 1000.0);
            int len = snprintf(log, sizeof log,
                               "0:00:10 quiet-begun entered fridge since 0:00:10\n"
                               "%d:%02d:10 quiet-ended time-up fridge since 0:00:10 found "
                               "%d:%02d:00\n",
                               rows[i].minutes / 60, rows[i].minutes % 60, rows[i].minutes / 60,
                               rows[i].minutes % 60);
            if (over_mK)
                (void)snprintf(log + len, sizeof log - (size_t)len,
                               "%d:%02d:20 deviation-opened out-too-long #1 fridge p4 %s since "
                               "%d:%02d:20\n",
                               rows[i].minutes / 60, rows[i].minutes % 60, rows[i].told,
                               rows[i].minutes / 60, rows[i].minutes % 60);
            rig_place_story(rows[i].limit, script, log);
        }
}

static void
test_quiet_ended_by_a_person_holds_the_limit_at_once(void **state)
{
    (void)state;
    rig_place_story(
        FRIDGE,
        "0:00:00 quiet fridge 2:00:00\n0:00:10-0:10:00 a1 9.0\n"
        "0:10:05 quiet fridge end\n0:10:10-0:30:20 a1 9.0\n",
        "0:00:00 quiet-begun entered fridge since 0:00:00\n"
        "0:10:05 quiet-ended entered fridge since 0:00:00 found 0:10:05\n"
        "0:30:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:10:10 found "
        "0:20:00\n");
}

static void
test_quiet_ends_an_excursion_but_its_deviation_still_needs_its_action(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:20:10 a1 9.0\n0:20:15 quiet fridge 1:00:00\n");
    rig_expect(
        rig,
        "0:20:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found 0:20:00\n"
        "0:20:15 deviation-ended entered #1 fridge worst 9.0 since 0:00:00 found 0:20:15\n"
        "0:20:15 quiet-begun entered fridge since 0:20:15\n");
    struct engine_deviation_view deviation;
    assert_int_equal(engine_view_deviations(rig->engine, &deviation, 1), 1);
    assert_int_equal(deviation.action_seq, 0);
    rig_free(rig);
}

static void
test_quiet_is_bounded_and_refused_where_it_means_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00 quiet fridge 4:00:00.001\n");
    assert_non_null(strstr(rig->refusal, "at most 240 min"));
    rig_play(rig, "0:00:00 quiet fridge end\n");
    assert_non_null(strstr(rig->refusal, "is not quiet"));
    rig_play(rig, "0:00:00 quiet oven 1:00:00\n");
    assert_non_null(strstr(rig->refusal, "there is no place 'oven'"));
    assert_null(strstr(rig->log, "quiet-"));
    rig_play(rig, "0:00:00 quiet fridge 4:00:00\n");
    assert_string_equal(rig->refusal, "");
    rig_play(rig, "0:10:00 quiet fridge 1:00:00\n");
    assert_non_null(strstr(rig->refusal, "is quiet already"));
    rig_free(rig);
    rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 quiet fridge 1:00:00\n");
    assert_non_null(strstr(rig->refusal, "has no limit"));
    rig_free(rig);
}

static void
test_food_in_a_quiet_place_keeps_its_own_limit(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 1 "
                              "min}",
                              FRIDGE);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:05 quiet fridge 1:00:00\n"
                  "0:00:10-0:02:00 a1,p1 9.0\n");
    rig_expect(rig, "0:00:05 quiet-begun entered fridge since 0:00:05\n"
                    "0:01:10 deviation-opened out-too-long #1 p1 9.0 since 0:00:10 found "
                    "0:01:00\n");
    rig_free(rig);
}

static void
test_silent_probe_of_a_quiet_place_is_told_all_the_same(void **state)
{
    (void)state;
    rig_place_story(FRIDGE, "0:00:00 a1 4.0\n0:00:05 quiet fridge 1:00:00\n0:10:00 wait\n",
                    "0:00:05 quiet-begun entered fridge since 0:00:05\n"
                    "0:05:00 gap-opened no-good-reading #1 fridge p4 since 0:00:00 found "
                    "0:05:00\n");
}

static void
test_quiet_goes_on_over_a_restart_and_ends_in_an_outage(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00 quiet fridge 1:00:00\n0:00:10-0:01:00 a1 9.0\n");
    rig_reload(rig);
    rig_play(rig, "0:03:00 restart 0:01:00\n0:03:10-0:30:00 a1 9.0\n");
    rig_expect(rig, "0:00:00 quiet-begun entered fridge since 0:00:00\n");
    rig_play(rig, "1:30:00 restart 0:30:00\n");
    rig_expect(rig, "1:30:00 gap-opened outage #1 fridge p4 since 0:30:00 found 1:00:00\n"
                    "1:30:00 quiet-ended time-up fridge since 0:00:00 found 1:30:00\n");
    rig_free(rig);
}

static void
test_quiet_goes_on_under_a_new_plan_while_there_is_a_limit(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig->next_plan = rig_plan(
        NULL, "{kind: hold_cold, applies_to: air, at_most: 8 °C, tolerance: 20 min}", NULL);
    rig_play(rig, "0:00:00 quiet fridge 1:00:00\n0:00:10 a1 12.0\n0:00:15 plan\n"
                  "0:00:20-0:04:00 a1 12.0\n");
    assert_int_equal(engine_quiet(rig->engine, 0).until_ms, rig_time("1:00:00"));
    rig->next_plan = rig_plan(NULL, NULL, NULL);
    rig_play(rig, "0:04:05 plan\n");
    rig_expect(rig, "0:00:00 quiet-begun entered fridge since 0:00:00\n"
                    "0:04:05 quiet-ended entered fridge since 0:00:00 found 0:04:05\n");
    rig_free(rig);
}

static void
test_hand_reading_in_a_quiet_place_breaches_nothing(void **state)
{
    (void)state;
    rig_place_story(FRIDGE,
                    "0:00:00 a1 4.0\n0:00:05 quiet fridge 0:02:00\n0:01:00 hand fridge 15.0\n"
                    "0:02:30-0:04:00 a1 4.0\n",
                    "0:00:05 quiet-begun entered fridge since 0:00:05\n"
                    "0:02:05 quiet-ended time-up fridge since 0:00:05 found 0:02:00\n");
}

static struct engine_input
scheduled(struct entry *entry, int64_t at_ms, int64_t for_ms, uint64_t seq)
{
    entry_clear(entry, ENTRY_QUIET);
    (void)snprintf(entry->place, sizeof entry->place, "fridge");
    entry->for_ms = for_ms;
    entry->why = QUIET_CLEANING;
    return (struct engine_input){
        .kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = seq, .is.entry = entry};
}

static void
test_schedule_is_named_as_the_reason_and_only_ever_lengthens(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry entry;
    rig_play(rig, "0:00:00 quiet fridge 1:00:00\n");
    struct engine_input shorter = scheduled(&entry, rig_time("0:10:00"), 600000, ++rig->seq);
    rig_feed(rig, &shorter);
    assert_int_equal(engine_quiet(rig->engine, 0).until_ms, rig_time("1:00:00"));
    struct engine_input same = scheduled(&entry, rig_time("0:20:00"), 2400000, ++rig->seq);
    rig_feed(rig, &same);
    struct engine_input longer = scheduled(&entry, rig_time("0:50:00"), 3600000, ++rig->seq);
    rig_feed(rig, &longer);
    assert_int_equal(engine_quiet(rig->engine, 0).until_ms, rig_time("1:50:00"));
    rig_expect(rig,
               "0:00:00 quiet-begun entered fridge since 0:00:00\n"
               "0:05:00 gap-opened no-good-reading #1 fridge p4 since 0:00:00 found 0:05:00\n"
               "0:50:00 quiet-begun scheduled fridge since 0:00:00\n");
    rig_free(rig);
}

/* E112, of every place of the list. */
static void
test_quiet_of_the_last_place_goes_on_under_a_new_plan(void **state)
{
    (void)state;
    rig_place_more = "  - {id: chiller, name: Chiller, probe: p3, limit: {kind: hold_cold, "
                     "applies_to: food, at_most: 5 °C}}\n";
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig->next_plan = rig_plan(NULL, FRIDGE, NULL);
    rig_place_more = NULL;
    rig_play(rig, "0:00:00 quiet chiller 1:00:00\n0:10:00 plan\n");
    assert_int_equal(engine_quiet(rig->engine, 2).until_ms, rig_time("1:00:00"));
    assert_int_equal(engine_quiet(rig->engine, 0).until_ms, TIME_NONE);
    rig_free(rig);
}

/* E110: a suspect reading breaches nothing there either. */
static void
test_suspect_reading_in_a_quiet_place_breaches_nothing(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new(NULL, "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 0 s}");
    rig_play(rig, "0:00:00 a1 4.0\n0:00:05 quiet fridge 0:30:00\n0:00:10 a1 60.0\n");
    assert_int_equal(rig->quality, SUSPECT_JUMPED);
    rig_expect(rig, "0:00:05 quiet-begun entered fridge since 0:00:05\n");
    assert_false(rig_place(rig).outside);
    rig_free(rig);
}

/* E110: not even where nothing outside is tolerated. */
static void
test_hand_reading_in_a_quiet_place_without_a_tolerance_breaches_nothing(void **state)
{
    (void)state;
    rig_place_story("{kind: hold_cold, applies_to: air, at_most: 5 °C}",
                    "0:00:00 a1 4.0\n0:00:05 quiet fridge 0:02:00\n0:01:00 hand fridge 15.0\n"
                    "0:02:30-0:04:00 a1 4.0\n",
                    "0:00:05 quiet-begun entered fridge since 0:00:05\n"
                    "0:02:05 quiet-ended time-up fridge since 0:00:05 found 0:02:00\n");
}

/* E112: the place is not in the new plan, and its quiet hours end once. */
static void
test_quiet_of_a_place_that_is_gone_ends_with_it(void **state)
{
    (void)state;
    rig_place_more = "  - {id: cellar, name: Cellar, probe: a1, limit: {kind: hold_cold, "
                     "applies_to: air, at_most: 12 °C}}\n";
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_place_more = NULL;
    rig->next_plan = rig_plan(NULL, FRIDGE, NULL);
    rig_play(rig, "0:00:00 a1 4.0\n0:00:10 quiet cellar 0:03:00\n0:01:00 plan\n0:04:00 wait\n");
    rig_expect(rig, "0:00:10 quiet-begun entered cellar since 0:00:10\n"
                    "0:01:00 quiet-ended entered cellar since 0:00:10 found 0:00:50\n");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_quiet_place_may_be_warm_until_its_time_is_up),
        cmocka_unit_test(test_quiet_says_for_how_long_it_was_asked),
        cmocka_unit_test(test_vending_machine_recovers_in_its_time_and_no_later),
        cmocka_unit_test(test_quiet_ended_by_a_person_holds_the_limit_at_once),
        cmocka_unit_test(test_quiet_ends_an_excursion_but_its_deviation_still_needs_its_action),
        cmocka_unit_test(test_quiet_is_bounded_and_refused_where_it_means_nothing),
        cmocka_unit_test(test_food_in_a_quiet_place_keeps_its_own_limit),
        cmocka_unit_test(test_silent_probe_of_a_quiet_place_is_told_all_the_same),
        cmocka_unit_test(test_quiet_goes_on_over_a_restart_and_ends_in_an_outage),
        cmocka_unit_test(test_quiet_goes_on_under_a_new_plan_while_there_is_a_limit),
        cmocka_unit_test(test_hand_reading_in_a_quiet_place_breaches_nothing),
        cmocka_unit_test(test_schedule_is_named_as_the_reason_and_only_ever_lengthens),
        cmocka_unit_test(test_quiet_of_the_last_place_goes_on_under_a_new_plan),
        cmocka_unit_test(test_suspect_reading_in_a_quiet_place_breaches_nothing),
        cmocka_unit_test(
            test_hand_reading_in_a_quiet_place_without_a_tolerance_breaches_nothing),
        cmocka_unit_test(test_quiet_of_a_place_that_is_gone_ends_with_it),
    };
    return cmocka_run_group_tests_name("quiet hours", tests, NULL, NULL);
}
