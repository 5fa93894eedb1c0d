/* trivet compare: batches of one product side by side, their curves aligned at put-in. */
#ifndef CLI_COMPARE_H
#define CLI_COMPARE_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/cli/cli.h"
#include "daemon/cli/earlier.h"

#define COMPARE_BATCHES_MAX 8

/* One batch in figures; NAN where nothing is known. Times in seconds from put-in. */
struct compare_row {
    const struct earlier_batch *batch;
    struct earlier_curve curve;
    double limit_C;           /* of a cooling: the stage that the forecast speaks of */
    double start_C, oven_C;   /* oven: mean of the measured air while it was in */
    double reached_s;         /* the core first at the limit */
    double out_C, rate_K_min; /* when it was taken out, and how fast it rose then; of a cooling
                                 the mean fall from the clock's beginning to the first stage */
    double peak_C, peak_s;
    double above_s, below_s; /* measured at or above the limit, and below it, from put-in on */
    /* Coolings: where the clock begins, the stages reached, the lowest core. */
    double clock_s, stage_s[PLAN_STAGES_MAX], lowest_C;
    /* Made from the readings of the first half of the way alone. */
    double half_s, said_p05_s, said_p50_s, said_p95_s;
};

struct compared {
    enum forecast_kind kind;
    const char *name;
    const struct zone *zone;
    struct compare_row row[COMPARE_BATCHES_MAX];
    size_t count;
};

/* Fills a row from its batch and curve. */
void compare_figures(struct compare_row *row, enum forecast_kind kind);

/* The core's mean over half a minute from each side of a moment; NAN. */
double compare_core_C(const struct earlier_curve *curve, double at_s);

void compare_text(FILE *out, const struct compared *of);
void compare_csv(FILE *out, const struct compared *of);    /* the table */
void compare_curves(FILE *out, const struct compared *of); /* a row each half minute */
void compare_svg(FILE *out, const struct compared *of);

int cli_compare(struct cli *cli, int argc, char **argv);

#endif
