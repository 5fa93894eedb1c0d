/* The recorder on a virtual clock: what is judged is committed before anyone is told, an entry
 * is acknowledged only when it is on record, a broken disk loses nothing and says so, a restart
 * goes on where the store ends, and replay agrees. */
#include "tests/support/recorder_rig.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/failing_vfs.h"

/* ---- an alarm command that writes down what it is told ---- */

static struct {
    char told[80]; /* the file it appends to, in the rig's directory */
    char plan_text[4096];
    struct queue *queue;
} alarm_rig;

static int
set_up_with_alarm(void **state)
{
    (void)rr_set_up(state);
    struct recorder_rig *rig = *state;
    struct clock clock = clock_machine();
    rr_crash(rig);
    (void)snprintf(alarm_rig.told, sizeof alarm_rig.told, "%s/told", rig->directory);
    (void)snprintf(alarm_rig.plan_text, sizeof alarm_rig.plan_text,
                   "%salarm: {command: [/usr/bin/tee, -a, %s], timeout: 10 s}\n", rr_plan_text,
                   alarm_rig.told);
    rig->text = alarm_rig.plan_text;
    alarm_rig.queue = queue_new(16);
    rig->hook = hook_start(alarm_rig.queue, &clock);
    rig->wall_ms += 1000;
    rr_start(rig);
    return 0;
}

static int
tear_down_with_alarm(void **state)
{
    struct recorder_rig *rig = *state;
    hook_stop(rig->hook);
    rig->hook = NULL;
    queue_free(alarm_rig.queue);
    return rr_tear_down(state);
}

/* Hands the recorder what the alarm command's runner reports. */
static void
await_told(struct recorder_rig *rig)
{
    struct message message;
    assert_int_equal(queue_take(alarm_rig.queue, &message, 1, 20000), 1);
    message.born_ms = rig->mono_ms;
    recorder_take(rig->recorder, &message, 1);
}

/* Counts a text in what the command was told so far. */
static size_t
told_before(const char *text)
{
    char all[8192] = "";
    size_t count = 0;
    FILE *file = fopen(alarm_rig.told, "r");
    if (file != NULL) {
        all[fread(all, 1, sizeof all - 1, file)] = '\0';
        (void)fclose(file);
    }
    for (const char *at = all; (at = strstr(at, text)) != NULL; at++)
        count++;
    return count;
}

/* The same once the runner has finished what it has. */
static size_t
told(struct recorder_rig *rig, const char *text)
{
    hook_stop(rig->hook);
    rig->hook = NULL;
    return told_before(text);
}

/* ---- tests ---- */

static void
test_first_start_records_start_clock_and_plan(void **state)
{
    struct recorder_rig *rig = *state;
    assert_int_equal(rr_records(rig, "start", NULL, 1), 1);
    assert_int_equal(rr_records(rig, "start", "since_ms", 1), 0);
    assert_int_equal(rr_records(rig, "clock", "\"offset_ms\":0,\"trusted\":true", 2), 1);
    assert_int_equal(rr_records(rig, "plan", "\"probes\":{\"core\":1,\"fridge\":2}", 3), 1);
}

static void
test_a_reading_is_shown_only_once_it_is_on_record(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read(rig, 1, 20000);
    struct snapshot *before = board_take(rig->board);
    assert_int_equal(rr_readings(rig), 0);
    assert_int_equal(before->probes[0].last.at_ms, TIME_NONE);
    snapshot_release(before);
    assert_true(recorder_wait_ms(rig->recorder) <= 1000);
    rr_pass(rig, 999);
    assert_int_equal(rr_readings(rig), 0);
    rr_pass(rig, 1);
    struct snapshot *after = board_take(rig->board);
    assert_int_equal(rr_readings(rig), 1);
    assert_int_equal(after->probes[0].last.temp_mC, 20000);
    snapshot_release(after);
}

static void
test_an_entry_is_acknowledged_only_once_it_is_on_record(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &entry), 200);
    assert_true(rig->was_on_record);
    assert_int_equal(rig->answer.batch, 1);
    assert_int_equal(rr_records(rig, "decision", "\"step-begun\"", 0), 1);
}

/* `trivet end` and, at once, `trivet calibrate`: the second one must not see the batch open. */
static void
test_whoever_is_answered_is_shown_what_was_entered(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &entry), 200);
    assert_int_equal(rig->shown_batches, 1);
    assert_true(rig->shown_seq >= rig->answer.seq);
    entry_clear(&entry, ENTRY_END);
    strcpy(entry.who, "AB");
    entry.batch = 1;
    entry.outcome = OUTCOME_SERVED;
    assert_int_equal(rr_enter(rig, &entry), 200);
    assert_int_equal(rig->shown_batches, 0);
}

/* A person who moves food on too early hears it at once, not only when somebody looks. */
static void
test_an_entry_that_opens_a_deviation_says_so(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast(), move, hand;
    assert_int_equal(rr_enter(rig, &entry), 200);
    assert_null(strstr(rig->answer.say, "Deviation"));
    assert_int_equal(rig->answer.deviation, 0);
    entry_clear(&move, ENTRY_MOVE);
    (void)snprintf(move.who, sizeof move.who, "AB");
    move.batch = 1;
    assert_int_equal(rr_enter(rig, &move), 200);
    assert_non_null(strstr(rig->answer.say, "Batch 1 moved to its next step"));
    assert_non_null(
        strstr(rig->answer.say, " Deviation 1: the step was left before its limit was met."));
    assert_int_equal(rig->answer.deviation, 1);
    entry_clear(&hand, ENTRY_HAND);
    (void)snprintf(hand.who, sizeof hand.who, "AB");
    (void)snprintf(hand.thermometer, sizeof hand.thermometer, "pen");
    hand.batch = 1;
    hand.has_temp = true;
    hand.temp_mC = 64000;
    assert_int_equal(rr_enter(rig, &hand), 200);
    assert_null(strstr(rig->answer.say, "Deviation"));
    assert_null(strstr(rig->answer.say, "met"));
}

static void
test_a_refused_entry_leaves_no_record(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    (void)snprintf(entry.product, sizeof entry.product, "stew");
    assert_int_equal(rr_enter(rig, &entry), 409);
    assert_int_equal(rr_records(rig, "begin", NULL, 0), 0);
    assert_true(strlen(rig->answer.say) > 0);
}

static void
test_a_cook_step_is_met_and_replay_agrees(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &entry), 200);
    for (int32_t core_mC = 52000; core_mC < 63000; core_mC += 1000)
        rr_read_for(rig, 5000, core_mC, 3000);
    assert_int_equal(rr_records(rig, "decision", "\"limit-met\"", 0), 0);
    rr_read_for(rig, 60000, 63000, 3000);
    assert_int_equal(rr_records(rig, "decision", "\"limit-met\"", 0), 1);
    rr_check_chain_and_replay(rig);
}

static void
test_seals_follow_the_readings_and_nothing_is_left_unsealed_at_the_end(void **state)
{
    struct recorder_rig *rig = *state;
    struct store_verdict verdict;
    struct store_error error;
    rr_read_for(rig, 130000, 20000, 3000);
    assert_true(rr_records(rig, "seal", NULL, 0) >= 2);
    recorder_finish(rig->recorder);
    assert_int_equal(rr_records(rig, "stop", NULL, 0), 1);
    assert_int_equal(store_verify(rig->directory, &verdict, &error), STORE_OK);
    assert_true(verdict.ok);
    assert_int_equal(verdict.unsealed, 0);
    assert_int_equal(verdict.readings, rr_readings(rig));
}

static void
test_a_full_disk_loses_nothing_and_says_so(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read_for(rig, 10000, 20000, 3000);
    size_t before = rr_readings(rig);
    failing_vfs_set(SQLITE_FULL);
    rr_read_for(rig, 20000, 21000, 3000);
    struct snapshot *during = board_take(rig->board);
    assert_true(during->unrecorded);
    assert_int_equal(during->probes[0].last.temp_mC, 21000); /* judging and the page go on */
    snapshot_release(during);
    struct entry entry = rr_note("the disk is full");
    assert_int_equal(rr_enter(rig, &entry), 503);
    assert_int_equal(rr_readings(rig), before);

    failing_vfs_set(SQLITE_OK);
    rr_pass(rig, 2000);
    struct snapshot *after = board_take(rig->board);
    assert_false(after->unrecorded);
    snapshot_release(after);
    assert_int_equal(rr_readings(rig), before + 8);
    assert_int_equal(rr_enter(rig, &entry), 200);
    assert_int_equal(rr_records(rig, "note", NULL, 0), 1);
    rr_check_chain_and_replay(rig);
}

static void
test_an_entry_that_cannot_be_committed_never_happened(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    rr_read_for(rig, 10000, 20000, 3000);
    failing_vfs_set(SQLITE_IOERR_FSYNC);
    assert_int_equal(rr_enter(rig, &entry), 503);
    struct snapshot *snapshot = board_take(rig->board);
    assert_int_equal(snapshot->batch_count, 0);
    snapshot_release(snapshot);
    failing_vfs_set(SQLITE_OK);
    rr_pass(rig, 2000);
    assert_int_equal(rr_records(rig, "begin", NULL, 0), 0);
    assert_int_equal(rr_enter(rig, &entry), 200);
    assert_int_equal(rig->answer.batch, 1); /* the number was not used up */
    rr_check_chain_and_replay(rig);
}

static void
test_a_restart_goes_on_and_the_outage_is_on_record(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &entry), 200);
    rr_read_for(rig, 100000, 50000, 3000); /* past a seal, so that there is a kept state */
    rr_crash(rig);
    rig->mono_ms = 100; /* a new boot */
    rig->wall_ms += 90000;
    rr_start(rig);
    struct snapshot *snapshot = board_take(rig->board);
    assert_int_equal(snapshot->batch_count, 1);
    assert_int_equal(snapshot->batches[0].view.number, 1);
    snapshot_release(snapshot);
    assert_int_equal(rr_records(rig, "start", "\"since_ms\":", 0), 1);
    assert_int_equal(rr_records(rig, "plan", NULL, 0), 1); /* the same text is no new plan */
    snapshot = board_take(rig->board);
    assert_string_equal(snapshot_plan_file(snapshot),
                        "/kitchen/test.yaml"); /* not as the record has it */
    snapshot_release(snapshot);
    rr_read_for(rig, 60000, 64000, 3000);
    assert_int_equal(rr_records(rig, "decision", "\"limit-met\"", 0), 1);
    rr_check_chain_and_replay(rig);
}

/* The holding time fits into the outage: whether the roast was done only a person can say, also
 * after it was served. */
static void
test_a_verdict_that_waits_for_a_person_outlives_its_batch(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &entry), 200);
    rr_read_for(rig, 20000, 50000, 3000);
    rr_crash(rig);
    rig->wall_ms += 90000;
    rr_start(rig);
    entry_clear(&entry, ENTRY_END);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    entry.batch = 1;
    entry.outcome = OUTCOME_SERVED;
    assert_int_equal(rr_enter(rig, &entry), 200);
    struct snapshot *snapshot = board_take(rig->board);
    assert_int_equal(snapshot->batch_count, 0);
    assert_int_equal(snapshot->undecided_count, 1);
    assert_int_equal(snapshot->undecided[0].view.said.batch, 1);
    assert_non_null(strstr(snapshot->undecided[0].sentence,
                           "Batch 1: cooking cannot be judged since 14:01"));
    snapshot_release(snapshot);

    entry_clear(&entry, ENTRY_DECIDE);
    (void)snprintf(entry.who, sizeof entry.who, "JO");
    (void)snprintf(entry.reason, sizeof entry.reason, "hand reading on paper: 66 C");
    entry.batch = 1;
    entry.accept = true;
    assert_int_equal(rr_enter(rig, &entry), 200);
    snapshot = board_take(rig->board);
    assert_int_equal(snapshot->undecided_count, 0);
    snapshot_release(snapshot);
    rr_check_chain_and_replay(rig);
}

static void
test_a_restart_without_the_kept_state_judges_the_whole_past_again(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &entry), 200);
    rr_read_for(rig, 100000, 64000, 9000); /* cook met, fridge too warm */
    size_t decisions = rr_records(rig, "decision", NULL, 0);
    rr_crash(rig);
    char file[100];
    sqlite3 *raw;
    (void)snprintf(file, sizeof file, "%s/trivet.db", rig->directory);
    assert_int_equal(sqlite3_open(file, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "DELETE FROM cache", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_close(raw), SQLITE_OK);
    rig->wall_ms += 1000;
    rr_start(rig);
    struct snapshot *snapshot = board_take(rig->board);
    assert_int_equal(snapshot->batch_count, 1);
    assert_int_equal(snapshot->batches[0].view.verdict, VERDICT_MET);
    assert_int_equal(snapshot->deviation_count, 1);
    snapshot_release(snapshot);
    assert_int_equal(rr_records(rig, "decision", NULL, 0),
                     decisions); /* nothing decided twice */
    rr_check_chain_and_replay(rig);
}

static void
test_a_wall_clock_behind_the_records_is_not_trusted_until_set(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read_for(rig, 10000, 20000, 3000);
    rr_crash(rig);
    rig->wall_ms = 1000; /* booted without a clock: 1970 */
    rr_start(rig);
    struct snapshot *snapshot = board_take(rig->board);
    assert_false(snapshot->clock_trusted);
    snapshot_release(snapshot);
    rr_read_for(rig, 10000, 21000, 3000);
    rig->wall_ms = RR_WALL_START + 3600000;
    rr_read_for(rig, 10000, 22000, 3000);
    snapshot = board_take(rig->board);
    assert_true(snapshot->clock_trusted);
    int64_t shown_ms = snapshot->at_ms + snapshot->offset_ms;
    assert_in_range(shown_ms, RR_WALL_START + 3600000, RR_WALL_START + 3700000);
    snapshot_release(snapshot);
    assert_int_equal(rr_records(rig, "clock", NULL, 0), 3);
    rr_check_chain_and_replay(rig);
}

static void
test_a_correction_needs_an_entry_to_correct(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_note("ten trays");
    assert_int_equal(rr_enter(rig, &entry), 200);
    uint64_t seq = rig->answer.seq;
    struct entry correct;
    entry_clear(&correct, ENTRY_CORRECT);
    (void)snprintf(correct.who, sizeof correct.who, "AB");
    (void)snprintf(correct.reason, sizeof correct.reason, "miscounted");
    (void)snprintf(correct.text, sizeof correct.text, "nine trays");
    correct.refers = 1; /* the start */
    assert_int_equal(rr_enter(rig, &correct), 404);
    correct.refers = 9999;
    assert_int_equal(rr_enter(rig, &correct), 404);
    correct.refers = seq;
    assert_int_equal(rr_enter(rig, &correct), 200);
    assert_int_equal(rr_records(rig, "note", "ten trays", seq), 1); /* the old one stays */
    correct.has_temp = true;
    correct.temp_mC = 60000;
    assert_int_equal(rr_enter(rig, &correct), 400);
}

static void
test_lost_readings_are_counted_on_record(void **state)
{
    struct recorder_rig *rig = *state;
    struct queue *queue = queue_new(4);
    struct message message = {
        .kind = MESSAGE_READING,
        .born_ms = rig->mono_ms,
        .is.reading = {.probe = 1, .temp_mC = 20000},
    };
    for (int i = 0; i < 8; i++)
        (void)queue_post(queue, &message);
    (void)queue_post(queue, &(struct message){.kind = MESSAGE_STOP});
    recorder_run(rig->recorder, queue);
    queue_free(queue);
    assert_int_equal(rr_readings(rig), 3);
    assert_int_equal(rr_records(rig, "loss", "\"count\":5", 0), 1);
    assert_int_equal(rr_records(rig, "stop", NULL, 0), 1);
}

/* A minute at 9 °C is all that the fridge's tolerance allows. */
static void
warm_fridge(struct recorder_rig *rig)
{
    rr_read_for(rig, 75000, 20000, 9000);
}

static void
test_a_deviation_is_told_and_the_telling_is_on_record(void **state)
{
    struct recorder_rig *rig = *state;
    warm_fridge(rig);
    await_told(rig);
    rr_pass(rig, 2000);
    assert_int_equal(rr_records(rig, "told", "\"done\":true", 0), 1);
    assert_int_equal(told(rig, "\"id\":\"1-opened\",\"recorded\":true"), 1);
}

static void
test_a_deviation_not_told_before_a_crash_is_told_after_it(void **state)
{
    struct recorder_rig *rig = *state;
    struct hook *hook = rig->hook;
    warm_fridge(rig);
    await_told(rig); /* the report reaches a recorder that crashes before it commits it */
    rr_crash(rig);
    rig->hook = hook;
    rig->wall_ms += 1000;
    rr_start(rig);
    rr_pass(rig, 0);
    await_told(rig);
    assert_int_equal(told(rig, "\"id\":\"1-opened\""), 2);
}

static void
test_a_broken_disk_does_not_keep_the_alarm_from_ringing(void **state)
{
    struct recorder_rig *rig = *state;
    rr_read_for(rig, 10000, 20000, 3000);
    failing_vfs_set(SQLITE_FULL);
    warm_fridge(rig);
    failing_vfs_set(SQLITE_OK);
    rr_pass(rig, 2000);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 1);
    rr_read_for(rig, 400000, 20000, 3000); /* its end is told after it */
    await_told(rig);
    assert_int_equal(told(rig, "\"id\":\"1-opened\",\"recorded\":false"), 1);
}

/* Leaving the roast early would be a deviation, but the entry is refused and never happened. */
static void
test_what_is_taken_back_is_told_to_nobody(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &entry), 200);
    rr_read_for(rig, 10000, 20000, 3000);
    entry_clear(&entry, ENTRY_MOVE);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    entry.batch = 1;
    failing_vfs_set(SQLITE_FULL);
    assert_int_equal(rr_enter(rig, &entry), 503);
    failing_vfs_set(SQLITE_OK);
    rr_pass(rig, 2000);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 0);
    warm_fridge(rig); /* a later deviation, told after whatever was told before */
    await_told(rig);
    assert_int_equal(told(rig, "\"event\":\"opened\""), 1);
}

/* One batch's advice, as the adviser gives it: at 21 °C by 16:30 or not. */
static void
advise(struct recorder_rig *rig, bool warned)
{
    struct snapshot *shown = board_take(rig->board);
    struct advice_list *list = calloc(1, sizeof *list);
    assert_int_equal(shown->batch_count, 1);
    list->count = 1;
    list->list[0] = (struct advice){
        .batch = 1,
        .step_begun_ms = shown->batches[0].view.step_begun_ms,
        .at_ms = shown->at_ms,
        .reach_count = 1,
        .reach[0] = {.to = {.milli = 21000},
                     .stage = 1,
                     .when = {.p50_ms = RR_WALL_START + 160 * 60000},
                     .deadline_ms = RR_WALL_START + 150 * 60000,
                     .miss_permille = warned ? 700 : 200},
        .peak_p05_mC = TEMP_NONE,
        .peak_p50_mC = TEMP_NONE,
        .peak_p95_mC = TEMP_NONE,
        .warned = warned,
    };
    snapshot_release(shown);
    struct message message = {
        .kind = MESSAGE_ADVICE, .born_ms = rig->mono_ms, .is.advice = list};
    recorder_take(rig->recorder, &message, 1);
    rr_pass(rig, 2000);
}

/* Once when it is first said and once when it is taken back, however often it is said; in words
 * nobody can take for a measured deviation. */
static void
test_a_forecast_is_told_as_a_forecast_and_taken_back(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry entry = rr_begin_roast();
    assert_int_equal(rr_enter(rig, &entry), 200);
    rr_read_for(rig, 10000, 20000, 3000);
    advise(rig, false);
    advise(rig, true);
    await_told(rig);
    advise(rig, true);
    advise(rig, false);
    await_told(rig);
    advise(rig, false);
    assert_int_equal(rr_records(rig, "forecast", NULL, 0), 2);
    assert_int_equal(rr_records(rig, "told", "\"done\":true", 0), 2);
    assert_int_equal(rr_records(rig, "decision", "\"deviation-opened\"", 0), 0);
    assert_int_equal(told(rig, "\"event\":\"forecast-miss\""), 1);
    assert_int_equal(told_before("\"event\":\"forecast-over\""), 1);
    assert_int_equal(told_before("\"event\":"), 2);
    assert_int_equal(told_before("Forecast: batch 1 will probably miss its limit by "
                                 "16:30; look at what helps"),
                     1);
    assert_int_equal(told_before("Forecast: batch 1 will probably meet its limit by "
                                 "16:30 after all"),
                     1);
    assert_int_equal(told_before("\"deviation\""), 0);
    rr_check_chain_and_replay(rig);
}

int
main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_first_start_records_start_clock_and_plan,
                                        rr_set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(test_a_reading_is_shown_only_once_it_is_on_record,
                                        rr_set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(test_an_entry_is_acknowledged_only_once_it_is_on_record,
                                        rr_set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(test_whoever_is_answered_is_shown_what_was_entered,
                                        rr_set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(test_an_entry_that_opens_a_deviation_says_so, rr_set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(test_a_refused_entry_leaves_no_record, rr_set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(test_a_cook_step_is_met_and_replay_agrees, rr_set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(
            test_seals_follow_the_readings_and_nothing_is_left_unsealed_at_the_end, rr_set_up,
            rr_tear_down),
        cmocka_unit_test_setup_teardown(test_a_full_disk_loses_nothing_and_says_so, rr_set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(test_an_entry_that_cannot_be_committed_never_happened,
                                        rr_set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(test_a_restart_goes_on_and_the_outage_is_on_record,
                                        rr_set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(
            test_a_verdict_that_waits_for_a_person_outlives_its_batch, rr_set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(
            test_a_restart_without_the_kept_state_judges_the_whole_past_again, rr_set_up,
            rr_tear_down),
        cmocka_unit_test_setup_teardown(
            test_a_wall_clock_behind_the_records_is_not_trusted_until_set, rr_set_up,
            rr_tear_down),
        cmocka_unit_test_setup_teardown(test_a_correction_needs_an_entry_to_correct, rr_set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(test_lost_readings_are_counted_on_record, rr_set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(test_a_deviation_is_told_and_the_telling_is_on_record,
                                        set_up_with_alarm, tear_down_with_alarm),
        cmocka_unit_test_setup_teardown(
            test_a_deviation_not_told_before_a_crash_is_told_after_it, set_up_with_alarm,
            tear_down_with_alarm),
        cmocka_unit_test_setup_teardown(test_a_broken_disk_does_not_keep_the_alarm_from_ringing,
                                        set_up_with_alarm, tear_down_with_alarm),
        cmocka_unit_test_setup_teardown(test_a_forecast_is_told_as_a_forecast_and_taken_back,
                                        set_up_with_alarm, tear_down_with_alarm),
        cmocka_unit_test_setup_teardown(test_what_is_taken_back_is_told_to_nobody,
                                        set_up_with_alarm, tear_down_with_alarm),
    };
    return cmocka_run_group_tests_name("recorder", tests, NULL, NULL);
}
