/* What a new plan changes of the limits and tolerances of the one before, for people to approve
 * and for the record. Compares by the tables that read a plan, so that a key added to a limit
 * is compared without being named here. Pure; any thread. */
#include <stdio.h>
#include <string.h>

#include "daemon/plan/quantity.h"
#include "daemon/plan/schema.h"
#include "trivet/plan.h"

/* ---- values ---- */

static int64_t
load(const void *at, size_t size)
{
    int8_t one;
    int16_t two;
    int32_t four;
    int64_t eight = 0;
    switch (size) {
    case 1:
        memcpy(&one, at, size);
        return one;
    case 2:
        memcpy(&two, at, size);
        return two;
    case 4:
        memcpy(&four, at, size);
        return four;
    default:
        memcpy(&eight, at, sizeof eight);
        return eight;
    }
}

static bool same_table(const struct table *table, const void *a, const void *b);

static bool
same_list(const struct field *field, const char *a, const char *b)
{
    size_t count = (size_t)load(a + field->count_offset, field->count_size);
    if (count != (size_t)load(b + field->count_offset, field->count_size))
        return false;
    const char *list_a = a + field->offset, *list_b = b + field->offset;
    if (!field->within) {
        memcpy(&list_a, a + field->offset, sizeof list_a);
        memcpy(&list_b, b + field->offset, sizeof list_b);
    }
    for (size_t i = 0; i < count; i++)
        if (!same_table(field->table, list_a + i * field->table->size,
                        list_b + i * field->table->size))
            return false;
    return true;
}

/* Words for people and names of other things are no part of a limit. */
static bool
same_value(const struct field *field, const char *a, const char *b)
{
    switch (field->type) {
    case FIELD_TEXT:
    case FIELD_TEXTS:
    case FIELD_ID:
    case FIELD_DOTTED:
    case FIELD_INITIALS:
    case FIELD_REFERENCE:
    case FIELD_TEMP_OR_ID:
    case FIELD_ABSOLUTE:
    case FIELD_PATH:
    case FIELD_SENSOR:
    case FIELD_ZONE:
    case FIELD_ADDRESS:
    case FIELD_HOST:
    case FIELD_DATE:
        return true;
    case FIELD_TABLE:
        return same_table(field->table, a + field->offset, b + field->offset);
    case FIELD_TABLES:
        return field->for_people || same_list(field, a, b);
    case FIELD_TEMP_RANGE:
        return memcmp(a + field->offset, b + field->offset, 2 * sizeof(int32_t)) == 0;
    case FIELD_WHOLES:
        return load(a + field->count_offset, field->count_size) ==
                   load(b + field->count_offset, field->count_size) &&
               memcmp(a + field->offset, b + field->offset,
                      field->max_count * sizeof(int64_t)) == 0;
    case FIELD_YES_NO:
    case FIELD_WORD:
    case FIELD_WHOLE:
    case FIELD_CLOCK:
    case FIELD_TEMP:
    case FIELD_JUMP:
    case FIELD_RATE:
    case FIELD_SCALE:
    case FIELD_DURATION:
        break;
    }
    return memcmp(a + field->offset, b + field->offset, field->size) == 0;
}

/* Depth: tables hold tables of their own, at most two deep. */
static bool
same_table(const struct table *table, const void *a, const void *b)
{
    for (size_t i = 0; i < table->field_count; i++)
        if (!same_value(&table->fields[i], a, b))
            return false;
    return true;
}

static const char *
word_of(const struct choice *choices, int64_t value)
{
    for (; choices != NULL && choices->word != NULL; choices++)
        if (choices->value == value)
            return choices->word;
    return "other";
}

/* One value as the plan would write it. */
static void
value_text(const struct field *field, const char *base, char *buf, size_t size)
{
    const char *at = base + field->offset;
    char text[QUANTITY_DURATION_MAX];
    struct limit_temp temp;
    switch (field->type) {
    case FIELD_DURATION:
        (void)snprintf(buf, size, "%s", quantity_duration_text(text, load(at, field->size)));
        return;
    case FIELD_WHOLE:
        (void)snprintf(buf, size, "%lld", (long long)load(at, field->size));
        return;
    case FIELD_YES_NO:
        (void)snprintf(buf, size, "%s", load(at, field->size) != 0 ? "yes" : "no");
        return;
    case FIELD_WORD:
        (void)snprintf(buf, size, "%s", word_of(field->choices, load(at, field->size)));
        return;
    case FIELD_TEMP:
        memcpy(&temp, at, sizeof temp);
        (void)limit_temp_text(buf, size, temp);
        return;
    case FIELD_JUMP:
    case FIELD_RATE:
        (void)snprintf(buf, size, "%s °C%s",
                       temp_text(text, sizeof text, (int32_t)load(at, field->size)),
                       field->type == FIELD_RATE ? "/min" : "");
        return;
    default:
        (void)snprintf(buf, size, "another value");
    }
}

/* ---- the list ---- */

struct list {
    struct plan_change *changes;
    size_t count, max;
};

/* Where the next one goes; NULL when it is only counted. */
static struct plan_change *
next(struct list *list, const char *what, const char *one, const char *two)
{
    struct plan_change *change = list->count < list->max ? &list->changes[list->count] : NULL;
    list->count++;
    if (change == NULL)
        return NULL;
    memset(change, 0, sizeof *change);
    (void)snprintf(change->what, sizeof change->what, "%s %s%s%s", what, one,
                   two[0] != '\0' ? ", step " : "", two);
    return change;
}

static void
add_keys(const struct table *table, const char *before, const char *after,
         struct plan_change *change)
{
    for (size_t i = 0; i < table->field_count; i++) {
        char was[100], is[100];
        const struct field *field = &table->fields[i];
        if (same_value(field, before, after))
            continue;
        value_text(field, before, was, sizeof was);
        value_text(field, after, is, sizeof is);
        size_t len = strlen(change->before);
        (void)snprintf(change->before + len, sizeof change->before - len, ", %s: %s",
                       field->key, was);
        len = strlen(change->after);
        (void)snprintf(change->after + len, sizeof change->after - len, ", %s: %s", field->key,
                       is);
    }
}

static const struct plan_limit no_limit = {.kind = LIMIT_NONE};

static void
compare(struct list *list, const char *what, const char *one, const char *two,
        const struct plan_limit *before, const struct plan_limit *after)
{
    if (before->kind == LIMIT_NONE && after->kind == LIMIT_NONE)
        return;
    if (same_table(&plan_limit_table, before, after))
        return;
    struct plan_change *change = next(list, what, one, two);
    if (change == NULL)
        return;
    (void)plan_limit_text(change->before, sizeof change->before, before);
    (void)plan_limit_text(change->after, sizeof change->after, after);
    if (strcmp(change->before, change->after) == 0) /* it differs in what the line leaves out */
        add_keys(&plan_limit_table, (const char *)before, (const char *)after, change);
}

static const struct plan_limit *
place_limit(const struct plan *plan, const char *id)
{
    int index = plan_place_index(plan, id);
    return index < 0 ? &no_limit : &plan->places[index].limit;
}

static const struct plan_limit *
life_limit(const struct plan *plan, const char *product_id)
{
    const struct plan_product *product = plan_product(plan, product_id);
    return product == NULL ? &no_limit : &product->life;
}

static const struct plan_limit *
mark_limit(const struct plan *plan, const char *product_id)
{
    const struct plan_product *product = plan_product(plan, product_id);
    return product == NULL ? &no_limit : &product->mark;
}

static const struct plan_limit *
step_limit(const struct plan *plan, const char *product_id, const char *id)
{
    const struct plan_product *product = plan_product(plan, product_id);
    int index = product == NULL ? -1 : plan_step_index(product, id);
    return index < 0 ? &no_limit : &product->steps[index].limit;
}

static void
quiets_text(const struct plan_place *place, char *buf, size_t size)
{
    size_t len = 0;
    (void)snprintf(buf, size, "%s", "never");
    for (size_t i = 0; place != NULL && i < place->quiet_count && len < size; i++) {
        char lasts[QUANTITY_DURATION_MAX];
        const struct plan_quiet *quiet = &place->quiets[i];
        int n =
            snprintf(buf + len, size - len, "%s%02d:%02d for %s (%s)", i == 0 ? "" : ", ",
                     (int)(quiet->at_min / 60), (int)(quiet->at_min % 60),
                     quantity_duration_text(lasts, quiet->for_ms), quiet_why_word(quiet->why));
        len += n < 0 ? 0 : (size_t)n;
    }
}

/* A yes or no beside the limits that the judging of dates rests on. */
static void
compare_flag(struct list *list, const char *what, const char *one, const char *two, bool before,
             bool after, const char *key)
{
    if (before == after)
        return;
    struct plan_change *change = next(list, what, one, two);
    if (change == NULL)
        return;
    (void)snprintf(change->before, sizeof change->before, "%s: %s", key, before ? "yes" : "no");
    (void)snprintf(change->after, sizeof change->after, "%s: %s", key, after ? "yes" : "no");
}

static void
compare_starts(struct list *list, const struct plan *before, const struct plan_product *product,
               const struct plan_step *step)
{
    const struct plan_product *old = plan_product(before, product->id);
    int was = old == NULL ? -1 : plan_step_index(old, step->id);
    if (was >= 0)
        compare_flag(list, "product", product->id, step->id, old->steps[was].starts_date,
                     step->starts_date, "starts_date");
}

/* The times in which a place's limit is suspended are part of what has to be approved. */
static void
compare_quiets(struct list *list, const struct plan_place *before,
               const struct plan_place *after)
{
    bool same = before != NULL && before->quiet_count == after->quiet_count;
    for (size_t i = 0; same && i < after->quiet_count; i++)
        same = same_table(&plan_quiet_table, &before->quiets[i], &after->quiets[i]);
    if (same || ((before == NULL || before->quiet_count == 0) && after->quiet_count == 0))
        return;
    struct plan_change *change = next(list, "quiet hours of place", after->id, "");
    if (change == NULL)
        return;
    quiets_text(before, change->before, sizeof change->before);
    quiets_text(after, change->after, sizeof change->after);
}

static void
compare_tolerances(struct list *list, const struct plan *before, const struct plan *after)
{
    const struct table *table = &plan_tolerances_table;
    const char *was = (const char *)&before->tolerances, *is = (const char *)&after->tolerances;
    for (size_t i = 0; i < table->field_count; i++) {
        const struct field *field = &table->fields[i];
        if (same_value(field, was, is))
            continue;
        struct plan_change *change = next(list, "tolerances:", field->key, "");
        if (change == NULL)
            continue;
        value_text(field, was, change->before, sizeof change->before);
        value_text(field, is, change->after, sizeof change->after);
    }
}

/* How strictly thermometers are checked: the usual by its keys, then those that say something
 * of their own, or did. */
static void
compare_usual(struct list *list, const struct plan *before, const struct plan *after)
{
    const struct table *table = &plan_calibration_table;
    const char *was = (const char *)&before->calibration,
               *is = (const char *)&after->calibration;
    for (size_t i = 0; i < table->field_count; i++) {
        const struct field *field = &table->fields[i];
        if (same_value(field, was, is))
            continue;
        struct plan_change *change = next(list, "calibration:", field->key, "");
        if (change == NULL)
            continue;
        value_text(field, was, change->before, sizeof change->before);
        value_text(field, is, change->after, sizeof change->after);
    }
}

static bool
same_checking(const struct plan_checking *a, const struct plan_checking *b)
{
    return a->tolerance_mK == b->tolerance_mK && a->every_ms == b->every_ms &&
           (a->largest_mK == b->largest_mK || a->largest_mK == 0 || b->largest_mK == 0);
}

static void
checking_text(const struct plan_checking *checking, char *buf, size_t size)
{
    char within[24], most[24], every[QUANTITY_DURATION_MAX];
    (void)snprintf(buf, size, "check_tolerance: %s °C, check_every: %s",
                   temp_text(within, sizeof within, checking->tolerance_mK),
                   checking->every_ms == 0 ? "never"
                                           : quantity_duration_text(every, checking->every_ms));
    size_t len = strlen(buf);
    if (checking->largest_mK != 0)
        (void)snprintf(buf + len, size - len, ", largest_correction: %s °C",
                       temp_text(most, sizeof most, checking->largest_mK));
}

/* What changes with the usual has been told there; one that is new or gone is no change. */
static void
compare_checking(struct list *list, const char *what, const char *id, const struct plan *before,
                 const struct plan_checking *was, const struct plan *after,
                 const struct plan_checking *is)
{
    bool followed = same_checking(was, &before->calibration.usual) &&
                    same_checking(is, &after->calibration.usual);
    struct plan_change *change =
        followed || same_checking(was, is) ? NULL : next(list, what, id, "");
    if (change == NULL)
        return;
    checking_text(was, change->before, sizeof change->before);
    checking_text(is, change->after, sizeof change->after);
}

static void
compare_calibration(struct list *list, const struct plan *before, const struct plan *after)
{
    compare_usual(list, before, after);
    for (size_t i = 0; i < after->probe_count; i++) {
        int was = plan_probe_index(before, after->probes[i].id);
        if (was >= 0)
            compare_checking(list, "checks of probe", after->probes[i].id, before,
                             &before->probes[was].checking, after, &after->probes[i].checking);
    }
    for (size_t i = 0; i < after->handheld_count; i++) {
        const struct plan_handheld *was = plan_handheld(before, after->handhelds[i].id);
        if (was != NULL)
            compare_checking(list, "checks of thermometer", after->handhelds[i].id, before,
                             &was->checking, after, &after->handhelds[i].checking);
    }
}

static bool
has_step(const struct plan *plan, const char *product_id, const char *id)
{
    const struct plan_product *product = plan_product(plan, product_id);
    return product != NULL && plan_step_index(product, id) >= 0;
}

static void
begins_text(const struct plan_step *step, char *buf, size_t size)
{
    int n = snprintf(buf, size, "begins: %s",
                     step->begins == BEGINS_BY_ITSELF ? "by_itself" : "by_hand");
    for (size_t i = 0; step->begins_on[i] && n >= 0 && (size_t)n < size; i++)
        n += snprintf(buf + n, size - (size_t)n, "%s %s", i == 0 ? ", begins_on:" : ",",
                      step->begins_on[i]);
    if (step->begins_together && n >= 0 && (size_t)n < size)
        (void)snprintf(buf + n, size - (size_t)n, ", together");
}

/* Whether its clock waits for a person is part of how a cooling is watched. */
static void
compare_begins(struct list *list, const struct plan *before, const char *product,
               const struct plan_step *step)
{
    char was[sizeof((struct plan_change *)0)->before], is[sizeof was];
    const struct plan_product *old = plan_product(before, product);
    int index = old == NULL ? -1 : plan_step_index(old, step->id);
    if (index < 0)
        return;
    begins_text(&old->steps[index], was, sizeof was);
    begins_text(step, is, sizeof is);
    struct plan_change *change =
        strcmp(was, is) == 0 ? NULL : next(list, "product", product, step->id);
    if (change == NULL)
        return;
    memcpy(change->before, was, sizeof was);
    memcpy(change->after, is, sizeof is);
}

size_t
plan_changes(const struct plan *before, const struct plan *after, struct plan_change *ret,
             size_t max)
{
    struct list list = {.changes = ret, .max = max};
    for (size_t i = 0; i < after->place_count; i++)
        compare(&list, "place", after->places[i].id, "",
                place_limit(before, after->places[i].id), &after->places[i].limit);
    for (size_t i = 0; i < after->place_count; i++) {
        int was = plan_place_index(before, after->places[i].id);
        compare_quiets(&list, was < 0 ? NULL : &before->places[was], &after->places[i]);
        compare_flag(&list, "place", after->places[i].id, "",
                     was >= 0 && before->places[was].freezer, after->places[i].freezer,
                     "freezer");
    }
    for (size_t i = 0; i < before->place_count; i++)
        if (plan_place_index(after, before->places[i].id) < 0)
            compare(&list, "place", before->places[i].id, "", &before->places[i].limit,
                    &no_limit);
    for (size_t i = 0; i < after->product_count; i++) {
        const struct plan_product *product = &after->products[i];
        compare(&list, "product", product->id, "", life_limit(before, product->id),
                &product->life);
        compare(&list, "product", product->id, "", mark_limit(before, product->id),
                &product->mark);
        for (size_t k = 0; k < product->step_count; k++)
            compare(&list, "product", product->id, product->steps[k].id,
                    step_limit(before, product->id, product->steps[k].id),
                    &product->steps[k].limit);
        for (size_t k = 0; k < product->step_count; k++) {
            compare_begins(&list, before, product->id, &product->steps[k]);
            compare_starts(&list, before, product, &product->steps[k]);
        }
    }
    for (size_t i = 0; i < before->product_count; i++) {
        const struct plan_product *product = &before->products[i];
        if (plan_product(after, product->id) == NULL)
            compare(&list, "product", product->id, "", &product->life, &no_limit);
        if (plan_product(after, product->id) == NULL)
            compare(&list, "product", product->id, "", &product->mark, &no_limit);
        for (size_t k = 0; k < product->step_count; k++)
            if (!has_step(after, product->id, product->steps[k].id))
                compare(&list, "product", product->id, product->steps[k].id,
                        &product->steps[k].limit, &no_limit);
    }
    compare_tolerances(&list, before, after);
    compare_calibration(&list, before, after);
    if (before->accept_unverified != after->accept_unverified) {
        struct plan_change *change = next(&list, "plan:", "accept_unverified", "");
        if (change != NULL) {
            (void)snprintf(change->before, sizeof change->before, "%s",
                           before->accept_unverified ? "true" : "no");
            (void)snprintf(change->after, sizeof change->after, "%s",
                           after->accept_unverified ? "true" : "no");
        }
    }
    return list.count;
}
