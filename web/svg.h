/* A curve of temperatures over time as SVG with real text. PURE but for its own memory.
 *
 * Readings are reduced, as they come, to the smallest and largest of each column, so that a day
 * at one reading a second costs no more than an hour, and no peak is lost. Silence is a break
 * in the line, never a bridge. */
#ifndef WEB_SVG_H
#define WEB_SVG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "html.h"
#include "trivet/units.h"
#include "trivet/zone.h"

#define CURVE_COLUMNS     800
#define CURVE_LINES_MAX   8
#define CURVE_BOUNDS_MAX  16
#define CURVE_MARKS_MAX   32
#define CURVE_GUESSES_MAX 2

struct curve_column {
    int32_t least_mC, most_mC, first_mC, last_mC;
    int64_t first_ms, last_ms;
    bool any, breaks; /* breaks: the line does not come from the column before */
};

struct curve_line {
    char name[160];
    int64_t gap_ms; /* silence longer than this breaks the line */
    struct curve_column columns[CURVE_COLUMNS];
    bool any;
    int64_t last_ms;
    int32_t last_mC;
};

/* A limit: a level that holds from one instant to another. */
struct curve_bound {
    int32_t temp_mC;
    int64_t from_ms, to_ms;
    bool upper; /* to stay below */
    char label[96];
};

/* A forecast: when a temperature will probably be reached, with its range. */
struct curve_guess {
    int32_t temp_mC;
    int64_t early_ms, likely_ms, late_ms;
    char label[64];
};

/* An instant with a name: a step begun, a deadline. */
struct curve_mark {
    int64_t at_ms;
    char label[64];
};

struct curve {
    char title[300], description[600];
    int64_t from_ms, to_ms, now_ms;
    int64_t offset_ms; /* shown time minus at_ms */
    const struct zone *zone;
    size_t line_count, bound_count, mark_count, guess_count;
    struct curve_line *lines[CURVE_LINES_MAX];
    struct curve_bound bounds[CURVE_BOUNDS_MAX];
    struct curve_mark marks[CURVE_MARKS_MAX];
    struct curve_guess guesses[CURVE_GUESSES_MAX];
};

struct curve *curve_new(int64_t from_ms, int64_t to_ms);
void curve_free(struct curve *curve); /* accepts NULL */
/* Adds a line; NULL when there is no more room or memory. */
struct curve_line *curve_line_add(struct curve *curve, const char *name, int64_t gap_ms);
/* Adds a good reading; in order of time. */
void curve_point(struct curve *curve, struct curve_line *line, int64_t at_ms, int32_t temp_mC);
void curve_bound_add(struct curve *curve, const struct curve_bound *bound);
/* Left out when its likely instant is not on the drawing. */
void curve_guess_add(struct curve *curve, const struct curve_guess *guess);
void curve_mark_add(struct curve *curve, int64_t at_ms, const char *label);

enum curve_size { CURVE_WIDE, CURVE_NARROW, CURVE_SMALL };
/* Writes one <svg>. WIDE and NARROW are styled by the page's style sheet; SMALL stands alone as
 * an image. */
void curve_svg(struct html *html, const struct curve *curve, enum curve_size size);

#endif
