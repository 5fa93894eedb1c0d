/* A bounded text that grows by printf and ends in an ellipsis, never in half a character, when
 * it is full. */
#ifndef STATUS_TEXT_H
#define STATUS_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/log.h"
#include "trivet/units.h"

struct text {
    char *buf;
    size_t size, len;
};

void text_start(struct text *text, char *buf, size_t size);
void text_add(struct text *text, const char *format, ...) TRIVET_PRINTF(2, 3);

/* Room for the longest text of a temperature with its unit, in both units. */
#define DEGREES_MAX 64

/* "48.3 °C"; against a limit printed in Fahrenheit "154.8 °F (68.2 °C)". More decimals where
 * one would show the reading on the other side of the limit. Returns buf. */
char *degrees_text(char buf[DEGREES_MAX], int32_t temp_mC, struct limit_temp limit);

#endif
