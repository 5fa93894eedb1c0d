/* Curves of batches and places: reading the store into a drawing. Desk thread. */
#include "page_curve.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "trivet/reading.h"

bool
curve_form_read(const struct query *query, const char *rest, char *ret_id, size_t size,
                enum curve_form *ret_form)
{
    const char *slash = strchr(rest, '/');
    size_t len = slash == NULL ? strlen(rest) : (size_t)(slash - rest);
    const char *wanted = query_value(query, "size"), *tag = query_value(query, "v");
    uint32_t version;
    if (len == 0 || len >= size || (slash != NULL && strcmp(slash, "/curve.svg") != 0))
        return false;
    if (slash == NULL && (wanted != NULL || tag != NULL))
        return false;
    if ((wanted != NULL && strcmp(wanted, "small") != 0) ||
        (tag != NULL && !query_number(tag, UINT32_MAX, &version)))
        return false;
    memcpy(ret_id, rest, len);
    ret_id[len] = '\0';
    *ret_form = slash == NULL ? FORM_PAGE : wanted != NULL ? FORM_SMALL : FORM_FILE;
    return true;
}

struct filling {
    struct curve *curve;
    struct curve_line *line;
    const struct web *web;
};

static bool
take_reading(void *arg, const struct reading *reading)
{
    struct filling *filling = arg;
    if (reading_is_good(reading->quality))
        curve_point(filling->curve, filling->line, reading->at_ms, reading->temp_mC);
    return !atomic_load_explicit(&filling->web->stopping, memory_order_relaxed);
}

enum store_status
curve_fill(struct curve *curve, const struct view *view, struct store_reader *reader,
           uint16_t probe, const char *name, struct store_error *reterr)
{
    struct filling filling = {.curve = curve, .web = view->web};
    filling.line = curve_line_add(curve, name, snapshot_stale_after_ms(view->snapshot, probe));
    if (filling.line == NULL)
        return STORE_OK; /* more probes than colours: the rest are in the export */
    int64_t to_ms = curve->to_ms < view->snapshot->at_ms ? curve->to_ms : view->snapshot->at_ms;
    return store_each_corrected(reader, probe, curve->from_ms - 1, to_ms, take_reading,
                                &filling, reterr);
}

void
curve_figure(struct html *html, const struct curve *curve, const char *path)
{
    html_raw(html, "<figure class=\"curvebox\" data-curve=\"");
    html_text(html, path);
    html_raw(html, "/curve.svg\">\n");
    curve_svg(html, curve, CURVE_WIDE);
    curve_svg(html, curve, CURVE_NARROW);
    html_raw(html, "</figure>\n");
}

struct answer
curve_file(struct curve *curve, enum curve_form form)
{
    struct html html;
    struct answer none = {0};
    html_init(&html);
    if (form == FORM_SMALL) {
        curve_svg(&html, curve, CURVE_SMALL);
    } else {
        /* For the script, which puts both into the page. */
        html_raw(&html, "<svg xmlns=\"http://www.w3.org/2000/svg\">\n");
        curve_svg(&html, curve, CURVE_WIDE);
        curve_svg(&html, curve, CURVE_NARROW);
        html_raw(&html, "</svg>\n");
    }
    curve_free(curve);
    if (html.failed) {
        html_done(&html);
        return none;
    }
    return answer_given(MHD_HTTP_OK, "image/svg+xml; charset=utf-8", html.bytes, html.len);
}

struct answer
store_trouble(const struct request *request, const struct store_error *error)
{
    const char *why = error != NULL ? error->text : request->reader_error;
    return answer_with(answer_words(request->web, MHD_HTTP_SERVICE_UNAVAILABLE,
                                    "The record cannot be read now", why),
                       MHD_HTTP_HEADER_RETRY_AFTER, "5");
}

/* A limit in thousandths of Celsius for its place on the drawing only; the label says it
 * exactly. */
static int32_t
drawn_mC(struct limit_temp limit)
{
    if (limit.unit == TEMP_C)
        return limit.milli;
    return (int32_t)((int64_t)(limit.milli - 32000) * 5 / 9);
}

static void
add_level(struct curve *curve, struct limit_temp temp, bool upper, int64_t from_ms,
          int64_t to_ms, const char *more)
{
    char text[32];
    struct curve_bound bound = {
        .temp_mC = drawn_mC(temp), .from_ms = from_ms, .to_ms = to_ms, .upper = upper};
    (void)snprintf(bound.label, sizeof bound.label, "%s %s%s", upper ? "at most" : "at least",
                   limit_temp_text(text, sizeof text, temp), more);
    curve_bound_add(curve, &bound);
}

/* As the plan's own words have it: "2 h", "1 h 30 min". */
static char *
duration_spoken(char *buf, size_t size, int64_t duration_ms)
{
    if (duration_ms % 3600000 != 0)
        return duration_text(buf, size, duration_ms);
    (void)snprintf(buf, size, "%" PRId64 " h", duration_ms / 3600000);
    return buf;
}

static void
add_cooling(struct curve *curve, const struct plan_limit *limit, int64_t from_ms, int64_t to_ms,
            int64_t clock_ms)
{
    char text[32], more[64];
    int64_t stage_from_ms = clock_ms;
    if (clock_ms == TIME_NONE) {
        struct curve_bound start = {
            .temp_mC = drawn_mC(limit->start), .from_ms = from_ms, .to_ms = to_ms};
        (void)snprintf(start.label, sizeof start.label, "clock starts at %s",
                       limit_temp_text(text, sizeof text, limit->start));
        curve_bound_add(curve, &start);
        return;
    }
    for (size_t i = 0; i < limit->stage_count; i++) {
        /* One that counts from the stage before is drawn as late as it can be. */
        bool own_clock = limit->stages[i].counts_from == STAGE_FROM_STAGE_BEFORE;
        int64_t until_ms = (own_clock ? stage_from_ms : clock_ms) + limit->stages[i].within_ms;
        (void)snprintf(more, sizeof more, " within %s%s", own_clock ? "a further " : "",
                       duration_spoken(text, sizeof text, limit->stages[i].within_ms));
        add_level(curve, limit->stages[i].to, true, stage_from_ms, until_ms, more);
        stage_from_ms = until_ms;
    }
}

void
curve_limit(struct curve *curve, const struct plan_limit *limit, int64_t from_ms, int64_t to_ms,
            int64_t clock_ms)
{
    char text[32], more[48] = "";
    switch (limit->kind) {
    case LIMIT_NONE:
    case LIMIT_OVEN: /* the air's, and this is the food's curve */
    case LIMIT_MOIST_OVEN:
    case LIMIT_DAYS:
    case LIMIT_SUM:
    case LIMIT_LETHALITY: /* every temperature counts, none is the limit */
        return;
    case LIMIT_ZONE:
    case LIMIT_RISE:
        add_level(curve, limit->temp, true, from_ms, to_ms, "");
        add_level(curve, limit->hot, false, from_ms, to_ms, "");
        return;
    case LIMIT_TIME:
        if (limit->has_ceiling)
            add_level(curve, limit->ceiling, true, from_ms, to_ms, "");
        return;
    case LIMIT_COOK:
    case LIMIT_REHEAT:
    case LIMIT_COOK_TABLE:
        if (limit->hold_ms > 0)
            (void)snprintf(more, sizeof more, " for %s",
                           duration_spoken(text, sizeof text, limit->hold_ms));
        add_level(curve, limit->temp, false, from_ms, to_ms, more);
        return;
    case LIMIT_HOLD_HOT:
        add_level(curve, limit->temp, false, from_ms, to_ms, "");
        return;
    case LIMIT_HOLD_COLD:
        add_level(curve, limit->temp, true, from_ms, to_ms, "");
        return;
    case LIMIT_COOL:
        add_cooling(curve, limit, from_ms, to_ms, clock_ms);
        return;
    }
}
