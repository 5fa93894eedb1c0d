/* trivet haccp: takes a plan file, or the plan in force from the records, and prints it as a
 * HACCP table. See haccp.h. Changes nothing. */
#include "daemon/cli/haccp.h"

#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/help.h"
#include "daemon/cli/options.h"
#include "daemon/cli/outfile.h"
#include "daemon/cli/records.h"
#include "trivet/store.h"

#define WHY_MAX 600

enum { OPTION_HTML, OPTION_OUT, OPTION_COUNT };

static const struct option_spec options[OPTION_COUNT] = {
    [OPTION_HTML] = {"html", OPTION_FLAG},
    [OPTION_OUT] = {"out", 'o'},
};

/* ---- the plan ---- */

static int
tell_faults(const struct cli *cli, const char *file, const struct plan_faults *faults)
{
    const size_t size = 65536;
    char *text = malloc(size);
    if (text != NULL) {
        (void)plan_faults_text(faults, file, text, size);
        (void)fputs(text, cli->err);
    }
    free(text);
    return cli_fail(cli, CLI_NO,
                    "this plan has faults and would not be used; put them right "
                    "first");
}

static int
from_file(const struct cli *cli, const char *file, struct plan_faults *faults,
          struct plan **ret)
{
    *ret = plan_load(file, faults);
    return *ret != NULL ? CLI_DONE : tell_faults(cli, file, faults);
}

static bool
take_text(void *arg, const struct store_record *record)
{
    char **text = arg;
    json_t *data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    const char *found = json_string_value(json_object_get(data, "text"));
    free(*text);
    *text = found == NULL ? NULL : strdup(found);
    json_decref(data);
    return true;
}

/* The last plan on record is the one in force. */
static int
from_records(const struct cli *cli, struct plan_faults *faults, struct plan **ret)
{
    char directory[RECORDS_DIRECTORY_MAX];
    struct store_error trouble = {.text = ""};
    struct store_head head;
    char *text = NULL;
    int code = records_find_store(cli, directory);
    if (code != CLI_DONE)
        return code;
    struct store_reader *reader = store_reader_open(directory, &trouble);
    bool read =
        reader != NULL && store_reader_head(reader, &head, &trouble) == STORE_OK &&
        store_each_record(reader, 0, head.seq, "plan", take_text, &text, &trouble) == STORE_OK;
    store_reader_close(reader);
    if (!read)
        code = cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
    else if (text == NULL)
        code = cli_fail(cli, CLI_NO, "no plan is on record there; name a plan file");
    else if ((*ret = plan_load_record("recorded plan", text, strlen(text), faults)) == NULL)
        code = tell_faults(cli, "recorded plan", faults);
    free(text);
    return code;
}

/* ---- printing ---- */

static int
print(const struct cli *cli, const struct plan *plan, bool html, const char *path)
{
    struct outfile file;
    char why[WHY_MAX];
    if (path == NULL) {
        (void)(html ? haccp_html(plan, cli->out) : haccp_text(plan, cli->out));
        return cli_finish(cli, CLI_DONE);
    }
    if (!outfile_open(&file, path, why, sizeof why))
        return cli_fail(cli, CLI_NO, "%s", why);
    if (!(html ? haccp_html(plan, file.to) : haccp_text(plan, file.to))) {
        outfile_drop(&file);
        return cli_fail(cli, CLI_NO, "the file could not be written: is its disk full?");
    }
    if (!outfile_keep(&file, why, sizeof why))
        return cli_fail(cli, CLI_NO, "%s", why);
    if (!cli->quiet)
        (void)fprintf(cli->out, "Written: %s\n", path);
    return cli_finish(cli, CLI_DONE);
}

int
cli_haccp(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    int code = options_read(cli, argc, argv, options, OPTION_COUNT, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count > 1)
        return cli_fail(cli, CLI_USAGE, "name one plan file, or none for the plan in force");
    struct plan_faults *faults = calloc(1, sizeof *faults);
    struct plan *plan = NULL;
    if (faults == NULL)
        return cli_fail(cli, CLI_NO, "out of memory");
    code = read.word_count == 1 ? from_file(cli, read.word[0], faults, &plan)
                                : from_records(cli, faults, &plan);
    if (code == CLI_DONE)
        code = print(cli, plan, read.value[OPTION_HTML] != NULL, read.value[OPTION_OUT]);
    plan_free(plan);
    free(faults);
    return code;
}
