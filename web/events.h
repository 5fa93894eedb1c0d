/* The event stream: every screen hears of a new snapshot. */
#ifndef WEB_EVENTS_H
#define WEB_EVENTS_H

#include "own.h"

struct events *events_new(struct board *board);
/* A stream for this connection. last_id is the Last-Event-ID header or NULL. Server thread. */
struct answer events_open(struct events *events, struct MHD_Connection *connection,
                          const char *last_id);
/* Ends all streams and resumes their connections; none is suspended afterwards. Before
 * MHD_stop_daemon. */
void events_close(struct events *events);
void events_free(struct events *events); /* after MHD_stop_daemon; accepts NULL */

#endif
