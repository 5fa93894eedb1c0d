/* Published limits that a plan names: what is taken from the profiles, that a record of the
 * plan needs none, what is refused, and what a changed profile changes. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/temp_dir.h"
#include "trivet/profile.h"

static struct plan_faults faults;
static char told[40000];
static struct temp_dir directory;

#define HEAD                                                                                   \
    "site: {name: Saltmere test kitchen}\n"                                                    \
    "people:\n  - {initials: JO, name: Jun Okada, role: supervisor}\n"                         \
    "  - {initials: RS, name: Ruth Sandoval, role: verifier}\n"
#define STEP(limit)                                                                            \
    "products:\n  - id: soup\n    name: Soup\n    steps:\n"                                    \
    "      - {id: cook, name: Cooking, limit: " limit "}\n"

/* The profile of an invented authority. */
#define PROFILE(at_least, more)                                                                \
    "id: harbour-1\nname: Harbour \\\"rules\\\"\nauthority: Port of Saltmere\n"                \
    "jurisdiction: Saltmere\nedition: first\nforce: bylaw\n"                                   \
    "caution: Local codes and the authority prevail.\nrules:\n"                                \
    "  - {id: stew, name: Stew, section: '4', source: 'Harbour \"rules\", 4', "                \
    "confidence: verified, limit: {kind: cook, applies_to: food, at_least: " at_least          \
    ", for: 2 min}}\n"                                                                         \
    "  - {id: broth, name: Broth, section: '5', source: 'Harbour rules, 5', "                  \
    "confidence: memory, limit: {kind: cook_table, applies_to: food, rows: [{at_least: 60 "    \
    "°C, for: 12 min}, {at_least: 70 °C, for: 0 s}]}}\n"                                     \
    "  - {id: again, name: Again, section: '6', source: 'Harbour rules, 6', confidence: "      \
    "verified, limit: {kind: reheat, applies_to: food, at_least: 74 °C, within: 2 h}}\n"      \
    "  - {id: first, name: First heating, section: '7', source: 'Harbour rules, 7', "          \
    "confidence: verified, limit: {kind: reheat, applies_to: food, at_least: 57 °C, within: " \
    "2 h, once: yes}}\n" more

static void
write_profile(const char *name, const char *text)
{
    FILE *file = fopen(temp_dir_file(&directory, name), "wb");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

static int
own_profiles(void **state)
{
    (void)state;
    temp_dir_make(&directory);
    write_profile("harbour-1.yaml", PROFILE("63 °C", ""));
    return setenv("TRIVET_PROFILES", directory.path, 1);
}

static int
no_profiles(void **state)
{
    (void)state;
    temp_dir_remove(&directory);
    return unsetenv("TRIVET_PROFILES");
}

static struct plan *
load(const char *text)
{
    struct plan *plan = plan_load_text("plan.yaml", text, strlen(text), &faults);
    if (!plan) {
        (void)plan_faults_text(&faults, "plan.yaml", told, sizeof told);
        print_error("%s", told);
    }
    assert_non_null(plan);
    return plan;
}

static void
refused(const char *text, const char *says)
{
    struct plan *plan = plan_load_text("plan.yaml", text, strlen(text), &faults);
    assert_null(plan);
    (void)plan_faults_text(&faults, "plan.yaml", told, sizeof told);
    if (!strstr(told, says) || faults.count != 1)
        print_error("told: %sexpected alone: %s\n", told, says);
    assert_non_null(strstr(told, says));
    assert_int_equal(faults.count, 1); /* nothing else is told because of it */
}

static const struct plan_limit *
limit_of(const struct plan *plan)
{
    return &plan->products[0].steps[0].limit;
}

static void
test_figures_and_source_are_those_of_the_profile(void **state)
{
    (void)state;
    struct plan *plan =
        load(HEAD STEP("{profile: harbour-1/stew, critical_control_point: CCP 1}"));
    const struct plan_limit *limit = limit_of(plan);
    assert_int_equal(limit->kind, LIMIT_COOK);
    assert_int_equal(limit->temp.milli, 63000);
    assert_int_equal(limit->hold_ms, 120000);
    assert_string_equal(limit->ccp, "CCP 1");
    assert_string_equal(limit->profile, "harbour-1/stew");
    assert_string_equal(limit->source, "Harbour \"rules\", 4");
    assert_false(limit->unverified);
    assert_non_null(limit->published);
    assert_string_equal(limit->published->authority, "Port of Saltmere");
    assert_string_equal(limit->published->edition, "first");
    assert_string_equal(limit->published->section, "4");
    assert_int_equal(limit->published->confidence, CONFIDENCE_VERIFIED);
    plan_free(plan);
}

/* The record's text is enough, on a machine that has no profiles or others. */
static void
test_record_needs_no_profile(void **state)
{
    (void)state;
    struct plan *plan = load(HEAD STEP("{profile: harbour-1/stew}"));
    assert_int_equal(strncmp(plan->text, HEAD STEP("{profile: harbour-1/stew}"),
                             strlen(HEAD STEP("{profile: harbour-1/stew}"))),
                     0);
    write_profile("harbour-1.yaml", PROFILE("75 °C", ""));
    struct plan *again = plan_load_record("plan.yaml", plan->text, plan->text_len, &faults);
    assert_non_null(again);
    assert_int_equal(limit_of(again)->temp.milli, 63000);
    assert_string_equal(again->digest, plan->digest);
    assert_int_equal(again->text_len, plan->text_len);
    struct plan_change changes[4];
    assert_int_equal(plan_changes(plan, again, changes, 4), 0);
    plan_free(again);

    /* The same file read again is another plan now. */
    again = load(HEAD STEP("{profile: harbour-1/stew}"));
    assert_string_not_equal(again->digest, plan->digest);
    assert_int_equal(plan_changes(plan, again, changes, 4), 1);
    assert_string_equal(changes[0].before, "at least 63.0 °C for 2 min (food)");
    assert_string_equal(changes[0].after, "at least 75.0 °C for 2 min (food)");
    plan_free(again);

    /* Written out, the same limit is none of another. */
    again = load(HEAD STEP("{kind: cook, applies_to: food, at_least: 63 °C, for: 2 min}"));
    assert_int_equal(plan_changes(plan, again, changes, 4), 0);
    plan_free(again);
    plan_free(plan);
    write_profile("harbour-1.yaml", PROFILE("63 °C", ""));
}

static void
test_record_without_its_figures_is_refused(void **state)
{
    (void)state;
    const char *text = HEAD STEP("{profile: harbour-1/stew}");
    assert_null(plan_load_record("plan.yaml", text, strlen(text), &faults));
    (void)plan_faults_text(&faults, "plan.yaml", told, sizeof told);
    assert_non_null(strstr(told, "the record lacks the published limit 'harbour-1/stew'"));
}

static void
test_unverified_figures_need_the_plans_word(void **state)
{
    (void)state;
    struct plan_change changes[4];
    refused(HEAD STEP("{profile: harbour-1/broth}"),
            ":9:52: harbour-1/broth was not checked against the published text (memory)");
    struct plan *plan =
        load(HEAD "accept_unverified: true\n" STEP("{profile: harbour-1/broth}"));
    char text[200];
    assert_true(plan->accept_unverified);
    assert_true(limit_of(plan)->unverified);
    assert_string_equal(limit_of(plan)->source, "not verified (memory): Harbour rules, 5");
    assert_string_equal(plan_limit_text(text, sizeof text, limit_of(plan)),
                        "at least 60.0 °C for 12 min, or 70.0 °C for 0 s (food), not verified");
    struct plan *without = load(HEAD STEP("{profile: harbour-1/stew}"));
    struct plan *with = load(HEAD "accept_unverified: yes\n" STEP("{profile: harbour-1/stew}"));
    assert_false(limit_of(with)->unverified);
    assert_int_equal(plan_changes(without, with, changes, 4), 1);
    assert_string_equal(changes[0].what, "plan: accept_unverified");
    plan_free(without);
    plan_free(with);
    plan_free(plan);
}

static void
test_what_cannot_be_found_is_told_where_it_is_named(void **state)
{
    (void)state;
    refused(HEAD STEP("{profile: harbour-2/stew}"), ":9:52: there is no profile 'harbour-2'");
    refused(HEAD STEP("{profile: harbour-1/tea}"),
            ":9:52: profile harbour-1 has no rule 'tea'");
    refused(HEAD STEP("{profile: harbour-1}"), ":9:52: profile: this names no published limit");
    refused(HEAD STEP("{profile: ../harbour-1/stew}"), "this names no published limit");
    refused(HEAD STEP("{profile: harbour-1/../stew}"), "this names no published limit");
    refused(HEAD STEP("{profile: [harbour-1/stew]}"), "profile is a list");
    refused(HEAD STEP("{profile: harbour-1/stew, profile: harbour-1/stew}"),
            "'profile' is given twice");
    write_profile("broken.yaml", "id: broken\n");
    refused(HEAD STEP("{profile: broken/stew}"),
            "there is no profile 'broken' that can be read");
}

static void
test_nothing_stands_beside_the_name(void **state)
{
    (void)state;
    refused(HEAD STEP("{profile: harbour-1/stew, at_least: 50 °C}"),
            ":9:68: 'at_least' is the profile's to say");
    refused(HEAD STEP("{kind: cook, profile: harbour-1/stew}"),
            "'kind' is the profile's to say");
    refused(HEAD STEP("{profile: harbour-1/stew, source: me}"), "'source' is the profile's");
    refused(HEAD STEP("{profile: harbour-1/stew, colour: red}"), "a limit has no key 'colour'");
}

/* Only stricter: a second reheating that a profile forbids stays forbidden. */
static void
test_once_may_stand_beside_the_name_and_never_take_it_away(void **state)
{
    (void)state;
    static const char *const forbids[] = {
        HEAD STEP("{profile: harbour-1/again, once: yes}"),
        HEAD STEP("{profile: harbour-1/first}"),
        HEAD STEP("{profile: harbour-1/first, once: yes}"),
    };
    for (size_t i = 0; i < sizeof forbids / sizeof *forbids; i++) {
        struct plan *plan = load(forbids[i]);
        struct plan *again = plan_load_record("plan.yaml", plan->text, plan->text_len, &faults);
        assert_non_null(again);
        assert_true(limit_of(plan)->once && limit_of(again)->once);
        plan_free(again);
        plan_free(plan);
    }
    struct plan *plan = load(HEAD STEP("{profile: harbour-1/again}"));
    assert_false(limit_of(plan)->once);
    plan_free(plan);
    refused(HEAD STEP("{profile: harbour-1/first, once: no}"),
            "'once' is the profile's to say");
}

static void
test_published_is_not_for_people_to_write(void **state)
{
    (void)state;
    refused(HEAD STEP("{kind: none}") "published: []\n", ":10:12: published is what Trivet");
}

static void
test_fault_of_a_published_limit_is_told_at_its_name(void **state)
{
    (void)state;
    refused(HEAD "places:\n  - {id: pot, name: Pot, limit: {profile: harbour-1/stew}}\n",
            ":6:43: a place cannot have a limit of this kind");
}

static void
test_forms_that_nothing_can_be_put_behind(void **state)
{
    (void)state;
    refused(HEAD STEP("{profile: harbour-1/stew}") "...\n", ":10:1: a plan that takes limits");
    refused(
        "{site: {name: K}, sole_operator: weekly, people: [{initials: JO, name: J, role: "
        "supervisor}], products: [{id: a, name: A, steps: [{id: b, name: B, limit: {profile: "
        "harbour-1/stew}}]}]}",
        "cannot be written in braces");
    /* Indented as a whole, without a last newline, twice the same name. */
    struct plan *plan = load("  site: {name: K}\n  sole_operator: weekly\n"
                             "  people: [{initials: JO, name: J, role: supervisor}]\n"
                             "  products:\n  - id: a\n    name: A\n    steps:\n"
                             "    - {id: b, name: B, limit: {profile: harbour-1/stew}}\n"
                             "    - {id: c, name: C, limit: {profile: harbour-1/stew}}");
    assert_int_equal(plan->published_count, 1);
    assert_int_equal(plan->products[0].steps[1].limit.temp.milli, 63000);
    plan_free(plan);
}

static void
test_directory_that_is_none(void **state)
{
    (void)state;
    assert_int_equal(setenv("TRIVET_PROFILES", "/tmp/trivet-no-such-profiles", 1), 0);
    refused(HEAD STEP("{profile: harbour-1/stew}"), "are not installed here");
    assert_int_equal(setenv("TRIVET_PROFILES", directory.path, 1), 0);
}

/* A product's own limit, over all its steps, can be a published one. */
static void
test_product_names_a_published_limit(void **state)
{
    (void)state;
    char text[400];
    assert_int_equal(setenv("TRIVET_PROFILES", "config/profiles", 1), 0);
    struct plan *plan =
        load(HEAD STEP("{kind: none}") "    limit: {profile: singapore-2011/catered}\n");
    const struct plan_limit *life = &plan->products[0].life;
    assert_string_equal(plan_limit_text(text, sizeof text, life),
                        "for at most 4 h in all from 5.0 °C to 60.0 °C (food)");
    assert_string_equal(life->published->rule, "singapore-2011/catered");
    plan_free(plan);
    assert_int_equal(setenv("TRIVET_PROFILES", directory.path, 1), 0);
}

/* Every rule that is shipped can be named, and then is what the profile says. */
static void
test_every_shipped_rule_can_be_named(void **state)
{
    (void)state;
    static const char *const files[] = {"australia-3.2.2",      "canada-2016",
                                        "codex-39-1993",        "england-wales-ni",
                                        "eu-852-2004",          "food-code-2022",
                                        "fsis-appendix-a-2021", "hong-kong",
                                        "scotland-2006",        "uk-cook-chill",
                                        "france-2009",          "food-code-2026",
                                        "singapore-2011",       "fsis-appendix-b-2021",
                                        "new-zealand-fcp",      "quebec-p29-r1",
                                        "din-10506-2023",       "ireland-gn15-2018",
                                        "us-consumer-advice",   "fsis-appendix-b-1999",
                                        "cfr-318-23",           "us-milk-and-shellfish",
                                        "minnesota-2019"};
    assert_int_equal(setenv("TRIVET_PROFILES", "config/profiles", 1), 0);
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        char path[100], text[2000], before[4000], after[4000];
        (void)snprintf(path, sizeof path, "config/profiles/%s.yaml", files[i]);
        struct profile *profile = profile_load(path, &faults);
        assert_non_null(profile);
        for (size_t k = 0; k < profile->rule_count; k++) {
            struct plan_limit *limit = &profile->rules[k].limit;
            if (limit->subject == SUBJECT_AIR)
                continue; /* needs a place */
            bool dated = limit->kind == LIMIT_DAYS;
            (void)snprintf(text, sizeof text,
                           dated ? HEAD "accept_unverified: true\n" STEP(
                                       "{kind: none}") "    date_mark: {profile: %s/%s}\n"
                                 : HEAD "accept_unverified: true\n" STEP("{profile: %s/%s}"),
                           files[i], profile->rules[k].id);
            struct plan *plan = load(text);
            limit->unverified = profile->rules[k].confidence != CONFIDENCE_VERIFIED;
            const struct plan_limit *named = dated ? &plan->products[0].mark : limit_of(plan);
            assert_string_equal(plan_limit_text(after, sizeof after, named),
                                plan_limit_text(before, sizeof before, limit));
            plan_free(plan);
        }
        profile_free(profile);
    }
    assert_int_equal(setenv("TRIVET_PROFILES", directory.path, 1), 0);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_figures_and_source_are_those_of_the_profile),
        cmocka_unit_test(test_product_names_a_published_limit),
        cmocka_unit_test(test_record_needs_no_profile),
        cmocka_unit_test(test_record_without_its_figures_is_refused),
        cmocka_unit_test(test_unverified_figures_need_the_plans_word),
        cmocka_unit_test(test_what_cannot_be_found_is_told_where_it_is_named),
        cmocka_unit_test(test_nothing_stands_beside_the_name),
        cmocka_unit_test(test_once_may_stand_beside_the_name_and_never_take_it_away),
        cmocka_unit_test(test_published_is_not_for_people_to_write),
        cmocka_unit_test(test_fault_of_a_published_limit_is_told_at_its_name),
        cmocka_unit_test(test_forms_that_nothing_can_be_put_behind),
        cmocka_unit_test(test_directory_that_is_none),
        cmocka_unit_test(test_every_shipped_rule_can_be_named),
    };
    return cmocka_run_group_tests(tests, own_profiles, no_profiles);
}
