/* Probes of a plan whose device gives mV or ohm: read exactly, and every fault told at its
 * line. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/plan_rig.h"

#define HEAD                                                                                   \
    "site: {name: Test kitchen}\n"                                                             \
    "people: [{initials: AB, name: Ana Brandt, role: cook}, "                                  \
    "{initials: RS, name: Ruth Sandoval, role: verifier}]\n"                                   \
    "buses:\n"
#define TCP  "  - {id: b, driver: modbus-tcp, host: 192.0.2.1}\n"
#define CHIP "  - {id: b, driver: iio}\n"
#define LINE                                                                                   \
    "  - {id: b, driver: serial-line, device: /dev/ttyS0, baud: 9600, parity: none, timeout: " \
    "3 s, pattern: '{value:1},{value:2}"
#define PROBES "probes:\n"
/* The one under test stands on line 6. */
#define PROBE "  - {id: p, name: P, kind: food, bus: b, plausible: [-40 °C, 150 °C], "
#define COLD  "  - {id: terminals, name: T, kind: air, bus: b, plausible: [-20 °C, 80 °C], "
#define AT(n) "unit: 1, function: 4, register: " #n ", type: int16"

#define MODBUS(probe)      HEAD TCP PROBES PROBE AT(0) probe "}\n"
#define MODBUS_COLD(probe) MODBUS(probe) COLD AT(1) "}\n"

static void
test_sensor_is_read_exactly(void **state)
{
    (void)state;
    struct plan *plan = plan_rig_load(
        MODBUS_COLD(", sensor: tc-k, scale: 0.01 mV, offset: -5 mV, cold_junction: terminals"));
    const struct plan_probe *probe = &plan->probes[0];
    assert_string_equal(probe->sensor, "tc-k");
    assert_int_equal(probe->signal, SIGNAL_MV);
    assert_true(probe->scale_micro == 10000);
    assert_true(probe->offset_micro == -5000000);
    assert_int_equal(probe->cold_probe, 1);
    assert_int_equal(probe->cold_mC, TEMP_NONE);
    assert_null(plan->probes[1].sensor);
    assert_int_equal(plan->probes[1].signal, SIGNAL_TEMP);
    assert_int_equal(plan->probes[1].cold_probe, -1);
    assert_int_equal(plan->probes[1].cold_mC, TEMP_NONE);
    plan_free(plan);
}

/* V and kohm in mV and ohm; a fixed cold junction in either degrees. */
static void
test_units_of_a_scale_are_understood(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum signal_unit signal;
        int64_t scale_micro;
        int32_t cold_mC;
    } cases[] = {
        {MODBUS(", sensor: tc-t, scale: 1 uV, cold_junction: 23.5 °C"), SIGNAL_UV, 1000000,
         23500},
        {MODBUS(", sensor: tc-t, scale: 0.5 µV, cold_junction: 0 C"), SIGNAL_UV, 500000, 0},
        {MODBUS(", sensor: TC-J, scale: 1 V, cold_junction: -10 °C"), SIGNAL_MV, 1000000000,
         -10000},
        {MODBUS(", sensor: tc-n, scale: 0.000001 mV, cold_junction: 32 °F"), SIGNAL_MV, 1, 0},
        {MODBUS(", sensor: pt100, scale: 0.1 ohm"), SIGNAL_OHM, 100000, TEMP_NONE},
        {MODBUS(", sensor: 'rtd:500ohm', scale: 0.1 Ω"), SIGNAL_OHM, 100000, TEMP_NONE},
        {MODBUS(", sensor: 'ntc-beta:10kohm@25C,3950', scale: 0.001 kohm"), SIGNAL_OHM, 1000000,
         TEMP_NONE},
        {MODBUS(", sensor: 'ntc-3pt:25kohm@5C,10kohm@25C,4kohm@45C', scale: 1 kΩ"), SIGNAL_OHM,
         1000000000, TEMP_NONE},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct plan *plan = plan_rig_load(cases[i].text);
        assert_int_equal(plan->probes[0].signal, cases[i].signal);
        assert_true(plan->probes[0].scale_micro == cases[i].scale_micro);
        assert_int_equal(plan->probes[0].cold_mC, cases[i].cold_mC);
        assert_int_equal(plan->probes[0].cold_probe, -1);
        plan_free(plan);
    }
}

/* The kernel's voltages are mV, its resistances ohm; a converter before them has a scale. */
static void
test_kernel_channel_says_its_unit_itself(void **state)
{
    (void)state;
    static const struct {
        const char *channel, *more;
        enum signal_unit signal;
        int64_t scale_micro;
    } cases[] = {
        {"in_voltage0", "sensor: tc-k, cold_junction: 25 °C", SIGNAL_MV, 1000000},
        {"in_voltage0-voltage1", "sensor: tc-k, cold_junction: 25 °C", SIGNAL_MV, 1000000},
        {"in_voltage2", "sensor: tc-k, cold_junction: 25 °C, scale: 20 uV", SIGNAL_UV,
         20000000},
        {"in_resistance0", "sensor: pt1000", SIGNAL_OHM, 1000000},
        {"in_voltage0", "sensor: pt100, scale: 2 ohm", SIGNAL_OHM, 2000000},
        {"in3", "sensor: tc-e, cold_junction: 25 °C", SIGNAL_MV, 1000000},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char text[1000];
        (void)snprintf(text, sizeof text,
                       HEAD CHIP PROBES PROBE "node: adc, channel: %s, %s}\n", cases[i].channel,
                       cases[i].more);
        struct plan *plan = plan_rig_load(text);
        assert_int_equal(plan->probes[0].signal, cases[i].signal);
        assert_true(plan->probes[0].scale_micro == cases[i].scale_micro);
        plan_free(plan);
    }
}

static void
test_line_may_say_its_unit_itself(void **state)
{
    (void)state;
    struct plan *plan = plan_rig_load(
        HEAD "  - {id: b, driver: serial-line, device: /dev/ttyS0, baud: 9600, parity: "
             "none, timeout: 3 s, pattern: '{channel}={value} {unit}'}\n" PROBES PROBE
             "channel: a, sensor: tc-k, cold_junction: terminals}\n" COLD "channel: b}\n");
    assert_string_equal(plan->probes[0].sensor, "tc-k");
    plan_free(plan);
}

/* ---- faults ---- */

#define TC ", sensor: tc-k, scale: 0.01 mV, cold_junction: "

static void
test_sensor_badly_written_is_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {MODBUS(", sensor: tc-x, scale: 1 mV, cold_junction: 0 °C"), 6, 0, "write tc-k"},
        {MODBUS(", sensor: 'rtd:100', scale: 1 ohm"), 6, 0, "no unit"},
        {MODBUS(", sensor: 'ntc-beta:10kohm@25C', scale: 1 ohm"), 6, 0, "write ntc-beta:"},
        {MODBUS(", sensor: 'ntc-sh:1,2,3', scale: 1 ohm"), 6, 0, "describe no NTC"},
        {MODBUS(", sensor: pt100"), 6, 0, "write scale: 0.1 ohm"},
        {MODBUS(", sensor: tc-k, cold_junction: 0 °C"), 6, 0, "write scale: 0.01 mV"},
        {MODBUS(", sensor: pt100, scale: 0.1 °C"), 6, 0, "write it in ohm or kohm"},
        {MODBUS(", sensor: pt100, scale: 0.1 mV"), 6, 0, "write it in ohm or kohm"},
        {MODBUS(", sensor: tc-k, scale: 0.1 ohm, cold_junction: 0 °C"), 6, 0, "mV, uV or V"},
        {MODBUS(", sensor: pt100, scale: 0.1 ohm, offset: 1 mV"), 6, 0, "in another unit"},
        {MODBUS(", sensor: pt100, scale: 0.1"), 6, 0, "has no unit"},
        {MODBUS(", sensor: pt100, scale: 0.1 Mohm"), 6, 0, "is not a number with its unit"},
        {MODBUS(", sensor: pt100, scale: 2 MV"), 6, 0, "is not a number with its unit"},
        {MODBUS(", sensor: tc-k, scale: 0 mV, cold_junction: 0 °C"), 6, 0, "out of range"},
        {MODBUS(", sensor: tc-k, scale: 2 V, cold_junction: 0 °C"), 6, 0, "out of range"},
        {MODBUS(", sensor: tc-k, scale: 9999999999 V, cold_junction: 0 °C"), 6, 0, "digits"},
        {MODBUS(", scale: 0.1 mV"), 6, 0, "write sensor: tc-k"},
        {MODBUS(", scale: 0.1 ohm"), 6, 0, "write sensor: pt100"},
        {MODBUS(", offset: 0.1 ohm"), 6, 0, "in another unit"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
}

static void
test_cold_junction_badly_written_is_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {MODBUS(", sensor: tc-k, scale: 0.01 mV"), 6, 0, "lacks 'cold_junction'"},
        {MODBUS(", cold_junction: 0 °C"), 6, 0, "no meaning without a sensor"},
        {MODBUS(", sensor: pt100, scale: 1 ohm, cold_junction: 0 °C"), 6, 0, "has none"},
        {MODBUS(TC "23.5"), 6, 0, "has no unit"},
        {MODBUS(TC "126 °C"), 6, 0, "out of range"},
        {MODBUS(TC "-51 °C"), 6, 0, "out of range"},
        {MODBUS(TC "'23,5 °C'"), 6, 0, "a point, not a comma"},
        {MODBUS(TC "0.0005 °C"), 6, 0, "more decimals"},
        {MODBUS(TC "Terminals"), 6, 0, "neither a temperature nor the id of a probe"},
        {MODBUS_COLD(TC "terminal"), 6, 0, "did you mean 'terminals'"},
        {MODBUS_COLD(TC "p"), 6, 0, "its own cold junction"},
        {MODBUS(TC "other") COLD AT(1) ", sensor: tc-t, scale: 1 uV, cold_junction: 0 °C}\n", 6,
         0, "there is no probe 'other'"},
        {MODBUS(TC "terminals")
             COLD AT(1) ", sensor: tc-t, scale: 1 uV, cold_junction: 0 °C}\n",
         6, 0, "is a thermocouple itself"},
        {HEAD TCP "  - {id: c, driver: onewire}\n" PROBES PROBE AT(0) TC
         "terminals}\n  - {id: terminals, name: T, kind: air, bus: c, plausible: [-20 "
         "°C, 80 °C], address: 28-0316a2794aff}\n",
         7, 0, "on another bus"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
}

static void
test_sensor_where_it_has_no_meaning_is_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {HEAD "  - {id: b, driver: onewire}\n" PROBES PROBE
              "address: 28-0316a2794aff, sensor: pt100}\n",
         6, 0, "no meaning on a bus"},
        {HEAD CHIP PROBES PROBE "node: adc, channel: in_temp, sensor: pt100}\n", 6, 0,
         "neither a voltage nor a resistance"},
        {HEAD CHIP PROBES PROBE "node: adc, channel: in_voltage0}\n", 6, 0,
         "no temperature of the kernel"},
        {HEAD CHIP PROBES PROBE "node: adc, channel: in_temp, scale: 1 °C}\n", 6, 0,
         "degrees already"},
        {HEAD CHIP PROBES PROBE "node: adc, channel: in_voltage0, sensor: pt100}\n", 6, 0,
         "write scale: 1 ohm"},
        {HEAD CHIP PROBES PROBE
         "node: adc, channel: in_resistance0, sensor: tc-k, cold_junction: 0 °C}\n",
         6, 0, "write scale: 1 mV"},
        {HEAD LINE "'}\n" PROBES PROBE "channel: \"1\", sensor: pt100}\n", 6, 0,
         "write scale: 0.1 ohm"},
        {HEAD LINE " {unit}'}\n" PROBES PROBE
                   "channel: \"1\", sensor: pt100, scale: 0.1 ohm}\n",
         6, 0, "delete scale"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sensor_is_read_exactly),
        cmocka_unit_test(test_units_of_a_scale_are_understood),
        cmocka_unit_test(test_kernel_channel_says_its_unit_itself),
        cmocka_unit_test(test_line_may_say_its_unit_itself),
        cmocka_unit_test(test_sensor_badly_written_is_told),
        cmocka_unit_test(test_cold_junction_badly_written_is_told),
        cmocka_unit_test(test_sensor_where_it_has_no_meaning_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
