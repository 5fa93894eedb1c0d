/* What began by itself can be corrected by a person: the instant, or that it was so at all. The
 * record of the step stays, and what follows is judged again from what the run remembers.
 * Whatever could be in the food's favour waits for a second person. Pure. */
#include "daemon/engine/amend.h"

#include <string.h>

#include "daemon/engine/batches.h"

struct batch_state *
amend_batch(struct engine *engine, uint64_t seq)
{
    for (size_t i = 0; seq != 0 && i < engine->state.counts.batches; i++)
        if (engine->state.batches[i].number != 0 && engine->state.batches[i].auto_seq == seq)
            return &engine->state.batches[i];
    return NULL;
}

void
amend_note(struct engine *engine, const struct engine_input *input)
{
    const struct entry *entry = input->is.entry;
    bool begun = entry->kind == ENTRY_BEGIN;
    struct batch_state *batch =
        batch_find(engine, begun ? engine->state.next_batch - 1 : entry->batch);
    if (batch == NULL || entry->who[0] != '\0')
        return;
    batch->auto_seq = input->seq;
    batch->begun_by_itself = begun;
}

/* ---- the deviations of the running cooling ---- */

static struct deviation_state *
first_deviation(const struct judging *j)
{
    struct engine_state *state = &j->engine->state;
    for (size_t i = 0; i < state->counts.deviations; i++) {
        const struct decision *opened = &state->deviations[i].opened;
        if (opened->batch == j->batch && opened->limit == LIMIT_COOL &&
            opened->at_ms >= j->run->begun_ms && strcmp(opened->step, j->step) == 0)
            return &state->deviations[i];
    }
    return NULL;
}

/* E181 */
static bool
needs_second(const struct judging *j, int64_t given_ms)
{
    return cool_favours(j, given_ms) || (given_ms == TIME_NONE && first_deviation(j) != NULL);
}

/* ---- taking it ---- */

static void
drop_questions(struct judging *j)
{
    struct engine_state *state = &j->engine->state;
    for (size_t i = state->counts.undecided; i-- > 0;)
        if (state->undecided[i].said.batch == j->batch &&
            state->undecided[i].serial == j->run->serial)
            undecided_drop(j->engine, i);
}

static void
apply(struct judging *j, struct batch_state *batch, const struct amend_state *amend,
      enum decision_reason reason)
{
    const struct amend_state what = *amend; /* it may be the batch's own */
    memset(&batch->amend, 0, sizeof batch->amend);
    if (what.given_ms != TIME_NONE) {
        judge_say(j, DECISION_STEP_CORRECTED, reason)->since_ms = what.given_ms;
        cool_retime(j, what.given_ms);
        batch_due_again(j, batch);
        return;
    }
    struct deviation_state *deviation;
    judge_say(j, DECISION_STEP_WITHDRAWN, reason);
    while ((deviation = first_deviation(j)) != NULL)
        deviation_withdraw(j->engine, j->out, j->at_ms, deviation);
    drop_questions(j);
    if (batch->begun_by_itself)
        batch_undo(j, batch);
    else
        batch_step_back(j, batch, what.who);
}

void
amend_take(struct engine *engine, struct engine_output *out, const struct engine_input *input)
{
    const struct entry *entry = input->is.entry;
    struct batch_state *batch = amend_batch(engine, entry->refers);
    if (batch == NULL)
        return;
    struct judging j;
    judging_batch(&j, engine, out, input->at_ms, batch);
    struct amend_state amend = {.seq = input->seq,
                                .given_ms = entry->withdraw ? TIME_NONE : entry->given_ms};
    keep_word(amend.who, sizeof amend.who, entry->who);
    if (!needs_second(&j, amend.given_ms)) {
        apply(&j, batch, &amend, REASON_ENTERED);
        return;
    }
    memcpy(&batch->amend, &amend, sizeof amend);
    judge_say(&j, DECISION_CORRECTION_WAITS, REASON_ENTERED)->since_ms = amend.given_ms;
}

void
amend_dropped(struct judging *j, struct batch_state *batch, enum decision_reason reason)
{
    if (batch->amend.seq == 0)
        return;
    judge_say(j, DECISION_CORRECTION_DROPPED, reason)->since_ms = batch->amend.given_ms;
    memset(&batch->amend, 0, sizeof batch->amend);
}

void
amend_confirm(struct engine *engine, struct engine_output *out,
              const struct engine_input *input)
{
    struct batch_state *batch = batch_find(engine, input->is.entry->batch);
    if (batch == NULL || batch->amend.seq == 0)
        return;
    struct judging j;
    judging_batch(&j, engine, out, input->at_ms, batch);
    if (input->is.entry->accept)
        apply(&j, batch, &batch->amend, REASON_CONFIRMED);
    else
        amend_dropped(&j, batch, REASON_DECLINED);
}

/* ---- whether it makes sense ---- */

bool
check_amend(const struct check *c)
{
    const struct entry *entry = c->entry;
    const struct engine_state *state = &c->engine->state;
    const struct batch_state *batch = amend_batch(looked_at(c), entry->refers);
    if (batch == NULL)
        return wrong(c,
                     "record %llu is no step that began by itself and still runs; only that "
                     "can be given another time or be withdrawn. Add a note if it is wrong",
                     (unsigned long long)entry->refers);
    if (entry->has_temp)
        return wrong(c, "a step has no temperature to correct; give its time, or withdraw it");
    if (entry->withdraw && entry->given_ms != TIME_NONE)
        return wrong(c, "give another time or withdraw it, not both at once");
    if (batch->amend.seq != 0)
        return wrong(c,
                     "a correction of batch %u by %s waits already; confirm or decline that "
                     "first",
                     batch->number, batch->amend.who);
    if (entry->withdraw)
        return true;
    if (entry->given_ms > state->now_ms + 60000)
        return wrong(c, "that time is still to come; give when the food fell through the start "
                        "of its cooling");
    if (entry->given_ms < state->first_ms)
        return wrong(c, "there are no records of that time; give when the food fell through "
                        "the start of its cooling");
    return true;
}

bool
check_confirm(const struct check *c)
{
    const struct batch_state *batch = batch_find(looked_at(c), c->entry->batch);
    if (batch == NULL || batch->amend.seq == 0)
        return wrong(c, "no correction of batch %u waits for a second person", c->entry->batch);
    if (c->entry->accept && strcmp(batch->amend.who, c->entry->who) == 0 &&
        !c->plan->sole_operator)
        return wrong(c,
                     "%s asked for this correction and cannot confirm it; another person has "
                     "to, or declines it",
                     c->entry->who);
    return true;
}
