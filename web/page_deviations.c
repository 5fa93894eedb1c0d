/* Open deviations and the corrective-action log: who found what, did what, what became of the
 * food, who verified it. Desk thread. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "history.h"
#include "page_curve.h"
#include "thermometers.h"

#define DAYS_DEFAULT 30
#define DAYS_MAX     400
#define ROWS_MAX     300
#define DAY_MS       INT64_C(86400000)

struct row {
    uint32_t number;
    struct decision opened;
    bool has_opened;
    int64_t ended_ms;
    int32_t worst_mC;                           /* TEMP_NONE when not known */
    struct html action, verified, doubt, alarm; /* cells, as they will stand */
    uint64_t action_seq, verified_seq;
};

struct deviation_log {
    const struct view *view;
    size_t count;
    bool more;
    struct row rows[ROWS_MAX];
    struct past at;
};

static struct row *
row_of(struct deviation_log *log, uint32_t number)
{
    for (size_t i = log->count; i > 0; i--)
        if (log->rows[i - 1].number == number)
            return &log->rows[i - 1];
    if (log->count == ROWS_MAX) {
        log->more = true;
        return NULL;
    }
    struct row *row = &log->rows[log->count++];
    row->number = number;
    row->ended_ms = TIME_NONE;
    row->worst_mC = TEMP_NONE;
    return row;
}

static void
term(struct html *html, const char *name, const char *text)
{
    if (text[0] == '\0')
        return;
    html_raw(html, "<dt>");
    html_raw(html, name);
    html_raw(html, "</dt><dd>");
    html_sentence(html, text);
    html_raw(html, "</dd>");
}

/* The food: by batch, and what holds for the rest of it. A deviation of one batch has no rest.
 */
static void
write_food(struct html *html, const struct entry *entry, bool of_batch)
{
    bool all_said = of_batch && entry->food_count > 0;
    html_raw(html, "<dt>The food</dt><dd>");
    for (size_t i = 0; i < entry->food_count; i++) {
        const struct entry_food *food = &entry->food[i];
        html_format(html, "%s<a href=\"/batch/%u\">batch %u</a>: ", i == 0 ? "" : "<br>",
                    (unsigned)food->batch, (unsigned)food->batch);
        html_text(html, disposition_phrase(food->disposition));
        if (food->quantity[0] != '\0') {
            html_raw(html, ", ");
            html_text(html, food->quantity);
        }
    }
    if (entry->food_count > 0 && entry->disposition != DISPOSITION_NONE && !all_said)
        html_raw(html, "<br>the rest: ");
    if (entry->disposition != DISPOSITION_NONE && !all_said)
        html_text(html, disposition_phrase(entry->disposition));
    html_raw(html, "</dd>");
}

static void
write_action(struct deviation_log *log, struct row *row)
{
    const struct entry *entry = &log->at.entry;
    struct html *html = &row->action;
    html_raw(html, "<div class=\"act-entry\"><p>");
    past_person(html, log->view, entry->who);
    html_raw(html, ", ");
    past_time(html, log->view, log->at.at_ms);
    html_format(html, " <span class=\"seq\">%" PRIu64 "</span></p><dl>", log->at.seq);
    term(html, "Found", entry->found);
    term(html, "Done", entry->done);
    term(html, "Control restored", entry->control);
    write_food(html, entry, row->has_opened && row->opened.batch != 0);
    term(html, "Quantity", entry->quantity);
    term(html, "To prevent it", entry->prevent);
    term(html, "No unsafe food served", entry->safe);
    html_raw(html, "</dl></div>");
    row->action_seq = log->at.seq;
}

static void
write_verified(struct deviation_log *log, struct row *row)
{
    struct html *html = &row->verified;
    html_raw(html, "<p>Verified by ");
    past_person(html, log->view, log->at.entry.who);
    html_raw(html, ", ");
    past_time(html, log->view, log->at.at_ms);
    html_format(html, " <span class=\"seq\">%" PRIu64 "</span>", log->at.seq);
    if (log->at.entry.text[0] != '\0') {
        html_raw(html, ": ");
        html_text(html, log->at.entry.text);
    }
    html_raw(html, "</p>");
    row->verified_seq = log->at.seq;
}

/* What became of its alarm: heard, shelved, told on. */
static void
write_alarm(struct deviation_log *log, struct row *row)
{
    struct html *html = &row->alarm;
    html_raw(html, "<p>");
    past_time(html, log->view, log->at.at_ms);
    html_raw(html, " ");
    past_tell(html, log->view, &log->at);
    html_format(html, " <span class=\"seq\">%" PRIu64 "</span></p>", log->at.seq);
}

static bool
is_of_interest(const struct store_record *record)
{
    if (strcmp(record->kind, "decision") == 0)
        return strstr(record->data, "\"deviation\":") != NULL &&
               !past_names(record, "deviation", 0);
    static const char *const kinds[] = {"action", "verify", "heard", "shelve"};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        if (strcmp(record->kind, kinds[i]) == 0)
            return true;
    return false;
}

static bool
take_record(void *arg, const struct store_record *record)
{
    struct deviation_log *log = arg;
    if (atomic_load_explicit(&log->view->web->stopping, memory_order_relaxed))
        return false;
    if (!is_of_interest(record) || !past_read(record, &log->at))
        return true;
    const struct decision *decision = &log->at.decision;
    uint32_t number = log->at.is_decision ? decision->deviation : log->at.entry.deviation;
    bool opened = log->at.is_decision && decision_opens(decision);
    bool ended = log->at.is_decision && decision_ends(decision);
    bool of_alarm =
        log->at.is_decision
            ? decision->kind == DECISION_ESCALATED || decision->kind == DECISION_SHELF_ENDED ||
                  decision->kind == DECISION_ALARM_RAISED
            : log->at.entry.kind == ENTRY_HEARD || log->at.entry.kind == ENTRY_SHELVE;
    if (number == 0 || (log->at.is_decision && !opened && !ended && !of_alarm))
        return true;
    struct row *row = row_of(log, number);
    if (row == NULL)
        return false;
    if (of_alarm) {
        write_alarm(log, row);
    } else if (opened) {
        row->opened = *decision;
        row->has_opened = true;
    } else if (ended) {
        row->ended_ms = decision->at_ms;
        row->worst_mC = decision->worst_mC;
    } else if (log->at.entry.kind == ENTRY_ACTION) {
        write_action(log, row);
    } else {
        write_verified(log, row);
    }
    return true;
}

/* ---- the page ---- */

static void
where(struct html *html, const struct view *view, const struct decision *opened)
{
    const struct plan *plan = view->snapshot->plan;
    int place = opened->place[0] == '\0' ? -1 : plan_place_index(plan, opened->place);
    int probe = plan_probe_by_number(plan, opened->probe);
    if (opened->batch != 0)
        html_format(html, "<a href=\"/batch/%u\">batch %u</a>", (unsigned)opened->batch,
                    (unsigned)opened->batch);
    else if (place >= 0)
        html_format(html, "<a href=\"/place/%s\">", opened->place);
    if (opened->batch == 0)
        html_text(html, place >= 0                       ? plan->places[place].name
                        : probe >= 0                     ? plan->probes[probe].name
                        : opened->thermometer[0] != '\0' ? opened->thermometer
                                                         : opened->place);
    if (opened->batch == 0 && place >= 0)
        html_raw(html, "</a>");
}

static void
write_row(struct html *html, struct deviation_log *log, struct row *row)
{
    struct past opened = {.is_decision = true, .decision = row->opened};
    html_format(html, "<li id=\"d%u\" class=\"deviation%s\">\n<h3>Deviation %u",
                (unsigned)row->number,
                row->ended_ms == TIME_NONE || row->verified_seq == 0 ? " open" : "",
                (unsigned)row->number);
    if (row->has_opened) {
        html_raw(html, ": ");
        where(html, log->view, &row->opened);
    }
    html_raw(html, "</h3>\n");
    if (row->has_opened) {
        html_raw(html, "<p>");
        past_time(html, log->view, row->opened.at_ms);
        html_raw(html, " ");
        past_tell(html, log->view, &opened);
        html_format(html, " <a class=\"why\" href=\"/why/d%u\">why</a></p>\n<p>",
                    (unsigned)row->number);
    } else {
        html_raw(html, "<p>Opened before the time shown here. ");
    }
    if (row->ended_ms == TIME_NONE) {
        html_raw(html, "<strong>It goes on.</strong></p>\n");
    } else {
        html_raw(html, "Ended ");
        past_time(html, log->view, row->ended_ms);
        if (row->worst_mC != TEMP_NONE && row->has_opened) {
            char worst[24];
            html_format(
                html, ", worst %s&nbsp;°C",
                temp_text_against(worst, sizeof worst, row->worst_mC, row->opened.required));
        }
        html_raw(html, "</p>\n");
    }
    html_raw(html, row->doubt.bytes != NULL ? row->doubt.bytes : "");
    html_raw(html, row->alarm.bytes != NULL ? row->alarm.bytes : "");
    html_raw(html,
             row->action.bytes != NULL
                 ? row->action.bytes
                 : "<p class=\"todo\"><strong>No corrective action recorded yet.</strong></p>");
    html_raw(html, row->verified.bytes != NULL ? row->verified.bytes
                   : row->action.bytes != NULL
                       ? "<p class=\"todo\"><strong>Not verified yet.</strong></p>"
                       : "");
    html->failed = html->failed || row->action.failed || row->verified.failed ||
                   row->doubt.failed || row->alarm.failed;
    html_raw(html, "</li>\n");
}

static struct answer
page(struct deviation_log *log, uint32_t days)
{
    const struct snapshot *snapshot = log->view->snapshot;
    struct html html;
    html_init(&html);
    layout_start(&html, log->view, "Deviations", NAV_DEVIATIONS);
    html_raw(
        &html,
        "<h1>Deviations and corrective actions</h1>\n<h2>Open now</h2>\n<div id=\"deviations\" "
        "aria-live=\"polite\">\n");
    html_raw(&html, snapshot->deviation_count == 0 ? "<p class=\"none\">None.</p>\n"
                                                   : "<ol class=\"deviations\">\n");
    for (size_t i = 0; i < snapshot->deviation_count; i++) {
        html_format(&html,
                    "<li data-deviation=\"%u\"><a class=\"number\" href=\"#d%u\">Deviation "
                    "%u</a> <span data-f=\"sentence\">",
                    (unsigned)snapshot->deviations[i].view.number,
                    (unsigned)snapshot->deviations[i].view.number,
                    (unsigned)snapshot->deviations[i].view.number);
        html_sentence(&html, snapshot->deviations[i].sentence);
        html_raw(&html, "</span> <span class=\"alarm\" data-f=\"alarm\">");
        html_sentence(&html, snapshot->deviations[i].alarm);
        html_raw(&html, "</span></li>\n");
    }
    html_raw(&html, snapshot->deviation_count == 0 ? "</div>\n" : "</ol>\n</div>\n");
    if (snapshot->reviews_waiting > 0)
        html_format(&html,
                    "<p%s>%sThe records of %u day%s wait for their review, the oldest "
                    "<span class=\"whole\">%s</span>%s: <kbd>trivet review</kbd>.%s</p>\n",
                    snapshot->reviews_overdue > 0 ? " class=\"todo\"" : "",
                    snapshot->reviews_overdue > 0 ? "<strong>" : "", snapshot->reviews_waiting,
                    snapshot->reviews_waiting == 1 ? "" : "s", snapshot->review_oldest,
                    snapshot->reviews_overdue > 0 ? "; it is overdue" : "",
                    snapshot->reviews_overdue > 0 ? "</strong>" : "");
    html_format(&html, "<h2>Log of the last %u days</h2>\n", (unsigned)days);
    if (log->more)
        html_format(&html,
                    "<p>Only the first %d of this time are shown; the export holds all.</p>\n",
                    ROWS_MAX);
    html_raw(&html, log->count == 0 ? "<p class=\"none\">No deviation in this time.</p>\n"
                                    : "<ol class=\"devlog\">\n");
    for (size_t i = log->count; i > 0; i--)
        write_row(&html, log, &log->rows[i - 1]);
    html_raw(&html, log->count == 0 ? "" : "</ol>\n");
    html_raw(&html,
             "<p class=\"quiet\">Further back: <a href=\"/deviations?days=90\">90 days</a>, "
             "<a href=\"/deviations?days=400\">400 days</a>, or the <a "
             "href=\"/records\">export</a>.</p>\n");
    layout_end(&html, log->view);
    return answer_html(MHD_HTTP_OK, &html);
}

static struct answer
answer_log(struct request *request, struct store_reader *reader, struct deviation_log *log,
           uint32_t days)
{
    struct store_error error = {.text = ""};
    uint64_t from = 0, head_seq = log->view->snapshot->seq;
    int64_t from_ms = log->view->viewed_ms - days * DAY_MS;
    enum store_status status = history_seq_before(reader, from_ms, head_seq, &from, &error);
    if (status == STORE_OK)
        status = store_each_record(reader, from, head_seq, NULL, take_record, log, &error);
    for (size_t i = 0; status == STORE_OK && i < log->count; i++)
        if (log->rows[i].has_opened && log->rows[i].opened.reason == REASON_FAILED_CHECK)
            status = thermometers_doubt(&log->rows[i].doubt, log->view, reader,
                                        &log->rows[i].opened, &error);
    return status == STORE_OK ? page(log, days) : store_trouble(request, &error);
}

struct answer
page_deviations(struct request *request, struct store_reader *reader)
{
    const char *text = query_value(&request->query, "days");
    uint32_t days = DAYS_DEFAULT;
    struct answer answer = {0};
    struct view view;
    if (text != NULL && !query_number(text, DAYS_MAX, &days))
        return answer_words(request->web, MHD_HTTP_BAD_REQUEST, "Not understood",
                            "days is a whole number from 1 to 400.");
    if (reader == NULL)
        return store_trouble(request, NULL);
    view_take(&view, request->web);
    struct deviation_log *log = calloc(1, sizeof *log);
    if (log != NULL && view.snapshot != NULL && view.snapshot->plan != NULL) {
        log->view = &view;
        answer = answer_log(request, reader, log, days);
    }
    for (size_t i = 0; log != NULL && i < log->count; i++) {
        html_done(&log->rows[i].action);
        html_done(&log->rows[i].verified);
        html_done(&log->rows[i].doubt);
        html_done(&log->rows[i].alarm);
    }
    free(log);
    view_drop(&view);
    return answer;
}
