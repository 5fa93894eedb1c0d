/* What people entered, as CSV. "actions" is about deviations: corrective actions,
 * verifications, decisions, and the corrections of any entry. "entries" is all of it, hand-held
 * readings and notes among it: who did what, when, to which batch. The old text always stays; a
 * corrected row says which record corrects it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "export_job.h"
#include "trivet/entry.h"
#include "trivet/units.h"

struct correction {
    uint64_t refers, seq;
};

struct actions {
    struct export_job *job;
    struct correction *corrections; /* in order of seq */
    size_t count, room;
    uint64_t unreadable; /* record, 0 = none */
    struct entry entry;
};

static bool
read_entry(struct actions *actions, const struct store_record *record)
{
    char error[200];

    if (entry_read(entry_kind_from_word(record->kind), record->data, record->data_len,
                   &actions->entry, error, sizeof(error)))
        return true;
    actions->unreadable = record->seq;
    return false;
}

static bool
see_correction(void *arg, const struct store_record *record)
{
    struct actions *actions = arg;

    if (!read_entry(actions, record))
        return false;
    if (actions->count == actions->room) {
        size_t room = actions->room == 0 ? 16 : actions->room * 2;
        struct correction *grown = realloc(actions->corrections, room * sizeof(*grown));
        if (!grown) {
            actions->job->no_memory = true;
            return false;
        }
        actions->corrections = grown;
        actions->room = room;
    }
    actions->corrections[actions->count++] =
        (struct correction){actions->entry.refers, record->seq};
    return true;
}

/* The record that last corrected this one, 0 when none did. */
static uint64_t
corrected_by(const struct actions *actions, uint64_t seq)
{
    for (size_t i = actions->count; i > 0; i--)
        if (actions->corrections[i - 1].refers == seq)
            return actions->corrections[i - 1].seq;
    return 0;
}

char *
food_text(char buf[FOOD_CELL_MAX], const struct entry *entry)
{
    size_t len = 0;

    buf[0] = '\0';
    for (size_t i = 0; i < entry->food_count; i++) {
        const struct entry_food *food = &entry->food[i];
        int n = snprintf(buf + len, FOOD_CELL_MAX - len, "%s%u %s%s%s", i == 0 ? "" : "; ",
                         food->batch, disposition_word(food->disposition),
                         food->quantity[0] == '\0' ? "" : " ", food->quantity);
        len += n < 0 ? 0 : (size_t)n; /* fits: FOOD_CELL_MAX */
    }
    return buf;
}

static bool
is_action(enum entry_kind kind)
{
    return kind == ENTRY_ACTION || kind == ENTRY_VERIFY || kind == ENTRY_DECIDE ||
           kind == ENTRY_CORRECT || kind == ENTRY_CONFIRM || kind == ENTRY_HEARD ||
           kind == ENTRY_SHELVE;
}

/* Why a limit was suspended, or that it is over, is a reason like any other; a review tells its
 * day there, a first PIN who vouched for it. */
static const char *
reason_of(const struct entry *entry)
{
    if (entry->kind == ENTRY_REVIEW || entry->kind == ENTRY_DAY)
        return entry->day;
    if (entry->kind == ENTRY_PIN)
        return entry->by;
    if ((entry->kind == ENTRY_QUIET || entry->kind == ENTRY_SHELVE) && entry->end)
        return "over";
    return entry->kind == ENTRY_QUIET && entry->why != QUIET_NONE ? quiet_why_word(entry->why)
                                                                  : entry->reason;
}

static bool
write_action(void *arg, const struct store_record *record)
{
    struct actions *actions = arg;
    struct export_job *job = actions->job;
    struct cells *cells = &job->cells;
    const struct entry *entry = &actions->entry;
    char food[FOOD_CELL_MAX];

    if (!is_action(entry_kind_from_word(record->kind)))
        return true;
    if (!read_entry(actions, record))
        return false;
    cell_int(cells, (int64_t)record->seq);
    job_time(job, record->at_ms);
    cell_text(cells, record->kind);
    cell_int_or_empty(cells, entry->deviation);
    cell_int_or_empty(cells, entry->batch);
    cell_text(cells, entry->who);
    cell_text(cells, entry->found);
    cell_text(cells, entry->done);
    cell_text(cells, entry->disposition == DISPOSITION_NONE
                         ? NULL
                         : disposition_word(entry->disposition));
    cell_text(cells, entry->quantity);
    cell_text(cells, entry->prevent);
    if (entry->kind == ENTRY_DECIDE || entry->kind == ENTRY_CONFIRM)
        cell_text(cells, entry->accept ? "yes" : "no");
    else
        cell_empty(cells);
    cell_text(cells, entry->withdraw ? "withdrawn" : entry->text);
    cell_temp(cells, entry->has_temp ? entry->temp_mC : TEMP_NONE);
    cell_text(cells, reason_of(entry));
    cell_int_or_empty(cells, (int64_t)entry->refers);
    cell_int_or_empty(cells, (int64_t)corrected_by(actions, record->seq));
    cell_text(cells, entry->control);
    cell_text(cells, entry->safe);
    cell_text(cells, food_text(food, entry));
    cell_text(cells, entry->place);
    cell_seconds(cells, entry->for_ms);
    job_row_end(job);
    return !cells->stopped;
}

static void
write_probes(struct cells *cells, const struct entry *entry)
{
    char text[ENTRY_PROBES_MAX * (PLAN_ID_MAX + 1) + 1] = "";
    size_t len = 0;

    if (entry->probe[0]) { /* of a check */
        cell_text(cells, entry->probe);
        return;
    }
    for (size_t i = 0; i < entry->probe_count; i++)
        len += (size_t)snprintf(text + len, sizeof(text) - len, "%s%s", i == 0 ? "" : " ",
                                entry->probes[i]);
    cell_text(cells, text);
}

/* What became of a batch, or of a correction. */
static const char *
outcome_of(const struct entry *entry)
{
    if (entry->kind == ENTRY_CONFIRM)
        return entry->accept ? "confirmed" : "declined";
    if (entry->withdraw)
        return "withdrawn";
    return entry->outcome == OUTCOME_NONE ? NULL : outcome_word(entry->outcome);
}

static bool
write_entry(void *arg, const struct store_record *record)
{
    struct actions *actions = arg;
    struct export_job *job = actions->job;
    struct cells *cells = &job->cells;
    const struct entry *entry = &actions->entry;

    if (entry_kind_from_word(record->kind) == ENTRY_NONE)
        return true;
    if (!read_entry(actions, record))
        return false;
    cell_int(cells, (int64_t)record->seq);
    job_time(job, record->at_ms);
    cell_text(cells, record->kind);
    cell_text(cells, entry->who);
    cell_int_or_empty(cells, entry->batch);
    cell_int_or_empty(cells, entry->deviation);
    cell_text(cells, entry->product);
    cell_text(cells, entry->step);
    cell_text(cells, entry->place);
    write_probes(cells, entry);
    cell_text(cells, entry->thermometer);
    cell_temp(cells, entry->has_temp ? entry->temp_mC : TEMP_NONE);
    job_time(job, entry->given_ms);
    cell_text(cells, outcome_of(entry));
    cell_text(cells, entry->text);
    cell_text(cells, reason_of(entry));
    cell_int_or_empty(cells, (int64_t)entry->refers);
    cell_int_or_empty(cells, (int64_t)corrected_by(actions, record->seq));
    cell_seconds(cells, entry->for_ms);
    job_row_end(job);
    return !cells->stopped;
}

static enum store_status
export_of(struct export_job *job, const char *header, store_record_visitor *write,
          struct store_error *reterr)
{
    struct actions *actions = calloc(1, sizeof(*actions));
    enum store_status status;

    if (!actions)
        return db_error(reterr, STORE_IO, "exporting: out of memory");
    actions->job = job;
    job_header(job, header);
    status = store_each_record(job->reader, job->from_seq, job->head.seq, "correct",
                               see_correction, actions, reterr);
    if (status == STORE_OK && actions->unreadable == 0 && !job->no_memory)
        status = store_each_record(job->reader, job->from_seq, job->to_seq, NULL, write,
                                   actions, reterr);
    if (status == STORE_OK && actions->unreadable != 0)
        status = job_unreadable(job, actions->unreadable, reterr);
    free(actions->corrections);
    free(actions);
    return job_result(job, status, reterr);
}

enum store_status
export_actions(struct export_job *job, struct store_error *reterr)
{
    return export_of(job,
                     "seq,time_utc,kind,deviation,batch,by,found,done,disposition,quantity,"
                     "prevent,accepted,text,temp_degC,reason,corrects,corrected_by,control,"
                     "safe,food,place,for_s",
                     write_action, reterr);
}

enum store_status
export_entries(struct export_job *job, struct store_error *reterr)
{
    return export_of(job,
                     "seq,time_utc,kind,by,batch,deviation,product,step,place,probes,"
                     "thermometer,temp_degC,given_utc,outcome,text,reason,corrects,"
                     "corrected_by,for_s",
                     write_entry, reterr);
}
