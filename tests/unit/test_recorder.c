/* The recorder on a virtual clock: what is judged is committed before anyone is told, an entry
 * is acknowledged only when it is on record, a broken disk loses nothing and says so, a restart
 * goes on where the store ends, and replay agrees. */
#include "tests/support/check.h"

#include <dirent.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tests/support/failing_vfs.h"
#include "trivet/recorder.h"

static const char plan_text[] =
    "site:\n"
    "  name: Harbour Lane Kitchen\n"
    "  time_zone: UTC\n"
    "people:\n"
    "  - {initials: AB, name: Ana Brandt, role: cook}\n"
    "  - {initials: JO, name: Jun Okada, role: supervisor}\n"
    "buses:\n"
    "  - {id: line, driver: modbus-tcp, host: 127.0.0.1, port: 15020}\n"
    "probes:\n"
    "  - {id: core, name: Core, kind: food, bus: line, unit: 1, function: 4, register: 0, "
    "type: int16, scale: 0.1 °C,\n"
    "     plausible: [-40 °C, 200 °C], every: 5 s}\n"
    "  - {id: fridge, name: Fridge, kind: air, bus: line, unit: 1, function: 4, register: 1, "
    "type: int16, scale: 0.1 °C,\n"
    "     plausible: [-40 °C, 60 °C], every: 5 s}\n"
    "thermometers:\n"
    "  - {id: pen, name: Pen}\n"
    "places:\n"
    "  - id: fridge\n"
    "    name: Fridge\n"
    "    probe: fridge\n"
    "    limit: {kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 1 min}\n"
    "products:\n"
    "  - id: roast\n"
    "    name: Roast\n"
    "    steps:\n"
    "      - id: cook\n"
    "        name: Roasting\n"
    "        limit: {kind: cook, applies_to: food, at_least: 63 °C, for: 30 s}\n"
    "      - id: rest\n"
    "        name: Resting\n"
    "        limit: {kind: none}\n"
    "records: {directory: records}\n";

#define WALL_START INT64_C(1772373600000) /* 2026-03-01T14:00:00Z */

struct rig {
    char directory[64];
    char told[80]; /* file the alarm command appends to; "" = the plan names no command */
    struct queue *queue;
    struct hook *hook;
    int64_t mono_ms, wall_ms;
    struct plan *plan;
    struct store *store;
    struct board *board;
    struct recorder *recorder;
    struct entry_answer answer; /* the last one given */
    int answers;
    bool was_on_record; /* at the moment of the answer */
};

static int64_t
rig_mono(void *arg)
{
    return ((struct rig *)arg)->mono_ms;
}

static int64_t
rig_wall(void *arg)
{
    return ((struct rig *)arg)->wall_ms;
}

static void
rig_start(struct rig *rig)
{
    struct plan_faults faults;
    struct store_error error;
    struct store_options options = {.vfs = FAILING_VFS};
    char why[400];
    char text[sizeof plan_text + 200];
    int len = snprintf(text, sizeof text, "%s", plan_text);
    if (rig->told[0] != '\0')
        len = snprintf(text, sizeof text,
                       "%salarm: {command: [/usr/bin/tee, -a, %s], timeout: 10 s}\n", plan_text,
                       rig->told);
    rig->plan = plan_load_text("/kitchen/test.yaml", text, (size_t)len, &faults);
    if (rig->plan == NULL)
        fail_msg("line %d: %s", faults.fault[0].line, faults.fault[0].text);
    rig->store = store_open(rig->directory, &options, &error);
    if (rig->store == NULL)
        fail_msg("%s", error.text);
    rig->board = board_new();
    struct recorder_parts parts = {
        .plan = rig->plan,
        .store = rig->store,
        .directory = rig->directory,
        .clock = {rig_mono, rig_wall, rig},
        .board = rig->board,
        .hook = rig->hook,
    };
    rig->recorder = recorder_new(&parts, why, sizeof why);
    if (rig->recorder == NULL)
        fail_msg("%s", why);
}

/* Ends without a word, as a crash does: what is not committed is gone. */
static void
rig_crash(struct rig *rig)
{
    board_free(rig->board);
    recorder_free(rig->recorder);
    store_close(rig->store);
}

static void
rig_pass(struct rig *rig, int64_t ms)
{
    rig->mono_ms += ms;
    rig->wall_ms += ms;
    recorder_take(rig->recorder, NULL, 0);
}

static void
rig_read(struct rig *rig, uint16_t probe, int32_t temp_mC)
{
    struct message message = {
        .kind = MESSAGE_READING,
        .born_ms = rig->mono_ms,
        .is.reading = {.probe = probe,
                       .temp_mC = temp_mC,
                       .quality = temp_mC == TEMP_NONE ? BAD_TIMEOUT : READING_GOOD},
    };
    recorder_take(rig->recorder, &message, 1);
}

/* Both probes every five seconds. */
static void
rig_read_for(struct rig *rig, int64_t for_ms, int32_t core_mC, int32_t fridge_mC)
{
    for (int64_t passed_ms = 0; passed_ms < for_ms; passed_ms += 5000) {
        rig_pass(rig, 5000);
        rig_read(rig, 1, core_mC);
        rig_read(rig, 2, fridge_mC);
    }
    rig_pass(rig, 1000);
}

struct counting {
    const char *kind;
    const char *holds; /* text that the body must hold, or NULL */
    uint64_t seq;
    size_t count;
};

static bool
count_record(void *arg, const struct store_record *record)
{
    struct counting *counting = arg;
    bool of_kind = counting->kind == NULL || strcmp(record->kind, counting->kind) == 0;
    bool named = counting->seq == 0 || record->seq == counting->seq;
    if (of_kind && named &&
        (counting->holds == NULL || strstr(record->body, counting->holds) != NULL))
        counting->count++;
    return true;
}

static size_t
records(const struct rig *rig, const char *kind, const char *holds, uint64_t seq)
{
    struct store_error error;
    struct counting counting = {kind, holds, seq, 0};
    struct store_reader *reader = store_reader_open(rig->directory, &error);
    assert_non_null(reader);
    assert_int_equal(
        store_each_record(reader, 0, UINT64_MAX, NULL, count_record, &counting, &error),
        STORE_OK);
    store_reader_close(reader);
    return counting.count;
}

static bool
count_reading(void *arg, const struct reading *reading)
{
    (void)reading;
    ++*(size_t *)arg;
    return true;
}

static size_t
readings(const struct rig *rig)
{
    struct store_error error;
    size_t count = 0;
    struct store_reader *reader = store_reader_open(rig->directory, &error);
    assert_non_null(reader);
    assert_int_equal(
        store_each_reading(reader, 0, TIME_NONE, INT64_MAX, count_reading, &count, &error),
        STORE_OK);
    store_reader_close(reader);
    return count;
}

static void
take_answer(void *arg, const struct entry_answer *answer)
{
    struct rig *rig = arg;
    rig->answer = *answer;
    rig->answers++;
    rig->was_on_record = answer->code == 200 && records(rig, NULL, NULL, answer->seq) == 1;
}

static int
rig_enter(struct rig *rig, const struct entry *entry)
{
    struct entry_request *request = calloc(1, sizeof *request);
    request->entry = *entry;
    request->answer = take_answer;
    request->arg = rig;
    struct message message = {
        .kind = MESSAGE_ENTRY, .born_ms = rig->mono_ms, .is.entry = request};
    int before = rig->answers;
    recorder_take(rig->recorder, &message, 1);
    assert_int_equal(rig->answers, before + 1);
    return rig->answer.code;
}

static struct entry
begin_roast(void)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_BEGIN);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    (void)snprintf(entry.product, sizeof entry.product, "roast");
    (void)snprintf(entry.probes[0], sizeof entry.probes[0], "core");
    entry.probe_count = 1;
    return entry;
}

static struct entry
note(const char *text)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_NOTE);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    (void)snprintf(entry.text, sizeof entry.text, "%s", text);
    return entry;
}

static void
assert_chain_and_replay(const struct rig *rig)
{
    struct store_verdict verdict;
    struct replay_result result;
    struct store_error error;
    assert_int_equal(store_verify(rig->directory, &verdict, &error), STORE_OK);
    if (!verdict.ok)
        fail_msg("chain: %s", verdict.text);
    assert_int_equal(replay_store(rig->directory, &result, &error), STORE_OK);
    if (!result.same)
        fail_msg("replay: record %llu: %s", (unsigned long long)result.differs_at, result.text);
}

static int
set_up(void **state)
{
    struct rig *rig = calloc(1, sizeof *rig);
    failing_vfs_register();
    failing_vfs_set(SQLITE_OK);
    (void)snprintf(rig->directory, sizeof rig->directory, "/tmp/trivet-recorder-XXXXXX");
    assert_non_null(mkdtemp(rig->directory));
    rig->mono_ms = 5000;
    rig->wall_ms = WALL_START;
    rig_start(rig);
    *state = rig;
    return 0;
}

/* The same with an alarm command; its file lies in the rig's directory. */
static int
set_up_with_alarm(void **state)
{
    (void)set_up(state);
    struct rig *rig = *state;
    struct clock clock = clock_machine();
    rig_crash(rig);
    (void)snprintf(rig->told, sizeof rig->told, "%s/told", rig->directory);
    rig->queue = queue_new(16);
    rig->hook = hook_start(rig->queue, &clock);
    rig->wall_ms += 1000;
    rig_start(rig);
    return 0;
}

/* Hands the recorder what the alarm command's runner reports. */
static void
rig_await_told(struct rig *rig)
{
    struct message message;
    assert_int_equal(queue_take(rig->queue, &message, 1, 20000), 1);
    message.born_ms = rig->mono_ms;
    recorder_take(rig->recorder, &message, 1);
}

/* Waits for the runner to finish what it has, and counts a text in what the command was told.
 */
static size_t
rig_told(struct rig *rig, const char *text)
{
    char all[8192] = "";
    size_t count = 0;
    hook_stop(rig->hook);
    rig->hook = NULL;
    FILE *file = fopen(rig->told, "r");
    if (file != NULL) {
        all[fread(all, 1, sizeof all - 1, file)] = '\0';
        (void)fclose(file);
    }
    for (const char *at = all; (at = strstr(at, text)) != NULL; at++)
        count++;
    return count;
}

static int
tear_down(void **state)
{
    struct rig *rig = *state;
    failing_vfs_set(SQLITE_OK);
    hook_stop(rig->hook);
    queue_free(rig->queue);
    rig_crash(rig);
    DIR *directory = opendir(rig->directory);
    for (struct dirent *file; (file = readdir(directory)) != NULL;)
        if (file->d_name[0] != '.')
            (void)unlinkat(dirfd(directory), file->d_name, 0);
    (void)closedir(directory);
    (void)rmdir(rig->directory);
    free(rig);
    return 0;
}

/* ---- tests ---- */

static void
test_first_start_records_start_clock_and_plan(void **state)
{
    struct rig *rig = *state;
    assert_int_equal(records(rig, "start", NULL, 1), 1);
    assert_int_equal(records(rig, "start", "since_ms", 1), 0);
    assert_int_equal(records(rig, "clock", "\"offset_ms\":0,\"trusted\":true", 2), 1);
    assert_int_equal(records(rig, "plan", "\"probes\":{\"core\":1,\"fridge\":2}", 3), 1);
}

static void
test_a_reading_is_shown_only_once_it_is_on_record(void **state)
{
    struct rig *rig = *state;
    rig_read(rig, 1, 20000);
    struct snapshot *before = board_take(rig->board);
    assert_int_equal(readings(rig), 0);
    assert_int_equal(before->probes[0].last.at_ms, TIME_NONE);
    snapshot_release(before);
    assert_true(recorder_wait_ms(rig->recorder) <= 1000);
    rig_pass(rig, 999);
    assert_int_equal(readings(rig), 0);
    rig_pass(rig, 1);
    struct snapshot *after = board_take(rig->board);
    assert_int_equal(readings(rig), 1);
    assert_int_equal(after->probes[0].last.temp_mC, 20000);
    snapshot_release(after);
}

static void
test_an_entry_is_acknowledged_only_once_it_is_on_record(void **state)
{
    struct rig *rig = *state;
    struct entry entry = begin_roast();
    assert_int_equal(rig_enter(rig, &entry), 200);
    assert_true(rig->was_on_record);
    assert_int_equal(rig->answer.batch, 1);
    assert_int_equal(records(rig, "decision", "\"step-begun\"", 0), 1);
}

/* A person who moves food on too early hears it at once, not only when somebody looks. */
static void
test_an_entry_that_opens_a_deviation_says_so(void **state)
{
    struct rig *rig = *state;
    struct entry entry = begin_roast(), move, hand;
    assert_int_equal(rig_enter(rig, &entry), 200);
    assert_null(strstr(rig->answer.say, "Deviation"));
    assert_int_equal(rig->answer.deviation, 0);
    entry_clear(&move, ENTRY_MOVE);
    (void)snprintf(move.who, sizeof move.who, "AB");
    move.batch = 1;
    assert_int_equal(rig_enter(rig, &move), 200);
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
    assert_int_equal(rig_enter(rig, &hand), 200);
    assert_null(strstr(rig->answer.say, "Deviation"));
    assert_null(strstr(rig->answer.say, "met"));
}

static void
test_a_refused_entry_leaves_no_record(void **state)
{
    struct rig *rig = *state;
    struct entry entry = begin_roast();
    (void)snprintf(entry.product, sizeof entry.product, "stew");
    assert_int_equal(rig_enter(rig, &entry), 409);
    assert_int_equal(records(rig, "begin", NULL, 0), 0);
    assert_true(strlen(rig->answer.say) > 0);
}

static void
test_a_cook_step_is_met_and_replay_agrees(void **state)
{
    struct rig *rig = *state;
    struct entry entry = begin_roast();
    assert_int_equal(rig_enter(rig, &entry), 200);
    for (int32_t core_mC = 52000; core_mC < 63000; core_mC += 1000)
        rig_read_for(rig, 5000, core_mC, 3000);
    assert_int_equal(records(rig, "decision", "\"limit-met\"", 0), 0);
    rig_read_for(rig, 60000, 63000, 3000);
    assert_int_equal(records(rig, "decision", "\"limit-met\"", 0), 1);
    assert_chain_and_replay(rig);
}

static void
test_seals_follow_the_readings_and_nothing_is_left_unsealed_at_the_end(void **state)
{
    struct rig *rig = *state;
    struct store_verdict verdict;
    struct store_error error;
    rig_read_for(rig, 130000, 20000, 3000);
    assert_true(records(rig, "seal", NULL, 0) >= 2);
    recorder_finish(rig->recorder);
    assert_int_equal(records(rig, "stop", NULL, 0), 1);
    assert_int_equal(store_verify(rig->directory, &verdict, &error), STORE_OK);
    assert_true(verdict.ok);
    assert_int_equal(verdict.unsealed, 0);
    assert_int_equal(verdict.readings, readings(rig));
}

static void
test_a_full_disk_loses_nothing_and_says_so(void **state)
{
    struct rig *rig = *state;
    rig_read_for(rig, 10000, 20000, 3000);
    size_t before = readings(rig);
    failing_vfs_set(SQLITE_FULL);
    rig_read_for(rig, 20000, 21000, 3000);
    struct snapshot *during = board_take(rig->board);
    assert_true(during->unrecorded);
    assert_int_equal(during->probes[0].last.temp_mC, 21000); /* judging and the page go on */
    snapshot_release(during);
    struct entry entry = note("the disk is full");
    assert_int_equal(rig_enter(rig, &entry), 503);
    assert_int_equal(readings(rig), before);

    failing_vfs_set(SQLITE_OK);
    rig_pass(rig, 2000);
    struct snapshot *after = board_take(rig->board);
    assert_false(after->unrecorded);
    snapshot_release(after);
    assert_int_equal(readings(rig), before + 8);
    assert_int_equal(rig_enter(rig, &entry), 200);
    assert_int_equal(records(rig, "note", NULL, 0), 1);
    assert_chain_and_replay(rig);
}

static void
test_an_entry_that_cannot_be_committed_never_happened(void **state)
{
    struct rig *rig = *state;
    struct entry entry = begin_roast();
    rig_read_for(rig, 10000, 20000, 3000);
    failing_vfs_set(SQLITE_IOERR_FSYNC);
    assert_int_equal(rig_enter(rig, &entry), 503);
    struct snapshot *snapshot = board_take(rig->board);
    assert_int_equal(snapshot->batch_count, 0);
    snapshot_release(snapshot);
    failing_vfs_set(SQLITE_OK);
    rig_pass(rig, 2000);
    assert_int_equal(records(rig, "begin", NULL, 0), 0);
    assert_int_equal(rig_enter(rig, &entry), 200);
    assert_int_equal(rig->answer.batch, 1); /* the number was not used up */
    assert_chain_and_replay(rig);
}

static void
test_a_restart_goes_on_and_the_outage_is_on_record(void **state)
{
    struct rig *rig = *state;
    struct entry entry = begin_roast();
    assert_int_equal(rig_enter(rig, &entry), 200);
    rig_read_for(rig, 100000, 50000, 3000); /* past a seal, so that there is a kept state */
    rig_crash(rig);
    rig->mono_ms = 100; /* a new boot */
    rig->wall_ms += 90000;
    rig_start(rig);
    struct snapshot *snapshot = board_take(rig->board);
    assert_int_equal(snapshot->batch_count, 1);
    assert_int_equal(snapshot->batches[0].view.number, 1);
    snapshot_release(snapshot);
    assert_int_equal(records(rig, "start", "\"since_ms\":", 0), 1);
    assert_int_equal(records(rig, "plan", NULL, 0), 1); /* the same text is no new plan */
    snapshot = board_take(rig->board);
    assert_string_equal(snapshot_plan_file(snapshot),
                        "/kitchen/test.yaml"); /* not as the record has it */
    snapshot_release(snapshot);
    rig_read_for(rig, 60000, 64000, 3000);
    assert_int_equal(records(rig, "decision", "\"limit-met\"", 0), 1);
    assert_chain_and_replay(rig);
}

/* The holding time fits into the outage: whether the roast was done only a person can say, also
 * after it was served. */
static void
test_a_verdict_that_waits_for_a_person_outlives_its_batch(void **state)
{
    struct rig *rig = *state;
    struct entry entry = begin_roast();
    assert_int_equal(rig_enter(rig, &entry), 200);
    rig_read_for(rig, 20000, 50000, 3000);
    rig_crash(rig);
    rig->wall_ms += 90000;
    rig_start(rig);
    entry_clear(&entry, ENTRY_END);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    entry.batch = 1;
    entry.outcome = OUTCOME_SERVED;
    assert_int_equal(rig_enter(rig, &entry), 200);
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
    assert_int_equal(rig_enter(rig, &entry), 200);
    snapshot = board_take(rig->board);
    assert_int_equal(snapshot->undecided_count, 0);
    snapshot_release(snapshot);
    assert_chain_and_replay(rig);
}

static void
test_a_restart_without_the_kept_state_judges_the_whole_past_again(void **state)
{
    struct rig *rig = *state;
    struct entry entry = begin_roast();
    assert_int_equal(rig_enter(rig, &entry), 200);
    rig_read_for(rig, 100000, 64000, 9000); /* cook met, fridge too warm */
    size_t decisions = records(rig, "decision", NULL, 0);
    rig_crash(rig);
    char file[100];
    sqlite3 *raw;
    (void)snprintf(file, sizeof file, "%s/trivet.db", rig->directory);
    assert_int_equal(sqlite3_open(file, &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "DELETE FROM cache", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_close(raw), SQLITE_OK);
    rig->wall_ms += 1000;
    rig_start(rig);
    struct snapshot *snapshot = board_take(rig->board);
    assert_int_equal(snapshot->batch_count, 1);
    assert_int_equal(snapshot->batches[0].view.verdict, VERDICT_MET);
    assert_int_equal(snapshot->deviation_count, 1);
    snapshot_release(snapshot);
    assert_int_equal(records(rig, "decision", NULL, 0), decisions); /* nothing decided twice */
    assert_chain_and_replay(rig);
}

static void
test_a_wall_clock_behind_the_records_is_not_trusted_until_set(void **state)
{
    struct rig *rig = *state;
    rig_read_for(rig, 10000, 20000, 3000);
    rig_crash(rig);
    rig->wall_ms = 1000; /* booted without a clock: 1970 */
    rig_start(rig);
    struct snapshot *snapshot = board_take(rig->board);
    assert_false(snapshot->clock_trusted);
    snapshot_release(snapshot);
    rig_read_for(rig, 10000, 21000, 3000);
    rig->wall_ms = WALL_START + 3600000;
    rig_read_for(rig, 10000, 22000, 3000);
    snapshot = board_take(rig->board);
    assert_true(snapshot->clock_trusted);
    int64_t shown_ms = snapshot->at_ms + snapshot->offset_ms;
    assert_in_range(shown_ms, WALL_START + 3600000, WALL_START + 3700000);
    snapshot_release(snapshot);
    assert_int_equal(records(rig, "clock", NULL, 0), 3);
    assert_chain_and_replay(rig);
}

static void
test_a_correction_needs_an_entry_to_correct(void **state)
{
    struct rig *rig = *state;
    struct entry entry = note("ten trays");
    assert_int_equal(rig_enter(rig, &entry), 200);
    uint64_t seq = rig->answer.seq;
    struct entry correct;
    entry_clear(&correct, ENTRY_CORRECT);
    (void)snprintf(correct.who, sizeof correct.who, "AB");
    (void)snprintf(correct.reason, sizeof correct.reason, "miscounted");
    (void)snprintf(correct.text, sizeof correct.text, "nine trays");
    correct.refers = 1; /* the start */
    assert_int_equal(rig_enter(rig, &correct), 404);
    correct.refers = 9999;
    assert_int_equal(rig_enter(rig, &correct), 404);
    correct.refers = seq;
    assert_int_equal(rig_enter(rig, &correct), 200);
    assert_int_equal(records(rig, "note", "ten trays", seq), 1); /* the old one stays */
    correct.has_temp = true;
    correct.temp_mC = 60000;
    assert_int_equal(rig_enter(rig, &correct), 400);
}

static void
test_lost_readings_are_counted_on_record(void **state)
{
    struct rig *rig = *state;
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
    assert_int_equal(readings(rig), 3);
    assert_int_equal(records(rig, "loss", "\"count\":5", 0), 1);
    assert_int_equal(records(rig, "stop", NULL, 0), 1);
}

/* A minute at 9 °C is all that the fridge's tolerance allows. */
static void
warm_fridge(struct rig *rig)
{
    rig_read_for(rig, 75000, 20000, 9000);
}

static void
test_a_deviation_is_told_and_the_telling_is_on_record(void **state)
{
    struct rig *rig = *state;
    warm_fridge(rig);
    rig_await_told(rig);
    rig_pass(rig, 2000);
    assert_int_equal(records(rig, "told", "\"done\":true", 0), 1);
    assert_int_equal(rig_told(rig, "\"id\":\"1-opened\",\"recorded\":true"), 1);
}

static void
test_a_deviation_not_told_before_a_crash_is_told_after_it(void **state)
{
    struct rig *rig = *state;
    struct hook *hook = rig->hook;
    warm_fridge(rig);
    rig_await_told(rig); /* the report reaches a recorder that crashes before it commits it */
    rig_crash(rig);
    rig->hook = hook;
    rig->wall_ms += 1000;
    rig_start(rig);
    rig_pass(rig, 0);
    rig_await_told(rig);
    assert_int_equal(rig_told(rig, "\"id\":\"1-opened\""), 2);
}

static void
test_a_broken_disk_does_not_keep_the_alarm_from_ringing(void **state)
{
    struct rig *rig = *state;
    rig_read_for(rig, 10000, 20000, 3000);
    failing_vfs_set(SQLITE_FULL);
    warm_fridge(rig);
    failing_vfs_set(SQLITE_OK);
    rig_pass(rig, 2000);
    assert_int_equal(records(rig, "decision", "\"deviation-opened\"", 0), 1);
    rig_read_for(rig, 400000, 20000, 3000); /* its end is told after it */
    rig_await_told(rig);
    assert_int_equal(rig_told(rig, "\"id\":\"1-opened\",\"recorded\":false"), 1);
}

/* Leaving the roast early would be a deviation, but the entry is refused and never happened. */
static void
test_what_is_taken_back_is_told_to_nobody(void **state)
{
    struct rig *rig = *state;
    struct entry entry = begin_roast();
    assert_int_equal(rig_enter(rig, &entry), 200);
    rig_read_for(rig, 10000, 20000, 3000);
    entry_clear(&entry, ENTRY_MOVE);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    entry.batch = 1;
    failing_vfs_set(SQLITE_FULL);
    assert_int_equal(rig_enter(rig, &entry), 503);
    failing_vfs_set(SQLITE_OK);
    rig_pass(rig, 2000);
    assert_int_equal(records(rig, "decision", "\"deviation-opened\"", 0), 0);
    warm_fridge(rig); /* a later deviation, told after whatever was told before */
    rig_await_told(rig);
    assert_int_equal(rig_told(rig, "\"event\":\"opened\""), 1);
}

int
main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_first_start_records_start_clock_and_plan, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_a_reading_is_shown_only_once_it_is_on_record,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_an_entry_is_acknowledged_only_once_it_is_on_record,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_an_entry_that_opens_a_deviation_says_so, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_a_refused_entry_leaves_no_record, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_a_cook_step_is_met_and_replay_agrees, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(
            test_seals_follow_the_readings_and_nothing_is_left_unsealed_at_the_end, set_up,
            tear_down),
        cmocka_unit_test_setup_teardown(test_a_full_disk_loses_nothing_and_says_so, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_an_entry_that_cannot_be_committed_never_happened,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_a_restart_goes_on_and_the_outage_is_on_record,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            test_a_verdict_that_waits_for_a_person_outlives_its_batch, set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            test_a_restart_without_the_kept_state_judges_the_whole_past_again, set_up,
            tear_down),
        cmocka_unit_test_setup_teardown(
            test_a_wall_clock_behind_the_records_is_not_trusted_until_set, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_a_correction_needs_an_entry_to_correct, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_lost_readings_are_counted_on_record, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_a_deviation_is_told_and_the_telling_is_on_record,
                                        set_up_with_alarm, tear_down),
        cmocka_unit_test_setup_teardown(
            test_a_deviation_not_told_before_a_crash_is_told_after_it, set_up_with_alarm,
            tear_down),
        cmocka_unit_test_setup_teardown(test_a_broken_disk_does_not_keep_the_alarm_from_ringing,
                                        set_up_with_alarm, tear_down),
        cmocka_unit_test_setup_teardown(test_what_is_taken_back_is_told_to_nobody,
                                        set_up_with_alarm, tear_down),
    };
    return cmocka_run_group_tests_name("recorder", tests, NULL, NULL);
}
