#include "export_rows.h"

#include <stdlib.h>
#include <string.h>

static uint32_t
number_of(const void *item)
{
    uint32_t number;

    memcpy(&number, item, sizeof(number));
    return number;
}

/* Where the number is, or would be. */
static size_t
place(const struct rows *rows, uint32_t number)
{
    size_t low = 0, high = rows->count;

    while (low < high) {
        size_t middle = (low + high) / 2;
        if (number_of(rows->items[middle]) < number)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

void *
rows_find(const struct rows *rows, uint32_t number)
{
    size_t at = place(rows, number);

    return at < rows->count && number_of(rows->items[at]) == number ? rows->items[at] : NULL;
}

void *
rows_add(struct rows *rows, uint32_t number, size_t size)
{
    size_t at = place(rows, number);
    void *item;

    if (at < rows->count && number_of(rows->items[at]) == number)
        return NULL;
    if (rows->count == rows->room) {
        size_t room = rows->room == 0 ? 64 : rows->room * 2;
        void **grown = realloc(rows->items, room * sizeof(void *));
        if (!grown)
            return NULL;
        rows->items = grown;
        rows->room = room;
    }
    item = calloc(1, size);
    if (!item)
        return NULL;
    memcpy(item, &number, sizeof(number));
    memmove(&rows->items[at + 1], &rows->items[at], (rows->count - at) * sizeof(void *));
    rows->items[at] = item;
    rows->count++;
    return item;
}

void
rows_remove(struct rows *rows, uint32_t number)
{
    size_t at = place(rows, number);

    if (at == rows->count || number_of(rows->items[at]) != number)
        return;
    free(rows->items[at]);
    rows->count--;
    memmove(&rows->items[at], &rows->items[at + 1], (rows->count - at) * sizeof(void *));
}

void
rows_done(struct rows *rows)
{
    for (size_t i = 0; i < rows->count; i++)
        free(rows->items[i]);
    free(rows->items);
    *rows = (struct rows){NULL, 0, 0};
}

bool
long_text_add(struct long_text *text, const char *more)
{
    size_t len = strlen(more);

    if (text->len + len + 1 > text->room) {
        size_t room = (text->len + len + 1) * 2;
        char *grown = realloc(text->chars, room);
        if (!grown)
            return false;
        text->chars = grown;
        text->room = room;
    }
    memcpy(text->chars + text->len, more, len + 1);
    text->len += len;
    return true;
}
