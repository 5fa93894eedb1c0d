/* Exports, cell for cell: the exact text of readings, records and switches for a small day of
 * the Harbour Lane Kitchen. */
#include "tests/support/export_rig.h"

#include <stdio.h>
#include <stdlib.h>

static void
test_words_go_both_ways(void **state)
{
    enum export_kind kind = EXPORT_RECORDS;

    (void)state;
    assert_true(export_kind_from_word("deviations", &kind));
    assert_int_equal(kind, EXPORT_DEVIATIONS);
    assert_string_equal(export_kind_word(EXPORT_READINGS), "readings");
    assert_false(export_kind_from_word("reading", &kind));
}

static void
test_export_empty_store_is_a_header(void **state)
{
    (void)state;
    xr_expect(EXPORT_READINGS, TIME_NONE, TIME_NEVER,
              "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC\n");
    xr_expect(EXPORT_RECORDS, TIME_NONE, TIME_NEVER, "seq,time_utc,kind,body,hash\n");
    xr_expect(
        EXPORT_ACTIONS, TIME_NONE, TIME_NEVER,
        "seq,time_utc,kind,deviation,batch,by,found,done,disposition,quantity,prevent,accepted,"
        "text,temp_degC,reason,corrects,corrected_by,control,safe,food,place,for_s\n");
}

/* ---- readings ---- */

static void
test_export_readings_is_exact(void **state)
{
    struct store_error error = {STORE_OK, ""};

    (void)state;
    (void)xr_put_record("plan", xr_minute(0),
                        "{\"digest\":\"x\",\"file\":\"plan.yaml\",\"probes\":{"
                        "\"roast-core\":1,\"walk-in-air\":2},\"text\":\"\"}");
    xr_put_reading(1, xr_minute(0), 63000, READING_GOOD);
    xr_put_reading(2, xr_minute(0), -18250, READING_GOOD);
    xr_put_reading(1, xr_minute(1), 63125, SUSPECT_LEFT_FOOD);
    xr_put_reading(2, xr_minute(1), TEMP_NONE, BAD_TIMEOUT);
    xr_put_reading(3, xr_minute(1), -5, READING_GOOD); /* of a plan that nobody recorded */
    store_must(store_seal(xr.store, xr_minute(1) - 1, xr_minute(1), &error), &error);
    xr_put_reading(1, xr_minute(2) + 7, 100, READING_GOOD);
    xr_put_reading(1, xr_minute(3), 90010, READING_GOOD);
    xr_commit();
    xr_expect(EXPORT_READINGS, TIME_NONE, TIME_NEVER,
              "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC\n"
              "2026-03-03T10:00:00.000Z,roast-core,63.0,good,yes,1772532000000,63.0\n"
              "2026-03-03T10:00:00.000Z,walk-in-air,-18.25,good,yes,1772532000000,-18.25\n"
              "2026-03-03T10:01:00.000Z,roast-core,63.125,left-food,no,1772532060000,63.125\n"
              "2026-03-03T10:01:00.000Z,walk-in-air,,timeout,no,1772532060000,\n"
              "2026-03-03T10:01:00.000Z,#3,-0.005,good,no,1772532060000,-0.005\n"
              "2026-03-03T10:02:00.007Z,roast-core,0.1,good,no,1772532120007,0.1\n"
              "2026-03-03T10:03:00.000Z,roast-core,90.01,good,no,1772532180000,90.01\n");
    /* from <= at < to */
    xr_expect(EXPORT_READINGS, xr_minute(2) + 7, xr_minute(3),
              "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC\n"
              "2026-03-03T10:02:00.007Z,roast-core,0.1,good,no,1772532120007,0.1\n");
}

/* The clock was an hour behind until a record says so; the midnight of the shown clock falls in
 * between. */
static void
test_export_times_are_those_of_the_shown_clock(void **state)
{
    int64_t late = MORNING_MS + INT64_C(13) * 3600000 + INT64_C(30) * 60000; /* 23:30 */

    (void)state;
    xr_put_reading(1, late - 1, 1000, READING_GOOD);
    (void)xr_put_record("clock", late,
                        "{\"offset_ms\":3600250,\"trusted\":true,\"why\":\"step\"}");
    xr_put_reading(1, late, 1000, READING_GOOD);
    (void)xr_put_record("clock", late + 5,
                        "{\"offset_ms\":-60000,\"trusted\":true,\"why\":\"step\"}");
    xr_put_reading(1, late + 5, 1000, READING_GOOD);
    xr_commit();
    xr_expect(EXPORT_READINGS, TIME_NONE, TIME_NEVER,
              "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC\n"
              "2026-03-03T23:29:59.999Z,#1,1.0,good,no,1772580599999,1.0\n"
              "2026-03-04T00:30:00.250Z,#1,1.0,good,no,1772580600000,1.0\n"
              "2026-03-03T23:29:00.005Z,#1,1.0,good,no,1772580600005,1.0\n");
}

static void
test_export_stops_when_the_sink_has_enough(void **state)
{
    struct store_error error = {STORE_OK, ""};
    struct xr_text text = {.stop_after = 1};
    struct store_reader *reader;

    (void)state;
    for (int64_t i = 0; i < 30000; i++)
        xr_put_reading(1, MORNING_MS + i, 63000, READING_GOOD);
    xr_commit();
    reader = store_reader_open(xr.dir.path, &error);
    store_must(
        export_csv(reader, EXPORT_READINGS, TIME_NONE, TIME_NEVER, xr_collect, &text, &error),
        &error);
    assert_int_equal(text.calls, 1);
    assert_true(text.len <= 262144);
    free(text.chars);
    text = (struct xr_text){NULL, 0, 0, 0, 0};
    store_must(
        export_csv(reader, EXPORT_READINGS, TIME_NONE, TIME_NEVER, xr_collect, &text, &error),
        &error);
    assert_true(text.calls > 3 && text.largest <= 262144);
    free(text.chars);
    store_reader_close(reader);
}

/* ---- records ---- */

static void
test_export_records_quotes_bodies_and_prints_hashes(void **state)
{
    char expected[600], hex[65];

    (void)state;
    (void)xr_put_record("note", xr_minute(1), "{\"text\":\"a \\\"b\\\"\"}");
    xr_commit();
    for (int i = 0; i < 32; i++)
        (void)snprintf(hex + 2 * i, 3, "%02x", store_head(xr.store)->hash[i]);
    (void)snprintf(
        expected, sizeof(expected),
        "seq,time_utc,kind,body,hash\n"
        "1,2026-03-03T10:01:00.000Z,note,\"{\"\"at_ms\"\":1772532060000,\"\"data\"\":"
        "{\"\"text\"\":\"\"a "
        "\\\"\"b\\\"\"\"\"},\"\"kind\"\":\"\"note\"\",\"\"seq\"\":1}\",%s\n",
        hex);
    xr_expect(EXPORT_RECORDS, TIME_NONE, TIME_NEVER, expected);
    xr_expect(EXPORT_RECORDS, xr_minute(2), TIME_NEVER, "seq,time_utc,kind,body,hash\n");
    xr_expect(EXPORT_RECORDS, TIME_NONE, xr_minute(1), "seq,time_utc,kind,body,hash\n");
}

static void
test_export_record_larger_than_the_buffer_is_whole(void **state)
{
    enum { FILL = 700000 };
    char *data = malloc(FILL + 20);
    struct xr_text text;

    (void)state;
    (void)snprintf(data, FILL + 20, "{\"text\":\"%0*d\"}", FILL, 0);
    (void)xr_put_record("plan", xr_minute(1), data);
    xr_commit();
    text = xr_export(EXPORT_RECORDS, TIME_NONE, TIME_NEVER);
    assert_true(text.len > FILL && text.calls >= 3);
    assert_int_equal(text.chars[text.len - 1], '\n');
    free(text.chars);
    free(data);
}

/* ---- local times ---- */

/* What the local times are was taken from Python's zoneinfo (tzdata 2025b): London begins and
 * ends summer time, then the site moves to Kathmandu (+05:45) with another plan. */
static void
put_zone(int64_t at_ms, const char *zone)
{
    char data[2000];

    (void)snprintf(
        data, sizeof(data),
        "{\"text\":\"site: {name: Test, time_zone: %s}\\n"
        "people:\\n  - {initials: AB, name: Ana Brandt, role: supervisor}\\n"
        "sole_operator: The adviser verifies.\\n"
        "buses:\\n  - {id: line, driver: modbus-tcp, host: 127.0.0.1}\\n"
        "probes:\\n  - {id: air, name: Air, kind: air, bus: line, unit: 1, function: 4, "
        "register: 0, type: int16, plausible: [-40 °C, 60 °C]}\\n"
        "places:\\n  - {id: walk-in, name: Walk-in, probe: air, limit: {kind: none}}\\n"
        "products:\\n  - {id: soup, name: Soup, steps: [{id: cook, name: Cook, limit: "
        "{kind: none}}]}\\n\"}",
        zone);
    (void)xr_put_record("plan", at_ms, data);
}

static void
test_export_local_times_follow_the_zone_of_the_plan_in_force(void **state)
{
    static const int64_t at[] = {1774745999999, 1774746000000, 1792889999999,
                                 1792890000000, 1792893600000, 1792958400000};
    struct xr_text text;

    (void)state;
    for (size_t i = 0; i < sizeof(at) / sizeof(at[0]); i++) {
        if (i == 1)
            put_zone(at[i] + 5, "Europe/London"); /* holds for what came before it as well */
        if (i == 5)
            put_zone(at[4] + 1, "Asia/Kathmandu");
        xr_put_reading(1, at[i], 1000, READING_GOOD);
    }
    xr_commit();
    text = xr_export(EXPORT_READINGS, TIME_NONE, TIME_NEVER);
    assert_string_equal(text.chars,
                        "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC,time_local\n"
                        "2026-03-29T00:59:59.999Z,#1,1.0,good,no,1774745999999,1.0,"
                        "2026-03-29T00:59:59.999+00:00\n"
                        "2026-03-29T01:00:00.000Z,#1,1.0,good,no,1774746000000,1.0,"
                        "2026-03-29T02:00:00.000+01:00\n"
                        "2026-10-25T00:59:59.999Z,#1,1.0,good,no,1792889999999,1.0,"
                        "2026-10-25T01:59:59.999+01:00\n"
                        "2026-10-25T01:00:00.000Z,#1,1.0,good,no,1792890000000,1.0,"
                        "2026-10-25T01:00:00.000+00:00\n"
                        "2026-10-25T02:00:00.000Z,#1,1.0,good,no,1792893600000,1.0,"
                        "2026-10-25T02:00:00.000+00:00\n"
                        "2026-10-25T20:00:00.000Z,#1,1.0,good,no,1792958400000,1.0,"
                        "2026-10-26T01:45:00.000+05:45\n");
    free(text.chars);
}

/* ---- switches ---- */

static void
test_export_switches_is_a_row_for_each_change(void **state)
{
    (void)state;
    (void)xr_put_record(
        "switch", xr_minute(1),
        "{\"kind\":\"door\",\"place\":\"walk-in\",\"state\":\"open\",\"switch\":"
        "\"d\"}");
    (void)xr_put_record("switch", xr_minute(2),
                        "{\"cause\":\"link\",\"kind\":\"button\",\"place\":\"oven\",\"state\":"
                        "\"unknown\",\"switch\":\"b\"}");
    xr_commit();
    xr_expect(EXPORT_SWITCHES, TIME_NONE, TIME_NEVER,
              "seq,time_utc,switch,kind,place,state,cause\n"
              "1,2026-03-03T10:01:00.000Z,d,door,walk-in,open,\n"
              "2,2026-03-03T10:02:00.000Z,b,button,oven,unknown,link\n");
    xr_expect(EXPORT_SWITCHES, xr_minute(1) + 1, xr_minute(2),
              "seq,time_utc,switch,kind,place,state,cause\n");
    xr_expect(
        EXPORT_ENTRIES, TIME_NONE, TIME_NEVER, /* nobody entered it */
        "seq,time_utc,kind,by,batch,deviation,product,step,place,probes,thermometer,temp_degC,"
        "given_utc,outcome,text,reason,corrects,corrected_by,for_s\n");
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        EXPORT_TEST(test_words_go_both_ways),
        EXPORT_TEST(test_export_empty_store_is_a_header),
        EXPORT_TEST(test_export_readings_is_exact),
        EXPORT_TEST(test_export_times_are_those_of_the_shown_clock),
        EXPORT_TEST(test_export_stops_when_the_sink_has_enough),
        EXPORT_TEST(test_export_records_quotes_bodies_and_prints_hashes),
        EXPORT_TEST(test_export_record_larger_than_the_buffer_is_whole),
        EXPORT_TEST(test_export_local_times_follow_the_zone_of_the_plan_in_force),
        EXPORT_TEST(test_export_switches_is_a_row_for_each_change),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
