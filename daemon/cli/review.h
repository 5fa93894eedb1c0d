/* `trivet review`: a business day's records, shown and signed off. */
#ifndef CLI_REVIEW_H
#define CLI_REVIEW_H

#include "daemon/cli/cli.h"

int cli_review(struct cli *cli, int argc, char **argv);

#endif
