/* See the header. Owned by the recorder's thread (or by a replay). */
#include "daemon/recorder/plans.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "trivet/json_out.h"

void
plans_done(struct plans *plans)
{
    for (size_t i = 0; i < plans->count; i++)
        plan_free(plans->list[i].plan);
    free(plans->list);
    free(plans->numbers);
    memset(plans, 0, sizeof *plans);
}

bool
plans_reserve(struct plans *plans)
{
    if (plans->count < plans->room)
        return true;
    size_t room = plans->room == 0 ? 8 : plans->room * 2;
    void *grown = realloc(plans->list, room * sizeof *plans->list);
    if (grown == NULL)
        return false;
    plans->list = grown;
    plans->room = room;
    return true;
}

bool
plans_keep(struct plans *plans, uint64_t seq, int64_t at_ms, struct plan *plan)
{
    if (!plans_reserve(plans)) {
        plan_free(plan);
        return false;
    }
    plans->list[plans->count].seq = seq;
    plans->list[plans->count].at_ms = at_ms;
    plans->list[plans->count].plan = plan;
    plans->count++;
    return true;
}

const struct plan *
plans_find(const struct plans *plans, uint64_t seq)
{
    for (size_t i = 0; i < plans->count; i++)
        if (plans->list[i].seq == seq)
            return plans->list[i].plan;
    return NULL;
}

int64_t
plans_since_ms(const struct plans *plans, uint64_t seq)
{
    for (size_t i = 0; i < plans->count; i++)
        if (plans->list[i].seq == seq)
            return plans->list[i].at_ms;
    return TIME_NONE;
}

/* Position of an id in the sorted numbers, or where it would go. */
static size_t
number_at(const struct plans *plans, const char *id)
{
    size_t at = 0;
    while (at < plans->number_count && strcmp(plans->numbers[at].id, id) < 0)
        at++;
    return at;
}

static bool
learn_number(struct plans *plans, const char *id, uint16_t number)
{
    size_t at = number_at(plans, id);
    if (at < plans->number_count && strcmp(plans->numbers[at].id, id) == 0)
        return plans->numbers[at].number == number;
    struct probe_number *grown =
        realloc(plans->numbers, (plans->number_count + 1) * sizeof *grown);
    if (grown == NULL)
        return false;
    plans->numbers = grown;
    memmove(&grown[at + 1], &grown[at], (plans->number_count - at) * sizeof *grown);
    memset(&grown[at], 0, sizeof grown[at]);
    (void)snprintf(grown[at].id, sizeof grown[at].id, "%s", id);
    grown[at].number = number;
    plans->number_count++;
    return true;
}

bool
plans_number_probes(struct plans *plans, struct plan *plan)
{
    uint16_t highest = 0;
    for (size_t i = 0; i < plans->number_count; i++)
        if (plans->numbers[i].number > highest)
            highest = plans->numbers[i].number;
    for (size_t i = 0; i < plan->probe_count; i++) {
        struct plan_probe *probe = &plan->probes[i];
        size_t at = number_at(plans, probe->id);
        if (at < plans->number_count && strcmp(plans->numbers[at].id, probe->id) == 0) {
            probe->number = plans->numbers[at].number;
            continue;
        }
        if (highest == UINT16_MAX || !learn_number(plans, probe->id, (uint16_t)(highest + 1)))
            return false;
        probe->number = ++highest;
    }
    return true;
}

static bool
read_numbers(struct plans *plans, json_t *probes)
{
    const char *id;
    json_t *number;
    json_object_foreach(probes, id, number)
    {
        json_int_t value = json_integer_value(number);
        if (strlen(id) > PLAN_ID_MAX || value < 1 || value > UINT16_MAX ||
            !learn_number(plans, id, (uint16_t)value))
            return false;
    }
    return true;
}

bool
plans_read_record(struct plans *plans, const struct store_record *record, char *reterr,
                  size_t err_size)
{
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    json_t *text = json_object_get(data, "text");
    const char *file = json_string_value(json_object_get(data, "file"));
    struct plan *plan = NULL;
    struct plan_faults faults;
    if (json_is_string(text) && file != NULL &&
        read_numbers(plans, json_object_get(data, "probes")))
        plan =
            plan_load_record(file, json_string_value(text), json_string_length(text), &faults);
    json_decref(data);
    if (plan == NULL || !plans_number_probes(plans, plan)) {
        (void)snprintf(reterr, err_size,
                       "the plan in record %llu cannot be read by this version of Trivet; use "
                       "the version that "
                       "wrote it, or restore the store from a backup",
                       (unsigned long long)record->seq);
        plan_free(plan);
        return false;
    }
    return plans_keep(plans, record->seq, record->at_ms, plan);
}

static const char *
base_name(const char *file)
{
    const char *slash = strrchr(file, '/');
    return slash == NULL ? file : slash + 1;
}

/* The name and role stand beside the initials: an inspector need not look them up. */
static void
write_approval(struct json_out *out, const struct plan *plan)
{
    const struct plan_person *person = plan_person(plan, plan->approved.by);
    if (plan->approved.by[0] == '\0')
        return;
    out_object(out, "approved");
    out_text(out, "by", plan->approved.by);
    if (person != NULL)
        out_text(out, "name", person->name);
    out_text(out, "on", plan->approved.on);
    if (person != NULL)
        out_text(out, "role", person_role_word(person->role));
    out_object_end(out);
}

static void
write_changes(struct json_out *out, const struct plan_change *changes, size_t count)
{
    if (count == 0)
        return;
    out_array(out, "changes");
    for (size_t i = 0; i < count; i++) {
        out_object(out, NULL);
        out_text(out, "after", changes[i].after);
        out_text(out, "before", changes[i].before);
        out_text(out, "what", changes[i].what);
        out_object_end(out);
    }
    out_array_end(out);
}

char *
plans_record_data(const struct plans *plans, const struct plan *plan,
                  const struct plan_change *changes, size_t change_count)
{
    /* Every byte of the text may need six in JSON. */
    size_t size = plan->text_len * 6 + plans->number_count * 64 + 2048 +
                  change_count * (sizeof *changes + 64);
    char *buf = malloc(size);
    if (buf == NULL)
        return NULL;
    struct json_out out;
    out_start(&out, buf, size, true);
    out_object(&out, NULL);
    write_approval(&out, plan);
    write_changes(&out, changes, change_count);
    out_text(&out, "digest", plan->digest);
    if (plan->draft)
        out_bool(&out, "draft", true);
    out_text(&out, "file", base_name(plan->file));
    out_object(&out, "probes");
    for (size_t i = 0; i < plans->number_count; i++)
        out_int(&out, plans->numbers[i].id, plans->numbers[i].number);
    out_object_end(&out);
    out_text(&out, "text", plan->text);
    out_object_end(&out);
    if (!out_done(&out)) {
        free(buf);
        return NULL;
    }
    return buf;
}
