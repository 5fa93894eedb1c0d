/* What a person hears once an entry is on record: one plain sentence that names what was
 * understood, and what follows from it. Pure. */
#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "daemon/recorder/inside.h"

static const char *
name_of(const struct plan *plan, const struct entry *entry)
{
    const struct plan_person *person = plan_person(plan, entry->who);
    return person == NULL ? entry->who : person->name;
}

static const char *
subject_of(const struct entry *entry, char *buf, size_t size)
{
    if (entry->batch != 0)
        (void)snprintf(buf, size, "batch %u", entry->batch);
    else if (entry->place[0] != '\0')
        (void)snprintf(buf, size, "%s", entry->place);
    else
        (void)snprintf(buf, size, "the kitchen");
    return buf;
}

/* ---- each kind ---- */

struct saying {
    const struct plan *plan;
    const struct entry *entry;
    const char *who;
    bool in_store;
    char *say;
    size_t size;
};

static void
say_begin(const struct saying *s)
{
    const struct plan_product *product = plan_product(s->plan, s->entry->product);
    (void)snprintf(s->say, s->size, "Batch %u, %s, begun by %s.", s->entry->batch,
                   product == NULL ? s->entry->product : product->name, s->who);
}

static void
say_move(const struct saying *s)
{
    if (s->in_store)
        (void)snprintf(s->say, s->size, "Batch %u, in store, moved to %s by %s.",
                       s->entry->batch, s->entry->place, s->who);
    else
        (void)snprintf(s->say, s->size, "Batch %u moved to %s by %s.", s->entry->batch,
                       s->entry->step[0] == '\0' ? "its next step" : s->entry->step, s->who);
}

static void
say_end(const struct saying *s)
{
    (void)snprintf(s->say, s->size, "Batch %u%s by %s: %s.", s->entry->batch,
                   s->in_store ? ", in store, taken out" : " ended", s->who,
                   outcome_word(s->entry->outcome));
}

static void
say_hand(const struct saying *s)
{
    char subject[64];
    char temp[24];
    (void)snprintf(s->say, s->size, "%s °C in %s with %s, read by %s.",
                   temp_text(temp, sizeof temp, s->entry->temp_mC),
                   subject_of(s->entry, subject, sizeof subject), s->entry->thermometer,
                   s->who);
}

static void
say_cooked(const struct saying *s)
{
    (void)snprintf(s->say, s->size, "End of cooking of batch %u noted by %s.", s->entry->batch,
                   s->who);
}

static void
say_note(const struct saying *s)
{
    char subject[64];
    (void)snprintf(s->say, s->size, "Note on %s by %s.",
                   subject_of(s->entry, subject, sizeof subject), s->who);
}

static void
say_correct(const struct saying *s)
{
    (void)snprintf(s->say, s->size, "Record %llu corrected by %s; the old one stays.",
                   (unsigned long long)s->entry->refers, s->who);
}

static void
say_confirm(const struct saying *s)
{
    (void)snprintf(s->say, s->size, "Correction of batch %u %s by %s.", s->entry->batch,
                   s->entry->accept ? "confirmed" : "declined", s->who);
}

static void
say_action(const struct saying *s)
{
    (void)snprintf(s->say, s->size, "Corrective action on deviation %u by %s. %s",
                   s->entry->deviation, s->who,
                   s->plan->sole_operator == NULL ? "Another person has to verify it."
                                                  : "It has to be verified as the plan says.");
}

static void
say_verify(const struct saying *s)
{
    (void)snprintf(s->say, s->size, "Corrective action on deviation %u verified by %s.",
                   s->entry->deviation, s->who);
}

static void
say_quiet(const struct saying *s)
{
    char temp[24];
    if (s->entry->end)
        (void)snprintf(s->say, s->size, "The limit of %s holds again, says %s.",
                       s->entry->place, s->who);
    else
        (void)snprintf(s->say, s->size, "The limit of %s is suspended for %s (%s), says %s.",
                       s->entry->place, duration_text(temp, sizeof temp, s->entry->for_ms),
                       quiet_why_word(s->entry->why), s->who);
}

static void
say_review(const struct saying *s)
{
    (void)snprintf(s->say, s->size, "The records of %s reviewed by %s.", s->entry->day, s->who);
}

static void
say_pin(const struct saying *s)
{
    (void)snprintf(s->say, s->size, "The PIN of %s is set.", s->who);
}

static void
say_heard(const struct saying *s)
{
    if (s->entry->batch != 0) {
        (void)snprintf(s->say, s->size, "%s has heard the warning about batch %u.", s->who,
                       s->entry->batch);
        return;
    }
    (void)snprintf(s->say, s->size,
                   "%s has heard the alarm of deviation %u. It stays open: act, then record "
                   "what was done.",
                   s->who, s->entry->deviation);
}

static void
say_shelve(const struct saying *s)
{
    char subject[64];
    char temp[24];
    if (s->entry->place[0] != '\0')
        (void)snprintf(subject, sizeof subject, "Alarms of %s", s->entry->place);
    else
        (void)snprintf(subject, sizeof subject, "The alarm of deviation %u",
                       s->entry->deviation);
    if (s->entry->end)
        (void)snprintf(s->say, s->size, "%s: told again from now on, says %s.", subject,
                       s->who);
    else
        (void)snprintf(s->say, s->size, "%s: not told for %s, says %s. Judging goes on.",
                       subject, duration_text(temp, sizeof temp, s->entry->for_ms), s->who);
}

static void
say_calibrate(const struct saying *s)
{
    (void)snprintf(s->say, s->size, "%s checked by %s.",
                   s->entry->probe[0] != '\0' ? s->entry->probe : s->entry->thermometer,
                   s->who);
}

static void
say_decide(const struct saying *s)
{
    if (s->entry->batch == 0) {
        (void)snprintf(s->say, s->size, "Hot food on probe %s is none, says %s.",
                       s->entry->probe, s->who);
        return;
    }
    (void)snprintf(s->say, s->size, "Batch %u %s by %s.", s->entry->batch,
                   s->entry->accept ? "accepted" : "not accepted", s->who);
}

typedef void sayer(const struct saying *s);

static sayer *const sayers[] = {
    [ENTRY_BEGIN] = say_begin,     [ENTRY_MOVE] = say_move,
    [ENTRY_END] = say_end,         [ENTRY_HAND] = say_hand,
    [ENTRY_COOKED] = say_cooked,   [ENTRY_NOTE] = say_note,
    [ENTRY_CORRECT] = say_correct, [ENTRY_CONFIRM] = say_confirm,
    [ENTRY_ACTION] = say_action,   [ENTRY_VERIFY] = say_verify,
    [ENTRY_QUIET] = say_quiet,     [ENTRY_REVIEW] = say_review,
    [ENTRY_PIN] = say_pin,         [ENTRY_HEARD] = say_heard,
    [ENTRY_SHELVE] = say_shelve,   [ENTRY_CALIBRATE] = say_calibrate,
    [ENTRY_DECIDE] = say_decide,   [ENTRY_DAY] = NULL, /* nobody enters it */
};

static_assert(sizeof sayers / sizeof sayers[0] == ENTRY_KIND_LAST + 1,
              "every kind of entry has its words");

void
entry_say(const struct plan *plan, const struct entry *entry, bool in_store,
          struct entry_answer *answer)
{
    const struct saying saying = {plan,     entry,       name_of(plan, entry),
                                  in_store, answer->say, sizeof answer->say};
    if (sayers[entry->kind] != NULL)
        sayers[entry->kind](&saying);
}

/* ---- what follows ---- */

static void add(struct entry_answer *answer, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* A sentence that does not fit is left out whole: the page and `trivet now` have it too. */
static void
add(struct entry_answer *answer, const char *format, ...)
{
    size_t len = strlen(answer->say), room = sizeof answer->say - len;
    va_list args;
    va_start(args, format);
    int need = vsnprintf(answer->say + len, room, format, args);
    va_end(args);
    if (need < 0 || (size_t)need >= room)
        answer->say[len] = '\0';
}

void
entry_say_decisions(const struct decision *decisions, size_t count, struct entry_answer *answer)
{
    for (size_t i = 0; i < count; i++) {
        const struct decision *d = &decisions[i];
        if (d->kind == DECISION_DEVIATION_OPENED) {
            add(answer, " Deviation %u: %s. Act on it, then record what was done.",
                d->deviation, decision_phrase(d));
            if (answer->deviation == 0)
                answer->deviation = d->deviation;
        } else if (d->kind == DECISION_CORRECTION_WAITS) {
            add(answer,
                " It is in the food's favour, so it waits: another person has to confirm it "
                "(trivet confirm %u accept).",
                d->batch);
        } else if (d->kind == DECISION_DEVIATION_WITHDRAWN) {
            add(answer, " Deviation %u is withdrawn; its record stays.", d->deviation);
        } else if (d->kind == DECISION_DATE_MARKED) {
            add(answer, " Use it by the end of %s, or throw it away.", d->day);
        } else if (d->kind == DECISION_LIMIT_MET && d->stage != 0) {
            add(answer, " Stage %u of its limit is met.", d->stage);
        } else if (d->kind == DECISION_LIMIT_MET &&
                   (d->limit == LIMIT_OVEN || d->limit == LIMIT_MOIST_OVEN)) {
            add(answer, " Its oven was as it has to be.");
        } else if (d->kind == DECISION_LIMIT_MET) {
            add(answer, " Its limit is met.");
        } else if (d->kind == DECISION_INCONCLUSIVE) {
            add(answer,
                " Its limit cannot be judged: %s. A person has to decide, with a reason.",
                decision_phrase(d));
        }
    }
}
