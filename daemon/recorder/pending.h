/* What has been judged but not yet committed, in order: readings and records.
 *
 * A failed commit loses nothing: the list stays and is written again. Its memory is fixed; when
 * storage is away for so long that it fills, the oldest readings go first and are counted,
 * never a decision before them. Owned by the recorder's thread. */
#ifndef RECORDER_PENDING_H
#define RECORDER_PENDING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/reading.h"
#include "trivet/store.h"

#define PENDING_READINGS_MAX 65536
#define PENDING_RECORDS_MAX  2048
#define PENDING_DATA_MAX     16384 /* an entry with all its texts */

struct pending_record {
    const char *kind; /* a literal */
    int64_t at_ms;
    size_t after_readings; /* how many readings of the whole run came before it */
    uint64_t seq;          /* set when written */
    bool tell;             /* the hook must hear of it */
    bool told_unrecorded;  /* it has, while it was not on record */
    char *data;            /* canonical JSON, owned */
};

struct pending {
    struct reading *readings; /* ring */
    size_t reading_first, reading_count;
    uint64_t readings_taken; /* of the whole run: first reading in the ring has number
                                readings_taken - reading_count */
    struct pending_record *records;
    size_t record_count;
    uint64_t lost_readings, lost_records;
};

bool pending_init(struct pending *pending);
void pending_done(struct pending *pending);
void pending_reading(struct pending *pending, const struct reading *reading);
/* Copies data. False when out of memory or room: counted as lost. */
bool pending_record(struct pending *pending, const char *kind, int64_t at_ms, const char *data,
                    bool tell);
bool pending_any(const struct pending *pending);
/* Writes all into the store's transaction, in order; commits nothing. Sets the records' seq. */
TRIVET_MUST_USE enum store_status pending_write(struct pending *pending, struct store *store,
                                                struct store_error *reterr);
/* After the commit (or to forget everything). */
void pending_clear(struct pending *pending);
/* Forgets the records from position keep on (an entry that could not be committed). */
void pending_forget_records(struct pending *pending, size_t keep);

#endif
