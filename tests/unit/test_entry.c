/* An entry comes back from its record as it went in, and nothing that is wrong gets in. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "trivet/entry.h"

static void
write_text(const struct entry *entry, char *buf, size_t size)
{
    struct json_out out;
    out_start(&out, buf, size, true);
    entry_write(entry, &out, NULL);
    assert_true(out_done(&out));
}

/* An entry of the kind with every text filled; what does not belong to the kind is left out by
 * the writer. */
static struct entry
full_entry(enum entry_kind kind)
{
    struct entry entry;
    entry_clear(&entry, kind);
    (void)snprintf(entry.who, sizeof entry.who, "AB");
    (void)snprintf(entry.product, sizeof entry.product, "pork-loin");
    (void)snprintf(entry.step, sizeof entry.step, "cook");
    (void)snprintf(entry.place, sizeof entry.place, "oven");
    (void)snprintf(entry.thermometer, sizeof entry.thermometer, "red-pen");
    (void)snprintf(entry.probes[0], sizeof entry.probes[0], "roast-core-a");
    (void)snprintf(entry.probes[1], sizeof entry.probes[1], "roast-core-b");
    (void)snprintf(entry.text, sizeof entry.text, "second \"tray\"\nleft shelf");
    (void)snprintf(entry.reason, sizeof entry.reason, "misread");
    (void)snprintf(entry.found, sizeof entry.found, "pot too deep");
    (void)snprintf(entry.done, sizeof entry.done, "shallow pans");
    (void)snprintf(entry.prevent, sizeof entry.prevent, "pans laid out");
    (void)snprintf(entry.quantity, sizeof entry.quantity, "4 kg");
    (void)snprintf(entry.control, sizeof entry.control, "below 5 C since");
    (void)snprintf(entry.safe, sizeof entry.safe, "none had left");
    entry.food_count = 2;
    entry.food[0] = (struct entry_food){3, DISPOSITION_DISCARD, "4 kg"};
    entry.food[1] = (struct entry_food){4294967295u, DISPOSITION_DIVERT, ""};
    entry.probe_count = 2;
    entry.batch = 7;
    entry.deviation = 3;
    entry.refers = 431;
    entry.has_temp = true;
    entry.temp_mC = -1250;
    entry.mass_g = 2400;
    entry.thickness_mm = 90;
    entry.given_ms = INT64_C(1772373900000);
    entry.accept = true;
    entry.outcome = OUTCOME_STORED;
    entry.disposition = DISPOSITION_COOL_AGAIN;
    entry.peer_uid = 1000;
    entry.end = true;
    entry.for_ms = 1800000;
    entry.why = QUIET_DEFROSTING;
    (void)snprintf(entry.day, sizeof entry.day, "2026-03-01");
    (void)snprintf(entry.probe, sizeof entry.probe, "roast-core-a");
    (void)snprintf(entry.reference, sizeof entry.reference, "lab-stick");
    (void)snprintf(entry.basis, sizeof entry.basis, "barometer, 1008.0 hPa");
    entry.pressure_Pa = 100800;
    entry.correction = CORRECTION_ADOPT;
    for (int i = 0; i < CALIBRATION_POINTS_MAX; i++)
        entry.points[entry.point_count++] =
            (struct calibration_point){(enum calibration_method)(CALIBRATION_ICE + i % 3),
                                       i * 10000, 100 + i, i * 10000 - 1250};
    entry.left[entry.left_count++] = entry.points[1];
    return entry;
}

static void
test_every_kind_reads_back_as_written(void **state)
{
    (void)state;
    for (int kind = ENTRY_BEGIN; kind <= ENTRY_SHELVE; kind++) {
        char first[8192], second[8192], why[300];
        struct entry entry = full_entry((enum entry_kind)kind);
        struct entry back;
        write_text(&entry, first, sizeof first);
        if (!entry_read((enum entry_kind)kind, first, strlen(first), &back, why, sizeof why))
            fail_msg("%s: %s", entry_kind_word((enum entry_kind)kind), why);
        write_text(&back, second, sizeof second);
        assert_string_equal(first, second);
        assert_int_equal(entry_kind_from_word(entry_kind_word((enum entry_kind)kind)), kind);
    }
}

#define ICE             "{\"found_mC\":0,\"method\":\"ice\",\"reference_mC\":0,\"uncertainty_mK\":100}"
#define CHECKED(points) "{\"who\":\"AB\",\"correction\":\"keep\",\"points\":[" points "]}"
#define ACT(food)                                                                              \
    "{\"who\":\"AB\",\"deviation\":1,\"found\":\"a\",\"done\":\"b\",\"food\":" food "}"

static void
test_a_wrong_message_is_refused_with_its_key(void **state)
{
    (void)state;
    static const struct {
        enum entry_kind kind;
        const char *json;
        const char *says;
    } cases[] = {
        {ENTRY_NOTE, "{\"who\":\"AB\"}", "\"text\" is missing"},
        {ENTRY_NOTE, "{\"who\":\"AB\",\"text\":\"\"}", "\"text\" is empty"},
        {ENTRY_NOTE, "{\"who\":\"AB\",\"text\":5}", "\"text\" must be text"},
        {ENTRY_NOTE, "{\"who\":\"AB\",\"text\":\"a\",\"texts\":\"b\"}",
         "\"texts\" does not belong"},
        {ENTRY_NOTE, "{\"who\":\"AB\",\"text\":\"a\\u202eb\"}",
         "\"text\" is too long or has characters"},
        {ENTRY_NOTE, "{\"who\":\"AB\",\"text\":\"a\\u0000b\"}", "not a JSON object"},
        {ENTRY_NOTE, "{\"who\":\"ABCDEFGH\",\"text\":\"a\"}", "\"who\" is too long"},
        {ENTRY_NOTE, "{\"who\":\"AB\",\"who\":\"LM\",\"text\":\"a\"}", "not a JSON object"},
        {ENTRY_ACTION, ACT("3"), "\"food\" must be a list"},
        {ENTRY_ACTION, ACT("[]"), "\"food\" must be a list"},
        {ENTRY_ACTION, ACT("[{\"batch\":0,\"disposition\":\"use\"}]"), "\"food\" must be"},
        {ENTRY_ACTION, ACT("[{\"batch\":4294967296,\"disposition\":\"use\"}]"),
         "\"food\" must be"},
        {ENTRY_ACTION, ACT("[{\"batch\":3,\"disposition\":\"eat\"}]"), "\"food\" must be"},
        {ENTRY_ACTION, ACT("[{\"batch\":3}]"), "\"food\" must be"},
        {ENTRY_ACTION, ACT("[{\"batch\":3,\"disposition\":\"use\",\"what\":\"x\"}]"),
         "\"food\" must be"},
        {ENTRY_ACTION,
         ACT("[{\"batch\":3,\"disposition\":\"use\",\"quantity\":\"0123456789012345678901234567"
             "89012345678901\"}]"),
         "\"food\" must be"},
        {ENTRY_ACTION, ACT("[{\"batch\":3,\"disposition\":\"use\",\"quantity\":\"\"}]"),
         "\"food\" must be"},
        {ENTRY_NOTE, "[1]", "not a JSON object"},
        {ENTRY_NOTE, "{\"who\":", "not a JSON object"},
        {ENTRY_HAND, "{\"who\":\"AB\",\"thermometer\":\"red-pen\",\"temp_mC\":63.4}",
         "\"temp_mC\" must be a whole number"},
        {ENTRY_HAND, "{\"who\":\"AB\",\"thermometer\":\"red-pen\",\"temp_mC\":500001}",
         "\"temp_mC\" must be"},
        {ENTRY_HAND, "{\"who\":\"AB\",\"thermometer\":\"red-pen\",\"temp_mC\":-100001}",
         "\"temp_mC\" must be"},
        {ENTRY_END, "{\"who\":\"AB\",\"batch\":1,\"outcome\":\"eaten\"}",
         "\"outcome\" must be one of"},
        {ENTRY_END, "{\"who\":\"AB\",\"batch\":0,\"outcome\":\"served\"}", "\"batch\" must be"},
        {ENTRY_END, "{\"who\":\"AB\",\"batch\":4294967296,\"outcome\":\"served\"}",
         "\"batch\" must be"},
        {ENTRY_BEGIN, "{\"who\":\"AB\",\"product\":\"x\",\"probes\":\"a\"}",
         "\"probes\" must be a list"},
        {ENTRY_BEGIN, "{\"who\":\"AB\",\"product\":\"x\",\"probes\":[1]}",
         "\"probes\" must hold ids"},
        {ENTRY_DECIDE, "{\"who\":\"AB\",\"batch\":1,\"accept\":1,\"reason\":\"r\"}",
         "\"accept\" must be true or false"},
        {ENTRY_QUIET, "{\"who\":\"AB\",\"place\":\"a\",\"why\":\"warm\"}",
         "\"why\" must be one of"},
        {ENTRY_QUIET, "{\"who\":\"AB\",\"place\":\"a\",\"for_ms\":0}", "\"for_ms\" must be"},
        {ENTRY_QUIET, "{\"who\":\"AB\",\"place\":\"a\",\"for_ms\":86400001}",
         "\"for_ms\" must be"},
        {ENTRY_QUIET, "{\"who\":\"AB\",\"place\":\"a\",\"end\":1}", "\"end\" must be"},
        {ENTRY_QUIET, "{\"who\":\"AB\"}", "\"place\" is missing"},
        {ENTRY_CALIBRATE, CHECKED(""), "\"points\" must be a list"},
        {ENTRY_CALIBRATE, CHECKED(ICE "," ICE "," ICE "," ICE "," ICE "," ICE),
         "\"points\" must be a list of 1 to 5"},
        {ENTRY_CALIBRATE, CHECKED("{\"found_mC\":0,\"method\":\"ice\",\"reference_mC\":0}"),
         "\"points\" must be"},
        {ENTRY_CALIBRATE,
         CHECKED("{\"found_mC\":0.5,\"method\":\"ice\",\"reference_mC\":0,"
                 "\"uncertainty_mK\":100}"),
         "\"points\" must be"},
        {ENTRY_CALIBRATE,
         CHECKED("{\"found_mC\":0,\"method\":\"guess\",\"reference_mC\":0,"
                 "\"uncertainty_mK\":100}"),
         "\"points\" must be"},
        {ENTRY_CALIBRATE,
         CHECKED("{\"found_mC\":500001,\"method\":\"ice\",\"reference_mC\":0,"
                 "\"uncertainty_mK\":100}"),
         "\"points\" must be"},
        {ENTRY_CALIBRATE,
         CHECKED("{\"found_mC\":0,\"method\":\"ice\",\"reference_mC\":0,"
                 "\"uncertainty_mK\":-1}"),
         "\"points\" must be"},
        {ENTRY_CALIBRATE, "{\"who\":\"AB\",\"correction\":\"yes\",\"points\":[" ICE "]}",
         "\"correction\" must be one of keep, adopt, drop"},
        {ENTRY_CALIBRATE, "{\"who\":\"AB\",\"points\":[" ICE "]}", "\"correction\" is missing"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct entry entry;
        char why[300] = "";
        assert_false(entry_read(cases[i].kind, cases[i].json, strlen(cases[i].json), &entry,
                                why, sizeof why));
        if (strstr(why, cases[i].says) == NULL)
            fail_msg("%s\n  says: %s\n  expected: %s", cases[i].json, why, cases[i].says);
    }
}

static void
test_temperature_bounds_are_inclusive(void **state)
{
    (void)state;
    static const char *const good[] = {
        "{\"who\":\"AB\",\"thermometer\":\"red-pen\",\"temp_mC\":500000}",
        "{\"who\":\"AB\",\"thermometer\":\"red-pen\",\"temp_mC\":-100000}",
    };
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        struct entry entry;
        char why[300];
        assert_true(entry_read(ENTRY_HAND, good[i], strlen(good[i]), &entry, why, sizeof why));
        assert_true(entry.has_temp);
    }
}

static void
test_text_of_the_full_length_fits_and_one_more_does_not(void **state)
{
    (void)state;
    char json[ENTRY_TEXT_MAX + 100];
    char letters[ENTRY_TEXT_MAX + 2];
    for (size_t len = ENTRY_TEXT_MAX; len <= ENTRY_TEXT_MAX + 1; len++) {
        struct entry entry;
        char why[300];
        memset(letters, 'x', len);
        letters[len] = '\0';
        (void)snprintf(json, sizeof json, "{\"who\":\"AB\",\"text\":\"%s\"}", letters);
        assert_int_equal(entry_read(ENTRY_NOTE, json, strlen(json), &entry, why, sizeof why),
                         len == ENTRY_TEXT_MAX);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_kind_reads_back_as_written),
        cmocka_unit_test(test_a_wrong_message_is_refused_with_its_key),
        cmocka_unit_test(test_temperature_bounds_are_inclusive),
        cmocka_unit_test(test_text_of_the_full_length_fits_and_one_more_does_not),
    };
    return cmocka_run_group_tests_name("entry", tests, NULL, NULL);
}
