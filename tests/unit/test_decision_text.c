/* A decision as text is canonical and comes back as it was. */
#include "tests/support/check.h"

#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "trivet/decision.h"

static struct decision
full(void)
{
    struct decision d;
    memset(&d, 0, sizeof d);
    d.kind = DECISION_DEVIATION_ENDED;
    d.reason = REASON_BACK_INSIDE;
    d.at_ms = INT64_C(1772545440123);
    d.deviation = 7;
    d.batch = 3;
    strcpy(d.place, "walk-in");
    strcpy(d.step, "store");
    d.probe = 65535;
    d.stage = 2;
    d.limit = LIMIT_HOLD_COLD;
    d.subject = SUBJECT_AIR;
    d.required = (struct limit_temp){41000, TEMP_F};
    d.required_ms = 1200000;
    d.temp_mC = -500;
    d.worst_mC = 9100;
    d.since_ms = INT64_C(1772545000000);
    d.last_ms = INT64_C(1772545140000);
    d.found_ms = 440123;
    return d;
}

static struct decision
bare(enum decision_kind kind)
{
    struct decision d;
    memset(&d, 0, sizeof d);
    d.kind = kind;
    d.at_ms = 1;
    d.temp_mC = d.worst_mC = TEMP_NONE;
    d.since_ms = TIME_NONE;
    return d;
}

static size_t
write(const struct decision *d, char *buf, size_t size)
{
    struct json_out out;
    out_start(&out, buf, size, true); /* asserts the order of keys */
    decision_write(d, &out, NULL);
    assert_true(out_done(&out));
    return strlen(buf);
}

static void
assert_comes_back(const struct decision *d)
{
    char text[1024], again[1024];
    struct decision read;
    size_t len = write(d, text, sizeof text);
    memset(&read, 0x55, sizeof read);
    assert_true(decision_read(text, len, &read));
    assert_memory_equal(&read, d, sizeof read);
    write(&read, again, sizeof again);
    assert_string_equal(again, text);
}

static void
test_decision_with_everything_comes_back(void **state)
{
    (void)state;
    struct decision d = full();
    assert_comes_back(&d);
    char text[1024];
    write(&d, text, sizeof text);
    assert_string_equal(
        text,
        "{\"at_ms\":1772545440123,\"batch\":3,\"decision\":\"deviation-ended\",\"deviation\":7,"
        "\"found_ms\":440123,\"last_ms\":1772545140000,\"limit\":\"hold_cold\",\"place\":"
        "\"walk-in\",\"probe\":65535,"
        "\"reason\":\"back-inside\",\"required_milli\":41000,\"required_ms\":1200000,"
        "\"required_unit\":\"F\",\"since_ms\":1772545000000,\"stage\":2,\"step\":\"store\","
        "\"subject\":\"air\",\"temp_mC\":-500,\"worst_mC\":9100}");
}

static void
test_decision_of_an_alarm_comes_back(void **state)
{
    (void)state;
    struct decision d = full();
    d.alarm = 5;
    d.silent = true;
    assert_comes_back(&d);
    struct decision escalated = bare(DECISION_ESCALATED);
    escalated.reason = REASON_NO_ACTION;
    escalated.deviation = 5;
    escalated.level = 2;
    escalated.required_ms = 1800000;
    escalated.since_ms = 1;
    assert_comes_back(&escalated);
    char text[1024];
    write(&escalated, text, sizeof text);
    assert_string_equal(text, "{\"at_ms\":1,\"decision\":\"escalated\",\"deviation\":5,"
                              "\"level\":2,\"reason\":\"no-action\",\"required_ms\":1800000,"
                              "\"since_ms\":1}");
    static const char told[] = "{\"at_ms\":1,\"decision\":\"deviation-opened\",\"deviation\":5,"
                               "\"reason\":\"entered\",\"silent\":false}";
    assert_false(decision_read(told, sizeof told - 1, &d)); /* true, or not there */
    struct decision door = bare(DECISION_DOOR_LEFT_OPEN);
    door.reason = REASON_DOOR_OPEN;
    strcpy(door.contact, "front");
    assert_comes_back(&door);
    write(&door, text, sizeof text);
    assert_string_equal(text, "{\"at_ms\":1,\"decision\":\"door-left-open\",\"reason\":\"door-"
                              "open\",\"switch\":\"front\"}");
    struct decision guarded = bare(DECISION_LIMIT_MET);
    guarded.guard_mK = 500;
    guarded.uncertainty_mK = 300;
    assert_comes_back(&guarded);
    write(&guarded, text, sizeof text);
    assert_non_null(strstr(text, "\"guard_mK\":500,"));
    assert_non_null(strstr(text, "\"uncertainty_mK\":300"));
}

/* People are told of what opens and ends unless it is silent, and of what an alarm does. */
static void
test_decision_tells_what_is_not_silent(void **state)
{
    (void)state;
    struct decision d = bare(DECISION_DEVIATION_OPENED);
    d.deviation = 1;
    assert_true(decision_tells(&d));
    d.silent = true;
    assert_false(decision_tells(&d));
    d = bare(DECISION_GAP_ENDED);
    assert_false(decision_tells(&d)); /* of no deviation */
    d.deviation = 1;
    assert_true(decision_tells(&d));
    struct decision raised = bare(DECISION_ALARM_RAISED), over = bare(DECISION_SHELF_ENDED),
                    escalated = bare(DECISION_ESCALATED);
    assert_true(decision_tells(&raised));
    assert_true(decision_tells(&escalated));
    assert_false(decision_tells(&over));
}

/* RFC 8785: what another JSON library writes with sorted keys and no blanks is the same text.
 */
static void
test_decision_text_is_canonical_for_another_writer(void **state)
{
    (void)state;
    char text[1024];
    struct decision d = full();
    write(&d, text, sizeof text);
    json_t *object = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(object);
    char *sorted = json_dumps(object, JSON_COMPACT | JSON_SORT_KEYS);
    assert_string_equal(sorted, text);
    free(sorted);
    json_decref(object);
}

static void
test_decision_of_every_kind_and_reason_comes_back(void **state)
{
    (void)state;
    for (int kind = 0; kind <= DECISION_KIND_LAST; kind++) {
        for (int reason = 0; reason <= DECISION_REASON_LAST; reason++) {
            struct decision d = bare((enum decision_kind)kind);
            d.reason = (enum decision_reason)reason;
            assert_comes_back(&d);
            d.unverified = true;
            assert_comes_back(&d);
            d.unverified = false;
            if (kind == DECISION_RESOLVED) {
                d.accepted = true;
                assert_comes_back(&d);
            }
            assert_true(reason == REASON_NONE || strlen(decision_phrase(&d)) > 0);
        }
    }
}

/* A roast that was done and an oven that was right are two things, and both are "held". */
static void
test_decision_on_an_oven_says_that_it_was_the_oven(void **state)
{
    (void)state;
    static const enum decision_reason reasons[] = {REASON_HELD, REASON_OUT_TOO_LONG,
                                                   REASON_BACK_INSIDE, REASON_NOT_MEASURED,
                                                   REASON_NOT_PREHEATED};
    for (size_t i = 0; i < COUNT_OF(reasons); i++) {
        struct decision d = bare(DECISION_LIMIT_MET);
        d.reason = reasons[i];
        d.limit = LIMIT_OVEN;
        assert_non_null(strstr(decision_phrase(&d), "the oven"));
        d.limit = LIMIT_MOIST_OVEN;
        assert_non_null(strstr(decision_phrase(&d), "the oven"));
        d.limit = LIMIT_COOK;
        assert_int_equal(strstr(decision_phrase(&d), "the oven") != NULL,
                         reasons[i] == REASON_NOT_PREHEATED);
    }
}

/* Food without temperature control is not being cooled: nobody asks when its cooking ended. */
static void
test_decision_on_how_food_left_control_speaks_of_that(void **state)
{
    (void)state;
    struct decision d = bare(DECISION_INCONCLUSIVE);
    d.reason = REASON_PROBE_LATE;
    d.limit = LIMIT_TIME;
    assert_non_null(strstr(decision_phrase(&d), "left temperature control"));
    assert_null(strstr(decision_phrase(&d), "cooking"));
    d.limit = LIMIT_COOL;
    assert_non_null(strstr(decision_phrase(&d), "cooking"));
}

static void
test_decision_words_are_all_different(void **state)
{
    (void)state;
    for (int a = 0; a <= DECISION_KIND_LAST; a++)
        for (int b = 0; b < a; b++)
            assert_string_not_equal(decision_kind_word((enum decision_kind)a),
                                    decision_kind_word((enum decision_kind)b));
    for (int a = 0; a <= DECISION_REASON_LAST; a++)
        for (int b = 0; b < a; b++)
            assert_string_not_equal(decision_reason_word((enum decision_reason)a),
                                    decision_reason_word((enum decision_reason)b));
}

static void
test_decision_longest_text_fits_in_1024_bytes(void **state)
{
    (void)state;
    struct decision d = full();
    d.kind = DECISION_RESOLVED;
    d.reason = REASON_FELL_THROUGH_START;
    d.at_ms = d.since_ms = d.last_ms = d.found_ms = d.required_ms = -INT64_C(9007199254740991);
    d.deviation = d.batch = UINT32_MAX;
    memset(d.place, 'x', PLAN_ID_MAX);
    memset(d.step, 'y', PLAN_ID_MAX);
    d.stage = UINT8_MAX;
    d.required.milli = d.temp_mC = d.worst_mC = INT32_MIN + 1;
    char text[1024];
    assert_true(write(&d, text, sizeof text) < sizeof text);
    assert_comes_back(&d);
}

static void
test_decision_read_refuses_what_is_no_decision(void **state)
{
    (void)state;
    static const char *const wrong[] = {
        "",
        "[]",
        "{}",
        "{\"at_ms\":1,\"decision\":\"limit-met\"}",
        "{\"decision\":\"limit-met\",\"reason\":\"held\"}",
        "{\"at_ms\":1,\"decision\":\"limit-meet\",\"reason\":\"held\"}",
        "{\"at_ms\":1,\"decision\":\"limit-met\",\"reason\":\"because\"}",
        "{\"at_ms\":\"1\",\"decision\":\"limit-met\",\"reason\":\"held\"}",
        "{\"at_ms\":1.5,\"decision\":\"limit-met\",\"reason\":\"held\"}",
        "{\"at_ms\":1,\"decision\":\"limit-met\",\"limit\":\"cook\",\"reason\":\"held\"}",
        "{\"at_ms\":1,\"decision\":\"limit-met\",\"limit\":\"boil\",\"reason\":\"held\","
        "\"required_milli\":1,"
        "\"required_unit\":\"C\",\"subject\":\"food\"}",
        "{\"at_ms\":1,\"decision\":\"limit-met\",\"limit\":\"cook\",\"reason\":\"held\","
        "\"required_milli\":1,"
        "\"required_unit\":\"K\",\"subject\":\"food\"}",
        "{\"at_ms\":1,\"decision\":\"limit-met\",\"probe\":65536,\"reason\":\"held\"}",
        "{\"at_ms\":1,\"decision\":\"limit-met\",\"reason\":\"held\",\"stage\":-1}",
        "{\"at_ms\":1,\"decision\":\"limit-met\",\"place\":\"an-id-longer-than-the-31-bytes-"
        "there-are\",\"reason\":\"held\"}",
        "{\"at_ms\":1,\"decision\":\"resolved\",\"reason\":\"entered\"}",
        "{\"accept_unverified\":false,\"at_ms\":1,\"decision\":\"limit-met\",\"reason\":"
        "\"held\"}",
        "{\"accepted\":true,\"at_ms\":1,\"decision\":\"limit-met\",\"reason\":\"held\"}",
        "{\"at_ms\":1,\"at_ms\":1,\"decision\":\"limit-met\",\"reason\":\"held\"}",
    };
    struct decision d;
    for (size_t i = 0; i < COUNT_OF(wrong); i++)
        if (decision_read(wrong[i], strlen(wrong[i]), &d))
            fail_msg("taken for a decision: %s", wrong[i]);
    const char *right = "{\"at_ms\":1,\"decision\":\"limit-met\",\"reason\":\"held\"}";
    assert_true(decision_read(right, strlen(right), &d));
}

/* What the reference showed is written of the deviation that a failed check is, and only there,
 * also where it was 0 °C. */
static void
test_decision_of_a_failed_check_has_its_reference(void **state)
{
    (void)state;
    char text[1024];
    struct decision d = bare(DECISION_DEVIATION_OPENED);
    d.reason = REASON_FAILED_CHECK;
    d.deviation = 1;
    write(&d, text, sizeof text);
    assert_string_equal(text, "{\"at_ms\":1,\"decision\":\"deviation-opened\",\"deviation\":1,"
                              "\"reason\":\"failed-check\",\"reference_mC\":0}");
    d.reason = REASON_TOO_LATE;
    write(&d, text, sizeof text);
    assert_null(strstr(text, "reference"));
    d = bare(DECISION_SUSPECT_BEGUN);
    d.reason = REASON_FAILED_CHECK;
    write(&d, text, sizeof text);
    assert_null(strstr(text, "reference"));
}

static void
test_decision_of_a_day_and_of_a_hand_held_thermometer_comes_back(void **state)
{
    (void)state;
    struct decision d = bare(DECISION_DATE_MARKED);
    strcpy(d.day, "2026-03-08");
    assert_comes_back(&d);
    char text[1024];
    write(&d, text, sizeof text);
    assert_non_null(strstr(text, "\"day\":\"2026-03-08\""));
    d = bare(DECISION_DEVIATION_ENDED);
    strcpy(d.thermometer, "pen");
    assert_comes_back(&d);
    write(&d, text, sizeof text);
    assert_non_null(strstr(text, "\"thermometer\":\"pen\""));
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_decision_with_everything_comes_back),
        cmocka_unit_test(test_decision_of_an_alarm_comes_back),
        cmocka_unit_test(test_decision_tells_what_is_not_silent),
        cmocka_unit_test(test_decision_text_is_canonical_for_another_writer),
        cmocka_unit_test(test_decision_of_every_kind_and_reason_comes_back),
        cmocka_unit_test(test_decision_on_an_oven_says_that_it_was_the_oven),
        cmocka_unit_test(test_decision_on_how_food_left_control_speaks_of_that),
        cmocka_unit_test(test_decision_words_are_all_different),
        cmocka_unit_test(test_decision_longest_text_fits_in_1024_bytes),
        cmocka_unit_test(test_decision_read_refuses_what_is_no_decision),
        cmocka_unit_test(test_decision_of_a_failed_check_has_its_reference),
        cmocka_unit_test(test_decision_of_a_day_and_of_a_hand_held_thermometer_comes_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
