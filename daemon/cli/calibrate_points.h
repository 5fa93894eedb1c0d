/* The points of a check as people write them, and what each is compared with. Private to
 * `trivet calibrate`. Pure. */
#ifndef CLI_CALIBRATE_POINTS_H
#define CLI_CALIBRATE_POINTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <jansson.h>

#include "trivet/calibration.h"

#define POINTS_WHY_MAX 300

/* How sure the two fixed points are in a kitchen, expanded. Common practice, no source: an ice
 * bath that is stirred and drained; water in a rolling boil, with the barometer read to 1 hPa.
 */
#define POINTS_ICE_mK     100
#define POINTS_BOILING_mK 200

struct check_point {
    struct calibration_point point;
    bool found; /* point.found_mC is given; else it is to be watched or asked for */
};

struct check_points {
    struct check_point at[CALIBRATION_POINTS_MAX];
    size_t count;
};

/* Where water boils here, and how that is known. */
struct check_boiling {
    int32_t pressure_Pa; /* 0 = not known */
    bool usual;          /* from the plan: give or take the weather */
    int32_t reference_mC, uncertainty_mK;
    char basis[120]; /* "barometer, 1008.0 hPa" */
};

/* What the plan says, from the daemon's "now": its pressure, else its altitude. Not known when
 * it says neither. */
void check_boiling_of_plan(const json_t *now, struct check_boiling *ret);
/* "1008hPa", "100.8kPa": of a barometer in the kitchen. */
bool check_boiling_of_pressure(const char *text, struct check_boiling *ret, char *reterr);
/* "650", "650m": of the kitchen. */
bool check_boiling_of_altitude(const char *text, struct check_boiling *ret, char *reterr);

/* Adds "ice", "boiling" or what the reference showed ("63.1C"), each with "=" and what the
 * thermometer showed, or without. reference_mK: uncertainty of the reference, 0 = none named.
 * False with what is wrong and what to write. */
bool check_points_add(struct check_points *points, const char *word, bool both_used,
                      const struct check_boiling *boiling, int32_t reference_mK, char *reterr);

/* The list for the daemon; NULL when out of memory. All of them are found. */
json_t *check_points_json(const struct check_points *points);

/* "in melting ice", "in boiling water", "beside the reference". */
const char *check_method_phrase(enum calibration_method method);

#endif
