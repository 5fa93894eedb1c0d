/* The kitchen as of one committed moment: immutable, shared by reference, read by the page and
 * `trivet now`.
 *
 * Built by the recorder after each commit; whoever takes a reference releases it. All instants
 * are at_ms; what people see is at_ms + offset_ms. Ages are for the viewer to compute against
 * now_ms of the time of viewing. */
#ifndef TRIVET_SNAPSHOT_H
#define TRIVET_SNAPSHOT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/advice.h"
#include "trivet/engine.h"
#include "trivet/engine_alarm.h"
#include "trivet/engine_quiet.h"
#include "trivet/json_out.h"

#define REVIEW_LOOK_BACK 60 /* days */
#define SENTENCE_MAX     400
#define AHEAD_MAX        700
#define PLAN_FILE_MAX    1024
#define PLAN_REFUSED_MAX 2100

/* How urgently a person should look. */
enum concern { CONCERN_NONE, CONCERN_WATCH, CONCERN_ACT };

struct snapshot_batch {
    struct engine_batch_view view;
    enum concern concern;
    char sentence[SENTENCE_MAX]; /* how it is and what comes next, in one or two plain sentences
                                  */
    bool has_advice;             /* set by the recorder before it publishes */
    struct advice advice;
    char ahead[AHEAD_MAX];         /* what it will probably do next, a sentence a line; "" when
                                    * nothing can be said */
    char if_changed[SENTENCE_MAX]; /* what another oven temperature would do; "" likewise */
};

struct snapshot_place {
    struct engine_place_view view;
    struct engine_quiet quiet;
    struct engine_shelf shelf; /* of its alarms */
    enum concern concern;
    char sentence[SENTENCE_MAX];
};

struct snapshot_deviation {
    struct engine_deviation_view view;
    int64_t due_ms; /* by when its action, then its verification is due; TIME_NONE = neither */
    bool overdue;   /* at the instant of publication */
    char sentence[SENTENCE_MAX]; /* what happened, what is still to be done */
    char alarm[SENTENCE_MAX];    /* who has heard it, whether it is shelved, who was told on */
};

struct snapshot_undecided {
    struct engine_undecided_view view;
    char
        sentence[SENTENCE_MAX]; /* what cannot be judged and why, and how a person decides it */
};

/* How a thermometer stands with its checks. */
enum check_state {
    CHECK_UNASKED, /* never checked, and the plan does not ask for it */
    CHECK_GOOD,
    CHECK_SOON, /* due within the plan's warn_before */
    CHECK_OVERDUE,
    CHECK_NEVER,  /* never found right, although the plan asks for checks */
    CHECK_FAILED, /* left outside its tolerance, or a deviation of a failed check goes on */
};

struct snapshot_check {
    struct engine_check_view view;
    enum check_state state;
    int64_t due_ms; /* of the next check; TIME_NONE = none */
    enum concern concern;
    char sentence[200];
};

/* A door or button. */
struct snapshot_switch {
    struct engine_switch_view view;
    enum concern concern;
    char sentence[200]; /* "" when there is nothing to say */
};

struct snapshot_bus {
    bool up;
    int64_t since_ms;
    char trouble[240]; /* "" when up */
};

/* A light or relay of the plan. */
struct snapshot_signal {
    bool faulty;
    int64_t since_ms;  /* of the fault */
    char trouble[240]; /* "" when it is well */
};

struct snapshot {
    uint64_t seq;     /* of the last committed record: the snapshot's version with reading_ms */
    uint64_t version; /* counts snapshots of this run; the event stream's id */
    int64_t at_ms;    /* instant of publication */
    int64_t offset_ms; /* shown time = at_ms + offset_ms */
    bool clock_trusted;
    bool unrecorded; /* storage is broken: what is shown is not on record */
    char unrecorded_why[300];
    const struct plan *plan; /* in force; lives as long as the snapshot */
    uint64_t plan_seq;
    char plan_file[PLAN_FILE_MAX]; /* where the daemon reads it, "" = as the plan itself says */
    int64_t plan_since_ms;         /* at_ms of its record */
    /* Why the plan file as it was last read is not in force, one thing a line; "" when it is.
     */
    char plan_refused[PLAN_REFUSED_MAX];
    int64_t plan_refused_ms; /* when it was read; meaningful when refused */
    /* Business days that are over and not reviewed, of the last REVIEW_LOOK_BACK; those whose
     * review is overdue; and the oldest of them, "" = none. */
    unsigned reviews_waiting, reviews_overdue;
    char review_oldest[ENTRY_DAY_MAX + 1];
    size_t probe_count, batch_count, place_count, deviation_count, bus_count, undecided_count;
    size_t check_count, stored_count, switch_count, alarm_count;
    struct engine_probe_view *probes;
    struct snapshot_batch *batches;
    struct snapshot_place *places;
    struct snapshot_deviation *deviations;
    struct snapshot_undecided *undecided; /* oldest first; their batches may have ended */
    struct engine_stored_view *stored;    /* stored longest ago first */
    struct snapshot_bus *buses;           /* as in plan->buses */
    struct snapshot_switch *switches;     /* as in plan->switches */
    struct snapshot_check *checks;        /* the plan's probes, then its thermometers */
    struct engine_alarm_view *alarms;
    struct snapshot_signal signals[PLAN_SIGNALS_MAX]; /* as in plan->signals */
};

/* Builds one from the engine (status room) and the newest advice (NULL = none), with its
 * sentences. seq, version and plan_seq are 0, the clock trusted, storage sound and every bus up
 * until the caller says otherwise, before it publishes. The caller holds the first reference;
 * NULL when out of memory. */
struct snapshot *snapshot_build(const struct engine *engine, const struct advice_list *advice,
                                int64_t at_ms, int64_t offset_ms);

/* An empty one with room for so many of each (its counts are set), to be filled by hand. The
 * caller holds the first reference; NULL when out of memory. */
struct snapshot_counts {
    size_t probes, batches, places, deviations, undecided, stored, buses, checks, switches;
    size_t alarms;
};
struct snapshot *snapshot_new(const struct snapshot_counts *counts);
/* Writes the concerns and sentences from the views; before publication only. */
void snapshot_tell(struct snapshot *snapshot);

void snapshot_hold(struct snapshot *snapshot);
void snapshot_release(struct snapshot *snapshot); /* accepts NULL */

/* Writes the snapshot as JSON for machines: the body of /now.json and of `trivet now --json`.
 * viewed_ms is the viewer's instant on the same time line, for the ages. False when buf is too
 * small. */
bool snapshot_json(const struct snapshot *snapshot, int64_t viewed_ms, char *buf, size_t size);

/* Where people find the plan in force: the file the daemon reads, also when the plan was
 * brought back from the records. "" before there is one. */
const char *snapshot_plan_file(const struct snapshot *snapshot);

const char *check_state_word(enum check_state state); /* "good", "due-soon", ... */
/* Of the plan's probe or hand-held thermometer that a view is of. */
const struct plan_checking *thermometer_rules(const struct plan *plan,
                                              const struct engine_check_view *view);
const char *thermometer_id(const struct plan *plan, const struct engine_check_view *view);
const char *thermometer_name(const struct plan *plan, const struct engine_check_view *view);
/* Whether a reference's certificate holds: CHECK_GOOD, CHECK_SOON or CHECK_OVERDUE, by the
 * site's date. */
enum check_state reference_state(const struct snapshot *snapshot,
                                 const struct plan_reference *reference);

/* NULL when there is none of that number. */
const struct engine_alarm_view *snapshot_alarm(const struct snapshot *snapshot,
                                               uint32_t number);
/* "sounds", "heard", "shelved", "silent" */
const char *alarm_state_word(const struct snapshot *snapshot,
                             const struct engine_alarm_view *alarm);
/* Whether there is something for a signal to tell, or nobody can say: no snapshot, or none that
 * is fresh at now_ms. Storage that is broken is something to tell as well. */
bool snapshot_needs_signal(const struct snapshot *snapshot, enum signal_shows shows,
                           int64_t now_ms);
/* NULL when the alarms of that place are told. */
const struct engine_shelf *snapshot_place_shelf(const struct snapshot *snapshot,
                                                const char *place);

/* The view of a probe by its stored number; NULL when there is none. */
const struct engine_probe_view *snapshot_probe(const struct snapshot *snapshot,
                                               uint16_t number);

/* The probe whose reading stands for a batch: the governing one; while none is fresh, of those
 * heard of last the coldest or warmest, as the limit asks. NULL: no probe is in it. */
const struct engine_probe_view *snapshot_batch_probe(const struct snapshot *snapshot,
                                                     const struct engine_batch_view *view);

/* After how long without a good reading a probe's value is stale: the plan's largest spacing,
 * and one commit. */
int64_t snapshot_stale_after_ms(const struct snapshot *snapshot, uint16_t number);

/* After how long without a new snapshot the watch itself must be taken for dead: three periods
 * of the quickest probe, and ten seconds. */
int64_t snapshot_late_after_ms(const struct snapshot *snapshot);

/* A short clock time of the site, "14:05" (or "Tue 14:05" when it is not the day of at_ms). Any
 * thread. */
char *snapshot_clock_text(const struct snapshot *snapshot, int64_t at_ms, char *buf,
                          size_t size);

/* ---- the board: where the newest snapshot hangs ---- */

struct board;
struct board *board_new(void);
void board_free(struct board *board);
/* Takes over the caller's reference and tells the listeners, in the caller's thread. */
void board_publish(struct board *board, struct snapshot *snapshot);
/* The newest, held for the caller; NULL before the first. */
struct snapshot *board_take(struct board *board);
/* Listeners are added before the first publication. They must be quick. */
typedef void board_listener(void *arg, uint64_t version);
void board_listen(struct board *board, board_listener *listener, void *arg);
/* Removes one; when it returns, the listener is not running and will not be called again. */
void board_unlisten(struct board *board, board_listener *listener, void *arg);
/* The instant now on the records' time line, for ages; any thread. Set up by the recorder. */
void board_set_now(struct board *board, int64_t (*now_ms)(void *arg), void *arg);
int64_t board_now_ms(const struct board *board);

#endif
