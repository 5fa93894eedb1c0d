/* Plans that change, probes that come and go, lists that are full: docs/engine.md E57, E58,
 * E70, E80 to E83. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

#define FRIDGE       "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 20 min}"
#define COOK_AT_ONCE "{kind: cook, applies_to: food, at_least: 74 °C, for: 0 s}"

static size_t
probe_count(const struct rig *rig)
{
    struct engine_probe_view views[16];
    return engine_view_probes(rig->engine, views, 16);
}

static void
test_probe_taken_out_of_the_plan_is_forgotten_and_its_gap_ends(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    assert_int_equal(probe_count(rig), 4);
    rig->next_plan = rig_plan(NULL, NULL, NULL);
    rig_play(rig, "0:00:10 a1 4.0\n0:06:00 plan\n0:06:00 wait\n");
    rig_expect(rig,
               "0:05:10 gap-opened no-good-reading #1 fridge p4 since 0:00:10 found 0:05:00\n"
               "0:06:00 gap-ended entered #1 fridge p4 since 0:00:10 found 0:05:50\n");
    assert_int_equal(probe_count(rig), 3);
    /* a reading of it is nobody's, and stored as it came */
    rig_play(rig, "0:06:10 a1 9.0\n0:06:20 a1 bad\n");
    assert_int_equal(rig->quality, BAD_TIMEOUT);
    rig_expect(rig, "");
    rig_free(rig);
}

static void
test_probe_on_a_batch_outlives_its_plan(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_AT_ONCE, NULL);
    rig->next_plan = rig_plan(COOK_AT_ONCE, NULL, NULL);
    rig->next_plan->probe_count = 2; /* without p3 */
    rig_play(rig, "0:00:00 begin dish p3\n0:00:10 p3 70.0\n0:00:15 plan\n0:00:20 p3 72.0\n");
    assert_int_equal(probe_count(rig), 3);
    struct engine_probe_view views[3];
    assert_int_equal(engine_view_probes(rig->engine, views, 3), 3);
    assert_false(views[2].in_plan);
    assert_int_equal(views[2].batch, 1);
    rig_play(rig, "0:00:30 p3 74.0\n0:00:35 end served\n");
    rig_expect(rig, "0:00:30 limit-met reached p3 74.0 since 0:00:30\n");
    assert_int_equal(probe_count(rig), 2);
    rig_free(rig);
}

static void
test_new_probe_counts_its_silence_from_its_plan(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    rig->next_plan = rig_plan(NULL, FRIDGE, NULL);
    rig_play(rig, "1:00:00 plan\n1:04:59.999 wait\n");
    rig_expect(rig, "");
    rig_play(rig, "1:05:00 wait\n");
    rig_expect(rig,
               "1:05:00 gap-opened no-good-reading #1 fridge p4 since 1:00:00 found 0:05:00\n");
    rig_free(rig);
}

/* A probe of the kind food may watch a place (a dummy load in a fridge): then its silence
 * matters. */
static void
test_food_probe_that_watches_a_place_may_not_be_silent(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    rig->next_plan = rig_plan(NULL, FRIDGE, NULL);
    rig->next_plan->probes[3].kind = PROBE_FOOD;
    rig_play(rig, "0:00:00 plan\n0:05:00 wait\n");
    rig_expect(rig,
               "0:05:00 gap-opened no-good-reading #1 fridge p4 since 0:00:00 found 0:05:00\n");
    rig_free(rig);
}

/* A jump of a probe that watches a place is no jump: air may. */
static void
test_air_is_never_suspect(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:00 a1 4.0\n0:00:10 a1 20.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_expect(rig, "");
    rig_free(rig);
}

static void
test_old_plan_is_forgotten_with_its_last_batch(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_AT_ONCE, NULL);
    uint64_t seqs[ENGINE_PLANS_MAX];
    rig->next_plan = rig_plan(COOK_AT_ONCE, NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:05 plan\n");
    assert_int_equal(engine_plan_seqs(rig->engine, seqs), 2);
    rig_reload(rig);
    rig_play(rig, "0:00:10 end discarded\n");
    assert_int_equal(engine_plan_seqs(rig->engine, seqs), 1);
    assert_int_equal(seqs[0], 4); /* start, plan, begin, plan */
    rig_free(rig);
}

static void
begin(struct rig *rig, int64_t at_ms, char *ret_refusal, size_t size)
{
    struct entry entry;
    struct engine_input input = {.kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = rig->seq + 1};
    entry_clear(&entry, ENTRY_BEGIN);
    strcpy(entry.who, "AB");
    strcpy(entry.product, "dish");
    ret_refusal[0] = '\0';
    if (!engine_check(rig->engine, &entry, ret_refusal, size))
        return;
    rig->seq++;
    input.is.entry = &entry;
    rig_feed(rig, &input);
}

/* A batch of each of 15 plans is open: the next plan still finds room, the next batch does not.
 */
static void
test_too_many_old_plans_in_use_refuse_another_batch(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    char refusal[200];
    for (int i = 0; i < ENGINE_PLANS_MAX - 1; i++) {
        begin(rig, RIG_BASE_MS + i * 1000, refusal, sizeof refusal);
        assert_string_equal(refusal, "");
        begin(rig, RIG_BASE_MS + i * 1000, refusal,
              sizeof refusal); /* a second of the same plan is free */
        assert_string_equal(refusal, "");
        struct engine_input input = {
            .kind = ENGINE_PLAN, .at_ms = RIG_BASE_MS + i * 1000 + 500, .seq = ++rig->seq};
        input.is.plan = rig->plans[0];
        rig_feed(rig, &input);
    }
    begin(rig, RIG_BASE_MS + 60000, refusal, sizeof refusal);
    assert_string_equal(
        refusal, "batches of 15 older plans are still open; end the oldest of them first");
    struct engine_input input = {
        .kind = ENGINE_PLAN, .at_ms = RIG_BASE_MS + 60001, .seq = ++rig->seq};
    input.is.plan = rig->plans[0];
    rig_feed(rig, &input); /* would fail an assertion without room */
    rig_free(rig);
}

static void
test_too_many_open_batches_refuse_another(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    char refusal[200];
    for (int i = 0; i < ENGINE_BATCHES_MAX; i++)
        begin(rig, RIG_BASE_MS + i, refusal, sizeof refusal);
    assert_string_equal(refusal, "");
    begin(rig, RIG_BASE_MS + 100, refusal, sizeof refusal);
    assert_string_equal(refusal,
                        "64 batches are open, which is the most there can be; end one first");
    struct engine_batch_view views[ENGINE_BATCHES_MAX];
    assert_int_equal(engine_view_batches(rig->engine, views, ENGINE_BATCHES_MAX),
                     ENGINE_BATCHES_MAX);
    for (uint32_t i = 0; i < ENGINE_BATCHES_MAX; i++)
        assert_int_equal(views[i].number, i + 1);
    assert_int_equal(engine_view_batches(rig->engine, views, 3), 3);
    rig_reload(rig);
    rig_free(rig);
}

/* The oldest of more hand readings than are remembered makes room. */
static void
test_many_hand_readings_push_out_the_oldest(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_AT_ONCE, NULL);
    char script[100];
    rig_play(rig, "0:00:00 begin dish\n0:00:01 hand 75.0\n"); /* seq 4 */
    for (int i = 0; i < 140; i++) {
        snprintf(script, sizeof script, "0:%02d:%02d hand 76.0\n", 1 + i / 60, i % 60);
        rig_play(rig, script);
    }
    rig_play(rig, "0:10:00 correct 4 60.0\n0:11:00 move first\n0:11:01 hand 75.0\n0:12:00 "
                  "correct 147 60.0\n");
    rig_expect(rig, "0:00:01 limit-met hand-reading 75.0 since 0:00:01\n"
                    "0:11:01 limit-met hand-reading 75.0 since 0:11:01\n"
                    "0:12:00 inconclusive corrected 60.0 since 0:11:01\n");
    rig_reload(rig);
    rig_free(rig);
}

/* The plan in the last place is like any other: it keeps others out while its batch is open,
 * and goes with it. */
static void
test_last_of_the_plans_counts_and_goes_with_its_batch(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    char refusal[200];
    uint64_t seqs[ENGINE_PLANS_MAX];
    struct engine_input input = {.kind = ENGINE_PLAN};
    input.is.plan = rig->plans[0];
    for (int i = 0; i < ENGINE_PLANS_MAX - 1; i++) {
        begin(rig, RIG_BASE_MS + i * 1000, refusal, sizeof refusal);
        assert_string_equal(refusal, "");
        input.at_ms = RIG_BASE_MS + i * 1000 + 500;
        input.seq = ++rig->seq;
        rig_feed(rig, &input);
    }
    rig_play(rig, "0:01:00 end discarded batch=4\n");
    begin(rig, rig_time("0:01:01"), refusal, sizeof refusal); /* batch 16, of the last plan */
    assert_string_equal(refusal, "");
    input.at_ms = rig_time("0:01:02");
    input.seq = ++rig->seq;
    rig_feed(rig, &input); /* where the plan of batch 4 was */
    begin(rig, rig_time("0:01:03"), refusal, sizeof refusal);
    assert_string_equal(
        refusal, "batches of 15 older plans are still open; end the oldest of them first");
    assert_int_equal(engine_plan_seqs(rig->engine, seqs), ENGINE_PLANS_MAX);
    rig_reload(rig); /* each is bound again, the last one too */
    rig_play(rig, "0:01:04 end discarded batch=16\n");
    assert_int_equal(engine_plan_seqs(rig->engine, seqs), ENGINE_PLANS_MAX - 1);
    rig_free(rig);
}

/* The first number is a probe like any other. */
static void
test_first_probe_that_the_plan_leaves_out_is_forgotten(void **state)
{
    (void)state;
    struct engine_probe_view views[4];
    struct engine_check_view checks[4];
    static const uint16_t numbers[] = {1, 2};
    struct rig *rig = rig_new(NULL, NULL);
    rig->next_plan = rig_plan(NULL, NULL, NULL);
    rig->next_plan->probes[0].number = 0; /* as of one that was never given a number */
    rig_play(rig, "0:00:10 plan\n");
    assert_int_equal(engine_view_probes(rig->engine, views, 4), 2);
    assert_int_equal(views[0].number, 2);
    assert_int_equal(views[1].number, 3);
    assert_int_equal(engine_view_checks(rig->engine, checks, 2),
                     2); /* no more than asked for */
    for (size_t i = 0; i < 2; i++)
        assert_int_equal(checks[i].probe, numbers[i]);
    rig->next_plan = rig_plan(NULL, NULL, NULL);
    rig_play(rig, "0:00:20 plan\n"); /* it comes back, and the others stay */
    assert_int_equal(engine_view_probes(rig->engine, views, 4), 3);
    rig_free(rig);
}

/* A probe that a plan leaves out and the next names again is there again, and new. */
static void
test_probe_that_comes_back_to_the_plan_is_known_again(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, "{kind: hold_cold, applies_to: air, at_most: 5 °C}");
    struct engine_probe_view views[8];
    rig_play(rig, "0:00:10 a1 4.0\n");
    rig->next_plan = rig_plan(NULL, NULL, NULL); /* without a1 */
    rig_play(rig, "0:00:20 plan\n");
    assert_int_equal(engine_view_probes(rig->engine, views, 8), 3);
    struct engine_input late = {.kind = ENGINE_READING, .at_ms = rig_time("0:00:25")};
    late.is.reading = (struct reading){late.at_ms, 9000, 4, READING_GOOD};
    rig_feed(rig, &late);
    assert_int_equal(engine_view_probes(rig->engine, views, 8), 3);
    rig->next_plan = rig_plan(NULL, "{kind: hold_cold, applies_to: air, at_most: 5 °C}", NULL);
    rig_play(rig, "0:00:30 plan\n");
    assert_int_equal(engine_view_probes(rig->engine, views, 8), 4);
    assert_int_equal(views[3].number, 4);
    assert_int_equal(views[3].last.at_ms, TIME_NONE);
    rig_play(rig, "0:00:40 a1 4.0\n");
    assert_int_equal(engine_view_probes(rig->engine, views, 8), 4);
    assert_int_equal(views[3].last.temp_mC, 4000);
    rig_free(rig);
}

/* E56: a new plan forgives no probe its silence, the first of all included. */
static void
test_new_plan_forgives_the_first_probe_no_silence(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: hold_hot, applies_to: food, at_least: 57 °C}", NULL);
    rig->next_plan =
        rig_plan("{kind: hold_hot, applies_to: food, at_least: 57 °C}", NULL, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 70.0\n0:04:00 plan\n0:05:10 wait\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n");
    rig_free(rig);
}

/* The most places that a plan can have, the one with that name being first or last; each is a
 * fridge that the one probe watches. */
static struct plan *
plan_of_places(int first)
{
    static char text[16000];
    int len = snprintf(text, sizeof text, "%splaces:\n",
                       PLAN_HEAD PLAN_PROBE("cold", "air", "rack", "0", "10 s"));
    for (int i = 0; i < PLAN_PLACES_MAX; i++)
        len += snprintf(text + len, sizeof text - (size_t)len,
                        "  - {id: f%d, name: F, probe: cold, limit: {kind: hold_cold, "
                        "applies_to: air, at_most: 5 °C, tolerance: 10 min}}\n",
                        (i + first) % PLAN_PLACES_MAX);
    len += snprintf(text + len, sizeof text - (size_t)len,
                    "products:\n  - {id: tea, name: Tea, steps: [{id: brew, name: Brew, limit: "
                    "{kind: none}}]}\n");
    assert_true((size_t)len < sizeof text);
    return rig_plan_of(text);
}

/* E112: wherever the place stands in the next plan, the end of its quiet hours is told, without
 * any reading of it. */
static void
test_quiet_of_a_place_that_changes_its_place_in_the_list_ends(void **state)
{
    (void)state;
    static const int firsts[] = {0, 8, 7}; /* f7 is the eighth, the last, the first */
    for (size_t i = 0; i < COUNT_OF(firsts); i++) {
        struct rig *rig = rig_new(NULL, NULL);
        rig->next_plan = plan_of_places(0);
        rig_play(rig, "0:00:10 plan\n0:00:20 quiet f7 0:02:00\n");
        rig->next_plan = plan_of_places(firsts[i]);
        rig->log_len = 0;
        rig_play(rig, "0:01:00 plan\n0:03:00 wait\n");
        rig_expect(rig, "0:02:20 quiet-ended time-up f7 since 0:00:20 found 0:02:00\n");
        rig_free(rig);
    }
}

/* E56: a batch that is given the probe of a place forgives it no silence. */
static void
test_batch_with_the_probe_of_a_place_forgives_it_no_silence(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    rig->next_plan = rig_plan(NULL, FRIDGE, NULL);
    rig->next_plan->probes[3].kind = PROBE_FOOD;
    rig_play(rig, "0:00:00 plan\n0:00:10 a1 4.0\n0:03:00 begin dish a1\n0:05:10 wait\n");
    rig_expect(rig, "0:05:10 gap-opened no-good-reading #1 p4 since 0:00:10 found 0:05:00\n");
    rig_free(rig);
}

/* E58: the batch has gone meanwhile, and the end of the silence is of it all the same. */
static void
test_end_of_a_silence_is_of_the_batch_it_began_with(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: hold_hot, applies_to: food, at_least: 57 °C}", NULL);
    rig_play(rig, "0:00:00 begin dish p2\n0:00:00 begin dish p1\n0:00:10 p1 "
                  "70.0\n0:00:10-0:06:00 p2 70.0\n");
    rig->log_len = 0;
    rig_play(rig, "0:06:10 end discarded batch=2\n0:06:20 p2 70.0\n");
    rig_expect(rig, "0:06:10 gap-ended entered #1 batch 2 p1 since 0:00:10 found 0:06:00\n");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_probe_taken_out_of_the_plan_is_forgotten_and_its_gap_ends),
        cmocka_unit_test(test_probe_on_a_batch_outlives_its_plan),
        cmocka_unit_test(test_new_probe_counts_its_silence_from_its_plan),
        cmocka_unit_test(test_food_probe_that_watches_a_place_may_not_be_silent),
        cmocka_unit_test(test_air_is_never_suspect),
        cmocka_unit_test(test_old_plan_is_forgotten_with_its_last_batch),
        cmocka_unit_test(test_too_many_old_plans_in_use_refuse_another_batch),
        cmocka_unit_test(test_too_many_open_batches_refuse_another),
        cmocka_unit_test(test_many_hand_readings_push_out_the_oldest),
        cmocka_unit_test(test_last_of_the_plans_counts_and_goes_with_its_batch),
        cmocka_unit_test(test_first_probe_that_the_plan_leaves_out_is_forgotten),
        cmocka_unit_test(test_probe_that_comes_back_to_the_plan_is_known_again),
        cmocka_unit_test(test_new_plan_forgives_the_first_probe_no_silence),
        cmocka_unit_test(test_quiet_of_a_place_that_changes_its_place_in_the_list_ends),
        cmocka_unit_test(test_batch_with_the_probe_of_a_place_forgives_it_no_silence),
        cmocka_unit_test(test_end_of_a_silence_is_of_the_batch_it_began_with),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
