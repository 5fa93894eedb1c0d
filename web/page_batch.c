/* A batch, open or ended: its sentence, its curve with the limits of its steps, what was
 * decided and entered. Desk thread.
 *
 * Everything but the sentence comes from the records, so that an ended batch is told like an
 * open one. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "history.h"
#include "page_curve.h"
#include "past_plan.h"
#include "ticket.h"

#define STEPS_MAX 32
#define ROWS_MAX  500
#define SMALL_MS  INT64_C(14400000) /* the small curve shows the last four hours */
#define AFTER_MS  INT64_C(86400000)
#define DEVS_MAX  64

struct step_past {
    int64_t from_ms, clock_ms;
    char step[PLAN_ID_MAX + 1];
};

struct batch_past {
    struct view *view;
    uint32_t number;
    bool begun, ended;
    enum batch_outcome outcome; /* as its newest end says */
    uint64_t begin_seq;
    struct plan
        *plan; /* that it began under and was judged by, of an ended one; owned; or NULL */
    uint64_t plan_seq;
    int64_t begun_ms, ended_ms;
    char product[PLAN_ID_MAX + 1];
    char who[PLAN_INITIALS_MAX + 1];
    char probes[ENTRY_PROBES_MAX][PLAN_ID_MAX + 1];
    size_t probe_count, step_count, row_count, deviation_count;
    struct step_past steps[STEPS_MAX];
    uint32_t deviations[DEVS_MAX];
    uint64_t entries[ROWS_MAX]; /* shown so far, by record: a correction names one of them */
    size_t entry_count;
    struct past at; /* the record being read */
    struct html rows;
};

/* ---- what judged it ---- */

static const struct snapshot_batch *
open_batch(const struct view *view, uint32_t number)
{
    for (size_t i = 0; i < view->snapshot->batch_count; i++)
        if (view->snapshot->batches[i].view.number == number)
            return &view->snapshot->batches[i];
    return NULL;
}

/* As the plan says that it began under (E80), be another one in force by now. A recorded plan
 * that this version cannot read leaves its limits unsaid. */
static const struct plan_product *
product_of(const struct batch_past *past)
{
    const struct snapshot_batch *open = open_batch(past->view, past->number);
    if (open != NULL)
        return open->view.product;
    return past->plan == NULL ? NULL : plan_product(past->plan, past->product);
}

/* Its own plan names its probes; what it got after a change of plan, the one in force. */
static const struct plan_probe *
probe_of(const struct batch_past *past, const char *id)
{
    const struct plan *plans[] = {past->plan, past->view->snapshot->plan};
    for (size_t i = 0; i < 2; i++) {
        int index = plans[i] == NULL ? -1 : plan_probe_index(plans[i], id);
        if (index >= 0)
            return &plans[i]->probes[index];
    }
    return NULL;
}

/* ---- reading the records ---- */

static bool
find_begin(void *arg, const struct store_record *record)
{
    struct batch_past *past = arg;
    if (!past_names(record, "batch", past->number))
        return true;
    past->begin_seq = record->seq;
    return false;
}

static void
add_probe(struct batch_past *past, const char *id)
{
    for (size_t i = 0; i < past->probe_count; i++)
        if (strcmp(past->probes[i], id) == 0)
            return;
    if (past->probe_count < ENTRY_PROBES_MAX)
        (void)snprintf(past->probes[past->probe_count++], sizeof past->probes[0], "%s", id);
}

static void
note_decision(struct batch_past *past, const struct decision *decision)
{
    if (decision->kind == DECISION_STEP_BEGUN && past->step_count < STEPS_MAX) {
        struct step_past *step = &past->steps[past->step_count++];
        step->from_ms = decision->at_ms;
        step->clock_ms = TIME_NONE;
        memcpy(step->step, decision->step, sizeof step->step);
    } else if (decision->kind == DECISION_CLOCK_STARTED && past->step_count > 0) {
        past->steps[past->step_count - 1].clock_ms = decision->since_ms;
    } else if (decision_opens(decision) && past->deviation_count < DEVS_MAX) {
        past->deviations[past->deviation_count++] = decision->deviation;
    } else if (decision->kind == DECISION_BATCH_ENDED) {
        past->ended = true;
        past->ended_ms = decision->at_ms;
    }
}

static void
note_entry(struct batch_past *past, const struct entry *entry, uint64_t seq, int64_t at_ms)
{
    if (past->entry_count < ROWS_MAX)
        past->entries[past->entry_count++] = seq;
    if (entry->kind == ENTRY_BEGIN) {
        past->begun = true;
        past->begun_ms = at_ms;
        memcpy(past->product, entry->product, sizeof past->product);
        memcpy(past->who, entry->who, sizeof past->who);
    }
    if (entry->kind == ENTRY_END)
        past->outcome = entry->outcome;
    if (entry->kind == ENTRY_BEGIN || entry->kind == ENTRY_MOVE)
        for (size_t i = 0; i < entry->probe_count; i++)
            add_probe(past, entry->probes[i]);
}

static bool
concerns(const struct batch_past *past, const struct past *at)
{
    uint32_t batch = at->is_decision ? at->decision.batch : at->entry.batch;
    uint32_t deviation = at->is_decision ? at->decision.deviation : at->entry.deviation;
    if (batch == past->number)
        return true;
    for (size_t i = 0; i < past->entry_count && !at->is_decision; i++)
        if (at->entry.kind == ENTRY_CORRECT && past->entries[i] == at->entry.refers)
            return true;
    for (size_t i = 0; i < past->deviation_count && deviation != 0; i++)
        if (past->deviations[i] == deviation)
            return true;
    return false;
}

static bool
take_record(void *arg, const struct store_record *record)
{
    struct batch_past *past = arg;
    if (atomic_load_explicit(&past->view->web->stopping, memory_order_relaxed))
        return false;
    /* Corrective actions and their verification follow within a day, or are in the log of
     * deviations. */
    if (past->ended && record->at_ms > past->ended_ms + AFTER_MS)
        return false;
    past->view->product = product_of(past);
    bool near_by = past_names(record, "batch", past->number) ||
                   strcmp(record->kind, entry_kind_word(ENTRY_CORRECT)) == 0;
    for (size_t i = 0; i < past->deviation_count && !near_by; i++)
        near_by = past_names(record, "deviation", past->deviations[i]);
    if (!near_by || !past_read(record, &past->at) || !concerns(past, &past->at))
        return true;
    if (past->at.is_decision)
        note_decision(past, &past->at.decision);
    else
        note_entry(past, &past->at.entry, record->seq, record->at_ms);
    if (past->row_count++ < ROWS_MAX) {
        html_raw(&past->rows, "<li>");
        past_time(&past->rows, past->view, record->at_ms);
        html_raw(&past->rows, " <span>");
        past_tell(&past->rows, past->view, &past->at);
        if (past->at.is_decision)
            html_format(&past->rows, " <a class=\"why\" href=\"/why/%" PRIu64 "\">why</a>",
                        record->seq);
        html_format(&past->rows, "</span> <span class=\"seq\">%" PRIu64 "</span></li>\n",
                    record->seq);
    }
    return true;
}

static enum store_status
read_past(struct batch_past *past, struct store_reader *reader, struct store_error *reterr)
{
    uint64_t from = 0, head_seq = past->view->snapshot->seq;
    const struct snapshot_batch *open = open_batch(past->view, past->number);
    enum store_status status;
    if (open != NULL) {
        status = history_seq_before(reader, open->view.begun_ms, head_seq, &from, reterr);
    } else {
        status = store_each_record(reader, 0, head_seq, "begin", find_begin, past, reterr);
        from = past->begin_seq == 0 ? head_seq : past->begin_seq - 1;
        if (status == STORE_OK && past->begin_seq != 0)
            status =
                past_plan_load(reader, past->begin_seq, &past->plan, &past->plan_seq, reterr);
    }
    if (status != STORE_OK)
        return status;
    past->view->names = past->plan;
    return store_each_record(reader, from, head_seq, NULL, take_record, past, reterr);
}

/* ---- the curve ---- */

static void
add_steps(struct curve *curve, const struct batch_past *past)
{
    const struct plan_product *product = product_of(past);
    for (size_t i = 0; i < past->step_count; i++) {
        const struct step_past *step = &past->steps[i];
        int64_t to_ms = i + 1 < past->step_count ? past->steps[i + 1].from_ms : curve->to_ms;
        int index = product == NULL ? -1 : plan_step_index(product, step->step);
        curve_mark_add(curve, step->from_ms,
                       index < 0 ? step->step : product->steps[index].name);
        if (index >= 0)
            curve_limit(curve, &product->steps[index].limit, step->from_ms, to_ms,
                        step->clock_ms);
    }
}

/* What comes next: the running temperature that has not been reached; NULL. */
static const struct advice_reach *
next_reach(const struct snapshot_batch *batch)
{
    if (batch == NULL || !batch->has_advice)
        return NULL;
    for (size_t i = 0; i < batch->advice.reach_count; i++)
        if (!batch->advice.reach[i].reached && batch->advice.reach[i].when.p50_ms != TIME_NEVER)
            return &batch->advice.reach[i];
    return NULL;
}

/* The running deadline and what is forecast belong on the drawing when they are not far off. */
static int64_t
curve_end(const struct batch_past *past)
{
    int64_t end_ms = past->ended ? past->ended_ms : past->view->snapshot->at_ms;
    int64_t longest_ms = end_ms - past->begun_ms + 1800000, ahead_ms = 0;
    const struct snapshot_batch *open = open_batch(past->view, past->number);
    const struct advice_reach *next = next_reach(open);
    if (open != NULL && open->view.deadline_ms != TIME_NONE)
        ahead_ms = open->view.deadline_ms - end_ms;
    if (next != NULL && next->when.p95_ms != TIME_NEVER &&
        next->when.p95_ms - end_ms > ahead_ms)
        ahead_ms = next->when.p95_ms - end_ms;
    if (ahead_ms > 0)
        end_ms += ahead_ms < longest_ms ? ahead_ms : longest_ms;
    return end_ms;
}

static void
add_guess(struct curve *curve, const struct batch_past *past)
{
    const struct advice_reach *next = next_reach(open_batch(past->view, past->number));
    char clock[40];
    if (next == NULL)
        return;
    struct curve_guess guess = {
        .temp_mC = next->to.unit == TEMP_C ? next->to.milli : (next->to.milli - 32000) / 9 * 5,
        .early_ms = next->when.p05_ms,
        .likely_ms = next->when.p50_ms,
        .late_ms = next->when.p95_ms < curve->to_ms ? next->when.p95_ms : curve->to_ms,
    };
    (void)snprintf(guess.label, sizeof guess.label, "forecast: about %s",
                   view_clock(past->view, guess.likely_ms, clock, sizeof clock));
    curve_guess_add(curve, &guess);
}

static struct curve *
build(const struct batch_past *past, struct store_reader *reader, enum curve_form form,
      enum store_status *ret, struct store_error *reterr)
{
    const struct view *view = past->view;
    const struct plan_product *product = product_of(past);
    int64_t end_ms = form == FORM_SMALL ? view->snapshot->at_ms : curve_end(past),
            from_ms = past->begun_ms;
    if (form == FORM_SMALL && end_ms - from_ms > SMALL_MS)
        from_ms = end_ms - SMALL_MS;
    struct curve *curve = curve_new(from_ms, end_ms);
    if (curve == NULL)
        return NULL;
    curve->zone = view->zone;
    curve->offset_ms = view->snapshot->offset_ms;
    (void)snprintf(curve->title, sizeof curve->title, "Batch %u, %s", (unsigned)past->number,
                   product == NULL ? past->product : product->name);
    (void)snprintf(curve->description, sizeof curve->description,
                   "Temperatures of the batch since it began, with the limits of its steps. "
                   "Breaks in a line are times "
                   "without a good reading.");
    add_steps(curve, past);
    add_guess(curve, past);
    for (size_t i = 0; i < past->probe_count && *ret == STORE_OK; i++) {
        const struct plan_probe *probe = probe_of(past, past->probes[i]);
        if (probe != NULL)
            *ret = curve_fill(curve, view, reader, probe->number, probe->name, reterr);
    }
    return curve;
}

/* ---- the page ---- */

static void
lead(struct html *html, const struct batch_past *past)
{
    const struct snapshot_batch *open = open_batch(past->view, past->number);
    char clock[40];
    if (open == NULL) {
        html_raw(html, "<div class=\"ended\"><p class=\"sentence\">This batch is ");
        if (past->ended) {
            html_raw(html,
                     past->outcome == OUTCOME_NONE ? "ended" : outcome_word(past->outcome));
            html_raw(html, ", since ");
            html_sentence(html, view_clock(past->view, past->ended_ms, clock, sizeof clock));
        } else {
            html_raw(html, "no longer open");
        }
        html_raw(html, ".</p></div>\n");
        return;
    }
    ticket_batch(html, past->view, open, true);
}

/* It will not begin any more, as things are: the batch has ended or is in a later step. */
static bool
is_over(const struct batch_past *past, size_t step)
{
    const struct plan_product *product = product_of(past);
    const char *last = past->step_count == 0 ? "" : past->steps[past->step_count - 1].step;
    return open_batch(past->view, past->number) == NULL ||
           plan_step_index(product, last) > (int)step;
}

static void
steps(struct html *html, const struct batch_past *past)
{
    const struct plan_product *product = product_of(past);
    char limit[200];
    if (product == NULL)
        return;
    html_raw(html, "<h2>Steps</h2>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" "
                   "aria-label=\"Steps\"><table class=\"steps\" role=\"table\">\n"
                   "<thead><tr><th scope=\"col\">Step</th><th scope=\"col\">Limit</th><th "
                   "scope=\"col\">Begun</th></tr></thead>\n<tbody>\n");
    for (size_t i = 0; i < product->step_count; i++) {
        html_raw(html, "<tr role=\"row\"><th scope=\"row\" role=\"rowheader\">");
        html_text(html, product->steps[i].name);
        html_raw(html, "</th><td role=\"cell\">");
        html_sentence(html, plan_limit_text(limit, sizeof limit, &product->steps[i].limit));
        html_raw(html, "</td><td role=\"cell\">");
        bool any = false;
        for (size_t k = 0; k < past->step_count; k++)
            if (strcmp(past->steps[k].step, product->steps[i].id) == 0) {
                html_raw(html, any ? ", " : "");
                past_time(html, past->view, past->steps[k].from_ms);
                any = true;
            }
        html_raw(html, any                ? "</td></tr>\n"
                       : is_over(past, i) ? "left out</td></tr>\n"
                                          : "not yet</td></tr>\n");
    }
    html_raw(html, "</tbody>\n</table></div>\n");
    if (past->plan != NULL &&
        strcmp(past->plan->digest, past->view->snapshot->plan->digest) != 0)
        html_format(html,
                    "<p class=\"quiet\">Judged by the plan of record %" PRIu64
                    ", under which it began; another one is in force now.</p>\n",
                    past->plan_seq);
}

static struct answer
page(struct batch_past *past, const struct curve *curve)
{
    struct html html;
    char title[200], path[32];
    const struct plan_product *product = product_of(past);
    (void)snprintf(title, sizeof title, "Batch %u: %s", (unsigned)past->number,
                   product == NULL ? past->product : product->name);
    (void)snprintf(path, sizeof path, "/batch/%u", (unsigned)past->number);
    html_init(&html);
    layout_start(&html, past->view, title, NAV_NONE);
    html_raw(&html, "<h1>");
    html_text(&html, title);
    html_raw(&html, "</h1>\n<p class=\"quiet\">Begun ");
    past_time(&html, past->view, past->begun_ms);
    html_raw(&html, " by ");
    past_person(&html, past->view, past->who);
    html_raw(&html, "</p>\n");
    lead(&html, past);
    if (curve->line_count > 0) {
        html_raw(&html, "<h2>Curve</h2>\n");
        curve_figure(&html, curve, path);
    }
    steps(&html, past);
    html_raw(&html, "<h2>Decided and entered</h2>\n<ol class=\"log\">\n");
    if (past->rows.bytes != NULL)
        html_raw(&html, past->rows.bytes);
    html_raw(&html, "</ol>\n");
    if (past->row_count > ROWS_MAX)
        html_raw(&html,
                 "<p>There is more than is shown here; the export holds all of it.</p>\n");
    layout_end(&html, past->view);
    html.failed = html.failed || past->rows.failed;
    return answer_html(MHD_HTTP_OK, &html);
}

static struct answer
answer_from_past(struct request *request, struct store_reader *reader, struct batch_past *past,
                 enum curve_form form)
{
    struct store_error error = {.text = ""};
    struct answer answer = {0};
    enum store_status status = read_past(past, reader, &error);
    if (status != STORE_OK)
        return store_trouble(request, &error);
    if (!past->begun)
        return answer_words(request->web, MHD_HTTP_NOT_FOUND, "No such batch",
                            "The record holds no batch of this number. The page of the kitchen "
                            "now lists the open ones.");
    struct curve *curve = build(past, reader, form, &status, &error);
    if (curve != NULL && status == STORE_OK && form != FORM_PAGE)
        return curve_file(curve, form);
    if (curve != NULL)
        answer = status == STORE_OK ? page(past, curve) : store_trouble(request, &error);
    curve_free(curve);
    return answer;
}

struct answer
page_batch(struct request *request, struct store_reader *reader)
{
    char id[16];
    enum curve_form form;
    uint32_t number = 0;
    struct view view;
    struct answer answer = {0};
    const char *rest = request->query.path + strlen("/batch/");
    if (!curve_form_read(&request->query, rest, id, sizeof id, &form) ||
        !query_number(id, UINT32_MAX, &number))
        return answer_words(request->web, MHD_HTTP_BAD_REQUEST, "Not understood",
                            "Write /batch/N, with the batch's number.");
    if (reader == NULL)
        return store_trouble(request, NULL);
    view_take(&view, request->web);
    struct batch_past *past = calloc(1, sizeof *past); /* too large for a thread's stack */
    if (past != NULL && view.snapshot != NULL && view.snapshot->plan != NULL) {
        past->view = &view;
        past->number = number;
        html_init(&past->rows);
        answer = answer_from_past(request, reader, past, form);
        html_done(&past->rows);
        plan_free(past->plan);
    }
    free(past);
    view_drop(&view);
    return answer;
}
