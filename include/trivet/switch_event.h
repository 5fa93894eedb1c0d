/* What a switch did, as it is queued, judged and recorded: a door opened or closed, a button
 * was pressed or let go, or nobody knows any more. Plain data. */
#ifndef TRIVET_SWITCH_EVENT_H
#define TRIVET_SWITCH_EVENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/json_out.h"
#include "trivet/plan.h"

enum switch_state {
    SWITCH_UNKNOWN,
    SWITCH_RESTS,  /* closed, or not pressed */
    SWITCH_ACTIVE, /* open, or pressed */
};

struct switch_event {
    char id[PLAN_ID_MAX + 1];
    char place[PLAN_ID_MAX + 1];
    enum switch_kind kind;
    enum switch_state state;
    uint16_t cause; /* enum reading_quality, of SWITCH_UNKNOWN; else READING_GOOD */
};

/* "open", "closed"; "pressed", "released"; "unknown". */
const char *switch_state_word(enum switch_kind kind, enum switch_state state);

/* Its one stored form: the data object of a record of kind "switch". */
void switch_event_write(const struct switch_event *event, struct json_out *out);
/* False when json is no such object. */
bool switch_event_read(const char *json, size_t len, struct switch_event *ret);

#endif
