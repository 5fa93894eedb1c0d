/* One batch that is watched for forecasts: its forecaster, what it has been fed, and what it
 * last said. Owned by the adviser. */
#ifndef ADVICE_WATCHED_H
#define ADVICE_WATCHED_H

#include "daemon/advice/taught.h"
#include "trivet/advice.h"
#include "trivet/forecast.h"
#include "trivet/snapshot.h"
#include "trivet/store.h"

/* Readings are fed as one line a bin: that is as close as a forecast needs them. */
#define BIN_MS INT64_C(10000)

struct watched {
    uint32_t batch; /* 0 = free */
    char product[PLAN_ID_MAX + 1];
    bool seen; /* by the look that is under way */
    enum forecast_kind kind;
    int64_t step_begun_ms;
    uint8_t step, first_stage;
    int64_t clock_start_ms; /* cooling, as the engine has it */
    int64_t origin_ms;      /* the forecaster's zero */
    int64_t fed_to_ms;
    int64_t asked_ms; /* TIME_NONE = never */
    bool taken_out;   /* and the forecaster knows */
    int64_t taken_out_ms;
    uint16_t food[ENTRY_PROBES_MAX];
    uint8_t food_count;
    uint16_t air;         /* stored number, 0 = nobody measures it */
    double air_C, core_C; /* newest; NAN */
    struct forecaster *forecaster;
    int lessons;                     /* earlier batches it starts from */
    struct planner *planner;         /* heating food of a known size; else NULL */
    struct lesson_taker *taker;      /* its readings, for the planner */
    struct forecast_earning earning; /* heating by a table or equivalent time */
    bool earns;
    double row_since_s[FORECAST_ROWS]; /* unbroken on that row of the table; NAN */
    double lean; /* factor the plan put on the time left, at the last asking */
    struct advice advice;
};

/* Whether a step can be forecast, and how. */
bool watched_wanted(const struct engine_batch_view *view, enum forecast_kind *ret_kind);
/* And whether that can begin now. */
bool watched_can_begin(const struct engine_batch_view *view);

/* Makes it watch the batch as the snapshot shows it, from the beginning of its step (or, for
 * food that rests, of the heating before), starting from what was taught (taken over, also when
 * it fails). False when out of memory or nothing can be said. */
bool watched_begin(struct watched *watched, const struct snapshot *snapshot,
                   const struct engine_batch_view *view, const struct taught *taught);
/* Whether it still watches what the snapshot shows; a step to rest is followed. */
bool watched_follow(struct watched *watched, const struct snapshot *snapshot,
                    const struct engine_batch_view *view);
void watched_end(struct watched *watched);

/* Feeds what has been recorded up to the snapshot's instant. */
enum store_status watched_feed(struct watched *watched, struct store_reader *reader,
                               const struct snapshot *snapshot, struct store_error *reterr);

/* Writes watched->advice as of now. */
void watched_ask(struct watched *watched, const struct snapshot *snapshot,
                 const struct engine_batch_view *view);

/* Adds what could be done, best first. forecast is what was said as things are. */
void watched_options(struct watched *watched, const struct snapshot *snapshot,
                     const struct engine_batch_view *view, const struct forecast *forecast);

/* The core temperature that heating is forecast for: the limit's or, where that is only the
 * reference of an equivalent time, the kitchen's aim. */
double watched_target_C(const struct plan_step *step);

/* Writes what the step has earned so far. False when its limit asks for no such thing. */
bool watched_earning(struct watched *watched, const struct engine_batch_view *view);

/* An instant so many seconds after the forecaster's zero; INFINITY is TIME_NEVER. */
int64_t watched_instant(const struct watched *watched, double time_s);
double watched_degrees_C(struct limit_temp temp);
int16_t watched_permille(double chance); /* NAN is -1 */

#endif
