/* A line of the log is one line of clean text, whatever it tells about. */
#include "tests/support/check.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "trivet/json_out.h"
#include "trivet/log.h"

enum told { OTHER_STREAM, THIS_STREAM };

/* What a line about this text becomes when JOURNAL_STREAM names where it goes, or another. */
static const char *
logged_to(enum told told, const char *text)
{
    static char got[4096];
    char stream[64];
    struct stat status;
    int ends[2];
    const int before = dup(STDERR_FILENO);
    assert_int_equal(pipe(ends), 0);
    assert_true(dup2(ends[1], STDERR_FILENO) >= 0);
    assert_int_equal(fstat(STDERR_FILENO, &status), 0);
    (void)snprintf(stream, sizeof stream, "%ju:%ju", (uintmax_t)status.st_dev,
                   (uintmax_t)status.st_ino + (told == OTHER_STREAM));
    assert_int_equal(setenv("JOURNAL_STREAM", stream, 1), 0);
    log_meet_journal();
    log_line(LOG_WARN, "test", "'%s'", text);
    assert_true(dup2(before, STDERR_FILENO) >= 0);
    (void)close(before);
    (void)close(ends[1]);
    const ssize_t len = read(ends[0], got, sizeof got - 1);
    (void)close(ends[0]);
    assert_true(len > 0);
    got[len] = '\0';
    return got;
}

static const char *
logged(const char *text)
{
    return logged_to(OTHER_STREAM, text);
}

/* sd-daemon(3): a line for the journal may begin with its priority, 4 for a warning. */
static void
test_journal_alone_hears_the_priority(void **state)
{
    (void)state;
    assert_string_equal(logged_to(THIS_STREAM, "a"), "<4>warn test: 'a'\n");
    assert_string_equal(logged_to(OTHER_STREAM, "a"), "warn test: 'a'\n");
}

static void
test_text_of_any_script_stays_as_it_is(void **state)
{
    (void)state;
    assert_string_equal(logged("R\u00f4ti \u65e5\u672c \U0001f958 <b>=1+1"),
                        "warn test: 'R\u00f4ti \u65e5\u672c \U0001f958 <b>=1+1'\n");
}

static void
test_what_could_forge_a_line_or_steer_a_terminal_is_escaped(void **state)
{
    (void)state;
    assert_string_equal(logged("a\nerror store: forged"),
                        "warn test: 'a\\x0Aerror store: forged'\n");
    assert_string_equal(logged("\x1b[2J\r\t\x7f"), "warn test: '\\x1B[2J\\x0D\\x09\\x7F'\n");
    /* C1: U+009B is another way to write ESC [ (ECMA-48, 5.3). */
    assert_string_equal(logged("\xc2\x9b"
                               "2J"),
                        "warn test: '\\xC2\\x9B2J'\n");
}

/* The characters of Unicode's Bidi_Control property (UAX 9, section 2), and the two separators
 * of lines and paragraphs. */
static void
test_what_turns_the_reading_direction_is_escaped(void **state)
{
    static const char *const turning[] = {"\u061c", "\u200e", "\u200f", "\u202a", "\u202b",
                                          "\u202c", "\u202d", "\u202e", "\u2066", "\u2067",
                                          "\u2068", "\u2069", "\u2028", "\u2029"};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(turning); i++) {
        char want[64];
        size_t len = (size_t)snprintf(want, sizeof want, "warn test: '");
        for (const char *s = turning[i]; *s != '\0'; s++)
            len +=
                (size_t)snprintf(want + len, sizeof want - len, "\\x%02X", (unsigned char)*s);
        (void)snprintf(want + len, sizeof want - len, "'\n");
        assert_string_equal(logged(turning[i]), want);
    }
}

static void
test_bytes_that_are_no_utf8_are_escaped(void **state)
{
    (void)state;
    assert_string_equal(logged("\xff \xc3( \xed\xa0\x80 \xf0\x9f"),
                        "warn test: '\\xFF \\xC3( \\xED\\xA0\\x80 \\xF0\\x9F'\n");
}

static void
test_text_too_long_is_cut_between_characters(void **state)
{
    char longest[3000];
    (void)state;
    for (size_t shift = 0; shift < 4; shift++) {
        memset(longest, 'x', shift);
        for (size_t i = shift; i + 4 < sizeof longest; i += 4)
            memcpy(longest + i, "\U0001f958", 5);
        const char *got = logged(longest);
        const size_t len = strlen(got);
        assert_true(len > 900);
        assert_int_equal(got[len - 1], '\n');
        assert_true(text_is_clean(got, len, true));
        assert_null(strstr(got, "\\x")); /* not even a piece of the last one */
    }
}

int
main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_journal_alone_hears_the_priority),
        cmocka_unit_test(test_text_of_any_script_stays_as_it_is),
        cmocka_unit_test(test_what_could_forge_a_line_or_steer_a_terminal_is_escaped),
        cmocka_unit_test(test_what_turns_the_reading_direction_is_escaped),
        cmocka_unit_test(test_bytes_that_are_no_utf8_are_escaped),
        cmocka_unit_test(test_text_too_long_is_cut_between_characters),
    };
    return cmocka_run_group_tests_name("log", tests, NULL, NULL);
}
