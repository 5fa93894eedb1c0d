/* Exports, cell for cell: checks of thermometers, what they correct and what they put in doubt.
 */
#include "tests/support/export_rig.h"

#include <stdlib.h>
#include <string.h>

/* ---- checks of thermometers ---- */

static struct entry
checked(const char *probe, const char *held, int32_t found_mC,
        enum correction_choice correction)
{
    struct entry entry = xr_entry_by(ENTRY_CALIBRATE, "AB");

    (void)strcpy(entry.probe, probe);
    (void)strcpy(entry.thermometer, held);
    entry.correction = correction;
    entry.points[entry.point_count++] = (struct calibration_point){
        .method = CALIBRATION_ICE, .uncertainty_mK = 100, .found_mC = found_mC};
    return entry;
}

static struct decision
failed(int64_t at_ms, uint32_t number, uint16_t probe, int64_t since_ms)
{
    struct decision decision =
        plain_decision(DECISION_DEVIATION_OPENED, REASON_FAILED_CHECK, at_ms);

    decision.deviation = number;
    decision.probe = probe;
    decision.since_ms = since_ms;
    decision.temp_mC = 1300;
    return decision;
}

/* A kitchen with an air probe in the walk-in (number 1), a core probe (2) and a pen; a
 * tolerance of its own for the core probe. */
static void
put_checked_plan(int64_t at_ms)
{
    static const char text[] =
        "site: {name: Test}\n"
        "people:\n  - {initials: AB, name: Ana Brandt, role: supervisor}\n"
        "sole_operator: The adviser verifies.\n"
        "buses:\n  - {id: line, driver: modbus-tcp, host: 127.0.0.1}\n"
        "probes:\n  - {id: air, name: Air, kind: air, bus: line, unit: 1, function: 4, "
        "register: 0, type: int16, plausible: [-40 °C, 60 °C]}\n"
        "  - {id: core, name: Core, kind: food, bus: line, unit: 1, function: 4, "
        "register: 1, type: int16, plausible: [-40 °C, 160 °C], check_tolerance: 0.5 °C}\n"
        "thermometers: [{id: pen, name: Pen}]\n"
        "places:\n  - {id: walk-in, name: Walk-in, probe: air, limit: {kind: none}}\n"
        "products:\n  - id: soup\n    name: Soup\n    steps:\n"
        "      - {id: cook, name: Cook, limit: {kind: none}}\n"
        "      - {id: store, name: Store, place: walk-in, limit: {kind: none}}\n";
    char data[4000];
    struct json_out out;

    out_start(&out, data, sizeof(data), true);
    out_object(&out, NULL);
    out_object(&out, "probes");
    out_int(&out, "air", 1);
    out_int(&out, "core", 2);
    out_object_end(&out);
    out_text(&out, "text", text);
    out_object_end(&out);
    assert_true(out_done(&out));
    (void)xr_put_record("plan", at_ms, data);
    xr.zone_known = true;
}

/* Corrected from the very instant of the record on, raw beside it; other probes are left alone;
 * a later plan that reads the probe otherwise ends it. */
static void
test_export_readings_are_corrected_from_their_record_on(void **state)
{
    struct entry adopt = checked("core", "", 400, CORRECTION_ADOPT);
    struct decision ended =
        plain_decision(DECISION_CORRECTION_ENDED, REASON_ENTERED, xr_minute(5));

    (void)state;
    put_checked_plan(xr_minute(0));
    xr_put_reading(2, xr_minute(1), 63000, READING_GOOD);
    (void)xr_put_entry(xr_minute(2), &adopt);
    xr_put_reading(1, xr_minute(2), 4000, READING_GOOD);
    xr_put_reading(2, xr_minute(2), 63000, READING_GOOD);
    xr_put_reading(2, xr_minute(3), TEMP_NONE, BAD_TIMEOUT);
    xr_put_reading(2, xr_minute(4), 63100, SUSPECT_LEFT_FOOD);
    put_checked_plan(xr_minute(5));
    ended.probe = 2;
    xr_put_decision(ended);
    xr_put_reading(2, xr_minute(5), 63000, READING_GOOD);
    xr_commit();
    xr_expect(EXPORT_READINGS, TIME_NONE, TIME_NEVER,
              "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC\n"
              "2026-03-03T10:01:00.000Z,core,63.0,good,no,1772532060000,63.0\n"
              "2026-03-03T10:02:00.000Z,air,4.0,good,no,1772532120000,4.0\n"
              "2026-03-03T10:02:00.000Z,core,62.6,good,no,1772532120000,63.0\n"
              "2026-03-03T10:03:00.000Z,core,,timeout,no,1772532180000,\n"
              "2026-03-03T10:04:00.000Z,core,62.7,left-food,no,1772532240000,63.1\n"
              "2026-03-03T10:05:00.000Z,core,63.0,good,no,1772532300000,63.0\n");
}

/* A reader that has looked before learns of what was recorded since. */
static void
test_reader_learns_of_later_corrections(void **state)
{
    struct store_error error = {STORE_OK, ""};
    struct entry adopt = checked("core", "", 400, CORRECTION_ADOPT),
                 drop = checked("core", "", 400, CORRECTION_DROP);
    struct reading reading = {.at_ms = xr_minute(3), .temp_mC = 63000, .probe = 2};

    (void)state;
    put_checked_plan(xr_minute(0));
    xr_commit();
    struct store_reader *reader = store_reader_open(xr.dir.path, &error);
    assert_non_null(reader);
    assert_int_equal(store_corrected_mC(reader, &reading), 63000); /* before the first look */
    store_must(store_corrections_read(reader, &error), &error);
    assert_int_equal(store_corrected_mC(reader, &reading), 63000);
    (void)xr_put_entry(xr_minute(2), &adopt);
    xr_commit();
    store_must(store_corrections_read(reader, &error), &error);
    assert_int_equal(store_corrected_mC(reader, &reading), 62600);
    (void)xr_put_entry(xr_minute(3), &drop);
    xr_commit();
    store_must(store_corrections_read(reader, &error), &error);
    assert_int_equal(store_corrected_mC(reader, &reading), 63000);
    reading.at_ms--;
    assert_int_equal(store_corrected_mC(reader, &reading), 62600);
    store_reader_close(reader);
}

#define CALIBRATION_HEADER                                                                     \
    "seq,time_utc,thermometer,kind,by,look,method,reference_degC,uncertainty_K,raw_degC,"      \
    "corrected_degC,error_K,tolerance_K,result,correction,reference,pressure_Pa,basis,text\n"

static void
test_export_calibrations_judge_each_look_by_its_time(void **state)
{
    struct entry adopt = checked("core", "", 600, CORRECTION_ADOPT),
                 keep = checked("core", "", 600, CORRECTION_KEEP),
                 pen = checked("", "pen", 1300, CORRECTION_KEEP);

    (void)state;
    put_checked_plan(xr_minute(0));
    (void)xr_put_entry(xr_minute(1), &adopt);
    (void)xr_put_entry(xr_minute(2), &keep);
    pen.left[pen.left_count++] = pen.points[0];
    pen.left[0].found_mC = 100;
    pen.points[0].method = CALIBRATION_BOILING;
    pen.points[0].reference_mC = 99840;
    pen.points[0].found_mC = 101140;
    pen.pressure_Pa = 100850;
    (void)strcpy(pen.basis, "barometer");
    (void)xr_put_entry(xr_minute(3), &pen);
    xr_commit();
    xr_expect(
        EXPORT_CALIBRATIONS, TIME_NONE, TIME_NEVER,
        CALIBRATION_HEADER
        "2,2026-03-03T10:01:00.000Z,core,probe,AB,as found,ice,0.0,0.1,0.6,0.6,0.6,0.5,fail,"
        "adopt,,,,\n"
        "2,2026-03-03T10:01:00.000Z,core,probe,AB,as left,ice,0.0,0.1,0.6,0.0,0.0,0.5,pass,"
        "adopt,,,,\n"
        "3,2026-03-03T10:02:00.000Z,core,probe,AB,as found,ice,0.0,0.1,0.6,0.0,0.0,0.5,pass,"
        "keep,,,,\n"
        "4,2026-03-03T10:03:00.000Z,pen,hand-held,AB,as found,boiling,99.84,0.1,101.14,101.14,"
        "1.3,1.0,fail,keep,,100850,barometer,\n"
        "4,2026-03-03T10:03:00.000Z,pen,hand-held,AB,as left,ice,0.0,0.1,0.1,0.1,0.1,1.0,pass,"
        "keep,,,barometer,\n");
    xr_expect(
        EXPORT_CALIBRATIONS, xr_minute(1) + 1, xr_minute(3),
        CALIBRATION_HEADER
        "3,2026-03-03T10:02:00.000Z,core,probe,AB,as found,ice,0.0,0.1,0.6,0.0,0.0,0.5,pass,"
        "keep,,,,\n");
}

/* Batches 1 and 2 had the core probe; 1 ended before it was last found right, 2 while it was
 * still right and after. 3 stood in the walk-in, whose probe is another one. */
static void
test_export_failed_check_lists_what_is_in_doubt(void **state)
{
    struct entry begin = xr_entry_by(ENTRY_BEGIN, "AB"), move = xr_entry_by(ENTRY_MOVE, "AB"),
                 hand = xr_entry_by(ENTRY_HAND, "AB");
    struct xr_text text;

    (void)state;
    put_checked_plan(xr_minute(0));
    (void)strcpy(begin.product, "soup");
    (void)strcpy(begin.probes[0], "core");
    begin.batch = 1;
    begin.probe_count = 1;
    (void)xr_put_entry(xr_minute(1), &begin);
    xr_end_batch(1, xr_minute(9), "");
    begin.batch = 2;
    (void)xr_put_entry(xr_minute(9), &begin);
    xr_put_reading(2, xr_minute(10), 60000, READING_GOOD);
    xr_put_reading(2, xr_minute(11), 60000, READING_GOOD);
    xr_put_reading(2, xr_minute(12), TEMP_NONE, BAD_TIMEOUT);
    xr_put_reading(2, xr_minute(13), 61000, SUSPECT_LEFT_FOOD);
    begin.batch = 3;
    begin.probe_count = 0;
    (void)xr_put_entry(xr_minute(14), &begin);
    move.batch = 3;
    (void)xr_put_entry(xr_minute(15), &move); /* into its usual place, the walk-in */
    hand.batch = 3;
    hand.has_temp = true;
    hand.temp_mC = 4000;
    (void)strcpy(hand.thermometer, "pen");
    (void)xr_put_entry(xr_minute(16), &hand);
    xr_put_reading(1, xr_minute(17), 4000, READING_GOOD);
    xr_put_decision(failed(xr_minute(20), 1, 2, xr_minute(10)));
    xr_put_decision(failed(xr_minute(20), 2, 1, TIME_NONE));
    struct decision pen = failed(xr_minute(20), 3, 0, xr_minute(16) - 1);
    (void)strcpy(pen.thermometer, "pen");
    xr_put_decision(pen);
    pen.deviation = 4;
    pen.since_ms = xr_minute(16); /* found right at the very instant of the reading */
    xr_put_decision(pen);
    xr_put_reading(2, xr_minute(21), 60000, READING_GOOD); /* after the check */
    xr_commit();
    text = xr_export(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER);
    assert_non_null(
        strstr(text.chars,
               ",2,2,2026-03-03T10:11:00.000Z,2026-03-03T10:13:00.000Z,1,,,,,,2026-03-03T"));
    assert_non_null(
        strstr(text.chars,
               ",3,1,2026-03-03T10:17:00.000Z,2026-03-03T10:17:00.000Z,2,,,,,,2026-03-03T"));
    assert_non_null(
        strstr(text.chars,
               ",3,1,2026-03-03T10:16:00.000Z,2026-03-03T10:16:00.000Z,3,,,,,,2026-03-03T"));
    assert_non_null(strstr(text.chars, ",,,,,4,,,,,,2026-03-03T"));
    free(text.chars);
}

/* Batch 1 had a thermocouple whose terminals the probe measures, batch 2 another probe, batch 3
 * stood where such a thermocouple watches. */
static void
test_export_failed_check_of_terminals_lists_what_their_thermocouples_were_in(void **state)
{
    static const char text[] =
        "site: {name: Test}\n"
        "people: [{initials: AB, name: Ana Brandt, role: supervisor}]\n"
        "sole_operator: The adviser verifies.\n"
        "buses: [{id: line, driver: modbus-tcp, host: 127.0.0.1}]\n"
        "probes:\n"
#define ON_LINE "bus: line, unit: 1, function: 4, type: int16, plausible: [-40 °C, 160 °C], "
#define TC      "sensor: tc-k, scale: 0.01 mV, cold_junction: ends"
        "  - {id: tip, name: Tip, kind: food, register: 0, " ON_LINE TC "}\n"
        "  - {id: ends, name: Ends, kind: air, register: 1, " ON_LINE "}\n"
        "  - {id: core, name: Core, kind: food, register: 2, " ON_LINE "}\n"
        "  - {id: oven, name: Oven, kind: air, register: 3, " ON_LINE TC "}\n"
        "places: [{id: oven, name: Oven, probe: oven, limit: {kind: none}}]\n"
        "products: [{id: soup, name: Soup, steps: [{id: a, name: A, limit: {kind: none}}]}]\n";
    struct entry begin = xr_entry_by(ENTRY_BEGIN, "AB");
    struct xr_text told;
    char data[4000];
    struct json_out out;

    (void)state;
    out_start(&out, data, sizeof(data), true);
    out_object(&out, NULL);
    out_object(&out, "probes");
    out_int(&out, "core", 3);
    out_int(&out, "ends", 1);
    out_int(&out, "oven", 4);
    out_int(&out, "tip", 2);
    out_object_end(&out);
    out_text(&out, "text", text);
    out_object_end(&out);
    assert_true(out_done(&out));
    (void)xr_put_record("plan", xr_minute(0), data);
    xr.zone_known = true;
    (void)strcpy(begin.product, "soup");
    begin.batch = 1;
    begin.probe_count = 1;
    (void)strcpy(begin.probes[0], "tip");
    (void)xr_put_entry(xr_minute(1), &begin);
    begin.batch = 2;
    (void)strcpy(begin.probes[0], "core");
    (void)xr_put_entry(xr_minute(2), &begin);
    begin.batch = 3;
    begin.probe_count = 0;
    (void)strcpy(begin.place, "oven");
    (void)xr_put_entry(xr_minute(3), &begin);
    xr_put_reading(1, xr_minute(4), 25000, READING_GOOD);
    xr_put_decision(failed(xr_minute(5), 1, 1, TIME_NONE));
    xr_commit();
    told = xr_export(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER);
    assert_non_null(
        strstr(told.chars,
               ",1 3,1,2026-03-03T10:04:00.000Z,2026-03-03T10:04:00.000Z,1,,,,,,2026-03-03T"));
    free(told.chars);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        EXPORT_TEST(test_export_readings_are_corrected_from_their_record_on),
        EXPORT_TEST(test_reader_learns_of_later_corrections),
        EXPORT_TEST(test_export_calibrations_judge_each_look_by_its_time),
        EXPORT_TEST(test_export_failed_check_lists_what_is_in_doubt),
        EXPORT_TEST(
            test_export_failed_check_of_terminals_lists_what_their_thermocouples_were_in),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
