/* The store's door: what is written comes back, what cannot be opened says why, a rollback
 * leaves no trace.
 *
 * Verification has its own test; the stored format is checked from outside by
 * tests/system/test_storage_format.py. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sqlite3.h>

#include "tests/support/temp_dir.h"
#include "trivet/store.h"
#include "trivet/units.h"

static struct temp_dir dir;

static int
set_up(void **state)
{
    (void)state;
    temp_dir_make(&dir);
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    temp_dir_remove(&dir);
    return 0;
}

static struct store *
open_ok(void)
{
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(dir.path, NULL, &error);

    if (!store)
        fail_msg("%s", error.text);
    return store;
}

static struct reading
at(uint16_t probe, int64_t at_ms, int32_t temp_mC)
{
    return (struct reading){
        .at_ms = at_ms, .temp_mC = temp_mC, .probe = probe, .quality = READING_GOOD};
}

static void
put(struct store *store, struct reading reading)
{
    struct store_error error = {STORE_OK, ""};

    if (store_reading(store, &reading, &error) != STORE_OK)
        fail_msg("%s", error.text);
}

static uint64_t
note(struct store *store, int64_t at_ms, const char *data)
{
    struct store_error error = {STORE_OK, ""};
    uint64_t seq = 0;

    if (store_record(store, "note", at_ms, data, &seq, &error) != STORE_OK)
        fail_msg("%s", error.text);
    return seq;
}

static void
commit(struct store *store)
{
    struct store_error error = {STORE_OK, ""};

    if (store_commit(store, &error) != STORE_OK)
        fail_msg("%s", error.text);
}

static void
raw(const char *sql)
{
    sqlite3 *db = NULL;
    char *error = NULL;

    assert_int_equal(sqlite3_open(temp_dir_file(&dir, "trivet.db"), &db), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, &error) != SQLITE_OK)
        fail_msg("%s: %s", sql, error);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

struct seen {
    struct reading readings[64];
    size_t count, stop_after;
};

static bool
see(void *arg, const struct reading *reading)
{
    struct seen *seen = arg;

    assert_true(seen->count < 64);
    seen->readings[seen->count++] = *reading;
    return seen->stop_after == 0 || seen->count < seen->stop_after;
}

static struct store_reader *
reader_ok(void)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(dir.path, &error);

    if (!reader)
        fail_msg("%s", error.text);
    return reader;
}

static void
read_all(struct seen *seen, uint16_t probe, int64_t from_ms, int64_t to_ms)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = reader_ok();

    if (store_each_reading(reader, probe, from_ms, to_ms, see, seen, &error) != STORE_OK)
        fail_msg("%s", error.text);
    store_reader_close(reader);
}

/* ---- what is written comes back ---- */

static void
test_open_empty_directory_makes_an_empty_store(void **state)
{
    const uint8_t zeros[32] = {0};
    struct store *store = open_ok();
    struct stat info;

    (void)state;
    assert_int_equal(store_head(store)->seq, 0);
    assert_true(store_head(store)->at_ms == TIME_NONE);
    assert_true(store_head(store)->sealed_to_ms == TIME_NONE);
    assert_memory_equal(store_head(store)->hash, zeros, 32);
    assert_false(store_dirty(store));
    assert_int_equal(stat(temp_dir_file(&dir, "trivet.db"), &info), 0);
    assert_int_equal(info.st_mode & 0777, 0640);
    assert_int_equal(stat(temp_dir_file(&dir, "trivet.db-wal"), &info), 0);
    assert_int_equal(info.st_mode & 0777, 0640);
    assert_int_equal(stat(temp_dir_file(&dir, "lock"), &info), 0);
    assert_int_equal(info.st_mode & 0777, 0640);
    store_close(store);
}

static void
test_reading_committed_comes_back_in_order(void **state)
{
    struct store *store = open_ok();
    struct seen seen = {.count = 0};
    struct reading bad = {.at_ms = 2000, .temp_mC = 77, .probe = 3, .quality = BAD_CRC};

    (void)state;
    put(store, at(7, 1000, 63000));
    put(store, at(3, 1000, -18250));
    put(store, bad);
    put(store, at(1, 2000, INT32_MAX));
    put(store, at(65535, 3000, INT32_MIN + 1));
    assert_true(store_dirty(store));
    assert_true(store_head(store)->at_ms == 3000);
    read_all(&seen, 0, TIME_NONE, INT64_MAX);
    assert_int_equal(seen.count, 0); /* not committed: not seen */
    commit(store);
    assert_false(store_dirty(store));
    read_all(&seen, 0, TIME_NONE, INT64_MAX);
    assert_int_equal(seen.count, 5);
    assert_int_equal(seen.readings[0].probe, 3);
    assert_int_equal(seen.readings[0].temp_mC, -18250);
    assert_int_equal(seen.readings[1].probe, 7);
    assert_int_equal(seen.readings[2].probe, 1);
    assert_int_equal(seen.readings[2].temp_mC, INT32_MAX);
    assert_int_equal(seen.readings[3].probe, 3);
    assert_int_equal(seen.readings[3].temp_mC, TEMP_NONE);
    assert_int_equal(seen.readings[3].quality, BAD_CRC);
    assert_int_equal(seen.readings[4].probe, 65535);
    assert_int_equal(seen.readings[4].temp_mC, INT32_MIN + 1);
    store_close(store);
}

static void
test_each_reading_range_is_open_below_and_closed_above(void **state)
{
    struct store *store = open_ok();
    struct seen seen = {.count = 0};

    (void)state;
    for (int64_t i = 1; i <= 5; i++) {
        put(store, at(2, i * 1000, 1000));
        put(store, at(4, i * 1000, 2000));
    }
    commit(store);
    read_all(&seen, 2, 2000, 4000);
    assert_int_equal(seen.count, 2);
    assert_true(seen.readings[0].at_ms == 3000 && seen.readings[1].at_ms == 4000);
    seen = (struct seen){.stop_after = 3};
    read_all(&seen, 0, 0, INT64_MAX);
    assert_int_equal(seen.count, 3); /* the visitor had enough */
    seen = (struct seen){.count = 0};
    read_all(&seen, 9, 0, INT64_MAX);
    assert_int_equal(seen.count, 0);
    store_close(store);
}

struct order {
    int64_t at_ms;
    uint16_t probe;
    uint64_t count;
};

static bool
check_order(void *arg, const struct reading *reading)
{
    struct order *order = arg;

    assert_true(reading->at_ms > order->at_ms ||
                (reading->at_ms == order->at_ms && reading->probe > order->probe));
    order->at_ms = reading->at_ms;
    order->probe = reading->probe;
    order->count++;
    return true;
}

/* More rows than any page, of probes with very different numbers of them. */
static void
test_each_reading_of_all_probes_merges_pages_in_order(void **state)
{
    struct store *store = open_ok();
    struct order order = {.at_ms = TIME_NONE};
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader;
    uint64_t written = 0;

    (void)state;
    for (int64_t i = 1; i <= 9000; i++)
        for (uint16_t probe = 1; probe <= 40; probe++)
            if (i % probe == 0) {
                put(store, at(probe, i, (int32_t)i));
                written++;
            }
    commit(store);
    reader = reader_ok();
    assert_int_equal(
        store_each_reading(reader, 0, TIME_NONE, INT64_MAX, check_order, &order, &error),
        STORE_OK);
    assert_true(order.count == written);
    store_reader_close(reader);
    store_close(store);
}

struct records {
    char text[8][200];
    uint8_t hash[8][32];
    size_t count;
};

static bool
see_record(void *arg, const struct store_record *record)
{
    struct records *records = arg;

    assert_true(records->count < 8);
    assert_int_equal(strlen(record->body), record->body_len);
    (void)snprintf(records->text[records->count], 200, "%llu %lld %s %.*s %s",
                   (unsigned long long)record->seq, (long long)record->at_ms, record->kind,
                   (int)record->data_len, record->data, record->body);
    memcpy(records->hash[records->count++], record->hash, 32);
    return true;
}

/* Computed with coreutils: (head -c 32 /dev/zero; printf %s "$body1") | sha256sum, and so on
 * with its 32 bytes. */
static const uint8_t chained[2][32] = {
    {0x02, 0xdf, 0x83, 0xb9, 0x0c, 0xe0, 0xa5, 0xd9, 0x89, 0x6e, 0xa4,
     0xde, 0x3b, 0x50, 0xf6, 0x09, 0xfd, 0xf4, 0x35, 0x81, 0x85, 0xf6,
     0x26, 0xde, 0xc7, 0xb0, 0xcc, 0xad, 0x93, 0x89, 0x57, 0x6a},
    {0xb3, 0x8a, 0x5a, 0xd0, 0x5e, 0xe4, 0x45, 0x21, 0x66, 0x14, 0xee,
     0x15, 0xfe, 0xb8, 0xab, 0x6f, 0x1e, 0xea, 0xe6, 0x30, 0x76, 0xef,
     0x58, 0x4e, 0xc2, 0x1e, 0x58, 0x50, 0x59, 0xcd, 0xe7, 0x3e},
};

static void
test_record_committed_has_canonical_body_and_chains(void **state)
{
    struct store *store = open_ok();
    struct records records = {.count = 0};
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader;
    struct store_head head;

    (void)state;
    assert_int_equal(note(store, 5000, "{\"text\":\"door open\"}"), 1);
    assert_int_equal(store_record(store, "stop", 5000, "{}", NULL, &error), STORE_OK);
    commit(store);
    reader = reader_ok();
    assert_int_equal(
        store_each_record(reader, 0, UINT64_MAX, NULL, see_record, &records, &error), STORE_OK);
    assert_int_equal(records.count, 2);
    assert_string_equal(
        records.text[0],
        "1 5000 note {\"text\":\"door open\"} "
        "{\"at_ms\":5000,\"data\":{\"text\":\"door open\"},\"kind\":\"note\",\"seq\":1}");
    assert_string_equal(
        records.text[1],
        "2 5000 stop {} {\"at_ms\":5000,\"data\":{},\"kind\":\"stop\",\"seq\":2}");
    assert_int_equal(store_reader_head(reader, &head, &error), STORE_OK);
    assert_int_equal(head.seq, 2);
    assert_true(head.at_ms == 5000);
    assert_memory_equal(records.hash[0], chained[0], 32);
    assert_memory_equal(records.hash[1], chained[1], 32);
    assert_memory_equal(head.hash, records.hash[1], 32);
    assert_memory_equal(store_head(store)->hash, records.hash[1], 32);
    store_reader_close(reader);
    store_close(store);
}

static void
test_each_record_of_a_kind_and_range(void **state)
{
    struct store *store = open_ok();
    struct records records = {.count = 0};
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader;

    (void)state;
    for (int i = 0; i < 3; i++) {
        (void)note(store, i, "{}");
        assert_int_equal(store_record(store, "told", i, "{}", NULL, &error), STORE_OK);
    }
    commit(store);
    reader = reader_ok();
    assert_int_equal(store_each_record(reader, 1, 5, "note", see_record, &records, &error),
                     STORE_OK);
    assert_int_equal(records.count, 2);
    assert_int_equal(records.text[0][0], '3');
    assert_int_equal(records.text[1][0], '5');
    store_reader_close(reader);
    store_close(store);
}

static bool
count_bytes(void *arg, const struct store_record *record)
{
    *(size_t *)arg += record->data_len;
    return true;
}

static void
test_record_of_the_greatest_size_comes_back(void **state)
{
    enum { FILL = 2099000 };
    struct store *store = open_ok();
    char *data = malloc(FILL + 20);
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader;
    size_t bytes = 0;
    int len = snprintf(data, FILL + 20, "{\"text\":\"%0*d\"}", FILL, 0);

    (void)state;
    for (int i = 0; i < 3; i++)
        assert_int_equal(store_record(store, "plan", 1, data, NULL, &error), STORE_OK);
    commit(store);
    reader = reader_ok();
    assert_int_equal(store_each_record(reader, 0, 9, NULL, count_bytes, &bytes, &error),
                     STORE_OK);
    assert_int_equal(bytes, 3 * (size_t)len);
    store_reader_close(reader);
    store_close(store);
    free(data);
}

/* ---- commit, rollback, reopening ---- */

static void
test_close_without_commit_leaves_nothing(void **state)
{
    struct store *store = open_ok();
    struct seen seen = {.count = 0};

    (void)state;
    (void)note(store, 1000, "{}");
    commit(store);
    put(store, at(1, 2000, 1));
    (void)note(store, 2000, "{}");
    store_close(store);
    store = open_ok();
    assert_int_equal(store_head(store)->seq, 1);
    assert_true(store_head(store)->at_ms == 1000);
    read_all(&seen, 0, TIME_NONE, INT64_MAX);
    assert_int_equal(seen.count, 0);
    store_close(store);
}

static void
test_failed_write_rolls_back_to_the_last_commit(void **state)
{
    struct store *store = open_ok();
    struct store_error error = {STORE_OK, ""};
    struct reading twice = at(1, 3000, 5);
    struct store_head before;

    (void)state;
    put(store, at(1, 1000, 5));
    (void)note(store, 1000, "{}");
    commit(store);
    before = *store_head(store);
    (void)note(store, 3000, "{}");
    put(store, twice);
    assert_int_equal(store_reading(store, &twice, &error), STORE_IO);
    assert_non_null(strstr(error.text, "storing a reading"));
    assert_memory_equal(store_head(store), &before, sizeof(before));
    assert_false(store_dirty(store));
    put(store, twice);
    assert_int_equal(note(store, 3000, "{}"), 2);
    commit(store);
    store_close(store);
    store = open_ok();
    assert_int_equal(store_head(store)->seq, 2);
    store_close(store);
}

static void
test_reopened_store_goes_on_where_it_ended(void **state)
{
    struct store *store = open_ok();
    struct store_error error = {STORE_OK, ""};
    struct store_head before;

    (void)state;
    put(store, at(1, 1000, 5));
    put(store, at(2, 2500, 5));
    assert_int_equal(store_seal(store, 2000, 2600, &error), STORE_OK);
    commit(store);
    put(store, at(2, 9000, 5));
    commit(store);
    before = *store_head(store);
    assert_true(before.at_ms == 9000 && before.sealed_to_ms == 2000 && before.seq == 1);
    store_close(store);
    store = open_ok();
    assert_true(store_head(store)->at_ms == 9000);
    assert_true(store_head(store)->sealed_to_ms == 2000);
    assert_memory_equal(store_head(store)->hash, before.hash, 32);
    store_close(store);
}

static void
test_seal_without_readings_writes_nothing(void **state)
{
    struct store *store = open_ok();
    struct store_error error = {STORE_OK, ""};

    (void)state;
    assert_int_equal(store_seal(store, 5000, 5000, &error), STORE_OK);
    assert_int_equal(store_head(store)->seq, 0);
    put(store, at(1, 6000, 1));
    assert_int_equal(store_seal(store, 5999, 6000, &error), STORE_OK);
    assert_int_equal(store_head(store)->seq, 0);
    assert_int_equal(store_seal(store, 6000, 6000, &error), STORE_OK);
    assert_int_equal(store_head(store)->seq, 1);
    assert_int_equal(store_seal(store, 6000, 6000, &error), STORE_OK);
    assert_int_equal(store_seal(store, 7000, 7000, &error), STORE_OK);
    assert_int_equal(store_head(store)->seq, 1);
    store_close(store);
}

/* printf '1000,1,63000,0\n1000,2,,200\n2000,1,-5,100\n' | sha256sum */
static void
test_seal_digest_is_that_of_the_lines(void **state)
{
    struct store *store = open_ok();
    struct store_error error = {STORE_OK, ""};
    struct records records = {.count = 0};
    struct store_reader *reader;
    struct reading bad = {
        .at_ms = 1000, .temp_mC = TEMP_NONE, .probe = 2, .quality = BAD_TIMEOUT};
    struct reading suspect = {
        .at_ms = 2000, .temp_mC = -5, .probe = 1, .quality = SUSPECT_LEFT_FOOD};

    (void)state;
    put(store, bad);
    put(store, at(1, 1000, 63000));
    put(store, suspect);
    put(store, at(2, 3000, 1));
    assert_int_equal(store_seal(store, 2000, 3000, &error), STORE_OK);
    commit(store);
    reader = reader_ok();
    assert_int_equal(store_each_record(reader, 0, 9, "seal", see_record, &records, &error),
                     STORE_OK);
    assert_int_equal(records.count, 1);
    assert_non_null(strstr(
        records.text[0], "{\"count\":3,\"digest\":"
                         "\"03a358570fbd354b7de51e294dfa32a98e151ea741149161735ed88b28431adb\","
                         "\"from_ms\":999,\"to_ms\":2000}"));
    store_reader_close(reader);
    store_close(store);
}

static void
test_cache_put_is_replaced_and_read_back(void **state)
{
    struct store *store = open_ok();
    struct store_error error = {STORE_OK, ""};
    size_t size = 9;
    char *blob;

    (void)state;
    assert_null(store_cache_get(store, "engine", &size));
    assert_int_equal(store_cache_put(store, "engine", "first", 5, &error), STORE_OK);
    assert_int_equal(store_cache_put(store, "engine", "2nd", 3, &error), STORE_OK);
    assert_int_equal(store_cache_put(store, "none", NULL, 0, &error), STORE_OK);
    commit(store);
    store_close(store);
    store = open_ok();
    blob = store_cache_get(store, "engine", &size);
    assert_int_equal(size, 3);
    assert_memory_equal(blob, "2nd", 3);
    free(blob);
    blob = store_cache_get(store, "none", &size);
    assert_non_null(blob);
    assert_int_equal(size, 0);
    free(blob);
    assert_int_equal(store_head(store)->seq, 0); /* beside the chain */
    store_close(store);
}

/* ---- what cannot be opened says why ---- */

static void
refuse(enum store_status expected, const char *words)
{
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(dir.path, NULL, &error);

    assert_null(store);
    if (error.status != expected || !strstr(error.text, words))
        fail_msg("status %d, '%s', not %d, '%s'", error.status, error.text, expected, words);
}

static void
write_file(const char *name, const void *bytes, size_t len)
{
    FILE *file = fopen(temp_dir_file(&dir, name), "w");

    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, len, file), len);
    assert_int_equal(fclose(file), 0);
}

static void
test_open_missing_directory_says_so(void **state)
{
    struct store_error error = {STORE_OK, ""};

    (void)state;
    assert_null(store_open(temp_dir_file(&dir, "none"), NULL, &error));
    assert_int_equal(error.status, STORE_NO_DIRECTORY);
    assert_non_null(strstr(error.text, "/none' does not exist; create"));
    assert_null(store_reader_open(temp_dir_file(&dir, "none"), &error));
    assert_int_equal(error.status, STORE_NO_DIRECTORY);
}

static void
test_open_held_store_names_the_holder(void **state)
{
    struct store *store = open_ok();
    char words[60];

    (void)state;
    (void)snprintf(words, sizeof(words), "(process %ld)", (long)getpid());
    refuse(STORE_IN_USE, words);
    store_close(store);
    store_close(open_ok());
}

static void
test_open_newer_schema_says_so(void **state)
{
    (void)state;
    store_close(open_ok());
    raw("PRAGMA user_version = 2");
    refuse(STORE_NEWER, "newer version (schema 2");
}

static void
test_open_foreign_database_says_so(void **state)
{
    (void)state;
    raw("CREATE TABLE dish(name TEXT)");
    refuse(STORE_CORRUPT, "another program");
}

static void
test_open_changed_tables_says_so(void **state)
{
    (void)state;
    store_close(open_ok());
    raw("CREATE TRIGGER quiet BEFORE INSERT ON reading BEGIN SELECT RAISE(IGNORE); END");
    refuse(STORE_CORRUPT, "tables");
}

static void
test_open_garbage_says_damaged(void **state)
{
    char bytes[8192];

    (void)state;
    memset(bytes, 'x', sizeof(bytes));
    write_file("trivet.db", bytes, sizeof(bytes));
    refuse(STORE_CORRUPT, "damaged");
}

static void
test_open_cut_database_says_so(void **state)
{
    struct store *store = open_ok();

    (void)state;
    (void)note(store, 1, "{}");
    commit(store);
    store_close(store);
    write_file("trivet.db", "", 0);
    write_file("trivet.db-wal", "log", 3);
    refuse(STORE_CORRUPT, "it was cut");
}

static void
test_open_changed_last_record_says_so(void **state)
{
    struct store *store = open_ok();

    (void)state;
    (void)note(store, 1, "{\"text\":\"a\"}");
    (void)note(store, 2, "{\"text\":\"b\"}");
    commit(store);
    store_close(store);
    raw("UPDATE record SET hash = zeroblob(32) WHERE seq = 1");
    refuse(STORE_CORRUPT, "record 2");
    raw("DELETE FROM record WHERE seq = 1");
    refuse(STORE_CORRUPT, "record 2");
}

/* In a child without the superuser's rights: 0 when the check held. */
static void
as_nobody(int (*check)(void))
{
    pid_t pid = fork();
    int status;

    assert_true(pid >= 0);
    if (pid == 0) {
        if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0))
            _exit(90);
        _exit(check());
    }
    assert_int_equal(waitpid(pid, &status, 0), pid);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

static int
cannot_write(void)
{
    struct store_error error = {STORE_OK, ""};

    if (store_open(dir.path, NULL, &error))
        return 1;
    return error.status == STORE_NO_DIRECTORY && strstr(error.text, "no permission") ? 0 : 2;
}

static void
test_open_directory_without_permission_says_so(void **state)
{
    (void)state;
    assert_int_equal(chmod(dir.path, 0555), 0);
    as_nobody(cannot_write);
}

static bool
take_one(void *arg, const struct reading *reading)
{
    *(int32_t *)arg = reading->temp_mC;
    return true;
}

static int
can_read(void)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(dir.path, &error);
    int32_t temp_mC = 0;
    enum store_status status;

    if (!reader) {
        fprintf(stderr, "%s\n", error.text);
        return 1;
    }
    status = store_each_reading(reader, 1, 0, INT64_MAX, take_one, &temp_mC, &error);
    store_reader_close(reader);
    if (status != STORE_OK)
        fprintf(stderr, "%s\n", error.text);
    return status == STORE_OK && temp_mC == 4500 ? 0 : 2;
}

static void
test_reader_of_closed_store_needs_no_write_permission(void **state)
{
    static const char *const files[] = {"trivet.db", "trivet.db-wal", "trivet.db-shm"};
    struct store *store = open_ok();

    (void)state;
    put(store, at(1, 1000, 4500));
    commit(store);
    store_close(store);
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(chmod(temp_dir_file(&dir, files[i]), 0444), 0);
    assert_int_equal(chmod(dir.path, 0555), 0);
    as_nobody(can_read);
}

static char copy_path[300];

static int
can_read_copy(void)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(copy_path, &error);
    int32_t temp_mC = 0;
    enum store_status status = reader == NULL ? error.status
                                              : store_each_reading(reader, 1, 0, INT64_MAX,
                                                                   take_one, &temp_mC, &error);

    store_reader_close(reader);
    if (status != STORE_OK)
        fprintf(stderr, "%s\n", error.text);
    return status == STORE_OK && temp_mC == 4500 ? 0 : 2;
}

/* As `sqlite3 trivet.db ".backup ..."` makes it, on a stick that nobody may write to. The name
 * is one that means something in a URI. */
static void
test_reader_of_a_copy_without_its_log_needs_no_write_permission(void **state)
{
    struct store *store = open_ok();
    char file[320];
    sqlite3 *from = NULL, *to = NULL;

    (void)state;
    put(store, at(1, 1000, 4500));
    commit(store);
    (void)snprintf(copy_path, sizeof(copy_path), "%s", temp_dir_file(&dir, "stick #1?%41"));
    assert_int_equal(mkdir(copy_path, 0755), 0);
    (void)snprintf(file, sizeof(file), "%s/trivet.db", copy_path);
    assert_int_equal(sqlite3_open(temp_dir_file(&dir, "trivet.db"), &from), SQLITE_OK);
    assert_int_equal(sqlite3_open(file, &to), SQLITE_OK);
    sqlite3_backup *backup = sqlite3_backup_init(to, "main", from, "main");
    assert_non_null(backup);
    assert_int_equal(sqlite3_backup_step(backup, -1), SQLITE_DONE);
    assert_int_equal(sqlite3_backup_finish(backup), SQLITE_OK);
    assert_int_equal(sqlite3_close(to), SQLITE_OK);
    assert_int_equal(sqlite3_close(from), SQLITE_OK);
    store_close(store);
    assert_int_equal(chmod(file, 0444), 0);
    assert_int_equal(chmod(copy_path, 0555), 0);
    assert_int_equal(chmod(dir.path, 0755), 0);
    as_nobody(can_read_copy);
    assert_int_equal(chmod(copy_path, 0755), 0); /* so that it can be removed */
    assert_int_equal(unlink(file), 0);
    assert_int_equal(rmdir(copy_path), 0);
}

/* RLIMIT_FSIZE stands for a full disk: writing beyond it fails with EFBIG. */
static int
fills_up(void)
{
    struct rlimit limit = {300000, 300000};
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(dir.path, NULL, &error);
    struct store_head before;
    enum store_status status = STORE_OK;

    if (!store || signal(SIGXFSZ, SIG_IGN) == SIG_ERR || setrlimit(RLIMIT_FSIZE, &limit) != 0)
        return 1;
    before = *store_head(store);
    for (int i = 0; i < 2000 && status == STORE_OK; i++) {
        char data[2000];
        (void)snprintf(data, sizeof(data), "{\"text\":\"%01900d\"}", i);
        before = *store_head(store);
        status = store_record(store, "note", i, data, NULL, &error);
        if (status == STORE_OK)
            status = store_commit(store, &error);
    }
    if (status == STORE_OK || error.text[0] == '\0')
        return 2;
    if (memcmp(&before, store_head(store), sizeof(before)) != 0 || store_dirty(store))
        return 3;
    store_close(store);
    store = store_open(dir.path, NULL, &error);
    if (!store || store_head(store)->seq < before.seq)
        return 4;
    store_close(store);
    return 0;
}

static void
test_write_that_finds_no_room_rolls_back_and_keeps_the_rest(void **state)
{
    (void)state;
    assert_int_equal(chmod(dir.path, 0777), 0);
    as_nobody(fills_up);
}

static void
test_readers_never_grow_the_log_beyond_a_checkpoint(void **state)
{
    struct store *store = open_ok();
    struct store_reader *reader = reader_ok();
    struct store_error error = {STORE_OK, ""};
    struct seen seen = {.stop_after = 1};
    struct stat info;

    (void)state;
    put(store, at(1, 1, 1));
    commit(store);
    /* A reader that stopped in the middle and stays open holds nothing. */
    assert_int_equal(store_each_reading(reader, 0, 0, INT64_MAX, see, &seen, &error), STORE_OK);
    for (int64_t i = 2; i < 4000; i++) {
        put(store, at(1, i, 1));
        commit(store);
    }
    assert_int_equal(stat(temp_dir_file(&dir, "trivet.db-wal"), &info), 0);
    assert_true(info.st_size < 1100 * (4096 + 24) + 32);
    store_reader_close(reader);
    store_close(store);
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(test_open_empty_directory_makes_an_empty_store),
        TEST(test_reading_committed_comes_back_in_order),
        TEST(test_each_reading_range_is_open_below_and_closed_above),
        TEST(test_each_reading_of_all_probes_merges_pages_in_order),
        TEST(test_record_committed_has_canonical_body_and_chains),
        TEST(test_each_record_of_a_kind_and_range),
        TEST(test_record_of_the_greatest_size_comes_back),
        TEST(test_close_without_commit_leaves_nothing),
        TEST(test_failed_write_rolls_back_to_the_last_commit),
        TEST(test_reopened_store_goes_on_where_it_ended),
        TEST(test_seal_without_readings_writes_nothing),
        TEST(test_seal_digest_is_that_of_the_lines),
        TEST(test_cache_put_is_replaced_and_read_back),
        TEST(test_open_missing_directory_says_so),
        TEST(test_open_held_store_names_the_holder),
        TEST(test_open_newer_schema_says_so),
        TEST(test_open_foreign_database_says_so),
        TEST(test_open_changed_tables_says_so),
        TEST(test_open_garbage_says_damaged),
        TEST(test_open_cut_database_says_so),
        TEST(test_open_changed_last_record_says_so),
        TEST(test_open_directory_without_permission_says_so),
        TEST(test_reader_of_closed_store_needs_no_write_permission),
        TEST(test_reader_of_a_copy_without_its_log_needs_no_write_permission),
        TEST(test_write_that_finds_no_room_rolls_back_and_keeps_the_rest),
        TEST(test_readers_never_grow_the_log_beyond_a_checkpoint),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
