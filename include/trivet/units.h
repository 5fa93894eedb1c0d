/* Temperatures and durations as everything that decides sees them: integers, unit in the name.
 *
 * A limit is kept in the unit its source prints and compared exactly, so that 155 °F never
 * becomes a rounded Celsius figure. Pure functions, no locale. */
#ifndef TRIVET_UNITS_H
#define TRIVET_UNITS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What a missing or bad temperature holds, so that a use of it by mistake is loud. */
#define TEMP_NONE INT32_MIN

/* No instant, no deadline. */
#define TIME_NONE  INT64_MIN
#define TIME_NEVER INT64_MAX

enum temp_unit { TEMP_C, TEMP_F };

/* What a device's number is in: degrees, or what a sensor gives at its terminals. */
enum signal_unit { SIGNAL_TEMP, SIGNAL_MV, SIGNAL_UV, SIGNAL_OHM };

/* A limit as printed: thousandths of a degree of its unit. */
struct limit_temp {
    int32_t milli;
    enum temp_unit unit;
};

/* -1, 0 or 1 as the reading is below, exactly at or above the limit. Integer arithmetic in the
 * limit's unit: 9 * temp_mC against 5 * (limit_mF - 32000). 155 °F is 68.333... °C, which no
 * thousandth hits, so the nearest thousandth, 68.333 °C, is what a thermometer showing exactly
 * 155 °F gives and counts as exactly at the limit; 68.332 and 68.334 do not. temp_mC must not
 * be TEMP_NONE. */
int temp_compare(int32_t temp_mC, struct limit_temp limit);

/* Writes "63.0" (one decimal, no unit), or more decimals where one would show the value on the
 * other side of the limit, or at it when it is not. "none" for TEMP_NONE. Returns buf. */
char *temp_text_against(char *buf, size_t size, int32_t temp_mC, struct limit_temp limit);

/* Writes thousandths as the shortest exact decimal with at least one: "63.0", "-0.125". Returns
 * buf. */
char *temp_text(char *buf, size_t size, int32_t temp_mC);

/* Writes the limit as its source prints it, with unit: "63.0 °C", "155.0 °F". Returns buf. */
char *limit_temp_text(char *buf, size_t size, struct limit_temp limit);

/* Writes a duration for people: "45 s", "3 min", "1 h 05 min", "2 d 3 h"; rounded down, and
 * never negative. Returns buf. */
char *duration_text(char *buf, size_t size, int64_t duration_ms);

/* Writes an instant as RFC 3339 in UTC with milliseconds: "2026-03-01T14:05:00.000Z". Needs
 * size >= 32. Returns buf. */
char *utc_text(char *buf, size_t size, int64_t utc_ms);

/* Parse a decimal with at most three decimals and a point into thousandths; the whole string
 * must be used, no exponent, sign allowed. False when it is not one or does not fit. */
bool milli_parse(const char *text, int32_t *ret_milli);

#endif
