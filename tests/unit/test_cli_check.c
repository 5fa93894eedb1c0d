/* The words and the arithmetic of `trivet check`. What the daemon answers is written as
 * docs/page.md describes it. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/check_words.h"

static struct checks checks;

static int
start(void **state)
{
    (void)state;
    checks_init(&checks);
    return 0;
}

static int
end(void **state)
{
    (void)state;
    checks_done(&checks);
    return 0;
}

static json_t *
answer(const char *text)
{
    json_t *now = json_loads(text, 0, NULL);
    assert_non_null(now);
    return now;
}

static void
assert_line(size_t index, bool well, const char *name, const char *part)
{
    assert_true(index < checks.count);
    assert_string_equal(checks.line[index].name, name);
    if (checks.line[index].well != well || strstr(checks.line[index].text, part) == NULL)
        fail_msg("line %zu of %s is %s and says: %s", index, name,
                 checks.line[index].well ? "well" : "wrong", checks.line[index].text);
}

/* ---- arithmetic ---- */

static void
test_rate_is_the_sum_of_what_probes_give_a_day(void **state)
{
    struct plan_probe probes[3] = {{.every_ms = 1000}, {.every_ms = 500}, {.every_ms = 60000}};
    struct plan plan = {.probes = probes, .probe_count = 3};
    (void)state;
    /* A day has 86,400 s. */
    assert_int_equal(check_readings_a_day(&plan), 86400 + 172800 + 1440);
    plan.probe_count = 0;
    assert_int_equal(check_readings_a_day(&plan), 0);
}

static void
test_days_left_go_by_bytes_a_reading(void **state)
{
    (void)state;
    /* One reading a second: 86,400 x 25 = 2,160,000 bytes a day. */
    assert_int_equal(check_days_left(2160000, 86400), 1);
    assert_int_equal(check_days_left(2159999, 86400), 0);
    assert_int_equal(check_days_left(UINT64_C(1000000000000), 86400), 462962);
    assert_true(check_days_left(1, 0) == UINT64_MAX);
}

static void
test_unsealed_bound_is_three_intervals_and_a_hundred(void **state)
{
    struct plan_probe probe = {.every_ms = 1000};
    struct plan plan = {.probes = &probe, .probe_count = 1, .records = {.seal_ms = 60000}};
    (void)state;
    assert_int_equal(check_unsealed_most(&plan), 3 * 60 + 100);
    plan.probe_count = 0;
    assert_int_equal(check_unsealed_most(&plan), 100);
}

static void
test_disk_is_wrong_below_thirty_days_or_a_hundred_MB(void **state)
{
    struct plan_probe probe = {.every_ms = 1000};
    struct plan quick = {.probes = &probe, .probe_count = 1};
    (void)state;
    check_disk(&checks, "/records", UINT64_C(1000000000), &quick);
    assert_line(0, true, "disk", "1000 MB free, for some 462 days at the plan's rate");
    check_disk(&checks, "/records", 99999999, &quick);
    assert_line(1, false, "disk", "99 MB free, for some 46 days");
    probe.every_ms = 100;
    check_disk(&checks, "/records", 648000000, &quick); /* thirty days to the byte */
    assert_line(2, true, "disk", "some 30 days");
    check_disk(&checks, "/records", 647999999, &quick);
    assert_line(3, false, "disk", "make room");
    check_disk(&checks, "/records", 100000000, NULL);
    assert_line(4, true, "disk", "100 MB free at /records");
    check_disk(&checks, "/records", 99000000, NULL);
    assert_line(5, false, "disk", "make room");
    assert_int_equal(checks.wrong, 3);
}

/* ---- lines ---- */

static void
test_text_too_long_ends_after_a_whole_character(void **state)
{
    char text[CHECK_TEXT_MAX + 10];
    (void)state;
    /* "°" has two bytes: one of the two starts puts its first byte at the very end. */
    for (size_t shift = 0; shift < 2; shift++) {
        memset(text, 'a', sizeof text);
        for (size_t i = shift; i + 2 < sizeof text; i += 2)
            memcpy(text + i, "\xc2\xb0", 2);
        text[sizeof text - 1] = '\0';
        checks_add(&checks, true, "x", "%s", text);
        json_t *read = json_string(checks.line[shift].text); /* refuses broken UTF-8 */
        assert_non_null(read);
        assert_true(json_string_length(read) >= CHECK_TEXT_MAX - 3);
        json_decref(read);
    }
    for (size_t i = 0; i < 100; i++)
        checks_add(&checks, i % 2 == 0, "x", "%zu", i);
    assert_int_equal(checks.count, 102);
    assert_int_equal(checks.wrong, 50);
    assert_string_equal(checks.line[101].text, "99");
}

static void
test_plan_in_force_is_compared_with_its_file(void **state)
{
    struct plan_faults faults = {.count = 0};
    struct plan file = {.digest = "abc"};
    json_t *now = answer("{\"plan_file\":\"/etc/p.yaml\",\"plan_digest\":\"abc\","
                         "\"plan_refused\":\"\"}");
    (void)state;
    check_plan(&checks, now, &file, &faults);
    assert_line(0, true, "plan", "/etc/p.yaml");
    (void)snprintf(file.digest, sizeof file.digest, "abd");
    check_plan(&checks, now, &file, &faults);
    assert_line(1, false, "plan", "trivet plan --reload");
    faults = (struct plan_faults){.count = 2,
                                  .fault = {{.line = 7, .column = 1, .text = "no such place"}}};
    check_plan(&checks, now, NULL, &faults);
    assert_line(2, false, "plan file", "2 faults: ");
    assert_line(2, false, "plan file", "Line 7: no such place");
    faults = (struct plan_faults){.count = 1, .fault = {{.text = "may not be read"}}};
    check_plan(&checks, now, NULL, &faults);
    assert_line(3, false, "plan file", "cannot be read by you, from here: may not be read");
    (void)json_object_set_new(now, "plan_refused", json_string("line 3: ..."));
    (void)snprintf(file.digest, sizeof file.digest, "abc");
    check_plan(&checks, now, &file, &faults);
    assert_line(4, false, "plan", "`trivet plan` says why");
    json_decref(now);
    now = answer("{}");
    check_plan(&checks, now, NULL, &faults);
    assert_line(6, false, "plan", "none is in force yet");
    json_decref(now);
}

static void
test_each_bus_that_is_down_has_its_line(void **state)
{
    json_t *now = answer("{\"buses\":[{\"id\":\"rack\",\"up\":true,\"trouble\":\"\"},"
                         "{\"id\":\"cold\",\"up\":false,\"trouble\":\"no answer\"},"
                         "{\"id\":\"oven\",\"up\":false,\"trouble\":\"\"}]}");
    (void)state;
    check_buses(&checks, now);
    assert_int_equal(checks.count, 2);
    assert_line(0, false, "bus", "cold is down: no answer");
    assert_line(1, false, "bus", "oven is down: look at");
    (void)json_array_remove(json_object_get(now, "buses"), 1);
    (void)json_array_remove(json_object_get(now, "buses"), 1);
    check_buses(&checks, now);
    assert_line(2, true, "buses", "1, all up");
    (void)json_array_clear(json_object_get(now, "buses"));
    check_buses(&checks, now);
    assert_line(3, false, "buses", "none");
    json_decref(now);
}

static void
test_each_probe_without_a_fresh_reading_has_its_line(void **state)
{
    json_t *now = answer(
        "{\"probes\":["
        "{\"id\":\"a\",\"name\":\"Air\",\"in_plan\":true,\"temp\":\"3.1\",\"stale\":false},"
        "{\"id\":\"b\",\"name\":\"Pot\",\"in_plan\":true,\"temp\":\"63.0\",\"stale\":true,"
        "\"age_s\":125,\"quality\":\"silent\"},"
        "{\"id\":\"c\",\"name\":\"Pan\",\"in_plan\":true,\"temp\":null,\"stale\":true},"
        "{\"id\":\"d\",\"name\":\"Old\",\"in_plan\":false,\"temp\":null,\"stale\":true}]}");
    (void)state;
    check_probes(&checks, now);
    assert_int_equal(checks.count, 2);
    assert_line(0, false, "probe",
                "Pot (b): no good reading for 2 min 05 s, the last is \"silent\"");
    assert_line(1, false, "probe", "Pan (c): no good reading yet. ");
    (void)json_array_remove(json_object_get(now, "probes"), 1);
    (void)json_array_remove(json_object_get(now, "probes"), 1);
    check_probes(&checks, now); /* one that the plan no longer has does not matter */
    assert_line(2, true, "probes", "1, each with");
    json_decref(now);
}

static void
test_recording_clock_and_what_is_open_are_told(void **state)
{
    json_t *now = answer("{\"unrecorded\":false,\"late\":false,\"clock_trusted\":true,"
                         "\"deviations\":[],\"undecided\":[]}");
    (void)state;
    check_recording(&checks, now);
    check_clock(&checks, now, true);
    check_open(&checks, now);
    assert_int_equal(checks.count, 5);
    assert_int_equal(checks.wrong, 0);
    json_decref(now);
    now =
        answer("{\"unrecorded\":true,\"unrecorded_why\":\"disk full\",\"clock_trusted\":false,"
               "\"deviations\":[{},{}],\"undecided\":[{}]}");
    check_recording(&checks, now);
    check_clock(&checks, now, false);
    check_open(&checks, now);
    assert_int_equal(checks.wrong, 5);
    assert_line(5, false, "recording", "NOTHING IS RECORDED: disk full");
    assert_line(6, false, "clock", "not trusted");
    assert_line(7, false, "time source", "chrony");
    assert_line(8, false, "deviations", "2 open");
    assert_line(9, false, "decisions", "1 wait");
    json_decref(now);
    now = answer("{\"unrecorded\":false,\"late\":true,\"age_s\":90}");
    check_recording(&checks, now);
    assert_line(10, false, "recording", "no news for 1 min 30 s");
    json_decref(now);
}

static void
test_chain_that_does_not_hold_is_loud_and_seals_have_to_keep_up(void **state)
{
    struct plan_probe probe = {.every_ms = 1000};
    struct plan plan = {.probes = &probe, .probe_count = 1, .records = {.seal_ms = 60000}};
    struct store_verdict verdict = {
        .ok = true, .records = 12, .readings = 1000, .seals = 9, .unsealed = 280};
    (void)state;
    check_chain(&checks, &verdict, &plan);
    assert_line(0, true, "chain", "12 records, none altered");
    assert_line(1, true, "seals", "9 over 720 readings, 280 wait");
    verdict.unsealed = 281;
    check_chain(&checks, &verdict, &plan);
    assert_line(3, false, "seals", "sealing does not keep up");
    check_chain(&checks, &verdict, NULL); /* without the rate nobody can tell */
    assert_line(5, true, "seals", "281 wait");
    verdict = (struct store_verdict){.ok = false, .text = "record 5 was changed"};
    check_chain(&checks, &verdict, &plan);
    assert_int_equal(checks.count, 7);
    assert_line(6, false, "chain", "SOMETHING WAS ALTERED: record 5 was changed");
}

#define WITH_CHECKS(test) cmocka_unit_test_setup_teardown(test, start, end)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rate_is_the_sum_of_what_probes_give_a_day),
        cmocka_unit_test(test_days_left_go_by_bytes_a_reading),
        cmocka_unit_test(test_unsealed_bound_is_three_intervals_and_a_hundred),
        WITH_CHECKS(test_disk_is_wrong_below_thirty_days_or_a_hundred_MB),
        WITH_CHECKS(test_text_too_long_ends_after_a_whole_character),
        WITH_CHECKS(test_plan_in_force_is_compared_with_its_file),
        WITH_CHECKS(test_each_bus_that_is_down_has_its_line),
        WITH_CHECKS(test_each_probe_without_a_fresh_reading_has_its_line),
        WITH_CHECKS(test_recording_clock_and_what_is_open_are_told),
        WITH_CHECKS(test_chain_that_does_not_hold_is_loud_and_seals_have_to_keep_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
