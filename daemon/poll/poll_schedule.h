/* What a bus thread does next: pure decisions over a clock that is handed in.
 *
 * One slot per request. A slot comes due every period, counted from the start and never from
 * when it was served, so that nothing drifts; what was missed is skipped, and what was late is
 * not due again before its device's rest (apart_ms) is over. A slot that is due is
 * either read, or held: not read because its unit does not answer or the line is gone, while
 * its probes still get bad readings. A unit that fails is asked again after 1, 2, 4, ... at
 * most 30 s; a line that is gone is opened again after the same waits. No I/O, no clock, no
 * thread. */
#ifndef POLL_POLL_SCHEDULE_H
#define POLL_POLL_SCHEDULE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/probe_driver.h"

#define POLL_RETRY_FIRST_MS 1000
#define POLL_RETRY_MOST_MS  30000

enum poll_what {
    POLL_WAIT, /* until due_ms: nothing to do before */
    POLL_OPEN, /* open the line, then poll_schedule_opened */
    POLL_READ, /* read the slot, then poll_schedule_done or poll_schedule_lost */
    POLL_HOLD, /* post bad readings of the slot with the cause; nothing to report back */
};

struct poll_next {
    enum poll_what what;
    uint16_t slot;
    uint16_t cause;
    int64_t due_ms;
};

struct poll_slot {
    int64_t due_ms;
    int64_t named_ms; /* its last turn; TIME_NONE */
    int64_t retry_ms; /* not read before; TIME_NONE */
    int64_t free_ms;  /* not due before: the request's apart_ms since its end; TIME_NONE */
    int32_t every_ms, apart_ms;
    uint16_t cause; /* of the last failure */
    uint8_t unit;
    uint8_t failures; /* in a row, saturating */
};

struct poll_unit {
    int64_t retry_ms; /* TIME_NONE */
    uint8_t failures; /* in a row, of whatever slot, saturating */
};

struct poll_schedule {
    struct poll_slot *slots; /* borrowed storage */
    size_t count;
    struct poll_unit units[256];
    bool open;
    int64_t open_ms; /* not opened before */
    uint8_t losses;  /* since the last exchange, saturating */
};

/* All slots are due at now_ms. slots has room for count and is borrowed. */
void poll_schedule_init(struct poll_schedule *schedule, struct poll_slot *slots,
                        const struct driver_request *requests, size_t count, int64_t now_ms);
/* Decides, and moves the due time of a slot that it names. */
struct poll_next poll_schedule_next(struct poll_schedule *schedule, int64_t now_ms);
/* The outcome of POLL_OPEN. */
void poll_schedule_opened(struct poll_schedule *schedule, bool done, int64_t now_ms);
/* The outcome of POLL_READ: READING_GOOD, or what was wrong with the exchange. */
void poll_schedule_done(struct poll_schedule *schedule, uint16_t slot, uint16_t quality,
                        int64_t now_ms);
/* The outcome of POLL_READ when the line itself is gone. */
void poll_schedule_lost(struct poll_schedule *schedule, int64_t now_ms);

#endif
