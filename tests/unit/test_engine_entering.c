/* Hot food that comes to a place: docs/engine.md E241 to E243. A probe hangs in the chiller;
 * food is cooked on another one, pulled out and wheeled in. The chilling is that of the UK
 * guidelines for cook-chill (Department of Health 1989, as config/profiles/uk-cook-chill.yaml
 * quotes them): to begin within 30 min of the end of cooking, and to 3 °C within 90 min. The
 * times below are counted by hand from there. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/chance.h"
#include "tests/support/engine_rig.h"

#define CHILLING                                                                               \
    "{kind: cool, applies_to: food, from: 63 °C, clock: step, start_within: 30 min, stages: " \
    "[{to: 3 °C, within: 90 min}]}"
#define COOK_THEN_CHILL                                                                        \
    "{kind: cook, applies_to: food, at_least: 74 °C}}\n"                                      \
    "      - {id: rest, name: Rest, limit: {kind: none}}\n"                                    \
    "      - {id: chill, name: Chill, begins: by_itself, begins_on: [p3], limit:\n"            \
    "          " CHILLING
#define COOK_THEN_COOL                                                                         \
    "{kind: cook, applies_to: food, at_least: 74 °C}}\n"                                      \
    "      - {id: cool, name: Cool, begins: by_itself, begins_on: [p3], limit:\n"              \
    "          {kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 "  \
    "h}]}"
/* p3 hangs in the chiller, is read from the beginning and never silent for long. */
static int
set_up(void **state)
{
    (void)state;
    rig_place_more = "  - {id: chiller, name: Chiller, probe: p3, limit: {kind: none}}\n";
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    rig_place_more = NULL;
    return 0;
}

/* Cooked on p1 by 0:05:10, then p1 is pulled out; p3 shows the empty chiller up to 0:20:00. */
#define COOKED                                                                                 \
    "0:00:10-0:03:00 p1 60.0 70.0\n0:03:05 p3 2.0\n0:03:10-0:05:50 p1 70.0 76.0\n"             \
    "0:06:00 p1 25.0\n"
#define COOKED_SAYS                                                                            \
    "0:05:00 limit-met reached p1 74.125 since 0:05:00\n"                                      \
    "0:06:00 suspect-begun left-food p1 25.0 since 0:05:50\n"                                  \
    "0:10:50 gap-opened no-good-reading #1 p1 since 0:05:50 found 0:05:00\n"
/* The silence of the pulled probe is told, and over when the batch has the other one. */
#define P1_FREED "0:21:10.001 suspect-ended entered p1 since 0:05:50\n"
#define GAP_ENDS "0:21:10.001 gap-ended entered #1 p1 since 0:05:50 found 0:15:20.001\n"
#define EMPTY    "0:06:10-0:08:00 p1 25.0\n0:08:05 p3 2.0\n0:10:10-0:20:00 p3 2.0\n"
/* As COOKED, but p1 stays in its food. */
#define STAYS_IN                                                                               \
    "0:00:10-0:03:00 p1 60.0 70.0\n0:03:05 p3 2.0\n0:03:10-0:05:50 p1 70.0 76.0\n"             \
    "0:06:00-0:08:00 p1 76.0\n0:08:05 p3 2.0\n0:08:10-0:13:00 p1 76.0\n0:13:05 p3 2.0\n"       \
    "0:13:10-0:17:00 p1 76.0\n0:17:05 p3 2.0\n0:17:10-0:19:50 p1 76.0\n0:20:00 p3 2.0\n"
#define WHEELED_IN "0:20:10-0:30:00 p3 70.0 60.0\n"

/* Of the last step begun. */
static const struct engine_batch_view *
batch_of(const struct rig *rig, uint32_t number)
{
    static struct engine_batch_view views[ENGINE_BATCHES_MAX];
    size_t count = engine_view_batches(rig->engine, views, ENGINE_BATCHES_MAX);
    for (size_t i = 0; i < count; i++)
        if (views[i].number == number)
            return &views[i];
    fail_msg("there is no batch %u", number);
    return views;
}

static void
test_hot_food_in_the_chiller_moves_the_batch_that_waits_for_it(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n" COOKED EMPTY WHEELED_IN);
    /* From the last reading without food: it came after that. */
    rig_expect(rig, COOKED_SAYS P1_FREED
               "0:21:10.001 step-begun by-itself p3 68.984\n"
               "0:21:10.001 clock-started by-itself since 0:20:00\n" GAP_ENDS);
    assert_string_equal(batch_of(rig, 1)->place, "chiller");
    assert_int_equal(batch_of(rig, 1)->step, 2);
    rig_play(rig, "0:30:10-1:50:00 p3 59.9 3.0\n");
    rig_expect(rig, "1:50:00 limit-met reached stage 1 p3 3.0 since 0:20:00 found 1:30:00\n");
    /* 14 min 10 s from the end of cooking to the first reading that showed the food. */
    rig_play(rig, "1:50:05 cooked 0:06:00\n");
    assert_int_equal(batch_of(rig, 1)->verdict, VERDICT_MET);
    rig_free(rig);
}

static void
test_chilling_that_nobody_began_is_late_at_its_deadline(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n" COOKED EMPTY WHEELED_IN "0:30:10-1:50:10 p3 59.9 3.1\n");
    rig_expect(rig, COOKED_SAYS P1_FREED
               "0:21:10.001 step-begun by-itself p3 68.984\n"
               "0:21:10.001 clock-started by-itself since 0:20:00\n" GAP_ENDS
               "1:50:00 deviation-opened too-late #2 stage 1 p3 3.219 since "
               "0:20:00 found 1:30:00\n");
    rig_free(rig);
}

/* A cooling that a fall starts counts from its fall, by the probe that came. */
static void
test_cooling_by_fall_counts_from_the_fall_that_the_new_probe_shows(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n" COOKED EMPTY
                  "0:20:10-0:40:00 p3 70.0 57.5\n0:40:10 p3 56.9\n");
    rig_expect(rig,
               COOKED_SAYS P1_FREED "0:21:10.001 step-begun by-itself p3 69.37\n" GAP_ENDS
                                    "0:40:10 clock-started fell-through-start p3 56.9 since "
                                    "0:40:00\n");
    assert_string_equal(batch_of(rig, 1)->place, "chiller");
    rig_free(rig);
}

/* ---- what only a person can tell ---- */

static void
test_two_batches_that_wait_are_a_question(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:01 begin dish p2\n" COOKED
                  "0:06:10-0:12:00 p2 60.0 80.0\n0:12:10 p2 25.0\n0:13:00-0:20:00 p3 2.0\n");
    rig->log_len = 0;
    rig_play(rig, WHEELED_IN);
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:21:10 asked ambiguous p3 68.984 since 0:21:10\n"));
    assert_null(strstr(rig->log, "step-begun"));
    /* The answer, ten minutes later, brings the time with it. */
    rig->log_len = 0;
    rig_play(rig, "0:31:00 move chill p3\n");
    rig_expect(rig, "0:31:00 suspect-ended entered p1 since 0:05:50\n"
                    "0:31:00 answered entered p3\n"
                    "0:31:00 clock-started by-itself since 0:20:00\n");
    rig_free(rig);
}

/* Its own probe still shows it: two pieces of food, or somebody else's. */
static void
test_batch_whose_own_probe_is_in_its_food_is_a_question(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n" STAYS_IN "0:20:10-0:22:00 p1,p3 75.0\n");
    rig_expect(rig, "0:05:00 limit-met reached p1 74.125 since 0:05:00\n"
                    "0:21:10 asked ambiguous p3 75.0 since 0:21:10\n");
    rig_free(rig);
    /* Pulled out at that moment, it shows other food's heat to nobody. */
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n" STAYS_IN "0:20:10 p1 30.0\n0:20:11-0:22:01 p3 70.0\n");
    rig_expect(rig, "0:05:00 limit-met reached p1 74.125 since 0:05:00\n"
                    "0:20:10 suspect-begun left-food p1 30.0 since 0:19:50\n"
                    "0:21:11.001 suspect-ended entered p1 since 0:19:50\n"
                    "0:21:11.001 step-begun by-itself p3 70.0\n"
                    "0:21:11.001 clock-started by-itself since 0:20:00\n");
    rig_free(rig);
}

static void
test_batch_that_is_not_cooked_is_a_question(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:03:00 p1 60.0 66.0\n0:03:05 p3 2.0\n"
                  "0:03:10-0:05:50 p1 66.0 70.0\n0:06:00 p1 25.0\n" EMPTY
                  "0:20:10-0:21:10 p3 70.0\n");
    rig_expect(rig, "0:06:00 suspect-begun left-food p1 25.0 since 0:05:50\n"
                    "0:10:50 gap-opened no-good-reading #1 p1 since 0:05:50 found 0:05:00\n"
                    "0:21:10 asked ambiguous p3 70.0 since 0:21:10\n");
    rig_free(rig);
}

/* Its own probe was last read exactly a spacing ago, 30 s, and a millisecond longer ago. */
static void
test_own_probe_is_believed_for_a_spacing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n" STAYS_IN "0:20:10-0:21:00 p3 70.0\n"
                  "0:21:10 p1 75.0\n0:21:40 p3 70.0\n");
    rig_expect(rig, "0:05:00 limit-met reached p1 74.125 since 0:05:00\n"
                    "0:21:40 asked ambiguous p3 70.0 since 0:21:40\n");
    rig_free(rig);
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n" STAYS_IN "0:20:10-0:21:00 p3 70.0\n"
                  "0:21:10 p1 75.0\n0:21:40.001 p3 70.0\n");
    rig_expect(rig, "0:05:00 limit-met reached p1 74.125 since 0:05:00\n"
                    "0:21:40.002 step-begun by-itself p3 70.0\n"
                    "0:21:40.002 clock-started by-itself since 0:20:00\n");
    rig_free(rig);
    /* Of two it is enough that one shows it. */
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10-0:03:00 p1,p2 60.0 70.0\n0:03:05 p3 2.0\n"
                  "0:03:10-0:05:50 p1,p2 70.0 76.0\n0:06:00 p1 25.0\n0:06:05 p3 2.0\n"
                  "0:06:10-0:07:10 p2,p3 75.0\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:07:10 asked ambiguous p3 75.0 since 0:07:10\n"));
    rig_free(rig);
}

/* E176: its own probe has measured the fall; what another one shows later is no later start. */
static void
test_fall_that_its_own_probe_saw_counts(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_COOL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:04:00 p1 50.0 65.0\n0:04:05 p3 2.0\n"
                  "0:04:10-0:08:00 p1 65.0 57.5\n0:08:05 p3 2.0\n0:08:10-0:09:20 p1 56.9\n"
                  "0:09:25-0:10:35 p3 70.0\n0:10:40 move cool p3\n");
    rig_expect(rig, "0:09:10 asked ambiguous p1 56.9 since 0:08:00\n"
                    "0:10:25 asked ambiguous p3 70.0 since 0:10:25\n"
                    "0:10:40 answered entered\n"
                    "0:10:40 deviation-opened left-early #1\n"
                    "0:10:40 deviation-ended batch-ended #1\n"
                    "0:10:40 answered entered p3\n"
                    "0:10:40 clock-started fell-through-start since 0:08:00\n");
    rig_free(rig);
}

/* The plan's first probe may be the one in the chiller. */
static void
test_first_probe_of_the_plan_serves_as_well(void **state)
{
    (void)state;
    rig_place_more = NULL;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
                              "      - {id: chill, name: Chill, begins: by_itself, begins_on: "
                              "[p1], limit:\n          " CHILLING,
                              NULL);
    rig_play(rig,
             "0:00:00 begin dish p2\n0:00:10-0:05:00 p2 60.0 76.0\n0:05:10-0:10:00 p1 2.0\n"
             "0:10:10-0:11:10 p1 70.0\n");
    rig_expect(rig, "0:04:30 limit-met reached p2 74.344 since 0:04:30\n"
                    "0:10:00 gap-opened no-good-reading #1 p2 since 0:05:00 found 0:05:00\n"
                    "0:11:10.001 step-begun by-itself p1 70.0\n"
                    "0:11:10.001 clock-started by-itself since 0:10:00\n");
    assert_string_equal(batch_of(rig, 1)->place, "");
    rig_free(rig);
}

/* Of two probes that show it the earlier counts, both ways. */
static void
test_food_with_two_probes_came_with_the_first(void **state)
{
    (void)state;
    rig_place_more = NULL;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
                              "      - {id: rest, name: Rest, limit: {kind: none}}\n"
                              "      - {id: chill, name: Chill, begins: by_itself, begins_on: "
                              "[p2, p3], limit:\n          " CHILLING,
                              NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:01 begin dish\n0:00:10-0:01:00 p2,p3 2.0\n"
                  "0:01:10-0:02:00 p3 70.0\n0:02:05-0:03:15 p2 70.0\n0:03:20-0:04:20 p3 70.0\n"
                  "0:05:00 move chill p2 p3\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:05:00 clock-started by-itself since 0:01:00\n"));
    rig_free(rig);
}

/* What a probe showed before it was in a batch says nothing of the food after it. */
static void
test_probe_out_of_a_batch_has_to_be_seen_without_food_again(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:02:00 p3 2.0\n0:02:05 begin dish step=rest p3\n"
                  "0:02:10-0:03:00 p3 60.0\n0:03:05 end served\n0:03:10-0:04:00 p3 60.0\n"
                  "0:04:10-0:05:10 p3 66.0\n");
    rig_expect(rig, "0:05:10 asked ambiguous p3 66.0 since 0:05:10\n");
    rig_free(rig);
}

/* ---- no batch waits ---- */

static void
test_hot_food_of_no_batch_begins_one_in_the_place_of_its_probe(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:20:00 p3 2.0\n" WHEELED_IN);
    rig_expect(rig, "0:21:10.001 step-begun by-itself p3 68.984\n"
                    "0:21:10.001 clock-started by-itself since 0:20:00\n");
    assert_string_equal(batch_of(rig, 1)->place, "chiller");
    rig_free(rig);
}

/* Which of the places that one probe watches it is, nobody knows: it stays where it was. */
static void
test_probe_of_several_places_brings_the_food_to_none_of_them(void **state)
{
    (void)state;
    rig_place_more = "  - {id: chiller, name: Chiller, probe: p3, limit: {kind: none}}\n"
                     "  - {id: tunnel, name: Tunnel, probe: p3, limit: {kind: none}}\n";
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:20:00 p3 2.0\n" WHEELED_IN);
    rig_expect(rig, "0:21:10.001 step-begun by-itself p3 68.984\n"
                    "0:21:10.001 clock-started by-itself since 0:20:00\n");
    assert_string_equal(batch_of(rig, 1)->place, "");
    rig_free(rig);
}

/* Nobody saw when it came: right after the last reading without it. */
static void
test_silence_before_the_food_is_not_in_its_favour(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:16:00 p3 2.0\n0:16:10-0:20:00 p3 bad\n" WHEELED_IN);
    rig_expect(rig, "0:21:10.001 step-begun by-itself p3 68.984\n"
                    "0:21:10.001 clock-started by-itself since 0:16:00\n");
    rig_free(rig);
}

/* A probe takes its time: what it shows on its way up is the food already, also below the
 * start. */
static void
test_readings_on_the_way_up_are_the_foods(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:20:00 p3 2.0\n0:20:10 p3 10.0\n0:20:20 p3 40.0\n0:20:30 p3 55.0\n"
                  "0:20:40 p3 62.9\n0:20:50-0:22:00 p3 66.0\n");
    rig_expect(rig, "0:21:50.001 step-begun by-itself p3 66.0\n"
                    "0:21:50.001 clock-started by-itself since 0:20:00\n");
    rig_free(rig);
    /* The room is warmer than the chiller: a minute at another level is no way up. */
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:10:00 p3 2.0\n0:10:10-0:20:00 p3 22.0\n0:20:10-0:22:00 p3 66.0\n");
    rig_expect(rig, "0:21:10.001 step-begun by-itself p3 66.0\n"
                    "0:21:10.001 clock-started by-itself since 0:20:00\n");
    rig_free(rig);
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:10:00 p3 2.0\n0:10:10-0:11:00 p3 22.0\n0:11:10-0:13:00 p3 66.0\n");
    rig_expect(rig, "0:12:10.001 step-begun by-itself p3 66.0\n"
                    "0:12:10.001 clock-started by-itself since 0:10:00\n");
    rig_free(rig);
    /* Settled at the very minute; and a room that warms by 0.9 degrees a minute is no way up.
     */
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:10:00 p3 2.0\n0:10:10-0:11:10 p3 22.0\n0:11:20-0:13:00 p3 66.0\n");
    rig_expect(rig, "0:12:20.001 step-begun by-itself p3 66.0\n"
                    "0:12:20.001 clock-started by-itself since 0:11:10\n");
    rig_free(rig);
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig,
             "0:00:00-0:10:00 p3 2.0\n0:10:10-0:11:40 p3 2.15 3.5\n0:11:50-0:13:00 p3 66.0\n");
    rig_expect(rig, "0:12:50.001 step-begun by-itself p3 66.0\n"
                    "0:12:50.001 clock-started by-itself since 0:11:40\n");
    rig_free(rig);
    /* A probe that was never seen without food: nobody knows since when it has been there. */
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:10:00 p3 60.0\n0:10:10-0:12:00 p3 66.0\n");
    rig_expect(rig, "0:11:10 asked ambiguous p3 66.0 since 0:11:10\n");
    rig_free(rig);
}

/* E32, E176: food that got colder and warmer again has not come twice. */
static void
test_later_warmth_is_no_later_coming(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:01 begin dish p2\n0:10:00-0:20:00 p3 2.0\n"
             "0:20:10-0:30:00 p3 70.0\n0:30:10-0:31:00 p3 60.0\n0:31:10-0:40:00 p3 70.0\n");
    rig->log_len = 0;
    rig_play(rig, "0:40:05 move chill p3\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:40:05 clock-started by-itself since 0:20:00\n"));
    rig_free(rig);
}

/* E179, E181: earlier at once, later by two people. */
static void
test_person_corrects_when_it_came(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-0:20:00 p3 2.0\n" WHEELED_IN);
    rig->log_len = 0;
    rig_play(rig, "0:30:05 correct 3 at 0:15:00\n");
    rig_expect(rig, "0:30:05 step-corrected entered since 0:15:00\n");
    rig_play(rig, "0:30:06 correct 3 at 0:20:10\n");
    rig_expect(rig, "0:30:06 correction-waits entered since 0:20:10\n");
    rig_free(rig);
}

/* ---- E243: how long since the heat ---- */

/* Left the cooking at 0:06:00; p2, that nobody has put in, is silent all along. */
static void
expect_delay(const char *script, const char *log)
{
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n" COOKED "0:06:00 move rest p2\n0:06:05-0:30:00 p3 2.0\n");
    rig->log_len = 0;
    rig_play(rig, script);
    rig_expect(rig, log);
    rig_free(rig);
}

static void
test_half_an_hour_after_the_heat_is_in_time(void **state)
{
    (void)state;
    /* First seen at 0:36:00, 30 min 0 s after 0:06:00. */
    expect_delay("0:30:10-0:35:50 p3 2.0\n0:36:00-0:38:00 p3 70.0\n",
                 "0:37:00.001 step-begun by-itself p3 70.0\n"
                 "0:37:00.001 clock-started by-itself since 0:35:50\n"
                 "0:37:00.001 gap-ended entered #1 p2 since 0:06:00 found 0:31:00.001\n");
}

static void
test_longer_than_half_an_hour_after_the_heat_is_a_deviation_without_a_person(void **state)
{
    (void)state;
    expect_delay("0:30:10-0:36:00 p3 2.0\n0:36:00.001-0:38:00 p3 70.0\n",
                 "0:37:00.002 step-begun by-itself p3 70.0\n"
                 "0:37:00.002 clock-started by-itself since 0:36:00\n"
                 "0:37:00.002 deviation-opened too-late #2 of #1 silent since 0:06:00 found "
                 "0:30:00.001\n"
                 "0:37:00.002 deviation-ended entered #2 of #1 silent\n"
                 "0:37:00.002 gap-ended entered #1 p2 since 0:06:00 found 0:31:00.002\n");
}

/* A person who moves it in time says no more than that: when cooking ended is asked as before.
 */
static void
test_move_by_hand_is_judged_likewise(void **state)
{
    (void)state;
    expect_delay("0:34:50 p3 2.0\n0:36:00 move chill p1\n0:36:01 wait\n",
                 "0:36:00 gap-ended entered #1 p2 since 0:06:00 found 0:30:00\n");
    expect_delay("0:34:50 p3 2.0\n0:36:00.001 move chill p1\n0:36:01 wait\n",
                 "0:36:00.001 deviation-opened too-late #2 of #1 silent since 0:06:00 found "
                 "0:30:00.001\n"
                 "0:36:00.001 deviation-ended entered #2 of #1 silent\n"
                 "0:36:00.001 gap-ended entered #1 p2 since 0:06:00 found 0:30:00.001\n");
}

/* Two probes in one food: it was there when the first of them showed it, 30 min 0 s after
 * cooking. p1 is still in the rest of it, so a person is asked and moves it. */
static void
test_first_of_two_probes_says_when_the_food_came(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
                              "      - {id: chill, name: Chill, begins: by_itself, begins_on: "
                              "[p2, p3], limit:\n          " CHILLING,
                              NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:35:50 p1 76.0\n0:35:55 p2,p3 2.0\n"
                  "0:36:00-0:36:10 p1,p3 76.0\n0:36:20-0:37:40 p1,p2,p3 76.0\n"
                  "0:37:50 move chill p3 p2\n");
    assert_int_equal(batch_of(rig, 1)->clock_start_ms, rig_time("0:35:55"));
    rig->log_len = 0;
    rig_play(rig, "0:38:00 cooked 0:06:00\n");
    rig_expect(rig, "");
    assert_string_equal(rig->refusal, "");
    rig_free(rig);
}

/* ---- determinism and strictness ---- */

static void
test_state_saved_between_any_two_inputs_changes_nothing(void **state)
{
    (void)state;
    static const char *const lines[] = {
        "0:00:00 begin dish p1\n",
        COOKED,
        EMPTY,
        "0:20:10-0:20:50 p3 70.0\n",
        "0:21:00-0:30:00 p3 70.0 60.0\n",
        "0:30:10-1:00:00 p3 59.9 30.0\n",
        "1:00:10-1:50:10 p3 29.9 3.5\n",
    };
    struct rig *whole = rig_new(COOK_THEN_CHILL, NULL);
    struct rig *loaded = rig_new(COOK_THEN_CHILL, NULL);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        rig_play(whole, lines[i]);
        rig_play(loaded, lines[i]);
        rig_reload(loaded);
    }
    whole->log[whole->log_len] = '\0';
    assert_non_null(strstr(whole->log, "too-late"));
    rig_expect(loaded, whole->log);
    rig_free(whole);
    rig_free(loaded);
}

/* Food comes at some instant, some readings are missing or bad, it may be warmed by the way:
 * the clock never counts from later than it came. */
static void
test_clock_never_counts_from_later_than_the_food_came(void **state)
{
    (void)state;
    uint64_t seed = 20261129;
    unsigned begun = 0;
    for (int round = 0; round < 300; round++) {
        struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
        int64_t came = between(&seed, 60, 1800), missing = between(&seed, 0, 80);
        int64_t hot_mC = between(&seed, 58000, 90000), now_mC = 2000;
        int64_t slow = between(&seed, 2, 30); /* the probe's own time constant, in seconds */
        int64_t shown_mC[360];
        for (int64_t s = 0; s < 3600; s += 10) {
            char line[80];
            for (int64_t k = s - 10 < came ? came : s - 10; k < s; k++)
                now_mC += (hot_mC - now_mC) / slow;
            shown_mC[s / 10] = now_mC;
            int64_t mC = now_mC + between(&seed, -400, 400);
            if (between(&seed, 0, 99) < missing)
                continue;
            bool bad = between(&seed, 0, 99) < missing / 4;
            snprintf(line, sizeof line,
                     bad ? "%d:%02d:%02d p3 bad\n" : "%d:%02d:%02d p3 %d.%03d\n",
                     (int)(s / 3600), (int)(s / 60 % 60), (int)(s % 60), (int)(mC / 1000),
                     (int)(mC % 1000));
            rig_play(rig, line);
        }
        rig->log[rig->log_len] = '\0';
        const char *clock = strstr(rig->log, "clock-started by-itself");
        if (clock != NULL) {
            char since[32] = "";
            assert_int_equal(sscanf(strstr(clock, "since "), "since %31s", since), 1);
            int64_t since_s = (rig_time(since) - RIG_BASE_MS) / 1000;
            if (since_s > came && shown_mC[since_s / 10] > 2000 + 1800)
                fail_msg("round %d: came at %lld s\n%s", round, (long long)came, rig->log);
            begun++;
        }
        rig_free(rig);
    }
    assert_true(begun > 100); /* it is worth something */
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

/* E241: the place that the probe watches may be the first of the plan. */
static void
test_probe_of_the_first_place_brings_the_food_there(void **state)
{
    (void)state;
    static char text[8000];
    rig_place_more = NULL;
    struct plan *plan = rig_plan(COOK_THEN_CHILL, NULL, NULL);
    const char *at = strstr(plan->text, "name: Fridge, ");
    assert_non_null(at);
    (void)snprintf(text, sizeof text, "%.*sprobe: p3, %s", (int)(at - plan->text), plan->text,
                   at);
    struct rig *rig = rig_of(text);
    rig_play(rig, "0:00:00-0:20:00 p3 2.0\n" WHEELED_IN);
    rig_expect(rig, "0:21:10.001 step-begun by-itself p3 68.984\n"
                    "0:21:10.001 clock-started by-itself since 0:20:00\n");
    assert_string_equal(batch_of(rig, 1)->place, "fridge");
    rig_free(rig);
    plan_free(plan);
}

/* E92, E179: cooking has to have ended no longer before the instant that a person says: 27 min
 * before it, and 32 min 10 s before the probe showed the food. */
static void
test_delay_before_the_chiller_follows_the_corrected_instant(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-1:20:00 p3 2.0\n1:20:10-1:30:00 p3 70.0 60.0\n1:30:05 correct 3 at "
                  "1:15:00\n");
    rig->log_len = 0;
    rig_play(rig, "1:30:10 cooked 0:48:00\n");
    rig_expect(rig, "");
    rig_free(rig);
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-1:20:00 p3 2.0\n1:20:10-1:30:00 p3 70.0 60.0\n");
    rig->log_len = 0;
    rig_play(rig, "1:30:10 cooked 0:48:00\n");
    rig_expect(rig, "1:30:10 deviation-opened too-late #1 since 0:48:00 found 0:32:10\n"
                    "1:30:10 deviation-ended entered #1\n");
    rig_free(rig);
}

/* E243: left the heat exactly so long ago, and nobody has said that cooking did not end before:
 * it is asked as ever (E93). */
static void
test_half_an_hour_after_the_heat_proves_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n" COOKED "0:06:00 move rest p2\n0:06:05-0:30:00 p3 2.0\n"
             "0:30:10-0:35:50 p3 2.0\n0:36:00-0:38:00 p3 70.0\n0:38:10-1:30:00 p3 69.0 3.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    rig->log_len = 0;
    rig_play(rig, "1:30:10 end stored\n");
    rig_expect(rig, "1:30:10 inconclusive probe-late\n");
    rig_free(rig);
}

/* E92, E179: begun too late after cooking stays so, whatever instant a person says then. */
static void
test_corrected_instant_makes_no_late_beginning_good(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-1:20:00 p3 2.0\n1:20:10-1:30:00 p3 70.0 60.0\n1:30:05 cooked "
                  "0:48:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_play(rig, "1:30:10 correct 3 at 1:15:00\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_play(rig, "1:30:10-2:40:00 p3 60.0 3.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
    /* In time it is no obstacle. */
    rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00-1:20:00 p3 2.0\n1:20:10-1:30:00 p3 70.0 60.0\n1:30:05 cooked "
                  "0:55:00\n1:30:10 correct 3 at 1:15:00\n1:30:10-2:40:00 p3 60.0 3.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
}

/* E242: the last of these readings that shows no food is what the clock counts from; with
 * none there is nothing but a question. */
static void
expect_coming(const char *before, const char *since)
{
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, before);
    rig_play(rig, "0:20:10-0:21:30 p3 70.0\n");
    rig->log[rig->log_len] = '\0';
    char line[100];
    (void)snprintf(line, sizeof line, "clock-started by-itself since %s\n", since);
    if (!strstr(rig->log, since[0] ? line : "asked ambiguous"))
        fail_msg("%s: decided\n%s", before, rig->log);
    rig_free(rig);
}

/* The start is 63 °C. */
static void
test_four_degrees_below_the_start_are_no_food(void **state)
{
    (void)state;
    expect_coming("0:10:00-0:20:00 p3 59.0\n", "0:20:00");
    expect_coming("0:10:00-0:20:00 p3 59.001\n", "");
}

static void
test_rise_of_a_degree_is_the_foods(void **state)
{
    (void)state;
    /* In ten seconds what it shows without food may rise by 166 thousandths. */
    expect_coming("0:10:00-0:19:50 p3 20.0\n0:20:00 p3 21.165\n", "0:20:00");
    expect_coming("0:10:00-0:19:50 p3 20.0\n0:20:00 p3 21.166\n", "0:19:50");
    /* In a minute that nobody saw not at all. */
    expect_coming("0:10:00-0:19:00 p3 20.0\n0:20:00 p3 20.999\n", "0:20:00");
    expect_coming("0:10:00-0:19:00 p3 20.0\n0:20:00 p3 21.0\n", "0:19:00");
}

/* Steady is less than a degree to either side for a minute. */
static void
test_warmer_room_is_one_when_it_stays_as_it_is(void **state)
{
    (void)state;
    const char *cold = "0:10:00-0:18:30 p3 20.0\n0:18:40-0:19:00 p3 30.0\n";
    static const struct {
        const char *level, *since;
    } cases[] = {
        {"30.999", "0:20:00"}, {"31.0", "0:18:30"}, {"29.001", "0:20:00"}, {"29.0", "0:18:30"}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char script[200];
        (void)snprintf(script, sizeof script, "%s0:19:10-0:20:00 p3 %s\n", cold,
                       cases[i].level);
        expect_coming(script, cases[i].since);
    }
}

/* What it then rises by slowly, it rises by from there. */
static void
test_warmer_room_is_what_it_shows_without_food_from_then_on(void **state)
{
    (void)state;
    expect_coming(
        "0:10:00-0:15:00 p3 20.0\n0:15:10-0:18:20 p3 30.0\n0:18:30-0:20:00 p3 30.1 31.0\n",
        "0:20:00");
}

/* Neither an oven nor a chiller in between leaves it where it was. */
static void
test_warmth_that_it_went_away_from_is_no_room(void **state)
{
    (void)state;
    expect_coming("0:10:00-0:18:30 p3 20.0\n0:18:40 p3 30.0\n0:18:50-0:19:50 p3 60.0\n"
                  "0:20:00 p3 30.0\n",
                  "0:18:30");
    expect_coming("0:10:00-0:18:30 p3 20.0\n0:18:40 p3 30.0\n0:18:50-0:19:50 p3 20.0\n"
                  "0:20:00 p3 30.0\n",
                  "0:19:50");
}

/* E32, E176: as long as nobody has said which food it is, it is no other one. */
static void
test_food_that_waits_for_an_answer_came_when_it_came(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_THEN_CHILL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:01 begin dish p2\n0:10:00-0:20:00 p3 2.0\n"
                  "0:20:10-0:22:00 p3 70.0\n0:22:10-0:30:00 p3 50.0\n");
    rig->log_len = 0;
    rig_play(rig, "0:30:05 move chill p3\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:30:05 clock-started by-itself since 0:20:00\n"));
    rig_free(rig);
}

/* E243: it began with the food that stays, not with a hot draught before it. */
static void
test_warmth_that_passed_is_not_when_chilling_began(void **state)
{
    (void)state;
    expect_delay("0:30:10 p3 2.0\n0:30:20 p3 70.0\n0:30:30-0:36:00 p3 2.0\n"
                 "0:36:00.001-0:38:00 p3 70.0\n",
                 "0:37:00.002 step-begun by-itself p3 70.0\n"
                 "0:37:00.002 clock-started by-itself since 0:36:00\n"
                 "0:37:00.002 deviation-opened too-late #2 of #1 silent since 0:06:00 found "
                 "0:30:00.001\n"
                 "0:37:00.002 deviation-ended entered #2 of #1 silent\n"
                 "0:37:00.002 gap-ended entered #1 p2 since 0:06:00 found 0:31:00.002\n");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_hot_food_in_the_chiller_moves_the_batch_that_waits_for_it),
        TEST(test_chilling_that_nobody_began_is_late_at_its_deadline),
        TEST(test_cooling_by_fall_counts_from_the_fall_that_the_new_probe_shows),
        TEST(test_two_batches_that_wait_are_a_question),
        TEST(test_batch_whose_own_probe_is_in_its_food_is_a_question),
        TEST(test_batch_that_is_not_cooked_is_a_question),
        TEST(test_hot_food_of_no_batch_begins_one_in_the_place_of_its_probe),
        TEST(test_silence_before_the_food_is_not_in_its_favour),
        TEST(test_probe_of_several_places_brings_the_food_to_none_of_them),
        TEST(test_own_probe_is_believed_for_a_spacing),
        TEST(test_fall_that_its_own_probe_saw_counts),
        TEST(test_first_probe_of_the_plan_serves_as_well),
        TEST(test_food_with_two_probes_came_with_the_first),
        TEST(test_probe_out_of_a_batch_has_to_be_seen_without_food_again),
        TEST(test_readings_on_the_way_up_are_the_foods),
        TEST(test_move_by_hand_is_judged_likewise),
        TEST(test_first_of_two_probes_says_when_the_food_came),
        TEST(test_later_warmth_is_no_later_coming),
        TEST(test_person_corrects_when_it_came),
        TEST(test_half_an_hour_after_the_heat_is_in_time),
        TEST(test_longer_than_half_an_hour_after_the_heat_is_a_deviation_without_a_person),
        TEST(test_state_saved_between_any_two_inputs_changes_nothing),
        TEST(test_clock_never_counts_from_later_than_the_food_came),
        cmocka_unit_test(test_probe_of_the_first_place_brings_the_food_there),
        cmocka_unit_test(test_delay_before_the_chiller_follows_the_corrected_instant),
        cmocka_unit_test(test_half_an_hour_after_the_heat_proves_nothing),
        cmocka_unit_test(test_corrected_instant_makes_no_late_beginning_good),
        cmocka_unit_test(test_four_degrees_below_the_start_are_no_food),
        cmocka_unit_test(test_rise_of_a_degree_is_the_foods),
        cmocka_unit_test(test_warmer_room_is_one_when_it_stays_as_it_is),
        cmocka_unit_test(test_warmer_room_is_what_it_shows_without_food_from_then_on),
        cmocka_unit_test(test_warmth_that_it_went_away_from_is_no_room),
        cmocka_unit_test(test_food_that_waits_for_an_answer_came_when_it_came),
        cmocka_unit_test(test_warmth_that_passed_is_not_when_chilling_began),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
