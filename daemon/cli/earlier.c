/* Earlier batches for the verbs.  See earlier.h. */
#include "daemon/cli/earlier.h"

#include "daemon/cli/records.h"
#include "trivet/typed.h"

int
earlier_records_open(const struct cli *cli, const char *product, enum forecast_kind kind,
                     struct earlier_records *ret)
{
    char directory[RECORDS_DIRECTORY_MAX], shown[60];
    struct store_error trouble = {.text = ""};
    *ret = (struct earlier_records){.reader = NULL};
    int code = records_find_store(cli, directory);
    if (code != CLI_DONE)
        return code;
    ret->reader = store_reader_open(directory, &trouble);
    if (ret->reader == NULL ||
        earlier_open(ret->reader, product, kind, 0, &ret->earlier, &trouble) != STORE_OK)
        return cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
    if (!ret->earlier.known)
        return cli_fail(cli, CLI_USAGE,
                        "the plan in the records has no product '%s'; write its id or name as "
                        "`trivet begin` lists it",
                        typed_shown(shown, sizeof shown, product));
    return CLI_DONE;
}

void
earlier_records_close(struct earlier_records *records)
{
    earlier_close(&records->earlier);
    store_reader_close(records->reader);
    records->reader = NULL;
}

int
earlier_records_curve(const struct cli *cli, const struct earlier_records *records,
                      const struct earlier_batch *batch, struct earlier_curve *ret)
{
    struct store_error trouble = {.text = ""};
    if (earlier_curve_read(records->reader, &records->earlier, batch, ret, &trouble) ==
        STORE_OK)
        return CLI_DONE;
    earlier_curve_free(ret);
    return cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
}
