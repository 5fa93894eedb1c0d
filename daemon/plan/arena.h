/* Memory that lives as long as one plan: taken piece by piece, freed as a whole. One thread. */
#ifndef PLAN_ARENA_H
#define PLAN_ARENA_H

#include <stdbool.h>
#include <stddef.h>

struct plan_arena_block;

struct plan_arena {
    struct plan_arena_block *blocks;
    bool failed; /* memory ran out at least once; what was made with it is incomplete */
};

/* count * size zeroed bytes, aligned for anything; NULL when memory ran out. */
void *plan_arena_take(struct plan_arena *arena, size_t count, size_t size);
/* A NUL-terminated copy; NULL when memory ran out. */
char *plan_arena_copy(struct plan_arena *arena, const char *text, size_t len);
void plan_arena_free(struct plan_arena *arena);

#endif
