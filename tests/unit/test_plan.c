/* The plan room: values loaded exactly, defaults, words and look-ups. Lines are those of
 * tests/support/plan_lines.c. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/plan_lines.h"

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
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
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
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
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
    size_t len = plan_lines_write(buf, sizeof(buf), 0, NULL), out = 3;
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
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
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

int
main(void)
{
    const struct CMUnitTest tests[] = {
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
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
