/* The plan's buses and probes that are no Modbus ones: read exactly, and every fault told at
 * its line and column. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/plan_rig.h"

#define HEAD                                                                                   \
    "site: {name: Test kitchen, demo: yes}\n"                                                  \
    "people: [{initials: AB, name: Ana Brandt, role: cook}, "                                  \
    "{initials: RS, name: Ruth Sandoval, role: verifier}]\n"                                   \
    "buses:\n"
#define LINE                                                                                   \
    "  - {id: b, driver: serial-line, device: /dev/ttyS0, baud: 9600, parity: none, timeout: " \
    "3 s, "
#define PROBES "probes:\n"
#define PROBE  "  - {id: p, name: P, kind: food, bus: b, plausible: [-40 °C, 150 °C], "

static void
test_serial_line_is_read_exactly(void **state)
{
    (void)state;
    struct plan *plan = plan_rig_load(
        HEAD LINE "data_bits: 7, stop_bits: 2, line_end: cr, pattern: 'T{channel}={value} "
                  "{status}', poll: 'R{channel}\\r', good_status: [OK, LOWBAT]}\n" PROBES PROBE
                  "channel: \"1\", scale: 0.1 °F, offset: -4 °F}\n");
    const struct plan_bus *bus = &plan->buses[0];
    assert_int_equal(bus->driver, BUS_SERIAL_LINE);
    assert_string_equal(bus->device, "/dev/ttyS0");
    assert_int_equal(bus->baud_bps, 9600);
    assert_int_equal(bus->parity, 'N');
    assert_int_equal(bus->data_bits, 7);
    assert_int_equal(bus->stop_bits, 2);
    assert_int_equal(bus->line_end, LINE_END_CR);
    assert_string_equal(bus->pattern, "T{channel}={value} {status}");
    assert_string_equal(bus->poll, "R{channel}\\r");
    assert_string_equal(bus->good_status[0], "OK");
    assert_string_equal(bus->good_status[1], "LOWBAT");
    assert_null(bus->good_status[2]);
    assert_int_equal(bus->timeout_ms, 3000);
    assert_int_equal(bus->max_late_ms, 500);
    assert_string_equal(plan->probes[0].channel, "1");
    assert_int_equal(plan->probes[0].reads, TEMP_F);
    assert_true(plan->probes[0].scale_micro == 100000);
    assert_true(plan->probes[0].offset_micro == -4000000);
    plan_free(plan);
}

static void
test_serial_line_defaults_are_as_documented(void **state)
{
    (void)state;
    struct plan *plan = plan_rig_load(HEAD LINE "pattern: '{value}'}\n" PROBES PROBE "}\n");
    const struct plan_bus *bus = &plan->buses[0];
    assert_int_equal(bus->data_bits, 8);
    assert_int_equal(bus->stop_bits, 1);
    assert_int_equal(bus->line_end, LINE_END_CRLF);
    assert_null(bus->poll);
    assert_null(bus->good_status[0]);
    assert_null(plan->probes[0].channel);
    assert_true(plan->probes[0].scale_micro == 1000000);
    plan_free(plan);
}

/* The bus may stand behind its probes. */
static void
test_bus_below_its_probes_says_their_keys_as_well(void **state)
{
    (void)state;
    struct plan *plan =
        plan_rig_load("site: {name: Test kitchen}\n"
                      "probes:\n" PROBE "address: 28-0316a2794aff}\n"
                      "buses: [{id: b, driver: onewire}]\n"
                      "people: [{initials: AB, name: A, role: cook}, {initials: RS, "
                      "name: R, role: verifier}]\n");
    assert_string_equal(plan->probes[0].address, "28-0316a2794aff");
    assert_int_equal(plan->buses[0].driver, BUS_ONEWIRE);
    assert_null(plan->buses[0].root);
    plan_free(plan);
}

static void
test_kernel_nodes_and_recordings_are_read_exactly(void **state)
{
    (void)state;
    struct plan *plan = plan_rig_load(
        HEAD
        "  - {id: b, driver: iio, root: /srv/made}\n"
        "  - {id: c, driver: trace, file: roast.csv, speed: 60, at_end: loop}\n" PROBES PROBE
        "node: \"iio:device0\", channel: in_temp_object}\n"
        "  - {id: q, name: Q, kind: air, bus: b, plausible: [-40 °C, 150 °C], node: "
        "hwmon2, channel: temp1}\n"
        "  - {id: r, name: R, kind: air, bus: c, plausible: [-40 °C, 150 °C], column: "
        "air}\n");
    assert_string_equal(plan->buses[0].root, "/srv/made");
    assert_string_equal(plan->buses[1].file, "/etc/trivet/roast.csv");
    assert_int_equal(plan->buses[1].speed, 60);
    assert_int_equal(plan->buses[1].at_end, TRACE_LOOPS);
    assert_string_equal(plan->probes[0].node, "iio:device0");
    assert_string_equal(plan->probes[0].channel, "in_temp_object");
    assert_string_equal(plan->probes[1].channel, "temp1");
    assert_int_equal(plan->probes[2].column, TRACE_AIR);
    plan_free(plan);
}

#define OF_LINE(bus, probe) HEAD LINE bus "}\n" PROBES PROBE probe "}\n"
#define OF(bus, probe)      HEAD "  - {id: b, driver: " bus "}\n" PROBES PROBE probe "}\n"

static void
test_serial_line_badly_written_is_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {OF_LINE("pattern: 'T={valeu}'", ""), 4, 106, "no such field"},
        {OF_LINE("pattern: '°''{valeu}'", ""), 4, 107, "no such field"},
        {OF_LINE("pattern: '{value}', poll: 'R{chanel}\\r'", ""), 4, 122, "only field"},
        {OF_LINE("pattern: '{value}', poll: R\\q", ""), 4, 121, "backslash"},
        {OF_LINE("pattern: \"{value}\\r\"", ""), 4, 103, "control character"},
        {OF_LINE("pattern: '{value} {status}'", ""), 4, 0, "write good_status"},
        {OF_LINE("pattern: '{value}', good_status: [OK]", ""), 4, 0, "has no {status}"},
        {OF_LINE("pattern: '{channel} {value}'", ""), 6, 0, "lacks 'channel'"},
        {OF_LINE("pattern: '{value}', poll: '{channel}'", ""), 6, 0, "lacks 'channel'"},
        {OF_LINE("pattern: '{value:1},{value:2}'", "channel: \"3\""), 6, 0,
         "no value of this channel"},
        {OF_LINE("pattern: '{value}'", "channel: \"3\""), 6, 0, "has a channel; delete"},
        {OF_LINE("pattern: '{value} {unit}'", "scale: 1 °F"), 6, 0, "delete scale"},
        {OF_LINE("pattern: '{value} {unit}'", "offset: 1 °C"), 6, 0, "delete offset"},
        {OF_LINE("pattern: '{value}'", "unit: 1"), 6, 0,
         "no meaning on a bus with driver: "
         "serial-line"},
        {OF_LINE("pattern: '{value}', host: 192.0.2.1", ""), 4, 0, "no meaning with driver"},
        {OF_LINE("line_end: crlf", ""), 4, 0, "lacks 'pattern'"},
        {HEAD
         "  - {id: b, driver: serial-line, device: /dev/ttyS0, parity: none, timeout: 3 s, "
         "pattern: '{value}'}\n",
         4, 0, "lacks 'baud'"},
        {HEAD "  - {id: b, driver: serial-line, device: /dev/ttyS0, baud: 9600, timeout: 3 s, "
              "pattern: '{value}'}\n",
         4, 0, "lacks 'parity'"},
        {HEAD "  - {id: b, driver: serial-line, device: /dev/ttyS0, baud: 9600, parity: none, "
              "pattern: '{value}'}\n",
         4, 0, "lacks 'timeout'"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
}

/* Found by fuzzing: the keys were read for the first bus of the id and checked for the second.
 */
static void
test_bus_given_twice_is_told_and_its_probes_are_of_the_first(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {HEAD "  - {id: b, driver: onewire}\n  - {id: b, driver: iio}\n" PROBES PROBE
              "address: 28-0316a2794aff}\n",
         5, 10, "'b' is already used on line 4"},
        {HEAD "  - {id: b, driver: iio}\n  - {id: b, driver: onewire}\n" PROBES PROBE
              "node: max31856, channel: in_temp}\n",
         5, 10, "'b' is already used on line 4"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        plan_rig_must_tell(&cases[i]);
}

static void
test_onewire_badly_written_is_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {OF("onewire", ""), 6, 0, "lacks 'address'"},
        {OF("onewire", "address: 28-0316A2794AFF"), 6, 0, "no 1-Wire id"},
        {OF("onewire", "address: 28-0316a2794af"), 6, 0, "no 1-Wire id"},
        {OF("onewire", "address: 28-0316a2794aff0"), 6, 0, "no 1-Wire id"},
        {OF("onewire", "address: 28.0316a2794aff"), 6, 0, "no 1-Wire id"},
        {OF("onewire", "address: ../../../../etc"), 6, 0, "no 1-Wire id"},
        {OF("onewire", "address: 05-0316a2794aff"), 6, 0, "no thermometer"},
        {OF("onewire", "address: 28-0316a2794aff, scale: 1 °C"), 6, 0, "no meaning on a bus"},
        {OF("onewire", "address: 28-0316a2794aff, register: 1"), 6, 0, "no meaning on a bus"},
        {OF("onewire, root: sys", "address: 28-0316a2794aff"), 4, 0, "begin with '/'"},
        {OF("onewire, timeout: 1 s", "address: 28-0316a2794aff"), 4, 0, "no meaning with"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
}

static void
test_iio_badly_written_is_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {OF("iio", "channel: in_temp"), 6, 0, "lacks 'node'"},
        {OF("iio", "node: max31856"), 6, 0, "lacks 'channel'"},
        {OF("iio", "node: ../max31856, channel: in_temp"), 6, 0, "no device is named so"},
        {OF("iio", "node: .., channel: in_temp"), 6, 0, "no device is named so"},
        {OF("iio", "node: max31856, channel: temp"), 6, 0, "no temperature of the kernel"},
        {OF("iio", "node: max31856, channel: temp1x"), 6, 0, "no temperature of the kernel"},
        {OF("iio", "node: max31856, channel: in_temp/../x"), 6, 0,
         "no temperature of the kernel"},
        {OF("iio", "node: max31856, channel: in_voltage0"), 6, 0,
         "no temperature of the kernel"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
}

static void
test_recording_badly_written_is_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {OF("trace", "column: core"), 4, 0, "lacks 'file'"},
        {OF("trace, file: a.csv", ""), 6, 0, "lacks 'column'"},
        {OF("trace, file: a.csv", "column: event"), 6, 0, "is not known"},
        {OF("trace, file: a.csv, speed: 0", "column: core"), 4, 0, "out of range"},
        {OF("trace, file: a.csv, at_end: again", "column: core"), 4, 0, "is not known"},
        {"site: {name: Test kitchen}\npeople: [{initials: AB, name: A, role: cook}, {initials: "
         "RS, name: R, role: verifier}]\nbuses: [{id: b, driver: trace, file: a.csv}]\n",
         3, 25, "demo: yes"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
}

static void
test_modbus_extensions_are_read_exactly(void **state)
{
    (void)state;
    struct plan *plan = plan_rig_load(
        HEAD "  - {id: b, driver: modbus-rtu, device: /dev/ttyS0, direction: kernel, pause: 50 "
             "ms}\n"
             "  - {id: c, driver: modbus-rtu-tcp, host: 192.0.2.1}\n" PROBES PROBE
             "unit: 1, function: 4, register: 65532, type: float64, byte_order: DCBA, "
             "status_register: 0, bad_bits: [0, 15], good_bits: [7]}\n"
             "  - {id: q, name: Q, kind: air, bus: c, plausible: [-40 °C, 150 °C], unit: 247, "
             "function: 3, register: 65535, type: int16}\n");
    assert_true(plan->buses[0].kernel_direction);
    assert_int_equal(plan->buses[0].pause_ms, 50);
    assert_int_equal(plan->buses[1].driver, BUS_MODBUS_RTU_TCP);
    assert_int_equal(plan->buses[1].port, 502);
    assert_int_equal(plan->buses[1].pause_ms, 0);
    assert_false(plan->buses[1].kernel_direction);
    const struct plan_probe *probe = &plan->probes[0];
    assert_int_equal(probe->type, REGISTER_FLOAT64);
    assert_int_equal(probe->order, ORDER_DCBA);
    assert_true(probe->has_status);
    assert_int_equal(probe->status_reg, 0);
    assert_int_equal(probe->bad_bit_count, 2);
    assert_true(probe->bad_bits[0] == 0 && probe->bad_bits[1] == 15);
    assert_int_equal(probe->good_bit_count, 1);
    assert_true(probe->good_bits[0] == 7);
    assert_false(plan->probes[1].has_status);
    plan_free(plan);
}

#define ON_TCP(more)                                                                           \
    OF("modbus-tcp, host: 192.0.2.1", "unit: 1, function: 4, register: 0, type: int16" more)

static void
test_modbus_extensions_badly_written_are_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {ON_TCP(", bad_bits: [0]"), 6, 0, "without status_register"},
        {ON_TCP(", good_bits: [0]"), 6, 0, "without status_register"},
        {ON_TCP(", status_register: 4, bad_bits: [16]"), 6, 0, "out of range"},
        {ON_TCP(", status_register: 65536"), 6, 0, "out of range"},
        {ON_TCP(", status_register: 4, bad_bits: [3], good_bits: [3]"), 6, 0, "in bad_bits"},
        {OF("modbus-tcp, host: 192.0.2.1",
            "unit: 1, function: 4, register: 65533, type: int64"),
         6, 0, "write at most 65532"},
        {OF("modbus-tcp, host: 192.0.2.1",
            "unit: 1, function: 4, register: 65535, type: int32"),
         6, 0, "write at most 65534"},
        {OF("modbus-rtu-tcp, host: 192.0.2.1",
            "unit: 255, function: 4, register: 1, type: int16"),
         6, 0, "no unit of a serial line"},
        {OF("modbus-rtu-tcp, host: 192.0.2.1, baud: 9600",
            "unit: 1, function: 4, register: 1, type: int16"),
         4, 0, "no meaning with"},
        {OF("modbus-tcp, host: 192.0.2.1, direction: kernel",
            "unit: 1, function: 4, register: 1, type: int16"),
         4, 0, "no meaning with"},
        {OF("modbus-tcp, host: 192.0.2.1, pause: 2 s",
            "unit: 1, function: 4, register: 1, type: int16"),
         4, 0, "out of range"},
        {OF("onewire", "address: 28-0316a2794aff, status_register: 4"), 6, 0,
         "no meaning on a bus"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
}

static void
test_modbus_probe_does_not_take_the_keys_of_others(void **state)
{
    (void)state;
#define REGISTER "unit: 1, function: 4, register: 0, type: int16"
    static const struct plan_wrong cases[] = {
        {OF("modbus-tcp, host: 192.0.2.1", REGISTER ", channel: a"), 6, 0,
         "no meaning on a bus"},
        {OF("modbus-tcp, host: 192.0.2.1", REGISTER ", column: core"), 6, 0,
         "no meaning on a bus"},
        {OF("modbus-tcp, host: 192.0.2.1", "function: 4, register: 0, type: int16"), 6, 0,
         "lacks 'unit'"},
        {OF("modbus-tcp, host: 192.0.2.1, pattern: a", REGISTER), 4, 0, "no meaning with"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
}

/* ---- switches ---- */

#define PLACES "places:\n  - {id: f, name: Fridge, limit: {kind: none}}\n"
#define WITH_SWITCH(bus, keys)                                                                 \
    HEAD "  - {id: b, driver: " bus "}\n" PLACES                                               \
         "switches:\n  - {id: s, name: Door, place: f, bus: b, " keys "}\n"
#define TCP "modbus-tcp, host: 192.0.2.1"
#define RTU "modbus-rtu, device: /dev/ttyS0"

static void
test_switches_are_read_exactly(void **state)
{
    (void)state;
    struct plan *plan = plan_rig_load(
        HEAD "  - {id: a, driver: onewire}\n  - {id: b, driver: " TCP "}\n" PLACES
             "  - {id: g, name: Other, limit: {kind: none}}\n"
             "switches:\n"
             "  - {id: d, name: Door, kind: door, place: g, bus: b, unit: 255, function: 2, "
             "address: 65535, active: 0, every: 100 ms, open_at_most: 90 s}\n"
             "  - {id: p, name: Button, kind: button, place: f, bus: b, unit: 1, function: 1, "
             "address: 0}\n");
    assert_int_equal(plan->switch_count, 2);
    const struct plan_switch *door = &plan->switches[0], *button = &plan->switches[1];
    assert_string_equal(door->id, "d");
    assert_string_equal(door->name, "Door");
    assert_int_equal(door->kind, SWITCH_DOOR);
    assert_int_equal(door->place, 1);
    assert_int_equal(door->bus, 1);
    assert_int_equal(door->unit, 255);
    assert_int_equal(door->function, 2);
    assert_int_equal(door->address, 65535);
    assert_int_equal(door->active, 0);
    assert_int_equal(door->every_ms, 100);
    assert_int_equal(door->open_max_ms, 90000);
    assert_int_equal(button->kind, SWITCH_BUTTON);
    assert_int_equal(button->place, 0);
    assert_int_equal(button->function, 1);
    assert_int_equal(button->active, 1);
    assert_int_equal(button->every_ms, 1000);
    assert_int_equal(button->open_max_ms, 0);
    assert_int_equal(plan_switch_index(plan, "p"), 1);
    assert_int_equal(plan_switch_index(plan, "x"), -1);
    plan_free(plan);
}

static void
test_switches_badly_written_are_told(void **state)
{
    (void)state;
#define AT_0 "kind: door, unit: 1, function: 2, address: 0"
    static const struct plan_wrong cases[] = {
        {WITH_SWITCH("onewire", AT_0), 8, 0, "is no Modbus one"},
        {WITH_SWITCH(TCP, "kind: door, unit: 1, function: 4, address: 0"), 8, 0,
         "is not known"},
        {WITH_SWITCH(TCP, "kind: lamp, unit: 1, function: 2, address: 0"), 8, 0,
         "is not known"},
        {WITH_SWITCH(TCP, "kind: door, unit: 1, function: 2"), 8, 0, "lacks 'address'"},
        {WITH_SWITCH(TCP, "kind: door, unit: 248, function: 2, address: 0"), 8, 0,
         "is reserved"},
        {WITH_SWITCH(RTU, "kind: door, unit: 0, function: 2, address: 0"), 8, 0,
         "no unit of a serial line"},
        {WITH_SWITCH(TCP, AT_0 ", active: 2"), 8, 0, "is not known"},
        {WITH_SWITCH(TCP, AT_0 ", every: 99 ms"), 8, 0, "out of range"},
        {WITH_SWITCH(TCP, AT_0 ", open_at_most: 4 s"), 8, 0, "out of range"},
        {WITH_SWITCH(TCP,
                     "kind: button, unit: 1, function: 2, address: 0, open_at_most: 1 min"),
         8, 0, "no meaning with kind: button"},
        /* A copy of a reply can come for longest_delay: the same bits are not asked within it.
         */
        {WITH_SWITCH(RTU, AT_0 ", every: 500 ms"), 8, 0, "longer than longest_delay"},
        {WITH_SWITCH("modbus-rtu-tcp, host: 192.0.2.1, longest_delay: 1 s", AT_0), 8, 0,
         "the default of every has to be longer than longest_delay of bus 'b', 1 s"},
        {WITH_SWITCH(TCP, AT_0 "}\n  - {id: t, name: T, place: f, bus: b, " AT_0), 9, 0,
         "switch 's' is at this address already"},
        {WITH_SWITCH(TCP, AT_0 "}\n  - {id: s, name: T, place: f, bus: b, kind: door, unit: 1, "
                               "function: 2, address: 1"),
         9, 0, "is already used"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
    plan_free(plan_rig_load(WITH_SWITCH(RTU, AT_0 ", every: 501 ms")));
    plan_free(plan_rig_load(WITH_SWITCH(TCP, AT_0 ", every: 100 ms")));
}

/* ---- the same asked again on a line ---- */

#define WITH_PROBE(bus, every) OF(bus, REGISTER every)
#define RTU_TCP                "modbus-rtu-tcp, host: 192.0.2.1"

/* docs/modbus.md, "Second copies": as of a switch, so of a probe. */
static void
test_probe_asked_again_while_a_copy_can_come_is_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {WITH_PROBE(RTU, ", every: 500 ms"), 6, 0,
         "every has to be longer than longest_delay of bus 'b', 500 ms; write a longer time, "
         "or a shorter longest_delay"},
        {WITH_PROBE(RTU_TCP ", longest_delay: 2 s", ", every: 2 s"), 6, 0,
         "longer than longest_delay of bus 'b', 2 s"},
        {WITH_PROBE(RTU ", longest_delay: 10 s", ""), 6, 0,
         "the default of every has to be longer than longest_delay of bus 'b', 10 s"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
    plan_free(plan_rig_load(WITH_PROBE(RTU, ", every: 501 ms")));
    plan_free(plan_rig_load(WITH_PROBE(RTU_TCP ", longest_delay: 99 ms", ", every: 100 ms")));
    plan_free(plan_rig_load(WITH_PROBE(TCP, ", every: 100 ms")));
}

#define WITH_SIGNAL(bus, keys)                                                                 \
    HEAD "  - {id: b, driver: " bus "}\n"                                                      \
         "signals:\n  - {id: s, name: Light, bus: b, unit: 3, coil: 0, shows: alarm" keys      \
         "}\n"

static void
test_signal_written_again_while_a_copy_can_come_is_told(void **state)
{
    (void)state;
    static const struct plan_wrong cases[] = {
        {WITH_SIGNAL(RTU ", longest_delay: 2 s", ", heartbeat: 2 s"), 6, 0,
         "heartbeat has to be longer than longest_delay of bus 'b', 2 s"},
        {WITH_SIGNAL(RTU_TCP ", longest_delay: 5 s", ""), 6, 0,
         "the default of heartbeat has to be longer than longest_delay of bus 'b', 5 s"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        plan_rig_must_tell(&cases[i]);
    plan_free(plan_rig_load(WITH_SIGNAL(RTU ", longest_delay: 1999 ms", ", heartbeat: 2 s")));
    plan_free(plan_rig_load(WITH_SIGNAL(TCP ", longest_delay: 2 s", ", heartbeat: 1 s")));
}

/* A plan of before the rule stays readable in the records. */
static void
test_recorded_plan_may_ask_again_at_once(void **state)
{
    (void)state;
    static struct plan_faults faults;
    static const char text[] = WITH_PROBE(RTU, ", every: 100 ms");
    struct plan *plan = plan_load_record("plan.yaml", text, strlen(text), &faults);
    assert_non_null(plan);
    assert_int_equal(plan->probes[0].every_ms, 100);
    plan_free(plan);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_serial_line_is_read_exactly),
        cmocka_unit_test(test_serial_line_defaults_are_as_documented),
        cmocka_unit_test(test_bus_below_its_probes_says_their_keys_as_well),
        cmocka_unit_test(test_kernel_nodes_and_recordings_are_read_exactly),
        cmocka_unit_test(test_serial_line_badly_written_is_told),
        cmocka_unit_test(test_bus_given_twice_is_told_and_its_probes_are_of_the_first),
        cmocka_unit_test(test_onewire_badly_written_is_told),
        cmocka_unit_test(test_iio_badly_written_is_told),
        cmocka_unit_test(test_recording_badly_written_is_told),
        cmocka_unit_test(test_modbus_extensions_are_read_exactly),
        cmocka_unit_test(test_modbus_extensions_badly_written_are_told),
        cmocka_unit_test(test_switches_are_read_exactly),
        cmocka_unit_test(test_switches_badly_written_are_told),
        cmocka_unit_test(test_modbus_probe_does_not_take_the_keys_of_others),
        cmocka_unit_test(test_probe_asked_again_while_a_copy_can_come_is_told),
        cmocka_unit_test(test_signal_written_again_while_a_copy_can_come_is_told),
        cmocka_unit_test(test_recorded_plan_may_ask_again_at_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
