/* See trivet/line_pattern.h. Owns nothing. */
#include "trivet/line_pattern.h"

#include <assert.h>
#include <string.h>

/* ---- writing ---- */

static const struct {
    const char *name;
    enum line_part_kind kind;
} fields[] = {
    {"value", LINE_VALUE},   {"unit", LINE_UNIT}, {"channel", LINE_CHANNEL},
    {"status", LINE_STATUS}, {"skip", LINE_SKIP}, {"sum8", LINE_SUM8},
    {"xor8", LINE_XOR8},     {"from", LINE_FROM}, {"to", LINE_TO},
};

/* A text while it is compiled. */
struct writing {
    const char *text;
    size_t at;
    struct line_pattern *pattern;
    size_t byte_count;
    struct line_fault *reterr;
};

static bool
wrong(struct writing *writing, size_t at, const char *text)
{
    *writing->reterr = (struct line_fault){.at = at, .text = text};
    return false;
}

static int
hex_digit(uint8_t byte)
{
    if (byte >= '0' && byte <= '9')
        return byte - '0';
    if (byte >= 'A' && byte <= 'F')
        return byte - 'A' + 10;
    if (byte >= 'a' && byte <= 'f')
        return byte - 'a' + 10;
    return -1;
}

static bool
is_blank(uint8_t byte)
{
    return byte == ' ' || byte == '\t';
}

/* What a backslash and the signs behind it stand for; -1 with *reterr when for nothing. */
static int
escaped(struct writing *writing)
{
    const size_t began = writing->at++;
    const char sign = writing->text[writing->at];
    int high, low;
    switch (sign) {
    case 'r':
    case 'n':
    case 't':
        writing->at++;
        return sign == 'r' ? '\r' : sign == 'n' ? '\n' : '\t';
    case '\\':
    case '{':
    case '}':
        writing->at++;
        return sign;
    case 'x':
        high = hex_digit((uint8_t)writing->text[writing->at + 1]);
        low = high < 0 ? -1 : hex_digit((uint8_t)writing->text[writing->at + 2]);
        if (low >= 0) {
            writing->at += 3;
            return high * 16 + low;
        }
        break;
    default:
        break;
    }
    (void)wrong(
        writing, began,
        "a backslash has no meaning here; write \\\\ for one, or \\r, \\n, \\t, \\{, \\}, "
        "or \\x and two hexadecimal digits");
    return -1;
}

static bool
add_part(struct writing *writing, enum line_part_kind kind, size_t began)
{
    struct line_pattern *pattern = writing->pattern;
    if (pattern->part_count == LINE_PARTS_MAX)
        return wrong(writing, began,
                     "there is too much in it; write a shorter pattern with "
                     "{skip} for what does not matter");
    pattern->parts[pattern->part_count++] = (struct line_part){
        .kind = kind, .text = {.at = (uint16_t)writing->byte_count, .len = 0}};
    return true;
}

static struct line_part *
last_part(struct line_pattern *pattern)
{
    return pattern->part_count == 0 ? NULL : &pattern->parts[pattern->part_count - 1];
}

static bool
is_mark(enum line_part_kind kind)
{
    return kind == LINE_FROM || kind == LINE_TO;
}

static bool
is_sum(enum line_part_kind kind)
{
    return kind == LINE_SUM8 || kind == LINE_XOR8;
}

static bool
is_text(enum line_part_kind kind)
{
    return kind == LINE_LITERAL || kind == LINE_BLANK;
}

/* The kind of the last part that takes room in a line; LINE_BLANK when there is none. */
static enum line_part_kind
kind_before(const struct line_pattern *pattern)
{
    for (size_t i = pattern->part_count; i > 0; i--)
        if (!is_mark(pattern->parts[i - 1].kind))
            return pattern->parts[i - 1].kind;
    return LINE_BLANK;
}

static size_t
count_kind(const struct line_pattern *pattern, enum line_part_kind kind)
{
    size_t count = 0;
    for (size_t i = 0; i < pattern->part_count; i++)
        count += pattern->parts[i].kind == kind;
    return count;
}

static bool
add_byte(struct writing *writing, uint8_t byte, size_t began)
{
    struct line_part *last = last_part(writing->pattern);
    if (is_blank(byte))
        return (last && last->kind == LINE_BLANK) || add_part(writing, LINE_BLANK, began);
    if (byte == '\r' || byte == '\n' || byte == '\0')
        return wrong(writing, began,
                     "a line ends there, and its end is no part of the pattern; say it with "
                     "line_end:");
    if (!last || last->kind != LINE_LITERAL) {
        if (!add_part(writing, LINE_LITERAL, began))
            return false;
        last = last_part(writing->pattern);
    }
    if (writing->byte_count == LINE_PATTERN_BYTES_MAX)
        return wrong(writing, began,
                     "the pattern is too long; write {skip} for what does not "
                     "matter");
    writing->pattern->bytes[writing->byte_count++] = (char)byte;
    last->text.len++;
    return true;
}

/* The channel that a value is of, behind its colon. */
static bool
add_name(struct writing *writing, const char *name, size_t len, size_t began)
{
    struct line_pattern *pattern = writing->pattern;
    struct line_slice *slice = &last_part(pattern)->text;
    for (size_t i = 0; i < len; i++)
        if (is_blank((uint8_t)name[i]) || name[i] == '{' || name[i] == '\\')
            return wrong(writing, began,
                         "the name of a channel has no blanks, braces or "
                         "backslashes; write one such as {value:1}");
    if (len == 0 || writing->byte_count + len > LINE_PATTERN_BYTES_MAX)
        return wrong(writing, began,
                     "the channel has no usable name; write one such as "
                     "{value:1}");
    for (size_t i = 0; i + 1 < pattern->part_count; i++) {
        const struct line_slice other = pattern->parts[i].text;
        if (pattern->parts[i].kind == LINE_VALUE && other.len == len &&
            memcmp(pattern->bytes + other.at, name, len) == 0)
            return wrong(writing, began,
                         "two values are of the same channel; write another "
                         "name");
    }
    memcpy(pattern->bytes + writing->byte_count, name, len);
    slice->len = (uint16_t)len;
    writing->byte_count += len;
    pattern->has_names = true;
    return true;
}

/* What may not stand behind what is there already. */
static const char *
misplaced(const struct line_pattern *pattern, enum line_part_kind kind)
{
    const enum line_part_kind before = kind_before(pattern);
    if (is_sum(before))
        return "something follows the check sum; write it last";
    if (is_mark(kind))
        return count_kind(pattern, kind) > 0 ? "it is there twice; delete one of them" : NULL;
    if (kind == LINE_VALUE && pattern->value_count == LINE_VALUES_MAX)
        return "there are too many values; at most 16 can be told apart";
    if (kind != LINE_SKIP && kind != LINE_VALUE && count_kind(pattern, kind) > 0)
        return "it is there twice; write {skip} for what does not matter";
    if (is_text(before) || is_sum(kind) || (kind == LINE_UNIT && before == LINE_VALUE))
        return NULL;
    return "two fields touch, and nothing shows where the first one ends; write the text "
           "between "
           "them";
}

static bool
add_field(struct writing *writing)
{
    struct line_pattern *pattern = writing->pattern;
    const size_t began = writing->at;
    const char *name = writing->text + began + 1;
    const char *end = strchr(name, '}');
    if (!end)
        return wrong(writing, began,
                     "a brace is not closed; write }, or \\{ for the sign itself");
    const size_t len = (size_t)(end - name);
    const char *colon = memchr(name, ':', len);
    const size_t word_len = colon ? (size_t)(colon - name) : len;
    size_t i = 0;
    while (i < sizeof fields / sizeof *fields &&
           (strlen(fields[i].name) != word_len || memcmp(fields[i].name, name, word_len) != 0))
        i++;
    if (i == sizeof fields / sizeof *fields)
        return wrong(writing, began,
                     "there is no such field; write {value}, {unit}, {channel}, "
                     "{status}, {skip}, {sum8}, {xor8}, {from} or {to}");
    const enum line_part_kind kind = fields[i].kind;
    const char *why = misplaced(pattern, kind);
    if (why)
        return wrong(writing, began, why);
    if (colon && kind != LINE_VALUE)
        return wrong(writing, began,
                     "only a value can be of a named channel; write the field "
                     "without its colon");
    if (!add_part(writing, kind, began))
        return false;
    pattern->value_count = (uint8_t)(pattern->value_count + (kind == LINE_VALUE));
    pattern->has_unit = pattern->has_unit || kind == LINE_UNIT;
    pattern->has_channel = pattern->has_channel || kind == LINE_CHANNEL;
    pattern->has_status = pattern->has_status || kind == LINE_STATUS;
    writing->at = began + len + 2;
    return !colon || add_name(writing, colon + 1, len - word_len - 1, began);
}

/* What only the whole pattern shows. */
static bool
check_whole(struct writing *writing)
{
    const struct line_pattern *pattern = writing->pattern;
    const bool has_sum = count_kind(pattern, LINE_SUM8) + count_kind(pattern, LINE_XOR8) > 0;
    if (pattern->value_count == 0)
        return wrong(writing, 0,
                     "there is no {value} in it; write one where the number stands");
    if (pattern->has_names && pattern->has_channel)
        return wrong(writing, 0,
                     "channels are named twice, by {channel} and by a value's name; "
                     "write one of them");
    for (size_t i = 0; pattern->value_count > 1 && i < pattern->part_count; i++)
        if (pattern->parts[i].kind == LINE_VALUE && pattern->parts[i].text.len == 0)
            return wrong(writing, 0,
                         "there are several values; write whose each one is, such as "
                         "{value:1},{value:2}");
    if (!has_sum && count_kind(pattern, LINE_FROM) + count_kind(pattern, LINE_TO) > 0)
        return wrong(writing, 0,
                     "{from} and {to} are for a check sum, and there is none; write "
                     "{sum8} or {xor8} last");
    return true;
}

bool
line_pattern_compile(const char *text, struct line_pattern *ret, struct line_fault *reterr)
{
    struct line_pattern pattern = {.part_count = 0};
    struct writing writing = {.text = text, .pattern = &pattern, .reterr = reterr};
    while (text[writing.at] != '\0') {
        const size_t began = writing.at;
        const char sign = text[began];
        if (sign == '{') {
            if (!add_field(&writing))
                return false;
            continue;
        }
        if (sign == '}')
            return wrong(&writing, began,
                         "a brace was not opened; write \\} for the sign itself");
        if (is_sum(kind_before(&pattern)))
            return wrong(&writing, began, "something follows the check sum; write it last");
        int byte = (uint8_t)sign;
        if (sign == '\\')
            byte = escaped(&writing);
        else
            writing.at++;
        if (byte < 0 || !add_byte(&writing, (uint8_t)byte, began))
            return false;
    }
    if (!check_whole(&writing))
        return false;
    *ret = pattern;
    return true;
}

bool
line_pattern_names(const struct line_pattern *pattern, const char *channel)
{
    const size_t len = strlen(channel);
    for (size_t i = 0; i < pattern->part_count; i++) {
        const struct line_part *part = &pattern->parts[i];
        if (part->kind == LINE_VALUE && part->text.len == len &&
            memcmp(pattern->bytes + part->text.at, channel, len) == 0)
            return true;
    }
    return false;
}

/* ---- matching ---- */

/* A line while it is read: [at, end) is left. */
struct reading_of {
    const struct line_pattern *pattern;
    const uint8_t *line;
    size_t at, end;
    size_t sum_from, sum_to; /* SIZE_MAX: not said */
    bool sum_differs;
    uint8_t value_count;
    struct line_match match;
};

/* The next part that takes room, or NULL. */
static const struct line_part *
part_behind(const struct line_pattern *pattern, size_t i)
{
    while (++i < pattern->part_count)
        if (!is_mark(pattern->parts[i].kind))
            return &pattern->parts[i];
    return NULL;
}

static size_t
skip_blanks(const struct reading_of *of, size_t at)
{
    while (at < of->end && is_blank(of->line[at]))
        at++;
    return at;
}

static bool
literal_at(const struct reading_of *of, const struct line_part *literal, size_t at)
{
    return of->end - at >= literal->text.len &&
           memcmp(of->line + at, of->pattern->bytes + literal->text.at, literal->text.len) == 0;
}

static bool
is_digit(uint8_t byte)
{
    return byte >= '0' && byte <= '9';
}

/* Where the field that begins at `at` ends; end + 1 when what has to follow never comes. */
static size_t
field_end(const struct reading_of *of, const struct line_part *behind, size_t at)
{
    if (!behind)
        return of->end;
    if (is_sum(behind->kind))
        return of->end - at < 2 ? of->end + 1 : of->end - 2;
    for (; at < of->end; at++) {
        const uint8_t byte = of->line[at];
        if (behind->kind == LINE_LITERAL ? literal_at(of, behind, at)
            : behind->kind == LINE_BLANK
                ? is_blank(byte)
                : !is_digit(byte) && byte != '.' && byte != '+' && byte != '-')
            return at;
    }
    return behind->kind == LINE_UNIT ? of->end : of->end + 1;
}

static bool
take_sum(struct reading_of *of, enum line_part_kind kind)
{
    const size_t from = of->sum_from == SIZE_MAX ? 0 : of->sum_from;
    const size_t to = of->sum_to == SIZE_MAX ? of->at : of->sum_to;
    uint8_t sum = 0;
    if (of->end - of->at != 2)
        return false;
    const int high = hex_digit(of->line[of->at]);
    const int low = hex_digit(of->line[of->at + 1]);
    if (high < 0 || low < 0)
        return false;
    for (size_t i = from; i < to; i++)
        sum = (uint8_t)(kind == LINE_SUM8 ? sum + of->line[i] : sum ^ of->line[i]);
    of->sum_differs = sum != high * 16 + low;
    of->at = of->end;
    return true;
}

static bool
take_field(struct reading_of *of, enum line_part_kind kind, const struct line_part *behind)
{
    const size_t began = kind == LINE_SKIP ? of->at : skip_blanks(of, of->at);
    const size_t end = field_end(of, behind, began);
    if (end > of->end)
        return false;
    const struct line_slice slice = {.at = (uint16_t)began, .len = (uint16_t)(end - began)};
    of->at = end;
    for (size_t i = began; kind != LINE_SKIP && i < end; i++)
        if (is_blank(of->line[i]))
            return false;
    if (kind == LINE_VALUE)
        of->match.values[of->value_count++] = slice;
    else if (kind == LINE_UNIT)
        of->match.unit = slice;
    else if (kind == LINE_CHANNEL)
        of->match.channel = slice;
    else if (kind == LINE_STATUS)
        of->match.status = slice;
    return true;
}

static bool
take_part(struct reading_of *of, size_t i)
{
    const struct line_part *part = &of->pattern->parts[i];
    switch (part->kind) {
    case LINE_LITERAL:
        if (!literal_at(of, part, of->at))
            return false;
        of->at += part->text.len;
        return true;
    case LINE_BLANK: {
        /* Blanks around a line do not count, so one at its end asks for nothing. */
        const size_t behind = skip_blanks(of, of->at);
        const bool there = behind > of->at || behind == of->end || of->at == 0;
        of->at = behind;
        return there;
    }
    case LINE_FROM:
        of->sum_from = of->at;
        return true;
    case LINE_TO:
        of->sum_to = of->at;
        return true;
    case LINE_SUM8:
    case LINE_XOR8:
        return take_sum(of, part->kind);
    case LINE_VALUE:
    case LINE_UNIT:
    case LINE_CHANNEL:
    case LINE_STATUS:
    case LINE_SKIP:
        return take_field(of, part->kind, part_behind(of->pattern, i));
    }
    return false;
}

enum line_verdict
line_pattern_match(const struct line_pattern *pattern, const uint8_t *line, size_t len,
                   struct line_match *ret)
{
    struct reading_of of = {
        .pattern = pattern, .line = line, .end = len, .sum_from = SIZE_MAX, .sum_to = SIZE_MAX};
    if (len > LINE_BYTES_MAX)
        return LINE_DIFFERS;
    while (of.end > 0 && is_blank(line[of.end - 1]))
        of.end--;
    of.at = skip_blanks(&of, 0);
    for (size_t i = 0; i < pattern->part_count; i++)
        if (!take_part(&of, i))
            return LINE_DIFFERS;
    if (of.at != of.end)
        return LINE_DIFFERS;
    if (of.sum_differs)
        return LINE_BAD_SUM;
    assert(of.value_count == pattern->value_count);
    *ret = of.match;
    return LINE_MATCHES;
}

/* ---- the question ---- */

bool
line_poll_compile(const char *text, struct line_poll *ret, struct line_fault *reterr)
{
    static const char channel[] = "{channel}";
    struct line_poll poll = {.len = 0};
    struct writing writing = {.text = text, .reterr = reterr};
    while (text[writing.at] != '\0') {
        const size_t began = writing.at;
        int byte = (uint8_t)text[began];
        if (byte == '{') {
            if (poll.has_channel || strncmp(text + began, channel, sizeof channel - 1) != 0)
                return wrong(&writing, began,
                             "the only field of a question is {channel}, and "
                             "once; write \\{ for the sign itself");
            poll.has_channel = true;
            poll.channel_at = poll.len;
            writing.at += sizeof channel - 1;
            continue;
        }
        if (byte == '\\')
            byte = escaped(&writing);
        else
            writing.at++;
        if (byte < 0)
            return false;
        if (poll.len == sizeof poll.bytes)
            return wrong(&writing, began, "the question is too long; write at most 200 bytes");
        poll.bytes[poll.len++] = (uint8_t)byte;
    }
    *ret = poll;
    return true;
}

/* ---- numbers ---- */

#define DIGITS_MAX   15
#define DECIMALS_MAX 6

bool
line_number(const uint8_t *text, size_t len, struct line_number *ret)
{
    struct line_number number = {0, 0};
    bool has_point = false;
    int digits = 0;
    const bool has_sign = len > 0 && (text[0] == '-' || text[0] == '+');
    for (size_t i = has_sign ? 1 : 0; i < len; i++) {
        if (text[i] == '.' && !has_point) {
            has_point = true;
            continue;
        }
        if (!is_digit(text[i]) || ++digits > DIGITS_MAX)
            return false;
        number.mantissa = number.mantissa * 10 + (text[i] - '0');
        number.decimals += has_point;
    }
    if (digits == 0 || number.decimals > DECIMALS_MAX)
        return false;
    if (text[0] == '-')
        number.mantissa = -number.mantissa;
    *ret = number;
    return true;
}
