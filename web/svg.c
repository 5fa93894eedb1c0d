/* Curves: collecting points, scales, and the drawing. PURE but for the memory of struct curve.
 */
#include "svg.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "svg_scale.h"

/* ---- collecting ---- */

struct curve *
curve_new(int64_t from_ms, int64_t to_ms)
{
    struct curve *curve = calloc(1, sizeof *curve);
    if (curve == NULL)
        return NULL;
    curve->from_ms = from_ms;
    curve->to_ms = to_ms > from_ms ? to_ms : from_ms + 1;
    curve->now_ms = curve->to_ms;
    return curve;
}

void
curve_free(struct curve *curve)
{
    if (curve == NULL)
        return;
    for (size_t i = 0; i < curve->line_count; i++)
        free(curve->lines[i]);
    free(curve);
}

struct curve_line *
curve_line_add(struct curve *curve, const char *name, int64_t gap_ms)
{
    if (curve->line_count == CURVE_LINES_MAX)
        return NULL;
    struct curve_line *line = calloc(1, sizeof *line);
    if (line == NULL)
        return NULL;
    (void)snprintf(line->name, sizeof line->name, "%s", name);
    line->gap_ms = gap_ms;
    curve->lines[curve->line_count++] = line;
    return line;
}

void
curve_point(struct curve *curve, struct curve_line *line, int64_t at_ms, int32_t temp_mC)
{
    if (at_ms < curve->from_ms || at_ms > curve->to_ms || temp_mC == TEMP_NONE)
        return;
    int64_t span_ms = curve->to_ms - curve->from_ms + 1;
    struct curve_column *column =
        &line->columns[(at_ms - curve->from_ms) * CURVE_COLUMNS / span_ms];
    if (!column->any) {
        *column = (struct curve_column){.least_mC = temp_mC,
                                        .most_mC = temp_mC,
                                        .first_mC = temp_mC,
                                        .first_ms = at_ms,
                                        .any = true};
        column->breaks = !line->any || at_ms - line->last_ms > line->gap_ms;
    }
    if (temp_mC < column->least_mC)
        column->least_mC = temp_mC;
    if (temp_mC > column->most_mC)
        column->most_mC = temp_mC;
    column->last_mC = temp_mC;
    column->last_ms = at_ms;
    line->any = true;
    line->last_ms = at_ms;
    line->last_mC = temp_mC;
}

void
curve_bound_add(struct curve *curve, const struct curve_bound *bound)
{
    if (curve->bound_count < CURVE_BOUNDS_MAX)
        curve->bounds[curve->bound_count++] = *bound;
}

void
curve_guess_add(struct curve *curve, const struct curve_guess *guess)
{
    if (curve->guess_count < CURVE_GUESSES_MAX && guess->likely_ms >= curve->from_ms &&
        guess->likely_ms <= curve->to_ms)
        curve->guesses[curve->guess_count++] = *guess;
}

void
curve_mark_add(struct curve *curve, int64_t at_ms, const char *label)
{
    if (curve->mark_count == CURVE_MARKS_MAX || at_ms < curve->from_ms || at_ms > curve->to_ms)
        return;
    struct curve_mark *mark = &curve->marks[curve->mark_count++];
    mark->at_ms = at_ms;
    (void)snprintf(mark->label, sizeof mark->label, "%s", label);
}

/* ---- drawing ---- */

static const struct svg_frame frames[] = {
    [CURVE_WIDE] = {.width = 960,
                    .height = 400,
                    .left = 52,
                    .right = 18,
                    .top = 30,
                    .bottom = 36,
                    .font = 15},
    [CURVE_NARROW] = {.width = 400,
                      .height = 300,
                      .left = 40,
                      .right = 10,
                      .top = 26,
                      .bottom = 30,
                      .font = 13},
    [CURVE_SMALL] =
        {.width = 320, .height = 72, .left = 2, .right = 6, .top = 4, .bottom = 4, .font = 0},
};

static void
draw_path(struct html *html, const struct svg_scale *scale, const struct curve_line *line,
          size_t number, enum curve_size size)
{
    if (size == CURVE_SMALL)
        html_raw(html, "<path fill=\"none\" stroke=\"#8a6d3b\" stroke-width=\"2.5\" "
                       "stroke-linejoin=\"round\" "
                       "stroke-linecap=\"round\" d=\"");
    else
        html_format(html, "<path class=\"line line%zu\" d=\"", number);
    for (size_t i = 0; i < CURVE_COLUMNS; i++) {
        const struct curve_column *column = &line->columns[i];
        if (!column->any)
            continue;
        int x = svg_x(scale, column->first_ms);
        html_format(html, "%s%d.%d %d.%d", column->breaks ? "M" : "L", x / 10, x % 10,
                    svg_y(scale, column->first_mC) / 10, svg_y(scale, column->first_mC) % 10);
        if (column->least_mC < column->first_mC || column->most_mC > column->first_mC) {
            int last_x = svg_x(scale, column->last_ms);
            html_format(html, "V%d.%dV%d.%dL%d.%d %d.%d", svg_y(scale, column->most_mC) / 10,
                        svg_y(scale, column->most_mC) % 10, svg_y(scale, column->least_mC) / 10,
                        svg_y(scale, column->least_mC) % 10, last_x / 10, last_x % 10,
                        svg_y(scale, column->last_mC) / 10, svg_y(scale, column->last_mC) % 10);
        } else {
            html_raw(html, "h.1"); /* so that a lone reading is seen as a dot */
        }
    }
    html_raw(html, "\"/>\n");
}

static void
draw_bounds(struct html *html, const struct svg_scale *scale, const struct curve *curve,
            enum curve_size size)
{
    const struct svg_frame *frame = scale->frame;
    struct {
        int x, end_x, y;
    } labels[CURVE_BOUNDS_MAX] = {0};
    for (size_t i = 0; i < curve->bound_count; i++) {
        const struct curve_bound *bound = &curve->bounds[i];
        int y = svg_y(scale, bound->temp_mC) / 10, x1 = svg_x(scale, bound->from_ms) / 10,
            x2 = svg_x(scale, bound->to_ms) / 10;
        if (x2 <= x1)
            continue;
        if (size == CURVE_SMALL) {
            html_format(html,
                        "<path stroke=\"#b3402a\" stroke-width=\"1.5\" stroke-dasharray=\"5 "
                        "4\" d=\"M%d %dH%d\"/>\n",
                        x1, y, x2);
            continue;
        }
        html_format(html, "<path class=\"bound\" d=\"M%d %dH%d\"/>\n", x1, y, x2);
        /* The words stand on their line, whole, clear of each other: under the one before, or
         * above it where the axis is in the way. */
        int text_y = y - 6, text_x = x1 + 5;
        int text_width = (int)strlen(bound->label) * frame->font * 6 / 10;
        if (text_x + text_width > frame->width)
            text_x = frame->width - text_width;
        for (size_t k = 0; k < i; k++)
            if (abs(labels[k].y - text_y) < frame->font + 1 &&
                labels[k].x < text_x + text_width && labels[k].end_x > text_x) {
                text_y = labels[k].y + frame->font + 14;
                if (text_y > frame->height - frame->bottom)
                    text_y = labels[k].y - frame->font - 2;
            }
        labels[i].x = text_x;
        labels[i].end_x = text_x + text_width;
        labels[i].y = text_y;
        html_format(html, "<text class=\"bound\" x=\"%d\" y=\"%d\">", text_x, text_y);
        html_text(html, bound->label);
        html_raw(html, "</text>\n");
    }
}

static void
draw_marks(struct html *html, const struct svg_scale *scale, const struct curve *curve)
{
    const struct svg_frame *frame = scale->frame;
    int free_from = 0;
    for (size_t i = 0; i < curve->mark_count; i++) {
        int x = svg_x(scale, curve->marks[i].at_ms) / 10;
        int width = (int)strlen(curve->marks[i].label) * frame->font * 6 / 10;
        bool at_end = x + width > frame->width - 4;
        int text_x = at_end ? x - 4 : x + 4;
        html_format(html, "<path class=\"mark\" d=\"M%d %dV%d\"/>\n", x, frame->top - 6,
                    frame->height - frame->bottom);
        if ((at_end ? text_x - width : text_x) < free_from)
            continue; /* its name is in the list of steps below the curve */
        free_from = at_end ? text_x : text_x + width;
        html_format(html, "<text class=\"mark\" x=\"%d\" y=\"%d\"%s>", text_x, frame->top - 10,
                    at_end ? " text-anchor=\"end\"" : "");
        html_text(html, curve->marks[i].label);
        html_raw(html, "</text>\n");
    }
}

/* A bar for the range, a diamond where it is likely; the words stand below, clear of the
 * limit's. */
static void
draw_guesses(struct html *html, const struct svg_scale *scale, const struct curve *curve)
{
    const struct svg_frame *frame = scale->frame;
    for (size_t i = 0; i < curve->guess_count; i++) {
        const struct curve_guess *guess = &curve->guesses[i];
        int y = svg_y(scale, guess->temp_mC) / 10, x = svg_x(scale, guess->likely_ms) / 10,
            x1 = svg_x(scale, guess->early_ms) / 10, x2 = svg_x(scale, guess->late_ms) / 10;
        html_format(html,
                    "<path class=\"range\" d=\"M%d %dH%d\"/><path class=\"likely\" d=\"M%d "
                    "%dl7 7-7 7-7-7z\"/>\n",
                    x1, y, x2, x, y - 7);
        html_format(html, "<text class=\"likely\" text-anchor=\"%s\" x=\"%d\" y=\"%d\">",
                    x > frame->width / 2 ? "end" : "start", x, y + frame->font + 10);
        html_text(html, guess->label);
        html_raw(html, "</text>\n");
    }
}

static void
draw_axes(struct html *html, const struct svg_scale *scale, const struct curve *curve)
{
    const struct svg_frame *frame = scale->frame;
    int bottom = frame->height - frame->bottom;
    for (int64_t level = scale->low_mC; level <= scale->high_mC; level += scale->step_mC) {
        int y = svg_y(scale, level) / 10;
        html_format(html,
                    "<path class=\"grid\" d=\"M%d %dH%d\"/><text class=\"axis\" "
                    "text-anchor=\"end\" x=\"%d\" y=\"%d\">%d</text>\n",
                    frame->left, y, frame->width - frame->right, frame->left - 6,
                    y + frame->font / 3, (int)(level / 1000));
    }
    html_format(html, "<text class=\"axis\" text-anchor=\"end\" x=\"%d\" y=\"%d\">°C</text>\n",
                frame->left - 6, frame->top - 10);
    int64_t step_ms =
        svg_time_step_ms(curve->to_ms - curve->from_ms, frame->width / (frame->font * 5));
    for (int64_t at_ms = svg_first_tick_ms(curve, step_ms); at_ms <= curve->to_ms;
         at_ms += step_ms) {
        struct zone_time at;
        zone_split(curve->zone, at_ms + curve->offset_ms, &at);
        int x = svg_x(scale, at_ms) / 10;
        html_format(html, "<path class=\"grid\" d=\"M%d %dv5\"/>", x, bottom);
        if (x > frame->left + frame->font && x < frame->width - frame->right - frame->font)
            html_format(html,
                        "<text class=\"axis\" text-anchor=\"middle\" x=\"%d\" "
                        "y=\"%d\">%02d:%02d</text>\n",
                        x, bottom + frame->font + 6, at.hour, at.minute);
    }
}

/* The names of several lines, in rows above the drawing; html NULL only counts the rows. */
static int
draw_names(struct html *html, const struct svg_frame *frame, const struct curve *curve)
{
    int x = frame->left, rows = 1;
    if (curve->line_count < 2)
        return 0;
    for (size_t i = 0; i < curve->line_count; i++) {
        int width = 50 + (int)strlen(curve->lines[i]->name) * frame->font * 6 / 10;
        if (x > frame->left && x + width > frame->width) {
            x = frame->left;
            rows++;
        }
        int y = rows * (frame->font + 8) - 4;
        if (html != NULL) {
            html_format(html,
                        "<path class=\"line line%zu\" d=\"M%d %dh28\"/><text class=\"name\" "
                        "x=\"%d\" y=\"%d\">",
                        i, x, y - 5, x + 34, y);
            html_text(html, curve->lines[i]->name);
            html_raw(html, "</text>\n");
        }
        x += width;
    }
    return rows;
}

void
curve_svg(struct html *html, const struct curve *curve, enum curve_size size)
{
    static const char *const names[] = {"wide", "narrow", "small"};
    struct svg_scale scale;
    struct svg_frame fitted = frames[size];
    const struct svg_frame *frame = &fitted;
    int above = size == CURVE_SMALL ? 0 : draw_names(NULL, frame, curve) * (frame->font + 8);
    fitted.top += above;
    fitted.height += above;
    svg_scale_fit(&scale, frame, curve);
    html_format(html,
                "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"curve %s\" viewBox=\"0 0 %d "
                "%d\" role=\"img\" "
                "aria-labelledby=\"curve-t-%s curve-d-%s\">\n<title id=\"curve-t-%s\">",
                names[size], frame->width, frame->height, names[size], names[size],
                names[size]);
    html_text(html, curve->title);
    html_format(html, "</title>\n<desc id=\"curve-d-%s\">", names[size]);
    html_text(html, curve->description);
    html_raw(html, "</desc>\n");
    if (size != CURVE_SMALL)
        draw_axes(html, &scale, curve);
    draw_bounds(html, &scale, curve, size);
    if (size != CURVE_SMALL)
        draw_marks(html, &scale, curve);
    bool any = false;
    for (size_t i = 0; i < curve->line_count; i++) {
        any = any || curve->lines[i]->any;
        if (curve->lines[i]->any)
            draw_path(html, &scale, curve->lines[i], i, size);
    }
    if (size != CURVE_SMALL)
        draw_guesses(html, &scale, curve);
    if (size != CURVE_SMALL && !any)
        html_format(html,
                    "<text class=\"name\" text-anchor=\"middle\" x=\"%d\" y=\"%d\">No good "
                    "reading in this time</text>\n",
                    frame->width / 2, frame->height / 2);
    if (size != CURVE_SMALL)
        (void)draw_names(html, frame, curve);
    html_raw(html, "</svg>\n");
}
