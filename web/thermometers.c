/* See thermometers.h. Server thread for what reads the snapshot alone, else desk thread. */
#include "thermometers.h"

#include <inttypes.h>
#include <string.h>

#include "history.h"
#include "trivet/check_history.h"
#include "trivet/units.h"

#define LOOKS_MAX  400
#define LOOKS_DAYS 400
#define DAY_MS     INT64_C(86400000)

/* ---- what has to be looked after ---- */

static void
wanting_reference(struct html *html, const struct plan_reference *reference,
                  enum check_state state)
{
    html_raw(html, "<li data-reference=\"");
    html_text(html, reference->id);
    html_format(html, "\" data-state=\"%s\"><strong>", check_state_word(state));
    html_text(html, reference->name);
    html_format(html, "</strong> certificate until <span class=\"whole\">%s</span>: %s</li>\n",
                reference->due,
                state == CHECK_OVERDUE ? "nothing can be checked against it now"
                                       : "have it renewed");
}

static void
wanting_check(struct html *html, const struct plan *plan, const struct snapshot_check *check)
{
    html_raw(html, "<li data-thermometer=\"");
    html_text(html, thermometer_id(plan, &check->view));
    html_raw(html, "\"><strong>");
    html_text(html, thermometer_name(plan, &check->view));
    html_raw(html, "</strong> <span data-f=\"sentence\">");
    html_sentence(html, check->sentence);
    html_raw(html, "</span></li>\n");
}

/* Always there, so that the script finds it; hidden while none wants anything. */
void
thermometers_wanting(struct html *html, const struct view *view)
{
    const struct snapshot *snapshot = view->snapshot;
    const struct plan *plan = snapshot->plan;
    bool any = false;
    for (size_t i = 0; i < snapshot->check_count; i++)
        any = any || snapshot->checks[i].concern != CONCERN_NONE;
    for (size_t i = 0; i < plan->reference_count; i++)
        any = any || reference_state(snapshot, &plan->references[i]) != CHECK_GOOD;
    html_format(html,
                "<section class=\"lines\" id=\"thermometers\" "
                "aria-labelledby=\"h-thermometers\"%s>\n<h2 id=\"h-thermometers\">Thermometers "
                "to look after</h2>\n<ul>\n",
                any ? "" : " hidden");
    for (size_t i = 0; i < snapshot->check_count; i++)
        if (snapshot->checks[i].concern != CONCERN_NONE)
            wanting_check(html, plan, &snapshot->checks[i]);
    for (size_t i = 0; i < plan->reference_count; i++) {
        enum check_state state = reference_state(snapshot, &plan->references[i]);
        if (state != CHECK_GOOD)
            wanting_reference(html, &plan->references[i], state);
    }
    html_raw(html, "</ul>\n<p class=\"quiet\"><a href=\"/records#h-checks\">All thermometers "
                   "and their checks</a></p>\n</section>\n");
}

/* ---- all of them ---- */

/* With one decimal, as everywhere, or more where one would hide on which side of 0 °C it is. */
static const char *
degrees(char *buf, size_t size, int32_t temp_mC)
{
    return temp_text_against(buf, size, temp_mC, (struct limit_temp){0, TEMP_C});
}

static void
newest(struct html *html, const struct snapshot *snapshot,
       const struct engine_check_view *check)
{
    char corrected[24], raw[24];
    const struct engine_probe_view *probe =
        check->is_handheld
            ? NULL
            : snapshot_probe(snapshot, snapshot->plan->probes[check->probe].number);
    if (probe == NULL || probe->last_good.at_ms == TIME_NONE)
        return;
    html_format(html, " Reads %s&nbsp;°C",
                degrees(corrected, sizeof corrected, probe->last_good.temp_mC));
    if (check->correction.count > 0)
        html_format(html, ", corrected; raw %s&nbsp;°C",
                    degrees(raw, sizeof raw, probe->last_good_raw_mC));
    html_raw(html, ".");
}

static void
in_force(struct html *html, const struct probe_correction *correction)
{
    char raw[24], add[24];
    if (correction->count == 0)
        return;
    html_raw(html, " Correction in force: ");
    for (size_t i = 0; i < correction->count; i++)
        html_format(html, "%s%s%s at a raw %s", i == 0 ? "" : ", ",
                    correction->add_mK[i] < 0 ? "" : "+",
                    temp_text(add, sizeof add, correction->add_mK[i]),
                    temp_text(raw, sizeof raw, correction->raw_mC[i]));
    html_raw(html, correction->count == 1 ? ", the same everywhere." : ".");
}

struct telling {
    struct html *html;
    const struct view *view;
    size_t count;
};

static bool
tell_look(void *arg, const struct check_look *look)
{
    struct telling *telling = arg;
    struct html *html = telling->html;
    char shown[24], right[24], raw[24];
    if (atomic_load_explicit(&telling->view->web->stopping, memory_order_relaxed) ||
        ++telling->count > LOOKS_MAX)
        return false;
    html_raw(html, "<li>");
    past_time(html, telling->view, look->at_ms);
    html_raw(html, " <strong>");
    html_text(html,
              look->entry->probe[0] != '\0' ? look->entry->probe : look->entry->thermometer);
    html_format(html, "</strong> %s, ", look->as_left ? "as left" : "as found");
    for (size_t i = 0; i < look->count; i++) {
        const struct calibration_point *point = &look->points[i];
        int32_t seen_mC = correction_apply(look->correction, point->found_mC);
        html_format(html, "%s%s where %s was right", i == 0 ? "" : "; ",
                    temp_text(shown, sizeof shown, seen_mC),
                    temp_text(right, sizeof right, point->reference_mC));
        if (seen_mC != point->found_mC)
            html_format(html, " (raw %s)", temp_text(raw, sizeof raw, point->found_mC));
    }
    if (look->tolerance_mK != 0)
        html_raw(html, look->within ? ": passes" : ": <strong>fails</strong>");
    html_raw(html, ", by ");
    past_person(html, telling->view, look->entry->who);
    html_format(html, " <span class=\"seq\">%" PRIu64 "</span></li>\n", look->seq);
    return true;
}

enum store_status
thermometers_all(struct html *html, const struct view *view, struct store_reader *reader,
                 struct store_error *reterr)
{
    const struct snapshot *snapshot = view->snapshot;
    struct telling telling = {.html = html, .view = view};
    html_raw(html, "<h2 id=\"h-checks\">Thermometers</h2>\n<p>Every temperature shown is the "
                   "corrected one; readings are stored raw. <kbd>trivet calibrate</kbd> checks "
                   "a thermometer.</p>\n<ul>\n");
    for (size_t i = 0; i < snapshot->check_count; i++) {
        const struct snapshot_check *check = &snapshot->checks[i];
        html_raw(html, "<li><strong>");
        html_text(html, thermometer_name(snapshot->plan, &check->view));
        html_raw(html, "</strong> ");
        html_sentence(html, check->sentence);
        newest(html, snapshot, &check->view);
        in_force(html, &check->view.correction);
        html_raw(html, "</li>\n");
    }
    html_raw(html, "</ul>\n<h3>Checks of the last 400 days</h3>\n<ol class=\"checks\">\n");
    enum store_status status =
        check_history_each(reader, "", view->viewed_ms - LOOKS_DAYS * DAY_MS, INT64_MAX,
                           tell_look, &telling, reterr);
    html_raw(html, "</ol>\n");
    if (telling.count == 0)
        html_raw(html, "<p class=\"none\">None.</p>\n");
    if (telling.count > LOOKS_MAX)
        html_format(
            html, "<p>Only the first %d are shown; the export of calibrations holds all.</p>\n",
            LOOKS_MAX);
    return status;
}

/* ---- doubt ---- */

enum store_status
thermometers_doubt(struct html *html, const struct view *view, struct store_reader *reader,
                   const struct decision *opened, struct store_error *reterr)
{
    struct doubt doubt;
    enum store_status status = doubt_read(reader, opened, &doubt, reterr);
    if (status != STORE_OK)
        return status;
    html_format(html, "<p>In doubt: %" PRIu64 " reading%s", doubt.readings,
                doubt.readings == 1 ? "" : "s");
    if (doubt.first_ms != TIME_NONE) {
        html_raw(html, " from ");
        past_time(html, view, doubt.first_ms);
        html_raw(html, " to ");
        past_time(html, view, doubt.last_ms);
    }
    html_raw(html, doubt.batch_count == 0 ? ", of no batch" : ", and of batches ");
    for (size_t i = 0; i < doubt.batch_count; i++) {
        html_format(html, "%s<a href=\"/batch/%u\">%u</a> ", i == 0 ? "" : ", ",
                    (unsigned)doubt.batches[i].number, (unsigned)doubt.batches[i].number);
        html_text(html, doubt.batches[i].product);
    }
    html_raw(html, ".</p>\n");
    doubt_done(&doubt);
    return STORE_OK;
}
