/* What is known of each thermometer from its checks, and which of them somebody has to check
 * next. Advises only: no due date ever decides about food (E129). Pure. */
#include "thermometers.h"

#include <stdio.h>
#include <string.h>

#include "sentence.h"
#include "trivet/zone.h"

#define CLOCK_MAX 40

const struct plan_checking *
thermometer_rules(const struct plan *plan, const struct engine_check_view *view)
{
    return view->is_handheld ? &plan->handhelds[view->handheld].checking
                             : &plan->probes[view->probe].checking;
}

const char *
thermometer_id(const struct plan *plan, const struct engine_check_view *view)
{
    return view->is_handheld ? plan->handhelds[view->handheld].id
                             : plan->probes[view->probe].id;
}

const char *
thermometer_name(const struct plan *plan, const struct engine_check_view *view)
{
    return view->is_handheld ? plan->handhelds[view->handheld].name
                             : plan->probes[view->probe].name;
}

static void
day_text(const struct snapshot *snapshot, int64_t at_ms, char *buf, size_t size)
{
    struct zone_time day;
    zone_split(zone_shared(snapshot->plan->time_zone), at_ms + snapshot->offset_ms, &day);
    (void)snprintf(buf, size, "%04d-%02d-%02d", (int)day.year, day.month, day.day);
}

/* ---- one thermometer ---- */

static enum check_state
state_of(const struct snapshot *snapshot, const struct snapshot_check *check,
         const struct plan_checking *rules)
{
    if (check->view.left_bad || check->view.deviation != 0)
        return CHECK_FAILED;
    if (rules->every_ms == 0)
        return check->view.checked_ms == TIME_NONE ? CHECK_UNASKED : CHECK_GOOD;
    if (check->view.good_ms == TIME_NONE)
        return CHECK_NEVER;
    if (check->due_ms < snapshot->at_ms)
        return CHECK_OVERDUE;
    return check->due_ms - snapshot->plan->calibration.warn_ms < snapshot->at_ms ? CHECK_SOON
                                                                                 : CHECK_GOOD;
}

static void
tell_check(const struct snapshot *snapshot, struct snapshot_check *check)
{
    const struct plan_checking *rules = thermometer_rules(snapshot->plan, &check->view);
    const char *id = thermometer_id(snapshot->plan, &check->view);
    char good[CLOCK_MAX], due[CLOCK_MAX];
    struct text text;
    text_start(&text, check->sentence, sizeof check->sentence);
    check->due_ms = rules->every_ms == 0 || check->view.good_ms == TIME_NONE
                        ? TIME_NONE
                        : check->view.good_ms + rules->every_ms;
    check->state = state_of(snapshot, check, rules);
    if (check->view.good_ms != TIME_NONE)
        day_text(snapshot, check->view.good_ms, good, sizeof good);
    if (check->due_ms != TIME_NONE)
        day_text(snapshot, check->due_ms, due, sizeof due);
    switch (check->state) {
    case CHECK_UNASKED:
        text_add(&text, "Not checked yet; the plan does not say how often.");
        break;
    case CHECK_GOOD:
        text_add(&text, "Found right on %s%s%s.", good,
                 check->due_ms == TIME_NONE ? "" : "; due again on ",
                 check->due_ms == TIME_NONE ? "" : due);
        break;
    case CHECK_SOON:
        text_add(&text, "Found right on %s; has to be checked by %s: trivet calibrate %s.",
                 good, due, id);
        break;
    case CHECK_OVERDUE:
        text_add(&text, "Its check was due on %s; last found right on %s: trivet calibrate %s.",
                 due, good, id);
        break;
    case CHECK_NEVER:
        text_add(&text, "Never checked, and the plan asks for it: trivet calibrate %s.", id);
        break;
    case CHECK_FAILED:
        text_add(&text, "Found outside its tolerance");
        if (check->view.good_ms != TIME_NONE)
            text_add(&text, "; last found right on %s", good);
        text_add(&text, ". Adjust it%s or take it out of use.",
                 check->view.is_handheld ? "" : ", correct it");
        break;
    }
    check->concern = check->state == CHECK_FAILED ? CONCERN_ACT
                     : check->state == CHECK_GOOD || check->state == CHECK_UNASKED
                         ? CONCERN_NONE
                         : CONCERN_WATCH;
}

/* ---- references ---- */

enum check_state
reference_state(const struct snapshot *snapshot, const struct plan_reference *reference)
{
    char today[CLOCK_MAX], soon[CLOCK_MAX];
    day_text(snapshot, snapshot->at_ms, today, sizeof today);
    day_text(snapshot, snapshot->at_ms + snapshot->plan->calibration.warn_ms, soon,
             sizeof soon);
    if (strcmp(today, reference->due) > 0)
        return CHECK_OVERDUE;
    return strcmp(soon, reference->due) > 0 ? CHECK_SOON : CHECK_GOOD;
}

/* Words of the page and of JSON, by enum check_state. */
const char *
check_state_word(enum check_state state)
{
    static const char *const words[] = {
        [CHECK_UNASKED] = "unasked", [CHECK_GOOD] = "good",   [CHECK_SOON] = "due-soon",
        [CHECK_OVERDUE] = "overdue", [CHECK_NEVER] = "never", [CHECK_FAILED] = "failed",
    };
    return words[state];
}

void
tell_checks(struct snapshot *snapshot)
{
    for (size_t i = 0; snapshot->plan != NULL && i < snapshot->check_count; i++)
        tell_check(snapshot, &snapshot->checks[i]);
}
