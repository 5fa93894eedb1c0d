/* Which limit a decision is explained by where a batch has more than that of its step, and
 * which rule of docs/engine.md each kind of limit rests on. */
#include "tests/support/check.h"

#include <string.h>

#include "tests/support/engine_rig.h"
#include "trivet/explain.h"

#define ZONE                                                                                    \
    "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, within: " \
    "4 h}"
#define COOK                                                                                   \
    "{kind: cook, applies_to: food, at_least: 158 °F, come_up_from: 50 °F, come_up_to: 130 " \
    "°F, come_up_within: 6 h}"

static struct decision
of(enum decision_kind kind, enum decision_reason reason, enum limit_kind limit)
{
    return (struct decision){.kind = kind,
                             .reason = reason,
                             .limit = limit,
                             .batch = 1,
                             .deviation = 1,
                             .step = "first",
                             .temp_mC = 20000,
                             .worst_mC = TEMP_NONE,
                             .since_ms = TIME_NONE,
                             .required = {5000, TEMP_C},
                             .required_ms = 14400000,
                             .found_ms = 14400000,
                             .probe = 1};
}

static void
test_explain_limit_over_all_steps_and_beside_the_step(void **state)
{
    (void)state;
    rig_life = ZONE;
    struct plan *plan = rig_plan(COOK, NULL, NULL);
    rig_life = NULL;
    struct decision zone = of(DECISION_DEVIATION_OPENED, REASON_OUT_TOO_LONG, LIMIT_ZONE);
    struct decision rise = of(DECISION_DEVIATION_OPENED, REASON_SLOW_RISE, LIMIT_RISE);
    struct decision cook = of(DECISION_LIMIT_MET, REASON_REACHED, LIMIT_COOK);
    assert_ptr_equal(explain_limit(&zone, plan, "dish"), &plan->products[0].life);
    assert_ptr_equal(explain_limit(&rise, plan, "dish"), plan->products[0].steps[0].limit.rise);
    assert_ptr_equal(explain_limit(&cook, plan, "dish"), &plan->products[0].steps[0].limit);
    struct explain_words words;
    explain_words(&zone, plan, explain_limit(&zone, plan, "dish"), &words);
    assert_string_equal(words.required, "for at most 4 h in all warmer than 5.0 °C and colder "
                                        "than 60.0 °C (food)");
    assert_non_null(strstr(words.found, "time in between 4 h"));
    explain_words(&rise, plan, explain_limit(&rise, plan, "dish"), &words);
    assert_non_null(strstr(words.required, "for at most 6 h in all warmer than 50.0 °F"));
    plan_free(plan);
}

/* The row of the oven is found by its figure. */
static void
test_explain_limit_of_the_oven(void **state)
{
    (void)state;
    struct plan *plan = rig_plan(
        "{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 min}], "
        "oven_rows: [{oven: convection, under_g: 4500, at_least: 163 °C}, {oven: convection, "
        "from_g: 4500, at_least: 121 °C}], oven: convection}",
        NULL, NULL);
    struct decision oven = of(DECISION_LIMIT_MET, REASON_HELD, LIMIT_OVEN);
    struct explain_words words;
    oven.required = (struct limit_temp){121000, TEMP_C};
    const struct plan_limit *limit = explain_limit(&oven, plan, "dish");
    assert_ptr_equal(limit, &plan->products[0].steps[0].limit.ovens[1]);
    explain_words(&oven, plan, limit, &words);
    assert_string_equal(words.required, "the oven at least 121.0 °C (air)");
    assert_non_null(strstr(words.found, "in the oven for 4 h"));
    plan_free(plan);
}

static void
test_explain_limit_of_a_date(void **state)
{
    (void)state;
    rig_life = "{kind: none}\n    date_mark: {kind: date_mark, applies_to: food, days: 7}";
    struct plan *plan = rig_plan(COOK, NULL, NULL);
    rig_life = NULL;
    struct decision date = of(DECISION_DEVIATION_OPENED, REASON_DATE_PASSED, LIMIT_DAYS);
    struct explain_words words;
    date.probe = 0;
    date.temp_mC = TEMP_NONE;
    memcpy(date.day, "2026-03-07", 11);
    date.found_ms = INT64_C(8) * 86400000;
    const struct plan_limit *limit = explain_limit(&date, plan, "dish");
    assert_ptr_equal(limit, &plan->products[0].mark);
    explain_words(&date, plan, limit, &words);
    assert_string_equal(words.required,
                        "kept for at most 7 days, the day itself being the first (food)");
    assert_non_null(strstr(words.found, "8 days used; last day 2026-03-07"));
    plan_free(plan);
}

static void
test_explain_rules_of_the_kinds(void **state)
{
    (void)state;
    static const struct {
        enum decision_kind kind;
        enum decision_reason reason;
        enum limit_kind limit;
        const char *rule;
    } cases[] = {
        {DECISION_DEVIATION_OPENED, REASON_PERIOD_LONG, LIMIT_HOLD_COLD, "E144"},
        {DECISION_DEVIATION_OPENED, REASON_OUT_AGAIN, LIMIT_HOLD_HOT, "E143"},
        {DECISION_DEVIATION_OPENED, REASON_BAD_START, LIMIT_TIME, "E146"},
        {DECISION_DEVIATION_OPENED, REASON_TIME_UP, LIMIT_TIME, "E147"},
        {DECISION_DEVIATION_OPENED, REASON_ABOVE_CEILING, LIMIT_TIME, "E148"},
        {DECISION_INCONCLUSIVE, REASON_PROBE_LATE, LIMIT_TIME, "E149"},
        {DECISION_LIMIT_MET, REASON_STOOD, LIMIT_REHEAT, "E152"},
        {DECISION_INCONCLUSIVE, REASON_NO_GOOD_READING, LIMIT_ZONE, "E159"},
        {DECISION_DEVIATION_OPENED, REASON_OUT_TOO_LONG, LIMIT_ZONE, "E162"},
        {DECISION_DEVIATION_ENDED, REASON_BATCH_ENDED, LIMIT_ZONE, "E235"},
        {DECISION_DEVIATION_OPENED, REASON_SLOW_RISE, LIMIT_RISE, "E165"},
        {DECISION_DEVIATION_OPENED, REASON_ABOVE_CEILING, LIMIT_HOLD_COLD, "E166"},
        {DECISION_LIMIT_MET, REASON_HELD, LIMIT_SUM, "E167"},
        {DECISION_DATE_MARKED, REASON_ENTERED, LIMIT_DAYS, "E226"},
        {DECISION_DEVIATION_OPENED, REASON_DATE_PASSED, LIMIT_DAYS, "E228"},
        {DECISION_LIMIT_MET, REASON_HELD, LIMIT_OVEN, "E223"},
        {DECISION_DEVIATION_OPENED, REASON_NOT_PREHEATED, LIMIT_OVEN, "E219"},
        {DECISION_DEVIATION_OPENED, REASON_OUT_TOO_LONG, LIMIT_MOIST_OVEN, "E221"},
        {DECISION_INCONCLUSIVE, REASON_NOT_MEASURED, LIMIT_OVEN, "E224"},
        {DECISION_DEVIATION_OPENED, REASON_NOT_MEASURED, LIMIT_OVEN, "E224"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct decision said = of(cases[i].kind, cases[i].reason, cases[i].limit);
        assert_string_equal(explain_rule(&said).number, cases[i].rule);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_explain_limit_over_all_steps_and_beside_the_step),
        cmocka_unit_test(test_explain_limit_of_the_oven),
        cmocka_unit_test(test_explain_limit_of_a_date),
        cmocka_unit_test(test_explain_rules_of_the_kinds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
