/* Alarms that become one, what joins them, when that is told, and who is told next:
 * docs/engine.md E198 to E203. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/alarm_rig.h"

/* ---- two alarms become one ---- */

static void
test_alarm_that_sounds_keeps_sounding_when_it_becomes_part_of_one_that_was_heard(void **state)
{
    (void)state;
    struct rig *rig = alarm_rig_two();
    rig_play(rig, "0:05:01 heard 1 AB\n0:05:02 heard 2 AB\n");
    alarm_rig_play(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:09:10 escalated not-heard #3 level 1 batch 2 since 0:04:10\n"
                    "0:10:10 deviation-opened out-too-long #4 of #1 silent fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n");
    assert_int_equal(alarm_rig_count(rig), 2);
    struct engine_alarm_view one = alarm_rig_at(rig, 0), other = alarm_rig_at(rig, 1);
    assert_int_equal(one.number, 1);
    assert_true(one.sounds);
    assert_int_equal(one.sounded_ms, rig_time("0:04:10")); /* as the second did */
    assert_int_equal(one.heard_ms, TIME_NONE);
    assert_string_equal(one.heard_by, "");
    /* What has nothing to do with it stays as it was. */
    assert_int_equal(other.number, 2);
    assert_false(other.sounds);
    assert_string_equal(other.heard_by, "AB");
    struct engine_deviation_view views[4];
    assert_int_equal(engine_view_deviations(rig->engine, views, 4), 4);
    assert_int_equal(views[0].alarm, 1);
    assert_int_equal(views[1].alarm, 2);
    assert_int_equal(views[2].alarm, 1);
    assert_int_equal(views[3].alarm, 1);
    assert_int_equal(views[3].opened.alarm, 1);
    assert_true(views[3].opened.silent);
    rig_free(rig);
}

static void
test_two_heard_alarms_that_become_one_sound_with_what_joins_them(void **state)
{
    (void)state;
    struct rig *rig = alarm_rig_two();
    rig_play(rig, "0:05:01 heard 1 AB\n0:05:02 heard 3 AB\n0:05:03 heard 2 AB\n");
    alarm_rig_play(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #4 of #1 fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n");
    assert_true(alarm_rig_at(rig, 0).sounds);
    assert_int_equal(alarm_rig_at(rig, 0).sounded_ms, rig_time("0:10:10"));
    rig_free(rig);
}

static void
test_older_alarm_that_sounds_keeps_its_own_time_when_another_joins_it(void **state)
{
    (void)state;
    struct rig *rig = alarm_rig_two();
    alarm_rig_play(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_true(alarm_rig_at(rig, 0).sounds);
    assert_int_equal(alarm_rig_at(rig, 0).sounded_ms, rig_time("0:02:10"));
    rig_free(rig);
}

static void
test_shelf_of_an_alarm_ends_when_it_turns_out_to_be_part_of_another(void **state)
{
    (void)state;
    struct rig *rig = alarm_rig_two();
    rig_play(rig, "0:05:01 heard 2 AB\n0:05:02 shelve 3 1:00:00\n");
    alarm_rig_play(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:07:10 escalated not-heard #1 level 1 since 0:02:10\n"
                    "0:10:10 deviation-opened out-too-long #4 of #1 silent fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:10:10 shelf-ended joined #3 batch 2 since 0:05:02 found 0:05:08\n");
    assert_int_equal(alarm_rig_at(rig, 0).shelf.until_ms, TIME_NONE);
    rig_free(rig);
}

/* E203: somebody acted on one of the two only; both count from the first that came. */
static void
test_action_on_one_of_two_that_become_one_excuses_the_other_not(void **state)
{
    (void)state;
    struct rig *rig = alarm_rig_two();
    rig_play(rig, "0:05:01 heard 1 AB\n0:05:02 heard 2 AB\n0:05:03 action 3 AB\n");
    alarm_rig_play(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_false(alarm_rig_at(rig, 0).acted);
    rig_play(rig, "0:10:25 heard 1 AB\n");
    alarm_rig_play(rig, "0:10:30", "0:43:00", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #4 of #1 fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:42:10 escalated no-action #1 level 2 since 0:02:10\n"
                    "0:42:10 escalated no-action #2 level 2 batch 3 since 0:02:10\n");
    rig_free(rig);
}

static void
test_actions_on_both_of_two_that_become_one_are_enough_until_more_joins(void **state)
{
    (void)state;
    struct rig *rig = alarm_rig_two();
    rig_play(rig, "0:05:01 action 1 AB\n0:05:02 action 2 AB\n0:05:03 action 3 AB\n");
    alarm_rig_play(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_false(alarm_rig_at(rig, 0).acted); /* the fridge has none */
    rig_play(rig, "0:10:25 heard 1 AB\n");
    alarm_rig_play(rig, "0:10:30", "0:51:00", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #4 of #1 fridge p4 6.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:50:10 escalated no-action #1 level 2 since 0:10:10\n");
    rig_free(rig);
}

/* E203: the older was acted on, the other not; both count from when the older came. */
static void
test_action_on_the_older_of_two_that_become_one_excuses_the_other_not(void **state)
{
    (void)state;
    struct rig *rig = alarm_rig_two();
    rig_play(rig, "0:05:01 action 1 AB\n0:05:02 heard 2 AB\n0:05:03 heard 3 AB\n");
    alarm_rig_play(rig, "0:05:10", "0:10:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    assert_false(alarm_rig_at(rig, 0).acted);
    rig_play(rig, "0:10:25 heard 1 AB\n");
    rig->log_len = 0;
    alarm_rig_play(rig, "0:10:30", "0:42:20", "cold=6 hot=64 slow=2 p1=6 p2=6 p3=50");
    rig_expect(rig, "0:42:10 escalated no-action #1 level 2 since 0:02:10\n"
                    "0:42:10 escalated no-action #2 level 2 batch 3 since 0:02:10\n");
    rig_free(rig);
}

/* ---- what joins, and when it is told ---- */

/* The fridge is warm from 0:00:10; food in it follows at `after` + 2 min. */
static struct rig *
food_joins(const char *heard, const char *until, const char *after, const char *to)
{
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    alarm_rig_play(rig, "0:00:10", "0:11:00", "cold=6 hot=64 slow=2 p1=4");
    rig_play(rig, heard);
    alarm_rig_play(rig, "0:11:10", until, "cold=6 hot=64 slow=2 p1=4");
    alarm_rig_play(rig, after, to, "cold=6 hot=64 slow=2 p1=6");
    return rig;
}

/* E199: half an hour after the alarm was last told. */
static void
test_what_joins_within_half_an_hour_is_not_told_and_later_is(void **state)
{
    (void)state;
    struct rig *rig = food_joins("", "0:37:50", "0:38:00", "0:40:10");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:40:00 deviation-opened out-too-long #2 of #1 silent p1 6.0 since 0:38:00 "
               "found 0:02:00\n");
    assert_int_equal(alarm_rig_at(rig, 0).sounded_ms, rig_time("0:10:10"));
    rig_free(rig);
    rig = food_joins("", "0:38:00", "0:38:10", "0:40:10");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:40:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:38:10 found "
               "0:02:00\n");
    rig_free(rig);
}

static void
test_what_was_told_late_begins_another_half_hour(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n0:00:00 begin salad p2 place=fridge\n");
    alarm_rig_play(rig, "0:00:10", "0:38:00", "cold=6 hot=64 slow=2 p1=4 p2=4");
    alarm_rig_play(rig, "0:38:10", "0:58:00", "cold=6 hot=64 slow=2 p1=6 p2=4");
    alarm_rig_play(rig, "0:58:10", "1:00:10", "cold=6 hot=64 slow=2 p1=6 p2=6");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:40:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:38:10 found "
               "0:02:00\n"
               "0:50:10 escalated no-action #1 level 2 fridge since 0:10:10\n"
               "1:00:10 deviation-opened out-too-long #3 of #1 silent batch 2 p2 6.0 since "
               "0:58:10 found 0:02:00\n");
    assert_true(alarm_rig_at(rig, 0).sounds);
    rig_free(rig);
}

/* E203: what joins after an action is to be acted on itself, and its time counts from then. */
static void
test_what_joins_after_an_action_starts_the_levels_for_an_action_anew(void **state)
{
    (void)state;
    struct rig *rig = food_joins("0:11:01 action 1 AB\n", "0:18:00", "0:18:10", "1:00:20");
    rig_expect(rig, FRIDGE_OPENED
               "0:20:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:18:10 found "
               "0:02:00\n"
               "0:25:10 escalated not-heard #1 level 1 fridge since 0:20:10\n"
               "1:00:10 escalated no-action #1 level 2 fridge since 0:20:10\n");
    assert_false(alarm_rig_at(rig, 0).acted);
    rig_free(rig);
}

static void
test_level_that_was_told_is_told_again_for_what_joins_after_the_action(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    alarm_rig_play(rig, "0:00:10", "0:55:00", "cold=6 hot=64 slow=2 p1=4");
    rig_play(rig, "0:55:01 action 1 AB\n");
    alarm_rig_play(rig, "0:55:10", "0:56:00", "cold=6 hot=64 slow=2 p1=4");
    alarm_rig_play(rig, "0:56:10", "1:38:20", "cold=6 hot=64 slow=2 p1=6");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:50:10 escalated no-action #1 level 2 fridge since 0:10:10\n"
               "0:58:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:56:10 found "
               "0:02:00\n"
               "1:03:10 escalated not-heard #1 level 1 fridge since 0:58:10\n"
               "1:38:10 escalated no-action #1 level 2 fridge since 0:58:10\n");
    assert_int_equal(alarm_rig_at(rig, 0).level, 2);
    rig_free(rig);
}

/* Heard, and then there is more: whoever has to be told that nobody hears it is told again,
 * but not again whoever was told that nobody acts. */
static void
test_alarm_that_sounds_again_starts_the_level_for_hearing_anew_and_no_other(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin salad p1 place=fridge\n");
    alarm_rig_play(rig, "0:00:10", "0:55:00", "cold=6 hot=64 slow=2 p1=4");
    rig_play(rig, "0:55:01 heard 1 AB\n");
    alarm_rig_play(rig, "0:55:10", "0:56:00", "cold=6 hot=64 slow=2 p1=4");
    alarm_rig_play(rig, "0:56:10", "1:20:00", "cold=6 hot=64 slow=2 p1=6");
    rig_expect(rig, FRIDGE_OPENED NOT_HEARD
               "0:50:10 escalated no-action #1 level 2 fridge since 0:10:10\n"
               "0:58:10 deviation-opened out-too-long #2 of #1 p1 6.0 since 0:56:10 found "
               "0:02:00\n"
               "1:03:10 escalated not-heard #1 level 1 fridge since 0:58:10\n");
    assert_string_equal(alarm_rig_at(rig, 0).heard_by, "");
    rig_free(rig);
}

/* ---- ends, and what comes after ---- */

static void
test_alarm_in_the_place_of_one_that_left_knows_nothing_of_it(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:55:00", "cold=6 hot=64 slow=2");
    rig_play(rig, "0:55:01 shelve 1 0:01:00\n0:55:02 shelve 1 end\n0:55:03 action 1 AB\n"
                  "0:55:04 verify 1 SB\n");
    alarm_rig_play(rig, "0:55:10", "0:56:20", "cold=4 hot=64 slow=2");
    assert_int_equal(alarm_rig_count(rig), 0);
    rig_play(rig, "0:56:21 shelve fridge 2:00:00\n");
    alarm_rig_play(rig, "0:56:30", "1:06:40", "cold=6 hot=64 slow=2");
    assert_int_equal(alarm_rig_count(rig), 1);
    struct engine_alarm_view alarm = alarm_rig_at(rig, 0);
    assert_int_equal(alarm.number, 2);
    assert_false(alarm.sounds);
    assert_false(alarm.acted);
    assert_int_equal(alarm.sounded_ms, TIME_NONE); /* its place is shelved: it never sounded */
    assert_int_equal(alarm.heard_ms, TIME_NONE);
    assert_string_equal(alarm.heard_by, "");
    assert_int_equal(alarm.level, 0);
    assert_int_equal(alarm.level_ms, TIME_NONE);
    assert_int_equal(alarm.shelf.from_ms, TIME_NONE);
    assert_int_equal(alarm.shelf.until_ms, TIME_NONE);
    assert_string_equal(alarm.shelf.by, "");
    assert_string_equal(alarm.shelf.reason, "");
    rig_free(rig);
}

static void
test_first_of_three_alarms_leaves_and_the_others_stay(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", "0:11:00", "cold=6 hot=60 slow=6");
    struct engine_alarm_view views[3];
    for (size_t room = 1; room <= 3; room++) { /* in their order, as far as there is room */
        assert_int_equal(engine_view_alarms(rig->engine, views, room), room);
        assert_int_equal(views[room - 1].number, room);
    }
    rig_play(rig, "0:11:01 heard 2 AB\n0:11:02 heard 3 SB\n0:11:03 action 1 AB\n"
                  "0:11:04 verify 1 SB\n");
    alarm_rig_play(rig, "0:11:10", "0:12:10", "cold=4 hot=60 slow=6");
    assert_int_equal(alarm_rig_count(rig), 2);
    assert_int_equal(alarm_rig_at(rig, 0).number, 2);
    assert_string_equal(alarm_rig_at(rig, 0).heard_by, "AB");
    assert_int_equal(alarm_rig_at(rig, 1).number, 3);
    assert_string_equal(alarm_rig_at(rig, 1).heard_by, "SB");
    rig_free(rig);
}

static struct rig *
plan_without_limits(const char *until, const char *values)
{
    static char other[4000];
    assert_true(strlen(alarm_kitchen) < sizeof other);
    struct rig *rig = rig_of(alarm_kitchen);
    alarm_rig_play(rig, "0:00:10", until, values);
    /* The same places under limits that everything is within. */
    (void)strcpy(other, alarm_kitchen);
    for (char *at = other; (at = strstr(at, "applies_to: air")); at++) {
        char *limit = strstr(at, "at_most: "), *least = strstr(at, "at_least: 63");
        if (limit && limit - at < 40)
            limit[9] = '9';
        else
            memcpy(least, "at_least: 43", 12);
    }
    rig->next_plan = rig_plan_of(other);
    return rig;
}

static void
test_two_alarms_that_end_at_one_stroke_are_both_told(void **state)
{
    (void)state;
    struct rig *rig = plan_without_limits("0:10:20", "cold=6 hot=60 slow=2");
    rig_play(rig, "0:10:25 plan\n");
    rig_expect(rig, FRIDGE_OPENED
               "0:10:10 deviation-opened out-too-long #2 cupboard p5 60.0 since 0:00:10 found "
               "0:10:00\n"
               "0:10:25 deviation-ended entered #1 fridge worst 6.0 since 0:00:10 found "
               "0:10:15\n"
               "0:10:25 deviation-ended entered #2 cupboard worst 60.0 since 0:00:10 found "
               "0:10:15\n");
    rig_free(rig);
}

static void
test_alarm_whose_deviations_end_at_one_stroke_is_told_once(void **state)
{
    (void)state;
    struct rig *rig = plan_without_limits("0:12:20", "cold=9 hot=64 slow=2");
    rig_play(rig, "0:12:25 plan\n");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:10 "
                    "found 0:10:00\n"
                    "0:12:10 deviation-opened out-too-long #2 of #1 silent larder p4 9.0 since "
                    "0:00:10 found 0:12:00\n"
                    "0:12:25 deviation-ended entered #1 silent fridge worst 9.0 since 0:00:10 "
                    "found 0:12:15\n"
                    "0:12:25 deviation-ended entered #2 of #1 larder worst 9.0 since 0:00:10 "
                    "found 0:12:15\n");
    rig_free(rig);
}

/* ---- levels ---- */

/* What is told of an alarm names the batch and step it began with, and the time that was
 * given. */
static void
test_escalation_names_the_batch_the_step_and_the_time_given(void **state)
{
    (void)state;
    struct rig *rig = rig_of(alarm_kitchen);
    rig_play(rig, "0:00:00 begin soup p2\n0:00:00 begin salad p1\n");
    alarm_rig_play(rig, "0:00:10", "0:07:00", "cold=4 hot=64 slow=2 p1=6 p2=60");
    rig_play(rig, "0:07:10 wait\n");
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].kind, DECISION_ESCALATED);
    assert_int_equal(rig->out.decisions[0].batch, 2);
    assert_string_equal(rig->out.decisions[0].step, "keep");
    assert_int_equal(rig->out.decisions[0].required_ms, 5 * 60 * 1000);
    rig_free(rig);
}

/* E203: the highest level told is shown, from the first to the last. */
static void
test_level_that_was_told_is_shown(void **state)
{
    (void)state;
    struct rig *rig = rig_of(SMALL(LARDER CELLAR));
    alarm_rig_play(rig, "0:00:10", "0:10:20", "cold=7");
    assert_int_equal(alarm_rig_count(rig), 0);
    alarm_rig_play(rig, "0:10:30", "0:12:20", "cold=7"); /* the cellar, at 0:12:10 */
    assert_int_equal(alarm_rig_at(rig, 0).level, 0);
    alarm_rig_play(rig, "0:12:30", "0:17:20", "cold=7");
    assert_int_equal(alarm_rig_at(rig, 0).level, 1);
    alarm_rig_play(rig, "0:17:30", "0:52:20", "cold=7");
    assert_int_equal(alarm_rig_at(rig, 0).level, 2);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(
            test_alarm_that_sounds_keeps_sounding_when_it_becomes_part_of_one_that_was_heard),
        cmocka_unit_test(test_two_heard_alarms_that_become_one_sound_with_what_joins_them),
        cmocka_unit_test(test_older_alarm_that_sounds_keeps_its_own_time_when_another_joins_it),
        cmocka_unit_test(test_shelf_of_an_alarm_ends_when_it_turns_out_to_be_part_of_another),
        cmocka_unit_test(test_action_on_one_of_two_that_become_one_excuses_the_other_not),
        cmocka_unit_test(
            test_actions_on_both_of_two_that_become_one_are_enough_until_more_joins),
        cmocka_unit_test(test_action_on_the_older_of_two_that_become_one_excuses_the_other_not),
        cmocka_unit_test(test_what_joins_within_half_an_hour_is_not_told_and_later_is),
        cmocka_unit_test(test_what_was_told_late_begins_another_half_hour),
        cmocka_unit_test(test_what_joins_after_an_action_starts_the_levels_for_an_action_anew),
        cmocka_unit_test(
            test_level_that_was_told_is_told_again_for_what_joins_after_the_action),
        cmocka_unit_test(
            test_alarm_that_sounds_again_starts_the_level_for_hearing_anew_and_no_other),
        cmocka_unit_test(test_alarm_in_the_place_of_one_that_left_knows_nothing_of_it),
        cmocka_unit_test(test_first_of_three_alarms_leaves_and_the_others_stay),
        cmocka_unit_test(test_two_alarms_that_end_at_one_stroke_are_both_told),
        cmocka_unit_test(test_alarm_whose_deviations_end_at_one_stroke_is_told_once),
        cmocka_unit_test(test_escalation_names_the_batch_the_step_and_the_time_given),
        cmocka_unit_test(test_level_that_was_told_is_shown),
    };
    return cmocka_run_group_tests_name("engine joins", tests, NULL, NULL);
}
