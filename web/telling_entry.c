/* What a person entered, in words: a function for each kind. Desk threads; holds no state. */
#include "telling.h"

#include <assert.h>
#include <inttypes.h>
#include <stdio.h>

#include "history.h"

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
    html_raw(html, "&nbsp;°C");
}

/* ---- each kind ---- */

struct telling {
    struct html *html;
    const struct view *view;
    const struct entry *entry;
};

static void
tell_begin(const struct telling *t)
{
    html_raw(t->html, " began the batch");
}

static void
tell_move(const struct telling *t)
{
    tell_more(t->html, " moved the batch on: ",
              t->entry->step[0] != '\0' ? t->entry->step : "next step");
    tell_more(t->html, ", to ", t->entry->place);
}

static void
tell_end(const struct telling *t)
{
    tell_more(t->html, " ended the batch: ", outcome_word(t->entry->outcome));
}

static void
tell_hand(const struct telling *t)
{
    html_raw(t->html, " measured by hand");
    tell_temp(t->html, t->entry);
    tell_more(t->html, " with ", t->entry->thermometer);
}

static void
tell_cooked(const struct telling *t)
{
    char clock[40];
    html_raw(t->html, " gave the end of cooking: ");
    html_sentence(t->html, t->entry->given_ms == TIME_NONE
                               ? ""
                               : view_clock(t->view, t->entry->given_ms, clock, sizeof clock));
}

static void
tell_note(const struct telling *t)
{
    html_raw(t->html, " noted");
}

static void
tell_correct(const struct telling *t)
{
    char clock[40];
    html_format(t->html, " corrected record %" PRIu64 ":", t->entry->refers);
    tell_temp(t->html, t->entry);
    if (t->entry->withdraw)
        html_raw(t->html, " it did not begin");
    if (t->entry->given_ms != TIME_NONE) {
        html_raw(t->html, " counts from ");
        html_sentence(t->html, view_clock(t->view, t->entry->given_ms, clock, sizeof clock));
    }
}

static void
tell_confirm(const struct telling *t)
{
    html_raw(t->html,
             t->entry->accept ? " confirmed the correction" : " declined the correction");
}

static void
tell_action(const struct telling *t)
{
    html_format(t->html, " recorded the corrective action on deviation %u",
                (unsigned)t->entry->deviation);
}

static void
tell_verify(const struct telling *t)
{
    html_format(t->html, " verified the action on deviation %u", (unsigned)t->entry->deviation);
}

static void
tell_quiet(const struct telling *t)
{
    char clock[40];
    html_raw(t->html, t->entry->end ? ": the limit holds again in " : ": quiet in ");
    html_text(t->html, t->entry->place);
    if (!t->entry->end) {
        html_raw(t->html, ", its limit suspended for ");
        html_sentence(t->html, duration_text(clock, sizeof clock, t->entry->for_ms));
        html_raw(t->html, " (");
        html_text(t->html, quiet_why_word(t->entry->why));
        html_raw(t->html, ")");
    }
}

static void
tell_decide(const struct telling *t)
{
    html_raw(t->html, t->entry->accept ? " decided: accepted" : " decided: not accepted");
}

static void
tell_heard(const struct telling *t)
{
    if (t->entry->batch != 0)
        html_raw(t->html, " has heard the warning");
    else
        html_format(t->html, " has heard the alarm of deviation %u",
                    (unsigned)t->entry->deviation);
}

static void
tell_shelve(const struct telling *t)
{
    char clock[40];
    html_raw(t->html, t->entry->end ? ": told again, the alarm of " : " shelved the alarm of ");
    if (t->entry->place[0] != '\0')
        html_text(t->html, t->entry->place);
    else
        html_format(t->html, "deviation %u", (unsigned)t->entry->deviation);
    tell_more(t->html, " for ",
              t->entry->end ? "" : duration_text(clock, sizeof clock, t->entry->for_ms));
}

static void
tell_review(const struct telling *t)
{
    tell_more(t->html, " reviewed the records of ", t->entry->day);
}

static void
tell_pin(const struct telling *t)
{
    html_raw(t->html, " set a PIN");
    tell_more(t->html, " beside ", t->entry->by);
}

static void
tell_day(const struct telling *t)
{
    tell_more(t->html, ": the business day begins: ", t->entry->day);
}

static void
tell_calibrate(const struct telling *t)
{
    tell_more(t->html, " checked ", t->entry->probe);
    tell_more(t->html, " checked ", t->entry->thermometer);
}

typedef void teller(const struct telling *t);

static teller *const tellers[] = {
    [ENTRY_BEGIN] = tell_begin,
    [ENTRY_MOVE] = tell_move,
    [ENTRY_END] = tell_end,
    [ENTRY_HAND] = tell_hand,
    [ENTRY_COOKED] = tell_cooked,
    [ENTRY_NOTE] = tell_note,
    [ENTRY_CORRECT] = tell_correct,
    [ENTRY_CONFIRM] = tell_confirm,
    [ENTRY_ACTION] = tell_action,
    [ENTRY_VERIFY] = tell_verify,
    [ENTRY_QUIET] = tell_quiet,
    [ENTRY_DECIDE] = tell_decide,
    [ENTRY_HEARD] = tell_heard,
    [ENTRY_SHELVE] = tell_shelve,
    [ENTRY_REVIEW] = tell_review,
    [ENTRY_PIN] = tell_pin,
    [ENTRY_CALIBRATE] = tell_calibrate,
    [ENTRY_DAY] = tell_day,
};

static_assert(sizeof tellers / sizeof tellers[0] == ENTRY_KIND_LAST + 1,
              "every kind of entry has its words");

/* ---- the whole ---- */

/* Who, be it nobody. */
static void
tell_who(struct html *html, const struct view *view, const struct entry *entry)
{
    if (entry->who[0] != '\0')
        past_person(html, view, entry->who);
    else if (entry->probe[0] != '\0')
        tell_more(html, "By itself (not a person), probe ", entry->probe);
    else
        html_raw(html, "The plan's schedule");
}

void
tell_entry(struct html *html, const struct view *view, const struct entry *entry)
{
    tell_who(html, view, entry);
    if (tellers[entry->kind] != NULL)
        tellers[entry->kind](&(struct telling){html, view, entry});
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
