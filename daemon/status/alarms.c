/* How the alarm of a deviation stands: what is one with it, who has heard it, whether it is
 * shelved, who was told next. Pure. */
#include "daemon/status/sentence.h"

#include <string.h>

#define MEMBERS_TOLD 8
#define CLOCK_MAX    40

const struct engine_alarm_view *
snapshot_alarm(const struct snapshot *snapshot, uint32_t number)
{
    for (size_t i = 0; number != 0 && i < snapshot->alarm_count; i++)
        if (snapshot->alarms[i].number == number)
            return &snapshot->alarms[i];
    return NULL;
}

static bool
any_alarm(const struct snapshot *snapshot, bool unheard)
{
    for (size_t i = 0; i < snapshot->alarm_count; i++) {
        const struct engine_alarm_view *alarm = &snapshot->alarms[i];
        if (unheard ? alarm->sounds : alarm->goes_on || !alarm->acted)
            return true;
    }
    return false;
}

bool
snapshot_needs_signal(const struct snapshot *snapshot, enum signal_shows shows, int64_t now_ms)
{
    if (snapshot == NULL || now_ms - snapshot->at_ms > snapshot_late_after_ms(snapshot))
        return true;
    switch (shows) {
    case SHOWS_ALARM:
        return snapshot->unrecorded || any_alarm(snapshot, false);
    case SHOWS_UNHEARD:
        return snapshot->unrecorded || any_alarm(snapshot, true);
    case SHOWS_ALIVE:
        break;
    }
    return false;
}

const char *
alarm_state_word(const struct snapshot *snapshot, const struct engine_alarm_view *alarm)
{
    if (alarm->sounds)
        return "sounds";
    if (alarm->shelf.until_ms != TIME_NONE)
        return "shelved";
    if (alarm->heard_ms != TIME_NONE)
        return "heard";
    for (size_t i = 0; i < snapshot->deviation_count; i++) {
        const struct engine_deviation_view *view = &snapshot->deviations[i].view;
        if (view->alarm == alarm->number && view->opened.batch == 0 &&
            snapshot_place_shelf(snapshot, view->opened.place) != NULL)
            return "shelved";
    }
    return "silent";
}

const struct engine_shelf *
snapshot_place_shelf(const struct snapshot *snapshot, const char *place)
{
    int index = snapshot->plan == NULL || place[0] == '\0'
                    ? -1
                    : plan_place_index(snapshot->plan, place);
    for (size_t i = 0; index >= 0 && i < snapshot->place_count; i++)
        if (snapshot->places[i].view.place == (uint16_t)index &&
            snapshot->places[i].shelf.until_ms != TIME_NONE)
            return &snapshot->places[i].shelf;
    return NULL;
}

void
add_shelf(struct text *text, const struct snapshot *snapshot, const struct engine_shelf *shelf)
{
    char clock[CLOCK_MAX];
    text_add(text, "shelved until %s by %s (%s)",
             snapshot_clock_text(snapshot, shelf->until_ms, clock, sizeof clock), shelf->by,
             shelf->reason);
}

/* "With it: deviations 6 and 7." of the cause; "Follows from deviation 5." of the others. */
static void
add_members(struct text *text, const struct snapshot *snapshot,
            const struct engine_alarm_view *alarm, uint32_t number)
{
    if (number != alarm->cause) {
        text_add(text, "One alarm with deviation %u. ", (unsigned)alarm->cause);
        return;
    }
    size_t told = 0;
    for (size_t i = 0; i < snapshot->deviation_count; i++) {
        const struct engine_deviation_view *view = &snapshot->deviations[i].view;
        if (view->alarm != alarm->number || view->number == number)
            continue;
        if (told++ == MEMBERS_TOLD) {
            text_add(text, " and more");
            break;
        }
        text_add(text, told == 1 ? "One alarm with deviation %u" : ", %u",
                 (unsigned)view->number);
    }
    if (told > 0)
        text_add(text, ". ");
}

static void
add_level(struct text *text, const struct snapshot *snapshot,
          const struct engine_alarm_view *alarm)
{
    char clock[CLOCK_MAX];
    const struct plan *plan = snapshot->plan;
    if (alarm->level == 0 || alarm->level_ms == TIME_NONE)
        return;
    text_add(text, " Told on to %s at %s (level %u).",
             plan != NULL && alarm->level <= plan->escalation_count
                 ? plan->escalation[alarm->level - 1].tell
                 : "the next",
             snapshot_clock_text(snapshot, alarm->level_ms, clock, sizeof clock),
             (unsigned)alarm->level);
}

void
tell_alarm(const struct snapshot *snapshot, struct snapshot_deviation *deviation)
{
    const struct engine_deviation_view *view = &deviation->view;
    const struct engine_alarm_view *alarm = snapshot_alarm(snapshot, view->alarm);
    const struct engine_shelf *shelf =
        view->opened.batch == 0 ? snapshot_place_shelf(snapshot, view->opened.place) : NULL;
    struct text text;
    char clock[CLOCK_MAX];
    text_start(&text, deviation->alarm, sizeof deviation->alarm);
    if (alarm == NULL)
        return;
    add_members(&text, snapshot, alarm, view->number);
    if (alarm->shelf.until_ms != TIME_NONE)
        shelf = &alarm->shelf;
    if (alarm->sounds)
        text_add(&text, "Nobody has said yet that it was heard.");
    else if (alarm->heard_ms != TIME_NONE)
        text_add(&text, "Heard by %s at %s.", alarm->heard_by,
                 snapshot_clock_text(snapshot, alarm->heard_ms, clock, sizeof clock));
    if (shelf != NULL) {
        text_add(&text, " Its alarm is ");
        add_shelf(&text, snapshot, shelf);
        text_add(&text, ".");
    }
    add_level(&text, snapshot, alarm);
}
