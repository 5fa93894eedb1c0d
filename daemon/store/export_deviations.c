/* Deviations as CSV: one row for each that was open at some time of the range, with what was
 * done about it since.
 *
 * One pass over the records from the first; only deviations that can still touch the range are
 * kept, and the plans, for what they say about the limit. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "export_job.h"
#include "export_judged.h"
#include "export_rows.h"
#include "text.h"
#include "trivet/check_history.h"
#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/units.h"

struct deviation {
    uint32_t number; /* first: rows look for it there */
    struct decision opened;
    char product[PLAN_ID_MAX + 1];
    int64_t ended_ms, action_ms, verified_ms; /* TIME_NONE = not yet */
    int64_t last_ms, total_ms;                /* as it ended; TIME_NONE, 0 = not said */
    int32_t worst_mC;
    char action_by[PLAN_INITIALS_MAX + 1], verified_by[PLAN_INITIALS_MAX + 1];
    bool withdrawn;               /* by a correction there was none */
    enum disposition disposition; /* of the last action, as the texts are */
    struct long_text found, done, quantity, prevent, control, safe, food;
    struct long_text heard, shelved, escalated;
    const struct plan *plan;        /* it was judged under; NULL = not known */
    const struct plan_limit *limit; /* as its plan writes it; NULL = not known */
};

struct deviations {
    struct export_job *job;
    struct rows rows;
    struct judged_by judged_by;
    uint64_t unreadable; /* record, 0 = none */
    struct entry entry;
};

/* ---- rows in hand ---- */

static void
forget(struct deviations *deviations, uint32_t number)
{
    struct deviation *row = rows_find(&deviations->rows, number);

    if (!row)
        return;
    free(row->found.chars);
    free(row->done.chars);
    free(row->quantity.chars);
    free(row->prevent.chars);
    free(row->control.chars);
    free(row->safe.chars);
    free(row->food.chars);
    free(row->heard.chars);
    free(row->shelved.chars);
    free(row->escalated.chars);
    rows_remove(&deviations->rows, number);
}

static void
forget_all(struct deviations *deviations)
{
    while (deviations->rows.count > 0)
        forget(deviations, *(const uint32_t *)deviations->rows.items[0]);
    rows_done(&deviations->rows);
    judged_by_done(&deviations->judged_by);
    free(deviations);
}

/* ---- decisions ---- */

static bool
take_opened(struct deviations *deviations, const struct decision *decision)
{
    struct deviation *row;

    if (decision->at_ms >= deviations->job->to_ms || decision->deviation == 0 ||
        rows_find(&deviations->rows, decision->deviation))
        return true;
    row = rows_add(&deviations->rows, decision->deviation, sizeof(*row));
    if (!row)
        return false;
    row->opened = *decision;
    row->worst_mC = TEMP_NONE;
    row->ended_ms = row->action_ms = row->verified_ms = row->last_ms = TIME_NONE;
    text_copy(row->product, sizeof(row->product),
              judged_product(&deviations->judged_by, decision->batch));
    row->plan = judged_plan(&deviations->judged_by, decision->batch);
    row->limit = explain_limit(decision, row->plan, row->product);
    return true;
}

static void
take_ended(struct deviations *deviations, const struct decision *decision)
{
    struct deviation *row = rows_find(&deviations->rows, decision->deviation);

    if (!row)
        return;
    if (decision->at_ms < deviations->job->from_ms) {
        forget(deviations, decision->deviation);
        return;
    }
    row->ended_ms = decision->at_ms;
    row->worst_mC = decision->worst_mC;
    row->last_ms = decision->last_ms == 0 ? TIME_NONE : decision->last_ms;
    row->total_ms = decision->found_ms;
}

static void
take_withdrawn(struct deviations *deviations, const struct decision *decision)
{
    struct deviation *row = rows_find(&deviations->rows, decision->deviation);

    if (row)
        row->withdrawn = true;
}

/* ---- alarms ---- */

/* What is said of an alarm is said of each of its deviations. */
static uint32_t
alarm_of(const struct deviation *row)
{
    return row->opened.alarm != 0 ? row->opened.alarm : row->number;
}

/* "2026-03-01T10:00:00.000Z AB; ..." in one cell. */
static bool
add_event(const struct export_job *job, struct long_text *text, int64_t at_ms, const char *what)
{
    char when[40], piece[PLAN_NAME_MAX + 160];

    (void)snprintf(piece, sizeof(piece), "%s%s %s", text->chars ? "; " : "",
                   utc_text(when, sizeof(when), job_shown_ms(job, at_ms)), what);
    return long_text_add(text, piece);
}

static bool
take_escalated(struct deviations *deviations, const struct decision *decision)
{
    bool memory = true;
    char what[64];

    (void)snprintf(what, sizeof(what), "level %u (%s)", decision->level,
                   decision_reason_word(decision->reason));
    for (size_t i = 0; memory && i < deviations->rows.count; i++) {
        struct deviation *row = deviations->rows.items[i];
        if (alarm_of(row) == decision->deviation)
            memory = add_event(deviations->job, &row->escalated, decision->at_ms, what);
    }
    return memory;
}

static bool
take_alarm_entry(struct deviations *deviations, enum entry_kind kind, int64_t at_ms)
{
    const struct entry *entry = &deviations->entry;
    const struct deviation *named = rows_find(&deviations->rows, entry->deviation);
    bool memory = true;
    char what[PLAN_NAME_MAX + 80], span[32];

    if (kind == ENTRY_HEARD || entry->end)
        (void)snprintf(what, sizeof(what), "%s%s", entry->who, entry->end ? " over" : "");
    else
        (void)snprintf(what, sizeof(what), "%s for %s: %.120s", entry->who,
                       duration_text(span, sizeof(span), entry->for_ms), entry->reason);
    for (size_t i = 0; memory && i < deviations->rows.count; i++) {
        struct deviation *row = deviations->rows.items[i];
        bool is_of_place = entry->place[0] != '\0' && row->opened.batch == 0 &&
                           row->ended_ms == TIME_NONE &&
                           strcmp(row->opened.place, entry->place) == 0;
        if (is_of_place || (named && alarm_of(row) == alarm_of(named)))
            memory = add_event(deviations->job,
                               kind == ENTRY_HEARD ? &row->heard : &row->shelved, at_ms, what);
    }
    return memory;
}

static bool
take_decision(struct deviations *deviations, const struct store_record *record)
{
    struct decision decision;

    if (!decision_read(record->data, record->data_len, &decision)) {
        deviations->unreadable = record->seq;
        return true;
    }
    if (decision_opens(&decision))
        return take_opened(deviations, &decision);
    if (decision_ends(&decision))
        take_ended(deviations, &decision);
    if (decision.kind == DECISION_DEVIATION_WITHDRAWN)
        take_withdrawn(deviations, &decision);
    if (decision.kind == DECISION_ESCALATED)
        return take_escalated(deviations, &decision);
    return true;
}

/* ---- entries ---- */

static bool
put(struct long_text *text, const char *now)
{
    free(text->chars);
    *text = (struct long_text){0};
    return now[0] == '\0' || long_text_add(text, now);
}

static bool
take_action(struct deviations *deviations, enum entry_kind kind, int64_t at_ms)
{
    const struct entry *entry = &deviations->entry;
    struct deviation *row = rows_find(&deviations->rows, entry->deviation);

    if (!row)
        return true;
    if (kind == ENTRY_VERIFY) {
        text_copy(row->verified_by, sizeof(row->verified_by), entry->who);
        row->verified_ms = at_ms;
        return true;
    }
    text_copy(row->action_by, sizeof(row->action_by), entry->who);
    row->action_ms = at_ms;
    row->disposition = entry->disposition;
    /* What was verified was the action before. */
    row->verified_by[0] = '\0';
    row->verified_ms = TIME_NONE;
    char food[FOOD_CELL_MAX];
    return put(&row->control, entry->control) && put(&row->safe, entry->safe) &&
           put(&row->food, food_text(food, entry)) && put(&row->found, entry->found) &&
           put(&row->done, entry->done) && put(&row->quantity, entry->quantity) &&
           put(&row->prevent, entry->prevent);
}

static bool
take_entry(struct deviations *deviations, enum entry_kind kind,
           const struct store_record *record)
{
    char error[200];

    if (!entry_read(kind, record->data, record->data_len, &deviations->entry, error,
                    sizeof(error))) {
        deviations->unreadable = record->seq;
        return true;
    }
    if (kind == ENTRY_BEGIN || kind == ENTRY_END)
        return judged_by_entry(&deviations->judged_by, &deviations->entry);
    if (kind == ENTRY_HEARD || kind == ENTRY_SHELVE)
        return take_alarm_entry(deviations, kind, record->at_ms);
    return take_action(deviations, kind, record->at_ms);
}

static bool
see_record(void *arg, const struct store_record *record)
{
    struct deviations *deviations = arg;
    enum entry_kind kind = entry_kind_from_word(record->kind);
    bool memory = true;

    if (strcmp(record->kind, "decision") == 0)
        memory = take_decision(deviations, record);
    else if (strcmp(record->kind, "plan") == 0)
        memory = judged_by_plan(&deviations->judged_by, record);
    else if (kind == ENTRY_BEGIN || kind == ENTRY_END || kind == ENTRY_ACTION ||
             kind == ENTRY_VERIFY || kind == ENTRY_HEARD || kind == ENTRY_SHELVE)
        memory = take_entry(deviations, kind, record);
    if (!memory)
        deviations->job->no_memory = true;
    return memory && deviations->unreadable == 0;
}

/* ---- rows ---- */

static const char *
status_of(const struct deviation *row)
{
    if (row->withdrawn)
        return "withdrawn";
    if (row->ended_ms == TIME_NONE)
        return "open";
    if (row->action_ms == TIME_NONE)
        return "action due";
    return row->verified_ms == TIME_NONE ? "verification due" : "closed";
}

/* The concerned limit as its source prints it; empty when a gap or a person opened the
 * deviation. */
static void
write_limit(struct cells *cells, const struct decision *opened)
{
    char text[40];

    if (opened->limit == LIMIT_NONE) {
        cell_empty(cells);
        cell_empty(cells);
        cell_empty(cells);
    } else {
        cell_text(cells, limit_kind_word(opened->limit));
        cell_text(cells, limit_subject_word(opened->subject));
        cell_text(cells, limit_temp_text(text, sizeof(text), opened->required));
    }
    cell_seconds(cells, opened->required_ms);
}

/* The batches' numbers, and the span of readings. */
static void
write_doubt(struct export_job *job, const struct doubt *doubt)
{
    struct long_text batches = {0};
    char number[16];

    for (size_t i = 0; i < doubt->batch_count; i++) {
        (void)snprintf(number, sizeof(number), "%s%u", i == 0 ? "" : " ",
                       (unsigned)doubt->batches[i].number);
        job->no_memory = !long_text_add(&batches, number) || job->no_memory;
    }
    cell_text(&job->cells, batches.chars);
    cell_int_or_empty(&job->cells, (int64_t)doubt->readings);
    job_time(job, doubt->first_ms);
    job_time(job, doubt->last_ms);
    free(batches.chars);
}

static void
write_deviation(struct export_job *job, const struct deviation *row, const struct doubt *doubt)
{
    const struct decision *opened = &row->opened;
    struct cells *cells = &job->cells;
    char number[8];

    cell_int(cells, row->number);
    cell_text(cells, status_of(row));
    job_time(job, opened->at_ms);
    cell_text(cells, decision_reason_word(opened->reason));
    cell_int_or_empty(cells, opened->batch);
    cell_text(cells, row->product);
    cell_text(cells, opened->place);
    cell_text(cells, job_probe(job, opened->probe, number));
    cell_text(cells, opened->step);
    cell_int_or_empty(cells, opened->stage);
    write_limit(cells, opened);
    cell_temp(cells, opened->temp_mC);
    cell_seconds(cells, opened->found_ms);
    job_time(job, opened->since_ms);
    job_time(job, row->ended_ms);
    cell_temp(cells, row->worst_mC);
    job_time(job, row->action_ms);
    cell_text(cells, row->action_by);
    cell_text(cells,
              row->disposition == DISPOSITION_NONE ? NULL : disposition_word(row->disposition));
    job_time(job, row->verified_ms);
    cell_text(cells, row->verified_by);
    cell_text(cells, row->found.chars);
    cell_text(cells, row->done.chars);
    cell_text(cells, row->quantity.chars);
    cell_text(cells, row->prevent.chars);
    cell_text(cells, row->limit ? row->limit->ccp : NULL);
    cell_text(cells, row->limit ? row->limit->source : NULL);
    cell_text(cells, row->control.chars);
    cell_text(cells, row->safe.chars);
    cell_text(cells, row->food.chars);
    cell_text(cells, explain_rule(opened).number);
    cell_explained(cells, opened, row->plan, row->limit);
    write_doubt(job, doubt);
    cell_int(cells, alarm_of(row));
    cell_text(cells, row->heard.chars);
    cell_text(cells, row->shelved.chars);
    cell_text(cells, row->escalated.chars);
    job_time(job, row->last_ms);
    cell_seconds(cells, row->total_ms);
    job_row_end(job);
}

/* E125: what a failed check puts in doubt stands beside it. */
static enum store_status
write_row(struct export_job *job, const struct deviation *row, struct store_error *reterr)
{
    struct doubt doubt = {.first_ms = TIME_NONE, .last_ms = TIME_NONE};
    enum store_status status = STORE_OK;

    if (row->opened.reason == REASON_FAILED_CHECK)
        status = doubt_read(job->reader, &row->opened, &doubt, reterr);
    if (status == STORE_OK)
        write_deviation(job, row, &doubt);
    doubt_done(&doubt);
    return status;
}

enum store_status
export_deviations(struct export_job *job, struct store_error *reterr)
{
    struct deviations *deviations = calloc(1, sizeof(*deviations));
    enum store_status status;

    if (!deviations)
        return db_error(reterr, STORE_IO, "exporting: out of memory");
    deviations->job = job;
    status =
        store_each_record(job->reader, 0, job->head.seq, NULL, see_record, deviations, reterr);
    if (status == STORE_OK && deviations->unreadable != 0)
        status = job_unreadable(job, deviations->unreadable, reterr);
    status = job_result(job, status, reterr);
    if (status == STORE_OK)
        job_header(
            job,
            "deviation,status,opened_utc,reason,batch,product,place,probe,step,stage,limit,"
            "applies_to,required,required_s,found_degC,found_s,since_utc,ended_utc,"
            "worst_degC,action_utc,action_by,disposition,verified_utc,verified_by,"
            "found,done,quantity,prevent,critical_control_point,limit_source,control,safe,"
            "food,rule,explained,doubted_batches,doubted_readings,doubted_from_utc,"
            "doubted_to_utc,alarm,heard,shelved,escalated,last_breach_utc,total_s");
    for (size_t i = 0; status == STORE_OK && i < deviations->rows.count && !job->cells.stopped;
         i++)
        status = write_row(job, deviations->rows.items[i], reterr);
    status = job_result(job, status, reterr);
    forget_all(deviations);
    return status;
}
