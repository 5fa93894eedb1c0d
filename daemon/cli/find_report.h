/* What `trivet find` found, for people and for machines. */
#ifndef CLI_FIND_REPORT_H
#define CLI_FIND_REPORT_H

#include <stddef.h>

#include "daemon/cli/cli.h"
#include "daemon/cli/find_bus.h"
#include "daemon/cli/find_guess.h"
#include "daemon/cli/find_words.h"

#define FIND_GUESSES_MAX 200
#define FIND_MOVES_MAX   64

struct find_result {
    struct find_guess guess[FIND_GUESSES_MAX];
    size_t guess_count;
    struct find_move move[FIND_MOVES_MAX];
    size_t move_count;
    bool sure;
};

void find_result_of(const struct find_blocks *blocks, struct find_result *ret);

/* Plan lines on cli->out, what else there is to say as comments before them; with --json one
 * object. Without a guess: what moved, and what to try. Returns the exit code. */
int find_report(const struct cli *cli, const struct plan_bus *bus,
                const struct find_result *result, const struct find_naming *naming);

/* The line is somebody else's; CLI_REFUSED. */
int find_report_refused(const struct cli *cli, const char *why);

/* After the first of two runs. */
int find_report_hand(const struct cli *cli, const struct find_bus *bus,
                     const struct find_blocks *blocks, const char *kept);

#endif
