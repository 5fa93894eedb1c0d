#include "tests/support/mark_rig.h"

#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

struct rig *
mark_rig(const char *life, const char *step, const char *place)
{
    rig_life = life;
    struct rig *rig = rig_new(step, place);
    rig_life = NULL;
    return rig;
}

void
mark_rig_feed(struct rig *rig, const char *at, const struct entry *entry)
{
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq};
    input.is.entry = entry;
    rig_feed(rig, &input);
}

void
mark_rig_day(struct rig *rig, const char *at, const char *which)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_DAY);
    (void)snprintf(entry.day, sizeof entry.day, "%s", which);
    mark_rig_feed(rig, at, &entry);
}

struct entry
mark_rig_beginning(void)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_BEGIN);
    memcpy(entry.who, "AB", 3);
    memcpy(entry.product, "dish", 5);
    return entry;
}

void
mark_rig_carry(struct rig *rig, const char *at, const char *place)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_MOVE);
    memcpy(entry.who, "AB", 3);
    entry.batch = 1;
    (void)snprintf(entry.place, sizeof entry.place, "%s", place);
    mark_rig_feed(rig, at, &entry);
}

struct engine_mark_view
mark_rig_stored(const struct rig *rig)
{
    struct engine_stored_view view;
    assert_int_equal(engine_view_stored(rig->engine, &view, 1), 1);
    return view.mark;
}
