/* See export_rig.h. */
#include "tests/support/export_rig.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct export_rig xr;

int
xr_set_up(void **state)
{
    struct store_error error = {STORE_OK, ""};

    (void)state;
    temp_dir_make(&xr.dir);
    xr.zone_known = false;
    xr.store = store_open(xr.dir.path, NULL, &error);
    return xr.store ? 0 : -1;
}

int
xr_tear_down(void **state)
{
    (void)state;
    store_close(xr.store);
    temp_dir_remove(&xr.dir);
    return 0;
}

/* ---- writing the day ---- */

int64_t
xr_minute(int64_t minutes)
{
    return MORNING_MS + minutes * MINUTE_MS;
}

uint64_t
xr_put_record(const char *kind, int64_t at_ms, const char *data)
{
    return put_record(xr.store, kind, at_ms, data);
}

void
xr_put_reading(uint16_t probe, int64_t at_ms, int32_t temp_mC, uint16_t quality)
{
    struct reading reading = {
        .at_ms = at_ms, .temp_mC = temp_mC, .probe = probe, .quality = quality};
    struct store_error error = {STORE_OK, ""};

    store_must(store_reading(xr.store, &reading, &error), &error);
}

uint64_t
xr_put_entry(int64_t at_ms, const struct entry *entry)
{
    return put_entry(xr.store, at_ms, entry);
}

void
xr_put_decision(struct decision decision)
{
    (void)put_decision(xr.store, &decision);
}

struct entry
xr_entry_by(enum entry_kind kind, const char *who)
{
    struct entry entry;

    entry_clear(&entry, kind);
    (void)strcpy(entry.who, who);
    return entry;
}

struct decision
xr_of_batch(struct decision decision, uint32_t batch, const char *step)
{
    decision.batch = batch;
    (void)strcpy(decision.step, step);
    return decision;
}

void
xr_commit(void)
{
    struct store_error error = {STORE_OK, ""};

    store_must(store_commit(xr.store, &error), &error);
}

/* ---- reading the export ---- */

bool
xr_collect(void *arg, const char *bytes, size_t len)
{
    struct xr_text *text = arg;

    text->chars = realloc(text->chars, text->len + len + 1);
    assert_non_null(text->chars);
    memcpy(text->chars + text->len, bytes, len);
    text->len += len;
    text->chars[text->len] = '\0';
    text->calls++;
    if (len > text->largest)
        text->largest = len;
    return text->stop_after == 0 || text->calls < text->stop_after;
}

struct xr_text
xr_export(enum export_kind kind, int64_t from_ms, int64_t to_ms)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(xr.dir.path, &error);
    struct xr_text text = {NULL, 0, 0, 0, 0};

    if (!reader)
        fail_msg("%s", error.text);
    store_must(export_csv(reader, kind, from_ms, to_ms, xr_collect, &text, &error), &error);
    store_reader_close(reader);
    return text;
}

/* The twins of the times, at the end of the header and of each row. Where a store holds no plan
 * that can be read, the site's zone is not known and they are empty; the plans here are in UTC.
 * Zones and their changes are in test_export_local_... and tests/system/test_export_times.py.
 */
static bool
is_utc(const char *head, size_t column)
{
    for (; column > 0; column--)
        head += strcspn(head, ",\n") + 1;
    size_t len = strcspn(head, ",\n");
    return len > 4 && memcmp(head + len - 4, "_utc", 4) == 0;
}

static char *
with_twins(const char *text)
{
    char *ret = malloc(3 * strlen(text) + 1000), *at = ret;
    char twins[600] = "";
    size_t column = 0, len = 0;
    bool quoted = false;

    assert_non_null(ret);
    for (const char *from = text, *cell = text; *from != '\0'; from++) {
        quoted = quoted != (*from == '"');
        if ((*from == ',' || *from == '\n') && !quoted) {
            int size = (int)(from - cell);
            bool head = cell < text + strcspn(text, "\n");
            if (is_utc(text, column))
                len += head ? (size_t)sprintf(twins + len, ",%.*s_local", size - 4, cell)
                       : xr.zone_known && size > 0
                           ? (size_t)sprintf(twins + len, ",%.*s+00:00", size - 1, cell)
                           : (size_t)sprintf(twins + len, ",");
            column++;
            cell = from + 1;
        }
        if (*from == '\n' && !quoted) {
            at += sprintf(at, "%s", twins);
            twins[len = column = 0] = '\0';
        }
        *at++ = *from;
    }
    *at = '\0';
    return ret;
}

void
xr_expect(enum export_kind kind, int64_t from_ms, int64_t to_ms, const char *expected)
{
    struct xr_text text = xr_export(kind, from_ms, to_ms);
    char *whole = with_twins(expected);

    assert_string_equal(text.chars, whole);
    free(whole);
    free(text.chars);
}

void
xr_end_batch(uint32_t number, int64_t at_ms, const char *text)
{
    struct entry entry = xr_entry_by(ENTRY_END, "CD");

    entry.batch = number;
    entry.outcome = OUTCOME_STORED;
    (void)strcpy(entry.text, text);
    (void)xr_put_entry(at_ms, &entry);
}
