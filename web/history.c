/* Records told to people. Desk threads; holds no state. */
#include "history.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* ---- finding ---- */

static bool
take_instant(void *arg, const struct store_record *record)
{
    *(int64_t *)arg = record->at_ms;
    return false;
}

enum store_status
history_seq_before(struct store_reader *reader, int64_t at_ms, uint64_t head_seq,
                   uint64_t *ret_seq, struct store_error *reterr)
{
    /* Instants never go back along the chain, so halving finds the place. */
    uint64_t low = 0, high = head_seq + 1; /* low is before at_ms, high is not */
    while (high - low > 1) {
        uint64_t mid = low + (high - low) / 2;
        int64_t mid_ms = INT64_MAX;
        enum store_status status =
            store_each_record(reader, mid - 1, mid, NULL, take_instant, &mid_ms, reterr);
        if (status != STORE_OK)
            return status;
        if (mid_ms < at_ms)
            low = mid;
        else
            high = mid;
    }
    *ret_seq = low;
    return STORE_OK;
}

bool
past_names(const struct store_record *record, const char *key, uint32_t number)
{
    char wanted[64];
    int len = snprintf(wanted, sizeof wanted, "\"%s\":%" PRIu32, key, number);
    for (const char *at = record->data; (at = strstr(at, wanted)) != NULL; at += len)
        if (at[len] < '0' || at[len] > '9')
            return true;
    return false;
}

bool
past_read(const struct store_record *record, struct past *ret)
{
    char unused[200];
    ret->seq = record->seq;
    ret->at_ms = record->at_ms;
    ret->is_decision = strcmp(record->kind, "decision") == 0;
    if (ret->is_decision)
        return decision_read(record->data, record->data_len, &ret->decision);
    enum entry_kind kind = entry_kind_from_word(record->kind);
    return kind != ENTRY_NONE &&
           entry_read(kind, record->data, record->data_len, &ret->entry, unused, sizeof unused);
}

/* ---- telling ---- */

void
past_time(struct html *html, const struct view *view, int64_t at_ms)
{
    char text[40];
    html_format(html, "<time>%s</time>", view_stamp(view, at_ms, text, sizeof text));
}

void
past_person(struct html *html, const struct view *view, const char *initials)
{
    const struct plan *plan = view->snapshot == NULL ? NULL : view->snapshot->plan;
    const struct plan_person *person = plan == NULL ? NULL : plan_person(plan, initials);
    if (person != NULL) {
        html_text(html, person->name);
        html_raw(html, " (");
    }
    html_text(html, initials);
    html_raw(html, person != NULL ? ")" : "");
}

static void
tell_found(struct html *html, const struct decision *decision)
{
    char text[32];
    if (decision->temp_mC != TEMP_NONE) {
        html_raw(html, ", found ");
        html_text(html,
                  temp_text_against(text, sizeof text, decision->temp_mC, decision->required));
        html_raw(html, " °C");
    }
    if (decision->limit != LIMIT_NONE) {
        html_raw(html, ", limit ");
        html_text(html, limit_temp_text(text, sizeof text, decision->required));
    }
    if (decision->worst_mC != TEMP_NONE) {
        html_raw(html, ", worst ");
        html_text(html,
                  temp_text_against(text, sizeof text, decision->worst_mC, decision->required));
        html_raw(html, " °C");
    }
}

static const char *
step_name(const struct view *view, const char *id)
{
    int index = view->product == NULL ? -1 : plan_step_index(view->product, id);
    return index < 0 ? id : view->product->steps[index].name;
}

static void
tell_decision(struct html *html, const struct view *view, const struct decision *decision)
{
    char clock[40];
    switch (decision->kind) {
    case DECISION_STEP_BEGUN:
        html_raw(html, "Step begun: ");
        html_text(html, step_name(view, decision->step));
        if (decision->reason == REASON_BY_ITSELF)
            html_raw(html, ", by itself");
        return;
    case DECISION_CLOCK_STARTED:
        html_raw(html, "The cooling clock counts from ");
        html_text(html, view_clock(view, decision->since_ms, clock, sizeof clock));
        break;
    case DECISION_LIMIT_MET:
        html_raw(html, "<strong>Limit met</strong>");
        if (decision->stage > 0)
            html_format(html, ", stage %d", decision->stage);
        break;
    case DECISION_DEVIATION_OPENED:
        html_format(html, "<strong>Deviation %u opened</strong>",
                    (unsigned)decision->deviation);
        break;
    case DECISION_DEVIATION_ENDED:
        html_format(html, "Deviation %u ended", (unsigned)decision->deviation);
        break;
    case DECISION_GAP_OPENED:
        html_raw(html, "No good readings from here on");
        break;
    case DECISION_GAP_ENDED:
        html_raw(html, "Good readings again");
        break;
    case DECISION_SUSPECT_BEGUN:
        html_raw(html, "Readings are suspect from here on");
        break;
    case DECISION_SUSPECT_ENDED:
        html_raw(html, "Readings are believed again");
        break;
    case DECISION_INCONCLUSIVE:
        html_raw(html, "<strong>The limit cannot be judged</strong>: a person must decide");
        break;
    case DECISION_RESOLVED:
        html_raw(html,
                 decision->accepted ? "Accepted by a person" : "Not accepted by a person");
        break;
    case DECISION_BATCH_ENDED:
        html_raw(html, "Batch ended");
        return;
    case DECISION_QUIET_BEGUN:
        html_raw(html, "<strong>Quiet</strong>: the limit is suspended until ");
        html_text(html, view_clock(view, decision->since_ms + decision->required_ms, clock,
                                   sizeof clock));
        break;
    case DECISION_QUIET_ENDED:
        html_raw(html, "The limit holds again");
        break;
    case DECISION_CORRECTION_ENDED:
        html_raw(html, "The correction ended: readings are taken as the probe gives them");
        return;
    case DECISION_CORRECTION_WAITS:
        html_raw(html, "<strong>A correction waits</strong> for a second person");
        break;
    case DECISION_CORRECTION_DROPPED:
        html_raw(html, "The correction that waited was dropped");
        break;
    case DECISION_STEP_CORRECTED:
        html_raw(html, "Corrected: the cooling clock counts from ");
        html_text(html, view_clock(view, decision->since_ms, clock, sizeof clock));
        break;
    case DECISION_MET_WITHDRAWN:
        html_format(html, "<strong>Met no longer</strong>, stage %d", decision->stage);
        break;
    case DECISION_STEP_WITHDRAWN:
        html_raw(html, "Withdrawn: this step did not begin");
        break;
    case DECISION_DEVIATION_WITHDRAWN:
        html_format(html, "Deviation %u withdrawn", (unsigned)decision->deviation);
        break;
    case DECISION_ASKED:
        html_raw(html, "<strong>A person is asked</strong> of which batch and step this is");
        break;
    case DECISION_ANSWERED:
        html_raw(html, "The question has its answer");
        break;
    case DECISION_DOOR_LEFT_OPEN:
        html_raw(html, "<strong>Door left open</strong> since ");
        html_text(html, view_clock(view, decision->since_ms, clock, sizeof clock));
        return;
    case DECISION_DOOR_OVER:
        html_raw(html, "The door is no longer left open");
        break;
    case DECISION_MARKED:
        html_raw(html, "<strong>Marked</strong> with the button ");
        html_text(html, decision->contact);
        return;
    case DECISION_SHELF_ENDED:
        html_raw(html, "No longer shelved");
        break;
    case DECISION_ALARM_RAISED:
        html_format(html, "<strong>The alarm of deviation %u sounds again</strong>",
                    (unsigned)decision->deviation);
        break;
    case DECISION_ESCALATED:
        html_format(html, "<strong>Deviation %u told to the next</strong>, level %d",
                    (unsigned)decision->deviation, decision->level);
        break;
    }
    html_raw(html, " (");
    html_text(html, decision_reason_phrase(decision->reason));
    html_raw(html, ")");
    if (decision->unverified)
        html_raw(html, " [the limit's figures are not verified]");
    tell_found(html, decision);
}

static void
tell_more(struct html *html, const char *before, const char *text)
{
    if (text[0] == '\0')
        return;
    html_raw(html, before);
    html_text(html, text);
}

static void
tell_temp(struct html *html, const struct entry *entry)
{
    char text[32];
    if (!entry->has_temp)
        return;
    html_raw(html, " ");
    html_text(html, temp_text(text, sizeof text, entry->temp_mC));
    html_raw(html, " °C");
}

static void
tell_entry(struct html *html, const struct view *view, const struct entry *entry)
{
    char clock[40];
    if (entry->who[0] != '\0')
        past_person(html, view, entry->who);
    else if (entry->probe[0] != '\0')
        tell_more(html, "By itself (not a person), probe ", entry->probe);
    else
        html_raw(html, "The plan's schedule");
    switch (entry->kind) {
    case ENTRY_NONE:
        break;
    case ENTRY_BEGIN:
        html_raw(html, " began the batch");
        break;
    case ENTRY_MOVE:
        tell_more(html,
                  " moved the batch on: ", entry->step[0] != '\0' ? entry->step : "next step");
        tell_more(html, ", to ", entry->place);
        break;
    case ENTRY_END:
        tell_more(html, " ended the batch: ", outcome_word(entry->outcome));
        break;
    case ENTRY_HAND:
        html_raw(html, " measured by hand");
        tell_temp(html, entry);
        tell_more(html, " with ", entry->thermometer);
        break;
    case ENTRY_COOKED:
        html_raw(html, " gave the end of cooking: ");
        html_text(html, entry->given_ms == TIME_NONE
                            ? ""
                            : view_clock(view, entry->given_ms, clock, sizeof clock));
        break;
    case ENTRY_NOTE:
        html_raw(html, " noted");
        break;
    case ENTRY_CORRECT:
        html_format(html, " corrected record %" PRIu64 ":", entry->refers);
        tell_temp(html, entry);
        if (entry->withdraw)
            html_raw(html, " it did not begin");
        if (entry->given_ms != TIME_NONE) {
            html_raw(html, " counts from ");
            html_text(html, view_clock(view, entry->given_ms, clock, sizeof clock));
        }
        break;
    case ENTRY_CONFIRM:
        html_raw(html,
                 entry->accept ? " confirmed the correction" : " declined the correction");
        break;
    case ENTRY_ACTION:
        html_format(html, " recorded the corrective action on deviation %u",
                    (unsigned)entry->deviation);
        break;
    case ENTRY_VERIFY:
        html_format(html, " verified the action on deviation %u", (unsigned)entry->deviation);
        break;
    case ENTRY_QUIET:
        html_raw(html, entry->end ? ": the limit holds again in " : ": quiet in ");
        html_text(html, entry->place);
        if (!entry->end) {
            html_raw(html, ", its limit suspended for ");
            html_text(html, duration_text(clock, sizeof clock, entry->for_ms));
            html_raw(html, " (");
            html_text(html, quiet_why_word(entry->why));
            html_raw(html, ")");
        }
        break;
    case ENTRY_DECIDE:
        html_raw(html, entry->accept ? " decided: accepted" : " decided: not accepted");
        break;
    case ENTRY_HEARD:
        if (entry->batch != 0)
            html_raw(html, " has heard the warning");
        else
            html_format(html, " has heard the alarm of deviation %u",
                        (unsigned)entry->deviation);
        break;
    case ENTRY_SHELVE:
        html_raw(html, entry->end ? ": told again, the alarm of " : " shelved the alarm of ");
        if (entry->place[0] != '\0')
            html_text(html, entry->place);
        else
            html_format(html, "deviation %u", (unsigned)entry->deviation);
        tell_more(html, " for ",
                  entry->end ? "" : duration_text(clock, sizeof clock, entry->for_ms));
        break;
    case ENTRY_REVIEW:
        tell_more(html, " reviewed the records of ", entry->day);
        break;
    case ENTRY_PIN:
        html_raw(html, " set a PIN");
        tell_more(html, " beside ", entry->by);
        break;
    case ENTRY_CALIBRATE:
        tell_more(html, " checked ", entry->probe);
        tell_more(html, " checked ", entry->thermometer);
        break;
    }
    tell_more(html, ". Found: ", entry->found);
    tell_more(html, ". Done: ", entry->done);
    tell_more(html, ". Control restored: ", entry->control);
    if (entry->kind == ENTRY_ACTION && entry->disposition != DISPOSITION_NONE) {
        html_raw(html, ". The food: ");
        html_text(html, disposition_phrase(entry->disposition));
    }
    for (size_t i = 0; i < entry->food_count; i++) {
        html_format(html, ". Batch %u: ", (unsigned)entry->food[i].batch);
        html_text(html, disposition_phrase(entry->food[i].disposition));
        tell_more(html, ", ", entry->food[i].quantity);
    }
    tell_more(html, ". No unsafe food served: ", entry->safe);
    tell_more(html, ". Reason: ", entry->reason);
    tell_more(html, ". ", entry->text);
}

void
past_tell(struct html *html, const struct view *view, const struct past *past)
{
    if (past->is_decision)
        tell_decision(html, view, &past->decision);
    else
        tell_entry(html, view, &past->entry);
}
