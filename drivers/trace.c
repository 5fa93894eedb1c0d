/* Plays a recording as if it were a bus: CSV with the columns time_s,core_degC,air_degC,event,
 * plain or gzip, for training, tests and what-if. The plan room sees to it that everything is
 * then labelled as demo data.
 *
 * The whole recording is read when the bus is opened; its time begins there. Each row holds
 * until the next one. One state belongs to one thread. docs/trace.md tells users. */
#include "drivers/trace.h"

#include <assert.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include <zlib.h>

#include "drivers/parts.h"
#include "trivet/line_pattern.h" /* exact decimals */
#include "trivet/reading.h"
#include "trivet/units.h"

#define LINE_BYTES 256
/* A week of readings every 5 s, and then some; three megabytes. Our choice. */
#define ROWS_MAX 200000
/* A recording ends with its last row: that one is held as long as the longest a reading is
 * trusted by default, three polls of 10 s. Our choice. */
#define LAST_ROW_MS 30000
/* A year: what lies beyond is a slip, and microseconds of it fit. */
#define TIME_MAX_MS (INT64_C(366) * 24 * 3600 * 1000)

static const char HEADER[] = "time_s,core_degC,air_degC,event";

struct row {
    int64_t at_ms;
    int32_t temps_mC[2]; /* by enum trace_column; TEMP_NONE where blank */
};

struct trace_state {
    const struct plan *plan;
    const struct plan_bus *bus;
    const struct clock *clock;
    int64_t began_ms;
    size_t count;
    struct row *rows;
};

/* ---- reading ---- */

/* Splits at the commas, in place. False when there are not exactly four fields. */
static bool
split(char *line, char *ret_fields[4])
{
    size_t count = 1;
    ret_fields[0] = line;
    for (char *at = line; *at != '\0'; at++) {
        if (*at != ',')
            continue;
        if (count == 4)
            return false;
        *at = '\0';
        ret_fields[count++] = at + 1;
    }
    return count == 4;
}

/* A decimal of at most six places in thousandths, rounded once. */
static bool
read_milli(const char *text, int64_t *ret)
{
    struct line_number number;
    int64_t milli;
    if (!line_number((const uint8_t *)text, strlen(text), &number) ||
        !driver_times(number.mantissa, 1000, &milli))
        return false;
    *ret = driver_rounded(milli, driver_power_of_ten(number.decimals));
    return true;
}

/* Blank is none; otherwise what a kitchen can show at all, as the plan's plausible allows. */
static bool
read_temp(const char *text, int32_t *ret_mC)
{
    int64_t milli = TEMP_NONE;
    if (text[0] != '\0' && (!read_milli(text, &milli) || milli < -200000 || milli > 1000000))
        return false;
    *ret_mC = (int32_t)milli;
    return true;
}

/* What is wrong with a row, or NULL. */
static const char *
read_row(char *line, const struct row *before, struct row *ret)
{
    char *fields[4];
    if (!split(line, fields))
        return "there are not four columns; write time_s,core_degC,air_degC,event";
    if (!read_milli(fields[0], &ret->at_ms) || ret->at_ms < -TIME_MAX_MS ||
        ret->at_ms > TIME_MAX_MS)
        return "time_s is no time; write seconds such as 120";
    if (before != NULL && ret->at_ms <= before->at_ms)
        return "time_s does not come after the line before; sort the recording by time";
    if (!read_temp(fields[1], &ret->temps_mC[TRACE_CORE]) ||
        !read_temp(fields[2], &ret->temps_mC[TRACE_AIR]))
        return "a temperature is none; write degrees Celsius such as 54.5, or nothing";
    return NULL;
}

/* A line without its end; NULL at the end of the file. */
static char *
read_line(gzFile file, char line[LINE_BYTES], const char **reterr_wrong)
{
    if (gzgets(file, line, LINE_BYTES) == NULL) {
        int code = Z_OK;
        (void)gzerror(file, &code);
        if (code != Z_OK && code != Z_STREAM_END && code != Z_BUF_ERROR)
            *reterr_wrong = "the file is damaged; copy it again";
        else if (gzeof(file) == 0 || code == Z_BUF_ERROR)
            *reterr_wrong = "the file is cut short; copy it again";
        return NULL;
    }
    size_t len = strlen(line);
    if (len == LINE_BYTES - 1 && line[len - 1] != '\n') {
        *reterr_wrong = "the line is too long; write one reading a line";
        return NULL;
    }
    while (len > 0 && (line[len - 1] == '\n' || line[len - 1] == '\r'))
        line[--len] = '\0';
    return line;
}

/* Room for one row more: doubled up to the most that is taken. */
static const char *
make_room(struct trace_state *state, size_t *room)
{
    if (state->count == ROWS_MAX)
        return "there are more than 200000 rows; cut the recording into pieces";
    if (state->count < *room)
        return NULL;
    const size_t more = *room == 0 ? 1024 : *room * 2;
    struct row *rows = realloc(state->rows, more * sizeof *rows);
    if (rows == NULL)
        return "memory ran out; use a shorter recording";
    state->rows = rows;
    *room = more;
    return NULL;
}

/* All rows. Returns what is wrong in *ret_line, or NULL. */
static const char *
read_rows(struct trace_state *state, gzFile file, long *ret_line)
{
    char line[LINE_BYTES];
    const char *wrong = NULL;
    size_t room = 0;
    *ret_line = 1;
    if (read_line(file, line, &wrong) == NULL || strcmp(line, HEADER) != 0)
        return wrong != NULL ? wrong : "the first line must be time_s,core_degC,air_degC,event";
    while (++*ret_line, read_line(file, line, &wrong) != NULL) {
        struct row row;
        const struct row *before = state->count > 0 ? &state->rows[state->count - 1] : NULL;
        wrong = read_row(line, before, &row);
        if (wrong == NULL)
            wrong = make_room(state, &room);
        if (wrong != NULL)
            return wrong;
        state->rows[state->count++] = row;
    }
    if (wrong == NULL && state->count == 0)
        wrong = "there is no row in it; use another recording";
    return wrong;
}

static bool
load(struct trace_state *state, struct driver_error *reterr)
{
    long line = 0;
    const char *path = state->bus->file;
    gzFile file = gzopen(path, "rbe");
    if (file == NULL) {
        driver_say(reterr, "bus '%s': %.120s cannot be opened (%s); name a readable recording",
                   state->bus->id, path, errno == 0 ? "out of memory" : strerror(errno));
        return false;
    }
    const char *wrong = read_rows(state, file, &line);
    (void)gzclose_r(file); /* only read */
    if (wrong == NULL)
        return true;
    driver_say(reterr, "bus '%s': %.100s:%ld: %s", state->bus->id, path, line, wrong);
    return false;
}

/* ---- playing ---- */

static void
trace_close(void *state_arg)
{
    struct trace_state *state = state_arg;
    if (state == NULL)
        return;
    free(state->rows);
    free(state);
}

static bool
trace_open(const struct plan *plan, uint16_t bus, const struct clock *clock, void **ret_state,
           struct driver_error *reterr)
{
    assert(bus < plan->bus_count);
    struct trace_state *state = calloc(1, sizeof *state);
    if (state == NULL) {
        driver_say(reterr, "bus '%s': out of memory", plan->buses[bus].id);
        return false;
    }
    *state = (struct trace_state){.plan = plan, .bus = &plan->buses[bus], .clock = clock};
    if (!load(state, reterr)) {
        trace_close(state);
        return false;
    }
    state->began_ms = clock_mono_ms(clock);
    *ret_state = state;
    return true;
}

/* The row that holds at this instant of the recording, counted from its first row; NULL behind
 * its end. */
static const struct row *
row_at(const struct trace_state *state, int64_t passed_ms)
{
    const int64_t first_ms = state->rows[0].at_ms;
    const int64_t length_ms = state->rows[state->count - 1].at_ms - first_ms + LAST_ROW_MS;
    size_t low = 0, high = state->count; /* rows[low] holds; rows[high] comes later */
    if (passed_ms >= length_ms && state->bus->at_end == TRACE_STOPS)
        return NULL;
    passed_ms %= length_ms;
    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (state->rows[middle].at_ms - first_ms <= passed_ms)
            low = middle;
        else
            high = middle;
    }
    return &state->rows[low];
}

/* The end is no lost line: that would be opened again, and begin anew. */
static bool
trace_read(void *state_arg, const struct driver_request *request,
           struct driver_sample *ret_samples, struct driver_error *reterr)
{
    const struct trace_state *state = state_arg;
    const int64_t passed_ms =
        (clock_mono_ms(state->clock) - state->began_ms) * (int64_t)state->bus->speed;
    const struct row *row = row_at(state, passed_ms < 0 ? 0 : passed_ms);
    if (row == NULL) {
        driver_fail(request, BAD_LINK, ret_samples);
        driver_say(reterr, "bus '%s': the recording has ended; write at_end: loop to repeat it",
                   state->bus->id);
        return true;
    }
    for (uint16_t i = 0; i < request->count; i++) {
        const struct plan_probe *probe = &state->plan->probes[request->probes[i]];
        const int32_t temp_mC = row->temps_mC[probe->column];
        ret_samples[i] =
            temp_mC == TEMP_NONE ? driver_bad(BAD_TIMEOUT) : driver_sample_of(probe, temp_mC);
    }
    return true;
}

const struct probe_driver driver_trace = {
    .name = "trace",
    .requests = driver_requests_together,
    .open = trace_open,
    .read = trace_read,
    .close = trace_close,
};
