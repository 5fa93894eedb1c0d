/* What the subcommands of `trivet` share. See cli.h. */
#include "daemon/cli/cli.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>

int
cli_fail(const struct cli *cli, enum cli_exit code, const char *format, ...)
{
    va_list args;
    (void)fprintf(cli->err, "trivet %s: ", cli->verb);
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
