/* The request target taken apart, strictly: a path of plain segments and a query of known keys.
 * PURE; fed with outside bytes and fuzzed (tests/fuzz/fuzz_query.c). */
#ifndef WEB_QUERY_H
#define WEB_QUERY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define TARGET_MAX      1024 /* bytes of a whole target */
#define QUERY_PAIRS_MAX 8
#define QUERY_VALUE_MAX 64

struct query_pair {
    char key[16];
    char value[QUERY_VALUE_MAX + 1]; /* decoded */
};

struct query {
    char path[TARGET_MAX + 1]; /* begins with '/'; segments hold letters, digits, '-', '_', '.';
                                  no "." or ".." */
    struct query_pair pairs[QUERY_PAIRS_MAX];
    size_t count;
};

/* False when the target is not one of ours by its form; reterr says what is wrong. */
bool query_parse(const char *target, struct query *ret, char *reterr, size_t err_size);

/* The value of a key, NULL when it was not given. */
const char *query_value(const struct query *query, const char *key);

/* True when every key given is one of keys (NULL-terminated); else names the first that is not.
 */
bool query_only(const struct query *query, const char *const *keys, char *reterr,
                size_t err_size);

/* A whole number without sign, spaces or leading zeros, from 1 to max. */
bool query_number(const char *text, uint32_t max, uint32_t *ret);

/* "2026-03-29": four, two and two digits, a date of the calendar. */
bool query_date(const char *text, int *ret_year, int *ret_month, int *ret_day);

#endif
