/* Doors and buttons of several places: docs/engine.md E210 to E215. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

static const char kitchen[] = PLAN_HEAD PLAN_PROBE(
    "cold", "air", "rack", "0", "10 s") "places:\n"
                                        "  - {id: fridge, name: Fridge, probe: cold, limit: "
                                        "{kind: hold_cold, applies_to: air, "
                                        "at_most: 5 °C}}\n"
                                        "  - {id: larder, name: Larder, probe: cold, limit: "
                                        "{kind: hold_cold, applies_to: air, "
                                        "at_most: 8 °C}}\n"
                                        "  - {id: oven, name: Oven, limit: {kind: none}}\n"
                                        "products:\n"
                                        "  - {id: pie, name: Pie, steps: [{id: bake, name: "
                                        "Bake, limit: {kind: none}}, {id: rest, "
                                        "name: Rest, limit: {kind: none}}]}\n";

enum { FRIDGE, LARDER, OVEN };

static struct plan_switch
door(const char *id, int place, int64_t open_max_s)
{
    struct plan_switch is = {.name = id, .kind = SWITCH_DOOR, .open_max_ms = open_max_s * 1000};
    (void)snprintf(is.id, sizeof is.id, "%s", id);
    is.place = (int16_t)place;
    return is;
}

static struct plan_switch
button(const char *id, int place)
{
    struct plan_switch is = door(id, place, 0);
    is.kind = SWITCH_BUTTON;
    return is;
}

/* The array is the caller's and outlives the rig. */
static struct plan *
plan_of(struct plan_switch *switches, size_t count)
{
    struct plan *plan = rig_plan_of(kitchen);
    plan->switches = switches;
    plan->switch_count = count;
    return plan;
}

static struct rig *
rig_with(struct plan_switch *switches, size_t count)
{
    struct rig *rig = rig_of(kitchen);
    rig->next_plan = plan_of(switches, count);
    rig_play(rig, "0:00:00 plan new\n");
    return rig;
}

static void
did(struct rig *rig, const char *time, const struct plan_switch *which, enum switch_state state)
{
    struct switch_event event = {.kind = which->kind, .state = state};
    (void)strcpy(event.id, which->id);
    struct engine_input input = {
        .kind = ENGINE_SWITCH, .at_ms = rig_time(time), .seq = ++rig->seq};
    input.is.contact = &event;
    rig_feed(rig, &input);
}

static void
test_each_door_is_told_after_its_own_time(void **state)
{
    (void)state;
    struct plan_switch all[] = {door("front", FRIDGE, 60), door("back", LARDER, 120),
                                door("flap", OVEN, 30), door("hatch", OVEN, 0)};
    struct rig *rig = rig_with(all, 4);
    for (size_t i = 0; i < 4; i++)
        did(rig, "0:00:10", &all[i], SWITCH_ACTIVE);
    rig_play(rig, "0:01:00 cold 4.0\n0:03:00 wait\n");
    rig_expect(
        rig, "0:00:40.001 door-left-open door-open oven flap since 0:00:10 found 0:00:30.001\n"
             "0:01:10.001 door-left-open door-open fridge front since 0:00:10 found "
             "0:01:00.001\n"
             "0:02:10.001 door-left-open door-open larder back since 0:00:10 found "
             "0:02:00.001\n");
    struct engine_switch_view views[4];
    assert_int_equal(engine_view_switches(rig->engine, views, 4), 4);
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(views[i].index, i);
        assert_int_equal(views[i].state, SWITCH_ACTIVE);
        assert_int_equal(views[i].since_ms, rig_time("0:00:10"));
        assert_int_equal(views[i].mark_ms, TIME_NONE);
        assert_int_equal(views[i].told, i < 3); /* of the hatch the plan asks nothing */
    }
    assert_int_equal(engine_view_switches(rig->engine, views, 2), 2);
    /* One is shut, the others stay told. */
    did(rig, "0:03:10", &all[1], SWITCH_RESTS);
    rig_expect(rig, "0:03:10 door-over door-closed larder back since 0:00:10 found 0:03:00\n");
    assert_int_equal(engine_view_switches(rig->engine, views, 4), 4);
    assert_true(views[0].told);
    assert_false(views[1].told);
    assert_true(views[2].told);
    rig_reload(rig);
    rig_free(rig);
}

/* E212: each waits for its own place. */
static void
test_door_of_a_quiet_place_waits_and_that_of_another_does_not(void **state)
{
    (void)state;
    struct plan_switch all[] = {door("front", FRIDGE, 60), door("back", LARDER, 60)};
    struct rig *rig = rig_with(all, 2);
    rig_play(rig, "0:00:05 quiet larder 0:10:00\n");
    did(rig, "0:00:10", &all[0], SWITCH_ACTIVE);
    did(rig, "0:00:10", &all[1], SWITCH_ACTIVE);
    rig_play(rig, "0:04:00 cold 4.0\n0:08:00 cold 4.0\n0:11:00 wait\n");
    rig_expect(rig, "0:00:05 quiet-begun entered larder since 0:00:05\n"
                    "0:01:10.001 door-left-open door-open fridge front since 0:00:10 found "
                    "0:01:00.001\n"
                    "0:10:05 quiet-ended time-up larder since 0:00:05 found 0:10:00\n"
                    "0:10:05 door-left-open door-open larder back since 0:00:10 found "
                    "0:09:55\n");
    rig_free(rig);
}

static void
test_quiet_ended_early_tells_the_doors_of_that_place(void **state)
{
    (void)state;
    struct plan_switch all[] = {door("front", FRIDGE, 60), door("back", LARDER, 60),
                                door("side", LARDER, 600), door("last", LARDER, 60)};
    struct rig *rig = rig_with(all, 4);
    rig_play(rig, "0:00:05 quiet larder 0:30:00\n");
    did(rig, "0:00:10", &all[1], SWITCH_ACTIVE);
    did(rig, "0:00:10", &all[2], SWITCH_ACTIVE);
    did(rig, "0:00:20", &all[3], SWITCH_ACTIVE);
    rig_play(rig, "0:03:00 quiet larder end\n0:04:00 wait\n");
    rig_expect(rig, "0:00:05 quiet-begun entered larder since 0:00:05\n"
                    "0:03:00 quiet-ended entered larder since 0:00:05 found 0:02:55\n"
                    "0:03:00 door-left-open door-open larder back since 0:00:10 found "
                    "0:02:50\n"
                    "0:03:00 door-left-open door-open larder last since 0:00:20 found "
                    "0:02:40\n");
    rig_free(rig);
}

/* E214: the one batch that is open there, whatever stands elsewhere. */
static void
test_button_marks_the_one_batch_of_its_place(void **state)
{
    (void)state;
    struct plan_switch all[] = {button("red", OVEN), button("green", FRIDGE)};
    struct rig *rig = rig_with(all, 2);
    rig_play(rig,
             "0:00:01 begin pie place=fridge\n0:00:02 begin pie place=oven\n0:00:03 begin pie "
             "place=larder\n0:00:04 begin pie\n0:00:05 move batch=2\n");
    did(rig, "0:00:10", &all[0], SWITCH_RESTS);
    did(rig, "0:00:20", &all[0], SWITCH_ACTIVE);
    rig_expect(rig, "0:00:20 marked pressed batch 2 red\n");
    assert_string_equal(rig->out.decisions[0].step, "rest");
    assert_string_equal(rig->out.decisions[0].place, "oven");
    struct engine_switch_view views[2];
    assert_int_equal(engine_view_switches(rig->engine, views, 2), 2);
    assert_int_equal(views[0].mark_ms, rig_time("0:00:20"));
    assert_int_equal(views[1].mark_ms, TIME_NONE);
    /* Two are there: nobody knows which. */
    rig_play(rig, "0:00:25 begin pie place=oven\n");
    did(rig, "0:00:30", &all[0], SWITCH_RESTS);
    did(rig, "0:00:40", &all[0], SWITCH_ACTIVE);
    rig_expect(rig, "0:00:40 marked pressed oven red\n");
    /* One has left, and the other is the one. */
    rig_play(rig, "0:00:45 end discarded batch=2\n");
    did(rig, "0:00:50", &all[0], SWITCH_RESTS);
    did(rig, "0:01:00", &all[0], SWITCH_ACTIVE);
    rig_expect(rig, "0:01:00 marked pressed batch 5 red\n");
    rig_free(rig);
}

/* E213. */
static void
test_after_a_restart_no_door_is_known(void **state)
{
    (void)state;
    struct plan_switch all[] = {door("front", FRIDGE, 60), door("back", LARDER, 60),
                                door("flap", OVEN, 60)};
    struct rig *rig = rig_with(all, 3);
    for (size_t i = 0; i < 3; i++)
        did(rig, "0:00:10", &all[i], SWITCH_ACTIVE);
    rig_play(rig, "0:02:00 wait\n");
    rig->log_len = 0;
    rig_play(rig, "0:03:00 restart 0:02:30\n");
    rig_expect(rig, "0:03:00 door-over outage fridge front since 0:00:10 found 0:02:50\n"
                    "0:03:00 door-over outage larder back since 0:00:10 found 0:02:50\n"
                    "0:03:00 door-over outage oven flap since 0:00:10 found 0:02:50\n");
    struct engine_switch_view views[3];
    assert_int_equal(engine_view_switches(rig->engine, views, 3), 3);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(views[i].state, SWITCH_UNKNOWN);
        assert_int_equal(views[i].since_ms, TIME_NONE);
        assert_false(views[i].told);
    }
    rig_play(rig, "0:04:30 wait\n");
    rig_expect(rig, ""); /* nobody knows that any is open */
    rig_free(rig);
}

/* E215: by id, kind and place, wherever it is in the list. */
static void
test_doors_go_on_under_a_new_plan_by_their_names(void **state)
{
    (void)state;
    struct plan_switch all[] = {door("front", FRIDGE, 60), door("back", LARDER, 60),
                                door("flap", OVEN, 60), door("lid", OVEN, 60)};
    struct plan_switch other[] = {button("lid", OVEN), door("flap", FRIDGE, 60),
                                  door("new", OVEN, 60), door("back", LARDER, 600),
                                  door("front", FRIDGE, 0)};
    struct rig *rig = rig_with(all, 4);
    for (size_t i = 0; i < 4; i++)
        did(rig, "0:00:10", &all[i], SWITCH_ACTIVE);
    rig_play(rig, "0:02:00 wait\n");
    rig->log_len = 0;
    rig->next_plan = plan_of(other, 5);
    rig_play(rig, "0:03:00 plan new\n");
    /* The front door may be open for ever now, the flap is another's, the lid is a button. */
    rig_expect(rig, "0:03:00 door-over entered fridge front since 0:00:10 found 0:02:50\n"
                    "0:03:00 door-over entered oven flap since 0:00:10 found 0:02:50\n"
                    "0:03:00 door-over entered oven lid since 0:00:10 found 0:02:50\n");
    struct engine_switch_view views[5];
    assert_int_equal(engine_view_switches(rig->engine, views, 5), 5);
    for (size_t i = 0; i < 5; i++) {
        assert_int_equal(views[i].told, i == 3);
        assert_int_equal(views[i].state, i == 3 ? SWITCH_ACTIVE : SWITCH_UNKNOWN);
        assert_int_equal(views[i].since_ms, i == 3 ? rig_time("0:00:10") : TIME_NONE);
    }
    did(rig, "0:03:10", &other[3], SWITCH_RESTS);
    rig_expect(rig, "0:03:10 door-over door-closed larder back since 0:00:10 found 0:03:00\n");
    rig_reload(rig);
    rig_free(rig);
}

/* A switch that no plan has any more says something still. */
static void
test_switch_that_is_not_in_the_plan_is_passed_over(void **state)
{
    (void)state;
    struct plan_switch all[] = {door("front", FRIDGE, 60)}, gone = door("gone", FRIDGE, 60);
    struct rig *rig = rig_with(all, 1);
    did(rig, "0:00:10", &gone, SWITCH_ACTIVE);
    rig_play(rig, "0:02:00 wait\n");
    rig_expect(rig, "");
    rig_free(rig);
}

/* E213, E215: a door that nobody has been told of yet. */
static void
test_open_door_is_told_under_a_new_plan_and_forgotten_by_a_restart(void **state)
{
    (void)state;
    struct plan_switch all[] = {door("front", FRIDGE, 60), door("back", LARDER, 60)};
    struct plan_switch other[] = {door("back", LARDER, 120)};
    struct rig *rig = rig_with(all, 2);
    did(rig, "0:00:10", &all[0], SWITCH_ACTIVE);
    did(rig, "0:00:10", &all[1], SWITCH_ACTIVE);
    rig_play(rig, "0:00:20 cold 4.0\n");
    rig->next_plan = plan_of(other, 1);
    rig_play(rig, "0:00:30 plan new\n0:02:30 wait\n"); /* the front door has no switch now */
    rig_expect(rig, "0:02:10.001 door-left-open door-open larder back since 0:00:10 found "
                    "0:02:00.001\n");
    assert_int_equal(rig->out.decisions[0].required_ms, 120000);
    rig_free(rig);
    rig = rig_with(all, 2);
    did(rig, "0:00:10", &all[0], SWITCH_ACTIVE);
    did(rig, "0:00:10", &all[1], SWITCH_ACTIVE);
    rig_play(rig, "0:00:40 restart 0:00:30\n0:03:00 wait\n");
    rig_expect(rig, "");
    assert_int_equal(engine_due(rig->engine), rig_time("0:05:00")); /* the silent probe's */
    rig_free(rig);
}

/* What falls due a thousandth later is told a thousandth later. */
static void
test_each_door_is_told_at_its_own_instant(void **state)
{
    (void)state;
    struct plan_switch all[] = {door("front", FRIDGE, 60), door("back", LARDER, 60)};
    struct rig *rig = rig_with(all, 2);
    did(rig, "0:00:10", &all[0], SWITCH_ACTIVE);
    did(rig, "0:00:10.001", &all[1], SWITCH_ACTIVE);
    rig_play(rig, "0:01:11 wait\n");
    rig_expect(rig, "0:01:10.001 door-left-open door-open fridge front since 0:00:10 found "
                    "0:01:00.001\n"
                    "0:01:10.002 door-left-open door-open larder back since 0:00:10.001 found "
                    "0:01:00.001\n");
    rig_free(rig);
}

/* E215: of the most doors that a plan can have, all open, a plan without any knows none. */
static void
test_no_door_falls_due_under_a_plan_without_doors(void **state)
{
    (void)state;
    static struct plan_switch all[PLAN_SWITCHES_MAX];
    for (int i = 0; i < PLAN_SWITCHES_MAX; i++) {
        char id[16];
        (void)snprintf(id, sizeof id, "d%d", i);
        all[i] = door(id, FRIDGE, 60);
        all[i].name = "Door";
    }
    struct rig *rig = rig_with(all, PLAN_SWITCHES_MAX);
    for (int i = 0; i < PLAN_SWITCHES_MAX; i++)
        did(rig, "0:00:10", &all[i], SWITCH_ACTIVE);
    rig->next_plan = plan_of(all, 0);
    rig_play(rig, "0:00:20 plan new\n0:02:00 wait\n");
    rig_expect(rig, "");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_each_door_is_told_after_its_own_time),
        cmocka_unit_test(test_door_of_a_quiet_place_waits_and_that_of_another_does_not),
        cmocka_unit_test(test_quiet_ended_early_tells_the_doors_of_that_place),
        cmocka_unit_test(test_button_marks_the_one_batch_of_its_place),
        cmocka_unit_test(test_after_a_restart_no_door_is_known),
        cmocka_unit_test(test_doors_go_on_under_a_new_plan_by_their_names),
        cmocka_unit_test(test_switch_that_is_not_in_the_plan_is_passed_over),
        cmocka_unit_test(test_open_door_is_told_under_a_new_plan_and_forgotten_by_a_restart),
        cmocka_unit_test(test_each_door_is_told_at_its_own_instant),
        cmocka_unit_test(test_no_door_falls_due_under_a_plan_without_doors),
    };
    return cmocka_run_group_tests_name("engine doors", tests, NULL, NULL);
}
