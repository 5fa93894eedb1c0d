/* Reading the plan file again while the program runs: on SIGHUP, or when a person asks on the
 * control socket. Used by main.c only. */
#ifndef DAEMON_RELOAD_H
#define DAEMON_RELOAD_H

#include <stdbool.h>

#include "trivet/clock.h"
#include "trivet/queue.h"

struct reload;

/* file and queue are borrowed. NULL when the system gives no memory or descriptor. */
struct reload *reload_new(const char *file, struct queue *queue, const struct clock *clock);
/* Answers who still waits that nothing was done. Accepts NULL. */
void reload_free(struct reload *reload);

/* Readable when reload_run has something to do. */
int reload_fd(const struct reload *reload);
/* Somebody asks: given, answered once it is decided. False when nothing was taken. arg is the
 * struct reload; any thread. */
bool reload_ask(void *arg, struct entry_request *asked);
/* The main thread: reads the file once for each who asked, and once when by_signal; hands it to
 * the recorder. */
void reload_run(struct reload *reload, bool by_signal);
/* The plan that has come into force since the last call, NULL when none has: its lines have to
 * be polled instead of the old ones. */
const struct plan *reload_taken(struct reload *reload);

#endif
