/* What a person enters. The same struct travels from the control socket through the recorder
 * into the engine, and comes back from a stored record at replay; entry_write and entry_read
 * are its one stored form.
 *
 * Strings are bounded and refused, never cut, when too long. Fixed size, no pointers: it can be
 * copied and queued. */
#ifndef TRIVET_ENTRY_H
#define TRIVET_ENTRY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/calibration.h"
#include "trivet/json_out.h"
#include "trivet/plan.h"

#define ENTRY_TEXT_MAX   1000
#define ENTRY_PROBES_MAX 8
#define ENTRY_FOODS_MAX  64
#define ENTRY_DAY_MAX    10
#define ENTRY_AMOUNT_MAX 39 /* bytes of a quantity of one batch */

enum entry_kind {
    ENTRY_NONE,
    ENTRY_BEGIN,   /* begin a batch: who, product, [step], probes, [place], [mass_g],
                      [thickness_mm], [text] */
    ENTRY_MOVE,    /* move a batch to its next or a named step: who, batch, [step], [place],
                      [probes]; food in store to another place: who, batch, place */
    ENTRY_END,     /* end a batch: who, batch, outcome, [place: where stored], [text]; food in
                      store: served or discarded */
    ENTRY_HAND,    /* a hand-held reading: who, thermometer, temp_mC, batch or place */
    ENTRY_COOKED,  /* when cooking ended, for a cooling whose probe did not see it: who, batch,
                      given_ms */
    ENTRY_NOTE,    /* who, text, [batch], [place] */
    ENTRY_CORRECT, /* correct an earlier entry: who, refers (seq), reason, and temp_mC and/or
                      text as they should read; a step that began by itself: given_ms (when its
                      cooling began) or withdraw (it did not) */
    ENTRY_ACTION,  /* corrective action: who, deviation, found, done, [control], [prevent],
                      [safe]; the food: disposition and [quantity] of all of it, or food by
                      batch, or both */
    ENTRY_VERIFY,  /* verification of the action on a deviation: who, deviation, [text] */
    ENTRY_DECIDE,  /* a person decides what the engine could not: who, batch, accept, reason */
    ENTRY_QUIET,   /* a place is quiet for a while: [who: absent = the plan's schedule], place,
                      why,   for_ms; or no longer: who, place, end */
    ENTRY_CALIBRATE, /* a thermometer checked against known temperatures: who, probe or
                        thermometer, points (as found), correction, [left (as left, where it was
                        adjusted)], [reference], [pressure_Pa], [basis], [text] */
    ENTRY_REVIEW,    /* a business day's records were reviewed: who, day, [text] */
    ENTRY_CONFIRM,   /* a second person about a correction that waits: who, batch, accept,
                        [text] */
    ENTRY_HEARD,  /* a person has heard the alarm of a deviation, or the warning about a batch:
                     who, deviation or batch, [text] */
    ENTRY_SHELVE, /* an alarm is not told for a while: who, deviation or place, for_ms, reason;
                     or told again from now on: who, deviation or place, end */
    ENTRY_PIN,    /* a PIN was set (not which): who, [by: the supervisor beside them, of a
                     first one] */
    ENTRY_DAY,    /* a business day has begun, nobody's: day */
};

/* The last kind there is. */
#define ENTRY_KIND_LAST ENTRY_DAY

enum batch_outcome { OUTCOME_NONE, OUTCOME_SERVED, OUTCOME_STORED, OUTCOME_DISCARDED };

/* What became of one batch. */
struct entry_food {
    uint32_t batch;
    enum disposition disposition;
    char quantity[ENTRY_AMOUNT_MAX + 1]; /* "4 kg"; "" = not said */
};

struct entry {
    enum entry_kind kind;
    char who[PLAN_INITIALS_MAX + 1];
    char by[PLAN_INITIALS_MAX + 1]; /* ENTRY_PIN */
    uint32_t batch;                 /* number, 0 = none; for ENTRY_BEGIN set by the recorder */
    uint32_t deviation;             /* number, 0 = none */
    uint64_t refers;                /* sequence number of the record corrected, 0 = none */
    char day[ENTRY_DAY_MAX + 1];    /* ENTRY_REVIEW, ENTRY_DAY, "2026-03-01" */
    char made[ENTRY_DAY_MAX + 1], until[ENTRY_DAY_MAX + 1]; /* ENTRY_BEGIN, likewise: of food
                            with a date, when it was made, and its maker's own last day */
    char product[PLAN_ID_MAX + 1];
    char step[PLAN_ID_MAX + 1];
    char place[PLAN_ID_MAX + 1];
    char thermometer[PLAN_ID_MAX + 1];
    char probes[ENTRY_PROBES_MAX][PLAN_ID_MAX + 1];
    uint8_t probe_count;
    bool has_temp;
    int32_t temp_mC;
    int32_t mass_g, thickness_mm; /* 0 = not given */
    int64_t given_ms; /* ENTRY_COOKED, ENTRY_CORRECT, on the records' own time line (at_ms);
                         TIME_NONE = not given */
    char side[8];     /* ENTRY_HAND of a surface: "top" or "bottom" */
    bool accept;      /* ENTRY_DECIDE, ENTRY_CONFIRM */
    bool withdraw;    /* ENTRY_CORRECT */
    bool end;         /* ENTRY_QUIET, ENTRY_SHELVE: it is over */
    int64_t for_ms;   /* likewise */
    enum quiet_why why;
    /* ENTRY_CALIBRATE */
    char probe[PLAN_ID_MAX + 1];
    char reference[PLAN_ID_MAX + 1]; /* of points of that method: which reference */
    char basis[PLAN_NAME_MAX + 1];   /* where the reference temperatures come from, in words */
    int32_t pressure_Pa;             /* of points of method boiling; 0 = none */
    struct calibration_point points[CALIBRATION_POINTS_MAX], left[CALIBRATION_POINTS_MAX];
    uint8_t point_count, left_count;
    enum correction_choice correction;
    enum batch_outcome outcome;
    enum disposition disposition;
    char text[ENTRY_TEXT_MAX + 1];
    char reason[ENTRY_TEXT_MAX + 1];
    char found[ENTRY_TEXT_MAX + 1];
    char done[ENTRY_TEXT_MAX + 1];
    char control[ENTRY_TEXT_MAX + 1]; /* how control was restored */
    char prevent[ENTRY_TEXT_MAX + 1]; /* recurrence */
    char safe[ENTRY_TEXT_MAX + 1];    /* how it is known that no unsafe food was served */
    uint8_t food_count;
    struct entry_food food[ENTRY_FOODS_MAX];
    char quantity[PLAN_NAME_MAX + 1];
    int64_t peer_uid; /* the system user who sent it, from the socket; -1 = unknown */
};

/* "begin", "move", ...: also the record's kind and the `do` word on the control socket. */
const char *entry_kind_word(enum entry_kind kind);
enum entry_kind entry_kind_from_word(const char *word); /* ENTRY_NONE when unknown */
const char *outcome_word(enum batch_outcome outcome);
enum batch_outcome outcome_from_word(const char *word);

/* Empties an entry: no temperature, no time. */
void entry_clear(struct entry *entry, enum entry_kind kind);

/* Writes the entry as the canonical data object of its record. */
void entry_write(const struct entry *entry, struct json_out *out, const char *key);

/* Reads the data object of a record or the fields of a control message (unknown keys, wrong
 * types, text that is not clean or too long are refused with the key and what to write). json
 * is one JSON object. */
bool entry_read(enum entry_kind kind, const char *json, size_t len, struct entry *ret,
                char *reterr, size_t err_size);

#endif
