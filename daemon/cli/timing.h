/* trivet timing: when a dish, or several in one oven, must go in to be ready in time. */
#ifndef CLI_TIMING_H
#define CLI_TIMING_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/cli/cli.h"
#include "daemon/cli/earlier.h"
#include "trivet/lesson.h"

#define TIMING_DISHES_MAX 8

/* One dish: as asked, as planned, and where it falls on the clock. Times on the site's clock.
 */
struct timing_dish {
    char name[PLAN_NAME_MAX + 1];
    struct dish dish; /* target_C: where the core shall end, resting included */
    bool target_told, start_told;
    double least_C; /* the limit of its step; NAN */
    double take_out_C;
    struct planned planned;
    uint32_t from[LESSONS_MAX]; /* batches it was learned from */
    int64_t put_in_ms;          /* TIME_NONE: durations only */
    int64_t usual_ms;           /* latest put-in if all goes as usual; TIME_NONE */
};

/* Reads "pork-loin,2.4kg,to 66C,from 6C,roll": the product and what is said of the dish. False
 * with what was not understood and what to write. */
bool timing_dish_read(const char *word, char ret_product[PLAN_NAME_MAX + 1],
                      struct timing_dish *ret, char *reterr, size_t err_size);

/* Puts the dishes on the clock so that all can be served at `serve_ms`, each early enough for
 * its slow end; `apart`: the oven takes one at a time, and those that rest longest go first. */
void timing_backward(struct timing_dish *dish, size_t count, int64_t serve_ms, bool apart);
/* The same from a moment on. */
void timing_forward(struct timing_dish *dish, size_t count, int64_t at_ms, bool apart);

/* Prints them for people: each dish, then the order of work. */
void timing_show(const struct cli *cli, const struct timing_dish *dish, size_t count,
                 const struct zone *zone, int64_t now_ms);
struct json_t *timing_json(const struct timing_dish *dish, size_t count);

int cli_timing(struct cli *cli, int argc, char **argv);

#endif
