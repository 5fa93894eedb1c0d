/* PINs on their way from a person to the daemon: never an argument, never shown. */
#ifndef CLI_PIN_H
#define CLI_PIN_H

#include "daemon/cli/cli.h"

#define CLI_PIN_MAX 64

/* The next line of --pin-fd, else asked for at the terminal without an echo. False when there
 * is neither. */
bool pin_read(const struct cli *cli, const char *question, char ret[CLI_PIN_MAX]);

/* `trivet pin`: sets one. */
int cli_pin(struct cli *cli, int argc, char **argv);

#endif
