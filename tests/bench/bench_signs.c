/* What the hunch for coolings is fitted to: the signs that daemon/thermal/hunch.c reads from a
 * record, at moments drawn by chance in made coolings, with the time that was then left.
 *
 *   bench_signs DIRECTORY MOMENTS SEED     DIRECTORY as bench_made writes it
 *
 * Prints one row for each moment and limit (21, 5 and one drawn by chance): run, seconds since
 * the start, limit, seconds left (inf: not within the record), when the clock of the stages
 * began, seconds left along the straight line, the signs. */
#include <math.h>

#include "bench.h"
#include "daemon/cli/trace.h"
#include "daemon/thermal/hunch.h"
#include "daemon/thermal/record.h"

enum { ROWS_MAX = 20000, MOMENTS_MAX = 64 };

static const double FIRST_S = 420;
static struct forecast_reading rows[ROWS_MAX];
static int row_count;
static double began_s, first_s, second_s; /* the falls to 57, 21 and 5 C */
static uint64_t random_state;

static double
uniform(void)
{
    random_state ^= random_state >> 12;
    random_state ^= random_state << 25;
    random_state ^= random_state >> 27;
    return ((double)(random_state * 0x2545F4914F6CDD1DULL >> 11) + 0.5) / 9007199254740992.0;
}

static void
load(const char *path)
{
    char error[TRACE_ERROR_BYTES];
    struct trace trace;
    if (!trace_open(&trace, path, error))
        bench_give_up("%s", error);
    for (row_count = 0; row_count < ROWS_MAX; row_count++)
        if (trace_next(&trace, &rows[row_count], error) != TRACE_ROW)
            break;
    trace_close(&trace);
}

/* A time from the truth that bench_made wrote: without the noise, which takes a slow core below
 * a limit by up to half an hour too early; INFINITY where it is null. */
static double
truth_s(const char *directory, int run, const char *name)
{
    char path[400], text[2000];
    (void)snprintf(path, sizeof path, "%s/truth/cool_%04d.json", directory, run);
    FILE *file = fopen(path, "r");
    if (file == NULL)
        bench_give_up("cannot read %s", path);
    text[fread(text, 1, sizeof text - 1, file)] = '\0';
    (void)fclose(file);
    const char *at = strstr(text, name);
    char *end = NULL;
    double value = at == NULL ? NAN : strtod(at + strlen(name), &end);
    return at == NULL || end == at + strlen(name) ? INFINITY : value;
}

/* When the core, a mean of ten minutes, first falls to a limit that the truth says nothing of;
 * INFINITY. */
static double
falls_to_s(double limit_C)
{
    double sum = 0;
    int count = 0, oldest = 0;
    bool hot = false;
    for (int i = 0; i < row_count; i++) {
        if (!isnan(rows[i].core_C)) {
            hot = hot || rows[i].core_C > 57.5;
            sum += rows[i].core_C;
            count++;
        }
        for (; rows[oldest].time_s < rows[i].time_s - 600; oldest++)
            if (!isnan(rows[oldest].core_C)) {
                sum -= rows[oldest].core_C;
                count--;
            }
        if (hot && count > 10 && sum / count <= limit_C)
            return rows[i].time_s - 300;
    }
    return INFINITY;
}

static void
print_moment(int run, const struct record *record, double limit_C, double done_s)
{
    double sign[HUNCH_SIGNS], straight_s;
    if (done_s <= record->last_s || !hunch_signs(record, limit_C, sign, &straight_s))
        return;
    (void)printf("%d,%.0f,%.2f,%.0f,%.0f,%.2f", run, record->end_s, limit_C,
                 done_s - record->end_s, began_s, straight_s);
    for (int i = 0; i < HUNCH_SIGNS; i++)
        (void)printf(",%.4f", sign[i]);
    (void)puts("");
}

static void
walk(int run, int moments)
{
    static struct record record;
    double at_s[MOMENTS_MAX];
    double last_s = fmin(second_s, rows[row_count - 1].time_s);
    for (int i = 0; i < moments; i++)
        at_s[i] = FIRST_S + uniform() * (last_s - FIRST_S);
    qsort(at_s, (size_t)moments, sizeof *at_s, bench_ascending);
    record_begin(&record, FORECAST_COOLING, 57);
    int next = 0, first;
    for (int i = 0; i < row_count && next < moments; i++) {
        (void)record_take(&record, &rows[i], &first);
        if (rows[i].time_s < at_s[next])
            continue;
        while (next < moments && at_s[next] <= rows[i].time_s)
            next++;
        double drawn_C = 4 + 31 * uniform();
        print_moment(run, &record, 21, first_s);
        print_moment(run, &record, 5, second_s);
        print_moment(run, &record, drawn_C, falls_to_s(drawn_C));
    }
}

int
main(int argc, char **argv)
{
    if (argc < 4)
        bench_give_up("bench_signs DIRECTORY MOMENTS SEED");
    int moments = atoi(argv[2]);
    if (moments < 1 || moments > MOMENTS_MAX)
        bench_give_up("1 to %d moments", MOMENTS_MAX);
    random_state = 0x9E3779B97F4A7C15ULL * (uint64_t)atoll(argv[3]);
    for (int i = 0; i < 20; i++)
        (void)uniform();
    for (int i = 1;; i++) {
        char name[32], path[400];
        (void)snprintf(name, sizeof name, "cool_%04d", i);
        (void)snprintf(path, sizeof path, "%s/runs/%s.csv", argv[1], name);
        if (access(path, R_OK) != 0)
            break;
        load(path);
        began_s = truth_s(argv[1], i, "\"t57_s\": ");
        first_s = truth_s(argv[1], i, "\"t21_s\": ");
        second_s = truth_s(argv[1], i, "\"t5_s\": ");
        walk(i, moments);
    }
    return 0;
}
