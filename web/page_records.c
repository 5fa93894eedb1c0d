/* Records: the head of the chain and the way to the exports, as a plain form. Desk thread. */
#include <inttypes.h>
#include <stdio.h>

#include "page_curve.h"
#include "thermometers.h"
#include "trivet/export.h"

static void
write_head(struct html *html, const struct view *view, const struct store_head *head)
{
    char text[40];
    html_format(
        html,
        "<h2>Head of the chain</h2>\n<dl class=\"head\">\n<dt>Last record</dt><dd>%" PRIu64
        "</dd>\n",
        head->seq);
    if (head->at_ms != TIME_NONE)
        html_format(html, "<dt>Latest instant</dt><dd>%s</dd>\n",
                    view_stamp(view, head->at_ms, text, sizeof text));
    if (head->sealed_to_ms != TIME_NONE)
        html_format(html,
                    "<dt>Readings sealed up to</dt><dd>%s; later ones are not yet fixed</dd>\n",
                    view_stamp(view, head->sealed_to_ms, text, sizeof text));
    html_raw(html, "<dt>Hash of the last record</dt><dd><code class=\"hash\">");
    for (size_t i = 0; i < sizeof head->hash; i++)
        html_format(html, "%02x%s", head->hash[i], i % 4 == 3 ? "<wbr>" : "");
    html_raw(html,
             "</code></dd>\n</dl>\n<p>Write this hash down, or keep it elsewhere, to be able "
             "to show later that nothing "
             "before it was changed. <kbd>trivet chain</kbd> checks the whole chain.</p>\n");
}

static void
write_form(struct html *html, const struct view *view)
{
    struct zone_time today, before;
    int64_t now_ms = view->viewed_ms + view->snapshot->offset_ms;
    zone_split(view->zone, now_ms, &today);
    zone_split(view->zone, zone_day_start(view->zone, now_ms, -6), &before);
    html_raw(html, "<h2>Export</h2>\n<p>Tables as CSV files, for any range of days of the "
                   "site's calendar (both days "
                   "included). Times inside are UTC; at the end of each row they stand in "
                   "local time as well.</p>\n<form class=\"export\" "
                   "method=\"get\" action=\"/export\">\n"
                   "<p><label for=\"kind\">What</label> <select id=\"kind\" name=\"kind\">");
    for (int kind = EXPORT_READINGS; kind <= EXPORT_RECORDS; kind++)
        html_format(html, "<option>%s</option>", export_kind_word((enum export_kind)kind));
    html_format(html,
                "</select></p>\n<p><label for=\"from\">From</label> <input id=\"from\" "
                "type=\"date\" name=\"from\" required "
                "value=\"%04d-%02d-%02d\"></p>\n<p><label for=\"to\">To</label> <input "
                "id=\"to\" type=\"date\" name=\"to\" "
                "required value=\"%04d-%02d-%02d\"></p>\n<p><button>Download "
                "CSV</button></p>\n</form>\n",
                (int)before.year, before.month, before.day, (int)today.year, today.month,
                today.day);
    html_format(html, "<p>Today: ");
    for (int kind = EXPORT_READINGS; kind <= EXPORT_RECORDS; kind++)
        html_format(
            html,
            "%s<a href=\"/export/%s.csv?from=%04d-%02d-%02d&amp;to=%04d-%02d-%02d\">%s</a>",
            kind == EXPORT_READINGS ? "" : ", ", export_kind_word((enum export_kind)kind),
            (int)today.year, today.month, today.day, (int)today.year, today.month, today.day,
            export_kind_word((enum export_kind)kind));
    html_raw(html, ".</p>\n");
}

struct answer
page_records(struct request *request, struct store_reader *reader)
{
    struct view view;
    struct html html;
    struct store_head head;
    struct store_error error = {.text = ""};
    if (reader == NULL)
        return store_trouble(request, NULL);
    if (store_reader_head(reader, &head, &error) != STORE_OK)
        return store_trouble(request, &error);
    view_take(&view, request->web);
    if (view.snapshot == NULL) {
        view_drop(&view);
        return answer_words(request->web, MHD_HTTP_SERVICE_UNAVAILABLE, "Starting",
                            "Trivet has just been started.");
    }
    html_init(&html);
    layout_start(&html, &view, "Records", NAV_RECORDS);
    html_raw(&html, "<h1>Records</h1>\n");
    write_form(&html, &view);
    write_head(&html, &view, &head);
    if (view.snapshot->plan != NULL &&
        thermometers_all(&html, &view, reader, &error) != STORE_OK) {
        html_done(&html);
        view_drop(&view);
        return store_trouble(request, &error);
    }
    layout_end(&html, &view);
    view_drop(&view);
    return answer_html(MHD_HTTP_OK, &html);
}
