/* The parts that batch and place pages share: the figure, as part of a page or as a file. */
#ifndef WEB_PAGE_CURVE_H
#define WEB_PAGE_CURVE_H

#include "own.h"
#include "svg.h"

enum curve_form { FORM_PAGE, FORM_FILE, FORM_SMALL };

/* Splits "7" or "7/curve.svg" of a path and reads ?size=small; false when it is neither. */
bool curve_form_read(const struct query *query, const char *rest, char *ret_id, size_t size,
                     enum curve_form *ret_form);

/* Readings of a probe into a line, up to the snapshot's instant. */
enum store_status curve_fill(struct curve *curve, const struct view *view,
                             struct store_reader *reader, uint16_t probe, const char *name,
                             struct store_error *reterr);

/* <figure> with both drawings, redrawn by the script from path/curve.svg. */
void curve_figure(struct html *html, const struct curve *curve, const char *path);
/* The drawing as a file; takes the curve. */
struct answer curve_file(struct curve *curve, enum curve_form form);
/* 503 with words for a store that cannot be read. */
struct answer store_trouble(const struct request *request, const struct store_error *error);

/* "at least 63.0 °C for 3 min" bounds of a limit between two instants; of a cooling its stages
 * from clock_ms on. */
void curve_limit(struct curve *curve, const struct plan_limit *limit, int64_t from_ms,
                 int64_t to_ms, int64_t clock_ms);

#endif
