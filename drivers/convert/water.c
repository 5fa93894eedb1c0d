/* Boiling water: saturation temperature and pressure, and the air pressure to expect at a
 * height.
 *
 * Purpose: the reference of a boiling-point check. IAPWS R7-97(2012) region 4; ISO 2533:1975.
 * Owns:    nothing; pure functions, any thread.
 * Must not: do I/O, read a clock, allocate, or keep state. */
#include "trivet/convert.h"

#include <math.h>

#define ZERO_C_IN_K 273.15
#define KPA_PER_MPA 1000.0

/* Ends of the saturation line: 273.15 K by the range of the formula, and the critical point.
 * The lower pressure is the formula's own at 273.15 K, R7-97 section 8. */
#define BOILING_MIN_C   0.0
#define BOILING_MAX_C   (647.096 - ZERO_C_IN_K)
#define BOILING_MIN_KPA 0.611213
#define BOILING_MAX_KPA 22064.0

/* R7-97(2012) table 34, n1 to n10. */
static const double n[11] = {
    0.0,
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
};

/* ISO 2533:1975: sea level, temperature lapse, gravity and molar mass; the exponent is g M / (R
 * L). */
#define SEA_LEVEL_KPA      101.325
#define SEA_LEVEL_K        288.15
#define LAPSE_K_PER_M      0.0065
#define PRESSURE_EXPONENT  (9.80665 * 28.9644 / (8314.32 * LAPSE_K_PER_M))
#define EARTH_RADIUS_M     6356766.0
#define GEOPOTENTIAL_MIN_M (-5000.0)
#define GEOPOTENTIAL_MAX_M 11000.0

/* Equation 31, the backward form, which is an exact inverse of equation 30. */
enum convert_status
convert_boiling_temp(double pressure_kPa, double *ret_temp_C)
{
    if (!isfinite(pressure_kPa))
        return CONVERT_NOT_A_NUMBER;
    if (pressure_kPa < BOILING_MIN_KPA)
        return CONVERT_TOO_LOW;
    if (pressure_kPa > BOILING_MAX_KPA)
        return CONVERT_TOO_HIGH;
    double b = sqrt(sqrt(pressure_kPa / KPA_PER_MPA));
    double e = (b + n[3]) * b + n[6];
    double f = (n[1] * b + n[4]) * b + n[7];
    double g = (n[2] * b + n[5]) * b + n[8];
    double d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g));
    double sum = n[10] + d;
    *ret_temp_C = (sum - sqrt(sum * sum - 4.0 * (n[9] + n[10] * d))) / 2.0 - ZERO_C_IN_K;
    return CONVERT_OK;
}

/* Equation 30. */
enum convert_status
convert_boiling_pressure(double temp_C, double *ret_pressure_kPa)
{
    if (!isfinite(temp_C))
        return CONVERT_NOT_A_NUMBER;
    if (temp_C < BOILING_MIN_C)
        return CONVERT_TOO_LOW;
    if (temp_C > BOILING_MAX_C)
        return CONVERT_TOO_HIGH;
    double temp_K = temp_C + ZERO_C_IN_K;
    double v = temp_K + n[9] / (temp_K - n[10]);
    double a = (v + n[1]) * v + n[2];
    double b = (n[3] * v + n[4]) * v + n[5];
    double c = (n[6] * v + n[7]) * v + n[8];
    double root = 2.0 * c / (-b + sqrt(b * b - 4.0 * a * c));
    *ret_pressure_kPa = KPA_PER_MPA * root * root * root * root;
    return CONVERT_OK;
}

enum convert_status
convert_air_pressure_geopotential(double geopotential_m, double *ret_pressure_kPa)
{
    if (!isfinite(geopotential_m))
        return CONVERT_NOT_A_NUMBER;
    if (geopotential_m < GEOPOTENTIAL_MIN_M)
        return CONVERT_TOO_LOW;
    if (geopotential_m > GEOPOTENTIAL_MAX_M)
        return CONVERT_TOO_HIGH;
    *ret_pressure_kPa = SEA_LEVEL_KPA * pow(1.0 - LAPSE_K_PER_M * geopotential_m / SEA_LEVEL_K,
                                            PRESSURE_EXPONENT);
    return CONVERT_OK;
}

enum convert_status
convert_air_pressure(double height_m, double *ret_pressure_kPa)
{
    if (!isfinite(height_m))
        return CONVERT_NOT_A_NUMBER;
    if (height_m <=
        -EARTH_RADIUS_M) /* before the formula's pole turns it into a height above */
        return CONVERT_TOO_LOW;
    return convert_air_pressure_geopotential(
        EARTH_RADIUS_M * height_m / (EARTH_RADIUS_M + height_m), ret_pressure_kPa);
}
