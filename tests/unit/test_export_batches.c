/* Exports, cell for cell: the exact text of batches, deviations, decisions, actions and entries
 * for a small day of the Harbour Lane Kitchen. */
#include "tests/support/export_rig.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- batches, deviations, actions ---- */

static void
begin_batch(uint32_t number, int64_t at_ms, const char *product, const char *text)
{
    struct entry entry = xr_entry_by(ENTRY_BEGIN, "AB");

    entry.batch = number;
    entry.mass_g = 1800;
    entry.thickness_mm = 90;
    entry.probe_count = 2;
    (void)strcpy(entry.product, product);
    (void)strcpy(entry.place, "oven");
    (void)strcpy(entry.probes[0], "roast-core-a");
    (void)strcpy(entry.probes[1], "roast-core");
    (void)strcpy(entry.text, text);
    (void)xr_put_entry(at_ms, &entry);
}

static void
open_deviation(uint32_t number, int64_t at_ms)
{
    struct decision opened = xr_of_batch(
        plain_decision(DECISION_DEVIATION_OPENED, REASON_TOO_LATE, at_ms), 7, "cool");

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
    xr_put_decision(opened);
}

static void
act(uint32_t deviation, int64_t at_ms, const char *who, const char *found, const char *done)
{
    struct entry entry = xr_entry_by(ENTRY_ACTION, who);

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
    (void)xr_put_entry(at_ms, &entry);
}

static void
verify_action(uint32_t deviation, int64_t at_ms, const char *who)
{
    struct entry entry = xr_entry_by(ENTRY_VERIFY, who);

    entry.deviation = deviation;
    (void)xr_put_entry(at_ms, &entry);
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
    (void)xr_put_record("plan", at_ms, data);
    xr.zone_known = true;
}

#define BATCH_HEADER                                                                           \
    "batch,product,begun_utc,begun_by,mass_g,thickness_mm,probes,place,steps,deviations,"      \
    "ended_utc,"                                                                               \
    "ended_by,outcome,note,end_note\n"

static void
test_export_batches_tells_steps_and_ends(void **state)
{
    struct decision met;
    struct entry move = xr_entry_by(ENTRY_MOVE, "AB");

    (void)state;
    begin_batch(6, xr_minute(0), "stock", "");
    xr_end_batch(6, xr_minute(1), "");
    begin_batch(7, xr_minute(2), "pork-loin", "second tray,\nfor \"Friday\"");
    xr_put_decision(xr_of_batch(
        plain_decision(DECISION_STEP_BEGUN, REASON_ENTERED, xr_minute(2)), 7, "cook"));
    met =
        xr_of_batch(plain_decision(DECISION_LIMIT_MET, REASON_HELD, xr_minute(50)), 7, "cook");
    met.limit = LIMIT_COOK;
    met.required = (struct limit_temp){63000, TEMP_C};
    xr_put_decision(met);
    met.limit = LIMIT_MOIST_OVEN; /* that of its oven is another one, met at the same moment */
    xr_put_decision(met);
    move.batch = 7;
    (void)strcpy(move.step, "cool");
    (void)strcpy(move.place, "chiller");
    move.probe_count = 1;
    (void)strcpy(move.probes[0], "roast-core");
    (void)xr_put_entry(xr_minute(60), &move);
    xr_put_decision(xr_of_batch(
        plain_decision(DECISION_STEP_BEGUN, REASON_ENTERED, xr_minute(60)), 7, "cool"));
    open_deviation(3, xr_minute(420));
    xr_end_batch(7, xr_minute(430), "=2+3");
    begin_batch(8, xr_minute(440), "soup", "");
    xr_commit();
    xr_expect(
        EXPORT_BATCHES, xr_minute(2), xr_minute(440),
        BATCH_HEADER
        "7,pork-loin,2026-03-03T10:02:00.000Z,AB,1800,90,roast-core-a roast-core,chiller,"
        "\"cook begun 2026-03-03T10:02:00.000Z, met 2026-03-03T10:50:00.000Z, oven met "
        "2026-03-03T10:50:00.000Z; "
        "cool begun 2026-03-03T11:00:00.000Z, stage 2 deviation 3 2026-03-03T17:00:00.000Z\","
        "3,2026-03-03T17:10:00.000Z,CD,stored,\"second tray,\nfor \"\"Friday\"\"\",'=2+3\n");
    /* In hand at some time of the range is enough. */
    xr_expect(
        EXPORT_BATCHES, xr_minute(441), xr_minute(442),
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
    "doubted_from_utc,doubted_to_utc,alarm,heard,shelved,escalated,last_breach_utc,total_s\n"

/* The last two cells of a second stage that was late by a quarter of a second; 9.375 degC is
 * 48.875 degF. */
#define LATE_TEXT                                                                              \
    ",E38,The deadline of a stage of cooling passed without a good reading of the warmest "    \
    "probe at or below its temperature. Required: stage 2: to 41.0 °F within 6 h of the "     \
    "start of the clock. Found: 9.375 °C (48.875 °F) at probe #1; time on the clock "        \
    "6 h 00 min 00.250 s. Uncertainty: not part of the judgement: readings were compared as "  \
    "they were shown (simple acceptance)."
#define LATE_CELLS LATE_TEXT ",,,,,3,,,,,\n"
/* With its last reading above the stage's temperature, and 10 min more in all. */
#define ENDED_CELLS LATE_TEXT ",,,,,3,,,,2026-03-03T17:09:00.000Z,22200.25\n"

#define GAP_CELLS                                                                              \
    ",E55,A probe without a good reading for too long is a deviation of its own kind."

static void
end_deviation(uint32_t number, int64_t at_ms, int32_t worst_mC)
{
    struct decision ended = plain_decision(DECISION_DEVIATION_ENDED, REASON_BATCH_ENDED, at_ms);

    ended.deviation = number;
    ended.worst_mC = worst_mC;
    ended.last_ms = at_ms - 60000;
    ended.found_ms = 22200250;
    xr_put_decision(ended);
}

static void
test_export_deviations_follow_action_and_verification(void **state)
{
    static const char row_begin[] = ",2026-03-03T17:00:00.000Z,too-late,7,pork-loin,,roast-"
                                    "core,cool,2,cool,food,41.0 °F,21600,"
                                    "9.375,21600.25,2026-03-03T11:00:00.000Z,";
    struct decision walk_in =
        plain_decision(DECISION_GAP_OPENED, REASON_NO_GOOD_READING, xr_minute(440));
    char expected[4000];

    (void)state;
    (void)xr_put_record("plan", xr_minute(0),
                        "{\"digest\":\"x\",\"file\":\"plan.yaml\",\"probes\":{"
                        "\"roast-core\":1},\"text\":\"\"}");
    begin_batch(7, xr_minute(2), "pork-loin", "");
    xr_end_batch(7, xr_minute(420), ""); /* its deviation comes right after */
    open_deviation(3, xr_minute(420));
    xr_commit();
    (void)snprintf(expected, sizeof(expected),
                   DEVIATION_HEADER "3,open%s,,,,,,,,,,,,,,," LATE_CELLS, row_begin);
    xr_expect(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER, expected);

    end_deviation(3, xr_minute(430), 9500);
    xr_commit();
    (void)snprintf(expected, sizeof(expected),
                   DEVIATION_HEADER
                   "3,action due%s2026-03-03T17:10:00.000Z,9.5,,,,,,,,,,,,,," ENDED_CELLS,
                   row_begin);
    xr_expect(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER, expected);

    act(3, xr_minute(431), "AB", "pot too deep", "thrown away");
    verify_action(3, xr_minute(432), "EF");
    act(3, xr_minute(433), "AB", "pot too deep", "all thrown away");
    xr_commit();
    (void)snprintf(expected, sizeof(expected),
                   DEVIATION_HEADER "3,verification due%s2026-03-03T17:10:00.000Z,9.5,"
                                    "2026-03-03T17:13:00.000Z,AB,discard,,,pot too deep,"
                                    "all thrown away,4 kg,pans laid out,,,cold since,none "
                                    "left,7 discard 3 kg; 9 use" ENDED_CELLS,
                   row_begin);
    xr_expect(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER, expected);

    verify_action(3, xr_minute(435), "EF");
    walk_in.deviation = 4;
    walk_in.probe = 12;
    (void)strcpy(walk_in.place, "walk-in");
    xr_put_decision(walk_in);
    xr_commit();
    (void)snprintf(
        expected, sizeof(expected),
        DEVIATION_HEADER
        "3,closed%s2026-03-03T17:10:00.000Z,9.5,2026-03-03T17:13:00.000Z,AB,"
        "discard,2026-03-03T17:15:00.000Z,EF,pot too deep,all thrown away,4 kg,pans laid out,,,"
        "cold since,none left,7 discard 3 kg; 9 use" ENDED_CELLS,
        row_begin);
    xr_expect(EXPORT_DEVIATIONS, TIME_NONE, xr_minute(440), expected);
    xr_expect(EXPORT_DEVIATIONS, xr_minute(431), TIME_NEVER,
              DEVIATION_HEADER
              "4,open,2026-03-03T17:20:00.000Z,no-good-reading,,,walk-in,#12,,,,,"
              ",,,,,,,,,,,,,,,,,,,," GAP_CELLS
              " Found: no good reading of probe #12.,,,,,4,,,,,\n");
}

/* What an inspector asks of a limit, its control point and where it comes from, is the plan's
 * that was in force: for a batch the one it began under, whatever was changed since. */
static void
test_export_deviation_names_control_point_and_source(void **state)
{
    struct xr_text text;
    struct decision walk_in =
        plain_decision(DECISION_DEVIATION_OPENED, REASON_OUT_TOO_LONG, xr_minute(9));

    (void)state;
    put_plan(xr_minute(0), "CCP 2 Cooling", "Code A");
    begin_batch(7, xr_minute(1), "pork-loin", "");
    put_plan(xr_minute(2), "CCP 9 Renamed", "Code B");
    open_deviation(3, xr_minute(8));
    walk_in.deviation = 4;
    walk_in.limit = LIMIT_HOLD_COLD;
    (void)strcpy(walk_in.place, "walk-in");
    xr_put_decision(walk_in);
    xr_commit();
    text = xr_export(EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER);
    assert_non_null(strstr(text.chars, ",,,,,CCP 2 Cooling,Code A,,,,E38,"));
    assert_non_null(strstr(text.chars, ",,,,,CCP 9 Renamed,Code B,,,,E22,"));
    free(text.chars);
}

/* Every decision of the range, each by the plan that was in force for it. */
static void
test_export_decisions_are_explained(void **state)
{
    struct xr_text text;

    (void)state;
    put_plan(xr_minute(0), "CCP 2 Cooling", "Code A");
    begin_batch(7, xr_minute(1), "pork-loin", "");
    xr_put_decision(xr_of_batch(
        plain_decision(DECISION_STEP_BEGUN, REASON_ENTERED, xr_minute(1)), 7, "cool"));
    put_plan(xr_minute(2), "CCP 9 Renamed", "Code B");
    open_deviation(3, xr_minute(8));
    xr_commit();
    text = xr_export(EXPORT_DECISIONS, xr_minute(2), xr_minute(9));
    assert_non_null(strstr(text.chars,
                           ",critical_control_point,limit_source,rule,explained,time_local,"
                           "since_local\n"
                           "5,2026-03-03T10:08:00.000Z,deviation-opened,too-late,"
                           "3,7,pork-loin,,#1,cool,2,cool,food,41.0 °F,21600,"));
    assert_non_null(strstr(text.chars, "CCP 2 Cooling,Code A,E38,"));
    assert_null(strstr(text.chars, "step-begun"));
    free(text.chars);
    text = xr_export(EXPORT_DECISIONS, xr_minute(1), xr_minute(2));
    assert_non_null(strstr(text.chars, "\n3,2026-03-03T10:01:00.000Z,step-begun,entered,,7,"));
    assert_null(strstr(text.chars, "deviation-opened"));
    free(text.chars);
}

/* A gap that lasted too long has a number of its own; its batch names it, and it tells no
 * verdict on the step. */
static void
test_export_gap_is_a_deviation_of_its_batch(void **state)
{
    struct decision gap = xr_of_batch(
        plain_decision(DECISION_GAP_OPENED, REASON_NO_GOOD_READING, xr_minute(20)), 7, "cook");
    struct decision back = plain_decision(DECISION_GAP_ENDED, REASON_GOOD_AGAIN, xr_minute(30));

    (void)state;
    begin_batch(7, xr_minute(2), "pork-loin", "");
    gap.deviation = back.deviation = 5;
    gap.probe = back.probe = 1;
    gap.since_ms = xr_minute(14);
    xr_put_decision(gap);
    xr_put_decision(back);
    xr_commit();
    xr_expect(
        EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER,
        DEVIATION_HEADER
        "5,action due,2026-03-03T10:20:00.000Z,no-good-reading,7,pork-loin,,#1,"
        "cook,,,,,,,,2026-03-03T10:14:00.000Z,2026-03-03T10:30:00.000Z,,,,,,,,,,,,,,," GAP_CELLS
        " Found: no good reading of probe #1.,,,,,5,,,,,\n");
    xr_expect(EXPORT_BATCHES, TIME_NONE, TIME_NEVER,
              BATCH_HEADER
              "7,pork-loin,2026-03-03T10:02:00.000Z,AB,1800,90,roast-core-a roast-core,oven,,"
              "5,,,,,\n");
}

static void
test_export_actions_keep_old_and_corrected(void **state)
{
    struct entry correct = xr_entry_by(ENTRY_CORRECT, "AB"),
                 decided = xr_entry_by(ENTRY_DECIDE, "EF");
    uint64_t seq;

    (void)state;
    (void)xr_put_record("note", xr_minute(0), "{\"text\":\"not an action\",\"who\":\"AB\"}");
    act(3, xr_minute(1), "AB", "-18 shown, \"warm\" felt\nby hand", "@home");
    seq = store_head(xr.store)->seq;
    verify_action(3, xr_minute(2), "EF");
    correct.refers = seq;
    (void)strcpy(correct.text, "\xc3\xbc"
                               "ber 5");
    (void)strcpy(correct.reason, "+ misread");
    (void)xr_put_entry(xr_minute(3), &correct);
    decided.batch = 7;
    decided.accept = true;
    (void)strcpy(decided.reason, "logger was read by hand");
    (void)xr_put_entry(xr_minute(4), &decided);
    xr_commit();
    xr_expect(
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
    xr_expect(
        EXPORT_ACTIONS, xr_minute(2), xr_minute(3),
        "seq,time_utc,kind,deviation,batch,by,found,done,disposition,quantity,prevent,accepted,"
        "text,temp_degC,reason,corrects,corrected_by,control,safe,food,place,for_s\n"
        "3,2026-03-03T10:02:00.000Z,verify,3,,EF,,,,,,,,,,,,,,,,\n");
}

/* A hand-held reading is a measurement that an inspector asks for: with its thermometer, its
 * person, and what it was corrected to. */
static void
test_export_entries_show_hand_readings_and_their_corrections(void **state)
{
    struct entry hand = xr_entry_by(ENTRY_HAND, "AB"),
                 correct = xr_entry_by(ENTRY_CORRECT, "CD"),
                 cooked = xr_entry_by(ENTRY_COOKED, "AB"), note = xr_entry_by(ENTRY_NOTE, "EF"),
                 quiet = xr_entry_by(ENTRY_QUIET, "EF");
    uint64_t seq;

    (void)state;
    begin_batch(7, xr_minute(0), "pork-loin", "");
    hand.batch = 7;
    hand.has_temp = true;
    hand.temp_mC = 63400;
    (void)strcpy(hand.thermometer, "red-pen");
    (void)xr_put_entry(xr_minute(1), &hand);
    seq = store_head(xr.store)->seq;
    correct.refers = seq;
    correct.has_temp = true;
    correct.temp_mC = 64300;
    (void)strcpy(correct.reason, "figures swapped");
    (void)xr_put_entry(xr_minute(2), &correct);
    cooked.batch = 7;
    cooked.given_ms = xr_minute(1);
    (void)xr_put_entry(xr_minute(3), &cooked);
    (void)strcpy(note.place, "oven");
    (void)strcpy(note.text, "door sticks");
    (void)xr_put_entry(xr_minute(4), &note);
    xr_end_batch(7, xr_minute(5), "cold room");
    quiet.why = QUIET_DEFROSTING;
    quiet.for_ms = 1800000;
    (void)strcpy(quiet.place, "walk-in");
    (void)xr_put_entry(xr_minute(6), &quiet);
    xr_commit();
    xr_expect(
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
        (void)xr_put_record("plan", xr_minute((int64_t)i), data);
        xr_put_reading(1, xr_minute((int64_t)i), -1000, READING_GOOD);
        xr_commit();
        (void)snprintf(expected, sizeof(expected), "Z,%s,-1.0,good,no,", texts[i].cell);
        struct xr_text text =
            xr_export(EXPORT_READINGS, xr_minute((int64_t)i), xr_minute((int64_t)i) + 1);
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
    struct xr_text text = {NULL, 0, 0, 0, 0};

    (void)state;
    (void)xr_put_record("decision", xr_minute(0), "{\"decision\":\"of another age\"}");
    xr_commit();
    reader = store_reader_open(xr.dir.path, &error);
    assert_int_equal(
        export_csv(reader, EXPORT_DEVIATIONS, TIME_NONE, TIME_NEVER, xr_collect, &text, &error),
        STORE_CORRUPT);
    assert_non_null(strstr(error.text, "record 1"));
    assert_null(text.chars);
    store_reader_close(reader);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        EXPORT_TEST(test_export_batches_tells_steps_and_ends),
        EXPORT_TEST(test_export_deviations_follow_action_and_verification),
        EXPORT_TEST(test_export_deviation_names_control_point_and_source),
        EXPORT_TEST(test_export_decisions_are_explained),
        EXPORT_TEST(test_export_gap_is_a_deviation_of_its_batch),
        EXPORT_TEST(test_export_actions_keep_old_and_corrected),
        EXPORT_TEST(test_export_entries_show_hand_readings_and_their_corrections),
        EXPORT_TEST(test_export_text_that_looks_like_a_formula_is_guarded),
        EXPORT_TEST(test_export_unreadable_decision_is_named),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
