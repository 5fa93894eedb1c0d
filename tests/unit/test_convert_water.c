/* Boiling water and the standard atmosphere against their published tables
 * (tests/unit/data/boiling_point_table.h). */
#include "tests/unit/convert_check.h"

#include <assert.h>
#include <string.h>

#include "tests/unit/data/boiling_point_table.h"
#include "trivet/convert.h"

/* 188 rows in the source: 6 formulas in a comment, evaluated below, and these. */
static_assert(COUNT(if97_coefficients) == 10 && COUNT(atmosphere_constants) == 8 &&
                  COUNT(if97_temp_checks) == 3 && COUNT(if97_pressure_checks) == 3 &&
                  COUNT(boiling_by_pressure) == 92 && COUNT(boiling_slopes) == 1 &&
                  COUNT(steam_rows) == 21 && COUNT(geopotential_rows) == 31 &&
                  COUNT(surveyed_rows) == 13,
              "no row of the tables may be missing");

static double
boiling_C(double kPa)
{
    double t_C = NAN;
    assert_int_equal(convert_boiling_temp(kPa, &t_C), CONVERT_OK);
    return t_C;
}

static double
boiling_kPa(double t_C)
{
    double kPa = NAN;
    assert_int_equal(convert_boiling_pressure(t_C, &kPa), CONVERT_OK);
    return kPa;
}

static double
constant(const char *name)
{
    for (size_t i = 0; i < COUNT(atmosphere_constants); i++)
        if (strcmp(atmosphere_constants[i].name, name) == 0)
            return atmosphere_constants[i].value;
    fail_msg("no constant %s", name);
    return NAN;
}

static void
test_if97_verification_values_agree(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(if97_temp_checks); i++) {
        const struct if97_check *row = &if97_temp_checks[i];
        assert_near(boiling_C(row->pressure_MPa * 1000.0) + 273.15, row->temp_K, 0.51e-6);
    }
    for (size_t i = 0; i < COUNT(if97_pressure_checks); i++) {
        const struct if97_check *row = &if97_pressure_checks[i];
        assert_near(boiling_kPa(row->temp_K - 273.15) / 1000.0, row->pressure_MPa,
                    1e-8 * row->pressure_MPa);
    }
}

static void
test_boiling_point_every_row_agrees(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(boiling_by_pressure); i++) {
        const struct boiling_row *row = &boiling_by_pressure[i];
        double t_C = boiling_C(row->pressure_kPa);
        assert_near(t_C, row->temp_C, 0.51e-6);
        assert_near(t_C + 273.15, row->temp_K, 0.51e-6);
        assert_near(boiling_kPa(row->temp_C), row->pressure_kPa, 4e-6);
    }
    assert_near(boiling_C(101.325), 99.974, 0.0005);
    for (size_t i = 0; i < COUNT(boiling_slopes); i++) {
        const struct boiling_slope *row = &boiling_slopes[i];
        double slope = boiling_C(row->pressure_kPa + 0.5) - boiling_C(row->pressure_kPa - 0.5);
        /* The row is 5e-5 above what the rows at 100.5, 101.5 and 102 kPa beside it give when
         * their differences are interpolated, 0.27652: a slip in its fifth digit, not in the
         * curve. */
        assert_near(slope, row->slope_K_per_kPa, 1e-4);
        assert_near(slope, 0.27652, 1e-5);
    }
}

static void
test_steam_table_every_row_agrees(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(steam_rows); i++) {
        const struct steam_row *row = &steam_rows[i];
        double kPa = boiling_kPa(row->temp_C);
        assert_near(kPa, row->pressure_kPa, 0.51e-6);
        assert_near(kPa / 1000.0, row->printed_MPa, 0.51e-5);
        assert_near(boiling_C(row->pressure_kPa), row->temp_C, 1e-6);
    }
}

/* The saturation line is one equation in both variables (R7-97 equation 29): whatever the two
 * functions return has to satisfy it, with the coefficients as printed. */
static void
test_saturation_equation_satisfied(void **state)
{
    (void)state;
    double n[11];
    for (size_t i = 0; i < COUNT(if97_coefficients); i++)
        n[i + 1] = if97_coefficients[i].value;
    for (double kPa = 0.7; kPa < 22064.0; kPa *= 1.01) {
        double t_K = boiling_C(kPa) + 273.15;
        double th = t_K + n[9] / (t_K - n[10]), b = pow(kPa / 1000.0, 0.25);
        double left = b * b * th * th + n[1] * b * b * th + n[2] * b * b + n[3] * b * th * th +
                      n[4] * b * th + n[5] * b + n[6] * th * th + n[7] * th + n[8];
        assert_near(left / n[8], 0.0, 1e-12);
        assert_near(boiling_kPa(t_K - 273.15), kPa, 1e-9 * kPa);
    }
}

static double
air_kPa(enum convert_status (*pressure)(double, double *), double height_m)
{
    double kPa = NAN;
    assert_int_equal(pressure(height_m, &kPa), CONVERT_OK);
    return kPa;
}

static void
check_height(const struct height_row *row, double kPa)
{
    assert_near(kPa, row->pressure_kPa, 0.51e-6);
    assert_near(kPa * 1000.0, row->printed_Pa,
                0.5); /* the published atmosphere prints six digits */
    assert_near(boiling_C(kPa), row->temp_C, 0.6e-6);
    assert_near(boiling_C(kPa) + 273.15, row->temp_K, 0.6e-6);
}

static void
test_height_every_row_agrees(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(geopotential_rows); i++) {
        const struct height_row *row = &geopotential_rows[i];
        check_height(row, air_kPa(convert_air_pressure_geopotential, row->height_m));
    }
    for (size_t i = 0; i < COUNT(surveyed_rows); i++) {
        const struct height_row *row = &surveyed_rows[i];
        check_height(row, air_kPa(convert_air_pressure, row->height_m));
    }
}

static void
test_atmosphere_formulas_agree(void **state)
{
    (void)state;
    double exponent = constant("g0") * constant("M") / (constant("R_star") * constant("L"));
    double r_m = constant("r_earth");
    assert_near(exponent, constant("exponent"), 0.51e-9);
    for (double z_m = -4990.0; z_m < 11000.0; z_m += 10.0) {
        double h_m = r_m * z_m / (r_m + z_m);
        double kPa =
            constant("p0") / 1000.0 * pow(1.0 - constant("L") * h_m / constant("T0"), exponent);
        assert_near(air_kPa(convert_air_pressure, z_m), kPa, 1e-10);
        assert_near(air_kPa(convert_air_pressure_geopotential, h_m), kPa, 1e-10);
    }
}

static void
test_outside_range_refused_output_untouched(void **state)
{
    (void)state;
    double out;
    assert_refused(CONVERT_TOO_LOW, convert_boiling_temp(0.611212, &out), out);
    assert_refused(CONVERT_TOO_LOW, convert_boiling_temp(0.0, &out), out);
    assert_refused(CONVERT_TOO_LOW, convert_boiling_temp(-101.325, &out), out);
    assert_refused(CONVERT_TOO_HIGH, convert_boiling_temp(22064.01, &out), out);
    assert_refused(CONVERT_NOT_A_NUMBER, convert_boiling_temp(NAN, &out), out);
    assert_refused(CONVERT_TOO_LOW, convert_boiling_pressure(-0.001, &out), out);
    assert_refused(CONVERT_TOO_HIGH, convert_boiling_pressure(373.947, &out), out);
    assert_refused(CONVERT_NOT_A_NUMBER, convert_boiling_pressure(INFINITY, &out), out);
    assert_near(boiling_C(0.611213), 0.0, 1e-5);    /* R7-97 section 8: the end at 273.15 K */
    assert_near(boiling_C(22064.0), 373.946, 1e-3); /* the critical point */
    assert_near(boiling_kPa(0.0), 0.611213, 1e-6);

    enum convert_status (*air[])(double, double *) = {convert_air_pressure,
                                                      convert_air_pressure_geopotential};
    for (size_t i = 0; i < COUNT(air); i++) {
        assert_refused(CONVERT_TOO_LOW, air[i](-5010.0, &out), out);
        assert_refused(CONVERT_TOO_HIGH, air[i](11020.0, &out), out);
        assert_refused(CONVERT_TOO_LOW, air[i](-1e9, &out), out);
        assert_refused(CONVERT_TOO_HIGH, air[i](1e9, &out), out);
        assert_refused(CONVERT_NOT_A_NUMBER, air[i](NAN, &out), out);
        assert_refused(CONVERT_NOT_A_NUMBER, air[i](-INFINITY, &out), out);
    }
    assert_refused(CONVERT_TOO_LOW, convert_air_pressure(-6356766.0, &out), out);
    assert_refused(CONVERT_TOO_LOW,
                   convert_air_pressure_geopotential(nextafter(-5000, -6000), &out), out);
    assert_refused(CONVERT_TOO_HIGH,
                   convert_air_pressure_geopotential(nextafter(11000, 12000), &out), out);
    assert_near(air_kPa(convert_air_pressure_geopotential, 11000.0), 22.6320,
                0.0001); /* ISO 2533 */
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_if97_verification_values_agree),
        cmocka_unit_test(test_boiling_point_every_row_agrees),
        cmocka_unit_test(test_steam_table_every_row_agrees),
        cmocka_unit_test(test_saturation_equation_satisfied),
        cmocka_unit_test(test_height_every_row_agrees),
        cmocka_unit_test(test_atmosphere_formulas_agree),
        cmocka_unit_test(test_outside_range_refused_output_untouched),
    };
    return cmocka_run_group_tests_name("water", tests, NULL, NULL);
}
