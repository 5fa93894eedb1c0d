/* Writing: readings, records, seals and the cache into the open transaction, and its commit.
 *
 * The recorder's thread. Whatever fails is rolled back here, with the head, so that memory and
 * file agree. */
#include <assert.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "body.h"
#include "digest.h"
#include "own.h"
#include "trivet/units.h"

enum store_status
store_begin(struct store *store, struct store_error *reterr)
{
    sqlite3_stmt *stmt = store->statements[STATEMENT_BEGIN];
    int code;

    if (store->in_transaction)
        return STORE_OK;
    code = sqlite3_step(stmt);
    if (code != SQLITE_DONE) {
        enum store_status status = db_failed(&store->db, "beginning to write", reterr);
        (void)sqlite3_reset(stmt); /* already told */
        return status;
    }
    (void)sqlite3_reset(stmt); /* what it says was said by step */
    store->in_transaction = true;
    return STORE_OK;
}

enum store_status
store_undo(struct store *store, enum store_status status)
{
    /* After some failures SQLite has rolled back by itself; asked again it would complain. */
    if (!sqlite3_get_autocommit(store->db.sql))
        (void)sqlite3_exec(store->db.sql, "ROLLBACK", NULL, NULL, NULL);
    store->in_transaction = false;
    store->head = store->committed;
    store->record_ms = store->committed_record_ms;
    return status;
}

/* Runs a bound statement that returns no row; rolls back when it fails. */
static enum store_status
finish(struct store *store, sqlite3_stmt *stmt, const char *doing, struct store_error *reterr)
{
    if (sqlite3_step(stmt) != SQLITE_DONE) {
        enum store_status status = db_failed(&store->db, doing, reterr);
        (void)sqlite3_reset(stmt); /* already told */
        return store_undo(store, status);
    }
    (void)sqlite3_reset(stmt); /* what it says was said by step */
    return STORE_OK;
}

/* ---- readings ---- */

/* Keeps the list ascending. False without memory. */
static bool
know_probe(struct store *store, uint16_t probe)
{
    struct probe_list *list = &store->probes;
    size_t low = 0, high = list->count;

    while (low < high) {
        size_t middle = (low + high) / 2;
        if (list->probes[middle] < probe)
            low = middle + 1;
        else
            high = middle;
    }
    if (low < list->count && list->probes[low] == probe)
        return true;
    if (list->count == store->probes_room) {
        size_t room = store->probes_room == 0 ? 64 : store->probes_room * 2;
        uint16_t *grown = realloc(list->probes, room * sizeof(*grown));
        if (!grown)
            return false;
        list->probes = grown;
        store->probes_room = room;
    }
    memmove(&list->probes[low + 1], &list->probes[low],
            (list->count - low) * sizeof(*list->probes));
    list->probes[low] = probe;
    list->count++;
    return true;
}

enum store_status
store_reading(struct store *store, const struct reading *reading, struct store_error *reterr)
{
    sqlite3_stmt *stmt = store->statements[STATEMENT_READING];
    bool bad = reading_is_bad(reading->quality);
    enum store_status status;

    assert(reading->probe != 0);
    assert(reading->quality <= 299);
    assert(bad || reading->temp_mC != TEMP_NONE);
    assert(reading->at_ms <= BODY_INT_MAX && reading->at_ms >= -BODY_INT_MAX);
    assert(store->head.sealed_to_ms == TIME_NONE || reading->at_ms > store->head.sealed_to_ms);
    if ((status = store_begin(store, reterr)) != STORE_OK)
        return status;
    if (!know_probe(store, reading->probe))
        return store_undo(store,
                          db_error(reterr, STORE_IO, "storing a reading: out of memory"));
    /* Integers and NULL cannot fail to bind. */
    (void)sqlite3_bind_int(stmt, 1, reading->probe);
    (void)sqlite3_bind_int64(stmt, 2, reading->at_ms);
    if (bad)
        (void)sqlite3_bind_null(stmt, 3);
    else
        (void)sqlite3_bind_int(stmt, 3, reading->temp_mC);
    (void)sqlite3_bind_int(stmt, 4, reading->quality);
    if ((status = finish(store, stmt, "storing a reading", reterr)) != STORE_OK)
        return status;
    if (reading->at_ms > store->head.at_ms)
        store->head.at_ms = reading->at_ms;
    return STORE_OK;
}

/* ---- records ---- */

static enum store_status
insert_record(struct store *store, const char *kind, int64_t at_ms, size_t body_len,
              const struct store_head *next, struct store_error *reterr)
{
    sqlite3_stmt *stmt = store->statements[STATEMENT_RECORD];
    enum store_status status;

    (void)sqlite3_bind_int64(stmt, 1, (int64_t)next->seq); /* integers cannot fail to bind */
    (void)sqlite3_bind_int64(stmt, 2, at_ms);
    /* Nor can what is not copied: it stays ours until the statement is reset and unbound. */
    (void)sqlite3_bind_text(stmt, 3, kind, -1, SQLITE_STATIC);
    (void)sqlite3_bind_text(stmt, 4, store->body, (int)body_len, SQLITE_STATIC);
    (void)sqlite3_bind_blob(stmt, 5, next->hash, sizeof(next->hash), SQLITE_STATIC);
    status = finish(store, stmt, "storing a record", reterr);
    (void)sqlite3_clear_bindings(stmt); /* always succeeds */
    return status;
}

enum store_status
store_record(struct store *store, const char *kind, int64_t at_ms, const char *data_json,
             uint64_t *ret_seq, struct store_error *reterr)
{
    struct store_head next = store->head;
    enum store_status status;
    size_t len;

    assert(data_json[0] == '{');
    assert(at_ms <= BODY_INT_MAX && at_ms >= -BODY_INT_MAX);
    assert(at_ms >= store->record_ms); /* S6; TIME_NONE is before all */
    if ((status = store_begin(store, reterr)) != STORE_OK)
        return status;
    next.seq++;
    len = body_write(store->body, RECORD_BODY_MAX + 1, next.seq, at_ms, kind, data_json);
    assert(len > 0);
    hash_chain(store->head.hash, store->body, len, next.hash);
    if (at_ms > next.at_ms)
        next.at_ms = at_ms;
    if ((status = insert_record(store, kind, at_ms, len, &next, reterr)) != STORE_OK)
        return status;
    store->head = next;
    store->record_ms = at_ms;
    if (ret_seq)
        *ret_seq = next.seq;
    return STORE_OK;
}

/* ---- seals ---- */

static enum store_status
digest_run(const struct store *store, struct merge *merge, struct seal *seal,
           struct store_error *reterr)
{
    struct digest digest;
    struct reading reading;
    enum store_status status;
    bool more;

    digest_start(&digest);
    while ((status = merge_next(merge, &reading, &more, reterr)) == STORE_OK && more) {
        /* S8: the first seal of all begins right before the first reading of all. */
        if (seal->count == 0 && store->head.sealed_to_ms == TIME_NONE)
            seal->from_ms = reading.at_ms - 1;
        digest_add(&digest, &reading);
        seal->count++;
    }
    digest_end(&digest, seal->digest);
    return status;
}

enum store_status
store_seal(struct store *store, int64_t to_ms, int64_t at_ms, struct store_error *reterr)
{
    struct seal seal = {.from_ms = store->head.sealed_to_ms, .to_ms = to_ms};
    char data[SEAL_DATA_MAX];
    enum store_status status = STORE_OK;
    struct merge *merge;

    if (seal.from_ms != TIME_NONE && to_ms <= seal.from_ms)
        return STORE_OK;
    merge = merge_new(&store->db, store->probes.probes, store->probes.count, seal.from_ms,
                      to_ms, reterr);
    if (!merge)
        return store_undo(store, reterr ? reterr->status : STORE_IO);
    status = digest_run(store, merge, &seal, reterr);
    merge_free(merge);
    if (status != STORE_OK)
        return store_undo(store, status);
    if (seal.count == 0)
        return STORE_OK;
    seal_write(&seal, data);
    if ((status = store_record(store, "seal", at_ms, data, NULL, reterr)) != STORE_OK)
        return status;
    store->head.sealed_to_ms = to_ms;
    return STORE_OK;
}

/* ---- the cache ---- */

enum store_status
store_cache_put(struct store *store, const char *key, const void *blob, size_t size,
                struct store_error *reterr)
{
    sqlite3_stmt *stmt = store->statements[STATEMENT_CACHE_PUT];
    enum store_status status;

    assert(size <= INT32_MAX);
    if ((status = store_begin(store, reterr)) != STORE_OK)
        return status;
    /* What is not copied cannot fail to bind; SQLite would take a NULL pointer for NULL. */
    (void)sqlite3_bind_text(stmt, 1, key, -1, SQLITE_STATIC);
    (void)sqlite3_bind_blob(stmt, 2, size > 0 ? blob : "", (int)size, SQLITE_STATIC);
    status = finish(store, stmt, "storing the engine's state", reterr);
    (void)sqlite3_clear_bindings(stmt); /* always succeeds */
    return status;
}

void *
store_cache_get(struct store *store, const char *key, size_t *ret_size)
{
    sqlite3_stmt *stmt = store->statements[STATEMENT_CACHE_GET];
    void *copy = NULL;

    (void)sqlite3_bind_text(stmt, 1, key, -1, SQLITE_STATIC); /* not copied: cannot fail */
    if (sqlite3_step(stmt) == SQLITE_ROW && sqlite3_column_type(stmt, 0) == SQLITE_BLOB) {
        const void *blob = sqlite3_column_blob(stmt, 0);
        size_t size = (size_t)sqlite3_column_bytes(stmt, 0);
        copy = malloc(size > 0 ? size : 1);
        if (copy && size > 0)
            memcpy(copy, blob, size);
        if (copy)
            *ret_size = size;
    }
    (void)sqlite3_reset(stmt); /* unreadable counts as none: it can be derived anew */
    (void)sqlite3_clear_bindings(stmt);
    return copy;
}

/* ---- commit ---- */

enum store_status
store_commit(struct store *store, struct store_error *reterr)
{
    enum store_status status;

    if (!store->in_transaction)
        return STORE_OK;
    status = finish(store, store->statements[STATEMENT_COMMIT], "committing", reterr);
    if (status != STORE_OK)
        return status;
    store->in_transaction = false;
    store->committed = store->head;
    store->committed_record_ms = store->record_ms;
    return STORE_OK;
}
