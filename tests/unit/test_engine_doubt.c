/* Series that no working probe shows: docs/engine.md E130 to E134. Times and sizes are the
 * plan's defaults (24 h, 2 h, 60 °C/min, 20 °C); that a walk-in in tenths of a degree can stand
 * still for hours is common practice, no source. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

#define FRIDGE "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 20 min}"
#define COOK   "{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}"

static uint16_t
air_after(const char *script)
{
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, script);
    const uint16_t quality = rig->quality;
    rig_free(rig);
    return quality;
}

static uint16_t
food_after(const char *limit, const char *script)
{
    struct rig *rig = rig_new(limit, NULL);
    rig_play(rig, script);
    const uint16_t quality = rig->quality;
    rig_free(rig);
    return quality;
}

/* ---- stuck in air ---- */

static void
test_air_of_one_value_for_a_day_is_stuck_until_it_moves(void **state)
{
    (void)state;
    rig_place_story(FRIDGE,
                    "0:00:10 a1 3.1\n0:00:20-24:06:00 a1 3.0 3.0\n24:06:10 a1 3.1\n"
                    "24:06:20-30:00:00 a1 3.1 3.1\n",
                    "24:00:20 suspect-begun stuck fridge p4 3.0 since 0:00:20\n"
                    "24:05:10 gap-opened no-good-reading #1 fridge p4 since 24:00:10 found "
                    "0:05:00\n"
                    "24:06:10 suspect-ended good-again fridge p4 3.1 since 0:00:20\n"
                    "24:06:10 gap-ended good-again #1 fridge p4 3.1 since 24:00:10 found "
                    "0:06:00\n");
}

static void
test_air_is_stuck_after_exactly_the_time(void **state)
{
    (void)state;
    assert_int_equal(air_after("0:00:10 a1 3.1\n0:00:20-24:00:10 a1 3.0 3.0\n"), READING_GOOD);
    assert_int_equal(air_after("0:00:10 a1 3.1\n0:00:20-24:00:20 a1 3.0 3.0\n"), SUSPECT_STUCK);
}

/* Steps of more than 0.2 °C: such a device may show one value for days. */
static void
test_coarse_probe_may_stand_still(void **state)
{
    (void)state;
    assert_int_equal(air_after("0:00:10 a1 3.2\n0:00:20-25:00:00 a1 3.0 3.0\n"), SUSPECT_STUCK);
    assert_int_equal(air_after("0:00:10 a1 3.201\n0:00:20-50:00:00 a1 3.0 3.0\n"),
                     READING_GOOD);
}

/* Nobody knows its steps. */
static void
test_probe_that_never_moved_is_not_called_stuck(void **state)
{
    (void)state;
    assert_int_equal(air_after("0:00:10-50:00:00 a1 3.0 3.0\n"), READING_GOOD);
}

static void
test_one_step_in_between_or_a_silence_begins_anew(void **state)
{
    (void)state;
    assert_int_equal(air_after("0:00:10 a1 3.1\n0:00:20-20:00:00 a1 3.0 3.0\n20:00:10 a1 3.1\n"
                               "20:00:20-44:00:10 a1 3.0 3.0\n"),
                     READING_GOOD);
    /* Unread for longer than the silence that the plan allows: what it showed then is unknown.
     */
    assert_int_equal(air_after("0:00:10 a1 3.1\n0:00:20-20:00:00 a1 3.0 3.0\n"
                               "20:05:01-44:05:00 a1 3.0 3.0\n"),
                     READING_GOOD);
    assert_int_equal(air_after("0:00:10 a1 3.1\n0:00:20-20:00:00 a1 3.0 3.0\n"
                               "20:05:00-24:00:20 a1 3.0 3.0\n"),
                     SUSPECT_STUCK);
}

static void
test_stuck_survives_a_restart_from_saved_state(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    rig_play(rig, "0:00:10 a1 3.1\n0:00:20-24:00:10 a1 3.0 3.0\n");
    rig_reload(rig);
    rig_play(rig, "24:00:20 a1 3.0\n");
    assert_int_equal(rig->quality, SUSPECT_STUCK);
    rig_free(rig);
}

/* ---- stuck in food ---- */

/* p2 is in a piece that cooks, p1 shows 40.0 and nothing else. */
#define COOKING(p2)                                                                            \
    "0:00:00 begin dish p1 p2\n0:00:01 p2 " p2 "\n0:00:10 p1 39.9\n0:00:20 p1 40.0\n"

static char *
both_until(const char *start, const char *p2, int last_min)
{
    static char script[40000];
    size_t len = (size_t)snprintf(script, sizeof script, "%s", start);
    for (int min = 1; min <= last_min && len < sizeof script - 100; min++)
        len += (size_t)snprintf(script + len, sizeof script - len,
                                "%d:%02d:01 p2 %s\n%d:%02d:20 p1 40.0\n", min / 60, min % 60,
                                p2, min / 60, min % 60);
    return script;
}

static void
test_food_that_heat_flows_to_and_that_does_not_move_is_stuck(void **state)
{
    (void)state;
    assert_int_equal(food_after(COOK, both_until(COOKING("70.0"), "70.0", 119)), READING_GOOD);
    assert_int_equal(food_after(COOK, both_until(COOKING("70.0"), "70.0", 120)), SUSPECT_STUCK);
}

/* 29.999 °C apart: it may be a thick piece near its end, or one that gives off its heat as
 * steam. */
static void
test_food_near_what_surrounds_it_may_stand_still(void **state)
{
    (void)state;
    assert_int_equal(food_after(COOK, both_until(COOKING("69.999"), "69.999", 400)),
                     READING_GOOD);
}

static void
test_stuck_food_probe_is_told_and_credits_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, NULL);
    rig_play(rig, both_until(COOKING("75.0"), "75.0", 121));
    rig_expect(rig, "2:00:20 suspect-begun stuck p1 40.0 since 0:00:20\n");
    rig_play(rig, "2:01:30 p1 40.1\n");
    rig_expect(rig, "2:01:30 suspect-ended good-again p1 40.1 since 0:00:20\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_free(rig);
}

static void
test_hand_reading_of_the_same_ends_the_doubt_for_as_long_again(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, NULL);
    rig_play(rig, both_until(COOKING("75.0"), "75.0", 121));
    rig_play(rig, "2:01:30 hand 44.1\n");
    rig_expect(rig, "2:00:20 suspect-begun stuck p1 40.0 since 0:00:20\n");
    rig_play(rig, "2:01:40 hand 44.0\n2:01:50 p1 40.0\n");
    rig_expect(rig, "2:01:40 suspect-ended hand-reading p1 since 0:00:20\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_free(rig);
}

static void
test_moving_the_batch_begins_anew(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, NULL);
    rig_play(rig, both_until(COOKING("75.0"), "75.0", 121));
    rig_play(rig, "2:02:00 move after p1 p2\n");
    rig_expect(rig, "2:00:20 suspect-begun stuck p1 40.0 since 0:00:20\n"
                    "2:02:00 deviation-opened left-early #1\n"
                    "2:02:00 deviation-ended batch-ended #1\n"
                    "2:02:00 suspect-ended entered p1 since 0:00:20\n");
    rig_free(rig);
}

static void
test_step_without_a_limit_has_nothing_to_protect(void **state)
{
    (void)state;
    assert_int_equal(food_after(NULL, both_until(COOKING("75.0"), "75.0", 300)), READING_GOOD);
}

/* ---- jumps in air ---- */

static void
test_air_spike_is_suspect_and_what_follows_it_good(void **state)
{
    (void)state;
    const char *spike = "0:00:10 a1 3.0\n0:00:20 a1 28.6\n";
    assert_int_equal(air_after(spike), SUSPECT_JUMPED);
    char back[200];
    (void)snprintf(back, sizeof back, "%s0:00:30 a1 3.1\n", spike);
    assert_int_equal(air_after(back), READING_GOOD);
}

static void
test_air_jump_that_a_second_reading_confirms_is_believed(void **state)
{
    (void)state;
    assert_int_equal(air_after("0:00:10 a1 3.0\n0:00:20 a1 28.6\n0:00:30 a1 30.1\n"),
                     READING_GOOD);
    /* Two spikes to different sides confirm nothing. */
    assert_int_equal(air_after("0:00:10 a1 3.0\n0:00:20 a1 28.6\n0:00:30 a1 -22.0\n"),
                     SUSPECT_JUMPED);
}

static void
test_air_jump_is_at_least_the_jump_and_faster_than_the_rate(void **state)
{
    (void)state;
    assert_int_equal(air_after("0:00:10 a1 3.0\n0:00:20 a1 22.999\n"), READING_GOOD);
    assert_int_equal(air_after("0:00:10 a1 3.0\n0:00:20 a1 23.0\n"), SUSPECT_JUMPED);
    /* 20 °C in 20 s is exactly 60 °C/min */
    assert_int_equal(air_after("0:00:10 a1 3.0\n0:00:30 a1 23.0\n"), READING_GOOD);
    assert_int_equal(air_after("0:00:10 a1 3.0\n0:00:29.999 a1 23.0\n"), SUSPECT_JUMPED);
}

/* A spike lets no excursion end, and none of its own outlasts the next reading. */
static void
test_air_spike_ends_no_excursion(void **state)
{
    (void)state;
    rig_place_story(FRIDGE,
                    "0:00:10 a1 28.0\n0:00:20-0:10:00 a1 28.0 28.0\n0:10:10 a1 3.0\n"
                    "0:10:20-0:20:20 a1 28.0 28.0\n",
                    "0:20:10 deviation-opened out-too-long #1 fridge p4 28.0 since 0:00:10 "
                    "found 0:20:00\n");
}

/* ---- in a kitchen with several places ---- */

/* The shelf has no probe, the oven's is the third, and one hangs in no place at all. */
static const char kitchen[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")
    PLAN_PROBE("p2", "food", "rack", "1", "10 s") PLAN_PROBE("cold", "air", "rack", "2", "10 s")
        PLAN_PROBE("oven", "air", "wing", "0", "10 s") PLAN_PROBE(
            "loose", "air", "wing", "1",
            "10 s") "places:\n"
                    "  - {id: shelf, name: Shelf, limit: {kind: none}}\n"
                    "  - {id: fridge, name: Fridge, probe: cold, limit: {kind: none}}\n"
                    "  - {id: oven, name: Oven, probe: oven, limit: {kind: none}}\n"
                    "products:\n"
                    "  - id: pie\n"
                    "    name: Pie\n"
                    "    steps: [{id: bake, name: Bake, limit: {kind: cook, applies_to: food, "
                    "at_least: 90 °C}}]\n";

/* The air that tells may be that of the plan's first place and first probe. */
static void
test_food_in_the_first_place_is_held_to_its_air(void **state)
{
    (void)state;
    struct rig *rig =
        rig_of(PLAN_HEAD PLAN_PROBE("oven", "air", "wing", "0", "10 s") PLAN_PROBE(
            "p1", "food", "rack", "0",
            "10 s") "places:\n"
                    "  - {id: oven, name: Oven, probe: oven, limit: {kind: none}}\n"
                    "products:\n"
                    "  - id: pie\n"
                    "    name: Pie\n"
                    "    steps: [{id: bake, name: Bake, limit: {kind: cook, applies_to: food, "
                    "at_least: 90 °C}}]\n");
    rig_play(rig, "0:00:00 begin pie p1 place=oven\n0:00:05 oven 150.0\n0:00:05 p1 39.9\n");
    for (int s = 10; s <= 7220; s += 10) {
        char line[120];
        (void)snprintf(line, sizeof line, "%d:%02d:%02d oven 150.0\n%d:%02d:%02d p1 40.0\n",
                       s / 3600, s / 60 % 60, s % 60, s / 3600, s / 60 % 60, s % 60);
        rig_play(rig, line);
    }
    assert_int_equal(rig->quality, SUSPECT_STUCK);
    rig_free(rig);
}

static void
test_air_probe_of_no_place_is_doubted_too(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:10 loose 20.1\n0:00:20-24:00:20 loose 20.0\n");
    assert_int_equal(rig->quality, SUSPECT_STUCK);
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "24:00:20 suspect-begun stuck p5 20.0 since 0:00:20\n"));
    rig_free(rig);
    /* In a drawer a food probe may show the same for ever. */
    rig = rig_of(kitchen);
    rig_play(rig, "0:00:10 p2 20.1\n0:00:20-30:00:00 p2 20.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_free(rig);
}

/* A probe for food that hangs in a place watches its air. */
static void
test_food_probe_that_watches_a_place_is_doubted_as_its_air(void **state)
{
    (void)state;
    struct rig *rig = rig_of(PLAN_HEAD PLAN_PROBE(
        "p1", "food", "rack", "0",
        "10 s") "places:\n"
                "  - {id: cellar, name: Cellar, probe: p1, limit: {kind: none}}\n"
                "products:\n"
                "  - {id: pie, name: Pie, steps: [{id: rest, name: Rest, limit: {kind: "
                "none}}]}\n");
    rig_play(rig, "0:00:10 p1 12.1\n0:00:20-24:00:20 p1 12.0\n");
    assert_int_equal(rig->quality, SUSPECT_STUCK);
    rig_free(rig);
}

/* E131: 70 °C between a core that stands still and the oven it is in, and no other air. */
static void
test_core_that_stands_still_in_its_own_hot_oven_is_stuck(void **state)
{
    (void)state;
    static const struct {
        const char *place, *air;
        uint16_t quality;
    } cases[] = {
        {"oven", "oven 110.0", SUSPECT_STUCK}, {"oven", "cold 110.0", READING_GOOD},
        {"fridge", "cold 4.0", SUSPECT_STUCK}, {"fridge", "oven 4.0", READING_GOOD},
        {"shelf", "oven 110.0", READING_GOOD}, {"shelf", "cold 110.0", READING_GOOD},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_of(kitchen);
        char line[120];
        (void)snprintf(line, sizeof line,
                       "0:00:00 begin pie p1 place=shelf\n0:00:00 begin pie p2 "
                       "place=%s\n0:00:05 %s\n0:00:05 p2 39.9\n",
                       cases[i].place, cases[i].air);
        rig_play(rig, line);
        for (int s = 10; s <= 7220; s += 10) {
            (void)snprintf(line, sizeof line, "%d:%02d:%02d %s\n%d:%02d:%02d p2 40.0\n",
                           s / 3600, s / 60 % 60, s % 60, cases[i].air, s / 3600, s / 60 % 60,
                           s % 60);
            rig_play(rig, line);
        }
        if (rig->quality != cases[i].quality)
            fail_msg("in the %s with %s: quality %u", cases[i].place, cases[i].air,
                     rig->quality);
        rig->log[rig->log_len] = '\0';
        assert_int_equal(strstr(rig->log, "suspect-begun stuck batch 2 p2 40.0") != NULL,
                         cases[i].quality == SUSPECT_STUCK);
        rig_free(rig);
    }
}

/* E132: a person puts a probe that is stuck in the air of its place into food. */
static void
test_stuck_probe_of_a_place_is_believed_in_the_food_it_is_put_into(void **state)
{
    (void)state;
    rig_place_more = "  - {id: chiller, name: Chiller, probe: p3, limit: {kind: none}}\n";
    struct rig *rig = rig_new(COOK, NULL);
    rig_place_more = NULL;
    rig_play(rig, "0:00:10 p3 3.1\n0:00:20-24:00:20 p3 3.0 3.0\n24:00:25 begin dish p3\n"
                  "24:00:30 p3 3.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_expect(rig, "24:00:20 suspect-begun stuck chiller p3 3.0 since 0:00:20\n"
                    "24:00:25 suspect-ended entered chiller p3 since 0:00:20\n");
    rig_free(rig);
}

/* A suspicion of air is of its place, and of no batch. */
static void
test_stuck_air_is_told_of_its_place_and_no_batch(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, FRIDGE);
    rig_play(rig, "0:00:10 a1 3.1\n0:00:20-24:00:20 a1 3.0 3.0\n");
    assert_int_equal(rig->out.decisions[0].kind, DECISION_SUSPECT_BEGUN);
    assert_int_equal(rig->out.decisions[0].batch, 0);
    rig_free(rig);
}

/* What was said of a probe in the food is over with its batch. */
static void
test_stuck_food_probe_is_free_of_it_when_its_batch_ends(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10 p1 20.1\n0:00:10 p2 60.0\n");
    for (int s = 20; s <= 7230; s += 10) {
        char line[80];
        (void)snprintf(line, sizeof line, "%d:%02d:%02d p1 20.0\n%d:%02d:%02d p2 60.%d\n",
                       s / 3600, s / 60 % 60, s % 60, s / 3600, s / 60 % 60, s % 60,
                       s / 10 % 2);
        rig_play(rig, line);
    }
    rig->log_len = 0;
    rig_play(rig, "2:00:40 end discarded\n");
    rig_expect(rig, "2:00:40 suspect-ended entered p1 since 0:00:20\n");
    rig_free(rig);
}

/* E130: nobody has seen the step that a probe made while it was silent. */
static void
test_step_over_a_silence_says_nothing_of_the_probe(void **state)
{
    (void)state;
    assert_int_equal(air_after("0:00:10 a1 3.1\n0:05:10-24:05:10 a1 3.0 3.0\n"), SUSPECT_STUCK);
    assert_int_equal(air_after("0:00:10 a1 3.1\n0:05:10.001 a1 3.0\n0:05:20-50:00:00 a1 3.0\n"),
                     READING_GOOD);
}

/* E131: what is warmer may be any other probe of the batch. */
static void
test_first_probe_of_the_batch_makes_the_second_move(void **state)
{
    (void)state;
    const char *begun = "0:00:00 begin dish p2 p1\n0:00:01 p2 70.0\n0:00:10 p1 39.9\n"
                        "0:00:20 p1 40.0\n";
    assert_int_equal(food_after(COOK, both_until(begun, "70.0", 119)), READING_GOOD);
    assert_int_equal(food_after(COOK, both_until(begun, "70.0", 120)), SUSPECT_STUCK);
}

/* E131: what the other showed holds for silent_for, 5 min, and no longer. */
static void
test_other_probe_is_believed_for_exactly_its_silence(void **state)
{
    (void)state;
    static const struct {
        const char *first;
        uint16_t quality;
    } cases[] = {{"20", SUSPECT_STUCK}, {"19.999", READING_GOOD}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char script[20000];
        size_t len = (size_t)snprintf(script, sizeof script,
                                      "0:00:00 begin dish p1 p2\n0:00:10 p1 39.9\n"
                                      "0:00:%s p2 70.0\n",
                                      cases[i].first);
        for (int min = 0; min <= 122 && len < sizeof script - 100; min++) {
            len += (size_t)snprintf(script + len, sizeof script - len, "%d:%02d:20 p1 40.0\n",
                                    min / 60, min % 60);
            if (min % 5 == 0 && min > 0)
                len += (size_t)snprintf(script + len, sizeof script - len,
                                        "%d:%02d:20.001 p2 70.0\n", min / 60, min % 60);
        }
        assert_int_equal(food_after(COOK, script), cases[i].quality);
    }
}

/* E131: with no break. */
static void
test_break_in_which_no_heat_was_seen_begins_anew(void **state)
{
    (void)state;
    char script[20000];
    size_t len = (size_t)snprintf(script, sizeof script, "%s", COOKING("70.0"));
    for (int min = 1; min <= 186 && len < sizeof script - 100; min++) {
        if (min < 60 || min > 66)
            len += (size_t)snprintf(script + len, sizeof script - len, "%d:%02d:01 p2 70.0\n",
                                    min / 60, min % 60);
        len += (size_t)snprintf(script + len, sizeof script - len, "%d:%02d:20 p1 40.0\n",
                                min / 60, min % 60);
    }
    assert_int_equal(food_after(COOK, script), READING_GOOD);
    (void)snprintf(script + len, sizeof script - len, "3:07:01 p2 70.0\n3:07:20 p1 40.0\n");
    assert_int_equal(food_after(COOK, script), SUSPECT_STUCK);
}

static void
test_stuck_food_probe_is_told_of_its_batch(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK, NULL);
    rig_play(rig, both_until(COOKING("70.0"), "70.0", 120));
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].kind, DECISION_SUSPECT_BEGUN);
    assert_int_equal(rig->out.decisions[0].batch, 1);
    assert_string_equal(rig->out.decisions[0].place, "");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_air_of_one_value_for_a_day_is_stuck_until_it_moves),
        cmocka_unit_test(test_air_is_stuck_after_exactly_the_time),
        cmocka_unit_test(test_coarse_probe_may_stand_still),
        cmocka_unit_test(test_probe_that_never_moved_is_not_called_stuck),
        cmocka_unit_test(test_one_step_in_between_or_a_silence_begins_anew),
        cmocka_unit_test(test_stuck_survives_a_restart_from_saved_state),
        cmocka_unit_test(test_food_that_heat_flows_to_and_that_does_not_move_is_stuck),
        cmocka_unit_test(test_food_near_what_surrounds_it_may_stand_still),
        cmocka_unit_test(test_stuck_food_probe_is_told_and_credits_nothing),
        cmocka_unit_test(test_hand_reading_of_the_same_ends_the_doubt_for_as_long_again),
        cmocka_unit_test(test_moving_the_batch_begins_anew),
        cmocka_unit_test(test_step_without_a_limit_has_nothing_to_protect),
        cmocka_unit_test(test_air_spike_is_suspect_and_what_follows_it_good),
        cmocka_unit_test(test_air_jump_that_a_second_reading_confirms_is_believed),
        cmocka_unit_test(test_air_jump_is_at_least_the_jump_and_faster_than_the_rate),
        cmocka_unit_test(test_air_spike_ends_no_excursion),
        cmocka_unit_test(test_food_in_the_first_place_is_held_to_its_air),
        cmocka_unit_test(test_air_probe_of_no_place_is_doubted_too),
        cmocka_unit_test(test_food_probe_that_watches_a_place_is_doubted_as_its_air),
        cmocka_unit_test(test_core_that_stands_still_in_its_own_hot_oven_is_stuck),
        cmocka_unit_test(test_stuck_probe_of_a_place_is_believed_in_the_food_it_is_put_into),
        cmocka_unit_test(test_stuck_air_is_told_of_its_place_and_no_batch),
        cmocka_unit_test(test_stuck_food_probe_is_free_of_it_when_its_batch_ends),
        cmocka_unit_test(test_step_over_a_silence_says_nothing_of_the_probe),
        cmocka_unit_test(test_first_probe_of_the_batch_makes_the_second_move),
        cmocka_unit_test(test_other_probe_is_believed_for_exactly_its_silence),
        cmocka_unit_test(test_break_in_which_no_heat_was_seen_begins_anew),
        cmocka_unit_test(test_stuck_food_probe_is_told_of_its_batch),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
