/* Readings a second into the store (reading, a seal each minute, a commit each second) against
 * a bare batched insert of the same rows with SQLite in the same run; bytes on disk for each
 * reading; opening with a long history.
 *
 *   bench_store [readings] [probes] [repeats]
 *
 * Prints one line for each measure: the ratio's median, and its spread over the repeats. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <sqlite3.h>

#include "trivet/store.h"
#include "trivet/units.h"

#define BEGIN_MS     INT64_C(1772539200000)
#define REPEATS_MAX  15
#define SEAL_SECONDS 60

static char directory[] = "/tmp/trivet-bench-XXXXXX";

static double
now_s(void)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static void
give_up(const char *text)
{
    fprintf(stderr, "bench_store: %s\n", text);
    exit(1);
}

static const char *
file(const char *name)
{
    static char paths[2][sizeof(directory) + 40];
    static int next;
    char *path = paths[next++ % 2];

    (void)snprintf(path, sizeof(paths[0]), "%s/%s", directory, name);
    return path;
}

static double
bytes_of(const char *name)
{
    struct stat info;

    return stat(file(name), &info) == 0 ? (double)info.st_size : 0;
}

static void
remove_all(void)
{
    static const char *const names[] = {"trivet.db", "trivet.db-wal", "trivet.db-shm", "lock",
                                        "bare.db",   "bare.db-wal",   "bare.db-shm"};

    for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++)
        (void)remove(file(names[i]));
}

/* The same rows for both: a walk of small steps. */
static struct reading
row(int64_t second, uint16_t probe)
{
    return (struct reading){.at_ms = BEGIN_MS + second * 1000 + probe % 7,
                            .temp_mC = (int32_t)(4000 + (second * 37 + probe * 101) % 3000),
                            .probe = probe,
                            .quality = READING_GOOD};
}

static void
must(enum store_status status, const struct store_error *error)
{
    if (status != STORE_OK)
        give_up(error->text);
}

static double
store_seconds(int64_t seconds, uint16_t probes, int64_t every)
{
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(directory, NULL, &error);
    double began = now_s();

    if (!store)
        give_up(error.text);
    for (int64_t second = 0; second < seconds; second++) {
        for (uint16_t probe = 1; probe <= probes; probe++) {
            struct reading reading = row(second, probe);
            must(store_reading(store, &reading, &error), &error);
        }
        if (second % SEAL_SECONDS == SEAL_SECONDS - 1) {
            int64_t to_ms = BEGIN_MS + second * 1000 + 999;
            must(store_seal(store, to_ms, to_ms, &error), &error);
        }
        if (second % every == every - 1)
            must(store_commit(store, &error), &error);
    }
    must(store_commit(store, &error), &error);
    began = now_s() - began;
    store_close(store);
    return began;
}

static void
run(sqlite3 *db, const char *sql)
{
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        give_up(sqlite3_errmsg(db));
}

static double
bare_seconds(int64_t seconds, uint16_t probes, int64_t every)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *insert = NULL;
    double began;

    if (sqlite3_open(file("bare.db"), &db) != SQLITE_OK)
        give_up("cannot open the bare database");
    run(db,
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA cache_size = -4000;"
        "CREATE TABLE reading(probe INTEGER NOT NULL, at_ms INTEGER NOT NULL, temp_mC INTEGER,"
        "quality INTEGER NOT NULL, PRIMARY KEY (probe, at_ms)) WITHOUT ROWID");
    if (sqlite3_prepare_v2(db, "INSERT INTO reading VALUES (?, ?, ?, ?)", -1, &insert, NULL) !=
        SQLITE_OK)
        give_up(sqlite3_errmsg(db));
    began = now_s();
    for (int64_t second = 0; second < seconds; second++) {
        if (second % every == 0)
            run(db, "BEGIN");
        for (uint16_t probe = 1; probe <= probes; probe++) {
            struct reading reading = row(second, probe);
            (void)sqlite3_bind_int(insert, 1, reading.probe);
            (void)sqlite3_bind_int64(insert, 2, reading.at_ms);
            (void)sqlite3_bind_int(insert, 3, reading.temp_mC);
            (void)sqlite3_bind_int(insert, 4, reading.quality);
            if (sqlite3_step(insert) != SQLITE_DONE)
                give_up(sqlite3_errmsg(db));
            (void)sqlite3_reset(insert);
        }
        if (second % every == every - 1 || second == seconds - 1)
            run(db, "COMMIT");
    }
    began = now_s() - began;
    (void)sqlite3_finalize(insert);
    (void)sqlite3_close(db);
    return began;
}

static int
ascending(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;

    return (left > right) - (left < right);
}

static double
open_seconds(void)
{
    struct store_error error = {STORE_OK, ""};
    double began = now_s();
    struct store *store = store_open(directory, NULL, &error);

    if (!store)
        give_up(error.text);
    began = now_s() - began;
    store_close(store);
    return began;
}

/* One measure: both ways with a commit each `every` seconds. */
static void
measure(int64_t seconds, uint16_t probes, int64_t every, int repeats)
{
    double ratio[REPEATS_MAX], rate[REPEATS_MAX];

    for (int i = 0; i < repeats; i++) {
        double bare, store;
        remove_all();
        bare = bare_seconds(seconds, probes, every);
        store = store_seconds(seconds, probes, every);
        ratio[i] = bare / store;
        rate[i] = (double)(seconds * probes) / store;
    }
    qsort(ratio, (size_t)repeats, sizeof(ratio[0]), ascending);
    qsort(rate, (size_t)repeats, sizeof(rate[0]), ascending);
    printf("store: commit each %2lld s: readings/s %.0f; against a bare insert %.2f (%.2f to "
           "%.2f, "
           "aim 0.60)\n",
           (long long)every, rate[repeats / 2], ratio[repeats / 2], ratio[0],
           ratio[repeats - 1]);
}

int
main(int argc, char **argv)
{
    int64_t readings = argc > 1 ? atoll(argv[1]) : 500000;
    uint16_t probes = (uint16_t)(argc > 2 ? atoi(argv[2]) : 500);
    int repeats = argc > 3 ? atoi(argv[3]) : 5;
    int64_t seconds = probes > 0 ? readings / probes : 0;
    struct store_verdict verdict;
    struct store_error error = {STORE_OK, ""};
    double began;

    if (seconds < 1 || repeats < 1 || repeats > REPEATS_MAX)
        give_up("usage: bench_store [readings] [probes] [repeats up to 15]");
    if (!mkdtemp(directory))
        give_up("cannot make a directory in /tmp");
    /* With a commit each second the disk's syncs are most of it; with one a minute, the work
     * itself. */
    measure(seconds, probes, 1, repeats);
    measure(seconds, probes, 60, repeats);
    printf("store: bytes a reading %.1f (bare %.1f, aim 24)\n",
           bytes_of("trivet.db") / (double)(seconds * probes),
           bytes_of("bare.db") / (double)(seconds * probes));
    printf("store: opening %.1f ms (aim 200)\n", open_seconds() * 1e3);
    began = now_s();
    must(store_verify(directory, &verdict, &error), &error);
    began = now_s() - began;
    printf("store: verified %.0f readings/s: %s\n", (double)verdict.readings / began,
           verdict.text);
    remove_all();
    (void)rmdir(directory);
    return verdict.ok ? 0 : 1;
}
