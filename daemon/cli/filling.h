/* One entry being put together: what was chosen so far, and the request for the daemon. Private
 * to the entering of entries.
 *
 * The functions that put a value check it first; on false, why (FILLING_WHY_MAX bytes) says
 * what to write. */
#ifndef CLI_FILLING_H
#define CLI_FILLING_H

#include <stdbool.h>

#include <jansson.h>

#include "daemon/cli/choice.h"
#include "daemon/cli/enter.h"

#define FILLING_WHY_MAX 600

struct filling {
    const struct cli *cli;
    const struct enter_verb *verb;
    const json_t *lists;
    json_t *request;
    bool dialog; /* a person is being asked, so what may be left out is offered too */
    /* What was chosen for each field, as its key; "" = nothing. */
    char chosen[ENTER_FIELDS_MAX][CHOICE_KEY_MAX];
};

/* What was chosen for the field of that key, "" = nothing (or no such field). */
const char *filling_chosen(const struct filling *filling, const char *key);

/* The object whose steps a step is one of: the batch named before, else the product; NULL when
 * neither is in the lists. */
const json_t *filling_steps(const struct filling *filling);

/* Takes over value; NULL is refused as being out of memory. */
bool filling_put(struct filling *filling, const char *key, json_t *value, char *why);
bool filling_put_choice(struct filling *filling, const struct enter_field *field,
                        const struct choice *choice, char *why);
bool filling_put_probes(struct filling *filling, const struct enter_field *field,
                        const struct choices *choices, const bool *picked, char *why);
bool filling_put_text(struct filling *filling, const struct enter_field *field,
                      const char *text, char *why);
/* A text, an instant, an amount or the number of a record, as its field asks. */
bool filling_put_typed(struct filling *filling, const struct enter_field *field,
                       const char *text, char *why);
/* A batch or deviation that is named by its number: whether there is such a one, and what
 * happened to it, the daemon knows better than a list of what is open. */
bool filling_put_number(struct filling *filling, const struct enter_field *field,
                        const char *text, char *why);

#endif
