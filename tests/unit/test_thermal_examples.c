/* Textbook problems with printed answers, solved with the forward conduction solver.
 *
 * Where the printed answer comes from a chart, from rounded coefficients or from the one-term
 * form outside its range, the tolerance against print is wide and the exact series value
 * (computed outside the project with 120 terms) is the sharp check.  Sources are beside each
 * test. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "daemon/thermal/conduction.h"

enum { CELLS = 80 };

struct problem {
    double exponent;
    double radius_m;
    double start_C;
    double medium_C;
    double h;
    double k;
    double diffusivity;
};

struct solution {
    struct conduction_grid grid;
    double volume[CELLS];
    double link[CELLS];
    double node[CELLS];
    double temp[CELLS];
    double biot;
    double fo_per_s;
    double medium_C;
    double time_s;
};

static void
solution_init(struct solution *s, const struct problem *p)
{
    s->grid = (struct conduction_grid){CELLS, s->volume, s->link, s->node};
    conduction_grid_init(&s->grid, p->exponent, 0.97);
    for (int i = 0; i < CELLS; i++)
        s->temp[i] = p->start_C;
    s->biot = p->h * p->radius_m / p->k;
    s->fo_per_s = p->diffusivity / (p->radius_m * p->radius_m);
    s->medium_C = p->medium_C;
    s->time_s = 0;
}

static double
at_radius(const struct solution *s, double radius)
{
    int first;
    double w[2];
    conduction_reading_weights(&s->grid, radius, &first, w);
    return w[0] * s->temp[first] + w[1] * s->temp[first + 1];
}

static double
at_surface(const struct solution *s)
{
    double last = s->temp[CELLS - 1];
    return conduction_surface(
        &s->grid, last, conduction_convection(&s->grid, s->biot, s->medium_C, last).flux_K);
}

static double
at_centre(const struct solution *s)
{
    return at_radius(s, 0);
}

static void
advance(struct solution *s, double until_s)
{
    while (s->time_s < until_s - 1e-9) {
        double dt = fmin(fmin(fmax(0.05, 0.01 * s->time_s), 5), until_s - s->time_s);
        conduction_advance(&s->grid, s->biot, s->medium_C, dt * s->fo_per_s,
                           s->time_s < 5 ? 1 : 0.5, s->temp);
        s->time_s += dt;
    }
}

/* Seconds until `where` reaches `target_C`, interpolated inside the last step. */
static double
time_to(struct solution *s, double (*where)(const struct solution *), double target_C)
{
    double before = where(s);
    bool rising = target_C > before;
    for (;;) {
        double at = s->time_s;
        advance(s, at + 2);
        double now = where(s);
        if ((now >= target_C) == rising)
            return at + 2 * (target_C - before) / (now - before);
        before = now;
        assert_true(s->time_s < 1e6);
    }
}

#define NEAR(value, wanted, tolerance) assert_true(fabs((value) - (wanted)) <= (tolerance))

/* W01. Kreith, Principles of Heat Transfer, solved problem: 134 min printed, 132.8 exact. */
static void
test_example_w01_roast_to_77_takes_134_min(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){3, 0.071, 20, 163, 18, 0.5, 1.25e-7});
    double min = time_to(&s, at_centre, 77) / 60;
    NEAR(min, 134, 2);
    NEAR(min, 132.8, 0.3);
}

/* W02 to W04. Cengel, Heat and Mass Transfer, apples in a freezer: 11.2 C, 2.7 C, 17.2 kJ
 * printed; 11.11, 2.67, 17.22 exact. */
static void
test_example_w02_w03_w04_apple_in_freezer(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){3, 0.045, 20, -15, 8, 0.418, 1.3e-7});
    advance(&s, 3600);
    NEAR(at_centre(&s), 11.2, 0.15);
    NEAR(at_centre(&s), 11.11, 0.05);
    NEAR(at_surface(&s), 2.7, 0.1);
    NEAR(at_surface(&s), 2.67, 0.05);
    double mass_kg = 840 * 4.0 / 3 * acos(-1) * pow(0.045, 3);
    double heat_kJ = mass_kg * 3.81 * (20 - conduction_mean(&s.grid, s.temp));
    NEAR(heat_kJ, 17.22, 0.1);
}

/* W05. Cengel, steaks in a chill room, the surface to 2 C: 5590 s printed, 5586 exact. */
static void
test_example_w05_steak_surface_takes_5590_s(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){1, 0.01, 25, -11, 9, 0.45, 9.1e-8});
    NEAR(time_to(&s, at_surface, 2), 5586, 20);
}

/* W06. Cengel, beef carcass as a long cylinder, centre to 4 C: 12.2 h printed, 12.17 exact. */
static void
test_example_w06_carcass_takes_12_hours(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){2, 0.12, 37, -10, 22, 0.47, 1.3e-7});
    NEAR(time_to(&s, at_centre, 4) / 3600, 12.17, 0.03);
    NEAR(at_surface(&s), -7.1, 0.1);
}

/* W07, W08. Cengel, potatoes in chilled air: 5213 s and 4.44 C printed with a root read to
 * three digits (1.635 for an exact 1.653): the exact answers are 5096 s and 4.41 C, two per
 * cent away. */
static void
test_example_w07_w08_potato_in_chilled_air(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){3, 0.03, 25, 2, 19, 0.5, 1.3e-7});
    double seconds = time_to(&s, at_centre, 6);
    NEAR(seconds, 5096, 15);
    NEAR(seconds, 5213, 0.03 * 5213);
    NEAR(at_surface(&s), 4.41, 0.03);
}

/* W09, W12. Cengel, eggs in boiling water: 1098 s printed (1104.5 exact) and 865 s printed
 * (861.5 exact). */
static void
test_example_w09_w12_egg_in_boiling_water(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){3, 0.0275, 4.3, 100, 800, 0.607, 1.46e-7});
    NEAR(time_to(&s, at_centre, 74), 1104.5, 4);
    solution_init(&s, &(struct problem){3, 0.025, 5, 95, 1200, 0.627, 1.51e-7});
    NEAR(time_to(&s, at_centre, 70), 861.5, 4);
}

/* W10, W11. Cengel, 3.2 kg rib roast, centre 60 C after 9900 s: printed h 156.9 W/m2K.  That is
 * a trap: the book used one term of the series at Fo 0.122, outside its range (Fo > 0.2).  One
 * term does give it; the whole solution asks for 93.4, and with 156.9 the centre would be well
 * past 60 C. */
static void
test_example_w10_rib_roast_printed_h_is_a_one_term_artefact(void **state)
{
    (void)state;
    static struct solution s;
    struct problem p = {3, 0.086, 4.5, 163, 156.9, 0.45, 9.1e-8};
    double fo = p.diffusivity * 9900 / (p.radius_m * p.radius_m);
    double one_term = 1.9898 * exp(-3.0372 * 3.0372 * fo); /* table row for a sphere at Bi 30 */
    NEAR(163 + (4.5 - 163) * one_term, 60, 0.7);
    solution_init(&s, &p);
    advance(&s, 9900);
    NEAR(at_surface(&s), 159.4, 0.3);
    assert_true(at_centre(&s) > 61.5);
    double low = 20, high = 200;
    for (int i = 0; i < 30; i++) {
        p.h = 0.5 * (low + high);
        solution_init(&s, &p);
        advance(&s, 9900);
        if (at_centre(&s) < 60)
            low = p.h;
        else
            high = p.h;
    }
    NEAR(p.h, 93.4, 1);
}

/* W13, W14. Geankoplis, Transport Processes, ch. 5, slab of butter insulated below (its full
 * height counts as the half thickness): printed 19.05 and, 25 mm below the top, 15.15 C, both
 * read from a chart.  Exact: 19.24 C, and 15.42 C at half the depth (23.1 mm below the top); 25
 * mm below it is nearer to print, 15.20 C. */
static void
test_example_w13_w14_butter_insulated_below(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){1, 0.0462, 4.45, 23.95, 8.52, 0.197, 8.58e-8});
    advance(&s, 5 * 3600);
    NEAR(at_surface(&s), 19.24, 0.03);
    NEAR(at_surface(&s), 19.05, 0.3);
    NEAR(at_radius(&s, 0.5), 15.42, 0.03);
    double below_top = at_radius(&s, (0.0462 - 0.025) / 0.0462);
    NEAR(below_top, 15.15, 0.1);
}

/* W15, W16. Geankoplis, ch. 5, can of pea puree in steam: printed 106.6 C (chart factors 0.13 x
 * 0.80) and 104.4 C; 108.4 and 106.1 C exact. */
static void
test_example_w15_w16_can_of_puree(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){2, 0.03405, 29.4, 115.6, 4540, 0.83, 2.007e-7});
    advance(&s, 2700);
    double round = (at_centre(&s) - 115.6) / (29.4 - 115.6);
    NEAR(at_centre(&s), 106.1, 0.15);
    NEAR(at_centre(&s), 104.4, 2);
    solution_init(&s, &(struct problem){1, 0.0508, 29.4, 115.6, 4540, 0.83, 2.007e-7});
    advance(&s, 2700);
    double flat = (at_centre(&s) - 115.6) / (29.4 - 115.6);
    NEAR(115.6 + (29.4 - 115.6) * round * flat, 108.4, 0.15);
    NEAR(115.6 + (29.4 - 115.6) * round * flat, 106.6, 2);
}

/* W17. Singh & Heldman, Introduction to Food Engineering, ch. 4, stirred kettle: 83.3 C
 * printed, 83.16 exact. Stirring is a body that conducts so well that Bi is 0.001; area over
 * volume of a hemisphere is 3 / r. */
static void
test_example_w17_stirred_kettle_is_lumped(void **state)
{
    (void)state;
    static struct solution s;
    double k = 5000 * 0.5 / 0.001;
    solution_init(&s, &(struct problem){3, 0.5, 20, 90, 5000, k, k / (980.0 * 3950.0)});
    for (int i = 0; i < 3000; i++)
        conduction_advance(&s.grid, s.biot, 90, 0.1 * s.fo_per_s, 0.5, s.temp);
    NEAR(at_centre(&s), 83.16, 0.1);
    NEAR(at_centre(&s), 83.3, 0.3);
}

/* W18. Singh & Heldman, Example 4.26, apple in a water stream: inputs printed, answer not seen;
 * 3778 s exact. */
static void
test_example_w18_apple_in_water(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){3, 0.03, 15, 2, 50, 0.355, 1.203e-7});
    NEAR(time_to(&s, at_centre, 3), 3778, 10);
}

/* W19, W20. Cengel, potato baked, then wrapped: 38.26 min exact (answer not seen); insulated
 * from then on it ends at the mean temperature at removal, 111.9 C: the bound of any
 * carry-over. */
static void
test_example_w19_w20_potato_carry_over_ends_at_the_mean(void **state)
{
    (void)state;
    static struct solution s;
    solution_init(&s, &(struct problem){3, 0.045, 25, 170, 40, 0.6, 1.4e-7});
    double seconds = time_to(&s, at_centre, 70);
    NEAR(seconds / 60, 38.26, 0.1);
    solution_init(&s, &(struct problem){3, 0.045, 25, 170, 40, 0.6, 1.4e-7});
    advance(&s, seconds);
    double mean = conduction_mean(&s.grid, s.temp);
    NEAR(mean, 111.9, 0.3);
    s.biot = 1e-12;
    double peak = 0;
    for (int i = 0; i < 5000; i++) {
        advance(&s, s.time_s + 5);
        peak = fmax(peak, at_centre(&s));
    }
    NEAR(peak, mean, 0.05);
}

/* W23. Roberts et al. 2013, Food Protection Trends 33:27-31, measured: chili and tomato sauce
 * in pans 5.1 and 7.6 cm deep from 57.2 C; in a walk-in refrigerator neither was at 21 C in 2 h
 * and at 5 C in 6 h, 5.1 cm in a walk-in freezer was both.  Films were not stated: those of
 * handbooks for a refrigerator with a fan, 8 to 15 W/m2K with radiation, and for one of moving
 * freezer air, 20.  (W21, W22 and W24 are measured as well, of blocks and roasts whose shape is
 * not stated: there is nothing to compute.) */
static void
test_example_w23_shallow_pans_in_refrigerator_and_freezer(void **state)
{
    (void)state;
    static struct solution s;
    static const double DEPTH_M[] = {0.051, 0.076}, FILM[] = {8, 15};
    for (int d = 0; d < 2; d++)
        for (int h = 0; h < 2; h++) {
            solution_init(&s,
                          &(struct problem){1, DEPTH_M[d] / 2, 57.2, 4, FILM[h], 0.5, 1.35e-7});
            assert_true(time_to(&s, at_centre, 21) > 2 * 3600);
        }
    solution_init(&s, &(struct problem){1, 0.051 / 2, 57.2, -20, 20, 0.5, 1.35e-7});
    double first_s = time_to(&s, at_centre, 21);
    assert_true(first_s < 2 * 3600);
    assert_true(time_to(&s, at_centre, 5) < 6 * 3600);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_example_w01_roast_to_77_takes_134_min),
        cmocka_unit_test(test_example_w02_w03_w04_apple_in_freezer),
        cmocka_unit_test(test_example_w05_steak_surface_takes_5590_s),
        cmocka_unit_test(test_example_w06_carcass_takes_12_hours),
        cmocka_unit_test(test_example_w07_w08_potato_in_chilled_air),
        cmocka_unit_test(test_example_w09_w12_egg_in_boiling_water),
        cmocka_unit_test(test_example_w10_rib_roast_printed_h_is_a_one_term_artefact),
        cmocka_unit_test(test_example_w13_w14_butter_insulated_below),
        cmocka_unit_test(test_example_w15_w16_can_of_puree),
        cmocka_unit_test(test_example_w17_stirred_kettle_is_lumped),
        cmocka_unit_test(test_example_w18_apple_in_water),
        cmocka_unit_test(test_example_w19_w20_potato_carry_over_ends_at_the_mean),
        cmocka_unit_test(test_example_w23_shallow_pans_in_refrigerator_and_freezer),
    };
    return cmocka_run_group_tests_name("thermal worked examples", tests, NULL, NULL);
}
