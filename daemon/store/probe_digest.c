/* The digest of what some probes read: what a lesson was made from. See trivet/store.h. */
#include <assert.h>

#include "digest.h"
#include "merge.h"
#include "read.h"

static_assert(STORE_DIGEST_HEX == HASH_HEX_SIZE, "a digest in hexadecimal");

enum store_status
store_readings_digest(struct store_reader *reader, const uint16_t *probes, size_t count,
                      int64_t from_ms, int64_t to_ms, char ret[static STORE_DIGEST_HEX],
                      uint64_t *ret_count, struct store_error *reterr)
{
    enum store_status status = STORE_OK;
    uint8_t hash[HASH_SIZE];
    struct digest digest;
    struct reading reading;
    uint64_t found = 0;
    bool more;
    struct merge *merge = merge_new(&reader->db, probes, count, from_ms, to_ms, reterr);

    if (!merge)
        return reterr ? reterr->status : STORE_IO;
    digest_start(&digest);
    while ((status = merge_next(merge, &reading, &more, reterr)) == STORE_OK && more) {
        digest_add(&digest, &reading);
        found++;
    }
    merge_free(merge);
    digest_end(&digest, hash);
    if (status != STORE_OK)
        return status;
    hash_hex(hash, ret);
    *ret_count = found;
    return STORE_OK;
}
