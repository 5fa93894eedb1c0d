/* The sentences: what a cook reads at a glance. Whole sentences are compared, so that a change
 * of wording is seen here. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/status/sentence.h"
#include "tests/support/sample_kitchen.h"

struct fixture {
    struct sample_kitchen kitchen;
    struct snapshot *snapshot;
    struct snapshot_batch *roast, *filling;
    struct snapshot_place *walk_in, *cupboard, *oven;
};

static struct fixture fixture;

static int
set_up(void **state)
{
    struct fixture *f = *state = &fixture;
    sample_kitchen_init(&f->kitchen);
    f->snapshot = sample_snapshot(&f->kitchen);
    f->roast = &f->snapshot->batches[0];
    f->filling = &f->snapshot->batches[1];
    f->walk_in = &f->snapshot->places[0];
    f->cupboard = &f->snapshot->places[1];
    f->oven = &f->snapshot->places[2];
    return 0;
}

static int
tear_down(void **state)
{
    struct fixture *f = *state;
    snapshot_release(f->snapshot);
    return 0;
}

static void
check(struct fixture *f, const char *sentence, const char *expected)
{
    snapshot_tell(f->snapshot);
    assert_string_equal(sentence, expected);
}

static void
core(struct fixture *f, int32_t temp_mC)
{
    sample_reading(f->snapshot, SAMPLE_ROAST_CORE, SAMPLE_NOW_MS, temp_mC);
    f->roast->view.governing_mC = temp_mC;
}

static void
test_cook_below_limit_says_need(void **state)
{
    struct fixture *f = *state;
    check(f, f->roast->sentence, "Core 48.3 °C; needs at least 63.0 °C for 3 min.");
    assert_int_equal(f->roast->concern, CONCERN_NONE);
}

static void
test_cook_just_below_limit_is_not_rounded_to_it(void **state)
{
    struct fixture *f = *state;
    core(f, 62999);
    check(f, f->roast->sentence, "Core 62.999 °C; needs at least 63.0 °C for 3 min.");
    core(f, 63000);
    check(f, f->roast->sentence, "Core 63.0 °C; held for 0 s of 3 min, at least 63.0 °C.");
}

static void
test_cook_holding_says_time_held(void **state)
{
    struct fixture *f = *state;
    core(f, 64120);
    f->roast->view.credited_ms = 80000;
    check(f, f->roast->sentence,
          "Core 64.1 °C; held for 1 min 20 s of 3 min, at least 63.0 °C.");
}

static void
test_cook_with_deadline_says_when(void **state)
{
    struct fixture *f = *state;
    f->roast->view.deadline_ms = SAMPLE_NOW_MS + 42 * MINUTES;
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min by 14:26 (in 42 min as of the last "
          "reading).");
    f->roast->view.deadline_ms = SAMPLE_NOW_MS - 1;
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min by 13:43, which has passed.");
}

static void
test_cook_says_how_its_oven_is(void **state)
{
    struct fixture *f = *state;
    struct engine_batch_view *view = &f->roast->view;
    const struct plan_limit hot = {.kind = LIMIT_OVEN, .temp = {163000, TEMP_C}};
    const struct plan_limit moist = {.kind = LIMIT_MOIST_OVEN, .temp = {121000, TEMP_C}};
    view->oven = &hot;
    view->oven_watched = true;
    view->oven_mC = 162960;
    view->oven_outside_ms = 80000;
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min. Oven: 162.96 °C; it has to be at "
          "least 163.0 °C, and has not been for 1 min 20 s.");
    view->oven_mC = 168040;
    view->oven_outside_ms = 0;
    check(
        f, f->roast->sentence,
        "Core 48.3 °C; needs at least 63.0 °C for 3 min. Oven: 168.0 °C; it has to be at least "
        "163.0 °C.");
    view->oven = &moist;
    view->oven_mC = TEMP_NONE;
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min. Oven: no good reading; it has to be "
          "at most 121.0 °C.");
    view->oven_watched = false;
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min. Oven: not measured; it has to be at "
          "most 121.0 °C: look at it, you will be asked.");
    view->oven_over = true;
    check(f, f->roast->sentence, "Core 48.3 °C; needs at least 63.0 °C for 3 min.");
}

static void
test_dated_food_says_until_when(void **state)
{
    struct fixture *f = *state;
    struct engine_mark_view *mark = &f->roast->view.mark;
    *mark = (struct engine_mark_view){.days = 7, .used = 3, .day = "2026-03-07"};
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min. Day 3 of 7: use it by the end of "
          "2026-03-07 or throw it away.");
    assert_int_equal(f->roast->concern, CONCERN_NONE);
    mark->frozen = true;
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min. Frozen after 3 of 7 days; thawed "
          "today its last day is 2026-03-07.");
    mark->day[0] = '\0';
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min. Its last day is not known yet.");
    mark->passed = true;
    check(
        f, f->roast->sentence,
        "Core 48.3 °C; needs at least 63.0 °C for 3 min. Its last day is over: throw it away.");
    assert_int_equal(f->roast->concern, CONCERN_ACT);
}

/* E238 */
static void
test_food_not_to_be_served_says_so(void **state)
{
    struct fixture *f = *state;
    f->roast->view.bar = DISPOSITION_HOLD;
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min. On hold, says a corrective action: "
          "not to be served.");
    assert_int_equal(f->roast->concern, CONCERN_NONE);
    f->roast->view.bar = DISPOSITION_DISCARD;
    check(
        f, f->roast->sentence,
        "Core 48.3 °C; needs at least 63.0 °C for 3 min. To be thrown away, says a corrective "
        "action.");
    assert_int_equal(f->roast->concern, CONCERN_ACT);
}

/* ---- doors and buttons ---- */

static const struct plan_switch switches[] = {
    {.id = "door", .name = "Walk-in door", .kind = SWITCH_DOOR, .open_max_ms = 5 * MINUTES},
    {.id = "button", .name = "Oven button", .kind = SWITCH_BUTTON, .place = 2},
};

static void
with_switches(struct fixture *f)
{
    f->kitchen.plan.switches = (struct plan_switch *)(uintptr_t)switches;
    f->kitchen.plan.switch_count = 2;
    for (uint16_t i = 0; i < 2; i++)
        f->snapshot->switches[i].view = (struct engine_switch_view){
            .index = i, .since_ms = TIME_NONE, .mark_ms = TIME_NONE};
}

static void
test_door_is_said_beside_its_place_and_raises_a_concern_when_left_open(void **state)
{
    struct fixture *f = *state;
    with_switches(f);
    struct engine_switch_view *door = &f->snapshot->switches[0].view;
    check(f, f->walk_in->sentence, "Cold enough: 3.4 °C, limit at most 5.0 °C.");
    door->state = SWITCH_RESTS;
    door->since_ms = SAMPLE_NOW_MS - 10 * MINUTES;
    check(f, f->walk_in->sentence,
          "Cold enough: 3.4 °C, limit at most 5.0 °C. Walk-in door: closed since 13:34.");
    assert_int_equal(f->walk_in->concern, CONCERN_NONE);
    door->state = SWITCH_ACTIVE;
    check(f, f->walk_in->sentence,
          "Cold enough: 3.4 °C, limit at most 5.0 °C. Walk-in door: open since 13:34.");
    assert_int_equal(f->walk_in->concern, CONCERN_NONE);
    door->told = true;
    check(f, f->walk_in->sentence,
          "Cold enough: 3.4 °C, limit at most 5.0 °C. Walk-in door: open since 13:34, longer "
          "than 5 min.");
    assert_int_equal(f->walk_in->concern, CONCERN_WATCH);
    door->told = false;
    door->state = SWITCH_UNKNOWN;
    check(
        f, f->walk_in->sentence,
        "Cold enough: 3.4 °C, limit at most 5.0 °C. Walk-in door: its switch has said nothing "
        "since 13:34.");
    assert_int_equal(f->walk_in->concern, CONCERN_WATCH);
    assert_null(strstr(f->cupboard->sentence, "door"));
}

static void
test_button_is_said_for_an_hour_after_its_mark(void **state)
{
    struct fixture *f = *state;
    with_switches(f);
    struct engine_switch_view *button = &f->snapshot->switches[1].view;
    button->state = SWITCH_RESTS;
    button->since_ms = SAMPLE_NOW_MS - 90 * MINUTES;
    check(f, f->oven->sentence, "No probe watches this place.");
    button->mark_ms = SAMPLE_NOW_MS - 60 * MINUTES;
    check(f, f->oven->sentence, "No probe watches this place. Oven button: pressed at 12:44.");
    button->mark_ms--;
    check(f, f->oven->sentence, "No probe watches this place.");
}

/* ---- what is forecast ---- */

static struct advice *
advised(struct snapshot_batch *batch)
{
    batch->has_advice = true;
    batch->advice = (struct advice){
        .batch = batch->view.number,
        .at_ms = SAMPLE_NOW_MS,
        .peak_p50_mC = TEMP_NONE,
        .reach_count = 1,
        .reach = {{.to = {63000, TEMP_C},
                   .when = {SAMPLE_NOW_MS + 40 * MINUTES, SAMPLE_NOW_MS + 50 * MINUTES,
                            SAMPLE_NOW_MS + 70 * MINUTES},
                   .deadline_ms = TIME_NONE,
                   .miss_permille = -1}},
    };
    return &batch->advice;
}

static void
test_forecast_of_a_roast(void **state)
{
    struct fixture *f = *state;
    struct advice *advice = advised(f->roast);
    check(f, f->roast->ahead, "Forecast, rough: 63.0 °C about 14:34 (14:24 to 14:54).");
    advice->reach[0].when.p95_ms = SAMPLE_NOW_MS + 55 * MINUTES;
    check(f, f->roast->ahead, "Forecast, fairly sure: 63.0 °C about 14:34 (14:24 to 14:39).");
    advice->reach[0].when.p95_ms = SAMPLE_NOW_MS + 90 * MINUTES;
    check(f, f->roast->ahead, "Forecast, a first guess: 63.0 °C about 14:34 (14:24 to 15:14).");
    advice->reach[0].when.p95_ms = SAMPLE_NOW_MS + 70 * MINUTES;
    advice->peak_p05_mC = 51000;
    advice->peak_p50_mC = 52040;
    advice->peak_p95_mC = 53500;
    advice->aim = (struct limit_temp){68000, TEMP_C};
    advice->has_take_out = true;
    advice->take_out = (struct advice_when){SAMPLE_NOW_MS + 50 * MINUTES,
                                            SAMPLE_NOW_MS + 60 * MINUTES, TIME_NEVER};
    check(f, f->roast->ahead,
          "Forecast, rough: 63.0 °C about 14:34 (14:24 to 14:54).\nTo end at 68.0 °C, take it "
          "out about "
          "14:44 (14:34 to much later).\nTaken out now, the core would peak at about 52.0 °C "
          "(51.0 "
          "°C to 53.5 °C).");
    advice->limit_decides = true;
    snapshot_tell(f->snapshot);
    assert_non_null(strstr(f->roast->ahead,
                           "\nTake it out about 14:44 (14:34 to much later), when the limit "
                           "is met: it will probably end above 68.0 °C.\n"));
    advice->limit_decides = false;
    advice->reach[0].reached = true;
    advice->take_out.p50_ms = SAMPLE_NOW_MS;
    snapshot_tell(f->snapshot);
    assert_non_null(strstr(f->roast->ahead,
                           "63.0 °C has been reached.\nTo end at 68.0 °C, take "
                           "it out now"));
    advice->taken_out = true;
    check(f, f->roast->ahead,
          "Forecast: the core peaks at about 52.0 °C (51.0 °C to 53.5 °C).");
}

static void
test_forecast_that_cannot_be_made_says_why(void **state)
{
    struct fixture *f = *state;
    struct advice *advice = advised(f->roast);
    (void)snprintf(advice->refusal, sizeof advice->refusal,
                   "too early: another 6 min of "
                   "readings");
    check(f, f->roast->ahead, "Forecast: too early: another 6 min of readings.");
    f->roast->has_advice = false;
    check(f, f->roast->ahead, "");
}

static void
test_forecast_of_a_late_cooling_names_what_helps(void **state)
{
    struct fixture *f = *state;
    struct advice *advice = advised(f->filling);
    advice->reach[0].to = (struct limit_temp){21000, TEMP_C};
    advice->reach[0].stage = 1;
    advice->reach[0].deadline_ms = SAMPLE_NOW_MS + 30 * MINUTES;
    advice->reach[0].miss_permille = 199;
    check(f, f->filling->ahead,
          "Forecast, rough: 21.0 °C about 14:34 (14:24 to 14:54).\n"
          "Chance of being in time: 21.0 °C by 14:14 about 8 in 10.");
    assert_int_equal(f->filling->concern, CONCERN_NONE);
    advice->reach[0].miss_permille = 820;
    advice->warned = true;
    advice->option_count = 2;
    advice->options[0] =
        (struct advice_option){.kind = OPTION_ICE_BATH, .p50_ms = SAMPLE_NOW_MS + 10 * MINUTES};
    advice->options[1] = (struct advice_option){.kind = OPTION_SHALLOWER,
                                                .p50_ms = SAMPLE_NOW_MS + 20 * MINUTES};
    check(
        f, f->filling->ahead,
        "Forecast, rough: 21.0 °C about 14:34 (14:24 to 14:54).\nChance of missing 21.0 °C by "
        "14:14: "
        "about 8 in 10.\nWhat helps most: an ice bath (about 13:54); then pans half as deep "
        "(about 14:04).");
    assert_int_equal(f->filling->concern, CONCERN_WATCH);
    advice->reach[0].miss_permille = 990;
    advice->reach[0].when.p50_ms = TIME_NEVER;
    snapshot_tell(f->snapshot);
    assert_non_null(strstr(f->filling->ahead, "21.0 °C not as things stand.\nChance"));
    assert_non_null(strstr(f->filling->ahead, ": more than 19 in 20."));
    /* Who has heard this warning; not an earlier one (E205). */
    advice->warned_ms = SAMPLE_NOW_MS - 5 * MINUTES;
    (void)strcpy(f->filling->view.heard_by, "AB");
    f->filling->view.heard_ms = SAMPLE_NOW_MS - 6 * MINUTES;
    snapshot_tell(f->snapshot);
    assert_null(strstr(f->filling->ahead, "Heard by"));
    f->filling->view.heard_ms = SAMPLE_NOW_MS - 2 * MINUTES;
    snapshot_tell(f->snapshot);
    assert_non_null(strstr(f->filling->ahead, "\nHeard by AB at 13:42."));
}

static void
test_cook_met_names_next_step(void **state)
{
    struct fixture *f = *state;
    f->roast->view.verdict = VERDICT_MET;
    check(f, f->roast->sentence, "Limit met: at least 63.0 °C for 3 min. Next: Resting.");
}

static void
test_cook_fahrenheit_limit_is_kept_as_printed(void **state)
{
    struct fixture *f = *state;
    struct limit_temp limit = {.milli = 155000, .unit = TEMP_F};
    f->kitchen.products[0].steps[0].limit.temp = limit;
    core(f, 68332); /* 154.9976 °F: below 155 °F */
    check(f, f->roast->sentence,
          "Core 154.998 °F (68.3 °C); needs at least 155.0 °F for 3 min.");
    core(f, 68334);
    check(f, f->roast->sentence,
          "Core 155.001 °F (68.334 °C); held for 0 s of 3 min, at least 155.0 °F.");
    core(f, 20000); /* exactly 68 °F */
    check(f, f->roast->sentence, "Core 68.0 °F (20.0 °C); needs at least 155.0 °F for 3 min.");
}

static void
test_cook_stale_probe_is_said_outright(void **state)
{
    struct fixture *f = *state;
    sample_reading(f->snapshot, SAMPLE_ROAST_CORE, SAMPLE_NOW_MS - 9 * MINUTES, 48312);
    f->snapshot->probes[0].last = (struct reading){.at_ms = SAMPLE_NOW_MS,
                                                   .temp_mC = TEMP_NONE,
                                                   .probe = SAMPLE_ROAST_CORE,
                                                   .quality = BAD_TIMEOUT};
    f->roast->view.governing_probe = 0;
    f->roast->view.governing_mC = TEMP_NONE;
    check(f, f->roast->sentence,
          "No good reading since 13:35 (no reply in time); the last was 48.3 °C. Needs at "
          "least 63.0 °C for 3 min.");
    assert_int_equal(f->roast->concern, CONCERN_WATCH);
}

/* Two cores, and the line is down: the last reading that is told is the colder one of food that
 * heats, the warmer one of food that cools, be the other one heard of a moment later. One that
 * was silent long before tells nothing of now. */
static void
test_last_reading_of_several_is_the_one_that_counts(void **state)
{
    struct fixture *f = *state;
    struct engine_batch_view *roast = &f->roast->view;
    roast->probe_count = 2;
    roast->probes[1] = SAMPLE_FILLING_CORE;
    roast->governing_probe = 0;
    roast->governing_mC = TEMP_NONE;
    sample_reading(f->snapshot, SAMPLE_ROAST_CORE, SAMPLE_NOW_MS - 9 * MINUTES, 24900);
    sample_reading(f->snapshot, SAMPLE_FILLING_CORE, SAMPLE_NOW_MS - 9 * MINUTES + 2000, 31200);
    assert_int_equal(snapshot_batch_probe(f->snapshot, roast)->number, SAMPLE_ROAST_CORE);
    check(
        f, f->roast->sentence,
        "No good reading since 13:35; the last was 24.9 °C. Needs at least 63.0 °C for 3 min.");
    struct engine_batch_view cooling = f->filling->view;
    cooling.probe_count = 2;
    cooling.probes[0] = SAMPLE_ROAST_CORE;
    cooling.probes[1] = SAMPLE_FILLING_CORE;
    cooling.governing_probe = 0;
    assert_int_equal(snapshot_batch_probe(f->snapshot, &cooling)->number, SAMPLE_FILLING_CORE);
    sample_reading(f->snapshot, SAMPLE_ROAST_CORE, SAMPLE_NOW_MS - 9 * MINUTES + 4000, 60000);
    assert_int_equal(snapshot_batch_probe(f->snapshot, &cooling)->number, SAMPLE_ROAST_CORE);
    sample_reading(f->snapshot, SAMPLE_ROAST_CORE, SAMPLE_NOW_MS - 90 * MINUTES, 5000);
    assert_int_equal(snapshot_batch_probe(f->snapshot, roast)->number, SAMPLE_FILLING_CORE);
    cooling.probe_count = 0;
    assert_null(snapshot_batch_probe(f->snapshot, &cooling));
}

static void
test_cook_suspect_probe_sends_somebody(void **state)
{
    struct fixture *f = *state;
    f->snapshot->probes[0].last.quality = SUSPECT_LEFT_FOOD;
    check(f, f->roast->sentence,
          "Core 48.3 °C; needs at least 63.0 °C for 3 min. Check Roast core: suspect: changed "
          "faster than food can.");
    assert_int_equal(f->roast->concern, CONCERN_WATCH);
}

/* Moving a batch on takes nothing from the probe: for as long as a reading may take, nothing is
 * amiss. */
static void
test_step_just_begun_waits_for_its_first_reading(void **state)
{
    struct fixture *f = *state;
    f->roast->view.governing_probe = 0;
    f->roast->view.governing_mC = TEMP_NONE;
    f->roast->view.step_begun_ms = SAMPLE_NOW_MS - 7000; /* 3 x 2 s + 1 s */
    check(f, f->roast->sentence,
          "The first reading of this step is on its way. Needs at least 63.0 °C for 3 min.");
    assert_int_equal(f->roast->concern, CONCERN_NONE);
    f->roast->view.step_begun_ms = SAMPLE_NOW_MS - 7001;
    snapshot_tell(f->snapshot);
    assert_int_equal(strncmp(f->roast->sentence, "No good reading since", 21), 0);
    assert_int_equal(f->roast->concern, CONCERN_WATCH);
}

static void
test_stale_boundary_is_largest_spacing_and_a_commit(void **state)
{
    struct fixture *f = *state;
    sample_reading(f->snapshot, SAMPLE_ROAST_CORE, SAMPLE_NOW_MS - 7000,
                   48312); /* 3 x 2 s + 1 s */
    snapshot_tell(f->snapshot);
    assert_int_equal(strncmp(f->roast->sentence, "Core 48.3", 9), 0);
    sample_reading(f->snapshot, SAMPLE_ROAST_CORE, SAMPLE_NOW_MS - 7001, 48312);
    snapshot_tell(f->snapshot);
    assert_int_equal(strncmp(f->roast->sentence, "No good reading since 13:43", 27), 0);
}

static void
test_rest_without_limit_names_next(void **state)
{
    struct fixture *f = *state;
    f->roast->view.step = 1;
    check(f, f->roast->sentence, "Core 48.3 °C; no limit in this step. Next: Hot holding.");
    f->roast->view.probe_count = 0;
    f->roast->view.governing_probe = 0;
    f->roast->view.governing_mC = TEMP_NONE;
    check(f, f->roast->sentence, "No limit in this step. Next: Hot holding.");
    assert_int_equal(f->roast->concern, CONCERN_NONE);
}

static void
test_batch_without_probe_says_what_a_person_can_do(void **state)
{
    struct fixture *f = *state;
    f->roast->view.probe_count = 0;
    f->roast->view.governing_probe = 0;
    f->roast->view.governing_mC = TEMP_NONE;
    check(f, f->roast->sentence,
          "No probe is in it, and only a probe can show the time held. Needs at least 63.0 °C "
          "for 3 min.");
    assert_int_equal(f->roast->concern, CONCERN_WATCH);
    f->kitchen.products[0].steps[0].limit.hold_ms = 0;
    check(f, f->roast->sentence,
          "No probe is in it: take readings by hand. Needs at least 63.0 °C.");
}

static void
test_hold_outside_counts_and_tells_tolerance(void **state)
{
    struct fixture *f = *state;
    f->roast->view.step = 2;
    core(f, 68000);
    check(f, f->roast->sentence, "Core 68.0 °C; hold at least 60.0 °C.");
    core(f, 58000);
    f->roast->view.outside = true;
    f->roast->view.outside_ms = 12 * MINUTES;
    check(f, f->roast->sentence,
          "Too cold for 12 min: 58.0 °C, limit 60.0 °C; a deviation opens after 30 min.");
    assert_int_equal(f->roast->concern, CONCERN_WATCH);
    f->roast->view.deviation = 5;
    check(f, f->roast->sentence,
          "Too cold for 12 min: 58.0 °C, limit 60.0 °C. Deviation 5 is open: act, and "
          "record what was done.");
    assert_int_equal(f->roast->concern, CONCERN_ACT);
}

static void
test_hold_back_inside_still_counts(void **state)
{
    struct fixture *f = *state;
    f->roast->view.step = 2;
    core(f, 61000);
    f->roast->view.outside_ms = 3 * MINUTES;
    check(f, f->roast->sentence,
          "Core 61.0 °C; hold at least 60.0 °C. Back inside; 3 min outside still count.");
}

/* Time as a public health control (E145, E148); standing after heating (E152). */
static void
test_time_control_says_until_when(void **state)
{
    struct fixture *f = *state;
    struct plan_limit *limit = &f->kitchen.products[0].steps[0].limit;
    *limit = (struct plan_limit){.kind = LIMIT_TIME,
                                 .temp = {5000, TEMP_C},
                                 .within_ms = 360 * MINUTES,
                                 .has_ceiling = true,
                                 .ceiling = {21000, TEMP_C}};
    core(f, 8000);
    f->roast->view.deadline_ms = SAMPLE_NOW_MS + 42 * MINUTES;
    check(f, f->roast->sentence,
          "Core 8.0 °C; without temperature control: serve, cook or throw away by 14:26 (in 42 "
          "min as of the last reading); throw away if ever warmer than 21.0 °C.");
    f->roast->view.probe_count = 0;
    f->roast->view.governing_probe = 0;
    f->roast->view.governing_mC = TEMP_NONE;
    limit->has_ceiling = false;
    check(f, f->roast->sentence,
          "Without temperature control: serve, cook or throw away by 14:26.");
}

static void
test_cook_that_stands_says_until_when(void **state)
{
    struct fixture *f = *state;
    f->kitchen.products[0].steps[0].limit.stand_ms = 2 * MINUTES;
    f->roast->view.stands_until_ms = SAMPLE_NOW_MS + 2 * MINUTES;
    core(f, 74000);
    check(f, f->roast->sentence,
          "Core 74.0 °C; reached; it stands until 13:46 (in 2 min as of the last reading).");
}

/* A defence that may be used once (E140, E143). */
static void
test_hold_once_outside_says_so(void **state)
{
    struct fixture *f = *state;
    struct plan_limit *limit = &f->kitchen.products[0].steps[2].limit;
    f->roast->view.step = 2;
    limit->tolerance_ms = 0;
    limit->period_ms = 120 * MINUTES;
    core(f, 58000);
    f->roast->view.outside = true;
    f->roast->view.outside_ms = 12 * MINUTES;
    check(f, f->roast->sentence,
          "Too cold for 12 min: 58.0 °C, limit 60.0 °C; a deviation opens after 2 h 00 min, "
          "and it may "
          "be so once only.");
    f->roast->view.outside = false;
    f->roast->view.outside_ms = 0;
    f->roast->view.period_over = true;
    core(f, 61000);
    check(
        f, f->roast->sentence,
        "Core 61.0 °C; hold at least 60.0 °C. It has been outside once already and may not be "
        "again.");
}

static void
test_cooling_stages_in_turn(void **state)
{
    struct fixture *f = *state;
    check(f, f->filling->sentence,
          "Cooling, first stage: 34.2 °C, must be at 21.0 °C by 14:32 (in 48 min as of the "
          "last reading).");
    f->filling->view.stage = 2;
    check(f, f->filling->sentence,
          "Cooling, second stage: 34.2 °C, must be at 5.0 °C by 18:32 (in 4 h 48 min as of the "
          "last reading).");
    f->filling->view.stage = 3;
    f->filling->view.verdict = VERDICT_MET;
    check(f, f->filling->sentence, "Cooled in time. Core 34.2 °C. Next: Cold store.");
    f->filling->view.stage = 0;
    f->filling->view.verdict = VERDICT_OPEN;
    f->filling->view.clock_start_ms = TIME_NONE;
    check(f, f->filling->sentence,
          "Core 34.2 °C; the cooling clock starts when the core falls through 57.0 °C.");
}

static void
test_cooling_inconclusive_waits_for_a_person(void **state)
{
    struct fixture *f = *state;
    f->filling->view.inconclusive = true;
    f->filling->view.inconclusive_reason = REASON_PROBE_LATE;
    snapshot_tell(f->snapshot);
    assert_int_equal(
        strncmp(f->filling->sentence, "Waits for a person: the limit cannot be judged (", 48),
        0);
    assert_int_equal(f->filling->concern, CONCERN_ACT);
}

static void
test_place_inside_outside_and_deviating(void **state)
{
    struct fixture *f = *state;
    check(f, f->walk_in->sentence, "Cold enough: 3.4 °C, limit at most 5.0 °C.");
    check(f, f->cupboard->sentence, "Hot enough: 71.5 °C, limit at least 63.0 °C.");
    f->walk_in->view.temp_mC = 6400;
    f->walk_in->view.outside = true;
    f->walk_in->view.outside_ms = 12 * MINUTES;
    check(f, f->walk_in->sentence,
          "Too warm for 12 min: 6.4 °C, limit 5.0 °C; a deviation opens after 20 min.");
    assert_int_equal(f->walk_in->concern, CONCERN_WATCH);
}

static void
test_place_without_probe_or_reading(void **state)
{
    struct fixture *f = *state;
    check(f, f->oven->sentence, "No probe watches this place.");
    f->walk_in->view.temp_mC = TEMP_NONE;
    f->snapshot->probes[2].last.at_ms = f->snapshot->probes[2].last_good.at_ms = TIME_NONE;
    check(f, f->walk_in->sentence, "No good reading yet. Limit: at most 5.0 °C.");
    assert_int_equal(f->walk_in->concern, CONCERN_WATCH);
}

static void
test_deviation_until_verified(void **state)
{
    struct fixture *f = *state;
    struct snapshot *snapshot = sample_snapshot_with_deviation(&f->kitchen);
    struct snapshot_deviation *deviation = &snapshot->deviations[0];
    assert_string_equal(snapshot->places[0].sentence,
                        "Too warm for 22 min: 8.4 °C, limit 5.0 °C. Deviation 4 is open: act, "
                        "and record what was "
                        "done.");
    assert_string_equal(
        deviation->sentence,
        "Walk-in cooler: too warm for too long, 8.2 °C, limit at most 5.0 °C, since 13:22. It "
        "goes on. "
        "To do: act, then record what was found, what was done and what became of the food.");
    deviation->view.ended_ms = SAMPLE_NOW_MS - MINUTES;
    deviation->view.action_seq = 110;
    strcpy(deviation->view.action_by, "JM");
    snapshot_tell(snapshot);
    assert_string_equal(deviation->sentence,
                        "Walk-in cooler: too warm for too long, 8.2 °C, limit at most 5.0 °C, "
                        "since 13:22. It ended at "
                        "13:43. Action by JM. To do: verification by another person.");
    snapshot_release(snapshot);
}

/* What is late is said in its sentence, from the millisecond after it was due. */
static void
test_what_is_overdue_is_said(void **state)
{
    struct fixture *f = *state;
    struct snapshot *snapshot = sample_snapshot_with_deviation(&f->kitchen);
    struct snapshot_deviation *deviation = &snapshot->deviations[0];
    struct plan_duties *duties = &f->kitchen.plan.duties;
    duties->act_within_ms = 2 * MINUTES; /* it opened two minutes ago: exactly in time */
    duties->verify_days = 1;
    snapshot_tell(snapshot);
    assert_int_equal(deviation->due_ms, SAMPLE_NOW_MS);
    assert_false(deviation->overdue);
    snapshot->at_ms++;
    snapshot_tell(snapshot);
    assert_true(deviation->overdue);
    assert_non_null(
        strstr(deviation->sentence, " It goes on. OVERDUE since 13:44. To do: act"));
    /* Its verification is due at the end of the next working day. */
    deviation->view.action_seq = 110;
    deviation->view.action_ms = SAMPLE_NOW_MS;
    snapshot_tell(snapshot);
    assert_false(deviation->overdue);
    assert_true(deviation->due_ms > SAMPLE_NOW_MS + 10 * 60 * MINUTES);
    snapshot->at_ms = deviation->due_ms + 1;
    snapshot_tell(snapshot);
    assert_true(deviation->overdue);
    deviation->view.verified_seq = 111;
    snapshot_tell(snapshot);
    assert_false(deviation->overdue);
    assert_int_equal(deviation->due_ms, TIME_NONE);
    snapshot_release(snapshot);
}

static void
test_food_in_a_place_is_named(void **state)
{
    struct fixture *f = *state;
    struct snapshot *snapshot = sample_snapshot_with_deviation(&f->kitchen);
    struct engine_deviation_view *view = &snapshot->deviations[0].view;
    view->food_count = 2;
    view->food[0] = 3;
    view->food[1] = 12;
    snapshot_tell(snapshot);
    assert_non_null(strstr(snapshot->deviations[0].sentence, " Food in it: batches 3, 12. To"));
    view->food_count = 1;
    view->food_more = true;
    snapshot_tell(snapshot);
    assert_non_null(strstr(snapshot->deviations[0].sentence, " batch 3 and more. To"));
    snapshot_release(snapshot);
}

/* 5.0 °C with "limit at most 5.0 °C" would contradict itself. */
static void
test_deviation_of_a_strict_limit_says_so(void **state)
{
    struct fixture *f = *state;
    f->kitchen.places[0].limit.strict = true;
    struct snapshot *snapshot = sample_snapshot_with_deviation(&f->kitchen);
    assert_non_null(strstr(snapshot->deviations[0].sentence, "8.2 °C, limit below 5.0 °C, "));
    snapshot_release(snapshot);
    snapshot = sample_snapshot(&f->kitchen);
    struct snapshot_deviation deviation = {
        .view = {.number = 9,
                 .ended_ms = TIME_NONE,
                 .opened = {.kind = DECISION_DEVIATION_OPENED,
                            .reason = REASON_LEFT_EARLY,
                            .at_ms = SAMPLE_NOW_MS,
                            .since_ms = TIME_NONE,
                            .batch = snapshot->batches[0].view.number,
                            .limit = LIMIT_COOK,
                            .required = f->kitchen.products[0].steps[0].limit.temp,
                            .temp_mC = 63000}}};
    strcpy(deviation.view.opened.step, f->kitchen.products[0].steps[0].id);
    f->kitchen.products[0].steps[0].limit.strict = true;
    tell_deviation(snapshot, &deviation);
    assert_non_null(strstr(deviation.sentence, "63.0 °C, limit above 63.0 °C, "));
    snapshot_release(snapshot);
}

static void
test_summer_time_is_the_sites(void **state)
{
    struct fixture *f = *state;
    int64_t later_ms = INT64_C(150) * 86400000; /* the end of July */
    f->snapshot->at_ms += later_ms;
    f->filling->view.clock_start_ms += later_ms;
    sample_reading(f->snapshot, SAMPLE_FILLING_CORE, f->snapshot->at_ms, 34187);
    check(f, f->filling->sentence,
          "Cooling, first stage: 34.2 °C, must be at 21.0 °C by 15:32 (in 48 min as of the "
          "last reading).");
}

static void
test_long_names_end_in_an_ellipsis(void **state)
{
    struct fixture *f = *state;
    static char name[481];
    for (size_t i = 0; i + 4 <= 480; i += 4)
        memcpy(name + i, "\xf0\x9f\xa5\xa7", 4);
    f->kitchen.places[0].name = name;
    struct snapshot *snapshot = sample_snapshot_with_deviation(&f->kitchen);
    const char *sentence = snapshot->deviations[0].sentence;
    assert_true(strlen(sentence) < SENTENCE_MAX);
    assert_string_equal(sentence + strlen(sentence) - 3, "…");
    assert_true(text_is_clean(sentence, SENTENCE_MAX, false));
    snapshot_release(snapshot);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_food_not_to_be_served_says_so, set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            test_door_is_said_beside_its_place_and_raises_a_concern_when_left_open, set_up,
            tear_down),
        cmocka_unit_test_setup_teardown(test_button_is_said_for_an_hour_after_its_mark, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_cook_below_limit_says_need, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cook_just_below_limit_is_not_rounded_to_it, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_cook_holding_says_time_held, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_dated_food_says_until_when, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cook_says_how_its_oven_is, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cook_with_deadline_says_when, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_forecast_of_a_roast, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_forecast_that_cannot_be_made_says_why, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_forecast_of_a_late_cooling_names_what_helps,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cook_met_names_next_step, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cook_fahrenheit_limit_is_kept_as_printed, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_cook_stale_probe_is_said_outright, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_last_reading_of_several_is_the_one_that_counts,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cook_suspect_probe_sends_somebody, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_step_just_begun_waits_for_its_first_reading,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_stale_boundary_is_largest_spacing_and_a_commit,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_rest_without_limit_names_next, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_batch_without_probe_says_what_a_person_can_do,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_hold_once_outside_says_so, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_time_control_says_until_when, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cook_that_stands_says_until_when, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_hold_outside_counts_and_tells_tolerance, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_hold_back_inside_still_counts, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cooling_stages_in_turn, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cooling_inconclusive_waits_for_a_person, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_place_inside_outside_and_deviating, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_place_without_probe_or_reading, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_deviation_until_verified, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_what_is_overdue_is_said, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_food_in_a_place_is_named, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_deviation_of_a_strict_limit_says_so, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_summer_time_is_the_sites, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_long_names_end_in_an_ellipsis, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
