/* Recorded traces.  See trace.h.  Owns the open file; writes nothing. */
#include "daemon/cli/trace.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char HEADER[] = "time_s,core_degC,air_degC,event";

/* The first row is "none"; after it, what says more about the food comes first. */
static const struct {
    const char *word;
    enum forecast_event event;
} EVENTS[] = {
    {"", FORECAST_NO_EVENT},         {"removed", FORECAST_REMOVED},
    {"moved", FORECAST_MOVED},       {"end-of-cooking", FORECAST_END_OF_COOKING},
    {"start", FORECAST_START},       {"stirred", FORECAST_STIRRED},
    {"setpoint", FORECAST_SETPOINT}, {"door", FORECAST_DOOR},
};

__attribute__((format(printf, 3, 4))) static void
complain(const struct trace *trace, char text[TRACE_ERROR_BYTES], const char *format, ...)
{
    int used = snprintf(text, TRACE_ERROR_BYTES, "%.200s:%ld: ", trace->path, trace->line);
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text + used, (size_t)(TRACE_ERROR_BYTES - used), format, args);
    va_end(args);
}

/* True, with the fault told, when the file itself is damaged: zlib then hands out what it has,
 * and only then says so. */
static bool
is_damaged(struct trace *trace, char text[TRACE_ERROR_BYTES])
{
    int code = Z_OK;
    const char *why = gzerror(trace->file, &code);
    if (code == Z_OK || code == Z_STREAM_END)
        return false;
    complain(trace, text,
             "cannot read on (%s); the file is damaged or cut short: copy it again",
             code == Z_ERRNO ? strerror(errno) : why);
    return true;
}

/* One line without its end.  False at the end of the file or when something is wrong (then
 * *reterr_bad). */
static bool
read_line(struct trace *trace, char line[TRACE_LINE_BYTES], bool *reterr_bad,
          char text[TRACE_ERROR_BYTES])
{
    *reterr_bad = false;
    char *got = gzgets(trace->file, line, TRACE_LINE_BYTES);
    size_t length = got != NULL ? strlen(line) : 0;
    trace->line++;
    if (length == 0 || line[length - 1] != '\n')
        *reterr_bad = is_damaged(trace, text);
    if (got == NULL || *reterr_bad)
        return false;
    if (length == TRACE_LINE_BYTES - 1 && line[length - 1] != '\n') {
        complain(trace, text, "line longer than %d characters; write one reading a line",
                 TRACE_LINE_BYTES - 2);
        *reterr_bad = true;
        return false;
    }
    while (length > 0 && (line[length - 1] == '\n' || line[length - 1] == '\r'))
        line[--length] = '\0';
    return true;
}

bool
trace_open(struct trace *trace, const char *path, char reterr_text[TRACE_ERROR_BYTES])
{
    *trace = (struct trace){.path = path, .line = 0, .last_time_s = -INFINITY};
    trace->file = gzopen(path, "rb");
    if (trace->file == NULL) {
        (void)snprintf(reterr_text, TRACE_ERROR_BYTES,
                       "%.200s: cannot open: %s; name a readable trace file", path,
                       strerror(errno));
        return false;
    }
    char line[TRACE_LINE_BYTES];
    bool bad;
    if (!read_line(trace, line, &bad, reterr_text)) {
        if (!bad) {
            complain(trace, reterr_text, "empty file; the first line must be %s", HEADER);
        }
        trace_close(trace);
        return false;
    }
    if (strcmp(line, HEADER) != 0) {
        complain(trace, reterr_text, "the first line must be %s", HEADER);
        trace_close(trace);
        return false;
    }
    return true;
}

/* Plain decimal numbers only: no hexadecimal, no "nan", no blanks around. */
static bool
parse_number(const char *field, double *ret_value)
{
    if (*field == '\0' || strspn(field, "0123456789+-.eE") != strlen(field))
        return false;
    char *end;
    double value = strtod(field, &end);
    if (*end != '\0' || !isfinite(value))
        return false;
    *ret_value = value;
    return true;
}

static bool
parse_one_event(const char *word, size_t length, size_t *ret_row)
{
    for (size_t i = 0; i < sizeof EVENTS / sizeof EVENTS[0]; i++)
        if (strncmp(word, EVENTS[i].word, length) == 0 && EVENTS[i].word[length] == '\0') {
            *ret_row = i;
            return true;
        }
    return false;
}

/* Several at one moment are joined by semicolons: a row has one event, the one that says most.
 */
static bool
parse_event(const char *field, enum forecast_event *ret_event)
{
    size_t most = 0, row = 0;
    for (const char *at = field;; at++) {
        size_t length = strcspn(at, ";");
        if (!parse_one_event(at, length, &row))
            return false;
        if (most == 0 || (row != 0 && row < most))
            most = row;
        at += length;
        if (*at == '\0')
            break;
    }
    *ret_event = EVENTS[most].event;
    return true;
}

static bool
parse_temperature(const struct trace *trace, const char *field, const char *name, double *ret_C,
                  char text[TRACE_ERROR_BYTES])
{
    *ret_C = NAN;
    if (*field == '\0')
        return true;
    double value;
    if (!parse_number(field, &value)) {
        complain(trace, text,
                 "%s is '%.40s'; write degrees Celsius such as 54.5, or nothing if missing",
                 name, field);
        return false;
    }
    if (value < -90 || value > 1000) {
        complain(
            trace, text,
            "%s is %.40s; a temperature lies between -90 and 1000, leave it blank if missing",
            name, field);
        return false;
    }
    *ret_C = value;
    return true;
}

static bool
parse_row(struct trace *trace, char *line, struct forecast_reading *ret_reading,
          char text[TRACE_ERROR_BYTES])
{
    char *field[4];
    int fields = 0;
    for (char *at = line; at != NULL; fields++) {
        if (fields == 4) {
            complain(trace, text, "more than four columns; write %s", HEADER);
            return false;
        }
        field[fields] = at;
        char *comma = strchr(at, ',');
        if (comma != NULL)
            *comma = '\0';
        at = comma == NULL ? NULL : comma + 1;
    }
    if (fields != 4) {
        complain(trace, text, "%d columns; write four: %s (blank where missing)", fields,
                 HEADER);
        return false;
    }
    struct forecast_reading r = {0};
    if (!parse_number(field[0], &r.time_s)) {
        complain(trace, text, "time_s is '%.40s'; write seconds such as 120", field[0]);
        return false;
    }
    if (trace->any && r.time_s <= trace->last_time_s) {
        complain(
            trace, text,
            "time_s %.40s does not come after %.10g of the line before; sort the trace by time",
            field[0], trace->last_time_s);
        return false;
    }
    if (!parse_temperature(trace, field[1], "core_degC", &r.core_C, text) ||
        !parse_temperature(trace, field[2], "air_degC", &r.air_C, text))
        return false;
    if (!parse_event(field[3], &r.event)) {
        complain(trace, text,
                 "event is '%.40s'; write start, removed, moved, setpoint, door, stirred, "
                 "end-of-cooking or nothing",
                 field[3]);
        return false;
    }
    trace->any = true;
    trace->last_time_s = r.time_s;
    *ret_reading = r;
    return true;
}

enum trace_status
trace_next(struct trace *trace, struct forecast_reading *ret_reading,
           char reterr_text[TRACE_ERROR_BYTES])
{
    char line[TRACE_LINE_BYTES];
    bool bad;
    if (!read_line(trace, line, &bad, reterr_text))
        return bad ? TRACE_BAD : TRACE_END;
    return parse_row(trace, line, ret_reading, reterr_text) ? TRACE_ROW : TRACE_BAD;
}

void
trace_close(struct trace *trace)
{
    if (trace->file != NULL)
        (void)gzclose_r(trace->file);
    trace->file = NULL;
}
