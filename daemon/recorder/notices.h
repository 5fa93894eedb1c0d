/* Which deviations the plan's command has not yet been told of. At least once each, also over a
 * restart: the list is kept beside the decisions it belongs to, in the same commit. Owned by
 * the recorder's thread. */
#ifndef RECORDER_NOTICES_H
#define RECORDER_NOTICES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/decision.h"
#include "trivet/plan.h"
#include "trivet/store.h"

#define NOTICES_MAX      256
#define NOTICE_TRIES_MAX 3
#define NOTICE_RETRY_MS  60000

struct notice {
    uint64_t seq; /* of the decision's record */
    uint32_t tries;
    bool running;    /* handed to the runner, no answer yet */
    int64_t next_ms; /* at_ms of the next try */
};

struct notices {
    struct notice list[NOTICES_MAX];
    size_t count;
    bool changed; /* since it was last kept */
};

/* False when the list is full. */
bool notices_add(struct notices *notices, uint64_t seq, int64_t at_ms);
/* What the runner reported. True when the notice is done with: delivered, or given up. */
bool notices_report(struct notices *notices, uint64_t seq, bool delivered, int64_t at_ms);
/* Nobody is to be told of it after all. */
void notices_drop(struct notices *notices, uint64_t seq);
/* Keeps and brings back the list through the store's cache. */
enum store_status notices_keep(struct notices *notices, struct store *store,
                               struct store_error *reterr);
void notices_bring_back(struct notices *notices, struct store *store, int64_t at_ms);

/* Whether the hook must hear of a decision. */
bool notice_wanted(const struct decision *decision);
/* The command that tells of a record: that of its level of the escalation, or the plan's; NULL
 * = nobody. */
const struct plan_hook *notice_hook(const struct plan *plan, const char *kind,
                                    const char *data_json);
bool plan_tells_anybody(const struct plan *plan);
/* The JSON the command reads on stdin: id (stable: "12-opened"), what happened in words, and
 * the record's data itself, a decision or a
 * forecast as kind says. seq 0 and recorded false when it could not be stored. Returns false
 * when it does not fit. */
bool notice_text(const struct plan *plan, const char *kind, const char *data_json, uint64_t seq,
                 int64_t at_ms, int64_t offset_ms, char *buf, size_t size);

#endif
