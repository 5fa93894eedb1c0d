/* Alarms: what people are told of one cause, who has heard it, what is shelved (E197 to E204).
 * Nothing here is judged by. PURE, as trivet/engine.h. */
#ifndef TRIVET_ENGINE_ALARM_H
#define TRIVET_ENGINE_ALARM_H

#include "trivet/engine.h"

#define ENGINE_ALARMS_MAX ENGINE_DEVIATIONS_MAX

/* Not told until a time, as a person said. */
struct engine_shelf {
    int64_t from_ms, until_ms; /* TIME_NONE when it is not shelved */
    char by[PLAN_INITIALS_MAX + 1];
    char reason[PLAN_NAME_MAX + 1];
};

struct engine_alarm_view {
    uint32_t number;    /* that of its first deviation; its others name it */
    uint32_t cause;     /* the deviation of it that the others follow from */
    bool goes_on;       /* one of its deviations does */
    bool acted;         /* a corrective action is on record since the last of them came */
    bool sounds;        /* told, and nobody has said that it was heard */
    int64_t sounded_ms; /* since when it sounds, or last did; TIME_NONE = never told */
    int64_t heard_ms;   /* TIME_NONE: nobody since it last sounded */
    char heard_by[PLAN_INITIALS_MAX + 1];
    struct engine_shelf shelf; /* its own; that of a place: engine_place_shelf */
    uint8_t level;             /* highest level of the escalation that was told, 0 = none */
    int64_t level_ms;          /* when; TIME_NONE */
};

/* In order of their numbers. */
size_t engine_view_alarms(const struct engine *engine, struct engine_alarm_view *ret,
                          size_t max);

/* Whether what the place opens is told; by its id. */
struct engine_shelf engine_place_shelf(const struct engine *engine, const char *place);

#endif
