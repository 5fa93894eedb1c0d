/* An outage in a kitchen with several batches and places: each is judged for itself,
 * docs/engine.md E60 to E67; and what a stored reading is taken for. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

#define PLACE(id, probe, at_most)                                                              \
    "  - {id: " id ", name: " id ", probe: " probe ", limit: {kind: hold_cold, applies_to: "   \
    "air, at_most: " at_most ", tolerance: 10 min, back_for: 1 min}}\n"
#define KITCHEN                                                                                \
    PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s") PLAN_PROBE(                        \
        "p2", "food", "rack", "1", "10 s") PLAN_PROBE("p3", "food", "rack", "2", "10 s")       \
        PLAN_PROBE("a", "air", "rack", "3", "10 s")                                            \
            PLAN_PROBE("b", "air", "wing", "0", "10 s") PLAN_PROBE(                            \
                "c", "air", "wing", "1", "10 s") "places:\n" PLACE("fridge", "a", "5 °C")      \
                PLACE("larder", "b", "8 °C")                                                   \
                    PLACE("cellar", "c",                                                       \
                          "12 °C") "products:\n"                                               \
                                   "  - id: pie\n"                                             \
                                   "    name: Pie\n"                                           \
                                   "    steps: [{id: bake, name: Bake, limit: {kind: cook, "   \
                                   "applies_to: food, at_least: 70 "                           \
                                   "°C, for: 2 min, within: 15 min}}]\n"                      \
                                   "  - id: soup\n"                                            \
                                   "    name: Soup\n"                                          \
                                   "    steps: [{id: serve, name: Serve, limit: {kind: "       \
                                   "hold_hot, applies_to: food, "                              \
                                   "at_least: 57 °C, tolerance: 20 min, back_for: 1 min}}]\n"

static const char kitchen[] = KITCHEN;

static struct engine_batch_view
batch_of(const struct rig *rig, size_t index)
{
    struct engine_batch_view views[4];
    assert_true(index < engine_view_batches(rig->engine, views, 4));
    return views[index];
}

static void
test_outage_is_one_for_every_batch_and_every_place(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin pie p1\n0:00:00 begin soup p2\n0:00:00 begin pie p3\n"
                  "0:00:10-0:05:00 p1,p2,p3,a,b,c 20.0\n0:16:00 restart 0:05:00\n");
    /* The deadlines at 0:15:00 fell into it; what was outside may have been so throughout. */
    rig_expect(
        rig,
        "0:16:00 inconclusive outage since 0:05:00\n"
        "0:16:00 inconclusive outage batch 3 since 0:05:00\n"
        "0:16:00 deviation-opened outage #1 fridge p4 20.0 since 0:00:10 found 0:15:50\n"
        "0:16:00 deviation-opened outage #2 larder p5 20.0 since 0:00:10 found 0:15:50\n"
        "0:16:00 deviation-opened outage #3 cellar p6 20.0 since 0:00:10 found 0:15:50\n"
        "0:16:00 gap-opened outage #4 p1 since 0:05:00 found 0:11:00\n"
        "0:16:00 gap-opened outage #5 of #4 silent batch 2 p2 since 0:05:00 found 0:11:00\n"
        "0:16:00 gap-opened outage #6 of #4 silent batch 3 p3 since 0:05:00 found 0:11:00\n"
        "0:16:00 gap-opened outage #7 of #4 silent fridge p4 since 0:05:00 found 0:11:00\n"
        "0:16:00 gap-opened outage #8 larder p5 since 0:05:00 found 0:11:00\n"
        "0:16:00 gap-opened outage #9 of #8 silent cellar p6 since 0:05:00 found "
        "0:11:00\n");
    rig_free(rig);
}

/* What falls due after it falls due at its own instant. */
static void
test_deadlines_after_an_outage_are_where_they_were(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin pie p1\n0:00:00 begin soup p2\n0:01:00 begin pie p3\n"
                  "0:01:00-0:05:00 p1,p2,p3,a,b,c 20.0\n0:07:00 restart 0:05:00\n"
                  "0:07:10-0:30:00 p1,p2,p3,a,b,c 20.0\n");
    /* The soup: 20 minutes watched and not are used up at 0:21:00, of watched ones at 0:23:00.
     */
    rig_expect(rig,
               "0:11:00 deviation-opened outage #1 fridge p4 20.0 since 0:01:00 found 0:10:00\n"
               "0:11:00 deviation-opened outage #2 larder p5 20.0 since 0:01:00 found 0:10:00\n"
               "0:11:00 deviation-opened outage #3 cellar p6 20.0 since 0:01:00 found 0:10:00\n"
               "0:15:00 deviation-opened too-late #4 p1 20.0 since 0:00:00 found 0:15:00\n"
               "0:16:00 deviation-opened too-late #5 batch 3 p3 20.0 since 0:01:00 found "
               "0:15:00\n"
               "0:21:00 inconclusive outage batch 2 p2 20.0 since 0:01:00 found 0:18:00\n"
               "0:23:00 deviation-opened out-too-long #6 batch 2 p2 20.0 since 0:01:00 found "
               "0:20:00\n");
    struct engine_undecided_view waiting;
    assert_int_equal(engine_view_undecided(rig->engine, &waiting, 1),
                     0); /* it is certain now */
    rig_free(rig);
}

/* The room of a batch that has ended is nobody's. */
static void
test_outage_says_nothing_of_a_batch_that_has_ended(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(
        rig,
        "0:00:00 begin pie p1\n0:00:00 begin pie p2\n0:00:00 begin pie p3\n"
        "0:00:10-0:05:00 p1,p2,p3,a,b,c 4.0\n0:05:05 end discarded batch=2\n0:17:00 restart "
        "0:05:05\n");
    struct engine_undecided_view waiting[4];
    assert_int_equal(engine_view_undecided(rig->engine, waiting, 4), 2);
    assert_int_equal(waiting[0].said.batch, 1);
    assert_int_equal(waiting[1].said.batch, 3);
    rig_free(rig);
}

/* A restart in which no time was missed breaks nothing. */
static void
test_restart_without_a_missed_moment_breaks_nothing(void **state)
{
    (void)state;
    static const char *const restarts[] = {"0:01:00 restart 0:01:00\n",
                                           "0:01:00 restart 0:01:00.001\n"};
    for (size_t i = 0; i < 2; i++) {
        struct rig *rig = rig_of(kitchen);
        rig_play(rig, "0:00:00 begin pie p1\n0:00:10-0:01:00 p1 71.0\n");
        rig_play(rig, restarts[i]);
        rig_play(rig, "0:01:10-0:02:10 p1 71.0\n");
        rig_expect(rig, "0:02:10 limit-met held p1 71.0 since 0:00:10 found 0:02:00\n");
        rig_free(rig);
    }
    struct rig *rig = rig_of(kitchen); /* one that missed some does */
    rig_play(rig, "0:00:00 begin pie p1\n0:00:10-0:01:00 p1 71.0\n0:01:00.002 restart "
                  "0:01:00.001\n0:01:10-0:02:10 p1 71.0\n");
    assert_int_equal(batch_of(rig, 0).credited_ms, 60000);
    rig_free(rig);
}

/* E60: unknown time is unbroken for no probe, whichever has shown the least. */
static void
test_outage_breaks_what_each_probe_has_held(void **state)
{
    (void)state;
    static const char *const limits[] = {
        "{kind: cook, applies_to: food, at_least: 60 °C, for: 12 min}",
        "{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 min}]}",
        "{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: 60 °C, "
        "for: 12 min}]}",
        "{kind: lethality, applies_to: food, reference: 60 °C, z: 7.5 °C, for: 12 min, "
        "validated_by: Study 7}",
    };
    for (size_t i = 0; i < COUNT_OF(limits); i++) {
        for (int second = 0; second < 2; second++) {
            struct rig *rig = rig_new(limits[i], NULL);
            rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1,p2 59.0\n");
            rig_play(rig, second ? "0:00:20-0:01:00 p1 60.0\n" : "0:00:20-0:01:00 p2 60.0\n");
            rig_play(rig, "0:01:10-0:01:30 p1,p2 60.0\n0:01:35 restart "
                          "0:01:30\n0:01:40-0:13:00 p1,p2 60.0\n");
            /* From 0:01:40 on; and 20 s before it where they are added up. Rates round down. */
            if (i < 2)
                assert_int_equal(rig_batch(rig).credited_ms, 680000);
            else
                assert_in_range(rig_batch(rig).credited_ms, 699000, 700000);
            rig_free(rig);
        }
    }
}

/* A place that is quiet judges nothing, an outage neither. */
static void
test_outage_of_a_quiet_place_counts_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:10-0:01:00 a,b,c 9.0\n0:01:05 quiet fridge 1:00:00\n0:01:10 a,b,c "
                  "9.0\n0:14:00 restart 0:01:10\n0:14:10 a,b,c 4.0\n");
    rig->log[rig->log_len] = '\0';
    assert_null(strstr(rig->log, "out-too-long #1 fridge"));
    assert_null(strstr(rig->log, "deviation-opened outage #5 fridge"));
    assert_non_null(strstr(rig->log, "larder p5 9.0 since 0:00:10"));
    struct engine_place_view views[3];
    assert_int_equal(engine_view_places(rig->engine, views, 3), 3);
    assert_int_equal(views[0].outside_since_ms, TIME_NONE);
    rig_free(rig);
}

/* A stored suspect quality is taken as good and judged anew. */
static void
test_stored_suspicion_is_judged_anew(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin pie p1\n0:00:10 p1 60.0\n");
    struct engine_input input = {.kind = ENGINE_READING, .at_ms = rig_time("0:00:20")};
    input.is.reading = (struct reading){input.at_ms, 61000, 1, SUSPECT_LEFT_FOOD};
    rig_feed(rig, &input);
    assert_int_equal(rig->quality, READING_GOOD);
    struct engine_probe_view views[1];
    assert_int_equal(engine_view_probes(rig->engine, views, 1), 1);
    assert_int_equal(views[0].last_good.at_ms, rig_time("0:00:20"));
    input.at_ms = rig_time("0:00:30");
    input.is.reading = (struct reading){input.at_ms, TEMP_NONE, 1, BAD_TIMEOUT};
    rig_feed(rig, &input);
    assert_int_equal(rig->quality, BAD_TIMEOUT); /* bad stays bad */
    rig_free(rig);
}

/* E203: levels that a new plan adds hold for the alarms that there are. */
static void
test_levels_of_a_new_plan_hold_for_alarms_that_there_are(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:10-0:12:00 a,b,c 7.0\n");
    rig->next_plan = rig_plan_of(KITCHEN "escalation: [{after: 15 min, tell: SB}]\n");
    rig_play(rig, "0:12:05 plan new\n0:12:10-0:26:00 a,b,c 7.0\n");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 fridge p4 7.0 since 0:00:10 found "
               "0:10:00\n"
               "0:25:10 escalated no-action #1 level 1 fridge since 0:10:10\n");
    rig_free(rig);
}

/* E203, E199: the level that asks whether it was heard starts anew wherever it is in the list.
 */
static void
test_level_for_hearing_starts_anew_also_as_the_last_of_the_list(void **state)
{
    (void)state;
    struct rig *rig = rig_of(KITCHEN "escalation:\n  - {after: 2 min, tell: SB}\n  - {after: 5 "
                                     "min, without: hearing, tell: supervisor}\n");
    rig_play(rig, "0:00:10-0:16:00 a,b,c 7.0\n0:16:05 shelve 1 0:10:00\n0:16:10-0:32:00 a,b,c "
                  "7.0\n");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 fridge p4 7.0 since 0:00:10 found "
               "0:10:00\n"
               "0:12:10 escalated no-action #1 level 1 fridge since 0:10:10\n"
               "0:15:10 escalated not-heard #1 level 2 fridge since 0:10:10\n"
               "0:26:05 shelf-ended time-up #1 fridge since 0:16:05 found 0:10:00\n"
               "0:26:05 alarm-raised time-up #1 fridge since 0:10:10\n"
               "0:31:05 escalated not-heard #1 level 2 fridge since 0:26:05\n");
    rig_free(rig);
}

/* An engine that has seen other days takes a saved state: nothing of them is left. */
static void
test_state_loaded_over_another_is_that_state_alone(void **state)
{
    (void)state;
    static const char before[] = "0:00:00 begin pie p1\n0:00:10-0:01:00 p1,a,b,c 4.0\n";
    static const char after[] =
        "0:01:10-0:16:00 p1,a,b,c 9.0\n0:16:05 end discarded\n0:16:10 begin "
        "soup p2\n0:16:20-0:40:00 p2,a,b,c 4.0\n";
    struct rig *used = rig_of(kitchen), *one = rig_of(kitchen), *other = rig_of(kitchen);
    rig_play(
        used,
        "0:00:00 begin soup p3\n0:00:00 begin soup p2\n0:00:00 begin pie p1 place=fridge\n"
        "0:00:10-0:30:00 p1,p2,p3,a,b,c 20.0\n0:30:05 quiet fridge 1:00:00\n0:30:06 shelve "
        "larder 0:30:00\n0:30:07 heard 1 AB\n0:30:08 end stored batch=2\n");
    rig_play(one, before);
    rig_play(other, before);
    size_t size = engine_save_size(one->engine);
    char *bytes = malloc(size);
    assert_non_null(bytes);
    assert_int_equal(engine_save(one->engine, bytes, size), size);
    assert_true(engine_load(used->engine, bytes, size));
    uint64_t seqs[ENGINE_PLANS_MAX];
    assert_int_equal(engine_plan_seqs(used->engine, seqs), 1);
    engine_bind_plan(used->engine, seqs[0], engine_plan(one->engine));
    struct engine *fresh = one->engine;
    one->engine = used->engine;
    used->engine = fresh;
    rig_play(one, after);
    rig_play(other, after);
    other->log[other->log_len] = '\0';
    assert_non_null(strstr(other->log, "deviation-opened"));
    rig_expect(one, other->log);
    free(bytes);
    rig_free(used);
    rig_free(one);
    rig_free(other);
}

/* What has ended is gone with its plan, and what still goes on comes after it. */
static void
test_outage_says_nothing_of_a_batch_whose_plan_is_gone(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(
        rig,
        "0:00:00 begin pie p1\n0:00:00 begin pie p2\n0:00:10-0:05:00 p1,p2,p3,a,b,c 4.0\n");
    rig->next_plan = rig_plan_of(kitchen);
    rig_play(rig, "0:05:01 plan new\n0:05:02 begin pie p3\n0:05:03 end discarded\n"
                  "0:05:04 end discarded batch=2\n0:25:00 restart 0:05:05\n");
    struct engine_undecided_view waiting[4];
    assert_int_equal(engine_view_undecided(rig->engine, waiting, 4), 1);
    assert_int_equal(waiting[0].said.batch, 3);
    rig_free(rig);
}

/* E203: and they are told at their time, whether or not anything comes in between. */
static void
test_level_of_a_new_plan_waits_for_nothing_that_comes_after_it(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:10-0:12:00 a,b,c 7.0\n");
    rig->next_plan = rig_plan_of(KITCHEN "escalation: [{after: 3 min, tell: SB}]\n");
    rig_play(rig, "0:12:05 plan new\n0:13:20 wait\n");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 fridge p4 7.0 since 0:00:10 found "
               "0:10:00\n"
               "0:13:10 escalated no-action #1 level 1 fridge since 0:10:10\n");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_outage_is_one_for_every_batch_and_every_place),
        cmocka_unit_test(test_deadlines_after_an_outage_are_where_they_were),
        cmocka_unit_test(test_outage_says_nothing_of_a_batch_that_has_ended),
        cmocka_unit_test(test_restart_without_a_missed_moment_breaks_nothing),
        cmocka_unit_test(test_outage_breaks_what_each_probe_has_held),
        cmocka_unit_test(test_outage_of_a_quiet_place_counts_nothing),
        cmocka_unit_test(test_stored_suspicion_is_judged_anew),
        cmocka_unit_test(test_levels_of_a_new_plan_hold_for_alarms_that_there_are),
        cmocka_unit_test(test_level_for_hearing_starts_anew_also_as_the_last_of_the_list),
        cmocka_unit_test(test_state_loaded_over_another_is_that_state_alone),
        cmocka_unit_test(test_outage_says_nothing_of_a_batch_whose_plan_is_gone),
        cmocka_unit_test(test_level_of_a_new_plan_waits_for_nothing_that_comes_after_it),
    };
    return cmocka_run_group_tests_name("engine restart many", tests, NULL, NULL);
}
