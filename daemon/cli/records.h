/* `trivet export`, `trivet chain`, `trivet replay`: what reads the store itself, with or
 * without the daemon. */
#ifndef CLI_RECORDS_H
#define CLI_RECORDS_H

#include "daemon/cli/cli.h"

int cli_export(struct cli *cli, int argc, char **argv);
int cli_chain(struct cli *cli, int argc, char **argv);
int cli_replay(struct cli *cli, int argc, char **argv);

#endif
