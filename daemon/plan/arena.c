/* Memory that lives as long as one plan. Every piece is its own block: a plan is made of a few
 * thousand pieces at most, and sanitizers then see each one's end. */
#include "daemon/plan/arena.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

struct plan_arena_block {
    struct plan_arena_block *next;
    max_align_t bytes[];
};

void *
plan_arena_take(struct plan_arena *arena, size_t count, size_t size)
{
    struct plan_arena_block *block = NULL;
    if (size == 0 || count <= (SIZE_MAX - sizeof(*block)) / size)
        block = calloc(1, sizeof(*block) + count * size);
    if (!block) {
        arena->failed = true;
        return NULL;
    }
    block->next = arena->blocks;
    arena->blocks = block;
    return block->bytes;
}

char *
plan_arena_copy(struct plan_arena *arena, const char *text, size_t len)
{
    char *copy = plan_arena_take(arena, len + 1, 1);
    if (copy)
        memcpy(copy, text, len);
    return copy;
}

void
plan_arena_free(struct plan_arena *arena)
{
    while (arena->blocks) {
        struct plan_arena_block *next = arena->blocks->next;
        free(arena->blocks);
        arena->blocks = next;
    }
}
