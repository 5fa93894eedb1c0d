/* Thermocouples whose cold junction is another probe: docs/engine.md E250 and E251. That a
 * thermocouple measures the difference of two temperatures is physics (the Seebeck effect); the
 * jump that makes the terminals' probe suspect is E133's (20 °C, 60 °C/min). */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"

#define MODBUS                                                                                 \
    "bus: rack, unit: 1, function: 4, type: int16, plausible: [-40 °C, 300 °C], every: 10 s, "
/* Type K, 0.01 mV a count, on the terminals of one module. */
#define PLAN(junction)                                                                         \
    "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"                                     \
    "people: [{initials: AB, name: Ana Brandt, role: cook}, "                                  \
    "{initials: SB, name: Sara Berg, role: supervisor}]\n"                                     \
    "buses: [{id: rack, driver: modbus-tcp, host: 192.0.2.1}]\n"                               \
    "probes:\n"                                                                                \
    "  - {id: term, name: Terminals, kind: air, register: 0, " MODBUS "scale: 0.1 °C}\n"      \
    "  - {id: core, name: Core, kind: food, register: 1, " MODBUS                              \
    "sensor: tc-k, scale: 0.01 mV, cold_junction: " junction "}\n"                             \
    "  - {id: cupboard, name: Cupboard air, kind: air, register: 2, " MODBUS                   \
    "sensor: tc-k, scale: 0.01 mV, cold_junction: " junction "}\n"                             \
    "  - {id: other, name: Other core, kind: food, register: 3, " MODBUS "scale: 0.1 °C}\n"   \
    "places:\n"                                                                                \
    "  - {id: cupboard, name: Hot cupboard, probe: cupboard, limit: {kind: hold_hot, "         \
    "applies_to: air, at_least: 63 °C, tolerance: 1 min}}\n"                                  \
    "products:\n"                                                                              \
    "  - {id: dish, name: Dish, steps: [{id: first, name: First, limit: {kind: cook, "         \
    "applies_to: food, at_least: 70 °C, for: 30 s}}]}\n"

static struct rig *
new_rig(const char *script)
{
    struct rig *rig = rig_of(PLAN("term"));
    rig_play(rig, script);
    return rig;
}

static uint16_t
quality_after(struct rig *rig, const char *script)
{
    rig_play(rig, script);
    return rig->quality;
}

static void
test_thermocouple_is_suspect_as_long_as_the_probe_at_its_terminals(void **state)
{
    (void)state;
    struct rig *rig = new_rig("0:00:10 term 25.0\n");
    assert_int_equal(quality_after(rig, "0:00:10 core 60.0\n"), READING_GOOD);
    /* One jump that nothing confirms, and back. */
    assert_int_equal(quality_after(rig, "0:00:20 term 45.0\n"), SUSPECT_JUMPED);
    assert_int_equal(quality_after(rig, "0:00:20 core 60.0\n"), SUSPECT_COLD_JUNCTION);
    assert_int_equal(quality_after(rig, "0:00:20 other 60.0\n"), READING_GOOD);
    rig_expect(rig, "0:00:20 suspect-begun doubted-junction p2 60.0\n");
    assert_int_equal(quality_after(rig, "0:00:30 term 25.0\n"), READING_GOOD);
    assert_int_equal(quality_after(rig, "0:00:30 core 60.0\n"), READING_GOOD);
    rig_expect(rig, "0:00:30 suspect-ended good-again p2 60.0\n");
    rig_free(rig);
}

/* It may be the first of the plan, before the probe at its terminals. */
static void
test_thermocouple_that_comes_first_in_the_plan_is_suspect_too(void **state)
{
    (void)state;
    struct rig *rig = rig_of("site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"
                             "people: [{initials: AB, name: Ana Brandt, role: cook}, "
                             "{initials: SB, name: Sara Berg, role: supervisor}]\n"
                             "buses: [{id: rack, driver: modbus-tcp, host: 192.0.2.1}]\n"
                             "probes:\n"
                             "  - {id: core, name: Core, kind: food, register: 1, " MODBUS
                             "sensor: tc-k, scale: 0.01 mV, cold_junction: term}\n"
                             "  - {id: term, name: Terminals, kind: air, register: 0, " MODBUS
                             "scale: 0.1 °C}\n");
    rig_play(rig, "0:00:10 term 25.0\n0:00:10 core 60.0\n0:00:20 term 45.0\n");
    assert_int_equal(quality_after(rig, "0:00:20 core 60.0\n"), SUSPECT_COLD_JUNCTION);
    rig_free(rig);
}

/* 19.9 °C is no jump. */
static void
test_thermocouple_on_terminals_that_are_believed_is_good(void **state)
{
    (void)state;
    struct rig *rig = new_rig("0:00:10 term 25.0\n0:00:10 core 60.0\n");
    assert_int_equal(quality_after(rig, "0:00:20 term 44.9\n"), READING_GOOD);
    assert_int_equal(quality_after(rig, "0:00:20 core 60.0\n"), READING_GOOD);
    rig_expect(rig, "");
    rig_free(rig);
}

/* The driver goes on with the temperature before the silence, and so does the doubt of it. */
static void
test_silence_of_the_terminals_ends_no_doubt(void **state)
{
    (void)state;
    struct rig *rig = new_rig("0:00:10 term 25.0\n0:00:20 term 45.0\n0:00:30 term bad\n");
    assert_int_equal(quality_after(rig, "0:00:30 core 60.0\n"), SUSPECT_COLD_JUNCTION);
    rig_free(rig);
    rig = new_rig("0:00:10 term 25.0\n0:00:20 term bad\n");
    assert_int_equal(quality_after(rig, "0:00:20 core 60.0\n"), READING_GOOD);
    assert_int_equal(quality_after(rig, "0:00:30 core bad\n"), BAD_TIMEOUT);
    rig_free(rig);
}

static void
test_terminals_of_a_fixed_temperature_are_not_doubted(void **state)
{
    (void)state;
    struct rig *rig = rig_of(PLAN("0 °C"));
    rig_play(rig, "0:00:10 term 25.0\n0:00:20 term 45.0\n");
    assert_int_equal(quality_after(rig, "0:00:20 core 60.0\n"), READING_GOOD);
    rig_free(rig);
}

/* In ice the probe at the terminals shows a thousandth more than the tolerance. */
static void
fail_check(struct rig *rig, const char *time)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_CALIBRATE);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    (void)snprintf(entry.probe, sizeof entry.probe, "term");
    entry.correction = CORRECTION_KEEP;
    entry.points[entry.point_count++] = (struct calibration_point){
        .method = CALIBRATION_ICE, .uncertainty_mK = 100, .found_mC = 1001};
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = rig_time(time), .seq = ++rig->seq};
    input.is.entry = &entry;
    rig_feed(rig, &input);
}

/* E216: from the record on, not only from the next reading of the terminals. */
static void
test_failed_check_of_the_terminals_makes_their_thermocouples_suspect_at_once(void **state)
{
    (void)state;
    struct rig *rig = new_rig("0:00:10 term 25.0\n0:00:10 core 60.0\n");
    fail_check(rig, "0:00:15");
    assert_int_equal(quality_after(rig, "0:00:20 core 60.0\n"), SUSPECT_COLD_JUNCTION);
    rig_free(rig);
}

static void
test_doubt_survives_a_restart_from_saved_state_and_ends_once(void **state)
{
    (void)state;
    struct rig *rig = new_rig("0:00:10 term 25.0\n0:00:20 term 45.0\n0:00:20 core 60.0\n");
    rig_expect(rig, "0:00:20 suspect-begun doubted-junction p2 60.0\n");
    rig_reload(rig);
    assert_int_equal(quality_after(rig, "0:00:30 core 60.0\n"), SUSPECT_COLD_JUNCTION);
    rig_expect(rig, "");
    rig_play(rig, "0:00:40 term 25.0\n0:00:40 core 60.0\n0:00:50 core 60.0\n");
    rig_expect(rig, "0:00:40 suspect-ended good-again p2 60.0\n");
    rig_free(rig);
}

static void
test_other_terminals_by_a_new_plan_end_the_doubt(void **state)
{
    (void)state;
    struct rig *rig = new_rig("0:00:10 term 25.0\n0:00:20 term 45.0\n0:00:20 core 60.0\n");
    rig->next_plan = rig_plan_of(PLAN("0 °C"));
    rig_play(rig, "0:00:25 plan\n");
    assert_int_equal(quality_after(rig, "0:00:30 core 60.0\n"), READING_GOOD);
    rig_free(rig);
}

/* E41: it meets nothing, and it can break. */
static void
test_suspect_thermocouple_meets_no_limit_and_can_break_one(void **state)
{
    (void)state;
    static const char cooked[] = "0:00:00 begin dish core\n0:00:10-0:02:00 term 25.0\n"
                                 "0:02:10-0:04:00 core,cupboard 75.0\n";
    struct rig *rig = new_rig(cooked);
    assert_non_null(strstr(rig->log, "limit-met"));
    rig_free(rig);
    rig = rig_of(PLAN("term"));
    fail_check(rig, "0:00:00");
    rig_play(rig, cooked);
    assert_null(strstr(rig->log, "limit-met"));
    rig_play(rig, "0:04:10-0:05:20 cupboard 62.9\n");
    assert_non_null(strstr(rig->log, "deviation-opened out-too-long"));
    rig_free(rig);
}

static void
test_doubt_names_the_batch_that_the_thermocouple_is_in(void **state)
{
    (void)state;
    struct rig *rig = new_rig("0:00:00 begin dish core\n0:00:10 term 25.0\n0:00:10 core 60.0\n"
                              "0:00:20 term 45.0\n0:00:20 core 60.0\n");
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].kind, DECISION_SUSPECT_BEGUN);
    assert_int_equal(rig->out.decisions[0].batch, 1);
    rig_free(rig);
}

/* Air is of its place and of no batch. */
static void
test_thermocouple_of_a_place_is_told_with_it(void **state)
{
    (void)state;
    struct rig *rig = new_rig("0:00:10 term 25.0\n0:00:10 cupboard 70.0\n0:00:20 term 45.0\n");
    rig_play(rig, "0:00:20 cupboard 70.0\n");
    assert_int_equal(rig->out.count, 1);
    assert_int_equal(rig->out.decisions[0].batch, 0);
    assert_string_equal(rig->out.decisions[0].place, "cupboard");
    rig_free(rig);
}

/* E251: the first and the last probe of the plan were thermocouples, and are none in the next.
 */
static void
test_probe_that_is_no_thermocouple_any_more_has_no_terminals(void **state)
{
    (void)state;
#define HEAD3                                                                                  \
    "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"                                     \
    "people: [{initials: AB, name: Ana Brandt, role: cook}, {initials: SB, name: Sara Berg, "  \
    "role: supervisor}]\n"                                                                     \
    "buses: [{id: rack, driver: modbus-tcp, host: 192.0.2.1}]\n"                               \
    "probes:\n"
#define TERM                                                                                   \
    "  - {id: term, name: Terminals, kind: air, register: 0, " MODBUS "scale: 0.1 °C}\n"
#define CORE(id, register, how)                                                                \
    "  - {id: " id ", name: " id ", kind: food, register: " register ", " MODBUS how "}\n"
#define COUPLE "sensor: tc-k, scale: 0.01 mV, cold_junction: term"
    struct rig *rig = rig_of(HEAD3 CORE("one", "1", COUPLE) TERM CORE("two", "2", COUPLE));
    rig_play(rig, "0:00:10 term 25.0\n0:00:20 term 45.0\n");
    assert_int_equal(quality_after(rig, "0:00:20 one 60.0\n"), SUSPECT_COLD_JUNCTION);
    assert_int_equal(quality_after(rig, "0:00:20 two 60.0\n"), SUSPECT_COLD_JUNCTION);
    rig->next_plan = rig_plan_of(HEAD3 CORE("one", "1", "scale: 0.1 °C")
                                     TERM CORE("two", "2", "scale: 0.1 °C"));
    rig_play(rig, "0:00:25 plan\n");
    assert_int_equal(quality_after(rig, "0:00:30 one 60.0\n"), READING_GOOD);
    assert_int_equal(quality_after(rig, "0:00:30 two 60.0\n"), READING_GOOD);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_thermocouple_is_suspect_as_long_as_the_probe_at_its_terminals),
        cmocka_unit_test(test_thermocouple_that_comes_first_in_the_plan_is_suspect_too),
        cmocka_unit_test(test_thermocouple_on_terminals_that_are_believed_is_good),
        cmocka_unit_test(test_silence_of_the_terminals_ends_no_doubt),
        cmocka_unit_test(test_terminals_of_a_fixed_temperature_are_not_doubted),
        cmocka_unit_test(
            test_failed_check_of_the_terminals_makes_their_thermocouples_suspect_at_once),
        cmocka_unit_test(test_doubt_survives_a_restart_from_saved_state_and_ends_once),
        cmocka_unit_test(test_other_terminals_by_a_new_plan_end_the_doubt),
        cmocka_unit_test(test_suspect_thermocouple_meets_no_limit_and_can_break_one),
        cmocka_unit_test(test_doubt_names_the_batch_that_the_thermocouple_is_in),
        cmocka_unit_test(test_thermocouple_of_a_place_is_told_with_it),
        cmocka_unit_test(test_probe_that_is_no_thermocouple_any_more_has_no_terminals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
