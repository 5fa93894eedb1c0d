/* A tree of minima: setting a leaf costs one walk to the root, the first due instant costs
 * nothing. Pure; touches only engine->due and the due columns of the state. */
#include "daemon/engine/due.h"

#include <assert.h>

static int64_t *
column(struct engine *engine, size_t leaf)
{
    if (leaf == DUE_ALARM)
        return &engine->state.alarm_due_ms;
    if (leaf >= DUE_SWITCH)
        return &engine->state.switch_due_ms[leaf - DUE_SWITCH];
    if (leaf >= DUE_PLACE)
        return &engine->state.place_due_ms[leaf - DUE_PLACE];
    if (leaf >= DUE_BATCH)
        return &engine->state.batch_due_ms[leaf - DUE_BATCH];
    return &engine->state.probe_due_ms[leaf - DUE_PROBE];
}

void
due_clear(struct engine *engine)
{
    for (size_t i = 0; i < 2 * DUE_LEAVES; i++)
        engine->due[i] = TIME_NEVER;
    for (size_t leaf = 0; leaf <= DUE_ALARM; leaf++)
        *column(engine, leaf) = TIME_NEVER;
}

void
due_set(struct engine *engine, size_t leaf, int64_t at_ms)
{
    assert(leaf <= DUE_ALARM);
    *column(engine, leaf) = at_ms;
    int64_t *due = engine->due;
    size_t node = DUE_LEAVES + leaf;
    due[node] = at_ms;
    while (node > 1) {
        node /= 2;
        int64_t least = least_of(due[2 * node], due[2 * node + 1]);
        if (due[node] == least)
            return;
        due[node] = least;
    }
}

int64_t
due_first(const struct engine *engine)
{
    return engine->due[1];
}

size_t
due_leaf(const struct engine *engine)
{
    size_t node = 1;
    while (node < DUE_LEAVES)
        node = engine->due[2 * node] <= engine->due[2 * node + 1] ? 2 * node : 2 * node + 1;
    return node - DUE_LEAVES;
}
