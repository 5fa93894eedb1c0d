/* trivet why: finds the decisions behind a record, a deviation or a batch and tells each. See
 * why.h. Reads the store itself; needs no daemon. */
#include "daemon/cli/why.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/help.h"
#include "daemon/cli/options.h"
#include "daemon/cli/records.h"
#include "trivet/typed.h"

#define SEQS_MAX 500

struct asked {
    const struct cli *cli;
    struct store_reader *reader;
    struct explain_id id;
    uint64_t seqs[SEQS_MAX];
    size_t count;
    bool more; /* decisions than are told */
    bool demo;
};

static bool
take_seq(void *arg, uint64_t seq, const struct decision *decision)
{
    struct asked *asked = arg;
    (void)decision;
    asked->more = asked->count == SEQS_MAX;
    if (!asked->more)
        asked->seqs[asked->count++] = seq;
    return !asked->more;
}

static int
find_decisions(struct asked *asked)
{
    struct store_error trouble = {.text = ""};
    if (asked->id.of == EXPLAIN_RECORD) { /* whatever it is */
        asked->seqs[asked->count++] = asked->id.number;
        return CLI_DONE;
    }
    if (explain_each(asked->reader, &asked->id, take_seq, asked, &trouble) != STORE_OK)
        return cli_fail(asked->cli, CLI_UNREACHABLE, "%s", trouble.text);
    return CLI_DONE;
}

static int
nothing(const struct asked *asked)
{
    static const char *const names[] = {"record", "deviation", "batch"};
    static const char *const lists[] = {"trivet export records", "trivet export deviations",
                                        "trivet export batches"};
    return cli_fail(asked->cli, CLI_NO,
                    "these records hold no %s %" PRIu64 "; `%s` lists what there is",
                    names[asked->id.of], asked->id.number, lists[asked->id.of]);
}

/* A batch has many: a line each, with the number to ask for. */
static void
show_line(const struct cli *cli, const struct explanation *of)
{
    char stamp[40], text[EXPLAIN_WORDS_MAX + 40];
    (void)snprintf(text, sizeof text, "%s%s%s", of->words.what,
                   of->rule.number[0] == '\0' ? "" : ", rule ", of->rule.number);
    (void)fprintf(cli->out, "%8" PRIu64 "  %s  ", of->seq, why_stamp(of, of->at_ms, stamp));
    cli_print_wrapped(cli->out, text, 31, 31);
}

static int
tell(struct asked *asked, size_t at, json_t *list)
{
    struct explanation *of = NULL;
    struct store_error trouble = {.text = ""};
    if (explain_record(asked->reader, asked->seqs[at], &of, &trouble) != STORE_OK)
        return cli_fail(asked->cli, CLI_UNREACHABLE, "%s", trouble.text);
    if (of == NULL)
        return nothing(asked);
    asked->demo = asked->demo || (of->plan != NULL && of->plan->demo);
    if (list != NULL)
        (void)json_array_append_new(list, why_json(of));
    else if (asked->id.of == EXPLAIN_BATCH)
        show_line(asked->cli, of);
    else
        why_show(asked->cli, of);
    if (list == NULL && asked->id.of == EXPLAIN_DEVIATION && at + 1 < asked->count)
        (void)fputc('\n', asked->cli->out);
    explanation_free(of);
    return CLI_DONE;
}

static void
close_text(const struct asked *asked)
{
    FILE *out = asked->cli->out;
    if (asked->id.of == EXPLAIN_BATCH)
        (void)fputs("`trivet why NUMBER` explains one of them.\n", out);
    if (asked->more)
        (void)fprintf(out, "Only the first %d are told.\n", SEQS_MAX);
    (void)fputs("Local food codes and the authority prevail.\n", out);
    if (asked->demo)
        (void)fputs("DEMO DATA, no real food: never to be shown as a kitchen's records.\n",
                    asked->cli->err);
}

static int
answer(struct asked *asked)
{
    const struct cli *cli = asked->cli;
    json_t *list = cli->json ? json_array() : NULL;
    int code = find_decisions(asked);
    if (code == CLI_DONE && asked->count == 0)
        code = nothing(asked);
    for (size_t i = 0; code == CLI_DONE && i < asked->count; i++)
        code = tell(asked, i, list);
    if (code == CLI_DONE && list != NULL) {
        (void)json_dumpf(list, cli->out, JSON_COMPACT);
        (void)fputc('\n', cli->out);
    } else if (code == CLI_DONE) {
        close_text(asked);
    }
    json_decref(list);
    return code == CLI_DONE ? cli_finish(cli, code) : code;
}

static int
read_id(const struct cli *cli, const struct options_read *read, struct explain_id *ret)
{
    char shown[40];
    if (read->word_count == 1 && explain_id_read(read->word[0], ret))
        return CLI_DONE;
    if (read->word_count != 1)
        return cli_fail(
            cli, CLI_USAGE,
            "say what about: d3 for a deviation, b12 for a batch, 214 for a record");
    return cli_fail(
        cli, CLI_USAGE,
        "%s is no number of ours: write d3 for a deviation, b12 for a batch, 214 for "
        "a record",
        typed_shown(shown, sizeof shown, read->word[0]));
}

int
cli_why(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    struct store_error trouble = {.text = ""};
    char directory[RECORDS_DIRECTORY_MAX];
    struct asked *asked = calloc(1, sizeof *asked);
    if (asked == NULL)
        return cli_fail(cli, CLI_UNREACHABLE, "out of memory");
    asked->cli = cli;
    int code = options_read(cli, argc, argv, NULL, 0, &read);
    bool help = code == CLI_DONE && read.help;
    if (help)
        code = help_verb(cli, argv[0]);
    else if (code == CLI_DONE)
        code = read_id(cli, &read, &asked->id);
    if (code == CLI_DONE && !help)
        code = records_find_store(cli, directory);
    if (code == CLI_DONE && !help) {
        asked->reader = store_reader_open(directory, &trouble);
        code = asked->reader == NULL ? cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text)
                                     : answer(asked);
        store_reader_close(asked->reader);
    }
    free(asked);
    return code;
}
