/* What every page has: head, navigation, warnings that must not be missed, cautions. Any
 * thread. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "own.h"

void
view_take(struct view *view, const struct web *web)
{
    view->web = web;
    view->snapshot = board_take(web->board);
    view->viewed_ms = board_now_ms(web->board);
    const struct plan *plan = view->snapshot == NULL ? NULL : view->snapshot->plan;
    view->product = NULL;
    view->names = NULL;
    view->zone = zone_shared(plan == NULL ? "UTC" : plan->time_zone);
}

void
view_drop(struct view *view)
{
    snapshot_release(view->snapshot);
    view->snapshot = NULL;
}

static int64_t
shown_ms(const struct view *view, int64_t at_ms)
{
    return at_ms + (view->snapshot == NULL ? 0 : view->snapshot->offset_ms);
}

char *
view_clock(const struct view *view, int64_t at_ms, char *buf, size_t size)
{
    return zone_clock_text(view->zone, shown_ms(view, at_ms), shown_ms(view, view->viewed_ms),
                           buf, size);
}

char *
view_stamp(const struct view *view, int64_t at_ms, char *buf, size_t size)
{
    return zone_stamp_text(view->zone, shown_ms(view, at_ms), buf, size);
}

const char *
concern_class(enum concern concern)
{
    switch (concern) {
    case CONCERN_NONE:
        return "calm";
    case CONCERN_WATCH:
        return "watch";
    case CONCERN_ACT:
        return "act";
    }
    return "act";
}

void
layout_stamp(struct html *html, const struct stamp *stamp)
{
    /* A shape and a word beside the colour: circle, diamond, square. */
    static const char *const shapes[] = {"\xe2\x97\x8b", "\xe2\x97\x86", "\xe2\x96\xa0"};
    static const char *const words[] = {"In order", "Look", "Act"};
    const char *shape = shapes[stamp->concern], *word = words[stamp->concern];
    if (stamp->stale && stamp->concern != CONCERN_ACT) {
        shape = "\xe2\x9c\x95"; /* a cross: what is not known is not in order */
        word = "No reading";
    } else if (!stamp->limited && stamp->concern == CONCERN_NONE) {
        shape = "\xc2\xb7"; /* a dot: nothing is asked here */
        word = "No limit";
    } else if (stamp->met && stamp->concern == CONCERN_NONE) {
        shape = "\xe2\x9c\x93";
        word = "Limit met";
    }
    html_format(html,
                "<span class=\"stamp%s\" data-f=\"stamp\"><span aria-hidden=\"true\">%s</span> "
                "%s</span>\n",
                stamp->limited ? "" : " none", shape, word);
}

void
layout_age(struct html *html, const struct view *view, int64_t at_ms)
{
    char text[32];
    if (at_ms == TIME_NONE) {
        html_raw(html, "<span class=\"age\" data-f=\"age\">never read</span>");
        return;
    }
    int64_t age_ms = view->viewed_ms > at_ms ? view->viewed_ms - at_ms : 0;
    html_format(html,
                "<span class=\"age\" data-f=\"age\" data-age=\"%" PRId64 "\">%s ago</span>",
                age_ms / 1000, duration_text(text, sizeof text, age_ms));
}

static void
nav_link(struct html *html, const char *href, const char *text, bool current)
{
    html_format(html, "<li><a href=\"%s\"%s>%s</a></li>", href,
                current ? " aria-current=\"page\"" : "", text);
}

static void
head(struct html *html, const struct view *view, const char *title)
{
    const struct plan *plan = view->snapshot == NULL ? NULL : view->snapshot->plan;
    html_raw(
        html,
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>");
    html_text(html, title);
    if (plan != NULL) {
        html_raw(html, " · ");
        html_text(html, plan->site_name);
    }
    html_raw(html,
             "</title>\n<meta name=\"color-scheme\" content=\"light dark\">\n"
             "<link rel=\"icon\" href=\"/favicon.svg\" type=\"image/svg+xml\">\n"
             "<link rel=\"stylesheet\" href=\"/style.css\">\n"
             "<script src=\"/page.js\" defer></script>\n"
             "<noscript><meta http-equiv=\"refresh\" content=\"30\"></noscript>\n</head>\n");
}

static void
banner(struct html *html, const char *id, bool shown, const char *text)
{
    html_format(html, "<p class=\"banner %s\" id=\"banner-%s\"%s>%s</p>\n", id, id,
                shown ? "" : " hidden", text);
}

static void
banners(struct html *html, const struct view *view)
{
    const struct snapshot *snapshot = view->snapshot;
    char clock[40] = "";
    bool late = snapshot != NULL &&
                view->viewed_ms - snapshot->at_ms > snapshot_late_after_ms(snapshot);
    banner(
        html, "demo", snapshot != NULL && snapshot->plan != NULL && snapshot->plan->demo,
        "<strong>Demo data.</strong> A simulated kitchen: nothing here was measured in food.");
    banner(html, "draft", snapshot != NULL && snapshot->plan != NULL && snapshot->plan->draft,
           "<strong>Draft plan.</strong> Its limits have not been approved.");
    banner(
        html, "unverified",
        snapshot != NULL && snapshot->plan != NULL && snapshot->plan->accept_unverified,
        "<strong>Unverified limits.</strong> The plan accepts published figures that were not "
        "checked against their text.");
    html_raw(html, "<div id=\"alerts\" role=\"alert\">\n");
    banner(html, "lost", false, "");
    if (late)
        view_clock(view, snapshot->at_ms, clock, sizeof clock);
    html_format(
        html,
        "<p class=\"banner late\" id=\"banner-late\"%s><strong>No news from the watch since "
        "<span data-f=\"clock\">%s</span>.</strong> What is below is old: measure by hand, and "
        "see whether "
        "trivetd runs.</p>\n",
        late ? "" : " hidden", clock);
    html_format(html,
                "<p class=\"banner unrecorded\" id=\"banner-unrecorded\"%s><strong>Not on "
                "record.</strong> What is "
                "shown is measured and judged, but cannot be stored now: <span data-f=\"why\">",
                snapshot != NULL && snapshot->unrecorded ? "" : " hidden");
    html_text(html, snapshot == NULL ? "" : snapshot->unrecorded_why);
    html_raw(html, "</span></p>\n");
    html_format(html,
                "<p class=\"banner plan\" id=\"banner-plan\"%s><strong>The plan file was not "
                "taken.</strong> The plan in force stays. <span class=\"lines\" "
                "data-f=\"why\">",
                snapshot != NULL && snapshot->plan_refused[0] != '\0' ? "" : " hidden");
    html_text(html, snapshot == NULL ? "" : snapshot->plan_refused);
    html_raw(html, "</span></p>\n");
    banner(html, "clock", snapshot != NULL && !snapshot->clock_trusted,
           "<strong>The clock is not trusted.</strong> Durations are right; times of day may "
           "be wrong.");
    html_raw(html, "</div>\n");
}

void
layout_start(struct html *html, const struct view *view, const char *title, enum nav nav)
{
    const struct snapshot *snapshot = view->snapshot;
    char clock[40];
    head(html, view, title);
    html_format(html, "<body data-version=\"%" PRIu64 "\">\n",
                snapshot == NULL ? 0 : snapshot->version);
    html_raw(html, "<a class=\"skip\" href=\"#main\">Skip to the content</a>\n<header>\n<p "
                   "class=\"site\">");
    html_text(html, snapshot == NULL || snapshot->plan == NULL ? "Trivet"
                                                               : snapshot->plan->site_name);
    html_raw(html, "</p>\n<nav aria-label=\"Pages\"><ul>");
    nav_link(html, "/", "Now", nav == NAV_NOW);
    nav_link(html, "/deviations", "Deviations", nav == NAV_DEVIATIONS);
    nav_link(html, "/records", "Records", nav == NAV_RECORDS);
    html_raw(html, "</ul></nav>\n");
    if (snapshot != NULL) {
        html_format(html,
                    "<p class=\"asof\" id=\"asof\"><span class=\"word\">As of</span> <span "
                    "data-f=\"clock\">%s</span> ",
                    view_clock(view, snapshot->at_ms, clock, sizeof clock));
        layout_age(html, view, snapshot->at_ms);
        html_raw(html, "</p>\n");
    }
    html_raw(html, "</header>\n");
    banners(html, view);
    html_raw(html, "<main id=\"main\" tabindex=\"-1\">\n");
}

void
layout_end(struct html *html, const struct view *view)
{
    const struct snapshot *snapshot = view->snapshot;
    html_raw(
        html,
        "</main>\n<footer>\n<p>Trivet advises; people decide. It does not replace a "
        "thermometer in the hand, training, "
        "or the kitchen's own HACCP plan. Local food codes and the authority prevail.</p>\n"
        "<p>This page can only be read: entries are made with the <kbd>trivet</kbd> command.");
    if (snapshot != NULL && snapshot->plan != NULL)
        html_format(html, " Plan <code>%.12s</code>, record %" PRIu64 ".",
                    snapshot->plan->digest, snapshot->seq);
    html_raw(html, " Trivet ");
    html_text(html, view->web->version);
    html_raw(html, "</p>\n</footer>\n</body>\n</html>\n");
}
