/* The log sink. Owns the level and the form of a line and nothing else; a line leaves in one
 * write, so that threads do not mix theirs. */
#include "trivet/log.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "trivet/json_out.h"

static enum log_level lowest_level = LOG_INFO;
static bool to_journal;

void
log_set_level(enum log_level level)
{
    lowest_level = level;
}

void
log_meet_journal(void)
{
    char here[64];
    struct stat status;
    const char *stream = getenv("JOURNAL_STREAM");
    if (stream == NULL || fstat(STDERR_FILENO, &status) != 0)
        return;
    (void)snprintf(here, sizeof here, "%ju:%ju", (uintmax_t)status.st_dev,
                   (uintmax_t)status.st_ino);
    to_journal = strcmp(stream, here) == 0;
}

/* Bytes of the character at s, 0 when it is none or could forge a line, steer a terminal or
 * turn the direction of what follows. */
static size_t
clean_bytes(const char *s)
{
    char one[5] = {0};
    for (size_t n = 0; n < 4 && s[n] != '\0'; n++) {
        one[n] = s[n];
        if (text_is_clean(one, n + 1, false))
            return n + 1;
    }
    return 0;
}

/* Copies text; what is not clean becomes \xNN, byte by byte. */
static size_t
escape(char *to, size_t size, const char *from)
{
    size_t len = 0;
    while (*from != '\0' && len + 5 < size) {
        const size_t clean = clean_bytes(from);
        if (clean == 0) {
            len += (size_t)snprintf(to + len, size - len, "\\x%02X", (unsigned char)*from++);
            continue;
        }
        memcpy(to + len, from, clean);
        len += clean;
        from += clean;
    }
    to[len] = '\0';
    return len;
}

/* Of a text that was cut, takes away the piece of a character that may be its end. */
static void
drop_piece(char *text, size_t len)
{
    size_t start = len - 1;
    while (start > 0 && len - start < 4 && ((unsigned char)text[start] & 0xC0) == 0x80)
        start--;
    if (clean_bytes(text + start) != len - start)
        text[start] = '\0';
}

void
log_line(enum log_level level, const char *area, const char *format, ...)
{
    static const char *const words[] = {"error", "warn", "info", "debug"};
    static const char *const priorities[] = {"<3>", "<4>", "<6>", "<7>"}; /* syslog(3) */
    if (level > lowest_level)
        return;
    char raw[1024];
    char line[1600];
    va_list args;
    va_start(args, format);
    const int wanted = vsnprintf(raw, sizeof raw, format, args);
    va_end(args);
    if (wanted >= (int)sizeof raw)
        drop_piece(raw, sizeof raw - 1);
    size_t len =
        (size_t)snprintf(line, sizeof line, "%s%s %s: ", to_journal ? priorities[level] : "",
                         words[level], area);
    len += escape(line + len, sizeof line - len - 1, raw);
    line[len++] = '\n';
    /* There is nowhere left to say that the log itself could not be written. */
    ssize_t written = write(STDERR_FILENO, line, len);
    (void)written;
}
