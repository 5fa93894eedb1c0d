/* A place: its sentence and the curve of its last 24 hours. Desk thread. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "page_curve.h"
#include "ticket.h"

#define DAY_MS   INT64_C(86400000)
#define SMALL_MS INT64_C(14400000) /* the small curve shows the last four hours */

static struct curve *
build(const struct view *view, const struct plan_place *place, int64_t span_ms,
      struct store_reader *reader, enum store_status *ret, struct store_error *reterr)
{
    const struct plan_probe *probe = &view->snapshot->plan->probes[place->probe];
    char limit[200];
    struct curve *curve = curve_new(view->snapshot->at_ms - span_ms, view->snapshot->at_ms);
    if (curve == NULL)
        return NULL;
    curve->zone = view->zone;
    curve->offset_ms = view->snapshot->offset_ms;
    (void)snprintf(curve->title, sizeof curve->title, "%s: the last 24 hours", place->name);
    (void)snprintf(curve->description, sizeof curve->description,
                   "Temperature of %s, read by %s. Limit: %s. Breaks in the line are times "
                   "without a good reading.",
                   place->name, probe->name,
                   plan_limit_text(limit, sizeof limit, &place->limit));
    curve_limit(curve, &place->limit, curve->from_ms, curve->to_ms, TIME_NONE);
    *ret = curve_fill(curve, view, reader, probe->number, probe->name, reterr);
    return curve;
}

static void
body(struct html *html, const struct view *view, const struct plan_place *place, int index,
     const struct curve *curve)
{
    const struct snapshot *snapshot = view->snapshot;
    char text[200];
    html_raw(html, "<h1>");
    html_text(html, place->name);
    html_raw(html, "</h1>\n");
    for (size_t i = 0; i < snapshot->place_count; i++) {
        if (snapshot->places[i].view.place != index)
            continue;
        ticket_place(html, view, &snapshot->places[i], true);
    }
    if (curve != NULL) {
        (void)snprintf(text, sizeof text, "/place/%s", place->id);
        html_raw(html, "<h2>The last 24 hours</h2>\n");
        curve_figure(html, curve, text);
    }
    html_raw(html, "<p class=\"quiet\">Limit: ");
    html_sentence(html, plan_limit_text(text, sizeof text, &place->limit));
    if (place->limit.source != NULL) {
        html_raw(html, ". Source, as the plan says: ");
        html_sentence(html, place->limit.source);
    }
    html_raw(html, "</p>\n");
}

static struct answer
page(const struct view *view, int index, const struct curve *curve)
{
    struct html html;
    const struct plan_place *place = &view->snapshot->plan->places[index];
    html_init(&html);
    layout_start(&html, view, place->name, NAV_NONE);
    body(&html, view, place, index, curve);
    layout_end(&html, view);
    return answer_html(MHD_HTTP_OK, &html);
}

static struct answer
answer_place(struct request *request, struct store_reader *reader, const struct view *view)
{
    char id[PLAN_ID_MAX + 1];
    enum curve_form form;
    const char *rest = request->query.path + strlen("/place/");
    if (!curve_form_read(&request->query, rest, id, sizeof id, &form))
        return answer_words(request->web, MHD_HTTP_BAD_REQUEST, "Not understood",
                            "Write /place/ID, with the place's id of the plan.");
    int index = view->snapshot == NULL || view->snapshot->plan == NULL
                    ? -1
                    : plan_place_index(view->snapshot->plan, id);
    if (index < 0)
        return answer_words(request->web, MHD_HTTP_NOT_FOUND, "No such place",
                            "The plan in force has no place of this id. The page of the "
                            "kitchen now lists them.");
    const struct plan_place *place = &view->snapshot->plan->places[index];
    if (place->probe < 0)
        return form == FORM_PAGE ? page(view, index, NULL)
                                 : answer_words(request->web, MHD_HTTP_NOT_FOUND, "No curve",
                                                "No probe watches this place.");
    if (reader == NULL)
        return store_trouble(request, NULL);
    struct store_error error = {.text = ""};
    enum store_status status = STORE_OK;
    struct curve *curve =
        build(view, place, form == FORM_SMALL ? SMALL_MS : DAY_MS, reader, &status, &error);
    struct answer answer = {0};
    if (curve != NULL && status == STORE_OK && form != FORM_PAGE)
        return curve_file(curve, form);
    if (curve != NULL)
        answer = status == STORE_OK ? page(view, index, curve) : store_trouble(request, &error);
    curve_free(curve);
    return answer;
}

struct answer
page_place(struct request *request, struct store_reader *reader)
{
    struct view view;
    view_take(&view, request->web);
    struct answer answer = answer_place(request, reader, &view);
    view_drop(&view);
    return answer;
}
