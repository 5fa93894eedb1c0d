/* The forward conduction solver against exact series, one-term tables, energy balance, grid
 * convergence. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "daemon/thermal/conduction.h"
#include "tests/unit/thermal_tables.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

struct body {
    struct conduction_grid grid;
    double volume[CONDUCTION_CELLS_MAX];
    double link[CONDUCTION_CELLS_MAX];
    double centre[CONDUCTION_CELLS_MAX];
    double temp[CONDUCTION_CELLS_MAX];
    double biot;
    double fo;
};

static void
body_init(struct body *b, int cells, double exponent, double biot)
{
    b->grid = (struct conduction_grid){cells, b->volume, b->link, b->centre};
    conduction_grid_init(&b->grid, exponent, cells >= 40 ? 0.97 : 0.9);
    for (int i = 0; i < cells; i++)
        b->temp[i] = 1;
    b->biot = biot > 0 ? biot : 1e9;
    b->fo = 0;
}

/* Runs to `fo` in a medium at zero, with steps that grow as the profile smooths. */
static void
body_run(struct body *b, double fo)
{
    while (b->fo < fo - 1e-12) {
        double dt = fmin(fmin(fmax(2e-5, 0.02 * b->fo), 0.005), fo - b->fo);
        double implicit = b->fo < 1e-3 ? 1 : 0.5;
        conduction_advance(&b->grid, b->biot, 0, dt, implicit, b->temp);
        b->fo += dt;
    }
}

static double
body_at_centre(const struct body *b)
{
    int first;
    double w[2];
    conduction_reading_weights(&b->grid, 0, &first, w);
    return w[0] * b->temp[first] + w[1] * b->temp[first + 1];
}

static double
body_at_surface(const struct body *b)
{
    double last = b->temp[b->grid.cells - 1];
    return conduction_surface(&b->grid, last,
                              conduction_convection(&b->grid, b->biot, 0, last).flux_K);
}

/* Rows of one shape and Biot number follow each other by Fourier number: one run serves them
 * all. */
static void
test_conduction_against_series_stays_within_two_thousandths(void **state)
{
    (void)state;
    static struct body b;
    double worst = 0;
    for (size_t i = 0; i < COUNT(SERIES); i++) {
        const struct series_row *r = &SERIES[i];
        if (i == 0 || r->biot != r[-1].biot || r->exponent != r[-1].exponent)
            body_init(&b, 100, r->exponent, r->biot);
        body_run(&b, r->fo);
        worst = fmax(worst, fabs(body_at_centre(&b) - r->centre));
        worst = fmax(worst, fabs(body_at_surface(&b) - r->surface));
        worst = fmax(worst, fabs(conduction_mean(&b.grid, b.temp) - r->mean));
    }
    print_message("largest difference from the series: %.5f\n", worst);
    assert_true(worst < 0.002);
}

/* As above: rows of one cylinder follow each other by Fourier number. */
static void
test_conduction_product_against_finite_cylinder_stays_within_two_thousandths(void **state)
{
    (void)state;
    static struct body round, flat;
    double worst = 0;
    for (size_t i = 0; i < COUNT(FINITE); i++) {
        const struct finite_row *r = &FINITE[i];
        double aspect = r->half_height_over_radius;
        if (i == 0 || r->biot != r[-1].biot || aspect != r[-1].half_height_over_radius) {
            body_init(&round, 100, 2, r->biot);
            body_init(&flat, 100, 1, r->biot_axial);
        }
        body_run(&round, r->fo);
        body_run(&flat, r->fo / (aspect * aspect));
        worst = fmax(worst, fabs(body_at_centre(&round) * body_at_centre(&flat) - r->centre));
        worst = fmax(worst, fabs(body_at_surface(&round) * body_at_surface(&flat) - r->corner));
    }
    print_message("largest difference from the finite cylinder: %.5f\n", worst);
    assert_true(worst < 0.002);
}

/* Late on, theta = C1 exp(-zeta1^2 Fo): root and coefficient can be read off two instants. */
static void
test_conduction_late_decay_gives_one_term_root_and_coefficient(void **state)
{
    (void)state;
    static struct body b;
    for (size_t i = 0; i < COUNT(ONE_TERM); i++) {
        const struct one_term_row *r = &ONE_TERM[i];
        body_init(&b, 60, r->exponent, r->biot);
        body_run(&b, 0.6);
        double early = body_at_centre(&b);
        body_run(&b, 1.2);
        double square = log(early / body_at_centre(&b)) / 0.6;
        assert_true(fabs(sqrt(square) - r->root) < 0.001 * r->root);
        assert_true(fabs(early * exp(0.6 * square) - r->coefficient) < 0.003);
    }
}

static void
test_conduction_heat_through_surface_equals_heat_stored(void **state)
{
    (void)state;
    static struct body b;
    for (double exponent = 1; exponent <= 3; exponent += 0.5) {
        body_init(&b, 30, exponent, 3);
        double start = conduction_mean(&b.grid, b.temp) / exponent;
        double given = 0;
        for (int i = 0; i < 2000; i++) {
            double before[CONDUCTION_CELLS_MAX];
            for (int k = 0; k < 30; k++)
                before[k] = b.temp[k];
            double medium = i < 700 ? -1 : 2; /* a jump in the surroundings */
            conduction_advance(&b.grid, b.biot, medium, 0.0005, 0.5, b.temp);
            double last = 0.5 * (before[29] + b.temp[29]);
            given += 0.0005 * conduction_convection(&b.grid, b.biot, medium, last).flux_K;
        }
        double stored = conduction_mean(&b.grid, b.temp) / exponent - start;
        assert_true(fabs(stored - given) < 1e-9);
    }
}

static void
test_conduction_insulated_body_keeps_its_mean(void **state)
{
    (void)state;
    static struct body b;
    body_init(&b, 20, 2.3, 1e-30);
    for (int i = 0; i < 20; i++)
        b.temp[i] = 20 + 5 * i;
    double mean = conduction_mean(&b.grid, b.temp);
    for (int i = 0; i < 3000; i++)
        conduction_advance(&b.grid, 1e-30, 300, 0.001, 0.5, b.temp);
    assert_true(fabs(conduction_mean(&b.grid, b.temp) - mean) < 1e-9);
    assert_true(fabs(b.temp[0] - b.temp[19]) < 0.01);
}

/* Halving the shells must cut the error about four times (second order in space). */
static void
test_conduction_error_falls_with_the_square_of_the_shell(void **state)
{
    (void)state;
    static struct body b;
    for (double exponent = 1; exponent <= 3; exponent += 1) {
        double value[4];
        for (int level = 0; level < 4; level++) {
            int cells = 8 << level;
            b.grid = (struct conduction_grid){cells, b.volume, b.link, b.centre};
            conduction_grid_init(&b.grid, exponent, 1);
            for (int i = 0; i < cells; i++)
                b.temp[i] = 1;
            for (int i = 0; i < 4000; i++)
                conduction_advance(&b.grid, 3, 0, 0.0001, 0.5, b.temp);
            value[level] = body_at_centre(&b);
        }
        double first = fabs(value[1] - value[0]);
        double second = fabs(value[2] - value[1]);
        double third = fabs(value[3] - value[2]);
        assert_true(first / second > 3 && first / second < 5);
        assert_true(second / third > 3 && second / third < 5);
    }
}

/* Eight graded shells, as the online models use, are good to 0.012 in theta from Fo 0.1 on
 * (worst: a sphere at Bi 10); the free parameters of those models take up such a difference. */
static void
test_conduction_eight_graded_shells_stay_near_the_series(void **state)
{
    (void)state;
    static struct body b;
    for (size_t i = 0; i < COUNT(SERIES); i++) {
        const struct series_row *r = &SERIES[i];
        if (r->biot == 0 || r->biot > 10 || r->fo < 0.1 || r->fo > 2)
            continue;
        b.grid = (struct conduction_grid){8, b.volume, b.link, b.centre};
        conduction_grid_init(&b.grid, r->exponent, 0.8);
        for (int k = 0; k < 8; k++)
            b.temp[k] = 1;
        b.biot = r->biot;
        b.fo = 0;
        body_run(&b, r->fo);
        assert_true(fabs(body_at_centre(&b) - r->centre) < 0.012);
    }
}

static void
test_conduction_more_dimensions_heat_faster(void **state)
{
    (void)state;
    static struct body b;
    double before = 2;
    for (double exponent = 1; exponent <= 3.01; exponent += 0.25) {
        body_init(&b, 30, fmin(exponent, 3), 2);
        body_run(&b, 0.3);
        assert_true(body_at_centre(&b) < before);
        before = body_at_centre(&b);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_conduction_against_series_stays_within_two_thousandths),
        cmocka_unit_test(
            test_conduction_product_against_finite_cylinder_stays_within_two_thousandths),
        cmocka_unit_test(test_conduction_late_decay_gives_one_term_root_and_coefficient),
        cmocka_unit_test(test_conduction_heat_through_surface_equals_heat_stored),
        cmocka_unit_test(test_conduction_insulated_body_keeps_its_mean),
        cmocka_unit_test(test_conduction_error_falls_with_the_square_of_the_shell),
        cmocka_unit_test(test_conduction_eight_graded_shells_stay_near_the_series),
        cmocka_unit_test(test_conduction_more_dimensions_heat_faster),
    };
    return cmocka_run_group_tests_name("thermal conduction", tests, NULL, NULL);
}
