/* One guess at what a kind of dish is, run from put-in to its peak.
 *
 * What stays the same between the batches of a product (shape, film, wetness, wrap, the oven's
 * own error ...) are unknowns, each in a scale where 0 with a spread of 1 is what its kind lets
 * one believe; what differs (mass, start, oven, measured air) is the scene. The heat flow is
 * that of food.c, without its filter.  Pure; any thread. */
#ifndef THERMAL_DISH_H
#define THERMAL_DISH_H

#include "daemon/thermal/food.h"
#include "trivet/lesson.h"

enum {
    DISH_UNKNOWNS = 14,
    DISH_MARKS = LESSON_PASSED,
    DISH_LOOKS = 3,
};

struct dish_scene {
    const struct dish *dish;
    double start_C;
    double uneven_K;     /* surface against core at the start */
    const double *air_C; /* means over equal spans; NULL: the set point is all there is */
    int airs;
    double air_span_s;
    double air_bias_K;  /* what the air probe reads above the set point, usually */
    double after_air_C; /* level the set point has after the measured air */
};

struct dish_run {
    double mark_C[DISH_MARKS]; /* rising */
    int marks;
    double look_s[DISH_LOOKS]; /* rising */
    int looks;
    bool rests; /* taken out at the last mark and followed to its peak */
    double
        ret_mark_s[DISH_MARKS]; /* beyond DISH_LONGEST_S: a measure of how far it stays away */
    double ret_look_C[DISH_LOOKS];
    double ret_rise_K;
    double ret_rest_s;
};

#define DISH_LONGEST_S (14 * 3600.0)

/* Makes a guess at one batch of a guess at its product: what differs from day to day is drawn
 * by `normal` numbers, one for each unknown. */
void dish_of_the_day(const double normal[DISH_UNKNOWNS], double unknown[DISH_UNKNOWNS]);

/* Runs the dish with these unknowns; fills the ret_ members of *run. */
void dish_follow(const double unknown[DISH_UNKNOWNS], const struct dish_scene *scene,
                 struct dish_run *run);

#endif
