/* What `trivet help` says. See help.h. */
#include "daemon/cli/help.h"

#include <ctype.h>
#include <string.h>

#include "daemon/cli/enter.h"
#include "trivet/typed.h"

struct page {
    const char *name, *does, *text;
};

#define STORE_OPTION                                                                           \
    "  --store DIR   where the records are kept; if not given, the daemon is asked\n"

/* The verbs that record nothing; the others are told from their own table. */
static const struct page look[] = {
    {"now", "the kitchen now: deviations, batches, places",
     "usage: trivet now [--json]\n\nShows what is open, what is running and how every watched "
     "place is.\n"},
    {"deviations", "the deviations that are still open",
     "usage: trivet deviations [--quiet] [--json]\n\n"
     "  --quiet   prints nothing; ends with 1 when one is open, with 0 when none is\n"},
    {"label", "the labels of dated food: until when it may be used",
     "usage: trivet label [BATCH]\n\n"
     "Prints a label for each batch and each food in store that has a date, or for\n"
     "one: the product, the last day, the batch and the kitchen.\n\n"
     "  trivet label 12\n"},
    {"where", "where the records, the page and the plan are", "usage: trivet where [--json]\n"},
    {"plan", "the plan in force: since when, who approved it, what it changed",
     "usage: trivet plan [--reload] [--json]\n\n"
     "Shows which plan is in force, since when, who has approved its limits, and which\n"
     "limits it changed. Tells as well why a plan file read again is not in force.\n\n"
     "  --reload      read the plan file again and put it in force; ends with 4 when\n"
     "                it is not taken, and says why\n"},
    {"check", "whether all of Trivet is well here, and what to do if not",
     "usage: trivet check [--store DIR] [--quiet] [--json]\n\n"
     "Looks at the daemon, the plan and its file, buses, probes, recording, clock, its\n"
     "time source, socket, permissions, disk, chain and seals, and counts what waits\n"
     "for people. One line each: `ok`, or `!!` with what is wrong and what to do.\n"
     "Changes nothing. Ends with 0 when all is well, with 1 when something needs\n"
     "attention, with 3 when the daemon cannot be reached.\n\n"
     "The chain is checked from the first record on: with years of records this may\n"
     "take minutes. A thermometer that reads is not yet one that reads right: that,\n"
     "only ice water or another thermometer can tell.\n\n" STORE_OPTION
     "  --quiet       prints nothing\n"},
};

/* They record something too, after a conversation of their own. */
static const struct page record[] = {
    {"calibrate", "check a thermometer in ice, boiling water or by a reference",
     "usage: trivet calibrate [THERMOMETER] [POINT...] [options]\n\n"
     "THERMOMETER is a probe or a hand-held one. POINT is ice, boiling, or what a\n"
     "reference thermometer shows beside it, as 63.1C; 1 to 5 of them. A probe is\n"
     "watched until its reading has settled; or say what it showed, as ice=0.4C, which\n"
     "a hand-held one needs. At a terminal, what is missing is asked for.\n\n"
     "  -r, --reference ID     the reference thermometer, as the plan lists it\n"
     "  -p, --pressure-kpa N   what a barometer in the kitchen shows: 100.8 or 1008hPa\n"
     "  -a, --altitude-m N     or the height above sea level: less sure\n"
     "  -l, --left POINTS      the points once more, after it was adjusted, in quotes\n"
     "  -c, --correction WORD  keep, adopt or drop (keep)\n"
     "  -s, --settle-for TIME  how long it has to stand still (30s)\n"
     "  -t, --wait-for TIME    how long to wait for that (15min)\n"
     "  -n, --text TEXT        a remark\n"
     "  -w, --who INITIALS     your initials\n\n"
     "  trivet calibrate walk-in-air ice --who AB\n"
     "  trivet calibrate red-pen ice=0.4C boiling=99.2C -p 1008hPa --who AB\n"
     "  trivet calibrate oven-core ice boiling --correction adopt -p 1008hPa -w AB\n\n"
     "Whether it passes, the daemon says, by the tolerance in the plan. One that fails\n"
     "opens a deviation about all it has shown since it was last found right.\n"},
};

static const struct page keep[] = {
    {"export", "write a CSV table for an inspection",
     "usage: trivet export WHAT [--from WHEN] [--to WHEN] [--out FILE]\n\n"
     "WHAT is readings, batches, deviations, actions, entries, decisions, people,\n"
     "calibrations, switches or records. Temperatures of readings are corrected, with\n"
     "the raw ones beside them; switches are doors and buttons.\n"
     "Entries are all that people entered, hand-held readings and notes among it;\n"
     "decisions come each with its rule and why. WHEN is today,\n"
     "yesterday, \"3 days ago\", 2026-03-01 or \"2026-03-01 14:05\", in the time of the\n"
     "site; a day given with --to is included. Without --from it begins today, without\n"
     "--to it goes on to the end of today.\n\n"
     "  --out FILE    it appears whole or not at all; without it, the table is "
     "printed\n" STORE_OPTION
     "\n  trivet export readings --from yesterday --to yesterday --out readings.csv\n"},
    {"calibrations", "the checks of thermometers so far, and how they drift",
     "usage: trivet calibrations [THERMOMETER] [--store DIR] [--json]\n\n"
     "Each check with its points: what was shown, what was right, how far it was off,\n"
     "as found and as left, and whether it passes. Works without the daemon.\n\n" STORE_OPTION
     "\n  trivet calibrations walk-in-air\n"},
    {"why", "why something was decided: rule, readings, who was told",
     "usage: trivet why ID [--store DIR] [--json]\n\n"
     "ID is what you have: d3 for a deviation, b12 for a batch, 214 for a record.\n"
     "Tells in plain words which rule decided and what its source is, what was\n"
     "required, what was found, the readings around it, who was told and what people\n"
     "did since. It rests on the records alone and works without the daemon. Ends\n"
     "with 1 when there is nothing of that number.\n\n" STORE_OPTION "\n  trivet why d3\n"},
    {"haccp", "the HACCP plan as a table, to read or to print",
     "usage: trivet haccp [PLAN] [--html] [--out FILE] [--store DIR]\n\n"
     "Prints a plan file, or the plan in force, as the usual table: hazard, critical\n"
     "limit, monitoring (what, how, how often, who), corrective action, verification,\n"
     "records. What the plan does not say is marked MISSING, with the key to write.\n\n"
     "  --html        a page to be printed\n"
     "  --out FILE    it appears whole or not at all; without it, it is printed\n" STORE_OPTION
     "\n  trivet haccp kitchen.yaml --html --out haccp.html\n"},
    {"review", "a business day's records, to look through and sign off",
     "usage: trivet review [DAY] [--who INITIALS] [--text TEXT] [--store DIR]\n\n"
     "Shows what people entered on a business day, what was decided, and the lowest\n"
     "and highest reading of each probe, and who has signed it off. DAY is 2026-03-01,\n"
     "today or yesterday; without it, the oldest day that waits. With --who, a\n"
     "supervisor or verifier signs it off; at a terminal that is asked for. When a day\n"
     "ends, the plan says (duties: day_ends).\n\n"
     "  --who, -w INITIALS  who signs it off\n"
     "  --text, -n TEXT     a remark\n" STORE_OPTION "\n  trivet review 2026-03-01 --who JO\n"},
    {"pin", "set the PIN with which a person signs",
     "usage: trivet pin INITIALS [--by INITIALS] [--pin-fd N]\n\n"
     "Asks for the PIN until now and for the new one, which is 4 to 12 digits, without\n"
     "showing them. Whose entries need a PIN, the plan says (duties: pins). The first\n"
     "of all is set by root or as the user that trivetd runs as; once a supervisor has\n"
     "one, every other person's first PIN is set beside a supervisor who gives theirs.\n"
     "That a PIN was set is on record, never which. A PIN is never an argument:\n"
     "arguments can be seen by others. A script gives them in lines on a file\n"
     "descriptor, --pin-fd 3: the old one or nothing, then the new one; with --by the\n"
     "new one, then that of who vouches.\n\n"
     "  --by, -b INITIALS  the supervisor beside whom a first PIN is set\n\n"
     "  trivet pin JO\n  trivet pin RS --by JO\n"},
    {"chain", "check that no record was altered",
     "usage: trivet chain [--store DIR] [--json]\n\n"
     "Checks every record and every sealed reading from the first on.\n"
     "Works without the daemon. Ends with 1 when something was altered.\n\n" STORE_OPTION},
    {"replay", "judge all readings anew and compare",
     "usage: trivet replay [--store DIR] [--json]\n\nFeeds what is recorded to a fresh judge "
     "and "
     "compares its decisions with those\nrecorded. Ends with 1 when they differ. Works without "
     "the "
     "daemon.\n\n" STORE_OPTION},
};

static const struct page work_out[] = {
    {"find", "find a probe on a Modbus line, by hand and ice water",
     "usage: trivet find [--device PATH | --host ADDRESS] [options]\n\n"
     "Asks a serial line or a network device which units answer, then which of their\n"
     "registers follow a probe from the hand into ice water, and prints the lines for\n"
     "the plan. It only reads. At a terminal it asks for the rest and says what to do.\n\n"
     "  --device PATH        the serial port, as /dev/ttyUSB0\n"
     "  --host ADDRESS       or the network address, as 192.0.2.10, with\n"
     "  --port N             its TCP port (502)\n"
     "  --framing KIND       tcp, or rtu for a plain serial gateway (tcp)\n"
     "  --units LIST         unit numbers to ask (1-32; on the network 1-16,255)\n"
     "  --bauds LIST         speeds to try (9600,19200)\n"
     "  --parities LIST      even, none or odd (even,none)\n"
     "  --stop-bits N        1 or 2 (1)\n"
     "  --direction WHO      adapter or kernel: who switches RS-485 (adapter)\n"
     "  --registers LIST     registers to look at, counted from 0 (0-63)\n"
     "  --functions LIST     Modbus functions, 4, 3 or both (4,3)\n"
     "  --timeout TIME       how long a device may think (300ms)\n"
     "  --longest-delay TIME how late an answer can still come (500ms)\n"
     "  --pause TIME         from one question to the next, at least (100ms)\n"
     "  --hand-for TIME      how long to watch the probe in the hand (10s)\n"
     "  --move-for TIME      time to get it into ice water; nothing is asked then\n"
     "  --ice-for TIME       how long to watch it there (30s)\n"
     "  --phase PHASE        in two runs, hand then ice, with\n"
     "  --keep FILE          what the first run found, for the second\n"
     "  --bus ID             what the plan lines call the line (new-line),\n"
     "  --id ID              the probe,\n"
     "  --name NAME          and the probe for people (New probe)\n"
     "  --kind KIND          food or air (food)\n\n"
     "  trivet find --device /dev/ttyUSB0\n"
     "  trivet find --host 192.0.2.10 --units 1 --move-for 30s --json\n\n"
     "It refuses a line that trivetd watches. What it prints is a guess until a person\n"
     "has compared the reading with a thermometer they trust.\n"},
    {"limits", "the published limits, with their sources",
     "usage: trivet limits [PROFILE[/RULE]] [--for-plan] [--profiles DIR] [--json]\n\n"
     "Lists the profiles of published limits and their rules; shows one rule with its\n"
     "section, edition, source, how sure its figures are, and its cautions.\n\n"
     "  --profiles DIR   where the profiles are (else $TRIVET_PROFILES, else those\n"
     "                   that came with the program)\n"
     "  --for-plan       one rule as the lines of a plan; what was not checked only\n"
     "                   with --accept-unverified\n\n"
     "  trivet limits food-code-2022/roast\n"},
    {"judge", "judge a recorded trace by a published limit",
     "usage: trivet judge --limit PROFILE/RULE [--accept-unverified] TRACE.csv\n"
     "       trivet judge --lethality REFERENCE,Z,TARGET TRACE.csv\n\n"
     "A trace has the columns time_s,core_degC,air_degC,event, and that as its first\n"
     "line; a blank is a missing reading; an event is start, removed, moved, setpoint,\n"
     "door, stirred or end-of-cooking. Prints what is decided, a line of JSON each;\n"
     "the last has the verdict: met, not met or inconclusive. Works without the\n"
     "daemon. Ends with 0 when it is met, with 1 when it is not or nobody can tell.\n\n"
     "  --limit PROFILE/RULE      one that `trivet limits` lists\n"
     "  --lethality 70C,7.5,2min  reference temperature, z in kelvin, time to earn\n"
     "  --accept-unverified       judge by figures that were not checked as well\n"
     "  --added-up                add up the rows of a table: no published limit does\n"
     "  --oven TYPE               of a roast: air_degC is that of its oven, still_dry,\n"
     "                            convection or high_humidity; with --mass, its mass\n"
     "  --profiles DIR            where the profiles are (else $TRIVET_PROFILES, else\n"
     "                            those that came with the program)\n\n"
     "  trivet judge --limit food-code-2022/cooling stock.csv\n"},
    {"convert", "what a probe's voltage or resistance means in degrees", NULL},
    {"boiling-point", "at what temperature water boils here", NULL},
    {"forecast", "how long heating or cooling may take: advice, nothing measured", NULL},
    {"timing", "when dishes must go in to be ready in time: advice",
     "usage: trivet timing DISH [DISH ...] --oven TEMP [options]\n\n"
     "A DISH is its product, then what is known of it, with commas between: its mass\n"
     "or thickness, \"to 66C\" where its core shall end, \"from 6C\" (5 C if not said),\n"
     "oval, roll, flat or long, and dough or fat if it wears some. Without \"to\", the\n"
     "aim or the limit of the plan. Earlier batches in the records teach how long it\n"
     "takes. Several dishes share the oven, and the order of work is told.\n\n"
     "  --oven TEMP        what the oven's air probe shows once it is hot, or, without\n"
     "                     one, its set point\n"
     "  --oven-kind KIND   fan, still, steam or any\n"
     "  --cold-oven        the oven is lit as the dish goes in\n"
     "  --serve TIME       ready by this time of day: 19:00\n"
     "  --at TIME          put in at this time of day\n"
     "  --apart            the oven takes one dish at a time\n"
     "  --without-records  ask no records: a guess from the kind of dish alone\n" STORE_OPTION
     "\n  trivet timing \"pork-loin,2.4kg,roll\" --oven 160C --serve 19:00\n\n"
     "A plan advises. Only measurements decide.\n"},
    {"compare", "batches of one product side by side, aligned at put-in",
     "usage: trivet compare PRODUCT [--cooling] [--last N] [--as FORM] [--out FILE]\n\n"
     "From the records: size, start, mean oven, time to the limit, temperature and\n"
     "rate at taking out, peak, time above and below the limit, deviations, notes, and\n"
     "what a forecast made half way would have said against what happened; the curves\n"
     "laid over one another. Of coolings: start, mean air, when the clock began, time\n"
     "to each stage, rate, lowest core, and likewise the forecast made half way.\n\n"
     "  --cooling     its cooling, not its heating; of course where it is only cooled\n"
     "  --last N      how many, the newest (6, at most 8)\n"
     "  --as FORM     text, csv, curves or svg: the table as CSV, the curves as CSV\n"
     "                by half minutes, or both as an image\n"
     "  --out FILE    it appears whole or not at all; without it, it is printed\n" STORE_OPTION
     "\n  trivet compare pork-loin --as svg --out loins.svg\n"},
    {"plan-series", "what plans from earlier attempts would have been worth",
     "usage: trivet plan-series [--live DIRECTORY] DIRECTORY\n\n"
     "Plans each attempt listed in DIRECTORY/index.csv from its own line there and\n"
     "from the traces of earlier attempts at the same product, and prints a CSV table:\n"
     "product,attempt,plan_s_p50,plan_s_p05,plan_s_p95, seconds from put-in to target.\n"
     "The index has the columns run, file, product, attempt, target_C, mass_g,\n"
     "start_degC and oven_setpoint_degC; it may have thickness_mm, preheated (1 or 0),\n"
     "oven_kind (fan, still, steam), shape (oval, roll, flat) and wrap (none, dough,\n"
     "fat).\n"
     "Works without the daemon.\n\n"
     "  --live DIRECTORY   write there for each attempt RUN.csv, a row a minute as\n"
     "                     `trivet forecast` prints: what its own readings add\n\n"
     "  trivet plan-series roasts/\n\n"
     "A plan advises. Only measurements decide.\n"},
};

#define COUNT(table) (sizeof(table) / sizeof *(table))

/* Words people use elsewhere or in speech; only ever a suggestion. */
static const struct {
    const char *word, *verb;
} spoken[] = {
    {"start", "begin"},        {"new", "begin"},
    {"move", "next"},          {"step", "next"},
    {"finish", "end"},         {"stop", "end"},
    {"serve", "end"},          {"discard", "end"},
    {"hand", "take"},          {"measure", "take"},
    {"temp", "take"},          {"reading", "take"},
    {"status", "now"},         {"show", "now"},
    {"list", "now"},           {"action", "act"},
    {"fix", "correct"},        {"accept", "decide"},
    {"approve", "verify"},     {"open", "deviations"},
    {"csv", "export"},         {"report", "export"},
    {"alarms", "deviations"},  {"path", "where"},
    {"boil", "boiling-point"}, {"search", "find"},
    {"scan", "find"},          {"probe", "find"},
    {"doctor", "check"},       {"health", "check"},
    {"test", "check"},         {"explain", "why"},
    {"reason", "why"},         {"calibration", "calibrate"},
    {"ice", "calibrate"},      {"in", "begin"},
    {"cook", "begin"},         {"out", "next"},
    {"rest", "next"},          {"cool", "next"},
    {"done", "next"},          {"throw", "end"},
    {"store", "end"},          {"freeze", "end"},
    {"undo", "correct"},       {"edit", "correct"},
    {"change", "correct"},     {"delete", "correct"},
    {"wrong", "correct"},      {"batches", "now"},
    {"view", "now"},           {"eta", "now"},
    {"mute", "heard"},         {"silence", "heard"},
    {"snooze", "shelve"},      {"defrost", "quiet"},
    {"clean", "quiet"},        {"pause", "quiet"},
    {"sign", "review"},        {"day", "review"},
    {"log", "review"},         {"history", "review"},
    {"print", "label"},        {"date", "label"},
    {"table", "haccp"},        {"version", "where"},
};

static void
list_pages(const struct cli *cli, const char *title, const struct page *pages, size_t count)
{
    (void)fprintf(cli->out, "\n%s\n", title);
    for (size_t i = 0; i < count; i++)
        (void)fprintf(cli->out, "  %-14s %s\n", pages[i].name, pages[i].does);
}

int
help_all(const struct cli *cli)
{
    (void)fputs("usage: trivet [--socket PATH] [--json] VERB ...\n"
                "\n"
                "The kitchen's way to tell Trivet things and to ask it. At a terminal you can\n"
                "type just the verb: what is missing is asked for.\n",
                cli->out);
    list_pages(cli, "Look", look, COUNT(look));
    (void)fputs("\nRecord\n", cli->out);
    for (size_t i = 0; i < enter_verb_count(); i++)
        (void)fprintf(cli->out, "  %-14s %s\n", enter_verb_at(i)->name, enter_verb_at(i)->does);
    for (size_t i = 0; i < COUNT(record); i++)
        (void)fprintf(cli->out, "  %-14s %s\n", record[i].name, record[i].does);
    list_pages(cli, "Keep and show", keep, COUNT(keep));
    list_pages(cli, "Work out", work_out, COUNT(work_out));
    (void)fputs(
        "\n"
        "  trivet help VERB   more about one of them\n"
        "  --socket PATH      the daemon's socket (else $TRIVET_SOCKET, else\n"
        "                     " CLI_SOCKET_USUAL ")\n"
        "  --json             the answer for machines, on one line\n"
        "  $TRIVET_WHO        initials taken when --who is not given\n"
        "\n"
        "Ends with 0 done; 1 the answer is no (something was altered, differs, is open or\n"
        "was not found); 2 not understood or something missing; 3 the daemon, the records\n"
        "or a line cannot be reached; 4 the daemon refused and said why, or has the line.\n"
        "\n"
        "A forecast advises; only measurements decide. Local food-safety codes prevail.\n",
        cli->out);
    return cli_finish(cli, CLI_DONE);
}

static const struct page *
find_page(const char *verb)
{
    for (size_t i = 0; i < COUNT(look); i++)
        if (strcmp(look[i].name, verb) == 0)
            return &look[i];
    for (size_t i = 0; i < COUNT(record); i++)
        if (strcmp(record[i].name, verb) == 0)
            return &record[i];
    for (size_t i = 0; i < COUNT(keep); i++)
        if (strcmp(keep[i].name, verb) == 0)
            return &keep[i];
    for (size_t i = 0; i < COUNT(work_out); i++)
        if (strcmp(work_out[i].name, verb) == 0)
            return &work_out[i];
    return NULL;
}

/* Where the explanations of options begin. */
#define HELP_COLUMN 21

static void
tell_field(const struct cli *cli, const struct enter_field *field)
{
    bool needed = field->need == ENTER_NEEDED && field->when_key == NULL;
    char option[40], text[200];
    (void)snprintf(option, sizeof option, "--%s", field->key);
    (void)snprintf(text, sizeof text, "%s%s", field->help, needed ? " (needed)" : "");
    (void)fprintf(cli->out, "  -%c, %-14s ", field->letter, option);
    cli_print_wrapped(cli->out, text, HELP_COLUMN, HELP_COLUMN);
}

static void
tell_entry_verb(const struct cli *cli, const struct enter_verb *verb)
{
    (void)fprintf(cli->out, "usage: trivet %s", verb->name);
    for (size_t i = 0; i < verb->positional; i++)
        (void)fprintf(cli->out, " [%s]", verb->fields[i].key);
    (void)fprintf(cli->out,
                  " [options]\n\nTo %s.\nAt a terminal, what is missing is asked for.\n\n",
                  verb->does);
    for (size_t i = 0; i < ENTER_FIELDS_MAX && verb->fields[i].key != NULL; i++)
        tell_field(cli, &verb->fields[i]);
    (void)fprintf(cli->out, "\n  %s\n", verb->example);
}

int
help_verb(const struct cli *cli, const char *verb)
{
    const struct enter_verb *entry = enter_verb(verb);
    const struct page *page = find_page(verb);
    if (entry != NULL)
        tell_entry_verb(cli, entry);
    else if (page != NULL && page->text != NULL)
        (void)fprintf(cli->out, "%s\n%s: %s.\n", page->text, page->name, page->does);
    else if (page != NULL)
        (void)fprintf(cli->out, "%s: %s.\nSee `trivet %s --help`.\n", page->name, page->does,
                      page->name);
    else {
        char shown[40];
        const char *nearest = help_nearest(verb);
        (void)typed_shown(shown, sizeof shown, verb);
        if (nearest != NULL)
            return cli_fail(cli, CLI_USAGE, "there is no verb '%s'; did you mean `%s`?", shown,
                            nearest);
        return cli_fail(cli, CLI_USAGE, "there is no verb '%s'; `trivet help` lists them",
                        shown);
    }
    return cli_finish(cli, CLI_DONE);
}

/* The first line of the page that is a call of the verb; NULL. */
static const char *
example_in(const char *text, const char *verb)
{
    char line[40];
    (void)snprintf(line, sizeof line, "\n  trivet %s ", verb);
    const char *found = text == NULL ? NULL : strstr(text, line);
    return found == NULL ? NULL : found + strlen("\n  ");
}

void
help_used_as(const struct cli *cli, const char *verb)
{
    const struct enter_verb *entry = enter_verb(verb);
    const struct page *page = find_page(verb);
    const char *example = entry != NULL  ? entry->example
                          : page == NULL ? NULL
                                         : example_in(page->text, verb);
    if (example != NULL)
        (void)fprintf(cli->err, "It is used as: %.*s\n`trivet help %s` says more.\n",
                      (int)strcspn(example, "\n"), example, verb);
}

/* ---- the nearest verb ---- */

#define WORD_MAX 24

static size_t
smallest(size_t a, size_t b, size_t c)
{
    size_t least = a < b ? a : b;
    return least < c ? least : c;
}

/* Letters to change, add, leave out or swap with their neighbour. Both at most WORD_MAX long.
 */
static size_t
distance(const char *a, const char *b)
{
    size_t row[WORD_MAX + 1][WORD_MAX + 1];
    size_t a_len = strlen(a), b_len = strlen(b);
    for (size_t i = 0; i <= a_len; i++)
        row[i][0] = i;
    for (size_t j = 0; j <= b_len; j++)
        row[0][j] = j;
    for (size_t i = 1; i <= a_len; i++) {
        for (size_t j = 1; j <= b_len; j++) {
            size_t changed = row[i - 1][j - 1] + (a[i - 1] != b[j - 1]);
            row[i][j] = smallest(changed, row[i - 1][j] + 1, row[i][j - 1] + 1);
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] &&
                row[i - 2][j - 2] + 1 < row[i][j])
                row[i][j] = row[i - 2][j - 2] + 1;
        }
    }
    return row[a_len][b_len];
}

struct nearest {
    const char *verb;
    size_t distance;
};

static void
consider(struct nearest *nearest, const char *word, const char *verb)
{
    size_t found = distance(word, verb);
    if (strncmp(word, verb, strlen(word)) == 0 && strlen(word) >= 2)
        found = 0;
    if (found < nearest->distance)
        *nearest = (struct nearest){verb, found};
}

const char *
help_nearest(const char *word)
{
    char lower[WORD_MAX + 1];
    size_t len = strlen(word);
    if (len == 0 || len > WORD_MAX)
        return NULL;
    for (size_t i = 0; i <= len; i++)
        lower[i] = (char)tolower((unsigned char)word[i]);
    for (size_t i = 0; i < COUNT(spoken); i++)
        if (strcmp(spoken[i].word, lower) == 0)
            return spoken[i].verb;
    /* A third of the letters may be wrong, but in a short word at least one. */
    struct nearest nearest = {NULL, len / 3 + 1 + (len < 3)};
    for (size_t i = 0; i < COUNT(look); i++)
        consider(&nearest, lower, look[i].name);
    for (size_t i = 0; i < enter_verb_count(); i++)
        consider(&nearest, lower, enter_verb_at(i)->name);
    for (size_t i = 0; i < COUNT(record); i++)
        consider(&nearest, lower, record[i].name);
    for (size_t i = 0; i < COUNT(keep); i++)
        consider(&nearest, lower, keep[i].name);
    for (size_t i = 0; i < COUNT(work_out); i++)
        consider(&nearest, lower, work_out[i].name);
    consider(&nearest, lower, "help");
    for (size_t i = 0; i < COUNT(spoken); i++)
        if (distance(lower, spoken[i].word) == 1 && nearest.distance > 1)
            nearest = (struct nearest){spoken[i].verb, 1};
    return nearest.verb;
}
