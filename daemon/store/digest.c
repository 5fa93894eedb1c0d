#include "digest.h"

#include "text.h"

#define LINE_MAX_LEN                                                                           \
    64 /* four numbers of at most 20 characters, 11, 5 and 5 with their separators */

void
digest_start(struct digest *digest)
{
    hash_start(&digest->hash);
    digest->used = 0;
}

void
digest_add(struct digest *digest, const struct reading *reading)
{
    char *at;

    if (digest->used + LINE_MAX_LEN > sizeof(digest->text)) {
        hash_add(&digest->hash, digest->text, digest->used);
        digest->used = 0;
    }
    at = digest->text + digest->used;
    at = text_int(at, reading->at_ms);
    *at++ = ',';
    at = text_int(at, reading->probe);
    *at++ = ',';
    if (!reading_is_bad(reading->quality))
        at = text_int(at, reading->temp_mC);
    *at++ = ',';
    at = text_int(at, reading->quality);
    *at++ = '\n';
    digest->used = (size_t)(at - digest->text);
}

void
digest_end(struct digest *digest, uint8_t ret[static HASH_SIZE])
{
    hash_add(&digest->hash, digest->text, digest->used);
    hash_end(&digest->hash, ret);
}
