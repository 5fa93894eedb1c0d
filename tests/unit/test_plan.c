/* The plan room: values loaded exactly, every class of fault told at its line and column,
 * ranges on both sides of their ends. Lines are counted in the plan below. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

#include "trivet/plan.h"

#define COUNT(list) (sizeof(list) / sizeof((list)[0]))

static const char *const base[] = {
    /*  1 */ "site:",
    /*  2 */ "  name: Test kitchen",
    /*  3 */ "  time_zone: UTC",
    /*  4 */ "people:",
    /*  5 */ "  - {initials: AB, name: Ana Brandt, role: cook}",
    /*  6 */ "  - {initials: RS, name: Ruth Sandoval, role: verifier}",
    /*  7 */ "buses:",
    /*  8 */ "  - {id: line, driver: modbus-rtu, device: /dev/ttyS0}",
    /*  9 */ "  - {id: rack, driver: modbus-tcp, host: 192.0.2.10}",
    /* 10 */ "probes:",
    /* 11 */ "  - id: core",
    /* 12 */ "    name: Core",
    /* 13 */ "    kind: food",
    /* 14 */ "    bus: line",
    /* 15 */ "    unit: 11",
    /* 16 */ "    function: 4",
    /* 17 */ "    register: 0",
    /* 18 */ "    type: int16",
    /* 19 */ "    plausible: [-20 °C, 150 °C]",
    /* 20 */ "    scale: 0.1 °C",
    /* 21 */ "    offset: 0 °C",
    /* 22 */ "    fault_values: [32767]",
    /* 23 */ "    every: 5 s",
    /* 24 */
    ("  - {id: air, name: Air, kind: air, bus: rack, unit: 1, function: 3, register: 10, "
     "type: float32, plausible: [-40 °C, 60 °C]}"),
    /* 25 */ "thermometers:",
    /* 26 */ "  - {id: pen, name: Pen}",
    /* 27 */ "places:",
    /* 28 */ "  - id: walk-in",
    /* 29 */ "    name: Walk-in",
    /* 30 */ "    probe: air",
    /* 31 */ "    limit:",
    /* 32 */ "      kind: hold_cold",
    /* 33 */ "      applies_to: air",
    /* 34 */ "      at_most: 5 °C",
    /* 35 */ "      tolerance: 20 min",
    /* 36 */ "      back_for: 5 min",
    /* 37 */ "products:",
    /* 38 */ "  - id: roast",
    /* 39 */ "    name: Roast",
    /* 40 */ "    steps:",
    /* 41 */ "      - id: cook",
    /* 42 */ "        name: Cooking",
    /* 43 */ "        limit: {kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}",
    /* 44 */ "      - id: cool",
    /* 45 */ "        name: Cooling",
    /* 46 */ "        limit:",
    /* 47 */ "          kind: cool",
    /* 48 */ "          applies_to: food",
    /* 49 */ "          from: 57 °C",
    /* 50 */ "          stages:",
    /* 51 */ "            - {to: 21 °C, within: 2 h}",
    /* 52 */ "            - {to: 5 °C, within: 6 h}",
    /* 53 */ "      - id: reheat",
    /* 54 */ "        name: Reheating",
    /* 55 */ "        limit: {kind: reheat, applies_to: food, at_least: 165 °F, within: 2 h}",
    /* 56 */ "tolerances: {silent_for: 5 min}",
    /* 57 */ "alarm: {command: [/bin/true], timeout: 10 s}",
    /* 58 */ "web: {port: 8470}",
    /* 59 */ "records: {directory: /var/lib/trivet}",
};

/* The plan with one line replaced (0: none; NULL: left out). */
static size_t
write_plan(char *buf, size_t size, size_t line, const char *text)
{
    size_t len = 0;
    for (size_t i = 0; i < COUNT(base); i++) {
        const char *one = i + 1 == line ? text : base[i];
        if (one)
            len += (size_t)snprintf(buf + len, size - len, "%s\n", one);
    }
    assert_true(len < size);
    return len;
}

static struct plan *
load_with(size_t line, const char *text, struct plan_faults *ret_faults)
{
    char buf[8192];
    size_t len = write_plan(buf, sizeof(buf), line, text);
    return plan_load_text("/etc/trivet/plan.yaml", buf, len, ret_faults);
}

static char *
all_faults(const struct plan_faults *faults)
{
    static char buf[40000];
    plan_faults_text(faults, "plan", buf, sizeof(buf));
    return buf;
}

static struct plan *
load_good(size_t line, const char *text)
{
    struct plan_faults faults;
    struct plan *plan = load_with(line, text, &faults);
    if (!plan)
        fail_msg("line %zu \"%s\" should load:\n%s", line, text ? text : "",
                 all_faults(&faults));
    return plan;
}

/* ---- one fault, told where it is ---- */

struct fault_case {
    size_t line; /* replaced */
    const char *text;
    int at_line, at_column;
    const char *told; /* part of the one fault */
};

static void
check_one_fault(const struct fault_case *one)
{
    struct plan_faults faults;
    struct plan *plan = load_with(one->line, one->text, &faults);
    const char *text = one->text ? one->text : "(left out)";
    if (plan)
        fail_msg("line %zu \"%s\" was accepted", one->line, text);
    if (faults.count != 1 || faults.more)
        fail_msg("line %zu \"%s\": one fault expected:\n%s", one->line, text,
                 all_faults(&faults));
    if (faults.fault[0].line != one->at_line || faults.fault[0].column != one->at_column ||
        !strstr(faults.fault[0].text, one->told))
        fail_msg("line %zu \"%s\": %d:%d %s expected:\n%s", one->line, text, one->at_line,
                 one->at_column, one->told, all_faults(&faults));
}

static void
test_key_misspelled_missing_or_twice_is_told(void **state)
{
    (void)state;
    static const struct fault_case cases[] = {
        {2, "  nmae: Test kitchen", 2, 3, "site has no key 'nmae'; did you mean 'name'?"},
        {2, "  colour: red\n  name: X", 2, 3, "no key 'colour'; delete it"},
        {2, "  name: X\n  name: Y", 3, 3, "'name' is given twice, first on line 2"},
        {2, "  [a, b]: X\n  name: Y", 2, 3, "a key that is a list"},
        {14, NULL, 11, 5, "a probe lacks 'bus'; write bus: "},
        {34, NULL, 32, 7, "a limit lacks 'at_most'"},
        {33, NULL, 32, 7, "a limit lacks 'applies_to'"},
        {32, NULL, 32, 7, "a limit lacks 'kind'"},
        {43, "        place: walk-in", 41, 9, "a step lacks 'limit'"},
        {55, "        limit: {kind: reheat, applies_to: food, at_least: 165 °F}", 55, 16,
         "a limit lacks 'within'"},
        {43, "        limit: {kind: cook, applies_to: food, at_most: 5 °C, at_least: 63 °C}",
         43, 47, "'at_most' has no meaning with kind: cook"},
        {43, "        limit: {kind: none, applies_to: food}", 43, 29,
         "'applies_to' has no meaning with kind: none"},
        {18, "    type: int16\n    byte_order: ABCD", 19, 5,
         "'byte_order' has no meaning with type: int16"},
        {8, "  - {id: line, driver: modbus-rtu, device: /dev/ttyS0, port: 502}", 8, 56,
         "'port' has no meaning with driver: modbus-rtu"},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        check_one_fault(&cases[i]);
}

static void
test_value_of_wrong_shape_is_told(void **state)
{
    (void)state;
    static const struct fault_case cases[] = {
        {2, "  name: [a]", 2, 9, "name is a list; write name: "},
        {2, "  name: {a: b}", 2, 9, "name is a mapping of keys; write name: "},
        {2, "  name:", 2, 8, "name is empty; write name: "},
        {2, "  name: ''", 2, 9, "name is empty"},
        {58, "web: 5", 58, 6, "web is written as keys with values, and this is a single value"},
        {58, "web:", 58, 5, "this is empty; write enabled: yes"},
        {26, "  pen", 26, 3, "thermometers is a single value; write thermometers: "},
        {26, "  - pen", 26, 5, "a thermometer is written as keys with values"},
        {22, "    fault_values: 32767", 22, 19,
         "fault_values is a single value; write fault_values: [32767]"},
        {57, "alarm: {command: []}", 57, 18, "command is empty; write at least one entry"},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        check_one_fault(&cases[i]);
}

static void
test_quantity_badly_written_is_told(void **state)
{
    (void)state;
    static const struct fault_case cases[] = {
        {34, "      at_most: 5,0 °C", 34, 16, "write a point, not a comma"},
        {34, "      at_most: 5", 34, 16, "at_most: '5' has no unit; write 5 °C (or 5 °F)"},
        {34, "      at_most: 5 min", 34, 16,
         "'5 min' is not a temperature; write at_most: 5 °C"},
        {34, "      at_most: 5 °K", 34, 16, "is not a temperature"},
        {34, "      at_most: 5 °C or so", 34, 16, "is not a temperature"},
        {34, "      at_most: cold", 34, 16, "'cold' is not a temperature"},
        {34, "      at_most: 5e0 °C", 34, 16, "is not a temperature"},
        {34, "      at_most: 5. °C", 34, 16, "is not a temperature"},
        {34, "      at_most: +5 °C", 34, 16, "is not a temperature"},
        {34, "      at_most: 0.0001 °C", 34, 16, "more decimals than can be kept"},
        {34, "      at_most: 99999999999 °C", 34, 16, "too many digits"},
        {35, "      tolerance: 20", 35, 18, "tolerance: '20' has no unit; write 20 min"},
        {35, "      tolerance: 20 m", 35, 18, "'20 m' is not a time; write tolerance: 20 min"},
        {35, "      tolerance: 1 min 1 h", 35, 18, "is not a time"},
        {35, "      tolerance: 1 h 1 h", 35, 18, "is not a time"},
        {35, "      tolerance: '1 h '", 35, 18, "is not a time"},
        {35, "      tolerance: -1 h", 35, 18, "is not a time"},
        {35, "      tolerance: 0,5 h", 35, 18, "write a point, not a comma"},
        {35, "      tolerance: 0.5 ms", 35, 18, "more decimals than can be kept"},
        {35, "      tolerance: 5 °C", 35, 18, "is not a time"},
        {51, "            - {to: 21,5 °C, within: 2 h}\n            - {to: 7 °C, within: 3 h}",
         51, 20, "to: '21' has no unit"},
        {15, "    unit: 11.0", 15, 11, "more decimals"},
        {15, "    unit: 011", 15, 11, "'011' is not a whole number"},
        {15, "    unit: 0x0B", 15, 11, "is not a whole number"},
        {15, "    unit: 1,1", 15, 11, "is not a whole number"},
        {19, "    plausible: [-20 °C]", 19, 16, "1 entries instead of lowest and highest"},
        {56, "tolerances: {food_rate: 15 °C}", 56, 25,
         "is not a change of temperature per minute"},
        {56, "tolerances: {food_rate: 15 °C/h}", 56, 25, "write food_rate: 15 °C/min"},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        if (strstr(cases[i].text,
                   "21,5")) { /* within braces a comma also begins a key: two faults */
            struct plan_faults faults;
            assert_null(load_with(cases[i].line, cases[i].text, &faults));
            assert_int_equal(faults.count, 2);
            assert_int_equal(faults.fault[0].line, 51);
            assert_int_equal(faults.fault[0].column, 20);
            assert_non_null(strstr(faults.fault[0].text, cases[i].told));
            assert_int_equal(faults.fault[1].column, 23);
            assert_non_null(strstr(faults.fault[1].text, "write a point, not a comma"));
            continue;
        }
        check_one_fault(&cases[i]);
    }
}

static void
test_word_or_text_badly_written_is_told(void **state)
{
    (void)state;
    static const struct fault_case cases[] = {
        {5, "  - {initials: AB, name: Ana, role: cok}", 5, 37,
         "did you mean 'cook'? Write cook, supervisor or verifier"},
        {3, "  demo: true", 3, 9, "demo: 'true' is not known; write yes or no"},
        {3, "  time_zone: Europe/Lundon", 3, 14, "is not a time zone this machine knows"},
        {3, "  time_zone: ../zoneinfo/UTC", 3, 14, "is not a time zone"},
        {3, "  time_zone: Europe", 3, 14, "is not a time zone"},
        {3, "  time_zone: /usr/share/zoneinfo/UTC", 3, 14, "is not a time zone"},
        {3, "  time_zone: tzdata.zi", 3, 14, "is not a time zone"},
        {11, "  - id: Core", 11, 9, "'Core' is not an id"},
        {11, "  - id: core_a", 11, 9, "'core_a' is not an id"},
        {11, "  - id: -core", 11, 9, "'-core' is not an id"},
        {11, "  - id: a23456789-123456789-123456789-12", 11, 9, "is not an id"},
        {2, "  name: \"a\\u202Eb\"", 2, 9, "turns the direction of text"},
        {2, "  name: \"a\\u2066b\"", 2, 9, "turns the direction of text"},
        {2, "  name: \"a\\x1Bb\"", 2, 9, "control character"},
        {2, "  name: \"a\\0b\"", 2, 9, "has a NUL in it"},
        {2, "  name: \"a\\nb\"", 2, 9, "line break"},
        {5, "  - {initials: A B, name: Ana, role: cook}", 5, 16, "has a blank or a sign in it"},
        {5, "  - {initials: ABCDEFGH, name: Ana, role: cook}", 5, 16,
         "initials is 8 bytes long; write at most 7"},
        {8, "  - {id: line, driver: modbus-rtu, device: ttyS0}", 8, 44,
         "does not begin with '/'"},
        {8, "  - {id: line, driver: modbus-rtu, device: /dev/ttyS0, baud: 14400}", 8, 62,
         "baud: '14400' is not known; write 1200"},
        {8, "  - {id: line, driver: modbus-rtu, device: /dev/ttyS0, parity: mark}", 8, 64,
         "parity: 'mark'"},
        {8, "  - {id: line, driver: modbus-rtu, device: /dev/ttyS0, stop_bits: 3}", 8, 67,
         "write 1 or 2"},
        {9, "  - {id: rack, driver: modbus-tcp, host: a b}", 9, 42,
         "neither a host name nor an address"},
        {58, "web: {listen: localhost}", 58, 15, "is not a numeric address"},
        {58, "web: {listen: 127.0.0.256}", 58, 15, "is not a numeric address"},
        {57, "alarm: {command: [logger, -t, trivet]}", 57, 19, "write its whole path"},
        {13, "    kind: foood", 13, 11, "did you mean 'food'?"},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        check_one_fault(&cases[i]);
}

static void
test_escalation_or_signal_badly_written_is_told(void **state)
{
    (void)state;
    static const struct fault_case cases[] = {
        {57, "escalation: [{after: 5 min, tell: chef}]", 57, 35,
         "'chef' is neither a role nor one of the people"},
        {57, "escalation: [{after: 5 min, tell: cook}, {after: 4 min, tell: cook}]", 57, 50,
         "this level comes before the one above it"},
        {57, "escalation: [{after: 5 min, tell: cook, command: [bell]}]", 57, 51,
         "write its whole path"},
        {57,
         "signals: [{id: a, name: A, bus: rack, unit: 3, coil: 0, shows: alarm}, {id: b, name: "
         "B, bus: rack, unit: 3, coil: 0, shows: alive}]",
         57, 115, "another signal has this coil already"},
        {57,
         "signals: [{id: a, name: A, bus: rack, unit: 3, coil: 0, shows: alarm, toggles: yes}]",
         57, 80, "only a signal that shows: alive can toggle"},
        {57, "signals: [{id: a, name: A, bus: rack, unit: 248, coil: 0, shows: alarm}]", 57, 45,
         "unit"},
        {57, "signals: [{id: a, name: A, bus: rack, unit: 3, coil: 0, shows: fire}]", 57, 64,
         "write alarm, unheard or alive"},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        check_one_fault(&cases[i]);
}

static void
test_contradiction_is_told(void **state)
{
    (void)state;
    static const struct fault_case cases[] = {
        {14, "    bus: lime", 14, 10, "there is no bus 'lime'; did you mean 'line'?"},
        {30, "    probe: nothing", 30, 12,
         "there is no probe 'nothing'; write the id of a probe"},
        {42, "        name: Cooking\n        place: cellar", 43, 16,
         "there is no place 'cellar'"},
        {6, "  - {initials: AB, name: Ruth Sandoval, role: verifier}", 6, 16,
         "'AB' is already used on line 5"},
        {9,
         "  - {id: line, driver: modbus-tcp, host: 192.0.2.10}\n"
         "  - {id: rack, driver: modbus-tcp, host: 192.0.2.11}",
         9, 10, "'line' is already used on line 8"},
        {44, "      - id: cook", 44, 13, "'cook' is already used on line 41"},
        {6, "  - {initials: RS, name: Ruth Sandoval, role: cook}", 5, 3,
         "no one is supervisor or verifier"},
        {6, NULL, 5, 3, "nobody could verify what the only person does"},
        {8,
         "  - {id: line, driver: modbus-rtu, device: /dev/ttyS0}\n"
         "  - {id: two, driver: modbus-rtu, device: /dev/ttyS0}",
         9, 43, "bus 'line' already uses this device"},
        {15, "    unit: 0", 15, 11, "no unit of a serial line; write something from 1 to 247"},
        {15, "    unit: 248", 15, 11, "no unit of a serial line"},
        {19, "    plausible: [150 °C, -20 °C]", 19, 16, "its lowest not below its highest"},
        {19, "    plausible: [20 °C, 20 °C]", 19, 16, "its lowest not below its highest"},
        {21, "    offset: 32 °F", 21, 13, "offset is in another unit than scale"},
        {22, "    fault_values: [32767, 32768]", 22, 27, "no int16 register can hold this"},
        {23, "    every: 6 min", 23, 12, "every is longer than tolerances: silent_for"},
        {24,
         "  - {id: air, name: Air, kind: air, bus: rack, unit: 1, function: 3, register: "
         "65535, "
         "type: float32, plausible: [-40 °C, 60 °C]}",
         24, 80, "cannot begin at 65535"},
        {24,
         "  - {id: air, name: Air, kind: air, bus: line, unit: 11, function: 4, register: 0, "
         "type: uint16, plausible: [-40 °C, 60 °C]}",
         24, 81, "register 0 overlaps register 0 of probe 'core' (line 17)"},
        {34, "      at_most: -41 °C", 34, 16, "outside what probe 'air' can plausibly show"},
        {33, "      applies_to: food", 33, 19,
         "the limit applies to food but probe 'air' measures air"},
        {30, NULL, 31, 13, "nothing watches this limit"},
        {28,
         "  - {id: oven, name: Oven, probe: air, limit: {kind: cook, applies_to: food, "
         "at_least: 63 °C}}\n  - id: walk-in",
         28, 54, "a place cannot have a limit of this kind"},
        {37,
         "  - {id: oven, name: Oven, limit: {kind: none}}\nproducts:\n"
         "  - {id: x, name: X, steps: [{id: s, name: S, place: oven, limit: {kind: hold_hot, "
         "applies_to: air, at_least: 63 °C}}]}",
         39, 96, "a place with a probe, and 'oven' has none"},
        {49, "          from: 21 °C", 51, 20, "to is not colder than from"},
        {52, "            - {to: 21 °C, within: 6 h}", 52, 20,
         "not colder than that of the stage before"},
        {52, "            - {to: 70 °F, within: 6 h}", 52, 20,
         "not colder than that of the stage before"},
        {52, "            - {to: 5 °C, within: 2 h}", 52, 34, "within is not longer"},
        {43,
         "        limit: {kind: cook, applies_to: food, at_least: 63 °C, for: 3 min, within: 2 "
         "min}",
         43, 69, "for is longer than within"},
        {43, "        limit: {kind: cook, applies_to: food, at_least: 145 °C}", 43, 57,
         "write °F if it is Fahrenheit"},
        {43, "        limit: {kind: cook, applies_to: air, at_least: 63 °C}", 43, 41,
         "write applies_to: food"},
        {43, "        limit: {kind: hold_hot, applies_to: air, at_least: 63 °C}", 43, 45,
         "needs a place whose probe"},
        {43,
         "        aim: 66 °C\n        limit: {kind: hold_hot, applies_to: food, at_least: 63 "
         "°C}",
         43, 14, "an aim is for a step that heats"},
        {43,
         "        begins: by_itself\n        limit: {kind: cook, applies_to: food, at_least: "
         "63 °C}",
         43, 17, "only a cooling can begin by itself"},
        {45,
         "        name: Cooling\n        begins: by_itself\n        limit: {kind: cool, "
         "applies_to: food, "
         "from: 57 °C, clock: step, stages: [{to: 5 °C, within: 2 h}]}\n      - id: x\n        "
         "name: X",
         46, 17, "name the probes where it is cooled with begins_on"},
        {45, "        name: Cooling\n        begins_on: [core]", 46, 20,
         "write begins: by_itself as well"},
        {45, "        name: Cooling\n        begins: by_itself\n        begins_on: [core, air]",
         47, 27, "'air' is no food probe of this plan"},
        {43,
         "        limit: {kind: hold_hot, applies_to: food, at_least: 63 °C, time_strict: yes}",
         43, 81, "time_strict has no meaning without one_period"},
        {43,
         "        limit: {kind: hold_hot, applies_to: food, at_least: 63 °C, tolerance: 5 min, "
         "one_period: 2 h}",
         43, 98, "write one of them"},
        {43,
         "        limit: {kind: reheat, applies_to: food, at_least: 57 °C, within: 2 h, "
         "rise_from: 57 °C}",
         43, 90, "rise_from is not colder than at_least"},
        {43, "        limit: {kind: time_control, applies_to: food, within: 4 h}", 43, 16,
         "write left_at_most: 5 °C or left_at_least: 57 °C, one of them"},
        {43,
         "        limit: {kind: time_control, applies_to: food, within: 4 h, left_at_least: 57 "
         "°C, left_at_most: 5 °C}",
         43, 83, "one of them"},
        {43,
         "        limit: {kind: time_control, applies_to: food, within: 4 h, left_at_least: 57 "
         "°C, never_above: 60 °C}",
         43, 103, "delete one of them"},
        {43,
         "        limit: {kind: time_control, applies_to: food, within: 4 h, left_at_most: 21 "
         "°C, never_above: 20 °C}",
         43, 102, "never_above is colder than left_at_most"},
        {43,
         "        limit: {kind: cook, applies_to: food, at_least: 63 °C, come_up_from: 50 °F}",
         43, 78, "write all three"},
        {43,
         "        limit: {kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
         "min}], oven: convection}",
         43, 99, "this limit has no oven conditions"},
        {43,
         "        limit: {kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
         "min}], oven_rows: [{oven: convection, under_g: 4500, at_least: 163 °C}], oven: "
         "still_dry}",
         43, 165, "no row of oven_rows is for such an oven"},
        {43,
         "        limit: {kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
         "min}], oven_rows: [{oven: convection, under_g: 4500, at_least: 163 °C}], roast_g: "
         "3000}",
         43, 168, "roast_g has no meaning without oven"},
        {43,
         "        limit: {kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
         "min}], oven_rows: [{oven: convection, under_g: 4500, at_least: 163 °C}], "
         "oven_recovery: 5 min}",
         43, 174, "oven_recovery has no meaning without oven"},
        {43,
         "        limit: {kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
         "min}], oven_rows: [{oven: convection, at_least: 163 °C}]}",
         43, 105, "say which roasts the row is for"},
        {43,
         "        limit: {kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
         "min}], oven_rows: [{oven: convection, from_g: 4500, under_g: 4500, at_least: 163 "
         "°C}]}",
         43, 105, "say which roasts the row is for"},
        {43,
         "        limit: {kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
         "min}], oven_rows: [{oven: convection, from_g: 4500, at_least: 163 °C, at_most: 170 "
         "°C}]}",
         43, 105, "say how hot the oven has to be"},
        {43,
         "        limit: {kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
         "min}], oven_rows: [{oven: convection, from_g: 4500}]}",
         43, 105, "say how hot the oven has to be"},
        {43,
         "        limit: {kind: hold_cold, applies_to: food, at_most: 5 °C, never_above: 5 °C}",
         43, 80, "never_above is not warmer than at_most"},
        {43,
         "        limit: {kind: danger_zone, applies_to: food, cold_at_most: 5 °C, "
         "hot_at_least: "
         "60 °C, within: 2 h, use_at_once_after: 2 h}",
         43, 127, "use_at_once_after is not shorter than within"},
        {39, "    name: Roast\n    limit: {kind: cook, applies_to: food, at_least: 63 °C}", 40,
         19, "a product's own limit, over all its steps, is a danger_zone"},
        {35, "      one_period: 4 h", 35, 19, "one_period is a time of the food"},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        check_one_fault(&cases[i]);
}

static void
test_registers_that_overlap_by_half_are_told_at_the_later(void **state)
{
    (void)state;
    struct plan_faults faults;
    static const char probe[] =
        "  - {id: air, name: Air, kind: air, bus: rack, unit: 1, function: 3, register: 10, "
        "type: float32, plausible: [-40 °C, 60 °C]}\n"
        "  - {id: two, name: Two, kind: air, bus: rack, unit: %d, function: %d, register: %d, "
        "type: %s, plausible: [-40 °C, 60 °C]%s}";
    static const struct {
        int unit, function, reg;
        const char *type, *more;
        bool good;
    } cases[] = {
        {1, 3, 11, "uint16", "", false},
        {1, 3, 11, "float32", "", false},
        {1, 3, 9, "float32", "", false},
        {1, 3, 10, "int32", "", false},
        {1, 3, 10, "float32", ", byte_order: CDAB", false},
        {1, 3, 10, "float32", "", true}, /* the very same value twice is no contradiction */
        {1, 3, 12, "float32", "", true},
        {1, 3, 9, "uint16", "", true},
        {2, 3, 11, "uint16", "", true},
        {1, 4, 11, "uint16", "", true},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        char text[500];
        (void)snprintf(text, sizeof(text), probe, cases[i].unit, cases[i].function,
                       cases[i].reg, cases[i].type, cases[i].more);
        struct plan *plan = load_with(24, text, &faults);
        assert_int_equal(plan != NULL, cases[i].good);
        plan_free(plan);
        if (cases[i].good)
            continue;
        assert_int_equal(faults.count, 1);
        assert_int_equal(faults.fault[0].line, 25);
        assert_int_equal(faults.fault[0].column, 80);
        assert_non_null(strstr(faults.fault[0].text, "of probe 'air' (line 24)"));
    }
}

static void
test_text_that_is_no_plain_yaml_is_told(void **state)
{
    (void)state;
    static const struct fault_case cases[] = {
        {2, "  name: &a X", 2, 9, "an anchor (&) has no place in a plan"},
        {2, "  name: !!str X", 2, 9, "a tag (!) has no place in a plan"},
        {2, "  name: ! X", 2, 9, "a tag (!) has no place in a plan"},
        {59, "---\nsite: {name: Two}", 59, 1, "a second document begins here"},
        {1, "%YAML 1.1\n---\nsite:", 1, 1, "a directive (%) has no place"},
        {2, "  name: X\x01", 2, 10, "a control character"},
        {2, "  name: X # \xC2\x85", 2, 13, "a control character"},
        {2, "  name: X # \xE2\x80\xAE", 2, 13, "turns the direction of text"},
        {2, "  name: X # \xE2\x80\xA8", 2, 13, "invisible line separator"},
        {2, "  name: X # \xEF\xBB\xBF", 2, 13, "an invisible character that is no text"},
        {2, "  name: X # \xEF\xBF\xBF", 2, 13, "an invisible character that is no text"},
        {2, "  name: X\rY", 2, 10, "carriage return"},
        {2, "  name: caf\xE9", 2, 12, "not valid UTF-8"},
        {2, "  name: \xC0\xAF", 2, 9, "not valid UTF-8"},
        {2, "  name: \xED\xA0\x80", 2, 9, "not valid UTF-8"},
        {2, "  name: \xF4\x90\x80\x80", 2, 9, "not valid UTF-8"},
        {2, "  name: é \xFF", 2, 11, "not valid UTF-8"},
        {2, "  name: 'X", 2, 9, "never closed"},
        {57, "alarm: {command: [/bin/true, timeout: 10 s}", 57, 18, "not well closed"},
        {3, "\ttime_zone: UTC", 3, 1, "a tab"},
        {3, "  time_zone: a: b", 3, 15, "a ':' that cannot stand here"},
        {3, "   time_zone: UTC", 3, 13, "check the indentation"},
        {2, "  name: \"a\\qb\"", 2, 11, "backslash"},
        {2, "  name: [[[[[[[[[[[[[[[[[[x]]]]]]]]]]]]]]]]]]", 2, 23, "nested too deeply"},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        if (cases[i].text[0] == '-' || strstr(cases[i].text, "\xC0\xAF") ||
            strstr(cases[i].text, "\xED\xA0") || strstr(cases[i].text, "\xF4\x90")) {
            struct plan_faults
                faults; /* each byte of a broken character is told, up to a few */
            assert_null(load_with(cases[i].line, cases[i].text, &faults));
            assert_true(faults.count >= 1);
            assert_int_equal(faults.fault[0].line, cases[i].at_line);
            assert_int_equal(faults.fault[0].column, cases[i].at_column);
            assert_non_null(strstr(faults.fault[0].text, cases[i].told));
            continue;
        }
        check_one_fault(&cases[i]);
    }
}

static void
test_alias_is_told(void **state)
{
    (void)state;
    struct plan_faults faults;
    assert_null(load_with(2, "  name: &a X\n  address: *a", &faults));
    assert_int_equal(faults.count, 2);
    assert_int_equal(faults.fault[1].line, 3);
    assert_int_equal(faults.fault[1].column, 12);
    assert_non_null(strstr(faults.fault[1].text, "an alias (*)"));
}

static void
test_nul_byte_is_told(void **state)
{
    (void)state;
    char buf[8192];
    struct plan_faults faults;
    size_t len = write_plan(buf, sizeof(buf), 0, NULL);
    char *at = strstr(buf, "Roast");
    *at = '\0';
    assert_null(plan_load_text("plan", buf, len, &faults));
    assert_int_equal(faults.count, 1);
    assert_int_equal(faults.fault[0].line, 39);
    assert_int_equal(faults.fault[0].column, 11);
}

static void
test_empty_text_is_told(void **state)
{
    (void)state;
    struct plan_faults faults;
    assert_null(plan_load_text("plan", "", 0, &faults));
    assert_int_equal(faults.count, 1);
    assert_int_equal(faults.fault[0].line, 1);
    assert_null(plan_load_text("plan", "# nothing\n", 10, &faults));
    assert_int_equal(faults.count, 1);
    assert_null(plan_load_text("plan", "just words\n", 11, &faults));
    assert_int_equal(faults.count, 1);
    assert_non_null(strstr(faults.fault[0].text, "the plan is written as keys"));
}

/* Exactly the largest size loads, a byte more does not. */
static void
test_size_of_one_megabyte_is_the_end(void **state)
{
    (void)state;
    struct plan_faults faults;
    char *buf = malloc(PLAN_BYTES_MAX + 1);
    assert_non_null(buf);
    size_t len = write_plan(buf, 8192, 0, NULL);
    memset(buf + len, '\n', PLAN_BYTES_MAX + 1 - len);
    struct plan *plan = plan_load_text("plan", buf, PLAN_BYTES_MAX, &faults);
    assert_non_null(plan);
    assert_int_equal(plan->text_len, PLAN_BYTES_MAX);
    plan_free(plan);
    assert_null(plan_load_text("plan", buf, PLAN_BYTES_MAX + 1, &faults));
    assert_int_equal(faults.count, 1);
    assert_int_equal(faults.fault[0].line, 0);
    assert_non_null(strstr(faults.fault[0].text, "larger than 1000000 bytes"));
    free(buf);
}

static void
test_file_that_cannot_be_read_is_told(void **state)
{
    (void)state;
    struct plan_faults faults;
    char buf[500];
    assert_null(plan_load("tests/unit/no-such-plan.yaml", &faults));
    assert_int_equal(faults.count, 1);
    plan_faults_text(&faults, "no-such-plan.yaml", buf, sizeof(buf));
    assert_string_equal(buf, "no-such-plan.yaml: there is no such file; check the name\n");
    assert_null(plan_load("tests/unit", &faults));
    assert_non_null(strstr(faults.fault[0].text, "it is a directory"));
}

/* Text from the file is shown in part and escaped, and a fault that grows too long ends in
 * dots. */
static void
test_fault_about_hostile_text_is_short_and_clean(void **state)
{
    (void)state;
    char text[400] = "  name: \"";
    struct plan_faults faults;
    for (int i = 0; i < 60; i++)
        strcat(text, "\\e");
    strcat(text, "\"");
    assert_null(load_with(2, text, &faults));
    assert_int_equal(faults.count, 1);
    const char *told = faults.fault[0].text;
    assert_int_equal(strlen(told), sizeof(faults.fault[0].text) - 1);
    assert_string_equal(told + strlen(told) - 3, "...");
    for (; *told; told++)
        assert_true(*told >= ' ' && *told < 0x7F);
}

/* A file that is no text is told in a few lines, not a hundred. */
static void
test_binary_file_is_told_in_a_few_lines(void **state)
{
    (void)state;
    char bytes[1000];
    struct plan_faults faults;
    memset(bytes, 0xFE, sizeof(bytes));
    assert_null(plan_load_text("plan", bytes, sizeof(bytes), &faults));
    assert_int_equal(faults.count, 5);
    assert_true(faults.more);
}

/* ---- several faults ---- */

static void
test_several_faults_are_told_in_order_of_lines(void **state)
{
    (void)state;
    static const char text[] =
        "site:\n"
        "  nmae: X\n"
        "people:\n"
        "  - {initials: AB, name: Ana, role: cook}\n"
        "  - {initials: AB, name: Bo, role: cok}\n"
        "places:\n"
        "  - id: walk-in\n"
        "    name: Walk-in\n"
        "    probe: none-such\n"
        "    limit: {kind: hold_cold, applies_to: air, at_most: 5, tolerance: 2,5 h}\n"
        "products: []\n"
        "web: {port: 65536}\n";
    static const int lines[][2] = {{2, 3},   {5, 16},  {5, 36},  {9, 12},
                                   {10, 56}, {10, 70}, {10, 72}, {12, 13}};
    struct plan_faults faults;
    assert_null(plan_load_text("plan", text, sizeof(text) - 1, &faults));
    if (faults.count != COUNT(lines))
        fail_msg("%zu faults expected:\n%s", COUNT(lines), all_faults(&faults));
    for (size_t i = 0; i < faults.count; i++)
        if (faults.fault[i].line != lines[i][0] || faults.fault[i].column != lines[i][1])
            fail_msg("fault %zu at %d:%d expected:\n%s", i, lines[i][0], lines[i][1],
                     all_faults(&faults));
    assert_false(faults.more);
}

/* 150 faults: the hundred of the first lines are told, and that there are more. */
static void
test_more_faults_than_are_told_keeps_the_first(void **state)
{
    (void)state;
    char text[8000] = "site:\n";
    struct plan_faults faults;
    size_t len = strlen(text);
    for (int i = 0; i < 150; i++)
        len += (size_t)snprintf(text + len, sizeof(text) - len, "  zzzzzz%d: x\n", i);
    assert_null(plan_load_text("plan", text, len, &faults));
    assert_int_equal(faults.count, PLAN_FAULTS_TOLD_MAX);
    assert_true(faults.more);
    for (size_t i = 1; i < faults.count; i++)
        assert_true(faults.fault[i - 1].line <= faults.fault[i].line);
    assert_non_null(strstr(all_faults(&faults), "plan: there are more faults"));
}

static void
test_faults_text_too_small_a_buffer_keeps_whole_lines(void **state)
{
    (void)state;
    struct plan_faults faults;
    char buf[60];
    assert_null(load_with(2, "  nmae: X\n  adress: Y", &faults));
    assert_int_equal(faults.count, 2);
    size_t len = plan_faults_text(&faults, "p", buf, sizeof(buf));
    assert_int_equal(len, strlen(buf));
    assert_true(len == 0 || buf[len - 1] == '\n');
}

/* ---- ranges, on both sides of their ends ---- */

static void
test_value_at_the_ends_of_its_range_loads_and_beyond_does_not(void **state)
{
    (void)state;
    static const struct {
        size_t line;
        const char *format;
        const char *inside[4], *outside[4];
    } ranges[] = {
        {15, "    unit: %s", {"1", "247"}, {"0", "248", "-1", "256"}},
        {17, "    register: %s", {"0", "65535"}, {"-1", "65536"}},
        {19,
         "    plausible: [-200 °C, %s]",
         {"1000 °C", "1832 °F"},
         {"1000.001 °C", "1832.001 °F"}},
        {19,
         "    plausible: [%s, 150 °C]",
         {"-200 °C", "-328 °F"},
         {"-200.001 °C", "-328.001 °F"}},
        {20,
         "    scale: %s",
         {"0.000001 °C", "1000 °C"},
         {"0 °C", "-0.1 °C", "1000.000001 °C", "0.0000001 °C"}},
        {21,
         "    offset: %s",
         {"-10000 °C", "10000 °C"},
         {"-10000.000001 °C", "10000.000001 °C"}},
        {22,
         "    fault_values: [%s]",
         {"-32768", "32767", "1, 2, 3, 4, 5, 6, 7, 8"},
         {"-32769", "32768", "1, 2, 3, 4, 5, 6, 7, 8, 9"}},
        {24,
         "  - {id: air, name: Air, kind: air, bus: rack, unit: 1, function: 3, register: 10, "
         "type: float32, plausible: [-40 °C, 60 °C], every: %s}",
         {"100 ms", "5 min"},
         {"99 ms", "5 min 1 ms", "1 h 1 ms"}},
        {34,
         "      at_most: %s",
         {"25 °C", "77 °F", "-40 °C"},
         {"25.001 °C", "77.001 °F", "-90.001 °C"}},
        {35, "      tolerance: %s", {"0 s", "24 h", "1 d"}, {"24 h 1 ms"}},
        {36, "      back_for: %s", {"0 s", "24 h"}, {"24 h 1 ms"}},
        {43,
         "        limit: {kind: cook, applies_to: food, at_least: %s}",
         {"40 °C", "104 °F", "130 °C", "266 °F"},
         {"39.999 °C", "103.999 °F", "130.001 °C", "266.001 °F"}},
        {43,
         "        limit: {kind: cook, applies_to: food, at_least: 63 °C, for: %s}",
         {"0 s", "48 h"},
         {"48 h 1 ms"}},
        {55,
         "        limit: {kind: reheat, applies_to: food, at_least: 165 °F, within: %s}",
         {"1 s", "96 h", "4 d"},
         {"999 ms", "96 h 1 ms"}},
        {49,
         "          from: %s",
         {"100 °C", "212 °F", "21.001 °C"},
         {"100.001 °C", "212.001 °F", "19.999 °C"}},
        {51, "            - {to: %s, within: 2 h}", {"56.999 °C", "5.001 °C"}, {"60.001 °C"}},
        {52,
         "            - {to: %s, within: 6 h}",
         {"-40 °C", "-40 °F", "20.999 °C"},
         {"-40.001 °C"}},
        {52,
         "            - {to: 5 °C, within: %s}",
         {"2 h 1 ms", "96 h"},
         {"2 h", "96 h 1 ms"}},
        {56, "tolerances: {largest_spacing: %s}", {"1", "20"}, {"0", "21"}},
        {56,
         "tolerances: {silent_for: %s}",
         {"10 s", "24 h"},
         {"9999 ms", "24 h 1 ms"}}, /* air is read every 10 s */
        {56,
         "tolerances: {food_rate: %s}",
         {"1 °C/min", "200 °C/min", "1.8 °F/min", "360 °F/min"},
         {"0.999 °C/min", "200.001 °C/min", "1.799 °F/min"}},
        {56,
         "tolerances: {food_jump: %s}",
         {"0.1 °C", "50 °C", "0.18 °F", "90 °F"},
         {"0.099 °C", "50.001 °C", "90.001 °F"}},
        {56, "tolerances: {settle_for: %s}", {"0 s", "1 h"}, {"1 h 1 ms"}},
        {57,
         "alarm: {command: [/bin/true], timeout: %s}",
         {"1 s", "5 min"},
         {"999 ms", "5 min 1 ms"}},
        {58, "web: {port: %s}", {"0", "65535"}, {"-1", "65536"}},
        {58, "web: {names: [%s]}", {"a, b, c, d, e, f, g"}, {"a, b, c, d, e, f, g, h"}},
        {59, "records: {commit_within: %s}", {"10 ms", "1 s"}, {"9 ms", "1001 ms"}},
        {59, "records: {seal_every: %s}", {"1 s", "1 h"}, {"999 ms", "1 h 1 ms"}},
        {9,
         "  - {id: rack, driver: modbus-tcp, host: h, port: %s}",
         {"1", "65535"},
         {"0", "65536"}},
        {9,
         "  - {id: rack, driver: modbus-tcp, host: h, timeout: %s}",
         {"20 ms", "10 s"},
         {"19 ms", "10001 ms"}},
        {9,
         "  - {id: rack, driver: modbus-tcp, host: h, longest_delay: %s}",
         {"0 ms", "10 s"},
         {"10001 ms"}},
        {24,
         "  - {id: air, name: A, kind: air, bus: rack, unit: %s, function: 3, register: 10, "
         "type: float32, plausible: [-40 °C, 60 °C]}",
         {"0", "1", "247", "255"},
         {"248", "254", "256", "-1"}},
        {24,
         "  - {id: air, name: A, kind: air, bus: rack, unit: 1, function: 3, register: %s, "
         "type: float32, plausible: [-40 °C, 60 °C]}",
         {"65534"},
         {"65535"}},
    };
    for (size_t i = 0; i < COUNT(ranges); i++) {
        char text[300];
        for (size_t k = 0; k < 4 && ranges[i].inside[k]; k++) {
            (void)snprintf(text, sizeof(text), ranges[i].format, ranges[i].inside[k]);
            plan_free(load_good(ranges[i].line, text));
        }
        for (size_t k = 0; k < 4 && ranges[i].outside[k]; k++) {
            struct plan_faults faults;
            (void)snprintf(text, sizeof(text), ranges[i].format, ranges[i].outside[k]);
            struct plan *plan = load_with(ranges[i].line, text, &faults);
            if (plan)
                fail_msg("\"%s\" was accepted", text);
            /* silent_for is contradicted where the probe is: line 24 */
            if (faults.count != 1 ||
                (faults.fault[0].line != (int)ranges[i].line && !strstr(text, "silent_for")))
                fail_msg("\"%s\": one fault on line %zu expected:\n%s", text, ranges[i].line,
                         all_faults(&faults));
        }
    }
}

static void
test_text_length_at_its_end_loads_and_beyond_does_not(void **state)
{
    (void)state;
    char text[300];
    struct plan_faults faults;
    (void)snprintf(text, sizeof(text), "  name: %0*d", PLAN_NAME_MAX, 7);
    struct plan *plan = load_good(2, text);
    assert_int_equal(strlen(plan->site_name), PLAN_NAME_MAX);
    plan_free(plan);
    (void)snprintf(text, sizeof(text), "  name: %0*d", PLAN_NAME_MAX + 1, 7);
    assert_null(load_with(2, text, &faults));
    (void)snprintf(text, sizeof(text), "  - {id: %0*d, name: Pen}", PLAN_ID_MAX, 7);
    plan_free(load_good(26, text));
    (void)snprintf(text, sizeof(text), "  - {id: %0*d, name: Pen}", PLAN_ID_MAX + 1, 7);
    assert_null(load_with(26, text, &faults));
}

/* A list of as many entries as there is room for loads, one more is told at that entry. */
static void
test_list_with_more_entries_than_room_is_told(void **state)
{
    (void)state;
    char text[4000];
    for (int count = PLAN_STEPS_MAX; count <= PLAN_STEPS_MAX + 1; count++) {
        size_t len = (size_t)snprintf(text, sizeof(text), "    steps:");
        for (int i = 0; i < count; i++)
            len += (size_t)snprintf(text + len, sizeof(text) - len,
                                    "\n      - {id: s%d, name: S, limit: {kind: none}}", i);
        len += (size_t)snprintf(text + len, sizeof(text) - len,
                                "\n  - id: b\n    name: B\n    steps:");
        struct plan_faults faults;
        struct plan *plan = load_with(40, text, &faults);
        assert_int_equal(plan != NULL, count == PLAN_STEPS_MAX);
        if (plan) {
            assert_int_equal(plan->products[0].step_count, PLAN_STEPS_MAX);
            plan_free(plan);
            continue;
        }
        assert_int_equal(faults.count, 1);
        assert_int_equal(faults.fault[0].line, 40 + PLAN_STEPS_MAX + 1);
        assert_non_null(strstr(faults.fault[0].text, "steps has 13 entries; write at most 12"));
    }
}

/* ---- values ---- */

static void
test_defaults_are_as_documented(void **state)
{
    (void)state;
    struct plan *plan = load_good(56, NULL);
    assert_false(plan->demo);
    assert_null(plan->site_address);
    assert_null(plan->sole_operator);
    assert_int_equal(plan->tolerances.spacing_polls, 3);
    assert_int_equal(plan->tolerances.silent_ms, 300000);
    assert_int_equal(plan->tolerances.food_rate_mC_per_min, 15000);
    assert_int_equal(plan->tolerances.food_jump_mC, 4000);
    assert_int_equal(plan->tolerances.settle_ms, 60000);
    assert_true(plan->web.enabled);
    assert_string_equal(plan->web.listen, "127.0.0.1");
    assert_null(plan->web.names[0]);
    assert_int_equal(plan->records.commit_ms, 1000);
    assert_int_equal(plan->records.seal_ms, 60000);
    assert_string_equal(plan->records.socket, "/var/lib/trivet/control");
    assert_int_equal(plan->buses[0].baud_bps, 19200);
    assert_int_equal(plan->buses[0].parity, 'E');
    assert_int_equal(plan->buses[0].stop_bits, 1);
    assert_int_equal(plan->buses[1].port, 502);
    assert_int_equal(plan->buses[1].timeout_ms, 300);
    assert_int_equal(plan->buses[1].max_late_ms, 500);
    assert_int_equal(plan->probes[1].scale_micro, 1000000);
    assert_int_equal(plan->probes[1].offset_micro, 0);
    assert_int_equal(plan->probes[1].order, ORDER_ABCD);
    assert_int_equal(plan->probes[1].every_ms, 10000);
    assert_int_equal(plan->probes[1].number, 0);
    assert_int_equal(plan->products[0].steps[0].place, -1);
    assert_int_equal(plan->products[0].steps[2].limit.hold_ms, 0);
    assert_int_equal(plan->places[0].limit.back_ms, 300000);
    assert_false(plan->places[0].limit.strict);
    plan_free(plan);
    plan = load_good(59, NULL);
    assert_string_equal(plan->records.directory, "/var/lib/trivet");
    plan_free(plan);
    plan = load_good(57, NULL);
    assert_null(plan->hook.args[0]);
    plan_free(plan);
}

static void
test_limit_in_fahrenheit_keeps_its_printed_figure(void **state)
{
    (void)state;
    static const struct {
        const char *written;
        int32_t milli;
        enum temp_unit unit;
    } cases[] = {
        {"63 °C", 63000, TEMP_C},          {"63 C", 63000, TEMP_C},
        {"63°C", 63000, TEMP_C},           {"63C", 63000, TEMP_C},
        {"145 °F", 145000, TEMP_F},        {"145 F", 145000, TEMP_F},
        {"62.778 °C", 62778, TEMP_C},      {"144.5 °F", 144500, TEMP_F},
        {"\"63\u00A0°C\"", 63000, TEMP_C}, {"'063.50 °C'", 63500, TEMP_C},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        char text[200];
        (void)snprintf(text, sizeof(text),
                       "        limit: {kind: cook, applies_to: food, at_least: %s}",
                       cases[i].written);
        struct plan *plan = load_good(43, text);
        assert_int_equal(plan->products[0].steps[0].limit.temp.milli, cases[i].milli);
        assert_int_equal(plan->products[0].steps[0].limit.temp.unit, cases[i].unit);
        plan_free(plan);
    }
}

static void
test_duration_in_every_form_is_exact(void **state)
{
    (void)state;
    static const struct {
        const char *written;
        int64_t ms;
    } cases[] = {
        {"3 min", 180000},       {"2 h", 7200000},
        {"1 h 30 min", 5400000}, {"45 s", 45000},
        {"300 ms", 300},         {"1.5 h", 5400000},
        {"0.5 s", 500},          {"1 h 1 min 1 s 1 ms", 3661001},
        {"1h30min", -1},         {"1h 30min", 5400000},
        {"1 d", 86400000},       {"90 min", 5400000},
        {"0.001 s", 1},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        char text[100];
        struct plan_faults faults;
        (void)snprintf(text, sizeof(text), "      tolerance: %s", cases[i].written);
        struct plan *plan = load_with(35, text, &faults);
        assert_int_equal(plan ? plan->places[0].limit.tolerance_ms : -1, cases[i].ms);
        plan_free(plan);
    }
}

/* Rounded inwards: 59 °F is exactly 15 °C, 100 °F is 37.777..., 33 °F is 0.555... °C. */
static void
test_plausible_range_in_fahrenheit_is_rounded_inwards(void **state)
{
    (void)state;
    struct plan *plan = load_good(19, "    plausible: [33 °F, 100 °F]");
    assert_int_equal(plan->probes[0].plausible_min_mC, 556);
    assert_int_equal(plan->probes[0].plausible_max_mC, 37777);
    plan_free(plan);
    plan = load_good(19, "    plausible: [-40 °F, 59 °F]");
    assert_int_equal(plan->probes[0].plausible_min_mC, -40000);
    assert_int_equal(plan->probes[0].plausible_max_mC, 15000);
    plan_free(plan);
}

static void
test_device_in_fahrenheit_is_said_by_its_scale(void **state)
{
    (void)state;
    struct plan *plan = load_good(
        24,
        "  - {id: air, name: Air, kind: air, bus: rack, unit: 1, function: 3, register: 10, "
        "type: uint16, scale: 0.05 °F, offset: -40.5 °F, plausible: [-40 °F, 120 °F]}");
    assert_int_equal(plan->probes[1].reads, TEMP_F);
    assert_int_equal(plan->probes[1].scale_micro, 50000);
    assert_int_equal(plan->probes[1].offset_micro, -40500000);
    plan_free(plan);
}

static void
test_relative_record_paths_lie_beside_the_plan(void **state)
{
    (void)state;
    struct plan *plan = load_good(59, "records: {directory: records}");
    assert_string_equal(plan->records.directory, "/etc/trivet/records");
    assert_string_equal(plan->records.socket, "/etc/trivet/records/control");
    plan_free(plan);
    plan = load_good(59, "records: {directory: /srv/r, socket: /run/t}");
    assert_string_equal(plan->records.socket, "/run/t");
    plan_free(plan);
}

/* sun_path holds 107 bytes and a NUL (unix(7)). */
static void
test_socket_path_too_long_is_told(void **state)
{
    (void)state;
    char text[300];
    struct plan_faults faults;
    (void)snprintf(text, sizeof(text), "records: {socket: /%0106d}", 0);
    plan_free(load_good(59, text));
    (void)snprintf(text, sizeof(text), "records: {socket: /%0107d}", 0);
    assert_null(load_with(59, text, &faults));
    assert_int_equal(faults.count, 1);
    assert_int_equal(faults.fault[0].line, 59);
    assert_int_equal(faults.fault[0].column, 19);
}

static void
test_sole_operator_needs_no_second_person(void **state)
{
    (void)state;
    struct plan *plan = load_good(6, "sole_operator: >\n  Our adviser verifies\n  each month.");
    assert_string_equal(plan->sole_operator, "Our adviser verifies each month.");
    plan_free(plan);
}

static void
test_byte_order_mark_and_dos_line_ends_load(void **state)
{
    (void)state;
    char buf[8192], dos[16384] = "\xEF\xBB\xBF";
    struct plan_faults faults;
    size_t len = write_plan(buf, sizeof(buf), 0, NULL), out = 3;
    for (size_t i = 0; i < len; i++) {
        if (buf[i] == '\n')
            dos[out++] = '\r';
        dos[out++] = buf[i];
    }
    struct plan *plan = plan_load_text("plan", dos, out, &faults);
    if (!plan)
        fail_msg("should load:\n%s", all_faults(&faults));
    assert_string_equal(plan->site_name, "Test kitchen");
    assert_int_equal(plan->text_len, out);
    plan_free(plan);
}

static void
test_limit_text_says_everything(void **state)
{
    (void)state;
    static const struct {
        const char *limit, *text;
    } cases[] = {
        {"{kind: none}", "no limit"},
        {"{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}",
         "at least 63.0 °C for 3 min (food)"},
        {"{kind: cook, applies_to: food, at_least: 70 °C, for: 150 s, within: 3 h, strict: "
         "yes}",
         "above 70.0 °C for 2 min 30 s within 3 h (food)"},
        {"{kind: hold_hot, applies_to: food, at_least: 135 °F, tolerance: 90 s}",
         "at least 135.0 °F, colder for at most 1 min 30 s (food)"},
        {"{kind: hold_cold, applies_to: food, at_most: 5 °C, strict: yes}",
         "below 5.0 °C (food)"},
        {"{kind: hold_cold, applies_to: food, at_most: 8 °C, one_period: 4 h, time_strict: "
         "yes}",
         "at most 8.0 °C, warmer once for less than 4 h (food)"},
        {"{kind: hold_hot, applies_to: food, at_least: 60 °C, one_period: 2 h}",
         "at least 60.0 °C, colder once for at most 2 h (food)"},
        {"{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, {to: "
         "5 °C, within: 6 h}]}",
         "from 57.0 °C to 21.0 °C within 2 h, to 5.0 °C within 6 h (food)"},
        {"{kind: hold_cold, applies_to: food, at_most: -18 °C, tolerance: 20 min, never_above: "
         "-15 "
         "°C}",
         "at most -18.0 °C, warmer for at most 20 min, never above -15.0 °C (food)"},
        {"{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, "
         "within: "
         "4 h, use_at_once_after: 2 h}",
         "for at most 4 h in all warmer than 5.0 °C and colder than 60.0 °C, used at once "
         "after 2 "
         "h (food)"},
        {"{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: 60 "
         "°C, "
         "for: 12 min}], come_up_from: 50 °F, come_up_to: 130 °F, come_up_within: 6 h}",
         "added up: at least 60.0 °C for 12 min; from 50.0 °F to 130.0 °F within 6 h (food)"},
        {"{kind: cook, applies_to: food, at_least: 60 °C, oven_rows: [{oven: convection, "
         "under_g: 4500, at_least: 163 °C}, {oven: convection, from_g: 4500, at_least: 121 "
         "°C}], oven: convection, oven_recovery: 5 min}",
         "at least 60.0 °C; oven (convection, preheated) at least 163.0 °C under 4500 g, at "
         "least 121.0 °C from 4500 g, outside for at most 5 min (food)"},
        {"{kind: cook, applies_to: food, at_least: 60 °C, oven_rows: [{oven: high_humidity, "
         "from_g: 4500, at_most: 121 °C}], oven: high_humidity}",
         "at least 60.0 °C; oven (high humidity) at most 121.0 °C from 4500 g (food)"},
        {"{kind: reheat, applies_to: food, at_least: 74 °C, within: 2 h}",
         "at least 74.0 °C within 2 h (food)"},
        {"{kind: reheat, applies_to: food, at_least: 74 °C, within: 2 h, rise_from: 5 °C, "
         "stand: "
         "2 min}",
         "at least 74.0 °C within 2 h of rising above 5.0 °C, then standing for 2 min (food)"},
        {"{kind: time_control, applies_to: food, left_at_most: 5 °C, within: 6 h, never_above: "
         "21 °C}",
         "at most 5.0 °C as it leaves temperature control, gone within 6 h, never above 21.0 "
         "°C "
         "(food)"},
        {"{kind: time_control, applies_to: food, left_at_least: 57 °C, within: 4 h, "
         "time_strict: yes}",
         "at least 57.0 °C as it leaves temperature control, gone in less than 4 h (food)"},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        char text[300], buf[200], small[12];
        (void)snprintf(text, sizeof(text), "        limit: %s", cases[i].limit);
        struct plan *plan = load_good(43, text);
        const struct plan_limit *limit = &plan->products[0].steps[0].limit;
        assert_string_equal(plan_limit_text(buf, sizeof(buf), limit), cases[i].text);
        plan_limit_text(small, sizeof(small), limit);
        assert_true(strlen(small) < sizeof(small));
        plan_free(plan);
    }
    struct plan *plan = load_good(0, NULL);
    char buf[200];
    assert_string_equal(plan_limit_text(buf, sizeof(buf), &plan->places[0].limit),
                        "at most 5.0 °C, warmer for at most 20 min (air)");
    plan_free(plan);
}

static void
test_words_are_those_of_the_file(void **state)
{
    (void)state;
    assert_string_equal(limit_kind_word(LIMIT_NONE), "none");
    assert_string_equal(limit_kind_word(LIMIT_COOK), "cook");
    assert_string_equal(limit_kind_word(LIMIT_HOLD_HOT), "hold_hot");
    assert_string_equal(limit_kind_word(LIMIT_HOLD_COLD), "hold_cold");
    assert_string_equal(limit_kind_word(LIMIT_COOL), "cool");
    assert_string_equal(limit_kind_word(LIMIT_REHEAT), "reheat");
    assert_string_equal(person_role_word(ROLE_COOK), "cook");
    assert_string_equal(person_role_word(ROLE_SUPERVISOR), "supervisor");
    assert_string_equal(person_role_word(ROLE_VERIFIER), "verifier");
}

static void
test_look_ups_find_by_id_or_say_none(void **state)
{
    (void)state;
    struct plan *plan = load_good(0, NULL);
    assert_ptr_equal(plan_person(plan, "RS"), &plan->people[1]);
    assert_null(plan_person(plan, "rs"));
    assert_ptr_equal(plan_product(plan, "roast"), &plan->products[0]);
    assert_null(plan_product(plan, ""));
    assert_ptr_equal(plan_handheld(plan, "pen"), &plan->handhelds[0]);
    assert_null(plan_handheld(plan, "core"));
    assert_int_equal(plan_step_index(&plan->products[0], "cool"), 1);
    assert_int_equal(plan_step_index(&plan->products[0], "chill"), -1);
    assert_int_equal(plan_place_index(plan, "walk-in"), 0);
    assert_int_equal(plan_place_index(plan, "oven"), -1);
    assert_int_equal(plan_probe_index(plan, "air"), 1);
    assert_int_equal(plan_probe_index(plan, "ai"), -1);
    assert_int_equal(plan_probe_by_number(plan, 0), -1); /* nobody has a number yet */
    plan->probes[1].number = 7;
    assert_int_equal(plan_probe_by_number(plan, 7), 1);
    assert_int_equal(plan_probe_by_number(plan, 8), -1);
    plan_free(plan);
    plan_free(NULL);
}

/* ---- the example ---- */

static struct plan *
load_example(void)
{
    struct plan_faults faults;
    struct plan *plan = plan_load("config/harbour-lane.yaml", &faults);
    if (!plan)
        fail_msg("%s", all_faults(&faults));
    return plan;
}

static void
test_example_site_people_and_lines_are_exact(void **state)
{
    (void)state;
    struct plan *plan = load_example();
    assert_string_equal(plan->site_name, "Harbour Lane Kitchen");
    assert_string_equal(plan->time_zone, "Europe/London");
    assert_true(plan->demo);
    assert_int_equal(plan->person_count, 4);
    assert_int_equal(plan_person(plan, "AB")->role, ROLE_COOK);
    assert_int_equal(plan_person(plan, "JO")->role, ROLE_SUPERVISOR);
    assert_int_equal(plan_person(plan, "RS")->role, ROLE_VERIFIER);
    assert_string_equal(plan_person(plan, "LM")->name, "Luis Marchetti");
    assert_int_equal(plan->bus_count, 2);
    assert_string_equal(plan->buses[0].id, "oven-line");
    assert_int_equal(plan->buses[0].driver, BUS_MODBUS_RTU);
    assert_string_equal(plan->buses[0].device, "/run/trivet-demo/oven-line");
    assert_int_equal(plan->buses[0].baud_bps, 19200);
    assert_int_equal(plan->buses[0].parity, 'E');
    assert_int_equal(plan->buses[0].stop_bits, 1);
    assert_string_equal(plan->buses[1].host, "127.0.0.1");
    assert_int_equal(plan->buses[1].port, 15020);
    assert_int_equal(plan->handheld_count, 2);
    assert_string_equal(plan->records.directory, "config/records");
    plan_free(plan);
}

static void
test_example_probes_are_exact(void **state)
{
    (void)state;
    static const struct {
        const char *id;
        int bus, unit, function, reg;
        enum register_type type;
        int64_t scale_micro, offset_micro;
        int faults, every_ms;
        enum probe_kind kind;
    } probes[] = {
        {"roast-core-a", 0, 11, 4, 0, REGISTER_INT16, 100000, 0, 1, 5000, PROBE_FOOD},
        {"roast-core-b", 0, 12, 4, 0, REGISTER_UINT16, 10000, 0, 0, 5000, PROBE_FOOD},
        {"oven-air", 0, 11, 4, 2, REGISTER_INT16, 100000, 0, 1, 10000, PROBE_AIR},
        {"hot-cupboard-air", 0, 12, 3, 0, REGISTER_FLOAT32, 1000000, 0, 0, 10000, PROBE_AIR},
        {"walk-in-air", 1, 1, 4, 0, REGISTER_INT16, 100000, 0, 0, 10000, PROBE_AIR},
        {"filling-core", 1, 1, 4, 1, REGISTER_INT16, 100000, 0, 0, 10000, PROBE_FOOD},
        {"chiller-air", 1, 1, 4, 2, REGISTER_INT16, 100000, 0, 0, 10000, PROBE_AIR},
        {"counter-fridge-air", 1, 2, 3, 100, REGISTER_UINT16, 10000, -40000000, 0, 10000,
         PROBE_AIR},
    };
    struct plan *plan = load_example();
    assert_int_equal(plan->probe_count, COUNT(probes));
    for (size_t i = 0; i < COUNT(probes); i++) {
        const struct plan_probe *probe = &plan->probes[i];
        assert_string_equal(probe->id, probes[i].id);
        assert_int_equal(probe->bus, probes[i].bus);
        assert_int_equal(probe->unit, probes[i].unit);
        assert_int_equal(probe->function, probes[i].function);
        assert_int_equal(probe->reg, probes[i].reg);
        assert_int_equal(probe->type, probes[i].type);
        assert_int_equal(probe->order, ORDER_ABCD);
        assert_int_equal(probe->reads, TEMP_C);
        assert_true(probe->scale_micro == probes[i].scale_micro);
        assert_true(probe->offset_micro == probes[i].offset_micro);
        assert_int_equal(probe->fault_count, probes[i].faults);
        if (probe->fault_count > 0)
            assert_int_equal(probe->faults[0], 32767);
        assert_int_equal(probe->every_ms, probes[i].every_ms);
        assert_int_equal(probe->kind, probes[i].kind);
    }
    assert_int_equal(plan->probes[0].plausible_min_mC, -20000);
    assert_int_equal(plan->probes[0].plausible_max_mC, 150000);
    assert_null(plan->probes[0].sensor);
    assert_string_equal(plan->probes[1].sensor, "pt100");
    assert_int_equal(plan->probes[1].signal, SIGNAL_OHM);
    plan_free(plan);
}

/* Figures of FDA Food Code 2022: 3-401.11(A)(2), 3-501.14(A), 3-501.16(A), 3-403.11(A) and (D).
 * The walk-in, counter fridge and hot cupboard are the kitchen's own. */
static void
test_example_limits_are_exact(void **state)
{
    (void)state;
    static const struct {
        const char *product, *step, *text;
        int place;
    } steps[] = {
        {"pork-loin", "cook", "at least 63.0 °C for 3 min (food)", 3},
        {"pork-loin", "rest", "no limit", -1},
        {"pork-loin", "serve", "at least 57.0 °C (food)", 2},
        {"lentil-filling", "cook", "at least 74.0 °C for 15 s (food)", -1},
        {"lentil-filling", "cool",
         "from 57.0 °C to 21.0 °C within 2 h, to 5.0 °C within 6 h (food)", 4},
        {"lentil-filling", "store", "at most 5.0 °C (food)", 0},
        {"chicken-stock", "cool",
         "from 135.0 °F to 70.0 °F within 2 h, to 41.0 °F within 6 h (food)", 4},
        {"soup-reheat", "reheat", "at least 165.0 °F for 15 s within 2 h (food)", -1},
        {"soup-reheat", "serve", "at least 135.0 °F (food)", 2},
    };
    static const char *const places[] = {"at most 5.0 °C, warmer for at most 20 min (air)",
                                         "at most 5.0 °C, warmer for at most 15 min (air)",
                                         "at least 63.0 °C, colder for at most 10 min (air)",
                                         "no limit", "no limit"};
    struct plan *plan = load_example();
    char buf[200];
    assert_int_equal(plan->product_count, 4);
    for (size_t i = 0; i < COUNT(steps); i++) {
        const struct plan_product *product = plan_product(plan, steps[i].product);
        assert_non_null(product);
        int index = plan_step_index(product, steps[i].step);
        assert_true(index >= 0);
        assert_string_equal(plan_limit_text(buf, sizeof(buf), &product->steps[index].limit),
                            steps[i].text);
        assert_int_equal(product->steps[index].place, steps[i].place);
    }
    assert_int_equal(plan->place_count, COUNT(places));
    for (size_t i = 0; i < COUNT(places); i++)
        assert_string_equal(plan_limit_text(buf, sizeof(buf), &plan->places[i].limit),
                            places[i]);
    assert_string_equal(plan->products[1].steps[1].limit.source,
                        "FDA Food Code 2022, 3-501.14(A)");
    assert_string_equal(plan->products[1].steps[1].limit.profile, "food-code-2022/cooling");
    plan_free(plan);
}

/* The digest against sha256sum(1) of coreutils: of the file's text and, behind it, the limits
 * that it names. */
static void
test_example_digest_is_that_of_sha256sum(void **state)
{
    (void)state;
    char digest[65] = "";
    struct plan *plan = load_example();
    char file[] = "/tmp/trivet-plan-XXXXXX", command[80];
    int fd = mkstemp(file);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, plan->text, plan->text_len), plan->text_len);
    assert_int_equal(close(fd), 0);
    (void)snprintf(command, sizeof(command), "sha256sum %s", file);
    FILE *tool = popen(command, "r");
    assert_non_null(tool);
    assert_int_equal(fscanf(tool, "%64s", digest), 1);
    assert_int_equal(pclose(tool), 0);
    assert_int_equal(unlink(file), 0);
    assert_string_equal(plan->digest, digest);
    plan_free(plan);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_key_misspelled_missing_or_twice_is_told),
        cmocka_unit_test(test_value_of_wrong_shape_is_told),
        cmocka_unit_test(test_quantity_badly_written_is_told),
        cmocka_unit_test(test_word_or_text_badly_written_is_told),
        cmocka_unit_test(test_escalation_or_signal_badly_written_is_told),
        cmocka_unit_test(test_contradiction_is_told),
        cmocka_unit_test(test_registers_that_overlap_by_half_are_told_at_the_later),
        cmocka_unit_test(test_text_that_is_no_plain_yaml_is_told),
        cmocka_unit_test(test_alias_is_told),
        cmocka_unit_test(test_nul_byte_is_told),
        cmocka_unit_test(test_empty_text_is_told),
        cmocka_unit_test(test_size_of_one_megabyte_is_the_end),
        cmocka_unit_test(test_file_that_cannot_be_read_is_told),
        cmocka_unit_test(test_fault_about_hostile_text_is_short_and_clean),
        cmocka_unit_test(test_binary_file_is_told_in_a_few_lines),
        cmocka_unit_test(test_several_faults_are_told_in_order_of_lines),
        cmocka_unit_test(test_more_faults_than_are_told_keeps_the_first),
        cmocka_unit_test(test_faults_text_too_small_a_buffer_keeps_whole_lines),
        cmocka_unit_test(test_value_at_the_ends_of_its_range_loads_and_beyond_does_not),
        cmocka_unit_test(test_text_length_at_its_end_loads_and_beyond_does_not),
        cmocka_unit_test(test_list_with_more_entries_than_room_is_told),
        cmocka_unit_test(test_defaults_are_as_documented),
        cmocka_unit_test(test_limit_in_fahrenheit_keeps_its_printed_figure),
        cmocka_unit_test(test_duration_in_every_form_is_exact),
        cmocka_unit_test(test_plausible_range_in_fahrenheit_is_rounded_inwards),
        cmocka_unit_test(test_device_in_fahrenheit_is_said_by_its_scale),
        cmocka_unit_test(test_relative_record_paths_lie_beside_the_plan),
        cmocka_unit_test(test_socket_path_too_long_is_told),
        cmocka_unit_test(test_sole_operator_needs_no_second_person),
        cmocka_unit_test(test_byte_order_mark_and_dos_line_ends_load),
        cmocka_unit_test(test_limit_text_says_everything),
        cmocka_unit_test(test_words_are_those_of_the_file),
        cmocka_unit_test(test_look_ups_find_by_id_or_say_none),
        cmocka_unit_test(test_example_site_people_and_lines_are_exact),
        cmocka_unit_test(test_example_probes_are_exact),
        cmocka_unit_test(test_example_limits_are_exact),
        cmocka_unit_test(test_example_digest_is_that_of_sha256sum),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
