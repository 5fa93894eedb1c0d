/* The recorder: judges, writes, commits, seals, publishes, and then tells the alarms, in that
 * order.
 *
 * Owns the engine and the write side of the store. One thread. Must not hold a lock across I/O
 * and has none of its own; must never acknowledge what is not committed. */
#include "trivet/recorder.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/recorder/inside.h"
#include "trivet/crash_point.h"
#include "trivet/log.h"

#define SMALL_DATA_MAX 512

int64_t
recorder_mono_ms(const struct recorder *recorder)
{
    return clock_mono_ms(&recorder->parts.clock);
}

static void
something_waits(struct recorder *recorder)
{
    if (recorder->pending_since_ms == TIME_NEVER)
        recorder->pending_since_ms = recorder_mono_ms(recorder);
    recorder->publish = true;
}

void
recorder_note(struct recorder *recorder, const char *kind, int64_t at_ms, const char *data,
              bool tell)
{
    if (!pending_record(&recorder->pending, kind, at_ms, data, tell))
        log_line(
            LOG_ERROR, "recorder",
            "a record of kind '%s' could not be kept: too much waits for storage; it is lost",
            kind);
    something_waits(recorder);
}

/* ---- judging ---- */

void
recorder_on_decision(void *arg, const struct decision *decision)
{
    struct recorder *recorder = arg;
    char text[PENDING_DATA_MAX];
    struct json_out out;
    out_start(&out, text, sizeof text, true);
    decision_write(decision, &out, NULL);
    bool fits = out_done(&out);
    assert(fits);
    (void)fits;
    recorder_note(recorder, "decision", decision->at_ms, text, notice_wanted(decision));
    if (decision->deviation != 0)
        log_line(LOG_WARN, "engine", "%s: deviation %u, %s%s%s%s%s",
                 decision_kind_word(decision->kind), decision->deviation,
                 decision_phrase(decision), decision->place[0] != '\0' ? ", place " : "",
                 decision->place, decision->step[0] != '\0' ? ", step " : "", decision->step);
    if (decision->contact[0] != '\0')
        log_line(decision->kind == DECISION_DOOR_LEFT_OPEN ? LOG_WARN : LOG_INFO, "engine",
                 "%s: %s, place %s: %s", decision_kind_word(decision->kind), decision->contact,
                 decision->place, decision_phrase(decision));
}

static void
take_reading(struct recorder *recorder, const struct message *message)
{
    struct reading reading = {
        .at_ms = timeline_reading(&recorder->line, message->born_ms, message->is.reading.probe),
        .temp_mC = message->is.reading.temp_mC,
        .probe = message->is.reading.probe,
        .quality = message->is.reading.quality,
    };
    struct engine_input input = {
        .kind = ENGINE_READING, .at_ms = reading.at_ms, .is.reading = reading};
    crash_point("before-judge");
    reading.quality = feed_input(&recorder->feed, &input);
    pending_reading(&recorder->pending, &reading);
    recorder->unsealed = true;
    something_waits(recorder);
    by_itself_look(recorder);
}

static void
take_bus(struct recorder *recorder, const struct message *message)
{
    /* A word from the lines of an earlier plan, sent before they were taken down, is no news.
     */
    if (message->is.bus.plan != NULL && message->is.bus.plan != recorder->polled)
        return;
    if (message->is.bus.bus >= recorder->polled->bus_count)
        return;
    struct snapshot_bus *bus = &recorder->buses[message->is.bus.bus];
    const char *id = recorder->polled->buses[message->is.bus.bus].id;
    bus->up = message->is.bus.up;
    bus->since_ms = timeline_at(&recorder->line, message->born_ms);
    memcpy(bus->trouble, message->is.bus.trouble, sizeof bus->trouble);
    recorder->publish = true;
    if (bus->up)
        log_line(LOG_INFO, id, "the line answers");
    else
        log_line(LOG_WARN, id, "%s; we keep trying", bus->trouble);
}

/* Recorded, then judged, as a person's entry is: what could not be kept is not judged. */
static void
take_switch(struct recorder *recorder, const struct message *message)
{
    const struct plan *plan = recorder->polled;
    if ((message->is.contact.plan != NULL && message->is.contact.plan != plan) ||
        message->is.contact.index >= plan->switch_count)
        return; /* a word from the lines of an earlier plan */
    const struct plan_switch *of = &plan->switches[message->is.contact.index];
    struct switch_event event = {.kind = of->kind,
                                 .state = message->is.contact.state,
                                 .cause = message->is.contact.cause};
    memcpy(event.id, of->id, sizeof event.id);
    memcpy(event.place, plan->places[of->place].id, sizeof event.place);
    char data[SMALL_DATA_MAX];
    struct json_out out;
    out_start(&out, data, sizeof data, true);
    switch_event_write(&event, &out);
    bool fits = out_done(&out);
    assert(fits);
    (void)fits;
    int64_t at_ms = recorder_instant(recorder, message->born_ms);
    size_t before = recorder->pending.record_count;
    uint64_t seq = store_head(recorder->parts.store)->seq + before + 1;
    recorder_note(recorder, "switch", at_ms, data, false);
    if (recorder->pending.record_count == before)
        return;
    struct engine_input input = {
        .kind = ENGINE_SWITCH, .at_ms = at_ms, .seq = seq, .is.contact = &event};
    (void)feed_input(&recorder->feed, &input);
    if (event.state == SWITCH_UNKNOWN)
        log_line(LOG_WARN, plan->buses[of->bus].id, "switch %s: its state is not known: %s",
                 of->id, reading_quality_phrase(event.cause));
}

/* A signal that cannot be relied on is told: people count on it. */
static void
take_signal(struct recorder *recorder, const struct message *message)
{
    const struct plan *plan = recorder->polled;
    if ((message->is.signal.plan != NULL && message->is.signal.plan != plan) ||
        message->is.signal.index >= plan->signal_count)
        return; /* a word from the lines of an earlier plan */
    const struct plan_signal *of = &plan->signals[message->is.signal.index];
    struct snapshot_signal *signal = &recorder->signals[message->is.signal.index];
    int64_t at_ms = recorder_instant(recorder, message->born_ms);
    signal->faulty = message->is.signal.faulty;
    signal->since_ms = at_ms;
    memcpy(signal->trouble, message->is.signal.trouble, sizeof signal->trouble);
    if (signal->faulty)
        log_line(LOG_WARN, plan->buses[of->bus].id, "signal %s: %s", of->id, signal->trouble);
    else
        log_line(LOG_INFO, plan->buses[of->bus].id, "signal %s can be relied on again", of->id);
    char data[SMALL_DATA_MAX];
    struct json_out out;
    out_start(&out, data, sizeof data, true);
    out_object(&out, NULL);
    out_text(&out, "signal", of->id);
    out_text(&out, "state", signal->faulty ? "faulty" : "well");
    out_text(&out, "why", signal->trouble);
    out_object_end(&out);
    if (out_done(&out))
        recorder_note(recorder, "signal", at_ms, data, true);
    recorder->publish = true;
}

static void
take_told(struct recorder *recorder, const struct message *message)
{
    int64_t at_ms = recorder_instant(recorder, message->born_ms);
    bool done = message->is.told.done;
    bool finished = notices_report(&recorder->notices, message->is.told.seq, done, at_ms);
    if (!done)
        log_line(finished ? LOG_ERROR : LOG_WARN, "alarm",
                 "the alarm command failed for record %llu (%s), %s",
                 (unsigned long long)message->is.told.seq, message->is.told.how,
                 finished ? "giving up: look at alarm.command in the plan"
                          : "trying again in 1 min");
    char data[SMALL_DATA_MAX];
    struct json_out out;
    out_start(&out, data, sizeof data, true);
    out_object(&out, NULL);
    out_bool(&out, "done", done);
    out_text(&out, "how", message->is.told.how);
    out_int(&out, "refers", (int64_t)message->is.told.seq);
    out_object_end(&out);
    if (out_done(&out))
        recorder_note(recorder, "told", at_ms, data, false);
}

static void
take_message(struct recorder *recorder, const struct message *message)
{
    switch (message->kind) {
    case MESSAGE_READING:
        take_reading(recorder, message);
        break;
    case MESSAGE_BUS:
        take_bus(recorder, message);
        break;
    case MESSAGE_SIGNAL:
        take_signal(recorder, message);
        break;
    case MESSAGE_SWITCH:
        take_switch(recorder, message);
        break;
    case MESSAGE_ENTRY:
        recorder_enter(recorder, message->is.entry, message->born_ms);
        break;
    case MESSAGE_TOLD:
        take_told(recorder, message);
        break;
    case MESSAGE_PLAN:
        recorder_reload(recorder, message->is.plan, message->born_ms);
        break;
    case MESSAGE_ADVICE:
        recorder_advise(recorder, message->is.advice);
        break;
    case MESSAGE_STOP:
        break;
    }
}

/* ---- committing ---- */

static enum store_status
write_all(struct recorder *recorder, bool seal, struct store_error *reterr)
{
    struct store *store = recorder->parts.store;
    enum store_status status = pending_write(&recorder->pending, store, reterr);
    crash_point("inside-transaction");
    for (size_t i = 0; status == STORE_OK && i < recorder->pending.record_count; i++) {
        struct pending_record *record = &recorder->pending.records[i];
        if (record->tell && !record->told_unrecorded &&
            !notices_add(&recorder->notices, record->seq, record->at_ms))
            log_line(LOG_ERROR, "alarm",
                     "%d notices wait for the alarm command; record %llu is not told",
                     NOTICES_MAX, (unsigned long long)record->seq);
    }
    if (status == STORE_OK && seal) {
        int64_t to_ms = timeline_close(&recorder->line);
        status = store_seal(store, to_ms, to_ms, reterr);
        if (status == STORE_OK)
            status = recorder_keep_state(recorder, reterr);
    }
    if (status == STORE_OK)
        status = notices_keep(&recorder->notices, store, reterr);
    if (status == STORE_OK)
        status = store_commit(store, reterr);
    return status;
}

/* Storage is away: people are told all the same, marked as not on record. */
static void
tell_unrecorded(struct recorder *recorder)
{
    char text[2048];
    if (recorder->parts.hook == NULL)
        return;
    for (size_t i = 0; i < recorder->pending.record_count; i++) {
        struct pending_record *record = &recorder->pending.records[i];
        const struct plan_hook *hook =
            record->tell ? notice_hook(recorder->plan, record->kind, record->data) : NULL;
        if (hook == NULL || record->told_unrecorded ||
            !notice_text(recorder->plan, record->kind, record->data, 0, record->at_ms,
                         recorder->line.offset_ms, text, sizeof text))
            continue;
        record->told_unrecorded = hook_tell(recorder->parts.hook, hook, 0, text);
    }
}

static void
storage_failed(struct recorder *recorder, const struct store_error *error)
{
    if (!recorder->broken)
        log_line(LOG_ERROR, "store",
                 "%s; readings wait in memory, entries are refused, trying again every second",
                 error->text);
    recorder->broken = true;
    recorder->trouble = *error;
    recorder->retry_ms = recorder_mono_ms(recorder) + STORE_RETRY_MS;
    recorder->publish = true;
}

int64_t
recorder_instant(struct recorder *recorder, int64_t born_mono_ms)
{
    int64_t at_ms = timeline_record(&recorder->line, born_mono_ms);
    (void)feed_ticks(&recorder->feed, at_ms, false);
    return at_ms;
}

void
recorder_note_losses(struct recorder *recorder)
{
    uint64_t lost = recorder->pending.lost_readings + recorder->pending.lost_records;
    if (lost == 0)
        return;
    char data[SMALL_DATA_MAX];
    struct json_out out;
    out_start(&out, data, sizeof data, true);
    out_object(&out, NULL);
    out_int(&out, "count", (int64_t)lost);
    out_text(&out, "why", "storage or the recorder could not keep up");
    out_object_end(&out);
    if (!out_done(&out))
        return;
    recorder->pending.lost_readings = recorder->pending.lost_records = 0;
    recorder_note(recorder, "loss", recorder_instant(recorder, recorder_mono_ms(recorder)),
                  data, false);
}

bool
recorder_commit(struct recorder *recorder, bool seal)
{
    struct notices before = recorder->notices;
    struct store_error error;
    recorder_note_losses(recorder);
    if (write_all(recorder, seal, &error) != STORE_OK) {
        recorder->notices = before;
        storage_failed(recorder, &error);
        return false;
    }
    crash_point("after-commit");
    if (recorder->broken)
        log_line(LOG_INFO, "store", "writing again; what waited in memory is on record");
    recorder->broken = false;
    recorder->notices.changed = false;
    recorder->pending_since_ms = TIME_NEVER;
    pending_clear(&recorder->pending);
    recorder->publish = true;
    if (seal) {
        recorder->seal_due_ms = recorder_mono_ms(recorder) + recorder->plan->records.seal_ms;
        recorder->unsealed = false;
    }
    return true;
}

/* ---- publishing and telling ---- */

void
recorder_publish(struct recorder *recorder)
{
    int64_t at_ms = timeline_at(&recorder->line, recorder_mono_ms(recorder));
    struct snapshot *snapshot =
        snapshot_build(recorder->engine, recorder->advice, at_ms, recorder->line.offset_ms);
    if (snapshot == NULL) {
        log_line(LOG_ERROR, "recorder",
                 "out of memory for the page; it keeps showing the last state");
        return;
    }
    snapshot->seq = store_head(recorder->parts.store)->seq;
    snapshot->version = ++recorder->version;
    snapshot->clock_trusted = recorder->line.trusted;
    snapshot->unrecorded = recorder->broken;
    if (recorder->broken)
        (void)snprintf(snapshot->unrecorded_why, sizeof snapshot->unrecorded_why, "%s",
                       recorder->trouble.text);
    snapshot->plan_seq = recorder->plan_seq;
    (void)snprintf(snapshot->plan_file, sizeof snapshot->plan_file, "%s",
                   recorder->polled->file);
    snapshot->plan_since_ms = plans_since_ms(&recorder->plans, recorder->plan_seq);
    memcpy(snapshot->plan_refused, recorder->refused, sizeof snapshot->plan_refused);
    snapshot->plan_refused_ms = recorder->refused_ms;
    size_t count = snapshot->bus_count < recorder->plan->bus_count ? snapshot->bus_count
                                                                   : recorder->plan->bus_count;
    for (size_t i = 0; i < count; i++)
        snapshot->buses[i] = recorder->buses[i];
    memcpy(snapshot->signals, recorder->signals, sizeof snapshot->signals);
    board_publish(recorder->parts.board, snapshot);
    recorder->publish = false;
}

struct find_data {
    char kind[16];
    int64_t at_ms;
    char text[1100];
    bool found;
};

static bool
copy_data(void *arg, const struct store_record *record)
{
    struct find_data *find = arg;
    bool told = strcmp(record->kind, "decision") == 0 ||
                strcmp(record->kind, "forecast") == 0 || strcmp(record->kind, "signal") == 0;
    if (told && record->data_len < sizeof find->text) {
        find->at_ms = record->at_ms;
        (void)snprintf(find->kind, sizeof find->kind, "%s", record->kind);
        memcpy(find->text, record->data, record->data_len);
        find->text[record->data_len] = '\0';
        find->found = true;
    }
    return false;
}

static void
tell_one(struct recorder *recorder, struct notice *notice)
{
    struct find_data find = {.found = false};
    struct store_error error;
    char text[2048];
    if (store_each_record(recorder->lookup, notice->seq - 1, notice->seq, NULL, copy_data,
                          &find, &error) != STORE_OK ||
        !find.found)
        return;
    const struct plan_hook *hook = notice_hook(recorder->plan, find.kind, find.text);
    if (hook == NULL) {
        notices_drop(&recorder->notices, notice->seq);
        return;
    }
    if (!notice_text(recorder->plan, find.kind, find.text, notice->seq, find.at_ms,
                     recorder->line.offset_ms, text, sizeof text))
        return;
    notice->running = hook_tell(recorder->parts.hook, hook, notice->seq, text);
}

void
recorder_tell(struct recorder *recorder)
{
    if (recorder->parts.hook == NULL || !plan_tells_anybody(recorder->plan)) {
        recorder->notices.count = 0; /* the plan names nobody to tell */
        return;
    }
    int64_t now_ms = timeline_at(&recorder->line, recorder_mono_ms(recorder));
    for (size_t i = 0; i < recorder->notices.count;) {
        struct notice *notice = &recorder->notices.list[i];
        size_t count = recorder->notices.count;
        if (!notice->running && notice->next_ms <= now_ms)
            tell_one(recorder, notice);
        if (recorder->notices.count == count) /* else another has taken its place */
            i++;
    }
}

/* ---- the cycle ---- */

void
recorder_note_clock(struct recorder *recorder, const char *why)
{
    char data[SMALL_DATA_MAX];
    struct json_out out;
    out_start(&out, data, sizeof data, true);
    out_object(&out, NULL);
    out_int(&out, "offset_ms", recorder->line.offset_ms);
    out_bool(&out, "trusted", recorder->line.trusted);
    out_text(&out, "why", why);
    out_object_end(&out);
    if (!out_done(&out))
        return;
    int64_t at_ms = recorder_instant(recorder, recorder_mono_ms(recorder));
    recorder_note(recorder, "clock", at_ms, data, false);
    (void)feed_input(&recorder->feed,
                     &(struct engine_input){.kind = ENGINE_CLOCK, .at_ms = at_ms});
}

static void
look_at_clock(struct recorder *recorder)
{
    int64_t mono_ms = recorder_mono_ms(recorder);
    if (timeline_wall_stepped(&recorder->line, clock_wall_ms(&recorder->parts.clock),
                              mono_ms)) {
        recorder->line.trusted = true;
        log_line(LOG_WARN, "clock",
                 "the wall clock stepped; shown times are now the records' own plus %lld ms",
                 (long long)recorder->line.offset_ms);
        recorder_note_clock(recorder, "the wall clock was set");
    }
}

static void
feed_due_ticks(struct recorder *recorder)
{
    int64_t until_ms = timeline_at(&recorder->line, recorder_mono_ms(recorder)) - TICK_GRACE_MS;
    int64_t fed_ms = feed_ticks(&recorder->feed, until_ms, true);
    if (fed_ms != TIME_NONE) {
        timeline_tick(&recorder->line, fed_ms);
        something_waits(recorder);
    }
}

static void
commit_if_due(struct recorder *recorder)
{
    int64_t now_ms = recorder_mono_ms(recorder);
    bool seal = recorder->unsealed && now_ms >= recorder->seal_due_ms;
    if (recorder->broken) {
        if (now_ms >= recorder->retry_ms)
            (void)recorder_commit(recorder, seal);
        return;
    }
    bool waited = recorder->pending_since_ms != TIME_NEVER &&
                  now_ms - recorder->pending_since_ms >= recorder->plan->records.commit_ms;
    if (waited || seal)
        (void)recorder_commit(recorder, seal);
}

void
recorder_take(struct recorder *recorder, const struct message *messages, size_t count)
{
    look_at_clock(recorder);
    day_look(recorder, timeline_at(&recorder->line, recorder_mono_ms(recorder)));
    for (size_t i = 0; i < count; i++)
        take_message(recorder, &messages[i]);
    schedule_look(recorder, timeline_at(&recorder->line, recorder_mono_ms(recorder)));
    feed_due_ticks(recorder);
    commit_if_due(recorder);
    /* Only what is committed is shown, or what cannot be, marked so. */
    if (recorder->publish && (recorder->broken || recorder->pending_since_ms == TIME_NEVER)) {
        crash_point("before-publish");
        recorder_publish(recorder);
    }
    if (recorder->broken)
        tell_unrecorded(recorder);
    recorder_tell(recorder);
    atomic_fetch_add(&recorder->heartbeat, 1);
}

const struct plan *
recorder_plan(const struct recorder *recorder)
{
    return recorder->polled;
}

uint64_t
recorder_heartbeat(const struct recorder *recorder)
{
    return atomic_load(&recorder->heartbeat);
}

static int64_t
earlier(int64_t a_ms, int64_t b_ms)
{
    return a_ms < b_ms ? a_ms : b_ms;
}

int64_t
recorder_wait_ms(const struct recorder *recorder)
{
    int64_t now_ms = recorder_mono_ms(recorder);
    int64_t until_ms = now_ms + 1000; /* the clocks are compared at least once a second */
    if (recorder->pending_since_ms != TIME_NEVER && !recorder->broken)
        until_ms =
            earlier(until_ms, recorder->pending_since_ms + recorder->plan->records.commit_ms);
    if (recorder->broken)
        until_ms = earlier(until_ms, recorder->retry_ms);
    else if (recorder->unsealed)
        until_ms = earlier(until_ms, recorder->seal_due_ms);
    int64_t due_ms = engine_due(recorder->engine);
    if (due_ms != TIME_NEVER)
        until_ms = earlier(until_ms, due_ms + TICK_GRACE_MS - recorder->line.base_at_ms +
                                         recorder->line.base_mono_ms);
    return until_ms > now_ms ? until_ms - now_ms : 0;
}

void
recorder_finish(struct recorder *recorder)
{
    recorder_note(recorder, "stop", recorder_instant(recorder, recorder_mono_ms(recorder)),
                  "{}", false);
    if (!recorder_commit(recorder, true))
        log_line(LOG_ERROR, "store", "stopping without the last readings on record: %s",
                 recorder->trouble.text);
}

void
recorder_run(struct recorder *recorder, struct queue *queue)
{
    struct message messages[256];
    for (bool stop = false; !stop;) {
        size_t count = queue_take(queue, messages, sizeof messages / sizeof messages[0],
                                  recorder_wait_ms(recorder));
        recorder->pending.lost_readings += queue_dropped(queue);
        recorder_take(recorder, messages, count);
        for (size_t i = 0; i < count; i++)
            stop = stop || messages[i].kind == MESSAGE_STOP;
    }
    recorder_finish(recorder);
}
