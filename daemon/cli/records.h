/* `trivet export`, `trivet chain`, `trivet replay`: what reads the store itself, with or
 * without the daemon. */
#ifndef CLI_RECORDS_H
#define CLI_RECORDS_H

#include "daemon/cli/cli.h"

int cli_export(struct cli *cli, int argc, char **argv);
int cli_chain(struct cli *cli, int argc, char **argv);
int cli_replay(struct cli *cli, int argc, char **argv);

#define RECORDS_DIRECTORY_MAX 4096

/* The store's directory: as said with --store, or as the daemon says. CLI_DONE or after a
 * message. */
int records_find_store(const struct cli *cli, char ret[RECORDS_DIRECTORY_MAX]);

#endif
