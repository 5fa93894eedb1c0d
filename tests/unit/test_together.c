/* What is read as one thing is known by its blank; what is not may go to the next line. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "trivet/together.h"

/* Writes '~' for each blank that holds. */
static const char *
shown(const char *text, char *buf)
{
    size_t len = strlen(text);
    for (size_t i = 0; i <= len; i++)
        buf[i] = text[i] == ' ' && together_blank(text, i) ? '~' : text[i];
    return buf;
}

static void
blanks_inside_one_thing_hold(void **state)
{
    static const struct {
        const char *text, *as;
    } cases[] = {
        {"at most 5.0 °C, for 20 min", "at most 5.0~°C, for 20~min"},
        {"in 1 h 35 min as of", "in 1~h 35~min as of"},
        {"15 s (food)", "15~s (food)"},
        {"under 4500 g, 2.4 kg", "under 4500~g, 2.4~kg"},
        {"60 mm thick, -18.0 °C", "60~mm thick, -18.0~°C"},
        {"more than 19 in 20", "more than 19 in 20"},
        {"1 hour, 3 grams, 2 steps, 7 dishes", "1 hour, 3 grams, 2 steps, 7 dishes"},
        {"min h s", "min h s"},
        {"since Sun 18:11. It", "since Sun~18:11. It"},
        {"begun 2026-11-30 01:47:14 by AB", "begun 2026-11-30~01:47:14 by AB"},
        {"until 2026-11-30 or", "until 2026-11-30 or"},
        {"since 3 Feb 18:11, 12 Nov 2025 07:01", "since 3~Feb~18:11, 12~Nov~2025~07:01"},
        {"Sunday 18:11, Sun 3", "Sunday 18:11, Sun 3"},
        {"by 04:14 (in", "by 04:14 (in"},
        {" 5 ", " 5 "},
        {"", ""},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char buf[100];
        assert_string_equal(shown(cases[i].text, buf), cases[i].as);
    }
}

static void
dates_are_known_whole(void **state)
{
    (void)state;
    assert_int_equal(together_date("2026-11-30"), 10);
    assert_int_equal(together_date("2026-11-30 01:47"), 10);
    assert_int_equal(together_date("2026-11-300"), 0);
    assert_int_equal(together_date("2026-11-3"), 0);
    assert_int_equal(together_date("2026-11"), 0);
    assert_int_equal(together_date(""), 0);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(blanks_inside_one_thing_hold),
        cmocka_unit_test(dates_are_known_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
