/* What people type: temperatures, weights, times, names from a list. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/choice.h"
#include "daemon/cli/help.h"
#include "daemon/cli/when.h"

#define DEGREE "\xc2\xb0"

/* ---- temperatures ---- */

static void
test_temp_with_or_without_unit_is_understood(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int32_t mC;
    } cases[] = {
        {"63.4", 63400},
        {"63.4C", 63400},
        {"63.4c", 63400},
        {" 63.4 " DEGREE "C ", 63400},
        {"63.4 degC", 63400},
        {"-18.5", -18500},
        {"-0.5", -500},
        {"0", 0},
        {"110", 110000},
        {"145C", 145000},
        /* Exact: 145 F = (145 - 32) * 5/9 = 62.777... C; 32 F and 212 F by definition. */
        {"145F", 62778},
        {"145 " DEGREE "F", 62778},
        {"32f", 0},
        {"212F", 100000},
        {"-40F", -40000},
        {"41F", 5000},
        {"0F", -17778},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        int32_t found = 0;
        char why[300] = "";
        if (!amount_temp(cases[i].text, false, &found, why, sizeof why))
            fail_msg("'%s' was refused: %s", cases[i].text, why);
        assert_int_equal(found, cases[i].mC);
    }
}

static void
test_temp_that_could_be_misread_is_refused_with_what_to_write(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } cases[] = {
        {"63,4", "point"},           {"63,4C", "point"},     {"145", "145C or 145F"},
        {"110.001", "Fahrenheit"},   {"", "such as"},        {"hot", "such as"},
        {"63.4K", "such as"},        {"6 3", "such as"},     {"63.4.1", "such as"},
        {"1e2", "such as"},          {"63.4567", "such as"}, {"--5", "such as"},
        {"999999999999", "such as"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        int32_t found = 7;
        char why[300] = "";
        assert_false(amount_temp(cases[i].text, false, &found, why, sizeof why));
        assert_int_equal(found, 7);
        if (strstr(why, cases[i].says) == NULL)
            fail_msg("'%s' was refused with \"%s\", without \"%s\"", cases[i].text, why,
                     cases[i].says);
    }
}

static void
test_temp_needs_its_unit_where_both_are_in_use(void **state)
{
    (void)state;
    int32_t found = 7;
    char why[300];
    assert_false(amount_temp("41", true, &found, why, sizeof why));
    assert_non_null(strstr(why, "41C or 41F"));
    assert_int_equal(found, 7);
    assert_true(amount_temp("41F", true, &found, why, sizeof why));
    assert_int_equal(found, 5000);
    assert_true(amount_temp("5C", true, &found, why, sizeof why));
    assert_int_equal(found, 5000);
}

static void
test_temp_is_told_back_in_the_units_in_use(void **state)
{
    (void)state;
    char text[AMOUNT_TEMP_MAX];
    assert_string_equal(amount_temp_text(text, 63400, false), "63.4 " DEGREE "C");
    /* 145 F as it was stored, and fixed points: 32 F, 212 F, -40 F. */
    assert_string_equal(amount_temp_text(text, 62778, true),
                        "62.778 " DEGREE "C (145.0 " DEGREE "F)");
    assert_string_equal(amount_temp_text(text, 0, true), "0.0 " DEGREE "C (32.0 " DEGREE "F)");
    assert_string_equal(amount_temp_text(text, 100000, true),
                        "100.0 " DEGREE "C (212.0 " DEGREE "F)");
    assert_string_equal(amount_temp_text(text, -40000, true),
                        "-40.0 " DEGREE "C (-40.0 " DEGREE "F)");
}

/* ---- weights, lengths, numbers ---- */

static void
test_mass_and_length_are_rounded_to_whole_units(void **state)
{
    (void)state;
    int32_t found = 0;
    char why[300];
    assert_true(amount_mass("2.4kg", &found, why, sizeof why));
    assert_int_equal(found, 2400);
    assert_true(amount_mass("800 g", &found, why, sizeof why));
    assert_int_equal(found, 800);
    /* The international pound: 453.59237 g (agreement of 1959). */
    assert_true(amount_mass("5lb", &found, why, sizeof why));
    assert_int_equal(found, 2268);
    assert_true(amount_mass("12 oz", &found, why, sizeof why));
    assert_int_equal(found, 340);
    assert_true(amount_length("60mm", &found, why, sizeof why));
    assert_int_equal(found, 60);
    assert_true(amount_length("6.5 cm", &found, why, sizeof why));
    assert_int_equal(found, 65);
    /* The international inch: 25.4 mm. */
    assert_true(amount_length("2.5in", &found, why, sizeof why));
    assert_int_equal(found, 64);
}

static void
test_mass_without_unit_or_out_of_range_is_refused(void **state)
{
    (void)state;
    static const char *const cases[] = {"800", "2.4", "0.4g", "-1kg", "2,4kg", "10001kg", "kg"};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        int32_t found = 0;
        char why[300] = "";
        if (amount_mass(cases[i], &found, why, sizeof why))
            fail_msg("'%s' was taken as %d g", cases[i], (int)found);
        assert_true(strlen(why) > 10);
    }
}

static void
test_number_is_whole_and_within_its_range(void **state)
{
    (void)state;
    uint64_t found = 0;
    char why[300];
    assert_true(amount_number("4", 4, &found, why, sizeof why));
    assert_int_equal(found, 4);
    assert_true(amount_number(" 12 ", 100, &found, why, sizeof why));
    assert_false(amount_number("5", 4, &found, why, sizeof why));
    assert_false(amount_number("0", 4, &found, why, sizeof why));
    assert_false(amount_number("-1", 4, &found, why, sizeof why));
    assert_false(amount_number("4.0", 4, &found, why, sizeof why));
    assert_false(amount_number("99999999999999999999", UINT64_MAX, &found, why, sizeof why));
}

/* ---- times ----
 * Instants below come from `date -d` of GNU coreutils with TZ=Europe/London, an implementation
 * of its own. */

#define S(seconds) (INT64_C(1000) * (seconds))

/* 2026-03-03 14:05:00 in London. */
static const int64_t afternoon_ms = S(1772546700);

static const struct zone *
london(void)
{
    return zone_shared("Europe/London");
}

static void
test_past_time_is_the_last_one_that_was(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t now_ms, at_ms;
    } cases[] = {
        {"now", S(1772546700), S(1772546700)},
        {"14:05", S(1772546700), S(1772546700)},
        {"14:04", S(1772546700), S(1772546640)},
        {"9:00", S(1772546700), S(1772546700 - 5 * 3600 - 300)},
        {"14:06", S(1772546700), S(1772546760 - 86400)}, /* yesterday's */
        {"23:50", S(1772497200), S(1772495400)},         /* asked at 00:20 */
        {"10 min ago", S(1772546700), S(1772546100)},
        {"10min ago", S(1772546700), S(1772546100)},
        {"1 h 20 min ago", S(1772546700), S(1772546700 - 4800)},
        {"2 Hours Ago", S(1772546700), S(1772546700 - 7200)},
        {"yesterday 22:30", S(1772546700), S(1772490600)},
        {"today 14:05", S(1772546700), S(1772546700)},
        {"2026-03-01 14:05", S(1772546700), S(1772373900)},
        {"2026-03-01T14:05", S(1772546700), S(1772373900)},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        int64_t found = 0;
        char why[300] = "";
        if (!when_past(cases[i].text, london(), cases[i].now_ms, &found, why, sizeof why))
            fail_msg("'%s' was refused: %s", cases[i].text, why);
        if (found != cases[i].at_ms)
            fail_msg("'%s' became %lld, not %lld", cases[i].text, (long long)found,
                     (long long)cases[i].at_ms);
    }
}

static void
test_past_time_that_is_none_is_refused(void **state)
{
    (void)state;
    static const char *const cases[] = {"",
                                        "soon",
                                        "25:00",
                                        "14:60",
                                        "14:5",
                                        "14.05",
                                        "1405",
                                        "today",
                                        "yesterday",
                                        "2026-03-01",
                                        "3 days ago",
                                        "10 ago",
                                        "ago",
                                        "min ago",
                                        "2026-02-30 10:00",
                                        "2026-13-01",
                                        "26-03-01 10:00",
                                        "10 weeks ago",
                                        "14:05 or so",
                                        "today 15:00",
                                        "2027-01-01 10:00",
                                        "-5 min ago"};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        int64_t found = 0;
        char why[300] = "";
        if (when_past(cases[i], london(), afternoon_ms, &found, why, sizeof why))
            fail_msg("'%s' was taken as %lld", cases[i], (long long)found);
        assert_true(strlen(why) > 10);
    }
}

static void
test_time_shown_twice_is_the_later_that_has_been(void **state)
{
    (void)state;
    int64_t found = 0;
    char why[300];
    /* Clocks go back at 01:00 UTC on 2026-10-25: 01:30 is shown at 00:30 and at 01:30 UTC. */
    assert_true(when_past("01:30", london(), S(1792929600), &found, why, sizeof why));
    assert_int_equal(found, S(1792891800));
    /* At 01:10 UTC, shown as 01:10 for the second time, only the first 01:30 has been. */
    assert_true(when_past("01:30", london(), S(1792890600), &found, why, sizeof why));
    assert_int_equal(found, S(1792888200));
}

static void
test_time_that_was_skipped_is_refused(void **state)
{
    (void)state;
    int64_t found = 0;
    char why[300];
    /* Clocks go forward at 01:00 UTC on 2026-03-29: 01:30 is never shown. */
    assert_false(
        when_past("2026-03-29 01:30", london(), S(1774782000), &found, why, sizeof why));
    assert_non_null(strstr(why, "never was"));
}

static void
test_edges_of_a_day_are_its_first_instant_and_its_end(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum when_edge edge;
        int64_t at_ms;
    } cases[] = {
        {"today", WHEN_FROM, S(1772496000)},
        {"today", WHEN_TO, S(1772496000 + 86400)},
        {"yesterday", WHEN_FROM, S(1772409600)},
        {"yesterday", WHEN_TO, S(1772496000)},
        {"3 days ago", WHEN_FROM, S(1772236800)},
        {"2026-02-28", WHEN_FROM, S(1772236800)},
        {"2026-03-01 14:05", WHEN_TO, S(1772373900)},
        {"14:05", WHEN_TO, S(1772546700)},
        {"now", WHEN_TO, S(1772546700)},
        /* A day of 23 hours. */
        {"2026-03-29", WHEN_FROM, S(1774742400)},
        {"2026-03-29", WHEN_TO, S(1774825200)},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        int64_t found = 0;
        char why[300] = "";
        if (!when_edge(cases[i].text, cases[i].edge, london(), afternoon_ms, &found, why,
                       sizeof why))
            fail_msg("'%s' was refused: %s", cases[i].text, why);
        if (found != cases[i].at_ms)
            fail_msg("'%s' became %lld, not %lld", cases[i].text, (long long)found,
                     (long long)cases[i].at_ms);
    }
    int64_t found = 0;
    char why[300];
    assert_false(
        when_edge("sometime", WHEN_FROM, london(), afternoon_ms, &found, why, sizeof why));
}

/* ---- names ---- */

static void
fill(struct choices *choices)
{
    choices_init(choices);
    assert_true(choices_add(choices, "pork-loin", "Rolled pork loin", "Rolled pork loin"));
    assert_true(choices_add(choices, "pork-belly", "Pork belly", "Pork belly"));
    assert_true(choices_add(choices, "leek-filling", "Leek filling", "Leek filling"));
}

static void
test_choice_is_found_by_id_name_beginning_and_shown_number(void **state)
{
    (void)state;
    struct choices choices;
    fill(&choices);
    static const struct {
        const char *text;
        bool shown;
        size_t index;
    } cases[] = {
        {"pork-loin", false, 0}, {"PORK-LOIN", false, 0}, {"rolled pork loin", false, 0},
        {"leek", false, 2},      {"roll", false, 0},      {"pork-b", false, 1},
        {"3", true, 2},          {"Pork belly", true, 1},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        size_t found = 99;
        char why[300] = "";
        if (!choices_find(&choices, cases[i].text, cases[i].shown, &found, why, sizeof why))
            fail_msg("'%s' was not found: %s", cases[i].text, why);
        assert_int_equal(found, cases[i].index);
    }
    choices_done(&choices);
}

static void
test_choice_that_is_not_clear_is_refused_with_the_list(void **state)
{
    (void)state;
    struct choices choices;
    fill(&choices);
    size_t found = 99;
    char why[300];
    assert_false(choices_find(&choices, "pork", false, &found, why, sizeof why));
    assert_non_null(strstr(why, "more than one"));
    assert_false(choices_find(&choices, "4", true, &found, why, sizeof why));
    assert_non_null(strstr(why, "pork-loin, pork-belly, leek-filling"));
    /* A number is only a number beside a list that was shown. */
    assert_false(choices_find(&choices, "1", false, &found, why, sizeof why));
    assert_false(choices_find(&choices, "", false, &found, why, sizeof why));
    assert_false(choices_find(&choices, "\x1b[2J", false, &found, why, sizeof why));
    assert_null(strchr(why, '\x1b'));
    choices_done(&choices);
}

static void
test_choice_with_its_own_number_goes_by_that_number(void **state)
{
    (void)state;
    struct choices choices;
    choices_init(&choices);
    choices.numbers = true;
    assert_true(choices_add(&choices, "12", "", "Rolled pork loin, Cook"));
    assert_true(choices_add(&choices, "1", "", "Leek filling, Cool"));
    size_t found = 99;
    char why[300];
    assert_true(choices_find(&choices, "1", true, &found, why, sizeof why));
    assert_int_equal(found, 1);
    assert_false(choices_find(&choices, "2", true, &found, why, sizeof why));
    choices_done(&choices);
}

/* ---- verbs ---- */

static void
test_nearest_verb_is_what_was_meant(void **state)
{
    (void)state;
    static const struct {
        const char *word, *verb;
    } cases[] = {
        {"nwo", "now"},       {"bgein", "begin"},
        {"begn", "begin"},    {"start", "begin"},
        {"strat", "begin"},   {"in", "begin"},
        {"out", "next"},      {"rest", "next"},
        {"undo", "correct"},  {"throw", "end"},
        {"sign", "review"},   {"defrost", "quiet"},
        {"status", "now"},    {"exprot", "export"},
        {"EXPORT", "export"}, {"dev", "deviations"},
        {"measure", "take"},  {"verfy", "verify"},
        {"chian", "chain"},   {"boilingpoint", "boiling-point"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        const char *found = help_nearest(cases[i].word);
        if (found == NULL || strcmp(found, cases[i].verb) != 0)
            fail_msg("'%s' suggests '%s', not '%s'", cases[i].word,
                     found == NULL ? "nothing" : found, cases[i].verb);
    }
    assert_null(help_nearest("xylophone"));
    assert_null(help_nearest(""));
    assert_null(help_nearest("a-word-that-is-longer-than-any-verb-there-is"));
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_temp_with_or_without_unit_is_understood),
        cmocka_unit_test(test_temp_that_could_be_misread_is_refused_with_what_to_write),
        cmocka_unit_test(test_temp_needs_its_unit_where_both_are_in_use),
        cmocka_unit_test(test_temp_is_told_back_in_the_units_in_use),
        cmocka_unit_test(test_mass_and_length_are_rounded_to_whole_units),
        cmocka_unit_test(test_mass_without_unit_or_out_of_range_is_refused),
        cmocka_unit_test(test_number_is_whole_and_within_its_range),
        cmocka_unit_test(test_past_time_is_the_last_one_that_was),
        cmocka_unit_test(test_past_time_that_is_none_is_refused),
        cmocka_unit_test(test_time_shown_twice_is_the_later_that_has_been),
        cmocka_unit_test(test_time_that_was_skipped_is_refused),
        cmocka_unit_test(test_edges_of_a_day_are_its_first_instant_and_its_end),
        cmocka_unit_test(test_choice_is_found_by_id_name_beginning_and_shown_number),
        cmocka_unit_test(test_choice_that_is_not_clear_is_refused_with_the_list),
        cmocka_unit_test(test_choice_with_its_own_number_goes_by_that_number),
        cmocka_unit_test(test_nearest_verb_is_what_was_meant),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
