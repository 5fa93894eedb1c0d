/* What the benchmarks share: time, medians, the rows of the one table, and a plan of any size.
 *
 * A measure is a line that run.py reads: row, what, median, lowest, highest, unit, "least" or
 * "most" or "-", aim. */
#ifndef BENCH_H
#define BENCH_H

#include <inttypes.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "trivet/plan.h"

#define BENCH_REPEATS_MAX 15
#define BENCH_BEGIN_MS    INT64_C(1772539200000) /* 2026-03-03T12:00:00Z */

static inline double
bench_now_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

__attribute__((noreturn, format(printf, 1, 2))) static inline void
bench_give_up(const char *format, ...)
{
    va_list args;
    va_start(args, format);
    (void)fputs("bench: ", stderr);
    (void)vfprintf(stderr, format, args);
    (void)fputc('\n', stderr);
    va_end(args);
    exit(1);
}

static inline int
bench_ascending(const void *a, const void *b)
{
    const double left = *(const double *)a, right = *(const double *)b;
    return (left > right) - (left < right);
}

enum bench_aim { BENCH_NO_AIM, BENCH_LEAST, BENCH_MOST };

/* Sorts the values. */
static inline void
bench_row(const char *what, double *values, int count, const char *unit, enum bench_aim kind,
          double aim)
{
    static const char *const words[] = {"-", "least", "most"};
    qsort(values, (size_t)count, sizeof *values, bench_ascending);
    (void)printf("row\t%s\t%g\t%g\t%g\t%s\t%s\t%g\n", what, values[count / 2], values[0],
                 values[count - 1], unit, words[kind], aim);
    (void)fflush(stdout);
}

/* An argument that is a whole number from 1 on, or what is usual. */
static inline int64_t
bench_argument(int argc, char **argv, int at, int64_t usual)
{
    const int64_t value = argc > at ? atoll(argv[at]) : usual;
    if (value < 1)
        bench_give_up("argument %d must be a number from 1 on", at);
    return value;
}

/* A directory of its own below /tmp, and its end. */
static inline void
bench_directory(char *ret_path, size_t size)
{
    (void)snprintf(ret_path, size, "/tmp/trivet-bench-XXXXXX");
    if (mkdtemp(ret_path) == NULL)
        bench_give_up("cannot make a directory in /tmp");
}

static inline void
bench_empty(const char *directory)
{
    static const char *const names[] = {"trivet.db", "trivet.db-wal", "trivet.db-shm", "lock",
                                        "bare.db",   "bare.db-wal",   "bare.db-shm"};
    char path[300];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        (void)snprintf(path, sizeof path, "%s/%s", directory, names[i]);
        (void)remove(path);
    }
}

static inline void
bench_remove(const char *directory)
{
    bench_empty(directory);
    (void)rmdir(directory);
}

struct bench_kitchen {
    int probes, buses, limited; /* the first `limited` probes watch places with a limit */
    int places_each;            /* so many places each; 0 = one */
    int first_port;
    int every_ms;
};

/* A plan of air probes on Modbus TCP at loopback. */
static inline struct plan *
bench_plan(const struct bench_kitchen *kitchen)
{
    static struct plan_faults faults;
    const int each = kitchen->places_each > 0 ? kitchen->places_each : 1;
    const size_t room = 2000 + (size_t)(kitchen->probes + kitchen->buses) * 600 +
                        (size_t)(kitchen->limited * each) * 200;
    char *text = malloc(room);
    size_t len = 0;
    if (text == NULL)
        bench_give_up("out of memory");
#define ADD(...) len += (size_t)snprintf(text + len, room - len, __VA_ARGS__)
    ADD("site: {name: Bench}\npeople:\n  - {initials: AB, name: Ana Brandt, role: cook}\n"
        "  - {initials: JO, name: Jun Okada, role: supervisor}\nbuses:\n");
    for (int i = 0; i < kitchen->buses; i++)
        ADD("  - {id: bus-%d, driver: modbus-tcp, host: 127.0.0.1, port: %d}\n", i,
            kitchen->first_port + i);
    ADD("probes:\n");
    for (int i = 0; i < kitchen->probes; i++)
        ADD("  - {id: probe-%d, name: Probe %d, kind: air, bus: bus-%d, unit: 1, function: 4, "
            "register: %d, type: int16, scale: 0.1 °C, plausible: [-40 °C, 200 °C], every: %d "
            "ms}\n",
            i, i, i % kitchen->buses, i / kitchen->buses, kitchen->every_ms);
    ADD("places:\n");
    for (int i = 0; i < kitchen->limited * each; i++)
        ADD("  - {id: place-%d, name: Place %d, probe: probe-%d, limit: {kind: hold_cold, "
            "applies_to: air, at_most: 5 °C, tolerance: 20 min}}\n",
            i, i, i / each);
    if (kitchen->limited == 0)
        ADD("  - {id: place-0, name: Place 0, limit: {kind: none}}\n");
    ADD("records: {directory: records}\n");
#undef ADD
    struct plan *plan = plan_load_text("bench.yaml", text, len, &faults);
    free(text);
    if (plan == NULL)
        bench_give_up("plan, line %d: %s", faults.fault[0].line, faults.fault[0].text);
    return plan;
}

#endif
