/* What is read as one thing and stays on one line: a number and its unit, a weekday or date and
 * its time of day. For whoever breaks lines, a terminal or a page. Pure. */
#ifndef TRIVET_TOGETHER_H
#define TRIVET_TOGETHER_H

#include <stdbool.h>
#include <stddef.h>

/* True when the blank at text[blank] stands inside such a thing: "5.0 °C", "20 min",
 * "Sun 18:11", "3 Feb 2025 18:11", "2026-11-30 01:47". */
bool together_blank(const char *text, size_t blank);

/* Length of the date as 2026-11-30 that begins here; 0 when none does. */
size_t together_date(const char *text);

#endif
