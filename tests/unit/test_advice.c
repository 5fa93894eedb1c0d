/* Forecasts beside the watch: from stored readings to what the board shows and the record
 * keeps.
 *
 * What the food truly does next is found by letting a copy of it live on: a ball in shells that
 * shares no code with the forecasting room (tests/kitchen/physics.c). */
#include "tests/support/recorder_rig.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/kitchen/physics.c" /* no part of the library that tests are linked with */
#include "trivet/advice.h"
#include "trivet/earlier.h"
#include "trivet/snapshot.h"

static const char PLAN[] =
    "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"
    "people:\n"
    "  - {initials: AB, name: Ana Brandt, role: cook}\n"
    "  - {initials: JO, name: Jun Okada, role: supervisor}\n"
    "buses:\n"
    "  - {id: line, driver: modbus-tcp, host: 127.0.0.1, port: 15020}\n"
    "probes:\n"
    "  - {id: core, name: Core, kind: food, bus: line, unit: 1, function: 4, register: 0, "
    "type: int16, scale: 0.1 °C, plausible: [-40 °C, 200 °C], every: 5 s}\n"
    "  - {id: oven-air, name: Oven air, kind: air, bus: line, unit: 1, function: 4, register: "
    "1, "
    "type: int16, scale: 0.1 °C, plausible: [-40 °C, 300 °C], every: 5 s}\n"
    "  - {id: blast-air, name: Blast air, kind: air, bus: line, unit: 1, function: 4, "
    "register: "
    "2, type: int16, scale: 0.1 °C, plausible: [-60 °C, 60 °C], every: 5 s}\n"
    "places:\n"
    "  - {id: oven, name: Oven, probe: oven-air, limit: {kind: none}}\n"
    "  - {id: blast, name: Blast chiller, probe: blast-air, limit: {kind: none}}\n"
    "products:\n"
    "  - id: roast\n"
    "    name: Roast\n"
    "    steps:\n"
    "      - id: cook\n"
    "        name: Roasting\n"
    "        place: oven\n"
    "        aim: 68 °C\n"
    "        limit: {kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}\n"
    "      - {id: rest, name: Resting, limit: {kind: none}}\n"
    "  - id: brisket\n"
    "    name: Brisket\n"
    "    steps:\n"
    "      - id: cook\n"
    "        name: Low and slow\n"
    "        place: oven\n"
    "        aim: 62 °C\n"
    "        limit: {kind: lethality, applies_to: food, reference: 70 °C, z: 7.5 °C, for: 2 "
    "min, validated_by: 'JO, test'}\n"
    "      - {id: rest, name: Resting, limit: {kind: none}}\n"
    "  - id: tabled\n"
    "    name: Tabled roast\n"
    "    steps:\n"
    "      - id: cook\n"
    "        name: Roasting\n"
    "        place: oven\n"
    "        limit: {kind: cook_table, applies_to: food, rows: [{at_least: 54 °C, for: 2 h}, "
    "{at_least: 60 °C, for: 12 min}, {at_least: 65 °C, for: 1 min}]}\n"
    "      - {id: rest, name: Resting, limit: {kind: none}}\n"
    "  - id: ham\n"
    "    name: Ham\n"
    "    steps:\n"
    "      - {id: cook, name: Roasting, place: oven, limit: {kind: cook, applies_to: food, "
    "at_least: 63 °C, for: 3 min}}\n"
    "      - {id: rest, name: Resting, limit: {kind: none}}\n"
    "  - id: moist\n"
    "    name: Roast in moist heat\n"
    "    steps:\n"
    "      - {id: cook, name: Roasting, place: oven, limit: {kind: cook, applies_to: food, "
    "at_least: 63 °C, for: 3 min, oven: high_humidity, oven_rows: [{oven: high_humidity, "
    "from_g: 1, at_most: 121 °C}]}}\n"
    "      - {id: rest, name: Resting, limit: {kind: none}}\n"
    "  - id: dry\n"
    "    name: Roast in dry heat\n"
    "    steps:\n"
    "      - {id: cook, name: Roasting, place: oven, limit: {kind: cook, applies_to: food, "
    "at_least: 63 °C, for: 3 min, oven: still_dry, oven_rows: [{oven: still_dry, from_g: 1, "
    "at_least: 121 °C}]}}\n"
    "      - {id: rest, name: Resting, limit: {kind: none}}\n"
    "  - id: filling\n"
    "    name: Filling\n"
    "    steps:\n"
    "      - id: cool\n"
    "        name: Cooling\n"
    "        place: oven\n"
    "        limit: {kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 "
    "h}, {to: 5 °C, within: 6 h}]}\n"
    "records: {directory: records}\n";

enum { CORE = 1, OVEN_AIR = 2, BLAST_AIR = 3 };

/* The simulated kitchen's ball of food, in air that keeps its temperature. */
struct batch {
    struct food food;
    double air_C;
};

static struct batch
batch_of(double radius_m, double surface_W_m2K, double start_C, double air_C)
{
    struct batch batch = {.food = {.radius_m = radius_m,
                                   .conductivity_W_mK = 0.5,
                                   .diffusivity_m2_s = 1.3e-7,
                                   .surface_W_m2K = surface_W_m2K},
                          .air_C = air_C};
    food_set(&batch.food, start_C);
    return batch;
}

/* Seconds until its core passes a temperature: a copy lives on to see. */
static double
reaches_s(const struct batch *batch, double temp_C)
{
    struct food food = batch->food;
    bool was_below = food.shell_C[0] < temp_C;
    double t_s = 0;
    for (; (food.shell_C[0] < temp_C) == was_below; t_s++)
        (void)food_step(&food, batch->air_C, 1);
    return t_s;
}

static int
set_up(void **state)
{
    int done = rr_set_up(state);
    struct recorder_rig *rig = *state;
    rr_crash(rig);
    char file[96]; /* a store of its own plan */
    (void)snprintf(file, sizeof file, "%s/trivet.db", rig->directory);
    (void)remove(file);
    rig->text = PLAN;
    rr_start(rig);
    return done;
}

static void
begin(struct recorder_rig *rig, const char *product)
{
    struct entry entry = rr_begin_roast();
    entry.mass_g = 500; /* about that of a ball of 5 cm radius */
    (void)snprintf(entry.product, sizeof entry.product, "%s", product);
    if (rr_enter(rig, &entry) != 200)
        fail_msg("%s", rig->answer.say);
}

/* The food lives on and is read every ten seconds. */
static void
watch(struct recorder_rig *rig, struct batch *batch, double for_s)
{
    for (double t_s = 0; t_s < for_s; t_s += 10) {
        for (int step = 0; step < 10; step++)
            (void)food_step(&batch->food, batch->air_C, 1);
        rr_pass(rig, 10000);
        rr_read(rig, CORE, (int32_t)lround(batch->food.shell_C[0] * 1000));
        rr_read(rig, OVEN_AIR, (int32_t)lround(batch->air_C * 1000));
        rr_read(rig, BLAST_AIR, -20000);
    }
    rr_pass(rig, 3000);
}

/* One look of the adviser at the board, given to the recorder; the board's next snapshot. */
static struct snapshot *
look(struct recorder_rig *rig, struct adviser *adviser)
{
    char why[300];
    struct snapshot *seen = board_take(rig->board);
    struct advice_list *list = adviser_look(adviser, seen, why, sizeof why);
    if (list == NULL)
        fail_msg("%s", why);
    snapshot_release(seen);
    struct message message = {
        .kind = MESSAGE_ADVICE, .born_ms = rig->mono_ms, .is.advice = list};
    recorder_take(rig->recorder, &message, 1);
    rr_pass(rig, 2000); /* what it put on record is committed, and then shown */
    return board_take(rig->board);
}

static struct adviser *
adviser_of(const struct recorder_rig *rig)
{
    char why[300];
    struct adviser *adviser = adviser_new(rig->directory, why, sizeof why);
    if (adviser == NULL)
        fail_msg("%s", why);
    return adviser;
}

static struct batch
roast(void)
{
    return batch_of(0.05, 20, 8, 120);
}

/* Takes far longer than 2 h from 57 to 21 °C. */
static struct batch
pot(void)
{
    return batch_of(0.09, 10, 85, 4);
}

static void
a_roast_is_foretold(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct batch food = roast();
    double done_s = reaches_s(&food, 63);
    begin(rig, "roast");
    watch(rig, &food, done_s * 0.6);
    struct snapshot *shown = look(rig, adviser);
    assert_int_equal(shown->batch_count, 1);
    const struct snapshot_batch *batch = &shown->batches[0];
    const struct advice *advice = &batch->advice;
    assert_true(batch->has_advice);
    assert_string_equal(advice->refusal, "");
    assert_int_equal(advice->reach_count, 1);
    assert_false(advice->reach[0].reached);
    double truth_s = reaches_s(&food, 63);
    double said_s = (double)(advice->reach[0].when.p50_ms - shown->at_ms) / 1000;
    /* A core that goes up like this belongs to no kitchen's roast exactly: a third is the
     * corpus' 90th percentile at half way. */
    if (fabs(said_s - truth_s) > truth_s / 3)
        fail_msg("63 °C is in %.0f s, forecast in %.0f s", truth_s, said_s);
    assert_true(advice->reach[0].when.p05_ms < advice->reach[0].when.p50_ms);
    assert_true(advice->reach[0].when.p50_ms < advice->reach[0].when.p95_ms);
    /* Taking it out to end at 68 °C comes no earlier than 63 °C held for 3 min. */
    assert_true(advice->has_take_out);
    assert_true(advice->take_out.p50_ms >= advice->reach[0].when.p50_ms + 180000);
    assert_int_equal(advice->option_count, 2);
    assert_int_equal(advice->options[0].kind, OPTION_WARMER_OVEN);
    assert_true(advice->options[0].p50_ms < advice->reach[0].when.p50_ms);
    assert_true(advice->options[1].p50_ms > advice->reach[0].when.p50_ms);
    assert_non_null(strstr(batch->ahead, ": 63.0 °C about "));
    /* So hot outside by then that resting carries it further. */
    assert_true(advice->limit_decides);
    assert_int_equal(advice->take_out.p50_ms, advice->earned.p50_ms);
    assert_non_null(strstr(batch->ahead, "it will probably end above 68.0 °C."));
    assert_non_null(strstr(batch->if_changed, "with the oven 20 °C hotter (about "));
    /* Nothing was decided by it. */
    assert_int_equal(batch->view.verdict, VERDICT_OPEN);
    assert_int_equal(rr_records(rig, "forecast", NULL, 0), 0);
    snapshot_release(shown);
    adviser_free(adviser);
}

/* The plan's own rules for the oven go before: of a roast at 115 °C that may have at most 121
 * °C only the cooler oven is told, of one at 135 °C that needs 121 °C only the hotter. */
static void
an_oven_that_the_plan_forbids_is_no_option(void **state)
{
    struct recorder_rig *rig = *state;
    static const struct {
        const char *product;
        double oven_C;
        enum advice_option_kind left;
        const char *told, *not_told;
    } OVENS[] = {{"moist", 115, OPTION_COOLER_OVEN, "20 °C cooler", "hotter"},
                 {"dry", 135, OPTION_WARMER_OVEN, "20 °C hotter", "cooler"}};
    for (size_t i = 0; i < 2; i++) {
        struct adviser *adviser = adviser_of(rig);
        struct batch food = batch_of(0.05, 20, 8, OVENS[i].oven_C);
        begin(rig, OVENS[i].product);
        watch(rig, &food, reaches_s(&food, 63) * 0.5);
        struct snapshot *shown = look(rig, adviser);
        const struct snapshot_batch *batch = &shown->batches[0];
        assert_int_equal(batch->advice.option_count, 1);
        assert_int_equal(batch->advice.options[0].kind, OVENS[i].left);
        assert_non_null(strstr(batch->if_changed, OVENS[i].told));
        assert_null(strstr(batch->if_changed, OVENS[i].not_told));
        snapshot_release(shown);
        adviser_free(adviser);
        struct entry entry;
        entry_clear(&entry, ENTRY_END);
        (void)snprintf(entry.who, sizeof entry.who, "AB");
        entry.batch = (uint32_t)i + 1;
        entry.outcome = OUTCOME_DISCARDED;
        if (rr_enter(rig, &entry) != 200)
            fail_msg("%s", rig->answer.say);
    }
}

static void
too_early_says_how_long(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct batch food = roast();
    begin(rig, "roast");
    watch(rig, &food, 120);
    struct snapshot *shown = look(rig, adviser);
    assert_non_null(strstr(shown->batches[0].ahead, "too early: another "));
    snapshot_release(shown);
    adviser_free(adviser);
}

/* An adviser that has only now been started knows as much as one that saw it all. */
static void
a_restart_forgets_nothing(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *old = adviser_of(rig);
    struct batch food = roast();
    begin(rig, "roast");
    for (int part = 0; part < 5; part++) {
        watch(rig, &food, 600);
        snapshot_release(look(rig, old));
    }
    rr_pass(rig, 61000);
    struct adviser *young = adviser_of(rig);
    char why[300];
    struct snapshot *seen = board_take(rig->board);
    struct advice_list *by_old = adviser_look(old, seen, why, sizeof why);
    struct advice_list *by_young = adviser_look(young, seen, why, sizeof why);
    assert_int_equal(by_old->count, 1);
    assert_int_equal(by_young->count, 1);
    assert_memory_equal(&by_old->list[0], &by_young->list[0], sizeof by_old->list[0]);
    free(by_old);
    free(by_young);
    snapshot_release(seen);
    adviser_free(old);
    adviser_free(young);
}

static void
what_rests_is_told_its_peak(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct batch food = roast();
    begin(rig, "roast");
    watch(rig, &food, reaches_s(&food, 63) + 240);
    snapshot_release(look(rig, adviser));
    struct entry entry;
    entry_clear(&entry, ENTRY_MOVE);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    entry.batch = 1;
    if (rr_enter(rig, &entry) != 200)
        fail_msg("%s", rig->answer.say);
    watch(rig, &food, 60);
    struct snapshot *shown = look(rig, adviser);
    const struct advice *advice = &shown->batches[0].advice;
    assert_true(shown->batches[0].has_advice);
    assert_true(advice->taken_out);
    assert_int_equal(advice->reach_count, 0);
    assert_true(advice->peak_p50_mC >= 63000);
    assert_non_null(strstr(shown->batches[0].ahead, "the core peaks at about "));
    snapshot_release(shown);
    /* And after a restart in between. */
    struct adviser *young = adviser_of(rig);
    rr_pass(rig, 1000);
    shown = look(rig, young);
    assert_true(shown->batches[0].advice.taken_out);
    snapshot_release(shown);
    adviser_free(adviser);
    adviser_free(young);
}

/* Warned long before the deadline, once; with remedies, the best first; and on record. */
static void
a_cooling_that_will_be_late_is_warned_of(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct batch food = pot();
    double from_s = reaches_s(&food, 57);
    assert_true(reaches_s(&food, 21) - from_s > 2.5 * 3600); /* of the example itself */
    begin(rig, "filling");
    watch(rig, &food, from_s + 1800); /* 90 min before the deadline */
    struct snapshot *shown = look(rig, adviser);
    const struct snapshot_batch *batch = &shown->batches[0];
    const struct advice *advice = &batch->advice;
    assert_true(batch->has_advice);
    assert_int_equal(advice->reach_count, 2);
    assert_int_equal(advice->reach[0].stage, 1);
    /* The engine's clock, which began with the last reading above 57 °C. */
    assert_int_equal(advice->reach[0].deadline_ms, batch->view.clock_start_ms + 7200000);
    assert_true(advice->reach[0].miss_permille > 500);
    assert_true(advice->warned);
    assert_int_equal(batch->concern, CONCERN_WATCH);
    assert_non_null(strstr(batch->ahead, "Chance of missing 21.0 °C by "));
    assert_non_null(strstr(batch->ahead, "What helps most: "));
    assert_true(advice->option_count >= 2);
    bool colder = false;
    for (uint8_t i = 0; i < advice->option_count; i++) {
        colder = colder || (advice->options[i].kind == OPTION_COLDER_PLACE &&
                            strcmp(advice->options[i].place, "blast") == 0);
        if (i > 0)
            assert_true(advice->options[i - 1].p50_ms <= advice->options[i].p50_ms);
        assert_true(advice->options[i].p50_ms < advice->reach[0].when.p50_ms);
    }
    assert_true(colder);
    assert_int_equal(batch->view.deviation, 0); /* a forecast opens none */
    assert_int_equal(rr_records(rig, "forecast", "\"likely\":true", 0), 1);
    snapshot_release(shown);

    watch(rig, &food, 600);
    snapshot_release(look(rig, adviser));
    assert_int_equal(rr_records(rig, "forecast", NULL, 0), 1);
    rr_check_chain_and_replay(rig); /* replay does not need it */
    adviser_free(adviser);
}

static void
stale_advice_is_not_shown(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct batch food = roast();
    begin(rig, "roast");
    watch(rig, &food, 900);
    snapshot_release(look(rig, adviser));
    watch(rig, &food, 300); /* five minutes without a look */
    struct snapshot *shown = board_take(rig->board);
    assert_false(shown->batches[0].has_advice);
    assert_string_equal(shown->batches[0].ahead, "");
    snapshot_release(shown);
    adviser_free(adviser);
}

/* ---- when a limit will have been earned ---- */

/* Bigelow's integral over the core as it goes on, second by second: docs/engine.md E100. */
static double
lethality_s(const struct batch *batch, double so_far_s)
{
    struct food food = batch->food;
    double earned_s = so_far_s, t_s = 0;
    for (; earned_s < 120; t_s++) {
        (void)food_step(&food, batch->air_C, 1);
        earned_s += pow(10, (food.shell_C[0] - 70) / 7.5);
    }
    return t_s;
}

/* The reference of 70 °C is never reached in this oven, and need not be. */
static void
a_low_roast_is_told_when_it_has_earned_its_limit(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct batch food = batch_of(0.05, 20, 8, 66);
    double all_s = lethality_s(&food, 0);
    begin(rig, "brisket");
    watch(rig, &food, all_s * 0.6);
    struct snapshot *shown = look(rig, adviser);
    const struct advice *advice = &shown->batches[0].advice;
    double left_s = lethality_s(&food, (double)shown->batches[0].view.credited_ms / 1000);
    double said_s = (double)(advice->earned.p50_ms - shown->at_ms) / 1000;
    assert_true(advice->has_earned);
    /* A third: the corpus' 90th percentile at half way. */
    if (fabs(said_s - left_s) > left_s / 3)
        fail_msg("earned in %.0f s, forecast in %.0f s", left_s, said_s);
    assert_true(advice->earned.p05_ms < advice->earned.p50_ms);
    assert_true(advice->earned.p50_ms < advice->earned.p95_ms);
    assert_int_equal(advice->reach[0].to.milli, 62000); /* the kitchen's aim */
    assert_true(advice->has_take_out);
    assert_true(advice->take_out.p50_ms >= advice->earned.p50_ms);
    assert_non_null(strstr(shown->batches[0].ahead, "The limit should be earned about "));
    assert_non_null(strstr(shown->batches[0].if_changed, "the limit would be earned with"));
    assert_int_equal(shown->batches[0].view.verdict, VERDICT_OPEN);
    snapshot_release(shown);
    watch(rig, &food, left_s + 120); /* and once it has, nothing of the kind is forecast */
    shown = look(rig, adviser);
    assert_int_equal(shown->batches[0].view.verdict, VERDICT_MET);
    assert_false(shown->batches[0].advice.has_earned);
    snapshot_release(shown);
    adviser_free(adviser);
}

static void
a_gentle_oven_lets_the_aim_decide_when_to_take_out(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct batch food = batch_of(0.05, 20, 8, 74);
    begin(rig, "roast");
    watch(rig, &food, reaches_s(&food, 63) * 0.7);
    struct snapshot *shown = look(rig, adviser);
    const struct advice *advice = &shown->batches[0].advice;
    assert_true(advice->has_take_out);
    assert_false(advice->limit_decides);
    assert_true(advice->take_out.p50_ms > advice->earned.p50_ms);
    assert_non_null(strstr(shown->batches[0].ahead, "To end at 68.0 °C, take it out about "));
    snapshot_release(shown);
    adviser_free(adviser);
}

/* The row that is earned first, not the coldest one. */
static void
a_table_is_told_by_the_row_that_comes_first(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct batch food = roast();
    double cold_s = reaches_s(&food, 54), mid_s = reaches_s(&food, 60) + 720,
           hot_s = reaches_s(&food, 65) + 60;
    assert_true(hot_s < mid_s && mid_s < cold_s + 7200); /* of the example itself */
    begin(rig, "tabled");
    watch(rig, &food, cold_s + 60);
    struct snapshot *shown = look(rig, adviser);
    const struct advice *advice = &shown->batches[0].advice;
    double left_s = reaches_s(&food, 65) + 60;
    double said_s = (double)(advice->earned.p50_ms - shown->at_ms) / 1000;
    assert_true(advice->has_earned);
    if (fabs(said_s - left_s) > left_s / 3)
        fail_msg("earned in %.0f s, forecast in %.0f s", left_s, said_s);
    snapshot_release(shown);
    adviser_free(adviser);
}

/* ---- what one batch leaves for the next ---- */

static void
enter(struct recorder_rig *rig, const struct entry *entry)
{
    if (rr_enter(rig, entry) != 200)
        fail_msg("%s", rig->answer.say);
}

static void
move(struct recorder_rig *rig, uint32_t batch)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_MOVE);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    entry.batch = batch;
    enter(rig, &entry);
}

static void
end(struct recorder_rig *rig, uint32_t batch)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_END);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    entry.batch = batch;
    entry.outcome = OUTCOME_SERVED;
    enter(rig, &entry);
}

/* A roast from put-in to its end; what was said of it after so long in the oven. */
static struct snapshot *
cook_one(struct recorder_rig *rig, struct adviser *adviser, const char *product, uint32_t batch,
         double asked_after_s)
{
    struct batch food = roast();
    begin(rig, product);
    watch(rig, &food, asked_after_s);
    struct snapshot *shown = look(rig, adviser);
    watch(rig, &food, reaches_s(&food, 63) + 240);
    snapshot_release(look(rig, adviser));
    move(rig, batch);
    watch(rig, &food, 900);
    end(rig, batch);
    rr_pass(rig, 3000);
    return shown;
}

static double
width_s(const struct advice *advice)
{
    return (double)(advice->reach[0].when.p95_ms - advice->reach[0].when.p05_ms) / 1000;
}

/* The first says nothing so early; the second, from what the first left, is nearly right. */
static void
the_next_batch_starts_from_the_last(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct snapshot *first = cook_one(rig, adviser, "roast", 1, 180);
    assert_non_null(strstr(first->batches[0].ahead, "too early"));
    assert_int_equal(first->batches[0].advice.lessons, 0);
    snapshot_release(first);
    snapshot_release(look(rig, adviser));
    assert_int_equal(rr_records(rig, "lesson", "\"batch\":1,", 0), 1);
    assert_int_equal(rr_records(rig, "lesson", "\"kind\":\"heating\"", 0), 1);
    assert_int_equal(rr_records(rig, "lesson", "\"product\":\"roast\"", 0), 1);

    struct batch food = roast();
    begin(rig, "roast");
    watch(rig, &food, 180);
    double left_s = reaches_s(&food, 63);
    struct snapshot *shown = look(rig, adviser);
    const struct advice *advice = &shown->batches[0].advice;
    assert_string_equal(advice->refusal, "");
    assert_int_equal(advice->lessons, 1);
    assert_non_null(strstr(shown->batches[0].ahead, ", from 1 earlier batch: 63.0 °C about "));
    double said_s = (double)(advice->reach[0].when.p50_ms - shown->at_ms) / 1000;
    /* The bar for live forecasts from the third attempt on is 7 % in the median; this is the
     * second, of a batch that is the first's twin. */
    if (fabs(said_s - left_s) > 0.1 * left_s)
        fail_msg("63 °C is in %.0f s, forecast in %.0f s", left_s, said_s);
    assert_int_equal(shown->batches[0].view.verdict, VERDICT_OPEN);
    snapshot_release(shown);
    assert_int_equal(rr_records(rig, "lesson", NULL, 0), 1);
    rr_check_chain_and_replay(rig);
    adviser_free(adviser);
}

struct kept {
    char data[ADVICE_LESSON_BYTES];
};

static bool
keep_data(void *arg, const struct store_record *record)
{
    struct kept *kept = arg;
    (void)snprintf(kept->data, sizeof kept->data, "%.*s", (int)record->data_len, record->data);
    return true;
}

/* Nobody can tell whether a lesson came from its record or from the readings. */
static void
what_is_on_record_is_what_the_readings_teach(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct kept kept = {""};
    struct store_error error;
    struct earlier earlier;
    struct earlier_lesson lesson;
    bool recorded;
    char anew[ADVICE_LESSON_BYTES];
    snapshot_release(cook_one(rig, adviser, "roast", 1, 600));
    snapshot_release(look(rig, adviser));
    adviser_free(adviser);
    struct store_reader *reader = store_reader_open(rig->directory, &error);
    assert_int_equal(store_each_record(reader, 0, 1000, "lesson", keep_data, &kept, &error),
                     STORE_OK);
    assert_int_equal(earlier_open(reader, "roast", FORECAST_COOK, 0, &earlier, &error),
                     STORE_OK);
    assert_int_equal(earlier.count, 1);
    assert_int_not_equal(earlier.batch[0].lesson_seq, 0);
    assert_int_equal(earlier_lesson_of(reader, &earlier, &earlier.batch[0], false, &lesson,
                                       &recorded, &error),
                     STORE_OK);
    assert_true(recorded && lesson.has_lesson && lesson.has_fit);
    assert_true(earlier_lesson_write(&lesson, anew, sizeof anew));
    assert_string_equal(anew, kept.data); /* nothing is lost in reading it back */
    earlier.batch[0].lesson_seq = 0;
    assert_int_equal(earlier_lesson_of(reader, &earlier, &earlier.batch[0], true, &lesson,
                                       &recorded, &error),
                     STORE_OK);
    assert_false(recorded);
    assert_true(earlier_lesson_write(&lesson, anew, sizeof anew));
    assert_string_equal(anew, kept.data);
    earlier_close(&earlier);
    /* Made in another way, it counts for nothing. */
    char *method = strstr(kept.data, "\"method\":2,");
    assert_non_null(method);
    method[strlen("\"method\":")] = '0';
    assert_false(earlier_lesson_read(kept.data, strlen(kept.data), &lesson));
    assert_false(earlier_lesson_read("[]", 2, &lesson));
    store_reader_close(reader);
}

static void
a_lesson_narrows_what_is_said_later_too(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    struct batch like = roast();
    double third_s = reaches_s(&like, 63) / 3;
    struct snapshot *first = cook_one(rig, adviser, "roast", 1, third_s);
    snapshot_release(look(rig, adviser));
    struct snapshot *second = cook_one(rig, adviser, "roast", 2, third_s);
    assert_string_equal(first->batches[0].advice.refusal, "");
    assert_true(width_s(&second->batches[0].advice) < 0.7 * width_s(&first->batches[0].advice));
    snapshot_release(first);
    snapshot_release(second);
    adviser_free(adviser);
}

static void
another_product_teaches_nothing(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    snapshot_release(cook_one(rig, adviser, "ham", 1, 600));
    snapshot_release(look(rig, adviser));
    assert_int_equal(rr_records(rig, "lesson", "\"product\":\"ham\"", 0), 1);
    struct batch food = roast();
    begin(rig, "roast");
    watch(rig, &food, 180);
    struct snapshot *shown = look(rig, adviser);
    assert_int_equal(shown->batches[0].advice.lessons, 0);
    assert_non_null(strstr(shown->batches[0].ahead, "too early"));
    snapshot_release(shown);
    adviser_free(adviser);
}

/* Lessons that nobody made in time, or in another way than today's, are made when they are
 * needed, and once. */
static void
a_lesson_that_is_missing_is_made(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *old = adviser_of(rig);
    snapshot_release(cook_one(rig, old, "roast", 1, 600));
    adviser_free(old); /* before it has seen the end */
    assert_int_equal(rr_records(rig, "lesson", NULL, 0), 0);
    struct adviser *adviser = adviser_of(rig);
    struct batch food = roast();
    begin(rig, "roast");
    watch(rig, &food, 180);
    struct snapshot *shown = look(rig, adviser);
    assert_int_equal(shown->batches[0].advice.lessons, 1);
    snapshot_release(shown);
    watch(rig, &food, 120);
    snapshot_release(look(rig, adviser));
    adviser_free(adviser);
    adviser = adviser_of(rig); /* and what is on record is not made again */
    watch(rig, &food, 120);
    shown = look(rig, adviser);
    assert_int_equal(shown->batches[0].advice.lessons, 1);
    snapshot_release(shown);
    assert_int_equal(rr_records(rig, "lesson", NULL, 0), 1);
    adviser_free(adviser);
}

/* So many that lessons are still to be made of, and one in the oven for three minutes. */
enum { COOKED = 3 };

static struct batch
after_some(struct recorder_rig *rig)
{
    for (uint32_t batch = 1; batch <= COOKED; batch++) {
        struct batch food = roast();
        begin(rig, "roast");
        watch(rig, &food, reaches_s(&food, 63) + 240);
        move(rig, batch);
        watch(rig, &food, 900);
        end(rig, batch);
    }
    struct batch food = roast();
    begin(rig, "roast");
    watch(rig, &food, 180);
    return food;
}

/* More batches are on record than lessons are made in one look: nothing is said from a part of
 * them as if it were all there is. */
static void
a_forecast_waits_for_all_lessons(void **state)
{
    struct recorder_rig *rig = *state;
    (void)after_some(rig);
    struct adviser *adviser = adviser_of(rig);
    int looks = 0, lessons = 0;
    for (bool said = false; !said; looks++) {
        assert_true(looks < 10);
        struct snapshot *shown = look(rig, adviser);
        const struct advice *advice = &shown->batches[0].advice;
        said = advice->refusal[0] == '\0';
        lessons = advice->lessons;
        if (!said)
            assert_string_equal(shown->batches[0].ahead,
                                "Forecast: a moment: earlier batches are being read.");
        snapshot_release(shown);
    }
    assert_true(looks > 1);
    assert_int_equal(lessons, COOKED);
    assert_int_equal(rr_records(rig, "lesson", NULL, 0), COOKED);
    adviser_free(adviser);
}

/* A look whose advice never comes to the recorder. */
static struct advice_list *
lost_look(struct recorder_rig *rig, struct adviser *adviser)
{
    char why[300];
    struct snapshot *seen = board_take(rig->board);
    struct advice_list *list = adviser_look(adviser, seen, why, sizeof why);
    if (list == NULL)
        fail_msg("%s", why);
    snapshot_release(seen);
    return list;
}

/* The next look may come before a lesson is on record: it is not made twice. One that was
 * dropped on its way is made again. */
static void
a_lesson_under_way_is_not_made_again(void **state)
{
    struct recorder_rig *rig = *state;
    struct batch food = after_some(rig);
    struct adviser *adviser = adviser_of(rig);
    struct advice_list *first = lost_look(rig, adviser);
    assert_true(first->behind);
    assert_int_equal(first->lesson_count, ADVICE_LESSONS_MAX);
    rr_pass(rig, 3000);
    struct advice_list *second = lost_look(rig, adviser);
    assert_true(second->behind);
    assert_int_equal(second->lesson_count, COOKED - ADVICE_LESSONS_MAX);
    for (size_t i = 0; i < first->lesson_count; i++)
        assert_string_not_equal(first->lesson[i], second->lesson[0]);
    watch(rig, &food, 15);
    struct advice_list *again = lost_look(rig, adviser);
    assert_int_equal(again->lesson_count, ADVICE_LESSONS_MAX);
    for (size_t i = 0; i < again->lesson_count; i++)
        assert_string_equal(again->lesson[i], first->lesson[i]);
    free(again);
    free(second);
    free(first);
    adviser_free(adviser);
}

/* Whoever waits for lessons waits for five minutes, and no longer. */
static void
a_forecast_does_not_wait_for_ever(void **state)
{
    struct recorder_rig *rig = *state;
    struct batch food = after_some(rig);
    struct adviser *adviser = adviser_of(rig);
    for (int waited_s = 0; waited_s <= 300; waited_s += 60) {
        struct advice_list *list = lost_look(rig, adviser);
        assert_true(list->behind);
        assert_int_equal(strcmp(list->list[0].refusal, "") != 0, waited_s < 300);
        free(list);
        watch(rig, &food, 60);
    }
    adviser_free(adviser);
}

/* Lessons that the next batch starts from, after something was said of the first. */
static int
lessons_after(struct recorder_rig *rig, struct entry *said)
{
    struct adviser *adviser = adviser_of(rig);
    snapshot_release(cook_one(rig, adviser, "roast", 1, 600));
    snapshot_release(look(rig, adviser));
    assert_int_equal(rr_records(rig, "lesson", NULL, 0), 1);
    if (said->kind == ENTRY_CORRECT) /* the record that began it */
        for (said->refers = 1; rr_records(rig, "begin", NULL, said->refers) == 0;)
            said->refers++;
    enter(rig, said);
    struct batch food = roast();
    begin(rig, "roast");
    watch(rig, &food, 180);
    struct snapshot *shown = look(rig, adviser);
    int lessons = shown->batches[0].advice.lessons;
    snapshot_release(shown);
    adviser_free(adviser);
    return lessons;
}

static void
a_corrected_batch_teaches_nothing(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry correct;
    entry_clear(&correct, ENTRY_CORRECT);
    (void)snprintf(correct.who, sizeof correct.who, "JO");
    (void)snprintf(correct.reason, sizeof correct.reason, "wrong dish");
    (void)snprintf(correct.text, sizeof correct.text, "this was the lamb");
    assert_int_equal(lessons_after(rig, &correct), 0);
}

/* Its probe is found three degrees off the day after. */
static void
a_batch_whose_thermometer_was_wrong_teaches_nothing(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry check;
    entry_clear(&check, ENTRY_CALIBRATE);
    (void)snprintf(check.who, sizeof check.who, "JO");
    (void)snprintf(check.probe, sizeof check.probe, "core");
    check.points[0] = (struct calibration_point){
        .method = CALIBRATION_ICE, .found_mC = 3000, .reference_mC = 0, .uncertainty_mK = 100};
    check.point_count = 1;
    check.correction = CORRECTION_KEEP;
    assert_int_equal(lessons_after(rig, &check), 0);
}

static void
a_note_takes_no_lesson_away(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry note = rr_note("a fine roast");
    assert_int_equal(lessons_after(rig, &note), 1);
}

/* A cooling teaches the next of its product. */
static void
a_cooling_teaches_the_next(void **state)
{
    struct recorder_rig *rig = *state;
    struct adviser *adviser = adviser_of(rig);
    double width[2];
    for (int i = 0; i < 2; i++) {
        struct batch food = batch_of(0.05, 20, 85, 2);
        begin(rig, "filling");
        watch(rig, &food, 1800);
        struct snapshot *shown = look(rig, adviser);
        const struct advice *advice = &shown->batches[0].advice;
        assert_string_equal(advice->refusal, "");
        assert_int_equal(advice->lessons, i);
        width[i] = width_s(advice);
        snapshot_release(shown);
        watch(rig, &food, reaches_s(&food, 5) + 60);
        end(rig, (uint32_t)i + 1);
        rr_pass(rig, 3000);
        snapshot_release(look(rig, adviser));
        assert_int_equal(rr_records(rig, "lesson", "\"kind\":\"cooling\"", 0), i + 1);
    }
    assert_true(width[1] < 0.9 * width[0]);
    rr_check_chain_and_replay(rig);
    adviser_free(adviser);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_roast_is_foretold, set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(an_oven_that_the_plan_forbids_is_no_option, set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(too_early_says_how_long, set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_restart_forgets_nothing, set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(what_rests_is_told_its_peak, set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_cooling_that_will_be_late_is_warned_of, set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(stale_advice_is_not_shown, set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_low_roast_is_told_when_it_has_earned_its_limit,
                                        set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_gentle_oven_lets_the_aim_decide_when_to_take_out,
                                        set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_table_is_told_by_the_row_that_comes_first, set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(the_next_batch_starts_from_the_last, set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(what_is_on_record_is_what_the_readings_teach, set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(a_lesson_narrows_what_is_said_later_too, set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(another_product_teaches_nothing, set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_lesson_that_is_missing_is_made, set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_forecast_waits_for_all_lessons, set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_lesson_under_way_is_not_made_again, set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(a_forecast_does_not_wait_for_ever, set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(a_corrected_batch_teaches_nothing, set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(a_batch_whose_thermometer_was_wrong_teaches_nothing,
                                        set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_note_takes_no_lesson_away, set_up, rr_tear_down),
        cmocka_unit_test_setup_teardown(a_cooling_teaches_the_next, set_up, rr_tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
