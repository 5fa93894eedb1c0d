/* Earlier batches of one product, from the records alone: when they went into the heat (or the
 * cold) and came out, how big they were, their readings, corrected as they were judged, and
 * what they teach.
 *
 * What a batch teaches is on record once it is over (kind `lesson`, docs/storage.md); where it
 * is not, or was made in another way than today's, it is made from the readings. A lesson
 * advises. It decides nothing. One thread for each reader. */
#ifndef TRIVET_EARLIER_H
#define TRIVET_EARLIER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/entry.h"
#include "trivet/lesson.h"
#include "trivet/plan.h"
#include "trivet/store.h"
#include "trivet/zone.h"

#define EARLIER_BIN_S       10
#define EARLIER_NOTES_MAX   400
#define EARLIER_ENTRIES_MAX 6

struct earlier_batch {
    uint32_t number;
    char step[PLAN_ID_MAX + 1];       /* the one that counts: its first that heats, or cools */
    int32_t mass_g, thickness_mm;     /* 0 = not told */
    int64_t put_in_ms;                /* the step began; TIME_NONE: it has not */
    int64_t taken_out_ms;             /* the next step began, or the batch ended; TIME_NONE */
    int64_t done_ms;                  /* nothing more is learned from it: the step after that
                                         began, or the batch ended; TIME_NONE */
    int64_t ended_ms;                 /* TIME_NONE: in hand */
    uint16_t cores[ENTRY_PROBES_MAX]; /* stored numbers of its food probes */
    uint8_t core_count;
    uint16_t air;            /* of the air around it; 0 = nobody measures it */
    struct limit_temp limit; /* heating: of the step, as the plan of then had it */
    struct limit_temp from;  /* cooling: where its clock starts, */
    enum cool_clock clock;
    struct plan_stage stages[PLAN_STAGES_MAX];
    uint8_t stage_count;
    int64_t offset_ms;   /* shown time = at_ms + offset_ms, at put-in */
    unsigned deviations; /* opened while it was in hand */
    bool doubted;        /* its begin or a step was corrected, or one of its thermometers
                            was found wrong afterwards: nothing is learned from it */
    uint64_t lesson_seq; /* its lesson on record, made in today's way; 0 = none */
    uint64_t entries[EARLIER_ENTRIES_MAX]; /* that began and moved it */
    uint8_t entry_count;
    char notes[EARLIER_NOTES_MAX]; /* "" = none; cut when longer */
};

struct earlier {
    enum forecast_kind kind;
    /* In the order they were begun; those with a probe that went into the heat, or the cold. */
    struct earlier_batch *batch;
    size_t count;
    const struct zone *zone;
    bool demo;
    bool known; /* the newest plan has the product */
    char product[PLAN_ID_MAX + 1];
    char name[PLAN_NAME_MAX + 1];
    struct limit_temp limit, aim; /* of the newest plan's heating step; milli 0 = none */
};

/* Finds the product by its id or name. Looks at the newest `newest` records and all plans (0:
 * at all). Close it in either case. */
enum store_status earlier_open(struct store_reader *reader, const char *product,
                               enum forecast_kind kind, uint64_t newest, struct earlier *ret,
                               struct store_error *reterr);
void earlier_close(struct earlier *earlier);

double earlier_C(struct limit_temp temp);

/* Readings by tens of seconds from put-in on: the coldest core of a heating, the warmest of a
 * cooling; NAN where there is none. */
struct earlier_curve {
    size_t count;
    double *core_C, *air_C;
    size_t out; /* first bin after it was taken out; count when it was not */
};

/* Reads a batch's curve; of a heating for at most three hours after it was taken out. Freed
 * with earlier_curve_free in either case. */
enum store_status earlier_curve_read(struct store_reader *reader, const struct earlier *of,
                                     const struct earlier_batch *batch,
                                     struct earlier_curve *ret, struct store_error *reterr);
void earlier_curve_free(struct earlier_curve *curve);

/* ---- lessons ---- */

/* What one batch left: as put on record, and read back. */
struct earlier_lesson {
    uint32_t batch;
    char product[PLAN_ID_MAX + 1], step[PLAN_ID_MAX + 1];
    enum forecast_kind kind;
    int32_t mass_g, thickness_mm; /* 0 = not told */
    int64_t put_in_ms, taken_out_ms;
    int64_t until_ms; /* what came later taught nothing */
    bool has_lesson;  /* heating: what a planner learns from; the dish's shape, wrap and kind of
                         oven are not recorded, its oven_C is what the hot air read or NAN */
    struct lesson lesson;
    bool has_fit; /* what the model learned */
    struct forecast_prior fit;
    uint64_t readings; /* it was made from: count and digest (docs/storage.md) */
    char digest[STORE_DIGEST_HEX];
};

/* Whether the batch is over and may be learned from. */
bool earlier_teaches(const struct earlier_batch *batch);

/* The lesson of a batch that teaches, from the records or else made from its readings. A fit
 * costs a good part of a second: it is made only if asked for. *ret_recorded tells which. The
 * answer may hold neither lesson nor fit: it hardly warmed or cooled. */
enum store_status earlier_lesson_of(struct store_reader *reader, const struct earlier *of,
                                    const struct earlier_batch *batch, bool with_fit,
                                    struct earlier_lesson *ret, bool *ret_recorded,
                                    struct store_error *reterr);

/* The data of its record. False when it does not fit; 3 KiB is room enough. */
bool earlier_lesson_write(const struct earlier_lesson *lesson, char *buf, size_t size);
/* False when it was made in another way than today's or is none. */
bool earlier_lesson_read(const char *data, size_t len, struct earlier_lesson *ret);

/* As a planner takes it: in the measure of `like` (mass and thickness of one dish need not
 * agree), and what nobody recorded taken from it. False when it does not teach about such a
 * dish. */
bool earlier_lesson_like(const struct earlier_lesson *from, const struct dish *like,
                         struct lesson *ret);

/* Depth or radius of a dish over that of the lesson's; NAN: not known of both. */
double earlier_size_ratio(const struct earlier_lesson *from, int32_t mass_g,
                          int32_t thickness_mm);

#endif
