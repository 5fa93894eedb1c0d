/* Whether an entry makes sense now; if not, what is wrong and what to do, in words for a cook.
 * Reads only. */
#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "daemon/engine/affected.h"
#include "daemon/engine/amend.h"
#include "daemon/engine/batches.h"
#include "daemon/engine/beside.h"
#include "daemon/engine/calibrate.h"
#include "daemon/engine/check.h"
#include "daemon/engine/probes.h"
#include "trivet/calendar.h"

/* The last input may be a little older than the moment a person calls now. Taken in, a time
 * given is never later than its entry (E36). */
#define GIVEN_AHEAD_MS 60000

bool
wrong(const struct check *c, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    /* NOLINTNEXTLINE(clang-analyzer-valist.Uninitialized): va_start is just above */
    (void)vsnprintf(c->reterr, c->err_size, format,
                    args); /* a message cut short is still a message */
    va_end(args);
    return false;
}

void
list_add(struct list *list, const char *word)
{
    size_t left = sizeof list->text - list->len;
    if (list->is_cut)
        return;
    list->is_cut = left < 48;
    list->len += (size_t)snprintf(list->text + list->len, left, "%s%s", list->len ? ", " : "",
                                  list->is_cut ? "..." : word);
}

const char *
or_none(const struct list *list)
{
    return list->len ? list->text : "none";
}

/* ---- people ---- */

static bool
check_who(const struct check *c)
{
    if (!c->entry->who[0])
        return wrong(c, "nobody is named; give the initials of who does this");
    if (plan_person(c->plan, c->entry->who))
        return true;
    struct list known = {0};
    for (size_t i = 0; i < c->plan->person_count; i++)
        list_add(&known, c->plan->people[i].initials);
    return wrong(c, "nobody with the initials '%s' is in the plan; known are: %s",
                 c->entry->who, or_none(&known));
}

/* ---- batches ---- */

struct engine *
looked_at(const struct check *c)
{
    return (struct engine *)(uintptr_t)c->engine; /* the finders do not change it */
}

const struct batch_state *
check_batch(const struct check *c)
{
    const struct batch_state *batch = batch_find(looked_at(c), c->entry->batch);
    if (batch)
        return batch;
    struct list open = {0};
    for (size_t i = 0; i < c->engine->state.counts.batches; i++) {
        char number[12];
        if (c->engine->state.batches[i].number == 0)
            continue;
        (void)snprintf(number, sizeof number, "%u", c->engine->state.batches[i].number);
        list_add(&open, number);
    }
    if (c->entry->batch == 0)
        (void)wrong(c, "no batch is named; open are: %s", or_none(&open));
    else
        (void)wrong(c, "batch %u is not open; open are: %s", c->entry->batch, or_none(&open));
    return NULL;
}

bool
check_place(const struct check *c, const struct plan *plan)
{
    if (!c->entry->place[0] || plan_place_index(plan, c->entry->place) >= 0)
        return true;
    struct list known = {0};
    for (size_t i = 0; i < plan->place_count; i++)
        list_add(&known, plan->places[i].id);
    return wrong(c, "there is no place '%s' in the plan; known are: %s", c->entry->place,
                 or_none(&known));
}

static bool
check_step(const struct check *c, const struct plan_product *product)
{
    if (!c->entry->step[0] || plan_step_index(product, c->entry->step) >= 0)
        return true;
    struct list known = {0};
    for (size_t i = 0; i < product->step_count; i++)
        list_add(&known, product->steps[i].id);
    return wrong(c, "'%s' has no step '%s'; its steps are: %s", product->id, c->entry->step,
                 or_none(&known));
}

static bool
check_probe(const struct check *c, const struct plan *plan, size_t i, uint32_t batch)
{
    const char *id = c->entry->probes[i];
    int index = plan_probe_index(plan, id);
    if (index < 0) {
        struct list known = {0};
        for (size_t p = 0; p < plan->probe_count; p++)
            if (plan->probes[p].kind == PROBE_FOOD)
                list_add(&known, plan->probes[p].id);
        return wrong(c, "there is no probe '%s' in the plan; food probes are: %s", id,
                     or_none(&known));
    }
    const struct plan_probe *probe = &plan->probes[index];
    if (probe->kind != PROBE_FOOD)
        return wrong(c, "probe '%s' measures air; name a probe that is put into food", id);
    if (probe->number == 0)
        return wrong(c, "probe '%s' has no stored number yet; restart trivetd with this plan",
                     id);
    for (size_t k = 0; k < i; k++)
        if (strcmp(c->entry->probes[k], id) == 0)
            return wrong(c, "probe '%s' is named twice; name it once", id);
    const struct probe_state *state = probe_find(looked_at(c), probe->number);
    if (!state || state->batch == 0 ||
        c->engine->state.batches[state->batch - 1].number == batch)
        return true;
    return wrong(c, "probe '%s' is in batch %u; name another, or end or move that batch first",
                 id, c->engine->state.batches[state->batch - 1].number);
}

static bool
check_probes(const struct check *c, const struct plan *plan, uint32_t batch)
{
    for (size_t i = 0; i < c->entry->probe_count; i++)
        if (!check_probe(c, plan, i, batch))
            return false;
    return true;
}

/* E226: from when food counts; and by when whoever made it says. */
static bool
check_days(const struct check *c, const struct plan_product *product)
{
    int32_t day;
    const char *given = c->entry->made[0] ? c->entry->made : c->entry->until;
    if (!given[0])
        return true;
    if (product->mark.kind == LIMIT_NONE)
        return wrong(c, "'%s' has no date mark in the plan (date_mark); leave the day out",
                     product->id);
    if ((c->entry->made[0] && !calendar_read(c->entry->made, &day)) ||
        (c->entry->until[0] && !calendar_read(c->entry->until, &day)))
        return wrong(c, "there is no such day; write it as 2026-03-01");
    if (c->entry->made[0] && calendar_read(c->entry->made, &day) &&
        c->engine->state.today != 0 && day > c->engine->state.today)
        return wrong(c, "the day on which it was made is still to come; give the right one");
    return true;
}

static bool
check_begin(const struct check *c)
{
    const struct plan_product *product = plan_product(c->plan, c->entry->product);
    if (!product) {
        struct list known = {0};
        for (size_t i = 0; i < c->plan->product_count; i++)
            list_add(&known, c->plan->products[i].id);
        return wrong(c, "there is no product '%s' in the plan; known are: %s",
                     c->entry->product, or_none(&known));
    }
    if (batches_open(c->engine) == ENGINE_BATCHES_MAX)
        return wrong(c, "%d batches are open, which is the most there can be; end one first",
                     ENGINE_BATCHES_MAX);
    if (!plans_leave_room(c->engine))
        return wrong(c,
                     "batches of %d older plans are still open; end the oldest of them first",
                     ENGINE_PLANS_MAX - 1);
    return check_days(c, product) && check_step(c, product) && check_place(c, c->plan) &&
           check_probes(c, c->plan, 0);
}

/* E190: food in store has a place and no steps. */
static bool
check_stored(const struct check *c)
{
    const struct entry *entry = c->entry;
    if (entry->kind == ENTRY_END && entry->outcome == OUTCOME_STORED)
        return wrong(c,
                     "batch %u is in store already; move it with `trivet next %u --place`, or "
                     "say served or discarded",
                     entry->batch, entry->batch);
    if (entry->kind == ENTRY_END)
        return entry->outcome != OUTCOME_NONE ||
               wrong(c, "what became of the batch is missing; say served or discarded");
    if (entry->step[0] || entry->probe_count != 0)
        return wrong(c,
                     "batch %u has ended and is in store: it has no steps and no probes; name "
                     "only the place it goes to, or begin a batch with it",
                     entry->batch);
    if (!entry->place[0])
        return wrong(c, "batch %u is in store; name the place it goes to with --place",
                     entry->batch);
    return check_place(c, c->plan);
}

static bool
is_stored(const struct check *c)
{
    return batch_find(looked_at(c), c->entry->batch) == NULL &&
           stored_find(looked_at(c), c->entry->batch) != NULL;
}

/* E194: what the plan lets food have once only. */
static bool
check_once(const struct check *c, const struct batch_state *batch, const struct plan_step *step)
{
    if (step->limit.kind == LIMIT_REHEAT && step->limit.once && batch->reheated)
        return wrong(c,
                     "batch %u has been reheated already, and the plan lets it be reheated "
                     "once only (once: yes); say what else becomes of it",
                     batch->number);
    if (step->limit.kind == LIMIT_COOL && step->limit.once && batch->cooled)
        return wrong(c,
                     "batch %u has been cooled already, and the plan lets it be cooled once "
                     "only (once: yes); say what else becomes of it",
                     batch->number);
    return true;
}

static bool
check_move(const struct check *c)
{
    if (is_stored(c))
        return check_stored(c);
    const struct batch_state *batch = check_batch(c);
    if (!batch)
        return false;
    const struct plan *plan = c->engine->plans[batch->plan];
    const struct plan_product *product = batch_product(c->engine, batch);
    if (!c->entry->step[0] && batch->step + 1 >= product->step_count)
        return wrong(c,
                     "batch %u is in its last step, '%s'; end it, or name a step to go back to",
                     batch->number, product->steps[batch->step].id);
    if (!check_step(c, product))
        return false;
    int step = c->entry->step[0] ? plan_step_index(product, c->entry->step) : batch->step + 1;
    return check_once(c, batch, &product->steps[step]) && check_place(c, plan) &&
           check_probes(c, plan, batch->number);
}

/* E238: what is to be thrown away is neither served nor kept; what is on hold is not served as
 * long as its deviation can still be acted on. */
static bool
check_bar(const struct check *c)
{
    uint32_t batch = c->entry->batch;
    const struct bar_state *bar = bar_of(c->engine, batch);
    if (!bar || c->entry->outcome == OUTCOME_DISCARDED)
        return true;
    bool listed = bar->deviation != 0 && deviation_find(looked_at(c), bar->deviation) != NULL;
    if (bar->disposition == DISPOSITION_DISCARD && listed)
        return wrong(c,
                     "batch %u is to be thrown away, says the corrective action on deviation "
                     "%u; end it as discarded, or record another action there if that was "
                     "wrong",
                     batch, bar->deviation);
    if (bar->disposition == DISPOSITION_DISCARD)
        return wrong(c,
                     "batch %u is to be thrown away, says a corrective action; end it as "
                     "discarded",
                     batch);
    if (listed && c->entry->outcome == OUTCOME_SERVED)
        return wrong(c,
                     "batch %u is on hold, says the corrective action on deviation %u; record "
                     "there first what becomes of it",
                     batch, bar->deviation);
    return true;
}

static bool
check_end(const struct check *c)
{
    if (is_stored(c))
        return check_stored(c) && check_bar(c);
    if (!check_batch(c) || !check_place(c, c->plan))
        return false;
    if (c->entry->outcome == OUTCOME_NONE)
        return wrong(c, "what became of the batch is missing; say served, stored or discarded");
    return check_bar(c);
}

/* E234: in a step whose limit is one for the surface, which side; in any other the core. */
static bool
check_side(const struct check *c, const struct batch_state *batch)
{
    if (!batch)
        return false;
    bool is_surface = batch_step(c->engine, batch)->limit.subject == SUBJECT_SURFACE;
    bool is_side = strcmp(c->entry->side, "top") == 0 || strcmp(c->entry->side, "bottom") == 0;
    if (is_surface && !is_side)
        return wrong(c, "the limit of this step is one for the surface; say which side was "
                        "measured: top or bottom");
    return is_surface || !c->entry->side[0] ||
           wrong(c, "the limit of this step is not one for a surface; leave the side out");
}

static bool
check_hand(const struct check *c)
{
    if (!c->entry->has_temp)
        return wrong(c, "the temperature is missing; give what the thermometer shows");
    if (!plan_handheld(c->plan, c->entry->thermometer)) {
        struct list known = {0};
        for (size_t i = 0; i < c->plan->handheld_count; i++)
            list_add(&known, c->plan->handhelds[i].id);
        return wrong(c, "there is no thermometer '%s' in the plan; known are: %s",
                     c->entry->thermometer, or_none(&known));
    }
    if (c->entry->batch != 0)
        return check_side(c, check_batch(c));
    if (c->entry->side[0])
        return wrong(c, "a side is one of the food; name the batch, or leave the side out");
    if (!c->entry->place[0])
        return wrong(c, "what was measured is missing; name a batch or a place");
    return check_place(c, c->plan);
}

/* E145: only an earlier time is news; a later one would be in the food's favour. */
static bool
check_left(const struct check *c, const struct batch_state *batch)
{
    if (c->entry->given_ms == TIME_NONE)
        return wrong(c, "the time is missing; give when it left temperature control");
    if (c->entry->given_ms < batch->run.of.time.from_ms)
        return true;
    return wrong(c,
                 "the time of batch %u counts from no later than that already; give an earlier "
                 "time, or add a note",
                 batch->number);
}

static bool
check_cooked(const struct check *c)
{
    const struct batch_state *batch = check_batch(c);
    if (!batch)
        return false;
    const struct plan_step *step = batch_step(c->engine, batch);
    if (step->limit.kind == LIMIT_TIME)
        return check_left(c, batch);
    struct judging j;
    judging_batch(&j, looked_at(c), NULL, c->engine->state.now_ms,
                  batch_find(looked_at(c), batch->number));
    if (beside_has_oven(&j)) /* E223: it was taken out */
        return true;
    if (step->limit.kind != LIMIT_COOL)
        return wrong(
            c, "batch %u is in step '%s', which is no cooling; move it to its cooling first",
            batch->number, step->id);
    if (c->entry->given_ms == TIME_NONE)
        return wrong(c, "the time is missing; give when cooking ended");
    if (c->engine->state.now_ms != TIME_NONE &&
        c->entry->given_ms > c->engine->state.now_ms + GIVEN_AHEAD_MS)
        return wrong(c, "that time is still to come; give when cooking ended");
    if (step->limit.start_within_ms != 0) {
        if (cool_takes_delay(&step->limit, &batch->run))
            return true;
        return wrong(c,
                     "when cooking of batch %u ended has been said already; add a note if that "
                     "is wrong",
                     batch->number);
    }
    if (batch->run.of.cool.clock_ms == TIME_NONE && batch->run.of.cool.above_ms != TIME_NONE)
        return wrong(
            c,
            "a probe has seen batch %u hot, so its cooling clock starts by itself when it "
            "falls through the start",
            batch->number);
    if (!cool_takes_clock(&batch->run))
        return wrong(
            c,
            "the cooling of batch %u has its clock already, from what its probe saw or "
            "a time given before; add a note if that is wrong",
            batch->number);
    return true;
}

static bool
check_correct(const struct check *c)
{
    if (c->entry->refers == 0)
        return wrong(c, "which record to correct is missing; give its number");
    if (!c->entry->reason[0])
        return wrong(c, "the reason is missing; say why the entry has to be corrected");
    if (c->entry->withdraw || c->entry->given_ms != TIME_NONE)
        return check_amend(c);
    if (!c->entry->has_temp && !c->entry->text[0])
        return wrong(c, "what it should read is missing; give a temperature or a text");
    return true;
}

/* E175: hot food on a probe is none of ours. That it is, is said by beginning its batch. */
static bool
check_decide_probe(const struct check *c)
{
    int index = plan_probe_index(c->plan, c->entry->probe);
    const struct probe_state *probe =
        index >= 0 ? probe_find(looked_at(c), c->plan->probes[index].number) : NULL;
    if (c->entry->batch != 0)
        return wrong(c, "decide about a batch or about a probe, not both at once");
    if (probe == NULL || !probe->asked)
        return wrong(c, "nothing about probe '%s' waits for a decision", c->entry->probe);
    if (c->entry->accept)
        return wrong(c, "say which food it is: begin its batch with probe '%s' in it",
                     c->entry->probe);
    return true;
}

/* E239: what nobody knows of a cooling is when it began. That it ends cold is to be measured.
 */
static bool
check_accepted(const struct check *c, const struct undecided *asked)
{
    char text[32];
    const struct batch_state *batch = batch_find(looked_at(c), asked->said.batch);
    if (!c->entry->accept || !batch || batch->run.serial != asked->serial ||
        asked->said.limit != LIMIT_COOL || asked->said.reason != REASON_PROBE_LATE)
        return true;
    const struct plan_limit *limit = &batch_step(c->engine, batch)->limit;
    if (!cool_is_asked_warm(limit, &batch->run))
        return true;
    return wrong(c,
                 "batch %u does not show %s yet; accept its cooling when it does, or say when "
                 "cooking ended",
                 batch->number,
                 limit_temp_text(text, sizeof text, limit->stages[limit->stage_count - 1].to));
}

static bool
check_decide(const struct check *c)
{
    if (!c->entry->reason[0])
        return wrong(c, "the reason is missing; say what the decision rests on");
    if (c->entry->probe[0])
        return check_decide_probe(c);
    struct list waiting = {0};
    for (size_t i = 0; i < c->engine->state.counts.undecided; i++) {
        char number[12];
        uint32_t batch = c->engine->state.undecided[i].said.batch;
        if (batch == c->entry->batch && batch != 0)
            return check_accepted(c, &c->engine->state.undecided[i]);
        (void)snprintf(number, sizeof number, "%u", batch);
        list_add(&waiting, number);
    }
    return wrong(c, "nothing about batch %u waits for a decision; batches that do: %s",
                 c->entry->batch, or_none(&waiting));
}

static bool
check_note(const struct check *c)
{
    if (!c->entry->text[0])
        return wrong(c, "the note is empty; write what to remember");
    return check_place(c, c->plan); /* a note may be about a batch that has ended */
}

/* E240: whether they have PINs of their own, those at the door know. */
static bool
check_pin(const struct check *c)
{
    const struct plan_person *by = plan_person(c->plan, c->entry->by);
    if (c->entry->by[0] == '\0')
        return true;
    if (by == NULL || by->role != ROLE_SUPERVISOR || strcmp(c->entry->by, c->entry->who) == 0)
        return wrong(c, "only another person, a supervisor, vouches for a first PIN");
    return true;
}

/* Quiet hours are bounded, and said for one limit that there is (E110). */
static bool
check_quiet(const struct check *c)
{
    if (!c->entry->place[0])
        return wrong(c, "the place is missing; name the place that is quiet");
    if (!check_place(c, c->plan))
        return false;
    int index = plan_place_index(c->plan, c->entry->place);
    const struct place_state *place = &c->engine->state.places[index];
    int64_t max_ms = c->plan->tolerances.quiet_max_ms;
    if (c->plan->places[index].limit.kind == LIMIT_NONE)
        return wrong(c, "place '%s' has no limit that could be suspended", c->entry->place);
    if (c->entry->end && place->quiet_until_ms == TIME_NONE)
        return wrong(c, "place '%s' is not quiet: its limit holds already", c->entry->place);
    if (c->entry->end)
        return true;
    if (place->quiet_until_ms != TIME_NONE)
        return wrong(c, "place '%s' is quiet already; end that first, then say it anew",
                     c->entry->place);
    if (c->entry->why == QUIET_NONE)
        return wrong(c, "why is missing; say off, empty, defrosting or cleaning");
    if (c->entry->for_ms <= 0 || c->entry->for_ms > max_ms)
        return wrong(c,
                     "for how long has to be said, at most %lld min (tolerances: "
                     "quiet_at_most)",
                     (long long)(max_ms / 60000));
    return true;
}

bool
engine_check(const struct engine *engine, const struct entry *entry, char *reterr,
             size_t err_size)
{
    const struct check c = {.engine = engine,
                            .plan = engine_plan(engine),
                            .entry = entry,
                            .reterr = reterr,
                            .err_size = err_size};
    if (!c.plan)
        return wrong(&c, "no plan is in force; start trivetd with a plan first");
    if (!check_who(&c))
        return false;
    if ((entry->kind == ENTRY_BEGIN || entry->kind == ENTRY_MOVE) && entry->probe[0])
        return wrong(&c, "\"probe\" is for steps that begin by themselves; name the probes in "
                         "the food as \"probes\"");
    switch (entry->kind) {
    case ENTRY_BEGIN:
        return check_begin(&c);
    case ENTRY_MOVE:
        return check_move(&c);
    case ENTRY_END:
        return check_end(&c);
    case ENTRY_HAND:
        return check_hand(&c);
    case ENTRY_COOKED:
        return check_cooked(&c);
    case ENTRY_NOTE:
        return check_note(&c);
    case ENTRY_CORRECT:
        return check_correct(&c);
    case ENTRY_CONFIRM:
        return check_confirm(&c);
    case ENTRY_ACTION:
        return check_action(&c);
    case ENTRY_VERIFY:
        return check_verify(&c);
    case ENTRY_DECIDE:
        return check_decide(&c);
    case ENTRY_DAY:
        return wrong(&c, "a day begins by the site's clock; nobody enters it");
    case ENTRY_QUIET:
        return check_quiet(&c);
    case ENTRY_REVIEW:
        return check_review(&c);
    case ENTRY_HEARD:
        return check_heard(&c);
    case ENTRY_SHELVE:
        return check_shelve(&c);
    case ENTRY_PIN:
        return check_pin(&c);
    case ENTRY_CALIBRATE:
        return calibration_check(engine, entry, reterr, err_size);
    case ENTRY_NONE:
        break;
    }
    return wrong(&c, "that is no kind of entry; see `trivet help`");
}
