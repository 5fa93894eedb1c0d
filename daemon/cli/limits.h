/* trivet limits: what published limits there are. */
#ifndef CLI_LIMITS_H
#define CLI_LIMITS_H

#include "daemon/cli/cli.h"

int cli_limits(struct cli *cli, int argc, char **argv);

#endif
