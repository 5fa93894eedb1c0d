/* Doors and buttons in words, beside their place. Pure. */
#include "sentence.h"

#define CLOCK_MAX     40
#define MARK_LASTS_MS INT64_C(3600000) /* a mark is said for an hour; it stays on record */

static void
tell_switch(const struct snapshot *snapshot, struct snapshot_switch *of)
{
    const struct engine_switch_view *view = &of->view;
    const struct plan_switch *plan = &snapshot->plan->switches[view->index];
    char clock[CLOCK_MAX], most[CLOCK_MAX];
    struct text text;
    text_start(&text, of->sentence, sizeof of->sentence);
    of->concern = CONCERN_NONE;
    if (view->since_ms == TIME_NONE)
        return; /* not heard of yet */
    (void)snapshot_clock_text(snapshot, view->since_ms, clock, sizeof clock);
    if (view->state == SWITCH_UNKNOWN) {
        of->concern = CONCERN_WATCH;
        text_add(&text, "%s: its switch has said nothing since %s.", plan->name, clock);
    } else if (plan->kind == SWITCH_DOOR) {
        text_add(&text, "%s: %s since %s", plan->name,
                 switch_state_word(plan->kind, view->state), clock);
        if (view->told) {
            of->concern = CONCERN_WATCH;
            text_add(&text, ", longer than %s",
                     duration_text(most, sizeof most, plan->open_max_ms));
        }
        text_add(&text, ".");
    } else if (view->mark_ms != TIME_NONE && snapshot->at_ms - view->mark_ms <= MARK_LASTS_MS) {
        text_add(&text, "%s: pressed at %s.", plan->name,
                 snapshot_clock_text(snapshot, view->mark_ms, clock, sizeof clock));
    }
}

void
tell_switches(struct snapshot *snapshot)
{
    for (size_t i = 0; i < snapshot->switch_count; i++)
        if (snapshot->plan != NULL &&
            snapshot->switches[i].view.index < snapshot->plan->switch_count)
            tell_switch(snapshot, &snapshot->switches[i]);
}

void
add_switches(struct text *text, const struct snapshot *snapshot, struct snapshot_place *place)
{
    for (size_t i = 0; i < snapshot->switch_count; i++) {
        const struct snapshot_switch *of = &snapshot->switches[i];
        if (of->view.index >= snapshot->plan->switch_count ||
            snapshot->plan->switches[of->view.index].place != (int)place->view.place ||
            of->sentence[0] == '\0')
            continue;
        text_add(text, " %s", of->sentence);
        if (place->concern < of->concern)
            place->concern = of->concern;
    }
}
