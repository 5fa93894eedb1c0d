/* Whether a plan can come into force, and what goes on under it: docs/engine.md E80, E81, E85,
 * E112, E58. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"
#include "trivet/engine_plan.h"
#include "trivet/engine_quiet.h"

#define AB "  - {initials: AB, name: Ana Brandt, role: cook}\n"
#define SB "  - {initials: SB, name: Sara Berg, role: supervisor}\n"
#define VK "  - {initials: VK, name: Vera Kinn, role: verifier}\n"
#define SITE                                                                                   \
    "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"                                     \
    "people:\n"
#define BUSES                                                                                  \
    "buses:\n"                                                                                 \
    "  - {id: rack, driver: modbus-tcp, host: 127.0.0.1, port: 1502}\n"                        \
    "probes:\n"
#define P1     PLAN_PROBE("p1", "food", "rack", "0", "10 s")
#define P2     PLAN_PROBE("p2", "food", "rack", "1", "10 s")
#define COLD   PLAN_PROBE("cold", "air", "rack", "2", "10 s")
#define WARM   PLAN_PROBE("warm", "air", "rack", "3", "10 s")
#define PROBES P1 P2 COLD WARM
#define HELD   "thermometers:\n  - {id: pen, name: Pen}\n  - {id: stick, name: Stick}\n"
#define PLACE(id, probe, at_most, rest)                                                        \
    "  - {id: " id ", name: " id ", probe: " probe ", limit: {kind: hold_cold, applies_to: "   \
    "air, at_most: " at_most ", tolerance: 10 min" rest "}}\n"
#define FRIDGE PLACE("fridge", "cold", "5 °C", "")
#define LARDER PLACE("larder", "warm", "8 °C", "")
#define SHELF  "  - {id: shelf, name: Shelf, limit: {kind: none}}\n"
#define PRODUCTS                                                                               \
    "products:\n"                                                                              \
    "  - {id: pie, name: Pie, steps: [{id: rest, name: Rest, limit: {kind: none}}]}\n"
#define PLAN(people, probes, held, places)                                                     \
    SITE people BUSES probes held "places:\n" places PRODUCTS
#define WHOLE PLAN(AB SB VK, PROBES, HELD, FRIDGE LARDER SHELF)

static void
refused(struct rig *rig, const char *text, const char *expected)
{
    char told[1200] = "";
    struct plan *plan = rig_plan_of(text);
    assert_false(engine_check_plan(rig->engine, plan, told, sizeof told));
    assert_string_equal(told, expected);
    plan_free(plan);
}

static void
taken(struct rig *rig, const char *text)
{
    char told[1200] = "";
    struct plan *plan = rig_plan_of(text);
    if (!engine_check_plan(rig->engine, plan, told, sizeof told))
        fail_msg("refused: %s", told);
    plan_free(plan);
}

/* Takes force, the probes under the numbers given: a number never changes its meaning. */
static void
take(struct rig *rig, const char *at, const char *text)
{
    static const char *const ids[] = {"p1", "p2", "cold", "warm", "new"};
    char line[40];
    struct plan *plan = rig_plan_of(text);
    for (size_t i = 0; i < plan->probe_count; i++)
        for (size_t k = 0; k < COUNT_OF(ids); k++)
            if (strcmp(plan->probes[i].id, ids[k]) == 0)
                plan->probes[i].number = (uint16_t)(k + 1);
    rig->next_plan = plan;
    (void)snprintf(line, sizeof line, "%s plan new\n", at);
    rig_play(rig, line);
}

/* ---- E85: what has to be in it ---- */

static void
test_first_plan_is_always_taken(void **state)
{
    (void)state;
    struct engine *engine = engine_new();
    char told[100];
    struct plan *plan = rig_plan_of(WHOLE);
    assert_true(engine_check_plan(engine, plan, told, sizeof told));
    plan_free(plan);
    engine_free(engine);
}

static void
test_plan_without_what_an_open_batch_needs_is_refused(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    rig_play(rig,
             "0:00:00 begin pie\n0:00:00 begin pie p1 p2 place=fridge\n0:00:05 end served\n"
             "0:00:10 p1,p2,cold,warm 4.0\n");
    taken(rig, WHOLE);
    taken(rig, PLAN(AB SB VK, P1 P2 COLD, HELD, FRIDGE SHELF));
    refused(rig, PLAN(AB SB VK, P1 COLD WARM, HELD, FRIDGE LARDER SHELF),
            "probe 'p2' is in batch 2, which is still open; keep it in the plan until that "
            "batch has ended");
    refused(rig,
            PLAN(AB SB VK, P1 PLAN_PROBE("p2", "air", "rack", "1", "10 s") COLD WARM, HELD,
                 FRIDGE LARDER SHELF),
            "probe 'p2' is in batch 2, which is still open; leave it kind: food until that "
            "batch has ended");
    refused(rig, PLAN(AB SB VK, COLD WARM, HELD, LARDER SHELF),
            "probe 'p1' is in batch 2, which is still open; keep it in the plan until that "
            "batch has ended\n"
            "probe 'p2' is in batch 2, which is still open; keep it in the plan until that "
            "batch has ended\n"
            "batch 2 stands in place 'fridge'; keep that place in the plan until the batch has "
            "moved on or ended");
    rig_play(rig, "0:00:20 end served batch=2\n");
    taken(rig, PLAN(AB SB VK, COLD WARM, HELD, LARDER SHELF));
    rig_free(rig);
}

static void
test_plan_without_the_place_of_a_deviation_is_refused_until_somebody_has_acted(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    rig_play(rig, "0:00:10-0:11:00 cold,warm 7.0\n");
    taken(rig, PLAN(AB SB VK, PROBES, HELD, FRIDGE SHELF));
    refused(rig, PLAN(AB SB VK, PROBES, HELD, LARDER SHELF),
            "place 'fridge' has deviation 1, which goes on without a corrective action; record "
            "that first, then take the place out");
    rig_play(rig, "0:11:05 action 1 AB\n");
    taken(rig, PLAN(AB SB VK, PROBES, HELD, LARDER SHELF));
    rig_free(rig);
    /* Over, it needs its action and not its place. */
    rig = rig_of(WHOLE);
    rig_play(rig, "0:00:10-0:11:00 cold,warm 7.0\n0:11:10-0:30:00 cold,warm 4.0\n");
    taken(rig, PLAN(AB SB VK, PROBES, HELD, LARDER SHELF));
    rig_free(rig);
}

static void
test_plan_without_the_silent_or_failed_probe_is_refused_until_somebody_has_acted(void **state)
{
    (void)state;
    struct rig *rig = rig_of(PLAN(AB SB VK, PROBES, HELD, FRIDGE SHELF));
    rig_play(rig, "0:00:10 cold,warm 4.0\n0:00:20-0:06:00 cold 4.0\n");
    /* Nothing looks at the one called warm: it has no place. */
    refused(rig, PLAN(AB SB VK, P1 P2 COLD, HELD, FRIDGE SHELF),
            "probe 'warm' has deviation 1, which goes on without a corrective action; record "
            "that first, then take the probe out");
    rig_play(rig, "0:06:05 action 1 AB\n");
    taken(rig, PLAN(AB SB VK, P1 P2 COLD, HELD, FRIDGE SHELF));
    rig_free(rig);
}

static void
fail_check(struct rig *rig, const char *at, const char *probe, const char *thermometer)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_CALIBRATE);
    (void)strcpy(entry.who, "AB");
    (void)strcpy(entry.probe, probe);
    (void)strcpy(entry.thermometer, thermometer);
    entry.correction = CORRECTION_KEEP;
    entry.points[entry.point_count++] = (struct calibration_point){
        .method = CALIBRATION_ICE, .uncertainty_mK = 100, .found_mC = 3000};
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq, .is.entry = &entry};
    rig_feed(rig, &input);
}

static void
test_plan_without_a_thermometer_that_failed_is_refused_until_somebody_has_acted(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    fail_check(rig, "0:00:05", "", "stick");
    fail_check(rig, "0:00:06", "p1", "");
    taken(rig, WHOLE);
    refused(
        rig,
        PLAN(AB SB VK, P2 COLD WARM, "thermometers:\n  - {id: pen, name: Pen}\n",
             FRIDGE LARDER SHELF),
        "thermometer 'stick' has deviation 1, which goes on without a corrective action; "
        "record that first, then take the thermometer out\n"
        "probe 'p1' has deviation 2, which goes on without a corrective action; record that "
        "first, then take the probe out");
    rig_play(rig, "0:00:07 action 1 AB\n0:00:08 action 2 AB\n");
    taken(rig, PLAN(AB SB VK, P2 COLD WARM, "thermometers:\n  - {id: pen, name: Pen}\n",
                    FRIDGE LARDER SHELF));
    rig_free(rig);
}

static void
test_plan_without_anybody_to_verify_is_refused_while_an_action_waits(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    rig_play(rig, "0:00:10-0:11:00 cold,warm 7.0\n");
    taken(rig, PLAN(AB SB, PROBES, HELD, FRIDGE LARDER SHELF)); /* no action yet */
    rig_play(rig, "0:11:05 action 1 SB\n");
    static const char alone[] = "the action of SB on deviation 1 waits for verification and "
                                "nobody else in the plan may verify; keep a supervisor or "
                                "verifier";
    refused(rig, PLAN(AB SB, PROBES, HELD, FRIDGE LARDER SHELF), alone);
    taken(rig, PLAN(SB VK, PROBES, HELD, FRIDGE LARDER SHELF));
    taken(rig, SITE AB SB "sole_operator: The owner reads them again.\n" BUSES PROBES HELD
                          "places:\n" FRIDGE LARDER SHELF PRODUCTS);
    rig_play(rig, "0:11:06 verify 1 VK\n");
    taken(rig, PLAN(AB SB, PROBES, HELD, FRIDGE LARDER SHELF));
    rig_free(rig);
    rig = rig_of(WHOLE); /* who may verify can be the first of the plan */
    rig_play(rig, "0:00:10-0:11:00 cold,warm 7.0\n0:11:05 action 1 AB\n");
    taken(rig, PLAN(SB AB, PROBES, HELD, FRIDGE LARDER SHELF));
    rig_free(rig);
}

/* What does not fit is left out; what is there is whole lines but the last. */
static void
test_reasons_that_do_not_fit_are_left_out(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    rig_play(rig, "0:00:00 begin pie p1 p2 place=fridge\n");
    struct plan *plan = rig_plan_of(PLAN(AB SB VK, COLD WARM, HELD, LARDER SHELF));
    for (size_t size = 1; size < 200; size++) {
        char told[210];
        memset(told, 'x', sizeof told);
        assert_false(engine_check_plan(rig->engine, plan, told, size));
        assert_true(strnlen(told, sizeof told) < size);
        assert_int_equal(told[size], 'x'); /* never beyond its room */
    }
    plan_free(plan);
    rig_free(rig);
}

/* ---- E81: what goes on ---- */

static void
test_place_goes_on_only_under_the_same_limit(void **state)
{
    (void)state;
    static const struct {
        const char *place;
        bool goes_on;
    } cases[] = {
        {FRIDGE, true},
        {PLACE("fridge", "cold", "6 °C", ""), false},
        {PLACE("fridge", "cold", "5 °C", ", strict: yes"), false},
        {PLACE("fridge", "cold", "5 °C", ", back_for: 4 min"), false},
        {PLACE("fridge", "cold", "41 °F", ""), false},
        {PLACE("fridge", "warm", "5 °C", ""), false},
        {"  - {id: fridge, name: Fridge, probe: cold, limit: {kind: hold_cold, applies_to: "
         "air, at_most: 5 °C, tolerance: 11 min}}\n",
         false},
        {"  - {id: fridge, name: Fridge, probe: cold, limit: {kind: hold_hot, applies_to: air, "
         "at_least: 60 °C, tolerance: 10 min}}\n",
         false},
        {"  - {id: fridge, name: Fridge, limit: {kind: none}}\n", false},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_of(WHOLE);
        char text[4000];
        rig_play(rig, "0:00:10-0:05:00 cold,warm 7.0\n");
        (void)snprintf(text, sizeof text, "%s%s%s%s",
                       SITE AB SB VK BUSES PROBES HELD "places:\n", LARDER, cases[i].place,
                       SHELF PRODUCTS);
        take(rig, "0:05:05", text);
        struct engine_place_view views[3];
        assert_int_equal(engine_view_places(rig->engine, views, 3), 3);
        if (cases[i].goes_on)
            assert_int_equal(views[1].outside_since_ms, rig_time("0:00:10"));
        else if (views[1].outside_since_ms != TIME_NONE)
            fail_msg("case %d goes on", (int)i);
        rig_play(rig, "0:05:10-0:10:20 cold,warm 7.0\n");
        rig->log[rig->log_len] = '\0';
        bool told = strstr(rig->log, "0:10:10 deviation-opened out-too-long #1 fridge p3 7.0 "
                                     "since 0:00:10 found 0:10:00\n") != NULL;
        assert_int_equal(told, cases[i].goes_on);
        rig_free(rig);
    }
}

static void
test_deviation_of_a_place_ends_when_its_limit_is_another(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    rig_play(rig, "0:00:10-0:11:00 cold,warm 9.0\n");
    take(rig, "0:11:05",
         PLAN(AB SB VK, PROBES, HELD, LARDER PLACE("fridge", "cold", "6 °C", "") SHELF));
    rig_play(rig, "0:11:10-0:22:00 cold,warm 9.0\n");
    rig_expect(rig,
               "0:10:10 deviation-opened out-too-long #1 fridge p3 9.0 since 0:00:10 found "
               "0:10:00\n"
               "0:10:10 deviation-opened out-too-long #2 larder p4 9.0 since 0:00:10 found "
               "0:10:00\n"
               "0:11:05 deviation-ended entered #1 fridge worst 9.0 since 0:00:10 found "
               "0:10:55\n"
               "0:21:10 deviation-opened out-too-long #3 fridge p3 9.0 since 0:11:10 found "
               "0:10:00\n");
    rig_free(rig);
}

/* Spacing is three readings: read every minute, three minutes without one are no break. */
static void
test_probe_that_is_read_less_often_is_looked_at_so_at_once(void **state)
{
    (void)state;
    static const char quick[] = PLAN(
        AB SB VK, PROBES, HELD, PLACE("fridge", "cold", "5 °C", ", back_for: 5 min") SHELF);
    static const char slow[] =
        PLAN(AB SB VK, P1 P2 PLAN_PROBE("cold", "air", "rack", "2", "1 min") WARM, HELD,
             PLACE("fridge", "cold", "5 °C", ", back_for: 5 min") SHELF);
    struct rig *rig = rig_of(quick);
    rig_play(rig, "0:00:10-0:11:00 cold,warm 7.0\n");
    take(rig, "0:11:05", slow);
    rig_play(rig, "0:11:10 cold 4.0\n0:14:10 cold 4.0\n0:16:10 cold 4.0\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:16:10 deviation-ended back-inside #1 fridge"));
    rig_free(rig);
}

/* E112. */
static void
test_quiet_follows_its_place_wherever_that_is_in_the_plan(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    rig_play(rig, "0:00:10 cold,warm 4.0\n0:00:15 quiet larder 0:30:00\n");
    take(rig, "0:01:00", PLAN(AB SB VK, PROBES, HELD, LARDER FRIDGE SHELF));
    assert_int_equal(engine_quiet(rig->engine, 0).until_ms, rig_time("0:30:15"));
    assert_int_equal(engine_quiet(rig->engine, 0).from_ms, rig_time("0:00:15"));
    assert_int_equal(engine_quiet(rig->engine, 0).why, QUIET_DEFROSTING);
    assert_int_equal(engine_quiet(rig->engine, 1).until_ms, TIME_NONE);
    assert_int_equal(engine_quiet(rig->engine, 1).why, QUIET_NONE);
    /* It ends by itself under the new plan. */
    rig_play(rig, "0:01:10-0:30:10 cold,warm 4.0\n0:30:15 wait\n");
    rig_expect(rig, "0:00:15 quiet-begun entered larder since 0:00:15\n"
                    "0:30:15 quiet-ended time-up larder since 0:00:15 found 0:30:00\n");
    /* Without a limit there is nothing to suspend, and without the place. */
    rig_play(rig, "0:30:20 quiet fridge 0:30:00\n0:30:21 quiet larder 0:30:00\n");
    take(rig, "0:31:00",
         PLAN(AB SB VK, PROBES, HELD,
              SHELF "  - {id: fridge, name: Fridge, probe: cold, limit: {kind: none}}\n"));
    rig_expect(rig, "0:30:20 quiet-begun entered fridge since 0:30:20\n"
                    "0:30:21 quiet-begun entered larder since 0:30:21\n"
                    "0:31:00 quiet-ended entered larder since 0:30:21 found 0:00:39\n"
                    "0:31:00 quiet-ended entered fridge since 0:30:20 found 0:00:40\n");
    rig_free(rig);
}

/* ---- silence ---- */

static void
test_gap_of_a_probe_that_is_gone_ends_and_the_others_go_on(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    rig_play(rig, "0:05:00 wait\n0:05:01 action 1 AB\n0:05:02 action 2 AB\n");
    take(rig, "0:06:00",
         PLAN(AB SB VK, P1 P2 COLD PLAN_PROBE("new", "air", "rack", "5", "10 s"), HELD,
              FRIDGE SHELF));
    rig_play(rig, "0:10:59 wait\n");
    rig_expect(rig,
               "0:05:00 gap-opened no-good-reading #1 fridge p3 since 0:00:00 found "
               "0:05:00\n"
               "0:05:00 gap-opened no-good-reading #2 of #1 silent larder p4 since 0:00:00 "
               "found 0:05:00\n"
               "0:06:00 gap-ended entered #2 of #1 silent larder p4 since 0:00:00 found "
               "0:06:00\n");
    /* E56: a new probe counts from its plan. */
    rig_play(rig, "0:11:00 wait\n");
    rig_expect(rig, "0:11:00 gap-opened no-good-reading #3 p5 since 0:06:00 found 0:05:00\n");
    rig_free(rig);
}

static void
test_silence_of_a_probe_that_stays_is_not_forgiven_by_a_plan(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    rig_play(rig, "0:01:00 cold,warm 4.0\n");
    take(rig, "0:04:00", WHOLE);
    rig_play(rig, "0:07:00 wait\n");
    rig_expect(rig,
               "0:06:00 gap-opened no-good-reading #1 fridge p3 since 0:01:00 found "
               "0:05:00\n"
               "0:06:00 gap-opened no-good-reading #2 of #1 silent larder p4 since 0:01:00 "
               "found 0:05:00\n");
    rig_free(rig);
}

/* A food probe in a drawer may be silent; put in charge of a place it may not, from then on. */
static void
test_food_probe_that_is_to_watch_a_place_counts_from_that_plan(void **state)
{
    (void)state;
    struct rig *rig = rig_of(PLAN(AB SB VK, P1 P2, "", SHELF));
    rig_play(rig, "0:01:00 p1 4.0\n");
    take(rig, "0:20:00",
         PLAN(AB SB VK, P1 P2, "",
              SHELF "  - {id: cellar, name: Cellar, probe: p2, limit: {kind: hold_cold, "
                    "applies_to: food, at_most: 12 °C}}\n"));
    rig_play(rig, "0:30:00 wait\n");
    rig_expect(rig, "0:25:00 gap-opened no-good-reading #1 cellar p2 since 0:20:00 found "
                    "0:05:00\n");
    rig_free(rig);
}

/* E81, of the last place of the list: ten minutes outside, five of them under either plan. */
static void
test_excursion_of_the_last_place_goes_on(void **state)
{
    (void)state;
    struct rig *rig = rig_of(PLAN(AB SB VK, PROBES, HELD, FRIDGE LARDER));
    rig_play(rig, "0:00:10 cold,warm 4.0\n0:00:20-0:05:20 warm 9.0\n");
    take(rig, "0:05:20", PLAN(AB SB VK, PROBES, HELD, FRIDGE LARDER));
    rig->log_len = 0;
    rig_play(rig, "0:05:30-0:10:20 warm 9.0\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:10:20 deviation-opened out-too-long"));
    assert_non_null(strstr(rig->log, "larder p4 9.0 since 0:00:20 found 0:10:00"));
    rig_free(rig);
}

/* A probe that only an open batch still had is forgotten as the batch moves on without it. */
static void
test_probe_that_a_batch_gives_up_is_forgotten(void **state)
{
    (void)state;
    struct rig *rig = rig_of(WHOLE);
    struct engine_probe_view views[8];
    rig_play(rig, "0:00:00 begin pie p1 p2\n0:00:10 p2 20.0\n");
    take(rig, "0:00:20", PLAN(AB SB VK, P1 COLD WARM, HELD, FRIDGE LARDER SHELF));
    assert_int_equal(engine_view_probes(rig->engine, views, 8), 4);
    rig_play(rig, "0:00:30 move rest p1\n");
    assert_int_equal(engine_view_probes(rig->engine, views, 8), 3);
    for (size_t i = 0; i < 3; i++)
        assert_int_not_equal(views[i].number, 2);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_first_plan_is_always_taken),
        cmocka_unit_test(test_plan_without_what_an_open_batch_needs_is_refused),
        cmocka_unit_test(
            test_plan_without_the_place_of_a_deviation_is_refused_until_somebody_has_acted),
        cmocka_unit_test(
            test_plan_without_the_silent_or_failed_probe_is_refused_until_somebody_has_acted),
        cmocka_unit_test(
            test_plan_without_a_thermometer_that_failed_is_refused_until_somebody_has_acted),
        cmocka_unit_test(test_plan_without_anybody_to_verify_is_refused_while_an_action_waits),
        cmocka_unit_test(test_reasons_that_do_not_fit_are_left_out),
        cmocka_unit_test(test_place_goes_on_only_under_the_same_limit),
        cmocka_unit_test(test_deviation_of_a_place_ends_when_its_limit_is_another),
        cmocka_unit_test(test_probe_that_is_read_less_often_is_looked_at_so_at_once),
        cmocka_unit_test(test_quiet_follows_its_place_wherever_that_is_in_the_plan),
        cmocka_unit_test(test_gap_of_a_probe_that_is_gone_ends_and_the_others_go_on),
        cmocka_unit_test(test_silence_of_a_probe_that_stays_is_not_forgiven_by_a_plan),
        cmocka_unit_test(test_food_probe_that_is_to_watch_a_place_counts_from_that_plan),
        cmocka_unit_test(test_excursion_of_the_last_place_goes_on),
        cmocka_unit_test(test_probe_that_a_batch_gives_up_is_forgotten),
    };
    return cmocka_run_group_tests_name("engine next plan", tests, NULL, NULL);
}
