#include "body.h"

#include <assert.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hash.h"

bool
body_kind_is_plain(const char *kind)
{
    size_t len = strspn(kind, "abcdefghijklmnopqrstuvwxyz");

    return len > 0 && len <= BODY_KIND_MAX && kind[len] == '\0';
}

static size_t
write_head(char *buf, size_t size, int64_t at_ms)
{
    return (size_t)snprintf(buf, size, "{\"at_ms\":%" PRId64 ",\"data\":", at_ms);
}

static size_t
write_tail(char *buf, size_t size, uint64_t seq, const char *kind)
{
    return (size_t)snprintf(buf, size, ",\"kind\":\"%s\",\"seq\":%" PRIu64 "}", kind, seq);
}

size_t
body_write(char *buf, size_t size, uint64_t seq, int64_t at_ms, const char *kind,
           const char *data_json)
{
    size_t data_len = strlen(data_json);
    size_t at = 0;

    assert(body_kind_is_plain(kind));
    if (data_len + BODY_ENVELOPE_MAX + 1 > size)
        return 0;
    at += write_head(buf, size, at_ms);
    memcpy(buf + at, data_json, data_len + 1);
    at += data_len;
    at += write_tail(buf + at, size - at, seq, kind);
    return at;
}

bool
body_read(const char *body, size_t len, uint64_t seq, int64_t at_ms, const char *kind,
          const char **ret_data, size_t *ret_len)
{
    char head[BODY_ENVELOPE_MAX], tail[BODY_ENVELOPE_MAX];
    size_t head_len, tail_len;

    if (!body_kind_is_plain(kind))
        return false;
    head_len = write_head(head, sizeof(head), at_ms);
    tail_len = write_tail(tail, sizeof(tail), seq, kind);
    if (len < head_len + tail_len + 2 || memcmp(body, head, head_len) != 0 ||
        memcmp(body + len - tail_len, tail, tail_len) != 0)
        return false;
    /* The data is an object. Nothing more is asked of it here: the chain fixes it byte for
     * byte. */
    if (body[head_len] != '{' || body[len - tail_len - 1] != '}' || memchr(body, '\0', len))
        return false;
    *ret_data = body + head_len;
    *ret_len = len - head_len - tail_len;
    return true;
}

void
seal_write(const struct seal *seal, char ret[static SEAL_DATA_MAX])
{
    char hex[HASH_HEX_SIZE];

    hash_hex(seal->digest, hex);
    (void)snprintf(ret, SEAL_DATA_MAX,
                   "{\"count\":%" PRIu64 ",\"digest\":\"%s\",\"from_ms\":%" PRId64
                   ",\"to_ms\":%" PRId64 "}",
                   seal->count, hex, seal->from_ms, seal->to_ms);
}

/* Reads a whole number after a fixed piece of text and moves on. False when either is not
 * there. */
static bool
take_int(const char **at, const char *before, int64_t *ret)
{
    size_t len = strlen(before);
    char *end;

    if (strncmp(*at, before, len) != 0)
        return false;
    *ret = strtoll(*at + len, &end, 10);
    if (end == *at + len)
        return false;
    *at = end;
    return true;
}

static int
hex_digit(char digit)
{
    if (digit >= '0' && digit <= '9')
        return digit - '0';
    return digit >= 'a' && digit <= 'f' ? digit - 'a' + 10 : -1;
}

static bool
take_digest(const char **at, const char *before, uint8_t ret[static HASH_SIZE])
{
    size_t len = strlen(before);

    if (strncmp(*at, before, len) != 0)
        return false;
    *at += len;
    for (size_t i = 0; i < HASH_SIZE; i++) {
        int high = hex_digit((*at)[0]);
        int low = high < 0 ? -1 : hex_digit((*at)[1]);
        if (low < 0)
            return false;
        ret[i] = (uint8_t)(high << 4 | low);
        *at += 2;
    }
    return true;
}

bool
seal_read(const char *data, size_t len, struct seal *ret)
{
    char text[SEAL_DATA_MAX], again[SEAL_DATA_MAX];
    const char *at = text;
    int64_t count;

    if (len >= sizeof(text))
        return false;
    memcpy(text, data, len);
    text[len] = '\0';
    if (!take_int(&at, "{\"count\":", &count) || count < 1 ||
        !take_digest(&at, ",\"digest\":\"", ret->digest) ||
        !take_int(&at, "\",\"from_ms\":", &ret->from_ms) ||
        !take_int(&at, ",\"to_ms\":", &ret->to_ms) || ret->from_ms >= ret->to_ms)
        return false;
    ret->count = (uint64_t)count;
    /* Another spelling of the same numbers is not the seal that was written. */
    seal_write(ret, again);
    return strcmp(text, again) == 0;
}
