/* Why something was decided: the rule with its source, what was required and found, the
 * readings around it, who was told and what people did since. Desk thread. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "history.h"
#include "page_curve.h"
#include "trivet/explain.h"

#define DECISIONS_MAX 100

struct why_page {
    const struct view *view;
    struct explain_id id;
    uint64_t seqs[DECISIONS_MAX];
    size_t count;
    bool more;
};

static bool
take_seq(void *arg, uint64_t seq, const struct decision *decision)
{
    struct why_page *page = arg;
    (void)decision;
    page->more = page->count == DECISIONS_MAX;
    if (!page->more)
        page->seqs[page->count++] = seq;
    return !page->more;
}

static void
term(struct html *html, const char *name, const char *text)
{
    if (text == NULL || text[0] == '\0')
        return;
    html_raw(html, "<dt>");
    html_raw(html, name);
    html_raw(html, "</dt><dd>");
    html_sentence(html, text);
    html_raw(html, "</dd>\n");
}

/* As the clock showed it then. */
static void
instant(struct html *html, const struct explanation *of, int64_t at_ms)
{
    const struct zone *zone = zone_shared(of->plan == NULL ? "UTC" : of->plan->time_zone);
    char text[40];
    html_format(html, "<time>%s</time>",
                zone_stamp_text(zone, at_ms + of->offset_ms, text, sizeof text));
}

static void
write_rule(struct html *html, const struct explanation *of)
{
    html_raw(html, "<dt>Rule</dt><dd>");
    if (of->rule.number[0] != '\0') {
        html_text(html, of->rule.number);
        html_raw(html, ": ");
    }
    html_sentence(html, of->rule.sentence);
    html_raw(html, "</dd>\n");
    term(html, "Required", of->words.required);
    if (of->limit != NULL) {
        term(html, "Critical control point", of->limit->ccp);
        term(html, "Source",
             of->limit->source == NULL ? "the plan names none" : of->limit->source);
    }
    term(html, "Found", of->words.found);
    term(html, "Uncertainty", of->words.uncertainty);
}

static void
write_doors(struct html *html, const struct explanation *of)
{
    char words[200];
    if (of->door_count == 0 && !of->doors_closed)
        return;
    html_raw(html, "<dt>Doors</dt><dd>");
    html_raw(html, of->doors_closed ? "Closed, also in the ten minutes before it began." : "");
    for (size_t i = 0; i < of->door_count; i++) {
        explain_door_words(&of->doors[i], words, sizeof words);
        html_raw(html, i == 0 ? "" : "; ");
        html_text(html, words);
        html_raw(html, ", since ");
        instant(html, of, of->doors[i].from_ms);
        html_format(html, " <span class=\"seq\">%" PRIu64 "</span>", of->doors[i].seq);
    }
    html_raw(html, "</dd>\n");
}

static void
write_told(struct html *html, const struct explanation *of)
{
    if (!decision_tells(&of->decision) && of->forecast.batch == 0)
        return;
    html_raw(html, "<dt>Told</dt><dd>");
    if (of->told_count == 0)
        html_raw(html, of->hook ? "nobody yet, as far as the records say"
                                : "nobody but this page: the plan has no alarm command");
    for (size_t i = 0; i < of->told_count; i++) {
        html_raw(html, i == 0 ? "" : "; ");
        instant(html, of, of->told[i].at_ms);
        html_raw(html, of->told[i].done ? " the plan's alarm command took it"
                                        : " the plan's alarm command failed");
        html_raw(html, of->told[i].how[0] == '\0' ? "" : ": ");
        html_text(html, of->told[i].how);
        html_format(html, " <span class=\"seq\">%" PRIu64 "</span>", of->told[i].seq);
    }
    html_raw(html, "</dd>\n");
}

static void
write_entries(struct html *html, const struct explanation *of, const struct view *view)
{
    if (!decision_opens(&of->decision) || of->entry_count == 0)
        return;
    html_raw(html, "<dt>Since</dt><dd>");
    for (size_t i = 0; i < of->entry_count; i++) {
        html_raw(html, i == 0 ? "" : "<br>");
        html_raw(html, explain_deed(of->entries[i].kind));
        html_raw(html, " by ");
        past_person(html, view, of->entries[i].who);
        html_raw(html, ", ");
        instant(html, of, of->entries[i].at_ms);
        html_format(html, " <span class=\"seq\">%" PRIu64 "</span>", of->entries[i].seq);
        html_raw(html, of->entries[i].said[0] == '\0' ? "" : ": ");
        html_sentence(html, of->entries[i].said);
    }
    html_raw(html, "</dd>\n");
}

/* On a phone the style sheet makes lines of the table's cells; a screen reader still hears a
 * table. */
#define CELL "<td role=\"cell\">"

static void
write_reading(struct html *html, const struct explanation *of, const struct reading *reading)
{
    char temp[32] = "", probe[8];
    bool decided = reading->at_ms == of->decision.at_ms;
    if (reading->temp_mC != TEMP_NONE)
        (void)temp_text_against(temp, sizeof temp, reading->temp_mC, of->decision.required);
    html_raw(html,
             decided ? "<tr class=\"decided\" role=\"row\">" CELL : "<tr role=\"row\">" CELL);
    instant(html, of, reading->at_ms);
    html_raw(html, "</td>" CELL);
    html_text(html, explain_probe(of->plan, reading->probe, probe));
    html_format(html, "</td>" CELL "%s%s</td>" CELL, temp, temp[0] == '\0' ? "" : "&nbsp;°C");
    html_text(html, reading_quality_phrase(reading->quality));
    bool last = of->decision.last_ms != 0 && reading->at_ms == of->decision.last_ms;
    html_raw(html, decided                                   ? "; decided here"
                   : last                                    ? "; last one outside"
                   : reading->at_ms == of->decision.since_ms ? "; counted from here"
                                                             : "");
    html_raw(html, "</td></tr>\n");
}

static void
write_readings(struct html *html, const struct explanation *of)
{
    if (of->reading_count == 0)
        return;
    html_raw(html, "<div class=\"scroll\"><table class=\"around\" role=\"table\"><caption>The "
                   "readings around it</caption>"
                   "<thead><tr><th>Time</th><th>Probe</th><th>Temperature</th><th>Quality</th>"
                   "</tr></thead><tbody>\n");
    for (size_t i = 0; i < of->reading_count; i++) {
        if (explain_gap_before(of, i))
            html_raw(html, "<tr class=\"gap\" role=\"row\"><td role=\"cell\" "
                           "colspan=\"4\">\xe2\x80\xa6</td></tr>\n");
        write_reading(html, of, &of->readings[i]);
    }
    html_raw(html, "</tbody></table></div>\n");
}

static void
write_plan(struct html *html, const struct explanation *of)
{
    if (of->plan == NULL)
        return;
    html_format(html, "<dt>Plan</dt><dd>record %" PRIu64 ", <code>%.12s</code>%s</dd>\n",
                of->plan_seq, of->plan->digest,
                of->plan->draft ? ", a draft whose limits may change" : "");
}

static void
write_where(struct html *html, const struct explanation *of)
{
    if (of->decision.batch != 0) {
        html_format(html, "<dt>Batch</dt><dd><a href=\"/batch/%u\">%u</a> ",
                    (unsigned)of->decision.batch, (unsigned)of->decision.batch);
        html_text(html, of->product);
        html_raw(html, "</dd>\n");
    }
    term(html, "Place", of->decision.place);
}

static void
write_entered(struct html *html, const struct explanation *of, const struct view *view)
{
    if (of->who[0] == '\0' && of->by_probe[0] == '\0') {
        html_raw(html, "<p>Nothing was decided by it.</p>\n");
        return;
    }
    html_raw(html, "<dl><dt>Entered by</dt><dd>");
    if (of->who[0] != '\0')
        past_person(html, view, of->who);
    else
        html_format(html, "By itself, probe %s,", of->by_probe);
    html_raw(html, "</dd><dt>Led to</dt><dd>");
    html_raw(html, of->led_count == 0 ? "no decision at that moment" : "");
    for (size_t i = 0; i < of->led_count; i++)
        html_format(html, "<a href=\"/why/%" PRIu64 "\">record %" PRIu64 "</a> ", of->led_to[i],
                    of->led_to[i]);
    html_raw(html, "</dd></dl>\n");
}

/* Advice is told as advice. */
static void
write_forecast(struct html *html, const struct explanation *of)
{
    const struct explain_forecast *said = &of->forecast;
    html_raw(html, "<p>Nothing was decided by it: only measurements decide.</p>\n<dl>\n");
    html_format(html, "<dt>Batch</dt><dd><a href=\"/batch/%u\">%u</a></dd>\n",
                (unsigned)said->batch, (unsigned)said->batch);
    if (said->deadline_ms != TIME_NONE) {
        html_raw(html, "<dt>Due</dt><dd>");
        instant(html, of, said->deadline_ms);
        html_raw(html, "</dd>\n");
    }
    if (said->expected_ms != TIME_NONE) {
        html_raw(html, "<dt>Expected</dt><dd>");
        instant(html, of, said->expected_ms);
        html_raw(html, "</dd>\n");
    }
    if (said->miss_permille >= 0)
        html_format(html, "<dt>Chance</dt><dd>%d %% of a miss</dd>\n",
                    (said->miss_permille + 5) / 10);
    write_told(html, of);
    write_plan(html, of);
    html_raw(html, "</dl>\n");
}

static void
write_one(struct html *html, const struct explanation *of, const struct view *view)
{
    bool decision = strcmp(of->kind, "decision") == 0;
    char words[200];
    html_raw(html, "<section class=\"reason\">\n<h2>");
    if (of->forecast.batch != 0)
        explain_forecast_words(&of->forecast, words, sizeof words);
    html_sentence(html, decision ? of->words.what : of->forecast.batch != 0 ? words : of->kind);
    html_raw(html, "</h2>\n<p>");
    instant(html, of, of->at_ms);
    html_format(html, " <a class=\"seq\" href=\"/why/%" PRIu64 "\">%" PRIu64 "</a></p>\n",
                of->seq, of->seq);
    if (decision) {
        html_raw(html, "<dl>\n");
        write_where(html, of);
        write_rule(html, of);
        write_doors(html, of);
        write_told(html, of);
        write_entries(html, of, view);
        write_plan(html, of);
        html_raw(html, "</dl>\n");
        write_readings(html, of);
    } else if (of->forecast.batch != 0) {
        write_forecast(html, of);
    } else {
        write_entered(html, of, view);
    }
    html_raw(html, "</section>\n");
}

static void
title_text(const struct explain_id *id, char *buf, size_t size)
{
    static const char *const names[] = {"record", "deviation", "batch"};
    (void)snprintf(buf, size, "Why: %s %" PRIu64, names[id->of], id->number);
}

static struct answer
page(struct request *request, struct store_reader *reader, struct why_page *page)
{
    struct store_error error = {.text = ""};
    enum store_status status = STORE_OK;
    struct html html;
    char title[60];
    size_t shown = 0;
    html_init(&html);
    title_text(&page->id, title, sizeof title);
    layout_start(&html, page->view, title,
                 page->id.of == EXPLAIN_DEVIATION ? NAV_DEVIATIONS : NAV_NONE);
    html_format(&html, "<h1>%s</h1>\n", title);
    for (size_t i = 0; status == STORE_OK && i < page->count; i++) {
        struct explanation *of = NULL;
        status = explain_record(reader, page->seqs[i], &of, &error);
        if (of != NULL) {
            write_one(&html, of, page->view);
            shown++;
        }
        explanation_free(of);
    }
    if (status == STORE_OK && shown > 0) {
        if (page->more)
            html_format(&html, "<p>Only the first %d decisions are shown.</p>\n",
                        DECISIONS_MAX);
        layout_end(&html, page->view);
        return answer_html(MHD_HTTP_OK, &html);
    }
    html_done(&html);
    return status != STORE_OK
               ? store_trouble(request, &error)
               : answer_words(request->web, MHD_HTTP_NOT_FOUND, "Nothing of that number",
                              "The records hold nothing of that number. Write /why/d3 for a "
                              "deviation, /why/b12 for a batch, /why/214 for a record.");
}

struct answer
page_why(struct request *request, struct store_reader *reader)
{
    struct view view;
    struct store_error error = {.text = ""};
    struct why_page why = {.view = &view};
    enum store_status status = STORE_OK;
    if (!explain_id_read(request->query.path + strlen("/why/"), &why.id))
        return answer_words(
            request->web, MHD_HTTP_NOT_FOUND, "No such page",
            "Write /why/d3 for a deviation, /why/b12 for a batch, /why/214 for a "
            "record.");
    if (reader == NULL)
        return store_trouble(request, NULL);
    view_take(&view, request->web);
    if (why.id.of == EXPLAIN_RECORD)
        why.seqs[why.count++] = why.id.number;
    else
        status = explain_each(reader, &why.id, take_seq, &why, &error);
    struct answer answer =
        status == STORE_OK ? page(request, reader, &why) : store_trouble(request, &error);
    view_drop(&view);
    return answer;
}
