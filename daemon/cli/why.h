/* `trivet why`: why something was decided, from the records alone. */
#ifndef CLI_WHY_H
#define CLI_WHY_H

#include "daemon/cli/cli.h"
#include "trivet/explain.h"

int cli_why(struct cli *cli, int argc, char **argv);

/* ---- why_show.c: one explanation for people, and for machines ---- */

void why_show(const struct cli *cli, const struct explanation *explanation);
/* The caller's, NULL when out of memory. */
struct json_t *why_json(const struct explanation *explanation);
/* "2026-03-03 10:05:00" of the site's clock as it was shown then. Returns buf. */
char *why_stamp(const struct explanation *explanation, int64_t at_ms, char buf[40]);
/* A label and its text, wrapped. */
void why_tell(const struct cli *cli, const char *label, const char *text);

#endif
