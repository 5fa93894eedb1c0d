/* `trivet calibrate`: a thermometer checked against known temperatures. */
#ifndef CLI_CALIBRATE_H
#define CLI_CALIBRATE_H

#include "daemon/cli/cli.h"

/* argv[0] is the verb. Returns the exit code. */
int cli_calibrate(struct cli *cli, int argc, char **argv);

#endif
