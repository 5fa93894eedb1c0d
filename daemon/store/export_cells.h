/* CSV cells by hand into one large buffer (RFC 4180, rows end in LF): a formatted cell a field,
 * nothing allocated.
 *
 * One struct cells per export, one thread. */
#ifndef STORE_EXPORT_CELLS_H
#define STORE_EXPORT_CELLS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/export.h"

#define CELLS_BYTES 262144

struct cells {
    export_sink *sink;
    void *arg;
    size_t used;
    bool stopped; /* the sink wants no more; everything after is dropped */
    bool in_row;
    struct cells_date {
        int64_t day; /* whose date is in `text` */
        char text[12];
    } utc, local;
    char buf[CELLS_BYTES];
};

void cells_start(struct cells *cells, export_sink *sink, void *arg);
/* Hands over what is left. */
void cells_end(struct cells *cells);

/* Text from outside or from a table: quoted where needed; an apostrophe before what a
 * spreadsheet would run. NULL = empty. */
void cell_text(struct cells *cells, const char *text);
void cell_empty(struct cells *cells);
void cell_int(struct cells *cells, int64_t value);
void cell_int_or_empty(struct cells *cells, int64_t value); /* empty for 0 */
/* Thousandths exactly, at least one decimal: 63.0, -0.125; empty for TEMP_NONE. */
void cell_temp(struct cells *cells, int32_t temp_mC);
/* Seconds exactly: 90, 0.25; empty for 0. */
void cell_seconds(struct cells *cells, int64_t duration_ms);
/* RFC 3339 in UTC with milliseconds; empty for TIME_NONE. */
void cell_time(struct cells *cells, int64_t utc_ms);
/* The same instant on a clock that is offset_s ahead of UTC: 2026-03-29T02:30:00.000+01:00. */
void cell_time_local(struct cells *cells, int64_t utc_ms, int32_t offset_s);
void cell_hash(struct cells *cells, const uint8_t hash[static 32]);
void cells_row_end(struct cells *cells);

/* Names of columns as they stand, commas and all. */
void cells_names(struct cells *cells, const char *names, size_t len);

#endif
