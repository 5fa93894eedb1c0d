/* What the invented people of Harbour Lane Kitchen did in the two weeks before a demo: demo
 * data.
 *
 * Tables only. A day is given as days before the last one, a moment as minutes of the local
 * day. */
#ifndef KITCHEN_DIARY_H
#define KITCHEN_DIARY_H

#include <stddef.h>
#include <stdint.h>

#include "trivet/entry.h"

/* What is done with hands; entries are in words beside it. */
enum diary_act {
    ACT_NONE,
    ACT_OVEN_ON,
    ACT_OVEN_OFF,
    ACT_ROAST_IN,   /* from the fridge */
    ACT_ROAST_REST, /* out of the oven, its probes still in it */
    ACT_ROAST_SERVE,
    ACT_ROAST_OUT,  /* its probes are free */
    ACT_FILLING_IN, /* hot, into the chiller */
    ACT_WALK_IN_OPEN,
    ACT_WALK_IN_SHUT,
    ACT_CHILLER_WARM, /* its thermostat knocked to a warmer setting */
    ACT_CHILLER_RIGHT,
    ACT_PROBE_OUT, /* the counter fridge's plug pulled out */
    ACT_PROBE_IN,
};

enum diary_dish { DISH_NONE, DISH_ROAST, DISH_FILLING, DISH_STEAK, DISH_COUNT };

struct happening {
    int16_t minute;
    enum diary_act act;
    enum entry_kind kind; /* ENTRY_NONE: nothing is entered */
    enum diary_dish dish; /* whose batch the entry is about */
    /* The entry as on the control socket. Its "batch" and "deviation" stand for the running one
     * of the dish and the newest deviation that waits for such an entry; its "temp_mC" for what
     * the thermometer shows, its "day" for the day before. */
    const char *words;
};

#define DIARY_EVERY_DAY (-1)

/* Happenings that belong together: all of them, or none when they do not fit into the history.
 */
struct episode {
    int16_t day;         /* days before the last; or DIARY_EVERY_DAY */
    int16_t except, nor; /* of every day not these */
    const struct happening *list;
    size_t count;
};

extern const struct episode diary[];
extern const size_t diary_count;

#endif
