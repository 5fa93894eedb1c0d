/* One question to the daemon over its control socket, one answer. docs/control.md is the
 * protocol. */
#ifndef CLI_CLIENT_H
#define CLI_CLIENT_H

#include <stddef.h>

#include <jansson.h>

#include "daemon/cli/cli.h"

enum client_status {
    CLIENT_ANSWERED,
    CLIENT_UNREACHABLE, /* nothing was asked */
    CLIENT_UNKNOWN,     /* asked, but no answer came: whatever it was may have been recorded */
};

/* request is an object; the answer is the caller's (json_decref). Not answered: reterr says
 * what, where and what to do. */
enum client_status client_ask(const char *socket, const json_t *request, json_t **ret_answer,
                              char *reterr, size_t err_size);

/* The answer's code and words; 0 and "" when it has none. */
int client_code(const json_t *answer);
const char *client_say(const json_t *answer);

/* Asks and looks after everything but a 200: writes what is wrong (with --json the daemon's
 * answer itself on out), returns the exit code. CLI_DONE: *ret_answer is the caller's. */
int client_ask_or_fail(const struct cli *cli, const json_t *request, json_t **ret_answer);

/* The same for a question that is one word: "now", "lists", "where". */
int client_question(const struct cli *cli, const char *word, json_t **ret_answer);

#endif
