/* What the rules of thumb look at.  See signs.h.  Pure; owns nothing. */
#include "daemon/thermal/signs.h"

#include <math.h>

bool
signs_line(const struct record *record, double from_age_s, double to_age_s,
           struct signs_line *ret_line)
{
    double age = 0, n = 0, x = 0, y = 0, xx = 0, xy = 0;
    for (int i = record->count - 1; i >= 0 && age < to_age_s; i--) {
        const struct record_entry *e = &record->entry[i];
        double middle = age + 0.5 * (double)e->span_s;
        age += (double)e->span_s;
        if (middle < from_age_s || middle > to_age_s || isnan(e->core_C))
            continue;
        double at = from_age_s - middle, core_C = (double)e->core_C;
        n++;
        x += at;
        y += core_C;
        xx += at * at;
        xy += at * core_C;
    }
    double spread = n * xx - x * x;
    if (n < 4 || spread <= 0)
        return false;
    ret_line->slope_K_s = (n * xy - x * y) / spread;
    ret_line->end_C = (y - ret_line->slope_K_s * x) / n;
    return true;
}

double
signs_clipped(double sign)
{
    return fmin(fmax(sign, -4), 4);
}

double
signs_vagueness(const struct forecast_prior *prior)
{
    double sum = 0;
    for (int k = 0; k < FORECAST_UNKNOWNS; k++)
        sum += prior->spread[k] > 0 ? fmin(prior->spread[k] * prior->spread[k], 1) : 1;
    return sum / FORECAST_UNKNOWNS;
}
