/* The kitchen now: the page that hangs in the kitchen, and the same for machines. Server
 * thread; reads only the snapshot. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "own.h"
#include "thermometers.h"
#include "ticket.h"

#define JSON_BYTES_MAX ((size_t)4 * 1024 * 1024)

static void
open_deviations(struct html *html, const struct snapshot *snapshot)
{
    html_raw(html, "<section class=\"open\" aria-labelledby=\"h-deviations\">\n<h2 "
                   "id=\"h-deviations\">Open deviations</h2>\n"
                   "<div id=\"deviations\" aria-live=\"polite\">\n");
    if (snapshot->deviation_count == 0)
        html_raw(html, "<p class=\"none\">None.</p>\n");
    else
        html_raw(html, "<ol class=\"deviations\">\n");
    for (size_t i = 0; i < snapshot->deviation_count; i++) {
        const struct snapshot_deviation *deviation = &snapshot->deviations[i];
        html_format(html,
                    "<li data-deviation=\"%u\"><a class=\"number\" "
                    "href=\"/deviations#d%u\">Deviation %u</a> "
                    "<span data-f=\"sentence\">",
                    (unsigned)deviation->view.number, (unsigned)deviation->view.number,
                    (unsigned)deviation->view.number);
        html_sentence(html, deviation->sentence);
        html_raw(html, "</span> <span class=\"alarm\" data-f=\"alarm\">");
        html_sentence(html, deviation->alarm);
        html_raw(html, "</span></li>\n");
    }
    html_raw(html, snapshot->deviation_count == 0 ? "</div>\n</section>\n"
                                                  : "</ol>\n</div>\n</section>\n");
}

/* Always there, so that the script finds it; hidden while nothing waits. */
static void
waiting(struct html *html, const struct snapshot *snapshot)
{
    html_format(
        html,
        "<section class=\"open\" id=\"undecided\" aria-labelledby=\"h-undecided\"%s>\n<h2 "
        "id=\"h-undecided\">Waits for a person</h2>\n<ol class=\"deviations\">\n",
        snapshot->undecided_count == 0 ? " hidden" : "");
    for (size_t i = 0; i < snapshot->undecided_count; i++) {
        const struct snapshot_undecided *undecided = &snapshot->undecided[i];
        unsigned batch = undecided->view.said.batch;
        html_format(html, "<li data-undecided=\"%u\">", batch);
        if (batch != 0)
            html_format(html, "<a class=\"number\" href=\"/batch/%u\">Batch %u</a> ", batch,
                        batch);
        html_sentence(html, undecided->sentence);
        html_raw(html, "</li>\n");
    }
    html_raw(html, "</ol>\n</section>\n");
}

static void
bus_troubles(struct html *html, const struct snapshot *snapshot)
{
    bool any = false;
    for (size_t i = 0; i < snapshot->bus_count; i++)
        any = any || !snapshot->buses[i].up;
    for (size_t i = 0; snapshot->plan != NULL && i < snapshot->plan->signal_count; i++)
        any = any || snapshot->signals[i].faulty;
    html_format(html,
                "<section class=\"lines\" id=\"lines\" aria-labelledby=\"h-lines\"%s>\n<h2 "
                "id=\"h-lines\">Lines in "
                "trouble</h2>\n<ul>\n",
                any ? "" : " hidden");
    for (size_t i = 0; i < snapshot->bus_count; i++) {
        if (snapshot->buses[i].up)
            continue;
        html_raw(html, "<li><strong>");
        html_text(html, snapshot->plan->buses[i].id);
        html_raw(html, "</strong> ");
        html_text(html, snapshot->buses[i].trouble);
        html_raw(html, "</li>\n");
    }
    for (size_t i = 0; snapshot->plan != NULL && i < snapshot->plan->signal_count; i++) {
        if (!snapshot->signals[i].faulty)
            continue;
        html_raw(html, "<li><strong>");
        html_text(html, snapshot->plan->signals[i].name);
        html_raw(html, "</strong> cannot be relied on: ");
        html_text(html, snapshot->signals[i].trouble);
        html_raw(html, "</li>\n");
    }
    html_raw(html, "</ul>\n</section>\n");
}

/* Food in store that has a date. Always there, so that the script finds it; what it compares is
 * in data-kept. */
static void
kept(struct html *html, const struct snapshot *snapshot)
{
    bool any = false;
    for (size_t i = 0; i < snapshot->stored_count; i++)
        any = any || snapshot->stored[i].mark.days != 0;
    html_format(html,
                "<section class=\"lines\" id=\"kept\" aria-labelledby=\"h-kept\"%s>\n<h2 "
                "id=\"h-kept\">Food that is kept</h2>\n<ul>\n",
                any ? "" : " hidden");
    for (size_t i = 0; i < snapshot->stored_count; i++) {
        const struct engine_stored_view *stored = &snapshot->stored[i];
        const struct engine_mark_view *mark = &stored->mark;
        const struct plan_product *product = plan_product(snapshot->plan, stored->product);
        if (mark->days == 0)
            continue;
        html_format(html, "<li data-kept=\"%u/", (unsigned)stored->number);
        html_text(html, stored->place);
        html_format(html, "/%s/%d/%d\"><strong>Batch %u</strong> ", mark->day, mark->frozen,
                    mark->passed, (unsigned)stored->number);
        html_text(html, product == NULL ? stored->product : product->name);
        html_raw(html, stored->place[0] == '\0' ? "" : " in ");
        html_text(html, stored->place);
        html_raw(html, mark->passed           ? ": its last day is over, throw it away"
                       : mark->day[0] == '\0' ? ": its last day is not known yet"
                       : mark->frozen         ? ": frozen; thawed today, its last day is "
                                              : ": use it by the end of ");
        html_sentence(html, mark->passed ? "" : mark->day);
        html_raw(html, "</li>\n");
    }
    html_raw(html, "</ul>\n</section>\n");
}

static void
body(struct html *html, const struct view *view)
{
    const struct snapshot *snapshot = view->snapshot;
    html_raw(html, "<h1 class=\"aside\">The kitchen now</h1>\n");
    open_deviations(html, snapshot);
    waiting(html, snapshot);
    html_raw(html,
             "<section aria-labelledby=\"h-batches\">\n<h2 id=\"h-batches\">Batches</h2>\n");
    if (snapshot->batch_count == 0)
        html_raw(html, "<p class=\"none\">No batch is open. Begin one with <kbd>trivet "
                       "begin</kbd>.</p>\n");
    html_raw(html, "<div class=\"tickets\" id=\"batches\">\n");
    for (size_t i = 0; i < snapshot->batch_count; i++)
        if (snapshot->batches[i].view.product != NULL)
            ticket_batch(html, view, &snapshot->batches[i], false);
    html_raw(html, "</div>\n</section>\n<section aria-labelledby=\"h-places\">\n<h2 "
                   "id=\"h-places\">Places</h2>\n"
                   "<div class=\"tickets places\" id=\"places\">\n");
    for (size_t i = 0; i < snapshot->place_count; i++)
        if (snapshot->places[i].view.place < snapshot->plan->place_count)
            ticket_place(html, view, &snapshot->places[i], false);
    html_raw(html, "</div>\n</section>\n");
    kept(html, snapshot);
    bus_troubles(html, snapshot);
    thermometers_wanting(html, view);
}

static struct answer
starting(const struct web *web)
{
    return answer_with(answer_words(web, MHD_HTTP_SERVICE_UNAVAILABLE, "Starting",
                                    "Trivet has just been started and has no reading yet. This "
                                    "page follows in a moment."),
                       MHD_HTTP_HEADER_RETRY_AFTER, "2");
}

static struct MHD_Response *
build_page(const struct view *view)
{
    struct html html;
    html_init(&html);
    layout_start(&html, view, "The kitchen now", NAV_NOW);
    body(&html, view);
    layout_end(&html, view);
    return answer_html(MHD_HTTP_OK, &html).response;
}

static struct MHD_Response *
build_json(const struct view *view)
{
    for (size_t size = 16384; size <= JSON_BYTES_MAX; size *= 2) {
        char *bytes = malloc(size);
        if (bytes == NULL)
            return NULL;
        if (snapshot_json(view->snapshot, view->viewed_ms, bytes, size))
            return answer_given(MHD_HTTP_OK, "application/json", bytes, strlen(bytes)).response;
        free(bytes);
    }
    return NULL;
}

/* Many screens ask in the same second: they share one response. */
static struct answer
share(struct shared *shared, const struct view *view,
      struct MHD_Response *(*build)(const struct view *))
{
    const int64_t second = view->viewed_ms / 1000;
    if (shared->response == NULL || shared->version != view->snapshot->version ||
        shared->second != second) {
        if (shared->response != NULL)
            MHD_destroy_response(shared->response);
        shared->response = build(view);
        shared->version = view->snapshot->version;
        shared->second = second;
    }
    return (struct answer){.status = MHD_HTTP_OK, .response = shared->response, .kept = true};
}

struct answer
page_now(struct request *request, struct store_reader *reader)
{
    struct web *web = request->web;
    struct view view;
    (void)reader;
    view_take(&view, web);
    const bool is_there = view.snapshot != NULL && view.snapshot->plan != NULL;
    const struct answer answer =
        is_there ? share(&web->now_page, &view, build_page) : starting(web);
    view_drop(&view);
    return answer;
}

/* For machines. */
struct answer
now_json(struct request *request, struct store_reader *reader)
{
    struct web *web = request->web;
    struct view view;
    (void)reader;
    view_take(&view, web);
    const struct answer answer =
        view.snapshot != NULL ? share(&web->now_json, &view, build_json) : starting(web);
    view_drop(&view);
    return answer;
}
