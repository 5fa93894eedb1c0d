/* Cuts a byte stream into lines of bounded length. See line.h. */
#include "daemon/control/line.h"

#include <assert.h>
#include <string.h>

void
line_clear(struct line_buffer *buffer)
{
    buffer->len = 0;
    buffer->taken = 0;
    buffer->scanned = 0;
}

size_t
line_room(struct line_buffer *buffer, char **ret_at)
{
    if (buffer->taken > 0) {
        memmove(buffer->bytes, buffer->bytes + buffer->taken, buffer->len - buffer->taken);
        buffer->len -= buffer->taken;
        buffer->scanned -= buffer->taken;
        buffer->taken = 0;
    }
    *ret_at = buffer->bytes + buffer->len;
    return sizeof buffer->bytes - buffer->len;
}

void
line_added(struct line_buffer *buffer, size_t count)
{
    assert(count <= sizeof buffer->bytes - buffer->len);
    buffer->len += count;
}

/* The newline that ends the next line, or NULL. Never looks at a byte twice. */
static char *
find_end(struct line_buffer *buffer)
{
    char *end = memchr(buffer->bytes + buffer->scanned, '\n', buffer->len - buffer->scanned);
    buffer->scanned = end != NULL ? (size_t)(end - buffer->bytes) : buffer->len;
    return end;
}

static bool
too_long(const struct line_buffer *buffer)
{
    return buffer->len - buffer->taken > CONTROL_LINE_MAX;
}

bool
line_waiting(struct line_buffer *buffer)
{
    return find_end(buffer) != NULL || too_long(buffer);
}

enum line_status
line_take(struct line_buffer *buffer, char **ret_line, size_t *ret_len)
{
    char *end = find_end(buffer);
    if (end == NULL)
        return too_long(buffer) ? LINE_TOO_LONG : LINE_NONE;
    *end = '\0';
    *ret_line = buffer->bytes + buffer->taken;
    *ret_len = (size_t)(end - *ret_line);
    buffer->taken = (size_t)(end - buffer->bytes) + 1;
    buffer->scanned = buffer->taken;
    return LINE_TAKEN;
}

bool
line_cut_short(const struct line_buffer *buffer)
{
    return buffer->len > buffer->taken;
}
