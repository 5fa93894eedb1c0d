/* Values on their way into an entry. See filling.h. */
#include "daemon/cli/filling.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/foods.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/when.h"
#include "trivet/clock.h"
#include "trivet/json_out.h"

static size_t
field_index(const struct enter_verb *verb, const char *key)
{
    size_t i = 0;
    while (i < ENTER_FIELDS_MAX && verb->fields[i].key != NULL &&
           strcmp(verb->fields[i].key, key) != 0)
        i++;
    return i;
}

const char *
filling_chosen(const struct filling *filling, const char *key)
{
    size_t i = field_index(filling->verb, key);
    return i < ENTER_FIELDS_MAX && filling->verb->fields[i].key != NULL ? filling->chosen[i]
                                                                        : "";
}

const json_t *
filling_steps(const struct filling *filling)
{
    const char *batch = filling_chosen(filling, "batch");
    if (batch[0] != '\0')
        return lists_by_number(json_object_get(filling->lists, "batches"),
                               strtoll(batch, NULL, 10));
    return lists_by_text(json_object_get(filling->lists, "products"), "id",
                         filling_chosen(filling, "product"));
}

bool
filling_put(struct filling *filling, const char *key, json_t *value, char *why)
{
    if (value != NULL && json_object_set_new(filling->request, key, value) == 0)
        return true;
    (void)snprintf(why, FILLING_WHY_MAX, "no memory to write this down");
    return false;
}

static void
remember(struct filling *filling, const struct enter_field *field, const char *key)
{
    size_t i = (size_t)(field - filling->verb->fields);
    (void)snprintf(filling->chosen[i], sizeof filling->chosen[i], "%.*s", CHOICE_KEY_MAX - 1,
                   key);
}

bool
filling_put_choice(struct filling *filling, const struct enter_field *field,
                   const struct choice *choice, char *why)
{
    remember(filling, field, choice->key);
    if (field->kind == ENTER_PREPARED)
        return true; /* what it says is sent, not its number */
    if (field->kind == ENTER_BATCH || field->kind == ENTER_DEVIATION)
        return filling_put(filling, field->key, json_integer(strtoll(choice->key, NULL, 10)),
                           why);
    if (field->kind == ENTER_ACCEPT)
        return filling_put(filling, field->key,
                           json_boolean(strcmp(choice->key, "accept") == 0), why);
    return filling_put(filling, field->key, json_string(choice->key), why);
}

bool
filling_put_probes(struct filling *filling, const struct enter_field *field,
                   const struct choices *choices, const bool *picked, char *why)
{
    json_t *ids = json_array();
    for (size_t i = 0; i < choices->count; i++)
        if (picked[i] && json_array_append_new(ids, json_string(choices->item[i].key)) != 0)
            break;
    remember(filling, field, "some");
    return filling_put(filling, field->key, ids, why);
}

bool
filling_put_text(struct filling *filling, const struct enter_field *field, const char *text,
                 char *why)
{
    size_t max = field->kind == ENTER_LINE ? PLAN_NAME_MAX : ENTRY_TEXT_MAX;
    if (text[0] == '\0' || !text_is_clean(text, max, field->kind == ENTER_TEXT)) {
        (void)snprintf(why, FILLING_WHY_MAX,
                       "%s is empty, longer than %zu bytes, or has characters that cannot be "
                       "kept: write plain text",
                       field->key, max);
        return false;
    }
    remember(filling, field, "some");
    return filling_put(filling, field->key, json_string(text), why);
}

/* The present as the site's clock shows it. */
static int64_t
shown_now_ms(const struct filling *filling)
{
    int64_t passed_ms = 0;
    if (filling->cli->lists_mono_ms != 0) {
        struct clock clock = clock_machine();
        passed_ms = clock_mono_ms(&clock) - filling->cli->lists_mono_ms;
    }
    return lists_int(filling->lists, "now_ms") + lists_int(filling->lists, "offset_ms") +
           passed_ms;
}

static bool
put_when(struct filling *filling, const struct enter_field *field, const char *text, char *why)
{
    const struct zone *zone = zone_shared(lists_text(filling->lists, "time_zone"));
    int64_t offset_ms = lists_int(filling->lists, "offset_ms"), wall_ms;
    if (!when_past(text, zone, shown_now_ms(filling), &wall_ms, why, FILLING_WHY_MAX))
        return false;
    remember(filling, field, "some");
    return filling_put(filling, "given_ms", json_integer(wall_ms - offset_ms), why);
}

static bool
put_amount(struct filling *filling, const struct enter_field *field, const char *text,
           char *why)
{
    int32_t amount = 0;
    uint64_t number = 0;
    const char *key = "refers";
    bool good = false;
    if (field->kind == ENTER_TEMP) {
        key = "temp_mC";
        good =
            amount_temp(text, lists_both_units(filling->lists), &amount, why, FILLING_WHY_MAX);
    } else if (field->kind == ENTER_MASS) {
        key = "mass_g";
        good = amount_mass(text, &amount, why, FILLING_WHY_MAX);
    } else if (field->kind == ENTER_LENGTH) {
        key = "thickness_mm";
        good = amount_length(text, &amount, why, FILLING_WHY_MAX);
    } else {
        good = amount_number(text, (UINT64_C(1) << 53) - 1, &number, why, FILLING_WHY_MAX);
    }
    if (!good)
        return false;
    remember(filling, field, "some");
    return filling_put(filling, key, json_integer(number != 0 ? (json_int_t)number : amount),
                       why);
}

static bool
put_span(struct filling *filling, const struct enter_field *field, const char *text, char *why)
{
    int64_t span_ms;
    if (!amount_span(text, &span_ms, why, FILLING_WHY_MAX))
        return false;
    remember(filling, field, "some");
    return filling_put(filling, "for_ms", json_integer(span_ms), why);
}

bool
filling_put_typed(struct filling *filling, const struct enter_field *field, const char *text,
                  char *why)
{
    switch (field->kind) {
    case ENTER_SPAN:
        return put_span(filling, field, text, why);
    case ENTER_FLAG:
        remember(filling, field, "yes");
        return filling_put(filling, field->key, json_true(), why);
    case ENTER_TEXT:
    case ENTER_LINE:
        return filling_put_text(filling, field, text, why);
    case ENTER_FOODS:
        return foods_put(filling, field, text, why);
    case ENTER_WHEN:
        return put_when(filling, field, text, why);
    default:
        return put_amount(filling, field, text, why);
    }
}

bool
filling_put_number(struct filling *filling, const struct enter_field *field, const char *text,
                   char *why)
{
    uint64_t number = 0;
    if (!amount_number(text, UINT32_MAX, &number, why, FILLING_WHY_MAX))
        return false;
    char key[CHOICE_KEY_MAX];
    (void)snprintf(key, sizeof key, "%" PRIu64, number);
    remember(filling, field, key);
    return filling_put(filling, field->key, json_integer((json_int_t)number), why);
}
