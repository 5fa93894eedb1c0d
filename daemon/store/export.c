/* CSV exports: which there are, and what all of them need before the first row.
 *
 * Reads through the reader it is given; any thread that owns one. Memory is bounded by the
 * number of probes, clock changes and, for batches and deviations, of those in the range. */
#include "trivet/export.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "export_job.h"
#include "text.h"
#include "trivet/units.h"

static const char *const words[] = {
    [EXPORT_READINGS] = "readings",     [EXPORT_BATCHES] = "batches",
    [EXPORT_DEVIATIONS] = "deviations", [EXPORT_ACTIONS] = "actions",
    [EXPORT_ENTRIES] = "entries",       [EXPORT_DECISIONS] = "decisions",
    [EXPORT_PEOPLE] = "people",         [EXPORT_CALIBRATIONS] = "calibrations",
    [EXPORT_SWITCHES] = "switches",     [EXPORT_RECORDS] = "records",
};

#define WORD_COUNT (sizeof(words) / sizeof(words[0]))

const char *
export_kind_word(enum export_kind kind)
{
    return words[kind];
}

bool
export_kind_from_word(const char *word, enum export_kind *ret)
{
    for (size_t i = 0; i < WORD_COUNT; i++)
        if (strcmp(words[i], word) == 0) {
            *ret = (enum export_kind)i;
            return true;
        }
    return false;
}

/* ---- the shown clock ---- */

static bool
see_clock(void *arg, const struct store_record *record)
{
    struct export_job *job = arg;
    json_t *data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    json_t *offset = json_object_get(data, "offset_ms");

    if (job->change_count == job->change_room) {
        size_t room = job->change_room == 0 ? 16 : job->change_room * 2;
        struct clock_change *grown = realloc(job->changes, room * sizeof(*grown));
        if (!grown) {
            job->no_memory = true;
            json_decref(data);
            return false;
        }
        job->changes = grown;
        job->change_room = room;
    }
    if (json_is_integer(offset))
        job->changes[job->change_count++] =
            (struct clock_change){record->at_ms, json_integer_value(offset)};
    json_decref(data);
    return true;
}

int64_t
job_shown_ms(const struct export_job *job, int64_t at_ms)
{
    size_t low = 0, high = job->change_count; /* the first change after at_ms */

    while (low < high) {
        size_t middle = (low + high) / 2;
        if (job->changes[middle].at_ms <= at_ms)
            low = middle + 1;
        else
            high = middle;
    }
    return low == 0 ? at_ms : at_ms + job->changes[low - 1].offset_ms;
}

/* ---- the probes' ids, and the site's zone ---- */

static bool
name_probe(struct export_job *job, size_t number, const char *id)
{
    if (number >= job->probe_room) {
        size_t room = number + 64;
        char(*grown)[PLAN_ID_MAX + 1] = realloc(job->probe_ids, room * sizeof(*grown));
        if (!grown)
            return false;
        memset(grown[job->probe_room], 0, (room - job->probe_room) * sizeof(*grown));
        job->probe_ids = grown;
        job->probe_room = room;
    }
    if (strlen(id) <= PLAN_ID_MAX)
        text_copy(job->probe_ids[number], sizeof(job->probe_ids[number]), id);
    return true;
}

static bool
see_plan(void *arg, const struct store_record *record)
{
    struct export_job *job = arg;
    json_t *data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    const char *id;
    json_t *number;

    json_object_foreach(json_object_get(data, "probes"), id, number)
    {
        json_int_t value = json_integer_value(number); /* 0 when it is none */
        if (value >= 1 && value <= UINT16_MAX && !name_probe(job, (size_t)value, id))
            job->no_memory = true;
    }
    if (!job_zone_see(job, record->at_ms, json_string_value(json_object_get(data, "text"))))
        job->no_memory = true;
    json_decref(data);
    return !job->no_memory;
}

const char *
job_probe(const struct export_job *job, uint16_t probe, char buf[static 8])
{
    if (probe != 0 && probe < job->probe_room && job->probe_ids[probe][0] != '\0')
        return job->probe_ids[probe];
    buf[0] = '\0';
    if (probe != 0) {
        buf[0] = '#';
        *text_int(buf + 1, probe) = '\0';
    }
    return buf;
}

/* ---- the job ---- */

enum store_status
job_result(const struct export_job *job, enum store_status status, struct store_error *reterr)
{
    if (status == STORE_OK && job->no_memory)
        return db_error(reterr, STORE_IO, "exporting: out of memory");
    return status;
}

enum store_status
job_unreadable(const struct export_job *job, uint64_t seq, struct store_error *reterr)
{
    return db_error(reterr, STORE_CORRUPT,
                    "exporting: record %llu in '%s' cannot be read by this version; verify the "
                    "store, or export with the version that wrote it",
                    (unsigned long long)seq, job->reader->db.path);
}

static enum store_status
prepare(struct export_job *job, struct store_error *reterr)
{
    enum store_status status;

    if ((status = store_reader_head(job->reader, &job->head, reterr)) != STORE_OK ||
        (status = reader_seq_before(job->reader, job->head.seq, job->from_ms, &job->from_seq,
                                    reterr)) != STORE_OK ||
        (status = reader_seq_before(job->reader, job->head.seq, job->to_ms, &job->to_seq,
                                    reterr)) != STORE_OK ||
        (status = store_each_record(job->reader, 0, job->head.seq, "clock", see_clock, job,
                                    reterr)) != STORE_OK ||
        (status = store_each_record(job->reader, 0, job->head.seq, "plan", see_plan, job,
                                    reterr)) != STORE_OK)
        return status;
    return job_result(job, STORE_OK, reterr);
}

static enum store_status
write_kind(struct export_job *job, enum export_kind kind, struct store_error *reterr)
{
    switch (kind) {
    case EXPORT_READINGS:
        return export_readings(job, reterr);
    case EXPORT_BATCHES:
        return export_batches(job, reterr);
    case EXPORT_DEVIATIONS:
        return export_deviations(job, reterr);
    case EXPORT_ACTIONS:
        return export_actions(job, reterr);
    case EXPORT_ENTRIES:
        return export_entries(job, reterr);
    case EXPORT_DECISIONS:
        return export_decisions(job, reterr);
    case EXPORT_PEOPLE:
        return export_people(job, reterr);
    case EXPORT_CALIBRATIONS:
        return export_calibrations(job, reterr);
    case EXPORT_SWITCHES:
        return export_switches(job, reterr);
    case EXPORT_RECORDS:
        return export_records(job, reterr);
    }
    assert(false);
    return STORE_IO;
}

enum store_status
export_csv(struct store_reader *reader, enum export_kind kind, int64_t from_ms, int64_t to_ms,
           export_sink *sink, void *arg, struct store_error *reterr)
{
    struct export_job *job = malloc(sizeof(*job));
    enum store_status status;

    if (!job)
        return db_error(reterr, STORE_IO, "exporting: out of memory");
    memset(job, 0, offsetof(struct export_job, cells)); /* the buffer needs none */
    job->reader = reader;
    job->from_ms = from_ms;
    job->to_ms = to_ms;
    cells_start(&job->cells, sink, arg);
    status = prepare(job, reterr);
    if (status == STORE_OK)
        status = write_kind(job, kind, reterr);
    if (status == STORE_OK)
        cells_end(&job->cells);
    free(job->changes);
    free(job->local.changes);
    free(job->probe_ids);
    free(job);
    return status;
}
