/* `trivet find`: a guided search for a probe on a Modbus bus. */
#ifndef CLI_FIND_H
#define CLI_FIND_H

#include "daemon/cli/cli.h"

/* argv[0] is the verb. Prints plan lines on cli->out; talks on cli->err. Returns the exit code.
 */
int cli_find(struct cli *cli, int argc, char **argv);

#endif
