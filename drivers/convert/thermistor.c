/* NTC thermistors by Steinhart and Hart, Deep-Sea Research 15 (1968) 497-503.
 *
 * Purpose: coefficients from three points or from beta; resistance to temperature and back.
 * Owns:    nothing; pure functions, any thread.
 * Must not: do I/O, read a clock, allocate, or keep state. */
#include "trivet/convert.h"

#include <math.h>
#include <stdbool.h>

#define ZERO_C_IN_K 273.15

/* No source: wider than any food probe, and narrow enough for an open or shorted sensor to fall
 * out. */
#define R_MIN_OHM 1.0
#define R_MAX_OHM 1e8
#define T_MIN_C   (-100.0)
#define T_MAX_C   300.0

/* No source: the slope of a beta of 10 K, where real ones are 2000 K and more. A resistance
 * that hardly changes tells no temperature. */
#define SLOPE_MAX_PER_K 0.1

#define MAX_STEPS 40

static double
inverse_kelvin(const struct convert_thermistor *th, double log_r)
{
    return th->a_per_K + log_r * (th->b_per_K + th->c_per_K * log_r * log_r);
}

static double
slope_at(const struct convert_thermistor *th, double log_r)
{
    return th->b_per_K + 3.0 * th->c_per_K * log_r * log_r;
}

/* 1/T rises with ln R over the whole range of R: its slope is extreme at the two ends, as ln R
 * >= 0. */
static bool
falls_throughout(const struct convert_thermistor *th)
{
    double at_min = slope_at(th, log(R_MIN_OHM)), at_max = slope_at(th, log(R_MAX_OHM));
    return isfinite(th->a_per_K) && at_min > 0.0 && at_max > 0.0 && at_min <= SLOPE_MAX_PER_K &&
           at_max <= SLOPE_MAX_PER_K; /* false too where b or c is no number */
}

enum convert_status
convert_thermistor_by_coefficients(double a_per_K, double b_per_K, double c_per_K,
                                   struct convert_thermistor *ret_thermistor)
{
    struct convert_thermistor th = {.a_per_K = a_per_K, .b_per_K = b_per_K, .c_per_K = c_per_K};
    if (!falls_throughout(&th))
        return CONVERT_BAD_SENSOR;
    *ret_thermistor = th;
    return CONVERT_OK;
}

static bool
point_in_range(struct convert_point point)
{
    return point.temp_C >= T_MIN_C && point.temp_C <= T_MAX_C &&
           point.resistance_ohm >= R_MIN_OHM && point.resistance_ohm <= R_MAX_OHM;
}

enum convert_status
convert_thermistor_by_points(const struct convert_point points[3],
                             struct convert_thermistor *ret_thermistor)
{
    double x[3], y[3]; /* ln R and 1/T */
    for (int i = 0; i < 3; i++) {
        if (!point_in_range(points[i]))
            return CONVERT_BAD_SENSOR;
        x[i] = log(points[i].resistance_ohm);
        y[i] = 1.0 / (points[i].temp_C + ZERO_C_IN_K);
    }
    /* Divided differences; equal resistances divide by zero, which the check of the result
     * refuses. */
    double g01 = (y[1] - y[0]) / (x[1] - x[0]);
    double g02 = (y[2] - y[0]) / (x[2] - x[0]);
    double c = (g02 - g01) / (x[2] - x[1]) / (x[0] + x[1] + x[2]);
    double b = g01 - c * (x[0] * x[0] + x[0] * x[1] + x[1] * x[1]);
    double a = y[0] - (b + c * x[0] * x[0]) * x[0];
    return convert_thermistor_by_coefficients(a, b, c, ret_thermistor);
}

enum convert_status
convert_thermistor_by_beta(struct convert_point nominal, double beta_K,
                           struct convert_thermistor *ret_thermistor)
{
    if (!point_in_range(nominal) || !(beta_K > 0.0))
        return CONVERT_BAD_SENSOR;
    double a = 1.0 / (nominal.temp_C + ZERO_C_IN_K) - log(nominal.resistance_ohm) / beta_K;
    return convert_thermistor_by_coefficients(a, 1.0 / beta_K, 0.0, ret_thermistor);
}

enum convert_status
convert_thermistor_temp(const struct convert_thermistor *thermistor, double resistance_ohm,
                        double *ret_temp_C)
{
    if (!falls_throughout(thermistor))
        return CONVERT_BAD_SENSOR;
    if (!isfinite(resistance_ohm))
        return CONVERT_NOT_A_NUMBER;
    if (resistance_ohm < R_MIN_OHM)
        return CONVERT_TOO_LOW;
    if (resistance_ohm > R_MAX_OHM)
        return CONVERT_TOO_HIGH;
    double per_K = inverse_kelvin(thermistor, log(resistance_ohm));
    if (per_K < 1.0 / (T_MAX_C + ZERO_C_IN_K)) /* also 0 or negative: no temperature at all */
        return CONVERT_TOO_LOW;
    if (per_K > 1.0 / (T_MIN_C + ZERO_C_IN_K))
        return CONVERT_TOO_HIGH;
    *ret_temp_C = 1.0 / per_K - ZERO_C_IN_K;
    return CONVERT_OK;
}

/* The cubic's root in ln R, known to lie in 0..max. With c >= 0 the cubic is convex there and
 * the start, on the line without the cubic term, lies above the root; with c < 0 it is concave
 * and the start lies below. Either way Newton closes in from one side and cannot leave the
 * range. */
static double
log_resistance(const struct convert_thermistor *th, double per_K, double max)
{
    double log_r = fmin((per_K - th->a_per_K) / th->b_per_K, max);
    for (int step = 0; step < MAX_STEPS; step++) {
        double next = log_r - (inverse_kelvin(th, log_r) - per_K) / slope_at(th, log_r);
        bool settled = fabs(next - log_r) < 1e-13;
        log_r = next;
        if (settled)
            break;
    }
    return log_r;
}

enum convert_status
convert_thermistor_resistance(const struct convert_thermistor *thermistor, double temp_C,
                              double *ret_resistance_ohm)
{
    if (!falls_throughout(thermistor))
        return CONVERT_BAD_SENSOR;
    if (!isfinite(temp_C))
        return CONVERT_NOT_A_NUMBER;
    if (temp_C < T_MIN_C)
        return CONVERT_TOO_LOW;
    if (temp_C > T_MAX_C)
        return CONVERT_TOO_HIGH;
    double per_K = 1.0 / (temp_C + ZERO_C_IN_K);
    /* A temperature too low needs more than 100 Mohm, one too high less than 1 ohm. */
    if (per_K > inverse_kelvin(thermistor, log(R_MAX_OHM)))
        return CONVERT_TOO_LOW;
    if (per_K < inverse_kelvin(thermistor, log(R_MIN_OHM)))
        return CONVERT_TOO_HIGH;
    *ret_resistance_ohm = exp(log_resistance(thermistor, per_K, log(R_MAX_OHM)));
    return CONVERT_OK;
}
