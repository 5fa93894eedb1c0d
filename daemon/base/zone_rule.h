/* The calendar, and the rule of a zone for the years its table does not list (POSIX TZ, as
 * extended by RFC 8536). Pure. */
#ifndef BASE_ZONE_RULE_H
#define BASE_ZONE_RULE_H

#include <stdbool.h>
#include <stdint.h>

enum zone_date_kind { DATE_MONTH_WEEK_DAY, DATE_JULIAN, DATE_DAY_OF_YEAR };

struct zone_date {
    enum zone_date_kind kind;
    int month, week, weekday; /* Mm.w.d; week 5 = the last */
    int day;                  /* Jn: 1 to 365 without 29 February; n: 0 to 365 */
    int32_t time_s;           /* of local day, -167 h to 167 h */
};

struct zone_rule {
    char std_name[12], dst_name[12];
    int32_t std_offset_s, dst_offset_s; /* local minus UTC */
    bool has_dst;
    struct zone_date dst_begins, dst_ends;
};

bool zone_rule_parse(const char *text, struct zone_rule *ret);
int32_t zone_rule_offset(const struct zone_rule *rule, int64_t utc_s, bool *ret_dst);

/* Days since 1970-01-01 in the Gregorian calendar, and back. */
int64_t days_from_civil(int32_t year, int month, int day);
void civil_from_days(int64_t days, int32_t *ret_year, uint8_t *ret_month, uint8_t *ret_day);
int days_in_month(int32_t year, int month);

#endif
