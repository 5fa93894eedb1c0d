/* Where instants and temperatures fall on a drawing. PURE. */
#ifndef WEB_SVG_SCALE_H
#define WEB_SVG_SCALE_H

#include "svg.h"

struct svg_frame {
    int width, height, left, right, top, bottom, font; /* px of the view box */
};

struct svg_scale {
    const struct svg_frame *frame;
    int64_t from_ms, to_ms;
    int64_t low_mC, high_mC, step_mC; /* wider than a reading, which may be any int32_t */
};

/* Fits all lines and bounds, with room, between round numbers. */
void svg_scale_fit(struct svg_scale *ret, const struct svg_frame *frame,
                   const struct curve *curve);
/* Tenths of a pixel, kept inside the frame. */
int svg_x(const struct svg_scale *scale, int64_t at_ms);
int svg_y(const struct svg_scale *scale, int64_t temp_mC);
/* A round step of time with at most ticks_max ticks, and the first instant that is a round
 * clock time of the site. */
int64_t svg_time_step_ms(int64_t span_ms, int ticks_max);
int64_t svg_first_tick_ms(const struct curve *curve, int64_t step_ms);

#endif
