/* The checks of thermometers as the records tell them, and what a failed one puts in doubt. Any
 * thread that owns a store_reader. */
#ifndef TRIVET_CHECK_HISTORY_H
#define TRIVET_CHECK_HISTORY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/calibration.h"
#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/store.h"

/* One look of one check: as found, and once more as left when it was adjusted or its correction
 * changed. Valid during the visit. */
struct check_look {
    uint64_t seq; /* of the record */
    int64_t at_ms;
    const struct entry *entry;
    bool as_left;
    const struct calibration_point *points;
    size_t count;
    const struct probe_correction *correction; /* that what was found is seen through */
    int32_t tolerance_mK; /* of the plan then in force; 0 = this version cannot read it */
    bool within;
};

typedef bool check_look_visitor(void *arg, const struct check_look *look); /* false stops */

/* In order, of records with from_ms <= at_ms < to_ms; id "" = of every thermometer. */
enum store_status check_history_each(struct store_reader *reader, const char *id,
                                     int64_t from_ms, int64_t to_ms, check_look_visitor *visit,
                                     void *arg, struct store_error *reterr);

/* ---- what a failed check puts in doubt (E125) ---- */

struct doubt_batch {
    uint32_t number;
    char product[PLAN_ID_MAX + 1];
    int64_t from_ms,
        to_ms; /* while it depended on the thermometer; TIME_NONE = it still runs */
};

struct doubt {
    int64_t after_ms,
        to_ms;         /* the span: the last good check (TIME_NONE = none), the failed one */
    uint64_t readings; /* good and suspect ones of the probe, or hand readings, in it */
    int64_t first_ms, last_ms;   /* of these; TIME_NONE when there are none */
    struct doubt_batch *batches; /* ascending */
    size_t batch_count;
};

/* opened is the decision that opened the deviation. A batch is listed when the probe was in it,
 * when it stood in a place that the probe watches, when a thermocouple did whose terminals it
 * measures, or when it was measured by hand with the thermometer. *ret is freed with
 * doubt_done. */
enum store_status doubt_read(struct store_reader *reader, const struct decision *opened,
                             struct doubt *ret, struct store_error *reterr);
void doubt_done(struct doubt *doubt);

#endif
