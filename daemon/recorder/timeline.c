/* See the header. Pure arithmetic; the recorder's thread owns the one instance. */
#include "daemon/recorder/timeline.h"

#include <assert.h>
#include <string.h>

#include "trivet/units.h"

/* Smaller differences are drift that a time service corrects by slewing; they are not worth a
 * record each. */
#define STEP_MIN_MS 2000

void
timeline_start(struct timeline *line, int64_t last_ms, int64_t wall_ms, int64_t mono_ms)
{
    memset(line, 0, sizeof *line);
    bool behind = last_ms != TIME_NONE && wall_ms <= last_ms;
    line->base_at_ms = behind ? last_ms + 1 : wall_ms;
    line->base_mono_ms = mono_ms;
    line->last_ms = line->base_at_ms - 1;
    line->offset_ms = behind ? wall_ms - line->base_at_ms : 0;
    line->trusted = !behind;
}

int64_t
timeline_at(const struct timeline *line, int64_t mono_ms)
{
    return line->base_at_ms + (mono_ms - line->base_mono_ms);
}

int64_t
timeline_reading(struct timeline *line, int64_t born_mono_ms, uint16_t probe)
{
    int64_t at_ms = timeline_at(line, born_mono_ms);
    int64_t earliest_ms = line->last_ms;
    if (line->last_was_tick || line->last_probe >= probe)
        earliest_ms++;
    if (at_ms < earliest_ms)
        at_ms = earliest_ms;
    line->last_ms = at_ms;
    line->last_probe = probe;
    line->last_was_tick = false;
    return at_ms;
}

int64_t
timeline_record(struct timeline *line, int64_t born_mono_ms)
{
    int64_t at_ms = timeline_at(line, born_mono_ms);
    int64_t earliest_ms = line->last_ms;
    if (line->last_was_tick || line->last_probe != 0)
        earliest_ms++;
    if (at_ms < earliest_ms)
        at_ms = earliest_ms;
    line->last_ms = at_ms;
    line->last_probe = 0;
    line->last_was_tick = false;
    return at_ms;
}

void
timeline_tick(struct timeline *line, int64_t due_ms)
{
    assert(due_ms >= line->last_ms);
    line->last_ms = due_ms;
    line->last_probe = 0;
    line->last_was_tick = true;
}

int64_t
timeline_close(struct timeline *line)
{
    line->last_was_tick = true;
    return line->last_ms;
}

bool
timeline_wall_stepped(struct timeline *line, int64_t wall_ms, int64_t mono_ms)
{
    int64_t offset_ms = wall_ms - timeline_at(line, mono_ms);
    int64_t change_ms = offset_ms - line->offset_ms;
    if (change_ms > -STEP_MIN_MS && change_ms < STEP_MIN_MS)
        return false;
    line->offset_ms = offset_ms;
    return true;
}
