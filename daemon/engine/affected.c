/* Which food a deviation concerns, and food that is in store after its batch has ended. Pure.
 */
#include "daemon/engine/affected.h"

#include <string.h>

#include "daemon/engine/batches.h"
#include "daemon/engine/list.h"
#include "daemon/engine/marks.h"

/* ---- the food of a deviation ---- */

static void
add_batch(struct deviation_state *deviation, uint32_t batch)
{
    for (size_t i = 0; i < deviation->food_count; i++)
        if (deviation->food[i] == batch)
            return;
    if (deviation->food_count == ENGINE_AFFECTED_MAX)
        deviation->food_more = true;
    else
        deviation->food[deviation->food_count++] = batch;
}

/* E191: of a batch itself. E192: of a place all that was in it since the first breach. */
void
affected_open(struct engine *engine, struct deviation_state *deviation)
{
    const struct engine_state *state = &engine->state;
    const struct decision *opened = &deviation->opened;
    const struct batch_state *own = batch_find(engine, opened->batch);
    const struct stored_state *kept = stored_find(engine, opened->batch);
    if (own)
        keep_word(deviation->product, sizeof deviation->product,
                  batch_product(engine, own)->id);
    else if (kept)
        keep_word(deviation->product, sizeof deviation->product, kept->product);
    if (opened->batch != 0)
        add_batch(deviation, opened->batch);
    if (opened->batch != 0 || !opened->place[0])
        return;
    int64_t since_ms = opened->since_ms != TIME_NONE ? opened->since_ms : opened->at_ms;
    for (size_t i = 0; i < state->counts.departures; i++)
        if (state->departures[i].left_ms >= since_ms &&
            strcmp(state->departures[i].place, opened->place) == 0)
            add_batch(deviation, state->departures[i].batch);
    for (size_t i = 0; i < state->counts.batches; i++)
        if (state->batches[i].number != 0 &&
            strcmp(state->batches[i].place, opened->place) == 0)
            add_batch(deviation, state->batches[i].number);
    for (size_t i = 0; i < state->counts.stored; i++)
        if (strcmp(state->stored[i].place, opened->place) == 0)
            add_batch(deviation, state->stored[i].number);
}

void
food_arrives(struct engine *engine, uint32_t batch, const char *place)
{
    for (size_t i = 0; place[0] && i < engine->state.counts.deviations; i++) {
        struct deviation_state *deviation = &engine->state.deviations[i];
        if (deviation->ended_ms == TIME_NONE && deviation->opened.batch == 0 &&
            strcmp(deviation->opened.place, place) == 0)
            add_batch(deviation, batch);
    }
}

void
food_leaves(struct engine *engine, int64_t at_ms, uint32_t batch, const char *place)
{
    struct engine_state *state = &engine->state;
    if (!place[0])
        return;
    struct departure *departure = &state->departures[state->departure_next];
    *departure = (struct departure){.batch = batch, .left_ms = at_ms};
    keep_word(departure->place, sizeof departure->place, place);
    state->departure_next = (state->departure_next + 1) % DEPARTURES_MAX;
    if (state->counts.departures < DEPARTURES_MAX)
        state->counts.departures++;
}

/* ---- food in store ---- */

struct stored_state *
stored_find(struct engine *engine, uint32_t number)
{
    for (size_t i = 0; i < engine->state.counts.stored; i++)
        if (engine->state.stored[i].number == number)
            return &engine->state.stored[i];
    return NULL;
}

static void
stored_drop(struct engine *engine, struct stored_state *stored)
{
    struct engine_state *state = &engine->state;
    list_take_out(state->stored, &state->counts.stored, stored, sizeof *stored);
}

struct stored_state *
stored_add(struct engine *engine, struct engine_output *out, int64_t at_ms,
           const struct batch_state *batch, const char *place)
{
    struct engine_state *state = &engine->state;
    if (state->counts.stored == ENGINE_STORED_MAX) { /* E190: what was stored longest ago */
        mark_over(engine, out, at_ms, &state->stored[0].mark, REASON_ENTERED);
        stored_drop(engine, &state->stored[0]);
    }
    struct stored_state *stored = &state->stored[state->counts.stored++];
    *stored = (struct stored_state){.number = batch->number,
                                    .stored_ms = at_ms,
                                    .no_reheat = !may_reheat(engine, batch->number),
                                    .no_cool = !may_cool(engine, batch->number),
                                    .bar = batch->bar,
                                    .mark = batch->mark};
    keep_word(stored->place, sizeof stored->place, place);
    keep_word(stored->product, sizeof stored->product, batch_product(engine, batch)->id);
    return stored;
}

void
stored_move(struct engine *engine, int64_t at_ms, struct stored_state *stored,
            const char *place)
{
    if (strcmp(stored->place, place) == 0)
        return;
    food_leaves(engine, at_ms, stored->number, stored->place);
    keep_word(stored->place, sizeof stored->place, place);
    food_arrives(engine, stored->number, place);
}

void
stored_end(struct engine *engine, int64_t at_ms, struct stored_state *stored)
{
    food_leaves(engine, at_ms, stored->number, stored->place);
    stored_drop(engine, stored);
}

/* ---- what food may have once only ---- */

/* Whether the product has a step of that kind that food may have once only. */
static bool
is_once(const struct plan_product *product, enum limit_kind kind)
{
    for (size_t i = 0; i < product->step_count; i++)
        if (product->steps[i].limit.kind == kind && product->steps[i].limit.once)
            return true;
    return false;
}

bool
may_reheat(const struct engine *engine, uint32_t number)
{
    struct engine *looked_at = (struct engine *)(uintptr_t)engine; /* finders change nothing */
    const struct batch_state *batch = batch_find(looked_at, number);
    const struct stored_state *stored = stored_find(looked_at, number);
    if (batch)
        return !batch->reheated || !is_once(batch_product(engine, batch), LIMIT_REHEAT);
    return !stored || !stored->no_reheat;
}

bool
may_cool(const struct engine *engine, uint32_t number)
{
    struct engine *looked_at = (struct engine *)(uintptr_t)engine;
    const struct batch_state *batch = batch_find(looked_at, number);
    const struct stored_state *stored = stored_find(looked_at, number);
    if (batch)
        return !batch->cooled || !is_once(batch_product(engine, batch), LIMIT_COOL);
    return !stored || !stored->no_cool;
}

/* ---- what food is not to be any more (E238) ---- */

static struct bar_state *
find_bar(struct engine *engine, uint32_t batch)
{
    struct batch_state *running = batch_find(engine, batch);
    struct stored_state *stored = running ? NULL : stored_find(engine, batch);
    return running ? &running->bar : stored ? &stored->bar : NULL;
}

/* All of it is to be thrown away where no quantity is said; of a part nobody can tell which.
 * What two deviations say is to be thrown away, the mending of one of them does not free. */
static void
set_bar(struct bar_state *bar, uint32_t deviation, enum disposition disposition, bool is_part)
{
    bool thrown_away = disposition == DISPOSITION_DISCARD && !is_part;
    bool own = bar->deviation == deviation;
    if (thrown_away && bar->disposition == DISPOSITION_DISCARD && !own)
        bar->deviation = 0;
    else if (thrown_away || (disposition == DISPOSITION_HOLD &&
                             (own || bar->disposition != DISPOSITION_DISCARD)))
        *bar = (struct bar_state){.deviation = deviation, .disposition = (uint8_t)disposition};
    else if (own)
        *bar = (struct bar_state){.deviation = 0};
}

void
bar_action(struct engine *engine, const struct entry *action)
{
    for (size_t i = 0; i < action->food_count; i++) {
        const struct entry_food *food = &action->food[i];
        struct bar_state *bar = find_bar(engine, food->batch);
        if (bar)
            set_bar(bar, action->deviation, food->disposition, food->quantity[0] != '\0');
    }
}

void
bar_withdraw(struct engine *engine, const struct deviation_state *deviation)
{
    struct bar_state *bar = find_bar(engine, deviation->opened.batch);
    if (bar && bar->deviation == deviation->number)
        *bar = (struct bar_state){.deviation = 0};
}

const struct bar_state *
bar_of(const struct engine *engine, uint32_t batch)
{
    const struct bar_state *bar = find_bar((struct engine *)(uintptr_t)engine, batch);
    return bar && bar->disposition != DISPOSITION_NONE ? bar : NULL;
}
