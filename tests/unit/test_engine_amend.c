/* Corrections of steps that began by themselves: docs/engine.md E179 to E181. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define COOL_STEP                                                                              \
    "{kind: cook, applies_to: food, at_least: 74 °C}}\n"                                      \
    "      - {id: cool, name: Cool, begins: by_itself, begins_on: [p1], limit:\n"              \
    "          {kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 "  \
    "h}, {to: 5 °C, within: 6 h}]}"

/* The batch is record 3, its automatic move record 4; the clock counts from 1:00:00. */
#define COOLING                                                                                \
    "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n0:06:00-0:30:00 p1 76.0 "            \
    "80.0\n0:30:10-1:00:00 p1 79.9 57.2\n1:00:10-1:10:00 p1 56.9 55.0\n"

#define BEGUN                                                                                  \
    "0:05:10 limit-met reached p1 74.117 since 0:05:10\n"                                      \
    "1:01:10.001 step-begun by-itself p1 56.707\n"                                             \
    "1:01:10.001 clock-started fell-through-start since 1:00:00\n"

static struct rig *
cooling(void)
{
    struct rig *rig = rig_new(COOL_STEP, NULL);
    rig_play(rig, COOLING);
    rig_expect(rig, BEGUN);
    return rig;
}

static size_t
waiting(const struct rig *rig, struct engine_undecided_view *ret)
{
    struct engine_undecided_view views[8];
    size_t count = engine_view_undecided(rig->engine, views, 8);
    *ret = views[0];
    return count;
}

/* ---- E179: another time ---- */

static void
test_earlier_clock_holds_at_once_and_can_make_a_stage_late(void **state)
{
    (void)state;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:10-2:50:00 p1 55.0 21.0\n");
    rig_expect(rig, "2:50:00 limit-met reached stage 1 p1 21.0 since 1:00:00 found 1:50:00\n");
    rig_play(rig, "2:50:05 correct 4 at 0:50:01\n"); /* 1:59:59 */
    rig_expect(rig, "2:50:05 step-corrected entered since 0:50:01\n");
    rig_play(rig, "2:50:06 correct 4 at 0:49:59\n"); /* 2:00:01 */
    rig_expect(rig, "2:50:06 step-corrected entered since 0:49:59\n"
                    "2:50:06 deviation-opened too-late #1 stage 1 p1 21.0 since 0:49:59 found "
                    "2:00:07\n"
                    "2:50:06 deviation-ended reached #1 stage 1 since 0:49:59 found 2:00:07\n");
    rig_play(rig, "2:50:10-6:30:00 p1 21.0 5.1\n6:50:00 wait\n");
    rig->log[rig->log_len] = '\0'; /* the second stage's deadline has moved as well */
    assert_non_null(
        strstr(rig->log, "6:49:59 deviation-opened too-late #3 of #2 silent stage 2"));
    rig_free(rig);
}

static void
test_later_clock_that_takes_a_deviation_away_waits_for_another_person(void **state)
{
    (void)state;
    struct engine_undecided_view view;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:10-3:00:10 p1 55.0 23.0\n3:00:20-3:10:00 p1 22.9 21.0\n");
    rig_expect(rig, "3:00:00 deviation-opened too-late #1 stage 1 p1 23.049 since 1:00:00 "
                    "found 2:00:00\n"
                    "3:10:00 deviation-ended reached #1 stage 1 p1 21.0 since 1:00:00 found "
                    "2:10:00\n");
    rig_play(rig, "3:10:05 correct 4 at 1:15:00\n");
    rig_expect(rig, "3:10:05 correction-waits entered since 1:15:00\n");
    assert_int_equal(waiting(rig, &view), 1);
    assert_int_equal(view.said.kind, DECISION_CORRECTION_WAITS);
    assert_string_equal(view.who, "AB");
    struct engine_deviation_view deviation;
    assert_int_equal(engine_view_deviations(rig->engine, &deviation, 1), 1);

    rig_play(rig, "3:10:06 confirm yes AB refused\n");
    assert_non_null(strstr(rig->refusal, "another person has to"));
    rig_play(rig, "3:10:06 correct 4 at 1:16:00 refused\n");
    assert_non_null(strstr(rig->refusal, "by AB waits already"));
    rig_play(rig, "3:10:07 confirm yes VK\n");
    rig_expect(rig,
               "3:10:07 step-corrected confirmed since 1:15:00\n"
               "3:10:07 deviation-withdrawn corrected #1 stage 1 p1 23.049 since 1:00:00\n");
    assert_int_equal(waiting(rig, &view), 0);
    assert_int_equal(engine_view_deviations(rig->engine, &deviation, 1), 0);
    rig_play(rig, "3:10:10-7:14:00 p1 21.0 5.0\n");
    rig_expect(rig, "7:14:00 limit-met reached stage 2 p1 5.0 since 1:15:00 found 5:59:00\n");
    rig_free(rig);
}

/* A deviation that would come is as good as one that has: also waits. */
static void
test_later_clock_while_the_stage_is_open_waits(void **state)
{
    (void)state;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:05 correct 4 at 1:05:00\n1:10:06 confirm no AB\n");
    rig_expect(rig, "1:10:05 correction-waits entered since 1:05:00\n"
                    "1:10:06 correction-dropped declined since 1:05:00\n");
    struct engine_undecided_view view;
    assert_int_equal(waiting(rig, &view), 0);
    /* Declined, it leaves room for another. */
    rig_play(rig, "1:10:07 correct 4 at 1:04:00\n1:10:08 confirm no SB\n");
    rig_expect(rig, "1:10:07 correction-waits entered since 1:04:00\n"
                    "1:10:08 correction-dropped declined since 1:04:00\n");
    rig_play(rig, "1:10:10-3:00:00 p1 55.0 21.1\n3:00:00 wait\n");
    rig_expect(rig, "3:00:00 deviation-opened too-late #1 stage 1 p1 21.1 since 1:00:00 found "
                    "2:00:00\n");
    rig_free(rig);
}

/* Not confirmed, it is as if it had not been said: the deadline does not wait. */
static void
test_correction_that_waits_stops_no_clock(void **state)
{
    (void)state;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:05 correct 4 withdraw\n1:10:10-3:00:10 p1 55.0 30.0\n");
    rig_expect(rig, "1:10:05 correction-waits entered\n"
                    "3:00:00 deviation-opened too-late #1 stage 1 p1 30.038 since 1:00:00 "
                    "found 2:00:00\n");
    rig_play(rig, "3:00:15 end served\n");
    rig_expect(rig, "3:00:15 correction-dropped batch-ended\n"
                    "3:00:15 deviation-ended batch-ended #1 stage 1 since 1:00:00 found "
                    "2:00:15\n");
    rig_free(rig);
}

/* ---- E180: it did not begin ---- */

static void
test_withdrawn_step_goes_back_and_its_deviations_are_withdrawn(void **state)
{
    (void)state;
    struct engine_batch_view batch;
    struct rig *rig = cooling();
    rig_play(rig,
             "1:10:10-3:00:10 p1 55.0 30.0\n3:00:15 correct 4 withdraw\n3:00:16 confirm yes "
             "SB\n");
    rig_expect(rig,
               "3:00:00 deviation-opened too-late #1 stage 1 p1 30.038 since 1:00:00 found "
               "2:00:00\n"
               "3:00:15 correction-waits entered\n"
               "3:00:16 step-withdrawn confirmed\n"
               "3:00:16 deviation-ended corrected #1 stage 1 p1 30.038 since 1:00:00\n"
               "3:00:16 deviation-withdrawn corrected #1 stage 1 p1 30.038 since 1:00:00\n");
    assert_int_equal(engine_view_batches(rig->engine, &batch, 1), 1);
    assert_int_equal(batch.step, 0);
    assert_int_equal(batch.verdict, VERDICT_MET); /* E11: it was cooked */
    assert_int_equal(batch.auto_seq, 0);
    /* It begins anew only when it has been hot again. */
    rig_play(rig,
             "3:00:20-3:20:00 p1 30.0\n3:20:10-3:30:00 p1 30.0 60.0\n3:30:10-3:40:00 p1 59.9 "
             "57.1\n3:40:10-3:41:10 p1 56.9\n");
    rig_expect(rig, "3:41:10.001 step-begun by-itself p1 56.9\n"
                    "3:41:10.001 clock-started fell-through-start since 3:40:00\n");
    rig_free(rig);
}

/* A verdict of the cooling that waits for a person is dropped with it; another batch's is not.
 */
static void
test_withdrawn_step_takes_its_question_with_it(void **state)
{
    (void)state;
    struct engine_undecided_view view;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:05 begin dish step=cool p2\n1:10:10 p2 20.0\n");
    rig_expect(rig, "1:10:10 inconclusive probe-late batch 2 p2 20.0\n");
    rig_play(rig, "3:30:00 restart 2:00:00\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "inconclusive outage stage 1"));
    rig->log_len = 0;
    rig_play(rig, "3:30:05 correct 4 withdraw\n3:30:06 confirm yes SB\n");
    rig_expect(rig, "3:30:05 correction-waits entered\n3:30:06 step-withdrawn confirmed\n");
    assert_int_equal(waiting(rig, &view), 1);
    assert_int_equal(view.said.batch, 2);
    rig_free(rig);
}

/* Washing up: a batch that was none, seen before its clock runs, is withdrawn by one person. */
static void
test_withdrawn_batch_was_none(void **state)
{
    (void)state;
    struct engine_batch_view batch;
    struct rig *rig = rig_new(COOL_STEP, NULL);
    rig->all = true;
    rig_play(rig,
             "0:00:00-0:05:00 p1 20.0\n0:05:10-0:07:00 p1 65.0\n0:07:05 correct 3 withdraw\n");
    rig_expect(rig, "0:06:10.001 step-begun by-itself p1 65.0\n"
                    "0:07:05 step-withdrawn entered\n0:07:05 batch-ended corrected\n");
    assert_int_equal(engine_view_batches(rig->engine, &batch, 1), 0);
    /* Still in the hot water: no new batch until it has been cold. */
    rig_play(rig, "0:07:10-0:20:00 p1 65.0\n");
    rig_expect(rig, "");
    rig_free(rig);
}

/* ---- what can be corrected ---- */

static void
test_refusals_say_what_to_do(void **state)
{
    (void)state;
    static const struct {
        const char *line, *told;
    } cases[] = {
        {"1:10:05 correct 3 withdraw refused\n", "record 3 is no step that began by itself"},
        {"1:10:05 correct 4 at 1:12:00 refused\n", "still to come"},
        {"1:10:05 confirm yes VK refused\n", "no correction of batch 1 waits"},
        {"1:10:05 end served\n1:10:06 confirm yes VK refused\n",
         "no correction of batch 1 waits"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct rig *rig = cooling();
        rig_play(rig, cases[i].line);
        if (!strstr(rig->refusal, cases[i].told))
            fail_msg("'%s': %s", cases[i].line, rig->refusal);
        rig_free(rig);
    }
}

/* What the socket can say and the command cannot. */
static void
test_time_and_withdrawal_are_bounded(void **state)
{
    (void)state;
    struct rig *rig = cooling();
    struct entry entry;
    char told[300];
    entry_clear(&entry, ENTRY_CORRECT);
    snprintf(entry.who, sizeof entry.who, "AB");
    snprintf(entry.reason, sizeof entry.reason, "why");
    entry.refers = 4;
    entry.given_ms = RIG_BASE_MS; /* the first record */
    assert_true(engine_check(rig->engine, &entry, told, sizeof told));
    entry.given_ms = RIG_BASE_MS - 1;
    assert_false(engine_check(rig->engine, &entry, told, sizeof told));
    assert_non_null(strstr(told, "no records of that time"));
    entry.given_ms = rig_time("1:11:00"); /* the last input is a minute older */
    assert_true(engine_check(rig->engine, &entry, told, sizeof told));
    entry.given_ms++;
    assert_false(engine_check(rig->engine, &entry, told, sizeof told));
    assert_non_null(strstr(told, "still to come"));
    entry.given_ms = RIG_BASE_MS;
    entry.withdraw = true;
    assert_false(engine_check(rig->engine, &entry, told, sizeof told));
    assert_non_null(strstr(told, "not both"));
    entry.withdraw = false;
    entry.has_temp = true;
    assert_false(engine_check(rig->engine, &entry, told, sizeof told));
    assert_non_null(strstr(told, "no temperature"));
    rig_free(rig);
}

/* The new deadline is told at its own instant, without a reading. */
static void
test_corrected_clock_has_its_own_deadline(void **state)
{
    (void)state;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:05 correct 4 at 0:50:00\n2:50:00 wait\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "2:50:00 deviation-opened too-late"));
    rig_free(rig);
}

static void
test_step_that_is_over_cannot_be_corrected(void **state)
{
    (void)state;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:05 move\n1:10:06 correct 4 withdraw refused\n");
    assert_non_null(strstr(rig->refusal, "still runs"));
    rig_free(rig);
}

/* It has had its time and was late; that is not withdrawn by one person. */
static void
test_withdrawing_a_cooling_that_was_late_waits_although_it_is_over(void **state)
{
    (void)state;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:10-3:00:10 p1 55.0 23.0\n3:00:20-3:10:00 p1 22.9 21.0\n3:10:10-6:00:00 "
                  "p1 20.9 5.0\n6:00:05 correct 4 withdraw\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "6:00:05 correction-waits entered\n"));
    rig_free(rig);
    rig = cooling(); /* in time all along, it is nobody's gain */
    rig_play(rig,
             "1:10:10-2:50:00 p1 55.0 21.0\n2:50:10-6:00:00 p1 20.9 5.0\n6:00:05 correct 4 "
             "withdraw\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "6:00:05 step-withdrawn entered\n"));
    rig_free(rig);
}

/* What waits has no step any more when the batch moves on, or ends. */
static void
test_correction_that_waits_is_dropped_with_its_step(void **state)
{
    (void)state;
    static const char *const ways[] = {"1:20:00 move\n", "1:20:00 end discarded\n"};
    for (size_t i = 0; i < 2; i++) {
        struct rig *rig = cooling();
        struct engine_undecided_view view;
        rig_play(rig, "1:10:05 correct 4 withdraw\n");
        rig_play(rig, ways[i]);
        rig->log[rig->log_len] = '\0';
        assert_non_null(strstr(rig->log, "1:20:00 correction-dropped batch-ended\n"));
        assert_int_equal(waiting(rig, &view), 0);
        rig_free(rig);
    }
}

/* A person's batch, and another person's, stand beside it. */
static void
test_only_the_step_that_the_record_began_is_corrected(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL_STEP, NULL);
    rig_play(rig,
             "0:00:00 begin dish p2\n0:00:00 begin dish p1\n0:00:00 begin dish p3\n"
             "0:00:10-0:05:50 p1 60.0 76.0\n0:06:00-0:30:00 p1 76.0 80.0\n0:30:10-1:00:00 p1 "
             "79.9 57.2\n1:00:10-1:10:00 p1 56.9 55.0\n1:10:05 correct 6 at 0:50:00\n");
    struct engine_batch_view views[3];
    assert_int_equal(engine_view_batches(rig->engine, views, 3), 3);
    assert_int_equal(views[1].clock_start_ms, rig_time("0:50:00"));
    assert_int_equal(views[0].step, 0);
    assert_int_equal(views[1].step, 1);
    assert_int_equal(views[2].step, 0);
    assert_int_equal(views[0].auto_seq, 0);
    assert_int_equal(views[1].auto_seq, 6);
    rig_free(rig);
}

/* Cooled before, late, heated again and cooled again by itself: the first cooling stays late.
 */
static void
test_withdrawn_cooling_takes_no_earlier_deviation_with_it(void **state)
{
    (void)state;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:10-3:00:10 p1 55.0 23.0\n3:00:20 move first\n3:00:30-3:20:00 p1 23.0 "
                  "80.0\n3:20:10-3:50:00 p1 79.9 57.1\n3:50:10-3:52:00 p1 56.9 56.5\n");
    struct engine_deviation_view deviations[4];
    size_t before = engine_view_deviations(rig->engine, deviations, 4);
    assert_true(before > 0);
    assert_int_equal(deviations[0].opened.limit, LIMIT_COOL);
    uint64_t record = rig_batch(rig).auto_seq;
    assert_int_not_equal(record, 0);
    rig_play(rig, "3:52:05 action 1 AB\n");
    char line[60];
    (void)snprintf(line, sizeof line, "3:52:06 correct %d withdraw\n3:52:07 confirm yes SB\n",
                   (int)record);
    rig_play(rig, line);
    assert_int_equal(rig_batch(rig).step, 0);
    assert_int_equal(engine_view_deviations(rig->engine, deviations, 4), before);
    assert_int_equal(deviations[0].number, 1);
    rig_free(rig);
}

/* It was resting when its cooling began; that is where it is again. */
static void
test_withdrawn_step_goes_back_to_the_step_it_came_from(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
                "      - {id: rest, name: Rest, limit: {kind: none}}\n"
                "      - {id: cool, name: Cool, begins: by_itself, begins_on: [p1], "
                "limit: {kind: cool, applies_to: food, from: 57 °C, stages: [{to: "
                "21 °C, within: 2 h}]}",
                NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n0:06:00-0:30:00 "
                  "p1 76.0 80.0\n0:30:05 move\n0:30:10-1:00:00 p1 79.9 "
                  "57.2\n1:00:10-1:10:00 p1 56.9 55.0\n");
    assert_int_equal(rig_batch(rig).step, 2);
    rig_play(rig, "1:10:05 correct 5 withdraw\n1:10:06 confirm yes SB\n");
    assert_int_equal(rig_batch(rig).step, 1);
    assert_int_equal(rig_batch(rig).probe_count, 1);
    rig_free(rig);
}

static void
test_sole_operator_confirms_alone(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL_STEP, NULL);
    rig->next_plan = rig_plan(COOL_STEP, NULL, "sole");
    rig_play(rig,
             "0:00:00 plan new\n" COOLING "1:10:05 correct 5 withdraw\n1:10:06 confirm yes "
             "AB\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "1:10:06 step-withdrawn confirmed\n"));
    rig_free(rig);
}

static void
test_state_saved_while_it_waits_changes_nothing(void **state)
{
    (void)state;
    static const char *const lines[] = {
        "1:10:10-3:00:10 p1 55.0 23.0\n", "3:00:20-3:10:00 p1 22.9 21.0\n",
        "3:10:05 correct 4 at 1:15:00\n", "3:10:07 confirm yes VK\n",
        "3:10:10-7:16:00 p1 21.0 5.1\n",
    };
    struct rig *whole = cooling(), *loaded = cooling();
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        rig_play(whole, lines[i]);
        rig_play(loaded, lines[i]);
        rig_reload(loaded);
    }
    whole->log[whole->log_len] = '\0';
    assert_non_null(strstr(whole->log, "7:15:00 deviation-opened too-late #2 stage 2"));
    rig_expect(loaded, whole->log);
    rig_free(whole);
    rig_free(loaded);
}

/* What waits is shown of every batch, the last one too, as far as there is room. */
static void
test_what_waits_is_shown_of_the_last_batch(void **state)
{
    (void)state;
    struct engine_undecided_view views[2];
    struct rig *rig = rig_new(COOL_STEP, NULL);
    rig_play(rig, "0:00:00 begin dish p2\n" COOLING "1:10:05 correct 5 at 1:00:30\n");
    assert_string_equal(rig->refusal, "");
    assert_int_equal(engine_view_undecided(rig->engine, views, 1), 1);
    assert_int_equal(views[0].said.kind, DECISION_CORRECTION_WAITS);
    assert_int_equal(views[0].said.batch, 2);
    assert_string_equal(views[0].said.step, "cool");
    assert_int_equal(engine_view_undecided(rig->engine, views, 2), 1);
    assert_int_equal(engine_view_undecided(rig->engine, views, 0), 0);
    rig_free(rig);
    rig = rig_new(COOL_STEP, NULL); /* not cooked: a person is asked whether it cools */
    rig_play(rig, "0:00:00 begin dish p2\n0:00:00 begin dish p1\n0:00:10-0:10:00 p1 60.0 "
                  "70.0\n0:10:10-0:20:00 p1 70.0 55.0\n");
    assert_int_equal(engine_view_undecided(rig->engine, views, 1), 1);
    assert_int_equal(views[0].said.kind, DECISION_ASKED);
    assert_int_equal(views[0].said.batch, 2);
    assert_int_equal(engine_view_undecided(rig->engine, views, 2), 1);
    assert_int_equal(engine_view_undecided(rig->engine, views, 0), 0);
    rig_free(rig);
}

/* ---- what a withdrawn beginning leaves behind ---- */

static void
day(struct rig *rig, const char *at, const char *which)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_DAY);
    (void)snprintf(entry.day, sizeof entry.day, "%s", which);
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
}

/* The step it goes back to has a place and a date; its probe is still as silent as it was, and
 * a person has brought it there: a fall is that of a probe put into cold food (E43). */
static void
test_withdrawn_step_is_back_where_it_was(void **state)
{
    (void)state;
    static const char step[] =
        "{kind: cook, applies_to: food, at_least: 74 °C}, place: shelf}\n"
        "      - {id: cool, name: Cool, begins: by_itself, begins_on: [p1], place: fridge, "
        "limit:\n          {kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, "
        "within: 2 h}]}";
    rig_life = "{kind: none}\n    date_mark: {kind: date_mark, applies_to: food, days: 7}";
    struct rig *rig = rig_new(step, "{kind: none}, freezer: yes");
    rig_life = NULL;
    day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, COOLING);
    assert_string_equal(rig_batch(rig).place, "fridge");
    assert_true(rig_batch(rig).mark.frozen);
    rig_play(rig, "1:13:00 correct 5 withdraw\n1:13:01 confirm yes SB\n");
    assert_string_equal(rig_batch(rig).place, "shelf");
    assert_false(rig_batch(rig).mark.frozen);
    rig->log_len = 0;
    rig_play(rig, "1:13:30 p1 55.0\n1:14:00 p1 20.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_free(rig);
    rig = rig_new(COOL_STEP, NULL);
    rig_play(rig, COOLING "1:13:00 correct 4 withdraw\n1:13:01 confirm yes SB\n");
    assert_int_equal(engine_due(rig->engine), rig_time("1:15:00")); /* silent since 1:10:00 */
    rig_free(rig);
}

/* A batch that was none ends with all that was said of it. */
static void
test_withdrawn_batch_takes_its_deviations_with_it(void **state)
{
    (void)state;
    rig_life = "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 75 °C, "
               "within: 2 min}\n    date_mark: {kind: date_mark, applies_to: food, days: 1}";
    struct rig *rig = rig_new(COOL_STEP, NULL);
    rig_life = NULL;
    day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n0:05:10-0:09:00 p1 65.0\n");
    day(rig, "0:09:05", "2026-03-02");
    rig->log_len = 0;
    rig_play(rig, "0:09:10 correct 4 withdraw\n");
    rig_expect(rig, "0:09:10 step-withdrawn entered\n"
                    "0:09:10 deviation-ended batch-ended #1 found 0:02:59.999\n"
                    "0:09:10 batch-ended corrected\n"
                    "0:09:10 deviation-ended corrected #2 2026-03-01 found 48:00:00\n");
    rig_free(rig);
}

/* It was there all the same: whatever it was, it left a place that was too warm. */
static void
test_withdrawn_batch_was_in_its_place(void **state)
{
    (void)state;
    struct rig *rig = rig_new(
        COOL_STEP ", place: fridge",
        "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 5 min, back_for: 1 min}");
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n0:05:00 a1 9.0\n0:05:10-0:07:00 p1 65.0\n"
                  "0:07:05 correct 3 withdraw\n0:10:10 wait\n");
    struct engine_deviation_view view;
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_int_equal(view.food_count, 1);
    assert_int_equal(view.food[0], 1);
    rig_free(rig);
}

/* Of several deviations that of the cooling is withdrawn, whatever was told before it. */
static void
test_later_clock_withdraws_its_own_deviation_and_no_other(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL_STEP, NULL);
    rig_play(rig, "0:00:00 begin dish p2\n0:00:00 end stored\n" COOLING
                  "1:10:10-3:00:10 p1 55.0 22.0\n");
    rig->log_len = 0;
    rig_play(rig, "3:00:15 correct 6 at 1:05:00\n3:00:16 confirm yes SB batch=2\n");
    rig_expect(rig,
               "3:00:15 correction-waits entered batch 2 since 1:05:00\n"
               "3:00:16 step-corrected confirmed batch 2 since 1:05:00\n"
               "3:00:16 deviation-ended corrected #2 batch 2 stage 1 p1 22.05 since 1:00:00\n"
               "3:00:16 deviation-withdrawn corrected #2 batch 2 stage 1 p1 22.05 since "
               "1:00:00\n");
    rig_free(rig);
}

/* Earlier is never in the food's favour, whatever has been told of it already. */
static void
test_earlier_clock_of_a_cooling_that_is_late_holds_at_once(void **state)
{
    (void)state;
    struct rig *rig = cooling();
    rig_play(rig, "1:10:10-3:00:10 p1 55.0 23.0\n");
    rig->log_len = 0;
    rig_play(rig, "3:00:15 correct 4 at 0:55:00\n");
    rig_expect(rig, "3:00:15 step-corrected entered since 0:55:00\n");
    rig_free(rig);
}

/* Of several deviations the second is the cooling's: it is withdrawn with it. */
static void
test_withdrawn_cooling_takes_its_deviation_with_it_behind_another(void **state)
{
    (void)state;
    struct engine_deviation_view views[3];
    struct rig *rig = rig_new(COOL_STEP, NULL);
    rig_play(rig, "0:00:00 begin dish p2\n0:00:00 end stored\n" COOLING
                  "1:10:10-3:00:10 p1 55.0 22.0\n");
    assert_int_equal(engine_view_deviations(rig->engine, views, 3), 2);
    rig_play(rig, "3:00:15 correct 6 withdraw\n3:00:16 confirm yes SB batch=2\n");
    assert_int_equal(engine_view_deviations(rig->engine, views, 3), 1);
    assert_int_equal(views[0].opened.batch, 1);
    rig_free(rig);
}

static void
test_withdrawn_step_takes_the_only_question_with_it(void **state)
{
    (void)state;
    struct engine_undecided_view views[2];
    struct rig *rig = cooling();
    rig_play(rig, "3:30:00 restart 2:00:00\n");
    assert_int_equal(engine_view_undecided(rig->engine, views, 2), 1);
    rig_play(rig, "3:30:05 correct 4 withdraw\n3:30:06 confirm yes SB\n");
    assert_int_equal(engine_view_undecided(rig->engine, views, 2), 0);
    rig_free(rig);
}

/* A first stage so short that it was late before anybody could be sure that the food cools. */
static void
test_withdrawn_cooling_takes_with_it_what_opened_as_it_began(void **state)
{
    (void)state;
    struct engine_deviation_view view;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
                              "      - {id: cool, name: Cool, begins: by_itself, begins_on: "
                              "[p1], limit:\n"
                              "          {kind: cool, applies_to: food, from: 57 °C, stages: "
                              "[{to: 40 °C, within: 1 min}, {to: 5 °C, within: 6 h}]}",
                              NULL);
    rig_play(rig, COOLING);
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_int_equal(view.opened.at_ms, rig_time("1:01:10.001"));
    rig_play(rig, "1:10:05 correct 4 withdraw\n1:10:06 confirm yes SB\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 0);
    rig_free(rig);
}

/* The cooling that began by itself may not be cooled again, and a person is asked; that it did
 * not begin at all answers the question. */
static void
test_withdrawn_batch_answers_what_was_asked_of_it(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
                "      - {id: cool, name: Cool, begins: by_itself, begins_on: "
                "[p1], limit:\n"
                "          {kind: cool, applies_to: food, from: 57 °C, "
                "stages: [{to: 21 °C, within: 2 h}]}}\n"
                "      - {id: again, name: Again, begins: by_itself, limit:\n"
                "          {kind: cool, applies_to: food, from: 20 °C, once: yes, stages: "
                "[{to: 5 °C, within: 2 h}]}",
                NULL);
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n0:05:10-0:08:00 p1 80.0\n0:08:10-0:30:00 p1 80.0 "
                  "57.1\n0:30:10-0:40:00 p1 56.9 45.0\n0:40:10-1:10:00 p1 45.0 30.0\n"
                  "1:10:10-1:40:00 p1 30.0 19.0\n1:40:15 correct 3 withdraw\n");
    rig_expect(rig, "0:06:10.001 step-begun by-itself p1 80.0\n"
                    "0:30:10 clock-started fell-through-start p1 56.9 since 0:30:00\n"
                    "1:34:40 limit-met reached stage 1 p1 20.967 since 0:30:00 found 1:04:40\n"
                    "1:38:20 asked ambiguous p1 19.615 since 1:37:10\n"
                    "1:40:15 step-withdrawn entered\n"
                    "1:40:15 answered corrected\n"
                    "1:40:15 batch-ended corrected\n");
    rig_free(rig);
}

/* E194: what it had once before stays had, when a later cooling turns out to be none. */
static void
test_withdrawn_cooling_leaves_the_one_before_it_done(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cool, applies_to: food, from: 57 °C, once: yes, stages: "
                              "[{to: 21 °C, within: 2 h}]}}\n"
                              "      - {id: rest, name: Rest, limit: {kind: none}}\n"
                              "      - {id: cool, name: Cool, begins: by_itself, limit:\n"
                              "          {kind: cool, applies_to: food, from: 57 °C, stages: "
                              "[{to: 21 °C, within: 2 h}]}",
                              NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 60.0 20.0\n1:00:05 move rest\n"
                  "1:00:10-1:30:00 p1 20.0 80.0\n1:30:10-2:00:00 p1 80.0 55.0\n");
    assert_string_equal(rig_batch(rig).product->steps[rig_batch(rig).step].id, "cool");
    rig_play(
        rig,
        "2:00:05 correct 5 withdraw\n2:00:06 confirm yes SB\n2:00:07 move first refused\n");
    assert_non_null(strstr(rig->refusal, "batch 1 has been cooled already"));
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_earlier_clock_holds_at_once_and_can_make_a_stage_late),
        cmocka_unit_test(test_later_clock_that_takes_a_deviation_away_waits_for_another_person),
        cmocka_unit_test(test_later_clock_while_the_stage_is_open_waits),
        cmocka_unit_test(test_correction_that_waits_stops_no_clock),
        cmocka_unit_test(test_withdrawn_step_goes_back_and_its_deviations_are_withdrawn),
        cmocka_unit_test(test_withdrawn_step_takes_its_question_with_it),
        cmocka_unit_test(test_withdrawn_batch_was_none),
        cmocka_unit_test(test_refusals_say_what_to_do),
        cmocka_unit_test(test_time_and_withdrawal_are_bounded),
        cmocka_unit_test(test_corrected_clock_has_its_own_deadline),
        cmocka_unit_test(test_step_that_is_over_cannot_be_corrected),
        cmocka_unit_test(test_withdrawing_a_cooling_that_was_late_waits_although_it_is_over),
        cmocka_unit_test(test_correction_that_waits_is_dropped_with_its_step),
        cmocka_unit_test(test_only_the_step_that_the_record_began_is_corrected),
        cmocka_unit_test(test_withdrawn_cooling_takes_no_earlier_deviation_with_it),
        cmocka_unit_test(test_withdrawn_step_goes_back_to_the_step_it_came_from),
        cmocka_unit_test(test_sole_operator_confirms_alone),
        cmocka_unit_test(test_state_saved_while_it_waits_changes_nothing),
        cmocka_unit_test(test_what_waits_is_shown_of_the_last_batch),
        cmocka_unit_test(test_withdrawn_step_is_back_where_it_was),
        cmocka_unit_test(test_withdrawn_batch_takes_its_deviations_with_it),
        cmocka_unit_test(test_withdrawn_batch_was_in_its_place),
        cmocka_unit_test(test_later_clock_withdraws_its_own_deviation_and_no_other),
        cmocka_unit_test(test_earlier_clock_of_a_cooling_that_is_late_holds_at_once),
        cmocka_unit_test(test_withdrawn_cooling_takes_its_deviation_with_it_behind_another),
        cmocka_unit_test(test_withdrawn_step_takes_the_only_question_with_it),
        cmocka_unit_test(test_withdrawn_cooling_takes_with_it_what_opened_as_it_began),
        cmocka_unit_test(test_withdrawn_batch_answers_what_was_asked_of_it),
        cmocka_unit_test(test_withdrawn_cooling_leaves_the_one_before_it_done),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
