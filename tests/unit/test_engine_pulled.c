/* A probe pulled out of the food: docs/engine.md E182 to E185. The bound is that of a slab, a
 * cylinder or a sphere whose surface is held at its surroundings; checked here against their
 * series solutions, summed in the test. */
#include "tests/support/check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"
#include "tests/unit/data/removed_traces.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* The step is in the fridge, whose air a1 measures; its own limit is never outside here. */
#define AIR    "{kind: hold_cold, applies_to: air, at_most: 25 °C, tolerance: 1 d}"
#define IN_AIR ", place: fridge"
#define COOLING                                                                                \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}]}"
#define COOL COOLING IN_AIR
#define HOT  "{kind: hold_hot, applies_to: food, at_least: 60 °C, tolerance: 1 min}" IN_AIR
#define COOK "{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}" IN_AIR

static struct rig *
play(const char *limit, const char *script)
{
    struct rig *rig = rig_new(limit, AIR);
    rig_play(rig, script);
    return rig;
}

/* Both at once: each reading of food beside one of air. */
static void
beside(struct rig *rig, int from_s, int to_s, double food, double food_to, double air)
{
    for (int s = from_s; s <= to_s; s += 10) {
        char line[96];
        double part = to_s > from_s ? (double)(s - from_s) / (to_s - from_s) : 0;
        snprintf(line, sizeof line, "%d:%02d:%02d a1 %.3f\n%d:%02d:%02d p1 %.3f\n", s / 3600,
                 s / 60 % 60, s % 60, air, s / 3600, s / 60 % 60, s % 60,
                 food + (food_to - food) * part);
        rig_play(rig, line);
    }
}

static struct rig *
cooled_to_25(void)
{
    struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 60.0, 57.5, 20.0);
    beside(rig, 610, 4800, 56.9, 25.1, 20.0);
    beside(rig, 4810, 5100, 25.1, 25.0, 20.0);
    rig_expect(rig, "0:10:10 clock-started fell-through-start p1 56.9 since 0:10:00\n");
    return rig;
}

/* Five degrees from the air there is no jump of four in one reading that E40 could see. */
static void
test_pulled_probe_near_the_air_meets_no_stage(void **state)
{
    (void)state;
    struct rig *rig = cooled_to_25();
    beside(rig, 5110, 5110, 22.6, 22.6, 20.0);
    beside(rig, 5120, 7790, 20.6, 20.1, 20.0);
    rig_expect(rig, "1:25:20 suspect-begun pulled-out p1 20.6 since 1:25:10\n"
                    "1:30:10 gap-opened no-good-reading #1 p1 since 1:25:10 found 0:05:00\n");
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
    rig_play(rig, "2:10:00 wait\n");
    rig_expect(
        rig,
        "2:10:00 deviation-opened too-late #2 of #1 stage 1 since 0:10:00 found 2:00:00\n");
    rig_free(rig);
}

/* Read every second the fall has readings on its way; 21 °C are not the food's. */
static void
test_stage_met_on_the_way_out_is_taken_back(void **state)
{
    (void)state;
    struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 60.0, 57.5, 18.0);
    beside(rig, 610, 5100, 56.9, 22.0, 18.0);
    rig->log_len = 0;
    beside(rig, 5110, 5110, 21.9, 21.9, 18.0);
    beside(rig, 5120, 5120, 20.6, 20.6, 18.0); /* 1.3 of 3.9 in ten seconds: food loses 0.45 */
    rig_expect(rig, "1:25:20 limit-met reached stage 1 p1 20.6 since 0:10:00 found 1:15:20\n");
    assert_int_equal(rig_batch(rig).verdict, VERDICT_MET);
    beside(rig, 5130, 5130, 18.8, 18.8, 18.0);
    assert_int_equal(rig_batch(rig).verdict, VERDICT_OPEN);
    rig_expect(rig, "1:25:30 suspect-begun pulled-out p1 18.8 since 1:25:20\n"
                    "1:25:30 met-withdrawn pulled-out stage 1 p1 20.6 since 0:10:00\n");
    beside(rig, 5140, 7790, 18.2, 18.0, 18.0);
    rig_play(rig, "2:10:00 wait\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "2:10:00 deviation-opened too-late"));
    rig_free(rig);
}

/* The cook sees 21 °C and pulls the probe: what was met stays met. */
static void
test_stage_met_before_the_probe_was_pulled_stays_met(void **state)
{
    (void)state;
    struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 60.0, 57.5, 10.0);
    beside(rig, 610, 5100, 56.9, 21.1, 10.0);
    rig->log_len = 0;
    beside(rig, 5110, 5110, 21.0, 21.0, 10.0);
    beside(rig, 5120, 5120, 11.0, 11.0, 10.0);
    rig_expect(rig, "1:25:10 limit-met reached stage 1 p1 21.0 since 0:10:00 found 1:15:10\n"
                    "1:25:20 suspect-begun pulled-out p1 11.0 since 1:25:10\n");
    rig_free(rig);
}

static void
test_probe_put_back_is_believed_after_settling_and_the_clock_has_run_on(void **state)
{
    (void)state;
    struct rig *rig = cooled_to_25();
    beside(rig, 5110, 5110, 20.4, 20.4, 20.0);
    beside(rig, 5120, 5200, 20.1, 20.1, 20.0);
    beside(rig, 5210, 5260, 24.6, 24.6, 20.0);
    assert_int_equal(rig->quality, SUSPECT_SETTLING);
    beside(rig, 5270, 5270, 24.6, 24.6, 20.0);
    assert_int_equal(rig->quality, READING_GOOD);
    beside(rig, 5280, 7200, 24.6, 21.0, 20.0);
    rig_expect(rig, "1:25:10 suspect-begun pulled-out p1 20.4 since 1:25:00\n"
                    "1:27:50 suspect-ended good-again p1 24.6 since 1:25:00\n"
                    "2:00:00 limit-met reached stage 1 p1 21.0 since 0:10:00 found 1:50:00\n");
    rig_free(rig);
}

/* In the air it may waver: that is no coming back. */
static void
test_wavering_in_the_air_is_no_coming_back(void **state)
{
    (void)state;
    struct rig *rig = cooled_to_25();
    beside(rig, 5110, 5110, 20.4, 20.4, 20.0);
    beside(rig, 5120, 5300, 23.7, 23.7, 20.0);
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT); /* three quarters of 5 are 3.75 */
    rig_free(rig);
}

/* E183: neither a deviation of the holding, nor of the way out. */
static void
test_pulled_from_hot_holding_is_silence_not_a_deviation_of_it(void **state)
{
    (void)state;
    struct rig *rig = play(HOT, "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 65.0, 65.0, 20.0);
    beside(rig, 610, 610, 40.0, 40.0, 20.0); /* on its way: suspect, outside (E41) */
    assert_int_equal(rig->quality, SUSPECT_LEFT_FOOD);
    beside(rig, 620, 1200, 22.0, 20.0, 20.0);
    rig_expect(rig, "0:10:10 suspect-begun left-food p1 40.0 since 0:10:00\n"
                    "0:15:00 gap-opened no-good-reading #1 p1 since 0:10:00 found 0:05:00\n");
    rig_free(rig);
}

static void
test_pulled_probe_earns_no_holding_time(void **state)
{
    (void)state;
    struct rig *rig = play(COOK, "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 50.0, 62.0, 20.0);
    beside(rig, 610, 700, 63.5, 63.5, 20.0);
    beside(rig, 710, 750, 20.5, 20.0, 20.0); /* five readings: the minute and a half is gone */
    beside(rig, 760, 820, 63.5, 63.5, 20.0);
    beside(rig, 830, 980, 63.5, 63.5, 20.0);
    rig_expect(rig, "0:11:50 suspect-begun pulled-out p1 20.5 since 0:11:40\n"
                    "0:13:40 suspect-ended good-again p1 63.5 since 0:11:40\n");
    beside(rig, 990, 1000, 63.5, 63.5, 20.0);
    rig_expect(rig, "0:16:40 limit-met held p1 63.5 since 0:13:40 found 0:03:00\n");
    rig_free(rig);
}

static void
test_air_that_comes_to_meet_the_food_is_no_pulled_probe(void **state)
{
    (void)state;
    struct rig *rig = cooled_to_25();
    beside(rig, 5110, 5200, 24.0, 21.4, 21.3); /* the air has moved by more than a quarter */
    rig->log[rig->log_len] = '\0';
    assert_null(strstr(rig->log, "pulled-out"));
    rig_free(rig);
}

/* What the rule is for: without it a stage would be met by air. */
static void
test_without_the_air_of_its_place_the_rule_cannot_see(void **state)
{
    (void)state;
    rig_story(COOLING,
              "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 60.0 57.5\n0:10:10-1:25:00 p1 56.9 "
              "25.0\n1:25:10 p1 22.6\n1:25:20 p1 20.6\n",
              "0:10:10 clock-started fell-through-start p1 56.9 since 0:10:00\n"
              "1:25:20 limit-met reached stage 1 p1 20.6 since 0:10:00 found 1:15:20\n");
}

/* ---- both sides of every boundary ---- */

/* One reading of food, then the next one of the probe after after_ms; air before and with it.
 */
static uint16_t
second_reading(const char *tolerances, double food, double air, const char *after, double next,
               double air_then)
{
    char script[400];
    struct rig *rig = rig_new(COOL, AIR);
    rig->next_plan = rig_plan(COOL, AIR, tolerances);
    snprintf(script, sizeof script,
             "0:00:00 plan new\n0:00:01 begin dish p1\n0:05:09.900 a1 %.3f\n0:05:10 p1 "
             "%.3f\n%s.100 a1 %.3f\n",
             air, food, after, air_then);
    rig_play(rig, script);
    int64_t at_ms = rig_time(after) + 101;
    struct engine_input input = {.kind = ENGINE_READING, .at_ms = at_ms};
    input.is.reading = (struct reading){at_ms, (int32_t)lround(next * 1000), 1, READING_GOOD};
    rig_feed(rig, &input);
    uint16_t quality = rig->quality;
    rig_free(rig);
    return quality;
}

static void
test_pulled_on_both_sides_of_every_boundary(void **state)
{
    (void)state;
    /* The first reading is at 0:05:10, the second 101 ms after the time named. */
    static const struct {
        double food, air;
        const char *after;
        double next, air_then;
        bool is_out;
    } cases[] = {
        {24, 20, "0:05:20", 21, 20, true}, /* three quarters of 4, a quarter left */
        {24, 20, "0:05:20", 21.001, 20, false},
        {24, 20, "0:05:20", 21, 19.999, false}, /* not there */
        {24, 20, "0:05:20", 21, 21, true},      /* the air has moved by a quarter */
        {24, 20, "0:05:20", 21, 21.001, false},
        {24, 20, "0:05:20", 20.5, 18.999, false},
        {24, 20, "0:05:20", 21.001, 21, false}, /* it has itself not gone far enough */
        {23, 20, "0:05:20", 20.75, 20, true},   /* three degrees apart */
        {22.999, 20, "0:05:20", 20.5, 20, false},
        {16, 20, "0:05:20", 19, 20, true}, /* colder food comes up to the air */
        {16, 20, "0:05:20", 18.999, 20, false},
        {16, 20, "0:05:20", 21, 20, true},
        {24, 20, "0:07:09", 21, 20, true}, /* within 2 min */
        {24, 20, "0:07:10", 21, 20, false},
        {24, 20, "0:07:10", 20.3, 20, true}, /* in twice the time at the air itself */
        {24, 20, "0:07:10", 20.301, 20, false},
        {36, 20, "0:07:10", 21, 20, true}, /* or a sixteenth away */
        {36, 20, "0:07:10", 21.001, 20, false},
        {84, 20, "0:09:10", 21, 20, true}, /* or a sixty-fourth, in three times */
        {84, 20, "0:09:10", 21.001, 20, false},
        {24, 20, "0:15:09", 20.3, 20, true}, /* for five times */
        {24, 20, "0:15:10", 20.3, 20, false},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        uint16_t quality = second_reading(NULL, cases[i].food, cases[i].air, cases[i].after,
                                          cases[i].next, cases[i].air_then);
        if ((quality == SUSPECT_PULLED_OUT) != cases[i].is_out)
            fail_msg("case %zu: quality %d", i, quality);
    }
    assert_int_equal(second_reading("{pulled_within: 0 s}", 24, 20, "0:05:20", 20.1, 20),
                     READING_GOOD);
    assert_int_equal(second_reading("{pulled_within: 1 ms}", 24, 20, "0:05:20", 20.1, 20),
                     READING_GOOD);
    /* A quarter as far from the air within pulled_within, a sixteenth a millisecond later. */
    assert_int_equal(second_reading("{pulled_within: 10.101 s}", 24, 20, "0:05:20", 20.9, 20),
                     SUSPECT_PULLED_OUT);
    assert_int_equal(second_reading("{pulled_within: 10.1 s}", 24, 20, "0:05:20", 20.9, 20),
                     READING_GOOD);
}

static void
test_back_on_both_sides_of_three_quarters(void **state)
{
    (void)state;
    static const struct {
        double back;
        uint16_t quality;
    } cases[] = {{23, SUSPECT_SETTLING},
                 {22.999, SUSPECT_PULLED_OUT},
                 {17, SUSPECT_PULLED_OUT},  /* on the other side of the air */
                 {28, SUSPECT_SETTLING},    /* a jump from the food is within reach */
                 {40, SUSPECT_PULLED_OUT}}; /* this is other food */
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
        beside(rig, 310, 310, 24, 24, 20);
        beside(rig, 320, 320, 20.1, 20.1, 20);
        assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
        beside(rig, 330, 330, cases[i].back, cases[i].back, 20);
        if (rig->quality != cases[i].quality)
            fail_msg("case %zu: quality %d", i, rig->quality);
        rig_free(rig);
    }
}

/* Four degrees apart food loses at most 4 ln 4 / 12 = 0.462 in 10 s; 0.5 is for wavering. */
static void
test_way_out_on_both_sides_of_the_bound(void **state)
{
    (void)state;
    for (int k = 0; k < 2; k++) {
        struct rig *rig = play(COOL, "0:00:00 begin dish p1\n0:00:05 cooked 0:00:01\n");
        beside(rig, 310, 310, 22.0, 22.0, 18.0);
        beside(rig, 320, 320, k ? 21.037 : 21.038, 21.0, 18.0);
        rig->log[rig->log_len] = '\0';
        assert_null(strstr(rig->log, "limit-met"));
        rig_free(rig);
        rig = play(
            "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21.04 °C, within: 2 "
            "h}]}" IN_AIR,
            "0:00:00 begin dish p1\n0:00:05 cooked 0:00:01\n");
        beside(rig, 310, 310, 22.0, 22.0, 18.0);
        beside(rig, 320, 320, k ? 21.037 : 21.038, 21.0, 18.0);
        beside(rig, 330, 330, 18.5, 18.5, 18.0);
        rig->log[rig->log_len] = '\0';
        assert_non_null(strstr(rig->log, "limit-met reached stage 1"));
        assert_int_equal(strstr(rig->log, "met-withdrawn") != NULL, k);
        rig_free(rig);
    }
}

/* ---- missing readings ---- */

/* Whatever readings are missing, air meets no stage: unless the probe was silent for so long
 * that this is a deviation of its own. */
static void
test_missing_readings_never_let_air_meet_a_stage(void **state)
{
    (void)state;
    uint64_t seed = 20261130;
    size_t seen = 0;
    for (int round = 0; round < 300; round++) {
        struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
        beside(rig, 10, 600, 60.0, 57.5, 20.0);
        beside(rig, 610, 5100, 56.9, 25.0 + round % 20, 20.0);
        rig->log_len = 0;
        int dark = 0;
        for (int s = 5110; s <= 6500; s += 10) {
            seed = seed * UINT64_C(6364136223846793005) + 1442695040888963407U;
            uint64_t draw = seed >> 33;
            if (dark == 0 && draw % 40 == 0)
                dark = (int)(draw / 40 % 40);
            double left = exp(-(s - 5100) / 6.0);
            char line[96];
            snprintf(line, sizeof line, "%d:%02d:%02d a1 20.0\n", s / 3600, s / 60 % 60,
                     s % 60);
            rig_play(rig, line);
            snprintf(line, sizeof line, "%d:%02d:%02d p1 %.1f\n", s / 3600, s / 60 % 60, s % 60,
                     20.1 + (5 + round % 20) * left);
            if (dark > 0)
                dark--;
            else
                rig_play(rig, line);
        }
        rig->log[rig->log_len] = '\0';
        const char *met = strstr(rig->log, "limit-met"), *gap = strstr(rig->log, "gap-opened");
        if (met != NULL && (gap == NULL || gap > met))
            fail_msg("round %d: air met a stage:\n%s", round, rig->log);
        seen += strstr(rig->log, "pulled-out") != NULL;
        rig_free(rig);
    }
    assert_true(seen > 200); /* the stories are about something */
}

/* Without a fresh reading of the air nobody can tell what the probe is in: it stays as it was.
 */
static void
test_without_fresh_air_nothing_changes(void **state)
{
    (void)state;
    struct rig *rig = cooled_to_25();
    rig_play(rig, "1:25:31 p1 20.1\n"); /* the air was last read at 1:25:00, 30 s are fresh */
    assert_int_equal(rig->quality, READING_GOOD); /* food could have fallen by that in 31 s */
    rig_free(rig);
    rig = cooled_to_25();
    rig_play(rig, "1:25:30 p1 20.1\n");
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
    rig_play(rig, "1:25:40-1:28:00 p1 24.6\n");
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
    rig_free(rig);
}

/* From the drawer at 20 °C into food that is as cold as its place: that is no pull. Five
 * minutes later it would be one. */
static void
test_probe_put_into_food_as_cold_as_its_place_is_believed(void **state)
{
    (void)state;
    static const char hold[] =
        "{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 2 h}" IN_AIR;
    struct rig *rig = play(hold, "0:00:00 begin dish p1\n");
    beside(rig, 10, 270, 20, 20, 3.0);
    beside(rig, 280, 300, 10, 4, 3.0);
    beside(rig, 310, 600, 4, 4, 3.0);
    rig->log[rig->log_len] = '\0';
    assert_null(strstr(rig->log, "pulled-out"));
    assert_int_equal(rig->out.quality, READING_GOOD);
    rig_free(rig);
    rig = play(hold, "0:00:00 begin dish p1\n");
    beside(rig, 10, 310, 20, 20, 3.0);
    beside(rig, 320, 320, 4, 4, 3.0);
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
    rig_free(rig);
}

/* A person has handed the probe to other food: what it shows next is that food. */
static void
test_hand_over_forgets_the_food_before(void **state)
{
    (void)state;
    struct rig *rig = cooled_to_25();
    rig_play(rig, "1:25:05 end discarded\n1:25:06 begin dish p1\n");
    rig->log_len = 0;
    beside(rig, 5110, 5130, 20.5, 20.5, 20.0);
    assert_int_equal(rig->out.quality, READING_GOOD);
    rig->log[rig->log_len] = '\0';
    assert_null(strstr(rig->log, "suspect-begun"));
    rig_free(rig);
}

/* ---- the physics ---- */

/* What is left of its distance at the centre: slab, cylinder, sphere with the surface held. The
 * roots of J0 and the values of J1 there: Abramowitz and Stegun, table 9.5. */
static double
left_of(int shape, double fourier)
{
    static const double root[] = {2.40482556, 5.52007811, 8.65372791, 11.79153444},
                        j1[] = {0.51914750, -0.34026481, 0.27145230, -0.23245983};
    const double pi = 3.14159265358979323846;
    double sum = 0;
    for (int n = 0; n < 4; n++) {
        double odd = (2 * n + 1) * pi / 2, even = (n + 1) * pi, sign = n % 2 ? -1 : 1;
        sum += shape == 0   ? sign * 2 / odd * exp(-odd * odd * fourier)
               : shape == 1 ? 2 / (root[n] * j1[n]) * exp(-root[n] * root[n] * fourier)
                            : sign * 2 * exp(-even * even * fourier);
    }
    return sum;
}

/* The thinnest pieces that the default is good for, in air of 3 °C from 60 °C on. */
static void
test_thin_food_at_its_fastest_is_never_taken_for_a_pulled_probe(void **state)
{
    (void)state;
    static const double half_mm[] = {5.5, 8.5, 11.0};
    for (int shape = 0; shape < 3; shape++) {
        struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
        double tau_s = half_mm[shape] * half_mm[shape] / 0.14;
        beside(rig, 10, 100, 60.0, 60.0, 3.0);
        for (int s = 110; s < 1800; s += 10) {
            double fourier = (s - 100) / tau_s;
            double left = fourier < 0.15 ? 1 : left_of(shape, fourier); /* four terms */
            beside(rig, s, s, 3 + 57 * (left > 1 ? 1 : left), 3, 3.0);
        }
        rig->log[rig->log_len] = '\0';
        if (strstr(rig->log, "pulled-out"))
            fail_msg("shape %d:\n%s", shape, rig->log);
        rig_free(rig);
    }
}

/* ---- recorded runs ---- */

static struct rig *
feed_trace(const char *limit, const struct trace_row *rows, size_t count, size_t pulled)
{
    struct rig *rig = play(limit, "0:00:00 begin dish p1\n");
    rig->log_len = 0;
    double from_mC = 0;
    for (size_t i = 0; i < count; i++) {
        int64_t at_ms = RIG_BASE_MS + 1000 + (int64_t)(rows[i].time_s - rows[0].time_s) * 1000;
        int32_t core_mC = rows[i].core_mC;
        if (i < pulled && core_mC != TEMP_NONE)
            from_mC = core_mC;
        if (i >= pulled) /* a sensor of 6 s, in the air from then on */
            core_mC = rows[i].air_mC +
                      (int32_t)((from_mC - rows[i].air_mC) *
                                exp(-(rows[i].time_s - rows[pulled - 1].time_s) / 6.0));
        for (uint16_t probe = 1; probe <= 4; probe += 3) {
            int32_t temp_mC = probe == 1 ? core_mC : rows[i].air_mC;
            struct engine_input input = {.kind = ENGINE_READING, .at_ms = at_ms};
            input.is.reading = (struct reading){
                at_ms, temp_mC, probe, temp_mC == TEMP_NONE ? BAD_TIMEOUT : READING_GOOD};
            rig_feed(rig, &input);
        }
    }
    rig->log[rig->log_len] = '\0';
    return rig;
}

/* Taken out of the oven, stirred, left alone: the probe is in the food all the time. */
static void
test_recorded_runs_have_no_pulled_probe(void **state)
{
    (void)state;
    static const struct {
        const char *limit;
        const struct trace_row *rows;
        size_t count;
    } runs[] = {
        {COOK, taken_out_a, COUNT(taken_out_a)},
        {COOK, taken_out_b, COUNT(taken_out_b)},
        {COOL, stirred, COUNT(stirred)},
        {COOL, left_alone, COUNT(left_alone)},
    };
    for (size_t i = 0; i < COUNT(runs); i++) {
        struct rig *rig = feed_trace(runs[i].limit, runs[i].rows, runs[i].count, SIZE_MAX);
        if (strstr(rig->log, "pulled-out"))
            fail_msg("run %zu:\n%s", i, rig->log);
        rig_free(rig);
    }
}

/* The same run, with the probe pulled out in the middle of it. */
static void
test_recorded_run_with_a_pull_put_into_it_is_recognised(void **state)
{
    (void)state;
    struct rig *rig = feed_trace(COOL, left_alone, COUNT(left_alone), COUNT(left_alone) / 2);
    assert_non_null(strstr(rig->log, "suspect-begun pulled-out"));
    assert_null(strstr(rig->log, "suspect-ended"));
    rig_free(rig);
}

static void
test_state_saved_while_out_changes_nothing(void **state)
{
    (void)state;
    struct rig *whole = cooled_to_25(), *loaded = cooled_to_25();
    for (int part = 0; part < 4; part++) {
        for (int k = 0; k < 2; k++) {
            struct rig *rig = k ? loaded : whole;
            beside(rig, 5110 + part * 100, 5200 + part * 100, part < 2 ? 20.2 : 24.6,
                   part < 2 ? 20.1 : 24.5, 20.0);
        }
        rig_reload(loaded);
    }
    whole->log[whole->log_len] = '\0';
    assert_non_null(strstr(whole->log, "suspect-ended good-again"));
    rig_expect(loaded, whole->log);
    rig_free(whole);
    rig_free(loaded);
}

/* E183: the last reading of the food itself was outside already; that is no way out. Of eight
 * readings that are kept, whichever it is. */
static void
test_food_that_was_outside_before_the_probe_was_pulled_stays_outside(void **state)
{
    (void)state;
    for (int i = 0; i < 8; i++) {
        struct rig *rig = play(HOT, "0:00:00 begin dish p1\n");
        int out_s = 610 + i * 20; /* each second reading is kept */
        beside(rig, 10, out_s - 10, 65.0, 60.1, 20.0);
        beside(rig, out_s, out_s, 59.9, 59.9, 20.0);
        beside(rig, out_s + 10, out_s + 70, 20.5, 20.0, 20.0);
        rig->log[rig->log_len] = '\0';
        assert_non_null(strstr(rig->log, "suspect-begun pulled-out p1 20.5"));
        assert_non_null(strstr(rig->log, "deviation-opened out-too-long #1"));
        rig_free(rig);
    }
}

#define ZONE                                                                                    \
    "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, within: " \
    "4 h}"

/* E183: what it shows in the air is like no reading, also for what is judged beside the step.
 */
static void
test_pulled_probe_brings_no_food_into_the_danger_zone(void **state)
{
    (void)state;
    rig_life = ZONE;
    struct rig *rig = play(HOT, "0:00:00 begin dish p1\n");
    rig_life = NULL;
    beside(rig, 10, 600, 65.0, 65.0, 20.0);
    beside(rig, 610, 640, 20.5, 20.0, 20.0);
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
    assert_false(rig_batch(rig).in_zone);
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    rig_free(rig);
}

/* E31, E183: that the food was hot stays known, whichever of its readings was the last that is
 * kept beside the air. */
static void
test_probe_pulled_from_hot_food_leaves_its_cooling_as_it_was(void **state)
{
    (void)state;
    for (int late_s = 0; late_s <= 10; late_s += 10) {
        struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
        beside(rig, 10, 600 + late_s, 62.0, 62.0, 20.0);
        beside(rig, 610 + late_s, 640, 20.5, 20.5, 20.0);
        beside(rig, 650, 720, 55.0, 55.0, 20.0);
        rig->log[rig->log_len] = '\0';
        assert_non_null(strstr(rig->log, "suspect-begun pulled-out p1 20.5"));
        assert_non_null(strstr(rig->log, late_s == 0 ? "clock-started fell-through-start p1 "
                                                       "55.0 since 0:10:00\n"
                                                     : "clock-started fell-through-start p1 "
                                                       "55.0 since 0:10:10\n"));
        assert_null(strstr(rig->log, "deviation"));
        rig_free(rig);
    }
}

/* As before, and for as long as what was kept of the other food could tell anything. */
static void
test_hand_over_forgets_the_food_before_also_when_it_is_over(void **state)
{
    (void)state;
    struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 65.0, 65.0, 20.0);
    rig_play(rig, "0:10:05 end discarded\n0:10:06 begin dish p1\n");
    for (int s = 610; s <= 1200; s += 10) {
        beside(rig, s, s, 20.0, 20.0, 20.0);
        assert_int_equal(rig->out.quality, READING_GOOD);
    }
    rig_free(rig);
}

#define STAGES_3                                                                                \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 40 °C, within: 1 h}, {to: 21 " \
    "°C, within: 3 h}, {to: 5 °C, within: 4 h, counts_from: stage_before}]}" IN_AIR

/* E183: the second stage as well as the first; nothing of it is left that would count for the
 * third, whose time begins when it is really reached. */
static void
test_second_stage_met_on_the_way_out_is_taken_back(void **state)
{
    (void)state;
    struct rig *rig = play(STAGES_3, "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 60.0, 57.5, 18.0);
    beside(rig, 610, 5100, 56.9, 22.0, 18.0);
    beside(rig, 5110, 5110, 21.9, 21.9, 18.0);
    rig->log_len = 0;
    beside(rig, 5120, 5120, 20.6, 20.6, 18.0);
    beside(rig, 5130, 5130, 18.8, 18.8, 18.0);
    rig_expect(rig, "1:25:20 limit-met reached stage 2 p1 20.6 since 0:10:00 found 1:15:20\n"
                    "1:25:30 suspect-begun pulled-out p1 18.8 since 1:25:20\n"
                    "1:25:30 met-withdrawn pulled-out stage 2 p1 20.6 since 0:10:00\n");
    /* Put back, and cold in truth some minutes later. */
    beside(rig, 5140, 5200, 18.2, 18.2, 18.0);
    beside(rig, 5210, 5280, 21.6, 21.6, 18.0);
    rig->log_len = 0;
    beside(rig, 5290, 5500, 21.5, 21.0, 18.0);
    rig_expect(rig, "1:31:40 limit-met reached stage 2 p1 21.0 since 0:10:00 found 1:21:40\n");
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("5:31:40"));
    rig_free(rig);
}

/* E38, E183: a deviation before it stays one. */
static void
test_stage_taken_back_after_a_late_one_is_not_open_again(void **state)
{
    (void)state;
    struct rig *rig = play(STAGES_3, "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 60.0, 57.5, 18.0);
    beside(rig, 610, 5100, 56.9, 40.1, 18.0);
    beside(rig, 5110, 9000, 39.9, 22.0, 18.0);
    beside(rig, 9010, 9010, 21.9, 21.9, 18.0);
    beside(rig, 9020, 9020, 20.6, 20.6, 18.0);
    beside(rig, 9030, 9030, 18.8, 18.8, 18.0);
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "1:10:00 deviation-opened too-late #1 stage 1"));
    assert_non_null(strstr(rig->log, "met-withdrawn pulled-out stage 2"));
    assert_int_equal(rig_batch(rig).verdict, VERDICT_NOT_MET);
    rig_free(rig);
}

/* E36, E183: what was on the way out is taken back likewise when the end of cooking, said in
 * between, has let it meet the stage. */
static void
test_stage_met_by_the_end_of_cooking_on_the_way_out_is_taken_back(void **state)
{
    (void)state;
    struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
    beside(rig, 10, 5100, 30.0, 22.0, 18.0);
    beside(rig, 5110, 5110, 21.9, 21.9, 18.0);
    beside(rig, 5120, 5120, 20.6, 20.6, 18.0);
    rig->log_len = 0;
    rig_play(rig, "1:25:25 cooked 0:05:00\n");
    beside(rig, 5130, 5130, 18.8, 18.8, 18.0);
    rig_expect(rig, "1:25:25 clock-started cooked-at p1 20.6 since 0:05:00\n"
                    "1:25:25 limit-met reached stage 1 20.6 since 0:05:00 found 1:20:20\n"
                    "1:25:30 suspect-begun pulled-out p1 18.8 since 1:25:20\n"
                    "1:25:30 met-withdrawn pulled-out stage 1 p1 20.6 since 0:05:00\n");
    rig_free(rig);
}

/* Its time was over meanwhile: late at once. */
static void
test_stage_taken_back_after_its_time_is_late_at_once(void **state)
{
    (void)state;
    struct rig *rig = play("{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, "
                           "within: 4525 s}]}" IN_AIR,
                           "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 60.0, 57.5, 18.0);
    beside(rig, 610, 5100, 56.9, 22.0, 18.0);
    beside(rig, 5110, 5110, 21.9, 21.9, 18.0);
    rig->log_len = 0;
    beside(rig, 5120, 5120, 20.6, 20.6, 18.0);
    beside(rig, 5130, 5130, 18.8, 18.8, 18.0);
    rig_play(rig, "1:25:30 wait\n");
    rig_expect(rig, "1:25:20 limit-met reached stage 1 p1 20.6 since 0:10:00 found 1:15:20\n"
                    "1:25:30 suspect-begun pulled-out p1 18.8 since 1:25:20\n"
                    "1:25:30 met-withdrawn pulled-out stage 1 p1 20.6 since 0:10:00\n"
                    "1:25:30 deviation-opened too-late #1 stage 1 p1 20.6 since 0:10:00 found "
                    "1:15:30\n");
    rig_free(rig);
}

/* The air was measured once beside the food, whenever that was: what the probe showed then is
 * enough to tell that it came down too fast. */
static void
test_stage_met_on_the_way_out_is_taken_back_by_one_reading_beside_the_air(void **state)
{
    (void)state;
    for (int more = 0; more < 9; more++) {
        struct rig *rig = play(COOL, "0:00:00 begin dish p1\n0:00:10-0:10:00 p1 60.0 57.1\n"
                                     "0:10:10-1:20:00 p1 56.9 25.0\n");
        static const struct {
            int after_s;
            const char *shows;
        } then[] = {{29, "a1 20.0"},
                    {30, "p1 25.0"},
                    {60, "p1 21.0"},
                    {89, "a1 20.0"},
                    {90, "p1 20.0"}};
        char line[80];
        int s = 4800;
        for (int i = 0; i < more; i++) {
            s += 30;
            (void)snprintf(line, sizeof line, "%d:%02d:%02d p1 25.0\n", s / 3600, s / 60 % 60,
                           s % 60);
            rig_play(rig, line);
        }
        rig->log_len = 0;
        for (size_t i = 0; i < COUNT(then); i++) {
            int at_s = s + then[i].after_s;
            (void)snprintf(line, sizeof line, "%d:%02d:%02d %s\n", at_s / 3600, at_s / 60 % 60,
                           at_s % 60, then[i].shows);
            rig_play(rig, line);
        }
        rig->log[rig->log_len] = '\0';
        assert_non_null(strstr(rig->log, "limit-met reached stage 1 p1 21.0"));
        assert_non_null(strstr(rig->log, "met-withdrawn pulled-out"));
        rig_free(rig);
    }
}

/* The batch is in the last place of the plan, whose air the plan's first probe measures; the
 * other place is much colder. Once a second, and the probe comes to the air within two minutes.
 */
static void
test_air_is_that_of_the_batchs_own_place_and_goes_back_two_minutes(void **state)
{
    (void)state;
    static const char plan[] = PLAN_HEAD PLAN_PROBE("cellar", "air", "rack", "0", "1 s")
        PLAN_PROBE("cold", "air", "rack", "1", "1 s") PLAN_PROBE(
            "core", "food", "rack", "2",
            "1 s") "places:\n  - {id: fridge, name: Fridge, probe: cold, limit: {kind: none}}\n"
                   "  - {id: cellar, name: Cellar, probe: cellar, limit: {kind: none}}\n"
                   "products:\n  - id: dish\n    name: Dish\n    steps: [{id: cool, name: "
                   "Cool, place: cellar, limit: " COOLING "}]\n";
    struct rig *rig = rig_of(plan);
    rig_play(rig, "0:00:00 begin dish core\n");
    for (int s = 1; s <= 1512; s++) {
        double food = s < 600    ? 60.0 - s / 200.0
                      : s < 1300 ? 57.0 - (s - 600) * 32.0 / 700
                      : s < 1400 ? 25.0
                                 : 25.0 - (s - 1400) * 4.1 / 110;
        char line[160];
        (void)snprintf(line, sizeof line,
                       "0:%02d:%02d cold 3.0\n0:%02d:%02d cellar 20.0\n0:%02d:%02d core %.3f\n",
                       s / 60, s % 60, s / 60, s % 60, s / 60, s % 60,
                       food < 20.9 ? 20.9 : food);
        rig_play(rig, line);
    }
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "suspect-begun pulled-out"));
    rig_free(rig);
}

/* A batch with p1 and p2 beside the air; p1, or the other one, is pulled out at 0:10:20. */
static struct rig *
pulled_of_two(const char *limit, bool other, const char *rest)
{
    char line[500];
    struct rig *rig = play(limit, "0:00:00 begin dish p1 p2\n");
    for (int s = 10; s <= 600; s += 10) {
        (void)snprintf(line, sizeof line, "0:%02d:%02d a1,p1,p2 20.0\n", s / 60, s % 60);
        char *food = strstr(line, "a1,p1,p2 20.0");
        (void)snprintf(food, sizeof line - (size_t)(food - line),
                       "a1 20.0\n0:%02d:%02d p1,p2 65.0\n", s / 60, s % 60);
        rig_play(rig, line);
    }
    (void)snprintf(line, sizeof line,
                   "0:10:10 a1 20.0\n0:10:10 %s 40.0\n%s0:10:20 a1 20.0\n0:10:20 %s 22.0\n",
                   other ? "p2" : "p1", rest, other ? "p2" : "p1");
    rig_play(rig, line);
    rig->log[rig->log_len] = '\0';
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
    rig->log_len = 0;
    return rig;
}

/* E26, E183: another probe is outside as well, whichever of them is pulled. */
static void
test_excursion_of_another_probe_is_not_taken_back(void **state)
{
    (void)state;
    for (int other = 0; other < 2; other++) {
        char script[200], log[200];
        const char *left = other ? "p1" : "p2";
        (void)snprintf(script, sizeof script, "0:10:15 %s 61.5\n0:10:16 %s 59.9\n", left, left);
        struct rig *rig = pulled_of_two(HOT, other, script);
        (void)snprintf(script, sizeof script, "0:10:25-0:11:25 %s 59.9\n", left);
        rig_play(rig, script);
        (void)snprintf(log, sizeof log,
                       "0:11:10 deviation-opened out-too-long #1 p%d 40.0 since 0:10:10 found "
                       "0:01:00\n",
                       other + 1);
        rig_expect(rig, log);
        rig_free(rig);
    }
}

/* E21, E183: what was taken back does not keep a later time outside from ending. */
static void
test_probe_that_was_pulled_out_is_outside_no_longer(void **state)
{
    (void)state;
    for (int other = 0; other < 2; other++) {
        char script[200];
        const char *left = other ? "p1" : "p2";
        struct rig *rig = pulled_of_two(HOT, other, "");
        (void)snprintf(script, sizeof script,
                       "0:10:25 %s 62.0\n0:10:35 %s 59.9\n0:10:45-0:12:00 %s 61.0\n", left,
                       left, left);
        rig_play(rig, script);
        assert_false(rig_batch(rig).outside);
        rig_expect(rig, "");
        rig_free(rig);
    }
}

/* E183: an excursion with a short return in it is taken back with all that was counted of it:
 * the next one has the whole tolerance. */
static void
test_excursion_that_is_taken_back_leaves_nothing_counted(void **state)
{
    (void)state;
    struct rig *rig = play(HOT, "0:00:00 begin dish p1 p2\n");
    for (int s = 10; s <= 600; s += 10) {
        char line[120];
        (void)snprintf(line, sizeof line, "0:%02d:%02d a1 20.0\n0:%02d:%02d p1,p2 60.5\n",
                       s / 60, s % 60, s / 60, s % 60);
        rig_play(rig, line);
    }
    rig_play(rig, "0:10:01 p1 59.9\n0:10:02 p2 60.5\n0:10:03 p1 60.1\n0:10:10 a1 20.0\n0:10:14 "
                  "p1 22.0\n0:10:20-0:11:00 p2 60.5\n0:11:10-0:12:20 p2 59.9\n");
    rig_expect(rig, "0:10:14 suspect-begun pulled-out p1 22.0 since 0:10:03\n"
                    "0:12:10 deviation-opened out-too-long #1 p2 59.9 since 0:11:10 found "
                    "0:01:00\n");
    rig_free(rig);
}

/* E183: a deviation is not taken back, and ends as any. */
static void
test_deviation_on_the_way_out_stays_one(void **state)
{
    (void)state;
    struct rig *rig = play("{kind: hold_hot, applies_to: food, at_least: 60 °C, tolerance: 0 "
                           "s}" IN_AIR,
                           "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 65.0, 65.0, 20.0);
    beside(rig, 610, 610, 40.0, 40.0, 20.0);
    beside(rig, 620, 620, 22.0, 22.0, 20.0);
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
    rig_play(rig, "0:10:30 end served\n");
    rig_expect(rig, "0:10:10 suspect-begun left-food p1 40.0 since 0:10:00\n"
                    "0:10:10 deviation-opened out-too-long #1 p1 40.0 since 0:10:10\n"
                    "0:10:30 deviation-ended batch-ended #1 worst 40.0 since 0:10:10 found "
                    "0:00:20\n"
                    "0:10:30 suspect-ended entered p1 since 0:10:00\n");
    rig_free(rig);
}

/* E140, E183: the one time outside has begun, and is not taken back. */
static void
test_one_time_outside_that_began_on_the_way_out_counts(void **state)
{
    (void)state;
    struct rig *rig = play("{kind: hold_hot, applies_to: food, at_least: 60 °C, one_period: 2 "
                           "h}" IN_AIR,
                           "0:00:00 begin dish p1\n");
    beside(rig, 10, 600, 65.0, 65.0, 20.0);
    beside(rig, 610, 610, 40.0, 40.0, 20.0);
    beside(rig, 620, 620, 22.0, 22.0, 20.0);
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
    assert_true(rig_batch(rig).outside);
    assert_int_equal(rig_batch(rig).deadline_ms, rig_time("2:10:00"));
    rig_free(rig);
}

/* E184: 5 °C from the air it has to be 3.75 away again for a minute at a stretch. */
static void
test_stay_of_a_probe_put_back_is_unbroken(void **state)
{
    (void)state;
    struct rig *rig = cooled_to_25();
    beside(rig, 5110, 5110, 20.4, 20.4, 20.0);
    beside(rig, 5120, 5120, 20.1, 20.1, 20.0);
    beside(rig, 5130, 5130, 22.3, 22.3, 20.0);
    beside(rig, 5140, 5140, 24.5, 24.5, 20.0);
    assert_int_equal(rig->quality, SUSPECT_SETTLING);
    beside(rig, 5150, 5150, 22.3, 22.3, 20.0);
    assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
    beside(rig, 5160, 5210, 24.5, 24.5, 20.0);
    assert_int_equal(rig->quality, SUSPECT_SETTLING);
    beside(rig, 5220, 5220, 24.5, 24.5, 20.0);
    assert_int_equal(rig->quality, READING_GOOD);
    rig_free(rig);
}

/* Nobody has seen it stay in 40 s without a reading: 30 s are its spacing. */
static void
test_pause_begins_the_stay_anew(void **state)
{
    (void)state;
    struct rig *rig = cooled_to_25();
    beside(rig, 5110, 5110, 20.4, 20.4, 20.0);
    beside(rig, 5120, 5200, 20.1, 20.1, 20.0);
    beside(rig, 5210, 5230, 24.6, 24.6, 20.0);
    beside(rig, 5270, 5320, 24.6, 24.6, 20.0);
    assert_int_equal(rig->quality, SUSPECT_SETTLING);
    beside(rig, 5330, 5330, 24.6, 24.6, 20.0);
    assert_int_equal(rig->quality, READING_GOOD);
    rig_free(rig);
}

/* E184, E47: a jump and as much drift, 8 °C, from the food as it was. */
static void
test_probe_put_back_is_within_reach_of_the_food(void **state)
{
    (void)state;
    static const struct {
        double temp;
        uint16_t quality;
    } cases[] = {{52.0, SUSPECT_SETTLING}, {51.999, SUSPECT_PULLED_OUT}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct rig *rig = play(COOL, "0:00:00 begin dish p1\n");
        beside(rig, 10, 600, 60.0, 60.0, 20.0);
        beside(rig, 610, 650, 20.5, 20.5, 20.0);
        assert_int_equal(rig->quality, SUSPECT_PULLED_OUT);
        beside(rig, 660, 660, cases[i].temp, cases[i].temp, 20.0);
        assert_int_equal(rig->quality, cases[i].quality);
        rig_free(rig);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pulled_probe_near_the_air_meets_no_stage),
        cmocka_unit_test(test_stage_met_on_the_way_out_is_taken_back),
        cmocka_unit_test(test_stage_met_before_the_probe_was_pulled_stays_met),
        cmocka_unit_test(
            test_probe_put_back_is_believed_after_settling_and_the_clock_has_run_on),
        cmocka_unit_test(test_wavering_in_the_air_is_no_coming_back),
        cmocka_unit_test(test_pulled_from_hot_holding_is_silence_not_a_deviation_of_it),
        cmocka_unit_test(test_pulled_probe_earns_no_holding_time),
        cmocka_unit_test(test_air_that_comes_to_meet_the_food_is_no_pulled_probe),
        cmocka_unit_test(test_without_the_air_of_its_place_the_rule_cannot_see),
        cmocka_unit_test(test_pulled_on_both_sides_of_every_boundary),
        cmocka_unit_test(test_back_on_both_sides_of_three_quarters),
        cmocka_unit_test(test_way_out_on_both_sides_of_the_bound),
        cmocka_unit_test(test_missing_readings_never_let_air_meet_a_stage),
        cmocka_unit_test(test_probe_put_into_food_as_cold_as_its_place_is_believed),
        cmocka_unit_test(test_without_fresh_air_nothing_changes),
        cmocka_unit_test(test_hand_over_forgets_the_food_before),
        cmocka_unit_test(test_thin_food_at_its_fastest_is_never_taken_for_a_pulled_probe),
        cmocka_unit_test(test_recorded_runs_have_no_pulled_probe),
        cmocka_unit_test(test_recorded_run_with_a_pull_put_into_it_is_recognised),
        cmocka_unit_test(test_state_saved_while_out_changes_nothing),
        cmocka_unit_test(test_food_that_was_outside_before_the_probe_was_pulled_stays_outside),
        cmocka_unit_test(test_pulled_probe_brings_no_food_into_the_danger_zone),
        cmocka_unit_test(test_probe_pulled_from_hot_food_leaves_its_cooling_as_it_was),
        cmocka_unit_test(test_hand_over_forgets_the_food_before_also_when_it_is_over),
        cmocka_unit_test(test_second_stage_met_on_the_way_out_is_taken_back),
        cmocka_unit_test(test_stage_taken_back_after_a_late_one_is_not_open_again),
        cmocka_unit_test(test_stage_met_by_the_end_of_cooking_on_the_way_out_is_taken_back),
        cmocka_unit_test(test_stage_taken_back_after_its_time_is_late_at_once),
        cmocka_unit_test(
            test_stage_met_on_the_way_out_is_taken_back_by_one_reading_beside_the_air),
        cmocka_unit_test(test_air_is_that_of_the_batchs_own_place_and_goes_back_two_minutes),
        cmocka_unit_test(test_excursion_of_another_probe_is_not_taken_back),
        cmocka_unit_test(test_probe_that_was_pulled_out_is_outside_no_longer),
        cmocka_unit_test(test_excursion_that_is_taken_back_leaves_nothing_counted),
        cmocka_unit_test(test_deviation_on_the_way_out_stays_one),
        cmocka_unit_test(test_one_time_outside_that_began_on_the_way_out_counts),
        cmocka_unit_test(test_stay_of_a_probe_put_back_is_unbroken),
        cmocka_unit_test(test_pause_begins_the_stay_anew),
        cmocka_unit_test(test_probe_put_back_is_within_reach_of_the_food),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
