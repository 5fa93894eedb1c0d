/* The daemon's lists as choices. See lists.h. */
#include "daemon/cli/lists.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "daemon/cli/amount.h"

const char *
lists_text(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text == NULL ? "" : text;
}

int64_t
lists_int(const json_t *object, const char *key)
{
    return json_integer_value(json_object_get(object, key));
}

const json_t *
lists_by_text(const json_t *array, const char *key, const char *text)
{
    for (size_t i = 0; i < json_array_size(array); i++) {
        const json_t *item = json_array_get(array, i);
        if (strcmp(lists_text(item, key), text) == 0)
            return item;
    }
    return NULL;
}

const json_t *
lists_by_number(const json_t *array, int64_t number)
{
    for (size_t i = 0; i < json_array_size(array); i++) {
        const json_t *item = json_array_get(array, i);
        if (lists_int(item, "number") == number)
            return item;
    }
    return NULL;
}

static bool
any_in_fahrenheit(const json_t *with_limits)
{
    for (size_t i = 0; i < json_array_size(with_limits); i++)
        if (strstr(lists_text(json_array_get(with_limits, i), "limit"), "\xc2\xb0"
                                                                        "F") != NULL)
            return true;
    return false;
}

bool
lists_both_units(const json_t *lists)
{
    const json_t *products = json_object_get(lists, "products");
    for (size_t i = 0; i < json_array_size(products); i++)
        if (any_in_fahrenheit(json_object_get(json_array_get(products, i), "steps")))
            return true;
    return any_in_fahrenheit(json_object_get(lists, "places"));
}

/* "Red pen  (red-pen)": what a person calls it, and what a script writes. */
static bool
add_named(struct choices *choices, const json_t *item, const char *more)
{
    const char *id = lists_text(item, "id"), *name = lists_text(item, "name");
    char label[CHOICE_LABEL_MAX];
    (void)snprintf(label, sizeof label, "%.120s  (%.31s)%.80s", name[0] == '\0' ? id : name, id,
                   more);
    return choices_add(choices, id, name, label);
}

static bool
add_all(struct choices *choices, const json_t *array)
{
    for (size_t i = 0; i < json_array_size(array); i++)
        if (!add_named(choices, json_array_get(array, i), ""))
            return false;
    return true;
}

bool
lists_people(const json_t *lists, struct choices *ret)
{
    const json_t *people = json_object_get(lists, "people");
    for (size_t i = 0; i < json_array_size(people); i++) {
        const json_t *person = json_array_get(people, i);
        char label[CHOICE_LABEL_MAX];
        (void)snprintf(label, sizeof label, "%-7.7s %.120s, %.20s", lists_text(person, "id"),
                       lists_text(person, "name"), lists_text(person, "role"));
        if (!choices_add(ret, lists_text(person, "id"), lists_text(person, "name"), label))
            return false;
    }
    return true;
}

bool
lists_products(const json_t *lists, struct choices *ret)
{
    return add_all(ret, json_object_get(lists, "products"));
}

bool
lists_places(const json_t *lists, struct choices *ret)
{
    return add_all(ret, json_object_get(lists, "places"));
}

bool
lists_thermometers(const json_t *lists, struct choices *ret)
{
    return add_all(ret, json_object_get(lists, "thermometers"));
}

/* As the page shows it: a converter's thousandths help nobody to tell one probe from another.
 */
static int32_t
to_tenths(int32_t temp_mC)
{
    return (temp_mC + (temp_mC < 0 ? -50 : 50)) / 100 * 100;
}

static bool
add_probes(const json_t *lists, bool only_free, struct choices *ret)
{
    const json_t *probes = json_object_get(lists, "probes");
    for (size_t i = 0; i < json_array_size(probes); i++) {
        const json_t *probe = json_array_get(probes, i);
        if (only_free &&
            (strcmp(lists_text(probe, "kind"), "food") != 0 || lists_int(probe, "batch") != 0 ||
             json_is_true(json_object_get(probe, "watches_place"))))
            continue;
        char reads[AMOUNT_TEMP_MAX + 8] = "", text[AMOUNT_TEMP_MAX];
        if (json_object_get(probe, "temp_mC") != NULL)
            (void)snprintf(reads, sizeof reads, ", last %s",
                           amount_temp_text(text,
                                            to_tenths((int32_t)lists_int(probe, "temp_mC")),
                                            lists_both_units(lists)));
        if (!add_named(ret, probe, reads))
            return false;
    }
    return true;
}

bool
lists_free_probes(const json_t *lists, struct choices *ret)
{
    return add_probes(lists, true, ret);
}

bool
lists_probes(const json_t *lists, struct choices *ret)
{
    return add_probes(lists, false, ret);
}

bool
lists_batches(const json_t *lists, struct choices *ret)
{
    const json_t *batches = json_object_get(lists, "batches");
    ret->numbers = true;
    for (size_t i = 0; i < json_array_size(batches); i++) {
        const json_t *batch = json_array_get(batches, i);
        char key[CHOICE_KEY_MAX], label[CHOICE_LABEL_MAX];
        (void)snprintf(key, sizeof key, "%" PRId64, lists_int(batch, "number"));
        (void)snprintf(label, sizeof label, "%.100s, %.80s", lists_text(batch, "name"),
                       lists_text(batch, "step_name"));
        if (!choices_add(ret, key, "", label))
            return false;
    }
    return true;
}

bool
lists_undecided(const json_t *lists, struct choices *ret)
{
    const json_t *undecided = json_object_get(lists, "undecided");
    ret->numbers = true;
    for (size_t i = 0; i < json_array_size(undecided); i++) {
        const json_t *one = json_array_get(undecided, i);
        char key[CHOICE_KEY_MAX], label[CHOICE_LABEL_MAX];
        if (lists_int(one, "batch") == 0)
            continue;
        (void)snprintf(key, sizeof key, "%" PRId64, lists_int(one, "batch"));
        (void)snprintf(label, sizeof label, "%s", lists_text(one, "sentence"));
        if (!choices_add(ret, key, "", label))
            return false;
    }
    return true;
}

static bool
list_deviations(const json_t *lists, const char *by, const char *value, struct choices *ret)
{
    const json_t *deviations = json_object_get(lists, "deviations");
    ret->numbers = true;
    for (int likely = 1; likely >= 0; likely--) {
        for (size_t i = 0; i < json_array_size(deviations); i++) {
            const json_t *deviation = json_array_get(deviations, i);
            if ((strcmp(lists_text(deviation, by), value) == 0) != (likely == 1))
                continue;
            char key[CHOICE_KEY_MAX], label[CHOICE_LABEL_MAX];
            (void)snprintf(key, sizeof key, "%" PRId64, lists_int(deviation, "number"));
            (void)snprintf(label, sizeof label, "%s", lists_text(deviation, "sentence"));
            if (!choices_add(ret, key, "", label))
                return false;
        }
    }
    return true;
}

bool
lists_deviations(const json_t *lists, const char *state, struct choices *ret)
{
    return list_deviations(lists, "state", state, ret);
}

bool
lists_sounding(const json_t *lists, struct choices *ret)
{
    return list_deviations(lists, "alarm", "sounds", ret);
}

bool
lists_prepared(const json_t *deviation, struct choices *ret)
{
    const json_t *ready = json_object_get(deviation, "prepared");
    ret->numbers = true;
    for (size_t i = 0; i < json_array_size(ready); i++) {
        const json_t *one = json_array_get(ready, i);
        char key[CHOICE_KEY_MAX], label[CHOICE_LABEL_MAX];
        const char *done = lists_text(one, "done");
        (void)snprintf(key, sizeof key, "%zu", i + 1);
        (void)snprintf(label, sizeof label, "%.120s%s%.200s", lists_text(one, "name"),
                       done[0] == '\0' ? "" : ": ", done);
        if (!choices_add(ret, key, lists_text(one, "name"), label))
            return false;
    }
    return true;
}

bool
lists_steps(const json_t *with_steps, struct choices *ret)
{
    const json_t *steps = json_object_get(with_steps, "steps");
    for (size_t i = 0; i < json_array_size(steps); i++) {
        const json_t *step = json_array_get(steps, i);
        char label[CHOICE_LABEL_MAX];
        (void)snprintf(label, sizeof label, "%.80s  (%.31s): %.80s", lists_text(step, "name"),
                       lists_text(step, "id"), lists_text(step, "limit"));
        if (!choices_add(ret, lists_text(step, "id"), lists_text(step, "name"), label))
            return false;
    }
    return true;
}
