/* When a switch is believed: two readings in a row that agree, so that a contact that chatters,
 * or one odd reply, is no news. After three failures in a row nobody knows its state. Pure. */
#ifndef POLL_POLL_SWITCH_H
#define POLL_POLL_SWITCH_H

#include <stdbool.h>
#include <stdint.h>

#include "trivet/switch_event.h"

#define POLL_SWITCH_AGREE 2
#define POLL_SWITCH_FAILS 3

struct poll_switch {
    enum switch_state state; /* as believed */
    uint16_t cause;          /* of an unknown state: the last failure; 0 = not yet read */
    enum switch_state seen;  /* the last reading; SWITCH_UNKNOWN: a failure, or none */
    uint8_t in_row;          /* readings, or failures, in a row like it; saturating */
    bool is_told;            /* the state has been posted */
    int64_t since_ms;        /* monotonic, of the reading that made it believed */
};

/* All zero but told: what is not known yet is no news. */
void poll_switch_init(struct poll_switch *of);
/* Takes a reading, or a failure: SWITCH_UNKNOWN with its cause. */
void poll_switch_take(struct poll_switch *of, enum switch_state seen, uint16_t cause,
                      int64_t at_ms);

#endif
