/* trivet judge: a recorded trace judged by a published limit, or by a pasteurisation value. */
#ifndef CLI_JUDGE_H
#define CLI_JUDGE_H

#include "daemon/cli/cli.h"

int cli_judge(struct cli *cli, int argc, char **argv);

#endif
