/* What people enter: hand readings, times, corrections, decisions, corrective actions and their
 * verification. Pure. */
#include "daemon/engine/entries.h"

#include <assert.h>
#include <string.h>

#include "daemon/engine/affected.h"
#include "daemon/engine/alarms.h"
#include "daemon/engine/amend.h"
#include "daemon/engine/batches.h"
#include "daemon/engine/beside.h"
#include "daemon/engine/by_itself.h"
#include "daemon/engine/calibrate.h"
#include "daemon/engine/credible.h"
#include "daemon/engine/marks.h"
#include "daemon/engine/places.h"
#include "daemon/engine/probes.h"

/* E217: a thermometer that was left outside its tolerance shows no limit to be kept; it may
 * show one to be broken. */
static bool
hand_counts(struct judging *j, const struct entry *entry)
{
    j->is_doubted = calibration_is_doubted(j->engine, entry);
    if (!j->is_doubted)
        return true;
    switch (j->limit->kind) {
    case LIMIT_HOLD_HOT:
        return !satisfies_least(entry->temp_mC, j->limit->temp, j->limit->strict);
    case LIMIT_HOLD_COLD:
        return !satisfies_most(entry->temp_mC, j->limit->temp, j->limit->strict);
    case LIMIT_TIME: /* its ceiling; the judge knows */
        return true;
    default:
        return false;
    }
}

static void
hand_of_batch(struct engine *engine, struct engine_output *out,
              const struct engine_input *input, struct batch_state *batch)
{
    const struct entry *entry = input->is.entry;
    struct judging j;
    judging_batch(&j, engine, out, input->at_ms, batch);
    j.seq = input->seq;
    j.side = entry->side[0] == '\0' ? 0 : entry->side[0] == 't' ? 1 : 2;
    const bool is_doubted = calibration_is_doubted(engine, entry);
    for (size_t i = 0; i < batch->run.watch_count && !is_doubted; i++) {
        struct watch *watch = &batch->run.watch[i];
        credible_by_hand(&j, probe_find(engine, watch->probe), watch, entry->temp_mC);
    }
    hand_add(engine, input->seq, batch->number)->serial = batch->run.serial;
    if (hand_counts(&j, entry))
        judge_of(j.limit->kind)->hand(&j, entry->temp_mC);
    beside_hand(&j, entry->temp_mC);
    beside_follow(&j);
    batch_due_again(&j, batch);
}

static void
take_hand(struct engine *engine, struct engine_output *out, const struct engine_input *input)
{
    const struct entry *entry = input->is.entry;
    struct batch_state *batch = batch_find(engine, entry->batch);
    if (batch)
        hand_of_batch(engine, out, input, batch);
    int place = engine->state.in_force >= 0
                    ? plan_place_index(engine->plans[engine->state.in_force], entry->place)
                    : -1;
    if (batch || place < 0 || place_is_quiet(engine, (size_t)place))
        return;
    struct judging j;
    judging_place(&j, engine, out, input->at_ms, (size_t)place);
    if (hand_counts(&j, entry))
        judge_of(j.limit->kind)->hand(&j, entry->temp_mC);
    place_due_again(&j, (size_t)place);
}

static void
take_cooked(struct engine *engine, struct engine_output *out, const struct engine_input *input)
{
    struct batch_state *batch = batch_find(engine, input->is.entry->batch);
    if (!batch)
        return;
    struct judging j;
    judging_batch(&j, engine, out, input->at_ms, batch);
    if (j.limit->kind == LIMIT_COOL)
        cool_cooked(&j, input->is.entry->given_ms);
    else if (j.limit->kind == LIMIT_TIME)
        time_left(&j, input->is.entry->given_ms);
    else
        beside_oven_over(&j);
    batch_due_again(&j, batch);
}

/* ---- corrections ---- */

static bool
still_met(const struct hand_state *hand, int32_t temp_mC)
{
    return hand->met.limit == LIMIT_COOL
               ? satisfies_most(temp_mC, hand->met.required, hand->strict)
               : satisfies_least(temp_mC, hand->met.required, hand->strict);
}

/* E71: a met limit whose hand reading, as corrected, would not have met it is a question for a
 * person. */
static void
question(struct engine *engine, struct engine_output *out, int64_t at_ms,
         const struct hand_state *hand, int32_t temp_mC)
{
    struct decision *said = say(engine, out, at_ms, DECISION_INCONCLUSIVE, REASON_CORRECTED);
    decision_copy(said, &hand->met);
    said->kind = DECISION_INCONCLUSIVE;
    said->reason = REASON_CORRECTED;
    said->at_ms = at_ms;
    said->temp_mC = temp_mC;
    struct batch_state *batch = batch_find(engine, hand->batch);
    struct judging j;
    if (batch && batch->run.serial == hand->serial) {
        judging_batch(&j, engine, out, at_ms, batch);
        judge_undecided(&j, said);
        return;
    }
    if (!undecided_add(engine, said, hand->serial)) { /* E73 */
        said->kind = DECISION_DEVIATION_OPENED;
        deviation_end(engine, deviation_open(engine, said), at_ms);
    }
}

/* E72: a hand reading that, as corrected, was outside a holding limit breaches it from now on.
 */
static void
breach_anew(struct engine *engine, struct engine_output *out, int64_t at_ms,
            const struct hand_state *hand, int32_t temp_mC)
{
    struct batch_state *batch = batch_find(engine, hand->batch);
    if (!batch || batch->run.serial != hand->serial)
        return;
    struct judging j;
    judging_batch(&j, engine, out, at_ms, batch);
    bool hot = j.limit->kind == LIMIT_HOLD_HOT, cold = j.limit->kind == LIMIT_HOLD_COLD;
    if ((hot && !satisfies_least(temp_mC, j.limit->temp, j.limit->strict)) ||
        (cold && !satisfies_most(temp_mC, j.limit->temp, j.limit->strict)))
        judge_of(j.limit->kind)->hand(&j, temp_mC);
    batch_due_again(&j, batch);
}

static void
take_correction(struct engine *engine, struct engine_output *out,
                const struct engine_input *input)
{
    const struct entry *entry = input->is.entry;
    if (entry->withdraw || entry->given_ms != TIME_NONE) {
        amend_take(engine, out, input);
        return;
    }
    if (!entry->has_temp)
        return;
    for (size_t i = 0; i < engine->state.counts.hands; i++) {
        struct hand_state *hand = &engine->state.hands[i];
        if (hand->seq != entry->refers)
            continue;
        if (!hand->rests) {
            breach_anew(engine, out, input->at_ms, hand, entry->temp_mC);
        } else if (!still_met(hand, entry->temp_mC)) {
            hand->rests = false; /* asked once */
            question(engine, out, input->at_ms, hand, entry->temp_mC);
        }
    }
}

/* ---- decisions of people ---- */

/* E175 */
static void
take_none_of_ours(struct engine *engine, struct engine_output *out,
                  const struct engine_input *input)
{
    const struct plan *plan = engine_plan(engine);
    int index = plan ? plan_probe_index(plan, input->is.entry->probe) : -1;
    struct probe_state *probe =
        index >= 0 ? probe_find(engine, plan->probes[index].number) : NULL;
    if (probe != NULL)
        hot_clear(engine, out, input->at_ms, probe, REASON_ENTERED);
}

static void
take_decision(struct engine *engine, struct engine_output *out,
              const struct engine_input *input)
{
    const struct entry *entry = input->is.entry;
    if (entry->probe[0]) {
        take_none_of_ours(engine, out, input);
        return;
    }
    size_t i = 0;
    while (i < engine->state.counts.undecided &&
           engine->state.undecided[i].said.batch != entry->batch)
        i++;
    if (i == engine->state.counts.undecided)
        return;
    struct decision said;
    decision_copy(&said, &engine->state.undecided[i].said);
    uint32_t serial = engine->state.undecided[i].serial;
    undecided_drop(engine, i);
    struct decision *resolved =
        say(engine, out, input->at_ms, DECISION_RESOLVED, REASON_ENTERED);
    decision_copy(resolved, &said);
    resolved->kind = DECISION_RESOLVED;
    resolved->reason = REASON_ENTERED;
    resolved->at_ms = input->at_ms;
    resolved->accepted = entry->accept;
    struct decision *opened = NULL;
    if (!entry->accept) {
        opened = say(engine, out, input->at_ms, DECISION_DEVIATION_OPENED, said.reason);
        decision_copy(opened, &said);
        opened->kind = DECISION_DEVIATION_OPENED;
        opened->at_ms = input->at_ms;
    }
    struct batch_state *batch = batch_find(engine, entry->batch);
    struct judging j;
    bool of_step = batch && batch->run.serial == serial, of_batch = false;
    if (batch) {
        judging_batch(&j, engine, out, input->at_ms, batch);
        of_batch = of_step || beside_by_serial(&j, serial);
    }
    if (of_batch) {
        if (opened)
            judge_open(&j, opened);
        else if (j.run->verdict == VERDICT_INCONCLUSIVE && !judge_waits(&j))
            j.run->verdict = VERDICT_OPEN;
        judge_of(j.limit->kind)->decided(&j, &said, entry->accept);
        judging_batch(&j, engine, out, input->at_ms, batch);
        batch_due_again(&j, batch);
        return;
    }
    if (!opened)
        return;
    uint32_t number = deviation_open(engine, opened); /* of a step that is over */
    struct decision *ended =
        say(engine, out, input->at_ms, DECISION_DEVIATION_ENDED, REASON_BATCH_ENDED);
    decision_copy(ended, opened);
    ended->kind = DECISION_DEVIATION_ENDED;
    ended->reason = REASON_BATCH_ENDED;
    deviation_end(engine, number, input->at_ms);
}

static void
take_action(struct engine *engine, const struct engine_input *input)
{
    struct deviation_state *deviation = deviation_find(engine, input->is.entry->deviation);
    if (!deviation)
        return;
    deviation->action_seq = input->seq;
    deviation->action_ms = input->at_ms;
    deviation->verified_seq = 0; /* a later action is to be verified again */
    keep_word(deviation->action_by, sizeof deviation->action_by, input->is.entry->who);
    bar_action(engine, input->is.entry);
    alarm_acted(engine, input->at_ms, input->is.entry);
}

static void
take_verification(struct engine *engine, const struct engine_input *input)
{
    struct deviation_state *deviation = deviation_find(engine, input->is.entry->deviation);
    if (!deviation)
        return;
    deviation->verified_seq = input->seq; /* closed, if that closes it, as alarms follow */
}

/* E196: the last ones are remembered. */
static void
take_review(struct engine *engine, const struct entry *entry)
{
    struct engine_state *state = &engine->state;
    struct review_state *review = &state->reviews[state->review_next];
    keep_word(review->day, sizeof review->day, entry->day);
    state->review_next = (state->review_next + 1) % ENGINE_REVIEWS_MAX;
    if (state->counts.reviews < ENGINE_REVIEWS_MAX)
        state->counts.reviews++;
}

void
entry_take(struct engine *engine, struct engine_output *out, const struct engine_input *input)
{
    switch (input->is.entry->kind) {
    case ENTRY_BEGIN:
        if (batch_begin(engine, out, input->at_ms, input->is.entry))
            amend_note(engine, input);
        break;
    case ENTRY_MOVE:
        if (batch_move(engine, out, input->at_ms, input->is.entry))
            amend_note(engine, input);
        break;
    case ENTRY_END:
        batch_end(engine, out, input->at_ms, input->is.entry);
        break;
    case ENTRY_HAND:
        take_hand(engine, out, input);
        break;
    case ENTRY_COOKED:
        take_cooked(engine, out, input);
        break;
    case ENTRY_CORRECT:
        take_correction(engine, out, input);
        break;
    case ENTRY_CONFIRM:
        amend_confirm(engine, out, input);
        break;
    case ENTRY_ACTION:
        take_action(engine, input);
        break;
    case ENTRY_VERIFY:
        take_verification(engine, input);
        break;
    case ENTRY_DECIDE:
        take_decision(engine, out, input);
        break;
    case ENTRY_QUIET:
        place_quiet(engine, out, input->at_ms, input->is.entry);
        break;
    case ENTRY_REVIEW:
        take_review(engine, input->is.entry);
        break;
    case ENTRY_HEARD:
        alarm_heard(engine, input->at_ms, input->is.entry);
        break;
    case ENTRY_SHELVE:
        alarm_shelve(engine, out, input->at_ms, input->is.entry);
        break;
    case ENTRY_CALIBRATE:
        calibration_take(engine, out, input);
        break;
    case ENTRY_DAY:
        marks_take_day(engine, out, input->at_ms, input->is.entry);
        break;
    case ENTRY_PIN:
    case ENTRY_NOTE:
    case ENTRY_NONE:
        break;
    }
}
