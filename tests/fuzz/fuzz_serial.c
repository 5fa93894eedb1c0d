/* Any pattern and any line: compiling ends in a pattern or in a fault within the text; matching
 * stays within the line, finds only what stands there, and never takes a number that is not
 * one. The input is a pattern, a newline, a question, a newline, a line. Corpus:
 * tests/fuzz/corpus/serial. */
#include <assert.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "trivet/line_pattern.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* The text up to a newline, NUL-terminated; *at moves behind it. */
static void
take(const uint8_t *data, size_t size, size_t *at, char *ret, size_t room)
{
    size_t len = 0;
    while (*at < size && data[*at] != '\n' && len < room - 1)
        ret[len++] = (char)data[(*at)++];
    if (*at < size && data[*at] == '\n')
        (*at)++;
    ret[len] = '\0';
}

static void
check_number(const uint8_t *text, size_t len)
{
    struct line_number number;
    char copy[LINE_BYTES_MAX + 1], again[64];
    if (!line_number(text, len, &number))
        return;
    assert(number.decimals >= 0 && number.decimals <= 6);
    memcpy(copy, text, len);
    copy[len] = '\0';
    /* 15 digits are what a double holds for certain, so it must agree to the last of them. */
    double power = 1;
    for (int i = 0; i < number.decimals; i++)
        power *= 10;
    (void)snprintf(again, sizeof again, "%.15g", strtod(copy, NULL));
    char ours[64];
    (void)snprintf(ours, sizeof ours, "%.15g", (double)number.mantissa / power);
    assert(strtod(again, NULL) == strtod(ours, NULL));
}

static void
check_slice(const uint8_t *line, size_t len, struct line_slice slice)
{
    assert((size_t)slice.at + slice.len <= len);
    for (size_t i = slice.at; i < (size_t)slice.at + slice.len; i++)
        assert(line[i] != ' ' && line[i] != '\t');
}

static void
check_match(const struct line_pattern *pattern, const uint8_t *line, size_t len)
{
    struct line_match match;
    memset(&match, 0, sizeof match);
    if (line_pattern_match(pattern, line, len, &match) != LINE_MATCHES)
        return;
    assert(len <= LINE_BYTES_MAX);
    size_t before = 0;
    for (size_t i = 0; i < pattern->value_count; i++) {
        check_slice(line, len, match.values[i]);
        assert(match.values[i].at >= before); /* in the line's order, none twice */
        before = (size_t)match.values[i].at + match.values[i].len;
        check_number(line + match.values[i].at, match.values[i].len);
    }
    check_slice(line, len, match.unit);
    check_slice(line, len, match.channel);
    check_slice(line, len, match.status);
    assert(pattern->has_unit || match.unit.len == 0);
    assert(pattern->has_channel || match.channel.len == 0);
    assert(pattern->has_status || match.status.len == 0);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char pattern_text[400], poll_text[400];
    struct line_pattern pattern;
    struct line_poll poll;
    struct line_fault fault = {0, NULL};
    size_t at = 0;
    take(data, size, &at, pattern_text, sizeof pattern_text);
    take(data, size, &at, poll_text, sizeof poll_text);
    if (line_poll_compile(poll_text, &poll, &fault))
        assert(poll.len <= LINE_PATTERN_BYTES_MAX && poll.channel_at <= poll.len);
    else
        assert(fault.at <= strlen(poll_text) && fault.text && fault.text[0]);
    if (!line_pattern_compile(pattern_text, &pattern, &fault)) {
        assert(fault.at <= strlen(pattern_text) && fault.text && fault.text[0]);
        return 0;
    }
    assert(pattern.part_count <= LINE_PARTS_MAX && pattern.value_count >= 1);
    check_number(data + at, size - at <= LINE_BYTES_MAX ? size - at : 0);
    /* A copy of its own length, so that a byte read beyond it is seen. */
    uint8_t *line = malloc(size - at + 1);
    if (line == NULL)
        return 0;
    memcpy(line, data + at, size - at);
    check_match(&pattern, line, size - at);
    free(line);
    return 0;
}
