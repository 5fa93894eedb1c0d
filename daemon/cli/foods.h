/* What became of each batch that a deviation affected, as a person types it or is asked for it.
 * Private to the entering of entries. */
#ifndef CLI_FOODS_H
#define CLI_FOODS_H

#include "daemon/cli/filling.h"

/* "3 discard 4 kg, 5 use": batch, disposition and perhaps how much, with commas between. */
bool foods_put(struct filling *filling, const struct enter_field *field, const char *text,
               char *why);

/* Asks batch by batch when the deviation named before affected several; else nothing. CLI_DONE
 * or the exit code after a message. */
int foods_ask(struct filling *filling, const struct enter_field *field);

/* ", batch 3 discard 4 kg, batch 5 use" */
void foods_echo(const struct cli *cli, const json_t *foods);

#endif
