/* Runs the plan's command for a deviation that opened or ended: argument list, JSON on stdin, a
 * time-out, never a shell. */
#ifndef TRIVET_HOOK_H
#define TRIVET_HOOK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/clock.h"
#include "trivet/plan.h"
#include "trivet/queue.h"

struct hook;

/* Starts the runner's thread. Each finished run posts MESSAGE_TOLD to the queue. */
struct hook *hook_start(struct queue *queue, const struct clock *clock);
/* Gives a notice to the runner: config is borrowed until hook_stop, json is copied. False when
 * its bounded list is full: the caller offers it again later. */
bool hook_tell(struct hook *hook, const struct plan_hook *config, uint64_t seq,
               const char *json);
void
hook_stop(struct hook *hook); /* waits for the running command or its time-out; accepts NULL */

#endif
