/* What registers mean: from what they held while the probe was in a hand and then in ice water
 * to the ways of reading them that make this a temperature.
 *
 * Pure: no I/O, no clock, no allocation. Arithmetic is the daemon's own (register_reader.h), in
 * whole numbers. A guess is never more than that: a person compares it with a thermometer. */
#ifndef CLI_FIND_GUESS_H
#define CLI_FIND_GUESS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/plan.h"

#define FIND_ROUNDS_MAX 16
/* Neighbouring registers that one reply gave: the two of a value come from the same reply. */
#define FIND_BLOCK_MAX 16

enum find_phase { FIND_HAND, FIND_ICE, FIND_PHASES };

struct find_block {
    uint8_t unit, function;
    uint16_t first, count; /* count 1 to FIND_BLOCK_MAX */
    bool seam;             /* two registers that two other blocks have as well */
    size_t rounds[FIND_PHASES];
    uint16_t word[FIND_PHASES][FIND_ROUNDS_MAX][FIND_BLOCK_MAX];
};

/* One way of reading one place. */
struct find_guess {
    uint8_t unit, function;
    uint16_t reg;
    enum register_type type;
    enum byte_order order;
    enum temp_unit reads;
    const char *sensor; /* a plan's word, and scale and offset are in ohm; NULL: in degrees */
    int64_t scale_micro, offset_micro;
    int32_t hand_mC, ice_mC; /* medians, at the end of each phase */
    int32_t doubt;           /* 0 = nothing speaks against it; see find_guess.c */
};

/* Why another guess stands beside the best one. */
enum find_tie {
    FIND_TIE_SIGN,     /* the same registers with or without a sign */
    FIND_TIE_WIDE,     /* the same number, as half of a longer one */
    FIND_TIE_FUNCTION, /* the same register by the other function */
    FIND_TIE_UNIT,     /* the same register of another unit */
    FIND_TIE_ORDER,    /* the same large part, another small part */
    FIND_TIE_SCALE,    /* the same number, other degrees */
    FIND_TIE_COPY,     /* another place that shows the same temperature */
    FIND_TIE_LESS,     /* another place or way that fits less well */
    FIND_TIES
};

/* All ways of reading the blocks that fit, best first, at most max; a full table keeps the
 * best. Returns their number. */
size_t find_guesses(const struct find_block *blocks, size_t count, struct find_guess *ret,
                    size_t max);

enum find_tie find_tie(const struct find_guess *best, const struct find_guess *other);

/* True when it matters which of the two is the right one: another temperature, now or later. */
bool find_tie_matters(enum find_tie tie);

/* True when the other matters and comes so near that a person has to look. */
bool find_tie_close(const struct find_guess *best, const struct find_guess *other);

/* True when no guess that matters comes near the first one. */
bool find_sure(const struct find_guess *guesses, size_t count);

/* A register that moved between the phases by more than it jitters. */
struct find_move {
    uint8_t unit, function;
    uint16_t reg;
    uint16_t hand, ice; /* middle value at the end of each phase */
};

/* The registers that moved, in order; seams are passed over. Returns their number, at most max.
 */
size_t find_moves(const struct find_block *blocks, size_t count, struct find_move *ret,
                  size_t max);

/* The guess as a plan's probe: decoding and place, no fault values, every temperature
 * plausible. */
void find_guess_probe(const struct find_guess *guess, struct plan_probe *ret);

#endif
