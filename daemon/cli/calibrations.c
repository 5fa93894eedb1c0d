/* See calibrations.h. Reads the store itself; records nothing. */
#include "daemon/cli/calibrations.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/options.h"
#include "daemon/cli/records.h"
#include "trivet/check_history.h"
#include "trivet/explain.h"
#include "trivet/typed.h"
#include "trivet/units.h"
#include "trivet/zone.h"

/* ---- the list ---- */

struct listing {
    const struct cli *cli;
    struct site_time site;
    json_t *looks; /* with --json; else NULL */
    size_t count;
    uint64_t last_seq;
};

static const char *
thermometer_of(const struct check_look *look)
{
    return look->entry->probe[0] != '\0' ? look->entry->probe : look->entry->thermometer;
}

static void
show_point(const struct listing *listing, const struct check_look *look,
           const struct calibration_point *point)
{
    char shown[24], right[24], raw[24], error[24];
    int32_t seen_mC = correction_apply(look->correction, point->found_mC);
    (void)fprintf(
        listing->cli->out, "    %-8s  %-9s  %s where %s was right, off by %s",
        look->as_left ? "as left" : "as found", calibration_method_word(point->method),
        temp_text(shown, sizeof shown, seen_mC),
        temp_text(right, sizeof right, point->reference_mC),
        temp_text(error, sizeof error, (int32_t)correction_error_mK(look->correction, point)));
    if (seen_mC != point->found_mC)
        (void)fprintf(listing->cli->out, " (raw %s)",
                      temp_text(raw, sizeof raw, point->found_mC));
    (void)fputc('\n', listing->cli->out);
}

static void
show_head(const struct listing *listing, const struct check_look *look)
{
    char stamp[40];
    const struct entry *entry = look->entry;
    (void)fprintf(listing->cli->out, "%s  ",
                  zone_stamp_text(listing->site.zone, look->at_ms + listing->site.offset_ms,
                                  stamp, sizeof stamp));
    cli_print_clean(listing->cli->out, thermometer_of(look));
    (void)fprintf(listing->cli->out, "  by %s, record %" PRIu64 "%s\n", entry->who, look->seq,
                  entry->correction == CORRECTION_ADOPT  ? ", correction adopted"
                  : entry->correction == CORRECTION_DROP ? ", correction dropped"
                                                         : "");
}

static bool
add_json(struct listing *listing, const struct check_look *look)
{
    json_t *points = json_array();
    char stamp[40];
    for (size_t i = 0; i < look->count; i++) {
        const struct calibration_point *point = &look->points[i];
        (void)json_array_append_new(
            points,
            json_pack("{s:s, s:i, s:i, s:i, s:i, s:I}", "method",
                      calibration_method_word(point->method), "reference_mC",
                      (int)point->reference_mC, "uncertainty_mK", (int)point->uncertainty_mK,
                      "raw_mC", (int)point->found_mC, "corrected_mC",
                      (int)correction_apply(look->correction, point->found_mC), "error_mK",
                      (json_int_t)correction_error_mK(look->correction, point)));
    }
    return json_array_append_new(
               listing->looks,
               json_pack("{s:I, s:s, s:s, s:s, s:s, s:b, s:i, s:s, s:o}", "seq",
                         (json_int_t)look->seq, "at",
                         utc_text(stamp, sizeof stamp, look->at_ms + listing->site.offset_ms),
                         "thermometer", thermometer_of(look), "by", look->entry->who, "look",
                         look->as_left ? "as left" : "as found", "within", look->within,
                         "tolerance_mK", (int)look->tolerance_mK, "correction",
                         correction_choice_word(look->entry->correction), "points", points)) ==
           0;
}

static bool
show_look(void *arg, const struct check_look *look)
{
    struct listing *listing = arg;
    char tolerance[24];
    listing->count++;
    if (listing->looks != NULL)
        return add_json(listing, look);
    if (look->seq != listing->last_seq)
        show_head(listing, look);
    listing->last_seq = look->seq;
    for (size_t i = 0; i < look->count; i++)
        show_point(listing, look, &look->points[i]);
    if (look->tolerance_mK != 0)
        (void)fprintf(listing->cli->out, "    %s, tolerance %s °C\n",
                      look->within ? "passes" : "FAILS",
                      temp_text(tolerance, sizeof tolerance, look->tolerance_mK));
    return true;
}

static int
list_all(const struct cli *cli, const char *id, const char *directory)
{
    struct store_error trouble = {.text = ""};
    struct listing listing = {.cli = cli, .looks = cli->json ? json_array() : NULL};
    struct store_reader *reader = store_reader_open(directory, &trouble);
    enum store_status status = reader == NULL ? STORE_IO : STORE_OK;
    if (status == STORE_OK)
        status = records_site_time(reader, &listing.site, &trouble);
    if (status == STORE_OK)
        status = check_history_each(reader, id, INT64_MIN + 1, INT64_MAX, show_look, &listing,
                                    &trouble);
    store_reader_close(reader);
    if (status != STORE_OK) {
        json_decref(listing.looks);
        return cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
    }
    if (cli->json) {
        (void)json_dumpf(listing.looks, cli->out, JSON_COMPACT);
        (void)fputc('\n', cli->out);
    } else if (listing.count == 0) {
        (void)fprintf(cli->out, "No check%s is on record. `trivet calibrate` makes one.\n",
                      id[0] == '\0' ? "" : " of it");
    } else if (listing.site.demo) {
        (void)fputs("DEMO DATA, no real food.\n", cli->out);
    }
    json_decref(listing.looks);
    return cli_finish(cli, CLI_DONE);
}

int
cli_calibrations(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    char directory[RECORDS_DIRECTORY_MAX];
    int code = options_read(cli, argc, argv, NULL, 0, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count > 1)
        return cli_fail(cli, CLI_USAGE, "name one thermometer, or none for all of them");
    code = records_find_store(cli, directory);
    if (code != CLI_DONE)
        return code;
    return list_all(cli, read.word_count == 0 ? "" : read.word[0], directory);
}

/* ---- what is in doubt ---- */

struct finding {
    struct decision opened;
    bool found;
};

static bool
find_opened(void *arg, uint64_t seq, const struct decision *decision)
{
    struct finding *finding = arg;
    (void)seq;
    if (!decision_opens(decision) || decision->reason != REASON_FAILED_CHECK)
        return true;
    finding->opened = *decision;
    finding->found = true;
    return false;
}

static json_t *
doubt_json(const struct doubt *doubt, int64_t offset_ms)
{
    char first[40], last[40];
    json_t *batches = json_array();
    for (size_t i = 0; i < doubt->batch_count; i++)
        (void)json_array_append_new(batches, json_pack("{s:I, s:s}", "number",
                                                       (json_int_t)doubt->batches[i].number,
                                                       "product", doubt->batches[i].product));
    json_t *object =
        json_pack("{s:I, s:o}", "readings", (json_int_t)doubt->readings, "batches", batches);
    if (object != NULL && doubt->first_ms != TIME_NONE) {
        (void)json_object_set_new(
            object, "from",
            json_string(utc_text(first, sizeof first, doubt->first_ms + offset_ms)));
        (void)json_object_set_new(
            object, "to", json_string(utc_text(last, sizeof last, doubt->last_ms + offset_ms)));
    }
    return object;
}

static enum store_status
add_one(struct store_reader *reader, const struct site_time *site, json_t *deviation,
        struct store_error *reterr)
{
    struct explain_id id = {EXPLAIN_DEVIATION, (uint64_t)lists_int(deviation, "number")};
    struct finding finding = {.found = false};
    struct doubt doubt;
    enum store_status status = explain_each(reader, &id, find_opened, &finding, reterr);
    if (status != STORE_OK || !finding.found)
        return status;
    status = doubt_read(reader, &finding.opened, &doubt, reterr);
    if (status != STORE_OK)
        return status;
    (void)json_object_set_new(deviation, "in_doubt", doubt_json(&doubt, site->offset_ms));
    doubt_done(&doubt);
    return STORE_OK;
}

static bool
is_failed_check(const json_t *deviation)
{
    return strcmp(lists_text(deviation, "reason"), "failed-check") == 0;
}

void
calibrations_add_doubt(const struct cli *cli, json_t *deviations)
{
    char directory[RECORDS_DIRECTORY_MAX];
    struct store_error trouble = {.text = ""};
    struct site_time site;
    size_t first = 0;
    while (first < json_array_size(deviations) &&
           !is_failed_check(json_array_get(deviations, first)))
        first++;
    if (first == json_array_size(deviations) || records_find_store(cli, directory) != CLI_DONE)
        return;
    struct store_reader *reader = store_reader_open(directory, &trouble);
    enum store_status status =
        reader == NULL ? STORE_IO : records_site_time(reader, &site, &trouble);
    for (size_t i = first; status == STORE_OK && i < json_array_size(deviations); i++)
        if (is_failed_check(json_array_get(deviations, i)))
            status = add_one(reader, &site, json_array_get(deviations, i), &trouble);
    store_reader_close(reader);
    if (status != STORE_OK)
        (void)fprintf(
            cli->err,
            "trivet %s: what the failed check puts in doubt cannot be told here (%s); "
            "see the page, or `trivet export deviations`\n",
            cli->verb, trouble.text);
}

void
calibrations_show_doubt(const struct cli *cli, const json_t *deviation)
{
    const json_t *doubt = json_object_get(deviation, "in_doubt");
    const json_t *batches = json_object_get(doubt, "batches");
    char text[1200];
    size_t len;
    if (doubt == NULL)
        return;
    (void)snprintf(
        text, sizeof text, "In doubt: %" PRId64 " readings%s%.24s%s%.24s; batches: %s",
        lists_int(doubt, "readings"), lists_text(doubt, "from")[0] == '\0' ? "" : " from ",
        lists_text(doubt, "from"), lists_text(doubt, "from")[0] == '\0' ? "" : " to ",
        lists_text(doubt, "to"), json_array_size(batches) == 0 ? "none" : "");
    for (size_t i = 0; i < json_array_size(batches); i++) {
        const json_t *batch = json_array_get(batches, i);
        len = strlen(text);
        if (len + 80 > sizeof text) {
            (void)snprintf(text + len, sizeof text - len, ", ... (all in the export)");
            break;
        }
        (void)snprintf(text + len, sizeof text - len, "%s%" PRId64 " %.31s", i == 0 ? "" : ", ",
                       lists_int(batch, "number"), lists_text(batch, "product"));
    }
    (void)fputs("      ", cli->out);
    cli_print_wrapped(cli->out, text, 6, 6);
}
