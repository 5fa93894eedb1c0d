/* The one thread that owns the engine and the write side of the store.
 *
 * The core is a plain state machine that is handed messages and the time, so that tests and the
 * simulated past drive it without threads; recorder_run wraps it for the daemon. */
#ifndef TRIVET_RECORDER_H
#define TRIVET_RECORDER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/clock.h"
#include "trivet/engine.h"
#include "trivet/hook.h"
#include "trivet/plan.h"
#include "trivet/queue.h"
#include "trivet/snapshot.h"
#include "trivet/store.h"

struct recorder;

struct recorder_parts {
    struct plan
        *plan; /* given: the recorder numbers its probes and keeps it for as long as it lives */
    struct store *store;   /* borrowed */
    const char *directory; /* of the store: the recorder reads it back at start */
    struct clock clock;
    struct board *board; /* borrowed */
    struct hook *hook;   /* borrowed; NULL = nobody is told */
};

/* Brings the engine to where the store ends, records the start and the plan. NULL with reterr.
 */
struct recorder *recorder_new(const struct recorder_parts *parts, char *reterr,
                              size_t err_size);
void recorder_free(struct recorder *recorder); /* accepts NULL; does not record a stop */

/* The plan in force: the one given, or the stored one when that one could not come into force.
 * It lives as long as the recorder. Before recorder_run, or in the recorder's thread. */
const struct plan *recorder_plan(const struct recorder *recorder);

/* Takes messages in order, then does what is due: ticks, commit, seal, publication, telling. */
void recorder_take(struct recorder *recorder, const struct message *messages, size_t count);
/* How long recorder_take need not be called when no message comes. */
int64_t recorder_wait_ms(const struct recorder *recorder);
/* Commits and seals what is there and records a clean stop. */
void recorder_finish(struct recorder *recorder);

/* How often recorder_take has run: a recorder whose count stands still for more than a few
 * seconds is stuck. Any thread. */
uint64_t recorder_heartbeat(const struct recorder *recorder);

/* The daemon's thread: takes from the queue until MESSAGE_STOP. */
void recorder_run(struct recorder *recorder, struct queue *queue);

/* ---- replay ---- */

struct replay_result {
    bool same;
    uint64_t inputs, decisions;
    uint64_t differs_at; /* sequence number of the first decision record that differs, 0 = one
                            more or fewer at the end */
    char recorded_engine[32], this_engine[32];
    char text[1500]; /* what differs, in words: recorded and judged anew */
};

/* Feeds the stored inputs to a fresh engine and compares every decision with the one recorded.
 */
enum store_status replay_store(const char *directory, struct replay_result *ret,
                               struct store_error *reterr);

#endif
