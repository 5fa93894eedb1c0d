/* How thermometers are checked, as a plan says it: what each takes from the usual, what is
 * refused and where, and what counts as a change to be approved. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "trivet/plan.h"

static const char frame[] =
    /* 1 */ "site: {name: Test}\n"
            /* 2 */ "people: [{initials: AB, name: Ana Brandt, role: supervisor}]\n"
            /* 3 */ "sole_operator: The adviser verifies.\n"
            /* 4 */ "buses: [{id: line, driver: modbus-tcp, host: 127.0.0.1}]\n"
            /* 5 */ "probes:\n"
            /* 6 */ "  - {id: core, name: Core, kind: food, bus: line, unit: 1, function: 4, "
            "register: 0, "
            "type: int16, plausible: [-40 °C, 160 °C]%s}\n"
            /* 7 */ "thermometers: [{id: pen, name: Pen%s}]\n"
            /* 8 */ "%s";

static struct plan_faults faults;

static struct plan *
load(const char *of_probe, const char *of_pen, const char *rest)
{
    char text[3000];
    int len = snprintf(text, sizeof text, frame, of_probe, of_pen, rest);
    return plan_load_text("test.yaml", text, (size_t)len, &faults);
}

static struct plan *
loaded(const char *of_probe, const char *of_pen, const char *rest)
{
    struct plan *plan = load(of_probe, of_pen, rest);
    if (plan == NULL)
        fail_msg("line %d: %s", faults.fault[0].line, faults.fault[0].text);
    return plan;
}

static void
assert_fault(const char *rest, int line, const char *says)
{
    assert_null(load("", "", rest));
    assert_int_equal(faults.count, 1);
    assert_int_equal(faults.fault[0].line, line);
    if (strstr(faults.fault[0].text, says) == NULL)
        fail_msg("'%s' does not say '%s'", faults.fault[0].text, says);
}

/* FDA Food Code 2022, 4-203.11(A): accurate to 1 °C. */
static void
test_usual_is_a_degree_and_nothing_is_due(void **state)
{
    (void)state;
    struct plan *plan = loaded("", "", "");
    assert_int_equal(plan->probes[0].checking.tolerance_mK, 1000);
    assert_int_equal(plan->probes[0].checking.every_ms, 0);
    assert_int_equal(plan->probes[0].checking.largest_mK, 2000);
    assert_int_equal(plan->handhelds[0].checking.tolerance_mK, 1000);
    assert_int_equal(plan->handhelds[0].checking.largest_mK, 0);
    assert_false(plan->calibration.has_altitude);
    assert_false(plan->calibration.has_pressure);
    plan_free(plan);
}

/* 2 °F is 1.111 K: FDA Food Code 2022, 4-203.11(B). */
static void
test_own_keys_stand_before_the_usual(void **state)
{
    (void)state;
    struct plan *plan = loaded(", check_tolerance: 0.5 °C", ", check_every: 7 d",
                               "calibration: {check_tolerance: 2 °F, check_every: 90 d, "
                               "largest_correction: 1 °C, altitude_m: 0}\n");
    assert_int_equal(plan->probes[0].checking.tolerance_mK, 500);
    assert_int_equal(plan->probes[0].checking.every_ms, INT64_C(90) * 86400000);
    assert_int_equal(plan->probes[0].checking.largest_mK, 1000);
    assert_in_range(plan->handhelds[0].checking.tolerance_mK, 1111, 1112);
    assert_int_equal(plan->handhelds[0].checking.every_ms, INT64_C(7) * 86400000);
    assert_true(plan->calibration.has_altitude);
    assert_int_equal(plan->calibration.altitude_m, 0);
    plan_free(plan);
}

#define STICK                                                                                  \
    "{id: stick, name: Stick, certificate: no. 1, uncertainty: 0.1 °C, due: 2027-02-01}"

static void
test_references_are_found_by_their_ids(void **state)
{
    (void)state;
    struct plan *plan = loaded("", "", "references: [" STICK "]\n");
    const struct plan_reference *stick = plan_reference(plan, "stick");
    assert_non_null(stick);
    assert_int_equal(stick->uncertainty_mK, 100);
    assert_string_equal(stick->due, "2027-02-01");
    assert_null(plan_reference(plan, "stock"));
    plan_free(plan);
}

static void
test_what_is_wrong_is_told_at_its_line(void **state)
{
    (void)state;
    assert_fault("calibration:\n  altitude_m: 3\n  pressure_hpa: 1010\n", 10,
                 "both say where water boils");
    assert_fault("calibration: {check_tolerance: 11 °C}\n", 8, "check_tolerance");
    assert_fault("calibration: {largest_correction: 0 °C}\n", 8, "largest_correction");
    assert_fault("references: [" STICK ", " STICK "]\n", 8, "stick");
    assert_fault("references: [{id: a, name: A, certificate: c, uncertainty: 0.1 °C, due: "
                 "2027-02-30}]\n",
                 8, "due");
}

static void
assert_change(const char *of_probe, const char *rest, size_t count, const char *what,
              const char *before, const char *after)
{
    struct plan_change changes[4];
    struct plan *was = loaded("", "", ""), *is = loaded(of_probe, "", rest);
    assert_int_equal(plan_changes(was, is, changes, 4), count);
    if (count > 0) {
        assert_string_equal(changes[0].what, what);
        assert_string_equal(changes[0].before, before);
        assert_string_equal(changes[0].after, after);
    }
    plan_free(was);
    plan_free(is);
}

/* A wider tolerance is a wider limit: somebody has to answer for it. */
static void
test_changes_of_checking_are_told_once(void **state)
{
    (void)state;
    assert_change("", "calibration: {check_tolerance: 1 °C}\n", 0, NULL, NULL, NULL);
    assert_change("", "calibration: {check_tolerance: 3 °C}\n", 1,
                  "calibration: check_tolerance", "1.0 °C", "3.0 °C");
    assert_change(", check_every: 30 d", "", 1, "checks of probe core",
                  "check_tolerance: 1.0 °C, check_every: never, largest_correction: 2.0 °C",
                  "check_tolerance: 1.0 °C, check_every: 30 d, largest_correction: 2.0 °C");
    assert_change("", "references: [" STICK "]\n", 0, NULL, NULL, NULL);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_usual_is_a_degree_and_nothing_is_due),
        cmocka_unit_test(test_own_keys_stand_before_the_usual),
        cmocka_unit_test(test_references_are_found_by_their_ids),
        cmocka_unit_test(test_what_is_wrong_is_told_at_its_line),
        cmocka_unit_test(test_changes_of_checking_are_told_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
