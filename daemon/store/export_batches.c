/* Batches as CSV: one row for each that was in hand at some time of the range, with what became
 * of its steps.
 *
 * One pass over the records from the first; only batches that can still touch the range are
 * kept. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "export_job.h"
#include "export_rows.h"
#include "text.h"
#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/units.h"

struct batch {
    uint32_t number; /* first: rows look for it there */
    char product[PLAN_ID_MAX + 1];
    char place[PLAN_ID_MAX + 1];
    char begun_by[PLAN_ID_MAX + 16], ended_by[PLAN_INITIALS_MAX + 1];
    int32_t mass_g, thickness_mm;
    int64_t begun_ms, ended_ms;
    enum batch_outcome outcome;
    char step[PLAN_ID_MAX + 1]; /* the last one named in `steps` */
    struct long_text probes, steps, deviations, note, end_note;
};

struct batches {
    struct export_job *job;
    struct rows rows;
    uint64_t unreadable; /* record, 0 = none */
    struct entry entry;
};

static void
drop(struct batches *batches, struct batch *batch)
{
    free(batch->probes.chars);
    free(batch->steps.chars);
    free(batch->deviations.chars);
    free(batch->note.chars);
    free(batch->end_note.chars);
    rows_remove(&batches->rows, batch->number);
}

/* ---- entries ---- */

static bool
add_probes(struct batch *batch, const struct entry *entry)
{
    for (size_t i = 0; i < entry->probe_count; i++) {
        const char *id = entry->probes[i];
        size_t len = strlen(id);
        const char *at = batch->probes.chars ? batch->probes.chars : "";
        /* Named already, as a whole word? */
        while ((at = strstr(at, id)) && ((at != batch->probes.chars && at[-1] != ' ') ||
                                         (at[len] != ' ' && at[len] != '\0')))
            at++;
        if (at)
            continue;
        if ((batch->probes.len > 0 && !long_text_add(&batch->probes, " ")) ||
            !long_text_add(&batch->probes, id))
            return false;
    }
    return true;
}

static bool
take_begin(struct batches *batches, int64_t at_ms)
{
    const struct entry *entry = &batches->entry;
    struct batch *batch;

    if (at_ms >= batches->job->to_ms || rows_find(&batches->rows, entry->batch))
        return true;
    batch = rows_add(&batches->rows, entry->batch, sizeof(*batch));
    if (!batch)
        return false;
    text_copy(batch->product, sizeof(batch->product), entry->product);
    text_copy(batch->place, sizeof(batch->place), entry->place);
    (void)snprintf(batch->begun_by, sizeof(batch->begun_by), "%s%s",
                   entry->who[0] == '\0' ? "by itself: " : entry->who,
                   entry->who[0] == '\0' ? entry->probe : "");
    batch->mass_g = entry->mass_g;
    batch->thickness_mm = entry->thickness_mm;
    batch->begun_ms = at_ms;
    batch->ended_ms = TIME_NONE;
    return add_probes(batch, entry) && long_text_add(&batch->note, entry->text);
}

static bool
take_move(struct batch *batch, const struct entry *entry)
{
    if (entry->place[0] != '\0')
        text_copy(batch->place, sizeof(batch->place), entry->place);
    return add_probes(batch, entry);
}

static bool
take_end(struct batches *batches, struct batch *batch, int64_t at_ms)
{
    const struct entry *entry = &batches->entry;

    if (batch->ended_ms != TIME_NONE)
        return true;
    if (at_ms < batches->job->from_ms) {
        drop(batches, batch);
        return true;
    }
    batch->ended_ms = at_ms;
    batch->outcome = entry->outcome;
    text_copy(batch->ended_by, sizeof(batch->ended_by), entry->who);
    if (entry->place[0] != '\0')
        text_copy(batch->place, sizeof(batch->place), entry->place);
    return long_text_add(&batch->end_note, entry->text);
}

/* False without memory. */
static bool
take_entry(struct batches *batches, enum entry_kind kind, const struct store_record *record)
{
    struct batch *batch;
    char error[200];

    if (!entry_read(kind, record->data, record->data_len, &batches->entry, error,
                    sizeof(error))) {
        batches->unreadable = record->seq;
        return true;
    }
    if (kind == ENTRY_BEGIN)
        return take_begin(batches, record->at_ms);
    batch = rows_find(&batches->rows, batches->entry.batch);
    if (!batch)
        return true;
    if (kind == ENTRY_MOVE)
        return take_move(batch, &batches->entry);
    return take_end(batches, batch, record->at_ms);
}

/* ---- decisions ---- */

/* "cook begun 2026-..., met 2026-...; cool begun ...": a new step after a semicolon, more of
 * one after a comma. What is more to be said stands in brackets behind the time. */
static bool
add_verdict_more(const struct export_job *job, struct batch *batch,
                 const struct decision *decision, const char *verdict, const char *more)
{
    bool first = batch->steps.len == 0;
    bool same = !first && strcmp(batch->step, decision->step) == 0;
    char text[160], time[40], stage[24] = "";

    if (decision->stage != 0)
        (void)snprintf(stage, sizeof(stage), "stage %u ", decision->stage);
    (void)utc_text(time, sizeof(time), job_shown_ms(job, decision->at_ms));
    (void)snprintf(text, sizeof(text), "%s %s%s %s%s", same ? "," : decision->step, stage,
                   verdict, time, more);
    text_copy(batch->step, sizeof(batch->step), decision->step);
    return (first || same || long_text_add(&batch->steps, "; ")) &&
           long_text_add(&batch->steps, text);
}

static bool
add_verdict(const struct export_job *job, struct batch *batch, const struct decision *decision,
            const char *verdict)
{
    return add_verdict_more(job, batch, decision, verdict, "");
}

/* That of the oven a roast stands in is met beside the food's. */
static const char *
met(const struct decision *decision)
{
    bool oven = decision->limit == LIMIT_OVEN || decision->limit == LIMIT_MOIST_OVEN;
    return oven ? "oven met" : "met";
}

static bool
list_deviation(struct batch *batch, const struct decision *decision)
{
    char number[24];

    if (decision->deviation == 0)
        return true;
    (void)snprintf(number, sizeof(number), "%s%u", batch->deviations.len == 0 ? "" : " ",
                   decision->deviation);
    return long_text_add(&batch->deviations, number);
}

static bool
add_deviation(const struct export_job *job, struct batch *batch,
              const struct decision *decision)
{
    char verdict[24];

    (void)snprintf(verdict, sizeof(verdict), "deviation %u", decision->deviation);
    return list_deviation(batch, decision) && add_verdict(job, batch, decision, verdict);
}

static bool
add_date(const struct export_job *job, struct batch *batch, const struct decision *decision)
{
    char last[32];

    (void)snprintf(last, sizeof(last), " (last day %s)", decision->day);
    return add_verdict_more(job, batch, decision, "dated", last);
}

static bool
take_decision(struct batches *batches, const struct store_record *record)
{
    const struct export_job *job = batches->job;
    struct decision decision;
    struct batch *batch;

    if (!decision_read(record->data, record->data_len, &decision)) {
        batches->unreadable = record->seq;
        return true;
    }
    batch = decision.batch == 0 ? NULL : rows_find(&batches->rows, decision.batch);
    if (!batch)
        return true;
    switch (decision.kind) {
    case DECISION_STEP_BEGUN:
        return add_verdict(job, batch, &decision, "begun");
    case DECISION_LIMIT_MET:
        return add_verdict(job, batch, &decision, met(&decision));
    case DECISION_DEVIATION_OPENED:
        return add_deviation(job, batch, &decision);
    case DECISION_GAP_OPENED: /* of the batch, but no verdict on its step */
        return list_deviation(batch, &decision);
    case DECISION_INCONCLUSIVE:
        return add_verdict(job, batch, &decision, "inconclusive");
    case DECISION_RESOLVED:
        return add_verdict(job, batch, &decision,
                           decision.accepted ? "accepted by a person" : "refused by a person");
    case DECISION_CLOCK_STARTED:
    case DECISION_DEVIATION_ENDED:
    case DECISION_GAP_ENDED:
    case DECISION_SUSPECT_BEGUN:
    case DECISION_SUSPECT_ENDED:
    case DECISION_QUIET_BEGUN:
    case DECISION_QUIET_ENDED:
    case DECISION_CORRECTION_ENDED:
    case DECISION_BATCH_ENDED: /* by a person's entry, or, of one that began by itself, by its
                                  correction */
        if (decision.reason == REASON_CORRECTED && batch->ended_ms == TIME_NONE)
            batch->ended_ms = decision.at_ms;
        break;
    case DECISION_DATE_MARKED:
        return add_date(job, batch, &decision);
    case DECISION_MET_WITHDRAWN:
        return add_verdict(job, batch, &decision, "met no longer");
    case DECISION_STEP_CORRECTED:
        return add_verdict(job, batch, &decision, "corrected");
    case DECISION_STEP_WITHDRAWN:
        return add_verdict(job, batch, &decision, "withdrawn");
    case DECISION_CORRECTION_WAITS:
    case DECISION_CORRECTION_DROPPED:
    case DECISION_DEVIATION_WITHDRAWN:
    case DECISION_ASKED:
    case DECISION_ANSWERED:
    case DECISION_DOOR_LEFT_OPEN:
    case DECISION_DOOR_OVER:
    case DECISION_MARKED:
    case DECISION_SHELF_ENDED:
    case DECISION_ALARM_RAISED:
    case DECISION_ESCALATED:
        break;
    }
    return true;
}

static bool
see_record(void *arg, const struct store_record *record)
{
    struct batches *batches = arg;
    enum entry_kind kind = entry_kind_from_word(record->kind);
    bool memory = true;

    if (kind == ENTRY_BEGIN || kind == ENTRY_MOVE || kind == ENTRY_END)
        memory = take_entry(batches, kind, record);
    else if (batches->rows.count > 0 && strcmp(record->kind, "decision") == 0)
        memory = take_decision(batches, record);
    if (!memory)
        batches->job->no_memory = true;
    return memory && batches->unreadable == 0;
}

/* ---- rows ---- */

static void
write_batch(struct export_job *job, const struct batch *batch)
{
    struct cells *cells = &job->cells;

    cell_int(cells, batch->number);
    cell_text(cells, batch->product);
    job_time(job, batch->begun_ms);
    cell_text(cells, batch->begun_by);
    cell_int_or_empty(cells, batch->mass_g);
    cell_int_or_empty(cells, batch->thickness_mm);
    cell_text(cells, batch->probes.chars);
    cell_text(cells, batch->place);
    cell_text(cells, batch->steps.chars);
    cell_text(cells, batch->deviations.chars);
    job_time(job, batch->ended_ms);
    cell_text(cells, batch->ended_by);
    cell_text(cells, batch->outcome == OUTCOME_NONE ? NULL : outcome_word(batch->outcome));
    cell_text(cells, batch->note.chars);
    cell_text(cells, batch->end_note.chars);
    job_row_end(job);
}

enum store_status
export_batches(struct export_job *job, struct store_error *reterr)
{
    struct batches *batches = calloc(1, sizeof(*batches));
    enum store_status status;

    if (!batches)
        return db_error(reterr, STORE_IO, "exporting: out of memory");
    batches->job = job;
    status =
        store_each_record(job->reader, 0, job->head.seq, NULL, see_record, batches, reterr);
    if (status == STORE_OK && batches->unreadable != 0)
        status = job_unreadable(job, batches->unreadable, reterr);
    status = job_result(job, status, reterr);
    if (status == STORE_OK)
        job_header(job, "batch,product,begun_utc,begun_by,mass_g,thickness_mm,probes,"
                        "place,steps,deviations,ended_utc,ended_by,outcome,note,end_note");
    while (batches->rows.count > 0) {
        struct batch *batch = batches->rows.items[0];
        if (status == STORE_OK && !job->cells.stopped)
            write_batch(job, batch);
        drop(batches, batch);
    }
    rows_done(&batches->rows);
    free(batches);
    return status;
}
