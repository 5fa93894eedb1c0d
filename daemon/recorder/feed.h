/* The one way inputs reach an engine, live and at replay: ticks first, then the input.
 *
 * Because both use this, a tick that comes by itself in the running program and one that replay
 * derives from the next input are the same tick. Pure but for what `decided` does. */
#ifndef RECORDER_FEED_H
#define RECORDER_FEED_H

#include <stdint.h>

#include "trivet/engine.h"

/* Called for each decision, in order. */
typedef void feed_sink(void *arg, const struct decision *decision);

struct feed {
    struct engine *engine; /* borrowed */
    int64_t last_ms;       /* of the last input or tick; TIME_NONE at first */
    uint64_t inputs;
    feed_sink *decided;
    void *arg;
    struct engine_output *out; /* owned; large, hence not on the stack */
};

bool feed_init(struct feed *feed, struct engine *engine, feed_sink *decided, void *arg);
void feed_done(struct feed *feed);

/* Feeds the ticks that come before the input, then the input. Returns the quality of a reading
 * as judged. */
uint16_t feed_input(struct feed *feed, const struct engine_input *input);
/* Feeds the ticks due at or before an instant (inclusive) or strictly before it. Returns the
 * instant of the last one fed, TIME_NONE when there was none. */
int64_t feed_ticks(struct feed *feed, int64_t until_ms, bool inclusive);

#endif
