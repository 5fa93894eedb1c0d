/* The readings of many probes as one stream ordered by (at_ms, probe), from the primary key
 * alone.
 *
 * Each probe is read in pages of one short statement, so that no transaction stays open between
 * calls; memory is bounded by the number of probes, not of readings. Owned by the thread of its
 * connection. */
#ifndef STORE_MERGE_H
#define STORE_MERGE_H

#include "db.h"
#include "trivet/reading.h"

struct probe_list {
    uint16_t *probes; /* ascending */
    size_t count;
};

/* Every probe that has a reading, by skipping from one to the next: the cost is their number.
 * STORE_CORRUPT when a row has none that can be (S5). The list is freed with free(ret->probes).
 */
enum store_status probes_stored(const struct db *db, struct probe_list *ret,
                                struct store_error *reterr);

struct merge;

/* Readings with after_ms < at_ms <= to_ms of these probes. NULL with reterr. */
struct merge *merge_new(const struct db *db, const uint16_t *probes, size_t count,
                        int64_t after_ms, int64_t to_ms, struct store_error *reterr);
void merge_free(struct merge *merge); /* accepts NULL */

/* The next reading: STORE_OK with *ret_more, false at the end. STORE_CORRUPT for a row that no
 * program of ours writes: merge_fault then says which. */
enum store_status merge_next(struct merge *merge, struct reading *ret, bool *ret_more,
                             struct store_error *reterr);

struct merge_fault {
    uint16_t probe; /* 0 = the fault is not in a row */
    int64_t at_ms;
};
struct merge_fault merge_fault(const struct merge *merge);

#endif
