/* Whether a corrective action or a verification makes sense: every element said, something for
 * each batch of the food, nothing that the food may not have, and another person to verify. */
#include "daemon/engine/check.h"

#include <stdio.h>
#include <string.h>

#include "daemon/engine/affected.h"

const struct deviation_state *
check_deviation(const struct check *c)
{
    const struct deviation_state *deviation = deviation_find(looked_at(c), c->entry->deviation);
    if (deviation)
        return deviation;
    struct list open = {0};
    for (size_t i = 0; i < c->engine->state.counts.deviations; i++) {
        char number[12];
        (void)snprintf(number, sizeof number, "%u", c->engine->state.deviations[i].number);
        list_add(&open, number);
    }
    if (c->entry->deviation == 0)
        (void)wrong(c, "no deviation is named; not closed are: %s", or_none(&open));
    else if (c->entry->deviation < c->engine->state.next_deviation)
        (void)wrong(c, "deviation %u is closed; not closed are: %s", c->entry->deviation,
                    or_none(&open));
    else
        (void)wrong(c, "there is no deviation %u; not closed are: %s", c->entry->deviation,
                    or_none(&open));
    return NULL;
}

static bool
check_disposition(const struct check *c, uint32_t batch, enum disposition disposition)
{
    if (disposition == DISPOSITION_NO_FOOD)
        return wrong(c,
                     "batch %u was affected, so no-food cannot be; say what becomes of it, "
                     "such as use when it is safe",
                     batch);
    if (disposition == DISPOSITION_REHEAT && !may_reheat(c->engine, batch))
        return wrong(c,
                     "batch %u has been reheated already, and the plan lets it be reheated "
                     "once only (once: yes); say what else becomes of it",
                     batch);
    if (disposition == DISPOSITION_COOL_AGAIN && !may_cool(c->engine, batch))
        return wrong(c,
                     "batch %u has been cooled already, and the plan lets it be cooled once "
                     "only (once: yes); say what else becomes of it",
                     batch);
    return true;
}

static const struct entry_food *
food_of(const struct entry *entry, uint32_t batch)
{
    for (size_t i = 0; i < entry->food_count; i++)
        if (entry->food[i].batch == batch)
            return &entry->food[i];
    return NULL;
}

/* Batches named are affected ones, each once. Where a deviation has more food than it lists,
 * others can be named too. */
static bool
check_named_food(const struct check *c, const struct deviation_state *deviation)
{
    struct list affected = {0};
    for (size_t i = 0; i < deviation->food_count; i++) {
        char number[12];
        (void)snprintf(number, sizeof number, "%u", deviation->food[i]);
        list_add(&affected, number);
    }
    for (size_t i = 0; i < c->entry->food_count; i++) {
        uint32_t batch = c->entry->food[i].batch;
        bool is_affected = deviation->food_more;
        for (size_t k = 0; k < deviation->food_count; k++)
            is_affected = is_affected || deviation->food[k] == batch;
        if (!is_affected)
            return wrong(c, "deviation %u did not affect batch %u; affected are: %s",
                         deviation->number, batch, or_none(&affected));
        if (food_of(c->entry, batch) != &c->entry->food[i])
            return wrong(c, "batch %u is named twice; say once what becomes of it", batch);
    }
    return true;
}

/* E193: every affected batch has its disposition, by itself or with all the others. */
static bool
check_food(const struct check *c, const struct deviation_state *deviation)
{
    const struct entry *entry = c->entry;
    if (!check_named_food(c, deviation))
        return false;
    for (size_t i = 0; i < deviation->food_count; i++) {
        const struct entry_food *food = food_of(entry, deviation->food[i]);
        enum disposition disposition = food ? food->disposition : entry->disposition;
        if (disposition == DISPOSITION_NONE)
            return wrong(c,
                         "what becomes of batch %u is missing; say so for each batch, or for "
                         "all of them",
                         deviation->food[i]);
        if (!check_disposition(c, deviation->food[i], disposition))
            return false;
    }
    if (entry->disposition == DISPOSITION_NONE && entry->food_count == 0)
        return wrong(
            c, "what becomes of the food is missing; say so, or that no food was affected");
    return true;
}

/* E195: 21 CFR 117.150(a)(2) and 9 CFR 417.3(a). */
static bool
check_elements(const struct check *c)
{
    const struct entry *entry = c->entry;
    if (!c->plan->duties.full_actions)
        return true;
    if (!entry->control[0])
        return wrong(c,
                     "how control was restored is missing; the plan asks for it (--control)");
    if (!entry->prevent[0])
        return wrong(c, "what keeps it from happening again is missing; the plan asks for it "
                        "(--prevent)");
    if (!entry->safe[0])
        return wrong(c, "how you know that no unsafe food was served is missing; the plan asks "
                        "for it (--safe)");
    return true;
}

bool
check_action(const struct check *c)
{
    const struct deviation_state *deviation = check_deviation(c);
    if (!deviation)
        return false;
    if (!c->entry->found[0])
        return wrong(c, "what was found is missing; say what went wrong and why");
    if (!c->entry->done[0])
        return wrong(c, "what was done is missing; say how it was put right");
    return check_food(c, deviation) && check_elements(c);
}

bool
check_verify(const struct check *c)
{
    const struct deviation_state *deviation = check_deviation(c);
    if (!deviation)
        return false;
    const struct plan_person *person = plan_person(c->plan, c->entry->who);
    if (deviation->action_seq == 0)
        return wrong(c, "deviation %u has no corrective action yet; record that first",
                     deviation->number);
    if (person->role == ROLE_COOK) {
        struct list able = {0};
        for (size_t i = 0; i < c->plan->person_count; i++)
            if (c->plan->people[i].role != ROLE_COOK)
                list_add(&able, c->plan->people[i].initials);
        return wrong(
            c, "%s is a cook in the plan and cannot verify; a supervisor or verifier can: %s",
            person->initials, or_none(&able));
    }
    if (strcmp(deviation->action_by, c->entry->who) == 0 && !c->plan->sole_operator)
        return wrong(c, "%s recorded this action and cannot verify it; another person has to",
                     person->initials);
    return true;
}

/* E196: a cook does not review, unless one person works alone. Whether the day exists and is
 * over the recorder knows. */
bool
check_review(const struct check *c)
{
    const struct plan_person *person = plan_person(c->plan, c->entry->who);
    if (!c->entry->day[0])
        return wrong(c, "the day is missing; name the business day, such as 2026-03-01");
    if (engine_reviewed(c->engine, c->entry->day))
        return wrong(c,
                     "the records of %s have been reviewed already; add a note if there is "
                     "more to say",
                     c->entry->day);
    if (person->role == ROLE_COOK && !c->plan->sole_operator)
        return wrong(c,
                     "%s is a cook in the plan and cannot review records; a supervisor or "
                     "verifier can",
                     person->initials);
    return true;
}

/* E193: on record each affected batch stands by itself. */
void
engine_complete(const struct engine *engine, struct entry *entry)
{
    if (entry->kind != ENTRY_ACTION || entry->disposition == DISPOSITION_NONE)
        return;
    const struct deviation_state *deviation =
        deviation_find((struct engine *)(uintptr_t)engine, entry->deviation);
    for (size_t i = 0; deviation && i < deviation->food_count; i++) {
        if (food_of(entry, deviation->food[i]) || entry->food_count == ENTRY_FOODS_MAX)
            continue;
        struct entry_food *food = &entry->food[entry->food_count++];
        food->batch = deviation->food[i];
        food->disposition = entry->disposition;
    }
}
