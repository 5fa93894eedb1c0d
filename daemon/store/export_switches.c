/* What doors and buttons did, as CSV: one row for each change, by the time it was seen. */
#include "export_job.h"
#include "trivet/reading.h"
#include "trivet/switch_event.h"

static bool
write_switch(void *arg, const struct store_record *record)
{
    struct export_job *job = arg;
    struct cells *cells = &job->cells;
    struct switch_event event;

    if (!switch_event_read(record->data, record->data_len, &event)) {
        job->unreadable = record->seq;
        return false;
    }
    cell_int(cells, (int64_t)record->seq);
    job_time(job, record->at_ms);
    cell_text(cells, event.id);
    cell_text(cells, switch_kind_word(event.kind));
    cell_text(cells, event.place);
    cell_text(cells, switch_state_word(event.kind, event.state));
    cell_text(cells, event.state == SWITCH_UNKNOWN ? reading_quality_word(event.cause) : NULL);
    job_row_end(job);
    return !cells->stopped;
}

enum store_status
export_switches(struct export_job *job, struct store_error *reterr)
{
    enum store_status status;

    job_header(job, "seq,time_utc,switch,kind,place,state,cause");
    status = store_each_record(job->reader, job->from_seq, job->to_seq, "switch", write_switch,
                               job, reterr);
    if (status == STORE_OK && job->unreadable != 0)
        status = job_unreadable(job, job->unreadable, reterr);
    return job_result(job, status, reterr);
}
