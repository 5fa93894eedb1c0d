/* Numbers with their units as people write them, read exactly. */
#include "daemon/plan/quantity.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

/* Digits before the point: enough for any register, harmless in every product below. */
#define WHOLE_DIGITS_MAX 10
#define DECIMALS_MAX     6

struct cursor {
    const char *at, *end;
};

static bool
is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool
take(struct cursor *cursor, const char *word)
{
    size_t len = strlen(word);
    if ((size_t)(cursor->end - cursor->at) < len || memcmp(cursor->at, word, len) != 0)
        return false;
    cursor->at += len;
    return true;
}

/* One blank or none; the no-break space is what word processors put before a unit. */
static void
take_blank(struct cursor *cursor)
{
    if (!take(cursor, " "))
        (void)take(cursor, "\u00A0"); /* optional */
}

static bool
at_digit(const struct cursor *cursor)
{
    return cursor->at < cursor->end && is_digit(*cursor->at);
}

/* Digits with at most DECIMALS_MAX decimals, in millionths. */
static enum quantity_status
take_number(struct cursor *cursor, int64_t *ret_micro)
{
    bool negative = take(cursor, "-") || take(cursor, "\u2212");
    int64_t value = 0;
    int digits = 0, decimals = 0;
    if (!at_digit(cursor))
        return QUANTITY_NOT_A_NUMBER;
    for (; at_digit(cursor); cursor->at++) {
        if (++digits > WHOLE_DIGITS_MAX)
            return QUANTITY_TOO_LARGE;
        value = value * 10 + (*cursor->at - '0');
    }
    if (cursor->end - cursor->at > 1 && *cursor->at == ',' && is_digit(cursor->at[1]))
        return QUANTITY_COMMA;
    if (take(cursor, ".")) {
        if (!at_digit(cursor))
            return QUANTITY_NOT_A_NUMBER;
        for (; at_digit(cursor); cursor->at++) {
            if (++decimals > DECIMALS_MAX)
                return QUANTITY_TOO_FINE;
            value = value * 10 + (*cursor->at - '0');
        }
    }
    for (; decimals < DECIMALS_MAX; decimals++)
        value *= 10;
    *ret_micro = negative ? -value : value;
    return QUANTITY_OK;
}

enum quantity_status
quantity_whole(const char *text, size_t len, int64_t *ret)
{
    struct cursor cursor = {text, text + len};
    int64_t micro;
    enum quantity_status status = take_number(&cursor, &micro);
    if (status != QUANTITY_OK)
        return status;
    if (cursor.at != cursor.end)
        return QUANTITY_BAD_UNIT;
    if (memchr(text, '.', len))
        return QUANTITY_TOO_FINE;
    const char *first = is_digit(text[0]) ? text : text + 1;
    if (first[0] == '0' && first + 1 < cursor.end)
        return QUANTITY_NOT_A_NUMBER; /* 010 is eight to some and ten to others */
    *ret = micro / 1000000;
    return QUANTITY_OK;
}

static enum quantity_status
take_temp(struct cursor *cursor, int64_t *ret_micro, enum temp_unit *ret_unit)
{
    enum quantity_status status = take_number(cursor, ret_micro);
    if (status != QUANTITY_OK)
        return status;
    take_blank(cursor);
    if (cursor->at == cursor->end)
        return QUANTITY_NO_UNIT;
    (void)take(cursor, "°"); /* optional */
    if (take(cursor, "C"))
        *ret_unit = TEMP_C;
    else if (take(cursor, "F"))
        *ret_unit = TEMP_F;
    else
        return QUANTITY_BAD_UNIT;
    return QUANTITY_OK;
}

enum quantity_status
quantity_temp(const char *text, size_t len, int64_t *ret_micro, enum temp_unit *ret_unit)
{
    struct cursor cursor = {text, text + len};
    int64_t micro;
    enum temp_unit unit;
    enum quantity_status status = take_temp(&cursor, &micro, &unit);
    if (status != QUANTITY_OK)
        return status;
    if (cursor.at != cursor.end)
        return QUANTITY_BAD_UNIT;
    *ret_micro = micro;
    *ret_unit = unit;
    return QUANTITY_OK;
}

/* What sensors give; "kohm" before anything that begins like it. */
static const struct {
    const char *word;
    enum signal_unit unit;
    int64_t factor;
} signals[] = {
    {"mV", SIGNAL_MV, 1},          {"uV", SIGNAL_UV, 1},          {"\u00b5V", SIGNAL_UV, 1},
    {"\u03bcV", SIGNAL_UV, 1},     {"V", SIGNAL_MV, 1000},        {"ohm", SIGNAL_OHM, 1},
    {"\u03a9", SIGNAL_OHM, 1},     {"\u2126", SIGNAL_OHM, 1},     {"kohm", SIGNAL_OHM, 1000},
    {"k\u03a9", SIGNAL_OHM, 1000}, {"k\u2126", SIGNAL_OHM, 1000},
};

enum quantity_status
quantity_signal(const char *text, size_t len, int64_t *ret_micro, enum signal_unit *ret_signal,
                enum temp_unit *ret_unit)
{
    struct cursor cursor = {text, text + len};
    int64_t micro;
    enum quantity_status status = take_number(&cursor, &micro);
    if (status != QUANTITY_OK)
        return status;
    take_blank(&cursor);
    for (size_t i = 0; i < sizeof(signals) / sizeof(signals[0]); i++) {
        const size_t word_len = strlen(signals[i].word);
        if ((size_t)(cursor.end - cursor.at) != word_len ||
            memcmp(cursor.at, signals[i].word, word_len) != 0)
            continue;
        if (micro > INT64_MAX / 1000 || micro < -(INT64_MAX / 1000))
            return QUANTITY_TOO_LARGE;
        *ret_micro = micro * signals[i].factor;
        *ret_signal = signals[i].unit;
        return QUANTITY_OK;
    }
    status = quantity_temp(text, len, ret_micro, ret_unit);
    if (status == QUANTITY_OK)
        *ret_signal = SIGNAL_TEMP;
    return status;
}

enum quantity_status
quantity_rate(const char *text, size_t len, int64_t *ret_micro, enum temp_unit *ret_unit)
{
    struct cursor cursor = {text, text + len};
    int64_t micro;
    enum temp_unit unit;
    enum quantity_status status = take_temp(&cursor, &micro, &unit);
    if (status != QUANTITY_OK)
        return status;
    if (!take(&cursor, "/min") || cursor.at != cursor.end)
        return QUANTITY_BAD_UNIT;
    *ret_micro = micro;
    *ret_unit = unit;
    return QUANTITY_OK;
}

/* The unit at the cursor: its length in ms and its place in the order of units; 0 for none.
 * "min" and "ms" before anything that begins like them. */
static int64_t
take_time_unit(struct cursor *cursor, int *ret_order)
{
    static const struct {
        const char *word;
        int64_t ms;
        int order;
    } units[] = {
        {"min", 60000, 3}, {"ms", 1, 5}, {"d", 86400000, 1}, {"h", 3600000, 2}, {"s", 1000, 4}};
    for (size_t i = 0; i < sizeof(units) / sizeof(units[0]); i++) {
        if (take(cursor, units[i].word)) {
            *ret_order = units[i].order;
            return units[i].ms;
        }
    }
    return 0;
}

enum quantity_status
quantity_duration(const char *text, size_t len, int64_t *ret_ms)
{
    struct cursor cursor = {text, text + len};
    int64_t total_ms = 0;
    int last_order = 0;
    do {
        int64_t micro;
        int order = 0;
        enum quantity_status status = take_number(&cursor, &micro);
        if (status != QUANTITY_OK)
            return status;
        if (micro < 0)
            return QUANTITY_NOT_A_NUMBER;
        take_blank(&cursor);
        if (cursor.at == cursor.end)
            return QUANTITY_NO_UNIT;
        int64_t unit_ms = take_time_unit(&cursor, &order);
        if (unit_ms == 0 || order <= last_order)
            return QUANTITY_BAD_UNIT;
        last_order = order;
        /* Whole and broken part apart: ten digits of days in millionths of a ms would not fit.
         */
        int64_t broken = micro % 1000000 * unit_ms;
        if (broken % 1000000 != 0)
            return QUANTITY_TOO_FINE;
        total_ms += micro / 1000000 * unit_ms + broken / 1000000;
        if (cursor.at != cursor.end) {
            const char *before = cursor.at;
            take_blank(&cursor);
            if (cursor.at == before || cursor.at == cursor.end)
                return QUANTITY_BAD_UNIT;
        }
    } while (cursor.at != cursor.end);
    *ret_ms = total_ms;
    return QUANTITY_OK;
}

static int64_t
floor_divide(int64_t a, int64_t b)
{
    return a / b - (a % b < 0);
}

int64_t
quantity_floor_mC(int64_t micro, enum temp_unit unit, int is_difference)
{
    if (unit == TEMP_C)
        return floor_divide(micro, 1000);
    return floor_divide((micro - (is_difference ? 0 : 32000000)) * 5, 9000);
}

int64_t
quantity_ceil_mC(int64_t micro, enum temp_unit unit, int is_difference)
{
    if (unit == TEMP_C)
        return -floor_divide(-micro, 1000);
    return -floor_divide(-(micro - (is_difference ? 0 : 32000000)) * 5, 9000);
}

char *
quantity_duration_text(char buf[QUANTITY_DURATION_MAX], int64_t duration_ms)
{
    static const struct {
        const char *word;
        int64_t ms;
    } units[] = {{"d", 86400000}, {"h", 3600000}, {"min", 60000}, {"s", 1000}, {"ms", 1}};
    size_t len = 0;
    for (size_t i = 0; i < sizeof(units) / sizeof(units[0]); i++) {
        /* Days only where nothing smaller follows: kitchens say 26 h, and 2 d. */
        if (i == 0 && duration_ms % units[0].ms != 0)
            continue;
        int64_t n = duration_ms / units[i].ms;
        duration_ms %= units[i].ms;
        if (n > 0)
            len += (size_t)snprintf(buf + len, QUANTITY_DURATION_MAX - len, "%s%" PRId64 " %s",
                                    len > 0 ? " " : "", n, units[i].word);
    }
    if (len == 0)
        (void)snprintf(buf, QUANTITY_DURATION_MAX, "0 s"); /* fits */
    return buf;
}
