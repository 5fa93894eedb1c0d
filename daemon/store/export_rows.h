/* Rows collected by a rising number while the records pass: batches and deviations of a range.
 */
#ifndef STORE_EXPORT_ROWS_H
#define STORE_EXPORT_ROWS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct rows {
    void **items; /* each begins with its uint32_t number; ascending */
    size_t count, room;
};

/* NULL when there is no such row. */
void *rows_find(const struct rows *rows, uint32_t number);
/* A new row of size bytes, all zeros but its number. NULL without memory, or when there is one
 * already. */
void *rows_add(struct rows *rows, uint32_t number, size_t size);
void rows_remove(struct rows *rows, uint32_t number);
void rows_done(struct rows *rows);

/* Text that grows. Zeros before the first use; free with free(text->chars). */
struct long_text {
    char *chars; /* NUL-terminated; NULL while empty */
    size_t len, room;
};

/* Appends; false without memory. */
bool long_text_add(struct long_text *text, const char *more);

#endif
