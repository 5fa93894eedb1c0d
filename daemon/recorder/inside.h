/* The recorder's own parts, shared by its files and by nobody else. */
#ifndef RECORDER_INSIDE_H
#define RECORDER_INSIDE_H

#include <stdatomic.h>

#include "daemon/recorder/feed.h"
#include "daemon/recorder/notices.h"
#include "daemon/recorder/pending.h"
#include "daemon/recorder/plans.h"
#include "daemon/recorder/timeline.h"
#include "trivet/recorder.h"

/* A tick waits this long after its instant for readings that were taken in time but are still
 * on their way. */
#define TICK_GRACE_MS 250
/* How soon a failed commit is tried again. */
#define STORE_RETRY_MS 1000

struct recorder {
    struct recorder_parts parts;
    struct store_reader *lookup; /* for entries that name a record */
    struct engine *engine;
    struct feed feed;
    struct plans plans;
    const struct plan *plan; /* in force */
    uint64_t plan_seq;
    const struct plan *polled; /* the same plan, as its file lies on this machine */
    struct plan *own_copy; /* of the plan in force when that is not the one given at start */
    char refused[PLAN_REFUSED_MAX]; /* why the plan file as last read is not in force, "" = it
                                       is */
    int64_t refused_ms;
    struct timeline line;
    struct pending pending;
    int64_t pending_since_ms; /* monotonic, of the oldest thing that waits for a commit */
    int64_t seal_due_ms;      /* monotonic */
    bool unsealed;            /* readings since the last seal */
    bool broken;              /* the last commit failed */
    int64_t retry_ms;         /* monotonic, of the next try */
    struct store_error trouble;
    struct notices notices;
    struct snapshot_bus *buses;
    struct snapshot_signal signals[PLAN_SIGNALS_MAX]; /* as in polled->signals */
    struct advice_list *advice;                       /* the newest; NULL = none yet */
    uint64_t version;
    bool publish; /* something that people see has changed */
    void *saved;  /* engine state before an entry */
    size_t saved_size;
    int64_t scheduled_to_ms; /* at_ms up to which the plan's quiet hours have been looked at */
    atomic_uint_fast64_t heartbeat; /* the only thing here that another thread reads */
};

int64_t recorder_mono_ms(const struct recorder *recorder);

/* The instant of a record born at a monotonic moment. Ticks that were due before it are judged
 * first, so that decisions and records stand in the order of their instants. */
int64_t recorder_instant(struct recorder *recorder, int64_t born_mono_ms);

/* Writes what is pending, commits, keeps caches, tells the hook. False when storage is broken:
 * nothing is lost but it is not on record; the trouble says why. */
bool recorder_commit(struct recorder *recorder, bool seal);

/* Queues a record of the recorder's own. */
void recorder_note(struct recorder *recorder, const char *kind, int64_t at_ms, const char *data,
                   bool tell);

/* The shown time's offset as a record (and an input). */
void recorder_note_clock(struct recorder *recorder, const char *why);
void recorder_note_losses(struct recorder *recorder);
void recorder_publish(struct recorder *recorder);

/* The feed's sink: each decision becomes a pending record. arg is the recorder. */
void recorder_on_decision(void *arg, const struct decision *decision);

/* The engine's state, kept beside the chain for a quick start, and before an entry that may
 * have to be taken back. */
bool recorder_save_engine(struct recorder *recorder, size_t *ret_size);
const void *recorder_saved_engine(const struct recorder *recorder);
bool recorder_restore_engine(struct recorder *recorder, const void *state, size_t size);
TRIVET_MUST_USE enum store_status recorder_keep_state(struct recorder *recorder,
                                                      struct store_error *reterr);

/* Brings a new recorder's engine to where the store ends, and writes the start, clock and plan
 * records. */
bool recorder_catch_up(struct recorder *recorder, char *reterr, size_t err_size);

/* A person's entry: checked, judged, committed and answered. Frees the request. */
void recorder_enter(struct recorder *recorder, struct entry_request *request,
                    int64_t born_mono_ms);

/* Forgets the records from keep_records on and puts the engine back to how it was saved. */
void recorder_take_back(struct recorder *recorder, size_t keep_records, size_t state_size,
                        int64_t fed_ms);

/* One of each bus of the plan, presumed up: the poll room tells of changes. NULL when out of
 * memory. */
struct snapshot_bus *recorder_buses(const struct plan *plan, int64_t since_ms);

/* What the new plan changes of the one before; returned memory is the caller's (free), NULL
 * when out of memory. */
struct plan_change *plan_changes_list(const struct plan *before, const struct plan *after,
                                      size_t *ret_count);
/* Whether plan may follow the one in force at at_ms: nothing in use is missing, and what it
 * changes is approved. On false, reterr has one line for each thing. Ticks before at_ms have
 * been fed. */
bool plan_may_follow(const struct recorder *recorder, const struct plan *plan, int64_t at_ms,
                     const struct plan_change *changes, size_t change_count, char *reterr,
                     size_t err_size);
/* Keeps and logs why the plan file is not in force. */
void plan_refused(struct recorder *recorder, const char *why, int64_t at_ms);
/* The plan file was read again: takes it or tells why not. Frees the request. */
void recorder_reload(struct recorder *recorder, struct plan_request *request,
                     int64_t born_mono_ms);

/* Takes over what the adviser says: shown from now on, and a warning that is new or over goes
 * on record. */
void recorder_advise(struct recorder *recorder, struct advice_list *list);

/* Begins the quiet hours that the plan schedules between the last look and now. */
void schedule_look(struct recorder *recorder, int64_t now_ms);
/* Notes that a business day has begun, where anything counts days. Before entries of that
 * moment. */
void day_look(struct recorder *recorder, int64_t now_ms);

/* Enters the step that the reading just fed lets begin by itself, if any. */
void by_itself_look(struct recorder *recorder);

/* A check of a thermometer: what only clock and physics can tell about its references. On
 * false the answer says why and what to do. */
bool calibration_sound(const struct recorder *recorder, const struct entry *entry,
                       int64_t at_ms, struct entry_answer *answer);
/* What a check has found, and what holds now, in words; before: what was known before it. */
void calibration_say(const struct recorder *recorder, const struct entry *entry,
                     const struct engine_check_view *before, struct entry_answer *answer);

/* Fills the answer's words for an entry that was recorded. */
/* in_store: a move or end that concerns food in store, no running batch. */
void entry_say(const struct plan *plan, const struct entry *entry, bool in_store,
               struct entry_answer *answer);

/* Adds what the engine decided because of it, and the deviation that it opened. */
void entry_say_decisions(const struct decision *decisions, size_t count,
                         struct entry_answer *answer);

/* Gives due notices to the hook. */
void recorder_tell(struct recorder *recorder);

#endif
