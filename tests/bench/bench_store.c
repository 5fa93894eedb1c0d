/* Readings a second into the store (reading, a seal each minute, a commit each second) against
 * a bare batched insert of the same rows with SQLite in the same run; bytes on disk for each
 * reading; verification.
 *
 *   bench_store [readings] [probes] [repeats] */
#include <sqlite3.h>

#include "tests/bench/bench.h"
#include "trivet/store.h"
#include "trivet/units.h"

#define SEAL_SECONDS 60

static char directory[64];

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

/* The same rows for both: a walk of small steps. */
static struct reading
row(int64_t second, uint16_t probe)
{
    return (struct reading){.at_ms = BENCH_BEGIN_MS + second * 1000 + probe % 7,
                            .temp_mC = (int32_t)(4000 + (second * 37 + probe * 101) % 3000),
                            .probe = probe,
                            .quality = READING_GOOD};
}

static void
must(enum store_status status, const struct store_error *error)
{
    if (status != STORE_OK)
        bench_give_up("%s", error->text);
}

static double
store_seconds(int64_t seconds, uint16_t probes, int64_t every)
{
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(directory, NULL, &error);
    double began = bench_now_s();

    if (!store)
        bench_give_up("%s", error.text);
    for (int64_t second = 0; second < seconds; second++) {
        for (uint16_t probe = 1; probe <= probes; probe++) {
            struct reading reading = row(second, probe);
            must(store_reading(store, &reading, &error), &error);
        }
        if (second % SEAL_SECONDS == SEAL_SECONDS - 1) {
            int64_t to_ms = BENCH_BEGIN_MS + second * 1000 + 999;
            must(store_seal(store, to_ms, to_ms, &error), &error);
        }
        if (second % every == every - 1)
            must(store_commit(store, &error), &error);
    }
    must(store_commit(store, &error), &error);
    began = bench_now_s() - began;
    store_close(store);
    return began;
}

static void
run(sqlite3 *db, const char *sql)
{
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        bench_give_up("%s", sqlite3_errmsg(db));
}

static double
bare_seconds(int64_t seconds, uint16_t probes, int64_t every)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *insert = NULL;
    double began;

    if (sqlite3_open(file("bare.db"), &db) != SQLITE_OK)
        bench_give_up("cannot open the bare database");
    run(db,
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA cache_size = -4000;"
        "CREATE TABLE reading(probe INTEGER NOT NULL, at_ms INTEGER NOT NULL, temp_mC INTEGER,"
        "quality INTEGER NOT NULL, PRIMARY KEY (probe, at_ms)) WITHOUT ROWID");
    if (sqlite3_prepare_v2(db, "INSERT INTO reading VALUES (?, ?, ?, ?)", -1, &insert, NULL) !=
        SQLITE_OK)
        bench_give_up("%s", sqlite3_errmsg(db));
    began = bench_now_s();
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
                bench_give_up("%s", sqlite3_errmsg(db));
            (void)sqlite3_reset(insert);
        }
        if (second % every == every - 1 || second == seconds - 1)
            run(db, "COMMIT");
    }
    began = bench_now_s() - began;
    (void)sqlite3_finalize(insert);
    (void)sqlite3_close(db);
    return began;
}

/* One measure: both ways with a commit each `every` seconds. */
static void
measure(int64_t seconds, uint16_t probes, int64_t every, int repeats)
{
    double ratio[BENCH_REPEATS_MAX], rate[BENCH_REPEATS_MAX];
    char what[100];

    for (int i = 0; i < repeats; i++) {
        double bare, store;
        bench_empty(directory);
        bare = bare_seconds(seconds, probes, every);
        store = store_seconds(seconds, probes, every);
        ratio[i] = bare / store;
        rate[i] = (double)(seconds * probes) / store / 1e3;
    }
    (void)snprintf(what, sizeof(what),
                   "store alone, %lld readings a commit, against a bare insert",
                   (long long)every * probes);
    bench_row(what, ratio, repeats, "x", BENCH_LEAST, 0.6);
    (void)snprintf(what, sizeof(what), "store alone, %lld readings a commit",
                   (long long)every * probes);
    bench_row(what, rate, repeats, "thousand readings/s", BENCH_NO_AIM, 0);
}

static void
single(const char *what, double value, const char *unit, enum bench_aim kind, double aim)
{
    bench_row(what, &value, 1, unit, kind, aim);
}

int
main(int argc, char **argv)
{
    int64_t readings = bench_argument(argc, argv, 1, 200000);
    uint16_t probes = (uint16_t)bench_argument(argc, argv, 2, 500);
    int repeats = (int)bench_argument(argc, argv, 3, 5);
    int64_t seconds = readings / probes;
    struct store_verdict verdict;
    struct store_error error = {STORE_OK, ""};
    double began;

    if (seconds < 1 || repeats < 1 || repeats > BENCH_REPEATS_MAX)
        bench_give_up("usage: bench_store [readings] [probes] [repeats up to 15]");
    bench_directory(directory, sizeof(directory));
    /* With a commit each second the disk's syncs are most of it; with one a minute, the work
     * itself. */
    measure(seconds, probes, 1, repeats);
    measure(seconds, probes, 60, repeats);
    single("on disk with seals", bytes_of("trivet.db") / (double)(seconds * probes),
           "bytes a reading", BENCH_MOST, 24);
    single("on disk, bare table", bytes_of("bare.db") / (double)(seconds * probes),
           "bytes a reading", BENCH_NO_AIM, 0);
    began = bench_now_s();
    must(store_verify(directory, &verdict, &error), &error);
    began = bench_now_s() - began;
    single("chain and seals verified", (double)verdict.readings / began / 1e3,
           "thousand readings/s", BENCH_NO_AIM, 0);
    if (!verdict.ok)
        fprintf(stderr, "bench_store: %s\n", verdict.text);
    bench_remove(directory);
    return verdict.ok ? 0 : 1;
}
