/* The pattern language of serial lines: what compiles, what is told at which byte, what a line
 * means. Lines are invented but for the NMEA one. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "trivet/line_pattern.h"

static struct line_pattern pattern;
static struct line_match match;
static const char *line;

static void
compile(const char *text)
{
    struct line_fault fault = {0, NULL};
    if (!line_pattern_compile(text, &pattern, &fault))
        fail_msg("'%s' at %zu: %s", text, fault.at, fault.text);
}

static enum line_verdict
look(const char *text)
{
    line = text;
    memset(&match, 0, sizeof match);
    return line_pattern_match(&pattern, (const uint8_t *)text, strlen(text), &match);
}

static const char *
said(struct line_slice slice)
{
    static char texts[4][LINE_BYTES_MAX + 1];
    static unsigned next;
    char *text = texts[next++ % 4];
    memcpy(text, line + slice.at, slice.len);
    text[slice.len] = '\0';
    return text;
}

static void
test_line_with_all_fields_gives_each(void **state)
{
    (void)state;
    compile("T{channel}={value} {unit};{status}");
    assert_int_equal(look("T12=-23.5 C;OK"), LINE_MATCHES);
    assert_string_equal(said(match.channel), "12");
    assert_string_equal(said(match.values[0]), "-23.5");
    assert_string_equal(said(match.unit), "C");
    assert_string_equal(said(match.status), "OK");
    assert_true(pattern.has_channel && pattern.has_unit && pattern.has_status);
    assert_false(pattern.has_names);
}

static void
test_blank_of_pattern_is_one_or_more_of_line(void **state)
{
    (void)state;
    compile("T: {value} C");
    assert_int_equal(look("T:   23.5 \t C"), LINE_MATCHES);
    assert_string_equal(said(match.values[0]), "23.5");
    assert_int_equal(look("  T: 23.5 C  "), LINE_MATCHES);
    assert_int_equal(look("T:23.5 C"), LINE_DIFFERS);
    assert_int_equal(look("T: 23.5C"), LINE_DIFFERS);
}

static void
test_padded_number_is_found_behind_its_blanks(void **state)
{
    (void)state;
    compile("T={value}C");
    assert_int_equal(look("T=  7.5C"), LINE_MATCHES);
    assert_string_equal(said(match.values[0]), "7.5");
    /* A number with a blank within is none: 2 and 3.5 are not 23.5. */
    assert_int_equal(look("T=2 3.5C"), LINE_DIFFERS);
    assert_int_equal(look("T=-  7.5C"), LINE_DIFFERS);
}

static void
test_unit_may_touch_value(void **state)
{
    (void)state;
    compile("{value}{unit}");
    assert_int_equal(look("+023.50C"), LINE_MATCHES);
    assert_string_equal(said(match.values[0]), "+023.50");
    assert_string_equal(said(match.unit), "C");
    assert_int_equal(look("71.2\xc2\xb0"
                          "F"),
                     LINE_MATCHES);
    assert_string_equal(said(match.unit), "\xc2\xb0"
                                          "F");
    /* No unit at all leaves it empty, for the driver to refuse. */
    assert_int_equal(look("23.5"), LINE_MATCHES);
    assert_int_equal(match.unit.len, 0);
}

static void
test_several_values_are_of_their_channels(void **state)
{
    (void)state;
    compile("{value:oven},{value:core},{skip},{value:room}");
    assert_int_equal(look("180.5,63.0,ignored 1 2,21.25"), LINE_MATCHES);
    assert_string_equal(said(match.values[0]), "180.5");
    assert_string_equal(said(match.values[1]), "63.0");
    assert_string_equal(said(match.values[2]), "21.25");
    assert_true(line_pattern_names(&pattern, "core"));
    assert_false(line_pattern_names(&pattern, "cor"));
    assert_false(line_pattern_names(&pattern, "cores"));
    assert_int_equal(look("180.5,63.0,21.25"), LINE_DIFFERS);
}

static void
test_field_ends_where_the_text_behind_it_first_begins(void **state)
{
    (void)state;
    compile("{skip}T={value}");
    assert_int_equal(look("some T here, T=5"), LINE_MATCHES);
    assert_string_equal(said(match.values[0]), "5");
    assert_int_equal(look("T=5"), LINE_MATCHES);
    assert_int_equal(look("T=5 T=6"), LINE_DIFFERS);
}

static void
test_rest_of_line_is_never_left_over(void **state)
{
    (void)state;
    compile("T={value}C");
    assert_int_equal(look("T=23.5CC"), LINE_DIFFERS);
    assert_int_equal(look("T=23.5C T=1C"), LINE_DIFFERS);
    assert_int_equal(look("xT=23.5C"), LINE_DIFFERS);
    assert_int_equal(look("T=23.5"), LINE_DIFFERS);
    assert_int_equal(look(""), LINE_DIFFERS);
}

static void
test_escapes_stand_for_bytes(void **state)
{
    (void)state;
    compile("\\{\\x02{value}\\x03\\\\\\}");
    assert_int_equal(look("{\x02"
                          "5\x03\\}"),
                     LINE_MATCHES);
    assert_string_equal(said(match.values[0]), "5");
}

/* NMEA 0183: the exclusive or of what stands between $ and *; this sentence with its 47 is an
 * example found in many descriptions of the standard, quoted from memory. */
static void
test_xor8_between_marks_is_that_of_nmea(void **state)
{
    (void)state;
    compile("${from}GPGGA,{value},{skip}{to}*{xor8}");
    assert_int_equal(look("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"),
                     LINE_MATCHES);
    assert_int_equal(look("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*46"),
                     LINE_BAD_SUM);
    assert_int_equal(look("$GPGGA,123518,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"),
                     LINE_BAD_SUM);
}

/* '2' + '3' + '.' + '5' = 32h + 33h + 2eh + 35h = c8h, by hand. */
static void
test_sum8_covers_all_before_it(void **state)
{
    (void)state;
    compile("{value}{sum8}");
    assert_int_equal(look("23.5C8"), LINE_MATCHES);
    assert_string_equal(said(match.values[0]), "23.5");
    assert_int_equal(look("23.5c8"), LINE_MATCHES);
    assert_int_equal(look("23.6C8"), LINE_BAD_SUM);
    assert_int_equal(look("23.5C"), LINE_BAD_SUM); /* cut short: 23. and 5C */
    assert_int_equal(look("23.5xy"), LINE_DIFFERS);
    assert_int_equal(look("8"), LINE_DIFFERS);
}

static void
test_line_of_most_bytes_is_looked_at_and_one_more_not(void **state)
{
    (void)state;
    char text[LINE_BYTES_MAX + 2];
    compile("{skip},{value}");
    memset(text, 'x', sizeof text);
    memcpy(text + LINE_BYTES_MAX - 2, ",5", 3);
    assert_int_equal(look(text), LINE_MATCHES);
    memset(text, 'x', sizeof text);
    memcpy(text + LINE_BYTES_MAX - 1, ",5", 3);
    assert_int_equal(look(text), LINE_DIFFERS);
}

static void
test_pattern_badly_written_is_told_at_its_byte(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        size_t at;
        const char *says;
    } cases[] = {
        {"T={valeu}", 2, "no such field"},
        {"T={value", 2, "not closed"},
        {"T={value}}", 9, "not opened"},
        {"T=\\q{value}", 2, "backslash"},
        {"T=\\x4{value}", 2, "backslash"},
        {"T=\\", 2, "backslash"},
        {"{channel}{value}", 9, "touch"},
        {"{value}{status}", 7, "touch"},
        {"{value}{from}{channel}", 13, "touch"},
        {"{value} {unit}{status}", 14, "touch"},
        {"{unit}{value}", 6, "touch"},
        {"{value} {unit} {unit}", 15, "twice"},
        {"{channel} {channel} {value}", 10, "twice"},
        {"{sum8} {value}", 6, "follows"},
        {"{value}{sum8}{skip}", 13, "follows"},
        {"{value} {xor8}x", 14, "follows"},
        {"{from}{value}", 0, "check sum"},
        {"{from}{from}{value}{sum8}", 6, "twice"},
        {"T=5", 0, "no {value}"},
        {"", 0, "no {value}"},
        {"{value} {value}", 0, "several values"},
        {"{value:a} {value}", 0, "several values"},
        {"{value:a} {value:a}", 10, "same channel"},
        {"{value:}", 0, "usable name"},
        {"{value:a b}", 0, "no blanks"},
        {"{unit:a} {value}", 0, "only a value"},
        {"{channel} {value:a}", 0, "named twice"},
        {"{value}\\r", 7, "line_end"},
        {"{value}\\x00", 7, "line_end"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct line_fault fault = {999, ""};
        if (line_pattern_compile(cases[i].text, &pattern, &fault))
            fail_msg("'%s' compiles", cases[i].text);
        if (fault.at != cases[i].at || strstr(fault.text, cases[i].says) == NULL)
            fail_msg("'%s' is told at %zu: %s", cases[i].text, fault.at, fault.text);
    }
}

static void
test_pattern_with_more_parts_or_values_than_room_is_told(void **state)
{
    (void)state;
    char text[1000] = "";
    struct line_fault fault;
    for (int i = 0; i < LINE_VALUES_MAX; i++)
        (void)snprintf(text + strlen(text), sizeof text - strlen(text), "{value:%d},", i);
    compile(text);
    assert_int_equal(pattern.value_count, LINE_VALUES_MAX);
    strcat(text, "{value:z}");
    assert_false(line_pattern_compile(text, &pattern, &fault));
    assert_non_null(strstr(fault.text, "too many"));
    strcpy(text, "{value}");
    for (int i = 0; i < LINE_PARTS_MAX; i++)
        strcat(text, ",{skip}");
    assert_false(line_pattern_compile(text, &pattern, &fault));
    assert_non_null(strstr(fault.text, "too much"));
    memset(text, 'x', LINE_PATTERN_BYTES_MAX + 1);
    text[LINE_PATTERN_BYTES_MAX + 1] = '\0';
    assert_false(line_pattern_compile(text, &pattern, &fault));
    assert_int_equal(fault.at, LINE_PATTERN_BYTES_MAX);
}

static void
test_poll_is_its_bytes_with_the_channel_between(void **state)
{
    (void)state;
    struct line_poll poll;
    struct line_fault fault;
    assert_true(line_poll_compile("R{channel}?\\r\\n\\x05", &poll, &fault));
    assert_true(poll.has_channel);
    assert_int_equal(poll.channel_at, 1);
    assert_int_equal(poll.len, 5);
    assert_memory_equal(poll.bytes, "R?\r\n\x05", 5);
    assert_true(line_poll_compile("\\{\\}", &poll, &fault));
    assert_false(poll.has_channel);
    assert_memory_equal(poll.bytes, "{}", 2);
    assert_false(line_poll_compile("R{chanel}", &poll, &fault));
    assert_int_equal(fault.at, 1);
    assert_false(line_poll_compile("{channel}{channel}", &poll, &fault));
    assert_int_equal(fault.at, 9);
    assert_false(line_poll_compile("R\\", &poll, &fault));
    assert_int_equal(fault.at, 1);
}

static void
test_number_is_exact_or_none(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t mantissa;
        int decimals;
    } good[] = {
        {"0", 0, 0},
        {"23.5", 235, 1},
        {"-23.50", -2350, 2},
        {"+007", 7, 0},
        {".5", 5, 1},
        {"-.5", -5, 1},
        {"5.", 5, 0},
        {"1.234567", 1234567, 6},
        {"999999999999999", 999999999999999, 0},
    };
    static const char *const bad[] = {
        "",    "-",   ".",         "+",     "1.2.3",
        "1,5", "1e3", "0x10",      "nan",   "----",
        "5-",  "+-5", "1.2345678", "OL",    " 5",
        "5 ",  "inf", "--5",       "12:30", "1234567890123456",
    };
    struct line_number number;
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        assert_true(line_number((const uint8_t *)good[i].text, strlen(good[i].text), &number));
        assert_true(number.mantissa == good[i].mantissa);
        assert_int_equal(number.decimals, good[i].decimals);
    }
    for (size_t i = 0; i < COUNT_OF(bad); i++)
        if (line_number((const uint8_t *)bad[i], strlen(bad[i]), &number))
            fail_msg("'%s' is taken for a number", bad[i]);
}

/* ---- how much a check sum of eight bits lets through: docs/serial-line.md says these figures
 * ---- */

/* The verdict on "ab" with the check digits of "cd". */
static bool
passes(int a, int b, int c, int d, bool is_xor)
{
    char text[16];
    const unsigned sum = is_xor ? (unsigned)((48 + c) ^ (48 + d)) : (unsigned)(96 + c + d);
    (void)snprintf(text, sizeof text, "%d%d%02X", a, b, sum & 0xff);
    return look(text) == LINE_MATCHES;
}

/* Counted by another program: of the 8100 ways to change both of two digits 612 have the same
 * exclusive or, 570 the same sum; all 90 exchanges of two different digits have both; of the
 * 244 ways to turn one and the same bit of two digits around, all have the same exclusive or
 * and 122 the same sum. */
static void
test_check_sums_let_through_what_the_page_says(void **state)
{
    (void)state;
    static const struct {
        const char *pattern;
        bool is_xor;
        int both, swapped, same_bit;
    } cases[] = {{"{value}{xor8}", true, 612, 90, 244}, {"{value}{sum8}", false, 570, 90, 122}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        int both = 0, swapped = 0, same_bit = 0, one = 0;
        compile(cases[i].pattern);
        for (int n = 0; n < 10000; n++) {
            const int a = n / 1000, b = n / 100 % 10, c = n / 10 % 10, d = n % 10;
            const bool is_through = passes(a, b, c, d, cases[i].is_xor);
            const int turned = a ^ c;
            both += is_through && a != c && b != d;
            swapped += is_through && a != b && a == d && b == c;
            one += is_through && (a != c) != (b != d);
            same_bit +=
                is_through && turned == (b ^ d) && turned != 0 && (turned & (turned - 1)) == 0;
        }
        assert_int_equal(both, cases[i].both);
        assert_int_equal(swapped, cases[i].swapped);
        assert_int_equal(same_bit, cases[i].same_bit);
        assert_int_equal(one, 0); /* one changed character is always seen */
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_line_with_all_fields_gives_each),
        cmocka_unit_test(test_blank_of_pattern_is_one_or_more_of_line),
        cmocka_unit_test(test_padded_number_is_found_behind_its_blanks),
        cmocka_unit_test(test_unit_may_touch_value),
        cmocka_unit_test(test_several_values_are_of_their_channels),
        cmocka_unit_test(test_field_ends_where_the_text_behind_it_first_begins),
        cmocka_unit_test(test_rest_of_line_is_never_left_over),
        cmocka_unit_test(test_escapes_stand_for_bytes),
        cmocka_unit_test(test_xor8_between_marks_is_that_of_nmea),
        cmocka_unit_test(test_sum8_covers_all_before_it),
        cmocka_unit_test(test_line_of_most_bytes_is_looked_at_and_one_more_not),
        cmocka_unit_test(test_pattern_badly_written_is_told_at_its_byte),
        cmocka_unit_test(test_pattern_with_more_parts_or_values_than_room_is_told),
        cmocka_unit_test(test_poll_is_its_bytes_with_the_channel_between),
        cmocka_unit_test(test_number_is_exact_or_none),
        cmocka_unit_test(test_check_sums_let_through_what_the_page_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
