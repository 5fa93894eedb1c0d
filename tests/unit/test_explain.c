/* Why something was decided, told from a store alone: the rule, what was required and found,
 * the readings around it, who was told. The expected words are worked out by hand beside each
 * check.
 */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/put_records.h"
#include "tests/support/temp_dir.h"
#include "trivet/explain.h"
#include "trivet/units.h"

/* 2026-03-03T10:00:00Z */
#define MORNING_MS INT64_C(1772532000000)
#define SECONDS    INT64_C(1000)
#define MINUTE     INT64_C(60000)

static struct temp_dir dir;
static struct store *store;
static const char *plan_switches = ""; /* with a door, in the tests of doors */

static int
set_up(void **state)
{
    struct store_error error = {STORE_OK, ""};
    (void)state;
    plan_switches = "";
    temp_dir_make(&dir);
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

/* ---- a small store ---- */

static void
put_plan(int64_t at_ms, const char *at_most, const char *source)
{
    char text[3000], data[6000];
    struct json_out out;
    (void)snprintf(
        text, sizeof text,
        "site: {name: Test}\n"
        "people:\n  - {initials: AB, name: Ana Brandt, role: supervisor}\n"
        "sole_operator: The adviser verifies.\n"
        "buses:\n  - {id: line, driver: modbus-tcp, host: 127.0.0.1}\n"
        "probes:\n"
        "  - {id: core, name: Core, kind: food, bus: line, unit: 1, function: 4, register: 1, "
        "type: int16, scale: 0.1 °C, plausible: [-40 °C, 160 °C], every: 10 s}\n"
        "  - {id: air, name: Air, kind: air, bus: line, unit: 1, function: 4, register: 0, "
        "type: int16, scale: 0.1 °C, plausible: [-40 °C, 60 °C], every: 10 s}\n"
        "places:\n  - {id: walk-in, name: Walk-in, probe: air, limit: {kind: hold_cold, "
        "applies_to: air, at_most: %s, tolerance: 20 min, critical_control_point: CCP 3, "
        "source: %s}}\n"
        "products:\n  - id: stock\n    name: Stock\n    steps:\n"
        "      - {id: cool, name: Cooling, limit: {kind: cool, applies_to: food, from: 135 °F, "
        "stages: [{to: 41 °F, within: 6 h}], source: Code %s}}\n%s",
        at_most, source, source, plan_switches);
    out_start(&out, data, sizeof data, true);
    out_object(&out, NULL);
    out_object(&out, "probes");
    out_int(&out, "air", 2);
    out_int(&out, "core", 1);
    out_object_end(&out);
    out_text(&out, "text", text);
    out_object_end(&out);
    assert_true(out_done(&out));
    (void)put_record(store, "plan", at_ms, data);
}

static struct decision
walk_in_deviation(uint32_t number, int64_t at_ms)
{
    struct decision opened =
        plain_decision(DECISION_DEVIATION_OPENED, REASON_OUT_TOO_LONG, at_ms);
    opened.deviation = number;
    opened.limit = LIMIT_HOLD_COLD;
    opened.subject = SUBJECT_AIR;
    opened.required = (struct limit_temp){5000, TEMP_C};
    opened.required_ms = 20 * MINUTE;
    opened.probe = 2;
    opened.temp_mC = 7300;
    opened.since_ms = at_ms - 20 * MINUTE;
    opened.found_ms = 20 * MINUTE;
    (void)strcpy(opened.place, "walk-in");
    return opened;
}

static void
put_readings(uint16_t probe, int64_t from_ms, int64_t to_ms)
{
    struct store_error error = {STORE_OK, ""};
    for (int64_t at_ms = from_ms; at_ms <= to_ms; at_ms += 10 * SECONDS) {
        struct reading reading = {.at_ms = at_ms,
                                  .temp_mC = 5000 + (int32_t)((at_ms - from_ms) / 1000),
                                  .probe = probe};
        store_must(store_reading(store, &reading, &error), &error);
    }
}

static void
commit(void)
{
    struct store_error error = {STORE_OK, ""};
    store_must(store_commit(store, &error), &error);
}

static struct explanation *
explain(uint64_t seq)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(dir.path, &error);
    struct explanation *of = NULL;
    if (reader == NULL)
        fail_msg("%s", error.text);
    store_must(explain_record(reader, seq, &of, &error), &error);
    store_reader_close(reader);
    return of;
}

/* ---- tests ---- */

static void
test_ids_as_people_type_them(void **state)
{
    struct explain_id id;
    (void)state;
    assert_true(explain_id_read("214", &id));
    assert_true(id.of == EXPLAIN_RECORD && id.number == 214);
    assert_true(explain_id_read("d3", &id));
    assert_true(id.of == EXPLAIN_DEVIATION && id.number == 3);
    assert_true(explain_id_read("B12", &id));
    assert_true(id.of == EXPLAIN_BATCH && id.number == 12);
    static const char *const wrong[] = {"",    "d",  "0",   "d0",          "3d",  "-3",
                                        "d-3", "3 ", "x12", "d4294967296", "b1.5"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        if (explain_id_read(wrong[i], &id))
            fail_msg("'%s' is an id", wrong[i]);
}

static void
test_deviation_of_a_place_tells_rule_source_and_readings(void **state)
{
    int64_t at_ms = MORNING_MS + 30 * MINUTE;
    struct decision opened = walk_in_deviation(3, at_ms);
    (void)state;
    put_plan(MORNING_MS, "5 °C", "Code A");
    put_readings(2, MORNING_MS + 1 * MINUTE, MORNING_MS + 32 * MINUTE);
    uint64_t seq = put_decision(store, &opened);
    (void)put_record(store, "told", at_ms + 1,
                     "{\"done\":true,\"how\":\"ended with 0\",\"refers\":2}");
    (void)put_record(store, "told", at_ms + 2, "{\"done\":false,\"how\":\"no\",\"refers\":99}");
    (void)put_record(store, "action", at_ms + 3,
                     "{\"deviation\":3,\"disposition\":\"use\",\"done\":\"x\",\"found\":\"y\","
                     "\"who\":\"AB\"}");
    put_plan(at_ms + 4, "3 °C", "Code B"); /* later: not the one it was judged by */
    commit();
    struct explanation *of = explain(seq);
    assert_non_null(of);
    assert_string_equal(of->rule.number, "E22");
    assert_string_equal(of->words.what, "Deviation 3 opened (outside the limit for longer than "
                                        "allowed)");
    assert_string_equal(of->words.required, "at most 5.0 °C, warmer for at most 20 min (air)");
    assert_string_equal(of->words.found, "7.3 °C at probe air; outside for 20 min");
    assert_string_equal(of->limit->source, "Code A");
    assert_string_equal(of->limit->ccp, "CCP 3");
    assert_int_equal(of->plan_seq, 1);
    /* Three up to where it counts from and three after; six up to the decision and three after.
     */
    assert_int_equal(of->reading_count, 15);
    assert_true(of->readings[2].at_ms == at_ms - 20 * MINUTE);
    assert_true(of->readings[5].at_ms == at_ms - 20 * MINUTE + 30 * SECONDS);
    assert_true(of->readings[6].at_ms == at_ms - 50 * SECONDS);
    assert_true(of->readings[11].at_ms == at_ms);
    assert_true(of->readings[14].at_ms == at_ms + 30 * SECONDS);
    for (size_t i = 0; i < of->reading_count; i++)
        assert_int_equal(of->readings[i].probe, 2);
    assert_int_equal(of->told_count, 1);
    assert_true(of->told[0].done);
    assert_string_equal(of->told[0].how, "ended with 0");
    assert_int_equal(of->entry_count, 1);
    assert_string_equal(of->entries[0].who, "AB");
    explanation_free(of);
}

/* Two windows that meet are told once, in order. */
static void
test_readings_are_told_once(void **state)
{
    int64_t at_ms = MORNING_MS + 30 * MINUTE;
    struct decision opened = walk_in_deviation(3, at_ms);
    (void)state;
    opened.since_ms = at_ms - 20 * SECONDS;
    put_plan(MORNING_MS, "5 °C", "Code A");
    put_readings(2, MORNING_MS + 29 * MINUTE, MORNING_MS + 31 * MINUTE);
    uint64_t seq = put_decision(store, &opened);
    commit();
    struct explanation *of = explain(seq);
    assert_int_equal(of->reading_count, 8);
    for (size_t i = 1; i < of->reading_count; i++)
        assert_true(of->readings[i].at_ms == of->readings[i - 1].at_ms + 10 * SECONDS);
    assert_true(of->readings[7].at_ms == at_ms + 30 * SECONDS);
    explanation_free(of);
}

/* E80: a batch is explained by the plan it began under; and in the unit its source prints:
 * 8.0 degC is 46.4 degF. */
static void
test_batch_is_explained_by_the_plan_it_began_under(void **state)
{
    struct decision late =
        plain_decision(DECISION_DEVIATION_OPENED, REASON_TOO_LATE, MORNING_MS + 400 * MINUTE);
    (void)state;
    put_plan(MORNING_MS, "5 °C", "A");
    (void)put_record(
        store, "begin", MORNING_MS + 1,
        "{\"batch\":7,\"probes\":[\"core\"],\"product\":\"stock\",\"who\":\"AB\"}");
    put_plan(MORNING_MS + 2, "5 °C", "B");
    (void)put_record(store, "clock", MORNING_MS + 3,
                     "{\"offset_ms\":60000,\"trusted\":true,\"why\":\"step\"}");
    late.batch = 7;
    late.deviation = 1;
    late.stage = 1;
    late.limit = LIMIT_COOL;
    late.required = (struct limit_temp){41000, TEMP_F};
    late.required_ms = 6 * 60 * MINUTE;
    late.found_ms = 6 * 60 * MINUTE + 5 * SECONDS;
    late.temp_mC = 8000;
    late.probe = 1;
    (void)strcpy(late.step, "cool");
    uint64_t seq = put_decision(store, &late);
    commit();
    struct explanation *of = explain(seq);
    assert_int_equal(of->plan_seq, 1);
    assert_string_equal(of->product, "stock");
    assert_string_equal(of->limit->source, "Code A");
    assert_string_equal(of->rule.number, "E38");
    assert_true(of->offset_ms == 60000);
    assert_string_equal(of->words.required,
                        "from 135.0 °F to 41.0 °F within 6 h (food); stage 1: "
                        "to 41.0 °F within 6 h of the start of the clock");
    assert_string_equal(of->words.found,
                        "8.0 °C (46.4 °F) at probe core; time on the clock 6 h "
                        "00 min 05 s");
    explanation_free(of);
    assert_null(explain(seq + 1)); /* no such record */
}

/* A plan that this version cannot read: the decision alone has to do. */
static void
test_without_a_readable_plan_the_decision_speaks(void **state)
{
    struct decision opened = walk_in_deviation(3, MORNING_MS + 30 * MINUTE);
    (void)state;
    (void)put_record(store, "plan", MORNING_MS,
                     "{\"probes\":{\"air\":2},\"text\":\"of: the future\"}");
    uint64_t seq = put_decision(store, &opened);
    commit();
    struct explanation *of = explain(seq);
    assert_null(of->plan);
    assert_null(of->limit);
    assert_string_equal(of->words.required, "hold_cold 5.0 °C, 20 min");
    assert_string_equal(of->words.found, "7.3 °C at probe #2; outside for 20 min");
    explanation_free(of);
}

static void
test_an_entry_names_what_it_led_to(void **state)
{
    struct decision begun =
        plain_decision(DECISION_STEP_BEGUN, REASON_ENTERED, MORNING_MS + 5 * MINUTE);
    (void)state;
    begun.batch = 7;
    (void)strcpy(begun.step, "cool");
    uint64_t seq = put_record(store, "begin", begun.at_ms,
                              "{\"batch\":7,\"product\":\"stock\",\"who\":\"AB\"}");
    uint64_t led = put_decision(store, &begun);
    begun.at_ms++;
    (void)put_decision(store, &begun);
    commit();
    struct explanation *of = explain(seq);
    assert_string_equal(of->kind, "begin");
    assert_string_equal(of->who, "AB");
    assert_int_equal(of->led_count, 1);
    assert_int_equal(of->led_to[0], led);
    explanation_free(of);
}

/* ---- doors ---- */

/* The deviation is decided at 10:30 and counts from 10:10, so that doors are told of from 10:00
 * on. The door is first seen two hours earlier; then it does what is given, "open" and "closed"
 * by turns beginning with open, at these minutes after 10:00. */
static struct explanation *
explain_with_door(const int *minutes, size_t count, const char *last)
{
    struct decision opened = walk_in_deviation(3, MORNING_MS + 30 * MINUTE);
    uint64_t seq = 0;
    plan_switches = "switches:\n  - {id: door, name: Walk-in door, kind: door, place: walk-in, "
                    "bus: line, unit: 1, function: 2, address: 3}\n"
                    "  - {id: button, name: Bell, kind: button, place: walk-in, bus: line, "
                    "unit: 1, function: 2, address: 4}\n";
    put_plan(MORNING_MS - 180 * MINUTE, "5 °C", "Code A");
    (void)put_record(store, "switch", MORNING_MS - 120 * MINUTE,
                     "{\"kind\":\"door\",\"place\":\"walk-in\",\"state\":\"closed\","
                     "\"switch\":\"door\"}");
    for (size_t i = 0; i < count; i++) {
        char data[200];
        const char *state = i + 1 == count && last != NULL ? last
                            : i % 2 == 0                   ? "open"
                                                           : "closed";
        if (minutes[i] > 30 && seq == 0)
            seq = put_decision(store, &opened);
        (void)snprintf(data, sizeof data,
                       "{%s\"kind\":\"door\",\"place\":\"walk-in\",\"state\":\"%s\","
                       "\"switch\":\"door\"}",
                       strcmp(state, "unknown") == 0 ? "\"cause\":\"timeout\"," : "", state);
        (void)put_record(store, "switch", MORNING_MS + minutes[i] * MINUTE, data);
    }
    (void)put_record(store, "switch", MORNING_MS + 90 * MINUTE,
                     "{\"kind\":\"button\",\"place\":\"walk-in\",\"state\":\"pressed\","
                     "\"switch\":\"button\"}");
    assert_true(seq != 0); /* a minute after the decision has to be given */
    commit();
    return explain(seq);
}

static void
test_doors_before_and_while_are_told_and_earlier_ones_are_not(void **state)
{
    /* Over before 10:00; over exactly at 10:00; before it began; across its beginning; after.
     */
    static const int minutes[] = {-30, -20, -10, 0, 3, 7, 9, 12, 45, 50};
    char words[200];
    (void)state;
    struct explanation *of = explain_with_door(minutes, 10, NULL);
    assert_int_equal(of->door_count, 3);
    assert_true(of->doors[0].from_ms == MORNING_MS - 10 * MINUTE && of->doors[0].before);
    assert_true(of->doors[1].from_ms == MORNING_MS + 3 * MINUTE && of->doors[1].before);
    assert_true(of->doors[2].from_ms == MORNING_MS + 9 * MINUTE && !of->doors[2].before);
    assert_true(of->doors[2].to_ms == MORNING_MS + 12 * MINUTE);
    assert_false(of->doors_closed);
    explain_door_words(&of->doors[1], words, sizeof words);
    assert_string_equal(words, "Walk-in door open for 4 min, before it began");
    explain_door_words(&of->doors[2], words, sizeof words);
    assert_string_equal(words, "Walk-in door open for 3 min, while it went on");
    explanation_free(of);
}

static void
test_door_that_stays_open_or_is_lost_is_told_as_that(void **state)
{
    static const int minutes[] = {20, 40};
    char words[200];
    (void)state;
    struct explanation *of = explain_with_door(minutes, 2, "unknown");
    assert_int_equal(of->door_count, 1);
    explain_door_words(&of->doors[0], words, sizeof words);
    assert_string_equal(words, "Walk-in door open for at least 20 min, while it went on");
    of->doors[0].to_ms = TIME_NONE;
    explain_door_words(&of->doors[0], words, sizeof words);
    assert_string_equal(words, "Walk-in door open, while it went on");
    explanation_free(of);
}

static void
test_doors_are_said_to_be_closed_only_when_that_is_known(void **state)
{
    static const int earlier[] = {-60, -50, 45};
    (void)state;
    struct explanation *of = explain_with_door(earlier, 3, NULL);
    assert_int_equal(of->door_count, 0);
    assert_true(of->doors_closed);
    explanation_free(of);
    store_close(store);
    temp_dir_remove(&dir);
    assert_int_equal(set_up(state), 0);
    /* Nobody knew from 10:15 on. */
    struct decision opened = walk_in_deviation(3, MORNING_MS + 30 * MINUTE);
    plan_switches = "switches:\n  - {id: door, name: Walk-in door, kind: door, place: walk-in, "
                    "bus: line, unit: 1, function: 2, address: 3}\n";
    put_plan(MORNING_MS - 180 * MINUTE, "5 °C", "Code A");
    (void)put_record(store, "switch", MORNING_MS - 120 * MINUTE,
                     "{\"kind\":\"door\",\"place\":\"walk-in\",\"state\":\"closed\","
                     "\"switch\":\"door\"}");
    (void)put_record(store, "switch", MORNING_MS + 15 * MINUTE,
                     "{\"cause\":\"timeout\",\"kind\":\"door\",\"place\":\"walk-in\","
                     "\"state\":\"unknown\",\"switch\":\"door\"}");
    uint64_t seq = put_decision(store, &opened);
    commit();
    of = explain(seq);
    assert_int_equal(of->door_count, 0);
    assert_false(of->doors_closed);
    explanation_free(of);
}

static void
test_place_without_doors_has_none_to_tell_of(void **state)
{
    struct decision opened = walk_in_deviation(3, MORNING_MS + 30 * MINUTE);
    (void)state;
    put_plan(MORNING_MS, "5 °C", "Code A");
    uint64_t seq = put_decision(store, &opened);
    commit();
    struct explanation *of = explain(seq);
    assert_int_equal(of->door_count, 0);
    assert_false(of->doors_closed);
    explanation_free(of);
}

/* ---- the rules ---- */

static char *
read_rules(void)
{
    FILE *file = fopen("docs/engine.md", "r");
    char *text = calloc(1, 400000);
    assert_non_null(file);
    assert_non_null(text);
    size_t len = fread(text, 1, 399999, file);
    assert_true(len > 1000 && feof(file));
    (void)fclose(file);
    return text;
}

/* Whatever is decided, the rule named is one that the page of rules has, and has a sentence. */
static void
test_every_rule_named_is_one_of_the_page(void **state)
{
    char *page = read_rules();
    size_t named = 0;
    (void)state;
    for (int kind = 0; kind <= DECISION_KIND_LAST; kind++)
        for (int reason = 0; reason <= DECISION_REASON_LAST; reason++)
            for (int limit = 0; limit <= LIMIT_LETHALITY; limit++) {
                char item[20];
                struct decision decision =
                    plain_decision((enum decision_kind)kind, (enum decision_reason)reason, 0);
                decision.limit = (enum limit_kind)limit;
                struct explain_rule rule = explain_rule(&decision);
                if (rule.number[0] == '\0')
                    continue;
                (void)snprintf(item, sizeof item, "- **%s**", rule.number);
                if (strstr(page, item) == NULL)
                    fail_msg("rule %s is not in docs/engine.md", rule.number);
                assert_true(strlen(rule.sentence) > 20);
                named++;
            }
    assert_true(named > 1000);
    free(page);
}

/* Those that a look at docs/engine.md gives, by hand. */
static void
test_rules_by_hand(void **state)
{
    static const struct {
        enum decision_kind kind;
        enum decision_reason reason;
        enum limit_kind limit;
        uint8_t stage;
        uint32_t batch;
        const char *number;
    } cases[] = {
        {DECISION_LIMIT_MET, REASON_HELD, LIMIT_COOK, 0, 1, "E10"},
        {DECISION_LIMIT_MET, REASON_HELD, LIMIT_COOK_TABLE, 0, 1, "E17"},
        {DECISION_LIMIT_MET, REASON_HELD, LIMIT_LETHALITY, 0, 1, "E100"},
        {DECISION_LIMIT_MET, REASON_REACHED, LIMIT_COOL, 1, 1, "E38"},
        {DECISION_LIMIT_MET, REASON_HAND_READING, LIMIT_COOK, 0, 1, "E50"},
        {DECISION_CLOCK_STARTED, REASON_FELL_THROUGH_START, LIMIT_COOL, 0, 1, "E31"},
        {DECISION_CLOCK_STARTED, REASON_BY_ITSELF, LIMIT_COOL, 0, 1, "E242"},
        {DECISION_DEVIATION_OPENED, REASON_TOO_LATE, LIMIT_REHEAT, 0, 1, "E13"},
        {DECISION_DEVIATION_OPENED, REASON_TOO_LATE, LIMIT_COOL, 2, 1, "E38"},
        {DECISION_DEVIATION_OPENED, REASON_TOO_LATE, LIMIT_COOL, 0, 1, "E92"},
        {DECISION_DEVIATION_OPENED, REASON_LEFT_EARLY, LIMIT_COOL, 1, 1, "E39"},
        {DECISION_DEVIATION_OPENED, REASON_LEFT_EARLY, LIMIT_COOK, 0, 1, "E15"},
        {DECISION_DEVIATION_OPENED, REASON_OUTAGE, LIMIT_HOLD_COLD, 0, 0, "E62"},
        {DECISION_DEVIATION_OPENED, REASON_OUTAGE, LIMIT_HOLD_COLD, 0, 1, "E73"},
        {DECISION_DEVIATION_ENDED, REASON_BACK_INSIDE, LIMIT_HOLD_HOT, 0, 0, "E24"},
        {DECISION_DEVIATION_ENDED, REASON_HELD, LIMIT_COOK, 0, 1, "E14"},
        {DECISION_CLOCK_STARTED, REASON_FELL_THROUGH_START, LIMIT_COOL, 0, 1, "E31"},
        {DECISION_CLOCK_STARTED, REASON_NO_GOOD_READING, LIMIT_COOL, 0, 1, "E33"},
        {DECISION_CLOCK_STARTED, REASON_COOKED_AT, LIMIT_COOL, 0, 1, "E36"},
        {DECISION_INCONCLUSIVE, REASON_OUTAGE, LIMIT_COOL, 1, 1, "E64"},
        {DECISION_INCONCLUSIVE, REASON_CORRECTED, LIMIT_COOK, 0, 1, "E71"},
        {DECISION_SUSPECT_BEGUN, REASON_LEFT_FOOD, LIMIT_COOL, 0, 1, "E40"},
        {DECISION_GAP_OPENED, REASON_NO_GOOD_READING, LIMIT_NONE, 0, 0, "E55"},
        {DECISION_GAP_OPENED, REASON_OUTAGE, LIMIT_NONE, 0, 0, "E66"},
        {DECISION_QUIET_BEGUN, REASON_SCHEDULED, LIMIT_HOLD_COLD, 0, 0, "E110"},
        {DECISION_DEVIATION_OPENED, REASON_FAILED_CHECK, LIMIT_NONE, 0, 0, "E125"},
        {DECISION_DEVIATION_ENDED, REASON_GOOD_CHECK, LIMIT_NONE, 0, 0, "E126"},
        {DECISION_DEVIATION_ENDED, REASON_ENTERED, LIMIT_NONE, 0, 0, "E127"},
        {DECISION_CORRECTION_ENDED, REASON_ENTERED, LIMIT_NONE, 0, 0, "E127"},
        {DECISION_STEP_BEGUN, REASON_BY_ITSELF, LIMIT_COOL, 0, 0, "E173"},
        {DECISION_SUSPECT_BEGUN, REASON_PULLED_OUT, LIMIT_NONE, 0, 0, "E182"},
        {DECISION_SUSPECT_BEGUN, REASON_COLD_JUNCTION, LIMIT_NONE, 0, 1, "E250"},
        {DECISION_CORRECTION_WAITS, REASON_ENTERED, LIMIT_COOL, 0, 0, "E181"},
        {DECISION_CORRECTION_DROPPED, REASON_DECLINED, LIMIT_COOL, 0, 0, "E181"},
        {DECISION_STEP_CORRECTED, REASON_CONFIRMED, LIMIT_COOL, 0, 0, "E179"},
        {DECISION_STEP_WITHDRAWN, REASON_ENTERED, LIMIT_COOL, 0, 0, "E180"},
        {DECISION_DEVIATION_WITHDRAWN, REASON_CORRECTED, LIMIT_COOL, 1, 0, "E180"},
        {DECISION_MET_WITHDRAWN, REASON_PULLED_OUT, LIMIT_COOL, 0, 1, "E183"},
        {DECISION_ASKED, REASON_AMBIGUOUS, LIMIT_NONE, 0, 0, "E175"},
        {DECISION_ANSWERED, REASON_ENTERED, LIMIT_NONE, 0, 0, "E175"},
        {DECISION_DOOR_LEFT_OPEN, REASON_DOOR_OPEN, LIMIT_NONE, 0, 0, "E211"},
        {DECISION_DOOR_OVER, REASON_DOOR_CLOSED, LIMIT_NONE, 0, 0, "E211"},
        {DECISION_DOOR_OVER, REASON_SWITCH_LOST, LIMIT_NONE, 0, 0, "E211"},
        {DECISION_DOOR_OVER, REASON_OUTAGE, LIMIT_NONE, 0, 0, "E213"},
        {DECISION_DOOR_OVER, REASON_ENTERED, LIMIT_NONE, 0, 0, "E215"},
        {DECISION_SUSPECT_BEGUN, REASON_FAILED_CHECK, LIMIT_NONE, 0, 0, "E216"},
        {DECISION_SUSPECT_ENDED, REASON_GOOD_CHECK, LIMIT_NONE, 0, 0, "E216"},
        {DECISION_MARKED, REASON_PRESSED, LIMIT_NONE, 0, 0, "E214"},
        {DECISION_SHELF_ENDED, REASON_TIME_UP, LIMIT_NONE, 0, 0, "E202"},
        {DECISION_SHELF_ENDED, REASON_JOINED, LIMIT_NONE, 0, 1, "E202"},
        {DECISION_ALARM_RAISED, REASON_TIME_UP, LIMIT_NONE, 0, 0, "E202"},
        {DECISION_ESCALATED, REASON_NOT_HEARD, LIMIT_NONE, 0, 0, "E203"},
        {DECISION_ESCALATED, REASON_NO_ACTION, LIMIT_NONE, 0, 1, "E203"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct decision decision = plain_decision(cases[i].kind, cases[i].reason, 0);
        decision.limit = cases[i].limit;
        decision.stage = cases[i].stage;
        decision.batch = cases[i].batch;
        if (strcmp(explain_rule(&decision).number, cases[i].number) != 0)
            fail_msg("case %zu: %s, not %s", i, explain_rule(&decision).number,
                     cases[i].number);
    }
}

/* The thousandth nearest to 155 degF counts as exactly at it (E2) and is shown so. */
static void
test_a_reading_at_a_fahrenheit_limit_is_shown_at_it(void **state)
{
    struct decision met = plain_decision(DECISION_LIMIT_MET, REASON_REACHED, MORNING_MS);
    struct explain_words words;
    (void)state;
    met.limit = LIMIT_COOK;
    met.required = (struct limit_temp){155000, TEMP_F};
    met.temp_mC = 68333;
    explain_words(&met, NULL, NULL, &words);
    assert_string_equal(words.found, "68.333 °C (155.0 °F) by hand");
    met.temp_mC = 68332; /* 154.9976 degF */
    explain_words(&met, NULL, NULL, &words);
    assert_string_equal(words.found, "68.332 °C (154.998 °F) by hand");
}

/* What was nearer to the limit than its uncertainty says so, guarded or not (E172). */
static void
test_uncertainty_is_told(void **state)
{
    struct decision opened = walk_in_deviation(3, MORNING_MS);
    struct explain_words words;
    (void)state;
    opened.temp_mC = 5100;
    opened.uncertainty_mK = 300;
    explain_words(&opened, NULL, NULL, &words);
    assert_string_equal(
        words.uncertainty,
        "expanded (k = 2) 0.3 °C; not part of the judgement (simple acceptance); "
        "inconclusive by itself: the reading is nearer to the limit than its "
        "uncertainty");
    opened.temp_mC = 5300;
    explain_words(&opened, NULL, NULL, &words);
    assert_string_equal(words.uncertainty,
                        "expanded (k = 2) 0.3 °C; not part of the judgement (simple "
                        "acceptance)");
    opened.temp_mC = 4800;
    opened.guard_mK = 300;
    opened.required = (struct limit_temp){4700, TEMP_C}; /* 5.0 as printed */
    explain_words(&opened, NULL, NULL, &words);
    assert_string_equal(
        words.uncertainty,
        "expanded (k = 2) 0.3 °C; guarded acceptance (JCGM 106:2012): the limit "
        "is 5.0 °C and the guard band 0.3 °C; inconclusive by itself: the reading "
        "is nearer to the limit than its uncertainty, so the guarded rule does "
        "not count it for the food");
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ids_as_people_type_them),
        TEST(test_doors_before_and_while_are_told_and_earlier_ones_are_not),
        TEST(test_door_that_stays_open_or_is_lost_is_told_as_that),
        TEST(test_doors_are_said_to_be_closed_only_when_that_is_known),
        TEST(test_place_without_doors_has_none_to_tell_of),
        TEST(test_deviation_of_a_place_tells_rule_source_and_readings),
        TEST(test_readings_are_told_once),
        TEST(test_batch_is_explained_by_the_plan_it_began_under),
        TEST(test_without_a_readable_plan_the_decision_speaks),
        TEST(test_an_entry_names_what_it_led_to),
        cmocka_unit_test(test_every_rule_named_is_one_of_the_page),
        cmocka_unit_test(test_rules_by_hand),
        cmocka_unit_test(test_uncertainty_is_told),
        cmocka_unit_test(test_a_reading_at_a_fahrenheit_limit_is_shown_at_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
