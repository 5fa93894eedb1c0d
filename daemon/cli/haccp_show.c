/* The HACCP table as text of at most 80 columns and as a printable page. See haccp.h. */
#include <string.h>

#include "daemon/cli/haccp.h"
#include "trivet/together.h"

static const char *const caution = "Local food codes and the authority having jurisdiction "
                                   "prevail. This table prints what the "
                                   "plan says; whether its hazards, limits and actions are "
                                   "right is for the kitchen's own HACCP "
                                   "study, confirmed by competent people.";
static const char *const draft =
    "DRAFT: the limits of this plan may change without an approval. Not to be worked by.";
static const char *const demo =
    "DEMO DATA: an invented kitchen, never to be shown as a kitchen's plan.";
static const char *const form =
    "Columns after the HACCP worksheet of Codex Alimentarius CXC 1-1969, General Principles of "
    "Food Hygiene.";

/* ---- text ---- */

#define LABEL_WIDTH 18

static const char *const labels[HACCP_CELLS] = {
    [HACCP_POINT] = "control point",
    [HACCP_WHERE] = "where",
    [HACCP_HAZARD] = "hazard",
    [HACCP_LIMIT] = "critical limit",
    [HACCP_WHAT] = "monitoring, what",
    [HACCP_HOW] = "  how",
    [HACCP_OFTEN] = "  how often",
    [HACCP_WHO] = "  who",
    [HACCP_ACTION] = "corrective action",
    [HACCP_VERIFICATION] = "verification",
    [HACCP_RECORDS] = "records",
};

static void
text_rule(FILE *to)
{
    for (int i = 0; i < 80; i++)
        (void)fputc('-', to);
    (void)fputc('\n', to);
}

static bool
text_row(void *arg, const struct haccp_row *row)
{
    FILE *to = arg;
    text_rule(to);
    for (size_t i = 0; i < HACCP_CELLS; i++) {
        (void)fprintf(to, "%-*s ", LABEL_WIDTH, labels[i]);
        cli_print_wrapped(to, row->cell[i], LABEL_WIDTH + 1, LABEL_WIDTH + 1);
    }
    return ferror(to) == 0;
}

static void
text_head(const struct plan *plan, FILE *to)
{
    char text[400];
    (void)snprintf(text, sizeof text, "HACCP plan: %s%s%s", plan->site_name,
                   plan->site_address == NULL ? "" : ", ",
                   plan->site_address == NULL ? "" : plan->site_address);
    cli_print_wrapped(to, text, 0, 2);
    if (plan->demo)
        cli_print_wrapped(to, demo, 0, 2);
    if (plan->draft)
        cli_print_wrapped(to, draft, 0, 2);
    cli_print_wrapped(to, haccp_approval(plan, text, sizeof text), 0, 2);
    (void)fprintf(to, "Plan, SHA-256: %s\n", plan->digest);
}

bool
haccp_text(const struct plan *plan, FILE *to)
{
    text_head(plan, to);
    bool whole = haccp_each_row(plan, text_row, to);
    text_rule(to);
    cli_print_wrapped(to, caution, 0, 0);
    cli_print_wrapped(to, form, 0, 0);
    return whole && ferror(to) == 0;
}

/* ---- a page to be printed ---- */

static void
html_text(FILE *to, const char *text)
{
    for (const char *at = text; *at != '\0'; at++)
        switch (*at) {
        case '&':
            (void)fputs("&amp;", to);
            break;
        case '<':
            (void)fputs("&lt;", to);
            break;
        case '>':
            (void)fputs("&gt;", to);
            break;
        case '"':
            (void)fputs("&quot;", to);
            break;
        case ' ': /* a number keeps its unit */
            (void)fputs(together_blank(text, (size_t)(at - text)) ? "&nbsp;" : " ", to);
            break;
        default:
            (void)fputc(*at, to);
        }
}

static void
html_element(FILE *to, const char *open, const char *text, const char *close)
{
    (void)fputs(open, to);
    html_text(to, text);
    (void)fputs(close, to);
}

static bool
html_row(void *arg, const struct haccp_row *row)
{
    FILE *to = arg;
    (void)fputs("<tr>", to);
    html_element(to, "<th scope=\"row\">", row->cell[HACCP_POINT], "<br>");
    html_element(to, "<span>", row->cell[HACCP_WHERE], "</span></th>");
    for (size_t i = HACCP_HAZARD; i < HACCP_CELLS; i++)
        html_element(
            to, strncmp(row->cell[i], "MISSING", 7) == 0 ? "<td class=\"missing\">" : "<td>",
            row->cell[i], "</td>");
    (void)fputs("</tr>\n", to);
    return ferror(to) == 0;
}

/* No colour says anything that the words do not; A4 or Letter on its side. */
static const char *const html_head =
    "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
    "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<style>\n"
    "@page { size: landscape; margin: 12mm; }\n"
    "body { font: 10pt/1.35 sans-serif; color: #000; background: #fff; margin: 1.2em; }\n"
    "h1 { font-size: 16pt; margin: 0 0 0.2em; }\n"
    "p { margin: 0.2em 0; }\n"
    ".loud { border: 2px solid; padding: 0.3em 0.6em; font-weight: bold; }\n"
    "table { border-collapse: collapse; width: 100%; margin: 0.8em 0; font-size: 8pt; }\n"
    "caption { text-align: left; font-weight: bold; padding: 0 0 0.3em; }\n"
    "th, td { border: 1px solid #555; padding: 0.3em 0.4em; text-align: left; "
    "vertical-align: top; overflow-wrap: break-word; }\n"
    "thead { display: table-header-group; }\n"
    "tr { break-inside: avoid; }\n"
    "th span { font-weight: normal; }\n"
    ".missing { font-weight: bold; font-style: italic; }\n"
    "code { font-size: 8pt; }\n"
    "</style>\n<title>HACCP plan: ";

static const char *const html_columns =
    "<table>\n<caption>Hazards and their control</caption>\n<thead>\n<tr>"
    "<th rowspan=\"2\" scope=\"col\">Control point, where</th>"
    "<th rowspan=\"2\" scope=\"col\">Hazard</th><th rowspan=\"2\" scope=\"col\">Critical "
    "limit</th><th colspan=\"4\" scope=\"colgroup\">Monitoring</th>"
    "<th rowspan=\"2\" scope=\"col\">Corrective action</th>"
    "<th rowspan=\"2\" scope=\"col\">Verification</th>"
    "<th rowspan=\"2\" scope=\"col\">Records</th></tr>\n<tr>"
    "<th scope=\"col\">What</th><th scope=\"col\">How</th><th scope=\"col\">How often</th>"
    "<th scope=\"col\">Who</th></tr>\n</thead>\n<tbody>\n";

bool
haccp_html(const struct plan *plan, FILE *to)
{
    char text[400];
    (void)fputs(html_head, to);
    html_element(to, "", plan->site_name, "</title>\n</head>\n<body>\n");
    html_element(to, "<h1>HACCP plan: ", plan->site_name, "</h1>\n");
    if (plan->site_address != NULL)
        html_element(to, "<p>", plan->site_address, "</p>\n");
    if (plan->demo)
        html_element(to, "<p class=\"loud\">", demo, "</p>\n");
    if (plan->draft)
        html_element(to, "<p class=\"loud\">", draft, "</p>\n");
    html_element(to, "<p>", haccp_approval(plan, text, sizeof text), "</p>\n");
    html_element(to, "<p>Plan, SHA-256: <code>", plan->digest, "</code></p>\n");
    (void)fputs(html_columns, to);
    bool whole = haccp_each_row(plan, html_row, to);
    (void)fputs("</tbody>\n</table>\n", to);
    html_element(to, "<p>", caution, "</p>\n");
    html_element(to, "<p>", form, "</p>\n</body>\n</html>\n");
    return whole && ferror(to) == 0;
}
