/* `trivet check`: whether the installed Trivet is well, part by part. */
#ifndef CLI_CHECK_H
#define CLI_CHECK_H

#include "daemon/cli/cli.h"

int cli_check(struct cli *cli, int argc, char **argv);

#endif
