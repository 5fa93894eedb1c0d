/* See the header. */
#include "daemon/recorder/replay.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "engine_id.h"
#include "trivet/json_out.h"

#define DECISION_TEXT_MAX 1024

static void
keep_decision(void *arg, const struct decision *decision)
{
    struct replay *replay = arg;
    struct replay_decision *kept = calloc(1, sizeof *kept);
    if (kept == NULL) {
        replay->out_of_memory = true;
        return;
    }
    kept->decision = *decision;
    *replay->tail = kept;
    replay->tail = &kept->next;
}

static void
drop_first(struct replay *replay)
{
    struct replay_decision *gone = replay->first;
    replay->first = gone->next;
    if (replay->first == NULL)
        replay->tail = &replay->first;
    free(gone);
}

bool
replay_init(struct replay *replay, struct engine *engine, struct plans *plans,
            struct store_reader *records, struct store_reader *readings)
{
    memset(replay, 0, sizeof *replay);
    replay->plans = plans;
    replay->records = records;
    replay->readings = readings;
    replay->read_to_ms = replay->last_at_ms = TIME_NONE;
    replay->tail = &replay->first;
    return feed_init(&replay->feed, engine, keep_decision, replay);
}

void
replay_done(struct replay *replay)
{
    while (replay->first != NULL)
        drop_first(replay);
    feed_done(&replay->feed);
}

static bool
feed_reading(void *arg, const struct reading *reading)
{
    struct replay *replay = arg;
    struct engine_input input = {
        .kind = ENGINE_READING, .at_ms = reading->at_ms, .is.reading = *reading};
    uint16_t quality = feed_input(&replay->feed, &input);
    if (quality != reading->quality && replay->differs_at == 0 && replay->text[0] == '\0')
        (void)snprintf(
            replay->text, sizeof replay->text,
            "the reading of probe %u at at_ms %lld is recorded as %s and judged anew as %s",
            reading->probe, (long long)reading->at_ms, reading_quality_word(reading->quality),
            reading_quality_word(quality));
    return !replay->out_of_memory;
}

/* Feeds the readings up to and including an instant. */
static bool
feed_readings_to(struct replay *replay, int64_t to_ms)
{
    if (replay->read_to_ms != TIME_NONE && to_ms <= replay->read_to_ms)
        return true;
    if (store_each_reading(replay->readings, 0, replay->read_to_ms, to_ms, feed_reading, replay,
                           &replay->error) != STORE_OK)
        return false;
    replay->read_to_ms = to_ms;
    return true;
}

static void
decision_text(const struct decision *decision, char *buf, size_t size)
{
    struct json_out out;
    out_start(&out, buf, size, true);
    decision_write(decision, &out, NULL);
    if (!out_done(&out))
        (void)snprintf(buf, size, "(does not fit)");
}

static void
say_difference(struct replay *replay, const struct store_record *record, const char *anew)
{
    replay->differs_at = record->seq;
    (void)snprintf(replay->text, sizeof replay->text, "recorded: %.*s; judged anew: %s",
                   (int)(record->data_len > 700 ? 700 : record->data_len), record->data, anew);
}

static void
compare_decision(struct replay *replay, const struct store_record *record)
{
    /* Only a decision that no reading explains is a tick's: see the order in docs/storage.md.
     */
    if (replay->first == NULL)
        (void)feed_ticks(&replay->feed, record->at_ms, true);
    if (replay->differs_at != 0) {
        if (replay->first != NULL)
            drop_first(replay);
        return;
    }
    if (replay->first == NULL) {
        say_difference(replay, record, "no decision");
        return;
    }
    char anew[DECISION_TEXT_MAX];
    decision_text(&replay->first->decision, anew, sizeof anew);
    if (strlen(anew) == record->data_len && memcmp(anew, record->data, record->data_len) == 0)
        replay->matched++;
    else
        say_difference(replay, record, anew);
    drop_first(replay);
}

static int64_t
data_int(const json_t *data, const char *key, int64_t missing)
{
    const json_t *value = json_object_get(data, key);
    return json_is_integer(value) ? json_integer_value(value) : missing;
}

static void
take_start(struct replay *replay, const struct store_record *record, struct engine_input *input)
{
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    const char *engine = json_string_value(json_object_get(data, "engine"));
    (void)snprintf(replay->last_engine, sizeof replay->last_engine, "%s",
                   engine == NULL ? "" : engine);
    input->kind = ENGINE_RESTART;
    input->is.since_ms = data_int(data, "since_ms", TIME_NONE);
    json_decref(data);
}

static bool
take_plan(struct replay *replay, const struct store_record *record, struct engine_input *input)
{
    if (plans_find(replay->plans, record->seq) == NULL &&
        !plans_read_record(replay->plans, record, replay->error.text,
                           sizeof replay->error.text)) {
        replay->error.status = STORE_CORRUPT;
        return false;
    }
    replay->last_plan_seq = record->seq;
    input->kind = ENGINE_PLAN;
    input->is.plan = plans_find(replay->plans, record->seq);
    return true;
}

static bool
take_entry(struct replay *replay, const struct store_record *record, enum entry_kind kind,
           struct entry *entry, struct engine_input *input)
{
    char why[300];
    if (!entry_read(kind, record->data, record->data_len, entry, why, sizeof why)) {
        replay->error.status = STORE_CORRUPT;
        (void)snprintf(replay->error.text, sizeof replay->error.text,
                       "record %llu cannot be read: %.200s", (unsigned long long)record->seq,
                       why);
        return false;
    }
    input->kind = ENGINE_ENTRY;
    input->is.entry = entry;
    return true;
}

static bool
take_switch(struct replay *replay, const struct store_record *record,
            struct switch_event *event, struct engine_input *input)
{
    if (!switch_event_read(record->data, record->data_len, event)) {
        replay->error.status = STORE_CORRUPT;
        (void)snprintf(replay->error.text, sizeof replay->error.text,
                       "record %llu cannot be read: it is of no switch",
                       (unsigned long long)record->seq);
        return false;
    }
    input->kind = ENGINE_SWITCH;
    input->is.contact = event;
    return true;
}

static void
take_clock(struct replay *replay, const struct store_record *record)
{
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    replay->offset_ms = data_int(data, "offset_ms", 0);
    json_decref(data);
}

/* False stops the walk. */
static bool
take_record(void *arg, const struct store_record *record)
{
    struct replay *replay = arg;
    struct engine_input input = {.at_ms = record->at_ms, .seq = record->seq};
    struct entry entry;
    struct switch_event event;
    enum entry_kind kind = entry_kind_from_word(record->kind);
    replay->last_at_ms = record->at_ms;

    if (strcmp(record->kind, "decision") == 0) {
        if (!feed_readings_to(replay, record->at_ms))
            return false;
        compare_decision(replay, record);
        return !(replay->stop_at_difference && replay->differs_at != 0);
    }
    if (kind == ENTRY_NONE && strcmp(record->kind, "start") != 0 &&
        strcmp(record->kind, "plan") != 0 && strcmp(record->kind, "clock") != 0 &&
        strcmp(record->kind, "switch") != 0)
        return true; /* not an input: a seal, a stop, what was told, a loss */

    /* Readings at the record's own instant come after it. */
    if (!feed_readings_to(replay, record->at_ms - 1))
        return false;
    if (kind != ENTRY_NONE) {
        if (!take_entry(replay, record, kind, &entry, &input))
            return false;
    } else if (strcmp(record->kind, "switch") == 0) {
        if (!take_switch(replay, record, &event, &input))
            return false;
    } else if (strcmp(record->kind, "start") == 0) {
        take_start(replay, record, &input);
    } else if (strcmp(record->kind, "clock") == 0) {
        take_clock(replay, record);
        input.kind = ENGINE_CLOCK;
    } else if (!take_plan(replay, record, &input)) {
        return false;
    }
    (void)feed_input(&replay->feed, &input);
    return !replay->out_of_memory;
}

enum store_status
replay_run(struct replay *replay, uint64_t from_seq, int64_t from_ms, int64_t fed_ms,
           const struct store_head *head, struct store_error *reterr)
{
    replay->read_to_ms = from_ms;
    replay->feed.last_ms = fed_ms;
    replay->error.status = STORE_OK;
    enum store_status status = store_each_record(replay->records, from_seq, head->seq, NULL,
                                                 take_record, replay, reterr);
    if (status == STORE_OK && replay->error.status == STORE_OK && !replay->out_of_memory &&
        head->at_ms != TIME_NONE && feed_readings_to(replay, head->at_ms))
        (void)feed_ticks(&replay->feed, head->at_ms, true);
    if (replay->out_of_memory) {
        replay->error.status = STORE_IO;
        (void)snprintf(replay->error.text, sizeof replay->error.text,
                       "out of memory while replaying");
    }
    if (status == STORE_OK && replay->error.status != STORE_OK) {
        *reterr = replay->error;
        status = replay->error.status;
    }
    return status;
}

/* ---- `trivet replay` ---- */

static void
fill_result(const struct replay *replay, struct replay_result *ret)
{
    memset(ret, 0, sizeof *ret);
    ret->inputs = replay->feed.inputs;
    ret->decisions = replay->matched;
    ret->differs_at = replay->differs_at;
    (void)snprintf(ret->recorded_engine, sizeof ret->recorded_engine, "%s",
                   replay->last_engine);
    (void)snprintf(ret->this_engine, sizeof ret->this_engine, "%s", ENGINE_SOURCE_ID);
    memcpy(ret->text, replay->text, sizeof ret->text);
    ret->same = replay->differs_at == 0 && replay->text[0] == '\0';
    /* A decision due exactly at the last instant may not have been recorded yet. */
    const struct replay_decision *extra = replay->first;
    if (ret->same && extra != NULL && extra->decision.at_ms < replay->last_at_ms) {
        char anew[DECISION_TEXT_MAX];
        decision_text(&extra->decision, anew, sizeof anew);
        ret->same = false;
        (void)snprintf(ret->text, sizeof ret->text, "judged anew but never recorded: %s", anew);
    }
}

enum store_status
replay_store(const char *directory, struct replay_result *ret, struct store_error *reterr)
{
    struct plans plans = {0};
    struct replay replay;
    struct store_head head;
    *reterr = (struct store_error){.status = STORE_IO, .text = "out of memory while replaying"};
    struct engine *engine = engine_new();
    struct store_reader *records = store_reader_open(directory, reterr);
    struct store_reader *readings =
        records == NULL ? NULL : store_reader_open(directory, reterr);
    bool ready = engine != NULL && readings != NULL;
    enum store_status status =
        ready ? store_reader_head(records, &head, reterr) : reterr->status;
    if (ready && status == STORE_OK) {
        if (replay_init(&replay, engine, &plans, records, readings)) {
            replay.stop_at_difference = true;
            status = replay_run(&replay, 0, TIME_NONE, TIME_NONE, &head, reterr);
        } else {
            status = STORE_IO;
        }
        if (status == STORE_OK)
            fill_result(&replay, ret);
        replay_done(&replay);
    }
    store_reader_close(readings);
    store_reader_close(records);
    engine_free(engine);
    plans_done(&plans);
    return status;
}
