/* See the header. */
#include "daemon/recorder/feed.h"

#include <stdlib.h>
#include <string.h>

bool
feed_init(struct feed *feed, struct engine *engine, feed_sink *decided, void *arg)
{
    *feed =
        (struct feed){.engine = engine, .last_ms = TIME_NONE, .decided = decided, .arg = arg};
    feed->out = malloc(sizeof *feed->out);
    return feed->out != NULL;
}

void
feed_done(struct feed *feed)
{
    free(feed->out);
    feed->out = NULL;
}

static void
step(struct feed *feed, const struct engine_input *input)
{
    feed->out->count = 0;
    engine_step(feed->engine, input, feed->out);
    feed->last_ms = input->at_ms;
    for (size_t i = 0; i < feed->out->count; i++)
        feed->decided(feed->arg, &feed->out->decisions[i]);
}

int64_t
feed_ticks(struct feed *feed, int64_t until_ms, bool inclusive)
{
    int64_t fed_ms = TIME_NONE;
    for (;;) {
        int64_t due_ms = engine_due(feed->engine);
        if (due_ms == TIME_NEVER || due_ms > until_ms || (due_ms == until_ms && !inclusive))
            return fed_ms;
        /* What an input made due at once is judged at that input's instant: time never goes
         * back. */
        if (feed->last_ms != TIME_NONE && due_ms < feed->last_ms)
            due_ms = feed->last_ms;
        step(feed, &(struct engine_input){.kind = ENGINE_TICK, .at_ms = due_ms});
        fed_ms = due_ms;
    }
}

uint16_t
feed_input(struct feed *feed, const struct engine_input *input)
{
    if (input->kind == ENGINE_RESTART) {
        if (input->is.since_ms != TIME_NONE)
            (void)feed_ticks(feed, input->is.since_ms, true);
    } else {
        (void)feed_ticks(feed, input->at_ms, false);
    }
    step(feed, input);
    feed->inputs++;
    return feed->out->quality;
}
