/* The kitchen on one screen. See now.h. */
#include "daemon/cli/now.h"

#include <inttypes.h>
#include <string.h>

#include "daemon/cli/calibrations.h"
#include "daemon/cli/client.h"
#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/options.h"
#include "trivet/units.h"

/* Colours only repeat what the words and marks say. */
static const char *
paint(const struct cli *cli, const char *concern)
{
    if (!cli->colour)
        return "";
    if (strcmp(concern, "act") == 0)
        return "\x1b[1;31m";
    return strcmp(concern, "watch") == 0 ? "\x1b[33m" : "";
}

static const char *
unpaint(const struct cli *cli, const char *painted)
{
    return cli->colour && painted[0] != '\0' ? "\x1b[0m" : "";
}

static const char *
mark_of(const char *concern)
{
    if (strcmp(concern, "act") == 0)
        return "!!";
    return strcmp(concern, "watch") == 0 ? "! " : "  ";
}

/* ---- parts of the overview ---- */

static void
loud(const struct cli *cli, const char *word, const char *text)
{
    const char *painted = paint(cli, "act");
    (void)fprintf(cli->out, "%s!! %s%s: ", painted, word, unpaint(cli, painted));
    cli_print_wrapped(cli->out, text, strlen(word) + 5, 3);
}

/* Each line of a text wrapped by itself. */
static void
print_lines(const struct cli *cli, const char *text, unsigned indent, unsigned hanging)
{
    while (text[0] != '\0') {
        char line[700];
        size_t len = strcspn(text, "\n");
        (void)snprintf(line, sizeof line, "%.*s", len < 690 ? (int)len : 690, text);
        (void)fprintf(cli->out, "%*s", (int)indent, "");
        cli_print_wrapped(cli->out, line, indent, hanging);
        text += len + (text[len] == '\n');
    }
}

/* One line for each thing that is wrong with it. */
void
now_plan_refused(const struct cli *cli, const json_t *now)
{
    const char *why = lists_text(now, "plan_refused");
    if (why[0] == '\0')
        return;
    loud(cli, "PLAN NOT TAKEN", "the plan file was read again and the plan in force stays:");
    print_lines(cli, why, 3, 6);
}

static void
show_head(const struct cli *cli, const json_t *now)
{
    cli_print_wrapped(cli->out, lists_text(now, "site"), 0, 0);
    (void)fprintf(
        cli->out, "%s (%s)%s\n", lists_text(now, "clock"), lists_text(now, "time_zone"),
        json_is_true(json_object_get(now, "demo")) ? "   DEMO DATA, no real food" : "");
    if (json_is_true(json_object_get(now, "unrecorded")))
        loud(cli, "NOT RECORDED", lists_text(now, "unrecorded_why"));
    if (json_is_true(json_object_get(now, "late"))) {
        char text[120], age[40];
        (void)snprintf(
            text, sizeof text,
            "the daemon answers but this is %s old: it may be stuck; look at its log",
            duration_text(age, sizeof age, lists_int(now, "age_s") * 1000));
        loud(cli, "OLD", text);
    }
    if (json_is_true(json_object_get(now, "plan_draft")))
        loud(cli, "DRAFT PLAN", "its limits have not been approved; see `trivet plan`");
    if (json_is_true(json_object_get(now, "plan_accept_unverified")))
        loud(cli, "UNVERIFIED LIMITS",
             "the plan accepts published figures that were not checked; see `trivet plan`");
    now_plan_refused(cli, now);
    if (json_is_false(json_object_get(now, "clock_trusted")))
        loud(cli, "CLOCK", "this machine's clock is not trusted: times shown may be wrong");
}

/* "61.2 °C, 3 s ago", or what is wrong with it. */
static char *
value_text(const json_t *item, char *buf, size_t size)
{
    char age[40];
    const char *temp = json_string_value(json_object_get(item, "temp"));
    if (json_is_false(json_object_get(item, "watched")))
        (void)snprintf(buf, size, "not watched");
    else if (temp == NULL)
        (void)snprintf(buf, size, "no good reading yet");
    else
        (void)snprintf(buf, size,
                       "%.20s \xc2\xb0"
                       "C, %s ago%s",
                       temp, duration_text(age, sizeof age, lists_int(item, "age_s") * 1000),
                       json_is_true(json_object_get(item, "stale")) ? ", TOO OLD" : "");
    return buf;
}

static void
show_item(const struct cli *cli, const json_t *item, const char *title)
{
    char value[80];
    const char *concern = lists_text(item, "concern");
    const char *painted = paint(cli, concern);
    (void)fprintf(cli->out, "%s%s%s ", painted, mark_of(concern), unpaint(cli, painted));
    char line[400];
    (void)snprintf(line, sizeof line, "%.250s: %s", title,
                   value_text(item, value, sizeof value));
    cli_print_wrapped(cli->out, line, 3, 6);
    if (lists_text(item, "sentence")[0] != '\0') {
        (void)fputs("      ", cli->out);
        cli_print_wrapped(cli->out, lists_text(item, "sentence"), 6, 6);
    }
    print_lines(cli, lists_text(item, "ahead"), 6, 8);
    print_lines(cli, lists_text(item, "if_changed"), 6, 8);
}

/* What a person does next about a deviation; NULL when nothing but waiting is left. */
static const char *
deviation_next(const json_t *deviation)
{
    if (lists_int(deviation, "action_seq") == 0)
        return "record it with: trivet act";
    if (lists_int(deviation, "verified_seq") == 0)
        return "another person verifies it with: trivet verify";
    return NULL;
}

static void
show_deviations(const struct cli *cli, const json_t *deviations)
{
    for (size_t i = 0; i < json_array_size(deviations); i++) {
        const json_t *deviation = json_array_get(deviations, i);
        const char *next = deviation_next(deviation), *painted = paint(cli, "act");
        char text[800];
        (void)snprintf(text, sizeof text, "%" PRId64 " %.600s", lists_int(deviation, "number"),
                       lists_text(deviation, "sentence"));
        (void)fprintf(cli->out, "%s!!%s ", painted, unpaint(cli, painted));
        cli_print_wrapped(cli->out, text, 3, 6);
        if (lists_text(deviation, "alarm_sentence")[0] != '\0') {
            (void)fputs("      ", cli->out);
            cli_print_wrapped(cli->out, lists_text(deviation, "alarm_sentence"), 6, 6);
        }
        if (next != NULL)
            (void)fprintf(cli->out, "      %s %" PRId64 "\n", next,
                          lists_int(deviation, "number"));
        calibrations_show_doubt(cli, deviation);
    }
}

/* Hot food of which it is not clear what it is. */
static void
show_asked(const struct cli *cli, const json_t *one)
{
    const char *probe = lists_text(one, "probe");
    if (lists_int(one, "batch") != 0)
        (void)fprintf(cli->out, "      it is: trivet next %" PRId64 "\n",
                      lists_int(one, "batch"));
    else
        (void)fprintf(
            cli->out,
            "      it is: trivet begin --probes %s; it is none: trivet decide --probe "
            "%s --accept reject\n",
            probe, probe);
}

static void
show_undecided(const struct cli *cli, const json_t *undecided)
{
    if (json_array_size(undecided) > 0)
        (void)fputs("\nWaits for a person\n", cli->out);
    for (size_t i = 0; i < json_array_size(undecided); i++) {
        const json_t *one = json_array_get(undecided, i);
        const char *painted = paint(cli, "act");
        (void)fprintf(cli->out, "%s!!%s ", painted, unpaint(cli, painted));
        cli_print_wrapped(cli->out, lists_text(one, "sentence"), 3, 6);
        if (strcmp(lists_text(one, "what"), "correction-waits") == 0)
            (void)fprintf(cli->out,
                          "      confirm it with: trivet confirm %" PRId64 " accept\n",
                          lists_int(one, "batch"));
        else if (strcmp(lists_text(one, "what"), "asked") == 0)
            show_asked(cli, one);
        else if (lists_int(one, "batch") != 0)
            (void)fprintf(cli->out, "      decide it with: trivet decide %" PRId64 "\n",
                          lists_int(one, "batch"));
    }
}

static void
show_batches(const struct cli *cli, const json_t *batches)
{
    for (size_t i = 0; i < json_array_size(batches); i++) {
        const json_t *batch = json_array_get(batches, i);
        char title[300];
        (void)snprintf(title, sizeof title, "%" PRId64 " %.120s, %.120s",
                       lists_int(batch, "number"), lists_text(batch, "product_name"),
                       lists_text(batch, "step_name"));
        show_item(cli, batch, title);
    }
}

/* Thermometers that somebody has to look after, and certificates that run out; nothing else. */
static void
show_thermometers(const struct cli *cli, const json_t *now)
{
    const json_t *all = json_object_get(now, "thermometers");
    const json_t *references = json_object_get(now, "references");
    bool begun = false;
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *one = json_array_get(all, i);
        const char *concern = lists_text(one, "concern");
        if (strcmp(concern, "none") == 0)
            continue;
        const char *painted = paint(cli, concern);
        char text[400];
        (void)snprintf(text, sizeof text, "%.120s: %.250s", lists_text(one, "name"),
                       lists_text(one, "sentence"));
        (void)fprintf(cli->out, "%s%s%s%s ", begun ? "" : "\nThermometers\n", painted,
                      mark_of(concern), unpaint(cli, painted));
        cli_print_wrapped(cli->out, text, 3, 6);
        begun = true;
    }
    for (size_t i = 0; i < json_array_size(references); i++) {
        const json_t *one = json_array_get(references, i);
        char text[300];
        if (strcmp(lists_text(one, "state"), "good") == 0)
            continue;
        (void)snprintf(text, sizeof text, "%.120s: its certificate holds until %.10s; %s",
                       lists_text(one, "name"), lists_text(one, "due"),
                       strcmp(lists_text(one, "state"), "overdue") == 0
                           ? "nothing can be checked against it now."
                           : "have it renewed.");
        (void)fputs(begun ? "!  " : "\nThermometers\n!  ", cli->out);
        cli_print_wrapped(cli->out, text, 3, 6);
        begun = true;
    }
}

static void
show_lines_down(const struct cli *cli, const json_t *buses)
{
    for (size_t i = 0; i < json_array_size(buses); i++) {
        const json_t *bus = json_array_get(buses, i);
        if (!json_is_false(json_object_get(bus, "up")))
            continue;
        char text[400];
        (void)snprintf(text, sizeof text, "bus %.40s is down: %.300s", lists_text(bus, "id"),
                       lists_text(bus, "trouble"));
        loud(cli, "NO READINGS", text);
    }
}

static void
show_signals(const struct cli *cli, const json_t *signals)
{
    for (size_t i = 0; i < json_array_size(signals); i++) {
        const json_t *signal = json_array_get(signals, i);
        char text[400];
        if (!json_is_true(json_object_get(signal, "faulty")))
            continue;
        (void)snprintf(text, sizeof text, "%.80s cannot be relied on: %.280s",
                       lists_text(signal, "name"), lists_text(signal, "trouble"));
        loud(cli, "SIGNAL", text);
    }
}

/* Only what is late: a day or two always wait. */
static void
show_reviews(const struct cli *cli, const json_t *now)
{
    int64_t overdue = lists_int(now, "reviews_overdue");
    const char *painted = paint(cli, "act");
    if (overdue > 0)
        (void)fprintf(cli->out,
                      "\n%s!!%s Review OVERDUE: the records of %" PRId64
                      " day%s, the oldest %.10s.\n      sign it off with: trivet review\n",
                      painted, unpaint(cli, painted), overdue, overdue == 1 ? "" : "s",
                      lists_text(now, "review_oldest"));
}

/* Food in store that has a date, or that is not to be served. */
static void
show_kept(const struct cli *cli, const json_t *stored)
{
    bool begun = false;
    for (size_t i = 0; i < json_array_size(stored); i++) {
        const json_t *food = json_array_get(stored, i);
        const json_t *mark = json_object_get(food, "date_mark");
        const bool passed = json_is_true(json_object_get(mark, "passed"));
        const bool frozen = json_is_true(json_object_get(mark, "frozen"));
        const char *last = lists_text(mark, "last_day");
        const bool thrown_away = strcmp(lists_text(food, "disposition"), "discard") == 0;
        const bool on_hold = strcmp(lists_text(food, "disposition"), "hold") == 0;
        const bool dated = mark != NULL && !passed && !thrown_away && !on_hold;
        char text[400];
        if (mark == NULL && !thrown_away && !on_hold)
            continue;
        (void)snprintf(text, sizeof text, "batch %" PRId64 ", %.120s in %.40s: %s%.10s",
                       lists_int(food, "batch"), lists_text(food, "product_name"),
                       lists_text(food, "place"),
                       passed            ? "its last day is over, throw it away"
                       : thrown_away     ? "to be thrown away, says a corrective action"
                       : on_hold         ? "on hold, says a corrective action: not to be served"
                       : last[0] == '\0' ? "its last day is not known yet"
                       : frozen          ? "frozen; thawed today, its last day is "
                                         : "use it by the end of ",
                       dated ? last : "");
        const char *concern = passed || thrown_away ? "act" : "none";
        const char *painted = paint(cli, concern);
        (void)fprintf(cli->out, "%s%s%s%s ", begun ? "" : "\nKept\n", painted, mark_of(concern),
                      unpaint(cli, painted));
        cli_print_wrapped(cli->out, text, 3, 6);
        begun = true;
    }
}

void
now_show(const struct cli *cli, const json_t *now)
{
    const json_t *deviations = json_object_get(now, "deviations");
    const json_t *batches = json_object_get(now, "batches");
    const json_t *places = json_object_get(now, "places");
    show_head(cli, now);
    show_lines_down(cli, json_object_get(now, "buses"));
    show_signals(cli, json_object_get(now, "signals"));
    (void)fputs(json_array_size(deviations) == 0 ? "\nNo deviation is open.\n"
                                                 : "\nOpen deviations\n",
                cli->out);
    show_deviations(cli, deviations);
    show_undecided(cli, json_object_get(now, "undecided"));
    show_reviews(cli, now);
    (void)fputs(json_array_size(batches) == 0 ? "\nNo batch is running.\n" : "\nBatches\n",
                cli->out);
    show_batches(cli, batches);
    if (json_array_size(places) > 0)
        (void)fputs("\nPlaces\n", cli->out);
    for (size_t i = 0; i < json_array_size(places); i++) {
        const json_t *place = json_array_get(places, i);
        show_item(cli, place, lists_text(place, "name"));
    }
    show_kept(cli, json_object_get(now, "stored"));
    show_thermometers(cli, now);
}

/* ---- the subcommands ---- */

static int
print_json(const struct cli *cli, const json_t *value)
{
    (void)json_dumpf(value, cli->out, JSON_COMPACT | JSON_ENCODE_ANY);
    (void)fputc('\n', cli->out);
    return cli_finish(cli, CLI_DONE);
}

/* Options, help, then the question. CLI_DONE with *ret_answer NULL: help was shown. */
static int
ask_plain(struct cli *cli, int argc, char **argv, const char *word, json_t **ret_answer)
{
    struct options_read read;
    *ret_answer = NULL;
    int code = options_read(cli, argc, argv, NULL, 0, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count > 0)
        return cli_fail(cli, CLI_USAGE,
                        "there is nothing more to say here; see `trivet help %s`", cli->verb);
    return client_question(cli, word, ret_answer);
}

int
cli_now(struct cli *cli, int argc, char **argv)
{
    json_t *answer;
    int code = ask_plain(cli, argc, argv, "now", &answer);
    if (answer == NULL)
        return code;
    const json_t *now = json_object_get(answer, "now");
    if (cli->json) {
        code = print_json(cli, now);
    } else {
        now_show(cli, now);
        code = cli_finish(cli, CLI_DONE);
    }
    json_decref(answer);
    return code;
}

int
cli_deviations(struct cli *cli, int argc, char **argv)
{
    json_t *answer;
    int code = ask_plain(cli, argc, argv, "now", &answer);
    if (answer == NULL)
        return code;
    json_t *open = json_object_get(json_object_get(answer, "now"), "deviations");
    if (!cli->quiet)
        calibrations_add_doubt(cli, open);
    if (cli->quiet) {
        code = json_array_size(open) == 0 ? CLI_DONE : CLI_NO;
    } else if (cli->json) {
        code = print_json(cli, open);
    } else {
        if (json_array_size(open) == 0)
            (void)fputs("No deviation is open.\n", cli->out);
        show_deviations(cli, open);
        code = cli_finish(cli, CLI_DONE);
    }
    json_decref(answer);
    return code;
}

int
cli_where(struct cli *cli, int argc, char **argv)
{
    static const struct {
        const char *key, *label;
    } lines[] = {
        {"site", "site"},       {"plan", "plan"},     {"store", "records"},
        {"page", "page"},       {"socket", "socket"}, {"time_zone", "time zone"},
        {"version", "version"},
    };
    json_t *answer;
    int code = ask_plain(cli, argc, argv, "where", &answer);
    if (answer == NULL)
        return code;
    const json_t *where = json_object_get(answer, "where");
    if (cli->json) {
        code = print_json(cli, where);
    } else {
        for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
            const char *text = lists_text(where, lines[i].key);
            (void)fprintf(cli->out, "%-10s ", lines[i].label);
            cli_print_clean(cli->out, text[0] == '\0' ? "none" : text);
            (void)fputc('\n', cli->out);
        }
        if (json_is_true(json_object_get(where, "demo")))
            (void)fputs("           DEMO DATA, no real food\n", cli->out);
        code = cli_finish(cli, CLI_DONE);
    }
    json_decref(answer);
    return code;
}
