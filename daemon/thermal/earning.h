/* What a core earns on its way: equivalent time at a reference temperature, or time held on a
 * row of a table. Pure; any thread. */
#ifndef THERMAL_EARNING_H
#define THERMAL_EARNING_H

#include "trivet/forecast.h"

struct earning_run {
    double earned_s;
    double held_s[FORECAST_ROWS];
    bool done;
};

/* At what was earned so far. */
void earning_begin(struct earning_run *run, const struct forecast_earning *earning);

/* Along a straight piece of a core's path; sets done once it is earned. */
void earning_step(struct earning_run *run, const struct forecast_earning *earning,
                  double from_C, double to_C, double dt_s);

#endif
