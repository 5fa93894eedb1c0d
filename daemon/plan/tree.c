/* From bytes to libyaml's tree in three passes: the bytes themselves (clean UTF-8, so that an
 * editor, a terminal and libyaml count the same lines), the events (nothing but plain mappings,
 * lists and scalars of one document, not nested without end), then the tree. */
#include "daemon/plan/tree.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "daemon/plan/faults.h"

/* ---- bytes ---- */

/* Decodes one character of well-formed UTF-8 (RFC 3629). Returns its length, 0 when malformed.
 */
static size_t
decode(const unsigned char *s, size_t len, uint32_t *ret_point)
{
    size_t n = s[0] < 0x80   ? 1
               : s[0] < 0xC2 ? 0
               : s[0] < 0xE0 ? 2
               : s[0] < 0xF0 ? 3
               : s[0] < 0xF5 ? 4
                             : 0;
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    if (n == 0 || n > len)
        return 0;
    uint32_t point = n == 1 ? s[0] : s[0] & (0x7Fu >> n);
    for (size_t i = 1; i < n; i++) {
        if ((s[i] & 0xC0) != 0x80)
            return 0;
        point = point << 6 | (s[i] & 0x3Fu);
    }
    if (point < least[n] || point > 0x10FFFF || (point >= 0xD800 && point <= 0xDFFF))
        return 0;
    *ret_point = point;
    return n;
}

/* What is wrong with a character anywhere in a plan, comments included; NULL when nothing is.
 */
static const char *
character_fault(uint32_t point, bool before_newline)
{
    if (point == 0)
        return "a NUL byte; save the plan as plain UTF-8 text";
    if (point == '\r' && !before_newline)
        return "a carriage return within a line; save the plan with ordinary line ends";
    if ((point < 0x20 && point != '\t' && point != '\n' && point != '\r') ||
        (point >= 0x7F && point <= 0x9F))
        return "a control character; delete it and write the line anew";
    if ((point >= 0x202A && point <= 0x202E) || (point >= 0x2066 && point <= 0x2069))
        return "an invisible character that turns the direction of text; delete it";
    if (point == 0xFEFF || (point & 0xFFFE) == 0xFFFE)
        return "an invisible character that is no text; delete it";
    if (point == 0x2028 || point == 0x2029)
        return "an invisible line separator; use the Enter key instead";
    return NULL;
}

#define BYTE_FAULTS_TOLD 5 /* a file that is no text at all needs no hundred lines */

static bool
bytes_are_clean(const char *text, size_t len, struct plan_faults *reterr)
{
    int line = 1, column = 1, found = 0;
    for (size_t i = 0; i < len;) {
        uint32_t point = 0;
        size_t n = decode((const unsigned char *)text + i, len - i, &point);
        const char *fault = n == 0 ? "not valid UTF-8; save the plan as UTF-8 text"
                                   : character_fault(point, i + 1 < len && text[i + 1] == '\n');
        if (fault) {
            if (++found > BYTE_FAULTS_TOLD) {
                reterr->more = true;
                return false;
            }
            plan_fault_add(reterr, line, column, "%s", fault);
        }
        column++;
        if (point == '\n') {
            line++;
            column = 1;
        }
        i += n == 0 ? 1 : n;
    }
    return found == 0;
}

/* ---- what libyaml found wrong ---- */

/* libyaml's problems in our words, and whether the mark of the context (where something began)
 * says more than the mark of the problem (where the parser noticed). Tried with libyaml 0.2.5.
 */
static const struct {
    const char *problem, *told;
    bool where_begun;
} syntax_faults[] = {
    {"found unexpected end of stream",
     "a quote or bracket that is opened here is never closed; close it", true},
    {"found unexpected document indicator",
     "a quote that is opened here is not closed before '---'; close it", true},
    {"found character that cannot start any token",
     "a character that cannot stand here (a tab, or one of @ ` %); indent with spaces and put "
     "such text in quotes",
     false},
    {"found a tab character", "a tab; indent with spaces", false},
    {"mapping values are not allowed in this context",
     "a ':' that cannot stand here; check the indentation, or put the text in quotes", false},
    {"could not find expected ':'", "a line without its ':'; write \"key: value\"", true},
    {"did not find expected ',' or ']'",
     "a list opened here with '[' is not well closed; put ',' between its entries and ']' at "
     "its end",
     true},
    {"did not find expected ',' or '}'",
     "a mapping opened here with '{' is not well closed; put ',' between its entries and '}' "
     "at its end",
     true},
    {"did not find expected key",
     "this line does not fit the ones before it; check its indentation", false},
    {"did not find expected '-' indicator",
     "this line does not fit the list before it; check its indentation, or begin it with '-'",
     false},
    {"block sequence entries are not allowed in this context",
     "a '-' that cannot stand here; begin the list on a line of its own", false},
    {"found unknown escape character",
     "a backslash sequence that does not exist; use single quotes", false},
    {"did not find expected <document start>", "something after the end of the plan; delete it",
     false},
};

static void
add_syntax_fault(struct plan_faults *reterr, const yaml_parser_t *parser)
{
    const char *problem = parser->problem ? parser->problem : "not readable as YAML";
    const char *told = NULL;
    bool where_begun = false;
    if (parser->error == YAML_MEMORY_ERROR) {
        plan_fault_add(reterr, 0, 0,
                       "memory ran out while reading the plan; free some and try again");
        return;
    }
    for (size_t i = 0; i < sizeof(syntax_faults) / sizeof(syntax_faults[0]); i++)
        if (!told &&
            strncmp(problem, syntax_faults[i].problem, strlen(syntax_faults[i].problem)) == 0) {
            told = syntax_faults[i].told;
            where_begun = syntax_faults[i].where_begun && parser->context;
        }
    yaml_mark_t mark = where_begun ? parser->context_mark : parser->problem_mark;
    if (told)
        plan_fault_add(reterr, (int)mark.line + 1, (int)mark.column + 1, "%s", told);
    else
        plan_fault_add(reterr, (int)mark.line + 1, (int)mark.column + 1,
                       "not well-formed YAML (%s); check this line and the one before it",
                       problem);
}

/* ---- events ---- */

static void
add_event_fault(struct plan_faults *reterr, const yaml_event_t *event, const char *text)
{
    plan_fault_add(reterr, (int)event->start_mark.line + 1, (int)event->start_mark.column + 1,
                   "%s", text);
}

static void
check_node_event(struct plan_faults *reterr, const yaml_event_t *event,
                 const yaml_char_t *anchor, const yaml_char_t *tag)
{
    if (anchor)
        add_event_fault(reterr, event,
                        "an anchor (&) has no place in a plan; write the value out, or put the "
                        "text in quotes");
    if (tag)
        add_event_fault(
            reterr, event,
            "a tag (!) has no place in a plan; delete it, or put the text in quotes");
}

struct events {
    struct plan_faults *reterr;
    int depth, documents;
};

/* Looks at one event; false when reading on makes no sense. */
static bool
check_event(struct events *events, const yaml_event_t *event)
{
    switch (event->type) {
    case YAML_DOCUMENT_START_EVENT:
        if (event->data.document_start.version_directive ||
            event->data.document_start.tag_directives.start !=
                event->data.document_start.tag_directives.end)
            add_event_fault(events->reterr, event,
                            "a directive (%) has no place in a plan; delete the line");
        if (++events->documents > 1) {
            add_event_fault(events->reterr, event,
                            "a second document begins here; a plan is one document: delete the "
                            "'---' or the rest");
            return false;
        }
        return true;
    case YAML_ALIAS_EVENT:
        add_event_fault(events->reterr, event,
                        "an alias (*) has no place in a plan; write the value out, or put the "
                        "text in quotes");
        return true;
    case YAML_SCALAR_EVENT:
        check_node_event(events->reterr, event, event->data.scalar.anchor,
                         event->data.scalar.tag);
        return true;
    case YAML_SEQUENCE_START_EVENT:
        check_node_event(events->reterr, event, event->data.sequence_start.anchor,
                         event->data.sequence_start.tag);
        break;
    case YAML_MAPPING_START_EVENT:
        check_node_event(events->reterr, event, event->data.mapping_start.anchor,
                         event->data.mapping_start.tag);
        break;
    case YAML_SEQUENCE_END_EVENT:
    case YAML_MAPPING_END_EVENT:
        events->depth--;
        return true;
    case YAML_NO_EVENT:
    case YAML_STREAM_START_EVENT:
    case YAML_STREAM_END_EVENT:
    case YAML_DOCUMENT_END_EVENT:
        return true;
    }
    if (++events->depth > PLAN_DEPTH_MAX) {
        add_event_fault(events->reterr, event,
                        "nested too deeply; a plan has no lists within lists like this");
        return false;
    }
    return true;
}

/* Opens a parser on text known to be UTF-8. libyaml would otherwise guess the encoding. */
static bool
open_parser(yaml_parser_t *parser, const char *text, size_t len, struct plan_faults *reterr)
{
    if (!yaml_parser_initialize(parser)) {
        plan_fault_add(reterr, 0, 0,
                       "memory ran out while reading the plan; free some and try again");
        return false;
    }
    yaml_parser_set_input_string(parser, (const unsigned char *)text, len);
    yaml_parser_set_encoding(parser, YAML_UTF8_ENCODING);
    return true;
}

static bool
events_are_plain(const char *text, size_t len, struct plan_faults *reterr)
{
    struct events events = {.reterr = reterr};
    yaml_parser_t parser;
    if (!open_parser(&parser, text, len, reterr))
        return false;
    for (bool going = true; going;) {
        yaml_event_t event;
        if (!yaml_parser_parse(&parser, &event)) {
            add_syntax_fault(reterr, &parser);
            break;
        }
        going = check_event(&events, &event) && event.type != YAML_STREAM_END_EVENT;
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
    return reterr->count == 0;
}

bool
plan_tree_read(struct plan_tree *tree, const char *text, size_t len, struct plan_faults *reterr)
{
    yaml_parser_t parser;
    if (len >= 3 &&
        memcmp(text, "\xEF\xBB\xBF", 3) == 0) { /* some editors put a byte order mark first */
        text += 3;
        len -= 3;
    }
    if (len > PLAN_BYTES_MAX) {
        plan_fault_add(
            reterr, 0, 0,
            "larger than %d bytes; a plan is a short text: check that this is the right file",
            PLAN_BYTES_MAX);
        return false;
    }
    if (!bytes_are_clean(text, len, reterr) || !events_are_plain(text, len, reterr) ||
        !open_parser(&parser, text, len, reterr))
        return false;
    bool loaded = yaml_parser_load(&parser, &tree->document);
    if (!loaded)
        add_syntax_fault(reterr, &parser);
    yaml_parser_delete(&parser);
    return loaded;
}

/* ---- the tree ---- */

void
plan_tree_free(struct plan_tree *tree)
{
    yaml_document_delete(&tree->document);
}

yaml_node_t *
plan_tree_root(struct plan_tree *tree)
{
    return yaml_document_get_root_node(&tree->document);
}

yaml_node_t *
plan_tree_node(struct plan_tree *tree, int index)
{
    return yaml_document_get_node(&tree->document, index);
}

bool
plan_node_is(const yaml_node_t *scalar, const char *text)
{
    return scalar && scalar->type == YAML_SCALAR_NODE &&
           scalar->data.scalar.length == strlen(text) &&
           memcmp(scalar->data.scalar.value, text, strlen(text)) == 0;
}

yaml_node_t *
plan_tree_child(struct plan_tree *tree, const yaml_node_t *mapping, const char *key)
{
    if (!mapping || mapping->type != YAML_MAPPING_NODE)
        return NULL;
    for (yaml_node_pair_t *pair = mapping->data.mapping.pairs.start;
         pair < mapping->data.mapping.pairs.top; pair++)
        if (plan_node_is(plan_tree_node(tree, pair->key), key))
            return plan_tree_node(tree, pair->value);
    return NULL;
}

size_t
plan_tree_items(const yaml_node_t *list)
{
    if (!list || list->type != YAML_SEQUENCE_NODE)
        return 0;
    return (size_t)(list->data.sequence.items.top - list->data.sequence.items.start);
}

yaml_node_t *
plan_tree_item(struct plan_tree *tree, const yaml_node_t *list, size_t i)
{
    return i < plan_tree_items(list) ? plan_tree_node(tree, list->data.sequence.items.start[i])
                                     : NULL;
}
