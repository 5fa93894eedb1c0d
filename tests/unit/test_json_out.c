/* The canonical writer against RFC 8785 and against jansson as an independent reader. */
#include "tests/support/check.h"

#include <string.h>

#include <jansson.h>

#include "trivet/json_out.h"

/* RFC 8785 section 3.2.2.2: which characters are escaped, and how. */
static void
test_text_is_escaped_as_rfc_8785_says(void **state)
{
    (void)state;
    char buf[256];
    struct json_out out;
    out_start(&out, buf, sizeof buf, true);
    out_text(&out, NULL, "\x20\xE2\x82\xAC\x24\x0F\x0A\x41\x27\x42\x22\x5C\x5C\x22\x2F");
    assert_true(out_done(&out));
    assert_string_equal(buf, "\" \xE2\x82\xAC$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"");
}

static void
test_invalid_utf8_becomes_the_replacement_character(void **state)
{
    (void)state;
    /* A lone continuation, an overlong slash, a surrogate, a sequence cut short. */
    static const char *const bad[] = {"\x80", "\xC0\xAF", "\xED\xA0\x80", "a\xE2\x82"};
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        char buf[64];
        struct json_out out;
        out_start(&out, buf, sizeof buf, true);
        out_text(&out, NULL, bad[i]);
        assert_true(out_done(&out));
        json_t *value = json_loads(buf, JSON_DECODE_ANY, NULL);
        assert_non_null(value);
        assert_non_null(strstr(json_string_value(value), "\xEF\xBF\xBD"));
        json_decref(value);
    }
}

static void
test_nested_values_have_their_commas(void **state)
{
    (void)state;
    char buf[256];
    struct json_out out;
    out_start(&out, buf, sizeof buf, true);
    out_object(&out, NULL);
    out_array(&out, "a");
    out_int(&out, NULL, -9007199254740991);
    out_bool(&out, NULL, true);
    out_null(&out, NULL);
    out_array_end(&out);
    out_object(&out, "b");
    out_object_end(&out);
    out_raw(&out, "c", "{\"x\":1}");
    out_object_end(&out);
    assert_true(out_done(&out));
    assert_string_equal(buf, "{\"a\":[-9007199254740991,true,null],\"b\":{},\"c\":{\"x\":1}}");
}

static void
test_a_text_that_does_not_fit_is_refused_at_every_size(void **state)
{
    (void)state;
    const char *whole = "{\"a\":\"bcd\",\"e\":12}";
    for (size_t size = 1; size <= strlen(whole) + 1; size++) {
        char buf[64];
        struct json_out out;
        out_start(&out, buf, size, true);
        out_object(&out, NULL);
        out_text(&out, "a", "bcd");
        out_int(&out, "e", 12);
        out_object_end(&out);
        bool fits = out_done(&out);
        assert_int_equal(fits, size == strlen(whole) + 1);
        if (fits)
            assert_string_equal(buf, whole);
    }
}

static void
test_clean_text_refuses_what_could_mislead_a_reader(void **state)
{
    (void)state;
    assert_true(text_is_clean("Crème brûlée 🍮 12 °C", 120, false));
    assert_true(text_is_clean("two\nlines", 120, true));
    assert_true(text_is_clean("", 0, false));
    assert_false(text_is_clean("two\nlines", 120, false));
    assert_false(text_is_clean("bell\a", 120, true));
    assert_false(text_is_clean("\xE2\x80\xAEtxt.exe", 120, true)); /* right-to-left override */
    assert_false(text_is_clean("\xE2\x81\xA6isolate", 120, true)); /* left-to-right isolate */
    assert_false(text_is_clean("\xC2\x85", 120, true));            /* C1 control */
    assert_false(text_is_clean("\xEF\xBF\xBF", 120, true));        /* non-character */
    assert_false(text_is_clean("\xFF", 120, true));
    assert_true(text_is_clean("\xC3\xA9", 2, false));
    assert_false(text_is_clean("\xC3\xA9", 1, false));
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_text_is_escaped_as_rfc_8785_says),
        cmocka_unit_test(test_invalid_utf8_becomes_the_replacement_character),
        cmocka_unit_test(test_nested_values_have_their_commas),
        cmocka_unit_test(test_a_text_that_does_not_fit_is_refused_at_every_size),
        cmocka_unit_test(test_clean_text_refuses_what_could_mislead_a_reader),
    };
    return cmocka_run_group_tests_name("json_out", tests, NULL, NULL);
}
