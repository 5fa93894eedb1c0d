/* trivet plan-series: plans each attempt of recorded series from the earlier ones. */
#ifndef CLI_SERIES_H
#define CLI_SERIES_H

#include "daemon/cli/cli.h"

int cli_plan_series(struct cli *cli, int argc, char **argv);

#endif
