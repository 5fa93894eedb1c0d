/* Earlier batches of one product, from the records alone: when they went into the heat and came
 * out, how big they were, and their readings from put-in on, corrected as they were
 * judged.
 *
 * Only the heating step counts (a cooking, lethality or reheating limit). One thread. */
#ifndef CLI_EARLIER_H
#define CLI_EARLIER_H

#include <stddef.h>
#include <stdint.h>

#include "daemon/cli/cli.h"
#include "trivet/entry.h"
#include "trivet/lesson.h"
#include "trivet/plan.h"
#include "trivet/store.h"
#include "trivet/zone.h"

#define EARLIER_BIN_S     10
#define EARLIER_NOTES_MAX 400

struct earlier_batch {
    uint32_t number;
    int32_t mass_g, thickness_mm;     /* 0 = not told */
    int64_t put_in_ms;                /* the heating step began; TIME_NONE: it has not */
    int64_t taken_out_ms;             /* the next step began, or the batch ended; TIME_NONE */
    int64_t ended_ms;                 /* TIME_NONE: in hand */
    uint16_t cores[ENTRY_PROBES_MAX]; /* stored numbers of its food probes */
    uint8_t core_count;
    uint16_t air;                  /* of the air around it; 0 = nobody measures it */
    struct limit_temp limit;       /* of the step, as the plan of then had it */
    int64_t offset_ms;             /* shown time = at_ms + offset_ms, at put-in */
    unsigned deviations;           /* opened while it was in hand */
    char notes[EARLIER_NOTES_MAX]; /* "" = none; cut when longer */
};

struct earlier {
    struct earlier_batch
        *batch; /* in the order they were begun; those that went into the heat */
    size_t count;
    struct store_reader *reader;
    const struct zone *zone;
    bool demo;
    bool known; /* the newest plan has the product */
    char product[PLAN_ID_MAX + 1];
    char name[PLAN_NAME_MAX + 1];
    struct limit_temp limit, aim; /* of the newest plan's heating step; milli 0 = none */
};

/* Readings by tens of seconds from put-in on, the coldest core; NAN where there is none. */
struct earlier_curve {
    size_t count;
    double *core_C, *air_C;
    size_t out; /* first bin after it was taken out; count when it was not */
};

double earlier_C(struct limit_temp temp);

/* Finds a product by its id or name in the records that --store or the daemon names. CLI_DONE
 * or after a message; close it in either case. */
int earlier_open(const struct cli *cli, const char *product, struct earlier *ret);
void earlier_close(struct earlier *earlier);

/* Reads a batch's curve; after it was taken out for at most three hours. */
int earlier_curve_read(const struct cli *cli, const struct earlier *earlier,
                       const struct earlier_batch *batch, struct earlier_curve *ret);
void earlier_curve_free(struct earlier_curve *curve);

/* What the batch teaches; what nobody recorded (shape, wrap, kind of oven, and the set point of
 * an oven without an air probe) is taken from `like`. False when it teaches nothing. */
bool earlier_lesson(const struct earlier_batch *batch, const struct earlier_curve *curve,
                    const struct dish *like, struct lesson_taker *taker,
                    struct lesson *ret_lesson);

#endif
