/* Cuts a byte stream into lines of bounded length. Pure: no descriptors, no clock; the control
 * thread owns each one. */
#ifndef CONTROL_LINE_H
#define CONTROL_LINE_H

#include <stdbool.h>
#include <stddef.h>

/* Longest line taken, in bytes, without its newline: an entry with every text full and every
 * byte escaped fits. */
#define CONTROL_LINE_MAX 65536

struct line_buffer {
    size_t len;     /* bytes held */
    size_t taken;   /* of these, already given out */
    size_t scanned; /* from the start: known to hold no newline after `taken` */
    char bytes[CONTROL_LINE_MAX + 1];
};

enum line_status { LINE_NONE, LINE_TAKEN, LINE_TOO_LONG };

void line_clear(struct line_buffer *buffer);

/* Where to read further bytes into, and how many fit; never 0 unless a line is waiting or too
 * long. Ends the life of the line taken last. */
size_t line_room(struct line_buffer *buffer, char **ret_at);
void line_added(struct line_buffer *buffer, size_t count);

/* True when line_take would not answer LINE_NONE. */
bool line_waiting(struct line_buffer *buffer);

/* Gives the next line, its newline replaced by NUL; it lives until line_room. LINE_TOO_LONG is
 * for good: the stream cannot be trusted any more. */
enum line_status line_take(struct line_buffer *buffer, char **ret_line, size_t *ret_len);

/* At the end of the stream: true when bytes without a newline are left over. */
bool line_cut_short(const struct line_buffer *buffer);

#endif
