/* The plan in force, from the daemon and from its record. See plan_verb.h. */
#include "daemon/cli/plan_verb.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/client.h"
#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/now.h"
#include "daemon/cli/options.h"
#include "trivet/profile.h"
#include "trivet/store.h"
#include "trivet/zone.h"

/* ---- its record ---- */

struct found {
    json_t *data;      /* of the record; NULL when it could not be read */
    struct plan *plan; /* as it says; likewise */
    int64_t at_ms;
};

static bool
read_record(void *arg, const struct store_record *record)
{
    struct found *found = arg;
    found->data = json_loadb(record->data, record->data_len, 0, NULL);
    found->at_ms = record->at_ms;
    const json_t *plan = json_object_get(found->data, "text");
    struct plan_faults *faults = malloc(sizeof *faults);
    if (json_is_string(plan) && faults != NULL)
        found->plan = plan_load_record("recorded plan", json_string_value(plan),
                                       json_string_length(plan), faults);
    free(faults);
    return false;
}

/* Where the store cannot be read only what the daemon says is shown. */
static void
find_record(const struct cli *cli, const json_t *now, struct found *ret)
{
    json_t *answer = NULL;
    struct store_error trouble = {.text = ""};
    uint64_t seq = (uint64_t)lists_int(now, "plan_seq");
    *ret = (struct found){.data = NULL};
    if (seq == 0 || client_question(cli, "where", &answer) != CLI_DONE)
        return;
    const char *directory =
        cli->store != NULL ? cli->store : lists_text(json_object_get(answer, "where"), "store");
    struct store_reader *reader = store_reader_open(directory, &trouble);
    if (reader == NULL ||
        store_each_record(reader, seq - 1, seq, "plan", read_record, ret, &trouble) != STORE_OK)
        (void)cli_fail(cli, CLI_UNREACHABLE, "its record cannot be read: %s", trouble.text);
    store_reader_close(reader);
    json_decref(answer);
}

/* ---- showing ---- */

static void
show(const struct cli *cli, const char *label, const char *text)
{
    (void)fprintf(cli->out, "%-10s ", label);
    cli_print_wrapped(cli->out, text, 11, 11);
}

static void
show_approval(const struct cli *cli, const json_t *now, const json_t *data)
{
    char text[400];
    const json_t *approved = json_object_get(data, "approved");
    const char *name = lists_text(approved, "name"), *role = lists_text(approved, "role");
    if (json_is_true(json_object_get(now, "plan_draft")))
        show(cli, "draft",
             "its limits may change without an approval; write draft: no once "
             "they are approved");
    if (lists_text(now, "plan_approved_by")[0] == '\0') {
        show(cli, "approved", "by nobody, as far as the plan says");
        return;
    }
    (void)snprintf(text, sizeof text, "by %.20s%s%.200s%s%.40s%s on %.20s",
                   lists_text(now, "plan_approved_by"), name[0] != '\0' ? " (" : "", name,
                   role[0] != '\0' ? ", " : "", role, name[0] != '\0' ? ")" : "",
                   lists_text(now, "plan_approved_on"));
    show(cli, "approved", text);
}

static void
show_changes(const struct cli *cli, const json_t *changes)
{
    if (json_array_size(changes) == 0) {
        show(cli, "changes", "no limit of the plan before it");
        return;
    }
    show(cli, "changes", "limits of the plan before it:");
    for (size_t i = 0; i < json_array_size(changes); i++) {
        const json_t *change = json_array_get(changes, i);
        (void)fputs("  ", cli->out);
        cli_print_wrapped(cli->out, lists_text(change, "what"), 2, 2);
        (void)fputs("    before   ", cli->out);
        cli_print_wrapped(cli->out, lists_text(change, "before"), 13, 13);
        (void)fputs("    after    ", cli->out);
        cli_print_wrapped(cli->out, lists_text(change, "after"), 13, 13);
    }
}

/* The published limits that the plan names, from its record. */
static void
show_published(const struct cli *cli, const struct plan *plan)
{
    char text[800];
    for (size_t i = 0; plan != NULL && i < plan->published_count; i++) {
        const struct plan_published *published = &plan->published[i];
        (void)snprintf(text, sizeof text, "%s: %s (%s%s)", published->rule, published->source,
                       published->confidence == CONFIDENCE_VERIFIED ? "" : "NOT VERIFIED, ",
                       profile_confidence_word(published->confidence));
        show(cli, i == 0 ? "published" : "", text);
    }
}

static void
show_plan(const struct cli *cli, const json_t *now, const struct found *found)
{
    char text[200], stamp[40];
    const struct zone *zone = zone_shared(lists_text(now, "time_zone"));
    show(cli, "plan", lists_text(now, "plan_file"));
    show(cli, "digest", lists_text(now, "plan_digest"));
    if (found->data != NULL)
        (void)snprintf(text, sizeof text, "since %s, record %" PRId64,
                       zone_stamp_text(zone, found->at_ms + lists_int(now, "offset_ms"), stamp,
                                       sizeof stamp),
                       lists_int(now, "plan_seq"));
    else
        (void)snprintf(text, sizeof text, "since %.40s (UTC), record %" PRId64,
                       lists_text(now, "plan_since"), lists_int(now, "plan_seq"));
    show(cli, "in force", text);
    show_approval(cli, now, found->data);
    if (json_is_true(json_object_get(now, "plan_accept_unverified")))
        show(cli, "unverified",
             "accept_unverified: true: it may name published figures that were not checked");
    show_published(cli, found->plan);
    if (found->data != NULL)
        show_changes(cli, json_object_get(found->data, "changes"));
    now_plan_refused(cli, now);
}

static json_t *
published_json(const struct plan *plan)
{
    json_t *list = json_array();
    for (size_t i = 0; i < plan->published_count; i++) {
        const struct plan_published *published = &plan->published[i];
        (void)json_array_append_new(
            list, json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "rule", published->rule,
                            "authority", published->authority, "edition", published->edition,
                            "section", published->section, "source", published->source,
                            "confidence", profile_confidence_word(published->confidence)));
    }
    return list;
}

static void
print_json(const struct cli *cli, const json_t *now, const struct found *found)
{
    const json_t *data = found->data;
    static const char *const keys[] = {
        "plan_file",       "plan_digest",           "plan_seq",         "plan_since",
        "plan_draft",      "plan_approved_by",      "plan_approved_on", "plan_refused",
        "plan_refused_at", "plan_accept_unverified"};
    json_t *object = json_object();
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        (void)json_object_set(object, keys[i] + strlen("plan_"), json_object_get(now, keys[i]));
    json_t *changes = json_object_get(data, "changes");
    if (data != NULL)
        (void)json_object_set_new(object, "changes",
                                  changes == NULL ? json_array() : json_incref(changes));
    if (found->plan != NULL)
        (void)json_object_set_new(object, "published", published_json(found->plan));
    (void)json_dumpf(object, cli->out, JSON_COMPACT);
    (void)fputc('\n', cli->out);
    json_decref(object);
}

/* ---- the subcommand ---- */

static int
reload(struct cli *cli)
{
    json_t *answer = NULL;
    int code = client_question(cli, "reload", &answer);
    if (code == CLI_DONE && cli->json) {
        (void)json_dumpf(answer, cli->out, JSON_COMPACT);
        (void)fputc('\n', cli->out);
    } else if (code == CLI_DONE && !cli->quiet) {
        cli_print_wrapped(cli->out, client_say(answer), 0, 0);
    }
    json_decref(answer);
    return cli_finish(cli, code);
}

/* Every other option has a value; this one is taken out before they are read. */
static bool
take_reload(int *argc, char **argv)
{
    bool found = false;
    int kept = 0;
    for (int i = 0; i < *argc; i++) {
        if (strcmp(argv[i], "--reload") == 0)
            found = true;
        else
            argv[kept++] = argv[i];
    }
    *argc = kept;
    return found;
}

int
cli_plan(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    bool wants_reload = take_reload(&argc, argv);
    int code = options_read(cli, argc, argv, NULL, 0, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count > 0)
        return cli_fail(cli, CLI_USAGE,
                        "there is nothing more to say here; see `trivet help %s`", cli->verb);
    if (wants_reload)
        return reload(cli);
    json_t *answer = NULL;
    code = client_question(cli, "now", &answer);
    if (code != CLI_DONE)
        return code;
    struct found found;
    const json_t *now = json_object_get(answer, "now");
    find_record(cli, now, &found);
    if (cli->json)
        print_json(cli, now, &found);
    else
        show_plan(cli, now, &found);
    json_decref(found.data);
    plan_free(found.plan);
    json_decref(answer);
    return cli_finish(cli, CLI_DONE);
}
