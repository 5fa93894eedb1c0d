/* Reading beside the writer: pages of rows by key, each in its own short transaction, copied
 * before they are handed out. A consumer may be as slow as it likes and never holds back a
 * checkpoint.
 *
 * One thread per reader. */
#include <assert.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "body.h"
#include "corrections.h"
#include "hash.h"
#include "head.h"
#include "merge.h"
#include "read.h"

static const char doing[] = "reading the store";

struct store_reader *
store_reader_open(const char *directory, struct store_error *reterr)
{
    struct store_reader *reader = calloc(1, sizeof(*reader));

    assert(directory);
    if (!reader) {
        (void)db_error(reterr, STORE_IO, "opening the store: out of memory");
        return NULL;
    }
    if (db_open_reader(&reader->db, directory, reterr) != STORE_OK) {
        store_reader_close(reader);
        return NULL;
    }
    return reader;
}

void
store_reader_close(struct store_reader *reader)
{
    if (!reader)
        return;
    corrections_free(reader->corrections);
    db_close(&reader->db);
    free(reader);
}

enum store_status
store_reader_head(struct store_reader *reader, struct store_head *ret,
                  struct store_error *reterr)
{
    return head_read(&reader->db, ret, NULL, reterr);
}

/* ---- readings ---- */

enum store_status
store_each_reading(struct store_reader *reader, uint16_t probe, int64_t from_ms, int64_t to_ms,
                   store_reading_visitor *visit, void *arg, struct store_error *reterr)
{
    struct probe_list all = {NULL, 0};
    enum store_status status = STORE_OK;
    struct reading reading;
    struct merge *merge;
    bool more;

    if (probe == 0 && (status = probes_stored(&reader->db, &all, reterr)) != STORE_OK)
        return status;
    merge = probe == 0 ? merge_new(&reader->db, all.probes, all.count, from_ms, to_ms, reterr)
                       : merge_new(&reader->db, &probe, 1, from_ms, to_ms, reterr);
    free(all.probes);
    if (!merge)
        return reterr ? reterr->status : STORE_IO;
    while ((status = merge_next(merge, &reading, &more, reterr)) == STORE_OK && more)
        if (!visit(arg, &reading))
            break;
    merge_free(merge);
    return status;
}

/* ---- records ---- */

/* Copies the text of a column behind what is in the page; the offset is its place. False
 * without memory. */
static bool
keep(struct record_page *page, const void *bytes, size_t len, size_t *ret_at)
{
    if (page->used + len + 1 > page->room) {
        size_t room = (page->used + len + 1) * 2;
        char *grown = realloc(page->text, room);
        if (!grown)
            return false;
        page->text = grown;
        page->room = room;
    }
    if (len > 0)
        memcpy(page->text + page->used, bytes, len);
    page->text[page->used + len] = '\0';
    *ret_at = page->used;
    page->used += len + 1;
    return true;
}

/* S6: false unless the columns have their types. */
static bool
take_row(struct record_page *page, sqlite3_stmt *stmt, struct record_row *row, bool *ret_memory)
{
    const void *hash = sqlite3_column_blob(stmt, 4);
    const unsigned char *kind = sqlite3_column_text(stmt, 2),
                        *body = sqlite3_column_text(stmt, 3);
    size_t kind_len = (size_t)sqlite3_column_bytes(stmt, 2);

    *ret_memory = true;
    row->seq = sqlite3_column_int64(stmt, 0);
    row->at_ms = sqlite3_column_int64(stmt, 1);
    row->body_len = (size_t)sqlite3_column_bytes(stmt, 3);
    if (sqlite3_column_type(stmt, 1) != SQLITE_INTEGER || row->seq < 1 ||
        sqlite3_column_type(stmt, 2) != SQLITE_TEXT ||
        sqlite3_column_type(stmt, 3) != SQLITE_TEXT ||
        sqlite3_column_type(stmt, 4) != SQLITE_BLOB || !hash || !kind || !body ||
        kind_len > BODY_KIND_MAX || strlen((const char *)kind) != kind_len ||
        sqlite3_column_bytes(stmt, 4) != HASH_SIZE || row->body_len > RECORD_BODY_MAX)
        return false;
    memcpy(row->hash, hash, HASH_SIZE);
    *ret_memory = keep(page, kind, kind_len, &row->kind_at) &&
                  keep(page, body, row->body_len, &row->body_at);
    return *ret_memory;
}

void
record_page_done(struct record_page *page)
{
    free(page->text);
    page->text = NULL;
}

enum store_status
record_page_fill(const struct db *db, sqlite3_stmt *stmt, struct record_page *page,
                 struct store_error *reterr)
{
    enum store_status status = STORE_OK;
    bool memory = true;
    int code;

    page->count = page->used = 0;
    page->bad_row = false;
    while ((code = sqlite3_step(stmt)) == SQLITE_ROW) {
        struct record_row *row = &page->rows[page->count];
        if (!take_row(page, stmt, row, &memory)) {
            page->bad_row = memory;
            page->bad_seq = row->seq;
            break;
        }
        page->count++;
        if (page->count == PAGE_RECORDS || page->used >= PAGE_BYTES)
            break;
    }
    if (code == SQLITE_ROW && !memory)
        status = db_error(reterr, STORE_IO, "%s: out of memory", doing);
    else if (code != SQLITE_ROW && code != SQLITE_DONE)
        status = db_failed(db, doing, reterr);
    (void)sqlite3_reset(stmt); /* what it says was said by step; ends the read transaction */
    return status;
}

bool
record_row_read(const struct record_page *page, size_t at, struct store_record *ret)
{
    const struct record_row *row = &page->rows[at];

    ret->seq = (uint64_t)row->seq;
    ret->at_ms = row->at_ms;
    ret->kind = page->text + row->kind_at;
    ret->body = page->text + row->body_at;
    ret->body_len = row->body_len;
    memcpy(ret->hash, row->hash, HASH_SIZE);
    return body_read(ret->body, ret->body_len, ret->seq, ret->at_ms, ret->kind, &ret->data,
                     &ret->data_len);
}

static enum store_status
broken(const struct db *db, int64_t seq, struct store_error *reterr)
{
    return db_error(reterr, STORE_CORRUPT,
                    "%s: record %" PRId64
                    " in '%s' is not one this program writes; verify the store",
                    doing, seq, db->path);
}

/* Hands out one page. *ret_go is false when the visitor has had enough. */
static enum store_status
visit_page(const struct db *db, const struct record_page *page, store_record_visitor *visit,
           void *arg, bool *ret_go, struct store_error *reterr)
{
    struct store_record record;

    for (size_t i = 0; i < page->count; i++) {
        if (!record_row_read(page, i, &record))
            return broken(db, page->rows[i].seq, reterr);
        *ret_go = visit(arg, &record);
        if (!*ret_go)
            return STORE_OK;
    }
    return page->bad_row ? broken(db, page->bad_seq, reterr) : STORE_OK;
}

enum store_status
store_each_record(struct store_reader *reader, uint64_t from_seq, uint64_t to_seq,
                  const char *kind, store_record_visitor *visit, void *arg,
                  struct store_error *reterr)
{
    struct record_page *page = calloc(1, sizeof(*page));
    sqlite3_stmt *stmt = NULL;
    int64_t after = from_seq > INT64_MAX ? INT64_MAX : (int64_t)from_seq;
    enum store_status status;
    bool go = true;

    if (!page)
        return db_error(reterr, STORE_IO, "%s: out of memory", doing);
    status =
        db_prepare(&reader->db,
                   kind ? "SELECT seq, at_ms, kind, body, hash FROM record WHERE seq > ?1 AND "
                          "seq <= ?2 AND kind = ?3 ORDER BY seq"
                        : "SELECT seq, at_ms, kind, body, hash FROM record WHERE seq > ?1 AND "
                          "seq <= ?2 ORDER BY seq",
                   &stmt, reterr);
    /* Integers, and text that is not copied, cannot fail to bind. */
    (void)sqlite3_bind_int64(stmt, 2, to_seq > INT64_MAX ? INT64_MAX : (int64_t)to_seq);
    if (kind)
        (void)sqlite3_bind_text(stmt, 3, kind, -1, SQLITE_STATIC);
    while (status == STORE_OK && go) {
        (void)sqlite3_bind_int64(stmt, 1, after);
        status = record_page_fill(&reader->db, stmt, page, reterr);
        if (status != STORE_OK || (page->count == 0 && !page->bad_row))
            break;
        if (page->count > 0)
            after = page->rows[page->count - 1].seq;
        status = visit_page(&reader->db, page, visit, arg, &go, reterr);
    }
    sqlite3_finalize(stmt);
    record_page_done(page);
    free(page);
    return status;
}

/* ---- by time ---- */

enum store_status
reader_seq_before(struct store_reader *reader, uint64_t last_seq, int64_t at_ms,
                  uint64_t *ret_seq, struct store_error *reterr)
{
    sqlite3_stmt *stmt = NULL;
    uint64_t low = 0, high = last_seq; /* record low is before at_ms, record high + 1 is not */
    enum store_status status =
        db_prepare(&reader->db, "SELECT at_ms FROM record WHERE seq = ?1", &stmt, reterr);

    while (status == STORE_OK && low < high) {
        uint64_t middle = low + (high - low + 1) / 2;
        int code;
        (void)sqlite3_bind_int64(stmt, 1, (int64_t)middle); /* an integer cannot fail to bind */
        code = sqlite3_step(stmt);
        if (code != SQLITE_ROW)
            status = code == SQLITE_DONE ? broken(&reader->db, (int64_t)middle, reterr)
                                         : db_failed(&reader->db, doing, reterr);
        else if (sqlite3_column_int64(stmt, 0) < at_ms)
            low = middle;
        else
            high = middle - 1;
        (void)sqlite3_reset(stmt); /* what it says was said by step */
    }
    sqlite3_finalize(stmt);
    if (status == STORE_OK)
        *ret_seq = low;
    return status;
}
