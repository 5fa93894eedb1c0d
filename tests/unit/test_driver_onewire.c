/* The 1-Wire driver on a made directory tree. Scratchpads: 85 °C and +25.0625 °C are those of
 * the DS18B20 data sheet (Maxim 19-7487, table 1); the first with its check sum 1Ch is the
 * example of Linux, Documentation/w1/slaves/w1_therm.rst and of the data sheet's power-on
 * state. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/support/temp_dir.h"
#include "trivet/clock.h"
#include "trivet/probe_driver.h"
#include "trivet/units.h"

#define SENSOR "28-0316a2794aff"
#define S20    "10-000802bcf635"

static struct {
    struct temp_dir dir;
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probes[2];
    struct clock clock;
    void *state;
    struct driver_error error;
    struct driver_sample sample;
} rig;

static void
path_of(char path[400], const char *sensor, const char *file)
{
    (void)snprintf(path, 400, "%s/%s%s%s", rig.dir.path, sensor, file[0] ? "/" : "", file);
}

/* Replaces a file of a sensor; NULL removes it. */
static void
write_file(const char *sensor, const char *file, const char *text)
{
    char path[400];
    path_of(path, sensor, "");
    (void)mkdir(path, 0700); /* may be there */
    path_of(path, sensor, file);
    if (text == NULL) {
        (void)unlink(path); /* may be absent */
        return;
    }
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    assert_true(fputs(text, out) >= 0);
    assert_int_equal(fclose(out), 0);
}

static int
set_up(void **state)
{
    (void)state;
    memset(&rig, 0, sizeof rig);
    temp_dir_make(&rig.dir);
    rig.clock = clock_machine();
    rig.bus = (struct plan_bus){.id = "w1", .driver = BUS_ONEWIRE, .root = rig.dir.path};
    for (size_t i = 0; i < 2; i++)
        rig.probes[i] = (struct plan_probe){.address = i == 0 ? SENSOR : S20,
                                            .plausible_min_mC = -55000,
                                            .plausible_max_mC = 125000,
                                            .every_ms = 1000};
    rig.plan = (struct plan){
        .buses = &rig.bus, .bus_count = 1, .probes = rig.probes, .probe_count = 2};
    assert_true(
        probe_driver_for(BUS_ONEWIRE)->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error));
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    static const char *const files[] = {"w1_slave", "temperature"};
    char path[400];
    probe_driver_for(BUS_ONEWIRE)->close(rig.state);
    for (size_t i = 0; i < 2; i++) {
        for (size_t k = 0; k < 2; k++) {
            path_of(path, rig.probes[i].address, files[k]);
            (void)unlink(path); /* may be absent */
        }
        path_of(path, rig.probes[i].address, "");
        (void)rmdir(path); /* likewise */
    }
    temp_dir_remove(&rig.dir);
    return 0;
}

/* Reads the index-th probe. */
static bool
read_sensor(size_t index)
{
    struct driver_request requests[2];
    const struct probe_driver *driver = probe_driver_for(BUS_ONEWIRE);
    assert_int_equal(driver->requests(&rig.plan, 0, requests, 2), 2);
    assert_int_equal(requests[index].count, 1);
    assert_int_equal(requests[index].probes[0], index);
    memset(&rig.error, 0, sizeof rig.error);
    return driver->read(rig.state, &requests[index], &rig.sample, &rig.error);
}

static void
expect(const char *w1_slave, uint16_t quality, int32_t temp_mC)
{
    write_file(SENSOR, "w1_slave", w1_slave);
    assert_true(read_sensor(0));
    if (rig.sample.quality != quality)
        fail_msg("quality %d for:\n%s", rig.sample.quality, w1_slave);
    assert_int_equal(rig.sample.temp_mC, temp_mC);
}

static void
test_sound_scratchpad_is_its_temperature(void **state)
{
    (void)state;
    /* Check sums computed apart, bit by bit, with the polynomial of application note 27. */
    expect("91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n",
           READING_GOOD, 25062);
    expect("5e ff 4b 46 7f ff 02 10 b6 : crc=b6 YES\n5e ff 4b 46 7f ff 02 10 b6 t=-10125\n",
           READING_GOOD, -10125);
}

static void
test_power_on_value_is_a_fault_and_a_measured_85_is_none(void **state)
{
    (void)state;
    expect("50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n",
           BAD_FAULT_VALUE, TEMP_NONE);
    /* Byte 6 as a measurement leaves it: 10h - 0h. */
    expect("50 05 4b 46 7f ff 10 10 bd : crc=bd YES\n50 05 4b 46 7f ff 10 10 bd t=85000\n",
           READING_GOOD, 85000);
    /* One step beside it. */
    expect("51 05 4b 46 7f ff 0f 10 0a : crc=0a YES\n51 05 4b 46 7f ff 0f 10 0a t=85062\n",
           READING_GOOD, 85062);
}

static void
test_power_on_value_of_the_older_family_is_a_fault(void **state)
{
    (void)state;
    write_file(S20, "w1_slave",
               "aa 00 4b 46 ff ff 0c 10 87 : crc=87 YES\naa 00 4b 46 ff ff 0c 10 87 t=85000\n");
    assert_true(read_sensor(1));
    assert_int_equal(rig.sample.quality, BAD_FAULT_VALUE);
}

/* Zeros are what a line at ground gives, and their check sum holds. */
static void
test_line_at_ground_is_not_zero_degrees(void **state)
{
    (void)state;
    expect("00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n",
           BAD_FAULT_VALUE, TEMP_NONE);
}

static void
test_wrong_check_sum_is_told_whoever_computed_it(void **state)
{
    (void)state;
    expect("91 01 4b 46 7f ff 0f 10 25 : crc=26 NO\n91 01 4b 46 7f ff 0f 10 25 t=25062\n",
           BAD_CRC, TEMP_NONE);
    expect("91 01 4b 46 7f ff 0f 10 25 : crc=25 NO\n91 01 4b 46 7f ff 0f 10 25 t=25062\n",
           BAD_CRC, TEMP_NONE);
    /* The kernel says YES, and it is not so. */
    expect("92 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n92 01 4b 46 7f ff 0f 10 25 t=25125\n",
           BAD_CRC, TEMP_NONE);
    assert_non_null(strstr(rig.error.text, SENSOR));
}

static void
test_text_that_is_none_of_the_kernels_is_a_bad_frame(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "hello\n",
        "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n",
        "91 01 4b 46 7f ff 0f 10 25\n",
        "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=\n",
        "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062x\n",
        "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25.062\n",
        "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n92 01 4b 46 7f ff 0f 10 25 t=25062\n",
        "91 01 4b 46 7f ff 0f 10 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n",
        "9g 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n",
    };
    for (size_t i = 0; i < COUNT_OF(texts); i++)
        expect(texts[i], BAD_FRAME, TEMP_NONE);
}

static void
test_value_outside_what_the_sensor_measures_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        uint16_t quality;
    } cases[] = {
        {"-127000", BAD_FAULT_VALUE}, {"-55001", BAD_IMPLAUSIBLE}, {"-55000", READING_GOOD},
        {"125000", READING_GOOD},     {"125001", BAD_IMPLAUSIBLE}, {"85000", BAD_FAULT_VALUE},
        {"84937", READING_GOOD},      {"", BAD_TIMEOUT},           {"x", BAD_FRAME},
        {"63000\n", READING_GOOD},    {"63.5", BAD_FRAME},         {"6 3", BAD_FRAME},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        write_file(SENSOR, "temperature", cases[i].text);
        assert_true(read_sensor(0));
        if (rig.sample.quality != cases[i].quality)
            fail_msg("quality %d for '%s'", rig.sample.quality, cases[i].text);
    }
}

static void
test_plausible_range_of_the_plan_is_kept(void **state)
{
    (void)state;
    rig.probes[0].plausible_max_mC = 25061;
    expect("91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n",
           BAD_IMPLAUSIBLE, TEMP_NONE);
}

static void
test_sensor_that_is_gone_is_a_timeout_and_others_go_on(void **state)
{
    (void)state;
    write_file(S20, "temperature", "4500\n");
    assert_true(read_sensor(0));
    assert_int_equal(rig.sample.quality, BAD_TIMEOUT);
    assert_non_null(strstr(rig.error.text, "cable"));
    assert_true(read_sensor(1));
    assert_int_equal(rig.sample.temp_mC, 4500);
}

static void
test_bus_that_is_gone_is_a_lost_line(void **state)
{
    (void)state;
    char gone[400];
    void *other = NULL;
    path_of(gone, "no-such", "");
    rig.bus.root = gone;
    assert_false(
        probe_driver_for(BUS_ONEWIRE)->open(&rig.plan, 0, &rig.clock, &other, &rig.error));
    assert_non_null(strstr(rig.error.text, "there is no"));
    assert_int_equal(mkdir(gone, 0700), 0);
    assert_true(
        probe_driver_for(BUS_ONEWIRE)->open(&rig.plan, 0, &rig.clock, &other, &rig.error));
    assert_int_equal(rmdir(gone), 0);
    struct driver_request request = {.probes = {0}, .count = 1};
    assert_false(probe_driver_for(BUS_ONEWIRE)->read(other, &request, &rig.sample, &rig.error));
    assert_int_equal(rig.sample.quality, BAD_LINK);
    probe_driver_for(BUS_ONEWIRE)->close(other);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_sound_scratchpad_is_its_temperature),
        TEST(test_power_on_value_is_a_fault_and_a_measured_85_is_none),
        TEST(test_power_on_value_of_the_older_family_is_a_fault),
        TEST(test_line_at_ground_is_not_zero_degrees),
        TEST(test_wrong_check_sum_is_told_whoever_computed_it),
        TEST(test_text_that_is_none_of_the_kernels_is_a_bad_frame),
        TEST(test_value_outside_what_the_sensor_measures_is_refused),
        TEST(test_plausible_range_of_the_plan_is_kept),
        TEST(test_sensor_that_is_gone_is_a_timeout_and_others_go_on),
        TEST(test_bus_that_is_gone_is_a_lost_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
