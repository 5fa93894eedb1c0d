/* Each class of fault in a plan is told at its line and column; several are told in order.
 * Lines are those of tests/support/plan_lines.c. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/plan_lines.h"

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
    for (size_t i = 0; i < COUNT_OF(cases); i++)
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
    for (size_t i = 0; i < COUNT_OF(cases); i++)
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
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
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
    for (size_t i = 0; i < COUNT_OF(cases); i++)
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
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        check_one_fault(&cases[i]);
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
    if (faults.count != COUNT_OF(lines))
        fail_msg("%zu faults expected:\n%s", COUNT_OF(lines), all_faults(&faults));
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

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_key_misspelled_missing_or_twice_is_told),
        cmocka_unit_test(test_value_of_wrong_shape_is_told),
        cmocka_unit_test(test_quantity_badly_written_is_told),
        cmocka_unit_test(test_word_or_text_badly_written_is_told),
        cmocka_unit_test(test_escalation_or_signal_badly_written_is_told),
        cmocka_unit_test(test_several_faults_are_told_in_order_of_lines),
        cmocka_unit_test(test_more_faults_than_are_told_keeps_the_first),
        cmocka_unit_test(test_faults_text_too_small_a_buffer_keeps_whole_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
