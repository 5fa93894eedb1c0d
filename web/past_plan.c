/* See past_plan.h. Desk threads; holds no state. Reads one record, the last of its kind. */
#include "past_plan.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

static bool
note_seq(void *arg, const struct store_record *record)
{
    *(uint64_t *)arg = record->seq;
    return true;
}

/* A plan that this version cannot read is none. */
static bool
take_plan(void *arg, const struct store_record *record)
{
    json_t *data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    const json_t *probes = json_object_get(data, "probes");
    const char *text = json_string_value(json_object_get(data, "text"));
    struct plan_faults *faults = malloc(sizeof *faults); /* too large for a thread's stack */
    struct plan *plan = faults == NULL || text == NULL
                            ? NULL
                            : plan_load_record("recorded plan", text, strlen(text), faults);
    for (size_t i = 0; plan != NULL && i < plan->probe_count; i++)
        plan->probes[i].number =
            (uint16_t)json_integer_value(json_object_get(probes, plan->probes[i].id));
    *(struct plan **)arg = plan;
    free(faults);
    json_decref(data);
    return false;
}

enum store_status
past_plan_load(struct store_reader *reader, uint64_t seq, struct plan **ret_plan,
               uint64_t *ret_seq, struct store_error *reterr)
{
    uint64_t last = 0;
    struct plan *plan = NULL;
    enum store_status status =
        store_each_record(reader, 0, seq, "plan", note_seq, &last, reterr);
    if (status == STORE_OK && last != 0)
        status = store_each_record(reader, last - 1, last, "plan", take_plan, &plan, reterr);
    if (status != STORE_OK)
        return status;
    *ret_plan = plan;
    *ret_seq = last;
    return STORE_OK;
}
