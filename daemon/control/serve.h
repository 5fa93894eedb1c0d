/* The control thread's own door for tests: the same server with other bounds. */
#ifndef CONTROL_SERVE_H
#define CONTROL_SERVE_H

#include "trivet/control.h"

struct control_bounds {
    size_t connections; /* at once; at most CONTROL_CONNECTIONS_MAX */
    int64_t idle_ms;    /* from one answer to the next whole line */
    int64_t answer_ms;  /* for the recorder to answer an entry */
    int64_t write_ms;   /* for the other side to take an answer */
};

#define CONTROL_CONNECTIONS_MAX 64

extern const struct control_bounds control_usual_bounds;

/* As control_start. bounds are copied. */
struct control *control_start_bounded(const struct control_options *options,
                                      const struct control_bounds *bounds, struct queue *queue,
                                      struct board *board, char *reterr, size_t err_size);

#endif
