/* Every plan this run has seen, by the sequence number of its record: the engine borrows them
 * for as long as a batch that began under one is open. Few and small, so none is freed before
 * the end. Also gives probes their stored numbers. */
#ifndef RECORDER_PLANS_H
#define RECORDER_PLANS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/plan.h"
#include "trivet/store.h"

struct probe_number {
    char id[PLAN_ID_MAX + 1];
    uint16_t number;
};

struct plans {
    struct {
        uint64_t seq;
        int64_t at_ms; /* of the record */
        struct plan *plan;
    } * list;
    size_t count, room;
    struct probe_number *numbers; /* every probe id ever seen, sorted by id */
    size_t number_count;
};

void plans_done(struct plans *plans);
/* Makes room for one more, so that the next plans_keep cannot fail. False when out of memory.
 */
bool plans_reserve(struct plans *plans);
/* Takes over the plan. False when out of memory (the plan is then freed). */
bool plans_keep(struct plans *plans, uint64_t seq, int64_t at_ms, struct plan *plan);
/* When the plan of that record came into force; TIME_NONE when it is not kept here. */
int64_t plans_since_ms(const struct plans *plans, uint64_t seq);
const struct plan *plans_find(const struct plans *plans, uint64_t seq);
/* Gives every probe of the plan its number, new ones after the highest ever given. False when
 * out of memory or numbers. */
bool plans_number_probes(struct plans *plans, struct plan *plan);
/* Reads a plan record back: its text becomes a plan, its numbers are learned. Plan kept under
 * the record's seq. */
bool plans_read_record(struct plans *plans, const struct store_record *record, char *reterr,
                       size_t err_size);
/* The canonical data object of a plan's record, with what it changes of the one before;
 * returned memory is the caller's. NULL when out of memory. */
char *plans_record_data(const struct plans *plans, const struct plan *plan,
                        const struct plan_change *changes, size_t change_count);

#endif
