/* Lists of the state: an array and how many of it are in use. */
#ifndef ENGINE_LIST_H
#define ENGINE_LIST_H

#include <stddef.h>
#include <stdint.h>

/* Takes out the entry that starts at that byte of the list, each being `each` bytes; those
 * after it move up, so that the order stays. What lies beyond the count means nothing. */
void list_take_out(void *list, uint32_t *count, const void *entry, size_t each);

#endif
