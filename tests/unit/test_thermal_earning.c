/* What a core earns on its way, against figures worked by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "daemon/thermal/earning.h"

/* Seconds along a straight line from one temperature on until it is earned; INFINITY. */
static double
earned_after_s(const struct forecast_earning *earning, double from_C, double K_s)
{
    struct earning_run run;
    earning_begin(&run, earning);
    for (double t = 0; t < 1e6; t++) {
        if (run.done)
            return t;
        earning_step(&run, earning, from_C + K_s * t, from_C + K_s * (t + 1), 1);
    }
    return INFINITY;
}

/* Bigelow: at the reference each minute is one; z colder, a tenth; z hotter, ten. */
static void
test_equivalent_time(void **state)
{
    (void)state;
    const struct forecast_earning e = {.reference_C = 70, .z_K = 7.5, .target_s = 120};
    assert_true(fabs(earned_after_s(&e, 70, 0) - 120) <= 1);
    assert_true(fabs(earned_after_s(&e, 62.5, 0) - 1200) <= 1);
    assert_true(fabs(earned_after_s(&e, 77.5, 0) - 12) <= 1);
    /* Rising K kelvin a second through the reference, the integral before it is z / (K ln 10):
     * with 0.01 K/s 325.7 s by the time of 70 °C, so 120 s were earned at 70 - 3.25 °C. */
    double k = 0.01, all_s = 7.5 / (k * log(10));
    double at_C = 70 + 7.5 * log10(120 / all_s);
    assert_true(fabs(earned_after_s(&e, 30, k) - (at_C - 30) / k) <= 3);
    const struct forecast_earning half = {
        .reference_C = 70, .z_K = 7.5, .target_s = 120, .earned_s = 60};
    assert_true(fabs(earned_after_s(&half, 70, 0) - 60) <= 1);
}

/* One row at a time, unbroken. */
static void
test_rows_of_a_table(void **state)
{
    (void)state;
    struct forecast_earning e = {.rows = 2, .row = {{60, 720, -1}, {65, 60, -1}}};
    assert_true(fabs(earned_after_s(&e, 61, 0) - 720) <= 1);
    assert_true(fabs(earned_after_s(&e, 65, 0) - 60) <= 1);
    assert_true(isinf(earned_after_s(&e, 59.9, 0)));
    /* 60 °C at 1000 s and 65 °C at 1500 s: the hotter row is done at 1560 s. */
    assert_true(fabs(earned_after_s(&e, 50, 0.01) - 1560) <= 1);
    e.row[0].held_s = 700;
    assert_true(fabs(earned_after_s(&e, 61, 0) - 20) <= 1);
    struct earning_run run;
    earning_begin(&run, &e);
    earning_step(&run, &e, 61, 59, 10); /* broken: what was held is gone */
    earning_step(&run, &e, 59, 61, 10);
    assert_false(run.done);
    assert_true(fabs(run.held_s[0] - 5) < 1e-9);
}

/* A row of no time is earned by being reached. */
static void
test_a_row_of_no_time(void **state)
{
    (void)state;
    const struct forecast_earning e = {.rows = 1, .row = {{70, 0, -1}}};
    assert_true(fabs(earned_after_s(&e, 60, 0.1) - 100) <= 1);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_equivalent_time),
        cmocka_unit_test(test_rows_of_a_table),
        cmocka_unit_test(test_a_row_of_no_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
