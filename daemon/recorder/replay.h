/* Walks what is stored, in the order of inputs, through an engine and compares its decisions
 * with those recorded.
 *
 * Serves the start of the daemon (from a cached state on) and `trivet replay` (from the first
 * record on). Owned by whoever calls; reads through two readers of its own. */
#ifndef RECORDER_REPLAY_H
#define RECORDER_REPLAY_H

#include "daemon/recorder/feed.h"
#include "daemon/recorder/plans.h"
#include "trivet/recorder.h"
#include "trivet/store.h"

/* A decision made anew that no record has matched yet. */
struct replay_decision {
    struct decision decision;
    struct replay_decision *next;
};

struct replay {
    struct feed feed;
    struct plans *plans;                     /* borrowed; learns the plans it meets */
    struct store_reader *records, *readings; /* borrowed, two different ones */
    int64_t read_to_ms; /* readings up to here have been fed; TIME_NONE = none */
    int64_t last_at_ms; /* of the last record seen */
    uint64_t last_plan_seq;
    int64_t offset_ms;    /* of the last clock record seen */
    char last_engine[32]; /* of the last start record seen */
    struct replay_decision *first, **tail;
    uint64_t matched; /* decisions that were as recorded */
    bool stop_at_difference, out_of_memory;
    uint64_t differs_at; /* seq of the first decision record that differs */
    char text[1500];
    struct store_error error; /* when a nested read failed */
};

bool replay_init(struct replay *replay, struct engine *engine, struct plans *plans,
                 struct store_reader *records, struct store_reader *readings);
void replay_done(struct replay *replay);

/* Feeds the records after from_seq and the readings after from_ms (fed_ms is the last instant
 * the engine has seen), both up to the head (what is committed later is left out), then the
 * ticks due by the head's instant, the last one known to be watched. Decisions left in `first`
 * afterwards were made anew and never recorded. */
enum store_status replay_run(struct replay *replay, uint64_t from_seq, int64_t from_ms,
                             int64_t fed_ms, const struct store_head *head,
                             struct store_error *reterr);

#endif
