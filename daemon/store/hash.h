/* SHA-256 for the room: the one place that names the library, so that another can be put behind
 * it.
 *
 * Pure; any thread, one struct hash each. */
#ifndef STORE_HASH_H
#define STORE_HASH_H

#include <stddef.h>
#include <stdint.h>

#include <sodium/crypto_hash_sha256.h>

#define HASH_SIZE     32
#define HASH_HEX_SIZE 65 /* with the NUL */

struct hash {
    crypto_hash_sha256_state state;
};

static inline void
hash_start(struct hash *hash)
{
    (void)crypto_hash_sha256_init(&hash->state); /* always 0 */
}

static inline void
hash_add(struct hash *hash, const void *bytes, size_t len)
{
    (void)crypto_hash_sha256_update(&hash->state, bytes, len); /* always 0 */
}

static inline void
hash_end(struct hash *hash, uint8_t ret[static HASH_SIZE])
{
    (void)crypto_hash_sha256_final(&hash->state, ret); /* always 0 */
}

/* S4: the hash of a record. */
static inline void
hash_chain(const uint8_t before[static HASH_SIZE], const char *body, size_t len,
           uint8_t ret[static HASH_SIZE])
{
    struct hash hash;

    hash_start(&hash);
    hash_add(&hash, before, HASH_SIZE);
    hash_add(&hash, body, len);
    hash_end(&hash, ret);
}

/* Lower-case hexadecimal with NUL. */
static inline void
hash_hex(const uint8_t hash[static HASH_SIZE], char ret[static HASH_HEX_SIZE])
{
    static const char digits[] = "0123456789abcdef";

    for (size_t i = 0; i < HASH_SIZE; i++) {
        ret[2 * i] = digits[hash[i] >> 4];
        ret[2 * i + 1] = digits[hash[i] & 15];
    }
    ret[2 * HASH_SIZE] = '\0';
}

#endif
