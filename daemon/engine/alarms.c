/* Alarms: one cause is one alarm, told once, until somebody says that it was heard; shelved for
 * a while; told to the next person when nobody acts. Pure.
 *
 * An alarm has the number of its first deviation and lasts as long as one of its deviations is
 * listed. */
#include "daemon/engine/alarms.h"

#include <assert.h>
#include <string.h>

#include "daemon/engine/alarm_cause.h"
#include "daemon/engine/batches.h"
#include "daemon/engine/due.h"
#include "daemon/engine/judge.h"
#include "daemon/engine/list.h"
#include "trivet/engine_alarm.h"

/* What joins an alarm that sounds is told with it; later than this after it was last told it is
 * news again (E199; our choice: the consequences of one cause come within minutes, and a
 * kitchen that tells no one it has heard must still be told of a second stage missed hours
 * later). */
#define IN_ONE_BREATH_MS INT64_C(1800000)

/* ---- finding ---- */

static struct alarm_state *
alarm_find(struct engine *engine, uint32_t number)
{
    for (size_t i = 0; i < engine->state.counts.alarms; i++)
        if (engine->state.alarms[i].number == number)
            return &engine->state.alarms[i];
    return NULL;
}

struct alarm_state *
alarm_of(struct engine *engine, uint32_t deviation)
{
    const struct deviation_state *d = deviation_find(engine, deviation);
    return d ? alarm_find(engine, d->alarm) : NULL;
}

/* The first of its deviations after `after` in the list; NULL when there is no further one. */
static const struct deviation_state *
next_of(const struct engine *engine, const struct alarm_state *alarm,
        const struct deviation_state *after)
{
    const struct deviation_state *d = after ? after + 1 : engine->state.deviations;
    for (; d < engine->state.deviations + engine->state.counts.deviations; d++)
        if (d->alarm == alarm->number)
            return d;
    return NULL;
}

bool
alarm_goes_on(const struct engine *engine, const struct alarm_state *alarm)
{
    for (const struct deviation_state *d = next_of(engine, alarm, NULL); d;
         d = next_of(engine, alarm, d))
        if (d->ended_ms == TIME_NONE)
            return true;
    return false;
}

/* ---- shelves ---- */

const struct place_shelf *
place_shelf_find(const struct engine *engine, const char *place)
{
    for (size_t i = 0; place[0] && i < engine->state.counts.shelves; i++)
        if (strcmp(engine->state.shelves[i].place, place) == 0)
            return &engine->state.shelves[i];
    return NULL;
}

/* The silence of a probe that watches a place is the place's, and that of all its other places.
 */
static bool
is_silence_of(const struct place_state *place, const struct decision *opened)
{
    return opened->kind == DECISION_GAP_OPENED && opened->batch == 0 && place->probe != 0 &&
           place->probe == opened->probe;
}

/* A place's shelf covers the place itself, not the food in it; and the probe that watches it,
 * if nothing else that it watches is left to be told of. */
static bool
is_covered(const struct engine *engine, const struct decision *opened)
{
    if (opened->batch != 0 || place_shelf_find(engine, opened->place) == NULL)
        return false;
    for (size_t i = 0; i < engine->state.counts.places; i++)
        if (is_silence_of(&engine->state.places[i], opened) &&
            place_shelf_find(engine, engine->state.places[i].id) == NULL)
            return false;
    return true;
}

/* Whether what opened is one of the things that the shelf of this place can cover. */
static bool
is_under(const struct engine *engine, const char *place, const struct decision *opened)
{
    int index = plan_place_index(engine_plan(engine), place);
    return opened->batch == 0 &&
           (strcmp(opened->place, place) == 0 ||
            (index >= 0 && is_silence_of(&engine->state.places[index], opened)));
}

static bool
is_shelved(const struct engine *engine, const struct alarm_state *alarm)
{
    if (alarm->shelf.until_ms != TIME_NONE)
        return true;
    bool any = false;
    for (const struct deviation_state *d = next_of(engine, alarm, NULL); d;
         d = next_of(engine, alarm, d)) {
        if (d->ended_ms != TIME_NONE)
            continue;
        if (!is_covered(engine, &d->opened))
            return false;
        any = true;
    }
    return any;
}

static void
shelf_clear(struct shelf *shelf)
{
    *shelf = (struct shelf){.from_ms = TIME_NONE, .until_ms = TIME_NONE};
}

static void
shelf_fill(struct shelf *shelf, int64_t at_ms, const struct entry *entry)
{
    shelf->from_ms = at_ms;
    shelf->until_ms = at_ms + entry->for_ms;
    keep_word(shelf->by, sizeof shelf->by, entry->who);
    keep_word(shelf->reason, sizeof shelf->reason, entry->reason);
}

/* ---- sounding ---- */

/* Bits of the escalation's levels that wait for that. */
static uint8_t
levels_without(const struct engine *engine, enum plan_escalation_without without)
{
    const struct plan *plan = engine_plan(engine); /* nothing opens before the first */
    uint8_t levels = 0;
    for (size_t i = 0; i < plan->escalation_count; i++)
        if (plan->escalation[i].without == without)
            levels |= (uint8_t)(1u << i);
    return levels;
}

/* From now on it waits to be heard. */
static void
sound(struct engine *engine, struct alarm_state *alarm, int64_t at_ms)
{
    alarm->sounds = true;
    alarm->sounded_ms = alarm->told_ms = at_ms;
    alarm->heard_ms = TIME_NONE;
    memset(alarm->heard_by, 0, sizeof alarm->heard_by);
    alarm->told_levels &= (uint8_t)~levels_without(engine, WITHOUT_HEARING);
}

/* From now on somebody has to act on it. */
static void
wait_for_action(struct engine *engine, struct alarm_state *alarm, int64_t at_ms)
{
    alarm->acted = false;
    alarm->open_ms = at_ms;
    alarm->told_levels &= (uint8_t)~levels_without(engine, WITHOUT_ACTION);
}

/* A decision about an alarm speaks of its first deviation. */
static struct decision *
say_alarm(struct engine *engine, struct engine_output *out, int64_t at_ms,
          const struct alarm_state *alarm, enum decision_kind kind, enum decision_reason reason)
{
    struct decision *said = say(engine, out, at_ms, kind, reason);
    const struct deviation_state *first = next_of(engine, alarm, NULL);
    assert(first); /* an alarm leaves with the last of its deviations */
    said->deviation = alarm->number;
    said->batch = first->opened.batch;
    memcpy(said->place, first->opened.place, sizeof said->place);
    memcpy(said->step, first->opened.step, sizeof said->step);
    return said;
}

static void
shelf_ends(struct engine *engine, struct engine_output *out, int64_t at_ms,
           struct alarm_state *alarm, enum decision_reason reason)
{
    struct decision *said = say_alarm(engine, out, at_ms, alarm, DECISION_SHELF_ENDED, reason);
    said->since_ms = alarm->shelf.from_ms;
    said->found_ms = at_ms - alarm->shelf.from_ms;
    shelf_clear(&alarm->shelf);
}

/* ---- deviations come and go ---- */

static struct alarm_state *
alarm_new(struct engine *engine, uint32_t number, int64_t at_ms)
{
    struct engine_state *state = &engine->state;
    assert(state->counts.alarms < ENGINE_ALARMS_MAX); /* each has a listed deviation */
    struct alarm_state *alarm = &state->alarms[state->counts.alarms++];
    memset(alarm, 0, sizeof *alarm);
    alarm->number = number;
    alarm->open_ms = at_ms;
    alarm->sounded_ms = alarm->told_ms = alarm->heard_ms = alarm->level_ms = TIME_NONE;
    shelf_clear(&alarm->shelf);
    return alarm;
}

static void
alarm_drop(struct engine *engine, struct alarm_state *alarm)
{
    struct engine_state *state = &engine->state;
    list_take_out(state->alarms, &state->counts.alarms, alarm, sizeof *alarm);
}

/* Two alarms turn out to have one cause: the older takes over the other's deviations, and
 * sounds if one of them does. */
static void
merge(struct engine *engine, struct engine_output *out, int64_t at_ms, uint32_t older_number,
      uint32_t other_number)
{
    struct alarm_state *older = alarm_find(engine, older_number),
                       *other = alarm_find(engine, other_number);
    if (!other || older == other)
        return;
    if (other->shelf.until_ms != TIME_NONE)
        shelf_ends(engine, out, at_ms, other, REASON_JOINED);
    for (size_t i = 0; i < engine->state.counts.deviations; i++)
        if (engine->state.deviations[i].alarm == other_number)
            engine->state.deviations[i].alarm = older_number;
    if (other->sounds && !older->sounds) {
        sound(engine, older, other->sounded_ms);
        older->told_ms = other->told_ms;
        /* Who was told that nobody hears it is not told again. */
        older->told_levels |= other->told_levels & levels_without(engine, WITHOUT_HEARING);
    }
    older->acted = older->acted && other->acted;
    alarm_drop(engine, other); /* now: others of this instant may need its room */
}

static struct alarm_state *
join(struct engine *engine, struct engine_output *out, int64_t at_ms,
     const struct deviation_state *opened)
{
    uint32_t found = 0;
    for (size_t i = 0; i < engine->state.counts.deviations; i++) {
        const struct deviation_state *d = &engine->state.deviations[i];
        if (d->ended_ms != TIME_NONE || !same_cause(engine, &d->opened, &opened->opened))
            continue;
        if (found == 0)
            found = d->alarm; /* 0: it opened just now, as this one did, or is this one */
        else
            merge(engine, out, at_ms, found, d->alarm);
    }
    return alarm_find(engine, found);
}

static void
has_opened(struct engine *engine, struct engine_output *out, int64_t at_ms,
           struct decision *said)
{
    struct deviation_state *deviation = deviation_find(engine, said->deviation);
    if (!deviation)
        return; /* not listed: told by itself (E84) */
    struct alarm_state *alarm = join(engine, out, at_ms, deviation);
    if (!alarm)
        alarm = alarm_new(engine, said->deviation, at_ms);
    else if (alarm->acted)
        wait_for_action(engine, alarm, at_ms);
    deviation->alarm = alarm->number;
    if (alarm->number != said->deviation)
        said->alarm = alarm->number;
    if (is_covered(engine, said)) {
        said->silent = true; /* E202: the place is shelved */
    } else {
        if (alarm->shelf.until_ms != TIME_NONE) /* E202: this is more than was shelved */
            shelf_ends(engine, out, at_ms, alarm, REASON_JOINED);
        said->silent = alarm->sounds && at_ms - alarm->told_ms < IN_ONE_BREATH_MS;
        if (!alarm->sounds)
            sound(engine, alarm, at_ms);
        else if (!said->silent)
            alarm->told_ms = at_ms;
    }
    decision_copy(&deviation->opened, said);
}

/* Several of one alarm can end at one stroke. */
static bool
ends_again(struct engine *engine, const struct alarm_state *alarm, const struct decision *from,
           const struct decision *to)
{
    for (; from < to; from++)
        if (decision_ends(from) && alarm_of(engine, from->deviation) == alarm)
            return true;
    return false;
}

static void
has_ended(struct engine *engine, struct decision *said, const struct decision *last)
{
    const struct alarm_state *alarm = alarm_of(engine, said->deviation);
    if (!alarm)
        return;
    if (alarm->number != said->deviation)
        said->alarm = alarm->number;
    /* E199: the end of an alarm is that of the last of its deviations. */
    said->silent = alarm->sounded_ms == TIME_NONE || alarm_goes_on(engine, alarm) ||
                   is_shelved(engine, alarm) || ends_again(engine, alarm, said + 1, last);
}

static void
sweep(struct engine *engine)
{
    struct engine_state *state = &engine->state;
    for (size_t i = state->counts.deviations; i-- > 0;)
        deviation_close_if_done(engine, &state->deviations[i]);
    for (size_t i = state->counts.alarms; i-- > 0;)
        if (!next_of(engine, &state->alarms[i], NULL))
            alarm_drop(engine, &state->alarms[i]);
}

/* ---- what is due ---- */

/* When a level of the plan's escalation is told, TIME_NEVER while it need not be. */
static int64_t
level_due_ms(const struct plan *plan, const struct alarm_state *alarm, size_t level)
{
    const struct plan_escalation *next = &plan->escalation[level];
    if (alarm->told_levels & 1u << level)
        return TIME_NEVER;
    if (next->without == WITHOUT_HEARING)
        return alarm->sounds ? alarm->sounded_ms + next->after_ms : TIME_NEVER;
    return alarm->acted ? TIME_NEVER : alarm->open_ms + next->after_ms;
}

static int64_t
alarm_due_ms(const struct engine *engine, const struct alarm_state *alarm)
{
    const struct plan *plan = engine_plan(engine);
    int64_t due_ms = alarm->again ? engine->state.now_ms : TIME_NEVER;
    if (alarm->shelf.until_ms != TIME_NONE)
        due_ms = least_of(due_ms, alarm->shelf.until_ms);
    for (size_t i = 0; i < plan->escalation_count; i++)
        due_ms = least_of(due_ms, level_due_ms(plan, alarm, i));
    return due_ms;
}

static void
due_again(struct engine *engine)
{
    const struct engine_state *state = &engine->state;
    int64_t due_ms = TIME_NEVER;
    for (size_t i = 0; i < state->counts.shelves; i++)
        due_ms = least_of(due_ms, state->shelves[i].shelf.until_ms);
    for (size_t i = 0; i < state->counts.alarms; i++)
        due_ms = least_of(due_ms, alarm_due_ms(engine, &state->alarms[i]));
    due_set(engine, DUE_ALARM, due_ms);
}

void
alarms_follow(struct engine *engine, struct engine_output *out, int64_t at_ms)
{
    for (size_t i = 0, count = out->count; i < count; i++) {
        struct decision *said = &out->decisions[i];
        if (decision_opens(said))
            has_opened(engine, out, at_ms, said);
        else if (decision_ends(said))
            has_ended(engine, said, out->decisions + count);
    }
    sweep(engine);
    due_again(engine);
}

/* E202: what a shelf kept quiet is told again if it is still there. */
static void
place_shelf_ends(struct engine *engine, struct engine_output *out, int64_t at_ms, size_t index,
                 enum decision_reason reason)
{
    struct engine_state *state = &engine->state;
    struct place_shelf *shelf = &state->shelves[index];
    struct decision *said = say(engine, out, at_ms, DECISION_SHELF_ENDED, reason);
    memcpy(said->place, shelf->place, sizeof said->place);
    said->since_ms = shelf->shelf.from_ms;
    said->found_ms = at_ms - shelf->shelf.from_ms;
    for (size_t i = 0; i < state->counts.deviations; i++) {
        struct deviation_state *d = &state->deviations[i];
        struct alarm_state *alarm = alarm_find(engine, d->alarm);
        if (alarm && d->ended_ms == TIME_NONE && is_under(engine, shelf->place, &d->opened) &&
            !alarm->sounds)
            alarm->again = true;
    }
    list_take_out(state->shelves, &state->counts.shelves, shelf, sizeof *shelf);
}

static void
raise(struct engine *engine, struct engine_output *out, int64_t at_ms,
      struct alarm_state *alarm)
{
    alarm->again = false;
    if (is_shelved(engine, alarm) || alarm->sounds || !alarm_goes_on(engine, alarm))
        return;
    struct decision *said =
        say_alarm(engine, out, at_ms, alarm, DECISION_ALARM_RAISED, REASON_TIME_UP);
    said->since_ms = alarm->open_ms;
    sound(engine, alarm, at_ms);
}

/* E203. */
static void
escalate(struct engine *engine, struct engine_output *out, int64_t at_ms,
         struct alarm_state *alarm, size_t level)
{
    const struct plan_escalation *next = &engine_plan(engine)->escalation[level];
    bool unheard = next->without == WITHOUT_HEARING;
    struct decision *said = say_alarm(engine, out, at_ms, alarm, DECISION_ESCALATED,
                                      unheard ? REASON_NOT_HEARD : REASON_NO_ACTION);
    said->level = (uint8_t)(level + 1);
    said->since_ms = unheard ? alarm->sounded_ms : alarm->open_ms;
    said->required_ms = next->after_ms;
    alarm->told_levels |= (uint8_t)(1u << level);
    alarm->level_ms = at_ms;
}

static bool
alarm_is_due(struct engine *engine, struct engine_output *out, int64_t at_ms,
             struct alarm_state *alarm)
{
    const struct plan *plan = engine_plan(engine);
    if (alarm->shelf.until_ms != TIME_NONE && alarm->shelf.until_ms <= at_ms) {
        shelf_ends(engine, out, at_ms, alarm, REASON_TIME_UP);
        alarm->again = true;
    }
    if (alarm->again) {
        raise(engine, out, at_ms, alarm);
        return true;
    }
    for (size_t i = 0; i < plan->escalation_count; i++)
        if (level_due_ms(plan, alarm, i) <= at_ms) {
            escalate(engine, out, at_ms, alarm, i);
            return true;
        }
    return false;
}

void
alarms_due(struct engine *engine, struct engine_output *out, int64_t at_ms)
{
    struct engine_state *state = &engine->state;
    bool done = false;
    for (size_t i = 0; !done && i < state->counts.shelves; i++)
        if (state->shelves[i].shelf.until_ms <= at_ms) {
            place_shelf_ends(engine, out, at_ms, i, REASON_TIME_UP);
            done = true;
        }
    for (size_t i = 0; !done && i < state->counts.alarms; i++)
        done = alarm_is_due(engine, out, at_ms, &state->alarms[i]);
    due_again(engine);
}

/* ---- what people say ---- */

static void
hear(struct alarm_state *alarm, int64_t at_ms, const char *who)
{
    alarm->sounds = alarm->again = false;
    alarm->heard_ms = at_ms;
    keep_word(alarm->heard_by, sizeof alarm->heard_by, who);
}

void
alarm_heard(struct engine *engine, int64_t at_ms, const struct entry *entry)
{
    struct alarm_state *alarm = alarm_of(engine, entry->deviation);
    struct batch_state *batch = batch_find(engine, entry->batch);
    if (alarm)
        hear(alarm, at_ms, entry->who);
    if (!batch)
        return;
    batch->heard_ms = at_ms; /* E205 */
    keep_word(batch->heard_by, sizeof batch->heard_by, entry->who);
}

void
alarm_acted(struct engine *engine, int64_t at_ms, const struct entry *entry)
{
    struct alarm_state *alarm = alarm_of(engine, entry->deviation);
    if (!alarm)
        return; /* each listed deviation is of one; were it not, that is no reason to stop */
    alarm->acted = true;
    if (alarm->heard_ms == TIME_NONE) /* E197: who acts has heard it */
        hear(alarm, at_ms, entry->who);
}

static void
shelve_place(struct engine *engine, struct engine_output *out, int64_t at_ms,
             const struct entry *entry)
{
    struct engine_state *state = &engine->state;
    const struct place_shelf *found = place_shelf_find(engine, entry->place);
    if (entry->end && found) {
        place_shelf_ends(engine, out, at_ms, (size_t)(found - state->shelves), REASON_ENTERED);
        return;
    }
    if (entry->end || found || state->counts.shelves == PLAN_PLACES_MAX)
        return;
    struct place_shelf *shelf = &state->shelves[state->counts.shelves++];
    keep_word(shelf->place, sizeof shelf->place, entry->place);
    shelf_fill(&shelf->shelf, at_ms, entry);
    for (size_t i = 0; i < state->counts.alarms; i++)
        if (is_shelved(engine, &state->alarms[i]))
            state->alarms[i].sounds = state->alarms[i].again = false;
}

void
alarm_shelve(struct engine *engine, struct engine_output *out, int64_t at_ms,
             const struct entry *entry)
{
    struct alarm_state *alarm = alarm_of(engine, entry->deviation);
    if (entry->place[0]) {
        shelve_place(engine, out, at_ms, entry);
    } else if (alarm && entry->end && alarm->shelf.until_ms != TIME_NONE) {
        shelf_ends(engine, out, at_ms, alarm, REASON_ENTERED);
        alarm->again = true;
    } else if (alarm && !entry->end) {
        shelf_fill(&alarm->shelf, at_ms, entry);
        alarm->sounds = alarm->again = false;
    }
}

/* ---- what is shown ---- */

static struct engine_shelf
view_shelf(const struct shelf *shelf)
{
    struct engine_shelf view = {.from_ms = shelf->from_ms, .until_ms = shelf->until_ms};
    memcpy(view.by, shelf->by, sizeof view.by);
    memcpy(view.reason, shelf->reason, sizeof view.reason);
    return view;
}

struct engine_shelf
engine_place_shelf(const struct engine *engine, const char *place)
{
    const struct place_shelf *found = place_shelf_find(engine, place);
    return found ? view_shelf(&found->shelf)
                 : (struct engine_shelf){.from_ms = TIME_NONE, .until_ms = TIME_NONE};
}

/* Of those that go on the one highest up, the oldest of several; of none the oldest of all. */
static uint32_t
cause_of(const struct engine *engine, const struct alarm_state *alarm)
{
    const struct deviation_state *cause = next_of(engine, alarm, NULL);
    bool goes_on = cause && cause->ended_ms == TIME_NONE;
    for (const struct deviation_state *d = cause; d; d = next_of(engine, alarm, d)) {
        if (d->ended_ms != TIME_NONE)
            continue;
        if (!goes_on || cause_rank(&d->opened) > cause_rank(&cause->opened))
            cause = d;
        goes_on = true;
    }
    return cause ? cause->number : alarm->number;
}

size_t
engine_view_alarms(const struct engine *engine, struct engine_alarm_view *ret, size_t max)
{
    size_t count = 0;
    for (; count < engine->state.counts.alarms && count < max; count++) {
        const struct alarm_state *alarm = &engine->state.alarms[count];
        struct engine_alarm_view *view = &ret[count];
        *view = (struct engine_alarm_view){
            .number = alarm->number,
            .cause = cause_of(engine, alarm),
            .goes_on = alarm_goes_on(engine, alarm),
            .acted = alarm->acted,
            .sounds = alarm->sounds,
            .sounded_ms = alarm->sounded_ms,
            .heard_ms = alarm->heard_ms,
            .shelf = view_shelf(&alarm->shelf),
            .level_ms = alarm->level_ms,
        };
        memcpy(view->heard_by, alarm->heard_by, sizeof view->heard_by);
        for (uint8_t level = 1; level <= PLAN_LEVELS_MAX; level++)
            if (alarm->told_levels & 1u << (level - 1))
                view->level = level;
    }
    return count;
}
