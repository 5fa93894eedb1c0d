/* See the header. One thread; memory is bounded by the plans and the batches in hand. */
#include "export_judged.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "text.h"

struct batch_product {
    uint32_t number; /* first */
    char product[PLAN_ID_MAX + 1];
    const struct plan *plan; /* it began under; NULL = not readable by this version */
};

static const struct plan *
in_force(const struct judged_by *by)
{
    return by->plan_count == 0 ? NULL : by->plans[by->plan_count - 1];
}

/* Probes are named by the numbers the record gives them. */
static void
number_probes(struct plan *plan, const json_t *data)
{
    const json_t *probes = json_object_get(data, "probes");

    for (size_t i = 0; plan && i < plan->probe_count; i++)
        plan->probes[i].number =
            (uint16_t)json_integer_value(json_object_get(probes, plan->probes[i].id));
}

bool
judged_by_plan(struct judged_by *by, const struct store_record *record)
{
    json_t *data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    const char *text = json_string_value(json_object_get(data, "text"));
    struct plan_faults *faults = malloc(sizeof(*faults));
    struct plan **grown = realloc(by->plans, (by->plan_count + 1) * sizeof(struct plan *));

    if (grown)
        by->plans = grown;
    if (grown && faults) {
        struct plan *plan =
            text ? plan_load_record("recorded plan", text, strlen(text), faults) : NULL;
        number_probes(plan, data);
        by->plans[by->plan_count++] = plan;
    }
    free(faults);
    json_decref(data);
    return grown && faults;
}

bool
judged_by_entry(struct judged_by *by, const struct entry *entry)
{
    struct batch_product *batch;

    rows_remove(&by->batches, by->ended_batch);
    by->ended_batch = entry->kind == ENTRY_END ? entry->batch : 0;
    if (entry->kind == ENTRY_END || rows_find(&by->batches, entry->batch))
        return true;
    batch = rows_add(&by->batches, entry->batch, sizeof(*batch));
    if (!batch)
        return false;
    text_copy(batch->product, sizeof(batch->product), entry->product);
    batch->plan = in_force(by);
    return true;
}

void
judged_by_done(struct judged_by *by)
{
    rows_done(&by->batches);
    for (size_t i = 0; i < by->plan_count; i++)
        plan_free(by->plans[i]);
    free(by->plans);
    *by = (struct judged_by){0};
}

const struct plan *
judged_plan(const struct judged_by *by, uint32_t batch)
{
    const struct batch_product *of = batch == 0 ? NULL : rows_find(&by->batches, batch);

    return of ? of->plan : in_force(by);
}

const char *
judged_product(const struct judged_by *by, uint32_t batch)
{
    const struct batch_product *of = batch == 0 ? NULL : rows_find(&by->batches, batch);

    return of ? of->product : "";
}

void
cell_explained(struct cells *cells, const struct decision *decision, const struct plan *plan,
               const struct plan_limit *limit)
{
    struct explain_words words;
    char text[3 * EXPLAIN_WORDS_MAX + 100];

    explain_words(decision, plan, limit, &words);
    (void)snprintf(text, sizeof(text), "%s%s%s%s%s%s%s%s%s%s", explain_rule(decision).sentence,
                   words.required[0] ? " Required: " : "", words.required,
                   words.required[0] ? "." : "", words.found[0] ? " Found: " : "", words.found,
                   words.found[0] ? "." : "", words.uncertainty[0] ? " Uncertainty: " : "",
                   words.uncertainty, words.uncertainty[0] ? "." : "");
    cell_text(cells, text);
}
