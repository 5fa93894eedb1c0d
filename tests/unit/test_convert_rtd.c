/* Platinum resistance thermometers against IEC 60751 (tests/unit/data/rtd_table.h). */
#include "tests/unit/convert_check.h"

#include <assert.h>
#include <string.h>

#include "tests/unit/data/rtd_table.h"
#include "trivet/convert.h"

/* 354 rows in the source: 3 formulas in a comment, evaluated below, and these. */
static_assert(COUNT(rtd_constants) == 5 && COUNT(rtd_classes) == 4 &&
                  COUNT(rtd_class_ranges) == 8 && COUNT(rtd_tolerances) == 71 &&
                  COUNT(rtd_rows) == 263,
              "no row of the tables may be missing");

static double
constant(const char *name)
{
    for (size_t i = 0; i < COUNT(rtd_constants); i++)
        if (strcmp(rtd_constants[i].name, name) == 0)
            return rtd_constants[i].value;
    fail_msg("no constant %s", name);
    return NAN;
}

static double
ohm_at(double r0_ohm, double t_C)
{
    double ohm = NAN;
    assert_int_equal(convert_rtd_resistance(r0_ohm, t_C, &ohm), CONVERT_OK);
    return ohm;
}

static double
temp_C(double r0_ohm, double ohm)
{
    double t_C = NAN;
    assert_int_equal(convert_rtd_temp(r0_ohm, ohm, &t_C), CONVERT_OK);
    return t_C;
}

static enum convert_rtd_class
class_of(const char *name)
{
    if (strcmp(name, "AA") == 0)
        return CONVERT_RTD_AA;
    if (strcmp(name, "A") == 0)
        return CONVERT_RTD_A;
    if (strcmp(name, "B") == 0)
        return CONVERT_RTD_B;
    assert_string_equal(name, "C");
    return CONVERT_RTD_C;
}

static void
test_resistance_every_table_row_agrees(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(rtd_rows); i++) {
        const struct rtd_row *row = &rtd_rows[i];
        double ohm = ohm_at(100.0, row->temp_C);
        assert_near(ohm, row->equation_ohm, 0.51e-6);
        assert_near(ohm, row->table_ohm, 0.00501); /* half the last printed digit */
        assert_near(ohm_at(1000.0, row->temp_C), 10.0 * ohm, 1e-9);
    }
}

static void
test_temp_every_table_row_agrees(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(rtd_rows); i++) {
        const struct rtd_row *row = &rtd_rows[i];
        assert_near(temp_C(100.0, row->equation_ohm), row->temp_C, 2e-6);
        assert_near(temp_C(1000.0, 10.0 * row->equation_ohm), row->temp_C, 2e-6);
        assert_near(temp_C(100.0, row->table_ohm), row->temp_C,
                    0.018); /* 0.005 ohm, at 850 degC */
    }
}

static void
test_formulas_of_the_standard_agree(void **state)
{
    (void)state;
    double r0 = constant("R0"), a = constant("A"), b = constant("B"), c = constant("C");
    for (double t = 0.0; t <= 850.0; t += 0.5) {
        double r = r0 * (1 + a * t + b * t * t);
        assert_near(ohm_at(r0, t), r, 1e-10);
        double back_C = (-a + sqrt(a * a - 4 * b * (1 - r / r0))) / (2 * b);
        assert_near(temp_C(r0, r), back_C, 1e-9);
    }
    for (double t = -200.0; t < 0.0; t += 0.5)
        assert_near(ohm_at(r0, t), r0 * (1 + a * t + b * t * t + c * (t - 100) * t * t * t),
                    1e-10);
    assert_near((ohm_at(r0, 100.0) - r0) / (100.0 * r0), constant("alpha"), 0.51e-6);
    assert_near(ohm_at(r0, 100.0), 138.51, 0.005); /* 138.50 is the superseded scale */
}

static void
test_round_trip_whole_range_exact(void **state)
{
    (void)state;
    static const double nominal_ohm[] = {100.0, 1000.0, 50.0, 0.1, 98.7};
    double worst_C = 0.0;
    for (size_t k = 0; k < COUNT(nominal_ohm); k++) {
        double last_ohm = 0.0;
        for (long i = 0; i <= 105000; i++) {
            double t_C = -200.0 + (double)i / 100.0;
            double ohm = ohm_at(nominal_ohm[k], t_C);
            assert_true(ohm > last_ohm);
            last_ohm = ohm;
            worst_C = fmax(worst_C, fabs(temp_C(nominal_ohm[k], ohm) - t_C));
        }
    }
    print_message("worst round trip %.2g degC\n", worst_C);
    assert_near(worst_C, 0.0, 1e-9);
}

static void
test_outside_range_refused_output_untouched(void **state)
{
    (void)state;
    double out;
    struct convert_range range;
    assert_int_equal(convert_rtd_range(100.0, &range), CONVERT_OK);
    assert_true(range.temp_min_C == -200.0 && range.temp_max_C == 850.0);
    assert_near(range.output_min, 18.52, 0.005);
    assert_near(range.output_max, 390.48, 0.005);

    assert_true(temp_C(100.0, 18.52) == -200.0); /* as printed, just below the end */
    assert_true(temp_C(100.0, range.output_max + 0.004) == 850.0);
    assert_refused(CONVERT_TOO_LOW, convert_rtd_temp(100.0, range.output_min - 0.0051, &out),
                   out);
    assert_refused(CONVERT_TOO_HIGH, convert_rtd_temp(100.0, range.output_max + 0.0051, &out),
                   out);
    assert_refused(CONVERT_TOO_LOW, convert_rtd_temp(100.0, 0.0, &out), out);
    assert_refused(CONVERT_TOO_LOW, convert_rtd_temp(100.0, -100.0, &out), out);
    assert_refused(CONVERT_NOT_A_NUMBER, convert_rtd_temp(100.0, NAN, &out), out);
    assert_refused(CONVERT_NOT_A_NUMBER, convert_rtd_temp(100.0, INFINITY, &out), out);
    assert_refused(CONVERT_TOO_LOW, convert_rtd_resistance(100.0, nextafter(-200, -300), &out),
                   out);
    assert_refused(CONVERT_TOO_HIGH, convert_rtd_resistance(100.0, nextafter(850, 900), &out),
                   out);
    assert_refused(CONVERT_NOT_A_NUMBER, convert_rtd_resistance(100.0, NAN, &out), out);
}

static void
test_nominal_resistance_senseless_refused(void **state)
{
    (void)state;
    static const double senseless[] = {0.0, -100.0, NAN, INFINITY, -INFINITY};
    double out;
    for (size_t i = 0; i < COUNT(senseless); i++) {
        struct convert_range range = {.temp_min_C = UNTOUCHED};
        assert_int_equal(convert_rtd_range(senseless[i], &range), CONVERT_BAD_SENSOR);
        assert_true(range.temp_min_C == UNTOUCHED);
        assert_refused(CONVERT_BAD_SENSOR, convert_rtd_temp(senseless[i], 100.0, &out), out);
        assert_refused(CONVERT_BAD_SENSOR, convert_rtd_resistance(senseless[i], 0.0, &out),
                       out);
    }
}

static void
test_tolerance_every_row_agrees(void **state)
{
    (void)state;
    double out;
    for (size_t i = 0; i < COUNT(rtd_tolerances); i++) {
        const struct rtd_tolerance_row *row = &rtd_tolerances[i];
        assert_int_equal(convert_rtd_tolerance(class_of(row->class_name), row->temp_C, &out),
                         CONVERT_OK);
        assert_near(out, row->tolerance_C, 0.51e-4);
    }
    for (size_t i = 0; i < COUNT(rtd_classes); i++)
        for (double t = -200.0; t <= 850.0; t += 2.5) {
            assert_int_equal(convert_rtd_tolerance(class_of(rtd_classes[i].name), t, &out),
                             CONVERT_OK);
            assert_near(out, rtd_classes[i].fixed_C + rtd_classes[i].per_degree * fabs(t),
                        1e-12);
        }
    assert_refused(CONVERT_TOO_LOW, convert_rtd_tolerance(CONVERT_RTD_B, -200.1, &out), out);
    assert_refused(CONVERT_TOO_HIGH, convert_rtd_tolerance(CONVERT_RTD_B, 850.1, &out), out);
    assert_refused(CONVERT_NOT_A_NUMBER, convert_rtd_tolerance(CONVERT_RTD_B, NAN, &out), out);
}

/* The film range of class C is from memory; the other seven were read. */
static void
test_class_holds_within_published_range_only(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(rtd_class_ranges); i++) {
        const struct rtd_class_range *row = &rtd_class_ranges[i];
        enum convert_rtd_class class_name = class_of(row->class_name);
        enum convert_rtd_element element =
            strcmp(row->element, "film") == 0 ? CONVERT_RTD_FILM : CONVERT_RTD_WIRE;
        assert_true(convert_rtd_class_holds(class_name, element, row->min_C));
        assert_true(convert_rtd_class_holds(class_name, element, row->max_C));
        assert_false(convert_rtd_class_holds(class_name, element, row->min_C - 0.001));
        assert_false(convert_rtd_class_holds(class_name, element, row->max_C + 0.001));
        assert_false(convert_rtd_class_holds(class_name, element, NAN));
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_resistance_every_table_row_agrees),
        cmocka_unit_test(test_temp_every_table_row_agrees),
        cmocka_unit_test(test_formulas_of_the_standard_agree),
        cmocka_unit_test(test_round_trip_whole_range_exact),
        cmocka_unit_test(test_outside_range_refused_output_untouched),
        cmocka_unit_test(test_nominal_resistance_senseless_refused),
        cmocka_unit_test(test_tolerance_every_row_agrees),
        cmocka_unit_test(test_class_holds_within_published_range_only),
    };
    return cmocka_run_group_tests_name("rtd", tests, NULL, NULL);
}
