/* What the engine decides. Each decision becomes one record in the chain and is never
 * rewritten.
 *
 * Plain data: no pointers, so that it can be compared, queued and kept. */
#ifndef TRIVET_DECISION_H
#define TRIVET_DECISION_H

#include <stdbool.h>
#include <stdint.h>

#include "trivet/calendar.h"
#include "trivet/json_out.h"
#include "trivet/plan.h"
#include "trivet/units.h"

enum decision_kind {
    DECISION_STEP_BEGUN,
    DECISION_CLOCK_STARTED, /* a cooling clock: since_ms is the instant it counts from */
    DECISION_LIMIT_MET,     /* a whole limit, or one stage of it (stage) */
    DECISION_DEVIATION_OPENED,
    DECISION_DEVIATION_ENDED,
    DECISION_GAP_OPENED, /* a probe stopped giving good readings: since_ms is its last good one
                          */
    DECISION_GAP_ENDED,
    DECISION_SUSPECT_BEGUN, /* the probe's readings are suspect from at_ms on */
    DECISION_SUSPECT_ENDED,
    DECISION_INCONCLUSIVE, /* a limit that cannot be judged; a person decides with a reason */
    DECISION_RESOLVED,     /* a person decided it: accepted says which way */
    DECISION_BATCH_ENDED,
    DECISION_QUIET_BEGUN,      /* the place's limit is suspended: required_ms is for how long */
    DECISION_QUIET_ENDED,      /* it holds again: since_ms, found_ms */
    DECISION_CORRECTION_ENDED, /* a new plan reads the probe otherwise: its readings are taken
                                  as they come from at_ms on */
    DECISION_ASKED, /* hot food, and only a person can say of which batch or step: since_ms */
    DECISION_ANSWERED,       /* that question has its answer */
    DECISION_DOOR_LEFT_OPEN, /* a door is open for longer than required_ms, since since_ms */
    DECISION_DOOR_OVER, /* it no longer is, as far as anybody knows: found_ms is how long */
    DECISION_MARKED,    /* a push button was pressed: nothing is decided by it */
    DECISION_CORRECTION_WAITS,    /* of a step that began by itself, for a second person:
                                     since_ms is the instant said; TIME_NONE = withdrawn */
    DECISION_CORRECTION_DROPPED,  /* declined, or its step is over */
    DECISION_STEP_CORRECTED,      /* its clock counts from since_ms */
    DECISION_STEP_WITHDRAWN,      /* it did not begin after all */
    DECISION_DEVIATION_WITHDRAWN, /* by a correction there was none */
    DECISION_SHELF_ENDED,         /* a deviation's alarm, or a place's, is told again: since_ms,
                                     found_ms */
    DECISION_ALARM_RAISED,        /* an alarm whose cause is still there sounds again */
    DECISION_ESCALATED,     /* nobody has acted on an alarm, or heard it, for required_ms since
                               since_ms: level says who is told now */
    DECISION_MET_WITHDRAWN, /* a stage met by a probe on its way out of the food */
    DECISION_DATE_MARKED,   /* the last day on which food may be used: day */
};

/* The last kind and reason there are. */
#define DECISION_KIND_LAST DECISION_DATE_MARKED

/* Why. One vocabulary for all kinds; each kind uses a few. */
enum decision_reason {
    REASON_NONE,
    REASON_ENTERED,            /* a person said so */
    REASON_HELD,               /* at or above the limit for the required time */
    REASON_REACHED,            /* the stage's or limit's temperature was reached in time */
    REASON_HAND_READING,       /* a hand-held reading showed it */
    REASON_TOO_LATE,           /* a deadline passed and the limit was not shown to be met */
    REASON_OUT_TOO_LONG,       /* outside a holding limit for longer than its tolerance */
    REASON_LEFT_EARLY,         /* the step was left before its limit was met */
    REASON_NO_GOOD_READING,    /* a probe silent for too long */
    REASON_BACK_INSIDE,        /* the excursion ended */
    REASON_GOOD_AGAIN,         /* readings are back */
    REASON_FELL_THROUGH_START, /* the core fell through the start temperature of the cooling */
    REASON_COOKED_AT,    /* the cooling clock counts from the end of cooking a person gave */
    REASON_PROBE_LATE,   /* the probe was put in late or cold and nobody said when cooking ended
                          */
    REASON_OUTAGE,       /* Trivet did not run for part of the time the limit depends on */
    REASON_CORRECTED,    /* an entry it rested on was corrected */
    REASON_LEFT_FOOD,    /* a rise or fall that no food can make */
    REASON_BATCH_ENDED,  /* the batch was ended or the step left */
    REASON_SCHEDULED,    /* the plan says so */
    REASON_TIME_UP,      /* the time set for it is over */
    REASON_FAILED_CHECK, /* a thermometer was outside its tolerance when it was checked:
                            since_ms is its last good check, temp_mC what it showed, corrected
                            as it was, where it was furthest out, reference_mC what that was in
                            truth */
    REASON_GOOD_CHECK,   /* a check has found, or left, it within its tolerance */
    REASON_STUCK,        /* one value for longer than a working probe shows */
    REASON_PERIOD_LONG,  /* the one time outside that a batch may have lasted too long */
    REASON_OUT_AGAIN,    /* outside again after that one time */
    REASON_BY_ITSELF,    /* the plan lets the step begin by itself, and the probe showed it */
    REASON_AMBIGUOUS,    /* what the probe shows can be of more than one batch or step */
    REASON_DOOR_OPEN,    /* the plan says how long it may be open */
    REASON_DOOR_CLOSED,  /* it was closed */
    REASON_SWITCH_LOST,  /* the switch no longer says how it stands */
    REASON_PRESSED,      /* a push button was pressed */
    REASON_PULLED_OUT,   /* it came to the air of its place faster than food can */
    REASON_COLD_JUNCTION, /* a thermocouple, and the probe at its terminals is suspect */

    /* Of kinds of limits */
    REASON_BAD_START,     /* too warm, or not hot enough, when it left temperature control */
    REASON_ABOVE_CEILING, /* warmer than it may be for any time */
    REASON_SLOW_RISE,     /* too long between two temperatures while it was heated */
    REASON_STOOD,         /* it stood for the required time after reaching the temperature */

    /* Of an oven */
    REASON_NOT_PREHEATED, /* not hot enough as the food went in */
    REASON_NOT_MEASURED,  /* nobody measured it, or not all the time */

    REASON_DATE_PASSED, /* kept for longer than its days */

    REASON_CONFIRMED, /* a second person confirmed it */
    REASON_DECLINED,  /* a person declined it */

    /* Of alarms */
    REASON_JOINED,    /* a further deviation of the same cause */
    REASON_NOT_HEARD, /* nobody has said that the alarm was heard */
    REASON_NO_ACTION, /* nobody has recorded a corrective action */
};

#define DECISION_REASON_LAST REASON_NO_ACTION

struct decision {
    enum decision_kind kind;
    enum decision_reason reason;
    int64_t at_ms; /* instant of the deciding input */
    uint32_t
        deviation;  /* number, from 1; 0 = none. Gaps that last too long are deviations too */
    uint32_t batch; /* number, from 1; 0 = none */
    char place[PLAN_ID_MAX + 1]; /* "" = none */
    char step[PLAN_ID_MAX + 1];  /* "" = none */
    uint16_t probe;              /* stored number of the deciding probe; 0 = none */
    uint8_t stage;               /* of a cooling, from 1; 0 = none */
    enum limit_kind limit;       /* LIMIT_NONE when no limit is concerned */
    enum limit_subject subject;
    struct limit_temp
        required;        /* of that limit or stage; meaningful when limit != LIMIT_NONE */
    int64_t required_ms; /* hold time, tolerance, or time allowed; 0 = none */
    int32_t temp_mC;  /* found: the deciding reading; TEMP_NONE when there was none (a deadline,
                         a gap) */
    int32_t worst_mC; /* DEVIATION_ENDED: the worst reading; else TEMP_NONE */
    int64_t since_ms; /* when it began: first breaching reading, clock start, last good reading;
                         TIME_NONE */
    int64_t last_ms;  /* DEVIATION_ENDED: its last breaching reading; 0 = none (E237) */
    int64_t found_ms; /* found: time held, time outside, time taken; 0 = none */
    int32_t
        guard_mK; /* guarded acceptance: the band that is in `required`; 0 = simple (E170) */
    int32_t uncertainty_mK; /* expanded, of the thermometers that can serve the limit; 0 = not
                               said */
    bool accepted;          /* RESOLVED */
    char thermometer[PLAN_ID_MAX + 1]; /* a hand-held one that was checked; "" = none */
    char day[CALENDAR_DAY_MAX + 2];    /* the last day on which food may be used; "" = none */
    char contact[PLAN_ID_MAX + 1];     /* the door or button; "" = none */
    int32_t reference_mC; /* meaningful with REASON_FAILED_CHECK and a deviation that opens */
    bool unverified;      /* the limit's figures were not checked; the plan accepts that */
    uint32_t alarm;       /* opened or ended as part of that earlier deviation's alarm; 0 = its
                             own */
    bool silent;   /* opened or ended without an alarm of its own: part of one that sounds,
                      or shelved */
    uint8_t level; /* ESCALATED: from 1 */
};

/* Whether it opens or ends a deviation; a gap that lasts too long is one like the others. */
static inline bool
decision_opens(const struct decision *decision)
{
    return decision->deviation != 0 && (decision->kind == DECISION_DEVIATION_OPENED ||
                                        decision->kind == DECISION_GAP_OPENED);
}

static inline bool
decision_ends(const struct decision *decision)
{
    return decision->deviation != 0 &&
           (decision->kind == DECISION_DEVIATION_ENDED || decision->kind == DECISION_GAP_ENDED);
}

/* Whether people are told of it at once. */
static inline bool
decision_tells(const struct decision *decision)
{
    return ((decision_opens(decision) || decision_ends(decision)) && !decision->silent) ||
           decision->kind == DECISION_ALARM_RAISED || decision->kind == DECISION_ESCALATED;
}

const char *decision_kind_word(enum decision_kind kind); /* "step-begun", ... */
const char *decision_reason_word(enum decision_reason reason);
/* The reason for people; of an oven it says that it was the oven. */
const char *decision_phrase(const struct decision *decision);

/* Writes the decision as the canonical data object of its record (kind "decision"). Pure. Two
 * decisions are the same when these texts are. Needs at most 1024 bytes. */
void decision_write(const struct decision *decision, struct json_out *out, const char *key);

/* Reads it back (for the page, exports and the hook). False when json is not a decision. */
bool decision_read(const char *json, size_t len, struct decision *ret);

#endif
