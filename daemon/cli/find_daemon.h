/* Whether the running daemon has a bus that is about to be searched. */
#ifndef CLI_FIND_DAEMON_H
#define CLI_FIND_DAEMON_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/cli/cli.h"
#include "trivet/plan.h"

/* Asks the daemon for its plan and looks for the bus in it: a network device keeps nobody out
 * by itself. True: ret_id is what the plan calls it. False also when no daemon answers or its
 * plan cannot be read; a serial line's own lock still holds then. */
bool find_daemon_reads(const struct cli *cli, const struct plan_bus *bus,
                       char ret_id[PLAN_ID_MAX + 1]);

#endif
