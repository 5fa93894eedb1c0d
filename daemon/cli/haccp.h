/* `trivet haccp`: the plan as the usual HACCP table, for paper and inspectors. */
#ifndef CLI_HACCP_H
#define CLI_HACCP_H

#include "daemon/cli/cli.h"
#include "trivet/plan.h"

int cli_haccp(struct cli *cli, int argc, char **argv);

/* ---- haccp_rows.c: the table's cells ---- */

#define HACCP_CELL_MAX 1200

/* One row: what is watched at one step of one dish, or in one place. The columns follow the
 * HACCP worksheet of Codex CXC 1-1969. */
enum haccp_cell {
    HACCP_POINT, /* the critical control point, as the plan names it */
    HACCP_WHERE, /* the dish and its step, or the place */
    HACCP_HAZARD,
    HACCP_LIMIT, /* the critical limit and its source */
    HACCP_WHAT,  /* monitoring: what, how, how often, who */
    HACCP_HOW,
    HACCP_OFTEN,
    HACCP_WHO,
    HACCP_ACTION,
    HACCP_VERIFICATION,
    HACCP_RECORDS,
    HACCP_CELLS
};

struct haccp_row {
    char cell[HACCP_CELLS][HACCP_CELL_MAX];
};

typedef bool haccp_visitor(void *arg, const struct haccp_row *row);

/* Every limit of the plan, dishes first; false when the visitor stopped. */
bool haccp_each_row(const struct plan *plan, haccp_visitor *visit, void *arg);
/* Who answers for it: "Approved by ...", or that nobody does. Returns buf. */
char *haccp_approval(const struct plan *plan, char *buf, size_t size);

/* ---- haccp_show.c ---- */

bool haccp_text(const struct plan *plan, FILE *to);
bool haccp_html(const struct plan *plan, FILE *to);

#endif
