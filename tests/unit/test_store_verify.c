/* Verification finds every change: each value of each column of every reading and record, rows
 * added, removed and exchanged, changed seals, and any byte of the file.
 *
 * Changes are made on a copy through a second connection of SQLite's own, as somebody with the
 * shell would. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <sodium/crypto_hash_sha256.h>
#include <sqlite3.h>

#include "tests/support/temp_dir.h"
#include "trivet/store.h"
#include "trivet/units.h"

static struct temp_dir original, copy;

static void
must(enum store_status status, const struct store_error *error)
{
    if (status != STORE_OK)
        fail_msg("%s", error->text);
}

/* Three probes, a reading each second, a seal every 10 s, records between, and an unsealed end:
 *   seq 1 start; seal 2 fixes (999, 10000]; 3 note; seal 4 fixes (10000, 20000]; 5 note; 6
 * note. Probe 9 reads only after 10 s, once, alone in no seal; readings after 20000 are not
 * sealed. */
static void
write_original(void)
{
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(original.path, NULL, &error);

    if (!store)
        fail_msg("%s", error.text);
    must(store_record(store, "start", 500, "{\"pid\":1}", NULL, &error), &error);
    for (int64_t s = 1; s <= 23; s++) {
        for (uint16_t probe = 1; probe <= 2; probe++) {
            struct reading reading = {.at_ms = s * 1000,
                                      .temp_mC = (int32_t)(60000 + s),
                                      .probe = probe,
                                      .quality = s % 5 == 0 ? BAD_TIMEOUT : READING_GOOD};
            must(store_reading(store, &reading, &error), &error);
        }
        if (s % 10 != 0)
            continue;
        must(store_seal(store, s * 1000, s * 1000, &error), &error);
        must(store_record(store, "note", s * 1000 + 1,
                          "{\"text\":\"as planned\",\"who\":\"AB\"}", NULL, &error),
             &error);
    }
    must(store_record(store, "note", 23000, "{\"text\":\"last\",\"who\":\"AB\"}", NULL, &error),
         &error);
    must(store_commit(store, &error), &error);
    store_close(store);
}

static int
set_up(void **state)
{
    (void)state;
    temp_dir_make(&original);
    temp_dir_make(&copy);
    write_original();
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    temp_dir_remove(&original);
    temp_dir_remove(&copy);
    return 0;
}

static void
change(const char *sql)
{
    sqlite3 *db = NULL;
    char *error = NULL;

    assert_int_equal(sqlite3_open(temp_dir_file(&copy, "trivet.db"), &db), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, &error) != SQLITE_OK)
        fail_msg("%s: %s", sql, error);
    if (sqlite3_total_changes(db) == 0)
        fail_msg("%s changed nothing", sql);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

static struct store_verdict
verify_copy(void)
{
    struct store_verdict verdict;
    struct store_error error = {STORE_OK, ""};

    must(store_verify(copy.path, &verdict, &error), &error);
    return verdict;
}

static struct store_verdict
after(const char *sql)
{
    struct store_verdict verdict;

    temp_dir_copy(&original, &copy);
    change(sql);
    verdict = verify_copy();
    if (verdict.ok)
        fail_msg("not found: %s", sql);
    assert_true(verdict.text[0] != '\0');
    return verdict;
}

static void
test_verify_untouched_store_holds(void **state)
{
    struct store_verdict verdict;
    struct store_error error = {STORE_OK, ""};

    (void)state;
    must(store_verify(original.path, &verdict, &error), &error);
    if (!verdict.ok)
        fail_msg("%s", verdict.text);
    assert_int_equal(verdict.records, 6);
    assert_int_equal(verdict.seals, 2);
    assert_int_equal(verdict.readings, 46);
    assert_int_equal(verdict.unsealed, 6);
    assert_int_equal(verdict.bad_seq, 0);
}

static void
test_verify_empty_store_holds(void **state)
{
    struct temp_dir empty;
    struct store_verdict verdict;
    struct store_error error = {STORE_OK, ""};

    (void)state;
    temp_dir_make(&empty);
    store_close(store_open(empty.path, NULL, &error));
    must(store_verify(empty.path, &verdict, &error), &error);
    assert_true(verdict.ok);
    assert_int_equal(verdict.records, 0);
    temp_dir_remove(&empty);
}

/* ---- readings ---- */

/* Every column of every sealed reading, changed in several ways. */
static void
test_verify_any_changed_value_of_a_sealed_reading_names_its_run(void **state)
{
    static const char *const changes[] = {
        "temp_mC = coalesce(temp_mC + 1, 0)",
        "temp_mC = coalesce(-temp_mC, 63000)",
        "temp_mC = iif(temp_mC IS NULL, 1, NULL)",
        "temp_mC = 99999999999",
        "quality = 100, temp_mC = 1",
        "quality = quality + 1",
        "quality = 204, temp_mC = NULL",
        "quality = -1",
        "quality = 70000",
        "at_ms = at_ms + 1",
        "at_ms = at_ms - 1",
        "at_ms = at_ms + 9000000",
        "at_ms = at_ms - 9000000",
        "at_ms = -9223372036854775808",
        "probe = probe + 7",
        "probe = 0",
        "probe = -1",
        "probe = 65536",
        "probe = probe + 65536",
    };
    char sql[200];

    (void)state;
    for (size_t i = 0; i < sizeof(changes) / sizeof(changes[0]); i++)
        for (int s = 1; s <= 20; s++)
            for (int probe = 1; probe <= 2; probe++) {
                struct store_verdict verdict;
                (void)snprintf(sql, sizeof(sql),
                               "UPDATE reading SET %s WHERE probe = %d AND at_ms = %d",
                               changes[i], probe, s * 1000);
                verdict = after(sql);
                /* The seal of that run, or the reading itself where it cannot be one at all. */
                if (verdict.bad_seq == (s <= 10 ? 2u : 4u))
                    assert_true(verdict.bad_from_ms < s * 1000 + 9000001);
                else if (verdict.bad_probe == 0 && !strstr(verdict.text, "probe") &&
                         verdict.bad_seq != 2)
                    fail_msg("%s: %s", sql, verdict.text);
            }
}

static void
test_verify_changed_temperature_names_seal_and_run(void **state)
{
    struct store_verdict verdict =
        after("UPDATE reading SET temp_mC = 63001 WHERE probe = 2 AND at_ms = 13000");

    (void)state;
    assert_int_equal(verdict.bad_seq, 4);
    assert_true(verdict.bad_from_ms == 10000 && verdict.bad_to_ms == 20000);
    assert_non_null(strstr(verdict.text, "at least one was changed"));
}

static void
test_verify_impossible_reading_names_probe_and_instant(void **state)
{
    struct store_verdict verdict =
        after("UPDATE reading SET temp_mC = NULL WHERE probe = 2 AND at_ms = 13000");

    (void)state;
    assert_int_equal(verdict.bad_seq, 4);
    assert_int_equal(verdict.bad_probe, 2);
    assert_true(verdict.bad_from_ms == 12999 && verdict.bad_to_ms == 13000);
    verdict = after("UPDATE reading SET quality = 300 WHERE probe = 1 AND at_ms = 23000");
    assert_int_equal(verdict.bad_seq, 0); /* not sealed */
    assert_int_equal(verdict.bad_probe, 1);
    assert_true(verdict.bad_to_ms == 23000);
}

static void
test_verify_removed_reading_names_run(void **state)
{
    struct store_verdict verdict =
        after("DELETE FROM reading WHERE probe = 1 AND at_ms = 1000");

    (void)state;
    assert_int_equal(verdict.bad_seq, 2);
    assert_non_null(strstr(verdict.text, "removed"));
    verdict = after("DELETE FROM reading WHERE probe = 2 AND at_ms = 20000");
    assert_int_equal(verdict.bad_seq, 4);
    verdict = after("DELETE FROM reading WHERE at_ms <= 20000 AND at_ms > 10000");
    assert_int_equal(verdict.bad_seq, 4);
    verdict = after("DELETE FROM reading");
    assert_int_equal(verdict.bad_seq, 2);
}

static void
test_verify_added_reading_is_named_with_its_probe(void **state)
{
    struct store_verdict verdict = after("INSERT INTO reading VALUES (7, 12345, 63000, 0)");

    (void)state;
    assert_int_equal(verdict.bad_seq, 4);
    assert_int_equal(verdict.bad_probe, 7);
    assert_true(verdict.bad_from_ms == 12344 && verdict.bad_to_ms == 12345);
    verdict = after("INSERT INTO reading VALUES (7, 12345, 63000, 0), (8, 12345, 63000, 0)");
    assert_int_equal(verdict.bad_seq, 4);
    assert_non_null(strstr(verdict.text, "added"));
}

static void
test_verify_reading_before_the_first_seal_is_found(void **state)
{
    struct store_verdict verdict = after("INSERT INTO reading VALUES (1, 999, 63000, 0)");

    (void)state;
    assert_int_equal(verdict.bad_probe, 1);
    assert_true(verdict.bad_to_ms == 999);
    verdict = after("INSERT INTO reading VALUES (5, -9223372036854775808, 63000, 0)");
    assert_int_equal(verdict.bad_probe, 5);
}

static void
test_verify_exchanged_readings_are_found(void **state)
{
    (void)state;
    (void)after(
        "UPDATE reading SET probe = 3 - probe + 100 WHERE at_ms = 4000;"
        "UPDATE reading SET probe = probe - 100, temp_mC = temp_mC + probe WHERE at_ms = 4000");
    (void)after("UPDATE reading SET at_ms = at_ms + 500 WHERE probe = 1 AND at_ms = 6000;"
                "UPDATE reading SET at_ms = 6000 WHERE probe = 1 AND at_ms = 7000;"
                "UPDATE reading SET at_ms = 7000 WHERE probe = 1 AND at_ms = 6500");
}

/* What no seal has fixed yet can still be changed unseen: the verdict counts it as unsealed. */
static void
test_verify_unsealed_readings_are_only_counted(void **state)
{
    struct store_verdict verdict;

    (void)state;
    temp_dir_copy(&original, &copy);
    change("UPDATE reading SET temp_mC = 1 WHERE probe = 1 AND at_ms = 23000");
    verdict = verify_copy();
    assert_true(verdict.ok);
    assert_int_equal(verdict.unsealed, 6);
}

/* ---- records ---- */

static void
test_verify_any_changed_column_of_a_record_names_it(void **state)
{
    static const char *const changes[] = {
        "at_ms = at_ms + 1",
        "at_ms = at_ms - 1",
        "at_ms = 0",
        "kind = 'notes'",
        "kind = ''",
        "kind = kind || char(0)",
        "kind = upper(kind)",
        "kind = 'a very long kind that no record of ours would ever have'",
        "body = body || ' '",
        "body = ''",
        "body = '{}'",
        "body = substr(body, 1, length(body) - 1)",
        "body = replace(body, '\"data\"', ' \"data\"')",
        "body = replace(body, '}', ' }')",
        "body = body || char(0) || 'x'",
        "hash = zeroblob(32)",
        "hash = zeroblob(31)",
        "hash = zeroblob(33)",
        "hash = x''",
    };
    char sql[200];

    (void)state;
    for (size_t i = 0; i < sizeof(changes) / sizeof(changes[0]); i++)
        for (unsigned seq = 1; seq <= 6; seq++) {
            struct store_verdict verdict;
            (void)snprintf(sql, sizeof(sql), "UPDATE record SET %s WHERE seq = %u", changes[i],
                           seq);
            verdict = after(sql);
            if (verdict.bad_seq != seq)
                fail_msg("%s: named %u: %s", sql, (unsigned)verdict.bad_seq, verdict.text);
        }
}

static bool
length_of(void *arg, const struct store_record *record)
{
    ((size_t *)arg)[record->seq] = record->body_len;
    return true;
}

/* Each byte of each body, and of each hash. */
static void
test_verify_any_changed_byte_of_a_record_names_it(void **state)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(original.path, &error);
    size_t lengths[7] = {0};
    char sql[300];

    (void)state;
    must(store_each_record(reader, 0, 6, NULL, length_of, lengths, &error), &error);
    store_reader_close(reader);
    for (unsigned seq = 1; seq <= 6; seq++) {
        for (size_t i = 1; i <= lengths[seq]; i++) {
            (void)snprintf(
                sql, sizeof(sql),
                "UPDATE record SET body = substr(body, 1, %zu) || char(unicode(substr(body, "
                "%zu, 1)) + 1) || substr(body, %zu) WHERE seq = %u",
                i - 1, i, i + 1, seq);
            assert_int_equal(after(sql).bad_seq, seq);
        }
        for (int i = 1; i <= 32; i++) {
            (void)snprintf(
                sql, sizeof(sql),
                "UPDATE record SET hash = CAST(substr(hash, 1, %d) || iif(substr(hash, %d, 1) "
                "= x'41', x'42', x'41') || substr(hash, %d) AS BLOB) WHERE seq = %u",
                i - 1, i, i + 1, seq);
            assert_int_equal(after(sql).bad_seq, seq);
        }
    }
}

static void
test_verify_removed_record_is_named(void **state)
{
    (void)state;
    for (unsigned seq = 1; seq <= 5; seq++) {
        char sql[80];
        (void)snprintf(sql, sizeof(sql), "DELETE FROM record WHERE seq = %u", seq);
        assert_int_equal(after(sql).bad_seq, seq);
    }
}

static void
test_verify_renumbered_records_are_found(void **state)
{
    (void)state;
    assert_int_equal(after("UPDATE record SET seq = 100 WHERE seq = 3;"
                           "UPDATE record SET seq = 3 WHERE seq = 5;"
                           "UPDATE record SET seq = 5 WHERE seq = 100")
                         .bad_seq,
                     3);
    assert_int_equal(after("UPDATE record SET seq = 0 WHERE seq = 1").bad_seq, 1);
    assert_int_equal(after("UPDATE record SET seq = -5 WHERE seq = 3").bad_seq, 1);
    assert_int_equal(after("INSERT INTO record SELECT 7, at_ms, kind, body, hash FROM record "
                           "WHERE seq = 6")
                         .bad_seq,
                     7);
    assert_int_equal(after("INSERT INTO record SELECT 99, at_ms, kind, body, hash FROM record "
                           "WHERE seq = 6")
                         .bad_seq,
                     7);
}

/* The end of the chain can be cut off without a trace inside: this is why exports print the
 * head. */
static void
test_verify_cut_end_holds_with_another_head(void **state)
{
    struct store_verdict whole, cut;
    struct store_error error = {STORE_OK, ""};

    (void)state;
    must(store_verify(original.path, &whole, &error), &error);
    temp_dir_copy(&original, &copy);
    change("DELETE FROM record WHERE seq = 6");
    cut = verify_copy();
    assert_true(cut.ok);
    assert_int_equal(cut.records, 5);
    assert_memory_not_equal(cut.head, whole.head, 32);
}

/* Somebody who knows the format makes every hash of the copy follow again. */
static void
rehash(void)
{
    unsigned char before[32] = {0};
    sqlite3 *db = NULL;
    sqlite3_stmt *read = NULL, *write = NULL;

    assert_int_equal(sqlite3_open(temp_dir_file(&copy, "trivet.db"), &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(db, "SELECT seq, body FROM record ORDER BY seq", -1, &read, NULL),
        SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(db, "UPDATE record SET hash = ?1 WHERE seq = ?2", -1, &write, NULL),
        SQLITE_OK);
    while (sqlite3_step(read) == SQLITE_ROW) {
        crypto_hash_sha256_state state;
        crypto_hash_sha256_init(&state);
        crypto_hash_sha256_update(&state, before, 32);
        crypto_hash_sha256_update(&state, sqlite3_column_text(read, 1),
                                  (unsigned long long)sqlite3_column_bytes(read, 1));
        crypto_hash_sha256_final(&state, before);
        (void)sqlite3_bind_blob(write, 1, before, 32, SQLITE_STATIC);
        (void)sqlite3_bind_int64(write, 2, sqlite3_column_int64(read, 0));
        assert_int_equal(sqlite3_step(write), SQLITE_DONE);
        (void)sqlite3_reset(write);
    }
    (void)sqlite3_finalize(read);
    (void)sqlite3_finalize(write);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

/* What is wrong even when every hash follows: each check stands on its own. */
static void
test_verify_forged_chain_is_found_by_what_it_says(void **state)
{
    static const struct {
        unsigned seq;
        const char *words, *set;
    } forgeries[] = {
        {6, "older than the record before",
         "at_ms = 400, body = replace(body, '\"at_ms\":23000', '\"at_ms\":400')"},
        {3, "do not agree", "body = replace(body, ',\"kind\"', ', \"kind\"')"},
        {3, "do not agree", "body = replace(body, '\"seq\":3', '\"seq\":4')"},
        {3, "do not agree", "kind = 'Note', body = replace(body, '\"note\"', '\"Note\"')"},
        {4, "begins at 10001 ms",
         "body = replace(body, '\"from_ms\":10000', '\"from_ms\":10001')"},
        {2, "lies before the first seal",
         "body = replace(body, '\"from_ms\":999', '\"from_ms\":1000')"},
        {2, "removed", "body = replace(body, '\"count\":20', '\"count\":21')"},
        {2, "not a seal", "body = replace(body, '\"count\":20', '\"count\":020')"},
        {4, "not a seal", "body = replace(body, '\"to_ms\":20000', '\"to_ms\":10000')"},
        {4, "not a seal", "body = replace(body, '\"digest\":\"', '\"digest\":\"0')"},
        {4, "not a seal", "body = replace(body, '\"digest\"', '\"Digest\"')"},
    };

    (void)state;
    temp_dir_copy(&original, &copy);
    rehash();
    assert_true(verify_copy().ok); /* the helper makes the hashes that the store makes */
    for (size_t i = 0; i < sizeof(forgeries) / sizeof(forgeries[0]); i++) {
        struct store_verdict verdict;
        char sql[300];
        (void)snprintf(sql, sizeof(sql), "UPDATE record SET %s WHERE seq = %u",
                       forgeries[i].set, forgeries[i].seq);
        temp_dir_copy(&original, &copy);
        change(sql);
        rehash();
        verdict = verify_copy();
        if (verdict.ok || verdict.bad_seq != forgeries[i].seq ||
            !strstr(verdict.text, forgeries[i].words))
            fail_msg("%s: %u: %s", sql, (unsigned)verdict.bad_seq, verdict.text);
    }
}

static void
test_verify_run_of_one_probe_names_the_probe(void **state)
{
    struct store_error error = {STORE_OK, ""};
    struct temp_dir keep = copy, single;
    struct store_verdict verdict;
    struct store *store;

    (void)state;
    temp_dir_make(&single);
    store = store_open(single.path, NULL, &error);
    assert_non_null(store);
    for (int64_t s = 1; s <= 10; s++) {
        struct reading reading = {.at_ms = s * 1000, .temp_mC = 4000, .probe = 5};
        must(store_reading(store, &reading, &error), &error);
    }
    must(store_seal(store, 10000, 10000, &error), &error);
    must(store_commit(store, &error), &error);
    store_close(store);
    copy = single;
    change("UPDATE reading SET temp_mC = 3999 WHERE at_ms = 4000");
    verdict = verify_copy();
    copy = keep;
    assert_false(verdict.ok);
    assert_int_equal(verdict.bad_seq, 1);
    assert_int_equal(verdict.bad_probe, 5);
    assert_true(verdict.bad_from_ms == 999 && verdict.bad_to_ms == 10000);
    temp_dir_remove(&single);
}

/* ---- the file ---- */

static char *
dump(void)
{
    static const char sql[] =
        "SELECT group_concat(x, char(10)) FROM (SELECT seq || '|' || at_ms || '|' || kind || "
        "'|' || body "
        "|| '|' || hex(hash) AS x FROM record NOT INDEXED UNION ALL SELECT probe || '|' || "
        "at_ms || '|' || "
        "quote(temp_mC) || '|' || quality FROM reading WHERE at_ms <= 20000)";
    sqlite3 *db = NULL;
    sqlite3_stmt *stmt = NULL;
    char *text = NULL;

    if (sqlite3_open_v2(temp_dir_file(&copy, "trivet.db"), &db, SQLITE_OPEN_READONLY, NULL) ==
            SQLITE_OK &&
        sqlite3_prepare_v2(db, sql, -1, &stmt, NULL) == SQLITE_OK &&
        sqlite3_step(stmt) == SQLITE_ROW)
        text = sqlite3_mprintf("%s", sqlite3_column_text(stmt, 0));
    sqlite3_finalize(stmt);
    (void)sqlite3_close(db);
    return text;
}

static void
flip(long at, unsigned char with)
{
    FILE *file = fopen(temp_dir_file(&copy, "trivet.db"), "r+");
    int byte;

    assert_non_null(file);
    assert_int_equal(fseek(file, at, SEEK_SET), 0);
    byte = fgetc(file);
    assert_int_equal(fseek(file, at, SEEK_SET), 0);
    assert_true(fputc(byte ^ with, file) != EOF);
    assert_int_equal(fclose(file), 0);
}

/* A flipped byte anywhere in the file never brings verification down, and never passes unless
 * every sealed row reads as before (free space, counters). Bytes are taken in steps;
 * TRIVET_ROUNDS=1000000 takes each. */
static void
test_verify_any_flipped_byte_of_the_file_is_found_or_harmless(void **state)
{
    const char *rounds = getenv("TRIVET_ROUNDS");
    long step, size, found = 0, harmless = 0;
    struct stat info;
    char *expected;

    (void)state;
    temp_dir_copy(&original, &copy);
    expected = dump();
    assert_non_null(expected);
    assert_int_equal(stat(temp_dir_file(&original, "trivet.db"), &info), 0);
    size = (long)info.st_size;
    assert_true(size >= 4 * 4096);
    step = rounds ? size / atol(rounds) : 0;
    step = rounds ? (step < 1 ? 1 : step) : 7;
    for (long at = 0; at < size; at += step) {
        struct store_verdict verdict;
        struct store_error error = {STORE_OK, ""};
        unsigned char with = (unsigned char)(1u << (at % 8));
        enum store_status status;
        flip(at, with);
        status = store_verify(copy.path, &verdict, &error);
        if (status == STORE_OK && verdict.ok) {
            char *now = dump();
            if (!now || strcmp(now, expected) != 0)
                fail_msg("byte %ld: changed rows pass", at);
            sqlite3_free(now);
            harmless++;
        } else {
            found++;
            assert_true((status == STORE_OK ? verdict.text : error.text)[0] != '\0');
        }
        flip(at, with);
    }
    assert_true(found > 0 && harmless > 0);
    print_message("flipped %ld bytes: %ld found, %ld harmless\n", found + harmless, found,
                  harmless);
    sqlite3_free(expected);
}

static void
test_verify_cut_file_is_a_verdict(void **state)
{
    struct stat info;

    (void)state;
    assert_int_equal(stat(temp_dir_file(&original, "trivet.db"), &info), 0);
    for (long size = (long)info.st_size - 1; size > 0; size -= 1111) {
        struct store_verdict verdict;
        struct store_error error = {STORE_OK, ""};
        temp_dir_copy(&original, &copy);
        assert_int_equal(truncate(temp_dir_file(&copy, "trivet.db"), size), 0);
        must(store_verify(copy.path, &verdict, &error), &error);
        if (verdict.ok)
            fail_msg("cut to %ld bytes passes", size);
    }
}

static void
test_verify_changed_schema_is_a_verdict(void **state)
{
    struct store_verdict verdict;

    (void)state;
    temp_dir_copy(&original, &copy);
    change(
        "UPDATE reading SET temp_mC = temp_mC + 0; CREATE VIEW nice AS SELECT * FROM reading");
    verdict = verify_copy();
    assert_false(verdict.ok);
    assert_non_null(strstr(verdict.text, "tables"));
}

static void
test_verify_missing_directory_is_an_error(void **state)
{
    struct store_verdict verdict;
    struct store_error error = {STORE_OK, ""};

    (void)state;
    assert_int_equal(store_verify(temp_dir_file(&copy, "none"), &verdict, &error),
                     STORE_NO_DIRECTORY);
    assert_non_null(strstr(error.text, "does not exist"));
}

/* With TRIVET_LEAVE_STORE set the program only writes its store there:
 * tests/system/test_storage_format.py reads it. */
static int
leave_store(const char *directory)
{
    if (strlen(directory) >= sizeof(original.path))
        return 1;
    (void)strcpy(original.path, directory);
    write_original();
    return 0;
}

int
main(void)
{
    const char *directory = getenv("TRIVET_LEAVE_STORE");
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_verify_untouched_store_holds),
        cmocka_unit_test(test_verify_empty_store_holds),
        cmocka_unit_test(test_verify_any_changed_value_of_a_sealed_reading_names_its_run),
        cmocka_unit_test(test_verify_changed_temperature_names_seal_and_run),
        cmocka_unit_test(test_verify_impossible_reading_names_probe_and_instant),
        cmocka_unit_test(test_verify_removed_reading_names_run),
        cmocka_unit_test(test_verify_added_reading_is_named_with_its_probe),
        cmocka_unit_test(test_verify_reading_before_the_first_seal_is_found),
        cmocka_unit_test(test_verify_exchanged_readings_are_found),
        cmocka_unit_test(test_verify_unsealed_readings_are_only_counted),
        cmocka_unit_test(test_verify_any_changed_column_of_a_record_names_it),
        cmocka_unit_test(test_verify_any_changed_byte_of_a_record_names_it),
        cmocka_unit_test(test_verify_removed_record_is_named),
        cmocka_unit_test(test_verify_renumbered_records_are_found),
        cmocka_unit_test(test_verify_cut_end_holds_with_another_head),
        cmocka_unit_test(test_verify_forged_chain_is_found_by_what_it_says),
        cmocka_unit_test(test_verify_run_of_one_probe_names_the_probe),
        cmocka_unit_test(test_verify_any_flipped_byte_of_the_file_is_found_or_harmless),
        cmocka_unit_test(test_verify_cut_file_is_a_verdict),
        cmocka_unit_test(test_verify_changed_schema_is_a_verdict),
        cmocka_unit_test(test_verify_missing_directory_is_an_error),
    };

    if (directory)
        return leave_store(directory);
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
