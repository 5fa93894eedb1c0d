/* When to read, and what to do when a device does not answer: one thread per bus. */
#ifndef TRIVET_POLL_H
#define TRIVET_POLL_H

#include "trivet/clock.h"
#include "trivet/plan.h"
#include "trivet/probe_driver.h"
#include "trivet/queue.h"

struct poll;

/* Whether there is something for a signal to tell. Any bus thread, about once a second for each
 * of its signals. */
typedef bool poll_needed(void *arg, enum signal_shows shows);

/* Starts a thread for each bus of the plan that has probes, switches or signals; they post
 * MESSAGE_READING (stored probe numbers, so the plan's numbers must be assigned),
 * MESSAGE_SWITCH, MESSAGE_SIGNAL and MESSAGE_BUS. needed may be NULL: never anything. plan,
 * queue and clock are borrowed until poll_stop. NULL with reterr when a thread cannot be
 * started; a device that cannot be opened is no error here: it is retried for ever, with bad
 * readings meanwhile. A bus is presumed up until a MESSAGE_BUS says otherwise; each change is
 * told once. */
struct poll *poll_start(const struct plan *plan, struct queue *queue, const struct clock *clock,
                        poll_needed *needed, void *arg, struct driver_error *reterr);
/* Ends all threads at their next wait, at most one exchange away, and frees. Signals are
 * written a last time where what they show has changed. Accepts NULL. */
void poll_stop(struct poll *poll);

#endif
