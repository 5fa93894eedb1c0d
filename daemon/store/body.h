/* The body of a record and what lies in it: its one canonical form, and the seal's data.
 *
 * Pure; any thread. */
#ifndef STORE_BODY_H
#define STORE_BODY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define BODY_KIND_MAX 31
#define BODY_ENVELOPE_MAX                                                                      \
    128 /* all of a body but its data, with the longest numbers and kind */
#define BODY_INT_MAX 9007199254740991 /* 2^53 - 1: what every JSON reader keeps exactly */

/* A plain lower-case word of at most BODY_KIND_MAX letters. */
bool body_kind_is_plain(const char *kind);

/* S3: the body around data_json into buf (RECORD_BODY_MAX + 1 bytes); returns its length, 0
 * when it does not fit. */
size_t body_write(char *buf, size_t size, uint64_t seq, int64_t at_ms, const char *kind,
                  const char *data_json);

/* True when body is exactly the canonical envelope of these columns; then where its data lies.
 */
bool body_read(const char *body, size_t len, uint64_t seq, int64_t at_ms, const char *kind,
               const char **ret_data, size_t *ret_len);

/* What a seal record says. */
struct seal {
    uint64_t count;
    int64_t from_ms, to_ms; /* readings with from_ms < at_ms <= to_ms */
    uint8_t digest[32];
};

#define SEAL_DATA_MAX 192

void seal_write(const struct seal *seal, char ret[static SEAL_DATA_MAX]);
/* False unless data is exactly what seal_write writes. */
bool seal_read(const char *data, size_t len, struct seal *ret);

#endif
