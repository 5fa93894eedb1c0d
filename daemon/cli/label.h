/* `trivet label`: the labels of dated food, to be printed and put on it. */
#ifndef CLI_LABEL_H
#define CLI_LABEL_H

#include "daemon/cli/cli.h"

int cli_label(struct cli *cli, int argc, char **argv);

#endif
