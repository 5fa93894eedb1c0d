/* Rows a second of the CSV export of readings, against the sqlite3 command exporting the same
 * rows with the same cells in the same run; and how much memory the export takes.
 *
 *   bench_export [readings] [repeats]
 *
 * The command reads in key order, without the sort by time that the export gives: the
 * comparison is in its favour. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "trivet/export.h"
#include "trivet/store.h"
#include "trivet/units.h"

#define BEGIN_MS    INT64_C(1772539200000)
#define PROBES      16
#define REPEATS_MAX 15

static char directory[] = "/tmp/trivet-bench-XXXXXX";

static double
now_s(void)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static long
peak_kB(void)
{
    struct rusage usage;

    (void)getrusage(RUSAGE_SELF, &usage);
    return usage.ru_maxrss;
}

static void
give_up(const char *text)
{
    fprintf(stderr, "bench_export: %s\n", text);
    exit(1);
}

static void
must(enum store_status status, const struct store_error *error)
{
    if (status != STORE_OK)
        give_up(error->text);
}

static void
write_store(int64_t seconds)
{
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(directory, NULL, &error);

    if (!store)
        give_up(error.text);
    must(store_record(
             store, "plan", BEGIN_MS,
             "{\"digest\":\"\",\"file\":\"plan.yaml\",\"probes\":{\"roast-core\":1},\"text\":"
             "\"\"}",
             NULL, &error),
         &error);
    for (int64_t second = 0; second < seconds; second++) {
        for (uint16_t probe = 1; probe <= PROBES; probe++) {
            struct reading reading = {.at_ms = BEGIN_MS + second * 1000,
                                      .temp_mC =
                                          (int32_t)(4000 + (second * 37 + probe * 101) % 3000),
                                      .probe = probe};
            must(store_reading(store, &reading, &error), &error);
        }
        if (second % 600 == 599)
            must(store_commit(store, &error), &error);
    }
    must(store_commit(store, &error), &error);
    store_close(store);
}

static bool
to_nowhere(void *arg, const char *bytes, size_t len)
{
    return fwrite(bytes, 1, len, arg) == len;
}

static double
export_seconds(void)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(directory, &error);
    FILE *nowhere = fopen("/dev/null", "w");
    double began = now_s();

    if (!reader || !nowhere)
        give_up(error.text);
    must(
        export_csv(reader, EXPORT_READINGS, TIME_NONE, TIME_NEVER, to_nowhere, nowhere, &error),
        &error);
    began = now_s() - began;
    (void)fclose(nowhere);
    store_reader_close(reader);
    return began;
}

static double
command_seconds(void)
{
    char command[700];
    double began = now_s();

    (void)snprintf(
        command, sizeof(command),
        "sqlite3 -readonly -csv '%s/trivet.db' \"SELECT strftime('%%Y-%%m-%%dT%%H:%%M:%%fZ', "
        "at_ms / "
        "1000.0, 'unixepoch'), iif(probe = 1, 'roast-core', '#' || probe), printf('%%.3f', "
        "temp_mC / "
        "1000.0), iif(quality = 0, 'good', 'bad'), 'no', at_ms FROM reading\" > /dev/null",
        directory);
    if (system(command) != 0) /* a fixed text: nothing of it comes from outside */
        give_up("the sqlite3 command failed; is it installed?");
    return now_s() - began;
}

static int
ascending(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;

    return (left > right) - (left < right);
}

int
main(int argc, char **argv)
{
    static const char *const names[] = {"trivet.db", "trivet.db-wal", "trivet.db-shm", "lock"};
    int64_t seconds = (argc > 1 ? atoll(argv[1]) : 1000000) / PROBES;
    int repeats = argc > 2 ? atoi(argv[2]) : 5;
    double ratio[REPEATS_MAX], rate[REPEATS_MAX];
    long before_kB;

    if (seconds < 1 || repeats < 1 || repeats > REPEATS_MAX)
        give_up("usage: bench_export [readings] [repeats up to 15]");
    if (!mkdtemp(directory))
        give_up("cannot make a directory in /tmp");
    write_store(seconds);
    before_kB = peak_kB();
    for (int i = 0; i < repeats; i++) {
        double command = command_seconds(), own = export_seconds();
        ratio[i] = command / own;
        rate[i] = (double)(seconds * PROBES) / own;
    }
    qsort(ratio, (size_t)repeats, sizeof(ratio[0]), ascending);
    qsort(rate, (size_t)repeats, sizeof(rate[0]), ascending);
    printf("export: rows/s %.0f; against the sqlite3 command %.1f (%.1f to %.1f, aim 1.5)\n",
           rate[repeats / 2], ratio[repeats / 2], ratio[0], ratio[repeats - 1]);
    printf("export: %lld rows took %ld kB more than writing them had\n",
           (long long)(seconds * PROBES), peak_kB() - before_kB);
    for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++) {
        char path[sizeof(directory) + 20];
        (void)snprintf(path, sizeof(path), "%s/%s", directory, names[i]);
        (void)remove(path);
    }
    (void)rmdir(directory);
    return 0;
}
