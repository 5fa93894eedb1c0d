/* The last entries people made, shown before one is corrected. Reads the store beside the
 * daemon. */
#ifndef CLI_RECENT_H
#define CLI_RECENT_H

#include <jansson.h>

#include "daemon/cli/cli.h"

/* Writes them to cli->err, newest last; nothing when the records cannot be read here: the
 * number can still be typed. */
void recent_show(const struct cli *cli, const json_t *lists);

#endif
