/* Food without temperature control: docs/engine.md E145 to E149. Figures of FDA Food Code 2022,
 * 3-501.19: at most 5 °C (41 °F), or at least 57 °C (135 °F), as it leaves control, gone within
 * 4 h (B); cut produce at most 21 °C (70 °F) and never above it (B)(2); 6 h from cold,
 * discarded if above 21 °C (C). */
#include "tests/support/check.h"

#include <stdio.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

#define COLD_4H "{kind: time_control, applies_to: food, left_at_most: 5 °C, within: 4 h}"
#define HOT_4H  "{kind: time_control, applies_to: food, left_at_least: 57 °C, within: 4 h}"
#define PRODUCE                                                                                \
    "{kind: time_control, applies_to: food, left_at_most: 21 °C, within: 4 h, never_above: "  \
    "21 °C}"
#define COLD_6H                                                                                \
    "{kind: time_control, applies_to: food, left_at_most: 5 °C, within: 6 h, never_above: "   \
    "21 °C}"

static enum engine_verdict
verdict_after(const char *limit, const char *script)
{
    struct rig *rig = rig_new(limit, NULL);
    rig_play(rig, script);
    enum engine_verdict verdict = rig_batch(rig).verdict;
    rig_free(rig);
    return verdict;
}

static void
test_time_gone_exactly_at_its_end_is_in_time(void **state)
{
    (void)state;
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-3:59:50 p1 5.0 18.0\n4:00:00 end served\n", "");
    rig_story(HOT_4H,
              "0:00:00 begin dish p1\n0:00:10-3:59:50 p1 57.0 30.0\n4:00:00 end served\n", "");
}

static void
test_time_over_is_told_at_that_instant(void **state)
{
    (void)state;
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-4:00:10 p1 5.0 18.0\n4:00:20 end discarded\n",
              "4:00:00 deviation-opened time-up #1 since 0:00:00 found 4:00:00\n"
              "4:00:20 deviation-ended batch-ended #1\n");
    rig_story(COLD_6H,
              "0:00:00 begin dish p1\n0:00:10-5:59:50 p1 5.0 21.0\n6:00:00 end served\n", "");
    rig_story(COLD_6H,
              "0:00:00 begin dish p1\n0:00:10-6:00:00 p1 5.0 21.0\n6:00:00.001 end served\n",
              "6:00:00 deviation-opened time-up #1 since 0:00:00 found 6:00:00\n"
              "6:00:00.001 deviation-ended batch-ended #1\n");
}

static void
test_time_of_exactly_its_length_is_too_long_where_it_says_less_than(void **state)
{
    (void)state;
    const char *limit =
        "{kind: time_control, applies_to: food, left_at_most: 5 °C, within: 4 h, time_strict: "
        "yes}";
    rig_story(limit,
              "0:00:00 begin dish p1\n0:00:10-3:59:50 p1 5.0 18.0\n3:59:59.999 end served\n",
              "");
    rig_story(limit, "0:00:00 begin dish p1\n0:00:10-3:59:50 p1 5.0 18.0\n4:00:00 end served\n",
              "4:00:00 deviation-opened time-up #1 since 0:00:00 found 4:00:00\n"
              "4:00:00 deviation-ended batch-ended #1\n");
}

/* Just outside is told when the probe has had its 5 min to come to rest. */
static void
test_time_has_to_leave_cold_or_hot_enough(void **state)
{
    (void)state;
    assert_int_equal(verdict_after(COLD_4H, "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 5.0\n"),
                     VERDICT_OPEN);
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 5.001\n",
              "0:05:00 deviation-opened bad-start #1 p1 5.001 since 0:00:00 found 0:05:00\n");
    rig_story(HOT_4H, "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 56.999\n",
              "0:05:00 deviation-opened bad-start #1 p1 56.999 since 0:00:00 found 0:05:00\n");
    rig_story(HOT_4H, "0:00:00 begin dish p1\n0:00:10 p1 57.0\n0:00:20-0:20:00 p1 56.9\n", "");
}

/* It is told whether or not a reading comes just then, so that a missing one changes nothing;
 * the instant itself is in time. */
static void
test_time_how_it_left_is_judged_as_five_minutes_are_over(void **state)
{
    (void)state;
    const char *told =
        "0:05:00 deviation-opened bad-start #1 p1 5.2 since 0:00:00 found 0:05:00\n";
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:00:10-0:05:10 p1 5.2\n0:05:30 p1 5.0\n", told);
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:00:10-0:04:50 p1 5.2\n0:05:30 p1 5.0\n", told);
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 5.2\n0:05:00.001 wait\n",
              told);
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-0:04:50 p1 5.2\n0:05:00 p1 5.0\n"
              "0:06:00 wait\n",
              "");
}

/* What a probe would have shown as its 5 min were over, nobody saw. */
static void
test_time_how_it_left_over_an_outage(void **state)
{
    (void)state;
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-0:04:00 p1 5.2\n0:06:00 restart 0:04:00\n"
              "0:06:10 p1 5.0\n",
              "0:06:00 inconclusive probe-late p1 5.2 since 0:00:00\n");
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-0:02:00 p1 5.2\n0:03:00 restart 0:02:00\n"
              "0:03:10-0:05:10 p1 5.1\n",
              "0:05:00 deviation-opened bad-start #1 p1 5.1 since 0:00:00 found 0:05:00\n");
}

/* A reading that satisfies shows how it left, however late; one that does not, hours later,
 * shows nothing. */
static void
test_time_late_probe(void **state)
{
    (void)state;
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:04:50-0:20:00 p1 4.9\n0:20:00 end served\n",
              "");
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:04:50-0:05:20 p1 6.0\n",
              "0:05:00 inconclusive probe-late p1 6.0 since 0:00:00\n");
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:04:30 wait\n0:05:10 p1 6.0\n",
              "0:05:00 gap-opened no-good-reading #1 p1 since 0:00:00 found 0:05:00\n"
              "0:05:10 gap-ended good-again #1 p1 6.0 since 0:00:00 found 0:05:10\n"
              "0:05:10 inconclusive probe-late p1 6.0 since 0:00:00\n");
}

static void
test_time_never_measured_as_it_left_is_a_question(void **state)
{
    (void)state;
    rig_story(COLD_4H, "0:00:00 begin dish\n3:00:00 end served\n",
              "3:00:00 inconclusive probe-late since 0:00:00\n");
    rig_story(COLD_4H, "0:00:00 begin dish\n0:01:00 hand 5.0\n3:00:00 end served\n", "");
    rig_story(COLD_4H, "0:00:00 begin dish\n0:01:00 hand 5.1\n3:00:00 end served\n",
              "3:00:00 inconclusive probe-late since 0:00:00\n");
    rig_story(COLD_4H, "0:00:00 begin dish\n3:00:00 end discarded\n", "");
}

static void
test_time_never_above_its_ceiling(void **state)
{
    (void)state;
    rig_story(COLD_6H, "0:00:00 begin dish p1\n0:00:10-3:00:00 p1 5.0 21.0\n3:00:10 p1 21.0\n",
              "");
    rig_story(COLD_6H,
              "0:00:00 begin dish p1\n0:00:10-3:00:00 p1 5.0 21.0\n3:00:10 p1 21.001\n",
              "3:00:10 deviation-opened above-ceiling #1 p1 21.001 since 0:00:00 found "
              "3:00:10\n");
    rig_story(PRODUCE, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 21.0\n0:10:10 hand 21.1\n",
              "0:10:10 deviation-opened above-ceiling #1 21.1 since 0:00:00 found 0:10:10\n");
    /* The 4 h from cold have no ceiling. */
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-3:00:00 p1 5.0 30.0\n3:00:10 end served\n", "");
}

/* 21.1 °C is 69.98 °F: below 70 °F, above 21 °C. */
static void
test_time_ceiling_in_its_own_unit(void **state)
{
    (void)state;
    const char *limit =
        "{kind: time_control, applies_to: food, left_at_most: 41 °F, within: 6 h, "
        "never_above: 70 °F}";
    rig_story(limit, "0:00:00 begin dish p1\n0:00:10-3:00:00 p1 5.0 21.1\n", "");
    rig_story(limit, "0:00:00 begin dish p1\n0:00:10-3:00:00 p1 5.0 21.1\n3:00:10 p1 21.112\n",
              "3:00:10 deviation-opened above-ceiling #1 p1 21.112 since 0:00:00 found "
              "3:00:10\n");
}

/* E145: another step does not start it anew, nor does the way through one. */
static void
test_time_counts_over_steps(void **state)
{
    (void)state;
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 5.0\n1:00:00 move after\n2:00:00 move "
              "first\n2:00:10-4:00:00 p1 15.0\n4:00:00.001 wait\n",
              "1:05:00 gap-opened no-good-reading #1 p1 since 1:00:00 found 0:05:00\n"
              "2:00:10 gap-ended good-again #1 p1 15.0 since 1:00:00 found 1:00:10\n"
              "4:00:00 deviation-opened time-up #2 since 0:00:00 found 4:00:00\n");
}

/* Somebody says that it left earlier; later is not taken. */
static void
test_time_a_person_says_it_left_earlier(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_4H, NULL);
    rig_play(rig, "1:00:00 begin dish p1\n1:00:10-1:30:00 p1 5.0\n1:30:00 cooked 1:10:00\n");
    assert_string_not_equal(rig->refusal, "");
    rig_play(rig, "1:30:00 cooked 0:20:00\n");
    assert_string_equal(rig->refusal, "");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("4:20:00"));
    rig_reload(rig);
    rig_play(rig, "1:30:10-4:20:00 p1 5.0\n4:20:00.001 wait\n");
    rig_expect(rig, "refused: the time of batch 1 counts from no later than that already; give "
                    "an earlier time, or add a note\n"
                    "4:20:00 deviation-opened time-up #1 since 0:20:00 found 4:00:00\n");
    rig_free(rig);
}

/* Time goes by unwatched; how warm it became is not known. */
static void
test_time_over_an_outage(void **state)
{
    (void)state;
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 5.0\n5:00:00 restart 1:00:00\n5:00:10 "
              "wait\n",
              "5:00:00 gap-opened outage #1 p1 since 1:00:00 found 4:00:00\n"
              "5:00:00 deviation-opened time-up #2 since 0:00:00 found 5:00:00\n");
    rig_story(COLD_6H,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 5.0\n2:00:00 restart "
              "1:59:00\n2:00:10-2:30:00 p1 9.0\n2:30:00 end served\n",
              "1:05:00 gap-opened no-good-reading #1 p1 since 1:00:00 found 0:05:00\n"
              "2:00:10 gap-ended good-again #1 p1 9.0 since 1:00:00 found 1:00:10\n"
              "2:30:00 inconclusive outage since 0:00:00\n");
}

/* A reading that is missing never turns a deviation into none. */
static void
test_time_missing_reading_never_helps(void **state)
{
    (void)state;
    for (int left_out = 0; left_out < 40; left_out++) {
        struct rig *rig = rig_new("{kind: time_control, applies_to: food, left_at_most: 5 °C, "
                                  "within: 6 min, never_above: 21 °C}",
                                  NULL);
        rig_play(rig, "0:00:00 begin dish p1\n");
        for (int i = 1; i < 40; i++) {
            char line[80];
            (void)snprintf(line, sizeof line, "0:%02d:%02d p1 %d.0\n", i / 6, i % 6 * 10,
                           i < 30 ? 5 : 20);
            if (i != left_out)
                rig_play(rig, line);
        }
        assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
        rig_free(rig);
    }
}

/* A question about how it left is asked once, whatever comes of it. */
static void
test_time_left_with_its_question_open_is_not_asked_again(void **state)
{
    (void)state;
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:04:00-0:06:00 p1 9.0\n0:07:00 move\n",
              "0:05:00 inconclusive probe-late p1 9.0 since 0:00:00\n");
}

/* E45: put into cold food at the beginning, and at no other time. */
static void
test_time_probe_that_falls_later_has_left_the_food(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD_6H, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 15.0\n0:06:10 p1 4.0\n");
    assert_int_equal(rig->quality, SUSPECT_LEFT_FOOD);
    rig_free(rig);
    rig = rig_new(COLD_6H, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 4.0\n0:01:10 p1 15.0\n");
    assert_int_equal(rig->quality, SUSPECT_LEFT_FOOD); /* nor a rise, however early */
    rig_free(rig);
}

/* E146: read from the beginning on is a probe that is first read no later than the spacing. */
static void
test_time_first_reading_exactly_after_the_spacing_is_from_the_beginning(void **state)
{
    (void)state;
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:00:30 p1 5.2\n0:05:00 wait\n",
              "0:05:00 deviation-opened bad-start #1 p1 5.2 since 0:00:00 found 0:05:00\n");
    rig_story(COLD_4H, "0:00:00 begin dish p1\n0:00:30.001 p1 5.2\n0:05:00 wait\n",
              "0:05:00 inconclusive probe-late p1 5.2 since 0:00:00\n");
}

/* E149: one of two probes has shown how it left, whichever. */
static void
test_time_shown_by_either_probe_is_no_question(void **state)
{
    (void)state;
    rig_story(COLD_4H, "0:00:00 begin dish p1 p2\n0:00:10 p1 4.0\n0:01:00 end served\n", "");
    rig_story(COLD_4H, "0:00:00 begin dish p1 p2\n0:00:10 p2 4.0\n0:01:00 end served\n", "");
}

/* E149: the shortest outage is one, and a question that waits is enough. */
static void
test_time_after_an_outage_is_asked_about_once(void **state)
{
    (void)state;
    rig_story(COLD_6H,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 5.0\n0:10:00.001 restart 0:10:00\n"
              "0:10:10 p1 5.0\n0:10:20 end served\n",
              "0:10:20 inconclusive outage since 0:00:00\n");
    rig_story(COLD_6H,
              "0:00:00 begin dish p1\n0:01:00-0:06:00 p1 9.0\n0:06:05 restart 0:06:00\n"
              "0:06:10 p1 9.0\n0:06:20 end served\n",
              "0:05:00 inconclusive probe-late p1 9.0 since 0:00:00\n");
}

/* E147: gone at the very instant at which less than that was allowed, also where it is a
 * question how it left. */
static void
test_time_of_exactly_its_length_is_too_long_whatever_is_asked(void **state)
{
    (void)state;
    rig_story("{kind: time_control, applies_to: food, left_at_most: 5 °C, within: 10 min, "
              "time_strict: yes}",
              "0:00:00 begin dish p1\n0:06:00 p1 9.0\n0:10:00 end served\n",
              "0:05:00 gap-opened no-good-reading #1 p1 since 0:00:00 found 0:05:00\n"
              "0:06:00 gap-ended good-again #1 p1 9.0 since 0:00:00 found 0:06:00\n"
              "0:06:00 inconclusive probe-late p1 9.0 since 0:00:00\n"
              "0:10:00 deviation-opened time-up #2 since 0:00:00 found 0:10:00\n"
              "0:10:00 deviation-ended batch-ended #2\n");
}

/* E145: left inside its holding limit it left control with the step, also when it was outside
 * once and came back; left outside, when it was last seen inside. */
static void
test_time_after_holding_counts_from_the_step_unless_it_was_left_outside(void **state)
{
    (void)state;
    static const struct {
        const char *script, *left;
    } cases[] = {
        {"0:00:10-0:10:00 p1 4.0\n", "0:10:05"},
        {"0:00:10-0:01:00 p1 4.0\n0:01:10-0:02:00 p1 6.0\n0:02:10-0:10:00 p1 4.0\n", "0:10:05"},
        {"0:00:10-0:01:00 p1 4.0\n0:01:10-0:10:00 p1 6.0\n", "0:01:00"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig =
            rig_new("{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: "
                    "20 min, back_for: 1 min}}\n"
                    "      - {id: room, name: Room, limit: " COLD_4H,
                    NULL);
        rig_play(rig, "0:00:00 begin dish p1\n");
        rig_play(rig, cases[i].script);
        rig_play(rig, "0:10:05 move\n");
        assert_int_equal(rig_batch(rig).deadline_ms, rig_time(cases[i].left) + 4 * 3600 * 1000);
        rig_free(rig);
    }
}

/* E146: of two probes the second is judged as well, whether or not the first is read. */
static void
test_time_how_it_left_is_shown_by_each_probe(void **state)
{
    (void)state;
    rig_story(
        COLD_4H,
        "0:00:00 begin dish p1 p2\n0:00:10 p1 4.0\n0:00:15-0:04:55 p2 5.2\n0:05:00 wait\n",
        "0:05:00 deviation-opened bad-start #1 p2 5.2 since 0:00:00 found 0:05:00\n");
}

/* E67, E146: exactly as the restart comes it is judged as usual. */
static void
test_time_how_it_left_exactly_at_the_restart(void **state)
{
    (void)state;
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-0:04:00 p1 5.2\n0:05:00 restart 0:04:00\n0:05:00 "
              "wait\n",
              "0:05:00 deviation-opened bad-start #1 p1 5.2 since 0:00:00 found 0:05:00\n");
    rig_story(COLD_4H,
              "0:00:00 begin dish p1\n0:00:10-0:04:00 p1 5.2\n0:05:00.001 restart 0:04:00\n",
              "0:05:00.001 inconclusive probe-late p1 5.2 since 0:00:00\n");
}

/* E4, E148: what the reading of that instant shows comes first. */
static void
test_time_above_its_ceiling_as_its_five_minutes_are_over(void **state)
{
    (void)state;
    rig_story(
        COLD_6H,
        "0:00:00 begin dish p1\n0:00:10-0:04:50 p1 20.0\n0:05:00 p1 21.5\n0:05:01 wait\n",
        "0:05:00 deviation-opened above-ceiling #1 p1 21.5 since 0:00:00 found 0:05:00\n");
}

/* E67, E146: as an outage begins, the five minutes that are just over were watched. The probe
 * is read every 5 min, and what it shows 7 min after the beginning is of the beginning. */
static void
test_time_how_it_left_exactly_as_an_outage_begins(void **state)
{
    (void)state;
    static const char kitchen[] =
        PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "5 min") "products:\n"
                                                                 "  - id: dish\n"
                                                                 "    name: Dish\n"
                                                                 "    steps: [{id: keep, name: "
                                                                 "Keep, limit: " COLD_4H "}]\n"
                                                                 "tolerances: {silent_for: 30 "
                                                                 "min}\n";
    static const char *const since[] = {"0:05:00", "0:04:59.999"};
    for (size_t i = 0; i < COUNT_OF(since); i++) {
        struct rig *rig = rig_of(kitchen);
        char script[120];
        (void)snprintf(script, sizeof script,
                       "0:00:00 begin dish p1\n0:06:00 restart %s\n0:07:00 p1 9.0\n", since[i]);
        rig_play(rig, script);
        rig_expect(rig, i == 0 ? "0:07:00 deviation-opened bad-start #1 p1 9.0 since 0:00:00 "
                                 "found 0:07:00\n"
                               : "0:07:00 inconclusive probe-late p1 9.0 since 0:00:00\n");
        rig_free(rig);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_time_gone_exactly_at_its_end_is_in_time),
        cmocka_unit_test(test_time_over_is_told_at_that_instant),
        cmocka_unit_test(test_time_of_exactly_its_length_is_too_long_where_it_says_less_than),
        cmocka_unit_test(test_time_has_to_leave_cold_or_hot_enough),
        cmocka_unit_test(test_time_how_it_left_is_judged_as_five_minutes_are_over),
        cmocka_unit_test(test_time_how_it_left_over_an_outage),
        cmocka_unit_test(test_time_late_probe),
        cmocka_unit_test(test_time_never_measured_as_it_left_is_a_question),
        cmocka_unit_test(test_time_never_above_its_ceiling),
        cmocka_unit_test(test_time_ceiling_in_its_own_unit),
        cmocka_unit_test(test_time_counts_over_steps),
        cmocka_unit_test(test_time_a_person_says_it_left_earlier),
        cmocka_unit_test(test_time_over_an_outage),
        cmocka_unit_test(test_time_missing_reading_never_helps),
        cmocka_unit_test(test_time_left_with_its_question_open_is_not_asked_again),
        cmocka_unit_test(test_time_probe_that_falls_later_has_left_the_food),
        cmocka_unit_test(
            test_time_first_reading_exactly_after_the_spacing_is_from_the_beginning),
        cmocka_unit_test(test_time_shown_by_either_probe_is_no_question),
        cmocka_unit_test(test_time_after_an_outage_is_asked_about_once),
        cmocka_unit_test(test_time_of_exactly_its_length_is_too_long_whatever_is_asked),
        cmocka_unit_test(
            test_time_after_holding_counts_from_the_step_unless_it_was_left_outside),
        cmocka_unit_test(test_time_how_it_left_is_shown_by_each_probe),
        cmocka_unit_test(test_time_how_it_left_exactly_at_the_restart),
        cmocka_unit_test(test_time_above_its_ceiling_as_its_five_minutes_are_over),
        cmocka_unit_test(test_time_how_it_left_exactly_as_an_outage_begins),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
