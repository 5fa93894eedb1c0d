/* See poll_schedule.h. */
#include "daemon/poll/poll_schedule.h"

#include <assert.h>
#include <string.h>

#include "trivet/reading.h"
#include "trivet/units.h"

/* A unit that failed this often in a row, whatever it was asked, was away altogether: when it
 * is back, all its slots are. */
#define UNIT_AWAY_FAILURES 3

static int64_t
retry_after_ms(uint8_t failures)
{
    assert(failures > 0);
    if (failures > 5)
        return POLL_RETRY_MOST_MS;
    return (int64_t)POLL_RETRY_FIRST_MS << (failures - 1);
}

static uint8_t
one_more(uint8_t count)
{
    return count < UINT8_MAX ? (uint8_t)(count + 1) : count;
}

void
poll_schedule_init(struct poll_schedule *schedule, struct poll_slot *slots,
                   const struct driver_request *requests, size_t count, int64_t now_ms)
{
    memset(schedule, 0, sizeof *schedule);
    schedule->slots = slots;
    schedule->count = count;
    schedule->open_ms = now_ms;
    for (size_t i = 0; i < sizeof schedule->units / sizeof *schedule->units; i++)
        schedule->units[i].retry_ms = TIME_NONE;
    for (size_t i = 0; i < count; i++) {
        assert(requests[i].every_ms > 0);
        slots[i] = (struct poll_slot){
            .due_ms = now_ms,
            .named_ms = TIME_NONE,
            .retry_ms = TIME_NONE,
            .free_ms = TIME_NONE,
            .every_ms = requests[i].every_ms,
            .apart_ms = requests[i].apart_ms,
            .cause = BAD_LINK,
            .unit = requests[i].unit,
        };
    }
}

static int64_t
due_of(const struct poll_slot *slot)
{
    return slot->due_ms > slot->free_ms ? slot->due_ms : slot->free_ms;
}

static bool
before(const struct poll_slot *a, const struct poll_slot *b)
{
    return due_of(a) != due_of(b) ? due_of(a) < due_of(b) : a->named_ms < b->named_ms;
}

/* The slot that has been due longest; of several the one that had its turn longest ago. count
 * when there is none. */
static size_t
first_slot(const struct poll_schedule *schedule)
{
    size_t first = schedule->count;
    for (size_t i = 0; i < schedule->count; i++)
        if (first == schedule->count || before(&schedule->slots[i], &schedule->slots[first]))
            first = i;
    return first;
}

/* To the next multiple of the period that lies ahead: what was missed stays missed. */
static void
move_due(struct poll_slot *slot, int64_t now_ms)
{
    const int64_t behind_ms = now_ms - slot->due_ms;
    slot->due_ms += (behind_ms / slot->every_ms + 1) * slot->every_ms;
    slot->named_ms = now_ms;
}

static bool
held(const struct poll_schedule *schedule, const struct poll_slot *slot, int64_t now_ms)
{
    return slot->retry_ms > now_ms || schedule->units[slot->unit].retry_ms > now_ms;
}

struct poll_next
poll_schedule_next(struct poll_schedule *schedule, int64_t now_ms)
{
    const size_t first = first_slot(schedule);
    const bool due = first < schedule->count && due_of(&schedule->slots[first]) <= now_ms;
    if (!schedule->open && schedule->open_ms <= now_ms)
        return (struct poll_next){.what = POLL_OPEN, .due_ms = now_ms};
    if (!due) {
        int64_t wake_ms =
            first < schedule->count ? due_of(&schedule->slots[first]) : TIME_NEVER;
        if (!schedule->open && schedule->open_ms < wake_ms)
            wake_ms = schedule->open_ms;
        return (struct poll_next){.what = POLL_WAIT, .due_ms = wake_ms};
    }
    struct poll_slot *slot = &schedule->slots[first];
    struct poll_next next = {
        .what = POLL_READ, .slot = (uint16_t)first, .due_ms = due_of(slot)};
    move_due(slot, now_ms);
    if (!schedule->open) {
        next.what = POLL_HOLD;
        next.cause = BAD_LINK;
    } else if (held(schedule, slot, now_ms)) {
        next.what = POLL_HOLD;
        next.cause = slot->cause;
    }
    return next;
}

static void
lost(struct poll_schedule *schedule, int64_t now_ms)
{
    schedule->open = false;
    schedule->losses = one_more(schedule->losses);
    schedule->open_ms = now_ms + retry_after_ms(schedule->losses);
}

void
poll_schedule_opened(struct poll_schedule *schedule, bool done, int64_t now_ms)
{
    assert(!schedule->open);
    if (done)
        schedule->open = true;
    else
        lost(schedule, now_ms);
}

void
poll_schedule_lost(struct poll_schedule *schedule, int64_t now_ms)
{
    assert(schedule->open);
    lost(schedule, now_ms);
}

/* An exception costs no time and proves that the unit is there: it is asked again at its
 * period. */
static bool
costly(uint16_t quality)
{
    return quality != READING_GOOD && quality != BAD_EXCEPTION;
}

static void
unit_back(struct poll_schedule *schedule, uint8_t unit)
{
    for (size_t i = 0; i < schedule->count; i++)
        if (schedule->slots[i].unit == unit) {
            schedule->slots[i].retry_ms = TIME_NONE;
            schedule->slots[i].failures = 0;
        }
}

void
poll_schedule_done(struct poll_schedule *schedule, uint16_t slot_index, uint16_t quality,
                   int64_t now_ms)
{
    assert(slot_index < schedule->count && schedule->open);
    struct poll_slot *slot = &schedule->slots[slot_index];
    struct poll_unit *unit = &schedule->units[slot->unit];
    schedule->losses = 0;
    if (slot->apart_ms > 0)
        slot->free_ms = now_ms + slot->apart_ms;
    if (costly(quality)) {
        slot->failures = one_more(slot->failures);
        unit->failures = one_more(unit->failures);
        slot->retry_ms =
            now_ms +
            retry_after_ms(slot->failures > unit->failures ? slot->failures : unit->failures);
        unit->retry_ms = now_ms + retry_after_ms(unit->failures);
        /* The others of the unit are held for the same reason. */
        for (size_t i = 0; i < schedule->count; i++)
            if (schedule->slots[i].unit == slot->unit)
                schedule->slots[i].cause = quality;
        return;
    }
    if (unit->failures >= UNIT_AWAY_FAILURES)
        unit_back(schedule, slot->unit);
    slot->failures = 0;
    slot->retry_ms = TIME_NONE;
    unit->failures = 0;
    unit->retry_ms = TIME_NONE;
}
