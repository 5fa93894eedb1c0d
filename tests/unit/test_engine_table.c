/* Cooking by a time and temperature table: docs/engine.md E17 and E18. Rows of FDA Food Code
 * 2022, 3-401.11(B)(1), as printed: 54.4 °C 112 min, 60.0 °C 12 min, 65.0 °C 85 s, 70.0 °C 0 s.
 */
#include "tests/support/check.h"

#include "tests/support/engine_rig.h"

#define ROAST                                                                                  \
    "{kind: cook_table, applies_to: food, rows: [{at_least: 54.4 °C, for: 112 min}, "         \
    "{at_least: 60.0 °C, for: 12 min}, {at_least: 65.0 °C, for: 85 s}, "                     \
    "{at_least: 70.0 °C, for: 0 s}]}"

static void
test_table_any_row_is_enough(void **state)
{
    (void)state;
    rig_story(ROAST, "0:00:00 begin dish p1\n0:00:10-1:52:10 p1 54.4\n",
              "1:52:10 limit-met held p1 54.4 since 0:00:10 found 1:52:00\n");
    rig_story(ROAST, "0:00:00 begin dish p1\n0:00:10-0:12:10 p1 60.0\n",
              "0:12:10 limit-met held p1 60.0 since 0:00:10 found 0:12:00\n");
    rig_story(ROAST, "0:00:00 begin dish p1\n0:00:10 p1 70.0\n",
              "0:00:10 limit-met reached p1 70.0 since 0:00:10\n");
}

static void
test_table_one_reading_less_is_not_enough(void **state)
{
    (void)state;
    rig_story(ROAST, "0:00:00 begin dish p1\n0:00:10-1:52:00 p1 54.4\n", "");
    rig_story(ROAST, "0:00:00 begin dish p1\n0:00:10-0:12:00 p1 64.999\n", "");
    rig_story(ROAST, "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 59.999\n", "");
    rig_story(ROAST, "0:00:00 begin dish p1\n0:00:10-3:00:00 p1 54.399\n", "");
}

/* 84 s of the 85 and 11 min of the 12: parts of two rows are no row. */
static void
test_table_rows_do_not_add_up(void **state)
{
    (void)state;
    rig_story(ROAST,
              "0:00:00 begin dish p1\n0:00:10-0:11:00 p1 60.0\n0:11:10 p1 59.9\n"
              "0:11:20 p1 62.0\n0:11:30-0:12:50 p1 65.0\n0:13:00 p1 62.0\n"
              "0:13:10-0:20:00 p1 59.9\n",
              "");
}

/* Time at a hotter row counts for the colder one as well. */
static void
test_table_hotter_time_counts_for_the_colder_row(void **state)
{
    (void)state;
    rig_story(ROAST,
              "0:00:00 begin dish p1\n0:00:10-0:06:10 p1 60.0\n0:06:20 p1 62.5\n"
              "0:06:30-0:07:30 p1 65.0\n0:07:40 p1 62.5\n0:07:50-0:12:10 p1 60.0\n",
              "0:12:10 limit-met held p1 60.0 since 0:00:10 found 0:12:00\n");
}

static void
test_table_a_dip_breaks_only_the_rows_it_is_below(void **state)
{
    (void)state;
    rig_story(ROAST,
              "0:00:00 begin dish p1\n0:00:10-0:11:00 p1 60.0\n0:11:10 p1 59.0\n"
              "0:11:20-0:23:20 p1 60.0\n",
              "0:23:20 limit-met held p1 60.0 since 0:11:20 found 0:12:00\n");
    rig_story(ROAST,
              "0:00:00 begin dish p1\n0:00:10-0:11:00 p1 57.0\n0:11:10 p1 56.0\n"
              "0:11:20-1:52:10 p1 57.0\n",
              "1:52:10 limit-met held p1 57.0 since 0:00:10 found 1:52:00\n");
}

/* Readings come every 10 s, so 30 s credit and 40 s do not; one bad reading is within that. */
static void
test_table_missing_readings(void **state)
{
    (void)state;
    rig_story(ROAST,
              "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 60.0\n0:06:10 p1 bad\n"
              "0:06:20 p1 bad\n0:06:30-0:12:10 p1 60.0\n",
              "0:12:10 limit-met held p1 60.0 since 0:00:10 found 0:12:00\n");
    rig_story(ROAST,
              "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 60.0\n0:06:10 p1 bad\n"
              "0:06:20 p1 bad\n0:06:30 p1 bad\n0:06:40-0:18:40 p1 60.0\n",
              "0:18:40 limit-met held p1 60.0 since 0:06:40 found 0:12:00\n");
}

static void
test_table_the_coldest_probe_governs(void **state)
{
    (void)state;
    /* Rows of our own, short enough to write out. */
    rig_story("{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 20 s}, "
              "{at_least: 65 °C, for: 10 s}]}",
              "0:00:00 begin dish p1 p2\n0:00:10 p1 66.0\n0:00:10 p2 59.9\n"
              "0:00:20 p1 66.0\n0:00:20 p2 60.0\n0:00:30 p1 66.0\n0:00:30 p2 60.0\n"
              "0:00:40 p1 66.0\n0:00:40 p2 60.0\n",
              "0:00:40 limit-met held p2 60.0 since 0:00:20 found 0:00:20\n");
    rig_story(ROAST,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 71.0\n0:00:10 p2 69.9\n0:00:20 p1 71.0\n"
              "0:00:20 p2 70.0\n",
              "0:00:20 limit-met reached p2 70.0 since 0:00:20\n");
}

static void
test_table_left_early_is_a_deviation_once(void **state)
{
    (void)state;
    rig_story(ROAST, "0:00:00 begin dish p1\n0:00:10-0:05:10 p1 60.0\n0:05:15 end served\n",
              "0:05:15 deviation-opened left-early #1 p1 60.0 since 0:00:10 found 0:05:00\n"
              "0:05:15 deviation-ended batch-ended #1\n");
}

static void
test_table_a_hand_reading_meets_only_the_row_without_time(void **state)
{
    (void)state;
    rig_story(ROAST, "0:00:00 begin dish\n0:06:00 hand 69.9\n", "");
    rig_story(ROAST, "0:00:00 begin dish\n0:06:00 hand 70.0\n",
              "0:06:00 limit-met hand-reading 70.0 since 0:06:00\n");
    rig_story(ROAST, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 65.0\n0:01:00 hand 70.0\n", "");
}

/* A hand reading that is colder than the probe shows breaks what it does not reach. */
static void
test_table_a_colder_hand_reading_breaks(void **state)
{
    (void)state;
    rig_story(ROAST,
              "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 60.0\n0:06:05 hand 59.0\n"
              "0:06:10-0:18:10 p1 60.0\n",
              "0:18:10 limit-met held p1 60.0 since 0:06:10 found 0:12:00\n");
}

static void
test_table_an_outage_breaks_and_leaves_a_question(void **state)
{
    (void)state;
    rig_story(ROAST,
              "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 60.0\n0:06:30 restart 0:06:05\n"
              "0:06:30-0:12:10 p1 60.0\n0:12:15 end served\n",
              "0:12:15 inconclusive outage since 0:06:05\n");
}

static void
test_table_fahrenheit_rows_are_compared_in_fahrenheit(void **state)
{
    (void)state;
    /* FSIS Appendix A 2021 Table 2, 6.5-log: 130 °F 112 min, 145 °F 4 min; 145 °F is 62.778 °C.
     */
    const char *meat =
        "{kind: cook_table, applies_to: food, rows: [{at_least: 130 °F, for: 112 "
        "min}, {at_least: 145 °F, for: 4 min}]}";
    rig_story(meat, "0:00:00 begin dish p1\n0:00:10-0:30:00 p1 62.777\n", "");
    rig_story(meat, "0:00:00 begin dish p1\n0:00:10-0:04:10 p1 62.778\n",
              "0:04:10 limit-met held p1 62.778 since 0:00:10 found 0:04:00\n");
}

static void
test_table_the_state_survives_a_quick_start(void **state)
{
    (void)state;
    struct rig *rig = rig_new(ROAST, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 60.0\n");
    rig_reload(rig);
    rig_play(rig, "0:06:10-0:12:10 p1 60.0\n");
    rig_expect(rig, "0:12:10 limit-met held p1 60.0 since 0:00:10 found 0:12:00\n");
    rig_free(rig);
}

/* Nothing was ever shown: since when, nobody can say. */
static void
test_table_left_before_any_reading(void **state)
{
    (void)state;
    rig_story("{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 min}]}",
              "0:00:00 begin dish p1\n0:01:00 move\n",
              "0:01:00 deviation-opened left-early #1\n"
              "0:01:00 deviation-ended batch-ended #1\n");
}

/* What was shown is told: time at the coldest row. */
static void
test_table_left_early_says_how_long_it_was_held(void **state)
{
    (void)state;
    rig_story(
        "{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 min}, "
        "{at_least: 62.2 °C, for: 5 min}]}",
        "0:00:00 begin dish p1\n0:00:10-0:04:10 p1 61.0\n0:04:20-0:05:10 p1 63.0\n0:05:15 "
        "move\n",
        "0:05:15 deviation-opened left-early #1 p1 63.0 since 0:00:10 found 0:05:00\n"
        "0:05:15 deviation-ended batch-ended #1\n");
}

/* E63: the shortest row, of two. */
static void
test_table_an_outage_as_long_as_the_shortest_row_leaves_a_question(void **state)
{
    (void)state;
    static const char limit[] = "{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, "
                                "for: 12 min}, {at_least: 62.2 °C, for: 5 min}]}";
    rig_story(limit,
              "0:00:00 begin dish p1\n0:00:10 p1 61.0\n0:05:09 restart 0:00:10\n0:05:15 move\n",
              "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
              "0:05:15 deviation-opened left-early #2\n"
              "0:05:15 deviation-ended batch-ended #2\n");
    rig_story(limit,
              "0:00:00 begin dish p1\n0:00:10 p1 61.0\n0:05:10 restart 0:00:10\n0:05:15 move\n",
              "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
              "0:05:15 inconclusive outage since 0:00:10\n");
}

/* E71: what rests on a hand reading is a question when that is corrected. */
static void
test_table_met_by_hand_is_asked_about_when_the_reading_is_corrected(void **state)
{
    (void)state;
    rig_story("{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 min}, "
              "{at_least: 70 °C, for: 0 s}]}",
              "0:00:00 begin dish\n0:00:10 hand 70.0\n0:00:20 correct 4 69.0\n",
              "0:00:10 limit-met hand-reading 70.0 since 0:00:10\n"
              "0:00:20 inconclusive corrected 69.0 since 0:00:10\n");
}

/* Shown is the time at the coldest row. */
static void
test_table_shows_the_time_at_its_coldest_row(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, "
                              "for: 12 min}, {at_least: 62.2 °C, for: 5 min}]}",
                              NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:10 p1 61.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 60000);
    rig_free(rig);
}

static void
test_table_met_by_hand_is_told_once(void **state)
{
    (void)state;
    rig_story("{kind: cook_table, applies_to: food, rows: [{at_least: 70 °C, for: 0 s}]}",
              "0:00:00 begin dish\n0:00:10 hand 70.0\n0:00:20 hand 71.0\n",
              "0:00:10 limit-met hand-reading 70.0 since 0:00:10\n");
}

/* E7: what was shown is nothing once it was colder than the coldest row. */
static void
test_table_shows_no_time_after_a_colder_reading(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, "
                              "for: 12 min}]}",
                              NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:10 p1 61.0\n0:01:20 p1 59.9\n");
    assert_int_equal(rig_batch(rig).credited_ms, 0);
    rig_play(rig, "0:01:30-0:01:50 p1 61.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 20000);
    rig_free(rig);
}

#define SHORT                                                                                   \
    "{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 15 s}, {at_least: 70 " \
    "°C, for: 0 s}]}"

/* E9, E54: a colder spot begins the rows of every probe anew, also of one that is read later.
 */
static void
test_table_a_colder_hand_reading_breaks_every_probe(void **state)
{
    (void)state;
    rig_story(SHORT,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 61.0\n0:00:15 p2 61.0\n0:00:20 p1 61.0\n"
              "0:00:21 hand 59.0\n0:00:30 p1 61.0\n0:00:35 p2 61.0\n0:00:40 p1 61.0\n0:00:45 "
              "p2 61.0\n0:00:50 p1 61.0\n0:00:55 p2 61.0\n",
              "0:00:55 limit-met held p1 61.0 since 0:00:35 found 0:00:15\n");
}

/* E52: the coldest probe speaks against the row, though another does not. */
static void
test_table_a_hand_reading_does_not_outvote_the_colder_probe(void **state)
{
    (void)state;
    rig_story(SHORT,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 69.0\n0:00:11 p2 71.0\n0:00:12 hand 72.0\n",
              "");
    rig_story(SHORT,
              "0:00:00 begin dish p1 p2\n0:00:10 p2 69.0\n0:00:11 p1 71.0\n0:00:12 hand 72.0\n",
              "");
}

/* E9, E15: what two probes have not shown together yet is no time. */
static void
test_table_left_before_its_probes_have_shown_it_together(void **state)
{
    (void)state;
    rig_story(SHORT,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 64.0\n0:00:15 p2 64.0\n0:00:16 end "
              "served\n",
              "0:00:16 deviation-opened left-early #1 p1 64.0\n"
              "0:00:16 deviation-ended batch-ended #1\n");
}

/* E17: the shortest time that a row can ask for is one. */
static void
test_table_of_a_row_of_a_thousandth_of_a_second_is_held(void **state)
{
    (void)state;
    rig_story("{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 1 ms}]}",
              "0:00:00 begin dish p1\n0:00:10-0:00:20 p1 60.0\n",
              "0:00:20 limit-met held p1 60.0 since 0:00:10 found 0:00:10\n");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table_any_row_is_enough),
        cmocka_unit_test(test_table_one_reading_less_is_not_enough),
        cmocka_unit_test(test_table_rows_do_not_add_up),
        cmocka_unit_test(test_table_hotter_time_counts_for_the_colder_row),
        cmocka_unit_test(test_table_a_dip_breaks_only_the_rows_it_is_below),
        cmocka_unit_test(test_table_missing_readings),
        cmocka_unit_test(test_table_the_coldest_probe_governs),
        cmocka_unit_test(test_table_left_early_is_a_deviation_once),
        cmocka_unit_test(test_table_a_hand_reading_meets_only_the_row_without_time),
        cmocka_unit_test(test_table_a_colder_hand_reading_breaks),
        cmocka_unit_test(test_table_an_outage_breaks_and_leaves_a_question),
        cmocka_unit_test(test_table_fahrenheit_rows_are_compared_in_fahrenheit),
        cmocka_unit_test(test_table_the_state_survives_a_quick_start),
        cmocka_unit_test(test_table_left_before_any_reading),
        cmocka_unit_test(test_table_left_early_says_how_long_it_was_held),
        cmocka_unit_test(test_table_an_outage_as_long_as_the_shortest_row_leaves_a_question),
        cmocka_unit_test(test_table_met_by_hand_is_asked_about_when_the_reading_is_corrected),
        cmocka_unit_test(test_table_shows_the_time_at_its_coldest_row),
        cmocka_unit_test(test_table_met_by_hand_is_told_once),
        cmocka_unit_test(test_table_shows_no_time_after_a_colder_reading),
        cmocka_unit_test(test_table_a_colder_hand_reading_breaks_every_probe),
        cmocka_unit_test(test_table_a_hand_reading_does_not_outvote_the_colder_probe),
        cmocka_unit_test(test_table_left_before_its_probes_have_shown_it_together),
        cmocka_unit_test(test_table_of_a_row_of_a_thousandth_of_a_second_is_held),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
