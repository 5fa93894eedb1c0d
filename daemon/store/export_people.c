/* Who is who, as CSV: the people of each plan that was in force in the range, so that initials
 * in the other tables can be read. */
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "export_job.h"

struct last {
    struct export_job *job;
    uint64_t before; /* the last plan at or before the range, 0 = none */
};

static bool
see_before(void *arg, const struct store_record *record)
{
    struct last *last = arg;

    if (record->at_ms <= last->job->from_ms)
        last->before = record->seq;
    return record->at_ms <= last->job->from_ms;
}

/* A plan that this version cannot read is left out. */
static bool
write_people(void *arg, const struct store_record *record)
{
    const struct last *last = arg;
    struct cells *cells = &last->job->cells;
    json_t *data;
    const char *text;
    struct plan_faults *faults;
    struct plan *plan;

    if (record->seq < last->before || record->at_ms >= last->job->to_ms)
        return record->at_ms < last->job->to_ms;
    data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    text = json_string_value(json_object_get(data, "text"));
    faults = malloc(sizeof(*faults));
    plan =
        faults && text ? plan_load_record("recorded plan", text, strlen(text), faults) : NULL;
    for (size_t i = 0; plan && i < plan->person_count; i++) {
        cell_text(cells, plan->people[i].initials);
        cell_text(cells, plan->people[i].name);
        cell_text(cells, person_role_word(plan->people[i].role));
        cell_int(cells, (int64_t)record->seq);
        job_time(last->job, record->at_ms);
        job_row_end(last->job);
    }
    if (!faults)
        last->job->no_memory = true;
    plan_free(plan);
    free(faults);
    json_decref(data);
    return faults && !cells->stopped;
}

enum store_status
export_people(struct export_job *job, struct store_error *reterr)
{
    struct last last = {.job = job};
    enum store_status status =
        store_each_record(job->reader, 0, job->head.seq, "plan", see_before, &last, reterr);

    job_header(job, "initials,name,role,plan_record,since_utc");
    if (status == STORE_OK)
        status = store_each_record(job->reader, 0, job->head.seq, "plan", write_people, &last,
                                   reterr);
    return job_result(job, status, reterr);
}
