/* Verification: the whole chain from the first record on, and every seal against the readings
 * it fixed.
 *
 * Needs only read access and short transactions; the daemon may go on writing meanwhile.
 * Whatever is in the file, this says what is wrong with it and never trusts it. One thread per
 * call. */
#include <assert.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "body.h"
#include "digest.h"
#include "merge.h"
#include "read.h"
#include "trivet/units.h"

#define RUN_KEPT 2048 /* readings of a seal remembered, to find the one that is too many */

struct check {
    struct store_reader *reader;
    struct store_verdict *verdict;
    struct merge *merge;
    struct reading next; /* the first reading not yet counted */
    bool has_next;
    int64_t sealed_to_ms, record_ms;
    struct reading run[RUN_KEPT]; /* the beginning of the seal in hand */
};

/* ---- verdicts ---- */

static bool say(struct store_verdict *verdict, uint64_t seq, const char *format, ...)
    TRIVET_PRINTF(3, 4);

/* Notes what was found; returns false, so that a check can `return say(...)`. */
static bool
say(struct store_verdict *verdict, uint64_t seq, const char *format, ...)
{
    va_list args;

    verdict->ok = false;
    verdict->bad_seq = seq;
    va_start(args, format);
    (void)vsnprintf(verdict->text, sizeof(verdict->text), format,
                    args); /* cut text is still text */
    va_end(args);
    return false;
}

static bool
say_run(struct store_verdict *verdict, int64_t from_ms, int64_t to_ms, uint16_t probe)
{
    verdict->bad_from_ms = from_ms;
    verdict->bad_to_ms = to_ms;
    verdict->bad_probe = probe;
    return false;
}

/* One reading as a run of its own. */
static bool
say_reading(struct store_verdict *verdict, int64_t at_ms, uint16_t probe)
{
    return say_run(verdict, at_ms == INT64_MIN ? at_ms : at_ms - 1, at_ms, probe);
}

/* The seal whose run holds an instant, 0 when none can be found. */
static uint64_t
seal_of(const struct check *check, int64_t at_ms)
{
    sqlite3_stmt *stmt = NULL;
    uint64_t found = 0;

    if (db_prepare(&check->reader->db,
                   "SELECT seq, at_ms, body FROM record WHERE kind = 'seal' ORDER BY seq",
                   &stmt, NULL) != STORE_OK)
        return 0;
    while (found == 0 && sqlite3_step(stmt) == SQLITE_ROW) {
        const char *data, *body = (const char *)sqlite3_column_text(stmt, 2);
        uint64_t seq = (uint64_t)sqlite3_column_int64(stmt, 0);
        struct seal seal;
        size_t len;
        if (body &&
            body_read(body, (size_t)sqlite3_column_bytes(stmt, 2), seq,
                      sqlite3_column_int64(stmt, 1), "seal", &data, &len) &&
            seal_read(data, len, &seal) && at_ms > seal.from_ms && at_ms <= seal.to_ms)
            found = seq;
    }
    sqlite3_finalize(stmt);
    return found;
}

/* ---- readings ---- */

/* Moves to the next reading. A row that cannot be, or a damaged file, becomes the verdict. */
static enum store_status
advance(struct check *check, struct store_error *reterr)
{
    enum store_status status = merge_next(check->merge, &check->next, &check->has_next, reterr);
    struct merge_fault fault = merge_fault(check->merge);

    if (status != STORE_CORRUPT || fault.probe == 0)
        return status;
    (void)say(check->verdict, seal_of(check, fault.at_ms),
              "a reading of probe %u at %" PRId64
              " ms is not one this program writes: its columns were changed",
              fault.probe, fault.at_ms);
    (void)say_reading(check->verdict, fault.at_ms, fault.probe);
    return STORE_OK;
}

/* When a run has exactly one reading more than its seal says: which one, left out, gives the
 * digest? */
static const struct reading *
find_one_too_many(const struct check *check, const struct seal *seal)
{
    struct digest before, rest;
    uint8_t hash[HASH_SIZE];
    size_t count = (size_t)seal->count + 1;

    if (count > RUN_KEPT)
        return NULL;
    digest_start(&before);
    for (size_t out = 0; out < count; out++) {
        rest = before;
        for (size_t i = out + 1; i < count; i++)
            digest_add(&rest, &check->run[i]);
        digest_end(&rest, hash);
        if (memcmp(hash, seal->digest, HASH_SIZE) == 0)
            return &check->run[out];
        digest_add(&before, &check->run[out]);
    }
    return NULL;
}

static void
say_seal_broken(struct check *check, uint64_t seq, const struct seal *seal, uint64_t count,
                uint16_t only_probe)
{
    struct store_verdict *verdict = check->verdict;
    const struct reading *extra =
        count == seal->count + 1 ? find_one_too_many(check, seal) : NULL;

    (void)say_run(verdict, seal->from_ms, seal->to_ms, only_probe);
    if (extra) {
        (void)say(verdict, seq,
                  "the reading of probe %u at %" PRId64 " ms was added after seal %" PRIu64
                  " had fixed that time",
                  extra->probe, extra->at_ms, seq);
        (void)say_reading(verdict, extra->at_ms, extra->probe);
    } else if (count != seal->count) {
        (void)say(verdict, seq,
                  "seal %" PRIu64 " fixed %" PRIu64 " readings after %" PRId64
                  " ms up to %" PRId64 " ms, but %" PRIu64 " are there: some were %s",
                  seq, seal->count, seal->from_ms, seal->to_ms, count,
                  count > seal->count ? "added" : "removed");
    } else {
        (void)say(verdict, seq,
                  "the readings after %" PRId64 " ms up to %" PRId64
                  " ms are not those that seal %" PRIu64 " fixed: at least one was changed",
                  seal->from_ms, seal->to_ms, seq);
    }
}

/* S7, S8: the readings of one seal. */
static enum store_status
check_seal_run(struct check *check, uint64_t seq, const struct seal *seal,
               struct store_error *reterr)
{
    struct digest digest;
    uint8_t hash[HASH_SIZE];
    enum store_status status = STORE_OK;
    uint64_t count = 0;
    uint16_t only_probe = 0;

    digest_start(&digest);
    while (check->verdict->ok && status == STORE_OK && check->has_next &&
           check->next.at_ms <= seal->to_ms) {
        if (check->next.at_ms <= seal->from_ms) {
            (void)say(check->verdict, seq,
                      "the reading of probe %u at %" PRId64
                      " ms lies before the first seal began: it was added later",
                      check->next.probe, check->next.at_ms);
            (void)say_reading(check->verdict, check->next.at_ms, check->next.probe);
            return STORE_OK;
        }
        if (count < RUN_KEPT)
            check->run[count] = check->next;
        only_probe = count == 0 || only_probe == check->next.probe ? check->next.probe : 0;
        digest_add(&digest, &check->next);
        count++;
        status = advance(check, reterr);
    }
    if (status != STORE_OK || !check->verdict->ok)
        return status;
    digest_end(&digest, hash);
    if (count != seal->count || memcmp(hash, seal->digest, HASH_SIZE) != 0)
        say_seal_broken(check, seq, seal, count, only_probe);
    check->verdict->readings += count;
    return STORE_OK;
}

static enum store_status
check_seal(struct check *check, const struct store_record *record, struct store_error *reterr)
{
    struct seal seal;

    if (!seal_read(record->data, record->data_len, &seal)) {
        (void)say(check->verdict, record->seq,
                  "record %" PRIu64 " is not a seal this program writes", record->seq);
        return STORE_OK;
    }
    if (check->sealed_to_ms != TIME_NONE && seal.from_ms != check->sealed_to_ms) {
        (void)say(check->verdict, record->seq,
                  "seal %" PRIu64 " begins at %" PRId64
                  " ms, but the one before ended at %" PRId64 " ms",
                  record->seq, seal.from_ms, check->sealed_to_ms);
        return STORE_OK;
    }
    check->sealed_to_ms = seal.to_ms;
    check->verdict->seals++;
    return check_seal_run(check, record->seq, &seal, reterr);
}

/* What came after the last seal: it must be readings, more cannot be said. */
static enum store_status
check_unsealed(struct check *check, struct store_error *reterr)
{
    enum store_status status = STORE_OK;

    while (check->verdict->ok && status == STORE_OK && check->has_next) {
        check->verdict->unsealed++;
        check->verdict->readings++;
        status = advance(check, reterr);
    }
    return status;
}

/* ---- records ---- */

/* S3, S4, S6 for one record. False with the verdict. */
static bool
check_record(struct check *check, const struct record_page *page, size_t at,
             struct store_record *ret)
{
    struct store_verdict *verdict = check->verdict;
    uint64_t expected_seq = verdict->records + 1;
    bool canonical = record_row_read(page, at, ret);
    uint8_t hash[HASH_SIZE];

    if (ret->seq != expected_seq)
        return say(verdict, expected_seq,
                   "record %" PRIu64 " is missing: record %" PRIu64 " comes in its place",
                   expected_seq, ret->seq);
    if (!canonical)
        return say(verdict, ret->seq,
                   "record %" PRIu64
                   ": its body and its columns (seq, at_ms, kind) do not agree",
                   ret->seq);
    hash_chain(verdict->head, ret->body, ret->body_len, hash);
    if (memcmp(hash, ret->hash, HASH_SIZE) != 0)
        return say(verdict, ret->seq,
                   "record %" PRIu64
                   ": its hash does not follow from its body and the record before it",
                   ret->seq);
    if (ret->at_ms < check->record_ms)
        return say(verdict, ret->seq, "record %" PRIu64 " is older than the record before it",
                   ret->seq);
    check->record_ms = ret->at_ms;
    memcpy(verdict->head, ret->hash, HASH_SIZE);
    verdict->records++;
    return true;
}

static enum store_status
check_page(struct check *check, const struct record_page *page, struct store_error *reterr)
{
    enum store_status status = STORE_OK;
    struct store_record record;

    for (size_t i = 0; i < page->count && status == STORE_OK && check->verdict->ok; i++)
        if (check_record(check, page, i, &record) && strcmp(record.kind, "seal") == 0)
            status = check_seal(check, &record, reterr);
    if (status == STORE_OK && check->verdict->ok && page->bad_row)
        (void)say(check->verdict, page->bad_seq > 0 ? (uint64_t)page->bad_seq : 1,
                  "record %" PRId64 ": its columns are not of the types of a record",
                  page->bad_seq);
    return status;
}

static enum store_status
check_records(struct check *check, int64_t to_seq, struct store_error *reterr)
{
    struct record_page *page = calloc(1, sizeof(*page));
    sqlite3_stmt *stmt = NULL;
    enum store_status status;
    bool more = true;

    if (!page)
        return db_error(reterr, STORE_IO, "verifying the store: out of memory");
    status =
        db_prepare(&check->reader->db,
                   "SELECT seq, at_ms, kind, body, hash FROM record WHERE seq > ?1 AND seq <= "
                   "?2 ORDER BY seq",
                   &stmt, reterr);
    (void)sqlite3_bind_int64(stmt, 1, INT64_MIN); /* integers cannot fail to bind */
    (void)sqlite3_bind_int64(stmt, 2, to_seq);
    while (status == STORE_OK && check->verdict->ok && more) {
        status = record_page_fill(&check->reader->db, stmt, page, reterr);
        if (status == STORE_OK)
            status = check_page(check, page, reterr);
        more = page->count > 0;
        if (more)
            (void)sqlite3_bind_int64(stmt, 1, page->rows[page->count - 1].seq);
    }
    sqlite3_finalize(stmt);
    record_page_done(page);
    free(page);
    return status;
}

/* ---- the whole ---- */

/* Rows out of order, or an index by kind that is not the table's: the walks above, or an
 * export, could pass rows by. */
static enum store_status
check_tree(struct check *check, const char *sql, const char *what, struct store_error *reterr)
{
    const struct db *db = &check->reader->db;
    sqlite3_stmt *stmt = NULL;
    enum store_status status = STORE_OK;
    const char *said;

    if (sqlite3_prepare_v2(db->sql, sql, -1, &stmt, NULL) != SQLITE_OK ||
        sqlite3_step(stmt) != SQLITE_ROW)
        status = db_failed(db, "verifying the store", reterr);
    else if ((said = (const char *)sqlite3_column_text(stmt, 0)) && strcmp(said, "ok") != 0)
        (void)say(check->verdict, 0, "the table of %s is damaged: %.200s", what, said);
    sqlite3_finalize(stmt);
    return status;
}

static enum store_status
last_seq(const struct db *db, int64_t *ret, struct store_error *reterr)
{
    sqlite3_stmt *stmt = NULL;
    enum store_status status = db_prepare(db, "SELECT max(seq) FROM record", &stmt, reterr);

    if (status == STORE_OK && sqlite3_step(stmt) != SQLITE_ROW)
        status = db_failed(db, "verifying the store", reterr);
    if (status == STORE_OK)
        *ret = sqlite3_column_int64(stmt, 0); /* 0 for NULL: no record */
    sqlite3_finalize(stmt);
    return status;
}

static enum store_status
check_all(struct check *check, struct store_error *reterr)
{
    struct probe_list list = {NULL, 0};
    enum store_status status;
    int64_t to_seq;

    /* First the end of the chain, then the readings: what is sealed up to there is there
     * already. */
    if ((status = last_seq(&check->reader->db, &to_seq, reterr)) != STORE_OK ||
        (status = probes_stored(&check->reader->db, &list, reterr)) != STORE_OK)
        return status;
    check->merge =
        merge_new(&check->reader->db, list.probes, list.count, TIME_NONE, INT64_MAX, reterr);
    free(list.probes);
    if (!check->merge)
        return reterr->status;
    if ((status = advance(check, reterr)) == STORE_OK && check->verdict->ok)
        status = check_records(check, to_seq, reterr);
    if (status == STORE_OK && check->verdict->ok)
        status = check_unsealed(check, reterr);
    if (status == STORE_OK && check->verdict->ok)
        status = check_tree(check, "PRAGMA integrity_check(reading)", "readings", reterr);
    if (status == STORE_OK && check->verdict->ok)
        status = check_tree(check, "PRAGMA integrity_check(record)", "records", reterr);
    merge_free(check->merge);
    return status;
}

static void
say_good(struct store_verdict *verdict)
{
    (void)snprintf(verdict->text, sizeof(verdict->text),
                   "the chain of %" PRIu64 " records holds, and %" PRIu64 " seals fix %" PRIu64
                   " readings; %" PRIu64 " more came after the last seal",
                   verdict->records, verdict->seals, verdict->readings - verdict->unsealed,
                   verdict->unsealed);
}

enum store_status
store_verify(const char *directory, struct store_verdict *ret, struct store_error *reterr)
{
    struct check *check = calloc(1, sizeof(*check));
    struct store_error error = {STORE_OK, ""};
    enum store_status status = STORE_OK;

    assert(directory);
    memset(ret, 0, sizeof(*ret));
    ret->ok = true;
    ret->bad_from_ms = ret->bad_to_ms = TIME_NONE;
    if (!check)
        return db_error(reterr, STORE_IO, "verifying the store: out of memory");
    check->verdict = ret;
    check->sealed_to_ms = check->record_ms = TIME_NONE;
    check->reader = store_reader_open(directory, &error);
    status = check->reader ? check_all(check, &error) : error.status;
    store_reader_close(check->reader);
    free(check);
    /* A damaged file is a finding, not a failure to look. */
    if (status == STORE_CORRUPT && ret->ok)
        (void)say(ret, 0, "%s", error.text);
    if (status != STORE_OK && status != STORE_CORRUPT)
        return db_error(reterr, status, "%s", error.text);
    if (ret->ok)
        say_good(ret);
    return STORE_OK;
}
