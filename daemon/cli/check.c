/* `trivet check`: whether the installed Trivet is well, part by part. See check.h.
 *
 * One thread. It asks the daemon and looks at the machine: the plan file, the store, its disk,
 * the socket, and what the kernel says of its clock. It reads no clock and changes nothing. */
#include "daemon/cli/check.h"

#include <errno.h>
#include <grp.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <sys/timex.h>
#include <unistd.h>

#include "daemon/cli/check_words.h"
#include "daemon/cli/client.h"
#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/options.h"
#include "trivet/plan.h"
#include "trivet/store.h"

#define WHY_MAX 600
/* "ok  time source  " */
#define TEXT_COLUMN 17

/* ---- the daemon ---- */

/* NULL when it did not answer, with why. */
static json_t *
ask(const struct cli *cli, const char *word, char why[WHY_MAX])
{
    json_t *request = json_pack("{s:s}", "do", word), *answer = NULL, *said = NULL;
    if (client_ask(cli->socket, request, &answer, why, WHY_MAX) == CLIENT_ANSWERED) {
        said = json_object_get(answer, word);
        if (client_code(answer) == 200 && json_is_object(said))
            (void)json_incref(said);
        else {
            said = NULL;
            (void)snprintf(why, WHY_MAX, "the daemon says: %.500s", client_say(answer));
        }
    }
    json_decref(answer);
    json_decref(request);
    return said;
}

/* What keeps this user out is told with the name of the group that would help. */
static void
tell_unreachable(const struct cli *cli, struct checks *checks, const char *why)
{
    struct stat is;
    if (stat(cli->socket, &is) != 0 || access(cli->socket, W_OK) == 0 || errno != EACCES) {
        checks_add(checks, false, "daemon", "%s", why);
        return;
    }
    const struct group *group = getgrgid(is.st_gid);
    checks_add(checks, false, "daemon",
               "it listens, but not to your user, who is not in its group %s: `sudo adduser "
               "YOUR-NAME %s`, then log out and in. It is %s",
               group == NULL ? "(without a name)" : group->gr_name,
               group == NULL ? "GROUP" : group->gr_name, cli->socket);
}

/* ---- the machine ---- */

/* Reads only (modes 0): the kernel's own word on whether a time source keeps its clock. */
static bool
kernel_clock_synced(void)
{
    struct timex is = {.modes = 0};
    return adjtimex(&is) >= 0 && (is.status & STA_UNSYNC) == 0;
}

static void
check_socket_mode(struct checks *checks, const char *path)
{
    struct stat is;
    if (stat(path, &is) != 0)
        checks_add(checks, false, "socket", "%s cannot be looked at: %s", path,
                   strerror(errno));
    else if ((is.st_mode & S_IWOTH) != 0)
        checks_add(checks, false, "socket",
                   "anybody on this machine can make entries: `sudo chmod 660 %s`", path);
    else
        checks_add(checks, true, "socket", "only its owner and its group can make entries");
}

static void
check_directory(struct checks *checks, const char *directory)
{
    struct stat is;
    if (access(directory, R_OK | X_OK) != 0 || stat(directory, &is) != 0)
        checks_add(checks, false, "permissions",
                   "the records cannot be read by your user (%s): ask for membership of the "
                   "group that owns %s",
                   strerror(errno), directory);
    else if ((is.st_mode & S_IWOTH) != 0)
        checks_add(checks, false, "permissions",
                   "anybody on this machine can remove the records: `sudo chmod o-w %s`",
                   directory);
    else
        checks_add(checks, true, "permissions",
                   "the records can be read by you, and not be changed by everybody");
}

/* plan NULL: its rates are not known. */
static void
check_store(struct checks *checks, const char *directory, const struct plan *plan)
{
    struct statvfs disk;
    struct store_verdict verdict;
    struct store_error trouble = {.text = ""};
    if (statvfs(directory, &disk) == 0)
        check_disk(checks, directory, (uint64_t)disk.f_bavail * disk.f_frsize, plan);
    else
        checks_add(checks, false, "disk", "%s cannot be looked at: %s", directory,
                   strerror(errno));
    check_directory(checks, directory);
    if (store_verify(directory, &verdict, &trouble) == STORE_OK)
        check_chain(checks, &verdict, plan);
    else
        checks_add(checks, false, "chain", "cannot be checked: %s", trouble.text);
}

/* ---- all of it ---- */

static void
check_reached(const struct cli *cli, struct checks *checks, const json_t *where,
              const json_t *now)
{
    const char *file = lists_text(now, "plan_file");
    struct plan_faults *faults = calloc(1, sizeof *faults);
    if (faults == NULL) {
        checks->lost = true;
        return;
    }
    struct plan *plan = file[0] == '\0' ? NULL : plan_load(file, faults);
    checks_add(checks, true, "daemon", "answers, version %s, at %s",
               lists_text(where, "version"), cli->socket);
    check_plan(checks, now, plan, faults);
    check_buses(checks, now);
    check_signals(checks, now);
    check_probes(checks, now);
    check_thermometers(checks, now);
    check_recording(checks, now);
    check_clock(checks, now, kernel_clock_synced());
    check_socket_mode(checks, cli->socket);
    check_store(checks, cli->store != NULL ? cli->store : lists_text(where, "store"), plan);
    check_open(checks, now);
    plan_free(plan);
    free(faults);
}

/* The code the command ends with. */
static int
check_all(const struct cli *cli, struct checks *checks)
{
    char why[WHY_MAX] = "no memory to ask the daemon";
    json_t *where = ask(cli, "where", why);
    json_t *now = where == NULL ? NULL : ask(cli, "now", why);
    bool reached = now != NULL;
    if (reached) {
        check_reached(cli, checks, where, now);
    } else {
        tell_unreachable(cli, checks, why);
        if (cli->store != NULL)
            check_store(checks, cli->store, NULL);
        else
            checks_add(checks, false, "records",
                       "not looked at: without the daemon, say where they are: --store DIR");
    }
    json_decref(now);
    json_decref(where);
    if (!reached)
        return CLI_UNREACHABLE;
    return checks->wrong == 0 ? CLI_DONE : CLI_NO;
}

static void
print_lines(const struct cli *cli, const struct checks *checks)
{
    for (size_t i = 0; i < checks->count; i++) {
        const struct check_line *line = &checks->line[i];
        bool paint = cli->colour && !line->well;
        (void)fprintf(cli->out, "%s%s%s  %-11s  ", paint ? "\x1b[1;31m" : "",
                      line->well ? "ok" : "!!", paint ? "\x1b[0m" : "", line->name);
        cli_print_wrapped(cli->out, line->text, TEXT_COLUMN, TEXT_COLUMN);
    }
    if (checks->wrong == 0)
        (void)fputs("All is well.\n", cli->out);
    else
        (void)fprintf(cli->out, "%zu of %zu need%s attention.\n", checks->wrong, checks->count,
                      checks->wrong == 1 ? "s" : "");
}

static void
print_json(const struct cli *cli, const struct checks *checks)
{
    json_t *lines = json_array();
    for (size_t i = 0; i < checks->count; i++) {
        const struct check_line *line = &checks->line[i];
        json_t *say = json_string(line->text);
        if (say == NULL) /* a path may be any bytes */
            say = json_string("cannot be told here: there are bytes in it that are no UTF-8");
        (void)json_array_append_new(lines, json_pack("{s:s, s:b, s:o}", "check", line->name,
                                                     "ok", line->well, "say", say));
    }
    json_t *object = json_pack("{s:b, s:o}", "ok", checks->wrong == 0, "checks", lines);
    if (object != NULL)
        (void)json_dumpf(object, cli->out, JSON_COMPACT);
    (void)fputc('\n', cli->out);
    json_decref(object);
}

int
cli_check(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    int code = options_read(cli, argc, argv, NULL, 0, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count > 0)
        return cli_fail(cli, CLI_USAGE,
                        "there is nothing more to say here; see `trivet help %s`", cli->verb);
    struct checks checks;
    checks_init(&checks);
    code = check_all(cli, &checks);
    if (cli->json)
        print_json(cli, &checks);
    else if (!cli->quiet)
        print_lines(cli, &checks);
    if (checks.lost)
        code = cli_fail(cli, CLI_NO, "no memory for all that was found");
    checks_done(&checks);
    return cli_finish(cli, code);
}
