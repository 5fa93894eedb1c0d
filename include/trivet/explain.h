/* Why a decision was taken, told from what is stored and nothing else: the rule, what was
 * required, what was found, the readings around it, who was told.
 *
 * Shared by `trivet why`, the page and the exports. Any thread that owns its store_reader. */
#ifndef TRIVET_EXPLAIN_H
#define TRIVET_EXPLAIN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/plan.h"
#include "trivet/reading.h"
#include "trivet/store.h"

/* ---- words; pure ---- */

/* A rule of docs/engine.md and what it says, in plain words. number is "" where a person's
 * entry alone is the reason. */
struct explain_rule {
    const char *number, *sentence;
};

struct explain_rule explain_rule(const struct decision *decision);

#define EXPLAIN_WORDS_MAX 700

struct explain_words {
    char what[EXPLAIN_WORDS_MAX];     /* "Deviation 3 opened: ..." */
    char required[EXPLAIN_WORDS_MAX]; /* "" where nothing was required */
    char found[EXPLAIN_WORDS_MAX];    /* "" where nothing was measured */
    char uncertainty[EXPLAIN_WORDS_MAX];
};

/* limit is the one the decision is about, as its plan writes it; plan the one it was judged
 * under. Both may be NULL: then the words rest on the decision alone. No instants are in them.
 */
void explain_words(const struct decision *decision, const struct plan *plan,
                   const struct plan_limit *limit, struct explain_words *ret);

/* The limit a decision is about; NULL when there is none or the plan does not have it. product
 * is that of its batch, "" = none. */
const struct plan_limit *explain_limit(const struct decision *decision, const struct plan *plan,
                                       const char *product);

/* ---- what a person asks about ---- */

enum explain_of { EXPLAIN_RECORD, EXPLAIN_DEVIATION, EXPLAIN_BATCH };

struct explain_id {
    enum explain_of of;
    uint64_t number; /* from 1 */
};

/* "214" a record, "d3" a deviation, "b12" a batch. False when it is none of them. */
bool explain_id_read(const char *text, struct explain_id *ret);

/* ---- from the records ---- */

#define EXPLAIN_READINGS_MAX 40
#define EXPLAIN_TOLD_MAX     16
#define EXPLAIN_ENTRIES_MAX  32
#define EXPLAIN_HOW_MAX      200
#define EXPLAIN_SAID_MAX     12000 /* four texts, and a line for each food */

/* What was told, to whom and whether it went through, as the record says. */
struct explain_told {
    uint64_t seq;
    int64_t at_ms;
    bool done;
    char how[EXPLAIN_HOW_MAX];
};

/* What a person entered about it since. */
struct explain_entry {
    uint64_t seq;
    int64_t at_ms;
    enum entry_kind kind;
    char who[PLAN_INITIALS_MAX + 1];
    char said[EXPLAIN_SAID_MAX]; /* "found: door ajar; done: ...", a remark, a reason; or "" */
};

/* A door of its place that stood open then. */
#define EXPLAIN_DOORS_MAX 8
struct explain_door {
    uint64_t seq;           /* of the record that says it was opened */
    int64_t from_ms, to_ms; /* TIME_NONE: no record says that it was closed */
    bool lost;              /* at to_ms nobody knew any more */
    bool before;            /* it was closed before it began; else open while it went on */
    char id[PLAN_ID_MAX + 1];
    char name[PLAN_NAME_MAX + 1];
};
/* "Walk-in door open for 4 min, while it went on" */
void explain_door_words(const struct explain_door *door, char *buf, size_t size);

/* "corrective action", "verification", "heard", "alarm shelved" */
const char *explain_deed(enum entry_kind kind);

/* What a person wrote with it, as in explain_entry, in EXPLAIN_SAID_MAX bytes; of_batch: the
 * deviation is of one batch. */
void explain_said(const struct entry *entry, bool of_batch, char *buf);

/* What a forecast on record said (kind "forecast"). Advice: nothing was decided by it. */
struct explain_forecast {
    uint32_t batch;
    char step[PLAN_ID_MAX + 1];
    uint8_t stage;         /* of a cooling, from 1; 0 = none */
    bool likely;           /* its limit will probably be missed; else no longer */
    int64_t deadline_ms;   /* TIME_NONE: none */
    int64_t expected_ms;   /* TIME_NONE: not as things stood, or there was none */
    int16_t miss_permille; /* the chance of a miss; -1: none was said */
};
/* "Forecast: stage 1 of step cool of batch 2 will probably be missed" */
void explain_forecast_words(const struct explain_forecast *forecast, char *buf, size_t size);

struct explanation {
    uint64_t seq;
    int64_t at_ms;
    int64_t offset_ms; /* shown time = at_ms + offset_ms */
    char kind[32];     /* of the record: "decision", "begin", ... */
    struct plan *plan; /* it was judged under; NULL = none that this version can read */
    uint64_t plan_seq; /* its record */
    char product[PLAN_ID_MAX + 1];

    /* kind "decision"; otherwise all zeros */
    struct decision decision;
    const struct plan_limit *limit; /* of plan, or NULL */
    struct explain_rule rule;
    struct explain_words words;
    /* Of the probe it rests on, in order of time: around the instant it counts from and around
     * the decision. */
    struct reading readings[EXPLAIN_READINGS_MAX];
    size_t reading_count;
    struct explain_told told[EXPLAIN_TOLD_MAX];
    size_t told_count;
    bool hook;                                         /* its plan has somebody told */
    struct explain_entry entries[EXPLAIN_ENTRIES_MAX]; /* of its deviation */
    size_t entry_count;
    /* A deviation at a place: its doors that were open from ten minutes before on, or that all
     * of them are known to have been closed. Told beside it; nothing was judged by them. */
    struct explain_door doors[EXPLAIN_DOORS_MAX];
    size_t door_count;
    bool doors_closed;

    /* kind "forecast"; otherwise all zeros, and told has who was told of it */
    struct explain_forecast forecast;

    /* a person's entry; who is "" otherwise */
    char who[PLAN_INITIALS_MAX + 1];
    char by_probe[PLAN_ID_MAX + 1];       /* a step that began by itself; "" otherwise */
    uint64_t led_to[EXPLAIN_ENTRIES_MAX]; /* decisions taken upon it */
    size_t led_count;
};

/* Explains one record. *ret is NULL when there is no record of that number; the caller frees it
 * with explanation_free. */
enum store_status explain_record(struct store_reader *reader, uint64_t seq,
                                 struct explanation **ret, struct store_error *reterr);
void explanation_free(struct explanation *explanation); /* accepts NULL */

/* The decisions about a deviation or batch, in order; a record stands for itself. False stops.
 */
typedef bool explain_visitor(void *arg, uint64_t seq, const struct decision *decision);
enum store_status explain_each(struct store_reader *reader, const struct explain_id *id,
                               explain_visitor *visit, void *arg, struct store_error *reterr);

/* What lies between the two windows of readings is left out; true when that is so before this
 * one, so that it can be said. */
bool explain_gap_before(const struct explanation *of, size_t reading);

/* The id of a probe of the explanation's plan by its number; "#12" in buf when it has none. */
const char *explain_probe(const struct plan *plan, uint16_t number, char buf[8]);

#endif
