/* The boiling point of water as a reference, from an air pressure. */
#ifndef CLI_BOIL_H
#define CLI_BOIL_H

#include <stdbool.h>
#include <stdint.h>

#include "trivet/convert.h"

/* How far ordinary weather takes the pressure from the usual one. Common practice, no source:
 * sea-level charts seldom leave 98 to 104 kPa. */
#define BOIL_WEATHER_KPA 3.0

struct boil {
    double temp_C;
    double weather_C; /* how far that weather moves it, either way */
};

/* CONVERT_OK, or why not. */
enum convert_status boil_at(double pressure_kPa, struct boil *ret);

#endif
