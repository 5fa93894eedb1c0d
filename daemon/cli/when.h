/* Instants and days as people say them, in the time zone of the site. Pure: the present is
 * handed in. */
#ifndef CLI_WHEN_H
#define CLI_WHEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/zone.h"

/* An instant that has been: "now", "10 min ago", "1 h 20 min ago", "14:05" (the last one),
 * "yesterday 22:30", "2026-03-01 14:05". A clock time that was shown twice means the later one
 * that is not after now; one that was skipped and anything in the future is refused. Instants
 * are Unix time in milliseconds as the site's clock shows it. */
bool when_past(const char *text, const struct zone *zone, int64_t now_ms, int64_t *ret_ms,
               char *reterr, size_t err_size);

enum when_edge { WHEN_FROM, WHEN_TO };

/* An edge of a range, from inclusive and to exclusive: what when_past takes, and whole days
 * ("today", "yesterday", "3 days ago", "2026-03-01"), of which WHEN_FROM means the first
 * instant and WHEN_TO the end. May be in the future. */
bool when_edge(const char *text, enum when_edge edge, const struct zone *zone, int64_t now_ms,
               int64_t *ret_ms, char *reterr, size_t err_size);

#endif
