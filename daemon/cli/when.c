/* Instants as people say them. See when.h. */
#include "daemon/cli/when.h"

#include <stdio.h>
#include <string.h>

#include "trivet/typed.h"

#define MINUTE_MS INT64_C(60000)
#define HOUR_MS   (60 * MINUTE_MS)
#define TEXT_MAX  64

/* What a text turned out to be. */
struct spoken {
    enum { SPOKEN_INSTANT, SPOKEN_DAY, SPOKEN_CLOCK } kind;
    int64_t at_ms;    /* SPOKEN_INSTANT; SPOKEN_DAY: its first instant */
    int hour, minute; /* SPOKEN_CLOCK */
};

static char
lower(char c)
{
    if (c >= 'A' && c <= 'Z')
        return (char)(c - 'A' + 'a');
    return c;
}

/* Lower case, one blank between words, none around. */
static bool
tidy(const char *text, char ret[TEXT_MAX])
{
    size_t len = 0;
    for (; *text != '\0'; text++) {
        bool blank = *text == ' ' || *text == '\t';
        if (blank && (len == 0 || ret[len - 1] == ' '))
            continue;
        if (len + 1 >= TEXT_MAX)
            return false;
        ret[len] = lower(*text);
        if (blank)
            ret[len] = ' ';
        len++;
    }
    if (len > 0 && ret[len - 1] == ' ')
        len--;
    ret[len] = '\0';
    return len > 0;
}

/* Takes up to max_digits digits off the front; -1 when there is none. */
static int
take_digits(const char **at, int max_digits)
{
    int value = 0, count = 0;
    while (count < max_digits && **at >= '0' && **at <= '9') {
        value = value * 10 + (**at - '0');
        (*at)++;
        count++;
    }
    return count == 0 ? -1 : value;
}

static bool
take_char(const char **at, char c)
{
    if (**at != c)
        return false;
    (*at)++;
    return true;
}

/* "14:05", and nothing after it. */
static bool
read_clock(const char *at, int *ret_hour, int *ret_minute)
{
    int hour = take_digits(&at, 2);
    if (hour < 0 || hour > 23 || !take_char(&at, ':') || strlen(at) != 2)
        return false;
    int minute = take_digits(&at, 2);
    if (minute < 0 || minute > 59 || *at != '\0')
        return false;
    *ret_hour = hour;
    *ret_minute = minute;
    return true;
}

/* The instant at which that day's clock shows the time, if it ever does; the later of two that
 * is not after not_after_ms. */
static bool
join(const struct zone *zone, const struct zone_time *day, int hour, int minute,
     int64_t not_after_ms, int64_t *ret_ms)
{
    int64_t first_ms;
    if (!zone_join(zone, day->year, day->month, day->day, hour, minute, &first_ms))
        return false;
    bool found = false;
    /* Clocks go back by an hour, in a few places by half of one or by two. */
    for (int64_t later_ms = 0; later_ms <= 2 * HOUR_MS; later_ms += 30 * MINUTE_MS) {
        struct zone_time shown;
        zone_split(zone, first_ms + later_ms, &shown);
        if (shown.day != day->day || shown.hour != hour || shown.minute != minute)
            continue;
        if (!found || first_ms + later_ms <= not_after_ms)
            *ret_ms = first_ms + later_ms;
        found = true;
    }
    return found;
}

/* "2026-03-01", and the rest after it. */
static bool
read_date(const char **at, const struct zone *zone, struct zone_time *ret_day,
          int64_t *ret_start_ms)
{
    const char *from = *at;
    int year = take_digits(at, 4);
    bool shaped = year >= 1970 && *at - from == 4 && take_char(at, '-');
    int month = shaped ? take_digits(at, 2) : -1;
    shaped = shaped && take_char(at, '-');
    int day = shaped ? take_digits(at, 2) : -1;
    int64_t midnight_ms;
    if (!shaped || !zone_join(zone, year, month, day, 0, 0, &midnight_ms))
        return false;
    *ret_day = (struct zone_time){.year = year, .month = (uint8_t)month, .day = (uint8_t)day};
    *ret_start_ms = midnight_ms;
    return true;
}

/* "1 h 20 min ago", "45 min ago", "3 days ago". */
static bool
read_ago(const char *at, const struct zone *zone, int64_t now_ms, struct spoken *ret)
{
    static const struct {
        const char *name;
        int64_t ms;
    } units[] = {
        {"minutes", MINUTE_MS}, {"minute", MINUTE_MS}, {"min", MINUTE_MS}, {"hours", HOUR_MS},
        {"hour", HOUR_MS},      {"h", HOUR_MS},        {"m", MINUTE_MS},
    };
    int64_t ago_ms = 0;
    bool any = false;
    while (*at >= '0' && *at <= '9') {
        int64_t count = take_digits(&at, 4);
        (void)take_char(&at, ' ');
        if (!any && (strcmp(at, "days ago") == 0 || strcmp(at, "day ago") == 0)) {
            *ret = (struct spoken){.kind = SPOKEN_DAY,
                                   .at_ms = zone_day_start(zone, now_ms, -(int)count)};
            return true;
        }
        size_t i = 0, len = strcspn(at, " 0123456789");
        while (i < sizeof units / sizeof *units &&
               (strlen(units[i].name) != len || strncmp(at, units[i].name, len) != 0))
            i++;
        if (i == sizeof units / sizeof *units)
            return false;
        at += len;
        (void)take_char(&at, ' ');
        ago_ms += count * units[i].ms;
        any = true;
    }
    if (!any || strcmp(at, "ago") != 0)
        return false;
    *ret = (struct spoken){.kind = SPOKEN_INSTANT, .at_ms = now_ms - ago_ms};
    return true;
}

enum understood { UNDERSTOOD, NOT_UNDERSTOOD, NO_SUCH_TIME };

/* A day, alone or with a clock time after it. */
static enum understood
read_day(const char *at, const struct zone *zone, int64_t now_ms, struct spoken *ret)
{
    struct zone_time day;
    int64_t start_ms;
    if (strncmp(at, "today", 5) == 0 || strncmp(at, "yesterday", 9) == 0) {
        bool today = *at == 't';
        at += today ? 5 : 9;
        start_ms = zone_day_start(zone, now_ms, today ? 0 : -1);
        zone_split(zone, start_ms, &day);
    } else if (!read_date(&at, zone, &day, &start_ms)) {
        return NOT_UNDERSTOOD;
    }
    *ret = (struct spoken){.kind = SPOKEN_DAY, .at_ms = start_ms};
    if (*at == '\0')
        return UNDERSTOOD;
    int hour, minute;
    if ((*at != ' ' && *at != 't') || !read_clock(at + 1, &hour, &minute))
        return NOT_UNDERSTOOD;
    ret->kind = SPOKEN_INSTANT;
    return join(zone, &day, hour, minute, now_ms, &ret->at_ms) ? UNDERSTOOD : NO_SUCH_TIME;
}

static enum understood
read_spoken(const char *text, const struct zone *zone, int64_t now_ms, struct spoken *ret)
{
    char tidied[TEXT_MAX] = "";
    if (!tidy(text, tidied))
        return NOT_UNDERSTOOD;
    if (strcmp(tidied, "now") == 0) {
        *ret = (struct spoken){.kind = SPOKEN_INSTANT, .at_ms = now_ms};
        return UNDERSTOOD;
    }
    if (read_clock(tidied, &ret->hour, &ret->minute)) {
        ret->kind = SPOKEN_CLOCK;
        return UNDERSTOOD;
    }
    if (read_ago(tidied, zone, now_ms, ret))
        return UNDERSTOOD;
    return read_day(tidied, zone, now_ms, ret);
}

static bool
refuse(enum understood why, const char *text, const char *examples, char *reterr,
       size_t err_size)
{
    char shown[TEXT_MAX];
    (void)typed_shown(shown, sizeof shown, text);
    if (why == NO_SUCH_TIME)
        (void)snprintf(reterr, err_size,
                       "'%s' never was: the clocks went forward over it; write the time the "
                       "clock showed",
                       shown);
    else
        (void)snprintf(reterr, err_size, "'%s' is no time understood here; write %s", shown,
                       examples);
    return false;
}

/* Today's, or yesterday's when today's is still to come. */
static bool
last_clock_time(const struct spoken *spoken, const struct zone *zone, int64_t now_ms,
                int64_t *ret_ms)
{
    for (int days = 0; days >= -1; days--) {
        struct zone_time day;
        zone_split(zone, zone_day_start(zone, now_ms, days), &day);
        if (join(zone, &day, spoken->hour, spoken->minute, now_ms, ret_ms) && *ret_ms <= now_ms)
            return true;
    }
    return false;
}

bool
when_past(const char *text, const struct zone *zone, int64_t now_ms, int64_t *ret_ms,
          char *reterr, size_t err_size)
{
    static const char examples[] = "14:05, 10 min ago, yesterday 22:30 or 2026-03-01 14:05";
    struct spoken spoken = {.kind = SPOKEN_INSTANT};
    enum understood outcome = read_spoken(text, zone, now_ms, &spoken);
    if (outcome == UNDERSTOOD && spoken.kind == SPOKEN_DAY)
        outcome = NOT_UNDERSTOOD;
    if (outcome == UNDERSTOOD && spoken.kind == SPOKEN_CLOCK &&
        !last_clock_time(&spoken, zone, now_ms, &spoken.at_ms))
        outcome = NO_SUCH_TIME;
    if (outcome != UNDERSTOOD)
        return refuse(outcome, text, examples, reterr, err_size);
    if (spoken.at_ms > now_ms || spoken.at_ms < 0) {
        char shown[TEXT_MAX];
        (void)snprintf(reterr, err_size,
                       "'%s' is still to come; write when it was, for example %s",
                       typed_shown(shown, sizeof shown, text), examples);
        return false;
    }
    *ret_ms = spoken.at_ms;
    return true;
}

bool
when_edge(const char *text, enum when_edge edge, const struct zone *zone, int64_t now_ms,
          int64_t *ret_ms, char *reterr, size_t err_size)
{
    struct spoken spoken = {.kind = SPOKEN_INSTANT};
    enum understood outcome = read_spoken(text, zone, now_ms, &spoken);
    if (outcome == UNDERSTOOD && spoken.kind == SPOKEN_CLOCK) {
        struct zone_time day;
        zone_split(zone, zone_day_start(zone, now_ms, 0), &day);
        if (!join(zone, &day, spoken.hour, spoken.minute, INT64_MAX, &spoken.at_ms))
            outcome = NO_SUCH_TIME;
    }
    if (outcome != UNDERSTOOD)
        return refuse(outcome, text,
                      "a day or time: today, yesterday, 2026-03-01 or "
                      "2026-03-01 14:05",
                      reterr, err_size);
    *ret_ms = spoken.kind == SPOKEN_DAY && edge == WHEN_TO
                  ? zone_day_start(zone, spoken.at_ms, 1)
                  : spoken.at_ms;
    return true;
}
