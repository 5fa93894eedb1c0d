/* Days of the calendar as whole numbers, so that they can be counted. Pure. */
#ifndef TRIVET_CALENDAR_H
#define TRIVET_CALENDAR_H

#include <stdbool.h>
#include <stdint.h>

#define CALENDAR_DAY_MAX 10 /* "2026-03-01" */

/* The number of a day written so, counted from 1970-01-01 = 0; false when there is no such day.
 * Years 1970 to 9999. */
bool calendar_read(const char *text, int32_t *ret_day);

/* Writes a day that calendar_read could have given; others are written as "". Returns buf. */
char *calendar_write(int32_t day, char buf[CALENDAR_DAY_MAX + 1]);

#endif
