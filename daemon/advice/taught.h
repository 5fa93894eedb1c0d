/* What earlier batches of a product teach the one that is watched. Owned by the adviser. */
#ifndef ADVICE_TAUGHT_H
#define ADVICE_TAUGHT_H

#include "trivet/advice.h"
#include "trivet/earlier.h"
#include "trivet/snapshot.h"

struct taught {
    int lessons; /* that were heeded */
    struct forecast_prior prior;
    struct planner *planner; /* on the heap, the taker's; NULL = nothing to plan from */
    struct dish dish;        /* as the planner takes it */
};

/* Reads the lessons of a product's newest batches, other than the one that is asked about. What
 * is not on record in today's way is made, a few at a time, and added to the list for the
 * recorder. */
enum store_status taught_find(struct store_reader *reader, struct planner_work *work,
                              const struct engine_batch_view *view, enum forecast_kind kind,
                              struct advice_list *list, struct taught *ret,
                              struct store_error *reterr);

/* A batch of the product is over, or one of its steps: makes the lessons that are missing. */
enum store_status taught_settle(struct store_reader *reader, const char *product,
                                struct advice_list *list, struct store_error *reterr);

#endif
