/* Everything an engine knows between two inputs. Plain data: apart from the borrowed plans
 * there is no pointer in it, so that it can be saved as bytes (save.c). Only functions of this
 * room change it.
 *
 * Rules are numbered E1, E2, ... in docs/engine.md; the code cites them. */
#ifndef ENGINE_STATE_H
#define ENGINE_STATE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "trivet/calibration.h"
#include "trivet/engine.h"
#include "trivet/engine_alarm.h"

#define PROBE_SLOTS_MAX (PLAN_PROBES_MAX + ENGINE_BATCHES_MAX * ENTRY_PROBES_MAX)
#define PROBE_NUMBERS   65536
#define UNDECIDED_MAX   ENGINE_UNDECIDED_MAX
#define HANDS_MAX       128 /* hand readings remembered for a later correction (E70) */
#define DEPARTURES_MAX  64  /* batches that left a place, remembered for what comes to light */
#define DUE_LEAVES      ((size_t)2048)
/* What a plan can end at one stroke is bounded, so that it fits an output (E124, E125). */
#define CORRECTIONS_MAX   256
#define FAILED_CHECKS_MAX 64

/* Copies an id or initials into a fixed field, the rest of it zero, so that saved bytes are
 * determined. What comes in was checked to fit. */
static inline void
keep_word(char *to, size_t size, const char *word)
{
    size_t len = strnlen(word, size - 1);
    memset(to, 0, size);
    memcpy(to, word, len);
}

static inline int64_t
least_of(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static inline int64_t
most_of(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

/* Leaves of the tree of due instants: probes first, so that a gap is told before what it leads
 * to. */
#define DUE_PROBE 0
#define DUE_BATCH PROBE_SLOTS_MAX
#define DUE_PLACE (DUE_BATCH + ENGINE_BATCHES_MAX)

#define DUE_SWITCH (DUE_PLACE + PLAN_PLACES_MAX)

#define DUE_ALARM (DUE_SWITCH + PLAN_SWITCHES_MAX) /* one for all of them: alarms.c */

_Static_assert(DUE_ALARM < DUE_LEAVES, "the due tree has a leaf for everything");

/* How far a probe on a batch is believed (credible.c). */
enum trust { TRUST_GOOD, TRUST_LEFT, TRUST_ENTERING, TRUST_OUT };

/* A believed reading beside the air of its place (pulled.c). */
struct beside {
    int64_t at_ms; /* TIME_NONE = free */
    int32_t temp_mC, air_mC;
};

#define BESIDE_MAX 8

/* What is known of a thermometer from its checks (calibrate.c). */
struct check_state {
    int64_t checked_ms, good_ms; /* last check, and last that left it good; TIME_NONE */
    uint32_t deviation;          /* of a failed check, going on; 0 = none */
    bool left_bad;               /* the last check left it outside its tolerance */
    uint8_t pad[3];
    struct probe_correction correction;
};

/* A hand-held one. */
struct held_state {
    char id[PLAN_ID_MAX + 1];
    struct check_state check;
};

struct probe_state {
    uint16_t number; /* 0 = free slot */
    uint16_t batch;  /* slot + 1, 0 = none */
    int16_t first_place;
    uint8_t kind; /* enum probe_kind */
    bool in_plan;
    bool gap;
    uint8_t trust;
    bool left_rising;  /* LEFT: it left by a rise */
    bool entered_once; /* its one believed entry of this hand-over is used */
    uint32_t gap_deviation;
    struct reading last, last_good; /* as judged, corrected */
    int32_t last_raw_mC, last_good_raw_mC;
    struct check_state check;
    int64_t silent_from_ms; /* silence counts from here */
    int64_t handed_ms;      /* last hand-over: step begun or probe assigned */
    int64_t prev_ms;        /* last reading with a temperature since then, TIME_NONE */
    int64_t credible_ms;    /* last believed reading since then, TIME_NONE */
    int64_t settle_ms;      /* settling since, TIME_NONE */
    int32_t prev_mC, credible_mC;
    int32_t follow_mC;  /* follows the readings, no faster than food can change */
    int32_t extreme_mC; /* LEFT: furthest reading in the direction it left in */
    /* pulled.c */
    struct beside beside[BESIDE_MAX]; /* a ring, some time apart */
    uint32_t beside_next;
    int32_t out_mK; /* OUT: how far from the air it was, signed, before it left */
    /* doubt.c */
    int64_t same_ms;  /* since when it has shown same_mC, TIME_NONE */
    int64_t seen_ms;  /* last reading of that, while same_ms is set */
    int64_t apart_ms; /* on a batch: since when heat flows as well, TIME_NONE */
    int32_t same_mC;
    int32_t least_step_mC; /* smallest change it has shown, INT32_MAX = none yet */
    bool stuck;
    /* by_itself.c: as long as it is on no batch */
    bool cold_seen;     /* it has been at or below hot_start since it was last in food */
    bool asked;         /* hot food, and a person is asked which */
    bool hot_fallen;    /* that food has been at or below hot_start since */
    uint16_t hot_steps; /* steps that hot food on it would begin, by the plan in force */
    uint8_t pad[2];
    struct limit_temp hot_start; /* the highest of their starts */
    int32_t hot_mC;              /* last good reading */
    uint16_t terminals;          /* of a thermocouple: number of the probe there, 0 = none */
    bool doubted;                /* its last reading with a temperature was suspect */
    bool by_terminals;    /* suspect because the probe at its terminals is, and told so */
    int32_t idle_mC;      /* what it shows without food (coming.c) */
    int32_t level_mC;     /* steadily about this since level_ms */
    int64_t looked_ms;    /* last good reading */
    int64_t level_ms;     /* TIME_NONE */
    int64_t cold_ms;      /* last good reading that showed no food yet, TIME_NONE */
    int64_t hot_first_ms; /* the first above hot_start after it, TIME_NONE */
    int64_t hot_ms;       /* steadily hot since, TIME_NONE */
    int64_t hot_above_ms; /* hot food: last good reading above hot_start, TIME_NONE */
};

/* One probe as one limit sees it, since the limit's run began. */
struct watch {
    uint16_t probe; /* number */
    uint16_t slot;
    bool breach; /* hold: its last word was outside; cool: its last good reading was above the
                    start */
    bool pad[3];
    int64_t spacing_ms; /* largest spacing of two good readings that credits (E5) */
    int64_t good_ms;    /* last good reading, TIME_NONE */
    int64_t since_ms,
        last_ms; /* unbroken run of good readings that satisfy, TIME_NONE when broken */
    int32_t good_mC;
    int32_t pad2;
};

enum stage_state { STAGE_OPEN, STAGE_MET, STAGE_LATE, STAGE_UNKNOWN };

struct hold_state {
    int64_t first_ms;   /* first reading outside of the running excursion, TIME_NONE */
    int64_t counted_ms; /* time outside up to from_ms */
    int64_t from_ms;    /* outside since then, TIME_NONE while inside */
    int64_t unknown_ms; /* of an outage that began while outside (E62) */
    int64_t last_ms;    /* last reading outside of the running excursion */
    int64_t hand_in_ms; /* first of the hand readings inside where nothing else watches */
    int32_t worst_mC;
    uint16_t worst_probe;
    bool hand_outside; /* a hand reading was outside and nothing has shown otherwise since */
    bool unknown_told;
    uint8_t pad[4];
    /* Where a batch may be outside once (E140). */
    int64_t inside_ms[ENTRY_PROBES_MAX]; /* each probe's last good reading inside, 0 */
    int64_t hand_inside_ms;              /* likewise by hand */
    int64_t stopped_ms; /* while not outside: back inside since then, not yet for good;
                           TIME_NONE */
    int64_t unseen_ms;  /* last seen inside before the running excursion */
};

/* The one time that a batch may be outside a holding limit (E140). */
struct period_state {
    int64_t from_ms; /* since when, TIME_NONE = it has not been outside */
    bool over;       /* it has come back */
    uint8_t pad[7];
};

struct cool_state {
    int64_t above_ms; /* last good reading above the start temperature, TIME_NONE */
    int64_t clock_ms; /* TIME_NONE until it runs */
    bool dark_clock;  /* it runs because the probe went dark above the start (E33) */
    bool late_told;
    uint8_t stage[PLAN_STAGES_MAX]; /* enum stage_state */
    uint16_t pad[3];
    uint32_t whole_deviation; /* of a cooling whose clock nobody knows (E34) */
    uint32_t deviation[PLAN_STAGES_MAX];
    int64_t reached_ms[PLAN_STAGES_MAX]; /* before the clock runs: at or below since then */
    int32_t reached_mC[PLAN_STAGES_MAX];
    int64_t shown_ms[PLAN_STAGES_MAX]; /* first reading at or below it, TIME_NONE (E179) */
    int32_t shown_mC[PLAN_STAGES_MAX];
    int64_t passed_ms[PLAN_STAGES_MAX]; /* since when the time of the next stage counts (E90) */
    int64_t judged_ms;                  /* last time all of the food was seen, TIME_NONE */
    int64_t entered_ms;                 /* cooling began no later (E92, E242) */
    bool delay_known;                   /* a person said when cooking ended (E92, E243) */
    bool delay_late;                    /* and that was too long before */
    uint8_t pad2[6];
};

/* Cooking and reheating to one temperature. */
struct cook_state {
    int64_t cold_ms[ENTRY_PROBES_MAX]; /* E150: each probe's last reading not above rise_from,
                                          0 */
    bool risen;                        /* one of them has been above it */
    bool by_hand;                      /* reached_ms rests on a hand reading */
    uint16_t reached_probe;
    int32_t reached_mC;
    int64_t reached_ms; /* E152: it stands since then; TIME_NONE */
    int64_t held_ms, held_since_ms;
    uint64_t reached_seq; /* of the hand reading */
    uint64_t
        side_seq[2]; /* of a surface: the hand reading that showed the top, the bottom; 0 */
};

/* Without temperature control. */
struct time_state {
    int64_t from_ms;              /* it left temperature control (E145) */
    bool shown[ENTRY_PROBES_MAX]; /* each probe has shown it cold or hot enough since */
    bool by_hand;                 /* likewise a hand reading */
    bool judged; /* how it left is judged already: it is a question, or an earlier step's */
};

/* Where food is seen between, or outside of, two temperatures. START: nothing has been seen
 * since the beginning, or the restart. */
enum zone_side { SIDE_UNSEEN, SIDE_START, SIDE_COLD, SIDE_HOT, SIDE_IN };

/* Time between two temperatures. */
struct zone_state {
    int64_t at_ms;      /* counted up to here */
    int64_t in_ms;      /* of that certainly in between */
    int64_t unknown_ms; /* of that unseen */
    int64_t dark_ms;    /* a probe was unseen up to here, TIME_NONE */
    int64_t first_ms;   /* first reading in between, TIME_NONE */
    int64_t in_last_ms; /* last reading in between, 0 */
    int64_t hand_ms;
    int64_t seen_ms[ENTRY_PROBES_MAX]; /* each probe's last good reading, TIME_NONE */
    uint8_t side[ENTRY_PROBES_MAX];    /* enum zone_side of its last reading that counts */
    uint8_t last;                      /* enum zone_side of all of them at at_ms */
    bool hand_in;    /* in between by a hand reading of hand_ms, or before the probes changed */
    bool asked;      /* what is unseen is a question */
    bool nearer_hot; /* it came in from the hot side */
    uint16_t in_probe;
    uint16_t pad;
    int32_t in_mC; /* last reading in between, TEMP_NONE */
    uint32_t pad2;
};

/* Heating by a table: unbroken runs per probe and row. */
struct table_state {
    int64_t last_ms[ENTRY_PROBES_MAX];                 /* last good reading, TIME_NONE */
    int64_t since_ms[ENTRY_PROBES_MAX][PLAN_ROWS_MAX]; /* TIME_NONE when broken */
};

/* A table added up, per probe. */
struct sum_state {
    int64_t
        last_ms[ENTRY_PROBES_MAX]; /* last good reading that the next one adds to, TIME_NONE */
    int64_t spent_ms[ENTRY_PROBES_MAX]
                    [PLAN_ROWS_MAX];    /* with that row as the hottest reached */
    uint8_t last_row[ENTRY_PROBES_MAX]; /* that reading's row + 1, 0 = none */
    bool done[ENTRY_PROBES_MAX];        /* it has reached a row of 0 s */
};

/* Equivalent time earned, per probe. */
struct lethality_state {
    int64_t
        last_ms[ENTRY_PROBES_MAX]; /* last good reading that the next one adds to, TIME_NONE */
    int64_t last_rate[ENTRY_PROBES_MAX];
    int64_t earned[ENTRY_PROBES_MAX]; /* ms times LETHAL_ONE */
};

/* The oven that a batch is in. */
struct oven_state {
    int64_t out_ms;     /* outside since then, TIME_NONE */
    int64_t over_ms;    /* nothing is asked of it any more (E223), TIME_NONE */
    int64_t seen_ms;    /* last good reading, TIME_NONE */
    int64_t warm_ms;    /* last seen hot enough before the food went in, TIME_NONE */
    int32_t extreme_mC; /* its reading nearest to the limit, or furthest outside; TEMP_NONE */
    uint16_t extreme_probe;
    bool watched; /* a probe measures it */
    bool unseen;  /* it was not seen for longer than it may be outside */
    bool awaited; /* it was not seen as the food went in */
    uint8_t pad[7];
};

/* What is known for a cooling to come that begins by itself (by_itself.c). */
struct fall_state {
    int64_t above_ms; /* last good reading above its start, TIME_NONE */
    int64_t below_ms; /* since when no probe was above it when last seen, TIME_NONE */
    bool hot;         /* it has been clearly above */
    bool asked;       /* a person is asked whether it is cooling */
    uint8_t pad[6];
};

/* One limit being judged: of a batch's running step, or of a place. */
struct run {
    uint32_t serial;    /* tells the runs of one batch apart */
    uint32_t deviation; /* last one opened and still going on, 0 = none */
    int64_t begun_ms;
    int64_t outage_from_ms, outage_to_ms; /* the last outage within it, 0 */
    int64_t outage_ms;                    /* all outages within it */
    uint8_t verdict;                      /* enum engine_verdict */
    bool deviated;                        /* it has had a deviation */
    bool deadline_gone;                   /* cook, reheat: its deadline has been judged */
    uint8_t watch_count;
    uint32_t pad;
    struct fall_state fall;
    struct watch watch[ENTRY_PROBES_MAX];
    union {
        struct hold_state hold;
        struct cook_state cook;
        struct time_state time;
        struct zone_state zone;
        struct cool_state cool;
        struct table_state table;
        struct lethality_state lethality;
        struct sum_state sum;
        struct oven_state oven;
    } of;
};

/* A correction that waits for a second person (amend.c). */
struct amend_state {
    uint64_t seq;     /* its record, 0 = none */
    int64_t given_ms; /* the clock's instant; TIME_NONE: the step is to be withdrawn */
    char who[PLAN_INITIALS_MAX + 1];
};

/* The days that food may be kept (marks.c). Days are numbers of trivet/calendar.h, 0 = none. */
struct mark_state {
    int32_t days;    /* 0 = it has no date */
    int32_t counted; /* last day that counts */
    int32_t used;    /* so many days count, that one included */
    int32_t made, use_by;
    bool first_next, unverified;
    bool waits;   /* the count begins with a later step */
    bool awaited; /* it has begun, and no day has been heard of */
    bool frozen;
    bool passed;  /* its deviation has been opened */
    bool doubted; /* its freezer was in deviation as an outage began, since today (E230) */
    uint8_t pad;
    uint32_t deviation;
    int32_t unseen; /* frozen: days before today of which none was heard and none counts yet */
    uint32_t pad2;
};

/* What a corrective action says that food must not become any more (E238). */
struct bar_state {
    uint32_t deviation;  /* the one it was recorded on; 0 = none, or several */
    uint8_t disposition; /* enum disposition: discard, hold, or none */
    uint8_t pad[3];
};

struct batch_state {
    uint32_t number;  /* 0 = free slot */
    uint16_t product; /* index in its plan */
    uint8_t plan;     /* index of the plan it began under */
    uint8_t step;     /* index in its product */
    uint32_t serial;  /* of the last run */
    int32_t mass_g, thickness_mm;
    bool reheated, cooled;               /* it has been in such a step (E194) */
    bool cooled_before;                  /* before the running step, likewise */
    bool begun_by_itself;                /* the batch; else, where auto_seq is set, the step */
    uint8_t step_before, verdict_before; /* of the step that the running one came after */
    uint8_t pad[2];
    struct bar_state bar;
    uint64_t auto_seq; /* record with which the running step began by itself, 0 = by a person */
    struct amend_state amend;
    int64_t begun_ms;
    int64_t heard_ms; /* a person has heard the warning about it (E205); 0 = nobody */
    char heard_by[PLAN_INITIALS_MAX + 1];
    char who[PLAN_INITIALS_MAX + 1];
    char place[PLAN_ID_MAX + 1];
    struct period_state colder, warmer; /* outside hot and cold holding */
    int64_t out_since_ms; /* the step just left was outside its holding limit, TIME_NONE */
    int64_t left_ms;      /* it left temperature control for good (E145), TIME_NONE */
    int64_t heated_ms;    /* it left its last heating step (E243), TIME_NONE */
    struct run run;
    struct run life, rise, oven; /* beside it: see beside.h */
    struct mark_state mark;
};

/* The warmest good reading of a place in one minute, so that an oven can be known to have been
 * hot before its door was opened (E220). */
struct warm_minute {
    int64_t minute, at_ms; /* at_ms TIME_NONE = none */
    int32_t temp_mC;
    int32_t pad;
};

#define WARM_MINUTES 16 /* one more than the longest oven_recovery */

struct place_state {
    char id[PLAN_ID_MAX + 1];
    struct warm_minute warm[WARM_MINUTES]; /* a ring */
    uint16_t probe;                        /* number, 0 = none */
    int16_t next_place;                    /* the next place that the same probe watches, -1 */
    uint32_t quiet_why;                    /* enum quiet_why */
    int64_t quiet_from_ms, quiet_until_ms; /* its limit is suspended (E110), TIME_NONE */
    struct run run;
};

/* A door or button of the plan in force (switches.c). */
struct switch_known {
    char id[PLAN_ID_MAX + 1];
    char place[PLAN_ID_MAX + 1];
    uint8_t kind;  /* enum switch_kind */
    uint8_t state; /* enum switch_state */
    bool told;     /* a door: it has been open for too long (E211) */
    uint8_t pad[5];
    int64_t since_ms; /* of the state, TIME_NONE */
    int64_t mark_ms;  /* a button's last mark, TIME_NONE */
};

struct deviation_state {
    struct decision opened;
    uint32_t number;
    char action_by[PLAN_INITIALS_MAX + 1];
    bool food_more; /* there was more food than is listed */
    uint8_t pad[7];
    uint32_t alarm;    /* the number of its alarm (E198); 0 for a moment only */
    int64_t ended_ms;  /* TIME_NONE while it goes on */
    int64_t action_ms; /* TIME_NONE while there is none */
    uint64_t action_seq, verified_seq;
    char product[PLAN_ID_MAX + 1]; /* of its own batch, "" = none */
    uint32_t food_count;
    uint32_t food[ENGINE_AFFECTED_MAX]; /* numbers of the batches it concerns */
};

/* A person keeps an alarm quiet for a while (E202). */
struct shelf {
    int64_t from_ms, until_ms; /* TIME_NONE when it is not shelved */
    char by[PLAN_INITIALS_MAX + 1];
    char reason[PLAN_NAME_MAX + 8]; /* the rest is padding */
};

struct place_shelf {
    char place[PLAN_ID_MAX + 1];
    struct shelf shelf;
};

/* What people are told of one cause (alarms.c). */
struct alarm_state {
    uint32_t number;     /* that of its first deviation */
    bool sounds;         /* told, and nobody has said that it was heard */
    bool acted;          /* a corrective action is on record since the last deviation came */
    bool again;          /* told again at the next tick, if its cause is still there */
    uint8_t told_levels; /* bits: levels of the plan's escalation */
    int64_t open_ms;     /* since when somebody should act */
    int64_t sounded_ms;  /* since when it sounds, or last did; TIME_NONE = never */
    int64_t told_ms;     /* last told; likewise */
    int64_t heard_ms, level_ms; /* TIME_NONE */
    char heard_by[PLAN_INITIALS_MAX + 1];
    struct shelf shelf;
};

/* A batch that has ended and is kept somewhere. */
struct stored_state {
    uint32_t number;
    bool no_reheat, no_cool; /* it may not have that again (E194) */
    bool pad[2];
    struct bar_state bar;
    int64_t stored_ms;
    char place[PLAN_ID_MAX + 1];
    char product[PLAN_ID_MAX + 1];
    struct mark_state mark;
};

/* A business day whose records were reviewed. */
struct review_state {
    char day[ENTRY_DAY_MAX + 2];
};

/* A batch left a place. */
struct departure {
    uint32_t batch;
    uint32_t pad;
    int64_t left_ms;
    char place[PLAN_ID_MAX + 1];
};

/* A verdict that waits for a person. The batch may have moved on or ended since. */
struct undecided {
    struct decision said;
    uint32_t serial; /* of the run */
    uint32_t pad;
};

struct hand_state {
    uint64_t seq;
    uint32_t batch, serial;
    struct decision met; /* the limit or stage that rests on it, when rests */
    bool strict;
    bool rests; /* met is set */
    uint8_t pad[6];
};

struct plan_use {
    uint64_t seq; /* 0 = free */
};

/* Counts of what is in use; saved first. */
struct engine_counts {
    uint32_t probes; /* one more than the highest slot in use; likewise batches */
    uint32_t batches, places, deviations, undecided, hands, held, stored, departures, reviews,
        switches;
    uint32_t alarms, shelves;
};

struct engine_state {
    int64_t now_ms;                       /* of the last input, TIME_NONE */
    int64_t first_ms;                     /* of the first, TIME_NONE */
    int64_t outage_from_ms, outage_to_ms; /* the last outage, TIME_NONE */
    uint32_t next_batch, next_deviation;
    int32_t in_force;   /* plan index, -1 before the first */
    int32_t today;      /* the business day, by the last that was heard of; 0 = none */
    uint32_t hand_next; /* ring position; likewise those that follow */
    uint32_t departure_next, review_next;
    struct engine_counts counts;
    struct plan_use plans[ENGINE_PLANS_MAX];
    struct probe_state probes[PROBE_SLOTS_MAX];
    struct batch_state batches[ENGINE_BATCHES_MAX];
    struct place_state places[PLAN_PLACES_MAX];
    struct deviation_state deviations[ENGINE_DEVIATIONS_MAX];
    struct undecided undecided[UNDECIDED_MAX];
    struct hand_state hands[HANDS_MAX];
    struct held_state held[PLAN_PROBES_MAX]; /* as the plan in force lists them */
    struct stored_state stored[ENGINE_STORED_MAX];
    struct departure departures[DEPARTURES_MAX];
    struct review_state reviews[ENGINE_REVIEWS_MAX];
    struct switch_known switches[PLAN_SWITCHES_MAX]; /* as the plan in force lists them */
    struct alarm_state alarms[ENGINE_ALARMS_MAX];
    struct place_shelf shelves[PLAN_PLACES_MAX];
};

struct engine {
    struct engine_state state;
    const struct plan *plans[ENGINE_PLANS_MAX]; /* borrowed, beside state.plans */
    /* A tree of minima: leaf i is due[DUE_LEAVES + i], the root due[1]. Leaves are saved. */
    int64_t due[2 * DUE_LEAVES];
    /* Derived, rebuilt by engine_load. */
    uint16_t slot_of[PROBE_NUMBERS]; /* slot + 1 of each probe number, 0 = unknown */
    struct decision spill;           /* takes what does not fit an output; see judge.c */
};

#endif
