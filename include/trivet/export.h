/* What leaves the store for a person or an inspector: CSV files for a time range. Shared by
 * `trivet export` and the page. */
#ifndef TRIVET_EXPORT_H
#define TRIVET_EXPORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/store.h"

enum export_kind {
    EXPORT_READINGS,
    EXPORT_BATCHES,
    EXPORT_DEVIATIONS,
    EXPORT_ACTIONS,
    EXPORT_ENTRIES,      /* all that people entered: hand-held readings, notes, ... */
    EXPORT_DECISIONS,    /* all that was decided, each with its rule and why */
    EXPORT_PEOPLE,       /* initials, names and roles, by plan */
    EXPORT_CALIBRATIONS, /* checks of thermometers, a row for each point */
    EXPORT_SWITCHES,     /* what doors and buttons did */
    EXPORT_RECORDS
};

/* Takes len bytes of output; false stops the export. */
typedef bool export_sink(void *arg, const char *bytes, size_t len);

/* Writes CSV (RFC 4180, UTF-8, header row, LF) of what falls into from_ms <= at_ms < to_ms.
 * Times are UTC, RFC 3339, of the shown clock. A text that a spreadsheet would run as a formula
 * is preceded by an apostrophe. Memory does not grow with the range. */
enum store_status export_csv(struct store_reader *reader, enum export_kind kind,
                             int64_t from_ms, int64_t to_ms, export_sink *sink, void *arg,
                             struct store_error *reterr);

const char *export_kind_word(enum export_kind kind); /* "readings", ... */
bool export_kind_from_word(const char *word, enum export_kind *ret);

#endif
