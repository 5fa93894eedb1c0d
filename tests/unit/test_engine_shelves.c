/* What a shelf of an alarm or of a place covers, and for how long: docs/engine.md E201, E202.
 */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/alarm_rig.h"

static void
test_shelved_place_stops_the_sound_of_what_it_covers_and_of_nothing_else(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=shelf\n");
    alarm_rig_play(rig, "0:00:10", "0:10:20", "cold=6 hot=60 slow=6 p1=6");
    rig_play(rig, "0:10:21 shelve fridge 0:30:00\n0:10:22 shelve cupboard 0:20:00\n");
    assert_int_equal(alarm_rig_count(rig), 4); /* the salad, then three places */
    assert_true(alarm_rig_at(rig, 0).sounds);
    assert_false(alarm_rig_at(rig, 1).sounds);
    assert_false(alarm_rig_at(rig, 2).sounds);
    assert_true(alarm_rig_at(rig, 3).sounds);
    assert_int_equal(engine_place_shelf(rig->engine, "fridge").until_ms, rig_time("0:40:21"));
    assert_int_equal(engine_place_shelf(rig->engine, "cupboard").until_ms, rig_time("0:30:22"));
    assert_int_equal(engine_place_shelf(rig->engine, "chiller").until_ms, TIME_NONE);
    assert_int_equal(engine_place_shelf(rig->engine, "").until_ms, TIME_NONE);
    rig->log_len = 0;
    rig_play(rig, "0:10:23 heard 1 AB\n0:10:24 heard 4 AB\n");
    /* Each is told again when its own time is over. */
    alarm_rig_play(rig, "0:10:30", "0:40:30", "cold=6 hot=60 slow=6 p1=6");
    rig_expect(rig, "0:30:22 shelf-ended time-up cupboard since 0:10:22 found 0:20:00\n"
                    "0:30:22 alarm-raised time-up #3 cupboard since 0:10:10\n"
                    "0:35:22 escalated not-heard #3 level 1 cupboard since 0:30:22\n"
                    "0:40:21 shelf-ended time-up fridge since 0:10:21 found 0:30:00\n"
                    "0:40:21 alarm-raised time-up #2 fridge since 0:10:10\n");
    rig_free(rig);
}

/* A place without a limit can still have a probe that falls silent. */
static void
test_place_is_shelved_once_and_where_something_can_alarm(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:10 shelve pantry 0:30:00\n0:00:11 shelve fridge 0:30:00\n");
    assert_string_equal(rig->refusal, "");
    rig_play(rig, "0:00:12 shelve fridge 0:30:00 refused\n");
    assert_string_equal(rig->refusal,
                        "place 'fridge' is shelved already; end that first, then say it anew");
    rig_play(rig, "0:00:13 shelve shelf 0:30:00 refused\n");
    assert_string_equal(rig->refusal,
                        "place 'shelf' has neither a limit nor a probe: nothing alarms there");
    rig_play(rig, "0:00:14 shelve larder end refused\n");
    assert_string_equal(rig->refusal,
                        "place 'larder' is not shelved: its alarms are told already");
    rig_free(rig);
}

/* Fridge and larder have one probe: who keeps the fridge quiet has said nothing of the larder.
 */
static void
test_silence_of_a_shared_probe_is_covered_by_the_shelves_of_all_its_places(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:01:00", "cold=4 hot=64 slow=2");
    rig_play(rig, "0:01:05 shelve fridge 1:00:00\n");
    alarm_rig_play(rig, "0:01:10", "0:06:20", "hot=64 slow=2");
    rig_expect(rig, "0:06:00 gap-opened no-good-reading #1 fridge p4 since 0:01:00 found "
                    "0:05:00\n");
    assert_true(alarm_rig_at(rig, 0).sounds);
    /* Both are shelved; it is told again as soon as one of them no longer is. */
    rig_play(rig, "0:06:25 shelve larder 0:02:00\n");
    assert_false(alarm_rig_at(rig, 0).sounds);
    alarm_rig_play(rig, "0:06:30", "0:08:40", "hot=64 slow=2");
    rig_expect(rig, "0:08:25 shelf-ended time-up larder since 0:06:25 found 0:02:00\n"
                    "0:08:25 alarm-raised time-up #1 fridge since 0:06:00\n");
    rig_free(rig);
    /* Shelved beforehand, it is never told. */
    rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:01:00", "cold=4 hot=64 slow=2");
    rig_play(rig, "0:01:05 shelve fridge 1:00:00\n0:01:06 shelve larder 1:00:00\n");
    alarm_rig_play(rig, "0:01:10", "0:06:20", "hot=64 slow=2");
    rig_expect(rig,
               "0:06:00 gap-opened no-good-reading #1 silent fridge p4 since 0:01:00 found "
               "0:05:00\n");
    assert_false(alarm_rig_at(rig, 0).sounds);
    rig_free(rig);
}

/* The found alarm is the shelved one: what joins it ends its shelf, and it sounds as the other
 * did. */
static void
test_shelved_alarm_that_takes_over_another_is_told_again(void **state)
{
    (void)state;
    struct rig *rig = alarm_rig_two();
    rig_play(rig, "0:05:01 shelve 1 1:00:00\n");
    assert_false(alarm_rig_at(rig, 0).sounds);
    alarm_rig_play(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_int_equal(alarm_rig_at(rig, 0).number, 1);
    assert_int_equal(alarm_rig_at(rig, 0).shelf.until_ms, TIME_NONE);
    assert_true(alarm_rig_at(rig, 0).sounds);
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "shelf-ended joined #1 "));
    rig_free(rig);
}

/* Of one probe's two places only one is shelved. */
static void
test_alarm_with_an_uncovered_deviation_keeps_sounding(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:12:20", "cold=9 hot=64 slow=2");
    rig_play(rig, "0:12:21 shelve fridge 0:30:00\n");
    assert_true(alarm_rig_at(rig, 0).sounds);
    alarm_rig_play(rig, "0:12:30", "0:13:40", "cold=7 hot=64 slow=2"); /* the larder is back */
    assert_true(alarm_rig_at(rig, 0).sounds);
    rig_play(rig, "0:13:41 shelve fridge end\n0:13:50 shelve fridge 0:10:00\n");
    assert_false(alarm_rig_at(rig, 0).sounds); /* what goes on is covered */
    rig_free(rig);
}

/* The food in the place was heard of by itself; the end of the place's shelf concerns the
 * place. */
static void
test_end_of_a_places_shelf_raises_nothing_that_it_did_not_cover(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n0:00:05 shelve fridge 0:20:00\n");
    alarm_rig_play(rig, "0:00:10", "0:03:00", "cold=4 hot=60 slow=2 p1=6");
    rig_play(rig, "0:03:01 heard 1 AB\n");
    alarm_rig_play(rig, "0:03:10", "0:11:00", "cold=4 hot=60 slow=2 p1=6");
    rig_play(rig, "0:11:01 heard 2 AB\n");
    alarm_rig_play(rig, "0:11:10", "0:21:00", "cold=4 hot=60 slow=2 p1=6");
    rig_expect(rig, "0:02:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:10:10 deviation-opened out-too-long #2 cupboard p5 60.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:20:05 shelf-ended time-up fridge since 0:00:05 found 0:20:00\n");
    rig_free(rig);
}

static void
test_alarm_heard_at_the_very_instant_its_shelf_ends_is_not_raised(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:11:00", "cold=6 hot=64 slow=2");
    rig_play(rig, "0:11:01 shelve 1 0:30:00\n0:11:05 shelve 1 end\n0:11:05 heard 1 AB\n");
    alarm_rig_play(rig, "0:11:10", "0:20:00", "cold=6 hot=64 slow=2");
    rig_expect(rig, FRIDGE_OPENED
               "0:11:05 shelf-ended entered #1 fridge since 0:11:01 found 0:00:04\n");
    rig_free(rig);
}

/* ---- a small kitchen whose first probe watches its first and its last place ---- */

/* E202: who keeps the larder quiet has said nothing of the cellar. */
static void
test_silence_is_not_covered_while_the_last_place_of_its_probe_is_not_shelved(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    rig_play(rig, "0:00:10 cold 4.0\n0:00:20 shelve larder 1:00:00\n0:06:00 wait\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 larder p1 since 0:00:10 found "
                    "0:05:00\n");
    assert_true(alarm_rig_at(rig, 0).sounds);
    rig_free(rig);
}

/* The silence is that of the larder's probe; a later plan names the cellar first. */
static void
test_silence_concerns_all_places_of_its_probe_in_any_order(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    rig->next_plan = rig_plan_of(SMALL(CELLAR LARDER));
    rig_play(rig, "0:00:10 cold 4.0\n0:06:00 wait\n0:06:10 plan new\n0:06:20 shelve larder "
                  "1:00:00\n");
    assert_true(alarm_rig_at(rig, 0).sounds); /* the cellar is not shelved */
    rig_play(rig, "0:06:30 shelve cellar 0:10:00\n");
    assert_false(alarm_rig_at(rig, 0).sounds);
    rig->log_len = 0;
    rig_play(rig, "0:16:40 wait\n");
    rig_expect(rig, "0:16:30 shelf-ended time-up cellar since 0:06:30 found 0:10:00\n"
                    "0:16:30 alarm-raised time-up #1 larder since 0:05:10\n");
    assert_string_equal(alarm_rig_at(rig, 0).shelf.by, "");
    rig_free(rig);
}

/* The one that ends first is told first, whichever was said first. */
static void
test_shelves_end_each_at_its_own_time(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    rig_play(rig, "0:00:10 cold 4.0\n0:00:11 shelve larder 0:01:00\n0:00:12 shelve cellar "
                  "0:02:00\n0:03:00 wait\n");
    rig_expect(rig, "0:01:11 shelf-ended time-up larder since 0:00:11 found 0:01:00\n"
                    "0:02:12 shelf-ended time-up cellar since 0:00:12 found 0:02:00\n");
    assert_string_equal(engine_place_shelf(rig->engine, "larder").by, "");
    rig_free(rig);
}

/* A place without a limit can alarm by the silence of its probe, the first of the plan. */
static void
test_place_with_a_probe_and_no_limit_can_be_shelved(void **state)
{
    (void)state;
    struct rig *rig =
        rig_of(SMALL("  - {id: bench, name: Bench, probe: cold, limit: {kind: none}}\n"
                     "  - {id: table, name: Table, limit: {kind: none}}\n"));
    rig_play(rig, "0:00:10 shelve bench 0:30:00\n");
    assert_string_equal(rig->refusal, "");
    rig_play(rig, "0:00:12 shelve table 0:30:00 refused\n");
    assert_non_null(strstr(rig->refusal, "neither a limit nor a probe"));
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(
            test_shelved_place_stops_the_sound_of_what_it_covers_and_of_nothing_else),
        cmocka_unit_test(test_place_is_shelved_once_and_where_something_can_alarm),
        cmocka_unit_test(
            test_silence_of_a_shared_probe_is_covered_by_the_shelves_of_all_its_places),
        cmocka_unit_test(test_shelved_alarm_that_takes_over_another_is_told_again),
        cmocka_unit_test(test_alarm_with_an_uncovered_deviation_keeps_sounding),
        cmocka_unit_test(test_end_of_a_places_shelf_raises_nothing_that_it_did_not_cover),
        cmocka_unit_test(test_alarm_heard_at_the_very_instant_its_shelf_ends_is_not_raised),
        cmocka_unit_test(
            test_silence_is_not_covered_while_the_last_place_of_its_probe_is_not_shelved),
        cmocka_unit_test(test_silence_concerns_all_places_of_its_probe_in_any_order),
        cmocka_unit_test(test_shelves_end_each_at_its_own_time),
        cmocka_unit_test(test_place_with_a_probe_and_no_limit_can_be_shelved),
    };
    return cmocka_run_group_tests_name("engine shelves", tests, NULL, NULL);
}
