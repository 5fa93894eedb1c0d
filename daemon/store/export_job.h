/* One export in hand: the range, the shown clock and the probes' ids, as the records tell them.
 */
#ifndef STORE_EXPORT_JOB_H
#define STORE_EXPORT_JOB_H

#include "export_cells.h"
#include "read.h"
#include "trivet/entry.h"
#include "trivet/plan.h"

struct clock_change {
    int64_t at_ms, offset_ms;
};

struct zone;

struct zone_change {
    int64_t at_ms;
    const struct zone *zone; /* shared */
};

#define LOCAL_TIMES_MAX 8 /* instants in one row */

/* What the twins of a row's times need (export_local.c). */
struct local_times {
    struct zone_change *changes; /* owned */
    size_t count;
    int64_t row[LOCAL_TIMES_MAX]; /* as written so far; TIME_NONE = empty */
    size_t row_count, twins;      /* times in a row; as the header says */
    const struct zone *zone;      /* last looked up, for all instants of that hour if steady */
    int64_t hour;
    int32_t offset_s;
    bool steady;
};

struct export_job {
    struct store_reader *reader;
    int64_t from_ms, to_ms;    /* from_ms <= at_ms < to_ms */
    uint64_t from_seq, to_seq; /* the records of that range: from_seq < seq <= to_seq */
    struct store_head head;    /* when the export began: nothing later is read */
    struct clock_change *changes;
    size_t change_count, change_room;
    char (*probe_ids)[PLAN_ID_MAX + 1]; /* by stored number; "" = no plan names it */
    size_t probe_room;
    uint64_t unreadable; /* a record that could not be read, 0 = none; likewise */
    bool no_memory;      /* set by visitors, which can only stop */
    struct local_times local;
    struct cells cells;
};

/* The instant people saw. */
int64_t job_shown_ms(const struct export_job *job, int64_t at_ms);
/* A plan's zone is in force from at_ms on. False without memory. */
bool job_zone_see(struct export_job *job, int64_t at_ms, const char *plan_text);
/* A header row from names separated by commas, and the twins of those that end in _utc. */
void job_header(struct export_job *job, const char *names);
/* A cell with the shown time; empty for TIME_NONE. Its local twin comes at the row's end. */
void job_time(struct export_job *job, int64_t at_ms);
void job_row_end(struct export_job *job);
/* The id of a probe by its stored number; "#12" in buf when no plan names it, "" for 0. */
const char *job_probe(const struct export_job *job, uint16_t probe, char buf[static 8]);

enum store_status export_readings(struct export_job *job, struct store_error *reterr);
enum store_status export_batches(struct export_job *job, struct store_error *reterr);
enum store_status export_deviations(struct export_job *job, struct store_error *reterr);
enum store_status export_actions(struct export_job *job, struct store_error *reterr);
enum store_status export_entries(struct export_job *job, struct store_error *reterr);
enum store_status export_decisions(struct export_job *job, struct store_error *reterr);
enum store_status export_people(struct export_job *job, struct store_error *reterr);
enum store_status export_calibrations(struct export_job *job, struct store_error *reterr);
enum store_status export_switches(struct export_job *job, struct store_error *reterr);
enum store_status export_records(struct export_job *job, struct store_error *reterr);

/* What a visitor that ran out of memory ends with. */
enum store_status job_result(const struct export_job *job, enum store_status status,
                             struct store_error *reterr);
/* For records whose data cannot be read although the chain holds. */
enum store_status job_unreadable(const struct export_job *job, uint64_t seq,
                                 struct store_error *reterr);

/* What became of each batch, "3 discard 4 kg; 5 use". Returns buf. */
#define FOOD_CELL_MAX (ENTRY_FOODS_MAX * (ENTRY_AMOUNT_MAX + 32) + 1)
char *food_text(char buf[FOOD_CELL_MAX], const struct entry *entry);

#endif
