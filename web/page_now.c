/* The kitchen now: the page that hangs in the kitchen, and the same for machines. Server
 * thread; reads only the snapshot. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "own.h"

#define JSON_BYTES_MAX (4 * 1024 * 1024)

static const struct engine_probe_view *
latest_probe(const struct snapshot *snapshot, const struct engine_batch_view *view)
{
    const struct engine_probe_view *latest = snapshot_probe(snapshot, view->governing_probe);
    if (latest != NULL)
        return latest;
    for (size_t i = 0; i < view->probe_count; i++) {
        const struct engine_probe_view *probe = snapshot_probe(snapshot, view->probes[i]);
        if (probe != NULL &&
            (latest == NULL || probe->last_good.at_ms > latest->last_good.at_ms))
            latest = probe;
    }
    return latest;
}

/* ---- what batches and places share ---- */

struct ticket {
    const char *kind, *id; /* "batch", "7" */
    const char *name;
    enum concern concern;
    bool met, watched;
    int32_t temp_mC;
    struct limit_temp against;
    const struct engine_probe_view *probe;
    const char *sentence;
};

static void
ticket_reading(struct html *html, const struct view *view, const struct ticket *ticket)
{
    char temp[24];
    int64_t at_ms = ticket->probe == NULL ? TIME_NONE : ticket->probe->last_good.at_ms;
    html_raw(html, "<p class=\"reading\"><span class=\"temp\" data-f=\"temp\">");
    if (ticket->temp_mC == TEMP_NONE)
        html_raw(html, "\xe2\x80\x93"); /* a dash: no number is better than an invented one */
    else
        html_text(html, temp_text_against(temp, sizeof temp, ticket->temp_mC, ticket->against));
    html_raw(html, "</span><span class=\"unit\"> °C</span> ");
    layout_age(html, view, at_ms);
    html_raw(html, "</p>\n");
}

static void
ticket_start(struct html *html, const struct view *view, const struct ticket *ticket)
{
    int64_t stale_ms = ticket->probe == NULL
                           ? 0
                           : snapshot_stale_after_ms(view->snapshot, ticket->probe->number);
    int64_t at_ms = ticket->probe == NULL ? TIME_NONE : ticket->probe->last_good.at_ms;
    bool stale = ticket->watched && (at_ms == TIME_NONE || view->viewed_ms - at_ms > stale_ms ||
                                     ticket->probe->gap);
    html_format(html,
                "<article class=\"ticket %s%s\" data-%s=\"%s\" data-stale-after=\"%" PRId64
                "\">\n<h3><a href=\"/%s/%s\">",
                concern_class(ticket->concern), stale ? " stale" : "", ticket->kind, ticket->id,
                (stale_ms + 999) / 1000, ticket->kind, ticket->id);
    html_text(html, ticket->name);
    html_raw(html, "</a></h3>\n");
}

static void
ticket_end(struct html *html, const struct view *view, const struct ticket *ticket)
{
    layout_concern(html, ticket->concern, ticket->met);
    if (ticket->watched)
        ticket_reading(html, view, ticket);
    html_raw(html, "<p class=\"sentence\" data-f=\"sentence\">");
    html_text(html, ticket->sentence);
    html_raw(html, "</p>\n");
    if (ticket->watched) {
        html_format(html,
                    "<p class=\"spark\"><a href=\"/%s/%s\"><img "
                    "src=\"/%s/%s/curve.svg?size=small\" width=\"320\" "
                    "height=\"72\" loading=\"lazy\" alt=\"Curve of ",
                    ticket->kind, ticket->id, ticket->kind, ticket->id);
        html_text(html, ticket->name);
        html_raw(html, "\"></a></p>\n");
    }
    html_raw(html, "</article>\n");
}

/* ---- sections ---- */

static struct limit_temp
shown_against(const struct engine_batch_view *view)
{
    const struct plan_limit *limit = &view->product->steps[view->step].limit;
    if (limit->kind != LIMIT_COOL)
        return limit->temp;
    if (view->clock_start_ms == TIME_NONE || view->stage == 0)
        return limit->start;
    return limit
        ->stages[view->stage <= limit->stage_count ? view->stage - 1 : limit->stage_count - 1]
        .to;
}

static void
one_batch(struct html *html, const struct view *view, const struct snapshot_batch *batch)
{
    const struct engine_batch_view *of = &batch->view;
    char id[16];
    (void)snprintf(id, sizeof id, "%u", (unsigned)of->number);
    const struct engine_probe_view *probe = latest_probe(view->snapshot, of);
    struct ticket ticket = {
        .kind = "batch",
        .id = id,
        .name = of->product->name,
        .concern = batch->concern,
        .met = of->verdict == VERDICT_MET,
        .watched = of->probe_count > 0,
        .temp_mC = of->governing_mC != TEMP_NONE ? of->governing_mC
                   : probe != NULL && probe->last_good.at_ms != TIME_NONE
                       ? probe->last_good.temp_mC
                       : TEMP_NONE,
        .against = shown_against(of),
        .probe = probe,
        .sentence = batch->sentence,
    };
    ticket_start(html, view, &ticket);
    html_raw(html, "<p class=\"step\"><span data-f=\"step\">");
    html_text(html, of->product->steps[of->step].name);
    html_format(html, "</span> <span class=\"quiet\">batch %u · ", (unsigned)of->number);
    html_text(html, of->who);
    if (of->mass_g > 0)
        html_format(html, " · %d.%d kg", (int)(of->mass_g / 1000),
                    (int)(of->mass_g % 1000 / 100));
    html_raw(html, "</span></p>\n");
    ticket_end(html, view, &ticket);
}

static void
one_place(struct html *html, const struct view *view, const struct snapshot_place *place)
{
    const struct plan *plan = view->snapshot->plan;
    const struct plan_place *of = &plan->places[place->view.place];
    struct ticket ticket = {
        .kind = "place",
        .id = of->id,
        .name = of->name,
        .concern = place->concern,
        .watched = of->probe >= 0,
        .temp_mC = place->view.temp_mC,
        .against = of->limit.temp,
        .probe = of->probe < 0 ? NULL
                               : snapshot_probe(view->snapshot, plan->probes[of->probe].number),
        .sentence = place->sentence,
    };
    ticket_start(html, view, &ticket);
    ticket_end(html, view, &ticket);
}

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
        html_text(html, deviation->sentence);
        html_raw(html, "</span></li>\n");
    }
    html_raw(html, snapshot->deviation_count == 0 ? "</div>\n</section>\n"
                                                  : "</ol>\n</div>\n</section>\n");
}

static void
bus_troubles(struct html *html, const struct snapshot *snapshot)
{
    bool any = false;
    for (size_t i = 0; i < snapshot->bus_count; i++)
        any = any || !snapshot->buses[i].up;
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
    html_raw(html, "</ul>\n</section>\n");
}

static void
body(struct html *html, const struct view *view)
{
    const struct snapshot *snapshot = view->snapshot;
    html_raw(html, "<h1 class=\"aside\">The kitchen now</h1>\n");
    open_deviations(html, snapshot);
    html_raw(html,
             "<section aria-labelledby=\"h-batches\">\n<h2 id=\"h-batches\">Batches</h2>\n");
    if (snapshot->batch_count == 0)
        html_raw(html, "<p class=\"none\">No batch is open. Begin one with <kbd>trivet "
                       "begin</kbd>.</p>\n");
    html_raw(html, "<div class=\"tickets\" id=\"batches\">\n");
    for (size_t i = 0; i < snapshot->batch_count; i++)
        if (snapshot->batches[i].view.product != NULL)
            one_batch(html, view, &snapshot->batches[i]);
    html_raw(html, "</div>\n</section>\n<section aria-labelledby=\"h-places\">\n<h2 "
                   "id=\"h-places\">Places</h2>\n"
                   "<div class=\"tickets places\" id=\"places\">\n");
    for (size_t i = 0; i < snapshot->place_count; i++)
        if (snapshot->places[i].view.place < snapshot->plan->place_count)
            one_place(html, view, &snapshot->places[i]);
    html_raw(html, "</div>\n</section>\n");
    bus_troubles(html, snapshot);
}

static struct answer
starting(const struct web *web)
{
    return answer_with(answer_words(web, MHD_HTTP_SERVICE_UNAVAILABLE, "Starting",
                                    "Trivet has just been started and has no reading yet. This "
                                    "page follows in a moment."),
                       MHD_HTTP_HEADER_RETRY_AFTER, "2");
}

struct answer
page_now(struct request *request, struct store_reader *reader)
{
    struct view view;
    struct html html;
    (void)reader;
    view_take(&view, request->web);
    if (view.snapshot == NULL || view.snapshot->plan == NULL) {
        view_drop(&view);
        return starting(request->web);
    }
    html_init(&html);
    layout_start(&html, &view, "The kitchen now", NAV_NOW);
    body(&html, &view);
    layout_end(&html, &view);
    view_drop(&view);
    return answer_html(MHD_HTTP_OK, &html);
}

/* ---- for machines ---- */

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

struct answer
now_json(struct request *request, struct store_reader *reader)
{
    struct web *web = request->web;
    struct view view;
    struct answer none = {0};
    (void)reader;
    view_take(&view, web);
    if (view.snapshot == NULL) {
        view_drop(&view);
        return starting(web);
    }
    /* Many screens ask in the same second: they share one response. */
    int64_t second = view.viewed_ms / 1000;
    if (web->now_json == NULL || web->now_version != view.snapshot->version ||
        web->now_second != second) {
        if (web->now_json != NULL)
            MHD_destroy_response(web->now_json);
        web->now_json = build_json(&view);
        web->now_version = view.snapshot->version;
        web->now_second = second;
    }
    view_drop(&view);
    if (web->now_json == NULL)
        return none;
    return (struct answer){.status = MHD_HTTP_OK, .response = web->now_json, .kept = true};
}
