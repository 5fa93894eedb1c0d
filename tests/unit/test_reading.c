/* The qualities of readings: each number has its word and phrase, no two share one, and
 * docs/storage.md has them all. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "trivet/reading.h"

/* S5 of docs/storage.md: 0 to 299. */
#define QUALITIES 300

static char page[200000];

static int
read_page(void **state)
{
    (void)state;
    FILE *file = fopen("docs/storage.md", "rb");
    assert_non_null(file);
    const size_t len = fread(page, 1, sizeof page - 1, file);
    assert_true(feof(file));
    assert_int_equal(fclose(file), 0);
    page[len] = '\0';
    return 0;
}

static bool
is_known(int quality)
{
    return strcmp(reading_quality_word(quality), "unknown") != 0;
}

static void
test_page_has_every_quality(void **state)
{
    (void)state;
    size_t known = 0, rows = 0;
    for (int quality = 0; quality < QUALITIES; quality++) {
        char row[300];
        if (!is_known(quality))
            continue;
        known++;
        (void)snprintf(row, sizeof row, "\n| %d | `%s` | %s |\n", quality,
                       reading_quality_word(quality), reading_quality_phrase(quality));
        if (strstr(page, row) == NULL)
            fail_msg("docs/storage.md lacks:%s", row);
    }
    for (const char *at = strstr(page, "\n| number | word |"); at != NULL && at[1] == '|';
         at = strchr(at + 1, '\n'))
        rows++;
    assert_int_equal(rows, known + 2); /* and the head's two */
}

static void
test_words_differ(void **state)
{
    (void)state;
    for (int a = 0; a < QUALITIES; a++)
        for (int b = 0; b < a; b++)
            if (is_known(a) && is_known(b)) {
                assert_string_not_equal(reading_quality_word(a), reading_quality_word(b));
                assert_string_not_equal(reading_quality_phrase(a), reading_quality_phrase(b));
            }
}

static void
test_every_quality_is_good_suspect_or_bad(void **state)
{
    (void)state;
    for (int quality = 0; quality < QUALITIES; quality++)
        if (is_known(quality))
            assert_int_equal(reading_is_good(quality) + reading_is_suspect(quality) +
                                 reading_is_bad(quality),
                             1);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_page_has_every_quality),
        cmocka_unit_test(test_words_differ),
        cmocka_unit_test(test_every_quality_is_good_suspect_or_bad),
    };
    return cmocka_run_group_tests(tests, read_page, NULL);
}
