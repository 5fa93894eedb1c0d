/* Every key of the example plan, and of one with every driver, broken in every way: left out,
 * misspelled, given twice, given the wrong type, a comma for a point, a unit that does not fit,
 * out of range, emptied, unclean. Each has to be told on the line where it is; none may be
 * accepted. The keys are found by walking the file's own tree, so that a key added to the
 * example is tested without being named here. */
#include <ctype.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>
#include <yaml.h>

#include "trivet/plan.h"

#define COUNT(list) (sizeof(list) / sizeof((list)[0]))
#define LINES_MAX   1000
#define PAIRS_MAX   1000

/* One key with its value. Lines and columns count from 0, columns in bytes. */
struct pair {
    char key[64];
    size_t line, column; /* of the key */
    size_t last_line;    /* of the value */
    size_t entry_line;   /* of the mapping's first key other than this one */
    bool alone;          /* no other key in the mapping */
    const yaml_node_t *value;
};

struct example {
    char text[100000];
    size_t len;
    char *lines[LINES_MAX]; /* without their newlines */
    size_t line_count;
    yaml_document_t document;
    struct pair pairs[PAIRS_MAX];
    size_t pair_count;
};

static struct example example;

/* A plan to break, and how much of it there is at least: counted by hand, since a walk that
 * missed most of it would prove nothing. */
struct subject {
    const char *file;
    size_t pairs, required, numbers;
    const char *const *free; /* keys that may be left out of it; NULL ends them */
    const char *const *missed_elsewhere;
};

static const struct subject *subject;

static yaml_node_t *
node_at(int index)
{
    yaml_node_t *node = yaml_document_get_node(&example.document, index);
    assert_non_null(node);
    return node;
}

static bool
is_flow(const yaml_node_t *node)
{
    return (node->type == YAML_SEQUENCE_NODE &&
            node->data.sequence.style == YAML_FLOW_SEQUENCE_STYLE) ||
           (node->type == YAML_MAPPING_NODE &&
            node->data.mapping.style == YAML_FLOW_MAPPING_STYLE);
}

/* Last line with something of the node; the end mark of a block lies behind notes that follow
 * it. */
static size_t
last_line_of(const yaml_node_t *node)
{
    size_t last = node->start_mark.line;
    if (node->type == YAML_SCALAR_NODE || is_flow(node))
        return node->end_mark.line;
    if (node->type == YAML_SEQUENCE_NODE) {
        for (const yaml_node_item_t *item = node->data.sequence.items.start;
             item < node->data.sequence.items.top; item++)
            last = last_line_of(node_at(*item));
        return last;
    }
    for (const yaml_node_pair_t *pair = node->data.mapping.pairs.start;
         pair < node->data.mapping.pairs.top; pair++)
        last = last_line_of(node_at(pair->value));
    return last;
}

static void
add_pairs(const yaml_node_t *node)
{
    if (node->type == YAML_SEQUENCE_NODE)
        for (const yaml_node_item_t *item = node->data.sequence.items.start;
             item < node->data.sequence.items.top; item++)
            add_pairs(node_at(*item));
    if (node->type != YAML_MAPPING_NODE)
        return;
    const yaml_node_pair_t *start = node->data.mapping.pairs.start;
    const yaml_node_pair_t *top = node->data.mapping.pairs.top;
    for (const yaml_node_pair_t *at = start; at < top; at++) {
        assert_true(example.pair_count < PAIRS_MAX);
        struct pair *pair = &example.pairs[example.pair_count++];
        const yaml_node_t *key = node_at(at->key);
        (void)snprintf(pair->key, sizeof(pair->key), "%s",
                       (const char *)key->data.scalar.value);
        pair->line = key->start_mark.line;
        pair->column = key->start_mark.column; /* nothing but ASCII stands before a key */
        pair->value = node_at(at->value);
        pair->last_line = last_line_of(pair->value);
        pair->alone = top - start == 1;
        if (!pair->alone)
            pair->entry_line = node_at(at == start ? at[1].key : start->key)->start_mark.line;
        add_pairs(pair->value);
    }
}

static int
read_example(void **state)
{
    (void)state;
    memset(&example, 0, sizeof(example));
    yaml_parser_t parser;
    FILE *file = fopen(subject->file, "rb");
    assert_non_null(file);
    example.len = fread(example.text, 1, sizeof(example.text) - 1, file);
    assert_true(feof(file));
    assert_int_equal(fclose(file), 0);
    assert_true(yaml_parser_initialize(&parser));
    yaml_parser_set_input_string(&parser, (const unsigned char *)example.text, example.len);
    assert_true(yaml_parser_load(&parser, &example.document));
    yaml_parser_delete(&parser);
    add_pairs(yaml_document_get_root_node(&example.document));
    char *at = example.text;
    while (*at) {
        char *end = strchr(at, '\n');
        assert_non_null(end);
        *end = '\0';
        assert_true(example.line_count < LINES_MAX);
        example.lines[example.line_count++] = at;
        at = end + 1;
    }
    return 0;
}

static int
free_example(void **state)
{
    (void)state;
    yaml_document_delete(&example.document);
    return 0;
}

/* ---- writing the plan anew with one thing changed ---- */

/* Lines from..to become text (one or more lines), or nothing but empty lines when text is NULL.
 */
static const char *
changed(size_t from, size_t to, const char *text)
{
    static char buf[120000];
    size_t len = 0;
    for (size_t i = 0; i < example.line_count; i++) {
        const char *line = i < from || i > to  ? example.lines[i]
                           : i == from && text ? text
                                               : "";
        len += (size_t)snprintf(buf + len, sizeof(buf) - len, "%s\n", line);
    }
    assert_true(len < sizeof(buf) - 1);
    return buf;
}

/* The pair's line up to its key ("    " or "  - "), then text. */
static const char *
after_indent(const struct pair *pair, const char *format, ...)
{
    static char buf[500];
    size_t len = pair->column;
    memcpy(buf, example.lines[pair->line], len);
    va_list args;
    va_start(args, format);
    (void)vsnprintf(buf + len, sizeof(buf) - len, format, args);
    va_end(args);
    return buf;
}

static bool
is_told_on(const struct plan_faults *faults, size_t line)
{
    for (size_t i = 0; i < faults->count; i++)
        if (faults->fault[i].line == (int)line + 1)
            return true;
    return false;
}

static bool
says_what_to_do(const char *text)
{
    static const char *const words[] = {"write ", "Write ", "did you mean '", "delete "};
    for (size_t i = 0; i < COUNT(words); i++)
        if (strstr(text, words[i]))
            return true;
    return false;
}

static void
must_be_told(const struct pair *pair, const char *how, const char *text, size_t line)
{
    struct plan_faults faults;
    char told[4000];
    struct plan *plan = plan_load_text("config/mutant.yaml", text, strlen(text), &faults);
    if (plan)
        fail_msg("'%s' of line %zu %s was accepted", pair->key, pair->line + 1, how);
    if (!is_told_on(&faults, line)) {
        plan_faults_text(&faults, "mutant", told, sizeof(told));
        fail_msg("'%s' of line %zu %s should be told on line %zu:\n%s", pair->key,
                 pair->line + 1, how, line + 1, told);
    }
    for (size_t i = 0; i < faults.count; i++)
        if (faults.fault[i].line == (int)line + 1 && !says_what_to_do(faults.fault[i].text))
            fail_msg("'%s' of line %zu %s: does not say what to write:\n%s", pair->key,
                     pair->line + 1, how, faults.fault[i].text);
}

/* The value of the pair replaced, on the key's own line. */
static void
value_must_be_told(const struct pair *pair, const char *how, const char *value)
{
    must_be_told(
        pair, how,
        changed(pair->line, pair->last_line, after_indent(pair, "%s: %s", pair->key, value)),
        pair->line);
}

/* ---- what a number is ---- */

/* Splits "63 °C" into digits and unit. False when the scalar is no number with a known unit. */
static bool
split_number(const yaml_node_t *node, char number[32], char unit[16])
{
    static const char *const units[] = {"",     " °C", " °F", " °C/min", " d",  " h",
                                        " min", " s",  " ms", " mV",     " ohm"};
    if (node->type != YAML_SCALAR_NODE)
        return false;
    const char *text = (const char *)node->data.scalar.value;
    size_t len = text[0] == '-' ? 1 : 0;
    if (!isdigit((unsigned char)text[len]))
        return false;
    len += strspn(text + len, "0123456789");
    if (text[len] == '.' && isdigit((unsigned char)text[len + 1]))
        len += 1 + strspn(text + len + 1, "0123456789"); /* once: 127.0.0.1 is no number */
    for (size_t i = 0; i < COUNT(units); i++)
        if (strcmp(text + len, units[i]) == 0 && len < 32) {
            memcpy(number, text, len);
            number[len] = '\0';
            strcpy(unit, units[i]);
            return true;
        }
    return false;
}

/* The pair's number, alone or the first of its list; written back with `value_of`. */
struct number {
    bool in_list;
    char digits[32], unit[16], rest[64];
};

static bool
number_of(const struct pair *pair, struct number *ret)
{
    const yaml_node_t *node = pair->value;
    ret->in_list = node->type == YAML_SEQUENCE_NODE && is_flow(node);
    ret->rest[0] = '\0';
    if (!ret->in_list)
        return split_number(node, ret->digits, ret->unit);
    const yaml_node_item_t *items = node->data.sequence.items.start;
    size_t count = (size_t)(node->data.sequence.items.top - items);
    if (!split_number(node_at(items[0]), ret->digits, ret->unit))
        return false; /* a list of words */
    assert_true(count == 1 || count == 2);
    if (count == 2)
        (void)snprintf(ret->rest, sizeof(ret->rest), ", %s",
                       (const char *)node_at(items[1])->data.scalar.value);
    return split_number(node_at(items[0]), ret->digits, ret->unit);
}

static void
number_must_be_told(const struct pair *pair, const char *how, const struct number *number,
                    const char *digits, const char *unit)
{
    char value[200];
    (void)snprintf(value, sizeof(value), "%s%s%s%s%s", number->in_list ? "[" : "", digits, unit,
                   number->rest, number->in_list ? "]" : "");
    value_must_be_told(pair, how, value);
}

/* ---- the mutations ---- */

static void
test_example_itself_loads(void **state)
{
    (void)state;
    struct plan_faults faults;
    const char *text = changed(LINES_MAX, LINES_MAX, NULL);
    struct plan *plan = plan_load_text(subject->file, text, strlen(text), &faults);
    assert_non_null(plan);
    plan_free(plan);
    assert_true(example.pair_count > subject->pairs);
}

/* Whether the key stands in this list of the plan. */
static bool
is_of_list(const struct pair *pair, const char *list)
{
    size_t line = pair->line;
    while (line > 0 && (example.lines[line][0] == ' ' || example.lines[line][0] == '\0'))
        line--;
    return strncmp(example.lines[line], list, strlen(list)) == 0;
}

/* Either there is a default, or nothing needs them. */
static const char *const free_of_example[] = {"address",
                                              "date_mark",
                                              "freezer",
                                              "time_zone",
                                              "demo",
                                              "approved",
                                              "draft",
                                              "quiet",
                                              "baud",
                                              "parity",
                                              "stop_bits",
                                              "timeout",
                                              "longest_delay",
                                              "port",
                                              "byte_order",
                                              "offset",
                                              "fault_values",
                                              "every",
                                              "thermometers",
                                              "tolerance",
                                              "back_for",
                                              "one_period",
                                              "rise_from",
                                              "stand",
                                              "never_above",
                                              "use_at_once_after",
                                              "come_up_from",
                                              "come_up_to",
                                              "come_up_within",
                                              "oven",
                                              "roast_g",
                                              "oven_recovery",
                                              "date_mark",
                                              "first_day",
                                              "freezer",
                                              "starts_date",
                                              "time_strict",
                                              "aim",
                                              "begins",
                                              "begins_on",
                                              "begins_together",
                                              "strict",
                                              "critical_control_point",
                                              "source",
                                              "acceptance",
                                              "guard_percent",
                                              "hazard",
                                              "corrective_action",
                                              "verification",
                                              "place",
                                              "for",
                                              "products",
                                              "tolerances",
                                              "largest_spacing",
                                              "silent_for",
                                              "food_rate",
                                              "food_jump",
                                              "settle_for",
                                              "pulled_within",
                                              "web",
                                              "enabled",
                                              "listen",
                                              "records",
                                              "directory",
                                              "commit_within",
                                              "seal_every",
                                              "references",
                                              "calibration",
                                              "check_tolerance",
                                              "check_every",
                                              "largest_correction",
                                              "warn_before",
                                              "altitude_m",
                                              "prepared",
                                              "done",
                                              "control",
                                              "safe",
                                              "disposition",
                                              "duties",
                                              "act_within",
                                              "verify_within_days",
                                              "working_days",
                                              "day_ends",
                                              "switches",
                                              "active",
                                              "open_at_most",
                                              NULL};
static const char *const free_of_lines[] = {
    "probes",   "direction", "pause", "stop_bits",       "data_bits",          "line_end",
    "poll",     "root",      "speed", "at_end",          "byte_order",         "offset",
    "bad_bits", "good_bits", "every", "check_tolerance", "largest_correction", NULL};

/* Told where somebody needed them. */
static const char *const missed_of_example[] = {"buses", "probes", "places", "oven_rows",
                                                "probe", "sensor", NULL};
static const char *const missed_of_lines[] = {"demo",   "buses",           "good_status",
                                              "sensor", "status_register", NULL};

static const struct subject subjects[] = {
    {"config/harbour-lane.yaml", 240, 120, 70, free_of_example, missed_of_example},
    {"tests/unit/data/lines.yaml", 95, 60, 25, free_of_lines, missed_of_lines},
};

static bool
is_among(const char *const *keys, const struct pair *pair)
{
    for (; *keys; keys++)
        if (strcmp(pair->key, *keys) == 0)
            return true;
    return false;
}

static bool
may_be_left_out(const struct pair *pair)
{
    if ((strcmp(pair->key, "place") == 0 || strcmp(pair->key, "address") == 0) &&
        is_of_list(pair, "switches:"))
        return false;
    if (strcmp(pair->key, "oven") == 0) /* which one the kitchen uses; each row says its own */
        return strstr(example.lines[pair->line], "- oven") == NULL;
    /* Of a device that gives no degrees nobody can guess it. */
    if (strcmp(pair->key, "scale") == 0)
        return strstr(example.lines[pair->line], "°C") != NULL;
    return is_among(subject->free, pair);
}

static bool
is_missed_elsewhere(const struct pair *pair)
{
    return is_among(subject->missed_elsewhere, pair);
}

static bool
loads(const char *text)
{
    struct plan_faults faults;
    struct plan *plan = plan_load_text(subject->file, text, strlen(text), &faults);
    plan_free(plan);
    return plan != NULL;
}

static void
test_every_key_left_out_is_told_at_its_entry(void **state)
{
    (void)state;
    size_t required = 0;
    for (size_t i = 0; i < example.pair_count; i++) {
        const struct pair *pair = &example.pairs[i];
        const char *text = changed(pair->line, pair->last_line, after_indent(pair, "%s", ""));
        if (pair->alone) { /* nothing is left: the empty value is told where the mapping was
                              wanted */
            assert_false(loads(text));
        } else if (is_missed_elsewhere(pair)) {
            /* A place without a limit needs no probe. */
            const bool is_free = strcmp(pair->key, "probe") == 0 &&
                                 strstr(example.lines[pair->line + 2], "kind: none");
            assert_int_equal(loads(text), is_free);
        } else if (may_be_left_out(pair)) {
            if (!loads(text))
                fail_msg("'%s' of line %zu should not be required", pair->key, pair->line + 1);
        } else {
            must_be_told(pair, "left out", text, pair->entry_line);
            required++;
        }
    }
    assert_true(required > subject->required);
}

static void
test_every_key_misspelled_is_told(void **state)
{
    (void)state;
    for (size_t i = 0; i < example.pair_count; i++) {
        const struct pair *pair = &example.pairs[i];
        const char *line = example.lines[pair->line];
        char misspelled[500];
        (void)snprintf(misspelled, sizeof(misspelled), "%.*s%cq%s", (int)pair->column, line,
                       line[pair->column], line + pair->column + 1);
        must_be_told(pair, "misspelled", changed(pair->line, pair->line, misspelled),
                     pair->line);
    }
}

static void
test_every_key_given_twice_is_told_at_the_second(void **state)
{
    (void)state;
    for (size_t i = 0; i < example.pair_count; i++) {
        const struct pair *pair = &example.pairs[i];
        char twice[700];
        (void)snprintf(twice, sizeof(twice), "%s\n%*s%s: again", example.lines[pair->last_line],
                       (int)pair->column, "", pair->key);
        must_be_told(pair, "given twice", changed(pair->last_line, pair->last_line, twice),
                     pair->last_line + 1);
    }
}

static void
test_every_value_of_the_wrong_type_is_told(void **state)
{
    (void)state;
    for (size_t i = 0; i < example.pair_count; i++) {
        const struct pair *pair = &example.pairs[i];
        yaml_node_type_t type = pair->value->type;
        if (type != YAML_SCALAR_NODE)
            value_must_be_told(pair, "as a single value", "5 min");
        if (type != YAML_SEQUENCE_NODE)
            value_must_be_told(pair, "as a list", "[1, two]");
        if (type != YAML_MAPPING_NODE)
            value_must_be_told(pair, "as a mapping", "{one: two}");
        value_must_be_told(pair, "emptied", "");
    }
}

static void
test_every_number_badly_written_is_told(void **state)
{
    (void)state;
    size_t numbers = 0;
    for (size_t i = 0; i < example.pair_count; i++) {
        const struct pair *pair = &example.pairs[i];
        struct number number;
        char digits[64];
        if (!number_of(pair, &number))
            continue;
        numbers++;
        (void)snprintf(digits, sizeof(digits), "%s,5", number.digits);
        if (strchr(number.digits, '.')) {
            strcpy(digits, number.digits);
            *strchr(digits, '.') = ',';
        }
        /* In a list of whole numbers a comma is what stands between them, unless quoted. */
        if (number.in_list && !number.unit[0])
            (void)snprintf(digits, sizeof(digits), "'%s,5'", number.digits);
        number_must_be_told(pair, "with a comma", &number, digits, number.unit);
        number_must_be_told(pair, "with a nonsense unit", &number, number.digits, " bananas");
        number_must_be_told(pair, "with two units", &number, number.digits, " °C min");
        number_must_be_told(pair, "as a word", &number, "some", number.unit);
        number_must_be_told(pair, "far out of range", &number, "999999999", number.unit);
        number_must_be_told(pair, "far below its range", &number, "-999999999", number.unit);
        number_must_be_told(pair, "with more digits than fit", &number, "18446744073709551617",
                            number.unit);
        if (number.unit[0])
            number_must_be_told(pair, "without its unit", &number, number.digits, "");
        else
            number_must_be_told(pair, "with a unit it does not have", &number, number.digits,
                                " °C");
        if (strstr(number.unit, "°"))
            number_must_be_told(pair, "with a time for a temperature", &number, number.digits,
                                " min");
        else if (number.unit[0])
            number_must_be_told(pair, "with a temperature for a time", &number, number.digits,
                                " °C");
    }
    assert_true(numbers > subject->numbers);
}

/* Control characters, overrides of direction, NUL, a line break, far too long. */
static void
test_every_single_value_with_unclean_text_is_told(void **state)
{
    (void)state;
    static char long_text[1000];
    memset(long_text, 'a', sizeof(long_text) - 1);
    for (size_t i = 0; i < example.pair_count; i++) {
        const struct pair *pair = &example.pairs[i];
        if (pair->value->type != YAML_SCALAR_NODE)
            continue;
        value_must_be_told(pair, "with an override", "\"a\\u202Eb\"");
        value_must_be_told(pair, "with an isolate", "\"a\\u2066b\"");
        value_must_be_told(pair, "with an escape", "\"a\\x1B[2Jb\"");
        value_must_be_told(pair, "with a NUL", "\"a\\0b\"");
        value_must_be_told(pair, "with a line break", "\"a\\nb\"");
        value_must_be_told(pair, "with an anchor", "&x a");
        value_must_be_told(pair, "with a tag", "!x a");
        must_be_told(pair, "far too long",
                     changed(pair->line, pair->line,
                             after_indent(pair, "%s: %.400s", pair->key, long_text)),
                     pair->line);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_example_itself_loads),
        cmocka_unit_test(test_every_key_left_out_is_told_at_its_entry),
        cmocka_unit_test(test_every_key_misspelled_is_told),
        cmocka_unit_test(test_every_key_given_twice_is_told_at_the_second),
        cmocka_unit_test(test_every_value_of_the_wrong_type_is_told),
        cmocka_unit_test(test_every_number_badly_written_is_told),
        cmocka_unit_test(test_every_single_value_with_unclean_text_is_told),
    };
    int failed = 0;
    for (size_t i = 0; i < COUNT(subjects); i++) {
        subject = &subjects[i];
        failed += cmocka_run_group_tests_name(subject->file, tests, read_example, free_example);
    }
    return failed;
}
