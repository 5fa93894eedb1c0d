/* Writes canonical JSON (RFC 8785 as far as records need it): keys in ascending order, integers
 * only, minimal escapes, no white space. The writer asserts the order of keys, so a record that
 * would not be canonical cannot be written. Also used, unordered, for what the page and the
 * command print.
 *
 * No allocation: writes into a caller's buffer and remembers an overflow. Any thread. */
#ifndef TRIVET_JSON_OUT_H
#define TRIVET_JSON_OUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define JSON_DEPTH_MAX 12
#define JSON_KEY_MAX   32

struct json_out {
    char *buf;
    size_t size, len;
    bool overflow; /* the text did not fit; nothing in buf may be used */
    bool ordered;  /* assert ascending keys */
    unsigned depth;
    struct {
        bool any;
        char last_key[JSON_KEY_MAX];
    } level[JSON_DEPTH_MAX];
};

void out_start(struct json_out *out, char *buf, size_t size, bool ordered);

/* key is NULL inside an array and for the outermost value. */
void out_object(struct json_out *out, const char *key);
void out_object_end(struct json_out *out);
void out_array(struct json_out *out, const char *key);
void out_array_end(struct json_out *out);
void out_int(struct json_out *out, const char *key, int64_t value); /* |value| <= 2^53 - 1 */
void out_bool(struct json_out *out, const char *key, bool value);
void out_null(struct json_out *out, const char *key);
/* UTF-8; invalid sequences become U+FFFD so that the text is always valid JSON. */
void out_text(struct json_out *out, const char *key, const char *text);
/* A value that is already JSON (for a canonical writer: already canonical). */
void out_raw(struct json_out *out, const char *key, const char *json);

/* Ends the text with NUL. False on overflow. */
bool out_done(struct json_out *out) __attribute__((warn_unused_result));

/* True when text is valid UTF-8 of at most max bytes without control characters (newline
 * allowed when multiline), direction overrides or non-characters: the only text that enters a
 * record. */
bool text_is_clean(const char *text, size_t max, bool multiline);

#endif
