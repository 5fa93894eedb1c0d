/* A desk: one thread that does the work which reads the store, so that the server's thread
 * never waits for it. */
#ifndef WEB_DESK_H
#define WEB_DESK_H

#include "own.h"

struct desk *desk_new(const char *directory, size_t waiting_max);
/* Suspends the request's connection and puts it into the line. False when the line is full or
 * the desk closed: then nothing was suspended. Server thread. */
bool desk_take(struct desk *desk, struct request *request);
/* Lets the running work end, answers what waits with 503 and resumes every connection. */
void desk_close(struct desk *desk);
void desk_free(struct desk *desk); /* after desk_close; accepts NULL */

#endif
