/* trivet compare: batches of one product from the records, side by side. See compare.h. Reads
 * the store itself; records nothing. */
#include "daemon/cli/compare.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/help.h"
#include "daemon/cli/options.h"
#include "daemon/cli/outfile.h"

#define WHY_MAX 300

enum { OPTION_LAST, OPTION_AS, OPTION_OUT, OPTION_COOLING, OPTION_COUNT };

static const struct option_spec options[OPTION_COUNT] = {
    [OPTION_LAST] = {"last", 'n'},
    [OPTION_AS] = {"as", 0},
    [OPTION_OUT] = {"out", 'o'},
    [OPTION_COOLING] = {"cooling", OPTION_FLAG},
};

static const struct {
    const char *word;
    void (*write)(FILE *out, const struct compared *of);
} FORMS[] = {{"text", compare_text},
             {"csv", compare_csv},
             {"curves", compare_curves},
             {"svg", compare_svg}};

enum { FORM_COUNT = sizeof FORMS / sizeof *FORMS };

static int
read_form(const struct cli *cli, const char *word, size_t *ret)
{
    *ret = 0;
    while (word != NULL && *ret < FORM_COUNT && strcmp(FORMS[*ret].word, word) != 0)
        ++*ret;
    return *ret < FORM_COUNT ? CLI_DONE
                             : cli_fail(cli, CLI_USAGE, "--as: write text, csv, curves or svg");
}

static int
read_last(const struct cli *cli, const char *text, size_t *ret)
{
    char why[WHY_MAX];
    uint64_t number = 6;
    if (text != NULL && !amount_number(text, COMPARE_BATCHES_MAX, &number, why, sizeof why))
        return cli_fail(cli, CLI_USAGE, "--last: %s", why);
    *ret = (size_t)number;
    return CLI_DONE;
}

static int
gather(const struct cli *cli, const struct earlier_records *records, size_t last,
       struct compared *of)
{
    const struct earlier *earlier = &records->earlier;
    size_t first = earlier->count > last ? earlier->count - last : 0;
    of->kind = earlier->kind;
    of->name = earlier->name;
    of->zone = earlier->zone;
    for (size_t i = first; i < earlier->count; i++) {
        struct compare_row *row = &of->row[of->count];
        row->batch = &earlier->batch[i];
        int code = earlier_records_curve(cli, records, row->batch, &row->curve);
        if (code != CLI_DONE)
            return code;
        of->count++;
        compare_figures(row, of->kind);
    }
    if (of->count == 0)
        return cli_fail(cli, CLI_NO, "no batch of %s with a food probe has been in the %s",
                        earlier->name, of->kind == FORECAST_COOK ? "heat" : "cold");
    return CLI_DONE;
}

/* Its heating; its cooling if that is asked for, or all there is to it. */
static int
open_records(const struct cli *cli, const char *product, bool cooling,
             struct earlier_records *ret)
{
    enum forecast_kind kind = cooling ? FORECAST_COOLING : FORECAST_COOK;
    int code = earlier_records_open(cli, product, kind, ret);
    if (code != CLI_DONE || cooling || ret->earlier.count > 0 || ret->earlier.limit.milli != 0)
        return code;
    earlier_records_close(ret);
    return earlier_records_open(cli, product, FORECAST_COOLING, ret);
}

static int
write_out(const struct cli *cli, const struct compared *of, size_t form, const char *path)
{
    char why[WHY_MAX];
    struct outfile file;
    if (path == NULL) {
        FORMS[form].write(cli->out, of);
        return cli_finish(cli, CLI_DONE);
    }
    if (!outfile_open(&file, path, why, sizeof why))
        return cli_fail(cli, CLI_NO, "%s", why);
    FORMS[form].write(file.to, of);
    if (!outfile_keep(&file, why, sizeof why))
        return cli_fail(cli, CLI_NO, "%s", why);
    if (!cli->quiet)
        (void)fprintf(cli->out, "Written: %s\n", path);
    return cli_finish(cli, CLI_DONE);
}

int
cli_compare(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    struct earlier_records records = {.reader = NULL};
    size_t form = 0, last = 0;
    int code = options_read(cli, argc, argv, options, OPTION_COUNT, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count != 1)
        return cli_fail(cli, CLI_USAGE, "name one product");
    code = read_form(cli, read.value[OPTION_AS], &form);
    if (code == CLI_DONE)
        code = read_last(cli, read.value[OPTION_LAST], &last);
    if (code != CLI_DONE)
        return code;
    struct compared *of = calloc(1, sizeof *of);
    if (of == NULL)
        return cli_fail(cli, CLI_USAGE, "no memory to compare");
    code = open_records(cli, read.word[0], read.value[OPTION_COOLING] != NULL, &records);
    if (code == CLI_DONE)
        code = gather(cli, &records, last, of);
    if (code == CLI_DONE)
        code = write_out(cli, of, form, read.value[OPTION_OUT]);
    if (code == CLI_DONE && records.earlier.demo && !cli->quiet)
        (void)fputs("DEMO DATA, no real food: never to be shown as a kitchen's records.\n",
                    cli->err);
    for (size_t i = 0; i < of->count; i++)
        earlier_curve_free(&of->row[i].curve);
    free(of);
    earlier_records_close(&records);
    return code;
}
