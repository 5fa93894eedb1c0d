/* Numbers with units as people type them, and numbers as the command prints them; neither
 * depends on a locale.
 *
 * A number is decimal: sign, digits, one point, exponent; no hexadecimal, no "inf", no "nan",
 * no comma. The whole text has to be used. Pure functions. */
#ifndef TRIVET_TYPED_H
#define TRIVET_TYPED_H

#include <stdbool.h>
#include <stddef.h>

#include "trivet/log.h"

enum typed_kind {
    TYPED_PLAIN, /* no unit written */
    TYPED_VOLTAGE_MV,
    TYPED_RESISTANCE_OHM,
    TYPED_TEMP_C,
    TYPED_PRESSURE_KPA,
    TYPED_HEIGHT_M,
    TYPED_TEMP_K, /* only as the unit of beta */
};

struct typed {
    double value; /* in the unit the kind names */
    enum typed_kind kind;
};

/* Why a text was refused, in words that follow "'text' ...". */
struct typed_refusal {
    char text[240];
};

/* Longest text taken; longer is refused. */
#define TYPED_TEXT_MAX 64

TRIVET_MUST_USE bool typed_parse(const char *text, struct typed *ret_typed,
                                 struct typed_refusal *reterr_why);

/* Writes value with that many decimals (at most 9), rounded half away from zero, "0.0000" never
 * negative. |value| * 10^decimals must stay below 9e15; size at least 32. Returns buf. */
char *typed_fixed(char *buf, size_t size, double value, int decimals);

/* Copies outside text for an error message: control characters and broken bytes become '?', and
 * what is longer than size ends in "...". Returns buf. */
char *typed_shown(char *buf, size_t size, const char *text);

#endif
