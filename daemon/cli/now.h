/* `trivet now`, `trivet deviations`, `trivet where`: what the daemon knows, on one screen. */
#ifndef CLI_NOW_H
#define CLI_NOW_H

#include <jansson.h>

#include "daemon/cli/cli.h"

int cli_now(struct cli *cli, int argc, char **argv);
int cli_deviations(struct cli *cli, int argc, char **argv);
int cli_where(struct cli *cli, int argc, char **argv);

/* Why the plan file as it was last read is not in force; nothing when it is. */
void now_plan_refused(const struct cli *cli, const json_t *now);
/* Writes the overview of a "now" object; at most 80 columns. For tests. */
void now_show(const struct cli *cli, const json_t *now);

#endif
