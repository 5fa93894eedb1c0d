/* Values, texts and lists at the ends of their ranges load, and beyond them do not. Lines are
 * those of tests/support/plan_lines.c. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/plan_lines.h"

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
    for (size_t i = 0; i < COUNT_OF(ranges); i++) {
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

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_value_at_the_ends_of_its_range_loads_and_beyond_does_not),
        cmocka_unit_test(test_text_length_at_its_end_loads_and_beyond_does_not),
        cmocka_unit_test(test_list_with_more_entries_than_room_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
