/* What the subcommands of `trivet` share. See cli.h. */
#include "daemon/cli/cli.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>

#include "trivet/together.h"

/* One less than a terminal has: some wrap at the last. */
#define COLUMNS 79

int
cli_fail(const struct cli *cli, enum cli_exit code, const char *format, ...)
{
    va_list args;
    (void)fprintf(cli->err, "trivet%s%s: ", cli->verb == NULL ? "" : " ",
                  cli->verb == NULL ? "" : cli->verb);
    va_start(args, format);
    (void)vfprintf(cli->err, format, args);
    va_end(args);
    (void)fputc('\n', cli->err);
    return (int)code;
}

void
cli_print_clean(FILE *to, const char *text)
{
    for (const unsigned char *at = (const unsigned char *)text; *at != '\0'; at++) {
        if (*at == '\n' || *at == '\t')
            (void)fputc(' ', to);
        else
            (void)fputc(*at < 0x20 || *at == 0x7F ? '?' : *at, to);
    }
}

int
cli_finish(const struct cli *cli, int code)
{
    if (fflush(cli->out) == 0 && !ferror(cli->out))
        return code;
    return cli_fail(cli, CLI_NO, "the answer could not be written: %s", strerror(errno));
}

/* Columns of a word; every character counts as one, which holds for what kitchens write in
 * Europe's scripts. */
static size_t
width_of(const char *text, size_t len)
{
    size_t width = 0;
    for (size_t i = 0; i < len; i++)
        width += ((unsigned char)text[i] & 0xC0) != 0x80;
    return width;
}

static void
put_word(FILE *to, const char *word, size_t len)
{
    for (size_t i = 0; i < len; i++)
        (void)fputc((unsigned char)word[i] < 0x20 || word[i] == 0x7F ? '?' : word[i], to);
}

/* A number with its unit, or a day with its time, is one word. */
static size_t
word_length(const char *text)
{
    size_t len = strcspn(text, " \n\t");
    while (text[len] == ' ' && together_blank(text, len))
        len += 1 + strcspn(text + len + 1, " \n\t");
    return len;
}

void
cli_print_wrapped(FILE *to, const char *text, size_t at, size_t indent)
{
    bool first_on_line = true;
    while (*(text += strspn(text, " \n\t")) != '\0') {
        size_t len = word_length(text), width = width_of(text, len);
        if (!first_on_line && at + 1 + width > COLUMNS) {
            (void)fprintf(to, "\n%*s", (int)indent, "");
            at = indent;
            first_on_line = true;
        }
        if (!first_on_line) {
            (void)fputc(' ', to);
            at++;
        }
        put_word(to, text, len);
        at += width;
        text += len;
        first_on_line = false;
    }
    (void)fputc('\n', to);
}
