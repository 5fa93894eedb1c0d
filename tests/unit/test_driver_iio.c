/* The IIO and hwmon driver on a made directory tree. Figures are worked by hand after Linux,
 * Documentation/ABI/testing/sysfs-bus-iio: (raw + offset) * scale is in thousandths of a degree
 * Celsius; hwmon/sysfs-interface: temp1_input is too. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/support/temp_dir.h"
#include "trivet/clock.h"
#include "trivet/probe_driver.h"
#include "trivet/units.h"

static struct {
    struct temp_dir dir;
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probe;
    struct clock clock;
    void *state;
    struct driver_error error;
    struct driver_sample sample;
    char made[40][400];
    size_t made_count;
} rig;

/* Writes a file, and remembers what is to be removed; NULL removes it now. */
static void
put(const char *device, const char *file, const char *text)
{
    char path[400];
    (void)snprintf(path, sizeof path, "%s/%s", rig.dir.path, device);
    if (mkdir(path, 0700) == 0)
        memcpy(rig.made[rig.made_count++], path, sizeof path);
    (void)snprintf(path, sizeof path, "%s/%s/%s", rig.dir.path, device, file);
    if (text == NULL) {
        (void)unlink(path); /* may be absent */
        return;
    }
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    assert_true(fputs(text, out) >= 0);
    assert_int_equal(fclose(out), 0);
    memcpy(rig.made[rig.made_count++], path, sizeof path);
    assert_true(rig.made_count < COUNT_OF(rig.made));
}

static int
set_up(void **state)
{
    (void)state;
    memset(&rig, 0, sizeof rig);
    temp_dir_make(&rig.dir);
    rig.clock = clock_machine();
    rig.bus = (struct plan_bus){.id = "chips", .driver = BUS_IIO, .root = rig.dir.path};
    rig.probe = (struct plan_probe){.node = "max31856",
                                    .channel = "in_temp",
                                    .plausible_min_mC = -40000,
                                    .plausible_max_mC = 300000,
                                    .every_ms = 1000};
    rig.plan = (struct plan){
        .buses = &rig.bus, .bus_count = 1, .probes = &rig.probe, .probe_count = 1};
    assert_true(
        probe_driver_for(BUS_IIO)->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error));
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    probe_driver_for(BUS_IIO)->close(rig.state);
    for (size_t i = rig.made_count; i > 0; i--)
        (void)remove(rig.made[i - 1]); /* written twice or removed already */
    temp_dir_remove(&rig.dir);
    return 0;
}

static bool
read_probe(void)
{
    struct driver_request request;
    assert_int_equal(probe_driver_for(BUS_IIO)->requests(&rig.plan, 0, &request, 1), 1);
    memset(&rig.error, 0, sizeof rig.error);
    return probe_driver_for(BUS_IIO)->read(rig.state, &request, &rig.sample, &rig.error);
}

static void
expect(uint16_t quality, int32_t temp_mC)
{
    assert_true(read_probe());
    if (rig.sample.quality != quality)
        fail_msg("quality %d: %s", rig.sample.quality, rig.error.text);
    assert_int_equal(rig.sample.temp_mC, temp_mC);
}

static void
test_raw_with_scale_and_offset_is_exact(void **state)
{
    (void)state;
    static const struct {
        const char *raw, *offset, *scale;
        int32_t temp_mC;
    } cases[] = {
        {"8073", NULL, "7.812500", 63070},         /* 63070.3125: max31856, 2^-7 degree */
        {"1008", NULL, "62.500000", 63000},        /* 12 bits: 2^-4 degree */
        {"-162", NULL, "62.5", -10125},            /* below zero */
        {"16808", "-13657.5", "20.000000", 63010}, /* infrared sensors: 0.02 K */
        {"252", NULL, "250.000000", 63000},        /* 2^-2 degree */
        {"63000", NULL, NULL, 63000},              /* no scale: thousandths as they are */
        {"1", NULL, "0.500000000", 1},             /* a half, away from zero */
        {"-1", NULL, "0.500000000", -1},
        {"1", NULL, "0.499999999", 0},
        {"0", "0.000001", "1000000", 1},
    };
    put("iio:device0", "name", "max31856\n");
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        put("iio:device0", "in_temp_raw", cases[i].raw);
        put("iio:device0", "in_temp_offset", cases[i].offset);
        put("iio:device0", "in_temp_scale", cases[i].scale);
        expect(READING_GOOD, cases[i].temp_mC);
    }
}

static void
test_processed_value_is_thousandths(void **state)
{
    (void)state;
    put("iio:device0", "name", "max31856\n");
    put("iio:device0", "in_temp_input", "63070.3125\n");
    put("iio:device0", "in_temp_raw", "1\n");
    expect(READING_GOOD, 63070);
}

static void
test_channel_shares_the_scale_of_all_temperatures(void **state)
{
    (void)state;
    put("iio:device0", "name", "max31856\n");
    rig.probe.channel = "in_temp_object";
    put("iio:device0", "in_temp_object_raw", "16808\n");
    put("iio:device0", "in_temp_scale", "20.0\n");
    put("iio:device0", "in_temp_offset", "-13657.5\n");
    expect(READING_GOOD, 63010);
    put("iio:device0", "in_temp_object_scale", "10.0\n"); /* its own wins */
    expect(READING_GOOD, 31505);
}

static void
test_hwmon_input_and_its_fault(void **state)
{
    (void)state;
    rig.probe.node = "board";
    rig.probe.channel = "temp1";
    put("hwmon3", "name", "board\n");
    put("hwmon3", "temp1_input", "4500\n");
    expect(READING_GOOD, 4500);
    put("hwmon3", "temp1_fault", "0\n");
    expect(READING_GOOD, 4500);
    put("hwmon3", "temp1_fault", "1\n");
    expect(BAD_FAULT_VALUE, TEMP_NONE);
    put("hwmon3", "temp1_fault", "?\n");
    expect(BAD_FAULT_VALUE, TEMP_NONE);
}

static void
test_fault_of_a_converter_chip_is_never_a_value(void **state)
{
    (void)state;
    put("iio:device0", "name", "max31856\n");
    put("iio:device0", "in_temp_raw", "252\n");
    put("iio:device0", "in_temp_scale", "250\n");
    put("iio:device0", "fault_oc", "1\n");
    expect(BAD_FAULT_VALUE, TEMP_NONE);
    put("iio:device0", "fault_oc", "0\n");
    expect(READING_GOOD, 63000);
    put("iio:device0", "fault_ovuv", "1\n");
    expect(BAD_FAULT_VALUE, TEMP_NONE);
}

static void
test_text_that_is_no_number_is_refused(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "x",   "1e3",  "--1",         "1.2.3", "1 2",
        "+5",  "0x10", ".",           "-",     "99999999999999999999",
        "nan", "5\n5", "1.1234567891"};
    put("iio:device0", "name", "max31856\n");
    for (size_t i = 0; i < COUNT_OF(texts); i++) {
        put("iio:device0", "in_temp_input", texts[i]);
        expect(BAD_CONVERSION, TEMP_NONE);
    }
    put("iio:device0", "in_temp_input", "");
    expect(BAD_TIMEOUT, TEMP_NONE);
    put("iio:device0", "in_temp_input", NULL);
    put("iio:device0", "in_temp_raw", "1");
    put("iio:device0", "in_temp_scale", "x");
    expect(BAD_CONVERSION, TEMP_NONE);
    put("iio:device0", "in_temp_raw", "9000000000000000000");
    put("iio:device0", "in_temp_scale", "1000.5");
    expect(BAD_CONVERSION, TEMP_NONE);
}

static void
test_implausible_value_is_refused(void **state)
{
    (void)state;
    put("iio:device0", "name", "max31856\n");
    put("iio:device0", "in_temp_input", "300000\n");
    expect(READING_GOOD, 300000);
    put("iio:device0", "in_temp_input", "300001\n");
    expect(BAD_IMPLAUSIBLE, TEMP_NONE);
    put("iio:device0", "in_temp_input", "3000000000\n");
    expect(BAD_CONVERSION, TEMP_NONE);
}

static void
test_device_is_found_by_directory_or_by_name_only_once(void **state)
{
    (void)state;
    put("iio:device0", "name", "other\n");
    put("iio:device1", "name", "max31856\n");
    put("iio:device1", "in_temp_input", "63000\n");
    expect(READING_GOOD, 63000);
    put("iio:device2", "name", "max31856\n");
    put("iio:device2", "in_temp_input", "4500\n");
    expect(BAD_LINK, TEMP_NONE);
    assert_non_null(strstr(rig.error.text, "several"));
    rig.probe.node = "iio:device2";
    expect(READING_GOOD, 4500);
    rig.probe.node = "max6675";
    expect(BAD_LINK, TEMP_NONE);
    assert_non_null(strstr(rig.error.text, "no device"));
}

static void
test_missing_channel_is_a_timeout(void **state)
{
    (void)state;
    put("iio:device0", "name", "max31856\n");
    expect(BAD_TIMEOUT, TEMP_NONE);
    assert_non_null(strstr(rig.error.text, "in_temp"));
}

static void
test_root_that_is_gone_is_a_lost_line(void **state)
{
    (void)state;
    char gone[400];
    void *other = NULL;
    (void)snprintf(gone, sizeof gone, "%s/none", rig.dir.path);
    rig.bus.root = gone;
    assert_false(read_probe());
    assert_int_equal(rig.sample.quality, BAD_LINK);
    assert_false(probe_driver_for(BUS_IIO)->open(&rig.plan, 0, &rig.clock, &other, &rig.error));
    assert_non_null(strstr(rig.error.text, "none"));
}

/* ---- sensors ---- */

/* A second probe at the terminals, for which the driver is opened anew. */
static void
begin_with_sensor(const char *sensor, enum signal_unit signal)
{
    static struct plan_probe probes[2];
    probes[0] = rig.probe;
    probes[0].node = probes[1].node = "adc";
    probes[0].sensor = sensor;
    probes[0].signal = signal;
    probes[0].scale_micro = 1000000;
    probes[0].cold_probe = 1;
    probes[1] = (struct plan_probe){.node = "adc",
                                    .channel = "in_temp",
                                    .cold_probe = -1,
                                    .plausible_min_mC = -40000,
                                    .plausible_max_mC = 100000,
                                    .every_ms = 1000};
    rig.plan.probes = probes;
    rig.plan.probe_count = 2;
    rig.plan.tolerances.spacing_polls = 3;
    probe_driver_for(BUS_IIO)->close(rig.state);
    assert_true(
        probe_driver_for(BUS_IIO)->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error));
    put("iio:device0", "name", "adc\n");
}

static struct plan_probe *
sensor_probe(void)
{
    return &rig.plan.probes[0];
}

/* Reads the index-th probe alone, as the poll room does. */
static struct driver_sample
read_one(size_t index)
{
    struct driver_request requests[2];
    struct driver_sample sample;
    assert_int_equal(probe_driver_for(BUS_IIO)->requests(&rig.plan, 0, requests, 2), 2);
    assert_true(
        probe_driver_for(BUS_IIO)->read(rig.state, &requests[index], &sample, &rig.error));
    return sample;
}

static void
expect_one(size_t index, uint16_t quality, int32_t temp_mC)
{
    const struct driver_sample sample = read_one(index);
    assert_int_equal(sample.quality, quality);
    assert_int_equal(sample.temp_mC, temp_mC);
}

/* NIST SRD 60, type K: 100 °C is 4.096230 mV and 25 °C 1.000242 mV, so 3.095988 mV between
 * them. A converter's differential channels share their scale. */
static void
test_thermocouple_on_a_voltage_is_compensated_by_its_cold_junction(void **state)
{
    (void)state;
    rig.probe.channel = "in_voltage0-voltage1";
    begin_with_sensor("tc-k", SIGNAL_MV);
    put("iio:device0", "in_voltage0-voltage1_raw", "24767904\n");
    put("iio:device0", "in_voltage-voltage_scale", "0.000000125\n");
    put("iio:device0", "in_temp_input", "25000\n");
    expect_one(0, BAD_COLD_JUNCTION, TEMP_NONE); /* not read yet */
    expect_one(1, READING_GOOD, 25000);
    expect_one(0, READING_GOOD, 100000);
    put("iio:device0", "in_temp_input", "x\n");
    expect_one(1, BAD_CONVERSION, TEMP_NONE);
    expect_one(0, BAD_COLD_JUNCTION, TEMP_NONE);
}

static void
test_resistance_is_ohm_and_a_current_source_has_a_scale(void **state)
{
    (void)state;
    rig.probe.channel = "in_resistance0";
    begin_with_sensor("pt100", SIGNAL_OHM);
    put("iio:device0", "in_resistance0_raw", "1385055\n"); /* IEC 60751: 100 °C */
    put("iio:device0", "in_resistance_scale", "0.0001\n");
    expect_one(0, READING_GOOD, 100000);
    put("iio:device0", "in_resistance0_raw", "4000000\n"); /* an open wire: 400 ohm */
    expect_one(0, BAD_SIGNAL, TEMP_NONE);
    /* 0.5 mA through it, read as mV: 2 ohm each. */
    sensor_probe()->channel = "in_voltage3";
    sensor_probe()->scale_micro = 2000000;
    put("iio:device0", "in_voltage3_raw", "692528\n"); /* 69.2528 mV of 138.5056 ohm */
    put("iio:device0", "in_voltage_scale", "0.0001\n");
    expect_one(0, READING_GOOD, 100000);
}

/* Linux, hwmon/sysfs-interface: in[0-*]_input is in millivolt. */
static void
test_hwmon_voltage_is_millivolts(void **state)
{
    (void)state;
    rig.probe.channel = "in1";
    begin_with_sensor("tc-e", SIGNAL_MV);
    sensor_probe()->cold_probe = -1;
    sensor_probe()->cold_mC = 0;
    put("iio:device0", "in1_input", "5\n"); /* 5 mV of type E: 80.0 to 81 °C, NIST SRD 60 */
    const struct driver_sample sample = read_one(0);
    assert_int_equal(sample.quality, READING_GOOD);
    assert_in_range(sample.temp_mC, 80000, 81000);
}

static void
test_voltage_that_does_not_fit_is_refused(void **state)
{
    (void)state;
    rig.probe.channel = "in_voltage0";
    begin_with_sensor("pt100", SIGNAL_OHM);
    sensor_probe()->scale_micro = 1000000000;
    put("iio:device0", "in_voltage0_raw", "9000000000000\n");
    expect_one(0, BAD_CONVERSION, TEMP_NONE);
    sensor_probe()->scale_micro = 1000000;
    put("iio:device0", "in_voltage0_raw", "9000000000000000000\n");
    expect_one(0, BAD_CONVERSION, TEMP_NONE);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_raw_with_scale_and_offset_is_exact),
        TEST(test_processed_value_is_thousandths),
        TEST(test_channel_shares_the_scale_of_all_temperatures),
        TEST(test_hwmon_input_and_its_fault),
        TEST(test_fault_of_a_converter_chip_is_never_a_value),
        TEST(test_text_that_is_no_number_is_refused),
        TEST(test_implausible_value_is_refused),
        TEST(test_device_is_found_by_directory_or_by_name_only_once),
        TEST(test_missing_channel_is_a_timeout),
        TEST(test_root_that_is_gone_is_a_lost_line),
        TEST(test_thermocouple_on_a_voltage_is_compensated_by_its_cold_junction),
        TEST(test_resistance_is_ohm_and_a_current_source_has_a_scale),
        TEST(test_hwmon_voltage_is_millivolts),
        TEST(test_voltage_that_does_not_fit_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
