/* The JSON writer. See the contract in the header. */
#include "trivet/json_out.h"

#include <assert.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define JSON_INT_MAX INT64_C(9007199254740991) /* 2^53 - 1, RFC 8785 section 3.2.2.3 */

void
out_start(struct json_out *out, char *buf, size_t size, bool ordered)
{
    memset(out, 0, sizeof *out);
    out->buf = buf;
    out->size = size;
    out->ordered = ordered;
}

static void
put(struct json_out *out, const char *bytes, size_t len)
{
    if (out->overflow || out->size <= out->len || out->size - out->len <= len) {
        out->overflow = true;
        return;
    }
    memcpy(out->buf + out->len, bytes, len);
    out->len += len;
}

static void
put_char(struct json_out *out, char c)
{
    put(out, &c, 1);
}

/* Length of the valid UTF-8 sequence at s, 0 when there is none (RFC 3629: no surrogates, no
 * overlong forms, nothing above U+10FFFF). */
static size_t
utf8_len(const unsigned char *s)
{
    if (s[0] < 0x80)
        return 1;
    if (s[0] >= 0xC2 && s[0] <= 0xDF)
        return (s[1] & 0xC0) == 0x80 ? 2 : 0;
    if (s[0] >= 0xE0 && s[0] <= 0xEF) {
        unsigned char low = s[0] == 0xE0 ? 0xA0 : 0x80;
        unsigned char high = s[0] == 0xED ? 0x9F : 0xBF;
        return s[1] >= low && s[1] <= high && (s[2] & 0xC0) == 0x80 ? 3 : 0;
    }
    if (s[0] >= 0xF0 && s[0] <= 0xF4) {
        unsigned char low = s[0] == 0xF0 ? 0x90 : 0x80;
        unsigned char high = s[0] == 0xF4 ? 0x8F : 0xBF;
        return s[1] >= low && s[1] <= high && (s[2] & 0xC0) == 0x80 && (s[3] & 0xC0) == 0x80
                   ? 4
                   : 0;
    }
    return 0;
}

static void
put_escaped(struct json_out *out, unsigned char c)
{
    static const char short_form[] = "\bb\tt\nn\ff\rr\"\"\\\\";
    for (size_t i = 0; i + 1 < sizeof short_form; i += 2) {
        if ((unsigned char)short_form[i] == c) {
            put_char(out, '\\');
            put_char(out, short_form[i + 1]);
            return;
        }
    }
    char text[8];
    (void)snprintf(text, sizeof text, "\\u%04x", c);
    put(out, text, 6);
}

static void
put_string(struct json_out *out, const char *text)
{
    put_char(out, '"');
    const unsigned char *s = (const unsigned char *)text;
    while (*s != '\0') {
        size_t len = utf8_len(s);
        if (len == 0) {
            put(out, "\xEF\xBF\xBD", 3);
            s++;
        } else if (len == 1 && (*s < 0x20 || *s == '"' || *s == '\\')) {
            put_escaped(out, *s++);
        } else {
            put(out, (const char *)s, len);
            s += len;
        }
    }
    put_char(out, '"');
}

/* The comma before a member and its key. RFC 8785 sorts keys by UTF-16 code units; ours are
 * ASCII, for which strcmp is the same order. */
static void
put_key(struct json_out *out, const char *key)
{
    if (out->level[out->depth].any)
        put_char(out, ',');
    out->level[out->depth].any = true;
    if (key == NULL)
        return;
    char *last = out->level[out->depth].last_key;
    assert(strlen(key) < JSON_KEY_MAX);
    assert(!out->ordered || strcmp(last, key) < 0);
    memcpy(last, key, strlen(key) + 1);
    put_string(out, key);
    put_char(out, ':');
}

static void
open_level(struct json_out *out, const char *key, char bracket)
{
    put_key(out, key);
    put_char(out, bracket);
    assert(out->depth + 1 < JSON_DEPTH_MAX);
    out->depth++;
    out->level[out->depth].any = false;
    out->level[out->depth].last_key[0] = '\0';
}

void
out_object(struct json_out *out, const char *key)
{
    open_level(out, key, '{');
}

void
out_array(struct json_out *out, const char *key)
{
    open_level(out, key, '[');
}

void
out_object_end(struct json_out *out)
{
    assert(out->depth > 0);
    out->depth--;
    put_char(out, '}');
}

void
out_array_end(struct json_out *out)
{
    assert(out->depth > 0);
    out->depth--;
    put_char(out, ']');
}

void
out_int(struct json_out *out, const char *key, int64_t value)
{
    assert(value >= -JSON_INT_MAX && value <= JSON_INT_MAX);
    char text[24];
    int len = snprintf(text, sizeof text, "%" PRId64, value);
    put_key(out, key);
    put(out, text, (size_t)len);
}

void
out_bool(struct json_out *out, const char *key, bool value)
{
    put_key(out, key);
    put(out, value ? "true" : "false", value ? 4 : 5);
}

void
out_null(struct json_out *out, const char *key)
{
    put_key(out, key);
    put(out, "null", 4);
}

void
out_text(struct json_out *out, const char *key, const char *text)
{
    put_key(out, key);
    put_string(out, text);
}

void
out_raw(struct json_out *out, const char *key, const char *json)
{
    put_key(out, key);
    put(out, json, strlen(json));
}

bool
out_done(struct json_out *out)
{
    assert(out->depth == 0);
    if (out->overflow)
        return false;
    out->buf[out->len] = '\0'; /* put() always leaves room for it */
    return true;
}

/* The code point of a valid sequence of the given length. */
static uint32_t
code_point(const unsigned char *s, size_t len)
{
    switch (len) {
    case 1:
        return s[0];
    case 2:
        return (s[0] & 0x1Fu) << 6 | (s[1] & 0x3Fu);
    case 3:
        return (s[0] & 0x0Fu) << 12 | (s[1] & 0x3Fu) << 6 | (s[2] & 0x3Fu);
    default:
        return (s[0] & 0x07u) << 18 | (s[1] & 0x3Fu) << 12 | (s[2] & 0x3Fu) << 6 |
               (s[3] & 0x3Fu);
    }
}

static bool
point_is_clean(uint32_t point, bool multiline)
{
    if (point == '\n')
        return multiline;
    if (point < 0x20 || (point >= 0x7F && point < 0xA0))
        return false;
    /* Line and paragraph separators, and everything that changes the direction of what follows.
     */
    if (point == 0x2028 || point == 0x2029 || point == 0x061C || point == 0x200E ||
        point == 0x200F)
        return false;
    if ((point >= 0x202A && point <= 0x202E) || (point >= 0x2066 && point <= 0x2069))
        return false;
    if (point == 0xFEFF || (point >= 0xFDD0 && point <= 0xFDEF) || (point & 0xFFFE) == 0xFFFE)
        return false;
    return true;
}

bool
text_is_clean(const char *text, size_t max, bool multiline)
{
    const unsigned char *s = (const unsigned char *)text;
    size_t used = 0;
    while (s[used] != '\0') {
        size_t len = utf8_len(s + used);
        if (len == 0 || used + len > max ||
            !point_is_clean(code_point(s + used, len), multiline))
            return false;
        used += len;
    }
    return true;
}
