/* The Unix-domain socket on which operators' entries arrive and questions are answered.
 * docs/control.md is the protocol. */
#ifndef TRIVET_CONTROL_H
#define TRIVET_CONTROL_H

#include <stdbool.h>
#include <stddef.h>

#include "trivet/queue.h"
#include "trivet/snapshot.h"

struct control_options {
    const char *path;      /* of the socket */
    const char *group;     /* group that may write to it, NULL = the daemon's own */
    const char *directory; /* of the store, told to `trivet` so that it can read it; absolute */
    const char *page;      /* address of the page, "" when there is none */
    const char *version;
    /* Somebody asks that the plan be read again: given, answered once it is decided. False when
     * it was not taken. NULL = cannot be asked here. Called in the control room's thread. */
    bool (*reload)(void *arg, struct entry_request *asked);
    void *reload_arg;
};

struct control;

/* Binds the socket (mode 0660, under a tight umask; a stale socket of a dead daemon is
 * replaced, a live one refused) and starts one thread. NULL with reterr. The strings of
 * options, board and queue are borrowed until control_stop. */
struct control *control_start(const struct control_options *options, struct queue *queue,
                              struct board *board, char *reterr, size_t err_size);
void control_stop(struct control *control); /* accepts NULL; removes the socket */

#endif
