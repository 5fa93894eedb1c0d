/* What the rules of thumb look at in a record.  Pure; any thread. */
#ifndef THERMAL_SIGNS_H
#define THERMAL_SIGNS_H

#include "daemon/thermal/record.h"

struct signs_line {
    double slope_K_s;
    double end_C; /* at the younger end */
};

/* Straight line through the core's means between two ages; false with fewer than four. */
bool signs_line(const struct record *record, double from_age_s, double to_age_s,
                struct signs_line *ret_line);

/* A sign within the bounds that rules of thumb are fitted for. */
double signs_clipped(double sign);

/* 1 for a batch of no known product, less where earlier batches have narrowed a spread: a rule
 * of thumb knows nothing of them and weighs so much less. */
double signs_vagueness(const struct forecast_prior *prior);

#endif
