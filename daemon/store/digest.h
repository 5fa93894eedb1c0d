/* The digest of a run of readings (S7): SHA-256 over one line each. */
#ifndef STORE_DIGEST_H
#define STORE_DIGEST_H

#include "hash.h"
#include "trivet/reading.h"

struct digest {
    struct hash hash;
    size_t used;
    char text[8192]; /* lines not yet hashed: one call for many */
};

void digest_start(struct digest *digest);
/* In the order of (at_ms, probe). */
void digest_add(struct digest *digest, const struct reading *reading);
void digest_end(struct digest *digest, uint8_t ret[static HASH_SIZE]);

#endif
