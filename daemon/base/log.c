/* The log sink. Owns the level and nothing else; a line leaves in one write, so that threads do
 * not mix theirs. */
#include "trivet/log.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static enum log_level lowest_level = LOG_INFO;

void
log_set_level(enum log_level level)
{
    lowest_level = level;
}

/* Copies text, escaping what could forge a line or turn its direction. */
static size_t
escape(char *to, size_t size, const char *from)
{
    size_t len = 0;
    for (const unsigned char *s = (const unsigned char *)from; *s != '\0'; s++) {
        /* E2 80 AA..AE and E2 81 A6..A9 are the direction overrides and isolates. */
        int turns = s[0] == 0xE2 && ((s[1] == 0x80 && s[2] >= 0xAA && s[2] <= 0xAE) ||
                                     (s[1] == 0x81 && s[2] >= 0xA6 && s[2] <= 0xA9));
        if (len + 5 >= size)
            break;
        if (*s < 0x20 || *s == 0x7F || turns)
            len += (size_t)snprintf(to + len, size - len, "\\x%02X", *s);
        else
            to[len++] = (char)*s;
    }
    to[len] = '\0';
    return len;
}

void
log_line(enum log_level level, const char *area, const char *format, ...)
{
    static const char *const words[] = {"error", "warn", "info", "debug"};
    if (level > lowest_level)
        return;
    char raw[1024];
    char line[1600];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(raw, sizeof raw, format, args);
    va_end(args);
    size_t len = (size_t)snprintf(line, sizeof line, "%s %s: ", words[level], area);
    len += escape(line + len, sizeof line - len - 1, raw);
    line[len++] = '\n';
    /* There is nowhere left to say that the log itself could not be written. */
    ssize_t written = write(STDERR_FILENO, line, len);
    (void)written;
}
