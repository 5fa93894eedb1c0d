/* How limits are judged: one table of judges, one file per kind of limit, and what they share.
 *
 * A judge sees one run of one limit (a batch's step, or a place) and one input at a time. To
 * add a kind of limit: write judge_KIND.c with a struct judge and name it in the table in
 * judge.c. */
#ifndef ENGINE_JUDGE_H
#define ENGINE_JUDGE_H

#include "daemon/engine/state.h"

/* What a judge works with during one input. */
struct judging {
    struct engine *engine;
    struct engine_output *out;
    int64_t at_ms;
    uint64_t seq;    /* of the record being taken, 0 = none */
    uint8_t side;    /* of a hand reading of a surface: 1 top, 2 bottom; 0 = of the core */
    bool is_doubted; /* a hand reading with a thermometer left outside its tolerance (E217) */
    const struct plan_limit *limit;
    const struct plan_tolerances *tolerances;
    struct run *run;
    struct batch_state *food;    /* NULL of a place */
    struct period_state *period; /* holding of a batch that may be outside once; else NULL */
    uint32_t batch;              /* number, 0 = a place */
    const char *place, *step;
};

/* What a jump means for a limit (E42 to E46). */
enum jump { JUMP_LEFT_FOOD, JUMP_BELIEVED, JUMP_ENTERS_FOOD };

enum leaving { LEAVING_ON, LEAVING_DISCARDED };

struct judge {
    /* Sets up run->of; the run is empty. */
    void (*begin)(struct judging *j);
    /* A good reading of one of the run's probes; watch->good_* already hold it. */
    void (*good)(struct judging *j, struct watch *watch, int32_t temp_mC);
    /* A suspect one: it may breach, never satisfy. */
    void (*suspect)(struct judging *j, struct watch *watch, int32_t temp_mC);
    /* A hand reading of the food or place. */
    void (*hand)(struct judging *j, int32_t temp_mC);
    /* What is due at j->at_ms. */
    void (*due)(struct judging *j);
    int64_t (*next_due)(const struct judging *j);
    /* Trivet did not watch from run->outage_from_ms to run->outage_to_ms. */
    void (*restart)(struct judging *j);
    void (*leave)(struct judging *j, enum leaving how);
    /* A person decided what was inconclusive (said). When not accepted, run->deviation has just
     * been opened for it. */
    void (*decided)(struct judging *j, const struct decision *said, bool accepted);
    enum jump (*jump)(const struct judging *j, bool rising, bool early);
};

extern const struct judge judge_none, judge_cook, judge_hold, judge_cool, judge_table,
    judge_lethality, judge_time, judge_zone, judge_sum, judge_oven;

const struct judge *judge_of(enum limit_kind kind);

/* Cooling alone: whether a person's end of cooking can start the clock, and its start. */
bool cool_takes_clock(const struct run *run);
/* Whether it waits to be told when cooking ended, because cooling had to begin soon after. */
bool cool_takes_delay(const struct plan_limit *limit, const struct run *run);
/* E239: nobody knows when cooking ended, and the food does not show the last stage's
 * temperature. */
bool cool_is_asked_warm(const struct plan_limit *limit, const struct run *run);
/* Since when a stage's time counts; TIME_NONE while that is not known. */
int64_t cool_stage_from_ms(const struct plan_limit *limit, const struct run *run, size_t stage);
void cool_cooked(struct judging *j, int64_t given_ms);

/* What was seen of the food before its cooling began (E176). */
struct seen_hot {
    int64_t above_ms; /* last good reading above the start, TIME_NONE */
    int64_t cold_ms;  /* of food that came to a probe: last good reading before it, TIME_NONE */
    int64_t first_ms; /* and the first that showed it */
    bool fallen;      /* it has been at or below the start since */
};
void cool_seen_hot(struct judging *j, struct seen_hot seen);
/* The food has left its last heating step at left_ms, TIME_NONE: cooking ended no later (E243).
 * Of a step that is no cooling it means nothing. */
void cool_left_heat(struct judging *j, int64_t left_ms);
/* Counts from another instant and judges what has passed by that (E179). */
void cool_retime(struct judging *j, int64_t clock_ms);
/* Whether that could be in the food's favour, or, with TIME_NONE, that there was no cooling. */
bool cool_favours(const struct judging *j, int64_t clock_ms);

/* A stage met since then, by a reading that no food could show so soon, is met no longer
 * (E183).
 */
void cool_take_back(struct judging *j, const struct probe_state *probe);

/* Cooking and reheating alone: by when it has to be met, TIME_NONE. */
int64_t cook_deadline_ms(const struct plan_limit *limit, const struct run *run);

/* Time control alone: a person says when the food left temperature control. */
void time_left(struct judging *j, int64_t given_ms);

/* Holding alone: an excursion that began after that instant was a probe's on its way out of the
 * food (E183). */
void hold_take_back(struct judging *j, uint16_t probe, int64_t after_ms);

/* Lethality alone: the equivalent time that every probe has earned. */
int64_t lethality_earned_ms(const struct run *run);

/* An added table alone: what every probe has earned, as time at the coldest row, rounded down.
 */
int64_t sum_earned_ms(const struct plan_limit *limit, const struct run *run);

/* Time in a zone alone: the probes that the batch has from now on, those of this run. */
void zone_probes(struct judging *j, const struct run *of);
/* The longest time between readings that is still seen. */
int64_t zone_spacing_ms(const struct run *run);

/* An oven alone: which probe measures it, after begin(); NULL: none does. */
void oven_probe(struct judging *j, const struct place_state *place);
/* Nothing is asked of it any more: it is judged (E223). */
void oven_over(struct judging *j, enum leaving how);

/* Notes a time in which Trivet did not run. */
void run_outage(struct run *run, int64_t from_ms, int64_t to_ms);

/* Empties a run and sets what it watches nothing with yet. */
void run_begin(struct run *run, uint32_t serial, int64_t at_ms);

/* ---- shared by the judges ---- */

/* True when a temperature satisfies "at least" or "at most" this limit (E1, E2). */
bool satisfies_least(int32_t temp_mC, struct limit_temp limit, bool strict);
bool satisfies_most(int32_t temp_mC, struct limit_temp limit, bool strict);

/* Unbroken runs of satisfying readings (E5 to E9). */
void watch_satisfied(struct watch *watch, int64_t at_ms);
void watch_broken(struct watch *watch);
void run_broken(struct run *run);
/* Time during which every probe of the run was satisfied, unbroken, up to now; -1 when there is
 * none. ret_since_ms may be NULL. */
int64_t run_held_ms(const struct run *run, int64_t *ret_since_ms);
/* True when the last good reading is no older than the spacing. */
bool watch_fresh(const struct watch *watch, int64_t at_ms);
bool run_fresh(const struct run *run, int64_t at_ms); /* all of them */
/* The coldest or warmest of the fresh good readings; NULL when none is fresh. */
const struct watch *run_governing(const struct run *run, int64_t at_ms, bool warmest);

/* Appends a decision about this run: kind, reason, at, batch, place, step, limit and required
 * are filled in. */
struct decision *judge_say(struct judging *j, enum decision_kind kind,
                           enum decision_reason reason);
/* Opens a deviation of this run: gives it its number and lists it. said has been filled in by
 * the caller. */
uint32_t judge_open(struct judging *j, struct decision *said);
/* Ends a deviation of this run, the one that is shown, if number is not 0. Returns the decision
 * to be filled in, or NULL. */
struct decision *judge_end(struct judging *j, uint32_t number, enum decision_reason reason);
/* Puts a verdict of this run on the list that waits for a person. When that is full, said
 * becomes a deviation that has just been opened (its number is returned), else returns 0. */
uint32_t judge_undecided(struct judging *j, struct decision *said);
/* Takes it off again: reason and stage as said. */
void judge_withdraw(struct judging *j, enum decision_reason reason, uint8_t stage);
/* True when a verdict of this run waits for a person. */
bool judge_waits(const struct judging *j);
/* Remembers that this met limit or stage rests on the hand reading being taken (E70). */
void judge_rests(struct judging *j, const struct decision *met);

/* ---- without a run: used for probes and entries ---- */

struct decision *say(struct engine *engine, struct engine_output *out, int64_t at_ms,
                     enum decision_kind kind, enum decision_reason reason);
uint32_t deviation_open(struct engine *engine, struct decision *said);
struct deviation_state *deviation_find(struct engine *engine, uint32_t number);
/* Marks it ended; alarms_follow drops it from the list when that closes it. */
void deviation_end(struct engine *engine, uint32_t number, int64_t at_ms);
void deviation_close_if_done(struct engine *engine, struct deviation_state *deviation);
/* The next place in the ring of remembered hand readings. */
struct hand_state *hand_add(struct engine *engine, uint64_t seq, uint32_t batch);
/* False when the list is full. */
bool undecided_add(struct engine *engine, const struct decision *said, uint32_t serial);
void undecided_drop(struct engine *engine, size_t index);
/* By a correction there was no such deviation (E180): it ends and leaves the list. */
void deviation_withdraw(struct engine *engine, struct engine_output *out, int64_t at_ms,
                        struct deviation_state *deviation);
void decision_copy(struct decision *to, const struct decision *from);

#endif
