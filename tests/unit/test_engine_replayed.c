/* A record that a later version reads: what it refers to may never have come about by that
 * version's judgement. It changes nothing then, and stops nothing. docs/engine.md, "Deviations,
 * plans, bounds". */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define FRIDGE                                                                                 \
    "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 10 min, back_for: 1 min}"
#define COOK "{kind: cook, applies_to: food, at_least: 70 °C, within: 2 h}"

static char before[600000], after[600000];

static struct entry
entry_of(enum entry_kind kind)
{
    struct entry entry;
    entry_clear(&entry, kind);
    (void)strcpy(entry.who, "SB");
    (void)strcpy(entry.reason, "as it was");
    return entry;
}

/* Feeds it unchecked, as from the record, and expects nothing at all. */
static void
changes_nothing(struct rig *rig, const char *what, const struct entry *entry)
{
    struct engine_input tick = {.kind = ENGINE_TICK, .at_ms = rig_time("0:12:30")};
    struct engine_input input = {.kind = ENGINE_ENTRY, .at_ms = tick.at_ms, .seq = 900};
    input.is.entry = entry;
    engine_step(rig->engine, &tick, &rig->out);
    size_t size = engine_save(rig->engine, before, sizeof before);
    assert_true(size > 0);
    engine_step(rig->engine, &input, &rig->out);
    if (rig->out.count != 0)
        fail_msg("%s: decided %d", what, (int)rig->out.decisions[0].kind);
    if (engine_save(rig->engine, after, sizeof after) != size ||
        memcmp(before, after, size) != 0)
        fail_msg("%s: the state is another", what);
}

/* Batch 1 cooks, batch 2 rests, deviation 1 of the fridge goes on, heard and not shelved. */
static struct rig *
kitchen(void)
{
    struct rig *rig = rig_new(COOK, FRIDGE);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:00 begin dish step=after p2\n0:00:10-0:12:00 "
                  "a1,p1,p2 20.0\n0:12:05 heard 1 AB\n");
    return rig;
}

static void
test_entry_about_a_deviation_that_never_was_changes_nothing(void **state)
{
    (void)state;
    static const enum entry_kind kinds[] = {ENTRY_ACTION, ENTRY_VERIFY, ENTRY_HEARD,
                                            ENTRY_SHELVE};
    struct rig *rig = kitchen();
    for (size_t i = 0; i < COUNT_OF(kinds); i++) {
        struct entry entry = entry_of(kinds[i]);
        entry.deviation = 9;
        entry.disposition = DISPOSITION_DISCARD;
        entry.for_ms = 60000;
        changes_nothing(rig, entry_kind_word(kinds[i]), &entry);
        entry.end = true;
        changes_nothing(rig, "its end", &entry);
        entry.deviation = 0;
        changes_nothing(rig, "none named", &entry);
    }
    rig_free(rig);
}

static void
test_entry_about_a_batch_that_is_not_open_changes_nothing(void **state)
{
    (void)state;
    static const enum entry_kind kinds[] = {ENTRY_HAND,   ENTRY_COOKED,  ENTRY_HEARD,
                                            ENTRY_DECIDE, ENTRY_CONFIRM, ENTRY_NOTE,
                                            ENTRY_MOVE,   ENTRY_END};
    struct rig *rig = kitchen();
    for (size_t i = 0; i < COUNT_OF(kinds); i++) {
        struct entry entry = entry_of(kinds[i]);
        entry.batch = 9;
        entry.has_temp = kinds[i] == ENTRY_HAND;
        entry.temp_mC = 80000;
        entry.given_ms = rig_time("0:05:00");
        (void)strcpy(entry.thermometer, "pen");
        changes_nothing(rig, entry_kind_word(kinds[i]), &entry);
        entry.accept = true;
        changes_nothing(rig, "accepted", &entry);
    }
    rig_free(rig);
}

static void
test_batch_of_no_product_and_step_of_no_product_change_nothing(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    struct entry entry = entry_of(ENTRY_BEGIN);
    (void)strcpy(entry.product, "soup");
    changes_nothing(rig, "a product that the plan does not have", &entry);
    (void)strcpy(entry.product, "dish");
    (void)strcpy(entry.step, "smoke");
    changes_nothing(rig, "a step that the product does not have", &entry);
    entry = entry_of(ENTRY_MOVE);
    entry.batch = 1;
    (void)strcpy(entry.step, "smoke");
    changes_nothing(rig, "a move to such a step", &entry);
    entry.batch = 2;
    entry.step[0] = '\0';
    changes_nothing(rig, "a move on from the last step", &entry);
    rig_free(rig);
}

static void
test_entry_about_what_does_not_wait_changes_nothing(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    struct entry entry = entry_of(ENTRY_DECIDE);
    entry.batch = 1;
    entry.accept = true;
    changes_nothing(rig, "a verdict", &entry);
    entry.batch = 0;
    (void)strcpy(entry.probe, "p1");
    changes_nothing(rig, "hot food", &entry);
    (void)strcpy(entry.probe, "p9");
    changes_nothing(rig, "hot food on no probe", &entry);
    entry = entry_of(ENTRY_CONFIRM);
    entry.batch = 1;
    changes_nothing(rig, "a correction declined", &entry);
    entry.accept = true;
    changes_nothing(rig, "a correction confirmed", &entry);
    rig_free(rig);
}

static void
test_correction_of_what_is_no_reading_and_no_step_changes_nothing(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    struct entry entry = entry_of(ENTRY_CORRECT);
    entry.refers = 3;
    (void)strcpy(entry.text, "it was the other batch");
    changes_nothing(rig, "a text", &entry);
    entry.has_temp = true;
    entry.temp_mC = 4000;
    changes_nothing(rig, "a temperature", &entry);
    entry.has_temp = false;
    entry.given_ms = rig_time("0:05:00");
    changes_nothing(rig, "a time", &entry);
    entry.given_ms = TIME_NONE;
    entry.withdraw = true;
    changes_nothing(rig, "a withdrawal", &entry);
    entry.refers = 0;
    changes_nothing(rig, "a withdrawal of nothing", &entry);
    rig_free(rig);
}

static void
test_entry_about_a_place_that_needs_none_changes_nothing(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    static const char *const places[] = {"attic", "shelf"}; /* unknown; without a limit */
    for (size_t i = 0; i < 2; i++) {
        struct entry entry = entry_of(ENTRY_QUIET);
        (void)strcpy(entry.place, places[i]);
        entry.for_ms = 60000;
        entry.why = QUIET_CLEANING;
        changes_nothing(rig, "quiet", &entry);
        entry.end = true;
        changes_nothing(rig, "no longer quiet", &entry);
        (void)strcpy(entry.place, "fridge");
        changes_nothing(rig, "no longer quiet, and never was", &entry);
        entry = entry_of(ENTRY_SHELVE);
        (void)strcpy(entry.place, places[i]);
        entry.end = true;
        changes_nothing(rig, "off the shelf, and never on it", &entry);
        entry = entry_of(ENTRY_HAND);
        entry.has_temp = true;
        entry.temp_mC = 90000;
        (void)strcpy(entry.place, places[i]);
        changes_nothing(rig, "a hand reading", &entry);
    }
    rig_free(rig);
}

static void
test_time_of_cooking_for_a_step_that_has_no_clock_changes_nothing(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    for (uint32_t batch = 1; batch <= 2; batch++) {
        struct entry entry = entry_of(ENTRY_COOKED);
        entry.batch = batch;
        entry.given_ms = rig_time("0:05:00");
        changes_nothing(rig, "cooked", &entry);
    }
    rig_free(rig);
}

static void
test_shelf_said_twice_or_ended_without_one_changes_nothing(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    struct entry entry = entry_of(ENTRY_SHELVE);
    entry.deviation = 1;
    entry.end = true;
    changes_nothing(rig, "a deviation off the shelf", &entry);
    rig_play(rig, "0:12:30 shelve fridge 0:30:00\n");
    entry = entry_of(ENTRY_SHELVE);
    (void)strcpy(entry.place, "fridge");
    entry.for_ms = 60000;
    changes_nothing(rig, "a place on the shelf already", &entry);
    rig_free(rig);
}

/* A state of before the first plan: readings of probes nobody knows yet. */
static void
test_inputs_before_the_first_plan_are_passed_over(void **state)
{
    (void)state;
    struct engine *engine = engine_new();
    static struct engine_output out;
    struct entry entry = entry_of(ENTRY_NOTE);
    struct engine_input inputs[] = {
        {.kind = ENGINE_RESTART, .at_ms = 1000, .seq = 1, .is.since_ms = TIME_NONE},
        {.kind = ENGINE_CLOCK, .at_ms = 2000, .seq = 2},
        {.kind = ENGINE_READING, .at_ms = 3000, .is.reading = {3000, 5000, 1, READING_GOOD}},
        {.kind = ENGINE_RESTART, .at_ms = 9000, .seq = 3, .is.since_ms = 3000},
        {.kind = ENGINE_ENTRY, .at_ms = 9500, .seq = 4, .is.entry = &entry},
        {.kind = ENGINE_TICK, .at_ms = 10000},
    };
    for (size_t i = 0; i < COUNT_OF(inputs); i++) {
        engine_step(engine, &inputs[i], &out);
        assert_int_equal(out.count, 0);
        assert_int_equal(engine_due(engine), TIME_NEVER);
    }
    struct engine_probe_view probe;
    struct engine_check_view check;
    assert_null(engine_plan(engine));
    assert_int_equal(engine_view_probes(engine, &probe, 1), 0);
    assert_int_equal(engine_view_checks(engine, &check, 1), 0);
    assert_int_equal(engine_first_ms(engine), 1000);
    engine_free(engine);
}

/* Nor is it taken for what began by itself. */
static void
test_beginning_of_nobodys_that_cannot_be_changes_nothing(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    struct entry entry = entry_of(ENTRY_BEGIN);
    entry.who[0] = '\0';
    (void)strcpy(entry.probe, "p3");
    (void)strcpy(entry.product, "gone");
    changes_nothing(rig, "a product that is not", &entry);
    (void)strcpy(entry.product, "dish");
    (void)strcpy(entry.step, "gone");
    changes_nothing(rig, "a first step that is not", &entry);
    entry.kind = ENTRY_MOVE;
    entry.batch = 1;
    changes_nothing(rig, "a next step that is not", &entry);
    rig_free(rig);
}

/* An input that could not be put on record is taken back: what was saved before it is loaded
 * over it, and nothing of it is left. */
static void
test_state_that_is_loaded_over_a_later_one_is_the_earlier(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    size_t size = engine_save(rig->engine, before, sizeof before);
    uint64_t seqs[ENGINE_PLANS_MAX];
    assert_true(size > 0);
    rig->next_plan = rig_plan(COOK, NULL, NULL);
    rig_play(rig, "0:12:10 begin dish p3\n0:12:11 plan\n0:12:12 end discarded batch=2\n"
                  "0:12:20 p1,p3 30.0\n");
    assert_true(engine_load(rig->engine, before, size));
    assert_int_equal(engine_plan_seqs(rig->engine, seqs), 1);
    engine_bind_plan(rig->engine, seqs[0], rig->plans[0]);
    assert_int_equal(engine_save(rig->engine, after, sizeof after), size);
    assert_memory_equal(before, after, size);
    /* It is the fridge again whose limit goes on, and p3 that is free. */
    rig_play(rig, "0:12:30 begin dish p3\n0:12:40 p3 70.0\n");
    assert_string_equal(rig->refusal, "");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:12:40 limit-met reached batch 3 p3 70.0"));
    rig_free(rig);
}

/* Of several places, batches and probes each has its own time, also after a load. */
static void
test_each_of_several_is_due_after_a_load(void **state)
{
    (void)state;
    static const char more[] =
        "  - {id: larder, name: Larder, probe: p2, limit: {kind: hold_cold, applies_to: food, "
        "at_most: 5 °C, tolerance: 4 min}}\n"
        "  - {id: cellar, name: Cellar, probe: p3, limit: {kind: hold_cold, applies_to: food, "
        "at_most: 5 °C, tolerance: 3 min}}\n";
    for (int loaded = 0; loaded < 2; loaded++) {
        rig_place_more = more;
        struct rig *rig =
            rig_new("{kind: reheat, applies_to: food, at_least: 70 °C, within: 4 min}", NULL);
        rig_place_more = NULL;
        rig_play(rig, "0:00:00 begin dish p1\n0:00:30 begin dish\n0:01:00 begin dish\n"
                      "0:01:10 p2 9.0\n0:01:20 p3 9.0\n");
        if (loaded)
            rig_reload(rig);
        rig_play(rig, "0:07:00 wait\n");
        rig_expect(
            rig,
            "0:04:00 deviation-opened too-late #1 since 0:00:00 found 0:04:00\n"
            "0:04:20 deviation-opened out-too-long #2 cellar p3 9.0 since 0:01:20 found "
            "0:03:00\n"
            "0:04:30 deviation-opened too-late #3 batch 2 since 0:00:30 found 0:04:00\n"
            "0:05:00 gap-opened no-good-reading #4 p1 since 0:00:00 found 0:05:00\n"
            "0:05:00 deviation-opened too-late #5 batch 3 since 0:01:00 found 0:04:00\n"
            "0:05:10 deviation-opened out-too-long #6 larder p2 9.0 since 0:01:10 found "
            "0:04:00\n"
            "0:06:10 gap-opened no-good-reading #7 larder p2 since 0:01:10 found "
            "0:05:00\n"
            "0:06:20 gap-opened no-good-reading #8 of #7 silent cellar p3 since 0:01:20 found "
            "0:05:00\n");
        rig_free(rig);
    }
}

/* A record can name a probe that its plan does not have: the others are taken. */
static void
test_beginning_with_a_probe_that_is_not_takes_the_others(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    struct entry entry = entry_of(ENTRY_BEGIN);
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time("0:12:30"), .seq = 900, .is.entry = &entry};
    (void)strcpy(entry.product, "dish");
    (void)strcpy(entry.probes[0], "gone");
    (void)strcpy(entry.probes[1], "p3");
    entry.probe_count = 2;
    rig_feed(rig, &input);
    struct engine_batch_view views[3];
    assert_int_equal(engine_view_batches(rig->engine, views, 3), 3);
    assert_int_equal(views[2].probe_count, 1);
    assert_int_equal(views[2].probes[0], 3);
    rig_free(rig);
}

static void
test_correction_without_a_temperature_changes_nothing(void **state)
{
    (void)state;
    struct rig *rig = kitchen();
    rig_play(rig, "0:12:06 begin dish\n0:12:10 hand 70.0 batch=3\n");
    struct entry entry = entry_of(ENTRY_CORRECT);
    entry.refers = rig->seq;
    changes_nothing(rig, "a correction of a reading that says none", &entry);
    rig_free(rig);
}

/* A state is loaded over a later one with as many batches as there can be: their room is free.
 */
static void
test_state_loaded_over_a_full_one_has_room(void **state)
{
    (void)state;
    static struct engine_batch_view views[ENGINE_BATCHES_MAX + 1];
    static char bytes[1 << 20];
    struct rig *rig = rig_new(NULL, NULL);
    size_t size = engine_save(rig->engine, bytes, sizeof bytes);
    assert_true(size > 0);
    for (int i = 0; i < ENGINE_BATCHES_MAX; i++)
        rig_play(rig, "0:00:10 begin dish\n");
    assert_true(engine_load(rig->engine, bytes, size));
    engine_bind_plan(rig->engine, 2, rig->plans[0]);
    for (int i = 0; i < ENGINE_BATCHES_MAX; i++)
        rig_play(rig, "0:00:20 begin dish\n");
    assert_int_equal(engine_view_batches(rig->engine, views, ENGINE_BATCHES_MAX + 1),
                     ENGINE_BATCHES_MAX);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_entry_about_a_deviation_that_never_was_changes_nothing),
        cmocka_unit_test(test_entry_about_a_batch_that_is_not_open_changes_nothing),
        cmocka_unit_test(test_batch_of_no_product_and_step_of_no_product_change_nothing),
        cmocka_unit_test(test_entry_about_what_does_not_wait_changes_nothing),
        cmocka_unit_test(test_correction_of_what_is_no_reading_and_no_step_changes_nothing),
        cmocka_unit_test(test_entry_about_a_place_that_needs_none_changes_nothing),
        cmocka_unit_test(test_time_of_cooking_for_a_step_that_has_no_clock_changes_nothing),
        cmocka_unit_test(test_shelf_said_twice_or_ended_without_one_changes_nothing),
        cmocka_unit_test(test_inputs_before_the_first_plan_are_passed_over),
        cmocka_unit_test(test_beginning_of_nobodys_that_cannot_be_changes_nothing),
        cmocka_unit_test(test_state_that_is_loaded_over_a_later_one_is_the_earlier),
        cmocka_unit_test(test_each_of_several_is_due_after_a_load),
        cmocka_unit_test(test_beginning_with_a_probe_that_is_not_takes_the_others),
        cmocka_unit_test(test_correction_without_a_temperature_changes_nothing),
        cmocka_unit_test(test_state_loaded_over_a_full_one_has_room),
    };
    return cmocka_run_group_tests_name("engine replayed", tests, NULL, NULL);
}
