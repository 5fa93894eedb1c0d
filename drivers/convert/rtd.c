/* Platinum resistance thermometers by IEC 60751:2022.
 *
 * Purpose: resistance to temperature and back for any nominal resistance; tolerance classes.
 * Owns:    nothing; pure functions, any thread.
 * Must not: do I/O, read a clock, allocate, or keep state. */
#include "trivet/convert.h"

#include <assert.h>
#include <math.h>

/* R/R0 = 1 + A t + B t^2, and below 0 degC also + C (t - 100) t^3. IEC 60751:2022, 5.2. A C
 * near -4.27e-12 and R(100 degC) = 138.50 ohm are those of the temperature scale before 1990.
 */
#define RTD_A     3.9083e-3
#define RTD_B     (-5.775e-7)
#define RTD_C     (-4.183e-12)
#define RTD_MIN_C (-200.0)
#define RTD_MAX_C 850.0

/* The Pt100 table prints 0.01 ohm: half of that beyond an end is rounding (-200 degC
 * is 18.52008 ohm but stands as 18.52). As a share of R0. */
#define ROUNDED_RATIO 0.00005

static double
ratio_at(double temp_C)
{
    double ratio = 1.0 + temp_C * (RTD_A + temp_C * RTD_B);
    if (temp_C < 0.0)
        ratio += RTD_C * (temp_C - 100.0) * temp_C * temp_C * temp_C;
    return ratio;
}

/* The root of the parabola nearest zero, in the form that does not subtract like from like. */
static double
parabola_root(double ratio)
{
    double rise = ratio - 1.0;
    return 2.0 * rise / (RTD_A + sqrt(RTD_A * RTD_A + 4.0 * RTD_B * rise));
}

/* Below 0 degC: Newton from the parabola, which is 2.4 degC off at -200 degC. The steps go 2.4,
 * 3e-2, 6e-6, 3e-13 degC there, so three leave nothing. */
static double
quartic_root(double ratio)
{
    double temp_C = parabola_root(ratio);
    for (int step = 0; step < 3; step++) {
        double slope =
            RTD_A + 2.0 * RTD_B * temp_C + RTD_C * temp_C * temp_C * (4.0 * temp_C - 300.0);
        temp_C -= (ratio_at(temp_C) - ratio) / slope;
    }
    return temp_C;
}

enum convert_status
convert_rtd_range(double r0_ohm, struct convert_range *ret_range)
{
    if (!isfinite(r0_ohm) || r0_ohm <= 0.0)
        return CONVERT_BAD_SENSOR;
    *ret_range = (struct convert_range){.temp_min_C = RTD_MIN_C,
                                        .temp_max_C = RTD_MAX_C,
                                        .output_min = r0_ohm * ratio_at(RTD_MIN_C),
                                        .output_max = r0_ohm * ratio_at(RTD_MAX_C)};
    return CONVERT_OK;
}

enum convert_status
convert_rtd_resistance(double r0_ohm, double temp_C, double *ret_resistance_ohm)
{
    if (!isfinite(r0_ohm) || r0_ohm <= 0.0)
        return CONVERT_BAD_SENSOR;
    if (!isfinite(temp_C))
        return CONVERT_NOT_A_NUMBER;
    if (temp_C < RTD_MIN_C)
        return CONVERT_TOO_LOW;
    if (temp_C > RTD_MAX_C)
        return CONVERT_TOO_HIGH;
    *ret_resistance_ohm = r0_ohm * ratio_at(temp_C);
    return CONVERT_OK;
}

enum convert_status
convert_rtd_temp(double r0_ohm, double resistance_ohm, double *ret_temp_C)
{
    if (!isfinite(r0_ohm) || r0_ohm <= 0.0)
        return CONVERT_BAD_SENSOR;
    double ratio = resistance_ohm / r0_ohm;
    if (!isfinite(ratio))
        return CONVERT_NOT_A_NUMBER;
    if (ratio < ratio_at(RTD_MIN_C) - ROUNDED_RATIO)
        return CONVERT_TOO_LOW;
    if (ratio > ratio_at(RTD_MAX_C) + ROUNDED_RATIO)
        return CONVERT_TOO_HIGH;
    double temp_C = ratio >= 1.0 ? parabola_root(ratio) : quartic_root(ratio);
    *ret_temp_C = fmin(fmax(temp_C, RTD_MIN_C), RTD_MAX_C);
    return CONVERT_OK;
}

/* IEC 60751:2022, tolerance classes. The film range of class C is from memory, the rest was
 * read. */
static const struct {
    double fixed_C, per_degree;
    double min_C[2], max_C[2]; /* by enum convert_rtd_element */
} classes[] = {
    [CONVERT_RTD_AA] = {0.1, 0.0017, {-50.0, 0.0}, {250.0, 150.0}},
    [CONVERT_RTD_A] = {0.15, 0.002, {-100.0, -30.0}, {450.0, 300.0}},
    [CONVERT_RTD_B] = {0.3, 0.005, {-196.0, -50.0}, {600.0, 500.0}},
    [CONVERT_RTD_C] = {0.6, 0.01, {-196.0, -50.0}, {600.0, 600.0}},
};

enum convert_status
convert_rtd_tolerance(enum convert_rtd_class class_name, double temp_C, double *ret_tolerance_C)
{
    assert((int)class_name >= 0 && class_name <= CONVERT_RTD_C);
    if (!isfinite(temp_C))
        return CONVERT_NOT_A_NUMBER;
    if (temp_C < RTD_MIN_C)
        return CONVERT_TOO_LOW;
    if (temp_C > RTD_MAX_C)
        return CONVERT_TOO_HIGH;
    *ret_tolerance_C =
        classes[class_name].fixed_C + classes[class_name].per_degree * fabs(temp_C);
    return CONVERT_OK;
}

bool
convert_rtd_class_holds(enum convert_rtd_class class_name, enum convert_rtd_element element,
                        double temp_C)
{
    assert((int)class_name >= 0 && class_name <= CONVERT_RTD_C);
    assert(element == CONVERT_RTD_WIRE || element == CONVERT_RTD_FILM);
    return temp_C >= classes[class_name].min_C[element] &&
           temp_C <= classes[class_name].max_C[element];
}
