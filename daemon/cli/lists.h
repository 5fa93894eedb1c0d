/* What the daemon's "lists" answer names, as choices for a person. */
#ifndef CLI_LISTS_H
#define CLI_LISTS_H

#include <stdbool.h>
#include <stdint.h>

#include <jansson.h>

#include "daemon/cli/choice.h"

/* A text or number of an object, "" or 0 when it is not there. Borrowed. */
const char *lists_text(const json_t *object, const char *key);
int64_t lists_int(const json_t *object, const char *key);

/* The element of an array whose key has that text, or that number; NULL. Borrowed. */
const json_t *lists_by_text(const json_t *array, const char *key, const char *text);
const json_t *lists_by_number(const json_t *array, int64_t number);

/* True when a limit of the plan is written in Fahrenheit: people there may think in either
 * unit. */
bool lists_both_units(const json_t *lists);

/* Fill empty choices; false when out of memory. */
bool lists_people(const json_t *lists, struct choices *ret);
bool lists_products(const json_t *lists, struct choices *ret);
bool lists_places(const json_t *lists, struct choices *ret);
bool lists_thermometers(const json_t *lists, struct choices *ret);
/* Food probes that are not in a batch. */
bool lists_free_probes(const json_t *lists, struct choices *ret);
/* Every probe. */
bool lists_probes(const json_t *lists, struct choices *ret);
bool lists_batches(const json_t *lists, struct choices *ret); /* running ones */
/* Batches with a verdict that waits for a person, running or ended. */
bool lists_undecided(const json_t *lists, struct choices *ret);
/* Open deviations; those in the state ("action", "verify") first, as they are the likely ones.
 */
bool lists_sounding(const json_t *lists, struct choices *ret); /* not heard yet first */
bool lists_deviations(const json_t *lists, const char *state, struct choices *ret);
/* Corrective actions that the plan has ready for a deviation object (NULL: none). */
bool lists_prepared(const json_t *deviation, struct choices *ret);
/* Steps of a batch or product object. */
bool lists_steps(const json_t *with_steps, struct choices *ret);

#endif
