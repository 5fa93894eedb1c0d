/* Request targets. PURE: no memory but the caller's, no I/O. What is not understood is refused,
 * never guessed. */
#include "query.h"

#include <stdio.h>
#include <string.h>

static bool
is_plain(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
           c == '-' || c == '_' || c == '.';
}

static bool
refuse(char *reterr, size_t err_size, const char *why)
{
    (void)snprintf(reterr, err_size, "%s", why);
    return false;
}

/* ---- the path ---- */

static bool
parse_path(const char *from, size_t len, struct query *ret, char *reterr, size_t err_size)
{
    if (len == 0 || from[0] != '/')
        return refuse(reterr, err_size, "The address must begin with a slash.");
    size_t segment = 0;
    for (size_t i = 1; i <= len; i++) {
        if (i < len && from[i] != '/') {
            if (!is_plain(from[i]))
                return refuse(reterr, err_size,
                              "The path holds a character that none of our addresses has; "
                              "letters, digits, '-', "
                              "'_' and '.' are used.");
            segment++;
            continue;
        }
        bool dots = (segment == 1 && from[i - 1] == '.') ||
                    (segment == 2 && from[i - 1] == '.' && from[i - 2] == '.');
        if (dots || (segment == 0 && len > 1))
            return refuse(reterr, err_size,
                          "The path has an empty, '.' or '..' part; write it out plainly.");
        segment = 0;
    }
    memcpy(ret->path, from, len);
    ret->path[len] = '\0';
    return true;
}

/* ---- the query ---- */

static int
hex(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

/* Decodes %XX and '+' into ret (size includes the NUL). Only printable ASCII is ever a value of
 * ours. */
static bool
decode(const char *from, size_t len, char *ret, size_t size)
{
    size_t out = 0;
    for (size_t i = 0; i < len; i++) {
        int code = (unsigned char)from[i];
        if (from[i] == '+') {
            code = ' ';
        } else if (from[i] == '%') {
            if (i + 2 >= len || hex(from[i + 1]) < 0 || hex(from[i + 2]) < 0)
                return false;
            code = hex(from[i + 1]) * 16 + hex(from[i + 2]);
            i += 2;
        }
        if (code < 0x20 || code > 0x7e || out + 1 >= size)
            return false;
        ret[out++] = (char)code;
    }
    ret[out] = '\0';
    return true;
}

static bool
parse_pair(const char *from, size_t len, struct query *ret, char *reterr, size_t err_size)
{
    const char *equals = memchr(from, '=', len);
    if (ret->count == QUERY_PAIRS_MAX)
        return refuse(reterr, err_size, "The query has too many parts.");
    if (equals == NULL || equals == from)
        return refuse(reterr, err_size, "Each part of the query must read key=value.");
    struct query_pair *pair = &ret->pairs[ret->count];
    size_t key_len = (size_t)(equals - from);
    if (!decode(from, key_len, pair->key, sizeof pair->key) ||
        !decode(equals + 1, len - key_len - 1, pair->value, sizeof pair->value))
        return refuse(
            reterr, err_size,
            "A part of the query is too long, or holds characters that no value of ours has.");
    for (size_t i = 0; i < ret->count; i++)
        if (strcmp(ret->pairs[i].key, pair->key) == 0)
            return refuse(reterr, err_size, "A key of the query is given twice; give it once.");
    ret->count++;
    return true;
}

bool
query_parse(const char *target, struct query *ret, char *reterr, size_t err_size)
{
    memset(ret, 0, sizeof *ret);
    size_t len = strlen(target);
    if (len > TARGET_MAX)
        return refuse(reterr, err_size, "The address is too long.");
    const char *mark = memchr(target, '?', len);
    size_t path_len = mark == NULL ? len : (size_t)(mark - target);
    if (!parse_path(target, path_len, ret, reterr, err_size))
        return false;
    const char *at = mark == NULL ? target + len : mark + 1;
    while (*at != '\0') {
        const char *stop = strchr(at, '&');
        size_t pair_len = stop == NULL ? strlen(at) : (size_t)(stop - at);
        if (!parse_pair(at, pair_len, ret, reterr, err_size))
            return false;
        at += pair_len + (stop != NULL);
    }
    return true;
}

const char *
query_value(const struct query *query, const char *key)
{
    for (size_t i = 0; i < query->count; i++)
        if (strcmp(query->pairs[i].key, key) == 0)
            return query->pairs[i].value;
    return NULL;
}

bool
query_only(const struct query *query, const char *const *keys, char *reterr, size_t err_size)
{
    for (size_t i = 0; i < query->count; i++) {
        bool known = false;
        for (size_t k = 0; keys[k] != NULL; k++)
            known = known || strcmp(query->pairs[i].key, keys[k]) == 0;
        if (!known) {
            (void)snprintf(reterr, err_size,
                           "This page knows no '%s' in its query; leave it out.",
                           query->pairs[i].key);
            return false;
        }
    }
    return true;
}

bool
query_number(const char *text, uint32_t max, uint32_t *ret)
{
    uint64_t value = 0;
    if (text[0] < '1' || text[0] > '9')
        return false;
    for (; *text >= '0' && *text <= '9'; text++) {
        value = value * 10 + (uint64_t)(*text - '0');
        if (value > max)
            return false;
    }
    *ret = (uint32_t)value;
    return *text == '\0';
}

bool
query_date(const char *text, int *ret_year, int *ret_month, int *ret_day)
{
    static const int days[12] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    static const char form[] = "dddd-dd-dd";
    for (size_t i = 0; i < sizeof form; i++)
        if (form[i] == 'd' ? text[i] < '0' || text[i] > '9' : text[i] != form[i])
            return false;
    int year =
        (text[0] - '0') * 1000 + (text[1] - '0') * 100 + (text[2] - '0') * 10 + (text[3] - '0');
    int month = (text[5] - '0') * 10 + (text[6] - '0'),
        day = (text[8] - '0') * 10 + (text[9] - '0');
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    if (year < 1970 || month < 1 || month > 12 || day < 1 || day > days[month - 1] ||
        (month == 2 && day == 29 && !leap))
        return false;
    *ret_year = year;
    *ret_month = month;
    *ret_day = day;
    return true;
}
