/* By when people have to act on a deviation and verify it, as the plan's duties say. Pure but
 * for the site's zone. */
#include "daemon/status/sentence.h"

#include <stdio.h>
#include <string.h>

#include "trivet/business_day.h"

void
tell_due(const struct snapshot *snapshot, struct snapshot_deviation *deviation)
{
    const struct engine_deviation_view *view = &deviation->view;
    const struct plan *plan = snapshot->plan;
    deviation->due_ms = TIME_NONE;
    deviation->overdue = false;
    if (plan == NULL || plan->duties.act_within_ms == 0)
        return;
    if (view->action_seq == 0)
        deviation->due_ms = view->opened.at_ms + plan->duties.act_within_ms;
    else if (view->verified_seq == 0 && view->action_ms != TIME_NONE)
        deviation->due_ms = working_days_after(plan, view->action_ms + snapshot->offset_ms,
                                               plan->duties.verify_days) -
                            snapshot->offset_ms;
    deviation->overdue = deviation->due_ms != TIME_NONE && snapshot->at_ms > deviation->due_ms;
}

void
tell_reviews(struct snapshot *snapshot, const struct engine *engine)
{
    const struct plan *plan = snapshot->plan;
    int64_t now_ms = snapshot->at_ms + snapshot->offset_ms;
    int64_t first_ms = engine_first_ms(engine);
    if (plan == NULL || first_ms == TIME_NONE || plan->duties.review_days == 0)
        return;
    /* Working days that are over since the day looked at: once there are as many as the plan
     * allows, its review is overdue. Counted on the way back, for this is done at every commit.
     */
    unsigned working_days = 0;
    for (int back = 1; back <= REVIEW_LOOK_BACK; back++) {
        struct business_day day;
        char name[40];
        business_day_of(plan, now_ms, -back, &day);
        if (day.to_ms <= first_ms + snapshot->offset_ms)
            return; /* nothing was on record */
        (void)snprintf(name, sizeof name, "%04d-%02u-%02u", (int)day.year, day.month, day.day);
        if (!engine_reviewed(engine, name)) {
            snapshot->reviews_waiting++;
            memcpy(snapshot->review_oldest, name, ENTRY_DAY_MAX);
            if (working_days >= plan->duties.review_days)
                snapshot->reviews_overdue++;
        }
        if (plan_is_working_day(plan, day.weekday) && now_ms > day.to_ms)
            working_days++;
    }
}
