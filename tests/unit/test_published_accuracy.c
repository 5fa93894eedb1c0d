/* What codes, guidance and standards print of how right a thermometer has to be, each figure
 * just inside, at and just outside: a plan can ask for it (`check_tolerance`), and a check
 * passes or fails by it (E120 of docs/engine.md). And what is true in ice and in boiling water.
 * Figures of the authorities as printed, copied here with their source; which rows of them are
 * no figure that Trivet judges by is said in docs/calibration.md. */
#include "tests/support/check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "trivet/convert.h"

#define COUNT(array) (sizeof(array) / sizeof *(array))

enum { ICE = 1, BOILING = 2, BESIDE = 4 };

static const struct figure {
    const char *row;   /* as the list of published rows names it */
    const char *write; /* the plan's words for it */
    int32_t inside_mK; /* the largest whole thousandth that is within it */
    unsigned methods;  /* by which it is checked */
} figures[] = {
    /* FDA Food Code 2022, 4-203.11(A) and (B): food, 1 °C, or 2 °F where scaled only in °F. */
    {"FC22-TMD-FOOD-C", "1 °C", 1000, ICE | BOILING | BESIDE},
    {"FC22-TMD-FOOD-F", "2 °F", 1111, ICE | BOILING | BESIDE},
    /* 4-203.12(A) and (B): ambient air and water, 1.5 °C or 3 °F. */
    {"FC22-TMD-AIR-C", "1.5 °C", 1500, ICE | BESIDE},
    {"FC22-TMD-AIR-F", "3 °F", 1666, ICE | BESIDE},
    /* 10 NYCRR 14-1.85; California Health and Safety Code 114159, 2 °F or 1 °C. */
    {"US-NY-TMD", "2 °F", 1111, ICE | BOILING},
    {"US-CA-TMD", "2 °F", 1111, ICE | BOILING},
    {"US-CA-TMD", "1 °C", 1000, ICE | BOILING},
    /* FSANZ Standard 3.2.2 clause 22. */
    {"AU-TMD", "1 °C", 1000, ICE | BOILING},
    /* Hong Kong CFS, Safe Kitchen: -1 to 1 °C in ice, 99 to 101 °C boiling; holding equipment's
     * own display, 1 °C from a thermometer beside it. */
    {"HK-ICE", "1 °C", 1000, ICE},
    {"HK-BOIL", "1 °C", 1000, BOILING},
    {"HK-HOLD-DEV", "1 °C", 1000, BESIDE},
    /* UK Food Standards Agency, Safer food, better business: the same, from memory. */
    {"UK-SFBB", "1 °C", 1000, ICE | BOILING},
    /* EN 13485, classes 0.5, 1 and 2, and EN 12830:1999 clause 4.9.2, classes 1 and 2: from
     * memory. */
    {"EN13485-CL05", "0.5 °C", 500, ICE | BESIDE},
    {"EN13485-CL1", "1 °C", 1000, ICE | BESIDE},
    {"EN13485-CL2", "2 °C", 2000, ICE | BESIDE},
    {"EN12830-CL1", "1 °C", 1000, ICE | BESIDE},
    {"EN12830-CL2", "2 °C", 2000, ICE | BESIDE},
    /* EN 13486, as an ATP test station sums it up: within at least class 2. */
    {"EN13486-CHECK", "2 °C", 2000, BESIDE},
    /* Directive 92/2/EEC, Annex II point 5(b). */
    {"EU-92-2-ACC", "0.5 °C", 500, ICE | BESIDE},
};

/* The rig's plan with this tolerance for all its thermometers. */
static struct rig *
rig_with(const char *tolerance)
{
    char text[6400];
    struct plan *usual = rig_plan(NULL, NULL, NULL);
    int len = snprintf(text, sizeof text, "%scalibration: {check_tolerance: %s}\n", usual->text,
                       tolerance);
    assert_in_range(len, 1, sizeof text - 1);
    plan_free(usual);
    return rig_of(text);
}

/* Whether a check that finds it so far from what is true passes. */
static bool
passes(const struct figure *figure, unsigned method, int32_t error_mK)
{
    struct rig *rig = rig_with(figure->write);
    struct entry entry;
    entry_clear(&entry, ENTRY_CALIBRATE);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    (void)snprintf(entry.thermometer, sizeof entry.thermometer, "pen");
    entry.correction = CORRECTION_KEEP;
    int32_t true_mC = method == ICE ? 0 : method == BOILING ? 100000 : 3000;
    entry.points[entry.point_count++] =
        (struct calibration_point){.method = method == ICE       ? CALIBRATION_ICE
                                             : method == BOILING ? CALIBRATION_BOILING
                                                                 : CALIBRATION_REFERENCE,
                                   .reference_mC = true_mC,
                                   .uncertainty_mK = 100,
                                   .found_mC = true_mC + error_mK};
    if (method == BOILING)
        entry.pressure_Pa = 101325;
    if (method == BESIDE)
        (void)snprintf(entry.reference, sizeof entry.reference, "stick");
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time("0:01:00"), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
    bool failed = strstr(rig->log, "failed-check") != NULL;
    rig_free(rig);
    return !failed;
}

static void
test_every_published_accuracy_from_both_sides(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(figures); i++)
        for (unsigned method = ICE; method <= BESIDE; method *= 2) {
            const struct figure *figure = &figures[i];
            if ((figure->methods & method) == 0)
                continue;
            for (int sign = -1; sign <= 1; sign += 2)
                if (!passes(figure, method, sign * (figure->inside_mK - 1)) ||
                    !passes(figure, method, sign * figure->inside_mK) ||
                    passes(figure, method, sign * (figure->inside_mK + 1)))
                    fail_msg("%s, %s, method %u, side %d", figure->row, figure->write, method,
                             sign);
        }
}

static double
boils_at_C(double height_m)
{
    double kPa = NAN, temp_C = NAN;
    assert_int_equal(convert_air_pressure(height_m, &kPa), CONVERT_OK);
    assert_int_equal(convert_boiling_temp(kPa, &temp_C), CONVERT_OK);
    return temp_C;
}

/* USDA FSIS, Food Thermometers (2025): 212 °F at sea level, lower at altitude. The row of the
 * figures that says by how much is from memory: about 1 °C for each 300 m, 290 to 300 m near
 * sea level. */
static void
test_water_boils_at_212_F_at_sea_level_and_a_degree_lower_each_300_m(void **state)
{
    (void)state;
    assert_true(fabs(boils_at_C(0.0) - 100.0) < 0.05);
    for (double m = 0.0; m < 1500.0; m += 300.0) {
        double less_K = boils_at_C(m) - boils_at_C(m + 300.0);
        assert_true(less_K > 0.95 && less_K < 1.05);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_published_accuracy_from_both_sides),
        cmocka_unit_test(test_water_boils_at_212_F_at_sea_level_and_a_degree_lower_each_300_m),
    };
    return cmocka_run_group_tests_name("published accuracy", tests, NULL, NULL);
}
