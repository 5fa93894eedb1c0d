/* The oven's own temperature beside a roast's table: docs/engine.md E218 to E225. The six rows
 * are copied from FDA Food Code 2022, 3-401.11(B)(2): still dry 177 °C (350 °F) under 4.5 kg
 * (10 lb) and 121 °C (250 °F) from 4.5 kg; convection 163 °C (325 °F) and 121 °C; high humidity
 * 121 °C "or less" for both. "Preheated to the temperature specified ... and held at that
 * temperature" has no figure for a door or a thermostat: oven_recovery is the plan's. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

/* Rows 60.0 °C for 12 min and 70.0 °C at once are of 3-401.11(B)(1). Place fridge is the oven.
 */
#define ROAST(how)                                                                             \
    "{kind: cook_table, applies_to: food, rows: [{at_least: 60.0 °C, for: 12 min}, "          \
    "{at_least: 70.0 °C, for: 0 s}], oven_rows: ["                                            \
    "{oven: still_dry, under_g: 4500, at_least: 177 °C}, "                                    \
    "{oven: still_dry, from_g: 4500, at_least: 121 °C}, "                                     \
    "{oven: convection, under_g: 4500, at_least: 163 °C}, "                                   \
    "{oven: convection, from_g: 4500, at_least: 121 °C}, "                                    \
    "{oven: high_humidity, under_g: 4500, at_most: 121 °C}, "                                 \
    "{oven: high_humidity, from_g: 4500, at_most: 121 °C}]" how "}, place: fridge"

static void
oven_story(const char *limit, const char *script, const char *log)
{
    struct rig *rig = rig_new(limit, "{kind: none}");
    rig_play(rig, script);
    rig_expect(rig, log);
    rig_free(rig);
}

/* One roast in an oven that shows one temperature throughout; the core is hot at 0:04:30. */
static void
row_story(const char *oven, int roast_g, const char *temp, const char *log)
{
    char limit[1200], script[300];
    (void)snprintf(limit, sizeof limit, ROAST(", oven: %s, roast_g: %d"), oven, roast_g);
    (void)snprintf(script, sizeof script,
                   "0:00:00-0:00:20 a1 %s\n0:00:20 begin dish p1\n0:00:30-0:04:30 a1 %s\n"
                   "0:04:30 p1 70.0\n",
                   temp, temp);
    oven_story(limit, script, log);
}

static void
test_oven_all_six_rows(void **state)
{
    (void)state;
    static const struct {
        const char *id, *oven; /* id of the reference row */
        int roast_g;
        bool upper;
        const char *inside, *at, *outside;
    } rows[] = {
        {"OVEN-STILL-LT", "still_dry", 4499, false, "177.001", "177.0", "176.999"},
        {"OVEN-STILL-GE", "still_dry", 4500, false, "121.001", "121.0", "120.999"},
        {"OVEN-CONVECTION-LT", "convection", 4499, false, "163.001", "163.0", "162.999"},
        {"OVEN-CONVECTION-GE", "convection", 4500, false, "121.001", "121.0", "120.999"},
        {"OVEN-HIGH-LT", "high_humidity", 4499, true, "120.999", "121.0", "121.001"},
        {"OVEN-HIGH-GE", "high_humidity", 4500, true, "120.999", "121.0", "121.001"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char log[300];
        const char *met = "0:04:30 limit-met reached p1 70.0 since 0:04:30\n"
                          "0:04:30 limit-met held p4 %s since 0:00:20 found 0:04:10\n";
        (void)snprintf(log, sizeof log, met, rows[i].inside);
        row_story(rows[i].oven, rows[i].roast_g, rows[i].inside, log);
        (void)snprintf(log, sizeof log, met, rows[i].at);
        row_story(rows[i].oven, rows[i].roast_g, rows[i].at, log);
        (void)snprintf(log, sizeof log,
                       "0:00:20 deviation-opened %s #1 p4 %s since 0:00:20\n"
                       "0:04:30 limit-met reached p1 70.0 since 0:04:30\n"
                       "0:04:30 deviation-ended batch-ended #1 p4 %s worst %s since 0:00:20 "
                       "found 0:04:10\n",
                       rows[i].upper ? "out-too-long" : "not-preheated", rows[i].outside,
                       rows[i].outside, rows[i].outside);
        row_story(rows[i].oven, rows[i].roast_g, rows[i].outside, log);
    }
}

/* Of a roast whose mass nobody says the row that satisfies both is asked. */
static void
test_oven_unknown_mass_takes_the_stricter_row(void **state)
{
    (void)state;
    struct rig *rig = rig_new(ROAST(", oven: convection"), "{kind: none}");
    rig_play(rig, "0:00:00 a1 162.0\n0:00:00 begin dish p1\n");
    assert_int_equal(rig_batch(rig).oven->temp.milli, 163000);
    rig_free(rig);
}

/* What a batch says of its mass goes before what the plan says. */
static void
test_oven_mass_of_the_batch(void **state)
{
    (void)state;
    struct rig *rig = rig_new(ROAST(", oven: still_dry, roast_g: 2000"), "{kind: none}");
    struct entry entry;
    entry_clear(&entry, ENTRY_BEGIN);
    memcpy(entry.who, "AB", 3);
    memcpy(entry.product, "dish", 5);
    entry.mass_g = 4500;
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time("0:00:00"), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
    assert_int_equal(rig_batch(rig).oven->temp.milli, 121000);
    rig_free(rig);
}

#define FAN    ROAST(", oven: convection, roast_g: 3000")
#define FAN_5M ROAST(", oven: convection, roast_g: 3000, oven_recovery: 5 min")

/* Hot before the door was opened: time outside counts from when it was last seen hot. */
static void
test_oven_hot_before_the_door_was_opened(void **state)
{
    (void)state;
    oven_story(FAN_5M,
               "0:00:00-0:10:00 a1 170.0\n0:10:10-0:11:00 a1 150.0\n0:11:00 begin dish p1\n"
               "0:11:10-0:14:50 a1 155.0\n0:15:00 p1 50.0\n0:15:00 a1 163.0\n0:15:10-0:20:00 "
               "a1 165.0\n"
               "0:20:00 p1 70.0\n",
               "0:20:00 limit-met reached p1 70.0 since 0:20:00\n"
               "0:20:00 limit-met held p4 150.0 since 0:11:00 found 0:09:00\n");
    oven_story(
        FAN_5M,
        "0:00:00-0:10:00 a1 170.0\n0:10:10-0:11:00 a1 150.0\n0:11:00 begin dish p1\n"
        "0:11:10-0:15:00 a1 155.0\n0:15:00.001 wait\n",
        "0:15:00 deviation-opened out-too-long #1 p4 155.0 since 0:10:00 found 0:05:00\n");
    /* Not seen hot within that time: it was not preheated. */
    oven_story(FAN_5M,
               "0:00:00-0:10:00 a1 170.0\n0:10:10-0:15:00 a1 150.0\n0:15:00 begin dish p1\n",
               "0:15:00 deviation-opened not-preheated #1 p4 150.0 since 0:15:00\n");
    oven_story(FAN_5M,
               "0:00:00-0:10:00 a1 170.0\n0:10:10-0:14:50 a1 150.0\n0:14:59.999 begin dish p1\n"
               "0:15:00 a1 163.0\n",
               "");
}

static void
test_oven_that_gets_hot_with_the_food_in_it(void **state)
{
    (void)state;
    oven_story(FAN_5M,
               "0:00:00 a1 20.0\n0:00:00 begin dish p1\n0:00:10-0:04:00 a1 20.0 162.0\n"
               "0:04:10-0:05:00 a1 163.0\n0:05:00 p1 70.0\n",
               "0:00:00 deviation-opened not-preheated #1 p4 20.0 since 0:00:00\n"
               "0:04:10 deviation-ended back-inside #1 p4 163.0 worst 20.0 since 0:00:00 found "
               "0:04:10\n"
               "0:05:00 limit-met reached p1 70.0 since 0:05:00\n");
}

/* Below it at a stretch: exactly the time is too long when it is still outside then. */
static void
test_oven_door_opened_meanwhile(void **state)
{
    (void)state;
    oven_story(FAN_5M,
               "0:00:00-0:10:00 a1 170.0\n0:10:00 begin dish p1\n0:10:10 a1 162.999\n"
               "0:10:20-0:14:00 a1 160.0\n0:14:00 p1 50.0\n0:14:10-0:15:00 a1 160.0\n0:15:10 "
               "a1 163.0\n0:15:20 a1 160.0\n0:15:30-0:16:00 "
               "a1 170.0\n0:16:00 p1 70.0\n",
               "0:16:00 limit-met reached p1 70.0 since 0:16:00\n"
               "0:16:00 limit-met held p4 160.0 since 0:10:00 found 0:06:00\n");
    oven_story(
        FAN_5M,
        "0:00:00-0:10:00 a1 170.0\n0:10:00 begin dish p1\n0:10:10 a1 162.999\n"
        "0:10:20-0:14:00 a1 160.0\n0:14:00 p1 50.0\n0:14:10-0:15:10 a1 160.0\n0:15:20 a1 "
        "163.0\n0:16:00 end discarded\n",
        "0:15:10 deviation-opened out-too-long #1 p4 160.0 since 0:10:10 found 0:05:00\n"
        "0:15:20 deviation-ended back-inside #1 p4 163.0 worst 160.0 since 0:10:10 found "
        "0:05:10\n");
    oven_story(FAN, "0:00:00 a1 163.0\n0:00:00 begin dish p1\n0:00:10 a1 162.999\n",
               "0:00:10 deviation-opened out-too-long #1 p4 162.999 since 0:00:10\n");
}

static void
test_oven_nothing_is_asked_of_it_once_the_food_is_done(void **state)
{
    (void)state;
    oven_story(FAN,
               "0:00:00-0:00:10 a1 163.0\n0:00:10 begin dish p1\n0:00:20 a1 163.0\n0:00:20 p1 "
               "70.0\n0:00:30 a1 20.0\n0:00:40 a1 20.0\n0:00:50 move\n",
               "0:00:20 limit-met reached p1 70.0 since 0:00:20\n"
               "0:00:20 limit-met held p4 163.0 since 0:00:10 found 0:00:10\n");
    /* The table may be met after the oven, by the rise that follows. */
    oven_story(FAN,
               "0:00:00-0:00:10 a1 163.0\n0:00:10 begin dish p1\n0:00:20 a1 163.0\n0:00:30 "
               "cooked 0:00:30\n0:00:40-0:01:00 a1 20.0\n0:01:00 p1 70.0\n",
               "0:00:30 limit-met held p4 163.0 since 0:00:10 found 0:00:20\n"
               "0:01:00 limit-met reached p1 70.0 since 0:01:00\n");
}

static void
test_oven_that_was_left_before_is_said_only_once(void **state)
{
    (void)state;
    struct rig *rig = rig_new(FAN, "{kind: none}");
    rig_play(rig, "0:00:00 a1 163.0\n0:00:00 begin dish p1\n0:00:10 cooked 0:00:10\n");
    rig->refusal[0] = '\0';
    rig_play(rig, "0:00:20 cooked 0:00:20\n");
    assert_non_null(strstr(rig->refusal, "which is no cooling"));
    rig_free(rig);
}

/* E222: what nobody saw for longer than it may be outside is a question at the end. */
static void
test_oven_unseen_is_a_question(void **state)
{
    (void)state;
    oven_story(FAN,
               "0:00:00-0:01:00 a1 170.0\n0:01:00 begin dish p1\n0:01:30 a1 170.0\n0:01:30 p1 "
               "70.0\n",
               "0:01:30 limit-met reached p1 70.0 since 0:01:30\n"
               "0:01:30 limit-met held p4 170.0 since 0:01:00 found 0:00:30\n");
    const char *asked = "0:01:31 limit-met reached p1 70.0 since 0:01:31\n"
                        "0:01:31 inconclusive not-measured p4 170.0 since 0:01:00\n";
    oven_story(FAN,
               "0:00:00-0:01:00 a1 170.0\n0:01:00 begin dish p1\n0:01:30.001 a1 170.0\n0:01:31 "
               "p1 70.0\n",
               asked);
    oven_story(FAN, "0:00:00-0:01:00 a1 170.0\n0:01:00 begin dish p1\n0:01:31 p1 70.0\n",
               asked);
    /* Not seen as the food went in. */
    oven_story(FAN,
               "0:00:00 a1 170.0\n0:00:30.001 begin dish p1\n0:00:40-0:01:31 a1 170.0\n0:01:31 "
               "p1 70.0\n",
               "0:01:31 limit-met reached p1 70.0 since 0:01:31\n"
               "0:01:31 inconclusive not-measured p4 170.0 since 0:00:30.001\n");
    /* At the very instant it is. */
    oven_story(FAN, "0:00:40 begin dish p1\n0:00:40-0:01:30 a1 170.0\n0:01:31 p1 70.0\n",
               "0:01:31 limit-met reached p1 70.0 since 0:01:31\n"
               "0:01:31 limit-met held p4 170.0 since 0:00:40 found 0:00:51\n");
}

static void
test_oven_no_probe_asks_a_person(void **state)
{
    (void)state;
    const char *script =
        "0:00:00 begin dish p1\n0:04:00 p1 70.0\n0:04:10 move\n0:04:20 decide ";
    char told[200];
    struct rig *rig = rig_new(FAN, NULL); /* nothing watches the place */
    (void)snprintf(told, sizeof told, "%syes\n", script);
    rig_play(rig, told);
    rig_expect(rig, "0:04:00 limit-met reached p1 70.0 since 0:04:00\n"
                    "0:04:00 inconclusive not-measured since 0:00:00\n"
                    "0:04:20 resolved entered yes since 0:00:00\n");
    rig_free(rig);
    rig = rig_new(FAN, NULL);
    (void)snprintf(told, sizeof told, "%sno\n", script);
    rig_play(rig, told);
    rig_expect(rig, "0:04:00 limit-met reached p1 70.0 since 0:04:00\n"
                    "0:04:00 inconclusive not-measured since 0:00:00\n"
                    "0:04:20 resolved entered no since 0:00:00\n"
                    "0:04:20 deviation-opened not-measured #1 since 0:00:00\n"
                    "0:04:20 deviation-ended batch-ended #1 since 0:00:00\n");
    rig_free(rig);
}

static void
test_oven_answer_in_the_same_step(void **state)
{
    (void)state;
    struct rig *rig = rig_new(FAN, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:04:00 p1 70.0\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_INCONCLUSIVE);
    rig_play(rig, "0:04:20 decide yes\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    rig_free(rig);
    rig = rig_new(FAN, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:04:00 p1 70.0\n0:04:20 decide no\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    assert_int_equal(rig_batch(rig).oven_deviation, 0);
    rig_free(rig);
}

/* A single absurd value is no reading of the oven (E133), nor is food in it that is thrown
 * away. */
static void
test_oven_jump_and_discarded_food(void **state)
{
    (void)state;
    oven_story(FAN,
               "0:00:00-0:00:30 a1 170.0\n0:00:30 begin dish p1\n0:00:40 a1 20.0\n0:00:50 a1 "
               "170.0\n0:01:00 a1 170.0\n0:01:10 end discarded\n",
               "");
}

static void
test_oven_restart(void **state)
{
    (void)state;
    oven_story(FAN,
               "0:00:00-0:00:30 a1 170.0\n0:00:30 begin dish p1\n0:00:40 a1 170.0\n0:04:00 "
               "restart 0:00:40\n0:04:10-0:05:00 a1 170.0\n0:05:00 p1 70.0\n",
               "0:05:00 limit-met reached p1 70.0 since 0:05:00\n"
               "0:05:00 inconclusive not-measured p4 170.0 since 0:00:30\n");
}

/* Saved at any moment and loaded it judges on alike. */
static void
test_oven_state_is_saved(void **state)
{
    (void)state;
    struct rig *rig = rig_new(FAN_5M, "{kind: none}");
    rig_play(rig, "0:00:00-0:10:00 a1 170.0\n0:10:10-0:11:00 a1 150.0\n");
    rig_reload(rig);
    rig_play(rig, "0:11:00 begin dish p1\n0:11:10-0:14:00 a1 155.0\n");
    rig_reload(rig);
    rig_play(rig, "0:15:10 a1 155.0\n");
    rig_expect(rig, "0:15:00 deviation-opened out-too-long #1 p4 155.0 since 0:10:00 found "
                    "0:05:00\n");
    rig_free(rig);
}

/* What an oven was blamed for is shown while its step runs, and says nothing of the next. */
static void
test_oven_deviation_is_the_steps_own(void **state)
{
    (void)state;
    struct rig *rig = rig_new(FAN, "{kind: none}");
    rig_play(rig, "0:00:00 a1 150.0\n0:00:00 begin dish p1\n");
    assert_int_equal(rig_batch(rig).deviation, 1);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_play(rig, "0:01:00 move after\n");
    assert_null(rig_batch(rig).oven);
    assert_int_equal(rig_batch(rig).deviation, 0);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    rig_free(rig);
}

/* Nobody reads anything any more: the time outside is over all the same, unless the food is
 * done.
 */
static void
test_oven_outside_when_last_read_is_told_when_its_time_is_up(void **state)
{
    (void)state;
    static const char outside[] = "0:00:00-0:10:00 a1 170.0\n0:10:00 begin dish%s\n"
                                  "0:10:10-0:10:20 a1 160.0\n%s\n";
    char script[300];
    (void)snprintf(script, sizeof script, outside, "", "0:15:09.999 wait");
    oven_story(FAN_5M, script, "");
    (void)snprintf(script, sizeof script, outside, "", "0:15:10 wait");
    oven_story(
        FAN_5M, script,
        "0:15:10 deviation-opened out-too-long #1 p4 160.0 since 0:10:10 found 0:05:00\n");
    (void)snprintf(script, sizeof script, outside, " p1", "0:12:00 p1 70.0\n0:15:10 wait");
    oven_story(FAN_5M, script,
               "0:12:00 limit-met reached p1 70.0 since 0:12:00\n"
               "0:12:00 limit-met held p4 160.0 since 0:10:00 found 0:02:00\n");
}

/* Three readings of 10 s long its temperature is shown, and none where none is read. */
static void
test_oven_temperature_is_shown_while_it_is_read(void **state)
{
    (void)state;
    struct rig *rig = rig_new(FAN_5M, "{kind: none}");
    rig_play(rig, "0:00:00 a1 170.0\n0:00:00 begin dish p1\n0:00:30 p1 20.0\n");
    assert_true(rig_batch(rig).oven_watched);
    assert_int_equal(rig_batch(rig).oven_mC, 170000);
    assert_int_equal(rig_batch(rig).oven_outside_ms, 0);
    rig_play(rig, "0:00:30.001 p1 20.0\n");
    assert_true(rig_batch(rig).oven_watched);
    assert_int_equal(rig_batch(rig).oven_mC, TEMP_NONE);
    rig_play(rig, "0:00:40 a1 160.0\n0:00:55 p1 20.0\n");
    assert_int_equal(rig_batch(rig).oven_mC, 160000);
    assert_int_equal(rig_batch(rig).oven_outside_ms, 15000);
    rig_free(rig);
    rig = rig_new(FAN_5M, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 20.0\n");
    assert_false(rig_batch(rig).oven_watched);
    assert_int_equal(rig_batch(rig).oven_mC, TEMP_NONE);
    rig_free(rig);
}

/* ---- an oven that is not the only place, and not the only thing that is judged ---- */

#define TWO_PLACES                                                                             \
    "  - {id: hearth, name: Hearth, probe: p3, limit: {kind: none}}\n"                         \
    "  - {id: cellar, name: Cellar, limit: {kind: none}}\n"
#define LAST_PLACE "  - {id: hearth, name: Hearth, probe: p3, limit: {kind: none}}\n"

/* The oven is found wherever it is in the plan, and by its own probe. */
static void
test_oven_is_any_place_of_the_plan(void **state)
{
    (void)state;
    static const char *const places[] = {TWO_PLACES, LAST_PLACE};
    char limit[1200];
    (void)snprintf(limit, sizeof limit, "%s", FAN);
    char *place = strstr(limit, "place: fridge");
    assert_non_null(place);
    (void)strcpy(place, "place: hearth");
    for (size_t i = 0; i < COUNT_OF(places); i++) {
        rig_place_more = places[i];
        struct rig *rig = rig_new(limit, "{kind: none}"); /* a1 is in a cold room */
        rig_place_more = NULL;
        rig_play(rig, "0:00:00 a1 20.0\n0:00:00 p3 170.0\n0:00:05 begin dish p1\n"
                      "0:00:10 p3 170.0\n0:00:10 a1 20.0\n0:00:20 p1 70.0\n");
        rig_expect(rig, "0:00:20 limit-met reached p1 70.0 since 0:00:20\n"
                        "0:00:20 limit-met held p3 170.0 since 0:00:05 found 0:00:15\n");
        rig_free(rig);
    }
}

/* Of two roasts in one oven each has its own condition. */
static void
test_oven_of_two_batches(void **state)
{
    (void)state;
    oven_story(FAN,
               "0:00:00 a1 170.0\n0:00:00 begin dish p1\n0:00:01 begin dish p2\n0:00:10 a1 "
               "162.0\n",
               "0:00:10 deviation-opened out-too-long #1 p4 162.0 since 0:00:10\n"
               "0:00:10 deviation-opened out-too-long #2 batch 2 p4 162.0 since 0:00:10\n");
}

/* Food that is taken out before it is done: how the oven was is told as the step is left. */
static void
test_oven_is_judged_as_the_batch_moves_on_or_ends(void **state)
{
    (void)state;
    static const char *const ways[] = {"0:00:30 move\n", "0:00:30 end stored\n"};
    for (size_t i = 0; i < 2; i++) {
        struct rig *rig = rig_new(FAN, "{kind: none}");
        rig_play(rig, "0:00:00 a1 170.0\n0:00:05 begin dish p1\n0:00:10-0:00:20 a1 170.0\n");
        rig_play(rig, ways[i]);
        rig->log[rig->log_len] = '\0';
        assert_non_null(strstr(rig->log, "0:00:30 limit-met held p4 170.0"));
        rig_free(rig);
    }
}

/* While the oven is read and the core is not, the food keeps its deadline. */
static void
test_oven_readings_leave_the_food_its_deadline(void **state)
{
    (void)state;
    oven_story(
        "{kind: cook, applies_to: food, at_least: 70 °C, within: 4 min, oven_rows: "
        "[{oven: convection, from_g: 4500, at_least: 163 °C}], oven: convection, roast_g: "
        "5000}, place: fridge",
        "0:00:00 a1 170.0\n0:00:00 begin dish p1\n0:00:10-0:05:00 a1 170.0\n",
        "0:04:00 deviation-opened too-late #1 since 0:00:00 found 0:04:00\n");
}

/* E222: an outage in which it may have been outside for longer than it may. */
static void
test_oven_over_an_outage_of_exactly_what_it_may_be_outside(void **state)
{
    (void)state;
    oven_story(FAN_5M,
               "0:00:00 a1 170.0\n0:00:00 begin dish p1\n0:00:10 a1 170.0\n0:01:00 restart "
               "0:00:10\n0:01:10 a1 170.0\n0:01:20 p1 70.0\n",
               "0:01:20 limit-met reached p1 70.0 since 0:01:20\n"
               "0:01:20 limit-met held p4 170.0 since 0:00:00 found 0:01:20\n");
    /* Outside as it began: it counts anew from the start. */
    oven_story(FAN_5M,
               "0:00:00 a1 170.0\n0:00:00 begin dish p1\n0:00:10 a1 160.0\n0:02:00 restart "
               "0:00:10\n0:02:10-0:07:10 a1 160.0\n",
               "0:05:00 gap-opened no-good-reading #1 p1 since 0:00:00 found 0:05:00\n"
               "0:07:00 deviation-opened out-too-long #2 p4 160.0 since 0:02:00 found "
               "0:05:00\n");
}

/* E220, in whichever minute of the quarter of an hour it was last hot. */
static void
test_oven_hot_before_the_door_was_opened_in_any_minute(void **state)
{
    (void)state;
    for (int minute = 0; minute < 16; minute++) {
        struct rig *rig = rig_new(FAN_5M, "{kind: none}");
        char script[200];
        (void)snprintf(script, sizeof script,
                       "0:%02d:00 a1 170.0\n0:%02d:10 a1 160.0\n0:%02d:20 begin dish p1\n"
                       "0:%02d:30 a1 160.0\n0:%02d:10 wait\n",
                       minute, minute, minute, minute, minute + 5);
        rig_play(rig, script);
        rig->log[rig->log_len] = '\0';
        assert_null(strstr(rig->log, "not-preheated"));
        assert_non_null(strstr(rig->log, "deviation-opened out-too-long"));
        rig_free(rig);
    }
}

static void
test_oven_verdict_is_shown(void **state)
{
    (void)state;
    struct rig *rig = rig_new(FAN, "{kind: none}");
    rig_play(rig, "0:00:00 a1 170.0\n0:00:00 begin dish p1\n0:00:10 a1 170.0\n");
    assert_int_equal(rig_batch(rig).oven_verdict, VERDICT_OPEN);
    rig_play(rig, "0:00:20 p1 70.0\n");
    assert_int_equal(rig_batch(rig).oven_verdict, VERDICT_MET);
    assert_true(rig_batch(rig).oven_over);
    rig_free(rig);
    rig = rig_new(FAN, "{kind: none}"); /* never hot */
    rig_play(rig, "0:00:00 a1 100.0\n0:00:00 begin dish p1\n0:10:00 a1 100.0\n");
    assert_int_equal(rig_batch(rig).oven_verdict, VERDICT_NOT_MET);
    assert_int_equal(rig_batch(rig).oven_deviation, 1);
    rig_free(rig);
    rig = rig_new(FAN, "{kind: none}"); /* in order, but the core was not what it seemed */
    rig_play(rig, "0:00:00 a1 170.0\n0:00:00 begin dish p1\n0:00:10 a1 170.0\n"
                  "0:00:20 hand 71.0\n0:00:30 correct 4 60.0\n");
    assert_int_equal(rig_batch(rig).oven_verdict, VERDICT_MET);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_INCONCLUSIVE);
    rig_free(rig);
    rig = rig_new(FAN, NULL); /* nobody measures it, and a person has seen it */
    rig_play(rig, "0:00:00 begin dish p1\n0:04:00 p1 70.0\n0:04:20 decide yes\n");
    assert_int_equal(rig_batch(rig).oven_verdict, VERDICT_MET);
    rig_free(rig);
}

/* E220: how warm it was is a fact, whatever plan comes into force meanwhile. */
static void
test_oven_hot_before_a_new_plan(void **state)
{
    (void)state;
    struct rig *rig = rig_new(FAN_5M, "{kind: none}");
    rig->next_plan = rig_plan(FAN_5M, "{kind: none}", NULL);
    rig_play(rig, "0:00:00 a1 170.0\n0:01:00 a1 160.0\n0:01:05 plan\n0:01:20 begin dish "
                  "p1\n0:01:30 a1 160.0\n");
    rig_expect(rig, "");
    rig_free(rig);
}

/* What has stood for its time is done, and nothing is asked of the oven any more. */
static void
test_oven_of_what_stands_is_over_when_it_has_stood(void **state)
{
    (void)state;
    oven_story(
        "{kind: cook, applies_to: food, at_least: 63 °C, stand: 2 min, oven_rows: "
        "[{oven: convection, from_g: 4500, at_least: 163 °C}], oven: convection, roast_g: "
        "5000}, place: fridge",
        "0:00:00 a1 170.0\n0:00:00 begin dish p1\n0:00:10 p1 63.0\n0:00:10-0:02:00 a1 "
        "170.0\n0:02:11 wait\n",
        "0:02:10 limit-met stood p1 63.0 since 0:00:10\n"
        "0:02:10 limit-met held p4 170.0 since 0:00:00 found 0:02:10\n");
}

/* Seen as the food went in, and taken out before it was read again. */
static void
test_oven_seen_only_as_the_food_went_in(void **state)
{
    (void)state;
    oven_story(FAN, "0:00:40 begin dish p1\n0:00:40 a1 170.0\n0:00:50 p1 70.0\n",
               "0:00:50 limit-met reached p1 70.0 since 0:00:50\n"
               "0:00:50 limit-met held p4 170.0 since 0:00:40 found 0:00:10\n");
}

/* Shown is the food's deviation where the oven has none. */
static void
test_oven_in_order_hides_no_deviation_of_the_food(void **state)
{
    (void)state;
    struct rig *rig = rig_new(
        "{kind: cook, applies_to: food, at_least: 70 °C, within: 4 min, oven_rows: "
        "[{oven: convection, from_g: 4500, at_least: 163 °C}], oven: convection, roast_g: "
        "5000}, place: fridge",
        "{kind: none}");
    rig_play(rig, "0:00:00 a1 170.0\n0:00:00 begin dish p1\n0:00:10-0:04:10 a1 170.0\n");
    assert_int_equal(rig_batch(rig).deviation, 1);
    assert_int_equal(rig_batch(rig).oven_deviation, 0);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

/* E222: unseen for exactly what it may be outside, at the end. */
static void
test_oven_unseen_for_exactly_its_time_at_the_end(void **state)
{
    (void)state;
    oven_story(FAN, "0:00:00-0:01:00 a1 170.0\n0:01:00 begin dish p1\n0:01:30 p1 70.0\n",
               "0:01:30 limit-met reached p1 70.0 since 0:01:30\n"
               "0:01:30 limit-met held p4 170.0 since 0:01:00 found 0:00:30\n");
}

/* What another probe measured there is no fact of the one that watches it now. */
static void
test_oven_hot_by_another_probe_before_a_new_plan(void **state)
{
    (void)state;
    static const char places[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")
        PLAN_PROBE("old", "air", "rack", "1", "10 s") PLAN_PROBE(
            "new", "air", "rack", "2",
            "10 s") "places:\n  - {id: fridge, name: Oven, limit: {kind: none}, probe: %s}\n"
                    "products:\n  - id: dish\n    name: Dish\n    steps: [{id: first, name: "
                    "First, limit: " FAN_5M "}]\n";
    for (int changed = 0; changed <= 1; changed++) {
        char text[2][4000];
        (void)snprintf(text[0], sizeof text[0], places, "old");
        (void)snprintf(text[1], sizeof text[1], places, changed ? "new" : "old");
        struct rig *rig = rig_of(text[0]);
        rig->next_plan = rig_plan_of(text[1]);
        rig_play(rig, "0:00:00 old 170.0\n0:01:00 old,new 160.0\n0:01:05 plan\n0:01:10 old,new "
                      "160.0\n0:01:20 begin dish "
                      "p1\n0:01:30-0:06:10 old,new 160.0\n");
        rig_expect(rig, changed ? "0:01:20 deviation-opened not-preheated #1 p3 160.0 since "
                                  "0:01:20\n"
                                : "0:05:00 deviation-opened out-too-long #1 p2 160.0 since "
                                  "0:00:00 found 0:05:00\n");
        rig_free(rig);
    }
}

/* E73: the question about an oven for which there is no room is a deviation that is over. */
static void
test_oven_question_beyond_the_list_is_a_deviation(void **state)
{
    (void)state;
    struct rig *rig = rig_new(FAN, NULL); /* nothing watches the place */
    char script[160], log[400];
    for (int i = 1; i <= ENGINE_UNDECIDED_MAX + 1; i++) {
        (void)snprintf(script, sizeof script,
                       "%d:%02d:00 begin dish p1\n%d:%02d:10 p1 70.0\n%d:%02d:20 end batch=%d "
                       "served\n",
                       i / 60, i % 60, i / 60, i % 60, i / 60, i % 60, i);
        rig->log_len = 0;
        rig_play(rig, script);
    }
    (void)snprintf(log, sizeof log,
                   "2:09:10 limit-met reached batch %d p1 70.0 since 2:09:10\n"
                   "2:09:10 deviation-opened not-measured #1 batch %d since 2:09:00\n"
                   "2:09:10 deviation-ended batch-ended #1 batch %d\n",
                   ENGINE_UNDECIDED_MAX + 1, ENGINE_UNDECIDED_MAX + 1,
                   ENGINE_UNDECIDED_MAX + 1);
    rig_expect(rig, log);
    rig_free(rig);
}

/* E222, E223: it was not seen for too long, and was outside for less than it may be. Once it is
 * over no time outside counts, also not over an outage: that is not what a person decided. */
static void
test_oven_not_accepted_says_no_time_outside(void **state)
{
    (void)state;
    oven_story(
        FAN_5M,
        "0:00:00-0:00:30 a1 170.0\n0:00:30 begin dish p1\n0:00:40 a1 170.0\n0:05:41 a1 "
        "170.0\n0:05:50-0:06:00 a1 160.0\n0:06:05 p1 70.0\n0:07:00 restart "
        "0:06:10\n0:10:00 decide no\n",
        "0:05:30 gap-opened no-good-reading #1 p1 since 0:00:30 found 0:05:00\n"
        "0:05:40 gap-opened no-good-reading #2 of #1 silent fridge p4 since 0:00:40 found "
        "0:05:00\n"
        "0:05:41 gap-ended good-again #2 of #1 silent fridge p4 170.0 since 0:00:40 found "
        "0:05:01\n"
        "0:06:05 gap-ended good-again #1 p1 70.0 since 0:00:30 found 0:05:35\n"
        "0:06:05 limit-met reached p1 70.0 since 0:06:05\n"
        "0:06:05 inconclusive not-measured p4 160.0 since 0:00:30\n"
        "0:10:00 resolved entered no p4 160.0 since 0:00:30\n"
        "0:10:00 deviation-opened not-measured #3 p4 160.0 since 0:00:30\n"
        "0:10:00 deviation-ended batch-ended #3 p4 160.0 worst 160.0\n");
}

/* E223: the food is done as a person finds it done, and the oven may be opened. */
static void
test_oven_is_over_when_a_hand_reading_shows_the_food_done(void **state)
{
    (void)state;
    oven_story(FAN,
               "0:00:00-0:00:10 a1 163.0\n0:00:10 begin dish\n0:00:20 a1 163.0\n"
               "0:00:25 hand 70.0\n0:00:30-0:04:00 a1 20.0\n",
               "0:00:25 limit-met hand-reading 70.0 since 0:00:25\n"
               "0:00:25 limit-met held p4 163.0 since 0:00:10 found 0:00:15\n");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_oven_all_six_rows),
        cmocka_unit_test(test_oven_unknown_mass_takes_the_stricter_row),
        cmocka_unit_test(test_oven_mass_of_the_batch),
        cmocka_unit_test(test_oven_hot_before_the_door_was_opened),
        cmocka_unit_test(test_oven_that_gets_hot_with_the_food_in_it),
        cmocka_unit_test(test_oven_door_opened_meanwhile),
        cmocka_unit_test(test_oven_nothing_is_asked_of_it_once_the_food_is_done),
        cmocka_unit_test(test_oven_that_was_left_before_is_said_only_once),
        cmocka_unit_test(test_oven_unseen_is_a_question),
        cmocka_unit_test(test_oven_no_probe_asks_a_person),
        cmocka_unit_test(test_oven_answer_in_the_same_step),
        cmocka_unit_test(test_oven_jump_and_discarded_food),
        cmocka_unit_test(test_oven_restart),
        cmocka_unit_test(test_oven_state_is_saved),
        cmocka_unit_test(test_oven_deviation_is_the_steps_own),
        cmocka_unit_test(test_oven_outside_when_last_read_is_told_when_its_time_is_up),
        cmocka_unit_test(test_oven_temperature_is_shown_while_it_is_read),
        cmocka_unit_test(test_oven_is_any_place_of_the_plan),
        cmocka_unit_test(test_oven_of_two_batches),
        cmocka_unit_test(test_oven_is_judged_as_the_batch_moves_on_or_ends),
        cmocka_unit_test(test_oven_readings_leave_the_food_its_deadline),
        cmocka_unit_test(test_oven_over_an_outage_of_exactly_what_it_may_be_outside),
        cmocka_unit_test(test_oven_hot_before_the_door_was_opened_in_any_minute),
        cmocka_unit_test(test_oven_verdict_is_shown),
        cmocka_unit_test(test_oven_hot_before_a_new_plan),
        cmocka_unit_test(test_oven_of_what_stands_is_over_when_it_has_stood),
        cmocka_unit_test(test_oven_seen_only_as_the_food_went_in),
        cmocka_unit_test(test_oven_in_order_hides_no_deviation_of_the_food),
        cmocka_unit_test(test_oven_unseen_for_exactly_its_time_at_the_end),
        cmocka_unit_test(test_oven_hot_by_another_probe_before_a_new_plan),
        cmocka_unit_test(test_oven_question_beyond_the_list_is_a_deviation),
        cmocka_unit_test(test_oven_not_accepted_says_no_time_outside),
        cmocka_unit_test(test_oven_is_over_when_a_hand_reading_shows_the_food_done),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
