/* Sensors by name, as `trivet convert` and the plan take them, and what their signals mean.
 *
 * Pure functions; any thread. Numbers of the sensor itself are double; a signal and what it
 * means are whole numbers on both sides, so that nothing else has to compute with anything
 * else. */
#ifndef TRIVET_SENSOR_H
#define TRIVET_SENSOR_H

#include <stdbool.h>
#include <stdint.h>

#include "trivet/convert.h"
#include "trivet/log.h"
#include "trivet/units.h"

enum sensor_family { SENSOR_THERMOCOUPLE, SENSOR_RTD, SENSOR_THERMISTOR };

struct sensor {
    enum sensor_family family;
    enum convert_tc tc;                   /* thermocouple */
    double r0_ohm;                        /* RTD */
    struct convert_thermistor thermistor; /* thermistor */
    char name[48];                        /* for people: "type K thermocouple" */
};

/* What is wrong with a text, a whole sentence. */
struct sensor_refusal {
    char text[512];
};

/* Reads tc-k, tc-t, tc-j, tc-e, tc-n, pt100, pt1000, rtd:R0, ntc-beta:R@T,BETA, ntc-sh:A,B,C or
 * ntc-3pt:R@T,R@T,R@T. The contract of daemon/base/sensor_kind.c. */
TRIVET_MUST_USE bool sensor_parse(const char *kind, struct sensor *ret_sensor,
                                  struct sensor_refusal *reterr_why);

/* Whether the sensor gives what is measured in this unit. */
bool sensor_gives(const struct sensor *sensor, enum signal_unit unit);

/* A signal in millionths of its unit to the temperature, rounded to the nearest thousandth of a
 * degree, a half away from zero. A thermocouple's terminals are at cold_mC, compensated in
 * voltage; others have none. Refuses as include/trivet/convert.h does, and as
 * CONVERT_BAD_SENSOR a unit that the sensor does not give. The contract of
 * drivers/convert/sensor.c. */
CONVERT_CHECKED enum convert_status sensor_temp(const struct sensor *sensor,
                                                int64_t signal_micro, enum signal_unit unit,
                                                int32_t cold_mC, int32_t *ret_temp_mC);

#endif
