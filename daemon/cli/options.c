/* Reads a subcommand's arguments. See options.h. */
#include "daemon/cli/options.h"

#include <assert.h>
#include <getopt.h>
#include <stdlib.h>
#include <string.h>

#include "trivet/typed.h"

/* What getopt_long returns for the options every subcommand has; below any letter. */
enum {
    COMMON_WORD = 1,
    COMMON_JSON,
    COMMON_SOCKET,
    COMMON_QUIET,
    COMMON_STORE,
    COMMON_PIN,
    COMMON_FIRST_OWN = 256
};

static const struct option common[] = {
    {"json", no_argument, NULL, COMMON_JSON},
    {"quiet", no_argument, NULL, COMMON_QUIET},
    {"socket", required_argument, NULL, COMMON_SOCKET},
    {"store", required_argument, NULL, COMMON_STORE},
    {"pin-fd", required_argument, NULL, COMMON_PIN},
    {"help", no_argument, NULL, 'h'},
};

#define COMMON_COUNT (sizeof common / sizeof *common)

/* getopt would take "-18.5" for options; with a blank before it, it is a word, and number
 * readers skip blanks. */
static char *
shield_negative_number(char *word)
{
    static char shielded[OPTIONS_MAX][32];
    static size_t used;
    if (word[0] != '-' || strspn(word + 1, "0123456789.") == 0 ||
        strlen(word) + 2 > sizeof shielded[0] || used == OPTIONS_MAX)
        return word;
    char *copy = shielded[used++];
    copy[0] = ' ';
    memcpy(copy + 1, word, strlen(word) + 1);
    return copy;
}

static bool
take_common(struct cli *cli, int found, struct options_read *ret)
{
    switch (found) {
    case COMMON_JSON:
        cli->json = true;
        return true;
    case COMMON_QUIET:
        cli->quiet = true;
        return true;
    case COMMON_SOCKET:
        cli->socket = optarg;
        return true;
    case COMMON_STORE:
        cli->store = optarg;
        return true;
    case COMMON_PIN: /* what is no small number is none: the PIN is then missing */
        cli->pin_from = strspn(optarg, "0123456789") == strlen(optarg) && strlen(optarg) < 5
                            ? (int)strtol(optarg, NULL, 10) + 1
                            : 0;
        return true;
    case 'h':
        ret->help = true;
        return true;
    default:
        return false;
    }
}

static int
complain(const struct cli *cli, int argc, char **argv, bool missing)
{
    char shown[60];
    const char *at = optind > 0 && optind <= argc ? argv[optind - 1] : "";
    if (missing)
        return cli_fail(cli, CLI_USAGE, "%s wants a value after it; see `trivet help %s`",
                        typed_shown(shown, sizeof shown, at), cli->verb);
    return cli_fail(cli, CLI_USAGE, "%s is not an option here; see `trivet help %s`",
                    typed_shown(shown, sizeof shown, at), cli->verb);
}

static int
take_word(const struct cli *cli, const char *word, struct options_read *ret)
{
    if (ret->word_count == OPTIONS_MAX)
        return cli_fail(cli, CLI_USAGE, "that are too many words; see `trivet help %s`",
                        cli->verb);
    ret->word[ret->word_count++] = word;
    return CLI_DONE;
}

static int
take_value(const struct cli *cli, const struct option_spec *specs, size_t index,
           struct options_read *ret)
{
    if (ret->value[index] != NULL)
        return cli_fail(cli, CLI_USAGE, "--%s is given twice: give it once", specs[index].name);
    ret->value[index] = specs[index].letter == OPTION_FLAG ? "yes" : optarg;
    return CLI_DONE;
}

/* The long table and the short string of getopt_long. ':' first: a missing value is told apart;
 * '-' : words come in order. */
static void
build_tables(const struct option_spec *specs, size_t count, struct option *ret_longs,
             char *ret_shorts)
{
    size_t len = 0;
    ret_shorts[len++] = '-';
    ret_shorts[len++] = ':';
    ret_shorts[len++] = 'h';
    for (size_t i = 0; i < count; i++) {
        ret_longs[i] = (struct option){
            specs[i].name, specs[i].letter == OPTION_FLAG ? no_argument : required_argument,
            NULL, COMMON_FIRST_OWN + (int)i};
        if (specs[i].letter != '\0' && specs[i].letter != OPTION_FLAG) {
            ret_shorts[len++] = specs[i].letter;
            ret_shorts[len++] = ':';
        }
    }
    ret_shorts[len] = '\0';
    memcpy(ret_longs + count, common, sizeof common);
    ret_longs[count + COMMON_COUNT] = (struct option){NULL, 0, NULL, 0};
}

static int
take_one(struct cli *cli, int argc, char **argv, const struct option_spec *specs, size_t count,
         int found, struct options_read *ret)
{
    if (found == '?' || found == ':')
        return complain(cli, argc, argv, found == ':');
    if (found == COMMON_WORD)
        return take_word(cli, optarg, ret);
    if (take_common(cli, found, ret))
        return CLI_DONE;
    for (size_t i = 0; i < count; i++)
        if (found == COMMON_FIRST_OWN + (int)i || found == specs[i].letter)
            return take_value(cli, specs, i, ret);
    return complain(cli, argc, argv, false);
}

int
options_read(struct cli *cli, int argc, char **argv, const struct option_spec *specs,
             size_t count, struct options_read *ret)
{
    assert(count <= OPTIONS_MAX);
    struct option longs[OPTIONS_MAX + COMMON_COUNT + 1];
    char shorts[4 + 2 * OPTIONS_MAX];
    memset(ret, 0, sizeof *ret);
    build_tables(specs, count, longs, shorts);
    for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++)
        argv[i] = shield_negative_number(argv[i]);
    optind = 0; /* glibc: begin anew */
    opterr = 0;
    int found, code = CLI_DONE;
    while (code == CLI_DONE && (found = getopt_long(argc, argv, shorts, longs, NULL)) != -1)
        code = take_one(cli, argc, argv, specs, count, found, ret);
    while (code == CLI_DONE && optind < argc) /* after "--" */
        code = take_word(cli, argv[optind++], ret);
    return code;
}
