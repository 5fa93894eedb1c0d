/* NTC thermistors against published curves (tests/unit/data/thermistor_table.h). The three
 * calibration points of set 1 are from memory; solved, they give its published coefficients to
 * every digit. */
#include "tests/unit/convert_check.h"

#include <assert.h>

#include "tests/unit/data/thermistor_table.h"
#include "trivet/convert.h"

/* 203 rows in the source: 3 formulas in a comment, evaluated below, and these. */
static_assert(COUNT(thermistor_calibration) == 6 && COUNT(thermistor_coefficients) == 6 &&
                  COUNT(thermistor_checks) == 20 && COUNT(thermistor_table) == 42 &&
                  COUNT(thermistor_betas) == 3 && COUNT(thermistor_beta_rows) == 123,
              "no row of the tables may be missing");

static double
coefficient(int set, char name)
{
    for (size_t i = 0; i < COUNT(thermistor_coefficients); i++)
        if (thermistor_coefficients[i].set == set && thermistor_coefficients[i].name == name)
            return thermistor_coefficients[i].value;
    fail_msg("no coefficient %c in set %d", name, set);
    return NAN;
}

static struct convert_thermistor
published(int set)
{
    struct convert_thermistor th = {0};
    assert_int_equal(convert_thermistor_by_coefficients(coefficient(set, 'A'),
                                                        coefficient(set, 'B'),
                                                        coefficient(set, 'C'), &th),
                     CONVERT_OK);
    return th;
}

static struct convert_thermistor
solved(int set)
{
    struct convert_point points[3];
    size_t count = 0;
    for (size_t i = 0; i < COUNT(thermistor_calibration); i++)
        if (thermistor_calibration[i].set == set && count < 3)
            points[count++] = (struct convert_point){thermistor_calibration[i].temp_C,
                                                     thermistor_calibration[i].resistance_ohm};
    assert_int_equal(count, 3);
    struct convert_thermistor th = {0};
    assert_int_equal(convert_thermistor_by_points(points, &th), CONVERT_OK);
    return th;
}

static double
temp_C(const struct convert_thermistor *th, double ohm)
{
    double t_C = NAN;
    assert_int_equal(convert_thermistor_temp(th, ohm, &t_C), CONVERT_OK);
    return t_C;
}

static double
ohm_at(const struct convert_thermistor *th, double t_C)
{
    double ohm = NAN;
    assert_int_equal(convert_thermistor_resistance(th, t_C, &ohm), CONVERT_OK);
    return ohm;
}

static void
test_points_give_published_coefficients(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(thermistor_coefficients); i++) {
        const struct thermistor_coefficient *row = &thermistor_coefficients[i];
        struct convert_thermistor th = solved(row->set);
        double value = row->name == 'A'   ? th.a_per_K
                       : row->name == 'B' ? th.b_per_K
                                          : th.c_per_K;
        assert_near(value, row->solved_value, 1e-9 * fabs(row->solved_value));
        /* Published digits: set 1 ten of them, set 2 six to seven (its table is rounded to 0.1
         * ohm). */
        assert_near(value, row->value, (row->set == 1 ? 1e-9 : 2e-6) * fabs(row->value));
    }
}

static void
test_points_lie_on_their_own_curve(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(thermistor_calibration); i++) {
        const struct thermistor_point *row = &thermistor_calibration[i];
        struct convert_thermistor th = solved(row->set);
        assert_near(temp_C(&th, row->resistance_ohm), row->temp_C, 1e-9);
        assert_near(ohm_at(&th, row->temp_C), row->resistance_ohm, 1e-9 * row->resistance_ohm);
    }
}

static void
test_points_in_any_order_give_same_curve(void **state)
{
    (void)state;
    static const int orders[6][3] = {{0, 1, 2}, {0, 2, 1}, {1, 0, 2},
                                     {1, 2, 0}, {2, 0, 1}, {2, 1, 0}};
    static const struct convert_point points[3] = {
        {5.0, 25000.0}, {25.0, 10000.0}, {45.0, 4000.0}};
    for (size_t i = 0; i < COUNT(orders); i++) {
        struct convert_point shuffled[3];
        for (int k = 0; k < 3; k++)
            shuffled[k] = points[orders[i][k]];
        struct convert_thermistor th;
        assert_int_equal(convert_thermistor_by_points(shuffled, &th), CONVERT_OK);
        assert_near(temp_C(&th, 5312.0), 38.824708, 1e-6);
    }
}

static void
test_temp_every_check_row_agrees(void **state)
{
    (void)state;
    struct convert_thermistor th[3] = {[1] = solved(1), [2] = published(2)};
    for (size_t i = 0; i < COUNT(thermistor_checks); i++) {
        const struct thermistor_point *row = &thermistor_checks[i];
        assert_near(temp_C(&th[row->set], row->resistance_ohm), row->temp_C, 0.51e-6);
        assert_near(ohm_at(&th[row->set], row->temp_C), row->resistance_ohm,
                    1e-7 * row->resistance_ohm);
    }
}

/* The table's maker rounded the coefficients to six digits: that, and no more, is the
 * difference. */
static void
test_table_every_row_agrees(void **state)
{
    (void)state;
    struct convert_thermistor th = published(2);
    for (size_t i = 0; i < COUNT(thermistor_table); i++) {
        const struct thermistor_point *row = &thermistor_table[i];
        assert_near(temp_C(&th, row->resistance_ohm), row->temp_C, 0.001);
        assert_near(ohm_at(&th, row->temp_C), row->resistance_ohm, 5e-5 * row->resistance_ohm);
    }
}

static void
test_beta_every_row_agrees(void **state)
{
    (void)state;
    for (size_t k = 0; k < COUNT(thermistor_betas); k++) {
        const struct thermistor_beta *beta = &thermistor_betas[k];
        struct convert_thermistor th;
        struct convert_point nominal = {beta->nominal_C, beta->nominal_ohm};
        assert_int_equal(convert_thermistor_by_beta(nominal, beta->beta_K, &th), CONVERT_OK);
        size_t rows = 0;
        for (size_t i = 0; i < COUNT(thermistor_beta_rows); i++) {
            const struct thermistor_beta_row *row = &thermistor_beta_rows[i];
            if (row->beta_K != beta->beta_K)
                continue;
            double one_digit_C = 0.0005 / row->resistance_ohm * 350.0 * 350.0 / beta->beta_K;
            assert_near(ohm_at(&th, row->temp_C), row->resistance_ohm, 0.00051);
            assert_near(temp_C(&th, row->resistance_ohm), row->temp_C,
                        2.0 * one_digit_C + 1e-9);
            rows++;
        }
        assert_int_equal(rows, 41);
    }
}

static void
test_formulas_agree(void **state)
{
    (void)state;
    double a = coefficient(2, 'A'), b = coefficient(2, 'B'), c = coefficient(2, 'C');
    struct convert_thermistor sh = published(2), beta;
    assert_int_equal(
        convert_thermistor_by_beta((struct convert_point){25.0, 10000.0}, 3950.0, &beta),
        CONVERT_OK);
    for (double t = -55.0; t <= 200.0; t += 0.25) {
        double r = ohm_at(&sh, t);
        assert_near(1.0 / (a + b * log(r) + c * pow(log(r), 3.0)) - 273.15, t, 1e-9);
        r = 10000.0 * exp(3950.0 * (1.0 / (t + 273.15) - 1.0 / 298.15));
        assert_near(ohm_at(&beta, t), r, 1e-9 * r);
    }
}

static void
test_round_trip_whole_range_exact(void **state)
{
    (void)state;
    struct convert_thermistor curves[4] = {solved(1), published(2)};
    assert_int_equal(
        convert_thermistor_by_beta((struct convert_point){25.0, 100000.0}, 3435.0, &curves[2]),
        CONVERT_OK);
    /* A small negative c, as a fit to measured points may give. */
    assert_int_equal(convert_thermistor_by_coefficients(6e-4, 3e-4, -1e-7, &curves[3]),
                     CONVERT_OK);
    for (size_t k = 0; k < COUNT(curves); k++) {
        int done = 0;
        double last_ohm = INFINITY;
        for (int i = 0; i <= 40000; i++) {
            double t_C = -100.0 + i / 100.0, ohm;
            enum convert_status status = convert_thermistor_resistance(&curves[k], t_C, &ohm);
            if (status != CONVERT_OK) { /* beyond 1 ohm or 100 Mohm, only at the ends */
                assert_int_equal(status, done == 0 ? CONVERT_TOO_LOW : CONVERT_TOO_HIGH);
                continue;
            }
            assert_true(ohm < last_ohm && ohm >= 0.999999999 && ohm <= 1.000000001e8);
            last_ohm = ohm;
            if (ohm > 1.0 && ohm < 1e8)
                assert_near(temp_C(&curves[k], ohm), t_C, 1e-8);
            done++;
        }
        assert_true(done > 25000);
    }
}

static void
test_outside_range_refused_output_untouched(void **state)
{
    (void)state;
    struct convert_thermistor th = published(2);
    double out;
    assert_refused(CONVERT_TOO_LOW, convert_thermistor_temp(&th, 0.0, &out), out);
    assert_refused(CONVERT_TOO_LOW, convert_thermistor_temp(&th, -10000.0, &out), out);
    assert_refused(CONVERT_TOO_LOW, convert_thermistor_temp(&th, 0.999999, &out), out);
    assert_refused(CONVERT_TOO_HIGH, convert_thermistor_temp(&th, 1.000001e8, &out), out);
    assert_refused(CONVERT_NOT_A_NUMBER, convert_thermistor_temp(&th, NAN, &out), out);
    assert_refused(CONVERT_NOT_A_NUMBER, convert_thermistor_temp(&th, INFINITY, &out), out);
    assert_refused(CONVERT_TOO_LOW, convert_thermistor_resistance(&th, -100.001, &out), out);
    assert_refused(CONVERT_TOO_HIGH, convert_thermistor_resistance(&th, 300.001, &out), out);
    assert_refused(CONVERT_NOT_A_NUMBER, convert_thermistor_resistance(&th, NAN, &out), out);

    /* In range as a resistance, out of range as a temperature: a short, and a broken wire. */
    double at_max_ohm = ohm_at(&th, 300.0), at_min_ohm = ohm_at(&th, -100.0);
    assert_refused(CONVERT_TOO_LOW, convert_thermistor_temp(&th, at_max_ohm * 0.9999, &out),
                   out);
    assert_refused(CONVERT_TOO_HIGH, convert_thermistor_temp(&th, at_min_ohm * 1.0001, &out),
                   out);
    assert_near(temp_C(&th, at_max_ohm * 1.0001), 300.0, 0.01);
    assert_near(temp_C(&th, at_min_ohm * 0.9999), -100.0, 0.01);
}

static void
test_constants_of_no_thermistor_refused(void **state)
{
    (void)state;
    static const double wrong[][3] = {
        {1.1e-3, 0.0, 0.0},        {1.1e-3, -2.3e-4, 8.7e-8}, {1.1e-3, 2.3e-4, -8.7e-6},
        {NAN, 2.3e-4, 8.7e-8},     {1.1e-3, INFINITY, 0.0},   {1.1e-3, 2.3e-4, NAN},
        {1.9e-3, 2.3e38, -7.6e-9}, {NAN, NAN, NAN},           {INFINITY, 2.3e-4, 8.7e-8},
    };
    const struct convert_thermistor before = {UNTOUCHED, UNTOUCHED, UNTOUCHED};
    for (size_t i = 0; i < COUNT(wrong); i++) {
        struct convert_thermistor th = before;
        assert_int_equal(
            convert_thermistor_by_coefficients(wrong[i][0], wrong[i][1], wrong[i][2], &th),
            CONVERT_BAD_SENSOR);
        assert_memory_equal(&th, &before, sizeof(th));
        struct convert_thermistor built_by_hand = {wrong[i][0], wrong[i][1], wrong[i][2]};
        double out;
        assert_refused(CONVERT_BAD_SENSOR, convert_thermistor_temp(&built_by_hand, 1e4, &out),
                       out);
        assert_refused(CONVERT_BAD_SENSOR,
                       convert_thermistor_resistance(&built_by_hand, 5.0, &out), out);
    }
}

static void
test_points_of_no_thermistor_refused(void **state)
{
    (void)state;
    static const struct convert_point wrong[][3] = {
        {{5.0, 25000.0}, {5.0, 25000.0}, {45.0, 4000.0}}, /* the same point twice */
        {{5.0, 25000.0},
         {25.0, 25000.0},
         {45.0, 4000.0}},                                /* one resistance, two temperatures */
        {{5.0, 25000.0}, {5.0, 10000.0}, {5.0, 4000.0}}, /* one temperature */
        {{5.0, 4000.0}, {25.0, 10000.0}, {45.0, 25000.0}}, /* rising: not an NTC */
        {{5.0, -25000.0}, {25.0, 10000.0}, {45.0, 4000.0}},
        {{5.0, 0.0}, {25.0, 10000.0}, {45.0, 4000.0}},
        {{-300.0, 25000.0}, {25.0, 10000.0}, {45.0, 4000.0}},
        {{5.0, NAN}, {25.0, 10000.0}, {45.0, 4000.0}},
        {{5.0, 25000.0}, {INFINITY, 10000.0}, {45.0, 4000.0}},
    };
    const struct convert_thermistor before = {UNTOUCHED, UNTOUCHED, UNTOUCHED};
    for (size_t i = 0; i < COUNT(wrong); i++) {
        struct convert_thermistor th = before;
        assert_int_equal(convert_thermistor_by_points(wrong[i], &th), CONVERT_BAD_SENSOR);
        assert_memory_equal(&th, &before, sizeof(th));
    }
    static const double wrong_beta[] = {0.0, -3950.0, NAN, INFINITY};
    for (size_t i = 0; i < COUNT(wrong_beta); i++) {
        struct convert_thermistor th = before;
        struct convert_point nominal = {25.0, 10000.0};
        assert_int_equal(convert_thermistor_by_beta(nominal, wrong_beta[i], &th),
                         CONVERT_BAD_SENSOR);
        assert_memory_equal(&th, &before, sizeof(th));
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_points_give_published_coefficients),
        cmocka_unit_test(test_points_lie_on_their_own_curve),
        cmocka_unit_test(test_points_in_any_order_give_same_curve),
        cmocka_unit_test(test_temp_every_check_row_agrees),
        cmocka_unit_test(test_table_every_row_agrees),
        cmocka_unit_test(test_beta_every_row_agrees),
        cmocka_unit_test(test_formulas_agree),
        cmocka_unit_test(test_round_trip_whole_range_exact),
        cmocka_unit_test(test_outside_range_refused_output_untouched),
        cmocka_unit_test(test_constants_of_no_thermistor_refused),
        cmocka_unit_test(test_points_of_no_thermistor_refused),
    };
    return cmocka_run_group_tests_name("thermistor", tests, NULL, NULL);
}
