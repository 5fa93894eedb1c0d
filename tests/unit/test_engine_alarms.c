/* Alarms: one cause is one alarm, heard, shelved, told to the next; docs/engine.md E197 to
 * E204. The behaviour of shelving and of acknowledged alarms that ring anew follows the
 * vocabulary of alarm management in process plants (shelved: kept quiet by a person for a
 * limited time, returned by itself); from memory, no figure is taken from there. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"
#include "trivet/engine_alarm.h"

#define FRIDGE                                                                                 \
    "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 10 min, back_for: 1 min}"
#define COLD_FOOD                                                                              \
    "{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 2 min, back_for: 1 min}"
#define USUAL                                                                                  \
    "{largest_spacing: 3, silent_for: 5 min, food_rate: 15 °C/min, food_jump: 4 °C, "        \
    "settle_for: 60 s}\n"

static struct engine_alarm_view
alarm_at(const struct rig *rig, size_t index)
{
    static struct engine_alarm_view views[ENGINE_ALARMS_MAX];
    size_t count = engine_view_alarms(rig->engine, views, ENGINE_ALARMS_MAX);
    assert_true(index < count);
    return views[index];
}

static size_t
alarm_count(const struct rig *rig)
{
    static struct engine_alarm_view views[ENGINE_ALARMS_MAX];
    return engine_view_alarms(rig->engine, views, ENGINE_ALARMS_MAX);
}

/* A rig whose plan has further keys. */
static struct rig *
rig_with(const char *step, const char *place, const char *keys)
{
    char text[1000];
    struct rig *rig = rig_new(step, place);
    (void)snprintf(text, sizeof text, "%s%s", USUAL, keys);
    rig->next_plan = rig_plan(step, place, text);
    rig_play(rig, "0:00:00 plan\n");
    return rig;
}

/* The air and the food at temperatures of their own, every 10 s. */
static void
play_two(struct rig *rig, const char *from, const char *to, const char *air, const char *probes,
         const char *food)
{
    for (int64_t at_ms = rig_time(from); at_ms <= rig_time(to); at_ms += 10000) {
        char line[80];
        int s = (int)((at_ms - RIG_BASE_MS) / 1000);
        (void)snprintf(line, sizeof line, "%d:%02d:%02d a1 %s\n%d:%02d:%02d %s %s\n", s / 3600,
                       s / 60 % 60, s % 60, air, s / 3600, s / 60 % 60, s % 60, probes, food);
        rig_play(rig, line);
    }
}

/* ---- heard ---- */

static void
test_heard_alarm_is_quiet_and_its_deviation_stays_open(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n");
    assert_true(alarm_at(rig, 0).sounds);
    assert_int_equal(alarm_at(rig, 0).sounded_ms, rig_time("0:10:00"));
    rig_play(rig, "0:12:05 heard 1 SB\n0:12:10-0:13:00 a1 9.0\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n");
    struct engine_alarm_view alarm = alarm_at(rig, 0);
    assert_false(alarm.sounds);
    assert_true(alarm.goes_on);
    assert_false(alarm.acted);
    assert_string_equal(alarm.heard_by, "SB");
    assert_int_equal(alarm.heard_ms, rig_time("0:12:05"));
    struct engine_deviation_view deviation;
    assert_int_equal(engine_view_deviations(rig->engine, &deviation, 1), 1);
    assert_int_equal(deviation.ended_ms, TIME_NONE);
    assert_int_equal(deviation.action_seq, 0);
    assert_true(rig_place(rig).outside); /* judged as ever */
    rig_free(rig);
}

static void
test_heard_is_said_once_of_a_deviation_that_there_is(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:05 heard 7 AB\n");
    assert_non_null(strstr(rig->refusal, "there is no deviation 7; not closed are: 1"));
    rig_play(rig, "0:12:06 heard 1 ZZ\n");
    assert_non_null(strstr(rig->refusal, "'ZZ'"));
    rig_play(rig, "0:12:07 heard 1 AB\n0:12:08 heard 1 SB\n");
    assert_non_null(strstr(rig->refusal, "AB has said already"));
    rig_free(rig);
}

static void
test_warning_about_a_batch_is_heard_for_its_running_step(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, NULL);
    struct entry entry;
    entry_clear(&entry, ENTRY_HEARD);
    (void)strcpy(entry.who, "SB");
    entry.batch = 1;
    assert_false(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    assert_non_null(strstr(rig->refusal, "batch 1 is not open"));
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n");
    assert_int_equal(rig_batch(rig).heard_ms, TIME_NONE);
    assert_true(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    struct engine_input input = {.kind = ENGINE_ENTRY,
                                 .at_ms = rig_time("0:00:15"),
                                 .seq = ++rig->seq,
                                 .is.entry = &entry};
    rig_feed(rig, &input);
    assert_int_equal(rig_batch(rig).heard_ms, rig_time("0:00:15"));
    assert_string_equal(rig_batch(rig).heard_by, "SB");
    rig_play(rig, "0:00:20 p1 4.0\n0:00:25 move after\n");
    assert_int_equal(rig_batch(rig).heard_ms, TIME_NONE);
    input.at_ms = rig_time("0:00:25"); /* at once, of the step that has just begun */
    input.seq = ++rig->seq;
    rig_feed(rig, &input);
    assert_int_equal(rig_batch(rig).heard_ms, rig_time("0:00:25"));
    entry.deviation = 1;
    assert_false(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    assert_non_null(strstr(rig->refusal, "one thing at a time"));
    rig_free(rig);
}

static void
test_who_acts_has_heard_it(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:05 action 1 AB\n");
    assert_false(alarm_at(rig, 0).sounds);
    assert_true(alarm_at(rig, 0).acted);
    assert_string_equal(alarm_at(rig, 0).heard_by, "AB");
    rig_free(rig);
}

static void
test_alarm_leaves_with_the_last_of_its_deviations(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:05 action 1 AB\n0:12:06 verify 1 SB\n"
                  "0:12:10-0:13:00 a1 4.0\n");
    assert_int_equal(alarm_count(rig), 1);
    rig_play(rig, "0:13:10 a1 4.0\n");
    assert_int_equal(alarm_count(rig), 0);
    rig_free(rig);
}

/* ---- one cause ---- */

static void
begin_in_fridge(struct rig *rig, const char *at, const char *probe)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_BEGIN);
    (void)strcpy(entry.who, "AB");
    (void)strcpy(entry.product, "dish");
    (void)strcpy(entry.place, "fridge");
    (void)snprintf(entry.probes[0], sizeof entry.probes[0], "%s", probe);
    entry.probe_count = 1;
    assert_true(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq, .is.entry = &entry};
    rig_feed(rig, &input);
}

static void
test_warm_place_and_the_batches_in_it_are_one_alarm(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, FRIDGE);
    begin_in_fridge(rig, "0:00:00", "p1");
    begin_in_fridge(rig, "0:00:01", "p2");
    play_two(rig, "0:00:10", "0:09:00", "9.0", "p1,p2", "5.0");
    play_two(rig, "0:09:10", "0:11:20", "9.0", "p1,p2", "5.4");

    rig_expect(
        rig, "0:10:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:10 found "
             "0:10:00\n"
             "0:11:10 deviation-opened out-too-long #2 of #1 silent p1 5.4 since 0:09:10 found "
             "0:02:00\n"
             "0:11:10 deviation-opened out-too-long #3 of #1 silent batch 2 p2 5.4 since "
             "0:09:10 found 0:02:00\n");
    assert_int_equal(alarm_count(rig), 1);
    assert_int_equal(alarm_at(rig, 0).cause, 1);
    rig_free(rig);
}

static void
test_food_that_breaches_first_is_put_under_its_place(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, FRIDGE);
    begin_in_fridge(rig, "0:00:00", "p1");
    begin_in_fridge(rig, "0:00:01", "p2");
    rig_play(rig, "0:00:10-0:02:20 a1,p1 9.0\n0:02:30-0:10:20 a1,p1,p2 9.0\n");
    rig_expect(rig,
               "0:02:10 deviation-opened out-too-long #1 p1 9.0 since 0:00:10 found 0:02:00\n"
               "0:04:30 deviation-opened out-too-long #2 batch 2 p2 9.0 since 0:02:30 found "
               "0:02:00\n"
               "0:10:10 deviation-opened out-too-long #3 of #1 silent fridge p4 9.0 since "
               "0:00:10 found 0:10:00\n");
    /* Two alarms until the place shows that they are one. */
    assert_int_equal(alarm_count(rig), 1);
    assert_int_equal(alarm_at(rig, 0).number, 1);
    assert_int_equal(alarm_at(rig, 0).cause, 3);
    struct engine_deviation_view views[3];
    assert_int_equal(engine_view_deviations(rig->engine, views, 3), 3);
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(views[i].alarm, 1);
    rig_free(rig);
}

static void
test_food_that_was_warm_before_its_place_is_its_own_alarm(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, FRIDGE);
    begin_in_fridge(rig, "0:00:00", "p1");
    play_two(rig, "0:00:10", "0:05:00", "4.0", "p1", "9.0");
    rig_play(rig, "0:05:10-0:15:20 a1,p1 9.0\n");
    rig_expect(rig,
               "0:02:10 deviation-opened out-too-long #1 p1 9.0 since 0:00:10 found 0:02:00\n"
               "0:15:10 deviation-opened out-too-long #2 fridge p4 9.0 since 0:05:10 found "
               "0:10:00\n");
    assert_int_equal(alarm_count(rig), 2);
    rig_free(rig);
}

static void
test_dead_bus_is_one_alarm(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, FRIDGE);
    begin_in_fridge(rig, "0:00:00", "p1");
    begin_in_fridge(rig, "0:00:01", "p2");
    rig_play(rig, "0:00:10-0:01:00 a1,p1,p2 4.0\n0:01:10 p2 4.0\n0:10:00 wait\n");
    rig_expect(rig, "0:06:00 gap-opened no-good-reading #1 p1 since 0:01:00 found 0:05:00\n"
                    "0:06:00 gap-opened no-good-reading #2 of #1 silent fridge p4 since "
                    "0:01:00 found 0:05:00\n"
                    "0:06:10 gap-opened no-good-reading #3 of #1 silent batch 2 p2 since "
                    "0:01:10 found 0:05:00\n");
    rig_play(rig, "0:10:10 p1 4.0\n0:10:20 a1,p2 4.0\n");
    /* Its end is told with the last of them. */
    rig_expect(rig,
               "0:10:10 gap-ended good-again #1 silent p1 4.0 since 0:01:00 found 0:09:10\n"
               "0:10:20 gap-ended good-again #2 of #1 silent fridge p4 4.0 since 0:01:00 "
               "found 0:09:20\n"
               "0:10:20 gap-ended good-again #3 of #1 batch 2 p2 4.0 since 0:01:10 found "
               "0:09:10\n");
    rig_free(rig);
}

static void
test_probe_that_dies_later_is_an_alarm_of_its_own(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, FRIDGE);
    begin_in_fridge(rig, "0:00:00", "p1");
    rig_play(rig, "0:00:10-0:01:00 a1,p1 4.0\n0:01:10-0:01:40 a1 4.0\n0:10:00 wait\n");
    /* Spacing is 3 times 10 s: 30 s apart is together, 40 s is not (E5, E198). */
    rig_expect(rig, "0:06:00 gap-opened no-good-reading #1 p1 since 0:01:00 found 0:05:00\n"
                    "0:06:40 gap-opened no-good-reading #2 fridge p4 since 0:01:40 found "
                    "0:05:00\n");
    assert_int_equal(alarm_count(rig), 2);
    rig_free(rig);
    rig = rig_new(COLD_FOOD, FRIDGE);
    begin_in_fridge(rig, "0:00:00", "p1");
    rig_play(rig, "0:00:10-0:01:00 a1,p1 4.0\n0:01:10-0:01:30 a1 4.0\n0:10:00 wait\n");
    assert_int_equal(alarm_count(rig), 1);
    rig_free(rig);
}

static void
test_what_joins_a_heard_alarm_sounds_it_again(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, FRIDGE);
    begin_in_fridge(rig, "0:00:00", "p1");
    play_two(rig, "0:00:10", "0:09:00", "9.0", "p1", "5.0");
    play_two(rig, "0:09:10", "0:10:20", "9.0", "p1", "5.4");
    rig_play(rig, "0:10:25 heard 1 AB\n");
    assert_false(alarm_at(rig, 0).sounds);

    play_two(rig, "0:10:30", "0:11:10", "9.0", "p1", "5.4");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:10 found "
               "0:10:00\n"
               "0:11:10 deviation-opened out-too-long #2 of #1 p1 5.4 since 0:09:10 found "
               "0:02:00\n");
    assert_true(alarm_at(rig, 0).sounds);
    assert_int_equal(alarm_at(rig, 0).heard_ms, TIME_NONE);
    rig_free(rig);
}

/* Food left early has its own reason, whatever else is wrong with it. */
static void
test_left_early_is_its_own_alarm_although_its_probe_is_silent(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 70 °C}", NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:06:00 move after\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
                    "0:06:00 deviation-opened left-early #2\n"
                    "0:06:00 deviation-ended batch-ended #2\n");
    rig_free(rig);
}

/* ---- shelved ---- */

static void
test_shelved_alarm_comes_back_by_itself_if_its_cause_is_there(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:05 shelve 1 0:30:00\n");
    struct engine_alarm_view alarm = alarm_at(rig, 0);
    assert_false(alarm.sounds);
    assert_int_equal(alarm.shelf.until_ms, rig_time("0:42:05"));
    assert_string_equal(alarm.shelf.by, "AB");
    assert_string_equal(alarm.shelf.reason, "engineer is here");
    assert_true(rig_place(rig).outside);
    rig_play(rig, "0:12:10-0:43:00 a1 9.0\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n"
               "0:42:05 shelf-ended time-up #1 fridge since 0:12:05 found 0:30:00\n"
               "0:42:05 alarm-raised time-up #1 fridge since 0:10:00\n");
    assert_true(alarm_at(rig, 0).sounds);
    assert_int_equal(alarm_at(rig, 0).shelf.until_ms, TIME_NONE);
    rig_free(rig);
}

static void
test_shelved_alarm_whose_cause_is_gone_stays_quiet(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:05 shelve 1 0:30:00\n0:12:10-0:43:00 a1 4.0\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n"
               "0:13:10 deviation-ended back-inside #1 silent fridge p4 4.0 worst 9.0 since "
               "0:00:00 found 0:12:10\n"
               "0:42:05 shelf-ended time-up #1 fridge since 0:12:05 found 0:30:00\n");
    rig_free(rig);
}

static void
test_shelf_is_bounded_and_refused_where_it_means_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:01 shelve 1 0:00:00\n");
    assert_non_null(strstr(rig->refusal, "for how long has to be said, at most 60 min"));
    rig_play(rig, "0:12:01 shelve 1 1:00:00.001\n");
    assert_non_null(strstr(rig->refusal, "at most 60 min (duties: shelve_at_most)"));
    rig_play(rig, "0:12:02 shelve 1 end\n");
    assert_non_null(strstr(rig->refusal, "is not shelved"));
    rig_play(rig, "0:12:03 shelve oven 0:10:00\n");
    assert_non_null(strstr(rig->refusal, "there is no place 'oven'"));
    struct entry entry;
    entry_clear(&entry, ENTRY_SHELVE);
    (void)strcpy(entry.who, "AB");
    entry.deviation = 1;
    entry.for_ms = 60000;
    assert_false(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    assert_non_null(strstr(rig->refusal, "the reason is missing"));
    memset(entry.reason, 'x', PLAN_NAME_MAX + 1);
    assert_false(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    assert_non_null(strstr(rig->refusal, "at most 120 bytes"));
    entry.reason[PLAN_NAME_MAX] = '\0';
    assert_true(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    (void)strcpy(entry.place, "fridge");
    assert_false(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    assert_non_null(strstr(rig->refusal, "one thing at a time"));
    rig_play(rig, "0:12:04 shelve 1 1:00:00\n");
    assert_string_equal(rig->refusal, "");
    rig_play(rig, "0:12:05 shelve 1 0:10:00\n");
    assert_non_null(strstr(rig->refusal, "is shelved already"));
    rig_play(rig, "0:12:06 shelve 1 end\n0:12:10-0:13:20 a1 4.0\n0:13:25 shelve 1 0:10:00\n");
    assert_non_null(strstr(rig->refusal, "has ended, so nothing alarms"));
    rig_free(rig);
    rig = rig_with(NULL, FRIDGE, "duties: {shelve_at_most: 10 min}\n");
    rig_play(rig, "0:00:10 shelve fridge 0:10:00.001\n");
    assert_non_null(strstr(rig->refusal, "at most 10 min"));
    rig_free(rig);
}

static void
test_shelved_place_is_judged_and_told_when_its_time_is_up(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, FRIDGE);
    rig_play(rig, "0:00:00 a1 4.0\n0:00:05 shelve fridge 0:20:00\n0:00:10-0:21:00 a1 9.0\n");
    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 silent fridge p4 9.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:20:05 shelf-ended time-up fridge since 0:00:05 found 0:20:00\n"
                    "0:20:05 alarm-raised time-up #1 fridge since 0:10:10\n");
    assert_int_equal(engine_place_shelf(rig->engine, "fridge").until_ms, TIME_NONE);
    rig_free(rig);
}

static void
test_food_in_a_shelved_place_is_told_all_the_same(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, FRIDGE);
    begin_in_fridge(rig, "0:00:00", "p1");
    rig_play(rig, "0:00:05 shelve fridge 1:00:00\n");
    play_two(rig, "0:00:10", "0:09:00", "9.0", "p1", "5.0");
    play_two(rig, "0:09:10", "0:11:20", "9.0", "p1", "5.4");

    rig_expect(rig, "0:10:10 deviation-opened out-too-long #1 silent fridge p4 9.0 since "
                    "0:00:10 found 0:10:00\n"
                    "0:11:10 deviation-opened out-too-long #2 of #1 p1 5.4 since 0:09:10 found "
                    "0:02:00\n");
    assert_true(alarm_at(rig, 0).sounds);
    rig_free(rig);
}

static void
test_what_joins_a_shelved_alarm_ends_its_shelf(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_FOOD, FRIDGE);
    begin_in_fridge(rig, "0:00:00", "p1");
    play_two(rig, "0:00:10", "0:09:00", "9.0", "p1", "5.0");
    play_two(rig, "0:09:10", "0:10:20", "9.0", "p1", "5.4");
    rig_play(rig, "0:10:25 shelve 1 1:00:00\n");
    play_two(rig, "0:10:30", "0:11:10", "9.0", "p1", "5.4");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:10 found "
               "0:10:00\n"
               "0:11:10 deviation-opened out-too-long #2 of #1 p1 5.4 since 0:09:10 found "
               "0:02:00\n"
               "0:11:10 shelf-ended joined #1 fridge since 0:10:25 found 0:00:45\n");
    assert_true(alarm_at(rig, 0).sounds);
    rig_free(rig);
}

static void
test_shelf_ended_by_a_person_is_told_at_once(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:05 shelve 1 0:30:00\n0:12:06 shelve fridge "
                  "0:30:00\n0:12:10-0:13:00 a1 9.0\n0:13:05 shelve fridge end\n");
    /* The deviation itself is still shelved. */
    rig_play(rig, "0:13:10-0:14:00 a1 9.0\n0:14:05 shelve 1 end\n0:14:10 a1 9.0\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n"
               "0:13:05 shelf-ended entered fridge since 0:12:06 found 0:00:59\n"
               "0:14:05 shelf-ended entered #1 fridge since 0:12:05 found 0:02:00\n"
               "0:14:05 alarm-raised time-up #1 fridge since 0:10:00\n");
    rig_free(rig);
}

static void
test_shelf_that_ends_in_an_outage_is_told_at_the_restart(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:05 shelve 1 0:02:00\n0:12:10 a1 9.0\n");
    rig_reload(rig);
    rig_play(rig, "0:16:00 restart 0:12:10\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n"
               "0:16:00 shelf-ended time-up #1 fridge since 0:12:05 found 0:03:55\n"
               "0:16:00 alarm-raised time-up #1 fridge since 0:10:00\n");
    rig_free(rig);
}

/* ---- the next are told ---- */

#define LEVELS                                                                                 \
    "escalation:\n"                                                                            \
    "  - {after: 5 min, without: hearing, tell: supervisor}\n"                                 \
    "  - {after: 15 min, tell: SB}\n"                                                          \
    "  - {after: 1 h, tell: verifier}\n"

static void
test_levels_are_told_in_order_until_somebody_acts(void **state)
{
    (void)state;
    struct rig *rig = rig_with(NULL, FRIDGE, LEVELS);
    rig_play(rig, "0:00:00-0:30:00 a1 9.0\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n"
               "0:15:00 escalated not-heard #1 level 1 fridge since 0:10:00\n"
               "0:25:00 escalated no-action #1 level 2 fridge since 0:10:00\n");
    assert_int_equal(alarm_at(rig, 0).level, 2);
    assert_int_equal(alarm_at(rig, 0).level_ms, rig_time("0:25:00"));
    rig_play(rig, "0:30:05 action 1 AB\n0:30:10-2:00:00 a1 9.0\n");
    rig_expect(rig, "");
    rig_free(rig);
}

static void
test_heard_in_time_spares_the_level_that_asks_for_it_and_no_other(void **state)
{
    (void)state;
    struct rig *rig = rig_with(NULL, FRIDGE, LEVELS);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:05 heard 1 AB\n0:12:10-1:15:00 a1 9.0\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n"
               "0:25:00 escalated no-action #1 level 2 fridge since 0:10:00\n"
               "1:10:00 escalated no-action #1 level 3 fridge since 0:10:00\n");
    rig_free(rig);
}

static void
test_action_at_the_very_instant_is_in_time(void **state)
{
    (void)state;
    struct rig *rig = rig_with(NULL, FRIDGE, "escalation: [{after: 15 min, tell: SB}]\n");
    rig_play(rig, "0:00:00-0:24:50 a1 9.0\n0:25:00 action 1 AB\n0:25:10-0:40:00 a1 9.0\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n");
    rig_free(rig);
}

static void
test_ended_deviation_without_an_action_is_escalated_too(void **state)
{
    (void)state;
    struct rig *rig = rig_with(NULL, FRIDGE, "escalation: [{after: 15 min, tell: SB}]\n");
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:10-0:26:00 a1 4.0\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n"
               "0:13:10 deviation-ended back-inside #1 fridge p4 4.0 worst 9.0 since "
               "0:00:00 found 0:12:10\n"
               "0:25:00 escalated no-action #1 level 1 fridge since 0:10:00\n");
    rig_free(rig);
}

static void
test_shelf_counts_as_heard_but_excuses_no_action(void **state)
{
    (void)state;
    struct rig *rig = rig_with(NULL, FRIDGE, LEVELS);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n0:12:05 shelve 1 0:30:00\n0:12:10-0:50:00 a1 9.0\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n"
               "0:25:00 escalated no-action #1 level 2 fridge since 0:10:00\n"
               "0:42:05 shelf-ended time-up #1 fridge since 0:12:05 found 0:30:00\n"
               "0:42:05 alarm-raised time-up #1 fridge since 0:10:00\n"
               "0:47:05 escalated not-heard #1 level 1 fridge since 0:42:05\n");
    rig_free(rig);
}

static void
test_levels_that_fell_due_in_an_outage_are_told_at_the_restart(void **state)
{
    (void)state;
    struct rig *rig = rig_with(NULL, FRIDGE, LEVELS);
    rig_play(rig, "0:00:00-0:12:00 a1 9.0\n");
    rig_reload(rig);
    rig_play(rig, "0:26:00 restart 0:12:00\n");
    rig_expect(rig,
               "0:10:00 deviation-opened out-too-long #1 fridge p4 9.0 since 0:00:00 found "
               "0:10:00\n"
               "0:26:00 escalated not-heard #1 level 1 fridge since 0:10:00\n"
               "0:26:00 gap-opened outage #2 fridge p4 since 0:12:00 found 0:14:00\n"
               "0:26:00 escalated no-action #1 level 2 fridge since 0:10:00\n");
    rig_free(rig);
}

/* ---- E204 ---- */

/* The same readings, with and without people who hear and shelve: what is judged is the same.
 */
static void
test_nothing_of_it_changes_what_is_judged(void **state)
{
    (void)state;
    char logs[2][4000];
    for (int heard = 0; heard < 2; heard++) {
        struct rig *rig = rig_with(COLD_FOOD, FRIDGE, LEVELS);
        begin_in_fridge(rig, "0:00:00", "p1");
        rig_play(rig, heard ? "0:00:05 shelve fridge 0:20:00\n" : "");
        play_two(rig, "0:00:10", "0:09:00", "9.0", "p1", "5.0");
        play_two(rig, "0:09:10", "0:30:00", "9.0", "p1", "5.4");

        rig_play(rig, heard ? "0:30:05 heard 1 AB\n0:30:06 shelve 2 0:30:00\n" : "");
        rig_play(rig, "0:30:10-0:40:00 a1,p1 5.0\n");
        rig->log[rig->log_len] = '\0';
        size_t len = 0;
        logs[heard][0] = '\0';
        for (char *line = strtok(rig->log, "\n"); line; line = strtok(NULL, "\n")) {
            if (strstr(line, "shelf-ended") || strstr(line, "escalated") ||
                strstr(line, "alarm-raised"))
                continue;
            char *silent = strstr(line, " silent");
            if (silent)
                memmove(silent, silent + 7, strlen(silent + 7) + 1);
            len += (size_t)snprintf(logs[heard] + len, sizeof logs[0] - len, "%s\n", line);
        }
        rig_free(rig);
    }
    assert_string_equal(logs[0], logs[1]);
    assert_non_null(strstr(logs[0], "deviation-ended back-inside"));
}

/* E199: of two alarms that become one, the half hour counts from when the one that sounds was
 * last told: with its second stage, not with its first. */
static void
test_two_that_become_one_were_last_told_when_the_one_that_sounds_was(void **state)
{
    (void)state;
    struct rig *rig =
        rig_with("{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, "
                 "within: 30 min}, {to: 5 °C, within: 70 min}]}",
                 "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 80 "
                 "min, back_for: 1 min}",
                 "");
    rig_play(rig, "0:00:00 begin dish p1 place=fridge\n0:00:00 begin dish p2 place=fridge\n");
    play_two(rig, "0:00:10", "0:01:00", "9.0", "p1,p2", "57.5");
    play_two(rig, "0:01:10", "1:11:10", "9.0", "p1,p2", "56.5");
    rig_expect(rig, "0:01:10 clock-started fell-through-start p1 56.5 since 0:01:00\n"
                    "0:01:10 clock-started fell-through-start batch 2 p2 56.5 since 0:01:00\n"
                    "0:31:00 deviation-opened too-late #1 stage 1 p1 56.5 since 0:01:00 found "
                    "0:30:00\n"
                    "0:31:00 deviation-opened too-late #2 batch 2 stage 1 p2 56.5 since "
                    "0:01:00 found 0:30:00\n"
                    "1:11:00 deviation-opened too-late #3 of #1 stage 2 p1 56.5 since 0:01:00 "
                    "found 1:10:00\n"
                    "1:11:00 deviation-opened too-late #4 of #2 batch 2 stage 2 p2 56.5 since "
                    "0:01:00 found 1:10:00\n");
    rig_play(rig, "1:11:15 heard 1 AB\n");
    play_two(rig, "1:11:20", "1:20:20", "9.0", "p1,p2", "56.5");
    rig_expect(rig, "1:20:10 deviation-opened out-too-long #5 of #1 silent fridge p4 9.0 since "
                    "0:00:10 found 1:20:00\n");
    assert_int_equal(alarm_at(rig, 0).sounded_ms, rig_time("0:31:00"));
    rig_free(rig);
}

static void
test_last_of_the_most_levels_is_shown(void **state)
{
    (void)state;
    char keys[400] = "escalation:\n";
    for (int level = 1; level <= PLAN_LEVELS_MAX; level++)
        (void)snprintf(keys + strlen(keys), sizeof keys - strlen(keys),
                       "  - {after: %d min, tell: SB}\n", level);
    struct rig *rig = rig_with(NULL, FRIDGE, keys);
    rig_play(rig, "0:00:00-0:17:50 a1 9.0\n");
    assert_int_equal(alarm_at(rig, 0).level, PLAN_LEVELS_MAX - 1);
    rig_play(rig, "0:18:00-0:18:10 a1 9.0\n");
    assert_int_equal(alarm_at(rig, 0).level, PLAN_LEVELS_MAX);
    assert_int_equal(alarm_at(rig, 0).level_ms, rig_time("0:18:00"));
    rig_free(rig);
}

/* E197: food that is nowhere is not in the place of the first probe, nor of any. */
static void
test_food_that_is_nowhere_shares_no_cause_with_a_place(void **state)
{
    (void)state;
    static const char plan[] = PLAN_HEAD PLAN_PROBE("cold", "air", "rack", "0", "10 s")
        PLAN_PROBE("p1", "food", "wing", "0", "10 s") "places:\n"
                                                      "  - {id: fridge, name: Fridge, probe: "
                                                      "cold, limit: " FRIDGE "}\n"
                                                      "products:\n"
                                                      "  - id: salad\n"
                                                      "    name: Salad\n"
                                                      "    steps: [{id: keep, name: Keep, "
                                                      "limit: " COLD_FOOD "}]\n";
    struct rig *rig = rig_of(plan);
    rig_play(rig, "0:00:00 begin salad p1\n0:00:10-0:10:20 cold,p1 9.0\n");
    rig_expect(rig, "0:02:10 deviation-opened out-too-long #1 p2 9.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:10:10 deviation-opened out-too-long #2 fridge p1 9.0 since 0:00:10 "
                    "found 0:10:00\n");
    assert_int_equal(alarm_count(rig), 2);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_heard_alarm_is_quiet_and_its_deviation_stays_open),
        cmocka_unit_test(test_heard_is_said_once_of_a_deviation_that_there_is),
        cmocka_unit_test(test_warning_about_a_batch_is_heard_for_its_running_step),
        cmocka_unit_test(test_who_acts_has_heard_it),
        cmocka_unit_test(test_alarm_leaves_with_the_last_of_its_deviations),
        cmocka_unit_test(test_warm_place_and_the_batches_in_it_are_one_alarm),
        cmocka_unit_test(test_food_that_breaches_first_is_put_under_its_place),
        cmocka_unit_test(test_food_that_was_warm_before_its_place_is_its_own_alarm),
        cmocka_unit_test(test_dead_bus_is_one_alarm),
        cmocka_unit_test(test_probe_that_dies_later_is_an_alarm_of_its_own),
        cmocka_unit_test(test_what_joins_a_heard_alarm_sounds_it_again),
        cmocka_unit_test(test_left_early_is_its_own_alarm_although_its_probe_is_silent),
        cmocka_unit_test(test_shelved_alarm_comes_back_by_itself_if_its_cause_is_there),
        cmocka_unit_test(test_shelved_alarm_whose_cause_is_gone_stays_quiet),
        cmocka_unit_test(test_shelf_is_bounded_and_refused_where_it_means_nothing),
        cmocka_unit_test(test_shelved_place_is_judged_and_told_when_its_time_is_up),
        cmocka_unit_test(test_food_in_a_shelved_place_is_told_all_the_same),
        cmocka_unit_test(test_what_joins_a_shelved_alarm_ends_its_shelf),
        cmocka_unit_test(test_shelf_ended_by_a_person_is_told_at_once),
        cmocka_unit_test(test_shelf_that_ends_in_an_outage_is_told_at_the_restart),
        cmocka_unit_test(test_levels_are_told_in_order_until_somebody_acts),
        cmocka_unit_test(test_heard_in_time_spares_the_level_that_asks_for_it_and_no_other),
        cmocka_unit_test(test_action_at_the_very_instant_is_in_time),
        cmocka_unit_test(test_ended_deviation_without_an_action_is_escalated_too),
        cmocka_unit_test(test_shelf_counts_as_heard_but_excuses_no_action),
        cmocka_unit_test(test_levels_that_fell_due_in_an_outage_are_told_at_the_restart),
        cmocka_unit_test(test_nothing_of_it_changes_what_is_judged),
        cmocka_unit_test(test_two_that_become_one_were_last_told_when_the_one_that_sounds_was),
        cmocka_unit_test(test_last_of_the_most_levels_is_shown),
        cmocka_unit_test(test_food_that_is_nowhere_shares_no_cause_with_a_place),
    };
    return cmocka_run_group_tests_name("alarms", tests, NULL, NULL);
}
