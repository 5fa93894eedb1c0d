/* How uncertain a thermometer is, and what a guarded limit asks for, against figures worked out
 * by hand from the standards: IEC 60751:2022 (tolerance classes), JCGM 100:2008 4.3.7 (what is
 * bounded by a has the standard uncertainty a / sqrt(3)), JCGM 106:2012 8.3.2 (guard band w =
 * rU; for a lower tolerance limit the acceptance limit is A_L = T_L + w, for an upper one A_U =
 * T_U - w), and judged by the engine on both sides. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "trivet/decision.h"
#include "trivet/engine.h"
#include "trivet/plan.h"

#define SECOND INT64_C(1000)

/* ---- how uncertain ---- */

static void
check_of(struct plan_uncertainty of, int32_t temp_mC, int32_t expected_mK)
{
    assert_int_equal(plan_uncertainty_mK(&of, temp_mC), expected_mK);
}

static void
test_uncertainty_from_its_parts(void **state)
{
    (void)state;
    check_of((struct plan_uncertainty){0}, 63000, 0); /* not said */
    check_of((struct plan_uncertainty){.total_mK = 500}, 63000, 500);
    /* Class A at 63 degC: 0.15 + 0.002 * 63 = 0.276; 2 * 0.276 / sqrt(3) = 0.31870. */
    check_of((struct plan_uncertainty){.sensor = SENSOR_RTD_A}, 63000, 319);
    /* Class B at -18 degC: 0.3 + 0.005 * 18 = 0.39; 2 * 0.39 / sqrt(3) = 0.45033. */
    check_of((struct plan_uncertainty){.sensor = SENSOR_RTD_B}, -18000, 451);
    /* Class AA at 0 degC: 0.1; 0.11547. Class C at 100 degC: 1.6; 1.84752. */
    check_of((struct plan_uncertainty){.sensor = SENSOR_RTD_AA}, 0, 116);
    check_of((struct plan_uncertainty){.sensor = SENSOR_RTD_C}, 100000, 1848);
    /* IEC 60584-1:2013 (from memory): type K class 1, 1.5 degC up to 375 degC; 1.73205. Type T
     * class 2, 1 degC or 0.0075 t: at 200 degC 1.5. */
    check_of((struct plan_uncertainty){.sensor = SENSOR_TC_KN_1}, 63000, 1733);
    check_of((struct plan_uncertainty){.sensor = SENSOR_TC_T_2}, 200000, 1733);
    /* With 0.3 degC of position: sqrt(0.31870^2 + (2 * 0.3 / sqrt(3))^2) = 0.47073. */
    check_of((struct plan_uncertainty){.sensor = SENSOR_RTD_A, .position_mK = 300}, 63000, 471);
    /* Calibrated to 0.2 stands for the class: sqrt(0.2^2 + 0.34641^2) = 0.4. */
    check_of((struct plan_uncertainty){.sensor = SENSOR_RTD_C,
                                       .calibrated_mK = 200,
                                       .position_mK = 300},
             63000, 400);
}

/* ---- plans ---- */

static struct plan *
load(const char *core, const char *air, const char *held, const char *limit,
     struct plan_faults *faults)
{
    char text[3000];
    (void)snprintf(
        text, sizeof text,
        "site: {name: Test}\n"
        "people:\n  - {initials: AB, name: Ana Brandt, role: supervisor}\n"
        "sole_operator: The adviser verifies.\n"
        "buses:\n  - {id: line, driver: modbus-tcp, host: 127.0.0.1}\n"
        "probes:\n"
        "  - {id: core, name: Core, kind: food, bus: line, unit: 1, function: 4, register: 1, "
        "type: int16, scale: 0.1 °C, plausible: [-40 °C, 160 °C], every: 10 s%s}\n"
        "  - {id: air, name: Air, kind: air, bus: line, unit: 1, function: 4, register: 0, "
        "type: int16, scale: 0.1 °C, plausible: [-40 °C, 60 °C], every: 10 s%s}\n"
        "thermometers:\n  - {id: pen, name: Pen%s}\n"
        "places:\n  - {id: walk-in, name: Walk-in, probe: air, limit: {kind: hold_cold, "
        "applies_to: air, at_most: 5 °C, back_for: 0 s%s}}\n"
        "products:\n  - id: soup\n    name: Soup\n    steps:\n"
        "      - {id: a, name: A, limit: {%s}}\n",
        core, air, held, strstr(limit, "acceptance") ? ", acceptance: guarded" : "", limit);
    return plan_load_text("test", text, strlen(text), faults);
}

static struct plan *
plan_of(const char *limit)
{
    static struct plan_faults faults;
    struct plan *plan = load(", uncertainty: {total: 0.5 °C}", ", uncertainty: {total: 0.3 °C}",
                             ", uncertainty: {total: 0.4 °C}", limit, &faults);
    if (plan == NULL)
        fail_msg("%d: %s", faults.fault[0].line, faults.fault[0].text);
    plan->probes[0].number = 1;
    plan->probes[1].number = 2;
    return plan;
}

static void
test_guarded_needs_every_thermometer(void **state)
{
    static struct plan_faults faults;
    static const char guarded[] =
        "kind: cook, applies_to: food, at_least: 63 °C, acceptance: guarded";
    (void)state;
    assert_null(load("", ", uncertainty: {total: 0.3 °C}", ", uncertainty: {total: 0.4 °C}",
                     guarded, &faults));
    assert_int_equal(faults.count, 1);
    assert_non_null(strstr(faults.fault[0].text, "how uncertain this thermometer is"));
    assert_null(load(", uncertainty: {total: 0.5 °C}", ", uncertainty: {total: 0.3 °C}", "",
                     guarded, &faults));
    assert_int_equal(faults.count, 1);
    assert_null(load(", uncertainty: {total: 0.5 °C, sensor: rtd-a}", "", "",
                     "kind: cook, applies_to: food, at_least: 63 °C", &faults));
    assert_int_equal(faults.count, 1);
    assert_non_null(strstr(faults.fault[0].text, "total has all in it"));
    assert_null(load(", uncertainty: {position: 0.3 °C}", "", "",
                     "kind: cook, applies_to: food, at_least: 63 °C", &faults));
    assert_non_null(strstr(faults.fault[0].text, "position alone is not enough"));
}

/* A_L = T_L + w and A_U = T_U - w, in the unit of the limit, the band never narrowed. */
static void
test_acceptance_limits_lie_inside(void **state)
{
    char text[300];
    (void)state;
    struct plan *plan =
        plan_of("kind: cook, applies_to: food, at_least: 63 °C, acceptance: guarded");
    const struct plan_limit *limit = &plan->products[0].steps[0].limit;
    assert_int_equal(limit->uncertainty_mK, 500);
    assert_int_equal(limit->guard_mK, 500);
    assert_int_equal(limit->temp.milli, 63500);
    assert_string_equal(plan_limit_text(text, sizeof text, limit),
                        "at least 63.5 °C (food), a guard band of 0.5 °C for measurement "
                        "uncertainty included");
    /* The air probe's 0.3 and the pen's 0.4: the larger of those that serve the place. */
    assert_int_equal(plan->places[0].limit.temp.milli, 4600);
    plan_free(plan);

    /* r = 0.5: w = 0.25 degC = 0.45 degF. */
    plan = plan_of("kind: reheat, applies_to: food, at_least: 165 °F, within: 2 h, acceptance: "
                   "guarded, guard_percent: 50");
    limit = &plan->products[0].steps[0].limit;
    assert_int_equal(limit->guard_mK, 250);
    assert_int_equal(limit->temp.milli, 165450);
    plan_free(plan);

    plan = plan_of("kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 "
                   "h}, {to: 5 °C, within: 6 h}], acceptance: guarded");
    limit = &plan->products[0].steps[0].limit;
    assert_int_equal(limit->start.milli, 57000);
    assert_int_equal(limit->stages[0].to.milli, 20500);
    assert_int_equal(limit->stages[1].to.milli, 4500);
    plan_free(plan);

    plan = plan_of("kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 12 min}, "
                   "{at_least: 70 °C, for: 0 s}], acceptance: guarded");
    limit = &plan->products[0].steps[0].limit;
    assert_int_equal(limit->rows[0].temp.milli, 60500);
    assert_int_equal(limit->rows[1].temp.milli, 70500);
    plan_free(plan);

    plan = plan_of("kind: cook, applies_to: food, at_least: 63 °C"); /* simple is the default */
    limit = &plan->products[0].steps[0].limit;
    assert_int_equal(limit->uncertainty_mK, 500);
    assert_int_equal(limit->guard_mK, 0);
    assert_int_equal(limit->temp.milli, 63000);
    plan_free(plan);
}

/* A change of the uncertainty behind a guarded limit is a change of that limit. */
static void
test_a_change_of_the_band_is_a_change_of_the_limit(void **state)
{
    static struct plan_faults faults;
    static struct plan_change changes[4];
    static const char guarded[] =
        "kind: cook, applies_to: food, at_least: 63 °C, acceptance: guarded";
    (void)state;
    struct plan *before = plan_of(guarded);
    struct plan *after =
        load(", uncertainty: {total: 0.7 °C}", ", uncertainty: {total: 0.3 °C}",
             ", uncertainty: {total: 0.4 °C}", guarded, &faults);
    assert_non_null(after);
    assert_int_equal(plan_changes(before, after, changes, 4), 1);
    assert_non_null(strstr(changes[0].after, "63.7"));
    struct plan *simple = plan_of("kind: cook, applies_to: food, at_least: 63 °C");
    assert_true(plan_changes(before, simple, changes, 4) >= 1);
    plan_free(before);
    plan_free(after);
    plan_free(simple);
}

/* ---- judged ---- */

static struct engine_output out;

static size_t
step(struct engine *engine, struct engine_input input)
{
    memset(&out, 0, sizeof out);
    engine_step(engine, &input, &out);
    return out.count;
}

static size_t
reads(struct engine *engine, uint16_t probe, int64_t at_ms, int32_t temp_mC)
{
    return step(engine,
                (struct engine_input){
                    .kind = ENGINE_READING,
                    .at_ms = at_ms,
                    .is.reading = {.at_ms = at_ms, .temp_mC = temp_mC, .probe = probe}});
}

/* The last decision of that kind, NULL when there is none. */
static const struct decision *
said(enum decision_kind kind)
{
    for (size_t i = 0; i < out.count; i++)
        if (out.decisions[i].kind == kind)
            return &out.decisions[i];
    return NULL;
}

static void
begin(struct engine *engine, const struct plan *plan)
{
    static struct entry entry;
    entry_clear(&entry, ENTRY_BEGIN);
    (void)strcpy(entry.who, "AB");
    (void)strcpy(entry.product, "soup");
    (void)strcpy(entry.probes[0], "core");
    entry.probe_count = 1;
    (void)step(engine, (struct engine_input){
                           .kind = ENGINE_PLAN, .at_ms = 1000, .seq = 1, .is.plan = plan});
    (void)step(engine, (struct engine_input){
                           .kind = ENGINE_ENTRY, .at_ms = 2000, .seq = 2, .is.entry = &entry});
    assert_non_null(said(DECISION_STEP_BEGUN));
}

static void
test_cooking_on_both_sides_of_the_guarded_limit(void **state)
{
    (void)state;
    struct plan *plan =
        plan_of("kind: cook, applies_to: food, at_least: 63 °C, acceptance: guarded");
    struct engine *engine = engine_new();
    begin(engine, plan);
    (void)reads(engine, 1, 10 * SECOND, 63000); /* the printed limit */
    assert_null(said(DECISION_LIMIT_MET));
    (void)reads(engine, 1, 20 * SECOND, 63499);
    assert_null(said(DECISION_LIMIT_MET));
    (void)reads(engine, 1, 30 * SECOND, 63500);
    const struct decision *met = said(DECISION_LIMIT_MET);
    assert_non_null(met);
    assert_int_equal(met->guard_mK, 500);
    assert_int_equal(met->uncertainty_mK, 500);
    assert_int_equal(met->required.milli, 63500);
    /* It comes back from its record the same. */
    char json[1200];
    struct json_out to;
    struct decision back;
    out_start(&to, json, sizeof json, true);
    decision_write(met, &to, NULL);
    assert_true(out_done(&to));
    assert_non_null(strstr(json, "\"guard_mK\":500,"));
    assert_non_null(strstr(json, "\"uncertainty_mK\":500}"));
    assert_true(decision_read(json, strlen(json), &back));
    assert_int_equal(back.guard_mK, 500);
    assert_int_equal(back.uncertainty_mK, 500);
    engine_free(engine);
    plan_free(plan);
}

static void
test_cooking_by_simple_acceptance_shows_its_uncertainty(void **state)
{
    (void)state;
    struct plan *plan = plan_of("kind: cook, applies_to: food, at_least: 63 °C");
    struct engine *engine = engine_new();
    begin(engine, plan);
    (void)reads(engine, 1, 10 * SECOND, 62999);
    assert_null(said(DECISION_LIMIT_MET));
    (void)reads(engine, 1, 20 * SECOND, 63000);
    const struct decision *met = said(DECISION_LIMIT_MET);
    assert_non_null(met);
    assert_int_equal(met->guard_mK, 0);
    assert_int_equal(met->uncertainty_mK, 500);
    engine_free(engine);
    plan_free(plan);
}

/* A_U = 5.0 - 0.4 = 4.6: exactly at it is inside, a thousandth above is not. */
static void
test_holding_on_both_sides_of_the_guarded_limit(void **state)
{
    (void)state;
    struct plan *plan =
        plan_of("kind: cook, applies_to: food, at_least: 63 °C, acceptance: guarded");
    struct engine *engine = engine_new();
    (void)step(engine, (struct engine_input){
                           .kind = ENGINE_PLAN, .at_ms = 1000, .seq = 1, .is.plan = plan});
    (void)reads(engine, 2, 10 * SECOND, 4600);
    assert_null(said(DECISION_DEVIATION_OPENED));
    (void)reads(engine, 2, 20 * SECOND, 4601);
    const struct decision *opened = said(DECISION_DEVIATION_OPENED);
    assert_non_null(opened);
    assert_int_equal(opened->guard_mK, 400);
    assert_int_equal(opened->required.milli, 4600);
    assert_int_equal(opened->temp_mC, 4601);
    engine_free(engine);
    plan_free(plan);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_uncertainty_from_its_parts),
        cmocka_unit_test(test_guarded_needs_every_thermometer),
        cmocka_unit_test(test_acceptance_limits_lie_inside),
        cmocka_unit_test(test_a_change_of_the_band_is_a_change_of_the_limit),
        cmocka_unit_test(test_cooking_on_both_sides_of_the_guarded_limit),
        cmocka_unit_test(test_cooking_by_simple_acceptance_shows_its_uncertainty),
        cmocka_unit_test(test_holding_on_both_sides_of_the_guarded_limit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
