/* Lists of the state. Pure. */
#include "daemon/engine/list.h"

#include <assert.h>
#include <string.h>

void
list_take_out(void *list, uint32_t *count, const void *entry, size_t each)
{
    size_t at = (size_t)((const char *)entry - (const char *)list);
    assert(at % each == 0 && at / each < *count);
    --*count;
    memmove((char *)list + at, (const char *)entry + each, *count * each - at);
}
