/* Temperatures, masses and lengths as people in a kitchen type them, in whole thousandths,
 * grams and millimetres. Pure. */
#ifndef CLI_AMOUNT_H
#define CLI_AMOUNT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Each refuses with a sentence that says what to write. */

/* "63.4", "63.4C", "63.4 °C", "145F". Without a unit it is Celsius; that is refused above
 * AMOUNT_BARE_MAX_mC, where a person may well have meant Fahrenheit, and always when both are
 * in use (both_used). Fahrenheit is rounded to the nearest thousandth of a degree Celsius. */
#define AMOUNT_BARE_MAX_mC 110000
bool amount_temp(const char *text, bool both_used, int32_t *ret_mC, char *reterr,
                 size_t err_size);

/* "63.4 °C", with " (146.1 °F)" after it when both are in use. Returns buf. */
#define AMOUNT_TEMP_MAX 64
char *amount_temp_text(char buf[AMOUNT_TEMP_MAX], int32_t temp_mC, bool both_used);

/* "2.4kg", "800 g", "5lb", "12oz": at least 1 g. */
bool amount_mass(const char *text, int32_t *ret_g, char *reterr, size_t err_size);

/* "60mm", "6 cm", "2.5in": at least 1 mm. */
bool amount_length(const char *text, int32_t *ret_mm, char *reterr, size_t err_size);

/* "30min", "1 h 30 min", "2h": at least 1 min, less than two days. */
bool amount_span(const char *text, int64_t *ret_ms, char *reterr, size_t err_size);

/* A whole number from 1: of a batch, a deviation, a record. */
bool amount_number(const char *text, uint64_t max, uint64_t *ret, char *reterr,
                   size_t err_size);

#endif
