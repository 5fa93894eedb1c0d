/* Texts that are no plan, or hostile: told shortly, cleanly, and never read further. */
#include "tests/support/check.h"

#include <stdlib.h>
#include <string.h>

#include "tests/support/plan_lines.h"

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
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
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
    size_t len = plan_lines_write(buf, sizeof(buf), 0, NULL);
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

/* A step that is no mapping points to no place, least of all in a plan without places. */
static void
test_step_that_is_a_word_is_told(void **state)
{
    (void)state;
    static const char text[] = "kitchen:\n  name: X\nproducts:\n- id: roast\n  name: Roast\n"
                               "  steps: [cook]\n";
    struct plan_faults faults;
    assert_null(plan_load_text("plan", text, sizeof(text) - 1, &faults));
    size_t told = 0;
    for (size_t i = 0; i < faults.count; i++)
        told += faults.fault[i].line == 6 && strstr(faults.fault[i].text, "a single value");
    assert_int_equal(told, 1);
}

/* Exactly the largest size loads, a byte more does not. */
static void
test_size_of_one_megabyte_is_the_end(void **state)
{
    (void)state;
    struct plan_faults faults;
    char *buf = malloc(PLAN_BYTES_MAX + 1);
    assert_non_null(buf);
    size_t len = plan_lines_write(buf, 8192, 0, NULL);
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

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_text_that_is_no_plain_yaml_is_told),
        cmocka_unit_test(test_alias_is_told),
        cmocka_unit_test(test_nul_byte_is_told),
        cmocka_unit_test(test_empty_text_is_told),
        cmocka_unit_test(test_step_that_is_a_word_is_told),
        cmocka_unit_test(test_size_of_one_megabyte_is_the_end),
        cmocka_unit_test(test_file_that_cannot_be_read_is_told),
        cmocka_unit_test(test_fault_about_hostile_text_is_short_and_clean),
        cmocka_unit_test(test_binary_file_is_told_in_a_few_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
