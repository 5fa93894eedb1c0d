#include "head.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "body.h"
#include "hash.h"
#include "trivet/units.h"

static const char doing[] = "reading the end of the store";

static enum store_status
broken(const struct db *db, int64_t seq, struct store_error *reterr)
{
    return db_error(
        reterr, STORE_CORRUPT,
        "%s: record %" PRId64 " in '%s' does not hold (its body, columns or hash were "
        "changed); keep a copy of the directory, verify it, then restore a backup or "
        "start an empty directory",
        doing, seq, db->path);
}

/* The columns of the row stmt stands on. False unless they have the types of a record. */
static bool
has_record_types(sqlite3_stmt *stmt)
{
    return sqlite3_column_type(stmt, 1) == SQLITE_INTEGER &&
           sqlite3_column_type(stmt, 2) == SQLITE_TEXT &&
           sqlite3_column_type(stmt, 3) == SQLITE_TEXT &&
           sqlite3_column_type(stmt, 4) == SQLITE_BLOB &&
           sqlite3_column_bytes(stmt, 4) == HASH_SIZE;
}

/* The last record into head, and its body aside: the statement has to move on to the one
 * before. */
static enum store_status
take_last(const struct db *db, sqlite3_stmt *stmt, struct store_head *head, char **ret_body,
          size_t *ret_len, struct store_error *reterr)
{
    const char *data, *body = (const char *)sqlite3_column_text(stmt, 3);
    size_t data_len, len = (size_t)sqlite3_column_bytes(stmt, 3);
    int64_t seq = sqlite3_column_int64(stmt, 0);
    char *copy;

    if (seq < 1 || !body || !has_record_types(stmt))
        return broken(db, seq, reterr);
    head->seq = (uint64_t)seq;
    head->at_ms = sqlite3_column_int64(stmt, 1);
    memcpy(head->hash, sqlite3_column_blob(stmt, 4), HASH_SIZE);
    if (!body_read(body, len, head->seq, head->at_ms,
                   (const char *)sqlite3_column_text(stmt, 2), &data, &data_len))
        return broken(db, seq, reterr);
    copy = malloc(len);
    if (!copy)
        return db_error(reterr, STORE_IO, "%s: out of memory", doing);
    memcpy(copy, body, len);
    *ret_body = copy;
    *ret_len = len;
    return STORE_OK;
}

/* The hash of the record before the last, which stmt stands on after `code`: zeros before the
 * first. */
static bool
take_before(sqlite3_stmt *stmt, int code, uint64_t last_seq, uint8_t ret[static HASH_SIZE])
{
    memset(ret, 0, HASH_SIZE);
    if (last_seq == 1)
        return code == SQLITE_DONE;
    if (code != SQLITE_ROW || !has_record_types(stmt) ||
        sqlite3_column_int64(stmt, 0) != (int64_t)last_seq - 1)
        return false;
    memcpy(ret, sqlite3_column_blob(stmt, 4), HASH_SIZE);
    return true;
}

/* Steps through at most the last two records, newest first. */
static enum store_status
read_last_records(const struct db *db, sqlite3_stmt *stmt, struct store_head *head,
                  struct store_error *reterr)
{
    uint8_t before[HASH_SIZE], expected[HASH_SIZE];
    enum store_status status;
    char *body = NULL;
    size_t len = 0;
    bool chained;
    int code = sqlite3_step(stmt);

    if (code == SQLITE_DONE)
        return STORE_OK;
    if (code != SQLITE_ROW)
        return db_failed(db, doing, reterr);
    if ((status = take_last(db, stmt, head, &body, &len, reterr)) != STORE_OK)
        return status;
    code = sqlite3_step(stmt);
    chained = take_before(stmt, code, head->seq, before);
    hash_chain(before, body, len, expected);
    free(body);
    if (code != SQLITE_ROW && code != SQLITE_DONE)
        return db_failed(db, doing, reterr);
    if (!chained || memcmp(expected, head->hash, HASH_SIZE) != 0)
        return broken(db, (int64_t)head->seq, reterr);
    return STORE_OK;
}

static enum store_status
read_last_seal(const struct db *db, sqlite3_stmt *stmt, struct store_head *head,
               struct store_error *reterr)
{
    const char *body, *data;
    struct seal seal;
    size_t data_len;
    int64_t seq;
    int code = sqlite3_step(stmt);

    if (code == SQLITE_DONE)
        return STORE_OK;
    if (code != SQLITE_ROW)
        return db_failed(db, doing, reterr);
    seq = sqlite3_column_int64(stmt, 0);
    body = (const char *)sqlite3_column_text(stmt, 2);
    if (!body || seq < 1 ||
        !body_read(body, (size_t)sqlite3_column_bytes(stmt, 2), (uint64_t)seq,
                   sqlite3_column_int64(stmt, 1), "seal", &data, &data_len) ||
        !seal_read(data, data_len, &seal))
        return broken(db, seq, reterr);
    head->sealed_to_ms = seal.to_ms;
    return STORE_OK;
}

static enum store_status
read_last_readings(const struct db *db, sqlite3_stmt *stmt, const struct probe_list *list,
                   struct store_head *head, struct store_error *reterr)
{
    for (size_t i = 0; i < list->count; i++) {
        int64_t at_ms;
        (void)sqlite3_bind_int(stmt, 1, list->probes[i]); /* an integer cannot fail to bind */
        if (sqlite3_step(stmt) != SQLITE_ROW)
            return db_failed(db, doing, reterr);
        at_ms = sqlite3_column_int64(stmt, 0);
        (void)sqlite3_reset(stmt); /* what it says was said by step */
        if (at_ms > head->at_ms)
            head->at_ms = at_ms;
    }
    return STORE_OK;
}

typedef enum store_status head_part(const struct db *db, sqlite3_stmt *stmt,
                                    struct store_head *head, struct store_error *reterr);

static enum store_status
read_part(const struct db *db, const char *sql, head_part *part, struct store_head *head,
          struct store_error *reterr)
{
    sqlite3_stmt *stmt = NULL;
    enum store_status status = db_prepare(db, sql, &stmt, reterr);

    if (status == STORE_OK)
        status = part(db, stmt, head, reterr);
    sqlite3_finalize(stmt);
    return status;
}

static enum store_status
read_all(const struct db *db, struct store_head *head, struct head_more *more,
         struct store_error *reterr)
{
    sqlite3_stmt *last = NULL;
    enum store_status status;

    if ((status = read_part(db,
                            "SELECT seq, at_ms, kind, body, hash FROM record ORDER BY seq DESC "
                            "LIMIT 2",
                            read_last_records, head, reterr)) != STORE_OK)
        return status;
    more->record_ms = head->at_ms;
    if ((status =
             read_part(db,
                       "SELECT seq, at_ms, body FROM record WHERE kind = 'seal' ORDER BY seq "
                       "DESC LIMIT 1",
                       read_last_seal, head, reterr)) != STORE_OK ||
        (status = probes_stored(db, &more->probes, reterr)) != STORE_OK)
        return status;
    status = db_prepare(db, "SELECT max(at_ms) FROM reading WHERE probe = ?1", &last, reterr);
    if (status == STORE_OK)
        status = read_last_readings(db, last, &more->probes, head, reterr);
    sqlite3_finalize(last);
    return status;
}

enum store_status
head_read(const struct db *db, struct store_head *ret, struct head_more *ret_more,
          struct store_error *reterr)
{
    struct store_head head = {.at_ms = TIME_NONE, .sealed_to_ms = TIME_NONE};
    struct head_more more = {{NULL, 0}, TIME_NONE};
    enum store_status status = db_run(db, "BEGIN", doing, reterr);

    if (status == STORE_OK) {
        status = read_all(db, &head, &more, reterr);
        (void)sqlite3_exec(db->sql, "ROLLBACK", NULL, NULL, NULL); /* nothing was written */
    }
    if (status != STORE_OK || !ret_more)
        free(more.probes.probes);
    else
        *ret_more = more;
    if (status == STORE_OK)
        *ret = head;
    return status;
}
