/* What the food of each open batch will probably do next: the forecasting room kept beside the
 * watch.
 *
 * Advice, never a decision: the engine does not see it and replay does not need it. What it
 * says is read from the record alone, so a daemon that starts again has caught up within
 * moments. All instants are at_ms; temperatures thousandths of a degree Celsius. */
#ifndef TRIVET_ADVICE_H
#define TRIVET_ADVICE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/engine.h"
#include "trivet/plan.h"

#define ADVICE_REACHES_MAX  2
#define ADVICE_OPTIONS_MAX  5
#define ADVICE_REASON_MAX   120
#define ADVICE_LESSONS_MAX  2
#define ADVICE_LESSON_BYTES 3072

/* A median, and the range that should hold nine outcomes in ten. TIME_NEVER: not at all, as
 * things stand. */
struct advice_when {
    int64_t p05_ms, p50_ms, p95_ms;
};

/* One temperature on the way: a heating step's limit, or a stage of a cooling. */
struct advice_reach {
    struct limit_temp to;
    uint8_t stage; /* of a cooling, from 1; 0 = none */
    bool reached;  /* already; when is then meaningless */
    struct advice_when when;
    int64_t deadline_ms;   /* TIME_NONE = no deadline known */
    int16_t miss_permille; /* chance of missing it; -1 = no deadline */
};

/* Something that could be done now. */
enum advice_option_kind {
    OPTION_WARMER_OVEN, /* by change_mC */
    OPTION_COOLER_OVEN,
    OPTION_SHALLOWER, /* half as deep */
    OPTION_ICE_BATH,
    OPTION_STIR,
    OPTION_COLDER_PLACE, /* place */
    OPTION_UNCOVER,
};

struct advice_option {
    enum advice_option_kind kind;
    int32_t change_mC;
    char place[PLAN_ID_MAX + 1];
    int64_t p50_ms;        /* when the temperature at stake would be reached */
    int16_t miss_permille; /* -1 = no deadline */
};

struct advice {
    uint32_t batch;
    int64_t step_begun_ms;           /* of the step it speaks of: with the batch, its name */
    int64_t at_ms;                   /* newest instant it knows of */
    char refusal[ADVICE_REASON_MAX]; /* why there is no forecast; "" when there is one */
    uint8_t lessons;                 /* earlier batches of the product it starts from */
    bool taken_out;                  /* heated food that stands outside the heat */
    uint8_t reach_count;
    struct advice_reach reach[ADVICE_REACHES_MAX];
    /* Heating: when the limit will have been earned (held for its time, on any row of its
     * table, or as equivalent time). Of a table or equivalent time the options speak of this
     * (by_earning). */
    bool has_earned, by_earning;
    struct advice_when earned;
    /* Heating: the core peaks so high when taken out now (or since it was); TEMP_NONE. */
    int32_t peak_p05_mC, peak_p50_mC, peak_p95_mC;
    struct limit_temp aim; /* as the plan has it; milli 0 = none */
    bool has_take_out;
    struct advice_when
        take_out; /* the limit is met then, and resting carries the core to aim */
    /* The limit takes so much longer that resting carries the core past aim. */
    bool limit_decides;
    /* The step's next deadline will probably be missed. Steady: it begins at more than an even
     * chance and ends at less than one in four. */
    bool warned;
    int64_t warned_ms; /* since when, as the recorder has put it on record; TIME_NONE */
    uint8_t at_stake;  /* index into reach: what the options and the warning speak of */
    uint8_t option_count;
    struct advice_option options[ADVICE_OPTIONS_MAX]; /* best first */
};

struct advice_list {
    size_t count;
    struct advice list[ENGINE_BATCHES_MAX];
    /* What batches that are over left for the next ones: data of `lesson` records. */
    size_t lesson_count;
    bool behind; /* more of them are missing: the next look need not wait its time */
    char lesson[ADVICE_LESSONS_MAX][ADVICE_LESSON_BYTES];
};

struct snapshot;
struct adviser;

/* Reads the records in directory, which must hold a store. NULL with reterr. One thread. */
struct adviser *adviser_new(const char *directory, char *reterr, size_t err_size);
void adviser_free(struct adviser *adviser); /* accepts NULL */

/* What is to be said of the batches that the snapshot shows, as of its instant. Batches whose
 * step nobody can forecast are left out. Returned memory is the caller's (free); NULL when out
 * of memory or when the records cannot be read, with reterr. */
struct advice_list *adviser_look(struct adviser *adviser, const struct snapshot *snapshot,
                                 char *reterr, size_t err_size);

/* ---- the daemon's thread ---- */

struct board;
struct queue;
struct advice_thread;

/* Looks after each new snapshot, but not more often than every few seconds unless earlier
 * batches are still to be read, and posts
 * MESSAGE_ADVICE. board and queue are borrowed. NULL with reterr. */
struct advice_thread *advice_start(const char *directory, struct board *board,
                                   struct queue *queue, char *reterr, size_t err_size);
void advice_stop(struct advice_thread *thread); /* accepts NULL */

#endif
