/* What a person hears once an entry is on record: one plain sentence that names what was
 * understood, and what follows from it. Pure. */
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

void
entry_say(const struct plan *plan, const struct entry *entry, bool in_store,
          struct entry_answer *answer)
{
    char *say = answer->say;
    size_t size = sizeof answer->say;
    char subject[64];
    char temp[24];
    const char *who = name_of(plan, entry);
    const struct plan_product *product = plan_product(plan, entry->product);
    switch (entry->kind) {
    case ENTRY_NONE:
        break;
    case ENTRY_BEGIN:
        (void)snprintf(say, size, "Batch %u, %s, begun by %s.", entry->batch,
                       product == NULL ? entry->product : product->name, who);
        break;
    case ENTRY_MOVE:
        if (in_store)
            (void)snprintf(say, size, "Batch %u, in store, moved to %s by %s.", entry->batch,
                           entry->place, who);
        else
            (void)snprintf(say, size, "Batch %u moved to %s by %s.", entry->batch,
                           entry->step[0] == '\0' ? "its next step" : entry->step, who);
        break;
    case ENTRY_END:
        (void)snprintf(say, size, "Batch %u%s by %s: %s.", entry->batch,
                       in_store ? ", in store, taken out" : " ended", who,
                       outcome_word(entry->outcome));
        break;
    case ENTRY_HAND:
        (void)snprintf(say, size, "%s °C in %s with %s, read by %s.",
                       temp_text(temp, sizeof temp, entry->temp_mC),
                       subject_of(entry, subject, sizeof subject), entry->thermometer, who);
        break;
    case ENTRY_COOKED:
        (void)snprintf(say, size, "End of cooking of batch %u noted by %s.", entry->batch, who);
        break;
    case ENTRY_NOTE:
        (void)snprintf(say, size, "Note on %s by %s.",
                       subject_of(entry, subject, sizeof subject), who);
        break;
    case ENTRY_CORRECT:
        (void)snprintf(say, size, "Record %llu corrected by %s; the old one stays.",
                       (unsigned long long)entry->refers, who);
        break;
    case ENTRY_CONFIRM:
        (void)snprintf(say, size, "Correction of batch %u %s by %s.", entry->batch,
                       entry->accept ? "confirmed" : "declined", who);
        break;
    case ENTRY_ACTION:
        (void)snprintf(say, size, "Corrective action on deviation %u by %s. %s",
                       entry->deviation, who,
                       plan->sole_operator == NULL ? "Another person has to verify it."
                                                   : "It has to be verified as the plan says.");
        break;
    case ENTRY_VERIFY:
        (void)snprintf(say, size, "Corrective action on deviation %u verified by %s.",
                       entry->deviation, who);
        break;
    case ENTRY_QUIET:
        if (entry->end)
            (void)snprintf(say, size, "The limit of %s holds again, says %s.", entry->place,
                           who);
        else
            (void)snprintf(say, size, "The limit of %s is suspended for %s (%s), says %s.",
                           entry->place, duration_text(temp, sizeof temp, entry->for_ms),
                           quiet_why_word(entry->why), who);
        break;
    case ENTRY_REVIEW:
        (void)snprintf(say, size, "The records of %s reviewed by %s.", entry->day, who);
        break;
    case ENTRY_PIN:
        (void)snprintf(say, size, "The PIN of %s is set.", who);
        break;
    case ENTRY_HEARD:
        if (entry->batch != 0) {
            (void)snprintf(say, size, "%s has heard the warning about batch %u.", who,
                           entry->batch);
            break;
        }
        (void)snprintf(
            say, size,
            "%s has heard the alarm of deviation %u. It stays open: act, then record "
            "what was done.",
            who, entry->deviation);
        break;
    case ENTRY_SHELVE:
        if (entry->place[0] != '\0')
            (void)snprintf(subject, sizeof subject, "Alarms of %s", entry->place);
        else
            (void)snprintf(subject, sizeof subject, "The alarm of deviation %u",
                           entry->deviation);
        if (entry->end)
            (void)snprintf(say, size, "%s: told again from now on, says %s.", subject, who);
        else
            (void)snprintf(say, size, "%s: not told for %s, says %s. Judging goes on.", subject,
                           duration_text(temp, sizeof temp, entry->for_ms), who);
        break;
    case ENTRY_CALIBRATE:
        (void)snprintf(say, size, "%s checked by %s.",
                       entry->probe[0] != '\0' ? entry->probe : entry->thermometer, who);
        break;
    case ENTRY_DECIDE:
        if (entry->batch == 0) {
            (void)snprintf(say, size, "Hot food on probe %s is none, says %s.", entry->probe,
                           who);
            break;
        }
        (void)snprintf(say, size, "Batch %u %s by %s.", entry->batch,
                       entry->accept ? "accepted" : "not accepted", who);
        break;
    }
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
                d->deviation, decision_reason_phrase(d->reason));
            if (answer->deviation == 0)
                answer->deviation = d->deviation;
        } else if (d->kind == DECISION_CORRECTION_WAITS) {
            add(answer,
                " It is in the food's favour, so it waits: another person has to confirm it "
                "(trivet confirm %u accept).",
                d->batch);
        } else if (d->kind == DECISION_DEVIATION_WITHDRAWN) {
            add(answer, " Deviation %u is withdrawn; its record stays.", d->deviation);
        } else if (d->kind == DECISION_LIMIT_MET && d->stage != 0) {
            add(answer, " Stage %u of its limit is met.", d->stage);
        } else if (d->kind == DECISION_LIMIT_MET) {
            add(answer, " Its limit is met.");
        } else if (d->kind == DECISION_INCONCLUSIVE) {
            add(answer,
                " Its limit cannot be judged: %s. A person has to decide, with a reason.",
                decision_reason_phrase(d->reason));
        }
    }
}
