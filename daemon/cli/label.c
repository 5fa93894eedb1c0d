/* `trivet label`: a few lines of text for each dated food, a batch or in store, that a label
 * printer takes as they are. Asks the daemon once; changes nothing. */
#include "daemon/cli/label.h"

#include <inttypes.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/client.h"
#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/options.h"

static void
put(const struct cli *cli, const char *before, const char *text)
{
    (void)fputs(before, cli->out);
    cli_print_clean(cli->out, text);
    (void)fputc('\n', cli->out);
}

static void
put_date(const struct cli *cli, const json_t *mark)
{
    int64_t days = lists_int(mark, "days"), used = lists_int(mark, "used");
    const char *last = lists_text(mark, "last_day");
    if (json_is_true(json_object_get(mark, "passed")))
        (void)fputs("THROW AWAY: its last day is over\n", cli->out);
    else if (last[0] == '\0')
        (void)fputs("Its last day is not known yet\n", cli->out);
    else if (json_is_true(json_object_get(mark, "frozen")))
        (void)fprintf(cli->out,
                      "FROZEN after day %" PRId64 " of %" PRId64
                      "; thawed today, use by the end of %.10s\n",
                      used, days, last);
    else
        (void)fprintf(cli->out, "USE BY THE END OF %.10s or throw away\n", last);
}

static void
print_label(const struct cli *cli, const json_t *now, const json_t *food, int64_t number)
{
    put(cli, "", lists_text(food, "product_name"));
    put_date(cli, json_object_get(food, "date_mark"));
    (void)fprintf(cli->out, "Batch %" PRId64 ", ", number);
    put(cli, "", lists_text(now, "site"));
}

/* Prints those of a list; all when number is 0. Returns how many. */
static size_t
print_labels(const struct cli *cli, const json_t *now, const char *list, const char *key,
             int64_t number, size_t before)
{
    const json_t *all = json_object_get(now, list);
    size_t count = 0;
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *food = json_array_get(all, i);
        if (json_object_get(food, "date_mark") == NULL ||
            (number != 0 && lists_int(food, key) != number))
            continue;
        if (before + count++ > 0)
            (void)fputc('\n', cli->out);
        print_label(cli, now, food, lists_int(food, key));
    }
    return count;
}

static int
print_all(const struct cli *cli, const json_t *now, int64_t number)
{
    size_t count = print_labels(cli, now, "batches", "number", number, 0);
    count += print_labels(cli, now, "stored", "batch", number, count);
    if (count == 0 && number != 0)
        return cli_fail(cli, CLI_NO,
                        "batch %" PRId64
                        " has no date: it is neither open nor in store, or its product has no "
                        "date_mark in the plan",
                        number);
    if (count == 0)
        return cli_fail(cli, CLI_NO, "no food here has a date");
    return cli_finish(cli, CLI_DONE);
}

int
cli_label(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    uint64_t number = 0;
    char why[200];
    json_t *answer = NULL;
    int code = options_read(cli, argc, argv, NULL, 0, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count > 1)
        return cli_fail(cli, CLI_USAGE, "one batch at a time, or none for all");
    if (read.word_count == 1 &&
        !amount_number(read.word[0], UINT32_MAX, &number, why, sizeof why))
        return cli_fail(cli, CLI_USAGE, "%s", why);
    code = client_question(cli, "now", &answer);
    if (answer == NULL)
        return code;
    code = print_all(cli, json_object_get(answer, "now"), (int64_t)number);
    json_decref(answer);
    return code;
}
