/* A rule of thumb for cooks, beside the bank of candidates: from how steeply the core climbs,
 * how that changes, how far it has come and how warm the oven is, the time that is left.
 *
 * It knows no physics.  Its numbers were fitted to made cooks alone (tests/bench/fit_trend.py),
 * and it helps early, when the readings cannot tell candidates apart.  Pure; any thread. */
#ifndef THERMAL_TREND_H
#define THERMAL_TREND_H

#include "daemon/thermal/record.h"

/* Seconds until the target from the end of the record; NAN where the rule has nothing to go by:
 * a cooling, food already taken out, a probe that went in late, an oven just turned up or
 * down. */
double trend_left_s(const struct record *record, const struct food_context *context,
                    double target_C);

/* What to multiply a forecast time of the bank with, so that the two agree better.  The rule
 * weighs less the further the cook is, and the more earlier batches have taught. */
double trend_factor(const struct record *record, const struct food_context *context,
                    double target_C, double bank_s);

#endif
