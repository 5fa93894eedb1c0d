/* The correction of a probe: exact, in integers, between its points and beyond them. Expected
 * values are worked out by hand beside them. */
#include "tests/support/check.h"

#include <stdint.h>

#include "trivet/calibration.h"
#include "trivet/units.h"

static struct calibration_point
at(int32_t found_mC, int32_t reference_mC)
{
    return (struct calibration_point){.method = CALIBRATION_ICE,
                                      .found_mC = found_mC,
                                      .reference_mC = reference_mC,
                                      .uncertainty_mK = 100};
}

static void
test_none_changes_nothing(void **state)
{
    (void)state;
    const struct probe_correction none = {0};
    assert_int_equal(correction_apply(&none, 12345), 12345);
    assert_int_equal(correction_apply(&none, TEMP_NONE), TEMP_NONE);
}

static void
test_one_point_is_an_offset_everywhere(void **state)
{
    (void)state;
    struct probe_correction c;
    const struct calibration_point ice = at(400, 0);
    assert_int_equal(correction_from_points(&ice, 1, 2000, &c), CORRECTION_OK);
    assert_int_equal(correction_apply(&c, 400), 0);
    assert_int_equal(correction_apply(&c, -20000), -20400);
    assert_int_equal(correction_apply(&c, 100000), 99600);
    assert_int_equal(correction_apply(&c, TEMP_NONE), TEMP_NONE);
    assert_int_equal(correction_apply(&c, TEMP_NONE + 1), TEMP_NONE + 1); /* never none */
}

/* 0.400 in ice, 99.100 at 99.630: add -400 and 530 over 98,700 mK. At 49.750, exactly half way,
 * 65 is added; at 10.000 -400 + 930 * 9600 / 98700 = -309.54...; at 9.999 -309.55 */
static void
test_two_points_are_a_line_between_and_flat_beyond(void **state)
{
    (void)state;
    struct probe_correction c;
    const struct calibration_point points[] = {at(99100, 99630), at(400, 0)}; /* any order */
    assert_int_equal(correction_from_points(points, 2, 2000, &c), CORRECTION_OK);
    assert_int_equal(c.raw_mC[0], 400);
    assert_int_equal(correction_apply(&c, 400), 0);
    assert_int_equal(correction_apply(&c, 99100), 99630);
    assert_int_equal(correction_apply(&c, 49750), 49815);
    assert_int_equal(correction_apply(&c, 10000), 9690);
    assert_int_equal(correction_apply(&c, 9999), 9689);
    assert_int_equal(correction_apply(&c, -18000), -18400);
    assert_int_equal(correction_apply(&c, 250000), 250530);
}

/* From 0 to 1 over 10,000: half of it at 5,000, rounded away from zero; both signs. */
static void
test_halves_go_away_from_zero(void **state)
{
    (void)state;
    struct probe_correction c;
    const struct calibration_point up[] = {at(0, 0), at(10000, 10001)};
    const struct calibration_point down[] = {at(0, 0), at(10000, 9999)};
    assert_int_equal(correction_from_points(up, 2, 2000, &c), CORRECTION_OK);
    assert_int_equal(correction_apply(&c, 4999), 4999);
    assert_int_equal(correction_apply(&c, 5000), 5001);
    assert_int_equal(correction_from_points(down, 2, 2000, &c), CORRECTION_OK);
    assert_int_equal(correction_apply(&c, 4999), 4999);
    assert_int_equal(correction_apply(&c, 5000), 4999);
}

static void
test_what_is_no_correction_is_refused_and_leaves_the_result(void **state)
{
    (void)state;
    struct probe_correction c = {.count = 7};
    const struct calibration_point large = at(2001, 0), just = at(2000, 0);
    const struct calibration_point close[] = {at(0, 0), at(4999, 5000)};
    const struct calibration_point apart[] = {at(0, 0), at(5000, 5000)};
    const struct calibration_point crossed[] = {at(0, 4000), at(5000, 4000)};
    struct calibration_point six[6];
    for (int i = 0; i < 6; i++)
        six[i] = at(i * 10000, i * 10000);
    assert_int_equal(correction_from_points(&large, 1, 2000, &c), CORRECTION_TOO_LARGE);
    assert_int_equal(correction_from_points(close, 2, 2000, &c), CORRECTION_TOO_CLOSE);
    assert_int_equal(correction_from_points(crossed, 2, 4000, &c), CORRECTION_CROSSED);
    assert_int_equal(correction_from_points(six, 6, 2000, &c), CORRECTION_COUNT);
    assert_int_equal(correction_from_points(six, 0, 2000, &c), CORRECTION_COUNT);
    const struct calibration_point far = at(INT32_MAX, INT32_MIN);
    assert_int_equal(correction_from_points(&far, 1, INT32_MAX, &c), CORRECTION_TOO_LARGE);
    assert_int_equal(c.count, 7);
    assert_int_equal(correction_from_points(&just, 1, 2000, &c), CORRECTION_OK);
    assert_int_equal(correction_from_points(apart, 2, 2000, &c), CORRECTION_OK);
    assert_int_equal(correction_from_points(six, 5, 2000, &c), CORRECTION_OK);
}

/* Food Code 4-203.11: within 1 °C of what is right; at it exactly is within. */
/* How far apart they are does not depend on where they are: 5 °C or more, also below zero. */
static void
test_points_are_as_far_apart_in_the_cold_as_in_the_warm(void **state)
{
    (void)state;
    struct probe_correction c;
    for (int32_t low_mC = -30000; low_mC <= 90000; low_mC += 7500) {
        struct calibration_point points[] = {at(low_mC, low_mC),
                                             at(low_mC + 4999, low_mC + 4999)};
        assert_int_equal(correction_from_points(points, 2, 2000, &c), CORRECTION_TOO_CLOSE);
        points[1].found_mC++;
        assert_int_equal(correction_from_points(points, 2, 2000, &c), CORRECTION_OK);
    }
}

/* Nothing in a kitchen is hotter than 1000 °C, and no number overflows. */
static void
test_points_no_kitchen_has_are_refused(void **state)
{
    (void)state;
    struct probe_correction c;
    struct calibration_point most = at(1000000, 1000000), found = at(1000001, 1000000),
                             truth = at(1000000, 1000001), cold = at(-1000001, -1000000);
    assert_int_equal(correction_from_points(&most, 1, 2000, &c), CORRECTION_OK);
    assert_int_equal(correction_from_points(&found, 1, 2000, &c), CORRECTION_TOO_LARGE);
    assert_int_equal(correction_from_points(&truth, 1, 2000, &c), CORRECTION_TOO_LARGE);
    assert_int_equal(correction_from_points(&cold, 1, 2000, &c), CORRECTION_TOO_LARGE);
}

static void
test_words_of_the_record_are_read_back(void **state)
{
    (void)state;
    static const char *const words[] = {"keep", "adopt", "drop"};
    for (size_t i = 0; i < 3; i++)
        assert_string_equal(correction_choice_word(correction_choice_from_word(words[i])),
                            words[i]);
    assert_int_equal(correction_choice_from_word("keep"), CORRECTION_KEEP);
    assert_int_equal(correction_choice_from_word("drop"), CORRECTION_DROP);
    assert_int_equal(correction_choice_from_word("dropped"), CORRECTION_UNSAID);
}

static void
test_tolerance_belongs_to_what_passes(void **state)
{
    (void)state;
    const struct probe_correction none = {0};
    const struct calibration_point points[] = {at(-1000, 0), at(100000, 99000)};
    const struct calibration_point over[] = {at(200, 0), at(-1001, 0), at(1001, 0)};
    assert_true(correction_within(&none, points, 2, 1000));
    assert_false(correction_within(&none, over, 3, 1000));
    assert_int_equal(correction_worst(&none, over, 3), 1); /* the first of equals */
    assert_false(correction_within(&none, over, 0, 1000));
    const struct calibration_point rising[] = {at(100, 0), at(500, 0), at(900, 0),
                                               at(-2000, 0)};
    for (size_t count = 1; count <= 4; count++)
        assert_int_equal(correction_worst(&none, rising, count), count - 1);
}

static void
test_corrected_values_rise_with_raw_ones(void **state)
{
    (void)state;
    struct probe_correction c;
    const struct calibration_point points[] = {at(-1900, 0), at(20000, 18100), at(26000, 27900),
                                               at(61000, 59001), at(99000, 99500)};
    assert_int_equal(correction_from_points(points, 5, 2000, &c), CORRECTION_OK);
    for (size_t i = 0; i < 5; i++)
        assert_int_equal(correction_apply(&c, points[i].found_mC), points[i].reference_mC);
    for (int32_t raw = -5000; raw < 110000; raw++)
        assert_true(correction_apply(&c, raw) <= correction_apply(&c, raw + 1));
}

/* The corrected values may come as close as a thousandth, and no closer. */
static void
test_points_that_a_correction_brings_together(void **state)
{
    (void)state;
    struct probe_correction c;
    const struct calibration_point near[] = {at(0, 5000), at(10000, 5001)};
    const struct calibration_point one[] = {at(0, 5000), at(10000, 5000)};
    assert_int_equal(correction_from_points(near, 2, 5000, &c), CORRECTION_OK);
    assert_int_equal(correction_from_points(one, 2, 5000, &c), CORRECTION_CROSSED);
}

/* What cannot be is shown as the nearest that can, never as no reading. */
static void
test_correction_ends_where_numbers_do(void **state)
{
    (void)state;
    struct probe_correction c;
    const struct calibration_point up = at(0, 400), down = at(400, 0);
    assert_int_equal(correction_from_points(&up, 1, 2000, &c), CORRECTION_OK);
    assert_int_equal(correction_apply(&c, INT32_MAX), INT32_MAX);
    assert_int_equal(correction_apply(&c, INT32_MAX - 401), INT32_MAX - 1);
    assert_int_equal(correction_from_points(&down, 1, 2000, &c), CORRECTION_OK);
    assert_int_equal(correction_apply(&c, TEMP_NONE + 401), TEMP_NONE + 1);
    assert_int_equal(correction_apply(&c, TEMP_NONE + 400), TEMP_NONE + 1);
    assert_int_equal(correction_apply(&c, TEMP_NONE + 399), TEMP_NONE + 1);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_none_changes_nothing),
        cmocka_unit_test(test_one_point_is_an_offset_everywhere),
        cmocka_unit_test(test_two_points_are_a_line_between_and_flat_beyond),
        cmocka_unit_test(test_halves_go_away_from_zero),
        cmocka_unit_test(test_what_is_no_correction_is_refused_and_leaves_the_result),
        cmocka_unit_test(test_points_are_as_far_apart_in_the_cold_as_in_the_warm),
        cmocka_unit_test(test_points_no_kitchen_has_are_refused),
        cmocka_unit_test(test_words_of_the_record_are_read_back),
        cmocka_unit_test(test_tolerance_belongs_to_what_passes),
        cmocka_unit_test(test_corrected_values_rise_with_raw_ones),
        cmocka_unit_test(test_points_that_a_correction_brings_together),
        cmocka_unit_test(test_correction_ends_where_numbers_do),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
