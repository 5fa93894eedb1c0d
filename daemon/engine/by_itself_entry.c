/* The entry of a step that begins by itself, as the recorder puts it on record, and what is
 * said of it then. Pure. */
#include <string.h>

#include "daemon/engine/batches.h"
#include "daemon/engine/by_itself.h"
#include "daemon/engine/probes.h"

void
by_itself_say(struct decision *said, struct engine *engine, const struct batch_state *batch,
              const struct entry *entry)
{
    const struct plan *plan = engine->plans[batch->plan];
    int probe = entry->who[0] ? -1 : plan_probe_index(plan, entry->probe);
    if (probe < 0)
        return;
    const struct probe_state *state = probe_find(engine, plan->probes[probe].number);
    said->reason = REASON_BY_ITSELF;
    said->probe = plan->probes[probe].number;
    if (state != NULL)
        said->temp_mC = state->last_good.temp_mC;
}

/* The one step that hot food on a probe begins (E174). */
static const struct plan_step *
step_on(const struct plan *plan, const char *probe, const struct plan_product **ret_product)
{
    for (size_t i = 0; i < plan->product_count; i++)
        for (size_t k = 0; k < plan->products[i].step_count; k++)
            if (step_begins_on(&plan->products[i].steps[k], probe)) {
                *ret_product = &plan->products[i];
                return &plan->products[i].steps[k];
            }
    return NULL;
}

/* E241: hot food on a probe that has its fixed place is in that place. */
static void
set_watched_place(const struct engine *engine, const struct plan *plan, int probe,
                  struct entry *entry)
{
    const char *place = NULL;
    for (size_t i = 0; i < plan->place_count; i++) {
        if (plan->places[i].probe != probe)
            continue;
        if (place != NULL)
            return; /* of several: the step's own, as ever */
        place = plan->places[i].id;
    }
    if (place != NULL && plan_place_index(engine_plan(engine), place) >= 0)
        keep_word(entry->place, sizeof entry->place, place);
}

/* A probe that is in the batch already is named by nothing else; one that is not comes with it.
 */
static bool
is_of_batch(struct engine *engine, uint16_t probe, const struct batch_state *batch)
{
    const struct probe_state *state = probe_find(engine, probe);
    return state != NULL && state->batch == batch - engine->state.batches + 1;
}

/* E236: the other probes of its pan, those that are in no food yet. */
static void
add_its_others(struct engine *engine, const struct plan *plan, const struct plan_step *step,
               struct entry *entry)
{
    for (const char *const *on = step->begins_on; step->begins_together && *on; on++) {
        int index = plan_probe_index(plan, *on);
        const struct probe_state *probe =
            index >= 0 ? probe_find(engine, plan->probes[index].number) : NULL;
        if (probe == NULL || probe->batch != 0 || strcmp(*on, entry->probe) == 0 ||
            entry->probe_count == ENTRY_PROBES_MAX)
            continue;
        keep_word(entry->probes[entry->probe_count], sizeof entry->probes[0], *on);
        entry->probe_count++;
    }
}

bool
engine_want_entry(const struct engine *engine, const struct engine_want *want,
                  struct entry *ret)
{
    struct engine *looked_at = (struct engine *)(uintptr_t)engine; /* finders change nothing */
    const struct batch_state *batch = batch_find(looked_at, want->batch);
    const struct plan *plan = batch ? engine->plans[batch->plan] : engine_plan(engine);
    int probe = plan ? plan_probe_by_number(plan, want->probe) : -1;
    const struct plan_product *product = NULL;
    if (probe < 0 || (want->batch != 0 && batch == NULL))
        return false;
    const char *id = plan->probes[probe].id;
    const struct plan_step *step =
        batch ? by_itself_next(engine, batch) : step_on(plan, id, &product);
    bool comes = batch == NULL || !is_of_batch(looked_at, want->probe, batch);
    if (step == NULL || (comes && !step_begins_on(step, id)))
        return false;
    entry_clear(ret, batch ? ENTRY_MOVE : ENTRY_BEGIN);
    keep_word(ret->probe, sizeof ret->probe, id);
    keep_word(ret->step, sizeof ret->step, step->id);
    ret->batch = want->batch;
    if (!comes)
        return true;
    keep_word(ret->probes[0], sizeof ret->probes[0], id);
    ret->probe_count = 1;
    add_its_others(looked_at, plan, step, ret);
    set_watched_place(engine, plan, probe, ret);
    if (batch)
        return true;
    ret->batch = engine_next_batch(engine);
    keep_word(ret->product, sizeof ret->product, product->id);
    return true;
}
