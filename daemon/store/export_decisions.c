/* Decisions as CSV: one row for each in the range, with the rule it rests on and why.
 *
 * One pass over the records from the first: a decision is explained by the plan in force, or
 * the one its batch began under. */
#include <stdlib.h>
#include <string.h>

#include "export_job.h"
#include "export_judged.h"
#include "trivet/decision.h"

struct decisions {
    struct export_job *job;
    struct judged_by judged_by;
    uint64_t unreadable; /* record, 0 = none */
    struct entry entry;
};

static void
write_limit(struct cells *cells, const struct decision *decision)
{
    char text[40];
    bool none = decision->limit == LIMIT_NONE;

    cell_text(cells, none ? NULL : limit_kind_word(decision->limit));
    cell_text(cells, none ? NULL : limit_subject_word(decision->subject));
    cell_text(cells, none ? NULL : limit_temp_text(text, sizeof(text), decision->required));
    cell_seconds(cells, decision->required_ms);
}

static void
write_decision(struct decisions *decisions, uint64_t seq, const struct decision *decision)
{
    struct export_job *job = decisions->job;
    struct cells *cells = &job->cells;
    const struct plan *plan = judged_plan(&decisions->judged_by, decision->batch);
    const char *product = judged_product(&decisions->judged_by, decision->batch);
    const struct plan_limit *limit = explain_limit(decision, plan, product);
    char number[8];

    cell_int(cells, (int64_t)seq);
    job_time(job, decision->at_ms);
    cell_text(cells, decision_kind_word(decision->kind));
    cell_text(cells, decision_reason_word(decision->reason));
    cell_int_or_empty(cells, decision->deviation);
    cell_int_or_empty(cells, decision->batch);
    cell_text(cells, product);
    cell_text(cells, decision->place);
    cell_text(cells, job_probe(job, decision->probe, number));
    cell_text(cells, decision->step);
    cell_int_or_empty(cells, decision->stage);
    write_limit(cells, decision);
    cell_temp(cells, decision->temp_mC);
    cell_seconds(cells, decision->found_ms);
    job_time(job, decision->since_ms);
    cell_temp(cells, decision->worst_mC);
    cell_text(cells, limit ? limit->ccp : NULL);
    cell_text(cells, limit ? limit->source : NULL);
    cell_text(cells, explain_rule(decision).number);
    cell_explained(cells, decision, plan, limit);
    job_row_end(job);
}

static void
take_decision(struct decisions *decisions, const struct store_record *record)
{
    struct decision decision;

    if (record->seq <= decisions->job->from_seq || record->seq > decisions->job->to_seq)
        return;
    if (decision_read(record->data, record->data_len, &decision))
        write_decision(decisions, record->seq, &decision);
    else
        decisions->unreadable = record->seq;
}

static bool
take_entry(struct decisions *decisions, enum entry_kind kind, const struct store_record *record)
{
    char error[200];

    if (entry_read(kind, record->data, record->data_len, &decisions->entry, error,
                   sizeof(error)))
        return judged_by_entry(&decisions->judged_by, &decisions->entry);
    decisions->unreadable = record->seq;
    return true;
}

static bool
see_record(void *arg, const struct store_record *record)
{
    struct decisions *decisions = arg;
    enum entry_kind kind = entry_kind_from_word(record->kind);

    if (strcmp(record->kind, "decision") == 0)
        take_decision(decisions, record);
    else if ((strcmp(record->kind, "plan") == 0 &&
              !judged_by_plan(&decisions->judged_by, record)) ||
             ((kind == ENTRY_BEGIN || kind == ENTRY_END) &&
              !take_entry(decisions, kind, record)))
        decisions->job->no_memory = true;
    return !decisions->job->no_memory && decisions->unreadable == 0 &&
           !decisions->job->cells.stopped;
}

enum store_status
export_decisions(struct export_job *job, struct store_error *reterr)
{
    struct decisions *decisions = calloc(1, sizeof(*decisions));
    enum store_status status;

    if (!decisions)
        return db_error(reterr, STORE_IO, "exporting: out of memory");
    decisions->job = job;
    job_header(job,
               "seq,time_utc,decision,reason,deviation,batch,product,place,probe,step,stage,"
               "limit,applies_to,required,required_s,found_degC,found_s,since_utc,worst_degC,"
               "critical_control_point,limit_source,rule,explained");
    status =
        store_each_record(job->reader, 0, job->to_seq, NULL, see_record, decisions, reterr);
    if (status == STORE_OK && decisions->unreadable != 0)
        status = job_unreadable(job, decisions->unreadable, reterr);
    judged_by_done(&decisions->judged_by);
    free(decisions);
    return job_result(job, status, reterr);
}
