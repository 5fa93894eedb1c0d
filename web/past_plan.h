/* The plan that something on record was judged by, when another one is in force by now. */
#ifndef WEB_PAST_PLAN_H
#define WEB_PAST_PLAN_H

#include "trivet/plan.h"
#include "trivet/store.h"

/* The plan in force at the record `seq`, its probes with the numbers of the readings, and the
 * number of its own record; NULL when there is none that this version can read. The caller
 * frees it with plan_free. */
enum store_status past_plan_load(struct store_reader *reader, uint64_t seq,
                                 struct plan **ret_plan, uint64_t *ret_seq,
                                 struct store_error *reterr);

#endif
