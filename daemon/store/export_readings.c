/* Readings and raw records as CSV: one row each, in order. */
#include "export_job.h"
#include "trivet/units.h"

static bool
write_reading(void *arg, const struct reading *reading)
{
    struct export_job *job = arg;
    struct cells *cells = &job->cells;
    char number[8];

    job_time(job, reading->at_ms);
    cell_text(cells, job_probe(job, reading->probe, number));
    cell_temp(cells, store_corrected_mC(job->reader, reading));
    cell_text(cells, reading_quality_word(reading->quality));
    cell_text(cells, reading->at_ms <= job->head.sealed_to_ms ? "yes" : "no");
    cell_int(cells, reading->at_ms);
    cell_temp(cells, reading->temp_mC);
    job_row_end(job);
    return !cells->stopped;
}

enum store_status
export_readings(struct export_job *job, struct store_error *reterr)
{
    /* The walk is open below and closed above, the range the other way round. Nothing after the
     * head: what comes in meanwhile is for the next export. */
    int64_t after_ms = job->from_ms == TIME_NONE ? TIME_NONE : job->from_ms - 1;
    int64_t to_ms = job->to_ms == TIME_NONE ? TIME_NONE : job->to_ms - 1;

    if (to_ms > job->head.at_ms)
        to_ms = job->head.at_ms;
    enum store_status status = store_corrections_read(job->reader, reterr);
    if (status != STORE_OK)
        return status;
    job_header(job, "time_utc,probe,temp_degC,quality,sealed,at_ms,raw_degC");
    return store_each_reading(job->reader, 0, after_ms, to_ms, write_reading, job, reterr);
}

static bool
write_record(void *arg, const struct store_record *record)
{
    struct export_job *job = arg;
    struct cells *cells = &job->cells;

    cell_int(cells, (int64_t)record->seq);
    job_time(job, record->at_ms);
    cell_text(cells, record->kind);
    cell_text(cells, record->body);
    cell_hash(cells, record->hash);
    job_row_end(job);
    return !cells->stopped;
}

enum store_status
export_records(struct export_job *job, struct store_error *reterr)
{
    job_header(job, "seq,time_utc,kind,body,hash");
    return store_each_record(job->reader, job->from_seq, job->to_seq, NULL, write_record, job,
                             reterr);
}
