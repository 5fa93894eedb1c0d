/* Lines of text that thermometers print: a small pattern language of our own, the question that
 * asks for a line, and exact decimal numbers. The contract of drivers/line_pattern.c.
 *
 * A pattern is what a line looks like, with fields in braces where it varies:
 *   {value}          a number. {value:NAME} is that of channel NAME, for lines with several
 *   {unit}           C or F, with or without a degree sign before it
 *   {channel}        which thermometer the line is about
 *   {status}         what the device says of the value
 *   {skip}           anything
 *   {sum8}, {xor8}   two hexadecimal digits at the very end: the sum or the exclusive or of all
 *                    bytes before them, or of those between {from} and {to}
 * A blank stands for one or more blanks or tabs; blanks around a line do not count. \xNN is a
 * byte, \t a tab, and \\, \{, \} the sign itself. A field ends where the text behind it in the
 * pattern first begins, so matching takes one pass and never tries twice. Only {unit} may touch
 * the field before it, a {value}, and a check sum any field.
 *
 * Pure: no allocation, no I/O, no globals; any thread. */
#ifndef TRIVET_LINE_PATTERN_H
#define TRIVET_LINE_PATTERN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define LINE_BYTES_MAX                                                                         \
    256 /* of a line, without its end: our choice, a screen's width thrice                     \
         */
#define LINE_PATTERN_BYTES_MAX 200
#define LINE_PARTS_MAX         48
#define LINE_VALUES_MAX        16

/* Bytes of a line, or of a pattern's text. */
struct line_slice {
    uint16_t at, len;
};

enum line_part_kind {
    LINE_LITERAL,
    LINE_BLANK,
    LINE_VALUE,
    LINE_UNIT,
    LINE_CHANNEL,
    LINE_STATUS,
    LINE_SKIP,
    LINE_SUM8,
    LINE_XOR8,
    LINE_FROM,
    LINE_TO,
};

struct line_part {
    enum line_part_kind kind;
    struct line_slice text; /* of bytes[]: a literal, or the channel that a value is of */
};

struct line_pattern {
    struct line_part parts[LINE_PARTS_MAX];
    uint8_t part_count, value_count;
    bool has_unit, has_channel, has_status, has_names; /* names: of values */
    char bytes[LINE_PATTERN_BYTES_MAX];
};

/* What is wrong with a text, and at which byte of it. */
struct line_fault {
    size_t at;
    const char *text; /* "what is wrong; what to write" */
};

/* False with reterr. */
bool line_pattern_compile(const char *text, struct line_pattern *ret,
                          struct line_fault *reterr);
/* True when a value of the pattern is that of the channel. */
bool line_pattern_names(const struct line_pattern *pattern, const char *channel);

struct line_match {
    struct line_slice values[LINE_VALUES_MAX]; /* as many as the pattern has, in its order */
    struct line_slice unit, channel, status;   /* empty where the pattern has none */
};

enum line_verdict {
    LINE_MATCHES,
    LINE_DIFFERS, /* not of the pattern's form */
    LINE_BAD_SUM, /* of its form, but the check sum is another */
};

/* Looks at a line without its end; more than LINE_BYTES_MAX bytes differ. *ret is set only when
 * it matches. */
enum line_verdict line_pattern_match(const struct line_pattern *pattern, const uint8_t *line,
                                     size_t len, struct line_match *ret);

/* The question: the same signs as in a pattern and \r and \n; {channel} is the only field. */
struct line_poll {
    uint8_t bytes[LINE_PATTERN_BYTES_MAX];
    size_t len;
    size_t channel_at; /* {channel} goes before this byte */
    bool has_channel;
};

bool line_poll_compile(const char *text, struct line_poll *ret, struct line_fault *reterr);

/* A plain decimal, mantissa / 10^decimals: sign, digits and a point, nothing else; at most 15
 * digits and 6 decimals. False when it is not one. */
struct line_number {
    int64_t mantissa;
    int decimals;
};

bool line_number(const uint8_t *text, size_t len, struct line_number *ret);

#endif
