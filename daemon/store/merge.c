#include "merge.h"

#include <inttypes.h>
#include <stdlib.h>

#include "body.h"
#include "trivet/units.h"

#define ROWS_HELD 32768 /* of all probes together */
#define PAGE_MIN  16
#define PAGE_MAX  2048

struct row {
    int64_t at_ms;
    int32_t temp_mC;
    uint16_t quality;
};

struct cursor {
    struct row *rows;
    size_t at, count;
    int64_t after_ms; /* the last instant read from the table */
    uint16_t probe;
    bool last_page;
};

struct merge {
    const struct db *db;
    sqlite3_stmt *page;
    struct cursor *cursors;
    struct cursor **heap; /* smallest (at_ms, probe) first; only those with a row */
    struct row *rows;
    size_t count, heap_count, page_rows;
    bool started;
    struct merge_fault fault;
};

/* ---- which probes ---- */

static enum store_status
add_probe(struct probe_list *list, size_t *room, int64_t probe, struct store_error *reterr)
{
    if (list->count == *room) {
        size_t more = *room == 0 ? 64 : *room * 2;
        uint16_t *grown = realloc(list->probes, more * sizeof(*grown));
        if (!grown)
            return db_error(reterr, STORE_IO, "reading the store: out of memory");
        list->probes = grown;
        *room = more;
    }
    list->probes[list->count++] = (uint16_t)probe;
    return STORE_OK;
}

enum store_status
probes_stored(const struct db *db, struct probe_list *ret, struct store_error *reterr)
{
    struct probe_list list = {NULL, 0};
    sqlite3_stmt *stmt = NULL;
    enum store_status status;
    size_t room = 0;
    int64_t probe = INT64_MIN;
    int code;

    status = db_prepare(db, "SELECT probe FROM reading WHERE probe > ?1 ORDER BY probe LIMIT 1",
                        &stmt, reterr);
    while (status == STORE_OK) {
        (void)sqlite3_bind_int64(stmt, 1, probe); /* a small integer cannot fail to bind */
        if ((code = sqlite3_step(stmt)) != SQLITE_ROW)
            break;
        probe = sqlite3_column_int64(stmt, 0);
        if (sqlite3_column_type(stmt, 0) != SQLITE_INTEGER || probe < 1 || probe > UINT16_MAX)
            status = db_error(reterr, STORE_CORRUPT,
                              "a reading in '%s' names probe %" PRId64 ", which cannot be",
                              db->path, probe);
        else
            status = add_probe(&list, &room, probe, reterr);
        (void)sqlite3_reset(stmt); /* what it says was said by step */
    }
    if (status == STORE_OK && code != SQLITE_DONE)
        status = db_failed(db, "reading the store", reterr);
    sqlite3_finalize(stmt);
    if (status != STORE_OK)
        free(list.probes);
    else
        *ret = list;
    return status;
}

/* ---- the stream ---- */

static bool
earlier(const struct cursor *a, const struct cursor *b)
{
    int64_t a_ms = a->rows[a->at].at_ms, b_ms = b->rows[b->at].at_ms;

    return a_ms != b_ms ? a_ms < b_ms : a->probe < b->probe;
}

static void
sink(struct merge *merge, size_t at)
{
    struct cursor *moved = merge->heap[at];

    for (;;) {
        size_t child = 2 * at + 1;
        if (child >= merge->heap_count)
            break;
        if (child + 1 < merge->heap_count &&
            earlier(merge->heap[child + 1], merge->heap[child]))
            child++;
        if (!earlier(merge->heap[child], moved))
            break;
        merge->heap[at] = merge->heap[child];
        at = child;
    }
    merge->heap[at] = moved;
}

/* S5: false unless the columns are those of a reading. */
static bool
read_row(sqlite3_stmt *stmt, int64_t after_ms, struct row *ret)
{
    int64_t at_ms = sqlite3_column_int64(stmt, 0), temp_mC = sqlite3_column_int64(stmt, 1);
    int64_t quality = sqlite3_column_int64(stmt, 2);
    int temp_type = sqlite3_column_type(stmt, 1);

    ret->at_ms = at_ms;
    if (sqlite3_column_type(stmt, 0) != SQLITE_INTEGER || at_ms <= after_ms ||
        at_ms > BODY_INT_MAX || at_ms < -BODY_INT_MAX)
        return false;
    if (sqlite3_column_type(stmt, 2) != SQLITE_INTEGER || quality < 0 || quality > 299)
        return false;
    ret->quality = (uint16_t)quality;
    if (reading_is_bad((int)quality)) {
        ret->temp_mC = TEMP_NONE;
        return temp_type == SQLITE_NULL;
    }
    ret->temp_mC = (int32_t)temp_mC;
    return temp_type == SQLITE_INTEGER && temp_mC > TEMP_NONE && temp_mC <= INT32_MAX;
}

static enum store_status
bad_row(struct merge *merge, const struct cursor *cursor, int64_t at_ms,
        struct store_error *reterr)
{
    merge->fault.probe = cursor->probe;
    merge->fault.at_ms = at_ms;
    return db_error(reterr, STORE_CORRUPT,
                    "the reading of probe %u at %" PRId64
                    " ms is not one this program writes; verify the store",
                    cursor->probe, at_ms);
}

static enum store_status
fill(struct merge *merge, struct cursor *cursor, struct store_error *reterr)
{
    sqlite3_stmt *stmt = merge->page;
    enum store_status status = STORE_OK;
    int code;

    cursor->at = cursor->count = 0;
    /* Integers cannot fail to bind. */
    (void)sqlite3_bind_int(stmt, 1, cursor->probe);
    /* A row at the very first instant must not hide: read_row refuses it. */
    (void)sqlite3_bind_int64(stmt, 2,
                             cursor->after_ms + (cursor->after_ms == INT64_MIN ? 0 : 1));
    while ((code = sqlite3_step(stmt)) == SQLITE_ROW) {
        struct row *row = &cursor->rows[cursor->count];
        if (!read_row(stmt, cursor->after_ms, row)) {
            status = bad_row(merge, cursor, row->at_ms, reterr);
            break;
        }
        cursor->after_ms = row->at_ms;
        cursor->count++;
    }
    if (code != SQLITE_ROW && code != SQLITE_DONE)
        status = db_failed(merge->db, "reading the store", reterr);
    (void)sqlite3_reset(stmt); /* what it says was said by step; ends the read transaction */
    cursor->last_page = cursor->count < merge->page_rows;
    return status;
}

static enum store_status
start(struct merge *merge, struct store_error *reterr)
{
    merge->started = true;
    for (size_t i = 0; i < merge->count; i++) {
        struct cursor *cursor = &merge->cursors[i];
        enum store_status status = fill(merge, cursor, reterr);
        if (status != STORE_OK)
            return status;
        if (cursor->count > 0)
            merge->heap[merge->heap_count++] = cursor;
    }
    for (size_t i = merge->heap_count / 2; i > 0; i--)
        sink(merge, i - 1);
    return STORE_OK;
}

static size_t
page_rows_for(size_t probes)
{
    size_t rows = ROWS_HELD / (probes == 0 ? 1 : probes);

    if (rows < PAGE_MIN)
        return PAGE_MIN;
    return rows > PAGE_MAX ? PAGE_MAX : rows;
}

struct merge *
merge_new(const struct db *db, const uint16_t *probes, size_t count, int64_t after_ms,
          int64_t to_ms, struct store_error *reterr)
{
    struct merge *merge = calloc(1, sizeof(*merge));
    size_t held = count == 0 ? 1 : count;

    if (!merge)
        goto no_memory;
    merge->db = db;
    merge->count = count;
    merge->page_rows = page_rows_for(count);
    merge->cursors = calloc(held, sizeof(*merge->cursors));
    merge->heap = calloc(held, sizeof(struct cursor *));
    merge->rows = malloc(held * merge->page_rows * sizeof(*merge->rows));
    if (!merge->cursors || !merge->heap || !merge->rows)
        goto no_memory;
    if (db_prepare(
            db,
            "SELECT at_ms, temp_mC, quality FROM reading WHERE probe = ?1 AND at_ms >= ?2 AND "
            "at_ms <= ?3 ORDER BY at_ms LIMIT ?4",
            &merge->page, reterr) != STORE_OK) {
        merge_free(merge);
        return NULL;
    }
    /* Integers cannot fail to bind. */
    (void)sqlite3_bind_int64(merge->page, 3, to_ms);
    (void)sqlite3_bind_int64(merge->page, 4, (int64_t)merge->page_rows);
    for (size_t i = 0; i < count; i++)
        merge->cursors[i] = (struct cursor){.rows = &merge->rows[i * merge->page_rows],
                                            .after_ms = after_ms,
                                            .probe = probes[i]};
    return merge;
no_memory:
    merge_free(merge);
    (void)db_error(reterr, STORE_IO, "reading the store: out of memory");
    return NULL;
}

void
merge_free(struct merge *merge)
{
    if (!merge)
        return;
    sqlite3_finalize(merge->page);
    free(merge->rows);
    free(merge->heap);
    free(merge->cursors);
    free(merge);
}

enum store_status
merge_next(struct merge *merge, struct reading *ret, bool *ret_more, struct store_error *reterr)
{
    struct cursor *first;
    enum store_status status = STORE_OK;

    if (!merge->started && (status = start(merge, reterr)) != STORE_OK)
        return status;
    *ret_more = merge->heap_count > 0;
    if (merge->heap_count == 0)
        return STORE_OK;
    first = merge->heap[0];
    ret->at_ms = first->rows[first->at].at_ms;
    ret->temp_mC = first->rows[first->at].temp_mC;
    ret->quality = first->rows[first->at].quality;
    ret->probe = first->probe;
    if (++first->at == first->count) {
        if (!first->last_page && (status = fill(merge, first, reterr)) != STORE_OK)
            return status;
        if (first->at == first->count)
            merge->heap[0] = merge->heap[--merge->heap_count];
    }
    if (merge->heap_count > 0)
        sink(merge, 0);
    return STORE_OK;
}

struct merge_fault
merge_fault(const struct merge *merge)
{
    return merge->fault;
}
