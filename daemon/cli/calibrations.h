/* `trivet calibrations`: the checks of thermometers so far; and what a failed one puts in
 * doubt. */
#ifndef CLI_CALIBRATIONS_H
#define CLI_CALIBRATIONS_H

#include <jansson.h>

#include "daemon/cli/cli.h"

/* argv[0] is the verb. Returns the exit code. */
int cli_calibrations(struct cli *cli, int argc, char **argv);

/* Adds "in_doubt" to each of these deviations that a failed check opened: batches, readings and
 * their span, from the records. A store that cannot be read is told on cli->err. */
void calibrations_add_doubt(const struct cli *cli, json_t *deviations);
/* Prints it for one of them, if there is any. */
void calibrations_show_doubt(const struct cli *cli, const json_t *deviation);

#endif
