/* A hunch of how a cooling goes on, beside the bank of candidates: from how steeply the core
 * falls, how that changes, what its surroundings do and how far it has come.
 *
 * It knows no physics.  Two small networks were fitted to made coolings alone
 * (tests/bench/fit_hunch.py): one says when a limit is reached, if within a working day, the
 * other how likely a deadline is missed.  Pure; any thread. */
#ifndef THERMAL_HUNCH_H
#define THERMAL_HUNCH_H

#include "daemon/thermal/network.h"
#include "daemon/thermal/record.h"

enum { HUNCH_SIGNS = 34, HUNCH_MISS_SIGNS = HUNCH_SIGNS + 2 };

/* The numbers (hunch_numbers.c, printed by fit_hunch.py). */
extern const struct network
    HUNCH_WHEN; /* logarithms of the quantiles against a straight line */
extern const struct network HUNCH_MISS; /* logarithm of the odds */

/* The signs of a record for a limit, and the time left along the straight line.  False where
 * the hunch has nothing to go by: a cook, food that was never hot or has just been moved, a
 * limit that it was not fitted for. */
bool hunch_signs(const struct record *record, double limit_C, double ret_sign[HUNCH_SIGNS],
                 double *ret_straight_s);

/* Those and what the deadline adds; *sign begins with what hunch_signs gave. */
void hunch_miss_signs(double straight_s, double deadline_s, double sign[HUNCH_MISS_SIGNS]);

/* Leans a forecast of the bank towards the hunch: times of a limit, and the chance to miss its
 * deadline.  What the bank calls "not at all" stays so.  False, and nothing changes, where
 * there is no hunch. */
bool hunch_lean(const struct record *record, const struct food_context *context,
                const struct forecast_limit *limit, struct forecast_range *eta_s,
                double *miss_chance);

#endif
