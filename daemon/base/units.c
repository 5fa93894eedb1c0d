/* Temperatures, durations and instants as text, and the one comparison that decides.
 *
 * Pure: no locale, no clock, no allocation. Any thread. */
#include "trivet/units.h"

#include <assert.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MS_PER_DAY INT64_C(86400000)

int
temp_compare(int32_t temp_mC, struct limit_temp limit)
{
    assert(temp_mC != TEMP_NONE);
    if (limit.unit == TEMP_C)
        return temp_mC < limit.milli ? -1 : temp_mC > limit.milli;
    /* In ninths of a thousandth of a degree Celsius. A reading is rounded to the nearest
     * thousandth, which is 9 of them; less than half of that apart, nothing tells the reading
     * from the limit. */
    int64_t apart = (int64_t)9 * temp_mC - 5 * ((int64_t)limit.milli - 32000);
    return apart < -4 ? -1 : apart > 4;
}

/* Rounded half away from zero to so many decimals of a thousandth's three: 1 to 3. */
static int64_t
rounded_to(int64_t milli, int decimals)
{
    static const int64_t unit_of[] = {100, 10, 1};
    int64_t unit = unit_of[decimals - 1];
    return (milli < 0 ? milli - unit / 2 : milli + unit / 2) / unit * unit;
}

static void
milli_text(char *buf, size_t size, int64_t milli, int decimals)
{
    char digits[24];
    int64_t rounded = rounded_to(milli, decimals);
    (void)snprintf(digits, sizeof digits, "%03lld", llabs(rounded % 1000));
    (void)snprintf(buf, size, "%s%lld.%.*s", rounded < 0 ? "-" : "", llabs(rounded / 1000),
                   decimals, digits);
}

char *
temp_text_against(char *buf, size_t size, int32_t temp_mC, struct limit_temp limit)
{
    if (temp_mC == TEMP_NONE) {
        (void)snprintf(buf, size, "none");
        return buf;
    }
    int decimals = 1;
    while (decimals < 3 && temp_compare((int32_t)rounded_to(temp_mC, decimals), limit) !=
                               temp_compare(temp_mC, limit))
        decimals++;
    milli_text(buf, size, temp_mC, decimals);
    return buf;
}

char *
temp_text(char *buf, size_t size, int32_t temp_mC)
{
    if (temp_mC == TEMP_NONE) {
        (void)snprintf(buf, size, "none");
        return buf;
    }
    int decimals = temp_mC % 100 == 0 ? 1 : temp_mC % 10 == 0 ? 2 : 3;
    milli_text(buf, size, temp_mC, decimals);
    return buf;
}

char *
limit_temp_text(char *buf, size_t size, struct limit_temp limit)
{
    char number[24];
    (void)snprintf(buf, size, "%s %s", temp_text(number, sizeof number, limit.milli),
                   limit.unit == TEMP_F ? "°F" : "°C");
    return buf;
}

char *
duration_text(char *buf, size_t size, int64_t duration_ms)
{
    int64_t total_s = duration_ms < 0 ? 0 : duration_ms / 1000;
    int64_t days = total_s / 86400;
    int64_t hours = total_s / 3600 % 24;
    int64_t minutes = total_s / 60 % 60;
    int64_t seconds = total_s % 60;
    if (days > 0)
        (void)snprintf(buf, size, "%" PRId64 " d %" PRId64 " h", days, hours);
    else if (hours > 0)
        (void)snprintf(buf, size, "%" PRId64 " h %02" PRId64 " min", hours, minutes);
    else if (minutes >= 5 || (minutes > 0 && seconds == 0))
        (void)snprintf(buf, size, "%" PRId64 " min", minutes);
    else if (minutes > 0)
        (void)snprintf(buf, size, "%" PRId64 " min %02" PRId64 " s", minutes, seconds);
    else
        (void)snprintf(buf, size, "%" PRId64 " s", seconds);
    return buf;
}

char *
utc_text(char *buf, size_t size, int64_t utc_ms)
{
    int64_t day = utc_ms / MS_PER_DAY;
    int64_t in_day_ms = utc_ms % MS_PER_DAY;
    if (in_day_ms < 0) {
        in_day_ms += MS_PER_DAY;
        day--;
    }
    /* Days since 1970-01-01 to the proleptic Gregorian calendar, counting years from March so
     * that the leap day is a year's last. */
    int64_t from_march = day + 719468;
    int64_t era = (from_march >= 0 ? from_march : from_march - 146096) / 146097;
    int64_t of_era = from_march - era * 146097;
    int64_t year_of_era = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
    int64_t of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int64_t month_from_march = (5 * of_year + 2) / 153;
    int64_t day_of_month = of_year - (153 * month_from_march + 2) / 5 + 1;
    int64_t month = month_from_march < 10 ? month_from_march + 3 : month_from_march - 9;
    int64_t year = year_of_era + era * 400 + (month <= 2);
    (void)snprintf(buf, size,
                   "%04" PRId64 "-%02" PRId64 "-%02" PRId64 "T%02" PRId64 ":%02" PRId64
                   ":%02" PRId64 ".%03" PRId64 "Z",
                   year, month, day_of_month, in_day_ms / 3600000, in_day_ms / 60000 % 60,
                   in_day_ms / 1000 % 60, in_day_ms % 1000);
    return buf;
}

bool
milli_parse(const char *text, int32_t *ret_milli)
{
    bool negative = *text == '-';
    if (*text == '-' || *text == '+')
        text++;
    if (*text < '0' || *text > '9')
        return false;
    int64_t milli = 0;
    for (; *text >= '0' && *text <= '9'; text++) {
        milli = milli * 10 + (int64_t)(*text - '0') * 1000;
        if (milli > INT32_MAX)
            return false;
    }
    if (*text == '.') {
        text++;
        if (*text < '0' || *text > '9')
            return false;
        for (int64_t place = 100; *text >= '0' && *text <= '9'; text++, place /= 10) {
            if (place == 0)
                return false;
            milli += (*text - '0') * place;
        }
    }
    if (*text != '\0' || milli > INT32_MAX)
        return false;
    *ret_milli = (int32_t)(negative ? -milli : milli);
    return true;
}
