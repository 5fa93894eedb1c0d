/* See the header. */
#include "daemon/recorder/pending.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

bool
pending_init(struct pending *pending)
{
    memset(pending, 0, sizeof *pending);
    pending->readings = calloc(PENDING_READINGS_MAX, sizeof *pending->readings);
    pending->records = calloc(PENDING_RECORDS_MAX, sizeof *pending->records);
    return pending->readings != NULL && pending->records != NULL;
}

void
pending_done(struct pending *pending)
{
    pending_clear(pending);
    free(pending->readings);
    free(pending->records);
    memset(pending, 0, sizeof *pending);
}

void
pending_reading(struct pending *pending, const struct reading *reading)
{
    if (pending->reading_count == PENDING_READINGS_MAX) {
        pending->reading_first = (pending->reading_first + 1) % PENDING_READINGS_MAX;
        pending->reading_count--;
        pending->lost_readings++;
    }
    size_t at = (pending->reading_first + pending->reading_count) % PENDING_READINGS_MAX;
    pending->readings[at] = *reading;
    pending->reading_count++;
    pending->readings_taken++;
}

bool
pending_record(struct pending *pending, const char *kind, int64_t at_ms, const char *data,
               bool tell)
{
    char *copy = pending->record_count < PENDING_RECORDS_MAX ? strdup(data) : NULL;
    if (copy == NULL) {
        pending->lost_records++;
        return false;
    }
    pending->records[pending->record_count++] = (struct pending_record){
        .kind = kind,
        .at_ms = at_ms,
        .after_readings = pending->readings_taken,
        .tell = tell,
        .data = copy,
    };
    return true;
}

bool
pending_any(const struct pending *pending)
{
    return pending->reading_count > 0 || pending->record_count > 0;
}

enum store_status
pending_write(struct pending *pending, struct store *store, struct store_error *reterr)
{
    uint64_t number = pending->readings_taken - pending->reading_count;
    size_t next = 0;
    for (size_t i = 0; i <= pending->reading_count; i++, number++) {
        for (; next < pending->record_count && pending->records[next].after_readings <= number;
             next++) {
            struct pending_record *record = &pending->records[next];
            enum store_status status = store_record(store, record->kind, record->at_ms,
                                                    record->data, &record->seq, reterr);
            if (status != STORE_OK)
                return status;
        }
        if (i == pending->reading_count)
            break;
        size_t at = (pending->reading_first + i) % PENDING_READINGS_MAX;
        enum store_status status = store_reading(store, &pending->readings[at], reterr);
        if (status != STORE_OK)
            return status;
    }
    assert(next == pending->record_count);
    return STORE_OK;
}

void
pending_forget_records(struct pending *pending, size_t keep)
{
    while (pending->record_count > keep)
        free(pending->records[--pending->record_count].data);
}

void
pending_clear(struct pending *pending)
{
    pending_forget_records(pending, 0);
    pending->reading_first = pending->reading_count = 0;
}
