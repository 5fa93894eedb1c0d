/* A tree of minima: setting a leaf costs one walk to the root, the first due instant costs
 * nothing. Pure; touches only engine->due. */
#include "daemon/engine/due.h"

#include <assert.h>

void
due_clear(struct engine *engine)
{
    for (size_t node = 1; node < 2 * DUE_LEAVES; node++)
        engine->due[node] = TIME_NEVER;
}

void
due_set(struct engine *engine, size_t leaf, int64_t at_ms)
{
    assert(leaf <= DUE_ALARM);
    int64_t *due = engine->due;
    due[DUE_LEAVES + leaf] = at_ms;
    for (size_t node = (DUE_LEAVES + leaf) / 2; node >= 1; node /= 2) {
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
        node = engine->due[2 * node] == engine->due[1] ? 2 * node : 2 * node + 1;
    return node - DUE_LEAVES;
}
