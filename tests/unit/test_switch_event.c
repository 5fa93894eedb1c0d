/* What a switch did, as the data of its record: the stored form is fixed here by hand. */
#include "tests/support/check.h"

#include <string.h>

#include "trivet/reading.h"
#include "trivet/switch_event.h"

static void
test_each_state_is_written_as_docs_storage_says_and_read_back(void **state)
{
    (void)state;
    static const struct {
        struct switch_event event;
        const char *json;
    } cases[] = {
        {{"walk-in-door", "walk-in", SWITCH_DOOR, SWITCH_ACTIVE, READING_GOOD},
         "{\"kind\":\"door\",\"place\":\"walk-in\",\"state\":\"open\",\"switch\":\"walk-in-"
         "door\"}"},
        {{"walk-in-door", "walk-in", SWITCH_DOOR, SWITCH_RESTS, READING_GOOD},
         "{\"kind\":\"door\",\"place\":\"walk-in\",\"state\":\"closed\",\"switch\":\"walk-in-"
         "door\"}"},
        {{"b", "p", SWITCH_BUTTON, SWITCH_ACTIVE, READING_GOOD},
         "{\"kind\":\"button\",\"place\":\"p\",\"state\":\"pressed\",\"switch\":\"b\"}"},
        {{"b", "p", SWITCH_BUTTON, SWITCH_RESTS, READING_GOOD},
         "{\"kind\":\"button\",\"place\":\"p\",\"state\":\"released\",\"switch\":\"b\"}"},
        {{"b", "p", SWITCH_BUTTON, SWITCH_UNKNOWN, BAD_EXCEPTION},
         "{\"cause\":\"exception\",\"kind\":\"button\",\"place\":\"p\",\"state\":\"unknown\","
         "\"switch\":\"b\"}"},
        {{"d", "p", SWITCH_DOOR, SWITCH_UNKNOWN, BAD_LINK},
         "{\"cause\":\"link\",\"kind\":\"door\",\"place\":\"p\",\"state\":\"unknown\","
         "\"switch\":\"d\"}"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[300];
        struct json_out out;
        struct switch_event read;
        out_start(&out, text, sizeof text, true);
        switch_event_write(&cases[i].event, &out);
        assert_true(out_done(&out));
        assert_string_equal(text, cases[i].json);
        assert_true(switch_event_read(text, strlen(text), &read));
        assert_string_equal(read.id, cases[i].event.id);
        assert_string_equal(read.place, cases[i].event.place);
        assert_int_equal(read.kind, cases[i].event.kind);
        assert_int_equal(read.state, cases[i].event.state);
        assert_int_equal(read.cause, cases[i].event.cause);
    }
}

static void
test_anything_else_is_no_switch_event(void **state)
{
    (void)state;
    static const char *const cases[] = {
        "",
        "[]",
        "{}",
        "{\"kind\":\"door\",\"place\":\"p\",\"state\":\"open\"}",
        "{\"kind\":\"door\",\"state\":\"open\",\"switch\":\"d\"}",
        "{\"kind\":\"door\",\"place\":\"p\",\"state\":\"open\",\"switch\":\"\"}",
        "{\"kind\":\"door\",\"place\":\"p\",\"state\":\"open\",\"switch\":7}",
        "{\"kind\":\"lamp\",\"place\":\"p\",\"state\":\"open\",\"switch\":\"d\"}",
        "{\"kind\":\"door\",\"place\":\"p\",\"state\":\"pressed\",\"switch\":\"d\"}",
        "{\"kind\":\"door\",\"place\":\"p\",\"state\":\"unknown\",\"switch\":\"d\"}",
        "{\"cause\":\"good\",\"kind\":\"door\",\"place\":\"p\",\"state\":\"unknown\","
        "\"switch\":\"d\"}",
        "{\"cause\":\"link\",\"kind\":\"door\",\"place\":\"p\",\"state\":\"open\",\"switch\":"
        "\"d\"}",
        "{\"kind\":\"door\",\"place\":\"p\",\"state\":\"open\",\"switch\":"
        "\"a-name-that-is-longer-than-any-id-may-be\"}",
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct switch_event read = {.id = "untouched"};
        if (switch_event_read(cases[i], strlen(cases[i]), &read))
            fail_msg("taken: %s", cases[i]);
        assert_string_equal(read.id, "untouched");
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_each_state_is_written_as_docs_storage_says_and_read_back),
        cmocka_unit_test(test_anything_else_is_no_switch_event),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
