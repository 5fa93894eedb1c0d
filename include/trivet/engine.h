/* The judge. Readings, records and ticks in, decisions out. PURE: no clock, no I/O, no globals,
 * no allocation after engine_new, no floating point; the same inputs give the same decisions on
 * every machine.
 *
 * One thread (the recorder's) owns an engine. Plans are borrowed and must outlive it.
 *
 * Order. Inputs come in the order of at_ms; at one instant records come first (by sequence
 * number), then readings (by probe number). The caller feeds ENGINE_TICK at engine_due() before
 * any input that is later than that instant (never before one at exactly that instant: exactly
 * at a deadline is in time). Before ENGINE_RESTART it feeds only ticks due at or before
 * since_ms: what fell due while nobody watched is for the restart to judge. engine_due()
 * changes only by engine_step. */
#ifndef TRIVET_ENGINE_H
#define TRIVET_ENGINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/calibration.h"
#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/plan.h"
#include "trivet/reading.h"
#include "trivet/switch_event.h"

#define ENGINE_VERSION        1
#define ENGINE_BATCHES_MAX    64  /* open at once */
#define ENGINE_DEVIATIONS_MAX 256 /* not yet closed at once */
#define ENGINE_PLANS_MAX      16  /* in force or still used by an open batch */
#define ENGINE_DECISIONS_MAX  512 /* of one input */
#define ENGINE_AFFECTED_MAX   64  /* batches that one deviation lists */
#define ENGINE_STORED_MAX     256 /* batches that have ended and are kept */
#define ENGINE_REVIEWS_MAX    128 /* reviewed business days that are remembered */
#define ENGINE_UNDECIDED_MAX  128 /* verdicts that wait for a person, also of ended batches */
#define ENGINE_WAITING_MAX    320 /* all that is shown as waiting for a person */

enum engine_input_kind {
    ENGINE_READING, /* reading; a stored suspect quality is taken as good and judged anew */
    ENGINE_ENTRY,   /* entry (checked with engine_check first), seq */
    ENGINE_PLAN,    /* plan in force from now on, seq of its record */
    ENGINE_CLOCK,   /* the shown time stepped: nothing to judge, kept for completeness */
    ENGINE_RESTART, /* the program starts: the time since the last input (since_ms) is unknown
                       time */
    ENGINE_SWITCH,  /* a door or button did something, seq of its record */
    ENGINE_TICK,
};

struct engine_input {
    enum engine_input_kind kind;
    int64_t at_ms;
    uint64_t seq; /* of the record; 0 for readings and ticks */
    union {
        struct reading reading;
        const struct entry *entry;          /* borrowed for the call */
        const struct switch_event *contact; /* borrowed for the call */
        const struct plan *plan;            /* borrowed for as long as the engine lives */
        int64_t since_ms; /* RESTART: last instant known to have been watched; TIME_NONE = the
                             first start */
    } is;
};

/* A step wants to begin by itself (E173, E174). It stays wanted, with each further reading,
 * until its entry has been fed. */
struct engine_want {
    uint16_t probe; /* by which it begins; 0 = nothing is wanted */
    uint32_t batch; /* the one to be moved; 0 = one is to begin */
};

struct engine_output {
    uint16_t quality; /* of a reading as judged: the stored quality */
    struct engine_want want;
    size_t count;
    struct decision decisions[ENGINE_DECISIONS_MAX];
};

struct engine;

struct engine *engine_new(void); /* NULL when out of memory */
void engine_free(struct engine *engine);

/* Takes one input and appends what it decides. at_ms must not be before the last input's. */
void engine_step(struct engine *engine, const struct engine_input *input,
                 struct engine_output *ret);

/* The next instant at which something is due without any input; TIME_NEVER when nothing is. */
int64_t engine_due(const struct engine *engine);

/* Whether an entry makes sense now: the batch is open, the product, step, probes, place, person
 * exist, the role fits, the probe is not taken, ... On false, reterr says what is wrong and
 * what to do. Never changes the engine. */
bool engine_check(const struct engine *engine, const struct entry *entry, char *reterr,
                  size_t err_size);

/* The entry, of nobody's, with which a wanted step begins; to be put on record and fed. False
 * when it is no longer wanted. */
bool engine_want_entry(const struct engine *engine, const struct engine_want *want,
                       struct entry *ret);

/* Writes out what follows from an entry that was found sensible, for its record: of a
 * corrective action, each batch that its deviation affects. */
void engine_complete(const struct engine *engine, struct entry *entry);

/* Whether anything counts days, so that their beginnings (ENTRY_DAY, nobody's) are to be fed;
 * and whether that of this day, or of a later one, has been. */
bool engine_wants_day(const struct engine *engine);
bool engine_day_passed(const struct engine *engine, const char *day);

/* The numbers the next batch and the next deviation will get. */
uint32_t engine_next_batch(const struct engine *engine);
uint32_t engine_next_deviation(const struct engine *engine);

/* ---- state for a quick start ----
 * The whole state as bytes, valid only for the same ENGINE_SOURCE_ID and layout
 * (engine_layout()). */
uint64_t engine_layout(void);
size_t engine_save_size(const struct engine *engine);
size_t engine_save(const struct engine *engine, void *buf, size_t size);
/* False when the bytes are not a state of this engine. Plans must then be bound again: for each
 * sequence number from engine_plan_seqs() call engine_bind_plan() before the first step. */
bool engine_load(struct engine *engine, const void *buf, size_t size);
size_t engine_plan_seqs(const struct engine *engine, uint64_t ret_seqs[ENGINE_PLANS_MAX]);
void engine_bind_plan(struct engine *engine, uint64_t seq, const struct plan *plan);

/* ---- what it knows now, for the snapshot ---- */

enum engine_verdict { VERDICT_OPEN, VERDICT_MET, VERDICT_NOT_MET, VERDICT_INCONCLUSIVE };

struct engine_probe_view {
    uint16_t number;
    bool in_plan;             /* of the plan in force */
    struct reading last;      /* as judged; at_ms TIME_NONE when there was none */
    struct reading last_good; /* likewise */
    bool gap;                 /* silent for too long */
    uint32_t batch;           /* watching this batch, 0 = none */
    /* As the device gave them: last and last_good are corrected (E123). */
    int32_t last_raw_mC, last_good_raw_mC;
    struct probe_correction correction; /* in force; count 0 = none */
};

/* What is known of a thermometer of the plan in force from its checks. */
struct engine_check_view {
    uint16_t probe;    /* index into the plan in force, when it is one */
    uint16_t handheld; /* likewise */
    bool is_handheld;
    bool left_bad;      /* the last check left it outside its tolerance */
    int64_t checked_ms; /* last check; TIME_NONE = never */
    int64_t good_ms;    /* last check at which it was right; TIME_NONE = never */
    uint32_t deviation; /* of a failed check, going on; 0 = none */
    struct probe_correction correction; /* in force; count 0 = none */
};

/* How long food may be kept; days 0 = it has no date. */
struct engine_mark_view {
    int32_t days, used;          /* used: counted so far, today included */
    bool frozen;                 /* nothing is counted while it is */
    bool passed;                 /* its last day is over */
    char day[ENTRY_DAY_MAX + 1]; /* last day on which it may be used; of frozen food, if it
                                    thaws today; "" = nobody can say yet */
    uint32_t deviation;          /* 0 = none */
};

struct engine_batch_view {
    uint32_t number;
    const struct plan *plan; /* the plan it began under */
    uint64_t plan_seq;
    const struct plan_product *product;
    uint8_t step;      /* index */
    uint64_t auto_seq; /* record with which it began by itself, 0 = by a person */
    int64_t begun_ms, step_begun_ms;
    int64_t heard_ms; /* a person has heard the warning about its running step; TIME_NONE */
    char heard_by[PLAN_INITIALS_MAX + 1];
    char who[PLAN_INITIALS_MAX + 1];
    char place[PLAN_ID_MAX + 1]; /* where it is now, "" = not said */
    int32_t mass_g, thickness_mm;
    uint16_t probes[ENTRY_PROBES_MAX];
    uint8_t probe_count;
    enum engine_verdict verdict; /* of the running step */
    uint16_t governing_probe; /* coldest or warmest, as the limit asks; 0 = no good reading */
    int32_t governing_mC;     /* TEMP_NONE when none is fresh */
    int64_t credited_ms;      /* cook, reheat: unbroken time held so far */
    int64_t clock_start_ms;   /* cool: TIME_NONE until the clock runs */
    uint8_t stage;            /* cool: stage running, from 1; stage_count + 1 = all met */
    int64_t deadline_ms;      /* of the running limit or stage, TIME_NONE = none */
    bool top_shown, bottom_shown; /* cook, of a surface: its hand readings so far */
    int64_t stands_until_ms;      /* cook, reheat: reached, and it stands; else TIME_NONE */
    bool inconclusive;            /* waits for a person's decision */
    enum decision_reason inconclusive_reason;
    bool outside;       /* hold: now outside */
    int64_t outside_ms; /* hold: time outside counted so far in this excursion */
    /* Danger zone, of the step or else over the batch's life. */
    bool in_zone;
    int64_t zone_ms, zone_unknown_ms; /* counted so far, for certain, and unseen */
    enum engine_verdict
        life_verdict;        /* of the batch's life, when its product has such a limit */
    uint32_t life_deviation; /* likewise, open */
    /* The oven that it is in, where the plan says one; else oven is NULL. */
    const struct plan_limit *oven; /* its condition, of the plan */
    bool oven_watched;             /* a probe measures it */
    bool oven_over;                /* nothing is asked of it any more */
    int32_t oven_mC;               /* TEMP_NONE when there is no fresh reading */
    int64_t oven_outside_ms;       /* outside for so long; 0 = inside */
    enum engine_verdict oven_verdict;
    uint32_t oven_deviation; /* open, 0 = none */
    struct engine_mark_view mark;
    enum disposition bar; /* discard: not to be served or kept; hold: not to be served (E238) */
    bool period_over;     /* hold: its one time outside is over (E143) */
    uint32_t deviation;   /* open deviation of the running step, 0 = none */
};

struct engine_place_view {
    uint16_t place;  /* index into the plan in force */
    int32_t temp_mC; /* last good, TEMP_NONE */
    bool outside;
    int64_t outside_since_ms; /* first reading outside of the running excursion, TIME_NONE */
    int64_t outside_ms;
    uint32_t deviation; /* open, 0 = none */
};

/* A switch of the plan in force. */
struct engine_switch_view {
    uint16_t index; /* into the plan in force */
    enum switch_state state;
    int64_t since_ms; /* of the state; TIME_NONE = not heard of since the start */
    int64_t mark_ms;  /* a button's last mark; TIME_NONE = none */
    bool told;        /* a door that has been open for too long, and people were told */
};

struct engine_deviation_view {
    uint32_t number;
    struct decision opened; /* the decision that opened it */
    int64_t ended_ms;       /* TIME_NONE while it goes on */
    int64_t action_ms;      /* of the corrective action, TIME_NONE */
    uint64_t action_seq;    /* record of the corrective action, 0 = none yet */
    uint64_t verified_seq;  /* a deviation that has ended, has its action and is verified is
                               closed and leaves the list */
    char action_by[PLAN_INITIALS_MAX + 1];
    char product[PLAN_ID_MAX + 1]; /* of its own batch, "" = none */
    uint32_t alarm;                /* the number of its alarm (trivet/engine_alarm.h) */
    bool food_more;                /* there was more food than is listed */
    uint32_t food_count;
    uint32_t food[ENGINE_AFFECTED_MAX]; /* numbers of the batches it concerns */
};

/* A batch that has ended and is kept somewhere. */
struct engine_stored_view {
    uint32_t number;
    int64_t stored_ms;
    char place[PLAN_ID_MAX + 1]; /* "" = not said */
    char product[PLAN_ID_MAX + 1];
    struct engine_mark_view mark;
    enum disposition bar; /* as of a batch */
};

/* What waits for a person: verdicts (ENTRY_DECIDE), oldest first, whose batches may have moved
 * on or ended since; then questions about hot food. */
struct engine_undecided_view {
    struct decision said; /* INCONCLUSIVE: batch, step, stage, limit, reason. ASKED: batch or
                             probe, since_ms. CORRECTION_WAITS: batch, step, since_ms */
    char who[PLAN_INITIALS_MAX + 1]; /* whose correction waits; "" otherwise */
};

/* Copies views; return the count (bounded by max). */
size_t engine_view_probes(const struct engine *engine, struct engine_probe_view *ret,
                          size_t max);
size_t engine_view_batches(const struct engine *engine, struct engine_batch_view *ret,
                           size_t max);
size_t engine_view_switches(const struct engine *engine, struct engine_switch_view *ret,
                            size_t max);
size_t engine_view_places(const struct engine *engine, struct engine_place_view *ret,
                          size_t max);
/* The plan's probes, then its thermometers, in its order. */
size_t engine_view_checks(const struct engine *engine, struct engine_check_view *ret,
                          size_t max);
/* The one that an entry names; false when it names none of the plan in force. */
bool engine_view_check(const struct engine *engine, const struct entry *entry,
                       struct engine_check_view *ret);
size_t engine_view_deviations(const struct engine *engine, struct engine_deviation_view *ret,
                              size_t max);
/* Since when there are records, TIME_NONE; and whether a business day ("2026-03-01") is among
 * those last reviewed. */
int64_t engine_first_ms(const struct engine *engine);
bool engine_reviewed(const struct engine *engine, const char *day);
size_t engine_view_stored(const struct engine *engine, struct engine_stored_view *ret,
                          size_t max);
/* Oldest first; a person's decision takes the oldest of its batch. */
size_t engine_view_undecided(const struct engine *engine, struct engine_undecided_view *ret,
                             size_t max);
const struct plan *
engine_plan(const struct engine *engine); /* in force, NULL before the first */

#endif
