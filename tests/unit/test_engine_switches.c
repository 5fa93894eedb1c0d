/* Doors and buttons: told and kept, never judged by; docs/engine.md E210 to E215. */
#include "tests/support/check.h"

#include <stdlib.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define FRIDGE "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 20 min}"
#define DOOR   0
#define BUTTON 1

/* A door that may be open for five minutes, and a button, both of the fridge. The plan's array
 * is the test's. */
static struct plan_switch switches[2][2];

static struct plan *
plan_with(size_t set, int64_t open_max_ms)
{
    struct plan *plan = rig_plan(NULL, FRIDGE, NULL);
    switches[set][DOOR] = (struct plan_switch){
        .id = "door", .name = "Fridge door", .kind = SWITCH_DOOR, .open_max_ms = open_max_ms};
    switches[set][BUTTON] =
        (struct plan_switch){.id = "button", .name = "Green button", .kind = SWITCH_BUTTON};
    plan->switches = switches[set];
    plan->switch_count = 2;
    return plan;
}

static struct rig *
rig_with_switches(void)
{
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig->next_plan = plan_with(0, 300000);
    rig_play(rig, "0:00:00 plan\n0:00:00 a1 4.0\n");
    return rig;
}

static void
did(struct rig *rig, const char *time, size_t which, enum switch_state state)
{
    struct switch_event event = {.kind = switches[0][which].kind, .state = state};
    strcpy(event.id, switches[0][which].id);
    strcpy(event.place, "fridge");
    event.cause = state == SWITCH_UNKNOWN ? 200 : 0;
    struct engine_input input = {
        .kind = ENGINE_SWITCH, .at_ms = rig_time(time), .seq = ++rig->seq};
    input.is.contact = &event;
    rig_feed(rig, &input);
}

static struct engine_switch_view
view_of(const struct rig *rig, size_t which)
{
    struct engine_switch_view views[2];
    assert_int_equal(engine_view_switches(rig->engine, views, 2), 2);
    assert_int_equal(views[which].index, which);
    return views[which];
}

/* ---- doors ---- */

static void
test_door_open_for_exactly_what_the_plan_lets_it_is_not_told_and_longer_is(void **state)
{
    (void)state;
    struct rig *rig = rig_with_switches();
    did(rig, "0:01:00", DOOR, SWITCH_RESTS);
    did(rig, "0:01:10", DOOR, SWITCH_ACTIVE);
    did(rig, "0:06:10", DOOR, SWITCH_RESTS); /* five minutes to the millisecond */
    did(rig, "0:07:00", DOOR, SWITCH_ACTIVE);
    assert_int_equal(view_of(rig, DOOR).state, SWITCH_ACTIVE);
    assert_int_equal(view_of(rig, DOOR).since_ms, rig_time("0:07:00"));
    rig_play(rig, "0:12:00 a1 4.0\n"); /* or the probe would be silent */
    rig_expect(rig,
               "0:05:00 gap-opened no-good-reading #1 fridge p4 since 0:00:00 found "
               "0:05:00\n0:12:00 gap-ended good-again #1 fridge p4 4.0 since 0:00:00 found "
               "0:12:00\n");
    assert_false(view_of(rig, DOOR).told);
    rig_play(rig, "0:12:01 wait\n");
    rig_expect(rig, "0:12:00.001 door-left-open door-open fridge door since 0:07:00 found "
                    "0:05:00.001\n");
    assert_true(view_of(rig, DOOR).told);
    rig_play(rig, "0:12:30-0:16:00 a1 4.0\n"); /* once only */
    did(rig, "0:16:30", DOOR, SWITCH_RESTS);
    rig_expect(rig, "0:16:30 door-over door-closed fridge door since 0:07:00 found 0:09:30\n");
    assert_false(view_of(rig, DOOR).told);
    rig_free(rig);
}

/* The air is judged by its readings alone: an open door neither breaks a limit nor excuses a
 * breach. */
static void
test_door_judges_nothing_and_excuses_nothing(void **state)
{
    (void)state;
    struct rig *plain = rig_new(NULL, FRIDGE);
    struct rig *rig = rig_with_switches();
    static const char readings[] = "0:00:10-0:03:00 a1 4.0\n0:03:10-0:24:00 a1 9.0\n";
    rig_play(plain, "0:00:00 a1 4.0\n");
    did(rig, "0:00:05", DOOR, SWITCH_RESTS);
    did(rig, "0:00:06", DOOR, SWITCH_ACTIVE);
    did(rig, "0:00:07", DOOR, SWITCH_RESTS);
    did(rig, "0:00:08", DOOR, SWITCH_UNKNOWN);
    rig_play(plain, readings);
    rig_play(rig, readings);
    rig_expect(plain, "0:23:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:03:10 "
                      "found 0:20:00\n");
    rig_expect(rig, "0:23:10 deviation-opened out-too-long #1 fridge p4 9.0 since 0:03:10 "
                    "found 0:20:00\n");
    rig_free(plain);
    rig_free(rig);
}

static void
test_door_whose_switch_is_lost_is_no_longer_told_as_open(void **state)
{
    (void)state;
    struct rig *rig = rig_with_switches();
    did(rig, "0:00:05", DOOR, SWITCH_ACTIVE);
    rig_play(rig, "0:00:10-0:05:10 a1 4.0\n");
    rig_expect(rig, "0:05:05.001 door-left-open door-open fridge door since 0:00:05 found "
                    "0:05:00.001\n");
    did(rig, "0:05:20", DOOR, SWITCH_UNKNOWN);
    rig_expect(rig, "0:05:20 door-over switch-lost fridge door since 0:00:05 found 0:05:15\n");
    did(rig, "0:05:30", DOOR, SWITCH_ACTIVE); /* since when, nobody knows: from now on */
    rig_play(rig, "0:05:40-0:10:30 a1 4.0\n");
    rig_expect(rig, "");
    rig_play(rig, "0:10:40 a1 4.0\n");
    rig_expect(rig, "0:10:30.001 door-left-open door-open fridge door since 0:05:30 found "
                    "0:05:00.001\n");
    rig_free(rig);
}

static void
test_door_of_a_quiet_place_is_told_when_the_quiet_is_over(void **state)
{
    (void)state;
    struct rig *rig = rig_with_switches();
    rig_play(rig, "0:00:05 quiet fridge 0:20:00\n");
    did(rig, "0:01:00", DOOR, SWITCH_ACTIVE);
    rig_play(rig, "0:01:10-0:20:00 a1 4.0\n");
    rig_expect(rig, "0:00:05 quiet-begun entered fridge since 0:00:05\n");
    rig_play(rig, "0:20:10 a1 4.0\n");
    rig_expect(rig, "0:20:05 quiet-ended time-up fridge since 0:00:05 found 0:20:00\n"
                    "0:20:05 door-left-open door-open fridge door since 0:01:00 found "
                    "0:19:05\n");
    rig_free(rig);
    rig = rig_with_switches();
    rig_play(rig, "0:00:05 quiet fridge 3:00:00\n");
    did(rig, "0:01:00", DOOR, SWITCH_ACTIVE);
    rig_play(rig, "0:01:10-0:10:00 a1 4.0\n0:10:05 quiet fridge end\n0:10:10 a1 4.0\n");
    rig_expect(rig, "0:00:05 quiet-begun entered fridge since 0:00:05\n"
                    "0:10:05 quiet-ended entered fridge since 0:00:05 found 0:10:00\n"
                    "0:10:05 door-left-open door-open fridge door since 0:01:00 found "
                    "0:09:05\n");
    rig_free(rig);
}

static void
test_after_a_restart_nobody_knows_how_a_door_stands(void **state)
{
    (void)state;
    struct rig *rig = rig_with_switches();
    did(rig, "0:00:05", DOOR, SWITCH_ACTIVE);
    rig_play(rig, "0:00:10-0:05:10 a1 4.0\n0:06:00 restart 0:05:12\n");
    rig_expect(rig, "0:05:05.001 door-left-open door-open fridge door since 0:00:05 found "
                    "0:05:00.001\n"
                    "0:06:00 door-over outage fridge door since 0:00:05 found 0:05:55\n");
    assert_int_equal(view_of(rig, DOOR).state, SWITCH_UNKNOWN);
    assert_int_equal(view_of(rig, DOOR).since_ms, TIME_NONE);
    rig_free(rig);
}

static void
test_open_door_survives_saving_and_is_told_in_time(void **state)
{
    (void)state;
    struct rig *rig = rig_with_switches();
    did(rig, "0:00:05", DOOR, SWITCH_ACTIVE);
    rig_reload(rig);
    assert_int_equal(view_of(rig, DOOR).since_ms, rig_time("0:00:05"));
    rig_play(rig, "0:00:10-0:05:00 a1 4.0\n");
    rig_reload(rig);
    rig_play(rig, "0:05:10 a1 4.0\n");
    rig_expect(rig, "0:05:05.001 door-left-open door-open fridge door since 0:00:05 found "
                    "0:05:00.001\n");
    rig_free(rig);
}

/* ---- plans ---- */

static void
test_door_goes_on_under_a_new_plan_by_its_own_time(void **state)
{
    (void)state;
    struct rig *rig = rig_with_switches();
    did(rig, "0:00:05", DOOR, SWITCH_ACTIVE);
    rig->next_plan = plan_with(1, 60000);
    rig_play(rig, "0:00:10-0:00:30 a1 4.0\n0:00:40 plan\n");
    did(rig, "0:00:41", DOOR, SWITCH_ACTIVE); /* the lines are opened anew, and say it again */
    rig_play(rig, "0:00:50-0:01:10 a1 4.0\n");
    rig_expect(rig, "0:01:05.001 door-left-open door-open fridge door since 0:00:05 found "
                    "0:01:00.001\n");
    rig->next_plan = plan_with(0, 0);
    rig_play(rig, "0:01:20 plan\n");
    rig_expect(rig, "0:01:20 door-over entered fridge door since 0:00:05 found 0:01:15\n");
    rig_free(rig);
}

/* ---- buttons ---- */

static void
test_button_marks_once_for_each_press_from_rest(void **state)
{
    (void)state;
    struct rig *rig = rig_with_switches();
    did(rig, "0:00:01", BUTTON, SWITCH_ACTIVE); /* held when first seen: since when? */
    rig_expect(rig, "");
    did(rig, "0:00:02", BUTTON, SWITCH_RESTS);
    did(rig, "0:00:03", BUTTON, SWITCH_ACTIVE);
    did(rig, "0:00:04", BUTTON, SWITCH_ACTIVE);
    rig_expect(rig, "0:00:03 marked pressed fridge button\n");
    assert_int_equal(view_of(rig, BUTTON).mark_ms, rig_time("0:00:03"));
    did(rig, "0:00:05", BUTTON, SWITCH_UNKNOWN);
    did(rig, "0:00:06", BUTTON, SWITCH_ACTIVE); /* it may never have been let go */
    rig_expect(rig, "");
    did(rig, "0:00:07", BUTTON, SWITCH_RESTS);
    did(rig, "0:00:08", BUTTON, SWITCH_ACTIVE);
    rig_expect(rig, "0:00:08 marked pressed fridge button\n");
    rig_free(rig);
}

/* Begins a batch in the fridge. */
static void
begin_in_fridge(struct rig *rig, const char *time)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_BEGIN);
    strcpy(entry.who, "AB");
    strcpy(entry.product, "dish");
    strcpy(entry.place, "fridge");
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(time), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
}

static void
test_button_marks_the_batch_when_there_is_just_one_at_its_place(void **state)
{
    (void)state;
    struct rig *rig = rig_with_switches();
    begin_in_fridge(rig, "0:00:10");
    did(rig, "0:00:11", BUTTON, SWITCH_RESTS);
    did(rig, "0:00:12", BUTTON, SWITCH_ACTIVE);
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].batch, 1);
    assert_string_equal(rig->out.decisions[0].step, "first");
    assert_string_equal(rig->out.decisions[0].place, "fridge");
    begin_in_fridge(rig, "0:00:20"); /* which of the two? */
    did(rig, "0:00:21", BUTTON, SWITCH_RESTS);
    did(rig, "0:00:22", BUTTON, SWITCH_ACTIVE);
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].batch, 0);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(
            test_door_open_for_exactly_what_the_plan_lets_it_is_not_told_and_longer_is),
        cmocka_unit_test(test_door_judges_nothing_and_excuses_nothing),
        cmocka_unit_test(test_door_whose_switch_is_lost_is_no_longer_told_as_open),
        cmocka_unit_test(test_door_of_a_quiet_place_is_told_when_the_quiet_is_over),
        cmocka_unit_test(test_after_a_restart_nobody_knows_how_a_door_stands),
        cmocka_unit_test(test_open_door_survives_saving_and_is_told_in_time),
        cmocka_unit_test(test_door_goes_on_under_a_new_plan_by_its_own_time),
        cmocka_unit_test(test_button_marks_once_for_each_press_from_rest),
        cmocka_unit_test(test_button_marks_the_batch_when_there_is_just_one_at_its_place),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
