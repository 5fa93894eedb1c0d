/* What earlier batches of a product teach the one that is watched. Owned by the adviser. */
#ifndef ADVICE_TAUGHT_H
#define ADVICE_TAUGHT_H

#include "trivet/advice.h"
#include "trivet/earlier.h"
#include "trivet/snapshot.h"

/* The newest lessons of one product, newest first. */
struct lessons {
    char product[PLAN_ID_MAX + 1]; /* "" = none kept */
    enum forecast_kind kind;
    bool whole; /* none is still to be made */
    int count;
    struct earlier_lesson list[LESSONS_MAX];
};

/* What was read in the look that is under way, so that many batches of few products cost few
 * walks; the next look may find it corrected. */
#define TAUGHT_KEPT 8

/* A lesson that was made, and may not be on record yet. */
struct handed_over {
    uint32_t batch; /* 0 = none */
    enum forecast_kind kind;
    int64_t at_ms;
};

struct taught_store {
    struct store_reader *reader;                       /* borrowed */
    int64_t now_ms;                                    /* of the look that is under way */
    struct handed_over handed[2 * ADVICE_LESSONS_MAX]; /* ring */
    size_t handed_next;
    struct planner_work planner_work;
    struct lessons kept[TAUGHT_KEPT];
    size_t next; /* to be given up */
};

/* A look begins, at its snapshot's instant. */
void taught_forget(struct taught_store *store, int64_t now_ms);

struct taught {
    int lessons; /* that were heeded */
    bool whole;  /* none of the newest is missing still */
    struct forecast_prior prior;
    struct planner *planner; /* on the heap, the taker's; NULL = nothing to plan from */
    struct dish dish;        /* as the planner takes it */
};

/* Reads the lessons of a product's newest batches, other than the one that is asked about. What
 * is not on record in today's way is made, a few at a time, and added to the list for the
 * recorder. */
enum store_status taught_find(struct taught_store *store, const struct engine_batch_view *view,
                              enum forecast_kind kind, struct advice_list *list,
                              struct taught *ret, struct store_error *reterr);

/* A batch of the product is over, or one of its steps: makes the lessons that are missing. */
enum store_status taught_settle(struct taught_store *store, const char *product,
                                struct advice_list *list, struct store_error *reterr);

#endif
