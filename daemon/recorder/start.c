/* How a recorder begins and ends: memory, the engine brought to where the store stands, the
 * records of a start.
 *
 * The state kept beside the chain makes a start quick; without a fitting one the whole history
 * is judged again, which is slower and gives the same. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/recorder/inside.h"
#include "daemon/recorder/replay.h"
#include "engine_id.h"
#include "trivet/log.h"

#define STATE_KEY "engine"

/* In front of the engine's own bytes. Only ever read by the program that wrote it on the same
 * machine. */
struct state_head {
    uint64_t layout;
    char engine[16];
    uint64_t seq;       /* records up to here are in the state */
    int64_t read_to_ms; /* readings up to here */
    int64_t fed_ms;     /* last instant fed */
    uint64_t plan_seq;
};

bool
recorder_save_engine(struct recorder *recorder, size_t *ret_size)
{
    size_t size = sizeof(struct state_head) + engine_save_size(recorder->engine);
    if (size > recorder->saved_size) {
        void *grown = realloc(recorder->saved, size);
        if (grown == NULL)
            return false;
        recorder->saved = grown;
        recorder->saved_size = size;
    }
    char *state = (char *)recorder->saved + sizeof(struct state_head);
    *ret_size = engine_save(recorder->engine, state, size - sizeof(struct state_head));
    return *ret_size != 0;
}

const void *
recorder_saved_engine(const struct recorder *recorder)
{
    return (const char *)recorder->saved + sizeof(struct state_head);
}

bool
recorder_restore_engine(struct recorder *recorder, const void *state, size_t size)
{
    uint64_t seqs[ENGINE_PLANS_MAX];
    if (!engine_load(recorder->engine, state, size))
        return false;
    size_t count = engine_plan_seqs(recorder->engine, seqs);
    for (size_t i = 0; i < count; i++) {
        const struct plan *plan = plans_find(&recorder->plans, seqs[i]);
        if (plan == NULL)
            return false;
        engine_bind_plan(recorder->engine, seqs[i], plan);
    }
    return true;
}

enum store_status
recorder_keep_state(struct recorder *recorder, struct store_error *reterr)
{
    size_t size;
    if (!recorder_save_engine(recorder, &size))
        return STORE_OK; /* only a slower start */
    struct state_head head = {
        .layout = engine_layout(),
        .engine = ENGINE_SOURCE_ID,
        .seq = store_head(recorder->parts.store)->seq,
        .read_to_ms = recorder->line.last_ms,
        .fed_ms = recorder->feed.last_ms,
        .plan_seq = recorder->plan_seq,
    };
    memcpy(recorder->saved, &head, sizeof head);
    return store_cache_put(recorder->parts.store, STATE_KEY, recorder->saved,
                           sizeof head + size, reterr);
}

/* ---- where the store ends ---- */

struct plan_reading {
    struct plans *plans;
    char *reterr;
    size_t err_size;
    bool ok;
};

static bool
read_plan(void *arg, const struct store_record *record)
{
    struct plan_reading *reading = arg;
    reading->ok = plans_read_record(reading->plans, record, reading->reterr, reading->err_size);
    return false;
}

static bool
read_plan_at(struct recorder *recorder, uint64_t seq)
{
    char why[300];
    struct store_error error;
    struct plan_reading reading = {
        .plans = &recorder->plans, .reterr = why, .err_size = sizeof why};
    return plans_find(&recorder->plans, seq) != NULL ||
           (store_each_record(recorder->lookup, seq - 1, seq, "plan", read_plan, &reading,
                              &error) == STORE_OK &&
            reading.ok);
}

/* Takes the kept state when it is this engine's. */
static bool
load_state(struct recorder *recorder, struct state_head *ret_head)
{
    size_t size = 0;
    char *blob = store_cache_get(recorder->parts.store, STATE_KEY, &size);
    bool ok = blob != NULL && size > sizeof *ret_head;
    if (ok) {
        memcpy(ret_head, blob, sizeof *ret_head);
        ok = ret_head->layout == engine_layout() &&
             strncmp(ret_head->engine, ENGINE_SOURCE_ID, sizeof ret_head->engine) == 0 &&
             ret_head->seq <= store_head(recorder->parts.store)->seq &&
             ret_head->plan_seq != 0 && read_plan_at(recorder, ret_head->plan_seq) &&
             engine_load(recorder->engine, blob + sizeof *ret_head, size - sizeof *ret_head);
    }
    uint64_t seqs[ENGINE_PLANS_MAX];
    size_t count = ok ? engine_plan_seqs(recorder->engine, seqs) : 0;
    for (size_t i = 0; ok && i < count; i++) {
        ok = read_plan_at(recorder, seqs[i]);
        if (ok)
            engine_bind_plan(recorder->engine, seqs[i], plans_find(&recorder->plans, seqs[i]));
    }
    free(blob);
    return ok;
}

/* Decisions that the stored inputs lead to but that did not reach the store are recorded now.
 * With another engine than the one that ran last they are only its opinion of the past: `trivet
 * replay` shows them. */
static void
record_missing(struct recorder *recorder, const struct replay *replay, bool same_engine)
{
    if (!same_engine || replay->differs_at != 0) {
        log_line(LOG_WARN, "engine",
                 "engine %s judges the stored past otherwise than it was judged; the records "
                 "stay as they are, "
                 "`trivet replay` shows the difference",
                 ENGINE_SOURCE_ID);
        return;
    }
    for (const struct replay_decision *missing = replay->first; missing != NULL;
         missing = missing->next)
        recorder_on_decision(recorder, &missing->decision);
}

static bool
replay_stored(struct recorder *recorder, char *reterr, size_t err_size)
{
    struct store_error error = {.text = "out of memory"};
    struct state_head kept = {.read_to_ms = TIME_NONE, .fed_ms = TIME_NONE};
    bool from_state = load_state(recorder, &kept);
    if (!from_state) {
        engine_free(recorder->engine);
        recorder->engine = engine_new();
        kept = (struct state_head){.read_to_ms = TIME_NONE, .fed_ms = TIME_NONE};
    }
    struct store_reader *readings = store_reader_open(recorder->parts.directory, &error);
    struct replay replay;
    bool ok =
        readings != NULL && recorder->engine != NULL &&
        replay_init(&replay, recorder->engine, &recorder->plans, recorder->lookup, readings);
    if (ok) {
        replay.last_plan_seq = kept.plan_seq;
        ok = replay_run(&replay, kept.seq, kept.read_to_ms, kept.fed_ms,
                        store_head(recorder->parts.store), &error) == STORE_OK;
        recorder->plan_seq = replay.last_plan_seq;
        recorder->feed.last_ms = replay.feed.last_ms;
        recorder->feed.engine = recorder->engine;
        if (ok && (replay.first != NULL || replay.differs_at != 0))
            record_missing(recorder, &replay,
                           replay.last_engine[0] == '\0' ||
                               strcmp(replay.last_engine, ENGINE_SOURCE_ID) == 0);
        replay_done(&replay);
    }
    store_reader_close(readings);
    if (!ok)
        (void)snprintf(reterr, err_size, "the stored records cannot be brought back: %s",
                       error.text);
    return ok;
}

/* ---- the records of a start ---- */

static void
note_start(struct recorder *recorder, int64_t since_ms)
{
    char data[512];
    struct json_out out;
    out_start(&out, data, sizeof data, true);
    out_object(&out, NULL);
    out_text(&out, "engine", ENGINE_SOURCE_ID);
    out_int(&out, "engine_version", ENGINE_VERSION);
    out_int(&out, "pid", getpid());
    if (since_ms != TIME_NONE)
        out_int(&out, "since_ms", since_ms);
    out_text(&out, "version", TRIVET_VERSION);
    out_object_end(&out);
    if (!out_done(&out))
        return;
    int64_t at_ms = timeline_record(&recorder->line, recorder_mono_ms(recorder));
    recorder_note(recorder, "start", at_ms, data, false);
    struct engine_input input = {
        .kind = ENGINE_RESTART, .at_ms = at_ms, .is.since_ms = since_ms};
    (void)feed_input(&recorder->feed, &input);
}

static bool
no_numbers(char *reterr, size_t err_size)
{
    (void)snprintf(reterr, err_size,
                   "probe numbers are used up or memory is short; start a new store directory");
    return false;
}

/* The stored plan goes on, read anew as lying where the given one does: paths are relative to
 * that. */
static bool
keep_stored(struct recorder *recorder, const struct plan *stored, char *reterr, size_t err_size)
{
    struct plan_faults faults;
    struct plan *copy =
        plan_load_record(recorder->parts.plan->file, stored->text, stored->text_len, &faults);
    recorder->own_copy = copy;
    if (copy == NULL || !plans_number_probes(&recorder->plans, copy))
        return no_numbers(reterr, err_size);
    recorder->plan = stored;
    recorder->polled = copy;
    return true;
}

static bool
write_plan(struct recorder *recorder, int64_t at_ms, const struct plan_change *changes,
           size_t change_count)
{
    struct plan *plan = recorder->parts.plan;
    uint64_t seq = store_head(recorder->parts.store)->seq + recorder->pending.record_count + 1;
    char *data = plans_record_data(&recorder->plans, plan, changes, change_count);
    bool ok = data != NULL && plans_reserve(&recorder->plans) &&
              pending_record(&recorder->pending, "plan", at_ms, data, false);
    free(data);
    if (!ok)
        return false;
    (void)plans_keep(&recorder->plans, seq, at_ms, plan); /* room is there */
    recorder->plan = recorder->polled = plan;
    recorder->plan_seq = seq;
    struct engine_input input = {
        .kind = ENGINE_PLAN, .at_ms = at_ms, .seq = seq, .is.plan = plan};
    (void)feed_input(&recorder->feed, &input);
    return true;
}

/* The plan handed in becomes a record unless it is the one in force already, or may not follow
 * that. */
static bool
note_plan(struct recorder *recorder, char *reterr, size_t err_size)
{
    struct plan *plan = recorder->parts.plan;
    const struct plan *stored = plans_find(&recorder->plans, recorder->plan_seq);
    if (stored != NULL && strcmp(stored->digest, plan->digest) == 0) {
        recorder->plan = stored;
        recorder->polled = plan;
        return plans_number_probes(&recorder->plans, plan) || no_numbers(reterr, err_size);
    }
    int64_t at_ms = recorder_instant(recorder, recorder_mono_ms(recorder));
    struct plan_change *changes = NULL;
    size_t change_count = 0;
    if (stored != NULL) {
        char why[PLAN_REFUSED_MAX];
        changes = plan_changes_list(stored, plan, &change_count);
        if (changes != NULL &&
            !plan_may_follow(recorder, plan, at_ms, changes, change_count, why, sizeof why)) {
            free(changes);
            plan_refused(recorder, why, at_ms);
            return keep_stored(recorder, stored, reterr, err_size);
        }
    }
    bool numbered = plans_number_probes(&recorder->plans, plan);
    bool ok = numbered && (stored == NULL || changes != NULL) &&
              write_plan(recorder, at_ms, changes, change_count);
    free(changes);
    if (!numbered)
        return no_numbers(reterr, err_size);
    if (!ok)
        (void)snprintf(reterr, err_size, "out of memory for the plan");
    return ok;
}

static int64_t
board_now(void *arg)
{
    const struct recorder *recorder = arg;
    /* Base and clock never change after the start, so that other threads may ask. */
    return timeline_at(&recorder->line, recorder_mono_ms(recorder));
}

bool
recorder_catch_up(struct recorder *recorder, char *reterr, size_t err_size)
{
    struct store *store = recorder->parts.store;
    struct store_head head = *store_head(store);
    int64_t mono_ms = recorder_mono_ms(recorder);
    timeline_start(&recorder->line, head.at_ms, clock_wall_ms(&recorder->parts.clock), mono_ms);
    if (!recorder->line.trusted)
        log_line(LOG_WARN, "clock",
                 "the wall clock is behind the last record; times go on after it and are "
                 "marked until the clock is set");
    if (head.seq != 0 && !replay_stored(recorder, reterr, err_size))
        return false;
    note_start(recorder, head.at_ms);
    recorder_note_clock(recorder, "start");
    if (!note_plan(recorder, reterr, err_size))
        return false;
    recorder->scheduled_to_ms = head.seq != 0 ? head.at_ms : recorder->line.last_ms - 1;
    notices_bring_back(&recorder->notices, store, recorder->line.last_ms);
    recorder->seal_due_ms = mono_ms + recorder->plan->records.seal_ms;
    recorder->unsealed = true; /* what an earlier run left */
    if (!recorder_commit(recorder, false)) {
        (void)snprintf(reterr, err_size, "%s", recorder->trouble.text);
        return false;
    }
    board_set_now(recorder->parts.board, board_now, recorder);
    return true;
}

struct snapshot_bus *
recorder_buses(const struct plan *plan, int64_t since_ms)
{
    struct snapshot_bus *buses = calloc(plan->bus_count + 1, sizeof *buses);
    for (size_t i = 0; buses != NULL && i < plan->bus_count; i++)
        buses[i] = (struct snapshot_bus){.up = true, .since_ms = since_ms};
    return buses;
}

struct recorder *
recorder_new(const struct recorder_parts *parts, char *reterr, size_t err_size)
{
    struct store_error error = {.text = "out of memory"};
    struct recorder *recorder = calloc(1, sizeof *recorder);
    if (recorder == NULL) {
        plan_free(parts->plan);
        (void)snprintf(reterr, err_size, "out of memory");
        return NULL;
    }
    recorder->parts = *parts;
    recorder->plan = recorder->polled = parts->plan;
    recorder->pending_since_ms = TIME_NEVER;
    recorder->engine = engine_new();
    recorder->lookup = store_reader_open(parts->directory, &error);
    if (recorder->engine == NULL || recorder->lookup == NULL ||
        !pending_init(&recorder->pending) ||
        !feed_init(&recorder->feed, recorder->engine, recorder_on_decision, recorder)) {
        (void)snprintf(reterr, err_size, "%s", error.text);
        recorder_free(recorder);
        return NULL;
    }
    if (!recorder_catch_up(recorder, reterr, err_size)) {
        recorder_free(recorder);
        return NULL;
    }
    recorder->buses = recorder_buses(recorder->polled, recorder->line.last_ms);
    if (recorder->buses == NULL) {
        (void)snprintf(reterr, err_size, "out of memory");
        recorder_free(recorder);
        return NULL;
    }
    recorder_publish(recorder);
    return recorder;
}

void
recorder_free(struct recorder *recorder)
{
    if (recorder == NULL)
        return;
    bool kept = false;
    for (size_t i = 0; i < recorder->plans.count; i++)
        kept = kept || recorder->plans.list[i].plan == recorder->parts.plan;
    if (!kept)
        plan_free(recorder->parts.plan);
    plan_free(recorder->own_copy);
    feed_done(&recorder->feed);
    pending_done(&recorder->pending);
    store_reader_close(recorder->lookup);
    engine_free(recorder->engine);
    plans_done(&recorder->plans);
    free(recorder->buses);
    free(recorder->advice);
    free(recorder->saved);
    free(recorder);
}
