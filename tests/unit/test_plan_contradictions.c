/* What each key by itself allows and a plan as a whole does not: told at its line and column.
 * Lines are those of tests/support/plan_lines.c. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/plan_lines.h"

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
        {45,
         "        name: Cooling\n        begins: by_itself\n        begins_on: [core]\n"
         "        begins_together: yes",
         48, 26, "name two or more with begins_on"},
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
        {43, "        limit: {kind: date_mark, applies_to: food, days: 3}", 43, 23,
         "a date is one of the product"},
        {39, "    name: Roast\n    date_mark: {kind: cook, applies_to: food, at_least: 63 °C}",
         40, 23, "date_mark counts days"},
        {39, "    name: Roast\n    date_mark: {kind: date_mark, applies_to: air, days: 3}", 40,
         46, "a date is one of the food"},
        {39, "    name: Roast\n    limit: {kind: cook, applies_to: food, at_least: 63 °C}", 40,
         19, "a product's own limit, over all its steps, is a danger_zone"},
        {35, "      one_period: 4 h", 35, 19, "one_period is a time of the food"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++)
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
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
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

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_contradiction_is_told),
        cmocka_unit_test(test_registers_that_overlap_by_half_are_told_at_the_later),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
