/* Date marks. The engine knows no clock: that a day has begun is an entry of nobody's, so that
 * days are counted alike whenever the records are judged. Pure. */
#include "daemon/engine/marks.h"

#include <string.h>

#include "daemon/engine/affected.h"
#include "daemon/engine/batches.h"
#include "trivet/calendar.h"

#define DAY_MS INT64_C(86400000)

/* One food that is counted: a batch, or one in store. */
struct marked {
    struct engine *engine;
    struct engine_output *out;
    int64_t at_ms;
    struct mark_state *mark;
    uint32_t batch;
    const char *place, *step;
};

static struct marked
of_batch(struct engine *engine, struct engine_output *out, int64_t at_ms,
         struct batch_state *batch)
{
    return (struct marked){engine,
                           out,
                           at_ms,
                           &batch->mark,
                           batch->number,
                           batch->place,
                           batch_step(engine, batch)->id};
}

static struct marked
of_stored(struct engine *engine, struct engine_output *out, int64_t at_ms,
          struct stored_state *stored)
{
    return (struct marked){engine,         out,           at_ms, &stored->mark,
                           stored->number, stored->place, ""};
}

/* ---- where it is ---- */

static bool
is_freezer(const struct engine *engine, const char *id)
{
    const struct plan *plan = engine_plan(engine);
    int index = plan ? plan_place_index(plan, id) : -1;
    return index >= 0 && plan->places[index].freezer;
}

/* E230: a freezer that is in deviation keeps nothing frozen for certain. */
static bool
is_broken(const struct engine *engine, const char *id, bool silence_too)
{
    for (size_t i = 0; i < engine->state.counts.deviations; i++) {
        const struct deviation_state *d = &engine->state.deviations[i];
        if (d->ended_ms == TIME_NONE && d->opened.batch == 0 &&
            (silence_too || d->opened.kind != DECISION_GAP_OPENED) &&
            strcmp(d->opened.place, id) == 0)
            return true;
    }
    return false;
}

/* Whether a freezer with a limit has been seen cold enough since the last outage, if any. */
static bool
is_shown(const struct engine *engine, const char *id)
{
    const struct engine_state *state = &engine->state;
    const struct plan *plan = engine_plan(engine);
    int index = plan ? plan_place_index(plan, id) : -1;
    if (index < 0)
        return false;
    return state->places[index].run.of.hold.inside_ms[0] >= state->outage_to_ms;
}

/* ---- what is said ---- */

static struct decision *
say_of(const struct marked *m, enum decision_kind kind, enum decision_reason reason)
{
    struct decision *said = say(m->engine, m->out, m->at_ms, kind, reason);
    said->batch = m->batch;
    keep_word(said->place, sizeof said->place, m->place);
    keep_word(said->step, sizeof said->step, m->step);
    said->limit = LIMIT_DAYS;
    said->required_ms = m->mark->days * DAY_MS;
    said->found_ms = m->mark->used * DAY_MS;
    said->unverified = m->mark->unverified;
    return said;
}

/* Of frozen food: as if it thawed today. */
static int32_t
last_day(const struct mark_state *mark, int32_t today)
{
    int32_t left = mark->days - mark->used;
    int32_t last = mark->counted < today ? today + left - 1 : today + left;
    return mark->use_by != 0 ? (int32_t)least_of(mark->use_by, last) : last;
}

int32_t
mark_last_day(const struct engine *engine, const struct mark_state *mark)
{
    int32_t today = engine->state.today;
    if (mark->days == 0 || mark->counted == 0 || today == 0)
        return 0;
    return last_day(mark, today);
}

static void
tell_date(const struct marked *m, enum decision_reason reason)
{
    int32_t last = mark_last_day(m->engine, m->mark);
    if (last == 0 || m->mark->frozen || m->mark->passed)
        return;
    struct decision *said = say_of(m, DECISION_DATE_MARKED, reason);
    (void)calendar_write(last, said->day);
}

/* E228: its last day can be long ago when days have passed that nobody saw begin. */
static void
judge_date(const struct marked *m)
{
    struct mark_state *mark = m->mark;
    int32_t today = m->engine->state.today;
    bool is_over = mark->used > mark->days || (mark->use_by != 0 && today > mark->use_by);
    if (mark->days == 0 || mark->passed || !is_over)
        return;
    mark->passed = true;
    struct decision *said = say_of(m, DECISION_DEVIATION_OPENED, REASON_DATE_PASSED);
    (void)calendar_write(last_day(mark, today), said->day);
    mark->deviation = deviation_open(m->engine, said);
}

/* ---- counting ---- */

/* Every day counts in which it was not frozen throughout: E227, E229. */
static void
count_to_today(const struct marked *m)
{
    struct mark_state *mark = m->mark;
    int32_t today = m->engine->state.today;
    if (mark->counted == 0 || today <= mark->counted)
        return;
    mark->used += mark->frozen ? 1 : today - mark->counted;
    mark->counted = today;
}

/* E226: from today on, or from a day that a person says. */
static void
start_count(const struct marked *m, int32_t made)
{
    struct mark_state *mark = m->mark;
    int32_t today = m->engine->state.today;
    mark->awaited = today == 0; /* the first day that is heard of is the first day */
    if (mark->awaited)
        return;
    int32_t first = made != 0 ? (int32_t)least_of(made, today) : today;
    mark->counted = today;
    mark->used = today - first + (mark->first_next ? 0 : 1);
    judge_date(m);
    tell_date(m, REASON_ENTERED);
}

/* E230: the freezer was not in order as they passed, for all that anybody knows. */
static void
count_unseen(struct mark_state *mark)
{
    mark->used += mark->unseen;
    mark->unseen = 0;
}

/* E230: of frozen food a day on which nobody knows that it stayed so. */
static void
count_thawed(const struct marked *m)
{
    count_to_today(m);
    judge_date(m);
}

static void
moved(const struct marked *m)
{
    bool was_frozen = m->mark->frozen;
    bool is_frozen = is_freezer(m->engine, m->place);
    if (m->mark->days == 0)
        return;
    if (was_frozen && is_frozen && is_broken(m->engine, m->place, false))
        count_thawed(m); /* from one that is in order, perhaps */
    if (was_frozen == is_frozen)
        return;
    if (was_frozen) { /* E229: the day of thawing counts */
        count_to_today(m);
        m->mark->frozen = false;
        judge_date(m);
        tell_date(m, REASON_ENTERED);
    }
    m->mark->frozen = is_frozen;
}

void
mark_begin(struct engine *engine, struct engine_output *out, int64_t at_ms,
           struct batch_state *batch, const struct entry *entry)
{
    const struct plan_product *product = batch_product(engine, batch);
    struct mark_state *mark = &batch->mark;
    int32_t made = 0;
    if (product->mark.kind == LIMIT_NONE)
        return;
    mark->days = product->mark.days;
    mark->first_next = product->mark.first_day == FIRST_DAY_NEXT;
    mark->unverified = product->mark.unverified;
    (void)calendar_read(entry->until, &mark->use_by);
    (void)calendar_read(entry->made, &made);
    mark->made = made;
    mark->waits = true;
    mark_batch_moved(engine, out, at_ms, batch);
}

/* Whether the count begins with a step that is still to come. */
static bool
waits_for_step(const struct plan_product *product, size_t now)
{
    for (size_t step = now; step < product->step_count; step++)
        if (product->steps[step].starts_date)
            return step != now;
    return false;
}

static void
start_unless(const struct marked *m, bool waits)
{
    if (!m->mark->waits || waits)
        return;
    m->mark->waits = false;
    start_count(m, m->mark->made);
}

void
mark_batch_moved(struct engine *engine, struct engine_output *out, int64_t at_ms,
                 struct batch_state *batch)
{
    struct marked m = of_batch(engine, out, at_ms, batch);
    moved(&m);
    start_unless(&m, waits_for_step(batch_product(engine, batch), batch->step));
}

void
mark_stored_moved(struct engine *engine, struct engine_output *out, int64_t at_ms,
                  struct stored_state *stored)
{
    struct marked m = of_stored(engine, out, at_ms, stored);
    moved(&m);
    start_unless(&m, false); /* no step of it comes any more */
}

void
mark_over(struct engine *engine, struct engine_output *out, int64_t at_ms,
          const struct mark_state *mark, enum decision_reason reason)
{
    const struct deviation_state *deviation =
        mark->deviation != 0 ? deviation_find(engine, mark->deviation) : NULL;
    if (!deviation)
        return;
    struct decision *said = say(engine, out, at_ms, DECISION_DEVIATION_ENDED, reason);
    decision_copy(said, &deviation->opened);
    said->kind = DECISION_DEVIATION_ENDED;
    said->reason = reason;
    said->at_ms = at_ms;
    deviation_end(engine, mark->deviation, at_ms);
}

/* ---- a day begins ---- */

/* E230: the days of which only the last beginning is on record count with a deviation that goes
 * on, or that went on when the outage began. A silence that the outage itself has made (E66)
 * says nothing of them: the freezer was in order when last seen. */
static void
day_begins_frozen(const struct marked *m, int32_t before)
{
    struct mark_state *mark = m->mark;
    int32_t today = m->engine->state.today;
    bool is_thawed = is_broken(m->engine, m->place, false);
    mark->unseen = mark->counted != 0 ? today - before - 1 : 0;
    if (!is_thawed && !is_broken(m->engine, m->place, true) &&
        !(mark->doubted && mark->unseen > 0))
        return;
    if (is_thawed || mark->doubted)
        count_unseen(mark);
    count_to_today(m);
}

static void
day_begins(const struct marked *m, int32_t before)
{
    struct mark_state *mark = m->mark;
    if (mark->days == 0)
        return;
    mark->unseen = 0;
    if (mark->awaited)
        start_count(m, mark->made);
    else if (mark->frozen)
        day_begins_frozen(m, before);
    else
        count_to_today(m);
    mark->doubted = false; /* told now */
    judge_date(m);
}

void
marks_take_day(struct engine *engine, struct engine_output *out, int64_t at_ms,
               const struct entry *entry)
{
    struct engine_state *state = &engine->state;
    int32_t day;
    int32_t before = state->today;
    if (!calendar_read(entry->day, &day) || day <= before)
        return; /* a clock that was set back starts no day anew */
    state->today = day;
    for (size_t i = 0; i < state->counts.batches; i++) {
        if (state->batches[i].number == 0)
            continue;
        struct marked m = of_batch(engine, out, at_ms, &state->batches[i]);
        day_begins(&m, before);
    }
    for (size_t i = 0; i < state->counts.stored; i++) {
        struct marked m = of_stored(engine, out, at_ms, &state->stored[i]);
        day_begins(&m, before);
    }
}

void
mark_thawed(struct engine *engine, struct engine_output *out, int64_t at_ms,
            const struct deviation_state *deviation)
{
    if (!is_freezer(engine, deviation->opened.place))
        return;
    const struct deviation_state copy = *deviation; /* what opens may move the list */
    bool shown = is_shown(engine, copy.opened.place);
    for (size_t i = 0; i < copy.food_count; i++) {
        struct batch_state *batch = batch_find(engine, copy.food[i]);
        struct stored_state *stored = batch ? NULL : stored_find(engine, copy.food[i]);
        if (!batch && !stored)
            continue;
        struct marked m =
            batch ? of_batch(engine, out, at_ms, batch) : of_stored(engine, out, at_ms, stored);
        if (!shown)
            count_unseen(m.mark);
        if (m.mark->frozen && at_ms == engine->state.outage_to_ms)
            m.mark->doubted = true; /* outside when last seen: E62 */
        count_thawed(&m);
    }
}

static void
mark_restart(const struct engine *engine, struct mark_state *mark, const char *place)
{
    if (is_shown(engine, place)) /* in order before and after */
        mark->unseen = 0;
    if (mark->frozen && is_broken(engine, place, true))
        mark->doubted = true;
}

void
marks_restart(struct engine *engine)
{
    struct engine_state *state = &engine->state;
    for (size_t i = 0; i < state->counts.batches; i++)
        if (state->batches[i].number != 0)
            mark_restart(engine, &state->batches[i].mark, state->batches[i].place);
    for (size_t i = 0; i < state->counts.stored; i++)
        mark_restart(engine, &state->stored[i].mark, state->stored[i].place);
}

bool
engine_wants_day(const struct engine *engine)
{
    const struct engine_state *state = &engine->state;
    const struct plan *plan = engine_plan(engine);
    for (size_t i = 0; plan && i < plan->product_count; i++)
        if (plan->products[i].mark.kind != LIMIT_NONE)
            return true;
    for (size_t i = 0; i < state->counts.batches; i++)
        if (state->batches[i].number != 0 && state->batches[i].mark.days != 0)
            return true;
    for (size_t i = 0; i < state->counts.stored; i++)
        if (state->stored[i].mark.days != 0)
            return true;
    return false;
}

bool
engine_day_passed(const struct engine *engine, const char *day)
{
    int32_t number;
    return !calendar_read(day, &number) || number <= engine->state.today;
}
