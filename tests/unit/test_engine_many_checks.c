/* A kitchen with very many thermometers: docs/engine.md E124 to E127. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

#define PROBES 40 /* of many() */
#define HELD   30

/* Probes probe-in-rack-0 to -39, thermometers h0 to h29. */
static struct rig *
with_probes(int probes)
{
    static char text[80000];
    size_t len = (size_t)snprintf(text, sizeof text, "%s", PLAN_HEAD);
    for (int i = 0; i < probes; i++)
        len += (size_t)snprintf(
            text + len, sizeof text - len,
            "  - {id: probe-in-rack-%d, name: T%d, kind: food, bus: rack, unit: 1, "
            "function: 4, register: %d, type: int16, scale: 0.1 °C, "
            "plausible: [-40 °C, 300 °C], every: 10 s}\n",
            i, i, i);
    len += (size_t)snprintf(text + len, sizeof text - len, "thermometers:\n");
    for (int i = 0; i < HELD; i++)
        len +=
            (size_t)snprintf(text + len, sizeof text - len, "  - {id: h%d, name: H%d}\n", i, i);
    (void)snprintf(text + len, sizeof text - len,
                   "places: []\nproducts:\n  - {id: pie, name: Pie, steps: [{id: rest, name: "
                   "Rest, limit: {kind: none}}]}\n");
    return rig_of(text);
}

static struct rig *
many(void)
{
    return with_probes(PROBES);
}

/* The i-th of all, held ones after the probes. */
static struct entry
check_of(int i, int32_t found_mC)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_CALIBRATE);
    (void)strcpy(entry.who, "AB");
    if (i < PROBES)
        (void)snprintf(entry.probe, sizeof entry.probe, "probe-in-rack-%d", i);
    else
        (void)snprintf(entry.thermometer, sizeof entry.thermometer, "h%d", i - PROBES);
    entry.correction = CORRECTION_KEEP;
    entry.points[entry.point_count++] = (struct calibration_point){
        .method = CALIBRATION_ICE, .uncertainty_mK = 100, .found_mC = found_mC};
    return entry;
}

static void
check_it(struct rig *rig, int i, int32_t found_mC)
{
    static int64_t at_ms;
    struct entry entry = check_of(i, found_mC);
    at_ms = engine_next_deviation(rig->engine) == 1 && i == 0 ? RIG_BASE_MS : at_ms + 1000;
    assert_true(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = ++rig->seq, .is.entry = &entry};
    rig_feed(rig, &input);
}

static bool
goes_on(const struct rig *rig, int i)
{
    struct engine_check_view view;
    struct entry entry = check_of(i, 0);
    assert_true(engine_view_check(rig->engine, &entry, &view));
    assert_true(view.left_bad);
    return view.deviation != 0;
}

/* E125: beyond 64 at a time a further one is told and ends at once. */
static void
test_failed_checks_beyond_the_most_are_told_and_end_at_once(void **state)
{
    (void)state;
    struct rig *rig = many();
    for (int i = 0; i < 64; i++)
        check_it(rig, i, 3000);
    for (int i = 0; i < 64; i++)
        assert_true(goes_on(rig, i));
    rig->log_len = 0;
    check_it(rig, 64, 3000);
    assert_int_equal(rig->out.count, 2);
    assert_int_equal(rig->out.decisions[0].kind, DECISION_DEVIATION_OPENED);
    assert_int_equal(rig->out.decisions[0].reason, REASON_FAILED_CHECK);
    assert_string_equal(rig->out.decisions[0].thermometer, "h24");
    assert_int_equal(rig->out.decisions[0].deviation, 65);
    assert_int_equal(rig->out.decisions[1].kind, DECISION_DEVIATION_ENDED);
    assert_int_equal(rig->out.decisions[1].reason, REASON_ENTERED);
    assert_int_equal(rig->out.decisions[1].deviation, 65);
    assert_false(goes_on(rig, 64));
    rig_reload(rig);
    /* One is put right, and there is room for another; be it a probe or held in the hand. */
    check_it(rig, 10, 0);
    check_it(rig, 65, 3000);
    assert_true(goes_on(rig, 65));
    check_it(rig, 66, 3000);
    assert_false(goes_on(rig, 66));
    check_it(rig, 63, 0);
    check_it(rig, 67, 3000);
    assert_true(goes_on(rig, 67));
    rig_free(rig);
}

/* E124: the 257th correction at a time is refused; another one of a probe that has one is not.
 */
static void
test_corrections_beyond_the_most_are_refused(void **state)
{
    (void)state;
    struct rig *rig = with_probes(257);
    struct entry entry = check_of(0, 500);
    entry.correction = CORRECTION_ADOPT;
    for (int i = 0; i < 257; i++) {
        (void)snprintf(entry.probe, sizeof entry.probe, "probe-in-rack-%d", i);
        bool ok = engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal);
        assert_int_equal(ok, i < 256);
        struct engine_input input = {
            .kind = ENGINE_ENTRY, .at_ms = RIG_BASE_MS, .seq = ++rig->seq, .is.entry = &entry};
        if (ok)
            rig_feed(rig, &input);
    }
    assert_string_equal(rig->refusal,
                        "256 probes have a correction, which is the most there can "
                        "be; have some of them adjusted");
    entry.correction = CORRECTION_KEEP;
    assert_true(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    entry.correction = CORRECTION_ADOPT;
    (void)strcpy(entry.probe, "probe-in-rack-9");
    assert_true(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    rig_free(rig);
}

static void
test_failed_check_says_what_was_true_and_what_was_shown(void **state)
{
    (void)state;
    struct rig *rig = many();
    struct entry entry = check_of(0, -2000);
    entry.reference[0] = '\0';
    entry.pressure_Pa = 101325;
    entry.points[entry.point_count++] =
        (struct calibration_point){.method = CALIBRATION_BOILING,
                                   .reference_mC = 99974,
                                   .uncertainty_mK = 100,
                                   .found_mC = 96000};
    assert_true(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = RIG_BASE_MS, .seq = ++rig->seq, .is.entry = &entry};
    rig_feed(rig, &input);
    const struct decision *said = &rig->out.decisions[0];
    assert_int_equal(said->reason, REASON_FAILED_CHECK);
    assert_int_equal(said->probe, 1);
    assert_int_equal(said->temp_mC, 96000); /* where it was furthest out */
    assert_int_equal(said->reference_mC, 99974);
    rig_free(rig);
}

/* E127: those that go on keep what is known of them, whatever becomes of their neighbours. */
static void
test_each_probe_that_a_plan_reads_otherwise_is_unchecked_and_the_others_are_not(void **state)
{
    (void)state;
    static const char before[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")
        PLAN_PROBE("p2", "food", "rack", "1", "10 s") PLAN_PROBE(
            "p3", "food", "rack", "2",
            "10 s") "thermometers:\n  - {id: pen, name: Pen}\n  - {id: stick, name: Stick}\n"
                    "places: []\nproducts:\n  - {id: pie, name: Pie, steps: [{id: rest, name: "
                    "Rest, limit: "
                    "{kind: none}}]}\n";
    static const char after[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "5 s")
        PLAN_PROBE("p2", "food", "rack", "7", "10 s") PLAN_PROBE(
            "p3", "food", "rack", "8",
            "10 s") "thermometers:\n  - {id: stick, name: Stick}\n  - {id: fork, name: Fork}\n"
                    "places: []\nproducts:\n  - {id: pie, name: Pie, steps: [{id: rest, name: "
                    "Rest, limit: "
                    "{kind: none}}]}\n";
    struct rig *rig = rig_of(before);
    static const char *const ids[] = {"p1", "p2", "p3"};
    for (size_t i = 0; i < 3; i++) {
        struct entry entry = check_of(0, 500);
        (void)strcpy(entry.probe, ids[i]);
        entry.correction = CORRECTION_ADOPT;
        struct engine_input input = {
            .kind = ENGINE_ENTRY, .at_ms = RIG_BASE_MS, .seq = ++rig->seq, .is.entry = &entry};
        rig_feed(rig, &input);
    }
    struct entry entry = check_of(PROBES, 0);
    (void)strcpy(entry.thermometer, "stick");
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = RIG_BASE_MS, .seq = ++rig->seq, .is.entry = &entry};
    rig_feed(rig, &input);
    rig->next_plan = rig_plan_of(after);
    rig_play(rig, "0:01:00 plan new\n");
    rig_expect(rig,
               "0:01:00 correction-ended entered p2\n0:01:00 correction-ended entered p3\n");
    struct engine_check_view views[5];
    assert_int_equal(engine_view_checks(rig->engine, views, 5), 5);
    assert_int_equal(views[0].checked_ms, RIG_BASE_MS);
    assert_int_equal(views[0].correction.count, 1);
    assert_int_equal(views[1].checked_ms, TIME_NONE);
    assert_int_equal(views[1].correction.count, 0);
    assert_int_equal(views[2].checked_ms, TIME_NONE);
    assert_int_equal(views[3].checked_ms, RIG_BASE_MS); /* the stick, now the first */
    assert_int_equal(views[4].checked_ms, TIME_NONE);
    rig_reload(rig);
    rig_free(rig);
}

/* Forty names do not fit into a line; thirty short ones do. */
static void
test_long_list_of_probes_is_cut_and_says_so(void **state)
{
    (void)state;
    struct rig *rig = many();
    struct entry entry = check_of(0, 0);
    (void)strcpy(entry.probe, "spoon");
    assert_false(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    assert_memory_equal(rig->refusal,
                        "there is no probe 'spoon' in the plan; known are: probe-in-rack-0, "
                        "probe-in-rack-1, probe-in-rack-2, ",
                        101);
    const char *more = strstr(rig->refusal, ", ...");
    assert_non_null(more);
    assert_string_equal(more, ", ...");
    assert_memory_equal(more - 16, "probe-in-rack-", 14); /* behind a whole word */
    entry = check_of(PROBES, 0);
    (void)strcpy(entry.thermometer, "spoon");
    assert_false(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    assert_memory_equal(rig->refusal,
                        "there is no thermometer 'spoon' in the plan; known are: h0, h1, ", 64);
    assert_string_equal(strstr(rig->refusal, ", h28"), ", h28, h29");
    rig_free(rig);
}

/* Whoever does not say which, or says two at once, has checked none. */
static void
test_check_of_no_thermometer_changes_nothing(void **state)
{
    (void)state;
    struct rig *rig = many();
    struct engine_check_view views[80];
    struct entry entries[] = {check_of(0, 3000), check_of(0, 3000), check_of(0, 3000),
                              check_of(PROBES, 3000)};
    (void)strcpy(entries[0].thermometer, "h0");
    entries[1].point_count = 0;
    (void)strcpy(entries[2].probe, "t99");
    (void)strcpy(entries[3].thermometer, "h99");
    for (size_t i = 0; i < COUNT_OF(entries); i++) {
        struct engine_input input = {.kind = ENGINE_ENTRY,
                                     .at_ms = RIG_BASE_MS,
                                     .seq = ++rig->seq,
                                     .is.entry = &entries[i]};
        rig_feed(rig, &input);
        assert_int_equal(rig->out.count, 0);
    }
    size_t count = engine_view_checks(rig->engine, views, 80);
    assert_int_equal(count, PROBES + HELD);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(views[i].checked_ms, TIME_NONE);
    rig_free(rig);
}

/* E125: the last thermometer of the plan is one of the 64 as well. */
static void
test_last_thermometer_counts_among_the_failed(void **state)
{
    (void)state;
    struct rig *rig = many();
    check_it(rig, 0, 0);
    check_it(rig, PROBES + HELD - 1, 3000);
    for (int i = 1; i < 64; i++)
        check_it(rig, i, 3000);
    assert_true(goes_on(rig, 63));
    check_it(rig, 64, 3000);
    assert_false(goes_on(rig, 64));
    rig_free(rig);
}

/* E124: likewise the last probe of those with a correction. */
static void
test_last_probe_counts_among_the_corrected(void **state)
{
    (void)state;
    struct rig *rig = with_probes(257);
    struct entry entry = check_of(0, 500);
    entry.correction = CORRECTION_ADOPT;
    for (int i = 256; i >= 0; i--) {
        (void)snprintf(entry.probe, sizeof entry.probe, "probe-in-rack-%d", i);
        bool ok = engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal);
        assert_int_equal(ok, i > 0);
        struct engine_input input = {
            .kind = ENGINE_ENTRY, .at_ms = RIG_BASE_MS, .seq = ++rig->seq, .is.entry = &entry};
        if (ok)
            rig_feed(rig, &input);
    }
    rig_free(rig);
}

/* A plan's most, 1024 of each name, then as many others, then those again. */
static struct plan *
full_drawer(char letter)
{
    static char text[60000];
    size_t len = (size_t)snprintf(
        text, sizeof text,
        PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s") "thermometers:\n");
    for (int i = 0; i < PLAN_PROBES_MAX; i++)
        len += (size_t)snprintf(text + len, sizeof text - len, "  - {id: %c%d, name: H%d}\n",
                                letter, i, i);
    (void)snprintf(text + len, sizeof text - len,
                   "places: []\nproducts:\n  - {id: pie, name: Pie, steps: [{id: rest, name: "
                   "Rest, limit: {kind: none}}]}\n");
    return rig_plan_of(text);
}

static void
test_thermometers_of_plans_that_are_over_take_no_room(void **state)
{
    (void)state;
    struct rig *rig = many();
    for (const char *letter = "ttht"; *letter; letter++) {
        rig->next_plan = full_drawer(*letter);
        rig_play(rig, "0:01:00 plan new\n");
        rig_reload(rig);
    }
    rig_free(rig);
}

/* The plan in force is one that the recorder has not numbered: so it says, and what to do. */
static void
test_check_of_a_probe_without_a_number_is_refused(void **state)
{
    (void)state;
    struct rig *rig = many();
    struct entry entry = check_of(0, 0);
    rig->plans[0]->probes[0].number = 0;
    assert_false(engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal));
    assert_string_equal(rig->refusal,
                        "'probe-in-rack-0' is not known yet; restart trivetd with this plan");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_failed_checks_beyond_the_most_are_told_and_end_at_once),
        cmocka_unit_test(test_corrections_beyond_the_most_are_refused),
        cmocka_unit_test(test_failed_check_says_what_was_true_and_what_was_shown),
        cmocka_unit_test(
            test_each_probe_that_a_plan_reads_otherwise_is_unchecked_and_the_others_are_not),
        cmocka_unit_test(test_long_list_of_probes_is_cut_and_says_so),
        cmocka_unit_test(test_check_of_no_thermometer_changes_nothing),
        cmocka_unit_test(test_last_thermometer_counts_among_the_failed),
        cmocka_unit_test(test_last_probe_counts_among_the_corrected),
        cmocka_unit_test(test_thermometers_of_plans_that_are_over_take_no_room),
        cmocka_unit_test(test_check_of_a_probe_without_a_number_is_refused),
    };
    return cmocka_run_group_tests_name("engine many checks", tests, NULL, NULL);
}
