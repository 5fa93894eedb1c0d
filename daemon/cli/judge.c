/* trivet judge: reads a trace, has it judged (verdict.c) and prints each decision as a line of
 * JSON and the verdict as the last. Owns standard output while it runs; touches neither store
 * nor daemon. */
#include "daemon/cli/judge.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/help.h"
#include "daemon/cli/options.h"
#include "daemon/cli/profiles.h"
#include "daemon/cli/trace.h"
#include "daemon/cli/verdict.h"
#include "trivet/lethal.h"
#include "trivet/typed.h"

#define ROWS_MAX      5000000
#define TIME_MAX_S    1e9
#define LINE_MAX_SIZE 8192
#define HOLD_MAX_MS   INT64_C(172800000)

/* What it is judged by. */
struct ruling {
    struct plan_limit limit;
    const struct profile *profile; /* NULL: a lethality of the command line */
    const struct profile_rule *rule;
    struct lethal_rates rates;
    struct plan_limit ovens[PLAN_OVEN_ROWS_MAX];
    bool accept_unverified;
};

/* ---- the trace ---- */

static int32_t
milli_of(double temp_C)
{
    return isnan(temp_C) ? TEMP_NONE : (int32_t)lround(temp_C * 1000); /* trace.c bounds it */
}

static int
add_row(const struct cli *cli, const struct trace *from, const struct forecast_reading *reading,
        struct verdict_trace *trace, size_t *room)
{
    if (fabs(reading->time_s) > TIME_MAX_S)
        return cli_fail(cli, CLI_USAGE,
                        "%s:%ld: time_s is too large; write seconds from the "
                        "trace's beginning",
                        from->path, from->line);
    int64_t at_ms = llround(reading->time_s * 1000);
    if (trace->count > 0 && at_ms <= trace->rows[trace->count - 1].at_ms)
        return cli_fail(cli, CLI_USAGE,
                        "%s:%ld: time_s is within a millisecond of the line "
                        "before; write one reading a millisecond at most",
                        from->path, from->line);
    if (trace->count == ROWS_MAX)
        return cli_fail(cli, CLI_USAGE, "%s:%ld: more than %d readings; cut the trace in parts",
                        from->path, from->line, ROWS_MAX);
    if (trace->count == *room) {
        size_t more = *room > 0 ? *room * 2 : 4096;
        struct verdict_row *rows = realloc(trace->rows, more * sizeof *rows);
        if (rows == NULL)
            return cli_fail(cli, CLI_USAGE, "no memory for the trace");
        trace->rows = rows;
        *room = more;
    }
    trace->rows[trace->count++] = (struct verdict_row){.at_ms = at_ms,
                                                       .core_mC = milli_of(reading->core_C),
                                                       .air_mC = milli_of(reading->air_C),
                                                       .event = reading->event};
    return CLI_DONE;
}

static int
read_trace(const struct cli *cli, const char *path, struct verdict_trace *trace)
{
    struct trace from;
    struct forecast_reading reading;
    char error[TRACE_ERROR_BYTES];
    size_t room = 0;
    int code = CLI_DONE;
    if (!trace_open(&from, path, error))
        return cli_fail(cli, CLI_USAGE, "%s", error);
    enum trace_status status = TRACE_END;
    while (code == CLI_DONE && (status = trace_next(&from, &reading, error)) == TRACE_ROW)
        code = add_row(cli, &from, &reading, trace, &room);
    trace_close(&from);
    if (code == CLI_DONE && status == TRACE_BAD)
        return cli_fail(cli, CLI_USAGE, "%s", error);
    if (code == CLI_DONE && trace->count == 0)
        return cli_fail(cli, CLI_USAGE, "%s: there is no reading after the header", path);
    return code;
}

/* ---- --lethality 70C,7.5,2min ---- */

/* The part of text up to a comma or its end, NUL-terminated. False when it does not fit. */
static bool
take_part(const char **text, char *ret, size_t size)
{
    size_t len = strcspn(*text, ",");
    if (len == 0 || len >= size)
        return false;
    memcpy(ret, *text, len);
    ret[len] = '\0';
    *text += len;
    if (**text == ',')
        return *++*text != '\0';
    return true;
}

static bool
ends_in(char *text, const char *unit)
{
    size_t len = strlen(text), unit_len = strlen(unit);
    if (len <= unit_len || strcmp(text + len - unit_len, unit) != 0)
        return false;
    text[len - unit_len] = '\0';
    if (len > unit_len + 1 && text[len - unit_len - 1] == ' ')
        text[len - unit_len - 1] = '\0';
    return true;
}

static bool
parse_duration(char *text, int64_t *ret_ms)
{
    static const struct {
        const char *unit;
        int64_t ms;
    } units[] = {{"min", 60000}, {"h", 3600000}, {"s", 1000}};
    int32_t milli;
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (ends_in(text, units[i].unit)) {
            if (!milli_parse(text, &milli) || milli <= 0)
                return false;
            *ret_ms = milli * units[i].ms / 1000;
            return *ret_ms > 0 && *ret_ms <= HOLD_MAX_MS;
        }
    return false;
}

static int
rule_by_lethality(const struct cli *cli, const char *text, struct ruling *ruling)
{
    char reference[32], z[32], target[32], shown[60];
    struct plan_limit *limit = &ruling->limit;
    const char *at = text;
    *limit = (struct plan_limit){.kind = LIMIT_LETHALITY, .subject = SUBJECT_FOOD};
    bool good = take_part(&at, reference, sizeof reference) && take_part(&at, z, sizeof z) &&
                take_part(&at, target, sizeof target) && *at == '\0';
    good = good && (ends_in(reference, "°C") || ends_in(reference, "C")) &&
           milli_parse(reference, &limit->temp.milli) && limit->temp.milli >= 40000 &&
           limit->temp.milli <= 130000;
    if (good)
        (void)ends_in(z, "K"); /* the unit may be left out */
    good = good && milli_parse(z, &limit->z_mK) && limit->z_mK >= LETHAL_Z_MIN_mK &&
           limit->z_mK <= LETHAL_Z_MAX_mK && parse_duration(target, &limit->hold_ms);
    if (!good)
        return cli_fail(
            cli, CLI_USAGE,
            "--lethality '%s' cannot be read; write reference temperature (40 to 130 "
            "°C), z (2 to 50 kelvin) and target: 70C,7.5,2min",
            typed_shown(shown, sizeof shown, text));
    lethal_rates_build(&ruling->rates, limit->temp.milli, limit->z_mK);
    limit->rates = &ruling->rates;
    return CLI_DONE;
}

/* ---- --limit PROFILE/RULE ---- */

static int
rule_by_profile(const struct cli *cli, const struct profiles *profiles, const char *name,
                struct ruling *ruling)
{
    int code = profiles_find(cli, profiles, name, &ruling->profile, &ruling->rule);
    if (code != CLI_DONE)
        return code;
    if (ruling->rule == NULL)
        return cli_fail(
            cli, CLI_USAGE,
            "%s is a profile; name one of its rules as well: `trivet limits %s` lists "
            "them",
            name, name);
    if (ruling->rule->limit.kind == LIMIT_DAYS)
        return cli_fail(cli, CLI_USAGE,
                        "%s counts days of the calendar, which no trace has; a plan names it "
                        "as a product's date_mark",
                        name);
    if (ruling->rule->limit.subject == SUBJECT_SURFACE)
        return cli_fail(
            cli, CLI_USAGE,
            "%s is a limit for the surface, which no trace has; a plan judges it by "
            "hand readings of top and bottom",
            name);
    ruling->limit = ruling->rule->limit;
    if (ruling->rule->confidence == CONFIDENCE_VERIFIED || ruling->accept_unverified)
        return CLI_DONE;
    return cli_fail(
        cli, CLI_USAGE,
        "%s was not checked against the published text (%s), so it is not available; "
        "to judge by it all the same, say --accept-unverified",
        name, profile_confidence_word(ruling->rule->confidence));
}

/* ---- --oven TYPE --mass MASS ---- */

static int
rule_of_oven(const struct cli *cli, const char *type, const char *mass, struct ruling *ruling)
{
    struct plan_limit *limit = &ruling->limit;
    char shown[60], refusal[300];
    if (type == NULL && mass == NULL)
        return CLI_DONE;
    if (type == NULL)
        return cli_fail(cli, CLI_USAGE, "--mass goes with --oven; say which oven, or leave it");
    limit->oven = oven_type_from_word(type);
    if (limit->oven == OVEN_UNSAID)
        return cli_fail(cli, CLI_USAGE,
                        "there is no oven '%s'; write still_dry, convection or high_humidity",
                        typed_shown(shown, sizeof shown, type));
    if (limit->oven_row_count == 0)
        return cli_fail(
            cli, CLI_USAGE,
            "this rule has no oven conditions; leave --oven out, or name a rule that "
            "has, such as food-code-2022/roast");
    if (mass != NULL && !amount_mass(mass, &limit->roast_g, refusal, sizeof refusal))
        return cli_fail(cli, CLI_USAGE, "--mass: %s", refusal);
    plan_oven_make(limit, ruling->ovens);
    limit->ovens = ruling->ovens;
    return CLI_DONE;
}

/* ---- what is printed ---- */

static void
print_decision(void *arg, const struct decision *decision)
{
    const struct cli *cli = arg;
    char line[LINE_MAX_SIZE];
    struct json_out out;
    out_start(&out, line, sizeof line, true);
    decision_write(decision, &out, NULL);
    if (out_done(&out)) /* at most 1024 bytes */
        (void)fprintf(cli->out, "%s\n", line);
}

/* A count of 10^-decimals (3 or 4) as a JSON number: 5400, 0.5, -1.25. */
static void
add_decimal(struct json_out *out, const char *key, int64_t count, int decimals)
{
    char number[40];
    int64_t unit = decimals == 3 ? 1000 : 10000, size = count < 0 ? -count : count;
    int len = snprintf(number, sizeof number, "%s%" PRId64 ".%0*d", count < 0 ? "-" : "",
                       size / unit, decimals, (int)(size % unit));
    while (len > 0 && number[len - 1] == '0')
        number[--len] = '\0';
    if (len > 0 && number[len - 1] == '.')
        number[--len] = '\0';
    out_raw(out, key, number);
}

static void
add_origin(struct json_out *out, const struct ruling *ruling)
{
    char name[2 * PLAN_ID_MAX + 2];
    const struct profile_rule *rule = ruling->rule;
    if (rule == NULL)
        return;
    (void)snprintf(name, sizeof name, "%s/%s", ruling->profile->id, rule->id);
    out_text(out, "limit", name);
    out_text(out, "edition", ruling->profile->edition);
    out_text(out, "section", rule->section);
    out_text(out, "source", rule->source);
    out_text(out, "confidence", profile_confidence_word(rule->confidence));
    if (rule->confidence != CONFIDENCE_VERIFIED)
        out_bool(out, "accept_unverified", true);
    if (rule->caution != NULL)
        out_text(out, "caution", rule->caution);
}

static int
print_verdict(const struct cli *cli, const struct ruling *ruling, const struct verdict *verdict)
{
    char line[LINE_MAX_SIZE], required[4000];
    struct json_out out;
    out_start(&out, line, sizeof line, false);
    out_object(&out, NULL);
    out_text(&out, "verdict", verdict->word);
    add_decimal(&out, "time_s", verdict->at_ms, 3);
    out_text(&out, "reason", verdict->reason);
    out_text(&out, "because", verdict->phrase);
    if (ruling->limit.kind == LIMIT_LETHALITY) /* rounded down */
        add_decimal(&out, "earned_min", verdict->earned_ms / 6, 4);
    add_origin(&out, ruling);
    out_text(&out, "required", plan_limit_text(required, sizeof required, &ruling->limit));
    add_decimal(&out, "spacing_s", verdict->spacing_ms, 3);
    out_object_end(&out);
    if (!out_done(&out))
        return cli_fail(cli, CLI_USAGE, "the verdict is too long to be printed");
    (void)fprintf(cli->out, "%s\n", line);
    return cli_finish(cli, strcmp(verdict->word, "met") == 0 ? CLI_DONE : CLI_NO);
}

/* ---- the verb ---- */

enum {
    OPTION_LIMIT,
    OPTION_LETHALITY,
    OPTION_PROFILES,
    OPTION_ACCEPT,
    OPTION_ADDED_UP,
    OPTION_OVEN,
    OPTION_MASS,
    OPTION_COUNT
};

static int
judge_trace(const struct cli *cli, const char *path, const struct ruling *ruling)
{
    struct verdict_trace trace = {0};
    struct verdict verdict;
    int code = read_trace(cli, path, &trace);
    if (code == CLI_DONE && !verdict_reach(&trace, &ruling->limit, print_decision,
                                           (void *)(uintptr_t)cli, &verdict))
        code = cli_fail(cli, CLI_USAGE, "no memory for an engine");
    if (code == CLI_DONE)
        code = print_verdict(cli, ruling, &verdict);
    free(trace.rows);
    return code;
}

static int
judge_options(const struct cli *cli, const struct options_read *options)
{
    const char *limit = options->value[OPTION_LIMIT];
    const char *lethality = options->value[OPTION_LETHALITY];
    if ((limit == NULL) == (lethality == NULL))
        return cli_fail(
            cli, CLI_USAGE,
            "say by what to judge: --limit PROFILE/RULE (`trivet limits` lists them) or "
            "--lethality 70C,7.5,2min");
    if (options->word_count != 1)
        return cli_fail(cli, CLI_USAGE,
                        options->word_count == 0 ? "name the trace file"
                                                 : "one trace at a time");
    struct ruling *ruling = calloc(1, sizeof *ruling);
    struct profiles profiles = {.count = 0};
    if (ruling == NULL)
        return cli_fail(cli, CLI_USAGE, "no memory to judge with");
    ruling->accept_unverified = options->value[OPTION_ACCEPT] != NULL;
    int code = CLI_DONE;
    if (lethality != NULL) {
        code = rule_by_lethality(cli, lethality, ruling);
    } else {
        code = profiles_read(cli, options->value[OPTION_PROFILES], limit, &profiles);
        if (code == CLI_DONE)
            code = rule_by_profile(cli, &profiles, limit, ruling);
    }
    if (code == CLI_DONE && options->value[OPTION_ADDED_UP] != NULL) {
        if (ruling->limit.kind == LIMIT_COOK_TABLE)
            ruling->limit.kind = LIMIT_SUM;
        else
            code =
                cli_fail(cli, CLI_USAGE,
                         "--added-up is for a table of times and temperatures; leave it out, "
                         "or name such a rule with --limit");
    }
    if (code == CLI_DONE)
        code =
            rule_of_oven(cli, options->value[OPTION_OVEN], options->value[OPTION_MASS], ruling);
    if (code == CLI_DONE)
        code = judge_trace(cli, options->word[0], ruling);
    profiles_free(&profiles);
    free(ruling);
    return code;
}

int
cli_judge(struct cli *cli, int argc, char **argv)
{
    static const struct option_spec specs[OPTION_COUNT] = {
        [OPTION_LIMIT] = {"limit", 0},
        [OPTION_LETHALITY] = {"lethality", 0},
        [OPTION_PROFILES] = {"profiles", 0},
        [OPTION_ACCEPT] = {"accept-unverified", OPTION_FLAG},
        [OPTION_ADDED_UP] = {"added-up", OPTION_FLAG},
        [OPTION_OVEN] = {"oven", 0},
        [OPTION_MASS] = {"mass", 0},
    };
    struct options_read options;
    int code = options_read(cli, argc, argv, specs, OPTION_COUNT, &options);
    if (code != CLI_DONE)
        return code;
    if (options.help)
        return help_verb(cli, argv[0]);
    return judge_options(cli, &options);
}
