/* Recorded traces of one batch: CSV with the columns time_s,core_degC,air_degC,event, plain or
 * gzip.
 *
 * Read line by line in bounded memory.  Strict: an unknown column, a number with rubbish behind
 * it, a time that does not rise or an unknown event ends the reading with file, line and what
 * to write instead.  One thread. */
#ifndef CLI_TRACE_H
#define CLI_TRACE_H

#include <stdbool.h>

#include <zlib.h>

#include "trivet/forecast.h"

enum { TRACE_LINE_BYTES = 256, TRACE_ERROR_BYTES = 512 };

struct trace {
    gzFile file;
    const char *path; /* borrowed */
    long line;
    double last_time_s;
    bool any;
};

enum trace_status { TRACE_ROW, TRACE_END, TRACE_BAD };

/* Opens a trace and checks its header.  On failure nothing is left open and reterr_text holds a
 * sentence. */
bool trace_open(struct trace *trace, const char *path, char reterr_text[TRACE_ERROR_BYTES]);

/* The next reading; blanks are NAN.  TRACE_BAD fills reterr_text. */
enum trace_status trace_next(struct trace *trace, struct forecast_reading *ret_reading,
                             char reterr_text[TRACE_ERROR_BYTES]);

void trace_close(struct trace *trace);

#endif
