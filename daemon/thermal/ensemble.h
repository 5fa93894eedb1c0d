/* Guesses at what a kind of dish is, drawn together towards what was observed (an ensemble
 * smoother with several small steps, Emerick & Reynolds 2013): each step moves every guess by
 * the ensemble's own regression of unknowns on observations.  Deterministic.  Pure. */
#ifndef THERMAL_ENSEMBLE_H
#define THERMAL_ENSEMBLE_H

#include <stdint.h>

#include "daemon/thermal/dish.h"

enum { ENSEMBLE_MEMBERS = 320, ENSEMBLE_OBSERVED = 48 };

struct ensemble {
    double unknown[ENSEMBLE_MEMBERS][DISH_UNKNOWNS];
    double foreseen[ENSEMBLE_MEMBERS][ENSEMBLE_OBSERVED];
    uint64_t random;
};

/* Observations fall into groups (one a batch) that share one error beside each one's own. */
struct ensemble_observed {
    int count;
    double value[ENSEMBLE_OBSERVED];
    double own_sd[ENSEMBLE_OBSERVED];
    double shared_sd[ENSEMBLE_OBSERVED];
    int group[ENSEMBLE_OBSERVED];
};

void ensemble_begin(struct ensemble *ensemble);
double ensemble_normal(uint64_t *random);

/* Moves the guesses by one step that counts the observations 1 / `inflation` times; `foreseen`
 * holds what each guess foresees of them. */
void ensemble_step(struct ensemble *ensemble, const struct ensemble_observed *observed,
                   double inflation);

/* Solves a x = b for symmetric positive a (rows of `stride`), in place: a becomes its factor, b
 * the solution. */
void ensemble_solve(double *a, int stride, int count, double *b);

#endif
