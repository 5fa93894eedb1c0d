/* One light or relay as its bus thread keeps it: what its coil is to be now, when that has to
 * be written, and whether it can be relied on. Pure. */
#ifndef POLL_POLL_SIGNAL_H
#define POLL_POLL_SIGNAL_H

#include <stdbool.h>
#include <stdint.h>

#include "trivet/plan.h"

/* So many failures in a row are told: a single spoiled exchange is not. */
#define POLL_SIGNAL_FAILS 3
/* How soon a change is seen, and a failure tried again. */
#define POLL_SIGNAL_LOOK_MS 1000

struct poll_signal {
    int64_t written_ms; /* last written and read back; TIME_NONE */
    bool is_on;         /* as it was written then */
    bool faulty;        /* what is told of it */
    bool is_told;
    uint8_t failures; /* in a row, saturating */
    int64_t since_ms; /* of `faulty` */
    char trouble[240];
};

void poll_signal_init(struct poll_signal *of);
/* Whether the coil is to be written now, and to what; needed: there is something to tell. */
bool poll_signal_wants(const struct poll_signal *of, const struct plan_signal *plan,
                       bool needed, int64_t now_ms, bool *ret_on);
/* It was written and read back as it should be. */
void poll_signal_done(struct poll_signal *of, bool on, int64_t now_ms);
/* It was not: trouble says why. */
void poll_signal_failed(struct poll_signal *of, const char *trouble, int64_t now_ms);

#endif
