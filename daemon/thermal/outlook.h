/* From a bank of candidates to what comes next: each candidate is run ahead with its own
 * uncertainty, and the answers are quantiles of the weighted mixture.  Pure; any thread. */
#ifndef THERMAL_OUTLOOK_H
#define THERMAL_OUTLOOK_H

#include "daemon/thermal/bank.h"

struct outlook_question {
    const struct bank *bank;
    const struct food_context *context;
    const struct record *record;
    const struct forecast_change *change; /* NULL: as it is */
    struct forecast_limit limit[FORECAST_LIMITS];
    int limits;
    const struct forecast_earning *earning; /* NULL: nothing is to be earned */
};

/* Fills eta_s, earned_s, miss_chance and models. */
void outlook_times(const struct outlook_question *question, struct forecast *forecast);

/* Fills peak_C. */
void outlook_peak(const struct outlook_question *question, struct forecast *forecast);

#endif
