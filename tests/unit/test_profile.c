/* Profiles of published limits: the ones that are shipped load, every class of fault is told at
 * its line and column; and the limits that plans and profiles share beyond the simple ones. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "trivet/lethal.h"
#include "trivet/profile.h"

static struct plan_faults faults;
static char told[40000];

static struct profile *
load(const char *file, const char *text)
{
    return profile_load_text(file, text, strlen(text), &faults);
}

/* Fails unless text is refused with this. */
static void
refused(const char *file, const char *text, const char *says)
{
    struct profile *profile = load(file, text);
    assert_null(profile);
    assert_true(plan_faults_text(&faults, file, told, sizeof told) > 0);
    if (!strstr(told, says))
        print_error("told: %sexpected: %s\n", told, says);
    assert_non_null(strstr(told, says));
}

#define HEAD                                                                                   \
    "id: harbour-1.2\nname: Harbour rules\nauthority: Port of Saltmere\n"                      \
    "jurisdiction: Saltmere\nedition: 1\nforce: bylaw\n"                                       \
    "caution: Local codes and the authority prevail.\nrules:\n"
#define RULE(limit) RULE_AS("chowder-6.5", limit)
#define RULE_AS(id, limit)                                                                     \
    "  - id: " id "\n    name: Chowder\n    section: 4\n    source: Harbour rules, 4\n"        \
    "    confidence: memory\n    limit: " limit "\n"
#define COOK "{kind: cook, applies_to: food, at_least: 63 °C}"

static void
test_profile_is_as_written(void **state)
{
    (void)state;
    struct profile *profile = load("x/harbour-1.2.yaml", HEAD RULE(COOK));
    assert_non_null(profile);
    assert_string_equal(profile->id, "harbour-1.2");
    assert_string_equal(profile->force, "bylaw");
    assert_int_equal(profile->rule_count, 1);
    const struct profile_rule *rule = profile_rule(profile, "chowder-6.5");
    assert_non_null(rule);
    assert_string_equal(rule->section, "4");
    assert_int_equal(rule->confidence, CONFIDENCE_MEMORY);
    assert_string_equal(profile_confidence_word(rule->confidence), "memory");
    assert_null(rule->caution);
    assert_int_equal(rule->limit.kind, LIMIT_COOK);
    assert_int_equal(rule->limit.temp.milli, 63000);
    assert_null(profile_rule(profile, "chowder"));
    profile_free(profile);
    profile_free(NULL);
}

static void
test_profile_faults_are_told_where_they_are(void **state)
{
    (void)state;
    const char *file = "harbour-1.2.yaml";
    refused(file, "", ":1:1: the profile is empty");
    refused(file, "id: harbour-1.2\n", "lacks 'caution'");
    refused("other.yaml", HEAD RULE(COOK),
            "other.yaml:1:5: a profile's file is named after it");
    refused(file, HEAD RULE("{kind: none}"), ":14:19: a rule without a limit");
    refused(file, HEAD RULE(COOK) RULE(COOK), ":15:9: 'chowder-6.5' is already used on line 9");
    refused(file, HEAD "  - {id: Chowder, name: x}\n", ":9:10: id: 'Chowder' is not an id");
    refused(file, HEAD "  - {id: .chowder, name: x}\n", "is not an id");
    refused(file, HEAD RULE("{kind: cook, applies_to: food, at_least: 63}"),
            ":14:53: at_least: '63' has no unit");
    refused(file, HEAD RULE(COOK) "    colour: red\n", "a rule has no key 'colour'");
}

static void
test_profile_that_does_not_say_who_prevails_is_refused(void **state)
{
    (void)state;
    refused("h.yaml",
            "id: h\nname: x\nauthority: x\njurisdiction: x\nedition: x\nforce: x\n"
            "caution: Trust us.\nrules:\n" RULE(COOK),
            "h.yaml:7:10: the caution does not say that local codes and the authority prevail");
}

/* 68 °C is printed beside 155 °F and is below it: one document, one unit. */
static void
test_profile_in_two_units_is_refused(void **state)
{
    (void)state;
    const char *file = "harbour-1.2.yaml";
    const char *says = "this profile's temperatures are in °C and this one is in °F";
    refused(file,
            HEAD RULE("{kind: cook, applies_to: food, at_least: 68 °C}")
                RULE_AS("again", "{kind: cook, applies_to: food, at_least: 155 °F}"),
            says);
    refused(
        file,
        HEAD RULE("{kind: cook_table, applies_to: food, rows: [{at_least: 60 C, for: 1 min}, "
                  "{at_least: 150F, for: 0 s}]}"),
        says);
    refused(
        file,
        HEAD RULE(
            "{kind: reheat, applies_to: food, at_least: 165 °F, within: 2 h, rise_from: 5 °C}"),
        ":14:87: this profile's temperatures are in °F and this one is in °C");
    struct profile *profile = load(
        file, HEAD RULE("{kind: cook, applies_to: food, at_least: 155 °F, source: 68 °C or so}")
                  RULE_AS("again", "{kind: cook, applies_to: food, at_least: 165F}"));
    assert_non_null(profile);
    profile_free(profile);
}

static void
test_table_faults(void **state)
{
    (void)state;
    const char *file = "harbour-1.2.yaml";
    refused(file, HEAD RULE("{kind: cook_table, applies_to: food, rows: []}"), "rows is empty");
    refused(file,
            HEAD RULE("{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
                      "min}, {at_least: 140 °F, for: 5 min}]}"),
            "at_least is not hotter than that of the row before");
    refused(file,
            HEAD RULE("{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 "
                      "min}, {at_least: 65 °C, for: 13 min}]}"),
            "for is longer than that of the colder row before");
    refused(
        file,
        HEAD RULE("{kind: cook_table, applies_to: food, at_least: 60 °C, rows: [{at_least: 60 "
                  "°C, for: 0 s}]}"),
        "'at_least' has no meaning with kind: cook_table");
}

static void
test_stage_and_clock_faults(void **state)
{
    (void)state;
    const char *file = "harbour-1.2.yaml";
    refused(
        file,
        HEAD RULE("{kind: cool, applies_to: food, from: 60 °C, stages: [{to: 21 °C, within: 2 "
                  "h, counts_from: stage_before}]}"),
        "there is no stage before the first");
    refused(
        file,
        HEAD RULE("{kind: cool, applies_to: food, from: 60 °C, start_within: 30 min, stages: "
                  "[{to: 21 °C, within: 2 h}]}"),
        "start_within needs a clock that starts with the step");
    /* 1 h after 2 h is right where it counts from the stage before. */
    struct profile *profile = load(
        file,
        HEAD RULE("{kind: cool, applies_to: food, from: 60 °C, stages: [{to: 21 °C, within: "
                  "2 h}, {to: 5 °C, within: 1 h, counts_from: stage_before}]}"));
    assert_non_null(profile);
    char text[200];
    assert_string_equal(
        plan_limit_text(text, sizeof text, &profile->rules[0].limit),
        "from 60.0 °C to 21.0 °C within 2 h, to 5.0 °C within a further 1 h (food)");
    profile_free(profile);
}

static void
test_lethality_needs_a_time_and_somebody_who_validated_it(void **state)
{
    (void)state;
    const char *file = "harbour-1.2.yaml";
    refused(file,
            HEAD RULE("{kind: lethality, applies_to: food, reference: 70 °C, z: 7.5 °C, for: 2 "
                      "min}"),
            "lacks 'validated_by'");
    refused(file,
            HEAD RULE("{kind: lethality, applies_to: food, reference: 70 °C, z: 7.5 °C, "
                      "validated_by: RS}"),
            "needs a time to be earned");
    refused(
        file,
        HEAD RULE("{kind: lethality, applies_to: food, reference: 70 °C, z: 1 °C, for: 2 min, "
                  "validated_by: RS}"),
        "z: '1 °C' is out of range");
    struct profile *profile =
        load(file, HEAD RULE("{kind: lethality, applies_to: food, reference: 70 °C, z: 7.5 °C, "
                             "for: 2 min, validated_by: RS}"));
    assert_non_null(profile);
    assert_int_equal(lethal_rate(profile->rules[0].limit.rates, 70000), LETHAL_ONE);
    profile_free(profile);
}

/* A text that is too long for its place keeps whole rows. */
static void
test_table_in_words_is_cut_between_rows(void **state)
{
    (void)state;
    struct plan_row rows[PLAN_ROWS_MAX];
    struct plan_limit limit = {.kind = LIMIT_COOK_TABLE, .rows = rows, .row_count = 20};
    for (int i = 0; i < 20; i++)
        rows[i] = (struct plan_row){{54000 + i * 1000, TEMP_C}, 6000000 - i * 1000};
    char text[1000];
    for (size_t size = 120; size < sizeof text; size++) {
        (void)plan_limit_text(text, size, &limit);
        size_t len = strlen(text);
        assert_true(len > 7 && strcmp(text + len - 7, " (food)") == 0);
        assert_non_null(strstr(text, "at least 54.0 °C for 1 h 40 min"));
    }
}

/* ---- rates: 10^((T - 70) / z), four places, computed by hand calculator ---- */

static void
test_rates_are_those_of_bigelow_and_never_too_high(void **state)
{
    (void)state;
    static const struct {
        int32_t temp_mC;
        int64_t rate;
    } rates[] = {
        /* 10^((T-70)/7.5), as tabled for 70 °C and z 7.5: 0.04642 at 60, 0.21544 at 65, ... */
        {60000, 46415888},    {62500, 100000000},     {65000, 215443469},
        {70000, 1000000000},  {72500, 2154434690},    {77500, 10000000000},
        {80000, 21544346900}, {85000, 100000000000},  {92500, 1000000000000},
        {55000, 10000000},    {120000, 1000000000000} /* no more than 1000 */
    };
    struct lethal_rates *table = malloc(sizeof *table);
    assert_non_null(table);
    lethal_rates_build(table, 70000, 7500);
    for (size_t i = 0; i < sizeof rates / sizeof *rates; i++) {
        int64_t rate = lethal_rate(table, rates[i].temp_mC);
        assert_true(rate <= rates[i].rate + 1);
        assert_true(rate >= rates[i].rate - rates[i].rate / 500000 - 2);
    }
    int64_t before = 0;
    for (int32_t temp_mC = -60000; temp_mC <= 200000; temp_mC += 7) {
        int64_t rate = lethal_rate(table, temp_mC);
        assert_true(rate >= before);
        before = rate;
    }
    free(table);
}

static void
test_shipped_profiles_load(void **state)
{
    (void)state;
    static const char *const names[] = {
        "food-code-2022", "fsis-appendix-a-2021",  "australia-3.2.2",    "uk-cook-chill",
        "canada-2016",    "england-wales-ni",      "scotland-2006",      "eu-852-2004",
        "hong-kong",      "france-2009",           "codex-39-1993",      "food-code-2026",
        "singapore-2011", "fsis-appendix-b-2021",  "new-zealand-fcp",    "quebec-p29-r1",
        "din-10506-2023", "ireland-gn15-2018",     "us-consumer-advice", "fsis-appendix-b-1999",
        "cfr-318-23",     "us-milk-and-shellfish", "minnesota-2019"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char file[100];
        (void)snprintf(file, sizeof file, "config/profiles/%s.yaml", names[i]);
        struct profile *profile = profile_load(file, &faults);
        if (!profile) {
            (void)plan_faults_text(&faults, file, told, sizeof told);
            print_error("%s", told);
        }
        assert_non_null(profile);
        assert_string_equal(profile->id, names[i]);
        profile_free(profile);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_profile_is_as_written),
        cmocka_unit_test(test_profile_faults_are_told_where_they_are),
        cmocka_unit_test(test_profile_that_does_not_say_who_prevails_is_refused),
        cmocka_unit_test(test_profile_in_two_units_is_refused),
        cmocka_unit_test(test_table_faults),
        cmocka_unit_test(test_stage_and_clock_faults),
        cmocka_unit_test(test_lethality_needs_a_time_and_somebody_who_validated_it),
        cmocka_unit_test(test_table_in_words_is_cut_between_rows),
        cmocka_unit_test(test_rates_are_those_of_bigelow_and_never_too_high),
        cmocka_unit_test(test_shipped_profiles_load),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
