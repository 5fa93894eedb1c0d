/* `trivet plan`: the plan in force, and having its file read again. */
#ifndef CLI_PLAN_VERB_H
#define CLI_PLAN_VERB_H

#include "daemon/cli/cli.h"

int cli_plan(struct cli *cli, int argc, char **argv);

#endif
