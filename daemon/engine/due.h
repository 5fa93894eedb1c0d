/* When something is due without any input: a tree of minima over all probes, batches,
 * places and switches. */
#ifndef ENGINE_DUE_H
#define ENGINE_DUE_H

#include <stddef.h>

#include "daemon/engine/state.h"

/* All leaves to TIME_NEVER. */
void due_clear(struct engine *engine);
/* Sets what is due for one leaf (DUE_PROBE + slot, DUE_BATCH + slot, DUE_PLACE or
 * DUE_SWITCH + index, DUE_ALARM). */
void due_set(struct engine *engine, size_t leaf, int64_t at_ms);
int64_t due_first(const struct engine *engine);
/* The leaf that is due first; of several at one instant the lowest. */
size_t due_leaf(const struct engine *engine);

#endif
