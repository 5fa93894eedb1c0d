/* Thermocouples against the published tables of NIST SRD 60
 * (tests/unit/data/thermocouple_table.h). */
#include "tests/unit/convert_check.h"

#include <assert.h>
#include <stdbool.h>
#include <stdio.h>

#include "tests/unit/data/thermocouple_coefficients.h"
#include "tests/unit/data/thermocouple_table.h"
#include "trivet/convert.h"

static_assert(COUNT(thermocouple_rows) == 706 && COUNT(thermocouple_coefficients) == 215,
              "no row of the tables may be missing");

static enum convert_tc
type_of(char name)
{
    switch (name) {
    case 'K':
        return CONVERT_TC_K;
    case 'T':
        return CONVERT_TC_T;
    case 'J':
        return CONVERT_TC_J;
    case 'E':
        return CONVERT_TC_E;
    }
    assert_int_equal(name, 'N');
    return CONVERT_TC_N;
}

static double
emf_mV(enum convert_tc type, double temp_C)
{
    double mV = NAN;
    assert_int_equal(convert_tc_emf(type, temp_C, &mV), CONVERT_OK);
    return mV;
}

static double
temp_C(enum convert_tc type, double mV)
{
    double C = NAN;
    assert_int_equal(convert_tc_temp(type, mV, &C), CONVERT_OK);
    return C;
}

static void
test_emf_every_table_row_agrees(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(thermocouple_rows); i++) {
        const struct thermocouple_row *row = &thermocouple_rows[i];
        double mV = emf_mV(type_of(row->type), row->temp_C);
        assert_near(mV, row->poly_mV, 0.5e-6 + 1e-9);
        assert_near(mV, row->table_mV, 0.0005 + 1e-6); /* half the last printed digit */
    }
}

/* Both printings, each within its half digit divided by the slope of the curve there, the slope
 * being taken from neighbouring values of the forward function. */
static void
test_temp_every_table_row_agrees(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(thermocouple_rows); i++) {
        const struct thermocouple_row *row = &thermocouple_rows[i];
        enum convert_tc type = type_of(row->type);
        struct convert_range range = convert_tc_range(type);
        double below_C = fmax(row->temp_C - 0.5, range.temp_min_C);
        double above_C = fmin(row->temp_C + 0.5, range.temp_max_C);
        double slope = (emf_mV(type, above_C) - emf_mV(type, below_C)) / (above_C - below_C);
        assert_near(temp_C(type, row->poly_mV), row->temp_C, 0.5e-6 / slope + 1e-6);
        if (row->temp_C >
            -250.0) /* below, 0.0005 mV is degrees, and the curve bends within them */
            assert_near(temp_C(type, row->table_mV), row->temp_C, 0.00052 / slope);
    }
}

/* From kitchens up, where the curve is steep, the printed 0.001 mV alone fixes the temperature.
 */
static void
test_temp_kitchen_rows_agree_within_printed_digit(void **state)
{
    (void)state;
    size_t rows = 0;
    for (size_t i = 0; i < COUNT(thermocouple_rows); i++) {
        const struct thermocouple_row *row = &thermocouple_rows[i];
        if (row->temp_C < -50.0 || row->temp_C > 300.0)
            continue;
        assert_near(temp_C(type_of(row->type), row->table_mV), row->temp_C, 0.022);
        rows++;
    }
    assert_true(rows > 300);
}

/* ---- the published coefficients, evaluated here term by term ---- */

/* The rows of one piece of one function: from first on, as long as they belong together. */
static size_t
piece_end(size_t first)
{
    const struct thermocouple_coefficient *of = &thermocouple_coefficients[first];
    size_t end = first;
    while (end < COUNT(thermocouple_coefficients) &&
           thermocouple_coefficients[end].type == of->type &&
           thermocouple_coefficients[end].is_inverse == of->is_inverse &&
           thermocouple_coefficients[end].segment == of->segment)
        end++;
    return end;
}

static double
piece_value(size_t first, size_t end, double at)
{
    long double sum = 0.0L, bump[3] = {0.0L};
    for (size_t i = first; i < end; i++) {
        const struct thermocouple_coefficient *row = &thermocouple_coefficients[i];
        if (row->term == 'a')
            bump[row->order] = (long double)row->value;
        else
            sum += (long double)row->value * powl((long double)at, (long double)row->order);
    }
    return (double)(sum + bump[0] * expl(bump[1] * ((long double)at - bump[2]) *
                                         ((long double)at - bump[2])));
}

static void
test_emf_is_the_published_function_throughout(void **state)
{
    (void)state;
    size_t pieces = 0, end;
    for (size_t first = 0; first < COUNT(thermocouple_coefficients); first = end) {
        const struct thermocouple_coefficient *row = &thermocouple_coefficients[first];
        end = piece_end(first);
        if (row->is_inverse)
            continue;
        pieces++;
        const int steps = (int)lround((row->arg_max - row->arg_min) * 4.0);
        for (int i = 0; i <= steps; i++) {
            const double t_C = row->arg_min + i / 4.0;
            /* Where two pieces meet either may be meant; they differ by less than 1e-7 mV. */
            assert_near(emf_mV(type_of(row->type), t_C), piece_value(first, end, t_C),
                        i == 0 || i == steps ? 1e-7 : 1e-10);
        }
    }
    assert_int_equal(pieces, 10); /* two of each type */
}

/* The published inverse is off by what its source says, rounded to 0.01 degC; over whole ranges
 * it passes that band by up to 0.0033 degC (J just below 0; worked by another program). */
static void
test_temp_lies_in_the_stated_band_of_the_published_inverse(void **state)
{
    (void)state;
    size_t pieces = 0, end;
    for (size_t first = 0; first < COUNT(thermocouple_coefficients); first = end) {
        const struct thermocouple_coefficient *row = &thermocouple_coefficients[first];
        end = piece_end(first);
        if (!row->is_inverse)
            continue;
        pieces++;
        for (int i = 0; i <= 4000; i++) {
            const double mV = row->arg_min + (row->arg_max - row->arg_min) * i / 4000.0;
            const double off_C = piece_value(first, end, mV) - temp_C(type_of(row->type), mV);
            assert_true(off_C >= row->error_min_C - 0.0035 &&
                        off_C <= row->error_max_C + 0.0035);
        }
    }
    assert_int_equal(pieces, 13); /* three of K, J and N, two of T and E */
}

static void
test_round_trip_whole_range_exact(void **state)
{
    (void)state;
    for (int type = 0; type < CONVERT_TC_COUNT; type++) {
        struct convert_range range = convert_tc_range((enum convert_tc)type);
        long steps = lround((range.temp_max_C - range.temp_min_C) * 100.0);
        double worst_C = 0.0, last_mV = -INFINITY;
        for (long i = 0; i <= steps; i++) {
            double t_C = range.temp_min_C + (double)i / 100.0;
            double mV = emf_mV((enum convert_tc)type, t_C);
            assert_true(mV > last_mV); /* so there is one answer */
            last_mV = mV;
            worst_C = fmax(worst_C, fabs(temp_C((enum convert_tc)type, mV) - t_C));
        }
        print_message("type %d: worst round trip %.2g degC\n", type, worst_C);
        assert_near(worst_C, 0.0, 1e-6);
    }
}

/* The other way about, by voltage: finds a start value that leaves the steps somewhere else. */
static void
test_round_trip_by_voltage_exact(void **state)
{
    (void)state;
    for (int type = 0; type < CONVERT_TC_COUNT; type++) {
        struct convert_range range = convert_tc_range((enum convert_tc)type);
        double last_C = -INFINITY;
        for (int i = 0; i <= 200000; i++) {
            double mV = range.output_min + (range.output_max - range.output_min) * i / 200000.0;
            double t_C = temp_C((enum convert_tc)type, mV);
            assert_true(t_C >= last_C);
            last_C = t_C;
            assert_near(emf_mV((enum convert_tc)type, t_C), mV, 1e-6);
        }
    }
}

/* Where pieces of a curve meet: continuous to the printed digits, and the inverse passes the
 * seam. */
static void
test_seams_are_passed_smoothly(void **state)
{
    (void)state;
    for (int type = 0; type < CONVERT_TC_COUNT; type++) {
        double seams_C[] = {0.0, type == CONVERT_TC_J ? 760.0 : 0.0};
        for (size_t i = 0; i < COUNT(seams_C); i++) {
            double below_mV = emf_mV((enum convert_tc)type, seams_C[i]);
            double above_mV = emf_mV((enum convert_tc)type, nextafter(seams_C[i], 1e6));
            assert_near(above_mV, below_mV, 1e-7);
            for (int k = -50; k <= 50; k++)
                assert_near(temp_C((enum convert_tc)type, below_mV + k * 1e-8), seams_C[i],
                            2.1e-5);
        }
    }
}

static void
test_range_ends_are_published_ones(void **state)
{
    (void)state;
    static const double ends_C[CONVERT_TC_COUNT][2] = {[CONVERT_TC_K] = {-270.0, 1372.0},
                                                       [CONVERT_TC_T] = {-270.0, 400.0},
                                                       [CONVERT_TC_J] = {-210.0, 1200.0},
                                                       [CONVERT_TC_E] = {-270.0, 1000.0},
                                                       [CONVERT_TC_N] = {-270.0, 1300.0}};
    for (int type = 0; type < CONVERT_TC_COUNT; type++) {
        struct convert_range range = convert_tc_range((enum convert_tc)type);
        assert_true(range.temp_min_C == ends_C[type][0] && range.temp_max_C == ends_C[type][1]);
        assert_near(range.output_min, emf_mV((enum convert_tc)type, range.temp_min_C), 0.6e-6);
        assert_near(range.output_max, emf_mV((enum convert_tc)type, range.temp_max_C), 0.6e-6);
        /* Within the rounding of a printed table: the end itself, never beyond. */
        assert_true(temp_C((enum convert_tc)type, range.output_min - 0.0004) ==
                    ends_C[type][0]);
        assert_true(temp_C((enum convert_tc)type, range.output_max + 0.0004) ==
                    ends_C[type][1]);
    }
}

static void
test_outside_range_refused_output_untouched(void **state)
{
    (void)state;
    double out;
    for (int type = 0; type < CONVERT_TC_COUNT; type++) {
        enum convert_tc tc = (enum convert_tc)type;
        struct convert_range range = convert_tc_range(tc);
        double low_C = nextafter(range.temp_min_C, -1e6),
               high_C = nextafter(range.temp_max_C, 1e6);
        assert_refused(CONVERT_TOO_LOW, convert_tc_emf(tc, low_C, &out), out);
        assert_refused(CONVERT_TOO_HIGH, convert_tc_emf(tc, high_C, &out), out);
        assert_refused(CONVERT_TOO_LOW, convert_tc_temp(tc, range.output_min - 0.00051, &out),
                       out);
        assert_refused(CONVERT_TOO_HIGH, convert_tc_temp(tc, range.output_max + 0.00051, &out),
                       out);
        assert_refused(CONVERT_TOO_LOW, convert_tc_temp(tc, -1e308, &out), out);
        assert_refused(CONVERT_NOT_A_NUMBER, convert_tc_temp(tc, NAN, &out), out);
        assert_refused(CONVERT_NOT_A_NUMBER, convert_tc_temp(tc, INFINITY, &out), out);
        assert_refused(CONVERT_NOT_A_NUMBER, convert_tc_emf(tc, -INFINITY, &out), out);
        assert_refused(CONVERT_NOT_A_NUMBER, convert_tc_emf(tc, NAN, &out), out);
        assert_refused(CONVERT_COLD_JUNCTION, convert_tc_hot_temp(tc, 0.0, low_C, &out), out);
        assert_refused(CONVERT_COLD_JUNCTION, convert_tc_hot_temp(tc, 0.0, NAN, &out), out);
        assert_refused(CONVERT_COLD_JUNCTION, convert_tc_measured(tc, 0.0, high_C, &out), out);
        assert_refused(CONVERT_TOO_HIGH, convert_tc_hot_temp(tc, range.output_max, 20.0, &out),
                       out);
        assert_refused(CONVERT_TOO_LOW, convert_tc_measured(tc, low_C, 20.0, &out), out);
        assert_refused(CONVERT_NOT_A_NUMBER, convert_tc_hot_temp(tc, NAN, 20.0, &out), out);
    }
}

/* Own computation from NIST coefficients with an independent program. Adding the
 * cold junction in degrees instead is off by more than 0.1 degC: the mistake this must not
 * make. */
static void
test_cold_junction_compensated_in_voltage(void **state)
{
    (void)state;
    static const struct {
        char type;
        double cold_C, cold_mV, measured_mV, hot_C;
    } examples[] = {
        {'K', 23.5, 0.939507, 2.119410, 75.000},
        {'T', 23.5, 0.931048, -1.613899, -18.000},
        {'J', 30.0, 1.536654, 4.883899, 121.100},
    };
    for (size_t i = 0; i < COUNT(examples); i++) {
        enum convert_tc type = type_of(examples[i].type);
        double hot_C, mV;
        assert_near(emf_mV(type, examples[i].cold_C), examples[i].cold_mV, 0.6e-6);
        assert_int_equal(
            convert_tc_hot_temp(type, examples[i].measured_mV, examples[i].cold_C, &hot_C),
            CONVERT_OK);
        assert_near(hot_C, examples[i].hot_C, 5e-5); /* 1e-6 mV is 3e-5 degC */
        assert_int_equal(convert_tc_measured(type, examples[i].hot_C, examples[i].cold_C, &mV),
                         CONVERT_OK);
        assert_near(mV, examples[i].measured_mV, 1.1e-6);
        double added_C = temp_C(type, examples[i].measured_mV) + examples[i].cold_C;
        assert_true(fabs(added_C - examples[i].hot_C) > 0.1);
    }
}

static void
test_cold_junction_at_zero_changes_nothing(void **state)
{
    (void)state;
    for (int type = 0; type < CONVERT_TC_COUNT; type++) {
        double hot_C;
        assert_int_equal(convert_tc_hot_temp((enum convert_tc)type, 2.5, 0.0, &hot_C),
                         CONVERT_OK);
        assert_near(hot_C, temp_C((enum convert_tc)type, 2.5), 1e-6);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_emf_every_table_row_agrees),
        cmocka_unit_test(test_temp_every_table_row_agrees),
        cmocka_unit_test(test_temp_kitchen_rows_agree_within_printed_digit),
        cmocka_unit_test(test_emf_is_the_published_function_throughout),
        cmocka_unit_test(test_temp_lies_in_the_stated_band_of_the_published_inverse),
        cmocka_unit_test(test_round_trip_whole_range_exact),
        cmocka_unit_test(test_round_trip_by_voltage_exact),
        cmocka_unit_test(test_seams_are_passed_smoothly),
        cmocka_unit_test(test_range_ends_are_published_ones),
        cmocka_unit_test(test_outside_range_refused_output_untouched),
        cmocka_unit_test(test_cold_junction_compensated_in_voltage),
        cmocka_unit_test(test_cold_junction_at_zero_changes_nothing),
    };
    return cmocka_run_group_tests_name("thermocouple", tests, NULL, NULL);
}
