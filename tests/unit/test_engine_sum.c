/* A table added up: docs/engine.md E167, E168. Rows of FDA Food Code 2022, 3-401.11(B)(1): 60.0
 * °C for 12 min, 62.2 °C for 5 min, 65.0 °C for 85 s, 70.0 °C for 0 s. Cold food never above a
 * temperature: E166, figures of Directive 89/108/EEC, Article 5: -18 °C, briefly -15 °C. */
#include "tests/support/check.h"

#include <stdio.h>

#include "tests/support/engine_rig.h"

#define ROWS                                                                                   \
    "rows: [{at_least: 60 °C, for: 12 min}, {at_least: 62.2 °C, for: 5 min}, {at_least: 65 " \
    "°C, for: 85 s}, {at_least: 70 °C, for: 0 s}]"
#define ADDED  "{kind: added_table, applies_to: food, validated_by: Study 7, " ROWS "}"
#define STRICT "{kind: cook_table, applies_to: food, " ROWS "}"
#define FROZEN                                                                                 \
    "{kind: hold_cold, applies_to: food, at_most: -18 °C, tolerance: 20 min, never_above: "   \
    "-15 °C, back_for: 1 min}"

/* Half of 12 min and half of 5 min, with a cold minute between: 1 in all. */
static void
test_sum_of_two_halves_is_met(void **state)
{
    (void)state;
    rig_story(ADDED,
              "0:00:00 begin dish p1\n0:00:10-0:06:10 p1 60.0\n0:06:20-0:07:10 p1 59.0\n"
              "0:07:20-0:09:40 p1 62.2\n0:09:50 p1 62.2\n0:10:00 p1 62.2\n",
              "0:09:50 limit-met held p1 62.2 since 0:00:00 found 0:12:00\n");
}

/* A thousandth of a second less is not. */
static void
test_sum_just_short_is_not(void **state)
{
    (void)state;
    rig_story(
        ADDED,
        "0:00:00 begin dish p1\n0:00:10-0:06:10 p1 60.0\n0:06:20-0:07:10 p1 59.0\n"
        "0:07:20-0:09:40 p1 62.2\n0:09:49.999 p1 62.2\n0:09:59.999 p1 59.0\n0:10:10 move\n",
        "0:10:10 deviation-opened left-early #1 p1 59.0 since 0:00:00 found 0:11:59.997\n"
        "0:10:10 deviation-ended batch-ended #1\n");
}

/* Between two readings it is as warm as the colder of them; between two rows the colder row. */
static void
test_sum_takes_the_colder_end_and_row(void **state)
{
    (void)state;
    struct rig *rig = rig_new(ADDED, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:20 p1 62.5\n0:00:30 p1 62.1\n"
                  "0:00:40 p1 62.1\n");
    assert_int_equal(rig_batch(rig).credited_ms, 30000); /* all of it in the first row */
    rig_play(rig, "0:00:50 p1 59.9\n0:01:00 p1 60.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 30000);
    rig_reload(rig);
    assert_int_equal(rig_batch(rig).credited_ms, 30000);
    rig_free(rig);
}

static void
test_sum_zero_seconds_are_met_when_reached(void **state)
{
    (void)state;
    rig_story(ADDED, "0:00:00 begin dish p1\n0:00:10 p1 69.999\n0:00:20 p1 70.0\n",
              "0:00:20 limit-met held p1 70.0 since 0:00:00 found 0:12:00\n");
}

static void
test_sum_each_probe_has_to_earn_it(void **state)
{
    (void)state;
    rig_story(ADDED,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 70.0\n0:00:10 p2 65.0\n0:00:40 p1 70.0\n"
              "0:00:40 p2 65.0\n0:01:10 p1 69.0\n0:01:10 p2 65.0\n0:01:34.999 p1 69.0\n"
              "0:01:34.999 p2 65.0\n0:01:35 p1 69.0\n0:01:35 p2 65.0\n",
              "0:01:35 limit-met held p2 65.0 since 0:00:00 found 0:12:00\n");
}

static void
test_sum_gap_and_hand_earn_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(ADDED, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:40 p1 60.0\n0:01:10.001 p1 60.0\n"
             "0:01:15 hand 70.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 30000);
    rig_expect(rig, "");
    rig_free(rig);
}

/* A deterministic series of its own (xorshift, G. Marsaglia 2003). */
static unsigned
next_number(unsigned *seed)
{
    *seed ^= *seed << 13;
    *seed ^= *seed >> 17;
    *seed ^= *seed << 5;
    return *seed;
}

/* What passes strictly passes added up. */
static void
test_sum_never_fails_what_passes_strictly(void **state)
{
    (void)state;
    unsigned seed = 20260301, passed = 0;
    for (int round = 0; round < 60; round++) {
        struct rig *strict = rig_new(STRICT, NULL), *added = rig_new(ADDED, NULL);
        rig_play(strict, "0:00:00 begin dish p1\n");
        rig_play(added, "0:00:00 begin dish p1\n");
        int temp = 62000, at_s = 0;
        for (int i = 0; i < 100; i++) {
            char line[80];
            at_s += 1 + (int)(next_number(&seed) % 29);
            temp += (int)(next_number(&seed) % 1600) - 790;
            temp = temp > 66000 ? 66000 : temp < 59500 ? 59500 : temp;
            (void)snprintf(line, sizeof line, "0:%02d:%02d p1 %d.%03d\n", at_s / 60, at_s % 60,
                           temp / 1000, temp % 1000);
            rig_play(strict, line);
            rig_play(added, line);
        }
        enum engine_verdict strictly = rig_batch(strict).verdict,
                            sum = rig_batch(added).verdict;
        if (strictly == VERDICT_MET)
            assert_int_equal(sum, VERDICT_MET);
        passed += strictly == VERDICT_MET;
        rig_free(strict);
        rig_free(added);
    }
    assert_in_range(passed, 1, 59);
}

/* ---- never above ---- */

static void
test_ceiling_of_frozen_food(void **state)
{
    (void)state;
    rig_story(FROZEN,
              "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 -18.0\n0:05:10-0:20:00 p1 -15.0\n"
              "0:20:10-0:25:00 p1 -18.0\n",
              "");
    rig_story(
        FROZEN,
        "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 -18.0\n0:05:10 p1 -15.0\n0:05:20 p1 "
        "-14.999\n0:05:30-0:06:40 p1 -18.0\n",
        "0:05:20 deviation-opened above-ceiling #1 p1 -14.999 since 0:05:10\n"
        "0:06:30 deviation-ended back-inside #1 p1 -18.0 worst -14.999 since 0:05:10 found "
        "0:00:20\n");
    rig_story(
        FROZEN, "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 -18.0\n0:05:10-0:25:20 p1 -17.0\n",
        "0:25:10 deviation-opened out-too-long #1 p1 -17.0 since 0:05:10 found 0:20:00\n");
}

/* Brief swings that the laws allow have no number: the plan's tolerance is the kitchen's.
 * EU-QFF- TRANSPORT: -18 °C, to -15 °C; EU-QFF-DISPLAY where the State so decides: to -12 °C
 * (Directive 89/108/EEC, Article 5); FR-FROZEN-18: to -15 °C, FR-FROZEN-12: -12 °C, to -9 °C
 * (arrete du 21 decembre 2009, Annex I: 3 °C above). */
static void
test_ceiling_of_frozen_food_in_each_law(void **state)
{
    (void)state;
    static const int32_t laws[][2] = {{-18000, -15000}, {-18000, -12000}, {-12000, -9000}};
    for (size_t i = 0; i < COUNT_OF(laws); i++) {
        for (int32_t beyond = -1; beyond <= 1; beyond++) {
            char limit[200], script[200], temp[24], half[24], inside[24], log[200];
            (void)snprintf(limit, sizeof limit,
                           "{kind: hold_cold, applies_to: food, at_most: %d °C, tolerance: 20 "
                           "min, never_above: %d °C}",
                           (int)laws[i][0] / 1000, (int)laws[i][1] / 1000);
            (void)temp_text(temp, sizeof temp, laws[i][1] + beyond);
            (void)temp_text(inside, sizeof inside, laws[i][0]);
            (void)temp_text(half, sizeof half, (laws[i][0] + laws[i][1]) / 2);
            (void)snprintf(
                script, sizeof script,
                "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 %s\n0:05:20 p1 %s\n0:05:40 p1 %s\n",
                inside, half, temp);
            (void)snprintf(log, sizeof log,
                           "0:05:40 deviation-opened above-ceiling #1 p1 %s since 0:05:20\n",
                           temp);
            rig_story(limit, script, beyond > 0 ? log : "");
        }
    }
}

/* Rows of our own whose times, primes of seconds, have no common multiple to add up in. At
 * 1:20:20 it is 1810/6007 + 1510/5003 + 1210/4001 + 280/3001 = 0.9989, ten seconds
 * later 1.0022.
 */
static void
test_sum_of_rows_without_a_common_time(void **state)
{
    (void)state;
    rig_story("{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: "
              "60 °C, for: 6007 s}, {at_least: 61 °C, for: 5003 s}, {at_least: 62 °C, for: "
              "4001 s}, {at_least: 63 °C, for: 3001 s}]}",
              "0:00:00 begin dish p1\n0:00:10-0:30:10 p1 60.0\n0:30:20-0:55:20 p1 61.0\n"
              "0:55:30-1:15:30 p1 62.0\n1:15:40-1:25:00 p1 63.0\n",
              "1:20:30 limit-met held p1 63.0 since 0:00:00 found 1:40:07\n");
}

/* A table of one row that asks for no time. */
static void
test_sum_of_a_row_without_a_time_is_met_by_one_reading(void **state)
{
    (void)state;
    rig_story("{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: "
              "70 °C, for: 0 s}]}",
              "0:00:00 begin dish p1\n0:00:10 p1 69.999\n0:00:20 p1 70.0\n",
              "0:00:20 limit-met held p1 70.0 since 0:00:00\n");
}

/* Rows whose times (primes, in seconds) have no common multiple that fits: E168. */
static const int primes_s[] = {1013, 1009, 997, 991, 983, 977};

/* A part of each row's time, in eighths, one row after the other; `more_ms` in the last. */
static void
heat_in_rows(struct rig *rig, const int eighths[6], int more_ms)
{
    int64_t at_ms = 10000;
    char line[60];
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 60.0\n");
    for (int row = 0; row < 6; row++) {
        int64_t left_ms = (int64_t)primes_s[row] * 125 * eighths[row];
        left_ms += row == 5 ? more_ms : 0;
        while (left_ms > 0) {
            int64_t step_ms = left_ms > 30000 ? 30000 : left_ms;
            left_ms -= step_ms;
            at_ms += step_ms;
            (void)snprintf(line, sizeof line, "%d:%02d:%02d.%03d p1 %d.0\n",
                           (int)(at_ms / 3600000), (int)(at_ms / 60000 % 60),
                           (int)(at_ms / 1000 % 60), (int)(at_ms % 1000),
                           left_ms > 0 ? 60 + row : 61 + row);
            rig_play(rig, line);
        }
    }
}

/* A quarter of two rows and an eighth of four: 1, and not a millisecond less. */
static void
test_sum_of_rows_without_a_common_multiple_is_exact_where_it_can_be(void **state)
{
    (void)state;
    static const int whole[] = {2, 2, 1, 1, 1, 1};
    char limit[700];
    int len = snprintf(limit, sizeof limit,
                       "{kind: added_table, applies_to: food, validated_by: Study 7, rows: [");
    for (int row = 0; row < 6; row++)
        len +=
            snprintf(limit + len, sizeof limit - (size_t)len, "%s{at_least: %d °C, for: %d s}",
                     row > 0 ? ", " : "", 60 + row, primes_s[row]);
    (void)snprintf(limit + len, sizeof limit - (size_t)len, "]}");
    for (int more_ms = -1; more_ms <= 0; more_ms++) {
        struct rig *rig = rig_new(limit, NULL);
        heat_in_rows(rig, whole, more_ms);
        assert_int_equal(rig_batch(rig).verdict, more_ms == 0 ? VERDICT_MET : VERDICT_OPEN);
        rig_free(rig);
    }
}

/* A third of 12 min and two thirds of 5 min: exactly 1, which no sum of rounded parts is. */
static void
test_sum_of_thirds_is_exact(void **state)
{
    (void)state;
    rig_story(
        ADDED,
        "0:00:00 begin dish p1\n0:00:10-0:04:00 p1 60.0\n0:04:10 p1 62.2\n0:04:20-0:07:20 "
        "p1 62.2\n0:07:30 p1 62.2\n",
        "0:07:30 limit-met held p1 62.2 since 0:00:00 found 0:12:00\n");
}

/* E103: of food in which nothing measures nothing has been shown. */
static void
test_sum_without_a_probe_has_earned_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(ADDED, NULL);
    rig_play(rig, "0:00:00 begin dish\n");
    assert_int_equal(rig_batch(rig).credited_ms, 0);
    rig_free(rig);
}

/* E168: half and half, where the last row asks for a time too. */
static void
test_sum_with_a_part_in_the_last_row_is_exact(void **state)
{
    (void)state;
    rig_story(
        "{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: "
        "60 °C, for: 12 min}, {at_least: 62.2 °C, for: 5 min}]}",
        "0:00:00 begin dish p1\n0:00:10-0:06:10 p1 60.0\n0:06:20 p1 62.2\n0:06:30-0:08:40 "
        "p1 62.2\n0:08:50 p1 62.2\n",
        "0:08:50 limit-met held p1 62.2 since 0:00:00 found 0:12:00\n");
}

/* E168: rows in which the food has been for no time spoil no common multiple of the others. A
 * third of 9 min and two thirds of 6 min; the rows between have primes for times. */
static void
test_sum_is_exact_whatever_rows_were_passed_over(void **state)
{
    (void)state;
    rig_story("{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: "
              "60 °C, for: 9 min}, {at_least: 61 °C, for: 523007 ms}, {at_least: 62 °C, for: "
              "487021 ms}, {at_least: 63 °C, for: 431003 ms}, {at_least: 64 °C, for: 6 min}]}",
              "0:00:00 begin dish p1\n0:00:10-0:03:00 p1 60.5\n0:03:10-0:07:20 p1 64.0\n",
              "0:07:10 limit-met held p1 64.0 since 0:00:00 found 0:09:00\n");
}

/* The shortest time that a row can ask for is one: two readings. */
static void
test_sum_of_a_row_of_a_thousandth_of_a_second(void **state)
{
    (void)state;
    struct rig *rig = rig_new(
        "{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: "
        "60 °C, for: 12 min}, {at_least: 70 °C, for: 1 ms}]}",
        NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 70.0\n");
    rig_expect(rig, "");
    assert_int_equal(rig_batch(rig).credited_ms, 0);
    rig_play(rig, "0:00:20 p1 70.0\n");
    rig_expect(rig, "0:00:20 limit-met held p1 70.0 since 0:00:00 found 0:12:00\n");
    rig_free(rig);
    rig_story("{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: "
              "60 °C, for: 1 ms}]}",
              "0:00:00 begin dish p1\n0:00:10-0:00:20 p1 60.0\n",
              "0:00:20 limit-met held p1 60.0 since 0:00:00 found 0:00:00.001\n");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sum_of_two_halves_is_met),
        cmocka_unit_test(test_sum_just_short_is_not),
        cmocka_unit_test(test_sum_takes_the_colder_end_and_row),
        cmocka_unit_test(test_sum_zero_seconds_are_met_when_reached),
        cmocka_unit_test(test_sum_each_probe_has_to_earn_it),
        cmocka_unit_test(test_sum_gap_and_hand_earn_nothing),
        cmocka_unit_test(test_sum_never_fails_what_passes_strictly),
        cmocka_unit_test(test_ceiling_of_frozen_food),
        cmocka_unit_test(test_ceiling_of_frozen_food_in_each_law),
        cmocka_unit_test(test_sum_of_rows_without_a_common_time),
        cmocka_unit_test(test_sum_of_a_row_without_a_time_is_met_by_one_reading),
        cmocka_unit_test(test_sum_of_rows_without_a_common_multiple_is_exact_where_it_can_be),
        cmocka_unit_test(test_sum_of_thirds_is_exact),
        cmocka_unit_test(test_sum_without_a_probe_has_earned_nothing),
        cmocka_unit_test(test_sum_with_a_part_in_the_last_row_is_exact),
        cmocka_unit_test(test_sum_is_exact_whatever_rows_were_passed_over),
        cmocka_unit_test(test_sum_of_a_row_of_a_thousandth_of_a_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
