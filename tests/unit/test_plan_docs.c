/* docs/plan.md against the tables that read a plan: every key with its values, default and
 * meaning stands there in exactly the words of the tables, under the heading of its mapping. */
#include <inttypes.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

#include "daemon/plan/quantity.h"
#include "daemon/plan/schema.h"

static char page[200000];

static int
read_page(void **state)
{
    (void)state;
    FILE *file = fopen("docs/plan.md", "rb");
    assert_non_null(file);
    size_t len = fread(page, 1, sizeof(page) - 1, file);
    assert_true(feof(file));
    assert_int_equal(fclose(file), 0);
    page[len] = '\0';
    return 0;
}

/* A text being put together. */
struct text {
    char buf[1000];
    size_t len;
};

static void
add(struct text *text, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    text->len +=
        (size_t)vsnprintf(text->buf + text->len, sizeof(text->buf) - text->len, format, args);
    va_end(args);
    assert_true(text->len < sizeof(text->buf));
}

static void
add_bounds(struct text *text, const struct field *field)
{
    char min[QUANTITY_DURATION_MAX], max[QUANTITY_DURATION_MAX];
    switch (field->type) {
    case FIELD_WHOLE:
    case FIELD_WHOLES:
        add(text, " %" PRId64 " to %" PRId64, field->min, field->max);
        return;
    case FIELD_DURATION:
        add(text, " %s to %s", quantity_duration_text(min, field->min),
            quantity_duration_text(max, field->max));
        return;
    case FIELD_SCALE:
        add(text, " %.*f to %.0f", field->min % 1000000 == 0 ? 0 : 6, (double)field->min / 1e6,
            (double)field->max / 1e6);
        return;
    default:
        add(text, " %g °C to %g °C", (double)field->min / 1e3, (double)field->max / 1e3);
        return;
    }
}

static void
add_choices(struct text *text, const struct choice *choice)
{
    for (const char *before = ""; choice->word; choice++, before = ", ")
        add(text, "%s`%s`", before, choice->word);
}

static void
add_values(struct text *text, const struct field *field)
{
    static const char *const nouns[] = {
        [FIELD_TEXT] = "text",
        [FIELD_ID] = "id",
        [FIELD_INITIALS] = "initials",
        [FIELD_REFERENCE] = "id of another entry",
        [FIELD_YES_NO] = "`yes`, `no`",
        [FIELD_WORD] = "",
        [FIELD_WHOLE] = "whole number",
        [FIELD_TEMP] = "temperature",
        [FIELD_TEMP_RANGE] = "two temperatures",
        [FIELD_JUMP] = "difference of temperatures",
        [FIELD_RATE] = "temperature per minute",
        [FIELD_SCALE] = "number and unit",
        [FIELD_SENSOR] = "sensor",
        [FIELD_TEMP_OR_ID] = "id of another entry, or temperature",
        [FIELD_DURATION] = "time",
        [FIELD_ABSOLUTE] = "path from `/`",
        [FIELD_PATH] = "path",
        [FIELD_ZONE] = "time zone",
        [FIELD_ADDRESS] = "numeric address",
        [FIELD_HOST] = "host name or address",
        [FIELD_DATE] = "day",
        [FIELD_CLOCK] = "time of day",
        [FIELD_TABLE] = "keys, see below",
        [FIELD_TABLES] = "list",
        [FIELD_TEXTS] = "list of texts",
        [FIELD_WHOLES] = "list of whole numbers",
    };
    add(text, "%s", nouns[field->type]);
    if (field->type == FIELD_WORD)
        add_choices(text, field->choices);
    if (field->type == FIELD_TEXT)
        add(text, ", at most %" PRId64 " bytes", field->max);
    if (field->min != 0 || (field->max != 0 && field->type != FIELD_TEXT &&
                            field->type != FIELD_TEXTS && field->type != FIELD_SENSOR))
        add_bounds(text, field);
    if (field->max_count > 0)
        add(text, ", at most %zu", field->max_count);
}

/* "`cook`, `reheat`": the variants of a mask. */
static void
add_variants(struct text *text, const struct table *table, uint32_t mask)
{
    const char *before = "";
    for (size_t i = 0; i < table->field_count; i++)
        if (strcmp(table->fields[i].key, table->variant) == 0)
            for (const struct choice *choice = table->fields[i].choices; choice->word; choice++)
                if (mask & 1u << choice->value) {
                    add(text, "%s`%s`", before, choice->word);
                    before = ", ";
                }
}

/* Where a key has a meaning: variants of its mapping, or drivers of the bus of a probe. */
static void
add_only_with(struct text *text, const struct table *table, const struct field *field)
{
    if (field->allowed_in)
        add_variants(text, table, field->allowed_in);
    else if (field->on_drivers)
        add_variants(text, &plan_bus_table, field->on_drivers);
}

static void
row_of(struct text *text, const struct table *table, const struct field *field)
{
    add(text, "| `%s` | ", field->key);
    add_values(text, field);
    add(text, " | ");
    if (field->required && field->required_in) {
        if (field->fallback)
            add(text, "`%s`; ", field->fallback);
        add(text, "required with ");
        add_variants(text, table, field->required_in);
    } else if (field->required) {
        add(text, "required");
    } else if (field->fallback) {
        add(text, "`%s`", field->fallback);
    }
    add(text, " | ");
    add_only_with(text, table, field);
    add(text, " | %s |\n", field->help);
}

/* Tells each row that its section of the page lacks; returns how many. */
static int
check_table(const struct table *table)
{
    int lacking = 0;
    char heading[100];
    (void)snprintf(heading, sizeof(heading), "\n### Keys of %s\n", table->what);
    const char *section = strstr(page, heading);
    if (!section)
        print_message("docs/plan.md lacks the heading:%s", heading);
    const char *end = section ? strstr(section + 1, "\n#") : NULL;
    for (size_t i = 0; i < table->field_count; i++) {
        struct text row = {.len = 0};
        row_of(&row, table, &table->fields[i]);
        const char *found = section ? strstr(section, row.buf) : NULL;
        if (!found || (end && found > end)) {
            print_message("keys of %s: %s", table->what, row.buf);
            lacking++;
        }
        if (table->fields[i].table)
            lacking += check_table(table->fields[i].table);
    }
    return lacking;
}

static void
test_page_has_every_key_as_the_tables_have_it(void **state)
{
    (void)state;
    assert_int_equal(check_table(&plan_table), 0);
}

/* Probes and thermometers share their uncertainty; the page has it once. */
static bool
told_elsewhere(const struct table *table, const struct field *field)
{
    return strcmp(table->what, "a thermometer") == 0 && strcmp(field->key, "uncertainty") == 0;
}

/* A row of the page for every field, and no row more: a key that is gone leaves the page. */
static size_t
count_fields(const struct table *table)
{
    size_t count = table->field_count;
    for (size_t i = 0; i < table->field_count; i++)
        if (table->fields[i].table && strcmp(table->fields[i].table->what, "a limit") != 0 &&
            !told_elsewhere(table, &table->fields[i]))
            count += count_fields(table->fields[i].table);
    return count;
}

static void
test_page_has_no_key_that_the_tables_lack(void **state)
{
    (void)state;
    size_t rows = 0, limits = 0;
    for (const char *at = page; (at = strstr(at, "\n| `")); at++)
        rows++;
    for (size_t i = 0; i < plan_table.field_count; i++)
        if (strcmp(plan_table.fields[i].key, "places") == 0)
            for (size_t k = 0; k < plan_table.fields[i].table->field_count; k++)
                if (strcmp(plan_table.fields[i].table->fields[k].key, "limit") == 0)
                    limits = count_fields(plan_table.fields[i].table->fields[k].table);
    assert_int_equal(rows, count_fields(&plan_table) + limits);
}

static void
test_page_opens_with_the_caution(void **state)
{
    (void)state;
    const char *caution = strstr(page, "**Caution.**");
    assert_non_null(caution);
    assert_true(caution < strstr(page, "\n## "));
    assert_non_null(strstr(caution, "prevail"));
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_page_has_every_key_as_the_tables_have_it),
        cmocka_unit_test(test_page_has_no_key_that_the_tables_lack),
        cmocka_unit_test(test_page_opens_with_the_caution),
    };
    return cmocka_run_group_tests(tests, read_page, NULL);
}
