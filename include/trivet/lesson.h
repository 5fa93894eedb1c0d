/* What earlier batches of a product teach about the next one.
 *
 * A finished cook leaves a lesson: what went in, when its core passed some temperatures, what
 * the air around it was, how it rested. A planner takes the lessons of one product and says,
 * for a dish of another size, start, oven and target, when the core will get there. It plans
 * from kinds of dish alone when there is no lesson yet, with the doubt that belongs to that. A
 * plan advises. It never decides: only measurements do.
 *
 * Pure: no clock, no input or output, no globals, no allocation; the same lessons give the same
 * plan. One planner belongs to one thread.  Temperatures in degrees Celsius, times in seconds
 * from the moment the dish goes in. */
#ifndef TRIVET_LESSON_H
#define TRIVET_LESSON_H

#include <stdbool.h>
#include <stddef.h>

#include "trivet/forecast.h"

enum {
    LESSON_PASSED = 5,
    LESSON_AIRS = 24,
    LESSONS_MAX = 8, /* a planner heeds so many, the newest */
    LESSON_TAKER_BYTES = 17 * 1024,
    PLANNER_BYTES = 19 * 1024,
    PLANNER_WORK_BYTES = 160 * 1024,
    /* To be raised with each change of what a lesson or its fit holds or how they are made:
     * those on record of another number are made anew from the readings. */
    LESSON_METHOD = 2,
};

/* DISH_LONG: a slender piece, such as a filet, some three times as long as thick. */
enum dish_shape { DISH_ANY_SHAPE, DISH_OVAL, DISH_ROLL, DISH_FLAT, DISH_LONG };
enum dish_wrap { DISH_NO_WRAP, DISH_DOUGH, DISH_FAT };
enum dish_oven { DISH_ANY_OVEN, DISH_STILL, DISH_FAN, DISH_STEAM };

/* What is known before a dish goes in.  NAN where nothing is known; without mass and thickness
 * there is no plan. */
struct dish {
    double mass_g;       /* of the food, without wrap or tin */
    double thickness_mm; /* of a flat piece; of any other its least diameter */
    double start_C;
    double oven_C; /* set point */
    double target_C;
    bool cold_oven; /* goes in before the oven is hot */
    enum dish_shape shape;
    enum dish_wrap wrap;
    enum dish_oven oven;
};

struct lesson {
    struct dish dish;
    double passed_C[LESSON_PASSED]; /* rising; times NAN where the core did not get there */
    double passed_s[LESSON_PASSED];
    double air_C[LESSON_AIRS]; /* means over equal spans from 0 to air_until_s; NAN without */
    double air_until_s;
    double removed_s; /* NAN: not told */
    double removed_C;
    double peak_C; /* highest after that; NAN: not seen to its end */
    double peak_s; /* after removal */
};

struct planned {
    struct forecast_range target_s; /* INFINITY: not in this oven */
    struct forecast_range rise_K;   /* how far the core climbs if taken out at the target */
    struct forecast_range rest_s;   /* from there to the peak */
    int lessons;                    /* that were heeded */
};

/* Storage; the contents belong to daemon/thermal. */
struct lesson_taker {
    union {
        max_align_t align;
        unsigned char bytes[LESSON_TAKER_BYTES];
    } room;
};

struct planner {
    union {
        max_align_t align;
        unsigned char bytes[PLANNER_BYTES];
    } room;
};

/* Needed only while it learns; one serves many planners, one at a time. */
struct planner_work {
    union {
        max_align_t align;
        unsigned char bytes[PLANNER_WORK_BYTES];
    } room;
};

/* Condenses the readings of one cook.  The dish's start, where it is not known, is read from
 * the first readings.  Readings as forecaster_feed takes them; `put_in_s` is the time 0 of the
 * lesson. */
void lesson_begin(struct lesson_taker *taker, const struct dish *dish, double put_in_s);
void lesson_feed(struct lesson_taker *taker, const struct forecast_reading *reading);

/* What the readings so far teach.  False when there is nothing to learn: the core hardly rose.
 */
bool lesson_taken(const struct lesson_taker *taker, struct lesson *ret_lesson);

/* Learns from the lessons of one product, oldest first. */
void planner_learn(struct planner *planner, struct planner_work *work,
                   const struct lesson *lessons, int count);

/* Plans one dish.  False, with *reterr_reason a sentence, when that cannot be done: nothing
 * says how big it is, or the start, oven or target is missing or out of range. */
bool planner_plan(const struct planner *planner, const struct dish *dish,
                  struct planned *ret_planned, const char **reterr_reason);

/* Finds the core temperature at which to take the dish out, so that resting carries it to
 * dish->target_C but not below `least_C` (NAN: no such floor), and plans for that. False as
 * planner_plan. */
bool planner_take_out(const struct planner *planner, const struct dish *dish, double least_C,
                      double *ret_take_out_C, struct planned *ret_planned,
                      const char **reterr_reason);

/* The plan of a dish that is already in, as of the newest reading its taker was fed: what its
 * readings say beside what the lessons say.  Times in *ret_planned count from put-in.  False as
 * planner_plan, or while there is no reading. */
bool planner_follow(const struct planner *planner, const struct lesson_taker *taker,
                    struct planned *ret_planned, const char **reterr_reason);

/* ---- for the forecaster of a batch ---- */

/* What the model had learned of an earlier batch in the end (forecaster_learned), and how the
 * next one's size compares: its depth or radius over that one's; NAN: not known of both. */
struct lesson_fit {
    struct forecast_prior fit;
    double size_ratio;
};

/* What earlier batches let one believe of the next one, from fits that began with nothing
 * known. All zero without any. */
void forecast_prior_from(enum forecast_kind kind, const struct lesson_fit *fits, int count,
                         struct forecast_prior *ret_prior);

/* Moves a cook's forecast towards what its plan says (planner_follow; `put_in_s` on the
 * forecaster's time): almost wholly at the start, hardly at the end. A forecast refused as too
 * early becomes the plan's, without a peak. Returns by what factor the time left was changed.
 */
double forecast_lean_on_plan(struct forecast *forecast, const struct planned *planned,
                             double put_in_s);

#endif
