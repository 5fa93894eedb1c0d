/* The snapshot's JSON, read back with jansson (strict, duplicate keys refused). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "tests/support/sample_kitchen.h"

static struct sample_kitchen kitchen;

static json_t *
parse(const struct snapshot *snapshot, int64_t viewed_ms)
{
    static char text[200000];
    json_error_t error;
    assert_true(snapshot_json(snapshot, viewed_ms, text, sizeof text));
    json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    if (root == NULL)
        fail_msg("line %d: %s", error.line, error.text);
    return root;
}

static json_int_t
integer(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_integer(value));
    return json_integer_value(value);
}

static const char *
string(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_string(value));
    return json_string_value(value);
}

static void
test_json_top_level_is_complete(void **state)
{
    (void)state;
    sample_kitchen_init(&kitchen);
    struct snapshot *snapshot = sample_snapshot(&kitchen);
    kitchen.plan.demo = true;
    snapshot->unrecorded = true;
    strcpy(snapshot->unrecorded_why, "no space left");
    snapshot->clock_trusted = false;
    json_t *root = parse(snapshot, SAMPLE_NOW_MS + 3999);
    assert_int_equal(integer(root, "version"), 1);
    assert_int_equal(integer(root, "seq"), 120);
    assert_int_equal(integer(root, "age_s"), 3);
    assert_string_equal(string(root, "at"), "2026-03-03T13:44:00.000Z");
    assert_string_equal(string(root, "clock"), "2026-03-03 13:44:00");
    assert_true(json_is_true(json_object_get(root, "unrecorded")));
    assert_string_equal(string(root, "unrecorded_why"), "no space left");
    assert_true(json_is_false(json_object_get(root, "clock_trusted")));
    assert_true(json_is_true(json_object_get(root, "demo")));
    assert_true(json_is_false(json_object_get(root, "late")));
    assert_int_equal(json_array_size(json_object_get(root, "batches")), 2);
    assert_int_equal(json_array_size(json_object_get(root, "places")), 3);
    assert_int_equal(json_array_size(json_object_get(root, "probes")), 4);
    assert_int_equal(json_array_size(json_object_get(root, "buses")), 2);
    json_decref(root);
    snapshot_release(snapshot);
}

static void
test_json_batch_has_exact_and_shown_temperature(void **state)
{
    (void)state;
    sample_kitchen_init(&kitchen);
    struct snapshot *snapshot = sample_snapshot(&kitchen);
    snapshot->batches[0].view.governing_mC = 62999;
    json_t *root = parse(snapshot, SAMPLE_NOW_MS + 5000);
    const json_t *batch = json_array_get(json_object_get(root, "batches"), 0);
    assert_int_equal(integer(batch, "number"), 7);
    assert_int_equal(integer(batch, "temp_mC"), 62999);
    assert_string_equal(string(batch, "temp"), "62.999");
    assert_int_equal(integer(batch, "age_s"), 5);
    assert_true(json_is_false(json_object_get(batch, "stale")));
    assert_string_equal(string(batch, "probe"), "roast-core");
    assert_true(json_is_null(json_object_get(batch, "deadline")));
    batch = json_array_get(json_object_get(root, "batches"), 1);
    assert_string_equal(string(batch, "deadline"), "2026-03-03T14:32:00.000Z");
    json_decref(root);
    snapshot_release(snapshot);
}

static void
test_json_ages_and_staleness_belong_to_the_viewing(void **state)
{
    (void)state;
    sample_kitchen_init(&kitchen);
    struct snapshot *snapshot = sample_snapshot(&kitchen);
    int64_t late_ms = snapshot_late_after_ms(snapshot);
    json_t *root = parse(snapshot, SAMPLE_NOW_MS + late_ms + 1);
    assert_true(json_is_true(json_object_get(root, "late")));
    const json_t *place = json_array_get(json_object_get(root, "places"), 0);
    assert_true(json_is_true(json_object_get(place, "stale")));
    assert_int_equal(integer(place, "age_s"), late_ms / 1000);
    assert_string_equal(string(place, "temp"), "3.4");
    json_decref(root);
    snapshot_release(snapshot);
}

static void
test_json_no_reading_is_null_not_a_number(void **state)
{
    (void)state;
    sample_kitchen_init(&kitchen);
    struct snapshot *snapshot = sample_snapshot(&kitchen);
    json_t *root = parse(snapshot, SAMPLE_NOW_MS);
    const json_t *oven = json_array_get(json_object_get(root, "places"), 2);
    assert_true(json_is_null(json_object_get(oven, "temp_mC")));
    assert_true(json_is_null(json_object_get(oven, "temp")));
    assert_true(json_is_null(json_object_get(oven, "age_s")));
    assert_true(json_is_false(json_object_get(oven, "watched")));
    json_decref(root);
    snapshot_release(snapshot);
}

static void
test_json_offset_moves_shown_times_only(void **state)
{
    (void)state;
    sample_kitchen_init(&kitchen);
    struct snapshot *snapshot = sample_snapshot(&kitchen);
    snapshot->offset_ms = 3600000;
    json_t *root = parse(snapshot, SAMPLE_NOW_MS);
    assert_int_equal(integer(root, "at_ms"), SAMPLE_NOW_MS);
    assert_string_equal(string(root, "at"), "2026-03-03T14:44:00.000Z");
    json_decref(root);
    snapshot_release(snapshot);
}

static void
test_json_deviation_and_hostile_name_survive(void **state)
{
    (void)state;
    sample_kitchen_init(&kitchen);
    kitchen.places[0].name = "</script>\"\\\xe2\x80\xae=1+1";
    struct snapshot *snapshot = sample_snapshot_with_deviation(&kitchen);
    json_t *root = parse(snapshot, SAMPLE_NOW_MS);
    const json_t *place = json_array_get(json_object_get(root, "places"), 0);
    assert_string_equal(string(place, "name"), kitchen.places[0].name);
    assert_string_equal(string(place, "concern"), "act");
    const json_t *deviation = json_array_get(json_object_get(root, "deviations"), 0);
    assert_int_equal(integer(deviation, "number"), 4);
    assert_string_equal(string(deviation, "place"), "walk-in");
    assert_true(json_is_null(json_object_get(deviation, "ended")));
    json_decref(root);
    snapshot_release(snapshot);
}

static void
test_json_too_small_a_buffer_is_refused(void **state)
{
    (void)state;
    sample_kitchen_init(&kitchen);
    struct snapshot *snapshot = sample_snapshot(&kitchen);
    static char text[200000];
    assert_true(snapshot_json(snapshot, SAMPLE_NOW_MS, text, sizeof text));
    size_t len = strlen(text);
    for (size_t size = 1; size <= len; size += 97) {
        char *exact = malloc(size); /* a sanitizer sees one byte too far */
        assert_non_null(exact);
        assert_false(snapshot_json(snapshot, SAMPLE_NOW_MS, exact, size));
        free(exact);
    }
    snapshot_release(snapshot);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_json_top_level_is_complete),
        cmocka_unit_test(test_json_batch_has_exact_and_shown_temperature),
        cmocka_unit_test(test_json_ages_and_staleness_belong_to_the_viewing),
        cmocka_unit_test(test_json_no_reading_is_null_not_a_number),
        cmocka_unit_test(test_json_offset_moves_shown_times_only),
        cmocka_unit_test(test_json_deviation_and_hostile_name_survive),
        cmocka_unit_test(test_json_too_small_a_buffer_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
