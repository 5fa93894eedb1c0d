/* The KIND of `trivet convert`: which sensor a text names. Private to the cli room. */
#ifndef CLI_CONVERT_KIND_H
#define CLI_CONVERT_KIND_H

#include <stdbool.h>

#include "trivet/convert.h"
#include "trivet/log.h"

enum sensor_family { SENSOR_THERMOCOUPLE, SENSOR_RTD, SENSOR_THERMISTOR };

struct sensor {
    enum sensor_family family;
    enum convert_tc tc;                   /* thermocouple */
    double r0_ohm;                        /* RTD */
    struct convert_thermistor thermistor; /* thermistor */
    char name[48];                        /* for people: "type K thermocouple" */
};

/* What is wrong with a KIND, a whole sentence. */
struct kind_refusal {
    char text[512];
};

/* Reads tc-k, tc-t, tc-j, tc-e, tc-n, pt100, pt1000, rtd:R0, ntc-beta:R@T,BETA, ntc-sh:A,B,C or
 * ntc-3pt:R@T,R@T,R@T. */
TRIVET_MUST_USE bool convert_kind_parse(const char *kind, struct sensor *ret_sensor,
                                        struct kind_refusal *reterr_why);

#endif
