/* The trace driver with a clock of the test's own. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include <zlib.h>

#include "tests/support/temp_dir.h"
#include "trivet/probe_driver.h"
#include "trivet/units.h"

#define HEAD "time_s,core_degC,air_degC,event\n"

static struct {
    struct temp_dir dir;
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probes[2];
    int64_t now_ms;
    struct clock clock;
    void *state;
    struct driver_error error;
    struct driver_sample samples[2];
} rig;

static int64_t
now(void *arg)
{
    return *(int64_t *)arg;
}

static int
set_up(void **state)
{
    (void)state;
    memset(&rig, 0, sizeof rig);
    temp_dir_make(&rig.dir);
    rig.now_ms = 5000000;
    rig.clock = (struct clock){.mono_ms = now, .wall_ms = now, .arg = &rig.now_ms};
    rig.bus = (struct plan_bus){.id = "lesson",
                                .driver = BUS_TRACE,
                                .file = temp_dir_file(&rig.dir, "roast.csv"),
                                .speed = 1,
                                .at_end = TRACE_STOPS};
    for (size_t i = 0; i < 2; i++)
        rig.probes[i] = (struct plan_probe){.column = i == 0 ? TRACE_CORE : TRACE_AIR,
                                            .plausible_min_mC = -40000,
                                            .plausible_max_mC = 300000,
                                            .every_ms = 1000};
    rig.plan = (struct plan){
        .buses = &rig.bus, .bus_count = 1, .probes = rig.probes, .probe_count = 2};
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    probe_driver_for(BUS_TRACE)->close(rig.state);
    temp_dir_remove(&rig.dir);
    return 0;
}

static bool
open_text(const char *text)
{
    FILE *out = fopen(rig.bus.file, "wb");
    assert_non_null(out);
    assert_true(fputs(text, out) >= 0);
    assert_int_equal(fclose(out), 0);
    return probe_driver_for(BUS_TRACE)->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error);
}

static void
expect(int64_t after_ms, int32_t core_mC, int32_t air_mC)
{
    struct driver_request request;
    const int64_t before = rig.now_ms;
    assert_int_equal(probe_driver_for(BUS_TRACE)->requests(&rig.plan, 0, &request, 1), 1);
    assert_int_equal(request.count, 2);
    rig.now_ms += after_ms;
    assert_true(
        probe_driver_for(BUS_TRACE)->read(rig.state, &request, rig.samples, &rig.error));
    rig.now_ms = before;
    assert_int_equal(rig.samples[0].temp_mC, core_mC);
    assert_int_equal(rig.samples[1].temp_mC, air_mC);
    for (size_t i = 0; i < 2; i++)
        assert_int_equal(rig.samples[i].quality == READING_GOOD,
                         rig.samples[i].temp_mC != TEMP_NONE);
}

static void
test_row_holds_until_the_next(void **state)
{
    (void)state;
    assert_true(open_text(HEAD "100,4.5,180,start\n110,4.625,181.0625,\n125.5,,190,door\n"));
    expect(0, 4500, 180000);
    expect(9999, 4500, 180000);
    expect(10000, 4625, 181063); /* 181.0625, rounded away from zero */
    expect(25499, 4625, 181063);
    expect(25500, TEMP_NONE, 190000);
    assert_int_equal(rig.samples[0].quality, BAD_TIMEOUT);
}

static void
test_end_is_told_and_stays(void **state)
{
    (void)state;
    assert_true(open_text(HEAD "0,4,5,\n10,6,7,\n"));
    expect(39999, 6000, 7000);
    expect(40000, TEMP_NONE, TEMP_NONE);
    assert_int_equal(rig.samples[0].quality, BAD_LINK);
    assert_non_null(strstr(rig.error.text, "ended"));
    expect(4000000, TEMP_NONE, TEMP_NONE);
}

static void
test_loop_begins_anew(void **state)
{
    (void)state;
    rig.bus.at_end = TRACE_LOOPS;
    assert_true(open_text(HEAD "0,4,5,\n10,6,7,\n"));
    expect(39999, 6000, 7000);
    expect(40000, 4000, 5000);
    expect(40000 * 1000 + 10000, 6000, 7000);
}

static void
test_speed_makes_its_time_pass_faster(void **state)
{
    (void)state;
    rig.bus.speed = 60;
    assert_true(open_text(HEAD "0,4,5,\n60,6,7,\n"));
    expect(999, 4000, 5000);
    expect(1000, 6000, 7000);
}

static void
test_compressed_recording_plays(void **state)
{
    (void)state;
    static const char text[] = HEAD "0,4,5,\n";
    gzFile out = gzopen(rig.bus.file, "wb");
    assert_non_null(out);
    assert_int_equal(gzwrite(out, text, sizeof text - 1), sizeof text - 1);
    assert_int_equal(gzclose(out), Z_OK);
    assert_true(
        probe_driver_for(BUS_TRACE)->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error));
    expect(0, 4000, 5000);
}

/* Rows enough that half of the compressed file holds whole ones. */
static void
test_compressed_recording_cut_short_does_not_play(void **state)
{
    (void)state;
    static unsigned char bytes[200000];
    gzFile out = gzopen(rig.bus.file, "wb");
    assert_non_null(out);
    assert_true(gzputs(out, HEAD) > 0);
    for (int i = 0; i < 5000; i++)
        assert_true(gzprintf(out, "%d,%d.%d,%d,\n", i * 5, i * 7919 % 97, i * 31 % 10,
                             i * 104729 % 201) > 0);
    assert_int_equal(gzclose(out), Z_OK);
    FILE *file = fopen(rig.bus.file, "rb");
    assert_non_null(file);
    const size_t len = fread(bytes, 1, sizeof bytes, file);
    assert_int_equal(fclose(file), 0);
    assert_in_range(len, 10000, sizeof bytes - 1);
    for (size_t cut = len / 2; cut < len / 2 + 40; cut++) {
        file = fopen(rig.bus.file, "wb");
        assert_non_null(file);
        assert_int_equal(fwrite(bytes, 1, cut, file), cut);
        assert_int_equal(fclose(file), 0);
        assert_false(probe_driver_for(BUS_TRACE)->open(&rig.plan, 0, &rig.clock, &rig.state,
                                                       &rig.error));
        assert_non_null(strstr(rig.error.text, "roast.csv:"));
    }
    file = fopen(rig.bus.file, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, len, file), len); /* whole again */
    assert_int_equal(fclose(file), 0);
    assert_true(
        probe_driver_for(BUS_TRACE)->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error));
}

static void
test_implausible_value_is_refused_as_any_other(void **state)
{
    (void)state;
    assert_true(open_text(HEAD "0,300.001,300,\n"));
    expect(0, TEMP_NONE, 300000);
    assert_int_equal(rig.samples[0].quality, BAD_IMPLAUSIBLE);
}

static void
test_recording_badly_written_is_told_with_its_line(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } cases[] = {
        {"", ":1: the first line"},
        {"time,core\n", ":1: the first line"},
        {HEAD, ":2: there is no row"},
        {HEAD "0,4,5\n", ":2: there are not four"},
        {HEAD "0,4,5,,\n", ":2: there are not four"},
        {HEAD "0,4,5,\nx,4,5,\n", ":3: time_s is no time"},
        {HEAD "1e3,4,5,\n", ":2: time_s is no time"},
        {HEAD "5,4,5,\n5,4,5,\n", ":3: time_s does not come"},
        {HEAD "0,warm,5,\n", ":2: a temperature"},
        {HEAD "0,nan,5,\n", ":2: a temperature"},
        {HEAD "0,4,1000.001,\n", ":2: a temperature"},
        {HEAD "0,-200.001,4,\n", ":2: a temperature"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        assert_false(open_text(cases[i].text));
        if (strstr(rig.error.text, cases[i].says) == NULL)
            fail_msg("'%s' is told as: %s", cases[i].text, rig.error.text);
    }
}

static void
test_recording_that_is_not_there_is_told(void **state)
{
    (void)state;
    assert_false(
        probe_driver_for(BUS_TRACE)->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error));
    assert_non_null(strstr(rig.error.text, "cannot be opened"));
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_row_holds_until_the_next),
        TEST(test_end_is_told_and_stays),
        TEST(test_loop_begins_anew),
        TEST(test_speed_makes_its_time_pass_faster),
        TEST(test_compressed_recording_plays),
        TEST(test_compressed_recording_cut_short_does_not_play),
        TEST(test_implausible_value_is_refused_as_any_other),
        TEST(test_recording_badly_written_is_told_with_its_line),
        TEST(test_recording_that_is_not_there_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
