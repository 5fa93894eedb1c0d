/* What reads the store itself. See records.h. */
#include "daemon/cli/records.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/client.h"
#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/options.h"
#include "daemon/cli/outfile.h"
#include "daemon/cli/when.h"
#include "trivet/clock.h"
#include "trivet/export.h"
#include "trivet/plan.h"
#include "trivet/recorder.h"
#include "trivet/store.h"
#include "trivet/typed.h"
#include "trivet/units.h"
#include "trivet/zone.h"

#define DIRECTORY_MAX RECORDS_DIRECTORY_MAX
#define WHY_MAX       600

int
records_find_store(const struct cli *cli, char ret[DIRECTORY_MAX])
{
    if (cli->store != NULL) {
        if (snprintf(ret, DIRECTORY_MAX, "%s", cli->store) >= DIRECTORY_MAX)
            return cli_fail(cli, CLI_USAGE, "--store: that path is too long");
        return CLI_DONE;
    }
    json_t *answer = NULL;
    int code = client_question(cli, "where", &answer);
    if (code != CLI_DONE) {
        (void)fputs("Without the daemon, say where the records are: --store DIR\n", cli->err);
        return code;
    }
    const char *directory = lists_text(json_object_get(answer, "where"), "store");
    bool fits = snprintf(ret, DIRECTORY_MAX, "%s", directory) < DIRECTORY_MAX;
    json_decref(answer);
    return fits ? CLI_DONE : cli_fail(cli, CLI_UNREACHABLE, "the store's path is too long");
}

/* ---- the site's clock, from the records ---- */

static bool
see_plan(void *arg, const struct store_record *record)
{
    struct site_time *site = arg;
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    const char *text = lists_text(data, "text");
    struct plan_faults *faults = malloc(sizeof *faults);
    struct plan *plan =
        faults == NULL ? NULL : plan_load_record("recorded plan", text, strlen(text), faults);
    if (plan != NULL) {
        site->zone = zone_shared(plan->time_zone);
        site->demo = plan->demo;
    }
    plan_free(plan);
    free(faults);
    json_decref(data);
    return true;
}

static bool
see_clock(void *arg, const struct store_record *record)
{
    struct site_time *site = arg;
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    site->offset_ms = lists_int(data, "offset_ms");
    json_decref(data);
    return true;
}

/* The last plan and the last step of the clock are in force. */
enum store_status
records_site_time(struct store_reader *reader, struct site_time *ret,
                  struct store_error *reterr)
{
    *ret = (struct site_time){.zone = zone_shared("UTC")};
    struct store_head head;
    enum store_status status = store_reader_head(reader, &head, reterr);
    if (status == STORE_OK)
        status = store_each_record(reader, 0, head.seq, "plan", see_plan, ret, reterr);
    if (status == STORE_OK)
        status = store_each_record(reader, 0, head.seq, "clock", see_clock, ret, reterr);
    return status;
}

/* ---- export ---- */

enum { OPTION_FROM, OPTION_TO, OPTION_OUT, OPTION_COUNT };

static const struct option_spec export_options[OPTION_COUNT] = {
    [OPTION_FROM] = {"from", 'f'},
    [OPTION_TO] = {"to", 't'},
    [OPTION_OUT] = {"out", 'o'},
};

static bool
write_bytes(void *arg, const char *bytes, size_t len)
{
    return fwrite(bytes, 1, len, arg) == len;
}

/* On the records' time line. */
static int
export_range(const struct cli *cli, const struct options_read *read,
             const struct site_time *site, int64_t *ret_from_ms, int64_t *ret_to_ms)
{
    char why[WHY_MAX];
    struct clock clock = clock_machine();
    int64_t now_ms = clock_wall_ms(&clock);
    const char *from = read->value[OPTION_FROM], *to = read->value[OPTION_TO];
    if (!when_edge(from == NULL ? "today" : from, WHEN_FROM, site->zone, now_ms, ret_from_ms,
                   why, sizeof why))
        return cli_fail(cli, CLI_USAGE, "--from: %s", why);
    if (!when_edge(to == NULL ? "today" : to, WHEN_TO, site->zone, now_ms, ret_to_ms, why,
                   sizeof why))
        return cli_fail(cli, CLI_USAGE, "--to: %s", why);
    if (*ret_from_ms >= *ret_to_ms)
        return cli_fail(cli, CLI_USAGE, "--from has to be before --to");
    *ret_from_ms -= site->offset_ms;
    *ret_to_ms -= site->offset_ms;
    return CLI_DONE;
}

static int
export_to(const struct cli *cli, struct store_reader *reader, enum export_kind kind,
          int64_t from_ms, int64_t to_ms, const char *path)
{
    struct outfile file;
    struct store_error trouble = {.text = ""};
    char why[WHY_MAX];
    if (path == NULL) {
        enum store_status status =
            export_csv(reader, kind, from_ms, to_ms, write_bytes, cli->out, &trouble);
        int code = cli_finish(cli, CLI_DONE);
        if (code == CLI_DONE && status != STORE_OK)
            code = cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
        return code;
    }
    if (!outfile_open(&file, path, why, sizeof why))
        return cli_fail(cli, CLI_NO, "%s", why);
    if (export_csv(reader, kind, from_ms, to_ms, write_bytes, file.to, &trouble) != STORE_OK) {
        bool disk = ferror(file.to) != 0;
        outfile_drop(&file);
        return cli_fail(cli, disk ? CLI_NO : CLI_UNREACHABLE, "%s",
                        disk ? "the file could not be written: is its disk full?"
                             : trouble.text);
    }
    if (!outfile_keep(&file, why, sizeof why))
        return cli_fail(cli, CLI_NO, "%s", why);
    if (cli->json)
        (void)fputs("{\"done\":true}\n", cli->out);
    else if (!cli->quiet)
        (void)fprintf(cli->out, "Written: %s\n", path);
    return cli_finish(cli, CLI_DONE);
}

static int
export_what(const struct cli *cli, const struct options_read *read, enum export_kind *ret)
{
    char shown[40];
    if (read->word_count == 1 && export_kind_from_word(read->word[0], ret))
        return CLI_DONE;
    return cli_fail(cli, CLI_USAGE,
                    "%s%s: say readings, batches, deviations, actions, entries, decisions, "
                    "people, calibrations, switches or records",
                    read->word_count == 1 ? "there is no table " : "one table at a time",
                    read->word_count == 1 ? typed_shown(shown, sizeof shown, read->word[0])
                                          : "");
}

int
cli_export(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    enum export_kind kind = EXPORT_READINGS;
    char directory[DIRECTORY_MAX];
    int code = options_read(cli, argc, argv, export_options, OPTION_COUNT, &read);
    if (code == CLI_DONE && read.help)
        return help_verb(cli, argv[0]);
    if (code == CLI_DONE)
        code = export_what(cli, &read, &kind);
    if (code == CLI_DONE)
        code = records_find_store(cli, directory);
    if (code != CLI_DONE)
        return code;
    struct store_error trouble = {.text = ""};
    struct store_reader *reader = store_reader_open(directory, &trouble);
    struct site_time site;
    if (reader == NULL || records_site_time(reader, &site, &trouble) != STORE_OK) {
        store_reader_close(reader);
        return cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
    }
    int64_t from_ms = 0, to_ms = 0;
    code = export_range(cli, &read, &site, &from_ms, &to_ms);
    if (code == CLI_DONE)
        code = export_to(cli, reader, kind, from_ms, to_ms, read.value[OPTION_OUT]);
    store_reader_close(reader);
    if (code == CLI_DONE && site.demo && !cli->quiet)
        (void)fputs("DEMO DATA, no real food: never to be shown as a kitchen's records.\n",
                    cli->err);
    return code;
}

/* ---- chain ---- */

/* Options and directory, shared by chain and replay. CLI_DONE with directory "": help was
 * shown. */
static int
prepare(struct cli *cli, int argc, char **argv, char directory[DIRECTORY_MAX])
{
    struct options_read read;
    directory[0] = '\0';
    int code = options_read(cli, argc, argv, NULL, 0, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count > 0)
        return cli_fail(cli, CLI_USAGE,
                        "there is nothing more to say here; see `trivet help %s`", cli->verb);
    return records_find_store(cli, directory);
}

static char *
hex_text(const uint8_t hash[32], char buf[65])
{
    for (size_t i = 0; i < 32; i++)
        (void)snprintf(buf + 2 * i, 3, "%02x", hash[i]);
    return buf;
}

static void
print_chain_json(const struct cli *cli, const struct store_verdict *verdict)
{
    char hex[65];
    json_t *object =
        json_pack("{s:b, s:I, s:I, s:I, s:I, s:I, s:s, s:s}", "ok", verdict->ok, "records",
                  (json_int_t)verdict->records, "readings", (json_int_t)verdict->readings,
                  "seals", (json_int_t)verdict->seals, "unsealed",
                  (json_int_t)verdict->unsealed, "bad_seq", (json_int_t)verdict->bad_seq,
                  "head", hex_text(verdict->head, hex), "say", verdict->text);
    if (object != NULL && verdict->bad_from_ms != TIME_NONE) {
        (void)json_object_set_new(object, "bad_from_ms", json_integer(verdict->bad_from_ms));
        (void)json_object_set_new(object, "bad_to_ms", json_integer(verdict->bad_to_ms));
    }
    if (object != NULL)
        (void)json_dumpf(object, cli->out, JSON_COMPACT);
    (void)fputc('\n', cli->out);
    json_decref(object);
}

static void
print_chain(const struct cli *cli, const struct store_verdict *verdict)
{
    char hex[65];
    (void)fputs(verdict->ok ? "Nothing was altered: " : "SOMETHING WAS ALTERED: ", cli->out);
    cli_print_clean(cli->out, verdict->text);
    (void)fprintf(cli->out, "\nThe chain ends with %s\n", hex_text(verdict->head, hex));
}

int
cli_chain(struct cli *cli, int argc, char **argv)
{
    char directory[DIRECTORY_MAX];
    int code = prepare(cli, argc, argv, directory);
    if (code != CLI_DONE || directory[0] == '\0')
        return code;
    struct store_verdict verdict = {.bad_from_ms = TIME_NONE, .bad_to_ms = TIME_NONE};
    struct store_error trouble = {.text = ""};
    if (store_verify(directory, &verdict, &trouble) != STORE_OK)
        return cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
    if (cli->json)
        print_chain_json(cli, &verdict);
    else if (!cli->quiet)
        print_chain(cli, &verdict);
    return cli_finish(cli, verdict.ok ? CLI_DONE : CLI_NO);
}

/* ---- replay ---- */

static void
print_replay(const struct cli *cli, const struct replay_result *result)
{
    if (cli->json) {
        json_t *object = json_pack(
            "{s:b, s:I, s:I, s:I, s:s, s:s, s:s}", "same", result->same, "inputs",
            (json_int_t)result->inputs, "decisions", (json_int_t)result->decisions,
            "differs_at", (json_int_t)result->differs_at, "recorded_engine",
            result->recorded_engine, "this_engine", result->this_engine, "say", result->text);
        if (object != NULL)
            (void)json_dumpf(object, cli->out, JSON_COMPACT);
        (void)fputc('\n', cli->out);
        json_decref(object);
        return;
    }
    (void)fprintf(cli->out, "%s %" PRIu64 " inputs, %" PRIu64 " decisions.\n",
                  result->same ? "Judged anew, every decision is the same."
                               : "JUDGED ANEW, A DECISION DIFFERS.",
                  result->inputs, result->decisions);
    if (result->text[0] != '\0')
        (void)fprintf(cli->out, "%s\n", result->text);
    if (strcmp(result->recorded_engine, result->this_engine) != 0)
        (void)fprintf(cli->out, "Recorded by engine %s, judged anew by engine %s.\n",
                      result->recorded_engine, result->this_engine);
}

int
cli_replay(struct cli *cli, int argc, char **argv)
{
    char directory[DIRECTORY_MAX];
    int code = prepare(cli, argc, argv, directory);
    if (code != CLI_DONE || directory[0] == '\0')
        return code;
    struct replay_result result = {.same = false};
    struct store_error trouble = {.text = ""};
    if (replay_store(directory, &result, &trouble) != STORE_OK)
        return cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
    if (!cli->quiet)
        print_replay(cli, &result);
    return cli_finish(cli, result.same ? CLI_DONE : CLI_NO);
}
