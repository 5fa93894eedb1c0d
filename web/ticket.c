/* Dockets: one batch or place with its number, its age, its sentence. Used by the page of the
 * kitchen and, larger, at the head of a batch's or place's own page. Any thread; reads only the
 * snapshot. */
#include "ticket.h"

#include <inttypes.h>
#include <stdio.h>

struct ticket {
    const char *kind, *id; /* "batch", "7" */
    const char *name;
    enum concern concern;
    bool met, watched, limited, lead;
    int32_t temp_mC;
    struct limit_temp against;
    const struct engine_probe_view *probe;
    const char *sentence;
    const char *ahead, *if_changed; /* NULL or "" = nothing is forecast */
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
    html_raw(html, "</span><span class=\"unit\">°C</span> ");
    layout_age(html, view, at_ms);
    html_raw(html, "</p>\n");
}

static bool
ticket_stale(const struct view *view, const struct ticket *ticket)
{
    const struct engine_probe_view *probe = ticket->probe;
    return ticket->watched &&
           (probe == NULL || probe->gap || probe->last_good.at_ms == TIME_NONE ||
            view->viewed_ms - probe->last_good.at_ms >
                snapshot_stale_after_ms(view->snapshot, probe->number));
}

static void
ticket_start(struct html *html, const struct view *view, const struct ticket *ticket)
{
    int64_t stale_ms = ticket->probe == NULL
                           ? 0
                           : snapshot_stale_after_ms(view->snapshot, ticket->probe->number);
    bool stale = ticket_stale(view, ticket);
    html_format(
        html, "<%s class=\"ticket %s%s%s\" data-%s=\"%s\" data-stale-after=\"%" PRId64 "\">\n",
        ticket->lead ? "div" : "article", ticket->lead ? "lead " : "",
        concern_class(ticket->concern),
        stale             ? " stale"
        : ticket->watched ? ""
                          : " unwatched",
        ticket->kind, ticket->id, (stale_ms + 999) / 1000);
    if (ticket->lead)
        return; /* the page's own heading names it */
    html_format(html, "<h3><a href=\"/%s/%s\">", ticket->kind, ticket->id);
    html_text(html, ticket->name);
    html_raw(html, "</a></h3>\n");
}

static void
ticket_ahead(struct html *html, const char *field, const char *words)
{
    if (words == NULL)
        return;
    html_format(html, "<p class=\"ahead\" data-f=\"%s\"%s>", field,
                words[0] == '\0' ? " hidden" : "");
    html_sentence(html, words);
    html_raw(html, "</p>\n");
}

static void
ticket_end(struct html *html, const struct view *view, const struct ticket *ticket)
{
    if (ticket->watched || ticket->concern != CONCERN_NONE || ticket->met)
        layout_stamp(html, &(struct stamp){.concern = ticket->concern,
                                           .met = ticket->met,
                                           .stale = ticket_stale(view, ticket),
                                           .limited = ticket->limited});
    if (ticket->watched)
        ticket_reading(html, view, ticket);
    html_raw(html, "<p class=\"sentence\" data-f=\"sentence\">");
    html_sentence(html, ticket->sentence);
    html_raw(html, "</p>\n");
    ticket_ahead(html, "ahead", ticket->ahead);
    ticket_ahead(html, "if_changed", ticket->if_changed);
    if (ticket->watched && !ticket->lead) {
        html_format(html,
                    "<p class=\"spark\"><a href=\"/%s/%s\"><img "
                    "src=\"/%s/%s/curve.svg?size=small\" width=\"320\" "
                    "height=\"72\" loading=\"lazy\" alt=\"Curve of ",
                    ticket->kind, ticket->id, ticket->kind, ticket->id);
        html_text(html, ticket->name);
        html_raw(html, "\"></a></p>\n");
    }
    html_raw(html, ticket->lead ? "</div>\n" : "</article>\n");
}

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

void
ticket_batch(struct html *html, const struct view *view, const struct snapshot_batch *batch,
             bool lead)
{
    const struct engine_batch_view *of = &batch->view;
    char id[16];
    (void)snprintf(id, sizeof id, "%u", (unsigned)of->number);
    const struct engine_probe_view *probe = snapshot_batch_probe(view->snapshot, of);
    struct ticket ticket = {
        .kind = "batch",
        .id = id,
        .name = of->product->name,
        .concern = batch->concern,
        .met = of->verdict == VERDICT_MET,
        .lead = lead,
        .watched = of->probe_count > 0,
        .limited = of->product->steps[of->step].limit.kind != LIMIT_NONE,
        .temp_mC = of->governing_mC != TEMP_NONE ? of->governing_mC
                   : probe != NULL && probe->last_good.at_ms != TIME_NONE
                       ? probe->last_good.temp_mC
                       : TEMP_NONE,
        .against = shown_against(of),
        .probe = probe,
        .sentence = batch->sentence,
        .ahead = batch->ahead,
        .if_changed = lead ? batch->if_changed : NULL,
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

void
ticket_place(struct html *html, const struct view *view, const struct snapshot_place *place,
             bool lead)
{
    const struct plan *plan = view->snapshot->plan;
    const struct plan_place *of = &plan->places[place->view.place];
    struct ticket ticket = {
        .kind = "place",
        .id = of->id,
        .name = of->name,
        .concern = place->concern,
        .lead = lead,
        .watched = of->probe >= 0,
        .limited = of->limit.kind != LIMIT_NONE,
        .temp_mC = place->view.temp_mC,
        .against = of->limit.temp,
        .probe = of->probe < 0 ? NULL
                               : snapshot_probe(view->snapshot, plan->probes[of->probe].number),
        .sentence = place->sentence,
    };
    ticket_start(html, view, &ticket);
    ticket_end(html, view, &ticket);
}
