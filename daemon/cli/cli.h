/* What the subcommands of `trivet` share: where they read and write, how they end. One thread,
 * one subcommand a run. */
#ifndef CLI_CLI_H
#define CLI_CLI_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "trivet/log.h"

/* Told in `trivet help` and docs/trivet.md. */
enum cli_exit {
    CLI_DONE = 0,
    CLI_NO = 1,    /* the answer is no: a chain that does not hold, a replay that differs; or it
                      could not be written */
    CLI_USAGE = 2, /* the command was not understood or something is missing; nothing was asked
                      of the daemon */
    CLI_UNREACHABLE = 3, /* the daemon or the store cannot be reached, or did not answer */
    CLI_REFUSED = 4,     /* the daemon said no, and why; or it has the line */
};

#define CLI_SOCKET_USUAL "/run/trivet/control"

struct cli {
    FILE *in, *out, *err;
    bool may_ask; /* a person is at the other end of in: what is missing is asked for on err */
    bool colour;  /* out is a terminal and nobody said NO_COLOR */
    bool json;
    bool quiet;
    const char *verb; /* as typed, for messages; NULL when none was known */
    /* When the daemon's lists came, on the monotonic clock, so that "10 min ago" counts from
     * when it is typed; 0 = just now. */
    int64_t lists_mono_ms;
    const char *who; /* initials the station is set to, NULL = none */
    const char *socket;
    const char *store; /* NULL: ask the daemon */
    int pin_from;      /* descriptor that PINs are read from, plus 1; 0 = ask for them */
};

/* Writes "trivet VERB: ..." to err and returns the code, so that a subcommand can end with it.
 */
int cli_fail(const struct cli *cli, enum cli_exit code, const char *format, ...)
    TRIVET_PRINTF(3, 4);

/* Writes text that came from elsewhere: control characters become '?', a newline a space. */
void cli_print_clean(FILE *to, const char *text);

/* The same, words wrapped to 80 columns: the first line goes on at column `at`, further ones
 * are indented. Ends the line. */
void cli_print_wrapped(FILE *to, const char *text, size_t at, size_t indent);

/* Flushes out; the code, or CLI_NO with a message when what was written got lost. */
int cli_finish(const struct cli *cli, int code);

#endif
