/* The condensed readings of a cook, as lesson.c keeps them and planner.c reads them. */
#ifndef THERMAL_TAKER_H
#define THERMAL_TAKER_H

#include "trivet/lesson.h"

enum { TAKER_SPANS = 2048 };

#define TAKER_LONGEST_S (48 * 3600.0)

struct taker {
    struct dish dish;
    double put_in_s;
    double span_s;
    float core_C[TAKER_SPANS]; /* means; NAN: none */
    float air_C[TAKER_SPANS];
    int spans;
    double core_sum_C, air_sum_C;
    int cores, airs;
    double start_C, start_sum_C;
    int starts;
    double last_s, last_C;
    double removed_s, removed_C;
};

const struct taker *taker_in(const struct lesson_taker *taker);

/* Core around a moment (means of three spans, straight between). */
double taker_core_C(const struct taker *taker, double at_s);

/* When the core first passed a level before it was taken out; NAN: never. */
double taker_passed_s(const struct taker *taker, double level_C);

/* Means of the measured air over equal spans from 0 to `until_s`.  False without any. */
bool taker_air(const struct taker *taker, double until_s, double ret_air_C[LESSON_AIRS]);

#endif
