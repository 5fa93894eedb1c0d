/* `trivet pin`, and reading a PIN. See pin.h. */
#include "daemon/cli/pin.h"

#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include <jansson.h>
#include <sodium.h>

#include "daemon/cli/client.h"
#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/options.h"

/* A line from a descriptor, byte by byte: what follows is the next PIN's. */
static bool
read_fd(int fd, char ret[CLI_PIN_MAX])
{
    size_t len = 0;
    char byte = 0;
    ssize_t got;
    while ((got = read(fd, &byte, 1)) == 1 && byte != '\n' && len < CLI_PIN_MAX - 1)
        ret[len++] = byte;
    ret[len] = '\0';
    return got == 1 || len > 0;
}

static bool
read_terminal(const struct cli *cli, const char *question, char ret[CLI_PIN_MAX])
{
    struct termios shown, hidden;
    int fd = fileno(cli->in);
    bool terminal = fd >= 0 && tcgetattr(fd, &shown) == 0;
    if (terminal) {
        hidden = shown;
        hidden.c_lflag &= ~(tcflag_t)ECHO;
        (void)tcsetattr(fd, TCSAFLUSH, &hidden);
    }
    (void)fprintf(cli->err, "%s ", question);
    (void)fflush(cli->err);
    bool good = fgets(ret, CLI_PIN_MAX, cli->in) != NULL;
    if (terminal)
        (void)tcsetattr(fd, TCSAFLUSH, &shown);
    (void)fputc('\n', cli->err);
    if (good)
        ret[strcspn(ret, "\r\n")] = '\0';
    return good;
}

bool
pin_read(const struct cli *cli, const char *question, char ret[CLI_PIN_MAX])
{
    if (cli->pin_from > 0)
        return read_fd(cli->pin_from - 1, ret);
    return cli->may_ask && read_terminal(cli, question, ret);
}

/* What is asked of people before a PIN is set. */
struct pins_given {
    char old[CLI_PIN_MAX], fresh[CLI_PIN_MAX], again[CLI_PIN_MAX], voucher[CLI_PIN_MAX];
};

static int
send_pin(const struct cli *cli, const char *who, const char *by, const struct pins_given *given)
{
    json_t *request = json_pack("{s:s,s:s,s:s}", "do", "pin", "who", who, "new", given->fresh);
    json_t *answer = NULL;
    if (request != NULL && given->old[0] != '\0')
        (void)json_object_set_new(request, "pin", json_string(given->old));
    if (request != NULL && by != NULL) {
        (void)json_object_set_new(request, "by", json_string(by));
        (void)json_object_set_new(request, "by_pin", json_string(given->voucher));
    }
    int code = request == NULL ? cli_fail(cli, CLI_USAGE, "no memory to ask the daemon")
                               : client_ask_or_fail(cli, request, &answer);
    if (code == CLI_DONE) {
        cli_print_clean(cli->out, client_say(answer));
        (void)fputc('\n', cli->out);
    }
    json_decref(answer);
    json_decref(request);
    return code;
}

/* Who vouches for a first PIN says so with their own; else the old one is asked for. */
static int
ask_pins(struct cli *cli, const char *by, struct pins_given *given)
{
    char question[80];
    if ((by == NULL &&
         !pin_read(cli, "The PIN until now (Enter: there is none yet):", given->old)) ||
        !pin_read(cli, "The new PIN (4 to 12 digits):", given->fresh))
        return cli_fail(cli, CLI_USAGE,
                        "a PIN is entered at a terminal, or given in lines with --pin-fd: the "
                        "old one (an empty line when there is none), then the new one; with "
                        "--by the new one, then that of who vouches for it");
    if (cli->pin_from == 0 && (!pin_read(cli, "The new PIN again:", given->again) ||
                               strcmp(given->again, given->fresh) != 0))
        return cli_fail(cli, CLI_USAGE, "the two are not the same; nothing was changed");
    (void)snprintf(question, sizeof question,
                   "The PIN of %.20s, who vouches for it:", by == NULL ? "" : by);
    if (by != NULL && !pin_read(cli, question, given->voucher))
        return cli_fail(cli, CLI_USAGE,
                        "the PIN of who vouches is missing; nothing was changed");
    return CLI_DONE;
}

int
cli_pin(struct cli *cli, int argc, char **argv)
{
    static const struct option_spec options[] = {{"by", 'b'}};
    struct options_read read;
    struct pins_given given = {0};
    int code = options_read(cli, argc, argv, options, 1, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, "pin");
    if (read.word_count != 1)
        return cli_fail(cli, CLI_USAGE, "say whose PIN");
    code = ask_pins(cli, read.value[0], &given);
    if (code == CLI_DONE)
        code = send_pin(cli, read.word[0], read.value[0], &given);
    sodium_memzero(&given, sizeof given);
    return code == CLI_DONE ? cli_finish(cli, CLI_DONE) : code;
}
