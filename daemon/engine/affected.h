/* Which food a deviation concerns: batches in a place while it goes on, and food in store. */
#ifndef ENGINE_AFFECTED_H
#define ENGINE_AFFECTED_H

#include "daemon/engine/judge.h"

/* Lists the food that a deviation just opened concerns (E191, E192). */
void affected_open(struct engine *engine, struct deviation_state *deviation);

/* A batch, running or in store, is in a place from now on, or no longer; place "" = none. */
void food_arrives(struct engine *engine, uint32_t batch, const char *place);
void food_leaves(struct engine *engine, int64_t at_ms, uint32_t batch, const char *place);

/* ---- food in store (E190) ---- */

struct stored_state *stored_find(struct engine *engine, uint32_t number);
/* Takes a batch that ends as stored over into the store. */
struct stored_state *stored_add(struct engine *engine, struct engine_output *out, int64_t at_ms,
                                const struct batch_state *batch, const char *place);
void stored_move(struct engine *engine, int64_t at_ms, struct stored_state *stored,
                 const char *place);
void stored_end(struct engine *engine, int64_t at_ms, struct stored_state *stored);

/* What a corrective action says of the food: E238. */
void bar_action(struct engine *engine, const struct entry *action);
/* Of the batch that the deviation is of. */
void bar_withdraw(struct engine *engine, const struct deviation_state *deviation);
const struct bar_state *bar_of(const struct engine *engine, uint32_t batch); /* NULL: none */

/* What a batch, running or in store, may not have once more (E194). */
bool may_reheat(const struct engine *engine, uint32_t number);
bool may_cool(const struct engine *engine, uint32_t number);

#endif
