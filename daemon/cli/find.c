/* `trivet find`: a guided search for a probe on a Modbus bus, for a person who knows no Modbus,
 * and for scripts.
 *
 * Purpose: options, the conversation, and the order of things; what is asked of the bus is
 * find_bus.c's, what registers mean find_guess.c's. One thread. Must not write to a device. */
#include "daemon/cli/find.h"

#include <glob.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/find_bus.h"
#include "daemon/cli/find_daemon.h"
#include "daemon/cli/find_keep.h"
#include "daemon/cli/find_report.h"
#include "daemon/cli/find_setup.h"
#include "daemon/cli/help.h"
#include "daemon/cli/options.h"
#include "trivet/json_out.h"
#include "trivet/typed.h"
#include "trivet/units.h"

enum {
    OPTION_DEVICE,
    OPTION_HOST,
    OPTION_PORT,
    OPTION_FRAMING,
    OPTION_UNITS,
    OPTION_BAUDS,
    OPTION_PARITIES,
    OPTION_STOP_BITS,
    OPTION_DIRECTION,
    OPTION_REGISTERS,
    OPTION_FUNCTIONS,
    OPTION_TIMEOUT,
    OPTION_DELAY,
    OPTION_PAUSE,
    OPTION_HAND_FOR,
    OPTION_MOVE_FOR,
    OPTION_ICE_FOR,
    OPTION_PHASE,
    OPTION_KEEP,
    OPTION_BUS,
    OPTION_ID,
    OPTION_NAME,
    OPTION_KIND,
    OPTION_COUNT
};

static const struct option_spec options[OPTION_COUNT] = {
    [OPTION_DEVICE] = {"device", 'd'},
    [OPTION_HOST] = {"host", 'H'},
    [OPTION_PORT] = {"port", 'p'},
    [OPTION_FRAMING] = {"framing", 'F'},
    [OPTION_UNITS] = {"units", 'u'},
    [OPTION_BAUDS] = {"bauds", 'b'},
    [OPTION_PARITIES] = {"parities", 'P'},
    [OPTION_STOP_BITS] = {"stop-bits", 's'},
    [OPTION_DIRECTION] = {"direction", 'D'},
    [OPTION_REGISTERS] = {"registers", 'r'},
    [OPTION_FUNCTIONS] = {"functions", 'f'},
    [OPTION_TIMEOUT] = {"timeout", 't'},
    [OPTION_DELAY] = {"longest-delay", 'l'},
    [OPTION_PAUSE] = {"pause", 'w'},
    [OPTION_HAND_FOR] = {"hand-for", 'n'},
    [OPTION_MOVE_FOR] = {"move-for", 'm'},
    [OPTION_ICE_FOR] = {"ice-for", 'i'},
    [OPTION_PHASE] = {"phase", 'a'},
    [OPTION_KEEP] = {"keep", 'k'},
    [OPTION_BUS] = {"bus", 'B'},
    [OPTION_ID] = {"id", 'I'},
    [OPTION_NAME] = {"name", 'N'},
    [OPTION_KIND] = {"kind", 'K'},
};

/* Options that set up the line and the search: a second run has them from its file. */
static const struct {
    int option;
    bool (*take)(struct find_setup *setup, const char *text, char *reterr);
} searching[] = {
    {OPTION_DEVICE, find_setup_device},       {OPTION_HOST, find_setup_host},
    {OPTION_PORT, find_setup_port},           {OPTION_FRAMING, find_setup_framing},
    {OPTION_BAUDS, find_setup_bauds},         {OPTION_PARITIES, find_setup_parities},
    {OPTION_STOP_BITS, find_setup_stop_bits}, {OPTION_DIRECTION, find_setup_direction},
    {OPTION_REGISTERS, find_setup_registers}, {OPTION_FUNCTIONS, find_setup_functions},
    {OPTION_TIMEOUT, find_setup_timeout},     {OPTION_DELAY, find_setup_longest_delay},
    {OPTION_PAUSE, find_setup_pause},
};

enum run_phase { RUN_WHOLE, RUN_HAND, RUN_ICE };

struct run {
    struct cli *cli;
    struct options_read read;
    enum run_phase phase;
    bool talks;                       /* asks a person, waits for Enter */
    int64_t hand_ms, move_ms, ice_ms; /* move: -1 = not given */
    struct find_setup setup;
    struct find_blocks blocks;
    struct find_bus bus;
    struct find_naming naming;
};

/* ---- options ---- */

static int
refuse_option(const struct run *run, int option, const char *why)
{
    return cli_fail(run->cli, CLI_USAGE, "--%s: %s", options[option].name, why);
}

static int
read_times(struct run *run)
{
    static const struct {
        int option;
        int64_t usual_ms;
    } times[] = {{OPTION_HAND_FOR, 10000}, {OPTION_MOVE_FOR, -1}, {OPTION_ICE_FOR, 30000}};
    int64_t *const into[] = {&run->hand_ms, &run->move_ms, &run->ice_ms};
    for (size_t i = 0; i < sizeof times / sizeof *times; i++) {
        const char *text = run->read.value[times[i].option];
        char why[FIND_WHY_MAX];
        *into[i] = times[i].usual_ms;
        if (text != NULL && !find_duration(text, 500, 600000, into[i], why))
            return refuse_option(run, times[i].option, why);
    }
    return CLI_DONE;
}

static int
read_phase(struct run *run)
{
    const char *phase = run->read.value[OPTION_PHASE];
    if (phase == NULL)
        run->phase = RUN_WHOLE;
    else if (strcmp(phase, "hand") == 0)
        run->phase = RUN_HAND;
    else if (strcmp(phase, "ice") == 0)
        run->phase = RUN_ICE;
    else
        return refuse_option(run, OPTION_PHASE, "write hand or ice");
    if ((run->phase == RUN_WHOLE) != (run->read.value[OPTION_KEEP] == NULL))
        return cli_fail(run->cli, CLI_USAGE,
                        "--phase and --keep go together: --phase hand --keep FILE first, then "
                        "--phase ice --keep FILE");
    return CLI_DONE;
}

static void
set_name(struct run *run, const char *name)
{
    /* Both callers have refused what is too long. */
    (void)snprintf(run->naming.name, sizeof run->naming.name, "%.*s", PLAN_NAME_MAX, name);
    if (run->read.value[OPTION_ID] != NULL)
        return;
    find_id_of(name, run->naming.id);
    if (run->naming.id[0] == '\0') /* a name in another script */
        (void)snprintf(run->naming.id, sizeof run->naming.id, "new-probe");
}

static int
read_naming(struct run *run)
{
    const char *id = run->read.value[OPTION_ID], *name = run->read.value[OPTION_NAME];
    const char *kind = run->read.value[OPTION_KIND], *bus = run->read.value[OPTION_BUS];
    static const char id_rule[] =
        "write at most 31 lower-case letters a-z, digits and hyphens, as walk-in-air";
    if (id != NULL && !find_id_good(id))
        return refuse_option(run, OPTION_ID, id_rule);
    if (bus != NULL && !find_id_good(bus))
        return refuse_option(run, OPTION_BUS, id_rule);
    if (name != NULL && (name[0] == '\0' || !text_is_clean(name, PLAN_NAME_MAX, false)))
        return refuse_option(run, OPTION_NAME, "write at most 120 letters, as \"Walk-in air\"");
    if (kind != NULL && strcmp(kind, "food") != 0 && strcmp(kind, "air") != 0)
        return refuse_option(run, OPTION_KIND, "write food or air");
    run->naming.kind = kind != NULL && strcmp(kind, "air") == 0 ? PROBE_AIR : PROBE_FOOD;
    if (id != NULL)
        (void)snprintf(run->naming.id, sizeof run->naming.id, "%s", id);
    set_name(run, name != NULL ? name : "New probe");
    return CLI_DONE;
}

/* The bus's name from the option; else it stays what it was. */
static void
name_bus(struct run *run)
{
    const char *bus = run->read.value[OPTION_BUS];
    if (bus != NULL)
        (void)snprintf(run->setup.bus.id, sizeof run->setup.bus.id, "%s", bus);
}

static int
read_search(struct run *run)
{
    char why[FIND_WHY_MAX];
    for (size_t i = 0; i < sizeof searching / sizeof *searching; i++) {
        const char *text = run->read.value[searching[i].option];
        if (text == NULL)
            continue;
        if (run->phase == RUN_ICE)
            return refuse_option(run, searching[i].option,
                                 "leave it out in this run: the file of the first one knows");
        if (!searching[i].take(&run->setup, text, why))
            return refuse_option(run, searching[i].option, why);
    }
    if (run->phase == RUN_ICE && run->read.value[OPTION_UNITS] != NULL)
        return refuse_option(run, OPTION_UNITS,
                             "leave it out in this run: the file of the first one knows");
    if (run->read.value[OPTION_DEVICE] != NULL && run->read.value[OPTION_HOST] != NULL)
        return cli_fail(run->cli, CLI_USAGE,
                        "a line is a --device or a --host: give one of the two");
    return CLI_DONE;
}

static int
read_all(struct run *run)
{
    if (run->read.word_count > 0)
        return cli_fail(
            run->cli, CLI_USAGE,
            "there is nothing to say without an option here; see `trivet help find`");
    int code = read_phase(run);
    if (code == CLI_DONE)
        code = read_times(run);
    if (code == CLI_DONE)
        code = read_search(run);
    if (code == CLI_DONE)
        code = read_naming(run);
    run->talks =
        run->cli->may_ask && !run->cli->json && run->phase == RUN_WHOLE && run->move_ms < 0;
    if (code == CLI_DONE && run->phase == RUN_WHOLE && !run->talks && run->move_ms < 0)
        code =
            cli_fail(run->cli, CLI_USAGE,
                     "nobody can be asked here: give --move-for, as --move-for 30s, the time "
                     "to get the probe from the hand into the ice water; or do it in two "
                     "runs, --phase hand --keep FILE and --phase ice --keep FILE");
    return code;
}

/* ---- the conversation ---- */

static void
say(const struct run *run, const char *text)
{
    if (!run->cli->quiet)
        cli_print_wrapped(run->cli->err, text, 0, 0);
}

static int
left(const struct run *run)
{
    return cli_fail(run->cli, CLI_USAGE, "left; nothing was changed on the bus");
}

/* What is plugged in, as far as the names of devices tell; false when there is none or several.
 */
static bool
only_line(const struct run *run, char *ret, size_t size)
{
    glob_t found = {0};
    bool only = false;
    if (glob("/dev/serial/by-id/*", 0, NULL, &found) != 0) {
        globfree(&found);
        (void)glob("/dev/tty[UA][SC][BM]*", 0, NULL, &found);
    }
    for (size_t i = 0; i < found.gl_pathc; i++)
        (void)fprintf(run->cli->err, "  %s\n", found.gl_pathv[i]);
    if (found.gl_pathc == 1 && strlen(found.gl_pathv[0]) < size) {
        (void)snprintf(ret, size, "%s", found.gl_pathv[0]);
        only = true;
    }
    globfree(&found);
    return only;
}

static int
settle_line(struct run *run)
{
    const struct asker asker = {run->cli->in, run->cli->err};
    char usual[ASK_ANSWER_MAX], answer[ASK_ANSWER_MAX], why[FIND_WHY_MAX];
    if (run->read.value[OPTION_DEVICE] != NULL || run->read.value[OPTION_HOST] != NULL)
        return CLI_DONE;
    if (!run->talks)
        return cli_fail(
            run->cli, CLI_USAGE,
            "say where to search: --device, as --device /dev/ttyUSB0, or --host, as "
            "--host 192.0.2.10");
    const bool only = only_line(run, usual, sizeof usual);
    for (;;) {
        if (ask_text(&asker,
                     "Where is the probe's device? (a serial port such as /dev/ttyUSB0, or a "
                     "network address such as 192.0.2.10)",
                     only ? usual : NULL, false, answer) != ASK_ANSWERED)
            return left(run);
        if (find_setup_line(&run->setup, answer, why))
            return CLI_DONE;
        ask_complain(&asker, why);
    }
}

/* yes: also on Enter. */
static bool
agrees(const struct run *run, const char *question, bool *ret_left)
{
    const struct asker asker = {run->cli->in, run->cli->err};
    char answer[ASK_ANSWER_MAX];
    for (;;) {
        *ret_left = ask_text(&asker, question, "yes", false, answer) != ASK_ANSWERED;
        if (*ret_left || strcmp(answer, "no") == 0 || strcmp(answer, "n") == 0)
            return false;
        if (strcmp(answer, "yes") == 0 || strcmp(answer, "y") == 0)
            return true;
        ask_complain(&asker, "yes or no, please");
    }
}

static int
announce(const struct run *run)
{
    const struct find_setup *setup = &run->setup;
    char text[700], time[40];
    bool is_left;
    const bool serial = setup->bus.driver == BUS_MODBUS_RTU;
    (void)snprintf(text, sizeof text,
                   "About to ask on %s%s for %zu unit number%s, and what registers hold there. "
                   "Only questions that read are sent (Modbus functions 3 and 4), at most %d a "
                   "second; nothing is changed on any device. If nobody answers it takes up to "
                   "%s. Ctrl-C ends it at any time.",
                   serial ? setup->device : setup->host,
                   serial ? ", at each speed and parity," : "", setup->unit_count,
                   setup->unit_count == 1 ? "" : "s",
                   (int)((1000 + setup->pause_ms - 1) / setup->pause_ms),
                   duration_text(time, sizeof time, find_bus_longest_ms(setup) + 999));
    say(run, text);
    if (!run->talks || agrees(run, "Begin?", &is_left))
        return CLI_DONE;
    return left(run);
}

/* Waits until a person is ready. */
static int
when_ready(const struct run *run, const char *what)
{
    const struct asker asker = {run->cli->in, run->cli->err};
    char answer[ASK_ANSWER_MAX];
    say(run, what);
    return ask_text(&asker, "Press Enter when that is so.", "ready", false, answer) ==
                   ASK_ANSWERED
               ? CLI_DONE
               : left(run);
}

static int
ask_name(struct run *run)
{
    const struct asker asker = {run->cli->in, run->cli->err};
    char answer[ASK_ANSWER_MAX];
    while (run->read.value[OPTION_NAME] == NULL) {
        if (ask_text(&asker, "What do people call this probe?", run->naming.name, false,
                     answer) != ASK_ANSWERED)
            return left(run);
        if (text_is_clean(answer, PLAN_NAME_MAX, false)) {
            set_name(run, answer);
            break;
        }
        ask_complain(&asker, "at most 120 letters, please");
    }
    return CLI_DONE;
}

static int
ask_kind(struct run *run)
{
    const struct asker asker = {run->cli->in, run->cli->err};
    char answer[ASK_ANSWER_MAX];
    while (run->read.value[OPTION_KIND] == NULL) {
        if (ask_text(&asker, "Is it put into food, or does it measure air? (food or air)",
                     "food", false, answer) != ASK_ANSWERED)
            return left(run);
        run->naming.kind = strcmp(answer, "air") == 0 ? PROBE_AIR : PROBE_FOOD;
        if (run->naming.kind == PROBE_AIR || strcmp(answer, "food") == 0)
            break;
        ask_complain(&asker, "food or air, please");
    }
    return CLI_DONE;
}

/* ---- the order of things ---- */

static const char how_to_get_the_line[] =
    "stop it for the search (systemctl stop trivetd), which leaves a gap in the records, and "
    "start it again at once";

static int
end_with(const struct run *run, enum find_status status, const char *why)
{
    char text[600];
    switch (status) {
    case FIND_DONE:
        return CLI_DONE;
    case FIND_NOTHING:
        return cli_fail(run->cli, CLI_NO, "%s", why);
    case FIND_HELD:
        (void)snprintf(text, sizeof text, "%s. Nothing was asked. If it is trivetd, %s", why,
                       how_to_get_the_line);
        return find_report_refused(run->cli, text);
    case FIND_LOST:
        return cli_fail(run->cli, CLI_UNREACHABLE, "%s", why);
    case FIND_NO_MEMORY:
        return cli_fail(run->cli, CLI_NO, "no memory for what was found");
    }
    return CLI_NO;
}

static int
refuse_watched(const struct run *run)
{
    char id[PLAN_ID_MAX + 1], text[600];
    if (!find_daemon_reads(run->cli, &run->setup.bus, id))
        return CLI_DONE;
    (void)snprintf(text, sizeof text,
                   "trivetd is watching this line: it is bus '%s' of its plan. Nothing was "
                   "asked. To have the line, %s",
                   id, how_to_get_the_line);
    return find_report_refused(run->cli, text);
}

static int
search(struct run *run)
{
    struct driver_error error = {.text = ""};
    enum find_status status = find_bus_search(&run->bus, &error);
    if (status == FIND_DONE)
        status = find_bus_list(&run->bus, &run->blocks, &error);
    return end_with(run, status, error.text);
}

/* As long as asked for, or as three rounds take. */
static int
watch(struct run *run, enum find_phase phase, int64_t for_ms)
{
    struct driver_error error = {.text = ""};
    char text[200], time[40];
    const int64_t rounds_ms = 3 * (int64_t)run->blocks.count * run->setup.pause_ms;
    (void)snprintf(text, sizeof text, "Watching %s for about %s ...",
                   phase == FIND_HAND ? "the probe in the hand" : "the probe in ice water",
                   duration_text(time, sizeof time, rounds_ms > for_ms ? rounds_ms : for_ms));
    say(run, text);
    return end_with(run, find_bus_watch(&run->bus, &run->blocks, phase, for_ms, &error),
                    error.text);
}

static int
hand(struct run *run)
{
    int code = CLI_DONE;
    if (run->talks)
        code =
            when_ready(run, "Take the tip of the probe into your closed hand and hold it for "
                            "a minute.");
    return code == CLI_DONE ? watch(run, FIND_HAND, run->hand_ms) : code;
}

static int
ice_once(struct run *run)
{
    int code = CLI_DONE;
    if (run->talks)
        code = when_ready(run, "Now put the tip into a glass full of crushed ice, topped up "
                               "with water, and stir; keep it off the glass.");
    else if (run->phase == RUN_WHOLE) {
        say(run, "Now into the ice water with it, and stir.");
        find_bus_wait(&run->bus, clock_mono_ms(&run->bus.clock) + run->move_ms);
    }
    return code == CLI_DONE ? watch(run, FIND_ICE, run->ice_ms) : code;
}

/* A person may try again: a thick probe takes its time. */
static int
ice(struct run *run, struct find_result *ret)
{
    for (;;) {
        bool is_left = false;
        int code = ice_once(run);
        if (code != CLI_DONE)
            return code;
        find_result_of(&run->blocks, ret);
        if (ret->guess_count > 0 || !run->talks ||
            !agrees(run, "Nothing looks like a temperature yet. Watch the ice water again?",
                    &is_left))
            return is_left ? left(run) : CLI_DONE;
    }
}

static int
conclude(struct run *run)
{
    struct find_result *result = calloc(1, sizeof *result);
    if (result == NULL)
        return end_with(run, FIND_NO_MEMORY, "");
    int code = ice(run, result);
    find_bus_close(&run->bus); /* a question about names need not keep the daemon out */
    if (code == CLI_DONE && run->talks && result->guess_count > 0)
        code = ask_name(run);
    if (code == CLI_DONE && run->talks && result->guess_count > 0)
        code = ask_kind(run);
    if (code == CLI_DONE)
        code = find_report(run->cli, &run->setup.bus, result, &run->naming);
    free(result);
    return code;
}

static int
run_first(struct run *run)
{
    char why[FIND_WHY_MAX];
    int code = settle_line(run);
    name_bus(run);
    if (code == CLI_DONE && !find_setup_finish(&run->setup, run->read.value[OPTION_UNITS], why))
        code = refuse_option(run, OPTION_UNITS, why);
    if (code == CLI_DONE)
        code = refuse_watched(run);
    if (code == CLI_DONE)
        code = announce(run);
    if (code == CLI_DONE)
        code = search(run);
    return code == CLI_DONE ? hand(run) : code;
}

static int
keep(struct run *run)
{
    const char *path = run->read.value[OPTION_KEEP];
    char why[400];
    if (!find_keep_write(path, &run->setup, &run->blocks, why, sizeof why))
        return cli_fail(run->cli, CLI_NO, "%s", why);
    return find_report_hand(run->cli, &run->bus, &run->blocks, path);
}

static int
run_second(struct run *run)
{
    struct driver_error error = {.text = ""};
    char why[400];
    if (!find_keep_read(run->read.value[OPTION_KEEP], &run->setup, &run->blocks, why,
                        sizeof why))
        return cli_fail(run->cli, CLI_USAGE, "%s", why);
    name_bus(run);
    int code = refuse_watched(run);
    return code == CLI_DONE ? end_with(run, find_bus_open(&run->bus, &error), error.text)
                            : code;
}

static int
run_phases(struct run *run)
{
    int code = run->phase == RUN_ICE ? run_second(run) : run_first(run);
    if (code == CLI_DONE && run->phase == RUN_HAND)
        return keep(run);
    return code == CLI_DONE ? conclude(run) : code;
}

int
cli_find(struct cli *cli, int argc, char **argv)
{
    struct run *run = calloc(1, sizeof *run);
    if (run == NULL)
        return cli_fail(cli, CLI_NO, "no memory to search");
    run->cli = cli;
    run->bus = (struct find_bus){.setup = &run->setup, .clock = clock_machine()};
    find_setup_init(&run->setup);
    int code = options_read(cli, argc, argv, options, OPTION_COUNT, &run->read);
    if (code == CLI_DONE && run->read.help) {
        code = help_verb(cli, argv[0]);
    } else if (code == CLI_DONE) {
        run->bus.tell = cli->quiet ? NULL : cli->err;
        code = read_all(run);
        if (code == CLI_DONE)
            code = run_phases(run);
    }
    find_bus_close(&run->bus);
    find_blocks_done(&run->blocks);
    free(run);
    return code;
}
