/* A business day's records for review. See review.h. Reads the store itself; only the signature
 * goes to the daemon. */
#include "daemon/cli/review.h"

#include <assert.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/ask.h"
#include "daemon/cli/client.h"
#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/options.h"
#include "daemon/cli/recent.h"
#include "daemon/cli/records.h"
#include "trivet/business_day.h"
#include "trivet/clock.h"
#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/explain.h"
#include "trivet/plan.h"
#include "trivet/store.h"
#include "trivet/units.h"
#include "trivet/zone.h"

enum { OPTION_WHO, OPTION_TEXT, OPTION_COUNT };

static const struct option_spec options[OPTION_COUNT] = {
    [OPTION_WHO] = {"who", 'w'},
    [OPTION_TEXT] = {"text", 'n'},
};

#define LINE_MAX_BYTES (EXPLAIN_WORDS_MAX + 500)
#define LINE_COLUMN    9

struct review {
    struct cli *cli;
    struct store_reader *reader;
    struct plan *plan; /* the last one on record */
    int64_t offset_ms;
    struct business_day day;
    char name[16];
    json_t *lists; /* what recent_line asks for */
    size_t shown;
    char signed_by[PLAN_INITIALS_MAX + 1];
    uint64_t signed_seq; /* 0 = nobody has signed the day off */
};

/* ---- what is in force ---- */

static bool
see_plan(void *arg, const struct store_record *record)
{
    struct review *review = arg;
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    const char *text = lists_text(data, "text");
    struct plan_faults *faults = malloc(sizeof *faults);
    struct plan *plan =
        faults == NULL ? NULL : plan_load_record("recorded plan", text, strlen(text), faults);
    if (plan != NULL) {
        plan_free(review->plan);
        review->plan = plan;
    }
    free(faults);
    json_decref(data);
    return true;
}

static bool
see_probes(void *arg, const struct store_record *record)
{
    struct review *review = arg;
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    const json_t *numbers = json_object_get(data, "probes");
    for (size_t i = 0; review->plan != NULL && i < review->plan->probe_count; i++)
        review->plan->probes[i].number =
            (uint16_t)lists_int(numbers, review->plan->probes[i].id);
    json_decref(data);
    return true;
}

static bool
see_clock(void *arg, const struct store_record *record)
{
    struct review *review = arg;
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    review->offset_ms = lists_int(data, "offset_ms");
    json_decref(data);
    return true;
}

static int
open_records(struct review *review)
{
    char directory[RECORDS_DIRECTORY_MAX];
    struct store_error trouble = {.text = ""};
    struct store_head head;
    int code = records_find_store(review->cli, directory);
    if (code != CLI_DONE)
        return code;
    review->reader = store_reader_open(directory, &trouble);
    bool good = review->reader != NULL &&
                store_reader_head(review->reader, &head, &trouble) == STORE_OK &&
                store_each_record(review->reader, 0, head.seq, "plan", see_plan, review,
                                  &trouble) == STORE_OK &&
                store_each_record(review->reader, 0, head.seq, "plan", see_probes, review,
                                  &trouble) == STORE_OK &&
                store_each_record(review->reader, 0, head.seq, "clock", see_clock, review,
                                  &trouble) == STORE_OK;
    if (good && review->plan == NULL)
        return cli_fail(review->cli, CLI_NO, "these records hold no plan yet");
    return good ? CLI_DONE : cli_fail(review->cli, CLI_UNREACHABLE, "%s", trouble.text);
}

/* ---- the day ---- */

static void
name_day(struct review *review)
{
    (void)snprintf(review->name, sizeof review->name, "%04d-%02u-%02u",
                   (int)(review->day.year % 10000), review->day.month % 100u,
                   review->day.day % 100u);
}

/* The oldest that waits as the daemon says, else the last one that is over. */
static int
usual_day(struct review *review)
{
    struct clock clock = clock_machine();
    json_t *answer = NULL;
    int year, month, day;
    business_day_of(review->plan, clock_wall_ms(&clock), -1, &review->day);
    if (review->cli->store == NULL) {
        int code = client_question(review->cli, "now", &answer);
        if (code != CLI_DONE)
            return code;
        const char *oldest = lists_text(json_object_get(answer, "now"), "review_oldest");
        if (sscanf(oldest, "%d-%d-%d", &year, &month, &day) == 3)
            (void)business_day_named(review->plan, year, month, day, &review->day);
        json_decref(answer);
    }
    name_day(review);
    return CLI_DONE;
}

static int
find_day(struct review *review, const char *word)
{
    int year, month, day, end = 0;
    if (word == NULL)
        return usual_day(review);
    if (strcmp(word, "today") == 0 || strcmp(word, "yesterday") == 0) {
        struct clock clock = clock_machine();
        business_day_of(review->plan, clock_wall_ms(&clock), word[0] == 't' ? 0 : -1,
                        &review->day);
        name_day(review);
        return CLI_DONE;
    }
    bool good = sscanf(word, "%4d-%2d-%2d%n", &year, &month, &day, &end) == 3 &&
                word[end] == '\0' &&
                business_day_named(review->plan, year, month, day, &review->day);
    if (good)
        name_day(review);
    if (!good || strcmp(word, review->name) != 0)
        return cli_fail(
            review->cli, CLI_USAGE,
            "the day is not understood: write it as 2026-03-01, today or yesterday");
    return CLI_DONE;
}

/* ---- what was on that day ---- */

static void
decision_line(const struct review *review, const struct store_record *record,
              const struct decision *decision, char *line, size_t size)
{
    struct explain_words words;
    char clock[40];
    int64_t wall_ms = record->at_ms + review->offset_ms;
    (void)zone_clock_text(zone_shared(review->plan->time_zone), wall_ms, wall_ms, clock,
                          sizeof clock);
    explain_words(decision, review->plan, NULL, &words);
    size_t len =
        (size_t)snprintf(line, size, "%" PRIu64 "  %s %s", record->seq, clock, words.what);
    if (decision->deviation != 0 && strncmp(words.what, "Deviation", 9) != 0)
        len += (size_t)snprintf(line + len, size - len, ", deviation %u", decision->deviation);
    if (decision->batch != 0)
        len += (size_t)snprintf(line + len, size - len, ", batch %u", decision->batch);
    if (decision->place[0] != '\0')
        len += (size_t)snprintf(line + len, size - len, ", %s", decision->place);
    if (decision->day[0] != '\0')
        len += (size_t)snprintf(line + len, size - len, ", last day %s", decision->day);
    if (decision->temp_mC != TEMP_NONE) {
        char temp[24];
        (void)snprintf(line + len, size - len, ", %s °C",
                       temp_text(temp, sizeof temp, decision->temp_mC));
    }
}

static bool
is_of_day(const struct review *review, int64_t at_ms)
{
    return at_ms + review->offset_ms >= review->day.from_ms &&
           at_ms + review->offset_ms < review->day.to_ms;
}

static bool
show_record(void *arg, const struct store_record *record)
{
    struct review *review = arg;
    char line[LINE_MAX_BYTES] = "";
    struct decision decision;
    if (!is_of_day(review, record->at_ms))
        return record->at_ms + review->offset_ms < review->day.to_ms;
    if (strcmp(record->kind, "decision") == 0) {
        if (!decision_read(record->data, record->data_len, &decision))
            return true;
        decision_line(review, record, &decision, line, sizeof line);
    } else if (entry_kind_from_word(record->kind) != ENTRY_NONE) {
        json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
        recent_line(review->lists, record, data, line, sizeof line);
        json_decref(data);
    } else {
        return true;
    }
    review->shown++;
    (void)fputs("  ", review->cli->out);
    cli_print_wrapped(review->cli->out, line, 2, LINE_COLUMN);
    return true;
}

struct range {
    size_t good, other;
    int32_t low_mC, high_mC;
};

static bool
see_reading(void *arg, const struct reading *reading)
{
    struct range *range = arg;
    if (!reading_is_good(reading->quality)) {
        range->other++;
        return true;
    }
    if (range->good == 0 || reading->temp_mC < range->low_mC)
        range->low_mC = reading->temp_mC;
    if (range->good == 0 || reading->temp_mC > range->high_mC)
        range->high_mC = reading->temp_mC;
    range->good++;
    return true;
}

static int
show_readings(struct review *review)
{
    (void)fputs("\nReadings\n", review->cli->out);
    for (size_t i = 0; i < review->plan->probe_count; i++) {
        const struct plan_probe *probe = &review->plan->probes[i];
        struct range range = {0};
        struct store_error trouble;
        char low[24], high[24];
        if (probe->number != 0 &&
            store_each_corrected(review->reader, probe->number,
                                 review->day.from_ms - review->offset_ms,
                                 review->day.to_ms - review->offset_ms, see_reading, &range,
                                 &trouble) != STORE_OK)
            return cli_fail(review->cli, CLI_UNREACHABLE, "%s", trouble.text);
        (void)fprintf(review->cli->out, "  %s: ", probe->name);
        if (range.good > 0)
            (void)fprintf(review->cli->out, "%s to %s °C, %zu good",
                          temp_text(low, sizeof low, range.low_mC),
                          temp_text(high, sizeof high, range.high_mC), range.good);
        else
            (void)fputs("none good", review->cli->out);
        (void)fprintf(review->cli->out, "%s", range.other > 0 ? "" : "\n");
        if (range.other > 0)
            (void)fprintf(review->cli->out, ", %zu suspect or bad\n", range.other);
    }
    return CLI_DONE;
}

static bool
see_review(void *arg, const struct store_record *record)
{
    struct review *review = arg;
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    if (strcmp(lists_text(data, "day"), review->name) == 0) {
        (void)snprintf(review->signed_by, sizeof review->signed_by, "%s",
                       lists_text(data, "who"));
        review->signed_seq = record->seq;
    }
    json_decref(data);
    return true;
}

static int
show_signature(struct review *review)
{
    struct store_head head;
    struct store_error trouble = {.text = ""};
    if (store_reader_head(review->reader, &head, &trouble) != STORE_OK ||
        store_each_record(review->reader, 0, head.seq, "review", see_review, review,
                          &trouble) != STORE_OK)
        return cli_fail(review->cli, CLI_UNREACHABLE, "%s", trouble.text);
    if (review->signed_seq != 0)
        (void)fprintf(review->cli->out, "\nSigned off by %s, record %" PRIu64 ".\n",
                      review->signed_by, review->signed_seq);
    else
        (void)fputs("\nNot signed off yet.\n", review->cli->out);
    return CLI_DONE;
}

static int
show_day(struct review *review)
{
    assert(review->plan != NULL); /* open_records */
    const struct zone *zone = zone_shared(review->plan->time_zone);
    char from[40], to[40];
    struct store_head head;
    struct store_error trouble = {.text = ""};
    (void)fprintf(review->cli->out, "%s, %s: %s to %s\n\nEntries and decisions\n",
                  review->plan->site_name, review->name,
                  zone_stamp_text(zone, review->day.from_ms, from, sizeof from),
                  zone_stamp_text(zone, review->day.to_ms, to, sizeof to));
    review->lists = json_pack("{s:s,s:I,s:I}", "time_zone", review->plan->time_zone, "now_ms",
                              (json_int_t)(review->day.from_ms - review->offset_ms),
                              "offset_ms", (json_int_t)review->offset_ms);
    if (store_reader_head(review->reader, &head, &trouble) != STORE_OK ||
        store_each_record(review->reader, 0, head.seq, NULL, show_record, review, &trouble) !=
            STORE_OK)
        return cli_fail(review->cli, CLI_UNREACHABLE, "%s", trouble.text);
    if (review->shown == 0)
        (void)fputs("  none\n", review->cli->out);
    int code = show_readings(review);
    return code == CLI_DONE ? show_signature(review) : code;
}

/* ---- the signature ---- */

static int
sign(struct review *review, const char *who, const char *text)
{
    json_t *request =
        json_pack("{s:s,s:s,s:s}", "do", "review", "day", review->name, "who", who);
    json_t *answer = NULL;
    if (request != NULL && text != NULL)
        (void)json_object_set_new(request, "text", json_string(text));
    int code = request == NULL ? cli_fail(review->cli, CLI_USAGE, "no memory to write this")
                               : client_ask_or_fail(review->cli, request, &answer);
    if (code == CLI_DONE && review->cli->json) {
        (void)json_dumpf(answer, review->cli->out, JSON_COMPACT);
        (void)fputc('\n', review->cli->out);
    } else if (code == CLI_DONE) {
        cli_print_clean(review->cli->out, client_say(answer));
        (void)fprintf(review->cli->out, "\nOn record as number %" PRId64 ".\n",
                      lists_int(answer, "seq"));
    }
    json_decref(answer);
    json_decref(request);
    return code;
}

static int
run(struct review *review, const struct options_read *read)
{
    char asked[ASK_ANSWER_MAX] = "";
    const char *who = read->value[OPTION_WHO];
    int code = open_records(review);
    if (code == CLI_DONE)
        code = find_day(review, read->word_count == 0 ? NULL : read->word[0]);
    if (code == CLI_DONE && !(review->cli->json && who != NULL))
        code = show_day(review);
    if (code != CLI_DONE)
        return code;
    const struct asker asker = {review->cli->in, review->cli->err};
    if (who == NULL && review->cli->may_ask && review->cli->store == NULL &&
        ask_text(&asker, "Who signs it off? (Enter: nobody yet)", NULL, true, asked) ==
            ASK_ANSWERED)
        who = asked;
    return who == NULL ? CLI_DONE : sign(review, who, read->value[OPTION_TEXT]);
}

int
cli_review(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    int code = options_read(cli, argc, argv, options, OPTION_COUNT, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, "review");
    if (read.word_count > 1)
        return cli_fail(cli, CLI_USAGE, "one day at a time; see `trivet help review`");
    struct review review = {.cli = cli};
    code = run(&review, &read);
    json_decref(review.lists);
    store_reader_close(review.reader);
    plan_free(review.plan);
    return code == CLI_DONE ? cli_finish(cli, CLI_DONE) : code;
}
