/* Holding with a defence that may be used once: docs/engine.md E140 to E144. Figures of the
 * temperature control rules of England, Wales and Northern Ireland, Schedule 4: cold food above
 * 8 °C once for less than 4 h (para 5: NI SR 2006/3), hot food below 63 °C once for less than
 * 2 h (para 7(2): England SI 2005/2059, Wales WSI 2006/31). New Zealand's template food control
 * plan (MPI 2013) has below 60 °C for up to 2 h: at most. */
#include "tests/support/check.h"

#include <stdio.h>

#include "tests/support/engine_rig.h"

#define COLD                                                                                   \
    "{kind: hold_cold, applies_to: food, at_most: 8 °C, one_period: 4 h, time_strict: yes}"
#define HOT                                                                                    \
    "{kind: hold_hot, applies_to: food, at_least: 63 °C, one_period: 2 h, time_strict: yes}"
#define HOT_UP_TO "{kind: hold_hot, applies_to: food, at_least: 60 °C, one_period: 2 h}"

/* Exactly at 8 °C is inside; the period counts from the last reading inside. */
static void
test_period_less_than_four_hours_is_let_pass(void **state)
{
    (void)state;
    rig_story(COLD,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 8.0\n0:10:10-4:09:50 p1 8.1\n"
              "4:09:59.999 p1 8.0\n4:10:09-5:00:00 p1 8.0\n",
              "");
}

static void
test_period_of_exactly_the_time_is_too_long_where_it_says_less_than(void **state)
{
    (void)state;
    rig_story(COLD,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 8.0\n0:10:10-4:09:50 p1 8.1\n"
              "4:10:00 p1 8.0\n",
              "4:10:00 deviation-opened period-too-long #1 p1 8.1 since 0:10:00 found "
              "4:00:00\n");
    rig_story(HOT,
              "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:20-2:00:00 p1 62.9\n"
              "2:00:10 p1 63.0\n",
              "2:00:10 deviation-opened period-too-long #1 p1 62.9 since 0:00:10 found "
              "2:00:00\n");
}

static void
test_period_of_exactly_the_time_is_in_time_where_it_says_at_most(void **state)
{
    (void)state;
    rig_story(HOT_UP_TO,
              "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:20-2:00:00 p1 59.9\n"
              "2:00:10-2:10:00 p1 60.0\n",
              "");
    rig_story(HOT_UP_TO,
              "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:20-2:00:00 p1 59.9\n"
              "2:00:10.001 p1 60.0\n",
              "2:00:10 deviation-opened period-too-long #1 p1 59.9 since 0:00:10 found "
              "2:00:00\n");
}

static void
test_period_is_told_by_tick(void **state)
{
    (void)state;
    rig_story(HOT,
              "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:20-2:00:00 p1 62.9\n"
              "2:00:11 p1 61.0\n2:00:20-2:05:30 p1 64.0\n",
              "2:00:10 deviation-opened period-too-long #1 p1 62.9 since 0:00:10 found "
              "2:00:00\n"
              "2:05:20 deviation-ended back-inside #1 p1 64.0 worst 61.0 since 0:00:10 found "
              "2:00:10\n");
}

/* No reading inside in this step: counted from its beginning. */
static void
test_period_never_seen_inside_counts_from_the_step(void **state)
{
    (void)state;
    rig_story(HOT, "0:00:00 begin dish p1\n0:30:00-2:00:00 p1 62.9\n",
              "0:05:00 gap-opened no-good-reading #1 p1 since 0:00:00 found 0:05:00\n"
              "0:30:00 gap-ended good-again #1 p1 62.9 since 0:00:00 found 0:30:00\n"
              "2:00:00 deviation-opened period-too-long #2 p1 62.9 since 0:00:00 found "
              "2:00:00\n");
}

/* Dark after a reading inside: what came after is not known to have been inside. */
static void
test_period_gap_before_it_counts(void **state)
{
    (void)state;
    rig_story(HOT, "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:04:00-2:00:20 p1 62.9\n",
              "2:00:10 deviation-opened period-too-long #1 p1 62.9 since 0:00:10 found "
              "2:00:00\n");
}

static void
test_period_second_time_is_a_deviation_at_once(void **state)
{
    (void)state;
    rig_story(COLD,
              "0:00:00 begin dish p1\n0:00:10 p1 8.0\n0:00:20-0:01:00 p1 8.1\n"
              "0:01:10-0:06:10 p1 8.0\n0:06:20 p1 8.001\n0:06:30-0:11:30 p1 8.0\n"
              "0:11:40 p1 8.2\n",
              "0:06:20 deviation-opened out-again #1 p1 8.001 since 0:06:20\n"
              "0:11:30 deviation-ended back-inside #1 p1 8.0 worst 8.001 since 0:06:20 found "
              "0:00:10\n"
              "0:11:40 deviation-opened out-again #2 p1 8.2 since 0:11:40\n");
}

/* Back for less than back_for: still the same stretch, and the time inside counts. */
static void
test_period_short_return_does_not_stop_it(void **state)
{
    (void)state;
    rig_story(HOT,
              "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:20-1:00:00 p1 62.9\n"
              "1:00:10-1:05:00 p1 63.0\n1:05:10-2:00:20 p1 62.9\n",
              "2:00:10 deviation-opened period-too-long #1 p1 62.9 since 0:00:10 found "
              "2:00:00\n");
}

/* The batch remembers, not the step: moved to the same step again it has had its time. */
static void
test_period_is_remembered_over_steps(void **state)
{
    (void)state;
    rig_story(
        HOT,
        "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:20 p1 62.0\n0:00:30-0:05:40 p1 "
        "64.0\n0:06:00 move after\n0:10:00 move first\n0:10:10 p1 64.0\n0:10:20 p1 62.9\n",
        "0:10:20 deviation-opened out-again #1 p1 62.9 since 0:10:20\n");
    /* Left while outside: it goes on, also while the food is in another step. */
    rig_story(HOT,
              "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:20 p1 62.0\n0:06:00 move after\n"
              "1:59:00 move first\n1:59:10-2:00:20 p1 62.9\n",
              "0:05:20 gap-opened no-good-reading #1 p1 since 0:00:20 found 0:05:00\n"
              "1:59:10 gap-ended good-again #1 p1 62.9 since 0:00:20 found 1:58:50\n"
              "2:00:10 deviation-opened period-too-long #2 p1 62.9 since 0:00:10 found "
              "2:00:00\n");
}

static void
test_period_survives_an_outage_as_a_question(void **state)
{
    (void)state;
    rig_story(HOT,
              "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:20 p1 62.0\n1:30:00 restart "
              "0:00:30\n1:30:10-2:00:20 p1 62.0\n",
              "1:30:00 gap-opened outage #1 p1 since 0:00:20 found 1:29:40\n"
              "1:30:10 gap-ended good-again #1 p1 62.0 since 0:00:20 found 1:29:50\n"
              "2:00:10 inconclusive outage p1 62.0 since 0:00:10 found 0:30:30\n");
}

/* Each of several probes has its own last reading inside. */
static void
test_period_of_several_probes(void **state)
{
    (void)state;
    rig_story(HOT,
              "0:00:00 begin dish p1 p2\n0:00:10 p1 64.0\n0:00:10 p2 64.0\n0:00:20-1:00:00 p1 "
              "64.0\n1:00:10 p2 "
              "62.9\n1:00:20-2:00:20 p1 64.0\n",
              "0:05:10 gap-opened no-good-reading #1 p2 since 0:00:10 found 0:05:00\n"
              "1:00:10 gap-ended good-again #1 p2 62.9 since 0:00:10 found 1:00:00\n"
              "1:05:10 gap-opened no-good-reading #2 p2 since 1:00:10 found 0:05:00\n"
              "2:00:10 deviation-opened period-too-long #3 p2 62.9 since 0:00:10 found "
              "2:00:00\n");
}

static void
test_period_goes_on_after_a_reload(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COLD, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 8.0\n0:00:20-0:01:00 p1 8.1\n"
                  "0:01:10-0:06:10 p1 8.0\n");
    assert_true(rig_batch(rig).period_over);
    rig_reload(rig);
    assert_true(rig_batch(rig).period_over);
    rig_play(rig, "0:06:20 p1 8.1\n");
    rig_expect(rig, "0:06:20 deviation-opened out-again #1 p1 8.1 since 0:06:20\n");
    rig_free(rig);
}

/* A reading that is missing only ever counts against the food. */
static void
test_period_missing_reading_never_turns_a_deviation_into_none(void **state)
{
    (void)state;
    for (int left_out = 1; left_out < 12; left_out++) {
        struct rig *rig = rig_new("{kind: hold_hot, applies_to: food, at_least: 63 °C, "
                                  "one_period: 60 s, time_strict: yes, back_for: 20 s}",
                                  NULL);
        rig_play(rig, "0:00:00 begin dish p1\n");
        for (int i = 1; i < 12; i++) {
            char line[80];
            bool inside = i < 3 || i == 6; /* a short return in a time outside of 70 s */
            if (i == left_out && i != 11)
                continue;
            (void)snprintf(line, sizeof line, "0:%02d:%02d p1 %s\n", i / 6, i % 6 * 10,
                           inside ? "63.5" : "62.5");
            rig_play(rig, line);
        }
        assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
        rig_free(rig);
    }
}

/* E62, E144: back inside at the very instant at which watched and unknown time together use it
 * up: too late where the law says less than it. */
static void
test_period_back_at_the_very_instant_after_an_outage_is_a_question(void **state)
{
    (void)state;
    static const char script[] =
        "0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:20 p1 59.9\n1:30:00 restart 0:00:30\n"
        "1:30:10-2:00:00 p1 59.9\n2:00:10 p1 63.0\n2:00:20 p1 63.0\n";
    static const char silence[] =
        "1:30:00 gap-opened outage #1 p1 since 0:00:20 found 1:29:40\n"
        "1:30:10 gap-ended good-again #1 p1 59.9 since 0:00:20 found 1:29:50\n";
    char log[300];
    (void)snprintf(log, sizeof log,
                   "%s2:00:10 inconclusive outage p1 59.9 since 0:00:10 found 0:30:30\n",
                   silence);
    rig_story(HOT, script, log);
    rig_story(HOT_UP_TO, script, silence);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_period_less_than_four_hours_is_let_pass),
        cmocka_unit_test(test_period_of_exactly_the_time_is_too_long_where_it_says_less_than),
        cmocka_unit_test(test_period_of_exactly_the_time_is_in_time_where_it_says_at_most),
        cmocka_unit_test(test_period_is_told_by_tick),
        cmocka_unit_test(test_period_never_seen_inside_counts_from_the_step),
        cmocka_unit_test(test_period_gap_before_it_counts),
        cmocka_unit_test(test_period_second_time_is_a_deviation_at_once),
        cmocka_unit_test(test_period_short_return_does_not_stop_it),
        cmocka_unit_test(test_period_is_remembered_over_steps),
        cmocka_unit_test(test_period_survives_an_outage_as_a_question),
        cmocka_unit_test(test_period_of_several_probes),
        cmocka_unit_test(test_period_goes_on_after_a_reload),
        cmocka_unit_test(test_period_missing_reading_never_turns_a_deviation_into_none),
        cmocka_unit_test(test_period_back_at_the_very_instant_after_an_outage_is_a_question),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
