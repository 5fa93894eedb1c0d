/* POSIX TZ rules ("GMT0BST,M3.5.0/1,M10.5.0") and the Gregorian calendar. Pure, any thread. */
#include "zone_rule.h"

#include <string.h>

/* ---- calendar ---- */

static bool
is_leap(int32_t year)
{
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

int
days_in_month(int32_t year, int month)
{
    static const int days[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return days[month - 1] + (month == 2 && is_leap(year));
}

int64_t
days_from_civil(int32_t year, int month, int day)
{
    /* Years counted from March, so that the leap day is the last of its year. */
    int64_t y = (int64_t)year - (month <= 2);
    int64_t era = (y >= 0 ? y : y - 399) / 400;
    int64_t year_of_era = y - era * 400;
    int64_t day_of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    return era * 146097 + year_of_era * 365 + year_of_era / 4 - year_of_era / 100 +
           day_of_year - 719468;
}

void
civil_from_days(int64_t days, int32_t *ret_year, uint8_t *ret_month, uint8_t *ret_day)
{
    int64_t z = days + 719468;
    int64_t era = (z >= 0 ? z : z - 146096) / 146097;
    int64_t day_of_era = z - era * 146097;
    int64_t year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int64_t day_of_year =
        day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int64_t month = (5 * day_of_year + 2) / 153;
    *ret_day = (uint8_t)(day_of_year - (153 * month + 2) / 5 + 1);
    *ret_month = (uint8_t)(month < 10 ? month + 3 : month - 9);
    *ret_year = (int32_t)(year_of_era + era * 400 + (*ret_month <= 2));
}

/* ---- text ---- */

static bool
parse_name(const char **at, char ret[12])
{
    const char *start = *at, *end;
    if (*start == '<') {
        start++;
        end = strchr(start, '>');
        if (end == NULL)
            return false;
        *at = end + 1;
    } else {
        for (end = start; (*end >= 'A' && *end <= 'Z') || (*end >= 'a' && *end <= 'z'); end++)
            continue;
        *at = end;
    }
    size_t len = (size_t)(end - start);
    if (len < 3 || len > 11)
        return false;
    memset(ret, 0, 12);
    memcpy(ret, start, len);
    return true;
}

static bool
parse_number(const char **at, int max, int *ret)
{
    int value = 0, digits = 0;
    for (; **at >= '0' && **at <= '9' && digits < 4; (*at)++, digits++)
        value = value * 10 + (**at - '0');
    *ret = value;
    return digits > 0 && value <= max;
}

/* [+-]h[h[h]][:mm[:ss]] */
static bool
parse_time(const char **at, int max_hours, int32_t *ret_s)
{
    int sign = **at == '-' ? -1 : 1, hours, minutes = 0, seconds = 0;
    if (**at == '-' || **at == '+')
        (*at)++;
    if (!parse_number(at, max_hours, &hours))
        return false;
    if (**at == ':') {
        (*at)++;
        if (!parse_number(at, 59, &minutes))
            return false;
        if (**at == ':') {
            (*at)++;
            if (!parse_number(at, 59, &seconds))
                return false;
        }
    }
    *ret_s = sign * (hours * 3600 + minutes * 60 + seconds);
    return true;
}

static bool
parse_month_week_day(const char **at, struct zone_date *ret)
{
    (*at)++;
    ret->kind = DATE_MONTH_WEEK_DAY;
    if (!parse_number(at, 12, &ret->month) || ret->month < 1 || *(*at)++ != '.')
        return false;
    if (!parse_number(at, 5, &ret->week) || ret->week < 1 || *(*at)++ != '.')
        return false;
    return parse_number(at, 6, &ret->weekday);
}

static bool
parse_date(const char **at, struct zone_date *ret)
{
    memset(ret, 0, sizeof *ret);
    ret->time_s = 2 * 3600; /* POSIX: 02:00:00 when not given */
    if (**at == 'M') {
        if (!parse_month_week_day(at, ret))
            return false;
    } else if (**at == 'J') {
        (*at)++;
        ret->kind = DATE_JULIAN;
        if (!parse_number(at, 365, &ret->day) || ret->day < 1)
            return false;
    } else {
        ret->kind = DATE_DAY_OF_YEAR;
        if (!parse_number(at, 365, &ret->day))
            return false;
    }
    if (**at != '/')
        return true;
    (*at)++;
    return parse_time(at, 167, &ret->time_s);
}

bool
zone_rule_parse(const char *text, struct zone_rule *ret)
{
    const char *at = text;
    int32_t west_s;
    memset(ret, 0, sizeof *ret);
    if (!parse_name(&at, ret->std_name) || !parse_time(&at, 24, &west_s))
        return false;
    ret->std_offset_s = -west_s; /* POSIX counts westwards */
    if (*at == '\0')
        return true;
    ret->has_dst = true;
    ret->dst_offset_s = ret->std_offset_s + 3600;
    if (!parse_name(&at, ret->dst_name))
        return false;
    if (*at != ',') {
        if (!parse_time(&at, 24, &west_s))
            return false;
        ret->dst_offset_s = -west_s;
    }
    if (*at++ != ',' || !parse_date(&at, &ret->dst_begins) || *at++ != ',' ||
        !parse_date(&at, &ret->dst_ends))
        return false;
    return *at == '\0';
}

/* ---- use ---- */

/* Seconds of the date and its time on the local clock then in force. */
static int64_t
date_in_year(const struct zone_date *date, int32_t year)
{
    int64_t day = days_from_civil(year, 1, 1);
    switch (date->kind) {
    case DATE_MONTH_WEEK_DAY: {
        int64_t first = days_from_civil(year, date->month, 1);
        int first_weekday = (int)(((first + 4) % 7 + 7) % 7);
        int of_month = 1 + (date->weekday - first_weekday + 7) % 7 + 7 * (date->week - 1);
        while (of_month > days_in_month(year, date->month))
            of_month -= 7; /* week 5 means the last */
        day = first + of_month - 1;
        break;
    }
    case DATE_JULIAN:
        day += date->day - 1 + (is_leap(year) && date->day >= 60);
        break;
    case DATE_DAY_OF_YEAR:
        day += date->day;
        break;
    }
    return day * 86400 + date->time_s;
}

int32_t
zone_rule_offset(const struct zone_rule *rule, int64_t utc_s, bool *ret_dst)
{
    *ret_dst = false;
    if (!rule->has_dst)
        return rule->std_offset_s;
    int32_t year;
    uint8_t month, day;
    int64_t local_s = utc_s + rule->std_offset_s;
    civil_from_days(local_s / 86400 - (local_s % 86400 < 0), &year, &month, &day);
    /* The time of a change is told by the clock before it: standard for the beginning, daylight
     * saving for the end. */
    int64_t begins = date_in_year(&rule->dst_begins, year) - rule->std_offset_s;
    int64_t ends = date_in_year(&rule->dst_ends, year) - rule->dst_offset_s;
    bool dst =
        begins < ends ? utc_s >= begins && utc_s < ends : utc_s >= begins || utc_s < ends;
    *ret_dst = dst;
    return dst ? rule->dst_offset_s : rule->std_offset_s;
}
