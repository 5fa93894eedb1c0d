/* One trace judged by one limit, with the engine that judges the kitchen. Private to the cli
 * room; one thread. */
#ifndef CLI_VERDICT_H
#define CLI_VERDICT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/decision.h"
#include "trivet/forecast.h"
#include "trivet/plan.h"

/* A row of a trace as the engine sees it. */
struct verdict_row {
    int64_t at_ms;             /* on the trace's own clock */
    int32_t core_mC, air_mC;   /* TEMP_NONE where blank */
    enum forecast_event event; /* FORECAST_NO_EVENT = none */
};

struct verdict_trace {
    struct verdict_row *rows; /* rising times, at least one */
    size_t count;
};

/* Told each decision, in order. */
typedef void verdict_sink(void *arg, const struct decision *decision);

struct verdict {
    const char *word;   /* "met", "not met" or "inconclusive" */
    const char *reason; /* a word: that of the deciding decision, or one of our own */
    const char *phrase; /* the same for people */
    int64_t at_ms;      /* the deciding time */
    int64_t spacing_ms; /* largest distance of two readings that credits time */
    int64_t earned_ms;  /* lethality: equivalent time earned over the whole trace; else 0 */
};

/* False when memory ran out. */
bool verdict_reach(const struct verdict_trace *trace, const struct plan_limit *limit,
                   verdict_sink *sink, void *arg, struct verdict *ret);

#endif
