/* Numbers with their units as people write them, read exactly: integer arithmetic, no locale,
 * the whole text used. Pure; any thread. */
#ifndef PLAN_QUANTITY_H
#define PLAN_QUANTITY_H

#include <stddef.h>
#include <stdint.h>

#include "trivet/units.h"

enum quantity_status {
    QUANTITY_OK,
    QUANTITY_NOT_A_NUMBER,
    QUANTITY_COMMA,     /* a comma where the decimal point belongs */
    QUANTITY_NO_UNIT,   /* a bare number */
    QUANTITY_BAD_UNIT,  /* a unit that does not fit, or something after the unit */
    QUANTITY_TOO_FINE,  /* more decimals than are kept */
    QUANTITY_TOO_LARGE, /* more digits than anything here can need */
};

/* A whole number, "-32768". No leading zeros, no plus sign. */
enum quantity_status quantity_whole(const char *text, size_t len, int64_t *ret);

/* "63 °C", "145 F", "-0.125 °C", in millionths of a degree of the unit. */
enum quantity_status quantity_temp(const char *text, size_t len, int64_t *ret_micro,
                                   enum temp_unit *ret_unit);

/* "0.1 °C", "0.01 mV", "1 kohm", in millionths of the unit; V and kohm become mV and ohm. The
 * unit of degrees only where they are any. */
enum quantity_status quantity_signal(const char *text, size_t len, int64_t *ret_micro,
                                     enum signal_unit *ret_signal, enum temp_unit *ret_unit);

/* "15 °C/min", in millionths of a degree of the unit per minute. */
enum quantity_status quantity_rate(const char *text, size_t len, int64_t *ret_micro,
                                   enum temp_unit *ret_unit);

/* "45 s", "1 h 30 min", "0.5 s": each of d, h, min, s, ms at most once, in this order. Never
 * negative, exact to the millisecond. */
enum quantity_status quantity_duration(const char *text, size_t len, int64_t *ret_ms);

/* Millionths of a degree of a unit as thousandths of a degree Celsius, rounded down or up.
 * Differences of temperature have no zero point: is_difference leaves out the 32 degrees. */
int64_t quantity_floor_mC(int64_t micro, enum temp_unit unit, int is_difference);
int64_t quantity_ceil_mC(int64_t micro, enum temp_unit unit, int is_difference);

/* A duration without loss: "2 min 30 s", "1 h 30 min", "0 s". Returns buf. */
#define QUANTITY_DURATION_MAX 64
char *quantity_duration_text(char buf[QUANTITY_DURATION_MAX], int64_t duration_ms);

#endif
