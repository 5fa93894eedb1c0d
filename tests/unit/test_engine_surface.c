/* A limit for the surface: docs/engine.md E234. FC22-C-steak: whole-muscle intact beef steak,
 * 63 °C (145 °F) on "both the top and bottom" (FDA Food Code 2022, 3-401.11(C)); no holding
 * time is printed. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define STEAK "{kind: cook, applies_to: surface, at_least: 63 °C}"

/* False when it was refused; why is in rig->refusal. */
static bool
hand(struct rig *rig, const char *at, int32_t temp_mC, const char *side)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_HAND);
    memcpy(entry.who, "AB", 3);
    memcpy(entry.thermometer, "pen", 4);
    entry.batch = 1;
    entry.has_temp = true;
    entry.temp_mC = temp_mC;
    (void)snprintf(entry.side, sizeof entry.side, "%s", side);
    rig->refusal[0] = '\0';
    if (!engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal))
        return false;
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
    return true;
}

static struct rig *
steak(void)
{
    struct rig *rig = rig_new(STEAK, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n");
    return rig;
}

static void
test_surface_needs_top_and_bottom(void **state)
{
    (void)state;
    static const int32_t temps[] = {63001, 63000}; /* just inside, exactly at */
    for (size_t i = 0; i < COUNT_OF(temps); i++) {
        struct rig *rig = steak();
        char log[100];
        assert_true(hand(rig, "0:01:00", temps[i], "bottom"));
        assert_true(rig_batch(rig).bottom_shown);
        assert_false(rig_batch(rig).top_shown);
        rig_expect(rig, "");
        assert_true(hand(rig, "0:02:00", temps[i], "top"));
        (void)snprintf(log, sizeof log, "0:02:00 limit-met hand-reading %s since 0:02:00\n",
                       i == 0 ? "63.001" : "63.0");
        rig_expect(rig, log);
        rig_free(rig);
        rig = steak(); /* the other way round */
        assert_true(hand(rig, "0:01:00", temps[i], "top"));
        assert_true(rig_batch(rig).top_shown);
        assert_false(rig_batch(rig).bottom_shown);
        assert_true(hand(rig, "0:02:00", temps[i], "bottom"));
        rig_expect(rig, log);
        rig_free(rig);
    }
}

static void
test_surface_just_outside_on_one_side(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct rig *rig = steak();
        assert_true(hand(rig, "0:01:00", i == 0 ? 62999 : 70000, "top"));
        assert_true(hand(rig, "0:02:00", i == 0 ? 70000 : 62999, "bottom"));
        rig_play(rig, "0:03:00 move\n");
        rig_expect(rig, "0:03:00 deviation-opened left-early #1\n"
                        "0:03:00 deviation-ended batch-ended #1\n");
        rig_free(rig);
    }
}

/* Twice the top is no bottom, and a colder top takes the first one back. */
static void
test_surface_colder_reading_takes_back(void **state)
{
    (void)state;
    struct rig *rig = steak();
    assert_true(hand(rig, "0:01:00", 65000, "top"));
    assert_true(hand(rig, "0:01:30", 65000, "top"));
    assert_true(hand(rig, "0:02:00", 60000, "top"));
    assert_true(hand(rig, "0:03:00", 64000, "bottom"));
    rig_expect(rig, "");
    assert_true(hand(rig, "0:04:00", 63000, "top"));
    rig_expect(rig, "0:04:00 limit-met hand-reading 63.0 since 0:04:00\n");
    rig_free(rig);
}

/* A core probe is in no surface. */
static void
test_surface_is_not_judged_by_the_core(void **state)
{
    (void)state;
    struct rig *rig = steak();
    rig_play(rig, "0:00:10-0:01:00 p1 70.0\n");
    rig_expect(rig, "");
    assert_true(hand(rig, "0:01:00", 63000, "top"));
    rig_play(rig, "0:01:10 p1 40.0\n");
    assert_true(hand(rig, "0:01:20", 63000, "bottom"));
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
}

static void
test_surface_side_has_to_be_said_and_only_there(void **state)
{
    (void)state;
    struct rig *rig = steak();
    assert_false(hand(rig, "0:01:00", 65000, ""));
    assert_non_null(strstr(rig->refusal, "top or bottom"));
    assert_false(hand(rig, "0:01:00", 65000, "left"));
    rig_free(rig);
    rig = rig_new("{kind: cook, applies_to: food, at_least: 63 °C}", NULL);
    rig_play(rig, "0:00:00 begin dish p1\n");
    assert_false(hand(rig, "0:01:00", 65000, "top"));
    assert_non_null(strstr(rig->refusal, "not one for a surface"));
    rig_free(rig);
}

/* Either reading can be corrected. */
static void
test_surface_corrected_reading_is_a_question(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct rig *rig = steak();
        char script[60];
        assert_true(hand(rig, "0:01:00", 65000, "top"));
        uint64_t top = rig->seq;
        assert_true(hand(rig, "0:02:00", 64000, "bottom"));
        (void)snprintf(script, sizeof script, "0:03:00 correct %d 61.0\n", (int)top + i);
        rig_play(rig, script);
        rig_expect(rig, "0:02:00 limit-met hand-reading 64.0 since 0:02:00\n"
                        "0:03:00 inconclusive corrected 61.0 since 0:02:00\n");
        rig_free(rig);
    }
}

/* A record without a side shows neither. */
static void
test_surface_record_without_a_side_shows_nothing(void **state)
{
    (void)state;
    struct rig *rig = steak();
    struct entry entry;
    entry_clear(&entry, ENTRY_HAND);
    memcpy(entry.who, "AB", 3);
    memcpy(entry.thermometer, "pen", 4);
    entry.batch = 1;
    entry.has_temp = true;
    entry.temp_mC = 70000;
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time("0:01:00"), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
    assert_false(rig_batch(rig).top_shown);
    assert_false(rig_batch(rig).bottom_shown);
    rig_free(rig);
}

/* E11: met once, whatever else is measured of it. */
static void
test_surface_is_met_once(void **state)
{
    (void)state;
    struct rig *rig = steak();
    assert_true(hand(rig, "0:01:00", 65000, "top"));
    assert_true(hand(rig, "0:02:00", 65000, "bottom"));
    rig_expect(rig, "0:02:00 limit-met hand-reading 65.0 since 0:02:00\n");
    assert_true(hand(rig, "0:03:00", 66000, "top"));
    assert_true(hand(rig, "0:04:00", 60000, "bottom"));
    assert_true(hand(rig, "0:05:00", 66000, "bottom"));
    rig_expect(rig, "");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
}

/* E71, E73: of two questions about one limit a "no" is not undone by a "yes". */
static void
test_surface_with_both_readings_corrected_stays_as_the_first_answer_says(void **state)
{
    (void)state;
    struct rig *rig = steak();
    char script[160];
    assert_true(hand(rig, "0:01:00", 65000, "top"));
    int top = (int)rig->seq;
    assert_true(hand(rig, "0:02:00", 64000, "bottom"));
    (void)snprintf(script, sizeof script,
                   "0:03:00 correct %d 61.0\n0:03:10 correct %d 60.0\n0:04:00 decide no\n"
                   "0:04:10 decide yes\n",
                   top, top + 1);
    rig_play(rig, script);
    rig_expect(rig, "0:02:00 limit-met hand-reading 64.0 since 0:02:00\n"
                    "0:03:00 inconclusive corrected 61.0 since 0:02:00\n"
                    "0:03:10 inconclusive corrected 60.0 since 0:02:00\n"
                    "0:04:00 resolved entered no 61.0 since 0:02:00\n"
                    "0:04:00 deviation-opened corrected #1 61.0 since 0:02:00\n"
                    "0:04:10 resolved entered yes 60.0 since 0:02:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_surface_needs_top_and_bottom),
        cmocka_unit_test(test_surface_just_outside_on_one_side),
        cmocka_unit_test(test_surface_colder_reading_takes_back),
        cmocka_unit_test(test_surface_is_not_judged_by_the_core),
        cmocka_unit_test(test_surface_side_has_to_be_said_and_only_there),
        cmocka_unit_test(test_surface_corrected_reading_is_a_question),
        cmocka_unit_test(test_surface_record_without_a_side_shows_nothing),
        cmocka_unit_test(test_surface_is_met_once),
        cmocka_unit_test(
            test_surface_with_both_readings_corrected_stays_as_the_first_answer_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
