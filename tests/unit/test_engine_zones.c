/* Time between cold and hot, with several probes, by hand, over outages and with other probes:
 * docs/engine.md E155 to E165. FDA Food Code's 4 h without control, here from 5 °C to 60 °C. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

#define GUIDE                                                                                   \
    "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, within: " \
    "4 h}"
#define SHORT                                                                                   \
    "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, within: " \
    "10 min}"

static struct rig *
rig_over(const char *limit, const char *script)
{
    rig_life = limit;
    struct rig *rig = rig_new(NULL, NULL);
    rig_life = NULL;
    rig_play(rig, script);
    return rig;
}

/* What is certain and what nobody saw after a script. */
static void
counts(const char *script, int64_t zone_s, int64_t unknown_s, bool in_zone)
{
    struct rig *rig = rig_over(GUIDE, script);
    struct engine_batch_view view = rig_batch(rig);
    if (view.zone_ms != zone_s * 1000 || view.zone_unknown_ms != unknown_s * 1000 ||
        view.in_zone != in_zone)
        fail_msg("%s: %d s in between, %d s unseen%s", script, (int)(view.zone_ms / 1000),
                 (int)(view.zone_unknown_ms / 1000), view.in_zone ? ", in between" : "");
    rig_reload(rig);
    rig_free(rig);
}

/* ---- after the deviation ---- */

/* What is shown goes on with the food: outside it stands still, in between it grows, and what
 * nobody sees is unseen (E235). Until the tick at 0:10:10 it was in between for 10 min. */
static void
test_zone_after_its_deviation_counts_what_is_so(void **state)
{
    (void)state;
    struct rig *rig = rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20-0:10:05 "
                                      "p1 6.0\n0:10:10 wait\n");
    assert_int_not_equal(rig_batch(rig).life_deviation, 0);
    assert_int_equal(rig_batch(rig).zone_ms, 600000);
    rig_play(rig, "0:10:15 p1 6.0\n0:10:25 p1 4.0\n0:10:35-0:30:05 p1 4.0\n");
    assert_false(rig_batch(rig).in_zone);
    assert_int_equal(rig_batch(rig).zone_ms, 615000);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 0);
    rig_reload(rig);
    rig_play(rig, "0:40:05 wait\n");
    assert_int_equal(rig_batch(rig).zone_ms, 615000);
    rig_play(rig, "0:40:15 p1 4.0\n");
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 610000);
    rig_play(rig, "0:40:25 p1 6.0\n0:40:35 p1 6.0\n0:45:05 hand 6.0\n");
    assert_true(rig_batch(rig).in_zone);
    assert_int_equal(rig_batch(rig).zone_ms, 615000 + 290000);
    rig_free(rig);
}

/* Its end says the whole; there is no second deviation and no question about it. */
static void
test_zone_end_says_all_that_was_counted(void **state)
{
    (void)state;
    struct rig *rig =
        rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20-0:20:10 p1 6.0\n"
                        "0:20:20-0:30:00 p1 4.0\n0:34:50-0:35:00 p1 6.0\n0:35:10 end "
                        "discarded\n");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 p1 6.0 since 0:00:20 found 0:10:00\n"
               "0:35:10 deviation-ended batch-ended #1 found 0:20:30\n");
    rig_free(rig);
}

/* Nor do an outage and a person's readings stop the count. */
static void
test_zone_after_its_deviation_over_an_outage_and_by_hand(void **state)
{
    (void)state;
    struct rig *rig =
        rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20-0:20:10 p1 6.0\n"
                        "0:25:10 restart 0:20:20\n");
    assert_int_equal(rig_batch(rig).zone_ms, 1210000);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 290000);
    rig_free(rig);
    rig = rig_over(SHORT, "0:00:00 begin dish\n0:00:10 hand 20.0\n0:20:00 wait\n0:20:10 hand "
                          "4.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 1200000);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 10000); /* before the first */
    assert_false(rig_batch(rig).in_zone);
    rig_free(rig);
}

/* ---- several probes ---- */

static void
test_zone_any_of_several_probes_puts_the_food_there(void **state)
{
    (void)state;
    static const char *const who[] = {"p1", "p2", "p3"};
    for (size_t i = 0; i < 3; i++) {
        char script[400];
        (void)snprintf(script, sizeof script,
                       "0:00:00 begin dish p1 p2 p3\n0:00:10-0:01:00 p1,p2,p3 4.0\n0:01:10 %s "
                       "6.0\n0:01:20 %s 6.0\n",
                       who[i], who[i]);
        counts(script, 20, 0, true); /* since all were last seen outside */
    }
}

/* All of them have to be back, and each to be seen. */
static void
test_zone_is_over_when_all_probes_are_seen_outside(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:10 p1,p2 6.0\n0:01:20 p1 "
           "4.0\n",
           20, 0, true);
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:10 p1,p2 6.0\n0:01:20 "
           "p1,p2 4.0\n0:01:30 p1,p2 4.0\n",
           20, 0, false);
    /* The second was seen outside too long ago to say anything now. */
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:10 p1 "
           "6.0\n0:01:20-0:01:40 p1 "
           "6.0\n0:01:50 p1 4.0\n",
           50, 0, false);
}

/* Exactly the spacing ago the other probe has just been seen. */
static void
test_zone_is_over_when_the_other_probe_was_seen_no_longer_ago_than_the_spacing(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:10 p1 6.0\n0:01:10 p2 "
           "4.0\n0:01:20-0:01:30 p1 6.0\n0:01:40-0:01:50 p1,p2 4.0\n",
           40, 0, false);
}

/* One cold and one hot spot: between them there is food in between, whichever comes first. */
static void
test_zone_cold_and_hot_at_once_whichever_comes_first(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1 p2\n0:00:10 p1 65.0\n0:00:10 p2 4.0\n0:00:20 p1 65.0\n", 20,
           0, true);
    counts("0:00:00 begin dish p1 p2 p3\n0:00:10 p1,p2 65.0\n0:00:10 p3 4.0\n0:00:20 p1 65.0\n",
           20, 0, true);
    counts("0:00:00 begin dish p1 p2\n0:00:10 p1,p2 65.0\n0:00:20 p1,p2 65.0\n", 0, 0, false);
}

/* ---- in the dark ---- */

/* E159: no further apart than the spacing (30 s) it is known to have been outside. */
static void
test_zone_of_the_dark_is_unseen_from_when_it_was_last_seen(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:40 p1 4.0\n", 0, 0, false);
    counts("0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:41 p1 4.0\n", 0, 31, false);
    /* Dark and then in between: nobody saw when it came in. */
    counts("0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:40 p1 6.0\n", 30, 0, true);
    counts("0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:41 p1 6.0\n0:00:51 p1 6.0\n", 10, 31,
           true);
    /* In between, dark, and outside again: in between all the while. */
    counts("0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 6.0\n0:10:00 p1 4.0\n", 590, 0,
           false);
    /* From cold to hot in the dark it may have been in between; read in a row it has been. */
    counts("0:00:00 begin dish\n0:00:10 hand 4.0\n0:10:10 hand 65.0\n", 0, 610, false);
    /* First read late: unseen from the beginning on. */
    counts("0:00:00 begin dish p1\n0:01:00 p1 4.0\n", 0, 60, false);
    counts("0:00:00 begin dish p1\n0:00:30 p1 4.0\n", 0, 0, false);
}

/* ---- by hand ---- */

/* E161. */
static void
test_zone_hand_reading_stands_until_every_probe_has_shown_otherwise(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:05 hand 20.0\n0:01:10 p1 "
           "4.0\n",
           10, 0, true);
    counts(
        "0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:05 hand 20.0\n0:01:10 p1,p2 "
        "4.0\n0:01:20 p1,p2 4.0\n",
        10, 0, false);
    /* Outside it says nothing against a probe. */
    counts(
        "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 20.0\n0:00:25 hand 4.0\n0:00:30 p1 "
        "20.0\n",
        20, 0, true);
}

static void
test_zone_deviation_found_by_hand_names_no_probe(void **state)
{
    (void)state;
    struct rig *rig = rig_over(SHORT, "0:00:00 begin dish\n0:00:10 hand 4.0\n0:01:00 hand "
                                      "20.0\n0:11:00 wait\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log,
                           "0:11:00 deviation-opened out-too-long #1 20.0 since 0:01:00 "
                           "found 0:10:00\n"));
    rig_free(rig);
}

/* ---- other probes, E160 ---- */

static void
test_zone_stays_where_it_was_until_other_probes_show_it(void **state)
{
    (void)state;
    /* In between; moved, and the new probe is not read yet. */
    counts(
        "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 6.0\n0:00:25 move after p2\n0:01:00 "
        "p3 20.0\n",
        50, 0, true);
    counts(
        "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 6.0\n0:00:25 move after p2\n0:00:40 "
        "p2 4.0\n0:00:50 p2 4.0\n",
        30, 0, false);
    /* The same probe goes on as if nothing had been. */
    counts(
        "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 6.0\n0:00:25 move after\n0:00:30 p1 "
        "4.0\n0:00:40 p1 4.0\n",
        20, 0, false);
    /* One stays and one is new: the new one has to be seen. */
    counts("0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 6.0\n0:00:25 move after p2 "
           "p1\n0:00:30 "
           "p1 4.0\n0:00:40 p1 4.0\n",
           30, 0, true);
    /* Outside it was, and a new probe soon shows it again. */
    counts(
        "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 4.0\n0:00:25 move after p2\n0:00:30 "
        "p2 4.0\n0:00:40 p2 4.0\n",
        0, 0, false);
}

/* ---- what is told ---- */

/* Back outside at the very instant is in time; what is shown too late is told by its reading.
 */
static void
test_zone_that_unseen_time_may_have_used_up_is_asked_when_it_may(void **state)
{
    (void)state;
    struct rig *rig = rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:12:00 wait\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
                    "0:10:10 inconclusive no-good-reading\n");
    /* It is asked once; accepted, it counts from then. */
    rig_play(rig, "0:12:05 decide yes\n");
    assert_int_equal(rig_batch(rig).life_verdict, VERDICT_OPEN);
    rig_play(rig, "0:30:00 wait\n");
    rig_expect(rig, "0:12:05 resolved entered yes\n"
                    "0:22:05 inconclusive no-good-reading\n");
    rig_free(rig);
}

/* Not accepted, it stays counted as nobody has seen it. */
static void
test_zone_that_a_person_does_not_accept_is_a_deviation(void **state)
{
    (void)state;
    struct rig *rig =
        rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:12:00 p1 4.0\n");
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 710000);
    rig_play(rig, "0:12:05 decide no\n");
    assert_int_equal(rig_batch(rig).life_verdict, VERDICT_NOT_MET);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 710000);
    rig_play(rig, "0:12:10-0:40:00 p1 4.0\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
                    "0:10:10 inconclusive no-good-reading\n"
                    "0:12:00 gap-ended good-again #1 p1 4.0 since 0:00:10 found 0:11:50\n"
                    "0:12:05 resolved entered no\n"
                    "0:12:05 deviation-opened no-good-reading #2\n");
    rig_free(rig);
}

static void
test_zone_deviation_says_which_probe_and_which_end_it_came_from(void **state)
{
    (void)state;
    struct rig *rig =
        rig_over(SHORT, "0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 65.0\n"
                        "0:01:10 p1 65.0\n0:01:10 p2 62.0\n0:01:20-0:11:00 p2 59.5\n0:11:10 "
                        "wait\n");
    rig_expect(rig, "0:06:10 gap-opened no-good-reading #1 p1 since 0:01:10 found 0:05:00\n"
                    "0:11:10 deviation-opened out-too-long #2 p2 59.5 since 0:01:20 found "
                    "0:10:00\n");
    struct engine_deviation_view views[2], view;
    assert_int_equal(engine_view_deviations(rig->engine, views, 2), 2);
    assert_int_equal(views[1].opened.required.milli, 60000); /* it came from the hot side */
    assert_int_equal(views[1].opened.limit, LIMIT_ZONE);
    assert_int_equal(views[1].opened.required_ms, 600000);
    rig_free(rig);
    rig = rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 4.0\n0:01:10-0:11:10 p1 "
                          "7.0\n0:11:10 wait\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_int_equal(view.opened.required.milli, 5000);
    rig_free(rig);
}

/* The batch ends while it is in between, exactly at its time and later. */
static void
test_zone_is_counted_to_the_end_of_the_batch(void **state)
{
    (void)state;
    struct rig *rig =
        rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20-0:05:00 p1 "
                        "7.0\n0:05:00 end served\n");
    rig_expect(rig, "");
    rig_free(rig);
    /* Unseen for exactly its time, and for a moment more. */
    rig = rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:10:10 end served\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n");
    rig_free(rig);
    rig = rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:10:10.001 end served\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
                    "0:10:10 inconclusive no-good-reading\n");
    rig_free(rig);
}

/* The second probe's last reading, cold, is as good after the move as before. */
static void
test_zone_goes_on_with_every_probe_that_stays(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:10 p1 6.0\n0:01:10 p2 "
           "4.0\n0:01:15 move after\n0:01:20 p1 4.0\n",
           20, 0, false);
}

/* The other probes were seen outside before the first came back; that takes no time back. */
static void
test_zone_counts_no_time_twice(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1 p2 p3\n0:00:10-0:01:00 p1,p2,p3 4.0\n0:01:10 p1 6.0\n0:01:11 "
           "p2 4.0\n0:01:12 p3 4.0\n0:01:20 p1 4.0\n0:01:21 p2 4.0\n0:01:25 p1 6.0\n",
           25, 0, true);
}

static void
story(const char *limit, const char *script, const char *log)
{
    struct rig *rig = rig_over(limit, script);
    rig_expect(rig, log);
    rig_free(rig);
}

/* A reading a millisecond before the time is over asks nobody anything. */
static void
test_zone_reading_just_before_the_time_is_over(void **state)
{
    (void)state;
    story(GUIDE,
          "0:00:00 begin dish p1\n0:00:10-3:59:50 p1 6.0\n3:59:59.999 p1 6.0\n4:00:00 wait\n"
          "4:00:00.001 wait\n",
          "4:00:00 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found 4:00:00\n");
}

/* Asked at the restart, not at the first reading after it. */
static void
test_zone_outage_that_is_too_long_is_asked_about_at_once(void **state)
{
    (void)state;
    story(GUIDE,
          "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 4.0\n5:00:00 restart 0:10:00\n5:00:10 p1 "
          "4.0\n",
          "5:00:00 inconclusive no-good-reading\n"
          "5:00:00 gap-opened outage #1 p1 since 0:10:00 found 4:50:00\n"
          "5:00:10 gap-ended good-again #1 p1 4.0 since 0:10:00 found 4:50:10\n");
}

/* And not again where it is a deviation already. */
static void
test_zone_that_was_too_long_is_not_told_again_after_an_outage(void **state)
{
    (void)state;
    story(GUIDE,
          "0:00:00 begin dish p1\n0:00:10-4:01:00 p1 6.0\n4:02:00 restart 4:01:00\n4:02:10 p1 "
          "6.0\n4:02:20 p1 4.0\n",
          "4:00:00 deviation-opened out-too-long #1 p1 6.0 since 0:00:10 found 4:00:00\n");
}

/* What nobody saw between the last reading and the end of the batch counts with the rest. */
static void
test_zone_unseen_until_the_end_of_the_batch(void **state)
{
    (void)state;
    static const char dark[] =
        "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 4.0\n3:59:50 p1 4.0\n";
    static const char gap[] =
        "0:15:00 gap-opened no-good-reading #1 p1 since 0:10:00 found 0:05:00\n"
        "3:59:50 gap-ended good-again #1 p1 4.0 since 0:10:00 found 3:49:50\n";
    char script[300], log[400];
    (void)snprintf(script, sizeof script, "%s4:00:00 end served\n", dark);
    story(GUIDE, script, gap); /* 3:50:00 in all */
    (void)snprintf(script, sizeof script,
                   "0:00:00 begin dish p1\n0:00:10 p1 4.0\n4:00:00 p1 4.0\n4:00:20.001 end "
                   "served\n");
    (void)snprintf(log, sizeof log,
                   "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
                   "4:00:00 gap-ended good-again #1 p1 4.0 since 0:00:10 found 3:59:50\n"
                   "4:00:20.001 inconclusive no-good-reading\n");
    story(GUIDE, script, log); /* 4:00:10.001 */
}

/* By hand, at the very instant at which the time is used up. */
static void
test_zone_by_hand_when_the_time_is_used_up(void **state)
{
    (void)state;
    static const char strict[] = "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, "
                                 "hot_at_least: 60 °C, within: 4 h, time_strict: yes}";
    story(strict, "0:00:00 begin dish\n0:00:00 hand 6.0\n4:00:00 hand 4.0\n",
          "4:00:00 deviation-opened out-too-long #1 6.0 since 0:00:00 found 4:00:00\n");
    story(strict, "0:00:00 begin dish\n0:00:00 hand 4.0\n4:00:00 hand 4.0\n",
          "4:00:00 inconclusive no-good-reading\n");
}

/* A person answers the question of the batch's life; the step has a deadline of its own. */
static void
test_zone_that_a_person_decides_leaves_the_step_its_deadline(void **state)
{
    (void)state;
    rig_life = "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, "
               "within: 2 min}";
    struct rig *rig =
        rig_new("{kind: cook, applies_to: food, at_least: 70 °C, within: 5 min}", NULL);
    rig_life = NULL;
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:04:00 wait\n");
    rig_expect(rig, "0:02:10 inconclusive no-good-reading\n");
    rig_play(rig, "0:04:10 decide yes\n");
    assert_int_equal(engine_due(rig->engine), rig_time("0:05:00"));
    rig->log_len = 0;
    rig_play(rig, "0:05:00 wait\n");
    rig_expect(rig, "0:05:00 deviation-opened too-late #1 since 0:00:00 found 0:05:00\n");
    rig_free(rig);
}

#define GUIDE_4H                                                                                \
    "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, within: " \
    "4 h}"

/* E159: of two probes one was dark for longer than the spacing; the other has been seen since.
 * Up to when both were seen again nobody knows. */
static void
test_zone_is_unseen_while_one_of_two_probes_was_dark(void **state)
{
    (void)state;
    rig_life = GUIDE_4H;
    struct rig *rig = rig_new(NULL, NULL);
    rig_life = NULL;
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 4.0\n0:00:30 p2 4.0\n0:00:50 p1 "
                  "4.0\n");
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 20000);
    rig_play(rig, "0:00:55 p2 4.0\n");
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 40000);
    rig_play(rig, "0:01:05 p1,p2 4.0\n");
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 40000);
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    rig_free(rig);
}

/* E163: after an outage the first reading joins what was judged as the program started. */
static void
test_zone_after_an_outage_is_seen_with_the_first_reading(void **state)
{
    (void)state;
    rig_life = GUIDE_4H;
    struct rig *rig = rig_new(NULL, NULL);
    rig_life = NULL;
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:02:10 restart 0:00:20\n0:02:20 p1 "
                  "4.0\n");
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 120000);
    rig_free(rig);
}

/* The probe that is read least often says how long may lie between readings, wherever it is in
 * the list. */
static void
test_zone_of_probes_that_are_read_unlike(void **state)
{
    (void)state;
    static const char kitchen[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")
        PLAN_PROBE("slow", "food", "rack", "1", "60 s")
            PLAN_PROBE("p3", "food", "rack", "2", "10 s") "places:\n"
                                                          "  - {id: shelf, name: Shelf, "
                                                          "limit: {kind: none}}\n"
                                                          "products:\n"
                                                          "  - id: dish\n"
                                                          "    name: Dish\n"
                                                          "    limit: " GUIDE_4H "\n"
                                                          "    steps: [{id: keep, name: "
                                                          "Keep, limit: {kind: none}}]\n";
    static const char *const orders[] = {"p1 slow p3", "slow p1 p3", "p1 p3 slow"};
    for (size_t i = 0; i < COUNT_OF(orders); i++) {
        struct rig *rig = rig_of(kitchen);
        char line[60];
        (void)snprintf(line, sizeof line, "0:00:00 begin dish %s\n", orders[i]);
        rig_play(rig, line);
        rig_play(rig, "0:00:10-0:01:00 p1,p3 4.0\n0:01:00 slow 4.0\n0:01:10-0:02:50 p1,p3 4.0\n"
                      "0:02:55 slow 4.0\n0:03:00 p1,p3 4.0\n");
        assert_int_equal(rig_batch(rig).zone_unknown_ms, 0);
        assert_int_equal(rig_batch(rig).zone_ms, 0);
        rig_free(rig);
    }
}

/* E155: gone at the very instant at which the time is used up, where less than it is allowed.
 */
static void
test_zone_left_at_the_end_of_its_time(void **state)
{
    (void)state;
    rig_life = "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, "
               "within: 2 min, time_strict: yes}";
    struct rig *rig = rig_new(NULL, NULL);
    rig_life = NULL;
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:50 p1 20.0\n0:02:00 end served\n");
    rig_expect(rig, "0:02:00 deviation-opened out-too-long #1 p1 20.0 since 0:00:10 found "
                    "0:02:00\n"
                    "0:02:00 deviation-ended batch-ended #1 found 0:02:00\n");
    rig_free(rig);
}

/* What was a question is one no longer once it is certain. */
static void
test_zone_that_is_certain_at_last_leaves_no_question(void **state)
{
    (void)state;
    rig_life = "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, "
               "within: 5 min}";
    struct rig *rig = rig_new(NULL, NULL);
    struct engine_undecided_view view;
    rig_life = NULL;
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:03:00-0:05:30 p1 20.0\n");
    assert_int_equal(engine_view_undecided(rig->engine, &view, 1), 1);
    rig_play(rig, "0:05:40-0:08:10 p1 20.0\n");
    assert_int_equal(engine_view_undecided(rig->engine, &view, 1), 0);
    assert_int_not_equal(rig_batch(rig).life_deviation, 0);
    rig_free(rig);
}

/* E159: what nobody has seen since is shown as unseen, from the reading before. */
static void
test_time_unseen_is_shown_when_a_reading_is_due(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1\n0:00:10-0:01:00 p1 4.0\n0:01:30 p2 4.0\n", 0, 0, false);
    counts("0:00:00 begin dish p1\n0:00:10-0:01:00 p1 4.0\n0:02:00 p2 4.0\n", 0, 60, false);
}

/* ---- what mutants have shown to be missing ---- */

/* Nothing sees food without a probe, not for a moment. */
static void
test_zone_without_a_probe_is_unseen_from_the_first_moment(void **state)
{
    (void)state;
    struct rig *rig = rig_over(GUIDE, "0:00:00 begin dish\n0:00:00.001 hand 20.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 1);
    rig_free(rig);
}

/* E157: one in between is enough, whatever the other one is not read yet. */
static void
test_zone_of_one_probe_in_between_and_one_unread(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:00:30 p1 20.0\n", 30, 0, true);
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:00:30 p2 20.0\n", 30, 0, true);
}

/* E158: put into cold food as its cooking begins, the probe is believed (E43): the food has
 * been in between from the one reading to the next, also when the first is one of the very
 * beginning or as an outage ends. */
static void
test_zone_from_hot_to_cold_in_a_row_has_been_in_between(void **state)
{
    (void)state;
    static const struct {
        const char *script;
        int64_t zone_ms, unknown_ms;
    } cases[] = {
        {"0:00:00 begin dish p1\n0:00:10 p1 65.0\n0:00:20 p1 4.0\n", 10000, 0},
        {"0:00:00 begin dish p1\n0:00:00 p1 65.0\n0:00:10 p1 4.0\n", 10000, 0},
        {"0:00:00 begin dish p1\n0:00:10 p1 65.0\n0:00:40.001 p1 4.0\n", 0, 30001},
        {"0:00:00 begin dish p1\n0:00:10 p1 65.0\n0:01:00 restart 0:00:20\n0:01:00 p1 "
         "65.0\n0:01:10 p1 4.0\n",
         10000, 50000},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        rig_life = GUIDE;
        struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 70 °C}", NULL);
        rig_life = NULL;
        rig_play(rig, cases[i].script);
        assert_int_equal(rig_batch(rig).zone_ms, cases[i].zone_ms);
        assert_int_equal(rig_batch(rig).zone_unknown_ms, cases[i].unknown_ms);
        rig_free(rig);
    }
}

/* E159: back outside while the other probe has not been seen for longer than the spacing. Where
 * that one was nobody knows until both are seen; from then on it is known again. */
static void
test_zone_left_while_the_other_probe_is_dark_is_unseen_until_it_is_seen(void **state)
{
    (void)state;
    static const char back[] =
        "0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:10-0:01:40 p1 6.0\n0:01:50 "
        "p1 4.0\n";
    char script[300];
    counts(back, 50, 0, false);
    (void)snprintf(script, sizeof script, "%s0:02:00-0:02:30 p1,p2 4.0\n", back);
    counts(script, 50, 10, false);
    (void)snprintf(script, sizeof script, "%s0:02:00 p1 6.0\n0:02:10 p1 6.0\n", back);
    counts(script, 60, 10, true); /* out and in again: it was unseen meanwhile */
}

/* E163: seen with its first reading after an outage also when it was not before it. */
static void
test_zone_that_was_unseen_before_an_outage_is_seen_after_it(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:10-0:01:40 p1 6.0\n"
           "0:01:50 p1 4.0\n0:03:00 restart 0:01:50\n0:03:10-0:03:30 p1,p2 4.0\n",
           50, 70, false);
    /* In between when last seen: in between until shown otherwise. */
    counts("0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 6.0\n0:01:30 restart "
           "0:00:30\n0:01:40-0:02:00 p1 4.0\n",
           30, 60, false);
    /* The second probe's last reading before it makes no dark of the time after it. */
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:03:00 restart "
           "0:01:00\n0:03:10-0:03:30 p1,p2 4.0\n",
           0, 120, false);
}

/* ---- other probes, E160 ---- */

static void
test_zone_of_other_probes_rests_on_what_they_themselves_have_shown(void **state)
{
    (void)state;
    /* Hot by p1, that is gone: of p2 in its place nothing is known. */
    counts("0:00:00 begin dish p1\n0:00:10-0:00:20 p1 65.0\n0:00:25 move after p2 "
           "p3\n0:00:30-0:00:40 p3 4.0\n",
           0, 0, false);
    /* p1 goes on, p3 is new in the place of one that was cold. */
    counts("0:00:00 begin dish p1 p2\n0:00:10 p1,p2 4.0\n0:00:20 p1 6.0\n0:00:20 p2 4.0\n"
           "0:00:25 move after p3 p1\n0:00:30-0:00:40 p1 4.0\n",
           30, 0, true);
    /* p2 goes on and was cold before the move; the food that p1 measured it has not seen. */
    counts("0:00:00 begin dish p1 p2\n0:00:10 p1,p2 4.0\n0:00:20 p1 6.0\n0:00:20 p2 4.0\n"
           "0:00:25 move after p2 p3\n0:00:30 p3 4.0\n0:00:40 p3 4.0\n",
           30, 0, true);
    /* Both go on, the second hot: between it and the cold one there is food in between. */
    counts("0:00:00 begin dish p1 p2\n0:00:10 p1 20.0\n0:00:10 p2 65.0\n0:00:12 p1 20.0\n"
           "0:00:15 move after\n0:00:20-0:00:30 p1 17.0 14.0\n",
           30, 0, true);
    counts("0:00:00 begin dish p1 p2\n0:00:10 p1 6.0\n0:00:10 p2 65.0\n0:00:15 move "
           "after\n0:00:20-0:00:30 p1 4.0\n",
           30, 0, true);
}

/* E161: read after it in the same instant, the probe has shown otherwise since. */
static void
test_zone_hand_reading_of_the_instant_of_a_reading(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 hand 20.0\n0:00:20 p1 4.0\n0:00:30 "
           "p1 4.0\n",
           10, 0, false);
}

/* ---- what is told ---- */

/* E159, E162: seen outside, it is seen so for a spacing, however little of its time is left;
 * then it may be in between, and that is asked at once. */
static void
test_zone_with_little_of_its_time_left_is_asked_about_after_a_spacing(void **state)
{
    (void)state;
    story(SHORT,
          "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:10:05 p1 4.0\n0:10:35 wait\n0:10:36 wait\n",
          "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
          "0:10:05 gap-ended good-again #1 p1 4.0 since 0:00:10 found 0:09:55\n"
          "0:10:35.001 inconclusive no-good-reading\n");
}

/* E41: a suspect reading can show it in between, and is told as what did. */
static void
test_zone_entered_by_a_suspect_reading_says_so(void **state)
{
    (void)state;
    struct rig *rig = rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 4.0\n0:06:10 "
                                      "p1 30.0\n");
    assert_int_equal(rig->quality, SUSPECT_LEFT_FOOD);
    assert_true(rig_batch(rig).in_zone);
    rig->log_len = 0;
    rig_play(rig, "0:06:20-0:16:00 p1 30.0\n0:16:00 wait\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:16:00 deviation-opened out-too-long"));
    assert_non_null(strstr(rig->log, "p1 30.0 since 0:06:10 found 0:10:00"));
    rig_free(rig);
}

/* What is thrown away asks nothing, though it may have been in between for too long. */
static void
test_zone_of_discarded_food_asks_nothing(void **state)
{
    (void)state;
    static const char *const ends[] = {"served", "discarded"};
    for (size_t i = 0; i < COUNT_OF(ends); i++) {
        char script[200], log[300];
        (void)snprintf(script, sizeof script,
                       "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:10:00 p1 4.0\n0:10:20.001 end "
                       "%s\n",
                       ends[i]);
        (void)snprintf(log, sizeof log,
                       "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
                       "0:10:00 gap-ended good-again #1 p1 4.0 since 0:00:10 found 0:09:50\n%s",
                       i == 0 ? "0:10:20.001 inconclusive no-good-reading\n" : "");
        story(SHORT, script, log);
    }
}

/* E158: seen no longer ago than the spacing, all of it was outside when the first probe was
 * back; from there it counts as that one goes in again. */
static void
test_zone_entered_again_counts_from_when_all_was_seen_outside(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1 p2\n0:00:10-0:01:00 p1,p2 4.0\n0:01:10 p1 6.0\n0:01:10 p2 "
           "4.0\n0:01:20-0:01:30 p1 6.0\n0:01:40 p1 4.0\n0:01:50 p1 6.0\n",
           50, 0, true);
}

/* E162: asked before, it is a deviation at the very instant at which the certain time is used
 * up, though a reading comes at that instant. */
static void
test_zone_that_was_asked_about_is_told_at_its_instant(void **state)
{
    (void)state;
    struct rig *rig = rig_over(SHORT, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:06:00-0:15:50 "
                                      "p1 20.0\n");
    rig->log_len = 0;
    rig_play(rig, "0:16:00 p1 20.0\n0:16:05 wait\n");
    rig_expect(rig, "0:16:00 deviation-opened out-too-long #2 p1 20.0 since 0:06:00 found "
                    "0:10:00\n");
    rig_free(rig);
}

/* E158, E160: hot by the probe before the move, cold by the next one two minutes later: it was
 * in between, and nobody knows for how long. */
static void
test_zone_crossed_while_no_probe_was_read_is_not_certain(void **state)
{
    (void)state;
    counts("0:00:00 begin dish p1\n0:00:10 p1 65.0\n0:00:15 move after p2\n0:02:00 p2 4.0\n", 0,
           110, false);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_zone_after_its_deviation_counts_what_is_so),
        cmocka_unit_test(test_zone_end_says_all_that_was_counted),
        cmocka_unit_test(test_zone_after_its_deviation_over_an_outage_and_by_hand),
        cmocka_unit_test(test_zone_any_of_several_probes_puts_the_food_there),
        cmocka_unit_test(test_zone_is_over_when_all_probes_are_seen_outside),
        cmocka_unit_test(
            test_zone_is_over_when_the_other_probe_was_seen_no_longer_ago_than_the_spacing),
        cmocka_unit_test(test_zone_cold_and_hot_at_once_whichever_comes_first),
        cmocka_unit_test(test_zone_of_the_dark_is_unseen_from_when_it_was_last_seen),
        cmocka_unit_test(test_zone_hand_reading_stands_until_every_probe_has_shown_otherwise),
        cmocka_unit_test(test_zone_deviation_found_by_hand_names_no_probe),
        cmocka_unit_test(test_zone_stays_where_it_was_until_other_probes_show_it),
        cmocka_unit_test(test_zone_that_unseen_time_may_have_used_up_is_asked_when_it_may),
        cmocka_unit_test(test_zone_that_a_person_does_not_accept_is_a_deviation),
        cmocka_unit_test(test_zone_deviation_says_which_probe_and_which_end_it_came_from),
        cmocka_unit_test(test_zone_is_counted_to_the_end_of_the_batch),
        cmocka_unit_test(test_zone_goes_on_with_every_probe_that_stays),
        cmocka_unit_test(test_zone_counts_no_time_twice),
        cmocka_unit_test(test_zone_reading_just_before_the_time_is_over),
        cmocka_unit_test(test_zone_outage_that_is_too_long_is_asked_about_at_once),
        cmocka_unit_test(test_zone_that_was_too_long_is_not_told_again_after_an_outage),
        cmocka_unit_test(test_zone_unseen_until_the_end_of_the_batch),
        cmocka_unit_test(test_zone_by_hand_when_the_time_is_used_up),
        cmocka_unit_test(test_zone_that_a_person_decides_leaves_the_step_its_deadline),
        cmocka_unit_test(test_zone_is_unseen_while_one_of_two_probes_was_dark),
        cmocka_unit_test(test_zone_after_an_outage_is_seen_with_the_first_reading),
        cmocka_unit_test(test_zone_of_probes_that_are_read_unlike),
        cmocka_unit_test(test_zone_left_at_the_end_of_its_time),
        cmocka_unit_test(test_zone_that_is_certain_at_last_leaves_no_question),
        cmocka_unit_test(test_time_unseen_is_shown_when_a_reading_is_due),
        cmocka_unit_test(test_zone_without_a_probe_is_unseen_from_the_first_moment),
        cmocka_unit_test(test_zone_of_one_probe_in_between_and_one_unread),
        cmocka_unit_test(test_zone_from_hot_to_cold_in_a_row_has_been_in_between),
        cmocka_unit_test(
            test_zone_left_while_the_other_probe_is_dark_is_unseen_until_it_is_seen),
        cmocka_unit_test(test_zone_that_was_unseen_before_an_outage_is_seen_after_it),
        cmocka_unit_test(test_zone_of_other_probes_rests_on_what_they_themselves_have_shown),
        cmocka_unit_test(test_zone_hand_reading_of_the_instant_of_a_reading),
        cmocka_unit_test(test_zone_with_little_of_its_time_left_is_asked_about_after_a_spacing),
        cmocka_unit_test(test_zone_entered_by_a_suspect_reading_says_so),
        cmocka_unit_test(test_zone_of_discarded_food_asks_nothing),
        cmocka_unit_test(test_zone_entered_again_counts_from_when_all_was_seen_outside),
        cmocka_unit_test(test_zone_that_was_asked_about_is_told_at_its_instant),
        cmocka_unit_test(test_zone_crossed_while_no_probe_was_read_is_not_certain),
    };
    return cmocka_run_group_tests_name("engine zones", tests, NULL, NULL);
}
