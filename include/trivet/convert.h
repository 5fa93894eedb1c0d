/* Sensor physics: what a probe's voltage or resistance means in degrees Celsius, and back; the
 * boiling point of water. The contract of drivers/convert/.
 *
 * Every function is pure: no I/O, no clock, no global state, no allocation; any thread may call
 * it. Numbers are double. Temperatures are in degC on the International Temperature Scale of
 * 1990, voltages in mV, resistances in ohm, pressures in kPa absolute, heights in metres.
 *
 * A value outside its range, or not a number, is refused: the status says how, and the output
 * is left untouched. Ends of ranges belong to them. Printed tables are rounded, so a voltage or
 * resistance half a printed digit beyond the last line of its table still gives the end of the
 * range. */
#ifndef TRIVET_CONVERT_H
#define TRIVET_CONVERT_H

#include <stdbool.h>

#define CONVERT_CHECKED __attribute__((warn_unused_result))

enum convert_status {
    CONVERT_OK = 0,
    CONVERT_NOT_A_NUMBER,  /* NaN or infinite */
    CONVERT_TOO_LOW,       /* below the range of this sensor or formula */
    CONVERT_TOO_HIGH,      /* above it */
    CONVERT_COLD_JUNCTION, /* the cold junction is outside the thermocouple's range, or not a
                              number */
    CONVERT_BAD_SENSOR,    /* the sensor's own constants describe no sensor of its kind */
};

/* ---- thermocouples
 * ------------------------------------------------------------------------------- Reference
 * functions of NIST Monograph 175 (IEC 60584-1). The inverse is the root of the reference
 * function itself, not the approximate inverse polynomial; it holds over the whole range of a
 * type. */

enum convert_tc {
    CONVERT_TC_K,
    CONVERT_TC_T,
    CONVERT_TC_J,
    CONVERT_TC_E,
    CONVERT_TC_N,
    CONVERT_TC_COUNT
};

/* The range of a sensor: two temperatures and the output at each, in mV or ohm. */
struct convert_range {
    double temp_min_C, temp_max_C;
    double output_min, output_max;
};

/* K -270..1372, T -270..400, J -210..1200, E -270..1000, N -270..1300 degC; output in mV. */
struct convert_range convert_tc_range(enum convert_tc type);

/* Voltage with the reference junction at 0 degC. */
CONVERT_CHECKED enum convert_status convert_tc_emf(enum convert_tc type, double temp_C,
                                                   double *ret_emf_mV);

/* Temperature with the reference junction at 0 degC. */
CONVERT_CHECKED enum convert_status convert_tc_temp(enum convert_tc type, double emf_mV,
                                                    double *ret_temp_C);

/* Temperature of the hot junction from the voltage measured at terminals that are at cold_C.
 * The junction is compensated in voltage, T(measured + E(cold)): adding degrees would be wrong.
 */
CONVERT_CHECKED enum convert_status convert_tc_hot_temp(enum convert_tc type,
                                                        double measured_mV, double cold_C,
                                                        double *ret_temp_C);

/* Voltage to be measured at terminals that are at cold_C: E(temp) - E(cold). */
CONVERT_CHECKED enum convert_status convert_tc_measured(enum convert_tc type, double temp_C,
                                                        double cold_C, double *ret_measured_mV);

/* ---- platinum resistance thermometers
 * ------------------------------------------------------------ IEC 60751:2022, -200..850 degC,
 * any nominal resistance r0_ohm above zero (Pt100: 100; Pt1000: 1000). */

CONVERT_CHECKED enum convert_status convert_rtd_range(double r0_ohm,
                                                      struct convert_range *ret_range);
CONVERT_CHECKED enum convert_status convert_rtd_resistance(double r0_ohm, double temp_C,
                                                           double *ret_resistance_ohm);
CONVERT_CHECKED enum convert_status convert_rtd_temp(double r0_ohm, double resistance_ohm,
                                                     double *ret_temp_C);

enum convert_rtd_class { CONVERT_RTD_AA, CONVERT_RTD_A, CONVERT_RTD_B, CONVERT_RTD_C };
enum convert_rtd_element { CONVERT_RTD_WIRE, CONVERT_RTD_FILM };

/* Tolerance of a class, plus or minus, in degC. The formula only: whether the class promises
 * anything at that temperature is the next function's answer. */
CONVERT_CHECKED enum convert_status convert_rtd_tolerance(enum convert_rtd_class class_name,
                                                          double temp_C,
                                                          double *ret_tolerance_C);

/* True where the class holds: wire AA -50..250, A -100..450, B and C -196..600; film AA 0..150,
 * A -30..300, B -50..500, C -50..600 degC. */
bool convert_rtd_class_holds(enum convert_rtd_class class_name,
                             enum convert_rtd_element element, double temp_C);

/* ---- thermistors (NTC)
 * --------------------------------------------------------------------------- Steinhart and
 * Hart, Deep-Sea Research 15 (1968) 497-503: 1/T = a + b ln R + c (ln R)^3, T in kelvin. Range:
 * 1 ohm to 100 Mohm and -100..300 degC, both (our choice: wider than any food probe). */

struct convert_thermistor {
    double a_per_K, b_per_K, c_per_K;
};

struct convert_point {
    double temp_C, resistance_ohm;
};

/* Each refuses, as CONVERT_BAD_SENSOR, constants whose resistance does not fall all the way as
 * it gets warmer (there would be two answers), or hardly falls: that is no NTC thermistor. */

/* From the three published coefficients. */
CONVERT_CHECKED enum convert_status
convert_thermistor_by_coefficients(double a_per_K, double b_per_K, double c_per_K,
                                   struct convert_thermistor *ret_thermistor);

/* From three measured or tabulated points, in any order; the curve goes through all three. */
CONVERT_CHECKED enum convert_status
convert_thermistor_by_points(const struct convert_point points[3],
                             struct convert_thermistor *ret_thermistor);

/* From one point and beta: R = R0 exp(beta (1/T - 1/T0)), the same law with c = 0. */
CONVERT_CHECKED enum convert_status
convert_thermistor_by_beta(struct convert_point nominal, double beta_K,
                           struct convert_thermistor *ret_thermistor);

CONVERT_CHECKED enum convert_status
convert_thermistor_temp(const struct convert_thermistor *thermistor, double resistance_ohm,
                        double *ret_temp_C);
CONVERT_CHECKED enum convert_status
convert_thermistor_resistance(const struct convert_thermistor *thermistor, double temp_C,
                              double *ret_resistance_ohm);

/* ---- boiling water
 * ------------------------------------------------------------------------------- Saturation
 * line of water, IAPWS R7-97(2012) region 4: 0..373.946 degC, 0.611213..22064 kPa. */

CONVERT_CHECKED enum convert_status convert_boiling_temp(double pressure_kPa,
                                                         double *ret_temp_C);
CONVERT_CHECKED enum convert_status convert_boiling_pressure(double temp_C,
                                                             double *ret_pressure_kPa);

/* Pressure of the standard atmosphere (ISO 2533:1975) at a surveyed height above mean sea
 * level, or at a geopotential height; geopotential -5000..11000 m, its lowest layer. Weather is
 * not in it. */
CONVERT_CHECKED enum convert_status convert_air_pressure(double height_m,
                                                         double *ret_pressure_kPa);
CONVERT_CHECKED enum convert_status convert_air_pressure_geopotential(double geopotential_m,
                                                                      double *ret_pressure_kPa);

#endif
