/* See the header. */
#include "tests/support/recorder_rig.h"

#include <dirent.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tests/support/failing_vfs.h"

const char rr_plan_text[] =
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

static int64_t
rig_mono(void *arg)
{
    return ((struct recorder_rig *)arg)->mono_ms;
}

static int64_t
rig_wall(void *arg)
{
    return ((struct recorder_rig *)arg)->wall_ms;
}

void
rr_start(struct recorder_rig *rig)
{
    const char *text = rig->text == NULL ? rr_plan_text : rig->text;
    struct plan_faults faults;
    struct store_error error;
    struct store_options options = {.vfs = FAILING_VFS};
    char why[400];
    rig->plan = plan_load_text("/kitchen/test.yaml", text, strlen(text), &faults);
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
void
rr_crash(struct recorder_rig *rig)
{
    board_free(rig->board);
    recorder_free(rig->recorder);
    store_close(rig->store);
}

void
rr_pass(struct recorder_rig *rig, int64_t ms)
{
    rig->mono_ms += ms;
    rig->wall_ms += ms;
    recorder_take(rig->recorder, NULL, 0);
}

void
rr_read(struct recorder_rig *rig, uint16_t probe, int32_t temp_mC)
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
void
rr_read_for(struct recorder_rig *rig, int64_t for_ms, int32_t core_mC, int32_t fridge_mC)
{
    for (int64_t passed_ms = 0; passed_ms < for_ms; passed_ms += 5000) {
        rr_pass(rig, 5000);
        rr_read(rig, 1, core_mC);
        rr_read(rig, 2, fridge_mC);
    }
    rr_pass(rig, 1000);
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

size_t
rr_records(const struct recorder_rig *rig, const char *kind, const char *holds, uint64_t seq)
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

size_t
rr_readings(const struct recorder_rig *rig)
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
    struct recorder_rig *rig = arg;
    rig->answer = *answer;
    rig->answers++;
    struct snapshot *shown = board_take(rig->board);
    memcpy(rig->refused_when_told, shown->plan_refused, sizeof rig->refused_when_told);
    rig->shown_seq = shown->seq;
    rig->shown_batches = shown->batch_count;
    snapshot_release(shown);
    rig->was_on_record = answer->code == 200 && rr_records(rig, NULL, NULL, answer->seq) == 1;
}

int
rr_enter(struct recorder_rig *rig, const struct entry *entry)
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

static void
take_decided(void *arg, const struct plan *plan)
{
    ((struct recorder_rig *)arg)->decided = plan;
}

int
rr_reload(struct recorder_rig *rig, const char *text)
{
    struct plan_faults faults;
    struct plan_request *request = calloc(1, sizeof *request);
    request->plan = plan_load_text("/kitchen/test.yaml", text, strlen(text), &faults);
    if (request->plan == NULL)
        (void)plan_faults_text(&faults, "/kitchen/test.yaml", request->faults,
                               sizeof request->faults);
    request->decided = take_decided;
    request->arg = rig;
    request->asked = calloc(1, sizeof *request->asked);
    request->asked->answer = take_answer;
    request->asked->arg = rig;
    struct message message = {
        .kind = MESSAGE_PLAN, .born_ms = rig->mono_ms, .is.plan = request};
    int before = rig->answers;
    recorder_take(rig->recorder, &message, 1);
    assert_int_equal(rig->answers, before + 1);
    return rig->answer.code;
}

struct entry
rr_begin_roast(void)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_BEGIN);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    (void)snprintf(entry.product, sizeof entry.product, "roast");
    (void)snprintf(entry.probes[0], sizeof entry.probes[0], "core");
    entry.probe_count = 1;
    return entry;
}

struct entry
rr_note(const char *text)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_NOTE);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    (void)snprintf(entry.text, sizeof entry.text, "%s", text);
    return entry;
}

void
rr_check_chain_and_replay(const struct recorder_rig *rig)
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

int
rr_set_up(void **state)
{
    struct recorder_rig *rig = calloc(1, sizeof *rig);
    failing_vfs_register();
    failing_vfs_set(SQLITE_OK);
    (void)snprintf(rig->directory, sizeof rig->directory, "/tmp/trivet-recorder-XXXXXX");
    assert_non_null(mkdtemp(rig->directory));
    rig->mono_ms = 5000;
    rig->wall_ms = RR_WALL_START;
    rr_start(rig);
    *state = rig;
    return 0;
}

int
rr_tear_down(void **state)
{
    struct recorder_rig *rig = *state;
    failing_vfs_set(SQLITE_OK);
    rr_crash(rig);
    DIR *directory = opendir(rig->directory);
    for (struct dirent *file; (file = readdir(directory)) != NULL;)
        if (file->d_name[0] != '.')
            (void)unlinkat(dirfd(directory), file->d_name, 0);
    (void)closedir(directory);
    (void)rmdir(rig->directory);
    free(rig);
    return 0;
}
