/* The records' own time line: at_ms, milliseconds that never go back and never jump while the
 * program runs.
 *
 * Set by the wall clock at start (never at or below the last stored instant), advanced by the
 * monotonic clock. Pure: the caller hands in what the clocks say. Also keeps the order that
 * replay depends on: see docs/storage.md. */
#ifndef RECORDER_TIMELINE_H
#define RECORDER_TIMELINE_H

#include <stdbool.h>
#include <stdint.h>

struct timeline {
    int64_t base_at_ms, base_mono_ms;
    int64_t last_ms;     /* of the last input or decision */
    uint16_t last_probe; /* of the last input when it was a reading, else 0 */
    bool last_was_tick;  /* nothing may share a tick's instant after it */
    int64_t offset_ms;   /* shown time = at_ms + offset_ms */
    bool trusted;
};

/* last_ms is TIME_NONE for an empty store. When the wall clock is behind it (a machine that
 * booted without a clock), time goes on one millisecond after it, the offset says by how much
 * the wall differs, and the clock is not trusted. */
void timeline_start(struct timeline *line, int64_t last_ms, int64_t wall_ms, int64_t mono_ms);

/* The instant of a monotonic moment, before any ordering. */
int64_t timeline_at(const struct timeline *line, int64_t mono_ms);

/* The instants that the next input gets when it was born at the monotonic moment; each call
 * counts as that input. */
int64_t timeline_reading(struct timeline *line, int64_t born_mono_ms, uint16_t probe);
int64_t timeline_record(struct timeline *line, int64_t born_mono_ms);
/* A tick happens exactly at its due instant, which must not be before the last input. */
void timeline_tick(struct timeline *line, int64_t due_ms);

/* The instant a seal may end at: everything before is known, and whatever comes next is later.
 */
int64_t timeline_close(struct timeline *line);

/* Compares both clocks; true when the wall clock has stepped by at least two seconds against
 * what is shown, and takes the new offset. */
bool timeline_wall_stepped(struct timeline *line, int64_t wall_ms, int64_t mono_ms);

#endif
