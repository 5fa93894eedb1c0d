/* Business days and working days of the site, as the plan's duties say: a day may end after
 * midnight. Pure but for the zone that is loaded once; any thread.
 *
 * Instants are those of the clock people see, UTC milliseconds. */
#ifndef TRIVET_BUSINESS_DAY_H
#define TRIVET_BUSINESS_DAY_H

#include <stdbool.h>
#include <stdint.h>

#include "trivet/plan.h"

/* A business day: named by the date on which most of it lies, from_ms to to_ms (exclusive). */
struct business_day {
    int32_t year;
    uint8_t month, day, weekday; /* weekday 0 = Sunday */
    int64_t from_ms, to_ms;
};

/* The business day that contains an instant, or one so many days later (or earlier). */
void business_day_of(const struct plan *plan, int64_t wall_ms, int days_later,
                     struct business_day *ret);

/* The business day of a date; false when there is no such date. */
bool business_day_named(const struct plan *plan, int32_t year, int month, int day,
                        struct business_day *ret);

/* The end of the last of so many working days after the business day of an instant. */
int64_t working_days_after(const struct plan *plan, int64_t wall_ms, unsigned days);

#endif
