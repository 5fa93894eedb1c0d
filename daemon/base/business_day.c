/* Business days. See business_day.h. */
#include "trivet/business_day.h"

#include "trivet/zone.h"

#define DAY_MIN  1440
#define NOON_MIN 720 /* a day that ends before noon ends in the night after its date */

/* Where the business day of a date ends: that day or the night after. */
static int64_t
end_of(const struct plan *plan, const struct zone *zone, int64_t midday_ms)
{
    struct zone_time date;
    int64_t end_ms = midday_ms;
    int ends = plan->duties.day_ends_min;
    zone_split(zone, ends < NOON_MIN ? zone_day_start(zone, midday_ms, 1) : midday_ms, &date);
    (void)zone_join(zone, date.year, date.month, date.day, ends / 60, ends % 60, &end_ms);
    return end_ms;
}

static void
fill(const struct plan *plan, const struct zone *zone, int64_t day_start_ms,
     struct business_day *ret)
{
    struct zone_time date;
    int64_t before_ms = zone_day_start(zone, day_start_ms, -1);
    zone_split(zone, day_start_ms, &date);
    ret->year = date.year;
    ret->month = date.month;
    ret->day = date.day;
    ret->weekday = date.weekday;
    ret->from_ms = end_of(plan, zone, before_ms);
    ret->to_ms = end_of(plan, zone, day_start_ms);
}

void
business_day_of(const struct plan *plan, int64_t wall_ms, int days_later,
                struct business_day *ret)
{
    const struct zone *zone = zone_shared(plan->time_zone);
    struct business_day day;
    int shift = 0;
    fill(plan, zone, zone_day_start(zone, wall_ms, 0), &day);
    if (wall_ms < day.from_ms)
        shift = -1;
    else if (wall_ms >= day.to_ms)
        shift = 1;
    fill(plan, zone, zone_day_start(zone, wall_ms, shift + days_later), ret);
}

bool
business_day_named(const struct plan *plan, int32_t year, int month, int day,
                   struct business_day *ret)
{
    const struct zone *zone = zone_shared(plan->time_zone);
    int64_t noon_ms;
    if (!zone_join(zone, year, month, day, 12, 0, &noon_ms))
        return false;
    fill(plan, zone, zone_day_start(zone, noon_ms, 0), ret);
    return true;
}

int64_t
working_days_after(const struct plan *plan, int64_t wall_ms, unsigned days)
{
    struct business_day day;
    int later = 0;
    business_day_of(plan, wall_ms, 0, &day);
    while (days > 0) {
        business_day_of(plan, wall_ms, ++later, &day);
        days -= plan_is_working_day(plan, day.weekday) ? 1 : 0;
    }
    return day.to_ms;
}
