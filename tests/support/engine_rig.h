/* Plays scripts to an engine as the recorder would, and collects what it decides as text.
 *
 * A script is lines of "TIME WORD ...", TIME being h:mm:ss with an optional .mmm, counted from
 * the rig's beginning. Food probes p1 to p3 (stored numbers 1 to 3), read every 10 s; if the
 * place "fridge" has a limit, air probe a1 (number 4) watches it; the product "dish" has the
 * steps "first" (with the limit given) and "after" (none).
 *
 *     0:00:00 begin dish p1 p2       0:00:10 p1 63.0            a reading; "bad" for a bad one
 *     0:00:10-0:05:00 p1 20.0 63.0   every 10 s from a value to a value (or one value
 * throughout) 0:06:00 hand 63.0              of batch 1; "hand fridge 6.0" of a place 0:06:00
 * move [STEP [PROBE..]]  0:06:00 end served         0:06:00 cooked 0:01:00 0:06:00 decide yes
 * 0:06:00 correct 5 61.0     5 = seq of the entry (counts all records from 1) 0:06:00 action 1
 * AB            0:06:00 verify 1 SB        0:20:00 restart 0:10:00 0:06:00 plan takes
 * rig->next_plan       0:06:00 quiet fridge 0:30:00, or "end"       0:06:00 wait    ticks up to
 * this instant    0:06:00 heard 1 AB
 * 0:06:00 shelve 1 0:30:00       of a deviation's alarm, or "shelve fridge 0:30:00"; or "end"
 *
 * Any entry takes "batch=2" (else batch 1), "place=fridge" and "who=SB" (else AB). With a plan
 * of its own (rig_of) a script names that plan's probes.
 *
 * The log has one line per decision: "TIME kind reason" and what there is of: #deviation, whose
 * alarm it is part of, whether it is silent, level, batch
 * (when not 1), place (without a batch), stage, probe, temperature, worst, since, found. Steps
 * begun and batches ended are left out unless rig->all. */
#ifndef SUPPORT_ENGINE_RIG_H
#define SUPPORT_ENGINE_RIG_H

#include "trivet/engine.h"

#define RIG_LOG_MAX   200000
#define RIG_BASE_MS   INT64_C(1772530000000)
#define RIG_PLANS_MAX 8

struct rig {
    struct engine *engine;
    struct plan *plans[RIG_PLANS_MAX];
    size_t plan_count;
    struct plan *next_plan;
    uint64_t seq;
    uint16_t quality; /* of the last reading */
    bool all;
    struct engine_output out;
    char log[RIG_LOG_MAX];
    size_t log_len;
    char refusal[600]; /* of the last entry that engine_check refused; "" */
};

/* The limit over all steps of the product in plans made from here on; NULL = none. */
extern const char *rig_life;
/* Likewise a further place, as a line of a plan. */
extern const char *rig_place_more;

/* A plan with this limit (YAML flow mapping) on the first step and that on the place; either
 * NULL = none. */
struct plan *rig_plan(const char *step_limit, const char *place_limit, const char *tolerances);
/* A whole plan from its text, its probes numbered from 1 in their order. */
struct plan *rig_plan_of(const char *text);
/* An engine with such a plan in force at 0:00:00. Freed by rig_free. */
struct rig *rig_new(const char *step_limit, const char *place_limit);
struct rig *rig_of(const char *text);
void rig_free(struct rig *rig);
/* Feeds one input with the ticks before it. */
void rig_feed(struct rig *rig, struct engine_input *input);
void rig_play(struct rig *rig, const char *script);
/* Fails the test unless the log is this; empties the log. */
void rig_expect(struct rig *rig, const char *log);
/* Plays and compares with a fresh rig. */
void rig_story(const char *step_limit, const char *script, const char *log);
void rig_place_story(const char *place_limit, const char *script, const char *log);
/* Saves, loads into a fresh engine and goes on with that one. */
void rig_reload(struct rig *rig);
/* Writes the log line of a decision; returns its length. */
size_t rig_line(const struct decision *decision, char *buf, size_t size);
int64_t rig_time(const char *text); /* h:mm:ss[.mmm] to at_ms */
struct engine_batch_view rig_batch(const struct rig *rig);
struct engine_place_view rig_place(const struct rig *rig);

#endif
