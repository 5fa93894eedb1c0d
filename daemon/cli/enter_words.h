/* The fixed words of entries as a person chooses them, and an entry told back. Private to
 * enter.c. */
#ifndef CLI_ENTER_WORDS_H
#define CLI_ENTER_WORDS_H

#include <stdbool.h>

#include "daemon/cli/choice.h"
#include "daemon/cli/enter.h"

/* Outcomes, dispositions, accept or reject; false when out of memory. */
bool words_choices(enum enter_kind kind, struct choices *ret);

#endif
