/* When a thermometer in ice, boiling water or beside another one can be read off. Pure,
 * integers only. */
#ifndef CLI_SETTLE_H
#define CLI_SETTLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Settled: over the window the readings lie within the spread, and the straight line through
 * them (least squares) rises or falls by no more than the drift. A probe that still creeps
 * towards the ice can keep within the spread for a while; the line tells. Common practice, no
 * source; the spread lets a thermometer pass that shows every fifth of a degree. */
#define SETTLE_SPREAD_mK   200
#define SETTLE_DRIFT_mK    100
#define SETTLE_SAMPLES_MIN 5
#define SETTLE_SAMPLES_MAX 256

enum settle_state {
    SETTLE_TOO_FEW, /* fewer readings than needed, or not over the whole time yet */
    SETTLE_MOVING,
    SETTLE_STEADY,
};

struct settle {
    int64_t at_ms[SETTLE_SAMPLES_MAX];
    int32_t temp_mC[SETTLE_SAMPLES_MAX];
    size_t count;
};

struct settle_found {
    int32_t mean_mC; /* of the window, to the nearest, halves away from zero */
    int32_t spread_mK, drift_mK;
};

/* Takes a reading later than the last one; one that is not is left out. The oldest go. */
void settle_add(struct settle *settle, int64_t at_ms, int32_t temp_mC);
/* A reading was missing or bad: what came before says nothing about what comes. */
void settle_break(struct settle *settle);

/* Looks at the last window_ms up to the last reading, or at the last SETTLE_SAMPLES_MIN
 * readings where those take longer. ret is filled unless there are too few.
 */
enum settle_state settle_look(const struct settle *settle, int64_t window_ms,
                              struct settle_found *ret);

#endif
