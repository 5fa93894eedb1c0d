/* trivet limits: lists the profiles and their rules, or shows one rule with all that belongs to
 * it. Owns standard output while it runs; touches neither store nor daemon. */
#include "daemon/cli/limits.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/help.h"
#include "daemon/cli/options.h"
#include "daemon/cli/profiles.h"
#include "trivet/json_out.h"

#define LIMIT_TEXT_MAX 4000
#define JSON_MAX       400000

static void
add_temp(struct json_out *out, const char *key, struct limit_temp temp)
{
    char name[JSON_KEY_MAX];
    (void)snprintf(name, sizeof name, "%s_milli", key);
    out_int(out, name, temp.milli);
    (void)snprintf(name, sizeof name, "%s_unit", key);
    out_text(out, name, temp.unit == TEMP_F ? "F" : "C");
}

static void
add_rows(struct json_out *out, const struct plan_limit *limit)
{
    out_array(out, "rows");
    for (size_t i = 0; i < limit->row_count; i++) {
        out_object(out, NULL);
        add_temp(out, "at_least", limit->rows[i].temp);
        out_int(out, "for_ms", limit->rows[i].hold_ms);
        out_object_end(out);
    }
    out_array_end(out);
}

static void
add_stages(struct json_out *out, const struct plan_limit *limit)
{
    bool step = limit->clock == COOL_CLOCK_STEP;
    out_text(out, "clock", step ? "step" : "fall");
    add_temp(out, "from", limit->start);
    if (limit->start_within_ms > 0)
        out_int(out, "start_within_ms", limit->start_within_ms);
    out_array(out, "stages");
    for (size_t i = 0; i < limit->stage_count; i++) {
        const struct plan_stage *stage = &limit->stages[i];
        out_object(out, NULL);
        out_text(out, "counts_from",
                 stage->counts_from == STAGE_FROM_STAGE_BEFORE ? "stage_before" : "start");
        add_temp(out, "to", stage->to);
        out_int(out, "within_ms", stage->within_ms);
        out_object_end(out);
    }
    out_array_end(out);
}

static void
add_oven_rows(struct json_out *out, const struct plan_limit *limit)
{
    out_array(out, "oven_rows");
    for (size_t i = 0; i < limit->oven_row_count; i++) {
        const struct plan_oven_row *row = &limit->oven_rows[i];
        out_object(out, NULL);
        out_text(out, "oven", oven_type_word(row->type));
        out_int(out, row->under_g > 0 ? "under_g" : "from_g", row->under_g + row->from_g);
        add_temp(out, row->is_upper ? "at_most" : "at_least",
                 row->is_upper ? row->most : row->least);
        out_object_end(out);
    }
    out_array_end(out);
}

static void
add_hold(struct json_out *out, const struct plan_limit *limit)
{
    out_int(out, "tolerance_ms", limit->tolerance_ms);
    out_int(out, "back_for_ms", limit->back_ms);
    if (limit->has_ceiling)
        add_temp(out, "never_above", limit->ceiling);
    if (limit->period_ms == 0)
        return;
    out_int(out, "one_period_ms", limit->period_ms);
    out_bool(out, "time_strict", limit->time_strict);
}

static void
add_limit(struct json_out *out, const struct plan_limit *limit)
{
    out_object(out, "limit");
    out_text(out, "kind", limit_kind_word(limit->kind));
    out_text(out, "applies_to", limit_subject_word(limit->subject));
    out_bool(out, "strict", limit->strict);
    if (limit->once)
        out_bool(out, "once", true);
    switch (limit->kind) {
    case LIMIT_SUM:
    case LIMIT_COOK_TABLE:
        add_rows(out, limit);
        break;
    case LIMIT_COOL:
        add_stages(out, limit);
        break;
    case LIMIT_HOLD_COLD:
        add_temp(out, "at_most", limit->temp);
        add_hold(out, limit);
        break;
    case LIMIT_HOLD_HOT:
        add_temp(out, "at_least", limit->temp);
        add_hold(out, limit);
        break;
    case LIMIT_LETHALITY:
        out_int(out, "z_mK", limit->z_mK);
        add_temp(out, "reference", limit->temp);
        out_int(out, "for_ms", limit->hold_ms);
        break;
    case LIMIT_COOK:
    case LIMIT_REHEAT:
        add_temp(out, "at_least", limit->temp);
        out_int(out, "for_ms", limit->hold_ms);
        if (limit->within_ms > 0)
            out_int(out, "within_ms", limit->within_ms);
        if (limit->has_rise)
            add_temp(out, "rise_from", limit->rise_from);
        if (limit->stand_ms > 0)
            out_int(out, "stand_ms", limit->stand_ms);
        break;
    case LIMIT_ZONE:
        add_temp(out, "cold_at_most", limit->temp);
        add_temp(out, "hot_at_least", limit->hot);
        out_int(out, "within_ms", limit->within_ms);
        out_bool(out, "time_strict", limit->time_strict);
        if (limit->use_at_once_ms > 0)
            out_int(out, "use_at_once_after_ms", limit->use_at_once_ms);
        break;
    case LIMIT_TIME:
        add_temp(out, limit->left_hot ? "left_at_least" : "left_at_most", limit->temp);
        out_int(out, "within_ms", limit->within_ms);
        out_bool(out, "time_strict", limit->time_strict);
        if (limit->has_ceiling)
            add_temp(out, "never_above", limit->ceiling);
        break;
    case LIMIT_RISE: /* said with the limit that it goes with */
    case LIMIT_OVEN:
    case LIMIT_MOIST_OVEN:
    case LIMIT_NONE:
        break;
    case LIMIT_DAYS:
        out_int(out, "days", limit->days);
        out_text(out, "first_day", limit->first_day == FIRST_DAY_NEXT ? "next" : "itself");
        break;
    }
    if (limit->rise != NULL) {
        add_temp(out, "come_up_from", limit->rise->temp);
        add_temp(out, "come_up_to", limit->rise->hot);
        out_int(out, "come_up_within_ms", limit->rise->within_ms);
    }
    if (limit->oven_row_count > 0)
        add_oven_rows(out, limit);
    out_object_end(out);
}

static void
add_optional(struct json_out *out, const char *key, const char *text)
{
    if (text != NULL)
        out_text(out, key, text);
}

static void
add_rule(struct json_out *out, const struct profile *profile, const struct profile_rule *rule)
{
    char text[LIMIT_TEXT_MAX], name[2 * PLAN_ID_MAX + 2];
    (void)snprintf(name, sizeof name, "%s/%s", profile->id, rule->id);
    out_object(out, NULL);
    out_text(out, "rule", name);
    out_text(out, "name", rule->name);
    add_optional(out, "scope", rule->scope);
    out_text(out, "edition", profile->edition);
    out_text(out, "section", rule->section);
    out_text(out, "source", rule->source);
    out_text(out, "confidence", profile_confidence_word(rule->confidence));
    out_bool(out, "available", rule->confidence == CONFIDENCE_VERIFIED);
    out_text(out, "requires", plan_limit_text(text, sizeof text, &rule->limit));
    add_limit(out, &rule->limit);
    add_optional(out, "caution", rule->caution);
    out_text(out, "profile_caution", profile->caution);
    out_object_end(out);
}

static void
add_profile(struct json_out *out, const struct profile *profile)
{
    out_object(out, NULL);
    out_text(out, "profile", profile->id);
    out_text(out, "name", profile->name);
    out_text(out, "authority", profile->authority);
    out_text(out, "jurisdiction", profile->jurisdiction);
    out_text(out, "edition", profile->edition);
    out_text(out, "force", profile->force);
    out_text(out, "caution", profile->caution);
    out_array(out, "rules");
    for (size_t i = 0; i < profile->rule_count; i++)
        add_rule(out, profile, &profile->rules[i]);
    out_array_end(out);
    out_object_end(out);
}

static int
print_json(const struct cli *cli, const struct profiles *profiles,
           const struct profile *profile, const struct profile_rule *rule)
{
    char *buf = malloc(JSON_MAX);
    struct json_out out;
    if (buf == NULL)
        return cli_fail(cli, CLI_USAGE, "no memory for the answer");
    out_start(&out, buf, JSON_MAX, false);
    if (rule != NULL) {
        add_rule(&out, profile, rule);
    } else {
        out_object(&out, NULL);
        out_array(&out, "profiles");
        for (size_t i = 0; i < profiles->count; i++)
            if (profile == NULL || profile == profiles->profile[i])
                add_profile(&out, profiles->profile[i]);
        out_array_end(&out);
        out_object_end(&out);
    }
    int code = CLI_DONE;
    if (out_done(&out))
        (void)fprintf(cli->out, "%s\n", buf);
    else
        code = cli_fail(cli, CLI_NO, "the list is too long; ask for one profile");
    free(buf);
    return code == CLI_DONE ? cli_finish(cli, code) : code;
}

/* Where the values begin. */
#define TELL_COLUMN 15

static void
tell(const struct cli *cli, const char *what, const char *text)
{
    if (text == NULL)
        return;
    (void)fprintf(cli->out, "  %-12s ", what);
    cli_print_wrapped(cli->out, text, TELL_COLUMN, TELL_COLUMN);
}

static void
tell_confidence(const struct cli *cli, const struct profile_rule *rule)
{
    char text[200];
    (void)snprintf(text, sizeof text, "%s%s", profile_confidence_word(rule->confidence),
                   rule->confidence == CONFIDENCE_VERIFIED
                       ? ": checked against a copy of the published text"
                       : ": not checked against the published text; not available unless asked "
                         "for with --accept-unverified");
    tell(cli, "confidence", text);
}

static void
print_rule(const struct cli *cli, const struct profile *profile,
           const struct profile_rule *rule)
{
    char text[LIMIT_TEXT_MAX];
    (void)fprintf(cli->out, "%s/%s: %s\n", profile->id, rule->id, rule->name);
    tell(cli, "requires", plan_limit_text(text, sizeof text, &rule->limit));
    tell(cli, "for", rule->scope);
    tell(cli, "edition", profile->edition);
    tell(cli, "section", rule->section);
    tell(cli, "source", rule->source);
    tell_confidence(cli, rule);
    tell(cli, "force", profile->force);
    tell(cli, "where", profile->jurisdiction);
    tell(cli, "caution", rule->caution);
    tell(cli, "", profile->caution);
}

static void
print_profile(const struct cli *cli, const struct profile *profile)
{
    char name[2 * PLAN_ID_MAX + 2];
    (void)fprintf(cli->out, "%s (%s, %s)\n", profile->name, profile->jurisdiction,
                  profile->force);
    for (size_t i = 0; i < profile->rule_count; i++) {
        const struct profile_rule *rule = &profile->rules[i];
        (void)snprintf(name, sizeof name, "%s/%s", profile->id, rule->id);
        (void)fprintf(cli->out, "  %-44s %s%s%s%s\n", name, rule->name,
                      rule->confidence == CONFIDENCE_VERIFIED ? "" : " [",
                      rule->confidence == CONFIDENCE_VERIFIED
                          ? ""
                          : profile_confidence_word(rule->confidence),
                      rule->confidence == CONFIDENCE_VERIFIED ? "" : "]");
    }
}

static int
print_text(const struct cli *cli, const struct profiles *profiles,
           const struct profile *profile, const struct profile_rule *rule)
{
    if (rule != NULL) {
        print_rule(cli, profile, rule);
        return cli_finish(cli, CLI_DONE);
    }
    for (size_t i = 0; i < profiles->count; i++)
        if (profile == NULL || profile == profiles->profile[i])
            print_profile(cli, profiles->profile[i]);
    (void)fputs(
        "Local food codes and the authority having jurisdiction prevail. What is marked [ ] "
        "was\n"
        "not checked against the published text. `trivet limits PROFILE/RULE` shows one.\n",
        cli->out);
    return cli_finish(cli, CLI_DONE);
}

/* ---- the lines of a plan ---- */

/* A time as a plan writes it, without loss: "112 min", "55.9 s". */
static const char *
plan_time(char buf[40], int64_t time_ms)
{
    static const struct {
        int64_t ms;
        const char *unit;
    } units[] = {{3600000, "h"}, {60000, "min"}, {1000, "s"}, {1, "ms"}};
    size_t i = 0;
    while (time_ms % units[i].ms != 0 || (time_ms == 0 && units[i].ms != 1000))
        i++;
    (void)snprintf(buf, 40, "%" PRId64 " %s", time_ms / units[i].ms, units[i].unit);
    return buf;
}

static void
put_temp(const struct cli *cli, const char *key, struct limit_temp temp)
{
    char text[32];
    (void)fprintf(cli->out, "  %s: %s\n", key, limit_temp_text(text, sizeof text, temp));
}

static void
put_time(const struct cli *cli, const char *key, int64_t time_ms)
{
    char text[40];
    (void)fprintf(cli->out, "  %s: %s\n", key, plan_time(text, time_ms));
}

static void
put_rows(const struct cli *cli, const struct plan_limit *limit)
{
    char temp[32], time[40];
    (void)fputs("  rows:\n", cli->out);
    for (size_t i = 0; i < limit->row_count; i++)
        (void)fprintf(cli->out, "    - {at_least: %s, for: %s}\n",
                      limit_temp_text(temp, sizeof temp, limit->rows[i].temp),
                      plan_time(time, limit->rows[i].hold_ms));
}

static void
put_oven_rows(const struct cli *cli, const struct plan_limit *limit)
{
    char temp[32];
    (void)fputs("  # For an oven, say which: oven: still_dry, convection or high_humidity\n"
                "  oven_rows:\n",
                cli->out);
    for (size_t i = 0; i < limit->oven_row_count; i++) {
        const struct plan_oven_row *row = &limit->oven_rows[i];
        (void)fprintf(
            cli->out, "    - {oven: %s, %s: %d, %s: %s}\n", oven_type_word(row->type),
            row->under_g > 0 ? "under_g" : "from_g", (int)(row->under_g + row->from_g),
            row->is_upper ? "at_most" : "at_least",
            limit_temp_text(temp, sizeof temp, row->is_upper ? row->most : row->least));
    }
}

static void
put_stages(const struct cli *cli, const struct plan_limit *limit)
{
    char temp[32], time[40];
    put_temp(cli, "from", limit->start);
    if (limit->clock == COOL_CLOCK_STEP)
        (void)fputs("  clock: step\n", cli->out);
    if (limit->start_within_ms > 0)
        put_time(cli, "start_within", limit->start_within_ms);
    (void)fputs("  stages:\n", cli->out);
    for (size_t i = 0; i < limit->stage_count; i++)
        (void)fprintf(cli->out, "    - {to: %s, within: %s%s}\n",
                      limit_temp_text(temp, sizeof temp, limit->stages[i].to),
                      plan_time(time, limit->stages[i].within_ms),
                      limit->stages[i].counts_from == STAGE_FROM_STAGE_BEFORE
                          ? ", counts_from: stage_before"
                          : "");
}

static void
put_hold(const struct cli *cli, const struct plan_limit *limit)
{
    if (limit->period_ms > 0)
        put_time(cli, "one_period", limit->period_ms);
    else
        put_time(cli, "tolerance", limit->tolerance_ms);
    if (limit->time_strict)
        (void)fputs("  time_strict: yes\n", cli->out);
    put_time(cli, "back_for", limit->back_ms);
    if (limit->has_ceiling)
        put_temp(cli, "never_above", limit->ceiling);
}

static void
put_limit(const struct cli *cli, const struct plan_limit *limit)
{
    (void)fprintf(cli->out, "%s:\n  kind: %s\n  applies_to: %s\n",
                  limit->kind == LIMIT_DAYS ? "date_mark" : "limit", /* of a product */
                  limit_kind_word(limit->kind), limit_subject_word(limit->subject));
    switch (limit->kind) {
    case LIMIT_COOK:
    case LIMIT_REHEAT:
        put_temp(cli, "at_least", limit->temp);
        put_time(cli, "for", limit->hold_ms);
        if (limit->within_ms > 0)
            put_time(cli, "within", limit->within_ms);
        if (limit->has_rise)
            put_temp(cli, "rise_from", limit->rise_from);
        if (limit->stand_ms > 0)
            put_time(cli, "stand", limit->stand_ms);
        break;
    case LIMIT_ZONE:
        put_temp(cli, "cold_at_most", limit->temp);
        put_temp(cli, "hot_at_least", limit->hot);
        put_time(cli, "within", limit->within_ms);
        if (limit->time_strict)
            (void)fputs("  time_strict: yes\n", cli->out);
        if (limit->use_at_once_ms > 0)
            put_time(cli, "use_at_once_after", limit->use_at_once_ms);
        break;
    case LIMIT_TIME:
        put_temp(cli, limit->left_hot ? "left_at_least" : "left_at_most", limit->temp);
        put_time(cli, "within", limit->within_ms);
        if (limit->time_strict)
            (void)fputs("  time_strict: yes\n", cli->out);
        if (limit->has_ceiling)
            put_temp(cli, "never_above", limit->ceiling);
        break;
    case LIMIT_HOLD_HOT:
    case LIMIT_HOLD_COLD:
        put_temp(cli, limit->kind == LIMIT_HOLD_HOT ? "at_least" : "at_most", limit->temp);
        put_hold(cli, limit);
        break;
    case LIMIT_COOL:
        put_stages(cli, limit);
        break;
    case LIMIT_SUM:
    case LIMIT_COOK_TABLE:
        put_rows(cli, limit);
        break;
    case LIMIT_LETHALITY: /* a plan has to say who validated it, which no profile can */
    case LIMIT_RISE:
    case LIMIT_OVEN:
    case LIMIT_MOIST_OVEN:
    case LIMIT_NONE:
        break;
    case LIMIT_DAYS:
        (void)fprintf(cli->out, "  days: %d\n", (int)limit->days);
        if (limit->first_day == FIRST_DAY_NEXT)
            (void)fputs("  first_day: next\n", cli->out);
        break;
    }
    if (limit->rise != NULL) {
        put_temp(cli, "come_up_from", limit->rise->temp);
        put_temp(cli, "come_up_to", limit->rise->hot);
        put_time(cli, "come_up_within", limit->rise->within_ms);
    }
    if (limit->oven_row_count > 0)
        put_oven_rows(cli, limit);
    if (limit->strict)
        (void)fputs("  strict: yes\n", cli->out);
    if (limit->once)
        (void)fputs("  once: yes\n", cli->out);
}

/* The rule as a plan writes it: the plan then holds the figures itself, and what was judged by
 * them never depends on a file that may change. */
static int
print_plan_lines(const struct cli *cli, const struct profile *profile,
                 const struct profile_rule *rule, bool accept_unverified)
{
    if (rule == NULL)
        return cli_fail(cli, CLI_USAGE,
                        "name one rule for a plan: trivet limits PROFILE/RULE "
                        "--for-plan");
    bool verified = rule->confidence == CONFIDENCE_VERIFIED;
    if (!verified && !accept_unverified)
        return cli_fail(cli, CLI_USAGE,
                        "%s/%s was not checked against the published text (%s), so it is not "
                        "available; to have it all the same, say --accept-unverified",
                        profile->id, rule->id, profile_confidence_word(rule->confidence));
    if (rule->limit.kind == LIMIT_LETHALITY || rule->limit.kind == LIMIT_SUM)
        return cli_fail(cli, CLI_USAGE,
                        "a lethality needs validated_by: write it into the plan yourself, with "
                        "who validated it");
    (void)fprintf(cli->out, "# %s/%s, %s, %s.\n", profile->id, rule->id, rule->section,
                  profile_confidence_word(rule->confidence));
    (void)fputs(
        "# Local codes and the authority having jurisdiction prevail; confirm it by your own "
        "study.\n",
        cli->out);
    put_limit(cli, &rule->limit);
    (void)fprintf(cli->out, "  source: \"%s%s, %s\"\n",
                  verified ? "" : "not verified: ", profile->name, rule->section);
    return cli_finish(cli, CLI_DONE);
}

int
cli_limits(struct cli *cli, int argc, char **argv)
{
    enum { OPTION_PROFILES, OPTION_FOR_PLAN, OPTION_ACCEPT, OPTION_COUNT };
    static const struct option_spec specs[OPTION_COUNT] = {
        [OPTION_PROFILES] = {"profiles", 0},
        [OPTION_FOR_PLAN] = {"for-plan", OPTION_FLAG},
        [OPTION_ACCEPT] = {"accept-unverified", OPTION_FLAG},
    };
    struct options_read options;
    struct profiles profiles;
    const struct profile *profile = NULL;
    const struct profile_rule *rule = NULL;
    int code = options_read(cli, argc, argv, specs, OPTION_COUNT, &options);
    if (code != CLI_DONE)
        return code;
    if (options.help)
        return help_verb(cli, argv[0]);
    if (options.word_count > 1)
        return cli_fail(cli, CLI_USAGE,
                        "one profile or rule at a time; see `trivet help limits`");
    code = profiles_read(cli, options.value[OPTION_PROFILES], options.word[0], &profiles);
    if (code == CLI_DONE && options.word_count == 1)
        code = profiles_find(cli, &profiles, options.word[0], &profile, &rule);
    if (code == CLI_DONE && options.value[OPTION_FOR_PLAN] != NULL)
        code = print_plan_lines(cli, profile, rule, options.value[OPTION_ACCEPT] != NULL);
    else if (code == CLI_DONE)
        code = cli->json ? print_json(cli, &profiles, profile, rule)
                         : print_text(cli, &profiles, profile, rule);
    profiles_free(&profiles);
    return code;
}
