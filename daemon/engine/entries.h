/* What people enter, taken into the engine; engine_check has found each of them sensible. */
#ifndef ENGINE_ENTRIES_H
#define ENGINE_ENTRIES_H

#include "daemon/engine/judge.h"

void entry_take(struct engine *engine, struct engine_output *out,
                const struct engine_input *input);

#endif
