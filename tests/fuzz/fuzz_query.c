/* Fuzzes the request target parser: whatever comes, what is accepted is plain. */
#include <stdlib.h>
#include <string.h>

#include "web/host.h"
#include "web/query.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void
must(int holds)
{
    if (!holds)
        abort();
}

static void
check_path(const char *path)
{
    must(path[0] == '/');
    must(strstr(path, "/../") == NULL && strstr(path, "/./") == NULL &&
         strstr(path, "//") == NULL);
    size_t len = strlen(path);
    must(len < 3 || strcmp(path + len - 3, "/..") != 0);
    for (const char *c = path; *c != '\0'; c++)
        must(strchr("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_./", *c) !=
             NULL);
}

static void
check_values(const struct query *query)
{
    for (size_t i = 0; i < query->count; i++) {
        const char *value = query->pairs[i].value;
        uint32_t number = 0;
        int year, month, day;
        must(strlen(query->pairs[i].key) < sizeof query->pairs[i].key);
        must(strlen(value) <= QUERY_VALUE_MAX);
        must(query_value(query, query->pairs[i].key) == value); /* keys are unique */
        for (const char *c = value; *c != '\0'; c++)
            must(*c >= 0x20 && *c <= 0x7e);
        if (query_number(value, 400, &number))
            must(number >= 1 && number <= 400);
        if (query_date(value, &year, &month, &day))
            must(strlen(value) == 10 && month >= 1 && month <= 12 && day >= 1 && day <= 31);
    }
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const names[] = {"kitchen.example", NULL};
    struct host_rule rule = {.listen = "127.0.0.1", .port = 8470, .names = names};
    struct query query;
    char why[200] = "";
    char *target = malloc(size + 1); /* exact, so that one byte too far is seen */
    if (target == NULL)
        return 0;
    memcpy(target, data, size);
    target[size] = '\0';
    if (query_parse(target, &query, why, sizeof why)) {
        check_path(query.path);
        check_values(&query);
    } else {
        must(why[0] != '\0');
    }
    (void)host_allowed(&rule, target);
    free(target);
    return 0;
}
