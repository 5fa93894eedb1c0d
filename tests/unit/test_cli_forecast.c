/* Recorded traces and the forecast command: what is read, what is refused and in which words.
 */
#include <fcntl.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <zlib.h>

#include "daemon/cli/forecast.h"
#include "daemon/cli/trace.h"

#define HEADER "time_s,core_degC,air_degC,event\n"

static char path[256];

static void
write_trace(const char *text, bool packed)
{
    const char *dir = getenv("TMPDIR");
    (void)snprintf(path, sizeof path, "%s/trivet-trace-XXXXXX", dir != NULL ? dir : "/tmp");
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    gzFile file = gzdopen(fd, packed ? "wb" : "wbT");
    assert_non_null(file);
    assert_true(gzputs(file, text) == (int)strlen(text));
    assert_int_equal(gzclose(file), Z_OK);
}

/* Reads the whole trace; the error, or "" at its end. */
static const char *
read_all(const char *text, bool packed, int *ret_rows)
{
    static char error[TRACE_ERROR_BYTES];
    struct trace trace;
    struct forecast_reading reading;
    error[0] = '\0';
    *ret_rows = 0;
    write_trace(text, packed);
    if (trace_open(&trace, path, error)) {
        while (trace_next(&trace, &reading, error) == TRACE_ROW)
            ++*ret_rows;
        trace_close(&trace);
    }
    (void)unlink(path);
    return error;
}

static void
test_trace_plain_or_packed_reads_the_same(void **state)
{
    (void)state;
    const char *text = HEADER "0,10.5,150,start\n10,,151,\r\n20.5,10.7,,door\n";
    int rows;
    assert_string_equal(read_all(text, false, &rows), "");
    assert_int_equal(rows, 3);
    assert_string_equal(read_all(text, true, &rows), "");
    assert_int_equal(rows, 3);
}

static void
test_trace_values_are_as_written(void **state)
{
    (void)state;
    char error[TRACE_ERROR_BYTES];
    struct trace trace;
    struct forecast_reading r;
    write_trace(HEADER "10,-1.5,,removed\n", false);
    assert_true(trace_open(&trace, path, error));
    assert_int_equal(trace_next(&trace, &r, error), TRACE_ROW);
    assert_true(fabs(r.time_s - 10) < 1e-12 && fabs(r.core_C + 1.5) < 1e-12 && isnan(r.air_C));
    assert_int_equal(r.event, FORECAST_REMOVED);
    assert_int_equal(trace_next(&trace, &r, error), TRACE_END);
    trace_close(&trace);
    (void)unlink(path);
}

/* Two things at one moment: the one that says more about the food counts. */
static void
test_trace_events_at_one_moment(void **state)
{
    (void)state;
    char error[TRACE_ERROR_BYTES];
    struct trace trace;
    struct forecast_reading r;
    write_trace(HEADER "1,5,,removed;door\n2,5,,door;removed\n3,5,,door\n4,5,,door;open\n",
                false);
    assert_true(trace_open(&trace, path, error));
    for (int row = 0; row < 3; row++) {
        assert_int_equal(trace_next(&trace, &r, error), TRACE_ROW);
        assert_int_equal(r.event, row < 2 ? FORECAST_REMOVED : FORECAST_DOOR);
    }
    assert_int_equal(trace_next(&trace, &r, error), TRACE_BAD);
    trace_close(&trace);
    (void)unlink(path);
}

static void
test_trace_faults_are_told_with_line_and_remedy(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        const char *line;
        const char *says;
    } FAULTS[] = {
        {"", ":1:", "empty file"},
        {"time,core\n", ":1:", "the first line must be time_s,core_degC,air_degC,event"},
        {HEADER "0,1,2,\n0,1,2,\n", ":3:", "does not come after"},
        {HEADER "5,1,2,\n4,1,2,\n", ":3:", "sort the trace by time"},
        {HEADER "x,1,2,\n", ":2:", "time_s is 'x'"},
        {HEADER "1,54;5,2,\n", ":2:", "core_degC is '54;5'"},
        {HEADER "1,54.5C,2,\n", ":2:", "write degrees Celsius"},
        {HEADER "1,nan,2,\n", ":2:", "core_degC is 'nan'"},
        {HEADER "1,0x10,2,\n", ":2:", "core_degC is '0x10'"},
        {HEADER "1,2,5000,\n", ":2:", "air_degC is 5000"},
        {HEADER "1,2,3,explode\n", ":2:",
         "write start, removed, moved, setpoint, door, stirred, end-of-cooking or nothing"},
        {HEADER "1,2,3\n", ":2:", "3 columns"},
        {HEADER "1,2,3,,\n", ":2:", "more than four columns"},
    };
    for (size_t i = 0; i < sizeof FAULTS / sizeof FAULTS[0]; i++) {
        int rows;
        const char *error = read_all(FAULTS[i].text, false, &rows);
        if (strstr(error, FAULTS[i].line) == NULL || strstr(error, FAULTS[i].says) == NULL)
            fail_msg("fault %zu: '%s' should hold '%s' and '%s'", i, error, FAULTS[i].line,
                     FAULTS[i].says);
    }
}

static void
test_trace_line_too_long_is_refused(void **state)
{
    (void)state;
    char text[1000] = HEADER "1,2,3,";
    size_t used = strlen(text);
    memset(text + used, 'a', sizeof text - used - 1);
    text[sizeof text - 1] = '\0';
    int rows;
    assert_non_null(strstr(read_all(text, false, &rows), "line longer than"));
}

static void
test_trace_cut_short_is_told(void **state)
{
    (void)state;
    char text[20000] = HEADER;
    size_t used = strlen(text);
    for (int i = 0; i < 700; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, "%d,%d.%d,150,\n", i * 10,
                                 i / 10, i * 7 % 10);
    write_trace(text, true);
    assert_int_equal(truncate(path, 900), 0);
    char error[TRACE_ERROR_BYTES] = "";
    struct trace trace;
    struct forecast_reading r;
    assert_true(trace_open(&trace, path, error));
    enum trace_status status;
    while ((status = trace_next(&trace, &r, error)) == TRACE_ROW)
        ;
    trace_close(&trace);
    (void)unlink(path);
    assert_int_equal(status, TRACE_BAD);
    assert_non_null(strstr(error, "copy it again"));
}

/* Runs the command with its output in a file; the exit code. */
static int
command(char **argv, char *ret_output, size_t size)
{
    int argc = 0;
    while (argv[argc] != NULL)
        argc++;
    (void)fflush(stdout);
    (void)fflush(stderr);
    int out = dup(1), err = dup(2);
    FILE *file = tmpfile();
    assert_non_null(file);
    assert_true(dup2(fileno(file), 1) >= 0 && dup2(fileno(file), 2) >= 0);
    int code = cli_forecast(argc, argv);
    (void)fflush(stdout);
    (void)fflush(stderr);
    assert_true(dup2(out, 1) >= 0 && dup2(err, 2) >= 0);
    (void)close(out);
    (void)close(err);
    rewind(file);
    size_t read = fread(ret_output, 1, size - 1, file);
    ret_output[read] = '\0';
    (void)fclose(file);
    return code;
}

static void
test_command_used_wrongly_says_how(void **state)
{
    (void)state;
    static char output[8192];
    char *nothing[] = {"forecast", NULL};
    char *both[] = {"forecast", "--target", "60", "--cooling", "57,21@2h", "x.csv", NULL};
    char *odd[] = {"forecast", "--cooling", "57,21@2", "x.csv", NULL};
    char *warm[] = {"forecast", "--cooling", "57,60@2h", "x.csv", NULL};
    char *dish[] = {"forecast", "--target", "60", "--product", "soup", "x.csv", NULL};
    char *gone[] = {"forecast", "--target", "60", "no-such-trace.csv", NULL};
    assert_int_equal(command(nothing, output, sizeof output), 2);
    assert_non_null(strstr(output, "say what to forecast"));
    assert_non_null(strstr(output, "usage: trivet forecast --target"));
    assert_int_equal(command(both, output, sizeof output), 2);
    assert_int_equal(command(odd, output, sizeof output), 2);
    assert_non_null(strstr(output, "57,21@2h,5@6h"));
    assert_null(strstr(output, "usage:")); /* it would hide what is wrong */
    assert_int_equal(command(warm, output, sizeof output), 2);
    assert_int_equal(command(dish, output, sizeof output), 2);
    assert_non_null(strstr(output, "roast, flat, loaf or wrapped"));
    assert_int_equal(command(gone, output, sizeof output), 1);
    assert_non_null(strstr(output, "no-such-trace.csv: cannot open"));
}

static void
test_command_prints_a_row_a_minute_through_a_gap(void **state)
{
    (void)state;
    static char text[60000], output[60000];
    size_t used = (size_t)snprintf(text, sizeof text, "%s", HEADER);
    for (int i = 0; i <= 180; i++) {
        if (i > 120 && i < 150)
            continue; /* five minutes are lost */
        double core_C = 8 + 0.0009 * i * i;
        used += (size_t)snprintf(text + used, sizeof text - used, "%d,%.1f,150,%s\n", 10 * i,
                                 core_C, i == 0 ? "start" : "");
    }
    write_trace(text, false);
    char *argv[] = {"forecast", "--target", "60", path, NULL};
    assert_int_equal(command(argv, output, sizeof output), 0);
    (void)unlink(path);
    assert_non_null(strstr(output, "time_s,eta_s_p50,eta_s_p05,eta_s_p95,peak_p50\n"));
    assert_non_null(strstr(output, "\n0,,,,\n"));
    assert_non_null(strstr(output, "too early: another 8 min of readings"));
    for (int minute = 1; minute <= 30; minute++) {
        char start[20];
        (void)snprintf(start, sizeof start, "\n%d,", minute * 60);
        assert_non_null(strstr(output, start));
    }
}

/* The three columns come after all others; what has been earned is 0. */
static void
test_command_tells_when_it_will_be_earned(void **state)
{
    (void)state;
    static char text[60000], output[60000];
    size_t used = (size_t)snprintf(text, sizeof text, "%s", HEADER);
    for (int i = 0; i <= 360; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, "%d,%.2f,110,%s\n", 10 * i,
                                 8 + 60 * pow(i / 360.0, 1.5), i == 0 ? "start" : "");
    write_trace(text, false);
    char *argv[] = {"forecast", "--target", "68", "--earn", "60C,7.5,2min", path, NULL};
    char *cold[] = {"forecast", "--cooling", "57,21@2h", "--earn", "60C,7.5,2min", path, NULL};
    char *odd[] = {"forecast", "--target", "68", "--earn", "60C,7.5", path, NULL};
    assert_int_equal(command(cold, output, sizeof output), 2);
    assert_int_equal(command(odd, output, sizeof output), 2);
    assert_non_null(strstr(output, "70C,7.5,2min"));
    assert_int_equal(command(argv, output, sizeof output), 0);
    (void)unlink(path);
    assert_non_null(strstr(output, "peak_p50,earned_s_p50,earned_s_p05,earned_s_p95\n"));
    double now_s, eta, low, high, peak, earned_s, early_s, late_s;
    const char *row = strstr(output, "\n2400,");
    assert_non_null(row);
    assert_int_equal(sscanf(row, "\n%lf,%lf,%lf,%lf,%lf,%lf,%lf,%lf", &now_s, &eta, &low, &high,
                            &peak, &earned_s, &early_s, &late_s),
                     8);
    /* Worked outside, by the second along 8 + 60 (t / 3600)^1.5: 2 min at 60 °C with z 7.5 K
     * are earned after 3251 s. A third of what is left is the corpus' 90th percentile. */
    if (fabs(now_s + earned_s - 3251) > 284 || early_s > earned_s || late_s < earned_s)
        fail_msg("earned %.0f (%.0f to %.0f) s after %.0f", earned_s, early_s, late_s, now_s);
    assert_non_null(strstr(output, ",0,0,0\n3600,"));
}

/* A made run of an hour and a half at ten seconds, or of its first `rows` readings. */
static void
write_run(bool cook, int rows)
{
    static char text[60000];
    size_t used = (size_t)snprintf(text, sizeof text, "%s", HEADER);
    for (int i = 0; i < rows; i++) {
        double at = i / 540.0;
        double core_C = cook ? 6 + 70 * pow(at, 1.6) : 4 + 71 * exp(-2.2 * pow(at, 1.3));
        used += (size_t)snprintf(text + used, sizeof text - used, "%d,%.1f,%d,%s\n", 10 * i,
                                 core_C, cook ? 160 : 3, i == 0 ? "start" : "");
    }
    write_trace(text, false);
}

/* The rows of the first half are the same, to the last digit, whether what comes after is there
 * or not; and the columns are those a scorer reads, in their order. */
static void
test_command_uses_nothing_that_comes_later(void **state)
{
    (void)state;
    static char whole[60000], half[60000];
    static const char *const HEADS[] = {"time_s,eta_s_p50,eta_s_p05,eta_s_p95,peak_p50\n",
                                        "time_s,eta_s_p50,eta_s_p05,eta_s_p95,peak_p50,eta5_s_"
                                        "p50,eta5_s_p05,eta5_s_p95,miss1_prob,"
                                        "miss2_prob\n"};
    for (int cooling = 0; cooling <= 1; cooling++) {
        char *argv[] = {"forecast", cooling ? "--cooling" : "--target",
                        cooling ? "57,21@2h,5@6h" : "60", path, NULL};
        write_run(!cooling, 541);
        assert_int_equal(command(argv, whole, sizeof whole), 0);
        (void)unlink(path);
        write_run(!cooling, 271); /* to 2700 s */
        assert_int_equal(command(argv, half, sizeof half), 0);
        (void)unlink(path);
        const char *rows = strstr(half, HEADS[cooling]), *same = strstr(whole, HEADS[cooling]);
        assert_non_null(rows);
        assert_non_null(same);
        const char *last = strstr(rows, "\n2640,");
        assert_non_null(last);
        last = strchr(last + 1, '\n');
        assert_non_null(last);
        assert_memory_equal(rows, same, (size_t)(last - rows));
        double eta_s;
        assert_int_equal(sscanf(strstr(rows, "\n2640,"), "\n2640,%lf", &eta_s), 1);
        assert_true(eta_s > 0); /* there is something to be the same */
        assert_non_null(strstr(same, "\n5400,"));
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_trace_plain_or_packed_reads_the_same),
        cmocka_unit_test(test_trace_values_are_as_written),
        cmocka_unit_test(test_trace_events_at_one_moment),
        cmocka_unit_test(test_trace_faults_are_told_with_line_and_remedy),
        cmocka_unit_test(test_trace_line_too_long_is_refused),
        cmocka_unit_test(test_trace_cut_short_is_told),
        cmocka_unit_test(test_command_used_wrongly_says_how),
        cmocka_unit_test(test_command_prints_a_row_a_minute_through_a_gap),
        cmocka_unit_test(test_command_tells_when_it_will_be_earned),
        cmocka_unit_test(test_command_uses_nothing_that_comes_later),
    };
    return cmocka_run_group_tests_name("cli forecast", tests, NULL, NULL);
}
