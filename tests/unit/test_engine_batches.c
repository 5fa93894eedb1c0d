/* Several batches at once: what is known of each, their probes, their places and what one does
 * not do to another. docs/engine.md E9, E16, E80, E192, E194. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

static const char kitchen[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")
    PLAN_PROBE("p2", "food", "rack", "1", "10 s") PLAN_PROBE("p3", "food", "wing", "0", "20 s")
        PLAN_PROBE("cold", "air", "rack", "2",
                   "10 s") "places:\n"
                           "  - {id: fridge, name: Fridge, probe: cold, limit: {kind: "
                           "hold_cold, applies_to: air,\n"
                           "     at_most: 5 °C, tolerance: 10 min, back_for: 1 min}}\n"
                           "  - {id: shelf, name: Shelf, limit: {kind: none}}\n"
                           "products:\n"
                           "  - id: pie\n"
                           "    name: Pie\n"
                           "    steps:\n"
                           "      - {id: bake, name: Bake, limit: {kind: cook, applies_to: "
                           "food, at_least: 70 °C, "
                           "within: 15 min}}\n"
                           "      - {id: rest, name: Rest, place: shelf, limit: {kind: none}}\n"
                           "  - id: stock\n"
                           "    name: Stock\n"
                           "    steps:\n"
                           "      - {id: boil, name: Boil, limit: {kind: cook, applies_to: "
                           "food, at_least: 90 °C, "
                           "for: 1 min, within: 30 min}}\n"
                           "      - {id: keep, name: Keep, limit: {kind: hold_hot, applies_to: "
                           "food, at_least: 63 "
                           "°C, tolerance: 2 min, back_for: 1 min}}\n"
                           "      - {id: store, name: Store, limit: {kind: none}}\n";

static struct engine_batch_view
batch_of(const struct rig *rig, size_t index)
{
    struct engine_batch_view views[8];
    assert_true(index < engine_view_batches(rig->engine, views, 8));
    return views[index];
}

static size_t
batch_count(const struct rig *rig)
{
    struct engine_batch_view views[8];
    return engine_view_batches(rig->engine, views, 8);
}

static void
enter(struct rig *rig, const char *at, struct entry *entry)
{
    assert_true(engine_check(rig->engine, entry, rig->refusal, sizeof rig->refusal));
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq, .is.entry = entry};
    rig_feed(rig, &input);
}

static void
test_batch_is_what_was_said_as_it_began(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    struct entry entry;
    entry_clear(&entry, ENTRY_BEGIN);
    (void)strcpy(entry.who, "SB");
    (void)strcpy(entry.product, "stock");
    (void)strcpy(entry.step, "keep");
    (void)strcpy(entry.place, "shelf");
    (void)strcpy(entry.probes[0], "p3");
    (void)strcpy(entry.probes[1], "p1");
    entry.probe_count = 2;
    entry.mass_g = 4200;
    entry.thickness_mm = 85;
    rig_play(rig, "0:00:00 begin pie p2\n");
    enter(rig, "0:01:00", &entry);
    struct engine_batch_view batch = batch_of(rig, 1);
    assert_int_equal(batch.number, 2);
    assert_string_equal(batch.product->id, "stock");
    assert_int_equal(batch.step, 1);
    assert_int_equal(batch.begun_ms, rig_time("0:01:00"));
    assert_int_equal(batch.step_begun_ms, rig_time("0:01:00"));
    assert_int_equal(batch.mass_g, 4200);
    assert_int_equal(batch.thickness_mm, 85);
    assert_string_equal(batch.who, "SB");
    assert_string_equal(batch.place, "shelf");
    assert_int_equal(batch.probe_count, 2);
    assert_int_equal(batch.probes[0], 3);
    assert_int_equal(batch.probes[1], 1);
    assert_ptr_equal(batch.plan, engine_plan(rig->engine));
    assert_int_equal(batch.plan_seq, 2);
    assert_int_equal(batch.auto_seq, 0);
    assert_int_equal(batch.governing_probe, 0);
    assert_int_equal(batch.governing_mC, TEMP_NONE);
    assert_int_equal(batch.heard_ms, TIME_NONE);
    /* The first begins with its first step, and nothing else was said of it. */
    batch = batch_of(rig, 0);
    assert_string_equal(batch.product->id, "pie");
    assert_int_equal(batch.step, 0);
    assert_int_equal(batch.mass_g, 0);
    assert_string_equal(batch.place, "");
    rig_free(rig);
}

static void
test_batch_that_moves_keeps_its_beginning_and_all_of_its_probes(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin stock p1 p2 p3\n0:00:10 p1,p2,p3 95.0\n0:01:00 end served "
                  "refused\n");
    rig_free(rig);
    rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin stock p1 p2 p3\n0:00:10-0:02:00 p1,p2,p3 95.0\n0:02:05 move "
                  "who=SB\n");
    rig_expect(rig, "0:01:10 limit-met held p1 95.0 since 0:00:10 found 0:01:00\n");
    struct engine_batch_view batch = batch_of(rig, 0);
    assert_int_equal(batch.step, 1);
    assert_int_equal(batch.auto_seq, 0);
    assert_int_equal(batch.begun_ms, rig_time("0:00:00"));
    assert_int_equal(batch.step_begun_ms, rig_time("0:02:05"));
    assert_string_equal(batch.who, "AB");
    assert_int_equal(batch.probe_count, 3);
    assert_int_equal(batch.probes[0], 1);
    assert_int_equal(batch.probes[1], 2);
    assert_int_equal(batch.probes[2], 3);
    /* The last of them, read every 20 s, is as good as the others. */
    rig_play(rig, "0:02:10 p1,p2 95.0\n0:02:10 p3 62.0\n");
    assert_true(batch_of(rig, 0).outside);
    rig_free(rig);
}

static void
test_batch_that_has_ended_sets_all_its_probes_free(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin stock p1 p2 p3\n0:00:10 p1,p2,p3 20.0\n0:00:20 end "
                  "discarded\n");
    struct engine_probe_view probes[4];
    assert_int_equal(engine_view_probes(rig->engine, probes, 4), 4);
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(probes[i].batch, 0);
    /* In a drawer none of them is missed; the fridge's is. */
    rig_play(rig, "0:30:00 wait\n");
    rig_expect(rig,
               "0:05:00 gap-opened no-good-reading #1 fridge p4 since 0:00:00 found 0:05:00\n");
    rig_play(rig, "0:30:00 begin stock p3\n0:30:00 begin stock p2\n0:30:00 begin stock p1\n");
    assert_int_equal(batch_count(rig), 3);
    rig_free(rig);
}

static void
test_batch_takes_the_room_of_one_that_has_ended_and_leaves_the_others(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin stock p1\n0:00:00 begin stock p2\n0:00:00 begin stock p3\n"
                  "0:00:10 end discarded\n0:00:20 begin pie p1\n");
    assert_int_equal(batch_count(rig), 3);
    assert_int_equal(batch_of(rig, 0).number, 2);
    assert_int_equal(batch_of(rig, 0).probes[0], 2);
    assert_int_equal(batch_of(rig, 1).number, 3);
    assert_int_equal(batch_of(rig, 1).probes[0], 3);
    assert_int_equal(batch_of(rig, 2).number, 4);
    assert_string_equal(batch_of(rig, 2).product->id, "pie");
    rig_reload(rig);
    assert_int_equal(batch_count(rig), 3);
    rig_free(rig);
}

static void
test_each_batch_has_its_own_deadline(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin stock\n0:01:00 begin pie\n0:02:00 begin pie\n0:02:30 move "
                  "batch=2\n0:40:00 wait\n");
    rig_expect(rig,
               "0:02:30 deviation-opened left-early #1 batch 2\n"
               "0:02:30 deviation-ended batch-ended #1 batch 2\n"
               "0:05:00 gap-opened no-good-reading #2 fridge p4 since 0:00:00 found 0:05:00\n"
               "0:17:00 deviation-opened too-late #3 batch 3 since 0:02:00 found 0:15:00\n"
               "0:30:00 deviation-opened too-late #4 since 0:00:00 found 0:30:00\n");
    assert_int_equal(batch_of(rig, 0).deadline_ms, rig_time("0:30:00"));
    rig_free(rig);
}

static void
test_most_probes_a_batch_can_have_are_all_looked_at(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin stock p1 p2 p3\n0:00:10 p1,p2 95.0\n0:00:10 p3 89.0\n"
                  "0:00:20-0:01:30 p1,p2 95.0\n0:01:40 p3 89.0\n");
    rig_expect(rig, ""); /* the last of them is too cold */
    assert_int_equal(batch_of(rig, 0).governing_probe, 3);
    assert_int_equal(batch_of(rig, 0).governing_mC, 89000);
    rig_free(rig);
}

/* E56: of several probes each keeps its own silence. */
static void
test_moving_a_batch_forgives_none_of_its_probes_their_silence(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig,
             "0:00:00 begin stock p1 p2 p3\n0:00:10-0:01:00 p1,p2,p3 95.0\n0:01:10-0:02:00 "
             "p1,p2,cold 4.0\n0:02:10-0:03:00 p1,cold 4.0\n0:04:00 move\n0:10:00 wait\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:06:00 gap-opened no-good-reading #2 p3 since 0:01:00"));
    assert_non_null(strstr(rig->log, "0:07:00 gap-opened no-good-reading #3 p2 since 0:02:00"));
    assert_non_null(strstr(rig->log, "0:08:00 gap-opened no-good-reading #4 p1 since 0:03:00"));
    rig_free(rig);
}

static void
test_batch_that_has_ended_has_no_deadline_any_more(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin stock\n0:00:00 begin pie\n0:00:00 begin pie\n0:05:00 end "
                  "discarded batch=2\n0:06:00 end discarded batch=3\n0:20:00 wait\n");
    rig_expect(rig,
               "0:05:00 gap-opened no-good-reading #1 fridge p4 since 0:00:00 found 0:05:00\n");
    rig_free(rig);
}

/* ---- the plan a batch began under ---- */

static struct plan *
plan_again(void)
{
    return rig_plan_of(kitchen);
}

/* A new plan moves no deadline of what is running. */
static void
test_new_plan_takes_no_batch_its_deadline(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig,
             "0:00:00 begin pie\n0:01:00 begin pie\n0:02:00 begin pie\n0:02:10 cold 4.0\n");
    rig->next_plan = plan_again();
    rig_play(rig,
             "0:05:00 plan new\n0:07:00 cold 4.0\n0:11:00 cold 4.0\n0:15:00 cold 4.0\n0:18:00 "
             "wait\n");
    rig_expect(rig,
               "0:15:00 deviation-opened too-late #1 since 0:00:00 found 0:15:00\n"
               "0:16:00 deviation-opened too-late #2 batch 2 since 0:01:00 found 0:15:00\n"
               "0:17:00 deviation-opened too-late #3 batch 3 since 0:02:00 found 0:15:00\n");
    rig_free(rig);
}

/* E80: each is kept as long as one of its batches is open, and no longer. */
static void
test_each_older_plan_is_kept_for_its_batches_and_no_longer(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    uint64_t seqs[ENGINE_PLANS_MAX];
    rig_play(rig, "0:00:00 begin pie\n");
    rig->next_plan = plan_again();
    rig_play(rig, "0:01:00 plan new\n0:01:00 begin pie\n");
    rig->next_plan = plan_again();
    rig_play(rig, "0:02:00 plan new\n0:02:00 begin pie\n");
    assert_int_equal(engine_plan_seqs(rig->engine, seqs), 3);
    assert_ptr_equal(batch_of(rig, 0).plan, rig->plans[0]);
    assert_ptr_equal(batch_of(rig, 1).plan, rig->plans[1]);
    assert_ptr_equal(batch_of(rig, 2).plan, rig->plans[2]);
    rig_reload(rig); /* bound again, each to its own */
    for (size_t i = 0; i < 3; i++)
        assert_ptr_equal(batch_of(rig, i).plan, rig->plans[i]);
    rig_play(rig, "0:03:00 end discarded batch=2\n");
    assert_int_equal(engine_plan_seqs(rig->engine, seqs), 2);
    assert_int_equal(seqs[0], batch_of(rig, 0).plan_seq);
    assert_int_equal(seqs[1], batch_of(rig, 1).plan_seq);
    rig->next_plan = plan_again();
    rig_play(rig, "0:04:00 plan new\n0:04:00 begin pie\n");
    assert_int_equal(engine_plan_seqs(rig->engine, seqs), 3);
    rig_play(rig, "0:05:00 end discarded batch=3\n0:05:01 end discarded\n");
    assert_int_equal(engine_plan_seqs(rig->engine, seqs), 1);
    assert_ptr_equal(batch_of(rig, 0).plan, rig->plans[3]);
    rig_free(rig);
}

/* ---- places ---- */

static void
test_batch_stays_where_it_is_until_somebody_or_its_step_says_otherwise(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin stock place=fridge\n0:00:10 move\n");
    assert_string_equal(batch_of(rig, 0).place, "fridge");
    rig_play(rig, "0:00:20 move place=shelf\n");
    assert_string_equal(batch_of(rig, 0).place, "shelf");
    /* Pies rest on the shelf, unless another place is said. */
    rig_play(rig, "0:00:30 begin pie place=fridge\n0:00:30 begin pie place=fridge\n"
                  "0:00:40 move batch=2\n0:00:40 move batch=3 place=fridge\n");
    assert_string_equal(batch_of(rig, 1).place, "shelf");
    assert_string_equal(batch_of(rig, 2).place, "fridge");
    rig_free(rig);
}

/* The food that the deviation of the fridge concerns. */
static void
expect_food(const struct rig *rig, uint32_t count, const uint32_t *food)
{
    static struct engine_deviation_view views[ENGINE_DEVIATIONS_MAX];
    size_t found = engine_view_deviations(rig->engine, views, ENGINE_DEVIATIONS_MAX), k = 0;
    while (k < found && views[k].opened.batch != 0)
        k++;
    assert_true(k < found);
    assert_int_equal(views[k].food_count, count);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(views[k].food[i], food[i]);
}

/* E192: batch 1 went on to the shelf before anybody knew that the fridge was too warm, batch 2
 * came while it was, batch 3 was never there and batch 4 stayed from one step to the next. */
static void
test_batch_that_moves_through_a_warm_fridge_is_concerned(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin pie place=fridge\n0:00:00 begin stock place=shelf\n0:00:00 "
                  "begin pie\n0:00:00 begin stock place=fridge\n"
                  "0:00:10-0:05:00 cold 9.0\n0:05:05 move\n0:05:06 move batch=4\n"
                  "0:05:10-0:11:00 cold 9.0\n");
    expect_food(rig, 2, (uint32_t[]){1, 4});
    rig_play(rig, "0:11:05 move batch=2 place=fridge\n0:11:06 move batch=3\n0:11:07 move "
                  "batch=4\n");
    expect_food(rig, 3, (uint32_t[]){1, 4, 2});
    rig_free(rig);
}

/* The same when nobody ever breached: what left before the first breach is not concerned. */
static void
test_batch_that_left_before_the_first_breach_is_not_concerned(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin pie place=fridge\n0:00:00 begin stock place=fridge\n"
                  "0:00:10-0:05:00 cold 4.0\n0:05:05 move\n0:05:10 cold 9.0\n0:05:10 end "
                  "stored batch=2 place=shelf\n0:05:20-0:16:00 cold 9.0\n");
    expect_food(rig, 1, (uint32_t[]){2}); /* gone at the very instant of the first breach */
    rig_free(rig);
}

/* E192: the last 64 that left any place are remembered, and as many are listed. */
static void
test_very_many_that_left_a_warm_fridge_are_remembered_as_far_as_there_is_room(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    static struct engine_deviation_view view;
    char line[120];
    rig_play(rig, "0:00:10 cold 9.0\n");
    for (int i = 1; i <= 70; i++) {
        (void)snprintf(line, sizeof line,
                       "0:00:20 begin pie place=fridge\n0:00:20 end discarded "
                       "batch=%d\n",
                       i);
        rig_play(rig, line);
        rig_reload(rig);
    }
    rig_play(rig, "0:00:30-0:11:00 cold 9.0\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_int_equal(view.food_count, 64);
    assert_false(view.food_more);
    bool listed[71] = {false};
    for (size_t i = 0; i < 64; i++)
        listed[view.food[i]] = true;
    for (size_t i = 7; i <= 70; i++)
        assert_true(listed[i]);
    rig_free(rig);
}

/* E191: two pies in the fridge, and the oven was too slow for the one. */
static void
test_deviation_of_a_batch_concerns_no_other_in_its_place(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    struct engine_deviation_view view;
    rig_play(rig, "0:00:00 begin stock place=fridge\n0:00:00 begin pie place=fridge\n0:00:00 "
                  "begin stock place=fridge\n0:00:10-0:15:10 cold 4.0\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_int_equal(view.opened.batch, 2);
    assert_string_equal(view.opened.place, "fridge");
    assert_string_equal(view.product, "pie");
    assert_int_equal(view.food_count, 1);
    assert_int_equal(view.food[0], 2);
    rig_free(rig);
}

/* It is in store when a person decides that it was not right. */
static void
test_deviation_of_food_in_store_names_its_product(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 5 °C, "
                              "within: 6 h}]}",
                              NULL);
    struct engine_deviation_view view;
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 4.0\n0:00:20 end stored place=shelf\n"
                  "0:00:30 decide no\n");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_string_equal(view.product, "dish");
    assert_int_equal(view.food_count, 1);
    assert_int_equal(view.food[0], 1);
    assert_int_equal(view.ended_ms, rig_time("0:00:30"));
    rig_free(rig);
}

/* ---- E194 ---- */

#define COOL_ONCE                                                                              \
    "{kind: cook, applies_to: food, at_least: 74 °C}}\n"                                      \
    "      - {id: cool, name: Cool, begins: by_itself, begins_on: [p1], limit:\n"              \
    "          {kind: cool, applies_to: food, from: 57 °C, once: yes, stages: [{to: 21 °C, " \
    "within: 2 h}, {to: 5 °C, within: 6 h}]}"

/* A cooling that did not begin after all has not used up the one that the food may have. */
static void
test_withdrawn_cooling_does_not_count_as_the_one_there_may_be(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL_ONCE, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n0:06:00-0:30:00 p1 "
                  "76.0 80.0\n0:30:10-1:00:00 p1 79.9 57.2\n1:00:10-1:10:00 p1 56.9 55.0\n");
    assert_int_equal(rig_batch(rig).step, 1);
    rig_play(rig, "1:10:05 correct 4 withdraw\n1:10:06 confirm yes SB\n");
    assert_int_equal(rig_batch(rig).step, 0);
    rig_play(rig, "1:10:10 move\n");
    assert_string_equal(rig->refusal, "");
    assert_int_equal(rig_batch(rig).step, 1);
    rig_play(rig, "1:10:20 move step=first\n");
    rig_play(rig, "1:10:20 move first\n1:10:30 move\n");
    assert_non_null(strstr(rig->refusal, "batch 1 has been cooled already"));
    rig_free(rig);
}

/* E145: outside its holding limit two steps ago is another time than outside as it was left. */
static void
test_time_without_control_counts_from_the_step_just_left_only(void **state)
{
    (void)state;
    static const char steps[] =
        "{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 2 h, back_for: 1 "
        "min}}\n"
        "      - {id: plain, name: Plain, limit: {kind: none}}\n"
        "      - {id: serve, name: Serve, limit: {kind: time_control, applies_to: food, "
        "within: 4 h, left_at_most: 5 °C}";
    struct rig *rig = rig_new(steps, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 5.0\n0:05:10-0:10:00 p1 6.0\n"
                  "0:10:05 move serve\n");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("4:05:00"));
    rig_free(rig);
    rig = rig_new(steps, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 5.0\n0:05:10-0:10:00 p1 6.0\n"
                  "0:10:05 move plain\n0:20:00 move serve\n");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("4:20:00"));
    rig_free(rig);
}

/* The first step can be named as well as left out. */
static void
test_batch_that_begins_in_its_first_step_by_name(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    rig_play(rig, "0:00:00 begin dish step=first p1\n");
    assert_string_equal(rig->refusal, "");
    assert_int_equal(rig_batch(rig).step, 0);
    rig_play(rig, "0:00:10 move after\n0:00:20 move first\n"); /* and gone back to (E16) */
    assert_int_equal(rig_batch(rig).step, 0);
    assert_int_equal(rig_batch(rig).step_begun_ms, rig_time("0:00:20"));
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_batch_is_what_was_said_as_it_began),
        cmocka_unit_test(test_batch_that_moves_keeps_its_beginning_and_all_of_its_probes),
        cmocka_unit_test(test_batch_that_has_ended_sets_all_its_probes_free),
        cmocka_unit_test(test_batch_takes_the_room_of_one_that_has_ended_and_leaves_the_others),
        cmocka_unit_test(test_each_batch_has_its_own_deadline),
        cmocka_unit_test(test_most_probes_a_batch_can_have_are_all_looked_at),
        cmocka_unit_test(test_moving_a_batch_forgives_none_of_its_probes_their_silence),
        cmocka_unit_test(test_batch_that_has_ended_has_no_deadline_any_more),
        cmocka_unit_test(test_new_plan_takes_no_batch_its_deadline),
        cmocka_unit_test(test_each_older_plan_is_kept_for_its_batches_and_no_longer),
        cmocka_unit_test(
            test_batch_stays_where_it_is_until_somebody_or_its_step_says_otherwise),
        cmocka_unit_test(test_batch_that_moves_through_a_warm_fridge_is_concerned),
        cmocka_unit_test(test_batch_that_left_before_the_first_breach_is_not_concerned),
        cmocka_unit_test(
            test_very_many_that_left_a_warm_fridge_are_remembered_as_far_as_there_is_room),
        cmocka_unit_test(test_deviation_of_a_batch_concerns_no_other_in_its_place),
        cmocka_unit_test(test_deviation_of_food_in_store_names_its_product),
        cmocka_unit_test(test_withdrawn_cooling_does_not_count_as_the_one_there_may_be),
        cmocka_unit_test(test_time_without_control_counts_from_the_step_just_left_only),
        cmocka_unit_test(test_batch_that_begins_in_its_first_step_by_name),
    };
    return cmocka_run_group_tests_name("engine batches", tests, NULL, NULL);
}
