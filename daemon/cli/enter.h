/* Entries: what each verb needs, how it is read from arguments or asked for, and how it is
 * sent. */
#ifndef CLI_ENTER_H
#define CLI_ENTER_H

#include <stdbool.h>
#include <stddef.h>

#include <jansson.h>

#include "daemon/cli/cli.h"
#include "trivet/entry.h"

enum enter_kind {
    ENTER_WHO,
    ENTER_PRODUCT,
    ENTER_STEP, /* of the product or batch named before it */
    ENTER_PROBES,
    ENTER_PLACE,
    ENTER_BATCH,
    ENTER_DEVIATION,
    ENTER_THERMOMETER,
    ENTER_OUTCOME,
    ENTER_DISPOSITION,
    ENTER_WHY,      /* a place is quiet */
    ENTER_PREPARED, /* a corrective action of the plan: it fills other fields, and is not sent
                     */
    ENTER_ACCEPT,
    ENTER_TEMP,
    ENTER_MASS,
    ENTER_LENGTH,
    ENTER_WHEN,
    ENTER_SPAN,   /* of time */
    ENTER_FLAG,   /* said or not: "yes" */
    ENTER_NUMBER, /* of a record */
    ENTER_FOODS,  /* food by batch */
    ENTER_TEXT,
    ENTER_LINE, /* a short text, for PLAN_NAME_MAX bytes */
};

enum enter_need {
    ENTER_NEEDED,  /* asked for, an error without a person */
    ENTER_OFFERED, /* asked for, may be left out */
    ENTER_SILENT,  /* only when given */
};

struct enter_field {
    const char *key; /* in the request; also the long option */
    char letter;     /* the short option, 0 = none */
    enum enter_kind kind;
    enum enter_need need;
    const char *question;
    const char *help;
    /* Needed only when the field of that key has that value; else it stays silent. NULL =
     * always. */
    const char *when_key, *when_value;
};

#define ENTER_FIELDS_MAX 13

struct enter_verb {
    const char *name;
    enum entry_kind kind;
    const char *does; /* one line for `trivet help` */
    const char *example;
    size_t positional; /* that many of the first fields may be given without their option */
    struct enter_field
        fields[ENTER_FIELDS_MAX]; /* in the order they are asked; key NULL ends them */
};

/* NULL when it is no entry's verb. */
const struct enter_verb *enter_verb(const char *name);
size_t enter_verb_count(void);
const struct enter_verb *enter_verb_at(size_t index);

/* given: what the command line says for each field, NULL = nothing; several probes in one text,
 * with commas. Fills an object for the daemon, asking for what is missing if cli->may_ask;
 * CLI_DONE or the exit code after a message. Reads no socket. */
int enter_fill(const struct cli *cli, const struct enter_verb *verb, const char *const *given,
               const json_t *lists, json_t *request);

/* The whole subcommand. argv[0] is the verb. */
int enter_run(struct cli *cli, const struct enter_verb *verb, int argc, char **argv);

/* What was recorded, in one line for people. */
void enter_echo(const struct cli *cli, const struct enter_verb *verb, const json_t *request,
                const json_t *lists, const json_t *answer);

#endif
