/* Exports, cell for cell: the exact text of each kind of CSV for a small day of the Harbour
 * Lane Kitchen. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/temp_dir.h"
#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/export.h"
#include "trivet/units.h"

/* 2026-03-03T10:00:00Z */
#define MORNING_MS INT64_C(1772532000000)
#define MINUTE_MS  INT64_C(60000)

static struct temp_dir dir;
static struct store *store;
static bool zone_known; /* a plan is on record that can be read */

static void
must(enum store_status status, const struct store_error *error)
{
    if (status != STORE_OK)
        fail_msg("%s", error->text);
}

static int
set_up(void **state)
{
    struct store_error error = {STORE_OK, ""};

    (void)state;
    temp_dir_make(&dir);
    zone_known = false;
    store = store_open(dir.path, NULL, &error);
    return store ? 0 : -1;
}

static int
tear_down(void **state)
{
    (void)state;
    store_close(store);
    temp_dir_remove(&dir);
    return 0;
}

/* ---- writing the day ---- */

static int64_t
minute(int64_t minutes)
{
    return MORNING_MS + minutes * MINUTE_MS;
}

static uint64_t
put_record(const char *kind, int64_t at_ms, const char *data)
{
    struct store_error error = {STORE_OK, ""};
    uint64_t seq = 0;

    must(store_record(store, kind, at_ms, data, &seq, &error), &error);
    return seq;
}

static void
put_reading(uint16_t probe, int64_t at_ms, int32_t temp_mC, uint16_t quality)
{
    struct reading reading = {
        .at_ms = at_ms, .temp_mC = temp_mC, .probe = probe, .quality = quality};
    struct store_error error = {STORE_OK, ""};

    must(store_reading(store, &reading, &error), &error);
}

static uint64_t
put_entry(int64_t at_ms, const struct entry *entry)
{
    char data[16000];
    struct json_out out;

    out_start(&out, data, sizeof(data), true);
    entry_write(entry, &out, NULL);
    assert_true(out_done(&out));
    return put_record(entry_kind_word(entry->kind), at_ms, data);
}

static void
put_decision(struct decision decision)
{
    char data[2048];
    struct json_out out;

    out_start(&out, data, sizeof(data), true);
    decision_write(&decision, &out, NULL);
    assert_true(out_done(&out));
    (void)put_record("decision", decision.at_ms, data);
}

static struct entry
entry_by(enum entry_kind kind, const char *who)
{
    struct entry entry;

    entry_clear(&entry, kind);
    (void)strcpy(entry.who, who);
    return entry;
}

static struct decision
decide(enum decision_kind kind, enum decision_reason reason, int64_t at_ms)
{
    return (struct decision){.kind = kind,
                             .reason = reason,
                             .at_ms = at_ms,
                             .temp_mC = TEMP_NONE,
                             .worst_mC = TEMP_NONE,
                             .since_ms = TIME_NONE};
}

static struct decision
of_batch(struct decision decision, uint32_t batch, const char *step)
{
    decision.batch = batch;
    (void)strcpy(decision.step, step);
    return decision;
}

static void
commit(void)
{
    struct store_error error = {STORE_OK, ""};

    must(store_commit(store, &error), &error);
}

/* ---- reading the export ---- */

struct text {
    char *chars;
    size_t len, calls, stop_after, largest;
};

static bool
collect(void *arg, const char *bytes, size_t len)
{
    struct text *text = arg;

    text->chars = realloc(text->chars, text->len + len + 1);
    assert_non_null(text->chars);
    memcpy(text->chars + text->len, bytes, len);
    text->len += len;
    text->chars[text->len] = '\0';
    text->calls++;
    if (len > text->largest)
        text->largest = len;
    return text->stop_after == 0 || text->calls < text->stop_after;
}

static struct text export(enum export_kind kind, int64_t from_ms, int64_t to_ms)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(dir.path, &error);
    struct text text = {NULL, 0, 0, 0, 0};

    if (!reader)
        fail_msg("%s", error.text);
    must(export_csv(reader, kind, from_ms, to_ms, collect, &text, &error), &error);
    store_reader_close(reader);
    return text;
}

/* The twins of the times, at the end of the header and of each row. Where a store holds no plan
 * that can be read, the site's zone is not known and they are empty; the plans here are in UTC.
 * Zones and their changes are in test_export_local_... and tests/system/test_export_times.py.
 */
static bool
is_utc(const char *head, size_t column)
{
    for (; column > 0; column--)
        head += strcspn(head, ",\n") + 1;
    size_t len = strcspn(head, ",\n");
    return len > 4 && memcmp(head + len - 4, "_utc", 4) == 0;
}

static char *
with_twins(const char *text)
{
    char *ret = malloc(3 * strlen(text) + 1000), *at = ret;
    char twins[600] = "";
    size_t column = 0, len = 0;
    bool quoted = false;

    assert_non_null(ret);
    for (const char *from = text, *cell = text; *from != '\0'; from++) {
        quoted = quoted != (*from == '"');
        if ((*from == ',' || *from == '\n') && !quoted) {
            int size = (int)(from - cell);
            bool head = cell < text + strcspn(text, "\n");
            if (is_utc(text, column))
                len += head ? (size_t)sprintf(twins + len, ",%.*s_local", size - 4, cell)
                       : zone_known && size > 0
                           ? (size_t)sprintf(twins + len, ",%.*s+00:00", size - 1, cell)
                           : (size_t)sprintf(twins + len, ",");
            column++;
            cell = from + 1;
        }
        if (*from == '\n' && !quoted) {
            at += sprintf(at, "%s", twins);
            twins[len = column = 0] = '\0';
        }
        *at++ = *from;
    }
    *at = '\0';
    return ret;
}

static void
expect(enum export_kind kind, int64_t from_ms, int64_t to_ms, const char *expected)
{
    struct text text = export(kind, from_ms, to_ms);
    char *whole = with_twins(expected);

    assert_string_equal(text.chars, whole);
    free(whole);
    free(text.chars);
}

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
    expect(EXPORT_READINGS, TIME_NONE, TIME_NEVER,
           "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC\n");
    expect(EXPORT_RECORDS, TIME_NONE, TIME_NEVER, "seq,time_utc,kind,body,hash\n");
    expect(
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
    (void)put_record("plan", minute(0),
                     "{\"digest\":\"x\",\"file\":\"plan.yaml\",\"probes\":{"
                     "\"roast-core\":1,\"walk-in-air\":2},\"text\":\"\"}");
    put_reading(1, minute(0), 63000, READING_GOOD);
    put_reading(2, minute(0), -18250, READING_GOOD);
    put_reading(1, minute(1), 63125, SUSPECT_LEFT_FOOD);
    put_reading(2, minute(1), TEMP_NONE, BAD_TIMEOUT);
    put_reading(3, minute(1), -5, READING_GOOD); /* of a plan that nobody recorded */
    must(store_seal(store, minute(1) - 1, minute(1), &error), &error);
    put_reading(1, minute(2) + 7, 100, READING_GOOD);
    put_reading(1, minute(3), 90010, READING_GOOD);
    commit();
    expect(EXPORT_READINGS, TIME_NONE, TIME_NEVER,
           "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC\n"
           "2026-03-03T10:00:00.000Z,roast-core,63.0,good,yes,1772532000000,63.0\n"
           "2026-03-03T10:00:00.000Z,walk-in-air,-18.25,good,yes,1772532000000,-18.25\n"
           "2026-03-03T10:01:00.000Z,roast-core,63.125,left-food,no,1772532060000,63.125\n"
           "2026-03-03T10:01:00.000Z,walk-in-air,,timeout,no,1772532060000,\n"
           "2026-03-03T10:01:00.000Z,#3,-0.005,good,no,1772532060000,-0.005\n"
           "2026-03-03T10:02:00.007Z,roast-core,0.1,good,no,1772532120007,0.1\n"
           "2026-03-03T10:03:00.000Z,roast-core,90.01,good,no,1772532180000,90.01\n");
    /* from <= at < to */
    expect(EXPORT_READINGS, minute(2) + 7, minute(3),
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
    put_reading(1, late - 1, 1000, READING_GOOD);
    (void)put_record("clock", late,
                     "{\"offset_ms\":3600250,\"trusted\":true,\"why\":\"step\"}");
    put_reading(1, late, 1000, READING_GOOD);
    (void)put_record("clock", late + 5,
                     "{\"offset_ms\":-60000,\"trusted\":true,\"why\":\"step\"}");
    put_reading(1, late + 5, 1000, READING_GOOD);
    commit();
    expect(EXPORT_READINGS, TIME_NONE, TIME_NEVER,
           "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC\n"
           "2026-03-03T23:29:59.999Z,#1,1.0,good,no,1772580599999,1.0\n"
           "2026-03-04T00:30:00.250Z,#1,1.0,good,no,1772580600000,1.0\n"
           "2026-03-03T23:29:00.005Z,#1,1.0,good,no,1772580600005,1.0\n");
}

static void
test_export_stops_when_the_sink_has_enough(void **state)
{
    struct store_error error = {STORE_OK, ""};
    struct text text = {.stop_after = 1};
    struct store_reader *reader;

    (void)state;
    for (int64_t i = 0; i < 30000; i++)
        put_reading(1, MORNING_MS + i, 63000, READING_GOOD);
    commit();
    reader = store_reader_open(dir.path, &error);
    must(export_csv(reader, EXPORT_READINGS, TIME_NONE, TIME_NEVER, collect, &text, &error),
         &error);
    assert_int_equal(text.calls, 1);
    assert_true(text.len <= 262144);
    free(text.chars);
    text = (struct text){NULL, 0, 0, 0, 0};
    must(export_csv(reader, EXPORT_READINGS, TIME_NONE, TIME_NEVER, collect, &text, &error),
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
    (void)put_record("note", minute(1), "{\"text\":\"a \\\"b\\\"\"}");
    commit();
    for (int i = 0; i < 32; i++)
        (void)snprintf(hex + 2 * i, 3, "%02x", store_head(store)->hash[i]);
    (void)snprintf(
        expected, sizeof(expected),
        "seq,time_utc,kind,body,hash\n"
        "1,2026-03-03T10:01:00.000Z,note,\"{\"\"at_ms\"\":1772532060000,\"\"data\"\":"
        "{\"\"text\"\":\"\"a "
        "\\\"\"b\\\"\"\"\"},\"\"kind\"\":\"\"note\"\",\"\"seq\"\":1}\",%s\n",
        hex);
    expect(EXPORT_RECORDS, TIME_NONE, TIME_NEVER, expected);
    expect(EXPORT_RECORDS, minute(2), TIME_NEVER, "seq,time_utc,kind,body,hash\n");
    expect(EXPORT_RECORDS, TIME_NONE, minute(1), "seq,time_utc,kind,body,hash\n");
}

static void
test_export_record_larger_than_the_buffer_is_whole(void **state)
{
    enum { FILL = 700000 };
    char *data = malloc(FILL + 20);
    struct text text;

    (void)state;
    (void)snprintf(data, FILL + 20, "{\"text\":\"%0*d\"}", FILL, 0);
    (void)put_record("plan", minute(1), data);
    commit();
    text = export(EXPORT_RECORDS, TIME_NONE, TIME_NEVER);
    assert_true(text.len > FILL && text.calls >= 3);
    assert_int_equal(text.chars[text.len - 1], '\n');
    free(text.chars);
    free(data);
}

/* ---- batches, deviations, actions ---- */

static void
begin_batch(uint32_t number, int64_t at_ms, const char *product, const char *text)
{
    struct entry entry = entry_by(ENTRY_BEGIN, "AB");

    entry.batch = number;
    entry.mass_g = 1800;
    entry.thickness_mm = 90;
    entry.probe_count = 2;
    (void)strcpy(entry.product, product);
    (void)strcpy(entry.place, "oven");
    (void)strcpy(entry.probes[0], "roast-core-a");
    (void)strcpy(entry.probes[1], "roast-core");
    (void)strcpy(entry.text, text);
    (void)put_entry(at_ms, &entry);
}

static void
end_batch(uint32_t number, int64_t at_ms, const char *text)
{
    struct entry entry = entry_by(ENTRY_END, "CD");

    entry.batch = number;
    entry.outcome = OUTCOME_STORED;
    (void)strcpy(entry.text, text);
    (void)put_entry(at_ms, &entry);
}

static void
open_deviation(uint32_t number, int64_t at_ms)
{
    struct decision opened =
        of_batch(decide(DECISION_DEVIATION_OPENED, REASON_TOO_LATE, at_ms), 7, "cool");

    opened.deviation = number;
    opened.limit = LIMIT_COOL;
    opened.subject = SUBJECT_FOOD;
    opened.stage = 2;
    opened.required = (struct limit_temp){41000, TEMP_F};
    opened.required_ms = 21600000;
    opened.temp_mC = 9375;
    opened.probe = 1;
    opened.since_ms = at_ms - 21600000;
    opened.found_ms = 21600250;
    put_decision(opened);
}

static void
act(uint32_t deviation, int64_t at_ms, const char *who, const char *found, const char *done)
{
    struct entry entry = entry_by(ENTRY_ACTION, who);

    entry.deviation = deviation;
    entry.disposition = DISPOSITION_DISCARD;
    (void)strcpy(entry.found, found);
    (void)strcpy(entry.done, done);
    (void)strcpy(entry.quantity, "4 kg");
    (void)strcpy(entry.control, "cold since");
    (void)strcpy(entry.prevent, "pans laid out");
    (void)strcpy(entry.safe, "none left");
    entry.food[0] = (struct entry_food){7, DISPOSITION_DISCARD, "3 kg"};
    entry.food[1] = (struct entry_food){9, DISPOSITION_USE, ""};
    entry.food_count = 2;
    (void)put_entry(at_ms, &entry);
}

static void
verify_action(uint32_t deviation, int64_t at_ms, const char *who)
{
    struct entry entry = entry_by(ENTRY_VERIFY, who);

    entry.deviation = deviation;
    (void)put_entry(at_ms, &entry);
}

/* A small plan whose limits carry this control point and source. */
static void
put_plan(int64_t at_ms, const char *ccp, const char *source)
{
    char text[3000], data[6000];
    struct json_out out;

    (void)snprintf(
        text, sizeof(text),
        "site: {name: Test}\n"
        "people:\n  - {initials: AB, name: Ana Brandt, role: supervisor}\n"
        "sole_operator: The adviser verifies.\n"
        "buses:\n  - {id: line, driver: modbus-tcp, host: 127.0.0.1}\n"
        "probes:\n  - {id: air, name: Air, kind: air, bus: line, unit: 1, function: 4, "
        "register: 0, "
        "type: int16, scale: 0.1 °C, plausible: [-40 °C, 60 °C], every: 10 s}\n"
        "places:\n  - {id: walk-in, name: Walk-in, probe: air, limit: {kind: hold_cold, "
        "applies_to: air, "
        "at_most: 5 °C, critical_control_point: %s, source: %s}}\n"
        "products:\n  - id: pork-loin\n    name: Pork loin\n    steps:\n"
        "      - {id: cool, name: Cooling, limit: {kind: cool, applies_to: food, from: 135 °F, "
        "stages: [{to: 41 °F, within: 6 h}], critical_control_point: %s, source: %s}}\n",
        ccp, source, ccp, source);
    out_start(&out, data, sizeof(data), true);
    out_object(&out, NULL);
    out_text(&out, "text", text);
    out_object_end(&out);
    assert_true(out_done(&out));
    (void)put_record("plan", at_ms, data);
    zone_known = true;
}

#define BATCH_HEADER                                                                           \
    "batch,product,begun_utc,begun_by,mass_g,thickness_mm,probes,place,steps,deviations,"      \
    "ended_utc,"                                                                               \
    "ended_by,outcome,note,end_note\n"

static void
test_export_batches_tells_steps_and_ends(void **state)
{
    struct decision met;
    struct entry move = entry_by(ENTRY_MOVE, "AB");

    (void)state;
    begin_batch(6, minute(0), "stock", "");
    end_batch(6, minute(1), "");
    begin_batch(7, minute(2), "pork-loin", "second tray,\nfor \"Friday\"");
    put_decision(of_batch(decide(DECISION_STEP_BEGUN, REASON_ENTERED, minute(2)), 7, "cook"));
    met = of_batch(decide(DECISION_LIMIT_MET, REASON_HELD, minute(50)), 7, "cook");
    met.limit = LIMIT_COOK;
    met.required = (struct limit_temp){63000, TEMP_C};
    put_decision(met);
    move.batch = 7;
    (void)strcpy(move.step, "cool");
    (void)strcpy(move.place, "chiller");
    move.probe_count = 1;
    (void)strcpy(move.probes[0], "roast-core");
    (void)put_entry(minute(60), &move);
    put_decision(of_batch(decide(DECISION_STEP_BEGUN, REASON_ENTERED, minute(60)), 7, "cool"));
    open_deviation(3, minute(420));
    end_batch(7, minute(430), "=2+3");
    begin_batch(8, minute(440), "soup", "");
    commit();
    expect(
        EXPORT_BATCHES, minute(2), minute(440),
        BATCH_HEADER
        "7,pork-loin,2026-03-03T10:02:00.000Z,AB,1800,90,roast-core-a roast-core,chiller,"
        "\"cook begun 2026-03-03T10:02:00.000Z, met 2026-03-03T10:50:00.000Z; "
        "cool begun 2026-03-03T11:00:00.000Z, stage 2 deviation 3 2026-03-03T17:00:00.000Z\","
        "3,2026-03-03T17:10:00.000Z,CD,stored,\"second tray,\nfor \"\"Friday\"\"\",'=2+3\n");
    /* In hand at some time of the range is enough. */
    expect(EXPORT_BATCHES, minute(441), minute(442),
           BATCH_HEADER
           "8,soup,2026-03-03T17:20:00.000Z,AB,1800,90,roast-core-a roast-core,oven,,,,,,,\n");
}

#define DEVIATION_HEADER                                                                       \
    "deviation,status,opened_utc,reason,batch,product,place,probe,step,stage,limit,applies_"   \
    "to,"                                                                                      \
    "required,required_s,found_degC,found_s,since_utc,ended_utc,worst_degC,action_utc,action_" \
    "by,"                                                                                      \
    "disposition,verified_utc,verified_by,found,done,quantity,prevent,critical_control_point," \
    "limit_source,control,safe,food,rule,explained,doubted_batches,doubted_readings,"          \
    "doubted_from_utc,doubted_to_utc,alarm,heard,shelved,escalated\n"

/* The last two cells of a second stage that was late by a quarter of a second; 9.375 degC is
 * 48.875 degF. */
#define LATE_CELLS                                                                             \
    ",E38,The deadline of a stage of cooling passed without a good reading of the warmest "    \
    "probe at or below its temperature. Required: stage 2: to 41.0 °F within 6 h of the "     \
    "start of the clock. Found: 9.375 °C (48.875 °F) at probe #1; time on the clock "        \
    "6 h 00 min 00.250 s. Uncertainty: not part of the judgement: readings were compared as "  \
    "they were shown (simple acceptance).,,,,,3,,,\n"

#define GAP_CELLS                                                                              \
    ",E55,A probe without a good reading for too long is a deviation of its own kind."

static void
end_deviation(uint32_t number, int64_t at_ms, int32_t worst_mC)
{
    struct decision ended = decide(DECISION_DEVIATION_ENDED, REASON_BATCH_ENDED, at_ms);

    ended.deviation = number;
    ended.worst_mC = worst_mC;
    put_decision(ended);
}

static void
test_export_deviations_follow_action_and_verification(void **state)
{
    static const char row_begin[] = ",2026-03-03T17:00:00.000Z,too-late,7,pork-loin,,roast-"
                                    "core,cool,2,cool,food,41.0 °F,21600,"
                                    "9.375,21600.25,2026-03-03T11:00:00.000Z,";
    struct decision walk_in = decide(DECISION_GAP_OPENED, REASON_NO_GOOD_READING, minute(440));
    char expected[4000];

    (void)state;
    (void)put_record("plan", minute(0),
                     "{\"digest\":\"x\",\"file\":\"plan.yaml\",\"probes\":{"
                     "\"roast-core\":1},\"text\":\"\"}");
    begin_batch(7, minute(2), "pork-loin", "");
    end_batch(7, minute(420), ""); /* its deviation comes right after */
    open_deviation(3, minute(420));
    commit();
    (void)snprintf(expected, sizeof(expected),
                   DEVIATION_HEADER "3,open%s,,,,,,,,,,,,,,," LATE_CELLS, row_begin);
    expect(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER, expected);

    end_deviation(3, minute(430), 9500);
    commit();
    (void)snprintf(expected, sizeof(expected),
                   DEVIATION_HEADER
                   "3,action due%s2026-03-03T17:10:00.000Z,9.5,,,,,,,,,,,,,," LATE_CELLS,
                   row_begin);
    expect(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER, expected);

    act(3, minute(431), "AB", "pot too deep", "thrown away");
    verify_action(3, minute(432), "EF");
    act(3, minute(433), "AB", "pot too deep", "all thrown away");
    commit();
    (void)snprintf(expected, sizeof(expected),
                   DEVIATION_HEADER "3,verification due%s2026-03-03T17:10:00.000Z,9.5,"
                                    "2026-03-03T17:13:00.000Z,AB,discard,,,pot too deep,"
                                    "all thrown away,4 kg,pans laid out,,,cold since,none "
                                    "left,7 discard 3 kg; 9 use" LATE_CELLS,
                   row_begin);
    expect(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER, expected);

    verify_action(3, minute(435), "EF");
    walk_in.deviation = 4;
    walk_in.probe = 12;
    (void)strcpy(walk_in.place, "walk-in");
    put_decision(walk_in);
    commit();
    (void)snprintf(
        expected, sizeof(expected),
        DEVIATION_HEADER
        "3,closed%s2026-03-03T17:10:00.000Z,9.5,2026-03-03T17:13:00.000Z,AB,"
        "discard,2026-03-03T17:15:00.000Z,EF,pot too deep,all thrown away,4 kg,pans laid out,,,"
        "cold since,none left,7 discard 3 kg; 9 use" LATE_CELLS,
        row_begin);
    expect(EXPORT_DEVIATIONS, TIME_NONE, minute(440), expected);
    expect(EXPORT_DEVIATIONS, minute(431), TIME_NEVER,
           DEVIATION_HEADER "4,open,2026-03-03T17:20:00.000Z,no-good-reading,,,walk-in,#12,,,,,"
                            ",,,,,,,,,,,,,,,,,,,," GAP_CELLS
                            " Found: no good reading of probe #12.,,,,,4,,,\n");
}

/* What an inspector asks of a limit, its control point and where it comes from, is the plan's
 * that was in force: for a batch the one it began under, whatever was changed since. */
static void
test_export_deviation_names_control_point_and_source(void **state)
{
    struct text text;
    struct decision walk_in = decide(DECISION_DEVIATION_OPENED, REASON_OUT_TOO_LONG, minute(9));

    (void)state;
    put_plan(minute(0), "CCP 2 Cooling", "Code A");
    begin_batch(7, minute(1), "pork-loin", "");
    put_plan(minute(2), "CCP 9 Renamed", "Code B");
    open_deviation(3, minute(8));
    walk_in.deviation = 4;
    walk_in.limit = LIMIT_HOLD_COLD;
    (void)strcpy(walk_in.place, "walk-in");
    put_decision(walk_in);
    commit();
    text = export(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER);
    assert_non_null(strstr(text.chars, ",,,,,CCP 2 Cooling,Code A,,,,E38,"));
    assert_non_null(strstr(text.chars, ",,,,,CCP 9 Renamed,Code B,,,,E22,"));
    free(text.chars);
}

/* Every decision of the range, each by the plan that was in force for it. */
static void
test_export_decisions_are_explained(void **state)
{
    struct text text;

    (void)state;
    put_plan(minute(0), "CCP 2 Cooling", "Code A");
    begin_batch(7, minute(1), "pork-loin", "");
    put_decision(of_batch(decide(DECISION_STEP_BEGUN, REASON_ENTERED, minute(1)), 7, "cool"));
    put_plan(minute(2), "CCP 9 Renamed", "Code B");
    open_deviation(3, minute(8));
    commit();
    text = export(EXPORT_DECISIONS, minute(2), minute(9));
    assert_non_null(strstr(text.chars,
                           ",critical_control_point,limit_source,rule,explained,time_local,"
                           "since_local\n"
                           "5,2026-03-03T10:08:00.000Z,deviation-opened,too-late,"
                           "3,7,pork-loin,,#1,cool,2,cool,food,41.0 °F,21600,"));
    assert_non_null(strstr(text.chars, "CCP 2 Cooling,Code A,E38,"));
    assert_null(strstr(text.chars, "step-begun"));
    free(text.chars);
    text = export(EXPORT_DECISIONS, minute(1), minute(2));
    assert_non_null(strstr(text.chars, "\n3,2026-03-03T10:01:00.000Z,step-begun,entered,,7,"));
    assert_null(strstr(text.chars, "deviation-opened"));
    free(text.chars);
}

/* A gap that lasted too long has a number of its own; its batch names it, and it tells no
 * verdict on the step. */
static void
test_export_gap_is_a_deviation_of_its_batch(void **state)
{
    struct decision gap =
        of_batch(decide(DECISION_GAP_OPENED, REASON_NO_GOOD_READING, minute(20)), 7, "cook");
    struct decision back = decide(DECISION_GAP_ENDED, REASON_GOOD_AGAIN, minute(30));

    (void)state;
    begin_batch(7, minute(2), "pork-loin", "");
    gap.deviation = back.deviation = 5;
    gap.probe = back.probe = 1;
    gap.since_ms = minute(14);
    put_decision(gap);
    put_decision(back);
    commit();
    expect(
        EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER,
        DEVIATION_HEADER
        "5,action due,2026-03-03T10:20:00.000Z,no-good-reading,7,pork-loin,,#1,"
        "cook,,,,,,,,2026-03-03T10:14:00.000Z,2026-03-03T10:30:00.000Z,,,,,,,,,,,,,,," GAP_CELLS
        " Found: no good reading of probe #1.,,,,,5,,,\n");
    expect(EXPORT_BATCHES, TIME_NONE, TIME_NEVER,
           BATCH_HEADER
           "7,pork-loin,2026-03-03T10:02:00.000Z,AB,1800,90,roast-core-a roast-core,oven,,"
           "5,,,,,\n");
}

static void
test_export_actions_keep_old_and_corrected(void **state)
{
    struct entry correct = entry_by(ENTRY_CORRECT, "AB"),
                 decided = entry_by(ENTRY_DECIDE, "EF");
    uint64_t seq;

    (void)state;
    (void)put_record("note", minute(0), "{\"text\":\"not an action\",\"who\":\"AB\"}");
    act(3, minute(1), "AB", "-18 shown, \"warm\" felt\nby hand", "@home");
    seq = store_head(store)->seq;
    verify_action(3, minute(2), "EF");
    correct.refers = seq;
    (void)strcpy(correct.text, "\xc3\xbc"
                               "ber 5");
    (void)strcpy(correct.reason, "+ misread");
    (void)put_entry(minute(3), &correct);
    decided.batch = 7;
    decided.accept = true;
    (void)strcpy(decided.reason, "logger was read by hand");
    (void)put_entry(minute(4), &decided);
    commit();
    expect(
        EXPORT_ACTIONS, TIME_NONE, TIME_NEVER,
        "seq,time_utc,kind,deviation,batch,by,found,done,disposition,quantity,prevent,accepted,"
        "text,temp_degC,reason,corrects,corrected_by,control,safe,food,place,for_s\n"
        "2,2026-03-03T10:01:00.000Z,action,3,,AB,\"'-18 shown, \"\"warm\"\" felt\nby "
        "hand\",'@home,"
        "discard,4 kg,pans laid out,,,,,,4,cold since,none left,7 discard 3 kg; 9 use,,\n"
        "3,2026-03-03T10:02:00.000Z,verify,3,,EF,,,,,,,,,,,,,,,,\n"
        "4,2026-03-03T10:03:00.000Z,correct,,,AB,,,,,,,\xc3\xbc"
        "ber 5,,'+ misread,2,,,,,,\n"
        "5,2026-03-03T10:04:00.000Z,decide,,7,EF,,,,,,yes,,,logger was read by hand,,,,,,,\n");
    /* A correction after the range still marks what it corrects. */
    expect(
        EXPORT_ACTIONS, minute(2), minute(3),
        "seq,time_utc,kind,deviation,batch,by,found,done,disposition,quantity,prevent,accepted,"
        "text,temp_degC,reason,corrects,corrected_by,control,safe,food,place,for_s\n"
        "3,2026-03-03T10:02:00.000Z,verify,3,,EF,,,,,,,,,,,,,,,,\n");
}

/* A hand-held reading is a measurement that an inspector asks for: with its thermometer, its
 * person, and what it was corrected to. */
static void
test_export_entries_show_hand_readings_and_their_corrections(void **state)
{
    struct entry hand = entry_by(ENTRY_HAND, "AB"), correct = entry_by(ENTRY_CORRECT, "CD"),
                 cooked = entry_by(ENTRY_COOKED, "AB"), note = entry_by(ENTRY_NOTE, "EF"),
                 quiet = entry_by(ENTRY_QUIET, "EF");
    uint64_t seq;

    (void)state;
    begin_batch(7, minute(0), "pork-loin", "");
    hand.batch = 7;
    hand.has_temp = true;
    hand.temp_mC = 63400;
    (void)strcpy(hand.thermometer, "red-pen");
    (void)put_entry(minute(1), &hand);
    seq = store_head(store)->seq;
    correct.refers = seq;
    correct.has_temp = true;
    correct.temp_mC = 64300;
    (void)strcpy(correct.reason, "figures swapped");
    (void)put_entry(minute(2), &correct);
    cooked.batch = 7;
    cooked.given_ms = minute(1);
    (void)put_entry(minute(3), &cooked);
    (void)strcpy(note.place, "oven");
    (void)strcpy(note.text, "door sticks");
    (void)put_entry(minute(4), &note);
    end_batch(7, minute(5), "cold room");
    quiet.why = QUIET_DEFROSTING;
    quiet.for_ms = 1800000;
    (void)strcpy(quiet.place, "walk-in");
    (void)put_entry(minute(6), &quiet);
    commit();
    expect(
        EXPORT_ENTRIES, TIME_NONE, TIME_NEVER,
        "seq,time_utc,kind,by,batch,deviation,product,step,place,probes,thermometer,temp_degC,"
        "given_utc,outcome,text,reason,corrects,corrected_by,for_s\n"
        "1,2026-03-03T10:00:00.000Z,begin,AB,7,,pork-loin,,oven,roast-core-a "
        "roast-core,,,,,,,,,\n"
        "2,2026-03-03T10:01:00.000Z,hand,AB,7,,,,,,red-pen,63.4,,,,,,3,\n"
        "3,2026-03-03T10:02:00.000Z,correct,CD,,,,,,,,64.3,,,,figures swapped,2,,\n"
        "4,2026-03-03T10:03:00.000Z,cooked,AB,7,,,,,,,,2026-03-03T10:01:00.000Z,,,,,,\n"
        "5,2026-03-03T10:04:00.000Z,note,EF,,,,,oven,,,,,,door sticks,,,,\n"
        "6,2026-03-03T10:05:00.000Z,end,CD,7,,,,,,,,,stored,cold room,,,,\n"
        "7,2026-03-03T10:06:00.000Z,quiet,EF,,,,,walk-in,,,,,,,defrosting,,,1800\n");
}

/* What a spreadsheet runs or strips: = + - @, tab and carriage return at the beginning of a
 * text. */
static void
test_export_text_that_looks_like_a_formula_is_guarded(void **state)
{
    static const struct {
        const char *id, *cell;
    } texts[] = {
        {"=1+1", "'=1+1"},     {"+1", "'+1"},          {"-1", "'-1"},  {"@x", "'@x"},
        {"\\t=1", "'\t=1"},    {"\\r=1", "\"'\r=1\""}, {"a=1", "a=1"}, {"\\\"=1", "\"\"\"=1\""},
        {"=1,2", "\"'=1,2\""}, {" =1", " =1"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++) {
        char data[200], expected[200];
        (void)snprintf(data, sizeof(data), "{\"probes\":{\"%s\":1}}", texts[i].id);
        (void)put_record("plan", minute((int64_t)i), data);
        put_reading(1, minute((int64_t)i), -1000, READING_GOOD);
        commit();
        (void)snprintf(expected, sizeof(expected), "Z,%s,-1.0,good,no,", texts[i].cell);
        struct text text = export(EXPORT_READINGS, minute((int64_t)i), minute((int64_t)i) + 1);
        if (!strstr(text.chars, expected))
            fail_msg("%s: %s", texts[i].cell, text.chars);
        free(text.chars);
    }
}

/* A record that the chain holds but this version cannot read is an error that names it, not a
 * row left out. */
static void
test_export_unreadable_decision_is_named(void **state)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader;
    struct text text = {NULL, 0, 0, 0, 0};

    (void)state;
    (void)put_record("decision", minute(0), "{\"decision\":\"of another age\"}");
    commit();
    reader = store_reader_open(dir.path, &error);
    assert_int_equal(
        export_csv(reader, EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER, collect, &text, &error),
        STORE_CORRUPT);
    assert_non_null(strstr(error.text, "record 1"));
    assert_null(text.chars);
    store_reader_close(reader);
}

/* ---- checks of thermometers ---- */

static struct entry
checked(const char *probe, const char *held, int32_t found_mC,
        enum correction_choice correction)
{
    struct entry entry = entry_by(ENTRY_CALIBRATE, "AB");

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
    struct decision decision = decide(DECISION_DEVIATION_OPENED, REASON_FAILED_CHECK, at_ms);

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
    (void)put_record("plan", at_ms, data);
    zone_known = true;
}

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
    (void)put_record("plan", at_ms, data);
}

static void
test_export_local_times_follow_the_zone_of_the_plan_in_force(void **state)
{
    static const int64_t at[] = {1774745999999, 1774746000000, 1792889999999,
                                 1792890000000, 1792893600000, 1792958400000};
    struct text text;

    (void)state;
    for (size_t i = 0; i < sizeof(at) / sizeof(at[0]); i++) {
        if (i == 1)
            put_zone(at[i] + 5, "Europe/London"); /* holds for what came before it as well */
        if (i == 5)
            put_zone(at[4] + 1, "Asia/Kathmandu");
        put_reading(1, at[i], 1000, READING_GOOD);
    }
    commit();
    text = export(EXPORT_READINGS, TIME_NONE, TIME_NEVER);
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

/* Corrected from the very instant of the record on, raw beside it; other probes are left alone;
 * a later plan that reads the probe otherwise ends it. */
static void
test_export_readings_are_corrected_from_their_record_on(void **state)
{
    struct entry adopt = checked("core", "", 400, CORRECTION_ADOPT);
    struct decision ended = decide(DECISION_CORRECTION_ENDED, REASON_ENTERED, minute(5));

    (void)state;
    put_checked_plan(minute(0));
    put_reading(2, minute(1), 63000, READING_GOOD);
    (void)put_entry(minute(2), &adopt);
    put_reading(1, minute(2), 4000, READING_GOOD);
    put_reading(2, minute(2), 63000, READING_GOOD);
    put_reading(2, minute(3), TEMP_NONE, BAD_TIMEOUT);
    put_reading(2, minute(4), 63100, SUSPECT_LEFT_FOOD);
    put_checked_plan(minute(5));
    ended.probe = 2;
    put_decision(ended);
    put_reading(2, minute(5), 63000, READING_GOOD);
    commit();
    expect(EXPORT_READINGS, TIME_NONE, TIME_NEVER,
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
    struct reading reading = {.at_ms = minute(3), .temp_mC = 63000, .probe = 2};

    (void)state;
    put_checked_plan(minute(0));
    commit();
    struct store_reader *reader = store_reader_open(dir.path, &error);
    assert_non_null(reader);
    assert_int_equal(store_corrected_mC(reader, &reading), 63000); /* before the first look */
    must(store_corrections_read(reader, &error), &error);
    assert_int_equal(store_corrected_mC(reader, &reading), 63000);
    (void)put_entry(minute(2), &adopt);
    commit();
    must(store_corrections_read(reader, &error), &error);
    assert_int_equal(store_corrected_mC(reader, &reading), 62600);
    (void)put_entry(minute(3), &drop);
    commit();
    must(store_corrections_read(reader, &error), &error);
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
    put_checked_plan(minute(0));
    (void)put_entry(minute(1), &adopt);
    (void)put_entry(minute(2), &keep);
    pen.left[pen.left_count++] = pen.points[0];
    pen.left[0].found_mC = 100;
    pen.points[0].method = CALIBRATION_BOILING;
    pen.points[0].reference_mC = 99840;
    pen.points[0].found_mC = 101140;
    pen.pressure_Pa = 100850;
    (void)strcpy(pen.basis, "barometer");
    (void)put_entry(minute(3), &pen);
    commit();
    expect(
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
    expect(EXPORT_CALIBRATIONS, minute(1) + 1, minute(3),
           CALIBRATION_HEADER
           "3,2026-03-03T10:02:00.000Z,core,probe,AB,as found,ice,0.0,0.1,0.6,0.0,0.0,0.5,pass,"
           "keep,,,,\n");
}

static void
test_export_switches_is_a_row_for_each_change(void **state)
{
    (void)state;
    (void)put_record("switch", minute(1),
                     "{\"kind\":\"door\",\"place\":\"walk-in\",\"state\":\"open\",\"switch\":"
                     "\"d\"}");
    (void)put_record("switch", minute(2),
                     "{\"cause\":\"link\",\"kind\":\"button\",\"place\":\"oven\",\"state\":"
                     "\"unknown\",\"switch\":\"b\"}");
    commit();
    expect(EXPORT_SWITCHES, TIME_NONE, TIME_NEVER,
           "seq,time_utc,switch,kind,place,state,cause\n"
           "1,2026-03-03T10:01:00.000Z,d,door,walk-in,open,\n"
           "2,2026-03-03T10:02:00.000Z,b,button,oven,unknown,link\n");
    expect(EXPORT_SWITCHES, minute(1) + 1, minute(2),
           "seq,time_utc,switch,kind,place,state,cause\n");
    expect(
        EXPORT_ENTRIES, TIME_NONE, TIME_NEVER, /* nobody entered it */
        "seq,time_utc,kind,by,batch,deviation,product,step,place,probes,thermometer,temp_degC,"
        "given_utc,outcome,text,reason,corrects,corrected_by,for_s\n");
}

/* Batches 1 and 2 had the core probe; 1 ended before it was last found right, 2 while it was
 * still right and after. 3 stood in the walk-in, whose probe is another one. */
static void
test_export_failed_check_lists_what_is_in_doubt(void **state)
{
    struct entry begin = entry_by(ENTRY_BEGIN, "AB"), move = entry_by(ENTRY_MOVE, "AB"),
                 hand = entry_by(ENTRY_HAND, "AB");
    struct text text;

    (void)state;
    put_checked_plan(minute(0));
    (void)strcpy(begin.product, "soup");
    (void)strcpy(begin.probes[0], "core");
    begin.batch = 1;
    begin.probe_count = 1;
    (void)put_entry(minute(1), &begin);
    end_batch(1, minute(9), "");
    begin.batch = 2;
    (void)put_entry(minute(9), &begin);
    put_reading(2, minute(10), 60000, READING_GOOD);
    put_reading(2, minute(11), 60000, READING_GOOD);
    put_reading(2, minute(12), TEMP_NONE, BAD_TIMEOUT);
    put_reading(2, minute(13), 61000, SUSPECT_LEFT_FOOD);
    begin.batch = 3;
    begin.probe_count = 0;
    (void)put_entry(minute(14), &begin);
    move.batch = 3;
    (void)put_entry(minute(15), &move); /* into its usual place, the walk-in */
    hand.batch = 3;
    hand.has_temp = true;
    hand.temp_mC = 4000;
    (void)strcpy(hand.thermometer, "pen");
    (void)put_entry(minute(16), &hand);
    put_reading(1, minute(17), 4000, READING_GOOD);
    put_decision(failed(minute(20), 1, 2, minute(10)));
    put_decision(failed(minute(20), 2, 1, TIME_NONE));
    struct decision pen = failed(minute(20), 3, 0, minute(16) - 1);
    (void)strcpy(pen.thermometer, "pen");
    put_decision(pen);
    pen.deviation = 4;
    pen.since_ms = minute(16); /* found right at the very instant of the reading */
    put_decision(pen);
    put_reading(2, minute(21), 60000, READING_GOOD); /* after the check */
    commit();
    text = export(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER);
    assert_non_null(strstr(
        text.chars, ",2,2,2026-03-03T10:11:00.000Z,2026-03-03T10:13:00.000Z,1,,,,2026-03-03T"));
    assert_non_null(strstr(
        text.chars, ",3,1,2026-03-03T10:17:00.000Z,2026-03-03T10:17:00.000Z,2,,,,2026-03-03T"));
    assert_non_null(strstr(
        text.chars, ",3,1,2026-03-03T10:16:00.000Z,2026-03-03T10:16:00.000Z,3,,,,2026-03-03T"));
    assert_non_null(strstr(text.chars, ",,,,,4,,,,2026-03-03T"));
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
    struct entry begin = entry_by(ENTRY_BEGIN, "AB");
    struct text told;
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
    (void)put_record("plan", minute(0), data);
    zone_known = true;
    (void)strcpy(begin.product, "soup");
    begin.batch = 1;
    begin.probe_count = 1;
    (void)strcpy(begin.probes[0], "tip");
    (void)put_entry(minute(1), &begin);
    begin.batch = 2;
    (void)strcpy(begin.probes[0], "core");
    (void)put_entry(minute(2), &begin);
    begin.batch = 3;
    begin.probe_count = 0;
    (void)strcpy(begin.place, "oven");
    (void)put_entry(minute(3), &begin);
    put_reading(1, minute(4), 25000, READING_GOOD);
    put_decision(failed(minute(5), 1, 1, TIME_NONE));
    commit();
    told = export(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER);
    assert_non_null(
        strstr(told.chars,
               ",1 3,1,2026-03-03T10:04:00.000Z,2026-03-03T10:04:00.000Z,1,,,,2026-03-03T"));
    free(told.chars);
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(test_words_go_both_ways),
        TEST(test_export_empty_store_is_a_header),
        TEST(test_export_readings_is_exact),
        TEST(test_export_times_are_those_of_the_shown_clock),
        TEST(test_export_stops_when_the_sink_has_enough),
        TEST(test_export_records_quotes_bodies_and_prints_hashes),
        TEST(test_export_record_larger_than_the_buffer_is_whole),
        TEST(test_export_batches_tells_steps_and_ends),
        TEST(test_export_deviations_follow_action_and_verification),
        TEST(test_export_deviation_names_control_point_and_source),
        TEST(test_export_decisions_are_explained),
        TEST(test_export_gap_is_a_deviation_of_its_batch),
        TEST(test_export_actions_keep_old_and_corrected),
        TEST(test_export_entries_show_hand_readings_and_their_corrections),
        TEST(test_export_text_that_looks_like_a_formula_is_guarded),
        TEST(test_export_unreadable_decision_is_named),
        TEST(test_export_local_times_follow_the_zone_of_the_plan_in_force),
        TEST(test_export_readings_are_corrected_from_their_record_on),
        TEST(test_reader_learns_of_later_corrections),
        TEST(test_export_switches_is_a_row_for_each_change),
        TEST(test_export_calibrations_judge_each_look_by_its_time),
        TEST(test_export_failed_check_lists_what_is_in_doubt),
        TEST(test_export_failed_check_of_terminals_lists_what_their_thermocouples_were_in),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
