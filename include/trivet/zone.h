/* Clock times of the site, without touching the process's TZ: a reader of the system's zone
 * files.
 *
 * A struct zone is immutable once loaded and may be used by any thread. Records, limits and
 * exports never depend on it; it serves only what people read. */
#ifndef TRIVET_ZONE_H
#define TRIVET_ZONE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct zone;

/* One instant taken apart as a wall clock and a calendar of the zone show it. */
struct zone_time {
    int32_t year;
    uint8_t month, day;           /* from 1 */
    uint8_t weekday;              /* 0 = Sunday */
    uint8_t hour, minute, second; /* second 0 to 59 */
    uint16_t milli;
    int32_t offset_s; /* local minus UTC */
    bool dst;
    char abbrev[12]; /* "BST" */
};

/* Loads a zone by its IANA name ("Europe/London"); "UTC" needs no file. NULL when there is no
 * such zone or its file cannot be read: reterr says which and what to do. The caller frees with
 * zone_free. */
struct zone *zone_load(const char *name, char *reterr, size_t err_size);
void zone_free(struct zone *zone); /* accepts NULL */

/* Reads a zone from the bytes of a TZif file (RFC 8536), versions 2 to 4; NULL when they are
 * not one. */
struct zone *zone_parse(const unsigned char *bytes, size_t len);

/* The zone of that name, loaded at its first use and kept for the life of the process; UTC when
 * it cannot be loaded (a plan is checked with zone_load first). Never NULL, any thread. */
const struct zone *zone_shared(const char *name);

/* Takes an instant apart. Any int64_t milliseconds within the years 1 to 9999; others are
 * clamped. */
void zone_split(const struct zone *zone, int64_t utc_ms, struct zone_time *ret);

/* The instant at which the zone's clock shows this time. A time that the clock shows twice
 * means the first; a time that it skips means the instant of the jump. False when it is not a
 * date or time. */
bool zone_join(const struct zone *zone, int32_t year, int month, int day, int hour, int minute,
               int64_t *ret_utc_ms);

/* First instant of the local day, days_later days after the day of utc_ms (0 = that day
 * itself). */
int64_t zone_day_start(const struct zone *zone, int64_t utc_ms, int days_later);

/* "14:05"; with the weekday, "Tue 14:05", when day_of_ms is another local day; with the date,
 * "3 Mar 14:05", when it is 6 days or more away, and the year when that differs. Returns buf.
 */
char *zone_clock_text(const struct zone *zone, int64_t utc_ms, int64_t day_of_ms, char *buf,
                      size_t size);

/* "2026-03-29 14:05:07". Returns buf. */
char *zone_stamp_text(const struct zone *zone, int64_t utc_ms, char *buf, size_t size);

/* "2026-03-29T14:05:07.250+01:00", ISO 8601 for machines; an old local mean time has the
 * seconds of its distance as well. Returns buf. */
#define ZONE_ISO_MAX 40
char *zone_iso_text(const struct zone *zone, int64_t utc_ms, char *buf, size_t size);

#endif
