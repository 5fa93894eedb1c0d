/* The whole way of a reading: queue, engine, seal, commit and snapshot, against a bare batched
 * insert of the same rows with SQLite in the same run.
 *
 *   bench_recorder [readings] [repeats]
 *
 * 500 probes, 64 of them under a limit, on a virtual clock: at 1 Hz, where a commit holds 500
 * readings and the disk decides; and at 40 Hz, where it holds 20 000 and the work decides. */
#include <sqlite3.h>

#include "tests/bench/bench.h"
#include "trivet/log.h"
#include "trivet/recorder.h"

#define PROBES  500
#define LIMITED 64

static char directory[64];
static int64_t now_ms; /* since BENCH_BEGIN_MS */

static int64_t
mono(void *arg)
{
    (void)arg;
    return now_ms;
}

static int64_t
wall(void *arg)
{
    (void)arg;
    return BENCH_BEGIN_MS + now_ms;
}

static int32_t
temp_mC(int64_t round, int probe)
{
    return (int32_t)(2000 + (round * 37 + probe * 101) % 2900);
}

/* Through the queue in portions, as the recorder's thread takes them. */
static void
pass_on(struct recorder *recorder, struct queue *queue)
{
    static struct message messages[256];
    for (size_t count; (count = queue_take(queue, messages, 256, 0)) > 0;)
        recorder_take(recorder, messages, count);
}

static double
recorder_seconds(int64_t rounds, int64_t every_ms)
{
    const struct bench_kitchen kitchen = {.probes = PROBES,
                                          .buses = 20,
                                          .limited = LIMITED,
                                          .first_port = 15020,
                                          .every_ms =
                                              (int)every_ms < 100 ? 100 : (int)every_ms};
    struct store_error error;
    char why[600];
    now_ms = 0;
    struct store *store = store_open(directory, NULL, &error);
    struct board *board = board_new();
    struct queue *queue = queue_new(8192);
    if (store == NULL || board == NULL || queue == NULL)
        bench_give_up("%s", store == NULL ? error.text : "out of memory");
    const struct recorder_parts parts = {.plan = bench_plan(&kitchen),
                                         .store = store,
                                         .directory = directory,
                                         .clock = {mono, wall, NULL},
                                         .board = board};
    struct recorder *recorder = recorder_new(&parts, why, sizeof why);
    if (recorder == NULL)
        bench_give_up("%s", why);
    const double began_s = bench_now_s();
    for (int64_t round = 0; round < rounds; round++) {
        now_ms += every_ms;
        for (int probe = 0; probe < PROBES; probe++) {
            const struct message message = {.kind = MESSAGE_READING,
                                            .born_ms = now_ms,
                                            .is.reading = {.probe = (uint16_t)(probe + 1),
                                                           .temp_mC = temp_mC(round, probe)}};
            if (!queue_post(queue, &message))
                bench_give_up("the queue is full");
        }
        pass_on(recorder, queue);
    }
    recorder_finish(recorder);
    const double took_s = bench_now_s() - began_s;
    board_free(board);
    recorder_free(recorder);
    queue_free(queue);
    store_close(store);
    return took_s;
}

static void
run(sqlite3 *db, const char *sql)
{
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        bench_give_up("%s", sqlite3_errmsg(db));
}

static double
bare_seconds(int64_t rounds, int64_t every_ms)
{
    char path[100];
    sqlite3 *db = NULL;
    sqlite3_stmt *insert = NULL;
    (void)snprintf(path, sizeof path, "%s/bare.db", directory);
    if (sqlite3_open(path, &db) != SQLITE_OK)
        bench_give_up("cannot open the bare database");
    run(db, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA cache_size = -4000;"
            "CREATE TABLE reading(probe INTEGER NOT NULL, at_ms INTEGER NOT NULL, temp_mC "
            "INTEGER, quality INTEGER NOT NULL, PRIMARY KEY(probe, at_ms)) WITHOUT ROWID");
    if (sqlite3_prepare_v2(db, "INSERT INTO reading VALUES(?, ?, ?, 0)", -1, &insert, NULL) !=
        SQLITE_OK)
        bench_give_up("%s", sqlite3_errmsg(db));
    const double began_s = bench_now_s();
    run(db, "BEGIN");
    for (int64_t round = 0; round < rounds; round++) {
        for (int probe = 0; probe < PROBES; probe++) {
            (void)sqlite3_bind_int(insert, 1, probe + 1);
            (void)sqlite3_bind_int64(insert, 2, BENCH_BEGIN_MS + (round + 1) * every_ms);
            (void)sqlite3_bind_int(insert, 3, temp_mC(round, probe));
            if (sqlite3_step(insert) != SQLITE_DONE)
                bench_give_up("%s", sqlite3_errmsg(db));
            (void)sqlite3_reset(insert);
        }
        if ((round + 1) * every_ms % 1000 == 0)
            run(db, "COMMIT; BEGIN");
    }
    run(db, "COMMIT");
    const double took_s = bench_now_s() - began_s;
    (void)sqlite3_finalize(insert);
    (void)sqlite3_close(db);
    return took_s;
}

static void
measure(const char *name, int64_t readings, int64_t every_ms, int repeats)
{
    double ratio[BENCH_REPEATS_MAX], rate[BENCH_REPEATS_MAX];
    char what[100];
    const int64_t rounds = readings / PROBES;
    for (int i = 0; i < repeats; i++) {
        bench_empty(directory);
        const double bare_s = bare_seconds(rounds, every_ms);
        const double path_s = recorder_seconds(rounds, every_ms);
        ratio[i] = bare_s / path_s;
        rate[i] = (double)(rounds * PROBES) / path_s / 1e3;
    }
    (void)snprintf(what, sizeof what, "whole recorder, %s, against a bare insert", name);
    bench_row(what, ratio, repeats, "x", BENCH_LEAST, 0.6);
    (void)snprintf(what, sizeof what, "whole recorder, %s", name);
    bench_row(what, rate, repeats, "thousand readings/s", BENCH_NO_AIM, 0);
}

int
main(int argc, char **argv)
{
    const int64_t readings = bench_argument(argc, argv, 1, 400000);
    const int repeats = (int)bench_argument(argc, argv, 2, 5);
    if (repeats > BENCH_REPEATS_MAX || readings < 100 * PROBES)
        bench_give_up("usage: bench_recorder [readings from %d] [repeats up to %d]",
                      100 * PROBES, BENCH_REPEATS_MAX);
    log_set_level(LOG_ERROR);
    bench_directory(directory, sizeof directory);
    measure("500 readings a commit", readings / 8, 1000, repeats);
    measure("20 000 readings a commit", readings, 25, repeats);
    bench_remove(directory);
    return 0;
}
