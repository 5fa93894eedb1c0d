/* A plan read again while the old one is in force, on a virtual clock: what is taken, what is
 * refused and said, what becomes a record; docs/plan.md and docs/engine.md E80 to E85. After
 * each story the chain holds and replay agrees. */
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/failing_vfs.h"
#include "tests/support/recorder_rig.h"

#define APPROVED_TODAY "approved: {by: JO, on: 2026-03-01}\n"
#define OLD_LIMIT      "at_most: 5 °C, tolerance: 1 min"
#define NEW_LIMIT      "at_most: 8 °C, tolerance: 1 min"

/* The rig's plan with `from` replaced (NULL = nothing) and text put in front. Two live at once.
 */
static const char *
plan_with(const char *front, const char *from, const char *to)
{
    static char bufs[2][8000];
    static size_t turn;
    char *buf = bufs[turn++ % 2];
    const char *at = from == NULL ? NULL : strstr(rr_plan_text, from);
    assert_true(from == NULL || at != NULL);
    int head = at == NULL ? 0 : (int)(at - rr_plan_text);
    int len = snprintf(buf, sizeof bufs[0], "%s%.*s%s%s", front, head, rr_plan_text,
                       at == NULL ? "" : to, at == NULL ? rr_plan_text : at + strlen(from));
    assert_in_range(len, 1, sizeof bufs[0] - 1);
    return buf;
}

static void
check_refused(const struct recorder_rig *rig, const char *holds)
{
    struct snapshot *snapshot = board_take(rig->board);
    if (holds == NULL)
        assert_string_equal(snapshot->plan_refused, "");
    else if (strstr(snapshot->plan_refused, holds) == NULL)
        fail_msg("'%s' is not told in:\n%s", holds, snapshot->plan_refused);
    snapshot_release(snapshot);
}

static void
test_change_of_a_limit_without_approval_is_refused_with_before_and_after(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, plan_with("", OLD_LIMIT, NEW_LIMIT)), 409);
    assert_null(rig->decided);
    check_refused(rig, "it changes 1 limit and nobody has approved it");
    check_refused(rig,
                  "place fridge: at most 5.0 °C, warmer for at most 1 min (air) -> at most 8.0 "
                  "°C, warmer for at most 1 min (air)");
    assert_int_equal(rr_records(rig, "plan", NULL, 0), 1);
    rr_read_for(rig, 120000, 20000, 6000); /* judged by the old limit still */
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 1);
    rr_check_chain_and_replay(rig);
}

static void
test_approved_change_is_in_force_at_once_and_on_record(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read_for(rig, 30000, 20000, 6000); /* outside, within the tolerance */
    assert_int_equal(rr_reload(rig, plan_with(APPROVED_TODAY, OLD_LIMIT, NEW_LIMIT)), 200);
    assert_non_null(rig->decided);
    assert_ptr_equal(rig->decided, recorder_plan(rig->recorder));
    assert_int_equal(rig->decided->probes[1].number, 2);
    assert_true(rig->was_on_record);
    assert_int_equal(
        rr_records(
            rig, "plan",
            "\"approved\":{\"by\":\"JO\",\"name\":\"Jun Okada\",\"on\":\"2026-03-01\","
            "\"role\":\"supervisor\"},\"changes\":[{\"after\":\"at most 8.0 °C, warmer for "
            "at most 1 min (air)\",\"before\":\"at most 5.0 °C, warmer for at most 1 min "
            "(air)\",\"what\":\"place fridge\"}],\"digest\":",
            rig->answer.seq),
        1);
    check_refused(rig, NULL);
    rr_read_for(rig, 120000, 20000, 6000);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 0);
    rr_read_for(rig, 120000, 20000, 9000);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 1);
    rr_check_chain_and_replay(rig);
}

static void
test_change_of_no_limit_needs_no_approval(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, plan_with("", "name: Resting", "name: Standing")), 200);
    assert_int_equal(rr_records(rig, "plan", "\"changes\"", 0), 0);
    assert_int_equal(rr_records(rig, "plan", "\"data\":{\"digest\"", 0), 2);
    rr_check_chain_and_replay(rig);
}

/* Readings that are not on record yet are no reason to show the answer late, nor shown early.
 */
static void
test_answer_is_shown_before_it_is_given(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read(rig, 2, 4000);
    size_t before = rr_readings(rig);
    assert_int_equal(rr_reload(rig, plan_with("", OLD_LIMIT, NEW_LIMIT)), 409);
    assert_non_null(strstr(rig->refused_when_told, "nobody has approved it"));
    assert_int_equal(rr_readings(rig), before + 1);
}

static void
test_same_plan_again_changes_nothing_and_forgets_the_refusal(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, plan_with("", OLD_LIMIT, NEW_LIMIT)), 409);
    assert_int_equal(rr_reload(rig, rr_plan_text), 200);
    assert_null(rig->decided);
    check_refused(rig, NULL);
    assert_int_equal(rr_records(rig, "plan", NULL, 0), 1);
}

static void
test_faulty_plan_is_told_with_its_line_and_the_old_one_stays(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, plan_with("", "at_most: 5 °C", "at_most: 5")), 400);
    check_refused(rig, "test.yaml:20:");
    assert_non_null(strstr(rig->answer.say, "test.yaml:20:"));
    assert_null(rig->decided);
    rr_read_for(rig, 120000, 20000, 6000);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 1);
    rr_check_chain_and_replay(rig);
}

static void
test_approval_of_another_time_does_not_stand(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(
        rr_reload(rig, plan_with("approved: {by: JO, on: 2026-03-02}\n", OLD_LIMIT, NEW_LIMIT)),
        409);
    check_refused(rig, "of a day still to come");
    assert_int_equal(
        rr_reload(rig, plan_with("approved: {by: JO, on: 2026-02-28}\n", OLD_LIMIT, NEW_LIMIT)),
        409);
    check_refused(rig, "older than the plan in force");
    assert_int_equal(rr_reload(rig, plan_with(APPROVED_TODAY, OLD_LIMIT, NEW_LIMIT)), 200);
    rr_pass(rig,
            INT64_C(24) * 3600 * 1000); /* the next day, with yesterday's approval left in */
    assert_int_equal(
        rr_reload(rig, plan_with(APPROVED_TODAY, OLD_LIMIT, "at_most: 9 °C, tolerance: 1 min")),
        409);
    check_refused(rig, "its approval is that of the plan in force");
    assert_int_equal(rr_reload(rig, plan_with("approved: {by: JO, on: 2026-03-02}\n", OLD_LIMIT,
                                              "at_most: 9 °C, tolerance: 1 min")),
                     200);
    rr_check_chain_and_replay(rig);
}

static void
test_draft_may_change_limits_and_leaving_it_needs_an_approval(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, plan_with("draft: yes\n", OLD_LIMIT, NEW_LIMIT)), 200);
    struct snapshot *snapshot = board_take(rig->board);
    assert_true(snapshot->plan->draft);
    snapshot_release(snapshot);
    assert_int_equal(rr_records(rig, "plan", "\"draft\":true", 0), 1);
    assert_int_equal(rr_reload(rig, plan_with("", OLD_LIMIT, NEW_LIMIT)), 409);
    check_refused(rig, "the plan in force is a draft");
    assert_int_equal(rr_reload(rig, plan_with(APPROVED_TODAY, OLD_LIMIT, NEW_LIMIT)), 200);
    rr_check_chain_and_replay(rig);
}

static const char core_probe[] =
    "  - {id: core, name: Core, kind: food, bus: line, unit: 1, function: 4, register: 0, "
    "type: int16, scale: 0.1 °C,\n"
    "     plausible: [-40 °C, 200 °C], every: 5 s}\n";

static void
test_probe_in_an_open_batch_cannot_be_taken_out(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry begin = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &begin), 200);
    assert_int_equal(rr_reload(rig, plan_with("", core_probe, "")), 409);
    check_refused(rig, "probe 'core' is in batch 1");
    struct entry end;
    entry_clear(&end, ENTRY_END);
    (void)snprintf(end.who, sizeof end.who, "AB");
    end.batch = 1;
    end.outcome = OUTCOME_SERVED;
    assert_int_equal(rr_enter(rig, &end), 200);
    assert_int_equal(rr_reload(rig, plan_with("", core_probe, "")), 200);
    assert_int_equal(rig->decided->probes[0].number, 2); /* the fridge keeps its number */
    rr_check_chain_and_replay(rig);
}

static void
test_running_batch_keeps_the_plan_it_began_under(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry begin = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &begin), 200);
    rr_read_for(rig, 20000, 62000, 3000);
    assert_int_equal(rr_reload(rig, plan_with(APPROVED_TODAY, "at_least: 63 °C",
                                              "at_least: 90 "
                                              "°C")),
                     200);
    rr_read_for(rig, 60000, 64000, 3000);
    assert_int_equal(rr_records(rig, "decision", "\"limit-met\"", 0), 1);
    struct snapshot *snapshot = board_take(rig->board);
    assert_int_equal(snapshot->batches[0].view.plan_seq, 3); /* the first plan's record */
    snapshot_release(snapshot);
    rr_check_chain_and_replay(rig);
}

static const char fridge_place[] =
    "places:\n"
    "  - id: fridge\n"
    "    name: Fridge\n"
    "    probe: fridge\n"
    "    limit: {kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 1 min}\n";

static void
test_place_with_a_deviation_goes_only_after_a_corrective_action(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read_for(rig, 120000, 20000, 6000);
    assert_int_equal(rr_reload(rig, plan_with(APPROVED_TODAY, fridge_place, "")), 409);
    check_refused(rig, "place 'fridge' has deviation 1");
    struct entry action;
    entry_clear(&action, ENTRY_ACTION);
    (void)snprintf(action.who, sizeof action.who, "AB");
    (void)snprintf(action.found, sizeof action.found, "the compressor is dead");
    (void)snprintf(action.done, sizeof action.done, "all food moved, the fridge goes");
    action.deviation = 1;
    action.disposition = DISPOSITION_USE;
    assert_int_equal(rr_enter(rig, &action), 200);
    assert_int_equal(rr_reload(rig, plan_with(APPROVED_TODAY, fridge_place, "")), 200);
    assert_int_equal(rr_records(rig, "plan", "\"after\":\"no limit\"", 0), 1);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-ended\"", 0), 1);
    rr_check_chain_and_replay(rig);
}

static void
test_last_who_may_verify_an_action_stays_in_the_plan(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read_for(rig, 120000, 20000, 6000);
    struct entry action;
    entry_clear(&action, ENTRY_ACTION);
    (void)snprintf(action.who, sizeof action.who, "AB");
    (void)snprintf(action.found, sizeof action.found, "door open");
    (void)snprintf(action.done, sizeof action.done, "closed");
    action.deviation = 1;
    action.disposition = DISPOSITION_USE;
    assert_int_equal(rr_enter(rig, &action), 200);
    assert_int_equal(
        rr_reload(rig, plan_with("",
                                 "AB, name: Ana Brandt, role: cook}\n  - {initials: "
                                 "JO, name: Jun Okada, role: supervisor}",
                                 "AB, name: Ana Brandt, role: verifier}\n  - "
                                 "{initials: JO, name: Jun Okada, role: cook}")),
        409);
    check_refused(rig, "the action of AB on deviation 1 waits for verification");
}

static void
test_plan_that_cannot_be_committed_never_came(void **state)
{
    struct recorder_rig *rig = *state;
    const char *text = plan_with(APPROVED_TODAY, OLD_LIMIT, NEW_LIMIT);
    failing_vfs_set(SQLITE_FULL);
    assert_int_equal(rr_reload(rig, text), 503);
    assert_null(rig->decided);
    assert_int_equal(rr_reload(rig, text), 503); /* known to be broken by now */
    failing_vfs_set(SQLITE_OK);
    rr_pass(rig, 2000);
    assert_int_equal(rr_records(rig, "plan", NULL, 0), 1);
    rr_read_for(rig, 120000, 20000, 6000);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 1);
    assert_int_equal(rr_reload(rig, text), 200);
    rr_check_chain_and_replay(rig);
}

static void
test_start_with_an_unapproved_plan_goes_on_with_the_one_on_record(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read_for(rig, 30000, 20000, 3000);
    rr_crash(rig);
    rig->text = plan_with("", OLD_LIMIT, NEW_LIMIT);
    rr_start(rig);
    check_refused(rig, "it changes 1 limit and nobody has approved it");
    assert_int_equal(recorder_plan(rig->recorder)->places[0].limit.temp.milli, 5000);
    assert_int_equal(recorder_plan(rig->recorder)->probes[1].number, 2);
    assert_int_equal(rr_records(rig, "plan", NULL, 0), 1);
    rr_read_for(rig, 120000, 20000, 6000);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 1);
    /* The file is put right, and read again. */
    assert_int_equal(rr_reload(rig, plan_with(APPROVED_TODAY, OLD_LIMIT, NEW_LIMIT)), 200);
    check_refused(rig, NULL);
    rr_crash(rig);
    rig->text = plan_with(APPROVED_TODAY, OLD_LIMIT, NEW_LIMIT);
    rr_start(rig);
    check_refused(rig, NULL);
    assert_int_equal(rr_records(rig, "plan", NULL, 0), 2);
    rr_check_chain_and_replay(rig);
}

static void
say_bus(struct recorder_rig *rig, const struct plan *plan, uint16_t index, bool up)
{
    struct message message = {.kind = MESSAGE_BUS, .born_ms = rig->mono_ms};
    message.is.bus.bus = index;
    message.is.bus.up = up;
    message.is.bus.plan = plan;
    recorder_take(rig->recorder, &message, 1);
}

static void
test_word_from_the_lines_of_the_old_plan_is_no_news(void **state)
{
    struct recorder_rig *rig = *state;
    const struct plan *old = recorder_plan(rig->recorder);
    say_bus(rig, old, 0, false);
    assert_int_equal(
        rr_reload(rig, plan_with("",
                                 "  - {id: line, driver: modbus-tcp, host: 127.0.0.1, port: "
                                 "15020}\n",
                                 "  - {id: other, driver: modbus-tcp, host: 127.0.0.1, port: "
                                 "15021}\n  - {id: line, driver: modbus-tcp, host: 127.0.0.1, "
                                 "port: 15020}\n")),
        200);
    say_bus(rig, old, 0, false);
    say_bus(rig, rig->decided, 1, false);
    struct snapshot *snapshot = board_take(rig->board);
    assert_int_equal(snapshot->bus_count, 2);
    assert_true(snapshot->buses[0].up);
    assert_false(snapshot->buses[1].up);
    snapshot_release(snapshot);
}

/* ---- quiet hours ---- */

#define QUIET_AT_THREE                                                                         \
    "at_most: 5 °C, tolerance: 1 min}\n    quiet: [{at: 15:00, lasts: 30 min, why: "          \
    "defrosting}]\n#"

static const char *
with_quiet(void)
{
    return plan_with(APPROVED_TODAY, OLD_LIMIT "}", QUIET_AT_THREE);
}

static void
test_scheduled_quiet_hours_come_once_a_day_by_the_sites_clock(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, with_quiet()), 200);
    assert_int_equal(
        rr_records(rig, "plan",
                   "\"after\":\"15:00 for 30 min (defrosting)\",\"before\":\"never\","
                   "\"what\":\"quiet hours of place fridge\"",
                   0),
        1);
    rr_read_for(rig, 3580000, 20000, 3000); /* until shortly before 15:00 */
    assert_int_equal(rr_records(rig, "quiet", NULL, 0), 0);
    rr_read_for(rig, 5 * 60000, 20000, 9000);
    assert_int_equal(rr_records(rig, "quiet", "\"place\":\"fridge\",\"why\":\"defrosting\"", 0),
                     1);
    assert_int_equal(rr_records(rig, "decision", "\"quiet-begun\"", 0), 1);
    struct snapshot *snapshot = board_take(rig->board);
    assert_string_equal(
        snapshot->places[0].sentence,
        "Quiet until 15:30 (defrosting): its limit is suspended, at most 5.0 °C "
        "again after that. The last reading was 9.0 °C.");
    assert_int_equal(snapshot->places[0].concern, CONCERN_WATCH);
    snapshot_release(snapshot);
    rr_read_for(rig, 30 * 60000, 20000, 9000);
    assert_int_equal(rr_records(rig, "decision", "\"reason\":\"time-up\"", 0), 1);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 1);
    assert_int_equal(rr_records(rig, "quiet", NULL, 0), 1);
    rr_check_chain_and_replay(rig);
}

static void
test_quiet_hours_that_began_in_an_outage_are_taken_up_for_what_is_left(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, with_quiet()), 200);
    rr_read_for(rig, 60000, 20000, 3000);
    rr_crash(rig);
    rig->mono_ms += 69 * 60000; /* until about 15:10 */
    rig->wall_ms += 69 * 60000;
    rig->text = with_quiet();
    rr_start(rig);
    rr_read_for(rig, 5 * 60000, 20000, 9000);
    struct snapshot *snapshot = board_take(rig->board);
    int64_t until_ms = snapshot->places[0].quiet.until_ms;
    snapshot_release(snapshot);
    assert_in_range(until_ms, RR_WALL_START + 90 * 60000 - 1000,
                    RR_WALL_START + 90 * 60000 + 1000);
    /* Another restart in between begins them no second time. */
    rr_crash(rig);
    rr_start(rig);
    rr_read_for(rig, 60000, 20000, 9000);
    assert_int_equal(rr_records(rig, "quiet", NULL, 0), 1);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 0);
    rr_check_chain_and_replay(rig);
}

static void
test_quiet_hours_follow_a_clock_that_is_set(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, with_quiet()), 200);
    rr_read_for(rig, 60000, 20000, 3000);
    rig->wall_ms += 59 * 60000 - 30000; /* set forward, to shortly before 15:00 */
    rr_read_for(rig, 20000, 20000, 3000);
    assert_int_equal(rr_records(rig, "clock", NULL, 0), 2);
    assert_int_equal(rr_records(rig, "quiet", NULL, 0), 0);
    rr_read_for(rig, 60000, 20000, 9000);
    assert_int_equal(rr_records(rig, "quiet", NULL, 0), 1);
    rr_check_chain_and_replay(rig);
}

/* 2026-03-29 01:00 UTC the clocks of London go from 01:00 to 02:00, 2026-10-25 01:00 UTC from
 * 02:00 back to 01:00 (tz database; the last Sundays of March and October). */
static void
check_london_night(struct recorder_rig *rig, int64_t midnight_utc_ms, const char *day,
                   int64_t begins_ms)
{
    static char text[8000];
    (void)snprintf(text, sizeof text, "%s",
                   plan_with("", OLD_LIMIT "}",
                             OLD_LIMIT
                             "}\n    quiet: [{at: 01:30, lasts: 30 min, why: off}]\n#"));
    char *zone = strstr(text, "time_zone: UTC");
    memmove(zone + strlen("time_zone: Europe/London"), zone + strlen("time_zone: UTC"),
            strlen(zone + strlen("time_zone: UTC")) + 1);
    memcpy(zone, "time_zone: Europe/London", strlen("time_zone: Europe/London"));
    (void)snprintf(text + strlen(text), sizeof text - strlen(text),
                   "\napproved: {by: JO, on: %s}\n", day);
    rr_crash(rig);
    rig->mono_ms += midnight_utc_ms - rig->wall_ms;
    rig->wall_ms = midnight_utc_ms;
    rig->text = text;
    rr_start(rig);
    check_refused(rig, NULL);
    rr_read_for(rig, INT64_C(3) * 3600000, 20000, 3000);
    char began[60];
    assert_int_equal(rr_records(rig, "quiet", NULL, 0), 1);
    for (int64_t late_ms = 0;; late_ms++) { /* looked at once a second, with 5 s a reading */
        assert_true(late_ms <= 6000);
        (void)snprintf(began, sizeof began, "\"at_ms\":%lld,",
                       (long long)(begins_ms + late_ms));
        if (rr_records(rig, "quiet", began, 0) == 1)
            break;
    }
    rr_check_chain_and_replay(rig);
}

static void
test_quiet_hours_that_the_clock_skips_begin_at_the_jump(void **state)
{
    /* 2026-03-29T00:00:00Z and 01:00:00Z */
    check_london_night(*state, INT64_C(1774742400000), "2026-03-29", INT64_C(1774746000000));
}

static void
test_quiet_hours_that_the_clock_shows_twice_begin_once(void **state)
{
    /* 2026-10-25T00:00:00Z and 00:30:00Z, 01:30 of summer time */
    check_london_night(*state, INT64_C(1792886400000), "2026-10-25", INT64_C(1792888200000));
}

static void
test_quiet_said_by_a_person_is_acknowledged_and_replays(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry quiet;
    entry_clear(&quiet, ENTRY_QUIET);
    (void)snprintf(quiet.place, sizeof quiet.place, "fridge");
    quiet.for_ms = 600000;
    quiet.why = QUIET_CLEANING;
    assert_int_equal(rr_enter(rig, &quiet), 409); /* nobody says so */
    (void)snprintf(quiet.who, sizeof quiet.who, "AB");
    assert_int_equal(rr_enter(rig, &quiet), 200);
    assert_string_equal(
        rig->answer.say,
        "The limit of fridge is suspended for 10 min (cleaning), says Ana Brandt.");
    rr_read_for(rig, 300000, 20000, 9000);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 0);
    quiet.end = true;
    assert_int_equal(rr_enter(rig, &quiet), 200);
    rr_read_for(rig, 120000, 20000, 9000);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 1);
    rr_check_chain_and_replay(rig);
}

/* ---- the days by which food is dated ---- */

#define DATED "name: Roast\n    date_mark: {kind: date_mark, applies_to: food, days: 2}"

static const char *
with_dates(const char *more)
{
    char front[200];
    (void)snprintf(front, sizeof front, "%s%s", APPROVED_TODAY, more);
    return plan_with(front, "name: Roast", DATED);
}

/* The rig's wall clock shows 14:00 of 2026-03-01, in UTC. */
static void
test_days_are_noted_as_they_begin_and_food_kept_too_long_is_told(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read_for(rig, 10000, 20000, 3000);
    assert_int_equal(rr_records(rig, "day", NULL, 0), 0); /* nothing has a date */
    assert_int_equal(rr_reload(rig, with_dates("")), 200);
    rr_read_for(rig, 10000, 20000, 3000);
    assert_int_equal(rr_records(rig, "day", "\"day\":\"2026-03-01\"", 0), 1);
    struct entry begin = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &begin), 200);
    assert_non_null(
        strstr(rig->answer.say, "Use it by the end of 2026-03-02, or throw it away."));
    assert_int_equal(rr_records(rig, "decision", "\"day\":\"2026-03-02\"", 0), 1);
    struct snapshot *snapshot = board_take(rig->board);
    assert_non_null(strstr(snapshot->batches[0].sentence,
                           "Day 1 of 2: use it by the end of 2026-03-02 or throw it away."));
    snapshot_release(snapshot);
    for (int i = 0; i < 2; i++) { /* a night in which nobody watched, and another */
        rr_crash(rig);
        rig->mono_ms += INT64_C(86400000);
        rig->wall_ms += INT64_C(86400000);
        rig->text = with_dates("");
        rr_start(rig);
        rr_read_for(rig, 10000, 20000, 3000);
        assert_int_equal(rr_records(rig, "day", NULL, 0), (size_t)i + 2);
        assert_int_equal(rr_records(rig, "decision", "\"date-passed\"", 0), (size_t)i);
    }
    assert_int_equal(rr_records(rig, "day", "\"day\":\"2026-03-03\"", 0), 1);
    assert_int_equal(rr_records(rig, "day", "\"who\"", 0), 0);
    rr_check_chain_and_replay(rig);
}

/* A business day may end in the night after its date: 14:00 is before 15:00. */
static void
test_days_end_when_the_plan_says(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, with_dates("duties: {day_ends: 15:00}\n")), 200);
    rr_read_for(rig, 3590000, 20000, 3000);
    assert_int_equal(rr_records(rig, "day", NULL, 0), 1);
    assert_int_equal(rr_records(rig, "day", "\"day\":\"2026-03-01\"", 0), 1);
    rr_read_for(rig, 30000, 20000, 3000);
    assert_int_equal(rr_records(rig, "day", "\"day\":\"2026-03-02\"", 0), 1);
    rr_check_chain_and_replay(rig);
}

/* Food that came just as the day did is of that day. */
static void
test_day_comes_before_the_entries_of_its_moment(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_reload(rig, with_dates("duties: {day_ends: 15:00}\n")), 200);
    rr_read_for(rig, 3590000, 20000, 3000);
    rr_pass(rig, 20000);
    struct entry begin = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &begin), 200);
    assert_non_null(strstr(rig->answer.say, "Use it by the end of 2026-03-03"));
    rr_check_chain_and_replay(rig);
}

/* ---- the list of changes itself ---- */

static struct plan *
loaded(const char *text)
{
    struct plan_faults faults;
    struct plan *plan = plan_load_text("test.yaml", text, strlen(text), &faults);
    if (plan == NULL)
        fail_msg("line %d: %s", faults.fault[0].line, faults.fault[0].text);
    return plan;
}

static void
check_change(const char *from, const char *to, size_t count, const char *what,
             const char *before, const char *after)
{
    struct plan_change changes[4];
    struct plan *old = loaded(rr_plan_text), *new = loaded(plan_with("", from, to));
    assert_int_equal(plan_changes(old, new, changes, 4), count);
    if (count > 0) {
        assert_string_equal(changes[0].what, what);
        assert_string_equal(changes[0].before, before);
        assert_string_equal(changes[0].after, after);
    }
    plan_free(old);
    plan_free(new);
}

static void
test_changes_name_what_differs_and_nothing_else(void **state)
{
    (void)state;
    check_change("name: Fridge", "name: Cold room", 0, NULL, NULL, NULL);
    check_change("for: 30 s}", "for: 30 s, source: our own study}", 0, NULL, NULL, NULL);
    check_change("for: 30 s", "for: 29 s", 1, "product roast, step cook",
                 "at least 63.0 °C for 30 s (food)", "at least 63.0 °C for 29 s (food)");
    check_change("id: cook", "id: bake", 2, "product roast, step bake", "no limit",
                 "at least 63.0 °C for 30 s (food)");
    check_change("    name: Fridge\n", "    name: Fridge\n    freezer: yes\n", 1,
                 "place fridge", "freezer: no", "freezer: yes");
    check_change("name: Resting", "name: Resting\n        starts_date: yes", 1,
                 "product roast, step rest", "starts_date: no", "starts_date: yes");
    check_change("name: Roast", DATED, 1, "product roast", "no limit",
                 "kept for at most 2 days, the day itself being the first (food)");
    check_change("tolerance: 1 min}", "tolerance: 1 min, back_for: 1 min}", 1, "place fridge",
                 "at most 5.0 °C, warmer for at most 1 min (air), back_for: 5 min",
                 "at most 5.0 °C, warmer for at most 1 min (air), back_for: 1 min");
    check_change("records:", "tolerances: {food_rate: 20 °C/min}\nrecords:", 1,
                 "tolerances: food_rate", "15.0 °C/min", "20.0 °C/min");
}

/* The same plan with a second probe for the core. */
static const char *
with_two_cores(const char *text)
{
    static char buf[8000];
    const char *at = strstr(text, "  - {id: fridge, name: Fridge, kind: air");
    assert_non_null(at);
    int len = snprintf(buf, sizeof buf,
                       "%.*s  - {id: other, name: Other, kind: food, bus: line, unit: 1, "
                       "function: 4, register: 2, type: int16, scale: 0.1 °C, plausible: "
                       "[-40 °C, 300 °C], every: 5 s}\n%s",
                       (int)(at - text), text, at);
    assert_in_range(len, 1, sizeof buf - 1);
    return buf;
}

/* Whether a cooling's clock waits for a person is no smaller a change than its limit. */
static void
test_changes_name_what_begins_by_itself(void **state)
{
    (void)state;
#define REST "name: Resting\n        limit: {kind: none}"
#define COOL                                                                                     \
    "        limit: {kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: " \
    "2 h}]}"
    struct plan_change changes[4];
    struct plan *by_hand = loaded(plan_with("", REST, "name: Cooling\n" COOL));
    struct plan *by_itself = loaded(plan_with(
        "", REST,
        "name: Cooling\n        begins: by_itself\n        begins_on: [core]\n" COOL));
    assert_int_equal(plan_changes(by_hand, by_itself, changes, 4), 1);
    assert_string_equal(changes[0].what, "product roast, step rest");
    assert_string_equal(changes[0].before, "begins: by_hand");
    assert_string_equal(changes[0].after, "begins: by_itself, begins_on: core");
    assert_int_equal(plan_changes(by_itself, by_hand, changes, 4), 1);
    assert_int_equal(plan_changes(by_itself, by_itself, changes, 4), 0);
    struct plan *one_pan = loaded(with_two_cores(
        plan_with("", REST,
                  "name: Cooling\n        begins: by_itself\n        begins_on: [core, other]\n"
                  "        begins_together: yes\n" COOL)));
    assert_int_equal(plan_changes(by_itself, one_pan, changes, 4), 1);
    assert_string_equal(changes[0].after,
                        "begins: by_itself, begins_on: core, other, together");
    plan_free(one_pan);
    plan_free(by_hand);
    plan_free(by_itself);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, rr_set_up, rr_tear_down)

int
main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(test_change_of_a_limit_without_approval_is_refused_with_before_and_after),
        TEST(test_approved_change_is_in_force_at_once_and_on_record),
        TEST(test_change_of_no_limit_needs_no_approval),
        TEST(test_answer_is_shown_before_it_is_given),
        TEST(test_same_plan_again_changes_nothing_and_forgets_the_refusal),
        TEST(test_faulty_plan_is_told_with_its_line_and_the_old_one_stays),
        TEST(test_approval_of_another_time_does_not_stand),
        TEST(test_draft_may_change_limits_and_leaving_it_needs_an_approval),
        TEST(test_probe_in_an_open_batch_cannot_be_taken_out),
        TEST(test_running_batch_keeps_the_plan_it_began_under),
        TEST(test_place_with_a_deviation_goes_only_after_a_corrective_action),
        TEST(test_last_who_may_verify_an_action_stays_in_the_plan),
        TEST(test_plan_that_cannot_be_committed_never_came),
        TEST(test_start_with_an_unapproved_plan_goes_on_with_the_one_on_record),
        TEST(test_word_from_the_lines_of_the_old_plan_is_no_news),
        TEST(test_scheduled_quiet_hours_come_once_a_day_by_the_sites_clock),
        TEST(test_quiet_hours_that_began_in_an_outage_are_taken_up_for_what_is_left),
        TEST(test_quiet_hours_follow_a_clock_that_is_set),
        TEST(test_quiet_hours_that_the_clock_skips_begin_at_the_jump),
        TEST(test_quiet_hours_that_the_clock_shows_twice_begin_once),
        TEST(test_quiet_said_by_a_person_is_acknowledged_and_replays),
        TEST(test_days_are_noted_as_they_begin_and_food_kept_too_long_is_told),
        TEST(test_days_end_when_the_plan_says),
        TEST(test_day_comes_before_the_entries_of_its_moment),
        cmocka_unit_test(test_changes_name_what_differs_and_nothing_else),
        cmocka_unit_test(test_changes_name_what_begins_by_itself),
    };
    return cmocka_run_group_tests_name("plan read again", tests, NULL, NULL);
}
