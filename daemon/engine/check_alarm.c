/* Whether it makes sense to say that an alarm was heard, or to shelve it. */
#include <string.h>

#include "daemon/engine/alarms.h"
#include "daemon/engine/check.h"

bool
check_heard(const struct check *c)
{
    if (c->entry->batch != 0 && c->entry->deviation != 0)
        return wrong(c, "both a deviation and a batch are named; say one thing at a time");
    if (c->entry->batch != 0)
        return check_batch(c) != NULL;
    const struct deviation_state *deviation = check_deviation(c);
    if (!deviation)
        return false;
    const struct alarm_state *alarm = alarm_of(looked_at(c), deviation->number);
    if (!alarm || alarm->heard_ms == TIME_NONE)
        return true;
    return wrong(c,
                 "%s has said already that the alarm of deviation %u was heard; act on it and "
                 "record what was done",
                 alarm->heard_by, deviation->number);
}

/* E201. */
static bool
check_terms(const struct check *c)
{
    const struct entry *entry = c->entry;
    int64_t max_ms = c->plan->duties.shelve_max_ms;
    if (entry->for_ms <= 0 || entry->for_ms > max_ms)
        return wrong(c,
                     "for how long has to be said, at most %lld min (duties: shelve_at_most)",
                     (long long)(max_ms / 60000));
    if (!entry->reason[0])
        return wrong(c, "the reason is missing; say why it need not be told for a while");
    if (strlen(entry->reason) > PLAN_NAME_MAX)
        return wrong(c,
                     "the reason is too long to be shown; say it in at most %d bytes, and the "
                     "rest in a note",
                     PLAN_NAME_MAX);
    return true;
}

static bool
check_shelve_place(const struct check *c)
{
    const struct entry *entry = c->entry;
    bool shelved = place_shelf_find(c->engine, entry->place) != NULL;
    if (entry->end)
        return shelved ||
               wrong(c, "place '%s' is not shelved: its alarms are told already", entry->place);
    if (!check_place(c, c->plan))
        return false;
    const struct plan_place *place = &c->plan->places[plan_place_index(c->plan, entry->place)];
    if (place->probe < 0) /* what has a limit has a probe */
        return wrong(c, "place '%s' has neither a limit nor a probe: nothing alarms there",
                     entry->place);
    if (shelved)
        return wrong(c, "place '%s' is shelved already; end that first, then say it anew",
                     entry->place);
    return check_terms(c);
}

bool
check_shelve(const struct check *c)
{
    const struct entry *entry = c->entry;
    if (entry->place[0] && entry->deviation != 0)
        return wrong(c, "both a deviation and a place are named; shelve one thing at a time");
    if (entry->place[0])
        return check_shelve_place(c);
    const struct deviation_state *deviation = check_deviation(c);
    if (!deviation)
        return false;
    const struct alarm_state *alarm = alarm_of(looked_at(c), deviation->number);
    bool shelved = alarm && alarm->shelf.until_ms != TIME_NONE;
    if (entry->end)
        return shelved ||
               wrong(c, "the alarm of deviation %u is not shelved", deviation->number);
    if (shelved)
        return wrong(c,
                     "the alarm of deviation %u is shelved already; end that first, then say "
                     "it anew",
                     deviation->number);
    if (!alarm || !alarm_goes_on(c->engine, alarm))
        return wrong(c,
                     "deviation %u has ended, so nothing alarms; record the corrective action",
                     deviation->number);
    return check_terms(c);
}
