/* `trivet`: how people tell Trivet things and ask it. Finds the verb, hands over.
 *
 * One thread. Owns nothing of the kitchen: what it enters goes through the daemon, what it
 * reads it opens read-only. */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/cli/calibrate.h"
#include "daemon/cli/calibrations.h"
#include "daemon/cli/check.h"
#include "daemon/cli/cli.h"
#include "daemon/cli/compare.h"
#include "daemon/cli/convert.h"
#include "daemon/cli/enter.h"
#include "daemon/cli/find.h"
#include "daemon/cli/forecast.h"
#include "daemon/cli/haccp.h"
#include "daemon/cli/help.h"
#include "daemon/cli/judge.h"
#include "daemon/cli/label.h"
#include "daemon/cli/limits.h"
#include "daemon/cli/now.h"
#include "daemon/cli/pin.h"
#include "daemon/cli/plan_verb.h"
#include "daemon/cli/records.h"
#include "daemon/cli/review.h"
#include "daemon/cli/series.h"
#include "daemon/cli/timing.h"
#include "daemon/cli/why.h"
#include "trivet/typed.h"

/* The verbs with a function of their own; those that enter something share one. */
static const struct {
    const char *name;
    int (*run)(struct cli *cli, int argc, char **argv);
} verbs[] = {
    {"now", cli_now},
    {"deviations", cli_deviations},
    {"where", cli_where},
    {"plan", cli_plan},
    {"export", cli_export},
    {"chain", cli_chain},
    {"replay", cli_replay},
    {"find", cli_find},
    {"limits", cli_limits},
    {"judge", cli_judge},
    {"check", cli_check},
    {"why", cli_why},
    {"plan-series", cli_plan_series},
    {"calibrate", cli_calibrate},
    {"haccp", cli_haccp},
    {"review", cli_review},
    {"calibrations", cli_calibrations},
    {"timing", cli_timing},
    {"compare", cli_compare},
    {"pin", cli_pin},
    {"label", cli_label},
};

/* The verbs that need neither daemon nor store. */
static const struct {
    const char *name;
    int (*run)(int argc, char **argv);
} tools[] = {
    {"convert", cli_convert},
    {"boiling-point", cli_boiling_point},
    {"forecast", cli_forecast},
};

static const char *
environment(const char *name)
{
    const char *value = getenv(name);
    return value != NULL && value[0] != '\0' ? value : NULL;
}

static int
show_help(struct cli *cli, int argc, char **argv)
{
    if (argc < 2 || strcmp(argv[1], "--help") == 0)
        return help_all(cli);
    return help_verb(cli, argv[1]);
}

/* The tools read their own options: a --json before the verb is put after it. */
static int
run_tool(const struct cli *cli, int (*run)(int argc, char **argv), int argc, char **argv)
{
    static char json[] = "--json";
    if (!cli->json)
        return run(argc, argv);
    char **more = calloc((size_t)argc + 2, sizeof *more);
    if (more == NULL)
        return cli_fail(cli, CLI_USAGE, "no memory to read this");
    memcpy(more, argv, (size_t)argc * sizeof *more);
    more[argc] = json;
    int code = run(argc + 1, more);
    free(more);
    return code;
}

/* Whoever types the verb alone, and is not at a terminal of a running daemon, learns what else
 * it wants. What an entry misses is told with its example already. */
static int
run_known(struct cli *cli, const struct enter_verb *entry,
          int (*run)(struct cli *cli, int argc, char **argv), int argc, char **argv)
{
    int code = entry != NULL ? enter_run(cli, entry, argc, argv) : run(cli, argc, argv);
    if (argc == 1 && (code == CLI_UNREACHABLE || (code == CLI_USAGE && entry == NULL)))
        help_used_as(cli, argv[0]);
    return code;
}

static int
run_verb(struct cli *cli, int argc, char **argv)
{
    const char *word = argv[0];
    const struct enter_verb *entry = enter_verb(word);
    cli->verb = word;
    if (entry != NULL)
        return run_known(cli, entry, NULL, argc, argv);
    for (size_t i = 0; i < sizeof verbs / sizeof *verbs; i++)
        if (strcmp(verbs[i].name, word) == 0)
            return run_known(cli, NULL, verbs[i].run, argc, argv);
    for (size_t i = 0; i < sizeof tools / sizeof *tools; i++)
        if (strcmp(tools[i].name, word) == 0)
            return run_tool(cli, tools[i].run, argc, argv);
    if (strcmp(word, "help") == 0)
        return show_help(cli, argc, argv);
    cli->verb = NULL;
    return help_verb(cli, word); /* says that there is none, and the nearest */
}

/* The options before the verb; returns the index of the verb, argc when there is none, -1 when
 * refused. */
static int
read_front(struct cli *cli, int argc, char **argv)
{
    int i = 1;
    for (; i < argc && argv[i][0] == '-'; i++) {
        const char *option = argv[i];
        if (strcmp(option, "--json") == 0) {
            cli->json = true;
        } else if (strcmp(option, "--quiet") == 0) {
            cli->quiet = true;
        } else if (strcmp(option, "--socket") == 0 && i + 1 < argc) {
            cli->socket = argv[++i];
        } else if (strcmp(option, "--store") == 0 && i + 1 < argc) {
            cli->store = argv[++i];
        } else if (strncmp(option, "--socket=", 9) == 0) {
            cli->socket = option + 9;
        } else if (strncmp(option, "--store=", 8) == 0) {
            cli->store = option + 8;
        } else {
            char shown[60];
            (void)cli_fail(cli, CLI_USAGE, "%s is not an option here, or its value is missing",
                           typed_shown(shown, sizeof shown, option));
            return -1;
        }
    }
    return i;
}

int
main(int argc, char **argv)
{
    struct cli cli = {.in = stdin, .out = stdout, .err = stderr};
    cli.may_ask = isatty(STDIN_FILENO) == 1;
    cli.colour = isatty(STDOUT_FILENO) == 1 && environment("NO_COLOR") == NULL;
    cli.socket = environment("TRIVET_SOCKET");
    if (cli.socket == NULL)
        cli.socket = CLI_SOCKET_USUAL;
    cli.who = environment("TRIVET_WHO");
    if (argc == 2 && (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0))
        return help_all(&cli);
    if (argc == 2 && strcmp(argv[1], "--version") == 0) {
        (void)fputs("trivet " TRIVET_VERSION "\n", cli.out);
        return cli_finish(&cli, CLI_DONE);
    }
    int verb = read_front(&cli, argc, argv);
    if (verb < 0)
        return CLI_USAGE;
    if (verb == argc) {
        (void)help_all(&cli);
        return CLI_USAGE;
    }
    return run_verb(&cli, argc - verb, argv + verb);
}
