/* Equivalent time: docs/engine.md E100 to E103. 2 min at 70 °C with z 7.5 K; at 77.5 °C time
 * counts tenfold, at 62.5 °C a tenth (Bigelow: 10^((T - 70) / 7.5)). */
#include "tests/support/check.h"

#include <math.h>
#include <stdio.h>

#include "tests/support/engine_rig.h"
#include "trivet/lethal.h"

#define VALUE                                                                                  \
    "{kind: lethality, applies_to: food, reference: 70 °C, z: 7.5 °C, for: 2 min, "          \
    "validated_by: test}"

static void
test_lethality_at_the_reference_time_counts_fully(void **state)
{
    (void)state;
    rig_story(VALUE, "0:00:00 begin dish p1\n0:00:10-0:02:10 p1 70.0\n",
              "0:02:10 limit-met held p1 70.0 since 0:00:00 found 0:02:00\n");
    rig_story(VALUE, "0:00:00 begin dish p1\n0:00:10-0:02:10 p1 69.999\n", "");
}

/* Tabled rates are rounded down (E101): 200 s less a thousandth. */
static void
test_lethality_counts_tenfold_and_a_tenth(void **state)
{
    (void)state;
    rig_story(VALUE, "0:00:00 begin dish p1\n0:00:10-0:00:30 p1 77.5\n",
              "0:00:30 limit-met held p1 77.5 since 0:00:00 found 0:03:19.999\n");
    rig_story(VALUE, "0:00:00 begin dish p1\n0:00:10-0:20:00 p1 62.5\n", "");
    rig_story(VALUE, "0:00:00 begin dish p1\n0:00:10-0:20:20 p1 62.5\n",
              "0:20:20 limit-met held p1 62.5 since 0:00:00 found 0:02:00.999\n");
}

/* E9: the one that is not seen could be colder, whatever it earned before. */
static void
test_lethality_waits_for_a_probe_that_is_not_seen(void **state)
{
    (void)state;
    rig_story(VALUE,
              "0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p2 70.0\n0:01:10-0:02:10 p1,p2 "
              "70.0\n0:02:20-0:03:20 p1 70.0\n0:03:30 p2 70.0\n",
              "0:03:30 limit-met held p1 70.0 since 0:00:00 found 0:02:00\n");
    rig_story(VALUE, /* the other way round */
              "0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1 70.0\n0:01:10-0:02:10 p1,p2 "
              "70.0\n0:02:20-0:03:20 p2 70.0\n0:03:30 p1 70.0\n",
              "0:03:30 limit-met held p1 70.0 since 0:00:00 found 0:02:00\n");
}

/* What was earned stays earned; a minute in the cold adds little: 60 s at 70 °C, then by the
 * trapezoid 6.990 + 2.783 + 4.755 + 2.783 + 6.990 s, then 40 s more. */
static void
test_lethality_is_not_broken_by_the_cold(void **state)
{
    (void)state;
    struct rig *rig = rig_new(VALUE, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:10 p1 70.0\n0:01:20 p1 67.0\n"
                  "0:01:30-0:02:00 p1 64.0\n0:02:10 p1 67.0\n");
    assert_true(rig_batch(rig).credited_ms > 60000 && rig_batch(rig).credited_ms < 90000);
    rig_play(rig, "0:02:20-0:03:00 p1 70.0\n");
    rig_expect(rig, "0:03:00 limit-met held p1 70.0 since 0:00:00 found 0:02:04.301\n");
    rig_free(rig);
}

static void
test_lethality_the_trapezoid_takes_the_mean_of_two_rates(void **state)
{
    (void)state;
    struct rig *rig = rig_new(VALUE, NULL);
    /* (1 + 10^(-2.5/7.5)) / 2 = 0.732079 of 10 s */
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 70.0\n0:00:20 p1 67.5\n");
    assert_int_equal(rig_batch(rig).credited_ms, 7320);
    rig_free(rig);
}

static void
test_lethality_unknown_time_earns_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(VALUE, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 70.0\n0:00:40 p1 70.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 30000);
    rig_play(rig, "0:01:20 p1 70.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 30000);
    rig_play(rig, "0:01:30 p1 bad\n0:01:40 p1 70.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 50000);
    rig_free(rig);
}

/* Pulled out into hot air after five minutes: not believed, however hot. */
static void
test_lethality_a_suspect_reading_earns_nothing(void **state)
{
    (void)state;
    rig_story(VALUE,
              "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 50.0\n0:06:10-0:08:00 p1 90.0\n",
              "0:06:10 suspect-begun left-food p1 90.0 since 0:06:00\n");
}

static void
test_lethality_every_probe_has_to_earn_it(void **state)
{
    (void)state;
    rig_story(VALUE,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 80.0\n0:00:10 p2 60.0\n0:00:20 p1 80.0\n"
              "0:00:20 p2 60.0\n0:00:30 p1 80.0\n0:00:30 p2 60.0\n",
              "");
    rig_story(VALUE,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 80.0\n0:00:10 p2 77.5\n0:00:20 p1 80.0\n"
              "0:00:20 p2 77.5\n0:00:30 p1 80.0\n0:00:30 p2 77.5\n",
              "0:00:30 limit-met held p2 77.5 since 0:00:00 found 0:03:19.999\n");
}

static void
test_lethality_a_hand_reading_has_no_duration(void **state)
{
    (void)state;
    rig_story(VALUE, "0:00:00 begin dish\n0:06:00 hand 99.0\n0:10:00 hand 99.0\n", "");
}

static void
test_lethality_left_early_and_after_an_outage(void **state)
{
    (void)state;
    rig_story(VALUE, "0:00:00 begin dish p1\n0:00:10-0:01:10 p1 70.0\n0:01:15 end served\n",
              "0:01:15 deviation-opened left-early #1 p1 70.0 since 0:00:00 found 0:01:00\n"
              "0:01:15 deviation-ended batch-ended #1\n");
    rig_story(VALUE,
              "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 70.0\n0:01:30 restart 0:01:05\n"
              "0:01:30-0:02:00 p1 70.0\n0:02:05 end served\n",
              "0:02:05 inconclusive outage since 0:01:05\n");
}

/* L = 10^((T - Tref) / z) from the C library, to the ends of the table and beyond; never more,
 * and less by no more than what is rounded down: of the whole degree and of the rest. */
static void
test_lethal_rate_is_bigelows_at_every_temperature(void **state)
{
    (void)state;
    static const int32_t z_mK[] = {2000, 7500, 10000, 50000};
    static struct lethal_rates rates;
    for (size_t i = 0; i < COUNT_OF(z_mK); i++) {
        lethal_rates_build(&rates, 70000, z_mK[i]);
        for (int32_t above_mK = -120000; above_mK <= 120000; above_mK++) {
            int64_t rate = lethal_rate(&rates, 70000 + above_mK);
            double exact = (double)LETHAL_ONE * pow(10, (double)above_mK / z_mK[i]),
                   most = 1e12;
            exact = exact < most ? exact : most;
            if ((double)rate > exact * (1 + 1e-12) || (double)rate < exact * (1 - 3e-6) - 4)
                fail_msg("%d mK, z %d: %lld", above_mK, z_mK[i], (long long)rate);
        }
        assert_int_equal(lethal_rate(&rates, 70000 - 120001), 0);
        assert_int_equal(lethal_rate(&rates, 70000 + 120001),
                         lethal_rate(&rates, 70000 + 120000));
    }
}

/* E103: of food in which nothing measures nothing has been shown. */
static void
test_lethality_without_a_probe_has_earned_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(VALUE, NULL);
    rig_play(rig, "0:00:00 begin dish\n");
    assert_int_equal(rig_batch(rig).credited_ms, 0);
    rig_play(rig, "0:10:00 end served\n");
    rig_expect(rig, "0:10:00 deviation-opened left-early #1 since 0:00:00\n"
                    "0:10:00 deviation-ended batch-ended #1\n");
    rig_free(rig);
}

/* E101: food that stays in the heat for hours earns up to a bound, and never less for longer.
 * At 95 °C with z 7.5 K a second counts for 1000, the most. */
static void
test_lethality_earned_for_hours_stays_at_its_bound(void **state)
{
    (void)state;
    struct rig *rig = rig_new(VALUE, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 95.0\n");
    int64_t bound_ms = rig_batch(rig).credited_ms;
    assert_true(bound_ms >= INT64_C(2000000000));
    for (int i = 0; i < 6; i++) { /* one reading after the other */
        char line[30];
        (void)snprintf(line, sizeof line, "1:00:%02d p1 95.0\n", 5 + 9 * i);
        rig_play(rig, line);
        assert_int_equal(rig_batch(rig).credited_ms, bound_ms);
    }
    rig_play(rig, "1:01:00-3:30:00 p1 95.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, bound_ms);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_lethality_at_the_reference_time_counts_fully),
        cmocka_unit_test(test_lethality_counts_tenfold_and_a_tenth),
        cmocka_unit_test(test_lethality_waits_for_a_probe_that_is_not_seen),
        cmocka_unit_test(test_lethality_is_not_broken_by_the_cold),
        cmocka_unit_test(test_lethality_the_trapezoid_takes_the_mean_of_two_rates),
        cmocka_unit_test(test_lethality_unknown_time_earns_nothing),
        cmocka_unit_test(test_lethality_a_suspect_reading_earns_nothing),
        cmocka_unit_test(test_lethality_every_probe_has_to_earn_it),
        cmocka_unit_test(test_lethality_a_hand_reading_has_no_duration),
        cmocka_unit_test(test_lethality_left_early_and_after_an_outage),
        cmocka_unit_test(test_lethal_rate_is_bigelows_at_every_temperature),
        cmocka_unit_test(test_lethality_without_a_probe_has_earned_nothing),
        cmocka_unit_test(test_lethality_earned_for_hours_stays_at_its_bound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
