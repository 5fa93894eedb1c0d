/* By when people have to act on a deviation and verify it, as the plan's duties say. Pure but
 * for the site's zone. */
#include "daemon/status/sentence.h"
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
