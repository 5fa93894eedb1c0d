/* Checks of thermometers and corrections of probes: rules E120 to E128 of docs/engine.md. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "trivet/engine_plan.h"

#define FRIDGE  "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 1 min}"
#define COOK_63 "{kind: cook, applies_to: food, at_least: 63 °C}"

/* One point a word: METHOD REFERENCE FOUND, all in mC. */
static void
add_point(struct entry *entry, bool left, enum calibration_method method, int32_t reference_mC,
          int32_t found_mC)
{
    struct calibration_point *at =
        left ? &entry->left[entry->left_count++] : &entry->points[entry->point_count++];
    *at = (struct calibration_point){.method = method,
                                     .reference_mC = reference_mC,
                                     .uncertainty_mK = 100,
                                     .found_mC = found_mC};
    if (method == CALIBRATION_BOILING)
        entry->pressure_Pa = 101325;
}

static struct entry
check_of(const char *id, enum correction_choice correction)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_CALIBRATE);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    if (strcmp(id, "pen") == 0)
        (void)snprintf(entry.thermometer, sizeof entry.thermometer, "%s", id);
    else
        (void)snprintf(entry.probe, sizeof entry.probe, "%s", id);
    entry.correction = correction;
    return entry;
}

static struct entry
ice_check(const char *id, int32_t found_mC, enum correction_choice correction)
{
    struct entry entry = check_of(id, correction);
    add_point(&entry, false, CALIBRATION_ICE, 0, found_mC);
    return entry;
}

/* As the recorder does it: what is due, the check, then the record. */
static void
enter(struct rig *rig, const char *time, const struct entry *entry)
{
    int64_t at_ms = rig_time(time);
    rig->refusal[0] = '\0';
    if (!engine_check(rig->engine, entry, rig->refusal, sizeof rig->refusal))
        return;
    struct engine_input input = {.kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = ++rig->seq};
    input.is.entry = entry;
    rig_feed(rig, &input);
}

static void
enter_well(struct rig *rig, const char *time, const struct entry *entry)
{
    enter(rig, time, entry);
    assert_string_equal(rig->refusal, "");
}

static void
assert_refused(struct rig *rig, const struct entry *entry, const char *says)
{
    assert_false(engine_check(rig->engine, entry, rig->refusal, sizeof rig->refusal));
    if (strstr(rig->refusal, says) == NULL)
        fail_msg("'%s' does not say '%s'", rig->refusal, says);
}

static struct engine_check_view
known(struct rig *rig, const char *id)
{
    struct entry entry = check_of(id, CORRECTION_KEEP);
    struct engine_check_view view;
    assert_true(engine_view_check(rig->engine, &entry, &view));
    return view;
}

static struct engine_probe_view
shown(struct rig *rig, uint16_t number)
{
    struct engine_probe_view views[8];
    size_t count = engine_view_probes(rig->engine, views, 8);
    for (size_t i = 0; i < count; i++)
        if (views[i].number == number)
            return views[i];
    fail_msg("there is no probe %u", number);
    return views[0];
}

static struct plan *
plan_with(const char *from, const char *to)
{
    struct plan *whole = rig_plan(NULL, FRIDGE, NULL);
    static char text[8000];
    const char *at = strstr(whole->text, from);
    assert_non_null(at);
    int len = snprintf(text, sizeof text, "%.*s%s%s", (int)(at - whole->text), whole->text, to,
                       at + strlen(from));
    struct plan_faults faults;
    struct plan *plan = plan_load_text("rig.yaml", text, (size_t)len, &faults);
    if (plan == NULL)
        fail_msg("line %d: %s", faults.fault[0].line, faults.fault[0].text);
    for (size_t i = 0; i < plan->probe_count; i++)
        plan->probes[i].number = (uint16_t)(i + 1);
    plan_free(whole);
    return plan;
}

/* E120: FDA Food Code 2022, 4-203.11(A): accurate to 1 °C. Exactly that passes, a thousandth
 * more does not. */
static void
test_tolerance_from_both_sides(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    struct entry just = ice_check("p1", 1000, CORRECTION_KEEP),
                 below = ice_check("p2", -1000, CORRECTION_KEEP),
                 over = ice_check("p1", 1001, CORRECTION_KEEP),
                 under = ice_check("p2", -1001, CORRECTION_KEEP);
    assert_int_equal(known(rig, "p1").good_ms, TIME_NONE);
    enter_well(rig, "0:01:00", &just);
    enter_well(rig, "0:01:00", &below);
    rig_expect(rig, "");
    assert_int_equal(known(rig, "p1").good_ms, rig_time("0:01:00"));
    enter_well(rig, "0:02:00", &over);
    enter_well(rig, "0:03:00", &under);
    rig_expect(rig, "0:02:00 deviation-opened failed-check #1 p1 1.001 since 0:01:00\n"
                    "0:02:00 suspect-begun failed-check p1\n"
                    "0:03:00 deviation-opened failed-check #2 p2 -1.001 since 0:01:00\n"
                    "0:03:00 suspect-begun failed-check p2\n");
    assert_true(known(rig, "p1").left_bad);
    assert_int_equal(known(rig, "p1").good_ms, rig_time("0:01:00"));
    assert_int_equal(known(rig, "p1").checked_ms, rig_time("0:02:00"));
    rig_free(rig);
}

/* E123: the reading at the very instant of the check is corrected, the one before was not, and
 * the stored value stays raw. */
static void
test_correction_is_in_force_from_its_instant_and_never_before(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry adopt = ice_check("a1", -800, CORRECTION_ADOPT);
    rig_play(rig, "0:00:10 a1 4.5\n");
    assert_int_equal(shown(rig, 4).last_good.temp_mC, 4500);
    enter_well(rig, "0:00:20", &adopt);
    assert_int_equal(shown(rig, 4).last_good.temp_mC, 4500); /* what was read stays read */
    rig_play(rig, "0:00:20 a1 4.5\n"); /* 5.3 in truth: outside from here */
    assert_int_equal(shown(rig, 4).last_good.temp_mC, 5300);
    assert_int_equal(shown(rig, 4).last_good_raw_mC, 4500);
    assert_int_equal(rig_place(rig).temp_mC, 5300);
    assert_int_equal(rig_place(rig).outside_since_ms, rig_time("0:00:20"));
    rig_play(rig, "0:00:30-0:01:20 a1 4.5\n");
    rig_expect(rig,
               "0:01:20 deviation-opened out-too-long #1 fridge p4 5.3 since 0:00:20 found "
               "0:01:00\n");
    rig_free(rig);
}

/* A probe that shows 0.8 too little meets 63 at a raw 62.2 once corrected, and not before. */
static void
test_corrected_value_meets_a_limit_exactly(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_63, NULL);
    struct entry adopt = ice_check("p1", -800, CORRECTION_ADOPT);
    enter_well(rig, "0:00:05", &adopt);
    rig_play(rig, "0:00:10 begin dish p1\n0:00:20 p1 62.199\n");
    rig_expect(rig, "");
    rig_play(rig, "0:00:30 p1 62.2\n");
    rig_expect(rig, "0:00:30 limit-met reached p1 63.0 since 0:00:30\n");
    rig_free(rig);
}

static void
test_dropped_and_kept(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry adopt = ice_check("a1", 500, CORRECTION_ADOPT),
                 keep = ice_check("a1", 500, CORRECTION_KEEP),
                 drop = ice_check("a1", 500, CORRECTION_DROP);
    enter_well(rig, "0:00:10", &adopt);
    enter_well(rig, "0:00:20", &keep);
    rig_play(rig, "0:00:30 a1 4.0\n");
    assert_int_equal(shown(rig, 4).last_good.temp_mC, 3500);
    enter_well(rig, "0:00:40", &drop);
    rig_play(rig, "0:00:50 a1 4.0\n");
    assert_int_equal(shown(rig, 4).last_good.temp_mC, 4000);
    assert_int_equal(shown(rig, 4).correction.count, 0);
    rig_expect(rig, "");
    rig_free(rig);
}

/* As found is judged with the correction that was in force until then: raw -0.8 in ice is right
 * when 0.8 is being added, and 1.1 more is a failure although raw it would pass. */
static void
test_as_found_is_judged_as_it_was_corrected(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    struct entry adopt = ice_check("p1", -800, CORRECTION_ADOPT),
                 again = ice_check("p1", 300, CORRECTION_KEEP);
    enter_well(rig, "0:01:00", &adopt);
    enter_well(rig, "0:02:00", &again);
    rig_expect(rig, "0:02:00 deviation-opened failed-check #1 p1 1.1 since 0:01:00\n"
                    "0:02:00 suspect-begun failed-check p1\n");
    rig_free(rig);
}

/* E125, E126: one deviation at a time; it ends with the check that leaves the probe good, be
 * that by a correction, an adjustment or because it is right again. */
static void
test_failed_check_goes_on_until_it_is_good(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    struct entry bad = ice_check("p1", 1500, CORRECTION_KEEP),
                 adopt = ice_check("p1", 1500, CORRECTION_ADOPT);
    enter_well(rig, "0:01:00", &bad);
    enter_well(rig, "0:02:00", &bad);
    rig_expect(rig, "0:01:00 deviation-opened failed-check #1 p1 1.5\n" /* never found right */
                    "0:01:00 suspect-begun failed-check p1\n");
    enter_well(rig, "0:03:00", &adopt);
    rig_expect(rig, "0:03:00 suspect-ended good-check p1\n"
                    "0:03:00 deviation-ended good-check #1 p1\n");
    assert_false(known(rig, "p1").left_bad);
    assert_int_equal(known(rig, "p1").good_ms, rig_time("0:03:00"));
    struct entry adjusted =
        ice_check("p1", 2600, CORRECTION_DROP); /* 1.1 too much, corrected */
    add_point(&adjusted, true, CALIBRATION_ICE, 0, 100);
    enter_well(rig, "0:04:00", &adjusted);
    rig_expect(rig, "0:04:00 deviation-opened failed-check #2 p1 1.1 since 0:03:00\n"
                    "0:04:00 deviation-ended good-check #2 p1\n");
    rig_play(rig, "0:05:00 action 1 AB\n0:05:10 verify 1 SB\n0:05:20 action 2 AB\n"
                  "0:05:30 verify 2 VK\n");
    struct engine_deviation_view views[4];
    assert_int_equal(engine_view_deviations(rig->engine, views, 4), 0);
    rig_free(rig);
}

/* A check that finds it right proves what it showed until then, even when it is then adjusted
 * badly. */
static void
test_good_as_found_and_bad_as_left(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    struct entry spoiled = ice_check("p1", 200, CORRECTION_KEEP);
    add_point(&spoiled, true, CALIBRATION_ICE, 0, 1700);
    enter_well(rig, "0:01:00", &spoiled);
    rig_expect(rig, "0:01:00 suspect-begun failed-check p1\n");
    assert_true(known(rig, "p1").left_bad);
    assert_int_equal(known(rig, "p1").good_ms, rig_time("0:01:00"));
    rig_free(rig);
}

/* E216: from the instant of the record on, as long as no check leaves it right. */
static void
test_probe_left_outside_is_suspect_until_a_check_leaves_it_right(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry bad = ice_check("a1", 1500, CORRECTION_KEEP),
                 good = ice_check("a1", 300, CORRECTION_KEEP);
    rig_play(rig, "0:00:10 a1 4.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    enter_well(rig, "0:00:20", &bad);
    rig_play(rig, "0:00:20 a1 4.0\n"); /* at the very instant: after the record */
    assert_int_equal(rig->quality, SUSPECT_FAILED_CHECK);
    rig_play(rig, "0:00:30-0:20:00 a1 4.0\n"); /* it is not silent */
    assert_int_equal(rig->quality, SUSPECT_FAILED_CHECK);
    assert_int_equal(shown(rig, 4).last_good.at_ms, rig_time("0:00:10"));
    rig_reload(rig);
    rig_play(rig, "0:20:10 a1 4.0\n");
    assert_int_equal(rig->quality, SUSPECT_FAILED_CHECK);
    enter_well(rig, "0:20:20", &good);
    rig_play(rig, "0:20:20 a1 4.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_expect(rig, "0:00:20 deviation-opened failed-check #1 p4 1.5\n"
                    "0:00:20 suspect-begun failed-check p4\n"
                    "0:20:20 suspect-ended good-check p4\n"
                    "0:20:20 deviation-ended good-check #1 p4\n");
    rig_free(rig);
}

/* An adjustment, or a correction adopted, leaves it right in the same record. */
static void
test_probe_left_right_by_its_own_check_is_believed_at_once(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry adopt = ice_check("a1", 1500, CORRECTION_ADOPT),
                 adjusted = ice_check("a1", 3000, CORRECTION_DROP);
    enter_well(rig, "0:00:20", &adopt);
    rig_play(rig, "0:00:20 a1 4.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    add_point(&adjusted, true, CALIBRATION_ICE, 0, 100);
    enter_well(rig, "0:00:30", &adjusted);
    rig_play(rig, "0:00:30 a1 4.0\n");
    assert_int_equal(rig->quality, READING_GOOD);
    rig_expect(rig, "0:00:20 deviation-opened failed-check #1 p4 1.5\n"
                    "0:00:20 deviation-ended good-check #1 p4\n"
                    "0:00:30 deviation-opened failed-check #2 p4 1.5 since 0:00:20\n"
                    "0:00:30 deviation-ended good-check #2 p4\n");
    rig_free(rig);
}

/* E216 with E41: it cannot meet a limit, and can still break one. */
static void
test_probe_left_outside_meets_nothing_and_breaks_what_it_shows_broken(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_63, NULL);
    struct entry bad = ice_check("p1", 1500, CORRECTION_KEEP);
    enter_well(rig, "0:00:05", &bad);
    rig_play(rig, "0:00:10 begin dish p1\n0:00:20-0:30:00 p1 80.0\n0:30:10 hand 63.0\n");
    rig_expect(rig, "0:00:05 deviation-opened failed-check #1 p1 1.5\n"
                    "0:00:05 suspect-begun failed-check p1\n"
                    "0:30:10 limit-met hand-reading 63.0 since 0:30:10\n");
    rig_free(rig);
    rig = rig_new(NULL, FRIDGE);
    bad = ice_check("a1", 1500, CORRECTION_KEEP);
    rig_play(rig, "0:00:00 a1 4.0\n");
    enter_well(rig, "0:00:05", &bad);
    rig_play(rig, "0:00:10 a1 5.1\n0:00:20-0:01:20 a1 4.0\n");
    rig_expect(rig, "0:00:05 deviation-opened failed-check #1 p4 1.5\n"
                    "0:00:05 suspect-begun failed-check p4\n"
                    "0:01:10 deviation-opened out-too-long #2 fridge p4 5.1 since 0:00:10 "
                    "found 0:01:00\n");
    rig_free(rig);
}

/* E217 */
static void
test_hand_held_left_outside_meets_nothing_and_may_break(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_63, NULL);
    struct entry bad = ice_check("pen", 1500, CORRECTION_KEEP),
                 good = ice_check("pen", 0, CORRECTION_KEEP);
    enter_well(rig, "0:00:05", &bad);
    rig_play(rig, "0:00:10 begin dish\n0:00:20 hand 80.0\n");
    rig_expect(rig, "0:00:05 deviation-opened failed-check #1 pen 1.5\n");
    enter_well(rig, "0:00:30", &good);
    rig_play(rig, "0:00:40 hand 63.0\n");
    rig_expect(rig, "0:00:30 deviation-ended good-check #1 pen\n"
                    "0:00:40 limit-met hand-reading 63.0 since 0:00:40\n");
    rig_free(rig);
    rig = rig_new(NULL, FRIDGE);
    bad = ice_check("pen", 1500, CORRECTION_KEEP);
    enter_well(rig, "0:00:05", &bad);
    rig_play(rig, "0:00:10 a1 4.0\n0:00:15 hand fridge 5.0\n0:00:20 a1 4.0\n");
    assert_int_equal(rig_place(rig).outside_since_ms, TIME_NONE);
    rig_play(rig, "0:00:25 hand fridge 5.1\n");
    assert_int_equal(rig_place(rig).outside_since_ms, rig_time("0:00:25"));
    rig_free(rig);
}

/* E128 */
static void
test_hand_held_is_checked_and_never_corrected(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    struct entry good = ice_check("pen", 400, CORRECTION_KEEP),
                 bad = ice_check("pen", 1400, CORRECTION_KEEP),
                 adopt = ice_check("pen", 1400, CORRECTION_ADOPT);
    enter_well(rig, "0:01:00", &good);
    enter_well(rig, "0:02:00", &bad);
    rig_expect(rig, "0:02:00 deviation-opened failed-check #1 pen 1.4 since 0:01:00\n");
    assert_refused(rig, &adopt, "a hand-held thermometer is not corrected");
    enter_well(rig, "1:00:00", &good);
    rig_expect(rig, "1:00:00 deviation-ended good-check #1 pen\n");
    rig_free(rig);
}

/* E124 */
static void
test_what_is_refused(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOK_63, NULL);
    struct entry entry = ice_check("p9", 0, CORRECTION_KEEP);
    assert_refused(rig, &entry, "there is no probe 'p9' in the plan; known are: p1, p2, p3");
    entry = ice_check("", 0, CORRECTION_KEEP);
    assert_refused(rig, &entry, "which thermometer was checked is missing");
    entry = ice_check("p1", 0, CORRECTION_KEEP);
    (void)snprintf(entry.thermometer, sizeof entry.thermometer, "pen");
    assert_refused(rig, &entry, "are both named");
    entry = check_of("p1", CORRECTION_KEEP);
    assert_refused(rig, &entry, "what was measured is missing");
    add_point(&entry, false, CALIBRATION_ICE, 1, 0);
    assert_refused(rig, &entry, "melting ice is at 0");
    entry = check_of("p1", CORRECTION_KEEP);
    add_point(&entry, false, CALIBRATION_BOILING, 100000, 100000);
    entry.pressure_Pa = 0;
    assert_refused(rig, &entry, "the air pressure is missing");
    entry = check_of("p1", CORRECTION_KEEP);
    add_point(&entry, false, CALIBRATION_REFERENCE, 20000, 20000);
    assert_refused(rig, &entry, "the reference thermometer is missing");
    (void)snprintf(entry.reference, sizeof entry.reference, "stick");
    assert_refused(rig, &entry, "there is no reference 'stick'");
    entry = ice_check("p1", 0, CORRECTION_UNSAID);
    assert_refused(rig, &entry, "what becomes of the correction is missing");
    entry = ice_check("p1", 2001, CORRECTION_ADOPT);
    assert_refused(rig, &entry, "a correction of more than 2.0 °C");
    entry = ice_check("p1", 500, CORRECTION_ADOPT);
    add_point(&entry, false, CALIBRATION_ICE, 0, 400);
    assert_refused(rig, &entry, "at least 5.0 °C apart");
    /* Each point is looked at, as found and as left. */
    entry = ice_check("p1", 0, CORRECTION_KEEP);
    add_point(&entry, false, CALIBRATION_ICE, 1, 0);
    assert_refused(rig, &entry, "melting ice is at 0");
    entry = ice_check("p1", 0, CORRECTION_KEEP);
    add_point(&entry, true, CALIBRATION_ICE, 1, 0);
    assert_refused(rig, &entry, "melting ice is at 0");
    entry = ice_check("p1", 0, CORRECTION_KEEP);
    add_point(&entry, true, CALIBRATION_ICE, 0, 0);
    add_point(&entry, true, CALIBRATION_ICE, 1, 0);
    assert_refused(rig, &entry, "melting ice is at 0");
    entry = ice_check("p1", 0, CORRECTION_ADOPT);
    entry.points[0].uncertainty_mK = 501;
    assert_refused(rig, &entry, "half the tolerance, 0.5 °C;");
    rig_play(rig, "0:59:59 begin dish p1 p2\n");
    entry = ice_check("p2", 0, CORRECTION_KEEP);
    assert_refused(rig, &entry, "probe 'p2' is in batch 1");
    entry = ice_check("p1", 0, CORRECTION_KEEP);
    assert_refused(rig, &entry, "probe 'p1' is in batch 1");
    rig_free(rig);
}

/* A reference is known as surely as its certificate says, and no surer. */
static void
test_reference_is_no_surer_than_its_certificate(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    rig->next_plan = plan_with("thermometers:\n",
                               "references:\n  - {id: stick, name: Stick, certificate: no. 7, "
                               "uncertainty: 0.2 °C, due: 2030-01-31}\nthermometers:\n");
    rig_play(rig, "0:00:00 plan\n");
    struct entry entry = check_of("p1", CORRECTION_KEEP);
    add_point(&entry, false, CALIBRATION_REFERENCE, 20000, 20000);
    (void)snprintf(entry.reference, sizeof entry.reference, "stick");
    entry.points[0].uncertainty_mK = 199;
    assert_refused(rig, &entry, "reference 'stick' is known to 0.2 °C at best");
    entry.points[0].uncertainty_mK = 200;
    enter_well(rig, "0:00:10", &entry);
    rig_free(rig);
}

/* A reference that is less sure than the tolerance proves nothing; one less sure than half of
 * it is good enough for a check alone. Both exactly at the bound are. */
static void
test_uncertainty_from_both_sides(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    struct entry check = ice_check("p1", 100, CORRECTION_KEEP),
                 adopt = ice_check("p1", 100, CORRECTION_ADOPT);
    check.points[0].uncertainty_mK = 1001;
    assert_refused(rig, &check, "proves nothing");
    check.points[0].uncertainty_mK = 1000;
    enter_well(rig, "1:00:00", &check);
    adopt.points[0].uncertainty_mK = 501;
    enter(rig, "1:00:00", &adopt);
    assert_non_null(strstr(rig->refusal, "known to half the tolerance"));
    adopt.points[0].uncertainty_mK = 500;
    enter_well(rig, "1:00:00", &adopt);
    rig_free(rig);
}

static void
test_adjusted_probe_does_not_keep_its_correction(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    struct entry adopt = ice_check("p1", 500, CORRECTION_ADOPT),
                 adjusted = ice_check("p1", 500, CORRECTION_KEEP);
    add_point(&adjusted, true, CALIBRATION_ICE, 0, 0);
    enter_well(rig, "0:10:00", &adopt);
    assert_refused(rig, &adjusted, "its correction no longer fits");
    adjusted.correction = CORRECTION_ADOPT;
    enter_well(rig, "1:00:00", &adjusted);
    assert_int_equal(known(rig, "p1").correction.add_mK[0], 0); /* from the points as left */
    rig_free(rig);
}

/* ---- plans ---- */

/* E127: the same number from another register is another thermometer. */
static void
test_correction_ends_when_a_plan_reads_the_probe_otherwise(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry adopt = ice_check("p1", 500, CORRECTION_ADOPT),
                 bad = ice_check("p1", 2000, CORRECTION_KEEP);
    enter_well(rig, "0:00:10", &adopt);
    rig->next_plan = plan_with("{id: p1, name: One,", "{id: p1, name: Other name,");
    rig_play(rig, "0:00:20 plan\n0:00:30 p1 10.0\n");
    rig_expect(rig, "");
    assert_int_equal(shown(rig, 1).last_good.temp_mC, 9500);
    assert_int_equal(known(rig, "p1").good_ms, rig_time("0:00:10"));
    enter_well(rig, "0:00:40", &bad);
    rig->next_plan = plan_with("register: 0,", "register: 9,");
    rig_play(rig, "0:00:50 action 1 AB\n0:01:00 plan\n0:01:00 p1 10.0\n");
    rig_expect(rig, "0:00:40 deviation-opened failed-check #1 p1 1.5 since 0:00:10\n"
                    "0:00:40 suspect-begun failed-check p1\n"
                    "0:01:00 correction-ended entered p1\n"
                    "0:01:00 deviation-ended entered #1 p1\n");
    assert_int_equal(shown(rig, 1).last_good.temp_mC, 10000);
    assert_int_equal(known(rig, "p1").good_ms, TIME_NONE);
    rig_free(rig);
}

/* E127: the same ohms of another sensor, or another cold junction, are another temperature. */
static void
test_correction_ends_when_a_plan_has_another_sensor_or_cold_junction(void **state)
{
    (void)state;
    static const struct {
        const char *before, *after;
        bool goes_on;
    } cases[] = {
        {"sensor: tc-k, scale: 1 uV, cold_junction: 20 °C",
         "sensor: tc-k, scale: 1 uV, cold_junction: 20 °C", true},
        {"sensor: tc-k, scale: 1 uV, cold_junction: p2",
         "sensor: tc-k, scale: 1 uV, cold_junction: p2", true},
        {"scale: 1 °C", "sensor: pt100, scale: 1 ohm", false},
        {"sensor: pt100, scale: 1 ohm", "sensor: pt1000, scale: 1 ohm", false},
        {"sensor: tc-k, scale: 1 uV, cold_junction: 20 °C",
         "sensor: tc-k, scale: 1 mV, cold_junction: 20 °C", false},
        {"sensor: tc-k, scale: 1 uV, cold_junction: 20 °C",
         "sensor: tc-k, scale: 1 uV, cold_junction: 21 °C", false},
        {"sensor: tc-k, scale: 1 uV, cold_junction: p2",
         "sensor: tc-k, scale: 1 uV, cold_junction: 20 °C", false},
        {"sensor: tc-k, scale: 1 uV, cold_junction: p2",
         "sensor: tc-k, scale: 1 uV, cold_junction: p3", false},
    };
    static const char p1[] = "register: 0, type: int16,\n     scale: 0.1 °C,";
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_new(NULL, FRIDGE);
        struct entry adopt = ice_check("p1", 500, CORRECTION_ADOPT);
        char before[200], after[200];
        (void)snprintf(before, sizeof before, "register: 0, type: int16, %s,", cases[i].before);
        (void)snprintf(after, sizeof after, "register: 0, type: int16, %s,", cases[i].after);
        rig->next_plan = plan_with(p1, before);
        rig_play(rig, "0:00:05 plan\n");
        enter_well(rig, "0:00:10", &adopt);
        rig->next_plan = plan_with(p1, after);
        rig_play(rig, "0:00:20 plan\n");
        rig_expect(rig, cases[i].goes_on ? "" : "0:00:20 correction-ended entered p1\n");
        rig_free(rig);
    }
}

/* The plan with `wires` a thermocouple whose terminals are `end`, and `end`, that was at
 * register `was`, at another. */
static struct plan *
plan_with_terminals(const char *wires, const char *end, const char *was, const char *reg)
{
    char from[80], to[120];
    (void)snprintf(from, sizeof from, "%s type: int16,\n     scale: 0.1 °C,", wires);
    (void)snprintf(to, sizeof to,
                   "%s type: int16, sensor: tc-k, scale: 1 uV, cold_junction: %s,", wires, end);
    struct plan *whole = plan_with(from, to);
    static char text[9000];
    const char *at = strstr(whole->text, was);
    assert_non_null(at);
    const int len = snprintf(text, sizeof text, "%.*s%s%s", (int)(at - whole->text),
                             whole->text, reg, at + strlen(was));
    struct plan_faults faults;
    struct plan *plan = plan_load_text("rig.yaml", text, (size_t)len, &faults);
    assert_non_null(plan);
    for (size_t i = 0; i < plan->probe_count; i++)
        plan->probes[i].number = (uint16_t)(i + 1);
    plan_free(whole);
    return plan;
}

/* That of p1, whose terminals are p2. */
static struct plan *
plan_with_terminals_at(const char *reg)
{
    return plan_with_terminals("register: 0,", "p2", "register: 1,", reg);
}

/* E127 of the thermocouple as well: its temperature is made with that of p2. */
static void
test_correction_ends_when_its_terminals_are_read_otherwise(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry adopt = ice_check("p1", 500, CORRECTION_ADOPT);
    rig->next_plan = plan_with_terminals_at("register: 1,");
    rig_play(rig, "0:00:05 plan\n");
    enter_well(rig, "0:00:10", &adopt);
    rig->next_plan = plan_with_terminals_at("register: 1,");
    rig_play(rig, "0:00:20 plan\n");
    rig_expect(rig, "");
    rig->next_plan = plan_with_terminals_at("register: 9,");
    rig_play(rig, "0:00:30 plan\n");
    rig_expect(rig, "0:00:30 correction-ended entered p1\n");
    rig_free(rig);
}

static void
test_hand_held_ones_follow_the_plan(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry bad = ice_check("pen", 2000, CORRECTION_KEEP), gone = bad;
    enter_well(rig, "0:00:10", &bad);
    rig->next_plan =
        plan_with("  - {id: pen, name: Pen}\n",
                  "  - {id: new-1, name: A}\n  - {id: pen, name: Pen}\n  - {id: z, name: Z}\n");
    rig_play(rig, "0:00:20 plan\n");
    assert_int_equal(known(rig, "pen").deviation, 1);
    (void)snprintf(gone.thermometer, sizeof gone.thermometer, "new-1");
    enter_well(rig, "0:00:25", &gone);
    rig->next_plan = plan_with("  - {id: pen, name: Pen}\n", "  - {id: new-1, name: A}\n");
    char why[600];
    assert_false(engine_check_plan(rig->engine, rig->next_plan, why, sizeof why));
    assert_non_null(strstr(why, "thermometer 'pen' has deviation 1"));
    rig_play(rig, "0:00:30 action 1 AB\n");
    assert_true(engine_check_plan(rig->engine, rig->next_plan, why, sizeof why));
    rig_play(rig, "0:00:40 plan\n");
    rig_expect(rig, "0:00:10 deviation-opened failed-check #1 pen 2.0\n"
                    "0:00:25 deviation-opened failed-check #2 new-1 2.0\n"
                    "0:00:40 deviation-ended entered #1 pen\n");
    /* A new one of the old name has never been checked. */
    rig->next_plan = plan_with("  - {id: pen, name: Pen}\n",
                               "  - {id: new-1, name: A}\n  - {id: pen, name: Pen}\n");
    rig_play(rig, "0:00:50 plan\n");
    assert_int_equal(known(rig, "pen").checked_ms, TIME_NONE);
    struct engine_check_view other;
    assert_true(engine_view_check(rig->engine, &gone, &other));
    assert_int_equal(other.deviation, 2);
    rig_free(rig);
}

/* ---- what is saved ---- */

/* A state that is loaded goes on as the one that was saved: correction, last good check,
 * deviation and the list of hand-held ones. */
static void
test_reloaded_engine_goes_on(void **state)
{
    (void)state;
    char logs[2][RIG_LOG_MAX / 100];
    for (int reload = 0; reload < 2; reload++) {
        struct rig *rig = rig_new(NULL, FRIDGE);
        struct entry adopt = ice_check("a1", -800, CORRECTION_ADOPT),
                     pen = ice_check("pen", 1200, CORRECTION_KEEP),
                     bad = ice_check("a1", 300, CORRECTION_KEEP);
        enter_well(rig, "0:00:10", &adopt);
        enter_well(rig, "0:00:10", &pen);
        if (reload)
            rig_reload(rig);
        rig_play(rig, "0:00:20-0:02:00 a1 4.5\n");
        enter_well(rig, "0:03:00", &bad);
        pen.points[0].found_mC = 0;
        enter_well(rig, "0:04:00", &pen);
        assert_true(rig->log_len < sizeof logs[reload]);
        memcpy(logs[reload], rig->log, rig->log_len);
        logs[reload][rig->log_len] = '\0';
        rig_free(rig);
    }
    assert_string_equal(logs[0], logs[1]);
    assert_string_equal(logs[0],
                        "0:00:10 deviation-opened failed-check #1 pen 1.2\n"
                        "0:01:20 deviation-opened out-too-long #2 fridge p4 5.3 since 0:00:20 "
                        "found 0:01:00\n"
                        "0:03:00 deviation-opened failed-check #3 p4 1.1 since 0:00:10\n"
                        "0:03:00 suspect-begun failed-check p4\n"
                        "0:04:00 deviation-ended good-check #1 pen\n");
}

/* The probe at the terminals may be the first of the plan. */
static void
test_correction_ends_when_the_plans_first_probe_at_its_terminals_is_read_otherwise(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry adopt = ice_check("p2", 500, CORRECTION_ADOPT);
    rig->next_plan = plan_with_terminals("register: 1,", "p1", "register: 0,", "register: 0,");
    rig_play(rig, "0:00:05 plan\n");
    enter_well(rig, "0:00:10", &adopt);
    rig->next_plan = plan_with_terminals("register: 1,", "p1", "register: 0,", "register: 9,");
    rig_play(rig, "0:00:30 plan\n");
    rig_expect(rig, "0:00:30 correction-ended entered p2\n");
    rig_free(rig);
}

/* Only what there was can end. */
static void
test_check_without_a_correction_has_none_that_ends(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry keep = ice_check("p1", 100, CORRECTION_KEEP);
    enter_well(rig, "0:00:10", &keep);
    assert_int_equal(known(rig, "p1").checked_ms, rig_time("0:00:10"));
    rig->next_plan = plan_with("register: 0,", "register: 9,");
    rig_play(rig, "0:00:20 plan\n");
    rig_expect(rig, "");
    assert_int_equal(known(rig, "p1").checked_ms, TIME_NONE);
    rig_free(rig);
}

/* E122: what was left is what is corrected, though it be one point; and every point counts. */
static void
test_correction_is_made_of_every_point_last_measured(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, FRIDGE);
    struct entry adopt = ice_check("p1", 9000, CORRECTION_ADOPT);
    assert_refused(rig, &adopt, "would need a correction of more than");
    add_point(&adopt, true, CALIBRATION_ICE, 0, 300);
    enter_well(rig, "0:00:10", &adopt);
    struct entry two = ice_check("p2", 300, CORRECTION_ADOPT);
    add_point(&two, false, CALIBRATION_BOILING, 99974, 99800);
    two.points[1].uncertainty_mK = 600;
    assert_refused(rig, &two, "half the tolerance");
    rig_free(rig);
}

/* E197: food that is nowhere, too warm since the last check that was in order, is another
 * cause than a thermometer that shows too little. */
static void
test_failed_check_is_an_alarm_of_its_own(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 2 "
                              "min, back_for: 1 min}",
                              NULL);
    struct entry good = ice_check("pen", 0, CORRECTION_KEEP),
                 bad = ice_check("pen", 1200, CORRECTION_KEEP);
    enter_well(rig, "0:01:00", &good);
    rig_play(rig, "0:02:00 begin dish p1\n0:02:10-0:04:20 p1 9.0\n");
    rig->log_len = 0;
    enter_well(rig, "0:05:00", &bad);
    rig_expect(rig, "0:05:00 deviation-opened failed-check #2 pen 1.2 since 0:01:00\n");
    rig_free(rig);
}

/* E217: also the ceiling of food that stands without control. */
static void
test_hand_held_left_outside_may_show_food_above_its_ceiling(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: time_control, applies_to: food, left_at_most: 5 °C, "
                              "within: 6 h, never_above: 21 °C}",
                              NULL);
    struct entry bad = ice_check("pen", 1500, CORRECTION_KEEP);
    enter_well(rig, "0:00:05", &bad);
    rig_play(rig, "0:00:10 begin dish\n0:00:20 hand 21.0\n0:00:30 hand 21.001\n");
    rig_expect(
        rig, "0:00:05 deviation-opened failed-check #1 pen 1.5\n"
             "0:00:30 deviation-opened above-ceiling #2 21.001 since 0:00:10 found 0:00:20\n");
    rig_free(rig);
}

/* E216, E177: what it shows begins nothing. */
static void
test_probe_left_outside_shows_no_hot_food(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
                              "      - {id: cool, name: Cool, begins: by_itself, begins_on: "
                              "[p1], limit:\n          {kind: cool, applies_to: food, from: 57 "
                              "°C, stages: [{to: 21 °C, within: 2 h}]}",
                              NULL);
    struct entry bad = ice_check("p1", 1500, CORRECTION_KEEP),
                 good = ice_check("p1", 0, CORRECTION_KEEP);
    enter_well(rig, "0:00:05", &bad);
    rig->log_len = 0;
    rig_play(rig,
             "0:00:10-0:05:00 p1 20.0\n0:05:10-0:08:00 p1 80.0\n0:08:10-0:10:00 p1 20.0\n");
    rig_expect(rig, "");
    enter_well(rig, "0:10:05", &good);
    rig->log_len = 0;
    rig_play(rig, "0:10:10-0:12:00 p1 20.0\n0:12:10-0:13:10 p1 80.0\n");
    rig_expect(rig, "0:13:10.001 step-begun by-itself p1 80.0\n");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_tolerance_from_both_sides),
        cmocka_unit_test(test_correction_is_in_force_from_its_instant_and_never_before),
        cmocka_unit_test(test_corrected_value_meets_a_limit_exactly),
        cmocka_unit_test(test_dropped_and_kept),
        cmocka_unit_test(test_as_found_is_judged_as_it_was_corrected),
        cmocka_unit_test(test_failed_check_goes_on_until_it_is_good),
        cmocka_unit_test(test_good_as_found_and_bad_as_left),
        cmocka_unit_test(test_probe_left_outside_is_suspect_until_a_check_leaves_it_right),
        cmocka_unit_test(test_probe_left_right_by_its_own_check_is_believed_at_once),
        cmocka_unit_test(test_probe_left_outside_meets_nothing_and_breaks_what_it_shows_broken),
        cmocka_unit_test(test_hand_held_left_outside_meets_nothing_and_may_break),
        cmocka_unit_test(test_hand_held_is_checked_and_never_corrected),
        cmocka_unit_test(test_what_is_refused),
        cmocka_unit_test(test_reference_is_no_surer_than_its_certificate),
        cmocka_unit_test(test_uncertainty_from_both_sides),
        cmocka_unit_test(test_adjusted_probe_does_not_keep_its_correction),
        cmocka_unit_test(test_correction_ends_when_a_plan_reads_the_probe_otherwise),
        cmocka_unit_test(test_correction_ends_when_a_plan_has_another_sensor_or_cold_junction),
        cmocka_unit_test(test_correction_ends_when_its_terminals_are_read_otherwise),
        cmocka_unit_test(test_hand_held_ones_follow_the_plan),
        cmocka_unit_test(test_reloaded_engine_goes_on),
        cmocka_unit_test(
            test_correction_ends_when_the_plans_first_probe_at_its_terminals_is_read_otherwise),
        cmocka_unit_test(test_check_without_a_correction_has_none_that_ends),
        cmocka_unit_test(test_correction_is_made_of_every_point_last_measured),
        cmocka_unit_test(test_failed_check_is_an_alarm_of_its_own),
        cmocka_unit_test(test_hand_held_left_outside_may_show_food_above_its_ceiling),
        cmocka_unit_test(test_probe_left_outside_shows_no_hot_food),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
