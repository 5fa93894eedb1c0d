#include "export_cells.h"

#include <assert.h>
#include <string.h>

#include "hash.h"
#include "text.h"
#include "trivet/units.h"

#define MS_PER_DAY INT64_C(86400000)
#define SHORT_MAX  80 /* a cell that is not text fits */

void
cells_start(struct cells *cells, export_sink *sink, void *arg)
{
    cells->sink = sink;
    cells->arg = arg;
    cells->used = 0;
    cells->stopped = cells->in_row = false;
    cells->utc.day = cells->local.day = TIME_NONE;
}

static void
hand_over(struct cells *cells)
{
    if (!cells->stopped && cells->used > 0 && !cells->sink(cells->arg, cells->buf, cells->used))
        cells->stopped = true;
    cells->used = 0;
}

void
cells_end(struct cells *cells)
{
    assert(!cells->in_row);
    hand_over(cells);
}

/* Room for a short cell and its comma; returns where it begins. */
static char *
begin(struct cells *cells)
{
    if (cells->used + SHORT_MAX > sizeof(cells->buf))
        hand_over(cells);
    if (cells->in_row)
        cells->buf[cells->used++] = ',';
    cells->in_row = true;
    return cells->buf + cells->used;
}

static void
end(struct cells *cells, const char *at)
{
    cells->used = (size_t)(at - cells->buf);
}

static void
put(struct cells *cells, char byte)
{
    if (cells->used == sizeof(cells->buf))
        hand_over(cells);
    cells->buf[cells->used++] = byte;
}

/* What a spreadsheet takes for a formula, or strips to find one. */
static bool
looks_like_formula(const char *text)
{
    return *text != '\0' && strchr("=+-@\t\r", *text) != NULL;
}

void
cell_text(struct cells *cells, const char *text)
{
    bool quoted;

    (void)begin(cells);
    if (!text)
        return;
    quoted = strpbrk(text, ",\"\r\n") != NULL;
    if (quoted)
        put(cells, '"');
    if (looks_like_formula(text))
        put(cells, '\'');
    for (; *text != '\0'; text++) {
        if (*text == '"')
            put(cells, '"');
        put(cells, *text);
    }
    if (quoted)
        put(cells, '"');
}

void
cell_empty(struct cells *cells)
{
    (void)begin(cells);
}

void
cell_int(struct cells *cells, int64_t value)
{
    end(cells, text_int(begin(cells), value));
}

void
cell_int_or_empty(struct cells *cells, int64_t value)
{
    if (value == 0)
        cell_empty(cells);
    else
        cell_int(cells, value);
}

/* Writes thousandths with at least `least` decimals and no zero behind them that need not be.
 */
static char *
milli(char *at, int64_t value, int least)
{
    int64_t magnitude = value < 0 ? -value : value;
    int part = (int)(magnitude % 1000);

    if (value < 0)
        *at++ = '-';
    at = text_int(at, magnitude / 1000);
    if (part == 0 && least == 0)
        return at;
    *at++ = '.';
    *at++ = (char)('0' + part / 100);
    if (part % 100 != 0)
        *at++ = (char)('0' + part / 10 % 10);
    if (part % 10 != 0)
        *at++ = (char)('0' + part % 10);
    return at;
}

void
cell_temp(struct cells *cells, int32_t temp_mC)
{
    if (temp_mC == TEMP_NONE)
        cell_empty(cells);
    else
        end(cells, milli(begin(cells), temp_mC, 1));
}

void
cell_seconds(struct cells *cells, int64_t duration_ms)
{
    if (duration_ms == 0)
        cell_empty(cells);
    else
        end(cells, milli(begin(cells), duration_ms, 0));
}

static char *
digits(char *at, int64_t value, int count)
{
    for (int i = count - 1; i >= 0; i--) {
        at[i] = (char)('0' + value % 10);
        value /= 10;
    }
    return at + count;
}

/* The date is written once a day, by the function that everybody uses. False for a year that
 * has not four digits. */
static bool
set_date(struct cells_date *date, int64_t day)
{
    char text[40];

    if (day == date->day)
        return true;
    if (day < -719528 || day > 2932896) /* 0000-01-01 to 9999-12-31 */
        return false;
    (void)utc_text(text, sizeof(text), day * MS_PER_DAY);
    memcpy(date->text, text, 11); /* with the T */
    date->day = day;
    return true;
}

/* Date and time of day; NULL when it cannot be written. */
static char *
date_time(char *at, struct cells_date *date, int64_t clock_ms)
{
    int64_t day = clock_ms / MS_PER_DAY, ms = clock_ms % MS_PER_DAY;

    if (ms < 0) {
        ms += MS_PER_DAY;
        day--;
    }
    if (!set_date(date, day))
        return NULL;
    memcpy(at, date->text, 11);
    at = digits(at + 11, ms / 3600000, 2);
    *at++ = ':';
    at = digits(at, ms / 60000 % 60, 2);
    *at++ = ':';
    at = digits(at, ms / 1000 % 60, 2);
    *at++ = '.';
    return digits(at, ms % 1000, 3);
}

void
cell_time(struct cells *cells, int64_t utc_ms)
{
    char *at = begin(cells);

    if (utc_ms == TIME_NONE || !(at = date_time(at, &cells->utc, utc_ms)))
        return;
    *at++ = 'Z';
    end(cells, at);
}

/* ISO 8601 has no seconds there; old local mean times had, and are given with them (as Python's
 * isoformat does) rather than wrongly. */
void
cell_time_local(struct cells *cells, int64_t utc_ms, int32_t offset_s)
{
    char *at = begin(cells);
    int32_t ahead_s = offset_s < 0 ? -offset_s : offset_s;

    if (!(at = date_time(at, &cells->local, utc_ms + (int64_t)offset_s * 1000)))
        return;
    *at++ = offset_s < 0 ? '-' : '+';
    at = digits(at, ahead_s / 3600, 2);
    *at++ = ':';
    at = digits(at, ahead_s / 60 % 60, 2);
    if (ahead_s % 60 != 0) {
        *at++ = ':';
        at = digits(at, ahead_s % 60, 2);
    }
    end(cells, at);
}

void
cell_hash(struct cells *cells, const uint8_t hash[static 32])
{
    char hex[HASH_HEX_SIZE];
    char *at = begin(cells);

    hash_hex(hash, hex);
    memcpy(at, hex, HASH_HEX_SIZE - 1);
    end(cells, at + HASH_HEX_SIZE - 1);
}

void
cells_row_end(struct cells *cells)
{
    put(cells, '\n');
    cells->in_row = false;
}

void
cells_names(struct cells *cells, const char *names, size_t len)
{
    for (size_t i = 0; i < len; i++)
        put(cells, names[i]);
}
