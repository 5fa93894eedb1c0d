/* What `trivet help` says, and what an unknown verb may have meant. */
#ifndef CLI_HELP_H
#define CLI_HELP_H

#include "daemon/cli/cli.h"

/* The overview, or the page of one verb, on cli->out. CLI_USAGE when there is no such verb. */
int help_all(const struct cli *cli);
int help_verb(const struct cli *cli, const char *verb);

/* An example of a verb that takes arguments, on cli->err; nothing for one that takes none. */
void help_used_as(const struct cli *cli, const char *verb);

/* The verb that a mistyped or foreign word most likely means; NULL when none is near. */
const char *help_nearest(const char *word);

#endif
