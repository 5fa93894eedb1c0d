/* Probes that leave the food, and silent ones: docs/engine.md E40 to E49 and E55 to E58. The
 * rates and the jump are the plan's (15 °C/min, 4 °C, 60 s to settle); what air does to a
 * pulled probe here is common practice, no source. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

#define COOL                                                                                   \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}, {to: 5 " \
    "°C, within: 6 h}]}"
#define COOK_3_MIN "{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}"
#define HOT        "{kind: hold_hot, applies_to: food, at_least: 57 °C}"
#define HOT_10     "{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 10 min}"
#define COLD       "{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 10 min}"

#define COOLING                                                                                \
    "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 70.0 57.5\n0:10:10 p1 56.9\n0:10:20-0:30:00 "   \
    "p1 56.9 50.0\n"
#define CLOCK "0:10:10 clock-started fell-through-start p1 56.9 since 0:10:00\n"

/* ---- what is a jump ---- */

static uint16_t
quality_after(const char *limit, const char *script)
{
    struct rig *rig = rig_new(limit, NULL);
    rig_play(rig, script);
    uint16_t quality = rig->quality;
    rig_free(rig);
    return quality;
}

static void
test_jump_is_at_least_the_jump_and_faster_than_food(void **state)
{
    (void)state;
    assert_int_equal(quality_after(COOL, COOLING "0:30:10 p1 46.001\n"), READING_GOOD);
    assert_int_equal(quality_after(COOL, COOLING "0:30:10 p1 46.0\n"), SUSPECT_LEFT_FOOD);
    /* 5 °C in 20 s is exactly 15 °C/min; in 19.999 s it is faster */
    assert_int_equal(quality_after(COOL, COOLING "0:30:20 p1 45.0\n"), READING_GOOD);
    assert_int_equal(quality_after(COOL, COOLING "0:30:19.999 p1 45.0\n"), SUSPECT_LEFT_FOOD);
}

/* Read every second, no two readings are a jump apart: the change adds up. */
static void
test_jump_in_small_steps_is_recognised(void **state)
{
    (void)state;
    char script[4000] = COOLING;
    for (int i = 1; i <= 12; i++) {
        size_t len = strlen(script);
        snprintf(script + len, sizeof script - len, "0:30:%02d p1 %d.0\n", i, 50 - i);
    }
    assert_int_equal(quality_after(COOL, script), SUSPECT_LEFT_FOOD);
}

/* A follower that moves at 15 °C/min is left behind by 1 °C each second: by exactly a jump
 * after four. */
static void
test_jump_in_small_steps_counts_from_exactly_a_jump(void **state)
{
    (void)state;
    const char *three = COOLING "0:30:01 p1 48.75\n0:30:02 p1 47.5\n0:30:03 p1 46.25\n";
    assert_int_equal(quality_after(COOL, three), READING_GOOD);
    assert_int_equal(quality_after(COOL, COOLING
                                   "0:30:01 p1 48.75\n0:30:02 p1 47.5\n0:30:03 p1 46.25\n"
                                   "0:30:04 p1 45.001\n"),
                     READING_GOOD);
    assert_int_equal(quality_after(COOL, COOLING
                                   "0:30:01 p1 48.75\n0:30:02 p1 47.5\n0:30:03 p1 46.25\n"
                                   "0:30:04 p1 45.0\n"),
                     SUSPECT_LEFT_FOOD);
}

static void
test_food_at_its_fastest_is_never_suspect(void **state)
{
    (void)state;
    /* 2.5 °C in 10 s throughout: 15 °C/min */
    rig_story(COOL, "0:00:00 begin dish p1\n0:00:10 p1 80.0\n0:00:20-0:04:10 p1 77.5 20.0\n",
              "0:01:50 clock-started fell-through-start p1 55.0 since 0:01:40\n"
              "0:04:10 limit-met reached stage 1 p1 20.0 since 0:01:40 found 0:02:30\n");
}

/* ---- a pulled probe ---- */

/* It lies in 20 °C air for two hours: it must never be taken for a filling that has cooled to
 * 21 °C. */
static void
test_pulled_probe_in_room_air_never_meets_a_cooling(void **state)
{
    (void)state;
    rig_story(
        COOL,
        COOLING "0:30:10 p1 40.0\n0:30:20 p1 30.0\n0:30:30-0:32:00 p1 25.0 "
                "20.0\n0:32:10-2:20:00 p1 20.0 19.0\n",
        CLOCK
        "0:30:10 suspect-begun left-food p1 40.0 since 0:30:00\n"
        "0:35:00 gap-opened no-good-reading #1 p1 since 0:30:00 found 0:05:00\n"
        "2:10:00 deviation-opened too-late #2 of #1 stage 1 since 0:10:00 found 2:00:00\n");
}

/* The air drifts by a few degrees and by exactly a jump: still nowhere near the food. */
static void
test_pulled_probe_in_drifting_air_stays_suspect(void **state)
{
    (void)state;
    assert_int_equal(quality_after(COOL, COOLING
                                   "0:30:10 p1 30.0\n0:30:20 p1 20.0\n0:30:30-1:00:00 p1 20.0 "
                                   "18.0\n1:00:10-1:30:00 p1 18.0 24.0\n"),
                     SUSPECT_LEFT_FOOD);
}

/* Even when the food was close to the air: it lies still, it never came back. */
static void
test_pulled_probe_close_to_air_temperature_stays_suspect(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, COOLING
             "0:30:10-1:30:00 p1 50.0 25.0\n1:30:10 p1 21.0\n1:30:20-1:50:00 p1 20.5 19.5\n");
    rig_expect(rig,
               CLOCK "1:30:10 suspect-begun left-food p1 21.0 since 1:30:00\n"
                     "1:35:00 gap-opened no-good-reading #1 p1 since 1:30:00 found 0:05:00\n");
    assert_int_equal(rig->quality, SUSPECT_LEFT_FOOD);
    rig_free(rig);
}

static void
test_probe_put_back_is_believed_after_settling(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, COOLING "0:30:10 p1 35.0\n0:30:20 p1 25.0\n0:31:00 p1 49.0\n");
    rig_expect(rig, CLOCK "0:30:10 suspect-begun left-food p1 35.0 since 0:30:00\n");
    assert_int_equal(rig->quality, SUSPECT_SETTLING);
    rig_play(rig, "0:31:10-0:31:59 p1 49.0\n");
    assert_int_equal(rig->quality, SUSPECT_SETTLING);
    rig_play(rig, "0:32:00 p1 49.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_expect(rig, "0:32:00 suspect-ended good-again p1 49.0 since 0:30:00\n");
    rig_free(rig);
}

/* How far from its last credible temperature a probe may come back: a jump, and up to one more
 * at the food's rate. */
static void
test_probe_put_back_too_far_from_the_food_is_not_believed(void **state)
{
    (void)state;
    assert_int_equal(quality_after(COOL, COOLING "0:30:10 p1 20.0\n0:40:00-0:45:00 p1 42.0\n"),
                     READING_GOOD);
    assert_int_equal(
        quality_after(COOL, COOLING "0:30:10 p1 20.0\n0:40:00-0:45:00 p1 41.999\n"),
        SUSPECT_LEFT_FOOD);
}

/* Reach right after it left: a jump, and what food can do in 10 s (2.5 °C). */
static void
test_probe_put_back_at_once_has_less_reach(void **state)
{
    (void)state;
    assert_int_equal(quality_after(COOL, COOLING "0:30:05 p1 30.0\n0:30:10 p1 43.5\n"),
                     SUSPECT_SETTLING);
    assert_int_equal(quality_after(COOL, COOLING "0:30:05 p1 30.0\n0:30:10 p1 43.499\n"),
                     SUSPECT_LEFT_FOOD);
}

/* It has to have moved back by a whole jump, in either direction. */
static void
test_probe_comes_back_by_at_least_a_jump(void **state)
{
    (void)state;
    const char *cold = "{kind: hold_cold, applies_to: food, at_most: 20 °C, tolerance: 0 s}";
    const char *falls = "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 16.0\n0:10:10 p1 "
                        "10.0\n0:10:20-0:11:00 p1 10.0 ";
    const char *rises = "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 10.0\n0:10:10 p1 "
                        "16.0\n0:10:20-0:11:00 p1 16.0 ";
    char script[300];
    static const struct {
        bool rise;
        const char *to;
        uint16_t quality;
    } cases[] = {
        {false, "14.0\n", SUSPECT_SETTLING},
        {false, "13.999\n", SUSPECT_LEFT_FOOD},
        {true, "12.0\n", SUSPECT_SETTLING},
        {true, "12.001\n", SUSPECT_LEFT_FOOD},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        snprintf(script, sizeof script, "%s%s", cases[i].rise ? rises : falls, cases[i].to);
        assert_int_equal(quality_after(cold, script), cases[i].quality);
    }
}

static void
test_settling_starts_again_after_a_jump_or_a_pause(void **state)
{
    (void)state;
    const char *back = COOLING "0:30:10 p1 20.0\n0:30:20-0:31:10 p1 49.0\n";
    char script[600];
    snprintf(script, sizeof script, "%s0:31:20 p1 49.0\n", back);
    assert_int_equal(quality_after(COOL, script), READING_GOOD);
    snprintf(script, sizeof script, "%s0:31:15 p1 44.5\n0:31:20 p1 44.5\n", back);
    assert_int_equal(quality_after(COOL, script), SUSPECT_SETTLING);
    snprintf(script, sizeof script,
             "%s0:31:15 p1 44.5\n0:31:20-0:32:10 p1 44.5\n0:32:15 p1 44.5\n", back);
    assert_int_equal(quality_after(COOL, script), READING_GOOD);
    snprintf(script, sizeof script, "%s0:31:40 p1 49.0\n", back); /* exactly the spacing */
    assert_int_equal(quality_after(COOL, script), READING_GOOD);
    snprintf(script, sizeof script, "%s0:31:40.001 p1 49.0\n", back);
    assert_int_equal(quality_after(COOL, script), SUSPECT_SETTLING);
}

static void
test_single_spike_heals_by_itself(void **state)
{
    (void)state;
    rig_story(COOL, COOLING "0:30:10 p1 90.0\n0:30:20-0:31:30 p1 50.0 49.0\n",
              CLOCK "0:30:10 suspect-begun left-food p1 90.0 since 0:30:00\n"
                    "0:31:20 suspect-ended good-again p1 49.143 since 0:30:00\n");
}

/* ---- suspect readings breach, and never satisfy ---- */

static void
test_suspect_reading_breaches_a_holding_limit(void **state)
{
    (void)state;
    rig_story(HOT, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 65.0\n0:10:10 p1 40.0\n",
              "0:10:10 suspect-begun left-food p1 40.0 since 0:10:00\n"
              "0:10:10 deviation-opened out-too-long #1 p1 40.0 since 0:10:10\n");
    rig_story(COLD, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 3.0\n0:10:10-0:21:00 p1 20.0\n",
              "0:10:10 suspect-begun left-food p1 20.0 since 0:10:00\n"
              "0:15:00 gap-opened no-good-reading #1 p1 since 0:10:00 found 0:05:00\n"
              "0:20:10 deviation-opened out-too-long #2 of #1 silent p1 20.0 since 0:10:10 "
              "found 0:10:00\n");
}

static void
test_suspect_reading_never_ends_an_excursion(void **state)
{
    (void)state;
    /* outside; then torn out into a hot lamp: inside, but not believed */
    rig_story(HOT_10,
              "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 56.0\n0:06:10-0:12:00 p1 70.0\n",
              "0:06:10 suspect-begun left-food p1 70.0 since 0:06:00\n"
              "0:10:10 deviation-opened out-too-long #1 p1 56.0 since 0:00:10 found 0:10:00\n"
              "0:11:00 gap-opened no-good-reading #2 p1 since 0:06:00 found 0:05:00\n");
}

static void
test_suspect_reading_neither_credits_nor_meets_a_cook(void **state)
{
    (void)state;
    /* after the hand-over, out of the meat into the oven */
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 40.0\n0:10:10-0:14:00 p1 90.0\n",
              "0:10:10 suspect-begun left-food p1 90.0 since 0:10:00\n");
    rig_story("{kind: cook, applies_to: food, at_least: 74 °C, for: 0 s}",
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 40.0\n0:10:10-0:14:00 p1 90.0\n",
              "0:10:10 suspect-begun left-food p1 90.0 since 0:10:00\n");
}

static void
test_suspect_reading_below_breaks_a_cook(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_3_MIN, NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:10-0:06:00 p1 40.0 62.9\n0:06:10-0:08:00 p1 66.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 110000);
    rig_play(rig, "0:08:10 p1 90.0\n");
    assert_int_equal(rig_batch(rig).credited_ms,
                     110000); /* above: it proves nothing and breaks nothing */
    rig_play(rig, "0:08:20 p1 50.0\n");
    assert_int_equal(rig_batch(rig).credited_ms, 0);
    rig_expect(rig, "0:08:10 suspect-begun left-food p1 90.0 since 0:08:00\n");
    rig_free(rig);
}

/* ---- the hand-over at the beginning of a step ---- */

/* A cold probe put into hot food is believed once it has come to rest. */
static void
test_cold_probe_put_into_hot_food_is_believed_after_settling(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 20.0\n0:01:10 p1 50.0\n0:01:20 p1 "
              "75.0\n0:01:30-0:05:30 p1 80.0\n",
              "0:01:10 suspect-begun left-food p1 50.0 since 0:01:00\n"
              "0:02:30 suspect-ended good-again p1 80.0 since 0:01:00\n"
              "0:05:30 limit-met held p1 80.0 since 0:02:30 found 0:03:00\n");
}

/* Into oven air, hotter than any wet core: never. */
static void
test_probe_in_oven_air_is_not_believed_even_early(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN,
              "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 6.0\n0:01:10 p1 80.0\n0:01:20-0:06:00 "
              "p1 160.0\n0:06:00 wait\n",
              "0:01:10 suspect-begun left-food p1 80.0 since 0:01:00\n"
              "0:06:00 gap-opened no-good-reading #1 p1 since 0:01:00 found 0:05:00\n");
}

/* A warm probe into raw meat: a fall satisfies no cook, so it is believed at once, but only
 * early. */
static void
test_warm_probe_put_into_raw_food_is_believed_at_once(void **state)
{
    (void)state;
    assert_int_equal(
        quality_after(COOK_3_MIN,
                      "0:00:00 begin dish p1\n0:00:10-0:05:00 p1 20.0\n0:05:00.001 p1 5.0\n"),
        SUSPECT_LEFT_FOOD);
    assert_int_equal(
        quality_after(COOK_3_MIN,
                      "0:00:00 begin dish p1\n0:00:10-0:04:50 p1 20.0\n0:05:00 p1 5.0\n"),
        READING_GOOD);
}

/* A fall is what a pulled probe shows: not believed in a cooling, however early. */
static void
test_fall_in_a_cooling_is_suspect_even_early(void **state)
{
    (void)state;
    rig_story(COOL,
              "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 70.0\n0:01:10 p1 "
              "50.0\n0:01:20-0:05:50 p1 30.0 20.0\n",
              "0:01:10 suspect-begun left-food p1 50.0 since 0:01:00\n");
}

/* Holding: a cold probe into hot food, a warm one into cold food; never the other way round. */
static void
test_probe_put_into_held_food_is_believed_after_settling(void **state)
{
    (void)state;
    assert_int_equal(
        quality_after(HOT_10,
                      "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:00:20-0:01:10 p1 65.0\n"),
        SUSPECT_SETTLING);
    assert_int_equal(
        quality_after(HOT_10,
                      "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:00:20-0:01:20 p1 65.0\n"),
        READING_GOOD);
    assert_int_equal(
        quality_after(HOT_10,
                      "0:00:00 begin dish p1\n0:00:10 p1 65.0\n0:00:20-0:01:20 p1 20.0\n"),
        SUSPECT_LEFT_FOOD);
    assert_int_equal(
        quality_after(COLD, "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:00:20-0:01:20 p1 3.0\n"),
        READING_GOOD);
    assert_int_equal(
        quality_after(COLD, "0:00:00 begin dish p1\n0:00:10 p1 3.0\n0:00:20-0:01:20 p1 20.0\n"),
        SUSPECT_LEFT_FOOD);
}

/* 100 °C is as hot as wet food gets, and still food. */
static void
test_entry_at_boiling_is_believed(void **state)
{
    (void)state;
    const char *in = "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:00:20-0:01:20 p1 ";
    char script[200];
    snprintf(script, sizeof script, "%s100.0\n", in);
    assert_int_equal(quality_after(COOK_3_MIN, script), READING_GOOD);
    snprintf(script, sizeof script, "%s100.001\n", in);
    assert_int_equal(quality_after(COOK_3_MIN, script), SUSPECT_SETTLING);
}

/* An entry that is still unsteady when the 5 minutes are over was none. */
static void
test_unsteady_entry_is_given_up_after_the_hand_over(void **state)
{
    (void)state;
    const char *in = "0:00:00 begin dish p1\n0:00:10-0:04:40 p1 20.0\n0:04:50 p1 60.0\n";
    char script[200];
    snprintf(script, sizeof script, "%s0:05:00 p1 70.0\n", in);
    assert_int_equal(quality_after(COOK_3_MIN, script), SUSPECT_SETTLING);
    snprintf(script, sizeof script, "%s0:05:00.001 p1 70.0\n", in);
    assert_int_equal(quality_after(COOK_3_MIN, script), SUSPECT_LEFT_FOOD);
}

static void
test_hand_reading_uses_up_the_entry_of_the_hand_over(void **state)
{
    (void)state;
    assert_int_equal(quality_after(HOT_10, "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 "
                                           "65.0\n0:01:10 p1 58.0\n0:01:15 hand 58.0\n"
                                           "0:01:20 p1 58.0\n0:01:30 p1 66.0\n"),
                     SUSPECT_LEFT_FOOD);
}

/* One probe torn out, the other in the food: the batch stays outside until both are inside. */
static void
test_suspect_breach_of_one_probe_outweighs_the_other(void **state)
{
    (void)state;
    struct rig *rig = rig_new(HOT_10, NULL);
    rig_play(rig, "0:00:00 begin dish p1 p2\n0:00:10-0:06:00 p1,p2 65.0\n0:06:10 p1 "
                  "20.0\n0:06:10-0:07:00 p2 65.0\n");
    assert_true(rig_batch(rig).outside);
    rig_free(rig);
}

/* A rise helps no cooling: believed early, and as long as no clock runs; later it is a probe
 * that was taken out. */
static void
test_rise_in_a_cooling_is_believed_until_the_clock_runs(void **state)
{
    (void)state;
    assert_int_equal(quality_after(COOL, "0:00:00 begin dish p1\n0:00:10 p1 "
                                         "58.0\n0:00:20-0:01:00 p1 56.0\n0:01:10 p1 70.0\n"),
                     READING_GOOD);
    assert_int_equal(
        quality_after(COOL,
                      "0:00:00 begin dish p1\n0:00:10-0:20:00 p1 20.0\n0:20:10 p1 70.0\n"),
        READING_GOOD);
    assert_int_equal(quality_after(COOL, COOLING "0:30:10 p1 60.0\n"), SUSPECT_LEFT_FOOD);
}

/* The second jump of one hand-over has no excuse. */
static void
test_second_entry_of_a_hand_over_is_suspect(void **state)
{
    (void)state;
    assert_int_equal(quality_after(HOT_10,
                                   "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:00:20-0:01:30 p1 "
                                   "60.0\n0:01:40-0:04:00 p1 80.0\n"),
                     SUSPECT_LEFT_FOOD);
}

/* ---- ways back through a person ---- */

static void
test_hand_reading_that_agrees_makes_a_probe_credible(void **state)
{
    (void)state;
    /* 38 °C is too far from 50 °C to be believed unaided; a hand reading within a jump of it
     * settles the matter */
    rig_story(COOL,
              COOLING
              "0:30:10 p1 20.0\n0:34:00-0:34:30 p1 38.0\n0:34:35 hand 34.0\n0:34:40 p1 38.0\n",
              CLOCK "0:30:10 suspect-begun left-food p1 20.0 since 0:30:00\n"
                    "0:34:35 suspect-ended hand-reading p1 34.0 since 0:30:00\n");
    assert_int_equal(
        quality_after(
            COOL, COOLING
            "0:30:10 p1 20.0\n0:34:00-0:34:30 p1 38.0\n0:34:35 hand 33.999\n0:34:40 p1 38.0\n"),
        SUSPECT_LEFT_FOOD);
    /* it is compared with what the probe shows now: a reading no older than the spacing */
    const char *left = COOLING "0:30:10 p1 20.0\n0:34:00-0:34:30 p1 38.0\n";
    char script[600];
    snprintf(script, sizeof script, "%s0:35:00 hand 38.0\n0:35:10 p1 38.0\n", left);
    assert_int_equal(quality_after(COOL, script), READING_GOOD);
    snprintf(script, sizeof script, "%s0:35:00.001 hand 38.0\n0:35:10 p1 38.0\n", left);
    assert_int_equal(quality_after(COOL, script), SUSPECT_LEFT_FOOD);
}

static void
test_moving_the_batch_or_naming_its_probes_makes_them_credible(void **state)
{
    (void)state;
    rig_story(COOL, COOLING "0:30:10 p1 20.0\n0:31:00 move\n0:31:10 p1 20.0\n",
              CLOCK
              "0:30:10 suspect-begun left-food p1 20.0 since 0:30:00\n"
              "0:31:00 deviation-opened left-early #1 stage 1 since 0:10:00 found 0:21:00\n"
              "0:31:00 deviation-ended batch-ended #1\n"
              "0:31:00 suspect-ended entered p1 since 0:30:00\n");
}

/* ---- silence ---- */

static void
test_unused_food_probe_may_be_silent(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN, "0:00:00 p1 20.0\n9:00:00 wait\n", "");
}

static void
test_probe_that_never_answered_counts_from_its_assignment(void **state)
{
    (void)state;
    rig_story(COOK_3_MIN, "1:00:00 begin dish p1\n1:04:59.999 p1 20.0\n1:05:00 wait\n", "");
    rig_story(COOK_3_MIN, "1:00:00 begin dish p1\n1:05:00 p1 20.0\n1:05:10 wait\n", "");
    rig_story(COOK_3_MIN, "1:00:00 begin dish p1\n1:05:00.001 p1 20.0\n",
              "1:05:00 gap-opened no-good-reading #1 p1 since 1:00:00 found 0:05:00\n"
              "1:05:00.001 gap-ended good-again #1 p1 20.0 since 1:00:00 found 0:05:00.001\n");
}

static void
test_moving_the_batch_does_not_forgive_silence(void **state)
{
    (void)state;
    rig_story("{kind: none}",
              "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:04:00 move\n0:05:10 wait\n",
              "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n");
    rig_story(
        "{kind: none}",
        "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:06:00 move\n0:06:10 wait\n0:06:20 p1 20.0\n",
        "0:05:10 gap-opened no-good-reading #1 p1 since 0:00:10 found 0:05:00\n"
        "0:06:20 gap-ended good-again #1 p1 20.0 since 0:00:10 found 0:06:10\n");
}

static void
test_air_probe_that_never_answered_counts_from_the_plan(void **state)
{
    (void)state;
    rig_place_story(
        "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 20 min}",
        "0:10:00 a1 4.0\n",
        "0:05:00 gap-opened no-good-reading #1 fridge p4 since 0:00:00 found 0:05:00\n"
        "0:10:00 gap-ended good-again #1 fridge p4 4.0 since 0:00:00 found 0:10:00\n");
}

static void
test_gap_names_the_batch_or_the_place(void **state)
{
    (void)state;
    struct rig *rig = rig_new(
        "{kind: none}", "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 20 min}");
    rig_play(rig, "0:00:00 begin dish p2\n0:00:01 a1 4.0\n0:05:00 wait\n");
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].batch, 1);
    assert_string_equal(rig->out.decisions[0].place, "");
    rig_play(rig, "0:05:01 wait\n");
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].batch, 0);
    assert_string_equal(rig->out.decisions[0].place, "fridge");
    assert_int_equal(rig->out.decisions[0].required_ms, 300000);
    rig_free(rig);
}

static void
test_ending_the_batch_ends_the_gap(void **state)
{
    (void)state;
    rig_story("{kind: none}", "0:00:00 begin dish p1\n0:10:00 end discarded\n0:10:00 wait\n",
              "0:05:00 gap-opened no-good-reading #1 p1 since 0:00:00 found 0:05:00\n"
              "0:10:00 gap-ended entered #1 p1 since 0:00:00 found 0:10:00\n");
}

/* E48: what the probe showed before a person put it where it is now is no longer held against
 * it: in a step that has something to protect. */
static void
test_hand_over_makes_a_probe_credible_where_it_matters(void **state)
{
    (void)state;
    assert_int_equal(quality_after(COOL, COOLING "0:30:10 p1 20.0\n0:30:20 p1 20.0\n"),
                     SUSPECT_LEFT_FOOD);
    assert_int_equal(
        quality_after(COOL, COOLING "0:30:10 p1 20.0\n0:30:15 move first\n0:30:20 p1 20.0\n"),
        READING_GOOD);
    /* Put into food once, and after a hand-over once more (E44). */
    static const char again[] =
        "0:00:00 begin dish p1\n0:00:10 p1 20.0\n0:00:20-0:01:30 p1 60.0\n%s0:01:40 p1 "
        "60.0\n0:01:50-0:02:50 p1 80.0\n";
    char script[300];
    snprintf(script, sizeof script, again, "");
    assert_int_equal(quality_after(HOT_10, script), SUSPECT_LEFT_FOOD);
    snprintf(script, sizeof script, again, "0:01:35 move first\n");
    assert_int_equal(quality_after(HOT_10, script), READING_GOOD);
}

/* E47: it settles each time that it comes back, also when it comes back slowly. */
static void
test_probe_that_leaves_twice_settles_twice(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, NULL);
    rig_play(rig, COOLING "0:30:10 p1 20.0\n0:30:20-0:31:20 p1 49.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_play(rig, "0:31:30 p1 44.0\n0:31:40 p1 41.0\n");
    assert_int_equal(rig->quality, SUSPECT_LEFT_FOOD);
    rig_play(rig, "0:31:50 p1 43.0\n0:32:00 p1 45.0\n0:32:10 p1 46.0\n");
    assert_int_equal(rig->quality, SUSPECT_SETTLING);
    rig_free(rig);
}

/* An entry that was given up is none, however steady it becomes. */
static void
test_entry_that_was_given_up_stays_so(void **state)
{
    (void)state;
    assert_int_equal(quality_after(COOK_3_MIN,
                                   "0:00:00 begin dish p1\n0:00:10-0:04:40 p1 20.0\n0:04:50 p1 "
                                   "60.0\n0:05:00.001 p1 70.0\n0:05:10-0:08:00 p1 70.0\n"),
                     SUSPECT_LEFT_FOOD);
}

/* Which food it was in is told, and since when it is in doubt: after its last believed reading,
 * one that was a jump itself included (E43). */
static void
test_suspicion_names_the_food_and_its_last_good_reading(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_3_MIN, NULL);
    rig_play(rig, "0:00:00 begin dish p2\n0:00:00 begin dish p1\n0:00:10 p1 25.0\n0:00:20 p1 "
                  "4.0\n0:00:30 p1 4.0\n0:05:20 p1 4.0\n0:05:30 p1 60.0\n");
    assert_int_equal(rig->out.decisions[0].batch, 2);
    assert_string_equal(rig->out.decisions[0].step, "first");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "suspect-begun left-food batch 2 p1 60.0 since 0:05:20"));
    rig_free(rig);
    rig = rig_new(COOK_3_MIN, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 25.0\n0:00:20 p1 4.0\n0:00:30 p1 40.0\n");
    rig_expect(rig, "0:00:30 suspect-begun left-food p1 40.0 since 0:00:20\n");
    rig_free(rig);
}

/* Given up as an entry, it is believed again when it is back where it was. */
static void
test_entry_that_was_given_up_can_come_back(void **state)
{
    (void)state;
    assert_int_equal(quality_after(COOK_3_MIN,
                                   "0:00:00 begin dish p1\n0:00:10-0:04:40 p1 20.0\n0:04:50 p1 "
                                   "60.0\n0:05:00.001 p1 70.0\n0:05:10-0:06:10 p1 20.0\n"),
                     READING_GOOD);
}

/* E47: what is too far apart is so by the probe's own period. */
static void
test_slow_probe_settles_by_its_own_period(void **state)
{
    (void)state;
    static const char kitchen[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")
        PLAN_PROBE("slow", "food", "rack", "1", "60 s") "places:\n"
                                                        "  - {id: shelf, name: Shelf, limit: "
                                                        "{kind: none}}\n"
                                                        "products:\n"
                                                        "  - id: dish\n"
                                                        "    name: Dish\n"
                                                        "    steps: [{id: keep, name: Keep, "
                                                        "limit: " HOT_10 "}]\n";
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin dish p1 slow\n0:01:00 slow 70.0\n0:06:00 slow 70.0\n0:07:00 "
                  "slow 40.0\n0:08:00 slow 69.0\n");
    assert_int_equal(rig->quality, SUSPECT_SETTLING);
    rig_play(rig, "0:09:00 slow 69.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_free(rig);
}

/* E47: the stay of an earlier return is not this one's. 5 °C in 20 s food can change. */
static void
test_probe_that_comes_back_slowly_settles_all_the_same(void **state)
{
    (void)state;
    const char *left_twice = COOLING "0:30:10 p1 60.0\n0:30:20-0:33:00 p1 50.0\n"
                                     "0:33:10 p1 60.0\n0:33:30-0:34:20 p1 55.0\n";
    assert_int_equal(quality_after(COOL, left_twice), SUSPECT_SETTLING);
    char script[1000];
    (void)snprintf(script, sizeof script, "%s0:34:30 p1 55.0\n", left_twice);
    assert_int_equal(quality_after(COOL, script), READING_GOOD);
}

/* E47: it has to stay within reach, and here it was 9 °C away in between. */
static void
test_probe_that_goes_on_past_the_food_has_not_stayed(void **state)
{
    (void)state;
    const char *past = COOLING "0:30:10 p1 60.0\n0:30:20 p1 50.0\n0:30:30 p1 47.5\n"
                               "0:30:40 p1 45.0\n0:30:50 p1 42.5\n0:31:00 p1 41.0\n"
                               "0:31:10-0:32:00 p1 43.5\n";
    assert_int_equal(quality_after(COOL, past), SUSPECT_SETTLING);
    char script[1000];
    (void)snprintf(script, sizeof script, "%s0:32:10 p1 43.5\n", past);
    assert_int_equal(quality_after(COOL, script), READING_GOOD);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gap_names_the_batch_or_the_place),
        cmocka_unit_test(test_jump_is_at_least_the_jump_and_faster_than_food),
        cmocka_unit_test(test_jump_in_small_steps_is_recognised),
        cmocka_unit_test(test_jump_in_small_steps_counts_from_exactly_a_jump),
        cmocka_unit_test(test_food_at_its_fastest_is_never_suspect),
        cmocka_unit_test(test_pulled_probe_in_room_air_never_meets_a_cooling),
        cmocka_unit_test(test_pulled_probe_in_drifting_air_stays_suspect),
        cmocka_unit_test(test_pulled_probe_close_to_air_temperature_stays_suspect),
        cmocka_unit_test(test_probe_put_back_is_believed_after_settling),
        cmocka_unit_test(test_probe_put_back_too_far_from_the_food_is_not_believed),
        cmocka_unit_test(test_probe_put_back_at_once_has_less_reach),
        cmocka_unit_test(test_probe_comes_back_by_at_least_a_jump),
        cmocka_unit_test(test_settling_starts_again_after_a_jump_or_a_pause),
        cmocka_unit_test(test_single_spike_heals_by_itself),
        cmocka_unit_test(test_suspect_reading_breaches_a_holding_limit),
        cmocka_unit_test(test_suspect_reading_never_ends_an_excursion),
        cmocka_unit_test(test_suspect_reading_neither_credits_nor_meets_a_cook),
        cmocka_unit_test(test_suspect_reading_below_breaks_a_cook),
        cmocka_unit_test(test_cold_probe_put_into_hot_food_is_believed_after_settling),
        cmocka_unit_test(test_probe_in_oven_air_is_not_believed_even_early),
        cmocka_unit_test(test_warm_probe_put_into_raw_food_is_believed_at_once),
        cmocka_unit_test(test_fall_in_a_cooling_is_suspect_even_early),
        cmocka_unit_test(test_probe_put_into_held_food_is_believed_after_settling),
        cmocka_unit_test(test_entry_at_boiling_is_believed),
        cmocka_unit_test(test_unsteady_entry_is_given_up_after_the_hand_over),
        cmocka_unit_test(test_hand_reading_uses_up_the_entry_of_the_hand_over),
        cmocka_unit_test(test_suspect_breach_of_one_probe_outweighs_the_other),
        cmocka_unit_test(test_rise_in_a_cooling_is_believed_until_the_clock_runs),
        cmocka_unit_test(test_second_entry_of_a_hand_over_is_suspect),
        cmocka_unit_test(test_hand_reading_that_agrees_makes_a_probe_credible),
        cmocka_unit_test(test_moving_the_batch_or_naming_its_probes_makes_them_credible),
        cmocka_unit_test(test_unused_food_probe_may_be_silent),
        cmocka_unit_test(test_probe_that_never_answered_counts_from_its_assignment),
        cmocka_unit_test(test_moving_the_batch_does_not_forgive_silence),
        cmocka_unit_test(test_air_probe_that_never_answered_counts_from_the_plan),
        cmocka_unit_test(test_ending_the_batch_ends_the_gap),
        cmocka_unit_test(test_hand_over_makes_a_probe_credible_where_it_matters),
        cmocka_unit_test(test_probe_that_leaves_twice_settles_twice),
        cmocka_unit_test(test_entry_that_was_given_up_stays_so),
        cmocka_unit_test(test_suspicion_names_the_food_and_its_last_good_reading),
        cmocka_unit_test(test_entry_that_was_given_up_can_come_back),
        cmocka_unit_test(test_slow_probe_settles_by_its_own_period),
        cmocka_unit_test(test_probe_that_comes_back_slowly_settles_all_the_same),
        cmocka_unit_test(test_probe_that_goes_on_past_the_food_has_not_stayed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
