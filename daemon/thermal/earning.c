/* Earned time along a path. See earning.h. Pure; owns nothing. */
#include "daemon/thermal/earning.h"

#include <math.h>

void
earning_begin(struct earning_run *run, const struct forecast_earning *earning)
{
    *run = (struct earning_run){.earned_s = earning->earned_s};
    run->done = earning->rows == 0 && earning->earned_s >= earning->target_s;
    for (int i = 0; i < earning->rows; i++) {
        run->held_s[i] = fmax(earning->row[i].held_s, 0);
        run->done = run->done || (earning->row[i].held_s >= earning->row[i].hold_s);
    }
}

/* Bigelow: the mean of the two rates times the time between, as the engine adds them up
 * (E100). */
static double
rate(const struct forecast_earning *earning, double temp_C)
{
    return pow(10, (temp_C - earning->reference_C) / earning->z_K);
}

/* A row is held by unbroken time at or above its temperature. */
static double
held_s(double before_s, double level_C, double from_C, double to_C, double dt_s)
{
    if (to_C < level_C)
        return 0;
    if (from_C >= level_C)
        return before_s + dt_s;
    return dt_s * (to_C - level_C) / (to_C - from_C);
}

void
earning_step(struct earning_run *run, const struct forecast_earning *earning, double from_C,
             double to_C, double dt_s)
{
    if (earning->rows == 0) {
        run->earned_s += dt_s * 0.5 * (rate(earning, from_C) + rate(earning, to_C));
        run->done = run->done || run->earned_s >= earning->target_s;
    }
    for (int i = 0; i < earning->rows; i++) {
        const struct forecast_row *row = &earning->row[i];
        run->held_s[i] = held_s(run->held_s[i], row->temp_C, from_C, to_C, dt_s);
        run->done = run->done || (to_C >= row->temp_C && run->held_s[i] >= row->hold_s);
    }
}
