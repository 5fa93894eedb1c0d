/* Days of the Gregorian calendar and their numbers. See calendar.h. */
#include "trivet/calendar.h"

#include <string.h>

#define FIRST_YEAR 1970
#define LAST_YEAR  9999
#define LAST_DAY   2932896 /* 9999-12-31 */

static bool
is_leap(int32_t year)
{
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static int32_t
month_days(int32_t year, int32_t month)
{
    static const int32_t days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return days[month - 1] + (month == 2 && is_leap(year));
}

/* Days before the first of January of a year. */
static int32_t
before_year(int32_t year)
{
    int32_t y = year - 1;
    return 365 * (year - FIRST_YEAR) + (y / 4 - 1969 / 4) - (y / 100 - 1969 / 100) +
           (y / 400 - 1969 / 400);
}

static bool
read_digits(const char *text, size_t count, int32_t *ret)
{
    int32_t number = 0;
    for (size_t i = 0; i < count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        number = number * 10 + (text[i] - '0');
    }
    *ret = number;
    return true;
}

bool
calendar_read(const char *text, int32_t *ret_day)
{
    int32_t year, month, date;
    if (strlen(text) != CALENDAR_DAY_MAX || text[4] != '-' || text[7] != '-' ||
        !read_digits(text, 4, &year) || !read_digits(text + 5, 2, &month) ||
        !read_digits(text + 8, 2, &date))
        return false;
    if (year < FIRST_YEAR || month < 1 || month > 12 || date < 1 ||
        date > month_days(year, month))
        return false;
    int32_t day = before_year(year) + date - 1;
    for (int32_t m = 1; m < month; m++)
        day += month_days(year, m);
    *ret_day = day;
    return true;
}

static void
write_digits(char *at, size_t count, int32_t number)
{
    while (count-- > 0) {
        at[count] = (char)('0' + number % 10);
        number /= 10;
    }
}

char *
calendar_write(int32_t day, char buf[CALENDAR_DAY_MAX + 1])
{
    buf[0] = '\0';
    if (day < 0 || day > LAST_DAY)
        return buf;
    int32_t year = FIRST_YEAR + day / 366, month = 1;
    while (year < LAST_YEAR && before_year(year + 1) <= day)
        year++;
    int32_t date = day - before_year(year);
    while (date >= month_days(year, month))
        date -= month_days(year, month++);
    memcpy(buf, "0000-00-00", CALENDAR_DAY_MAX + 1);
    write_digits(buf, 4, year);
    write_digits(buf + 5, 2, month);
    write_digits(buf + 8, 2, date + 1);
    return buf;
}
