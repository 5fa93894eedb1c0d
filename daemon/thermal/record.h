/* The condensed record of one batch: readings and events folded into stretches of half a minute
 * and more.
 *
 * Everything the candidates are fitted to passes through here, so a new candidate can be
 * carried through the whole past. Memory is bounded: when the room is used up, pairs of
 * stretches are merged.  Pure; one owner. */
#ifndef THERMAL_RECORD_H
#define THERMAL_RECORD_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/thermal/food.h"

enum { RECORD_MAX = 960 };

struct record_entry {
    float span_s;
    float core_C;
    float medium_C;
    uint8_t place;
    uint8_t stir;
};

struct record_sum {
    double core_C, medium_C;
    int cores, mediums;
};

struct record {
    enum forecast_kind kind;
    struct record_entry entry[RECORD_MAX];
    int count;
    double span_min_s;
    double origin_s; /* time of the first reading */
    double end_s;    /* time of the last closed stretch's end */
    double last_s;   /* time of the newest reading */
    bool begun;
    struct record_sum open;
    int place;
    double place_since_s;
    int core_count;          /* stretches with a core reading since the probe went in */
    double core_at_s;        /* newest core reading */
    double core_C;           /* and its value; NAN */
    double recent_core_C[3]; /* newest values, for a median */
    double air_at_s;
    double air_C;
    bool air_seen;
    double air_slow_C;  /* follows the air over ten minutes */
    double first_air_C; /* mean of the first minutes; NAN */
    double trend_K_s;   /* usual change of the core, jumps left out */
    int cold_stretches; /* in a row with air far below the slow one */
    int stirs;
    double last_stir_s;
    double first_stir_s;
    double clock_from_C;
    double clock_began_s; /* NAN */
    double highest_C;     /* core since removal, or since the probe went in */
};

enum record_news {
    RECORD_OPEN,    /* nothing complete yet */
    RECORD_STRETCH, /* one or more stretches were closed */
    RECORD_RESTART, /* the probe has only now gone in: everything before counts as unread */
};

void record_begin(struct record *record, enum forecast_kind kind, double clock_from_C);

/* Takes a reading; times must not fall.  New stretches are entry[*ret_first] to entry[count -
 * 1]. */
enum record_news record_take(struct record *record, const struct forecast_reading *reading,
                             int *ret_first);

/* An entry as candidates take it. */
struct food_stretch record_stretch(const struct record *record, int index, double begin_s);

/* Level of the surroundings to expect from now on, and how sure; NAN level: no probe. */
struct record_level {
    double level_C;
    double sd_K;
    double load;       /* coolings: kelvin it has been warmer for each kelvin of the core */
    double load_known; /* how much that counts, 0 to 1, against what one believes beforehand */
};
struct record_level record_level(const struct record *record);

/* Median of the newest core readings; NAN. */
double record_core_C(const struct record *record);

#endif
