/* Under which plan and limit a decision was taken, known as the records pass in order, and the
 * cells that explain it. */
#ifndef STORE_EXPORT_JUDGED_H
#define STORE_EXPORT_JUDGED_H

#include "export_cells.h"
#include "export_rows.h"
#include "trivet/entry.h"
#include "trivet/explain.h"

/* All zeros before the first use. */
struct judged_by {
    struct rows batches;  /* in hand */
    uint32_t ended_batch; /* kept until the next entry: its end may still decide something */
    struct plan **plans;  /* in order; the last is in force */
    size_t plan_count;
};

/* A plan record, and a batch's beginning or end. False without memory. A plan that this version
 * cannot read leaves its cells empty, and nothing else. */
bool judged_by_plan(struct judged_by *by, const struct store_record *record);
bool judged_by_entry(struct judged_by *by, const struct entry *entry);
void judged_by_done(struct judged_by *by);

/* The plan a batch began under; the plan in force for batch 0. NULL when not known. Lives until
 * judged_by_done. */
const struct plan *judged_plan(const struct judged_by *by, uint32_t batch);
const char *judged_product(const struct judged_by *by, uint32_t batch); /* "" = not known */

/* One cell: the rule's sentence, what was required and what was found. */
void cell_explained(struct cells *cells, const struct decision *decision,
                    const struct plan *plan, const struct plan_limit *limit);

#endif
