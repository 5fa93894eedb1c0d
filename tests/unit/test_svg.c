/* Curves: no peak lost, no gap bridged, limits and clock times where they belong. */
#include "web/svg.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "web/svg_scale.h"

#define HOUR_MS INT64_C(3600000)

static struct curve *
day_curve(void)
{
    /* 2026-03-28T12:00Z, a day over which London's clocks go forward. */
    int64_t from_ms = INT64_C(1774699200000);
    struct curve *curve = curve_new(from_ms, from_ms + 24 * HOUR_MS);
    assert_non_null(curve);
    curve->zone = zone_shared("Europe/London");
    strcpy(curve->title, "A & B");
    strcpy(curve->description, "<d>");
    return curve;
}

static size_t
count(const char *text, const char *what)
{
    size_t found = 0;
    for (const char *at = text; (at = strstr(at, what)) != NULL; at += strlen(what))
        found++;
    return found;
}

static void
test_svg_one_second_peak_in_a_day_is_kept(void **state)
{
    (void)state;
    struct curve *curve = day_curve();
    struct curve_line *line = curve_line_add(curve, "air", 10000);
    for (int64_t s = 0; s < 86400; s++)
        curve_point(curve, line, curve->from_ms + s * 1000, s == 54321 ? 17250 : 3400);
    int32_t most_mC = 0;
    for (size_t i = 0; i < CURVE_COLUMNS; i++) {
        assert_true(line->columns[i].any);
        assert_int_equal(line->columns[i].least_mC, 3400);
        assert_int_equal(line->columns[i].breaks, i == 0);
        if (line->columns[i].most_mC > most_mC)
            most_mC = line->columns[i].most_mC;
    }
    assert_int_equal(most_mC, 17250);
    curve_free(curve);
}

static void
test_svg_silence_is_a_break_and_lone_readings_are_seen(void **state)
{
    (void)state;
    struct curve *curve = day_curve();
    struct curve_line *line = curve_line_add(curve, "air", 10 * 60000);
    for (int64_t minute = 0; minute < 1440; minute += 5)
        if (minute < 300 || minute > 420)
            curve_point(curve, line, curve->from_ms + minute * 60000, 3400);
    struct html html;
    html_init(&html);
    curve_svg(&html, curve, CURVE_WIDE);
    const char *path = strstr(html.bytes, "<path class=\"line line0\" d=\"");
    assert_non_null(path);
    char *drawn = strndup(path, strcspn(path + 30, "\"") + 30);
    assert_int_equal(count(drawn, "M"), 2);
    free(drawn);
    html_done(&html);
    curve_free(curve);
}

static void
test_svg_points_outside_the_time_or_without_value_are_left_out(void **state)
{
    (void)state;
    struct curve *curve = day_curve();
    struct curve_line *line = curve_line_add(curve, "air", 10000);
    curve_point(curve, line, curve->from_ms - 1, 3400);
    curve_point(curve, line, curve->to_ms + 1, 3400);
    curve_point(curve, line, curve->from_ms, TEMP_NONE);
    assert_false(line->any);
    curve_point(curve, line, curve->from_ms, 3400);
    curve_point(curve, line, curve->to_ms, 3500);
    assert_true(line->columns[0].any);
    assert_true(line->columns[CURVE_COLUMNS - 1].any);
    struct html html;
    html_init(&html);
    curve_svg(&html, curve, CURVE_NARROW);
    assert_false(html.failed);
    html_done(&html);
    curve_free(curve);
}

/* The range is drawn from early to late at its temperature, and what lies beyond the drawing is
 * left out. */
static void
test_svg_shows_a_forecast_with_its_range(void **state)
{
    (void)state;
    struct curve *curve = day_curve();
    int64_t span_ms = curve->to_ms - curve->from_ms;
    struct curve_guess guess = {.temp_mC = 5000,
                                .early_ms = curve->from_ms + span_ms / 4,
                                .likely_ms = curve->from_ms + span_ms / 2,
                                .late_ms = curve->to_ms,
                                .label = "forecast: about <12:00>"};
    curve_guess_add(curve, &guess);
    guess.likely_ms = curve->to_ms + 1;
    curve_guess_add(curve, &guess);
    assert_int_equal(curve->guess_count, 1);
    struct html html;
    html_init(&html);
    curve_svg(&html, curve, CURVE_WIDE);
    const char *range = strstr(html.bytes, "<path class=\"range\" d=\"M");
    assert_non_null(range);
    int x1, y, x2; /* a frame of 52 px to the left and 18 to the right of 960 */
    assert_int_equal(sscanf(range, "<path class=\"range\" d=\"M%d %dH%d", &x1, &y, &x2), 3);
    assert_in_range(x1, 52 + 890 / 4 - 1, 52 + 890 / 4 + 1);
    assert_in_range(x2, 941, 942);
    assert_non_null(strstr(html.bytes, "forecast: about &lt;12:00&gt;"));
    assert_null(strstr(strchr(range, '>'), "class=\"range\""));
    html_done(&html);
    curve_free(curve);
}

/* Half of a limit could be taken for another one: words that begin near the right edge, and
 * others at the same height right before them, stand inside the drawing and clear of each
 * other. */
static void
test_svg_words_of_a_limit_near_the_edge_are_whole(void **state)
{
    (void)state;
    struct curve *curve = day_curve();
    int64_t span_ms = curve->to_ms - curve->from_ms;
    struct curve_bound bound = {
        .temp_mC = 5000, .from_ms = curve->from_ms, .to_ms = curve->to_ms, .upper = true};
    strcpy(bound.label, "at most 80.0 °C");
    bound.temp_mC = 80000;
    curve_bound_add(curve, &bound);
    strcpy(bound.label, "at most 5.0 °C within 6 h");
    bound.temp_mC = 5000;
    bound.from_ms += span_ms / 2;
    curve_bound_add(curve, &bound);
    strcpy(bound.label, "at most 5.0 °C");
    bound.from_ms = curve->to_ms - span_ms / 10;
    curve_bound_add(curve, &bound);
    struct html html;
    html_init(&html);
    curve_svg(&html, curve, CURVE_NARROW); /* 400 wide, the axis 30 above the foot of 300 */
    const char *at = html.bytes;
    int x[3], y[3];
    for (int i = 0; i < 3; i++) {
        at = strstr(at, "<text class=\"bound\"");
        assert_non_null(at);
        assert_int_equal(sscanf(at, "<text class=\"bound\" x=\"%d\" y=\"%d\"", &x[i], &y[i]),
                         2);
        assert_in_range(y[i], 13, 270);
        at++;
    }
    /* 13 px bold: a letter is half of that wide at least, and these are 14. */
    assert_in_range(x[2], 40, 400 - 14 * 13 / 2);
    assert_true(abs(y[1] - y[2]) >= 13);
    html_done(&html);
    curve_free(curve);
}

static void
test_svg_texts_are_real_and_escaped(void **state)
{
    (void)state;
    struct curve *curve = day_curve();
    struct curve_bound bound = {
        .temp_mC = 5000, .from_ms = curve->from_ms, .to_ms = curve->to_ms, .upper = true};
    strcpy(bound.label, "at most 5.0 °C");
    curve_bound_add(curve, &bound);
    curve_mark_add(curve, curve->from_ms + HOUR_MS, "<step>");
    struct html html;
    html_init(&html);
    curve_svg(&html, curve, CURVE_WIDE);
    assert_non_null(strstr(html.bytes, "<title id=\"curve-t-wide\">A &amp; B</title>"));
    assert_non_null(strstr(html.bytes, "<desc id=\"curve-d-wide\">&lt;d&gt;</desc>"));
    assert_non_null(strstr(html.bytes, "at most 5.0 °C</text>"));
    assert_non_null(strstr(html.bytes, "&lt;step&gt;</text>"));
    assert_non_null(strstr(html.bytes, "No good reading in this time"));
    html_done(&html);
    curve_free(curve);
}

static void
test_svg_clock_times_are_the_sites_over_the_change(void **state)
{
    (void)state;
    struct curve *curve = day_curve();
    struct html html;
    html_init(&html);
    curve_svg(&html, curve, CURVE_WIDE);
    /* Every two hours of elapsed time: 12:00 GMT to 24:00, and after 01:00 UTC an hour later on
     * the clock. */
    assert_non_null(strstr(html.bytes, ">14:00</text>"));
    assert_non_null(strstr(html.bytes, ">00:00</text>"));
    assert_non_null(strstr(html.bytes, ">03:00</text>"));
    assert_null(strstr(html.bytes, ">02:00</text>"));
    html_done(&html);
    curve_free(curve);
}

static void
test_svg_scale_holds_all_and_stays_inside(void **state)
{
    (void)state;
    static const struct svg_frame frame = {.width = 960,
                                           .height = 400,
                                           .left = 52,
                                           .right = 18,
                                           .top = 30,
                                           .bottom = 36,
                                           .font = 15};
    static const int32_t spans[][2] = {
        {3400, 3400}, {-30000, 250000}, {INT32_MIN + 1, INT32_MAX}, {0, 1}, {-1, 0}};
    for (size_t i = 0; i < sizeof spans / sizeof spans[0]; i++) {
        struct curve *curve = day_curve();
        struct curve_line *line = curve_line_add(curve, "x", 1000);
        curve_point(curve, line, curve->from_ms, spans[i][0]);
        curve_point(curve, line, curve->to_ms, spans[i][1]);
        struct svg_scale scale;
        svg_scale_fit(&scale, &frame, curve);
        for (size_t k = 0; k < 2; k++) {
            assert_in_range(svg_y(&scale, spans[i][k]), 10 * 30, 10 * (400 - 36));
        }
        assert_int_equal(svg_x(&scale, curve->from_ms - 99), 520);
        assert_int_equal(svg_x(&scale, curve->to_ms + 99), 9420);
        curve_free(curve);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_svg_one_second_peak_in_a_day_is_kept),
        cmocka_unit_test(test_svg_silence_is_a_break_and_lone_readings_are_seen),
        cmocka_unit_test(test_svg_points_outside_the_time_or_without_value_are_left_out),
        cmocka_unit_test(test_svg_shows_a_forecast_with_its_range),
        cmocka_unit_test(test_svg_words_of_a_limit_near_the_edge_are_whole),
        cmocka_unit_test(test_svg_texts_are_real_and_escaped),
        cmocka_unit_test(test_svg_clock_times_are_the_sites_over_the_change),
        cmocka_unit_test(test_svg_scale_holds_all_and_stays_inside),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
