/* Reads a subcommand's arguments: its own options, those every subcommand has (--json, --quiet,
 * --socket, --help), and words without an option. Not reentrant: getopt is not. */
#ifndef CLI_OPTIONS_H
#define CLI_OPTIONS_H

#include <stddef.h>

#include "daemon/cli/cli.h"

#define OPTIONS_MAX 24
#define OPTION_FLAG '\x7F'

struct option_spec {
    const char *name; /* long, without the dashes */
    char letter;      /* 0 = none; OPTION_FLAG = none, and it takes no value */
};

struct options_read {
    const char *value[OPTIONS_MAX]; /* by index of the spec; NULL = not given */
    const char *word[OPTIONS_MAX];  /* what came without an option */
    size_t word_count;
    bool help;
};

/* All options but flags take a value; a flag that is given has the value "yes". argv[0] is the
 * verb. CLI_DONE or CLI_USAGE after a message. A word such as -18.5 is a number, no option.
 * argv's strings must outlive the result. */
int options_read(struct cli *cli, int argc, char **argv, const struct option_spec *specs,
                 size_t count, struct options_read *ret);

#endif
