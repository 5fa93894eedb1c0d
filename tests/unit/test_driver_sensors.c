/* Registers that hold mV or ohm, to temperatures. Figures of sensors are the published ones:
 * NIST SRD 60 (ITS-90, Monograph 175) for thermocouples, IEC 60751 for platinum, both copied
 * with their source into tests/unit/data/; a measured voltage with its terminals elsewhere is
 * the difference of two of those rows. */
#include "tests/support/check.h"

#include <math.h>
#include <string.h>

#include "drivers/modbus_parts.h"
#include "drivers/sensors.h"
#include "tests/unit/data/rtd_table.h"
#include "tests/unit/data/thermocouple_table.h"
#include "trivet/reading.h"
#include "trivet/sensor.h"
#include "trivet/units.h"

static struct {
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probes[4];
    struct driver_sensors *sensors;
    struct driver_request request;
    struct driver_signal signals[4];
    struct driver_sample samples[4];
    struct driver_error error;
} rig;

static int
set_up(void **state)
{
    (void)state;
    memset(&rig, 0, sizeof rig);
    rig.bus = (struct plan_bus){.id = "rack", .driver = BUS_MODBUS_TCP};
    for (size_t i = 0; i < COUNT_OF(rig.probes); i++) {
        rig.probes[i] = (struct plan_probe){.id = "p",
                                            .type = REGISTER_INT32,
                                            .scale_micro = 1,
                                            .cold_probe = -1,
                                            .cold_mC = TEMP_NONE,
                                            .plausible_min_mC = -300000,
                                            .plausible_max_mC = 2000000,
                                            .every_ms = 1000};
        rig.request.probes[i] = (uint16_t)i;
    }
    rig.plan = (struct plan){.buses = &rig.bus,
                             .bus_count = 1,
                             .probes = rig.probes,
                             .probe_count = COUNT_OF(rig.probes),
                             .tolerances = {.spacing_polls = 3}};
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    driver_sensors_free(rig.sensors);
    return 0;
}

static void
begin(void)
{
    driver_sensors_free(rig.sensors);
    rig.sensors = driver_sensors_new(&rig.plan, 0, &rig.error);
    if (rig.sensors == NULL)
        fail_msg("%s", rig.error.text);
}

/* One exchange that brings the first count probes. */
static void
apply(uint16_t count, int64_t now_ms)
{
    rig.request.count = count;
    driver_sensors_apply(rig.sensors, &rig.request, rig.signals, now_ms, rig.samples);
}

static void
give_signal(size_t i, double value)
{
    rig.signals[i] =
        (struct driver_signal){.micro = llround(value * 1e6), .unit = rig.probes[i].signal};
    rig.samples[i] = (struct driver_sample){.temp_mC = TEMP_NONE, .quality = READING_GOOD};
}

static void
give_temp(size_t i, int32_t temp_mC, uint16_t quality)
{
    rig.signals[i] = (struct driver_signal){.unit = SIGNAL_TEMP};
    rig.samples[i] = (struct driver_sample){
        .temp_mC = quality == READING_GOOD ? temp_mC : TEMP_NONE, .quality = quality};
}

static void
expect(size_t i, uint16_t quality, int32_t temp_mC)
{
    assert_int_equal(rig.samples[i].quality, quality);
    assert_int_equal(rig.samples[i].temp_mC, temp_mC);
}

/* A thermocouple at 0 whose terminals are watched by probe 1, which speaks degrees. */
static void
thermocouple_with_cold_probe(const char *sensor)
{
    rig.probes[0].sensor = sensor;
    rig.probes[0].signal = SIGNAL_MV;
    rig.probes[0].cold_probe = 1;
    begin();
}

/* ---- the arithmetic ---- */

/* The first row of the type from 20 °C up: where its terminals may well be. */
static const struct thermocouple_row *
terminals_of(char type)
{
    for (size_t i = 0; i < COUNT_OF(thermocouple_rows); i++)
        if (thermocouple_rows[i].type == type && thermocouple_rows[i].temp_C >= 20.0)
            return &thermocouple_rows[i];
    fail_msg("no row of type %c", type);
    return NULL;
}

/* Every row of the table as the tip, less the one of the terminals; from -200 °C up, where the
 * last printed digit, 1 nV, is far less than a thousandth of a degree. */
static void
test_thermocouple_every_table_row_with_its_terminals_in_a_room_agrees(void **state)
{
    (void)state;
    static const struct {
        char type;
        const char *sensor;
    } types[] = {{'K', "tc-k"}, {'T', "tc-t"}, {'J', "tc-j"}, {'E', "tc-e"}, {'N', "tc-n"}};
    size_t rows = 0;
    for (size_t t = 0; t < COUNT_OF(types); t++) {
        const struct thermocouple_row *cold = terminals_of(types[t].type);
        assert_true(cold->temp_C < 30.0);
        rig.probes[0].sensor = types[t].sensor;
        rig.probes[0].signal = SIGNAL_MV;
        rig.probes[0].cold_mC = (int32_t)lround(cold->temp_C * 1000.0);
        begin();
        for (size_t i = 0; i < COUNT_OF(thermocouple_rows); i++) {
            const struct thermocouple_row *row = &thermocouple_rows[i];
            if (row->type != types[t].type || row->temp_C < -200.0)
                continue;
            give_signal(0, row->poly_mV - cold->poly_mV);
            apply(1, 0);
            expect(0, READING_GOOD, (int32_t)lround(row->temp_C * 1000.0));
            rows++;
        }
    }
    assert_true(rows >= 700); /* of 706: four types begin below -200 °C */
}

/* Worked examples, computed from the same source by another program: 2.119410 mV of a type K
 * with its terminals at 23.5 °C is 75 °C, and so on. Adding degrees would say 75.6. */
static void
test_cold_junction_is_compensated_in_voltage(void **state)
{
    (void)state;
    static const struct {
        const char *sensor;
        int32_t cold_mC;
        double measured_mV;
        int32_t temp_mC;
    } cases[] = {{"tc-k", 23500, 2.119410, 75000},
                 {"tc-t", 23500, -1.613899, -18000},
                 {"tc-j", 30000, 4.883899, 121100}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        thermocouple_with_cold_probe(cases[i].sensor);
        give_signal(0, cases[i].measured_mV);
        give_temp(1, cases[i].cold_mC, READING_GOOD);
        apply(2, 0);
        expect(0, READING_GOOD, cases[i].temp_mC);
        expect(1, READING_GOOD, cases[i].cold_mC);
    }
}

static void
test_platinum_every_table_row_agrees(void **state)
{
    (void)state;
    rig.probes[0].sensor = "pt100";
    rig.probes[1].sensor = "pt1000";
    rig.probes[2].sensor = "rtd:500ohm";
    for (size_t i = 0; i < 3; i++)
        rig.probes[i].signal = SIGNAL_OHM;
    begin();
    for (size_t i = 0; i < COUNT_OF(rtd_rows); i++) {
        give_signal(0, rtd_rows[i].equation_ohm);
        give_signal(1, rtd_rows[i].equation_ohm * 10.0);
        give_signal(2, rtd_rows[i].equation_ohm * 5.0);
        apply(3, 0);
        for (size_t k = 0; k < 3; k++)
            expect(k, READING_GOOD, (int32_t)lround(rtd_rows[i].temp_C * 1000.0));
    }
}

/* A common 10 kohm curve ("10K type 2"): its published coefficients, and 97006.9 ohm at -20 °C
 * of its published table, which they meet to 0.0003 °C; they are rounded. */
static void
test_thermistor_is_read_by_its_specification(void **state)
{
    (void)state;
    rig.probes[0].sensor = "ntc-sh:1.129148e-3,2.34125e-4,8.76741e-8";
    rig.probes[1].sensor = "ntc-beta:10kohm@25C,3950";
    rig.probes[0].signal = rig.probes[1].signal = SIGNAL_OHM;
    begin();
    give_signal(0, 97006.9);
    give_signal(1, 10000.0); /* by its own definition */
    apply(2, 0);
    expect(0, READING_GOOD, -20000);
    expect(1, READING_GOOD, 25000);
}

static void
test_microvolts_are_a_thousandth_of_millivolts(void **state)
{
    (void)state;
    rig.probes[0].sensor = "tc-k";
    rig.probes[0].cold_mC = 0;
    rig.probes[0].signal = SIGNAL_UV;
    begin();
    give_signal(0, 4096.230); /* NIST SRD 60: 100 °C */
    apply(1, 0);
    expect(0, READING_GOOD, 100000);
}

/* ---- what is no reading ---- */

static void
test_signal_that_no_such_sensor_gives_is_no_reading(void **state)
{
    (void)state;
    rig.probes[0].sensor = "tc-k";
    rig.probes[0].signal = SIGNAL_MV;
    rig.probes[0].cold_mC = 0;
    rig.probes[1].sensor = "pt100";
    rig.probes[1].signal = SIGNAL_OHM;
    rig.probes[2].sensor = "ntc-beta:10kohm@25C,3950";
    rig.probes[2].signal = SIGNAL_OHM;
    begin();
    /* Type K ends at 54.886 mV and -6.458 mV, Pt100 at 18.52 and 390.48 ohm (their tables);
     * an open and a shorted thermistor. */
    static const double wrong[][3] = {
        {54.888, 390.50, 1e9}, {327.67, 3276.7, 0.5}, {-6.460, 18.51, 0.0}, {-50.0, 0.0, -1.0}};
    for (size_t i = 0; i < COUNT_OF(wrong); i++) {
        for (size_t k = 0; k < 3; k++)
            give_signal(k, wrong[i][k]);
        apply(3, 0);
        for (size_t k = 0; k < 3; k++)
            expect(k, BAD_SIGNAL, TEMP_NONE);
    }
}

static void
test_implausible_temperature_is_no_reading(void **state)
{
    (void)state;
    rig.probes[0].sensor = "pt100";
    rig.probes[0].signal = SIGNAL_OHM;
    rig.probes[0].plausible_max_mC = 100000;
    begin();
    give_signal(0, 138.5055); /* 100 °C by the equation of IEC 60751 */
    apply(1, 0);
    expect(0, READING_GOOD, 100000);
    give_signal(0, 138.51);
    apply(1, 0);
    expect(0, BAD_IMPLAUSIBLE, TEMP_NONE);
}

static void
test_what_is_bad_already_stays_as_it_is(void **state)
{
    (void)state;
    thermocouple_with_cold_probe("tc-k");
    give_temp(1, 23500, READING_GOOD);
    give_signal(0, 2.119410);
    rig.samples[0].quality = BAD_FAULT_VALUE;
    apply(2, 0);
    expect(0, BAD_FAULT_VALUE, TEMP_NONE);
}

/* ---- the cold junction ---- */

static void
test_cold_junction_never_read_is_no_reading(void **state)
{
    (void)state;
    thermocouple_with_cold_probe("tc-k");
    give_signal(0, 2.119410);
    apply(1, 0);
    expect(0, BAD_COLD_JUNCTION, TEMP_NONE);
}

/* Trusted for the plan's largest spacing: three periods of a second. */
static void
test_cold_junction_of_an_earlier_exchange_is_taken_while_it_is_fresh(void **state)
{
    (void)state;
    thermocouple_with_cold_probe("tc-k");
    rig.request.probes[0] = 1; /* the terminals alone */
    rig.samples[0] = (struct driver_sample){.temp_mC = 23500, .quality = READING_GOOD};
    apply(1, 10000);
    rig.request.probes[0] = 0;
    static const struct {
        int64_t at_ms;
        uint16_t quality;
        int32_t temp_mC;
    } then[] = {{10000, READING_GOOD, 75000},
                {13000, READING_GOOD, 75000},
                {13001, BAD_COLD_JUNCTION, TEMP_NONE}};
    for (size_t i = 0; i < COUNT_OF(then); i++) {
        give_signal(0, 2.119410);
        apply(1, then[i].at_ms);
        expect(0, then[i].quality, then[i].temp_mC);
    }
}

/* A broken sensor at the terminals is known at once; a lost exchange says nothing of them. */
static void
test_fault_of_the_cold_junction_ends_it_and_a_lost_exchange_does_not(void **state)
{
    (void)state;
    static const struct {
        uint16_t cold, hot;
    } cases[] = {{BAD_FAULT_VALUE, BAD_COLD_JUNCTION},
                 {BAD_IMPLAUSIBLE, BAD_COLD_JUNCTION},
                 {BAD_CONVERSION, BAD_COLD_JUNCTION},
                 {BAD_TIMEOUT, READING_GOOD},
                 {BAD_CRC, READING_GOOD}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        thermocouple_with_cold_probe("tc-k");
        give_signal(0, 2.119410);
        give_temp(1, 23500, READING_GOOD);
        apply(2, 0);
        expect(0, READING_GOOD, 75000);
        give_signal(0, 2.119410);
        give_temp(1, TEMP_NONE, cases[i].cold);
        apply(2, 1000);
        assert_int_equal(rig.samples[0].quality, cases[i].hot);
    }
}

static void
test_cold_junction_may_be_a_resistance_itself(void **state)
{
    (void)state;
    rig.probes[1].sensor = "pt100";
    rig.probes[1].signal = SIGNAL_OHM;
    thermocouple_with_cold_probe("tc-k");
    give_signal(0, 4.096230 - 1.000242); /* NIST SRD 60: 100 °C less 25 °C */
    give_signal(1, 109.734656);          /* IEC 60751: 25 °C */
    apply(2, 0);
    expect(1, READING_GOOD, 25000);
    expect(0, READING_GOOD, 100000);
}

/* Terminals beyond the thermocouple's own range: nothing to compensate with. */
static void
test_cold_junction_outside_the_range_is_no_reading(void **state)
{
    (void)state;
    thermocouple_with_cold_probe("tc-t");
    give_signal(0, 1.0);
    give_temp(1, 401000, READING_GOOD);
    apply(2, 0);
    expect(0, BAD_COLD_JUNCTION, TEMP_NONE);
}

static void
test_probes_without_a_sensor_pass_untouched(void **state)
{
    (void)state;
    begin();
    give_temp(0, 63000, READING_GOOD);
    give_temp(1, TEMP_NONE, BAD_TIMEOUT);
    apply(2, 0);
    expect(0, READING_GOOD, 63000);
    expect(1, BAD_TIMEOUT, TEMP_NONE);
}

/* ---- registers ---- */

static void
expect_micro(const struct plan_probe *probe, uint16_t first, uint16_t second, int64_t micro)
{
    const uint16_t registers[2] = {first, second};
    int64_t got = -1;
    assert_int_equal(mbus_decode_signal(probe, registers, &got), READING_GOOD);
    assert_true(got == micro);
}

static void
test_register_becomes_a_signal_by_its_scale(void **state)
{
    (void)state;
    struct plan_probe probe = {.type = REGISTER_INT16, .sensor = "tc-k", .scale_micro = 10000};
    expect_micro(&probe, 409, 0, 4090000); /* hundredths of a mV */
    expect_micro(&probe, 0xffff, 0, -10000);
    probe.offset_micro = -5000000;
    expect_micro(&probe, 409, 0, -910000);
    probe = (struct plan_probe){.type = REGISTER_FLOAT32, .sensor = "tc-k"};
    probe.scale_micro = 1000000000; /* volts, in mV: 0.00390625 V = 2^-8 V */
    expect_micro(&probe, 0x3b80, 0, 3906250);
    probe.scale_micro = 1000000;
    expect_micro(&probe, 0x42de, 0, 111000000); /* 111 ohm */
}

static void
test_register_that_is_no_number_or_a_fault_sign_is_no_signal(void **state)
{
    (void)state;
    struct plan_probe probe = {.type = REGISTER_INT16,
                               .sensor = "tc-k",
                               .scale_micro = 10000,
                               .faults = {32767},
                               .fault_count = 1};
    uint16_t registers[2] = {0x7fff, 0};
    int64_t micro = 7;
    assert_int_equal(mbus_decode_signal(&probe, registers, &micro), BAD_FAULT_VALUE);
    probe.type = REGISTER_FLOAT32;
    registers[0] = 0x7fc0; /* not a number */
    assert_int_equal(mbus_decode_signal(&probe, registers, &micro), BAD_CONVERSION);
    registers[0] = 0x7f7f; /* 3.4e38 */
    assert_int_equal(mbus_decode_signal(&probe, registers, &micro), BAD_CONVERSION);
    assert_true(micro == 7);
}

static void
test_sensor_that_cannot_be_used_is_told_when_the_bus_is_opened(void **state)
{
    (void)state;
    rig.probes[0].sensor = "tc-x";
    assert_null(driver_sensors_new(&rig.plan, 0, &rig.error));
    assert_non_null(strstr(rig.error.text, "write tc-k"));
}

static void
test_unit_that_the_sensor_does_not_give_is_no_reading(void **state)
{
    (void)state;
    rig.probes[0].sensor = "tc-k";
    rig.probes[0].cold_mC = 0;
    rig.probes[0].signal = SIGNAL_OHM; /* a line that says ohm */
    begin();
    give_signal(0, 1.0);
    apply(1, 0);
    expect(0, BAD_CONVERSION, TEMP_NONE);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_thermocouple_every_table_row_with_its_terminals_in_a_room_agrees),
        TEST(test_cold_junction_is_compensated_in_voltage),
        TEST(test_platinum_every_table_row_agrees),
        TEST(test_thermistor_is_read_by_its_specification),
        TEST(test_microvolts_are_a_thousandth_of_millivolts),
        TEST(test_signal_that_no_such_sensor_gives_is_no_reading),
        TEST(test_implausible_temperature_is_no_reading),
        TEST(test_what_is_bad_already_stays_as_it_is),
        TEST(test_cold_junction_never_read_is_no_reading),
        TEST(test_cold_junction_of_an_earlier_exchange_is_taken_while_it_is_fresh),
        TEST(test_fault_of_the_cold_junction_ends_it_and_a_lost_exchange_does_not),
        TEST(test_cold_junction_may_be_a_resistance_itself),
        TEST(test_cold_junction_outside_the_range_is_no_reading),
        TEST(test_probes_without_a_sensor_pass_untouched),
        TEST(test_register_becomes_a_signal_by_its_scale),
        TEST(test_register_that_is_no_number_or_a_fault_sign_is_no_signal),
        TEST(test_sensor_that_cannot_be_used_is_told_when_the_bus_is_opened),
        TEST(test_unit_that_the_sensor_does_not_give_is_no_reading),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
