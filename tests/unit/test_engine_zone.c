/* Time between cold and hot, added up: docs/engine.md E155 to E165. Figures: ready-to-eat food
 * between 5 and 60 °C for over 4 h is thrown away (FSANZ 2-hour/4-hour guide); catered food not
 * below 5 °C and not above 60 °C for 4 h in all, both ends within (Singapore, Environmental
 * Public Health (Food Hygiene) (Amendment) Regulations 2011, reg. 13A); at most 6 h between
 * 50 °F and 130 °F while heating (USDA FSIS Revised Appendix A, December 2021, p. 23-24). */
#include "tests/support/check.h"

#include <stdio.h>

#include "tests/support/engine_rig.h"

#define GUIDE                                                                                   \
    "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, within: " \
    "4 h}"
#define CATERED                                                                                 \
    "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, strict: " \
    "yes, within: 4 h}"
#define SHORT                                                                                   \
    "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, within: " \
    "2 min}"
#define COME_UP                                                                                   \
    "{kind: cook_table, applies_to: food, rows: [{at_least: 130 °F, for: 112 min}, "             \
    "{at_least: 158 °F, for: 0 s}], come_up_from: 50 °F, come_up_to: 130 °F, come_up_within: " \
    "6 h}"

static void
life_story(const char *life, const char *limit, const char *script, const char *log)
{
    rig_life = life;
    rig_story(limit, script, log);
    rig_life = NULL;
}

/* From the last reading outside, 4 h and no more; back at that very instant is in time. */
static void
test_zone_exactly_the_time_is_in_time(void **state)
{
    (void)state;
    life_story(GUIDE, NULL,
               "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 5.0\n0:10:10-4:09:50 p1 5.001\n"
               "4:10:00-6:00:00 p1 5.0\n6:00:00 end stored\n",
               "");
    life_story(GUIDE, NULL,
               "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 5.0\n0:10:10-4:09:50 p1 5.001\n"
               "4:10:00.001 p1 5.0\n4:10:10 end discarded\n",
               "4:10:00 deviation-opened out-too-long #1 p1 5.001 since 0:10:10 found 4:00:00\n"
               "4:10:10 deviation-ended batch-ended #1 found 4:00:00.001\n");
}

static void
test_zone_time_strict(void **state)
{
    (void)state;
    const char *limit = "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, "
                        "hot_at_least: 60 °C, within: 4 h, time_strict: yes}";
    life_story(limit, NULL,
               "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 5.0\n0:10:10-4:09:50 p1 5.001\n"
               "4:09:59.999 p1 5.0\n4:10:09 p1 5.0\n",
               "");
    life_story(
        limit, NULL,
        "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 5.0\n0:10:10-4:09:50 p1 5.001\n"
        "4:10:00 p1 5.0\n",
        "4:10:00 deviation-opened out-too-long #1 p1 5.001 since 0:10:10 found 4:00:00\n");
}

static void
test_zone_edges(void **state)
{
    (void)state;
    life_story(GUIDE, NULL, "0:00:00 begin dish p1\n0:00:10-6:00:00 p1 60.0\n", "");
    life_story(GUIDE, NULL, "0:00:00 begin dish p1\n0:00:10-4:00:10 p1 59.999\n",
               "4:00:00 deviation-opened out-too-long #1 p1 59.999 since 0:00:10 found "
               "4:00:00\n");
    /* Both ends are within the band of Singapore. */
    life_story(CATERED, NULL, "0:00:00 begin dish p1\n0:00:10-6:00:00 p1 60.001\n", "");
    life_story(CATERED, NULL, "0:00:00 begin dish p1\n0:00:10-6:00:00 p1 4.999\n", "");
    life_story(
        CATERED, NULL, "0:00:00 begin dish p1\n0:00:10-4:00:10 p1 60.0\n",
        "4:00:00 deviation-opened out-too-long #1 p1 60.0 since 0:00:10 found 4:00:00\n");
    life_story(CATERED, NULL, "0:00:00 begin dish p1\n0:00:10-4:00:10 p1 5.0\n",
               "4:00:00 deviation-opened out-too-long #1 p1 5.0 since 0:00:10 found 4:00:00\n");
}

/* Added up over steps, with time outside in between. */
static void
test_zone_adds_up_over_steps(void **state)
{
    (void)state;
    life_story(GUIDE, "{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 4 h}",
               "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 4.0\n0:10:10-2:10:00 p1 6.0\n"
               "2:10:10-3:00:00 p1 4.0\n3:00:00 move after\n3:00:10-4:00:00 p1 5.0\n"
               "4:00:10-5:59:40 p1 6.0\n5:59:50 p1 6.0\n6:00:00 p1 6.0\n",
               "5:59:50 deviation-opened out-too-long #1 p1 6.0 since 0:10:10 found 4:00:00\n");
}

/* One cold and one hot probe: in between. */
static void
test_zone_cold_and_hot_at_once_is_in_between(void **state)
{
    (void)state;
    rig_life = GUIDE;
    struct rig *rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1 4.0\n0:00:10 p2 65.0\n0:00:20 p1 "
                  "4.0\n0:00:20 p2 65.0\n");
    assert_true(rig_batch(rig).in_zone);
    assert_int_equal(rig_batch(rig).zone_ms, 20000);
    rig_free(rig);
    rig_life = NULL;
}

/* From hot to cold between two readings it has been in between. */
static void
test_zone_crossing_counts(void **state)
{
    (void)state;
    rig_life = GUIDE;
    struct rig *rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 60.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    rig_free(rig);
    rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 60.0\n0:00:30 hand 60.0\n0:00:35 p1 59.0\n"
                  "0:00:40 p1 60.0\n0:00:50 p1 60.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 30000);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 0);
    rig_free(rig);
    rig_life = NULL;
}

static void
test_zone_dark_is_counted_apart_and_asked(void **state)
{
    (void)state;
    /* Cold, dark for 3 h 50 min, then 10 min in between: it may have been 4 h. */
    life_story(
        GUIDE, NULL,
        "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 4.0\n4:00:00-4:10:00 p1 6.0\n4:10:00 "
        "wait\n4:10:01 decide yes\n4:10:10-7:59:50 p1 6.0\n8:00:00 p1 6.0\n8:00:10 wait\n",
        "0:15:00 gap-opened no-good-reading #1 p1 since 0:10:00 found 0:05:00\n"
        "4:00:00 gap-ended good-again #1 p1 6.0 since 0:10:00 found 3:50:00\n"
        "4:10:00 inconclusive no-good-reading p1 6.0 since 4:00:00 found 0:10:00\n"
        "4:10:01 resolved entered yes p1 6.0 since 4:00:00 found 0:10:00\n"
        "8:00:00 deviation-opened out-too-long #2 p1 6.0 since 4:00:00 found 4:00:00\n");
    /* Dark after a reading in between: in between. */
    life_story(GUIDE, NULL,
               "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 6.0\n4:00:20 wait\n",
               "0:05:20 gap-opened no-good-reading #1 p1 since 0:00:20 found 0:05:00\n"
               "4:00:10 deviation-opened out-too-long #2 p1 6.0 since 0:00:20 found 4:00:00\n");
}

static void
test_zone_never_seen_is_a_question(void **state)
{
    (void)state;
    life_story(GUIDE, NULL, "0:00:00 begin dish\n4:00:00 wait\n5:00:00 decide no\n",
               "4:00:00 inconclusive no-good-reading\n"
               "5:00:00 resolved entered no\n"
               "5:00:00 deviation-opened no-good-reading #1\n");
}

/* An outage: wherever it was, nothing was seen. */
static void
test_zone_over_an_outage(void **state)
{
    (void)state;
    rig_life = GUIDE;
    struct rig *rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 p1 6.0\n1:00:00 restart "
                  "0:00:30\n1:00:10 p1 6.0\n1:00:20 p1 4.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 40000); /* 0:00:10 to 0:00:30, 1:00:00 to :20 */
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 3570000);
    rig_reload(rig);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 3570000);
    rig_free(rig);
    rig_life = NULL;
}

/* E164: a probe pulled out into an oven shows nothing in the food's favour, in a step without a
 * limit too. */
static void
test_zone_pulled_probe_is_not_hot_food(void **state)
{
    (void)state;
    rig_life = GUIDE;
    struct rig *rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 20.0\n0:10:10-0:20:00 p1 90.0\n");
    assert_true(rig_batch(rig).in_zone);
    assert_int_equal(rig_batch(rig).zone_ms, 1200000);
    rig_free(rig);
    rig_life = NULL;
}

static void
test_zone_by_hand(void **state)
{
    (void)state;
    rig_life = GUIDE;
    struct rig *rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 begin dish\n0:00:00 hand 4.0\n1:00:00 hand 6.0\n2:00:00 hand 4.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 3600000);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 3600000);
    rig_free(rig);
    rig_life = NULL;
}

/* A missing reading never makes a pass of a deviation, nor makes the certain and unseen time
 * less. */
static void
test_zone_missing_readings_never_help(void **state)
{
    (void)state;
    static const char *const at[] = {"4.0", "6.0", "6.5", "7.0", "6.0", "4.0", "4.5", "8.0",
                                     "9.0", "7.5", "6.0", "5.5", "6.0", "7.0", "4.0", "4.0"};
    const int n = sizeof at / sizeof at[0];
    rig_life = SHORT;
    int64_t whole_ms = 0;
    for (unsigned left_out = 0; left_out <= 1u << 13; left_out += 7) {
        struct rig *rig = rig_new(NULL, NULL);
        rig_play(rig, "0:00:00 begin dish p1\n0:00:00 p1 4.0\n");
        for (int i = 0; i < n; i++) {
            char line[80];
            (void)snprintf(line, sizeof line, "0:%02d:%02d p1 %s\n", (i + 1) / 6,
                           (i + 1) % 6 * 10, at[i]);
            if ((left_out >> i & 1u) == 0)
                rig_play(rig, line);
        }
        struct engine_batch_view batch = rig_batch(rig);
        if (left_out == 0) {
            whole_ms = batch.zone_ms;
            assert_int_equal(batch.life_verdict, VERDICT_NOT_MET);
        }
        assert_true(batch.life_verdict == VERDICT_NOT_MET ||
                    batch.life_verdict == VERDICT_INCONCLUSIVE);
        if (batch.life_verdict == VERDICT_INCONCLUSIVE)
            assert_true(batch.zone_ms + batch.zone_unknown_ms >= whole_ms ||
                        batch.zone_ms + batch.zone_unknown_ms > 120000);
        rig_free(rig);
    }
    rig_life = NULL;
}

/* ---- come-up time ---- */

/* 50 °F is 10 °C, 130 °F is 54.444 °C: 6 h between them exactly, and one second more. */
static void
test_come_up_exactly_its_time_is_in_time(void **state)
{
    (void)state;
    rig_story(COME_UP,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 10.0\n1:00:10-6:59:50 p1 12.0\n"
              "7:00:00 move after\n",
              "7:00:00 deviation-opened left-early #1 p1 12.0\n"
              "7:00:00 deviation-ended batch-ended #1\n");
    rig_story(COME_UP,
              "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 10.0\n1:00:10-7:00:00 p1 12.0\n"
              "7:00:01 wait\n",
              "7:00:00 deviation-opened slow-rise #1 p1 12.0 since 1:00:10 found 6:00:00\n");
}

/* Once the table is met nothing counts any more. */
static void
test_come_up_ends_with_the_limit(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COME_UP, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 9.0\n0:00:20-3:00:00 p1 12.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    rig_play(rig, "3:00:10-4:59:50 p1 12.0 69.0\n5:00:00 p1 70.1\n5:00:10-9:30:00 p1 70.1 "
                  "30.0\n9:30:10-10:00:00 p1 30.0\n");
    rig_expect(rig, "5:00:00 limit-met reached p1 70.1 since 5:00:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
}

/* A step can have met its table and not its come-up time. */
static void
test_come_up_missed_is_not_met(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COME_UP, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 9.0\n0:00:20-7:00:00 p1 12.0\n"
                  "7:00:10-8:59:50 p1 12.0 69.0\n9:00:00 p1 70.1\n");
    rig_reload(rig);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_play(rig, "9:01:00 move after\n");
    rig_expect(rig,
               "6:00:10 deviation-opened slow-rise #1 p1 12.0 since 0:00:20 found 6:00:00\n"
               "9:00:00 limit-met reached p1 70.1 since 9:00:00\n"
               "9:01:00 deviation-ended batch-ended #1\n");
    rig_free(rig);
}

#define ROOM "{kind: hold_cold, applies_to: air, at_most: 25 °C, tolerance: 1 h}"

/* What is asked of an oven is asked of no room: the air of the place says nothing here. */
static void
test_zone_of_food_in_a_watched_room_is_the_foods_own(void **state)
{
    (void)state;
    static const char script[] = "0:00:00 a1 20.0\n0:00:05 begin dish p1 place=fridge\n"
                                 "0:00:10-0:00:40 p1 4.0\n0:00:50 a1 21.0\n0:01:00 p1 4.0\n";
    rig_life = GUIDE;
    struct rig *rig = rig_new(NULL, ROOM);
    rig_life = NULL;
    rig_play(rig, script);
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    rig_play(rig, "0:01:05 move after place=fridge\n0:01:10 p1 4.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    rig_expect(rig, "");
    rig_free(rig);
    rig = rig_new(COME_UP, ROOM);
    rig_play(rig, script);
    rig_expect(rig, "");
    rig_free(rig);
}

/* E158, E163: from the last reading outside on nobody knows; that is not certain time. */
static void
test_zone_before_an_outage_or_a_move_is_where_it_was_seen(void **state)
{
    (void)state;
    rig_life = GUIDE;
    struct rig *rig = rig_new(NULL, NULL);
    rig_life = NULL;
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 4.0\n0:10:20 move after\n");
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    rig_play(rig, "0:10:30 p1 4.0\n0:12:30 restart 0:10:50\n");
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 120000);
    rig_free(rig);
}

/* A person finds the food between the two: it counts from then (E161), until the probes show
 * otherwise. */
static void
test_come_up_by_hand(void **state)
{
    (void)state;
    rig_story(
        COME_UP,
        "0:00:00 begin dish p1\n0:00:10-1:00:00 p1 9.0\n1:00:05 hand 20.0\n7:00:10 wait\n",
        "1:05:00 gap-opened no-good-reading #1 p1 since 1:00:00 found 0:05:00\n"
        "7:00:00 deviation-opened slow-rise #2 20.0 since 1:00:05 found 6:00:00\n");
}

/* E159: nobody saw for how long it was between them; a person decides, also for the rise. */
static void
test_come_up_that_a_person_decides(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COME_UP, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 9.0\n6:30:00 restart 0:00:10\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_INCONCLUSIVE);
    rig_play(rig, "6:30:05 decide no\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    assert_int_not_equal(rig_batch(rig).deviation, 0);
    rig_free(rig);
}

/* E43 is the step's: a probe put into cold food is believed although the time in between is
 * judged beside it. */
static void
test_zone_beside_a_step_leaves_it_its_own_rule(void **state)
{
    (void)state;
    rig_life = GUIDE;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 70 °C}", NULL);
    rig_life = NULL;
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:00:20 p1 4.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_free(rig);
}

/* E158, E159: from hot to cold while nobody looked: it was in between, nobody knows how long.
 */
static void
test_zone_crossed_unseen_is_not_certain(void **state)
{
    (void)state;
    rig_life = GUIDE;
    struct rig *rig = rig_new(NULL, NULL);
    rig_life = NULL;
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 65.0\n0:10:00 p1 4.0\n");
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 590000);
    rig_free(rig);
}

/* E165, E237: what is between the two after the limit has been met is no come-up time, nor its
 * last reading. */
static void
test_come_up_that_is_over_says_its_last_reading_before(void **state)
{
    (void)state;
    static const char limit[] =
        "{kind: cook_table, applies_to: food, rows: [{at_least: 130 °F, for: 112 min}, "
        "{at_least: 158 °F, for: 0 s}], come_up_from: 50 °F, come_up_to: 130 °F, "
        "come_up_within: 10 min}";
    struct rig *rig = rig_new(limit, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:10-0:20:00 p1 20.0 54.0\n0:20:10-0:30:00 p1 54.5 "
             "71.0\n0:30:10-0:40:00 p1 70.0 50.0\n0:40:10 p1 20.0\n");
    assert_int_equal(rig->quality, SUSPECT_LEFT_FOOD);
    rig_play(rig, "0:40:20 end served\n");
    const struct decision *said = &rig->out.decisions[0];
    assert_int_equal(said->kind, DECISION_DEVIATION_ENDED);
    assert_int_equal(said->limit, LIMIT_RISE);
    assert_int_equal(said->last_ms, rig_time("0:20:00"));
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_zone_exactly_the_time_is_in_time),
        cmocka_unit_test(test_zone_time_strict),
        cmocka_unit_test(test_zone_edges),
        cmocka_unit_test(test_zone_adds_up_over_steps),
        cmocka_unit_test(test_zone_cold_and_hot_at_once_is_in_between),
        cmocka_unit_test(test_zone_crossing_counts),
        cmocka_unit_test(test_zone_dark_is_counted_apart_and_asked),
        cmocka_unit_test(test_zone_never_seen_is_a_question),
        cmocka_unit_test(test_zone_over_an_outage),
        cmocka_unit_test(test_zone_pulled_probe_is_not_hot_food),
        cmocka_unit_test(test_zone_by_hand),
        cmocka_unit_test(test_zone_missing_readings_never_help),
        cmocka_unit_test(test_come_up_exactly_its_time_is_in_time),
        cmocka_unit_test(test_come_up_ends_with_the_limit),
        cmocka_unit_test(test_come_up_missed_is_not_met),
        cmocka_unit_test(test_zone_of_food_in_a_watched_room_is_the_foods_own),
        cmocka_unit_test(test_zone_before_an_outage_or_a_move_is_where_it_was_seen),
        cmocka_unit_test(test_come_up_by_hand),
        cmocka_unit_test(test_come_up_that_a_person_decides),
        cmocka_unit_test(test_zone_beside_a_step_leaves_it_its_own_rule),
        cmocka_unit_test(test_zone_crossed_unseen_is_not_certain),
        cmocka_unit_test(test_come_up_that_is_over_says_its_last_reading_before),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
