/* The invented Harbour Lane Kitchen, by hand. Its limits are examples and no advice. */
#include "tests/support/sample_kitchen.h"

#include <stdlib.h>
#include <string.h>

#define DAYS INT64_C(86400000)

static struct limit_temp
celsius(int32_t milli)
{
    return (struct limit_temp){.milli = milli, .unit = TEMP_C};
}

static void
fill_probe(struct plan_probe *probe, const char *id, const char *name, uint16_t number,
           enum probe_kind kind)
{
    *probe = (struct plan_probe){.name = name,
                                 .number = number,
                                 .unit = 1,
                                 .function = 4,
                                 .reg = number,
                                 .every_ms = 2000,
                                 .kind = kind};
    strcpy(probe->id, id);
}

static void
fill_products(struct sample_kitchen *kitchen)
{
    struct plan_product *roast = &kitchen->products[0], *filling = &kitchen->products[1];
    *roast = (struct plan_product){
        .id = "roast-shoulder", .name = "Roast pork shoulder", .step_count = 3};
    roast->steps[0] = (struct plan_step){.id = "roast",
                                         .name = "Roasting",
                                         .place = 2,
                                         .limit = {.kind = LIMIT_COOK,
                                                   .temp = celsius(63000),
                                                   .hold_ms = 3 * MINUTES,
                                                   .source = "the plan"}};
    roast->steps[1] = (struct plan_step){.id = "rest", .name = "Resting", .place = -1};
    roast->steps[2] = (struct plan_step){.id = "hold",
                                         .name = "Hot holding",
                                         .place = 1,
                                         .limit = {.kind = LIMIT_HOLD_HOT,
                                                   .temp = celsius(60000),
                                                   .tolerance_ms = 30 * MINUTES}};
    *filling = (struct plan_product){
        .id = "leek-filling", .name = "Leek and potato filling", .step_count = 2};
    filling->steps[0] = (struct plan_step){
        .id = "cool",
        .name = "Cooling",
        .place = 0,
        .limit = {.kind = LIMIT_COOL,
                  .start = celsius(57000),
                  .stages = {{.to = celsius(21000), .within_ms = 120 * MINUTES},
                             {.to = celsius(5000), .within_ms = 360 * MINUTES}},
                  .stage_count = 2}};
    filling->steps[1] = (struct plan_step){.id = "store",
                                           .name = "Cold store",
                                           .place = 0,
                                           .limit = {.kind = LIMIT_HOLD_COLD,
                                                     .temp = celsius(5000),
                                                     .tolerance_ms = 30 * MINUTES}};
}

static void
fill_places(struct sample_kitchen *kitchen)
{
    kitchen->places[0] = (struct plan_place){.id = "walk-in",
                                             .name = "Walk-in cooler",
                                             .probe = 2,
                                             .limit = {.kind = LIMIT_HOLD_COLD,
                                                       .subject = SUBJECT_AIR,
                                                       .temp = celsius(5000),
                                                       .tolerance_ms = 20 * MINUTES,
                                                       .back_ms = 5 * MINUTES}};
    kitchen->places[1] = (struct plan_place){.id = "hot-cupboard",
                                             .name = "Hot cupboard",
                                             .probe = 3,
                                             .limit = {.kind = LIMIT_HOLD_HOT,
                                                       .subject = SUBJECT_AIR,
                                                       .temp = celsius(63000),
                                                       .tolerance_ms = 10 * MINUTES,
                                                       .back_ms = 5 * MINUTES}};
    kitchen->places[2] = (struct plan_place){.id = "oven", .name = "Big oven", .probe = -1};
}

void
sample_kitchen_init(struct sample_kitchen *kitchen)
{
    memset(kitchen, 0, sizeof *kitchen);
    kitchen->people[0] =
        (struct plan_person){.initials = "AB", .name = "Ana Brandt", .role = ROLE_SUPERVISOR};
    kitchen->people[1] =
        (struct plan_person){.initials = "JM", .name = "Jo Marsh", .role = ROLE_COOK};
    kitchen->people[2] =
        (struct plan_person){.initials = "TL", .name = "Tove Lund", .role = ROLE_VERIFIER};
    kitchen->buses[0] =
        (struct plan_bus){.id = "stove", .driver = BUS_MODBUS_RTU, .device = "/dev/null"};
    kitchen->buses[1] =
        (struct plan_bus){.id = "cold", .driver = BUS_MODBUS_TCP, .host = "127.0.0.1"};
    fill_probe(&kitchen->probes[0], "roast-core", "Roast core", SAMPLE_ROAST_CORE, PROBE_FOOD);
    fill_probe(&kitchen->probes[1], "filling-core", "Filling core", SAMPLE_FILLING_CORE,
               PROBE_FOOD);
    fill_probe(&kitchen->probes[2], "walk-in-air", "Walk-in air", SAMPLE_WALK_IN_AIR,
               PROBE_AIR);
    fill_probe(&kitchen->probes[3], "cupboard-air", "Cupboard air", SAMPLE_CUPBOARD_AIR,
               PROBE_AIR);
    fill_places(kitchen);
    fill_products(kitchen);
    kitchen->plan = (struct plan){
        .file = "sample.yaml",
        .text = "",
        .site_name = "Harbour Lane Kitchen",
        .time_zone = "Europe/London",
        .people = kitchen->people,
        .person_count = 3,
        .buses = kitchen->buses,
        .bus_count = 2,
        .probes = kitchen->probes,
        .probe_count = 4,
        .places = kitchen->places,
        .place_count = 3,
        .products = kitchen->products,
        .product_count = 2,
        .tolerances = {.spacing_polls = 3, .silent_ms = 5 * MINUTES},
        .records = {.directory = "unused", .commit_ms = 1000, .seal_ms = 60000},
    };
    memset(kitchen->plan.digest, 'a', 64);
}

void
sample_reading(struct snapshot *snapshot, uint16_t probe, int64_t at_ms, int32_t temp_mC)
{
    for (size_t i = 0; i < snapshot->probe_count; i++)
        if (snapshot->probes[i].number == probe) {
            snapshot->probes[i].last = (struct reading){
                .at_ms = at_ms, .temp_mC = temp_mC, .probe = probe, .quality = READING_GOOD};
            snapshot->probes[i].last_good = snapshot->probes[i].last;
        }
}

static void
fill_batches(struct snapshot *snapshot, struct sample_kitchen *kitchen)
{
    struct engine_batch_view view = {
        .plan = &kitchen->plan,
        .plan_seq = 2,
        .number = 7,
        .product = &kitchen->products[0],
        .begun_ms = SAMPLE_NOW_MS - 95 * MINUTES,
        .step_begun_ms = SAMPLE_NOW_MS - 95 * MINUTES,
        .who = "AB",
        .place = "oven",
        .mass_g = 2400,
        .thickness_mm = 90,
        .probes = {SAMPLE_ROAST_CORE},
        .probe_count = 1,
        .governing_probe = SAMPLE_ROAST_CORE,
        .governing_mC = 48312,
        .clock_start_ms = TIME_NONE,
        .deadline_ms = TIME_NONE,
    };
    snapshot->batches[0].view = view;
    view.number = 8;
    view.product = &kitchen->products[1];
    view.begun_ms = view.step_begun_ms = SAMPLE_NOW_MS - 80 * MINUTES;
    strcpy(view.who, "JM");
    strcpy(view.place, "walk-in");
    view.mass_g = 6000;
    view.thickness_mm = 40;
    view.probes[0] = view.governing_probe = SAMPLE_FILLING_CORE;
    view.governing_mC = 34187;
    view.clock_start_ms = SAMPLE_NOW_MS - 72 * MINUTES; /* 12:32 */
    view.stage = 1;
    view.deadline_ms = view.clock_start_ms + 120 * MINUTES; /* 14:32 */
    snapshot->batches[1].view = view;
}

static struct snapshot *
sample(struct sample_kitchen *kitchen, size_t deviations, size_t checks)
{
    struct snapshot_counts counts = {.probes = 4,
                                     .batches = 2,
                                     .places = 3,
                                     .deviations = deviations,
                                     .buses = 2,
                                     .checks = checks,
                                     .switches =
                                         2}; /* shown where a test gives the plan some */
    struct snapshot *snapshot = snapshot_new(&counts);
    if (snapshot == NULL)
        abort();
    snapshot->plan = &kitchen->plan;
    snapshot->seq = 120;
    snapshot->version = 1;
    snapshot->plan_seq = 2;
    snapshot->at_ms = SAMPLE_NOW_MS;
    for (uint16_t i = 0; i < 4; i++)
        snapshot->probes[i] =
            (struct engine_probe_view){.number = (uint16_t)(i + 1), .in_plan = true};
    snapshot->probes[0].batch = 7;
    snapshot->probes[1].batch = 8;
    sample_reading(snapshot, SAMPLE_ROAST_CORE, SAMPLE_NOW_MS, 48312);
    sample_reading(snapshot, SAMPLE_FILLING_CORE, SAMPLE_NOW_MS, 34187);
    sample_reading(snapshot, SAMPLE_WALK_IN_AIR, SAMPLE_NOW_MS, 3400);
    sample_reading(snapshot, SAMPLE_CUPBOARD_AIR, SAMPLE_NOW_MS, 71500);
    fill_batches(snapshot, kitchen);
    for (uint16_t i = 0; i < 3; i++)
        snapshot->places[i].view = (struct engine_place_view){
            .place = i, .temp_mC = TEMP_NONE, .outside_since_ms = TIME_NONE};
    snapshot->places[0].view.temp_mC = 3400;
    snapshot->places[1].view.temp_mC = 71500;
    for (size_t i = 0; i < 2; i++)
        snapshot->buses[i] =
            (struct snapshot_bus){.up = true, .since_ms = SAMPLE_NOW_MS - 400 * MINUTES};
    return snapshot;
}

struct snapshot *
sample_snapshot(struct sample_kitchen *kitchen)
{
    struct snapshot *snapshot = sample(kitchen, 0, 0);
    snapshot_tell(snapshot);
    return snapshot;
}

struct snapshot *
sample_snapshot_with_deviation(struct sample_kitchen *kitchen)
{
    struct snapshot *snapshot = sample(kitchen, 1, 0);
    snapshot->places[0].view.temp_mC = 8437;
    snapshot->places[0].view.outside = true;
    snapshot->places[0].view.outside_since_ms = SAMPLE_NOW_MS - 22 * MINUTES;
    snapshot->places[0].view.outside_ms = 22 * MINUTES;
    snapshot->places[0].view.deviation = 4;
    sample_reading(snapshot, SAMPLE_WALK_IN_AIR, SAMPLE_NOW_MS, 8437);
    snapshot->deviations[0].view = (struct engine_deviation_view){
        .number = 4,
        .opened = {.kind = DECISION_DEVIATION_OPENED,
                   .reason = REASON_OUT_TOO_LONG,
                   .at_ms = SAMPLE_NOW_MS - 2 * MINUTES,
                   .deviation = 4,
                   .place = "walk-in",
                   .probe = SAMPLE_WALK_IN_AIR,
                   .limit = LIMIT_HOLD_COLD,
                   .subject = SUBJECT_AIR,
                   .required = {.milli = 5000, .unit = TEMP_C},
                   .required_ms = 20 * MINUTES,
                   .temp_mC = 8200,
                   .worst_mC = TEMP_NONE,
                   .since_ms = SAMPLE_NOW_MS - 22 * MINUTES,
                   .found_ms = 20 * MINUTES},
        .ended_ms = TIME_NONE,
    };
    snapshot_tell(snapshot);
    return snapshot;
}

static void
fill_checking(struct sample_kitchen *kitchen)
{
    const struct plan_checking monthly = {.tolerance_mK = 1000, .every_ms = 30 * DAYS};
    for (size_t i = 0; i < 4; i++)
        kitchen->probes[i].checking = monthly;
    kitchen->handhelds[0] =
        (struct plan_handheld){.id = "pen", .name = "Pen <2>", .checking = monthly};
    kitchen->references[0] =
        (struct plan_reference){.id = "old", .name = "Old rod", .due = "2026-03-02"};
    kitchen->references[1] =
        (struct plan_reference){.id = "rod", .name = "Rod", .due = "2026-03-12"};
    kitchen->references[2] =
        (struct plan_reference){.id = "bath", .name = "Ice bath", .due = "2027-02-01"};
    kitchen->plan.handhelds = kitchen->handhelds;
    kitchen->plan.handheld_count = 1;
    kitchen->plan.references = kitchen->references;
    kitchen->plan.reference_count = 3;
    kitchen->plan.calibration = (struct plan_calibration){.warn_ms = 14 * DAYS};
}

struct snapshot *
sample_snapshot_with_checks(struct sample_kitchen *kitchen)
{
    const int64_t good_ms[] = {SAMPLE_NOW_MS - 2 * DAYS, TIME_NONE, SAMPLE_NOW_MS - 31 * DAYS,
                               SAMPLE_NOW_MS - 20 * DAYS, SAMPLE_NOW_MS - 10 * DAYS};
    fill_checking(kitchen);
    struct snapshot *snapshot = sample(kitchen, 0, 5);
    for (uint16_t i = 0; i < 5; i++)
        snapshot->checks[i].view = (struct engine_check_view){.probe = i < 4 ? i : 0,
                                                              .is_handheld = i == 4,
                                                              .checked_ms = good_ms[i],
                                                              .good_ms = good_ms[i]};
    snapshot->checks[0].view.correction =
        (struct probe_correction){.count = 1, .raw_mC = {0}, .add_mK = {400}};
    snapshot->probes[0].last_good_raw_mC = 47912;
    snapshot->checks[4].view.left_bad = true;
    snapshot_tell(snapshot);
    return snapshot;
}
