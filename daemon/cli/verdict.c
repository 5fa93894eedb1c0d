/* Judging a recorded trace. See verdict.h.
 *
 * A plan of one product with one step (or, for a limit of the air, of one place) is put
 * together around the limit, the trace's rows are fed to an engine in the order in which a
 * recorder would feed them, and what the engine decided is the verdict. No clock, no file. */
#include "daemon/cli/verdict.h"

#include <stdio.h>
#include <stdlib.h>

#include "trivet/engine.h"

#define PROBE     1
#define AIR_PROBE 2
#define SPACING   3 /* polling periods, as a plan's default */
#define SILENT_MS INT64_C(300000)

/* How much a core may still rise by the heat that is in the food as it leaves the oven, at
 * most: large roasts 10 to 15 K (common practice, no source). */
#define CARRIED_OVER_MAX_MK 20000
#define PLACE_ID            "place"
#define EVERY_MAX_ms        INT32_MAX

/* Everything one judging needs; too large for the stack. */
struct judging_trace {
    const struct verdict_trace *trace;
    const struct plan_limit *limit;
    struct plan plan;
    struct plan_person person;
    struct plan_probe probes[2]; /* of the core, or the air; and of the air around the core */
    bool sees_air;               /* the second one is there */
    struct plan_place place;
    struct plan_product product;
    struct engine *engine;
    struct engine_output out;
    struct entry entry;
    uint64_t seq;
    verdict_sink *sink;
    void *arg;
    /* what was decided so far */
    struct decision met, missed, unknown; /* kind DECISION_STEP_BEGUN = none yet */
    bool any_good, any_gap;
    int64_t gap_ms;
};

/* ---- sampling ---- */

static int
compare_times(const void *left, const void *right)
{
    int64_t a = *(const int64_t *)left, b = *(const int64_t *)right;
    return a < b ? -1 : a > b;
}

/* The trace's own polling period: the median distance of its rows, the shorter of two middle
 * ones. Rows with blanks count, they are readings that were due and are missing. */
static bool
period_ms(const struct verdict_trace *trace, int32_t *ret_ms)
{
    *ret_ms = 1000;
    if (trace->count < 2)
        return true;
    int64_t *steps = malloc((trace->count - 1) * sizeof *steps);
    if (!steps)
        return false;
    for (size_t i = 1; i < trace->count; i++)
        steps[i - 1] = trace->rows[i].at_ms - trace->rows[i - 1].at_ms;
    qsort(steps, trace->count - 1, sizeof *steps, compare_times);
    int64_t median = steps[(trace->count - 2) / 2];
    free(steps);
    *ret_ms = median < EVERY_MAX_ms ? (int32_t)median : EVERY_MAX_ms;
    return true;
}

/* ---- the plan around the limit ---- */

/* The air around a core that is judged. */
static bool
sees_air(const struct verdict_trace *trace, const struct plan_limit *limit)
{
    for (size_t i = 0; limit->subject != SUBJECT_AIR && i < trace->count; i++)
        if (trace->rows[i].air_mC != TEMP_NONE)
            return true;
    return false;
}

static void
put_word(char *to, size_t size, const char *word)
{
    (void)snprintf(to, size, "%s", word); /* our own words, which fit */
}

static void
build_plan(struct judging_trace *t, int32_t every_ms)
{
    bool air = t->limit->subject == SUBJECT_AIR;
    put_word(t->person.initials, sizeof t->person.initials, "-");
    put_word(t->probes[0].id, sizeof t->probes[0].id, "trace");
    t->probes[0].number = PROBE;
    t->probes[0].kind = air ? PROBE_AIR : PROBE_FOOD;
    t->probes[0].every_ms = every_ms;
    put_word(t->place.id, sizeof t->place.id, PLACE_ID);
    t->probes[1] = t->probes[0];
    put_word(t->probes[1].id, sizeof t->probes[1].id, "air");
    t->probes[1].number = AIR_PROBE;
    t->probes[1].kind = PROBE_AIR;
    t->place.probe = t->sees_air ? 1 : 0;
    if (air)
        t->place.limit = *t->limit;
    put_word(t->product.id, sizeof t->product.id, "trace");
    t->product.step_count = 1;
    put_word(t->product.steps[0].id, sizeof t->product.steps[0].id, "judged");
    t->product.steps[0].place = t->sees_air ? 0 : -1;
    t->product.steps[0].limit = *t->limit;
    int64_t spacing_ms = SPACING * (int64_t)every_ms;
    t->plan = (struct plan){
        .people = &t->person,
        .person_count = 1,
        .probes = t->probes,
        .probe_count = t->sees_air ? 2 : 1,
        .places = &t->place,
        .place_count = air || t->sees_air,
        .products = &t->product,
        .product_count = !air,
        /* The defaults of docs/plan.md; a trace of few readings is not silent between them. */
        .tolerances = {.spacing_polls = SPACING,
                       .silent_ms = spacing_ms > SILENT_MS ? spacing_ms : SILENT_MS,
                       .food_rate_mC_per_min = 15000,
                       .food_jump_mC = 4000,
                       .settle_ms = 60000,
                       .air_rate_mC_per_min = 60000,
                       .air_jump_mC = 20000,
                       .pulled_ms = 120000},
    };
}

/* ---- feeding ---- */

static void
keep_first(struct decision *kept, const struct decision *said)
{
    if (kept->kind == DECISION_STEP_BEGUN)
        *kept = *said;
}

/* Air that no limit asks for only helps to see a pulled probe: that it is missing is no news.
 */
static bool
is_of_air_beside(const struct judging_trace *t, const struct decision *said)
{
    return t->sees_air && t->limit->ovens == NULL && said->probe == AIR_PROBE;
}

static void
note(struct judging_trace *t, const struct decision *said)
{
    if (is_of_air_beside(t, said))
        return;
    switch (said->kind) {
    case DECISION_LIMIT_MET:
        if (said->limit != LIMIT_OVEN && said->limit != LIMIT_MOIST_OVEN)
            t->met = *said; /* the last stage of several */
        break;
    case DECISION_DEVIATION_OPENED:
        keep_first(&t->missed, said);
        break;
    case DECISION_INCONCLUSIVE:
        t->unknown = *said;
        break;
    case DECISION_GAP_OPENED:
        if (!t->any_gap)
            t->gap_ms = said->at_ms;
        t->any_gap = true;
        break;
    case DECISION_STEP_BEGUN:
    case DECISION_CLOCK_STARTED:
    case DECISION_DEVIATION_ENDED:
    case DECISION_GAP_ENDED:
    case DECISION_SUSPECT_BEGUN:
    case DECISION_SUSPECT_ENDED:
    case DECISION_RESOLVED:
    case DECISION_BATCH_ENDED:
    case DECISION_QUIET_BEGUN:
    case DECISION_QUIET_ENDED:
    case DECISION_CORRECTION_ENDED:
    case DECISION_DATE_MARKED:
    case DECISION_MET_WITHDRAWN: /* the batch's own verdict is open again */
    case DECISION_CORRECTION_WAITS:
    case DECISION_CORRECTION_DROPPED:
    case DECISION_STEP_CORRECTED:
    case DECISION_STEP_WITHDRAWN:
    case DECISION_DEVIATION_WITHDRAWN:
    case DECISION_ASKED:
    case DECISION_ANSWERED:
    case DECISION_DOOR_LEFT_OPEN:
    case DECISION_DOOR_OVER:
    case DECISION_MARKED:
    case DECISION_SHELF_ENDED:
    case DECISION_ALARM_RAISED:
    case DECISION_ESCALATED:
        break;
    }
    t->sink(t->arg, said);
}

static void
step(struct judging_trace *t, const struct engine_input *input)
{
    engine_step(t->engine, input, &t->out);
    for (size_t i = 0; i < t->out.count; i++)
        note(t, &t->out.decisions[i]);
}

/* What is due before an instant, or at it as well, is told at its own instant. */
static void
tick(struct judging_trace *t, int64_t until_ms, bool inclusive)
{
    for (int64_t due = engine_due(t->engine);
         due != TIME_NEVER && (inclusive ? due <= until_ms : due < until_ms);
         due = engine_due(t->engine))
        step(t, &(struct engine_input){.kind = ENGINE_TICK, .at_ms = due});
}

static void
feed(struct judging_trace *t, struct engine_input *input)
{
    tick(t, input->at_ms, false);
    step(t, input);
}

static void
feed_entry(struct judging_trace *t, int64_t at_ms)
{
    feed(t, &(struct engine_input){
                .kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = ++t->seq, .is.entry = &t->entry});
}

static void
feed_begin(struct judging_trace *t, int64_t at_ms)
{
    entry_clear(&t->entry, ENTRY_BEGIN);
    put_word(t->entry.who, sizeof t->entry.who, t->person.initials);
    put_word(t->entry.product, sizeof t->entry.product, t->product.id);
    put_word(t->entry.probes[0], sizeof t->entry.probes[0], t->probes[0].id);
    t->entry.probe_count = 1;
    feed_entry(t, at_ms);
}

/* When cooking ended, as the trace says; not taken where the probe's own word governs (E37). */
static void
feed_cooked(struct judging_trace *t, int64_t at_ms, int64_t given_ms)
{
    char refusal[400];
    entry_clear(&t->entry, ENTRY_COOKED);
    put_word(t->entry.who, sizeof t->entry.who, t->person.initials);
    t->entry.batch = 1;
    t->entry.given_ms = given_ms;
    if (engine_check(t->engine, &t->entry, refusal, sizeof refusal))
        feed_entry(t, at_ms);
}

static void
feed_probe(struct judging_trace *t, int64_t at_ms, uint16_t probe, int32_t temp_mC)
{
    feed(t,
         &(struct engine_input){
             .kind = ENGINE_READING,
             .at_ms = at_ms,
             .is.reading = {.at_ms = at_ms,
                            .temp_mC = temp_mC,
                            .probe = probe,
                            .quality = temp_mC == TEMP_NONE ? BAD_FAULT_VALUE : READING_GOOD}});
}

static void
feed_reading(struct judging_trace *t, const struct verdict_row *row)
{
    int32_t temp_mC = t->limit->subject == SUBJECT_AIR ? row->air_mC : row->core_mC;
    feed_probe(t, row->at_ms, PROBE, temp_mC);
    t->any_good = t->any_good || (temp_mC != TEMP_NONE && reading_is_good(t->out.quality));
    if (t->sees_air)
        feed_probe(t, row->at_ms, AIR_PROBE, row->air_mC);
}

/* What leaves temperature control for good is gone at the end of its trace. */
static void
feed_end(struct judging_trace *t, int64_t at_ms)
{
    entry_clear(&t->entry, ENTRY_END);
    put_word(t->entry.who, sizeof t->entry.who, t->person.initials);
    t->entry.batch = 1;
    t->entry.outcome = OUTCOME_SERVED;
    feed_entry(t, at_ms);
}

/* ---- the events of a trace ---- */

static size_t
find_event(const struct verdict_trace *trace, size_t from, enum forecast_event event)
{
    while (from < trace->count && trace->rows[from].event != event)
        from++;
    return from;
}

static size_t
hottest_row(const struct verdict_trace *trace)
{
    size_t hottest = 0;
    for (size_t i = 1; i < trace->count; i++)
        if (trace->rows[i].core_mC > trace->rows[hottest].core_mC) /* TEMP_NONE is the lowest */
            hottest = i;
    return hottest;
}

/* Whether food was in the heat still at a start or a move: it got much hotter than it was then,
 * and not by what was in it already. */
static bool
is_heating(const struct verdict_trace *trace, size_t row, size_t hottest)
{
    for (size_t i = row; i < hottest; i++)
        if (trace->rows[i].core_mC != TEMP_NONE)
            return trace->rows[hottest].core_mC - trace->rows[i].core_mC > CARRIED_OVER_MAX_MK;
    return false;
}

/* Where chilling began: at the first start or moved since the end of cooking; where nobody says
 * when that was, at the first of hot food, which may rise for a while yet, or of food that
 * never was hot. Without one, as the core fell through the limit's start temperature, which
 * counts from the last reading above it. */
static size_t
chilling_row(const struct verdict_trace *trace, const struct plan_limit *limit)
{
    size_t cooked = find_event(trace, 0, FORECAST_END_OF_COOKING);
    size_t hottest = hottest_row(trace);
    size_t from = cooked < trace->count ? cooked : hottest;
    for (size_t i = cooked < trace->count ? cooked : 0; i < trace->count; i++) {
        enum forecast_event event = trace->rows[i].event;
        if ((event == FORECAST_START || event == FORECAST_MOVED) &&
            (cooked < trace->count || !is_heating(trace, i, hottest)))
            return i;
    }
    size_t hot = from;
    for (size_t i = from; i < trace->count; i++) {
        int32_t temp_mC = trace->rows[i].core_mC;
        if (temp_mC == TEMP_NONE)
            continue;
        if (temp_compare(temp_mC, limit->start) <= 0)
            break;
        hot = i;
    }
    return hot;
}

/* The row with which the step begins. A cooling sees all there is: its clock asks where the
 * food was hot. */
static size_t
first_row(const struct verdict_trace *trace, const struct plan_limit *limit)
{
    if (limit->kind == LIMIT_COOL)
        return limit->clock == COOL_CLOCK_STEP ? chilling_row(trace, limit) : 0;
    size_t start = find_event(trace, 0, FORECAST_START);
    size_t moved = limit->kind == LIMIT_TIME ? find_event(trace, 0, FORECAST_MOVED) : start;
    size_t said = start < moved ? start : moved;
    return said < trace->count ? said : 0;
}

/* A person says when cooking ended after looking at the probe: with the first good reading
 * since.
 */
static void
feed_rows(struct judging_trace *t, size_t first)
{
    const struct verdict_trace *trace = t->trace;
    size_t cooked = t->limit->kind == LIMIT_COOL || t->limit->ovens
                        ? find_event(trace, 0, FORECAST_END_OF_COOKING)
                        : trace->count;
    int64_t given_ms = cooked < trace->count ? trace->rows[cooked].at_ms : TIME_NONE;
    for (size_t i = first; i < trace->count; i++) {
        const struct verdict_row *row = &trace->rows[i];
        feed_reading(t, row);
        bool last = i + 1 == trace->count;
        if (given_ms == TIME_NONE || cooked > i || (row->core_mC == TEMP_NONE && !last))
            continue;
        feed_cooked(t, row->at_ms, given_ms);
        given_ms = TIME_NONE;
    }
    int64_t end_ms = trace->rows[trace->count - 1].at_ms;
    if (t->limit->kind == LIMIT_TIME)
        feed_end(t, end_ms);
    else
        tick(t, end_ms, true);
}

/* ---- the verdict ---- */

static void
decided_by(struct verdict *ret, const char *word, const struct decision *said)
{
    ret->word = word;
    ret->reason = decision_reason_word(said->reason);
    ret->phrase = decision_phrase(said);
    ret->at_ms = said->at_ms;
}

static void
undecided(struct verdict *ret, const char *word, const char *reason, const char *phrase)
{
    ret->word = word;
    ret->reason = reason;
    ret->phrase = phrase;
}

/* Nothing was decided by the end of the trace. */
static void
at_end(const struct judging_trace *t, const struct engine_batch_view *view, struct verdict *ret)
{
    bool holding = t->limit->kind == LIMIT_HOLD_HOT || t->limit->kind == LIMIT_HOLD_COLD;
    if (!t->any_good) {
        undecided(ret, "inconclusive", "no-reading", "the trace has no good reading");
    } else if (holding && t->any_gap) {
        ret->at_ms = t->gap_ms;
        undecided(ret, "inconclusive", "no-good-reading",
                  "nobody knows where the temperature was while readings were missing");
    } else if (holding && view->outside) {
        undecided(ret, "inconclusive", "trace-ends",
                  "the trace ends outside the limit, before its tolerance was used up");
    } else if (holding) {
        undecided(ret, "met", "held", "inside the limit throughout");
    } else if (t->limit->kind == LIMIT_TIME && t->limit->has_ceiling && t->any_gap) {
        ret->at_ms = t->gap_ms;
        undecided(ret, "inconclusive", "no-good-reading",
                  "nobody knows how warm it was while readings were missing");
    } else if (t->limit->kind == LIMIT_ZONE) {
        undecided(ret, "met", "held", "not longer in between than allowed");
    } else if (t->limit->kind == LIMIT_TIME) {
        undecided(ret, "met", "held",
                  "gone within the time allowed, if the trace ends with it");
    } else if (view->deadline_ms != TIME_NONE || view->stands_until_ms != TIME_NONE) {
        undecided(ret, "inconclusive", "trace-ends",
                  "the trace ends before the time allowed has passed");
    } else if (t->limit->kind == LIMIT_COOL && view->clock_start_ms == TIME_NONE) {
        undecided(ret, "inconclusive", "trace-ends",
                  "the trace ends before the core has fallen through the start temperature");
    } else if (t->limit->kind == LIMIT_COOL) {
        undecided(ret, "inconclusive", "probe-late",
                  "cold enough in time, but nobody said when cooking ended");
    } else {
        undecided(ret, "not met", "left-early", "the trace ends before the limit was met");
    }
}

/* A question about what is judged beside the food's own limit: its come-up time, or its oven.
 * It says nothing for food whose own limit was not met. */
static bool
is_beside(const struct decision *said)
{
    return said->limit == LIMIT_RISE || said->limit == LIMIT_OVEN ||
           said->limit == LIMIT_MOIST_OVEN;
}

static void
reach(struct judging_trace *t, struct verdict *ret)
{
    struct engine_batch_view batch = {.deadline_ms = TIME_NONE, .stands_until_ms = TIME_NONE};
    struct engine_place_view place = {0};
    (void)engine_view_batches(t->engine, &batch, 1); /* of air there is none */
    if (engine_view_places(t->engine, &place, 1) == 1)
        batch.outside = place.outside;
    ret->at_ms = t->trace->rows[t->trace->count - 1].at_ms;
    ret->earned_ms = t->limit->kind == LIMIT_LETHALITY ? batch.credited_ms : 0;
    if (t->missed.kind == DECISION_DEVIATION_OPENED)
        decided_by(ret, "not met", &t->missed);
    else if (batch.verdict == VERDICT_MET)
        decided_by(ret, "met", &t->met);
    else if (is_beside(&t->unknown) && t->met.kind != DECISION_LIMIT_MET)
        at_end(t, &batch, ret);
    else if (batch.verdict == VERDICT_INCONCLUSIVE ||
             (t->limit->kind == LIMIT_TIME && t->unknown.kind == DECISION_INCONCLUSIVE))
        decided_by(ret, "inconclusive", &t->unknown);
    else
        at_end(t, &batch, ret);
}

bool
verdict_reach(const struct verdict_trace *trace, const struct plan_limit *limit,
              verdict_sink *sink, void *arg, struct verdict *ret)
{
    int32_t every_ms;
    struct judging_trace *t = calloc(1, sizeof *t);
    bool done = t != NULL && period_ms(trace, &every_ms) && (t->engine = engine_new()) != NULL;
    if (done) {
        t->trace = trace;
        t->limit = limit;
        t->sink = sink;
        t->arg = arg;
        t->met.kind = t->missed.kind = t->unknown.kind = DECISION_STEP_BEGUN;
        t->sees_air = limit->ovens != NULL || sees_air(trace, limit);
        build_plan(t, every_ms);
        *ret = (struct verdict){.spacing_ms = SPACING * (int64_t)every_ms};
        size_t first = first_row(trace, limit), plan_row = limit->ovens ? 0 : first;
        int64_t begin_ms = trace->rows[first].at_ms;
        feed(t, &(struct engine_input){.kind = ENGINE_PLAN,
                                       .at_ms = trace->rows[plan_row].at_ms,
                                       .seq = ++t->seq,
                                       .is.plan = &t->plan});
        for (size_t i = plan_row; i < first; i++) /* the oven before the food goes in */
            feed_probe(t, trace->rows[i].at_ms, AIR_PROBE, trace->rows[i].air_mC);
        if (limit->subject == SUBJECT_FOOD)
            feed_begin(t, begin_ms);
        feed_rows(t, first);
        reach(t, ret);
    }
    if (t)
        engine_free(t->engine);
    free(t);
    return done;
}
