/* The findings of `trivet find` in words: the lines for a plan, and why another reading of the
 * registers stands beside the best. Writes to streams; keeps nothing. */
#ifndef CLI_FIND_WORDS_H
#define CLI_FIND_WORDS_H

#include <stddef.h>
#include <stdio.h>

#include "daemon/cli/find_guess.h"
#include "trivet/plan.h"

struct find_naming {
    char id[PLAN_ID_MAX + 1];
    char name[PLAN_NAME_MAX + 1];
    enum probe_kind kind;
};

/* The sections buses and probes with the new bus and the new probe, as the plan file wants
 * them.
 */
void find_words_plan(FILE *to, const struct plan_bus *bus, const struct find_guess *guess,
                     const struct find_naming *naming);

/* "int16, 0.1 °C per count" */
char *find_words_decoding(char *buf, size_t size, const struct find_guess *guess);

/* A sentence about the other guess, seen from the best. */
char *find_words_tie(char *buf, size_t size, const struct find_guess *best,
                     const struct find_guess *other);

const char *find_words_type(enum register_type type);
const char *find_words_order(enum byte_order order);
const char *find_words_driver(enum bus_driver driver);
const char *find_words_parity(char parity);
const char *find_words_tie_word(enum find_tie tie);

/* Shortest exact decimal of millionths: "0.1", "-273.15". */
char *find_words_micro(char *buf, size_t size, int64_t micro);

#endif
