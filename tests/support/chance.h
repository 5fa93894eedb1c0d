/* Chance that is the same everywhere: SplitMix64 (Steele, Lea, Flood 2014, public domain
 * algorithm). The seed is the caller's and moves on. */
#ifndef SUPPORT_CHANCE_H
#define SUPPORT_CHANCE_H

#include <stdint.h>

static inline uint64_t
next_random(uint64_t *seed)
{
    uint64_t z = (*seed += UINT64_C(0x9E3779B97F4A7C15));
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

/* Both ends included. */
static inline int64_t
between(uint64_t *seed, int64_t low, int64_t high)
{
    return low + (int64_t)(next_random(seed) % (uint64_t)(high - low + 1));
}

#endif
