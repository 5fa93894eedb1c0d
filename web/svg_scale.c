/* Scales of drawings. PURE: integers, so that a drawing is the same everywhere. */
#include "svg_scale.h"

static int64_t
floor_to(int64_t value, int64_t step)
{
    int64_t rest = value % step;
    return value - (rest < 0 ? rest + step : rest);
}

void
svg_scale_fit(struct svg_scale *ret, const struct svg_frame *frame, const struct curve *curve)
{
    int64_t low = INT32_MAX, high = INT32_MIN;
    for (size_t i = 0; i < curve->line_count; i++)
        for (size_t k = 0; k < CURVE_COLUMNS; k++) {
            const struct curve_column *column = &curve->lines[i]->columns[k];
            if (column->any && column->least_mC < low)
                low = column->least_mC;
            if (column->any && column->most_mC > high)
                high = column->most_mC;
        }
    for (size_t i = 0; i < curve->bound_count; i++) {
        if (curve->bounds[i].from_ms >= curve->to_ms ||
            curve->bounds[i].to_ms <= curve->from_ms)
            continue; /* not in this picture */
        low = curve->bounds[i].temp_mC < low ? curve->bounds[i].temp_mC : low;
        high = curve->bounds[i].temp_mC > high ? curve->bounds[i].temp_mC : high;
    }
    if (low > high) {
        low = 0;
        high = 10000;
    }
    int64_t pad = (high - low) / 12 + 1000;
    int64_t below = low >= 0 && low < pad ? low : pad; /* no frost where none was measured */
    /* 1, 2, 5, 10, ... degrees, so that there are at most seven lines. */
    int64_t step_mC = 1000;
    for (int turn = 0; (high - low + 2 * pad) / step_mC > 6; turn = (turn + 1) % 3)
        step_mC = turn == 1 ? step_mC / 2 * 5 : step_mC * 2;
    *ret = (struct svg_scale){.frame = frame,
                              .from_ms = curve->from_ms,
                              .to_ms = curve->to_ms,
                              .low_mC = floor_to(low - below, step_mC),
                              .high_mC = -floor_to(-(high + pad), step_mC),
                              .step_mC = step_mC};
}

int
svg_x(const struct svg_scale *scale, int64_t at_ms)
{
    const struct svg_frame *frame = scale->frame;
    int64_t at = at_ms < scale->from_ms ? scale->from_ms
                 : at_ms > scale->to_ms ? scale->to_ms
                                        : at_ms;
    int64_t width = frame->width - frame->left - frame->right;
    return (int)(INT64_C(10) * frame->left +
                 10 * width * (at - scale->from_ms) / (scale->to_ms - scale->from_ms));
}

int
svg_y(const struct svg_scale *scale, int64_t temp_mC)
{
    const struct svg_frame *frame = scale->frame;
    int64_t height = frame->height - frame->top - frame->bottom;
    int64_t above = temp_mC - scale->low_mC, span = scale->high_mC - scale->low_mC;
    return (int)(INT64_C(10) * (frame->height - frame->bottom) - 10 * height * above / span);
}

int64_t
svg_time_step_ms(int64_t span_ms, int ticks_max)
{
    static const int minutes[] = {1, 2, 5, 10, 15, 30, 60, 120, 180, 240, 360, 720};
    for (size_t i = 0; i < sizeof minutes / sizeof minutes[0]; i++)
        if (span_ms / (minutes[i] * INT64_C(60000)) <= ticks_max)
            return minutes[i] * INT64_C(60000);
    int64_t days = span_ms / INT64_C(86400000) / ticks_max + 1;
    return days * INT64_C(86400000);
}

int64_t
svg_first_tick_ms(const struct curve *curve, int64_t step_ms)
{
    struct zone_time at;
    zone_split(curve->zone, curve->from_ms + curve->offset_ms, &at);
    int64_t local_ms = curve->from_ms + curve->offset_ms + at.offset_s * INT64_C(1000);
    int64_t tick_ms = floor_to(local_ms, step_ms);
    if (tick_ms < local_ms)
        tick_ms += step_ms;
    return curve->from_ms + (tick_ms - local_ms);
}
